"""The page to try shapes on, in a real browser: what is dragged, shown, loaded and saved.

What the page shows is held against the library called from here, in another process.
"""

from __future__ import annotations

import base64
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import chromium
import pytest
from bench_pages import Visit, click_photo, drag, photographed, place, ready, served

import frontcheck as fc

pytest.importorskip("bokeh")
api = pytest.importorskip("playwright.sync_api")
if chromium.found() is None:
    pytest.skip("no Chromium here", allow_module_level=True)

PLOVER = "geometries/plover.csv"
LINES = ("LBRL", "UBRL", "BLERL", "BRRL")
UPPER_LIP = (19.5, 538.0)
_FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with api.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=chromium.found(), args=_FLAGS)
        yield found
        found.close()


@pytest.fixture(scope="module")
def visit(browser: Any) -> Iterator[Visit]:
    with served(PLOVER) as (address, _):
        yield Visit.paid(browser, address)


def number(page: Any, name: str, axis: str = "z") -> float:
    return float(page.locator(f".fc-{name}-{axis}").inner_text().replace("\N{MINUS SIGN}", "-"))


def value(page: Any, name: str) -> Any:
    """What a widget of the page holds, by its name."""
    return page.evaluate("name => Bokeh.documents[0].get_model_by_name(name).value", name)


def tab(page: Any, title: str) -> None:
    page.get_by_role("button", name=title, exact=True).click()


def saved(page: Any, name: str) -> bytes:
    tab(page, "Files")
    page.locator("button", has_text="Make the files").click()
    link = page.locator(f"a[download='{name}']")
    link.wait_for(timeout=30_000)
    return base64.b64decode(link.get_attribute("href").partition(",")[2])


def test_a_dragged_feature_moves_ubrl_to_the_number_of_the_library(visit: Visit) -> None:
    page = visit.tab()
    before = number(page, "UBRL")
    assert before == 556.0
    drag(page, UPPER_LIP, (-14.0, -9.0))
    ready(page)
    moved = {
        f"upper_lip_{way}_mm": value(page, f"type-upper_lip_{way}_mm") for way in ("back", "up")
    }
    assert moved["upper_lip_back_mm"] < -20.0
    assert moved["upper_lip_up_mm"] > 10.0
    plain = {"upper_lip": {way: moved[f"upper_lip_{way}_mm"] for way in ("back", "up")}}
    station = fc.what_if(fc.read_front(PLOVER), plain).after.station(0)
    assert number(page, "UBRL") == pytest.approx(station.UBRL.z, abs=0.0501)
    assert number(page, "UBRL") != before
    assert "proposed" in page.locator("p", has_text="points here").first.inner_text()
    document = json.loads(saved(page, "screening.json"))
    for line in LINES:
        shown, own = document["stations"][0][line], getattr(station, line)
        assert (shown["x_mm"], shown["z_mm"]) == pytest.approx((own.x, own.z), abs=1e-9)
    page.locator("button", has_text="Undo").click()
    page.locator(".fc-UBRL-z", has_text="556.0").wait_for(timeout=10_000)
    assert page.thrown == []


def test_a_feature_goes_as_far_as_the_pointer_and_no_other_way(visit: Visit) -> None:
    page = visit.tab()
    there, before = (place(page, (x, 538.0)) for x in (19.5, -80.5))
    for by in ((-9.0, 0.0), (0.0, -9.0)):
        drag(page, UPPER_LIP, by)
        ready(page)
        mm = [px * 100.0 / (there[0] - before[0]) for px in (by[0], -by[1])]
        moved = [value(page, f"type-upper_lip_{way}_mm") for way in ("back", "up")]
        assert moved == pytest.approx(mm, abs=1.5 * 100.0 / (there[0] - before[0]))  # a pixel
        assert place(page, (19.5, 538.0)) == there
        page.locator("button", has_text="Undo").click()
        page.locator("p", has_text="Shape as loaded here").wait_for(timeout=10_000)
        ready(page)


def test_two_tabs_do_not_mix(visit: Visit) -> None:
    one, two = visit.tab(), visit.tab()
    drag(one, UPPER_LIP, (-14.0, -9.0))
    ready(one)
    assert number(one, "UBRL") != 556.0
    two.locator("button", has_text="Drag points").click()
    assert number(two, "UBRL") == 556.0
    assert value(two, "type-upper_lip_back_mm") == 0


def test_a_file_with_markup_in_its_name_shows_as_text(visit: Visit, tmp_path: Path) -> None:
    page = visit.tab()
    text = Path(PLOVER).read_text().replace("# name: Plover", "# name: <b>x</b><img src=n> $$y^2$$")
    file = tmp_path / "<img src=x onerror=boom>.csv"
    file.write_text(text)
    tab(page, "Files")
    page.locator("input[type=file]").first.set_input_files(file)
    page.locator("p", has_text="A: <b>x</b><img src=n> $$y^2$$").wait_for(timeout=30_000)
    ready(page)
    assert page.locator("img[src=n], img[src=x]").count() == 0
    bad = tmp_path / "<i>bad.csv"
    bad.write_text("nothing of use")
    tab(page, "Files")
    page.locator("input[type=file]").first.set_input_files(bad)
    page.locator(".refused", has_text="<i>bad").wait_for(timeout=30_000)
    assert page.thrown == []


def test_a_hand_may_hold_before_it_drags(visit: Visit) -> None:
    page = visit.tab()
    drag(page, UPPER_LIP, (-14.0, -9.0), held=900.0)
    ready(page)
    assert value(page, "type-upper_lip_back_mm") < -20.0
    assert page.thrown == []


def test_a_drag_takes_nothing_along_that_was_clicked_before(visit: Visit) -> None:
    page = visit.tab()
    page.mouse.click(*place(page, UPPER_LIP))
    page.wait_for_timeout(500)
    drag(page, (700.0, 300.0), (60.0, 30.0))
    page.wait_for_timeout(500)
    ready(page)
    assert value(page, "type-upper_lip_back_mm") == 0
    assert page.locator("button", has_text="Undo").is_disabled()
    drag(page, (101.5, 800.0), (10.0, 0.0))
    ready(page)
    assert value(page, "type-upper_lip_back_mm") == 0
    assert value(page, "type-leading_edge_back_mm") > 0.0


def test_keys_turn_from_tab_to_tab(visit: Visit) -> None:
    page = visit.tab()
    title = page.get_by_role("button", name="People", exact=True)
    work = page.locator("button", has_text="Work out what becomes of people")
    assert not work.is_visible()
    page.get_by_role("button", name="Per 10 mm", exact=True).focus()
    for key in ("Tab", "Tab", "Enter"):
        page.keyboard.press(key)
    work.wait_for(timeout=10_000)
    assert title.evaluate("it => getComputedStyle(it).outlineStyle") == "solid"


def test_a_mesh_refused_for_want_of_a_unit_can_be_chosen_again_with_it(visit: Visit) -> None:
    page = visit.tab()
    tab(page, "Files")
    box = page.locator("input[type=file]").first
    box.set_input_files("geometries/plover.stl")
    page.locator(".refused", has_text="without a unit").wait_for(timeout=30_000)
    assert box.evaluate("it => it.files.length") == 0  # a browser is silent on the same file
    for i, given in enumerate(("mm", "-x", "+z")):
        page.locator("select", has_text="as filed").nth(i).select_option(given)
    box.set_input_files("geometries/plover.stl")
    page.locator("p", has_text="A: plover").wait_for(timeout=60_000)
    assert page.thrown == []


def test_the_answer_is_that_of_the_terminal(visit: Visit) -> None:
    from frontcheck.outputs.text.terminal import Plain

    page = visit.tab()
    shown = page.locator("pre.answer").text_content()
    assert shown == Plain().screening(fc.screen(fc.read_front(PLOVER)))


def test_a_slider_goes_by_keys(visit: Visit) -> None:
    page = visit.tab()
    page.locator(".noUi-handle").first.focus()
    page.keyboard.press("ArrowRight")
    page.locator(".late", has_text="catching up").wait_for(timeout=10_000)
    ready(page)
    assert value(page, "type-lower_lip_back_mm") != 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_caution_and_numbers_are_in_view_and_nothing_leaves_the_machine(
    visit: Visit, scheme: str
) -> None:
    page = visit.tab(color_scheme=scheme)
    for words in ("not advice to alter a vehicle", "Only testing by an accredited laboratory"):
        box = page.locator(".fc-sticky p", has_text=words).bounding_box()
        assert box["y"] + box["height"] <= 800.0
    box = page.locator("table.numbers").bounding_box()
    assert box["x"] >= 0.0
    assert box["y"] + box["height"] < 740.0
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    assert page.asked
    assert all(url.startswith((visit.url, "data:", "blob:")) for url in page.asked)
    assert page.thrown == []


def test_the_handbook_opens_beside_the_page(visit: Visit) -> None:
    page = visit.tab()
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Handbook", exact=True).click()
    book = opened.value
    book.wait_for_load_state()
    assert book.title() == "frontcheck handbook"
    assert "Only testing by an accredited laboratory" in book.locator(".caution").inner_text()
    assert book.evaluate("getComputedStyle(document.querySelector('.caution')).fontWeight") == "700"
    shown = "[...document.images].every(i => i.complete && i.naturalWidth > 0)"
    assert book.evaluate(shown)
    book.close()
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    assert page.thrown == []


def test_a_shape_saved_and_loaded_again_gives_the_same_bytes_and_the_numbers_of_the_command(
    visit: Visit, tmp_path: Path
) -> None:
    page = visit.tab()
    drag(page, UPPER_LIP, (-14.0, -9.0))
    ready(page)
    shown = {name: (number(page, name), number(page, name, "x")) for name in LINES}
    first, document = saved(page, "shape.csv"), json.loads(saved(page, "screening.json"))
    file = tmp_path / "shape.csv"
    file.write_bytes(first)
    again = visit.tab()
    tab(again, "Files")
    again.locator("input[type=file]").first.set_input_files(file)
    again.locator("p", has_text="points here not measured").wait_for(timeout=30_000)
    ready(again)
    assert {name: (number(again, name), number(again, name, "x")) for name in LINES} == shown
    assert saved(again, "shape.csv") == first
    assert b"proposed" in first
    command = [sys.executable, "-m", "frontcheck", "screen", str(file), "--out", f"{tmp_path}/out"]
    subprocess.run(command, check=False, capture_output=True)
    (made,) = (tmp_path / "out").rglob("screening.json")
    for one, two in zip(
        json.loads(made.read_text())["stations"], document["stations"], strict=True
    ):
        for name in LINES:
            assert one[name]["status"] == two[name]["status"]
            ours, page_s = ([each[name][f"{axis}_mm"] for axis in "xz"] for each in (one, two))
            assert ours == pytest.approx(page_s, abs=1e-9)


def test_a_fault_of_ours_is_told_on_the_page_and_in_two_lines_and_the_page_goes_on(
    browser: Any,
) -> None:
    """Any fault: here one put into the words of what moves what, for one station."""
    before = (
        "import frontcheck.study.sensitivity as s; own = s.sensitivity\n"
        "def broken(front, station): return own(front, station=station) if not station else 1 / 0\n"
        "s.sensitivity = broken"
    )
    with served(PLOVER, before=before) as (address, process):
        page = Visit.paid(browser, address).tab()
        tab(page, "Per 10 mm")
        choose = page.locator("select", has_text="300.0 mm")
        choose.select_option(label="300.0 mm")
        page.locator(".refused", has_text="a fault of frontcheck").wait_for(timeout=10_000)
        choose.select_option(label="0.0 mm")
        page.locator("button", has_text="Drag points").click()
        drag(page, (1150.0, 965.0), (0.0, 0.0))
        page.locator(".fc-UBRL-z", has_text="556.0").wait_for(timeout=10_000)
        process.terminate()
        process.wait(timeout=20)
        assert process.stderr is not None
        told = process.stderr.read().splitlines()
        assert re.fullmatch(
            r"frontcheck: a fault of frontcheck \S+ \(ZeroDivisionError: division by zero\)",
            told[0],
        )
        assert told[1].startswith("frontcheck: please report it")
        assert told[2:] == ["frontcheck: stopped; outputs stand as they were"]
        assert page.thrown == []


def test_what_is_of_a_shape_and_a_section_is_offered_with_no_other(visit: Visit) -> None:
    """People stay while the shape does, go blank with a move and come back with Undo."""
    page = visit.tab()
    tab(page, "People")
    page.locator("button", has_text="Work out").click()
    table = page.locator("table.people")
    table.wait_for(timeout=120_000)
    told = table.text_content()
    assert "carried up" in told
    tab(page, "A and B")
    page.locator("button", has_text="Keep the present shape").click()
    ready(page)
    tab(page, "People")
    assert table.text_content() == told
    assert "of 64 cases" in (page.locator("pre.answer").text_content() or "")
    drag(page, UPPER_LIP, (-14.0, -9.0))
    page.locator("p", has_text="the shape was moved since").wait_for(timeout=20_000)
    ready(page)
    assert "carried up" not in table.text_content()
    page.locator("button", has_text="Undo").click()
    page.locator("p", has_text="Shape as loaded here").wait_for(timeout=10_000)
    ready(page)
    assert table.text_content() == told
    assert b"station 0" in saved(page, "side.svg")
    page.locator("select", has_text="300.0 mm").select_option(label="300.0 mm")
    page.locator("p", has_text="Nothing made of the present").wait_for(timeout=20_000)
    assert page.thrown == []


def test_it_runs_as_long_as_the_page_is_open_and_ends_once_it_was_closed(browser: Any) -> None:
    with served(PLOVER, "--close-after", "8") as (address, process):
        page = Visit.paid(browser, address).tab()
        page.wait_for_timeout(11_000)
        assert process.poll() is None
        page.close()
        assert process.wait(timeout=60) == 0


def test_a_file_too_large_to_read_is_refused_and_the_page_goes_on(
    visit: Visit, tmp_path: Path
) -> None:
    """As text it has 160 MB, beyond what web servers take by default (100 MB)."""
    file = tmp_path / "large.csv"
    with file.open("wb") as stream:
        stream.truncate(120_000_000)
    page = visit.tab()
    tab(page, "Files")
    page.locator("input[type=file]").first.set_input_files(file)
    page.locator(".refused", has_text="large.csv").wait_for(timeout=60_000)
    page.locator(".fc-UBRL-z", has_text="556.0").wait_for(timeout=10_000)
    assert page.thrown == []


def test_clicks_on_a_photo_become_the_section_of_the_library(visit: Visit, tmp_path: Path) -> None:
    """The photo is drawn to scale: what is clicked has known places, to a pixel of the screen."""
    true, seen = photographed(fc.read_front(PLOVER), tmp_path / "side.jpg")
    page = visit.tab()
    tab(page, "Photo")
    assert "No photo yet" in page.locator("p", has_text="No photo yet").inner_text()
    page.locator("input[type=file]").last.set_input_files(tmp_path / "side.jpg")
    page.locator("p", has_text="outline 3 more").wait_for(timeout=30_000)
    assert page.locator("p", has_text="recesses and a lower lip").count() == 1
    click_photo(page, seen)
    page.locator("p", has_text="A point is sure to").wait_for(timeout=30_000)
    clicked = page.evaluate(
        """() => {
          const photo = Bokeh.documents[0].get_model_by_name("photo");
          const marks = photo.renderers.filter(r => r.glyph.type === "Scatter");
          return marks.map(({data_source: {data}}) => Array.from(data.x, (x, i) => [x, data.y[i]]));
        }"""
    )
    clicked = dict(zip(("ground", "corners", "outline"), clicked, strict=True))
    per_px = max(2000 / 690, 1300 / 410)
    for kind, places in seen.items():
        assert clicked[kind] == [pytest.approx(at, abs=1.01 * per_px) for at in places]
    page.locator("button", has_text="Show as A").click()
    page.locator("p", has_text="A: side").wait_for(timeout=30_000)
    ready(page)
    clicks = fc.PhotoClicks(**clicked, board_mm=(1000, 1000), click_px=per_px)
    front = fc.front_from_photo(clicks, "side")
    assert saved(page, "shape.csv") == fc.offset_table(front, "bench")
    assert b"# silhouette: yes" in fc.offset_table(front, "bench")
    station = fc.screen(front).station(0)
    for name in ("UBRL", "BLERL"):
        assert number(page, name) == pytest.approx(getattr(station, name).z, abs=0.0501)
    for (x, z), (x_true, z_true) in zip(
        front.section(0).points.tolist(), true["outline"], strict=True
    ):
        off = x_true - min(x for x, _ in true["outline"])
        assert (x, z) == pytest.approx((off, z_true), abs=4.0 * per_px / 0.9)
    assert "Recess and lower lip are not seen" in page.locator("pre.answer").text_content()
    assert page.thrown == []

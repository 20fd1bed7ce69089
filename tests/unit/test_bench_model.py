"""What a tab of the page holds, without a browser: steps, lines that follow, what is saved.

Checked against the library's own whole screening, against the definition of a travel (a point goes
where it is put), and against files read back.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import frontcheck as fc
from frontcheck.bench import page_words, saves
from frontcheck.bench.model import Bench, Step, quick_lines, screened
from frontcheck.bench.opened import opened, picture_in
from frontcheck.bench.photo_tab import Photo
from frontcheck.errors import FrontcheckError, InputError

PLOVER = fc.read_front("geometries/plover.csv")
AVOCET = fc.read_front("geometries/avocet.csv")


def test_a_point_goes_where_it_is_put_and_nothing_else_moves() -> None:
    before = PLOVER.section(300.0).points
    step = Step(PLOVER).with_points(300.0, {7: (40.0, 330.0)})
    after = step.front.section(300.0).points
    assert after[7] == pytest.approx((40.0, 330.0), abs=1e-9)
    assert np.array_equal(np.delete(after, 7, axis=0), np.delete(before, 7, axis=0))
    assert step.front.section(0.0) is PLOVER.section(0.0)
    assert [i for i, moved in enumerate(step.proposed(300.0)) if moved] == [7]
    assert not any(step.proposed(0.0))


def test_a_point_put_twice_stands_at_the_second_place_and_can_be_put_back() -> None:
    once = Step(PLOVER).with_points(0.0, {7: (30.0, 320.0)})
    twice = once.with_points(0.0, {7: (29.0, 325.0)})
    assert twice.front.section(0.0).points[7] == pytest.approx((29.0, 325.0), abs=1e-9)
    back = twice.without_point(0.0, 7)
    assert np.array_equal(back.front.section(0.0).points, PLOVER.section(0.0).points)


@pytest.mark.parametrize("name", ["lower_lip", "upper_lip", "leading_edge"])
def test_a_feature_goes_where_it_is_dragged_at_every_station_alike(name: str) -> None:
    start = Step(PLOVER)
    i = start.features(0.0)[name]
    x, z = PLOVER.section(0.0).points[i]
    step = start.with_feature(0.0, name, (x - 12.5, z + 4.0))
    assert step.front.section(0.0).points[i] == pytest.approx((x - 12.5, z + 4.0), abs=1e-9)
    for y in PLOVER.stations:
        k = start.features(y)[name]
        travel = step.front.section(y).points[k] - PLOVER.section(y).points[k]
        assert travel == pytest.approx((-12.5, 4.0), abs=1e-9)


def test_moves_and_points_do_not_ask_in_which_order_they_came() -> None:
    back = Step(PLOVER).with_moves({"lower_lip_back_mm": -15.0})
    one = back.with_points(0.0, {20: (15.0, 560.0)})
    shift = one.front.section(0.0).points[20] - back.front.section(0.0).points[20]
    x, z = PLOVER.section(0.0).points[20] + shift
    two = Step(PLOVER).with_points(0.0, {20: (x, z)}).with_moves({"lower_lip_back_mm": -15.0})
    assert two.front.section(0.0).points == pytest.approx(one.front.section(0.0).points, abs=1e-9)


def test_a_move_that_crosses_the_contour_is_refused_and_leaves_the_step() -> None:
    step = Step(PLOVER)
    with pytest.raises(InputError, match="cross"):
        step.with_points(0.0, {10: (600.0, 1100.0)})
    assert step.front is PLOVER


def test_undo_and_redo_walk_the_steps_and_a_new_step_forgets_what_was_undone() -> None:
    bench = Bench(PLOVER)
    for amount in (10.0, 20.0, 30.0):
        bench.take(bench.step.with_moves({"leading_edge_up_mm": amount}))
    assert bench.go(-1)
    assert bench.go(-1)
    assert bench.step.moves == {"leading_edge_up_mm": 10.0}
    assert bench.go(1)
    assert bench.step.moves == {"leading_edge_up_mm": 20.0}
    bench.take(bench.step.with_moves({"lower_lip_back_mm": -5.0}))
    assert not bench.go(1)
    assert all(bench.go(-1) for _ in range(3))
    assert not bench.go(-1)
    assert bench.front is PLOVER


def test_a_draft_is_seen_and_is_no_step_until_it_is_taken() -> None:
    bench = Bench(PLOVER)
    bench.draft = bench.last.with_moves({"leading_edge_up_mm": 10.0})
    assert bench.front is bench.draft.front
    assert bench.last.front is PLOVER
    bench.go(-1)
    assert bench.front is PLOVER


def test_b_stays_as_it_was_kept_while_a_moves_on() -> None:
    bench = Bench(PLOVER)
    bench.take(bench.step.with_moves({"leading_edge_up_mm": 10.0}))
    bench.keep_as_b()
    kept = bench.other
    bench.take(bench.step.with_moves({"leading_edge_up_mm": 40.0}))
    assert bench.other is kept
    assert kept is not None
    assert fc.screen(kept).station(0).BLERL.z == pytest.approx(810.0, abs=1e-9)
    bench.load(AVOCET)
    assert bench.front is AVOCET
    assert bench.other is kept
    assert bench.at == 0


@pytest.mark.parametrize("front", [PLOVER, AVOCET, PLOVER.full()])
def test_lines_of_one_section_are_those_of_the_whole_screening(front: fc.Front) -> None:
    step = Step(front).with_moves({"leading_edge_up_mm": 12.0})
    whole = fc.screen(step.front)
    for y in front.stations[:4]:
        quick, slow = quick_lines(step.front, y), whole.station(y)
        for one, two in zip(quick.lines[:3] + quick.wads, slow.lines[:3] + slow.wads, strict=True):
            assert one.status == two.status
            assert one.formed
            assert (one.x, one.z) == pytest.approx((two.x, two.z), abs=1e-9)


def test_what_moves_what_is_said_in_either_unit_from_the_table_of_the_library() -> None:
    table = fc.sensitivity(Step(PLOVER).with_moves({"leading_edge_up_mm": 12.0}).front)
    for unit, scale, digits in (("mm", 1.0, 1), ("in", 1.0 / 25.4, 2)):
        html = page_words.per_ten(table, page_words.Lengths(unit))
        rows = re.findall(r"<tr><th scope=.row.>([^<]*)</th>(.*?)</tr>", html)
        told = {name: re.findall(r"<td>([^<]*)</td>", cells) for name, cells in rows}
        lines = ("LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm", "WAD_1000_x_mm")
        assert len(told) >= 10
        for handle in dict.fromkeys(rate.handle for rate in table.rates):
            cells = told.pop(f"{handle.words} {handle.way}", None)
            for k, line in enumerate(lines):
                rate = table.rate(handle.name, line)
                if cells is None:
                    assert rate.reason
                elif rate.mm is None:
                    assert cells[k] == "*"
                    assert rate.reason.replace(">", "&gt;") in html
                elif abs(rate.mm) < 0.05:
                    assert cells[k] == "."
                else:
                    value = float(cells[k].replace("\N{MINUS SIGN}", "-"))
                    assert value == pytest.approx(rate.mm * scale, abs=0.51 * 10.0**-digits)
                    assert cells[k][0] in "+\N{MINUS SIGN}"
        assert not told


def test_a_feature_that_is_not_there_is_not_to_be_moved() -> None:
    """Avocet has no recess, so no lips."""
    assert AVOCET.section(0.0).face.lower_lip is None
    html = page_words.per_ten(fc.sensitivity(AVOCET), page_words.Lengths("mm"))
    assert "Not to be moved here: lower lip (no recess" in html
    assert "lower_lip" not in Step(AVOCET).features(0.0)
    with pytest.raises(InputError, match="no recess") as refused:
        Step(AVOCET).with_moves({"lower_lip_up_mm": 5.0})
    assert str(refused.value).count("no recess") == 1  # and not once for each station


def test_where_a_feature_is_not_there_is_said_and_it_is_moved_elsewhere() -> None:
    flat = fc.Section(AVOCET.section(0.0).points, 760.0, AVOCET.section(0.0).parts)
    front = replace(PLOVER, sections=(*PLOVER.sections[:-1], flat))
    step = Step(front).with_moves({"lower_lip_back_mm": -10.0})
    assert step.left == ("at y = 760 mm no recess to be seen, so no lower lip",)
    assert np.array_equal(step.front.section(760.0).points, flat.points)
    assert any(step.proposed(0.0))
    assert step.left[0] in page_words.state(late=False, moved=3, left=step.left, refused="")
    assert Step(front).with_moves({"nose_up_mm": 5.0}).left == ()


def offered(front: fc.Front) -> dict[str, Callable[[], bytes]]:
    return saves.offers(front, screened(front), 0.0, None)


def test_the_document_saved_holds_the_numbers_shown() -> None:
    step = Step(PLOVER).with_moves({"leading_edge_up_mm": 12.0})
    files = offered(step.front)
    document = json.loads(files["screening.json"]())
    assert document["stations"][0]["BLERL"]["z_mm"] == pytest.approx(
        quick_lines(step.front, 0.0).BLERL.z, abs=1e-9
    )
    picture = files["side.svg"]()
    assert picture.startswith(b"<?xml")
    assert picture == offered(step.front)["side.svg"]()


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode()


def test_a_file_is_read_as_from_disk() -> None:
    front = opened(["plover.csv"], [_b64(Path("geometries/plover.csv").read_bytes())])
    assert front.source.file == "plover.csv"
    assert np.array_equal(front.section(100.0).points, PLOVER.section(100.0).points)


def test_a_front_file_is_read_with_what_it_names_and_refused_without() -> None:
    contents = {}
    for name in ("plover.toml", "plover.stl", "plover-hard-points.csv"):
        contents[name] = _b64(Path(f"geometries/{name}").read_bytes())
    front = opened(list(contents), list(contents.values()))
    with pytest.raises(FrontcheckError, match="together") as refused:
        opened(["plover.toml"], [contents["plover.toml"]])
    assert "/tmp" not in str(refused.value)
    assert front.stations == fc.read_front("geometries/plover.toml").stations


@pytest.mark.parametrize(
    ("names", "contents", "says"),
    [
        (["a.csv", "b.csv"], ["", ""], "one front file with the files"),
        (["..\\..\\evil.csv"], [_b64(b"x")], "evil.csv"),
        (["a.csv"], ["no base64!"], "cannot be kept"),
        (["a.toml", "b.csv", "B.csv"], ["", "", ""], "two files named b.csv"),
        ([".."], [_b64(b"x")], "cannot be kept"),
        (["a.exe"], [_b64(b"x")], "suffix"),
    ],
)
def test_what_cannot_be_read_is_refused(names: list[str], contents: list[str], says: str) -> None:
    with pytest.raises(FrontcheckError, match=says):
        opened(names, contents)


def test_what_was_moved_says_so_in_every_file_and_is_never_called_measured() -> None:
    step = Step(PLOVER).with_points(100.0, {7: (40.0, 330.0)}).with_moves({"nose_up_mm": 5.0})
    count, all_ = step.front.proposed
    assert count == sum(
        int((step.front.section(y).points != PLOVER.section(y).points).any(axis=1).sum())
        for y in PLOVER.stations
    )
    assert 0 < count < all_
    files = offered(step.front)
    document = json.loads(files["screening.json"]())
    assert document["input"]["proposed_points"] == count
    assert any("nose up 5 mm" in each for each in document["input"]["changes"])
    assert document["input"]["changes"][-1] == "points moved one by one: 1 at y = 100 mm"
    text = files["shape.csv"]().decode()
    rows = [line.split(",") for line in text.splitlines() if not line.startswith("#")]
    at = rows[0].index("origin")
    assert [row[at] for row in rows[1:]].count("proposed") == count
    assert "Plover (proposed): side view" in files["side.svg"]().decode()


def test_the_shape_saved_loads_to_the_same_bytes_and_the_same_numbers() -> None:
    step = Step(PLOVER).with_points(100.0, {7: (40.0, 330.0)}).with_moves({"nose_up_mm": 5.0})
    first = offered(step.front)["shape.csv"]()
    again = opened(["shape.csv"], [_b64(first)])
    assert offered(again)["shape.csv"]() == first
    for y in PLOVER.stations:
        one, two = (fc.screen(front).station(y) for front in (step.front, again))
        for a, b in zip(one.lines + one.wads, two.lines + two.wads, strict=True):
            assert a.status == b.status
            assert (a.x, a.z) == pytest.approx((b.x, b.z), abs=1e-9)


def test_what_becomes_of_people_is_blank_once_the_shape_has_moved() -> None:
    study = fc.motion(PLOVER, people=fc.PEOPLE[:1], draws=20)
    cells = re.compile(r"<td>([^<]*)</td>")
    lengths = page_words.Lengths("mm")
    current = cells.findall(page_words.people(study, current=True, lengths=lengths))
    moved = cells.findall(page_words.people(study, current=False, lengths=lengths))
    assert len(current) == len(moved) == 2
    assert all(current)
    assert not any(moved)


@pytest.mark.parametrize(
    ("unit", "text"), [("mm", "\N{MINUS SIGN}25.4"), ("in", "\N{MINUS SIGN}1.00")]
)
def test_lengths_are_said_in_either_unit(unit: str, text: str) -> None:
    """An inch is 25.4 mm (international yard and pound, 1959)."""
    assert page_words.Lengths(unit).said(-25.4) == text


def picture(size: tuple[int, int], kind: str = "jpeg", turn: int = 1) -> str:
    """A picture, light on its upper half; `turn` as cameras note it (Exif 2.3, orientation)."""
    image = Image.new("RGB", size, "#303030")
    image.paste((240, 240, 240), (0, 0, size[0], size[1] // 2))
    exif = Image.Exif()
    exif[0x0112] = turn
    out = BytesIO()
    image.save(out, kind, exif=exif)
    return _b64(out.getvalue())


@pytest.mark.parametrize(
    ("turn", "light"), [(1, (30, 2)), (3, (30, 38)), (6, (38, 30)), (8, (2, 30))]
)
def test_a_photo_stands_upright_as_the_camera_was_held(turn: int, light: tuple[int, int]) -> None:
    """Orientation 3 is upside down; 6 and 8 are turned by a quarter either way (Exif 2.3)."""
    found = picture_in("a.jpg", picture((60, 40), turn=turn))
    assert (found.width, found.height) == ((60, 40) if turn in (1, 3) else (40, 60))
    shown = Image.open(BytesIO(base64.b64decode(found.url.partition(",")[2])))
    assert shown.size == (found.width, found.height)
    pixel = shown.convert("L").getpixel(light)
    assert isinstance(pixel, int)
    assert pixel > 200


def test_a_photo_too_large_to_show_is_shown_smaller_and_what_is_none_is_refused() -> None:
    found = picture_in("a.png", picture((6000, 100), "png"))
    assert (found.width, found.height) == (4000, 67)
    for content in ("no base64!", _b64(b"no picture"), picture((40, 30), "bmp")):
        with pytest.raises(FrontcheckError, match="cannot be shown"):
            picture_in("a.jpg", content)


def test_clicks_are_as_sure_as_the_photo_was_magnified() -> None:
    """Ten times as near, a click of one pixel on the screen is a tenth of a pixel of the photo."""
    photo = Photo()
    photo.show("side.jpg", picture_in("side.jpg", picture((6900 // 2, 2000))))
    places = {
        "ground": [(100.0, 1800.0), (3300.0, 1800.0)],
        "corners": [(800.0, 1800.0), (1800.0, 1800.0), (1800.0, 800.0), (800.0, 800.0)],
        "outline": [(120.0, 1500.0), (100.0, 1200.0), (300.0, 900.0), (900.0, 800.0)],
    }
    wide = float(photo.across.end) - float(photo.across.start)
    for kind, at in places.items():
        photo.across.start, photo.across.end = 0.0, wide / 10.0
        data = {"x": [x for x, _ in at], "y": [y for _, y in at]}
        photo.noted(data)
        photo.sources[kind].data = data | ({"part": [""] * len(at)} if kind == "outline" else {})
    near = photo.clicks()
    assert near.click_px == pytest.approx(wide / 10.0 / 690.0, rel=1e-12)
    assert near.outline == tuple(places["outline"])
    assert near.parts is None
    photo.across.end = wide
    photo.sources["ground"].data = {"x": [100.0, 3301.0], "y": [1800.0, 1800.0]}
    photo.noted(photo.sources["ground"].data)
    assert photo.clicks().click_px == pytest.approx(wide / 690.0, rel=1e-12)
    photo.choose("outline")
    photo.take_back()
    assert photo.count("outline") == 3

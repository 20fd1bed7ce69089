"""The page of the annex in Chromium: quiet, offline, usable by pointer and keys, prints whole."""

from __future__ import annotations

import io
from pathlib import Path

import chromium
import pytest
from annexes import both_files, plover_files, screened
from pypdf import PdfReader
from whole.test_annex_page import hostile_page

pytestmark = pytest.mark.skipif(chromium.found() is None, reason="there is no Chromium here")

QUIET = ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown")
PAGE_MM = {"plover": (297.0, 210.0), "both": (279.4, 215.9)}
MARGIN_MM = 12.0
PX = 96.0 / 25.4

# W3C, Web Content Accessibility Guidelines (WCAG) 2.2, 2023: 1.4.3 (contrast), and relative
# luminance as defined there. Text is looked at where it stands: colour against the nearest
# background that is not transparent.
CONTRAST = """(() => {
  const parse = c => (c.match(/[\\d.]+/g) || []).map(Number);
  const lum = c => { const [r, g, b] = c.slice(0, 3).map(v => { v /= 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = e => { for (; e; e = e.parentElement) { const s = getComputedStyle(e);
      const c = parse(s.backgroundColor);
      if (c.length === 3 || (c.length === 4 && c[3] === 1)) return c;
      if (c.length === 4 && c[3] > 0) return [0, 0, 0]; } return [255, 255, 255]; };
  const out = []; let seen = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode());) {
    const e = n.parentElement;
    if (!n.textContent.trim() || e.closest('script,style,title')) continue;
    const s = getComputedStyle(e);
    if (s.visibility === 'hidden' || !e.getClientRects().length) continue;
    seen += 1;
    const inDrawing = e.namespaceURI.endsWith('svg');
    let back = ground(e);
    if (inDrawing) { const disc = e.parentElement.querySelector(':scope > circle');
      if (e.closest('.band') && disc) back = parse(getComputedStyle(disc).fill); }
    const fore = parse(inDrawing ? s.fill : s.color);
    const [a, b] = [lum(fore), lum(back)].sort((p, q) => q - p);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) out.push([n.textContent.trim().slice(0, 40), ratio.toFixed(2), e.tagName]);
  }
  return {seen, out};
})()"""

SIZES = """Array.from(document.querySelectorAll('figure, .station:not([hidden]) svg, table, h1, p'))
  .filter(e => e.getClientRects().length)
  .map(e => { const r = e.getBoundingClientRect();
    return [e.tagName, r.left, r.right, r.height, e.scrollWidth - e.clientWidth]; })"""


@pytest.fixture(scope="module")
def browser():
    each = chromium.Browser(chromium.found())
    yield each
    each.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    made = {"plover": plover_files(), "both": both_files()}
    out = {}
    for name, contents in made.items():
        out[name] = folder / f"{name}.html"
        out[name].write_bytes(contents["annex.html"])
    return out


def loud(browser) -> list[str]:
    return [str(e)[:400] for e in browser.events if e.get("method") in QUIET]


def requests(browser) -> list[str]:
    return [
        e["params"]["request"]["url"]
        for e in browser.events
        if e.get("method") == "Network.requestWillBeSent"
        and not e["params"]["request"]["url"].startswith("data:")
    ]


def state(browser) -> dict[str, str]:
    return browser.run(
        "({shown: document.getElementById('station-shown').textContent,"
        " station: Array.from(document.querySelectorAll('.station:not([hidden])'))"
        ".map(e => e.dataset.y).join(),"
        " name: document.querySelector('.readout .name').textContent,"
        " value: document.querySelector('.readout .value').textContent,"
        " status: document.querySelector('.readout .status').textContent,"
        " source: document.querySelector('.readout .source').textContent})"
    )


def centre_of(browser, selector: str) -> tuple[float, float]:
    found = browser.run(
        f"(() => {{ const e = document.querySelector({selector!r});"
        " e.scrollIntoView({block: 'center', behavior: 'instant'});"
        " const r = e.getBoundingClientRect();"
        " return [r.left + r.width / 2, r.top + r.height / 2]; })()"
    )
    return tuple(found)


def dot(line: str) -> str:
    return f".station:not([hidden]) g:not([hidden]) > .mark[data-line='{line}'] .dot"


@pytest.mark.parametrize("name", ["plover", "both"])
def test_it_is_quiet_and_asks_for_nothing(browser, files, name):
    browser.open(files[name])
    for index in range(10):
        browser.run(
            f"(s => {{ s.value = {index}; s.dispatchEvent(new Event('input')); }})"
            "(document.getElementById('station'))"
        )
    browser.pump(0.5)
    assert loud(browser) == []
    assert requests(browser) == [files[name].as_uri()]


def test_the_log_does_show_what_is_blocked(browser, tmp_path):
    path = tmp_path / "loud.html"
    path.write_text('<script>console.error("x")</script><img src="http://127.0.0.1:9/a.png">')
    browser.open(path)
    assert any("consoleAPICalled" in each for each in loud(browser))
    assert "http://127.0.0.1:9/a.png" in requests(browser)


def test_the_policy_stops_a_script_that_got_in(browser, files, tmp_path):
    path = tmp_path / "planted.html"
    page = files["plover"].read_text("utf-8")
    path.write_text(page.replace("</main>", "<script>window.broken = 1</script></main>"), "utf-8")
    browser.open(path)
    assert browser.run("window.broken === undefined")
    assert loud(browser)


def test_markup_from_files_does_nothing(browser, tmp_path):
    page, _ = hostile_page(tmp_path)
    path = tmp_path / "hostile.html"
    path.write_text(page, "utf-8")
    browser.open(path, 400)
    assert browser.run("window.broken === undefined")
    assert loud(browser) == []
    assert requests(browser) == [path.as_uri()]
    assert browser.run("document.documentElement.scrollWidth") <= 400


def test_the_slider_moves_by_keys_and_tells_where_it_is(browser, files):
    browser.open(files["plover"])
    stations = screened("plover").front.stations
    assert state(browser)["station"] == "0"
    browser.run("document.getElementById('station').focus()")
    browser.key("ArrowRight", 39)
    browser.key("ArrowRight", 39)
    found = state(browser)
    assert found["station"] == f"{stations[2]:g}"
    assert found["shown"] == f"y = {stations[2]:g} mm"
    assert browser.run("document.getElementById('station').getAttribute('aria-valuetext')") == (
        f"y = {stations[2]:g} mm"
    )
    browser.key("End", 35)
    assert state(browser)["station"] == f"{stations[-1]:g}"


def test_hovering_a_line_tells_its_value_status_and_source(browser, files):
    browser.open(files["plover"])
    line = screened("plover").station(0.0).UBRL
    browser.hover(*centre_of(browser, dot("UBRL")))
    found = state(browser)
    assert found["name"] == "Upper bumper reference line (UBRL)"
    assert found["value"] == f"height {line.z:.1f} mm, setback {line.x:.1f} mm"
    assert found["status"].startswith("Status ok")
    assert "UN Regulation No. 127, 02 series" in found["source"]
    assert browser.run("document.querySelectorAll('#viewer .on[data-line]').length") == 2
    browser.hover(2.0, 2.0)
    assert browser.run("document.querySelectorAll('#viewer .on[data-line]').length") == 0


def test_focus_pins_a_line_and_it_stays_pinned_at_the_next_station(browser, files):
    browser.open(files["plover"])
    browser.run(f"document.querySelector({dot('BLERL')!r}).parentNode.focus()")
    assert state(browser)["name"].endswith("(BLERL)")
    browser.run("document.getElementById('station').focus()")
    browser.key("End", 35)
    last = screened("plover").stations[-1].BLERL
    assert state(browser)["value"] == f"height {last.z:.1f} mm, setback {last.x:.1f} mm"


def test_tab_goes_from_line_to_line(browser, files):
    browser.open(files["plover"])
    browser.run(f"document.querySelector({dot('LBRL')!r}).parentNode.focus()")
    names = [state(browser)["name"]]
    for _ in range(3):
        browser.key("Tab", 9)
        names.append(state(browser)["name"])
    assert len(set(names)) == 4


def test_the_rule_set_changes_lines_and_source(browser, files):
    from frontcheck.screening import screen

    browser.open(files["plover"])
    european = screen(screened("plover").front, "EU-631-2009")
    y = 760.0
    index = european.front.stations.index(y)
    browser.run(
        f"(s => {{ s.value = {index}; s.dispatchEvent(new Event('input')); }})"
        "(document.getElementById('station'));"
        "(r => { r.value = 'EU-631-2009'; r.dispatchEvent(new Event('change')); })"
        "(document.getElementById('rules'))"
    )
    browser.hover(*centre_of(browser, dot("BLERL")))
    found = state(browser)
    line = european.station(y).BLERL
    assert found["value"] == f"height {line.z:.1f} mm, setback {line.x:.1f} mm"
    # (EC) 631/2009 Annex Part I 2.2 was read for the leading edge.
    assert "2.2 (text read)" in found["source"]
    one_table = browser.run(
        "document.querySelectorAll('.station:not([hidden]) > div.tabled:not([hidden])').length"
    )
    assert one_table == 1


def test_a_finding_shows_its_region_and_goes_away_again(browser, files):
    browser.open(files["plover"])
    findings = screened("plover").findings
    number = next(n for n, f in enumerate(findings, 1) if f.station == 580.0 and f.region.arc_mm)
    button = f".found button[data-finding='{number}']"
    browser.click(*centre_of(browser, button))
    assert state(browser)["station"] == "580"
    shown = (
        "Array.from(document.querySelectorAll('.station:not([hidden]) .band'))"
        ".filter(e => e.getClientRects().length && getComputedStyle(e).display !== 'none')"
        ".map(e => e.getAttribute('data-finding')).join()"
    )
    assert browser.run(shown) == str(number)
    assert browser.run(f"document.querySelector({button!r}).getAttribute('aria-pressed')") == "true"
    browser.run(f"document.querySelector({button!r}).focus()")
    browser.key("Enter", 13, "\r")
    assert browser.run(shown) == ""
    assert browser.run("document.querySelectorAll('.found [aria-pressed=true]').length") == 0


@pytest.mark.parametrize("width", [1280, 400])
@pytest.mark.parametrize("name", ["plover", "both"])
def test_contrast_is_enough_and_nothing_sticks_out(browser, files, name, width):
    browser.open(files[name], width)
    browser.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    browser.run("document.querySelectorAll('.found button')[3].click()")
    found = browser.run(CONTRAST)
    assert found["seen"] > 500
    assert found["out"] == []
    assert browser.run("document.documentElement.scrollWidth") <= width
    small = browser.run(
        "Array.from(document.querySelectorAll('p, td, th, li, text'))"
        ".filter(e => e.getClientRects().length && e.textContent.trim())"
        ".map(e => parseFloat(getComputedStyle(e).fontSize)"
        " * (e.ownerSVGElement ? e.ownerSVGElement.getBoundingClientRect().width / 1000 : 1))"
        ".reduce((a, b) => Math.min(a, b), 99)"
    )
    assert small >= 10.0, "letters too small to read [px]"


def test_the_contrast_check_sees_a_planted_fault(browser, tmp_path):
    path = tmp_path / "pale.html"
    path.write_text('<p style="color:#999">too pale</p><p>fine</p>')
    browser.open(path)
    found = browser.run(CONTRAST)
    assert found["seen"] == 2
    assert [each[0] for each in found["out"]] == ["too pale"]


def test_without_scripts_everything_can_be_read(browser, files):
    browser.open(files["plover"], script=False)
    document = browser.call("DOM.getDocument", depth=0)["root"]["nodeId"]

    def shown(selector: str) -> int:
        ids = browser.call("DOM.querySelectorAll", nodeId=document, selector=selector)["nodeIds"]
        count = 0
        for each in ids:
            answer = {}
            try:
                answer = browser.call("DOM.getBoxModel", nodeId=each)
            except AssertionError:  # it has no box: not shown
                continue
            count += answer["model"]["height"] > 0
        return count

    stations = len(screened("plover").stations)
    assert shown(".station svg") == stations
    assert shown(".controls") == 0
    assert shown(".readout") == 0
    assert shown(".station table") == stations
    assert shown(".band") == 0


@pytest.mark.parametrize("name", ["plover", "both"])
def test_on_paper_no_figure_or_table_is_cut(browser, files, name):
    browser.open(files[name])
    width, height = ((mm - 2.0 * MARGIN_MM) * PX for mm in PAGE_MM[name])
    browser.call("Emulation.setEmulatedMedia", media="print")
    browser.call(
        "Emulation.setDeviceMetricsOverride",
        width=int(width), height=int(height), deviceScaleFactor=1, mobile=False,
    )  # fmt: skip
    try:
        found = browser.run(SIZES)
        assert {each[0] for each in found} >= {"FIGURE", "svg", "TABLE"}
        for tag, left, right, tall, over in found:
            assert left >= -0.5, tag
            assert right <= int(width) + 0.5, tag
            assert over <= 1, tag
            if tag in ("FIGURE", "svg"):
                assert tall <= height, tag
        hidden = browser.run(
            "Array.from(document.querySelectorAll('.controls, .aside, nav'))"
            ".every(e => !e.getClientRects().length)"
        )
        assert hidden
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")
    reader = PdfReader(io.BytesIO(browser.pdf()))
    for page in reader.pages:
        size = [float(side) / 72.0 * 25.4 for side in page.mediabox[2:]]
        assert size == pytest.approx(PAGE_MM[name], abs=0.5)
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    for words in ("Station y = 0 mm", "What to do next", "Figure 1:"):
        assert words in text
    assert ("Constants and their sources" in text) == (name == "both")  # made with full

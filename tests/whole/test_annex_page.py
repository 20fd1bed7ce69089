"""The page of the annex as text: one file, nothing from outside, nothing from a file as markup."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from annexes import HOSTILE, TITLES, both_files, plover_files, screened, small_front

from frontcheck.caution import CAUTION
from frontcheck.outputs.annex.annex import annex_of
from frontcheck.outputs.annex.annex_page import (
    MOST_STATIONS,
    SideLayers,
    page_bytes,
    viewer_html,
)
from frontcheck.outputs.annex.annex_text import TitleBlock
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set_ids
from frontcheck.screening import screen

VOID = {"meta", "link", "img", "input", "col", "br", "hr"}


class Tree(HTMLParser):
    """Elements with attributes and text, and what is wrong with their nesting."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str], list[str], tuple[str, ...]]] = []
        self.open: list[tuple[str, list[str]]] = []
        self.faults: list[str] = []
        self.feed(text)
        self.close()
        self.faults += [f"<{name}> is not closed" for name, _ in self.open]

    def handle_starttag(self, tag, attrs):
        texts: list[str] = []
        names = [name for name, _ in attrs]
        if len(set(names)) != len(names):
            self.faults.append(f"<{tag}> has an attribute twice")
        above = tuple(name for name, _ in self.open)
        self.elements.append((tag, {n: v or "" for n, v in attrs}, texts, above))
        if tag not in VOID:
            self.open.append((tag, texts))

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        if not self.open or self.open[-1][0] != tag:
            self.faults.append(f"</{tag}> closes nothing")
            return
        self.open.pop()

    def handle_data(self, data):
        for _, texts in self.open:
            texts.append(data)

    def every(self, *tags):
        return [each for each in self.elements if each[0] in tags]


@pytest.fixture(scope="module", params=[plover_files, both_files])
def page(request):
    return request.param()["annex.html"].decode()


@pytest.fixture(scope="module")
def tree(page):
    return Tree(page)


def test_it_is_well_formed_and_ids_are_unique(tree):
    assert tree.faults == []
    ids = [attributes["id"] for _, attributes, _, _ in tree.elements if "id" in attributes]
    assert len(set(ids)) == len(ids)
    targets = {a["href"][1:] for _, a, _, _ in tree.every("a")}
    assert targets <= set(ids)
    assert len(targets) >= 9  # eight sections and the content


def test_the_checker_sees_planted_faults():
    assert Tree("<p><b></p>").faults
    assert Tree("<p>").faults
    assert Tree('<p id="a" id="b"></p>').faults
    assert not Tree("<p><img></p>").faults


def test_nothing_is_named_that_would_have_to_be_loaded(page, tree):
    for tag, attributes, _, _ in tree.elements:
        for name in ("src", "href", "data", "action", "poster", "srcset", "xlink:href"):
            value = attributes.get(name, "#")
            assert value.startswith(("#", "data:image/svg+xml;base64,", "data:,")), (tag, name)
        assert not [name for name in attributes if name.startswith("on")], tag
        assert "style" not in attributes, tag  # the policy would not let it through
    for _, _, texts, _ in tree.every("style"):
        assert "url(" not in "".join(texts)
        assert "@import" not in "".join(texts)
    assert [tag for tag, *_ in tree.every("script", "link", "iframe", "object", "form")] == [
        "link", "script",
    ]  # fmt: skip


def test_the_policy_forbids_everything_but_its_own_style_and_script(tree):
    policies = [a["content"] for _, a, _, _ in tree.every("meta") if "http-equiv" in a]
    (policy,) = policies
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert "http:" not in policy
    assert "https:" not in policy
    for tag in ("style", "script"):
        ((_, _, texts, _),) = tree.every(tag)
        digest = hashlib.sha256("".join(texts).encode()).digest()
        assert f"{tag}-src 'sha256-{base64.b64encode(digest).decode()}'" in policy


def test_headings_step_down_one_at_a_time(tree):
    levels = [int(tag[1]) for tag, *_ in tree.every("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))


def test_tables_have_captions_and_scoped_heads(tree):
    assert len(tree.every("table")) == len(tree.every("caption"))
    assert {a["scope"] for _, a, _, _ in tree.every("th")} == {"col", "row"}
    assert all("".join(texts).strip() for _, _, texts, _ in tree.every("caption", "th"))


def test_what_can_be_used_has_a_name(tree):
    labels = {a["for"] for _, a, _, _ in tree.every("label")}
    for _, attributes, _, _ in tree.every("input", "select"):
        assert attributes["id"] in labels
    for _, attributes, _, _ in tree.every("img"):
        assert len(attributes["alt"]) > 20
    for tag, attributes, texts, _ in tree.elements:
        if attributes.get("tabindex") == "0":
            named = "aria-label" in attributes or "aria-labelledby" in attributes
            assert named, (tag, attributes)
            assert "role" in attributes or tag == "ol"
        if tag == "button":
            assert "".join(texts).strip()
    ((_, root, _, _),) = tree.every("html")
    assert root["lang"] == "en-GB"
    assert [a["href"] for _, a, _, _ in tree.every("a") if a.get("class") == "skip"] == ["#main"]


def test_every_station_and_rule_set_is_there_and_readable_without_scripts(tree):
    screening = screened("plover")
    stations = [a for _, a, _, _ in tree.elements if a.get("class") == "station"]
    assert [float(a["data-y"]) for a in stations] == list(screening.front.stations)
    assert all("hidden" not in a for a in stations)
    options = [a["value"] for _, a, _, _ in tree.every("option")]
    assert options == sorted(rule_set_ids())
    covered = [
        a["data-rules-any"].split() for tag, a, _, _ in tree.elements if "data-rules-any" in a
    ]
    assert {id_ for ids in covered for id_ in ids} == set(options)
    sources = {(a["data-rules"], a["data-of"]) for _, a, _, _ in tree.every("td") if "data-of" in a}
    assert len(sources) == 5 * len(options)


def test_marks_say_what_the_screening_says(tree):
    marks = [a for tag, a, _, _ in tree.every("g") if a.get("class") == "mark"]
    assert marks
    station = screened("plover").station(0.0)
    for line in (station.UBRL, station.BLERL, station.wad(1000.0)):
        name = line.name
        words = f"height {line.z:.1f} mm, setback {line.x:.1f} mm"
        assert any(a["data-line"] == name and a["data-value"] == words for a in marks), name


def test_the_caution_stands_before_and_after_everything_else(tree):
    cautions = ["".join(t) for tag, _, t, _ in tree.every("p") if "".join(t) == CAUTION]
    assert len(cautions) == 2  # the answer, which follows the first, does not say it again
    paragraphs = ["".join(texts) for _, _, texts, _ in tree.every("p")]
    assert CAUTION in paragraphs[:2]
    assert paragraphs[-1] == CAUTION


def test_sets_with_the_same_lines_share_one_drawing(tree):
    at_centre = [
        a["data-rules-any"].split() for tag, a, _, above in tree.every("g") if "data-rules-any" in a
    ]
    assert max(map(len, at_centre)) >= 5


def test_tools_and_parts_of_the_drawing_say_what_they_are(tree):
    # Lengths and leans of the straight edges: UN R127.02, 2.26, 2.38 and 2.7, text read.
    said = ["".join(texts) for tag, _, texts, above in tree.every("title") if "svg" in above]
    for words in (
        "straight edge 700 mm, 25 deg forward",
        "straight edge 700 mm, 20 deg rearward",
        "straight edge 1000 mm, 50 deg rearward",
    ):
        assert said.count(words) >= len(screened("plover").stations), words
    section = screened("plover").front.section(0.0)
    assert set(section.parts) <= set(said)


def hostile_page(folder) -> tuple[str, object]:
    front = read_front(small_front(folder, notes="x"))
    front = replace(
        front,
        name=HOSTILE,
        notes=HOSTILE,
        method=HOSTILE,
        reader_notes=(HOSTILE,),
        source=replace(front.source, file=HOSTILE),
    )
    screening = screen(front)
    annex = annex_of(screening, None, TitleBlock(*([HOSTILE] * 6)))
    return page_bytes(annex, screening).decode(), screening


def test_markup_from_files_stays_text(tmp_path):
    page, _ = hostile_page(tmp_path)
    tree = Tree(page)
    assert tree.faults == []
    assert len(tree.every("script")) == 1
    assert len(tree.every("style")) == 1
    assert "window.broken" not in "".join(tree.every("script")[0][2])
    assert all("onerror" not in a for _, a, _, _ in tree.elements)
    (title,) = [texts for _, _, texts, above in tree.every("title") if "head" in above]
    assert "</script><script>window.broken=1</script>" in "".join(title)
    assert "\u202e" not in page
    assert "\x1b" not in page


def test_a_model_of_many_stations_is_shown_by_evenly_chosen_ones(tmp_path):
    front = read_front(small_front(tmp_path))
    first = front.sections[0]
    many = replace(
        front,
        sections=tuple(
            type(first)(first.points, 4.0 * k, first.parts) for k in range(2 * MOST_STATIONS)
        ),
    )
    text = viewer_html(screen(many), ())
    shown = [float(y) for y in re.findall(r'data-y="([^"]+)"', text)]
    assert len(shown) == MOST_STATIONS
    assert shown[0] == 0.0
    assert {b - a for a, b in zip(shown, shown[1:], strict=False)} == {8.0}
    assert f"{MOST_STATIONS} of {2 * MOST_STATIONS} stations are drawn" in text


def test_the_frame_holds_every_point_at_one_scale():
    for name in ("plover", "avocet"):
        front = screened(name).front
        frame = SideLayers(front)
        for section in front.sections:
            at = frame.at(section.points)
            assert at[:, 0].min() > 0.0
            assert at[:, 0].max() < 1000.0
            assert at[:, 1].min() > 0.0
            assert at[:, 1].max() < frame.height
        # Closed form: 100 mm across and 100 mm up are as long as each other.
        a, b, c = frame.at([(0.0, 0.0), (100.0, 0.0), (0.0, 100.0)])
        assert b[0] - a[0] == pytest.approx(a[1] - c[1])


def test_paper_and_title_block_reach_the_page():
    page = both_files()["annex.html"].decode()
    assert "@page { size: letter landscape; margin: 12mm; }" in page
    assert "@page { size: A4 landscape" in plover_files()["annex.html"].decode()
    for _, words in TITLES.entries:
        assert f"<dd>{words}</dd>" in page
    assert "<dl" not in plover_files()["annex.html"].decode()

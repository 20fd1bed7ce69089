"""What the page of checks, the handbook, the terminal and the measuring sheet say in rare cases.

Worked out by hand, own choice; stand-ins hold nothing but what is told.
"""

from __future__ import annotations

import io
from decimal import Decimal
from types import SimpleNamespace as Part

import pytest

from frontcheck.caution import CAUTION
from frontcheck.outputs.pages import book_html, book_pages, book_terminal, check_page
from frontcheck.outputs.pages.book_pages import Page, tokens
from frontcheck.outputs.pages.check_records import (
    CheckEntry,
    ChecksDocument,
    SourceEntry,
    WorstEntry,
)
from frontcheck.outputs.sheet import sheet as paper
from frontcheck.outputs.text import terminal
from frontcheck.outputs.text.terminal import Plain, Ruled
from frontcheck.reading.form import Worksheet
from frontcheck.rules.ruleset import rule_set

NBSP = "\u00a0"


# --- the page of checks ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "text"),
    [(None, "-"), ("a  word\n", "a word"), (1.0, "1"), (1234567.0, "1.23457e6"), (1e-9, "1e-9"),
     (-2.5e-12, "-2.5e-12"), (0.1 + 0.2, "0.3")],
)  # fmt: skip
def test_a_number_as_short_as_it_can_be(number, text) -> None:
    assert check_page.value(number) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "< 0.1 %"), (0.0004, "0.04 %"), (0.1234, "12 %"), (0.996, "100 %"), (1.5, "150 %")],
)
def test_a_share_of_a_tolerance_in_two_digits(share, text) -> None:
    assert check_page.percent(share) == text


def worst(**more: object) -> WorstEntry:
    return WorstEntry(**({"case": "case", "held": True, "ours": 2.0, "expected": 1.5} | more))


@pytest.mark.parametrize(
    ("one", "expected", "difference", "tolerance"),
    [
        (worst(), "1.5", "equal", ""),
        (worst(held=False), "1.5", "not equal", ""),
        (worst(tolerance=1.0, difference=0.5, share=0.5), "1.5", f"0.5 (50{NBSP}%)", "1"),
        (worst(tolerance=1.0, difference=0.5), "1.5", "0.5", "1"),
        (worst(tolerance=1.0), "1.5", "-", "1"),
        (worst(tolerance=1.0, difference=0.0, share=0.0), "1.5", "< 0.001", "1"),
        (worst(tolerance=0.0, difference=0.0), "1.5", "0", "0"),
        (worst(low=1.0, high=3.0, margin=0.5), "1 to 3", "0.5 to spare", ""),
        (worst(low=1.0, margin=0.0), "at least 1", "0 to spare", ""),
        (worst(high=3.0, margin=-0.25), "at most 3", "0.25 outside", ""),
        (worst(low=1.0), "at least 1", "-", ""),
        (worst(low=1.0, held=False, tolerance=2.0), "at least 1", "-", ""),
    ],
)
def test_the_case_nearest_to_failing(one, expected, difference, tolerance) -> None:
    said = check_page._worst(one)
    assert (said["expected"], said["difference"], said["tolerance"]) == (
        expected, difference, tolerance,
    )  # fmt: skip
    assert (said["ours"], said["case"]) == ("2", "case")


def check(**more: object) -> CheckEntry:
    held = {
        "id": "ONE", "kind": "closed form", "quantity": "a length", "unit": "mm",
        "source": SourceEntry("Title", "read"), "why": "rounding", "file": "b.py", "cases": 3,
        "failing": 0, "worst": None,
    }  # fmt: skip
    return CheckEntry(**(held | more))


def document(*checks: CheckEntry, failed: tuple[str, ...] = ()) -> ChecksDocument:
    return ChecksDocument({"frontcheck": "1", "numpy": "2"}, list(failed), list(checks))


FAILS, NOT_RUN = {"failing": 2}, {"cases": 0}


@pytest.mark.parametrize(
    ("made", "good", "words"),
    [
        (document(check(), check(cases=2)), True, "All 2 checks hold in all 5 cases."),
        (document(), False, "0 of 0 checks hold."),
        (document(check(), check(**FAILS)), False, "1 of 2 checks hold; 1 FAIL."),
        (document(check(**NOT_RUN)), False, "0 of 1 checks hold; 1 NOT RUN."),
        (document(check(), failed=("t",)), False,
         "1 of 1 checks hold; 1 tests of their files FAILED."),
    ],
)  # fmt: skip
def test_how_the_checks_ended(made, good, words) -> None:
    assert made.good == good
    assert check_page.verdict(made) == words


def test_counts_by_kind_and_the_worst_share() -> None:
    near = worst(tolerance=1.0, difference=0.1, share=0.1)
    nearer = worst(tolerance=1.0, difference=0.4, share=0.4)
    rows = check_page.summary_rows(document(
        check(worst=near), check(worst=nearer), check(kind="published value", **FAILS),
        check(kind="published value", **NOT_RUN, worst=worst(low=1.0, margin=1.0)),
    ))  # fmt: skip
    assert rows == [
        ["closed form", "2", "6", "2", "0", "0", "40 %"],
        ["published value", "2", "3", "0", "1", "1", "-"],
        ["all", "4", "9", "2", "1", "1", "40 %"],
    ]
    assert check_page.summary_rows(document()) == [["all", "0", "0", "0", "0", "0", "-"]]


@pytest.mark.parametrize(
    ("one", "state", "good", "quantity"),
    [
        (check(), "holds", "yes", "a length [mm]"), (check(unit=""), "holds", "yes", "a length"),
        (check(**FAILS), "FAILS in 2", "", "a length [mm]"),
        (check(**NOT_RUN), "NOT RUN", "", "a length [mm]"),
    ],
)  # fmt: skip
def test_a_check_in_words(one, state, good, quantity) -> None:
    sources = ["Another"]
    row = check_page._row(one, sources)
    assert (row["state"], row["good"], row["quantity"]) == (state, good, quantity)
    assert (row["number"], row["source"], row["known"]) == ("2", "Title", "text read")
    assert (row["expected"], row["ours"], row["difference"]) == ("-", "-", "-")
    assert check_page._row(one, sources)["number"] == "2"
    assert sources == ["Another", "Title"]


@pytest.mark.parametrize(
    ("author", "year", "text"),
    [("", "", "Title"), ("A. Writer", "", "A. Writer: Title"), ("", "1950", "Title, 1950"),
     ("A. Writer", "1950", "A. Writer: Title, 1950")],
)  # fmt: skip
def test_a_source_says_what_is_stated(author, year, text) -> None:
    assert check_page.source_text(SourceEntry("Title", "read", author, year)) == text


def test_checks_stand_by_kind_file_and_name_and_what_does_not_hold_below() -> None:
    made = document(
        check(id="B"), check(id="A"), check(id="Z", file="a.py"),
        check(id="P", kind="published value", **FAILS), failed=("tests/x.py::test_y",),
    )  # fmt: skip
    content = check_page.page_content(made)
    assert [[row["id"] for row in group["rows"]] for group in content["groups"]] == [
        ["Z", "A", "B"], ["P"],
    ]  # fmt: skip
    assert content["groups"][0]["about"].startswith("Closed form: against a formula")
    assert content["title"] == "What frontcheck 1 was checked against"
    assert content["made"] == "Recorded by a run of the tests with frontcheck 1, numpy 2."
    said = check_page.checks_text(Plain(), made)
    below = said[said.index("Not held") :].splitlines()
    assert [line.split() for line in below[1:3]] == [
        ["check", "state", "what", "is", "compared"], ["P", "fails", "a", "length"],
    ]  # fmt: skip
    assert "Failed: tests/x.py::test_y" in said
    assert "Not held" not in check_page.checks_text(Plain(), document(check()))


def test_the_rank_of_a_case() -> None:
    """Failing first, then the largest share, then the least room, then by name."""
    ranked = [
        worst(case="e", held=False), worst(case="d", held=False, share=9.0),
        worst(case="c", share=0.5), worst(case="b", share=0.1, margin=1.0),
        worst(case="f", share=0.1, margin=2.0),
        worst(case="a", margin=1.0), worst(case="g", margin=1.0),
    ]  # fmt: skip
    turned = ranked[::-1]
    assert sorted(turned, key=lambda each: each.rank) == ranked


# --- the handbook ----------------------------------------------------------------------------


def test_links_to_headings_are_small_hyphened_and_counted() -> None:
    text = "# One, two: `three`\n\n## It is (so)\n\n## It is so\n\n### It is so\n\n## It is so-2\n"
    assert book_pages.anchors(text) == [
        "one-two-three", "it-is-so", "it-is-so-1", "it-is-so-2", "it-is-so-2-1",
    ]  # fmt: skip
    assert book_pages.headings(text)[0] == (1, "One, two: three")
    assert [level for level, _ in book_pages.headings(text)] == [1, 2, 2, 3, 2]


def test_a_page_says_its_heading_and_what_it_answers() -> None:
    page = Page("start", "# A page\n\nIt answers\nthis.\n\nMore.\n")
    assert (page.title, page.answers) == ("A page", "It answers this.")


def test_only_a_fence_that_makes_a_picture_is_one() -> None:
    text = "```python picture=a\nx\n```\n\n```python\ny\n```\n\n    picture=no\n"
    made = [each for each in tokens(text) if each.type in {"fence", "code_block"}]
    assert [book_pages.is_picture(each) for each in made] == [True, False, False]


def test_links_of_a_page_lead_within_the_file() -> None:
    page = Page("start", (
        "# A page\n\nSee [one](lines.md), [two](lines.md#a-b), [three](#c) and [four](https://x.y).\n"
        "\n## C\n\nMore.\n"
    ))  # fmt: skip
    shown = book_html.page_html(page)
    for link in ("#lines", "#lines-a-b", "#start-c", "https://x.y"):
        assert f'href="{link}"' in shown
    assert '<h2 id="start">A page</h2>' in shown
    assert '<h3 id="start-c">C</h3>' in shown
    assert '<p class="heads"><a href="#start-c">C</a></p>' in shown
    assert shown.count('<p class="answers">') == 1
    assert "heads" not in book_html.page_html(Page("start", "# A\n\nNo more.\n"))


def test_links_on_the_terminal_are_said_in_words() -> None:
    def said(text: str) -> str:
        (inline,) = [each for each in tokens(text) if each.type == "inline"]
        return "".join(each.content for each in book_terminal._without_links(inline.children))

    assert said("See [one](lines.md#a).") == "See one (page lines)."
    assert said("See [lines](lines.md).") == "See lines."
    assert said("See [here](#a).") == "See here."
    assert said("See [it](https://x.y).") == "See it (page https://x.y)."


# --- the terminal ----------------------------------------------------------------------------


def point(value: float | None, status: str = "ok", **more: object) -> Part:
    return Part(x=value, z=value, status=status, **more)


@pytest.mark.parametrize(
    ("one", "cell"),
    [
        (point(None), "-"), (point(None, "open_end", bridged=True), "-"), (point(12.34), "12.3"),
        (point(12.34, "open_end"), "(12.3) o"), (point(12.34, "edge_end"), "12.3 e"),
        (point(12.34, bridged=True), "12.3 b"), (point(12.34, bridged=False), "12.3"),
        (point(12.34, "open_end", bridged=True), "(12.3) o b"),
        (point(12.34, "underside_first"), "12.3 u"), (point(12.34, "lower_end"), "12.3 l"),
        (point(12.34, "wad_1000"), "12.3 w"), (point(12.34, "retaken_40deg"), "12.3 r"),
        (point(12.34, "wad_only"), "12.3 a"),
    ],
)  # fmt: skip
def test_a_cell_has_the_mark_of_its_status(one, cell) -> None:
    assert terminal._cell(one, "x") == terminal._cell(one, "z") == cell


def test_setbacks_and_heights_are_not_mixed() -> None:
    one = Part(x=1.0, z=2.0, status="ok")
    assert (terminal._cell(one, "x"), terminal._cell(one, "z")) == ("1.0", "2.0")
    assert terminal._lead(Part(bumper_lead=None, lead_open_end=True)) == "-"
    assert terminal._lead(Part(bumper_lead=-3.0, lead_open_end=True)) == "(-3.0) o"
    assert terminal._lead(Part(bumper_lead=-3.0, lead_open_end=False)) == "-3.0"


@pytest.mark.parametrize(
    ("status", "reason", "noted"),
    [
        ("ok", "", ""), ("ok", "a reason", "a reason"), ("not_available", "why", "why"),
        ("wad_only", "no BRRL",
         "bounded by wrap-around distance (WAD) alone, for want of the lines; no BRRL"),
        ("open_end", "", "open end: what lies beyond the measured surface could change it"),
    ],
)  # fmt: skip
def test_what_is_noted_of_an_area(status, reason, noted) -> None:
    assert terminal._noted(Part(status=status, reason=reason)) == noted


def test_rows_of_areas_that_are_known_open_or_missing() -> None:
    def rows(bumper: Part, child: Part) -> list[list[str]]:
        adult = Part(area_m2=None, status="not_available", reason="no SRL")
        zones = Part(bumper_test_area=bumper, child_area=child, adult_area=adult)
        return terminal._zone_rows(Part(zones=zones))

    ok = {"status": "ok", "reason": ""}
    open_end = {"status": "open_end", "reason": "side"}
    note = "open end: what lies beyond the measured surface could change it; side"
    bumper = Part(y_min=-600.4, y_max=612.0, basis="corners", **ok)
    assert rows(bumper, Part(area_m2=1.2345, **ok)) == [
        ["bumper test area", "y = -600 to 612 mm, by corners", ""],
        ["child headform area", "1.234 m2", ""], ["adult headform area", "-", "no SRL"],
    ]  # fmt: skip
    made = rows(
        Part(y_min=-6.0, y_max=6.0, basis="beam", **open_end), Part(area_m2=1.0, **open_end)
    )
    assert made[0] == ["bumper test area", "(y = -6 to 6 mm, by beam)", note]
    assert made[1] == ["child headform area", "(1.000 m2)", note]
    for low, high in ((None, 6.0), (-6.0, None)):
        made = rows(Part(y_min=low, y_max=high, basis="beam", **open_end), Part(area_m2=None, **ok))
        assert [row[1] for row in made] == ["-", "-", "-"]


def test_a_plain_table_is_aligned_and_paragraphs_are_kept() -> None:
    text = Plain().table("Title", ["a", "long head"], [["1", "x"], ["22", ""]])
    assert text == "Title\na   long head\n1   x\n22\n"
    assert Plain().paragraph("Words.", loud=True) == "Words.\n"
    long = "word " * 30 + "a-path/that-is/" + "x" * 120
    assert max(map(len, Plain().fitted(long).splitlines()[:-1])) <= 100
    assert Plain().fitted(long).splitlines()[-1].startswith("a-path/that-is/xxx")


def test_numbers_stand_to_the_right_in_a_ruled_table() -> None:
    rows = [["1.0", "a", "(2)"], ["-12.5", "bb", "-"]]
    lines = Ruled(80).table("Title", ["number", "word", "open"], rows).splitlines()
    cells = [line for line in lines if "bb" in line or " a " in line]
    starts = [line.index("1.0") + 3 for line in cells[:1]] + [cells[1].index("-12.5") + 5]
    assert starts[0] == starts[1]
    assert cells[0].index("a ") == cells[1].index("bb")


def test_the_style_is_ruled_on_a_terminal_only() -> None:
    class Seen(io.StringIO):
        def isatty(self) -> bool:
            return True

    assert isinstance(terminal.style_for(Seen()), Ruled)
    assert isinstance(terminal.style_for(io.StringIO()), Plain)


def test_words_of_abbreviations_stand_before_the_first() -> None:
    style = Plain()
    assert style.spelt_out(["One.\n", "Two.\n"]) == "One.\n\nTwo.\n"
    lines = style.spelt_out(["One.\n", "The UBRL.\n", "Two.\n"]).split("\n\n")
    assert lines[0] == "One."
    assert lines[1].startswith("UBRL")
    assert [line.strip() for line in lines[2:]] == ["The UBRL.", "Two."]


def test_sets_of_rules_name_the_default_and_their_cautions() -> None:
    sets = [
        Part(id="UN-R127-02", title="One", caution=""),
        Part(id="X", title="Two", caution="Mind."),
    ]
    said = Plain().rule_sets(sets)
    rows = [line.split() for line in said.splitlines()[2:4]]
    assert rows == [["UN-R127-02", "One", "default"], ["X", "Two"]]
    assert said.count("Mind.") == 1
    assert said.rstrip().endswith(CAUTION)


# --- the measuring sheet ---------------------------------------------------------------------


def test_how_each_straight_edge_is_held() -> None:
    """UN R127 02 series (text read): 700 mm at 20 deg, 2.38, and 25 deg, 2.26; 1000 mm at 50 deg
    from 600 mm up, 2.7."""
    words = {name: paper._Edge.of(rule_set(), name).words() for name in paper.LINE_WORDS}
    upright = "edge of 700 mm, foot on the ground, inclined"
    assert words == {
        "UBRL": f"{upright} 20 deg rearward: highest touch on the bumper",
        "LBRL": f"{upright} 25 deg forward: lowest touch",
        "BLERL": "edge of 1000 mm, lower end at 600 mm, inclined 50 deg rearward: touch",
    }


@pytest.mark.parametrize(
    ("y", "words"),
    [("0", "on the centre plane"), ("0.0", "on the centre plane"),
     ("-5", "to the vehicle's left of the centre plane"),
     ("5", "to the vehicle's right of the centre plane")],
)  # fmt: skip
def test_a_page_of_the_sheet_says_on_which_side(y, words) -> None:
    assert paper._side(Decimal(y)) == words


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("count", [2, 20, 29, 30, 31, 34, 60, 119])
def test_rows_are_shared_evenly_and_some_are_spare(size, count) -> None:
    """Own choice: rows of 6.4 to 8.2 mm, of the height of the paper less 77 mm, three spare."""
    sheet = Worksheet((Decimal(0),), tuple(Decimal(10 * (n + 1)) for n in range(count)))
    rows = paper._Rows.of(sheet, size)
    room = {"a4": 297.0, "letter": 279.4}[size] - 77.0
    filled = [row for page in rows.pages for row in page if row is not None]
    spare = sum(row is None for page in rows.pages for row in page)
    assert tuple(filled) == tuple(sheet.rows)
    assert spare >= 3
    assert len(rows.pages) == -(-(len(sheet.rows) + 3) // int(room / 6.4))
    assert len({len(page) for page in rows.pages}) == 1
    assert 6.4 <= rows.height <= 8.2
    assert len(rows.pages[0]) * rows.height <= room + 1e-9
    assert paper.sheet_pages(sheet, size) == 2 + len(rows.pages)

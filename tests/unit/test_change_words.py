"""What the terminal says of changes, moves, scans and people struck, in rare cases.

Words and numbers are worked out by hand, own choice; stand-ins hold nothing but what is told.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest

from frontcheck.body.motion import Difference
from frontcheck.body.person_motion import PersonMotion, Spread
from frontcheck.comparison.changes import Change
from frontcheck.outputs.text import comparison_text as compared
from frontcheck.outputs.text import motion_text as moved
from frontcheck.outputs.text import scan_text as scanned
from frontcheck.outputs.text import what_if_text as tried
from frontcheck.outputs.text.terminal import Plain
from frontcheck.study.what_if import Told

STYLE = Plain()


def change(name: str, a: float | None, b: float | None, **more: object) -> Change:
    by = None if a is None or b is None or more.get("reason") else b - a
    return Change(name, f"words of {name}", name.rpartition("_")[2], a, b, by, **more)


# --- comparison ----------------------------------------------------------------------------


def test_only_what_is_formed_otherwise_is_told_and_once() -> None:
    """By heights alone, z standing for both coordinates; stations of one kind together."""
    other = {"status_a": "ok", "status_b": "edge_end, bridged"}
    lines = [
        (-9.0, change("UBRL_z_mm", 1.0, 2.0, **other)),
        (-9.0, change("UBRL_x_mm", 1.0, 2.0, **other)),
        (-9.0, change("LBRL_z_mm", 1.0, 2.0, status_a="ok", status_b="ok")),
        (0.0, change("UBRL_z_mm", 1.0, 2.0, status_a="ok", status_b="ok")),
        (9.0, change("UBRL_z_mm", 1.0, 2.0, **other)),
        (9.0, change("WAD_1000_z_mm", 1.0, None, status_a="ok", status_b="not_reached")),
    ]
    assert compared.formed_otherwise(lines) == [
        ["UBRL", "ok", "edge end, bridged", "-9, 9"],
        ["WAD 1000", "ok", "not reached", "9"],
    ]
    assert compared.formed_otherwise(lines[2:4]) == []


def test_what_cannot_be_compared_is_told_once_with_its_stations() -> None:
    gone = {"reason": "missing in B"}
    lines = [
        (0.0, change("UBRL_z_mm", 1.0, None, **gone)),
        (9.0, change("UBRL_z_mm", 1.0, None, **gone)),
        (0.0, change("LBRL_z_mm", None, None, reason="missing in A and B")),
        (9.0, change("BLERL_z_mm", None, 4.0, reason="missing in A")),
        (9.0, change("BRRL_x_mm", 1.0, 4.0, reason="not known: open end in B", open_end="B")),
        (9.0, change("WAD_900_x_mm", 1.0, 4.0)),
    ]
    assert compared.not_comparable(lines) == [
        "Not comparable: words of UBRL_z_mm: missing in B (at all stations)",
        "Not comparable: words of BLERL_z_mm: missing in A (at y = 9 mm)",
        "Words of BRRL_x_mm: not known: open end in B (at y = 9 mm)",
    ]


@pytest.mark.parametrize(
    ("one", "row"),
    [
        (change("a_m2", 1.23456, 1.0), ["words of a_m2 [m2]", "1.235", "1.000", "-0.235", ""]),
        (change("width_mm", 100.0, None), ["words of width_mm [mm]", "100.0", "-", "-", ""]),
        (change("w_mm", None, 1.0, reason="x"), ["words of w_mm [mm]", "-", "1.0", "-", ""]),
        (
            change("width_mm", 1.0, 2.0, reason="not known: open end in A", open_end="A"),
            ["words of width_mm [mm]", "1.0", "2.0", "-", "not known: open end in A"],
        ),
    ],
)  # fmt: skip
def test_a_row_of_the_whole_front(one, row) -> None:
    assert compared._zone_row(one) == row


def test_cells_of_the_summary() -> None:
    assert [compared._cell(v) for v in (None, "lower", -1.26, 0.0)] == ["-", "lower", "-1.3", "0.0"]


def test_chances_stand_by_station() -> None:
    def at(y: float, *chances: tuple[str, str, float]) -> Part:
        return Part(y=y, chances=chances)

    both = Part(
        stations=(
            at(-9.0),
            at(0.0, ("higher", "q", 0.1), ("lower", "q", 0.9)),
            at(9.0, ("higher", "q", 0.25), ("lower", "q", 0.75)),
        )
    )
    rows = [row.split() for row in compared._chances(STYLE, both).splitlines()[1:] if row]
    assert rows == [
        ["B", "is", "y", "=", "0", "y", "=", "9"],
        ["higher", "0.100", "0.250"],
        ["lower", "0.900", "0.750"],
    ]


def comparison(**more: object) -> Part:
    one = Part(front=Part(name="One"), rules=Part(title="Rules"))
    held = {
        "a": one, "b": Part(front=Part(name="Two")), "alignment": "No shift.", "changed": True,
        "summary": lambda: [{"y": 0.0, "lead": None}], "stations": (), "zones": (), "findings": (),
        "notes": (), "cautions": ("First.", "Second."),
    }  # fmt: skip
    return Part(**(held | more))


def test_a_comparison_without_anything_different_says_so() -> None:
    said = compared.comparison_text(STYLE, comparison(changed=False), None)
    assert "A: One. B: Two. Rules.\n" in said
    assert "Nothing is different in B.\n" in said
    for words in ("Whole front", "Formed in another way", "Probability", "Findings", "Written"):
        assert words not in said
    assert "Nothing is different" not in compared.comparison_text(STYLE, comparison())


def test_a_comparison_says_only_what_there_is() -> None:
    def found(code: str, kind: str) -> Part:
        return Part(kind=kind, finding=Part(code=code), place="whole front", details="more")

    full = comparison(
        zones=(change("width_mm", 1.0, 1.0), change("area_m2", 1.0, 2.0)),
        findings=(found("ONE", "gone"), found("TWO", "same"), found("THREE", "moved")),
        notes=("A note.",),
    )
    said = compared.comparison_text(STYLE, full, "some/where")
    assert "words of area_m2" in said
    assert "words of width_mm" not in said
    assert "Findings: Gone in B" in said
    assert "Findings: In both, changed" in said
    assert "Findings: New in B" not in said
    assert "TWO" not in said
    order = ("Whole front", "Findings", "A note.", "First.", "Second.", "Written: some/where")
    assert [said.index(each) for each in order] == sorted(said.index(each) for each in order)


# --- what if -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "-"), (0.0, "0"), (9.9e-7, "0"), (-9.9e-7, "0"), (1e-6, "+1e-06"),
        (-0.049, "-0.05"), (0.05, "+0.1"), (-0.05, "-0.1"), (12.34, "+12.3"), (-12.34, "-12.3"),
    ],
)  # fmt: skip
def test_a_change_is_told_with_its_sign_and_never_as_nothing(value, words) -> None:
    """Own choice: below a millionth of a mm it is rounding, below 0.05 its own digit is told."""
    assert tried._change(value) == words


@pytest.mark.parametrize(
    ("mm", "words"),
    [(None, "*"), (0.0, "."), (0.0499, "."), (-0.0499, "."), (0.05, "+0.1"), (-3.14, "-3.1")],
)
def test_a_rate_that_is_nothing_stays(mm, words) -> None:
    assert tried._rate(Part(mm=mm)) == words


def test_a_line_before_and_after_with_the_range_over_all_stations() -> None:
    here = change("WAD_1000_x_mm", 100.0, 103.0, status_a="ok", status_b="open_end, bridged")
    every = [here, change("WAD_1000_x_mm", 100.0, 98.0), change("WAD_1000_x_mm", None, 1.0)]
    assert tried._row(here, every) == [
        "WAD 1000 x", "100.0", "(103.0)", "+3.0", "-2.0 to +3.0",
    ]  # fmt: skip
    new = change("UBRL_z_mm", None, 5.0, status_a="not_reached", status_b="edge_end")
    assert tried._row(new, [new]) == ["UBRL z", "-", "5.0", "-", "-"]
    left = change("UBRL_z_mm", 5.0, 6.0, status_a="open_end", status_b="ok", reason="open end")
    assert tried._row(left, [left])[1:3] == ["(5.0)", "6.0"]


@pytest.mark.parametrize(
    ("told", "lines"),
    [
        (Told("next", "same", "same"), ["  = same"]),
        (Told("next", "old", None), ["  - old"]),
        (Told("next", None, "new"), ["  + new"]),
        (Told("next", "old", "new"), ["  - old", "  + new"]),
        (Told("next", None, "word " * 7), ["  + word word word", "    word word word", "    word"]),
    ],
)
def test_marks_of_what_went_came_and_stayed(told, lines) -> None:
    assert [text for text, loud in tried._told(told, 20) if not loud] == lines


def pair(who: str, after: str | None = None, first: float | None = 300.0) -> tuple[Part, Part]:
    def row(knee: str | None) -> Part:
        return Part(person=who, first_touch="shin", first_touch_mm=first, knee=knee,
                    edge_against_centre_of_mass="above")  # fmt: skip

    return row("below"), row(after or "below")


@pytest.mark.parametrize(
    ("people", "lines"),
    [
        ([pair("a"), pair("b")], ["Who meets what: as before"]),
        (
            [pair("a"), pair("b", "in")],
            [
                "Who meets what, changed",
                "    b: knee to face: level with it (was below the face)",
            ],
        ),
        (
            [pair("b", "in")],
            ["Who meets what", "    b: knee to face: level with it (was below the face)"],
        ),
    ],
)
def test_who_meets_something_else(people, lines) -> None:
    found = Part(people=lambda: people)
    assert list(tried._people(found, 100)) == [(line, False) for line in lines]


def test_the_answer_block_by_block() -> None:
    """What stayed is told line by line under what stands out alone."""
    told = (
        Told("stands out", "one", "one"), Told("cannot say", "two", "two"),
        Told("next", "three", None), Told("next", "four", "four"),
    )  # fmt: skip
    lines = list(tried._answer(Part(answer=lambda: told, people=tuple), 100))
    assert lines[0] == ("The answer: - went, + came, = stays", True)
    assert [text for text, _ in lines[1:]] == [
        "What stands out", "  = one", "What a shape cannot say: as before",
        "Who meets what", "Next", "  - three", "  = four",
    ]  # fmt: skip
    assert not any(loud for _, loud in lines[1:])


@pytest.mark.parametrize(
    ("points", "beam", "words"),
    [
        ((), None, ""),
        ((1,), None, " (without hard points: a"),
        ((), (-600.0, 600.0), " (without beam ends: a"),
        ((1,), (-600.0, 600.0), " (without hard points and beam ends: a"),
    ],
)
def test_what_a_table_leaves_out_of_a_front(points, beam, words) -> None:
    said = tried._left_out(Part(beside=Part(hard_points=points, beam_ends_mm=beam)))
    tail = " table has no place for them, so its answer may differ)"
    assert said == (f"{words}{tail}" if words else "")


def handle(name: str) -> Part:
    return Handled(name)


class Handled:
    """A feature that can be moved."""

    def __init__(self, name: str) -> None:
        self.name, self.words, self.label = name, f"words of {name}", f"label of {name}"


def test_rates_lines_and_tape_apart_and_what_has_none_below() -> None:
    lip, nose = handle("lip"), handle("nose")
    held = {
        ("lip", "UBRL_z_mm"): Part(mm=3.14, reason="", line="UBRL_z_mm"),
        ("lip", "WAD_900_x_mm"): Part(mm=None, reason="both ways differ", line="WAD_900_x_mm"),
    }

    def table(y: float, lines=("UBRL_z_mm", "WAD_900_x_mm")) -> Part:
        return Part(
            station=y, lines=lines, there=(lip,), absent={nose: "no nose, at y = 0"},
            rate=lambda name, line: held[name, line],
        )  # fmt: skip

    first, second, notes, absent = tried._rates(STYLE, table(0.0), "How")
    assert first.startswith("How far a line goes at the centre, mm, for 10 mm or 1 deg of each")
    assert [row.split() for row in first.splitlines()[1:] if row] == [
        ["for", "UBRL", "z"], ["label", "of", "lip", "+3.1"],
    ]  # fmt: skip
    assert second.splitlines()[1].split() == ["for", "WAD", "900", "x"]
    assert second.splitlines()[2].split()[-1] == "*"
    assert notes == "* No one rate: label of lip, WAD 900 x: both ways differ.\n"
    assert absent == "Not to be moved here (no nose): words of nose.\n"
    one, _ = tried._rates(STYLE, table(-300.0, ("UBRL_z_mm",)), "Before the moves: how")
    assert one.startswith("Before the moves: how far a line goes at y = -300 mm, mm")


# --- people who are struck -----------------------------------------------------------------

KNOWN = {"pushed": 0.0, "folded": 0.2, "carried": 0.8}


def person(name: str, **more: object) -> PersonMotion:
    held = {"kind": "undecided", "shares": KNOWN} | more
    return PersonMotion(name, 1.0, 1.0, 0.0, **held)


def edge(against: str, up: float = 790.4) -> Part:
    return Part(against=against, edge_mm=up)


def test_the_edge_against_the_balance_points() -> None:
    people = [
        person("man p50", edge=edge("above")), person("woman p5", edge=edge("below", 1.0)),
        person("man p95"), person("woman p50", edge=edge("in the band")),
    ]  # fmt: skip
    assert moved._edge(people) == (
        "Standing still: the bonnet edge, 790 mm up, against the balance point: below that of "
        "small woman; about level with that of average woman; above that of average man."
    )
    assert moved._edge([person("man p95")]) == (
        "How the bonnet edge stands to the balance point is not known."
    )


def test_the_table_of_one_front() -> None:
    sure = person(
        "man p50", kind="folded over the edge", at_least=0.86, wad_mm=Spread(1.0, 1500.4, 1610.6),
        time_ms=Spread(1.0, 90.0, 120.0), part="bonnet", parts={"bonnet": 1.0},
    )  # fmt: skip
    beyond = person("woman p5", part="beyond what was measured", at_least=0.86, reason="too far")
    lines = [text for text, _ in moved._front("Plover", [sure, beyond], 100)]
    assert lines[0].split() == [
        "Plover", "pushed", "folded", "carried", "becomes", "head", "at,", "mm", "on", "the",
        "after,", "ms",
    ]  # fmt: skip
    assert " ".join(lines[1].split()) == (
        "average man (p50) 0 % 20 % 80 % folded over 1500 to 1611 bonnet 90 to 120"
    )
    assert " ".join(lines[2].split()).startswith("small woman (p5) 0 % 20 % 80 % undecided - ")
    assert lines[2].endswith("-")
    assert lines[3:5] == [
        "Lower 95 % limit of the share that a word rests on: 86 % for small woman, average man.",
        "How the bonnet edge stands to the balance point is not known.",
    ]
    assert lines[5] == "No place of the head for small woman: too far."
    refused = [person("man p50", shares={}, reason="no face")]
    lines = [text for text, _ in moved._front("Plover", refused, 100)]
    assert lines[1].split() == ["average", "man", "(p50)", "-", "-", "-", "not", "said", "-", "-",
                                "-"]  # fmt: skip
    assert lines[-1] == "Nothing can be said here: no face."
    assert not any(line.startswith("Lower 95 %") for line in lines)


def test_a_difference_and_how_sure_it_is() -> None:
    assert moved._difference(None) == ("-", "-")
    for separable, words in (("yes", "yes"), ("only if equally soft", "if alike"), ("no", "no")):
        of = Difference(Spread(12.4, -3.6, 20.0), 0.97, 0.88, separable)
        assert moved._difference(of) == ("+12 (-4 to +20)", f"{words}, 97 / 88 %")


# --- scans ---------------------------------------------------------------------------------


def scan(**more: object) -> Part:
    section = Part(y=-200.0, points=np.zeros((3, 2)), z=np.array([90.4, 700.6]),
                   x=np.array([-1.2, 1300.7]))  # fmt: skip
    held = {
        "front": Part(name="Plover", sections=(section,)), "ground_patch_mm": (3100.0, 2200.0),
        "points": 1000, "left_out": 30, "ground_sd_mm": 1.26, "up": (0.0, 0.0, 1.0),
        "forward": (-1.0, 0.0, 0.0), "mirrored_share": 0.973, "mirrored_rms_mm": 2.04,
        "lean_deg": -0.126, "noise_mm": 0.84, "u_mm": 1.5, "error_length_mm": 40.0,
        "scale_u_percent": 0.5, "glass_covered": None, "scale": 1.0, "notes": ("A note.",),
    }  # fmt: skip
    return Part(**(held | more))


def test_what_was_found_in_a_scan_row_by_row() -> None:
    said = scanned.scan_text(STYLE, scan(), ())
    rows = dict(
        (" ".join(cell.split()) for cell in line.split("  ", 1))
        for line in said.split("\n\n")[0].splitlines()[2:]
    )
    assert rows == {
        "points read": "1000", "points left out": "30", "ground, scanned": "3.1 by 2.2 m",
        "ground, sd about its plane": "1.3 mm", "up, in file axes": "0.000, 0.000, 1.000",
        "forward, in file axes": "-1.000, 0.000, 0.000", "body with a mirror image": "97 %",
        "body to its mirror image, rms": "2.0 mm", "lean of the centre plane": "0.13 deg",
        "noise of single points": "0.8 mm", "u of the sections": "1.5 mm, alike over 40 mm",
        "u of the scale": "0.5 %", "windscreen scanned": "none found",
    }  # fmt: skip
    assert ["-200", "3", "90", "to", "701", "-1", "to", "1301"] in map(str.split, said.splitlines())
    assert "sure to 0.5 % only (--taped fixes it)." in said
    assert "scale, by the taped length" not in said


def test_a_taped_length_is_told_after_the_points() -> None:
    said = scanned.scan_text(STYLE, scan(scale=1.0213, glass_covered=0.926), ("a.csv", "a.png"))
    names = [line.split("  ")[0] for line in said.splitlines()[2:6]]
    assert names[:3] == ["points read", "points left out", "scale, by the taped length"]
    assert "1.0213" in said
    assert "93 %" in said
    assert "No taped length" not in said
    assert said.rstrip().endswith("Written: a.csv, a.png.")

"""What the annex says in rare cases: sides, brackets, dashes, reasons; worked out by hand.

Stand-ins hold nothing but what is told; lengths in mm. Own choice.
"""

from __future__ import annotations

import math
from types import SimpleNamespace as Part

import numpy as np
import pytest

from frontcheck.body.motion import Difference
from frontcheck.body.person_motion import PersonMotion, Spread
from frontcheck.lines.front_line import Pair, Spot
from frontcheck.outputs.annex import annex, annex_figures, annex_page, annex_sections, first_page
from frontcheck.outputs.annex import annex_text as words
from frontcheck.zones.front_zones import BumperArea, HeadformArea, LegformRun, Thirds

MINUS, DASH, PLUS_MINUS, NBSP = "\u2212", "\u2013", "\u00b1", "\u00a0"
SQUARE = "m\u00b2"


# --- numbers and names ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("y", "text"),
    [(300.0, "300"), (-300.0, f"{MINUS}300"), (-120.5, f"{MINUS}120.5"), (0.0, "0"), (-0.0, "0")],
)
def test_a_station_has_decimals_only_where_it_needs_one(y, text) -> None:
    assert words.station_number(y) == text


def test_numbers_with_digits_asked_for() -> None:
    assert words.number(None) == DASH
    assert words.number(-0.04) == "0.0"
    assert words.number(-0.05001) == f"{MINUS}0.1"
    assert words.number(1.23456, 3) == "1.235"
    assert words.extent_text((-9.0, 12.34)) == f"y = {MINUS}9.0 to 12.3 mm"


def test_names_of_lines_and_marks_are_spelt_out() -> None:
    assert words.point_name("UBRL") == "Upper bumper reference line (UBRL)"
    assert words.point_name("WAD 1000") == "Wrap-around distance 1000 mm (WAD 1000)"


@pytest.mark.parametrize(
    ("cell", "is_number"),
    [
        ("12.3", True), (f"{MINUS}12.3*", True), ("(12.3)", True), (f"{PLUS_MINUS}5.0", True),
        (DASH, True), ("-", True), ("", True), ("12 mm", False), ("ok", False), ("* ", True),
    ],
)  # fmt: skip
def test_what_counts_as_a_number(cell, is_number) -> None:
    assert words._is_number(cell) == is_number


@pytest.mark.parametrize(
    ("items", "total", "said"),
    [
        ([("a", -9.0), ("a", 9.0)], 2, ["a (all stations)"]),
        ([("a", -9.0), ("b", 9.0)], 2, [f"a (y = {MINUS}9 mm)", "b (y = 9 mm)"]),
        ([("a", -9.0)], 1, ["a (y = -9 mm)"]),
        ([("a", 1.5), ("a", 3.0)], 3, ["a (y = 1.5, 3 mm)"]),
        ([], 2, []),
    ],
)
def test_statements_stand_once_with_their_stations(items, total, said) -> None:
    assert words.grouped(items, total) == said


def finding(**more: object) -> Part:
    rule = Part(unit=more.pop("unit", "mm"), comparison=more.pop("comparison", "<"))
    held = {"value": None, "limit": None, "station": None, "region": Part(name="bumper")}
    return Part(rule=rule, **(held | more))


@pytest.mark.parametrize(
    ("one", "value", "limit"),
    [
        (finding(), DASH, DASH),
        (finding(value=-12.0, limit=0.0), f"{MINUS}12{NBSP}mm", f"< 0{NBSP}mm"),
        (finding(value=1.0, limit=2.0, comparison="<="), f"1{NBSP}mm", f"\u2264 2{NBSP}mm"),
        (finding(value=1.0, limit=2.0, comparison=">="), f"1{NBSP}mm", f"\u2265 2{NBSP}mm"),
        (finding(value=1.0, limit=2.0, unit="deg"), f"1{NBSP}deg", f"< 2{NBSP}deg"),
        (finding(value=1.0, limit=2.0, unit="mm2 a"), "1 mm2 a", "< 2 mm2 a"),
        (finding(value=1.0, limit=2.0, unit=""), f"1{NBSP}".strip(), f"< 2{NBSP}".strip()),
        (
            finding(value=3.0, limit=(-1.0, 2.0), comparison="outside"),
            f"3{NBSP}mm", f"outside {MINUS}1 to 2 mm",
        ),
        (
            finding(value=3.0, limit=(1.0, 2.0), comparison="within", unit=""),
            "3", "within 1 to 2",
        ),
    ],
)  # fmt: skip
def test_a_value_and_what_it_is_held_against(one, value, limit) -> None:
    assert words.value_text(one) == value
    assert words.limit_text(one) == limit


def test_where_a_finding_lies() -> None:
    assert words.place_text(finding()) == "bumper, whole front"
    at = words.place_text(finding(station=-120.5)).replace(NBSP, " ")
    assert at == f"bumper, y = {MINUS}120.5 mm"


def test_only_what_is_kept_but_not_known_stands_in_brackets() -> None:
    assert words.marked("12.0", "open_end") == "(12.0)"
    assert words.marked("12.0", "edge_end") == "12.0"
    assert words.marked(DASH, "open_end") == DASH


@pytest.mark.parametrize(
    ("status", "reason", "said"),
    [
        ("ok", "", "formed in the plain way"),
        ("not_reached", "too far", "too far"),
        ("open_end", "", "what lies beyond the measured surface could change it"),
        ("open_end", "the side is open",
         "what lies beyond the measured surface could change it (the side is open)"),
        ("open_end", "open end: the side", "the side"),
        ("edge_end", "edge end: with the tip", "with the tip"),
        ("edge_end", "",
         "at the end of the straight edge or of what was measured: more may stand beyond"),
    ],
)  # fmt: skip
def test_what_a_status_means_led_by_its_reason(status, reason, said) -> None:
    """A reason that begins with the name of the status says it instead; else both are said."""
    expected = said
    if reason == "open end: the side":
        expected = "the side"
    assert words.meaning(Part(status=status, reason=reason)) == expected


def point(name: str, status: str = "ok", reason: str = "", **more: object) -> Part:
    return Part(name=name, status=status, reason=reason, **more)


def test_what_is_to_be_minded_of_lines() -> None:
    def station(y: float, *wads: Part) -> Part:
        return Part(y=y, lines=(point("UBRL", "ok", "a reason"), point("LBRL")), wads=wads)

    lined = Part(
        stations=(
            station(0.0, point("WAD 900", bridged=True), point("WAD 950", bridged=False)),
            station(9.0, point("WAD 900", "not_reached", "far", bridged=True)),
        )
    )
    assert words.status_notes(lined) == (
        "UBRL, ok: a reason (all stations)",
        "WAD 900: the tape arrives through air, over a hollow (y = 0 mm)",
        "WAD 900, not reached: far (y = 9 mm)",
    )


def test_a_table_is_numeric_column_by_column() -> None:
    table = words.Table("t", ("a", "b", "c"), (("1", "", "x"), ("-", "", "2")), (1.0, 1.0, 1.0))
    assert table.numeric == (True, False, False)
    with pytest.raises(ValueError, match="table 't': 2 entries in a row of 3"):
        words.Table("t", ("a", "b", "c"), (), (1.0, 1.0))


# --- areas, corners, thirds ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("area", "row"),
    [
        (BumperArea(-600.0, 612.34, "corners", "ok"),
         (f"y = {MINUS}600.0 to 612.3 mm, width 1212.3 mm", "ok", "corners")),
        (BumperArea(None, 612.0, "corners", "not_available", "no corner"),
         (DASH, "not available", "corners; no corner")),
        (BumperArea(-600.0, None, "beam", "not_reached"),
         (DASH, "not reached", "could not be formed: nothing lies within reach; beam")),
        (BumperArea(-600.0, 600.0, "beam", "open_end", "the side"),
         (f"(y = {MINUS}600.0 to 600.0 mm, width 1200.0 mm)", "open end",
          "open end: what lies beyond the measured surface could change it; beam; the side")),
    ],
)  # fmt: skip
def test_the_bumper_test_area(area, row) -> None:
    assert annex_sections._bumper_row(area) == ("bumper test area", *row)


@pytest.mark.parametrize(
    ("area", "row"),
    [
        (HeadformArea("child", 1.23456, (), "ok"), ("child", f"1.235 {SQUARE}", "ok", "")),
        (HeadformArea("adult", None, (), "not_available", "no SRL"),
         ("adult", DASH, "not available", "no SRL")),
        (HeadformArea("adult", 0.5, (), "wad_only", "no BRRL"),
         ("adult", f"0.500 {SQUARE}", "WAD alone",
          "bounded by wrap-around distance (WAD) alone, for want of the lines; no BRRL")),
        (HeadformArea("child", 0.5, (), "open_end"),
         ("child", f"(0.500 {SQUARE})", "open end",
          "open end: what lies beyond the measured surface could change it")),
    ],
)  # fmt: skip
def test_the_headform_areas(area, row) -> None:
    name, *rest = row
    assert annex_sections._area_row(area) == (f"{name} headform area", *rest)


@pytest.mark.parametrize(
    ("legform", "said"),
    [("lower", "lower"), ("either", "lower or upper, by the manufacturer's choice"),
     ("upper", "upper"), (None, "not known")],
)  # fmt: skip
def test_stretches_of_the_bumper_by_legform(legform, said) -> None:
    row = annex_sections._legform_row(LegformRun(-600.0, 30.0, legform))
    assert row == ("legform by lower bumper height", f"y = {MINUS}600.0 to 30.0 mm", "", said)


def spot(point: tuple[float, float, float] | None, status: str = "ok", reason: str = "") -> Spot:
    return Spot("corner", status, point, reason)


def rows(left: Spot, right: Spot, note: str = "") -> list[tuple[str, ...]]:
    return [row[1:] for row in annex_sections._pair_rows("corner", Pair(left, right, note))]


def test_mirrored_places_are_one_row_and_others_two() -> None:
    """One for both only where the left is the mirror image of the right to the tenth told."""
    assert rows(spot((5.0, -600.04, 1.0)), spot((5.0, 600.0, 1.0)), "by gauge") == [
        ("either", "5.0", f"{PLUS_MINUS}600.0", "1.0", "ok", "by gauge")
    ]
    assert rows(spot((5.0, -600.4, 1.0)), spot((5.0, 600.0, 1.0))) == [
        ("left", "5.0", f"{MINUS}600.4", "1.0", "ok", ""),
        ("right", "5.0", "600.0", "1.0", "ok", ""),
    ]
    assert [row[0] for row in rows(spot((5.2, -600.0, 1.0)), spot((5.0, 600.0, 1.0)))] == [
        "left", "right",
    ]  # fmt: skip


def test_open_and_missing_places() -> None:
    here, gone = (5.0, 600.0, 1.0), spot(None, "not_available", "no SRL")
    left = (5.0, -600.0, 1.0)
    assert rows(spot(left, "open_end", "side"), spot(here, "open_end", "side"), "n") == [
        ("either", "(5.0)", f"({PLUS_MINUS}600.0)", "(1.0)", "open end", "side; n")
    ]
    assert rows(gone, gone) == [("either", DASH, DASH, DASH, "not available", "no SRL")]
    assert rows(gone, spot(here)) == [
        ("left", DASH, DASH, DASH, "not available", "no SRL"),
        ("right", "5.0", "600.0", "1.0", "ok", ""),
    ]
    assert len(rows(spot(left, "ok", "left alone"), spot(here))) == 2


def test_thirds_or_why_there_are_none() -> None:
    none = Thirds((), (), None, "not_available", "no corner")
    assert annex_sections._thirds_rows("bumper", none) == [
        ("thirds of the bumper", "both", DASH, DASH, DASH, "not available", "no corner")
    ]
    cuts = (spot((1.0, -200.0, 5.0)), spot((1.0, 200.0, 5.0)))
    assert annex_sections._thirds_rows("bumper", Thirds(cuts, cuts, 1203.44, "ok")) == [
        ("between thirds of the bumper", "either", "1.0", f"{PLUS_MINUS}200.0", "5.0", "ok",
         "whole tape 1203.4 mm")
    ]  # fmt: skip
    odd = (spot((1.0, -200.0, 5.0), reason="the surface ends"), cuts[1])
    assert [row[-1] for row in annex_sections._thirds_rows("b", Thirds(odd, odd, 9.0, "ok"))] == [
        "the surface ends", "whole tape 9.0 mm",
    ]  # fmt: skip


# --- people who are struck -----------------------------------------------------------------


def test_people_struck_cell_by_cell() -> None:
    shares = {"pushed": 0.05, "folded": 0.05, "carried": 0.9, "no_head_contact": 0.0,
              "beyond_measured": 0.0}  # fmt: skip
    sure = PersonMotion(
        "man p50", 1.0, 1.0, 0.0, "carried up", shares, 0.84, Spread(1500.4, 1399.6, 1610.0),
        Spread(100.0, 90.0, 120.0), "bonnet", {"bonnet": 0.8, "cowl": 0.2},
        Spread(-1.0, -2.0, 3.0), Spread(5.0, 4.0, 6.0),
    )  # fmt: skip
    assert annex_sections._row(sure) == (
        "average man (p50)", "5 %", "5 %", "90 %", "carried up", "84 %", "1500 (1400 to 1610)",
        "bonnet 80 %", "100 (90 to 120)", f"{MINUS}1 ({MINUS}2 to 3)", "5 (4 to 6)",
    )  # fmt: skip
    refused = PersonMotion("man p50", 1.0, 1.0, 0.0, "undecided", {}, reason="no face")
    assert annex_sections._row(refused)[1:5] == (DASH, DASH, DASH, "not said")
    assert set(annex_sections._row(refused)[5:]) == {DASH}
    assert list(annex_sections._withheld([sure, refused])) == ["average man (p50): no face."]


def test_how_far_a_head_moves_with_its_sign() -> None:
    assert annex_sections._moved(None) == (DASH, DASH, DASH)
    of = Difference(Spread(12.4, -3.6, 0.4), 0.97, 0.88, "no")
    assert annex_sections._moved(of) == (
        f"+12 ({MINUS}4 to 0)", "no: too close to call", "97 % / 88 %",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "count"), [((), 0), ((Part(person="man p50", wad=None, time=None, reason=""),), 1)]
)
def test_changes_are_told_where_there_are_two_fronts(changes, count) -> None:
    tables = list(annex_sections._changes(Part(changes=changes, names=("One", "Two"))))
    assert len(tables) == count
    for table in tables:
        assert table.caption == "People struck by Two less those struck by One"
        assert table.rows == (("average man (p50)", *([DASH] * 6)),)


# --- changes from one front to another -----------------------------------------------------


def test_rows_of_changes() -> None:
    def change(unit: str, *values: float | None, reason: str = "") -> Part:
        a, b, by = values
        return Part(words="it", unit=unit, a=a, b=b, change=by, reason=reason)

    assert annex._zone_row(change("m2", 1.0, 0.5, -0.5)) == (
        "it", "1.000", "0.500", f"{MINUS}0.500", SQUARE, "",
    )  # fmt: skip
    assert annex._zone_row(change("mm", 1.0, None, None, reason="missing in B")) == (
        "it", "1.0", DASH, DASH, "mm", "missing in B",
    )  # fmt: skip
    cells = [annex._cell(*each) for each in (
        ("y", -120.5), ("y", 300.0), ("UBRL z", -0.26), ("UBRL z", None), ("legform", "lower"),
        ("y", None),
    )]  # fmt: skip
    assert cells == [f"{MINUS}120.5", "300", f"{MINUS}0.3", DASH, "lower", DASH]


def test_findings_that_change_leave_out_the_same() -> None:
    def found(kind: str, details: str = "") -> Part:
        rule = Part(title="Title")
        return Part(kind=kind, place="whole front", details=details,
                    finding=Part(code="ONE", rule=rule, message="Message."))  # fmt: skip

    none = annex._findings(Part(findings=(found("same"),)))
    assert none == words.Paragraph("No finding changes.")
    table = annex._findings(Part(findings=(found("same"), found("gone"), found("moved", "by 3"))))
    assert table.rows == (
        ("gone", "ONE: Title", "whole front", DASH, "Message."),
        ("moved", "ONE: Title", "whole front", "by 3", "Message."),
    )


def test_texts_cut_to_a_width() -> None:
    assert annex._cut("12345", 5) == "12345"
    assert annex._cut("123456", 5) == "12..."
    assert annex._cut("1 3456", 5) == "1..."
    assert first_page._short("x" * 230) == "x" * 230
    assert first_page._short("x" * 231) == "x" * 227 + "..."


def test_a_figure_below_the_heading_leaves_room_for_it() -> None:
    """Of the blocks of a section the first two stand below its heading."""
    picture = words.Picture("one", lambda: b"", "caption", "alt")
    made = annex._blocks(words.Section("k", "t", (words.Paragraph("p"), picture, picture)))
    assert [each.get("height_mm") for each in made] == [None, 144.0, 165.0]
    assert made[1]["file"] == "one.svg"
    assert (made[1]["caption"], made[1]["alt"]) == ("caption", "alt")


# --- which stations, and places of names ---------------------------------------------------


@pytest.mark.parametrize(
    ("stations", "chosen"),
    [
        ((-9.0, 0.0, 9.0), (-9.0, 0.0, 9.0)),
        ((-2.0, -1.0, 1.0, 2.0), (-2.0, -1.0, 1.0, 2.0)),
        # Seven from centre to right: every second; the left is their like.
        (tuple(range(-6, 7)), (0, 2, 4, 6)),
        # Fewer than four on the right: of all, by distance: 0, (-1), 1, -2, (-3), -4.
        ((-4.0, -3.0, -2.0, -1.0, 0.0, 1.0), (-4.0, -2.0, 0.0, 1.0)),
        ((0.0, 1.0, 2.0, 3.0, 4.0), (0.0, 1.0, 3.0, 4.0)),
    ],
)  # fmt: skip
def test_four_stations_stand_for_many(stations, chosen) -> None:
    screening = Part(front=Part(stations=stations))
    assert annex_figures.chosen_stations(screening) == tuple(sorted(chosen))


@pytest.mark.parametrize("seed", range(20))
def test_names_stand_apart_in_their_order_and_as_near_as_can_be(seed) -> None:
    """Against every order of pushes: names that have room stand where they are wanted."""
    rng = np.random.default_rng(seed)
    wanted = rng.uniform(-20.0, 320.0, rng.integers(1, 8)).tolist()
    low, high, gap = 0.0, 300.0, 30.0
    placed = annex_page._spread(wanted, gap, low, high)
    order = np.argsort(wanted, kind="stable")
    assert (np.diff(np.array(placed)[order]) >= gap - 1e-9).all()
    assert min(placed) >= low - 1e-9
    assert max(placed) <= high + 1e-9
    alone = [min(max(each, low), high) for each in wanted]
    if len(wanted) == 1 or np.diff(np.sort(alone)).min() >= gap:
        assert placed == pytest.approx(alone)
    assert annex_page._spread(wanted[:1], gap, low, high) == pytest.approx(alone[:1])
    assert annex_page._spread([], gap, low, high) == []


def test_names_that_crowd_at_the_end_go_back_from_it() -> None:
    assert annex_page._spread([290.0, 295.0, 10.0], 30.0, 0.0, 300.0) == [270.0, 300.0, 10.0]
    assert annex_page._spread([5.0, 1.0], 30.0, 0.0, 300.0) == [31.0, 1.0]
    assert math.isclose(annex_page._spread([50.0, 60.0], 30.0, 0.0, 300.0)[1], 80.0)

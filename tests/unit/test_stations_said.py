"""What stations, marks and pairs of stations say: words, borders, both sides, nothing at all."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.lines.front_line import FrontLine, Pair, Piece, Spot, worst_status
from frontcheck.lines.line_values import STATUSES
from frontcheck.lines.lined_front import (
    by_other_rules,
    chosen_stations,
    line_up,
    match_stations,
    short_names,
)
from frontcheck.lines.said import missing_said, said_of_lines, untold
from frontcheck.lines.station import LinePoint, Station, WadPoint
from frontcheck.lines.statuses import STATUS_NAMES, STATUS_WORDS, UNSURE
from frontcheck.surface.section import Section
from frontcheck.surface.surface import Surface

NOSE = [(300.0, 200.0), (20.0, 220.0), (0.0, 500.0), (60.0, 760.0), (900.0, 880.0)]
OPEN = [(0.0, 300.0), (0.0, 600.0), (300.0, 800.0), (2600.0, 900.0)]
HIGH = [(300, 1400), (0, 1500), (0, 1900), (300, 2100)]
TALL = [(300, 200), (0, 300), (0, 1400), (500, 1500)]
UN = "UN-R127-02"
NO_ANCHOR = "no point of the contour lies low enough to hang the tape from"
ENDS = "the contour ends, or the tape starts, at another side of this distance"
NO_PLAN = "the stations have no common datum, so the foremost point of the whole front is not known"
HIDDEN = "whether the tape lies on the skin or over a recess there is not seen from the side"
LOWER = (
    "open end: what lies beyond the lower end of the contour could change it, so it is not known; "
    "measure farther along the underside"
)
BETWEEN = "its sections there are interpolated (smooth) between others."


def front(*ys: float, points=NOSE, symmetric=False, name="Plover", **given) -> Front:
    return Front(tuple(Section(points, y) for y in ys), name=name, symmetric=symmetric, **given)


# --- marks ---------------------------------------------------------------------------------

MARKS = {
    "on it": (NOSE, {}, {}, "ok", False, ""),
    "too short": (NOSE[:4], {}, {}, "not_reached", None, ENDS),
    "too high": (HIGH, {}, {}, "not_available", None, NO_ANCHOR),
    "outline": (NOSE, {"silhouette": True}, {}, "ok", None, HIDDEN),
    "one datum each": (NOSE, {}, {"tape_start": "vehicle", "datum": "local"}, "not_available",
                       None, NO_PLAN),
    "by the section": (NOSE, {}, {"datum": "local"}, "ok", False, ""),
    "open": (OPEN, {}, {}, "open_end", False,
             LOWER),
    "open outline": (OPEN, {"silhouette": True}, {}, "open_end", None,
                     LOWER),
    # Over a hollow the tape comes through the air, and is seen to.
    "hollow": ([(300, 200), (0, 300), (0, 700), (200, 600), (600, 600), (800, 1000), (2600, 1100)],
               {}, {}, "ok", True, ""),
    "hollow outline": ([(300, 200), (0, 300), (0, 700), (200, 600), (600, 600), (800, 1000),
                        (2600, 1100)], {"silhouette": True}, {}, "ok", True, ""),
}  # fmt: skip


@pytest.mark.parametrize("name", MARKS)
def test_what_a_mark_says(name: str) -> None:
    points, drawn, given, status, bridged, reason = MARKS[name]
    datum = given.get("datum", "common")
    start = given.get("tape_start", "section")
    lined = line_up(Front((Section(points, **drawn),), datum=datum), UN, [1000.0], tape_start=start)
    mark = lined.stations[0].wad(1000.0)
    assert (mark.status, mark.bridged, mark.reason) == (status, bridged, reason)
    assert mark.formed == (status in ("ok", "open_end"))
    assert (mark.x is None, mark.z is None, mark.tape is None) == (not mark.formed,) * 3
    assert (mark.name, mark.number) == ("WAD 1000", 0)


def test_a_leading_edge_at_a_mark_without_a_plan_is_not_given() -> None:
    """UN R127 02 series, 2.7 (text read): at an upright face the line is the WAD 1000 point."""
    for datum, start, status in (
        ("common", "vehicle", "wad_1000"), ("local", "section", "wad_1000"),
        ("local", "vehicle", "not_available"),
    ):  # fmt: skip
        lined = line_up(Front((Section(TALL),), datum=datum), UN, tape_start=start)
        station = lined.stations[0]
        edge = station.BLERL
        assert edge.status == status
        assert (edge.point is None) == (status == "not_available")
        assert edge.reason == NO_PLAN if edge.point is None else edge.reason != NO_PLAN
        assert (edge.edge_angle_deg is None) == (edge.point is None)
        assert (station.tape_x is None) == (status == "not_available")
        assert station.foremost == (0.0, 300.0)
        if station.tape_x is None:
            with pytest.raises(KeyError, match="no tape can be hung at station 0 mm"):
                lined.tape(0.0)
        else:
            assert lined.tape(0.0) is lined.tape(0.0)


def test_what_cannot_be_asked_for() -> None:
    for bad in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(
            ValueError, match=r"a wrap-around distance must be a positive length, not"
        ):
            line_up(front(0.0), UN, [1000.0, bad])
    with pytest.raises(ValueError, match="tape_start must be 'section' or 'vehicle', not 'ground'"):
        line_up(front(0.0), UN, tape_start="ground")  # type: ignore[arg-type]
    lined = line_up(front(0.0), UN, [800, 1000, 800])
    assert lined.wad == (800.0, 1000.0)
    with pytest.raises(KeyError, match=r"WAD 900 was not asked for; there are \['WAD 800'"):
        lined.stations[0].wad(900.0)


# --- stations ------------------------------------------------------------------------------


def point(name: str, status: str = "ok", x: float | None = 1.0, z: float | None = 2.0) -> LinePoint:
    return LinePoint(name, status, x, z, "" if status == "ok" else f"{name} for a reason")


def station(y: float = 0.0, **lines: LinePoint) -> Station:
    own = {name: lines.get(name, point(name)) for name in ("UBRL", "LBRL", "BLERL", "BRRL")}
    marks = (WadPoint(1000.0, "not_reached", None, None, None, "too short"),
             WadPoint(1500.0, "open_end", 3.0, 4.0, False, "open"))  # fmt: skip
    return Station(y=y, **own, wads=marks, legform=None, foremost=None, tape_x=None)


def test_what_a_station_puts_together() -> None:
    plain = station(BLERL=point("BLERL", "lower_end", 50.0, 700.0),
                    UBRL=point("UBRL", "edge_end", 20.0, 600.0),
                    BRRL=point("BRRL", "not_available", None, None))  # fmt: skip
    assert plain.bumper_lead == 30.0
    assert plain.missing == ("BRRL: BRRL for a reason", "WAD 1000: too short")
    assert plain.open_ends == ("WAD 1500",)
    assert [line.name for line in plain.lines] == ["LBRL", "UBRL", "BLERL", "BRRL"]
    assert (plain.ble_height, plain.upper_bumper_height, plain.lower_bumper_height) == (700, 600, 2)
    assert plain.lead_open_end is False
    for name, lead in (("UBRL", True), ("BLERL", True), ("LBRL", False), ("BRRL", False)):
        one = station(**{name: point(name, "open_end")})
        assert one.lead_open_end is lead
        assert one.open_ends == (name, "WAD 1500")
    for name in ("UBRL", "BLERL"):
        one = station(**{name: point(name, "not_reached", None, None)})
        assert one.bumper_lead is None
    assert point("UBRL").point == (1.0, 2.0)
    assert point("UBRL", x=None).point is None
    assert point("UBRL", z=None).point is None
    assert point("UBRL").pose is None


def test_words_of_statuses() -> None:
    """One a status, in words and in short: the same statuses as in documents."""
    assert tuple(STATUS_WORDS) == tuple(STATUS_NAMES) == STATUSES
    assert {
        "ok", "retaken_40deg", "lower_end", "wad_1000", "underside_first", "wad_only", "edge_end",
        "open_end",
    } == {status for status in STATUSES if point("UBRL", status).formed}  # fmt: skip
    assert {"edge_end", "open_end"} == UNSURE
    assert worst_status("ok", "open_end", "edge_end") == "open_end"
    assert worst_status("not_reached", "not_available", "ok") == "not_available"


def test_a_pair_says_what_holds_for_either_side() -> None:
    ok, low = Spot("a", "ok", (0.0, 1.0, 2.0)), Spot("a", "lower_end", (0.0, 1.0, 2.0), "low")
    gone = Spot("a", "not_reached", None, "gone")
    both = [(Pair(*each).status, Pair(*each).reason, Pair(*each).formed) for each in
            ((ok, low), (low, ok), (low, gone), (gone, gone), (ok, gone), (gone, ok))]  # fmt: skip
    assert both == [
        ("lower_end", "right: low", True), ("lower_end", "left: low", True),
        ("not_reached", "left: low; right: gone", False), ("not_reached", "gone", False),
        ("not_reached", "right: gone", False), ("not_reached", "left: gone", False),
    ]  # fmt: skip
    assert (ok.formed, gone.formed) == (True, False)
    line = FrontLine(
        "a", np.arange(9.0), ("ok",) * 3, (Piece(0, 1, "left"), Piece(1, 3, "right")), ""
    )
    assert [run.tolist() for run in line.runs] == [[[0, 1, 2]], [[3, 4, 5], [6, 7, 8]]]
    assert line.formed
    assert not FrontLine("a", np.empty((0, 3)), (), (), "not_reached").formed


# --- cautions ------------------------------------------------------------------------------


def test_what_is_missing_is_said_once_for_all_that_share_it() -> None:
    gone = point("BRRL", "not_available", None, None)
    stations = [station(y, **({"BRRL": gone} if y > 50 else {})) for y in (0, 100, 200, 300, 400)]
    assert missing_said(stations) == [
        "WAD 1000 at all stations: too short",
        "BRRL at y = 100 to 400 mm: BRRL for a reason",
    ]
    colon = replace(gone, reason="what: a reason")
    assert missing_said([station(7.5, BRRL=colon)])[0] == "BRRL at y = 7.5 mm: what: a reason"
    assert missing_said([]) == []


def test_what_was_taken_without_being_told() -> None:
    scope = "The vehicle is taken to be in the scope of UN-R127-02; a shape cannot settle that."
    ride = "The front is taken to stand in normal ride attitude as it was measured."
    own = "WAD 1500 is asked for beside those of the text: own choice."
    plain = line_up(front(0.0), UN)
    assert untold(plain, wad_given=True) == (scope, ride)
    assert untold(plain, wad_given=False) == (scope, ride, own)
    few = line_up(front(0.0), UN, [1000.0, 1499.0])
    assert untold(few, wad_given=False) == (scope, ride)


def test_cautions_of_lines() -> None:
    local = (
        "Setbacks are from a datum set anew at each station (datum: local): sections may be read "
        "one by one, and nothing that needs the plan shape is given."
    )
    slope = (
        "The ground sloped by 1.5 deg where the front was measured; the offsets are used as "
        "given, not levelled. To take this out: --correct (in Python: frontcheck.corrected)."
    )
    assert local not in said_of_lines(line_up(front(0.0), UN))
    assert said_of_lines(line_up(front(0.0, datum="local"), UN))[1] == local
    sloped = front(0.0, reader_cautions=("read so",), ground_slope_deg=1.5)
    assert said_of_lines(line_up(sloped, UN))[1:3] == ("read so", slope)
    said = said_of_lines(line_up(front(0.0, 50.0, points=OPEN), UN))
    assert said[-1].startswith("What lies beyond the measured surface may move (open end): ")
    assert "LBRL at all stations" in said[-1]
    mixed = Front((Section(NOSE, 0.0), Section(OPEN, 50.0), Section(NOSE, 100.0)))
    assert said_of_lines(line_up(mixed, UN))[-1] == (
        "What lies beyond the measured surface may move (open end): LBRL at y = 50 mm."
    )


# --- other rules ---------------------------------------------------------------------------


def test_lines_by_other_rules_are_formed_anew_where_they_differ() -> None:
    labelled = Section(
        [(300, 200), (30, 250), (0, 700), (100, 900), (900, 1000)], 0.0,
        ["underside", "bumper", "bumper", "bonnet", "bonnet"],
    )  # fmt: skip
    lined = line_up(Front((labelled,)), UN, [900.0, 1000.0])
    found = by_other_rules(lined, [UN, "UN-R127-03", "EU-631-2009"])
    assert [one.rules.id for one in found] == [UN, "UN-R127-03", "EU-631-2009"]
    assert found[0].stations is lined.stations
    assert all(one.wad == (900.0, 1000.0) for one in found)
    # Where the edge's foot must stand on the ground it touches with its end, 657.8 mm high.
    assert [one.stations[0].UBRL.status for one in found] == ["edge_end", "edge_end", "ok"]
    for one in found:
        anew = line_up(Front((labelled,)), one.rules.id, [900.0, 1000.0])
        assert [line.point for line in one.stations[0].lines] == [
            line.point for line in anew.stations[0].lines
        ]


# --- stations of two fronts ----------------------------------------------------------------


def matched(one: Front, two: Front):
    pairs, notes = match_stations(line_up(one, UN), line_up(two, UN))
    return [(pair.y, pair.a.basis, pair.b.basis) for pair in pairs], list(notes)


def test_stations_that_both_have() -> None:
    assert matched(front(0, 100), front(0, 100)) == (
        [(0, "measured", "measured"), (100, "measured", "measured")], []
    )  # fmt: skip
    # Within a millionth of a millimetre it is one station: rounding of a unit conversion.
    found, notes = matched(front(0, 100), front(0, 100 + 5e-7))
    assert [each[1:] for each in found] == [("measured", "measured")] * 2
    assert notes == []


def test_stations_of_one_front_only() -> None:
    assert matched(front(0, 100, 200, 300), front(0, 200)) == (
        [(0, "measured", "measured"), (100, "measured", "interpolated"),
         (200, "measured", "measured")],
        ["Not compared: A at y = 300 mm, outside the stations of B.",
         f"B was not measured at y = 100 mm: {BETWEEN}"],
    )  # fmt: skip
    assert matched(front(0, 200), front(-100, 0, 50, 100, 150, 200)) == (
        [(0, "measured", "measured"), *((y, "interpolated", "measured") for y in (50, 100, 150)),
         (200, "measured", "measured")],
        ["Not compared: B at y = -100 mm, outside the stations of A.",
         f"A was not measured at y = 50 to 150 mm: {BETWEEN}"],
    )  # fmt: skip
    # Stretches are those of the front that has them; of two that lack something A comes first.
    _, notes = matched(front(-200, -150, 0, 100, 300), front(0, 100))
    assert notes == ["Not compared: A at y = -200, -150, 300 mm, outside the stations of B."]
    _, notes = matched(front(0, 100, 200), front(0, 50, 200))
    assert [note[:33] for note in notes] == [
        "A was not measured at y = 50 mm: ", "B was not measured at y = 100 mm:"
    ]  # fmt: skip
    found, notes = matched(front(0, 200, datum="local"), front(0, 100, 200))
    assert found == [(0, "measured", "measured"), (200, "measured", "measured")]
    assert len(notes) == 1
    assert notes[0].startswith("Not compared: A lacks y = 100 mm, and ")
    assert notes[0].endswith(".")


def test_a_half_stands_for_both_sides() -> None:
    """Beside a whole front a half counts on either side; two halves are matched on the right."""
    half, whole = front(0, 100, symmetric=True), front(-100, 0, 100)
    assert matched(half, whole)[0] == [(y, "measured", "measured") for y in (-100, 0, 100)]
    assert matched(whole, half)[0] == [(y, "measured", "measured") for y in (-100, 0, 100)]
    left = front(-100, 0, symmetric=True)
    assert matched(half, left)[0] == [(y, "measured", "measured") for y in (0, 100)]
    assert matched(left, left)[0] == [(y, "measured", "measured") for y in (0, 100)]
    pairs, _ = match_stations(line_up(half, UN), line_up(whole, UN))
    assert [(p.a.section.y, p.a.station.y) for p in pairs] == [(-100, -100), (0, 0), (100, 100)]


def test_no_station_in_common() -> None:
    with pytest.raises(InputError) as caught:
        matched(front(0, 100), front(200, 300, 400))
    assert caught.value.found == "no station in common: A has 0, 100 mm, B has 200 to 400 mm"


def test_a_section_that_cannot_be_made_between_others_is_said(monkeypatch) -> None:
    from frontcheck.errors import ContourError

    def none(surface, y):
        raise ContourError("a crossing", expected="none", todo="look")

    one, two = line_up(front(0, 200), UN), line_up(front(0, 50, 100, 200), UN)
    monkeypatch.setattr(Surface, "section", none)
    pairs, notes = match_stations(one, two)
    assert [pair.y for pair in pairs] == [0, 200]
    assert list(notes) == [
        f"Not compared: A lacks y = {y} mm, and its neighbouring sections differ too much for a "
        "section between them."
        for y in (50, 100)
    ]


def test_stations_that_are_chosen() -> None:
    whole, half = (
        line_up(front(-150, -100, 100, 200), UN),
        line_up(front(50, 100, symmetric=True), UN),
    )
    assert list(chosen_stations([whole])[0]) == [-100]
    assert list(chosen_stations([whole], [200, -150])[0]) == [200, -150]
    assert [len(sides) for sides in chosen_stations([whole])[0].values()] == [1]
    assert list(chosen_stations([half], [-50])[0]) == [50]
    both, _ = chosen_stations([half, line_up(front(50, 100, symmetric=True), UN)], [-100.0])
    assert [(y, len(sides)) for y, sides in both.items()] == [(100, 2)]
    other = line_up(front(50, 100, points=OPEN, symmetric=True), UN)
    one, two = chosen_stations([half, other], [100.0])[0][100.0]
    assert (len(one.section), len(two.section)) == (len(NOSE), len(OPEN))
    for lined, y, expected in (
        (whole, 50.0, "one of -150, -100, 100, 200 mm"),
        (whole, 150.0, "one of -150, -100, 100, 200 mm"),
        (half, 0.0, "one of 50, 100 mm (either side)"),
    ):
        with pytest.raises(InputError) as caught:
            chosen_stations([lined], [y])
        assert caught.value.expected == expected
    # One side of a whole front is not the other.
    with pytest.raises(InputError, match="station y = -200 mm"):
        chosen_stations([whole], [-200.0])


@pytest.mark.parametrize(
    ("names", "short"),
    [
        (["Plover", "Avocet"], ("Plover", "Avocet")),
        (["Plover", "Plover"], ("Plover (A)", "Plover (B)")),
        (["a" * 24, "b" * 25], ("a" * 24, "b" * 21 + "...")),
        (["Plover  two ", "Avocet"], ("Plover two", "Avocet")),
        (["twenty letters here, and more", "Avocet"], ("twenty letters here,...", "Avocet")),
        (["a" * 25, "a" * 26], ("a" * 21 + "... (A)", "a" * 21 + "... (B)")),
        (["Plover"], ("Plover",)),
    ],
)
def test_short_names(names, short) -> None:
    assert short_names([line_up(front(0.0, name=name), UN) for name in names]) == short

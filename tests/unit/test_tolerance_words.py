"""What a tolerance run lists, leaves out and says, at the borders and in the rare cases."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.caution import CAUTION
from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.front.survey import MeasuredCheck, Survey
from frontcheck.lines.line_values import STATUSES
from frontcheck.rules.ruleset import rule_set
from frontcheck.sure.closure import Closure, ClosureReport
from frontcheck.sure.corrections import LineMove
from frontcheck.sure.draws import quantity_names, station_draws
from frontcheck.sure.errors_drawn import Input
from frontcheck.sure.intervals import _cautions, _correlation, _Station, tolerance, vehicle_tape
from frontcheck.sure.stated_uncertainty import stated_u
from frontcheck.sure.tolerance_result import (
    Driver,
    LineTolerance,
    Spread,
    StationTolerance,
    Tolerance,
)
from frontcheck.sure.uncertainty import HAND_TOOLS, SOURCES, Uncertainty
from frontcheck.surface.section import Section

NOSE = np.array([[300.0, 250.0], [40.0, 300.0], [0.0, 480.0], [160.0, 760.0], [1300.0, 930.0]])


def station(values: dict[str, list[float]], **more) -> _Station:
    """Draws of a station as told, without any being made."""
    made = _Station.__new__(_Station)
    count = len(next(iter(values.values())))
    names = quantity_names(())
    made.quantity_names, made.rules = names, rule_set("UN-R127-02")
    made.values = np.array([values.get(name, [0.0] * count) for name in names])
    made.formed = ~np.isnan(made.values)
    made.known = made.formed.copy()
    section = Fake(rows=(21, 22, 23), x=np.array([5.0, 6.0, 7.0]), z=np.array([1.0, 2.0, 3.0]))
    made.survey = type("Survey", (), {"__len__": lambda _: count, "section": section})()
    for name, value in more.items():
        setattr(made, name, value)
    return made


def test_legforms_at_their_limits() -> None:
    """UN R127, 02 series: lower legform below 425 mm, either from there, upper from 500 mm."""
    heights = [424.999, 425.0, 499.999, 500.0, 500.001, math.nan, 300.0, 430.0]
    made = station({"LBRL_z_mm": heights})
    made.known[made.quantity_names.index("LBRL_z_mm"), 6] = False  # an open end
    assert dict(made._legform()) == {
        "lower": 1 / 8, "either": 3 / 8, "upper": 2 / 8, "missing": 2 / 8
    }  # fmt: skip


def test_a_value_at_its_threshold_is_not_below_it() -> None:
    made = station({"BLERL_z_mm": [699.0, 700.0, 701.0, math.nan]})
    share = made._threshold("ble_height_mm", made.quantity_names.index("BLERL_z_mm"), 700.0)
    told = (share.quantity, share.threshold, share.below, share.at_or_above, share.missing)
    assert told == ("ble_height_mm", 700.0, 0.25, 0.5, 0.25)


def test_contacts_of_one_in_a_hundred_are_listed_most_frequent_first() -> None:
    made = station({"UBRL_x_mm": [0.0] * 1000}, contacts=np.array([[10, 9, 500], [500, 0, 500]]))
    listed = [(c.row, c.source_row, c.height, c.setback, c.share) for c in made._contacts(0)]
    assert listed == [(2, 23, 3.0, 7.0, 0.5), (0, 21, 1.0, 5.0, 0.01)]
    assert [c.row for c in made._contacts(1)] == [0, 2]  # of equals the lower row first
    made.survey.section.rows = None
    assert [c.source_row for c in made._contacts(0)] == [None, None]


def test_statuses_are_listed_most_frequent_first() -> None:
    counts = np.zeros((1, len(STATUSES)), dtype=int)
    counts[0, STATUSES.index("not_reached")] = 3
    counts[0, STATUSES.index("ok")] = 1
    counts[0, STATUSES.index("open_end")] = 4
    made = station({"UBRL_x_mm": [0.0] * 8}, status=counts)
    assert made._statuses(0) == (("open_end", 0.5), ("not_reached", 0.375), ("ok", 0.125))


def test_drivers_of_one_in_a_hundred_are_listed_and_nodes_of_one_row_added() -> None:
    made = station({"UBRL_x_mm": [1.0, 3.0, math.nan, 1.0, 3.0]})
    made.survey.inputs = (
        Input("height", 1.0, 0), Input("height", 1.0, 1), Input("setback", 1.0, 1),
        Input("height", 1.0, 1), Input("pitch", 1.0),
    )  # fmt: skip
    shares = np.array([0.01, 0.2, 0.0099, 0.25, 0.3])
    found = made._spread(0, 2.5, np.array([0.5, 4.0]), shares)
    told = [(d.name, d.row, d.source_row, d.share) for d in found.drivers]
    assert told == [
        ("height", 1, 22, pytest.approx(0.45)), ("pitch", None, None, 0.3), ("height", 0, 21, 0.01)
    ]  # fmt: skip
    assert [d.part_mm for d in found.drivers] == pytest.approx([0.45**0.5, 0.3**0.5, 0.1])
    assert (found.quantity, found.nominal, found.median, found.low, found.high) == (
        "UBRL_x_mm", 2.5, 2.0, 0.5, 4.0
    )  # fmt: skip
    assert (found.sd, found.formed, found.width) == (1.0, 0.8, 3.5)
    assert found.linear_share == pytest.approx(0.76)
    made.formed[:] = False
    assert made._spread(0, 2.5, np.array([0.5, 4.0]), shares) is None


def test_correlation_of_what_does_not_vary_is_none() -> None:
    one = np.array([1.0, 2.0, 4.0])
    assert _correlation(one, 7.0 - 2.0 * one) == pytest.approx(-1.0)
    assert _correlation(one, np.ones(3)) == 0.0


def test_the_tape_of_a_vehicle_stands_below_the_foremost_of_all_its_stations(monkeypatch) -> None:
    """Datum errors of stations are their own; a draw without any foremost point stands at 0."""
    sections = (Section(NOSE, 0.0), Section(NOSE + np.array([2.0, 0.0]), 300.0))
    surveys = station_draws(Front(sections), Uncertainty(datum_u_mm=3.0), 100, 1)
    found = vehicle_tape(surveys, rule_set("UN-R127-02"))
    each = [np.concatenate([points[:, 2, 0] for *_, points in s.blocks()]) for s in surveys]
    assert found == pytest.approx(np.minimum(*each))
    assert (each[0] < each[1]).any()
    assert (each[0] > each[1]).any()

    def some(contours, rules) -> Fake:
        return Fake(found=np.arange(100) < 60, x=contours.points[:, 2, 0])

    monkeypatch.setattr("frontcheck.sure.intervals.tape_anchor", some)
    lost = vehicle_tape(surveys, rule_set("UN-R127-02"))
    assert lost[:60] == pytest.approx(found[:60])
    assert not lost[60:].any()


def test_one_station_that_is_unsure_is_enough() -> None:
    exact = Section(NOSE, 0.0)
    unsure = Section(NOSE, 300.0, height_u=np.full(5, 2.0), setback_u=np.full(5, 1.0))
    found = tolerance(Front((exact, unsure)), "UN-R127-02", (), draws=100)
    sd = [station.line("UBRL").z.sd for station in found.stations]
    assert sd[0] == 0.0
    assert sd[1] == pytest.approx(2.0, rel=0.3)


# What is said of draws.


def line(name="UBRL", status="ok", statuses=(("ok", 1.0),), x=None, **more) -> LineTolerance:
    return LineTolerance(name, statuses, status, x, x, (), (10.0, 400.0), **more)


def told(*stations: tuple, settings=HAND_TOOLS, u=2.0, **more) -> tuple[str, ...]:
    """Cautions of stations (y, share of crossing draws, lines)."""
    section = Fake(height_u=u, setback_u=u)
    front = Fake(drawn="", not_seen="", sections=[section], survey=Survey(), ground_slope_deg=0.0)
    for name, value in more.items():
        setattr(front, name, value)
    made = [Fake(y=y, crossed=crossed, lines=lines) for y, crossed, lines in stations]
    return _cautions(front, settings, made)  # type: ignore[arg-type]


PLAIN = (
    "The intervals hold for the uncertainties stated, taken as normal and independent. They say "
    "nothing of the surface between the rows, nor of mistakes."
)
EXACT = "Taken as exact, since no uncertainty was given: "


def test_nothing_more_is_said_where_nothing_is_rare() -> None:
    assert told((0.0, 0.0, [line()])) == (CAUTION, PLAIN)


def test_what_is_proposed_or_not_seen_or_alike_is_said() -> None:
    settings = Uncertainty(height_u_mm=1.0, error_length_mm=40.0)
    found = told(settings=settings, drawn="2 points.", not_seen="an outline")
    assert found[2] == (
        "Errors of rows are taken as alike along the contour over an error length of 40 mm, and as "
        "independent from station to station: a row that is named stands for the stretch about it."
    )
    assert found[3] == "2 points. Proposed points are drawn as unsure as before they moved."
    assert found[4] == f"{EXACT}datum, square, ground, ride height, pitch."
    assert found[5] == "an outline"


@pytest.mark.parametrize(
    ("settings", "u", "words"),
    [
        (Uncertainty(datum_u_mm=1.0), 2.0, "square, ground, ride height, pitch"),
        (Uncertainty(square_tilt_u_deg=1.0), 2.0, "datum, ground, ride height, pitch"),
        (Uncertainty(ground_slope_u_deg=1.0), 2.0, "datum, square, ride height, pitch"),
        (Uncertainty(ride_height_u_mm=1.0), 2.0, "datum, square, ground, pitch"),
        (Uncertainty(pitch_u_deg=1.0), 2.0, "datum, square, ground, ride height"),
        (Uncertainty(pitch_u_deg=1.0), None,
         ("setbacks without an uncertainty of their own, heights without an uncertainty of their "
          "own, datum, square, ground, ride height")),
        (Uncertainty(pitch_u_deg=1.0, height_u_mm=1.0), None,
         ("setbacks without an uncertainty of their own, datum, square, ground, ride height")),
        (Uncertainty(pitch_u_deg=1.0, setback_u_mm=1.0), None,
         ("heights without an uncertainty of their own, datum, square, ground, ride height")),
    ],
)  # fmt: skip
def test_what_is_taken_as_exact(settings, u, words) -> None:
    assert told(settings=settings, u=u)[2] == f"{EXACT}{words}."


def test_rows_of_which_only_one_way_is_stated_are_bare_too() -> None:
    settings = Uncertainty(pitch_u_deg=1.0)
    for section in (Fake(height_u=None, setback_u=1.0), Fake(height_u=1.0, setback_u=None)):
        both = told(settings=settings, sections=[Fake(height_u=1.0, setback_u=1.0), section])
        assert "setbacks without an uncertainty of their own, heights" in both[2]


def test_draws_with_an_open_end_are_told_of_the_line_that_has_most() -> None:
    some = line("LBRL", statuses=(("ok", 0.9), ("open_end", 0.1)))
    most = line("WAD 1000", statuses=(("ok", 0.75), ("open_end", 0.25)))
    own = line("BLERL", "open_end", statuses=(("open_end", 1.0),))
    found = told((0.0, 0.0, [some, own]), (300.0, 0.0, [most, line()]))
    (said,) = found[2:]
    assert said == (
        "Some draws give an open end, where what lies beyond the measured surface could change the "
        "line (most often WAD 1000 at y = 300 mm, 25 % of the draws): there the interval may be "
        "too narrow."
    )
    assert told((0.0, 0.0, [own])) == (CAUTION, PLAIN)


def test_the_rear_line_of_draws_is_told_where_it_has_an_interval() -> None:
    spread = Spread("BRRL_x_mm", 1.0, 1.0, 0.0, 2.0, 1.0, 1.0)
    found = told((0.0, 0.0, [line(x=spread)]), (300.0, 0.0, [line("BRRL", x=spread)]))
    assert len(found) == 3
    assert found[2].startswith("BRRL of a changed section: the section is run on")
    assert len(told((0.0, 0.0, [line(x=spread), line("BRRL")]))) == 2


def test_contours_that_cross_themselves_are_told_of_the_worst_station() -> None:
    found = told((0.0, 0.0, []), (300.0, 0.02, []), (600.0, 0.125, []))
    (said,) = found[2:]
    assert said == (
        "At 2 of 3 stations some draws give a contour that crosses itself (at most 12 % of the "
        "draws, at y = 600 mm): rows are closer together there than they are sure. Those draws are "
        "kept."
    )


# What a result holds.


def spread(name: str, *drivers: tuple) -> Spread:
    parts = tuple(Driver(who, row, row and row + 20, 0.5, part) for who, row, part in drivers)
    return Spread(name, 5.0, 5.5, 4.0, 7.0, 1.0, 0.75, parts)


def of(y: float, lines: tuple, lead: Spread | None = None) -> StationTolerance:
    return StationTolerance(y, lines, lead, (), (), 0.0)


def result(*stations: StationTolerance) -> Tolerance:
    return Tolerance(None, None, Uncertainty(), 100, 1, (), "section", stations, ())  # type: ignore[arg-type]


def test_each_reading_is_measured_again_once_where_it_shows_most() -> None:
    ubrl = LineTolerance(
        "UBRL", (), "ok", spread("UBRL_x_mm", ("height", 1, 2.0), ("pitch", None, 1.0)),
        spread("UBRL_z_mm", ("height", 1, 3.0), ("height", 2, 3.0), ("datum", None, 0.5)), (),
    )  # fmt: skip
    far = LineTolerance(
        "UBRL", (), "ok", spread("UBRL_x_mm", ("pitch", None, 4.0), ("datum", None, 0.25)), None, ()
    )
    lead = spread("bumper_lead_mm", ("height", 1, 3.0), ("setback", 0, 3.0))
    made = result(of(0.0, (ubrl,), lead), of(300.0, (far,)))
    again = [
        (m.y, m.name, m.row, m.source_row, m.quantity, m.part_mm) for m in made.measure_again()
    ]
    assert again == [
        (300.0, "pitch", None, None, "UBRL_x_mm", 4.0),
        (0.0, "height", 1, 21, "UBRL_z_mm", 3.0),
        (0.0, "height", 2, 22, "UBRL_z_mm", 3.0),
        (0.0, "setback", 0, 0, "bumper_lead_mm", 3.0),
        (0.0, "datum", None, None, "UBRL_z_mm", 0.5),
        (300.0, "datum", None, None, "UBRL_x_mm", 0.25),
    ]
    assert [m.part_mm for m in made.measure_again(2)] == [4.0, 3.0]
    assert [d.of_vehicle for d in made.stations[1].lines[0].x.drivers] == [True, False]


OPEN_END = (
    "no interval: open end, what lies beyond the measured surface could change it by more than the "
    "measurement is unsure"
)
LONG = "long contact: the measurement is not sure enough to say where the edge touches along 163 mm"


def test_records_tell_every_number_and_why_some_have_no_interval() -> None:
    x, z = spread("UBRL_x_mm"), Spread("UBRL_z_mm", 15.0, 15.5, 14.0, 17.0, 2.0, 0.5)
    ubrl = LineTolerance("UBRL", (), "ok", x, z, (), (5.0, 400.0), 162.6)
    edge = LineTolerance("BLERL", (), "open_end", None, None, (), (165.0, 760.0))
    mark = LineTolerance("WAD 1000", (), "not_reached", None, None, ())
    made = of(250.0, (ubrl, edge, mark))
    assert [tuple(row.values()) for row in result(made).records()] == [
        (250.0, "UBRL_x_mm", 5.0, 5.5, 4.0, 7.0, 1.0, 0.75, LONG),
        (250.0, "UBRL_z_mm", 15.0, 15.5, 14.0, 17.0, 2.0, 0.5, LONG),
        (250.0, "BLERL_x_mm", 165.0, *[None] * 5, OPEN_END),
        (250.0, "BLERL_z_mm", 760.0, *[None] * 5, OPEN_END),
        (250.0, "bumper_lead_mm", 160.0, *[None] * 5, f"BLERL: {OPEN_END}"),
    ]
    assert made.spreads == (x, z)
    assert replace(made, bumper_lead=x).spreads == (x, z, x)
    assert ubrl.long_contact == LONG
    assert (ubrl.no_interval, edge.no_interval, edge.long_contact) == ("", OPEN_END, "")
    both = of(0.0, (LineTolerance("UBRL", (), "open_end", None, None, ()), edge))
    assert both.no_lead_interval == f"UBRL and BLERL: {OPEN_END}"
    assert [row["quantity"] for row in result(both).records()] == ["BLERL_x_mm", "BLERL_z_mm"]
    assert of(0.0, (ubrl, LineTolerance("BLERL", (), "ok", None, None, ()))).no_lead_interval == ""
    with pytest.raises(KeyError, match=r"no line 'LBRL'; there are \['UBRL', 'BLERL'"):
        both.line("LBRL")
    assert line(statuses=(("ok", 0.75),)).share("open_end") == 0.0


def test_a_tape_of_the_whole_vehicle_needs_a_common_datum() -> None:
    local = Front((Section(NOSE),), datum="local")
    with pytest.raises(InputError) as caught:
        tolerance(local, "UN-R127-02", settings=HAND_TOOLS, draws=100, tape_start="vehicle")
    assert "found a tape below the foremost point of the vehicle" in str(caught.value)
    assert tolerance(local, "UN-R127-02", (), HAND_TOOLS, draws=100).draws == 100


# Checks and corrections.


@pytest.mark.parametrize(
    ("measured", "computed", "u", "own", "normalised", "verdict"),
    [
        (310.0, 300.0, 4.0, 3.0, 2.0, "agree"),  # 10 in 5: exactly twice
        (290.0, 300.0, 4.0, 3.0, -2.0, "agree"),
        (310.5, 300.0, 4.0, 3.0, 2.1, "disagree"),
        (289.5, 300.0, 4.0, 3.0, -2.1, "disagree"),
        (310.0, None, None, 3.0, None, "not_available"),
        (310.0, 300.0, 0.0, 0.0, None, "not_available"),
        (305.0, 300.0, 0.0, 3.0, 5.0 / 3.0, "agree"),
    ],
)
def test_checks_agree_up_to_twice_their_uncertainty(
    measured, computed, u, own, normalised, verdict
) -> None:
    check = MeasuredCheck("edge", 0.0, measured, own, line="LBRL")
    found = Closure(check, computed, u, "" if computed else "why")
    assert found.normalised == (None if normalised is None else pytest.approx(normalised))
    assert found.verdict == verdict
    assert ClosureReport((found,)).agree == (verdict == "agree")
    assert ClosureReport((Closure(check, measured, 1.0), found)).agree == (verdict == "agree")
    assert found.combined_u_mm == (None if u is None else pytest.approx(math.hypot(u, own)))


def test_a_line_moves_only_where_it_is_known_before_and_after() -> None:
    assert LineMove(0.0, "q", 3.0, 7.0).move == 4.0
    for move in ((None, 7.0), (3.0, None), (3.0, 7.0, True)):
        assert LineMove(0.0, "q", *move).move is None


# Uncertainties as settings, and as stated of a point.


@pytest.mark.parametrize(
    ("name", "most"),
    [("datum_u_mm", 200.0), ("pitch_u_deg", 15.0), ("error_length_mm", 1000.0),
     ("scale_u_percent", 10.0), ("pitch_pivot_mm", 1e5)],
)  # fmt: skip
def test_settings_reach_as_far_as_stated_and_no_farther(name, most) -> None:
    assert getattr(Uncertainty(**{name: most}), name) == most
    least = -most if name == "pitch_pivot_mm" else 0.0
    assert getattr(Uncertainty(**{name: least}), name) == least
    unit = name.rpartition("_")[2]
    for value in (most * 1.001, least - 0.001 * most, math.nan):
        words = f"found {name} {value:g}; expected a value from {least:g} to {most:g} {unit}"
        with pytest.raises(InputError) as caught:
            Uncertainty(**{name: value})
        assert words.split(" to ", maxsplit=1)[0] in str(caught.value)
        assert f" to {most:g}" in str(caught.value)


def test_hand_tools_are_as_stated() -> None:
    """Common practice; every value of a hand measurement, as the docstrings and pages say it."""
    assert HAND_TOOLS.to_dict() == {
        "height_u_mm": 2.0, "setback_u_mm": 1.5, "datum_u_mm": 1.0, "square_tilt_u_deg": 0.1,
        "ground_slope_u_deg": 0.1, "ride_height_u_mm": 5.0, "pitch_u_deg": 0.1,
        "pitch_pivot_mm": 2000.0, "error_length_mm": 0.0, "scale_u_percent": 0.0,
    }  # fmt: skip
    # 1.7 mm in 1 m is 0.1 deg; 4 mm between axles 2.3 m apart too.
    assert math.degrees(math.atan(1.7 / 1000.0)) == pytest.approx(0.1, abs=0.005)
    assert "1.7 mm in 1 m" in SOURCES["ground_slope_u_deg"]


def test_how_unsure_a_point_is_adds_in_squares() -> None:
    """Independent errors (GUM 5.1.2): of the row, of turns by their lever, of scale and shift."""
    n = len(NOSE)
    rows = {"height_u": np.arange(n) + 1.0, "setback_u": np.arange(n) + 11.0}
    survey = Survey(
        datum_u_mm=3.0, square_tilt_u_deg=0.2, ground_slope_u_deg=0.3, ride_height_u_mm=4.0,
        pitch_u_deg=0.1, scale_u_percent=2.0,
    )  # fmt: skip
    bare = Section(NOSE, 0.0)
    front = Front((bare, Section(NOSE, 400.0, **rows)), survey=survey, symmetric=True)
    x, z = 160.0, 760.0  # row 3
    rad = math.radians
    height = [4.0, (2000.0 - x) * rad(0.1), x * rad(0.3), z * 0.02, 4.0]
    setback = [14.0, z * rad(0.1), z * rad(0.3), x * 0.02, 3.0, z * rad(0.2)]
    for y in (400.0, -400.0, 250.0, 900.0):
        assert stated_u(front, y, (x + 1.0, z), "height") == pytest.approx(
            math.hypot(*height), rel=1e-3
        )
        assert stated_u(front, y, (x, z), "setback") == pytest.approx(math.hypot(*setback))
    assert stated_u(front, 100.0, (x, z), "height") == pytest.approx(math.hypot(*height[1:]))
    assert stated_u(front, 0.0, (x, z), "setback") == pytest.approx(math.hypot(*setback[1:]))
    # Ahead of the datum levers count by their size; on the other side of a whole front not alike.
    assert stated_u(front, 0.0, (-x, z), "height") == pytest.approx(
        math.hypot((2000.0 + x) * rad(0.1), x * rad(0.3), z * 0.02, 4.0)
    )
    whole = Front((Section(NOSE, -400.0, **rows), bare), survey=Survey(ride_height_u_mm=4.0))
    assert stated_u(whole, -400.0, (x, z), "height") == pytest.approx(math.hypot(4.0, 4.0))
    assert stated_u(whole, 400.0, (x, z), "height") == pytest.approx(4.0)
    assert stated_u(Front((bare,)), 0.0, (x, z), "height") is None

"""What a correction says it did: every direction in words, with its numbers and its moves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.front.survey import ArchHeights, MeasuredCheck, Survey
from frontcheck.lines.lined_front import line_up
from frontcheck.sure.closure import closure
from frontcheck.sure.corrections import arch_motion, corrected
from frontcheck.surface.section import Section

RULES = "UN-R127-02"
POINTS = np.array(
    [[350.0, 320.0], [30.0, 360.0], [0.0, 420.0], [60.0, 700.0], [180.0, 800.0], [1300.0, 950.0]]
)


def made(**more) -> tuple[Front, list]:
    front = Front((Section(POINTS, 0.0), Section(POINTS + np.array([25.0, 5.0]), 400.0)), **more)
    found, report = corrected(front)
    return found, list(report.corrections)


@pytest.mark.parametrize(("tilt", "way"), [(0.4, "rearward"), (-0.25, "forward")])
def test_a_leaning_square_in_words(tilt, way) -> None:
    _, (one,) = made(survey=Survey(square_tilt_deg=tilt))
    assert one.message == (
        f"The square was inclined {way} by {abs(tilt):g} deg: setbacks and heights were taken "
        "along it and are now from a plumb datum."
    )
    t = math.radians(tilt)
    # The highest point moves most either way: x by z sin t, z by z (1 - cos t).
    assert one.largest_x_mm == pytest.approx(955.0 * abs(math.sin(t)))
    assert one.largest_z_mm == pytest.approx(955.0 * (1.0 - math.cos(t)))


@pytest.mark.parametrize(("slope", "way"), [(0.8, "rose"), (-0.5, "fell")])
def test_sloping_ground_in_words(slope, way) -> None:
    front, (one,) = made(ground_slope_deg=slope)
    assert one.message == (
        f"The ground {way} rearward by {abs(slope):g} deg: the offsets, read plumb and level, were "
        "turned about the foot of the datum."
    )
    assert front.reader_notes == (one.message,)


@pytest.mark.parametrize(
    ("normal", "lift", "turn"),
    [
        ((650.0, 560.0), "lifted by 0 mm", "up"),  # the rear alone comes down
        ((650.0, 700.0), "lifted by 0 mm", "down"),
        ((632.5, 632.5), "lowered by 17.5 mm", "up"),
        ((670.0, 670.0), "lifted by 20 mm", "up"),
    ],
)
def test_ride_attitude_in_words(normal, lift, turn) -> None:
    arches = ArchHeights(650.0, 650.0, *normal, 2500.0, 750.0)
    _, (one,) = made(survey=Survey(arches=arches))
    angle = abs(math.degrees(math.asin((normal[0] - normal[1]) / 2500.0)))
    assert one.message == (
        "The front arch stood at 650 mm, the rear at 650 mm; in normal ride attitude they stand at "
        f"{normal[0]:g} and {normal[1]:g} mm. The body was {lift} at the front axle and turned by "
        f"{angle:.4f} deg, front {turn}."
    )
    found, pivot, up = arch_motion(arches)
    assert (abs(found), pivot, up) == (pytest.approx(angle), (750.0, 650.0), normal[0] - 650.0)
    assert (found > 0.0) == (normal[0] > normal[1])


def test_moves_of_lines_are_theirs_before_and_after_at_every_station() -> None:
    arches = ArchHeights(650.0, 650.0, 640.0, 640.0, 2500.0, 750.0)
    before = Front((Section(POINTS, 0.0), Section(POINTS + np.array([25.0, 5.0]), 400.0)),
                   survey=Survey(arches=arches))  # fmt: skip
    after, report = corrected(before)
    (one,) = report.corrections
    told = {(m.station, m.quantity): m for m in one.moves}
    names = [m.quantity for m in one.moves if m.station == 0.0]
    assert names == [m.quantity for m in one.moves if m.station == 400.0]
    assert set(names) == {
        "UBRL_z_mm", "LBRL_z_mm", "BLERL_z_mm", "BRRL_z_mm", "bumper_lead_mm", "WAD_1000_x_mm",
        "WAD_1500_x_mm", "WAD_1700_x_mm", "WAD_2100_x_mm",
    }  # fmt: skip
    stations = (line_up(each, RULES).stations for each in (before, after))
    for old, new in zip(*stations, strict=True):
        for line in ("UBRL", "LBRL", "BLERL"):
            move = told[old.y, f"{line}_z_mm"]
            assert (move.before, move.after) == (getattr(old, line).z, getattr(new, line).z)
            if line != "UBRL":  # which may be at the tip of its edge
                assert move.move == pytest.approx(-10.0)
        lead = told[old.y, "bumper_lead_mm"]
        assert (lead.before, lead.after) == (old.bumper_lead, new.bumper_lead)
        mark = told[old.y, "WAD_1000_x_mm"]
        assert (mark.before, mark.after) == (old.wad(1000.0).x, new.wad(1000.0).x)
        assert mark.after > mark.before  # lower, the tape reaches farther
        gone = told[old.y, "BRRL_z_mm"]
        assert (gone.before, gone.after, gone.move) == (None, None, None)
    rows = report.to_dict()["lines"]
    assert rows[0]["correction"] == "ride attitude"
    assert [(row["y_mm"], row["quantity"]) for row in rows] == list(told)


def test_a_line_with_an_open_end_on_either_side_does_not_move() -> None:
    short = Front((Section(POINTS[:4], 0.0),), ground_slope_deg=0.3)
    _, report = corrected(short)
    station = line_up(short, RULES).stations[0]
    assert "BLERL" in station.open_ends
    assert station.lead_open_end
    for move in report.corrections[0].moves:
        name = move.quantity.removesuffix("_z_mm").removesuffix("_x_mm").replace("_", " ")
        assert move.open_end == (name in {*station.open_ends, "bumper lead mm"})
        assert move.move is None or not move.open_end


# Checks.

CHIN = np.array([[300.0, 250.0], [40.0, 300.0], [0.0, 480.0], [160.0, 760.0], [1300.0, 930.0]])


def checked(*checks: MeasuredCheck, points=CHIN, y=0.0, u: float | None = 1.0) -> Front:
    rows = None if u is None else np.full(len(points), u)
    section = Section(points, y, height_u=rows, setback_u=rows)
    return Front((Section(CHIN, -300.0), section), survey=Survey(checks=checks))


def edge(line: str = "LBRL", station=0.0, u: float = 1.0) -> MeasuredCheck:
    return MeasuredCheck("edge", station, 300.0, u, line=line)


def test_a_check_of_what_an_open_end_could_change_has_no_number() -> None:
    (found,) = closure(checked(edge("BLERL"), points=CHIN[:4])).closures
    assert (found.verdict, found.computed_mm) == ("not_available", None)
    assert found.reason.startswith("not known: open end, ")
    assert len(found.reason) > len("not known: open end, ")


@pytest.mark.parametrize(
    ("check", "words"),
    [
        (edge(station=55.0),
         "found a check (LBRL height) at station 55 mm; expected one of the stations -300, 0 mm"),
        (MeasuredCheck("tape", 0.0, 1e3, 1.0, row=6),
         ("found a check with the tape to row 6 at station 0 mm; expected a row of that station, 1 "
         "to 5")),
    ],
)  # fmt: skip
def test_checks_of_what_is_not_there_are_refused(check, words) -> None:
    with pytest.raises(InputError) as caught:
        closure(checked(check))
    assert words in str(caught.value)


def test_without_any_uncertainty_a_check_says_nothing() -> None:
    with pytest.raises(InputError) as caught:
        closure(checked(edge(u=0.0), u=None))
    assert "found the check LBRL height and offsets without any uncertainty" in str(caught.value)
    # Either is enough.
    (own,) = closure(checked(edge(u=2.0), u=None)).closures
    assert (own.computed_u_mm, own.combined_u_mm) == (0.0, 2.0)
    (rows,) = closure(checked(edge(u=0.0))).closures
    assert rows.computed_u_mm > 0.5


def test_a_check_is_held_against_its_own_station_and_tapes_are_drawn_less_often() -> None:
    lower = CHIN - np.array([0.0, 20.0])
    front = checked(edge(), edge(station=-300.0), MeasuredCheck("tape", 0.0, 1e3, 1.0, row=3),
                    points=lower)  # fmt: skip
    found = closure(front).closures
    assert [each.computed_mm for each in found] == [280.0, 300.0, 460.0]
    # Standard error of a spread from n draws: 1 / sqrt(2 n); 400 of a tape, own choice.
    assert found[2].computed_u_mm == pytest.approx(1.0, rel=4.0 / math.sqrt(800.0))

"""Draws of a front: what they are made of, what is counted, what is refused."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.front.survey import Survey
from frontcheck.lines.lined_front import line_up
from frontcheck.reading.readers import read_front
from frontcheck.sure.draws import (
    BLOCK,
    StationDraws,
    contact_counts,
    crossing,
    interval,
    of_difference,
    of_mark,
    quantity_names,
    touchable,
)
from frontcheck.sure.intervals import _correlation, tolerance
from frontcheck.sure.uncertainty import HAND_TOOLS, SOURCES, Uncertainty
from frontcheck.surface.section import Section

RULES = "UN-R127-02"


@pytest.fixture(scope="module")
def plover(geometries: Path) -> Front:
    return read_front(geometries / "plover.csv")


@pytest.fixture(scope="module")
def run(plover: Front):
    return tolerance(plover, RULES, None, HAND_TOOLS, draws=1500, seed=7)


def text(result) -> str:
    return json.dumps(result.to_dict(), allow_nan=False)


# --- draws ---------------------------------------------------------------------------------


def test_same_seed_same_bytes(plover: Front, run) -> None:
    again = tolerance(plover, RULES, None, HAND_TOOLS, draws=1500, seed=7)
    assert text(again) == text(run)
    other = tolerance(plover, RULES, None, HAND_TOOLS, draws=1500, seed=8)
    assert text(other) != text(run)


def test_document_states_every_uncertainty_it_rests_on(run) -> None:
    # Each different, so that none can stand for another.
    values = {field.name: 1.0 + k for k, field in enumerate(fields(Uncertainty))}
    document = replace(run, settings=Uncertainty(**values)).to_dict()
    assert {name: document["settings"][name] for name in values} == values


def test_a_longer_run_starts_with_the_draws_of_a_shorter_one(plover: Front) -> None:
    section = plover.sections[2]

    def points(draws: int) -> np.ndarray:
        survey = StationDraws(section, HAND_TOOLS, 2, draws, 1)
        return np.concatenate([block for _, _, block in survey.blocks()])

    assert np.array_equal(points(3 * BLOCK)[:BLOCK], points(BLOCK))


def test_draws_are_normal_and_independent(plover: Front) -> None:
    """Moments of a standard normal; a Latin hypercube has one draw in every stratum."""
    survey = StationDraws(plover.sections[0], HAND_TOOLS, 0, BLOCK, 1)
    ((_, normals, _),) = survey.blocks()
    assert normals.shape == (BLOCK, len(survey.inputs))
    strata = np.floor(0.5 * BLOCK * (1.0 + np.vectorize(_erf)(normals / np.sqrt(2.0))))
    assert all(len(set(column)) == BLOCK for column in strata.T)
    assert normals.mean(axis=0) == pytest.approx(0.0, abs=0.01)
    assert normals.std(axis=0) == pytest.approx(1.0, abs=0.02)
    off = np.corrcoef(normals.T) - np.eye(normals.shape[1])
    # The largest of some 3600 sample correlations with standard error 1 / sqrt(1000).
    assert np.abs(off).max() < 4.5 / np.sqrt(BLOCK)


def _erf(value: float) -> float:
    from math import erf

    return erf(value)


def test_errors_of_the_vehicle_are_the_same_at_every_station(plover: Front) -> None:
    settings = Uncertainty(ride_height_u_mm=5.0, pitch_u_deg=0.2, datum_u_mm=1.0)
    bare = [Section(s.points, s.y) for s in plover.sections[:2]]
    drawn = []
    for i, section in enumerate(bare):
        survey = StationDraws(section, settings, i, 200, 1)
        names = [item.name for item in survey.inputs]
        ((_, normals, _),) = survey.blocks()
        drawn.append({name: normals[:, j] for j, name in enumerate(names)})
    assert np.array_equal(drawn[0]["ride height"], drawn[1]["ride height"])
    assert np.array_equal(drawn[0]["pitch"], drawn[1]["pitch"])
    assert not np.allclose(drawn[0]["datum"], drawn[1]["datum"])


def test_rows_keep_their_own_uncertainty(plover: Front, geometries: Path) -> None:
    """Avocet states setback_u row by row, height_u for all; settings fill in the rest only."""
    section = read_front(geometries / "avocet.csv").sections[0]
    survey = StationDraws(section, Uncertainty(height_u_mm=50.0, setback_u_mm=50.0), 0, 5000, 1)
    stray = np.concatenate([points for _, _, points in survey.blocks()]) - section.points
    assert stray[..., 0].std(axis=0) == pytest.approx(section.setback_u, rel=0.05)
    assert stray[..., 1].std(axis=0) == pytest.approx(section.height_u, rel=0.05)
    bare = Section(section.points, parts=section.parts)
    survey = StationDraws(bare, Uncertainty(height_u_mm=3.0), 0, 5000, 1)
    stray = np.concatenate([points for _, _, points in survey.blocks()]) - section.points
    assert (stray[..., 0] == 0.0).all()
    assert stray[..., 1].std(axis=0) == pytest.approx(3.0, rel=0.05)


def test_tilt_moves_a_whole_station_in_proportion_to_height() -> None:
    section = Section([(0.0, 200.0), (10.0, 600.0), (900.0, 800.0)])
    survey = StationDraws(section, Uncertainty(square_tilt_u_deg=0.2), 0, 500, 1)
    ((_, normals, points),) = survey.blocks()
    shift = points[..., 0] - section.x
    assert shift == pytest.approx(section.z * np.sin(np.radians(0.2 * normals)), abs=1e-9)


# --- what is counted -----------------------------------------------------------------------


def test_nominal_is_the_line_as_measured(plover: Front, run) -> None:
    lined = line_up(plover, RULES)
    for station, found in zip(lined.stations, run.stations, strict=True):
        for point in (*station.lines, *station.wads):
            line = found.line(point.name)
            assert (line.x.nominal, line.z.nominal) == (point.x, point.z)
            assert line.nominal_status == point.status
        assert found.bumper_lead.nominal == station.bumper_lead


def test_shares_add_up(run) -> None:
    for station in run.stations:
        assert sum(dict(station.legform).values()) == pytest.approx(1.0, abs=1e-12)
        for line in station.lines:
            assert sum(share for _, share in line.statuses) == pytest.approx(1.0, abs=1e-12)
            assert all(0.01 <= contact.share <= 1.0 for contact in line.contacts)
        for spread in station.spreads:
            assert spread.low <= spread.median <= spread.high
            assert spread.linear_share <= 1.0 + 0.1  # each with its sampling error
            assert all(driver.share >= 0.01 for driver in spread.drivers)


def test_nearly_all_variance_of_a_plain_point_is_told(run) -> None:
    """BRRL of plover rests on one row: errors of that row and the common ones are all."""
    spread = run.station(0.0).line("BRRL").z
    assert spread.linear_share == pytest.approx(1.0, abs=0.06)
    names = {(driver.name, driver.row) for driver in spread.drivers}
    assert ("ride height", None) in names
    assert ("height", 32) in names


def test_thresholds_are_those_of_the_draws(plover: Front) -> None:
    at = plover.sections[6].y
    one = replace(plover, sections=(plover.sections[6],))
    result = tolerance(
        one,
        RULES,
        (1000.0,),
        HAND_TOOLS,
        draws=1000,
        thresholds=[("lower_bumper_height_mm", 425.0), ("LBRL_z_mm", 425.0), ("WAD_1000_x_mm", 0)],
    )
    height, same, mark = result.station(at).thresholds
    assert (height.below, height.at_or_above) == (same.below, same.at_or_above)
    assert height.below == dict(result.station(at).legform)["lower"]
    assert (mark.below, mark.at_or_above, mark.missing) == (0.0, 1.0, 0.0)


def test_a_line_that_is_sometimes_missing() -> None:
    """A contour that ends just above the foot of the BLERL edge, sure to 10 mm."""
    section = Section([(300.0, 200.0), (0.0, 300.0), (20.0, 500.0), (400.0, 605.0)])
    result = tolerance(
        Front((section,)), RULES, (3000.0,), Uncertainty(height_u_mm=10.0), draws=4000,
        thresholds=[("BLERL_z_mm", 600.0)],
    )  # fmt: skip
    line = result.stations[0].line("BLERL")
    # It ends below 600 in a share of Phi(-0.5) = 0.3085 of the draws; elsewhere the edge rests on
    # the end, or would rest on what may stand beyond it: a value that no interval is given for.
    assert line.share("not_reached") == pytest.approx(0.3085, abs=0.03)
    # Only where the last stretch leans less than 10 deg, no way on of 30 deg more rises past the
    # edge (40 deg from level): a few draws.
    others = line.share("not_reached") + line.share("lower_end")
    assert line.share("lower_end") < 0.01
    assert line.share("open_end") == pytest.approx(1.0 - others, abs=1e-12)
    assert line.x is None
    (side,) = result.stations[0].thresholds
    assert side.missing == pytest.approx(1.0 - line.share("lower_end"), abs=1e-12)
    assert result.stations[0].line("WAD 3000").x is None
    assert result.stations[0].line("WAD 3000").statuses == (("not_reached", 1.0),)
    assert result.stations[0].line("BRRL").statuses == (("not_available", 1.0),)
    assert text(result)


def test_a_mark_that_is_sometimes_missing() -> None:
    """An upright wall that ends at 1200 mm, sure to 10 mm."""
    section = Section([(300.0, 200.0), (0.0, 300.0), (0.0, 600.0), (0.0, 1200.0)])
    result = tolerance(
        Front((section,)), RULES, (1195.0,), Uncertainty(height_u_mm=10.0), draws=4000,
        thresholds=[("WAD_1195_x_mm", 100.0)],
    )  # fmt: skip
    mark = result.stations[0].line("WAD 1195")
    # The tape goes up the wall, which ends below 1195 in a share of Phi(-0.5) of the draws.
    assert mark.share("not_reached") == pytest.approx(0.3085, abs=0.03)
    assert mark.x.formed == pytest.approx(1.0 - mark.share("not_reached"), abs=1e-12)
    (side,) = result.stations[0].thresholds
    assert side.missing == mark.share("not_reached")


def test_contacts_between_rows_count_for_both(plover: Front) -> None:
    from frontcheck.lines.rear import with_rear
    from frontcheck.lines.section_lines import section_lines
    from frontcheck.rules.ruleset import rule_set
    from frontcheck.surface.contours import Contours

    section = plover.sections[0]
    contours, rules = Contours.of([section]), rule_set(RULES)
    batch = section_lines(contours, rules, (1000.0,))
    batch = with_rear(batch, contours, plover, np.array([section.y]), rules)
    counts = contact_counts(batch, section.points[None])
    edges, marks = counts[:4], counts[4]
    assert (edges.sum(axis=1) == 1).all()
    rows = np.flatnonzero(marks)
    assert len(rows) == 2
    assert rows[1] == rows[0] + 1
    x = float(batch.WAD.x[0, 0])
    assert section.x[rows[0]] < x < section.x[rows[1]]


def test_tape_of_the_vehicle_stands_below_its_foremost_point(plover: Front) -> None:
    """With nothing but the datum unsure, the tape stands where the foremost station is."""
    settings = Uncertainty(datum_u_mm=3.0)
    bare = tuple(Section(s.points, s.y, s.parts) for s in (plover.sections[0], plover.sections[9]))
    front = replace(plover, sections=bare)
    section = tolerance(front, RULES, (1000.0,), settings, draws=500)
    vehicle = tolerance(front, RULES, (1000.0,), settings, draws=500, tape_start="vehicle")
    # Station 0 is foremost by 160 mm in every draw: its own marks do not change.
    assert vehicle.stations[0] == section.stations[0]
    outer = vehicle.station(760.0).line("WAD 1000")
    # There the tape starts farther ahead, so the mark comes earlier; it now feels both datums.
    assert outer.x.median < section.station(760.0).line("WAD 1000").x.median - 20.0
    assert outer.z.sd > section.station(760.0).line("WAD 1000").z.sd + 0.01


def test_measure_again_names_each_reading_once(run) -> None:
    listed = run.measure_again(1000)
    assert list(listed) == sorted(listed, key=lambda m: -m.part_mm)
    keys = [(m.y, m.name, m.row) for m in listed]
    assert len(set(keys)) == len(keys)
    common = [m.name for m in listed if m.name in ("ride height", "pitch", "ground slope")]
    assert sorted(common) == ["ground slope", "pitch", "ride height"]
    row = next(m for m in listed if m.row is not None)
    section = run.front.section(row.y)
    assert section.rows[row.row] == row.source_row


def test_frame_holds_every_quantity(run) -> None:
    frame = run.to_frame()
    assert len(frame) == len(run.stations) * len(quantity_names(run.wad))
    row = frame.loc[(0.0, "LBRL_z_mm")]
    assert row["nominal_mm"] == 300.0
    assert row["low_mm"] < 300.0 < row["high_mm"]


# --- contours that cross themselves ------------------------------------------------------------


@pytest.mark.parametrize("spread", [2.0, 8.0, 25.0])
def test_crossings_are_those_shapely_finds(plover: Front, spread: float) -> None:
    nominal = plover.sections[3].points
    rng = np.random.default_rng(3)
    points = nominal + spread * rng.standard_normal((400, *nominal.shape))
    expected = ~shapely.is_simple(shapely.linestrings(points))
    assert crossing(nominal, points).tolist() == expected.tolist()
    assert expected.any() == (spread > 5.0)


def test_a_stretch_folded_back_on_itself_is_a_crossing() -> None:
    nominal = np.array([[0.0, 100.0], [0.0, 200.0], [0.0, 300.0], [500.0, 400.0]])
    folded = nominal.copy()
    folded[1, 1], folded[2, 1] = 310.0, 300.0
    moved = nominal.copy()
    moved[1, 1] = 210.0
    assert crossing(nominal, np.stack([folded, moved, nominal])).tolist() == [True, False, False]


def test_crossing_draws_are_counted_and_said() -> None:
    """Two rows 4 mm apart in height, each unsure by 5 mm: out of order in a share of draws."""
    points = [(300.0, 200.0), (0.0, 300.0), (0.0, 304.0), (30.0, 600.0), (900.0, 700.0)]
    section = Section(points)
    result = tolerance(
        Front((section,)), RULES, (), Uncertainty(height_u_mm=5.0, setback_u_mm=5.0), draws=2000
    )
    assert 0.0 < result.stations[0].crossed < 1.0
    assert any("crosses itself" in caution for caution in result.cautions)
    sure = tolerance(Front((section,)), RULES, (), Uncertainty(height_u_mm=0.1), draws=500)
    assert sure.stations[0].crossed == 0.0
    assert not any("crosses itself" in caution for caution in sure.cautions)


# --- intervals and settings --------------------------------------------------------------------


def normal(mean: float, sd: float = 1.0) -> np.ndarray:
    from scipy.special import ndtri

    return mean + sd * ndtri((np.arange(200_000) + 0.5) / 200_000)


def test_interval_is_the_middle_of_the_draws() -> None:
    assert interval(np.linspace(-1.0, 1.0, 4001)) == pytest.approx((-0.95, 0.95), abs=1e-3)
    assert interval(np.full(500, 3.0)) == pytest.approx((3.0, 3.0), abs=0.0)


def test_interval_of_a_mark_moves_back_over_a_bias() -> None:
    """Draws normal about 1.5 with sd 1, nominal 0: the mark is off by 1 to 1.5 times 1.5."""
    low, high = of_mark(normal(1.5), 0.0)
    assert low == pytest.approx(-2.25 - 1.959964, abs=1e-3)
    assert high == pytest.approx(-1.5 + 1.959964, abs=1e-3)
    assert of_mark(normal(3.0), 0.0)[1] == 0.0  # the mark itself is never left out


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_small_shift_of_a_mark_may_be_none(sign: float) -> None:
    """Of a tenth of the spread: held possible are moves by 0.02 and by 2.5 times the shift."""
    ends = of_mark(sign * normal(0.1), 0.0) * sign
    assert sorted(ends) == pytest.approx([-0.15 - 1.959964, 0.098 + 1.959964], abs=1e-3)
    assert of_mark(normal(0.0), 0.0) == pytest.approx((-1.959964, 1.959964), abs=1e-3)
    assert of_mark(np.full(500, 3.0), 3.0) == pytest.approx((3.0, 3.0), abs=0.0)


def test_interval_of_a_difference() -> None:
    """Of normal numbers as of their difference; of numbers that move together, none at all."""
    half = 1.959964
    apart = of_difference(
        5.0, 5.0 + half * np.array([-3, 3]), 1.0, 1.0 + half * np.array([-4, 4]), 0.0
    )
    assert apart == pytest.approx((4.0 - 5.0 * half, 4.0 + 5.0 * half))
    one_way = of_difference(0.0, np.array([-1.0, 2.0]), 0.0, np.array([0.0, 0.0]), 0.5)
    assert one_way == pytest.approx((-1.0, 2.0))
    together = of_difference(9.0, np.array([8.0, 10.0]), 2.0, np.array([1.0, 3.0]), 1.0)
    assert together == pytest.approx((7.0, 7.0))


def test_rows_that_may_be_touched() -> None:
    """Gaps sure to 1 mm each: differences are sure to 1.41 mm, so within 3.18 mm of the first."""
    gap = np.array([9.0, 0.0, 3.1, 3.3, 1.0])
    drawn = gap + np.random.default_rng(3).normal(size=(200_000, 5)) + 40.0
    assert touchable(gap, drawn).tolist() == [False, True, True, False, True]
    # What moves all rows together makes none of them less sure than the others.
    alike = gap + 50.0 * np.random.default_rng(4).normal(size=(1000, 1)) + [0.0, 0.0, 0.0, 0.0, 0.0]
    assert touchable(gap, alike).tolist() == [False, True, False, False, False]


def face(lean_deg: float) -> Front:
    """A face of seven rows, 20 mm apart, that leans; above it a corner."""
    lean = np.radians(lean_deg)
    along = 20.0 * np.arange(7.0)[:, None]
    points = [(150.0, 300.0), *(np.array([100.0, 400.0]) + along * [np.sin(lean), np.cos(lean)])]
    points += [(260.0, 700.0), (900.0, 800.0)]
    return Front((Section(points),), symmetric=True)


def test_a_contact_along_the_edge_is_told_and_spans_all_of_it() -> None:
    """Along the 20 deg edge, whose uppermost touch it is; draws hardly ever leave the outermost."""
    rows = Uncertainty(height_u_mm=2.0, setback_u_mm=2.0)
    front = face(20.0)
    outer = front.sections[0].points.copy()
    outer[2, 0] -= 5.0  # Read too far forward: it is what the edge now touches
    told = tolerance(replace(front, sections=(Section(outer),)), RULES, (), rows, draws=400)
    upper, lower = told.stations[0].line("UBRL"), told.stations[0].line("BLERL")
    assert upper.may_touch_mm == pytest.approx(120.0, abs=21.0)
    assert upper.z.high >= front.sections[0].z[7] > upper.nominal[1] + 80.0
    assert f"{upper.may_touch_mm:.0f} mm" in upper.long_contact
    assert lower.long_contact == ""
    words = {row["quantity"]: row["reason"] for row in told.records()}
    assert words["UBRL_z_mm"] == upper.long_contact
    assert words["BLERL_z_mm"] is None
    entry = told.to_dict()["stations"][0]["lines"]
    assert entry["UBRL"]["long_contact"] == upper.long_contact


def test_a_contact_at_a_corner_is_none() -> None:
    rows = Uncertainty(height_u_mm=2.0, setback_u_mm=2.0)
    upper = tolerance(face(45.0), RULES, (), rows, draws=400).stations[0].line("UBRL")
    assert (upper.may_touch_mm, upper.long_contact) == (0.0, "")


def test_survey_states_the_settings(plover: Front) -> None:
    survey = Survey(datum_u_mm=1.0, pitch_u_deg=0.2)
    assert Uncertainty.of(replace(plover, survey=survey)) == Uncertainty(
        datum_u_mm=1.0, pitch_u_deg=0.2
    )
    assert Uncertainty.of(plover) == Uncertainty()


def test_every_value_of_hand_tools_has_a_source() -> None:
    given = {name for name, value in HAND_TOOLS.to_dict().items() if value}
    assert given - {"pitch_pivot_mm"} == set(SOURCES)
    assert all(source.startswith("common practice: ") for source in SOURCES.values())


def test_what_is_taken_as_exact_is_said(run, plover: Front) -> None:
    assert not any("Taken as exact" in caution for caution in run.cautions)
    bare = tolerance(plover, RULES, (), draws=100)
    (said,) = [caution for caution in bare.cautions if "Taken as exact" in caution]
    assert "datum, square, ground, ride height, pitch" in said
    assert "heights" not in said  # plover states them


REFUSED = {
    "too few draws": ({"draws": 99}, "found 99 draws"),
    "negative seed": ({"seed": -1}, "found seed -1"),
    "unknown quantity": ({"thresholds": [("LBRL_y_mm", 1.0)]}, "found a threshold for 'LBRL_y_mm'"),
    "distance not asked for": (
        {"thresholds": [("WAD_1200_x_mm", 1.0)]},
        "found a threshold for 'WAD_1200_x_mm'",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused(plover: Front, case: str) -> None:
    arguments, words = REFUSED[case]
    with pytest.raises(InputError) as refused:
        tolerance(plover, RULES, None, HAND_TOOLS, **arguments)
    assert str(refused.value).startswith(words)
    assert "; expected " in str(refused.value)


def test_nothing_unsure_is_refused(plover: Front) -> None:
    bare = replace(plover, sections=tuple(Section(s.points, s.y) for s in plover.sections))
    with pytest.raises(InputError, match="no uncertainty"):
        tolerance(bare, RULES)


def test_vehicle_tape_without_common_datum_is_refused(plover: Front) -> None:
    local = replace(plover, datum="local")
    with pytest.raises(InputError, match="common datum"):
        tolerance(local, RULES, None, HAND_TOOLS, tape_start="vehicle")


@pytest.mark.parametrize("name", list(SOURCES))
@pytest.mark.parametrize("value", [-0.1, float("nan"), float("inf"), 1e4])
def test_impossible_uncertainties_are_refused(name: str, value: float) -> None:
    with pytest.raises(InputError, match=name):
        Uncertainty(**{name: value})


def test_correlation_of_errors_is_that_of_numpy() -> None:
    """Of values far from nought, as coordinates are."""
    drawn = np.random.default_rng(3).normal(size=(2, 400))
    one, two = 800.0 + drawn[0], 90.0 + 0.6 * drawn[0] + drawn[1]
    assert _correlation(one, two) == pytest.approx(np.corrcoef(one, two)[0, 1], abs=1e-12)
    assert _correlation(one, np.full(400, 5.0)) == 0.0

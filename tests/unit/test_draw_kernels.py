"""What draws are counted by, held against plain loops, shapely and closed forms."""

from __future__ import annotations

import math
from types import SimpleNamespace as Fake

import numpy as np
import pytest
import shapely

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.lines.line_values import STATUSES
from frontcheck.sure import draws
from frontcheck.sure.draws import (
    CrossSums,
    StationDraws,
    contact_counts,
    crossing,
    open_ended,
    quantities,
    quantity_index,
    quantity_names,
    station_draws,
)
from frontcheck.sure.shares import is_robust, least_share
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.section import Section

NOSE = np.array([[300.0, 250.0], [40.0, 300.0], [0.0, 480.0], [160.0, 760.0], [1300.0, 930.0]])


@pytest.mark.parametrize("seed", range(6))
def test_every_copy_that_meets_itself_is_found_whatever_it_strayed_from(seed) -> None:
    """Whole numbers, so that copies touch themselves exactly as often as they cross."""
    rng = np.random.default_rng(seed)
    found = []
    for n in (4, 5, 7):
        steps = np.stack([np.full(n, 4), rng.integers(-3, 4, n)], axis=1)
        nominal = np.cumsum(steps, axis=0).astype(float)
        copies = nominal + rng.integers(-4, 5, (150, n, 2))
        # A point upon the next is no stretch at all: errors drawn never give one.
        copies = copies[(np.diff(copies, axis=1) != 0.0).any(axis=2).all(axis=1)]
        expected = ~shapely.is_simple(shapely.linestrings(copies))
        assert (crossing(nominal, copies) == expected).all()
        found += expected.tolist()
    assert any(found)
    assert not all(found)


def test_stretches_with_one_between_them_can_cross_and_neighbours_cannot() -> None:
    nominal = np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [30.0, 0.0]])
    loop = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [5.0, -5.0]])
    bent = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [15.0, 5.0]])
    touching = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [5.0, 0.0]])
    back = np.array([[0.0, 0.0], [10.0, 0.0], [4.0, 0.0], [4.0, 5.0]])
    copies = np.stack([loop, bent, touching, back, nominal])
    assert crossing(nominal, copies).tolist() == [True, False, True, True, False]
    assert crossing(nominal, nominal[None]).tolist() == [False]


# Own choice: a contact within 0.01 mm of a row is that row's.
@pytest.mark.parametrize(
    ("place", "rows"),
    [
        ((40.0, 300.0), [1]),
        ((40.0, 300.0099), [1]),
        ((20.0, 390.0), [1, 2]),
        ((0.0, 480.0), [2]),
        ((0.0 + 0.0105 * 0.4961, 480.0 + 0.0105 * 0.8682), [2, 3]),
        ((300.0, 250.0), [0]),
        ((1300.0, 930.0), [4]),
        ((730.0, 845.0), [3, 4]),
    ],
)
def test_a_place_counts_for_its_row_or_for_both_rows_beside_it(place, rows) -> None:
    first, second = draws._rows_at(NOSE[None], np.array([place]))
    assert sorted({int(first[0]), int(second[0])}) == rows
    counted = draws._count(first, second, len(NOSE))
    assert np.flatnonzero(counted).tolist() == rows
    assert counted.max() == 1


def test_contacts_of_lines_and_marks_are_those_of_a_plain_count() -> None:
    """Two copies; UBRL at rows 2 and 1, LBRL formed in one, marks on rows and between them."""
    copies = np.stack([NOSE, np.add(NOSE, [5.0, 0.0])])

    def line(places, formed):
        x, z = np.array(places, dtype=float).T
        return Fake(x=x, z=z, formed=np.array(formed), code=np.zeros(2, dtype=int))

    none = line([(0, 0), (0, 0)], [False, False])
    marks = Fake(
        x=np.array([[0.0, 80.0], [45.0, 730.0 + 5.0]]),
        z=np.array([[480.0, 620.0], [300.0, 845.0]]),
        stretch=np.array([[1, 2], [1, 3]]),
        reached=np.array([[True, True], [True, False]]),
    )
    batch = Fake(
        UBRL=line([(0.0, 480.0), (45.0, 300.0)], [True, True]),
        LBRL=line([(20.0, 390.0), (45.0, 300.0)], [True, False]),
        BLERL=line([(160.0, 760.0), (165.0, 760.0)], [True, True]),
        BRRL=none, distances=(500.0, 900.0), WAD=marks,
        bumper_lead=np.ma.masked_array([160.0, 120.0], [False, True]),
    )  # fmt: skip
    assert contact_counts(batch, copies).tolist() == [
        [0, 1, 1, 0, 0],
        [0, 1, 1, 0, 0],
        [0, 0, 0, 2, 0],
        [0, 0, 0, 0, 0],
        [0, 1, 1, 0, 0],  # at the upper row of its stretch, then at the lower one of its
        [0, 0, 1, 1, 0],
    ]
    values, formed = quantities(batch)
    assert quantity_names((500.0, 900.0)) == (
        "UBRL_x_mm", "UBRL_z_mm", "LBRL_x_mm", "LBRL_z_mm", "BLERL_x_mm", "BLERL_z_mm",
        "BRRL_x_mm", "BRRL_z_mm", "WAD_500_x_mm", "WAD_500_z_mm", "WAD_900_x_mm", "WAD_900_z_mm",
        "bumper_lead_mm",
    )  # fmt: skip
    assert values[:, 0].tolist() == [
        0.0, 480.0, 20.0, 390.0, 160.0, 760.0, 0.0, 0.0, 0.0, 480.0, 80.0, 620.0, 160.0
    ]  # fmt: skip
    assert formed[:, 0].tolist() == [*[True] * 6, False, False, *[True] * 5]
    assert formed[:, 1].tolist() == [
        True, True, False, False, True, True, False, False, True, True, False, False, False
    ]  # fmt: skip


def test_heights_go_by_names_of_their_own_too() -> None:
    wad = (1000.0,)
    names = quantity_names(wad)
    for name, own in (
        ("ble_height_mm", "BLERL_z_mm"),
        ("upper_bumper_height_mm", "UBRL_z_mm"),
        ("lower_bumper_height_mm", "LBRL_z_mm"),
        ("WAD_1000_x_mm", "WAD_1000_x_mm"),
    ):
        assert names[quantity_index(name, wad)] == own
    with pytest.raises(InputError) as caught:
        quantity_index("WAD_1500_x_mm", wad)
    assert "found a threshold for 'WAD_1500_x_mm'; expected one of UBRL_x_mm" in str(caught.value)
    assert "ble_height_mm" in str(caught.value)


@pytest.mark.parametrize("k", range(5))
def test_an_open_end_of_a_line_is_one_of_its_quantities(k) -> None:
    """UBRL, LBRL, BLERL, BRRL and one mark; the lead rests on the first and the third."""
    codes = np.zeros((5, 1), dtype=int)
    codes[k] = STATUSES.index("open_end")
    expected = [j // 2 == k for j in range(10)]
    assert open_ended(codes)[:, 0].tolist() == [*expected, k in {0, 2}]


# Errors of a whole station or vehicle, one at a time, by trigonometry.


def moved(name: str, error: float, **more: float) -> np.ndarray:
    """The nose with one common error of a given size."""
    section = Section(NOSE)
    survey = StationDraws(section, Uncertainty(**{name: 1.0}, **more), 0, 100, 1)
    assert len(survey.inputs) == 1
    return survey._points(np.array([[error]]))[0]


def turned_back(degrees: float, x0: float, points: np.ndarray = NOSE) -> np.ndarray:
    """Points turned about (x0, 0) from x toward z by the angle, clockwise seen from the left."""
    a = math.radians(degrees)
    x, z = points[:, 0] - x0, points[:, 1]
    return np.stack([x0 + x * math.cos(a) + z * math.sin(a), z * math.cos(a) - x * math.sin(a)], 1)


def test_each_common_error_moves_all_points_as_it_should() -> None:
    x, z = NOSE.T
    assert moved("datum_u_mm", 3.0) == pytest.approx(np.add(NOSE, [3.0, 0.0]))
    assert moved("ride_height_u_mm", 3.0) == pytest.approx(np.add(NOSE, [0.0, 3.0]))
    assert moved("scale_u_percent", 3.0) == pytest.approx(1.03 * NOSE)
    assert moved("ground_slope_u_deg", 2.0) == pytest.approx(turned_back(2.0, 0.0))
    assert moved("pitch_u_deg", 2.0) == pytest.approx(turned_back(2.0, 2000.0))
    assert moved("pitch_u_deg", 2.0, pitch_pivot_mm=500.0) == pytest.approx(turned_back(2.0, 500.0))
    t = math.radians(2.0)
    leant = np.stack([x + z * math.sin(t), z * math.cos(t)], axis=1)
    assert moved("square_tilt_u_deg", 2.0) == pytest.approx(leant)


def test_common_errors_come_in_the_order_of_the_measurement() -> None:
    """Scale, square, datum, ground, pitch, ride height: each on the result of the one before."""
    given = dict.fromkeys(
        ("datum_u_mm", "square_tilt_u_deg", "ground_slope_u_deg", "ride_height_u_mm",
         "pitch_u_deg", "scale_u_percent"), 1.0
    )  # fmt: skip
    survey = StationDraws(Section(NOSE), Uncertainty(**given), 0, 100, 1)
    assert [item.name for item in survey.inputs] == [
        "datum", "square tilt", "ground slope", "ride height", "pitch", "scale"
    ]  # fmt: skip
    assert [item.of_vehicle for item in survey.inputs] == [False, False, True, True, True, True]
    datum, tilt, slope, ride, pitch, scale = errors = [4.0, 1.0, 2.0, 5.0, -1.5, 3.0]
    x, z = (NOSE * (1.0 + scale / 100.0)).T
    t = math.radians(tilt)
    points = np.stack([x + z * math.sin(t) + datum, z * math.cos(t)], axis=1)
    turned = turned_back(pitch, 2000.0, turned_back(slope, 0.0, points))
    assert survey._points(np.array([errors]))[0] == pytest.approx(np.add(turned, [0.0, ride]))


def test_errors_of_one_row_are_alike_as_stated() -> None:
    """Setback error r e + sqrt(1 - r^2) f of a height error e: correlation r, the same spread."""
    n = len(NOSE)
    r = np.linspace(-1.0, 0.6, n)
    section = Section(NOSE, height_u=np.full(n, 2.0), setback_u=np.full(n, 3.0), correlation=r)
    survey = StationDraws(section, Uncertainty(), 0, 100, 1)
    assert [(item.name, item.row) for item in survey.inputs[:4]] == [
        ("height", 0), ("setback", 0), ("height", 1), ("setback", 1)
    ]  # fmt: skip
    normals = np.random.default_rng(3).normal(size=(7, 2 * n))
    off = survey.strayed(normals) - NOSE
    e, f = normals[:, 0::2], normals[:, 1::2]
    assert off[..., 1] == pytest.approx(2.0 * e)
    assert off[..., 0] == pytest.approx(3.0 * (r * e + np.sqrt(1.0 - r**2) * f))


def test_what_is_exact_takes_no_part_and_rows_go_before_settings() -> None:
    n = len(NOSE)
    section = Section(NOSE, height_u=np.array([0.0, 1.0, 0.0, 2.0, 0.0]))
    survey = StationDraws(section, Uncertainty(height_u_mm=9.0, setback_u_mm=4.0), 0, 100, 1)
    heights = [(item.row, item.u) for item in survey.inputs if item.name == "height"]
    assert heights == [(1, 1.0), (3, 2.0)]
    assert [item.u for item in survey.inputs if item.name == "setback"] == [4.0] * n


def test_blocks_of_1000_and_what_is_left() -> None:
    survey = StationDraws(Section(NOSE), Uncertainty(datum_u_mm=1.0), 0, 2300, 1)
    parts = [(at.start, at.stop, len(normals), len(points)) for at, normals, points in
             survey.blocks()]  # fmt: skip
    assert parts == [(0, 1000, 1000, 1000), (1000, 2000, 1000, 1000), (2000, 2300, 300, 300)]
    first, second = (block[1] for block, _ in zip(survey.blocks(), range(2), strict=False))
    assert not (first == second).any()


def test_draws_and_seeds_at_their_least() -> None:
    front, settings = Front((Section(NOSE),)), Uncertainty(height_u_mm=1.0)
    assert len(station_draws(front, settings, 100, 0)[0]) == 100
    for count, seed, words in (
        (99, 1, "found 99 draws; expected 100 or more"),
        (100, -1, "found seed -1; expected a whole number from 0"),
    ):
        with pytest.raises(InputError) as caught:
            station_draws(front, settings, count, seed)
        assert words in str(caught.value)


@pytest.mark.parametrize("seed", range(3))
def test_squared_correlations_are_those_of_numpy_where_a_line_is_formed(seed) -> None:
    rng = np.random.default_rng(seed)
    values, normals = 500.0 + rng.normal(size=(3, 400)), rng.normal(size=(400, 2))
    values[0] += 2.0 * normals[:, 0]
    values[2] = 640.25  # constant: follows nothing
    formed = np.ones((3, 400), dtype=bool)
    formed[1] = rng.random(400) < 0.7
    sums = CrossSums(3, 2)
    for at in (slice(0, 150), slice(150, 400)):
        whole = np.where(formed, values, np.nan)[:, at]
        sums.add(np.where(formed[:, at], whole, 0.0), formed[:, at], normals[at])
    expected = [
        [np.corrcoef(values[q, formed[q]], normals[formed[q], e])[0, 1] ** 2 for e in range(2)]
        for q in range(2)
    ]
    assert sums.shares() == pytest.approx(np.array([*expected, [0.0, 0.0]]), abs=1e-9)
    assert CrossSums(1, 2).shares().tolist() == [[0.0, 0.0]]


def test_lower_limit_of_a_share_in_closed_form() -> None:
    """All of n: p^n = 0.05. One of n: 1 - (1 - p)^n = 0.05 (Clopper and Pearson, 1934)."""
    assert least_share(0, 50) == 0.0
    assert least_share(50, 50) == pytest.approx(0.05 ** (1 / 50))
    assert least_share(1, 50) == pytest.approx(1.0 - 0.95 ** (1 / 50))
    # Own choice: 0.85 at the lower limit, of 200 cases or more. 0.05^(1/18) = 0.8467.
    assert not is_robust(199, 199)
    assert is_robust(200, 200)
    least = next(k for k in range(201) if least_share(k, 200) >= 0.85)
    assert [is_robust(least - 1, 200), is_robust(least, 200)] == [False, True]
    assert 0.85 <= least_share(least, 200) < 0.856

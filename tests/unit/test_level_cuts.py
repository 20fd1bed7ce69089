"""Level cuts and short tapes against shapely and against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.geometry.laid_tape import tape_onward
from frontcheck.geometry.level_cuts import foremost_in_bins, level_cuts
from frontcheck.geometry.polyline import taut_string

RNG = np.random.default_rng(7)


def wild_contours(batch: int = 6, n: int = 40) -> np.ndarray:
    """Random walks; whether they cross themselves does not matter to a cut."""
    points = np.cumsum(RNG.normal(size=(batch, n, 2)) * [12.0, 9.0], axis=1)
    points[:, 5] = points[:, 4] + [0.0, 7.0]  # a stretch at constant x
    points[:, 9] = points[:, 8] + [7.0, 0.0]  # and one at constant z
    points[0, 30:] = points[0, 30]  # padded
    return points


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("take", ["greatest", "least"])
def test_cuts_agree_with_shapely(axis: int, take: str) -> None:
    points = wild_contours()
    levels = np.unique([*np.linspace(-60.0, 60.0, 41), points[2, 4, axis], points[1, 8, axis]])
    cuts = level_cuts(points, levels, axis=axis, take=take)
    for i, contour in enumerate(points):
        line = shapely.LineString(contour)
        for k, level in enumerate(levels):
            ends = [(level, -1e4), (level, 1e4)] if axis == 0 else [(-1e4, level), (1e4, level)]
            met = shapely.get_coordinates(shapely.intersection(line, shapely.LineString(ends)))
            # A level through a corner may be missed by rounding in either; skip those few.
            if np.abs(contour[:, axis] - level).min() < 1e-9 and len(met) == 0:
                continue
            assert cuts.reached[i, k] == (len(met) > 0)
            if len(met):
                expected = met[:, 1 - axis].max() if take == "greatest" else met[:, 1 - axis].min()
                assert cuts.value[i, k] == pytest.approx(expected, abs=1e-9)
                at = cuts.position[i, k]
                j = min(int(at), len(contour) - 2)
                place = contour[j] + (at - j) * (contour[j + 1] - contour[j])
                assert place[axis] == pytest.approx(level, abs=1e-9)
                assert place[1 - axis] == pytest.approx(cuts.value[i, k], abs=1e-9)


def test_foremost_in_bins_agrees_with_shapely() -> None:
    points = wild_contours()
    levels = np.arange(-40.0, 40.1, 4.0)
    bins = foremost_in_bins(points, levels)
    for i, contour in enumerate(points):
        line = shapely.LineString(contour)
        for k, (low, high) in enumerate(zip(levels, levels[1:], strict=False)):
            part = shapely.intersection(line, shapely.box(-1e4, low, 1e4, high))
            if part.is_empty:
                assert np.isinf(bins.x[i, k])
            else:
                assert bins.x[i, k] == pytest.approx(part.bounds[0], abs=1e-9)
                assert low - 1e-9 <= bins.z[i, k] <= high + 1e-9


def test_tape_round_a_circle_is_the_arc() -> None:
    # Closed form: on a convex arc the tape lies on the surface. Facets of 0.1 deg on R 300 are
    # 0.52 mm long; their length falls short of the arc by 1.3e-7 of it.
    angle = np.radians(np.arange(0.0, 120.01, 0.1))
    circle = 300.0 * np.stack([-np.cos(angle), np.sin(angle)], axis=1)
    start = 200.37
    place = tape_onward(circle, start, 82.5)
    here = math.radians(20.037)
    assert math.atan2(place.z, -place.x) == pytest.approx(here + 82.5 / 300.0, abs=1e-6)
    back = tape_onward(circle, 500.0, 82.5, back=True)
    assert math.atan2(back.z, -back.x) == pytest.approx(math.radians(50.0) - 82.5 / 300.0, abs=1e-6)


def test_tape_bridges_a_hollow() -> None:
    # From (0, 0) over a hollow to a bank that rises again: straight through air, Pythagoras.
    hollow = np.array([(-50.0, 0.0), (0.0, 0.0), (20.0, -30.0), (40.0, 0.0), (200.0, 0.0)])
    place = tape_onward(hollow, 1.0, 82.5)
    assert (place.x, place.z) == pytest.approx((82.5, 0.0), abs=1e-9)
    assert place.position == pytest.approx(3.0 + 42.5 / 160.0, abs=1e-9)
    wall = np.array([(-50.0, 0.0), (0.0, 0.0), (20.0, -30.0), (60.0, 90.0), (60.0, 300.0)])
    place = tape_onward(wall, 1.0, 82.5)
    assert math.hypot(place.x, place.z) == pytest.approx(82.5, abs=1e-9)


def test_tape_from_within_a_stretch_and_both_ways() -> None:
    bend = np.array([(0.0, 0.0), (100.0, 0.0), (200.0, -50.0), (300.0, -200.0)])
    place = tape_onward(bend, 0.75, 82.5)
    along = np.array([100.0, -50.0]) / math.hypot(100.0, 50.0)
    assert (place.x, place.z) == pytest.approx(tuple([100.0, 0.0] + 57.5 * along), abs=1e-9)
    back = tape_onward(bend, place.position, 82.5, back=True)
    assert (back.x, back.z, back.position) == pytest.approx((75.0, 0.0, 0.75), abs=1e-9)
    inside = tape_onward(bend, 0.1, 20.0)
    assert inside.position == pytest.approx(0.3, abs=1e-12)
    assert tape_onward(bend, 2.9, 82.5) is None
    assert tape_onward(bend, 3.0, 1.0) is None
    assert tape_onward(bend, 0.2, 30.0, back=True) is None


def test_string_bears_on_the_convex_hull() -> None:
    points = np.stack([np.linspace(-500.0, 500.0, 60), RNG.normal(size=60) * 30.0], axis=1)
    bears = points[taut_string(points)]
    # Independent: the part of shapely's hull on the side of lesser depth.
    hull = shapely.MultiPoint(points).convex_hull
    away = shapely.MultiPoint([*points, (-500.0, 1e6), (500.0, 1e6)]).convex_hull
    expected = {tuple(p) for p in shapely.get_coordinates(away) if p[1] < 1e5}
    assert {tuple(p) for p in bears} == expected
    assert hull.area > 0.0
    assert (np.diff(bears[:, 0]) > 0.0).all()

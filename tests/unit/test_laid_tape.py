"""Short tapes laid on a contour, and strings over it: closed forms and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.geometry.laid_tape import tape_onward
from frontcheck.geometry.polyline import taut_string

RNG = np.random.default_rng(7)


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

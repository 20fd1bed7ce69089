"""Free depth and bend radius against closed forms and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from frontcheck.findings.hard_points import free_depth
from frontcheck.findings.head_points import bend_radius


def travel(angle_deg: float) -> tuple[float, float]:
    return math.cos(math.radians(angle_deg)), -math.sin(math.radians(angle_deg))


@pytest.mark.parametrize("slope", [0.0, 8.0, -6.0, 25.0])
@pytest.mark.parametrize("angle", [50.0, 65.0])
def test_flat_skin(slope: float, angle: float) -> None:
    """Plane skin, point at depth h along the normal: h / cos(angle to normal) along the travel."""
    along = np.array([math.cos(math.radians(slope)), math.sin(math.radians(slope))])
    skin = np.array([-1000.0, 0.0, 1000.0])[:, None] * along + np.array([700.0, 900.0])
    inward = np.array([along[1], -along[0]])
    point = np.array([700.0, 900.0]) + 100.0 * along + 60.0 * inward
    found = free_depth(skin, (point[0], point[1]), travel(angle))
    share = math.sin(math.radians(angle + slope))
    assert found.status == "under"
    assert found.along_normal == pytest.approx(60.0, abs=1e-9)
    assert found.along_travel == pytest.approx(60.0 / share, abs=1e-9)
    assert found.skin is not None
    assert found.along_travel is not None
    back = np.array(found.skin) + found.along_travel * np.array(travel(angle))
    assert back == pytest.approx(point, abs=1e-9)


def test_round_skin() -> None:
    """Circle of radius R, point at its centre: R along every line, facets apart."""
    n = 720
    angle = np.linspace(math.radians(200.0), math.radians(-20.0), n)
    radius, chord = 300.0, 300.0 * math.radians(220.0) / (n - 1)
    skin = np.column_stack([500.0 + radius * np.cos(angle), 500.0 + radius * np.sin(angle)])
    facet = chord**2 / (8.0 * radius)  # sagitta of a chord
    for degrees in (50.0, 65.0):
        found = free_depth(skin, (500.0, 500.0), travel(degrees))
        assert found.along_travel == pytest.approx(radius, abs=1.01 * facet)
        assert found.along_normal == pytest.approx(radius, abs=1.01 * facet)


def test_point_in_the_air_and_point_beside_the_section() -> None:
    skin = np.array([[0.0, 500.0], [0.0, 800.0], [1000.0, 900.0]])
    # Above the bonnet (air), ahead of the face (air), and behind the end of the contour.
    assert free_depth(skin, (500.0, 900.0), travel(50.0)).status == "outside"
    assert free_depth(skin, (-50.0, 600.0), travel(-50.0)).status == "outside"
    assert free_depth(skin, (-20.0, 810.0), travel(50.0)).status == "outside"
    assert free_depth(skin, (1900.0, 500.0), travel(50.0)).status == "open"
    # A roof over the point: the way back meets the skin from the air side.
    hooked = np.array(
        [[0.0, 500.0], [0.0, 800.0], [1000.0, 800.0], [1000.0, 1200.0], [-800.0, 1200.0]]
    )
    found = free_depth(hooked, (900.0, 900.0), travel(50.0))
    assert (found.status, found.along_travel, found.skin) == ("outside", None, None)
    assert found.along_normal == pytest.approx(100.0)


def test_point_on_the_skin_has_no_depth() -> None:
    skin = np.array([[0.0, 500.0], [0.0, 800.0], [1000.0, 800.0]])
    found = free_depth(skin, (500.0, 800.0), travel(50.0))
    assert found.status == "under"
    assert found.along_travel == pytest.approx(0.0, abs=1e-12)


@given(st.integers(0, 10_000))
def test_agrees_with_shapely_on_random_skins(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 15))
    skin = np.column_stack([np.sort(rng.uniform(0, 1500, n)), rng.uniform(600, 1000, n)])
    skin = np.vstack([[skin[0, 0], 0.0], skin, [skin[-1, 0], 0.0]])
    point, direction = rng.uniform((0, 300), (1500, 900)), travel(rng.uniform(20, 85))
    found = free_depth(skin, (point[0], point[1]), direction)
    line = shapely.LineString(skin)
    body = shapely.Polygon(skin)
    assert found.along_normal == pytest.approx(shapely.Point(point).distance(line), abs=1e-9)
    far = point - 5000.0 * np.array(direction)
    cuts = shapely.get_coordinates(shapely.intersection(line, shapely.LineString([point, far])))
    if len(cuts) == 0:
        assert found.status in ("open", "outside")
        if found.status == "outside":
            assert not body.contains(shapely.Point(point))
    else:
        expected = np.hypot(*(cuts - point).T).min()
        assert (found.status == "under") == body.contains(shapely.Point(point))
        if found.status == "under":
            assert found.along_travel == pytest.approx(expected, abs=1e-7)


def arcs_of(points: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


@pytest.mark.parametrize("chord", [2.0, 5.0, 11.0])
@pytest.mark.parametrize("radius", [40.0, 82.5, 400.0])
def test_bend_of_an_arc_is_its_radius_within_a_facet(radius: float, chord: float) -> None:
    length = 60.0
    half_step = math.asin(chord / 2.0 / radius)
    n = int(1.5 * math.pi / (2.0 * half_step))
    angle = 1.25 * math.pi - 2.0 * half_step * np.arange(n + 1)  # up over the top: air on the left
    points = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    found = bend_radius(points, arcs_of(points), length)
    inner = found[(arcs_of(points) > length) & (arcs_of(points) < arcs_of(points)[-1] - length)]
    assert len(inner) > 0
    # One facet more or less falls into the length.
    assert inner == pytest.approx(radius, rel=1.5 * chord / length)
    assert (inner > 0.0).all()


def test_crease_counts_over_the_length_whatever_its_facets() -> None:
    turn = math.radians(30.0)
    plain = np.array(
        [[0.0, 0.0], [300.0, 0.0], [300.0 + 300.0 * math.cos(turn), -300.0 * math.sin(turn)]]
    )
    fine = np.vstack([np.linspace(plain[0], plain[1], 40), np.linspace(plain[1], plain[2], 40)[1:]])
    for points, corner in ((plain, 1), (fine, 39)):
        found = bend_radius(points, arcs_of(points), 60.0)
        assert found[corner] == pytest.approx(60.0 / turn)
    hollow = plain * [1.0, -1.0]
    assert np.isinf(bend_radius(hollow, arcs_of(hollow), 60.0)).all()


def test_hollow_beside_a_crease_does_not_hide_it() -> None:
    # Down by 50 deg at (300, 0), up again by 40 deg 20 mm farther: the crease stays a crease.
    down, rest = math.radians(50.0), math.radians(10.0)
    corner = np.array([300.0, 0.0])
    dip = corner + 20.0 * np.array([math.cos(down), -math.sin(down)])
    end = dip + 300.0 * np.array([math.cos(rest), -math.sin(rest)])
    points = np.array([[0.0, 0.0], corner, dip, end])
    found = bend_radius(points, arcs_of(points), 60.0)
    assert found[1] == pytest.approx(60.0 / down)


def test_straight_skin_has_no_bend() -> None:
    points = np.column_stack([np.linspace(0, 500, 20), np.linspace(0, 50, 20)])
    assert (np.abs(bend_radius(points, arcs_of(points), 60.0)) > 1e9).all()

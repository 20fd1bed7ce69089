"""Nearest places, lengths, cuts and taut strings of polylines, against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from frontcheck.geometry.polyline import (
    arcs_of,
    gaps,
    highest_at,
    length_of,
    nearest,
    points_at,
    taut_string,
)

# Whole tenths of a millimetre: coordinates as a measurer reads them.
COORDINATE = st.integers(-20000, 20000).map(lambda n: n / 10.0)
POINT = st.tuples(COORDINATE, COORDINATE)


def rows(least=2, most=12):
    return st.integers(least, most).flatmap(lambda n: arrays(float, (n, 2), elements=COORDINATE))


def place(points, stretch, t):
    return points[stretch] + t * (points[stretch + 1] - points[stretch])


@given(rows(), POINT)
def test_nearest_place_is_that_of_shapely(points, at):
    line = shapely.LineString(points)
    assume(line.length > 0.0)
    found = nearest(points, at)
    i, t = int(found.stretch), float(found.t)
    assert found.distance == pytest.approx(line.distance(shapely.Point(at)), abs=1e-7)
    assert np.hypot(*(place(points, i, t) - at)) == pytest.approx(float(found.distance), abs=1e-7)
    # Where several places are as near, shapely may name another one; its distance is the same.
    projected = line.interpolate(line.project(shapely.Point(at)))
    assert projected.distance(shapely.Point(at)) == pytest.approx(float(found.distance), abs=1e-7)


@given(rows(), st.lists(POINT, min_size=1, max_size=5))
def test_many_points_at_once_are_the_points_one_by_one(points, many):
    together = nearest(points, np.array(many))
    copies = nearest(np.array([points] * len(many)), np.array(many))
    for k, at in enumerate(many):
        alone = nearest(points, at)
        for got in (together, copies):
            assert [values[k] for values in got] == list(alone)


@given(rows(), POINT, st.data())
def test_stretches_of_no_length_change_nothing(points, at, data):
    i = data.draw(st.integers(0, len(points) - 1))
    padded = np.insert(points, i, points[i], axis=0)
    assert np.diff(padded, axis=0)[i].tolist() == [0.0, 0.0]
    bare, with_it = nearest(points, at), nearest(padded, at)
    assert with_it.distance == pytest.approx(float(bare.distance), abs=1e-9)  # one place, two names
    t, gap = gaps(padded, at)
    assert np.isfinite(t).all()
    assert np.isfinite(gap).all()
    assert length_of(padded) == pytest.approx(length_of(points), rel=1e-12)


def test_of_places_as_near_the_first_counts():
    points = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
    found = nearest(points, (50.0, 50.0))
    assert (found.stretch, found.t, found.distance) == (0, 0.5, 50.0)


@given(rows(), st.floats(0.0, 1.0))
def test_lengths_and_points_along_are_those_of_shapely(points, share):
    line = shapely.LineString(points)
    arcs = arcs_of(points)
    assert arcs[0] == 0.0
    assert (np.diff(arcs) >= 0.0).all()
    assert arcs[-1] == pytest.approx(line.length, abs=1e-7)
    assert length_of(points) == pytest.approx(line.length, abs=1e-7)
    assume((np.diff(arcs) > 0.0).all())
    at = points_at(points, arcs, share * arcs[-1])
    there = line.interpolate(share, normalized=True)
    assert at == pytest.approx((there.x, there.y), abs=1e-6)


def test_a_line_in_space_has_its_length_too():
    corners = np.array([[0.0, 0.0, 0.0], [2.0, 3.0, 6.0], [2.0, 3.0, 9.0]])  # 7 and 3 long
    arcs = arcs_of(corners)
    assert arcs == pytest.approx([0.0, 7.0, 10.0])
    assert length_of(corners) == pytest.approx(10.0)
    assert points_at(corners, arcs, 8.5) == pytest.approx([2.0, 3.0, 7.5])


def heights(side):
    """Rows whose points run one way, as a string over them needs."""
    return st.lists(POINT, min_size=2, max_size=14, unique_by=lambda p: p[0]).map(
        lambda row: np.array(sorted(row))
    )


@pytest.mark.parametrize("side", [1.0, -1.0])
@given(data=st.data())
def test_a_taut_string_is_one_side_of_the_convex_hull(side, data):
    points = data.draw(heights(side))
    bears = taut_string(points, side)
    assert bears[0] == 0
    assert bears[-1] == len(points) - 1
    hull = shapely.MultiPoint(points).convex_hull
    string = shapely.LineString(points[bears])
    assert hull.boundary.buffer(1e-6).covers(string) or hull.area == 0.0
    # All points lie on one side of it: on the left for a string on the right, and so on.
    at = np.interp(points[:, 0], points[bears, 0], points[bears, 1])
    assert (side * (points[:, 1] - at) >= -1e-6).all()
    corners = {tuple(c) for c in shapely.get_coordinates(hull)}
    assert {tuple(p) for p in points[bears]} <= corners | {tuple(points[0]), tuple(points[-1])}


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_point_that_the_string_just_touches_is_kept_where_asked(side):
    points = np.array([[0.0, 0.0], [1.0, side], [2.0, 0.0], [3.0, 0.0], [4.0, side], [6.0, 0.0]])
    assert taut_string(points, side).tolist() == [0, 5]
    assert taut_string(points, side, grazed=True).tolist() == [0, 2, 3, 5]


def test_highest_points_agree_with_shapely() -> None:
    rng = np.random.default_rng(11)
    points = np.cumsum(rng.normal(size=(5, 40, 2)) * [12.0, 9.0], axis=1)
    points[:, 5] = points[:, 4] + [0.0, 7.0]  # a stretch at constant x
    points[0, 30:] = points[0, 30]  # padded
    ends = [*points[..., 0].min(axis=1), *points[..., 0].max(axis=1)]  # met in one point
    x = np.unique([*np.linspace(-60.0, 60.0, 41), points[2, 4, 0], *ends])
    tops = highest_at(points, x)
    for contour, row in zip(points, tops, strict=True):
        assert not np.isnan(row[np.isin(x, [contour[:, 0].min(), contour[:, 0].max()])]).any()
        line = shapely.LineString(contour)
        for at, top in zip(x, row, strict=True):
            upright = shapely.LineString([(at, -1e4), (at, 1e4)])
            met = shapely.get_coordinates(line.intersection(upright))
            if len(met):
                assert top == pytest.approx(met[:, 1].max(), abs=1e-9)
            elif np.abs(contour[:, 0] - at).min() > 1e-9:
                assert np.isnan(top)

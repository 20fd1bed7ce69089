"""Facets cut by planes, and the side edge and corner gauge on them, against slow plain methods."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from frontcheck.geometry.facet_cuts import cut_facets, goes_on, smooth_places
from frontcheck.lines.side import Side
from frontcheck.surface.surface import NO_PART, Facets


def soup(seed, count=200):
    """Triangles at random to the right of the centre plane."""
    rng = np.random.default_rng(seed)
    middle = rng.uniform((0.0, 100.0, 300.0), (600.0, 800.0, 900.0), (count, 3))
    corners = middle[:, None] + rng.normal(0.0, 60.0, (count, 3, 3))
    return Facets(corners, np.full(count, NO_PART))


def crossings(triangle, axis, at):
    """Where the sides of one triangle cross a plane, one by one."""
    found = []
    for i in range(3):
        p, q = triangle[i], triangle[i - 2]
        if (p[axis] - at) * (q[axis] - at) < 0.0:
            found.append(p + (at - p[axis]) / (q[axis] - p[axis]) * (q - p))
    return found


def patch(fn, us, vs):
    """A grid of facets."""
    p = np.array([[fn(u, v) for v in vs] for u in us], dtype=float)
    a, b, c, d = p[:-1, :-1], p[:-1, 1:], p[1:, :-1], p[1:, 1:]
    pairs = (np.stack(t, axis=2).reshape(-1, 3, 3) for t in ((a, b, c), (b, d, c)))
    corners = np.concatenate(list(pairs))
    return Facets(corners, np.full(len(corners), NO_PART))


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_cuts_are_what_the_sides_of_each_triangle_give(axis) -> None:
    facets = soup(axis)
    levels = np.array([120.0, 333.0, 480.0])
    cuts = cut_facets(facets.corners, axis, levels)
    expected = {
        (k, i): crossings(triangle, axis, at)
        for i, triangle in enumerate(facets.corners)
        for k, at in enumerate(levels.tolist())
    }
    expected = {key: value for key, value in expected.items() if value}
    assert set(zip(cuts.level.tolist(), cuts.facet.tolist(), strict=True)) == set(expected)
    for key, ends in zip(zip(cuts.level, cuts.facet, strict=True), cuts.ends, strict=True):
        want = np.array(expected[int(key[0]), int(key[1])])
        # Either end may come first.
        turned = np.abs(ends[0] - want[0]).max() > np.abs(ends[0] - want[1]).max()
        assert ends == pytest.approx(want[::-1] if turned else want, abs=1e-9)


def test_corners_on_the_plane_and_facets_in_it_have_cuts() -> None:
    flat = np.array([[(5.0, 0.0, 0.0), (5.0, 10.0, 0.0), (5.0, 0.0, 10.0)]])
    cuts = cut_facets(flat, 0, np.array([5.0]))
    assert {tuple(p) for p in cuts.ends.reshape(-1, 3)} == {tuple(p) for p in flat[0]}
    leaning = np.array([[(5.0, 0.0, 0.0), (5.0, 10.0, 0.0), (9.0, 0.0, 10.0)]])
    for corners in (leaning, leaning[:, ::-1], 10.0 - leaning):
        ends = cut_facets(corners, 0, np.array([5.0])).ends
        assert {tuple(p) for p in ends[0]} == {tuple(p) for p in corners[0] if p[0] == 5.0}


@pytest.mark.parametrize("seed", range(5))
def test_the_side_edge_on_triangles_at_random(seed) -> None:
    """Of all crossings of all sides of all triangles the one farthest out at 45 deg."""
    facets = soup(seed)
    levels = np.linspace(50.0, 550.0, 23)
    found = Side.of(facets, 45.0).contacts(levels)
    for k, x in enumerate(levels.tolist()):
        every = [p for triangle in facets.corners for p in crossings(triangle, 0, x)]
        out = [p[1] + p[2] for p in every]
        best = every[int(np.argmax(out))]
        assert found.y[k] + found.z[k] == pytest.approx(max(out), abs=1e-9)
        # Triangles at random meet in sharp edges, so the touch is on one of them.
        assert (found.y[k], found.z[k]) == pytest.approx((best[1], best[2]), abs=1e-6)


def test_the_side_edge_keeps_off_what_is_no_front_structure() -> None:
    """UN R127 02 series, 2.22 (text read): not the windscreen, nor what is rearward of it."""
    from frontcheck.surface.section import PARTS

    bonnet = patch(lambda x, y: (x, y, 800.0), np.arange(0.0, 1001.0, 50.0), (0.0, 300.0, 600.0))
    glass = patch(
        lambda x, y: (x, y, 300.0 + 0.5 * x), np.arange(1000.0, 1501.0, 50.0), (0.0, 300.0, 600.0)
    )
    roof = patch(lambda x, y: (x, y, 1050.0), np.arange(1500.0, 2001.0, 50.0), (0.0, 300.0, 600.0))
    labelled = Facets(glass.corners, np.full(len(glass), PARTS.index("windscreen")))
    line = Side.of(Facets.joined([bonnet, labelled, roof]), 45.0).line()
    assert line.points[:, 0].max() == pytest.approx(1000.0)
    assert line.points[:, 2] == pytest.approx(800.0, abs=1e-9)
    assert line.open_end.all()  # the bonnet ends at the contact
    bare = Side.of(Facets.joined([bonnet, glass, roof]), 45.0).line()
    assert bare.points[:, 2].max() == pytest.approx(1050.0, abs=1e-9)


@pytest.mark.parametrize(("gap", "ended"), [(4.0, False), (60.0, True)])
def test_a_gap_between_panels_is_no_open_end_and_a_wide_one_is(gap, ended) -> None:
    """The bonnet ends at y = 600 and is touched there; the wing goes on, 30 mm lower."""
    bonnet = patch(lambda x, y: (x, y, 800.0), (0.0, 100.0, 200.0), (0.0, 300.0, 600.0))
    wing = patch(
        lambda x, s: (x, 600.0 + gap + s, 790.0 - gap - 3.0 * s), (0.0, 100.0, 200.0), (0.0, 90.0)
    )
    found = Side.of(Facets.joined([bonnet, wing]), 45.0).contacts(np.array([50.0, 130.0]))
    assert found.y == pytest.approx(600.0, abs=1e-9)
    assert found.open_end.tolist() == [ended] * 2


@pytest.mark.parametrize("facet", [2.0, 5.0, 10.0])
@pytest.mark.parametrize("turn", [0.0, 0.31, 0.77])
def test_a_circle_in_facets_is_touched_where_the_circle_is(facet, turn) -> None:
    """Side circle: (y0 + R / sqrt 2, z0 + R / sqrt 2) however its facets are turned."""
    radius, y0, z0 = 250.0, 450.0, 600.0
    step = facet / radius
    angles = np.arange(-0.3, 1.8, step) + turn * step
    facets = patch(
        lambda x, a: (x, y0 + radius * math.sin(a), z0 + radius * math.cos(a)),
        np.arange(0.0, 101.0, 50.0), angles,
    )  # fmt: skip
    line = Side.of(facets, 45.0).line()
    expected = (y0 + radius / math.sqrt(2.0), z0 + radius / math.sqrt(2.0))
    assert not line.open_end.any()
    # Along the tool facet / 60 is left of a touch that could be half a facet off; square to it
    # the facet error c^2 / 8R, which is all that is left out.
    along = (line.y - expected[0]) - (line.z - expected[1])
    square = (line.y - expected[0]) + (line.z - expected[1])
    assert np.abs(along).max() / math.sqrt(2.0) <= facet / 60.0 + 1e-9
    assert np.abs(square).max() / math.sqrt(2.0) <= facet**2 / (8.0 * radius) + 1e-9


def test_an_edge_is_touched_at_the_edge() -> None:
    points = np.array([(-50.0, -40.0), (-20.0, -9.0), (0.0, 0.0), (25.0, -20.0), (55.0, -60.0)])
    # A flat top on the tool is touched where it was asked for: at the end that counts.
    flat = np.array([(-50.0, -9.0), (-25.0, 0.0), (25.0, 0.0), (50.0, -9.0)])
    group = np.repeat([0, 2], [len(points), len(flat)])
    every = np.concatenate([points, flat])
    # A touch of which no point is known stays where it is.
    at = np.array([0.0, 7.0, -25.0])
    assert smooth_places(group, every, at).tolist() == at.tolist()


def test_the_mean_touch_is_that_of_a_string_over_the_points() -> None:
    """Against a hull by scipy and leans weighed one by one."""
    from scipy.spatial import ConvexHull

    rng = np.random.default_rng(7)
    count, reach = 40, math.radians(1.5)
    groups, every, expected = [], [], []
    for i in range(count):
        radius, middle = rng.uniform(300.0, 2000.0), rng.uniform(-5.0, 5.0)
        along = np.sort(rng.uniform(-58.0, 58.0, 120))
        out = np.sqrt(radius**2 - (along - middle) ** 2) - radius
        # Some lie below the true contour, as corners of facets behind it do.
        out -= np.where(rng.random(120) < 0.3, rng.uniform(0.0, 2.0, 120), 0.0)
        points = np.stack([along, out], axis=1)
        hull = points[np.sort(ConvexHull(points).vertices)]
        chord = hull[0, 1] + (hull[:, 0] - hull[0, 0]) / (hull[-1, 0] - hull[0, 0]) * (
            hull[-1, 1] - hull[0, 1]
        )
        hull = hull[hull[:, 1] >= chord - 1e-12]
        lean = np.arctan2(*np.diff(hull, axis=0).T[::-1])
        most = int(hull[:, 1].argmax())
        own = min(max(reach, 1.2 * (lean[most - 1] - lean[most])), lean[0], -lean[-1])

        def share(angle: float, own: float = own) -> float:
            """Share of all leans, weighed by a triangle from -own to own, that lie below one."""
            t = max(-1.0, min(1.0, angle / own))
            return 0.5 * (1.0 + t) ** 2 if t < 0.0 else 1.0 - 0.5 * (1.0 - t) ** 2

        places = hull[1:-1, 0]
        weights = [share(a) - share(b) for a, b in pairwise(lean)]
        expected.append(float(np.dot(weights, places)))
        groups.append(np.full(120, i))
        every.append(points)
        assert abs(sum(weights) - 1.0) < 1e-12
    shuffled = rng.permutation(120 * count)
    found = smooth_places(
        np.concatenate(groups)[shuffled], np.concatenate(every)[shuffled], np.zeros(count)
    )
    assert np.abs(found - expected).max() < 1e-9


def test_contours_go_on_across_gaps() -> None:
    touch = np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 0.0]])
    group = np.array([0, 0, 1, 2, 2])
    along = np.array([(-10.0, 0.0), (0.0, 10.0), (-10.0, 0.0), (-10.0, 0.0), (20.0, 40.0)])
    out = np.zeros((5, 2))
    assert goes_on(group, along, out, touch, 25.0).tolist() == [True, False, True]
    assert goes_on(group, along, out, touch, 15.0).tolist() == [True, False, False]


def test_the_line_of_a_narrow_bend_has_more_places() -> None:
    """The side steps in by 200 mm within 20 mm of x."""
    facets = patch(
        lambda x, y: (x, y * float(np.interp(x, [400.0, 420.0], [1.0, 0.7])), 900.0 - 0.3 * y),
        np.arange(0.0, 801.0, 5.0), (0.0, 300.0, 600.0, 640.0),
    )  # fmt: skip
    line = Side.of(facets, 45.0).line()
    assert np.diff(line.x).max() <= 10.0
    assert np.diff(line.x).min() < 3.0
    exact = 640.0 * np.interp(line.x, [400.0, 420.0], [1.0, 0.7])
    assert line.y == pytest.approx(exact, abs=1e-6)
    between = np.linspace(5.0, 795.0, 1000)
    assert np.interp(between, line.x, line.y) == pytest.approx(
        640.0 * np.interp(between, [400.0, 420.0], [1.0, 0.7]), abs=1.0
    )


def test_a_line_meets_the_side_between_its_points() -> None:
    """The side runs out with x: y = 500 + 0.2 x; a line at 45 deg from (0, 400) meets it."""
    facets = patch(
        lambda x, s: (x, (500.0 + 0.2 * x) * s, 800.0 - 10.0 * s), np.arange(0.0, 801.0, 20.0),
        (0.0, 0.5, 1.0),
    )  # fmt: skip
    line = np.stack(
        [np.linspace(0.0, 300.0, 4), np.linspace(400.0, 700.0, 4), np.full(4, 790.0)], axis=1
    )
    met = Side.of(facets, 45.0).meeting(line, "BLERL")
    x = 100.0 / 0.8
    assert met.point == pytest.approx((x, 400.0 + x, 790.0), abs=1e-6)
    outside = Side.of(facets, 45.0).meeting(np.add(line, (0.0, 300.0, 0.0)), "BLERL")
    assert outside.point is None
    assert "outside the SRL" in outside.reason

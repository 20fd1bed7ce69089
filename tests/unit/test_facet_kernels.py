"""Facets cut by planes, and smooth touches at their borders, against loops and closed forms."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from frontcheck.geometry.connected import pieces_of
from frontcheck.geometry.facet_cuts import cut_facets, goes_on, smooth_places, spans


def met(triangle, axis, at):
    """Every place in which an edge of a triangle meets a plane: crossings and corners."""
    found = {tuple(p) for p in triangle.tolist() if p[axis] == at}
    for i in range(3):
        p, q = triangle[i], triangle[i - 1]
        if (p[axis] - at) * (q[axis] - at) < 0.0:
            point = p + (at - p[axis]) / (q[axis] - p[axis]) * (q - p)
            found.add(tuple(np.round(point, 9) + 0.0))
    return found


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_cuts_through_corners_and_along_edges_are_those_of_a_loop(axis) -> None:
    rng = np.random.default_rng(axis)
    tri = rng.integers(-3, 4, (300, 3, 3)).astype(float)  # corners on planes, level facets too
    levels = np.array([-4.0, -2.0, -1.0, 0.0, 0.5, 2.0, 3.0])
    cuts = cut_facets(tri, axis, levels)
    found: dict[tuple[int, int], list] = {}
    for level, facet, ends in zip(cuts.level, cuts.facet, cuts.ends, strict=True):
        assert (ends[:, axis] == levels[level]).all()
        found.setdefault((int(level), int(facet)), []).append(ends)
    low, high = spans(tri, axis)
    assert low.tolist() == [min(p[axis] for p in t) for t in tri.tolist()]
    assert high.tolist() == [max(p[axis] for p in t) for t in tri.tolist()]
    for k, at in enumerate(levels.tolist()):
        for i, triangle in enumerate(tri):
            want = met(triangle, axis, at)
            ends = found.get((k, i), [])
            level = bool((triangle[:, axis] == at).all())
            assert len(ends) == (3 if level else 1 if want else 0)
            got = {tuple(np.round(p, 9) + 0.0) for pair in ends for p in pair}
            assert got == want
    # All three edges of a level facet, each once.
    flat = np.array([[(0.0, 0.0, 0.0), (4.0, 0.0, 0.0), (0.0, 3.0, 0.0)]])
    edges = {frozenset(map(tuple, e.tolist())) for e in cut_facets(flat, 2, np.zeros(1)).ends}
    assert len(edges) == 3
    for given, planes in ((tri[:0], levels), (tri, levels[:0]), (tri, np.array([90.0]))):
        none = cut_facets(given, axis, planes)
        assert (len(none.level), len(none.facet), none.ends.shape) == (0, 0, (0, 2, 3))


# --- touches on smooth shapes -------------------------------------------------------------


def contour(steps, leans_deg, at=0):
    """Points (along, out) of a contour by the steps along and their leans; point `at` at 0, 0."""
    slopes = np.tan(np.radians(leans_deg))
    along = np.concatenate([[0.0], np.cumsum(steps)])
    out = np.concatenate([[0.0], np.cumsum(np.array(steps) * slopes)])
    return np.stack([along - along[at], out - out[at]], axis=1)


def mean_touch(points, leans_deg, reach_deg):
    """Mean place over leans, weighed by a triangle from -reach to reach."""

    def below(lean):
        t = max(-1.0, min(1.0, lean / reach_deg))
        return 0.5 * (1.0 + t) ** 2 if t < 0.0 else 1.0 - 0.5 * (1.0 - t) ** 2

    weights = [below(a) - below(b) for a, b in pairwise(leans_deg)]
    return float(np.dot(weights, points[1:-1, 0]))


def place(points, at=0.0):
    return float(smooth_places(np.zeros(len(points), dtype=int), points, np.array([at]))[0])


@pytest.mark.parametrize(("bend", "smooth"), [(2.0, True), (11.9, True), (12.1, False)])
def test_a_contour_that_turns_by_more_than_12_deg_is_touched_at_its_edge(bend, smooth) -> None:
    """Own choice. Leans are weighed up to 1.2 times the bend, and 1.5 deg at least."""
    leans = [17.0, 9.0, 0.6 * bend, -0.4 * bend, -8.5, -17.0]
    points = contour([8.0, 6.0, 9.0, 11.0, 7.0, 5.0], leans, 3)
    found = place(points)
    if smooth:
        reach = max(1.5, 1.2 * bend)
        assert found == pytest.approx(mean_touch(points, leans, reach), abs=1e-9)
        assert bend < 2.5 or abs(found) > 0.01
    else:
        assert found == 0.0


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize(("length", "flat"), [(39.0, False), (41.0, True)])
def test_nothing_is_known_beyond_a_flat_piece_of_more_than_40_mm(length, flat, way) -> None:
    """Own choice: leans are then weighed up to that of the flat piece only."""
    leans, steps = [5.0, 1.0, 0.4, -0.5, -1.2, -5.0], [9.0, 6.0, 6.0, 7.0, length, 4.0]
    points = contour(steps, leans, 3)
    found = place(points[::-1] * [-1.0, 1.0] if way < 0.0 else points)
    reach = min(1.5, 1.2) if flat else 1.5
    assert found == pytest.approx(way * mean_touch(points, leans, reach), abs=1e-9)
    # So it is ahead of the touch.
    leans, steps = [5.0, 1.2, 0.5, -0.4, -1.0, -5.0], [4.0, length, 7.0, 6.0, 6.0, 9.0]
    points = contour(steps, leans, 3)
    assert place(points) == pytest.approx(mean_touch(points, leans, reach), abs=1e-9)


def test_points_more_than_60_mm_along_are_not_looked_at() -> None:
    """The end of what is looked at is as a flat piece: its lean bounds what is known."""
    leans, steps = [4.0, 0.9, 0.4, -0.5, -1.0, -4.0], [20.0, 20.0, 20.0, 20.0, 20.0, 20.0]
    points = contour(steps, leans, 3)
    assert place(points) == pytest.approx(mean_touch(points, leans, 1.5), abs=1e-9)
    for k, cut in ((0, points[1:]), (6, points[:-1])):
        moved = points.copy()
        moved[k, 0] += -1.0 if k == 0 else 1.0  # 61 mm off
        own = [a for a in leans if a not in {4.0 if k == 0 else -4.0}]
        reach = min(1.5, 0.9 if k == 0 else 1.0)
        assert place(moved) == pytest.approx(mean_touch(cut, own, reach), abs=1e-9)


@pytest.mark.parametrize("away", [0.0, 7.0, -6.0])
def test_the_touch_is_where_the_contour_stands_out_most_wherever_it_is_asked_for(away) -> None:
    """Second of all points and last but one too; the ends bound what is known."""
    leans, steps = [0.9, -0.3, -1.1], [10.0, 12.0, 10.0]
    points = contour(steps, leans, 1)
    want = mean_touch(points, leans, 0.9)
    assert abs(want) > 0.1
    assert place(points, away) == pytest.approx(want, abs=1e-9)
    assert place(points[::-1] * [-1.0, 1.0], away) == pytest.approx(-want, abs=1e-9)


def test_the_touch_at_an_end_or_of_few_points_stays_where_it_is() -> None:
    points = contour([10.0, 10.0], [-0.2, -0.6])  # falls from its first point on
    assert place(points, 1.5) == 1.5
    assert place(points[:1], 0.5) == 0.5
    assert place(points[:2], 0.5) == 0.5
    rising = contour([10.0, 10.0], [0.6, 0.2])
    assert place(rising, 19.0) == 19.0
    # Of two places as far out the nearer to the touch asked for counts.
    twin = np.array([(-30.0, -1.0), (-20.0, 0.0), (20.0, 0.0), (30.0, -1.0)])
    for at in (-12.0, 12.0):
        lean = math.degrees(math.atan(0.1))
        want = mean_touch(twin, [lean, 0.0, -lean], 1.2 * lean)
        got = place(twin, at)
        # One lies beside a flat piece of 40 mm, which is not longer than that.
        assert got == pytest.approx(want, abs=1e-9) or got == at
    assert smooth_places(np.zeros(0, int), np.zeros((0, 2)), np.array([3.0, 4.0])).tolist() == [
        3.0, 4.0
    ]  # fmt: skip


def test_touches_are_those_of_each_group_alone() -> None:
    rng = np.random.default_rng(3)
    groups, every, want = [], [], []
    for i in range(30):
        n = int(rng.integers(1, 40))
        along = np.round(rng.uniform(-70.0, 70.0, n))
        out = np.round(-(along**2) / rng.uniform(300.0, 3000.0) - rng.uniform(0.0, 1.0, n), 1)
        points = np.stack([along, out], axis=1)
        want.append(place(points, 0.5))
        if i % 7 == 6:  # one of which nothing is known
            want[-1] = 0.5
            continue
        groups.append(np.full(n, i))
        every.append(points)
    order = rng.permutation(sum(map(len, groups)))
    group, points = np.concatenate(groups)[order], np.concatenate(every)[order]
    twice = np.concatenate([group, group]), np.concatenate([points, points])
    for own in ((group, points), twice):
        assert smooth_places(*own, np.full(30, 0.5)).tolist() == pytest.approx(want, abs=1e-9)
    assert sum(abs(w - 0.5) > 1e-3 for w in want) > 5


@pytest.mark.parametrize(
    ("along", "out", "on"),
    [
        ((-10.0, 0.0), (0.0, 0.0), False),  # ends in the touch
        ((-10.0, 9e-7), (0.0, 0.0), False),  # beyond by less than 1e-6 mm
        ((-10.0, 2e-6), (0.0, 0.0), True),
        ((2e-6, -10.0), (0.0, 0.0), True),  # either end
        ((24.9, 40.0), (0.0, 0.0), True),  # across a gap of 25 mm
        ((25.1, 40.0), (0.0, 0.0), False),
        ((3.0, 40.0), (-24.5, -90.0), True),  # sqrt(3^2 + 24.5^2) = 24.7
        ((10.0, 40.0), (-24.5, -90.0), False),  # 26.5
        ((-50.0, 50.0), (-24.9, -24.9), True),  # its middle is nearest
        ((-50.0, 50.0), (25.1, 25.1), False),
        ((5.0, 5.0), (0.0, 0.0), True),  # of no length
    ],
)
def test_a_contour_goes_on_within_a_gap_of_the_touch(along, out, on) -> None:
    found = goes_on(np.array([1]), np.array([along]), np.array([out]), np.zeros((3, 2)), 25.0)
    assert found.tolist() == [False, on, False]
    touch = np.array([[100.0, 7.0]])
    found = goes_on(np.array([0]), np.array([along]) + 100.0, np.array([out]) + 7.0, touch, 25.0)
    assert found.tolist() == [on]


# --- pieces of a mesh ---------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_pieces_of_a_mesh_are_those_of_a_graph(seed) -> None:
    import networkx as nx

    rng = np.random.default_rng(seed)
    tri = rng.integers(-4, 5, (60, 3, 3)).astype(float)
    tri[0, 0] = -0.0  # a zero with a sign is the same place
    tri[1, 2] = 0.0
    graph = nx.Graph()
    for i, corners in enumerate(tri):
        for corner in corners.tolist():
            graph.add_edge(i, tuple(c + 0.0 for c in corner))
    groups = [sorted(v for v in part if isinstance(v, int))
              for part in nx.connected_components(graph)]  # fmt: skip
    found = pieces_of(tri)
    assert sorted(np.flatnonzero(found.of == k).tolist() for k in range(len(found.low))) == sorted(
        groups
    )
    for k in range(len(found.low)):
        own = tri[found.of == k]
        assert found.low[k].tolist() == own.reshape(-1, 3).min(axis=0).tolist()
        assert found.high[k].tolist() == own.reshape(-1, 3).max(axis=0).tolist()
        area = np.linalg.norm(np.cross(own[:, 1] - own[:, 0], own[:, 2] - own[:, 0]), axis=1) / 2.0
        assert found.area[k] == pytest.approx(area.sum())

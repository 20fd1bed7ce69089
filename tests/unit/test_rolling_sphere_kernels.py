"""The parts of the rolling sphere: planes, stretches, touches, open ends, the seam.

Closed forms are worked out where they stand; the rest is held against loops over everything.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from ruled_sheets import net, ruled

from frontcheck.geometry import rolling_sphere, sphere_seam
from frontcheck.geometry.near_triangles import Pieces
from frontcheck.geometry.rolling_sphere import sphere_line

R = 82.5


def line_of(front, screen, stations, radius=R):
    return sphere_line([front, screen], radius, np.array(stations))


Y = np.arange(-120.0, 121.0, 20.0)
BONNET = ruled([(-200.0, 0.0), (-30.0, 0.0), (0.0, 0.0)], Y)
GLASS = ruled([(0.0, 0.0), (60.0, 45.0), (240.0, 180.0)], Y)  # slope 3 : 4
AHEAD = R * math.tan(math.atan2(3.0, 4.0) / 2.0)  # R tan(d / 2) from the seam: R / 3


# --- planes -------------------------------------------------------------------------------


def test_planes_through_corners_are_cut_on_either_side() -> None:
    """1e-7 mm either way where a corner lies within twice that; the stations in any order."""
    corners = np.array([-40.0, 0.0, 15.0, 33.3])
    tri = np.zeros((2, 3, 3))
    tri[..., 1] = [[-40.0, 0.0, 15.0], [33.3, 0.0, 15.0]]
    stations = np.array([15.0, -41.0, 0.0, 33.3 + 1.5e-7, -40.0 - 1.5e-7, 33.3 - 3e-7, 7.0, 90.0])
    station, level = rolling_sphere._cuts(stations, tri)
    assert (np.diff(level) >= 0.0).all()
    want = []
    for i, y in enumerate(stations.tolist()):
        through = np.abs(corners - y).min() <= 2e-7
        want += [(y - 1e-7, i), (y + 1e-7, i)] if through else [(y, i)]
    assert sorted(zip(level.tolist(), station.tolist(), strict=True)) == sorted(want)
    assert len(level) == len(stations) + 4


@pytest.mark.parametrize("sweep", [0.0, 0.35])
def test_a_station_through_corners_is_the_mean_of_both_sides(sweep) -> None:
    """Level bonnet, windscreen 3 : 4: R / 3 ahead of the seam; all stations in corners."""
    y = np.arange(-200.0, 201.0, 20.0)
    front = ruled([(-200.0, 0.0), (-30.0, 0.0), (0.0, 0.0)], y, sweep)
    screen = ruled([(0.0, 0.0), (60.0, 45.0), (240.0, 180.0)], y, sweep)
    stations = [20.0, -40.0, 0.0, 3.0, 20.0]
    line = line_of(front, screen, stations)
    assert line.touched.tolist() == [True] * 5
    # The plane z = 0.75 (x - sweep y) and the sphere over the level bonnet at its centre.
    length = math.sqrt(1.0 + 0.75**2 * (1.0 + sweep**2))
    x = sweep * np.array(stations) + R * (1.0 - length) / 0.75
    assert line.front[:, 0] == pytest.approx(x, abs=1e-6)
    assert line.front[:, 1].tolist() == stations
    assert line.front[:, 2] == pytest.approx(0.0, abs=1e-9)
    assert line.centre == pytest.approx(np.stack([x, stations, np.full(5, R)], 1), abs=1e-6)
    normal = np.array([-0.75, 0.75 * sweep, 1.0]) / length
    assert line.screen == pytest.approx(line.centre - R * normal, abs=1e-6)
    assert not line.front_end.any()
    assert not line.screen_end.any()


# --- stretches ----------------------------------------------------------------------------


def crossings(triangle, y):
    """Where the edges of a triangle cross y, one by one."""
    return [
        p + (y - p[1]) / (q[1] - p[1]) * (q - p)
        for p, q in itertools.combinations(triangle, 2)
        if (p[1] < y) != (q[1] < y)
    ]


def near_segment(a, b, at):
    t = min(max((at - a) @ (b - a) / max((b - a) @ (b - a), 1e-30), 0.0), 1.0)
    return float(np.linalg.norm(a + t * (b - a) - at))


@pytest.mark.parametrize("seed", range(3))
def test_stretches_are_those_of_all_triangles_near_a_sphere(seed) -> None:
    rng = np.random.default_rng(seed)
    sheet = net(
        np.stack(
            [
                *np.meshgrid(
                    np.arange(-60.0, 61.0, 12.0), np.arange(-50.0, 51.0, 12.0), indexing="ij"
                ),
                rng.normal(size=(11, 9)) * 4.0,
            ],
            -1,
        )
    )
    loose = rng.uniform(-90.0, 90.0, (40, 1, 3)) + rng.normal(0.0, 12.0, (40, 3, 3))
    tri = np.concatenate([sheet, loose])
    level = np.array([-37.0, -11.1, 5.0, 23.4])
    centre = np.stack([[-40.0, 0.0, 30.0, 80.0], level, [12.0, 9.0, 20.0, 14.0]], axis=1)
    found = rolling_sphere._Stretches(tri, Pieces.of(loose[:1]), level, centre, 10.0)
    want = []
    for row, y in enumerate(level.tolist()):
        for triangle in tri:
            ends = crossings(triangle, y)
            # Within the radius and 15 mm of the rough place (own choice).
            if ends and near_segment(*ends, centre[row]) <= 25.0:
                want.append((row, triangle, ends))
    assert len(found.row) == len(want) >= 20
    key = {tuple(np.round(sorted(map(tuple, e)), 6).ravel()): (r, t) for r, t, e in want}
    assert len(key) == len(want)
    for i in range(len(want)):
        ends = found.ends[:, i]
        row, triangle = key[tuple(np.round(sorted(map(tuple, ends)), 6).ravel())]
        assert found.row[i] == row
        assert (ends[:, 1] == level[row]).all()
        normal = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
        normal /= np.linalg.norm(normal)
        # On the side of the centre.
        normal *= np.sign((centre[row] - ends[0]) @ normal)
        assert found.normal[i] == pytest.approx(normal, abs=1e-9)
        for end in (0, 1):
            edge, out = found.edge[end, i], found.out[end, i]
            assert np.linalg.norm(edge) == pytest.approx(1.0)
            assert np.linalg.norm(out) == pytest.approx(1.0)
            assert edge @ out == pytest.approx(0.0, abs=1e-9)
            assert edge[1] > 0.0
            assert out @ normal == pytest.approx(0.0, abs=1e-9)
            # The edge holds two corners, from which `out` leads away from the third.
            off = np.cross(triangle - ends[end], edge)
            third = np.linalg.norm(off, axis=1).argmax()
            assert (triangle[third] - ends[end]) @ out < 0.0
            assert sorted(np.linalg.norm(off, axis=1))[1] == pytest.approx(0.0, abs=1e-7)
    _check_mates(found)


def _check_mates(found):
    """Crossings of one plane in the same place belong together in pairs."""
    ends = found.ends.reshape(-1, 3)
    rows = np.tile(found.row, 2)
    together = {}
    for i, (row, at) in enumerate(zip(rows.tolist(), ends.tolist(), strict=True)):
        together.setdefault((row, at[0], at[2]), []).append(i)
    for group in together.values():
        assert len(group) in {1, 2}
        for i in group:
            other = [j for j in group if j != i]
            assert found.mate[i] == (other[0] if other else -1)
    normals = np.tile(found.normal, (2, 1))
    for i, mate in enumerate(found.mate.tolist()):
        # Sharp where normals agree less than 0.9, and where nothing goes on.
        assert found.sharp[i] == (mate < 0 or normals[i] @ normals[mate] < 0.9)
    assert {bool(s) for s in found.sharp} == {True, False}


def test_three_triangles_at_an_edge_leave_one_without_a_mate() -> None:
    a, b = (0.0, -10.0, 0.0), (0.0, 10.0, 0.0)
    tri = np.array([(a, b, (10.0, 0.0, 0.0)), (a, b, (-10.0, 0.0, 0.0)), (a, b, (0.0, 0.0, 10.0))])
    found = rolling_sphere._Stretches(
        tri, Pieces.of(tri + 500.0), np.array([1.0]), np.array([[2.0, 1.0, 9.0]]), 10.0
    )
    at = np.flatnonzero((found.ends.reshape(-1, 3)[:, [0, 2]] == 0.0).all(axis=1))
    assert len(at) == 3
    assert (found.mate[at] < 0).sum() == 1
    first, second = (i for i in at.tolist() if found.mate[i] >= 0)
    assert (found.mate[first], found.mate[second]) == (second, first)


# --- places on triangles ------------------------------------------------------------------


def test_angles_round_a_point_of_a_triangle() -> None:
    """All round within it, half on an edge, that of the corner in a corner [rad]."""
    tri = np.array([(0.0, 0.0, 5.0), (40.0, 0.0, 5.0), (0.0, 30.0, 5.0)])
    at = np.array([(5.0, 5.0, 5.0), (9.0, 0.0, 5.0), (20.0, 15.0, 5.0), (0.0, 11.0, 5.0), *tri])
    found = rolling_sphere._angle(np.repeat(tri[None], 7, axis=0), at)
    lean = math.atan2(30.0, 40.0)
    want = [2.0 * math.pi, *[math.pi] * 3, math.pi / 2.0, lean, math.pi / 2.0 - lean]
    assert found == pytest.approx(want, abs=1e-9)
    # Points closer than 1e-6 mm to an edge or a corner lie on it.
    near = np.array([(9.0, 0.9e-6, 5.0), (9.0, 1.1e-6, 5.0), (0.9e-6, 0.0, 5.0)])
    found = rolling_sphere._angle(np.repeat(tri[None], 3, axis=0), near)
    assert found == pytest.approx([math.pi, 2.0 * math.pi, math.pi / 2.0], abs=1e-6)


def test_the_nearest_of_every_row() -> None:
    pair = np.array([2, 0, 2, 0, 4, 4])
    foot = np.arange(18.0).reshape(6, 3)
    gap = np.array([5.0, 2.0, 3.0, 7.0, 1.0, 1.0])
    feet, gaps = rolling_sphere._least(5, pair, foot, gap)
    assert gaps.tolist() == [2.0, math.inf, 3.0, math.inf, 1.0]
    assert feet.tolist() == [foot[1].tolist(), [0.0] * 3, foot[2].tolist(), [0.0] * 3,
                             foot[4].tolist()]  # fmt: skip
    feet, gaps = rolling_sphere._least(2, pair[:0], foot[:0], gap[:0])
    assert np.isinf(gaps).all()


# --- ends ---------------------------------------------------------------------------------


def test_each_end_is_told_of_the_surface_that_has_it() -> None:
    """Over a cowl the rear edge of the bonnet is touched; the glass goes on below, or ends."""
    short = ruled([(-200.0, 0.0), (0.0, 0.0)], Y)
    # The centre stands R off the edge at (0, 0) and R off the glass through (60, -30), 3 : 4.
    unit, square = np.array([0.8, 0.6]), np.array([-0.6, 0.8])
    base = np.array([60.0, -30.0]) + R * square
    half = base @ unit
    s = -half + math.sqrt(half * half - base @ base + R * R)
    centre = base + s * unit
    whole = ruled([(60.0 - 0.8 * 40.0, -30.0 - 0.6 * 40.0), (300.0, 150.0)], Y)
    ending = ruled([(60.0 + 0.8 * s, -30.0 + 0.6 * s), (300.0, 150.0)], Y)
    for screen, ended in ((whole, False), (ending, True)):
        line = line_of(short, screen, [-33.0, 0.0, 7.0])
        assert line.touched.all()
        assert line.front[:, [0, 2]] == pytest.approx(0.0, abs=1e-6)
        assert line.centre[:, [0, 2]] == pytest.approx(np.tile(centre, (3, 1)), abs=1e-6)
        assert line.front_end.tolist() == [True] * 3
        assert line.screen_end.tolist() == [ended] * 3
    # On the face of the bonnet nothing ends, though the glass does.
    on = centre[0] + 60.0
    longer = ruled([(-200.0, 0.0), (on, 0.0)], Y)
    hung = ruled([(0.0, 60.0), (240.0, 240.0)], Y)
    line = line_of(longer, hung, [1.0, 15.0])
    assert line.front_end.tolist() == [False] * 2
    assert line.screen_end.tolist() == [True] * 2
    # R over the bonnet and R off the edge at (0, 60).
    x = -math.sqrt(R**2 - (R - 60.0) ** 2)
    assert line.front[:, 0] == pytest.approx(x, abs=1e-7)


def test_a_sphere_in_a_hollow_in_plan_touches_two_places_and_none_between() -> None:
    """Two upright plates meet in a hollow at y = 0, as walls of a bonnet's rear edge.

    The edges x = -0.5 |y|, z = 0 are met at once by symmetry: the contact of the middle lies on
    the straight line between both, and the sphere one radius off both edges and the glass.
    """
    y = np.concatenate([np.arange(-120.0, 0.0, 20.0), np.arange(0.0, 121.0, 20.0)])
    rear = -np.abs(y) * -0.5 - 30.0  # the rear edge lies farther back the farther out
    nodes = np.zeros((len(y), 2, 3))
    nodes[:, 0, 0], nodes[:, 1, 0] = rear - 150.0, rear
    nodes[..., 1] = y[:, None]
    glass = ruled([(60.0 - 32.0, -30.0 - 24.0), (300.0, 150.0)], Y)
    line = line_of(net(nodes), glass, [-10.0, 0.0, 10.0])
    assert line.touched.all()
    unit, square = np.array([0.8, 0.6]), np.array([-0.6, 0.8])
    for centre in line.centre:
        off = (centre[[0, 2]] - [60.0, -30.0]) @ square
        assert off == pytest.approx(R, abs=1e-6)
        assert (centre[[0, 2]] - [60.0, -30.0]) @ unit > -40.0
        gaps = []
        for way in (-1.0, 1.0):
            # Distance from the edge (0.5 t - 30, way t, 0), t >= 0.
            a, step = np.array([-30.0, 0.0, 0.0]), np.array([0.5, way, 0.0])
            t = max((centre - a) @ step / (step @ step), 0.0)
            gaps.append(float(np.linalg.norm(a + t * step - centre)))
        assert min(gaps) == pytest.approx(R, abs=1e-6)
    assert line.centre[1, 1] == pytest.approx(0.0, abs=1e-5)
    assert line.centre[0] * [1.0, -1.0, 1.0] == pytest.approx(line.centre[2], abs=1e-5)


# --- the seam -----------------------------------------------------------------------------


def test_seams_are_edges_of_both_by_rising_y() -> None:
    edges = sphere_seam._seams(BONNET, Pieces.of(GLASS))
    assert len(edges) == len(Y) - 1
    assert (edges[:, :, [0, 2]] == 0.0).all()
    assert (edges[:, 0, 1] < edges[:, 1, 1]).all()
    assert sorted(edges[:, 0, 1].tolist()) == Y[:-1].tolist()
    turned = sphere_seam._seams(BONNET[:, ::-1], Pieces.of(GLASS))
    assert sorted(turned[:, :, 1].tolist()) == sorted(edges[:, :, 1].tolist())
    assert len(sphere_seam._seams(BONNET, Pieces.of(np.add(GLASS, [0.0, 0.0, 1.0])))) == 0
    # Along x a seam runs in no plane of its own.
    one = np.array([[(0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (0.0, 9.0, 0.0)]])
    other = np.array([[(0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (0.0, -9.0, 5.0)]])
    assert len(sphere_seam._seams(one, Pieces.of(other))) == 0


def test_levels_cross_seams_where_they_lie_both_ends_counted() -> None:
    edges = np.array([[(0.0, 0.0, 0.0), (4.0, 10.0, 8.0)], [(4.0, 10.0, 8.0), (9.0, 30.0, 8.0)]])
    levels = np.array([-1.0, 0.0, 2.5, 10.0, 30.0, 31.0])
    row, at = sphere_seam._crossings(edges, levels)
    assert sorted(zip(row.tolist(), map(tuple, at.tolist()), strict=True)) == [
        (1, (0.0, 0.0, 0.0)), (2, (1.0, 2.5, 2.0)), (3, (4.0, 10.0, 8.0)), (3, (4.0, 10.0, 8.0)),
        (4, (9.0, 30.0, 8.0)),
    ]  # fmt: skip


def test_a_sphere_rests_on_the_seam_square_to_the_windscreen_that_lets_it() -> None:
    """Both surfaces fall away: of two windscreens at the seam the sphere is kept off neither.

    Square to the glass 3 : 4 the centre stands R (-0.6, 0, 0.8) off the seam.
    """
    steep = ruled([(-200.0, -200.0), (0.0, 0.0)], Y)  # 45 deg, steeper than the glass
    on_front, on_glass = Pieces.of(steep), Pieces.of(GLASS)
    levels = np.array([-33.0, 0.0, 7.0, 500.0])
    rest, centre, at = sphere_seam.seam_rest(steep, on_front, on_glass, R, levels)
    assert rest.tolist() == [0, 1, 2]
    assert at == pytest.approx(np.stack([np.zeros(3), levels[:3], np.zeros(3)], axis=1))
    assert centre == pytest.approx(at + R * np.array([-0.6, 0.0, 0.8]))
    # A level bonnet is cut into; so is one that rises ahead.
    for bonnet in (BONNET, ruled([(-200.0, 90.0), (0.0, 0.0)], Y)):
        rest, centre, at = sphere_seam.seam_rest(bonnet, Pieces.of(bonnet), on_glass, R, levels)
        assert len(rest) == len(centre) == len(at) == 0
    # As steep as the glass, and 0.02 mm deeper and less deep at one radius from the seam (own
    # choice): the wedge is cut into by R (1 - cos d).
    for depth, free in ((0.019, True), (0.021, False)):
        lean = math.atan2(3.0, 4.0) - math.acos(1.0 - depth / R)
        bonnet = ruled([(-200.0 * math.cos(lean), -200.0 * math.sin(lean)), (0.0, 0.0)], Y)
        rest, *_ = sphere_seam.seam_rest(bonnet, Pieces.of(bonnet), on_glass, R, levels[:3])
        assert (len(rest) == 3) == free


def test_of_several_spheres_on_a_seam_the_highest_counts_once_a_level() -> None:
    """A crowned seam, z = -0.001 y^2 at its nodes: at a node the flatter facet holds it higher."""

    def crowned(tri):
        return tri - np.stack([0.0 * tri[..., 1], 0.0 * tri[..., 1], 0.001 * tri[..., 1] ** 2], -1)

    steep = crowned(ruled([(-200.0, -200.0), (0.0, 0.0)], Y))
    glass = crowned(ruled([(0.0, 0.0), (300.0, 225.0)], Y))
    levels = np.array([-40.0, -33.0, 7.0, 20.0, 60.0])
    for turn in (1, -1):  # whichever way round its triangles are given
        rest, centre, at = sphere_seam.seam_rest(
            steep, Pieces.of(steep), Pieces.of(glass[:, ::turn]), R, levels
        )
        assert rest.tolist() == [0, 1, 2, 3, 4]
        assert at[:, 1].tolist() == levels.tolist()
        # Facets fall by 0.02, 0.06, 0.10 from y = 0, 20, 40 on to the next node.
        slope = np.array([0.06, 0.06, -0.02, -0.02, -0.10])
        normal = np.stack([np.full(5, -0.75), -slope, np.ones(5)], axis=1)
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        assert centre == pytest.approx(at + R * normal, abs=1e-9)


def test_the_line_takes_the_seam_where_nothing_stops_the_sphere() -> None:
    steep = ruled([(-200.0, -200.0), (0.0, 0.0)], Y)
    line = line_of(steep, GLASS, [7.0, -33.0])
    assert line.touched.tolist() == [True, True]
    assert line.front == pytest.approx(np.array([[0.0, 7.0, 0.0], [0.0, -33.0, 0.0]]), abs=2e-3)
    assert line.screen == pytest.approx(line.front, abs=2e-3)
    assert line.centre - line.front == pytest.approx(
        np.tile([-0.6 * R, 0.0, 0.8 * R], (2, 1)), abs=2e-3
    )


# --- random surfaces ----------------------------------------------------------------------


def uneven(seed):
    """A swept, uneven corner of bonnet and windscreen of coarse facets, some with a gap."""
    rng = np.random.default_rng(seed)
    gap, sweep = rng.choice([0.0, 25.0]), rng.uniform(-0.7, 0.7)
    sides = []
    for x, slope, drop in ((np.arange(-270.0, 1.0, 30.0), rng.uniform(0.0, 0.25), 0.0),
                           (np.arange(0.0, 301.0, 30.0), rng.uniform(0.4, 0.8), gap)):  # fmt: skip
        nodes = np.stack(np.meshgrid(x, np.arange(-150.0, 151.0, 30.0), [0.0], indexing="ij"), -1)
        nodes = nodes[:, :, 0].copy()
        nodes[..., 2] = slope * nodes[..., 0] + rng.normal(size=nodes.shape[:2]) * 1.5 - 0.5 * drop
        nodes[..., 0] += sweep * nodes[..., 1] + drop
        sides.append(net(nodes))
    return sides


@pytest.mark.parametrize("seed", range(6))
def test_the_sphere_stands_one_radius_off_both_by_trimesh(seed) -> None:
    import trimesh

    front, screen = uneven(100 + seed)
    line = line_of(front, screen, [-44.0, -10.3, 1.7, 21.0])
    assert line.touched.all()
    for i in range(4):
        for side in (front, screen):
            at = np.repeat(line.centre[i : i + 1], len(side), axis=0)
            foot = trimesh.triangles.closest_point(side, at)
            assert np.linalg.norm(foot - at, axis=1).min() == pytest.approx(R, abs=1e-6)
        assert np.linalg.norm(line.screen[i] - line.centre[i]) == pytest.approx(R, abs=1e-5)
        assert np.linalg.norm(line.front[i] - line.centre[i]) <= R + 1e-5

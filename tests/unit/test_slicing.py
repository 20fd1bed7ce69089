"""Slicing triangles: closed-form bodies must give back the very outline they were made from."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.geometry.chains import Chain, ahead_of, link_segments
from frontcheck.geometry.outline import outer_contour
from frontcheck.geometry.seen import Stretches
from frontcheck.geometry.slicing import Axes, cut_mesh, slice_mesh
from frontcheck.geometry.thinning import Lines

# A front with an overhung lip, a recess and a cowl hollow; air on the left.
FRONT = np.array(
    [
        [400.0, 220.0],
        [120.0, 210.0],
        [30.0, 300.0],
        [55.0, 420.0],
        [10.0, 560.0],
        [40.0, 760.0],
        [150.0, 850.0],
        [1000.0, 980.0],
        [1040.0, 950.0],
        [1500.0, 1300.0],
    ]
)
WIDTHS = np.array([-800.0, -333.3, 0.0, 250.0, 800.0])


def extrude(line, widths=WIDTHS, closed=False):
    """Triangles of a polyline swept across the vehicle, wound outward, (m, 3, 3)."""
    ends = np.roll(line, -1, axis=0) if closed else line[1:]
    out = []
    for (x0, z0), (x1, z1) in zip(line[: len(ends)], ends, strict=True):
        for y0, y1 in zip(widths[:-1], widths[1:], strict=True):
            a, b, c, d = (x0, y0, z0), (x1, y0, z1), (x1, y1, z1), (x0, y1, z0)
            # Step x e_y points to the left of the step, into the air, so a, b, c is outward.
            out += [(a, b, c), (a, c, d)]
    return np.array(out)


def lengths(outline):
    return [bridge.length for bridge in outline.bridges]


def outlines(triangles, planes=(-500.0, -333.3, 0.0, 111.1, 799.0), **options):
    return [s.outline for s in slice_mesh(triangles, planes, **options)]


def assert_is(outline, line, tolerance=1e-9):
    assert outline is not None
    assert outline.points.shape == line.shape
    # Rounding of coordinates of some 1000 mm only.
    np.testing.assert_allclose(outline.points, line, rtol=0.0, atol=tolerance)


def test_extruded_outline_comes_back_at_every_plane() -> None:
    for outline in outlines(extrude(FRONT)):
        assert_is(outline, FRONT)
        assert outline.winding == 1
        assert outline.dropped == ()
        assert outline.bridges == ()


def test_mesh_turned_inside_out_gives_the_same_walk() -> None:
    for outline in outlines(extrude(FRONT)[:, ::-1]):
        assert_is(outline, FRONT)
        assert outline.winding == -1


def test_order_of_triangles_and_of_their_corners_does_not_matter() -> None:
    rng = np.random.default_rng(3)
    triangles = rng.permutation(extrude(FRONT))
    turns = rng.integers(0, 3, len(triangles))
    rolled = np.array([np.roll(t, k, axis=0) for t, k in zip(triangles, turns, strict=True)])
    flipped = rolled.copy()
    flipped[::3] = flipped[::3, ::-1]
    for outline in outlines(rolled):
        assert_is(outline, FRONT)
    cut = list(slice_mesh(flipped, (-500.0, 111.1)))
    for one in cut:
        assert_is(one.outline, FRONT)
        assert one.counts.flipped > 0
        assert one.outline.winding == 0


def test_duplicate_faces_count_once_and_are_reported() -> None:
    whole = extrude(FRONT)
    for again in (whole, whole[:, ::-1]):
        for one in slice_mesh(np.concatenate([whole, again]), (-500.0, 0.0, 111.1)):
            assert_is(one.outline, FRONT)
            assert one.counts.duplicates == one.counts.stretches // 2 > 0


def test_vertices_and_faces_give_the_same_as_triangles() -> None:
    triangles = extrude(FRONT)
    vertices, faces = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    faces = faces.reshape(-1, 3)
    for a, b in zip(outlines(triangles), outlines(vertices, faces=faces), strict=True):
        np.testing.assert_array_equal(a.points, b.points)


def test_unwelded_mesh_is_chained_by_nearness_and_reported() -> None:
    rng = np.random.default_rng(5)
    triangles = extrude(FRONT)
    # Every corner of every triangle moved on its own by up to 2 micrometres.
    loose = triangles + rng.uniform(-0.002, 0.002, triangles.shape)
    for one in slice_mesh(loose, (-500.0, 111.1), thin=0.01):
        assert one.counts.cracks > 0
        # Moved by 0.002 at a corner, thinned by 0.01; slanted edges multiply the former.
        assert_is(one.outline, FRONT, 0.03)


def test_plane_through_vertices_and_plane_of_a_face() -> None:
    # A box: at y = 0 its left wall lies in the plane (half-open: nothing), y = 100 the right one.
    box = closed_box(0.0, 500.0, 0.0, 100.0, 200.0, 600.0)
    at_left, inside, at_right = (chains for _, chains, _ in cut_mesh(box, (0.0, 50.0, 100.0)))
    assert at_left == []
    assert len(inside) == len(at_right) == 1
    np.testing.assert_allclose(
        sorted(map(tuple, at_right[0].points)), sorted(map(tuple, inside[0].points)), atol=1e-9
    )


def test_saddle_vertex_on_the_plane_keeps_the_two_chains_apart() -> None:
    # Four neighbours by turns before and behind the plane: two chains touch in the vertex.
    centre = (0.0, 0.0, 0.0)
    around = [
        (10.0, 3.0, 0.0), (0.0, -7.0, 8.0), (-10.0, 3.0, 0.0), (0.0, -7.0, -8.0),
    ]  # fmt: skip
    fan = np.array([(centre, around[i], around[(i + 1) % 4]) for i in range(4)])
    ((_, chains, counts),) = cut_mesh(fan, (0.0,))
    assert counts.stretches == 4
    assert counts.junctions == 0
    assert len(chains) == 2
    assert all(len(chain.points) == 3 for chain in chains)


def closed_box(x0, x1, y0, y1, z0, z1):
    """Twelve triangles of a box, wound outward."""
    loop = np.array([[x1, z0], [x0, z0], [x0, z1], [x1, z1]])
    sides = extrude(loop, np.array([y0, y1]), closed=True)
    caps = []
    for y, flip in ((y0, True), (y1, False)):
        p = [(x, y, z) for x, z in loop]
        for t in ((p[0], p[1], p[2]), (p[0], p[2], p[3])):
            caps.append(t[::-1] if flip else t)
    return np.concatenate([sides, np.array(caps)])


def test_closed_box_is_opened_at_the_rear() -> None:
    for outline in outlines(
        closed_box(0.0, 500.0, -100.0, 100.0, 200.0, 600.0), (-99.0, 0.0, 50.0)
    ):
        assert outline.opened
        assert_is(outline, np.array([[500.0, 200.0], [0.0, 200.0], [0.0, 600.0], [500.0, 600.0]]))


def test_closed_solid_with_the_front_outline() -> None:
    solid = np.concatenate([FRONT, [[1500.0, 220.0]]])
    for outline in outlines(extrude(solid, closed=True)):
        assert outline.opened
        assert outline.winding == 1
        # The floor between the rear wall and the underside is seen from below: 1500 .. 400.
        assert_is(outline, np.concatenate([solid[-1:], FRONT]))


def sphere(radius, n):
    """Triangles of a sphere on a grid of n by 2 n angles."""
    theta, phi = np.linspace(0, np.pi, n + 1), np.linspace(0, 2 * np.pi, 2 * n + 1)[:-1]
    grid = radius * np.stack(
        [
            np.sin(theta)[:, None] * np.cos(phi),
            np.sin(theta)[:, None] * np.sin(phi),
            np.cos(theta)[:, None] * np.ones_like(phi),
        ],
        axis=-1,
    )
    out = []
    for i in range(n):
        for j in range(2 * n):
            a, b = grid[i, j], grid[i + 1, j]
            c, d = grid[i + 1, (j + 1) % (2 * n)], grid[i, (j + 1) % (2 * n)]
            out += [(a, b, c), (a, c, d)]
    return np.array(out)


def test_sphere_cuts_in_circles_within_its_facet_error() -> None:
    radius, n = 300.0, 60
    mesh = sphere(radius, n) + np.array([400.0, 0.0, 700.0])
    planes = np.array([-250.0, -100.0, 0.0, 77.7, 200.0])
    # Facet of a sphere: no side exceeds this chord; a triangle dips by at most c^2 / 8R along a
    # side and as much again across (both directions curve).
    chord = radius * np.pi / n
    dip = 2.0 * chord**2 / (8.0 * radius)
    for y, chains, counts in cut_mesh(mesh, planes):
        assert counts.junctions == 0
        (chain,) = chains
        assert chain.closed
        r = np.hypot(chain.points[:, 0] - 400.0, chain.points[:, 1] - 700.0)
        distance = np.hypot(r, y)
        assert distance.max() <= radius + 1e-9
        assert distance.min() >= radius - dip


def test_superellipse_front_lies_on_its_curve() -> None:
    # |x/a|^n + |y/b|^n = 1 in plan, straight up: every slice is one upright line at x(y).
    a, b, n, k = 600.0, 850.0, 2.5, 400
    y = np.linspace(-849.0, 849.0, 2 * k + 1)
    x = a - a * (1.0 - np.abs(y / b) ** n) ** (1.0 / n)
    heights = np.linspace(200.0, 900.0, 4)
    grid = np.stack(np.broadcast_arrays(x[:, None], y[:, None], heights[None]), axis=-1)
    quads = [(grid[i, j], grid[i + 1, j], grid[i + 1, j + 1], grid[i, j + 1])
             for i in range(2 * k) for j in range(3)]  # fmt: skip
    mesh = np.array([t for q in quads for t in ((q[0], q[1], q[2]), (q[0], q[2], q[3]))])
    planes = y[1:-1:7]
    for one, level in zip(slice_mesh(mesh, planes), planes, strict=True):
        expected = a - a * (1.0 - abs(level / b) ** n) ** (1.0 / n)
        assert_is(one.outline, np.array([[expected, 200.0], [expected, 900.0]]))


# --- several parts -----------------------------------------------------------------------


def inner(offset):
    """The front moved rearward and down: a liner behind it."""
    return FRONT[2:-2] + np.array([offset, -offset])


def test_liner_behind_the_skin_is_dropped() -> None:
    mesh = np.concatenate([extrude(FRONT), extrude(inner(20.0))])
    for outline in outlines(mesh):
        assert_is(outline, FRONT)
        assert [d.kind for d in outline.dropped] == ["hidden"]
        assert outline.bridges == ()


def test_small_part_high_up_that_stands_free_is_dropped_and_reported() -> None:
    # 100 mm square, 118 mm from the windscreen at the nearest: a mirror, not the body.
    mirror = closed_box(1100.0, 1200.0, -600.0, 600.0, 1200.0, 1300.0)
    for outline in outlines(np.concatenate([extrude(FRONT), mirror]), (-500.0, 0.0, 400.0)):
        assert_is(outline, FRONT)
        (lost,) = outline.dropped
        assert lost.kind == "free"
        assert lost.length == pytest.approx(400.0)


@pytest.mark.parametrize(("width", "free"), [(179.0, True), (179.999, True), (180.0, False)])
def test_a_part_of_300_mm_across_is_no_small_one(width, free) -> None:
    """The border of our own choice, by 180, 240 and 300: what is as large counts as body."""
    x, z = np.array([1000.0, 1000.0 + width]), np.array([1200.0, 1440.0])
    part = np.array([[x[0], z[0]], [x[1], z[0]], [x[1], z[1]], [x[0], z[1]]])
    outline = outer_contour([Chain(FRONT), Chain(part, closed=True)])
    assert ({lost.kind for lost in outline.dropped} == {"free"}) == free
    assert np.array_equal(outline.points, FRONT) == free


def test_shut_line_with_flanges_is_bridged() -> None:
    # Bumper and bonnet part at (150, 850): a 5 mm gap, both flanges turned 30 mm inward.
    a, b = FRONT[5], FRONT[6]
    low = np.concatenate([FRONT[:6], [a + 0.5 * (b - a), a + 0.5 * (b - a) + [30.0, -25.0]]])
    cut = a + 0.5 * (b - a) + 5.0 * (b - a) / np.hypot(*(b - a))
    high = np.concatenate([[cut + np.array([30.0, -25.0]), cut], FRONT[6:]])
    for parts in ((low, high), (low, high[::-1]), (high, low)):
        mesh = np.concatenate([extrude(parts[0]), extrude(parts[1])])
        for outline in outlines(mesh, (-500.0, 0.0, 111.1)):
            assert lengths(outline) == [pytest.approx(5.0, abs=1e-9)]
            assert [d.kind for d in outline.dropped] == ["flange", "flange"]
            expected = np.concatenate([FRONT[:6], [low[6], cut], FRONT[6:]])
            assert_is(outline, expected)


def test_gap_wider_than_allowed_is_bridged_and_told_apart() -> None:
    # A straight edge needs no closed contour: both panels are in its reach, and a tape lies over
    # the opening between them. Its length is told, whatever the gap allowed.
    high = FRONT[6:] + np.array([40.0, 0.0])
    mesh = np.concatenate([extrude(FRONT[:7]), extrude(high)])
    for gap in (25.0, 41.0):
        for outline in outlines(mesh, (0.0,), gap=gap):
            assert_is(outline, np.concatenate([FRONT[:7], high]))
            (bridge,) = outline.bridges
            assert bridge.length == pytest.approx(40.0)
            assert (bridge.x, bridge.z) == pytest.approx((170.0, 850.0))


def test_hole_in_the_skin_is_bridged() -> None:
    # 20 mm of the face are missing between y = -50 and 50.
    down, up = np.array([30.0, 700.0]), np.array([33.0, 720.0])
    line = np.concatenate([FRONT[:5], [down, up], FRONT[5:]])
    mesh = extrude(line, np.array([-800.0, -50.0, 50.0, 800.0]))
    middle = mesh.mean(axis=1)
    hole = (np.abs(middle[:, 1]) < 50.0) & (middle[:, 2] > 700.0) & (middle[:, 2] < 720.0)
    assert hole.sum() == 2
    whole, holed = outlines(mesh[~hole], (-300.0, 10.0))
    assert_is(whole, line)
    assert_is(holed, line)
    assert whole.bridges == ()
    assert lengths(holed) == [pytest.approx(np.hypot(3.0, 20.0))]


def test_number_plate_takes_the_place_of_the_bumper_behind_it() -> None:
    plate = closed_box(-6.0, 4.0, -260.0, 260.0, 580.0, 660.0)
    outline_with, outline_beside = outlines(np.concatenate([extrude(FRONT), plate]), (0.0, 400.0))
    assert_is(outline_beside, FRONT)
    assert outline_with.points[:, 0].min() == -6.0
    assert [d.kind for d in outline_with.dropped] == ["behind"]


def test_panel_welded_to_the_skin_from_behind_is_a_junction() -> None:
    # A bracket from a vertex of the skin rearward: three triangles at that edge.
    bracket = np.array([FRONT[4], FRONT[4] + [120.0, 10.0]])
    mesh = np.concatenate([extrude(FRONT), extrude(bracket)])
    for one in slice_mesh(mesh, (-500.0, 111.1)):
        assert one.counts.junctions == 1
        assert_is(one.outline, FRONT)
        assert [d.kind for d in one.outline.dropped] == ["hidden"]


def test_labels_follow_the_stretches() -> None:
    triangles = extrude(FRONT)
    labels = np.repeat(np.arange(9), 8)
    for one in slice_mesh(triangles, (-500.0, 0.0, 111.1), labels=labels):
        np.testing.assert_array_equal(one.outline.labels, np.arange(9))
    # Collinear points stay where the label changes.
    straight = np.array([[0.0, 200.0], [0.0, 400.0], [0.0, 700.0]])
    (one,) = slice_mesh(extrude(straight), (0.0,), labels=np.repeat([4, 7], 8))
    assert_is(one.outline, straight)
    np.testing.assert_array_equal(one.outline.labels, [4, 7])


# --- the pieces --------------------------------------------------------------------------


def test_axes_move_file_coordinates() -> None:
    axes = Axes((2, 0, 1), (-1000.0, 1000.0, 1000.0), (0.0, 0.0, -50.0))
    file = np.empty((*extrude(FRONT).shape[:2], 3))
    ours = extrude(FRONT)
    file[..., 2], file[..., 0], file[..., 1] = (
        ours[..., 0] / -1000.0, ours[..., 1] / 1000.0, (ours[..., 2] + 50.0) / 1000.0,
    )  # fmt: skip
    for outline in outlines(file, (-500.0, 111.1), axes=axes):
        assert_is(outline, FRONT)


def test_planes_must_increase() -> None:
    with pytest.raises(ValueError, match="increasing"):
        list(cut_mesh(extrude(FRONT), (0.0, 0.0)))


@pytest.mark.parametrize("tolerance", [1e-3, 0.01, 1.0])
def test_thinning_moves_no_more_than_its_tolerance(tolerance) -> None:
    import shapely

    rng = np.random.default_rng(11)
    t = np.linspace(0.0, 3.0, 4000)
    line = np.stack([300.0 * np.cos(t), 300.0 * np.sin(t)], axis=1)
    line += rng.normal(0.0, tolerance / 5.0, line.shape)
    thin = Lines(line, None, np.array([len(line)]), np.array([False])).thinned(tolerance)
    assert 3 < len(thin.points) < len(line)
    before, after = shapely.LineString(line), shapely.LineString(thin.points)
    gap = shapely.distance(shapely.points(line), after).max()
    back = shapely.distance(shapely.points(thin.points), before).max()
    assert max(gap, back) <= tolerance


def ring(chain):
    return np.concatenate([chain.points, chain.points[:1]]) if chain.closed else chain.points


def random_chains(seed):
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(rng.integers(2, 8)):
        line = np.cumsum(rng.normal(0.0, 60.0, (rng.integers(2, 12), 2)), axis=0)
        line += rng.uniform(0.0, 500.0, 2)
        out.append(Chain(line, closed=len(line) > 3 and bool(rng.integers(2))))
    return out


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("side", ["front", "above", "below"])
def test_seen_agrees_with_rays_cast_by_shapely(seed, side) -> None:
    import shapely

    chains = random_chains(seed)
    scene = shapely.union_all([shapely.LineString(ring(chain)) for chain in chains])
    runs = Stretches.of(chains).seen_from(side)
    far = {"front": (-1e4, 0.0), "above": (0.0, 1e4), "below": (0.0, -1e4)}[side]
    axis = 1 if side == "front" else 0
    low, high = scene.bounds[axis], scene.bounds[axis + 2]
    for at in np.linspace(low + 0.0137, high - 0.0137, 157):
        start, stop = np.array(far), -np.array(far)
        start[axis] = stop[axis] = at
        met = shapely.get_coordinates(scene.intersection(shapely.LineString([start, stop])))
        seen = []
        for run in runs:
            points, _ = Stretches.of(chains).between(run.chain, run.begin, run.end)
            line = shapely.LineString(points)
            seen += shapely.get_coordinates(
                line.intersection(shapely.LineString([start, stop]))
            ).tolist()
        assert bool(len(met)) == bool(seen)
        if seen:
            nearest = met[np.hypot(*(met - start).T).argmin()]
            assert np.hypot(*(np.array(seen) - nearest).T).max() < 1e-6


@pytest.mark.parametrize("seed", range(12))
def test_what_lies_behind_a_plane_is_cut_away_exactly(seed) -> None:
    import shapely

    for chain in random_chains(seed):
        middle = float(np.median(chain.points[:, 0])) + 0.123  # through no point
        ahead = shapely.box(-1e5, -1e5, middle, 1e5)
        expected = shapely.LineString(ring(chain)).intersection(ahead)
        parts = [shapely.LineString(ring(part)) for part in ahead_of(chain, middle)]
        assert sum(part.length for part in parts) == pytest.approx(expected.length)
        if parts:
            assert shapely.union_all(parts).hausdorff_distance(expected) < 1e-9


def test_linking_nothing_gives_nothing() -> None:
    empty = np.empty(0)
    out = link_segments(
        np.empty(0, dtype=np.intp), empty, empty, np.empty(0, dtype=np.uint64), None, 2, 0.01, 0.0
    )
    assert out.chains == [[], []]


def test_one_open_chain_needs_no_search() -> None:
    outline = outer_contour([Chain(FRONT[::-1])])
    np.testing.assert_array_equal(outline.points, FRONT)


@pytest.mark.parametrize(("radius", "apart"), [(400.0, 25.0), (60.0, 120.0 * np.pi / 20.0)])
@pytest.mark.parametrize("more", [-1.0, 1.0])
def test_a_line_with_an_opening_is_a_ring_unless_its_ends_stand_apart(radius, apart, more) -> None:
    """Apart: farther than a gap that is bridged, or a twentieth of a short line (own choice)."""
    half = math.asin((apart + more) / 2.0 / radius)
    along = np.linspace(-2.0 + half, 2.0 * np.pi - 2.0 - half, 181)  # open below, to the rear
    line = radius * np.stack([1.0 + np.cos(along), 2.0 + np.sin(along)], axis=1)
    points = outer_contour([Chain(line)]).points
    ends = {tuple(points[0]), tuple(points[-1])} == {tuple(line[0]), tuple(line[-1])}
    assert (ends and len(points) == len(line)) == (more > 0.0)

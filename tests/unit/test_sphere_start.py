"""Where a sphere rests, roughly: pieces that may matter and spheres let down, by brute force."""

from __future__ import annotations

import numpy as np
import pytest
from ruled_sheets import net, ruled

from frontcheck.geometry import sphere_start
from frontcheck.geometry.near_triangles import Pieces, nearest_on
from frontcheck.geometry.rolling_sphere import sphere_line
from frontcheck.geometry.sphere_start import Start, facing_pieces, rough_rest

R = 82.5


def apart(points, tri):
    """Distance of points (n, 3) from the nearest of some triangles."""
    rows = np.repeat(points, len(tri), axis=0)
    off = nearest_on(np.tile(tri, (len(points), 1, 1)), rows) - rows
    return np.sqrt((off**2).sum(axis=1)).reshape(len(points), len(tri)).min(axis=1)


def corners_and_middles(tri):
    return np.concatenate([tri.reshape(-1, 3), tri.mean(axis=1)])


# --- pieces that may matter ---------------------------------------------------------------


def scattered(seed):
    """Front structure ahead and windscreen behind, of triangles of any size, some far off."""
    rng = np.random.default_rng(seed)
    sides = []
    for x, z in ((-150.0, -80.0), (150.0, 80.0)):
        middle = rng.normal(0.0, 1.0, (40, 1, 3)) * [130.0, 200.0, 90.0] + [x, 40.0, z]
        size = rng.choice([4.0, 15.0, 90.0], (40, 1, 1))
        sides.append(middle + rng.normal(0.0, 1.0, (40, 3, 3)) * size)
    return sides


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("reach", [20.0, 60.0, 120.0])
def test_nothing_that_lies_within_reach_is_left_out(seed, reach) -> None:
    front, screen = scattered(seed)
    given = [front.copy(), screen.copy()]
    found = facing_pieces(given, reach)
    assert found is not None
    assert given == []  # let go of
    on_front, on_screen, structure = found
    for side, other, pieces in ((front, screen, on_front), (screen, front, on_screen)):
        points = corners_and_middles(side)
        near = points[apart(points, other) <= reach][::5]
        assert apart(near, pieces.corners) == pytest.approx(0.0, abs=1e-9)
        edges = pieces.corners - np.roll(pieces.corners, 1, axis=1)
        assert np.linalg.norm(edges, axis=2).max() <= 16.0  # own choice
    # The triangles of the first are those it had, whole and in their order; each has a piece left.
    order = [int(np.flatnonzero((front == t).all(axis=(1, 2)))[0]) for t in structure]
    assert order == sorted(set(order))
    middles = on_front.corners.mean(axis=1)
    assert apart(middles[::9], structure) == pytest.approx(0.0, abs=1e-9)
    for triangle in structure[::3]:
        assert apart(middles, triangle[None]).min() < 1e-9


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_single_long_triangle_of_either_side_is_cut(axis, side) -> None:
    """60 mm along one axis, 5 mm along the others, among small ones."""
    y = np.arange(-12.0, 13.0, 8.0)
    sides = [ruled([(-8.0, -4.0), (0.0, 0.0)], y), ruled([(0.0, 0.0), (8.0, 6.0)], y)]
    long = np.array([(0.0, 0.0, 0.0), (2.0, 5.0, 3.0), (5.0, 2.0, 4.0)])
    long[2, axis] = 60.0
    sides[side] = np.concatenate([sides[side], long[None]])
    given = [s.copy() for s in sides]
    found = facing_pieces(given, 180.0)
    assert found is not None
    *pieces, structure = found
    for own, whole in zip(pieces, sides, strict=True):
        edges = np.linalg.norm(own.corners - np.roll(own.corners, 1, axis=1), axis=2)
        assert edges.max() <= 16.0
        area = [np.linalg.norm(np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]), axis=1).sum()
                for t in (own.corners, whole)]  # fmt: skip
        assert area[0] == pytest.approx(area[1])
    assert sorted(map(tuple, structure.reshape(-1, 9).tolist())) == sorted(
        map(tuple, sides[0].reshape(-1, 9).tolist())
    )


def test_what_lies_far_ahead_or_below_and_far_behind_or_above_is_left_out() -> None:
    y = np.arange(-100.0, 101.0, 10.0)
    front = ruled([(-400.0 + 10.0 * i, 0.0) for i in range(41)], y)  # x from -400 to 0
    wall = ruled([(0.0, -300.0 + 10.0 * i) for i in range(31)], y)  # down to -300
    screen = ruled([(10.0 * i, 5.0 * i) for i in range(61)], y)  # x to 600, z to 300
    found = facing_pieces([np.concatenate([front, wall]), screen], 50.0)
    assert found is not None
    on_front, on_screen, structure = found
    # Boxes that just come within the reach of 50 count, and pieces are 10 long.
    ahead = on_front.corners[..., 0].max(axis=1)
    low = on_front.corners[..., 2].max(axis=1)
    assert -50.0 <= ahead.min() <= -40.0
    assert -50.0 <= low.min() <= -40.0
    behind = on_screen.corners[..., 0].min(axis=1)
    assert 40.0 <= behind.max() <= 50.0
    # Nothing was cut: the pieces are the triangles.
    assert sorted(map(tuple, structure.reshape(-1, 9).tolist())) == sorted(
        map(tuple, on_front.corners.reshape(-1, 9).tolist())
    )
    # A windscreen that rises more steeply is bounded by its height.
    steep = ruled([(2.0 * i, 10.0 * i) for i in range(31)], y)
    found = facing_pieces([front, steep], 50.0)
    assert found is not None
    assert 40.0 <= found[1].corners[..., 2].min(axis=1).max() <= 50.0


def test_rows_far_off_to_a_side_are_left_out() -> None:
    """The windscreen lies from y = 0 to 100, the front structure from -1000 to 1000."""
    front = ruled([(-60.0, 0.0), (-45.0, 0.0), (-30.0, 0.0)], np.arange(-1000.0, 1001.0, 10.0))
    screen = ruled([(0.0, 0.0), (14.0, 7.0)], np.arange(0.0, 101.0, 10.0))
    for way in (1.0, -1.0):
        found = facing_pieces([front * [1.0, way, 1.0], screen * [1.0, way, 1.0]], 50.0)
        assert found is not None
        y = way * found[0].corners[..., 1]
        # Within sqrt(50^2 - 30^2) = 40 of it at the least, within two rows of 32 and the reach at
        # the most.
        assert y.min() <= -40.0
        assert y.max() >= 140.0
        assert y.min() >= -50.0 - 2.0 * 32.0
        assert y.max() <= 150.0 + 2.0 * 32.0


def test_nothing_near_is_none() -> None:
    y = np.arange(-100.0, 101.0, 20.0)
    front, screen = ruled([(-50.0, 0.0), (0.0, 0.0)], y), ruled([(0.0, 0.0), (50.0, 30.0)], y)
    none = front[:0]
    for sides in (
        [none, screen], [front, none], [none, none], [front, np.add(screen, [500.0, 0.0, 0.0])],
        [front, np.add(screen, [0.0, 0.0, 500.0])], [front, np.add(screen, [0.0, 900.0, 0.0])],
        [front, screen - [0.0, 900.0, 0.0]],
    ):  # fmt: skip
        assert facing_pieces([side.copy() for side in sides], 180.0) is None
    assert facing_pieces([front.copy(), screen.copy()], 1.0) is not None


def bound_by_loops(low, high, mine_low, mine_high, farthest, reach):
    """Rows of 32 mm across (own choice): which boxes may come within reach, by plain loops."""
    rows = [range(int(a // 32.0), int(b // 32.0) + 1)
            for a, b in zip(low[:, 1], high[:, 1], strict=True)]  # fmt: skip
    spans = [range(int(a // 32.0), int(b // 32.0) + 1)
             for a, b in zip(mine_low[:, 1], mine_high[:, 1], strict=True)]  # fmt: skip

    def bound(row, axis):
        least = np.inf
        for others, place in zip(rows, low, strict=True):
            for other in others:
                aside = max(0.0, (abs(row - other) - 1) * 32.0)
                if aside <= reach:
                    least = min(least, place[axis] - (reach**2 - aside**2) ** 0.5)
        return least

    every = range(min(s[0] for s in spans), max(s[-1] for s in spans) + 1)
    loosest = [min(bound(row, axis) for row in every) for axis in (0, 2)]
    out = []
    for span, far in zip(spans, farthest, strict=True):
        own = loosest if len(span) > 2 else [min(bound(r, a) for r in span) for a in (0, 2)]
        out.append(bool(far[0] >= own[0] and far[2] >= own[1]))
    return out


@pytest.mark.parametrize("seed", range(12))
def test_boxes_ahead_are_those_of_plain_loops(seed) -> None:
    rng = np.random.default_rng(60 + seed)
    reach = float(rng.choice([10.0, 31.9, 32.0, 50.0, 96.0, 140.0]))
    low, mine = rng.normal(0.0, 1.0, (2, 25, 3)) * [60.0, 160.0, 50.0]
    low += rng.choice([0.0, 400.0], 1)[0] * np.array([0.0, 1.0, 0.0]) * (seed == 3)
    high = low + rng.uniform(0.0, 60.0, (25, 3))
    mine_high = mine + rng.uniform(0.0, 60.0, (25, 3)) * [1.0, rng.choice([0.3, 2.0]), 1.0]
    near = sphere_start._ahead(low, high, mine, mine_high, mine_high, reach)
    want = bound_by_loops(low, high, mine, mine_high, mine_high, reach)
    assert near.tolist() == want
    assert seed != 5 or 0 < sum(want) < 25


# --- planes and aims ----------------------------------------------------------------------


def test_thinned_levels_are_one_in_twenty_millimetres_and_both_ends() -> None:
    rng = np.random.default_rng(70)
    rows = [np.unique(rng.uniform(-500.0, 500.0, n)) for n in (1, 2, 3, 10, 80, 300)]
    rows += [np.arange(-100.0, 101.0, 5.0), np.array([7.0, 7.0]), np.arange(0.0, 100.0, 20.0)]
    for levels in rows:
        slots: dict[int, float] = {}
        for level in levels.tolist():  # the first of every slot of 20 mm (own choice), and the last
            slots.setdefault(int((level - levels[0]) // 20.0), level)
        want = sorted({*slots.values(), levels[-1]})
        assert np.unique(sphere_start._thinned(levels)).tolist() == want
        assert (np.diff(sphere_start._thinned(levels)) >= 0.0).all()
    assert sphere_start._thinned(np.array([3.0])).tolist() == [3.0]


def test_aims_lead_to_the_planes_whose_contacts_lie_in_the_levels() -> None:
    """Centres at -10, 20 and 50 touch at -40, 0 and 80: between them in proportion."""
    front = np.array([(0.0, y, 0.0) for y in (-40.0, 0.0, 80.0)])
    centre = np.array([(0.0, y, 0.0) for y in (-10.0, 20.0, 50.0)])
    start = Start(centre, front, front)
    levels = np.array([-40.0, -20.0, 0.0, 40.0, 80.0])
    assert start.aim(levels).tolist() == [-10.0, 5.0, 20.0, 35.0, 50.0]
    # Beyond the ends as far as beyond the contact there.
    assert start.aim(np.array([-47.0, 91.0])).tolist() == [-17.0, 61.0]
    # A contact that falls back counts as far as the one before.
    front[1, 1] = -45.0
    assert Start(centre, front, front).aim(np.array([-40.0, 20.0])).tolist() == [20.0, 35.0]


# --- points -------------------------------------------------------------------------------


def bent(seed=80):
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(-60.0, 61.0, 6.0), np.arange(-50.0, 51.0, 6.0), indexing="ij")
    return net(np.stack([x, y, 0.01 * x * x + rng.normal(size=x.shape)], axis=-1))


@pytest.mark.parametrize(("axis", "way"), [(2, 1.0), (0, 1.0), (0, -1.0), (1, 1.0)])
def test_of_every_cube_the_corner_farthest_along_is_taken(axis, way) -> None:
    pieces = Pieces.of(bent())
    found = sphere_start._most(pieces, axis, way)
    assert (np.diff(found[:, 1]) >= 0.0).all()
    want = []
    for first, last in zip(pieces.first[:-1], pieces.first[1:], strict=True):
        corners = pieces.corners[first:last].reshape(-1, 3)
        want.append(way * (way * corners[:, axis]).max())
    assert len(found) == len(want)
    assert sorted(found[:, axis].tolist()) == sorted(want)
    held = {tuple(p) for p in pieces.corners.reshape(-1, 3).tolist()}
    assert {tuple(p) for p in found.tolist()} <= held


def test_places_of_both_surfaces_are_of_the_windscreen() -> None:
    y = np.arange(-20.0, 21.0, 10.0)
    front, screen = ruled([(-10.0, 0.0), (0.0, 0.0)], y), ruled([(0.0, 0.0), (10.0, 9.0)], y)
    points = front.reshape(-1, 3)
    alone = sphere_start._alone(points, Pieces.of(screen))
    assert sorted(map(tuple, alone.tolist())) == sorted(
        tuple(p) for p in points.tolist() if p[0] < 0.0
    )
    one, two = np.array([[1.0, 5.0, 0.0], [2.0, 7.0, 0.0]]), np.array([[3.0, 5.0, 0.0]])
    assert sphere_start._by_y(one, two)[:, 0].tolist() == [1.0, 3.0, 2.0]


# --- spheres let down ---------------------------------------------------------------------


def height_by_loop(points, radius, x, y):
    """Height of the centre over (x, y) at which a sphere let down meets a point, and which."""
    best, met = -np.inf, -1
    for i, (px, py, pz) in enumerate(points.tolist()):
        left = radius**2 - (px - x) ** 2 - (py - y) ** 2
        if left >= 0.0 and pz + left**0.5 > best:
            best, met = pz + left**0.5, i
    return best, met


def test_spheres_let_down_meet_what_a_loop_over_all_points_meets() -> None:
    rng = np.random.default_rng(90)
    points = sphere_start._by_y(rng.uniform(-60.0, 60.0, (120, 3)) * [1.0, 1.0, 0.2])
    planes = np.array([-200.0, -65.0, -33.3, 0.0, 12.0, 71.0, 300.0])
    drop = sphere_start._Drop(points, 15.0, planes)
    for i, y in enumerate(planes.tolist()):
        own = points[np.abs(points[:, 1] - y) < 15.0, 0]
        assert drop.low[i] == own.min(initial=np.inf)
        assert drop.high[i] == own.max(initial=-np.inf)
    missed = 0
    for x in rng.uniform(-75.0, 75.0, (12, len(planes))):
        want = [height_by_loop(points, 15.0, a, b) for a, b in zip(x, planes, strict=True)]
        height, met = drop.contact(x)
        assert met.tolist() == [m for _, m in want]
        assert height == pytest.approx([h for h, _ in want], abs=1e-9)
        assert (drop.height(x) == height).all()
        missed += int((met < 0).sum())
    assert 12 < missed < 70
    none = sphere_start._Drop(points[:0], 15.0, planes)
    height, met = none.contact(np.zeros(len(planes)))
    assert np.isneginf(height).all()
    assert (met == -1).all()


def test_of_points_met_at_once_the_first_counts() -> None:
    """Two points 6 mm either side of the centre, as high, and one under it, lower."""
    points = np.array([(6.0, 0.0, 5.0), (-6.0, 0.0, 5.0), (0.0, 0.0, 1.0)])
    height, met = sphere_start._Drop(points, 10.0, np.array([0.0])).contact(np.zeros(1))
    assert (height.tolist(), met.tolist()) == ([13.0], [0])
    # A point one radius off is met by the side of the sphere: at its own height.
    height, met = sphere_start._Drop(points[:1], 6.0, np.array([0.0])).contact(np.zeros(1))
    assert (height.tolist(), met.tolist()) == ([5.0], [0])
    height, met = sphere_start._Drop(points[:1], 5.999, np.array([0.0])).contact(np.zeros(1))
    assert met.tolist() == [-1]


def test_a_lead_is_how_much_higher_the_front_structure_is_met() -> None:
    front = np.array([(0.0, 0.0, 7.0), (0.0, 100.0, 7.0)])
    screen = np.array([(0.0, 0.0, 3.0), (0.0, 200.0, 3.0)])
    planes = np.array([0.0, 100.0, 200.0, 300.0])
    drops = [sphere_start._Drop(p, 10.0, planes) for p in (front, screen)]
    lead = sphere_start._lead(drops, np.zeros(4))
    # Both met; no windscreen; no front structure; neither.
    assert lead.tolist() == [4.0, np.inf, -np.inf, np.inf]


def dense(section, y, sweep=0.0, step=2.0):
    """Points of a ruled surface, some millimetres apart, by rising y."""
    at = np.asarray(section, dtype=float)
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
    along = np.arange(0.0, arc[-1], step)
    x, z = (np.interp(along, arc, column) for column in at.T)
    return np.concatenate([np.stack([x + sweep * v, np.full(len(x), v), z], axis=1) for v in y])


@pytest.mark.parametrize("sweep", [0.0, -0.7])
def test_spheres_rest_where_the_first_step_down_the_windscreen_meets_the_front(sweep) -> None:
    """In steps of 0.1 mm from the rear, every point asked; good to R / 4 / 2^9 = 0.04 mm."""
    y = np.arange(-90.0, 91.0, 3.0)
    tops = [dense([(-200.0, -10.0), (-60.0, 0.0), (0.0, 4.0)], y, sweep),
            dense([(5.0, 6.0), (250.0, 150.0)], y, sweep)]  # fmt: skip
    planes = np.array([-400.0, -21.0, 0.0, 13.7, 500.0])
    found = sphere_start._rests(tops, R, planes)
    assert found[0, :, 1].tolist() == [-21.0, 0.0, 13.7]
    for centre, front, screen in found.swapaxes(0, 1):
        near = [p[np.abs(p[:, 1] - centre[1]) < R] for p in tops]

        def lead(x, near=near, y=centre[1]):
            both = []
            for points in near:
                left = R**2 - (points[:, 0] - x) ** 2 - (points[:, 1] - y) ** 2
                both.append((points[:, 2] + np.sqrt(left.clip(0.0)))[left >= 0.0].max())
            return both[0] - both[1]

        x = centre[0] + 40.0
        assert lead(x) < 0.0
        while lead(x) < 0.0:
            x -= 0.1
        assert centre[0] == pytest.approx(x, abs=0.15)
        assert lead(centre[0]) >= 0.0
        for points, contact in zip(tops, (front, screen), strict=True):
            height, met = height_by_loop(points, R, centre[0], centre[1])
            assert contact.tolist() == points[met].tolist()
            if points is tops[0]:
                assert centre[2] == pytest.approx(height, abs=1e-9)


def test_no_sphere_rests_where_nothing_leads_or_nothing_is_left() -> None:
    y = np.arange(-90.0, 91.0, 3.0)
    glass = dense([(5.0, 6.0), (250.0, 150.0)], y)
    bonnet = dense([(-200.0, -10.0), (0.0, 4.0)], y)
    plane = np.array([0.0])
    away = bonnet - [300.0, 0.0, 0.0]
    assert sphere_start._rests([away, glass], R, plane).shape == (3, 0, 3)
    assert sphere_start._rests([bonnet, glass], R, plane).shape == (3, 1, 3)
    assert sphere_start._rests([bonnet, glass], R, plane[:0]).shape == (3, 0, 3)
    # Where the front structure is met first all the way back, nothing was on the windscreen.
    above = dense([(-200.0, 400.0), (400.0, 400.0)], y)
    assert sphere_start._rests([above, glass], R, plane).shape == (3, 0, 3)


@pytest.mark.parametrize("sweep", [0.0, 0.3, -0.5])
def test_rough_places_lie_close_to_the_closed_form_of_two_planes(sweep) -> None:
    """Level bonnet, windscreen at 30 deg, swept: the centre stands R off both planes."""
    y = np.arange(-400.0, 401.0, 10.0)
    slope = np.tan(np.deg2rad(30.0))
    bonnet = ruled([(-300.0 + 10.0 * i, 0.0) for i in range(31)], y, sweep)
    glass = ruled([(10.0 * i, 10.0 * slope * i) for i in range(31)], y, sweep)
    levels = np.array([-120.0, -63.0, -60.0, 5.0, 88.0, 150.0])
    start = rough_rest(Pieces.of(bonnet), Pieces.of(glass), R, levels)
    assert (np.diff(start.centre[:, 1]) >= 0.0).all()
    assert len(start.centre) >= 5
    length = np.sqrt(1.0 + slope**2 * (1.0 + sweep**2))
    for centre, front, screen in zip(start.centre, start.front, start.screen, strict=True):
        # z = R; the plane z = slope (x - sweep y) lies R below along its normal.
        x = sweep * centre[1] + R / slope - R * length / slope
        assert centre[2] == pytest.approx(R, abs=0.4)
        assert centre[0] == pytest.approx(x, abs=1.5)
        assert np.linalg.norm(front - centre) == pytest.approx(R, abs=0.1)
        assert np.linalg.norm(screen - centre) == pytest.approx(R, abs=0.1)
        assert front[2] == 0.0
        assert screen[2] > 0.0
    # Planes across for a contact in each level: on the level bonnet it lies under the centre.
    assert start.aim(levels) == pytest.approx(levels, abs=12.0)


def test_ends_that_face_each_other_hold_a_sphere_too() -> None:
    """A gap of 163 mm between two level plates, as high: only their ends hold a sphere of 165."""
    y = np.arange(-200.0, 201.0, 8.0)
    bonnet = ruled([(-160.0 + 10.0 * i, 0.0) for i in range(17)], y)
    glass = ruled([(163.0 + 10.0 * i, 0.0) for i in range(17)], y)
    start = rough_rest(Pieces.of(bonnet), Pieces.of(glass), R, np.array([-40.0, 0.0, 40.0]))
    assert len(start.centre) == 3
    assert start.centre[:, 0] == pytest.approx(81.5, abs=1.0)
    assert start.front[:, 0].tolist() == [0.0] * 3
    assert start.screen[:, 0].tolist() == [163.0] * 3
    wide = rough_rest(
        Pieces.of(bonnet), Pieces.of(np.add(glass, [3.0, 0.0, 0.0])), R, np.array([0.0])
    )
    assert wide.centre.shape == (0, 3)


def test_a_strip_of_front_structure_narrower_than_a_piece() -> None:
    """Its highest corners are the windscreen's too; straight lines, touched r tan(d / 2) off."""
    y = np.arange(-40.0, 41.0, 8.0)
    sides = [ruled([(-7, -3), (0, 0)], y), ruled([(0, 0), (10, 6), (200, 120)], y)]
    line = sphere_line(sides, R, np.array([0.0, 5.0]))
    ahead, behind = np.arctan2(3.0, 7.0), np.arctan2(6.0, 10.0)
    off = R * np.tan((behind - ahead) / 2.0)
    assert line.touched.all()
    wanted = [[-off * np.cos(ahead), at, -off * np.sin(ahead)] for at in (0.0, 5.0)]
    np.testing.assert_allclose(line.front, wanted, atol=1e-6)
    np.testing.assert_allclose(line.screen[:, 0], off * np.cos(behind), atol=1e-6)

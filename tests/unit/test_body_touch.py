"""What a front, the road and one leg on the other push, against a plain loop over all circles.

Own choice of model (contract, section 1): F = K s d while skin goes in, its square of the rebound
while it comes out; friction by tanh of the slip over 0.4 m/s. Velocities are taken numerically.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from frontcheck.body.anatomy import Figure
from frontcheck.body.assumed import drawn
from frontcheck.body.struck import _start
from frontcheck.body.touch import Moment, front_loads, ground_loads, leg_loads
from frontcheck.body.wall import Wall
from frontcheck.legs.mechanics import given_back, stepped

# A nose with a recess, a ledge and a windscreen; one stretch is plumb [m].
NOSE = np.array([
    (0.30, 0.15), (0.05, 0.22), (0.02, 0.33), (0.06, 0.40), (0.00, 0.50), (0.00, 0.56),
    (0.12, 0.68), (0.40, 0.775), (1.15, 0.905), (1.95, 1.34),
])  # fmt: skip
PARTS = np.array([0, 0, 0, 0, 0, 1, 1, 2, 3])
FIGURE = {"man": Figure.of(1.755, 77.0), "child": Figure.of(1.153, 21.0, child=True)}


def solid(points) -> Polygon:
    """What is behind a wall."""
    return Polygon([*points, (9.0, points[-1][1]), (9.0, -1.0), (points[0][0], -1.0)])


def test_the_wall_is_as_near_as_shapely_says() -> None:
    """Thousands of places, ahead, behind, beyond the ends: distance, its sign, and direction."""
    wall, line, behind = Wall(NOSE), LineString(NOSE), solid(NOSE)
    rng = np.random.default_rng(6)
    points = rng.uniform([-0.3, -0.1], [2.2, 1.6], (4000, 2))
    reach = rng.uniform(0.0, 0.12, len(points))
    which, stretch, distance, normal = wall.near(points, reach)
    seen = dict.fromkeys(which.tolist())
    assert len(seen) == len(which)
    for i, (point, far) in enumerate(zip(points, reach, strict=True)):
        assert i in seen or line.distance(Point(point)) > far  # nothing near is left out
    for i, s, gap, way in zip(which.tolist(), stretch.tolist(), distance, normal, strict=True):
        point = Point(points[i])
        assert abs(gap) == pytest.approx(line.distance(point), abs=1e-12)
        at = points[i] - gap * way
        assert math.hypot(*way) == pytest.approx(1.0)
        assert line.distance(Point(at)) < 1e-12
        assert LineString(NOSE[s : s + 2]).distance(Point(at)) < 1e-12
        past_an_end = min(math.hypot(*(at - NOSE[0])), math.hypot(*(at - NOSE[-1]))) < 1e-9
        assert (gap < 0.0) == (behind.contains(point) and not past_an_end)
    assert (distance < -0.01).sum() > 100
    assert (distance > 0.01).sum() > 100


def test_a_place_on_the_wall_itself_has_the_normal_of_its_stretch() -> None:
    wall = Wall(NOSE)
    for s, (a, b) in enumerate(zip(NOSE, NOSE[1:], strict=False)):
        step = (b - a) / math.hypot(*(b - a))
        which, stretch, distance, normal = wall.near(np.array([0.5 * (a + b)]), np.array([0.01]))
        assert which.tolist() == [0]
        assert stretch.tolist() == [s]
        assert distance == pytest.approx([0.0], abs=1e-9)
        assert normal[0] == pytest.approx([-step[1], step[0]])  # the air is on its left


def test_at_corners_the_outside_is_told_by_both_stretches() -> None:
    """A lip and a notch of right angles: what is before them is air, what is behind is not."""
    lip = Wall(np.array([(1.0, 0.0), (0.0, 1.0), (1.0, 2.0)]))
    for x, z in ((-0.03125, 1.0), (-0.02, 1.019), (-0.02, 0.981)):
        (_, stretch, distance, normal) = lip.near(np.array([(x, z)]), np.array([0.1]))
        gap = math.hypot(x, z - 1.0)
        assert distance == pytest.approx([gap])
        assert normal[0] == pytest.approx(np.array([x, z - 1.0]) / gap)
        if z == 1.0:  # where two stretches are as near the first is told
            assert stretch.tolist() == [0]
    notch = Wall(np.array([(0.0, 0.0), (1.0, 1.0), (0.0, 2.0)]))
    for x, z in ((0.03125, 0.0), (0.03, 0.029), (0.03, -0.029)):
        (_, stretch, distance, normal) = notch.near(np.array([(1.0 + x, 1.0 + z)]), np.array([0.1]))
        gap = math.hypot(x, z)
        assert distance == pytest.approx([-gap])
        assert normal[0] == pytest.approx(np.array([-x, -z]) / gap)
        if z == 0.0:
            assert stretch.tolist() == [0]


@pytest.mark.parametrize("notch", [False, True])
@pytest.mark.parametrize("angle", [1e-5, 0.01, 0.2, 1.0, 1.6, 2.5, 3.14])
def test_corners_of_any_angle_have_air_on_the_left(angle: float, notch: bool) -> None:
    """A wedge turned any way, of wall or of air: a place is within it by its bearing alone."""
    rng = np.random.default_rng(16)
    for turn in range(7):
        sides = turn + np.array([-0.5, 0.5]) * (angle if notch else -angle)
        low, high = np.stack([np.cos(sides), np.sin(sides)], axis=1)
        wall = Wall(np.array([high, (0.0, 0.0), low]))
        points = rng.normal(0.0, 0.03, (60, 2))
        bearing = np.abs(np.angle(np.exp(1j * (np.arctan2(points[:, 1], points[:, 0]) - turn))))
        which, _, distance, normal = wall.near(points, np.ones(60))
        assert which.tolist() == list(range(60))
        assert ((distance < 0.0) == ((bearing < angle / 2.0) != notch)).all()
        tip = bearing > (angle + math.pi) / 2.0  # nearest to the corner itself
        assert np.abs(distance[tip]) == pytest.approx(np.hypot(*points[tip].T))
        assert (distance[:, None] * normal)[tip] == pytest.approx(points[tip])


@pytest.mark.parametrize("seed", range(4))
def test_what_has_sunk_in_stays_near_however_deep(seed: int) -> None:
    """Spiky stars left open at one side, against shapely: nothing within reach is left out."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0.0, 2.0 * math.pi, 30))[::-1]
    star = rng.uniform(0.05, 0.8, 30)[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    solid_star, line, wall = Polygon(star), LineString(star), Wall(star)
    assert solid_star.is_valid
    opening = LineString(star[[-1, 0]])
    points, reach = rng.uniform(-0.9, 0.9, (3000, 2)), rng.uniform(0.0, 0.1, 3000)
    which, _, distance, _ = wall.near(points, reach)
    found = dict(zip(which.tolist(), distance.tolist(), strict=True))
    deepest = 0.0
    for i, at in enumerate(map(Point, points)):
        gap = line.distance(at)
        past_an_end = gap > min(math.hypot(*(points[i] - end)) for end in star[[0, -1]]) - 1e-12
        if past_an_end:
            assert found.get(i, gap) == pytest.approx(gap)
            assert i in found or gap > reach[i]
        elif opening.distance(at) > gap:  # else it is the opening that parts it from the air
            signed = -gap if solid_star.contains(at) else gap
            assert found.get(i, signed) == pytest.approx(signed)
            assert i in found or signed > reach[i] or wall.cells(points[i : i + 1])[0] < 0
            deepest = min(deepest, signed)
    assert deepest < -0.12


def test_depth_grows_evenly_as_far_as_the_grid_reaches() -> None:
    """A circle of 50 mm going into a plumb wall; one that is through a thin lip is in air."""
    x = np.linspace(-0.05, 0.149, 400)
    for z in (0.01, 0.5, 1.0, 1.99):
        points = np.stack([x, np.full(400, z)], axis=1)
        which, _, distance, normal = Wall(np.array([(0.0, 0.0), (0.0, 2.0)])).near(
            points, np.full(400, 0.0500001)
        )
        assert which.tolist() == list(range(400))
        assert distance == pytest.approx(-x)
        assert normal == pytest.approx(np.tile([-1.0, 0.0], (400, 1)))
    lip = Wall(np.array([(0.5, 1.0), (0.0, 1.0), (0.0, 1.01), (0.5, 1.01)]))
    points = np.array([(0.3, 0.9), (0.3, 0.97), (0.3, 1.04), (0.3, 1.11)])
    which, _, distance, normal = lip.near(points, np.full(4, 0.05))
    found = dict(zip(which.tolist(), distance.tolist(), strict=True))
    assert (found[1], found[2]) == pytest.approx((0.03, 0.03))
    assert found.get(0, 1.0) > 0.05
    assert found.get(3, 1.0) > 0.05
    assert (normal[:, 1] * (points[which, 1] - 1.005) > 0.0).all()


def test_past_an_end_a_wall_pushes_away_from_the_end() -> None:
    """What goes on there was not measured: a leg under a plumb front is not hauled out by it."""
    wall, end = Wall(np.array([(0.0, 0.35), (0.0, 0.9)])), np.array([0.0, 0.35])
    points = end + np.array([(-0.02, -0.02), (0.0, -0.02), (0.02, -0.02), (0.03, -0.001)])
    for at in points:
        _, _, distance, normal = wall.near(at[None], np.array([0.05]))
        assert distance == pytest.approx([math.hypot(*(at - end))])
        assert distance[0] * normal[0] == pytest.approx(at - end)
    _, _, distance, _ = wall.near(np.array([(0.1, 0.3)]), np.array([0.05]))
    assert (distance > 0.05).all()


def test_what_is_out_of_reach_or_off_the_grid_is_not_looked_at() -> None:
    wall = Wall(NOSE)
    far = np.array([(-5.0, 0.5), (0.0, 7.0), (30.0, 1.0), (0.4, -3.0), (0.3, 1.1)])
    assert (wall.cells(far[:4]) == -1).all()
    assert wall.cells(far[4:])[0] >= 0
    for found in wall.near(far, np.full(5, 0.1)):
        assert len(found) == 0
    # The grid reaches 0.15 m around: more than the radius of any circle, 0.1 m.
    for radius in (figure.skin.radius.max() for figure in FIGURE.values()):
        assert radius < 0.1
    corners = np.array([NOSE.min(axis=0) - 0.149, NOSE.max(axis=0) + 0.149])
    assert (wall.cells(corners) >= 0).all()


def place_of(figure: Figure, pose, body: int) -> np.ndarray:
    """The joint by which a body hangs, step by step down the tree."""
    parent = int(figure.chain.parent[body])
    if parent < 0:
        return np.array(pose[:2])
    a, b = figure.chain.arms[body, parent]
    c, s = math.cos(pose[2 + parent]), math.sin(pose[2 + parent])
    return place_of(figure, pose, parent) + np.array([c * a + s * b, c * b - s * a])


def spot_of(figure: Figure, pose, body: int, own) -> np.ndarray:
    """Where a spot of a body is that was given in its own axes."""
    c, s = math.cos(pose[2 + body]), math.sin(pose[2 + body])
    x, z = own
    return place_of(figure, pose, body) + np.array([c * x + s * z, c * z - s * x])


def speed_of(figure: Figure, pose, rate, body: int, spot) -> np.ndarray:
    """How fast what is there of a body moves: places a little before and after."""
    c, s = math.cos(pose[2 + body]), math.sin(pose[2 + body])
    x, z = spot - place_of(figure, pose, body)
    own, h = (c * x - s * z, s * x + c * z), 1e-6
    ends = [spot_of(figure, pose + sign * h * rate, body, own) for sign in (1.0, -1.0)]
    return (ends[0] - ends[1]) / (2.0 * h)


class Loads:
    """Forces and torques of one case, added up one by one."""

    def __init__(self, figure: Figure, pose) -> None:
        self.figure, self.pose = figure, pose
        self.force, self.torque = np.zeros((9, 2)), np.zeros(9)

    def add(self, body: int, spot, load) -> None:
        x, z = spot - place_of(self.figure, self.pose, body)
        self.force[body] += load
        self.torque[body] += z * load[0] - x * load[1]  # tips its top to greater x


def poses(figure: Figure, count: int, seed: int, bent: float = 0.25):
    """Bent any way, going any way; they touch the front, no centre of a circle is behind it."""
    rng = np.random.default_rng(seed)
    behind, line, place = solid(NOSE), LineString(NOSE), figure.skin.place
    found = []
    while len(found) < count:
        pose = rng.normal(0.0, bent, 11)
        pose[:2] = rng.uniform(-0.25, 0.05), figure.hip + rng.uniform(-0.15, 0.05)
        spots = [
            Point(spot_of(figure, pose, b, p)) for b, p in zip(figure.skin.body, place, strict=True)
        ]
        gaps = [line.distance(spot) for spot in spots]
        if (gaps < figure.skin.radius).any() and not any(map(behind.contains, spots)):
            found.append(pose)
    rate = rng.normal(0.0, 2.0, (count, 11))
    rate[:, 0] += rng.uniform(-3.0, 8.0, count)
    return np.array(found), rate


def moments(figure: Figure, cases, which, pose, rate):
    place = figure.skin.with_shoulders(cases.shoulder)
    return place, Moment.of(figure.chain, figure.skin, place[which], which, pose, rate)


def nearest(point):
    """Stretch, place on it and distance, of all stretches; the first of those as near."""
    best = None
    for s, (a, b) in enumerate(zip(NOSE, NOSE[1:], strict=False)):
        t = min(max(float((point - a) @ (b - a)) / float((b - a) @ (b - a)), 0.0), 1.0)
        at = a + t * (b - a)
        gap = math.hypot(*(point - at))
        if best is None or gap < best[2] - 1e-12:
            best = s, at, gap
    return best


@pytest.mark.parametrize("who", FIGURE)
def test_the_front_pushes_and_rubs_circle_by_circle(who: str) -> None:
    figure, cases, which = FIGURE[who], drawn(9, 5), np.array([3, 0, 6, 5, 1, 7])
    skin = figure.skin
    pose, rate = poses(figure, len(which), 8)
    place, now = moments(figure, cases, which, pose, rate)
    hits = front_loads(now, Wall(NOSE), PARTS, skin, cases)
    told, ways = [], set()
    for row, k in enumerate(which.tolist()):
        sums = Loads(figure, pose[row])
        for c, body in enumerate(skin.body.tolist()):
            centre = spot_of(figure, pose[row], body, place[k, c])
            stretch, at, gap = nearest(centre)
            if gap >= skin.radius[c]:
                continue
            normal, depth = (centre - at) / gap, skin.radius[c] - gap
            spot = centre - skin.radius[c] * normal
            going = speed_of(figure, pose[row], rate[row], body, spot)
            into = -float(going @ normal)
            part = PARTS[stretch]
            full = cases.stiffness[k, part] * skin.stiff[c] * depth
            back = 1.0 if into >= 0.0 else cases.rebound[k] ** 2
            slide = going + into * normal
            slip = math.hypot(*slide)
            # On the way out it rubs by its push, by its depth, or by something between.
            rubs = cases.grip[k] * full + (1.0 - cases.grip[k]) * back * full
            rub = cases.friction[k, part] * rubs * math.tanh(slip / 0.4)
            sums.add(body, spot, back * full * normal - rub * slide / slip)
            told.append((row, c, stretch, *at, *normal, depth, into))
            ways.add(into >= 0.0)
        assert now.force[row] == pytest.approx(sums.force, rel=1e-5, abs=1e-3)
        assert now.torque[row] == pytest.approx(sums.torque, rel=1e-5, abs=1e-3)
    assert ways == {True, False}
    assert len(told) > 20
    for i, (row, c, stretch, x, z, nx, nz, depth, into) in enumerate(told):
        assert (hits.row[i], hits.circle[i]) == (row, c)
        s = hits.stretch[i]  # at a corner either of two: that of the loop or the next
        assert s == stretch or LineString(NOSE[s : s + 2]).distance(Point(x, z)) < 1e-12
        assert hits.at[i] == pytest.approx([x, z])
        assert hits.normal[i] == pytest.approx([nx, nz])
        assert (hits.depth[i], hits.into[i]) == pytest.approx((depth, into), abs=1e-6)
    assert len(hits.row) == len(told)


@pytest.mark.parametrize("who", FIGURE)
def test_the_road_pushes_soles_up_and_rubs_them_along(who: str) -> None:
    """200 kN/m under a sole, less on the way out; friction against a road that moves itself."""
    figure, cases, which = FIGURE[who], drawn(8, 9), np.arange(8)[::-1].copy()
    pose, rate = poses(figure, 8, 10)
    rate[:, 1] += np.tile([2.0, -2.0], 4)
    ground = np.linspace(-3.0, 11.0, 8)
    _, now = moments(figure, cases, which, pose, rate)
    ground_loads(now, figure.sole, cases, ground)
    ways = set()
    for row, k in enumerate(which.tolist()):
        sums = Loads(figure, pose[row])
        for shank in (6, 8):
            spot = spot_of(figure, pose[row], shank, (0.0, -figure.sole))
            if spot[1] >= 0.0:
                ways.add("above")
                continue
            going = speed_of(figure, pose[row], rate[row], shank, spot)
            push = 200e3 * -spot[1] * (1.0 if going[1] <= 0.0 else cases.rebound[k] ** 2)
            rub = cases.sole_friction[k] * push * math.tanh((ground[row] - going[0]) / 0.4)
            sums.add(shank, spot, np.array([rub, push]))
            ways.add("up" if going[1] > 0.0 else "down")
        assert now.force[row] == pytest.approx(sums.force, rel=1e-5, abs=1e-3)
        assert now.torque[row] == pytest.approx(sums.torque, rel=1e-5, abs=1e-3)
    assert ways == {"above", "up", "down"}


@pytest.mark.parametrize("who", FIGURE)
def test_one_leg_pushes_the_other_where_they_meet(who: str) -> None:
    """0.1 kN/mm a 100 mm of skin between any two circles of both legs; none where legs pass."""
    figure, cases, which = FIGURE[who], drawn(12, 12), np.array([7, 2, 0, 5, 11, 4, 9, 8, 1])
    skin = figure.skin
    pose, rate = poses(figure, len(which), 13, 0.5)
    place, now = moments(figure, cases, which, pose, rate)
    leg_loads(now, skin, cases)
    near = [c for c, b in enumerate(skin.body.tolist()) if b in (5, 6)]
    far = [c for c, b in enumerate(skin.body.tolist()) if b in (7, 8)]
    ways = set()
    for row, k in enumerate(which.tolist()):
        sums = Loads(figure, pose[row])
        at = [spot_of(figure, pose[row], b, place[k, c]) for c, b in enumerate(skin.body.tolist())]
        for one in near if cases.legs_touch[k] else ():
            for two in far:
                gap = math.hypot(*(at[one] - at[two]))
                depth = skin.radius[one] + skin.radius[two] - gap
                if depth <= 0.0:
                    continue
                normal = (at[one] - at[two]) / gap
                spots = at[one] - skin.radius[one] * normal, at[two] + skin.radius[two] * normal
                bodies = int(skin.body[one]), int(skin.body[two])
                going = [
                    speed_of(figure, pose[row], rate[row], body, spot)
                    for body, spot in zip(bodies, spots, strict=True)
                ]
                into = -float((going[0] - going[1]) @ normal)
                back = 1.0 if into >= 0.0 else cases.rebound[k] ** 2
                push = 1e5 * skin.stiff[one] * depth * back * normal
                sums.add(bodies[0], spots[0], push)
                sums.add(bodies[1], spots[1], -push)
                ways.add(into >= 0.0)
        assert now.force[row] == pytest.approx(sums.force, rel=1e-5, abs=1e-3)
        assert now.torque[row] == pytest.approx(sums.torque, rel=1e-5, abs=1e-3)
    assert ways == {True, False}
    assert set(cases.legs_touch[which].tolist()) == {True, False}


@pytest.mark.parametrize("lean", [-5.0, 0.0, 5.0])
def test_people_start_where_they_just_do_not_touch(lean: float) -> None:
    """A hair farther a circle reaches the wall, by shapely; where they are none does."""
    figure, line = FIGURE["man"], LineString(NOSE)
    skin = figure.skin
    place = skin.with_shoulders(np.array([1.0, 0.8]))
    pose = np.zeros((2, 11))
    pose[:, 1], pose[:, 2:] = figure.hip, math.radians(lean)
    for back in (0.0, 3.0, -40.0):  # wherever the front stands
        hips = _start(figure, Wall(NOSE + np.array([back, 0.0])), place, pose) - back
        for k in range(2):
            own = pose[k].copy()
            own[0] = hips[k]
            gap = min(
                line.distance(Point(spot_of(figure, own, body, place[k, c]))) - skin.radius[c]
                for c, body in enumerate(skin.body.tolist())
            )
            assert gap + 1e-12 >= 0.0
            assert gap < 1e-9


def test_skin_gives_all_going_in_and_at_rest_and_little_coming_out() -> None:
    into = np.array([2.0, 0.0, -1e-12, -3.0])
    assert given_back(into, 0.2) == pytest.approx([1.0, 1.0, 0.04, 0.04])
    assert given_back(into, np.array([0.1, 0.2, 0.3, 0.5])) == pytest.approx([1.0, 1.0, 0.09, 0.25])


def test_a_step_takes_rates_first_and_places_with_them() -> None:
    place, rate = stepped(np.array([1.0]), np.array([2.0]), np.array([-4.0]), 0.25)
    assert (place.tolist(), rate.tolist()) == ([1.25], [1.0])

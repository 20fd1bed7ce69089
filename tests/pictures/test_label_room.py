"""Where labels go: every cost against shapely and plain loops, and what follows for a label.

The weights (own choice) are written here again, from the words beside them: leader 1 a pixel, up to
70 for the wrong side, 120 and 3 a pixel over a line (which is 3 px wide either side), 14 a crossing
of a leader and a line, 250 of two leaders, 2000 a leader across a box, 300 over an anchor (4 px
about), a million and more where there is no room at all.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import labels
from frontcheck.outputs.figures.labels import Request, arrange

FRAME = np.array([0.0, 0.0, 400.0, 300.0])
SEEDS = range(6)


def some(seed: int) -> tuple[np.random.Generator, np.ndarray, np.ndarray]:
    """Boxes and segments at random, level and upright ones and single points among them."""
    rng = np.random.default_rng(seed)
    low = rng.uniform(-30.0, 380.0, (9, 2))
    boxes = np.concatenate([low, low + rng.uniform(5.0, 90.0, (9, 2))], axis=1)
    lines = rng.uniform(-20.0, 420.0, (14, 2, 2))
    lines[0, 1, 0], lines[1, 1, 1] = lines[0, 0, 0], lines[1, 0, 1]  # upright, level
    lines[2, 1] = lines[2, 0]  # a point
    lines[3] = [boxes[0, :2] + 1.0, boxes[0, 2:] - 1.0]  # inside a box
    return rng, boxes, lines


def wider(box: np.ndarray, by: float) -> shapely.Polygon:
    x0, y0, x1, y1 = box
    return shapely.box(x0 - by, y0 - by, x1 + by, y1 + by)


def line_of(one: np.ndarray) -> shapely.LineString:
    return shapely.LineString(one)


@pytest.mark.parametrize("seed", SEEDS)
def test_lengths_inside_boxes_and_overlaps_are_those_of_shapely(seed) -> None:
    _, boxes, lines = some(seed)
    inside = labels._length_inside(boxes, lines)
    for i, box in enumerate(boxes):
        for j, one in enumerate(lines):
            expected = shapely.box(*box).intersection(line_of(one)).length
            assert inside[i, j] == pytest.approx(expected, abs=1e-9)
    gap = 4.0
    for i, box in enumerate(boxes):
        wide = wider(box, gap)
        expected = sum(wide.intersection(shapely.box(*other)).area for other in boxes[4:])
        assert labels._overlap(boxes[[i]], boxes[4:], gap)[0] == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize("seed", SEEDS)
def test_crossings_are_those_of_shapely_after_five_pixels(seed) -> None:
    rng, _, lines = some(seed)
    own = rng.uniform(0.0, 400.0, (10, 2, 2))
    found = labels._crossings(own, lines)
    for leader, count in zip(own, found, strict=True):
        a, b = leader
        start = a + 5.0 * (b - a) / np.hypot(*(b - a))
        rest = shapely.LineString([start, b])
        assert count == sum(rest.intersects(line_of(one)) for one in lines[3:]) + sum(
            rest.intersects(line_of(one)) for one in lines[:2]
        )


def test_a_crossing_counts_from_the_fifth_pixel_and_before_the_end() -> None:
    leader = np.array([[[0.0, 0.0], [100.0, 0.0]]])

    def crossed(x: float, low: float = -1.0, high: float = 1.0) -> float:
        return float(labels._crossings(leader, np.array([[[x, low], [x, high]]]))[0])

    assert [crossed(x) for x in (0.0, 5.0, 5.01, 99.99, 100.0, 101.0)] == [0, 0, 1, 1, 0, 0]
    assert [crossed(50.0, 0.0, 1.0), crossed(50.0, -1.0, 0.0), crossed(50.0, 0.1, 1.0)] == [1, 1, 0]
    along = np.array([[[10.0, 0.0], [60.0, 0.0]]])
    assert labels._crossings(leader, along)[0] == 0


def room_of(seed: int, scale: float = 1.0) -> tuple[labels._Room, list[Request], np.ndarray]:
    rng, _, lines = some(seed)
    requests = []
    for n in range(6):
        anchor = None if n == 3 else tuple(rng.uniform(20.0, 280.0, 2).tolist())
        prefer = [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.5), (1.0, -1.0), (0.0, 1.0), (-0.3, -1.0)][n]
        wide, high = rng.uniform(20.0, 90.0), rng.uniform(9.0, 30.0)
        requests.append(Request(wide, high, anchor, prefer))
    return labels._Room(requests, FRAME, lines, 4.0, scale), requests, lines


def plain_cost(request: Request, box: np.ndarray, lines: np.ndarray, anchors: list) -> float:
    """What a place costs by itself, from the list on top of this file."""
    out = max(FRAME[0] - box[0], FRAME[1] - box[1], box[2] - FRAME[2], box[3] - FRAME[3])
    cost = 1e6 + 1e4 * out if out > 1e-9 else 0.0
    wide = wider(box, 3.0)
    covered = sum(wide.intersection(line_of(one)).length for one in lines)
    cost += 120.0 + 3.0 * covered if covered > 0.0 else 0.0
    about = wider(box, 4.0)
    cost += 300.0 * sum(about.intersects(shapely.Point(at)) for at in anchors)
    middle, prefer = (box[:2] + box[2:]) / 2.0, np.array(request.prefer)
    if request.anchor is None:  # towards the corner it prefers, an axis without a wish left out
        corner = np.where(prefer > 0.0, FRAME[2:], FRAME[:2])
        return cost + 0.2 * sum(abs(middle - corner)[prefer != 0.0])
    at = np.array(request.anchor)
    end = np.clip(at, box[:2], box[2:])
    length = math.dist(at, end)
    cost += length
    if length > 5.0:
        rest = shapely.LineString([at + 5.0 * (end - at) / length, end])
        cost += 14.0 * sum(
            rest.intersects(line_of(one)) and not shapely.Point(end).intersects(line_of(one))
            for one in lines
        )
    if prefer.any():
        to = middle - at
        cost += 35.0 * (1.0 - to @ prefer / (np.hypot(*to) * np.hypot(*prefer)))
    return cost


@pytest.mark.parametrize("seed", SEEDS)
def test_what_a_place_costs_alone(seed) -> None:
    room, requests, lines = room_of(seed)
    anchors = [r.anchor for r in requests if r.anchor is not None]
    rng = np.random.default_rng(seed)
    for i, request in enumerate(requests):
        boxes = room._places(i)
        picks = rng.choice(len(boxes), 12)
        found = room._fixed_cost(i, boxes[picks])
        for cost, box in zip(found, boxes[picks], strict=True):
            assert cost == pytest.approx(plain_cost(request, box, lines, anchors), rel=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_what_a_place_costs_beside_others(seed) -> None:
    room, requests, _ = room_of(seed)
    room.settle_all(range(4))
    others = np.arange(len(requests)) < 4
    placed, ends = room.boxes[:4], room.ends[:4]
    leaders = [line_of([r.anchor, end]) for r, end in zip(requests, ends, strict=False) if r.anchor]
    i = 4
    boxes = np.concatenate([room._places(i)[::37], placed + 3.0])
    cost, free = room._judge(i, boxes, others)
    at = np.array(requests[i].anchor)
    for box, own_cost, is_free in zip(boxes, cost, free, strict=True):
        body, wide = shapely.box(*box), wider(box, 4.0)
        clash = sum(wide.intersection(shapely.box(*other)).area for other in placed)
        expected = 1e6 + clash if clash > 0.0 else 0.0
        expected += 2000.0 * sum(body.intersection(way).length > 0.0 for way in leaders)
        end = np.clip(at, box[:2], box[2:])
        own = line_of([at, end])
        expected += 2000.0 * sum(
            shapely.box(*other).intersection(own).length > 0.0 for other in placed
        )
        if own.length > 5.0:
            rest = line_of([at + 5.0 * (end - at) / own.length, end])
            expected += 250.0 * sum(rest.intersects(way) for way in leaders)
        assert own_cost == pytest.approx(expected, rel=1e-9)
        inside = (box[:2] >= FRAME[:2] - 1e-9).all() and (box[2:] <= FRAME[2:] + 1e-9).all()
        assert is_free == (inside and clash == 0.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_places_are_rings_about_the_anchor_and_a_grid_over_the_frame(seed) -> None:
    room, requests, _ = room_of(seed)
    rings = (8.0, 14.0, 22.0, 32.0, 45.0, 60.0, 80.0, 105.0, 135.0, 170.0, 210.0, 260.0)
    for i, request in enumerate(requests):
        boxes = room._places(i)
        size = boxes[:, 2:] - boxes[:, :2]
        assert np.allclose(size, [request.width, request.height])
        grid = boxes[-520:]
        assert np.allclose(grid[:, :2].min(axis=0), FRAME[:2])
        assert np.allclose(grid[:, 2:].max(axis=0), FRAME[2:])
        assert len(np.unique(grid.round(6), axis=0)) == 26 * 20
        if request.anchor is None:
            assert len(boxes) == 520
            continue
        assert len(boxes) == 520 + 12 * 24
        near = boxes[:-520].reshape(12, 24, 4)
        at = np.array(request.anchor)
        for ring, row in zip(rings, near, strict=True):
            for n, box in enumerate(row):
                way = np.array([math.cos(n * math.pi / 12.0), math.sin(n * math.pi / 12.0)])
                to = at + ring * way
                # The corner or the side of the box that looks at the anchor stands on the ring.
                for axis in (0, 1):
                    low, high = box[axis], box[axis + 2]
                    stands = (low + high) / 2.0
                    if abs(way[axis]) >= 0.2:
                        stands = low if way[axis] > 0.0 else high
                    assert stands == pytest.approx(to[axis], abs=1e-9)


@pytest.mark.parametrize("prefer", [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1)])
def test_a_label_alone_stands_on_the_side_it_prefers(prefer) -> None:
    (place,) = arrange(
        [Request(40.0, 12.0, (200.0, 150.0), prefer)], tuple(FRAME), np.zeros((0, 2, 2))
    )
    middle = np.array([place.x + 20.0, place.y + 6.0]) - [200.0, 150.0]
    for axis in (0, 1):
        if prefer[axis]:
            assert middle[axis] * prefer[axis] > 0.0
    assert place.free
    end = np.clip([200.0, 150.0], [place.x, place.y], [place.x + 40.0, place.y + 12.0])
    assert place.leader == pytest.approx(tuple(end))
    assert math.dist(end, (200.0, 150.0)) <= 14.0


@pytest.mark.parametrize("prefer", [(1, 1), (-1, 1), (1, -1), (-1, -1)])
def test_a_note_goes_to_its_corner_and_has_no_leader(prefer) -> None:
    (place,) = arrange([Request(40.0, 12.0, None, prefer)], tuple(FRAME), np.zeros((0, 2, 2)))
    assert place.x == pytest.approx(360.0 if prefer[0] > 0 else 0.0)
    assert place.y == pytest.approx(288.0 if prefer[1] > 0 else 0.0)
    assert place.leader is None


def test_the_same_at_twice_the_size() -> None:
    requests = [Request(40.0, 12.0, (100.0, 100.0), (1, 0)), Request(60.0, 12.0, (110.0, 104.0))]
    twice = [
        Request(2 * r.width, 2 * r.height, tuple(2.0 * np.array(r.anchor)), r.prefer)
        for r in requests
    ]
    line = np.array([[[0.0, 100.0], [400.0, 110.0]]])
    one = arrange(requests, tuple(FRAME), line, gap=4.0, scale=1.0)
    two = arrange(twice, tuple(2.0 * FRAME), 2.0 * line, gap=8.0, scale=2.0)
    for a, b in zip(one, two, strict=True):
        assert (b.x, b.y) == pytest.approx((2.0 * a.x, 2.0 * a.y))
        assert b.leader == pytest.approx(tuple(2.0 * np.array(a.leader)))
    assert arrange([], tuple(FRAME), line) == ()


def test_labels_of_one_anchor_stand_apart_and_what_has_no_room_says_so() -> None:
    many = [Request(60.0, 20.0, (200.0, 150.0)) for _ in range(6)]
    places = arrange(many, tuple(FRAME), np.zeros((0, 2, 2)), gap=4.0)
    assert all(place.free for place in places)
    boxes = [shapely.box(p.x, p.y, p.x + 60.0, p.y + 20.0) for p in places]
    for i, one in enumerate(boxes):
        assert all(one.distance(other) >= 4.0 - 1e-9 for other in boxes[:i])
    wide = [Request(300.0, 200.0, (200.0, 150.0)) for _ in range(2)]
    assert sorted(p.free for p in arrange(wide, tuple(FRAME), np.zeros((0, 2, 2)))) != [True, True]
    (alone,) = arrange([Request(500.0, 20.0, (200.0, 150.0))], tuple(FRAME), np.zeros((0, 2, 2)))
    assert not alone.free


def crowded(seed: int) -> labels._Room:
    """Labels that want the same places, settled in turn."""
    rng = np.random.default_rng(seed)
    requests = [
        Request(70.0, 16.0, tuple(rng.uniform([150.0, 120.0], [260.0, 180.0]).tolist()), (1.0, 0.0))
        for _ in range(7)
    ]
    room = labels._Room(requests, FRAME, rng.uniform(100.0, 300.0, (10, 2, 2)), 4.0, 1.0)
    room.settle_all(range(7))
    return room


def plain_price(room: labels._Room, i: int) -> float:
    box, others = room.boxes[[i]], np.arange(len(room.boxes)) != i
    beside, _ = room._judge(i, box, others)
    return float(room._fixed_cost(i, box).item() + beside.item())


def way_of(room: labels._Room, i: int) -> shapely.LineString:
    return line_of([room.anchors[i], room.ends[i]])


def test_who_gives_way_makes_the_whole_cheaper_or_all_stays() -> None:
    """Own choice: asked are those 60 dearer than alone, and it must save more than 1 in all."""
    moved = asked = 0
    for seed in range(4):
        room = crowded(seed)
        for i in range(7):
            prices = [plain_price(room, j) for j in range(7)]
            assert room._total() == pytest.approx(sum(prices))
            assert room._price(i) == pytest.approx(prices[i])
            boxes, alone = room._choices(i)
            wish = boxes[alone.argmin()]
            dear = prices[i] >= alone.min() + 60.0 and not np.array_equal(wish, room.boxes[i])
            before = room.boxes.copy(), room.ends.copy(), room.free.copy()
            gave = room.give_way(i)
            asked += dear
            moved += gave
            assert gave <= dear
            after = sum(plain_price(room, j) for j in range(7))
            if gave:
                assert after < sum(prices) - 1.0
            else:
                for old, new in zip(before, (room.boxes, room.ends, room.free), strict=True):
                    assert np.array_equal(old, new)
    assert 0 < moved < asked


def test_in_the_way_is_a_box_too_near_or_a_leader_across_it() -> None:
    seen = set()
    for seed in range(6):
        room = crowded(seed)
        rng = np.random.default_rng(seed)
        for i in range(7):  # places at random, so that some stand over others
            room._put(i, room._places(i)[rng.integers(0, 200)])
        for i in range(7):
            for j in set(range(7)) - {i}:
                one, two = (shapely.box(*room.boxes[k]) for k in (i, j))
                near = wider(room.boxes[i], 4.0).intersection(two).area > 0.0
                mine = two.intersection(way_of(room, i)).length > 0.0
                theirs = one.intersection(way_of(room, j)).length > 0.0
                seen.add((near, mine, theirs))
                assert room._in_the_way(i, j) == (near or mine or theirs)
    assert {(True, False, False), (False, True, False), (False, False, True)} <= seen


def test_settling_ends_when_nobody_moves() -> None:
    """Every label stands in the cheapest place beside the others, and knows if that is free."""
    for seed in range(4):
        room = crowded(seed)
        for i in range(7):
            boxes, fixed = room._choices(i)
            cost, free = room._judge(i, boxes, np.arange(7) != i)
            best = int((fixed + cost).argmin())
            assert np.array_equal(room.boxes[i], boxes[best])
            assert room.free[i] == free[best]
            assert not room.settle(i)
            room.boxes[i] += 1.0
            assert room.settle(i)


# --- limits at equal scale -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("box", "margins"),
    [
        ((0.0, 0.0, 1000.0, 100.0), (1.0, 0.5, 0.25, 0.5)),
        ((-50.0, 200.0, 50.0, 1500.0), (1.0, 0.5, 0.25, 0.5)),
        ((0.0, 0.0, 100.0, 100.0), (0.0, 0.3, 0.0, 0.1)),
        ((5.0, 5.0, 5.0, 5.0), (1.0, 0.5, 0.25, 0.5)),
        ((0.0, 0.0, 100.0, 100.0), (4.0, 0.5, 2.0, 0.5)),
        ((0.0, 0.0, 100.0, 100.0), (0.5, 3.0, 0.5, 3.0)),
    ],
)
def test_a_box_fits_with_its_margins_at_equal_scale(box, margins) -> None:
    """Closed form on a panel of 6 by 4 inches; margins give way to 60 % of either side."""
    figure = Figure(figsize=(8.0, 5.0))
    ax = figure.add_axes((1.0 / 8.0, 0.1, 6.0 / 8.0, 0.8))
    scale = look.fit_limits(ax, box, margins)
    left, below, right, above = margins
    wide, high = 6.0, 4.0
    shrink = min(
        1.0, *(0.6 * size / (a + b) for size, a, b in ((wide, left, right), (high, below, above))
               if a + b > 0.0),
    )  # fmt: skip
    left, below, right, above = (each * shrink for each in margins)
    per_inch = max(
        (box[2] - box[0]) / (wide - left - right), (box[3] - box[1]) / (high - below - above), 1e-6
    )
    assert scale == pytest.approx(per_inch)
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    assert (x1 - x0, y1 - y0) == pytest.approx((wide * per_inch, high * per_inch))
    assert y0 == pytest.approx(box[1] - below * per_inch)
    spare = wide * per_inch - (box[2] - box[0])
    share = left / (left + right) if left + right else 0.5
    assert box[0] - x0 == pytest.approx(spare * share)
    assert ax.get_aspect() == 1.0

"""What tools leave out because it lies far off changes nothing: with and without, on many contours.

The contours are those of the random tests (tests/references/random_contours.py).
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from references.random_contours import random_contours

from frontcheck.geometry import laid_tape, sphere, straight_edge, tape
from frontcheck.geometry.laid_tape import tape_onward
from frontcheck.geometry.sphere import sphere_contact
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact, touch_runs
from frontcheck.geometry.swept import SweptPoints
from frontcheck.geometry.tape import ANCHOR, TautTape
from frontcheck.geometry.tape_batch import rises_then_runs, tape_marks


@cache
def lines():
    return tuple(c.points for c in random_contours(77, 36))


def padded(rows):
    """Contours of different length, the last point repeated."""
    n = max(map(len, rows))
    return np.array([np.concatenate([r, np.repeat(r[-1:], n - len(r), axis=0)]) for r in rows])


# --- straight edges -----------------------------------------------------------------------

EDGES = [StraightEdge.standing(700.0, 20.0), StraightEdge.standing(700.0, -25.0),
         StraightEdge.standing(1000.0, 50.0, 600.0), StraightEdge(0.0, 400.0, 420.0),
         StraightEdge(10.0, 5000.0, 6000.0)]  # fmt: skip


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("chosen", [None, "some", "none", "one"])
def test_stretches_out_of_reach_change_no_contact(monkeypatch, edge, chosen) -> None:
    points = padded(lines())
    rng = np.random.default_rng(1)
    counted = {
        None: None, "some": rng.random(points.shape[:2]) < 0.6,
        "none": np.zeros(points.shape[:2], dtype=bool),
        "one": np.arange(points.shape[1]) == 6,
    }[chosen]  # fmt: skip
    results = []
    for plain in (False, True):
        if plain:
            monkeypatch.setattr(
                straight_edge, "_clip_near", lambda p, e, c: (straight_edge._clip(p, e, c), 0)
            )
        for take in ("upper", "lower"):
            touch = edge_contact(points, edge, take=take, counted=counted)
            runs = touch_runs(points, edge, touch, 0.5, counted=counted)
            results.append((touch, runs))
    for one, two in zip(results[:2], results[2:], strict=True):
        met = one[0].touched
        assert met.tolist() == two[0].touched.tolist()
        for name in ("x", "z", "foot_x", "at_low", "at_high", "stretch", "z_lowest", "z_highest"):
            got, want = getattr(one[0], name), getattr(two[0], name)
            if name == "stretch" and chosen is not None:
                continue  # a contour touched nowhere else may name either stretch at a point
            assert got[met].tolist() == want[met].tolist()
        for name in ("longest", "spread", "count", "top_x", "top_z"):
            assert getattr(one[1], name).tolist() == getattr(two[1], name).tolist()


def test_gaps_and_ends_of_the_reach() -> None:
    edge = StraightEdge(45.0, 100.0, 300.0)
    assert edge.gap(np.array([50.0]), np.array([130.0])).tolist() == [pytest.approx(20.0)]
    assert (edge.slope, edge.cosine) == (pytest.approx(1.0), pytest.approx(math.sqrt(0.5)))
    # Touches just at either end of the reach are told, those a micrometre within are not.
    upright = StraightEdge(0.0, 100.0, 300.0)
    for z, low, high in ((100.0, True, False), (100.001, False, False), (300.0, False, True),
                         (299.999, False, False)):  # fmt: skip
        nose = np.array([[(9.0, z - 500.0), (9.0, z), (0.0, z), (9.0, z), (9.0, z + 500.0)]])
        touch = edge_contact(nose, upright)
        assert (touch.x[0], touch.z[0]) == (0.0, z)
        assert (touch.at_low[0], touch.at_high[0]) == (low, high)


@pytest.mark.parametrize(("second", "want"), [
    # Of touches as near the highest is the top; one less near is its own.
    (0.0, (2, 100.0, 0.0, 300.0)), (0.3, (2, 100.0, 0.3, 300.0)), (0.6, (1, 0.0, 0.0, 200.0)),
])  # fmt: skip
def test_touches_within_a_tolerance_of_half_a_millimetre(second, want) -> None:
    teeth = np.array([[(9.0, 150.0), (0.0, 200.0), (9.0, 250.0), (second, 300.0), (9.0, 350.0)]])
    edge = StraightEdge(0.0, 100.0, 500.0)
    runs = touch_runs(teeth, edge, edge_contact(teeth, edge), 0.5)
    assert (runs.count[0], runs.spread[0], runs.top_x[0], runs.top_z[0]) == want
    # Each slope is within 0.5 mm over 50 / 9 * 0.5 mm of height.
    assert runs.longest[0] == pytest.approx(2.0 * 50.0 / 9.0 * 0.5)


# --- the sphere in a section --------------------------------------------------------------


def glass_of(points):
    """The last third of a contour for windscreen, what is above its foremost point for surface."""
    last = len(points) - 1
    first = last - max(2, len(points) // 3)
    upper = int(points[: first + 1, 0].argmin())
    return (first, last), upper


@pytest.mark.parametrize("radius", [20.0, 82.5])
def test_stretches_farther_than_one_diameter_change_no_sphere(monkeypatch, radius) -> None:
    rng = np.random.default_rng(2)
    touched = 0
    given = []
    for points in lines()[:15]:
        screen, upper = glass_of(points)
        copies = points + rng.normal(0.0, 3.0, (2, *points.shape))
        given.append((copies, radius, screen, upper))
    found = [sphere_contact(*each) for each in given]
    monkeypatch.setattr(
        sphere, "_near", lambda u, g, _: np.ones((u.shape[1] - 1, g.shape[1] - 1), dtype=bool)
    )
    for one, each in zip(found, given, strict=True):
        two = sphere_contact(*each)
        assert one.touched.tolist() == two.touched.tolist()
        met = one.touched
        for name in ("x", "z", "stretch", "centre_x", "centre_z", "screen_x", "screen_z"):
            assert getattr(one, name)[met].tolist() == getattr(two, name)[met].tolist()
        touched += int(met.sum())
    assert touched > 5


def test_stretches_just_within_one_diameter_are_looked_at() -> None:
    """One diameter and 0.001 mm between their boxes, along either axis and either way."""
    upper = np.array([[(0.0, 0.0), (10.0, 5.0), (10.0, 105.0)]])
    for away, near in ((20.0005, True), (20.002, False)):
        for x, z in ((10.0 + away, 0.0), (-away - 4.0, 0.0), (3.0, 105.0 + away),
                     (3.0, -away - 4.0)):  # fmt: skip
            glass = np.array([[(x, z), (x + 4.0, z + 4.0)]])
            found = sphere._near(upper, glass, 10.0)
            assert found.shape == (2, 1)
            assert found.any() == near
    # In some contour of a batch at least.
    far = upper + 500.0
    glass = np.array([[(31.0, 0.0), (35.0, 4.0)], [(521.0, 500.0), (525.0, 504.0)]])
    both = np.concatenate([upper, far])
    assert sphere._near(both, glass, 10.0).any()


# --- the tape -----------------------------------------------------------------------------


def swept_by_loop(points, corners, turn):
    """Points well within a triangle, by more than rounding."""
    out = []
    a, b, c = (points[i] for i in corners)
    for k, p in enumerate(points):
        off = [
            turn * ((v[0] - u[0]) * (p[1] - u[1]) - (v[1] - u[1]) * (p[0] - u[0]))
            for u, v in ((a, b), (b, c), (c, a))
        ]
        if k not in corners and min(off) > 1e-3:
            out.append(k)
    return out


@pytest.mark.parametrize("few", [0, 200])
def test_points_in_a_swept_triangle_are_those_of_a_loop(monkeypatch, few) -> None:
    monkeypatch.setattr("frontcheck.geometry.swept._FEW", few)
    rng = np.random.default_rng(3)
    found_any = 0
    for points in lines():
        swept = SweptPoints(points)
        for _ in range(12):
            corners = tuple(sorted(rng.choice(len(points), 3, replace=False).tolist()))
            if rng.random() < 0.5:
                corners = corners[::-1]
            (ax, az), (bx, bz), (cx, cz) = places = [tuple(points[i].tolist()) for i in corners]
            turn = 1.0 if (bx - ax) * (cz - bz) - (bz - az) * (cx - bx) > 0.0 else -1.0
            got = swept.within(corners, places, turn, None)
            want = swept_by_loop(points, corners, turn)
            assert set(want) <= set(got)
            assert not set(got) & set(corners)
            assert got == sorted(got)
            size = max(math.hypot(bx - ax, bz - az), 1.0)
            for k in set(got) - set(want):  # on a side
                off = [
                    abs(
                        (v[0] - u[0]) * (points[k, 1] - u[1])
                        - (v[1] - u[1]) * (points[k, 0] - u[0])
                    )
                    for u, v in (
                        (places[0], places[1]),
                        (places[1], places[2]),
                        (places[2], places[0]),
                    )
                ]
                assert min(off) < 1e-3 + 1e-5 * size
            low, high = sorted(rng.integers(0, len(points), 2).tolist())
            behind = swept.within(corners, places, turn, (low, high))
            assert behind == [k for k in got if not low <= k <= high]
            found_any += len(want)
    assert found_any > 60


@pytest.mark.parametrize("length", [30.0, 82.5, 300.0])
def test_what_lies_beyond_a_laid_tape_and_convex_parts_change_nothing(monkeypatch, length) -> None:
    rng = np.random.default_rng(4)
    given = [(points, float(rng.uniform(0.0, len(points) - 1.0)), bool(rng.integers(2)))
             for points in lines()[:20] for _ in range(2)]  # fmt: skip
    given += [(points, float(k), False) for points in lines()[:10] for k in (0, 3, len(points) - 1)]
    found = [tape_onward(p, at, length, back=back) for p, at, back in given]
    monkeypatch.setattr(laid_tape, "_on_convex", lambda *_: None)
    monkeypatch.setattr(laid_tape, "_window", lambda points, *_: (0, len(points) - 2))
    ended = 0
    for one, (points, at, back) in zip(found, given, strict=True):
        two = tape_onward(points, at, length, back=back)
        assert (one is None) == (two is None)
        ended += one is None
        if one is None:
            continue
        assert (one.x, one.z) == pytest.approx((two.x, two.z), abs=1e-6)
        assert one.position == pytest.approx(two.position, abs=1e-6)
        # It lies on the contour, on the side asked for, and no farther than the tape is long.
        k = min(int(one.position), len(points) - 2)
        on = points[k] + (one.position - k) * (points[k + 1] - points[k])
        assert (one.x, one.z) == pytest.approx(tuple(on), abs=1e-6)
        assert (one.position < at) == back
        i = min(int(at), len(points) - 2)
        here = points[i] + (at - i) * (points[i + 1] - points[i])
        assert math.hypot(*(on - here)) <= length + 1e-6
    assert 0 < ended < len(given) // 2


def test_tapes_of_plain_contours_and_of_all_others_are_the_same(monkeypatch) -> None:
    """The search of swept triangles is left out for contours that rise and then run rearward."""
    rows = padded(lines())
    start = np.array([int(p[:, 0].argmin()) for p in lines()])
    anchor = rows[np.arange(len(rows)), start, 0]
    plain = rises_then_runs(rows, anchor, start)
    assert 3 < plain.sum() < len(rows)
    distances = (300.0, 700.0, 1000.0, 1500.0, 2100.0)
    marks = tape_marks(rows, anchor, start, distances)
    short = marks.first(2)
    for name in ("reached", "x", "z", "stretch", "bridged", "again"):
        assert getattr(short, name).tolist() == getattr(marks, name)[:, :2].tolist()
    monkeypatch.setattr(tape, "rises_then_runs", lambda p, *_: np.zeros(len(p), dtype=bool))
    for i, points in enumerate(lines()):
        walked = TautTape(points, float(anchor[i]), int(start[i]))
        for j, distance in enumerate(distances):
            found = walked.solve(distance)
            assert marks.reached[i, j] == bool(found)
            if found:
                at = (marks.x[i, j], marks.z[i, j])
                assert at == pytest.approx((found[0].x, found[0].z), abs=1e-6)
                assert marks.again[i, j] or len(found) == 1
                assert found[0].bridged == marks.bridged[i, j]


def test_a_mark_is_reached_once_where_the_contour_only_leads_away() -> None:
    """A face and a bonnet without any hollow: the distance only grows, so no mark comes again."""
    points = np.array([(100.0, 200.0), (0.0, 250.0), (0.0, 700.0), (150.0, 800.0), (2000.0, 950.0)])
    marks = tape_marks(points[None], np.zeros(1), np.ones(1, dtype=int), (300.0, 900.0, 1500.0))
    assert marks.reached.tolist() == [[True] * 3]
    assert marks.again.tolist() == [[False] * 3]
    assert marks.bridged.tolist() == [[False] * 3]
    assert marks.stretch.tolist() == [[1, 3, 3]]
    far = 700.0 + math.hypot(150.0, 100.0)
    step = np.array([1850.0, 150.0]) / math.hypot(1850.0, 150.0)
    for j, distance in ((1, 900.0), (2, 1500.0)):
        want = np.array([150.0, 800.0]) + (distance - far) * step
        assert (marks.x[0, j], marks.z[0, j]) == pytest.approx(tuple(want))


def test_paths_places_and_distances_of_one_tape_agree() -> None:
    rng = np.random.default_rng(5)
    bridges = 0
    for points in lines()[:20]:
        start = int(points[:, 0].argmin())
        walked = TautTape(points, float(points[start, 0]), start)
        up = walked.distances_up
        assert np.isnan(up[:start]).all()
        assert up[start:].tolist() == walked.distances[start:].tolist()
        for k in range(len(points)):
            path = walked.path_to(k)
            assert (path[0], path[-1]) == (ANCHOR, k) or path[-1] == len(points)
            assert ANCHOR not in path[1:]
            spans = walked.spans(path)
            for a, b in spans:
                low, high = min(a, b), max(a, b)
                step = points[high] - points[low]
                off = np.subtract(points[low : high + 1], points[low]) @ [-step[1], step[0]]
                assert np.abs(off).max() > 1e-6 * math.hypot(*step)
            bridges += len(spans)
        for stretch, t in zip(rng.integers(0, len(points) - 1, 12), rng.random(12), strict=True):
            place = walked.at(int(stretch), float(t))
            on = points[stretch] + t * (points[stretch + 1] - points[stretch])
            assert (place.x, place.z) == pytest.approx(tuple(on), abs=1e-9)
            assert (place.stretch, place.t) == (stretch, t)
            # No longer than along the contour from either end, and convex between them.
            ends = walked.distances[[stretch, stretch + 1]]
            size = math.hypot(*(points[stretch + 1] - points[stretch]))
            assert place.distance <= min(ends[0] + t * size, ends[1] + (1.0 - t) * size) + 1e-9
            assert place.distance <= (1.0 - t) * ends[0] + t * ends[1] + 1e-9
            assert place.distance >= math.hypot(on[0] - points[start, 0], on[1]) - 1e-9
    assert bridges > 10


def test_how_far_a_tape_runs_beside_the_stretch_that_it_ends_on() -> None:
    """Square to the stretch, of the farther of its two parts: a stretch of 10, tape at 3 : 4."""
    for t, part in ((0.0, 1.0), (0.25, 0.75), (0.5, 0.5), (0.9, 0.9), (1.0, 1.0)):
        assert tape.arrival_lift(10.0, 0.0, 30.0, 40.0, t) == pytest.approx(8.0 * part)
        assert tape.arrival_lift(10.0, 0.0, 30.0, -40.0, t) == pytest.approx(8.0 * part)
    assert tape.arrival_lift(10.0, 5.0, 20.0, 10.0, 0.3) == pytest.approx(0.0, abs=1e-12)
    assert tape.arrival_lift(10.0, 5.0, 0.0, 0.0, 0.3) == 0.0

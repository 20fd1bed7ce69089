"""Where lines meet themselves, strings to many ends, lengths: against loops and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.geometry import polyline
from frontcheck.geometry.at_once import both
from frontcheck.geometry.polyline import first_meeting, taut_string, taut_strings, value_at
from frontcheck.geometry.reach import met_first, travels


def meetings(points):
    """All pairs of stretches that meet, neighbours where one turns back on the other."""
    lines = [shapely.LineString(p) for p in zip(points[:-1], points[1:], strict=True)]
    found = []
    for i in range(len(lines)):
        for j in range(i + 1, len(lines)):
            if j > i + 1:
                met = lines[i].distance(lines[j]) <= 1e-9
            else:
                (ax, az), (bx, bz) = points[i + 1] - points[i], points[j + 1] - points[j]
                met = ax * bz == az * bx and ax * bx + az * bz < 0.0
            if met:
                found.append((i, j))
    return found


@pytest.mark.parametrize("grid", [0.0, 4.0])
def test_the_first_meeting_of_a_line_is_that_of_all_pairs(grid) -> None:
    rng = np.random.default_rng(1)
    simple = crossed = 0
    for _ in range(150):
        n = int(rng.choice([2, 3, 5, 9, 17, 40]))
        points = np.cumsum(rng.normal((9.0, 0.0), 20.0, (n, 2)), axis=0)
        if grid:  # touching ends, stretches in a row and turns back on the way come
            points = np.round(points / grid) * grid
            points = points[np.concatenate([[True], (np.diff(points, axis=0) != 0.0).any(axis=1)])]
        want = meetings(points)
        assert first_meeting(points) == (min(want) if want else None)
        simple, crossed = simple + (not want), crossed + bool(want)
    assert min(simple, crossed) > 20


def test_lines_a_thousandth_of_a_micrometre_apart_meet() -> None:
    for apart, met in ((0.9e-9, (0, 2)), (1e-6, None), (-3.0, (0, 2))):
        line = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (5.0, apart)])
        assert first_meeting(line) == met
    # Neighbours that go on straight or turn are no meeting; one that turns back is.
    assert first_meeting(np.array([(0.0, 0.0), (5.0, 0.0), (9.0, 0.0)])) is None
    assert first_meeting(np.array([(0.0, 0.0), (5.0, 0.0), (1.0, 0.1)])) is None
    assert first_meeting(np.array([(0.0, 0.0), (5.0, 0.0), (1.0, 0.0)])) == (0, 1)
    assert first_meeting(np.array([(0.0, 0.0), (5.0, 0.0), (9.0, 4.0), (5.0, 0.0)])) == (0, 2)


@pytest.mark.parametrize("count", [2, 16, 17, 18, 33, 70])
def test_boxes_that_overlap_are_those_of_a_loop(count) -> None:
    rng = np.random.default_rng(count)
    points = np.cumsum(rng.normal(0.0, 10.0, (count, 2)), axis=0)
    low, high = np.minimum(points[:-1], points[1:]), np.maximum(points[:-1], points[1:])
    want = [
        (i, j)
        for i in range(count - 1)
        for j in range(i + 2, count - 1)
        if (low[i] <= high[j] + 2e-9).all() and (low[j] <= high[i] + 2e-9).all()
    ]
    found = polyline._near_pairs(points)
    assert sorted(zip(*(v.tolist() for v in found), strict=True)) == want


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_strings_to_many_ends_are_the_strings_drawn_one_by_one(side) -> None:
    rng = np.random.default_rng(2)
    points = np.stack([np.sort(rng.uniform(0.0, 400.0, 30)), rng.normal(0.0, 30.0, 30)], axis=1)
    ends = [(int(k), float(points[k - 1, 0] + 5.0), float(rng.normal(0.0, 40.0)))
            for k in (30, 1, 12, 12, 5, 29, 2)]  # fmt: skip
    given = points.copy()
    found = taut_strings(points, ends, side)
    for (passed, x, z), bends in zip(ends, found, strict=True):
        row = np.array([*points[:passed], (x, z)])
        assert bends == taut_string(row, side)[1:-1].tolist()
    assert (points == given).all()
    assert taut_strings(points, [], side) == []


def test_a_value_within_a_stretch_lies_between_those_of_its_ends() -> None:
    assert value_at(np.array([3.0, 5.0, 11.0]), 1, 0.25) == 6.5
    assert value_at(np.array([3.0, 5.0, 11.0]), 0, 0.0) == 3.0


# --- what a straight edge meets first -----------------------------------------------------


def test_edges_reach_to_their_ends_and_no_farther() -> None:
    """UN R127 02 series, 2.38, 2.26, 2.7 and 2.43: heights 0 to 657.785 (20 deg), to 634.415
    (-25 deg), 600 to 1242.788 (50 deg) and to 1366.044 (40 deg), 0 to 1000 (upright).
    """
    slopes = [math.tan(math.radians(lean)) for lean in (20.0, -25.0, 50.0, 40.0, 0.0)]
    reach = [(0.0, 657.785), (0.0, 634.415), (600.0, 1242.788), (600.0, 1366.044), (0.0, 1000.0)]
    for e, (slope, (low, high)) in enumerate(zip(slopes, reach, strict=True)):
        for z, met in ((low, low == float(int(low))), (low - 1.0, False), (low + 1.0, True),
                       (high - 0.01, True), (high + 0.01, False)):  # fmt: skip
            found = travels([np.array([(100.0, z), (300.0, z)])])[0, e]
            assert found == (pytest.approx(100.0 - slope * z) if met else math.inf)
        # Cut at an end of the reach: an upright line through it, and one that slants.
        line = np.array([(50.0, high + 20.0), (70.0, high - 20.0)])
        gaps = [x - slope * z for x, z in ((60.0, high), (70.0, high - 20.0))]
        assert travels([line])[0, e] == pytest.approx(min(gaps), abs=2e-3)
    # Lines that follow one another are not joined.
    two = [np.array([(100.0, 1500.0), (100.0, 1400.0)]), np.array([(0.0, -9.0), (0.0, -5.0)])]
    assert np.isinf(travels(two)).all()
    assert travels([]).shape == (0, 5)


def test_a_part_matters_where_some_edge_meets_it_before_the_body() -> None:
    part, body = np.array([[9.0, 5.0], [3.0, 7.0]]), np.array([[3.0, 5.0], [4.0, 6.0]])
    assert not met_first(part, body)  # least 3 and 5 against 3 and 5: as far is not before
    assert met_first(part - [[0.0, 0.1]], body)
    assert met_first(part - [[0.1, 0.0]], body)
    assert not met_first(part[:0], body)
    assert met_first(part, body[:0])
    assert not met_first(part[:0], body[:0])
    assert not met_first(np.full((1, 2), math.inf), body[:0])


def test_two_pieces_of_work_at_once_return_in_their_order() -> None:
    assert both(lambda: "first", lambda: "second") == ("first", "second")

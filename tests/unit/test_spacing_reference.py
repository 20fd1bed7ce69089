"""Bounds between rows against a plain way: every cap by itself, clipped by shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.sure.spacing import LineGap, SpacingReport, caps, spacing
from frontcheck.surface.section import Section

RULES = "UN-R127-02"
FAR = 1e5
# Lean from upright [deg], lower and upper end [mm]: UN R127, 02 series, straight edges of 700 mm
# standing on the ground (20 deg rearward, 25 deg forward) and of 1000 mm from 600 mm up (50 deg).
EDGES = {
    "UBRL": (20.0, 0.0, 700.0 * math.cos(math.radians(20.0))),
    "LBRL": (-25.0, 0.0, 700.0 * math.cos(math.radians(25.0))),
    "BLERL": (50.0, 600.0, 600.0 + 1000.0 * math.cos(math.radians(50.0))),
}


def nose(seed: int) -> Section:
    """A random face and bonnet of three heights: mostly convex, some hollows, unlabelled."""
    rng = np.random.default_rng(seed)
    lean = np.radians(np.sort(rng.uniform(-70.0, 80.0, 11)))
    x = 330.0 - 330.0 * np.cos(lean) + rng.normal(0.0, 6.0, 11)
    z = 560.0 - 90.0 * (seed % 3) + 300.0 * np.sin(lean)
    last = np.array([[x[-1] + 1400.0, z[-1] + 150.0]])
    return Section(np.concatenate([np.stack([x, z], axis=1), last]))


def plain_cap(points: np.ndarray, i: int) -> np.ndarray:
    """Tip of the triangle over a stretch whose sides run on from its neighbours, 60 deg at most."""
    a, b = points[i], points[i + 1]

    def turn(j: int) -> float:
        """Angle by which the walk turns right at point j, toward the body; 0 where it does not."""
        if j in {0, len(points) - 1}:
            return 0.0
        before, after = points[j] - points[j - 1], points[j + 1] - points[j]
        angle = math.atan2(before[1], before[0]) - math.atan2(after[1], after[0])
        angle = (angle + math.pi) % (2.0 * math.pi) - math.pi
        return max(angle, 0.0)

    one, two = turn(i), turn(i + 1)
    one, two = min(one or two, math.radians(60.0)), min(two or one, math.radians(60.0))
    if one + two == 0.0:
        return (a + b) / 2.0
    along = (b - a) / np.hypot(*(b - a))
    left = np.array([-along[1], along[0]])
    base = float(np.hypot(*(b - a)))
    # Over a base, angles at both feet: the foot of the height divides it by their tangents.
    part = base * math.tan(two) / (math.tan(one) + math.tan(two))
    return a + part * along + part * math.tan(one) * left


@pytest.mark.parametrize("seed", range(8))
def test_caps_are_those_of_one_stretch_at_a_time(seed) -> None:
    points = nose(seed).points
    expected = [plain_cap(points, i) for i in range(len(points) - 1)]
    assert caps(points) == pytest.approx(np.array(expected), abs=1e-7)


def half_plane(lean: float, low: float, gap: float) -> shapely.Polygon:
    """All that stands no farther back than an edge through (gap, low)."""
    slope = math.tan(math.radians(lean))
    at = [(gap + (z - low) * slope, z) for z in (-FAR, FAR)]
    return shapely.Polygon([*at, (-10 * FAR, FAR), (-10 * FAR, -FAR)])


@pytest.mark.parametrize("seed", range(16))
@pytest.mark.parametrize("limit", [3.0, 12.0])
def test_a_contact_lies_in_what_of_the_caps_stands_ahead_of_it(seed, limit) -> None:
    section = nose(seed)
    points = section.points
    found = {gap.line: gap for gap in spacing(Front((section,)), RULES, (), limit_mm=limit).gaps}
    checked = 0
    for name, (lean, low, high) in EDGES.items():
        line = getattr(line_up(Front((section,)), RULES, ()).stations[0], name)
        if name not in found or line.status not in ("ok", "edge_end", "lower_end"):
            continue
        gap, (x, z) = found[name], (line.x, line.z)
        foot = x - (z - low) * math.tan(math.radians(lean))
        ahead = half_plane(lean, low, foot + 1e-7)
        band = shapely.box(-10 * FAR, low - 1e-9, 10 * FAR, high + 1e-9)
        reach = ahead & band
        low_x, high_x, low_z, high_z = x, x, z, z
        rows = set()
        for i in range(len(points) - 1):
            a, b = points[i], points[i + 1]
            part = shapely.Polygon([a, plain_cap(points, i), b]) & reach
            part = part if not part.is_empty else shapely.LineString([a, b]) & reach
            if part.is_empty:
                continue
            x0, z0, x1, z1 = part.bounds
            low_x, high_x = min(low_x, x0), max(high_x, x1)
            low_z, high_z = min(low_z, z0), max(high_z, z1)
            move = max(x - x0, x1 - x, z - z0, z1 - z)
            if move > limit:
                n = math.ceil(move / limit)
                steps = (a + (b - a) * k / n for k in range(1, n))
                rows |= {(float(round(at[1])), float(round(at[0]))) for at in steps}
        box = (gap.x_low, gap.x_high, gap.z_low, gap.z_high)
        assert box == pytest.approx((low_x, high_x, low_z, high_z), abs=1e-5), name
        moved = max(x - low_x, high_x - x, z - low_z, high_z - z)
        assert gap.move_mm == pytest.approx(moved, abs=1e-5)
        assert gap.close_enough == (moved <= limit)
        assert gap.add == (tuple(sorted(rows)) if moved > limit else ())
        checked += 1
    assert checked


@pytest.mark.parametrize("seed", range(4))
def test_a_mark_may_lie_as_far_as_over_the_tips_of_all_caps(seed) -> None:
    section = nose(seed)
    points = section.points
    outer = np.empty((2 * len(points) - 1, 2))
    outer[0::2] = points
    outer[1::2] = [plain_cap(points, i) for i in range(len(points) - 1)]
    kept = np.concatenate([[True], np.hypot(*np.diff(outer, axis=0).T) > 1e-9])
    wad = (1000.0, 1700.0)
    over = line_up(Front((Section(outer[kept]),)), RULES, wad).stations[0]
    here = line_up(Front((section,)), RULES, wad).stations[0]
    gaps = {gap.line: gap for gap in spacing(Front((section,)), RULES, wad).gaps}
    for one, far in zip(here.wads, over.wads, strict=True):
        gap = gaps[one.name]
        ends = [sorted(pair) for pair in ((one.x, far.x), (one.z, far.z))]
        assert [gap.x_low, gap.x_high] == pytest.approx(ends[0], abs=1e-6)
        assert [gap.z_low, gap.z_high] == pytest.approx(ends[1], abs=1e-6)
        assert ends[0][0] < ends[0][1]


@pytest.mark.parametrize("dented", [False, True])
def test_rows_under_a_tape_halve_the_stretches_that_swell_most(dented) -> None:
    """A convex nose: the tape lies on all of it, but over a dent in the bonnet, where rows would
    change nothing. Half a stretch swells a quarter, and there are two halves: three quarters of
    its swell go (own choice), until it is close enough."""
    lean = np.radians(np.array([-60.0, -30.0, 0.0, 14.0, 50.0, 62.0, 85.0]))
    arc = np.stack([300.0 - 300.0 * np.cos(lean), 500.0 + 300.0 * np.sin(lean)], axis=1)
    on = np.array([[400.0, 20.0], [480.0, -44.0], [600.0, 28.0]]) if dented else np.empty((0, 2))
    points = np.concatenate([arc, arc[-1] + on, [arc[-1] + (1500.0, 60.0)]])
    swell = []
    for i in range(len(points) - 1):
        tip = plain_cap(points, i)
        sides = np.hypot(*(points[i] - tip)) + np.hypot(*(points[i + 1] - tip))
        swell.append(sides - np.hypot(*(points[i + 1] - points[i])))
    # From the foremost point, row 2, to that of the mark.
    on_tape = [i for i in range(2, len(points) - 1) if not dented or i not in (7, 8)]
    for limit in (1.0, 2.0, 4.0, 12.0):
        (gap,) = [
            gap
            for gap in spacing(Front((Section(points),)), RULES, (1700.0,), limit_mm=limit).gaps
            if gap.line == "WAD 1700"
        ]
        rest, rows = sum(swell[i] for i in on_tape), set()
        for i in sorted(on_tape, key=lambda i: -swell[i]):
            if rest <= limit:
                break
            rest -= 0.75 * swell[i]
            rows.add(tuple(float(round(v)) for v in (points[i] + points[i + 1])[::-1] / 2.0))
        assert gap.move_mm > 4.0
        assert gap.add == (tuple(sorted(rows)) if gap.move_mm > limit else ())


def gap(line: str, station: float = 0.0, limit: float = 5.0, add=(), **box: float) -> LineGap:
    at = {"x_low": 10.0, "x_high": 10.0, "z_low": 400.0, "z_high": 400.0} | box
    return LineGap(station, line, 10.0, 400.0, limit_mm=limit, add=add, **at)


@pytest.mark.parametrize(
    "box", [{"x_low": 5.0}, {"x_high": 15.0}, {"z_low": 395.0}, {"z_high": 405.0}]
)
def test_the_farthest_of_four_ways_counts_and_the_limit_itself_is_close_enough(box) -> None:
    assert gap("UBRL", **box).move_mm == 5.0
    assert gap("UBRL", **box).close_enough
    assert not gap("UBRL", limit=4.999, **box).close_enough


def test_what_is_asked_for_at_a_station_is_sorted_and_told_once() -> None:
    wide = {"x_low": 0.0}
    report = SpacingReport(
        (
            gap("UBRL", add=((480.0, 3.0), (300.0, 5.0)), **wide),
            gap("LBRL", add=((300.0, 5.0),), **wide),
            gap("BLERL"),
            gap("UBRL", 400.0, add=((310.0, 6.0),), **wide),
        ),
        ((0.0, "BRRL"),),
        ((400.0, "WAD 2100"),),
    )
    assert report.heights_to_add(0.0) == ((300.0, 5.0), (480.0, 3.0))
    assert report.heights_to_add(400.0) == ((310.0, 6.0),)
    assert [(each.station, each.line) for each in report.too_wide] == [
        (0.0, "UBRL"), (0.0, "LBRL"), (400.0, "UBRL")
    ]  # fmt: skip
    document = report.to_dict()
    assert document["gaps"][0]["add_heights_mm"] == [480.0, 300.0]
    assert [each["close_enough"] for each in document["gaps"]] == [False, False, True, False]
    assert document["not_formed"] == [{"y_mm": 0.0, "line": "BRRL"}]
    assert document["open_ends"] == [{"y_mm": 400.0, "line": "WAD 2100"}]


def test_lines_with_open_ends_and_lines_that_are_missing_are_named_by_station() -> None:
    """A short contour ends below the reach of the edge of UBRL; the other station is whole."""
    whole = nose(0)
    short = Section(whole.points[:6], 300.0)
    report = spacing(Front((whole, short)), RULES, (1000.0,))
    stations = line_up(Front((whole, short)), RULES, (1000.0,)).stations
    points = [(s.y, p) for s in stations for p in (*s.lines, *s.wads)]
    missing = [(y, p.name) for y, p in points if p.x is None]
    ended = [(y, p.name) for y, p in points if p.status == "open_end" and p.x is not None]
    assert report.not_formed == tuple(missing)
    assert report.open_ends == tuple(ended)
    assert {y for y, _ in ended} == {300.0}
    assert {y for y, _ in missing} == {0.0, 300.0}
    assert len(report.gaps) + len(missing) + len(ended) == len(points)

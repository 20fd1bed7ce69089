"""Poses of edges and tapes against a plain way over all stretches, and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.front.front import Front
from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.tool_poses import _edge, bends_over, bumper_edge, leading_edge, tape_path
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import Section

UN, EU = "UN-R127-02", "EU-631-2009"


def plain(points, edge: StraightEdge, foot: float, z: float) -> tuple[float, float]:
    """Free part of an edge about z, stretch by stretch: what stands ahead by half a millimetre."""
    slope = math.tan(math.radians(edge.lean_deg))
    low, high = edge.low, edge.high
    level = shapely.box(-1e5, edge.low, 1e5, edge.high)
    for a, b in zip(points, points[1:], strict=False):
        part = shapely.LineString([a, b]) & level
        at = shapely.get_coordinates(part)
        if len(at) < 2 or a[1] == b[1]:
            continue
        gap = [x - foot - (h - edge.low) * slope for x, h in at]
        if min(gap) >= -0.5:
            continue
        heights = [h for (_, h), g in zip(at, gap, strict=True) if g <= 0.0]
        if max(gap) > 0.0:
            heights.append(float(np.interp(0.0, sorted(gap), [at[i][1] for i in np.argsort(gap)])))
        if max(heights) <= z:
            low = max(low, *heights)
        else:
            high = min(high, max(min(heights), z))
    return low, high


@pytest.mark.parametrize("seed", range(4))
def test_what_of_an_edge_is_free(seed: int) -> None:
    rng, cut = np.random.default_rng(seed), 0
    for _ in range(60):
        count = int(rng.integers(4, 14))
        points = np.stack([rng.uniform(0.0, 250.0, count), rng.uniform(50.0, 900.0, count)], axis=1)
        if rng.random() < 0.7:
            points = points[np.argsort(points[:, 1])]
        if rng.random() < 0.3:
            points[1, 1] = points[0, 1]  # a level stretch
        lean, low = rng.uniform(-30.0, 50.0), rng.uniform(0.0, 300.0)
        edge = StraightEdge(lean, low, low + rng.uniform(100.0, 700.0))
        at = points[rng.integers(count)]
        if not edge.low <= at[1] <= edge.high:
            continue
        slope = math.tan(math.radians(lean))
        foot = at[0] - (at[1] - edge.low) * slope
        pose = _edge(points, edge, 700.0, tuple(at))
        free = plain(points, edge, foot, at[1])
        assert pose.foot == pytest.approx((foot, edge.low), abs=1e-9)
        assert pose.tip == pytest.approx((foot + (edge.high - edge.low) * slope, edge.high))
        assert [z for _, z in pose.used] == pytest.approx(free, abs=1e-6)
        for x, z in pose.used:
            assert x == pytest.approx(foot + (z - edge.low) * slope, abs=1e-9)
        assert pose.shortened == (free != (edge.low, edge.high))
        assert (pose.length, pose.lean_deg) == (700.0, lean)
        cut += pose.shortened
    assert cut > 10


@pytest.mark.parametrize(("ahead", "low"), [(0.49, 0.0), (0.51, 500.0)])
def test_half_a_millimetre_ahead_shortens_an_edge(ahead: float, low: float) -> None:
    """Own choice. A lamp below the bumper stands so far ahead of an upright edge at x = 0."""
    points = np.array([(-ahead, 300.0), (-ahead, 400.0), (0.0, 500.0), (0.0, 600.0), (50.0, 700.0)])
    pose = _edge(points, StraightEdge(0.0, 0.0, 900.0), 900.0, (0.0, 550.0))
    assert [z for _, z in pose.used] == pytest.approx([low, 900.0])
    assert pose.shortened is (low > 0.0)


def test_edges_of_either_bumper_line() -> None:
    """Lengths of 700 mm, 20 deg rearward and 25 deg forward (UN R127 02 series, 2.38, 2.26).

    Where its foot need not stand on the ground it is held with its middle at the touch: own choice.
    """
    section = Section(
        [(300, 150), (0, 160), (0, 900), (900, 1000)],
        parts=["underside", "bumper", "bumper", "bonnet"],
    )
    reach = 700.0 * math.cos(math.radians(20.0))
    upper = bumper_edge("ubrl", section, (0.0, 600.0), rule_set(UN))
    assert (upper.foot[1], upper.tip[1], upper.lean_deg) == (0.0, pytest.approx(reach), 20.0)
    assert upper.foot[0] == pytest.approx(-600.0 * math.tan(math.radians(20.0)))
    held = bumper_edge("ubrl", section, (0.0, 900.0), rule_set(EU))
    assert held.foot[1] == pytest.approx(900.0 - reach / 2.0)
    assert held.tip[1] == pytest.approx(900.0 + reach / 2.0)
    low = bumper_edge("ubrl", section, (0.0, 200.0), rule_set(EU))
    assert (low.foot[1], low.tip[1]) == (0.0, pytest.approx(reach))
    bare = bumper_edge("ubrl", Section(section.points), (0.0, 600.0), rule_set(EU))
    assert bare.foot[1] == 0.0
    lower = bumper_edge("lbrl", section, (0.0, 160.0), rule_set(UN))
    assert (lower.foot[1], lower.lean_deg, lower.length) == (0.0, -25.0, 700.0)
    assert lower.tip[1] == pytest.approx(700.0 * math.cos(math.radians(25.0)))
    # 2.7 (text read): 1000 mm long, its foot 600 mm high.
    for lean in (50.0, 40.0):
        edge = leading_edge(section, (0.0, 900.0), lean, rule_set(UN))
        assert (edge.length, edge.lean_deg, edge.foot[1]) == (1000.0, lean, 600.0)
        assert edge.tip[1] == pytest.approx(600.0 + 1000.0 * math.cos(math.radians(lean)))


# --- tapes ---------------------------------------------------------------------------------


TO_RIM = 700.0 + math.hypot(400.0, 5.0)  # along the tape


def hollow(depth: float) -> list[tuple[float, float]]:
    """A bonnet hardly crowned, with a V so deep from x = 400 to 600."""
    return [(200, 240), (0, 250), (0, 700), (400, 705), (500, 705 - depth), (600, 705), (2000, 700)]


@pytest.mark.parametrize(("depth", "told"), [(0.49, False), (0.51, True), (20.0, True)])
def test_a_hollow_that_the_tape_passes_over(depth: float, told: bool) -> None:
    """Own choice: told of from half a millimetre on. One mark lies 200 mm behind it."""
    front = Front((Section(hollow(depth)),))
    mark, before = line_up(front, UN, [TO_RIM + 400.0, TO_RIM - 50.0]).stations[0].wads
    path, down = mark.tape, np.array([1400.0, -5.0]) / math.hypot(1400.0, 5.0)
    assert path.points[-4:-1] == ((0.0, 700.0), (400.0, 705.0), (600.0, 705.0))
    assert path.points[0] == (0.0, 0.0)
    assert path.points[-1] == pytest.approx(tuple((600.0, 705.0) + 200.0 * down), abs=1e-6)
    assert path.spans == ((((400.0, 705.0), (600.0, 705.0)),) if told else ())
    assert path.along == pytest.approx(tuple(down))
    assert (path.hollow, mark.bridged) == (0.0, False)
    assert before.tape.spans == ()
    assert before.tape.points[-1][0] == pytest.approx(350.0, abs=0.01)


@pytest.mark.parametrize("depth", [20.0, 60.0])
def test_a_mark_to_which_the_tape_comes_through_the_air(depth: float) -> None:
    """A mark 150 mm from the rim at (400, 705) lies straight over on the far side of the V."""
    front = Front((Section(hollow(depth)),))
    mark = line_up(front, UN, [TO_RIM + 150.0]).stations[0].wads[0]
    rise = depth / 100.0
    # (100 + s)^2 + (rise s - depth)^2 = 150^2
    a, b, c = 1.0 + rise**2, 200.0 - 2.0 * rise * depth, 100.0**2 + depth**2 - 150.0**2
    s = (-b + math.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
    at = (500.0 + s, 705.0 - depth + rise * s)
    assert (mark.x, mark.z) == pytest.approx(at, abs=1e-6)
    assert mark.bridged
    path = mark.tape
    chord = shapely.LineString([(400.0, 705.0), at])
    assert path.hollow == pytest.approx(chord.distance(shapely.Point(500.0, 705.0 - depth)))
    assert path.spans == (((400.0, 705.0), pytest.approx(at, abs=1e-6)),)
    assert path.points[-2] == (400.0, 705.0)
    assert path.along == pytest.approx((1.0 / math.sqrt(a), rise / math.sqrt(a)))


def test_a_tape_may_come_from_above() -> None:
    """Way over bends that fall: the stretches between are the same either way along the contour."""
    contour = np.array([(0.0, 300.0), (30.0, 400.0), (0.0, 500.0), (50.0, 650.0), (400.0, 700.0)])
    up = tape_path(contour, 0.0, [0, 2], (200.0, 671.43), 3, bridged=True)
    down = tape_path(contour, 0.0, [2, 0], (0.0, 250.0), 0, bridged=False)
    assert up.spans[0] == down.spans[0] == ((0.0, 300.0), (0.0, 500.0))
    assert (up.points[0], up.points[1:3]) == ((0.0, 0.0), ((0.0, 300.0), (0.0, 500.0)))
    assert down.points[1:3] == ((0.0, 500.0), (0.0, 300.0))
    # From (0, 500) over (50, 650) to the mark.
    chord = shapely.LineString([(0.0, 500.0), (200.0, 671.43)])
    assert up.hollow == pytest.approx(chord.distance(shapely.Point(50.0, 650.0)))
    assert up.along == pytest.approx((350.0 / math.hypot(350, 50), 50.0 / math.hypot(350, 50)))
    assert down.along == pytest.approx((30.0 / math.hypot(30, 100), 100.0 / math.hypot(30, 100)))
    # From a bend beyond the mark: over (50, 650) back to a place on the second stretch.
    back = tape_path(contour, 0.0, [4], (15.0, 450.0), 1, bridged=True)
    assert back.spans[-1] == ((400.0, 700.0), (15.0, 450.0))


@pytest.mark.parametrize("seed", range(3))
def test_bends_of_tapes_are_the_hull_ahead_of_the_contour(seed: int) -> None:
    """A contour that rises and runs rearward; each way is a hull by shapely, air on its left."""
    rng = np.random.default_rng(seed)
    count = 14
    x = np.concatenate([[0.0], np.cumsum(rng.uniform(0.0, 60.0, count - 1))])
    z = 300.0 + np.concatenate([[0.0], np.cumsum(rng.uniform(0.0, 60.0, count - 1))])
    contour, start, stand = np.stack([x, z], axis=1), 0, -30.0
    marks = [(k, tuple(0.6 * contour[k] + 0.4 * contour[k + 1])) for k in (12, 3, 7)]
    found = bends_over(contour, stand, start, marks)
    for (k, at), bends in zip(marks, found, strict=True):
        passed = [(stand, 0.0), *map(tuple, contour[: k + 1]), at]
        # The hull of what is passed and of a place far below and behind: its side toward the air.
        hull = shapely.MultiPoint([*passed, (5e3, -1.0), (5e3, at[1] - 1.0)]).convex_hull.exterior
        own = [i for i in range(k + 1) if hull.distance(shapely.Point(contour[i])) < 1e-9]
        assert bends == own
    assert bends_over(contour, stand, 0, []) == []


@pytest.mark.parametrize("rise", [0.0, 5.0])
@pytest.mark.parametrize("beyond", [50.0, 400.0])
def test_a_hollow_in_a_level_panel_is_told_too(rise: float, beyond: float) -> None:
    """Its rims are no bends then; a mark `beyond` the far rim, 700 + 600 mm along the tape."""
    points = [(200, 240), (0, 250), (0, 700), (400, 700 + rise), (500, 680), (600, 700 + rise),
              (2000, 700 + rise)]  # fmt: skip
    along = 700.0 + math.hypot(400.0, rise) + 200.0 + beyond
    mark = line_up(Front((Section(points),)), UN, [along]).stations[0].wads[0]
    assert (mark.x, mark.z) == pytest.approx((600.0 + beyond, 700.0 + rise), abs=1e-6)
    assert mark.tape.spans == (((400.0, 700.0 + rise), (600.0, 700.0 + rise)),)
    assert (mark.tape.hollow, mark.bridged) == (0.0, False)


def test_what_the_tape_does_not_pass_makes_no_hollow_deeper() -> None:
    """From a bend beyond the mark, back over (260, 900) and (300, 900): not over (280, 760)."""
    points = [(300, 200), (0, 300), (0, 500), (300, 520), (330, 700), (280, 760), (300, 900),
              (260, 900), (110, 560), (100, 600), (100, 1200), (2000, 1300)]  # fmt: skip
    mark = line_up(Front((Section(points),)), UN, [1000.0]).stations[0].wads[0]
    assert mark.bridged
    chord = shapely.LineString([(110.0, 560.0), (mark.x, mark.z)])
    wanted = max(chord.distance(shapely.Point(at)) for at in ((260.0, 900.0), (300.0, 900.0)))
    assert mark.tape.hollow == pytest.approx(wanted)

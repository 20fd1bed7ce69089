"""No value may rest on what was not measured: contours cut at random places, and continued.

The class of continuations is our own choice: straight on from an end for up to 500 mm, in a
direction within 30 deg either way of the chord of the last 50 mm, above ground, not across the
contour, and of the same part as the end. The oracle appends points of such continuations, one by
one, and forms every line anew; it knows nothing of how the open ends are found.
"""

from __future__ import annotations

import math
from collections import Counter
from functools import cache

import numpy as np
import pytest
import shapely
from references.random_contours import RandomContour, random_contours

from frontcheck import Front, Section, rule_set, screen
from frontcheck.lines.open_ends import LOWER, REAR, Ends
from frontcheck.lines.section_lines import LineBatch, section_lines
from frontcheck.surface.contours import Contours

WADS = (600.0, 1000.0, 1500.0, 2100.0)
LINES = ("UBRL", "LBRL", "BLERL")
TURNS = np.radians([-30.0, -20.0, -10.0, -4.0, 0.0, 4.0, 10.0, 20.0, 30.0])
LENGTHS = (2.0, 40.0, 120.0, 250.0, 400.0, 500.0)
MOVED_MM = 0.01
FALSE_ALARMS = 0.15


def cut(contour: RandomContour, rng: np.random.Generator) -> Section | None:
    """The contour from one random place to another, either end or both cut off."""
    points = contour.points
    arcs = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    first, last, which = 0.0, arcs[-1], rng.integers(4)
    if which & 1:
        first = rng.uniform(0.0, 0.5 * arcs[-1])
    if which & 2:
        last = rng.uniform(min(first + 200.0, last), last)
    inner = np.flatnonzero((arcs > first + 1e-3) & (arcs < last - 1e-3))
    at = np.concatenate([[first], arcs[inner], [last]])
    if len(at) < 3:
        return None
    kept = np.stack([np.interp(at, arcs, column) for column in points.T], axis=-1)
    labels = contour.labels
    if labels is not None:
        ends = np.clip(np.searchsorted(arcs, [first, last], side="left"), 0, len(arcs) - 1)
        labels = [labels[i] for i in (ends[0], *inner, ends[1])]
    return Section(kept, parts=labels)


def continued(section: Section) -> list[Section]:
    """The same section with one point more, at either end."""
    points, arcs = section.points, section.arc_lengths
    found = []
    for rear in (False, True):
        end = points[-1] if rear else points[0]
        inner = section.at_arc_length(max(arcs[-1] - 50.0, 0.0) if rear else min(50.0, arcs[-1]))
        angle = math.atan2(end[1] - inner[1], end[0] - inner[0])
        for turn in TURNS:
            way = np.array([math.cos(angle + turn), math.sin(angle + turn)])
            for length in LENGTHS:
                new = end + length * way
                more = np.vstack([points, new] if rear else [new, points])
                if new[1] < 0.0 or not shapely.LineString(more).is_simple:
                    continue
                labels = section.parts
                if labels is not None:
                    labels = (*labels, labels[-1]) if rear else (labels[0], *labels)
                found.append(Section(more, parts=labels))
    return found


def values(batch: LineBatch, i: int) -> dict[str, tuple[str, float, float]]:
    """Status and point of every line of one contour."""
    found = {}
    for name in LINES:
        line = getattr(batch, name)
        found[name] = line.status(i), line.x[i], line.z[i]
        if not line.formed[i]:
            found[name] = line.status(i), math.inf, math.inf
    for j, distance in enumerate(WADS):
        status = "open_end" if batch.wad_open[i, j] else "ok"
        found[f"WAD {distance:g}"] = status, batch.WAD.x[i, j], batch.WAD.z[i, j]
        if not batch.WAD.reached[i, j]:
            found[f"WAD {distance:g}"] = "not_reached", math.inf, math.inf
    return found


@cache
def verdicts(rules: str, count: int = 160, seed: int = 5) -> tuple[list[str], Counter, Counter]:
    """Values that moved though not marked, and lines that stayed: all, and those marked."""
    rng, missed = np.random.default_rng(seed), []
    stayed: Counter[str] = Counter()
    marked: Counter[str] = Counter()
    for i, contour in enumerate(random_contours(seed, count)):
        section = cut(contour, rng)
        more = [] if section is None else continued(section)
        if not more:
            continue
        before = values(section_lines(Contours.of([section]), rule_set(rules), WADS), 0)
        batch = section_lines(Contours.of(more), rule_set(rules), WADS)
        after = [values(batch, k) for k in range(len(more))]
        for name, (status, x, z) in before.items():
            if not math.isfinite(x):
                continue
            worst = max(math.hypot(new[name][1] - x, new[name][2] - z) for new in after)
            if worst <= MOVED_MM:
                stayed[name] += 1
                marked[name] += status == "open_end"
            elif status != "open_end":
                missed.append(f"{contour.kind} {i}: {name} {status} moves by {worst:.3f} mm")
            else:
                stayed["moved"] += 1
    return missed, stayed, marked


@pytest.mark.parametrize("rules", ["UN-R127-02", "EU-631-2009"])
def test_no_value_that_is_not_marked_moves(rules):
    missed, stayed, _ = verdicts(rules)
    assert missed == []
    # Not because nothing ever moves.
    assert stayed["moved"] > 100


@pytest.mark.parametrize("rules", ["UN-R127-02", "EU-631-2009"])
def test_few_lines_are_marked_that_no_continuation_moves(rules):
    _, stayed, marked = verdicts(rules)
    all_stayed = sum(stayed[name] for name in stayed if name != "moved")
    assert all_stayed > 300
    assert sum(marked.values()) <= FALSE_ALARMS * all_stayed


def test_a_table_that_ends_at_the_leading_edge():
    """Its last point would be BLERL: what lies behind it is not known."""
    face = [(60, 200), (10, 260), (0, 420), (0, 560), (20, 660), (90, 760)]
    station = screen(Front((Section(face),)), wad=(700.0,)).stations[0]
    assert station.BLERL.status == "open_end"
    assert (station.BLERL.x, station.BLERL.z) == (90.0, 760.0)
    assert "rear end" in station.BLERL.reason
    assert "measure farther up and rearward" in station.BLERL.reason
    # With the bonnet measured, falling away from the edge inclined 50 deg, it is known.
    whole = [*face, (300, 830), (700, 880)]
    assert screen(Front((Section(whole),)), wad=(700.0,)).stations[0].BLERL.status == "ok"


def test_a_table_that_starts_on_the_face():
    """What lies below may stand farther out: the lower bumper line and the tape's foot."""
    face = [(0, 480), (0, 560), (20, 660), (90, 760), (300, 830), (700, 880), (1000, 930)]
    station = screen(Front((Section(face),)), wad=(1000.0,)).stations[0]
    assert station.LBRL.status == station.wads[0].status == "open_end"
    assert "lower end" in station.LBRL.reason
    assert "lower end" in station.wads[0].reason
    assert station.BLERL.status == "ok"
    assert station.legform is None
    # From the underside on, which runs rearward, nothing ahead can follow.
    whole = [(500, 190), (100, 180), (20, 240), *face]
    station = screen(Front((Section(whole),)), wad=(1000.0,)).stations[0]
    assert (station.LBRL.status, station.wads[0].status) == ("ok", "ok")


def test_an_end_of_the_underside_cannot_be_bumper():
    """A continuation keeps the part of the end: the bumper lines stay, the tape's way may not."""
    face = [(100, 350), (0, 480), (0, 560), (20, 660), (90, 760), (300, 830), (1000, 930)]
    parts = ["underside", *["bumper"] * 3, *["bonnet"] * 3]
    bare = screen(Front((Section(face),)), wad=(1000.0,)).stations[0]
    told = screen(Front((Section(face, parts=parts),)), wad=(1000.0,)).stations[0]
    assert bare.LBRL.status == "open_end"
    assert told.LBRL.status == "ok"


def test_copies_of_a_section_carry_the_status():
    face = np.array([(0, 480), (0, 560), (20, 660), (90, 760), (300, 830), (1000, 930)], float)
    contours = Contours.copies(Section(face), np.stack([face, np.add(face, [0.0, 20.0])]))
    batch = section_lines(contours, rule_set(), WADS)
    assert [batch.LBRL.status(i) for i in range(2)] == ["open_end"] * 2
    assert (batch.wad_open[batch.WAD.reached] > 0).all()
    assert batch.wad_code.shape == (2, len(WADS))


@pytest.mark.parametrize("seed", range(6))
def test_a_continuation_that_comes_just_ahead_of_a_tool_is_found(seed) -> None:
    """The reference is the fan itself, clipped by shapely; its arc is rounded outward by 0.3 %."""
    rng, reach, spread = np.random.default_rng(seed), 500.0, math.radians(30.0)
    apex = rng.uniform([[-200.0, 250.0]] * 2, [[200.0, 900.0]] * 2, size=(60, 2, 2))
    ends = Ends(apex, rng.uniform(-math.pi, math.pi, (60, 2)), reach, spread)
    met = 0
    for b in range(60):
        for end, bit in ((0, LOWER), (1, REAR)):
            turns = ends.along[b, end] + np.linspace(-spread, spread, 400)
            arc = apex[b, end] + reach * np.stack([np.cos(turns), np.sin(turns)], axis=1)
            fan = shapely.Polygon([apex[b, end], *arc])
            slope, (low, high) = rng.uniform(-0.6, 1.2), sorted(rng.uniform(0.0, 1100.0, 2))
            inside = shapely.get_coordinates(fan & shapely.box(-2e3, low, 2e3, high))
            if not len(inside):
                continue
            least = float((inside[:, 0] - slope * inside[:, 1]).min())
            excess = 0.005 * reach * math.hypot(1.0, slope)
            if min(abs(ends.apex[b, end, 1] - height) for height in (low, high)) < 2.0:
                continue
            found = [ends.ahead(slope, least + off, low, high)[b] & bit for off in (0.2, -excess)]
            assert found[0], "a continuation is ahead of the tool"
            met += 1
            # Where a height cuts the fan obliquely its rounded arc reaches farther along it.
            if low < ends.apex[b, end, 1] < high and inside[:, 1].min() > low + 5.0:
                assert not found[1] or inside[:, 1].max() > high - 5.0
    assert met > 40

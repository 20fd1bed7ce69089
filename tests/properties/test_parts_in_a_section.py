"""Sections of many parts: whatever lies behind, straight edges touch the contour where they touch.

The reference is a plain one: every stretch of every part is clipped to the reach of the edge, and
the end with the least travel is the contact. No contour is needed for it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.geometry.chains import Chain
from frontcheck.geometry.outline import NO_LABEL, outer_contour
from frontcheck.geometry.reach import travels

EDGES = [
    (20.0, 0.0, 700.0),
    (-25.0, 0.0, 700.0),
    (50.0, 600.0, 1000.0),
    (0.0, 0.0, 1000.0),
    (40.0, 600.0, 1000.0),
]


def sections(seed: int) -> list[Chain]:
    """Two to nine parts, open or closed, that cross one another as they please."""
    rng = np.random.default_rng(seed)
    out = []
    for part in range(rng.integers(2, 10)):
        n = int(rng.integers(2, 14))
        size = float(rng.choice([20.0, 80.0, 300.0]))
        if rng.random() < 0.3:  # a box
            x, z = rng.uniform(0.0, 1500.0), rng.uniform(150.0, 1200.0)
            w, h = rng.uniform(5.0, size * 2, 2)
            line = np.array([[x, z], [x + w, z], [x + w, z + h], [x, z + h]])
            closed = True
        else:
            line = np.cumsum(rng.normal(0.0, size / 2.0, (n, 2)), axis=0)
            line += [rng.uniform(0.0, 1500.0), rng.uniform(150.0, 1200.0)]
            closed = n > 3 and bool(rng.random() < 0.4)
        line[:, 1] = np.abs(line[:, 1]) + 1.0
        out.append(Chain(line, closed, np.full(len(line) - (not closed), part)))
    return out


def stretches(chains: list[Chain]) -> np.ndarray:
    out = []
    for chain in chains:
        ring = np.concatenate([chain.points, chain.points[:1]]) if chain.closed else chain.points
        out.append(np.stack([ring[:-1], ring[1:]], axis=1))
    return np.concatenate(out)


def touch(lines: np.ndarray, lean: float, low: float, length: float) -> tuple[float, float]:
    """How far an edge travels until it touches one of some stretches, and the height there."""
    slope, high = math.tan(math.radians(lean)), low + length * math.cos(math.radians(lean))
    cut = shapely.intersection(shapely.linestrings(lines), shapely.box(-1e5, low, 1e5, high))
    ends = shapely.get_coordinates(cut)
    if len(ends) == 0:
        return math.inf, math.nan
    gap = ends[:, 0] - (ends[:, 1] - low) * slope
    return float(gap.min()), float(ends[gap.argmin(), 1])


@pytest.mark.parametrize("batch", range(8))
def test_every_straight_edge_touches_what_it_touches_of_all_parts(batch) -> None:
    for seed in range(50 * batch, 50 * batch + 50):
        check(sections(seed))


def check(chains: list[Chain]) -> None:
    outline = outer_contour(chains)
    if len(outline.points) == 0:
        assert {lost.kind for lost in outline.dropped} == {"free"}
        return
    line = outline.points
    assert shapely.LineString(line).is_simple
    assert not np.array_equal(line[0], line[-1])
    own = np.stack([line[:-1], line[1:]], axis=1)
    for lean, low, length in EDGES:
        expected, _ = touch(stretches(chains), lean, low, length)
        found, z = touch(own, lean, low, length)
        # Surfaces within a micrometre of each other count as one.
        if found < expected - 2e-3:
            # A bridge that ends in reach: the tip of the edge touches it, and the line says so.
            high = low + length * math.cos(math.radians(lean))
            assert min(abs(z - low), abs(z - high)) < 1e-9
        else:
            assert found <= expected + 2e-3
    # What was kept lies on its part, to the last digits.
    for label in np.unique(outline.labels[outline.labels != NO_LABEL]).tolist():
        part = next(c for c in chains if c.labels is not None and c.labels[0] == label)
        ring = shapely.linestrings(stretches([part]))
        points = shapely.points(own[outline.labels == label].mean(axis=1))
        away = shapely.distance(shapely.union_all(ring), points)
        assert away.max() <= 1e-9


def test_how_far_each_edge_travels_to_each_of_many_lines() -> None:
    for seed in range(40):
        open_lines = [Chain(c.points, False, None) for c in sections(seed)]
        found = travels([np.empty((0, 2)), *(c.points for c in open_lines)])
        assert np.isinf(found[0]).all()
        for e, (lean, low, length) in enumerate(EDGES[i] for i in (0, 1, 2, 4, 3)):
            slope = math.tan(math.radians(lean))
            own = [touch(stretches([c]), lean, low, length)[0] - slope * low for c in open_lines]
            assert found[1:, e] == pytest.approx(own, abs=1e-6)
            reached = touch(stretches(open_lines), lean, low, length)[0] - slope * low
            assert found[:, e].min() == pytest.approx(reached, abs=1e-6)

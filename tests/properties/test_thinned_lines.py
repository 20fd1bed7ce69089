"""Points left out of many lines at once: against one line after another, and against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from frontcheck.geometry.thinning import Lines


def between(points, i, before, after, step) -> bool:
    """Whether a point lies within a step of the chord beside it, and between its ends."""
    (x, z), (x0, z0), (x1, z1) = points[i], points[before], points[after]
    cx, cz, ox, oz = x1 - x0, z1 - z0, x - x0, z - z0
    along, length2 = ox * cx + oz * cz, cx * cx + cz * cz
    return (cx * oz - cz * ox) ** 2 <= step * step * length2 and 0.0 < along < length2


def dropped(points, labels, closed, step) -> list[int]:
    """Of every run of points near their chords the first, the third and so on."""
    n = len(points)
    if n <= (3 if closed else 2):
        return []
    near = [
        between(points, i, i - 1, (i + 1) % n, step)
        and (labels is None or labels[i] == labels[i - 1])
        and (closed or 0 < i < n - 1)
        for i in range(n)
    ]
    if closed and near[0] and near[-1]:  # never two neighbours
        near[-1] = False
    out, run = [], 0
    for i in range(n):
        run = run + 1 if near[i] else 0
        out += [i] if run % 2 else []
    return out


def thinned(points, labels, closed, tolerance):
    step = tolerance / 2.0
    while out := dropped(points, labels, closed, step):
        points = np.delete(points, out, axis=0)
        labels = None if labels is None else np.delete(labels, out)
        step /= 2.0
    return points, labels


def drawn(rng):
    """A line of straight stretches with some noise, of 3 to 40 points."""
    corners = rng.uniform(0.0, 1000.0, (int(rng.integers(2, 5)), 2))
    count = int(rng.integers(3, 41))
    at = np.sort(rng.uniform(0.0, len(corners) - 1.0, count))
    line = np.stack([np.interp(at, range(len(corners)), corners[:, k]) for k in (0, 1)], axis=1)
    return line + rng.normal(0.0, rng.choice([0.0, 0.01, 0.3]), line.shape)


@pytest.mark.parametrize("labelled", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_many_lines_are_thinned_as_one_after_another(seed, labelled) -> None:
    rng = np.random.default_rng(seed)
    lines = [drawn(rng) for _ in range(60)]
    labels = [np.sort(rng.integers(0, 3, len(line))) for line in lines]
    closed = rng.random(len(lines)) < 0.5
    tolerance = float(rng.choice([0.02, 0.5]))
    ours = Lines(
        np.concatenate(lines), np.concatenate(labels) if labelled else None,
        np.array([len(line) for line in lines]), closed,
    ).thinned(tolerance)  # fmt: skip
    ends = np.cumsum(ours.sizes)
    left_out = 0
    for k, (line, end) in enumerate(zip(lines, ends.tolist(), strict=True)):
        given = labels[k] if labelled else None
        points, kept = thinned(line, given, bool(closed[k]), tolerance)
        mine = slice(end - ours.sizes[k], end)
        np.testing.assert_array_equal(ours.points[mine], points)
        if labelled:
            np.testing.assert_array_equal(ours.labels[mine], kept)
        shape = shapely.LinearRing if closed[k] and len(points) > 2 else shapely.LineString
        moved = shapely.distance(shape(points), shapely.points(line)).max()
        assert moved <= tolerance * (1.0 + 1e-9)
        left_out += len(line) - len(points)
    assert left_out > 300

"""Polylines: the place nearest to a point, lengths along them, the string drawn taut over them.

Glossary
--------
stretch
    Straight part between two neighbouring points; stretch i runs from point i to point i + 1.
    It may have no length, where contours of a batch were padded.
t
    Position within a stretch, 0 at its start and 1 at its end.
arc
    Length along the polyline from its first point.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index


_ONE_MM: Final = 1e-9
"""Lines this close meet."""
_BLOCK: Final = 16


class Nearest(NamedTuple):
    """Places of polylines nearest to points, one entry a point."""

    stretch: Index  # (...) the first of several stretches as near
    t: Array  # (...) position within it
    distance: Array  # (...) from the point [mm]


def gaps(points: Array, at: ArrayLike) -> tuple[Array, Array]:
    """Nearest place t of every stretch of polylines (..., n, 2) to points (..., 2), distances."""
    # Coordinate by coordinate: sums over an axis of two take several times as long.
    place = np.asarray(at, dtype=np.float64)
    x, z = points[..., 0], points[..., 1]
    along, up = np.diff(x, axis=-1), np.diff(z, axis=-1)
    to_x, to_z = place[..., 0, None] - x[..., :-1], place[..., 1, None] - z[..., :-1]
    square = along * along + up * up
    t = (to_x * along + to_z * up) / np.where(square == 0.0, 1.0, square)
    t = np.minimum(np.maximum(t, 0.0), 1.0)
    to_x, to_z = to_x - t * along, to_z - t * up
    return t, np.sqrt(to_x * to_x + to_z * to_z)


def nearest(points: Array, at: ArrayLike) -> Nearest:
    """Find the places of polylines (..., n, 2) that are nearest to points (..., 2)."""
    t, gap = gaps(points, at)
    stretch = np.asarray(gap.argmin(axis=-1))
    best = stretch[..., None]
    return Nearest(
        stretch,
        np.take_along_axis(t, best, axis=-1)[..., 0],
        np.take_along_axis(gap, best, axis=-1)[..., 0],
    )


def arcs_of(points: Array) -> Array:
    """Arc of every point of a polyline (n, k), (n,) [mm]."""
    return np.concatenate([[0.0], np.cumsum(_lengths(points))])


def length_of(points: Array) -> float:
    """Length of a polyline (n, k) [mm]."""
    return float(_lengths(points).sum())


def _lengths(points: Array) -> Array:
    step = np.diff(points, axis=0)
    if points.shape[1] == 2:
        return np.asarray(np.hypot(*step.T))
    return np.asarray(np.linalg.norm(step, axis=1))


def points_at(points: Array, along: Array, wanted: ArrayLike) -> Array:
    """Points (..., k) of a polyline (n, k) at values of a coordinate that rises along it, (n,)."""
    at = np.asarray(wanted, dtype=np.float64)
    return np.stack([np.interp(at, along, column) for column in points.T], axis=-1)


def highest_at(points: Array, x: Array) -> Array:
    """Greatest z of polylines (m, n, 2) at rising x, (m, k); not a number where it has none."""
    # Every stretch is spread over the x it spans: the work grows with the crossings.
    (x0, z0), (x1, z1) = (np.moveaxis(p, -1, 0) for p in (points[:, :-1], points[:, 1:]))
    first = np.searchsorted(x, np.minimum(x0, x1), side="left").ravel()
    count = np.searchsorted(x, np.maximum(x0, x1), side="right").ravel() - first
    edge = np.repeat(np.arange(len(count)), count)
    k = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    start, low, high = x0.ravel()[edge], z0.ravel()[edge], z1.ravel()[edge]
    span = x1.ravel()[edge] - start
    upright = span == 0.0
    t = np.clip((x[k] - start) / np.where(upright, 1.0, span), 0.0, 1.0)
    z = np.where(upright, np.maximum(low, high), low + t * (high - low))
    top = np.full((len(points), len(x)), -np.inf)
    np.maximum.at(top, (edge // x0.shape[1], k), z)
    return np.where(np.isfinite(top), top, np.nan)


def value_at(values: Array, stretch: int, t: float) -> float:
    """Value within a stretch of what is known at the points, (n,), such as their arcs."""
    return float(values[stretch] + t * (values[stretch + 1] - values[stretch]))


def taut_string(points: Array, side: float = 1.0, *, grazed: bool = False) -> Index:
    """Indices of the points on which a string bears that is drawn taut over a row of points."""
    # The string lies on the right of the row where `side` is positive, and turns left at each
    # bend; `grazed` keeps the points that it just touches.
    bears: list[int] = []
    _walk(points.tolist(), 0, len(points), bears, side, grazed=grazed)
    return np.array(bears, dtype=np.intp)


def taut_strings(
    points: Array, ends: Sequence[tuple[int, float, float]], side: float = 1.0
) -> list[list[int]]:
    """Bends of the taut string to each end (points passed before it, x, z), in one walk."""
    row = points.tolist()
    bears: list[int] = []
    bends: list[list[int]] = [[] for _ in ends]
    passed = 0
    for k in sorted(range(len(ends)), key=lambda k: ends[k][0]):
        count, x, z = ends[k]
        _walk(row, passed, count, bears, side)
        passed = count
        # The end is one point more, on a string of its own.
        string, held = bears.copy(), row[count : count + 1]
        row[count : count + 1] = [[x, z]]
        _walk(row, count, count + 1, string, side)
        row[count : count + 1] = held
        bends[k] = string[1:-1]
    return bends


def _walk(
    row: list[list[float]],
    first: int,
    last: int,
    bears: list[int],
    side: float,
    *,
    grazed: bool = False,
) -> None:
    """Draw a string on over points first to last - 1 of a row; `bears` is where it bears."""
    n = len(bears)
    for i in range(first, last):
        x, z = row[i]
        while n > 1:
            ax, az = row[bears[n - 2]]
            bx, bz = row[bears[n - 1]]
            turn = ((bx - ax) * (z - az) - (bz - az) * (x - ax)) * side
            if turn > 0.0 or (grazed and turn == 0.0):
                break
            n -= 1
        del bears[n:]
        bears.append(i)
        n += 1


def first_meeting(points: Array) -> tuple[int, int] | None:
    """First two stretches of a line that meet, neighbours apart; None when it is simple."""
    start, step = points[:-1], np.diff(points, axis=0)
    fold = (step[1:] * step[:-1]).sum(axis=1) < 0.0
    fold &= np.abs(_cross(step[:-1], step[1:])) <= _ONE_MM * np.hypot(*step[:-1].T)
    back = np.flatnonzero(fold)
    i, j = _near_pairs(points)
    length = np.hypot(*step.T)
    met = np.ones(len(i), dtype=bool)
    for own, other in ((i, j), (j, i)):
        a = _cross(step[own], start[other] - start[own]) / length[own]
        b = _cross(step[own], points[other + 1] - start[own]) / length[own]
        met &= ~(((a > _ONE_MM) & (b > _ONE_MM)) | ((a < -_ONE_MM) & (b < -_ONE_MM)))
    i, j = np.append(i[met], back), np.append(j[met], back + 1)
    if len(i) == 0:
        return None
    k = int(np.lexsort((j, i))[0])
    return int(i[k]), int(j[k])


def _near_pairs(points: Array) -> tuple[Index, Index]:
    """Stretches, no neighbours, whose upright boxes overlap: first and second of every pair."""
    low = np.minimum(points[:-1], points[1:]) - _ONE_MM
    high = np.maximum(points[:-1], points[1:]) + _ONE_MM
    # Boxes of some stretches first: few of them overlap.
    starts = np.arange(0, len(low), _BLOCK)
    box_low, box_high = np.minimum.reduceat(low, starts), np.maximum.reduceat(high, starts)
    over = (box_low[:, None] <= box_high[None]).all(axis=2)
    a, b = np.nonzero(np.triu(over & over.T))
    i = (a[:, None, None] * _BLOCK + np.arange(_BLOCK)[:, None]).repeat(_BLOCK, axis=2).reshape(-1)
    j = (b[:, None, None] * _BLOCK + np.arange(_BLOCK)).repeat(_BLOCK, axis=1).reshape(-1)
    fair = (j > i + 1) & (j < len(low))
    i, j = i[fair], j[fair]
    fair = ((low[i] <= high[j]) & (low[j] <= high[i])).all(axis=1)
    return i[fair], j[fair]


def _cross(a: Array, b: Array) -> Array:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]

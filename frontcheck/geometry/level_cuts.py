"""Contours cut at many levels at once: the highest point at each x, or the foremost at each z.

Every stretch of every contour is spread over the levels it crosses, so the work grows with
the number of crossings and not with contours times levels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask


@dataclass(frozen=True)
class LevelCuts:
    """Crossings of B contours with K levels."""

    # Where `reached` is False the other arrays hold nothing meaningful.

    reached: Mask  # (B, K) bool
    value: Array  # (B, K) float, the other coordinate of the chosen crossing [mm]
    position: Array


@dataclass(frozen=True)
class BinMinima:
    """Foremost points of B contours within K bins of height."""

    x: Array  # (B, K) float, least x in the bin [mm]
    z: Array  # (B, K) float, its height [mm]


def level_cuts(
    points: Array, levels: Array, *, axis: Literal[0, 1], take: Literal["greatest", "least"]
) -> LevelCuts:
    """Cut contours at levels of one coordinate and keep one crossing each."""
    batch, n = points.shape[:2]
    edge, k, t = _crossings(points[..., axis], levels)
    other = points[..., 1 - axis]
    start, stop = other[:, :-1].ravel()[edge], other[:, 1:].ravel()[edge]
    sign = 1.0 if take == "greatest" else -1.0
    # A stretch that lies in a level meets it all along: its better end counts.
    t = np.where(np.isnan(t), np.where(sign * stop > sign * start, 1.0, 0.0), t)
    value = start + t * (stop - start)
    key = edge // (n - 1) * len(levels) + k
    best = np.full(batch * len(levels), -np.inf)
    np.maximum.at(best, key, sign * value)
    won = np.flatnonzero(sign * value == best[key])[::-1]  # the first is written last
    position = np.zeros(batch * len(levels))
    position[key[won]] = (edge % (n - 1) + t)[won]
    shape = (batch, len(levels))
    reached = np.isfinite(best)
    best = np.where(reached, sign * best, 0.0)
    return LevelCuts(reached.reshape(shape), best.reshape(shape), position.reshape(shape))


def foremost_in_bins(points: Array, levels: Array) -> BinMinima:
    """Find the foremost point of each contour between each two neighbouring heights."""
    batch, n = points.shape[:2]
    bins = len(levels) - 1
    x, z = points[..., 0], points[..., 1]
    edge, k, t = _crossings(z, levels)
    t = np.where(np.isnan(t), 0.0, t)
    start, stop = x[:, :-1].ravel()[edge], x[:, 1:].ravel()[edge]
    row = edge // (n - 1)
    cross_x = start + t * (stop - start)
    own = np.searchsorted(levels, z.ravel(), side="right") - 1
    rows = np.concatenate([np.repeat(np.arange(batch), n), row, row])
    where = np.concatenate([own, k - 1, k])
    at_x = np.concatenate([x.ravel(), cross_x, cross_x])
    at_z = np.concatenate([z.ravel(), levels[k], levels[k]])
    inside = (where >= 0) & (where < bins)
    key, at_x, at_z = (rows * bins + where)[inside], at_x[inside], at_z[inside]
    best = np.full(batch * bins, np.inf)
    np.minimum.at(best, key, at_x)
    won = np.flatnonzero(at_x == best[key])[::-1]
    height = np.zeros(batch * bins)
    height[key[won]] = at_z[won]
    return BinMinima(best.reshape(batch, bins), height.reshape(batch, bins))


def _crossings(along: Array, levels: Array) -> tuple[Index, Index, Array]:
    """Every meeting of a stretch (flat index) with a level, and where on the stretch."""
    # The position is not a number where the stretch lies in the level.
    a, b = along[:, :-1].ravel(), along[:, 1:].ravel()
    first = np.searchsorted(levels, np.minimum(a, b), side="left")
    count = np.searchsorted(levels, np.maximum(a, b), side="right") - first
    edge = np.repeat(np.arange(len(a)), count)
    k = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    span = (b - a)[edge]
    flat = span == 0.0
    t = np.where(flat, np.nan, (levels[k] - a[edge]) / np.where(flat, 1.0, span))
    return edge, k, np.clip(t, 0.0, 1.0)

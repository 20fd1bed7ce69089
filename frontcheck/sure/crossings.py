"""Draws whose contour crosses itself: no surface looks like that, so they are counted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["crossing"]


def crossing(nominal: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which copies of a contour cross or touch themselves."""
    # Only stretches that are close enough for the points to have strayed together are compared.
    off = points - nominal
    if not off.any():
        return np.zeros(len(points), dtype=bool)
    suspect = _folds(points)
    for i, j in _close_pairs(nominal, np.hypot(off[..., 0], off[..., 1]).max(axis=0)):
        a, b, c, d = points[:, i], points[:, i + 1], points[:, j], points[:, j + 1]
        suspect |= (_turn(a, b, c) * _turn(a, b, d) <= 0.0) & (
            _turn(c, d, a) * _turn(c, d, b) <= 0.0
        )
    # Stretches in one line are suspected too, whether they overlap or not.
    if suspect.any():
        import shapely

        suspect[suspect] = ~shapely.is_simple(shapely.linestrings(points[suspect]))
    return suspect


def _folds(points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Copies in which a stretch runs straight back over the one before."""
    step = np.diff(points, axis=1)
    before, after = step[:, :-1], step[:, 1:]
    cross = before[..., 0] * after[..., 1] - before[..., 1] * after[..., 0]
    back: NDArray[np.bool_] = (before * after).sum(axis=-1) <= 0.0
    folds: NDArray[np.bool_] = ((cross == 0.0) & back).any(axis=1)
    return folds


def _turn(
    a: NDArray[np.float64], b: NDArray[np.float64], p: NDArray[np.float64]
) -> NDArray[np.float64]:
    turn: NDArray[np.float64] = np.sign(
        (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (p[:, 0] - a[:, 0])
    )
    return turn


def _close_pairs(points: NDArray[np.float64], stray: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Pairs of stretches, not neighbours, whose boxes grown by the straying overlap."""
    low = np.minimum(points[:-1] - stray[:-1, None], points[1:] - stray[1:, None])
    high = np.maximum(points[:-1] + stray[:-1, None], points[1:] + stray[1:, None])
    meet = ((low[:, None] <= high[None]) & (low[None] <= high[:, None])).all(axis=-1)
    first, second = np.nonzero(np.triu(meet, 2))
    return list(zip(first.tolist(), second.tolist(), strict=True))

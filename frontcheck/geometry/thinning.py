"""Points left out of many polylines at once, none moved by more than a tolerance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask

_ROUNDS: Final = 40


@dataclass(frozen=True, eq=False)
class Lines:
    """Polylines one after the other."""

    points: Array  # (n, 2) float, x and z [mm]
    labels: NDArray[np.int64] | None  # (n,) int, label of the stretch after each point
    sizes: Index  # (k,) int, points of every line
    closed: Mask  # (k,) bool, whether its last point is followed by the first

    def thinned(self, tolerance: float) -> Lines:
        """Leave out points while a line moves by no more than a tolerance; lines of no length."""
        # Points where the label changes stay. Repeated points go first; with a stretch of no
        # length goes its label, the one after the point stays.
        start, stop = self._bounds()
        after = self._after(start, stop)
        moves = (self.points[after] != self.points).any(axis=1)
        moves[stop[~self.closed]] = False
        still = np.add.reduceat(moves, start) == 0
        moves[stop[~self.closed & ~still]] = True
        lines = self if moves.all() else self._kept(moves)
        # Each round may move a line by its own part of the tolerance: 1/2 + 1/4 + ...
        step = tolerance / 2.0
        for _ in range(_ROUNDS if tolerance > 0.0 else 0):
            drop = lines._droppable(step)
            if not drop.any():
                break
            lines = lines._kept(~drop)
            step /= 2.0
        return lines

    def _bounds(self) -> tuple[Index, Index]:
        """First and last point of every line."""
        ends = np.cumsum(self.sizes)
        return ends - self.sizes, ends - 1

    def _after(self, start: Index, stop: Index) -> Index:
        after = np.arange(1, len(self.points) + 1)
        after[stop] = start
        return after

    def _kept(self, keep: Mask) -> Lines:
        count = np.concatenate([[0], np.cumsum(keep)])
        ends = np.cumsum(self.sizes)
        return Lines(
            self.points[keep],
            None if self.labels is None else self.labels[keep],
            count[ends] - count[ends - self.sizes],
            self.closed,
        )

    def _droppable(self, step: float) -> Mask:
        """Points, no two of them neighbours, that lie within `step` of the chord beside them."""
        some = self.sizes > 0
        sizes, closed = self.sizes[some], self.closed[some]
        stop = np.cumsum(sizes) - 1
        start = stop + 1 - sizes
        x, z = self.points[:, 0], self.points[:, 1]
        after = self._after(start, stop)
        before = np.arange(-1, len(x) - 1)
        before[start] = stop
        chord_x, chord_z = x[after] - x[before], z[after] - z[before]
        off_x, off_z = x - x[before], z - z[before]
        length2 = chord_x * chord_x + chord_z * chord_z
        along = off_x * chord_x + off_z * chord_z
        cross = chord_x * off_z - chord_z * off_x
        near = (cross * cross <= step * step * length2) & (along > 0.0) & (along < length2)
        if self.labels is not None:
            near &= self.labels == self.labels[before]
        near &= np.repeat(sizes > np.where(closed, 3, 2), sizes)
        near[start[~closed]] = near[stop[~closed]] = False
        both = closed & near[start] & near[stop]
        near[stop[both]] = False
        # Within a run of such points every second one goes.
        index = np.arange(len(x))
        fresh = np.where(near, 0, index + 1)
        fresh[start] = np.where(near[start], start, start + 1)
        return np.asarray(near & ((index - np.maximum.accumulate(fresh)) % 2 == 0))

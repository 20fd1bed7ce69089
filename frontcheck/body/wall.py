"""A front as a wall for circles: the nearest place of a polyline, found through a grid.

Every cell of the grid knows the few stretches one of which is nearest to any point in it, so
that a contour of hundreds of points costs hardly more than one of a dozen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.near_triangles import ranges

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index

_CELL_M: Final = 0.02
_AROUND_M: Final = 0.15
"""Points farther off than this from all of the wall's box are not near it [m]."""
_AT_ONCE: Final = 2_000_000


class Wall:
    """A polyline (m + 1, 2), the air on its left [m]."""

    def __init__(self, points: Array) -> None:
        self.points = points
        self.start, self.step = points[:-1], np.diff(points, axis=0)
        self.square = (self.step * self.step).sum(axis=1)
        normal = np.stack([-self.step[:, 1], self.step[:, 0]], axis=1)
        self.normal = normal / np.sqrt(self.square)[:, None]
        # At a corner what counts as outside is told by both stretches; past the ends all does.
        self.corner = np.zeros(points.shape)
        self.corner[1:-1] = self.normal[:-1] + self.normal[1:]
        self.low = points.min(axis=0) - _AROUND_M
        self.count = np.ceil((points.max(axis=0) + _AROUND_M - self.low) / _CELL_M).astype(np.intp)
        self._fill()

    def _fill(self) -> None:
        """Find the stretches that count in every cell, and how far off they are at least."""
        every = np.stack(np.meshgrid(*map(np.arange, self.count), indexing="ij"), axis=-1)
        middle = self.low + (every.reshape(-1, 2) + 0.5) * _CELL_M
        half = _CELL_M / np.sqrt(2.0)
        least, counts, found = [], [], []
        block = max(_AT_ONCE // len(self.step), 1)
        for i in range(0, len(middle), block):
            own = middle[i : i + block]
            off = own[:, None] - self.start
            t = np.clip((off * self.step).sum(axis=-1) / self.square, 0.0, 1.0)
            off -= t[..., None] * self.step
            gap = np.linalg.norm(off, axis=-1)
            nearest = gap.min(axis=1)
            cell, stretch = np.nonzero(gap <= nearest[:, None] + 2.0 * half)
            # What has sunk in is near however deep; a cell past an end may hold some of that, too.
            best = np.arange(len(own)), gap.argmin(axis=1)
            ahead = (off[best] * self._away(best[1], t[best])).sum(axis=1) > 0.0
            least.append(np.where(ahead, nearest - half, -np.inf))
            counts.append(np.bincount(cell, minlength=len(own)))
            found.append(stretch)
        self.least = np.concatenate(least)
        self.first = np.concatenate([[0], np.cumsum(np.concatenate(counts))])
        self.stretch = np.concatenate(found)

    def _away(self, stretch: Index, t: Array) -> Array:
        """Where there is air at places of stretches: 0 is where they begin, 1 where they end."""
        return np.where(
            (t == 0.0)[:, None],
            self.corner[stretch],
            np.where((t == 1.0)[:, None], self.corner[stretch + 1], self.normal[stretch]),
        )

    def cells(self, points: Array) -> Index:
        """Cells that hold points (k, 2); -1 outside the grid."""
        at = np.floor((points - self.low) / _CELL_M).astype(np.intp)
        inside = ((at >= 0) & (at < self.count)).all(axis=1)
        return np.where(inside, at[:, 0] * self.count[1] + at[:, 1], -1)

    def near(self, points: Array, reach: Array) -> tuple[Index, Index, Array, Array]:
        """Points (k, 2) that may lie within reach (k,): which, stretch, distance and normal."""
        # The distance is negative behind the wall, so it stays near however deep it has sunk in;
        # the normal points to where there is air.
        cell = self.cells(points)
        which = np.flatnonzero((cell >= 0) & (self.least[cell] <= reach))
        cell, at = cell[which], points[which]
        row, item = ranges(self.first[cell], self.first[cell + 1])
        stretch = self.stretch[item]
        off = at[row] - self.start[stretch]
        step = self.step[stretch]
        t = np.clip((off * step).sum(axis=1) / self.square[stretch], 0.0, 1.0)
        off -= t[:, None] * step
        square = off[:, 0] * off[:, 0] + off[:, 1] * off[:, 1]
        starts = np.flatnonzero(np.diff(row, prepend=-1))
        if len(starts) == 0:
            return which, which, np.zeros(0), np.zeros((0, 2))
        ties = np.flatnonzero(
            square
            == np.repeat(np.minimum.reduceat(square, starts), np.diff(starts, append=len(row)))
        )
        best = ties[np.flatnonzero(np.diff(row[ties], prepend=-1))]
        stretch, t, off = stretch[best], t[best], off[best]
        distance = np.sqrt(square[best])
        sign = np.where((off * self._away(stretch, t)).sum(axis=1) < 0.0, -1.0, 1.0)
        normal = np.where(
            (distance > 1e-12)[:, None],
            off * (sign / np.maximum(distance, 1e-12))[:, None],
            self.normal[stretch],
        )
        return which, stretch, sign * distance, normal

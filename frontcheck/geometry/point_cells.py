"""Points of a contour by the square cell that holds them, so that few are looked at."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_NEAR_MM: Final = 1e-6
_POINTS_A_CELL: Final = 4
_COARSER: Final = 4
"""Cells of the next level are as many times as wide."""
_MOST_ROWS: Final = 32
"""Rows of cells that a triangle may span; one that spans more is looked up a level up."""

_Place = tuple[float, float]


class PointCells:
    """Contour points by cells of several sizes; each size is sorted when first asked for."""

    def __init__(self, points: Array) -> None:
        self.points = points
        self.x, self.z = points.min(axis=0).tolist()
        span = np.ptp(points, axis=0)
        self.finest = float(span.sum()) * _POINTS_A_CELL / len(points) or 1.0
        self.held: dict[float, dict[tuple[int, int], list[int]]] = {}

    def near(self, a: _Place, b: _Place, c: _Place, but: tuple[int, int] | None) -> list[int]:
        """Contour indices near a triangle, less those from one index to another."""
        corners = [(x - self.x, z - self.z) for x, z in sorted((a, b, c), key=lambda p: p[1])]
        low, high = corners[0][1] - _NEAR_MM, corners[2][1] + _NEAR_MM
        across = [x for x, _ in corners]
        wide = max(max(across) - min(across), high - low) / _MOST_ROWS
        size = self.finest
        while size < wide:
            size *= _COARSER
        held = self.held.get(size)
        if held is None:
            held = self.held[size] = self._sorted(size)
        edges = [
            (za, zb, xa, (xb - xa) / (zb - za) if zb > za else 0.0)
            for (xa, za), (xb, zb) in (
                (corners[0], corners[1]),
                (corners[1], corners[2]),
                (corners[0], corners[2]),
            )
        ]
        found: list[int] = []
        for row in range(int(low // size), int(high // size) + 1):
            # The triangle within the row: its corners there, and where its sides enter and leave.
            under, over = row * size - _NEAR_MM, (row + 1) * size + _NEAR_MM
            x = [x for x, z in corners if under <= z <= over]
            for za, zb, xa, slope in edges:
                if za < under < zb:
                    x.append(xa + (under - za) * slope)
                if za < over < zb:
                    x.append(xa + (over - za) * slope)
            if not x:
                continue
            for column in range(
                int((min(x) - _NEAR_MM) // size), int((max(x) + _NEAR_MM) // size) + 1
            ):
                own = held.get((column, row))
                if own is None:
                    continue
                if but is None:
                    found += own
                else:
                    found += own[: bisect_left(own, but[0])]
                    found += own[bisect_right(own, but[1]) :]
        return found

    def _sorted(self, size: float) -> dict[tuple[int, int], list[int]]:
        column, row = ((self.points - [self.x, self.z]) // size).astype(np.intp).T
        order = np.lexsort((row, column))  # stable: indices rise within a cell
        column, row = column[order], row[order]
        first = np.flatnonzero(np.diff(column, prepend=-1) | np.diff(row, prepend=-1))
        last = [*first[1:].tolist(), len(order)]
        places, every = (
            zip(column[first].tolist(), row[first].tolist(), strict=True),
            order.tolist(),
        )
        return {place: every[a:b] for place, a, b in zip(places, first.tolist(), last, strict=True)}

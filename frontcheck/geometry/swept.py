"""Points of a contour in a triangle that the end of a tape sweeps on its way along the contour."""

from __future__ import annotations

from bisect import bisect, bisect_left
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array

TOUCH_MM: Final = 1e-9
"""A point this close to the tape touches it [mm]: rounding of coordinates of some metres."""
_NEAR_MM: Final = 1e-6
"""Points are looked at this far beyond a triangle, too."""
_FEW: Final = 200
"""Up to as many points are looked at one by one: arrays are slower then."""


class SweptPoints:
    """The points of one contour, of which a contour's own order tells most to be elsewhere."""

    def __init__(self, points: Array) -> None:
        self.points = points
        x, z = points.T
        self.x: list[float] = x.tolist()
        self.z: list[float] = z.tolist()
        # How far back and how high points reach up to each; how far forward and low from it on.
        self.rearmost: list[float] = np.maximum.accumulate(x).tolist()
        self.highest: list[float] = np.maximum.accumulate(z).tolist()
        self.foremost: list[float] = np.minimum.accumulate(x[::-1])[::-1].tolist()
        self.lowest: list[float] = np.minimum.accumulate(z[::-1])[::-1].tolist()

    def within(
        self,
        corners: tuple[int, int, int],
        places: Sequence[tuple[float, float]],
        turn: float,
        behind: tuple[int, int] | None,
    ) -> list[int]:
        """Points in a triangle or close to it, less its corners and what lies behind the tape."""
        x, z = [x for x, _ in places], [z for _, z in places]
        # No point before these lies as high or as far back, none after as low or as far forward.
        first = max(
            bisect_left(self.rearmost, min(x) - _NEAR_MM),
            bisect_left(self.highest, min(z) - _NEAR_MM),
        )
        last = min(bisect(self.foremost, max(x) + _NEAR_MM), bisect(self.lowest, max(z) + _NEAR_MM))
        parts = [(first, last)]
        if behind is not None:
            parts = [(first, min(behind[0], last)), (max(behind[1] + 1, first), last)]
        sides = []
        for i, j, off in ((0, 1, TOUCH_MM), (1, 2, TOUCH_MM), (2, 0, 0.0)):
            dx, dz = (x[j] - x[i]) * turn, (z[j] - z[i]) * turn
            sides.append((x[i], z[i], dx, dz, -2.0 * off * (abs(dx) + abs(dz))))
        if sum(b - a for a, b in parts if b > a) > _FEW:
            found = np.concatenate([np.arange(*part) for part in parts])
            for x0, z0, dx, dz, least in sides:
                px, pz = self.points[found].T
                found = found[dx * (pz - z0) - dz * (px - x0) >= least]
            return [i for i in found.tolist() if i not in corners]
        which = [i for part in parts for i in range(*part) if i not in corners]
        for x0, z0, dx, dz, least in sides:
            which = [i for i in which if dx * (self.z[i] - z0) - dz * (self.x[i] - x0) >= least]
        return which

"""A sphere that nothing stops on its way down the windscreen: it comes to the seam.

Both surfaces fall away from the seam there, and the sphere touches both at once on it, square to
the windscreen as it came.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.near_triangles import cross, dot, held_by, nearest_on, ranges, unit

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.geometry.near_triangles import Pieces

SLIGHT_MM: Final = 0.02
"""Spheres that cut in no deeper may stay where no better place is found near by [mm]."""


def seam_rest(
    front: Array, on_front: Pieces, on_screen: Pieces, radius: float, levels: Array
) -> tuple[Index, Array, Array]:
    """Levels (n,), rising, in which it rests on the seam: which, centres and places (k, 3)."""
    row, at = _crossings(_seams(front, on_screen), levels)
    pair, normal = _facing(on_screen, at)
    centre = at[pair] + radius * normal
    least = np.full(len(centre), radius)
    for pieces in (on_front, on_screen):
        ball, item = pieces.within(centre, np.full(len(centre), radius))
        gap = nearest_on(pieces.corners[item], centre[ball]) - centre[ball]
        np.minimum.at(least, ball, np.sqrt(dot(gap, gap)))
    free = np.flatnonzero(least >= radius - SLIGHT_MM)
    order = free[np.lexsort((centre[free, 2], row[pair[free]]))]
    best = order[np.flatnonzero(np.diff(row[pair[order]], append=-1))]
    return row[pair[best]], centre[best], at[pair[best]]


def _seams(front: Array, on_screen: Pieces) -> Array:
    """Edges (m, 2, 3) of the front structure whose ends are the windscreen's too, by rising y."""
    shared = held_by(front, on_screen.corners)
    found = [
        np.stack([front[of, i], front[of, j]], axis=1)
        for i, j in ((0, 1), (1, 2), (2, 0))
        for of in [shared[:, i] & shared[:, j] & (front[:, i, 1] != front[:, j, 1])]
    ]
    edges = np.concatenate(found)
    down = edges[:, 0, 1] > edges[:, 1, 1]
    return np.where(down[:, None, None], edges[:, ::-1], edges)


def _crossings(edges: Array, levels: Array) -> tuple[Index, Array]:
    """Where edges (m, 2, 3) cross levels (n,): which, and places (k, 3)."""
    first = np.searchsorted(levels, edges[:, 0, 1], "left")
    last = np.searchsorted(levels, edges[:, 1, 1], "right")
    which, row = ranges(first, last)
    low, high = edges[which].swapaxes(0, 1)
    part = (levels[row] - low[:, 1]) / (high[:, 1] - low[:, 1])
    return row, low + part[:, None] * (high - low)


def _facing(pieces: Pieces, at: Array) -> tuple[Index, Array]:
    """Pieces that hold places (k, 3): which place, and their unit normals, upward."""
    pair, tri = pieces.holding(at)
    normal = unit(cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0]))
    return pair, normal * np.where(normal[:, 2] < 0.0, -1.0, 1.0)[:, None]

"""Pieces of a mesh: triangles that hang together by common corners."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index


class Pieces(NamedTuple):
    """Pieces of a mesh, one entry a piece."""

    of: Index  # (m,) piece of every triangle
    low: Array  # (k, 3) least coordinates
    high: Array  # (k, 3) greatest coordinates
    area: Array  # (k,)


def pieces_of(corners: Array) -> Pieces:
    """Sort triangles (m, 3, 3) into pieces; corners in one place are one, to the last bit."""
    m = len(corners)
    rows = np.ascontiguousarray(corners.reshape(-1, 3) + 0.0)
    _, vertex = np.unique(rows.view([("", rows.dtype)] * 3).reshape(-1), return_inverse=True)
    ends = vertex.reshape(m, 3)
    root = np.arange(int(ends.max()) + 1)
    while True:
        # The least root of its corners becomes the root of each triangle's corners.
        own = root[ends]
        least = own.min(axis=1)
        if (own == least[:, None]).all():
            break
        np.minimum.at(root, own.reshape(-1), np.repeat(least, 3))
        while (root[root] != root).any():
            root = root[root]
    _, of = np.unique(root[ends[:, 0]], return_inverse=True)
    order = np.argsort(of, kind="stable")
    first = np.flatnonzero(np.concatenate([[True], np.diff(of[order]) != 0]))
    low = np.minimum.reduceat(corners.min(axis=1)[order], first)
    high = np.maximum.reduceat(corners.max(axis=1)[order], first)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.add.reduceat(np.sqrt((across**2).sum(axis=1))[order] / 2.0, first)
    return Pieces(of, low, high, area)

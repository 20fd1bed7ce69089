"""Surfaces of triangles through nets of nodes."""

from __future__ import annotations

import numpy as np


def net(nodes):
    """Triangles (k, 3, 3) of nodes (i, j, 3)."""
    a, b, c, d = (nodes[i : len(nodes) - 1 + i, j : nodes.shape[1] - 1 + j].reshape(-1, 3)
                  for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)))  # fmt: skip
    return np.concatenate([np.stack([a, b, c], 1), np.stack([d, c, b], 1)])


def ruled(section, y, sweep=0.0):
    """One section (x, z) at every y, shifted rearward by `sweep` times that."""
    at = np.asarray(section, dtype=float)
    nodes = np.zeros((len(y), len(at), 3))
    nodes[..., 0] = at[:, 0] + sweep * np.asarray(y)[:, None]
    nodes[..., 1] = np.asarray(y)[:, None]
    nodes[..., 2] = at[:, 1]
    return net(nodes)

"""Which variants to make: quasi-random samples, a grid, or what Sobol indices ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array


def sobol(low: ArrayLike, high: ArrayLike, n: int, seed: int) -> Array:
    """Return points of a scrambled Sobol sequence."""
    from scipy.stats import qmc  # here and not above: the command line must start fast

    engine = qmc.Sobol(np.size(low), scramble=True, rng=np.random.default_rng(seed))
    return _scale(engine.random_base2(max(n - 1, 0).bit_length())[:n], low, high)


def latin_hypercube(low: ArrayLike, high: ArrayLike, n: int, seed: int) -> Array:
    """Return a Latin hypercube sample: each parameter's range is met evenly."""
    from scipy.stats import qmc

    engine = qmc.LatinHypercube(np.size(low), rng=np.random.default_rng(seed))
    return _scale(engine.random(n), low, high)


def grid(levels: Sequence[ArrayLike]) -> Array:
    """Return every combination of levels, the last parameter changing fastest."""
    mesh = np.meshgrid(*[np.asarray(each, dtype=float) for each in levels], indexing="ij")
    return np.stack([axis.ravel() for axis in mesh], axis=-1)


def saltelli(low: ArrayLike, high: ArrayLike, n: int, seed: int) -> Array:
    """Return the points at which Sobol indices ask for values: A, B, then A with one from B."""
    d = np.size(low)
    a, b = np.split(sobol(np.tile(low, 2), np.tile(high, 2), n, seed), 2, axis=1)
    # Of d copies of A the k-th takes column k from B.
    mixed = np.where(np.eye(d, dtype=bool)[:, None], b, a)
    return np.concatenate([a, b, mixed.reshape(d * n, d)])


def _scale(unit: Array, low: ArrayLike, high: ArrayLike) -> Array:
    bottom, top = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    return np.asarray(bottom + unit * (top - bottom))

"""Which variants to make: quasi-random samples, a grid, or what Sobol indices ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array


def sobol(low: Sequence[float], high: Sequence[float], n: int, seed: int) -> Array:
    """Return points of a scrambled Sobol sequence."""
    from scipy.stats import qmc  # here and not above: the command line must start fast

    engine = qmc.Sobol(len(low), scramble=True, rng=np.random.default_rng(seed))
    unit = engine.random_base2(max(n - 1, 0).bit_length())[:n]
    return _scale(unit, low, high)


def latin_hypercube(low: Sequence[float], high: Sequence[float], n: int, seed: int) -> Array:
    """Return a Latin hypercube sample: each parameter's range is met evenly."""
    from scipy.stats import qmc

    unit = qmc.LatinHypercube(len(low), rng=np.random.default_rng(seed)).random(n)
    return _scale(unit, low, high)


def grid(levels: Sequence[ArrayLike]) -> Array:
    """Return every combination of levels, the last parameter changing fastest."""
    mesh = np.meshgrid(*[np.asarray(each, dtype=float) for each in levels], indexing="ij")
    return np.stack([axis.ravel() for axis in mesh], axis=-1)


def saltelli(low: Sequence[float], high: Sequence[float], n: int, seed: int) -> Array:
    """Return the points at which Sobol indices ask for values: A, B, then A with one from B."""
    d = len(low)
    both = sobol([*low, *low], [*high, *high], n, seed)
    a, b = both[:, :d], both[:, d:]
    mixed = np.repeat(a[None], d, axis=0)
    for k in range(d):
        mixed[k, :, k] = b[:, k]
    return np.concatenate([a, b, mixed.reshape(d * n, d)])


def _scale(unit: Array, low: Sequence[float], high: Sequence[float]) -> Array:
    bottom, top = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    return bottom + unit * (top - bottom)

"""Bounds of quantities that are linear in the parameters, over boxes of parameter values.

Glossary
--------
box
    A range for every parameter, (lo, hi) of shape (M, H) for M boxes at once.
form
    ``constant + sum of slope times parameter``. Over a box its least and greatest values are
    at corners and are found parameter by parameter, so these bounds are exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Range:
    """Least and greatest values, one entry per box (and quantity)."""

    lo: NDArray[np.float64]  # Bounds, of one shape
    hi: NDArray[np.float64]  # Bounds, of one shape

    def __sub__(self, other: Range) -> Range:
        """Return the range of differences."""
        return Range(self.lo - other.hi, self.hi - other.lo)

    def joined(self, other: Range, where: NDArray[np.bool_]) -> Range:
        """Return the range widened by another, in some boxes."""
        lo = np.where(where, np.minimum(self.lo, other.lo), self.lo)
        hi = np.where(where, np.maximum(self.hi, other.hi), self.hi)
        return Range(lo, hi)


@dataclass(frozen=True, eq=False)
class Forms:
    """Linear forms of the parameters."""

    constant: NDArray[np.float64]  # (n,) values with all parameters 0
    slope: NDArray[np.float64]  # (H, n) change per unit of each parameter

    def over(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> Range:
        """Return the exact range of every form over every box."""
        least = np.tile(self.constant, (len(lo), 1))
        most = least.copy()
        for h, slope in enumerate(self.slope):
            a, b = lo[:, h, None] * slope, hi[:, h, None] * slope
            least += np.minimum(a, b)
            most += np.maximum(a, b)
        return Range(least, most)

    def plus(self, factor: float, other: Forms) -> Forms:
        """Return these forms plus a multiple of others."""
        return Forms(self.constant + factor * other.constant, self.slope + factor * other.slope)

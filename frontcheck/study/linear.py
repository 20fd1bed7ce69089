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

__all__ = ["Forms", "Range"]


@dataclass(frozen=True, eq=False)
class Range:
    """Least and greatest values, one entry per box (and quantity).

    Parameters
    ----------
    lo, hi : ndarray
        Bounds, of one shape.
    """

    lo: NDArray[np.float64]
    hi: NDArray[np.float64]

    def __sub__(self, other: Range) -> Range:
        """Return the range of differences."""
        return Range(self.lo - other.hi, self.hi - other.lo)

    def joined(self, other: Range, where: NDArray[np.bool_]) -> Range:
        """Return the range widened by another, in some boxes.

        Parameters
        ----------
        other : Range
            The other.
        where : ndarray
            Boxes in which to widen.

        Returns
        -------
        Range
            Wide enough for both there, as before elsewhere.
        """
        lo = np.where(where, np.minimum(self.lo, other.lo), self.lo)
        hi = np.where(where, np.maximum(self.hi, other.hi), self.hi)
        return Range(lo, hi)


@dataclass(frozen=True, eq=False)
class Forms:
    """Linear forms of the parameters.

    Parameters
    ----------
    constant : ndarray
        (n,) values with all parameters 0.
    slope : ndarray
        (H, n) change per unit of each parameter.
    """

    constant: NDArray[np.float64]
    slope: NDArray[np.float64]

    def over(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> Range:
        """Return the exact range of every form over every box.

        Parameters
        ----------
        lo, hi : ndarray
            (M, H) boxes.

        Returns
        -------
        Range
            Of shape (M, n).
        """
        least = np.tile(self.constant, (len(lo), 1))
        most = least.copy()
        for h, slope in enumerate(self.slope):
            a, b = lo[:, h, None] * slope, hi[:, h, None] * slope
            least += np.minimum(a, b)
            most += np.maximum(a, b)
        return Range(least, most)

    def plus(self, factor: float, other: Forms) -> Forms:
        """Return these forms plus a multiple of others.

        Parameters
        ----------
        factor : float
            The multiple.
        other : Forms
            As many forms.

        Returns
        -------
        Forms
            The sums.
        """
        return Forms(self.constant + factor * other.constant, self.slope + factor * other.slope)

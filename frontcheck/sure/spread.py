"""From draws of a number to what is said of it: median, interval, shares."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEVEL: Final = 0.95
"""Level of every interval."""

VEHICLE_ERRORS: Final = ("ground slope", "ride height", "pitch")
"""Errors that all stations share."""


@dataclass(frozen=True)
class Driver:
    """One error that a quantity follows."""

    name: str
    row: int | None  # Point of the section, counted from 0
    source_row: int | None  # Row of the file that holds the point
    share: float  # Share of the variance of the quantity that goes with it: squared correlation
    part_mm: float  # Standard deviation of the quantity that goes with it [mm]

    @property
    def of_vehicle(self) -> bool:
        """Whether the error is shared by all stations."""
        return self.name in VEHICLE_ERRORS


@dataclass(frozen=True)
class Spread:
    """How far one number may be off."""

    quantity: str  # Name with unit, such as ``UBRL_z_mm``
    nominal: float | None  # From the offsets as measured [mm]
    median: float  # Of the draws in which it is formed [mm]
    low: float  # Ends of the 95 % interval [mm]; see `interval`
    high: float  # Ends of the 95 % interval [mm]; see `interval`
    sd: float  # Standard deviation of the draws [mm]
    formed: float  # Share of draws in which it is formed; the other numbers are of those
    drivers: tuple[Driver, ...] = ()

    @property
    def width(self) -> float:
        """Width of the interval [mm]."""
        return self.high - self.low

    @property
    def linear_share(self) -> float:
        """Share of the variance that goes with the listed drivers, one by one."""
        return sum(driver.share for driver in self.drivers)


def interval(values: NDArray[np.float64], nominal: float | None) -> tuple[float, float]:
    """Return the 95 % interval of a quantity from its draws about the measured shape."""
    # Draws are made about the offsets as measured, which are themselves off. A contact is an
    # extreme (the foremost of several points, the shortest of several tapes), so errors shift it
    # one way, and the draws shift it once more. The percentile interval takes no account of that;
    # the bias-corrected percentile interval does, but is too narrow where a contact jumps between
    # points. The interval given spans both. Tests state how often it covers the true value
    # (tests/validation/test_coverage.py).
    # Percentile and bias-corrected interval: Efron and Tibshirani, An Introduction to the
    # Bootstrap, 1993, chapters 13 and 14 (from memory). Spanning both is our choice.
    from scipy.special import ndtr, ndtri  # here: the command line must start fast

    tail = (1.0 - LEVEL) / 2.0
    levels = np.array([tail, 1.0 - tail])
    low, high = np.quantile(values, levels)
    if nominal is not None:
        below = (np.sum(values < nominal) + 0.5 * np.sum(values == nominal)) / len(values)
        least = 0.5 / len(values)
        shift = 2.0 * ndtri(np.clip(below, least, 1.0 - least))
        corrected = np.quantile(values, ndtr(shift + ndtri(levels)))
        low, high = min(low, corrected[0]), max(high, corrected[1])
    return float(low), float(high)


class CrossSums:
    """Sums from which correlations follow, block by block."""

    def __init__(self, quantities: int, errors: int) -> None:
        self._count = np.zeros((quantities, 1))
        self._v = np.zeros((quantities, 1))
        self._vv = np.zeros((quantities, 1))
        self._e = np.zeros((quantities, errors))
        self._ee = np.zeros((quantities, errors))
        self._ve = np.zeros((quantities, errors))
        self._origin: NDArray[np.float64] | None = None

    def add(
        self,
        values: NDArray[np.float64],
        formed: NDArray[np.bool_],
        normals: NDArray[np.float64],
    ) -> None:
        """Add a block."""
        if self._origin is None:
            # Near the values, so that little is lost when squares are subtracted below.
            self._origin = np.where(formed, values, 0.0).max(axis=1, keepdims=True)
        centred = np.where(formed, values - self._origin, 0.0)
        self._count += formed.sum(axis=1, keepdims=True)
        self._v += centred.sum(axis=1, keepdims=True)
        self._vv += (centred * centred).sum(axis=1, keepdims=True)
        if formed.all():
            self._e += normals.sum(axis=0)
            self._ee += (normals * normals).sum(axis=0)
        else:
            weight = formed.astype(np.float64)
            self._e += _product(weight, normals)
            self._ee += _product(weight, normals * normals)
        self._ve += _product(centred, normals)

    def shares(self) -> NDArray[np.float64]:
        """Return the squared correlations."""
        count = np.maximum(self._count, 1.0)
        cov = self._ve - self._v * self._e / count
        var_v = self._vv - self._v**2 / count
        var_e = self._ee - self._e**2 / count
        scale = var_v * var_e
        # Rounding of the sums is no variance.
        varies = (var_v > 1e-18 * count) & (var_v > 1e-12 * self._vv) & (var_e > 0.0)
        shares: NDArray[np.float64] = np.where(varies, cov**2 / np.where(varies, scale, 1.0), 0.0)
        return shares


def _product(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Matrix product in one fixed order: BLAS adds in an order that hangs on its threads."""
    product: NDArray[np.float64] = np.einsum("qk,ke->qe", a, b)
    return product

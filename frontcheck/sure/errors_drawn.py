"""The independent errors of a station: of its rows, of the station, of the whole vehicle.

Errors of rows are independent, or alike along the contour over an error length. Then their
correlation at a distance d along it is exp(-d^2 / 2 L^2), the squared exponential kernel (C. E.
Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, 4.2, from memory).
Own choice: a local fit, as of a scan, leaves errors that run smoothly from row to row; those of an
exponential kernel are jagged, and the more so the denser the rows. Heights and setbacks err apart.
So do stations (own choice): at a pitch of 100 mm and a length of 40 mm the kernel leaves 0.04.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array
    from frontcheck.surface.section import Section

VEHICLE_ERRORS: Final = ("ground slope", "ride height", "pitch", "scale")
"""Errors that all stations share."""

_LEAST_LENGTH_MM: Final = 1.0
"""Errors alike over less than this are taken as those of single rows."""
_NODES: Final = 2
"""Nodes in one error length: with two, correlations are those of the kernel to 1e-8."""
_REACH: Final = 3
"""A node moves rows within this many error lengths: beyond, by less than 2e-4 of their error."""


class Named:
    """An error, or what goes with one, known by its name."""

    name: str

    @property
    def of_vehicle(self) -> bool:
        """Whether the error is shared by all stations."""
        return self.name in VEHICLE_ERRORS


@dataclass(frozen=True)
class Input(Named):
    """One independent error of a station."""

    name: str
    u: float  # Standard uncertainty [mm], [deg] or [%]
    row: int | None = None  # Of a height or setback: the point that it moves most, from 0
    first: int = 0  # The first of the points that it moves,
    by: Array = field(default_factory=lambda: np.empty(0), compare=False)  # how far

    @property
    def rows(self) -> slice:
        """The points that it moves."""
        return slice(self.first, self.first + len(self.by))


def row_inputs(section: Section, length: float, u: Mapping[str, ArrayLike]) -> list[Input]:
    """Return one error a row, or of nodes along the contour that move the rows about them."""
    # Errors of this kernel are independent ones at even nodes, spread by exp(-s^2 / L^2), whose
    # convolution with itself the kernel is. So first-order shares add up, draws do not hang on how
    # dense the rows are, and no matrix is factored: the same bytes on every machine.
    stated = {name: np.asarray(values, dtype=np.float64) for name, values in u.items()}
    n = len(section)
    if length < _LEAST_LENGTH_MM:
        nodes = [(row, np.ones(1)) for row in range(n)]
    else:
        nodes = _nodes(section.points, length)
    square = np.zeros(n)
    for first, weight in nodes:
        square[first : first + len(weight)] += weight**2
    inputs = []
    for first, weight in nodes:
        rows = slice(first, first + len(weight))
        for name, values in stated.items():
            by = values[rows] * (weight / np.sqrt(square[rows]))
            row = int(first + weight.argmax())
            inputs.append(Input(name, float(by.max()), row, first, by))
    return inputs


def _nodes(points: Array, length: float) -> list[tuple[int, Array]]:
    """The first row that each node moves, and its weight on this and the following rows."""
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    step, near = length / _NODES, _REACH * _NODES
    beside = np.floor(arc / step)[:, None] + np.arange(-near, near + 2)
    places = np.unique(beside) * step
    spans = np.searchsorted(arc, [places - _REACH * length, places + _REACH * length])
    return [
        (int(first), np.exp(-(((arc[first:last] - place) / length) ** 2)))
        for first, last, place in zip(*spans, places, strict=True)
        if first < last
    ]

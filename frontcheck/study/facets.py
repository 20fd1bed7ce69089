"""How arcs are cut into chords so that noses of one study share their number of points.

Points of an arc lie on its circle, at tangent directions that are whole parts of 5 deg. The
leans at which straight edges touch (20, 25, 40, 50 deg) are among them, so that such a contact
on a rounding is the exact one of the circle and not half a chord beside it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

__all__ = ["STEP_DEG", "Facets"]

STEP_DEG: Final = 5.0
"""Facet directions are whole parts of this, so that leans in whole 5 deg are among them."""


@dataclass(frozen=True)
class Facets:
    """How many chords every arc of a study's noses has."""

    arcs: tuple[tuple[int, int, int], ...]
    bonnet: int  # Chords of the bonnet

    def directions(self, i: int) -> NDArray[np.float64]:
        """Return the tangent directions of one rounding's inner points, ascending."""
        parts, first, last = self.arcs[i]
        found: NDArray[np.float64] = np.radians(np.arange(first, last + 1) * (STEP_DEG / parts))
        return found

    def to_dict(self) -> dict[str, Any]:
        """Return plain values."""
        return {"arcs": [list(arc) for arc in self.arcs], "bonnet": self.bonnet}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Facets:
        """Return the facets that `to_dict` wrote."""
        arcs = tuple((int(p), int(a), int(b)) for p, a, b in values["arcs"])
        return cls(arcs, int(values["bonnet"]))


def arc_parts(radius: float, tolerance: float) -> int:
    """Return into how many parts 5 deg of an arc are cut to keep a chord tolerance."""
    if tolerance >= radius:
        return 1
    # The height of an arc over its chord is radius (1 - cos(angle / 2)).
    widest = 2.0 * math.acos(1.0 - tolerance / radius)
    return max(1, math.ceil(math.radians(STEP_DEG) / widest - 1e-9))

"""The dimensions of a parametric nose, in the words of the trade.

All roundings are circles. A lip's height and setback are those of the foremost point of its
circle; setbacks are horizontal distances rearward of the bumper face, which stands at x = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

BLE_LEAN_DEG: Final = 50.0
"""Lean from vertical of the tangent at the point that `leading_edge_height_mm` speaks of."""
UPPER_BUMPER_LEAN_DEG: Final = 20.0
"""Lean from vertical of the tangent at the point that `lead_mm` is counted from."""


def _dim(default: float, low: float, high: float) -> Any:
    return field(default=default, metadata={"range": (low, high)})


@one_line
@dataclass(frozen=True)
class Nose:
    """Dimensions of one nose; `frontcheck.nose_front` makes it a front.

    Parameters
    ----------
    underside_angle_deg : float, optional
        Rise of the underside toward the lower lip, from horizontal [deg].
    underside_length_mm : float, optional
        Length of the straight underside [mm].
    lower_lip_height_mm, lower_lip_setback_mm, lower_lip_radius_mm : float, optional
        Foremost point of the lower lip's rounding, and its radius [mm].
    recess_depth_mm : float, optional
        Recess between lower lip and bumper: horizontal gap of its deepest point from the
        string that touches both, midway between the two touches [mm].
    recess_radius_mm : float, optional
        Radius of the recess floor [mm].
    bumper_height_mm : float, optional
        Height of the middle of the bumper above ground [mm].
    bumper_depth_mm : float, optional
        Upright size of the bumper, over both its roundings [mm].
    bumper_radius_mm : float, optional
        Radius of the bumper's lower and upper rounding [mm].
    grille_depth_mm, grille_radius_mm : float, optional
        The same as for the recess, between bumper and upper lip [mm].
    upper_lip_height_mm, upper_lip_setback_mm, upper_lip_radius_mm : float, optional
        Foremost point of the upper lip's rounding, and its radius [mm].
    leading_edge_height_mm : float, optional
        Height of the point of the leading edge's rounding at which its tangent leans 50 deg
        rearward from vertical [mm].
    lead_mm : float, optional
        Horizontal distance to that point from the point of the bumper's upper rounding at
        which the tangent leans 20 deg rearward [mm].
    leading_edge_radius_mm : float, optional
        Radius of the leading edge's rounding [mm].
    bonnet_angle_deg : float, optional
        Rise of the bonnet's chord, from horizontal [deg].
    bonnet_crown_mm : float, optional
        Largest distance of the bonnet from its chord [mm].
    bonnet_edge_radius_mm : float, optional
        Radius of the bonnet's rear edge [mm].
    cowl_setback_mm : float, optional
        Setback of the bonnet's rear end, where that rounding starts [mm].
    cowl_gap_mm, cowl_depth_mm : float, optional
        Lowest point of the cowl, behind and below the bonnet's rear end [mm].
    cowl_radius_mm : float, optional
        Radius of the cowl floor [mm].
    windscreen_angle_deg : float, optional
        Rise of the windscreen, from horizontal [deg].
    windscreen_length_mm : float, optional
        Length of the straight windscreen [mm].
    plan_radius_mm : float, optional
        Radius of the plan shape: the section at y stands back by the height of an arc of
        this radius over y [mm].

    Raises
    ------
    InputError
        If a dimension is not a number within its range in `DIMENSIONS`.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.Nose(bumper_height_mm=480).bumper_height_mm
    480
    """

    underside_angle_deg: float = _dim(14.0, 0.0, 60.0)
    underside_length_mm: float = _dim(350.0, 10.0, 1500.0)
    lower_lip_height_mm: float = _dim(330.0, 50.0, 1000.0)
    lower_lip_setback_mm: float = _dim(20.0, -400.0, 800.0)
    lower_lip_radius_mm: float = _dim(25.0, 1.0, 500.0)
    recess_depth_mm: float = _dim(22.0, 0.0, 400.0)
    recess_radius_mm: float = _dim(30.0, 1.0, 500.0)
    bumper_height_mm: float = _dim(510.0, 100.0, 1200.0)
    bumper_depth_mm: float = _dim(120.0, 2.0, 900.0)
    bumper_radius_mm: float = _dim(35.0, 1.0, 450.0)
    grille_depth_mm: float = _dim(8.0, 0.0, 400.0)
    grille_radius_mm: float = _dim(30.0, 1.0, 500.0)
    upper_lip_height_mm: float = _dim(690.0, 150.0, 1500.0)
    upper_lip_setback_mm: float = _dim(45.0, -400.0, 1200.0)
    upper_lip_radius_mm: float = _dim(30.0, 1.0, 600.0)
    leading_edge_height_mm: float = _dim(800.0, 200.0, 1800.0)
    lead_mm: float = _dim(100.0, -300.0, 1500.0)
    leading_edge_radius_mm: float = _dim(90.0, 1.0, 1500.0)
    bonnet_angle_deg: float = _dim(10.0, 0.0, 35.0)
    bonnet_crown_mm: float = _dim(15.0, 0.0, 300.0)
    bonnet_edge_radius_mm: float = _dim(6.0, 0.5, 100.0)
    cowl_setback_mm: float = _dim(1080.0, 150.0, 3000.0)
    cowl_gap_mm: float = _dim(60.0, 1.0, 500.0)
    cowl_depth_mm: float = _dim(22.0, 0.0, 300.0)
    cowl_radius_mm: float = _dim(18.0, 0.5, 300.0)
    windscreen_angle_deg: float = _dim(32.0, 5.0, 85.0)
    windscreen_length_mm: float = _dim(600.0, 10.0, 3000.0)
    plan_radius_mm: float = _dim(2200.0, 300.0, 100000.0)

    def __post_init__(self) -> None:
        """Check every dimension against its range."""
        for dimension in DIMENSIONS:
            dimension.check(getattr(self, dimension.name))

    @property
    def values(self) -> Array:
        """The dimensions in the order of `DIMENSIONS`, (K,) [mm or deg]."""
        return np.array([getattr(self, dimension.name) for dimension in DIMENSIONS], dtype=float)


@dataclass(frozen=True)
class Dimension:
    """One dimension of a nose."""

    name: str  # Name, with its unit at the end
    unit: str  # ``mm`` or ``deg``
    default: float  # Value where none is given
    low: float  # Range taken at all; beyond it lies a mistake, not a nose
    high: float  # Range taken at all; beyond it lies a mistake, not a nose

    def check(self, value: float) -> None:
        """Refuse a value that is not a number within the range."""
        low, high = self.low, self.high
        if not (math.isfinite(value) and low <= value <= high):
            name, unit = self.name, self.unit
            raise refuse("nose.dimension", name=name, value=value, low=low, high=high, unit=unit)


DIMENSIONS: Final = tuple(
    Dimension(f.name, f.name.rpartition("_")[2], float(str(f.default)), *f.metadata["range"])
    for f in fields(Nose)
)
"""Every dimension of a nose, in order."""

# How arcs are cut into chords so that noses of one study share their number of points.
#
# Points of an arc lie on its circle, at tangent directions that are whole parts of 5 deg. The
# leans at which straight edges touch (20, 25, 40, 50 deg) are among them, so that such a contact
# on a rounding is the exact one of the circle and not half a chord beside it.

STEP_DEG: Final = 5.0
"""Facet directions are whole parts of this, so that leans in whole 5 deg are among them."""


@one_line
@dataclass(frozen=True)
class Facets:
    """How many chords every arc of a study's noses has."""

    arcs: tuple[tuple[int, int, int], ...]
    bonnet: int  # Chords of the bonnet

    def directions(self, i: int) -> Array:
        """Return the tangent directions of one rounding's inner points, ascending."""
        parts, first, last = self.arcs[i]
        return np.asarray(np.radians(np.arange(first, last + 1) * (STEP_DEG / parts)))


def arc_parts(radius: float, tolerance: float) -> int:
    """Return into how many parts 5 deg of an arc are cut to keep a chord tolerance."""
    if tolerance >= radius:
        return 1
    # The height of an arc over its chord is radius (1 - cos(angle / 2)).
    widest = 2.0 * math.acos(1.0 - tolerance / radius)
    return max(1, math.ceil(math.radians(STEP_DEG) / widest - 1e-9))

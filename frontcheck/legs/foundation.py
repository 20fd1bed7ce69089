"""The front pushed into an upright leg: pressure follows penetration (uniform foundation).

Stiffness not known: one modulus everywhere, so only the shape speaks. Two shapes may be
ranked under the same assumptions; no value is to be held against a limit.

Glossary
--------
depth
    How far the front is pushed beyond first contact with the leg [mm].
penetration
    At one height: depth less the setback behind the foremost point, where positive [mm].
load
    Penetration summed over height [mm2]; times a foundation modulus [N/mm2] it is a force.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.legs.contact import HALF_BAND_MM, silhouette_of
from frontcheck.people.impactors import RIGID_LEGFORM, knee_rate_per_impulse
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array
    from frontcheck.legs.contact import Silhouette
    from frontcheck.people.impactors import Legform
    from frontcheck.surface.section import Section

_GAUSS: Final = 0.5 + np.array([-0.5, 0.5]) / np.sqrt(3.0)
"""Two Gauss points on 0..1, each of weight 1/2: exact for cubics, here squares at most."""


@one_line
@dataclass(frozen=True, eq=False)
class FoundationLoad:
    """Load on one leg over depth."""

    depth: Array  # (D,) depth [mm]
    load: Array  # (D,) load [mm2]
    height: Array  # (D,) height of the resultant [mm]
    below: Array  # (D,) share of the load below the knee band
    across: Array  # (D,) share of it in the knee band
    above: Array  # (D,) share of it above the knee band
    bands: tuple[tuple[tuple[float, float], ...], ...]
    knee: float  # Knee height [mm]
    half_band: float  # The knee band reaches this far below and above the knee [mm]


@one_line
@dataclass(frozen=True, eq=False)
class KneeResponse:
    """What the load does to the knee of a legform whose bones do not bend, over depth."""

    depth: Array  # (D,) depth [mm]
    height: Array  # (D,) height of the resultant on the legform [mm]
    rate: Array  # (D,) opening rate per unit impulse of that load [rad/s per N s]
    blow_at_knee: float  # The same for a blow at the knee, for scale
    legform: Legform  # Whose knee

    def sense(self, i: int, stays_within: float = 0.2) -> str:
        """Return in a word what the knee does."""
        share = float(self.rate[i]) / self.blow_at_knee
        if abs(share) <= stays_within:
            return "stays"
        return "opens" if share > 0.0 else "closes"


def foundation_load(
    seen: Silhouette, depth: ArrayLike, knee: float, half_band: float = HALF_BAND_MM
) -> FoundationLoad:
    """Push the front into the leg and return load, its height and its shares, over depth."""
    # Integrals are exact on the polyline.
    depths = _depths(depth)
    if not half_band > 0.0:
        raise ValueError(f"the knee band must have a height; half of it is {half_band:g} mm")
    ends = (-math.inf, knee - half_band, knee + half_band, math.inf)
    (below, across, above), moments = loads_between(seen, depths, ends)
    load = below + across + above
    return FoundationLoad(
        depth=depths,
        load=load,
        height=(moments[0] + moments[1] + moments[2]) / load,
        below=below / load,
        across=across / load,
        above=above / load,
        bands=tuple(contact_bands(seen, float(d)) for d in depths),
        knee=knee,
        half_band=half_band,
    )


def loads_between(seen: Silhouette, depth: Array, heights: Sequence[float]) -> tuple[Array, Array]:
    """Return loads (b, D) between each height and the next, and moments about the ground."""
    # Only what is as far ahead as the deepest push is touched at all.
    ahead = seen.only(seen.x.min(axis=1) < seen.foremost_x + depth.max())
    parts = [ahead.cut(max(low, seen.low), min(high, seen.high)) for low, high in pairwise(heights)]
    x, z = (np.concatenate([getattr(part, name) for part in parts]) for name in ("x", "z"))
    start = depth[:, None] - (x[:, 0] - seen.foremost_x)
    end = depth[:, None] - (x[:, 1] - seen.foremost_x)
    first, last = positive_range(start, end)
    size = z[:, 1] - z[:, 0]
    at = first[..., None] + (last - first)[..., None] * _GAUSS
    pressed = start[..., None] + (end - start)[..., None] * at
    load = (0.5 * (last - first) * size)[..., None] * pressed
    moment = load * (z[:, :1] + size[:, None] * at)
    bounds = [0, *accumulate(len(part.z) for part in parts)]
    loads, moments = (
        np.stack([values[:, low:high].sum(axis=(1, 2)) for low, high in pairwise(bounds)])
        for values in (load, moment)
    )
    return loads, moments


def positive_range(start: Array, end: Array) -> tuple[Array, Array]:
    """Return where a value that goes straight from `start` to `end` is positive."""
    fall = start - end
    zero = start / np.where(fall == 0.0, 1.0, fall)
    first = np.where(start > 0.0, 0.0, zero)
    last = np.where(end > 0.0, 1.0, zero)
    none = (start <= 0.0) & (end <= 0.0)
    return np.where(none, 0.0, first), np.where(none, 0.0, last)


def contact_bands(seen: Silhouette, depth: float) -> tuple[tuple[float, float], ...]:
    """Return where the leg is touched at one depth."""
    pressed = depth - (seen.x - seen.foremost_x)
    first, last = positive_range(pressed[:, 0], pressed[:, 1])
    size = seen.z[:, 1] - seen.z[:, 0]
    low = seen.z[:, 0] + first * size
    high = np.where(last == 1.0, seen.z[:, 1], seen.z[:, 0] + last * size)
    bands: list[tuple[float, float]] = []
    for i in np.flatnonzero(last > first):
        if bands and low[i] == bands[-1][1]:
            bands[-1] = (bands[-1][0], float(high[i]))
        else:
            bands.append((float(low[i]), float(high[i])))
    return tuple(bands)


def knee_response(
    section: Section, depth: ArrayLike, legform: Legform = RIGID_LEGFORM
) -> KneeResponse:
    """Return the opening rate of a legform's knee under the foundation load, bones stiff."""
    # The load acts as an impulse; every part of it turns the knee by the closed form for its
    # height, so the rate is the mean of that form weighted with the load.
    depths = _depths(depth)
    seen = silhouette_of(section, legform.low_mm, legform.high_mm)
    knee = legform.knee_height_mm
    at_top, at_knee, at_foot = knee_rate_per_impulse(
        [-legform.femur_length_mm, 0.0, legform.tibia_length_mm], legform
    )
    (lower, upper), (lower_moment, upper_moment) = loads_between(
        seen, depths, (legform.low_mm, knee, legform.high_mm)
    )
    total = upper + lower
    rise = (at_top - at_knee) / legform.femur_length_mm
    fall = (at_knee - at_foot) / legform.tibia_length_mm
    turned = (
        at_knee * total
        + rise * (upper_moment - knee * upper)
        + fall * (lower_moment - knee * lower)
    )
    height = (upper_moment + lower_moment) / total
    return KneeResponse(depths, height, turned / total, float(at_knee), legform)


def _depths(depth: ArrayLike) -> Array:
    depths = np.atleast_1d(np.asarray(depth, dtype=np.float64))
    if depths.ndim != 1 or not np.all(np.isfinite(depths) & (depths > 0.0)):
        raise ValueError("a depth must be a positive number of mm")
    return depths

"""Signed distance between two contours, exact on polylines.

Glossary
--------
distance
    From a point of one contour to the nearest place of the other: measured along a normal of
    the other contour, or to one of its corners.
sign
    Positive where contour B stands outside contour A, on its air side; negative where B
    stands inside A. The body lies on the right of the walk along a contour, the air on the
    left (see `frontcheck.surface.section`).
beyond
    A point whose nearest place is an end of the other contour, past that end: the other
    contour was not measured there, so nothing is compared.

The distance from A to B and the distance from B to A are two different things: a spike of B is
far from A, while every point of A may be near B. Both are kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError, NotAvailableError
from frontcheck.geometry.polyline import arcs_of, nearest, points_at
from frontcheck.lines.station import stretches
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.comparison.changes import Origins
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Mask

_ZERO_MM: Final = 1e-9
"""Distances below this are 0 [mm]: rounding of coordinates of some metres."""
_BLOCK: Final = 400_000
"""Pairs of points and stretches worked on at once, so that memory stays small."""
_ZOOM: Final = 33
_ROUNDS: Final = 9
"""Each round narrows the bracket of an extreme 16 times: 5 mm end as 1e-10 mm."""


@one_line
@dataclass(frozen=True, eq=False)
class DistanceMap:
    """Distances at places along one contour."""

    arc: Array  # (k,) length along that contour from its first point [mm]
    points: Array  # (k, 2) the places [mm]
    values: Array  # (k,) signed distance to the other contour [mm]
    feet: Array  # (k, 2) nearest places of the other contour [mm]
    comparable: Mask  # (k,) bool
    measured: Mask


@one_line
@dataclass(frozen=True)
class Extreme:
    """Where two contours are farthest apart in one direction."""

    value: float  # Signed distance, positive where B stands outside A [mm]
    on_a: tuple[float, float]  # The place on A, (x, z) [mm]
    on_b: tuple[float, float]  # The place on B, (x, z) [mm]


@one_line
@dataclass(frozen=True, eq=False)
class ContourDistance:
    """Signed distance between two contours, both ways."""

    along_a: DistanceMap
    along_b: DistanceMap
    outward: Extreme | None  # Where B stands farthest outside A; None where it does so nowhere
    inward: Extreme | None  # Where B stands farthest inside A; None where it does so nowhere

    @property
    def largest(self) -> Extreme | None:
        """The farther of the two extremes; None where the contours are the same."""
        return _farther([self.outward, self.inward])

    @property
    def reach(self) -> tuple[float, float]:
        """How far B stands outside A, and inside as a negative number; 0 where nowhere [mm]."""
        outward, inward = (each.value if each else 0.0 for each in (self.outward, self.inward))
        return outward, inward


def _farther(extremes: Iterable[Extreme | None]) -> Extreme | None:
    found = [extreme for extreme in extremes if extreme is not None]
    return max(found, key=lambda extreme: abs(extreme.value), default=None)


def contour_distance(a: Array, b: Array, spacing: float = 5.0) -> ContourDistance:
    """Return the signed distance between two contours, both ways."""
    if not spacing > 0.0:
        raise ValueError(f"spacing must be a positive length, not {spacing:g}")
    along_a, along_b = _map(a, b, spacing, -1.0), _map(b, a, spacing, 1.0)
    ways = ((a, b, along_a, -1.0), (b, a, along_b, 1.0))
    outward, inward = (_farther(_extreme(*way, side) for way in ways) for side in (1.0, -1.0))
    return ContourDistance(along_a, along_b, outward, inward)


def signed_distance(points: Array, contour: Array) -> tuple[Array, Array, Mask]:
    """Return how far points lie outside a contour."""
    size = max(_BLOCK // len(contour), 1)
    blocks = [_block(points[i : i + size], contour) for i in range(0, len(points), size)]
    values, feet, comparable = zip(*blocks, strict=True)
    return np.concatenate(values), np.concatenate(feet), np.concatenate(comparable)


def _block(points: Array, contour: Array) -> tuple[Array, Array, Mask]:
    start, step = contour[:-1], np.diff(contour, axis=0)
    square = (step * step).sum(axis=1)
    best, share, _ = nearest(contour, points)
    # The far end itself, not start + 1 * step: rounding would move it.
    at_end = (share == 1.0)[:, None]
    foot = np.where(at_end, contour[best + 1], start[best] + share[:, None] * step[best])
    distance = np.hypot(points[:, 0] - foot[:, 0], points[:, 1] - foot[:, 1])
    raw = ((points - start[best]) * step[best]).sum(axis=-1) / square[best]
    left = np.stack([-step[:, 1], step[:, 0]], axis=1) / np.sqrt(square)[:, None]
    normal = left[best]
    # At a corner one stretch alone would give the wrong side: the sum of both normals does not
    # (angle-weighted pseudo-normal; in the plane both angles are equal: J. A. Baerentzen and
    # H. Aanaes, Signed distance computation using the angle weighted pseudonormal, IEEE
    # Transactions on Visualization and Computer Graphics 11 (3), 243-253, 2005, from memory).
    # argmin takes the stretch that ends at the corner; the one that starts there wins by
    # rounding only.
    lower = (share == 0.0) & (best > 0)
    upper = (share == 1.0) & (best < len(step) - 1)
    normal = normal + np.where(lower[:, None], left[best - 1], 0.0)
    normal += np.where(upper[:, None], left[np.minimum(best + 1, len(step) - 1)], 0.0)
    side = ((points - foot) * normal).sum(axis=1)
    beyond = ((best == 0) & (raw * np.sqrt(square[best]) < -_ZERO_MM)) | (
        (best == len(step) - 1) & ((raw - 1.0) * np.sqrt(square[best]) > _ZERO_MM)
    )
    distance = np.where(distance < _ZERO_MM, 0.0, distance)
    return np.where(side < 0.0, -distance, distance), foot, ~beyond


def _map(a: Array, b: Array, spacing: float, sign: float) -> DistanceMap:
    """Distances at places of one contour to another."""
    ends, step = arcs_of(a), np.diff(a, axis=0)
    lengths = np.hypot(*step.T)
    pieces = np.maximum(np.ceil(lengths / spacing).astype(np.intp), 1)
    own = np.repeat(np.arange(len(step)), pieces)
    share = (np.arange(len(own)) - (np.cumsum(pieces) - pieces)[own]) / pieces[own]
    place = np.append(a[own] + share[:, None] * step[own], a[-1:], axis=0)
    values, feet, comparable = signed_distance(place, b)
    arc = np.append(ends[own] + share * lengths[own], ends[-1])
    values = sign * values + 0.0  # no minus zero
    return DistanceMap(arc, place, values, feet, comparable, np.append(share == 0.0, True))


def _extreme(a: Array, b: Array, along: DistanceMap, sign: float, side: float) -> Extreme | None:
    """Where the distance at places of a is largest to one side, narrowed down."""
    ends = arcs_of(a)
    height = np.where(along.comparable, side * along.values, -np.inf)
    best = int(height.argmax())
    if not height[best] > 0.0:
        return None
    value, place, foot = float(height[best]), along.points[best], along.feet[best]
    arc, k = along.arc, best
    for _ in range(_ROUNDS):
        arc = np.linspace(arc[max(k - 1, 0)], arc[min(k + 1, len(arc) - 1)], _ZOOM)
        points = points_at(a, ends, arc)
        values, feet, comparable = signed_distance(points, b)
        near = np.where(comparable, side * sign * values, -np.inf)
        k = int(near.argmax())
        if near[k] > value:
            value, place, foot = float(near[k]), points[k], feet[k]
    # The sign is negative where it is A that is walked along.
    own, other = place.tolist(), foot.tolist()
    on_a, on_b = (own, other) if sign < 0.0 else (other, own)
    return Extreme(side * value, (on_a[0], on_a[1]), (on_b[0], on_b[1]))


# Both surfaces laid over each other: outlines in plan view, and distances between them.

HEIGHTS_MM: Final = (300.0, 400.0, 500.0, 600.0, 700.0)
"""Heights of the outlines in plan view [mm]: shin to thigh."""
_PITCH_MM: Final = 50.0


@one_line
@dataclass(frozen=True)
class SurfaceRow:
    """Both surfaces at one station."""

    y: float  # Station [mm]
    a: tuple[float | None, ...]  # Foremost setback of A at every height [mm]
    b: tuple[float | None, ...]  # Foremost setback of B at every height [mm]
    outward_mm: float  # How far B stands outside A there at most [mm], 0 or more
    inward_mm: float  # How far B stands inside A there at most [mm], 0 or more


@one_line
@dataclass(frozen=True)
class SurfaceOverlay:
    """Both surfaces laid over each other, over the stations that both have."""

    heights_mm: tuple[float, ...]  # Heights of the outlines [mm]
    rows: tuple[SurfaceRow, ...]  # By station; empty where there is no overlay
    reason: str  # Why there is none, or what was left out


def surface_overlay(
    a: Front, b: Front, origins: Origins, stations: Iterable[float] = ()
) -> SurfaceOverlay:
    """Lay the surfaces of two fronts over each other."""
    if origins.barred:
        return SurfaceOverlay(HEIGHTS_MM, (), origins.barred)
    try:
        one, two = a.surface(), b.surface()
    except NotAvailableError as error:
        return SurfaceOverlay(HEIGHTS_MM, (), str(error))
    low = max(one.y_range[0], two.y_range[0])
    high = min(one.y_range[1], two.y_range[1])
    if a.symmetric and b.symmetric:
        low = max(low, 0.0)
    whole = np.arange(np.ceil(low / _PITCH_MM), np.floor(high / _PITCH_MM) + 1.0) * _PITCH_MM
    wanted = sorted({float(y) + 0.0 for y in (*whole, *stations) if low <= y <= high})
    rows, left_out = [], []
    for y in wanted:
        try:
            sections = one.section(y), two.section(y)
        except ContourError:
            left_out.append(y)
            continue
        distance = contour_distance(*origins.laid(*sections), 20.0)
        a_at, b_at = (
            tuple(
                None if x is None else x - origin for x in section.setback_at(HEIGHTS_MM).tolist()
            )
            for section, origin in zip(sections, (origins.a, origins.b), strict=True)
        )
        outward, inward = distance.reach
        rows.append(SurfaceRow(y, a_at, b_at, outward, -inward))
    at = stretches(left_out, wanted)
    reason = f"left out, since the surface gives no contour there: y = {at} mm" if at else ""
    return SurfaceOverlay(HEIGHTS_MM, tuple(rows), reason)

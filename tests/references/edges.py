"""Straight edges by bisection: a finite line moved in x until shapely says it touches.

What is moved is the whole strip the edge sweeps on its way from the front, so that
"touches" can only change once. Contact points are then the corners of the clipped contour
that shapely finds no farther than `NEAR` from the edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

FRONT = -20_000.0
NEAR = 1e-8
"""Bisection ends at rounding, about 4e-12 mm; a contact may be this far from the edge [mm]."""


@dataclass(frozen=True)
class SlowContact:
    """Where an edge first touches; `touched` False when nothing lies in its reach."""

    touched: bool
    x: float = math.nan
    z: float = math.nan
    foot_x: float = math.nan
    lowest: float = math.nan
    highest: float = math.nan


@dataclass(frozen=True)
class SlowTouches:
    """Pieces of contour within a tolerance of the edge at contact."""

    longest: float
    spread: float
    count: int
    top: tuple[float, float]


def counted_line(points: np.ndarray, counted: np.ndarray | None) -> shapely.Geometry:
    """What of a contour counts: stretches between two counted points, and counted points."""
    if counted is None or counted.all():
        return shapely.LineString(points)
    pieces: list[shapely.Geometry] = [
        shapely.LineString(points[i : i + 2])
        for i in range(len(points) - 1)
        if counted[i] and counted[i + 1]
    ]
    pieces += [shapely.Point(p) for p, c in zip(points, counted, strict=True) if c]
    return shapely.union_all(pieces) if pieces else shapely.LineString()


def slow_contact(
    line: shapely.Geometry, lean_deg: float, low: float, high: float, take: str
) -> SlowContact:
    """First contact of an edge of given lean [deg, rearward] between two heights."""
    height = min(high, 5_000.0)  # an edge without end: far above any contour here
    run = (height - low) * math.tan(math.radians(lean_deg))
    strip = shapely.box(-1e5, low, 1e5, height)
    inside = line.intersection(strip)
    if inside.is_empty:
        return SlowContact(False)

    def edge(foot: float) -> list[tuple[float, float]]:
        return [(foot, low), (foot + run, height)]

    def swept(foot: float) -> shapely.Polygon:
        return shapely.Polygon([*edge(FRONT), *edge(foot)[::-1]])

    clear, cut = FRONT / 2.0, 20_000.0
    shapely.prepare(inside)
    while True:
        middle = (clear + cut) / 2.0
        if middle in (clear, cut):
            break
        if inside.intersects(swept(middle)):
            cut = middle
        else:
            clear = middle
    corners = shapely.get_coordinates(inside)
    at = shapely.LineString(edge(cut))
    near = corners[shapely.distance(shapely.points(corners), at) <= NEAR]
    chosen = near[near[:, 1].argmax() if take == "upper" else near[:, 1].argmin()]
    return SlowContact(
        True, float(chosen[0]), float(chosen[1]), cut, float(near[:, 1].min()),
        float(near[:, 1].max()),
    )  # fmt: skip


def slow_touches(
    line: shapely.Geometry,
    contact: SlowContact,
    lean_deg: float,
    low: float,
    high: float,
    tol: float,
) -> SlowTouches:
    """Cut the contour with a strip as wide as the tolerance, laid behind the edge."""
    lean = math.radians(lean_deg)
    run = (high - low) * math.tan(lean)
    foot = contact.foot_x

    def shifted(by: float) -> list[tuple[float, float]]:
        dx = by / math.cos(lean)  # square to the edge, seen along x
        return [(foot + dx, low), (foot + run + dx, high)]

    strip = shapely.Polygon([*shifted(-1.0), *shifted(tol)[::-1]])
    near = line.intersection(strip)
    merged = shapely.line_merge(shapely.MultiLineString(_lines(near)))
    pieces = [*shapely.get_parts(merged)]
    alone = [g for g in shapely.get_parts(near) if g.geom_type == "Point"]
    pieces += [g for g in alone if merged.is_empty or g.distance(merged) > NEAR]
    infinite = shapely.LineString(
        [(foot - run, low - (high - low)), (foot + 2.0 * run, high + (high - low))]
    )
    touches, longest = [], 0.0
    for piece in pieces:
        corners = shapely.get_coordinates(piece)
        along = (corners[:, 0] - foot) * math.sin(lean) + (corners[:, 1] - low) * math.cos(lean)
        longest = max(longest, float(np.ptp(along)))
        off = shapely.distance(shapely.points(corners), infinite)
        best = np.flatnonzero(off <= off.min() + 1e-9)
        i = best[along[best].argmax()]
        touches.append((along[i], *corners[i]))
    touches.sort()
    spread = touches[-1][0] - touches[0][0] if len(touches) > 1 else 0.0
    return SlowTouches(longest, spread, len(touches), (touches[-1][1], touches[-1][2]))


def _lines(geometry: shapely.Geometry) -> list[shapely.LineString]:
    return [g for g in shapely.get_parts(geometry) if g.geom_type == "LineString"]

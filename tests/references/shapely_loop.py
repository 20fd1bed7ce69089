"""The lines of one contour, formed one at a time with shapely: what a plain script would do.

Written for speed as such scripts go: shapely's own clipping, buffers and hulls, a root finder for
the tape. Right for contours whose tape crosses no concave cowl behind the chord from the anchor
(the hull is then the tape), which holds for the demo fronts. Arcs of the buffers are polygons of
`QUARTER` chords a quarter turn, so the sphere is right to `SPHERE_MM`.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from scipy.optimize import brentq
from shapely.ops import substring

QUARTER = 64
SPHERE_MM = 0.1
RADIUS = 82.5


def lines_of(
    points: np.ndarray, parts: tuple[str, ...], wad: tuple[float, ...]
) -> dict[str, tuple]:
    """UBRL, LBRL, BLERL, BRRL and WAD marks of one contour; None where there is none."""
    line = shapely.LineString(points)
    bumper = shapely.LineString(points[[part == "bumper" for part in parts]])
    found = {
        "UBRL": edge(bumper, 20.0, 0.0, 700.0, upper=True),
        "LBRL": edge(line, -25.0, 0.0, 700.0, upper=False),
        "BLERL": edge(line, 50.0, 600.0, 1000.0, upper=True),
        "BRRL": sphere(points, parts),
    }
    front = np.asarray(bumper.coords)
    start = front[front[:, 0].argmin()]
    first = int(np.flatnonzero((points == start).all(axis=1))[0])
    above = shapely.LineString(points[first:])
    for distance in wad:
        found[f"WAD {distance:g}"] = tape(above, float(start[0]), distance)
    return found


def edge(line: shapely.LineString, lean: float, foot: float, length: float, *, upper: bool):
    """First contact of a straight edge: clip to its reach, then the corner with the least gap."""
    reach = shapely.box(-1e4, foot, 1e4, foot + length * math.cos(math.radians(lean)))
    corners = shapely.get_coordinates(line.intersection(reach))
    if len(corners) == 0:
        return None
    gap = corners[:, 0] - (corners[:, 1] - foot) * math.tan(math.radians(lean))
    tied = corners[gap <= gap.min() + 1e-9]
    return tuple(tied[tied[:, 1].argmax() if upper else tied[:, 1].argmin()])


def sphere(points: np.ndarray, parts: tuple[str, ...]):
    """Where the path of the centre first comes within one radius of the surface ahead."""
    glass = [i for i, part in enumerate(parts) if part == "windscreen"]
    bonnet = next(i for i, part in enumerate(parts) if part in ("bonnet", "cowl"))
    ahead = shapely.LineString(points[bonnet : glass[0] + 1])
    screen = shapely.LineString(points[glass])
    path = screen.buffer(RADIUS, quad_segs=QUARTER).exterior
    reached = path.intersection(ahead.buffer(RADIUS, quad_segs=QUARTER).exterior)
    if reached.is_empty:
        return None
    centres = shapely.get_coordinates(reached)
    # Only what lies on the air side, above and ahead of the glass.
    a, b = points[glass[0]], points[glass[-1]]
    air = (b[0] - a[0]) * (centres[:, 1] - a[1]) - (b[1] - a[1]) * (centres[:, 0] - a[0]) > 0.0
    centre = shapely.Point(max(centres[air].tolist(), key=lambda c: c[1]))
    return shapely.get_coordinates(shapely.shortest_line(centre, ahead))[-1]


def tape(above: shapely.LineString, x: float, distance: float):
    """Length of the tape: the outline of the hull, less the chord back to the ground."""
    ground = (x, 0.0)

    def miss(s: float) -> float:
        part = substring(above, 0.0, s)
        end = part.coords[-1]
        hull = shapely.MultiPoint([ground, *part.coords]).convex_hull
        # The hull of points in one line, as of an upright face, is a line: there and back.
        around = hull.length * (2.0 if hull.geom_type == "LineString" else 1.0)
        return around - math.dist(ground, end) - distance

    s = brentq(miss, 1.0, above.length, xtol=1e-9)
    return above.interpolate(s).coords[0]

"""All lines of one section the way someone who knows shapely would write it, section by section.

Plain, not slow on purpose: vectorised shapely and numpy calls wherever one section allows,
no bisection where a closed form is at hand. Right for contours that rise and then run
rearward (no pockets); the baseline of the speed test.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

LEAN = {"UBRL": 20.0, "LBRL": -25.0, "BLERL": 50.0, "BLERL 40": 40.0}
LOW = {"UBRL": 0.0, "LBRL": 0.0, "BLERL": 600.0, "BLERL 40": 600.0}
LENGTH = {"UBRL": 700.0, "LBRL": 700.0, "BLERL": 1000.0, "BLERL 40": 1000.0}


def lines_of(
    points: np.ndarray, bumper: slice, upper: slice, glass: slice, wads: tuple[float, ...]
) -> dict[str, tuple[float, float]]:
    """UBRL, LBRL, BLERL, BRRL and the WAD points of one section."""
    whole, front = shapely.LineString(points), shapely.LineString(points[bumper])
    out = {}
    out["UBRL"], _ = _edge(front, "UBRL")
    out["LBRL"], _ = _edge(whole, "LBRL")
    out["BLERL"], foot = _edge(whole, "BLERL")
    if _several(whole, foot):
        out["BLERL"], _ = _edge(whole, "BLERL 40")
    out |= _marks(points, int(points[bumper, 0].argmin()) + bumper.start, wads)
    out["BRRL"] = _sphere(points[upper], points[glass])
    return out


def _edge(line: shapely.Geometry, name: str) -> tuple[tuple[float, float], float]:
    """Least gap among the corners of the contour clipped to the reach."""
    lean = math.radians(LEAN[name])
    high = LOW[name] + LENGTH[name] * math.cos(lean)
    xz = shapely.get_coordinates(shapely.clip_by_rect(line, -1e5, LOW[name], 1e5, high))
    gap = xz[:, 0] - (xz[:, 1] - LOW[name]) * math.tan(lean)
    i = int(gap.argmin())
    return (float(xz[i, 0]), float(xz[i, 1])), float(gap[i])


def _several(line: shapely.Geometry, foot: float) -> bool:
    """Whether the contact of the 50 deg edge is continuous or multiple."""
    lean = math.radians(50.0)
    run, rise, wide = 1000.0 * math.sin(lean), 1000.0 * math.cos(lean), 0.1 / math.cos(lean)
    strip = shapely.Polygon(
        [
            (foot - 1.0, 600.0),
            (foot - 1.0 + run, 600.0 + rise),
            (foot + wide + run, 600.0 + rise),
            (foot + wide, 600.0),
        ]
    )
    near = shapely.get_parts(shapely.line_merge(line.intersection(strip)))
    middle = [g.centroid.coords[0] for g in near]
    spread = max(math.dist(a, b) for a in middle for b in middle) if len(middle) > 1 else 0.0
    return max(g.length for g in near) > 60.0 or spread > 10.0


def _marks(points: np.ndarray, start: int, wads: tuple[float, ...]) -> dict[str, tuple]:
    """WAD points: the tape to a point is one side of the hull of anchor and contour up to it."""
    anchor = np.array([points[start, 0], 0.0])
    chain = np.vstack([anchor, points[start:]])
    n = len(chain)
    # All hulls in one call: of the first 2, 3, ... n points of the chain.
    of = np.repeat(np.arange(n - 1), np.arange(2, n + 1))
    which = np.concatenate([np.arange(k + 2) for k in range(n - 1)])
    hulls = shapely.convex_hull(shapely.multipoints(shapely.points(chain[which]), indices=of))
    corners, of = shapely.get_coordinates(hulls, return_index=True)
    rings = np.split(corners, np.searchsorted(of, np.arange(1, n - 1)))
    bends = [_side(ring, anchor, chain[k + 1]) for k, ring in enumerate(rings)]
    along = [np.append(0.0, np.cumsum(np.hypot(*np.diff(b, axis=0).T))) for b in bends]
    far = np.array([s[-1] for s in along])
    out = {}
    for wad in wads:
        k = int((far >= wad).argmax())
        if far[k] < wad:
            continue
        a, d = chain[k], chain[k + 1] - chain[k]
        square = float(d @ d)
        # The last bend is one of the path to the start of the stretch: the first, from the
        # end, about which the tape turns right.
        path, length = bends[k - 1], along[k - 1]
        for j in range(len(path) - 1, -1, -1):
            u, rest = a - path[j], wad - length[j]
            half = float(u @ d)
            t = (-half + math.sqrt(half * half - square * (float(u @ u) - rest * rest))) / square
            p = a + t * d
            if j == 0:
                break
            before, after = path[j] - path[j - 1], p - path[j]
            if before[0] * after[1] - before[1] * after[0] < 0.0:
                break
        out[f"WAD {wad:g}"] = (float(p[0]), float(p[1]))
    return out


def _side(ring: np.ndarray, anchor: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Corners of a hull (clockwise, as GEOS gives them) from the anchor to the end."""
    ring = ring[:-1] if len(ring) > 2 else ring
    i = int((ring == anchor).all(axis=1).argmax())
    j = int((ring == end).all(axis=1).argmax())
    return ring[i : j + 1] if i <= j else np.concatenate([ring[i:], ring[: j + 1]])


def _sphere(upper: np.ndarray, glass: np.ndarray) -> tuple[float, float]:
    """Centre where the glass, moved out by one radius, leaves the surface's buffer."""
    ahead, radius = shapely.LineString(upper), 82.5
    track = shapely.LineString(glass).offset_curve(radius, quad_segs=32)
    hits = shapely.get_coordinates(track.intersection(ahead.buffer(radius, quad_segs=32).boundary))
    centre = hits[hits[:, 1].argmax()]
    near = shapely.get_coordinates(shapely.shortest_line(shapely.Point(centre), ahead))[-1]
    return float(near[0]), float(near[1])

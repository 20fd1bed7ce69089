"""Thirds of the bumper, of the bonnet leading edge and of the bonnet top.

Readings
--------
tape
    It follows the outer contour, held taut round the front, so that in plan it bears on the
    convex outline only and bridges hollows. UN R127 02 series, 2.35 and 2.33 (text read).
bumper
    The outer contour is that in plan: the foremost places of the bumper between LBRL and UBRL.
    Length is measured in plan, so a jump of height from one place to the next adds none. The cut
    lies on the surface, at the foremost place of the bumper at that y; where the tape bridges
    a hollow, on the tape.
leading edge
    The outer contour is BLERL, in three dimensions.
bonnet top
    In every transverse section between the SRLs, from the corner reference points to the rear
    corners, the tape lies over the top of the surface. UN R127 02 series, 2.34 (text read). The
    cut lies on the surface, below the tape where that bridges a hollow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.facet_cuts import cut_facets
from frontcheck.geometry.polyline import arcs_of, points_at, taut_string
from frontcheck.lines.front_line import FrontLine, Piece, Spot, worst_status
from frontcheck.lines.side import OPEN_SIDE
from frontcheck.zones.front_zones import Thirds

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.lines.front_line import Pair
    from frontcheck.lines.side import SideContacts
    from frontcheck.zones.bumper_corners import Bumper, Heights
    from frontcheck.zones.lines_across import Across

_BRIDGED_MM: Final = 0.5
"""The tape lies on the surface where it is no farther from it than this: own choice, about the
thickness of a tape."""
_BIN_MM: Final = 5.0  # for speed alone
_STEP_MM: Final = 20.0
"""Transverse sections in which thirds of the bonnet top are cut: own choice, nearer together than
stations are measured."""
BONNET: Final = "bonnet top third"
_BRIDGES: Final = "the tape bridges a hollow there; the cut lies on the tape"


def bumper_thirds(left_side: Bumper, right_side: Bumper, heights: Heights, ends: Pair) -> Thirds:
    """Cut the outer contour of the bumper, its left seen in a mirror, in equal lengths of tape."""
    missing = _missing(ends)
    if missing is not None:
        return missing
    if len(heights.y) == 0:
        return Thirds((), (), None, "not_available", "LBRL and UBRL bound nothing")
    left, right = np.array(ends.left.point), np.array(ends.right.point)
    low, high = float(heights.low.min()), float(heights.high.max())
    sides = [left_side.between(low, high).mirrored(), right_side.between(low, high)]
    facets = np.concatenate([side.corners for side in sides])
    y = facets[..., 1]
    facets = facets[(y.max(axis=1) > left[1]) & (y.min(axis=1) < right[1])]
    outline = _plan_outline(_foremost_points(facets, heights), left, right)
    whole, places = _cut(outline * (1.0, 1.0, 0.0))
    cuts = []
    for place, mirror in zip(places, (-1.0, 1.0), strict=True):
        flip = np.array([1.0, mirror, 1.0])
        found, said = _on_surface(facets * flip, heights, place[1], mirror), ends.reason
        if found is None or found[0] > place[0] + _BRIDGED_MM:
            found = float(place[0]), float(np.interp(place[1], outline[:, 1], outline[:, 2]))
            said = "; ".join(filter(None, [ends.reason, _BRIDGES]))
        point = (found[0], float(place[1]), found[1])
        cuts.append(Spot("bumper third", ends.status, point, said))
    return Thirds((ends.left, ends.right), tuple(cuts), whole, ends.status, ends.reason)


def leading_edge_thirds(line: Array, ends: Pair) -> Thirds:
    """Cut the bonnet leading edge, points (n, 3) from left to right, in three equal lengths."""
    missing = _missing(ends)
    if missing is not None:
        return missing
    left, right = np.array(ends.left.point), np.array(ends.right.point)
    inner = line[(line[:, 1] > left[1]) & (line[:, 1] < right[1])]
    row = np.concatenate([[left], inner, [right]])
    whole, places = _cut(row[taut_string(row[:, [1, 0]])])
    cuts = tuple(
        Spot("leading edge third", ends.status, (x, y, z)) for x, y, z in np.array(places).tolist()
    )
    return Thirds((ends.left, ends.right), cuts, whole, ends.status, ends.reason)


def bonnet_thirds(
    across: Across, left: SideContacts, right: SideContacts, front: Pair, rear: Pair
) -> FrontLine:
    """Cut the bonnet top in three equal lengths of tape, in transverse sections."""
    corners = (front.left.point, front.right.point, rear.left.point, rear.right.point)
    if None in corners:
        short = front if not front.formed else rear
        status = worst_status(short.status, "not_available")
        return FrontLine(BONNET, np.empty((0, 3)), (), (), status, short.reason)
    setbacks = [corner[0] for corner in corners if corner is not None]
    first, last = max(setbacks[:2]), min(setbacks[2:])
    ladder = np.arange(np.floor(first / _STEP_MM) + 1.0, np.ceil(last / _STEP_MM)) * _STEP_MM
    x = np.array([first, *ladder, last]) if first < last else np.empty(0)
    (left_y, left_z, left_open), (right_y, right_z, right_open) = _ends(left, x), _ends(right, x)
    tops = across.tops_at(x)
    cuts = np.empty((2, len(x), 3))
    for k, at in enumerate(x.tolist()):
        inside = (across.y > -left_y[k]) & (across.y < right_y[k]) & ~np.isnan(tops[:, k])
        inner = np.stack([across.y, tops[:, k]], axis=1)[inside]
        row = np.concatenate([[(-left_y[k], left_z[k])], inner, [(right_y[k], right_z[k])]])
        _, places = _cut(row[taut_string(row * [1.0, -1.0])])
        y = np.array(places)[:, 0]
        cuts[:, k] = np.stack([np.full(2, at), y, np.interp(y, row[:, 0], row[:, 1])], axis=1)
    # The bonnet top ends at BRRL, which may lie ahead of the rear corners.
    line = across.lines.BRRL
    kept = cuts[..., 0] <= np.interp(cuts[..., 1], across.y[line.formed], line.x[line.formed])
    points, n = cuts[kept], int(kept[0].sum())
    ended = left_open | right_open
    statuses = tuple("open_end" if end else "ok" for own in kept for end in ended[own])
    if not statuses:
        reason = "the rear corners lie ahead of the corner reference points"
        return FrontLine(BONNET, points, (), (), "not_available", reason)
    reason = OPEN_SIDE if "open_end" in statuses else ""
    pieces = (Piece(0, n, "left"), Piece(n, len(points), "right"))
    wad, status = across.wad_of(points), worst_status(*statuses)
    return FrontLine(BONNET, points, statuses, pieces, status, reason, wad)


def _ends(side: SideContacts, x: Array) -> tuple[Array, Array, Mask]:
    """y, z and whether the surface ends there, of a side line seen as on the right."""
    held = side.at(side.touched)
    open_end = held.open_end[np.searchsorted(held.x, x).clip(0, len(held.x) - 1)]
    return np.interp(x, held.x, held.y), np.interp(x, held.x, held.z), open_end


def _missing(ends: Pair) -> Thirds | None:
    left, right = ends.left.point, ends.right.point
    if left is not None and right is not None and left[1] < right[1]:
        return None
    reason = ends.reason or "the ends lie on each other"
    return Thirds((), (), None, worst_status(ends.status, "not_available"), reason)


def _cut(tape: Array) -> tuple[float, list[Array]]:
    """Length of a tape and the places a third from its left and from its right end."""
    # Each from its own end, so that a symmetric tape has symmetric places.
    ways = [tape, tape[::-1]]
    reach = [arcs_of(way) for way in ways]
    whole = (float(reach[0][-1]) + float(reach[1][-1])) / 2.0
    return whole, [points_at(w, r, whole / 3.0) for w, r in zip(ways, reach, strict=True)]


def _foremost_points(facets: Array, heights: Heights) -> Array:
    """Corners of facets between two heights, and where their edges cross those, (n, 3)."""
    corners = facets.reshape(-1, 3)
    low, high = heights.at(corners[:, 1])
    above, below = corners[:, 2] - low, high - corners[:, 2]
    found = [corners[(above >= 0.0) & (below >= 0.0)]]
    after = np.roll(facets, -1, axis=1)
    for off in (above.reshape(-1, 3), below.reshape(-1, 3)):
        off_after = np.roll(off, -1, axis=1)
        crossing = off * off_after < 0.0
        t = off[crossing] / (off[crossing] - off_after[crossing])
        point = facets[crossing] + t[:, None] * (after[crossing] - facets[crossing])
        lowest, highest = heights.at(point[:, 1])
        inside = (point[:, 2] >= lowest - 1e-6) & (point[:, 2] <= highest + 1e-6)
        found.append(point[inside])
    return np.concatenate(found)


def _plan_outline(points: Array, left: Array, right: Array) -> Array:
    """The points on which a tape bears in plan from one end to the other."""
    points = points[(points[:, 1] > left[1]) & (points[:, 1] < right[1])]
    if len(points) > 1:
        # The tape over the foremost point of every few millimetres lies on or behind the true one.
        bins = ((points[:, 1] - left[1]) // _BIN_MM).astype(np.intp)
        foremost = np.full(bins.max() + 1, np.inf)
        np.minimum.at(foremost, bins, points[:, 0])
        tied = np.flatnonzero(points[:, 0] == foremost[bins])
        first = tied[np.unique(bins[tied], return_index=True)[1]]
        rough = _taut(np.concatenate([[left], points[first], [right]]))
        points = points[points[:, 0] <= np.interp(points[:, 1], rough[:, 1], rough[:, 0]) + 1e-9]
    return _taut(np.concatenate([[left], points, [right]]))


def _taut(points: Array) -> Array:
    inner = points[1:-1]
    inner = inner[np.lexsort((inner[:, 2], inner[:, 0], inner[:, 1]))]
    # Of several places at one y the foremost, the lowest of those.
    inner = inner[np.unique(inner[:, 1], return_index=True)[1]]
    row = np.concatenate([points[:1], inner, points[-1:]])
    return row[taut_string(row[:, [1, 0]])]


def _on_surface(
    facets: Array, heights: Heights, y: float, mirror: float
) -> tuple[float, float] | None:
    """Return x and z of the foremost place between the heights in a cut, the lowest of several."""
    ends = cut_facets(facets, 1, np.array([mirror * y])).ends
    low, high = (float(bound[0]) for bound in heights.at(np.array([y])))
    x, z = ends[..., 0], ends[..., 2]
    step = np.where(z[:, 0] == z[:, 1], 1.0, z[:, 1] - z[:, 0])
    places = []
    for bound in (low, high):
        t = (bound - z[:, 0]) / step
        crossing = (t >= 0.0) & (t <= 1.0) & (z[:, 0] != z[:, 1])
        at = x[crossing, 0] + t[crossing] * (x[crossing, 1] - x[crossing, 0])
        places.append(np.stack([at, np.full(len(at), bound)], axis=1))
    own = np.stack([x.ravel(), z.ravel()], axis=1)
    every = np.concatenate([own[(own[:, 1] >= low) & (own[:, 1] <= high)], *places])
    if len(every) == 0:
        return None
    tied = every[every[:, 0] <= every[:, 0].min() + 1e-9]
    return float(tied[:, 0].min()), float(tied[:, 1].min())

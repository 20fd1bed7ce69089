"""The headform areas: surface between front, rear and side bounds.

Readings
--------
- Of two bounds "the more rearward" is the one farther along the contour of the section.
- Areas lie inside the lines by `headform.area_offset_mm`, impact points by
  `headform.impact_offset_mm`: both are laid off with a taut tape, in the section rearward from
  BLERL and forward from BRRL, and in the transverse plane inboard from SRL.
- Sides are bounded from the corner reference point rearward; ahead of it and behind the last
  point of SRL they run on at constant y.
- Where no windscreen is known nothing shows that BRRL lies behind a WAD line: the area is then
  bounded by WAD alone, and says so. Where the contour ends before the WAD line, BRRL is the more
  forward.
- The area is that of the surface: sections every 10 mm or closer, joined by facets.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.geometry.laid_tape import tape_onward
from frontcheck.lines.front_line import worst_status, xyz
from frontcheck.zones.front_zones import HeadformArea, Outline

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.lines.side import SideContacts
    from frontcheck.zones.front_zones import AreaName
    from frontcheck.zones.lines_across import Across

_SHARES: Final = 256
"""Pieces that each section is cut in between its bounds: own choice, 3 mm on the longest area."""
_BEYOND: Final = np.array([1e4, 0.0, 0.0])  # past every vehicle [mm]
_OPEN_SIDE: Final = (
    "the sides are bounded from the outermost contours measured, so the area may reach farther out"
)
_ON_GLASS: Final = (
    "the area of this rule set goes on over cowl and windscreen, where it is not formed"
)
_BY_WAD: Final = "BRRL is not known, so the rear bound is the WAD line alone"


@dataclass(frozen=True, eq=False)
class SideBound:
    """SRL less a length on the right, from front to rear."""

    points: Array  # (k, 3) x, y and z [mm]
    open_end: bool  # Whether the SRL there is at an open end anywhere

    def width(self, x: Array) -> Array:
        """How far out the bound lies at setbacks; level ahead of and behind it."""
        return np.interp(x, self.points[:, 0], self.points[:, 1])


@dataclass(frozen=True, eq=False)
class SectionBounds:
    """Lines less a length on every contour, not a number where they are not known."""

    offset: float  # Along a taut tape [mm]
    front: Array  # (m,) arc of BLERL plus it
    rear: Array  # (m,) arc of BRRL less it


def section_bounds(across: Across, rear_arc: Array, length: float) -> SectionBounds:
    """Lay the tape off from BLERL and from BRRL in every section."""
    out = np.full((2, len(across)), np.nan)
    done: dict[tuple[int, int, float], float] = {}
    for way, line in enumerate((across.arc_of(across.lines.BLERL), rear_arc)):
        for i in np.flatnonzero(~np.isnan(line)).tolist():
            # Mirror images have the same contour and the same bound.
            key = (way, int(across.row[i]), float(line[i]))
            if key not in done:
                done[key] = _laid_off(across, i, float(line[i]), length, back=way == 1)
            out[way, i] = done[key]
    return SectionBounds(length, *out)


def _laid_off(across: Across, i: int, arc: float, length: float, *, back: bool) -> float:
    if length == 0.0:
        return arc
    count = int(across.counts[i])
    arcs, number = across.arcs[i, :count], np.arange(count)
    place = tape_onward(
        across.points[i, :count], float(np.interp(arc, arcs, number)), length, back=back
    )
    return np.nan if place is None else float(np.interp(place.position, number, arcs))


def side_bound(across: Across, srl: SideContacts, length: float) -> SideBound:
    """Lay the tape off inboard from SRL on the right, in every transverse plane."""
    here = srl.touched
    x, y, z = srl.x[here], srl.y[here], srl.z[here]
    open_end = bool(srl.open_end[here].any())
    if length == 0.0:
        return SideBound(np.stack([x, y, z], axis=1), open_end)
    tops = across.tops_at(x)
    at = []
    for k in range(len(x)):
        inner = np.flatnonzero(across.y < y[k] - 1e-9)[::-1]
        gone = np.flatnonzero(np.isnan(tops[inner, k]))
        inner = inner[: gone[0]] if len(gone) else inner
        # Toward the centre plane the surface runs to the right in (-y, z), air above.
        row = np.concatenate(
            [[[-y[k], z[k]]], np.stack([-across.y[inner], tops[inner, k]], axis=1)]
        )
        place = tape_onward(row, 0.0, length) if len(row) > 1 else None
        if place is not None:
            at.append((float(x[k]), -place.x, place.z))
    return SideBound(np.array(at).reshape(-1, 3), open_end)


@dataclass(frozen=True, eq=False)
class AreaShape:
    """Where a headform area lies on every contour: between two arcs, within two sides."""

    rows: Index  # (r,) contours it may reach
    front: Array  # (r,) arcs of its front and rear bound
    rear: Array
    left: SideBound
    right: SideBound

    def inside(self, x: Array, y: Array) -> Array:
        """How far within the sides places lie [mm]; negative outside."""
        return np.minimum(self.right.width(x) - y, self.left.width(x) + y)


def headform_area(
    name: AreaName, across: Across, bounds: SectionBounds, left: SideBound, right: SideBound
) -> tuple[HeadformArea, AreaShape | None]:
    """Form one headform area."""
    if len(left.points) == 0 or len(right.points) == 0:
        reason = f"{_less('SRL', bounds)} could not be formed on both sides"
        if not across.y[0] < 0.0 < across.y[-1]:
            reason += ": stations lie on one side of the centre plane only"
        return _missing(name, reason), None
    y, rules = across.y, across.rules
    y_low, y_high = -left.points[:, 1].max(), right.points[:, 1].max()
    first = max(int(np.searchsorted(y, y_low, side="right")) - 1, 0)
    last = min(int(np.searchsorted(y, y_high, side="left")), len(y) - 1)
    rows = np.arange(first, last + 1)
    near_wad, far_wad = (
        across.mark_arc(rules.value(f"{name}_area.wad_{end}_mm"))[rows] for end in ("front", "rear")
    )
    front, known = np.maximum(near_wad, bounds.front[rows]), bounds.rear[rows]
    rear = np.fmin(far_wad, known)
    # The contour just beyond the side bound closes the last strip; where its own bounds are not
    # known, those of its neighbour stand for them.
    for values in (front, rear):
        for end, beside, beyond in ((0, 1, y[first] < y_low), (-1, -2, y[last] > y_high)):
            if len(rows) > 1 and beyond and np.isnan(values[end]):
                values[end] = values[beside]
    for values, line, what, ended in (
        (front, across.lines.BLERL, "front", "the contour ends before the front bound"),
        (rear, across.lines.BRRL, "rear", f"the contour ends before {_less('BRRL', bounds)}"),
    ):
        lost = rows[np.isnan(values)]
        if len(lost):
            why, (low, high) = line.reason(int(lost[0])) or ended, y[lost[[0, -1]]]
            at = f"{len(lost)} contours (y from {low:g} to {high:g} mm)"
            return _missing(name, f"the {what} bound is not known at {at}: {why}"), None
    shape = AreaShape(rows, front, np.maximum(rear, front), left, right)
    statuses, said = _status(across, rows, known, left, right)
    if not (rear > front).any():
        reason = "the front bound lies behind the rear bound everywhere: no area"
        return HeadformArea(name, 0.0, (), "ok", reason), shape
    area = _area(across, shape)
    if rules.flag("headform.windscreen") and np.any(rear != far_wad):
        so_far = f"up to {_less('BRRL', bounds)} it has {area:.4g} m2"
        return _missing(name, f"{_ON_GLASS}; {so_far}"), None
    return HeadformArea(name, area, _outlines(across, shape), statuses, said), shape


def _status(
    across: Across, rows: Index, rear: Array, left: SideBound, right: SideBound
) -> tuple[str, str]:
    """Status of an area that is formed, and why."""
    found = {"ok": ""}
    if np.isnan(rear).any():
        why = across.lines.BRRL.reason(int(rows[np.isnan(rear)][0]))
        found["wad_only"] = f"{_BY_WAD}: {why}" if why else _BY_WAD
    if left.open_end or right.open_end:
        found["open_end"] = _OPEN_SIDE
    for line in (across.lines.BLERL, across.lines.BRRL):
        open_ends = [int(i) for i in rows if line.status(int(i)) == "open_end"]
        if open_ends:
            found["open_end"] = line.reason(open_ends[0])
    return worst_status(*found), "; ".join(filter(None, found.values()))


def _places(across: Across, rows: Index, arcs: Array) -> Array:
    """Places (r, k, 3) of contours (r,) by their arcs (r, k) [mm]."""
    out = np.empty((*arcs.shape, 3))
    out[..., 1] = across.y[rows, None]
    out[..., ::2] = across.at(rows, arcs)
    return out


def _area(across: Across, shape: AreaShape) -> float:
    """Area of the surface between the bounds [m2]."""
    share, depth = np.linspace(0.0, 1.0, _SHARES + 1), shape.rear - shape.front
    points = _places(across, shape.rows, shape.front[:, None] + share * depth[:, None])
    within = shape.inside(points[..., 0], points[..., 1])
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[:-1, 1:], points[1:, 1:]
    e, f, g, h = within[:-1, :-1], within[1:, :-1], within[:-1, 1:], within[1:, 1:]
    found = _triangles(a, b, c) * _share(e, f, g) + _triangles(b, d, c) * _share(f, h, g)
    return float(found.sum()) * 1e-6


def _triangles(a: Array, b: Array, c: Array) -> Array:
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=-1)) / 2.0


def _share(a: Array, b: Array, c: Array) -> Array:
    """Share of triangles in which a value, linear between their corners, is not negative."""
    low, middle, high = np.sort(np.stack([a, b, c]), axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        one_in = high * high / ((high - middle) * (high - low))
        one_out = 1.0 - low * low / ((low - middle) * (low - high))
    return np.select([low >= 0.0, high < 0.0, middle < 0.0], [1.0, 0.0, one_in], one_out)


def _outlines(across: Across, shape: AreaShape) -> tuple[Outline, ...]:
    """Outlines of the parts of an area, the largest first, joined in plan view."""
    import shapely  # here and not above: the command line must start fast

    deep = shape.rear > shape.front
    rings = []
    for run in np.split(np.arange(len(deep)), np.flatnonzero(np.diff(deep)) + 1):
        if not deep[run[0]]:
            continue
        # One contour farther on either side, where front and rear bound have met.
        here = np.arange(max(run[0] - 1, 0), min(run[-1] + 2, len(deep)))
        front, rear = (
            _places(across, shape.rows[here], arcs[here, None])[:, 0]
            for arcs in (shape.front, shape.rear)
        )
        rings.append(enclosed(np.concatenate([front, rear[::-1]])))
    found = shapely.union_all(rings).intersection(_between_sides(shape.left, shape.right))
    parts = [p for p in shapely.get_parts(found) if p.geom_type == "Polygon" and not p.is_empty]
    outlines = []
    for part in sorted(parts, key=lambda part: -part.area):
        points = np.array(part.exterior.coords)[:-1]
        outlines.append(Outline(tuple(xyz(point) for point in points), across.wad_of(points)))
    return tuple(outlines)


def enclosed(ring: ArrayLike) -> Any:
    """What a ring encloses; lines along which it runs to and fro have no area, and go."""
    import shapely

    if len(np.asarray(ring)) < 3:  # one contour alone has no area
        return shapely.Polygon()
    # Of mixed parts nothing can be cut, and they have no border.
    valid = shapely.make_valid(shapely.Polygon(ring))
    parts = shapely.get_parts(shapely.get_parts(valid))
    return shapely.union_all([part for part in parts if part.geom_type == "Polygon"])


def _between_sides(left: SideBound, right: SideBound) -> Any:
    def chain(side: SideBound, sign: float) -> Array:
        inner = side.points * (1.0, sign, 1.0)
        return np.concatenate([inner[:1] - _BEYOND, inner, inner[-1:] + _BEYOND])

    ring = np.concatenate([chain(left, -1.0), chain(right, 1.0)[::-1]])
    return enclosed(ring)


def _missing(name: AreaName, reason: str) -> HeadformArea:
    return HeadformArea(name, None, (), "not_available", reason)


def _less(line: str, bounds: SectionBounds) -> str:
    return f"{line} less {bounds.offset:g} mm" if bounds.offset else line

"""The headform areas: surface between front, rear and side bounds.

Readings
--------
- Of two bounds "the more rearward" is the one farther along the contour of the section.
- 82.5 mm is laid off with a taut tape in the section, rearward from BLERL and forward from
  BRRL, and in the transverse plane, inboard from SRL.
- Sides are bounded from the corner reference point rearward; ahead of it they run on at
  constant y.
- A rear bound needs BRRL: nothing shows that BRRL lies behind a WAD line where no
  windscreen is labelled, so such an area is not available; the reason gives the area that
  it cannot exceed. Where the contour ends before the WAD line, BRRL is the more forward.
- The area is that of the facetted surface, contour to contour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.geometry.tape import tape_onward
from frontcheck.lines.front_line import Spot
from frontcheck.lines.side import NO_SIDE, meeting, rear_template
from frontcheck.zones.front_zones import GridPoint, HeadformArea, Outline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.lines.side import SideContacts
    from frontcheck.surface.contours import Net
    from frontcheck.surface.interpolate import StationSurface
    from frontcheck.zones.lines_across import Traced

_COLUMNS = 400
_SLIVER = 1e-9


@dataclass(frozen=True, eq=False)
class SideBound:
    """The side bound on the right."""

    y: NDArray[np.float64]  # (k,) points of SRL less 82.5 mm, from front to rear
    u: NDArray[np.float64]  # (k,) points of SRL less 82.5 mm, from front to rear
    open_end: bool  # Whether the SRL there is at the outermost contour anywhere


@dataclass(frozen=True, eq=False)
class SectionBounds:
    """Lines less 82.5 mm on every contour, not a number where they are not known."""

    front: NDArray[np.float64]  # (m,) coordinate u of BLERL + 82.5 mm
    rear: NDArray[np.float64]  # (m,) coordinate u of BRRL - 82.5 mm


def section_bounds(traced: Traced, rear_u: NDArray[np.float64]) -> SectionBounds:
    """Lay the tape off from BLERL and from BRRL in every section."""
    net, length = traced.net, traced.rules.value("headform.offset_mm")
    front_u = traced.u_of(traced.lines.BLERL)
    out = np.full((2, len(net)), np.nan)
    done: dict[tuple[int, int, float], float] = {}
    for way, line in enumerate((front_u, rear_u)):
        for i in np.flatnonzero(~np.isnan(line)).tolist():
            # Mirror images have the same contour and the same bound.
            key = (way, int(net.row[i]), float(line[i]))
            if key not in done:
                done[key] = _laid_off(net, i, float(line[i]), length, back=way == 1)
            out[way, i] = done[key]
    return SectionBounds(out[0], out[1])


def _laid_off(net: Net, i: int, u: float, length: float, *, back: bool) -> float:
    contour = net.points[i, : net.counts[i]]
    place = tape_onward(contour, net.position(i, u), length, back=back)
    return np.nan if place is None else float(net.u_at(np.array(i), np.array(place.position)))


def side_bound(traced: Traced, srl: SideContacts) -> SideBound:
    """Lay the tape off inboard from SRL on the right, in every transverse plane."""
    net, length = traced.net, traced.rules.value("headform.offset_mm")
    cuts = net.tops(srl.x)
    every_u = net.u_at(np.arange(len(net))[:, None], cuts.position)
    at = []
    for k in np.flatnonzero(srl.touched).tolist():
        inner = np.flatnonzero(net.y < srl.y[k] - 1e-9)[::-1]
        gone = np.flatnonzero(~cuts.reached[inner, k])
        inner = inner[: gone[0]] if len(gone) else inner
        # Toward the centre plane the surface runs to the right in (-y, z), air above.
        row = np.concatenate(
            [[[-srl.y[k], srl.z[k]]], np.stack([-net.y[inner], cuts.value[inner, k]], axis=1)]
        )
        place = tape_onward(row, 0.0, length) if len(row) > 1 else None
        if place is not None:
            u = np.interp(place.position, np.arange(len(row)), [srl.u[k], *every_u[inner, k]])
            at.append((-place.x, float(u)))
    y, u_side = np.array(at).reshape(-1, 2).T
    return SideBound(y, u_side, bool(srl.open_end[srl.touched].any()))


def headform_area(
    name: Literal["child", "adult"],
    traced: Traced,
    bounds: SectionBounds,
    left: SideBound,
    right: SideBound,
) -> tuple[HeadformArea, Any]:
    """Form one headform area."""
    if len(left.y) == 0 or len(right.y) == 0:
        reason = "SRL less 82.5 mm could not be formed on both sides"
        if not traced.net.y[0] < 0.0 < traced.net.y[-1]:
            reason += ": stations lie on one side of the centre plane only"
        return _missing(name, reason), None
    net, rules = traced.net, traced.rules
    lateral = _between_sides(left, right)
    y_low, _, y_high, _ = lateral.bounds
    # Contours whose strips the area may touch.
    first = max(int(np.searchsorted(net.y, y_low, side="right")) - 1, 0)
    last = min(int(np.searchsorted(net.y, y_high, side="left")), len(net) - 1)
    rows = np.arange(first, last + 1)
    near_wad = traced.mark_u(rules.value(f"{name}_area.wad_front_mm"))
    far_wad = traced.mark_u(rules.value(f"{name}_area.wad_rear_mm"))
    front = np.maximum(near_wad, bounds.front)
    rear = np.where(np.isnan(far_wad), bounds.rear, np.minimum(far_wad, bounds.rear))
    lost = rows[np.isnan(front[rows])]
    if len(lost):
        line = traced.lines.BLERL
        why = line.reason(int(lost[0])) or "the contour ends before the front bound"
        return _missing(name, _where(net, lost, "the front bound is not known", why)), None
    lost = rows[np.isnan(rear[rows])]
    if len(lost):
        line = traced.lines.BRRL
        why = line.reason(int(lost[0])) or "the contour ends before BRRL less 82.5 mm"
        reason = _where(net, lost, "the rear bound is not known", why)
        if not np.isnan(far_wad[rows]).any():
            most = _shape(net.y[rows], front[rows], far_wad[rows]).intersection(lateral)
            area = surface_area(net, most)
            reason += f"; by the WAD line and the sides alone the area is at most {area:.4g} m2"
        return _missing(name, reason), None
    shape = _shape(net.y[rows], front[rows], rear[rows]).intersection(lateral)
    parts = [part for part in _polygons(shape) if part.area > _SLIVER]
    parts.sort(key=lambda part: -part.area)
    reason, status = "", "ok"
    if left.open_end or right.open_end:
        status = "edge_end"
        reason = (
            "the sides are bounded from the outermost contours measured, so the area may reach "
            "farther out"
        )
    if not parts:
        status, reason = "ok", "the front bound lies behind the rear bound everywhere: no area"
    outlines = tuple(_outline(traced, part) for part in parts)
    area_m2 = sum(surface_area(net, part) for part in parts)
    return HeadformArea(name, float(area_m2), outlines, status, reason), shape


def surface_area(net: Net, shape: Any) -> float:
    """Return the area of a part of the surface."""
    import shapely  # here and not above: the command line must start fast

    if shape.is_empty:
        return 0.0
    y_low, u_low, y_high, u_high = shape.bounds
    first = max(int(np.searchsorted(net.y, y_low, side="right")) - 1, 0)
    last = min(int(np.searchsorted(net.y, y_high, side="left")), len(net) - 1)
    y = net.y[first : last + 1]
    u = _columns(net, first, last, u_low, u_high)
    points = np.empty((len(y), len(u), 3))
    points[..., 1] = y[:, None]
    for i in range(len(y)):
        points[i, :, ::2] = net.along(first + i, u)
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[:-1, 1:], points[1:, 1:]
    facets = (_triangles(a, b, c) + _triangles(b, d, c)) / 2.0
    boxes = shapely.box(y[:-1, None], u[None, :-1], y[1:, None], u[None, 1:])
    shapely.prepare(shape)
    share = shapely.covers(shape, boxes).astype(np.float64)
    edge = (share == 0.0) & shapely.intersects(shape, boxes)
    share[edge] = shapely.area(shapely.intersection(shape, boxes[edge]))
    share[edge] /= shapely.area(boxes[edge])
    return float((facets * share).sum()) * 1e-6


def _triangles(
    a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Twice the area of triangles."""
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=-1))


def _columns(net: Net, first: int, last: int, low: float, high: float) -> NDArray[np.float64]:
    """Coordinates u at which the contours bend, thinned where there are very many."""
    every: NDArray[np.float64] = np.unique(net.u[first : last + 1])
    every = np.concatenate([[low], every[(every > low) & (every < high)], [high]])
    every = every[np.concatenate([[True], np.diff(every) > _SLIVER])]
    if len(every) > _COLUMNS:
        pick = np.unique(np.linspace(0, len(every) - 1, _COLUMNS).round().astype(int))
        every = every[pick]
    return every


def _between_sides(left: SideBound, right: SideBound) -> Any:
    import shapely

    def chain(side: SideBound, sign: float) -> list[tuple[float, float]]:
        inner = [(sign * a, b) for a, b in zip(side.y.tolist(), side.u.tolist(), strict=True)]
        return [(inner[0][0], 0.0), *inner, (inner[-1][0], 1.0)]

    ring = [*chain(left, -1.0), *chain(right, 1.0)[::-1]]
    return shapely.make_valid(shapely.Polygon(ring))


def _shape(y: NDArray[np.float64], front: NDArray[np.float64], rear: NDArray[np.float64]) -> Any:
    """Polygons between two bounds, where the rear one lies behind the front one."""
    import shapely

    depth = rear - front
    turn = np.flatnonzero(depth[:-1] * depth[1:] < 0.0)
    t = depth[turn] / (depth[turn] - depth[turn + 1])
    at = y[turn] + t * (y[turn + 1] - y[turn])
    bound = front[turn] + t * (front[turn + 1] - front[turn])
    order = np.argsort(np.concatenate([y, at]), kind="stable")
    y = np.concatenate([y, at])[order]
    front = np.concatenate([front, bound])[order]
    rear = np.maximum(np.concatenate([rear, bound])[order], front)
    deep = (rear[:-1] > front[:-1]) | (rear[1:] > front[1:])
    polygons = []
    starts = np.flatnonzero(deep & ~np.concatenate([[False], deep[:-1]]))
    stops = np.flatnonzero(deep & ~np.concatenate([deep[1:], [False]])) + 1
    for a, b in zip(starts.tolist(), stops.tolist(), strict=True):
        here = slice(a, b + 1)
        ring = [
            *zip(y[here], front[here], strict=True),
            *zip(y[here][::-1], rear[here][::-1], strict=True),
        ]
        polygons.extend(_polygons(shapely.make_valid(shapely.Polygon(ring))))
    return shapely.union_all(polygons)


def _polygons(shape: Any) -> list[Any]:
    if shape.geom_type == "Polygon":
        return [] if shape.is_empty else [shape]
    return [part for part in getattr(shape, "geoms", ()) if part.geom_type == "Polygon"]


def _outline(traced: Traced, polygon: Any) -> Outline:
    ring = np.array(polygon.exterior.coords)[:-1]
    y, u = ring[:, 0], np.clip(ring[:, 1], 0.0, 1.0)
    points = traced.net.lift(y, u)
    return Outline(tuple((float(p[0]), float(p[1]), float(p[2])) for p in points), traced.wad(y, u))


def _missing(name: Literal["child", "adult"], reason: str) -> HeadformArea:
    return HeadformArea(name, None, (), "not_available", reason)


def _where(net: Net, rows: Sequence[int] | NDArray[np.intp], what: str, why: str) -> str:
    low, high = net.y[rows[0]], net.y[rows[-1]]
    return f"{what} at {len(rows)} contours (y from {low:g} to {high:g} mm): {why}"


# An even grid of candidate test points on the headform areas.

_ON_EDGE = 1e-9


def grid_rows(low: float, high: float, spacing: float) -> list[float]:
    """Return the stations of the grid: whole multiples of the spacing from the centre plane."""
    first, last = int(np.ceil(low / spacing)), int(np.floor(high / spacing))
    return [spacing * i for i in range(first, last + 1)]


def candidate_points(
    traced: Traced,
    loft: StationSurface,
    spacing: float,
    shapes: dict[Literal["child", "adult"], Any],
) -> tuple[GridPoint, ...]:
    """Return the points of an even grid that lie in the headform areas."""
    # The grid is even on the surface: whole multiples of the spacing across, and along the taut
    # tape as wrap-around distance.
    import shapely  # here and not above: the command line must start fast

    net, marks = traced.net, traced.lines.WAD
    rows = np.flatnonzero(np.isin(net.y, grid_rows(*loft.y_range, spacing)))
    found: list[
        tuple[Literal["child", "adult"], int, float, tuple[float, float, float], float]
    ] = []
    for column, distance in enumerate(traced.lines.distances):
        if distance % spacing != 0.0:
            continue
        u = traced.mark_u(distance)
        here = rows[~np.isnan(u[rows])]
        if len(here) == 0:
            continue
        places = shapely.points(net.y[here], u[here])
        taken = np.zeros(len(here), dtype=bool)
        chosen: list[tuple[int, Literal["child", "adult"]]] = []
        for name, shape in shapes.items():
            inside = shapely.dwithin(shape, places, _ON_EDGE) & ~taken
            taken |= inside
            chosen.extend((int(i), name) for i in np.flatnonzero(inside))
        for i, name in sorted(chosen):
            row = here[i]
            point = (float(marks.x[row, column]), float(net.y[row]), float(marks.z[row, column]))
            found.append((name, int(row), float(u[row]), point, distance))
    if not found:
        return ()
    # All normals in one call: one by one they take longer than all the rest.
    normals = loft.normals(net.y[[row for _, row, *_ in found]], [u for _, _, u, *_ in found])
    return tuple(
        GridPoint(name, point, distance, (float(n[0]), float(n[1]), float(n[2])))
        for (name, _, _, point, distance), n in zip(found, normals, strict=True)
    )


# The rear corners of the bonnet, and BRRL as the template procedure carries it on.

_NAME: Final = "rear corner"
_PLANE_REACH_MM: Final = 500.0
"""How far from the end of BRRL points count for the mean plane of the corner."""


@dataclass(frozen=True, eq=False)
class RearCorner:
    """Rear corner on the right."""

    spot: Spot  # The corner
    arc: NDArray[np.float64]  # (k, 3) BRRL from where the template touches it to the SRL [mm]
    arc_u: NDArray[np.float64]  # (k,) coordinates of the arc along the sections


def rear_corner(traced: Traced, srl: SideContacts) -> RearCorner:
    """Rear corner on the right: BRRL and SRL, with the template where they do not meet."""
    net, line, rules = traced.net, traced.lines.BRRL, traced.rules
    none = np.empty((0, 3)), np.empty(0)
    if not net.y[-1] > 0.0:
        return RearCorner(Spot(_NAME, "not_available", None, NO_SIDE), *none)
    rows = np.flatnonzero(line.formed & (net.y >= 0.0))
    if len(rows) < 2:
        inboard = int(np.argmin(np.abs(net.y)))
        reason = line.reason(inboard) or "BRRL could not be formed on this side"
        return RearCorner(Spot(_NAME, line.status(inboard), None, reason), *none)
    met = meeting(net, line.formed, line.x, line.z, rules.value("srl.lean_deg"), "BRRL")
    if met.point is not None:
        status = "edge_end" if met.open_end else "ok"
        return RearCorner(Spot(_NAME, status, met.point, met.reason), *none)
    rear = np.stack([line.x, net.y, line.z], axis=1)[rows]
    side = np.stack([srl.x, srl.y, srl.z], axis=1)[srl.touched]
    flat = _Plane(rear, side)
    constants = {
        name: rules.value(f"bonnet_corner.{name}")
        for name in ("template_radius_mm", "radius_step_mm", "middle_arc_deg")
    }
    found = rear_template(flat.down(side), flat.down(rear), *constants.values())
    if found is None:
        reason = f"{met.reason}, and no template fits between the two"
        return RearCorner(Spot(_NAME, "not_reached", None, reason), *none)
    arc, u = _on_surface(net, flat.up(found.arc))
    if len(arc) == 0:
        return RearCorner(
            Spot(_NAME, "not_reached", None, "the template leaves the surface"), *none
        )
    middle = rules["bonnet_corner.middle_arc_deg"]
    reason = (
        f"{met.reason}; BRRL is carried on along a template of radius {found.radius:g} mm, with a "
        f"middle arc of {middle.plain} ({middle.provenance})"
    )
    end = arc[-1]
    spot = Spot(_NAME, "ok", (float(end[0]), float(end[1]), float(end[2])), reason)
    return RearCorner(spot, arc, u)


class _Plane:
    """Mean plane of the corner, in which the flexible template is laid out."""

    def __init__(self, rear: NDArray[np.float64], side: NDArray[np.float64]) -> None:
        end = rear[-1]
        # Behind the end of BRRL the side line may climb the windscreen: not part of the plane.
        near = np.concatenate([rear, side[side[:, 0] <= rear[:, 0].max()]])
        near = near[np.linalg.norm(near - end, axis=1) <= _PLANE_REACH_MM]
        self.origin = near.mean(axis=0)
        normal = np.linalg.svd(near - self.origin)[2][2]
        along = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
        along /= np.linalg.norm(along)
        across = np.cross(normal, along)
        self.axes = np.stack([along, across if across[1] > 0.0 else -across])

    def down(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (k, 2) of the plane, square below points (k, 3)."""
        out: NDArray[np.float64] = (points - self.origin) @ self.axes.T
        return out

    def up(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (k, 3) in space of points (k, 2) of the plane."""
        out: NDArray[np.float64] = self.origin + points @ self.axes
        return out


def _on_surface(
    net: Net, points: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points of the surface at the plan places of given points, and their u."""
    levels, back = np.unique(points[:, 0], return_inverse=True)
    cuts = net.tops(levels)
    u = net.u_at(np.arange(len(net))[:, None], cuts.position)
    y = np.clip(points[:, 1], net.y[0], net.y[-1])
    j = np.clip(np.searchsorted(net.y, y, side="right") - 1, 0, len(net) - 2)
    t = (y - net.y[j]) / (net.y[j + 1] - net.y[j])
    there = (cuts.reached[j, back] | (t == 1.0)) & (cuts.reached[j + 1, back] | (t == 0.0))
    z = (1.0 - t) * cuts.value[j, back] + t * cuts.value[j + 1, back]
    at_u = (1.0 - t) * u[j, back] + t * u[j + 1, back]
    return np.stack([points[:, 0], y, z], axis=1)[there], at_u[there]

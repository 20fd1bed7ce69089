"""From a front and a rule set to all its lines and zones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.geometry.polyline import nearest, value_at
from frontcheck.lines.front_line import FrontLine, Pair, Piece, Spot, worst_status
from frontcheck.lines.side import NO_SIDE, SideContacts, meeting, side_contacts
from frontcheck.zones.bumper_area import (
    between_lines,
    bumper_area,
    bumper_thirds,
    gauge_corner,
    leading_edge_thirds,
    legform_runs,
    plane_corner,
)
from frontcheck.zones.front_zones import (
    BumperArea,
    BumperCorners,
    FrontZones,
    HeadformArea,
    ImpactPoints,
    Thirds,
    ZoneOptions,
)
from frontcheck.zones.headform import (
    candidate_points,
    grid_rows,
    headform_area,
    rear_corner,
    section_bounds,
    side_bound,
)
from frontcheck.zones.lines_across import line_across, side_of, trace, wad_across

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from frontcheck.zones.headform import RearCorner
    from frontcheck.zones.lines_across import Screened, Traced

_LINES: Final = ("LBRL", "UBRL", "BLERL", "BRRL")
_SRL_STEP_MM: Final = 10.0
_SRL_END: Final = (
    "the edge touches the outermost contour that reaches the plane: the side of the vehicle beyond "
    "it is not known"
)


@dataclass(frozen=True, eq=False)
class _Side:
    """What is found on the right of a net; of the mirrored net it is the left."""

    traced: Traced
    srl: SideContacts
    corner: Spot
    rear: RearCorner

    @classmethod
    def of(cls, traced: Traced) -> _Side:
        net, lean = traced.net, traced.rules.value("srl.lean_deg")
        line = traced.lines.BLERL
        met = meeting(net, line.formed, line.x, line.z, lean, "BLERL")
        missing = "not_reached" if net.y[-1] > 0.0 else "not_available"
        status = missing if met.point is None else "edge_end" if met.open_end else "ok"
        corner = Spot("corner reference point", status, met.point, met.reason)
        x = net.points[..., 0]
        levels = np.arange(np.ceil(x.min() / _SRL_STEP_MM), np.floor(x.max() / _SRL_STEP_MM) + 1.0)
        start = [] if met.point is None else [met.point[0]]
        srl = side_contacts(net, np.unique([*(levels * _SRL_STEP_MM), *start]), lean)
        return cls(traced, srl, corner, rear_corner(traced, srl))

    def behind_corner(self) -> SideContacts:
        """The SRL from the corner reference point rearward."""
        if self.corner.point is not None:
            start = self.corner.point[0]
        else:
            line, right = self.traced.lines.BLERL, self.traced.net.y >= 0.0
            formed = line.formed & right
            start = float(line.x[formed].min()) if formed.any() else -np.inf
        here = self.srl.x >= start
        return SideContacts(
            self.srl.touched[here],
            self.srl.x[here],
            self.srl.y[here],
            self.srl.z[here],
            self.srl.u[here],
            self.srl.open_end[here],
        )


def zones_of(screening: Screened, options: ZoneOptions | None = None) -> FrontZones:
    """Work out all lines across a front and the zones between them."""
    options = ZoneOptions() if options is None else options
    front, rules = screening.front, screening.rules
    try:
        loft = front.loft(None if options.loft == "auto" else options.loft)
    except NotAvailableError as error:
        return _nothing(screening, options, str(error))
    net = loft.net(options.loft_mm, grid_rows(*loft.y_range, options.grid_mm))
    traced = trace(net, screening, rows_mm=options.grid_mm)
    right = _Side.of(traced)
    left = right if front.symmetric else _Side.of(traced.mirrored())
    mirror = traced if front.symmetric else left.traced

    # Of a symmetric front one side stands for both.
    plane, gauge = (
        Pair(_mirrored(here if mirror is traced else find(mirror)), here)
        for find, here in ((find, find(traced)) for find in (plane_corner, gauge_corner))
    )
    corners = BumperCorners(
        plane, gauge, "gauge" if rules.flag("bumper_corner.gauge") else "plane_60deg"
    )
    reference = Pair(_mirrored(left.corner), right.corner)
    reference = _with_wad(traced, reference)
    rear_u = _rear_u(traced, left.rear, right.rear)
    (child, adult), shapes = _areas(traced, rear_u, left, right)
    lower, upper, edge = (line_across(traced, name) for name in _LINES[:3])
    area = bumper_area(corners.chosen, options.beam_ends_mm, rules)
    return FrontZones(
        lines=(
            lower,
            upper,
            edge,
            _rear_line(traced, left.rear, right.rear),
            _side_line(traced, left.srl, right.srl, reference),
            *(wad_across(traced, distance) for distance in screening.wad),
        ),
        bumper_corners=corners,
        bumper_test_area=replace(area, outline=between_lines(area, lower, upper)),
        bumper_thirds=bumper_thirds(traced, corners.chosen),
        leading_edge_thirds=leading_edge_thirds(traced, reference),
        corner_reference_points=reference,
        rear_corners=_with_wad(traced, Pair(_mirrored(left.rear.spot), right.rear.spot)),
        child_area=child,
        adult_area=adult,
        legform_runs=legform_runs(traced),
        grid=candidate_points(traced, loft, options.grid_mm, shapes),
        options=options,
        loft=loft.method,
        notes=_notes(traced, options),
    )


def _areas(
    traced: Traced, rear_u: NDArray[np.float64], left: _Side, right: _Side
) -> tuple[list[HeadformArea], dict[Literal["child", "adult"], Any]]:
    """Both headform areas, and the shapes in which their impact points lie."""
    own, inner, apart = (
        traced.rules.value(f"headform.{name}_mm")
        for name in ("area_offset", "impact_offset", "impact_apart")
    )
    areas: list[HeadformArea] = []
    shapes: dict[Literal["child", "adult"], Any] = {}
    # From the inside out: an area takes along the bounds of its impact points.
    for offset in dict.fromkeys((inner, own)):
        bounds = section_bounds(traced, rear_u, offset)
        on_right = side_bound(right.traced, right.behind_corner(), offset)
        on_left = (
            on_right if left is right else side_bound(left.traced, left.behind_corner(), offset)
        )
        formed = [
            headform_area(name, traced, bounds, on_left, on_right) for name in ("child", "adult")
        ]
        if not areas:
            shapes = {area.name: shape for area, shape in formed if shape is not None}
            areas = [area for area, _ in formed]
        else:
            inside = [
                ImpactPoints(inner, apart, one.area_m2, one.outlines, one.status, one.reason)
                for one in areas
            ]
            areas = [
                replace(area, impact_points=points)
                for (area, _), points in zip(formed, inside, strict=True)
            ]
    return areas, shapes


def _notes(traced: Traced, options: ZoneOptions) -> tuple[str, ...]:
    net, middle = traced.net, traced.rules["bonnet_corner.middle_arc_deg"]
    arc = f"{middle.plain} ({middle.provenance})"
    notes = [f"Rear corners: the middle arc of the template is taken as {arc}."]
    form = {c.name.removeprefix("headform."): c for c in traced.rules}
    notes.append(
        f"Headforms: child {form['child_mass_kg'].plain} at {form['child_angle_deg'].plain}, adult "
        f"{form['adult_mass_kg'].plain} at {form['adult_angle_deg'].plain} to the horizontal, "
        f"{form['diameter_mm'].plain} across, at {form['speed_km_h'].plain} "
        f"({form['diameter_mm'].provenance})."
    )
    own, inner, apart = (form[f"{n}_mm"] for n in ("area_offset", "impact_offset", "impact_apart"))
    if own.value != inner.value:
        notes.append(
            f"Headform areas end {own.plain} inside the reference lines ({own.provenance}), impact "
            f"points {inner.plain} ({inner.provenance}) and {apart.plain} from one another "
            f"({apart.provenance})."
        )
    if net.smooth:
        notes.append(
            f"Between measured stations the surface is a shape-preserving cubic, with contours "
            f"every {options.loft_mm:g} mm; at measured stations it is what was measured."
        )
    else:
        notes.append("Between stations the surface is straight.")
    if net.missing:
        at = ", ".join(f"{y:g}" for y in net.missing)
        notes.append(
            f"No contour could be lofted at y = {at} mm, for neighbouring sections differ too "
            "much; lines run straight across."
        )
    return tuple(notes)


def _mirrored(spot: Spot) -> Spot:
    if spot.point is None:
        return spot
    x, y, z = spot.point
    tool = spot.tool and replace(spot.tool, along=(spot.tool.along[0], -spot.tool.along[1]))
    return replace(spot, point=(x, 0.0 - y, z), tool=tool)


def _with_wad(traced: Traced, pair: Pair) -> Pair:
    """Add wrap-around distances, for the unrolled map."""
    net = traced.net

    def known(spot: Spot) -> Spot:
        if spot.point is None:
            return spot
        x, y, z = spot.point
        j = int(np.clip(np.searchsorted(net.y, y, side="right") - 1, 0, len(net) - 2))
        t = (y - net.y[j]) / (net.y[j + 1] - net.y[j])
        u = [_nearest_u(net.points[i, : net.counts[i]], net.u[i], x, z) for i in (j, j + 1)]
        at = u[0] if t == 0.0 else u[1] if t == 1.0 else (1.0 - t) * u[0] + t * u[1]
        return replace(spot, wad=traced.wad(np.array([y]), np.array([at]))[0])

    return Pair(known(pair.left), known(pair.right), pair.note)


def _nearest_u(points: NDArray[np.float64], u: NDArray[np.float64], x: float, z: float) -> float:
    """Coordinate of the contour point nearest to a place."""
    found = nearest(points, (x, z))
    return value_at(u, int(found.stretch), float(found.t))


def _rear_u(traced: Traced, left: RearCorner, right: RearCorner) -> NDArray[np.float64]:
    """Where BRRL lies along every contour, the template's arcs taking its place at the sides."""
    y = traced.net.y
    u = traced.u_of(traced.lines.BRRL)
    for sign, corner in ((-1.0, left), (1.0, right)):
        if len(corner.arc) == 0:
            continue
        order = np.argsort(corner.arc[:, 1], kind="stable")
        at, arc_u = corner.arc[order, 1], corner.arc_u[order]
        here = (sign * y >= at[0]) & (sign * y <= at[-1])
        u[here] = np.interp(sign * y[here], at, arc_u)
        u[sign * y > at[-1]] = np.nan
    return u


def _rear_line(traced: Traced, left: RearCorner, right: RearCorner) -> FrontLine:
    """BRRL, ended at the touch of the template and carried on along its arc."""
    line = line_across(traced, "BRRL")
    if len(left.arc) == 0 and len(right.arc) == 0:
        return line
    ends = [
        -left.arc[0, 1] if len(left.arc) else -np.inf,
        right.arc[0, 1] if len(right.arc) else np.inf,
    ]
    kept = (line.points[:, 1] > ends[0]) & (line.points[:, 1] < ends[1])
    flipped = left.arc[::-1] * np.array([1.0, -1.0, 1.0])
    points = np.concatenate([flipped, line.points[kept], right.arc])
    u = np.concatenate([left.arc_u[::-1], np.zeros(int(kept.sum())), right.arc_u])
    n, m = len(left.arc), len(right.arc)
    wad = list(traced.wad(points[:, 1], np.nan_to_num(u)))
    wad[n : len(points) - m] = [w for w, k in zip(line.wad, kept, strict=True) if k]
    inner = [s for s, k in zip(line.point_status, kept, strict=True) if k]
    # The unbroken pieces of the line itself, the outer ones going on into the arcs.
    number = np.concatenate([[0], np.cumsum(kept)]) + n
    bounds = [(int(number[p.start]), int(number[p.stop])) for p in line.pieces]
    bounds = [(a, b) for a, b in bounds if b > a] or [(n, n)]
    bounds[0], bounds[-1] = (0, bounds[0][1]), (bounds[-1][0], len(points))
    if len(bounds) == 1:
        bounds = [(0, len(points))]
    said = [corner.spot.reason for corner in (left, right) if len(corner.arc)]
    return FrontLine(
        "BRRL",
        points,
        ("ok",) * n + tuple(inner) + ("ok",) * m,
        tuple(Piece(a, b, side_of(points[a, 1], points[b - 1, 1])) for a, b in bounds),
        line.status,
        "; ".join(filter(None, [line.reason, *dict.fromkeys(said)])),
        tuple(wad),
    )


def _side_line(traced: Traced, left: SideContacts, right: SideContacts, corners: Pair) -> FrontLine:
    """SRL of both sides, each from front to rear."""
    points, status, pieces = [], [], []
    wads: list[float | None] = []
    start = open_ends = 0
    for sign, side, name in ((-1.0, left, "left"), (1.0, right, "right")):
        here = side.touched
        own = np.stack([side.x[here], 0.0 + sign * side.y[here], side.z[here]], axis=1)
        points.append(own)
        status += ["edge_end" if end else "ok" for end in side.open_end[here]]
        if len(own):
            pieces.append(Piece(start, start + len(own), name))
        wads += traced.wad(own[:, 1], np.clip(side.u[here], 0.0, 1.0))
        start += len(own)
        open_ends += int(side.open_end[here].sum())
    said = [f"{open_ends} of {start} points: {_SRL_END}"] if open_ends else []
    for name, spot in (("left", corners.left), ("right", corners.right)):
        if spot.reason == NO_SIDE:
            said.append(f"{name}: {NO_SIDE}")
    return FrontLine(
        "SRL",
        np.concatenate(points),
        tuple(status),
        tuple(pieces),
        worst_status(*status) if status else "not_reached",
        "; ".join(said),
        tuple(wads),
    )


def _nothing(screening: Screened, options: ZoneOptions, reason: str) -> FrontZones:
    """Every line and zone as not available, with the reason."""
    gone = "not_available"
    names = [*_LINES, "SRL", *(f"WAD {distance:g}" for distance in screening.wad)]

    def pair(name: str) -> Pair:
        return Pair(Spot(name, gone, None, reason), Spot(name, gone, None, reason))

    gauge: Literal["gauge", "plane_60deg"] = (
        "gauge" if screening.rules.flag("bumper_corner.gauge") else "plane_60deg"
    )
    return FrontZones(
        lines=tuple(FrontLine(name, np.empty((0, 3)), (), (), gone, reason) for name in names),
        bumper_corners=BumperCorners(pair("bumper corner"), pair("bumper corner"), gauge),
        bumper_test_area=BumperArea(None, None, "", gone, reason),
        bumper_thirds=Thirds((), (), None, gone, reason),
        leading_edge_thirds=Thirds((), (), None, gone, reason),
        corner_reference_points=pair("corner reference point"),
        rear_corners=pair("rear corner"),
        child_area=HeadformArea("child", None, (), gone, reason),
        adult_area=HeadformArea("adult", None, (), gone, reason),
        legform_runs=(),
        grid=(),
        options=options,
        loft="",
        notes=(f"No lines across the front and no zones: {reason}.",),
    )

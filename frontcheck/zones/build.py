"""From a front and a rule set to all its lines and zones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from operator import attrgetter
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.geometry.at_once import both
from frontcheck.geometry.polyline import nearest, value_at
from frontcheck.lines.front_line import FrontLine, Pair, Piece, Spot, worst_status
from frontcheck.lines.side import NO_SIDE, OPEN_SIDE, Side, SideContacts
from frontcheck.lines.station import stretches
from frontcheck.rules.limits import limits_said
from frontcheck.zones.bumper_area import between_lines, bumper_area, legform_runs
from frontcheck.zones.bumper_corners import Bumper, Heights, gauge_corner, plane_corner
from frontcheck.zones.front_zones import (
    BumperArea,
    BumperCorners,
    FrontZones,
    HeadformArea,
    ImpactPoints,
    Thirds,
    ZoneOptions,
)
from frontcheck.zones.grid import candidate_points, grid_rows
from frontcheck.zones.headform import headform_area, section_bounds, side_bound
from frontcheck.zones.lines_across import (
    cuts_between,
    line_across,
    sections_across,
    side_of,
    wad_across,
)
from frontcheck.zones.rear_corner import met_spot, rear_corner
from frontcheck.zones.thirds import BONNET, bonnet_thirds, bumper_thirds, leading_edge_thirds

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.zones.front_zones import AreaName
    from frontcheck.zones.headform import AreaShape
    from frontcheck.zones.lines_across import Across
    from frontcheck.zones.rear_corner import RearCorner

_LINES: Final = ("LBRL", "UBRL", "BLERL", "BRRL")


@dataclass(frozen=True, eq=False)
class _Side:
    """What is found on the right; of a mirrored front it is the left."""

    across: Across
    srl: SideContacts
    corner: Spot
    rear: RearCorner

    bumper: Bumper
    plane: Spot
    gauge: Spot

    @classmethod
    def of(cls, across: Across) -> _Side:
        facets = across.surface.facets((-np.inf, np.nextafter(0.0, 1.0), -np.inf))
        line, y, rules = across.lines.BLERL, across.y, across.rules
        rows = line.formed & (y >= 0.0)
        edge = Side.of(facets, rules.value("srl.lean_deg"))
        met = edge.meeting(np.stack([line.x, y, line.z], axis=1)[rows], "BLERL")
        if met.point is None:
            missing = "not_reached" if y[-1] > 0.0 else "not_available"
            corner = Spot("corner reference point", missing, None, met.reason)
        else:
            corner = met_spot("corner reference point", met, line, y)
        srl = edge.line(() if met.point is None else (met.point[0],))
        bumper = Bumper.of(facets, rules)
        return cls(
            across, srl, corner, rear_corner(across, edge, srl), bumper,
            plane_corner(bumper, rules),
            gauge_corner(bumper, Heights.of(y, across.lines), rules),
        )  # fmt: skip

    def behind_corner(self) -> SideContacts:
        """The SRL from the corner reference point rearward."""
        if self.corner.point is not None:
            start = self.corner.point[0]
        else:
            line, right = self.across.lines.BLERL, self.across.y >= 0.0
            formed = line.formed & right
            start = float(line.x[formed].min()) if formed.any() else -np.inf
        return self.srl.at(self.srl.x >= start)


def zones_of(screening: LinedFront, options: ZoneOptions | None = None) -> FrontZones:
    """Work out all lines across a front and the zones between them."""
    options = ZoneOptions() if options is None else options
    front, rules = screening.front, screening.rules
    try:
        surface = front.surface(None if options.between == "auto" else options.between)
    except NotAvailableError as error:
        return _nothing(screening, options, str(error))
    ys = [
        *cuts_between(surface, front.full().stations, options.cut_mm),
        *grid_rows(*surface.y_range, options.grid_mm),
    ]
    across = sections_across(surface, screening, ys, rows_mm=options.grid_mm)
    # Of a symmetric front one side stands for both.
    if surface.symmetric:
        right = left = _Side.of(across)
    else:
        right, left = both(partial(_Side.of, across), partial(_Side.of, across.mirrored()))
    plane, gauge, corner, rear_spot = (
        Pair(_mirrored(of(left)), of(right))
        for of in map(attrgetter, ("plane", "gauge", "corner", "rear.spot"))
    )
    corners = BumperCorners(plane, gauge, _procedure(rules))
    reference = _with_wad(across, corner)
    rear = _with_wad(across, rear_spot)
    rear_arc = _rear_arc(across, left.rear, right.rear)
    areas, shapes = _areas(across, rear_arc, left, right)
    lower, upper, edge = (line_across(across, name) for name in _LINES[:3])
    area = bumper_area(corners.chosen, options.beam_ends_mm, rules)
    return FrontZones(
        lines=(
            lower,
            upper,
            edge,
            _rear_line(across, left.rear, right.rear),
            _side_line(across, left.srl, right.srl, reference),
            *(wad_across(across, distance) for distance in screening.wad),
        ),
        bumper_corners=corners,
        bumper_test_area=replace(area, outline=between_lines(area, lower, upper)),
        bumper_thirds=bumper_thirds(
            left.bumper, right.bumper, Heights.of(across.y, across.lines), corners.chosen
        ),
        leading_edge_thirds=leading_edge_thirds(edge.points, reference),
        bonnet_thirds=bonnet_thirds(across, left.srl, right.srl, reference, rear),
        corner_reference_points=reference,
        rear_corners=rear,
        child_area=areas[0],
        adult_area=areas[1],
        legform_runs=legform_runs(across),
        grid=candidate_points(across, options.grid_mm, shapes),
        options=options,
        surface=surface.kind,
        notes=_notes(across),
        drawn=front.drawn,
    )


def _procedure(rules: RuleSet) -> Literal["gauge", "plane_60deg"]:
    """Which of the bumper corners the rules use."""
    return "gauge" if rules.flag("bumper_corner.gauge") else "plane_60deg"


def _areas(
    across: Across, rear_arc: Array, left: _Side, right: _Side
) -> tuple[list[HeadformArea], dict[AreaName, AreaShape]]:
    """Both headform areas, and the shapes in which their impact points lie."""
    own, inner, apart = (
        across.rules.value(f"headform.{name}_mm")
        for name in ("area_offset", "impact_offset", "impact_apart")
    )

    def at(offset: float) -> list[tuple[HeadformArea, AreaShape | None]]:
        bounds = section_bounds(across, rear_arc, offset)
        sides = [side_bound(side.across, side.behind_corner(), offset) for side in (left, right)]
        return [headform_area(name, across, bounds, *sides) for name in ("child", "adult")]

    inside = at(inner)
    shapes = {area.name: shape for area, shape in inside if shape is not None}
    if own == inner:
        return [area for area, _ in inside], shapes
    # An area takes along the bounds of its impact points.
    areas = [
        replace(area, impact_points=ImpactPoints(
            inner, apart, one.area_m2, one.outlines, one.status, one.reason
        ))
        for (area, _), (one, _) in zip(at(own), inside, strict=True)
    ]  # fmt: skip
    return areas, shapes


_BETWEEN: Final = {
    "mesh": "The surface is the mesh itself, cut where needed; nothing is interpolated.",
    "straight": "Between stations the surface is straight.",
    "smooth": (
        "Between measured stations the surface is a shape-preserving cubic, an interpolation; at "
        "measured stations it is what was measured."
    ),
}


def _notes(across: Across) -> tuple[str, ...]:
    middle = across.rules["bonnet_corner.middle_arc_deg"]
    arc = f"{middle.plain} ({middle.provenance})"
    notes = [f"Rear corners: the middle arc of the template is taken as {arc}."]
    form = {c.name.removeprefix("headform."): c for c in across.rules}
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
    notes.append(limits_said(across.rules))
    notes.append(_BETWEEN[across.surface.kind])
    if across.missing:
        lost = {y for y, _ in across.missing}
        at = stretches(lost, sorted({*lost, *across.y.tolist()}))
        notes.append(
            f"The surface gave no contour at y = {at} mm ({across.missing[0][1]}); lines run "
            "straight across."
        )
    return tuple(notes)


def _mirrored(spot: Spot) -> Spot:
    if spot.point is None:
        return spot
    x, y, z = spot.point
    tool = spot.tool and replace(spot.tool, along=(spot.tool.along[0], -spot.tool.along[1]))
    return replace(spot, point=(x, 0.0 - y, z), tool=tool)


def _with_wad(across: Across, pair: Pair) -> Pair:
    """Add wrap-around distances, for the unrolled map."""

    def known(spot: Spot) -> Spot:
        if spot.point is None:
            return spot
        return replace(spot, wad=across.wad_of(np.array([spot.point]))[0])

    return Pair(known(pair.left), known(pair.right), pair.note)


def _rear_arc(across: Across, left: RearCorner, right: RearCorner) -> Array:
    """Where BRRL lies along every contour, the template's arcs taking its place at the sides."""
    arcs = across.arc_of(across.lines.BRRL)
    for sign, corner in ((-1.0, left), (1.0, right)):
        if len(corner.arc) == 0:
            continue
        along = corner.arc[np.argsort(corner.arc[:, 1], kind="stable")]
        for i in np.flatnonzero(sign * across.y >= along[0, 1]).tolist():
            y = sign * float(across.y[i])
            arcs[i] = np.nan
            if y <= along[-1, 1]:
                at = [np.interp(y, along[:, 1], along[:, k]) for k in (0, 2)]
                count = int(across.counts[i])
                found = nearest(across.points[i, :count], at)
                arcs[i] = value_at(across.arcs[i, :count], int(found.stretch), float(found.t))
    return arcs


def _rear_line(across: Across, left: RearCorner, right: RearCorner) -> FrontLine:
    """BRRL, ended at the touch of the template and carried on along its arc."""
    line = line_across(across, "BRRL")
    if len(left.arc) == 0 and len(right.arc) == 0:
        return line
    y, (low, high) = line.points[:, 1], (corner.arc[:1, 1] for corner in (left, right))
    kept = (y > -low.min(initial=np.inf)) & (y < high.min(initial=np.inf))
    flipped = left.arc[::-1] * np.array([1.0, -1.0, 1.0])
    points = np.concatenate([flipped, line.points[kept], right.arc])
    n, m = len(left.arc), len(right.arc)
    wad = list(across.wad_of(points))
    wad[n : len(points) - m] = [w for w, k in zip(line.wad, kept, strict=True) if k]
    inner = [s for s, k in zip(line.point_status, kept, strict=True) if k]
    # The unbroken pieces of the line itself, the outer ones going on into the arcs.
    number = np.concatenate([[0], np.cumsum(kept)]) + n
    bounds = [(int(number[p.start]), int(number[p.stop])) for p in line.pieces]
    bounds = [(a, b) for a, b in bounds if b > a] or [(n, n)]
    bounds[0] = (0, bounds[0][1])
    bounds[-1] = (bounds[-1][0], len(points))
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


def _side_line(across: Across, left: SideContacts, right: SideContacts, corners: Pair) -> FrontLine:
    """SRL of both sides, each from front to rear."""
    held = [side.at(side.touched) for side in (left, right)]
    rows = zip((-1.0, 1.0), held, strict=True)
    points = np.concatenate(
        [np.stack([side.x, 0.0 + sign * side.y, side.z], axis=1) for sign, side in rows]
    )
    ended = np.concatenate([side.open_end for side in held])
    n, count = len(held[0].x), len(points)
    pieces = (Piece(0, n, "left"), Piece(n, count, "right"))
    status = tuple("open_end" if end else "ok" for end in ended)
    said = [f"{ended.sum()} of {count} points: {OPEN_SIDE}"] if ended.any() else []
    for name, spot in (("left", corners.left), ("right", corners.right)):
        if spot.reason == NO_SIDE:
            said.append(f"{name}: {NO_SIDE}")
    return FrontLine(
        "SRL",
        points,
        status,
        tuple(piece for piece in pieces if piece.stop > piece.start),
        worst_status(*status) if status else "not_reached",
        "; ".join(said),
        across.wad_of(points),
    )


def _nothing(screening: LinedFront, options: ZoneOptions, reason: str) -> FrontZones:
    """Every line and zone as not available, with the reason."""
    gone = "not_available"
    names = [*_LINES, "SRL", *(f"WAD {distance:g}" for distance in screening.wad)]

    def pair(name: str) -> Pair:
        return Pair(Spot(name, gone, None, reason), Spot(name, gone, None, reason))

    corners, thirds = pair("bumper corner"), Thirds((), (), None, gone, reason)
    return FrontZones(
        lines=tuple(FrontLine(name, np.empty((0, 3)), (), (), gone, reason) for name in names),
        bumper_corners=BumperCorners(corners, corners, _procedure(screening.rules)),
        bumper_test_area=BumperArea(None, None, "", gone, reason),
        bumper_thirds=thirds,
        leading_edge_thirds=thirds,
        bonnet_thirds=FrontLine(BONNET, np.empty((0, 3)), (), (), gone, reason),
        corner_reference_points=pair("corner reference point"),
        rear_corners=pair("rear corner"),
        child_area=HeadformArea("child", None, (), gone, reason),
        adult_area=HeadformArea("adult", None, (), gone, reason),
        legform_runs=(),
        grid=(),
        options=options,
        surface="",
        notes=(f"No lines across the front and no zones: {reason}.",),
        drawn=screening.front.drawn,
    )

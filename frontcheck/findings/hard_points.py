"""What headforms meet: free depth above every hard point, for either headform, and its findings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import ContourError, NotAvailableError
from frontcheck.findings.finding import Finding, Region
from frontcheck.findings.finding_rules import HEAD_RULES
from frontcheck.findings.head_points import HeadAreas, facets_between, head_points, wad_at
from frontcheck.front.front import LOCAL_DATUM, Front
from frontcheck.geometry.polyline import nearest
from frontcheck.lines.lined_front import line_up
from frontcheck.people.impactors import headforms, least_stop_distance, square_pulse_stop_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.findings.head_points import HeadPoint
    from frontcheck.front.beside import HardPoint
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.people.impactors import Headform
    from frontcheck.surface.section import Section
    from frontcheck.surface.surface import Surface
    from frontcheck.zones.front_zones import FrontZones

_ACROSS_MM: Final = 60.0
_STEP_MM: Final = 10.0
"""The skin is looked at every 10 mm this far to either side for the depth along the normal."""


# Free depth between the skin and a hard point under it, in one side section.
#
# The depth along the travel of a headform is what it can move into the shape, past the skin,
# until the spot of its surface that touched first stands on the hard point. On a flat skin no
# other aim reaches the hard point in less.


@dataclass(frozen=True)
class FreeDepth:
    """Free depth above a hard point."""

    status: Literal["under", "outside", "open"]  # ``under``: below the skin
    along_travel: float | None  # From the skin along the travel to the hard point [mm]
    along_normal: float  # Shortest distance to the skin, which lies along its normal [mm]
    skin: tuple[float, float] | None  # Point (x, z) of the skin on the line of travel [mm]
    stretch: int | None  # Contour stretch of `skin`


def free_depth(
    contour: Array, point: tuple[float, float], travel: tuple[float, float]
) -> FreeDepth:
    """Return the free depth above a hard point in a side section."""
    a = contour[:-1]
    d = np.diff(contour, axis=0)
    to = np.asarray(point, dtype=np.float64) - a
    near = nearest(contour, point)
    depth = float(near.distance)
    # Back along the travel: point - s travel = a + t d, with s the way and t within the stretch.
    ux, uz = travel
    cross = d[:, 0] * uz - d[:, 1] * ux
    parallel = cross == 0.0
    safe = np.where(parallel, 1.0, cross)
    t = (to[:, 0] * uz - to[:, 1] * ux) / safe
    s = (d[:, 0] * to[:, 1] - d[:, 1] * to[:, 0]) / safe
    meets = ~parallel & (t >= 0.0) & (t <= 1.0) & (s >= 0.0)
    if not meets.any():
        status: Literal["outside", "open"] = (
            "outside" if _in_the_air(d, to, int(near.stretch), float(near.t)) else "open"
        )
        return FreeDepth(status, None, depth, None, None)
    way = np.where(meets, s, np.inf)
    i = int(np.argmin(way))
    # The way back leaves the body when it points to the left of the stretch.
    if d[i, 0] * -uz - d[i, 1] * -ux <= 0.0 and way[i] > 0.0:
        return FreeDepth("outside", None, depth, None, None)
    skin = a[i] + t[i] * d[i]
    return FreeDepth("under", float(way[i]), depth, (float(skin[0]), float(skin[1])), i)


def _in_the_air(d: Array, to: Array, i: int, t: float) -> bool:
    """Whether the contour nearest to a point shows it its air side; not so at either end."""
    # Stretches `d` (n - 1, 2); `to` leads from the start of each to the point, whose nearest
    # place is at `t` of stretch `i`.
    if (i == 0 and t == 0.0) or (i == len(d) - 1 and t == 1.0):
        return False
    along = d[i] / np.hypot(*d[i])
    # At a bend the mean of both directions decides.
    if t == 0.0:
        along = along + d[i - 1] / np.hypot(*d[i - 1])
    elif t == 1.0:
        along = along + d[i + 1] / np.hypot(*d[i + 1])
    return bool(along[0] * to[i, 1] - along[1] * to[i, 0] > 0.0)


@dataclass(frozen=True)
class DepthAbove:
    """Free depth between the skin and one hard point for one headform."""

    point: HardPoint  # The hard point
    headform: Literal["child", "adult"]  # Which headform
    status: Literal["under", "outside", "not assessed"]
    along_travel: float | None  # Free depth along the headform's travel [mm]
    along_normal: float | None
    skin: tuple[float, float, float] | None
    wad: float | None  # Wrap-around distance there [mm]
    in_area: bool  # Whether that lies in the area of this headform
    reason: str = ""  # Why it was not assessed


@dataclass(frozen=True, eq=False)
class HeadContact:
    """What headforms meet on a front, before any of it is held against a threshold."""

    zones: FrontZones  # The zones that it belongs to
    areas: HeadAreas  # The headform areas in the unrolled plane
    points: tuple[HeadPoint, ...]  # Every grid point
    depths: tuple[DepthAbove, ...]  # Every hard point for the child headform and then the adult

    @cached_property
    def facets(self) -> Index:
        """Triangles (k, 3) between neighbouring points, over which the angle is taken as linear."""
        return facets_between(self.points, self.zones.options.grid_mm)


def head_contact(
    lined: LinedFront, zones: FrontZones, hard_points: Sequence[HardPoint] = ()
) -> HeadContact:
    """Measure what headforms meet on a front."""
    areas = HeadAreas(zones)
    depths = _depths_above(lined, areas, hard_points, zones.surface)
    return HeadContact(zones, areas, head_points(zones, lined.rules), depths)


def _depths_above(
    lined: LinedFront, areas: HeadAreas, points: Sequence[HardPoint], kind: str
) -> tuple[DepthAbove, ...]:
    """Measure the free depth above hard points."""
    if not points:
        return ()
    skin = _Skin(lined, kind)
    return tuple(
        _depth(lined, areas, skin, point, form)
        for point in points
        for form in headforms(lined.rules)
    )


class _Skin:
    """Sections of the surface at any station, as far as they can be had."""

    def __init__(self, lined: LinedFront, kind: str) -> None:
        self.front = lined.front.full()
        self.refused = LOCAL_DATUM if self.front.datum == "local" else ""
        self.surface: Surface | None = None
        if not self.refused:
            try:
                self.surface = lined.front.surface("straight" if kind == "straight" else None)
            except NotAvailableError as problem:
                self.refused = str(problem)

    def section(self, y: float) -> Section:
        """Section at a station; NotAvailableError where there is none."""
        if y in self.front.stations:
            # One section alone is a surface at its own station.
            return self.front.section(y)
        if self.surface is None:
            raise NotAvailableError(self.refused)
        low, high = self.surface.y_range
        if not low <= y <= high:
            raise NotAvailableError(
                f"it lies beyond the outermost stations measured, {low:g} and {high:g} mm"
            )
        try:
            return self.surface.section(y)
        except ContourError as problem:
            raise NotAvailableError(f"the surface gives no section there: {problem}") from None

    def distance(self, point: HardPoint, own: float) -> float:
        """Shortest distance to the skin, given that within the section of the point."""
        if self.surface is None:
            return own
        low, high = self.surface.y_range
        shortest = own
        for across in np.arange(-_ACROSS_MM, _ACROSS_MM + 1.0, _STEP_MM):
            y = point.y + float(across)
            if not low <= y <= high or abs(across) >= shortest:
                continue
            try:
                contour = self.surface.section(y).points
            except ContourError:
                continue
            inside = free_depth(contour, (point.x, point.z), (1.0, 0.0)).along_normal
            shortest = min(shortest, float(np.hypot(inside, across)))
        return shortest


def _depth(
    lined: LinedFront, areas: HeadAreas, skin: _Skin, point: HardPoint, form: Headform
) -> DepthAbove:
    def unformed(reason: str) -> DepthAbove:
        return DepthAbove(point, form.name, "not assessed", None, None, None, None, False, reason)

    if skin.front.datum == "local":
        return unformed(skin.refused)
    try:
        section = skin.section(point.y)
    except NotAvailableError as problem:
        return unformed(str(problem))
    depth = free_depth(section.points, (point.x, point.z), form.travel)
    if depth.status == "open":
        return unformed(f"no skin of the section lies on the {form.name} headform's way to it")
    if depth.status == "outside" or depth.skin is None or depth.along_travel is None:
        return DepthAbove(point, form.name, "outside", None, depth.along_normal, None, None, False)
    wad = _wad(lined, section, depth.skin)
    return DepthAbove(
        point,
        form.name,
        "under",
        depth.along_travel,
        skin.distance(point, depth.along_normal),
        (depth.skin[0], point.y, depth.skin[1]),
        wad,
        wad is not None and areas.holds(form.name, point.y, wad),
    )


def _wad(lined: LinedFront, section: Section, at: tuple[float, float]) -> float | None:
    """Wrap-around distance of a skin point; None where no tape can be hung."""
    alone = line_up(Front((section,)), lined.rules, ())
    station = alone.stations[0]
    if station.tape_x is None:
        return None
    if lined.tape_start == "vehicle":
        from frontcheck.geometry.tape import TautTape

        anchors = [s.tape_x for s in lined.stations if s.tape_x is not None]
        if not anchors:
            return None
        return wad_at(TautTape(section.points, anchors[0], station.tape_start), at)
    return wad_at(alone.tape(section.y), at)


# Findings on the free depth above hard points.

_HICS: Final = (1000.0, 1700.0)
_SPEEDS: Final = (35.0, 40.0)


def stop_table() -> tuple[tuple[float, float, float, float], ...]:
    """Return the depths needed in the cases that rules and consumer tests use."""
    return tuple(
        (
            hic,
            speed,
            float(square_pulse_stop_distance(hic, speed)),
            float(least_stop_distance(hic, speed)),
        )
        for speed in _SPEEDS
        for hic in _HICS
    )


def hard_point_findings(
    lined: LinedFront, depths: Sequence[DepthAbove], hic: float
) -> tuple[Finding, ...]:
    """Compare the free depth above hard points with the depth needed to stop a head."""
    speed = lined.rules.value("headform.speed_km_h")
    square = float(square_pulse_stop_distance(hic, speed))
    bound = float(least_stop_distance(hic, speed))
    found = []
    told = set()
    for depth in depths:
        if depth.status == "outside" and depth.point.name not in told:
            told.add(depth.point.name)
            found.append(_outside(depth))
        elif depth.in_area and depth.along_travel is not None and depth.along_travel < square:
            found.append(_short(depth, hic, speed, bound, square))
    return tuple(found)


def _what(depth: DepthAbove) -> str:
    point = depth.point
    return f"Stiff part below the skin, {point.name} ({point.kind}) at y = {point.y:g} mm"


def _outside(depth: DepthAbove) -> Finding:
    point, away = depth.point, depth.along_normal or 0.0
    return Finding(
        HEAD_RULES["HEAD-HARD-POINT-OUTSIDE"],
        Region(point.name, outline_mm=((point.x, point.y, point.z),)),
        point.y,
        away,
        f"{_what(depth)} stands {away:.0f} mm outside the skin.",
        "check of the list of stiff parts against the offsets",
    )


def _short(depth: DepthAbove, hic: float, speed: float, bound: float, square: float) -> Finding:
    assert depth.along_travel is not None
    assert depth.skin is not None
    free, point = depth.along_travel, depth.point
    cases = ", ".join(
        f"{constant:.1f} mm (HIC {limit:g}, {v:g} km/h)"
        for limit, v, constant, _ in stop_table()
        if free < constant and (limit, v) != (hic, speed)
    )
    threshold: float | tuple[float, float]
    if free < bound:
        code, threshold = "HEAD-DEPTH-BELOW-BOUND", bound
        says = f"less than the {bound:.1f} mm that any pulse needs"
    else:
        code, threshold = "HEAD-DEPTH-BELOW-SQUARE", (bound, square)
        says = f"less than the {square:.1f} mm that a constant pulse needs ({bound:.1f} mm any)"
    return Finding(
        HEAD_RULES[code],
        Region(
            f"{point.name} under the {depth.headform} headform area",
            outline_mm=(depth.skin, (point.x, point.y, point.z)),
        ),
        point.y,
        free,
        f"{_what(depth)} has {free:.1f} mm of room below the skin along the {depth.headform} "
        f"headform's travel ({depth.along_normal:.1f} mm along the normal), {says} for HIC {hic:g} "
        f"at {speed:g} km/h{_also(cases)}.",
        f"{depth.headform} headform test at y = {point.y:g} mm, WAD {depth.wad:.0f}",
        threshold=threshold,
    )


def _also(cases: str) -> str:
    return f"; a constant pulse would also need {cases}, any pulse 75 % of that" if cases else ""

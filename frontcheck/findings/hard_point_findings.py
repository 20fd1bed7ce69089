"""Findings on the free depth above hard points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.findings import head_rules as rules_of
from frontcheck.findings.finding import Finding, Region
from frontcheck.findings.hard_point_depths import depths_above
from frontcheck.people.impactors import least_stop_distance, square_pulse_stop_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.findings.hard_point_depths import DepthAbove
    from frontcheck.findings.head_areas import HeadAreas
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.reading.hard_point_file import HardPoint
    from frontcheck.zones.front_zones import FrontZones

__all__ = ["hard_point_findings", "stop_table"]

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
    lined: LinedFront,
    zones: FrontZones,
    areas: HeadAreas,
    hard_points: Sequence[HardPoint],
    hic: float,
) -> tuple[Finding, ...]:
    """Compare the free depth above hard points with the depth needed to stop a head."""
    speed = lined.rules.value("headform.speed_km_h")
    square = float(square_pulse_stop_distance(hic, speed))
    bound = float(least_stop_distance(hic, speed))
    found = []
    told = set()
    for depth in depths_above(lined, areas, hard_points, zones.loft):
        if depth.status == "outside" and depth.point.name not in told:
            told.add(depth.point.name)
            found.append(_outside(depth))
        elif depth.in_area and depth.along_travel is not None and depth.along_travel < square:
            found.append(_short(depth, hic, speed, bound, square))
    return tuple(found)


def _what(depth: DepthAbove) -> str:
    point = depth.point
    return f"Hard point {point.name} ({point.kind}) at y = {point.y:g} mm"


def _outside(depth: DepthAbove) -> Finding:
    point, away = depth.point, depth.along_normal or 0.0
    return Finding(
        rules_of.HARD_POINT_OUTSIDE,
        Region(point.name, outline_mm=((point.x, point.y, point.z),)),
        point.y,
        away,
        f"{_what(depth)} stands {away:.0f} mm outside the skin.",
        "check of the list of hard points against the offsets",
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
        rule, threshold = rules_of.DEPTH_BELOW_BOUND, bound
        says = f"less than the {bound:.1f} mm that any pulse needs"
    else:
        rule, threshold = rules_of.DEPTH_BELOW_SQUARE, (bound, square)
        says = f"less than the {square:.1f} mm that a constant pulse needs ({bound:.1f} mm any)"
    return Finding(
        rule,
        Region(
            f"{point.name} under the {depth.headform} headform area",
            outline_mm=(depth.skin, (point.x, point.y, point.z)),
        ),
        point.y,
        free,
        f"{_what(depth)} has {free:.1f} mm free depth along the {depth.headform} headform's "
        f"travel ({depth.along_normal:.1f} mm along the normal), {says} for HIC {hic:g} at "
        f"{speed:g} km/h{_also(cases)}.",
        f"{depth.headform} headform test at y = {point.y:g} mm, WAD {depth.wad:.0f}",
        threshold=threshold,
    )


def _also(cases: str) -> str:
    return f"; a constant pulse would also need {cases}, any pulse 75 % of that" if cases else ""

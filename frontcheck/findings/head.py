"""Head findings: how headforms meet the skin, bends, parts, and where the area begins."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.findings.finding import Finding, Region, hits, merged, patches
from frontcheck.findings.finding_rules import HEAD_RULES
from frontcheck.findings.hard_points import hard_point_findings
from frontcheck.findings.head_points import bend_radius, wad_at
from frontcheck.geometry.polyline import nearest, value_at

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from frontcheck.findings.finding import Hit
    from frontcheck.findings.finding_settings import HeadSettings
    from frontcheck.findings.hard_points import HeadContact
    from frontcheck.findings.head_points import HeadAreas, HeadPoint
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section

_BORDER_MM: Final = 0.5
"""Points this much beyond a reference line still count: borders lie an offset inside the lines, and
along the tape the two agree to less than this."""


def head_findings(
    lined: LinedFront, head: HeadContact, settings: HeadSettings
) -> tuple[Finding, ...]:
    """Return what headforms meet on a front."""
    # The other half of a symmetric front is the mirror image; what is said holds for either side.
    half = lined.front.symmetric
    points = [point for point in head.points if not half or point.y >= 0.0]
    return (
        *_angles(lined, points, head.zones.options.grid_mm, settings),
        *_wad_1000(lined),
        *_bends(lined, head.areas, settings),
        *_cowl(lined, head.areas),
        *hard_point_findings(lined, head.depths, settings.hic),
    )


# --- at grid points ------------------------------------------------------------------


def _angles(
    lined: LinedFront, points: Sequence[HeadPoint], spacing: float, settings: HeadSettings
) -> Iterator[Finding]:
    cases: tuple[tuple[str, float, Callable[[HeadPoint], bool], str, str], ...] = (
        (
            "HEAD-NEAR-NORMAL",
            settings.near_normal_deg,
            lambda p: p.angle_deg <= settings.near_normal_deg,
            "meets the skin nearly square",
            "not more than",
        ),
        (
            "HEAD-GLANCING",
            settings.glancing_deg,
            lambda p: p.angle_deg >= settings.glancing_deg,
            "grazes the skin",
            "not less than",
        ),
    )
    for code, limit, holds, says, than in cases:
        sign = 1.0 if code == "HEAD-GLANCING" else -1.0
        for area in ("child", "adult"):
            chosen = [p for p in points if p.area == area and holds(p)]
            if not chosen:
                continue
            for group in patches(np.array([(p.y, p.wad) for p in chosen]), spacing):
                patch = [chosen[i] for i in group]
                worst = max(patch, key=lambda p: sign * p.angle_deg)
                yield Finding(
                    HEAD_RULES[code],
                    Region(f"{area} headform area", outline_mm=tuple(p.xyz for p in patch)),
                    worst.y,
                    worst.angle_deg,
                    f"{area.capitalize()} headform {says} at {_extent(lined, patch)}; clearest at "
                    f"{_place(worst)}: {worst.angle_deg:.0f} deg from the normal, {than} "
                    f"{limit:g} deg ({100.0 * worst.normal_share:.0f} % of its speed along it).",
                    _test(worst),
                    threshold=limit,
                )


def _extent(lined: LinedFront, points: Sequence[HeadPoint]) -> str:
    ys, wads = [p.y for p in points], [p.wad for p in points]
    across = f"y = {min(ys):g}" + (f" to {max(ys):g}" if max(ys) > min(ys) else "") + " mm"
    if lined.front.symmetric and (min(ys), max(ys)) != (0.0, 0.0):
        across += " (either side)"
    along = f"{min(wads):g}" + (f" to {max(wads):g}" if max(wads) > min(wads) else "")
    return f"{across}, WAD {along}"


def _place(point: HeadPoint) -> str:
    return f"y = {point.y:g} mm, WAD {point.wad:g}"


def _test(point: HeadPoint) -> str:
    return f"{point.area} headform test at {_place(point)}"


# --- at stations ---------------------------------------------------------------------


def _wad_1000(lined: LinedFront) -> Iterator[Finding]:
    limit = lined.rules.value("child_area.wad_front_mm")
    return merged(
        lined,
        HEAD_RULES["HEAD-WAD1000-AHEAD"],
        "face below the leading edge",
        [_past(lined, station, limit) for station in lined.stations],
        f"WAD {limit:g} lies on the face, ahead of the leading edge,",
        lambda y: f"no headform test of the rule set reaches the face at y = {y:g} mm; ask for one",
    )


def _past(lined: LinedFront, station: Station, limit: float) -> Iterator[Hit]:
    edge = station.BLERL.point
    if edge is None or station.tape_x is None:
        return
    first = next((w for w in station.wads if w.distance == limit), None)
    if first is not None and first.x is not None and first.z is not None:
        # What lies ahead of the first point at the limit is nearer: no tape has to be hung.
        section = lined.front.section(station.y)
        found = nearest(section.points, [edge, (first.x, first.z)])
        arcs = [
            value_at(section.arc_lengths, int(stretch), float(t))
            for stretch, t in zip(found.stretch, found.t, strict=True)
        ]
        if arcs[0] < arcs[1]:
            return
    tape = lined.tape(station.y)
    wad, marks = wad_at(tape, edge), tape.solve(limit)
    if marks:
        detail = f"BLERL at WAD {wad:.0f}, more than {limit:g} mm"
        mark = (marks[0].x, marks[0].z)
        yield from hits(HEAD_RULES["HEAD-WAD1000-AHEAD"], wad, limit, mark, edge, detail)


def _bends(lined: LinedFront, areas: HeadAreas, settings: HeadSettings) -> Iterator[Finding]:
    for name, rear in (("leading edge and bonnet front", False), ("bonnet rear and cowl", True)):
        yield from merged(
            lined,
            HEAD_RULES["HEAD-SHARP-BEND"],
            name,
            [_bend(lined, station, areas, settings, rear=rear) for station in lined.stations],
            f"Skin is bent sharply at the {name}",
            lambda y: f"headform test at the bend, y = {y:g} mm, if the rules allow a point there",
        )


def _bend(
    lined: LinedFront, station: Station, areas: HeadAreas, settings: HeadSettings, *, rear: bool
) -> Iterator[Hit]:
    """Sharpest bend of one section that headforms reach, nearer to BRRL or to BLERL."""
    ranges = areas.at(station.y)
    if not ranges or station.tape_x is None:
        return
    section = lined.front.section(station.y)
    radius = bend_radius(section.points, section.arc_lengths, settings.bend_length_mm)
    reach = lined.rules.value("headform.area_offset_mm") + _BORDER_MM
    sharp = radius < settings.bend_radius_mm
    if lined.tape_start == "section":
        # The tape hangs straight below its start; along the skin it is no shorter: what is too
        # near even so needs no tape to be hung.
        start = station.tape_start
        farthest = section.z[start] + section.arc_lengths - section.arc_lengths[start]
        sharp &= farthest >= min(area.front for area in ranges) - reach
    sharp[: station.tape_start] = False
    if not sharp.any():
        return
    wad = lined.tape(station.y).distances_up
    middle = (ranges[0].front + max(r.rear for r in ranges)) / 2.0
    within = np.zeros(len(section), dtype=bool)
    for area in ranges:
        within |= (wad >= area.front - reach) & (wad <= area.rear + reach)
    within &= (wad > middle) if rear else (wad <= middle)
    within &= sharp
    if not within.any():
        return
    i = int(np.argmin(np.where(within, radius, np.inf)))
    at = (float(section.x[i]), float(section.z[i]))
    inside = any(area.front <= wad[i] <= area.rear for area in ranges)
    detail = (
        f"radius {radius[i]:.0f} mm over {settings.bend_length_mm:g} mm at WAD {wad[i]:.0f}, "
        f"less than {settings.bend_radius_mm:g} mm, "
        f"{'inside a headform area' if inside else 'between a headform area and its line'}"
    )
    rule, limit = HEAD_RULES["HEAD-SHARP-BEND"], settings.bend_radius_mm
    yield from hits(rule, float(radius[i]), limit, at, at, detail)


def _cowl(lined: LinedFront, areas: HeadAreas) -> Iterator[Finding]:
    return merged(
        lined,
        HEAD_RULES["HEAD-COWL-INSIDE"],
        "cowl",
        [_cowl_hits(lined, station, areas) for station in lined.stations],
        "Cowl lies inside a headform area",
        lambda y: f"headform test on the cowl at y = {y:g} mm",
    )


def _cowl_hits(lined: LinedFront, station: Station, areas: HeadAreas) -> Iterator[Hit]:
    """Stretch of the cowl of one section that lies inside the headform areas."""
    section = lined.front.section(station.y)
    if not section.has_part("cowl") or station.tape_x is None:
        return
    tape = lined.tape(station.y)
    length, ends = 0.0, []
    for area in areas.at(station.y):
        fronts, rears = tape.solve(area.front), tape.solve(area.rear)
        if not fronts or not rears:
            continue
        low = value_at(section.arc_lengths, fronts[0].stretch, fronts[0].t)
        high = value_at(section.arc_lengths, rears[0].stretch, rears[0].t)
        for start, end in _part_runs(section, "cowl"):
            a, b = max(start, low), min(end, high)
            if b > a:
                length += b - a
                ends += [a, b]
    if not ends:
        return
    first, last = (
        (float(p[0]), float(p[1])) for p in section.at_arc_length([min(ends), max(ends)])
    )
    rule, detail = HEAD_RULES["HEAD-COWL-INSIDE"], f"{length:.0f} mm of it along the section"
    yield from hits(rule, length, 0.0, first, last, detail)


def _part_runs(section: Section, part: str) -> list[tuple[float, float]]:
    """Lengths along the contour between the first and last point of each run of a part."""
    mask, arcs = section.part_mask(part), section.arc_lengths
    found: list[tuple[float, float]] = []
    for i in np.flatnonzero(mask).tolist():
        if i and mask[i - 1]:
            found[-1] = (found[-1][0], float(arcs[i]))
        else:
            found.append((float(arcs[i]), float(arcs[i])))
    return found

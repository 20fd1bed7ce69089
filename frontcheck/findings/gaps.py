"""Gap findings: what no test of the rule set covers, and what could not be assessed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.findings.finding import (
    Finding,
    Region,
    hits,
    merged,
    stations_text,
)
from frontcheck.findings.finding_rules import GAP_RULES
from frontcheck.findings.head_points import wad_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.finding import Hit
    from frontcheck.findings.finding_settings import HeadSettings
    from frontcheck.findings.hard_points import DepthAbove, HeadContact
    from frontcheck.findings.head_points import HeadAreas
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.zones.front_zones import FrontZones


def gap_findings(
    lined: LinedFront, head: HeadContact, settings: HeadSettings
) -> tuple[Finding, ...]:
    """Return what no test covers and what could not be assessed."""
    return (
        *_stretches(lined, head.areas, settings),
        *_beside(lined, head.zones),
        *_areas(lined, head.zones),
        *_hard_points(lined, head.depths),
        *_missing(lined),
    )


def _stretches(lined: LinedFront, areas: HeadAreas, settings: HeadSettings) -> Iterator[Finding]:
    rules = lined.rules.id
    # (EC) 631/2009 has an upper legform test on the leading edge, for monitoring; from memory.
    apart = ", apart from the upper legform for monitoring," if rules.startswith("EU-") else ""
    yield from merged(
        lined,
        GAP_RULES["GAP-BUMPER-TO-HEAD"],
        "bumper to headform area",
        [_before(lined, station, areas, settings.gap_mm) for station in lined.stations],
        f"No test of {rules}{apart} is aimed between UBRL and the headform areas",
        lambda y: (
            f"nothing in {rules}; ask for an upper legform test on the leading edge and a "
            f"child headform test ahead of the area, at y = {y:g} mm"
        ),
    )
    if lined.rules.flag("headform.windscreen"):  # what lies behind is tested, and not formed here
        return
    last = lined.rules.value("adult_area.wad_rear_mm")
    yield from merged(
        lined,
        GAP_RULES["GAP-REAR-OF-HEAD"],
        "rear of the headform areas",
        [_behind(lined, station, areas, settings.gap_mm, last) for station in lined.stations],
        f"No headform test of {rules} is aimed between the headform areas and WAD {last:g}",
        lambda y: (
            f"nothing in {rules}; ask for headform tests on bonnet edge, cowl and "
            f"windscreen at y = {y:g} mm"
        ),
    )


def _before(lined: LinedFront, station: Station, areas: HeadAreas, least: float) -> Iterator[Hit]:
    bumper, ranges = station.UBRL.point, areas.at(station.y)
    if bumper is None or not ranges or station.tape_x is None:
        return
    tape = lined.tape(station.y)
    start, front = wad_at(tape, bumper), ranges[0].front
    ends, length = tape.solve(front), front - start
    if ends:
        detail = f"WAD {start:.0f} to {front:.0f}, {length:.0f} mm, more than {least:g} mm"
        end = (ends[0].x, ends[0].z)
        yield from hits(GAP_RULES["GAP-BUMPER-TO-HEAD"], length, least, bumper, end, detail)


def _behind(
    lined: LinedFront, station: Station, areas: HeadAreas, least: float, last: float
) -> Iterator[Hit]:
    ranges = areas.at(station.y)
    if not ranges or station.tape_x is None:
        return
    tape = lined.tape(station.y)
    rear = max(area.rear for area in ranges)
    starts, ends, length = tape.solve(rear), tape.solve(last), last - rear
    if starts and ends:
        detail = f"WAD {rear:.0f} to {last:g}, {length:.0f} mm, more than {least:g} mm"
        start, end = (starts[0].x, starts[0].z), (ends[0].x, ends[0].z)
        yield from hits(GAP_RULES["GAP-REAR-OF-HEAD"], length, least, start, end, detail)


def _beside(lined: LinedFront, zones: FrontZones) -> Iterator[Finding]:
    """Measured width outboard of the bumper test area, the wider side when they differ."""
    area = zones.bumper_test_area
    if area.y_min is None or area.y_max is None:
        return
    ys = lined.front.full().stations
    sides = [("right", ys[-1] - area.y_max, ys[-1])]
    if not lined.front.symmetric:
        sides.append(("left", area.y_min - ys[0], ys[0]))
    for side, width, outermost in sides:
        if width <= 0.0:
            continue
        edge = area.y_max if side == "right" else area.y_min
        beyond = [s for s in lined.stations if (s.y - edge) * (1 if side == "right" else -1) > 0.0]
        outline = tuple((p[0], s.y, p[1]) for s in beyond if (p := s.UBRL.point))
        where = "either side" if lined.front.symmetric else side
        yield Finding(
            GAP_RULES["GAP-BESIDE-BUMPER"],
            Region("bumper corner", outline_mm=outline),
            outermost if outermost in {s.y for s in lined.stations} else None,
            width,
            f"The front goes on {width:.0f} mm outboard of the bumper test area ({where}), from "
            f"y = {edge:.0f} to {outermost:g} mm as measured; no legform test is aimed there.",
            f"nothing in {lined.rules.id}; ask for a legform test outboard of y = {edge:.0f} mm",
        )


def _areas(lined: LinedFront, zones: FrontZones) -> Iterator[Finding]:
    for area in (zones.child_area, zones.adult_area):
        name = f"{area.name} headform area"
        if not area.area_m2:
            reason = f": {area.reason}" if area.reason else ""
            known = area.area_m2 is not None
            yield Finding(
                GAP_RULES["GAP-NO-HEAD-AREA"],
                Region(name),
                None,
                None,
                f"There is no {name}{reason}."
                if known
                else f"The {name} could not be formed{reason}.",
                f"nothing in {lined.rules.id} for this headform; ask for tests at the wrap-around "
                "distances where such heads land"
                if known
                else "further measurement, so that the area can be formed",
            )
        elif not any(point.area == area.name for point in zones.grid):
            wads = [wad for outline in area.outlines for wad in outline.wad if wad is not None]
            extent = max(wads, default=0.0) - min(wads, default=0.0)
            spacing = zones.options.grid_mm
            yield Finding(
                GAP_RULES["GAP-NO-GRID-POINT"],
                Region(name, outline_mm=area.outlines[0].points if area.outlines else ()),
                None,
                None,
                f"The {name} reaches over {extent:.0f} mm along the tape at most, and no point of "
                f"the {spacing:g} mm grid falls into it.",
                f"a finer grid, or {area.name} headform tests in the area",
            )


def _hard_points(lined: LinedFront, depths: Sequence[DepthAbove]) -> Iterator[Finding]:
    for child, adult in zip(depths[::2], depths[1::2], strict=True):
        point = child.point
        if "outside" in (child.status, adult.status) or child.in_area or adult.in_area:
            continue
        if child.status == adult.status == "not assessed":
            why = child.reason
        else:
            under = " and ".join(
                f"{d.along_travel:.0f} mm along the {d.headform} headform's travel"
                for d in (child, adult)
                if d.along_travel is not None
            )
            why = f"the skin above it lies in no headform area (free depth {under})"
        yield Finding(
            GAP_RULES["GAP-HARD-POINT"],
            Region(point.name, outline_mm=((point.x, point.y, point.z),)),
            point.y,
            None,
            f"Hard point {point.name} ({point.kind}) at y = {point.y:g} mm is not assessed: {why}.",
            f"nothing in {lined.rules.id}; check the point, or ask for a headform test above it",
        )


def _missing(lined: LinedFront) -> Iterator[Finding]:
    said: dict[tuple[str, str], list[float]] = {}
    for station in lined.stations:
        for line in station.lines:
            if not line.formed:
                said.setdefault((line.name, line.reason), []).append(station.y)
    for (name, reason), ys in said.items():
        # Stations need not be neighbours here; the message counts them.
        where = stations_text(ys, lined.front)
        count = f", {len(ys)} stations" if len(ys) > 1 else ""
        yield Finding(
            GAP_RULES["GAP-LINE-MISSING"],
            Region(name),
            None,
            None,
            f"{name} could not be formed {where}{count}: {reason}.",
            "better or further measurement at these stations",
        )

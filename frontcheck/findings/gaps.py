"""Gap findings: what no test of the rule set covers, and what could not be assessed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.findings.finding import (
    COMMON_PRACTICE,
    Finding,
    FindingRule,
    Region,
    StationHit,
    merged,
    stations_text,
)
from frontcheck.findings.hard_points import depths_above
from frontcheck.findings.head_points import HeadAreas, wad_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.finding_settings import HeadSettings
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.reading.hard_point_file import HardPoint
    from frontcheck.zones.front_zones import FrontZones

_COVERED: Final = (
    "test areas of the rule set (UN GTR 9, UN R127: legform on the bumper, headforms on the bonnet "
    f"top); threshold: {COMMON_PRACTICE}"
)
_NO_JUDGEMENT: Final = (
    "Says only that the rule set tests nothing there, not that the shape there is good or bad. "
    "Other rules and consumer tests cover other stretches. "
)

BUMPER_TO_HEAD: Final = FindingRule(
    code="GAP-BUMPER-TO-HEAD",
    topic="gap",
    title="no test between bumper and headform area",
    meaning=(
        "Between UBRL (upper bumper reference line) and the front border of the headform areas "
        "lies a stretch that neither legform nor headform tests of the rule set aim at. Thigh and "
        "pelvis of adults and trunk and head of children meet it. Value: length along the tape."
    ),
    limits=_NO_JUDGEMENT
    + "A legform reaches above UBRL, but is aimed and judged at the bumper below it.",
    threshold=165.0,
    unit="mm",
    comparison=">",
    source=_COVERED,
    provenance="from memory",
)
REAR_OF_HEAD: Final = FindingRule(
    code="GAP-REAR-OF-HEAD",
    topic="gap",
    title="no headform test up to the last wrap-around distance",
    meaning=(
        "The headform areas end ahead of the wrap-around distance up to which the rule set looks, "
        "because the bonnet ends there (BRRL, bonnet rear reference line). What follows, the rear "
        "edge, the cowl and the lower windscreen, is where heads of adults land and is not "
        "tested. Value: length along the tape."
    ),
    limits=_NO_JUDGEMENT + "Later rules for windscreens are not part of this rule set.",
    threshold=165.0,
    unit="mm",
    comparison=">",
    source=_COVERED,
    provenance="from memory",
)
BESIDE_BUMPER: Final = FindingRule(
    code="GAP-BESIDE-BUMPER",
    topic="gap",
    title="bumper outside the test area",
    meaning=(
        "The front goes on outboard of the bumper test area, up to the outermost station measured; "
        "no legform test of the rule set is aimed there. Value: width on one side."
    ),
    limits=_NO_JUDGEMENT + "The vehicle may reach farther out than was measured.",
    threshold=0.0,
    unit="mm",
    comparison=">",
    source="bumper test area of the rule set (UN GTR 9, UN R127)",
    provenance="from memory",
)
NO_HEAD_AREA: Final = FindingRule(
    code="GAP-NO-HEAD-AREA",
    topic="gap",
    title="no headform area",
    meaning=(
        "One of the two headform areas has no extent or could not be formed, so no headform of "
        "that kind is aimed at this front, and none of the findings for it can be made."
    ),
    limits=_NO_JUDGEMENT,
    threshold=None,
    unit="",
    comparison="is",
    source="headform areas of the rule set (UN GTR 9, UN R127)",
    provenance="from memory",
)
NO_GRID_POINT: Final = FindingRule(
    code="GAP-NO-GRID-POINT",
    topic="gap",
    title="headform area narrower than the grid",
    meaning=(
        "A headform area exists but no point of the grid of candidates falls into it, so nothing "
        "is said about how a headform meets the skin there."
    ),
    limits="Ask for a finer grid to see into it.",
    threshold=None,
    unit="",
    comparison="is",
    source=COMMON_PRACTICE,
    provenance="from memory",
)
HARD_POINT: Final = FindingRule(
    code="GAP-HARD-POINT",
    topic="gap",
    title="hard point not assessed",
    meaning=(
        "A hard point of the list could not be compared with a stop distance: no skin is known "
        "above it, or no headform of the rule set is aimed at the skin above it."
    ),
    limits=_NO_JUDGEMENT,
    threshold=None,
    unit="",
    comparison="is",
    source="headform areas of the rule set (UN GTR 9, UN R127)",
    provenance="from memory",
)
LINE_MISSING: Final = FindingRule(
    code="GAP-LINE-MISSING",
    topic="gap",
    title="reference line missing",
    meaning=(
        "A reference line could not be formed at some stations, so the findings that need it are "
        "not made there. No finding there does not mean that nothing was found."
    ),
    limits="The reason given is that of the line itself.",
    threshold=None,
    unit="",
    comparison="is",
    source="reference lines of the rule set (UN GTR 9, UN R127)",
    provenance="from memory",
)

GAP_RULES: Final = (
    BUMPER_TO_HEAD,
    REAR_OF_HEAD,
    BESIDE_BUMPER,
    NO_HEAD_AREA,
    NO_GRID_POINT,
    HARD_POINT,
    LINE_MISSING,
)
"""Rules of the gap findings."""


def gap_findings(
    lined: LinedFront,
    zones: FrontZones,
    settings: HeadSettings,
    hard_points: Sequence[HardPoint] = (),
) -> tuple[Finding, ...]:
    """Return what no test covers and what could not be assessed."""
    areas = HeadAreas(zones)
    return (
        *_stretches(lined, areas, settings),
        *_beside(lined, zones),
        *_areas(lined, zones),
        *_hard_points(lined, zones, areas, hard_points),
        *_missing(lined),
    )


def _stretches(lined: LinedFront, areas: HeadAreas, settings: HeadSettings) -> Iterator[Finding]:
    rules = lined.rules.id
    # (EC) 631/2009 has an upper legform test on the leading edge, for monitoring; from memory.
    apart = ", apart from the upper legform for monitoring," if rules.startswith("EU-") else ""
    yield from merged(
        lined,
        BUMPER_TO_HEAD,
        "bumper to headform area",
        [_before(lined, station, areas, settings.gap_mm) for station in lined.stations],
        f"No test of {rules}{apart} is aimed between UBRL and the headform areas",
        lambda y: (
            f"nothing in {rules}; ask for an upper legform test on the leading edge and a "
            f"child headform test ahead of the area, at y = {y:g} mm"
        ),
        threshold=settings.gap_mm,
    )
    last = lined.rules.value("adult_area.wad_rear_mm")
    yield from merged(
        lined,
        REAR_OF_HEAD,
        "rear of the headform areas",
        [_behind(lined, station, areas, settings.gap_mm, last) for station in lined.stations],
        f"No headform test of {rules} is aimed between the headform areas and WAD {last:g}",
        lambda y: (
            f"nothing in {rules}; ask for headform tests on bonnet edge, cowl and "
            f"windscreen at y = {y:g} mm"
        ),
        threshold=settings.gap_mm,
    )


def _before(
    lined: LinedFront, station: Station, areas: HeadAreas, least: float
) -> StationHit | None:
    bumper, ranges = station.UBRL, areas.at(station.y)
    if bumper.x is None or bumper.z is None or not ranges or station.tape_x is None:
        return None
    tape = lined.tape(station.y)
    start = wad_at(tape, (bumper.x, bumper.z))
    ends = tape.solve(ranges[0].front)
    length = ranges[0].front - start
    if length <= least or not ends:
        return None
    detail = f"WAD {start:.0f} to {ranges[0].front:.0f}, {length:.0f} mm, more than {least:g} mm"
    return StationHit(length, length - least, (bumper.x, bumper.z), (ends[0].x, ends[0].z), detail)


def _behind(
    lined: LinedFront, station: Station, areas: HeadAreas, least: float, last: float
) -> StationHit | None:
    ranges = areas.at(station.y)
    if not ranges or station.tape_x is None:
        return None
    tape = lined.tape(station.y)
    rear = max(area.rear for area in ranges)
    starts, ends = tape.solve(rear), tape.solve(last)
    length = last - rear
    if length <= least or not starts or not ends:
        return None
    detail = f"WAD {rear:.0f} to {last:g}, {length:.0f} mm, more than {least:g} mm"
    return StationHit(
        length, length - least, (starts[0].x, starts[0].z), (ends[0].x, ends[0].z), detail
    )


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
        outline = tuple(
            (s.UBRL.x, s.y, s.UBRL.z)
            for s in beyond
            if s.UBRL.x is not None and s.UBRL.z is not None
        )
        where = "either side" if lined.front.symmetric else side
        yield Finding(
            BESIDE_BUMPER,
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
                NO_HEAD_AREA,
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
                NO_GRID_POINT,
                Region(name, outline_mm=area.outlines[0].points if area.outlines else ()),
                None,
                None,
                f"The {name} reaches over {extent:.0f} mm along the tape at most, and no point of "
                f"the {spacing:g} mm grid falls into it.",
                f"a finer grid, or {area.name} headform tests in the area",
            )


def _hard_points(
    lined: LinedFront,
    zones: FrontZones,
    areas: HeadAreas,
    hard_points: Sequence[HardPoint],
) -> Iterator[Finding]:
    depths = depths_above(lined, areas, hard_points, zones.loft)
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
            HARD_POINT,
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
            LINE_MISSING,
            Region(name),
            None,
            None,
            f"{name} could not be formed {where}{count}: {reason}.",
            "better or further measurement at these stations",
        )

"""Gap findings: what no test of the rule set covers, and what could not be assessed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.findings.finding import Finding, Region, stations_text
from frontcheck.findings.finding_rules import GAP_RULES, WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.hard_points import DepthAbove, HeadContact
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.zones.front_zones import FrontZones


def gap_findings(lined: LinedFront, head: HeadContact) -> tuple[Finding, ...]:
    """Return what no test covers and what could not be assessed."""
    return (
        *_areas(lined, head.zones),
        *_hard_points(lined, head.depths),
        *_missing(lined),
        *_unseen(lined),
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
                aside=not known,
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
                spread=(extent, extent),
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
            why = f"the skin above it lies in no headform area (room below the skin {under})"
        yield Finding(
            GAP_RULES["GAP-HARD-POINT"],
            Region(point.name, outline_mm=((point.x, point.y, point.z),)),
            point.y,
            None,
            f"Stiff part below the skin, {point.name} ({point.kind}) at y = {point.y:g} mm is not "
            f"assessed: {why}.",
            f"nothing in {lined.rules.id}; check the point, or ask for a headform test above it",
        )


def _missing(lined: LinedFront) -> Iterator[Finding]:
    said: dict[tuple[str, str], list[float]] = {}
    alone = len(lined.front.full().sections) < 2
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
            aside=alone and name == "BRRL",  # of one section there is none: said elsewhere
        )


def _unseen(lined: LinedFront) -> Iterator[Finding]:
    if lined.front.silhouette:
        codes = ", ".join(code for code, words in WORDS.items() if words.get("hidden"))
        y = lined.stations[0].y
        yield Finding(
            GAP_RULES["GAP-NOT-SEEN"],
            Region("recess and lower lip"),
            y,
            None,
            f"Recess and lower lip are not seen at y = {y:g} mm: a side photo shows the outline of "
            f"all stations at once. Whether these hold there is not known: {codes}.",
            f"setbacks of recess and lower lip, measured with a square at y = {y:g} mm",
        )

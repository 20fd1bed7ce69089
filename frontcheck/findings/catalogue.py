"""All findings of one front, and those of checks on the car."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.findings.body import body_findings
from frontcheck.findings.finding import Finding, Region, in_order, side_of
from frontcheck.findings.finding_rules import RULES, WORDS
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.findings.gaps import gap_findings
from frontcheck.findings.hard_points import head_contact
from frontcheck.findings.head import head_findings
from frontcheck.findings.leg_findings import leg_findings
from frontcheck.findings.struck_findings import struck_findings
from frontcheck.lines.lined_front import LinedFront
from frontcheck.lines.section_lines import rows_of
from frontcheck.lines.station import stretches

if TYPE_CHECKING:
    from collections.abc import Collection

    from frontcheck.body.motion import MotionStudy
    from frontcheck.findings.hard_points import HeadContact
    from frontcheck.sure.closure import Closure, ClosureReport
    from frontcheck.zones.front_zones import FrontZones

# Where what was measured on the car does not agree with itself.

_CLOSURE: Final = RULES["MEASUREMENT-CLOSURE"]


def closure_findings(report: ClosureReport) -> tuple[Finding, ...]:
    """Findings of the checks that disagree with the offsets."""
    return tuple(_closure_finding(each) for each in report.closures if each.verdict == "disagree")


def _closure_finding(closure: Closure) -> Finding:
    check, computed, combined = closure.check, closure.computed_mm, closure.combined_u_mm
    assert closure.normalised is not None
    times = abs(closure.normalised)
    return Finding(
        rule=_CLOSURE,
        region=Region(check.name),
        station=check.station,
        value=times,
        message=(
            f"{check.name} at y = {check.station:g} mm: {check.measured_mm:g} mm measured, "
            f"{computed:.1f} mm from the offsets, {times:.1f} times their combined standard "
            f"uncertainty of {combined:.1f} mm apart; more than {_CLOSURE.threshold:g} times "
            "asks for a second look at both."
        ),
        settled_by=f"measuring station y = {check.station:g} mm and the check again",
    )


def all_findings(
    lined: LinedFront,
    zones: FrontZones,
    settings: FindingSettings | None = None,
    head: HeadContact | None = None,
    motion: MotionStudy | None = None,
) -> tuple[Finding, ...]:
    """Return everything found on a front, and of people whom it strikes where that is known."""
    settings = FindingSettings() if settings is None else settings
    lined = _spread(lined, () if motion is None else (motion.sides[0].station.y,))
    head = head_contact(lined, zones, settings.hard_points) if head is None else head
    found = (
        *leg_findings(lined, settings.people, settings.leg, zones.bumper_test_area),
        *body_findings(lined, settings.people),
        *head_findings(lined, head, settings.head),
        *gap_findings(lined, head),
        *(() if motion is None else struck_findings(motion, head.areas, settings.hard_points)),
    )
    return in_order(lined, (_doubted(finding, lined) for finding in found))


_APART_MM: Final = 20.0
"""Stations closer than this are not searched one by one [mm]. Own choice: the default pitch of a
mesh; a feature narrower than that is narrower than any leg or head."""


def _spread(lined: LinedFront, kept: Collection[float]) -> LinedFront:
    """The stations at which findings are sought: from the middle outward, none too close."""
    ys = [station.y for station in lined.stations]
    middle = min(range(len(ys)), key=lambda i: abs(ys[i]))
    chosen = {middle, *(i for i, y in enumerate(ys) if y in kept)}
    for order in (range(middle + 1, len(ys)), range(middle - 1, -1, -1)):
        last = ys[middle]
        for i in order:
            if abs(ys[i] - last) >= _APART_MM or i in (0, len(ys) - 1):
                chosen.add(i)
                last = ys[i]
    rows = sorted(chosen)
    if len(rows) == len(ys):
        return lined
    front = replace(lined.front, sections=tuple(lined.front.sections[i] for i in rows))
    return LinedFront(
        front,
        lined.rules,
        tuple(lined.stations[i] for i in rows),
        lined.wad,
        lined.tape_start,
        batch=rows_of(lined.batch, np.array(rows)),
        tapes=lined.tapes,
    )


def _doubted(finding: Finding, lined: LinedFront) -> Finding:
    """Say so where a finding rests on a line that what was not measured could change."""
    side = side_of(lined)
    places = {y for _, y, _ in finding.region.outline_mm} | {finding.station}
    at = {y if y is None else side(y) for y in places}
    every = [s.y for s in lined.stations]
    doubts, doubted = [], set()
    for name in WORDS[finding.code].get("lines", ()):
        ys = [s.y for s in lined.stations if side(s.y) in at and name in s.open_ends]
        if ys:
            doubts.append(f"{name} at y = {stretches(ys, every)} mm")
            doubted |= {*map(side, ys)}
    if WORDS[finding.code].get("hidden") and lined.front.silhouette:
        note = "(read off the outline: recess and lower lip are not seen from the side)"
        message = f"{finding.message.removesuffix('.')} {note}."
        return replace(finding, message=message, aside=True)
    if not doubts:
        return finding
    note = f"(open end: {'; '.join(doubts)}: what lies beyond the measured surface could change it)"
    message = f"{finding.message.removesuffix('.')} {note}."
    return replace(finding, message=message, aside=at <= doubted)

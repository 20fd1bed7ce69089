"""In which order findings are told: from the ground up, then rearward, then by station."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.findings.contour_places import arc_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section

__all__ = ["STRETCHES", "in_order", "stretch_of"]

STRETCHES: Final = (
    "below the bumper",
    "bumper",
    "bumper to leading edge",
    "leading edge",
    "bonnet",
    "bonnet rear and windscreen",
    "whole front",
)
"""Stretches of a front from the ground up and then rearward, and what has no place of its own."""

_EDGE_MM: Final = 1.0
"""A region whose middle is this close to BLERL along the contour lies on the leading edge."""


def in_order(lined: LinedFront, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings from the ground up, then rearward, then by station."""
    # Regions are told apart by the stretch of the front that holds their middle, then by name, so
    # that the same region at another station, a little higher or lower, stays beside its like.
    # Regions of one stretch follow one another by their foremost middle along the contour.
    placed = [(f, STRETCHES.index(stretch_of(lined, f)), _along(lined, f)) for f in findings]
    first: dict[tuple[int, str], float] = {}
    for finding, stretch, along in placed:
        region = stretch, finding.region.name
        first[region] = min(along, first.get(region, along))

    def key(item: tuple[Finding, int, float]) -> tuple[int, float, str, float, str, str, str]:
        finding, stretch, _ = item
        name = finding.region.name
        y = float("inf") if finding.station is None else finding.station
        return (
            stretch, first[stretch, name], name, y, finding.code, finding.person, finding.message
        )  # fmt: skip

    return tuple(finding for finding, _, _ in sorted(placed, key=key))


def stretch_of(lined: LinedFront, finding: Finding) -> str:
    """Return the stretch of the front that holds the middle of a finding's region."""
    place = _middle(lined, finding)
    if place is None:
        return STRETCHES[-1]
    station, section, arc = place
    marks = []
    for line in (station.LBRL, station.UBRL, station.BLERL, station.BRRL):
        known = line.x is not None and line.z is not None
        marks.append(arc_of(section, (line.x, line.z)) if known else None)  # type: ignore[arg-type]
    lower, upper, edge, rear = marks
    if rear is not None and arc > rear - _EDGE_MM:
        return STRETCHES[5]
    if edge is not None and abs(arc - edge) <= _EDGE_MM:
        return STRETCHES[3]
    if edge is not None and arc > edge:
        return STRETCHES[4]
    if upper is not None and arc > upper + _EDGE_MM:
        return STRETCHES[2]
    if lower is not None and arc < lower - _EDGE_MM:
        return STRETCHES[0]
    return STRETCHES[1]


def _along(lined: LinedFront, finding: Finding) -> float:
    """Length along the contour from where the tape starts to the middle of a region."""
    place = _middle(lined, finding)
    if place is None:
        return 0.0
    station, section, arc = place
    return arc - float(section.arc_lengths[station.tape_start])


def _middle(lined: LinedFront, finding: Finding) -> tuple[Station, Section, float] | None:
    """Station, section and length along its contour of the middle of a region."""
    region = finding.region
    if region.arc_mm is not None and finding.station is not None:
        station = lined.station(finding.station)
        return station, lined.front.section(station.y), sum(region.arc_mm) / 2.0
    if not region.outline_mm:
        return None
    x, y, z = np.mean(region.outline_mm, axis=0).tolist()
    across = abs(y) if lined.front.symmetric else y
    station = min(lined.stations, key=lambda s: (abs(abs(s.y) - across), s.y))
    section = lined.front.section(station.y)
    return station, section, arc_of(section, (x, z))

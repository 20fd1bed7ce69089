"""Where findings lie along the contour of one section, as bands off the skin for a figure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.findings.finding import arc_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.findings.answer import AnswerLine
    from frontcheck.findings.finding import Finding
    from frontcheck.geometry.arrays import Array
    from frontcheck.surface.section import Section

_POINT_MM: Final = 36.0
"""Length of the band that stands for a point."""
_CLEAR_MM: Final = 16.0
_LANE_MM: Final = 26.0
"""First band this far off the skin, and the next ones each so much farther."""
_FILLED: Final = 0.62
_APART_MM: Final = 12.0
"""Least gap between two bands in one lane, along the skin."""
_NEAR_MM: Final = 50.0
"""Points of a region this close to the station, across the vehicle, count as in the section."""
_STEP_MM: Final = 8.0
_TURN_MM: Final = 20.0
"""The way along the contour at the middle of a band is taken over this length either way."""


@dataclass(frozen=True)
class Band:
    """Where one finding lies along the contour of a section."""

    number: int  # Its number in the whole list, from 1
    finding: Finding  # The finding
    low: float  # Lengths along the contour from its first point [mm]
    high: float  # Lengths along the contour from its first point [mm]
    skin: Array = field(repr=False)  # (k, 2) the stretch itself [mm]
    reach: float  # How far its lane reaches off the skin [mm]
    strip: Array = field(repr=False)  # (2 n, 2) out on the near side, back far [mm]
    middle: tuple[float, float]  # The point half-way [mm]
    direction: tuple[float, float]  # Unit vector along the contour there


def bands_of(
    section: Section, findings: Sequence[Finding], *, symmetric: bool = False
) -> tuple[Band, ...]:
    """Return where findings lie along the contour of one section, each in a free lane."""
    found: list[tuple[float, float, int]] = []
    for number, finding in enumerate(findings, start=1):
        arcs = _arcs(section, symmetric, finding)
        if arcs is None:
            continue
        low, high = arcs
        short = _POINT_MM - (high - low)
        if short > 0.0:
            low, high = low - short / 2.0, high + short / 2.0
        found.append((max(low, 0.0), min(high, section.length), number))
    return _in_lanes(section, found, dict(enumerate(findings, start=1)))


def longest_bands(
    section: Section, bands: Sequence[Band], lines: Sequence[AnswerLine]
) -> tuple[Band, ...]:
    """Return the longest band of every line of an answer, numbered as the lines are."""
    longest: dict[int, Band] = {}
    for n, line in enumerate(lines, start=1):
        of_line = [band for band in bands if band.finding.code in line.findings]
        if of_line:
            longest[n] = max(of_line, key=lambda band: band.high - band.low)
    places = [(band.low, band.high, n) for n, band in longest.items()]
    return _in_lanes(section, places, {n: band.finding for n, band in longest.items()})


def _in_lanes(
    section: Section, places: Sequence[tuple[float, float, int]], findings: Mapping[int, Finding]
) -> tuple[Band, ...]:
    lanes = _lanes(places)
    return tuple(
        _band(section, findings[number], number, (low, high), lanes[number])
        for low, high, number in places
    )


def _arcs(section: Section, symmetric: bool, finding: Finding) -> tuple[float, float] | None:
    """Where a finding lies along the contour of this section; None when it does not."""
    if finding.station == section.y and finding.region.arc_mm is not None:
        return finding.region.arc_mm
    points = np.array(finding.region.outline_mm).reshape(-1, 3)
    away = np.abs(points[:, 1] - section.y)
    if symmetric:
        away = np.minimum(away, np.abs(points[:, 1] + section.y))
    here = points[away <= _NEAR_MM]
    if len(here) == 0:
        return None
    arcs = [arc_of(section, (x, z)) for x, _, z in here.tolist()]
    return min(arcs), max(arcs)


def _lanes(bands: Sequence[tuple[float, float, int]]) -> dict[int, int]:
    """Lane of every band, short bands first: the innermost in which it overlaps none."""
    lanes: list[list[tuple[float, float]]] = []
    found: dict[int, int] = {}
    for low, high, number in sorted(bands, key=lambda b: (b[1] - b[0], b[0], b[2])):
        lane = 0
        while lane < len(lanes) and any(
            low < other_high + _APART_MM and other_low < high + _APART_MM
            for other_low, other_high in lanes[lane]
        ):
            lane += 1
        if lane == len(lanes):
            lanes.append([])
        lanes[lane].append((low, high))
        found[number] = lane
    return found


def _band(
    section: Section, finding: Finding, number: int, ends: tuple[float, float], lane: int
) -> Band:
    low, high = ends
    arcs = section.arc_lengths
    inner = arcs[(arcs > low) & (arcs < high)]
    middle = (low + high) / 2.0
    around = np.array([max(middle - _TURN_MM, 0.0), min(middle + _TURN_MM, section.length)])
    (x0, z0), (x1, z1) = section.at_arc_length(around).tolist()
    length = float(np.hypot(x1 - x0, z1 - z0))
    x, z = section.at_arc_length(middle).tolist()
    near = _CLEAR_MM + _LANE_MM * lane
    return Band(
        number,
        finding,
        low,
        high,
        section.at_arc_length(np.concatenate([[low], inner, [high]])),
        near + _LANE_MM,
        strip_along(section, ends, inner, near, near + _FILLED * _LANE_MM),
        (x, z),
        ((x1 - x0) / length, (z1 - z0) / length),
    )


def strip_along(
    section: Section, ends: tuple[float, float], inner: Array, near: float, far: float
) -> Array:
    """Return the outline of a strip along the air side of the contour."""
    stops = np.unique(np.concatenate([ends, inner, np.arange(*ends, _STEP_MM)]))
    # Normals smoothed over the width of the strip, so that it does not fold at a bend.
    reach = 0.5 * far + 4.0
    ahead = section.at_arc_length(np.minimum(stops + reach, section.length))
    behind = section.at_arc_length(np.maximum(stops - reach, 0.0))
    along = ahead - behind
    along /= np.hypot(*along.T)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    at = section.at_arc_length(stops)
    return np.concatenate([at + near * normal, (at + far * normal)[::-1]])

"""What a finding is, where it lies, and how what holds at many places is told as few findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import nearest, value_at
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Sequence

    from frontcheck.documents import Comparison
    from frontcheck.findings.finding_rules import FindingRule, Threshold
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section


@one_line
@dataclass(frozen=True)
class Region:
    """Where on the front a finding lies."""

    name: str  # In words, such as ``bumper`` or ``child headform area``
    arc_mm: tuple[float, float] | None = None
    outline_mm: tuple[tuple[float, float, float], ...] = ()


@one_line
@dataclass(frozen=True)
class Finding:
    """One thing to look at, with everything needed to check it."""

    rule: FindingRule  # The rule that found it
    region: Region  # Where it is
    station: float | None  # Station [mm]; None when it concerns the whole front
    value: float | None  # What was compared, in ``rule.unit``; None for a plain statement
    message: str  # One plain sentence with value and threshold in it
    settled_by: str  # The test that settles it, such as ``lower legform test at y = 250 mm``
    person: str = ""  # Reference person concerned; empty when it concerns none in particular
    threshold: Threshold | None = None
    spread: tuple[float, float] | None = None  # Least and greatest value where it holds at several
    aside: bool = False  # True of nearly every front, or of where no test is aimed: never a line

    @property
    def stations(self) -> tuple[float, ...]:
        """Where it holds [mm]; empty when it concerns the whole front."""
        ys = {y for _, y, _ in self.region.outline_mm}
        if not ys and self.station is not None:
            ys = {self.station}
        return tuple(sorted(ys))

    @property
    def code(self) -> str:
        """Stable code of the rule."""
        return self.rule.code

    @property
    def limit(self) -> Threshold | None:
        """What the value was compared with: its own threshold, else the rule's."""
        return self.rule.threshold if self.threshold is None else self.threshold

    @property
    def margin(self) -> float | None:
        """How far the value is beyond its threshold, in ``rule.unit``; None for a statement."""
        if self.value is None or self.limit is None:
            return None
        return beyond(self.rule.comparison, self.value, self.limit)


# Where findings lie: places on a section's contour, and stretches of stations in words.


def arc_of(section: Section, point: tuple[float, float]) -> float:
    """Return the length along the contour to the contour point nearest to a point."""
    found = nearest(section.points, point)
    return value_at(section.arc_lengths, int(found.stretch), float(found.t))


def line_region(
    name: str,
    section: Section,
    start: tuple[float, float],
    end: tuple[float, float],
    outline: Iterable[tuple[float, float, float]] = (),
) -> Region:
    """Return the region of one section between two points of its contour."""
    low, high = sorted((arc_of(section, start), arc_of(section, end)))
    return Region(name, (low, high), tuple(outline))


def runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """Return the first and last index of every unbroken run of true flags."""
    found: list[tuple[int, int]] = []
    for i, flag in enumerate(flags):
        if flag and i and flags[i - 1]:
            found[-1] = (found[-1][0], i)
        elif flag:
            found.append((i, i))
    return found


def stations_text(ys: Sequence[float], front: Front | None = None) -> str:
    """Return in words at which neighbouring stations something holds."""
    low, high = ys[0], ys[-1]
    text = f"at y = {low:g} mm" if low == high else f"at y = {low:g} to {high:g} mm"
    either = front is not None and front.symmetric and (low, high) != (0.0, 0.0)
    return f"{text} (either side)" if either else text


# One rule at many stations or grid points, told as few findings.

Point = tuple[float, float]


@dataclass(frozen=True)
class Hit:
    """One rule that holds at one station, for one person or for the front as such."""

    rule: FindingRule  # The rule
    value: float  # What was compared, in the unit of the rule
    threshold: Threshold  # What it was compared with
    margin: float  # How clearly the rule holds, 0 at the threshold
    start: Point  # Start (x, z) of the stretch of contour concerned [mm]
    end: Point  # End (x, z) of the stretch of contour concerned [mm]
    detail: str  # Value and threshold in words
    person: str = ""  # Name of the person concerned


def beyond(comparison: Comparison, value: float, threshold: Threshold) -> float:
    """How far a value lies beyond a threshold; above 0 where the comparison holds."""
    low, high = threshold if isinstance(threshold, tuple) else (threshold, threshold)
    above, below = value - low, high - value
    inside = min(above, below)
    return {"<": below, ">": above, "w": inside, "o": -inside, "i": 0.0}[comparison[0]]


def hits(
    rule: FindingRule,
    value: float,
    threshold: Threshold,
    start: Point,
    end: Point,
    detail: str,
    person: str = "",
) -> Iterator[Hit]:
    """Yield the hit where a rule holds of a value, and nothing where it does not."""
    margin = beyond(rule.comparison, value, threshold)
    if margin > 0.0 or (margin == 0.0 and rule.comparison not in ("<", ">")):
        yield Hit(rule, value, threshold, margin, start, end, detail, person)


@dataclass(frozen=True)
class Run:
    """One rule over neighbouring stations."""

    stations: tuple[Station, ...]  # The stations
    hits: tuple[Sequence[Hit], ...]  # What holds at each of them; never empty
    station: Station  # Where the rule holds most clearly
    worst: Hit  # And for whom

    @property
    def ys(self) -> list[float]:
        """Where the stations are [mm]."""
        return [station.y for station in self.stations]

    @property
    def spread(self) -> tuple[float, float]:
        """Least and greatest value."""
        values = [hit.value for at in self.hits for hit in at]
        return min(values), max(values)


def told(
    lined: LinedFront,
    rules: Iterable[FindingRule],
    found: Sequence[Sequence[Hit]],
    before: Collection[float] = (),
) -> Iterator[Run]:
    """Take what holds at each station rule by rule, in unbroken runs of stations."""
    # Stations named in `before` come before the others where the rule holds at both.
    for rule in rules:
        here = [[hit for hit in at if hit.rule is rule] for at in found]
        for first, last in runs([bool(at) for at in here]):
            stations, of = lined.stations[first : last + 1], here[first : last + 1]
            every = [(s, hit) for s, at in zip(stations, of, strict=True) for hit in at]
            station, worst = max(every, key=lambda pair: (pair[0].y in before, pair[1].margin))
            yield Run(tuple(stations), tuple(of), station, worst)


def merged(
    lined: LinedFront,
    rule: FindingRule,
    name: str,
    found: Iterable[Iterable[Hit]],
    says: str,
    settled_by: Callable[[float], str],
) -> Iterator[Finding]:
    """Tell one rule of the front as such once for every unbroken run of stations."""
    for run in told(lined, (rule,), [list(at) for at in found]):
        y, worst = run.station.y, run.worst
        one_place = worst.start == worst.end
        outline = [
            (x, at, z)
            for at, (hit,) in zip(run.ys, run.hits, strict=True)
            for x, z in ((hit.start,) if one_place else (hit.start, hit.end))
        ]
        clearest = "here" if len(run.stations) == 1 else f"clearest at y = {y:g} mm"
        yield Finding(
            rule,
            line_region(name, lined.front.section(y), worst.start, worst.end, outline),
            y,
            worst.value,
            f"{says} {stations_text(run.ys, lined.front)}; {clearest}: {worst.detail}.",
            settled_by(y),
            threshold=worst.threshold,
            spread=run.spread,
        )


def patches(places: Array, spacing: float) -> list[list[int]]:
    """Group grid points into patches of neighbours."""
    groups: list[list[int]] = []
    for i, place in enumerate(places):
        near = [
            group
            for group in groups
            if (np.abs(places[group] - place) <= 1.01 * spacing).all(axis=1).any()
        ]
        joined = sorted([i, *(k for group in near for k in group)])
        groups = [group for group in groups if group not in near]
        groups.append(joined)
    return sorted(groups)


# In which order findings are told: from the ground up, then rearward, then by station.

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


def side_of(lined: LinedFront) -> Callable[[float], float]:
    """How far out a y counts: of a half front one side stands for either."""
    return abs if lined.front.symmetric else float


def _middle(lined: LinedFront, finding: Finding) -> tuple[Station, Section, float] | None:
    """Station, section and length along its contour of the middle of a region."""
    region = finding.region
    if region.arc_mm is not None and finding.station is not None:
        station = lined.station(finding.station)
        return station, lined.front.section(station.y), sum(region.arc_mm) / 2.0
    if not region.outline_mm:
        return None
    x, y, z = np.mean(region.outline_mm, axis=0).tolist()
    side = side_of(lined)  # of two stations as near the one nearer the centre
    station = min(lined.stations, key=lambda s: (abs(side(s.y) - side(y)), abs(s.y)))
    section = lined.front.section(station.y)
    return station, section, arc_of(section, (x, z))

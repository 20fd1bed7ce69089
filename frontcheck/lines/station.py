"""The lines of one station: one row of a batch, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from frontcheck.lines.line_values import FORMED, NO_ANCHOR, NOT_AVAILABLE, NOT_SEEN, STATUSES
from frontcheck.lines.open_ends import open_reason
from frontcheck.lines.statuses import OPEN_END
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from frontcheck.lines.line_values import LineValues
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.lines.tool_poses import EdgePose, SpherePose, TapePath, Tools
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.face import FaceDescriptors

Legform = Literal["lower", "either", "upper"]


@one_line
@dataclass(frozen=True)
class LinePoint:
    """A reference line in one section."""

    name: str  # UBRL, LBRL, BLERL or BRRL
    status: str  # One of `frontcheck.lines.line_values.STATUSES`
    x: float | None  # The point [mm]; None when the line could not be formed
    z: float | None  # The point [mm]; None when the line could not be formed
    reason: str = ""  # Why the status is what it is; empty when there is nothing to say
    edge_angle_deg: float | None = None  # Lean of the straight edge that formed it [deg], for BLERL
    tools: Tools | None = field(default=None, repr=False, compare=False)  # What formed it
    other: tuple[float, float] | None = None  # Of LBRL: where its edge touches the underside first
    formed: bool = field(init=False, repr=False)  # Whether the line could be formed

    def __post_init__(self) -> None:
        """Say once whether there is such a point."""
        object.__setattr__(self, "formed", self.status in FORMED)

    @cached_property
    def pose(self) -> EdgePose | SpherePose | None:
        """The tool that formed it, where it rests; None where that is not kept."""
        return self.tools.pose(self.name) if self.tools is not None and self.formed else None

    @property
    def point(self) -> tuple[float, float] | None:
        """The point (x, z) [mm]; None when the line could not be formed."""
        return None if self.x is None or self.z is None else (self.x, self.z)


@one_line
@dataclass(frozen=True)
class WadPoint:
    """The first point at one wrap-around distance in one section."""

    distance: float  # Wrap-around distance [mm]
    status: str  # ``ok``, ``open_end``, ``not_reached`` or ``not_available``
    x: float | None  # The point [mm]; None when there is none
    z: float | None  # The point [mm]; None when there is none
    bridged: bool | None  # Whether the tape arrives there through air, across a recess
    reason: str = ""  # Why there is no point
    also_at: tuple[tuple[float, float], ...] = ()
    tools: Tools | None = field(default=None, repr=False, compare=False)  # What formed it
    number: int = field(default=0, repr=False)  # Which of the distances asked for it is
    formed: bool = field(init=False, repr=False)  # Whether there is such a point
    name: str = field(init=False, repr=False)  # Name of the mark, such as ``WAD 1000``

    def __post_init__(self) -> None:
        """Say once whether there is such a point, and its name."""
        object.__setattr__(self, "formed", self.status in FORMED)
        object.__setattr__(self, "name", f"WAD {self.distance:g}")

    @cached_property
    def tape(self) -> TapePath | None:
        """The way of the tape to it; None where that is not kept."""
        return self.tools.path(self.number) if self.tools is not None and self.formed else None


@one_line
@dataclass(frozen=True)
class Station:
    """All lines of one side section."""

    y: float  # Station [mm]
    UBRL: LinePoint  # Reference lines
    LBRL: LinePoint  # Reference lines
    BLERL: LinePoint  # Reference lines
    BRRL: LinePoint  # Reference lines
    wads: tuple[WadPoint, ...]  # Points at the wrap-around distances asked for, in that order
    legform: Legform | None  # Legform by lower bumper height; None where LBRL is not known
    foremost: tuple[float, float] | None  # Foremost bumper point (x, z) [mm]
    tape_x: float | None  # x at which the tape stands on the ground [mm]
    tape_start: int = 0  # Index of the contour point from which the tape is followed upward
    face: FaceDescriptors | None = None  # What its face looks like; left out of batches
    lines: tuple[LinePoint, ...] = field(init=False, repr=False)  # From below to the rear
    missing: tuple[str, ...] = field(init=False, repr=False)  # What is not formed, and why
    bumper_lead: float | None = field(init=False, repr=False)
    """Horizontal distance from UBRL to BLERL [mm], (EC) 631/2009 2.4; None without one."""

    open_ends: tuple[str, ...] = field(init=False, repr=False)  # Lines and marks not known
    lead_open_end: bool = field(init=False, repr=False)
    """Whether the bumper lead is not known, as one of its lines has an open end."""
    ble_height: float | None = field(init=False, repr=False)
    """Height of the bonnet leading edge, z of BLERL [mm], (EC) 631/2009 2.1."""
    upper_bumper_height: float | None = field(init=False, repr=False)
    """Height of UBRL [mm], 2004/90/EC 2.5.3-4."""
    lower_bumper_height: float | None = field(init=False, repr=False)
    """Height of LBRL [mm], 2004/90/EC 2.5.3-4."""

    def __post_init__(self) -> None:
        """Put together what is asked for again and again."""
        lines = (self.LBRL, self.UBRL, self.BLERL, self.BRRL)
        points: tuple[LinePoint | WadPoint, ...] = (*lines, *self.wads)
        missing = tuple(f"{point.name}: {point.reason}" for point in points if not point.formed)
        lead = None
        if self.BLERL.x is not None and self.UBRL.x is not None:
            lead = self.BLERL.x - self.UBRL.x
        known = {
            "lines": lines,
            "missing": missing,
            "bumper_lead": lead,
            "open_ends": tuple(point.name for point in points if point.status == OPEN_END),
            "lead_open_end": OPEN_END in (self.UBRL.status, self.BLERL.status),
            "ble_height": self.BLERL.z,
            "upper_bumper_height": self.UBRL.z,
            "lower_bumper_height": self.LBRL.z,
        }
        for name, value in known.items():
            object.__setattr__(self, name, value)

    def wad(self, distance: float) -> WadPoint:
        """Return the point at one of the wrap-around distances asked for."""
        for point in self.wads:
            if point.distance == distance:
                return point
        raise KeyError(
            f"WAD {distance:g} was not asked for; there are {[w.name for w in self.wads]}"
        )


def legform_for(lower_bumper_height: float, rules: RuleSet) -> Legform:
    """Return which legform the rules name for a lower bumper height."""
    if lower_bumper_height < rules.value("legform.lower_below_mm"):
        return "lower"
    if lower_bumper_height < rules.value("legform.upper_from_mm"):
        return "either"
    return "upper"


def station_of(
    batch: LineBatch,
    i: int,
    y: float,
    rules: RuleSet,
    *,
    wad_refused: str = "",
    tools: Tools | None = None,
    face: FaceDescriptors | None = None,
) -> Station:
    """Return one contour of a batch as plain values."""
    lower = _point(batch.LBRL, "LBRL", i, tools)
    if lower.status == "underside_first":
        lower = replace(lower, other=(float(batch.underside[i, 0]), float(batch.underside[i, 1])))
    bonnet_edge = _point(batch.BLERL, "BLERL", i, tools, float(batch.edge_angle_deg[i]))
    if wad_refused and bonnet_edge.status == "wad_1000":
        bonnet_edge = LinePoint("BLERL", STATUSES[NOT_AVAILABLE], None, None, wad_refused)
    found = bool(batch.anchor.found[i])
    return Station(
        y=y,
        UBRL=_point(batch.UBRL, "UBRL", i, tools),
        LBRL=lower,
        BLERL=bonnet_edge,
        BRRL=_point(batch.BRRL, "BRRL", i, tools),
        wads=tuple(_wad(batch, i, j, wad_refused, tools) for j in range(len(batch.distances))),
        legform=None
        if lower.z is None or lower.status == OPEN_END
        else legform_for(lower.z, rules),
        foremost=(float(batch.anchor.x[i]), float(batch.anchor.z[i])) if found else None,
        tape_x=float(batch.anchor_x[i]) if found and not wad_refused else None,
        tape_start=int(batch.anchor.start[i]),
        face=face,
    )


def _point(
    values: LineValues, name: str, i: int, tools: Tools | None, angle: float | None = None
) -> LinePoint:
    formed = bool(values.formed[i])
    return LinePoint(
        name,
        values.status(i),
        float(values.x[i]) if formed else None,
        float(values.z[i]) if formed else None,
        values.reason(i),
        angle if formed else None,
        tools,
    )


def _wad(batch: LineBatch, i: int, j: int, refused: str, tools: Tools | None) -> WadPoint:
    distance, marks = batch.distances[j], batch.WAD
    if refused:
        return WadPoint(distance, "not_available", None, None, None, refused)
    if not batch.anchor.found[i]:
        return WadPoint(distance, "not_available", None, None, None, NO_ANCHOR)
    if not marks.reached[i, j]:
        reason = "the contour ends, or the tape starts, at another side of this distance"
        return WadPoint(distance, "not_reached", None, None, None, reason)
    open_end, bridged = int(batch.wad_open[i, j]), bool(marks.bridged[i, j])
    hidden = bool(batch.silhouette[i]) and not bridged
    return WadPoint(
        distance,
        OPEN_END if open_end else "ok",
        float(marks.x[i, j]),
        float(marks.z[i, j]),
        None if hidden else bridged,
        open_reason(open_end) if open_end else NOT_SEEN if hidden else "",
        () if tools is None else tools.further(j),
        tools,
        j,
    )


def at_stations(ys: Collection[float], every: Collection[float]) -> str:
    """At which of all stations something holds."""
    if len(ys) == len(every) > 1:
        return "at all stations"
    return f"at y = {stretches(ys, every)} mm"


def stretches(ys: Collection[float], every: Iterable[float]) -> str:
    """Some of all stations, which rise; three neighbours and more as from-to."""
    runs: list[list[float]] = [[]]
    for y in every:
        if y in ys:
            runs[-1].append(y)
        elif runs[-1]:
            runs.append([])
    return ", ".join(
        f"{run[0]:g} to {run[-1]:g}" if len(run) > 2 else ", ".join(f"{y:g}" for y in run)
        for run in runs
        if run
    )

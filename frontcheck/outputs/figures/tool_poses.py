"""The measuring tools of a side view, where they stand: straight edges, taut tape, sphere."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.geometry.sphere import sphere_contact
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.geometry.tape import TapePoint
    from frontcheck.lines.station import LinePoint, Station
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section

_HOLLOW_MM = 0.5
"""Hollows shallower than this are below what a hand measurement can tell."""
_CUT_MM = 0.5
"""How far the body must stand ahead of an edge before the edge is drawn as shortened."""


@dataclass(frozen=True)
class EdgePose:
    """A straight edge where it touches."""

    line: str  # Name of the line it forms
    length: float  # Its length [mm] and lean from vertical [deg], positive rearward
    lean_deg: float  # Its length [mm] and lean from vertical [deg], positive rearward
    foot: tuple[float, float]  # Its lower end (x, z) [mm]
    used: tuple[float, float]  # Heights between which nothing of the body stands in its way [mm]

    @property
    def tip(self) -> tuple[float, float]:
        """Its upper end (x, z) [mm]."""
        return self.at(self.foot[1] + self.length * math.cos(math.radians(self.lean_deg)))

    @property
    def words(self) -> str:
        """Length and lean in words."""
        way = "rearward" if self.lean_deg > 0.0 else "forward"
        lean = f"{abs(self.lean_deg):g} deg {way}" if self.lean_deg else "upright"
        return f"straight edge {self.length:g} mm, {lean}"

    @property
    def shortened(self) -> bool:
        """Whether part of the edge would stand in the body."""
        return self.used != (self.foot[1], self.tip[1])

    def at(self, z: float) -> tuple[float, float]:
        """Return the point of the edge at a height."""
        return self.foot[0] + (z - self.foot[1]) * math.tan(math.radians(self.lean_deg)), z


@dataclass(frozen=True)
class Sphere:
    """The sphere where it rests."""

    centre: tuple[float, float]  # x and z [mm]
    radius: float  # Radius [mm]
    screen: tuple[float, float]  # Where it touches the windscreen [mm]


@dataclass(frozen=True)
class TapeRoute:
    """The tape to one mark."""

    distance: float  # Its length [mm]
    points: NDArray[np.float64]  # (k, 2) from the ground to the mark [mm]
    spans: tuple[NDArray[np.float64], ...]
    along: NDArray[np.float64]  # (2,) unit vector along the contour at the mark
    hollow: float  # Depth of the hollow across which the tape comes to the mark [mm]


def edge_poses(section: Section, station: Station, rules: RuleSet) -> tuple[EdgePose, ...]:
    """Return the straight edges of the lines that were formed, where they touch."""
    poses = []
    for line, prefix in ((station.LBRL, "lbrl"), (station.UBRL, "ubrl")):
        if line.x is None or line.z is None:
            continue
        length = rules.value(f"{prefix}.edge_length_mm")
        lean = rules.value(f"{prefix}.lean_deg") * (-1.0 if prefix == "lbrl" else 1.0)
        low = 0.0
        if prefix == "ubrl" and _held_free(section, rules):
            # The rules do not say where such an edge is held: drawn with its middle at the touch.
            low = max(line.z - length * math.cos(math.radians(lean)) / 2.0, 0.0)
        poses.append(_pose(section, line, StraightEdge.standing(length, lean, low), length))
    line = station.BLERL
    if line.formed and line.edge_angle_deg is not None:
        length = rules.value("blerl.edge_length_mm")
        edge = StraightEdge.standing(
            length, line.edge_angle_deg, rules.value("blerl.foot_height_mm")
        )
        poses.append(_pose(section, line, edge, length))
    return tuple(poses)


def _held_free(section: Section, rules: RuleSet) -> bool:
    parts = rules.texts("ubrl.parts")
    return section.has_part("bumper") and bool(parts) and not rules.flag("ubrl.foot_on_ground")


def _pose(section: Section, line: LinePoint, edge: StraightEdge, length: float) -> EdgePose:
    assert line.x is not None
    assert line.z is not None
    x, z = line.x, line.z
    if line.status == "wad_1000":
        # The line is elsewhere; the edge still stands where its end touches.
        touch = edge_contact(section.points[None], edge)
        x, z = float(touch.x[0]), float(touch.z[0])
    foot = float(edge.gap(np.array(x), np.array(z)))
    used = _used(section.points, edge, foot, z)
    return EdgePose(line.name, length, edge.lean_deg, (foot, edge.low), used)


def _used(
    points: NDArray[np.float64], edge: StraightEdge, foot: float, z: float
) -> tuple[float, float]:
    """Heights of the edge up to where the body stands ahead of it, either way from z."""
    low, high = edge.low, edge.high
    for (x0, z0), (x1, z1) in zip(points[:-1], points[1:], strict=True):
        if max(z0, z1) <= edge.low or min(z0, z1) >= edge.high or z0 == z1:
            continue
        # The stretch as far as the edge reaches, and how far it stands behind the edge there.
        ends = np.clip([z0, z1], edge.low, edge.high)
        gap = edge.gap(np.interp(ends, *_rising((z0, x0), (z1, x1))), ends) - foot
        if gap.min() >= -_CUT_MM:
            continue
        # Heights at which it stands ahead: cut off where it crosses the edge.
        if gap.max() > 0.0:
            crossing = ends[0] + gap[0] / (gap[0] - gap[1]) * (ends[1] - ends[0])
            ends = np.array([crossing, ends[gap.argmin()]])
        if ends.max() > z:
            high = min(high, max(float(ends.min()), z))
        else:
            low = max(low, float(ends.max()))
    return low, high


def _rising(
    a: tuple[float, float], b: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Heights and setbacks of two (z, x) points, the lower one first."""
    (z0, x0), (z1, x1) = sorted((a, b))
    return (z0, z1), (x0, x1)


def rear_sphere(section: Section, station: Station, rules: RuleSet) -> Sphere | None:
    """Return the sphere that formed BRRL, where it rests."""
    if not station.BRRL.formed:
        return None
    radius = rules.value("brrl.sphere_diameter_mm") / 2.0
    upper, first, last = (int(i) for i in Contours.of([section]).screen[0])
    rest = sphere_contact(section.points[None], radius, (first, last), upper)
    return Sphere(
        (float(rest.centre_x[0]), float(rest.centre_z[0])),
        radius,
        (float(rest.screen_x[0]), float(rest.screen_z[0])),
    )


def tape_routes(screening: Screening, y: float) -> tuple[TapeRoute, ...]:
    """Return the ways of the tape to the marks asked for."""
    station = screening.station(y)
    if station.tape_x is None:
        return ()
    tape = screening.tape(y)
    contour = screening.front.section(y).points
    routes = []
    for mark in station.wads:
        if not mark.formed:
            continue
        end: TapePoint = tape.solve(mark.distance)[0]
        bends = [i for i in end.path if 0 <= i < len(contour)]
        points = np.array([(station.tape_x, 0.0), *contour[bends], (end.x, end.z)])
        spans = [
            contour[a : b + 1] for a, b in map(sorted, tape.spans(end.path)) if b < len(contour)
        ]
        hollow = 0.0
        if end.bridged:
            first, last = sorted((end.path[-1], end.stretch))
            # What the tape passes on its way to the mark, with the mark as its last point.
            passed = contour[first : last + 1]
            turned = passed if end.path[-1] <= end.stretch else passed[::-1]
            spans.append(np.concatenate([turned, points[-1:]]))
            hollow = _depth(spans[-1])
        spans = [span[[0, -1]] for span in spans if _depth(span) >= _HOLLOW_MM]
        step = contour[end.stretch + 1] - contour[end.stretch]
        along = step / np.hypot(*step)
        routes.append(TapeRoute(mark.distance, points, tuple(spans), along, hollow))
    return tuple(routes)


def _depth(span: NDArray[np.float64]) -> float:
    """Greatest distance of a run of points from the line between its ends."""
    chord = span[-1] - span[0]
    off = span - span[0]
    return float(np.abs(chord[0] * off[:, 1] - chord[1] * off[:, 0]).max() / np.hypot(*chord))

"""The measuring tools of a side view, where they stand: straight edges, taut tape, sphere."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.contact.sphere import sphere_contact
from frontcheck.contact.straight_edge import StraightEdge, edge_contact
from frontcheck.contours import Contours

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.contact.tape import TapePoint
    from frontcheck.profile import Section
    from frontcheck.rules import RuleSet
    from frontcheck.screening import Screening
    from frontcheck.station import LinePoint, Station

__all__ = ["EdgePose", "Sphere", "TapeRoute", "edge_poses", "rear_sphere", "tape_routes"]

_CUT_MM = 0.5
"""How far the body must stand ahead of an edge before the edge is drawn as shortened."""


@dataclass(frozen=True)
class EdgePose:
    """A straight edge where it touches.

    Parameters
    ----------
    line : str
        Name of the line it forms.
    length, lean_deg : float
        Its length [mm] and lean from vertical [deg], positive rearward.
    foot, tip : tuple of float
        Its lower and its upper end (x, z) [mm].
    used : tuple of float
        Heights between which nothing of the body stands in its way [mm]; where the rules
        shorten the edge this is what is left of it.
    """

    line: str
    length: float
    lean_deg: float
    foot: tuple[float, float]
    tip: tuple[float, float]
    used: tuple[float, float]

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
        """Return the point of the edge at a height.

        Parameters
        ----------
        z : float
            Height [mm].

        Returns
        -------
        tuple of float
            x and z [mm].
        """
        return self.foot[0] + (z - self.foot[1]) * math.tan(math.radians(self.lean_deg)), z


@dataclass(frozen=True)
class Sphere:
    """The sphere where it rests.

    Parameters
    ----------
    centre : tuple of float
        x and z [mm].
    radius : float
        Radius [mm].
    screen : tuple of float
        Where it touches the windscreen [mm].
    """

    centre: tuple[float, float]
    radius: float
    screen: tuple[float, float]


@dataclass(frozen=True)
class TapeRoute:
    """The tape to one mark.

    Parameters
    ----------
    distance : float
        Its length [mm].
    points : ndarray
        (k, 2) from the ground to the mark [mm].
    spans : tuple of ndarray
        (2, 2) each: stretches where the tape runs through air over a hollow [mm].
    along : ndarray
        (2,) unit vector along the contour at the mark.
    """

    distance: float
    points: NDArray[np.float64]
    spans: tuple[NDArray[np.float64], ...]
    along: NDArray[np.float64]


def edge_poses(section: Section, station: Station, rules: RuleSet) -> tuple[EdgePose, ...]:
    """Return the straight edges of the lines that were formed, where they touch.

    Parameters
    ----------
    section : Section
        The section.
    station : Station
        Its lines.
    rules : RuleSet
        The constants they were formed with.

    Returns
    -------
    tuple of EdgePose
        Those of LBRL, UBRL and BLERL, as far as formed.
    """
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
    tip = foot + (edge.high - edge.low) * edge.slope
    return EdgePose(
        line.name, length, edge.lean_deg, (foot, edge.low), (tip, edge.high),
        _used(section.points, edge, foot, z),
    )  # fmt: skip


def _used(
    points: NDArray[np.float64], edge: StraightEdge, foot: float, z: float
) -> tuple[float, float]:
    """Heights of the edge up to where the body stands ahead of it, either way from z."""
    gap = edge.gap(points[:, 0], points[:, 1]) - foot
    if not (gap < -_CUT_MM).any():
        return edge.low, edge.high
    low, high = edge.low, edge.high
    for i in np.flatnonzero((gap[:-1] < 0.0) != (gap[1:] < 0.0)):
        if min(gap[i], gap[i + 1]) >= -_CUT_MM:
            continue
        t = gap[i] / (gap[i] - gap[i + 1])
        at = float(points[i, 1] + t * (points[i + 1, 1] - points[i, 1]))
        if z <= at < high:
            high = at
        elif low < at < z:
            low = at
    return low, high


def rear_sphere(section: Section, station: Station, rules: RuleSet) -> Sphere | None:
    """Return the sphere that formed BRRL, where it rests.

    Parameters
    ----------
    section : Section
        The section.
    station : Station
        Its lines.
    rules : RuleSet
        The constants they were formed with.

    Returns
    -------
    Sphere or None
        None when BRRL was not formed.
    """
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
    """Return the ways of the tape to the marks asked for.

    Parameters
    ----------
    screening : Screening
        The screening.
    y : float
        Station [mm].

    Returns
    -------
    tuple of TapeRoute
        One to every mark reached, in the order asked for; empty when no tape can be
        hung there.
    """
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
        spans = [contour[[a, b]] for a, b in tape.spans(end.path) if max(a, b) < len(contour)]
        if end.bridged:
            spans.append(points[-2:])
        step = contour[end.stretch + 1] - contour[end.stretch]
        routes.append(TapeRoute(mark.distance, points, tuple(spans), step / np.hypot(*step)))
    return tuple(routes)

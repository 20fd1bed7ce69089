"""One section of a front as a person meets it: a wall, its parts, and whether one plane will do.

Glossary
--------
place
    Where on the front a head may land; one of `PLACES`, or a part that is not covered.
plan normal
    Direction in which the outline of the front, seen from above, faces at a station; measured
    from straight ahead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.assumed import FRONT_PARTS
from frontcheck.body.assumptions import TOLD
from frontcheck.body.wall import Wall
from frontcheck.lines.statuses import OPEN_END

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.geometry.tape import TautTape
    from frontcheck.lines.lined_front import LinedFront, Side

PLACES: Final = ("bumper", "leading edge", "bonnet", "cowl", "windscreen")
"""Where a head may land."""
BEYOND: Final = "beyond what was measured"
"""Where a head lands that no contour was measured for."""
NOT_COVERED: Final = ("wing", "pillar")
"""Parts whose shape across the front matters: one plane says nothing of them."""
MOST_NORMAL_DEG: Final = TOLD["most_normal"]
"""Own choice: farther to the side a front turns whom it strikes, which one plane cannot show."""

_EDGE_MM: Final = TOLD["edge"]
"""So far behind BLERL along the contour the front counts as leading edge: own choice."""
_BESIDE_MM: Final = 50.0
"""The plan normal is taken over stations at least so far off: own choice, half a trunk's depth."""
_CENTRE_MM: Final = 1e-6


@dataclass(frozen=True)
class Band:
    """Wrap-around distances of one part of a front."""

    place: str  # One of `PLACES` or `NOT_COVERED`
    low_mm: float
    high_mm: float


@dataclass(frozen=True, eq=False)
class StruckFront:
    """One section as a wall."""

    # Plain arrays: it is handed to other processes.

    y: float  # Station [mm]
    points: Array  # (m + 1, 2) [mm]
    wall: Wall
    part: Index  # (m,) of every stretch, into `FRONT_PARTS`
    place: Index  # (m,) of every stretch, into `PLACES`, then `NOT_COVERED`
    edge: tuple[float, float]  # BLERL [mm]
    tape: TautTape | None
    open_marks: tuple[tuple[float, str], ...]  # Wrap-around distances not known, and why

    @classmethod
    def of(cls, side: Side) -> StruckFront:
        """Take it from a section whose leading edge is known."""
        section, station = side.section, side.station
        edge = station.BLERL.point
        if edge is None:
            raise ValueError("there is no leading edge")
        arcs = section.arc_lengths
        middle = (arcs[1:] + arcs[:-1]) / 2.0

        def along(point: tuple[float, float]) -> float:
            return float(arcs[np.hypot(*(section.points - point).T).argmin()])

        part = np.full(len(middle), FRONT_PARTS.index("bonnet"))
        part[middle < along(edge) + _EDGE_MM] = FRONT_PARTS.index("leading edge")
        top = station.UBRL.point
        if top is not None:
            part[middle < along(top)] = FRONT_PARTS.index("bumper")
        glass = np.flatnonzero(section.part_mask("windscreen"))
        screen = arcs[glass[0]] if len(glass) else math.inf
        part[middle > screen] = FRONT_PARTS.index("windscreen")
        place = np.array([PLACES.index(name) for name in FRONT_PARTS])[part]
        rear = station.BRRL.point
        behind = math.inf if rear is None else along(rear)
        place[(middle > behind) & (middle < screen)] = PLACES.index("cowl")
        cowl = section.part_mask("cowl")
        place[cowl[1:] & cowl[:-1]] = PLACES.index("cowl")
        for i, name in enumerate(NOT_COVERED, len(PLACES)):
            of_it = section.part_mask(name)
            place[of_it[1:] | of_it[:-1]] = i  # careful: where it only begins, too
        tape = None
        if station.tape_x is not None:
            from frontcheck.geometry.tape import TautTape

            tape = TautTape(section.points, station.tape_x, station.tape_start)
        wall = Wall(section.points / 1e3)
        open_marks = tuple((w.distance, w.reason) for w in station.wads if w.status == OPEN_END)
        return cls(station.y, section.points, wall, part, place, edge, tape, open_marks)

    def distances(self, stretch: Index, at: Array) -> Array:
        """Wrap-around distances of points (k, 2) on stretches (k,) [mm]."""
        if self.tape is None:
            return np.full(len(at), np.nan)
        found = np.empty(len(at))
        for i, (s, point) in enumerate(zip(stretch.tolist(), at, strict=True)):
            a, b = self.points[s : s + 2]
            step = b - a
            t = float(np.clip((point - a) @ step / (step @ step), 0.0, 1.0))
            found[i] = self.tape.at(s, t).distance
        return found

    def bands(self) -> tuple[Band, ...]:
        """Which wrap-around distances belong to which part, as far as they are known."""
        if self.tape is None:
            return ()
        start, known = self.tape.start, min((d for d, _ in self.open_marks), default=math.inf)
        # Into a recess the tape grows shorter again: a band goes as far as its farthest point.
        far = np.minimum(np.maximum.accumulate(self.tape.distances_up[start:]), known)
        place = self.place[start:]
        ends = [0, *(np.flatnonzero(np.diff(place)) + 1).tolist(), len(place)]
        return tuple(
            Band((*PLACES, *NOT_COVERED)[place[a]], float(far[a]), float(far[b]))
            for a, b in pairwise(ends)
            if far[b] > far[a]
        )


def refusal(lined: LinedFront, side: Side) -> str:
    """Why a body in one plane says nothing there; empty where it does."""
    station = side.station
    if not station.BLERL.formed:
        return f"no leading edge is known there: {station.BLERL.reason}"
    ended = [line.name for line in station.lines[:3] if line.status == OPEN_END]
    if ended:
        return (
            f"the contour ends where {' and '.join(ended)} may yet lie (open end): what is below "
            "the leading edge is not known; measure on"
        )
    normal = plan_normal_deg(lined, side)
    if normal is None and abs(station.y) > _CENTRE_MM:
        return "the plan shape is not known, so neither is whether the front faces straight ahead"
    if normal is not None and normal > MOST_NORMAL_DEG:
        return (
            f"the front faces {normal:.0f} deg to the side there, more than "
            f"{MOST_NORMAL_DEG:g} deg: it would turn the person, which one plane cannot show; "
            "take a station nearer the centre"
        )
    return ""


def plan_normal_deg(lined: LinedFront, side: Side) -> float | None:
    """How far the outline of a front turns from straight ahead; None where it is not known."""
    here = side.station.foremost
    if lined.front.datum == "local" or here is None:
        return None
    y = side.station.y
    ahead = {s.y: s.foremost[0] for s in lined.stations if s.foremost is not None}
    if lined.front.symmetric:
        ahead |= {-at: x for at, x in ahead.items()}
    slopes = []
    for sign in (-1.0, 1.0):
        off = {sign * (at - y): x for at, x in ahead.items() if sign * (at - y) > _CENTRE_MM}
        if off:
            far = min((gap for gap in off if gap >= _BESIDE_MM), default=max(off))
            slopes.append((far, sign * (off[far] - here[0]) / far))
    if not slopes:
        return None
    whole = sum(gap for gap, _ in slopes)
    # The slope of a parabola through the three; at a ridge, where either side leaves, the lesser.
    slope = sum((whole - gap) * s for gap, s in slopes) / whole if len(slopes) > 1 else slopes[0][1]
    steepest = max(abs(slope), min(abs(s) for _, s in slopes))
    return math.degrees(math.atan(steepest))

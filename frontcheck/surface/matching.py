"""Which place of one section goes with which place of its neighbour.

Glossary
--------
u
    Coordinate along every section, 0 at its first point and 1 at its last; places of the
    same u belong together.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import points_at
from frontcheck.surface.face import face_range
from frontcheck.surface.section import PARTS, Section, stretch_parts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array, Index

# Between landmarks that both sections have, equal shares of arc length go together:
#
# - where the same two parts meet in both, the foot of the windscreen before all others;
# - features: places where both turn sharply the same way (lips, leading edge, rear edge of the
#   bonnet, cowl, foot of the windscreen), so that these run as lines from station to station;
# - the foremost point and the two ends of the face (what lines inclined 25 deg forward and 45 deg
#   rearward touch first).
#
# A landmark of shape that moves along the contour by far more than the stations are apart is
# another feature and is left out.

_STRAY_MM: Final = 25.0
_STRAY_RATE: Final = 2.0
"""A landmark of shape may move by 25 mm plus twice the station distance, measured from the
foremost point; more than that is no longer the same feature. Own choice."""
_FEATURE_DEG: Final = 15.0
_FEATURE_SPAN_MM: Final = 15.0
"""A feature is where a contour turns by 15 deg or more from 15 mm before to 15 mm after: what a
hand feels as an edge. Own choice."""
_MOVES_MM: Final = 20.0
_MOVES_RATE: Final = 0.5
_TURNS_DEG: Final = 40.0
"""Features of neighbours are one when the sum of how far they stand apart, of 20 mm plus half the
station distance, and of how much their turns differ, of 40 deg, is less than 1. Own choice."""
_GLASS: Final = PARTS.index("windscreen")
_LEAST_WEIGHT: Final = 0.1
_LABEL_WEIGHT: Final = 2.0
"""A label says where parts meet, as surely as a feature that has not moved. Own choice."""
_FOOT_WEIGHT: Final = 100.0
"""Own choice, more than all other landmarks together: the sphere of BRRL must find glass behind the
foot."""
_SAME: Final = 1e-9


def match_sections(sections: Sequence[Section]) -> tuple[Array, ...]:
    """Give every contour point of every section its coordinate u."""
    centre = int(np.argmin([abs(section.y) for section in sections]))
    marks = [_Landmarks.of(section) for section in sections]
    whole = np.array([0.0, 1.0])
    knots = {centre: (whole * sections[centre].length, whole)}
    for order in (range(centre, len(sections) - 1), range(centre, 0, -1)):
        for i in order:
            j = i + (1 if order.step > 0 else -1)
            knots[j] = _carry(knots[i], *_pairs(marks[i], marks[j]))
    out = []
    for i, section in enumerate(sections):
        u = np.interp(section.arc_lengths, *knots[i])
        u[0], u[-1] = 0.0, 1.0
        out.append(u)
    return tuple(out)


def _carry(knots: tuple[Array, Array], here: Array, there: Array) -> tuple[Array, Array]:
    """Carry the map from arc length to u over to the neighbour."""
    s, u = knots
    every = np.union1d(s, here)
    every = every[np.concatenate([[True], np.diff(every) > _SAME * every[-1]])]
    every[-1] = s[-1]
    return np.interp(every, here, there), np.interp(every, s, u)


@dataclass(frozen=True, eq=False)
class _Landmarks:
    """What of a section may be found again in its neighbour, as indices of its points."""

    section: Section
    shape: dict[str, int]  # Ends of the face and the foremost point
    parts: dict[str, int]  # Where two parts meet
    at: Index  # Features
    turn: Array  # By how much the contour turns there [deg]
    place: Array  # Where they are, setbacks from the foremost point

    @classmethod
    def of(cls, section: Section) -> _Landmarks:
        shape = _shape_marks(section)
        at, turn = _features(section)
        # From the foremost point, for the plan shape moves all features alike.
        place = section.points[at] - [section.x[shape["foremost"]], 0.0]
        return cls(section, shape, _part_marks(section), at, turn, place)


def _pairs(one: _Landmarks, two: _Landmarks) -> tuple[Array, Array]:
    """Arc lengths of the landmarks that two sections share, both ends among them."""
    a, b = one.section, two.section
    allowed = _STRAY_MM + _STRAY_RATE * abs(a.y - b.y)
    from_a = a.arc_lengths - a.arc_lengths[one.shape["foremost"]]
    from_b = b.arc_lengths - b.arc_lengths[two.shape["foremost"]]
    shape = [(i, two.shape[name]) for name, i in one.shape.items()]
    shared = [
        (i, j, max(2.0 - _apart(one, two, i, j) / _moves(one, two), _LEAST_WEIGHT))
        for i, j in shape
        if abs(from_a[i] - from_b[j]) <= allowed and math.dist(a.points[i], b.points[j]) <= allowed
    ]
    shared += _same_features(one, two)
    shared += [
        (i, two.parts[name], _FOOT_WEIGHT if name.endswith(f"to {_GLASS}") else _LABEL_WEIGHT)
        for name, i in one.parts.items()
        if name in two.parts
    ]
    # What is a landmark in several ways weighs as much as all of them.
    weights: dict[tuple[int, int], float] = {}
    for i, j, weight in shared:
        if 0 < i < len(a) - 1 and 0 < j < len(b) - 1:
            weights[i, j] = weights.get((i, j), 0.0) + weight
    chosen = _in_order([(i, j, weight) for (i, j), weight in sorted(weights.items())])
    at_a = [0, *(i for i, _ in chosen), len(a) - 1]
    at_b = [0, *(j for _, j in chosen), len(b) - 1]
    return a.arc_lengths[at_a], b.arc_lengths[at_b]


def _in_order(pairs: list[tuple[int, int, float]]) -> list[tuple[int, int]]:
    """Weightiest choice of pairs that increases strictly in both."""
    best: list[tuple[float, list[tuple[int, int]]]] = []
    for i, j, weight in pairs:
        before = [chain for chain in best if chain[1][-1][0] < i and chain[1][-1][1] < j]
        most = max(before, key=lambda chain: chain[0], default=(0.0, []))
        best.append((most[0] + weight, [*most[1], (i, j)]))
    return max(best, key=lambda chain: chain[0], default=(0.0, []))[1]


def _moves(one: _Landmarks, two: _Landmarks) -> float:
    """How far a feature may move from one section to the other [mm]."""
    return _MOVES_MM + _MOVES_RATE * abs(one.section.y - two.section.y)


def _apart(one: _Landmarks, two: _Landmarks, i: int, j: int) -> float:
    """How far apart points of two sections stand, seen from the foremost point of each [mm]."""
    places = [
        each.section.points[k] - [each.section.x[each.shape["foremost"]], 0.0]
        for each, k in ((one, i), (two, j))
    ]
    return math.dist(*places)


def _same_features(one: _Landmarks, two: _Landmarks) -> list[tuple[int, int, float]]:
    """Features that two sections share, and how surely."""
    apart = np.hypot(*np.moveaxis(one.place[:, None] - two.place, -1, 0))
    cost = apart / _moves(one, two)
    cost += np.abs(one.turn[:, None] - two.turn) / _TURNS_DEG
    same = np.argwhere(cost < 1.0)
    return [(int(one.at[i]), int(two.at[j]), float(2.0 - cost[i, j])) for i, j in same]


def _features(section: Section) -> tuple[Index, Array]:
    """Points at which a contour turns sharply, and by how much [deg], left turns positive."""
    arcs, points = section.arc_lengths, section.points
    ends = np.clip([arcs - _FEATURE_SPAN_MM, arcs + _FEATURE_SPAN_MM], 0.0, arcs[-1])
    before, after = (points_at(points, arcs, end) for end in ends)
    into, out = points - before, after - points
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    turn = np.degrees(np.arctan2(cross, (into * out).sum(axis=1)))
    size = np.abs(turn)
    found: list[int] = []
    # The sharpest first; what lies within a span of it is the same edge.
    for i in np.argsort(-size, kind="stable").tolist():
        if size[i] < _FEATURE_DEG:
            break
        k = bisect.bisect_left(found, i)
        if all(abs(arcs[i] - arcs[j]) > _FEATURE_SPAN_MM for j in found[max(k - 1, 0) : k + 1]):
            found.insert(k, i)
    at = np.array(found, dtype=np.intp)
    return at, turn[at]


def _part_marks(section: Section) -> dict[str, int]:
    """Points at which one part ends and another begins, by their names."""
    own = stretch_parts(section.part_codes)
    at = np.flatnonzero(np.diff(own)) + 1
    return {f"{own[k - 1]} to {own[k]}": int(k) for k in at[::-1].tolist()}


def _shape_marks(section: Section) -> dict[str, int]:
    bottom, top = face_range(section.points)
    foremost = bottom + int(np.argmin(section.x[bottom : top + 1]))
    return {"face bottom": bottom, "foremost": foremost, "face top": top}

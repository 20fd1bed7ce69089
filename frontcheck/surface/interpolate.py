"""The surface of a front through its measured sections.

Glossary
--------
u
    Coordinate along every section, 0 at its first point and 1 at its last; places of the
    same u belong together (`frontcheck.surface.interpolate`).
smooth, straight
    Between stations x and z follow, at constant u, a shape-preserving cubic (PCHIP: it
    never leaves the range of its two neighbours) or a straight line. On a measured
    station either is exactly the measured section.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import ContourError
from frontcheck.geometry.polyline import points_at
from frontcheck.surface.face import face_range
from frontcheck.surface.section import PARTS, Section, stretch_parts
from frontcheck.surface.surface import Facets, Surface

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index

# Which place of one section goes with which place of its neighbour.
#
# Along every section a coordinate u runs from 0 at its first point to 1 at its last; places
# of the same u at neighbouring stations belong together. Between landmarks that both
# sections have, equal shares of arc length go together:
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


Between = Literal["smooth", "straight"]
"""How the surface runs from station to station."""

_SMOOTH_UP_TO: Final = 60
"""Stations up to which the smooth surface is the default: more are slices of a model, dense
enough for straight lines. Own choice: nobody measures as many by hand."""
_SAME_U: Final = 1e-7
_FACET_MM: Final = 5.0
"""Widest facet across the stations of a smooth surface [mm]: a plan radius of 1 m then lies
0.003 mm off at most."""


class StationSurface(Surface):
    """The surface through the measured sections of a front, interpolated between them."""

    def __init__(
        self, sections: tuple[Section, ...], *, symmetric: bool, method: Between | None = None
    ) -> None:
        if method is None:
            method = "smooth" if len(sections) <= _SMOOTH_UP_TO else "straight"
        if method not in ("smooth", "straight"):
            raise ValueError(f"method must be 'smooth' or 'straight', not {method!r}")
        self.method: Between = method
        self.symmetric = symmetric
        self.sections = sections
        self.stations: Array = np.array([s.y for s in sections])
        self.u = match_sections(sections)
        self._strips: dict[int, Strip] = {}

    @property
    def y_range(self) -> tuple[float, float]:
        """First and last measured station [mm]."""
        return float(self.stations[0]), float(self.stations[-1])

    @property
    def kind(self) -> str:
        """How it runs between stations."""
        return self.method

    def points(self, y: ArrayLike, u: ArrayLike) -> Array:
        """Return points of the surface."""
        ys, us = np.broadcast_arrays(
            np.asarray(y, dtype=np.float64), np.asarray(u, dtype=np.float64)
        )
        low, high = self.y_range
        if not (np.all((ys >= low) & (ys <= high)) and np.all((us >= 0.0) & (us <= 1.0))):
            raise ValueError(f"y must lie between {low:g} and {high:g} mm, and u between 0 and 1")
        flat_y, flat_u = ys.ravel(), us.ravel()
        cell = np.clip(
            np.searchsorted(self.stations, flat_y, side="right") - 1, 0, len(self.stations) - 2
        )
        out = np.empty((len(flat_y), 3))
        out[:, 1] = flat_y
        for i in np.unique(cell):
            here = cell == i
            out[here, ::2] = self._between(int(i), flat_y[here], flat_u[here])
        return out.reshape(*ys.shape, 3)

    def knots(self, y: float) -> Array:
        """Return the coordinates u between which a section of the surface runs straight."""
        i = int(np.searchsorted(self.stations, y))
        if i < len(self.stations) and self.stations[i] == y:
            return self.u[i]
        return self._shared(min(max(i - 1, 0), len(self.stations) - 2))

    def cuts(self, ys: Iterable[float]) -> list[Section | str]:
        """Return sections of the surface; the measured ones at measured stations."""
        found: list[Section | str] = []
        for y in ys:
            try:
                found.append(self._section(float(y)))
            except ContourError as problem:
                found.append(problem.found)
        return found

    def _section(self, y: float) -> Section:
        measured = np.flatnonzero(self.stations == y)
        if len(measured):
            return self.sections[int(measured[0])]
        u = self.knots(y)
        if self.symmetric and y < 0.0:
            return Section(self.points(-y, u)[:, ::2], y, self._parts(-y, u))
        return Section(self.points(y, u)[:, ::2], y, self._parts(y, u))

    def _shared(self, i: int) -> Array:
        """Coordinates u at which either of two neighbouring sections bends."""
        both = np.union1d(self.u[i], self.u[i + 1])
        kept: Array = both[np.concatenate([[True], np.diff(both) > _SAME_U])]
        kept[-1] = 1.0
        return kept

    def _facets(self, low: Array, high: Array) -> Facets:
        first = int(np.searchsorted(self.stations, max(low[1], self.y_range[0]), side="right")) - 1
        last = int(np.searchsorted(self.stations, min(high[1], self.y_range[1]), side="left"))
        strips = range(max(first, 0), min(last, len(self.stations) - 1))
        return Facets.joined([self._strip(i).within(low, high) for i in strips])

    def _strip(self, i: int) -> Strip:
        """Facets between two neighbouring stations; of a symmetric surface from y = 0 on."""
        if i not in self._strips:
            low, high = float(self.stations[i]), float(self.stations[i + 1])
            low = max(low, 0.0) if self.symmetric else low
            steps = math.ceil((high - low) / _FACET_MM) if self.method == "smooth" else 1
            y = np.linspace(low, high, steps + 1)
            u = self._shared(i)
            points = self.points(y[:, None], u)
            middle = (u[:-1] + u[1:]) / 2.0
            # Of two stations as near the inner one, on either side of the vehicle.
            ends = self.stations[i : i + 2, None]
            off = np.abs((y[:-1] + y[1:]) / 2.0 - ends)
            inner = abs(ends[1, 0]) < abs(ends[0, 0])
            nearer = (off[1] < off[0]) | ((off[1] == off[0]) & inner)
            parts = np.stack([self._stretch_parts(k, middle) for k in (i, i + 1)])
            self._strips[i] = Strip(points, parts[nearer.astype(int)])
        return self._strips[i]

    def _stretch_parts(self, i: int, u: Array) -> Index:
        """Part of the stretches of one section that hold given places."""
        section = self.sections[i]
        own = stretch_parts(section.part_codes)
        at = np.clip(np.searchsorted(self.u[i], u, side="right") - 1, 0, len(own) - 1)
        return own[at].astype(np.intp)

    def _curve(self, i: int, u: Array) -> Array:
        points = self.sections[i].points
        return points_at(points, self.u[i], u)

    def _between(self, i: int, y: Array, u: Array) -> Array:
        """Points (k, 2) of the surface between stations i and i + 1."""
        step = y - self.stations[i]
        if self.method == "straight":
            t = (step / (self.stations[i + 1] - self.stations[i]))[:, None]
            out: Array = (1.0 - t) * self._curve(i, u) + t * self._curve(i + 1, u)
        else:
            # Slopes at a station depend on its two neighbours only: four stations will do.
            first, last = max(i - 1, 0), min(i + 2, len(self.stations) - 1)
            curves = np.stack([self._curve(k, u) for k in range(first, last + 1)])
            out = _cubic(self.stations[first : last + 1], curves, i - first, step[:, None])
        at_end = y == self.stations[i + 1]
        if at_end.any():
            out[at_end] = self._curve(i + 1, u[at_end])
        return out

    def _parts(self, y: float, u: Array) -> list[str] | None:
        # Of two stations as near the inner one, on either side of the vehicle.
        i = int(np.lexsort([np.abs(self.stations), np.abs(self.stations - y)])[0])
        parts = self.sections[i].parts
        if parts is None:
            return None
        own = self.u[i]
        right = np.clip(np.searchsorted(own, u), 1, len(own) - 1)
        nearest = np.where(u - own[right - 1] < own[right] - u, right - 1, right)
        return [parts[k] for k in nearest]


@dataclass(frozen=True, eq=False)
class Strip:
    """The surface between two stations as rows of points."""

    points: Array  # (k, n, 3) float, x, y and z [mm]
    part: Index  # (k - 1, n - 1) int, part of every cell

    def within(self, low: Array, high: Array) -> Facets:
        """Return the facets of the cells that reach into a box."""
        points = self.points
        corners = points[:-1, :-1], points[:-1, 1:], points[1:, :-1], points[1:, 1:]
        least = np.minimum(np.minimum(*corners[:2]), np.minimum(*corners[2:]))
        most = np.maximum(np.maximum(*corners[:2]), np.maximum(*corners[2:]))
        inside = ((most >= low) & (least <= high)).all(axis=-1)
        a, b, c, d = (corner[inside] for corner in corners)
        # Cells are parted so that the facets on the left are mirror images of those on the right.
        left = (a[:, 1] + c[:, 1] < 0.0)[:, None]
        a, b, c, d = (np.where(left, *pair) for pair in ((c, a), (d, b), (a, c), (b, d)))
        part = self.part[inside]
        triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)])
        return Facets(triangles, np.concatenate([part, part]))


def _cubic(x: Array, values: Array, i: int, step: Array) -> Array:
    """Shape-preserving cubic (PCHIP) between points i and i + 1."""
    # F. N. Fritsch and J. Butland, A method for constructing local monotone piecewise cubic
    # interpolants, SIAM J. Sci. Stat. Comput. 5 (2), 300-304, 1984 (from memory).
    # Here and not from scipy, whose interpolation takes longer to load than a front to screen.
    # Points x (n,), n >= 2, values (n, ...), distance beyond point i.
    width = np.diff(x)
    secant: Array = np.diff(values, axis=0)
    secant = secant / width.reshape(-1, *(1,) * (values.ndim - 1))

    def slope(k: int) -> Array:
        if len(width) == 1:
            return np.asarray(secant[0])
        if k in (0, len(width)):
            near, next_ = (0, 1) if k == 0 else (k - 1, k - 2)
            return _end_slope(width[near], width[next_], secant[near], secant[next_])
        before, after = secant[k - 1], secant[k]
        monotone = before * after > 0.0
        w0, w1 = 2.0 * width[k] + width[k - 1], width[k] + 2.0 * width[k - 1]
        inverse = w0 / np.where(monotone, before, 1.0) + w1 / np.where(monotone, after, 1.0)
        return np.where(monotone, (w0 + w1) / np.where(monotone, inverse, 1.0), 0.0)

    left, right = slope(i), slope(i + 1)
    bend = (left + right - 2.0 * secant[i]) / width[i]
    rise = (secant[i] - left) / width[i] - bend
    return np.asarray(((bend / width[i] * step + rise) * step + left) * step + values[i])


def _end_slope(near: float, far: float, first: Array, second: Array) -> Array:
    """Slope at an end point: of the parabola through three, kept within the shape."""
    slope = ((2.0 * near + far) * first - near * second) / (near + far)
    slope = np.where(np.sign(slope) == np.sign(first), slope, 0.0)
    steep = (np.sign(first) != np.sign(second)) & (np.abs(slope) > 3.0 * np.abs(first))
    return np.where(steep, 3.0 * first, slope)

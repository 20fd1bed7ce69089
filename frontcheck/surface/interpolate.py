"""The surface of a front through its measured sections, and a net of contours on it.

Glossary
--------
u
    Coordinate along every section, 0 at its first point and 1 at its last; places of the
    same u belong together (`frontcheck.surface.interpolate`).
smooth, straight
    Between stations x and z follow, at constant u, a shape-preserving cubic (PCHIP: it
    never leaves the range of its two neighbours) or a straight line. On a measured
    station either is exactly the measured section.
net
    Many contours of the surface side by side: the measured ones and, between stations that
    are far apart, lofted ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import ContourError
from frontcheck.geometry.polyline import points_at
from frontcheck.surface.contours import Net
from frontcheck.surface.face import face_range
from frontcheck.surface.section import PARTS, Section, stretch_parts
from frontcheck.surface.surface import NO_PART, Facets, Surface

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike, NDArray

# Which place of one section goes with which place of its neighbour.
#
# Along every section a coordinate u runs from 0 at its first point to 1 at its last; places
# of the same u at neighbouring stations belong together. Between landmarks that both
# sections have, equal shares of arc length go together:
#
# - sections with part labels: the first and the last point of every part that both have;
# - otherwise: the foremost point and the two ends of the face (what lines leant 25 deg forward
#   and 45 deg rearward touch first). A landmark that moves along the contour by far more than
#   the stations are apart is another feature and is left out.

_STRAY_MM: Final = 25.0
_STRAY_RATE: Final = 2.0
"""A landmark of shape may move by 25 mm plus twice the station distance, measured from the
foremost point; more than that is no longer the same feature. Frontcheck reading."""
_SAME: Final = 1e-9


def match_sections(sections: Sequence[Section]) -> tuple[NDArray[np.float64], ...]:
    """Give every contour point of every section its coordinate u."""
    centre = int(np.argmin([abs(section.y) for section in sections]))
    whole = np.array([0.0, 1.0])
    knots = {centre: (whole * sections[centre].length, whole)}
    for order in (range(centre, len(sections) - 1), range(centre, 0, -1)):
        for i in order:
            j = i + (1 if order.step > 0 else -1)
            knots[j] = _carry(knots[i], *_pairs(sections[i], sections[j]))
    out = []
    for i, section in enumerate(sections):
        u = np.interp(section.arc_lengths, *knots[i])
        u[0], u[-1] = 0.0, 1.0
        out.append(u)
    return tuple(out)


def _carry(
    knots: tuple[NDArray[np.float64], NDArray[np.float64]],
    here: NDArray[np.float64],
    there: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Carry the map from arc length to u over to the neighbour."""
    s, u = knots
    every = np.union1d(s, here)
    every = every[np.concatenate([[True], np.diff(every) > _SAME * every[-1]])]
    every[-1] = s[-1]
    return np.interp(every, here, there), np.interp(every, s, u)


def _pairs(a: Section, b: Section) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Arc lengths of the landmarks that two sections share, both ends among them."""
    if a.parts is not None and b.parts is not None:
        marks_a, marks_b = _part_marks(a), _part_marks(b)
    else:
        marks_a, marks_b = _shape_marks(a), _shape_marks(b)
        allowed = _STRAY_MM + _STRAY_RATE * abs(a.y - b.y)
        from_a = a.arc_lengths - a.arc_lengths[marks_a["foremost"]]
        from_b = b.arc_lengths - b.arc_lengths[marks_b["foremost"]]
        strays = [
            name
            for name in marks_a
            if abs(from_a[marks_a[name]] - from_b[marks_b[name]]) > allowed
            or math.dist(a.points[marks_a[name]], b.points[marks_b[name]]) > allowed
        ]
        marks_a = {name: i for name, i in marks_a.items() if name not in strays}
    shared = sorted((i, marks_b[name]) for name, i in marks_a.items() if name in marks_b)
    inner = [(i, j) for i, j in _in_order(shared) if 0 < i < len(a) - 1 and 0 < j < len(b) - 1]
    at_a = [0, *(i for i, _ in inner), len(a) - 1]
    at_b = [0, *(j for _, j in inner), len(b) - 1]
    return a.arc_lengths[at_a], b.arc_lengths[at_b]


def _in_order(pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Longest choice of pairs that increases strictly in both."""
    best: list[list[tuple[int, int]]] = []
    for i, j in pairs:
        before = [chain for chain in best if chain[-1][0] < i and chain[-1][1] < j]
        best.append([*max(before, key=len, default=[]), (i, j)])
    return max(best, key=len, default=[])


def _part_marks(section: Section) -> dict[str, int]:
    marks = {}
    for part in PARTS:
        at = np.flatnonzero(section.part_mask(part))
        if len(at):
            marks[f"first {part}"], marks[f"last {part}"] = int(at[0]), int(at[-1])
    return marks


def _shape_marks(section: Section) -> dict[str, int]:
    bottom, top = face_range(section.points)
    foremost = bottom + int(np.argmin(section.x[bottom : top + 1]))
    return {"face bottom": bottom, "foremost": foremost, "face top": top}


Between = Literal["smooth", "straight"]
"""How the surface runs from station to station."""

_SMOOTH_UP_TO: Final = 60
"""Stations up to which the smooth surface is the default: more are slices of a model, dense
enough for straight lines."""
_SAME_U: Final = 1e-7
_NORMAL_SPAN_MM: Final = 5.0
_FACET_MM: Final = 10.0
"""Widest facet across the stations of a smooth surface [mm]: a plan radius of 1 m then lies
0.013 mm off at most."""


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
        self.stations: NDArray[np.float64] = np.array([s.y for s in sections])
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

    def points(self, y: ArrayLike, u: ArrayLike) -> NDArray[np.float64]:
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

    def knots(self, y: float) -> NDArray[np.float64]:
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

    def _shared(self, i: int) -> NDArray[np.float64]:
        """Coordinates u at which either of two neighbouring sections bends."""
        both = np.union1d(self.u[i], self.u[i + 1])
        kept: NDArray[np.float64] = both[np.concatenate([[True], np.diff(both) > _SAME_U])]
        kept[-1] = 1.0
        return kept

    def _facets(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> Facets:
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
            nearer = (
                np.abs((y[:-1] + y[1:]) / 2.0 - self.stations[i + 1])
                < (self.stations[i + 1] - self.stations[i]) / 2.0
            )
            parts = np.stack([self._stretch_parts(k, middle) for k in (i, i + 1)])
            self._strips[i] = Strip(points, parts[nearer.astype(int)])
        return self._strips[i]

    def _stretch_parts(self, i: int, u: NDArray[np.float64]) -> NDArray[np.intp]:
        """Part of the stretches of one section that hold given places."""
        section = self.sections[i]
        if section.parts is None:
            return np.full(len(u), NO_PART)
        own = stretch_parts(section.parts)
        at = np.clip(np.searchsorted(self.u[i], u, side="right") - 1, 0, len(own) - 1)
        found: NDArray[np.intp] = own[at]
        return found

    def normals(self, y: ArrayLike, u: ArrayLike) -> NDArray[np.float64]:
        """Return outward unit normals of the surface."""
        ys, us = np.broadcast_arrays(
            np.asarray(y, dtype=np.float64), np.asarray(u, dtype=np.float64)
        )
        low, high = self.y_range
        nearest = self.sections[int(np.argmin(np.abs(self.stations)))]
        du = min(_NORMAL_SPAN_MM / nearest.length, 0.5)
        along = self.points(ys, np.minimum(us + du, 1.0)) - self.points(
            ys, np.maximum(us - du, 0.0)
        )
        across = self.points(np.minimum(ys + _NORMAL_SPAN_MM, high), us) - self.points(
            np.maximum(ys - _NORMAL_SPAN_MM, low), us
        )
        normal: NDArray[np.float64] = np.cross(along, across)
        length = np.linalg.norm(normal, axis=-1, keepdims=True)
        unit: NDArray[np.float64] = normal / np.where(length == 0.0, 1.0, length)
        return unit

    def net(self, spacing: float = 10.0, extra: Iterable[float] = ()) -> Net:
        """Return contours of the surface side by side."""
        if not spacing > 0.0:
            raise ValueError(f"spacing must be a positive length, not {spacing:g}")
        low, high = self.y_range
        between = (
            np.arange(np.ceil(low / spacing), np.floor(high / spacing) + 1.0) * spacing
            if self.method == "smooth"
            else np.empty(0)
        )
        asked = np.array([y for y in extra if low <= y <= high])
        every = np.unique(np.concatenate([self.stations, between, asked]) + 0.0)
        wanted = np.unique(np.abs(every)) if self.symmetric else every
        sections, missing = [], []
        for y in wanted[(wanted >= low) & (wanted <= high)].tolist():
            try:
                sections.append(self.section(y))
            except ContourError:
                missing.append(y)
        return Net.of(
            sections,
            [self.knots(section.y) for section in sections],
            stations=self.stations,
            symmetric=self.symmetric,
            smooth=self.method == "smooth",
            missing=tuple(missing),
        )

    def _curve(self, i: int, u: NDArray[np.float64]) -> NDArray[np.float64]:
        points = self.sections[i].points
        return points_at(points, self.u[i], u)

    def _between(
        self, i: int, y: NDArray[np.float64], u: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Points (k, 2) of the surface between stations i and i + 1."""
        step = y - self.stations[i]
        if self.method == "straight":
            t = (step / (self.stations[i + 1] - self.stations[i]))[:, None]
            out: NDArray[np.float64] = (1.0 - t) * self._curve(i, u) + t * self._curve(i + 1, u)
        else:
            # Slopes at a station depend on its two neighbours only: four stations will do.
            first, last = max(i - 1, 0), min(i + 2, len(self.stations) - 1)
            curves = np.stack([self._curve(k, u) for k in range(first, last + 1)])
            out = _cubic(self.stations[first : last + 1], curves, i - first, step[:, None])
        at_end = y == self.stations[i + 1]
        if at_end.any():
            out[at_end] = self._curve(i + 1, u[at_end])
        return out

    def _parts(self, y: float, u: NDArray[np.float64]) -> list[str] | None:
        i = int(np.argmin(np.abs(self.stations - y)))
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

    points: NDArray[np.float64]  # (k, n, 3) float, x, y and z [mm]
    part: NDArray[np.intp]  # (k - 1, n - 1) int, part of every cell

    def within(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> Facets:
        """Return the facets of the cells that reach into a box."""
        points = self.points
        corners = points[:-1, :-1], points[:-1, 1:], points[1:, :-1], points[1:, 1:]
        least = np.minimum(np.minimum(*corners[:2]), np.minimum(*corners[2:]))
        most = np.maximum(np.maximum(*corners[:2]), np.maximum(*corners[2:]))
        inside = ((most >= low) & (least <= high)).all(axis=-1)
        a, b, c, d = (corner[inside] for corner in corners)
        part = self.part[inside]
        triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)])
        return Facets(triangles, np.concatenate([part, part]))


def _cubic(
    x: NDArray[np.float64], values: NDArray[np.float64], i: int, step: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Shape-preserving cubic (Fritsch & Butland 1984, PCHIP) between points i and i + 1."""
    # Here and not from scipy, whose interpolation takes longer to load than a front to screen.
    # Points x (n,), n >= 2, values (n, ...), distance beyond point i.
    width = np.diff(x)
    secant: NDArray[np.float64] = np.diff(values, axis=0)
    secant = secant / width.reshape(-1, *(1,) * (values.ndim - 1))

    def slope(k: int) -> NDArray[np.float64]:
        if len(width) == 1:
            only: NDArray[np.float64] = secant[0]
            return only
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
    cubic: NDArray[np.float64] = ((bend / width[i] * step + rise) * step + left) * step + values[i]
    return cubic


def _end_slope(
    near: float, far: float, first: NDArray[np.float64], second: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Slope at an end point: of the parabola through three, kept within the shape."""
    slope = ((2.0 * near + far) * first - near * second) / (near + far)
    slope = np.where(np.sign(slope) == np.sign(first), slope, 0.0)
    steep = (np.sign(first) != np.sign(second)) & (np.abs(slope) > 3.0 * np.abs(first))
    return np.where(steep, 3.0 * first, slope)

"""The surface of a front through its measured sections.

Glossary
--------
u
    Coordinate along every section, 0 at its first point and 1 at its last; places of the
    same u belong together (`frontcheck.surface.matching`).
smooth, straight
    Between stations x and z follow, at constant u, a shape-preserving cubic (PCHIP: it
    never leaves the range of its two neighbours) or a straight line. On a measured
    station either is exactly the measured section.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import ContourError
from frontcheck.geometry.polyline import points_at
from frontcheck.surface.matching import match_sections
from frontcheck.surface.section import Section, stretch_parts
from frontcheck.surface.surface import Facets, Surface

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index

Between = Literal["smooth", "straight"]
"""How the surface runs from station to station."""

_SMOOTH_UP_TO: Final = 60
"""Stations up to which the smooth surface is the default: more are slices of a model, dense
enough for straight lines. Own choice: nobody measures as many by hand."""
_SAME_U: Final = 1e-7
_MANY_KNOTS: Final = 3000
"""Places along two neighbouring stations from which on some may go: own choice, more than a hand, a
drawing or a scan has use for."""
_STRAIGHT_MM: Final = (0.001, 0.01, 0.1)
"""Between stations such places go where the surface runs straight within the first of these that
leaves no more, else within the last: own choice, a tenth of what the best hand measurement is out
by. On a station every point counts."""
_ROWS: Final = 5  # Where that is looked at, from one station to the next
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
        self._knots: dict[int, Array] = {}

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
        if i not in self._knots:
            both = np.union1d(self.u[i], self.u[i + 1])
            kept: Array = both[np.concatenate([[True], np.diff(both) > _SAME_U])]
            kept[-1] = 1.0
            if len(kept) > _MANY_KNOTS:
                kept = kept[self._needed(i, kept)]
            self._knots[i] = kept
        return self._knots[i]

    def _needed(self, i: int, u: Array) -> list[int]:
        """Of many places those that the surface needs to run as it does, and to change parts."""
        stretches = [self._stretch_parts(k, (u[:-1] + u[1:]) / 2.0) for k in (i, i + 1)]
        changes = np.flatnonzero(np.diff(stretches, axis=1).any(axis=0)) + 1
        rows = np.linspace(self.stations[i], self.stations[i + 1], _ROWS)
        curves = np.concatenate([self._between(i, np.full(len(u), y), u) for y in rows], axis=1)
        stops = [*changes.tolist(), len(u) - 1]
        tried = (_thinned(u, curves, stops, within) for within in _STRAIGHT_MM[:-1])
        few = next((kept for kept in tried if len(kept) <= _MANY_KNOTS), None)
        return few or _thinned(u, curves, stops, _STRAIGHT_MM[-1])

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


def _thinned(u: Array, curves: Array, stops: list[int], within: float) -> list[int]:
    """Places between which curves over u run straight, the stops among them."""
    kept = [0]
    for stop in stops:
        while kept[-1] < stop:
            kept.append(_straight_to(u, curves, kept[-1], stop, within))
    return kept


def _straight_to(u: Array, curves: Array, start: int, stop: int, within: float) -> int:
    """Last place up to which curves over u run straight, found by steps that double and halve."""

    def straight(end: int) -> bool:
        t = ((u[start : end + 1] - u[start]) / (u[end] - u[start]))[:, None]
        chord = (1.0 - t) * curves[start] + t * curves[end]
        return bool(np.abs(curves[start : end + 1] - chord).max() <= within)

    good, step = start + 1, 2
    while good < stop and straight(min(start + step, stop)):
        good, step = min(start + step, stop), 2 * step
    bad = min(start + step, stop + 1)
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if straight(middle) else (good, middle)
    return good


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

"""Sections of the surface side by side across a front, with the reference lines on each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, Protocol

import numpy as np

from frontcheck.geometry.polyline import highest_at, nearest
from frontcheck.lines.bumper_lines import tape_anchor
from frontcheck.lines.front_line import FrontLine, Piece, worst_status
from frontcheck.lines.line_values import FORMED
from frontcheck.lines.rear import on_surface
from frontcheck.lines.section_lines import joined, rows_of, section_lines, with_marks
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.lines.line_values import LineValues
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section
    from frontcheck.surface.surface import Surface

_MAP_STEP_MM: Final = 25.0
_MAP_TO_MM: Final = 2500.0
"""Wrap-around distances at whole multiples of the first up to the second: own choice, beyond the
longest that a rule set names."""
_AT_ONCE: Final = 1_000_000  # Numbers of contours looked at together: bounds the memory


class Screened(Protocol):
    """What the zones are worked out from; a screening is one."""

    @property
    def front(self) -> Front:
        """The front."""

    @property
    def rules(self) -> RuleSet:
        """The rule set."""

    @property
    def wad(self) -> tuple[float, ...]:
        """Wrap-around distances asked for [mm]."""

    @property
    def tape_start(self) -> Literal["section", "vehicle"]:
        """Where the tape stands."""

    @property
    def batch(self) -> LineBatch:
        """The lines of every measured section."""


@dataclass(frozen=True, eq=False)
class Across:
    """Sections of the surface side by side, from left to right, with their lines."""

    surface: Surface  # The surface they are cut from
    y: Array  # (m,) where they are cut, increasing [mm]
    contours: Contours  # The distinct ones: mirror images are not repeated
    row: Index  # (m,) int, which of `contours` each one is
    lines: LineBatch  # Their lines, in the order of `y`
    rules: RuleSet  # The rules used
    missing: tuple[tuple[float, str], ...] = ()  # Where a cut gave no contour, and why

    def __len__(self) -> int:
        """Return the number of sections."""
        return len(self.y)

    @cached_property
    def points(self) -> Array:
        """Their contours, (m, n, 2) float, x and z [mm]; shorter ones repeat their last point."""
        return self.contours.points[self.row]

    @cached_property
    def counts(self) -> Index:
        """Points of each contour, (m,) int."""
        return self.contours.counts[self.row]

    @cached_property
    def arcs(self) -> Array:
        """Length along its contour of every point, (m, n) [mm]."""
        step = np.diff(self.contours.points, axis=1)
        own = np.zeros(self.contours.points.shape[:2])
        np.cumsum(np.hypot(step[..., 0], step[..., 1]), axis=1, out=own[:, 1:])
        return own[self.row]

    def mirrored(self) -> Across:
        """Return the same seen in a mirror: left becomes right."""
        back = np.arange(len(self))[::-1]
        return Across(
            self.surface.mirrored(),
            0.0 - self.y[::-1],
            self.contours,
            self.row[::-1],
            rows_of(self.lines, back),
            self.rules,
            tuple((0.0 - y, why) for y, why in self.missing[::-1]),
        )

    def tops_at(self, x: Array) -> Array:
        """Height of every contour at setbacks, the highest where there are several, (m, k)."""
        levels, back = np.unique(x, return_inverse=True)
        return highest_at(self.contours.points, levels)[self.row][:, back]

    def at(self, rows: Index, arcs: Array) -> Array:
        """Return places (r, k, 2) of contours (r,) by their arcs (r, k)."""
        along = self.arcs[rows]
        after = [np.searchsorted(own, a, "right") for own, a in zip(along, arcs, strict=True)]
        k = np.clip(np.array(after) - 1, 0, self.counts[rows, None] - 2)
        each = np.arange(len(rows))[:, None]
        low, high = along[each, k], along[each, k + 1]
        t = np.clip((arcs - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)[..., None]
        before, beyond = (self.points[rows[:, None], at] for at in (k, k + 1))
        return np.asarray(before + t * (beyond - before))

    def arc_of(self, values: LineValues) -> Array:
        """Return where along every contour a line has its point, not a number without one."""
        found = nearest(self.points, np.stack([values.x, values.z], axis=1))
        return np.where(
            values.formed, self._arc(np.arange(len(self)), found.stretch, found.t), np.nan
        )

    def mark_arc(self, distance: float) -> Array:
        """Return where along every contour a wrap-around distance is reached."""
        return self.mark_arcs[:, self.lines.distances.index(distance)]

    def wad_on(self, rows: Index, arcs: Array) -> tuple[float | None, ...]:
        """Return the wrap-around distance of places on the contours."""
        return tuple(None if np.isnan(v) else v for v in self._wads_at(rows, arcs))

    def wad_of(self, points: Array) -> tuple[float | None, ...]:
        """Return the wrap-around distance of places between the contours, (k, 3)."""
        cell = np.clip(np.searchsorted(self.y, points[:, 1], side="right") - 1, 0, len(self) - 2)
        t = (points[:, 1] - self.y[cell]) / (self.y[cell + 1] - self.y[cell])
        ends = np.zeros((2, len(points)))
        # A place on a contour needs that contour only.
        at_once = max(_AT_ONCE // self.points.shape[1], 1)
        for side, needed in ((0, t != 1.0), (1, t != 0.0)):
            those = np.flatnonzero(needed)
            for here in np.split(those, range(at_once, len(those), at_once)):
                rows = cell[here] + side
                found = nearest(self.points[rows], points[here][:, ::2])
                arcs = self._arc(rows, found.stretch, found.t)
                ends[side, here] = self._wads_at(rows, arcs)
        value = np.where(
            t == 0.0, ends[0], np.where(t == 1.0, ends[1], (1.0 - t) * ends[0] + t * ends[1])
        )
        return tuple(None if np.isnan(v) else float(v) for v in value)

    def _wads_at(self, rows: Index, arcs: Array) -> list[float]:
        out = []
        for row, arc in zip(rows.tolist(), arcs.tolist(), strict=True):
            at, distances = self._rising_marks[row]
            # The distance of a place before the first mark or beyond the last is not known.
            known = len(at) > 0 and at[0] <= arc <= at[-1]
            out.append(float(np.interp(arc, at, distances)) if known else np.nan)
        return out

    def _arc(self, rows: Index, stretch: Index, t: Array) -> Array:
        after = np.minimum(stretch + 1, self.arcs.shape[1] - 1)
        low = self.arcs[rows, stretch]
        return np.asarray(low + t * (self.arcs[rows, after] - low))

    @cached_property
    def _rising_marks(self) -> list[tuple[Array, Array]]:
        """Of every contour, where a wrap-around distance is reached, and which."""
        marks, distances = self.mark_arcs, np.array(self.lines.distances)
        order = np.argsort(distances)
        owned = [order[~np.isnan(row[order])] for row in marks]
        return [
            (np.maximum.accumulate(row[own]), distances[own])
            for row, own in zip(marks, owned, strict=True)
        ]

    @cached_property
    def mark_arcs(self) -> Array:
        """Where along every contour every distance is reached, (m, d) [mm]; or not a number."""
        marks = self.lines.WAD
        rows = np.arange(len(self))[:, None]
        a = self.points[rows, marks.stretch]
        along = self.arcs[rows, marks.stretch] + np.hypot(marks.x - a[..., 0], marks.z - a[..., 1])
        return np.where(marks.reached, along, np.nan)


def cuts_between(surface: Surface, stations: Iterable[float], spacing: float) -> list[float]:
    """Where to cut a surface: at its stations, and between them where they are far apart."""
    low, high = surface.y_range
    known = np.array(sorted(y for y in stations if low <= y <= high))
    between = np.arange(np.ceil(low / spacing), np.floor(high / spacing) + 1.0) * spacing
    # Stations as close as the cuts will do; a mesh is cut at its very edge too.
    if len(known) > 1 and np.diff(known).max() <= spacing:
        between = np.empty(0)
    ends = (low, high) if surface.kind == "mesh" else ()
    every = np.unique(np.concatenate([known, between, ends]) + 0.0)
    return [float(y) for y in every]


def sections_across(
    surface: Surface, lined: Screened, ys: Iterable[float], *, rows_mm: float
) -> Across:
    """Cut a surface and form every line on every cut; those of measured sections are known."""
    wanted = sorted({abs(y) for y in ys} if surface.symmetric else set(ys))
    measured = {
        (abs(s.y) if surface.symmetric else s.y): (i, s) for i, s in enumerate(lined.front.sections)
    }
    fresh = [y for y in wanted if y not in measured]
    made = dict(zip(fresh, surface.cuts(fresh), strict=True))
    sections: list[Section] = []
    known: list[int] = []
    half: list[float] = []
    missing = []
    for y in wanted:
        section = measured[y][1] if y in measured else made[y]
        if isinstance(section, str):
            missing.append((y, section))
            continue
        sections.append(section)
        half.append(y)
        known.append(measured[y][0] if y in measured else -1)
    contours = Contours.of(sections)
    y_of = np.array(half)
    lines = _lines(lined, surface, y_of, contours, np.array(known, dtype=np.intp), rows_mm)
    row = np.arange(len(half))
    if surface.symmetric:
        off = np.flatnonzero(y_of > 0.0)[::-1]
        y_of, row = np.concatenate([-y_of[off], y_of]), np.concatenate([off, row])
    return Across(surface, y_of, contours, row, rows_of(lines, row), lined.rules, tuple(missing))


def _lines(
    lined: Screened,
    surface: Surface,
    y: Array,
    contours: Contours,
    known: Index,
    rows_mm: float,
) -> LineBatch:
    rules, wad = lined.rules, lined.wad
    bounds = [
        rules.value(f"{area}.{end}")
        for area in ("child_area", "adult_area")
        for end in ("wad_front_mm", "wad_rear_mm")
    ]
    anchor = tape_anchor(contours, rules)
    # Marks below the point that the tape hangs from would need another, slower search.
    lowest = float(anchor.z[anchor.found].max()) if anchor.found.any() else _MAP_TO_MM
    upto = max(_MAP_TO_MM, *bounds, *wad)
    marks = {*bounds, *wad}
    for step in (_MAP_STEP_MM, rows_mm):
        first = int(np.floor(lowest / step)) + 1
        marks |= {step * i for i in range(first, int(upto / step + 1e-9) + 1)}
    tape_x = anchor.x
    if lined.tape_start == "vehicle" and anchor.found.any():
        tape_x = np.full(len(contours), anchor.x[anchor.found].min())
    # The lines of measured sections are known where their tape stands at the same place.
    known = np.where(lined.batch.anchor_x[known] == tape_x, known, -1)
    old, new = np.flatnonzero(known >= 0), np.flatnonzero(known < 0)
    distances = sorted(marks)
    lines = joined(
        [
            with_marks(rows_of(lined.batch, known[old]), contours.part(old), distances, rules),
            _formed(contours.part(new), surface, y[new], rules, distances, tape_x[new]),
        ]
    )
    return rows_of(lines, np.argsort(np.concatenate([old, new])))


def _formed(
    contours: Contours,
    surface: Surface,
    y: Array,
    rules: RuleSet,
    distances: list[float],
    tape_x: Array,
) -> LineBatch:
    """Form the lines of sections that are cut from a surface."""
    lines = section_lines(contours, rules, distances, tape_x=tape_x)
    return on_surface(lines, contours, surface, y, rules)


def line_across(across: Across, name: str) -> FrontLine:
    """Return one reference line as a line across the front."""
    values: LineValues = getattr(across.lines, name)
    statuses = [values.status(i) for i in range(len(across))]
    reasons = [values.reason(i) for i in range(len(across))]
    arc = across.arc_of(values)
    return _front_line(across, name, values.x, values.z, arc, statuses, reasons)


def wad_across(across: Across, distance: float) -> FrontLine:
    """Return the marks at one wrap-around distance as a line across the front."""
    column = across.lines.distances.index(distance)
    marks = across.lines.WAD
    reached = marks.reached[:, column]
    statuses = ["ok" if here else "not_reached" for here in reached]
    reasons = ["" if here else "the contour ends before this distance" for here in reached]
    arc = across.mark_arc(distance)
    name = f"WAD {distance:g}"
    return _front_line(across, name, marks.x[:, column], marks.z[:, column], arc, statuses, reasons)


def _front_line(
    across: Across,
    name: str,
    x: Array,
    z: Array,
    arc: Array,
    statuses: list[str],
    reasons: list[str],
) -> FrontLine:
    y = across.y
    formed = np.flatnonzero(~np.isnan(arc))
    breaks = np.flatnonzero(np.diff(formed) > 1) + 1
    bounds = [0, *breaks.tolist(), len(formed)]
    pieces = tuple(
        Piece(a, b, side_of(y[formed[a]], y[formed[b - 1]]))
        for a, b in zip(bounds, bounds[1:], strict=False)
        if b > a
    )
    counted = [statuses[i] for i in formed] or statuses
    said = dict.fromkeys(zip(statuses, reasons, strict=True))
    text = []
    for status, reason in said:
        at = [i for i in range(len(y)) if (statuses[i], reasons[i]) == (status, reason)]
        if reason and len(at) == len(y):
            text.append(reason)
        elif reason:
            missing = "" if status in FORMED else "no point at "
            where = f"y from {y[at[0]]:g} to {y[at[-1]]:g} mm"
            text.append(f"{missing}{len(at)} of {len(y)} contours ({where}): {reason}")
    return FrontLine(
        name,
        np.stack([x[formed], y[formed], z[formed]], axis=1),
        tuple(statuses[i] for i in formed),
        pieces,
        worst_status(*counted),
        "; ".join(text),
        across.wad_on(formed, arc[formed]),
    )


def side_of(first: float, last: float) -> str:
    """Return on which side a piece of a line lies."""
    if first >= 0.0 and last > 0.0:
        return "right"
    return "left" if first < 0.0 and last <= 0.0 else "both"

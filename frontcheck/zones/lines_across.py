"""Sections of the surface side by side across a front, with the reference lines on each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

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

    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.lines.line_values import LineValues
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section
    from frontcheck.surface.surface import Surface

_MAP_STEP_MM: Final = 25.0
_MAP_TO_MM: Final = 2500.0
"""Wrap-around distances at whole multiples of the first up to the second: own choice, beyond the
longest that a rule set names."""
_AT_ONCE: Final = 1_000_000  # Numbers of contours looked at together: bounds the memory


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
        return np.asarray(highest_at(self.contours.points, levels)[self.row][:, back])

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
        arc = self._arc(np.arange(len(self)), found.stretch, found.t)
        return np.where(values.formed, arc, np.nan)

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
        between = (1.0 - t) * ends[0] + t * ends[1]
        value = np.where(t == 0.0, ends[0], np.where(t == 1.0, ends[1], between))
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
    surface: Surface, lined: LinedFront, ys: Iterable[float], *, rows_mm: float
) -> Across:
    """Cut a surface and form every line on every cut; those of measured sections are known."""
    wanted = sorted({abs(y) for y in ys} if surface.symmetric else set(ys))
    own = [abs(s.y) if surface.symmetric else s.y for s in lined.front.sections]
    fresh = [y for y in wanted if y not in own]
    made: dict[float, Section | str] = dict(zip(fresh, surface.cuts(fresh), strict=True))
    made |= dict(zip(own, lined.front.sections, strict=True))
    cuts = {y: cut for y in wanted if not isinstance(cut := made[y], str)}
    missing = [(y, cut) for y in wanted if isinstance(cut := made[y], str)]
    contours = Contours.of(list(cuts.values()))
    y_of = np.array(list(cuts))
    known = np.array([own.index(y) if y in own else -1 for y in cuts], dtype=np.intp)
    lines = _lines(lined, surface, y_of, contours, known, rows_mm)
    row = np.arange(len(cuts))
    if surface.symmetric:
        off = np.flatnonzero(y_of > 0.0)[::-1]
        y_of, row = np.concatenate([-y_of[off], y_of]), np.concatenate([off, row])
    return Across(surface, y_of, contours, row, rows_of(lines, row), lined.rules, tuple(missing))


def _lines(
    lined: LinedFront, surface: Surface, y: Array, contours: Contours, known: Index, rows_mm: float
) -> LineBatch:
    rules, wad = lined.rules, lined.wad
    areas, ends = ("child_area", "adult_area"), ("wad_front_mm", "wad_rear_mm")
    bounds = [rules.value(f"{area}.{end}") for area in areas for end in ends]
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
    cut = contours.part(new)
    formed = section_lines(cut, rules, distances, tape_x=tape_x[new])
    kept = with_marks(rows_of(lined.batch, known[old]), contours.part(old), distances, rules)
    lines = joined([kept, on_surface(formed, cut, surface, y[new], rules)])
    return rows_of(lines, np.argsort(np.concatenate([old, new])))


def line_across(across: Across, name: str) -> FrontLine:
    """Return one reference line as a line across the front."""
    values: LineValues = getattr(across.lines, name)
    told = [(values.status(i), values.reason(i)) for i in range(len(across))]
    return _front_line(across, name, values.x, values.z, across.arc_of(values), told)


def wad_across(across: Across, distance: float) -> FrontLine:
    """Return the marks at one wrap-around distance as a line across the front."""
    column = across.lines.distances.index(distance)
    marks, ended = across.lines.WAD, ("not_reached", "the contour ends before this distance")
    told = [("ok", "") if here else ended for here in marks.reached[:, column]]
    x, z, arc = marks.x[:, column], marks.z[:, column], across.mark_arc(distance)
    return _front_line(across, f"WAD {distance:g}", x, z, arc, told)


def _front_line(
    across: Across, name: str, x: Array, z: Array, arc: Array, told: list[tuple[str, str]]
) -> FrontLine:
    """A line across the front, with status and reason on every contour."""
    y = across.y
    formed = np.flatnonzero(~np.isnan(arc))
    breaks = np.flatnonzero(np.diff(formed) > 1) + 1
    bounds = [0, *breaks.tolist(), len(formed)]
    pieces = tuple(
        Piece(a, b, side_of(y[formed[a]], y[formed[b - 1]]))
        for a, b in zip(bounds, bounds[1:], strict=False)
        if b > a
    )
    statuses = tuple(told[i][0] for i in formed)
    text = []
    for status, reason in dict.fromkeys(told):
        at = [i for i, each in enumerate(told) if each == (status, reason)]
        if reason and len(at) == len(y):
            text.append(reason)
        elif reason:
            missing = "" if status in FORMED else "no point at "
            where = f"y from {y[at[0]]:g} to {y[at[-1]]:g} mm"
            text.append(f"{missing}{len(at)} of {len(y)} contours ({where}): {reason}")
    return FrontLine(
        name,
        np.stack([x[formed], y[formed], z[formed]], axis=1),
        statuses,
        pieces,
        worst_status(*(statuses or (status for status, _ in told))),
        "; ".join(text),
        across.wad_on(formed, arc[formed]),
    )


def side_of(first: float, last: float) -> str:
    """Return on which side a piece of a line lies."""
    if first >= 0.0 and last > 0.0:
        return "right"
    return "left" if first < 0.0 and last <= 0.0 else "both"

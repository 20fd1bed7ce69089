"""The reference lines on every contour of a net, with where they lie along the contours."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, Protocol

import numpy as np

from frontcheck.geometry.polyline import nearest
from frontcheck.lines.front_line import FrontLine, Piece, worst_status
from frontcheck.lines.section_lines import (
    FORMED,
    joined,
    rows_of,
    section_lines,
    tape_anchor,
    with_marks,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.front.front import Front
    from frontcheck.lines.section_lines import LineBatch, LineValues
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.contours import Net

_MAP_STEP_MM: Final = 25.0
_MAP_TO_MM: Final = 2500.0


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
class Traced:
    """Lines on every contour of a net."""

    net: Net  # The contours
    lines: LineBatch  # Lines of every contour of the net, in its order
    rules: RuleSet  # The rules used

    def mirrored(self) -> Traced:
        """Return the same seen in a mirror: left becomes right."""
        back = np.arange(len(self.net))[::-1]
        return Traced(self.net.mirrored(), rows_of(self.lines, back), self.rules)

    def mark_u(self, distance: float) -> NDArray[np.float64]:
        """Return where along every contour a wrap-around distance is reached."""
        column = self.lines.distances.index(distance)
        return self._marks_u[:, column]

    def wad(self, y: NDArray[np.float64], u: NDArray[np.float64]) -> tuple[float | None, ...]:
        """Return the wrap-around distance of places on the surface."""
        net = self.net
        cell = np.clip(np.searchsorted(net.y, y, side="right") - 1, 0, len(net) - 2)
        t = (y - net.y[cell]) / (net.y[cell + 1] - net.y[cell])
        ends = np.full((2, len(y)), np.nan)
        # A place on a contour needs that contour only.
        for side, needed in ((0, t != 1.0), (1, t != 0.0)):
            for row in np.unique(cell[needed] + side).tolist():
                here = needed & (cell + side == row)
                at, distances = self._rising_marks[row]
                if len(at):
                    ends[side, here] = np.interp(u[here], at, distances, left=np.nan, right=np.nan)
        value = np.where(
            t == 0.0, ends[0], np.where(t == 1.0, ends[1], (1.0 - t) * ends[0] + t * ends[1])
        )
        return tuple(None if np.isnan(v) else float(v) for v in value)

    def u_of(self, values: LineValues) -> NDArray[np.float64]:
        """Return where along every contour a line has its point."""
        net, rows = self.net, np.arange(len(self.net))
        at = np.stack([values.x, values.z], axis=1)
        found = nearest(net.points, at)
        u = net.u_at(rows, found.stretch + found.t)
        return np.where(values.formed, u, np.nan)

    @cached_property
    def _rising_marks(self) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
        """Of every contour, where a wrap-around distance is reached, and which."""
        marks, distances = self._marks_u, np.array(self.lines.distances)
        order = np.argsort(distances)
        owned = [order[~np.isnan(row[order])] for row in marks]
        return [
            (np.maximum.accumulate(row[own]), distances[own])
            for row, own in zip(marks, owned, strict=True)
        ]

    @cached_property
    def _marks_u(self) -> NDArray[np.float64]:
        marks, net = self.lines.WAD, self.net
        rows = np.arange(len(net))[:, None]
        a = net.points[rows, marks.stretch]
        b = net.points[rows, np.minimum(marks.stretch + 1, net.points.shape[1] - 1)]
        whole = np.hypot(*np.moveaxis(b - a, -1, 0))
        part = np.hypot(marks.x - a[..., 0], marks.z - a[..., 1])
        t = np.clip(part / np.where(whole == 0.0, 1.0, whole), 0.0, 1.0)
        return np.where(marks.reached, net.u_at(rows, marks.stretch + t), np.nan)


def trace(net: Net, lined: Screened, *, rows_mm: float) -> Traced:
    """Form every line on every contour of a net; those of measured sections are known."""
    rules, wad, contours = lined.rules, lined.wad, net.contours
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
    known = _measured(net, lined, tape_x)
    old, new = np.flatnonzero(known >= 0), np.flatnonzero(known < 0)
    distances = sorted(marks)
    lines = joined(
        [
            with_marks(rows_of(lined.batch, known[old]), contours.part(old), distances),
            section_lines(contours.part(new), rules, distances, tape_x=tape_x[new]),
        ]
    )
    order = np.argsort(np.concatenate([old, new]))
    return Traced(net, rows_of(lines, order[net.row]), rules)


def _measured(net: Net, lined: Screened, tape_x: NDArray[np.float64]) -> NDArray[np.intp]:
    """Which section of the front each contour is, where its tape stands at the same place."""
    symmetric = lined.front.symmetric
    sections = {abs(y) if symmetric else y: i for i, y in enumerate(lined.front.stations)}
    y = np.empty(len(net.contours))
    y[net.row] = np.abs(net.y) if symmetric else net.y
    known = np.array([sections.get(at, -1) for at in y.tolist()], dtype=np.intp)
    known[lined.batch.anchor_x[known] != tape_x] = -1
    return known


def line_across(traced: Traced, name: str) -> FrontLine:
    """Return one reference line as a line across the front."""
    values: LineValues = getattr(traced.lines, name)
    statuses = [values.status(i) for i in range(len(traced.net))]
    reasons = [values.reason(i) for i in range(len(traced.net))]
    u = traced.u_of(values)
    return _across(traced, name, values.x, values.z, u, statuses, reasons)


def wad_across(traced: Traced, distance: float) -> FrontLine:
    """Return the marks at one wrap-around distance as a line across the front."""
    column = traced.lines.distances.index(distance)
    marks = traced.lines.WAD
    reached = marks.reached[:, column]
    statuses = ["ok" if here else "not_reached" for here in reached]
    reasons = ["" if here else "the contour ends before this distance" for here in reached]
    u = traced.mark_u(distance)
    name = f"WAD {distance:g}"
    return _across(traced, name, marks.x[:, column], marks.z[:, column], u, statuses, reasons)


def _across(
    traced: Traced,
    name: str,
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    u: NDArray[np.float64],
    statuses: list[str],
    reasons: list[str],
) -> FrontLine:
    y = traced.net.y
    formed = np.flatnonzero(~np.isnan(u))
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
        traced.wad(y[formed], u[formed]),
    )


def side_of(first: float, last: float) -> str:
    """Return on which side a piece of a line lies."""
    if first >= 0.0 and last > 0.0:
        return "right"
    return "left" if first < 0.0 and last <= 0.0 else "both"

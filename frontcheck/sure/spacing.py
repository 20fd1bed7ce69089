"""Whether the rows lie close enough together for the lines asked for.

Between two rows nothing was measured, so a contact may lie ahead of the straight stretch
that joins them. How far is bounded under an assumption about the surface.

Assumption
----------
Between two rows the surface swells no farther than its neighbours point: it stays within
the cap, the triangle over the stretch whose sides run on from the stretches before and
after. That holds for any surface that is convex across the three stretches. Where the
contour turns inward at one end, or ends, the cap takes the angle of the other end; where it
turns inward at both, the surface is taken to stay behind the stretch. No side stands
steeper than 60 deg on its stretch. (Own choice: our reading of "rows close
enough".) Features smaller than the gap, such as a lip between two rows, escape it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact
from frontcheck.geometry.tape import TautTape
from frontcheck.lines.bumper_lines import bumper_of, lower_edge, upper_edge
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.rear import RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.statuses import OPEN_END
from frontcheck.serializer import one_line, plain, table
from frontcheck.sure.tolerance_document import GapEntry, SpacingEntry
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pandas as pd

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section

LIMIT_MM: Final = 20.0
"""How far a line may move before rows are asked for [mm]; own choice: finer than a legform's height
limits or a grid of candidate points can be aimed."""
_STEEPEST: Final = math.radians(60.0)


@one_line
@dataclass(frozen=True)
class LineGap:
    """How far one line could move between the rows of one station."""

    station: float  # Station [mm]
    line: str  # ``UBRL``, ``LBRL``, ``BLERL``, ``BRRL`` or a mark such as ``WAD 1000``
    x: float  # The line from the rows as measured [mm]
    z: float  # The line from the rows as measured [mm]
    x_low: float  # Where it could lie [mm]
    x_high: float  # Where it could lie [mm]
    z_low: float  # Where it could lie [mm]
    z_high: float  # Where it could lie [mm]
    limit_mm: float  # How far it may move [mm]
    add: tuple[tuple[float, float], ...]

    @property
    def move_mm(self) -> float:
        """How far it could move, in x or z, whichever is more [mm]."""
        return max(
            self.x - self.x_low, self.x_high - self.x, self.z - self.z_low, self.z_high - self.z
        )

    @property
    def close_enough(self) -> bool:
        """Whether it stays within the limit."""
        return self.move_mm <= self.limit_mm


@one_line
@dataclass(frozen=True)
class SpacingReport:
    """The gaps of all lines that could be formed.

    Parameters
    ----------
    gaps : tuple of LineGap
        By station, then by line.
    not_formed : tuple of tuple of float and str
        Stations [mm] and lines that could not be formed.
    open_ends : tuple of tuple of float and str
        Stations [mm] and lines that more rows in between would not make known.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> report = fc.spacing(plover, "UN-R127-02")
    >>> len(report.too_wide)
    12
    """

    gaps: tuple[LineGap, ...]  # By station, then by line
    not_formed: tuple[tuple[float, str], ...]
    open_ends: tuple[tuple[float, str], ...] = ()

    @property
    def too_wide(self) -> tuple[LineGap, ...]:
        """Gaps in which a line could move farther than allowed."""
        return tuple(gap for gap in self.gaps if not gap.close_enough)

    def heights_to_add(self, station: float) -> tuple[tuple[float, float], ...]:
        """Return the rows to add at one station.

        Parameters
        ----------
        station : float
            Station [mm].

        Returns
        -------
        tuple of tuple of float
            Height and setback (z, x) of each row to add [mm].
        """
        rows = {row for gap in self.gaps if gap.station == station for row in gap.add}
        return tuple(sorted(rows))

    def to_frame(self) -> pd.DataFrame:
        """Return one row per station and line.

        Returns
        -------
        pandas.DataFrame
            Lengths in mm; missing numbers are NA.
        """
        gaps = [plain(GapEntry, gap) for gap in self.gaps]
        return table(gaps, GapEntry.__struct_fields__)

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(SpacingEntry, self)


def caps(points: Array) -> Array:
    """Return the tips of the caps over all stretches of a contour."""
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    # Turn toward the body at every inner point: positive where the contour is convex.
    turn = -np.arctan2(cross, (step[:-1] * step[1:]).sum(axis=1))
    at_lower = np.concatenate([[0.0], np.maximum(turn, 0.0)])
    at_upper = np.concatenate([np.maximum(turn, 0.0), [0.0]])
    lower = np.minimum(np.where(at_lower > 0.0, at_lower, at_upper), _STEEPEST)
    upper = np.minimum(np.where(at_upper > 0.0, at_upper, at_lower), _STEEPEST)
    flat = lower + upper == 0.0
    tan_lower, tan_upper = np.tan(lower), np.tan(upper)
    total = np.where(flat, 1.0, tan_lower + tan_upper)
    along = np.where(flat, 0.5, tan_upper / total)
    height = np.where(flat, 0.0, tan_lower * tan_upper / total) * length
    left = np.stack([-step[:, 1], step[:, 0]], axis=1) / length[:, None]
    return points[:-1] + along[:, None] * step + height[:, None] * left


def spacing(
    front: Front,
    rules: str | RuleSet,
    wad: Iterable[float] | None = None,
    *,
    limit_mm: float = LIMIT_MM,
) -> SpacingReport:
    """Bound how far each line could move between the rows, and say which rows to add.

    Parameters
    ----------
    front : Front
        The front.
    rules : str or RuleSet
        Rule set or its id.
    wad : iterable of float, optional
        Wrap-around distances [mm]; those of the rule set when not given.
    limit_mm : float, optional
        How far a line may move [mm].

    Returns
    -------
    SpacingReport
        The gaps.

    Raises
    ------
    InputError
        If the limit is not a positive length.
    RuleSetError
        If there is no such rule set.

    Notes
    -----
    For a line made by a straight edge the true contact lies in a cap, within the reach,
    and no farther back than the contact found: the box round all such places is given. A tape over
    the tips of all caps is the longest there can be; a sphere against them rests highest.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> report = fc.spacing(plover, "UN-R127-02", limit_mm=5)
    >>> report.heights_to_add(0)[:1]
    ((280.0, 54.0),)
    """
    if not (math.isfinite(limit_mm) and limit_mm > 0.0):
        raise refuse("spacing.limit", limit=limit_mm)
    lined = line_up(front, rules, wad)
    gaps: list[LineGap] = []
    missing: list[tuple[float, str]] = []
    open_ends: list[tuple[float, str]] = []
    for i, (section, station) in enumerate(zip(front.sections, lined.stations, strict=True)):
        check = _StationCheck(section, station, lined, limit_mm, i)
        points: tuple[LinePoint | WadPoint, ...] = (*station.lines, *station.wads)
        for point in points:
            if point.x is None or point.z is None:
                missing.append((station.y, point.name))
            elif point.status == OPEN_END:
                open_ends.append((station.y, point.name))
            else:
                gaps.append(check.gap(point, point.x, point.z))
    return SpacingReport(tuple(gaps), tuple(missing), tuple(open_ends))


class _StationCheck:
    """One station with the caps over its stretches."""

    def __init__(
        self, section: Section, station: Station, lined: LinedFront, limit: float, i: int
    ) -> None:
        self.section, self.station, self.limit = section, station, limit
        self.rear = RuledRear.of(lined.batch, i, Contours.of([section]), lined.rules)
        self.rules, self.lined = lined.rules, lined
        self.points = section.points
        self.tips = caps(section.points)
        ends = (self.points[:-1], self.points[1:])
        self.swell = sum(np.hypot(*(self.tips - end).T) for end in ends) - np.hypot(
            *np.diff(self.points, axis=0).T
        )

    def gap(self, point: LinePoint | WadPoint, x: float, z: float) -> LineGap:
        """Bound one line."""
        if point.name in ("UBRL", "LBRL") or (point.name == "BLERL" and point.status != "wad_1000"):
            box, add = self._edge(point.name, point, x, z)
        elif point.name == "BRRL":
            box, add = self._rest(x, z)
        else:
            asked = getattr(point, "distance", None)
            distance = self.rules.value("blerl.upper_end_wad_mm") if asked is None else asked
            box, add = self._tape(float(distance), x, z)
        moved = max(x - box[0], box[1] - x, z - box[2], box[3] - z)
        rows = tuple(sorted(add)) if moved > self.limit else ()
        return LineGap(self.station.y, point.name, x, z, *box, self.limit, rows)

    # --- straight edges ----------------------------------------------------------------

    def _edge(
        self, name: str, point: LinePoint | WadPoint, x: float, z: float
    ) -> tuple[tuple[float, float, float, float], set[tuple[float, float]]]:
        edge, counted = self._tool(name, point)
        touch = edge_contact(
            self.points[None], edge, take="lower" if name == "LBRL" else "upper", counted=counted
        )
        gap = float(touch.foot_x[0])
        box = [x, x, z, z]
        add: set[tuple[float, float]] = set()
        for i, tip in enumerate(self.tips):
            if counted is not None and not (counted[i] and counted[i + 1]):
                continue
            # What of the cap lies within the reach and no farther back than the contact.
            area = [tuple(self.points[i]), tuple(tip), tuple(self.points[i + 1])]
            area = _cut(area, 0.0, 1.0, edge.low)
            if math.isfinite(edge.high):
                area = _cut(area, 0.0, -1.0, -edge.high)
            area = _cut(area, -1.0, edge.slope, edge.low * edge.slope - gap)
            if not area:
                continue
            xs, zs = zip(*area, strict=True)
            box = [min(box[0], *xs), max(box[1], *xs), min(box[2], *zs), max(box[3], *zs)]
            move = max(x - min(xs), max(xs) - x, z - min(zs), max(zs) - z)
            if move > self.limit:
                add |= self._between(i, math.ceil(move / self.limit))
        return (float(box[0]), float(box[1]), float(box[2]), float(box[3])), add

    def _tool(self, name: str, point: LinePoint | WadPoint) -> tuple[StraightEdge, Mask | None]:
        """The straight edge of a line, and which points count."""
        rules = self.rules
        if name == "BLERL":
            lean = getattr(point, "edge_angle_deg", None) or rules.value("blerl.lean_deg")
            foot = rules.value("blerl.foot_height_mm")
            return StraightEdge.standing(rules.value("blerl.edge_length_mm"), lean, foot), None
        bumper = bumper_of(Contours.of([self.section]), rules)
        counted = None if bumper.counted is None else bumper.counted[0]
        if name == "LBRL":
            return lower_edge(rules), counted
        return upper_edge(rules, labelled=bool(bumper.labelled[0])), counted

    def _between(self, i: int, parts: int) -> set[tuple[float, float]]:
        """Rows that divide a stretch, to the millimetre: height and setback."""
        a, b = self.points[i], self.points[i + 1]
        rows = (a + (b - a) * k / parts for k in range(1, parts))
        return {(float(round(z)), float(round(x))) for x, z in rows}

    # --- tape and sphere over the caps ---------------------------------------------------

    def _tape(
        self, distance: float, x: float, z: float
    ) -> tuple[tuple[float, float, float, float], set[tuple[float, float]]]:
        marks = section_lines(self._outer(), self.rules, (distance,)).WAD
        x_out, z_out = float(marks.x[0, 0]), float(marks.z[0, 0])
        if not marks.reached[0, 0]:
            x_out, z_out = x, z
        add: set[tuple[float, float]] = set()
        if self.station.tape_x is not None:
            tape = TautTape(self.points, self.station.tape_x, self.station.tape_start)
            found = tape.solve(distance)
            bends = (*tape.path_of(found[0].way), found[0].stretch + 1) if found else ()
            borne = [a for a, b in zip(bends, bends[1:], strict=False) if a >= 0 and b == a + 1]
            rest = float(self.swell[borne].sum())
            for i in sorted(borne, key=lambda i: -self.swell[i]):
                if rest <= self.limit:
                    break
                # Half the stretch swells a quarter as much, and there are two halves.
                rest -= float(self.swell[i]) * 0.75
                add |= self._between(i, 2)
        return _box(x, z, x_out, z_out), add

    def _rest(
        self, x: float, z: float
    ) -> tuple[tuple[float, float, float, float], set[tuple[float, float]]]:
        outer = self._outer()
        line = self.rear.on(section_lines(outer, self.rules, ()), outer, self.rules).BRRL
        formed = bool(line.formed[0])
        x_out, z_out = (float(line.x[0]), float(line.z[0])) if formed else (x, z)
        low, high = min(x, x_out), max(x, x_out)
        add: set[tuple[float, float]] = set()
        for i, tip in enumerate(self.tips):
            if self.swell[i] > 0.0 and low - 1e-9 <= tip[0] <= high + 1e-9:
                add |= self._between(i, 2)
        return _box(x, z, x_out, z_out), add

    def _outer(self) -> Contours:
        """The contour over the tips of all caps."""
        n = len(self.points)
        order = np.empty((2 * n - 1, 2))
        order[0::2], order[1::2] = self.points, self.tips
        one = Contours.of([self.section])
        parts = np.repeat(one.parts[0], 2)[:-1]
        counted = bumper_of(one, self.rules).counted
        if counted is not None:
            # The tip over a stretch is bumper where both its ends are.
            parts[1::2] = np.where(counted[0, 1:], one.parts[0, :-1], one.parts[0, 1:])
        return Contours(
            order[None],
            np.array([2 * n - 1]),
            parts[None],
            np.where(one.screen >= 0, 2 * one.screen, -1),
            one.silhouette,
        )


def _box(x: float, z: float, x_out: float, z_out: float) -> tuple[float, float, float, float]:
    return min(x, x_out), max(x, x_out), min(z, z_out), max(z, z_out)


def _cut(
    area: Sequence[tuple[float, ...]], a: float, b: float, least: float
) -> list[tuple[float, ...]]:
    """Keep of a convex polygon what has a x + b z >= least (rounding kept)."""
    kept: list[tuple[float, ...]] = []
    for (x0, z0), (x1, z1) in zip(area, [*area[1:], *area[:1]], strict=True):
        d0, d1 = a * x0 + b * z0 - least + 1e-9, a * x1 + b * z1 - least + 1e-9
        if d0 >= 0.0:
            kept.append((x0, z0))
        if (d0 > 0.0 > d1) or (d0 < 0.0 < d1):
            t = d0 / (d0 - d1)
            kept.append((x0 + t * (x1 - x0), z0 + t * (z1 - z0)))
    return kept

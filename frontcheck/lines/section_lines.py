"""Reference lines of side sections, from contacts, by rule set.

Glossary
--------
UBRL, LBRL
    Upper and lower bumper reference line.
BLERL
    Bonnet leading edge reference line.
BRRL
    Bonnet rear reference line.
WAD
    Wrap-around distance: length of a taut tape from the ground below the foremost bumper
    point to a point of the surface.

Everything here works on B contours at once (`Contours`); one section is a batch of one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

import numpy as np

from frontcheck.geometry.sphere import sphere_contact
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact, touch_runs
from frontcheck.geometry.tape_batch import tape_marks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.straight_edge import EdgeContact
    from frontcheck.geometry.tape_batch import TapeMarks
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.contours import Contours

_T = TypeVar("_T")

STATUSES: Final = (
    "ok",
    "retaken_40deg",
    "lower_end",
    "wad_1000",
    "underside_first",
    "wad_only",
    "edge_end",
    "open_end",
    "not_reached",
    "not_available",
)
"""Status of a line, from the plainest to the least known; the index is the code in batches."""

(
    OK,
    RETAKEN,
    LOWER_END,
    WAD_1000,
    UNDERSIDE_FIRST,
    WAD_ONLY,
    EDGE_END,
    OPEN_END,
    NOT_REACHED,
    NOT_AVAILABLE,
) = range(len(STATUSES))

FORMED: Final = frozenset(STATUSES[:NOT_REACHED])
"""Statuses of what could be formed; of `open_end` the value is kept, but not known for sure."""

_AT_ONCE: Final = 2000
"""Contours worked on together; results do not depend on it."""

NO_ANCHOR: Final = "no point of the contour lies low enough to hang the tape from"
"""Why there is no wrap-around distance."""

_REASONS: Final = (
    "",
    "the straight edge touches with its end: what lies beyond its reach may stand farther out",
    "the lower end of the edge touches first; that contact is the line",
    "the upper end of the edge touches first; the line is the WAD point that the rules name",
    "contact at the first lean is continuous or multiple; taken again at the second lean",
    "contact is continuous or multiple at both leans; the uppermost touch is taken",
    "no part of the contour that counts lies within the reach of the straight edge",
    "the upper end of the edge touches first, but the tape does not reach that WAD point",
    "the sphere meets nothing ahead of the windscreen before the contour ends",
    "no point is labelled windscreen, so the sphere cannot be kept on it",
    "the sphere would rest beyond the WAD at which these rules cap the line",
    "contact is at the first or last measured point: the surface beyond it is not known",
)
(
    _PLAIN,
    _R_END,
    _R_LOWER,
    _R_WAD,
    _R_RETAKEN,
    _R_UPPERMOST,
    _R_REACH,
    _R_NO_WAD,
    _R_NO_REST,
    _R_NO_SCREEN,
    _R_CAPPED,
    _R_OPEN_END,
) = range(len(_REASONS))


@dataclass(frozen=True, eq=False)
class LineValues:
    """One line in B contours."""

    code: NDArray[np.intp]  # (B,) int, index into `STATUSES`
    x: NDArray[np.float64]  # (B,) point [mm]; holds nothing meaningful where `formed` is False
    z: NDArray[np.float64]  # (B,) point [mm]; holds nothing meaningful where `formed` is False
    reason_code: NDArray[np.intp]  # (B,) int; see `reason`

    @property
    def formed(self) -> NDArray[np.bool_]:
        """Where the line could be formed, (B,) bool."""
        return self.code < NOT_REACHED

    def status(self, i: int) -> str:
        """Return the status of one contour."""
        return STATUSES[self.code[i]]

    def reason(self, i: int) -> str:
        """Why the status of one contour is what it is; empty when there is nothing to say."""
        return _REASONS[self.reason_code[i]]


@dataclass(frozen=True, eq=False)
class TapeAnchor:
    """Where the tape hangs from, in B contours."""

    found: NDArray[np.bool_]  # (B,) bool
    x: NDArray[np.float64]  # (B,) foremost point [mm]
    z: NDArray[np.float64]  # (B,) foremost point [mm]
    start: NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LineBatch:
    """All lines of B contours."""

    UBRL: LineValues  # The lines
    LBRL: LineValues  # The lines
    BLERL: LineValues  # The lines
    BRRL: LineValues  # The lines
    edge_angle_deg: NDArray[np.float64]  # (B,) lean of the straight edge that formed BLERL [deg]
    edge_touch: NDArray[np.float64]  # (B, 2) where that edge touches, x and z [mm]
    sphere: NDArray[np.float64]  # (B, 6) x and z of centre, of contact, of contact with the glass
    anchor: TapeAnchor  # Foremost points
    anchor_x: NDArray[np.float64]  # (B,) x at which the tape stands on the ground [mm]
    distances: tuple[float, ...]  # (m,) wrap-around distances asked for [mm]
    WAD: TapeMarks  # (B, m) points at those distances

    @property
    def bumper_lead(self) -> np.ma.MaskedArray[tuple[int], np.dtype[np.float64]]:
        """Horizontal distance from UBRL to BLERL, (B,) [mm], masked where one is missing."""
        # (EC) 631/2009, Annex Part I, 2.4 (text read). Negative values are kept.
        return np.ma.MaskedArray(
            self.BLERL.x - self.UBRL.x, mask=~(self.BLERL.formed & self.UBRL.formed)
        )


def tape_anchor(contours: Contours, rules: RuleSet) -> TapeAnchor:
    """Find the foremost bumper point, below which the tape stands on the ground."""
    limit = rules.value("wad.anchor_height_mm")
    points, row = contours.points, np.arange(len(contours))
    found = np.zeros(len(contours), dtype=bool)
    x, z = np.zeros(len(contours)), np.zeros(len(contours))
    start = np.zeros(len(contours), dtype=np.intp)
    for with_bumper, height in ((True, math.inf), (False, limit)):
        chosen = np.flatnonzero(contours.has_bumper == with_bumper)
        if len(chosen) == 0:
            continue
        counted = contours.bumper[chosen] if with_bumper else None
        plumb = StraightEdge(0.0, 0.0, height)
        touch = edge_contact(points[chosen], plumb, take="lower", counted=counted)
        found[chosen], x[chosen], z[chosen] = touch.touched, touch.x, touch.z
        after = points[chosen, touch.stretch + 1]
        before = points[chosen, touch.stretch]
        at_after = (after[:, 0] == touch.x) & (after[:, 1] == touch.z)
        start[chosen] = touch.stretch + (at_after | (before[:, 1] > height))
    return TapeAnchor(found, x, z, np.minimum(start, contours.counts[row] - 1))


def section_lines(
    contours: Contours,
    rules: RuleSet,
    wad: Sequence[float] | None = None,
    *,
    tape_start: Literal["section", "vehicle"] = "section",
    tape_x: NDArray[np.float64] | None = None,
) -> LineBatch:
    """Form every line of every contour."""
    given = rules.values("wad.distances_mm") if wad is None else wad
    distances = tuple(dict.fromkeys(float(d) for d in given))
    if tape_x is None and tape_start == "vehicle":
        front = tape_anchor(contours, rules)
        if front.found.any():
            tape_x = np.full(len(contours), front.x[front.found].min())
    # Batches that fit into the processor's cache take half the time of one large batch.
    slices = [slice(i, i + _AT_ONCE) for i in range(0, len(contours), _AT_ONCE)] or [slice(0)]
    return joined(
        [
            _form(contours.part(s), rules, distances, None if tape_x is None else tape_x[s])
            for s in slices
        ]
    )


def with_marks(batch: LineBatch, contours: Contours, distances: Sequence[float]) -> LineBatch:
    """Return the lines of the same contours with marks at other wrap-around distances."""
    marks = _marks(contours, batch.anchor, batch.anchor_x, distances)
    return replace(batch, distances=tuple(distances), WAD=marks)


def rows_of(source: _T, rows: NDArray[np.intp]) -> _T:
    """Return a result for B contours with its rows taken anew."""
    changes: dict[str, Any] = {}
    for field in fields(source):  # type: ignore[arg-type]
        value = getattr(source, field.name)
        if isinstance(value, np.ndarray):
            changes[field.name] = value[rows]
        elif is_dataclass(value):
            changes[field.name] = rows_of(value, rows)
    return replace(source, **changes)  # type: ignore[type-var]


def joined(parts: list[LineBatch]) -> LineBatch:
    """Lay results of batches with the same distances end to end."""
    batch: LineBatch = _joined(parts)
    return batch


def _joined(parts: list[Any]) -> Any:
    first = parts[0]  # what is no array is the same in all
    if len(parts) == 1:
        return first
    if is_dataclass(first):
        columns = ([getattr(part, f.name) for part in parts] for f in fields(first))
        kind: Any = type(first)
        return kind(*map(_joined, columns))
    return np.concatenate(parts) if isinstance(first, np.ndarray) else first


def _form(
    contours: Contours,
    rules: RuleSet,
    distances: tuple[float, ...],
    tape_x: NDArray[np.float64] | None,
) -> LineBatch:
    """Form every line of every contour of one batch."""
    anchor = tape_anchor(contours, rules)
    anchor_x = anchor.x if tape_x is None else tape_x
    upper_end = rules.value("blerl.upper_end_wad_mm")
    cap = rules.value("brrl.wad_cap_mm")
    wanted = tuple(dict.fromkeys((*distances, upper_end, cap)))
    marks = _marks(contours, anchor, anchor_x, wanted)
    bonnet_edge, angle, edge_touch = _blerl(contours, rules, marks, wanted.index(upper_end))
    rear, sphere = _brrl(contours, rules, marks, wanted.index(cap))
    return LineBatch(
        UBRL=_ubrl(contours, rules),
        LBRL=_lbrl(contours, rules),
        BLERL=bonnet_edge,
        BRRL=rear,
        edge_angle_deg=angle,
        edge_touch=edge_touch,
        sphere=sphere,
        anchor=anchor,
        anchor_x=anchor_x,
        distances=distances,
        WAD=marks.first(len(distances)),
    )


def _marks(
    contours: Contours,
    anchor: TapeAnchor,
    anchor_x: NDArray[np.float64],
    distances: Sequence[float],
) -> TapeMarks:
    marks = tape_marks(contours.points, anchor_x, anchor.start, distances)
    marks.reached[~anchor.found] = False
    return marks


def _ubrl(contours: Contours, rules: RuleSet) -> LineValues:
    """Uppermost contact of the edge leant rearward, on the bumper where it is labelled."""
    standing = StraightEdge.standing(
        rules.value("ubrl.edge_length_mm"), rules.value("ubrl.lean_deg")
    )
    free = StraightEdge(standing.lean_deg, standing.low, math.inf)
    parts = rules.texts("ubrl.parts")
    out = _empty(len(contours))
    for with_bumper in (True, False):
        chosen = np.flatnonzero(contours.has_bumper == with_bumper)
        if len(chosen) == 0:
            continue
        limited = with_bumper and bool(parts)
        # The edge need not stand on the ground where the bumper is known and the rules say so.
        edge = free if limited and not rules.flag("ubrl.foot_on_ground") else standing
        counted = contours.bumper[chosen] if limited else None
        touch = edge_contact(contours.points[chosen], edge, take="upper", counted=counted)
        _fill(out, chosen, touch, contours)
    return out


def _lbrl(contours: Contours, rules: RuleSet) -> LineValues:
    """Lowermost contact of the edge leant forward."""
    edge = StraightEdge.standing(rules.value("lbrl.edge_length_mm"), -rules.value("lbrl.lean_deg"))
    touch = edge_contact(contours.points, edge, take="lower")
    out = _empty(len(contours))
    _fill(out, np.arange(len(contours)), touch, contours)
    return out


def _empty(batch: int) -> LineValues:
    return LineValues(
        np.full(batch, NOT_REACHED),
        np.zeros(batch),
        np.zeros(batch),
        np.full(batch, _R_REACH),
    )


def _fill(
    out: LineValues, chosen: NDArray[np.intp], touch: EdgeContact, contours: Contours
) -> None:
    """Write a bumper contact into the lines: status ok, edge_end or not_reached."""
    end = touch.at_high | touch.at_low
    code = np.where(touch.touched, np.where(end, EDGE_END, OK), NOT_REACHED)
    points = contours.points[chosen]
    last = points[np.arange(len(chosen)), contours.counts[chosen] - 1]
    at = np.stack([touch.x, touch.z], axis=-1)
    open_end = (at == points[:, 0]).all(axis=-1) | (at == last).all(axis=-1)
    out.code[chosen], out.x[chosen], out.z[chosen] = code, touch.x, touch.z
    out.reason_code[chosen] = np.select(
        [~touch.touched, end, open_end], [_R_REACH, _R_END, _R_OPEN_END], _PLAIN
    )


def _blerl(
    contours: Contours, rules: RuleSet, marks: TapeMarks, upper_end: int
) -> tuple[LineValues, NDArray[np.float64], NDArray[np.float64]]:
    """Bonnet leading edge with its special cases, (EC) 631/2009 Annex Part I 2.2 (text read)."""
    # Reading: continuous or multiple contact is looked for first, as in the text's order, then
    # contact of the lower and of the upper end.
    length, foot = rules.value("blerl.edge_length_mm"), rules.value("blerl.foot_height_mm")
    first, second = rules.value("blerl.lean_deg"), rules.value("blerl.retake_lean_deg")
    tolerance = rules.value("blerl.contact_tolerance_mm")
    long, apart = rules.value("blerl.continuous_length_mm"), rules.value("blerl.separate_touch_mm")
    out = _empty(len(contours))
    angle = np.full(len(contours), first)
    touches = np.zeros((len(contours), 2))

    def place(chosen: NDArray[np.intp], lean: float) -> NDArray[np.intp]:
        """Place the edge at one lean; return the contours where contact is not one point."""
        edge = StraightEdge.standing(length, lean, foot)
        points = contours.points[chosen]
        touch = edge_contact(points, edge, take="upper")
        runs = touch_runs(points, edge, touch, tolerance)
        several = touch.touched & ((runs.longest > long) | (runs.spread > apart))
        retaken = lean == second
        x, z = touch.x.copy(), touch.z.copy()
        if retaken:
            x = np.where(several, runs.top_x, x)
            z = np.where(several, runs.top_z, z)
        touches[chosen] = np.stack([x, z], axis=-1)
        tape = touch.at_high & ~(several & retaken)
        low = touch.at_low & ~(several & retaken)
        x = np.where(tape, marks.x[chosen, upper_end], x)
        z = np.where(tape, marks.z[chosen, upper_end], z)
        lost = tape & ~marks.reached[chosen, upper_end]
        out.x[chosen], out.z[chosen] = x, z
        angle[chosen] = lean
        out.code[chosen] = np.select(
            [~touch.touched | lost, tape, low],
            [NOT_REACHED, WAD_1000, LOWER_END],
            RETAKEN if retaken else OK,
        )
        plain = np.where(several, _R_UPPERMOST, _R_RETAKEN) if retaken else _PLAIN
        out.reason_code[chosen] = np.select(
            [~touch.touched, lost, tape, low], [_R_REACH, _R_NO_WAD, _R_WAD, _R_LOWER], plain
        )
        return chosen[several]

    again = place(np.arange(len(contours)), first)
    if len(again):
        place(again, second)
    return out, angle, touches


def _brrl(
    contours: Contours, rules: RuleSet, marks: TapeMarks, cap: int
) -> tuple[LineValues, NDArray[np.float64]]:
    """Rearmost contact of the sphere on the surface ahead of the windscreen."""
    radius = rules.value("brrl.sphere_diameter_mm") / 2.0
    batch = len(contours)
    out = LineValues(
        np.full(batch, NOT_AVAILABLE),
        np.zeros(batch),
        np.zeros(batch),
        np.full(batch, _R_NO_SCREEN),
    )
    sphere = np.zeros((batch, 6))
    ranges, group = np.unique(contours.screen, axis=0, return_inverse=True)
    for g, (upper, first, last) in enumerate(ranges):
        if first < 0:
            continue
        chosen = np.flatnonzero(group.reshape(-1) == g)
        rest = sphere_contact(contours.points[chosen], radius, (int(first), int(last)), int(upper))
        x, z = rest.x, rest.z
        sphere[chosen] = np.stack(
            [rest.centre_x, rest.centre_z, x, z, rest.screen_x, rest.screen_z], axis=-1
        )
        mark_x, mark_z = marks.x[chosen, cap], marks.z[chosen, cap]
        mark_at, reached = marks.stretch[chosen, cap], marks.reached[chosen, cap]
        row = np.arange(len(chosen))
        base = contours.points[chosen][row, mark_at]
        beyond = (rest.stretch > mark_at) | (
            (rest.stretch == mark_at)
            & (np.hypot(x - base[:, 0], z - base[:, 1])
               > np.hypot(mark_x - base[:, 0], mark_z - base[:, 1]))
        )  # fmt: skip
        capped = rules.flag("brrl.cap_line") & rest.touched & reached & beyond
        out.x[chosen] = np.where(capped, mark_x, x)
        out.z[chosen] = np.where(capped, mark_z, z)
        out.code[chosen] = np.where(rest.touched, OK, NOT_REACHED)
        out.reason_code[chosen] = np.select(
            [~rest.touched, capped], [_R_NO_REST, _R_CAPPED], _PLAIN
        )
    return out, sphere

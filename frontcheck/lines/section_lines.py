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

from frontcheck.geometry.straight_edge import StraightEdge, edge_contact, touch_runs
from frontcheck.geometry.tape_batch import tape_marks
from frontcheck.lines.bumper_lines import (
    TapeAnchor,
    bumper_of,
    lower_bumper_line,
    open_foot,
    tape_anchor,
    upper_bumper_line,
)
from frontcheck.lines.line_values import (
    LOWER_END,
    NOT_AVAILABLE,
    NOT_REACHED,
    OK,
    OPEN_END,
    PLAIN,
    R_LOWER,
    R_NO_WAD,
    R_ONE_SECTION,
    R_REACH,
    R_RETAKEN,
    R_UPPERMOST,
    R_WAD,
    RETAKEN,
    WAD_1000,
    LineValues,
    unavailable,
)
from frontcheck.lines.open_ends import Ends, open_marks, opened

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.geometry.tape_batch import TapeMarks
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.contours import Contours

_T = TypeVar("_T")

_AT_ONCE: Final = 2000
"""Contours worked on together; results do not depend on it."""


@dataclass(frozen=True, eq=False)
class LineBatch:
    """All lines of B contours."""

    UBRL: LineValues  # The lines
    LBRL: LineValues  # The lines
    BLERL: LineValues  # The lines
    BRRL: LineValues  # The lines
    underside: Array  # (B, 2) where the edge of LBRL touches that first; NaN: nowhere
    edge_angle_deg: Array  # (B,) lean of the straight edge that formed BLERL [deg]
    edge_touch: Array  # (B, 2) where that edge touches, x and z [mm]
    sphere: Array  # (B, 9) x, y, z of centre, contact, contact with the windscreen
    anchor: TapeAnchor  # Foremost points
    wad_open: NDArray[np.int8]  # (B, m) ends that could change the mark: 1 lower, 2 rear, 3 both
    anchor_x: Array  # (B,) x at which the tape stands on the ground [mm]
    distances: tuple[float, ...]  # (m,) wrap-around distances asked for [mm]
    WAD: TapeMarks  # (B, m) points at those distances
    silhouette: Mask  # (B,) bool, whether each is an outline seen from the side

    @property
    def wad_code(self) -> Index:
        """Status of every mark, (B, m) int, index into `STATUSES`."""
        reached = np.where(self.wad_open > 0, OPEN_END, OK)
        code = np.where(self.WAD.reached, reached, NOT_REACHED)
        return np.where(self.anchor.found[:, None], code, NOT_AVAILABLE)

    @property
    def bumper_lead(self) -> np.ma.MaskedArray[tuple[int], np.dtype[np.float64]]:
        """Horizontal distance from UBRL to BLERL, (B,) [mm], masked where one is missing."""
        # (EC) 631/2009, Annex Part I, 2.4 (text read). Negative values are kept.
        return np.ma.MaskedArray(
            self.BLERL.x - self.UBRL.x, mask=~(self.BLERL.formed & self.UBRL.formed)
        )


def section_lines(
    contours: Contours,
    rules: RuleSet,
    wad: Sequence[float] | None = None,
    *,
    tape_start: Literal["section", "vehicle"] = "section",
    tape_x: Array | None = None,
) -> LineBatch:
    """Form every line of every contour that needs no plan shape: all but BRRL."""
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


def with_marks(
    batch: LineBatch, contours: Contours, distances: Sequence[float], rules: RuleSet
) -> LineBatch:
    """Return the lines of the same contours with marks at other wrap-around distances."""
    marks = _marks(contours, batch.anchor, batch.anchor_x, distances)
    bumper, ends = bumper_of(contours, rules), Ends.of(contours, rules)
    wad_open = open_marks(
        ends, contours, open_foot(contours, bumper, batch.anchor, rules), batch.anchor_x, marks
    )
    return replace(batch, distances=tuple(distances), WAD=marks, wad_open=wad_open)


def rows_of(source: _T, rows: Index) -> _T:
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
    contours: Contours, rules: RuleSet, distances: tuple[float, ...], tape_x: Array | None
) -> LineBatch:
    """Form every line of every contour of one batch."""
    bumper, ends = bumper_of(contours, rules), Ends.of(contours, rules)
    anchor = tape_anchor(contours, rules, bumper)
    anchor_x = anchor.x if tape_x is None else tape_x
    upper_end = rules.value("blerl.upper_end_wad_mm")
    wanted = tuple(dict.fromkeys((*distances, upper_end)))
    marks = _marks(contours, anchor, anchor_x, wanted)
    wad_open = open_marks(
        ends, contours, open_foot(contours, bumper, anchor, rules), anchor_x, marks
    )
    end = wanted.index(upper_end)
    bonnet_edge, angle, edge_touch = _blerl(contours, rules, marks, end, ends, wad_open[:, end])
    lower, underside = lower_bumper_line(contours, bumper, ends, rules)
    return LineBatch(
        UBRL=upper_bumper_line(contours, bumper, ends, rules),
        LBRL=lower,
        BLERL=bonnet_edge,
        BRRL=unavailable(len(contours), R_ONE_SECTION),
        underside=underside,
        edge_angle_deg=angle,
        edge_touch=edge_touch,
        sphere=np.zeros((len(contours), 9)),
        anchor=anchor,
        wad_open=wad_open[:, : len(distances)],
        anchor_x=anchor_x,
        distances=distances,
        WAD=marks.first(len(distances)),
        silhouette=contours.silhouette,
    )


def _marks(
    contours: Contours, anchor: TapeAnchor, anchor_x: Array, distances: Sequence[float]
) -> TapeMarks:
    marks = tape_marks(contours.points, anchor_x, anchor.start, distances)
    marks.reached[~anchor.found] = False
    return marks


def _blerl(
    contours: Contours,
    rules: RuleSet,
    marks: TapeMarks,
    upper_end: int,
    ends: Ends,
    wad_open: NDArray[np.int8],
) -> tuple[LineValues, Array, Array]:
    """Bonnet leading edge with its special cases, (EC) 631/2009 Annex Part I 2.2 (text read)."""
    # Reading: continuous or multiple contact is looked for first, as in the text's order, then
    # contact of the lower and of the upper end.
    length, foot = rules.value("blerl.edge_length_mm"), rules.value("blerl.foot_height_mm")
    first, second = rules.value("blerl.lean_deg"), rules.value("blerl.retake_lean_deg")
    tolerance = rules.value("blerl.contact_tolerance_mm")
    long, apart = rules.value("blerl.continuous_length_mm"), rules.value("blerl.separate_touch_mm")
    out = LineValues(
        *(np.zeros(len(contours), dtype=kind) for kind in (np.intp, float, float, np.intp))
    )
    angle, bits = np.full(len(contours), first), np.zeros(len(contours), dtype=np.int8)
    touches = np.zeros((len(contours), 2))

    def place(chosen: Index, lean: float) -> Index:
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
        # What comes within the tolerance of the edge may make contact multiple.
        bits[chosen] |= ends.part(chosen).meet(
            edge, touch.foot_x, tolerance / math.cos(math.radians(lean))
        )
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
        plain = np.where(several, R_UPPERMOST, R_RETAKEN) if retaken else PLAIN
        out.reason_code[chosen] = np.select(
            [~touch.touched, lost, tape, low], [R_REACH, R_NO_WAD, R_WAD, R_LOWER], plain
        )
        return chosen[several]

    again = place(np.arange(len(contours)), first)
    if len(again):
        place(again, second)
    bits |= np.where(out.code == WAD_1000, wad_open, 0).astype(np.int8)
    opened(out, ends, bits)
    return out, angle, touches

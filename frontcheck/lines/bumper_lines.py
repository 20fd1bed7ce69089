"""The bumper of side sections: its two reference lines, and the foremost point the tape hangs from.

One rule says what the bumper is. UN R127 02 series, 2.11 (text read): the front, lower, outer
structure with its attachments. Reading: the parts that the rules name, below the bonnet, and
points without a label; where nothing is labelled bumper, every point but those of the underside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.geometry.straight_edge import TIE_MM, StraightEdge, edge_contact
from frontcheck.lines.line_values import (
    EDGE_END,
    NOT_REACHED,
    OK,
    OPEN_END,
    PLAIN,
    R_END,
    R_NOT_SEEN,
    R_REACH,
    R_UNDERSIDE,
    UNDERSIDE_FIRST,
    LineValues,
)
from frontcheck.lines.open_ends import OpenFoot, opened
from frontcheck.surface.section import PARTS, among

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.geometry.straight_edge import EdgeContact
    from frontcheck.lines.open_ends import Ends
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.contours import Contours

_ABOVE = ("bonnet", "wing", "cowl", "windscreen", "pillar")


@dataclass(frozen=True, eq=False)
class Bumper:
    """What counts as bumper in B contours."""

    counted: Mask | None  # (B, n) bool, its points; None: every point of all
    labelled: Mask  # (B,) bool, whether labels say so

    def ends(self, contours: Contours) -> Mask | None:
        """Whether the first and the last point count, (B, 2); None: both do everywhere."""
        if self.counted is None:
            return None
        last = self.counted[np.arange(len(contours)), contours.counts - 1]
        return np.stack([self.counted[:, 0], last], axis=-1)

    def of(self, chosen: Index) -> Mask | None:
        """Return the points that count in some of the contours."""
        return None if self.counted is None else self.counted[chosen]


def bumper_of(contours: Contours, rules: RuleSet) -> Bumper:
    """Say what counts as bumper."""
    names, codes = rules.texts("bumper.parts"), contours.parts
    nothing = np.zeros(len(contours), dtype=bool)
    if not names or not (codes >= 0).any():
        return Bumper(None, nothing)
    counted = among(codes, names, unlabelled=True)
    above = among(codes, _ABOVE)
    counted &= ~np.logical_or.accumulate(above, axis=1) | (codes < 0)
    labelled = (codes == PARTS.index("bumper")).any(axis=1)
    counted = np.where(labelled[:, None], counted, ~among(codes, ("underside",)))
    return Bumper(counted, labelled)


@dataclass(frozen=True, eq=False)
class TapeAnchor:
    """Where the tape hangs from, in B contours."""

    found: Mask  # (B,) bool
    x: Array  # (B,) foremost point [mm]
    z: Array  # (B,) foremost point [mm]
    start: Index


def open_foot(contours: Contours, bumper: Bumper, anchor: TapeAnchor, rules: RuleSet) -> OpenFoot:
    """Return what the foot of the tape rests on."""
    limit = rules.value("wad.anchor_height_mm")
    return OpenFoot(anchor.x, bumper.labelled, bumper.ends(contours), limit)


def tape_anchor(contours: Contours, rules: RuleSet, bumper: Bumper | None = None) -> TapeAnchor:
    """Find the foremost bumper point, below which the tape stands on the ground."""
    limit = rules.value("wad.anchor_height_mm")
    bumper = bumper or bumper_of(contours, rules)
    points, row = contours.points, np.arange(len(contours))
    found = np.zeros(len(contours), dtype=bool)
    x, z = np.zeros(len(contours)), np.zeros(len(contours))
    start = np.zeros(len(contours), dtype=np.intp)
    for labelled, height in ((True, math.inf), (False, limit)):
        chosen = np.flatnonzero(bumper.labelled == labelled)
        if len(chosen) == 0:
            continue
        plumb = StraightEdge(0.0, 0.0, height)
        touch = edge_contact(points[chosen], plumb, take="lower", counted=bumper.of(chosen))
        found[chosen], x[chosen], z[chosen] = touch.touched, touch.x, touch.z
        after = points[chosen, touch.stretch + 1]
        before = points[chosen, touch.stretch]
        at_after = (after[:, 0] == touch.x) & (after[:, 1] == touch.z)
        start[chosen] = touch.stretch + (at_after | (before[:, 1] > height))
    return TapeAnchor(found, x, z, np.minimum(start, contours.counts[row] - 1))


def upper_edge(rules: RuleSet, *, labelled: bool) -> StraightEdge:
    """Return the edge of UBRL."""
    edge = StraightEdge.standing(rules.value("ubrl.edge_length_mm"), rules.value("ubrl.lean_deg"))
    # The edge need not stand on the ground where the bumper is known and the rules say so.
    if labelled and not rules.flag("ubrl.foot_on_ground"):
        return StraightEdge(edge.lean_deg, edge.low, math.inf)
    return edge


def lower_edge(rules: RuleSet) -> StraightEdge:
    """Return the edge of LBRL."""
    return StraightEdge.standing(rules.value("lbrl.edge_length_mm"), -rules.value("lbrl.lean_deg"))


def upper_bumper_line(contours: Contours, bumper: Bumper, ends: Ends, rules: RuleSet) -> LineValues:
    """Uppermost contact of the edge inclined rearward, shortened below all that is no bumper."""
    out = _empty(len(contours))
    counted, bits = bumper.ends(contours), np.zeros(len(contours), dtype=np.int8)
    for labelled in (True, False):
        chosen = np.flatnonzero(bumper.labelled == labelled)
        if len(chosen) == 0:
            continue
        edge = upper_edge(rules, labelled=labelled)
        touch = edge_contact(contours.points[chosen], edge, take="upper", counted=bumper.of(chosen))
        _fill(out, chosen, touch)
        own = None if counted is None else counted[chosen]
        bits[chosen] = ends.part(chosen).meet(edge, touch.foot_x, counted=own)
    opened(out, ends, bits)
    return out


def lower_bumper_line(
    contours: Contours, bumper: Bumper, ends: Ends, rules: RuleSet
) -> tuple[LineValues, Array]:
    """Lowermost contact of the edge inclined forward; where it would touch the underside first."""
    edge, every = lower_edge(rules), np.arange(len(contours))
    touch = edge_contact(contours.points, edge, take="lower", counted=bumper.counted)
    out = _empty(len(contours))
    _fill(out, every, touch)
    below = among(contours.parts, ("underside",))
    other = np.full((len(contours), 2), np.nan)
    if below.any():
        first = edge_contact(contours.points, edge, take="lower", counted=below)
        ahead = first.touched & touch.touched & (first.foot_x < touch.foot_x - TIE_MM)
        other[ahead] = np.stack([first.x, first.z], axis=-1)[ahead]
        first_only = ahead & (out.code == OK)
        out.code[first_only], out.reason_code[first_only] = UNDERSIDE_FIRST, R_UNDERSIDE
    opened(out, ends, ends.meet(edge, touch.foot_x, counted=bumper.ends(contours)))
    unseen = contours.silhouette & out.formed
    out.code[unseen], out.reason_code[unseen] = OPEN_END, R_NOT_SEEN
    return out, other


def _empty(batch: int) -> LineValues:
    return LineValues(
        np.full(batch, NOT_REACHED), np.zeros(batch), np.zeros(batch), np.full(batch, R_REACH)
    )


def _fill(out: LineValues, chosen: Index, touch: EdgeContact) -> None:
    """Write a bumper contact into the lines: status ok, edge_end or not_reached."""
    end = touch.at_high | touch.at_low
    code = np.where(touch.touched, np.where(end, EDGE_END, OK), NOT_REACHED)
    out.code[chosen], out.x[chosen], out.z[chosen] = code, touch.x, touch.z
    out.reason_code[chosen] = np.select([~touch.touched, end], [R_REACH, R_END], PLAIN)

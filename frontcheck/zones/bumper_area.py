"""The bumper: its test area, its thirds and those of the leading edge, the legform along it.

Readings
--------
thirds
    The tape runs from end to end along the outer contour, held taut round the front: in plan
    it bears on the convex outline only. For the bumper the contour is the plan outline
    of the foremost bumper points; for the leading edge it is BLERL, in three dimensions.
beam rule
    The wider of two spans counts as a whole: corner to corner less the inboard distance, or
    beam end to beam end less its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from frontcheck.geometry.surface_tape import taut_string
from frontcheck.lines.front_line import Spot, worst_status
from frontcheck.lines.station import legform_for
from frontcheck.zones.bumper_results import BumperArea, LegformRun, Thirds

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.lines.front_line import Pair
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.zones.lines_across import Traced

__all__ = ["bumper_area", "bumper_thirds", "leading_edge_thirds", "legform_runs"]


def bumper_area(corners: Pair, beam_ends: tuple[float, float] | None, rules: RuleSet) -> BumperArea:
    """Return the lateral extent of the bumper test area."""
    spans: dict[str, tuple[float, float]] = {}
    left, right = corners.left.point, corners.right.point
    if left is not None and right is not None:
        inboard = rules.value("bumper_area.inboard_mm")
        spans["corners"] = (left[1] + inboard, right[1] - inboard)
    beam_rule = rules.flag("bumper_area.beam_rule")
    if beam_rule and beam_ends is not None:
        inboard = rules.value("bumper_area.beam_inboard_mm")
        spans["beam"] = (beam_ends[0] + inboard, beam_ends[1] - inboard)
    reason = []
    if beam_rule and beam_ends is None:
        reason.append(
            "the beam ends are not given, so the area is by the corners alone; these rules want "
            "the wider of that and the beam"
        )
    if beam_ends is not None and not beam_rule:
        reason.append(f"rule set {rules.id} has no beam rule, so the beam ends are not used")
    if corners.reason:
        reason.append(f"corners: {corners.reason}")
    if "corners" not in spans:
        return BumperArea(None, None, "", "not_available", "; ".join(reason))
    basis = max(spans, key=lambda name: spans[name][1] - spans[name][0])
    if not spans[basis][0] < spans[basis][1]:
        reason.append("the inboard distances leave nothing between the two sides")
        return BumperArea(None, None, basis, "not_available", "; ".join(reason))
    # With corners that may lie farther out, which of the two is wider is not settled either.
    return BumperArea(*spans[basis], basis, corners.status, "; ".join(reason))


def bumper_thirds(traced: Traced, corners: Pair) -> Thirds:
    """Cut the outer contour of the bumper in three equal lengths of tape."""
    anchor = traced.lines.anchor
    outline = np.stack([anchor.x, traced.net.y, anchor.z], axis=1)[anchor.found]
    return _thirds(outline, corners, "bumper third")


def leading_edge_thirds(traced: Traced, corners: Pair) -> Thirds:
    """Cut the bonnet leading edge in three equal lengths of tape."""
    line = traced.lines.BLERL
    outline = np.stack([line.x, traced.net.y, line.z], axis=1)[line.formed]
    return _thirds(outline, corners, "leading edge third")


def _thirds(outline: NDArray[np.float64], corners: Pair, name: str) -> Thirds:
    left, right = corners.left.point, corners.right.point
    if left is None or right is None or not left[1] < right[1]:
        reason = corners.reason or "the ends lie on each other"
        return Thirds((), (), None, worst_status(corners.status, "not_available"), reason)
    inner = outline[(outline[:, 1] > left[1]) & (outline[:, 1] < right[1])]
    row = np.concatenate([[left], inner, [right]])
    tape = row[taut_string(row[:, [1, 0]])]
    reach = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(tape, axis=0), axis=1))])
    whole = float(reach[-1])
    cuts = []
    for share in (1.0 / 3.0, 2.0 / 3.0):
        at = [float(np.interp(share * whole, reach, tape[:, c])) for c in range(3)]
        cuts.append(Spot(name, corners.status, (at[0], at[1], at[2])))
    return Thirds((corners.left, corners.right), tuple(cuts), whole, corners.status, corners.reason)


def legform_runs(traced: Traced) -> tuple[LegformRun, ...]:
    """Return which legform the lower bumper height calls for, from left to right."""
    y, line, rules = traced.net.y, traced.lines.LBRL, traced.rules
    limits = (rules.value("legform.lower_below_mm"), rules.value("legform.upper_from_mm"))
    pieces: list[LegformRun] = []
    for i in range(len(y) - 1):
        a, b = float(y[i]), float(y[i + 1])
        if not (line.formed[i] and line.formed[i + 1]):
            pieces.append(LegformRun(a, b, None))
            continue
        low, high = float(line.z[i]), float(line.z[i + 1])
        cuts = [(n - low) / (high - low) for n in limits if (low - n) * (high - n) < 0.0]
        ends = [0.0, *sorted(cuts), 1.0]
        for s, t in zip(ends, ends[1:], strict=False):
            middle = low + (s + t) / 2.0 * (high - low)
            pieces.append(LegformRun(a + s * (b - a), a + t * (b - a), legform_for(middle, rules)))
    merged: list[LegformRun] = []
    for piece in pieces:
        if merged and merged[-1].legform == piece.legform:
            merged[-1] = LegformRun(merged[-1].y_from, piece.y_to, piece.legform)
        else:
            merged.append(piece)
    return tuple(merged)

"""The bumper: its test area, and the legform along it.

Readings
--------
beam rule
    The wider of two spans counts as a whole: corner to corner less the inboard distance, or
    beam end to beam end less its own.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import points_at
from frontcheck.lines.station import legform_for
from frontcheck.zones.front_zones import BumperArea, LegformRun, Outline

if TYPE_CHECKING:
    from frontcheck.lines.front_line import FrontLine, Pair
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.zones.lines_across import Across


_NO_BEAM: Final = (
    "the beam ends are not given, so the area is by the corners alone; these rules want the wider "
    "of that and the beam"
)


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
    reason = [f"corners: {corners.reason}"] if corners.reason else []
    if beam_rule and beam_ends is None:
        reason.insert(0, _NO_BEAM)
    if beam_ends is not None and not beam_rule:
        reason.insert(0, f"rule set {rules.id} has no beam rule, so the beam ends are not used")
    if "corners" not in spans:
        return BumperArea(None, None, "", "not_available", "; ".join(reason))
    basis = max(spans, key=lambda name: spans[name][1] - spans[name][0])
    if not spans[basis][0] < spans[basis][1]:
        reason.append("the inboard distances leave nothing between the two sides")
        return BumperArea(None, None, basis, "not_available", "; ".join(reason))
    # With corners that may lie farther out, which of the two is wider is not settled either.
    return BumperArea(*spans[basis], basis, corners.status, "; ".join(reason))


def between_lines(area: BumperArea, lower: FrontLine, upper: FrontLine) -> Outline | None:
    """Outline of the bumper test area: from LBRL to UBRL, within its lateral extent."""
    if area.y_min is None or area.y_max is None or not (lower.formed and upper.formed):
        return None
    ends = np.array([area.y_min, area.y_max])
    rows = []
    for line in (lower, upper):
        y = line.points[:, 1]
        inner = line.points[(y > ends[0]) & (y < ends[1])]
        outer = points_at(line.points, y, ends)
        outer[:, 1] = ends  # beyond the end of a line it is carried on level
        rows.append(np.concatenate([outer[:1], inner, outer[1:]]))
    ring = np.concatenate([rows[0], rows[1][::-1]]).tolist()
    return Outline(tuple((x, y, z) for x, y, z in ring), (None,) * len(ring))


def legform_runs(across: Across) -> tuple[LegformRun, ...]:
    """Return which legform the lower bumper height calls for, from left to right."""
    y, line, rules = across.y, across.lines.LBRL, across.rules
    limits = (rules.value("legform.lower_below_mm"), rules.value("legform.upper_from_mm"))
    runs: list[LegformRun] = []
    for i, (a, b) in enumerate(pairwise(y.tolist())):
        low, high = float(line.z[i]), float(line.z[i + 1])
        known = line.formed[i] and line.formed[i + 1]
        cuts = [(n - low) / (high - low) for n in limits if known and (low - n) * (high - n) < 0.0]
        for s, t in pairwise([0.0, *sorted(cuts), 1.0]):
            middle = low + (s + t) / 2.0 * (high - low)
            legform = legform_for(middle, rules) if known else None
            start, end = (a + s * (b - a), a + t * (b - a)) if known else (a, b)
            if runs and runs[-1].legform == legform:
                start = runs.pop().y_from
            runs.append(LegformRun(start, end, legform))
    return tuple(runs)

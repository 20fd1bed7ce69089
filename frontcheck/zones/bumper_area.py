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

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.level_cuts import foremost_in_bins
from frontcheck.geometry.polyline import arcs_of, points_at, taut_string
from frontcheck.lines.front_line import Spot, UprightFace, worst_status
from frontcheck.lines.side import NO_SIDE, peak
from frontcheck.lines.station import legform_for
from frontcheck.zones.front_zones import BumperArea, LegformRun, Outline, Thirds

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.lines.front_line import FrontLine, Pair
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.zones.lines_across import Across

# Corners of the bumper: by the vertical plane, and by the corner gauge.
#
# Both work on the right side; the left is the right side of the net seen in a mirror.
#
# Readings
# --------
# plane
#     The vertical plane touches the plan outline of the bumper, which is the foremost bumper
#     point of every contour (without part labels: the foremost point up to 1000 mm high). Of
#     several touches the outermost counts.
# gauge
#     The gauge is a flat rectangle standing upright, square to the ground, its face at 60 deg to
#     the longitudinal plane. At every height of its centre that the rules allow (here in
#     steps of 1/38 of its height, 3 mm) and at every lateral position it is moved inward
#     until it touches. The touch counts when it is on the vertical centreline and not on the
#     top or bottom edge, and when the height of the centre lies between the bounds that
#     LBRL and UBRL set at the place of the touch. The corner is the outermost touch that counts.

_TIE_MM: Final = 1e-9
_BINS_IN_GAUGE: Final = 38
_NAME: Final = "bumper corner"
_AT_END: Final = (
    "it touches at the outermost contour: the true corner is there or farther out, where nothing "
    "was measured"
)


def plane_corner(traced: Across) -> Spot:
    """Return the right bumper corner by the vertical plane."""
    net, anchor = traced.net, traced.lines.anchor
    if not net.y[-1] > 0.0:
        return Spot(_NAME, "not_available", None, NO_SIDE)
    rows = np.flatnonzero(anchor.found)
    if len(rows) == 0:
        return Spot(_NAME, "not_reached", None, "no contour has a bumper point")
    y, x, z = net.y[rows], anchor.x[rows], anchor.z[rows]
    angle = math.radians(traced.rules.value("bumper_corner.plane_deg"))
    plane = UprightFace((math.cos(angle), math.sin(angle)), None)
    out = y * math.cos(angle) - x * math.sin(angle)
    j = int(np.flatnonzero(out >= out.max() - _TIE_MM)[-1])
    if j == len(rows) - 1:
        return Spot(_NAME, "edge_end", _xyz(x[j], y[j], z[j]), _AT_END, tool=plane)
    return Spot(_NAME, "ok", _refined(net.smooth, y, out, x, z, j), tool=plane)


def gauge_corner(traced: Across) -> Spot:
    """Return the right bumper corner by the corner gauge."""
    net, rules = traced.net, traced.rules
    if not net.y[-1] > 0.0:
        return Spot(_NAME, "not_available", None, NO_SIDE)
    low, high = _centre_heights(traced)
    if not (low <= high).any():
        reason = "LBRL and UBRL leave no height for the centre of the gauge on this side"
        return Spot(_NAME, "not_reached", None, reason)
    height, width = (
        rules.value("bumper_corner.gauge_height_mm"),
        rules.value("bumper_corner.gauge_width_mm"),
    )
    angle = math.radians(rules.value("bumper_corner.gauge_face_deg"))
    step = height / _BINS_IN_GAUGE
    usable = low <= high
    first = max(math.floor((low[usable].min() - height / 2.0) / step), 0)
    last = math.ceil((high[usable].max() + height / 2.0) / step)
    levels: NDArray[np.float64] = np.arange(first, last + 1) * step
    bins = foremost_in_bins(net.points, levels)
    best: tuple[float, float, float] | None = None
    best_end = False
    for i in range(len(levels) - _BINS_IN_GAUGE):
        centre = float(levels[i + _BINS_IN_GAUGE // 2])
        allowed = (low - step / 2.0 <= centre) & (centre <= high + step / 2.0) & (net.y > 0.0)
        if not allowed.any():
            continue
        window = slice(i, i + _BINS_IN_GAUGE)
        x, z = _foremost(bins.x[:, window], bins.z[:, window], centre)
        on_edge = np.abs(z - centre) >= height / 2.0 - _TIE_MM
        there = np.isfinite(x)
        out = np.where(there, net.y * math.cos(angle) - np.where(there, x, 0.0) * math.sin(angle),
                       -np.inf)  # fmt: skip
        along = np.where(
            there, net.y * math.sin(angle) + np.where(there, x, 0.0) * math.cos(angle), np.inf
        )
        asked = np.flatnonzero(allowed & there & ~on_edge)
        rivals = _greatest_within(along, out, asked, width / 2.0)
        touching = asked[out[asked] >= rivals - _TIE_MM]
        if len(touching) == 0:
            continue
        j = int(touching[-1])
        end = j == len(net) - 1 or not there[j + 1]
        if end:
            spot = _xyz(x[j], net.y[j], z[j])
        else:
            spot = _refined(net.smooth, net.y, out, x, z, j)
        if best is None or spot[1] > best[1] + _TIE_MM:
            best, best_end = spot, end
    if best is None:
        return Spot(_NAME, "not_reached", None, "the gauge touches nowhere on its centreline")
    gauge = UprightFace((math.cos(angle), math.sin(angle)), width)
    status, reason = ("edge_end", _AT_END) if best_end else ("ok", "")
    return Spot(_NAME, status, best, reason, tool=gauge)


def _centre_heights(traced: Across) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest centre of the gauge on every contour; crossed where there is none."""
    lines, rules = traced.lines, traced.rules
    both = lines.LBRL.formed & lines.UBRL.formed
    low = np.maximum(lines.LBRL.z, rules.value("bumper_corner.gauge_low_mm"))
    high = np.minimum(lines.UBRL.z, rules.value("bumper_corner.gauge_high_mm"))
    return np.where(both, low, np.inf), np.where(both, high, -np.inf)


def _foremost(
    x: NDArray[np.float64], z: NDArray[np.float64], centre: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Foremost point of every contour within the height of the gauge, nearest to its centre."""
    least = x.min(axis=1)
    tie = x <= least[:, None] + _TIE_MM
    pick = np.where(tie, np.abs(z - centre), np.inf).argmin(axis=1)
    row = np.arange(len(x))
    return x[row, pick], z[row, pick]


def _greatest_within(
    along: NDArray[np.float64], out: NDArray[np.float64], asked: NDArray[np.intp], reach: float
) -> NDArray[np.float64]:
    """How far the outline stands out within reach of each contour asked for."""
    # The outline is straight between contours, so the ends of the reach are to be tried too.
    near = np.abs(along[asked, None] - along[None, :]) <= reach
    greatest: NDArray[np.float64] = np.where(near, out[None, :], -np.inf).max(axis=1)
    there = np.flatnonzero(np.isfinite(out))
    order = there[np.argsort(along[there], kind="stable")]
    for end in (along[asked] - reach, along[asked] + reach):
        at = np.interp(end, along[order], out[order], left=-np.inf, right=-np.inf)
        greatest = np.maximum(greatest, at)
    return greatest


def _refined(
    smooth: bool,
    y: NDArray[np.float64],
    out: NDArray[np.float64],
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    j: int,
) -> tuple[float, float, float]:
    """The touch between contours, by the parabola through the three nearest."""
    if not smooth or j == 0 or not np.isfinite(out[j - 1 : j + 2]).all():
        return _xyz(x[j], y[j], z[j])
    three = slice(j - 1, j + 2)
    at, weights = peak(y[three], out[three])
    # Heights may jump from lip to lip: straight between the two nearest contours.
    return _xyz(float(weights @ x[three]), float(at), float(np.interp(at, y[three], z[three])))


def _xyz(x: float, y: float, z: float) -> tuple[float, float, float]:
    return float(x), float(y), float(z)


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


def bumper_thirds(traced: Across, corners: Pair) -> Thirds:
    """Cut the outer contour of the bumper in three equal lengths of tape."""
    anchor = traced.lines.anchor
    outline = np.stack([anchor.x, traced.net.y, anchor.z], axis=1)[anchor.found]
    return _thirds(outline, corners, "bumper third")


def leading_edge_thirds(traced: Across, corners: Pair) -> Thirds:
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
    reach = arcs_of(tape)
    whole = float(reach[-1])
    places = points_at(tape, reach, [share * whole for share in (1.0 / 3.0, 2.0 / 3.0)]).tolist()
    cuts = tuple(Spot(name, corners.status, (x, y, z)) for x, y, z in places)
    return Thirds((corners.left, corners.right), cuts, whole, corners.status, corners.reason)


def legform_runs(traced: Across) -> tuple[LegformRun, ...]:
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

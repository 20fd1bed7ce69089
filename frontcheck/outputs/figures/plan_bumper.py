"""The bumper in plan view and front view: outline, corners with their tools, test area, legform."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.contour_drawing import millimetres

if TYPE_CHECKING:
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.outputs.figures.drawing import Drawing
    from frontcheck.zones.front_zones import FrontZones

__all__ = ["draw_bumper_bars", "draw_bumper_outline", "draw_corner_tools", "draw_test_area"]

_BAR_MM: Final = 70.0
_TINT: Final = "#dfe8e4"


def draw_bumper_outline(drawing: Drawing, lined: LinedFront) -> None:
    """Draw the foremost bumper points in plan, between stations straight."""
    at = [(s.foremost[0], s.y) for s in lined.stations if s.foremost is not None]
    if lined.front.symmetric:
        at = sorted({*at, *((x, 0.0 - y) for x, y in at)}, key=lambda p: p[1])
    if len(at) > 1:
        drawing.line(at, look.Stroke(look.MUTED, 0.9), zorder=2.0, gid="bumper outline")
        drawing.label(
            "foremost bumper points", at[int(0.72 * len(at))], prefer=(-1.0, 0.0), color=look.MUTED
        )


def draw_corner_tools(drawing: Drawing, lined: LinedFront, zones: FrontZones) -> None:
    """Draw the plane and the gauge where they touch, the gauge as wide as it is."""
    rules = lined.rules
    corners = zones.bumper_corners
    for name, pair, angle, half, marker in (
        ("60 deg plane", corners.plane, rules.value("bumper_corner.plane_deg"), 170.0, "x"),
        ("corner gauge", corners.gauge, rules.value("bumper_corner.gauge_face_deg"),
         rules.value("bumper_corner.gauge_width_mm") / 2.0, "^"),
    ):  # fmt: skip
        for spot, sign in ((pair.left, -1.0), (pair.right, 1.0)):
            if spot.point is None:
                continue
            x, y = spot.point[:2]
            along = np.array([math.cos(math.radians(angle)), sign * math.sin(math.radians(angle))])
            ends = np.array([[x, y] - half * along, [x, y] + half * along])
            width = 2.6 if name == "corner gauge" else 0.9
            drawing.line(ends, look.Stroke(look.LEAD, width), zorder=5.0, gid=name)
            drawing.dot((x, y), marker=marker, size=5.0, color=look.LEAD)
    _name_corners(drawing, zones)


def _name_corners(drawing: Drawing, zones: FrontZones) -> None:
    corners = zones.bumper_corners
    plane, gauge = corners.plane.right.point, corners.gauge.right.point
    used = "gauge" if corners.applies == "gauge" else "plane"
    said: list[tuple[str, Any]] = []
    if plane is not None and gauge is not None and math.dist(plane, gauge) < 1.0:
        said.append((f"bumper corner by gauge and plane\n(the {used} applies)", gauge))
    else:
        for name, point in (("gauge", gauge), ("plane", plane)):
            note = "applies" if name == used else "for comparison"
            if point is not None:
                said.append((f"bumper corner by the {name}\n({note})", point))
    for words, point in said:
        drawing.label(
            f"{words}, y = {millimetres(point[1], 1)}", (point[0], point[1]),
            prefer=(-1.0, 0.6), color=look.LEAD,
        )  # fmt: skip


def draw_bumper_bars(drawing: Drawing, zones: FrontZones) -> None:
    """Draw test area, legform choice and thirds as bars in front of the bumper."""
    if not any(entry.formed for entry in zones.lines):
        return
    front = min(float(entry.points[:, 0].min()) for entry in zones.lines if entry.formed)
    area = zones.bumper_test_area
    x = front - _BAR_MM
    if area.y_min is not None and area.y_max is not None:
        drawing.span((x, area.y_min), (x, area.y_max), look.INK)
        width = millimetres(area.y_max - area.y_min)
        drawing.label(
            f"bumper test area\n{width}, by the {area.basis}", (x, 0.0), prefer=(-1.0, 0.0),
            rotation=90.0,
        )  # fmt: skip
    x -= 1.6 * _BAR_MM
    strokes = {
        "lower": look.Stroke("#5f7f8c", 5.0),
        "either": look.Stroke("#b99a45", 5.0, (1.2, 0.4)),
        "upper": look.Stroke("#7a2f3b", 5.0, (0.5, 0.4)),
    }
    for run in zones.legform_runs:
        if run.legform is None:
            continue
        drawing.line([(x, run.y_from), (x, run.y_to)], strokes[run.legform], gid="legform")
        drawing.label(
            f"{run.legform}\nlegform" if run.legform == "either" else f"{run.legform} legform",
            (x, (run.y_from + run.y_to) / 2.0), prefer=(-1.0, 0.0), rotation=90.0,
        )  # fmt: skip
    thirds = zones.bumper_thirds
    for cut in thirds.cuts:
        if cut.point is not None:
            drawing.dot((cut.point[0], cut.point[1]), marker="_", size=10.0)
    if thirds.cuts and thirds.cuts[1].point is not None:
        at = (thirds.cuts[1].point[0], thirds.cuts[1].point[1])
        drawing.label("bumper third", at, prefer=(1.0, 0.3))


def draw_test_area(drawing: Drawing, zones: FrontZones) -> None:
    """Tint the bumper between LBRL and UBRL within the bumper test area."""
    area = zones.bumper_test_area
    lower, upper = zones.line("LBRL"), zones.line("UBRL")
    if area.y_min is None or area.y_max is None or not (lower.formed and upper.formed):
        return
    y = np.linspace(area.y_min, area.y_max, 121)
    low, high = (np.interp(y, line.points[:, 1], line.points[:, 2]) for line in (lower, upper))
    drawing.ax.fill_between(y, low, high, facecolor=_TINT, edgecolor=look.MUTED,
                            linewidth=0.0, hatch="..", hatch_linewidth=0.3, zorder=0.8)  # fmt: skip
    middle = len(y) // 2
    drawing.label(
        f"bumper test area, {millimetres(area.y_max - area.y_min)} wide",
        (0.0, float(low[middle] + high[middle]) / 2.0), rank=0,
    )  # fmt: skip

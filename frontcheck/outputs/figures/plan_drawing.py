"""What plan view, front view and unrolled map of a whole front are made of."""

from __future__ import annotations

import itertools
import math
import textwrap
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

import numpy as np

from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_drawing import millimetres

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.lines.front_line import Pair
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.zones.front_zones import BumperArea, FrontZones, HeadformArea

View: TypeAlias = Literal["plan", "front", "map"]

_SRL: Final = look.Stroke(look.FACE, 1.8, (2.0, 1.0, 0.8, 1.0))
_AREAS: Final = {"child": ("#dfe8e4", "//"), "adult": ("#e9e2ea", "\\\\")}
"""Tint and hatching of the headform areas: told apart in grey by the hatching."""
_BORDERS: Final = {"wad_only": (5.0, 2.5), OPEN_END: (1.5, 1.5)}
"""Dashes round an area of which a border is not known."""
_DOUBTS: Final = {"wad_only": "bounded by WAD alone", OPEN_END: "open end"}
"""What is said beside such an area."""
_EVERY: Final = 10
"""Labels keep off every tenth stretch of a line: enough, and ten times faster."""
_ROW_MM: Final = 50.0
"""Where the name of an area stands: between two rows of the usual grid."""
_NAME_HALF: Final = (0.65, 0.14)
"""About half the width and height of that name [in]."""
_LETTER_HALF: Final = 0.031
"""About half the width of one of its letters [in]."""


def at_view(points: Array, wad: Sequence[float | None], view: View) -> Array:
    """Return where points stand in a picture."""
    if view == "map":
        return np.stack([np.array(wad, dtype=np.float64), points[:, 1]], axis=1)
    return points[:, :2] if view == "plan" else points[:, 1:]


def draw_stations(drawing: look.Drawing, lined: LinedFront, view: View) -> None:
    """Draw the measured sections, faint."""
    faint = look.Stroke("#dcdad5", 0.6)
    for section in lined.front.full().sections:
        along = section.points[:, 0 if view == "plan" else 1]
        ends = np.array([(along.min(), section.y), (along.max(), section.y)])
        ends = ends[:, ::-1] if view == "front" else ends
        drawing.line(ends, faint, zorder=0.6, avoid=False)


def draw_lines(drawing: look.Drawing, zones: FrontZones, view: View, names: Sequence[str]) -> None:
    """Draw and name lines across the front."""
    marks = [line.name for line in zones.lines if line.name.startswith("WAD")]
    strokes = {"SRL": _SRL} | look.LINE_STYLES
    strokes |= {name: look.wad_stroke(i) for i, name in enumerate(marks)}
    for i, name in enumerate(names):
        drawn = _line(drawing, zones, name, strokes[name], view)
        if drawn:
            # Along each line another place for the words, so that they do not crowd.
            share, longest = 0.12 + 0.76 * ((i * 0.382) % 1.0), max(drawn, key=len)
            place = longest[int(share * (len(longest) - 1))]
            drawing.label(name, place, prefer=(1.0, 0.4), color=strokes[name].color)


def _line(
    drawing: look.Drawing, zones: FrontZones, name: str, stroke: look.Stroke, view: View
) -> list[Array]:
    """Draw one line, hollow where more may stand beyond; return its main runs."""
    line, drawn = zones.line(name), []
    for piece in line.pieces:
        part = slice(piece.start, piece.stop)
        at = at_view(line.points[part], line.wad[part], view)
        fine: Mask = np.array([s not in UNSURE for s in line.point_status[part]])
        there = np.isfinite(at[:, 0]) & np.isfinite(at[:, 1])
        ahead: Mask = np.zeros(len(at), dtype=bool)
        if name == "SRL":
            # Ahead of the corner reference point the SRL runs round the face and bounds nothing.
            spot = getattr(zones.corner_reference_points, piece.side, None)
            if spot is not None and spot.point is not None:
                ahead = line.points[part, 0] < spot.point[0] - 1e-6
        kind = np.where(fine[:-1] & fine[1:], 2, 0) + np.where(ahead[:-1] | ahead[1:], 1, 0)
        for a, b in _runs(there[:-1] & there[1:], kind):
            run, gid = at[a : b + 1], f"line {name}"
            bounds, sure = kind[a] % 2 == 0, kind[a] >= 2
            color, width = stroke.color, stroke.width
            strokes = {gid: look.Stroke(color, width, stroke.dashes)}
            if not bounds:
                strokes = {gid: look.Stroke(color, 0.7)}
            elif not sure:
                inside = look.Stroke(look.PAPER, width - 0.6)
                strokes = {f"{gid} hollow": look.Stroke(color, width + 0.8), "": inside}
            for k, (name_of, each) in enumerate(strokes.items()):
                drawing.line(run, each, zorder=4.0 + 0.1 * k, avoid=False, gid=name_of or None)
            sparse = run[:: max(min(_EVERY, len(run) // 3), 1)]
            if len(sparse) > 1:
                drawing.avoid(sparse)
            if bounds:
                drawn.append(run)
    return drawn


def _runs(use: Mask, kind: Index) -> Iterator[tuple[int, int]]:
    """Stretches (first, last + 1) that are used and of one kind."""
    marked = np.where(use, kind, -1)
    cuts = [0, *(np.flatnonzero(np.diff(marked)) + 1).tolist(), len(use)]
    return ((a, b) for a, b in itertools.pairwise(cuts) if use[a:b].any())


def area_doubts(area: HeadformArea, zones: FrontZones) -> dict[str, str]:
    """Return which borders of an area are not known, by status, in words."""
    found = {area.status}
    if area.status == OPEN_END and area.formed and not zones.line("BRRL").formed:
        found.add("wad_only")  # the open side outweighs it in the status
    return {status: words for status, words in _DOUBTS.items() if status in found}


def draw_area(drawing: look.Drawing, area: HeadformArea, zones: FrontZones, view: View) -> None:
    """Draw a headform area, tinted and hatched, and name it."""
    tint, hatch = _AREAS[area.name]
    doubts = area_doubts(area, zones)
    for i, outline in enumerate(area.outlines):
        at = at_view(np.array(outline.points), outline.wad, view)
        at = at[~np.isnan(at).any(axis=1)]
        if len(at) < 3:
            continue
        drawing.fill(
            at, tint, look.MUTED, linewidth=0.0, hatch=hatch, hatch_linewidth=0.35, zorder=1.0,
            gid=f"tint {area.name}",
        )  # fmt: skip
        ring = np.concatenate([at, at[:1]])
        border = look.Stroke(look.INK, 1.4, next((_BORDERS[each] for each in doubts), ()))
        drawing.line(ring, border, avoid=False, gid=f"area {area.name}")
        drawing.avoid(ring[:: max(len(ring) // 60, 1)])
        if i == 0:
            said = ", ".join(doubts.values()) or STATUS_NAMES[area.status].removeprefix("ok")
            _name_area(drawing, area, at, said)


def _name_area(drawing: look.Drawing, area: HeadformArea, at: Array, said: str) -> None:
    """Inside the area where there is room, between two rows of grid points; else beside it."""
    words = f"{area.name} headform area\n{area.area_m2:.3f} m\N{SUPERSCRIPT TWO}"
    words += f" ({said})" if said else ""
    longest = max(map(len, words.splitlines()))
    mm = abs(float(np.ptp(drawing.ax.get_ylim()))) / look.axes_inches(drawing.ax)[1]  # in an inch
    wide, high = mm * max(_NAME_HALF[0], _LETTER_HALF * longest), mm * _NAME_HALF[1]
    near = np.abs(at[:, 1] - _ROW_MM) < 60.0
    left, right = at[near, 0].min(initial=np.inf), at[near, 0].max(initial=-np.inf)
    if right - left < 2.0 * wide + 40.0:
        middle = ((at[:, 0].min() + at[:, 0].max()) / 2.0, np.median(at[:, 1]))
        below = words.replace(" (", "\n(").replace(", ", ",\n")
        drawing.label(below, middle, size=look.TEXT + 0.5, rank=0, prefer=(1.0, 0.0))
        return
    x = left + 0.42 * (right - left)
    drawing.ax.text(
        x, _ROW_MM, words, fontsize=look.TEXT, ha="center", va="center", zorder=8.5,
        gid=look.LABEL, linespacing=1.25, bbox=look.paper(0.9, 0.05),
    )  # fmt: skip
    for z in np.linspace(-high, high, 5):
        drawing.avoid([(x - wide, _ROW_MM + z), (x + wide, _ROW_MM + z)])


def draw_pair(drawing: look.Drawing, pair: Pair, words: str, view: View, marker: str) -> None:
    """Draw a place on either side, and name it on the right."""
    for spot, name in ((pair.left, "left"), (pair.right, "right")):
        if spot.point is None:
            continue
        at = at_view(np.array([spot.point]), [spot.wad], view)[0]
        if np.isnan(at).any():
            continue
        sure = spot.status not in UNSURE
        drawing.dot(at, marker=marker, size=5.5, color=look.FACE, filled=sure)
        if name == "right":
            note = "" if spot.status == "ok" else f"\n({STATUS_NAMES[spot.status]})"
            drawing.label(f"{words}{note}", at, prefer=(0.5, 1.0), color=look.FACE)


def draw_grid(drawing: look.Drawing, zones: FrontZones) -> None:
    """Draw the candidate points on the unrolled bonnet."""
    for name, marker in (("child", "o"), ("adult", "D")):
        points = [(p.wad, p.point[1]) for p in zones.grid if p.area == name]
        if points:
            how = look.dots(marker, 3.2, look.PAPER, look.INK, 0.8)
            drawing.ax.plot(*zip(*points, strict=True), zorder=9.0, gid=f"grid {name}", **how)
    if zones.grid:
        words = f"{len(zones.grid)} candidate points, {zones.options.grid_mm:g} mm apart\n"
        words += "(circles: child, diamonds: adult)"
        drawing.label(words, None, prefer=(1.0, -1.0), rank=3)


def nothing_note(drawing: look.Drawing, zones: FrontZones) -> None:
    """Say what could not be formed, and why, in the picture: one sentence a reason."""
    missing: dict[str, list[str]] = {}
    for line in zones.lines:
        if not line.formed:
            missing.setdefault(line.reason, []).append(line.name)
    for area in (zones.child_area, zones.adult_area):
        if not area.outlines:
            # The rest of the reason is in the table.
            reason = area.reason.split(";")[0]
            missing.setdefault(reason, []).append(f"{area.name} headform area")
    if not zones.surface:
        missing = {zones.lines[0].reason: ["no line across the front and no zone"]}
    text = "\n".join(
        textwrap.fill(f"{', '.join(names)}: {reason}.", 46) for reason, names in missing.items()
    )
    drawing.label(text, None, prefer=(1.0, 1.0), color=look.MUTED, rank=4, size=look.SMALL)


# The bumper in plan view and front view: outline, corners with their tools, test area, legform.

_BAR_MM: Final = 70.0
_PLANE_MM: Final = 340.0
"""How much of a plane is drawn."""
_TINT: Final = "#dfe8e4"


def draw_bumper_outline(drawing: look.Drawing, lined: LinedFront) -> None:
    """Draw the foremost bumper points in plan, between stations straight."""
    at = [(s.foremost[0], s.y) for s in lined.stations if s.foremost is not None]
    if lined.front.symmetric:
        at = sorted({*at, *((x, 0.0 - y) for x, y in at)}, key=lambda p: p[1])
    if len(at) > 1:
        drawing.line(at, look.Stroke(look.MUTED, 0.9), zorder=2.0, gid="bumper outline")
        place, words = at[int(0.72 * len(at))], "foremost bumper points"
        drawing.label(words, place, prefer=(-1.0, 0.0), color=look.MUTED)


def draw_corner_tools(drawing: look.Drawing, zones: FrontZones) -> None:
    """Draw the plane and the gauge where they touch, the gauge as wide as it is."""
    corners = zones.bumper_corners
    for name, pair, marker, stroke in (
        ("60 deg plane", corners.plane, "x", look.Stroke(look.LEAD, 0.9)),
        ("corner gauge", corners.gauge, "^", look.Stroke(look.LEAD, 2.6)),
    ):
        for spot in (pair.left, pair.right):
            if spot.point is None or spot.tool is None:
                continue
            at = np.array(spot.point[:2])
            half = (spot.tool.width or _PLANE_MM) / 2.0 * np.array(spot.tool.along)
            drawing.line(np.stack([at - half, at + half]), stroke, zorder=5.0, gid=name)
            drawing.dot(spot.point[:2], marker=marker, size=5.0, color=look.LEAD)
    _name_corners(drawing, zones)


def _name_corners(drawing: look.Drawing, zones: FrontZones) -> None:
    corners = zones.bumper_corners
    plane, gauge = corners.plane.right.point, corners.gauge.right.point
    used = "gauge" if corners.applies == "gauge" else "plane"
    said = {
        f"bumper corner by the {name}\n({'applies' if name == used else 'for comparison'})": point
        for name, point in (("gauge", gauge), ("plane", plane))
    }
    if plane is not None and gauge is not None and math.dist(plane, gauge) < 1.0:
        said = {f"bumper corner by gauge and plane\n(the {used} applies)": gauge}
    for words, at in said.items():
        if at is not None:
            where = f"{words}, y = {millimetres(at[1], 1)}"
            drawing.label(where, at, prefer=(-1.0, 0.6), color=look.LEAD)


def _open(area: BumperArea) -> str:
    return f" ({STATUS_NAMES[OPEN_END]})" if area.status == OPEN_END else ""


def draw_bumper_bars(drawing: look.Drawing, zones: FrontZones) -> None:
    """Draw test area, legform choice and thirds as bars in front of the bumper."""
    formed = [entry.points[:, 0].min() for entry in zones.lines if entry.formed]
    if not formed:
        return
    area, x = zones.bumper_test_area, float(min(formed)) - _BAR_MM
    upright: dict[str, Any] = {"prefer": (-1.0, 0.0), "rotation": 90.0}
    if area.y_min is not None and area.y_max is not None:
        drawing.span((x, area.y_min), (x, area.y_max), look.INK)
        width = millimetres(area.y_max - area.y_min)
        words = f"bumper test area{_open(area)}\n{width}, by the {area.basis}"
        drawing.label(words, (x, 0.0), **upright)
    x -= 1.6 * _BAR_MM
    for run in zones.legform_runs:
        if run.legform is None:
            continue
        ends, stroke = [(x, run.y_from), (x, run.y_to)], look.LEGFORM_STYLES[run.legform]
        drawing.line(ends, stroke, gid="legform")
        words = f"{run.legform}\nlegform" if run.legform == "either" else f"{run.legform} legform"
        drawing.label(words, (x, (run.y_from + run.y_to) / 2.0), **upright)
    cuts = [cut.point for cut in zones.bumper_thirds.cuts]
    for at in cuts:
        if at is not None:
            drawing.dot(at, marker="_", size=10.0)
    if cuts and cuts[1] is not None:
        drawing.label("bumper third", cuts[1], prefer=(1.0, 0.3))


def draw_bonnet_thirds(drawing: look.Drawing, zones: FrontZones) -> None:
    """Draw the lines between the thirds of the bonnet top in plan, and name one."""
    line = zones.bonnet_thirds
    for piece in line.pieces:
        at = line.points[piece.start : piece.stop, :2]
        drawing.line(at, look.Stroke(look.MUTED, 0.9, (6.0, 3.0)), zorder=2.0, gid=line.name)
        if piece.side == "right" and len(at):
            place = at[int(0.4 * len(at))]
            drawing.label(line.name, place, prefer=(0.6, 1.0), color=look.MUTED)


def draw_test_area(drawing: look.Drawing, zones: FrontZones) -> None:
    """Tint the bumper between LBRL and UBRL within the bumper test area."""
    area = zones.bumper_test_area
    if area.outline is None or area.y_min is None or area.y_max is None:
        return
    at = np.array(area.outline.points)[:, 1:]
    drawing.fill(
        at, _TINT, look.MUTED, linewidth=0.0, hatch="..", hatch_linewidth=0.3, zorder=0.8,
        gid="tint bumper",
    )  # fmt: skip
    words = f"bumper test area{_open(area)}, {millimetres(area.y_max - area.y_min)} wide"
    drawing.label(words, (0.0, at[:, 1].mean()), rank=0)

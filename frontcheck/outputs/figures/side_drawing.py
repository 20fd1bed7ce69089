"""The side view of one station: contour by part, tools where they stand, lines, notes."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.findings.abbreviations import ABBREVIATIONS
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, UNSURE
from frontcheck.lines.tool_poses import EdgePose, SpherePose
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.tolerance_figure import bar_key, draw_bars

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.lines.tool_poses import TapePath
    from frontcheck.sure.tolerance_result import StationTolerance
    from frontcheck.surface.section import Section

LINE_NAMES: Final = {
    name: words[:1].upper() + words[1:]
    for name, words in ABBREVIATIONS.items()
    if name in look.LINE_STYLES
}

LEAD: Final = "bumper lead"
"""What the lead is called among the names of lines and marks."""

_HATCH_STEP: Final = 45.0
_HATCH_DEPTH: Final = 28.0


def millimetres(value: float, digits: int = 0) -> str:
    """Return a length in words, such as ``34.5 mm``."""
    text = f"{value:.{digits}f}"
    return (text.lstrip("-") if float(text) == 0.0 else text).replace("-", "\N{MINUS SIGN}") + " mm"


def status_words(line: LinePoint, upper_end_wad: float) -> str:
    """Return what a label says of a line that was not formed in the plain way."""
    words = {
        "edge_end": "edge end: touched with the tip",
        OPEN_END: "open end: the surface beyond\ncould change it",
        "underside_first": "the edge meets the underside first",
        "lower_end": "lower end of the edge touches",
        "wad_1000": f"WAD {upper_end_wad:g} taken instead",
        "retaken_40deg": f"retaken at {line.edge_angle_deg or 0.0:g} deg",
    }
    return words.get(line.status, "see note" if line.formed and line.reason else "")


def draw_point(drawing: look.Drawing, line: LinePoint | WadPoint, **how: Any) -> str:
    """Draw the marker of a line, hollow where more may stand beyond; return a note for names."""
    assert line.x is not None
    assert line.z is not None
    sure = line.status not in UNSURE
    drawing.dot((line.x, line.z), filled=sure, **how)
    return "" if sure else f" ({STATUS_NAMES[line.status]})"


def hollow_key() -> Line2D:
    """Return the legend key of hollow markers."""
    return look.key(look.told("hollow"), **look.dots("o", 6.0, look.PAPER, look.INK, 1.6))


def part_runs(section: Section) -> list[tuple[str, Array]]:
    """Cut the contour into runs of one part; a stretch between two parts is shared half-way."""
    points = section.points
    parts = section.parts or ("",) * len(points)
    runs: list[tuple[str, Array]] = []
    current = [points[0]]
    for i in range(1, len(points)):
        if parts[i] != parts[i - 1]:
            middle = (points[i - 1] + points[i]) / 2.0
            current.append(middle)
            runs.append((parts[i - 1], np.array(current)))
            current = [middle]
        current.append(points[i])
    runs.append((parts[-1], np.array(current)))
    return runs


def draw_contour(drawing: look.Drawing, section: Section, skin: float) -> tuple[str, ...]:
    """Draw the contour by part, a tinted strip on its body side, and its points."""
    from shapely import LineString, get_parts

    line = LineString(section.points)
    if len(section) > look.MANY:
        line = line.simplify(max(skin / 8.0, 2.0))
    strip = line.buffer(-skin, single_sided=True, join_style="mitre")
    for piece in get_parts(strip):
        drawing.fill(np.asarray(piece.exterior.coords), look.SKIN, zorder=0.5)
    runs = part_runs(section)
    # An unbroken hairline below, so that dashes of a part never look like gaps in the body.
    drawing.line(section.points, look.Stroke(look.INK, 0.7), zorder=2.9)
    for part, points in runs:
        drawing.line(points, look.PART_STYLES[part], avoid=False, gid=f"part {part}")
    points_style = look.dots(".", 2.6, look.PAPER, width=0.0)
    drawing.ax.plot(*section.points.T, zorder=3.2, gid="measured points", **points_style)
    return tuple(dict.fromkeys(part for part, _ in runs))


def draw_ground(drawing: look.Drawing, x_low: float, x_high: float) -> None:
    """Draw the ground with strokes below it."""
    drawing.line([(x_low, 0.0), (x_high, 0.0)], look.Stroke(look.GROUND, 1.6), gid="ground")
    feet = np.arange(x_low + _HATCH_DEPTH, x_high, _HATCH_STEP)
    strokes = np.full((len(feet), 3, 2), np.nan)  # nothing between one stroke and the next
    strokes[:, 0], strokes[:, 1] = 0.0, -_HATCH_DEPTH
    strokes[:, :2, 0] = np.column_stack([feet, feet - _HATCH_DEPTH])
    drawing.line(strokes.reshape(-1, 2), look.Stroke(look.GROUND, 0.7), zorder=1.0, avoid=False)
    drawing.avoid(np.array([(x_low, -_HATCH_DEPTH / 2), (x_high, -_HATCH_DEPTH / 2)]))


# The side view of one station.

_SKIN: Final = 16.0
_NOTE_WIDTH: Final = 62
_EDGE: Final = look.Stroke(look.MUTED, 1.4)
_EDGE_CUT: Final = look.Stroke(look.MUTED, 1.0, (2.0, 2.0))
_SPHERE: Final = look.Stroke(look.MUTED, 1.2)
_SPAN: Final = look.Stroke(look.INK, 1.0, (2.2, 1.6))
_QUIET: Final = look.small(look.MUTED)


def draw_side(
    ax: Axes,
    lined: LinedFront,
    station: Station,
    sure: StationTolerance | None = None,
    only: Collection[str] | None = None,
) -> list[Line2D]:
    """Draw the side view of one station; `only` lines and marks of these names, seen near."""
    section = lined.front.section(station.y)
    edges, sphere = edges_of(station, only), _sphere_of(station, only)
    paths = [path for _, path in _tapes_of(station, only)]
    corners = [np.array([pose.foot, pose.tip]) for _, pose in edges]
    if only is None:
        corners += [section.points, np.array([[section.x.min(), 0.0]])]
    else:
        corners += [np.array(_places(station, only)), *(np.array(p.points) for p in paths)]
    if sphere is not None:
        corners.append(np.array([np.add(sphere.centre[::2], sphere.cut)]))
    everything = np.concatenate(corners)
    low, high = everything.min(axis=0), everything.max(axis=0)
    bottom = 0.0 if only is None else low[1]
    margins = (2.1, 0.32, 0.35, 0.35) if only is None else (1.5, 0.6, 1.5, 0.35)
    look.fit_limits(ax, (low[0], bottom, high[0], high[1]), margins)
    drawing = look.Drawing(ax)
    parts = draw_body(drawing, section)
    draw_tools(drawing, lined, station, only)
    _draw_lines(drawing, lined, station, only, drawn=sure is not None)
    if only is None or LEAD in only:
        _draw_lead(drawing, station)
    if sure is not None:
        draw_bars(drawing, sure)
    if only is None:
        drawing.label(_note(station), None, prefer=(1.0, -1.0), size=look.SMALL, rank=4)
    drawing.finish()
    datum = "datum set anew at each station"
    if lined.front.datum == "common":
        datum = "lateral datum line common to all stations"
    look.plain_axes(ax, f"setback x from the {datum} [mm]", "height above ground z [mm]")
    keys = [(look.PART_STYLES[part], part or "contour without labels") for part in parts]
    keys += [(_EDGE, "straight edge")] * bool(edges)
    keys += [(look.Stroke(look.TAPE, 5.2), "taut tape")] * bool(paths)
    keys += [(_SPAN, "tape in the air over a hollow")] * any(path.spans for path in paths)
    handles = [look.key(words, **stroke.options()) for stroke, words in keys]
    points: tuple[LinePoint | WadPoint, ...] = (*station.lines, *station.wads)
    if any(point.status in UNSURE and _is_shown(point.name, only) for point in points):
        handles.append(hollow_key())
    return handles if sure is None else [*handles, bar_key()]


def _is_shown(name: str, only: Collection[str] | None) -> bool:
    return only is None or name in only


def edges_of(
    station: Station, only: Collection[str] | None = None
) -> list[tuple[LinePoint, EdgePose]]:
    """Lines formed by a straight edge, with the edge."""
    shown = [line for line in station.lines if _is_shown(line.name, only)]
    return [(line, line.pose) for line in shown if isinstance(line.pose, EdgePose)]


def _sphere_of(station: Station, only: Collection[str] | None) -> SpherePose | None:
    pose = station.BRRL.pose if _is_shown("BRRL", only) else None
    return pose if isinstance(pose, SpherePose) else None


def _tapes_of(station: Station, only: Collection[str] | None) -> list[tuple[WadPoint, TapePath]]:
    shown = [mark for mark in station.wads if _is_shown(mark.name, only)]
    return [(mark, mark.tape) for mark in shown if mark.tape is not None]


def _places(station: Station, only: Collection[str]) -> list[tuple[float, float]]:
    """Where what is asked for stands; a lead, from line to line."""
    names = {*only, *(("UBRL", "BLERL") if LEAD in only else ())}
    points: tuple[LinePoint | WadPoint, ...] = (*station.lines, *station.wads)
    known = [point for point in points if point.name in names]
    return [(p.x, p.z) for p in known if p.x is not None and p.z is not None] or [(0.0, 0.0)]


def edge_words(pose: EdgePose) -> str:
    """Length and lean in words."""
    way = "rearward" if pose.lean_deg > 0.0 else "forward"
    lean = f"{abs(pose.lean_deg):g} deg {way}" if pose.lean_deg else "upright"
    return f"straight edge {pose.length:g} mm, {lean}"


def draw_body(drawing: look.Drawing, section: Section) -> tuple[str, ...]:
    """Draw what is there whatever the rule set: ground and contour."""
    draw_ground(drawing, *drawing.ax.get_xlim())
    return draw_contour(drawing, section, _SKIN)


def draw_tools(
    drawing: look.Drawing, lined: LinedFront, station: Station, only: Collection[str] | None = None
) -> None:
    """Draw tape, straight edges and sphere where they stand, and ask for their labels."""
    marks, sphere = _tapes_of(station, only), _sphere_of(station, only)
    if marks:
        _draw_tape(drawing, lined, marks)
    _draw_edges(drawing, edges_of(station, only))
    if sphere is not None:
        _draw_sphere(drawing, sphere)


def _draw_tape(
    drawing: look.Drawing, lined: LinedFront, marks: Sequence[tuple[WadPoint, TapePath]]
) -> None:
    # A pale band under the contour: seen where the tape lies on the body and where it leaves it.
    # A pale band under the contour: seen where the tape lies on the body and where it leaves it.
    for _, path in marks:
        drawing.line(path.points, look.Stroke(look.TAPE_RIM, 6.6), zorder=1.5, avoid=False)
        drawing.line(path.points, look.Stroke(look.TAPE, 5.2), zorder=1.6, gid="tape")
        for span in path.spans:
            drawing.line(span, _SPAN, zorder=3.4, gid="tape span", avoid=False)
    whole = lined.tape_start == "vehicle"
    place = "foremost point of the whole front" if whole else "foremost bumper point"
    foot, up = np.array(marks[0][1].points[:2])
    words = look.told("tape", place=place)
    drawing.label(words, foot + 0.3 * (up - foot), prefer=(-1.0, 0.0), rank=3)
    for mark, path in marks:
        if mark.x is None or mark.z is None:
            continue
        # As on a tape measure: a short stroke across it.
        stroke = look.Stroke(look.TAPE_RIM, 2.2)
        _draw_across(drawing, (mark.x, mark.z), path.along, 24.0, stroke, gid=mark.name)
        words = f"{mark.name}\nheight {millimetres(mark.z)}\nsetback {millimetres(mark.x)}"
        if path.hollow >= 0.05:
            deep = f"{millimetres(path.hollow)} deep" if path.hollow >= 1.0 else "under 1 mm"
            words += f"\nacross a hollow, {deep}"
        if mark.status in UNSURE:
            words += f"\n{STATUS_NAMES[mark.status]}"
            draw_point(drawing, mark, color=look.TAPE_RIM)
        if mark.also_at:
            words += "\nmet again at " + ", ".join(f"({x:.0f}, {z:.0f})" for x, z in mark.also_at)
        drawing.label(words, (mark.x, mark.z), prefer=(0.3, -1.0), rank=2)


def _draw_across(
    drawing: look.Drawing, at: look.Point, along: look.Point, half: float, stroke: look.Stroke,
    **more: Any,
) -> None:  # fmt: skip
    """Draw a short stroke across a direction of unit length."""
    across = half * np.array([-along[1], along[0]])
    drawing.line(np.stack([at - across, at + across]), stroke, zorder=4.0, **more)


def _draw_edges(drawing: look.Drawing, edges: Sequence[tuple[LinePoint, EdgePose]]) -> None:
    for line, pose in edges:
        drawing.line(pose.used, _EDGE, zorder=4.0, gid=f"edge {line.name}")
        for start, stop in ((pose.foot, pose.used[0]), (pose.used[1], pose.tip)):
            if start != stop:
                drawing.line([start, stop], _EDGE_CUT, zorder=4.0)
        foot, whole = np.array(pose.foot), np.subtract(pose.tip, pose.foot)
        for end in (pose.foot, pose.tip):  # the real ends of the edge
            _draw_across(drawing, end, whole / pose.length, 14.0, _EDGE)
        words = edge_words(pose) + ("\nshortened where the body stands in its way" * pose.shortened)
        if line.name == "UBRL" and pose.foot[1] > 0.0:
            words += "\nheld free of the ground"
        share, up = (0.1, 0.0) if line.name == "UBRL" else (0.93, 0.4)  # of the way to the tip
        drawing.label(words, foot + share * whole, prefer=(-1.0, up), rank=3, **_QUIET)


def _draw_sphere(drawing: look.Drawing, sphere: SpherePose) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 73)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=-1) * sphere.cut + sphere.centre[::2]
    drawing.line(circle, _SPHERE, zorder=4.0, gid="sphere")
    drawing.dot(sphere.windscreen[::2], size=3.5, color=look.MUTED)
    words = f"sphere of {2.0 * sphere.radius:g} mm diameter,\nkept on the windscreen"
    drawing.label(words, circle[27], prefer=(-0.3, 1.0), rank=3, **_QUIET)


def _draw_lines(
    drawing: look.Drawing,
    lined: LinedFront,
    station: Station,
    only: Collection[str] | None = None,
    *,
    drawn: bool = False,
) -> None:
    upper_end = lined.rules.value("blerl.upper_end_wad_mm")
    for line in station.lines:
        if line.x is None or line.z is None or not _is_shown(line.name, only):
            continue
        draw_point(drawing, line)
        words = f"{LINE_NAMES[line.name]} ({line.name})\n"
        words += f"height {millimetres(line.z)}, setback {millimetres(line.x)}"
        status = status_words(line, upper_end)
        words += f"\n{status}" if status else ""
        words += ", so no interval" if drawn and line.status == OPEN_END else ""
        other = getattr(line, "other", None)
        if other is not None:
            drawing.dot(other, marker="X", size=5.5, color=look.MUTED)
            first = "the edge meets the\nunderside here first"
            drawing.label(first, other, prefer=(1.0, -0.6), rank=2, **_QUIET)
        prefer = (1.0, -0.8) if line.name == "BRRL" else (-1.0, 0.15)
        drawing.label(words, (line.x, line.z), prefer=prefer)


def _draw_lead(drawing: look.Drawing, station: Station) -> None:
    lead, upper, edge = station.bumper_lead, station.UBRL, station.BLERL
    if lead is None or upper.x is None or upper.z is None or edge.x is None or edge.z is None:
        return
    start, below = (upper.x, upper.z), (edge.x, upper.z)
    drawing.line([(edge.x, edge.z), below], look.Stroke(look.LEAD, 0.8, (4.0, 2.0)), zorder=3.6)
    drawing.span(start, below, look.LEAD)
    unknown = f" ({STATUS_NAMES[OPEN_END]})" if station.lead_open_end else ""
    drawing.label(
        f"Bumper lead {millimetres(lead)}{unknown}", ((upper.x + edge.x) / 2.0, upper.z),
        prefer=(1.0, -0.4), color=look.LEAD, rank=2,
    )  # fmt: skip


def _note(station: Station) -> str:
    """What is missing and why, and what else is to be known of the lines."""
    missing: dict[str, list[str]] = {}
    for text in station.missing:
        name, _, reason = text.partition(": ")
        missing.setdefault(reason, []).append(name)
    items = [f"{', '.join(names)} missing: {reason}" for reason, names in missing.items()]
    said = [line for line in station.lines if line.formed and line.reason]
    items += [f"{line.name}: {line.reason}" for line in said]
    wrapper = textwrap.TextWrapper(
        _NOTE_WIDTH, initial_indent="\N{BULLET} ", subsequent_indent="   "
    )
    return "\n".join(["Notes", *map(wrapper.fill, items)]) if items else ""

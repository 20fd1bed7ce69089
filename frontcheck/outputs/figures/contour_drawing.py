"""What a side view and its enlarged face share: contour by part, skin, ground, words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.drawing import Drawing, axes_inches, fit_limits
from frontcheck.outputs.figures.tolerance_figure import draw_bars

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from frontcheck.lines.station import LinePoint, Station
    from frontcheck.screening import Screening
    from frontcheck.sure.tolerance_result import StationTolerance
    from frontcheck.surface.face import FaceDescriptors
    from frontcheck.surface.section import Section

LINE_NAMES: Final = {
    "LBRL": "Lower bumper reference line",
    "UBRL": "Upper bumper reference line",
    "BLERL": "Bonnet leading edge reference line",
    "BRRL": "Bonnet rear reference line",
}

_HATCH_STEP: Final = 45.0
_HATCH_DEPTH: Final = 28.0


def millimetres(value: float, digits: int = 0) -> str:
    """Return a length in words, such as ``34.5 mm``."""
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "\N{MINUS SIGN}") + " mm"


def status_words(line: LinePoint, upper_end_wad: float) -> str:
    """Return what a label says of a line that was not formed in the plain way."""
    words = {
        "edge_end": "edge end: touched with the tip",
        "lower_end": "lower end of the edge touches",
        "wad_1000": f"WAD {upper_end_wad:g} taken instead",
        "retaken_40deg": f"retaken at {line.edge_angle_deg or 0.0:g} deg",
    }.get(line.status, "")
    if not words and line.formed and line.reason:
        return "see note"
    return words


def part_runs(section: Section) -> list[tuple[str, NDArray[np.float64]]]:
    """Cut the contour into runs of one part; a stretch between two parts is shared half-way."""
    points = section.points
    parts = section.parts or ("",) * len(points)
    runs: list[tuple[str, NDArray[np.float64]]] = []
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


def draw_contour(drawing: Drawing, section: Section, skin: float) -> tuple[str, ...]:
    """Draw the contour by part, a tinted strip on its body side, and its points."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Polygon
    from shapely import LineString, get_parts

    strip = LineString(section.points).buffer(-skin, single_sided=True, join_style="mitre")
    for piece in get_parts(strip):
        drawing.ax.add_patch(
            Polygon(
                np.asarray(piece.exterior.coords),
                facecolor=look.SKIN,
                edgecolor="none",
                zorder=0.5,
            )
        )
    runs = part_runs(section)
    # An unbroken hairline below, so that dashes of a part never look like gaps in the body.
    drawing.line(section.points, look.Stroke(look.INK, 0.7), zorder=2.9)
    for part, points in runs:
        drawing.line(points, look.PART_STYLES[part], zorder=3.0, avoid=False, gid=f"part {part}")
    drawing.ax.add_line(
        Line2D(
            *section.points.T, linestyle="none", marker=".", markersize=2.6, markeredgewidth=0.0,
            color=look.PAPER, zorder=3.2, gid="measured points",
        )
    )  # fmt: skip
    return tuple(dict.fromkeys(part for part, _ in runs))


def draw_ground(drawing: Drawing, x_low: float, x_high: float) -> None:
    """Draw the ground with strokes below it."""
    drawing.line([(x_low, 0.0), (x_high, 0.0)], look.Stroke(look.GROUND, 1.6), gid="ground")
    feet = np.arange(x_low + _HATCH_DEPTH, x_high, _HATCH_STEP)
    strokes = np.full((len(feet), 3, 2), np.nan)  # nothing between one stroke and the next
    strokes[:, 0], strokes[:, 1] = 0.0, -_HATCH_DEPTH
    strokes[:, :2, 0] = np.column_stack([feet, feet - _HATCH_DEPTH])
    drawing.line(strokes.reshape(-1, 2), look.Stroke(look.GROUND, 0.7), zorder=1.0, avoid=False)
    drawing.avoid(np.array([(x_low, -_HATCH_DEPTH / 2), (x_high, -_HATCH_DEPTH / 2)]))


# The bumper face of one section enlarged: lips, recess, undercut, as a square would read them.

_PLUMB: Final = look.Stroke(look.FACE, 0.9, (6.0, 2.0, 1.2, 2.0))
_STRING: Final = look.Stroke(look.FACE, 1.6, (3.0, 1.4))
_HELP: Final = look.Stroke(look.FACE, 0.6, (2.0, 2.0))
_TICKS: Final = 5
_NEAR_MM: Final = 60.0
"""Lines this close above or below the face are shown with it."""
_RECESS_MM: Final = 0.5
"""A recess no deeper than this is below what a hand measurement can tell."""

_Point = tuple[float, float]


def draw_face(
    ax: Axes,
    screening: Screening,
    station: Station,
    beside: float | None = None,
    sure: StationTolerance | None = None,
) -> None:
    """Draw the face of one section, equal scale, with the measures taken on it."""
    from matplotlib.ticker import MaxNLocator

    section = screening.front.section(station.y)
    face = section.face
    measured = [face.foremost]
    if _has_recess(face):
        measured += [p for p in (face.lower_lip, face.recess, face.upper_lip) if p is not None]
    measured += [p for p in (face.overhang_from, face.overhang_to) if p is not None]
    corners = np.array([*measured, face.face_bottom, face.face_top])
    near = [
        (line.x, line.z)
        for line in (station.LBRL, station.UBRL, station.BLERL)
        if line.x is not None
        and line.z is not None
        and corners[:, 1].min() - _NEAR_MM < line.z < corners[:, 1].max() + _NEAR_MM
    ]
    corners = np.array([*corners, *near])
    low, high = corners.min(axis=0), corners.max(axis=0)
    # Labels stand right of what is measured; a face that slopes back leaves them room there.
    down, up = 0.85, 0.45
    slope_room = float(high[0]) - max(x for x, _ in measured)
    inches = slope_room / (float(high[1] - low[1]) or 1.0) * (axes_inches(ax)[1] - down - up)
    right = max(0.3, 1.45 - inches)
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    scale = fit_limits(ax, box, (0.6, down, right, up))
    drawing = Drawing(ax)
    draw_contour(drawing, section, 0.07 * scale)
    plumb = face.foremost[0]
    bottom, top = ax.get_ylim()
    drawing.line([(plumb, bottom), (plumb, top)], _PLUMB, zorder=2.0, gid="plumb line")
    _draw_lips(drawing, face, plumb)
    _draw_overhang(drawing, face)
    _draw_undercut(drawing, face, bottom, scale)
    for line in (station.LBRL, station.UBRL, station.BLERL):
        if line.x is None or line.z is None or not _inside(ax, (line.x, line.z)):
            continue
        drawing.dot((line.x, line.z), size=5.0)
        drawing.label(line.name, (line.x, line.z), prefer=(-1.0, 0.0), size=look.SMALL, rank=2)
    if sure is not None:
        draw_bars(drawing, sure, (ax.get_xlim()[0], bottom, ax.get_xlim()[1], top))
    drawing.label(
        "plumb line at the foremost point of the face", (plumb, bottom + 0.5 * (top - bottom)),
        prefer=(-1.0, 0.0), color=look.FACE, size=look.SMALL, rank=3, rotation=90.0,
    )  # fmt: skip
    drawing.label(_words(face), None, prefer=(1.0, -1.0), size=look.SMALL, rank=4)
    drawing.finish()
    larger = "" if beside is None else f" {beside / scale:.1f} times"
    ax.set_title(
        f"Face enlarged{larger}, same scale in height and setback", fontsize=look.TEXT + 0.5
    )
    ax.set_xlabel("setback x [mm]")
    ax.xaxis.set_major_locator(MaxNLocator(_TICKS))
    ax.tick_params(length=3.0)


def _has_recess(face: FaceDescriptors) -> bool:
    return face.recess_depth_mm is not None and face.recess_depth_mm > _RECESS_MM


def _inside(ax: Axes, at: _Point) -> bool:
    (x0, x1), (z0, z1) = ax.get_xlim(), ax.get_ylim()
    return x0 < at[0] < x1 and z0 < at[1] < z1


def _draw_lips(drawing: Drawing, face: FaceDescriptors, plumb: float) -> None:
    lower, recess, upper = face.lower_lip, face.recess, face.upper_lip
    if lower is None or recess is None or upper is None or face.recess_depth_mm is None:
        return
    if not _has_recess(face):
        return
    drawing.line([lower, upper], _STRING, zorder=4.0, gid="string")
    string = (recess[0] - face.recess_depth_mm, recess[1])
    names = (("Upper lip", upper, 0.6), ("Recess", recess, 0.0), ("Lower lip", lower, -0.6))
    for name, at, up in names:
        behind = at[0] - plumb
        if name == "Recess":
            drawing.span(string, at, look.FACE)
            words = (
                f"Recess: {millimetres(face.recess_depth_mm, 1)} deep\nfrom the taut string,\n"
                f"{millimetres(behind, 1)} behind\nthe plumb line"
            )
        else:
            words = f"{name}: {millimetres(behind, 1)}\nbehind the plumb line"
            if behind == 0.0:
                words = f"{name}: at the plumb line"
            if behind > 0.0:
                drawing.line([(plumb, at[1]), at], _HELP, zorder=3.5)
            drawing.dot(at, marker="D", size=4.5, color=look.FACE)
        drawing.label(words, at, prefer=(1.0, up), color=look.FACE, rank=1)


def _draw_overhang(drawing: Drawing, face: FaceDescriptors) -> None:
    back, forward = face.overhang_from, face.overhang_to
    if back is None or forward is None:
        return
    if back == face.recess and forward[0] == face.foremost[0]:
        return  # the label of the recess says this number already
    drawing.line([(forward[0], back[1]), forward], _HELP, zorder=3.5)
    drawing.span((forward[0], back[1]), back, look.FACE)
    drawing.label(
        f"Leans forward of\nvertical by {millimetres(face.overhang_mm, 1)}", back,
        prefer=(1.0, 0.0), color=look.FACE, rank=1,
    )  # fmt: skip


def _draw_undercut(drawing: Drawing, face: FaceDescriptors, bottom: float, scale: float) -> None:
    lower, upper, undercut = face.lower_lip, face.upper_lip, face.undercut_mm
    if lower is None or upper is None or undercut is None or undercut <= 0.0:
        return
    if not _has_recess(face):
        return
    level = max(face.face_bottom[1] - 0.3 * scale, bottom + 0.2 * scale)
    drawing.line([upper, (upper[0], level)], _HELP, zorder=3.5)
    drawing.line([lower, (lower[0], level)], _HELP, zorder=3.5)
    drawing.span((upper[0], level), (lower[0], level), look.FACE)
    drawing.label(
        f"Undercut {millimetres(undercut, 1)}", ((upper[0] + lower[0]) / 2.0, level),
        prefer=(1.0, -0.3), color=look.FACE, rank=1,
    )  # fmt: skip


def _words(face: FaceDescriptors) -> str:
    lines = [
        f"Face leans {abs(face.mean_face_angle_deg):.1f} deg "
        + ("rearward" if face.mean_face_angle_deg >= 0.0 else "forward")
        + " on average"
    ]
    if not _has_recess(face):
        lines.append(f"No recess deeper than {_RECESS_MM:g} mm")
    elif face.undercut_mm is not None and face.undercut_mm <= 0.0:
        lines.append(f"No undercut: the lower lip stands\n{millimetres(-face.undercut_mm, 1)} "
                     "forward of the upper lip")  # fmt: skip
    if face.overhang_mm <= 0.0:
        lines.append("Leans forward of vertical nowhere")
    return "\n".join(lines)

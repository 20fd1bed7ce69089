"""The bumper face of one section enlarged: lips, recess, undercut, as a square would read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.contour_drawing import draw_contour, millimetres
from frontcheck.outputs.figures.drawing import Drawing, axes_inches, fit_limits
from frontcheck.outputs.figures.interval_bands import draw_bars

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from frontcheck.lines.station import Station
    from frontcheck.screening import Screening
    from frontcheck.sure.tolerance_result import StationTolerance
    from frontcheck.surface.section import FaceDescriptors

__all__ = ["draw_face"]

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
    if not face.leans_forward:
        lines.append("Leans forward of vertical nowhere")
    return "\n".join(lines)

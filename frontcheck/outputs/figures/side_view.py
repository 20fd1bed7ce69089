"""Figures of a screening: side view of a station, its face enlarged, overview of the front.

Every function takes Axes (or a figure) or makes them, and hands back what it drew on;
nothing is shown and no global state is kept. Everything is drawn by one look
(`frontcheck.outputs.figures.canvas`), and every figure carries the caution line.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import CAUTION
from frontcheck.files import write_file
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.overview_drawing import draw_overview
from frontcheck.outputs.figures.side_drawing import (
    LEAD,
    draw_contour,
    draw_point,
    draw_side,
    millimetres,
)
from frontcheck.outputs.figures.tolerance_figure import draw_bars

if TYPE_CHECKING:
    import os
    from collections.abc import Collection, Mapping, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.screening import Screening
    from frontcheck.sure.tolerance_result import StationTolerance, Tolerance
    from frontcheck.surface.face import FaceDescriptors

_SIZE: Final = (14.0, 8.2)
_SIDE: Final = (0.045, 0.175, 0.665, 0.715)
_FACE: Final = (0.745, 0.175, 0.245, 0.715)
"""Places of the two panels: left, bottom, width, height, in parts of the figure."""
_DPI: Final = 150.0
_PATH: Final = re.compile(rb' d="[^"]*"')
_DECIMALS: Final = re.compile(rb"\d+\.\d{3,}")
_METADATA: Final[dict[str, dict[str, Any]]] = {
    "svg": {"Date": None, "Creator": "frontcheck", "Description": CAUTION},
    "png": {"Software": "frontcheck", "Description": CAUTION},
}
"""No date, and no version of the library that draws: the same figure gives the same bytes."""


@look.styled
def side_view(
    screening: Screening,
    y: float,
    ax: Axes | None = None,
    *,
    tolerance: Tolerance | None = None,
    only: Collection[str] | None = None,
    size: tuple[float, float] = _SIZE,
) -> Axes:
    """Draw the side view of one station, to scale.

    Parameters
    ----------
    screening : Screening
        The screening.
    y : float
        Station [mm].
    ax : matplotlib.axes.Axes, optional
        Where to draw; its place in the figure must be settled. A new figure when not
        given, with the face enlarged beside the side view.
    tolerance : Tolerance or None, optional
        How sure the lines of this screening are, to be drawn as bars.
    only : collection of str or None, optional
        Names of lines and marks, such as ``UBRL``, ``WAD 1000`` or ``bumper lead``: nothing
        else is drawn with the contour, and that place is seen near, without the face beside it.
    size : tuple of float, optional
        Width and height of a new figure [in].

    Returns
    -------
    matplotlib.axes.Axes
        The Axes of the side view.

    Raises
    ------
    KeyError
        If nothing was measured at that station, or no line or mark has such a name.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> ax = fc.side_view(result, y=0)
    >>> ax = fc.side_view(result, y=0, only=["UBRL", "LBRL"], size=(6, 5))
    """
    station = screening.station(y)
    sure = None if tolerance is None else tolerance.station(y)
    points: tuple[LinePoint | WadPoint, ...] = (*station.lines, *station.wads)
    names = [*(point.name for point in points), LEAD]
    for name in only or ():
        if name not in names:
            raise KeyError(f"no line or mark {name!r}; there are {names}")
    if only is not None and ax is None:
        figure = look.new_figure(*size)
        ax = look.axes_within(figure, 0.65, 1.15, 0.15, 0.4)
    if ax is not None:
        _legend_below(ax, draw_side(ax, screening, station, sure, only))
        ax.set_title(_title(screening, station), loc="left", fontsize=look.TITLE - 2.0)
        look.caution_below(ax)
        return ax
    figure = look.new_figure(*size)
    side, face = figure.add_axes(_SIDE), figure.add_axes(_FACE)
    handles = draw_side(side, screening, station, sure)
    inch = np.ptp(side.get_xlim()) / look.axes_inches(side)[0]
    draw_face(face, screening, station, inch, sure)
    look.head(figure, _title(screening, station), _subtitle(screening), left=_SIDE[0])
    look.legend(
        figure, handles, _SIDE[0] - 0.008, 0.095, ncols=7, handlelength=3.0, columnspacing=1.6
    )
    look.foot(figure)
    return side


def _legend_below(ax: Axes, handles: list[Line2D]) -> None:
    """Put a legend below the words of the x axis."""
    from matplotlib.transforms import ScaledTranslation

    below = ScaledTranslation(0.0, -58.0 / 72.0, look.figure_of(ax).dpi_scale_trans)
    ax.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.5, 0.0), frameon=False, ncols=5,
        bbox_transform=ax.transAxes + below, fontsize=look.SMALL, borderaxespad=0.0,
    )  # fmt: skip


def side_view_figure(
    screening: Screening, y: float, *, tolerance: Tolerance | None = None
) -> Figure:
    """Return the figure of one station: side view, and the face enlarged beside it."""
    return look.figure_of(side_view(screening, y, tolerance=tolerance))


@look.styled
def face_view(screening: Screening, y: float, ax: Axes | None = None) -> Axes:
    """Draw the bumper face of one station enlarged, at equal scale.

    Parameters
    ----------
    screening : Screening
        The screening.
    y : float
        Station [mm].
    ax : matplotlib.axes.Axes, optional
        Where to draw; its place in the figure must be settled. A new figure when not given.

    Returns
    -------
    matplotlib.axes.Axes
        The Axes drawn on.

    Raises
    ------
    KeyError
        If nothing was measured at that station.

    Examples
    --------
    >>> import frontcheck as fc
    >>> ax = fc.face_view(fc.screen(fc.read_front("geometries/plover.csv")), y=0)
    """
    station = screening.station(y)
    if ax is None:
        figure = look.new_figure(6.4, 8.2)
        ax = figure.add_axes((0.11, 0.13, 0.86, 0.73))
        look.head(figure, _title(screening, station, "face"), left=0.03)
        look.foot(figure)
    else:
        look.caution_below(ax)
    draw_face(ax, screening, station)
    return ax


@look.styled
def overview(
    screening: Screening, figure: Figure | None = None, *, tolerance: Tolerance | None = None
) -> Figure:
    """Draw the lines of all stations on one page.

    Parameters
    ----------
    screening : Screening
        The screening.
    figure : matplotlib.figure.Figure, optional
        An empty figure to draw on; a new one when not given.
    tolerance : Tolerance or None, optional
        How sure the lines of this screening are, to be drawn as bands.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Examples
    --------
    >>> import frontcheck as fc
    >>> figure = fc.overview(fc.screen(fc.read_front("geometries/plover.csv")))
    """
    figure = figure or look.new_figure(*_SIZE)
    draw_overview(figure, screening, tolerance)
    title = f"{look.printable(screening.front.name, 60)}: reference lines across the front"
    look.head(figure, title, _subtitle(screening, side=False), left=_SIDE[0])
    look.foot(figure)
    return figure


@look.styled
def figure_bytes(figure: Figure, kind: str = "svg") -> bytes:
    """Return a figure as the content of a file; the same figure always gives the same bytes."""
    # Letters are written as outlines, so that an SVG looks the same with any viewer; the words
    # stand in the SVG as comments, and the full caution in its description.
    if kind not in _METADATA:
        raise ValueError(f"format must be 'svg' or 'png', not {kind!r}")
    if kind == "png":
        return _png_bytes(figure, _DPI, _METADATA[kind])
    content = BytesIO()
    figure.savefig(content, format=kind, dpi=_DPI, metadata=_METADATA[kind])
    return _PATH.sub(_shortened, content.getvalue())


def _png_bytes(figure: Figure, dpi: float, words: Mapping[str, str]) -> bytes:
    """Write with a palette: our figures have few colours, and a file is a third as large."""
    from PIL import Image, PngImagePlugin

    drawn, content = BytesIO(), BytesIO()
    figure.savefig(drawn, format="rgba", dpi=dpi)
    size = tuple(round(inches * dpi) for inches in figure.get_size_inches())
    picture = Image.frombuffer("RGBA", size, drawn.getvalue()).convert("RGB")
    few = picture.quantize(256, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    info = PngImagePlugin.PngInfo()
    for name, text in words.items():
        info.add_text(name, text)
    few.save(content, "png", pnginfo=info, dpi=(dpi, dpi))
    return content.getvalue()


def _shortened(path: re.Match[bytes]) -> bytes:
    """A path to a hundredth of a point, which nobody can see: a tenth of a file less."""
    return _DECIMALS.sub(lambda found: b"%.2f" % float(found[0]), path[0]).replace(b" \n", b" ")


def save(
    figure: Figure,
    path_without_suffix: str | os.PathLike[str],
    formats: Sequence[str] = ("svg", "png"),
) -> tuple[Path, ...]:
    """Write a figure into files, each whole or not at all; see `figure_bytes`.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    path_without_suffix : str or os.PathLike
        File name without its suffix; the folder must exist.
    formats : sequence of str, optional
        Of ``svg`` and ``png``.

    Returns
    -------
    tuple of pathlib.Path
        The files written.

    Raises
    ------
    ValueError
        If a format is neither.
    OutputError
        If a file cannot be written; an older one is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> [path.name for path in fc.save_figure(fc.overview(result), "plover", ["svg"])]
    ['plover.svg']
    """
    contents = {kind: figure_bytes(figure, kind) for kind in formats}
    base = Path(path_without_suffix)
    targets = {kind: base.with_name(f"{base.name}.{kind}") for kind in contents}
    for kind, target in targets.items():
        write_file(target, contents[kind])
    return tuple(targets.values())


def _title(screening: Screening, station: Station, what: str = "side view") -> str:
    where = "centre plane" if station.y == 0.0 else ("right" if station.y > 0.0 else "left")
    shown = millimetres(station.y, 0 if station.y == round(station.y) else 1)
    name = look.printable(screening.front.name, 60 if what == "side view" else 24)
    return f"{name}: {what} at station {shown} ({where})"


def _subtitle(screening: Screening, *, side: bool = True) -> str:
    text = look.rules_words(screening.rules, 120)
    return text + (".  Drawn to scale, front of the vehicle on the left." if side else ".")


# The bumper face of one section enlarged: lips, recess, undercut, as a square would read them.

_PLUMB: Final = look.Stroke(look.FACE, 0.9, (6.0, 2.0, 1.2, 2.0))
_STRING: Final = look.Stroke(look.FACE, 1.6, (3.0, 1.4))
_HELP: Final = look.Stroke(look.FACE, 0.6, (2.0, 2.0))
_TICKS: Final = 5
_NEAR_MM: Final = 60.0
"""Lines this close above or below the face are shown with it."""


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
    face, names = section.face, (station.LBRL, station.UBRL, station.BLERL)
    marks = (face.lower_lip, face.recess, face.upper_lip, face.overhang_from, face.overhang_to)
    measured = [face.foremost, *(point for point in marks if point is not None)]
    corners = np.array([*measured, face.face_bottom, face.face_top])
    bottom, top = corners[:, 1].min() - _NEAR_MM, corners[:, 1].max() + _NEAR_MM
    known = ((line, line.x, line.z) for line in names)
    lines = [(line, (x, z)) for line, x, z in known if x is not None and z is not None]
    corners = np.array([*corners, *(at for _, at in lines if bottom < at[1] < top)])
    low, high = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    # Labels stand right of what is measured; a face that slopes back leaves them room there.
    down, up = 0.85, 0.45
    slope_room = high[0] - max(x for x, _ in measured)
    inches = slope_room / ((high[1] - low[1]) or 1.0) * (look.axes_inches(ax)[1] - down - up)
    scale = look.fit_limits(ax, (*low, *high), (0.6, down, max(0.3, 1.45 - inches), up))
    drawing = look.Drawing(ax)
    draw_contour(drawing, section, 0.07 * scale)
    plumb, (left, right), (bottom, top) = face.foremost[0], ax.get_xlim(), ax.get_ylim()
    drawing.line([(plumb, bottom), (plumb, top)], _PLUMB, zorder=2.0, gid="plumb line")
    _draw_lips(drawing, face, plumb)
    _draw_overhang(drawing, face)
    _draw_undercut(drawing, face, bottom, scale)
    for line, at in lines:
        if left < at[0] < right and bottom < at[1] < top:
            name = line.name + draw_point(drawing, line, size=5.0)
            drawing.label(name, at, prefer=(-1.0, 0.0), size=look.SMALL, rank=2)
    if sure is not None:
        draw_bars(drawing, sure, (left, bottom, right, top))
    drawing.label(
        "plumb line at the foremost point of the face", (plumb, bottom + 0.5 * (top - bottom)),
        prefer=(-1.0, 0.0), color=look.FACE, size=look.SMALL, rank=3, rotation=90.0,
    )  # fmt: skip
    drawing.label(_words(face), None, prefer=(1.0, -1.0), size=look.SMALL, rank=4)
    drawing.finish()
    larger = "" if beside is None else f" {beside / scale:.1f} times"
    title = f"Face enlarged{larger}, same scale in height and setback"
    ax.set_title(title, fontsize=look.TEXT + 0.5)
    ax.set_xlabel("setback x [mm]")
    ax.xaxis.set_major_locator(MaxNLocator(_TICKS))
    ax.tick_params(length=3.0)


def _draw_lips(drawing: look.Drawing, face: FaceDescriptors, plumb: float) -> None:
    lower, recess, upper, deep = face.lower_lip, face.recess, face.upper_lip, face.recess_depth_mm
    if lower is None or recess is None or upper is None or deep is None:
        return
    drawing.line([lower, upper], _STRING, zorder=4.0, gid="string")
    places = {"Upper lip": (upper, 0.6), "Recess": (recess, 0.0), "Lower lip": (lower, -0.6)}
    for name, (at, up) in places.items():
        behind = at[0] - plumb
        words = f"{name}: {millimetres(behind, 1)}\nbehind the plumb line"
        if name == "Recess":
            drawing.span((recess[0] - deep, recess[1]), at, look.FACE)
            words = (
                f"Recess: {millimetres(deep, 1)} deep\nfrom the taut string,\n"
                f"{millimetres(behind, 1)} behind\nthe plumb line"
            )
        else:
            if behind == 0.0:
                words = f"{name}: at the plumb line"
            if behind > 0.0:
                drawing.line([(plumb, at[1]), at], _HELP, zorder=3.5)
            drawing.dot(at, marker="D", size=4.5, color=look.FACE)
        drawing.label(words, at, prefer=(1.0, up), color=look.FACE)


def _draw_overhang(drawing: look.Drawing, face: FaceDescriptors) -> None:
    back, forward = face.overhang_from, face.overhang_to
    if back is None or forward is None:
        return
    if back == face.recess and forward[0] == face.foremost[0]:
        return  # the label of the recess says this number already
    drawing.line([(forward[0], back[1]), forward], _HELP, zorder=3.5)
    drawing.span((forward[0], back[1]), back, look.FACE)
    words = f"Leans forward of\nvertical by {millimetres(face.overhang_mm, 1)}"
    drawing.label(words, back, prefer=(1.0, 0.0), color=look.FACE)


def _draw_undercut(
    drawing: look.Drawing, face: FaceDescriptors, bottom: float, scale: float
) -> None:
    lower, upper, undercut = face.lower_lip, face.upper_lip, face.undercut_mm
    if lower is None or upper is None or undercut is None or undercut <= 0.0:
        return
    level = max(face.face_bottom[1] - 0.3 * scale, bottom + 0.2 * scale)
    for lip in (upper, lower):
        drawing.line([lip, (lip[0], level)], _HELP, zorder=3.5)
    drawing.span((upper[0], level), (lower[0], level), look.FACE)
    words, middle = f"Undercut {millimetres(undercut, 1)}", ((upper[0] + lower[0]) / 2.0, level)
    drawing.label(words, middle, prefer=(1.0, -0.3), color=look.FACE)


_NO_RECESS: Final = "No recess between two lips"


def _words(face: FaceDescriptors) -> str:
    lines = [
        f"Face leans {abs(face.mean_face_angle_deg):.1f} deg "
        + ("rearward" if face.mean_face_angle_deg >= 0.0 else "forward")
        + " on average"
    ]
    if face.recess is None:
        lines.append("Recess not seen from the side" if face.not_seen else _NO_RECESS)
    elif face.undercut_mm is not None and face.undercut_mm <= 0.0:
        lines.append(f"No undercut: the lower lip stands\n{millimetres(-face.undercut_mm, 1)} "
                     "forward of the upper lip")  # fmt: skip
    if face.overhang_mm <= 0.0 and not face.not_seen:
        lines.append("Leans forward of vertical nowhere")
    return "\n".join(lines)

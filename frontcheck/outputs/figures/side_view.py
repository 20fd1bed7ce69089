"""Figures of a screening: side view of a station, its face enlarged, overview of the front.

Every function takes Axes (or a figure) or makes them, and hands back what it drew on;
nothing is shown and no global state is kept. Everything is drawn by one look
(`frontcheck.outputs.figures.style`), and every figure carries the caution line.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import CAUTION
from frontcheck.files import write_file
from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.contour_drawing import draw_face, millimetres
from frontcheck.outputs.figures.drawing import (
    axes_inches,
    caution_below,
    foot,
    head,
    new_figure,
)
from frontcheck.outputs.figures.overview_drawing import draw_overview
from frontcheck.outputs.figures.side_drawing import draw_side

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from frontcheck.lines.station import Station
    from frontcheck.screening import Screening
    from frontcheck.sure.tolerance_result import Tolerance

_SIZE: Final = (14.0, 8.2)
_SIDE: Final = (0.045, 0.175, 0.665, 0.715)
_FACE: Final = (0.745, 0.175, 0.245, 0.715)
"""Places of the two panels: left, bottom, width, height, in parts of the figure."""
_DPI: Final = 150.0
_METADATA: Final[dict[str, dict[str, Any]]] = {
    "svg": {"Date": None, "Creator": "frontcheck", "Description": CAUTION},
    "png": {"Software": "frontcheck", "Description": CAUTION},
}
"""No date, and no version of the library that draws: the same figure gives the same bytes."""


def side_view(
    screening: Screening,
    y: float,
    ax: Axes | None = None,
    *,
    tolerance: Tolerance | None = None,
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

    Returns
    -------
    matplotlib.axes.Axes
        The Axes of the side view.

    Raises
    ------
    KeyError
        If nothing was measured at that station.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> ax = fc.side_view(result, y=0)
    >>> ax.get_aspect()
    1.0
    """
    station = screening.station(y)
    sure = None if tolerance is None else tolerance.station(y)
    with look.house_style():
        if ax is not None:
            handles = draw_side(ax, screening, station, sure)
            _legend_below(ax, handles)
            ax.set_title(_title(screening, station), loc="left", fontsize=look.TITLE - 2.0)
            caution_below(ax)
            return ax
        figure = new_figure(*_SIZE)
        side, face = figure.add_axes(_SIDE), figure.add_axes(_FACE)
        handles = draw_side(side, screening, station, sure)
        draw_face(face, screening, station, np.ptp(side.get_xlim()) / axes_inches(side)[0], sure)
        head(figure, _title(screening, station), _subtitle(screening), left=_SIDE[0])
        figure.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(_SIDE[0] - 0.008, 0.095),
            ncols=7, frameon=False, fontsize=look.TEXT, handlelength=3.0, columnspacing=1.6,
            borderaxespad=0.0,
        )  # fmt: skip
        foot(figure)
    return side


def side_view_figure(
    screening: Screening, y: float, *, tolerance: Tolerance | None = None
) -> Figure:
    """Return the figure of one station: side view, and the face enlarged beside it."""
    figure = side_view(screening, y, tolerance=tolerance).get_figure(root=True)
    assert figure is not None
    return figure


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
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> ax = fc.face_view(result, y=0)
    >>> ax.get_aspect()
    1.0
    """
    station = screening.station(y)
    with look.house_style():
        if ax is None:
            figure = new_figure(6.4, 8.2)
            ax = figure.add_axes((0.11, 0.13, 0.86, 0.73))
            head(figure, _title(screening, station, "face"), left=0.03)
            foot(figure)
        else:
            caution_below(ax)
        draw_face(ax, screening, station)
    return ax


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
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> figure = fc.overview(result)
    >>> len(figure.axes) > 0
    True
    """
    with look.house_style():
        figure = figure or new_figure(*_SIZE)
        draw_overview(figure, screening, tolerance)
        title = f"{_name(screening)}: reference lines across the front"
        head(figure, title, _subtitle(screening, side=False), left=_SIDE[0])
        foot(figure)
    return figure


def figure_bytes(figure: Figure, kind: str = "svg") -> bytes:
    """Return a figure as the content of a file; the same figure always gives the same bytes."""
    # Letters are written as outlines, so that an SVG looks the same with any viewer; the words
    # stand in the SVG as comments, and the full caution in its description.
    if kind not in _METADATA:
        raise ValueError(f"format must be 'svg' or 'png', not {kind!r}")
    content = BytesIO()
    with look.house_style():
        if kind == "svg":
            figure.savefig(content, format=kind, dpi=_DPI, metadata=_METADATA[kind])
        else:
            _write_png(figure, content)
    return content.getvalue()


def _write_png(figure: Figure, content: BytesIO) -> None:
    """Write with a palette: our figures have few colours, and a file is a third as large."""
    from PIL import Image, PngImagePlugin

    figure.savefig(content, format="rgba", dpi=_DPI)
    size = tuple(round(inches * _DPI) for inches in figure.get_size_inches())
    picture = Image.frombuffer("RGBA", size, content.getvalue()).convert("RGB")
    few = picture.quantize(256, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    words = PngImagePlugin.PngInfo()
    for name, text in _METADATA["png"].items():
        words.add_text(name, text)
    content.seek(0)
    content.truncate()
    few.save(content, "png", pnginfo=words, dpi=(_DPI, _DPI))


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
    written = []
    for kind, content in contents.items():
        target = base.with_name(f"{base.name}.{kind}")
        write_file(target, content)
        written.append(target)
    return tuple(written)


# --- head and foot -----------------------------------------------------------------


def _name(screening: Screening, width: int = 60) -> str:
    return look.printable(screening.front.name, width)


def _title(screening: Screening, station: Station, what: str = "side view") -> str:
    where = "centre plane" if station.y == 0.0 else ("right" if station.y > 0.0 else "left")
    shown = millimetres(station.y, 0 if station.y == round(station.y) else 1)
    name = _name(screening, 60 if what == "side view" else 24)
    return f"{name}: {what} at station {shown} ({where})"


def _subtitle(screening: Screening, *, side: bool = True) -> str:
    rules = screening.rules
    text = look.printable(f"Rule set {rules.id}: {rules.title}", 120)
    if rules.changed:
        text += f", with {len(rules.changed)} constants set by the user"
    return text + (".  Drawn to scale, front of the vehicle on the left." if side else ".")


def _legend_below(ax: Axes, handles: list[Line2D]) -> None:
    from matplotlib.transforms import ScaledTranslation

    figure = ax.get_figure(root=True)
    assert figure is not None
    below = ScaledTranslation(0.0, -58.0 / 72.0, figure.dpi_scale_trans)
    ax.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.5, 0.0), frameon=False, ncols=5,
        bbox_transform=ax.transAxes + below, fontsize=look.SMALL, borderaxespad=0.0,
    )  # fmt: skip

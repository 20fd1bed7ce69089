"""The lines of the answer along the skin of one station."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_drawing import draw_contour, draw_ground

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section

_SIZE: Final = (9.6, 7.4)
_PART_OF_A_PAGE: Final = 6.0
"""A figure narrower than this [in] is a part of a page, which has the words of the lines itself."""
_SKIN: Final = 16.0
_BAND: Final = (look.FACE, "#d9c3c6")
_ELSEWHERE: Final = look.Stroke(look.MUTED, 0.6, (3.0, 2.0))


@look.styled
def findings_view(result: Screening, y: float, figure: Figure | None = None) -> Figure:
    """Draw the side view of one station with the lines of the answer marked by number.

    Parameters
    ----------
    result : Screening
        The screening with its answer.
    y : float
        Station [mm].
    figure : matplotlib.figure.Figure, optional
        An empty figure to draw on; a new one when not given. On one narrower than six inches the
        words of the lines are left to the page on which it stands.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Raises
    ------
    KeyError
        If nothing was measured at that station.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> figure = fc.findings_view(result, 0)
    """
    section = result.front.section(y)
    lines = [f"{n}  {line.text}" for n, line in enumerate(result.answer.lines, start=1)]
    figure = look.new_figure(*_SIZE) if figure is None else figure
    alone = figure.get_figwidth() >= _PART_OF_A_PAGE
    left, above = (0.68, 0.8) if alone else (0.55, 0.1)
    below = 0.95 + 0.19 * max(len(lines), 1) if alone else 0.85
    elsewhere = _draw_lines(look.axes_within(figure, left, below, 0.1, above), result, section)
    if alone:
        words = "To scale. A band stands off the skin where a line of the answer holds."
        if elsewhere:
            words += " A hollow point: it holds at another station, dashed."
        name = look.printable(result.front.name, 50)
        title = f"{name}: what stands out, at station y = {y:g} mm"
        look.head(figure, title, words, left=left / figure.get_figwidth())
        look.write(
            figure, left, below - 0.5, "\n".join(lines) or "Nothing stands out.", va="top",
            fontsize=look.TEXT + 1.0, color=look.INK, linespacing=1.35, gid="lines",
        )  # fmt: skip
    look.foot(figure)
    return figure


def _draw_lines(ax: Axes, result: Screening, section: Section) -> bool:
    """Draw a section and mark the lines; tell whether some hold at other stations alone."""
    bands = result.answer_bands[section.y]
    away = _elsewhere(result, {band.number for band in bands})
    others = [result.front.section(y) for y in sorted({y for _, y, _ in away.values()})]
    shown = [section.points, *(o.points for o in others), *(band.strip for band in bands)]
    low = np.min([points.min(axis=0) for points in shown], axis=0)
    high = np.max([points.max(axis=0) for points in shown], axis=0)
    look.fit_limits(ax, (low[0], 0.0, high[0], high[1]), (0.3, 0.25, 0.15, 0.2))
    drawing = look.Drawing(ax)
    for other in others:
        drawing.line(other.points, _ELSEWHERE, zorder=0.8, avoid=False, gid="other station")
    draw_contour(drawing, section, _SKIN)
    draw_ground(drawing, *ax.get_xlim())
    (rim, fill), places = _BAND, {}
    for band in bands:
        how = {"linewidth": 0.8, "zorder": 2.0, "gid": f"line {band.number}"}
        drawing.fill(band.strip, fill, rim, **how)
        drawing.avoid(band.strip)
        half = len(band.strip) // 2
        places[band.number] = (band.strip[half // 2] + band.strip[-1 - half // 2]) / 2.0
    for n, (x, _, z) in away.items():
        drawing.dot((x, z), color=rim)
        places[n] = np.array([x, z])
    for n, at in places.items():
        style = {"size": look.TITLE, "color": rim}
        drawing.label(str(n), at, prefer=(-1.0, 1.0), rank=n, **style)
    drawing.finish()
    look.plain_axes(ax, "setback x [mm]", "height z [mm]")
    return bool(away)


def _elsewhere(result: Screening, shown: set[int]) -> dict[int, tuple[float, float, float]]:
    """A point (x, station, z) of every line that is not among those shown."""
    found = {}
    for n, line in enumerate(result.answer.lines, start=1):
        places = [
            (f.region.outline_mm, f.station)
            for f in result.findings
            if f.code in line.findings and f.station is not None and f.region.outline_mm
        ]
        if n not in shown and places:
            points, y = places[0]
            x, _, z = min(points, key=lambda point: abs(point[1] - y))
            found[n] = (x, y, z)
    return found

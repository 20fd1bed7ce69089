"""The lines of the answer along the skin of one station, and the headform areas unrolled."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import (
    Drawing,
    fit_limits,
    foot,
    head,
    new_figure,
    plain_axes,
)
from frontcheck.outputs.figures.plan_drawing import area_doubts
from frontcheck.outputs.figures.side_drawing import draw_contour, draw_ground
from frontcheck.people.impactors import headforms, square_pulse_stop_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.findings.hard_points import DepthAbove, HeadContact
    from frontcheck.findings.head_points import HeadPoint
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section
    from frontcheck.zones.front_zones import FrontZones

_SIZE: Final = (9.6, 7.4)
_PART_OF_A_PAGE: Final = 6.0
"""A figure narrower than this [in] is a part of a page, which has the words of the lines itself."""
_SKIN: Final = 16.0
_BAND: Final = (look.FACE, "#d9c3c6")
_ELSEWHERE: Final = look.Stroke(look.MUTED, 0.6, (3.0, 2.0))


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
    >>> len(figure.axes) > 0
    True
    """
    section = result.front.section(y)
    lines = [f"{n}  {line.text}" for n, line in enumerate(result.answer.lines, start=1)]
    with look.house_style():
        figure = new_figure(*_SIZE) if figure is None else figure
        width, height = figure.get_size_inches()
        alone = width >= _PART_OF_A_PAGE
        left, above = (0.68, 0.8) if alone else (0.55, 0.1)
        below = 0.95 + 0.19 * max(len(lines), 1) if alone else 0.85
        ax = figure.add_axes(
            (left / width, below / height, 1.0 - (left + 0.1) / width,
             1.0 - (below + above) / height)
        )  # fmt: skip
        elsewhere = _draw_lines(ax, result, section)
        if alone:
            words = "To scale. A band stands off the skin where a line of the answer holds."
            if elsewhere:
                words += " A hollow point: it holds at another station, dashed."
            name = look.printable(result.front.name, 50)
            title = f"{name}: what stands out, at station y = {y:g} mm"
            head(figure, title, words, left=left / width)
            figure.text(
                left / width, (below - 0.5) / height, "\n".join(lines) or "Nothing stands out.",
                fontsize=look.TEXT + 1.0, va="top", linespacing=1.35, gid="lines",
            )  # fmt: skip
        foot(figure)
        return figure


def _draw_lines(ax: Axes, result: Screening, section: Section) -> bool:
    """Draw a section and mark the lines; tell whether some hold at other stations alone."""
    from matplotlib.patches import Polygon

    bands = result.answer_bands[section.y]
    away = _elsewhere(result, {band.number for band in bands})
    others = [result.front.section(y) for y in sorted({y for _, y, _ in away.values()})]
    shown = [section.points, *(o.points for o in others), *(band.strip for band in bands)]
    low = np.min([points.min(axis=0) for points in shown], axis=0)
    high = np.max([points.max(axis=0) for points in shown], axis=0)
    fit_limits(ax, (low[0], 0.0, high[0], high[1]), (0.3, 0.25, 0.15, 0.2))
    drawing = Drawing(ax)
    for other in others:
        drawing.line(other.points, _ELSEWHERE, zorder=0.8, avoid=False, gid="other station")
    draw_contour(drawing, section, _SKIN)
    draw_ground(drawing, *ax.get_xlim())
    for band in bands:
        rim, fill = _BAND
        ax.add_patch(
            Polygon(
                band.strip, facecolor=fill, edgecolor=rim, linewidth=0.8, zorder=2.0,
                gid=f"line {band.number}",
            )
        )  # fmt: skip
        drawing.avoid(band.strip)
        half = len(band.strip) // 2
        x, z = ((band.strip[half // 2] + band.strip[-1 - half // 2]) / 2.0).tolist()
        drawing.label(
            str(band.number), (x, z), prefer=(-1.0, 1.0), size=look.TITLE, color=rim,
            rank=band.number,
        )  # fmt: skip
    for n, (x, _, z) in away.items():
        drawing.dot((x, z), color=_BAND[0])
        drawing.label(
            str(n), (x, z), prefer=(-1.0, 1.0), size=look.TITLE, color=_BAND[0], rank=n
        )  # fmt: skip
    drawing.finish()
    plain_axes(ax, "setback x [mm]", "height z [mm]")
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


# The headform areas unrolled: y across, wrap-around distance down, how headforms meet the skin.
#
# Every grid point is a cell with the angle between the headform's travel and the inward normal of
# the skin; dark is square to the skin. The number in the cell says the same.

_MAP_SIZE: Final = (13.0, 9.0)
_MAP: Final = (0.06, 0.155, 0.80, 0.715)
_BAR: Final = (0.885, 0.155, 0.018, 0.715)
_ANGLE_LIMITS: Final = (10.0, 50.0)
"""Angles beyond these keep the end colours [deg]; the same for every front, to compare maps."""
_MARGIN_MM: Final = 60.0
_AREA_STROKES: Final = {
    "child": look.Stroke(look.INK, 2.2),
    "adult": look.Stroke(look.INK, 2.2, (3.0, 1.2)),
}
_DARK_BELOW: Final = 0.55
_ON_BORDER_MM: Final = 12.0


def head_map(
    lined: LinedFront,
    contact: HeadContact,
    figure: Figure | None = None,
) -> Figure:
    """Draw the headform areas of a front unrolled.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    contact : HeadContact
        What headforms meet on it: the grid gives the cells; hard points are drawn where the
        headform's way to them meets the skin, with their free depth along that way.
    figure : matplotlib.figure.Figure, optional
        An empty figure to draw on; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> figure = fc.head_map(result, result.head)
    >>> len(figure.axes) > 0
    True
    """
    points, zones = contact.points, contact.zones
    with look.house_style():
        figure = new_figure(*_MAP_SIZE) if figure is None else figure
        ax, bar = figure.add_axes(_MAP), figure.add_axes(_BAR)
        _limits(ax, lined, zones)
        mapping = _cells(ax, points, zones.options.grid_mm)
        drawing = Drawing(ax)
        handles = [*_areas(drawing, zones), *_lines(drawing, zones)]
        handles += _hard_points(drawing, lined, contact.depths)
        drawing.finish()
        if not points:
            ax.text(
                0.5, 0.5, "no grid point lies in a headform area", transform=ax.transAxes,
                ha="center", va="center", fontsize=look.TEXT + 2.0, color=look.MUTED,
            )  # fmt: skip
        plain_axes(ax, "station y [mm], right positive", "wrap-around distance [mm]")
        figure.colorbar(
            mapping,
            cax=bar,
            extend="both",
            label="angle between headform travel and inward normal [deg]",
        )
        _second_scale(bar)
        _words(figure, lined, handles)
        return figure


def _limits(ax: Axes, lined: LinedFront, zones: FrontZones) -> None:
    ys = lined.front.full().stations
    wads = [
        wad
        for area in (zones.child_area, zones.adult_area)
        for outline in area.outlines
        for wad in outline.wad
        if wad is not None
    ]
    for name in ("BLERL", "BRRL"):
        wads += [wad for wad in zones.line(name).wad if wad is not None]
    low, high = (min(wads), max(wads)) if wads else (1000.0, 2100.0)
    ax.set_xlim(ys[0] - _MARGIN_MM, ys[-1] + _MARGIN_MM)
    # Front at the top, as in the overview: the other way up it would be a mirror image.
    ax.set_ylim(high + _MARGIN_MM, low - _MARGIN_MM)
    ax.set_aspect("equal", adjustable="box", anchor="C")
    ax.set_autoscale_on(False)


def _cells(ax: Axes, points: Sequence[HeadPoint], spacing: float) -> Any:
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.collections import PatchCollection
    from matplotlib.colors import Normalize
    from matplotlib.patches import Rectangle

    norm, colors = Normalize(*_ANGLE_LIMITS), colormaps["cividis"]
    mapping = ScalarMappable(norm, colors)
    half = spacing / 2.0
    cells = [Rectangle((p.y - half, p.wad - half), spacing, spacing) for p in points]
    shades = colors(norm(np.array([p.angle_deg for p in points])))
    ax.add_collection(
        PatchCollection(
            cells, facecolors=shades, edgecolors=look.PAPER, linewidths=0.5, zorder=1.0
        ),
        autolim=False,
    )
    if len(points) <= 700:
        for point in points:
            if point.to_border is not None and point.to_border < _ON_BORDER_MM:
                continue  # the border line runs through the number
            level = norm(point.angle_deg)
            ax.text(
                point.y, point.wad, f"{point.angle_deg:.0f}", ha="center", va="center",
                fontsize=look.SMALL - 0.5, zorder=2.0, gid="angle",
                color=look.PAPER if level < _DARK_BELOW else look.INK,
            )  # fmt: skip
    return mapping


def _areas(drawing: Drawing, zones: FrontZones) -> list[Any]:
    from matplotlib.lines import Line2D

    handles = []
    for area in (zones.child_area, zones.adult_area):
        stroke = _AREA_STROKES[area.name]
        for outline in area.outlines:
            ring = _unrolled([p[1] for p in outline.points], outline.wad)
            if len(ring) > 2:
                drawing.line(
                    np.concatenate([ring, ring[:1]]), stroke, zorder=5.0, gid=f"area {area.name}"
                )
        if area.outlines:
            label = ", ".join([f"{area.name} headform area", *area_doubts(area, zones).values()])
            handles.append(Line2D([], [], label=label, **stroke.options()))
    return handles


def _lines(drawing: Drawing, zones: FrontZones) -> list[Any]:
    from matplotlib.lines import Line2D

    handles = []
    strokes = {
        "BLERL": look.LINE_STYLES["BLERL"],
        "BRRL": look.LINE_STYLES["BRRL"],
        "SRL": look.Stroke(look.FACE, 1.6, (2.0, 1.0, 0.8, 1.0)),
    }
    for name, stroke in strokes.items():
        line = zones.line(name)
        drawn = False
        for piece in line.pieces:
            part = slice(piece.start, piece.stop)
            run = _unrolled(line.points[part, 1], line.wad[part])
            if len(run) > 1:
                drawing.line(run, stroke, zorder=4.0, gid=f"line {name}")
                drawn = True
        if drawn:
            handles.append(Line2D([], [], label=name, **stroke.options()))
    return handles


def _unrolled(ys: Any, wads: Sequence[float | None]) -> NDArray[np.float64]:
    """Points (k, 2) of y and wrap-around distance, without those that the map does not hold."""
    pairs = [(float(y), wad) for y, wad in zip(ys, wads, strict=True) if wad is not None]
    return np.array(pairs, dtype=np.float64).reshape(-1, 2)


def _hard_points(drawing: Drawing, lined: LinedFront, depths: Sequence[DepthAbove]) -> list[Any]:
    from matplotlib.lines import Line2D

    speed = headforms(lined.rules)[0].speed_km_h
    needed = float(square_pulse_stop_distance(1000.0, speed))
    styles = {True: ("v", "#a02c2c"), False: ("o", look.INK)}
    used = set()
    for depth in depths:
        if not depth.in_area or depth.skin is None or depth.wad is None:
            continue
        assert depth.along_travel is not None
        short = depth.along_travel < needed
        used.add(short)
        at = (depth.point.y, depth.wad)
        marker, color = styles[short]
        drawing.dot(at, marker=marker, size=8.0, color=color)
        drawing.label(
            f"{depth.point.name}: {depth.along_travel:.0f} mm", at, prefer=(0.0, 1.0),
            size=look.TEXT, rank=0 if short else 1,
        )  # fmt: skip
    return [
        Line2D(
            [], [], linestyle="none", marker=styles[short][0], markersize=8.0,
            markerfacecolor=look.PAPER, markeredgecolor=styles[short][1], markeredgewidth=1.6,
            label=f"hard point, free depth {'below' if short else 'from'} {needed:.1f} mm",
        )
        for short in sorted(used)
    ]  # fmt: skip


def _second_scale(bar: Axes) -> None:
    """Normal share of the speed beside the angle."""
    angles = [10, 20, 30, 40, 50]
    bar.set_yticks(angles, [f"{a}  ({100.0 * np.cos(np.radians(a)):.0f} %)" for a in angles])


def _words(figure: Figure, lined: LinedFront, handles: Sequence[Any]) -> None:
    child, adult = headforms(lined.rules)
    name = look.printable(lined.front.name, 60)
    text = (
        f"Rule set {lined.rules.id}.  Child headform at {child.angle_deg:g} deg, adult at "
        f"{adult.angle_deg:g} deg to the horizontal.  Front of the vehicle at the top.  "
        "Numbers: angle between travel and inward normal [deg]; beside the scale, the share of "
        "the speed along the normal.  Free depths "
        f"are along the travel; {float(square_pulse_stop_distance(1000.0, child.speed_km_h)):.1f} "
        f"mm is what a constant pulse needs for HIC 1000 at {child.speed_km_h:g} km/h."
    )
    title = f"{name}: how headforms meet the skin, unrolled"
    head(figure, title, textwrap.fill(text, 170), left=_MAP[0])
    if handles:
        figure.legend(
            handles=list(handles), loc="lower left", bbox_to_anchor=(_MAP[0], 0.045), ncols=7,
            frameon=False, fontsize=look.TEXT, handlelength=3.2, borderaxespad=0.0,
        )  # fmt: skip
    foot(figure)

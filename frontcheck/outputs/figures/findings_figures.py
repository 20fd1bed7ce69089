"""The lines of the answer along the skin of one station; how headforms meet the bonnet."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import plan_drawing as plan
from frontcheck.outputs.figures.side_drawing import draw_contour, draw_ground
from frontcheck.people.impactors import headforms, square_pulse_stop_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.findings.hard_points import DepthAbove, HeadContact
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section
    from frontcheck.zones.front_zones import FrontZones, HeadformArea

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
    >>> figure = fc.findings_view(fc.screen(fc.read_front("geometries/plover.csv")), 0)
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


# How headforms meet the skin, seen from above: lines of equal angle over the plan outline.

_MAP_SIZE: Final = (11.6, 8.2)
_ROOM: Final = (0.75, 1.25, 0.2, 0.95)
"""Room left, below, right and above the picture [in]."""
_LETTERS_PER_INCH: Final = 16.0
_STEPS_DEG: Final = (10.0, 5.0, 2.0, 1.0)
_FEWEST: Final = 4
"""The widest step between lines of equal angle that gives so many of them: own choice."""
_AREAS: Final = {
    "child": look.Stroke(look.INK, 1.0),
    "adult": look.Stroke(look.INK, 1.0, (7.0, 3.0)),
}
_DASHES: Final = ((), (6.0, 1.6), (1.0, 1.2), (5.0, 1.4, 1.0, 1.4), (2.6, 1.2))
_SHADES: Final = ("#2c2145", "#51407a", "#6d5a9b", "#7f6fa8")
"""Lines of equal angle: dashes and shades take turns, so that neighbours differ in both."""
_MAP_LINES: Final = ("BLERL", "BRRL", "SRL")


@look.styled
def head_map(
    lined: LinedFront,
    contact: HeadContact,
    figure: Figure | None = None,
) -> Figure:
    """Draw lines of equal angle between headform travel and skin, seen from above.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    contact : HeadContact
        What headforms meet on it: the lines run between its grid points; stiff parts are drawn
        where the headform's way to them meets the skin, with their room below it along that way.
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
    """
    zones = contact.zones
    figure = look.new_figure(*_MAP_SIZE) if figure is None else figure
    said = _map_words(figure, lined)
    left, below, right, above = _ROOM
    ax = look.axes_within(figure, left, below, right, above + 0.14 * max(said.count("\n") - 1, 0))
    _limits(ax, zones)
    look.plain_axes(ax, "setback x [mm]", "station y [mm], right positive")
    drawing = look.Drawing(ax)
    if zones.surface:  # otherwise the plan shape is not known, and is not drawn
        plan.draw_bumper_outline(drawing, lined)
    names = [name for name in _MAP_LINES if zones.line(name).formed]
    plan.draw_lines(drawing, zones, "plan", names)
    for area in (zones.child_area, zones.adult_area):
        _draw_area(drawing, area, zones)
    _draw_angles(drawing, contact)
    stiff = _draw_stiff_parts(drawing, lined, contact.depths)
    plan.nothing_note(drawing, zones)
    drawing.finish()
    if not contact.points:
        ax.text(
            0.5, 0.5, "no candidate point lies in a headform area", transform=ax.transAxes,
            ha="center", va="center", fontsize=look.TEXT + 2.0, color=look.MUTED,
        )  # fmt: skip
    words = textwrap.fill(look.told("head_map_lines", stiff=stiff), _letters(figure))
    look.write(figure, left, 0.33, words)
    return figure


def _limits(ax: Axes, zones: FrontZones) -> None:
    shown = [zones.line(name).points for name in _MAP_LINES]
    areas = (zones.child_area, zones.adult_area)
    shown += [np.array(outline.points) for area in areas for outline in area.outlines]
    points = np.concatenate([np.reshape(each[:, :2], (-1, 2)) for each in shown])
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        points = np.array([[0.0, -800.0], [1500.0, 800.0]])
    look.fit_limits(ax, (*points.min(axis=0), *points.max(axis=0)), (1.6, 0.3, 1.6, 0.35))


def _draw_area(drawing: look.Drawing, area: HeadformArea, zones: FrontZones) -> None:
    for i, outline in enumerate(area.outlines):
        ring = np.array([*outline.points, outline.points[0]])[:, :2]
        drawing.line(ring, _AREAS[area.name], avoid=False, gid=f"area {area.name}")
        drawing.avoid(ring[:: max(len(ring) // 60, 1)])
        if i == 0:
            said = [f"{area.name} headform area", *plan.area_doubts(area, zones).values()]
            rear = ring[np.argmax(ring[:, 0] - np.abs(ring[:, 1]))]
            drawing.label("\n".join(said), rear, prefer=(1.0, 0.2))


def _draw_angles(drawing: look.Drawing, contact: HeadContact) -> None:
    """Draw candidate points and, between them, the lines of equal angle."""
    from matplotlib.tri import Triangulation

    if not contact.points:
        return
    x, y, angle = np.array([(p.x, p.y, p.angle_deg) for p in contact.points]).T
    drawing.ax.plot(x, y, gid="points", **look.dots("o", 1.6, look.MUTED, width=1.0))
    levels = _levels(float(angle.min()), float(angle.max()))
    if not levels:
        drawing.label(f"about {angle.mean():.0f} deg throughout", None, prefer=(1.0, -1.0))
    if not levels or not len(contact.facets):
        return
    drawn = drawing.ax.tricontour(Triangulation(x, y, contact.facets), angle, levels=levels)
    runs = [[run for run in of_level if len(run) > 1] for of_level in drawn.allsegs]
    drawn.remove()
    for n, (level, of_level) in enumerate(zip(levels, runs, strict=True)):
        stroke = look.Stroke(_SHADES[n % len(_SHADES)], 1.5, _DASHES[n % len(_DASHES)])
        for run in of_level:
            drawing.line(run, stroke, zorder=5.0, gid=f"angle {level:g}")
        if of_level:
            run = max(of_level, key=lambda run: float(np.hypot(*np.diff(run, axis=0).T).sum()))
            at = run[int((0.2 + 0.6 * (0.382 * n % 1.0)) * (len(run) - 1))]
            drawing.label(f"{level:g} deg", at, color=stroke.color, size=look.TEXT + 0.5)


def _levels(low: float, high: float) -> list[float]:
    """Angles of the lines: whole multiples of the widest step that gives enough of them."""
    found = np.zeros(0)
    for step in _STEPS_DEG:
        found = step * np.arange(np.floor(low / step) + 1.0, np.ceil(high / step))
        if len(found) >= _FEWEST:
            break
    return [float(level) for level in found]


def _draw_stiff_parts(
    drawing: look.Drawing, lined: LinedFront, depths: Sequence[DepthAbove]
) -> str:
    """Draw where headforms would come to stiff parts; return what the markers mean."""
    form = headforms(lined.rules)[0]
    needed = float(square_pulse_stop_distance(1000.0, form.speed_km_h))
    shown = [depth for depth in depths if depth.in_area and depth.skin is not None]
    for depth in shown:
        assert depth.along_travel is not None
        assert depth.skin is not None
        at, short = depth.skin[:2], depth.along_travel < needed
        drawing.dot(at, marker="v" if short else "o", size=8.0, filled=short)
        words = f"{depth.point.name}: {depth.along_travel:.0f} mm"
        drawing.label(words, at, prefer=(0.0, 1.0), rank=0 if short else 1)
    said = look.told("stiff", needed=needed, speed=form.speed_km_h)
    return said if shown else ""


def _letters(figure: Figure) -> int:
    """How many letters a line of words holds."""
    return int((figure.get_figwidth() - _ROOM[0] - _ROOM[2]) * _LETTERS_PER_INCH)


def _map_words(figure: Figure, lined: LinedFront) -> str:
    """Write title, explanation and caution; return the explanation in its lines."""
    child, adult = headforms(lined.rules)
    name, title = look.printable(lined.front.name, 60), "how squarely headforms meet the skin"
    angles = {"child": child.angle_deg, "adult": adult.angle_deg}
    text = look.told("head_map", rules=lined.rules.id, **angles)
    said = textwrap.fill(text, _letters(figure))
    look.head(figure, f"{name}: {title}", said, left=_ROOM[0] / figure.get_figwidth())
    look.foot(figure)
    return said

"""Figures of a whole front: plan view, front view, and the bonnet unrolled.

Plan view and unrolled map have the front of the vehicle on the left and the vehicle's right at
the top, as it is seen from above; the front view is seen from in front of the vehicle, so
that its right is on the left. All three are to scale.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import plan_drawing as plan

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.outputs.figures.plan_drawing import View
    from frontcheck.zones.front_zones import FrontZones

_SIZE: Final = (11.6, 8.2)
_ROOM: Final = (0.75, 1.25, 0.2, 0.9)
"""Room left, below, right and above the picture [in]."""
_LETTERS_PER_INCH: Final = 16.0


@look.styled
def plan_view(
    lined: LinedFront,
    zones: FrontZones,
    ax: Axes | None = None,
    *,
    size: tuple[float, float] = _SIZE,
) -> Axes:
    """Draw all lines and zones seen from above, to scale.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    zones : FrontZones
        Its zones.
    ax : matplotlib.axes.Axes, optional
        Where to draw; its place in the figure must be settled. A new figure when not given.
    size : tuple of float, optional
        Width and height of a new figure [in].

    Returns
    -------
    matplotlib.axes.Axes
        The Axes drawn on. Front of the vehicle on the left, its right at the top.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> ax = fc.plan_view(result, result.zones)
    """
    where = "Seen from above, to scale: front on the left, the vehicle's right at the top"
    drawing = _settled(ax, lined, "plan view", where, size)
    _fit(drawing.ax, zones, "plan", (1.7, 0.35, 0.35, 0.4))
    if zones.surface:  # otherwise the plan shape is not known, and is not drawn
        plan.draw_stations(drawing, lined, "plan")
        plan.draw_bumper_outline(drawing, lined)
    for area in (zones.child_area, zones.adult_area):
        plan.draw_area(drawing, area, zones, "plan")
    plan.draw_lines(drawing, zones, "plan", [line.name for line in zones.lines])
    plan.draw_bonnet_thirds(drawing, zones)
    plan.draw_corner_tools(drawing, zones)
    _draw_corners(drawing, zones, "plan")
    plan.draw_bumper_bars(drawing, zones)
    plan.nothing_note(drawing, zones)
    drawing.finish()
    return drawing.ax


@look.styled
def front_view(
    lined: LinedFront,
    zones: FrontZones,
    ax: Axes | None = None,
    *,
    size: tuple[float, float] = _SIZE,
) -> Axes:
    """Draw all lines seen from the front, to scale.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    zones : FrontZones
        Its zones.
    ax : matplotlib.axes.Axes, optional
        Where to draw; its place in the figure must be settled. A new figure when not given.
    size : tuple of float, optional
        Width and height of a new figure [in].

    Returns
    -------
    matplotlib.axes.Axes
        The Axes drawn on. The vehicle's right is on the left, as one sees it.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> ax = fc.front_view(result, result.zones)
    """
    where = "Seen from the front, to scale: the vehicle's right on the left"
    drawing = _settled(ax, lined, "front view", where, size)
    ax = drawing.ax
    _fit(ax, zones, "front", (0.35, 0.3, 0.35, 0.35))
    ax.set_xlim(ax.get_xlim()[::-1])
    ground = [(v, 0.0) for v in ax.get_xlim()]
    drawing.line(ground, look.Stroke(look.GROUND, 1.6), zorder=1.0, gid="ground")
    plan.draw_stations(drawing, lined, "front")
    plan.draw_test_area(drawing, zones)
    plan.draw_lines(drawing, zones, "front", [line.name for line in zones.lines])
    corners = zones.bumper_corners
    how = "gauge" if corners.applies == "gauge" else "plane"
    plan.draw_pair(drawing, corners.chosen, f"bumper corner by the {how}", "front", "^")
    _draw_corners(drawing, zones, "front")
    plan.nothing_note(drawing, zones)
    drawing.finish()
    return ax


@look.styled
def bonnet_map(
    lined: LinedFront,
    zones: FrontZones,
    ax: Axes | None = None,
    *,
    size: tuple[float, float] = _SIZE,
) -> Axes:
    """Draw the bonnet unrolled: wrap-around distance against y, with areas and grid.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    zones : FrontZones
        Its zones.
    ax : matplotlib.axes.Axes, optional
        Where to draw; its place in the figure must be settled. A new figure when not given.
    size : tuple of float, optional
        Width and height of a new figure [in].

    Returns
    -------
    matplotlib.axes.Axes
        The Axes drawn on. Front of the vehicle on the left, its right at the top.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> ax = fc.bonnet_map(result, result.zones)
    """
    where = (
        "Unrolled along the taut tape, one scale: front on the left, the vehicle's right at the top"
    )
    drawing = _settled(ax, lined, "bonnet unrolled", where, size)
    _fit(drawing.ax, zones, "map", (0.5, 0.35, 0.9, 0.4))
    for area in (zones.child_area, zones.adult_area):
        plan.draw_area(drawing, area, zones, "map")
    marks = [line.name for line in zones.lines if line.name.startswith("WAD")]
    plan.draw_lines(drawing, zones, "map", ["BLERL", "BRRL", "SRL", *marks])
    plan.draw_grid(drawing, zones)
    _draw_corners(drawing, zones, "map")
    plan.nothing_note(drawing, zones)
    drawing.finish()
    return drawing.ax


def _draw_corners(drawing: look.Drawing, zones: FrontZones, view: View) -> None:
    reference = zones.corner_reference_points
    plan.draw_pair(drawing, reference, "corner reference point", view, "s")
    plan.draw_pair(drawing, zones.rear_corners, "rear corner", view, "D")


def _settled(
    ax: Axes | None, lined: LinedFront, what: str, where: str, size: tuple[float, float]
) -> look.Drawing:
    """A drawing on Axes with title, subtitle and caution."""
    title = f"{look.printable(lined.front.name, 60)}: {what}"
    if ax is not None:
        ax.set_title(title, loc="left", fontsize=look.TITLE - 2.0)
        look.caution_below(ax)
        return look.Drawing(ax)
    figure, (left, _, right, _) = look.new_figure(*size), _ROOM
    text = look.rules_words(lined.rules, 110)
    letters = int((size[0] - left - right) * _LETTERS_PER_INCH)
    look.head(figure, title, textwrap.fill(f"{text}.  {where}.", letters), left=left / size[0])
    look.foot(figure)
    faint = "" if "unrolled" in what else " Faint: measured stations."
    look.write(figure, left, 0.33, look.told("lines", faint=faint))
    return look.Drawing(look.axes_within(figure, *_ROOM))


def _fit(
    ax: Axes, zones: FrontZones, view: View, margins: tuple[float, float, float, float]
) -> None:
    """Limits round everything there is to show, at equal scale."""
    known = [plan.at_view(line.points, line.wad, view) for line in zones.lines if line.formed]
    points = np.concatenate(known) if known else np.array([[0.0, -800.0], [1500.0, 800.0]])
    points = points[~np.isnan(points).any(axis=1)]
    low, high = points.min(axis=0), points.max(axis=0)
    if view == "front":
        low[1] = 0.0
    look.fit_limits(ax, (low[0], low[1], high[0], high[1]), margins)
    across = "station y [mm], right positive"
    words = {
        "plan": ("setback x [mm]", across),
        "front": (across, "height z [mm]"),
        "map": ("wrap-around distance [mm]", across),
    }
    look.plain_axes(ax, *words[view])

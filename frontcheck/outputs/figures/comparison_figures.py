"""Figures of a comparison: side views overlaid, changes, leg zone pair, distances, plan view.

Every function hands back a figure, nothing is shown, and every
figure carries the caution line.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from frontcheck.lines.statuses import UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import overlay
from frontcheck.outputs.figures.change_panels import (
    SIZE,
    change_keys,
    draw_changes,
    draw_map,
    draw_plan,
    kept,
)
from frontcheck.outputs.figures.side_drawing import hollow_key
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.people.people import Person

_SIDE: Final = (0.045, 0.145, 0.645, 0.745)
_FACE: Final = (0.745, 0.145, 0.245, 0.725)
_WHOLE: Final = (0.045, 0.145, 0.945, 0.745)
_ROOMY: Final = 9.0
"""A figure less wide than this [in] has no room for labels in an enlarged face."""
_LEFT: Final = (0.045, 0.145, 0.46, 0.725)
_RIGHT: Final = (0.53, 0.145, 0.46, 0.725)
_MAP: Final = (0.075, 0.165, 0.81, 0.715)


@look.styled
def overlay_figure(comparison: Comparison, y: float, figure: Figure | None = None) -> Figure:
    """Return both side views of one station over each other, to scale.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    y : float
        Station [mm].
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure: the whole side view, and where there is room the face enlarged beside it.

    Raises
    ------
    KeyError
        If that station is not compared.

    Examples
    --------
    >>> import frontcheck as fc
    >>> a, b = (fc.screen(fc.read_front(f"geometries/{n}.csv")) for n in ("plover", "avocet"))
    >>> figure = fc.overlay_figure(fc.compare(a, b), y=0)
    """
    station = comparison.station(y)
    figure = figure or look.new_figure(*SIZE)
    roomy = figure.get_figwidth() > _ROOMY
    keys = overlay.draw_overlay(figure.add_axes(kept(figure, _SIDE if roomy else _WHOLE)), station)
    if roomy:
        overlay.draw_face(figure.add_axes(kept(figure, _FACE)), station)
    below = f"{comparison.alignment} To scale, front on the left. WAD: wrap-around distance."
    return _worded(figure, comparison, f"side views at station y = {y:g} mm", below, keys)


@look.styled
def changes_figure(comparison: Comparison, figure: Figure | None = None) -> Figure:
    """Return changes of heights, bumper lead and wrap-around points against the station.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure, all panels to one scale.

    Examples
    --------
    >>> import frontcheck as fc
    >>> a, b = (fc.screen(fc.read_front(f"geometries/{n}.csv")) for n in ("plover", "avocet"))
    >>> figure = fc.changes_figure(fc.compare(a, b))
    """
    figure = figure or look.new_figure(*SIZE)
    draw_changes(figure, comparison)
    changes = [change for each in comparison.stations for change in each.lines]
    keys = change_keys(changes, sure=bool(comparison.draws))
    below = f"B minus A, all panels to one scale. {comparison.alignment}"
    return _worded(figure, comparison, "changes across the front", below, keys)


@look.styled
def leg_figure(
    comparison: Comparison,
    y: float,
    people: Sequence[Person] | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Return what both fronts show an upright leg, side by side to the same scale.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    y : float
        Station [mm].
    people : sequence of Person, optional
        People whose knees are shown; those of the comparison when not given.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Raises
    ------
    KeyError
        If that station is not compared.

    Examples
    --------
    >>> import frontcheck as fc
    >>> a, b = (fc.screen(fc.read_front(f"geometries/{n}.csv")) for n in ("plover", "avocet"))
    >>> figure = fc.leg_overlay_figure(fc.compare(a, b), y=0)
    """
    station = comparison.station(y)
    if people is None:
        settings = comparison.a.finding_settings
        known = (*PEOPLE, *(settings.people if settings is not None else ()))
        people = list({p.name: p for p in known if p.name in comparison.people}.values())
    figure = figure or look.new_figure(*SIZE)
    for front, screening, place in (("A", comparison.a, _LEFT), ("B", comparison.b, _RIGHT)):
        ax = figure.add_axes(kept(figure, place))
        overlay.draw_leg(ax, station, front, people, name_people=front == "A")
        title = f"{front}: {look.printable(screening.front.name, 50)}"
        ax.set_title(title, loc="left", fontsize=look.TEXT + 1.0, fontweight="bold")
    return _worded(figure, comparison, f"leg zone at station y = {y:g} mm", look.told("leg_pair"))


@look.styled
def distance_figure(comparison: Comparison, figure: Figure | None = None) -> Figure:
    """Return the signed distance between the contours along A's contour, by station.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Examples
    --------
    >>> import frontcheck as fc
    >>> a, b = (fc.screen(fc.read_front(f"geometries/{n}.csv")) for n in ("plover", "avocet"))
    >>> figure = fc.distance_figure(fc.compare(a, b))
    """
    from matplotlib.patches import Patch

    figure = figure or look.new_figure(*SIZE)
    draw_map(figure.add_axes(kept(figure, _MAP)), comparison)
    below = look.told("distances", alignment=comparison.alignment)
    outside = Patch(facecolor=overlay.OUTSIDE, label="B stands outside A")
    inside = Patch(facecolor=overlay.INSIDE, hatch="////", edgecolor=look.MUTED)
    inside.set_label("B stands inside A")
    keys: list[Artist] = [outside, inside]
    for name, stroke in look.LINE_STYLES.items():
        keys.append(look.key(f"{name} of A", **look.dots(stroke.marker, 6.0, stroke.color)))
    sides = [station.matched.a.station for station in comparison.stations]
    if any(line.status in UNSURE for side in sides for line in side.lines):
        keys.append(hollow_key())
    return _worded(figure, comparison, "distance between the contours", below, keys)


@look.styled
def plan_figure(comparison: Comparison, figure: Figure | None = None) -> Figure | None:
    """Return the outlines of both surfaces in plan view.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure or None
        The figure; None where either front makes no surface.

    Examples
    --------
    >>> import frontcheck as fc
    >>> a, b = (fc.screen(fc.read_front(f"geometries/{n}.csv")) for n in ("plover", "avocet"))
    >>> figure = fc.outline_figure(fc.compare(a, b))
    """
    if not comparison.surface.rows:
        return None
    both = comparison.a.front.symmetric and comparison.b.front.symmetric
    figure = figure or look.new_figure(*SIZE)
    draw_plan(figure, comparison.surface, symmetric=both)
    mirrored = " The left half is the mirror image of the right." * both
    below = look.told("outlines", mirrored=mirrored, alignment=comparison.alignment)
    return _worded(figure, comparison, "outlines in plan view", below, overlay.front_keys())


def _worded(
    figure: Figure, comparison: Comparison, what: str, below: str, keys: Sequence[Artist] = ()
) -> Figure:
    """Write title, explanation, legend and caution on a figure."""
    a, b = (look.printable(s.front.name, 32) for s in (comparison.a, comparison.b))
    text = look.printable(f"Rule set {comparison.a.rules.id}. {below}", 230)
    words = textwrap.fill(text, int(13.6 * figure.get_figwidth()))
    look.head(figure, f"A: {a}, B: {b}: {what}", words, left=kept(figure, _SIDE)[0], top=0.18)
    if keys:
        at = (0.52 / figure.get_figwidth(), 0.64 / figure.get_figheight())
        look.legend(figure, keys, *at, ncols=8, handlelength=3.0, columnspacing=1.8)
    look.foot(figure)
    return figure

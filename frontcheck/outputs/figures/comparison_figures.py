"""Figures of a comparison: side views overlaid, changes, leg zone pair, distances, plan view.

Every function hands back a figure, nothing is shown, and every
figure carries the caution line.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

from frontcheck.lines.statuses import UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.change_panels import SIZE, draw_changes, draw_map, draw_plan, kept
from frontcheck.outputs.figures.overlay import (
    INSIDE,
    OUTSIDE,
    draw_face,
    draw_leg,
    draw_overlay,
    front_keys,
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
_LEFT: Final = (0.045, 0.145, 0.46, 0.725)
_RIGHT: Final = (0.53, 0.145, 0.46, 0.725)
_MAP: Final = (0.075, 0.165, 0.81, 0.715)


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
        The figure: the whole side view, and the face enlarged beside it.

    Raises
    ------
    KeyError
        If that station is not compared.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> figure = fc.overlay_figure(both, y=0)
    """
    station = comparison.station(y)
    with look.house_style():
        figure = figure or look.new_figure(*SIZE)
        keys = draw_overlay(figure.add_axes(kept(figure, _SIDE)), station)
        draw_face(figure.add_axes(kept(figure, _FACE)), station)
        below = f"{comparison.alignment} To scale, front on the left. WAD: wrap-around distance."
        _head(figure, comparison, f"side views at station y = {y:g} mm", below)
        _legend(figure, keys)
        look.foot(figure)
    return figure


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
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> figure = fc.changes_figure(both)
    """
    from matplotlib.lines import Line2D

    with look.house_style():
        figure = figure or look.new_figure(*SIZE)
        draw_changes(figure, comparison)
        _head(figure, comparison, "changes across the front",
              f"B minus A, all panels to one scale. {comparison.alignment}")  # fmt: skip
        ink: dict[str, Any] = {"color": look.INK, "markeredgewidth": 1.2, "linestyle": "none"}
        keys: list[Artist] = [
            Line2D([], [], marker="D", label="change", **ink),
            Line2D([], [], marker="D", markerfacecolor="#a9b4bd",
                   label="line formed in another way in B", **ink),
            Line2D([], [], marker="x", markeredgecolor=look.FACE, markeredgewidth=1.4,
                   linestyle="none", label="not comparable"),
        ]  # fmt: skip
        if any(change.open_end for each in comparison.stations for change in each.lines):
            keys.append(
                Line2D([], [], marker="o", linestyle="none", markerfacecolor=look.PAPER,
                       markeredgecolor=look.FACE, markeredgewidth=1.4, label="not known: open end")
            )  # fmt: skip
        if comparison.draws:
            keys.append(Line2D([], [], color=look.INK, linewidth=1.0,
                               label="plus and minus two standard uncertainties"))  # fmt: skip
        _legend(figure, keys)
        look.foot(figure)
    return figure


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
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> figure = fc.leg_overlay_figure(both, y=0)
    """
    station = comparison.station(y)
    if people is None:
        settings = comparison.a.finding_settings
        known = (*PEOPLE, *(settings.people if settings is not None else ()))
        people = list({p.name: p for p in known if p.name in comparison.people}.values())
    with look.house_style():
        figure = figure or look.new_figure(*SIZE)
        for front, place in (("A", _LEFT), ("B", _RIGHT)):
            ax = figure.add_axes(kept(figure, place))
            draw_leg(ax, station, front, people, name_people=front == "A")
            screening = comparison.a if front == "A" else comparison.b
            ax.set_title(f"{front}: {look.printable(screening.front.name, 50)}", loc="left",
                         fontsize=look.TEXT + 1.0, fontweight="bold")  # fmt: skip
        _head(figure, comparison, f"leg zone at station y = {y:g} mm",
              "An upright leg (dashed) at first touch; tinted: heights of the knees of the people "
              "chosen. Both panels to the same scale.")  # fmt: skip
        look.foot(figure)
    return figure


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
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> figure = fc.distance_figure(both)
    """
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    with look.house_style():
        figure = figure or look.new_figure(*SIZE)
        draw_map(figure.add_axes(kept(figure, _MAP)), comparison)
        _head(figure, comparison, "distance between the contours",
              f"To the nearest place of B, from places along A. {comparison.alignment} At the "
              "right: largest either way.")  # fmt: skip
        keys: list[Artist] = [
            Patch(facecolor=OUTSIDE, label="B stands outside A"),
            Patch(facecolor=INSIDE, hatch="////", edgecolor=look.MUTED, label="B stands inside A"),
        ]
        for name, stroke in look.LINE_STYLES.items():
            keys.append(
                Line2D([], [], linestyle="none", marker=stroke.marker, markerfacecolor=stroke.color,
                       markeredgecolor=stroke.color, markeredgewidth=1.2, label=f"{name} of A")
            )  # fmt: skip
        sides = [station.matched.a.station for station in comparison.stations]
        if any(line.status in UNSURE for side in sides for line in side.lines):
            keys.append(hollow_key())
        _legend(figure, keys)
        look.foot(figure)
    return figure


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
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> figure = fc.outline_figure(both)
    """
    overlay = comparison.surface
    if not overlay.rows:
        return None
    both = comparison.a.front.symmetric and comparison.b.front.symmetric
    with look.house_style():
        figure = figure or look.new_figure(*SIZE)
        draw_plan(figure, overlay, symmetric=both)
        _head(figure, comparison, "outlines in plan view",
              "Foremost setback at five heights, front of the vehicle at the top; not to scale."
              + " The left half is the mirror image of the right." * both
              + f" {comparison.alignment}")  # fmt: skip
        _legend(figure, front_keys())
        look.foot(figure)
    return figure


def _head(figure: Figure, comparison: Comparison, what: str, below: str) -> None:
    a, b = (look.printable(s.front.name, 32) for s in (comparison.a, comparison.b))
    text = look.printable(f"Rule set {comparison.a.rules.id}. {below}", 230)
    title = f"A: {a}, B: {b}: {what}"
    letters = int(13.6 * figure.get_figwidth())
    look.head(figure, title, textwrap.fill(text, letters), left=kept(figure, _SIDE)[0], top=0.18)


def _legend(figure: Figure, keys: Sequence[Artist]) -> None:
    at = (0.52 / figure.get_figwidth(), 0.64 / figure.get_figheight())
    figure.legend(
        handles=list(keys), loc="upper left", bbox_to_anchor=at, ncols=8, frameon=False,
        fontsize=look.TEXT, handlelength=3.0, columnspacing=1.8, borderaxespad=0.0,
    )  # fmt: skip

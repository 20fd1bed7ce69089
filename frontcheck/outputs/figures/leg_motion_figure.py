"""The leg motion figure: a legform that flies into one front or two, over time and in sticks."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.caution import LEG_CAUTION
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.overlay import STROKES
from frontcheck.outputs.figures.side_drawing import millimetres

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.legs.dynamics import LegRun
    from frontcheck.legs.leg_order import Order
    from frontcheck.surface.section import Section

# Small stick drawings of the two-link legform against a contour, one a moment.

_PRESSED: Final = "#c2571a"
_LINK: Final = {"femur": look.Stroke(look.INK, 2.6), "tibia": look.Stroke("#6c7681", 2.6)}
_CONTOUR: Final = look.Stroke(look.INK, 1.2)
_START: Final = look.Stroke(look.MUTED, 0.7, (4.0, 3.0))
_HEAD: Final = 0.048
"""Height above a row for the name and the times, in parts of the figure."""
_GAP: Final = 0.022
_MOST_HEIGHT: Final = 0.45
_LEVELS: Final = 600


def step_at(run: LegRun, moment: float) -> int | None:
    """Return which output step of a run is nearest to a moment."""
    if not run.usable or moment > run.time[-1] + 0.5 * run.settings.step_ms:
        return None
    return int(np.argmin(np.abs(run.time - moment)))


def draw_sticks(
    figure: Figure,
    room: tuple[float, float, float, float],
    names: Sequence[str],
    sections: Sequence[Section],
    runs: Sequence[LegRun],
    moments: Sequence[float],
) -> None:
    """Draw a row of small drawings for each front, all to one scale."""
    left, bottom, width, height = room
    row = height / len(runs)
    tall = min(row - _HEAD - _GAP, _MOST_HEIGHT)
    wide = width / len(moments)
    box = _box(runs, moments)
    for i, (name, section, run) in enumerate(zip(names, sections, runs, strict=True)):
        top = bottom + height - i * row
        figure.text(
            left, top, f"{name}: femur dark, tibia grey; skin pressed in shaded; to scale",
            fontsize=look.TEXT, va="top", gid="row",
        )  # fmt: skip
        for j, moment in enumerate(moments):
            ax = figure.add_axes((left + j * wide, top - _HEAD - tall, 0.96 * wide, tall))
            ax.set_axis_off()
            x0, x1 = (run.touch_x + x for x in box[:2])
            look.fit_limits(ax, (x0, 0.0, x1, box[2]), (0.02, 0.06, 0.02, 0.02))
            ax.set_title(f"{moment:g} ms", fontsize=look.SMALL, pad=3.0)
            _draw_moment(ax, section, run, step_at(run, moment))


def _box(runs: Sequence[LegRun], moments: Sequence[float]) -> tuple[float, float, float]:
    """Least and greatest setback from first contact, and greatest height, that hold all links."""
    low, high, top = -60.0, 160.0, 0.0
    for run in runs:
        top = max(top, run.legform.high_mm + 30.0)
        for moment in moments:
            step = step_at(run, moment)
            if step is not None:
                x = np.concatenate(run.leg_at(step))[:, 0] - run.touch_x
                low, high = min(low, float(x.min()) - 15.0), max(high, float(x.max()) + 15.0)
    return low, high, top


def _draw_moment(ax: Axes, section: Section, run: LegRun, step: int | None) -> None:
    from matplotlib.lines import Line2D

    x0, x1 = ax.get_xlim()
    ax.add_line(Line2D([x0, x1], [0.0, 0.0], color=look.GROUND, linewidth=1.2, zorder=1.0))
    ax.add_line(Line2D(*section.points.T, zorder=3.0, gid="contour", **_CONTOUR.options()))
    if step is None:
        words = f"ended at\n{run.time[-1]:.1f} ms" if run.usable else "not\ndrawn"
        ax.text(
            0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center",
            fontsize=look.SMALL, zorder=6.0,
            bbox={"facecolor": look.PAPER, "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
        return
    form = run.legform
    ax.add_line(
        Line2D([run.touch_x] * 2, [form.low_mm, form.high_mm], zorder=2.0, **_START.options())
    )
    femur, tibia = run.leg_at(step)
    _shade(ax, section, femur, tibia)
    for name, link in (("femur", femur), ("tibia", tibia)):
        ax.add_line(Line2D(*link.T, zorder=5.0, gid=f"{name} link", **_LINK[name].options()))
    ax.add_line(
        Line2D(
            [0.5 * (femur[0, 0] + tibia[0, 0])], [form.knee_height_mm], marker="o",
            markersize=4.5, markerfacecolor=look.PAPER, markeredgecolor=look.INK,
            markeredgewidth=1.2, linestyle="none", zorder=6.0,
        )
    )  # fmt: skip


def _shade(
    ax: Axes, section: Section, femur: NDArray[np.float64], tibia: NDArray[np.float64]
) -> None:
    """Where a link stands behind the skin as it was."""
    for link in (femur, tibia):
        low, high = link[:, 1].min(), link[:, 1].max()
        heights = np.linspace(low, high, _LEVELS)
        seen = np.ma.filled(section.setback_at(heights), np.inf)
        order = np.argsort(link[:, 1])
        at = np.interp(heights, link[order, 1], link[order, 0])
        pressed = seen < at
        if pressed.any():
            ax.fill_betweenx(
                heights, np.where(pressed, seen, at), at, where=pressed, color=_PRESSED,
                alpha=0.8, linewidth=0.0, zorder=2.5,
            )  # fmt: skip


_SIZE: Final = (11.7, 8.3)
_LEFT: Final = 0.055
_CURVES: Final = (0.615, 0.36, 0.105)
_CURVE_SIZE: Final = (0.37, 0.19)
_STICKS: Final = (0.475, 0.215, 0.515, 0.655)
"""Room for the stick drawings: left, bottom, width, height, in parts of the figure."""
_SHARES_OF_RUN: Final = (0.0, 0.2, 0.4, 0.6, 0.8)
"""Moments drawn, as shares of the time that a run is followed."""
_TEXT_TOP: Final = {1: 0.335, 2: 0.2}
"""By number of fronts: the statements stand below the sticks."""
_TEXT_WIDTH: Final = 104
_NAME, _KEY = 14, 14
"""Longest names in texts and in the legend."""
_RULES: Final = look.Stroke(look.MUTED, 0.6, (1.0, 2.0))


def _tibia(run: LegRun) -> NDArray[np.float64] | None:
    """Bending of the tibia where it is bent most."""
    if not run.tibia_bending.size:
        return None
    most: NDArray[np.float64] = run.tibia_bending[:, np.abs(run.tibia_bending).max(axis=0).argmax()]
    return most


_QUANTITIES: Final[tuple[tuple[str, Callable[[LegRun], NDArray[np.float64] | None]], ...]] = (
    ("Knee angle: positive where the knee opens", lambda run: run.knee_angle),
    ("Knee shear: positive where the tibia's end is pushed farther", lambda run: run.knee_shear),
    ("Tibia bending, where it bends most: not ranked", _tibia),
)


def leg_motion_figure(
    names: Sequence[str],
    sections: Sequence[Section],
    runs: Sequence[LegRun],
    order: Order | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw what a legform does at one station of one front or two.

    Parameters
    ----------
    names : sequence of str
        What to call the fronts.
    sections : sequence of Section
        Their sections at the station.
    runs : sequence of LegRun
        The runs, made under the same assumptions.
    order : Order, optional
        Which of two opens the knee less, over draws of stiffness.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        Knee angle, knee shear and bending of the tibia over time, as shares of the peak of the
        first front, that one unbroken and the second dashed; the legform against the contour at
        five moments; the order of two fronts; statuses and balances. A run out of balance is told
        and not drawn.

    Raises
    ------
    ValueError
        If there are not one or two runs with a section and a name each, or two were made under
        different assumptions.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> at = fc.leg([result], fc.PEOPLE[0]).stations[0].fronts[0]
    >>> figure = fc.leg_motion_figure([at.name], [at.section], [at.run])
    """
    if not len(names) == len(sections) == len(runs) or len(runs) not in (1, 2):
        raise ValueError("one run or two, with a section and a name each")
    settings = runs[0].settings
    if any(run.settings != settings for run in runs):
        raise ValueError("two runs can only be drawn together when made under the same assumptions")
    with look.house_style():
        names = [look.printable(name, _NAME) for name in names]
        lines = _statements(names, runs, order)
        figure = figure or look.new_figure(*_SIZE)
        moments = tuple(share * settings.duration_ms for share in _SHARES_OF_RUN)
        known = [each for each in _QUANTITIES if each[1](runs[0]) is not None]
        for i, (bottom, (title, values)) in enumerate(zip(_CURVES, known, strict=False)):
            ax = figure.add_axes((_LEFT, bottom, *_CURVE_SIZE))
            _draw_curves(ax, runs, values, moments)
            ax.set_title(title, fontsize=look.TEXT + 0.5, loc="left")
            ax.set_ylabel(f"of {look.printable(names[0], _KEY)}'s peak")
            if i == len(known) - 1:
                ax.set_xlabel("time after first contact [ms]")
        _legend(figure, names)
        draw_sticks(figure, _STICKS, names, sections, runs, moments)
        _head(figure, names, runs)
        figure.text(
            _STICKS[0], _TEXT_TOP[len(runs)], "\n".join(lines), fontsize=look.SMALL, va="top",
            linespacing=1.3, gid="statements",
        )  # fmt: skip
        look.foot(figure)
    return figure


def status_sentence(run: LegRun) -> str:
    """Return how a run ended, in words."""
    if run.status == "ok":
        return f"followed for {run.time[-1]:g} ms"
    head = "ended early" if run.usable else "not drawn"
    return f"{head}: {run.reason}"


def balance_sentence(run: LegRun) -> str:
    """Return how well energy and momentum of a run are in balance, in words."""
    return f"largest imbalance of energy {run.energy_error:.1e} of the start"


def _head(figure: Figure, names: Sequence[str], runs: Sequence[LegRun]) -> None:
    figure.text(
        _LEFT, 0.975, LEG_CAUTION, fontsize=look.TITLE - 1.0, fontweight="bold", va="top",
        gid="leg caution",
    )  # fmt: skip
    figure.text(
        _LEFT, 0.941,
        f"{' and '.join(names)}: {runs[0].legform.name} at station {millimetres(runs[0].y)}",
        fontsize=look.TITLE - 1.0, va="top", gid="title",
    )  # fmt: skip
    words = textwrap.fill(f"Assumed, not measured: {runs[0].settings.words}.", 165)
    figure.text(
        _LEFT, 0.91, words, fontsize=look.TEXT, va="top", color=look.MUTED, linespacing=1.3,
        gid="assumptions",
    )  # fmt: skip


def _legend(figure: Figure, names: Sequence[str]) -> None:
    from matplotlib.lines import Line2D

    keys = [
        Line2D([], [], label=look.printable(name, _KEY), **stroke.options())
        for name, stroke in zip(names, STROKES.values(), strict=False)
    ]
    figure.legend(
        handles=keys, loc="upper left", bbox_to_anchor=(_LEFT - 0.008, 0.868), ncols=2,
        frameon=False, fontsize=look.TEXT + 0.5, handlelength=3.6, borderaxespad=0.0,
    )  # fmt: skip


def _draw_curves(
    ax: Axes,
    runs: Sequence[LegRun],
    values: Callable[[LegRun], NDArray[np.float64] | None],
    moments: Sequence[float],
) -> None:
    from matplotlib.lines import Line2D

    duration = runs[0].settings.duration_ms
    ax.set_xlim(0.0, duration)
    ax.axhline(0.0, color=look.MUTED, linewidth=0.8, zorder=1.0)
    for moment in moments[1:]:
        ax.axvline(moment, zorder=1.0, **_RULES.options())
    low = high = 0.0
    peak = 0.0  # of the first that is drawn: absolute values mean nothing
    for run, stroke in zip(runs, STROKES.values(), strict=False):
        held = values(run)
        if not run.usable or held is None:
            continue
        peak = peak or float(np.abs(held).max()) or 1.0
        curve = held / peak
        ax.add_line(Line2D(run.time, curve, zorder=4.0, gid="curve", **stroke.options()))
        if run.status != "ok":
            ax.add_line(
                Line2D(
                    run.time[-1:], curve[-1:], marker="x", markersize=7.0, markeredgewidth=1.8,
                    color=stroke.color, zorder=5.0, gid="end of run",
                )
            )  # fmt: skip
        low, high = min(low, float(curve.min())), max(high, float(curve.max()))
    room = 0.08 * (high - low) or 1.0
    ax.set_ylim(low - room, high + room)
    look.plain_axes(ax)


def _statements(names: Sequence[str], runs: Sequence[LegRun], order: Order | None) -> list[str]:
    """What is said below the sticks: the order of two, statuses and balances."""
    said = [order.sentence] if order is not None else []
    for name, run in zip(names, runs, strict=True):
        balance = f"; {balance_sentence(run)}" if run.usable else ""
        said.append(f"{name}: {status_sentence(run)}{balance}.")
    return [line for text in said for line in textwrap.wrap(text, _TEXT_WIDTH)]

"""The leg motion figure: a legform that flies into one front or two, over time and in sticks."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import LEG_CAUTION
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.overlay import STROKES
from frontcheck.outputs.figures.side_drawing import millimetres

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.geometry.arrays import Array
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
    row, wide = height / len(runs), width / len(moments)
    tall = min(row - _HEAD - _GAP, _MOST_HEIGHT)
    low, high, top = _box(runs, moments)
    for i, (name, section, run) in enumerate(zip(names, sections, runs, strict=True)):
        up = bottom + height - i * row
        words = f"{name}: femur dark, tibia grey; skin pressed in shaded; to scale"
        figure.text(left, up, words, fontsize=look.TEXT, va="top", gid="row")
        for j, moment in enumerate(moments):
            ax = figure.add_axes((left + j * wide, up - _HEAD - tall, 0.96 * wide, tall))
            ax.set_axis_off()
            box = (run.touch_x + low, 0.0, run.touch_x + high, top)
            look.fit_limits(ax, box, (0.02, 0.06, 0.02, 0.02))
            ax.set_title(f"{moment:g} ms", fontsize=look.SMALL, pad=3.0)
            _draw_moment(ax, section, run, step_at(run, moment))


def _box(runs: Sequence[LegRun], moments: Sequence[float]) -> tuple[float, float, float]:
    """Least and greatest setback from first contact, and greatest height, that hold all links."""
    top = max(0.0, *(run.legform.high_mm + 30.0 for run in runs))
    reached = [
        np.concatenate(run.leg_at(step))[:, 0] - run.touch_x
        for run in runs
        for moment in moments
        if (step := step_at(run, moment)) is not None
    ]
    low = min([-60.0, *(float(x.min()) - 15.0 for x in reached)])
    return low, max([160.0, *(float(x.max()) + 15.0 for x in reached)]), top


def _draw_moment(ax: Axes, section: Section, run: LegRun, step: int | None) -> None:
    ax.plot(ax.get_xlim(), (0.0, 0.0), color=look.GROUND, linewidth=1.2, zorder=1.0)
    ax.plot(*section.points.T, zorder=3.0, gid="contour", **_CONTOUR.options())
    if step is None:
        words = f"ended at\n{run.time[-1]:.1f} ms" if run.usable else "not\ndrawn"
        ax.text(
            0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center",
            fontsize=look.SMALL, zorder=6.0,
            bbox={"facecolor": look.PAPER, "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
        return
    form, links = run.legform, dict(zip(_LINK, run.leg_at(step), strict=True))
    ends = (form.low_mm, form.high_mm)
    ax.plot([run.touch_x] * 2, ends, zorder=2.0, **_START.options())
    for link in links.values():
        _shade(ax, section, link)
    for name, link in links.items():
        ax.plot(*link.T, zorder=5.0, gid=f"{name} link", **_LINK[name].options())
    middle = 0.5 * (links["femur"][0, 0] + links["tibia"][0, 0])
    knee = look.dots("o", 4.5, look.PAPER, look.INK)
    ax.plot([middle], [form.knee_height_mm], zorder=6.0, **knee)


def _shade(ax: Axes, section: Section, link: Array) -> None:
    """Where a link stands behind the skin as it was."""
    heights = np.linspace(link[:, 1].min(), link[:, 1].max(), _LEVELS)
    seen = np.ma.filled(section.setback_at(heights), np.inf)
    order = np.argsort(link[:, 1])
    at = np.interp(heights, link[order, 1], link[order, 0])
    pressed = seen < at
    if pressed.any():
        ax.fill_betweenx(
            heights, np.where(pressed, seen, at), at, where=pressed, color=_PRESSED, alpha=0.8,
            linewidth=0.0, zorder=2.5,
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
_NAME: Final = 14
"""Longest name of a front."""
_RULES: Final = look.Stroke(look.MUTED, 0.6, (1.0, 2.0))


def _tibia(run: LegRun) -> Array | None:
    """Bending of the tibia where it is bent most."""
    if not run.tibia_bending.size:
        return None
    most: Array = run.tibia_bending[:, np.abs(run.tibia_bending).max(axis=0).argmax()]
    return most


_QUANTITIES: Final[tuple[tuple[str, Callable[[LegRun], Array | None]], ...]] = (
    ("Knee angle: positive where the knee opens", lambda run: run.knee_angle),
    ("Knee shear: positive where the tibia's end is pushed farther", lambda run: run.knee_shear),
    ("Tibia bending, where it bends most: not ranked", _tibia),
)


@look.styled
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
    names = [look.printable(name, _NAME) for name in names]
    figure = figure or look.new_figure(*_SIZE)
    moments = tuple(share * settings.duration_ms for share in _SHARES_OF_RUN)
    known = [each for each in _QUANTITIES if each[1](runs[0]) is not None]
    for bottom, (title, values) in zip(_CURVES, known, strict=False):
        ax = figure.add_axes((_LEFT, bottom, *_CURVE_SIZE))
        _draw_curves(ax, runs, values, moments)
        ax.set_title(title, fontsize=look.TEXT + 0.5, loc="left")
        ax.set_ylabel(f"of {names[0]}'s peak")
        if title == known[-1][0]:
            ax.set_xlabel("time after first contact [ms]")
    keys = [
        look.key(name, **stroke.options())
        for name, stroke in zip(names, STROKES.values(), strict=False)
    ]
    size = look.TEXT + 0.5
    look.legend(figure, keys, _LEFT - 0.008, 0.868, ncols=2, fontsize=size, handlelength=3.6)
    draw_sticks(figure, _STICKS, names, sections, runs, moments)
    form = f"{' and '.join(names)}: {runs[0].legform.name} at station {millimetres(runs[0].y)}"
    assumed = textwrap.fill(f"Assumed, not measured: {settings.words}.", 165)
    said = "\n".join(_statements(names, runs, order))
    large: dict[str, Any] = {"fontsize": look.TITLE - 1.0}
    muted: dict[str, Any] = {"color": look.MUTED, "fontsize": look.TEXT, "linespacing": 1.3}
    for x, y, text, gid, style in (
        (_LEFT, 0.975, LEG_CAUTION, "leg caution", large | {"fontweight": "bold"}),
        (_LEFT, 0.941, form, "title", large),
        (_LEFT, 0.91, assumed, "assumptions", muted),
        (_STICKS[0], _TEXT_TOP[len(runs)], said, "statements",
         muted | {"color": look.INK, "fontsize": look.SMALL}),
    ):  # fmt: skip
        figure.text(x, y, text, va="top", gid=gid, **style)
    look.foot(figure)
    return figure


def _draw_curves(
    ax: Axes,
    runs: Sequence[LegRun],
    values: Callable[[LegRun], Array | None],
    moments: Sequence[float],
) -> None:
    duration = runs[0].settings.duration_ms
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
        ax.plot(run.time, curve, zorder=4.0, gid="curve", **stroke.options())
        if run.status != "ok":
            end = look.dots("x", 7.0, stroke.color, width=1.8)
            ax.plot(run.time[-1:], curve[-1:], zorder=5.0, gid="end of run", **end)
        low, high = min(low, float(curve.min())), max(high, float(curve.max()))
    room = 0.08 * (high - low) or 1.0
    ax.set(xlim=(0.0, duration), ylim=(low - room, high + room))
    look.plain_axes(ax)


def _statements(names: Sequence[str], runs: Sequence[LegRun], order: Order | None) -> list[str]:
    """What is said below the sticks: the order of two, statuses and balances."""
    said = [order.sentence] if order is not None else []
    for name, run in zip(names, runs, strict=True):
        words = f"followed for {run.time[-1]:g} ms"
        if run.status != "ok":
            words = f"{'ended early' if run.usable else 'not drawn'}: {run.reason}"
        if run.usable:
            words += f"; largest imbalance of energy {run.energy_error:.1e} of the start"
        said.append(f"{name}: {words}.")
    return [line for text in said for line in textwrap.wrap(text, _TEXT_WIDTH)]

"""Small stick drawings of the two-link legform against a contour, one a moment."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.drawing import fit_limits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.legs.dynamics import LegRun
    from frontcheck.surface.section import Section

__all__ = ["draw_sticks", "step_at"]

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
            fit_limits(ax, (x0, 0.0, x1, box[2]), (0.02, 0.06, 0.02, 0.02))
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
        low, high = sorted(link[:, 1])
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

"""How sure a line is, drawn into the figures of a screening: bands and bars of 95 % intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import style as look

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.lines import Line2D
    from numpy.typing import NDArray

    from frontcheck.outputs.figures.drawing import Drawing
    from frontcheck.outputs.figures.style import Stroke
    from frontcheck.sure.spread import Spread
    from frontcheck.sure.tolerance_result import StationTolerance, Tolerance

__all__ = ["BAND_WORDS", "band_ends", "bar_key", "draw_band", "draw_bars"]

BAND_WORDS: Final = (
    "Shaded: 95 % interval of {draws:,} draws of the measurement (seed {seed}), known at the "
    "stations and drawn straight between them."
)
"""What a band is, for the foot of a figure."""

_FILL: Final = 0.24
_BAR: Final = look.Stroke(look.SPREAD, 1.7)
_HALO: Final = look.Stroke(look.PAPER, 3.4)
_ABOVE_DOTS: Final = 8.4
_MIRRORED: Final = 0.35
_CAP_PT: Final = 5.0


def band_ends(
    tolerance: Tolerance, stations: Sequence[float], name: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the ends of the intervals of one height, or of the bumper lead, along a front."""
    ends = []
    for y in stations:
        here = tolerance.station(y)
        spread = here.bumper_lead if name == "lead" else here.line(name).z
        ends.append((np.nan, np.nan) if spread is None else (spread.low, spread.high))
    low, high = np.array(ends, dtype=np.float64).T
    return low, high


def draw_band(
    drawing: Drawing,
    across: NDArray[np.float64],
    ends: tuple[NDArray[np.float64], NDArray[np.float64]],
    stroke: Stroke,
    name: str,
    *,
    mirrored: bool,
) -> None:
    """Shade between the ends of intervals, and draw each interval where it is known."""
    low, high = ends
    known = ~np.isnan(low)
    for sign, part in ((1.0, 1.0), (-1.0, _MIRRORED))[: 2 if mirrored else 1]:
        y = sign * across
        drawing.ax.fill_between(
            y, low, high, where=known.tolist(), facecolor=stroke.color, alpha=_FILL * part,
            linewidth=0.0, zorder=1.0, gid=f"band {name}",
        )  # fmt: skip
        thin = look.Stroke(stroke.color if part == 1.0 else _pale(stroke.color), 0.9)
        for at, a, b in zip(y[known], low[known], high[known], strict=True):
            drawing.line([(at, a), (at, b)], thin, zorder=2.8, gid=f"interval {name}")
        for edge in (low, high):
            path = np.stack([y[known], edge[known]], axis=-1)
            if len(path) > 1:
                drawing.avoid(path)


def draw_bars(
    drawing: Drawing,
    sure: StationTolerance,
    window: tuple[float, float, float, float] | None = None,
) -> None:
    """Draw the intervals of height and setback through every line point of a station."""
    for line in sure.lines:
        if line.x is None or line.z is None:
            continue
        at = (_middle(line.x), _middle(line.z))
        if window is not None and not (
            window[0] < at[0] < window[2] and window[1] < at[1] < window[3]
        ):
            continue
        for axis, spread in (("x", line.x), ("z", line.z)):
            bar = _bar(axis, spread, at)
            drawing.line(bar, _HALO, zorder=_ABOVE_DOTS, avoid=False)
            drawing.line(bar, _BAR, zorder=_ABOVE_DOTS + 0.1, gid=f"interval {line.name} {axis}")


def bar_key() -> Line2D:
    """Return the legend key of `draw_bars`."""
    from matplotlib.lines import Line2D

    return Line2D(
        [], [], linestyle="none", marker="+", markersize=2.0 * _CAP_PT,
        markeredgecolor=look.SPREAD, markeredgewidth=_BAR.width, label="95 % interval, x and z",
    )  # fmt: skip


def _middle(spread: Spread) -> float:
    return spread.median if spread.nominal is None else spread.nominal


def _bar(axis: str, spread: Spread, at: tuple[float, float]) -> list[tuple[float, float]]:
    if axis == "x":
        return [(spread.low, at[1]), (spread.high, at[1])]
    return [(at[0], spread.low), (at[0], spread.high)]


def _pale(color: str) -> str:
    """The colour as it looks on paper at the opacity of a mirror image."""
    from matplotlib.colors import to_hex, to_rgb

    red, green, blue = (_MIRRORED * c + 1.0 - _MIRRORED for c in to_rgb(color))
    return to_hex((red, green, blue))

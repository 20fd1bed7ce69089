"""One page for a whole front: heights, bumper lead and plan traces against the station."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_drawing import HOLLOW_WORDS, LINE_NAMES, millimetres
from frontcheck.outputs.figures.tolerance_figure import BAND_WORDS, band_ends, draw_band

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.screening import Screening
    from frontcheck.sure.tolerance_result import Tolerance

_ROOM: Final = (0.7, 1.19, 0.14, 1.0)
"""Room for words left, below, right and above the panels [in]."""
_BETWEEN: Final = (1.75, 0.49)
"""The same beside and between the two on the left [in]."""
_MIRRORED: Final = 0.35
"""Opacity of what is mirrored, not measured."""

_PLAN_TITLE: Final = (
    "Plan view to scale, front of the vehicle at the top\n(WAD: wrap-around distance)"
)
_NO_PLAN: Final = (
    "No plan view: setbacks were taken from a datum set anew at each station (datum: local), "
    "so it is not known how the sections stand to one another."
)


def draw_overview(figure: Figure, screening: Screening, tolerance: Tolerance | None = None) -> None:
    """Draw the three panels."""
    y = np.array([station.y for station in screening.stations])
    reach = max(float(np.abs(y).max()), 100.0) * 1.08
    mirrored = screening.front.symmetric and bool((y != 0.0).any())
    if mirrored:
        low, high = -reach, reach
    else:
        spread = max(0.08 * float(np.ptp(y)), 100.0 - 0.5 * float(np.ptp(y)))
        low, high = float(y.min()) - spread, float(y.max()) + spread
    heights, lead, plan = _panels(figure)
    _draw_heights(heights, screening, y, (low, high), mirrored, tolerance)
    _draw_lead(lead, screening, y, (low, high), mirrored, tolerance)
    if screening.front.datum == "common":
        _draw_plan(plan, screening, y, (low, high), mirrored)
    else:
        plan.set_axis_off()
        plan.text(0.5, 0.6, textwrap.fill(_NO_PLAN, 52), transform=plan.transAxes, ha="center",
                  fontsize=look.TEXT + 1.0, gid="no plan")  # fmt: skip
    side = "right" if y.max() > 0.0 else "left"
    words = "Gaps: not formed."
    if mirrored:
        words += f" Pale: mirror image, only the {side} half was measured."
    statuses = {line.status for s in screening.stations for line in s.lines}
    statuses |= {mark.status for s in screening.stations for mark in s.wads}
    if statuses & UNSURE:
        words += f" {HOLLOW_WORDS[0].upper()}{HOLLOW_WORDS[1:]}."
    if tolerance is not None:
        words += "\n" + BAND_WORDS.format(draws=tolerance.draws, seed=tolerance.seed)
        if OPEN_END in statuses:
            words += " None where a line has an open end."
    width, height = figure.get_size_inches()
    figure.text(
        _ROOM[0] / width, 0.43 / height, words, fontsize=look.TEXT, va="bottom", color=look.MUTED
    )


def _panels(figure: Figure) -> list[Axes]:
    """Heights above the lead on the left, the plan view on the right."""
    width, height = figure.get_size_inches()
    left, below, right, above = _ROOM
    wide = width - left - right - _BETWEEN[0]
    high = height - below - above
    third = (high - _BETWEEN[1]) / 3.0
    places = (
        (left, below + third + _BETWEEN[1], 0.485 * wide, 2.0 * third),
        (left, below, 0.485 * wide, third),
        (left + 0.485 * wide + _BETWEEN[0], below, 0.515 * wide, high),
    )
    size = np.array([width, height, width, height])
    return [figure.add_axes(tuple((np.array(place) / size).tolist())) for place in places]


def _values(points: Sequence[LinePoint | WadPoint], axis: str) -> NDArray[np.float64]:
    values = [getattr(point, axis) for point in points]
    return np.array([np.nan if value is None else value for value in values])


def _known(points: Sequence[LinePoint | WadPoint]) -> NDArray[np.bool_]:
    """Where the marker is filled: nothing more can stand beyond the tool or the surface."""
    return np.array([point.status not in UNSURE for point in points])


def _trace(
    drawing: look.Drawing,
    across: NDArray[np.float64],
    values: NDArray[np.float64],
    plain: NDArray[np.bool_],
    stroke: look.Stroke,
    mirrored: bool,
) -> None:
    """Draw values against the station, measured side strong, mirror image pale."""
    from matplotlib.lines import Line2D

    ax = drawing.ax
    options = stroke.options()
    for sign, alpha in ((1.0, 1.0), (-1.0, _MIRRORED))[: 2 if mirrored else 1]:
        ax.add_line(Line2D(sign * across, values, alpha=alpha, zorder=3.0, **options))
        for chosen, face in ((plain, stroke.color), (~plain, look.PAPER)):
            ax.add_line(
                Line2D(
                    sign * across[chosen], values[chosen], linestyle="none", marker=stroke.marker,
                    markersize=5.0, markerfacecolor=face, markeredgecolor=stroke.color,
                    markeredgewidth=1.2, alpha=alpha, zorder=3.5,
                )
            )  # fmt: skip
        known = ~np.isnan(values)
        path = np.stack([sign * across[known], values[known]], axis=-1)
        if len(path) > 1:
            drawing.avoid(path)
        # Markers are obstacles too, also where a line has a single point.
        reach = 0.01 * np.ptp(ax.get_xlim())
        for x, v in path:
            drawing.avoid(np.array([(x - reach, v), (x + reach, v)]))


def _anchor(
    across: NDArray[np.float64], values: NDArray[np.float64], part: float
) -> tuple[float, float] | None:
    """A measured point of a trace, at a given part of the way along it, to hang a label on."""
    known = np.flatnonzero(~np.isnan(values))
    if len(known) == 0:
        return None
    i = known[round(part * (len(known) - 1))]
    return float(across[i]), float(values[i])


def _setup(ax: Axes, limits: tuple[float, float], title: str, below: str, left: str) -> None:
    ax.set_xlim(*limits)
    ax.set_title(title, loc="left", fontsize=look.TEXT + 1.0)
    look.plain_axes(ax, below, left)
    ax.set_autoscale_on(False)


def _draw_heights(
    ax: Axes,
    screening: Screening,
    y: NDArray[np.float64],
    limits: tuple[float, float],
    mirrored: bool,
    tolerance: Tolerance | None,
) -> None:
    from matplotlib.lines import Line2D

    names = ("BLERL", "UBRL", "LBRL")
    traces = {name: _values([getattr(s, name) for s in screening.stations], "z") for name in names}
    bands = {} if tolerance is None else {n: band_ends(tolerance, y.tolist(), n) for n in names}
    shown = [*traces.values(), *(end for ends in bands.values() for end in ends)]
    known = np.concatenate([values[~np.isnan(values)] for values in shown])
    bounds = _legform_bounds(screening.rules)
    low = min([*known, bounds[0]]) - 60.0
    high = max([*known, bounds[1]]) + 90.0
    ax.set_ylim(max(low, 0.0), high)
    _setup(ax, limits, "Height of the reference lines above ground", "", "height z [mm]")
    ax.tick_params(labelbottom=False)
    drawing = look.Drawing(ax)
    ax.axhspan(*bounds, facecolor="#e8e6df", zorder=0.5)
    for bound in bounds:
        ax.add_line(Line2D(limits, (bound, bound), color=look.GROUND, linewidth=0.7, zorder=0.6))
        drawing.avoid(np.array([(limits[0], bound), (limits[1], bound)]))
    for name, ends in bands.items():
        draw_band(drawing, y, ends, look.LINE_STYLES[name], name, mirrored=mirrored)
    for name, values in traces.items():
        plain = _known([getattr(s, name) for s in screening.stations])
        _trace(drawing, y, values, plain, look.LINE_STYLES[name], mirrored)
        at = _anchor(y, values, 0.25)
        if at is not None:
            drawing.label(
                f"{LINE_NAMES[name]} ({name})", at, prefer=(0.0, -1.0 if name == "LBRL" else 1.0),
                color=look.LINE_STYLES[name].color, rank=1,
            )  # fmt: skip
    # Beside the picture, where no line can be in the way.
    for words, z, va in (
        (f" LBRL from {bounds[1]:g} mm:\n upper legform", bounds[1] + 6.0, "bottom"),
        (" either legform", sum(bounds) / 2.0, "center"),
        (f" LBRL below {bounds[0]:g} mm:\n lower legform", bounds[0] - 6.0, "top"),
    ):
        ax.text(limits[1], z, words, va=va, fontsize=look.SMALL, color=look.MUTED, gid=look.LABEL)
    drawing.finish()


def _legform_bounds(rules: RuleSet) -> tuple[float, float]:
    return rules.value("legform.lower_below_mm"), rules.value("legform.upper_from_mm")


def _draw_lead(
    ax: Axes,
    screening: Screening,
    y: NDArray[np.float64],
    limits: tuple[float, float],
    mirrored: bool,
    tolerance: Tolerance | None,
) -> None:
    from matplotlib.lines import Line2D

    leads = [station.bumper_lead for station in screening.stations]
    values = np.array([np.nan if lead is None else lead for lead in leads])
    known = values[~np.isnan(values)]
    ends = None if tolerance is None else band_ends(tolerance, y.tolist(), "lead")
    shown = [0.0, *known]
    for end in ends or ():
        shown += end[~np.isnan(end)].tolist()
    low, high = min(shown), max(shown)
    room = 0.15 * max(high - low, 50.0)
    ax.set_ylim(low - room, high + 2.0 * room)
    _setup(ax, limits, "Bumper lead: UBRL to BLERL, horizontal", "station y [mm], right positive",
           "lead [mm]")  # fmt: skip
    drawing = look.Drawing(ax)
    ax.add_line(Line2D(limits, (0.0, 0.0), color=look.GROUND, linewidth=0.7, zorder=0.6))
    plain = _known([s.UBRL for s in screening.stations])
    plain &= _known([s.BLERL for s in screening.stations])
    stroke = look.Stroke(look.LEAD, 1.8, (), "P")
    if ends is not None:
        draw_band(drawing, y, ends, stroke, "lead", mirrored=mirrored)
    _trace(drawing, y, values, plain, stroke, mirrored)
    if known.size:
        for pick in dict.fromkeys((int(np.nanargmin(values)), int(np.nanargmax(values)))):
            words = millimetres(float(values[pick]))
            if screening.stations[pick].lead_open_end:
                words = f"({words}, {STATUS_NAMES[OPEN_END]})"
            drawing.label(
                words, (float(y[pick]), float(values[pick])),
                prefer=(0.0, 1.0), color=look.LEAD,
            )  # fmt: skip
    else:
        drawing.label("Not formed at any station", None)
    drawing.finish()


def _draw_plan(
    ax: Axes,
    screening: Screening,
    y: NDArray[np.float64],
    limits: tuple[float, float],
    mirrored: bool,
) -> None:
    stations = screening.stations
    traces: list[tuple[str, NDArray[np.float64], NDArray[np.bool_], look.Stroke]] = []
    for name in ("LBRL", "UBRL", "BLERL", "BRRL"):
        points = [getattr(s, name) for s in stations]
        plain = _known(points)
        traces.append((name, _values(points, "x"), plain, look.LINE_STYLES[name]))
    for i, marks in enumerate(zip(*(s.wads for s in stations), strict=True)):
        plain = _known(marks)
        traces.append((marks[0].name, _values(marks, "x"), plain, look.wad_stroke(i)))
    known = np.concatenate([v[~np.isnan(v)] for _, v, _, _ in traces] or [np.zeros(0)])
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 100.0)
    look.fit_limits(ax, (limits[0], low, limits[1], high), (0.0, 0.35, 0.0, 0.35))
    x_limits = ax.get_ylim()
    _setup(ax, ax.get_xlim(), _PLAN_TITLE,
           "station y [mm], right positive", "setback x [mm]")  # fmt: skip
    ax.set_ylim(x_limits[::-1])
    drawing = look.Drawing(ax)
    for _, values, plain, stroke in traces:
        _trace(drawing, y, values, plain, stroke, mirrored)
    for i, (name, values, _, stroke) in enumerate(traces):
        at = _anchor(y, values, 0.15 + 0.1 * (i % 3))
        if at is not None:
            words = f"{LINE_NAMES[name]} (BRRL)" if name == "BRRL" else name
            drawing.label(words, at, prefer=(0.0, 1.0), color=stroke.color)
    drawing.finish()

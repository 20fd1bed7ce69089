"""One page for a whole front: heights, bumper lead and plan traces against the station."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_drawing import LINE_NAMES, millimetres
from frontcheck.outputs.figures.tolerance_figure import (
    band_ends,
    draw_band,
    legform_bounds,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.screening import Screening
    from frontcheck.sure.tolerance_result import Tolerance

_ROOM: Final = (0.7, 1.19, 0.14, 1.0)
"""Room for words left, below, right and above the panels [in]."""
_BETWEEN: Final = (1.75, 0.49)
"""The same beside and between the two on the left [in]."""
_HEIGHTS: Final = ("BLERL", "UBRL", "LBRL")
_MIRRORED: Final = 0.35
"""Opacity of what is mirrored, not measured."""


@dataclass(frozen=True)
class Across:
    """What runs across the page: the stations, and how far."""

    y: Array  # Stations measured [mm]
    limits: tuple[float, float]  # Ends of the axis [mm]
    mirrored: bool  # Whether one half stands for both


def draw_overview(figure: Figure, screening: Screening, tolerance: Tolerance | None = None) -> None:
    """Draw the three panels."""
    y = np.array([station.y for station in screening.stations])
    reach = max(float(np.abs(y).max()), 100.0) * 1.08
    mirrored = screening.front.symmetric and bool((y != 0.0).any())
    spread = max(0.08 * float(np.ptp(y)), 100.0 - 0.5 * float(np.ptp(y)))
    limits = (float(y.min()) - spread, float(y.max()) + spread)
    across = Across(y, (-reach, reach) if mirrored else limits, mirrored)
    heights, lead, plan = _panels(figure)
    _draw_heights(heights, screening, across, tolerance)
    _draw_lead(lead, screening, across, tolerance)
    if screening.front.datum == "common":
        _draw_plan(plan, screening, across)
    else:
        plan.set_axis_off()
        said, size = textwrap.fill(look.told("no_plan"), 52), look.TEXT + 1.0
        where = plan.transAxes
        plan.text(0.5, 0.6, said, transform=where, ha="center", fontsize=size, gid="no plan")
    words = "Gaps: not formed."
    if mirrored:
        side = "right" if y.max() > 0.0 else "left"
        words += f" Pale: mirror image, only the {side} half was measured."
    statuses = {line.status for s in screening.stations for line in s.lines}
    statuses |= {mark.status for s in screening.stations for mark in s.wads}
    if statuses & UNSURE:
        hollow = look.told("hollow")
        words += f" {hollow[0].upper()}{hollow[1:]}."
    if tolerance is not None:
        words += "\n" + look.told("band", draws=tolerance.draws, seed=tolerance.seed)
        words += " None where a line has an open end." if OPEN_END in statuses else ""
    look.write(figure, _ROOM[0], 0.43, words)


def _panels(figure: Figure) -> list[Axes]:
    """Heights above the lead on the left, the plan view on the right."""
    width, height = figure.get_size_inches()
    left, below, right, above = _ROOM
    wide, high = width - left - right - _BETWEEN[0], height - below - above
    third, half = (high - _BETWEEN[1]) / 3.0, 0.485 * wide
    return [
        look.axes_at(figure, left, below + third + _BETWEEN[1], half, 2.0 * third),
        look.axes_at(figure, left, below, half, third),
        look.axes_at(figure, left + half + _BETWEEN[0], below, 0.515 * wide, high),
    ]


def _values(points: Sequence[LinePoint | WadPoint], axis: str) -> Array:
    return np.array([getattr(point, axis) for point in points], dtype=np.float64)


def _known(points: Sequence[LinePoint | WadPoint]) -> Mask:
    """Where the marker is filled: nothing more can stand beyond the tool or the surface."""
    return np.array([point.status not in UNSURE for point in points])


def _trace(
    drawing: look.Drawing,
    across: Across,
    values: Array,
    plain: Mask,
    stroke: look.Stroke,
) -> None:
    """Draw values against the station, measured side strong, mirror image pale."""
    ax = drawing.ax
    for sign, alpha in ((1.0, 1.0), (-1.0, _MIRRORED))[: 2 if across.mirrored else 1]:
        y = sign * across.y
        ax.plot(y, values, alpha=alpha, zorder=3.0, **stroke.options())
        for chosen, face in ((plain, stroke.color), (~plain, look.PAPER)):
            how = look.dots(stroke.marker, 5.0, face, stroke.color)
            ax.plot(y[chosen], values[chosen], alpha=alpha, zorder=3.5, **how)
        known = ~np.isnan(values)
        path = np.stack([y[known], values[known]], axis=-1)
        if len(path) > 1:
            drawing.avoid(path)
        # Markers are obstacles too, also where a line has a single point.
        reach = 0.01 * np.ptp(ax.get_xlim())
        for x, v in path:
            drawing.avoid([(x - reach, v), (x + reach, v)])


def _anchor(across: Across, values: Array, part: float) -> tuple[float, float] | None:
    """A measured point of a trace, at a given part of the way along it, to hang a label on."""
    known = np.flatnonzero(~np.isnan(values))
    if len(known) == 0:
        return None
    i = known[round(part * (len(known) - 1))]
    return float(across.y[i]), float(values[i])


def _draw_heights(
    ax: Axes, screening: Screening, across: Across, tolerance: Tolerance | None
) -> None:
    points = {name: [getattr(s, name) for s in screening.stations] for name in _HEIGHTS}
    traces = {name: _values(of, "z") for name, of in points.items()}
    ends = {}
    if tolerance is not None:
        ends = {name: band_ends(tolerance, across.y.tolist(), name) for name in _HEIGHTS}
    shown = np.concatenate([*traces.values(), *(end for pair in ends.values() for end in pair)])
    bounds = legform_bounds(screening.rules)
    low = min([*shown[~np.isnan(shown)], bounds[0]]) - 60.0
    ax.set_ylim(max(low, 0.0), max([*shown[~np.isnan(shown)], bounds[1]]) + 90.0)
    title = "Height of the reference lines above ground"
    ax.set_xlim(*across.limits)
    look.plain_axes(ax, "", "height z [mm]", title=title)
    ax.tick_params(labelbottom=False)
    drawing = look.Drawing(ax)
    ax.axhspan(*bounds, facecolor="#e8e6df", zorder=0.5)
    for bound in bounds:
        ax.plot(across.limits, (bound, bound), color=look.GROUND, linewidth=0.7, zorder=0.6)
        drawing.avoid([(x, bound) for x in across.limits])
    for name, pair in ends.items():
        stroke = look.LINE_STYLES[name]
        draw_band(drawing, across.y, pair, stroke, name, mirrored=across.mirrored)
    for name, values in traces.items():
        stroke = look.LINE_STYLES[name]
        _trace(drawing, across, values, _known(points[name]), stroke)
        prefer = (0.0, -1.0 if name == "LBRL" else 1.0)
        at = _anchor(across, values, 0.25)
        if at is not None:
            words = f"{LINE_NAMES[name]} ({name})"
            drawing.label(words, at, prefer=prefer, color=stroke.color)
    # Beside the picture, where no line can be in the way.
    for words, z, va in (
        (f" LBRL from {bounds[1]:g} mm:\n upper legform", bounds[1] + 6.0, "bottom"),
        (" either legform", sum(bounds) / 2.0, "center"),
        (f" LBRL below {bounds[0]:g} mm:\n lower legform", bounds[0] - 6.0, "top"),
    ):
        right = across.limits[1]
        ax.text(right, z, words, va=va, gid=look.LABEL, **look.small(look.MUTED))
    drawing.finish()


def _draw_lead(ax: Axes, screening: Screening, across: Across, tolerance: Tolerance | None) -> None:
    leads = [station.bumper_lead for station in screening.stations]
    values = np.array(leads, dtype=np.float64)
    ends = None if tolerance is None else band_ends(tolerance, across.y.tolist(), "lead")
    shown = np.concatenate([[0.0], values, *(ends or ())])
    low, high = float(np.nanmin(shown)), float(np.nanmax(shown))
    room = 0.15 * max(high - low, 50.0)
    ax.set_ylim(low - room, high + 2.0 * room)
    ax.set_xlim(*across.limits)
    title = "Bumper lead: UBRL to BLERL, horizontal"
    look.plain_axes(ax, "station y [mm], right positive", "lead [mm]", title=title)
    drawing = look.Drawing(ax)
    ax.plot(across.limits, (0.0, 0.0), color=look.GROUND, linewidth=0.7, zorder=0.6)
    plain = _known([s.UBRL for s in screening.stations])
    plain &= _known([s.BLERL for s in screening.stations])
    stroke = look.Stroke(look.LEAD, 1.8, (), "P")
    if ends is not None:
        draw_band(drawing, across.y, ends, stroke, "lead", mirrored=across.mirrored)
    _trace(drawing, across, values, plain, stroke)
    picks: tuple[int, ...] = ()
    if np.isnan(values).all():
        drawing.label("Not formed at any station", None)
    else:
        picks = (int(np.nanargmin(values)), int(np.nanargmax(values)))
    for pick in dict.fromkeys(picks):
        words = millimetres(float(values[pick]))
        if screening.stations[pick].lead_open_end:
            words = f"({words}, {STATUS_NAMES[OPEN_END]})"
        at = (float(across.y[pick]), float(values[pick]))
        drawing.label(words, at, prefer=(0.0, 1.0), color=look.LEAD)
    drawing.finish()


def _draw_plan(ax: Axes, screening: Screening, across: Across) -> None:
    stations = screening.stations
    points: list[tuple[str, look.Stroke, Sequence[LinePoint | WadPoint]]] = [
        (name, stroke, [getattr(s, name) for s in stations])
        for name, stroke in look.LINE_STYLES.items()
    ]
    for i, marks in enumerate(zip(*(s.wads for s in stations), strict=True)):
        points.append((marks[0].name, look.wad_stroke(i), marks))
    traces = [(name, stroke, _values(of, "x"), _known(of)) for name, stroke, of in points]
    known = np.concatenate([values[~np.isnan(values)] for _, _, values, _ in traces])
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 100.0)
    box = (across.limits[0], low, across.limits[1], high)
    look.fit_limits(ax, box, (0.0, 0.35, 0.0, 0.35))
    names = ("station y [mm], right positive", "setback x [mm]")
    look.plain_axes(ax, *names, title=look.told("plan"))
    ax.set_ylim(ax.get_ylim()[::-1])
    drawing = look.Drawing(ax)
    for _, stroke, values, plain in traces:
        _trace(drawing, across, values, plain, stroke)
    for i, (name, stroke, values, _) in enumerate(traces):
        at = _anchor(across, values, 0.15 + 0.1 * (i % 3))
        if at is not None:
            words = f"{LINE_NAMES[name]} (BRRL)" if name == "BRRL" else name
            drawing.label(words, at, prefer=(0.0, 1.0), color=stroke.color)
    drawing.finish()

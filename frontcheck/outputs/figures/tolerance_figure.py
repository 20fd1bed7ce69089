"""How far the lines may be off, on one page: intervals by station, shares, what drives them."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, STATUS_WORDS
from frontcheck.outputs.figures import canvas as look

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from frontcheck.geometry.arrays import Array
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.sure.tolerance_result import MeasureAgain, Spread, StationTolerance, Tolerance

# How sure a line is, drawn into the figures of a screening: bands and bars of 95 % intervals.

_FILL: Final = 0.24
_BAR: Final = look.Stroke(look.SPREAD, 1.7)
_HALO: Final = look.Stroke(look.PAPER, 3.4)
_ABOVE_DOTS: Final = 8.4
_MIRRORED: Final = 0.35
_CAP_PT: Final = 5.0


def band_ends(tolerance: Tolerance, stations: Sequence[float], name: str) -> tuple[Array, Array]:
    """Return the ends of the intervals of one height, or of the bumper lead, along a front."""
    ends = []
    for y in stations:
        here = tolerance.station(y)
        spread = here.bumper_lead if name == "lead" else here.line(name).z
        ends.append((np.nan, np.nan) if spread is None else (spread.low, spread.high))
    low, high = np.array(ends).T
    return low, high


def legform_bounds(rules: RuleSet) -> tuple[float, float]:
    """Return the heights between which the manufacturer chooses the legform [mm]."""
    return rules.value("legform.lower_below_mm"), rules.value("legform.upper_from_mm")


def draw_band(
    drawing: look.Drawing,
    across: Array,
    ends: tuple[Array, Array],
    stroke: look.Stroke,
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
    drawing: look.Drawing,
    sure: StationTolerance,
    window: tuple[float, float, float, float] | None = None,
) -> None:
    """Draw the intervals of height and setback through every line point of a station."""
    for line in sure.lines:
        if line.x is None or line.z is None:
            continue
        x, z = (s.median if s.nominal is None else s.nominal for s in (line.x, line.z))
        if window and not (window[0] < x < window[2] and window[1] < z < window[3]):
            continue
        ends = {"x": [(line.x.low, z), (line.x.high, z)], "z": [(x, line.z.low), (x, line.z.high)]}
        for axis, bar in ends.items():
            drawing.line(bar, _HALO, zorder=_ABOVE_DOTS, avoid=False)
            drawing.line(bar, _BAR, zorder=_ABOVE_DOTS + 0.1, gid=f"interval {line.name} {axis}")


def bar_key() -> Line2D:
    """Return the legend key of `draw_bars`."""
    cross = look.dots("+", 2.0 * _CAP_PT, look.SPREAD, width=_BAR.width)
    return look.key("95 % interval, x and z", **cross)


def _pale(color: str) -> str:
    """The colour as it looks on paper at the opacity of a mirror image."""
    from matplotlib.colors import to_hex, to_rgb

    red, green, blue = (_MIRRORED * c + 1.0 - _MIRRORED for c in to_rgb(color))
    return to_hex((red, green, blue))


_SIZE: Final = (14.0, 8.6)
_HEIGHTS: Final = (0.05, 0.46, 0.40, 0.40)
_LEGFORM: Final = (0.05, 0.325, 0.40, 0.07)
_LEAD: Final = (0.05, 0.125, 0.40, 0.135)
_MARKS: Final = (0.60, 0.53, 0.385, 0.33)
_AGAIN: Final = (0.70, 0.125, 0.285, 0.30)
_NAMES: Final = {
    "LBRL": "Lower bumper\n reference line (LBRL)",
    "UBRL": "Upper bumper\n reference line (UBRL)",
    "BLERL": "Bonnet leading edge\n reference line (BLERL)",
}
_LISTED: Final = 9
"""Rows to measure again that are shown."""


@look.styled
def tolerance_figure(tolerance: Tolerance, figure: Figure | None = None) -> Figure:
    """Draw intervals, legform shares and drivers of a whole front.

    Parameters
    ----------
    tolerance : Tolerance
        The result of a tolerance run.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> drawn = fc.tolerance(plover, "UN-R127-02", draws=100)
    >>> figure = fc.tolerance_figure(drawn)
    """
    figure = figure or look.new_figure(*_SIZE)
    places = (_HEIGHTS, _LEGFORM, _LEAD, _MARKS, _AGAIN)
    heights, legform, lead, marks, again = map(figure.add_axes, places)
    _draw_heights(heights, tolerance)
    _draw_legform(legform, tolerance)
    _draw_lead(lead, tolerance)
    _draw_marks(marks, tolerance)
    _draw_again(again, tolerance.measure_again(_LISTED))
    _words(figure, tolerance)
    return figure


@look.styled
def interval_chart(tolerance: Tolerance, ax: Axes | None = None) -> Axes:
    """Draw the 95 % intervals of the line heights against the station.

    Parameters
    ----------
    tolerance : Tolerance
        The result of a tolerance run.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure when not given.

    Returns
    -------
    matplotlib.axes.Axes
        What was drawn on.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> drawn = fc.tolerance(plover, "UN-R127-02", draws=100)
    >>> ax = fc.interval_chart(drawn)
    >>> ax.get_xlabel()
    'station y [mm]'
    """
    if ax is None:
        figure = look.new_figure(8.0, 5.4)
        ax = figure.add_axes((0.09, 0.16, 0.70, 0.72))
        look.foot(figure)
    _draw_heights(ax, tolerance)
    ax.set_xlabel("station y [mm]")
    ax.tick_params(labelbottom=True)
    return ax


def _setup(ax: Axes, tolerance: Tolerance, title: str, left: str, below: str | None = None) -> None:
    """Stations side by side at equal steps: names below, not places to scale."""
    count = len(tolerance.stations)
    spare = max(6 - count, 0) / 2.0  # one station alone shall not fill the page
    ax.set_xlim(-0.6 - spare, count - 0.4 + spare)
    names = [f"{station.y:g}".replace("-", "\N{MINUS SIGN}") for station in tolerance.stations]
    ax.set_xticks(range(count), names)
    look.plain_axes(ax, below, left, title=title)
    for i, label in enumerate(ax.get_xticklabels() if count > 16 else ()):
        label.set_visible(i % (count // 12) == 0)


def _bar_tolerance(
    ax: Axes,
    at: float,
    spread: Spread,
    stroke: look.Stroke,
    shift: float = 0.0,
    half: float = 0.09,
) -> None:
    """Interval with end ticks, value as measured as a marker."""
    low, high = spread.low - shift, spread.high - shift
    color = stroke.color
    ax.plot([at, at], [low, high], color=color, linewidth=2.2, solid_capstyle="butt", zorder=3.0,
            gid="interval")  # fmt: skip
    for end in (low, high):
        ax.plot([at - half, at + half], [end, end], color=color, linewidth=1.0, zorder=3.0)
    if spread.nominal is not None:
        mark = look.dots(stroke.marker, 5.0, color)
        ax.plot([at], [spread.nominal - shift], zorder=3.5, gid="nominal", **mark)


def _open_end(ax: Axes, at: float, value: float, stroke: look.Stroke, up: float = 1.0) -> None:
    """A value that is kept, but not known: hollow, without interval, and said."""
    mark = look.dots(stroke.marker, 5.0, look.PAPER, stroke.color)
    ax.plot([at], [value], zorder=3.5, gid="open end", **mark)
    ax.annotate(STATUS_NAMES[OPEN_END], (at, value), (0.0, 5.0 * up), "data", "offset points",
                rotation=90, ha="center", va="bottom" if up > 0.0 else "top", fontsize=look.SMALL,
                color=stroke.color)  # fmt: skip


def _draw_heights(ax: Axes, tolerance: Tolerance) -> None:
    _setup(ax, tolerance, "Height of the reference lines, 95 % intervals", "height z [mm]")
    ax.tick_params(labelbottom=False)
    bounds = legform_bounds(tolerance.rules)
    ax.axhspan(*bounds, facecolor="#e8e6df", zorder=0.5)
    for bound in bounds:
        ax.axhline(bound, color=look.GROUND, linewidth=0.7, zorder=0.6)
    ends: list[float] = [*bounds]
    words = [(sum(bounds) / 2.0, "LBRL within:\n either legform", look.MUTED)]
    for name, offset in (("LBRL", -0.17), ("UBRL", 0.0), ("BLERL", 0.17)):
        last, stroke = None, look.LINE_STYLES[name]
        for i, station in enumerate(tolerance.stations):
            line = station.line(name)
            if line.no_interval and line.nominal is not None:
                last = line.nominal[1]
                up = 1.0 if name == "LBRL" else -1.0  # away from the title
                _open_end(ax, i + offset, last, stroke, up)
                ends.append(last)
            if line.z is not None:
                last = line.z.median
                _bar_tolerance(ax, i + offset, line.z, stroke)
                ends += [line.z.low, line.z.high]
        if last is not None:
            words.append((last, _NAMES[name], stroke.color))
    span, right = max(ends) - min(ends), ax.get_xlim()[1]
    ax.set_ylim(min(ends) - 0.06 * span, max(ends) + 0.06 * span)
    places = _apart([z for z, _, _ in sorted(words)], 0.095 * span)
    for (_, text, color), z in zip(sorted(words), places, strict=True):
        ax.text(right, z, f" {text}", va="center", fontsize=look.SMALL, color=color, gid="label")


def _apart(wanted: Sequence[float], gap: float) -> list[float]:
    """Move sorted places apart until none is closer to the next than a gap."""
    placed = list(wanted)
    for i in range(1, len(placed)):
        placed[i] = max(placed[i], placed[i - 1] + gap)
    back = placed[-1] - max(wanted) if placed else 0.0
    return [place - back / 2.0 for place in placed]


def _draw_legform(ax: Axes, tolerance: Tolerance) -> None:
    from matplotlib.patches import Patch

    _setup(ax, tolerance, "Legform by lower bumper height, share of the draws", "")
    ax.tick_params(labelbottom=False)
    ax.set_ylim(0.0, 1.0)
    ax.set_yticks([0.0, 1.0], ["0", "1"])
    shares = [dict(station.legform) for station in tolerance.stations]
    styles: dict[str, dict[str, Any]] = {
        name: {"facecolor": tone, "hatch": hatch, "edgecolor": look.INK, "linewidth": 0.5}
        for name, (tone, hatch) in look.LOOK["legform_shares"].items()
    }
    for i, here in enumerate(shares):
        base = 0.0
        for name, share in here.items():
            if share > 0.0:
                ax.bar(i, share, 0.72, base, gid=f"legform {name}", **styles[name])
            base += share
    handles = [
        Patch(label="not known" if name == "missing" else name, **style)
        for name, style in styles.items()
        if any(here[name] for here in shares)
    ]
    ax.legend(handles=handles, loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False,
              fontsize=look.SMALL, handlelength=1.4)  # fmt: skip


def _draw_lead(ax: Axes, tolerance: Tolerance) -> None:
    title = "Bumper lead (UBRL to BLERL), 95 % intervals"
    _setup(ax, tolerance, title, "lead [mm]", "station y [mm]")
    stroke = look.Stroke(look.LEAD, 1.6, (), "o")
    for i, station in enumerate(tolerance.stations):
        if station.bumper_lead is None:
            words = STATUS_NAMES[OPEN_END] if station.no_lead_interval else "not formed"
            ax.text(i, 0.5, words, rotation=90, ha="center", va="center",
                    transform=ax.get_xaxis_transform(), fontsize=look.SMALL)  # fmt: skip
        else:
            _bar_tolerance(ax, i, station.bumper_lead, stroke)
    ax.margins(y=0.12)


def _draw_marks(ax: Axes, tolerance: Tolerance) -> None:
    """How far each wrap-around mark may lie from where it was found, along x."""
    title = "Wrap-around distance (WAD): setback less that measured, 95 % intervals"
    _setup(ax, tolerance, title, "change of setback x [mm]", "station y [mm]")
    ax.axhline(0.0, color=look.GROUND, linewidth=0.7, zorder=0.6)
    wads, m = look.LOOK["wads"]["in_turn"], max(len(tolerance.wad), 1)
    handles, reached = [], False
    for j, distance in enumerate(tolerance.wad):
        tone, marker = wads[j % len(wads)]
        stroke = look.Stroke(tone, 1.4, (), marker)
        how = {"color": tone, "marker": marker, "markersize": 5.0, "linewidth": 2.2}
        handles.append(look.key(f"WAD {distance:g}", **how))
        for i, station in enumerate(tolerance.stations):
            line, at = station.line(f"WAD {distance:g}"), i + 0.72 * ((j + 0.5) / m - 0.5)
            if line.no_interval:
                _open_end(ax, at, 0.0, stroke)
            if line.x is not None:
                reached = True
                shift = line.x.median if line.x.nominal is None else line.x.nominal
                _bar_tolerance(ax, at, line.x, stroke, shift, 0.055)
    ax.margins(y=0.12)
    if not reached:
        ax.set_yticks([])
        words = "no distance is reached" if tolerance.wad else "no distance was asked for"
        ax.text(0.5, 0.6, words, ha="center", transform=ax.transAxes, gid="label")
    if handles:
        ax.legend(handles=handles, loc="lower right", bbox_to_anchor=(1.0, 1.07), frameon=False,
                  ncols=len(handles), fontsize=look.SMALL, columnspacing=1.2)  # fmt: skip


def _draw_again(ax: Axes, listed: Sequence[MeasureAgain]) -> None:
    ax.set_title("Measure again first: what moves a line most", loc="left",
                 fontsize=look.TEXT + 1.0, x=-0.35)  # fmt: skip
    ax.set_xlabel("standard deviation that goes with it [mm]")
    ax.spines[["top", "right", "left"]].set_visible(False)
    places = np.arange(len(listed))[::-1]
    ax.barh(places, [item.part_mm for item in listed], 0.62, color="#9fb3b0", edgecolor=look.INK,
            linewidth=0.5, gid="driver")  # fmt: skip
    ax.set_yticks(places, [_reading(item) for item in listed])
    ax.tick_params(axis="y", length=0.0, labelcolor=look.INK)
    ax.set_ylim(-0.7, len(listed) - 0.3)
    top = max((item.part_mm for item in listed), default=1.0)
    ax.set_xlim(0.0, 1.6 * top)
    for place, item in zip(places, listed, strict=True):
        ax.text(item.part_mm + 0.02 * top, place, _quantity(item.quantity), va="center",
                fontsize=look.SMALL)  # fmt: skip


def _reading(item: MeasureAgain) -> str:
    if item.row is None:
        return f"{item.name} ({'vehicle' if item.of_vehicle else f'y = {item.y:g}'})"
    place = f"row {item.source_row} of the file" if item.source_row else f"point {item.row + 1}"
    return f"{item.name}, {place} (y = {item.y:g})"


def _quantity(name: str) -> str:
    words = name.removesuffix("_mm").replace("WAD_", "WAD ").replace("_", " ")
    return words.replace("BRRL", "bonnet rear line (BRRL)")


def _words(figure: Figure, tolerance: Tolerance) -> None:
    name = look.printable(tolerance.front.name, 60)
    said = {"title": look.printable(tolerance.rules.title, 100), "draws": tolerance.draws}
    words = look.told("tolerance", seed=tolerance.seed, **said)
    look.head(figure, f"{name}: how far the lines may be off", words, left=0.012)
    notes = " ".join(tolerance.cautions[1:])
    lines = [line for station in tolerance.stations for line in station.lines]
    long = dict.fromkeys(line.name for line in lines if line.long_contact)
    if long:
        notes = f"Long contact, so a wide interval: {', '.join(long)}. {notes}"
    if any(line.no_interval for line in lines):
        notes = f"Hollow: {STATUS_WORDS[OPEN_END]}, so there is no interval. {notes}"
    figure.text(0.012, 0.034, "\n".join(textwrap.wrap(look.printable(notes, 700), 235)[:3]),
                fontsize=look.SMALL, va="bottom", color=look.MUTED)  # fmt: skip
    look.foot(figure)

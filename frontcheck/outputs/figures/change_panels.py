"""Changes against the station, distances along the contours, and outlines in plan view."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.comparison.changes import COVERAGE
from frontcheck.findings.finding import arc_of
from frontcheck.lines.statuses import UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.overlay import INSIDE, OUTSIDE, STROKES
from frontcheck.outputs.figures.side_drawing import millimetres

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.comparison.changes import Change
    from frontcheck.comparison.comparison_result import Comparison, StationComparison
    from frontcheck.comparison.contour_distance import SurfaceOverlay

SIZE: Final = (14.0, 8.2)
"""Width and height of a figure of changes, where no other is given [in]."""
_ROOM: Final = (0.63, 1.19, 0.14, 0.9)
"""Room for words left, below, right and above the drawings, whatever the size [in]."""
_BOX: Final = (0.05, 0.145, 0.94, 0.725)
"""Room for the panels: left, bottom, width, height, in parts of the figure."""
_ROWS: Final = 10
"""Most rows of the distance map."""


def panel_quantities(comparison: Comparison) -> list[tuple[str, str]]:
    """Return what is shown against the station."""
    shown = [
        ("LBRL_z_mm", "LBRL, height z"),
        ("UBRL_z_mm", "UBRL, height z"),
        ("BLERL_z_mm", "BLERL, height z"),
        ("bumper_lead_mm", "Bumper lead"),
    ]
    return shown + [(f"WAD_{d:g}_x_mm", f"WAD {d:g}, setback x") for d in comparison.a.wad]


def draw_changes(figure: Figure, comparison: Comparison) -> None:
    """Draw small panels of changes against the station, all to one scale."""
    shown = panel_quantities(comparison)
    columns = min(4, len(shown))
    rows = math.ceil(len(shown) / columns)
    values = [
        (change.change, COVERAGE * (change.u or 0.0))
        for station in comparison.stations
        for quantity, _ in shown
        if (change := station.change(quantity)).change is not None
    ]
    low = min([0.0, *(v - u for v, u in values)])
    high = max([0.0, *(v + u for v, u in values)])
    room = 0.14 * max(high - low, 20.0)
    limits = (low - room, high + room)
    axes = _grid(figure, rows, columns, len(shown))
    for i, (ax, (quantity, title)) in enumerate(zip(axes, shown, strict=True)):
        changes = [(s.y, s.change(quantity)) for s in comparison.stations]
        _panel(ax, changes, title, limits)
        if i % columns:
            ax.tick_params(labelleft=False)
        else:
            ax.set_ylabel("B minus A [mm]")
        if i + columns >= len(shown):
            ax.set_xlabel("station y [mm]")


def kept(
    figure: Figure, place: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    """Return a place on the usual size where it stands on a figure, the room for words kept."""
    left, below, right, above = _ROOM
    found: list[tuple[float, float]] = []
    for axis, (low, high) in enumerate(((left, right), (below, above))):
        usual, size = SIZE[axis], float(figure.get_size_inches()[axis])
        part = (size - low - high) / (usual - low - high)
        start = low + (place[axis] * usual - low) * part
        found.append((start / size, place[axis + 2] * usual * part / size))
    (x, width), (y, height) = found
    return x, y, width, height


def _grid(figure: Figure, rows: int, columns: int, count: int) -> list[Axes]:
    left, bottom, width, height = kept(figure, _BOX)
    gap_x, gap_y = 0.018, 0.62 / float(figure.get_figheight())
    w = (width - gap_x * (columns - 1)) / columns
    h = (height - gap_y * (rows - 1)) / rows
    return [
        figure.add_axes(
            (
                left + (i % columns) * (w + gap_x),
                bottom + (rows - 1 - i // columns) * (h + gap_y),
                w,
                h,
            )
        )
        for i in range(count)
    ]


def _panel(
    ax: Axes, changes: Sequence[tuple[float, Change]], title: str, limits: tuple[float, float]
) -> None:
    from matplotlib.lines import Line2D

    y = np.array([at for at, _ in changes])
    spread = max(0.06 * float(np.ptp(y)), 30.0)
    ax.set_xlim(float(y.min()) - spread, float(y.max()) + spread)
    ax.set_ylim(*limits)
    ax.set_title(title, loc="left", fontsize=look.TEXT + 1.0)
    look.plain_axes(ax)
    ax.set_autoscale_on(False)
    drawing = look.Drawing(ax)
    drawing.line([(ax.get_xlim()[0], 0.0), (ax.get_xlim()[1], 0.0)], look.Stroke(look.GROUND, 0.8),
                 zorder=1.0)  # fmt: skip
    ink = STROKES["A"].color
    known = [(at, c) for at, c in changes if c.change is not None]
    path = np.array([(at, c.change) for at, c in known], dtype=np.float64).reshape(-1, 2)
    if len(path) > 1:
        drawing.line(path, look.Stroke(ink, 1.3), zorder=2.5)
    for at, change in known:
        assert change.change is not None
        if change.u is not None:
            reach = COVERAGE * change.u
            drawing.line(
                [(at, change.change - reach), (at, change.change + reach)], look.Stroke(ink, 1.0),
                zorder=2.8, gid="uncertainty",
            )  # fmt: skip
        ax.add_line(
            Line2D(
                [at], [change.change], linestyle="none", marker="D", markersize=5.0,
                markerfacecolor="#a9b4bd" if change.status_changed else ink, markeredgecolor=ink,
                markeredgewidth=1.2, zorder=3.0,
            )
        )  # fmt: skip
    for at, change in changes:
        if change.change is None and (change.a is not None or change.b is not None):
            ax.add_line(
                Line2D([at], [0.0], linestyle="none", marker="o" if change.open_end else "x",
                       markersize=6.0, zorder=3.0, markerfacecolor=look.PAPER,
                       markeredgecolor=look.FACE, markeredgewidth=1.4,
                       gid="not known" if change.open_end else "not comparable")
            )  # fmt: skip
    if not known:
        known_nowhere = any(change.open_end for _, change in changes)
        drawing.label("not known: open end" if known_nowhere else "not comparable", None)
    else:
        picks = (int(path[:, 1].argmin()), int(path[:, 1].argmax()))
        for pick in dict.fromkeys(picks):
            value = float(path[pick, 1])
            drawing.label(
                _signed(value), (float(path[pick, 0]), value),
                prefer=(0.0, 1.0 if value >= 0.0 else -1.0),
            )  # fmt: skip
    drawing.finish()


def draw_map(ax: Axes, comparison: Comparison) -> None:
    """Draw the signed distance along A's contour, one row a station."""
    stations = spread_out([s for s in comparison.stations if s.contour is not None], _ROWS)
    if not stations:
        ax.set_axis_off()
        reason = comparison.stations[0].contour_reason
        ax.text(0.5, 0.5, f"No distances: {reason}.", transform=ax.transAxes, ha="center",
                fontsize=look.TEXT + 1.0, wrap=True)  # fmt: skip
        return
    found = [(station, _along(station)) for station in stations]
    peak = max([1.0, *(float(np.abs(v[k]).max()) for _, (_, v, k, _) in found if k.any())])
    step = 1.25 * peak
    for i, (station, (arc, values, known, marks)) in enumerate(found):
        _row(ax, i * step, arc, np.where(known, values, np.nan), marks)
        assert station.contour is not None
        out, inside = station.contour.outward, station.contour.inward
        words = [
            f"{_signed(extreme.value)}" for extreme in (out, inside) if extreme is not None
        ] or ["0 mm"]
        ax.annotate(
            ", ".join(words), (1.0, i * step), (6.0, 0.0), ("axes fraction", "data"),
            "offset points", va="center", fontsize=look.SMALL, annotation_clip=False, gid=look.LABEL,
        )  # fmt: skip
    ax.set_ylim(-1.1 * step, (len(found) - 1) * step + 0.9 * step)
    ax.set_yticks([i * step for i in range(len(found))])
    ax.set_yticklabels(
        [f"y = {station.y:g}".replace("-", "\N{MINUS SIGN}") for station, _ in found]
    )
    low = min(float(arc.min()) for _, (arc, _, _, _) in found)
    high = max(float(arc.max()) for _, (arc, _, _, _) in found)
    ax.set_xlim(low, high)
    ax.set_xlabel("length along A's contour from its foremost bumper point, upward positive [mm]")
    look.plain_axes(ax, off="top right left")
    nice = _nice(peak)
    at = low + 0.012 * (high - low)
    base = (len(found) - 1) * step
    ax.plot([at, at], [base, base + nice], color=look.INK, linewidth=2.0, clip_on=False)
    ax.annotate(
        f"{nice:g} mm", (at, base + nice / 2.0), (5.0, 0.0), "data", "offset points", va="center",
        fontsize=look.SMALL, gid=look.LABEL,
    )  # fmt: skip


def _along(
    station: StationComparison,
) -> tuple[
    NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_], dict[str, tuple[float, bool]]
]:
    """Arc from the foremost point, distances, where they mean something, places of lines."""
    assert station.contour is not None
    here, section = station.contour.along_a, station.matched.a.section
    lines = station.matched.a.station
    foot = lines.foremost or section.face.foremost
    start = arc_of(section, foot)
    marks = {
        line.name: (arc_of(section, (line.x, line.z)) - start, line.status in UNSURE)
        for line in lines.lines
        if line.x is not None and line.z is not None
    }
    return here.arc - start, here.values, here.comparable, marks


def _row(
    ax: Axes,
    base: float,
    arc: NDArray[np.float64],
    values: NDArray[np.float64],
    marks: dict[str, tuple[float, bool]],
) -> None:
    ax.axhline(base, color=look.GROUND, linewidth=0.6, zorder=1.0)
    known = np.where(np.isnan(values), 0.0, values)
    ax.fill_between(arc, base, base + np.maximum(known, 0.0), facecolor=OUTSIDE, linewidth=0.0,
                    zorder=2.0)  # fmt: skip
    ax.fill_between(arc, base, base + np.minimum(known, 0.0), facecolor=INSIDE, linewidth=0.0,
                    hatch="////", edgecolor=look.MUTED, zorder=2.0)  # fmt: skip
    ax.plot(arc, base + values, color=look.INK, linewidth=0.8, zorder=2.5)
    for name, (at, hollow) in marks.items():
        stroke = look.LINE_STYLES[name]
        rim: dict[str, Any] = {"markeredgecolor": stroke.color, "markeredgewidth": 1.2}
        ax.plot(
            [at], [base], linestyle="none", marker=stroke.marker, markersize=4.5, zorder=3.0,
            markerfacecolor=look.PAPER if hollow else stroke.color, **rim,
        )  # fmt: skip


def draw_plan(figure: Figure, overlay: SurfaceOverlay, *, symmetric: bool) -> None:
    """Draw the outlines of both surfaces in plan view, one panel a height."""
    count = len(overlay.heights_mm)
    axes = _grid(figure, math.ceil(count / 2), 2, count)
    y = np.array([row.y for row in overlay.rows])
    curves = [
        np.array([[np.nan if x is None else x for x in side] for side in rows]).T
        for rows in ([row.a for row in overlay.rows], [row.b for row in overlay.rows])
    ]
    every = np.concatenate([curve.ravel() for curve in curves])
    every = every[~np.isnan(every)]
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 100.0)
    reach = float(np.abs(y).max()) * 1.05
    for k, (ax, height) in enumerate(zip(axes, overlay.heights_mm, strict=True)):
        for name, curve in zip("AB", curves, strict=True):
            options = STROKES[name].options() | {"linewidth": 1.8}
            for sign in (1.0, -1.0) if symmetric else (1.0,):
                ax.plot(sign * y, curve[k], **options)
        ax.set_title(f"Height {height:g} mm", loc="left", fontsize=look.TEXT + 1.0)
        ax.set_xlim(-reach if symmetric or y.min() < 0.0 else -0.05 * reach, reach)
        margin = 0.06 * max(high - low, 50.0)
        ax.set_ylim(high + margin, low - margin)
        look.plain_axes(ax)
        if k % 2 == 0:
            ax.set_ylabel("foremost x [mm]")
        if k + 2 >= count:
            ax.set_xlabel("station y [mm], right positive")
        if np.isnan(curves[0][k]).all() or np.isnan(curves[1][k]).all():
            ax.text(0.5, 0.5, "a surface does not reach this height", transform=ax.transAxes,
                    ha="center", color=look.MUTED)  # fmt: skip


def spread_out(stations: Sequence[StationComparison], most: int) -> list[StationComparison]:
    """Return stations spread evenly over all there are."""
    if len(stations) <= most:
        return list(stations)
    picks = np.unique(np.round(np.linspace(0, len(stations) - 1, most)).astype(int))
    return [stations[i] for i in picks]


def _signed(value: float) -> str:
    text = millimetres(value, 1)
    return f"+{text}" if value > 0.0 and not text.startswith("0.0") else text


def _nice(value: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not above a value."""
    power = 10.0 ** math.floor(math.log10(value))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= value)

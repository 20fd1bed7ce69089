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
    from collections.abc import Iterable, Sequence

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.comparison.changes import Change
    from frontcheck.comparison.comparison_result import Comparison, StationComparison
    from frontcheck.comparison.contour_distance import SurfaceOverlay
    from frontcheck.geometry.arrays import Array, Mask

SIZE: Final = (14.0, 8.2)
"""Width and height of a figure of changes, where no other is given [in]."""
_ROOM: Final = (0.63, 1.19, 0.14, 0.9)
"""Room for words left, below, right and above the drawings, whatever the size [in]."""
_BOX: Final = (0.05, 0.145, 0.94, 0.725)
"""Room for the panels: left, bottom, width, height, in parts of the figure."""
_ROWS: Final = 10
"""Most rows of the distance map."""
_OTHER: Final = "#a9b4bd"
"""Fill of a line formed in another way in B."""
_NOT_COMPARABLE: Final = look.dots("x", 6.0, look.FACE, width=1.4)
_NOT_KNOWN: Final = look.dots("o", 6.0, look.PAPER, look.FACE, 1.4)


def draw_changes(figure: Figure, comparison: Comparison) -> None:
    """Draw small panels of changes against the station, all to one scale."""
    shown = [(f"{name}_z_mm", f"{name}, height z") for name in ("LBRL", "UBRL", "BLERL")]
    shown += [("bumper_lead_mm", "Bumper lead")]
    shown += [(f"WAD_{d:g}_x_mm", f"WAD {d:g}, setback x") for d in comparison.a.wad]
    changes = {name: [(s.y, s.change(name)) for s in comparison.stations] for name, _ in shown}
    known = [change for of in changes.values() for _, change in of]
    spans = [(c.change, COVERAGE * (c.u or 0.0)) for c in known if c.change is not None]
    low, high = min([0.0, *(c - u for c, u in spans)]), max([0.0, *(c + u for c, u in spans)])
    room, columns = 0.14 * max(high - low, 20.0), min(4, len(shown))
    axes = _grid(figure, columns, len(shown))
    for i, (ax, (name, title)) in enumerate(zip(axes, shown, strict=True)):
        _panel(ax, changes[name], title, (low - room, high + room))
        ax.tick_params(labelleft=i % columns == 0)
        ax.set_ylabel("" if i % columns else "B minus A [mm]")
        ax.set_xlabel("station y [mm]" if i + columns >= len(shown) else "")


def change_keys(changes: Iterable[Change], *, sure: bool) -> list[Artist]:
    """Return the legend keys of the panels of changes."""
    keys: list[Artist] = [
        look.key("change", **look.dots("D", 6.0, look.INK)),
        look.key("line formed in another way in B", **look.dots("D", 6.0, _OTHER, look.INK)),
        look.key("not comparable", **_NOT_COMPARABLE),
    ]
    if any(change.open_end for change in changes):
        keys.append(look.key("not known: open end", **_NOT_KNOWN))
    if sure:
        words = "plus and minus two standard uncertainties"
        keys.append(look.key(words, color=look.INK, linewidth=1.0))
    return keys


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


def _grid(figure: Figure, columns: int, count: int) -> list[Axes]:
    left, bottom, width, height = kept(figure, _BOX)
    rows = math.ceil(count / columns)
    gap_x, gap_y = 0.018, 0.62 / float(figure.get_figheight())
    w = (width - gap_x * (columns - 1)) / columns
    h = (height - gap_y * (rows - 1)) / rows
    corners = (
        (left + (i % columns) * (w + gap_x), bottom + (rows - 1 - i // columns) * (h + gap_y))
        for i in range(count)
    )
    return [figure.add_axes((x, y, w, h)) for x, y in corners]


def _panel(
    ax: Axes, changes: Sequence[tuple[float, Change]], title: str, limits: tuple[float, float]
) -> None:
    y = np.array([at for at, _ in changes])
    spread = max(0.06 * float(np.ptp(y)), 30.0)
    ax.set(xlim=(y.min() - spread, y.max() + spread), ylim=limits)
    look.plain_axes(ax, title=title)
    drawing = look.Drawing(ax)
    drawing.line([(x, 0.0) for x in ax.get_xlim()], look.Stroke(look.GROUND, 0.8), zorder=1.0)
    ink = STROKES["A"].color
    known = [(at, c.change, c) for at, c in changes if c.change is not None]
    path = np.array([(at, value) for at, value, _ in known]).reshape(-1, 2)
    if len(path) > 1:
        drawing.line(path, look.Stroke(ink, 1.3), zorder=2.5)
    for at, value, change in known:
        if change.u is not None:
            reach = COVERAGE * change.u
            ends = [(at, value - reach), (at, value + reach)]
            drawing.line(ends, look.Stroke(ink, 1.0), zorder=2.8, gid="uncertainty")
        face = _OTHER if change.status_changed else ink
        ax.plot([at], [value], zorder=3.0, **look.dots("D", 5.0, face, ink))
    for at, change in changes:
        if change.change is None and (change.a is not None or change.b is not None):
            mark = _NOT_KNOWN if change.open_end else _NOT_COMPARABLE
            gid = "not known" if change.open_end else "not comparable"
            ax.plot([at], [0.0], zorder=3.0, gid=gid, **mark)
    if not known:
        known_nowhere = any(change.open_end for _, change in changes)
        drawing.label("not known: open end" if known_nowhere else "not comparable", None)
    for pick in dict.fromkeys((path[:, 1].argmin(), path[:, 1].argmax()) if known else ()):
        value = float(path[pick, 1])
        drawing.label(_signed(value), path[pick], prefer=(0.0, 1.0 if value >= 0.0 else -1.0))
    drawing.finish()


def draw_map(ax: Axes, comparison: Comparison) -> None:
    """Draw the signed distance along A's contour, one row a station."""
    stations = spread_out([s for s in comparison.stations if s.contour is not None], _ROWS)
    if not stations:
        ax.set_axis_off()
        said = f"No distances: {comparison.stations[0].contour_reason}."
        ax.text(0.5, 0.5, said, transform=ax.transAxes, ha="center", fontsize=9.0, wrap=True)
        return
    found = [(station, _along(station)) for station in stations]
    peak = max([1.0, *(float(np.abs(v[k]).max()) for _, (_, v, k, _) in found if k.any())])
    step, base = 1.25 * peak, (len(found) - 1) * 1.25 * peak
    for i, (station, along) in enumerate(found):
        _row(ax, i * step, *along)
        assert station.contour is not None
        extremes = (station.contour.outward, station.contour.inward)
        words = [_signed(extreme.value) for extreme in extremes if extreme is not None]
        _beside(ax, ", ".join(words or ["0 mm"]), (1.0, i * step), 6.0, ("axes fraction", "data"))
    lengths = np.concatenate([arc for _, (arc, *_) in found])
    low, high = float(lengths.min()), float(lengths.max())
    names = [f"y = {station.y:g}".replace("-", "\N{MINUS SIGN}") for station, _ in found]
    ax.set_yticks([i * step for i in range(len(found))], names)
    ax.set(ylim=(-1.1 * step, base + 0.9 * step), xlim=(low, high))
    below = "length along A's contour from its foremost bumper point, upward positive [mm]"
    look.plain_axes(ax, below, off="top right left")
    nice, at = _nice(peak), low + 0.012 * (high - low)
    ax.plot([at, at], [base, base + nice], color=look.INK, linewidth=2.0, clip_on=False)
    _beside(ax, f"{nice:g} mm", (at, base + nice / 2.0), 5.0, "data")


def _beside(
    ax: Axes, text: str, at: tuple[float, float], off: float, units: str | tuple[str, str]
) -> None:
    ax.annotate(
        text, at, (off, 0.0), units, "offset points", va="center", fontsize=look.SMALL,
        annotation_clip=False, gid=look.LABEL,
    )  # fmt: skip


def _along(
    station: StationComparison,
) -> tuple[Array, Array, Mask, dict[str, tuple[float, bool]]]:
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
    arc: Array,
    values: Array,
    known: Mask,
    marks: dict[str, tuple[float, bool]],
) -> None:
    ax.axhline(base, color=look.GROUND, linewidth=0.6, zorder=1.0)
    level = np.where(known, values, 0.0)
    hatched: dict[str, Any] = {"hatch": "////", "edgecolor": look.MUTED}
    for ends, color, more in (
        (np.maximum(level, 0.0), OUTSIDE, {}), (np.minimum(level, 0.0), INSIDE, hatched),
    ):  # fmt: skip
        ax.fill_between(arc, base, base + ends, facecolor=color, linewidth=0.0, zorder=2.0, **more)
    ax.plot(arc, base + np.where(known, values, np.nan), color=look.INK, linewidth=0.8, zorder=2.5)
    for name, (at, hollow) in marks.items():
        stroke = look.LINE_STYLES[name]
        face = look.PAPER if hollow else stroke.color
        ax.plot([at], [base], zorder=3.0, **look.dots(stroke.marker, 4.5, face, stroke.color))


def draw_plan(figure: Figure, overlay: SurfaceOverlay, *, symmetric: bool) -> None:
    """Draw the outlines of both surfaces in plan view, one panel a height."""
    count = len(overlay.heights_mm)
    axes = _grid(figure, 2, count)
    y = np.array([row.y for row in overlay.rows])
    curves = np.array([[row.a, row.b] for row in overlay.rows], dtype=np.float64).transpose(1, 2, 0)
    every = curves[~np.isnan(curves)]
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 100.0)
    reach = float(np.abs(y).max()) * 1.05
    for k, (ax, height) in enumerate(zip(axes, overlay.heights_mm, strict=True)):
        for name, curve in zip("AB", curves, strict=True):
            options = STROKES[name].options() | {"linewidth": 1.8}
            for sign in (1.0, -1.0) if symmetric else (1.0,):
                ax.plot(sign * y, curve[k], **options)
        ax.set_xlim(-reach if symmetric or y.min() < 0.0 else -0.05 * reach, reach)
        margin = 0.06 * max(high - low, 50.0)
        ax.set_ylim(high + margin, low - margin)
        below = "station y [mm], right positive" if k + 2 >= count else None
        left = None if k % 2 else "foremost x [mm]"
        look.plain_axes(ax, below, left, title=f"Height {height:g} mm")
        if np.isnan(curves[:, k]).all(axis=1).any():
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

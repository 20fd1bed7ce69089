"""Side view with the regions of findings marked along the skin, numbered to the list beside it.

A finding shows where it lies in this section: a band along the skin for a stretch, a short
band for a point. Numbers are those of the whole list of findings, so that figures, tables and
pages speak of the same one.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import CAUTION_SHORT
from frontcheck.findings.finding import arc_of
from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.contour_drawing import draw_contour, draw_ground
from frontcheck.outputs.figures.drawing import Drawing, fit_limits, new_figure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.surface.section import Section

_SIZE: Final = (14.0, 8.6)
_SIDE: Final = (0.048, 0.115, 0.532, 0.775)
_LIST: Final = (0.595, 0.06, 0.395, 0.865)
_SKIN: Final = 16.0
_POINT_MM: Final = 36.0
"""Length of the band that stands for a point."""
_CLEAR_MM: Final = 16.0
_LANE_MM: Final = 26.0
"""First band this far off the skin, and the next ones each so much farther."""
_APART_MM: Final = 12.0
"""Least gap between two bands in one lane, along the skin."""
_NEAR_MM: Final = 50.0
"""Points of a region this close to the station, across the vehicle, count as in the section."""
_WRAP: Final = 78

TOPIC_STYLES: Final = {
    "leg": ("#1d2b3a", "#8fa5b8", ""),
    "body": ("#a8602a", look.PAPER, "////"),
    "head": ("#2f625a", look.PAPER, "...."),
    "gap": ("#77738a", look.PAPER, "xxxx"),
}
"""Rim, fill and hatch of the bands by topic: told apart by fill and hatch in grey print."""


@dataclass(frozen=True)
class Band:
    """Where one finding lies along the contour of a section."""

    number: int  # Its number in the whole list, from 1
    finding: Finding  # The finding
    low: float  # Lengths along the contour from its first point [mm]
    high: float  # Lengths along the contour from its first point [mm]


def findings_view(
    lined: LinedFront, y: float, findings: Sequence[Finding], figure: Figure | None = None
) -> Figure:
    """Draw one station with the findings that touch it.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    y : float
        Station [mm].
    findings : sequence of Finding
        All findings of the front, in the order in which they are numbered from 1.
    figure : matplotlib.figure.Figure, optional
        An empty figure to draw on; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Raises
    ------
    KeyError
        If nothing was measured at that station.
    """
    section = lined.front.section(y)
    bands = bands_of(section, findings, symmetric=lined.front.symmetric)
    with look.house_style():
        figure = new_figure(*_SIZE) if figure is None else figure
        side, beside = figure.add_axes(_SIDE), figure.add_axes(_LIST)
        draw_bands(side, section, bands)
        _write_list(beside, bands, len(findings))
        name = look.printable(lined.front.name, 60)
        figure.text(
            _SIDE[0], 0.975, f"{name}: findings at station y = {y:g} mm",
            fontsize=look.TITLE, fontweight="bold", va="top", gid="title",
        )  # fmt: skip
        figure.text(
            _SIDE[0], 0.942,
            f"Rule set {lined.rules.id}.  Bands stand off the skin where a finding lies; "
            "drawn to scale.",
            fontsize=look.TEXT + 1.0, va="top", color=look.MUTED,
        )  # fmt: skip
        figure.legend(
            handles=topic_legend(bands), loc="lower left", bbox_to_anchor=(_SIDE[0], 0.045),
            ncols=4, frameon=False, fontsize=look.TEXT, borderaxespad=0.0,
        )  # fmt: skip
        figure.text(
            0.5, 0.012, CAUTION_SHORT, fontsize=look.TEXT + 1.0, va="bottom", ha="center",
            fontstyle="italic", gid="caution",
        )  # fmt: skip
        return figure


def bands_of(
    section: Section, findings: Sequence[Finding], *, symmetric: bool = False
) -> list[Band]:
    """Return where findings lie along the contour of one section."""
    found = []
    for number, finding in enumerate(findings, start=1):
        arcs = _arcs(section, symmetric, finding)
        if arcs is None:
            continue
        low, high = arcs
        short = _POINT_MM - (high - low)
        if short > 0.0:
            low, high = low - short / 2.0, high + short / 2.0
        found.append(Band(number, finding, max(low, 0.0), min(high, section.length)))
    return found


def _arcs(section: Section, symmetric: bool, finding: Finding) -> tuple[float, float] | None:
    """Where a finding lies along the contour of this section; None when it does not."""
    if finding.station == section.y and finding.region.arc_mm is not None:
        return finding.region.arc_mm
    points = np.array(finding.region.outline_mm).reshape(-1, 3)
    away = np.abs(points[:, 1] - section.y)
    if symmetric:
        away = np.minimum(away, np.abs(points[:, 1] + section.y))
    here = points[away <= _NEAR_MM]
    if len(here) == 0:
        return None
    arcs = [arc_of(section, (x, z)) for x, _, z in here.tolist()]
    return min(arcs), max(arcs)


def _lanes(bands: Sequence[Band]) -> dict[int, int]:
    """Lane of every band, short bands first: the innermost in which it overlaps none."""
    lanes: list[list[Band]] = []
    found: dict[int, int] = {}
    for band in sorted(bands, key=lambda b: (b.high - b.low, b.low, b.number)):
        lane = 0
        while lane < len(lanes) and any(
            band.low < other.high + _APART_MM and other.low < band.high + _APART_MM
            for other in lanes[lane]
        ):
            lane += 1
        if lane == len(lanes):
            lanes.append([])
        lanes[lane].append(band)
        found[band.number] = lane
    return found


def draw_bands(ax: Axes, section: Section, bands: Sequence[Band]) -> None:
    """Draw a section with numbered bands along it."""
    from matplotlib.patches import Polygon

    points, lanes = section.points, _lanes(bands)
    deepest = _CLEAR_MM + _LANE_MM * (max(lanes.values(), default=-1) + 1)
    low, high = points.min(axis=0), points.max(axis=0)
    fit_limits(
        ax, (low[0] - deepest, 0.0, high[0], high[1] + deepest), (0.35, 0.35, 0.2, 0.35)
    )  # fmt: skip
    drawing = Drawing(ax)
    draw_contour(drawing, section, _SKIN)
    draw_ground(drawing, *ax.get_xlim())
    for band in bands:
        clear = _CLEAR_MM + _LANE_MM * lanes[band.number]
        strip = _strip(section, band, clear, clear + 0.62 * _LANE_MM)
        rim, fill, hatch = TOPIC_STYLES[band.finding.rule.topic]
        ax.add_patch(
            Polygon(
                strip, facecolor=fill, edgecolor=rim, hatch=hatch, linewidth=0.8, zorder=2.0,
                gid=f"finding {band.number}",
            )
        )  # fmt: skip
        half = len(strip) // 2
        drawing.avoid(strip)
        middle = (strip[half // 2] + strip[-1 - half // 2]) / 2.0
        drawing.label(
            str(band.number), (float(middle[0]), float(middle[1])), prefer=(-1.0, 1.0),
            size=look.TEXT, rank=band.number,
        )  # fmt: skip
    drawing.finish()
    ax.set_xlabel("setback x [mm]")
    ax.set_ylabel("height z [mm]")
    ax.spines[["top", "right"]].set_visible(False)


def _strip(section: Section, band: Band, near: float, far: float) -> NDArray[np.float64]:
    """Outline of a strip along the air side of the contour: out on the near side, back far."""
    arcs = section.arc_lengths
    inner = arcs[(arcs > band.low) & (arcs < band.high)]
    stops = np.unique(np.concatenate([[band.low], inner, [band.high]]))
    stops = np.unique(np.concatenate([stops, np.arange(band.low, band.high, 8.0)]))
    # Normals smoothed over the width of the strip, so that it does not fold at a bend.
    reach = 0.5 * far + 4.0
    ahead = section.at_arc_length(np.minimum(stops + reach, section.length))
    behind = section.at_arc_length(np.maximum(stops - reach, 0.0))
    along = ahead - behind
    along /= np.hypot(*along.T)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    at = section.at_arc_length(stops)
    return np.concatenate([at + near * normal, (at + far * normal)[::-1]])


def topic_legend(bands: Sequence[Band]) -> list[Any]:
    """Return legend keys for the topics that occur."""
    from matplotlib.patches import Patch

    used = {band.finding.rule.topic for band in bands}
    return [
        Patch(
            facecolor=fill,
            edgecolor=rim,
            hatch=hatch,
            label=f"{topic} findings" if topic != "gap" else "gaps",
        )
        for topic, (rim, fill, hatch) in TOPIC_STYLES.items()
        if topic in used
    ]


def _write_list(ax: Axes, bands: Sequence[Band], total: int) -> None:
    ax.set_axis_off()
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(0.0, 1.0)
    entries = [(band, _entry(band.finding)) for band in bands]
    lines = sum(2.35 + text.count("\n") for _, text in entries) + 2.0
    step = min(1.0 / max(lines, 1), 0.024)
    size = min(look.TEXT, 0.72 * step * _SIZE[1] * _LIST[3] * 72.0)
    at = 1.0
    for band, text in entries:
        color, _, _ = TOPIC_STYLES[band.finding.rule.topic]
        ax.text(0.0, at, f"{band.number}", fontsize=size, fontweight="bold", va="top", color=color)
        ax.text(
            0.055, at, band.finding.rule.title, fontsize=size, fontweight="bold", va="top",
            color=look.INK,
        )  # fmt: skip
        ax.text(0.055, at - step, text, fontsize=size, va="top", color=look.INK, linespacing=1.12)
        at -= step * (2.35 + text.count("\n"))
    rest = total - len(bands)
    if rest or not bands:
        said = "No finding touches this section." if not bands else ""
        more = f"{rest} further findings lie at other stations." if rest else ""
        ax.text(
            0.0, at - 0.3 * step, f"{said} {more}".strip(), fontsize=size, va="top",
            color=look.MUTED, fontstyle="italic",
        )  # fmt: skip


def _entry(finding: Finding) -> str:
    """Code, value, threshold and people of a finding, in a line or two."""
    rule, limit = finding.rule, finding.limit
    text = rule.code
    if finding.value is not None:
        unit = f" {rule.unit}" if rule.unit else ""
        if isinstance(limit, tuple):
            text += (
                f": {finding.value:.4g}{unit}, {rule.comparison} {limit[0]:.4g} to {limit[1]:.4g}"
            )
        elif limit is not None:
            text += f": {finding.value:.4g}{unit} {rule.comparison} {limit:.4g}{unit}"
        else:
            text += f": {finding.value:.4g}{unit}"
    if finding.station is not None:
        text += f", at y = {finding.station:g} mm"
    if finding.person:
        text += f"; {finding.person}"
    return textwrap.fill(text, _WRAP)

"""Side view with the regions of findings marked along the skin, numbered to the list beside it.

A finding shows where it lies in this section: a band along the skin for a stretch, a short
band for a point. Numbers are those of the whole list of findings, so that figures, tables and
pages speak of the same one.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

from frontcheck.findings.bands import bands_of
from frontcheck.outputs.figures import drawing as look
from frontcheck.outputs.figures.drawing import (
    Drawing,
    fit_limits,
    foot,
    head,
    new_figure,
    plain_axes,
)
from frontcheck.outputs.figures.side_drawing import draw_contour, draw_ground

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.findings.bands import Band
    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.surface.section import Section

_SIZE: Final = (14.0, 8.6)
_SIDE: Final = (0.048, 0.115, 0.532, 0.775)
_LIST: Final = (0.595, 0.06, 0.395, 0.865)
_SKIN: Final = 16.0
_CLEAR_MM: Final = 16.0
_WRAP: Final = 78

TOPIC_STYLES: Final = {
    "leg": ("#1d2b3a", "#8fa5b8", ""),
    "body": ("#a8602a", look.PAPER, "////"),
    "head": ("#2f625a", look.PAPER, "...."),
    "gap": ("#77738a", look.PAPER, "xxxx"),
}
"""Rim, fill and hatch of the bands by topic: told apart by fill and hatch in grey print."""


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

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> figure = fc.findings_view(result, 0, result.findings)
    >>> len(figure.axes) > 0
    True
    """
    section = lined.front.section(y)
    bands = bands_of(section, findings, symmetric=lined.front.symmetric)
    with look.house_style():
        figure = new_figure(*_SIZE) if figure is None else figure
        side, beside = figure.add_axes(_SIDE), figure.add_axes(_LIST)
        draw_bands(side, section, bands)
        _write_list(beside, bands, len(findings))
        name = look.printable(lined.front.name, 60)
        head(
            figure,
            f"{name}: findings at station y = {y:g} mm",
            f"Rule set {lined.rules.id}.  Bands stand off the skin where a finding lies; drawn to "
            "scale.",
            left=_SIDE[0],
        )
        figure.legend(
            handles=topic_legend(bands), loc="lower left", bbox_to_anchor=(_SIDE[0], 0.045),
            ncols=4, frameon=False, fontsize=look.TEXT, borderaxespad=0.0,
        )  # fmt: skip
        foot(figure)
        return figure


def draw_bands(ax: Axes, section: Section, bands: Sequence[Band]) -> None:
    """Draw a section with numbered bands along it."""
    from matplotlib.patches import Polygon

    deepest = max((band.reach for band in bands), default=_CLEAR_MM)
    low, high = section.points.min(axis=0), section.points.max(axis=0)
    fit_limits(
        ax, (low[0] - deepest, 0.0, high[0], high[1] + deepest), (0.35, 0.35, 0.2, 0.35)
    )  # fmt: skip
    drawing = Drawing(ax)
    draw_contour(drawing, section, _SKIN)
    draw_ground(drawing, *ax.get_xlim())
    for band in bands:
        strip = band.strip
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
    plain_axes(ax, "setback x [mm]", "height z [mm]")


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

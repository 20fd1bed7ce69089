"""What a side view and its enlarged face share: contour by part, skin, ground, words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import style as look

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.lines.station import LinePoint
    from frontcheck.outputs.figures.drawing import Drawing
    from frontcheck.surface.section import Section

__all__ = [
    "LINE_NAMES",
    "draw_contour",
    "draw_ground",
    "millimetres",
    "part_runs",
    "status_words",
]

LINE_NAMES: Final = {
    "LBRL": "Lower bumper reference line",
    "UBRL": "Upper bumper reference line",
    "BLERL": "Bonnet leading edge reference line",
    "BRRL": "Bonnet rear reference line",
}

_HATCH_STEP: Final = 45.0
_HATCH_DEPTH: Final = 28.0


def millimetres(value: float, digits: int = 0) -> str:
    """Return a length in words, such as ``34.5 mm``."""
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "\N{MINUS SIGN}") + " mm"


def status_words(line: LinePoint, upper_end_wad: float) -> str:
    """Return what a label says of a line that was not formed in the plain way."""
    words = {
        "edge_end": "edge end: touched with the tip",
        "lower_end": "lower end of the edge touches",
        "wad_1000": f"WAD {upper_end_wad:g} taken instead",
        "retaken_40deg": f"retaken at {line.edge_angle_deg or 0.0:g} deg",
    }.get(line.status, "")
    if not words and line.formed and line.reason:
        return "see note"
    return words


def part_runs(section: Section) -> list[tuple[str, NDArray[np.float64]]]:
    """Cut the contour into runs of one part; a stretch between two parts is shared half-way."""
    points = section.points
    parts = section.parts or ("",) * len(points)
    runs: list[tuple[str, NDArray[np.float64]]] = []
    current = [points[0]]
    for i in range(1, len(points)):
        if parts[i] != parts[i - 1]:
            middle = (points[i - 1] + points[i]) / 2.0
            current.append(middle)
            runs.append((parts[i - 1], np.array(current)))
            current = [middle]
        current.append(points[i])
    runs.append((parts[-1], np.array(current)))
    return runs


def draw_contour(drawing: Drawing, section: Section, skin: float) -> tuple[str, ...]:
    """Draw the contour by part, a tinted strip on its body side, and its points."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Polygon
    from shapely import LineString, get_parts

    strip = LineString(section.points).buffer(-skin, single_sided=True, join_style="mitre")
    for piece in get_parts(strip):
        drawing.ax.add_patch(
            Polygon(
                np.asarray(piece.exterior.coords),
                facecolor=look.SKIN,
                edgecolor="none",
                zorder=0.5,
            )
        )
    runs = part_runs(section)
    # An unbroken hairline below, so that dashes of a part never look like gaps in the body.
    drawing.line(section.points, look.Stroke(look.INK, 0.7), zorder=2.9)
    for part, points in runs:
        drawing.line(points, look.PART_STYLES[part], zorder=3.0, avoid=False, gid=f"part {part}")
    drawing.ax.add_line(
        Line2D(
            *section.points.T, linestyle="none", marker=".", markersize=2.6, markeredgewidth=0.0,
            color=look.PAPER, zorder=3.2, gid="measured points",
        )
    )  # fmt: skip
    return tuple(dict.fromkeys(part for part, _ in runs))


def draw_ground(drawing: Drawing, x_low: float, x_high: float) -> None:
    """Draw the ground with strokes below it."""
    from matplotlib.collections import LineCollection

    drawing.line([(x_low, 0.0), (x_high, 0.0)], look.Stroke(look.GROUND, 1.6), gid="ground")
    feet = np.arange(x_low + _HATCH_DEPTH, x_high, _HATCH_STEP)
    strokes = [[(x, 0.0), (x - _HATCH_DEPTH, -_HATCH_DEPTH)] for x in feet]
    drawing.ax.add_collection(
        LineCollection(strokes, colors=look.GROUND, linewidths=0.7, zorder=1.0), autolim=False
    )
    drawing.avoid(np.array([(x_low, -_HATCH_DEPTH / 2), (x_high, -_HATCH_DEPTH / 2)]))

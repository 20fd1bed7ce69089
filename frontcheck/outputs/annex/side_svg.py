"""Side views for the page, as SVG drawn from the same tools and strokes as the figures.

All stations share one frame and scale, so that moving from one to the next shows how the shape
changes. Names of lines stand in a column at the left and a row at the top, in order of height
and of setback: they hardly move between stations and cannot overlap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.lines.tool_poses import SpherePose
from frontcheck.outputs.annex.annex_text import STATUS_WORDS, all_points, number, point_name
from frontcheck.outputs.figures import style as look
from frontcheck.outputs.figures.contour_drawing import part_runs
from frontcheck.outputs.figures.findings_figure import bands_of
from frontcheck.outputs.figures.side_drawing import edge_words, edges_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from frontcheck.findings.finding import Finding
    from frontcheck.front.front import Front
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section

_WIDTH: Final = 1000.0
"""Width of the drawing in its own units; letters are 15 of them high."""
_LEFT: Final = 172.0
_RIGHT: Final = 24.0
_TOP: Final = 62.0
_BOTTOM: Final = 52.0
_ROW: Final = 19.0
_LABEL: Final = 92.0
_NUMBER_OFF: Final = 26.0
_PT: Final = 1.15
"""Units per point of line width."""


@dataclass(frozen=True)
class Frame:
    """What part of the side view is shown, and how large."""

    x_low: float  # Setback at the left edge and height at the upper edge of the drawn area [mm]
    z_high: float  # Setback at the left edge and height at the upper edge of the drawn area [mm]
    scale: float  # Drawing units per mm
    height: float  # Height of the drawing in its units

    @property
    def view_box(self) -> str:
        """The attribute of the same name."""
        return f"0 0 {_WIDTH:g} {_short(self.height)}"

    def at(self, points: NDArray[np.float64] | Sequence[Sequence[float]]) -> NDArray[np.float64]:
        """Return points in drawing units."""
        pairs = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        right = _LEFT + (pairs[:, 0] - self.x_low) * self.scale
        return np.column_stack([right, _TOP + (self.z_high - pairs[:, 1]) * self.scale])


def frame_of(front: Front) -> Frame:
    """Return the frame that holds every section of a front."""
    x_low = min(float(section.x.min()) for section in front.sections) - 260.0
    x_high = max(float(section.x.max()) for section in front.sections)
    z_high = max(1320.0, *(float(section.z.max()) + 40.0 for section in front.sections))
    scale = (_WIDTH - _LEFT - _RIGHT) / (x_high - x_low)
    return Frame(x_low, z_high, scale, _TOP + z_high * scale + _BOTTOM)


def base_drawing(frame: Frame, section: Section) -> str:
    """Return ground, scale and contour of one section."""
    parts = [_ground(frame)]
    parts.append(_path(frame, section.points, look.Stroke(look.INK, 0.9)))
    for part, points in part_runs(section):
        parts.append(_path(frame, points, look.PART_STYLES[part], title=part))
    return "".join(parts)


def band_marks(
    frame: Frame, section: Section, findings: Sequence[Finding], *, symmetric: bool
) -> str:
    """Return a band along the skin for every finding that touches a section."""
    marks = []
    for band in bands_of(section, findings, symmetric=symmetric):
        arcs = section.arc_lengths
        inner = arcs[(arcs > band.low) & (arcs < band.high)]
        stops = np.concatenate([[band.low], inner, [band.high]])
        points = frame.at(section.at_arc_length(stops))
        x, y = _beside(frame, section, (band.low + band.high) / 2.0)
        marks.append(
            f'<g class="band" data-finding="{band.number}"><path d="{_d(points)}"/>'
            f'<circle cx="{_short(x)}" cy="{_short(y)}" r="12"/>'
            f'<text x="{_short(x)}" y="{_short(y + 5)}">{band.number}</text></g>'
        )
    return "".join(marks)


def _beside(frame: Frame, section: Section, arc: float) -> tuple[float, float]:
    """A place in the air beside the contour, for a number."""
    reach = 20.0
    ends = frame.at(section.at_arc_length(
        np.array([max(arc - reach, 0.0), min(arc + reach, section.length)])
    ))  # fmt: skip
    along = ends[1] - ends[0]
    off = _NUMBER_OFF / float(np.hypot(*along))
    at = frame.at(section.at_arc_length(np.array([arc])))[0]
    # The body is on the right of the way along the contour, as seen in the drawing.
    return float(at[0] + off * along[1]), float(at[1] - off * along[0])


def tape_drawing(frame: Frame, screening: Screening, y: float) -> str:
    """Return the tape to the farthest mark of one station, to lie under the contour."""
    marks = [mark for mark in screening.station(y).wads if mark.tape is not None]
    if not marks:
        return ""
    farthest = max(marks, key=lambda mark: mark.distance).tape
    assert farthest is not None
    way = farthest.points
    return _path(frame, way, look.Stroke(look.TAPE_RIM, 7.4), "tape rim") + _path(
        frame, way, look.Stroke(look.TAPE, 6.0), "tape"
    )


def line_marks(frame: Frame, screening: Screening, y: float) -> str:
    """Return straight edges, sphere and lines of one station by one rule set."""
    station = screening.station(y)
    parts = []
    for _, pose in edges_of(station):
        parts.append(
            _path(
                frame, [pose.foot, pose.tip], look.Stroke(look.MUTED, 1.2), title=edge_words(pose)
            )
        )
    sphere = station.BRRL.pose
    if isinstance(sphere, SpherePose):
        (x, z), radius = frame.at([sphere.centre])[0], sphere.radius * frame.scale
        parts.append(
            f'<circle cx="{_short(x)}" cy="{_short(z)}" r="{_short(radius)}" fill="none" '
            f'stroke="{look.MUTED}" stroke-width="1.4"/>'
        )
    points = [point for point in all_points(station) if point.formed]
    places = {p.name: frame.at([(p.x or 0.0, p.z or 0.0)])[0] for p in points}
    beside = [p for p in points if p.name in ("LBRL", "UBRL", "BLERL")]
    above = [p for p in points if p not in beside]
    rows = _spread([float(places[p.name][1]) for p in beside], _ROW * 1.5, _TOP, frame.height)
    columns = _spread(
        [float(places[p.name][0]) for p in above], _LABEL, _LEFT + 40.0, _WIDTH - _LABEL / 2.0
    )
    for point, row in zip(beside, rows, strict=True):
        parts.append(_mark(point, places[point.name], (_LEFT - 34.0, row), "end"))
    for point, column in zip(above, columns, strict=True):
        parts.append(_mark(point, places[point.name], (column, _TOP - 14.0), "middle"))
    return "".join(parts)


def _mark(
    point: LinePoint | WadPoint, at: NDArray[np.float64], label: tuple[float, float], anchor: str
) -> str:
    value = f"height {number(point.z)} mm, setback {number(point.x)} mm"
    status = f"{point.status}: {point.reason or STATUS_WORDS[point.status]}"
    if getattr(point, "bridged", None):
        status += "; the tape arrives through air, over a hollow"
    name = point_name(point.name)
    x, y = (_short(float(c)) for c in at)
    tx, ty = _short(label[0]), _short(label[1])
    start = (tx, _short(label[1] + 8.0)) if anchor == "middle" else (_short(label[0] + 5.0), ty)
    style = look.LINE_STYLES.get(point.name)
    colour = style.color if style else look.TAPE_RIM
    lines = (point.name, f"{number(point.z, 0)} high")
    if anchor == "end":
        words = f'<text x="{tx}" y="{_short(label[1] + 5.0)}" text-anchor="end">{" ".join(lines)}'
    else:
        words = (
            f'<text x="{tx}" y="{_short(label[1] - 14.0)}" text-anchor="middle">{lines[0]}'
            f'<tspan x="{tx}" dy="17">{lines[1]}</tspan>'
        )
    spoken = f"{name}: {value}; {status}"
    return (
        f'<g class="mark" tabindex="0" role="img" aria-label="{escape(spoken)}" '
        f'data-line="{escape(point.name)}" data-name="{escape(name)}" '
        f'data-value="{escape(value)}" data-status="{escape(status)}">'
        f'<path class="leader" d="M{start[0]} {start[1]}L{x} {y}"/>'
        f'<circle class="reach" cx="{x}" cy="{y}" r="16"/>'
        f'<circle class="dot" cx="{x}" cy="{y}" r="6.5" stroke="{colour}"/>'
        f"{words}</text></g>"
    )


def _spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as can be to those wanted, a gap apart, in the same order, within bounds."""
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i], i))
    found = [0.0] * len(wanted)
    at = -math.inf
    for i in order:
        at = max(at + gap, wanted[i], low)
        found[i] = at
    at = high
    for i in reversed(order):
        found[i] = min(found[i], at)
        at = found[i] - gap
    return found


def _ground(frame: Frame) -> str:
    y = float(frame.at([(0.0, 0.0)])[0, 1])
    words = [_stretch(f"M{_LEFT:g} {_short(y)}H{_WIDTH - _RIGHT:g}", look.GROUND, 2)]
    first = math.ceil(frame.x_low / 250.0) * 250
    last = int((_WIDTH - _RIGHT - _LEFT) / frame.scale + frame.x_low)
    for x in range(first, last + 1, 250):
        at = _short(float(frame.at([(x, 0.0)])[0, 0]))
        words.append(_stretch(f"M{at} {_short(y)}v7", look.MUTED, 1))
        words.append(
            f'<text class="tick" x="{at}" y="{_short(y + 24.0)}" text-anchor="middle">'
            f"{number(x, 0)}</text>"
        )
    words.append(
        f'<text class="tick" x="{_WIDTH - _RIGHT:g}" y="{_short(y + 45.0)}" text-anchor="end">'
        "setback x [mm]; heights above the ground line</text>"
    )
    return "".join(words)


def _stretch(d: str, color: str, width: int) -> str:
    return f'<path d="{d}" stroke="{color}" stroke-width="{width}"/>'


def _path(
    frame: Frame,
    points: NDArray[np.float64] | Sequence[Sequence[float]],
    stroke: look.Stroke,
    kind: str = "",
    title: str = "",
) -> str:
    width = stroke.width * _PT
    dashes = ""
    if stroke.dashes:
        dashes = f' stroke-dasharray="{" ".join(_short(d * width) for d in stroke.dashes)}"'
    name = f' class="{kind}"' if kind else ""
    inside = f"<title>{escape(title)}</title>" if title else ""
    return (
        f'<path{name} d="{_d(frame.at(points))}" fill="none" stroke="{stroke.color}" '
        f'stroke-width="{_short(width)}"{dashes} stroke-linejoin="round">{inside}</path>'
    )


def _d(points: Iterable[Sequence[float]]) -> str:
    return "M" + "L".join(f"{_short(x)} {_short(y)}" for x, y in points)


def _short(value: float) -> str:
    text = f"{float(value):.1f}"
    return text[:-2] if text.endswith(".0") else text

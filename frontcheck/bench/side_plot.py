"""The side section on the page: what is drawn, in which colours, and where it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from bokeh.models import (
    BoxZoomTool,
    ColumnDataSource,
    HoverTool,
    PanTool,
    PointDrawTool,
    Range1d,
    ResetTool,
    WheelZoomTool,
)  # fmt: skip
from bokeh.models.annotations import LabelSet
from bokeh.plotting import figure

from frontcheck.bench.model import FEATURES
from frontcheck.findings.bands import strip_along
from frontcheck.findings.finding import arc_of
from frontcheck.lines.statuses import UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_drawing import edges_of, part_runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.bench.model import Step
    from frontcheck.bench.page_words import Lengths
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.station import Station
    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section

WIDE: Final = 690
HIGH: Final = 410
"""Size of the drawing [px]: the page holds it and its numbers at 1280 x 800."""
PROPOSED: Final = "#b4501e"
"""Of moved points, which are diamonds besides: told apart by form, not by colour alone."""
OTHER: Final = "#0b62a8"
_AREAS: Final = {"child": "#3d7068", "adult": "#84577f"}
_TICK_MM: Final = 22.0
_NEAR_MM: Final = 6.0
_FAR_MM: Final = 30.0
_AHEAD_MM: Final = 330.0
_MARKS: Final = {
    "LBRL": "inverted_triangle",
    "UBRL": "circle",
    "BLERL": "square",
    "BRRL": "diamond",
}


class SidePlot:
    """The drawing and the sources behind it; lengths in it are in the unit of the page."""

    def __init__(self, lengths: Lengths) -> None:
        self.scale, unit = lengths.scale, lengths.unit
        self.unit = unit
        self.sources = {name: ColumnDataSource(dict.fromkeys(columns, ())) for name, columns in {
            "runs": ("xs", "ys", "color", "width"),
            "base": ("x", "y"),
            "other": ("x", "y"),
            "points": ("x", "y", "marker", "color", "size", "state", "part", "number"),
            "features": ("x", "y", "name"),
            "edges": ("xs", "ys", "color"),
            "tape": ("x", "y"),
            "ticks": ("xs", "ys"),
            "tick_words": ("x", "y", "words"),
            "lines": ("x", "y", "marker", "color", "fill", "words", "across", "side"),
            "areas": ("xs", "ys", "color", "hatch"),
            "area_words": ("x", "y", "words"),
        }.items()}  # fmt: skip
        self.across, self.up = Range1d(start=0.0, end=1.0), Range1d(start=0.0, end=1.0)
        self.figure = figure(
            frame_width=WIDE, frame_height=HIGH, toolbar_location="right", tools="",
            x_range=self.across, y_range=self.up, name="side",
            x_axis_label=f"setback [{unit}], rearward to the right",
            y_axis_label=f"height above ground [{unit}]",
        )  # fmt: skip
        self._dress()
        self._draw()

    def _dress(self) -> None:
        figure = self.figure
        figure.background_fill_color = figure.border_fill_color = look.PAPER
        figure.outline_line_color = None
        figure.min_border = 4
        figure.toolbar.logo = None
        for axis in (*figure.xaxis, *figure.yaxis):
            axis.axis_label_text_font_style = "normal"
            axis.axis_label_text_font_size = axis.major_label_text_font_size = "12px"
            axis.axis_label_text_color = axis.major_label_text_color = look.INK
            axis.axis_line_color = axis.major_tick_line_color = look.MUTED
            axis.minor_tick_line_color = None
            axis.axis_label_standoff = 2
        figure.grid.grid_line_color = "#e6e4df"

    def _draw(self) -> None:
        plot, source = self.figure, self.sources
        ground = look.GROUND
        plot.hspan(y=0.0, line_color=ground, line_width=2)
        plot.hstrip(
            y0=[-45.0 * self.scale], y1=[0.0], fill_alpha=0.0, line_alpha=0.0,
            hatch_pattern="right_diagonal_line", hatch_color=ground, hatch_alpha=0.6, hatch_scale=8,
        )  # fmt: skip
        areas = plot.patches(
            "xs", "ys", source=source["areas"], fill_color="color", fill_alpha=0.25,
            line_color="color", hatch_pattern="hatch", hatch_color="color", hatch_alpha=0.5,
        )  # fmt: skip
        areas.level = "underlay"
        plot.line("x", "y", source=source["tape"], line_color=look.TAPE, line_width=5)
        plot.multi_line("xs", "ys", source=source["edges"], line_color="color", line_width=1.2,
                        line_alpha=0.8)  # fmt: skip
        plot.line("x", "y", source=source["base"], line_color=look.MUTED, line_width=1.4,
                  line_dash="dotted")  # fmt: skip
        plot.line("x", "y", source=source["other"], line_color=OTHER, line_width=2.2,
                  line_dash="dashed")  # fmt: skip
        plot.multi_line("xs", "ys", source=source["runs"], line_color="color", line_width="width")
        plot.multi_line(
            "xs", "ys", source=source["ticks"], line_color=look.TAPE_RIM, line_width=2.5
        )
        features = plot.scatter(
            "x", "y", source=source["features"], size=17, marker="square", fill_color=look.PAPER,
            fill_alpha=0.25, line_color=PROPOSED, line_width=2, name="features",
        )  # fmt: skip
        points = plot.scatter(
            "x", "y", source=source["points"], size="size", marker="marker", fill_color="color",
            line_color=look.PAPER, line_width=0.8, name="points",
        )  # fmt: skip
        plot.scatter(
            "x", "y", source=source["lines"], size=11, marker="marker", fill_color="fill",
            line_color="color", line_width=2,
        )  # fmt: skip
        for renderer in (points, features):  # what is taken hold of pales nothing else
            renderer.nonselection_glyph = renderer.glyph
        small = {"text_font_size": "12px", "text_color": look.INK}
        box = {"background_fill_color": look.PAPER, "background_fill_alpha": 0.7}
        for name, how in (
            ("lines", {"x_offset": "across", "y_offset": -6, "text_align": "side", **box}),
            ("tick_words", {"x_offset": 3, "y_offset": 8, "text_color": look.TAPE_RIM}),
            ("area_words", {"y_offset": -14, "text_align": "center", "text_baseline": "top"}),
        ):
            style: dict[str, Any] = small | how
            plot.add_layout(LabelSet(x="x", y="y", text="words", source=source[name], **style))
        self.handles = {"points": points, "features": features}
        self.draw_tool = PointDrawTool(add=False, drag=True, description="Drag", renderers=[])
        told = f"setback @x{{0.0[00]}}, height @y{{0.0[00]}} {self.unit}"
        self.hovers = {
            "points": HoverTool(renderers=[points], tooltips=f"@number @part, @state: {told}"),
            "features": HoverTool(renderers=[features], tooltips=f"@name: {told}"),
        }
        wheel = WheelZoomTool()
        plot.add_tools(self.draw_tool, PanTool(), wheel, BoxZoomTool(match_aspect=True),
                       ResetTool(), *self.hovers.values())  # fmt: skip
        plot.toolbar.active_drag = self.draw_tool
        plot.toolbar.active_tap = self.draw_tool

    def drags(self, what: str) -> None:
        """Have a drag take hold of ``features`` or of ``points``."""
        self.draw_tool.update(renderers=[self.handles[what]])
        for name, hover in self.hovers.items():
            hover.renderers = [self.handles[name]] if name == what else []
        self.handles["features"].visible = what == "features"

    # What is put into the sources.

    def frame(self, sections: Sequence[Section]) -> None:
        """Set the ranges so that all sections stand in it, to scale."""
        x0 = min(float(s.x.min()) for s in sections) - _AHEAD_MM
        x1 = max(float(s.x.max()) for s in sections) + 60.0
        z0, z1 = -45.0, max(float(s.z.max()) for s in sections) + 90.0
        per_px = max((x1 - x0) / WIDE, (z1 - z0) / HIGH) * self.scale
        left = x0 * self.scale - max(WIDE * per_px - (x1 - x0) * self.scale, 0.0) / 2.0
        for axis, low, high in (
            (self.across, left, left + WIDE * per_px),
            (self.up, z0 * self.scale, z0 * self.scale + HIGH * per_px),
        ):
            axis.start, axis.end = low, high
            axis.reset_start, axis.reset_end = low, high

    def show_shape(self, step: Step, y: float, *, handles: bool = True) -> None:
        """Draw the contour; with what can be taken hold of, unless that is being dragged."""
        section, k = step.front.section(y), self.scale
        runs = part_runs(section)
        self.sources["runs"].data = {
            "xs": [run[:, 0] * k for _, run in runs],
            "ys": [run[:, 1] * k for _, run in runs],
            "color": [look.PART_STYLES[part].color for part, _ in runs],
            "width": [look.PART_STYLES[part].width * 0.9 for part, _ in runs],
        }
        moved = step.proposed(y)
        base = step.base.section(y).points * k if any(moved) else np.empty((0, 2))
        self.sources["base"].data = {"x": base[:, 0], "y": base[:, 1]}
        if not handles:
            return
        self.sources["points"].data = {
            "x": section.x * k,
            "y": section.z * k,
            "marker": ["diamond" if is_moved else "circle" for is_moved in moved],
            "color": [PROPOSED if is_moved else look.INK for is_moved in moved],
            "size": [13 if is_moved else 7 for is_moved in moved],
            "state": ["proposed" if is_moved else "as loaded" for is_moved in moved],
            "part": list(section.parts or ("",) * len(section)),
            "number": list(range(1, len(section) + 1)),
        }
        at = step.features(y)
        self.sources["features"].data = {
            "x": [section.x[i] * k for i in at.values()],
            "y": [section.z[i] * k for i in at.values()],
            "name": [FEATURES[name] for name in at],
        }

    def show_other(self, front: Front | None, y: float) -> None:
        """Draw the contour of B; nothing where B has none here."""
        there = () if front is None else front.full().sections
        points = next((s.points * self.scale for s in there if s.y == y), np.empty((0, 2)))
        self.sources["other"].data = {"x": points[:, 0], "y": points[:, 1]}

    def show_lines(self, station: Station, *, rear: bool) -> None:
        """Draw the lines of the section; BRRL only where the whole front was looked at."""
        k = self.scale
        lines = [
            line for line in station.lines if line.x is not None and (rear or line.name != "BRRL")
        ]
        style = look.LINE_STYLES
        self.sources["lines"].data = {
            "x": [(line.x or 0.0) * k for line in lines],
            "y": [(line.z or 0.0) * k for line in lines],
            "marker": [_MARKS[line.name] for line in lines],
            "color": [style[line.name].color for line in lines],
            "fill": [
                look.PAPER if line.status in UNSURE else style[line.name].color for line in lines
            ],
            "words": [line.name for line in lines],
            # Clear of the face, and of the tape's marks on the bonnet.
            "across": [10 if line.name == "BRRL" else -12 for line in lines],
            "side": ["left" if line.name == "BRRL" else "right" for line in lines],
        }
        edges = edges_of(station)
        self.sources["edges"].data = {
            "xs": [[pose.foot[0] * k, pose.tip[0] * k] for _, pose in edges],
            "ys": [[pose.foot[1] * k, pose.tip[1] * k] for _, pose in edges],
            "color": [style[line.name].color for line, _ in edges],
        }
        self._show_tape(station)

    def _show_tape(self, station: Station) -> None:
        k = self.scale
        found = [(mark, mark.tape) for mark in station.wads if mark.tape is not None]
        ways = [np.array(tape.points) for _, tape in found]
        way = max(ways, key=len, default=np.empty((0, 2))) * k
        self.sources["tape"].data = {"x": way[:, 0], "y": way[:, 1]}
        across = [_TICK_MM * np.array([-tape.along[1], tape.along[0]]) for _, tape in found]
        at = [np.array([mark.x, mark.z], dtype=float) for mark, _ in found]
        ends = [((p - d) * k, (p + d) * k) for p, d in zip(at, across, strict=True)]
        self.sources["ticks"].data = {
            "xs": [[a[0], b[0]] for a, b in ends],
            "ys": [[a[1], b[1]] for a, b in ends],
        }
        self.sources["tick_words"].data = {
            "x": [max(a[0], b[0]) if a[1] > b[1] else b[0] for a, b in ends],
            "y": [max(a[1], b[1]) for a, b in ends],
            "words": [
                mark.name.split()[-1] if k else mark.name for k, (mark, _) in enumerate(found)
            ],
        }

    def show_areas(self, result: Screening | None, y: float) -> None:
        """Draw headform areas and the numbered places of the answer along the contour."""
        strips = [] if result is None else area_strips(result, y)
        k = self.scale
        self.sources["areas"].data = {
            "xs": [ring[:, 0] * k for ring, *_ in strips],
            "ys": [ring[:, 1] * k for ring, *_ in strips],
            "color": [color for _, color, *_ in strips],
            "hatch": [hatch for _, _, hatch, *_ in strips],
        }
        self.sources["area_words"].data = {
            "x": [_beside(ring, words)[0] * k for ring, *_, words in strips],
            "y": [_beside(ring, words)[1] * k for ring, *_, words in strips],
            "words": [words for *_, words in strips],
        }


def _beside(ring: Array, words: str) -> tuple[float, float]:
    """Where words of a strip stand: names of areas within the body, numbers clear of it."""
    number = words.isdigit()
    x, z = ring[(3 if number else 1) * len(ring) // 4].tolist()  # out on the near side, back far
    return x, z + 125.0 * number


def area_strips(result: Screening, y: float) -> list[tuple[Array, str, str, str]]:
    """Return strips along a section, each with colour, hatch and words: areas, then the answer."""
    section, found = result.front.section(y), []
    for area in (result.zones.child_area, result.zones.adult_area):
        for outline in area.outlines:
            ends = _ends_at(np.array(outline.points), section)
            if ends is None:
                continue
            inner = section.arc_lengths[
                (section.arc_lengths > ends[0]) & (section.arc_lengths < ends[1])
            ]
            ring = strip_along(section, ends, inner, _NEAR_MM, _FAR_MM)
            found.append((ring, _AREAS[area.name], "blank", f"{area.name} headform area"))
    for band in result.answer_bands[y]:
        found.append((band.strip, look.FACE, "left_diagonal_line", str(band.number)))
    return found


def _ends_at(points: Array, section: Section) -> tuple[float, float] | None:
    """Where an outline crosses the plane of a section, as lengths along its contour."""
    onward = np.roll(points, -1, axis=0)
    here, there = points[:, 1] - section.y, onward[:, 1] - section.y
    crosses = (here <= 0.0) != (there <= 0.0)
    if crosses.sum() < 2:
        return None
    share = (here[crosses] / (here[crosses] - there[crosses]))[:, None]
    at = points[crosses] + share * (onward[crosses] - points[crosses])
    arcs = [arc_of(section, (x, z)) for x, _, z in at.tolist()]
    return min(arcs), max(arcs)

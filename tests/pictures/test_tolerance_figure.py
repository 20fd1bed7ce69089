"""The tolerance figure: what is drawn is what was found; legible; same bytes every time."""

from __future__ import annotations

import itertools
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from frontcheck.caution import CAUTION_SHORT
from frontcheck.front.front import Front
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import new_figure
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.outputs.figures.tolerance_figure import interval_chart, tolerance_figure
from frontcheck.reading.readers import read_front
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.tolerance_result import Tolerance
from frontcheck.sure.uncertainty import HAND_TOOLS, Uncertainty
from frontcheck.surface.section import Section

GEOMETRIES = Path(__file__).resolve().parents[2] / "geometries"
ODD = Section([(300.0, 200.0), (0.0, 300.0), (20.0, 500.0), (400.0, 605.0)])
HIGH = Section([(90.0, 700.0), (0.0, 760.0), (50.0, 800.0)])


@cache
def run(name: str) -> Tolerance:
    if name in ("plover", "avocet"):
        front = read_front(GEOMETRIES / f"{name}.csv")
        return tolerance(front, "UN-R127-02", None, HAND_TOOLS, draws=400)
    if name == "whole":
        front = read_front(GEOMETRIES / "plover.csv").full()
        return tolerance(front, "UN-R127-02", None, HAND_TOOLS, draws=200)
    section, wad = (ODD, ()) if name == "odd" else (HIGH, (2500.0,))
    front = Front((section,), name="A $very$ long \\name_ \u6771\u4eac " * 9)
    return tolerance(front, "EU-631-2009", wad, Uncertainty(height_u_mm=8.0), draws=200)


NAMES = ["plover", "avocet", "whole", "odd", "high"]


def boxes(figure: Figure) -> list[tuple[str, np.ndarray]]:
    """Boxes of all words as drawn, in pixels."""
    canvas = FigureCanvasAgg(figure)
    with look.house_style():
        canvas.draw()
        renderer = canvas.get_renderer()
        found = []
        for text in figure.findobj(Text):
            box = text.get_window_extent(renderer)
            if text.get_visible() and text.get_text().strip() and box.width > 0.0:
                found.append((text.get_text(), box.extents, text))
    hidden = set()
    for ax in figure.axes:
        for axis, limits in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
            low, high = sorted(limits)
            for tick, at in zip(axis.get_major_ticks(), axis.get_majorticklocs(), strict=True):
                if not low <= at <= high:
                    hidden |= {id(tick.label1), id(tick.label2)}
                if axis is ax.xaxis and not tick.label1.get_visible():
                    hidden.add(id(tick.label1))
    return [(words, box) for words, box, text in found if id(text) not in hidden]


@pytest.mark.parametrize("name", NAMES)
def test_words_are_inside_and_apart(name: str) -> None:
    figure = tolerance_figure(run(name))
    width, height = figure.get_size_inches() * figure.dpi
    found = boxes(figure)
    assert len(found) > 15
    for words, (x0, y0, x1, y1) in found:
        assert x0 >= 0, words
        assert y0 >= 0, words
        assert x1 <= width, words
        assert y1 <= height, words
    for (a, p), (b, q) in itertools.combinations(found, 2):
        overlap = min(p[2], q[2]) - max(p[0], q[0]), min(p[3], q[3]) - max(p[1], q[1])
        assert min(overlap) <= 1.0, f"{a!r} runs into {b!r}"


@pytest.mark.parametrize("name", NAMES)
def test_caution_is_on_it(name: str) -> None:
    words = [text.get_text() for text in tolerance_figure(run(name)).findobj(Text)]
    assert CAUTION_SHORT in words
    chart = interval_chart(run(name))
    assert CAUTION_SHORT in [text.get_text() for text in chart.figure.findobj(Text)]


def test_intervals_drawn_are_those_found() -> None:
    result = run("plover")
    ax = interval_chart(result)
    drawn = sorted(tuple(line.get_ydata()) for line in ax.lines if line.get_gid() == "interval")
    found = [
        (station.line(name).z.low, station.line(name).z.high)
        for station in result.stations
        for name in ("LBRL", "UBRL", "BLERL")
    ]
    assert drawn == sorted(found)
    bands = [patch.get_extents().transformed(ax.transData.inverted()) for patch in ax.patches]
    # Either legform from 425 to 500 mm (GTR 9 / R127, from memory).
    assert [(round(band.y0), round(band.y1)) for band in bands] == [(425, 500)]


def test_shares_drawn_are_those_found() -> None:
    result = run("plover")
    figure = tolerance_figure(result)
    bars = {
        kind: sum(p.get_height() for ax in figure.axes for p in ax.patches
                  if p.get_gid() == f"legform {kind}")
        for kind in ("lower", "either", "upper", "missing")
    }  # fmt: skip
    for kind, total in bars.items():
        want = sum(dict(station.legform)[kind] for station in result.stations)
        assert total == pytest.approx(want, abs=1e-12)
    drivers = [p.get_width() for ax in figure.axes for p in ax.patches if p.get_gid() == "driver"]
    assert drivers == [item.part_mm for item in result.measure_again(len(drivers))]


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_same_result_same_bytes(kind: str) -> None:
    one, two = (figure_bytes(tolerance_figure(run("odd")), kind) for _ in range(2))
    assert one == two


def test_draws_on_axes_it_is_given() -> None:
    figure = Figure()
    ax = figure.add_subplot()
    assert interval_chart(run("plover"), ax) is ax
    assert figure.axes == [ax]


def test_a_given_figure_is_drawn_into() -> None:
    mine = new_figure(12.0, 8.0)
    assert tolerance_figure(run("odd"), figure=mine) is mine
    assert mine.axes

"""The examples of a model and of a drawing with blocks: made from geometries/plover.csv.

Run `.venv/bin/python tests/cad_examples.py` to make them anew; tests/unit/test_cad_examples.py
compares what is kept with what this makes.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import ezdxf
import numpy as np
from scipy.interpolate import make_interp_spline
from step_text import StepText

import frontcheck as fc

PRODUCTS = {
    "underside": "UNDERTRAY",
    "bumper": "BUMPER_COVER",
    "lamp": "Headlamp_panel",
    "bonnet": "Hood outer",
    "cowl": "Cowl",
    "windscreen": "Windscreen_glass",
}


def runs(section):
    """(part, points) of a section, each up to the first point of the next part."""
    at = 0
    for part, held in groupby(section.parts):
        size = len(list(held))
        yield part, section.points[at : at + size + 1]
        at += size


def grids(front):
    """One (stations, n, 3) grid a part, through all rows."""
    held = {}
    for section in front.sections:
        for part, points in runs(section):
            held.setdefault(part, []).append((section.y, points))
    for part, lines in held.items():
        count = max(len(points) for _, points in lines)
        grid = []
        for y, points in lines:
            rows = points
            while len(rows) < count:  # a row more, half way along the longest stretch
                i = int(np.argmax(np.hypot(*np.diff(rows, axis=0).T)))
                rows = np.insert(rows, i + 1, rows[i : i + 2].mean(axis=0), axis=0)
            grid.append(np.column_stack([rows[:, 0], np.full(count, y), rows[:, 1]]))
        yield part, np.array(grid)


def plover_step(front) -> str:
    """The right half of a front as STEP: a face a part, straight along rows, cubic across."""
    model = StepText("mm", "plover.step")
    for part, grid in grids(front):
        across = make_interp_spline(grid[:, 0, 1], grid, k=3)
        poles = across.c.round(6)
        model.part(PRODUCTS[part], [model.sheet(poles, 3, across.t)])
    return model.text()


def plover_blocks(front):
    """A front as a drawing: a block a station and part, nested in a block a station."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    doc.header.custom_vars.append("name", front.name)
    doc.header.custom_vars.append("symmetric", "yes")
    for section in front.sections:
        station = doc.blocks.new(f"SEC_Y{section.y:g}")
        for i, (part, points) in enumerate(runs(section)):
            # Each part is drawn from its own first point, and put in place by its insert.
            block = doc.blocks.new(f"{PRODUCTS[part].replace(' ', '_')}_{i}_OF_Y{section.y:g}")
            block.add_lwpolyline((points - points[0]).tolist(), dxfattribs={"layer": "0"})
            station.add_blockref(
                block.name, points[0], dxfattribs={"layer": f"SEC_Y{section.y:g}_{part.upper()}"}
            )
        doc.modelspace().add_blockref(station.name, (0.0, 0.0), dxfattribs={"layer": "SECTIONS"})
    return doc


if __name__ == "__main__":
    folder = Path(__file__).parents[1] / "geometries"
    plover = fc.read_front(folder / "plover.csv")
    (folder / "plover.step").write_text(plover_step(plover), "ascii")
    ezdxf.options.write_fixed_meta_data_for_testing = True
    plover_blocks(plover).saveas(folder / "plover-blocks.dxf")

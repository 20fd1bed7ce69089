"""The examples of a model and of a drawing with blocks against the table they were made from."""

from __future__ import annotations

import cad_examples
import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner
from unit.test_dxf_reader import assert_is
from unit.test_mesh_reader import hausdorff

from frontcheck.cli import main
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen

STATED_MM = 0.35
"""Triangles aim at 0.1 mm from a face; where it bends along a row they miss that by up to three
times, which is the library's doing and was found here (0.31 mm, in the windscreen)."""


@pytest.fixture(scope="module")
def table(root):
    return read_front(root / "geometries" / "plover.csv")


@pytest.fixture(scope="module")
def model(root):
    return read_front(root / "geometries" / "plover.step")


def test_examples_are_what_the_script_makes(root, table, tmp_path) -> None:
    kept = (root / "geometries" / "plover.step").read_text("ascii")
    assert cad_examples.plover_step(table) == kept
    made = tmp_path / "made.dxf"
    cad_examples.plover_blocks(table).saveas(made)
    drawn, again = (read_front(p) for p in (root / "geometries" / "plover-blocks.dxf", made))
    for a, b in zip(drawn.sections, again.sections, strict=True):
        np.testing.assert_array_equal(a.points, b.points)


def test_the_model_is_the_table_to_its_stated_tolerance(table, model) -> None:
    assert model.symmetric
    assert model.method == "mesh, cut by planes"
    cut = {section.y: section for section in model.sections}
    stations = [section for section in table.sections if section.y in cut]
    assert len(stations) == 8  # all but 650 and 710, no multiples of 20
    for section in stations:
        own = cut[section.y]
        assert hausdorff(own.points, section.points) <= STATED_MM, section.y
        assert dict.fromkeys(own.parts) == dict.fromkeys(section.parts)
        # The point between two parts may go to either: a part begins within a row.
        for part in ("bumper", "lamp", "bonnet", "windscreen"):
            first = own.points[own.parts.index(part)]
            row = section.parts.index(part)
            here, after = section.points[row : row + 2]
            allowed = np.hypot(*(after - here)) + STATED_MM
            assert np.hypot(*(first - here)) <= allowed, (section.y, part)


def test_the_model_gives_the_lines_of_the_table(table, model) -> None:
    cut = {station.y: station for station in screen(model).stations}
    compared = 0
    for station in (s for s in screen(table).stations if s.y in cut):
        for a, b in zip(station.lines, cut[station.y].lines, strict=True):
            assert a.status == b.status, (station.y, a, b)
            # Where an edge leans on the face at a flat angle, a facet moves its contact along the
            # face by more than the face itself: 0.66 mm at most, of the 0.3 mm above.
            assert np.hypot(a.x - b.x, a.z - b.z) <= 1.0, (station.y, a, b)
            compared += 1
    assert compared == 8 * 4


def test_the_drawing_of_blocks_is_the_table(root, table) -> None:
    drawn = read_front(root / "geometries" / "plover-blocks.dxf")
    assert (drawn.name, drawn.symmetric, drawn.stations) == ("Plover", True, table.stations)
    for a, b in zip(drawn.sections, table.sections, strict=True):
        # Blocks are drawn from their own zero: adding it again rounds by 2e-13.
        assert_is(a, b.points, atol=1e-9)
        assert dict.fromkeys(a.parts) == dict.fromkeys(b.parts)
    doc = ezdxf.readfile(root / "geometries" / "plover-blocks.dxf")
    assert {e.dxftype() for e in doc.modelspace()} == {"INSERT"}


def test_what_they_hold_by_name(root) -> None:
    done = CliRunner().invoke(main, ["parts", str(root / "geometries" / "plover.step")])
    assert done.exit_code == 0
    rows = dict(line.rsplit(None, 1) for line in done.output.splitlines()[2:8])
    said = {name.split("  ")[0]: part for name, part in rows.items()}
    assert said == {product: part for part, product in cad_examples.PRODUCTS.items()}
    done = CliRunner().invoke(main, ["parts", str(root / "geometries" / "plover-blocks.dxf")])
    assert "SEC_Y760/Hood_outer_3_OF_Y760/SEC_Y760_BONNET" in done.output

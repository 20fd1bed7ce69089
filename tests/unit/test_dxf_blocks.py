"""Blocks of a drawing taken apart, and what layers and blocks say of station and part.

Drawings are written by ezdxf, independent of our reader.
"""

from __future__ import annotations

import math
import time

import ezdxf
import numpy as np
import pytest
from unit.test_dxf_reader import FRONT, Drawing, assert_is, said

from frontcheck.errors import InputError
from frontcheck.reading.drawing import station_said
from frontcheck.reading.readers import read_front


@pytest.fixture
def drawing(tmp_path):
    return Drawing(tmp_path)


def block(drawing, name, *lines):
    """A block of polylines, each (points, layer)."""
    made = drawing.doc.blocks.new(name)
    for points, layer in lines:
        made.add_lwpolyline([tuple(p) for p in points], dxfattribs={"layer": layer})
    return made


@pytest.mark.parametrize(
    ("name", "y"),
    [
        ("SEC_Y0_BUMPER", 0.0),
        ("Section Y+100", 100.0),
        ("Y-250 hood", -250.0),
        ("sec-y=20,5", 20.5),
        ("Y_300", 300.0),
        ("BUMPER Y 40", 40.0),
        ("Y100/Hood outer", 100.0),  # a block that names the station
        ("Y100/Y200", 200.0),  # a layer comes before its block
        ("Y0_Y100", None),
        ("Y100mm", None),
        ("BODY100", None),
        ("Y1.2.3", None),
        ("frame", None),
    ],
)
def test_a_name_says_the_station(name, y) -> None:
    assert station_said(name) == y


def test_layers_as_people_name_them(drawing) -> None:
    drawing.line(FRONT[:5], "SEC_Y0_BUMPER").line(FRONT[4:8], "Section Y+0 Hood outer")
    drawing.line(FRONT[7:], "Windscreen_glass Y0").line(FRONT, "Y-250 hood")
    left, centre = drawing.read().sections
    assert (left.y, set(left.parts)) == (-250.0, {"bonnet"})
    assert_is(centre, FRONT)
    assert centre.parts == (*["bumper"] * 5, "bonnet", "bonnet", "windscreen", "windscreen")


def test_patterns_of_the_user_and_what_is_left_out(drawing) -> None:
    drawing.line(FRONT[:5], "Y0 A1").line(FRONT[4:], "Y0 hood").line(FRONT - 50.0, "Y0 plate")
    front = drawing.read(parts={"bumper": ["* a?"]}, exclude=["*plate"])
    (section,) = front.sections
    assert_is(section, FRONT)
    assert section.parts == (*["bumper"] * 5, *["bonnet"] * 4)
    assert said(front, "Left out by name: 1 curve of Y0 plate.")
    for options in ({"exclude": ["wiper*"]}, {"parts": {"wing": ["wiper*"]}}):
        with pytest.raises(InputError, match=r"'wiper\*', which no name.*Y0 A1, Y0 hood, Y0 plate"):
            drawing.read(**options)


def test_a_block_is_moved_turned_and_scaled(drawing) -> None:
    # Halved, turned by 30 degrees and moved as it is drawn; its insert undoes all three.
    turn = math.radians(-30.0)
    turned = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    block(drawing, "nose", ((FRONT / 2.0) @ turned.T + (7.0, -3.0), "0"))
    place = {"layer": "Y50", "xscale": 2.0, "yscale": 2.0, "rotation": 30.0}
    where = -2.0 * turned.T @ (7.0, -3.0)
    drawing.msp.add_blockref("nose", where, dxfattribs=place)
    front = drawing.read()
    assert front.stations == (50.0,)
    assert_is(front.sections[0], FRONT, atol=1e-9)


def test_an_arc_in_a_stretched_block_becomes_an_ellipse(drawing) -> None:
    made = drawing.doc.blocks.new("arc")
    made.add_arc((0, 0), 1.0, 90.0, 180.0)
    drawing.msp.add_blockref(
        "arc", (600.0, 400.0), dxfattribs={"layer": "Y0", "xscale": 600.0, "yscale": 200.0}
    )
    drawing.line([(300.0, 200.0), (0.0, 400.0)], "Y0").line([(600.0, 600.0), (1500.0, 900.0)], "Y0")
    (section,) = drawing.read(chord=0.01).sections
    x, z = section.points[1:-1].T
    off = np.abs(np.hypot((x - 600.0) / 600.0, (z - 400.0) / 200.0) - 1.0)
    assert len(x) > 20
    assert off.max() < 1e-9  # points lie on the ellipse itself


def test_nested_blocks_hand_down_layer_and_names(drawing) -> None:
    block(drawing, "BUMPER_COVER", (FRONT[:5], "0"))
    block(drawing, "panels", (FRONT[4:8], "hood"), (FRONT[7:], "0"))
    outer = drawing.doc.blocks.new("SEC_Y100")
    outer.add_blockref("BUMPER_COVER", (0, 0))
    outer.add_blockref("panels", (0, 0), dxfattribs={"layer": "Windscreen_glass"})
    drawing.msp.add_blockref("SEC_Y100", (0, 0))
    # The same blocks once more, on a layer that names the station.
    other = drawing.doc.blocks.new("other")
    other.add_blockref("BUMPER_COVER", (0, 0))
    drawing.msp.add_blockref("other", (0, 0), dxfattribs={"layer": "Y200"})
    drawing.line(FRONT[4:], "Y200")
    near, far = drawing.read().sections
    assert (near.y, far.y) == (100.0, 200.0)
    for section in (near, far):
        assert_is(section, FRONT)
    assert near.parts == (*["bumper"] * 5, "bonnet", "bonnet", "windscreen", "windscreen")
    assert far.parts == (*["bumper"] * 5, *[""] * 4)


def test_rows_and_columns_of_an_insert(drawing) -> None:
    block(drawing, "line", ([(0.0, 0.0), (0.0, 100.0)], "0"))
    drawing.msp.add_blockref(
        "line", (0.0, 300.0), dxfattribs={"layer": "Y0", "row_count": 4, "row_spacing": 100.0}
    )
    drawing.line([(0.0, 700.0), (900.0, 900.0)], "Y0").line([(90.0, 250.0), (0.0, 300.0)], "Y0")
    (section,) = drawing.read().sections
    assert_is(section, [(90, 250), (0, 300), (0, 400), (0, 500), (0, 600), (0, 700), (900, 900)])


def test_attributes_are_no_curves(drawing) -> None:
    made = block(drawing, "nose", (FRONT, "0"))
    made.add_attdef("NAME", (0, 0))
    placed = drawing.msp.add_blockref("nose", (0, 0), dxfattribs={"layer": "Y0"})
    placed.add_attrib("NAME", "Plover", (0, 0))
    front = drawing.read()
    assert_is(front.sections[0], FRONT)
    assert not said(front, "Skipped")


# --- blocks made to hurt -----------------------------------------------------------------


def refused(drawing, words) -> None:
    drawing.doc.saveas(drawing.path)
    started = time.monotonic()
    with pytest.raises(InputError, match=words):
        drawing.read()
    assert time.monotonic() - started < 10.0


def test_a_block_within_itself(drawing) -> None:
    drawing.line(FRONT, "Y0")
    block(drawing, "a").add_blockref("b", (0, 0))
    block(drawing, "b").add_blockref("a", (0, 0))
    drawing.msp.add_blockref("a", (0, 0))
    refused(drawing, "without end: a > b > a")


def test_blocks_too_deep(drawing) -> None:
    block(drawing, "b0", (FRONT, "0"))
    for i in range(1, 40):
        block(drawing, f"b{i}").add_blockref(f"b{i - 1}", (0, 0))
    drawing.msp.add_blockref("b39", (0, 0), dxfattribs={"layer": "Y0"})
    refused(drawing, "without end: b39 > b38 > ")


def test_blocks_that_grow_tenfold(drawing) -> None:
    block(drawing, "b0", (FRONT, "0"))
    for i in range(1, 12):
        made = block(drawing, f"b{i}")
        for _ in range(10):
            made.add_blockref(f"b{i - 1}", (0, 0))
    drawing.msp.add_blockref("b11", (0, 0), dxfattribs={"layer": "Y0"})
    refused(drawing, r"found \d+ entities in blocks; expected .*at most 20000")


def test_an_insert_of_a_thousand_million_copies(drawing) -> None:
    block(drawing, "b", (FRONT, "0"))
    drawing.msp.add_blockref(
        "b", (0, 0), dxfattribs={"row_count": 32000, "row_spacing": 1.0, "column_count": 32000,
                                 "column_spacing": 1.0}
    )  # fmt: skip
    refused(drawing, r"found \d+ entities in blocks; expected .*at most 20000")


def test_a_million_lines(drawing) -> None:
    drawing.line(FRONT, "Y0").doc.saveas(drawing.path)
    text = drawing.path.read_text()
    line = "  0\nLINE\n  8\nY0\n 10\n0\n 20\n0\n 11\n0\n 21\n9\n"
    at = text.index("  0\nLWPOLYLINE")
    drawing.path.write_text(text[:at] + line * 1_000_000 + text[at:])
    started = time.monotonic()
    with pytest.raises(InputError, match=r"found 1000\d\d\d entities and vertices"):
        read_front(drawing.path)
    assert time.monotonic() - started < 10.0


def test_ezdxf_knows_such_blocks() -> None:
    # The checks above are of drawings as they are written: a block that holds itself can be.
    doc = ezdxf.new("R2010")
    doc.blocks.new("a").add_blockref("a", (0, 0))
    assert len(doc.blocks.get("a")) == 1

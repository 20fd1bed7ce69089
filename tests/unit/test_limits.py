"""What is too large, or not whole, is refused in every kind of file; what is dense is screened."""

from __future__ import annotations

import json
import struct

import numpy as np
import pytest
from fuzzed import exported, stl, stl_text, table, triangles

import frontcheck as fc
from frontcheck.errors import InputError
from frontcheck.geometry.tape import TautTape
from frontcheck.reading.cad_file import told_apart
from frontcheck.zones.headform import enclosed


def refusal(path, content, **options) -> str:
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        fc.read_front(path, **options)
    assert path.name in str(caught.value)
    return str(caught.value)


def test_no_vehicle_is_so_large_whatever_the_file(tmp_path) -> None:
    wide = table().replace(b"\n650,", b"\n2010,")
    assert "mm long and 4020 mm wide" in refusal(tmp_path / "a.csv", wide)
    (tmp_path / "a.csv").write_bytes(wide.replace(b"\n2010,", b"\n1990,"))
    assert len(fc.read_front(tmp_path / "a.csv").stations) == 3
    mesh = triangles() * [1.0, 2.9, 1.0]
    assert "4060 mm wide" in refusal(tmp_path / "a.stl", stl(mesh), unit="mm")
    long = triangles() * [11.0, 1.0, 1.0]
    assert "a front 16390 mm long" in refusal(tmp_path / "a.stl", stl(long), unit="mm")
    with pytest.raises(InputError, match="5000 mm wide"):
        fc.Front(tuple(fc.Section([(60, 200), (0, 500), (900, 900)], y) for y in (0.0, 5000.0)))


@pytest.mark.parametrize("times", [1, 2])
def test_a_facet_within_a_facet_is_not_mended(tmp_path, times: int) -> None:
    text = stl_text(triangles())
    at = text.index(b"vertex", 400)
    for _ in range(times):
        text = text[:at] + b"facet normal 0 0 0\nouter loop\n" + text[at:]
        at = text.index(b"vertex", at + 800)
    said = refusal(tmp_path / "a.stl", text, unit="mm")
    assert "found facet; expected facet within a solid" in said
    assert "row " in said


def test_ply_holds_what_its_header_says(tmp_path) -> None:
    text = exported("ply", encoding="ascii")
    lines = text.rstrip(b"\n").split(b"\n")
    less, more = b"\n".join(lines[:-1]), b"\n".join([*lines, lines[-1]])
    assert "rows of face, and fewer" in refusal(tmp_path / "a.ply", less, unit="mm")
    assert "more than the header says" in refusal(tmp_path / "a.ply", more, unit="mm")
    short = lines.copy()
    short[-1] = short[-1].rsplit(b" ", 1)[0]
    row = refusal(tmp_path / "a.ply", b"\n".join(short), unit="mm")
    assert f"row {len(lines)}: found a row of face with 3 numbers" in row
    other = text.replace(b"vertex_indices", b"element")
    assert "faces without a list" in refusal(tmp_path / "a.ply", other, unit="mm")
    binary = exported("ply")
    assert "fewer" in refusal(tmp_path / "b.ply", binary[:-5], unit="mm")
    assert "more than" in refusal(tmp_path / "b.ply", binary + b"abcde", unit="mm")


def test_glb_arrays_lie_within_their_data(tmp_path) -> None:
    whole = exported("glb")
    size = int.from_bytes(whole[12:16], "little")
    tree = json.loads(whole[20 : 20 + size])
    tree["bufferViews"][0]["byteOffset"] = tree["buffers"][0]["byteLength"] - 8
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    rest = whole[20 + size :]
    head = struct.pack("<4sIII4s", b"glTF", 2, 20 + len(text) + len(rest), len(text), b"JSON")
    assert "found an array of" in refusal(tmp_path / "a.glb", head + text + rest)


@pytest.mark.parametrize("error", [AttributeError, TypeError])
def test_a_fault_of_a_program_is_no_damage(error) -> None:
    def load() -> None:
        raise error("no such name")

    with pytest.raises(error):
        told_apart(load, "a.ply", "a sound file")


def test_a_tape_takes_no_more_room_than_its_contour() -> None:
    turn = np.linspace(np.radians(200.0), np.radians(70.0), 4000)
    arc = np.column_stack([500.0 * np.cos(turn), 600.0 + 500.0 * np.sin(turn)])
    arc = np.concatenate([[(-300.0, 300.0), (-460.0, 310.0)], arc])
    start = int(np.argmin(arc[:, 0]))
    tape = TautTape(arc, float(arc[start, 0]), start)
    assert len(tape._bend) <= len(arc) + 2
    # On an arc the tape lies on the contour: straight up, then along it.
    end = tape.solve(900.0)[0]
    on_arc = 900.0 - 600.0
    assert (end.x, end.z) == pytest.approx(
        (-500.0 * np.cos(on_arc / 500.0), 600.0 + 500.0 * np.sin(on_arc / 500.0)), abs=0.01
    )


def test_an_outline_that_touches_itself_encloses_its_area() -> None:
    to_and_fro = enclosed([(0, 0), (1, 0), (1, 1), (2, 1), (1, 1), (0, 1)])
    assert (to_and_fro.area, to_and_fro.boundary.length) == (1.0, 4.0)
    at_a_point = enclosed([(0, 0), (1, 1), (1, 0), (0, 1)])
    assert at_a_point.area == 0.5
    assert enclosed([(0, 0), (1, 0), (2, 0)]).is_empty
    assert enclosed([(0, 0), (1, 0)]).is_empty

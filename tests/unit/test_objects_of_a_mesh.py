"""Objects of OBJ and GLB meshes: chosen by name, and pieces that hang together."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner

from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.geometry.connected import pieces_of
from frontcheck.reading.mesh_parsed import read_glb
from frontcheck.reading.readers import read_front
from frontcheck.reading.solid import read_obj

SKIN = np.array([[60.0, 250.0], [0.0, 300.0], [0.0, 700.0], [900.0, 960.0]])
HOOK = np.array([[-80.0, 400.0], [-80.0, 420.0]])


def obj(objects):
    """An OBJ file of lines swept from y -800 to 800, one object or group a line."""
    lines, count = [], 0
    for head, line in objects:
        lines.append(head)
        for x, z in line.tolist():
            lines += [f"v {x} -800 {z}", f"v {x} 800 {z}"]
        for i in range(len(line) - 1):
            a, b, c, d = (count + 2 * i + k for k in (1, 2, 4, 3))
            lines.append(f"f {a} {b} {c} {d}")
        count += 2 * len(line)
    return "\n".join(lines)


@pytest.fixture
def mesh(tmp_path):
    path = tmp_path / "front.obj"
    path.write_text(obj([("o Skin", SKIN), ("o tow\ng Hook left", HOOK)]))
    return path


def foremost(front):
    return min(section.x.min() for section in front.sections)


def test_objects_carry_their_names(mesh) -> None:
    data = read_obj(mesh)
    assert data.objects == ("Skin", "tow/Hook left")
    np.testing.assert_array_equal(data.object_of, [0] * 6 + [1] * 2)


@pytest.mark.parametrize("pattern", ["tow/*", "hook*", "Hook left", "TOW"])
def test_objects_are_left_out_by_name(mesh, pattern) -> None:
    options = {"unit": "mm", "pitch": 400.0}
    assert foremost(read_front(mesh, **options)) == -80.0
    front = read_front(mesh, exclude=[pattern], **options)
    assert foremost(front) == 0.0
    assert any(n == "Left out by name: 2 triangles of tow/Hook left." for n in front.reader_notes)
    assert foremost(read_front(mesh, include=["skin"], **options)) == 0.0


def test_a_pattern_of_nothing_names_what_there_is(mesh, tmp_path) -> None:
    with pytest.raises(InputError, match=r"'wing\*'.*Skin, tow/Hook left"):
        read_front(mesh, unit="mm", exclude=["wing*"])
    with pytest.raises(InputError, match="leave no triangle"):
        read_front(mesh, unit="mm", exclude=["*"])
    plain = tmp_path / "plain.obj"
    plain.write_text(obj([("s off", SKIN)]))
    with pytest.raises(InputError, match="without names"):
        read_front(plain, unit="mm", include=["skin"])
    with pytest.raises(InputError, match="include for a drawing"):
        read_front("a.dxf", include=["skin"])
    with pytest.raises(InputError, match="include for an offset table"):
        read_front("geometries/plover.csv", include=["skin"])


def test_nodes_of_a_glb_carry_their_names(tmp_path) -> None:
    import trimesh

    scene = trimesh.Scene()
    for name in ("door", "wing"):
        scene.add_geometry(trimesh.creation.box(), node_name=name, geom_name=f"{name} shape")
    path = tmp_path / "a.glb"
    path.write_bytes(scene.export(file_type="glb"))
    data = read_glb(path)
    assert [name.split("/")[0] for name in data.objects] == ["door", "wing"]
    np.testing.assert_array_equal(data.object_of, np.repeat([0, 1], 12))


def test_the_command_takes_patterns_and_the_document_names_them(mesh) -> None:
    axes = ["--unit", "mm", "--pitch", "400", "--ground", "0", "--lines-only", "--json", "-"]
    done = CliRunner().invoke(main, ["screen", str(mesh), *axes, "--exclude", "hook*"])
    document = json.loads(done.stdout)
    assert any("Left out by name" in note for note in document["input"]["notes"])
    assert document["stations"][0]["LBRL"]["x_mm"] == 0.0


def test_pieces_hang_together_by_corners_in_one_place() -> None:
    import trimesh

    boxes = [trimesh.creation.icosphere(2).apply_translation([3.0 * i, 0, 0]) for i in range(5)]
    rng = np.random.default_rng(1)
    corners = rng.permutation(np.concatenate([m.triangles for m in boxes]))
    pieces = pieces_of(corners)
    assert len(pieces.low) == 5
    middles = corners.mean(axis=(1, 2))
    for piece in range(5):
        own = corners[pieces.of == piece]
        x = own[:, :, 0]
        assert np.ptp(np.round(x.mean(axis=1) / 3.0)) == 0.0
        np.testing.assert_array_equal(pieces.low[piece], own.min(axis=(0, 1)))
        assert pieces.area[piece] == pytest.approx(boxes[0].area)
    assert len(middles) == len(pieces.of)

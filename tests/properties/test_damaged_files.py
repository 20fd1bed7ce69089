"""Three hundred damaged meshes and drawings: refused clearly or repaired and reported.

Every file is made from a good one by a seeded fault. Whatever it is, reading it ends in a
`Front` or in an `InputError` that names the file, and never asks for memory out of proportion.
"""

from __future__ import annotations

import io
import json
import struct
import tracemalloc
from itertools import cycle

import ezdxf
import numpy as np
import pytest
import trimesh

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.reading.readers import read_front

FRONT = np.array([[400.0, 220.0], [120.0, 210.0], [30.0, 300.0], [55.0, 420.0], [10.0, 560.0],
                  [40.0, 760.0], [150.0, 850.0], [1000.0, 980.0], [1500.0, 1300.0]])  # fmt: skip
MEMORY_BYTES = 40_000_000
"""No damaged file of a few ten thousand bytes may need more."""


def triangles():
    """A swept front, (m, 3, 3) [mm]."""
    y = np.linspace(-800.0, 800.0, 9)
    grid = np.empty((9, len(FRONT), 3))
    grid[..., 0], grid[..., 1], grid[..., 2] = FRONT[:, 0], y[:, None], FRONT[:, 1]
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    both = np.stack([np.stack([a, b, c], 2), np.stack([a, c, d], 2)], 2)
    return both.reshape(-1, 3, 3)


def stl(mesh):
    records = np.zeros(len(mesh), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    records["v"] = mesh
    return b"front".ljust(80) + struct.pack("<I", len(mesh)) + records.tobytes()


def stl_text(mesh):
    facets = [
        "facet normal 0 0 0\nouter loop\n"
        + "".join(f"vertex {x:.9g} {y:.9g} {z:.9g}\n" for x, y, z in t)
        + "endloop\nendfacet\n"
        for t in mesh.tolist()
    ]
    return ("solid a\n" + "".join(facets) + "endsolid a\n").encode()


def obj(mesh):
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in mesh.reshape(-1, 3).tolist()]
    lines += [f"f {i} {i + 1} {i + 2}" for i in range(1, len(lines), 3)]
    return ("\n".join(lines) + "\n").encode()


def exported(mesh, kind, **options):
    faces = np.arange(len(mesh) * 3).reshape(-1, 3)
    points = mesh.reshape(-1, 3)
    if kind == "glb":
        points = np.column_stack([-points[:, 1], points[:, 2], -points[:, 0]]) / 1000.0
    return trimesh.Trimesh(points, faces, process=False).export(file_type=kind, **options)


def dxf(_=None):
    drawing = ezdxf.new("R2010")
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    for y in (0, 100, 200):
        space.add_lwpolyline([tuple(p) for p in FRONT[:5]], dxfattribs={"layer": f"Y{y}"})
        space.add_line(tuple(FRONT[4]), tuple(FRONT[5]), dxfattribs={"layer": f"Y{y}"})
        spline = space.add_open_spline([(*p, 0.0) for p in FRONT[5:]], degree=3)
        spline.dxf.layer = f"Y{y}"
    out = io.StringIO()
    drawing.write(out)
    return out.getvalue().encode()


MAKERS = {
    "binary.stl": stl,
    "text.stl": stl_text,
    "mesh.obj": obj,
    "mesh.ply": lambda mesh: exported(mesh, "ply"),
    "text.ply": lambda mesh: exported(mesh, "ply", encoding="ascii"),
    "mesh.glb": lambda mesh: exported(mesh, "glb"),
    "drawing.dxf": dxf,
}

# --- faults in the bytes of any file ---------------------------------------------------------


def truncated(content, rng):
    return content[: rng.integers(1, len(content))]


def flipped_bytes(content, rng):
    out = np.frombuffer(content, dtype=np.uint8).copy()
    out[rng.integers(0, len(out), rng.integers(1, 40))] = rng.integers(0, 256)
    return out.tobytes()


def damaged_head(content, rng):
    out = np.frombuffer(content, dtype=np.uint8).copy()
    out[rng.integers(0, min(400, len(out)), 4)] = rng.integers(0, 256, 4)
    return out.tobytes()


def piece_missing(content, rng):
    a = int(rng.integers(0, len(content) - 10))
    return content[:a] + content[a + int(rng.integers(1, 2000)) :]


def piece_twice(content, rng):
    a = int(rng.integers(0, len(content) - 10))
    b = a + int(rng.integers(1, 2000))
    return content[:b] + content[a:]


def zeros(content, rng):
    a = int(rng.integers(0, len(content) - 10))
    return content[:a] + bytes(len(content) - a)


def empty(content, rng):
    return b""


def noise(content, rng):
    return rng.integers(0, 256, 5000, dtype=np.uint8).tobytes()


def prose(content, rng):
    return b"Nose proposal, please see the drawing office.\n" * int(rng.integers(1, 200))


def a_table(content, rng):
    return b"station_mm,height_mm,setback_mm\n0,200,300\n0,300,0\n"


BYTES = (truncated, flipped_bytes, damaged_head, piece_missing, piece_twice, zeros, empty, noise,
         prose, a_table)  # fmt: skip

# --- faults in the geometry ------------------------------------------------------------------


def with_nan(mesh, rng):
    mesh[rng.integers(0, len(mesh)), rng.integers(0, 3), rng.integers(0, 3)] = np.nan
    return mesh


def with_much_nan(mesh, rng):
    mesh[rng.random(mesh.shape) < 0.2] = np.nan
    return mesh


def with_inf(mesh, rng):
    mesh[rng.integers(0, len(mesh)), 0] = np.inf
    return mesh


def zero_area(mesh, rng):
    at = rng.integers(0, len(mesh), 20)
    mesh[at, 1] = mesh[at, 0]
    return mesh


def all_flat(mesh, rng):
    mesh[:, 1] = mesh[:, 0]
    return mesh


def non_manifold(mesh, rng):
    fins = mesh[rng.integers(0, len(mesh), 30)].copy()
    fins[:, 2] += rng.normal(0.0, 100.0, (30, 3))
    return np.concatenate([mesh, fins])


def soup(mesh, rng):
    return mesh + rng.normal(0.0, 5.0, mesh.shape)


def turned_at_random(mesh, rng):
    turn = rng.random(len(mesh)) < 0.5
    mesh[turn] = mesh[turn, ::-1]
    return mesh


def holes(mesh, rng):
    return mesh[rng.random(len(mesh)) > 0.2]


def twice(mesh, rng):
    return np.concatenate([mesh, mesh[rng.random(len(mesh)) > 0.5]])


def wrong_unit(mesh, rng):
    return mesh * rng.choice([1e-3, 1e-2, 1e3, 1e6])


def far_point(mesh, rng):
    mesh[rng.integers(0, len(mesh)), 0] = 1e30
    return mesh


def one_triangle(mesh, rng):
    return mesh[:1]


def below_ground(mesh, rng):
    return mesh - [0.0, 0.0, float(rng.uniform(100.0, 3000.0))]


GEOMETRY = (with_nan, with_much_nan, with_inf, zero_area, all_flat, non_manifold, soup,
            turned_at_random, holes, twice, wrong_unit, far_point, one_triangle,
            below_ground)  # fmt: skip


def cases():
    """(name of the file, fault, seed): 203 with damaged bytes, then geometry, 300 in all."""
    seed = 0
    kinds = list(MAKERS)
    for fault, kind in zip(cycle(BYTES[:6] * 4 + BYTES[6:]), cycle(kinds), strict=False):
        if seed == 203:
            break
        yield kind, fault, seed
        seed += 1
    meshes = [kind for kind in kinds if kind != "drawing.dxf"]
    for fault, kind in zip(cycle(GEOMETRY), cycle(meshes[:5]), strict=False):
        if seed == 300:
            break
        yield kind, fault, seed
        seed += 1


CASES = list(cases())


def spoilt(kind, fault, seed):
    rng = np.random.default_rng(seed)
    with np.errstate(all="ignore"):
        if fault in BYTES:
            return fault(MAKERS[kind](triangles()), rng)
        return MAKERS[kind](fault(triangles(), rng))


def options(kind):
    return {} if kind.endswith(("glb", "dxf")) else {"unit": "mm"}


def test_three_hundred_different_cases() -> None:
    assert len(CASES) == 300
    assert {kind for kind, _, _ in CASES} == set(MAKERS)
    assert {fault for _, fault, _ in CASES} == {*BYTES, *GEOMETRY}
    contents = {spoilt(*case) for case in CASES if case[1] in BYTES[:6]}
    assert len(contents) == sum(fault in BYTES[:6] for _, fault, _ in CASES)


@pytest.mark.parametrize("kind", MAKERS)
def test_the_files_are_good_before_they_are_damaged(tmp_path, kind) -> None:
    path = tmp_path / kind
    path.write_bytes(MAKERS[kind](triangles()))
    front = read_front(path, **options(kind))
    assert len(front.sections) >= 3


@pytest.mark.parametrize(
    ("kind", "fault", "seed"), CASES, ids=[f"{s}-{f.__name__}-{k}" for k, f, s in CASES]
)
def test_damaged_file_is_refused_or_repaired(tmp_path, kind, fault, seed) -> None:
    path = tmp_path / kind
    path.write_bytes(spoilt(kind, fault, seed))
    if seed < 14:  # once for every kind what the parsers load once and for all
        try_to_read(path, kind)
    tracemalloc.start()
    try:
        result = try_to_read(path, kind)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < MEMORY_BYTES
    if isinstance(result, InputError):
        assert result.file == str(path)
        assert result.found
        assert result.expected
        assert result.todo
        assert "\n" not in str(result)
    else:
        assert isinstance(result, Front)
        assert result.reader_notes
        for section in result.sections:
            assert np.isfinite(section.points).all()


def try_to_read(path, kind):
    try:
        return read_front(path, **options(kind))
    except InputError as problem:
        return problem


# --- what exactly is said --------------------------------------------------------------------


def refusal(path, content, **given):
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_front(path, **given)
    return str(caught.value)


def repaired(path, content, **given):
    path.write_bytes(content)
    return " ".join(read_front(path, **given).reader_notes)


def test_huge_counts_are_refused_without_asking_for_memory(tmp_path) -> None:
    good = stl(triangles())
    huge = good[:80] + struct.pack("<I", 4_000_000_000) + good[84:]
    tracemalloc.start()
    try:
        assert "4000000000 triangles" in refusal(tmp_path / "a.stl", huge, unit="mm")
        ply = exported(triangles(), "ply").replace(b"vertex 384", b"vertex 3840000000")
        assert b"3840000000" in ply
        assert "header that counts" in refusal(tmp_path / "a.ply", ply, unit="mm")
        assert "header that counts" in refusal(
            tmp_path / "b.ply", exported(triangles(), "ply", encoding="ascii").replace(
                b"vertex 384", b"vertex 3840000000"), unit="mm")  # fmt: skip
        for edit, words in GLB_BOMBS:
            assert words in refusal(tmp_path / "a.glb", glb_edited(edit))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < MEMORY_BYTES


def glb_edited(edit):
    """A good GLB file with its description changed."""
    content = exported(triangles(), "glb")
    size = struct.unpack("<I", content[12:16])[0]
    tree = json.loads(content[20 : 20 + size])
    edit(tree)
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    rest = content[20 + size :]
    head = struct.pack("<4sIIII", b"glTF", 2, 20 + len(text) + len(rest), len(text), 0x4E4F534A)
    return head + text + rest


def _many_arrays(tree):
    for accessor in tree["accessors"]:
        accessor["count"] = 10**9


def _many_uses(tree):
    mesh = next(node for node in tree["nodes"] if "mesh" in node)
    tree["nodes"] += [dict(mesh, name=f"n{i}") for i in range(20_000)]


def _circle(tree):
    tree["nodes"] += [
        {"children": [len(tree["nodes"]) + 1]},
        {"children": [len(tree["nodes"])]},
    ]


GLB_BOMBS = [
    (_many_arrays, "an array of"),
    (_many_uses, "used so often"),
    (_circle, "their own parents"),
    (lambda tree: tree["buffers"][0].update(uri="file:///etc/hostname"), "in another file"),
    (lambda tree: tree["buffers"][0].update(byteLength=10**12), "a buffer of"),
    (lambda tree: tree["accessors"][0].update(count=-5), "cannot be read"),
    (lambda tree: tree["accessors"][0].update(componentType=1), "cannot be read"),
]


def test_glb_edited_without_a_fault_is_read(tmp_path) -> None:
    path = tmp_path / "a.glb"
    path.write_bytes(glb_edited(lambda tree: tree.update(extras={})))
    assert read_front(path).sections


def test_wrong_names_and_places(tmp_path) -> None:
    text = b"Nose proposal\n"
    assert "84 bytes" in refusal(tmp_path / "a.stl", text, unit="mm")
    assert "EOF" in refusal(tmp_path / "a.dxf", text)
    assert "PLY header" in refusal(tmp_path / "a.ply", text, unit="mm")
    assert "GLB header" in refusal(tmp_path / "a.glb", text)
    assert "no face" in refusal(tmp_path / "a.obj", text, unit="mm")
    assert "suffix '.dwg'" in refusal(tmp_path / "a.dwg", text)
    assert "row 2" in refusal(tmp_path / "b.stl", b"solid a\nfacets of a nose\n", unit="mm")
    assert "binary file" in refusal(tmp_path / "b.dxf", stl(triangles()))
    assert "empty" in refusal(tmp_path / "e.stl", b"", unit="mm")
    with pytest.raises(InputError, match="no such file"):
        read_front(tmp_path / "none.stl", unit="mm")
    (tmp_path / "folder.dxf").mkdir()
    with pytest.raises(InputError, match="a folder"):
        read_front(tmp_path / "folder.dxf")


def test_truncated_files_are_refused(tmp_path) -> None:
    for kind, make in MAKERS.items():
        content = make(triangles())
        for share in (0.3, 0.6, 0.9):
            cut = content[: int(share * len(content))]
            if kind == "mesh.obj":
                # A text of independent lines: what is left is read, or fails at its last line.
                continue
            assert refusal(tmp_path / kind, cut, **options(kind))


def test_repairs_are_told(tmp_path) -> None:
    rng = np.random.default_rng(0)
    path = tmp_path / "a.stl"
    assert "not a finite number" in repaired(path, stl(with_nan(triangles(), rng)), unit="mm")
    assert "not numbers" not in repaired(path, stl(triangles()), unit="mm")
    assert "damaged" in refusal(path, stl(with_much_nan(triangles(), rng)), unit="mm")
    assert "without area" in repaired(path, stl(zero_area(triangles(), rng)), unit="mm")
    assert "no triangle" in refusal(path, stl(all_flat(triangles(), rng)), unit="mm")
    assert "occur twice" in repaired(path, stl(twice(triangles(), rng)), unit="mm")
    assert "100 m" in refusal(path, stl(far_point(triangles(), rng)), unit="mm")
    assert "wound against" in repaired(path, stl(turned_at_random(triangles(), rng)), unit="mm")
    assert "after the last triangle" in repaired(path, stl(triangles()) + b"spare", unit="mm")
    assert "row 4" in refusal(
        tmp_path / "b.stl", stl_text(triangles()).replace(b"vertex", b"vertex one", 1), unit="mm"
    )
    assert "vertex '999'" in refusal(
        tmp_path / "a.obj", obj(triangles()) + b"f 999 1 2\n", unit="mm"
    )

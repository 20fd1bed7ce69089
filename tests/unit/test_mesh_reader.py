"""Meshes read: formats, units, axes, halves, parts, and what is reported."""

from __future__ import annotations

import hashlib
import io
import struct
from dataclasses import replace

import numpy as np
import pytest
import shapely

from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.surface.section import PARTS, Section, point_parts

# Air on the left; a front with an overhung lip.
FRONT = np.array([[400.0, 220.0], [120.0, 210.0], [30.0, 300.0], [55.0, 420.0], [10.0, 560.0],
                  [40.0, 760.0], [150.0, 850.0], [1000.0, 980.0], [1500.0, 1300.0]])  # fmt: skip
WIDTHS = np.array([-800.0, -330.0, 0.0, 250.0, 800.0])


def grid(line=FRONT, widths=WIDTHS):
    """Vertices and triangles of a line swept across the vehicle, in our axes [mm]."""
    n = len(line)
    y = np.repeat(widths, n)
    across = len(widths)
    vertices = np.column_stack([np.tile(line[:, 0], across), y, np.tile(line[:, 1], across)])
    faces = []
    for r in range(len(widths) - 1):
        for k in range(n - 1):
            a, b = r * n + k, r * n + k + 1
            faces += [(a, b, b + n), (a, b + n, a + n)]
    return vertices, np.array(faces)


def stl_bytes(triangles):
    records = np.zeros(len(triangles), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    records["v"] = triangles
    return b"a mesh".ljust(80) + struct.pack("<I", len(triangles)) + records.tobytes()


def stl_text(triangles):
    lines = ["solid front"]
    for t in triangles:
        lines.append(" facet normal 0 0 0\n  outer loop")
        lines += [f"   vertex {x!r} {y!r} {z!r}" for x, y, z in t.tolist()]
        lines.append("  endloop\n endfacet")
    return "\n".join([*lines, "endsolid front\n"]).encode()


def obj_text(vertices, faces, groups=None):
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices.tolist()]
    for name, chosen in (groups or {"": range(len(faces))}).items():
        lines.append(f"g {name}".rstrip())
        lines += ["f " + " ".join(str(i + 1) for i in faces[k].tolist()) for k in chosen]
    return "\n".join(lines).encode()


def write(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    return path


def front_stl(tmp_path, **moved):
    vertices, faces = grid(**moved)
    return write(tmp_path, "front.stl", stl_bytes(vertices[faces]))


def assert_sections(front, line=FRONT, atol=1e-4):
    """All sections are this line; atol is half a step of 32-bit numbers near 1500 mm, 6e-5."""
    for section in front.sections:
        assert section.points.shape == line.shape
        np.testing.assert_allclose(section.points, line, rtol=0.0, atol=atol)


def said(front, *words):
    return [note for note in front.reader_notes if all(word in note for word in words)]


# --- formats -----------------------------------------------------------------------------


def test_binary_stl(tmp_path) -> None:
    path = front_stl(tmp_path)
    front = read_front(path, unit="mm", pitch=200.0)
    assert front.stations == (-800.0, -600.0, -400.0, -200.0, 0.0, 200.0, 400.0, 600.0, 800.0)
    assert_sections(front)
    assert not front.symmetric
    assert front.datum == "common"
    assert front.name == "front"
    assert front.source.kind == "mesh"
    assert front.source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert said(front, "64 triangles")
    assert said(front, "Unit mm, as stated")
    assert said(front, "forward is -x", "assumed")
    assert said(front, "ground was not stated")


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb", "text.stl"])
def test_every_format_gives_the_same_sections(tmp_path, kind) -> None:
    vertices, faces = grid()
    options = {"unit": "mm", "pitch": 200.0}
    if kind == "stl":
        content = stl_bytes(vertices[faces])
    elif kind == "text.stl":
        content = stl_text(vertices[faces])
    elif kind == "obj":
        content = obj_text(vertices, faces)
    else:
        # Written by trimesh, independent of our readers. glTF: metres, +y up, front to +z.
        import trimesh

        if kind == "glb":
            vertices = np.column_stack([-vertices[:, 1], vertices[:, 2], -vertices[:, 0]]) / 1000.0
            options = {"pitch": 200.0}
        content = trimesh.Trimesh(vertices, faces, process=False).export(file_type=kind)
    front = read_front(write(tmp_path, f"front.{kind}", content), **options)
    assert len(front.sections) == 9
    assert_sections(front, atol=2e-4)
    if kind == "glb":
        assert said(front, "Unit m,", "standard")
        assert said(front, "forward is +z", "standard")
    assert front == replace(front, sections=front.sections)


def test_polygons_and_negative_indices_of_an_obj(tmp_path) -> None:
    vertices, faces = grid()
    pairs = zip(faces[::2].tolist(), faces[1::2].tolist(), strict=True)
    quads = [(*first, second[2]) for first, second in pairs]
    n = len(vertices)
    lines = [f"v {x!r} {y!r} {z!r} 1.0" for x, y, z in vertices.tolist()]
    lines += ["vn 0 0 1", "# quads", "s off"]
    lines += ["f " + " ".join(f"{i - n}//1" for i in quad) for quad in quads]
    front = read_front(write(tmp_path, "q.obj", "\n".join(lines).encode()), unit="mm", pitch=200.0)
    assert_sections(front)
    assert said(front, "32 polygons")


# --- units and axes ----------------------------------------------------------------------


def test_unit_is_never_guessed(tmp_path) -> None:
    with pytest.raises(InputError, match=r"without a unit.*mm, cm, m or in"):
        read_front(front_stl(tmp_path))
    with pytest.raises(InputError, match="'yard'"):
        read_front(front_stl(tmp_path), unit="yard")


@pytest.mark.parametrize(("unit", "k"), [("cm", 10.0), ("m", 1000.0), ("in", 25.4)])
def test_units(tmp_path, unit, k) -> None:
    vertices, faces = grid()
    path = write(tmp_path, "a.obj", obj_text(vertices / k, faces))
    assert_sections(read_front(path, unit=unit, pitch=200.0), atol=1e-9)


@pytest.mark.parametrize("forward", ["+x", "-x", "+y", "-y", "+z", "-z"])
@pytest.mark.parametrize("up", ["+x", "-x", "+y", "-y", "+z", "-z"])
def test_every_pair_of_axes_keeps_the_right_hand(tmp_path, forward, up) -> None:
    unit = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}
    sign = {"+": 1.0, "-": -1.0}
    f = sign[forward[0]] * np.array(unit[forward[1]])
    u = sign[up[0]] * np.array(unit[up[1]])
    # Not symmetric, so that a left-handed reading would show: sections differ left and right.
    vertices, faces = grid()
    vertices[:, 0] += 0.1 * (vertices[:, 1] + 800.0)
    right = np.cross(f, u)  # facing forward, head up: the right hand
    file = -vertices[:, :1] * f + vertices[:, 1:2] * right + (vertices[:, 2:] + 50.0) * u
    path = write(tmp_path, "a.obj", obj_text(file, faces))
    if forward[1] == up[1]:
        with pytest.raises(InputError, match="square to each other"):
            read_front(path, unit="mm", forward=forward, up=up)
        return
    front = read_front(path, unit="mm", forward=forward, up=up, ground=50.0, pitch=200.0)
    assert len(front.sections) == 9
    for section in front.sections:
        expected = FRONT + np.array([0.1 * (section.y + 800.0), 0.0])
        # At the left edge the mesh is cut 0.001 mm inside, where it slopes by 0.1.
        atol = 1.1e-4 if section.y == -800.0 else 1e-9
        np.testing.assert_allclose(section.points, expected, rtol=0.0, atol=atol)
    assert said(front, f"forward is {forward}, as stated")


@pytest.mark.parametrize(
    "option",
    [
        {"forward": "north"},
        {"up": "z+"},
        {"pitch": 0.0},
        {"pitch": float("nan")},
        {"pitch": "x"},
        {"ground": float("inf")},
        {"gap": -1.0},
    ],
)
def test_bad_options_are_refused(tmp_path, option) -> None:
    with pytest.raises(InputError, match=next(iter(option))) as caught:
        read_front(front_stl(tmp_path), unit="mm", **option)
    assert caught.value.file
    assert caught.value.todo


def test_implausible_sizes_are_said_or_refused(tmp_path) -> None:
    path = front_stl(tmp_path)
    with pytest.raises(InputError, match=r"within 100 m.*check the unit"):
        read_front(path, unit="m")
    vertices, faces = grid()
    metres = write(tmp_path, "m.obj", obj_text(vertices / 1000.0, faces))
    with pytest.raises(InputError, match=r"1\.6 mm wide.*check the unit"):
        read_front(metres, unit="mm")
    with pytest.raises(InputError, match=r"4 m wide.*frontcheck scan"):
        read_front(path, unit="cm", pitch=500.0)
    tall = write(tmp_path, "tall.obj", obj_text(vertices * [1.0, 1.0, 6.0], faces))
    with pytest.raises(InputError, match=r"4 m high.*frontcheck scan"):
        read_front(tall, unit="mm", pitch=500.0)
    half = front_stl(tmp_path, widths=np.array([0.0, 800.0, 2100.0]))
    with pytest.raises(InputError, match=r"4 m wide \(a half: 2 m\).*frontcheck scan"):
        read_front(half, unit="mm", pitch=500.0)
    path = front_stl(tmp_path)
    wide = write(tmp_path, "wide.obj", obj_text(vertices * [1.0, 2.1, 1.0], faces))
    front = read_front(wide, unit="mm", pitch=500.0)
    assert said(front, "Implausible", "width")
    assert "width" in front.reader_cautions[0]
    aside = write(tmp_path, "aside.obj", obj_text(vertices + np.array([0.0, 60.0, 0.0]), faces))
    with pytest.raises(InputError, match=r"740 mm to the left.*860 mm.*frontcheck scan"):
        read_front(aside, unit="mm")
    assert read_front(aside, unit="mm", symmetric=True).symmetric
    assert said(read_front(path, unit="mm", ground=-700.0), "Implausible", "above the ground")
    assert not said(read_front(path, unit="mm"), "Implausible")
    with pytest.raises(InputError, match=r"below the ground.*ground"):
        read_front(path, unit="mm", ground=2000.0)
    # Partly below: no section may go there, and the reader says so.
    with pytest.raises(InputError, match=r"no usable section.*below the ground"):
        read_front(path, unit="mm", ground=300.0)


# --- halves ------------------------------------------------------------------------------


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("short", [0.0, 0.4, -0.4])
def test_half_models_are_mirrored(tmp_path, side, short) -> None:
    widths = np.sort(side * np.array([short, 250.0, 800.0]))
    path = front_stl(tmp_path, widths=widths)
    front = read_front(path, unit="mm", pitch=200.0)
    assert front.symmetric
    assert_sections(front)
    assert sorted(abs(y) for y in front.stations) == [0.0, 200.0, 400.0, 600.0, 800.0]
    assert said(front, "right" if side > 0 else "left", "half")
    assert len(front.full().sections) == 9
    taken = read_front(path, unit="mm", pitch=200.0, symmetric=False)
    assert not taken.symmetric


def test_whole_mesh_stated_symmetric_gives_its_right_half(tmp_path) -> None:
    front = read_front(front_stl(tmp_path), unit="mm", pitch=200.0, symmetric=True)
    assert front.stations == (0.0, 200.0, 400.0, 600.0, 800.0)
    assert front.symmetric
    assert said(front, "right half was taken")


# --- parts -------------------------------------------------------------------------------


def test_obj_groups_label_the_points(tmp_path) -> None:
    vertices, faces = grid()
    stretch = np.tile(np.repeat(np.arange(8), 2), 4)
    names = ["underside", "bumper", "bumper", "grille.001", "grille", "panel", "Bonnet_2"]
    names.append("windscreen")
    groups = {}
    for i, name in enumerate(names):
        groups.setdefault(name, []).extend(np.flatnonzero(stretch == i).tolist())
    front = read_front(
        write(tmp_path, "a.obj", obj_text(vertices, faces, groups)), unit="mm", pitch=200.0
    )
    for section in front.sections:
        assert section.parts == (
            "underside", "bumper", "bumper", "bumper", "grille", "grille", "bonnet", "windscreen",
            "windscreen",
        )  # fmt: skip
    assert said(front, "underside, bumper, grille, bonnet, windscreen", "without")
    assert not said(front, "Nothing is named windscreen")


def test_glb_nodes_label_the_points(tmp_path) -> None:
    import trimesh

    vertices, faces = grid()
    file = np.column_stack([-vertices[:, 1], vertices[:, 2], -vertices[:, 0]]) / 1000.0
    stretch = np.tile(np.repeat(np.arange(8), 2), 4)
    scene = trimesh.Scene()
    # The bonnet lies elsewhere in its own mesh; its node moves it into place.
    away = np.array([3.0, -1.0, 2.0])
    for name, low, high in (("bumper", 0, 5), ("bonnet", 5, 7), ("windscreen", 7, 8)):
        chosen = faces[(stretch >= low) & (stretch < high)]
        shift = away if name == "bonnet" else np.zeros(3)
        scene.add_geometry(
            trimesh.Trimesh(file - shift, chosen, process=False),
            node_name=name,
            transform=trimesh.transformations.translation_matrix(shift),
        )
    path = write(tmp_path, "a.glb", scene.export(file_type="glb"))
    # Not at the outer edges: in 32-bit numbers the panels do not end in the very same plane.
    front = read_front(path, pitch=300.0)
    assert front.stations == (-600.0, -300.0, 0.0, 300.0, 600.0)
    for section in front.sections:
        # Moved by 3 m and back in 32-bit numbers: half a step near 3000 mm is 1.2e-4.
        assert np.abs(section.points - FRONT).max() < 5e-4
        assert section.parts == (*["bumper"] * 6, "bonnet", "windscreen", "windscreen")


def test_shared_points_prefer_windscreen_and_bumper() -> None:
    names = ("bumper", "grille", "bonnet", "cowl", "windscreen")
    bumper, grille, bonnet, cowl, glass = (PARTS.index(name) for name in names)
    assert point_parts(np.array([grille, bonnet])) == ["grille", "grille", "bonnet"]
    assert point_parts(np.array([grille, bumper])) == ["grille", "bumper", "bumper"]
    assert point_parts(np.array([cowl, glass])) == ["cowl", "windscreen", "windscreen"]
    across_a_gap = point_parts(np.array([bonnet, -1, glass]))
    assert across_a_gap == ["bonnet", "bonnet", "windscreen", "windscreen"]
    assert point_parts(np.array([-1, -1])) == ["", "", ""]
    assert point_parts(None) is None


# --- what is reported --------------------------------------------------------------------


def test_repairs_are_reported(tmp_path) -> None:
    vertices, faces = grid()
    triangles = vertices[faces]
    liner = grid(FRONT[2:-1] + np.array([20.0, -20.0]))
    folded = triangles[:1][:, [0, 0, 1]]
    mesh = np.concatenate([triangles, triangles[:6], folded, liner[0][liner[1]]])
    mesh[::5] = mesh[::5, ::-1]
    front = read_front(write(tmp_path, "a.stl", stl_bytes(mesh)), unit="mm", pitch=200.0)
    assert_sections(front)
    assert said(front, "without area", "1 triangle")
    assert said(front, "occur twice", "of 9 stations")
    assert said(front, "wound against each other")
    assert said(front, "Left out at 9 stations: parts behind the outer surface")


def test_inward_mesh_and_closed_mesh_are_reported(tmp_path) -> None:
    vertices, faces = grid()
    inward = write(tmp_path, "i.stl", stl_bytes(vertices[faces[:, ::-1]]))
    assert said(read_front(inward, unit="mm", pitch=200.0), "face inward")
    closed = np.concatenate([FRONT, [[1500.0, 220.0]], FRONT[:1]])
    vertices, faces = grid(closed)
    solid = read_front(write(tmp_path, "c.stl", stl_bytes(vertices[faces])), unit="mm", pitch=200.0)
    assert said(solid, "closed loop, opened at the rear")
    # Cut 0.001 mm inside the left edge, a diagonal there ends that far from a corner.
    assert_sections(solid, np.concatenate([[[1500.0, 220.0]], FRONT]), atol=2e-3)


def test_gap_option_and_its_report(tmp_path) -> None:
    rear = FRONT[6:] + np.array([30.0, 0.0])
    low, high = grid(FRONT[:7]), grid(rear)
    mesh = np.concatenate([low[0][low[1]], high[0][high[1]]])
    path = write(tmp_path, "a.stl", stl_bytes(mesh))
    # Wider than allowed it is bridged too, as a tape would; a caution says where.
    narrow = read_front(path, unit="mm", pitch=200.0)
    assert_sections(narrow, np.concatenate([FRONT[:7], rear]))
    (caution,) = narrow.reader_cautions
    assert "9 stations" in caution
    assert "30 mm near x 165, z 850" in caution
    wide = read_front(path, unit="mm", pitch=200.0, gap=31.0)
    assert wide.reader_cautions == ()
    assert said(wide, "9 gaps bridged", "30 mm")
    assert_sections(wide, np.concatenate([FRONT[:7], rear]))


def test_small_free_part_is_left_out_and_reported(tmp_path) -> None:
    # Small, above 700 mm and 100 mm clear of everything: no part of the body.
    mirror = grid(np.array([[900.0, 1100.0], [880.0, 1150.0], [900.0, 1200.0]]))
    mesh = np.concatenate([grid()[0][grid()[1]], mirror[0][mirror[1]]])
    path = write(tmp_path, "a.stl", stl_bytes(mesh))
    front = read_front(path, unit="mm", pitch=200.0)
    assert_sections(front)
    assert said(front, "Left out at 9 stations: small parts high up", "107.7 mm")
    assert "mirrors" in front.reader_cautions[0]


# --- the demonstration front -------------------------------------------------------------


@pytest.fixture(scope="module")
def plover(root):
    return read_front(root / "geometries" / "plover.csv")


@pytest.fixture(scope="module")
def plover_mesh(root):
    return read_front(root / "geometries" / "plover.stl", unit="mm", pitch=5.0)


STATED_MM = 0.55
"""Stated facet error of plover.stl between stations: its rows bend where either neighbouring
station bends, and between those places the cubic of four stations bends a little too."""


def hausdorff(a, b) -> float:
    """Largest distance from a place of either line to the other, at places 2 mm apart."""

    def farthest(one, other) -> float:
        places = shapely.points(
            shapely.get_coordinates(shapely.segmentize(shapely.linestrings(one), 2.0))
        )
        pieces = shapely.linestrings(np.stack([other[:-1], other[1:]], axis=1))
        # A tree of the pieces: the same distances as from the whole line, found faster.
        _, away = shapely.STRtree(pieces).query_nearest(
            places, all_matches=False, return_distance=True
        )
        return float(away.max())

    return max(farthest(a, b), farthest(b, a))


def test_plover_stl_agrees_with_the_offsets_it_was_made_from(plover, plover_mesh) -> None:
    surface = plover.surface()
    measured = {section.y: section for section in plover.full().sections}
    assert plover_mesh.stations == tuple(np.arange(-760.0, 761.0, 5.0))
    for section in plover_mesh.sections:
        if section.y in measured:
            # Thinned by 0.01 mm; 32-bit numbers near 1600 mm step by 1.2e-4; the left edge is cut
            # 0.001 mm inside, where the plan shape slopes by less than 3.
            expected, allowed = measured[section.y].points, 0.01 + 1.2e-4 + 3e-3
        else:
            u = np.union1d(surface.knots(section.y), np.linspace(0.0, 1.0, 1001))
            expected, allowed = surface.points(section.y, u)[:, ::2], STATED_MM
        assert hausdorff(section.points, expected) <= allowed


def test_plover_stl_gives_the_lines_of_the_offsets(plover, plover_mesh) -> None:
    # STL holds no parts, so the same offsets without theirs.
    bare = replace(
        plover, sections=tuple(Section(s.points, s.y) for s in plover.sections), symmetric=True
    ).full()
    common = sorted(set(bare.stations) & set(plover_mesh.stations) - {-760.0, 760.0})
    assert len(common) == 17
    hand, mesh = (
        screen(replace(front, sections=tuple(front.section(y) for y in common))).stations
        for front in (bare, plover_mesh)
    )
    for by_hand, by_mesh in zip(hand, mesh, strict=True):
        pairs = zip((*by_hand.lines, *by_hand.wads), (*by_mesh.lines, *by_mesh.wads), strict=True)
        for a, b in pairs:
            assert a.status == b.status, (by_hand.y, a, b)
            if a.formed:
                # Thinning by 0.01 mm moves a point of a line by little more.
                assert np.hypot(a.x - b.x, a.z - b.z) <= 0.05, (by_hand.y, a, b)


def test_reading_twice_gives_the_same(root) -> None:
    path = root / "geometries" / "plover.stl"
    a, b = (read_front(path, unit="mm", pitch=50.0) for _ in range(2))
    assert a.reader_notes == b.reader_notes
    for s, t in zip(a.sections, b.sections, strict=True):
        np.testing.assert_array_equal(s.points, t.points)


def test_missing_package_names_the_extra(tmp_path, monkeypatch) -> None:
    import sys

    import trimesh

    vertices, faces = grid()
    content = trimesh.Trimesh(vertices, faces, process=False).export(file_type="ply")
    path = write(tmp_path, "a.ply", content)
    monkeypatch.setitem(sys.modules, "trimesh", None)
    with pytest.raises(InputError, match=r"pip install 'frontcheck\[cad\]'"):
        read_front(path, unit="mm")
    # STL and OBJ need no other package.
    assert read_front(front_stl(tmp_path), unit="mm").sections


def test_ply_without_faces_and_glb_without_meshes_are_refused(tmp_path) -> None:
    import trimesh

    cloud = io.BytesIO()
    trimesh.PointCloud(grid()[0]).export(cloud, file_type="ply")
    with pytest.raises(InputError, match="no triangle"):
        read_front(write(tmp_path, "a.ply", cloud.getvalue()), unit="mm")

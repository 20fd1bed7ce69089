"""PLY and GLB files: headers checked first, then parsed by trimesh.

The counts in a header are checked against the size of the file before anything is parsed, so
that a damaged header cannot ask for memory.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import msgspec
import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from frontcheck.errors import InputError, refuse
from frontcheck.reading.cad_file import told_apart
from frontcheck.reading.ply_body import check_ply
from frontcheck.reading.solid import MeshData
from frontcheck.reading.table import several

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_GLB_BYTES: Final = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}
_GLB_WIDTH: Final = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
_SPARE_BYTES: Final = 100_000
_MOST_USES: Final = 50_000
_MOST_CORNERS: Final = 20_000_000


_Whole = Annotated[int, Meta(ge=0)]


def _numbers(count: int) -> Any:
    return Annotated[list[float], Meta(min_length=count, max_length=count)] | UnsetType


class _Node(Struct):
    """A node of a scene, as far as parsers look at it."""

    name: str | UnsetType = UNSET
    mesh: _Whole | UnsetType = UNSET
    children: list[_Whole] | UnsetType = UNSET
    matrix: _numbers(16) = UNSET  # type: ignore[valid-type]
    translation: _numbers(3) = UNSET  # type: ignore[valid-type]
    rotation: _numbers(4) = UNSET  # type: ignore[valid-type]
    scale: _numbers(3) = UNSET  # type: ignore[valid-type]


class _Primitive(Struct):
    attributes: dict[str, _Whole]
    indices: _Whole | UnsetType = UNSET
    mode: _Whole | UnsetType = UNSET


class _Mesh(Struct):
    primitives: list[_Primitive]
    name: str | UnsetType = UNSET


class _Accessor(Struct):
    componentType: _Whole
    count: _Whole
    type: str
    bufferView: _Whole | UnsetType = UNSET
    byteOffset: _Whole | UnsetType = UNSET


class _View(Struct):
    byteLength: _Whole
    buffer: _Whole = 0
    byteOffset: _Whole | UnsetType = UNSET
    byteStride: _Whole | UnsetType = UNSET


class _Scene(Struct):
    nodes: list[_Whole] | UnsetType = UNSET
    name: str | UnsetType = UNSET


class _Tree(Struct):
    """What a GLB file describes: a parser takes each entry to be of its kind (glTF 2.0, 5)."""

    scene: _Whole | UnsetType = UNSET
    scenes: list[_Scene] = []
    nodes: list[_Node] = []
    meshes: list[_Mesh] = []
    accessors: list[_Accessor] = []
    bufferViews: list[_View] = []


def read_ply(path: str | os.PathLike[str]) -> MeshData:
    """Read a PLY file."""
    file = os.fspath(path)
    content = Path(file).read_bytes()
    check_ply(content, file)
    mesh = _parsed(content, "ply", "a PLY mesh", file)
    mesh.objects, mesh.object_of = (), None  # the one name is the parser's own
    return mesh


def read_ply_points(path: str | os.PathLike[str]) -> tuple[Array, str]:
    """Return the vertices of a PLY file, with faces or without, and its digest."""
    file = os.fspath(path)
    content = Path(file).read_bytes()
    check_ply(content, file)

    def load() -> Array:
        import trimesh

        with np.errstate(all="ignore"):
            loaded: Any = trimesh.load(
                io.BytesIO(content), file_type="ply", process=False, skip_materials=True
            )
            return np.asarray(loaded.vertices, dtype=np.float64).reshape(-1, 3)

    points: Array = told_apart(load, file, "a PLY file")
    return points, hashlib.sha256(content).hexdigest()


def read_glb(path: str | os.PathLike[str]) -> MeshData:
    """Read a GLB file (binary glTF 2.0)."""
    # The standard fixes metres, +y up and a front that faces +z (glTF 2.0 specification, section
    # 3.4, coordinate system and units; from memory).
    file = os.fspath(path)
    content = Path(file).read_bytes()
    _check_glb(content, file)
    mesh = _parsed(content, "glb", "a GLB mesh", file)
    mesh.unit, mesh.forward, mesh.up = "m", "+z", "+y"
    return mesh


def laid_down(content: bytes, file: str) -> MeshData:
    """Read what our own process made of a model as GLB."""
    tree = json.loads(content[20 : 20 + int.from_bytes(content[12:16], "little")])
    if not tree.get("meshes"):
        raise refuse("step.no_shape", file)
    if _corners(tree) > _MOST_CORNERS:
        raise refuse("step.too_many", file)
    return _parsed(content, "glb", "a sound model", file)


def _corners(tree: dict[str, Any]) -> int:
    """Vertices of all meshes of a GLB file, each as often as it is used."""
    accessors, meshes = tree.get("accessors", []), tree.get("meshes", [])
    return sum(
        int(accessors[primitive["attributes"]["POSITION"]]["count"])
        for node in tree.get("nodes", [])
        if "mesh" in node
        for primitive in meshes[node["mesh"]]["primitives"]
    )


def _parsed(content: bytes, kind: str, expected: str, file: str) -> MeshData:
    def load() -> MeshData:
        import trimesh

        with np.errstate(all="ignore"):
            scene = trimesh.load_scene(
                io.BytesIO(content), file_type=kind, process=False, skip_materials=True
            )
            return _gathered(scene, hashlib.sha256(content).hexdigest(), file)

    mesh: MeshData = told_apart(load, file, expected)
    return mesh


def _gathered(scene: Any, digest: str, file: str) -> MeshData:
    """All meshes of a scene, each where the scene puts it."""
    points, faces, names = [], [], []
    parents = scene.graph.transforms.parents
    skipped: dict[str, int] = {}
    offset = 0
    for node in sorted(scene.graph.nodes_geometry):
        transform, name = scene.graph[node]
        geometry = scene.geometry[name]
        triangles = getattr(geometry, "faces", None)
        if triangles is None:
            kind = type(geometry).__name__
            skipped[kind] = skipped.get(kind, 0) + 1
            continue
        vertices = np.asarray(geometry.vertices, dtype=np.float64)
        moved = vertices @ transform[:3, :3].T + transform[:3, 3]
        if np.array_equal(transform, np.eye(4)):
            moved = vertices
        triangles = np.asarray(triangles, dtype=np.int64)
        if len(triangles) and (triangles.min() < 0 or triangles.max() >= len(vertices)):
            raise refuse("damaged.vertex", file)
        points.append(moved)
        faces.append(triangles + offset)
        path = [str(name), str(node)][str(node) == str(name) :]
        while (node := parents.get(node)) not in {None, scene.graph.base_frame}:
            path.append(str(node))
        names.append("/".join(reversed(path)))
        offset += len(vertices)
    notes = [f"Skipped: {several(n, kind)}." for kind, n in sorted(skipped.items())]
    if not points:
        return MeshData(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64), None, digest, notes)
    return MeshData(
        np.concatenate(points),
        np.concatenate(faces),
        None,
        digest,
        notes,
        objects=tuple(names),
        object_of=np.repeat(np.arange(len(faces)), [len(own) for own in faces]),
    )


def _check_glb(content: bytes, file: str) -> None:
    """Refuse what is no GLB file, is cut short, or asks for more than it holds."""
    if content[:4] != b"glTF" or len(content) < 20:
        raise refuse("damaged.glb", file)
    version, length = (int.from_bytes(content[i : i + 4], "little") for i in (4, 8))
    if version != 2:
        raise refuse("damaged.gltf_version", file, version=version)
    size = int.from_bytes(content[12:16], "little")
    if length > len(content) or size > len(content) - 20:
        counts, size = max(length, size), len(content)
        raise refuse("damaged.glb_length", file, counts=counts, size=size)
    try:
        text = content[20 : 20 + size]
        msgspec.json.decode(text, type=_Tree)
        tree = json.loads(text)
        data = int.from_bytes(content[20 + size : 24 + size], "little")
        if data > len(content) - size - 28:
            raise refuse("damaged.glb_length", file, counts=data, size=len(content))
        _check_tree(tree, len(content), data, file)
    except InputError:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, LookupError, RecursionError):
        raise refuse("glb.unreadable", file) from None


def _check_tree(tree: dict[str, Any], size: int, data: int, file: str) -> None:
    """Refuse a JSON part that asks for what the file does not hold, or for itself."""
    accessors = tree.get("accessors", [])
    for accessor in accessors:
        need = int(accessor["count"]) * _GLB_BYTES[accessor["componentType"]]
        need *= _GLB_WIDTH[accessor["type"]]
        if need < 0 or need > size:
            raise refuse("glb.array", file, need=need, size=size)
    views, buffers = tree.get("bufferViews", []), tree.get("buffers", [])
    for accessor in accessors:
        if "bufferView" not in accessor:
            continue
        # Each array within its view, and each view within the data there are.
        view = views[int(accessor["bufferView"])]
        own = _GLB_BYTES[accessor["componentType"]] * _GLB_WIDTH[accessor["type"]]
        step = int(view.get("byteStride", own))
        at, length = int(accessor.get("byteOffset", 0)), int(view["byteLength"])
        need = at + step * (int(accessor["count"]) - 1) + own
        start = int(view.get("byteOffset", 0))
        if min(at, start, length) < 0 or need > length or start + length > data:
            raise refuse("glb.array", file, need=max(need, start + length), size=min(length, data))
    for buffer in buffers:
        if "uri" in buffer:
            raise refuse("glb.elsewhere", file)
        if int(buffer["byteLength"]) > data:
            raise refuse("glb.buffer", file, need=buffer["byteLength"], size=data)
    nodes = tree.get("nodes", [])
    if (count := sum("mesh" in node for node in nodes)) > _MOST_USES:
        raise refuse("glb.instances", file, count=count, most=_MOST_USES)
    children = [int(child) for node in nodes for child in node.get("children", [])]
    if len(set(children)) != len(children):
        raise refuse("glb.two_parents", file)
    # One parent each, so a walk from the roots that misses a node has left out a circle.
    seen, todo = 0, list(set(range(len(nodes))).difference(children))
    while todo:
        seen += 1
        todo.extend(int(child) for child in nodes[todo.pop()].get("children", []))
    if seen != len(nodes):
        raise refuse("glb.circle", file)
    need = _corners(tree)
    # Each use of a mesh is laid down: many uses of one mesh could ask for any amount.
    if need * 12 > 20 * size + _SPARE_BYTES:
        raise refuse("glb.uses", file, need=need)

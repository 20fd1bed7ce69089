"""What a mesh, model or drawing holds by name, and the part of a front each counts as."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.reading import drawing, mesh
from frontcheck.reading.cad_file import cad_size, checked_unit
from frontcheck.reading.front_file import parts_told
from frontcheck.reading.part_names import named, parts_of
from frontcheck.reading.readers import MESH_SUFFIXES

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.geometry.arrays import Array

_REACH: Final = 1e7
"""Farthest coordinate of a drawing that is listed, in its unit."""
LEFT_OUT: Final = "left out"


@dataclass(frozen=True)
class NamedParts:
    """Named things of a file, in its own unit and axes."""

    unit: str | None  # Unit of the boxes, where the file tells
    counted: str  # What `counts` counts
    names: tuple[str, ...]
    counts: tuple[int, ...]  # Triangles or curves
    boxes: Array  # (n, 2, 3) lowest and highest coordinates
    parts: tuple[str, ...]  # Part of a front, `LEFT_OUT`, or an empty string
    stations: tuple[float | None, ...] | None  # Of layers of a drawing; None for a mesh
    notes: tuple[str, ...]


def named_parts(
    path: str | os.PathLike[str],
    unit: str | None = None,
    parts: Mapping[str, Sequence[str]] | None = None,
    exclude: Sequence[str] = (),
    beside: Sequence[str | os.PathLike[str]] = (),
) -> NamedParts:
    """List what a file holds by name; of several meshes, what they hold together."""
    file = os.fspath(path)
    suffix = PurePath(file).suffix.lower()
    if suffix == ".toml":
        return named_parts(**parts_told(path, unit=unit, part=parts, exclude=exclude))
    stated = checked_unit(unit, file)
    if suffix == ".dxf":
        cad_size(path, drawing.MAX_BYTES, "a DXF drawing")
        document = drawing.parsed(Path(file).read_bytes(), file)
        held, notes = drawing.named_curves(document, drawing.CHORD_MM, _REACH, file)
        groups = [np.concatenate([curve for curve, *_ in curves]) for curves in held.values()]
        names, counts, counted = list(held), [len(curves) for curves in held.values()], "curves"
        stated = stated or drawing.own_unit(document, file)
        stations = tuple(drawing.station_said(name) for name in names)
    elif suffix in MESH_SUFFIXES:
        data = mesh.load_mesh(path, cad_size(path, mesh.MAX_BYTES, "a mesh file"), stated)
        data.clean(file)
        if beside:
            data, _ = mesh.with_others(data, file, beside, stated)
        of = np.zeros(len(data), dtype=np.intp) if data.object_of is None else data.object_of
        used = np.unique(of).tolist()
        corners = data.points if data.faces is None else data.points[data.faces]
        groups = [corners[of == i].reshape(-1, 3) for i in used]
        names = [data.objects[i] if data.objects else "" for i in used]
        counts, counted, stations = [len(group) // 3 for group in groups], "triangles", None
        stated, notes = stated or data.unit, [*data.notes, *data.cautions]
    else:
        raise refuse("parts.suffix", file, suffix=suffix, known=(".dxf", *MESH_SUFFIXES))
    gone = named(names, exclude, file)
    said = [
        LEFT_OUT if i in gone or (part == "ignore" and stations is None) else part
        for i, part in enumerate(parts_of(names, parts, file))
    ]
    boxes = [np.stack([group.min(axis=0), group.max(axis=0)]) for group in groups]
    return NamedParts(
        stated,
        counted,
        tuple(names),
        tuple(counts),
        np.array(boxes, dtype=np.float64).reshape(-1, 2, 3),
        tuple(said),
        stations,
        tuple(notes),
    )

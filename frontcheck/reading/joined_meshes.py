"""Several meshes of one front, such as one file a part, joined into one."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.errors import refuse
from frontcheck.reading.solid import MeshData

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array


def joined(meshes: Sequence[tuple[str, MeshData]], file: str) -> MeshData:
    """Return clean meshes, each with the name of its file, as one whose objects are named so."""
    stated = {(mesh.unit, mesh.forward, mesh.up) for _, mesh in meshes}
    if len(stated) > 1:
        raise refuse("mesh.not_alike", file, names=[name for name, _ in meshes])
    corners: list[Array] = []
    owners, notes = [], []
    objects: list[str] = []
    for name, mesh in meshes:
        held = mesh.points if mesh.faces is None else mesh.points[mesh.faces]
        corners.append(np.asarray(held, dtype=np.float64))
        own = np.zeros(len(mesh), dtype=np.int64) if mesh.object_of is None else mesh.object_of
        owners.append(own + len(objects))
        stem = PurePath(name).stem
        objects += [f"{stem}/{each}" if each else stem for each in mesh.objects or ("",)]
        notes += [f"{name}: {note}" for note in mesh.notes]
    first = meshes[0][1]
    return MeshData(
        np.concatenate(corners),
        faces=None,
        parts=None,
        sha256=first.sha256,
        notes=notes,
        unit=first.unit,
        forward=first.forward,
        up=first.up,
        objects=tuple(objects),
        object_of=np.concatenate(owners),
        cautions=tuple(text for _, mesh in meshes for text in mesh.cautions),
        join=max(mesh.join for _, mesh in meshes),
    )

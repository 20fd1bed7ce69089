"""The points of a scan: vertices of a mesh, or a bare cloud."""

from __future__ import annotations

import os
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.reading.cad_file import cad_size, checked_unit
from frontcheck.reading.table import mm_per, several

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_LEAST, _MOST = 5_000, 2_000_000
_FAR_MM: Final = 50_000.0


def scan_points(
    path: str | os.PathLike[str], unit: str | None, notes: list[str]
) -> tuple[Array, str]:
    """Return the points in file axes [mm] and the digest of the file."""
    from frontcheck.reading.mesh import MAX_BYTES, load_mesh
    from frontcheck.reading.mesh_parsed import read_ply_points

    file = os.fspath(path)
    size = cad_size(path, MAX_BYTES, "a scan")
    stated = checked_unit(unit, file)
    if PurePath(file).suffix.lower() == ".ply":
        points, digest = read_ply_points(path)
    else:
        mesh = load_mesh(path, size)
        points, digest = mesh.points.astype(np.float64), mesh.sha256
        stated = stated or mesh.unit
    if stated is None:
        raise refuse("mesh.no_unit", file)
    points = points.reshape(-1, 3)
    total = len(points)
    with np.errstate(all="ignore"):
        points = points[np.isfinite(points).all(axis=1)] * mm_per(stated)
        if len(points):
            points = points[np.abs(points - np.median(points, axis=0)).max(axis=1) < _FAR_MM]
    if len(points) < total:
        lost = several(total - len(points), "point")
        notes.append(f"Left out: {lost} that are no numbers or lie more than 50 m away.")
    points = np.unique(points, axis=0)  # corners of several triangles, once
    if len(points) < _LEAST:
        raise refuse("scan.few", file, count=several(len(points), "point"), least=_LEAST)
    notes.append(f"{several(len(points), 'point')} in {stated} were read.")
    if len(points) > _MOST:
        points = points[np.random.default_rng(0).permutation(len(points))[:_MOST]]
        notes.append(f"Every so many were taken, {_MOST} in all.")
    return points, digest

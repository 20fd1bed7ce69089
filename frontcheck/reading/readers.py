"""Readers: a file in, a `Front` out. The suffix of the file name picks the reader."""

from __future__ import annotations

import os
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import refuse
from frontcheck.reading.spreadsheet import SPREADSHEETS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from frontcheck.front.front import Front


def _offsets(
    path: str | os.PathLike[str], told: Mapping[str, Any] | None = None, **options: Any
) -> Front:
    from frontcheck.reading.offsets import read_offsets

    sheet = options.pop("sheet", None) if PurePath(path).suffix.lower() in SPREADSHEETS else None
    for name, value in options.items():
        if value is not None:
            raise refuse("reader.option", os.fspath(path), name=name)
    return read_offsets(path, sheet, told)


def _front_file(path: str | os.PathLike[str], **options: Any) -> Front:
    from frontcheck.reading.front_file import read_front_file

    return read_front_file(path, read_front, **options)


def _mesh(path: str | os.PathLike[str], **options: Any) -> Front:
    from frontcheck.reading.mesh import read_mesh

    return read_mesh(path, **options)


def _dxf(path: str | os.PathLike[str], **options: Any) -> Front:
    from frontcheck.reading.drawing import read_dxf

    if options.pop("include", None):
        raise refuse("reader.names", os.fspath(path), name="include")
    return read_dxf(path, **options)


MESH_SUFFIXES: Final = (".stl", ".obj", ".ply", ".glb", ".step", ".stp", ".iges", ".igs")
_READERS: Final[dict[str, Callable[..., Front]]] = {
    ".toml": _front_file,
    ".csv": _offsets,
    ".txt": _offsets,
    ".tsv": _offsets,
    **dict.fromkeys(SPREADSHEETS, _offsets),
    ".dxf": _dxf,
    **dict.fromkeys(MESH_SUFFIXES, _mesh),
}

KNOWN_SUFFIXES: Final = tuple(_READERS)


def read_front(path: str | os.PathLike[str], **options: Any) -> Front:
    """Read a vehicle front from a file, with the reader that its suffix calls for.

    Parameters
    ----------
    path : str or os.PathLike
        File to read. ``.csv``, ``.txt``, ``.tsv``, ``.xlsx``, ``.ods`` and ``.xls`` are offset
        tables, ``.dxf`` drawings, ``.stl``, ``.obj``, ``.ply`` and ``.glb`` meshes, ``.step``,
        ``.stp``, ``.iges`` and ``.igs`` models, which are made into meshes; ``.toml`` front
        files, which name one of these.
    **options : object
        What the file does not say; None counts as not given. Drawings, meshes and models: ``unit``
        ("mm", "cm", "m" or "in"), ``forward`` and ``up`` (axes of the file, such as "-x" and "+z"),
        ``ground`` (its height along up) and ``centre_y`` in units of the file, ``gap`` (the widest
        that is bridged [mm]), ``symmetric`` (True where one half stands for both), ``parts``
        (part names with patterns of the objects or layers that belong to each) and ``exclude``
        (patterns of what is left out; ``*`` stands for any text). Meshes and models: ``pitch``
        (station spacing [mm]) or ``stations`` [mm], ``include`` (names), ``beside`` (more files of
        the same front). Drawings and models: ``chord`` (how far facets may leave curves [mm]).
        Models: ``angle`` (from facet to facet [rad]). Spreadsheets: ``sheet``, its name.

    Returns
    -------
    Front
        The front, checked.

    Raises
    ------
    InputError
        If the suffix is not known, or the file cannot be used.

    Examples
    --------
    >>> import frontcheck as fc
    >>> front = fc.read_front("geometries/plover.csv")
    >>> front.name, front.stations[:3], front.symmetric
    ('Plover', (0.0, 100.0, 200.0), True)
    >>> mesh = fc.read_front("geometries/plover.stl", unit="mm", forward="-x", up="+z", pitch=50)
    >>> mesh.stations[-2:]
    (700.0, 750.0)
    """
    suffix = PurePath(path).suffix.lower()
    reader = _READERS.get(suffix)
    if reader is None:
        raise refuse(
            "reader.suffix",
            os.fspath(path),
            suffix=f"suffix {suffix!r}" if suffix else "a file name without a suffix",
            known=_READERS,
        )
    if reader not in (_offsets, _front_file) and options.pop("sheet", None) is not None:
        raise refuse("reader.sheet", os.fspath(path))
    return reader(path, **options)

"""Hard points under the skin (CSV): where something stiff lies below the bonnet.

Columns are ``x_<u>``, ``y_<u>``, ``z_<u>`` with the unit u one of mm, cm, m, in, and ``name``
and ``kind`` (any word, such as hinge or strut top). Axes are those of the offsets: x is the
setback from the same datum, y to the vehicle's right, z above ground. ``# name: ...`` and
``# notes: ...`` may stand on top.
"""

from __future__ import annotations

import os
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

from frontcheck.errors import escaped, refuse
from frontcheck.front.beside import HardPoint, HardPoints
from frontcheck.reading.columns import Layout, read_columns
from frontcheck.reading.table import (
    decimal_mark,
    mark_note,
    millimetres,
    parse_table,
    read_bytes,
    read_metadata,
)

if TYPE_CHECKING:
    from frontcheck.reading.table import Cell

_AXES: Final = ("x", "y", "z")
_TEXTS: Final = ("name", "kind")
_LAYOUT: Final = Layout(_AXES, _TEXTS, (*_AXES, *_TEXTS), "x_<u>, y_<u>, z_<u>, name and kind")
_KEYS: Final = {"name": 120, "notes": 4000}
"""Metadata keys, and how many characters each may take: they are printed in full."""
_MAX_TEXT: Final = 60
_MAX_COORDINATE: Final = 1e5
"""Farthest coordinate taken [mm], as for offsets: beyond it the unit is wrong."""


def read_hard_points(path: str | os.PathLike[str]) -> HardPoints:
    """Read a table of hard points.

    Parameters
    ----------
    path : str or os.PathLike
        The table.

    Returns
    -------
    HardPoints
        The points, checked.

    Raises
    ------
    InputError
        If the file or anything in it cannot be used, with file, row and column.

    Examples
    --------
    >>> import frontcheck as fc
    >>> found = fc.read_hard_points("geometries/plover-hard-points.csv")
    >>> settings = fc.FindingSettings(hard_points=found.points)
    >>> len(found.points)
    5
    """
    content, digest = read_bytes(path)
    file = os.fspath(path)
    table = parse_table(content, file)
    metadata = {
        key: cell.text.replace("\t", " ") for key, cell in read_metadata(table, file, _KEYS).items()
    }
    columns, table = read_columns(table, file, _LAYOUT)
    axes = [columns[axis].position for axis in _AXES]
    mark = decimal_mark((row[position] for row in table.rows for position in axes), file)
    points: list[HardPoint] = []
    seen: dict[str, int] = {}
    for row in table.rows:
        x, y, z = (
            _coordinate(row[columns[axis].position], columns[axis].unit, file) for axis in _AXES
        )
        if z < 0.0:
            raise refuse("table.below_ground", file, row[columns["z"].position], height=z)
        name = _text(row[columns["name"].position], file)
        kind = _text(row[columns["kind"].position], file)
        if name in seen:
            raise refuse(
                "hard_point.twice", file, row[columns["name"].position], name=name, row=seen[name]
            )
        seen[name] = row[0].row
        points.append(HardPoint(x, y, z, name, kind, row[0].row))
    return HardPoints(
        tuple(points),
        metadata.get("name", ""),
        metadata.get("notes", ""),
        escaped(PurePath(file).name),
        digest,
        (*table.notes, mark_note(mark)),
    )


def _coordinate(cell: Cell, unit: str, file: str) -> float:
    value = millimetres(cell, unit, file)
    if abs(value) > _MAX_COORDINATE:
        raise refuse("hard_point.too_far", file, cell, value=value)
    return value


def _text(cell: Cell, file: str) -> str:
    if len(cell.text) > _MAX_TEXT:
        raise refuse("hard_point.long_text", file, cell, count=len(cell.text), most=_MAX_TEXT)
    return cell.text.replace("\t", " ")

"""Hard points under the skin (CSV): where something stiff lies below the bonnet.

Columns are ``x_<u>``, ``y_<u>``, ``z_<u>`` with the unit u one of mm, cm, m, in, and ``name``
and ``kind`` (any word, such as hinge or strut top). Axes are those of the offsets: x is the
setback from the same datum, y to the vehicle's right, z above ground. ``# name: ...`` and
``# notes: ...`` may stand on top.
"""

from __future__ import annotations

import math
import os
import re
from dataclasses import dataclass
from decimal import Decimal
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError
from frontcheck.reading.offset_header import Column, cell_error, read_metadata, suggest
from frontcheck.reading.table import (
    MM_PER_UNIT,
    decimal_mark,
    mm_per,
    number_problem,
    parse_table,
    read_bytes,
)

if TYPE_CHECKING:
    from frontcheck.reading.table import Cell, RawTable

_AXES: Final = ("x", "y", "z")
_TEXTS: Final = ("name", "kind")
_UNITS: Final = ", ".join(MM_PER_UNIT)
_KEYS: Final = {"name": 120, "notes": 4000}
"""Metadata keys, and how many characters each may take: they are printed in full."""
_MAX_TEXT: Final = 60
_MAX_COORDINATE: Final = 1e5
"""Farthest coordinate taken [mm], as for offsets: beyond it the unit is wrong."""


@dataclass(frozen=True)
class HardPoint:
    """One point of something stiff under the skin.

    Parameters
    ----------
    x, y, z : float
        The point: setback, to the vehicle's right, above ground [mm].
    name : str
        What it is called; each name once in a file.
    kind : str
        What kind of thing it is, such as ``hinge``.
    row : int or None, optional
        Row of the source file.
    """

    x: float
    y: float
    z: float
    name: str
    kind: str
    row: int | None = None


@dataclass(frozen=True)
class HardPoints:
    """The hard points of one file.

    Parameters
    ----------
    points : tuple of HardPoint
        In the order of the file.
    name, notes : str, optional
        What the file says of itself.
    file : str, optional
        File name without folders.
    sha256 : str, optional
        Digest of the file's bytes, in hex.
    reader_notes : tuple of str, optional
        What the reader detected.
    """

    points: tuple[HardPoint, ...]
    name: str = ""
    notes: str = ""
    file: str = ""
    sha256: str = ""
    reader_notes: tuple[str, ...] = ()


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
    """
    content, digest = read_bytes(path)
    file = os.fspath(path)
    table = parse_table(content, file)
    metadata = {
        key: cell.text.replace("\t", " ") for key, cell in read_metadata(table, file, _KEYS).items()
    }
    columns = _columns(table, file)
    axes = [columns[axis].position for axis in _AXES]
    mark = decimal_mark((row[position] for row in table.rows for position in axes), file)
    notes = [
        *table.notes,
        f"The decimal mark was detected as a {'comma' if mark == ',' else 'point'}."
        if mark
        else "No decimal mark occurs: all numbers are whole.",
    ]
    points: list[HardPoint] = []
    seen: dict[str, int] = {}
    for row in table.rows:
        x, y, z = (
            _coordinate(row[columns[axis].position], columns[axis].unit, file) for axis in _AXES
        )
        if z < 0.0:
            raise cell_error(
                file,
                row[columns["z"].position],
                f"height {z:g} mm, below the ground",
                "heights above the ground plane, 0 or more",
                "measure heights from level ground, upward",
            )
        name = _text(row[columns["name"].position], file)
        kind = _text(row[columns["kind"].position], file)
        if name in seen:
            raise cell_error(
                file,
                row[columns["name"].position],
                f"name {name!r} again (first in row {seen[name]})",
                "each name once",
                "number the points, such as hinge 1 and hinge 2",
            )
        seen[name] = row[0].row
        points.append(HardPoint(x, y, z, name, kind, row[0].row))
    return HardPoints(
        tuple(points),
        metadata.get("name", ""),
        metadata.get("notes", ""),
        PurePath(file).name,
        digest,
        tuple(notes),
    )


def _columns(table: RawTable, file: str) -> dict[str, Column]:
    columns: dict[str, Column] = {}
    for position, name in enumerate(table.columns):
        try:
            quantity, unit = _column(position, name)
        except InputError as error:
            raise error.at(file=file, row=table.header_row) from None
        if quantity in columns:
            raise InputError(
                f"{quantity} a second time (first as {columns[quantity].name})",
                expected="each quantity in one column, with one unit",
                todo="delete one of the two columns",
                file=file,
                row=table.header_row,
                column=name,
            )
        columns[quantity] = Column(position, name, unit)
    for quantity in (*_AXES, *_TEXTS):
        if quantity not in columns:
            wanted = quantity if quantity in _TEXTS else f"{quantity}_mm"
            raise InputError(
                f"no column for {quantity}",
                expected=wanted
                if quantity in _TEXTS
                else f"{wanted}, or the same in another of the units {_UNITS}",
                todo="add the column"
                if quantity in _TEXTS
                else "add the column, with its unit in its name",
                file=file,
                row=table.header_row,
                column=quantity,
            )
    return columns


def _column(position: int, name: str) -> tuple[str, str]:
    """Quantity and unit of one column name."""
    lowered = name.lower()
    if lowered in _TEXTS:
        return lowered, ""
    quantity, _, unit = lowered.rpartition("_")
    if quantity in _AXES and unit in MM_PER_UNIT:
        return quantity, unit
    if not name:
        found, todo = f"column {position + 1} without a name", "name the column, or delete it"
    elif re.match(r"[+-]?[0-9]", name):
        found = f"{name[:40]!r} in the header: a number, no column name"
        todo = "put the line of column names above the first row"
    elif lowered in _AXES:
        found, todo = f"column {name!r} without a unit", f"name it {lowered}_mm if it is in mm"
    elif quantity in _AXES:
        found = f"unit {name.rpartition('_')[2][:20]!r}"
        todo = f"convert the column to one of {_UNITS} and say so in its name"
    else:
        found = f"unknown column {name[:40]!r}"
        known = [*(f"{axis}_{u}" for axis in _AXES for u in MM_PER_UNIT), *_TEXTS]
        todo = suggest(lowered, known, "rename the column, or delete it")
    raise InputError(
        found,
        expected=f"x_<u>, y_<u>, z_<u>, name and kind, with <u> one of {_UNITS}",
        todo=todo,
        column=name[:60] or str(position + 1),
    )


def _coordinate(cell: Cell, unit: str, file: str) -> float:
    """Value of a number cell [mm], converted in decimal arithmetic."""
    text = cell.text.replace(",", ".")
    if not math.isfinite(float(text)):
        raise number_problem(cell, file)
    value = float(Decimal(text) * Decimal(str(mm_per(unit)))) + 0.0
    if abs(value) > _MAX_COORDINATE:
        raise cell_error(
            file,
            cell,
            f"a coordinate beyond 100 m ({value:g} mm)",
            "points of a vehicle front",
            "check the unit in the column name",
        )
    return value


def _text(cell: Cell, file: str) -> str:
    if len(cell.text) > _MAX_TEXT:
        raise cell_error(
            file,
            cell,
            f"{len(cell.text)} characters",
            f"at most {_MAX_TEXT} characters",
            "shorten the text",
        )
    return cell.text.replace("\t", " ")

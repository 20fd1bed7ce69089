"""The top of an offset table: what its ``# key: value`` lines and column names mean."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError
from frontcheck.reading.survey_keys import SURVEY_KEYS
from frontcheck.reading.table import Cell
from frontcheck.reading.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from frontcheck.reading.table import RawTable

__all__ = ["Column", "cell_error", "read_columns", "read_metadata", "read_uncertainties", "suggest"]

_REQUIRED: Final = ("station", "height", "setback")
_UNCERTAINTIES: Final = ("height_u", "setback_u")
_QUANTITIES: Final = _REQUIRED + _UNCERTAINTIES
_UNITS: Final = ", ".join(MM_PER_UNIT)
_MAX_TEXT: Final = {
    "worksheet": 1000,
    "name": 120,
    "method": 500,
    "datum": 40,
    "symmetric": 40,
    "height_u": 40,
    "setback_u": 40,
    "ground_slope_deg": 40,
    "notes": 4000,
    **dict.fromkeys(SURVEY_KEYS, 120),
}
"""Metadata keys, and how many characters each may take: they are printed in full."""


@dataclass(frozen=True)
class Column:
    """One column of an offset table."""

    position: int  # Position from 0
    name: str  # Name as written
    unit: str  # Unit of length; empty for the part column


def cell_error(file: str, cell: Cell, found: str, expected: str, todo: str) -> InputError:
    """Return an error placed at a cell."""
    return InputError(
        found, expected=expected, todo=todo, file=file, row=cell.row, column=cell.column
    )


def suggest(word: str, known: Iterable[str], otherwise: str) -> str:
    """Return advice on a misspelt word."""
    close = difflib.get_close_matches(word[:60], list(known), n=1, cutoff=0.6)
    return f"did you mean {close[0]}? If not, {otherwise}" if close else otherwise


def read_metadata(
    table: RawTable, file: str, longest: Mapping[str, int] = _MAX_TEXT
) -> dict[str, Cell]:
    """Return the metadata lines by key."""
    metadata: dict[str, Cell] = {}
    for cell in table.comments:
        key = cell.column
        if key not in longest:
            raise cell_error(
                file,
                cell,
                f"unknown key {key[:40]!r}",
                f"one of {', '.join(longest)}",
                suggest(key, longest, "write free text as '# notes: ...'"),
            )
        if key in metadata:
            raise cell_error(
                file,
                cell,
                f"{key} a second time (first in row {metadata[key].row})",
                "each key once",
                "delete one of the two lines",
            )
        if len(cell.text) > longest[key]:
            raise cell_error(
                file,
                cell,
                f"{len(cell.text)} characters of {key}",
                f"at most {longest[key]} characters",
                "shorten the text",
            )
        metadata[key] = cell
    return metadata


def read_columns(table: RawTable, file: str) -> dict[str, Column]:
    """Return the columns by what they hold."""
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
    for quantity in _REQUIRED:
        if quantity not in columns:
            raise InputError(
                f"no column for {quantity}",
                expected=f"{quantity}_mm, or the same in another of the units {_UNITS}",
                todo="add the column, with its unit in its name",
                file=file,
                row=table.header_row,
                column=quantity,
            )
    return columns


def _column(position: int, name: str) -> tuple[str, str]:
    """Quantity and unit of one column name."""
    lowered = name.lower()
    if lowered == "part":
        return "part", ""
    quantity, _, unit = lowered.rpartition("_")
    if quantity in _QUANTITIES and unit in MM_PER_UNIT:
        return quantity, unit
    if not name:
        found, todo = f"column {position + 1} without a name", "name the column, or delete it"
    elif re.match(r"[+-]?[0-9]", name):
        found = f"{name[:40]!r} in the header: a number, no column name"
        todo = "put the line of column names above the first row"
    elif lowered in _QUANTITIES:
        found, todo = f"column {name!r} without a unit", f"name it {lowered}_mm if it is in mm"
    elif quantity in _QUANTITIES:
        found = f"unit {name.rpartition('_')[2][:20]!r}"
        todo = f"convert the column to one of {_UNITS} and say so in its name"
    else:
        found = f"unknown column {name[:40]!r}"
        known = [*(f"{q}_{u}" for q in _QUANTITIES for u in MM_PER_UNIT), "part"]
        todo = suggest(lowered, known, "rename the column, or delete it")
    raise InputError(
        found,
        expected="station_<u>, height_<u>, setback_<u>, part, height_u_<u> or setback_u_<u>, "
        f"with <u> one of {_UNITS}",
        todo=todo,
        column=name[:60] or str(position + 1),
    )


def read_uncertainties(
    metadata: Mapping[str, Cell], columns: Mapping[str, Column], file: str
) -> dict[str, tuple[Cell, str]]:
    """Return the uncertainties that are stated for the whole table, still as text."""
    stated = {}
    for key in _UNCERTAINTIES:
        cell = metadata.get(key)
        if cell is None:
            continue
        match = re.fullmatch(r"([^A-Za-z]*?)\s*([A-Za-z]+)", cell.text)
        if match is None or match[2].lower() not in MM_PER_UNIT or not match[1]:
            raise cell_error(
                file,
                cell,
                f"{cell.text!r}",
                f"a number with one of the units {_UNITS}",
                f"write it as '# {key}: 1.5 mm'",
            )
        if key in columns:
            raise cell_error(
                file,
                cell,
                f"{key} for the whole table, and column {columns[key].name} as well",
                "the uncertainty in one place",
                "delete the line or the column",
            )
        stated[key] = (Cell(match[1], cell.row, key), match[2].lower())
    return stated

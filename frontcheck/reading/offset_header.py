"""The top of an offset table: what its ``# key: value`` lines and column names mean."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError
from frontcheck.front.survey import CHECK_LINES, ArchHeights, MeasuredCheck, Survey
from frontcheck.reading.table import MM_PER_UNIT, Cell, mm_per

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from frontcheck.reading.table import RawTable

# What a measurer notes at the top of an offset table beside name and datum.
#
# Lengths carry their unit, as everywhere in the table (`datum_u` may read `1 mm`); angles are in
# the name of their key (`square_tilt_deg`). All six of `arch_...`, `wheelbase` and
# `front_axle` belong together. A check reads `LBRL height at 0 mm`, then its length and `u 3 mm`.
#
# A check is something measured on the car a second way. Rows are counted from 1 within their
# station; ``u`` is a standard uncertainty.

_ANGLES: Final = (
    "square_tilt_deg",
    "square_tilt_u_deg",
    "ground_slope_u_deg",
    "pitch_u_deg",
)
_LENGTHS: Final = ("datum_u", "ride_height_u")
_ARCHES: Final = (
    "arch_front_measured",
    "arch_rear_measured",
    "arch_front_normal",
    "arch_rear_normal",
    "wheelbase",
    "front_axle",
)
_CHECKS: Final = tuple(f"check_{i}" for i in range(1, 21))
_MAX_ANGLE: Final = 15.0
_MAX_LENGTH: Final = 1e5

SURVEY_KEYS: Final = (*_ANGLES, *_LENGTHS, *_ARCHES, *_CHECKS)
"""Keys of the lines read here."""

_NUMBER: Final = r"[+-]?[0-9]+(?:[.,][0-9]+)?"
_UNIT: Final = "|".join(MM_PER_UNIT)
_LENGTH: Final = rf"({_NUMBER})\s*({_UNIT})"
_CHECK: Final = re.compile(
    rf"(?:(?P<line>{'|'.join(CHECK_LINES)}) height|tape to row (?P<row>[0-9]{{1,5}}))"
    rf" at {_LENGTH}\s*: {_LENGTH}, u {_LENGTH}",
    re.IGNORECASE,
)


def survey_numbers(metadata: Mapping[str, Cell]) -> Iterator[Cell]:
    """Give every number of these lines, for telling the decimal mark of a table."""
    for key in SURVEY_KEYS:
        cell = metadata.get(key)
        if cell is not None:
            for text in re.findall(_NUMBER, cell.text):
                yield Cell(text, cell.row, cell.column)


def read_survey(metadata: Mapping[str, Cell], file: str) -> Survey:
    """Return what the metadata lines say of the survey."""
    angles = {key: _angle(metadata[key], file) for key in _ANGLES if key in metadata}
    lengths = {
        f"{key}_mm": _length(metadata[key], file, least=0.0) for key in _LENGTHS if key in metadata
    }
    checks = tuple(_check(metadata[key], file) for key in _CHECKS if key in metadata)
    return Survey(**angles, **lengths, arches=_arches(metadata, file), checks=checks)


def _angle(cell: Cell, file: str) -> float:
    expected = f"an angle in degrees, at most {_MAX_ANGLE:g}"
    if not re.fullmatch(_NUMBER, cell.text):
        raise _error(
            file, cell, f"{cell.text[:40]!r}", expected, f"write it as '# {cell.column}: 0.3'"
        )
    value = float(cell.text.replace(",", "."))
    if abs(value) > _MAX_ANGLE:
        raise _error(file, cell, f"{value:g} deg", expected, "check the value")
    if value < 0.0 and "_u_" in cell.column:
        raise _error(
            file,
            cell,
            f"a negative uncertainty, {cell.text}",
            "a standard uncertainty of 0 or more",
            "give the uncertainty as a positive angle",
        )
    return value


def _length(cell: Cell, file: str, *, least: float | None = None) -> float:
    match = re.fullmatch(_LENGTH, cell.text, re.IGNORECASE)
    if match is None:
        raise _error(
            file,
            cell,
            f"{cell.text[:40]!r}",
            f"a number with one of the units {', '.join(MM_PER_UNIT)}",
            f"write it as '# {cell.column}: 650 mm'",
        )
    value = _mm(match[1], match[2])
    if abs(value) > _MAX_LENGTH or (least is not None and value < least):
        low = -_MAX_LENGTH if least is None else least
        raise _error(
            file,
            cell,
            f"{value:g} mm",
            f"a length from {low:g} to {_MAX_LENGTH:g} mm",
            "check the value and its unit",
        )
    return value


def _mm(number: str, unit: str) -> float:
    return float(Decimal(number.replace(",", ".")) * Decimal(str(mm_per(unit.lower())))) + 0.0


def _arches(metadata: Mapping[str, Cell], file: str) -> ArchHeights | None:
    given = [key for key in _ARCHES if key in metadata]
    if not given:
        return None
    missing = [key for key in _ARCHES if key not in metadata]
    cell = metadata[given[0]]
    if missing:
        raise _error(
            file,
            cell,
            f"{given[0]} without {', '.join(missing)}",
            f"all of {', '.join(_ARCHES)}, or none",
            "add the lines that are missing, or delete the others",
        )
    values = {key: _length(metadata[key], file) for key in _ARCHES}
    try:
        return ArchHeights(
            front_measured_mm=values["arch_front_measured"],
            rear_measured_mm=values["arch_rear_measured"],
            front_normal_mm=values["arch_front_normal"],
            rear_normal_mm=values["arch_rear_normal"],
            wheelbase_mm=values["wheelbase"],
            front_axle_mm=values["front_axle"],
        )
    except InputError as problem:
        raise problem.at(file=file, row=cell.row, column=cell.column) from None


def _check(cell: Cell, file: str) -> MeasuredCheck:
    match = _CHECK.fullmatch(cell.text)
    if match is None:
        raise _error(
            file,
            cell,
            f"{cell.text[:60]!r}",
            f"the height of {', '.join(CHECK_LINES)}, or a tape to a row, at a station, with its "
            "uncertainty",
            f"write it as '# {cell.column}: LBRL height at 0 mm: 303 mm, u 3 mm' or "
            f"'# {cell.column}: tape to row 27 at 0 mm: 1012 mm, u 4 mm'",
        )
    groups = match.groups()[2:]
    station, measured, u = (_mm(*groups[i : i + 2]) for i in (0, 2, 4))
    try:
        if match["line"]:
            line = match["line"].upper()
            return MeasuredCheck("edge", station, measured, u, line=line, source_row=cell.row)
        row = int(match["row"])
        return MeasuredCheck("tape", station, measured, u, row=row, source_row=cell.row)
    except InputError as problem:
        raise problem.at(file=file, row=cell.row, column=cell.column) from None


def _error(file: str, cell: Cell, found: str, expected: str, todo: str) -> InputError:
    return InputError(
        found, expected=expected, todo=todo, file=file, row=cell.row, column=cell.column
    )


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

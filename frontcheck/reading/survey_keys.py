"""What a measurer notes at the top of an offset table beside name and datum.

Lengths carry their unit, as everywhere in the table; angles are in the name of their key::

    # square_tilt_deg: 0.3
    # datum_u: 1 mm
    # arch_front_measured: 650 mm        (all six of arch_..., wheelbase, front_axle)
    # check_1: LBRL height at 0 mm: 303 mm, u 3 mm
    # check_2: tape to row 27 at 150 mm: 1012 mm, u 4 mm

A check is something measured on the car a second way. Rows are counted from 1 within their
station; ``u`` is a standard uncertainty.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError
from frontcheck.front.survey import CHECK_LINES, ArchHeights, MeasuredCheck, Survey
from frontcheck.reading.table import Cell
from frontcheck.reading.units import MM_PER_UNIT, mm_per

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["SURVEY_KEYS", "read_survey", "survey_numbers"]

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

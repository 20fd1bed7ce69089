"""The top of an offset table: what its ``# key: value`` lines and column names mean."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError, refuse
from frontcheck.front.survey import (
    CHECK_LINES,
    MAX_ERROR_LENGTH_MM,
    MAX_SCALE_PERCENT,
    ArchHeights,
    MeasuredCheck,
    ReferenceMark,
    Survey,
)
from frontcheck.reading.columns import Layout, plain_name
from frontcheck.reading.table import MM_PER_UNIT, UNITS, Cell, mm_per, suggest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from frontcheck.reading.columns import Column
    from frontcheck.reading.table import RawTable


# What a measurer notes at the top of an offset table beside name and datum.
#
# Lengths carry their unit, as everywhere in the table (`datum_u` may read `1 mm`); angles are in
# the name of their key (`square_tilt_deg`); the scale is in percent (`scale_u` reads `0.5 %`).
# All six of `arch_...`, `wheelbase` and
# `front_axle` belong together. A check reads `LBRL height at 0 mm`, then its length and `u 3 mm`.
# A primary reference mark reads `sill, front hole at 1250 mm: 312 mm, design 305 mm`: its name,
# its setback from the datum, and its height above the ground as measured and by design.
#
# A check is something measured on the car a second way. Rows are counted from 1 within their
# station; ``u`` is a standard uncertainty.

_ANGLES: Final = (
    "square_tilt_deg",
    "square_tilt_u_deg",
    "ground_slope_u_deg",
    "pitch_u_deg",
)
_LENGTHS: Final = ("datum_u", "ride_height_u", "error_length")
_SCALE: Final = "scale_u"
ARCHES: Final = (
    "arch_front_measured",
    "arch_rear_measured",
    "arch_front_normal",
    "arch_rear_normal",
    "wheelbase",
    "front_axle",
)
_CHECKS: Final = tuple(f"check_{i}" for i in range(1, 21))
_MARKS: Final = tuple(f"mark_{i}" for i in range(1, 21))
_MAX_ANGLE: Final = 15.0
_MAX_LENGTH: Final = 1e5

READING_KEYS: Final = {
    "origin": "-900 mm, 620 mm",
    "range_u": "1.5 mm",
    "angle_u_deg": "0.1",
    "ground_mark_a": "-500 mm",
    "ground_mark_b": "-1500 mm",
    "tape_u": "1.5 mm",
    "comb_u": "0.5 mm",
}
"""Keys of readings other than height and setback, each with an example."""
SURVEY_KEYS: Final = (*_ANGLES, *_LENGTHS, _SCALE, *ARCHES, *_CHECKS, *_MARKS)
"""Keys of the lines read here."""

_NUMBER: Final = r"[+-]?[0-9]+(?:[.,][0-9]+)?"
_UNIT: Final = "|".join(MM_PER_UNIT)
_LENGTH: Final = rf"({_NUMBER})\s*({_UNIT})"
_CHECK: Final = re.compile(
    rf"(?:(?P<line>{'|'.join(CHECK_LINES)}) height|tape to row (?P<row>[0-9]{{1,5}}))"
    rf" at {_LENGTH}\s*: {_LENGTH}, u {_LENGTH}",
    re.IGNORECASE,
)
_MARK: Final = re.compile(
    rf"(?P<name>\S.*?) at {_LENGTH}\s*: {_LENGTH}, design {_LENGTH}", re.IGNORECASE
)


def survey_numbers(metadata: Mapping[str, Cell]) -> Iterator[Cell]:
    """Give every number of these lines, for telling the decimal mark of a table."""
    for key in (*SURVEY_KEYS, *READING_KEYS):
        cell = metadata.get(key)
        if cell is not None and not cell.kind:
            # What stands before the first length names a line or a mark.
            for text in re.findall(_NUMBER, cell.text.rpartition(" at ")[2]):
                yield Cell(text, cell.row, cell.column)


def read_survey(metadata: Mapping[str, Cell], file: str) -> Survey:
    """Return what the metadata lines say of the survey."""
    angles = {key: one_angle(metadata[key], file) for key in _ANGLES if key in metadata}
    numbers = {
        f"{key}_mm": one_length(
            metadata[key], file, 0.0, MAX_ERROR_LENGTH_MM if key == "error_length" else _MAX_LENGTH
        )
        for key in _LENGTHS
        if key in metadata
    }
    if _SCALE in metadata:
        numbers["scale_u_percent"] = _percent(metadata[_SCALE], file)
    checks = tuple(_check(metadata[key], file) for key in _CHECKS if key in metadata)
    arches, marks = _arches(metadata, file), read_marks(metadata, file)
    try:
        return Survey(**angles, **numbers, arches=arches, checks=checks, marks=marks)
    except InputError as problem:
        raise problem.at(file=file) from None


def read_marks(metadata: Mapping[str, Cell], file: str) -> tuple[ReferenceMark, ...]:
    """Return the primary reference marks that metadata lines state."""
    return tuple(_mark(metadata[key], file) for key in _MARKS if key in metadata)


def _mark(cell: Cell, file: str) -> ReferenceMark:
    match = _MARK.fullmatch(cell.text)
    if match is None:
        raise refuse("survey.mark", file, cell, text=cell.text[:80], name=cell.column)
    groups = match.groups()[1:]
    setback, measured, design = (_mm(*groups[i : i + 2]) for i in (0, 2, 4))
    try:
        return ReferenceMark(
            match["name"], setback, measured, design, cell.column, cell.row or None
        )
    except InputError as problem:
        raise problem.at(file=file, row=cell.row, column=cell.column) from None


def one_angle(cell: Cell, file: str) -> float:
    """Return an angle of the header [deg]."""
    expected = f"an angle in degrees, at most {_MAX_ANGLE:g}"
    if not re.fullmatch(_NUMBER, cell.text):
        raise refuse(
            "survey.no_angle", file, cell, text=cell.text[:40], wanted=expected, name=cell.column
        )
    value = float(cell.text.replace(",", "."))
    if abs(value) > _MAX_ANGLE:
        raise refuse("survey.angle", file, cell, value=value, wanted=expected)
    if value < 0.0 and "_u_" in cell.column:
        raise refuse("table.negative_angle_u", file, cell, text=cell.text)
    return value


def _percent(cell: Cell, file: str) -> float:
    match = re.fullmatch(rf"({_NUMBER})\s*%", cell.text)
    value = float(match[1].replace(",", ".")) if match else -1.0
    if not 0.0 <= value <= MAX_SCALE_PERCENT:
        raise refuse("survey.percent", file, cell, text=cell.text[:40], most=MAX_SCALE_PERCENT,
                     name=cell.column)  # fmt: skip
    return value


def one_length(
    cell: Cell, file: str, least: float = -_MAX_LENGTH, most: float = _MAX_LENGTH
) -> float:
    """Return a length of the header [mm]."""
    match = re.fullmatch(_LENGTH, cell.text, re.IGNORECASE)
    if match is None:
        raise refuse(
            "table.no_length", file, cell, text=cell.text[:40], units=UNITS, name=cell.column
        )
    value = _mm(match[1], match[2])
    if not least <= value <= most:
        raise refuse("survey.length", file, cell, value=value, low=least, high=most)
    return value


def _mm(number: str, unit: str) -> float:
    return float(Decimal(number.replace(",", ".")) * Decimal(str(mm_per(unit.lower())))) + 0.0


def _arches(metadata: Mapping[str, Cell], file: str) -> ArchHeights | None:
    given = [key for key in ARCHES if key in metadata]
    if not given:
        return None
    missing = [key for key in ARCHES if key not in metadata]
    cell = metadata[given[0]]
    if missing:
        raise refuse("survey.arches", file, cell, given=given[0], missing=missing, keys=ARCHES)
    values = {key: one_length(metadata[key], file) for key in ARCHES}
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


def layout_of(table: RawTable) -> Layout:
    """Return the columns that a table may have: a user's own ``origin`` is none of ours."""
    near = [i for i, name in enumerate(table.columns) if suggest(plain_name(name), [ORIGIN], "")]
    said = {row[i].text.strip().lower() for row in table.rows for i in near}
    if not any(suggest(word, ORIGINS[1:], "", cutoff=0.8) for word in said):
        return LAYOUT
    return replace(LAYOUT, texts=(*LAYOUT.texts, ORIGIN), words=f"{LAYOUT.words}, {ORIGIN}")


def survey_lines(survey: Survey, digits: Callable[[float], str]) -> dict[str, str]:
    """Return the header lines that say a survey again, but for marks and checks on the car."""
    said = {key: digits(value) for key in _ANGLES if (value := getattr(survey, key))}
    said |= {
        key: f"{digits(value)} mm" for key in _LENGTHS if (value := getattr(survey, f"{key}_mm"))
    }
    if survey.scale_u_percent:
        said[_SCALE] = f"{digits(survey.scale_u_percent)} %"
    if survey.arches is not None:
        names = (f"{key.removeprefix('arch_')}_mm" for key in ARCHES)
        lengths = zip(ARCHES, names, strict=True)
        said |= {key: f"{digits(getattr(survey.arches, name))} mm" for key, name in lengths}
    return said


def _check(cell: Cell, file: str) -> MeasuredCheck:
    match = _CHECK.fullmatch(cell.text)
    if match is None:
        raise refuse(
            "survey.check", file, cell, text=cell.text[:60], lines=CHECK_LINES, name=cell.column
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


_REQUIRED: Final = ("station", "height", "setback")
_UNCERTAINTIES: Final = ("height_u", "setback_u")
LAYOUT: Final = Layout(
    _REQUIRED + _UNCERTAINTIES,
    ("part",),
    _REQUIRED,
    "station_<u>, height_<u>, setback_<u>, part, height_u_<u> or setback_u_<u>",
)
"""The columns of an offset table."""
CHANGES_MARK: Final = " | "
"""Between changes in the ``# changes`` line."""
ORIGIN: Final = "origin"
"""Column of a table in which some points were never measured."""
ORIGINS: Final = ("measured", "proposed")
"""What it says of a row."""
LONGEST: Final = {
    "made_by": 250,
    "proposed": 300,
    "changes": 4000,
    "worksheet": 1000,
    "caution": 1000,
    "name": 120,
    "method": 500,
    "datum": 40,
    "symmetric": 40,
    "silhouette": 40,
    "height_u": 40,
    "setback_u": 40,
    "ground_slope_deg": 40,
    "notes": 4000,
    **dict.fromkeys((*SURVEY_KEYS, *READING_KEYS), 120),
}
"""Metadata keys, and how many characters each may take: they are printed in full."""


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
            raise refuse("table.no_u_length", file, cell, text=cell.text, units=UNITS, name=key)
        if key in columns:
            raise refuse("table.u_twice", file, cell, name=key, column_=columns[key].name)
        stated[key] = (Cell(match[1], cell.row, key, cell.kind), match[2].lower())
    return stated

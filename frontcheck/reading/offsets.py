"""Hand-measured offset tables (CSV): metadata lines, a header, rows in traced order.

Columns are ``station_<u>``, ``height_<u>``, ``setback_<u>`` with the unit u one of mm, cm, m,
in; optional are ``part`` (``-`` for a point without a label), ``height_u_<u>`` and
``setback_u_<u>``. Setback is the horizontal gap from a vertical datum, positive rearward.
"""

from __future__ import annotations

import math
import os
from dataclasses import replace
from decimal import Decimal
from itertools import groupby
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError, InputError
from frontcheck.front.front import Datum, Front, Source
from frontcheck.front.survey import slope_note
from frontcheck.reading.offset_header import (
    cell_error,
    read_columns,
    read_metadata,
    read_survey,
    read_uncertainties,
    suggest,
    survey_numbers,
)
from frontcheck.reading.sheet_rows import FORM_KEY, filled_metadata, measured_rows, sheet_check
from frontcheck.reading.table import (
    Cell,
    decimal_mark,
    mm_per,
    number_problem,
    parse_table,
    read_bytes,
)
from frontcheck.surface.section import PARTS, Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from frontcheck.front.survey import Survey
    from frontcheck.reading.table import RawTable

_NO_PART: Final = "-"
_MAX_SLOPE_DEG: Final = 15.0
"""Steepest ground taken [deg]: steeper than a parking ramp is a typing mistake."""
_MAX_STATION: Final = 1e5
"""Farthest station taken [mm], as for every other coordinate: beyond it the unit is wrong."""
_WRONG_WAY_MM: Final = 200.0
"""A contour whose last point stands this far ahead of its first [mm] was signed forward."""
_MAX_ROWS: Final = 20_000
"""Most rows taken at a station: no hand measurement has more, and checking them stays quick."""
_MARKS: Final = {".": "a point", ",": "a comma"}

_Row = tuple[Cell, ...]


def read_offsets(path: str | os.PathLike[str]) -> Front:
    """Read a hand-measured offset table."""
    content, digest = read_bytes(path)
    file = os.fspath(path)
    source = Source(PurePath(file).name, digest, "offsets")
    return _Interpreter(file, parse_table(content, file, form_key=FORM_KEY)).front(source)


class _Interpreter:
    """One pass over one table; holds what every step needs to read a cell or name its place."""

    def __init__(self, file: str, table: RawTable) -> None:
        self.file = file
        self.table = table
        self.metadata = filled_metadata(read_metadata(table, file), file)
        self.columns = read_columns(table, file)
        self.stated = read_uncertainties(self.metadata, self.columns, file)
        self.rows, left_out = measured_rows(table, self.metadata, self.columns, file)
        mark = decimal_mark(self.number_cells(), file)
        self.notes = [
            *table.notes,
            f"The decimal mark was detected as {_MARKS[mark]}."
            if mark
            else "No decimal mark occurs: all numbers are whole.",
            *left_out,
        ]

    def error(self, cell: Cell, found: str, expected: str, todo: str) -> InputError:
        return cell_error(self.file, cell, found, expected, todo)

    def front(self, source: Source) -> Front:
        datum, symmetric, slope = self.datum(), self.symmetric(), self.slope()
        name = self.text("name")
        if not name:
            name = PurePath(self.file).stem
            self.notes.append(f"The file gives no name; it is called {name} after the file.")
        sections = self.sections()
        if symmetric and sections[0].y < 0.0 < sections[-1].y:
            raise self.error(
                self.metadata["symmetric"],
                f"symmetric: yes with stations from {sections[0].y:g} to {sections[-1].y:g} mm",
                "stations on one side of the centre plane only",
                "say symmetric: no, or give one half",
            )
        return Front(
            tuple(sections),
            name=name,
            datum=datum,
            symmetric=symmetric,
            method=self.text("method"),
            notes=self.text("notes"),
            ground_slope_deg=slope,
            reader_notes=tuple(self.notes),
            source=source,
            survey=self.survey(),
        )

    def survey(self) -> Survey:
        survey = read_survey(self.metadata, self.file)
        if FORM_KEY not in self.metadata:
            return survey

        def at(station: float, rows: tuple[_Row, ...]) -> list[_Row]:
            return [row for row in rows if self.length(row, "station") == station]

        checks = (
            sheet_check(
                each, at(each.station, self.table.rows), at(each.station, self.rows), self.file
            )
            for each in survey.checks
        )
        return replace(survey, checks=tuple(checks))

    # ---- metadata -------------------------------------------------------------------

    def text(self, key: str) -> str:
        cell = self.metadata.get(key)
        return cell.text.replace("\t", " ") if cell else ""

    def datum(self) -> Datum:
        cell = self.metadata.get("datum")
        expected = (
            "datum: common (one lateral string line for all stations) or "
            "datum: local (square set anew at each section)"
        )
        if cell is None:
            raise InputError(
                "no datum",
                expected=expected,
                todo="add the line '# datum: common' or '# datum: local' at the top",
                file=self.file,
                row=self.table.header_row,
                column="datum",
            )
        value = cell.text.lower()
        if value == "common":
            return "common"
        if value == "local":
            return "local"
        raise self.error(cell, f"datum {cell.text!r}", expected, "write one of the two")

    def symmetric(self) -> bool:
        cell = self.metadata.get("symmetric")
        if cell is None:
            self.notes.append(
                "The file does not say whether the front is symmetric; it was taken as it is, "
                "without a mirror image."
            )
            return False
        value = cell.text.lower()
        if value not in {"yes", "no"}:
            raise self.error(
                cell,
                f"symmetric {cell.text!r}",
                "yes or no",
                "write yes for a half front to be mirrored, no for a front taken as it is",
            )
        return value == "yes"

    def slope(self) -> float:
        cell = self.metadata.get("ground_slope_deg")
        if cell is None:
            return 0.0
        slope = self.value(cell)
        if abs(slope) > _MAX_SLOPE_DEG:
            raise self.error(
                cell,
                f"a ground slope of {slope:g} deg",
                f"a slope between -{_MAX_SLOPE_DEG:g} and {_MAX_SLOPE_DEG:g} deg",
                "check the value, and measure on level ground if at all possible",
            )
        if slope != 0.0:
            self.notes.append(slope_note(slope))
        return slope

    # ---- cells ----------------------------------------------------------------------

    def number_cells(self) -> Iterator[Cell]:
        for number, _ in self.stated.values():
            yield number
        if "ground_slope_deg" in self.metadata:
            yield self.metadata["ground_slope_deg"]
        yield from survey_numbers(self.metadata)
        positions = [c.position for quantity, c in self.columns.items() if quantity != "part"]
        for row in self.table.rows:
            yield row[self.columns["station"].position]
        for row in self.rows:
            for position in positions:
                yield row[position]

    def value(self, cell: Cell, unit: str = "mm") -> float:
        """Value of a number cell [mm]."""
        # Converted in decimal arithmetic, so that 22.6 cm is 226 mm to the last bit.
        text = cell.text.replace(",", ".")
        if not math.isfinite(float(text)):
            raise number_problem(cell, self.file)
        return float(Decimal(text) * Decimal(str(mm_per(unit)))) + 0.0

    def length(self, row: _Row, quantity: str) -> float:
        column = self.columns[quantity]
        return self.value(row[column.position], column.unit)

    def not_negative(self, cell: Cell, value: float) -> float:
        if value < 0.0:
            raise self.error(
                cell,
                f"a negative uncertainty, {cell.text}",
                "a standard uncertainty of 0 or more",
                "give the uncertainty as a positive length",
            )
        return value

    def uncertainties(self, rows: list[_Row], quantity: str) -> list[float] | None:
        if quantity in self.columns:
            position = self.columns[quantity].position
            return [self.not_negative(r[position], self.length(r, quantity)) for r in rows]
        if quantity in self.stated:
            cell, unit = self.stated[quantity]
            return [self.not_negative(cell, self.value(cell, unit))] * len(rows)
        return None

    def parts(self, rows: list[_Row]) -> list[str] | None:
        if "part" not in self.columns:
            return None
        position = self.columns["part"].position
        parts = []
        for row in rows:
            part = row[position].text.lower()
            if part != _NO_PART and part not in PARTS:
                raise self.error(
                    row[position],
                    f"unknown part {row[position].text[:40]!r}",
                    f"one of {', '.join(PARTS)}, or {_NO_PART} for none",
                    suggest(part, PARTS, "use one of these names"),
                )
            parts.append("" if part == _NO_PART else part)
        return parts

    # ---- sections -------------------------------------------------------------------

    def sections(self) -> list[Section]:
        position = self.columns["station"].position
        done: dict[float, int] = {}
        blocks: list[tuple[float, list[_Row]]] = []
        # All stations first: rows out of place would otherwise show as a strange contour.
        for y, group in groupby(self.rows, key=lambda row: self.length(row, "station")):
            rows = list(group)
            cell = rows[0][position]
            self.check_station(cell, y, done)
            done[y] = cell.row
            blocks.append((y, rows))
        return [self.section(y, rows) for y, rows in blocks]

    def check_station(self, cell: Cell, y: float, done: dict[float, int]) -> None:
        if abs(y) > _MAX_STATION:
            raise self.error(
                cell,
                f"a station beyond 100 m ({y:g} mm)",
                "stations of a vehicle front",
                "check the unit in the column name",
            )
        if y in done:
            raise self.error(
                cell,
                f"station {y:g} mm again (first in row {done[y]})",
                "all rows of a station together, each station once",
                "move the rows to their station, or correct the station",
            )
        before = next(reversed(done), y)
        if y < before:
            raise self.error(
                cell,
                f"station {y:g} mm after station {before:g} mm",
                "stations in increasing order",
                "sort the stations from the vehicle's left to its right, as whole blocks",
            )

    def section(self, y: float, rows: list[_Row]) -> Section:
        numbers = [row[0].row for row in rows]
        if len(rows) > _MAX_ROWS:
            raise self.error(
                rows[_MAX_ROWS][self.columns["station"].position],
                f"{len(rows)} rows at station {y:g} mm",
                f"at most {_MAX_ROWS} rows at a station",
                "thin the rows out; a few dozen describe a section",
            )
        height = self.columns["height"].position
        points = np.empty((len(rows), 2))
        for i, row in enumerate(rows):
            points[i] = self.length(row, "setback"), self.length(row, "height")
            if points[i, 1] < 0.0:
                raise self.error(
                    row[height],
                    f"height {points[i, 1]:g} mm, below the ground",
                    "heights above the ground plane, 0 or more",
                    "measure heights from level ground, upward",
                )
        parts = self.parts(rows)
        height_u = self.uncertainties(rows, "height_u")
        setback_u = self.uncertainties(rows, "setback_u")
        try:
            section = Section(points, y, parts, height_u, setback_u, rows=numbers)
        except ContourError as problem:
            raise InputError(
                f"{problem.found}, at station {y:g} mm",
                expected=problem.expected,
                todo=problem.todo,
                file=self.file,
                row=numbers[-1] if problem.index is None else numbers[problem.index],
            ) from problem
        self.check_direction(section, rows[-1])
        return section

    def check_direction(self, section: Section, last: _Row) -> None:
        if section.z[-1] <= section.z[0]:
            raise self.error(
                last[self.columns["height"].position],
                f"station {section.y:g} mm ending at height {section.z[-1]:g} mm, "
                f"not above its first row at {section.z[0]:g} mm",
                "rows from the underside up the face to the windscreen",
                "reverse the order of the rows of this station",
            )
        ahead = section.x[0] - section.x[-1]
        if ahead > _WRONG_WAY_MM and section.x[-1] == section.x.min():
            raise self.error(
                last[self.columns["setback"].position],
                f"station {section.y:g} mm ending {ahead:g} mm ahead of its first row",
                "setbacks positive rearward from the datum",
                "change the sign of the setbacks",
            )

"""Hand-measured offset tables (CSV, spreadsheet): metadata lines, a header, rows in traced order.

Columns are ``station_<u>``, ``height_<u>``, ``setback_<u>`` with the unit u one of mm, cm, m,
in; optional are ``part`` (``-`` for a point without a label), ``height_u_<u>`` and
``setback_u_<u>``. Setback is the horizontal gap from a vertical datum, positive rearward.
Other readings may stand in place of height and setback: `frontcheck.reading.readings`.
"""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import groupby
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import ContourError, InputError, refuse
from frontcheck.front.attitude import adjusted
from frontcheck.front.front import MOST_POINTS, Datum, Front, Source
from frontcheck.front.survey import slope_note
from frontcheck.reading.columns import read_columns
from frontcheck.reading.form import FORM_KEY, filled_metadata, measured_rows, sheet_check
from frontcheck.reading.offset_header import (
    CHANGES_MARK,
    LONGEST,
    ORIGIN,
    ORIGINS,
    layout_of,
    read_survey,
    read_uncertainties,
    survey_numbers,
)
from frontcheck.reading.readings import Placed, check_keys, readings_of
from frontcheck.reading.spreadsheet import SPREADSHEETS, parse_spreadsheet
from frontcheck.reading.table import (
    MM_PER_UNIT,
    Cell,
    ReaderNotes,
    decimal_mark,
    mark_note,
    millimetres,
    parse_table,
    read_bytes,
    read_metadata,
    several,
    suggest,
)
from frontcheck.surface.section import PARTS, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from frontcheck.front.survey import Survey
    from frontcheck.geometry.arrays import Array
    from frontcheck.reading.table import RawTable

_NO_PART: Final = "-"
_MAX_SLOPE_DEG: Final = 15.0
"""Steepest ground taken [deg]: steeper than a parking ramp is a typing mistake."""
_MAX_STATION: Final = 1e5
"""Farthest station taken [mm], as for every other coordinate: beyond it the unit is wrong."""
_WRONG_WAY_MM: Final = 200.0
"""A contour whose last point stands this far ahead of its first [mm] was signed forward."""

_Row = tuple[Cell, ...]


def read_offsets(
    path: str | os.PathLike[str], sheet: str | None = None, told: Mapping[str, Any] | None = None
) -> Front:
    """Read a hand-measured offset table: of a spreadsheet the sheet named, or its only table."""
    content, digest = read_bytes(path)
    file = os.fspath(path)
    source = Source(PurePath(file).name, digest, "offsets")
    if PurePath(file).suffix.lower() in SPREADSHEETS:
        table, file = parse_spreadsheet(content, file, sheet, LONGEST, FORM_KEY)
    else:
        table = parse_table(content, file, form_key=FORM_KEY)
    try:
        return _Interpreter(file, table, told or {}).front(source)
    except InputError as problem:
        at = dict(table.letters).get(problem.column or "")
        problem.column = f"{at} ({problem.column})" if at else problem.column
        raise


class _Interpreter:
    """One pass over one table; holds what every step needs to read a cell or name its place."""

    def __init__(self, file: str, table: RawTable, told: Mapping[str, Any]) -> None:
        self.file = file
        self.told = told  # What a front file says: unit, datum, symmetric, shift
        self.shift: Mapping[str, float] = told.get("shift", {})  # Heights and stations less this
        self.metadata = filled_metadata(read_metadata(table, file, LONGEST), file)
        self.readings = readings_of(table)
        self.layout = self.readings.layout if self.readings else layout_of(table)
        self.columns, self.table = read_columns(table, file, self.layout)
        check_keys(self.readings, self.metadata, table, file)
        self.agree_in_unit()
        self.stated = read_uncertainties(self.metadata, self.columns, file)
        self.rows, left_out = measured_rows(self.table, self.metadata, self.columns, file)
        mark = decimal_mark(self.number_cells(), file, mixed=bool(table.places))
        marks = [] if table.places else [mark_note(mark)]
        self.notes = ReaderNotes([*self.table.notes, *marks, *left_out])
        self.used: list[_Row] = []

    def front(self, source: Source) -> Front:
        datum, symmetric, slope = self.datum(), self.symmetric(), self.slope()
        name = self.text("name")
        if not name:
            name = PurePath(self.file).stem
            self.notes.append(f"The file gives no name; it is called {name} after the file.")
        sections = self.as_seen(self.sections())
        if self.readings:
            self.notes.append(self.readings.note)
        if left := len(self.rows) - len(self.used):
            self.notes.append(f"Left out where pieces overlap: {several(left, 'row')}.")
        if symmetric and sections[0].y < 0.0 < sections[-1].y:
            raise refuse(
                "offsets.both_sides",
                self.file,
                self.metadata["symmetric"],
                first=sections[0].y,
                last=sections[-1].y,
            )
        front = Front(
            tuple(sections),
            name=name,
            datum=datum,
            symmetric=symmetric,
            method=self.text("method"),
            notes=self.text("notes"),
            ground_slope_deg=slope,
            reader_notes=tuple(self.notes),
            assumed=tuple(self.notes.assumed),
            source=source,
            survey=self.survey(),
            changes=tuple(filter(None, self.text("changes").split(CHANGES_MARK))),
        )
        return adjusted(front)

    def survey(self) -> Survey:
        survey = read_survey(self.metadata, self.file)
        if len(self.used) == len(self.table.rows):
            return survey

        def at(station: float, rows: Sequence[_Row]) -> list[_Row]:
            return [row for row in rows if self.length(row, "station") == station]

        checks = (
            sheet_check(
                each, at(each.station, self.table.rows), at(each.station, self.used), self.file
            )
            for each in survey.checks
        )
        return replace(survey, checks=tuple(checks))

    # ---- metadata -------------------------------------------------------------------

    def text(self, key: str) -> str:
        cell = self.metadata.get(key)
        return cell.text.replace("\t", " ") if cell else ""

    def datum(self) -> Datum:
        cell, told = self.metadata.get("datum"), self.told.get("datum")
        if cell is None and told is None:
            raise refuse("datum.none", self.file, self.table.header_row, column="datum")
        value = told if cell is None else cell.text.lower()
        self.agree(cell, told, value)
        if value == "common":
            return "common"
        if value == "local":
            return "local"
        raise refuse("datum.unknown", self.file, cell, text=value)

    def symmetric(self) -> bool:
        cell, told = self.metadata.get("symmetric"), self.told.get("symmetric")
        if cell is None and told is not None:
            return bool(told)
        if cell is None:
            self.notes.assume(
                "The file does not say whether the front is symmetric; it was taken as it is, "
                "without a mirror image."
            )
            return False
        value = cell.text.lower()
        if value not in {"yes", "no"}:
            raise refuse("offsets.symmetric", self.file, cell, text=cell.text)
        self.agree(cell, told, value == "yes")
        return value == "yes"

    def as_seen(self, sections: list[Section]) -> list[Section]:
        """The sections, marked where the table holds but an outline seen from the side."""
        cell = self.metadata.get("silhouette")
        if cell is None or cell.text.lower() == "no":
            return sections
        if cell.text.lower() != "yes" or len(sections) > 1:
            raise refuse("offsets.silhouette", self.file, cell, text=cell.text[:40],
                         count=several(len(sections), "station"))  # fmt: skip
        return [replace(section, silhouette=True) for section in sections]

    def agree_in_unit(self) -> None:
        """Refuse columns in another unit than a front file states."""
        unit = self.told.get("unit")
        for column in self.columns.values():
            if unit is not None and column.unit in MM_PER_UNIT and column.unit != unit:
                row = self.table.header_row
                raise refuse("offsets.unit", self.file, row, column=column.name, unit=unit)
        if self.readings is not None and self.shift.get("height"):
            raise refuse("offsets.ground", self.file, self.table.header_row)

    def agree(self, cell: Cell | None, told: object, own: object) -> None:
        """Refuse a front file that says other than the table."""
        if cell is not None and told not in (None, own):
            raise refuse("offsets.front_file", self.file, cell, name=cell.column, text=cell.text)

    def slope(self) -> float:
        cell = self.metadata.get("ground_slope_deg")
        if cell is None:
            return 0.0
        slope = self.value(cell)
        if abs(slope) > _MAX_SLOPE_DEG:
            raise refuse("offsets.slope", self.file, cell, slope=slope, most=_MAX_SLOPE_DEG)
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
        positions = [c.position for c in self.columns.values() if c.unit]
        for row in self.table.rows:
            yield row[self.columns["station"].position]
        for row in self.rows:
            for position in positions:
                if row[position].text or self.table.form:
                    yield row[position]

    def value(self, cell: Cell, unit: str = "mm") -> float:
        """Value of a number cell [mm]."""
        return millimetres(cell, unit, self.file)

    def length(self, row: _Row, quantity: str) -> float:
        column = self.columns[quantity]
        value = self.value(row[column.position], column.unit.replace("deg", "mm"))
        return value - self.shift.get(quantity, 0.0) if self.shift else value

    def not_negative(self, cell: Cell, value: float) -> float:
        if value < 0.0:
            raise refuse("table.negative_u", self.file, cell, text=cell.text)
        return value

    def uncertainties(self, rows: list[_Row], quantity: str) -> Array | None:
        if quantity in self.columns:
            position = self.columns[quantity].position
            given = [self.not_negative(r[position], self.length(r, quantity)) for r in rows]
            return np.array(given)
        if quantity in self.stated:
            cell, unit = self.stated[quantity]
            return np.full(len(rows), self.not_negative(cell, self.value(cell, unit)))
        return None

    def parts(self, rows: list[_Row]) -> list[str] | None:
        if "part" not in self.columns:
            return None
        position = self.columns["part"].position
        parts = []
        for row in rows:
            part = row[position].text.lower()
            if part != _NO_PART and part not in PARTS:
                raise refuse(
                    "offsets.part",
                    self.file,
                    row[position],
                    text=row[position].text[:40],
                    parts=PARTS,
                    no_part=_NO_PART,
                    advice=suggest(part, PARTS, "use one of these names"),
                )
            parts.append("" if part == _NO_PART else part)
        return parts

    def proposed(self, rows: list[_Row]) -> list[bool] | None:
        if ORIGIN not in self.columns:
            return None
        cells = [row[self.columns[ORIGIN].position] for row in rows]
        for cell in cells:
            if cell.text.lower() not in ORIGINS:
                raise refuse("offsets.origin", self.file, cell, text=cell.text[:40], known=ORIGINS)
        return [cell.text.lower() == ORIGINS[1] for cell in cells]

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
            raise refuse("offsets.too_far", self.file, cell, y=y)
        if y in done:
            raise refuse("offsets.station_twice", self.file, cell, y=y, row=done[y])
        before = next(reversed(done), y)
        if y < before:
            raise refuse("offsets.order", self.file, cell, y=y, before=before)

    def section(self, y: float, rows: list[_Row]) -> Section:
        if len(rows) > MOST_POINTS:
            raise refuse(
                "offsets.many_rows",
                self.file,
                rows[MOST_POINTS][self.columns["station"].position],
                count=len(rows),
                y=y,
                most=MOST_POINTS,
            )
        placed = self.placed(rows)
        rows, points = list(placed.rows), placed.points
        numbers = [row[0].row for row in rows]
        self.used += rows
        for i in np.flatnonzero(points[:, 1] < 0.0):
            raise refuse(
                "table.below_ground", self.file, self.read_height(rows[i]), height=points[i, 1]
            )
        parts = self.parts(rows)
        height_u, setback_u, both = placed.uncertainty
        if self.readings is None:
            height_u = self.uncertainties(rows, "height_u")
            setback_u = self.uncertainties(rows, "setback_u")
        try:
            section = Section(
                points, y, parts, height_u, setback_u, numbers, both, self.proposed(rows)
            )
        except ContourError as problem:
            at = numbers[-1 if problem.index is None else problem.index]
            places = self.table.places and [
                self.table.places[self.columns[each].position] for each in self.layout.required
            ]
            raise refuse("offsets.contour", self.file, at, column=", ".join(places) or None, y=y,
                         found=problem.found, expected=problem.expected,
                         todo=problem.todo) from problem  # fmt: skip
        self.check_direction(section, rows[-1])
        return section

    def placed(self, rows: list[_Row]) -> Placed:
        """Where the rows of a station lie."""
        if self.readings is not None:
            return self.readings.place(rows, self.columns, self.metadata, self.length, self.file)
        places = [(self.length(row, "setback"), self.length(row, "height")) for row in rows]
        return Placed(rows, np.array(places))

    def read_height(self, row: _Row, quantity: str = "height") -> Cell:
        """The cell that a height was read from, or the first reading that it follows from."""
        own = quantity if self.readings is None else self.layout.required[-1]
        return row[self.columns[own].position]

    def check_direction(self, section: Section, last: _Row) -> None:
        if section.z[-1] <= section.z[0]:
            raise refuse(
                "offsets.upside_down",
                self.file,
                self.read_height(last),
                y=section.y,
                last=section.z[-1],
                first=section.z[0],
            )
        ahead = section.x[0] - section.x[-1]
        if ahead > _WRONG_WAY_MM and section.x[-1] == section.x.min():
            raise refuse(
                "offsets.wrong_way",
                self.file,
                self.read_height(last, "setback"),
                y=section.y,
                ahead=ahead,
            )

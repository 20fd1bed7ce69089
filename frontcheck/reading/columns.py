"""The columns of a table: what each holds, which are left aside, and which rows are used."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError, refuse
from frontcheck.reading.table import MM_PER_UNIT, UNITS, several, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.reading.table import Cell, RawTable

_SHOWN: Final = 8


@dataclass(frozen=True)
class Column:
    """One column of a table."""

    position: int  # Position from 0
    name: str  # Name as written
    unit: str  # Unit of length, or deg; empty for a column of texts


@dataclass(frozen=True)
class Layout:
    """The columns that a kind of table may have."""

    lengths: tuple[str, ...]  # Quantities with a unit at the end of their name
    texts: tuple[str, ...]  # Columns of texts
    required: tuple[str, ...]  # Those that must be there
    words: str  # All of them, for messages
    angles: tuple[str, ...] = ()  # Quantities in degrees, with _deg at the end of their name
    blank: tuple[str, ...] = ()  # Those whose cells may be blank


def read_columns(table: RawTable, file: str, layout: Layout) -> tuple[dict[str, Column], RawTable]:
    """Return the columns by what they hold, and the table without its blank rows."""
    columns: dict[str, Column] = {}
    row, left = table.header_row, []
    for position, name in enumerate(table.columns):
        place = table.places[position] if table.places else name[:60] or str(position + 1)
        try:
            quantity, unit = _column(position, name, layout)
        except InputError as error:
            raise error.at(file=file, row=row, column=place) from None
        if not quantity:
            left.append(place)
            continue
        if quantity in columns:
            first = columns[quantity].name
            raise refuse("column.twice", file, row, column=place, quantity=quantity, first=first)
        columns[quantity] = Column(position, name, unit)
    for quantity in layout.required:
        if quantity not in columns:
            if quantity in layout.texts:
                raise refuse("column.no_text", file, row, column=quantity, quantity=quantity)
            raise refuse("column.missing", file, row, column=quantity, quantity=quantity,
                         units="deg" if quantity in layout.angles else UNITS,
                         unit="deg" if quantity in layout.angles else "mm")  # fmt: skip
    may_be_blank = columns if table.form else layout.blank
    checked = [c.position for quantity, c in columns.items() if quantity not in may_be_blank]
    return columns, _used_rows(table, file, [c.position for c in columns.values()], checked, left)


def _used_rows(
    table: RawTable, file: str, used: Sequence[int], checked: Sequence[int], left: Sequence[str]
) -> RawTable:
    """The table without rows that are blank in all used columns; other blank cells are refused."""
    rows, blank = [], []
    for row in table.rows:
        if not any(row[position].text for position in used):
            blank.append(row[0].row)
            continue
        check_usable([row[position] for position in used], file)
        gap = next((row[position] for position in checked if not row[position].text), None)
        if gap is not None:
            raise refuse("blank.cell", file, gap)
        rows.append(row)
    if not rows:
        raise refuse("table.no_rows", file, table.header_row)
    notes = list(table.notes)
    if left:
        notes.append(f"Left aside: {several(len(left), 'column')} ({', '.join(left)}).")
    if blank:
        shown = ", ".join(map(str, blank[:_SHOWN])) + (" and more" if blank[_SHOWN:] else "")
        notes.append(f"Skipped: {several(len(blank), 'blank row')} ({shown}).")
    return replace(table, rows=tuple(rows), notes=tuple(notes))


def check_usable(cells: Iterable[Cell], file: str) -> None:
    """Refuse what a spreadsheet made of a value, and formulas without a result."""
    for cell in cells:
        if cell.kind == "date":
            raise refuse("spreadsheet.date", file, cell, text=cell.text)
        if cell.kind == "empty":
            raise refuse("spreadsheet.empty", file, cell, text=cell.text[:60])


def plain_name(name: str) -> str:
    """Return the name of a column, or a key, as ours are written: ``height (mm)`` is height_mm."""
    return re.sub(r"[\s()\[\]_,]+", "_", name.lower().replace("°", "deg")).strip("_")


def _column(position: int, name: str, layout: Layout) -> tuple[str, str]:
    """Quantity and unit of one column name; empty for a column to be left aside."""
    lowered = plain_name(name)
    if lowered in layout.texts:
        return lowered, ""
    quantity, _, unit = lowered.rpartition("_")
    if (quantity in layout.lengths and unit in MM_PER_UNIT) or (
        quantity in layout.angles and unit == "deg"
    ):
        return quantity, unit
    words = layout.words
    if not name:
        raise refuse("column.no_name", words=words, units=UNITS, position=position + 1)
    if re.match(r"[+-]?[0-9]", name):
        raise refuse("column.number", words=words, units=UNITS, name=name[:40])
    if lowered in (*layout.lengths, *layout.angles):
        example = (
            f"{lowered}_deg if it is in degrees"
            if lowered in layout.angles
            else f"{lowered}_mm if it is in mm"
        )
        raise refuse("column.no_unit", words=words, units=UNITS, name=name, example=example)
    if quantity in (*layout.lengths, *layout.angles):
        raise refuse("column.unit", words=words, units=UNITS, unit=unit[:20])
    known = [*(f"{q}_{u}" for q in layout.lengths for u in MM_PER_UNIT), *layout.texts]
    advice = suggest(lowered, [*known, *(f"{q}_deg" for q in layout.angles)], "")
    if not advice:
        return "", ""
    todo = f"{advice}rename the column, or delete it"
    raise refuse("column.unknown", words=words, units=UNITS, name=name[:40], advice=todo)

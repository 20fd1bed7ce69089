"""Rows of a filled measuring sheet: which were measured, and which were left as printed.

An ordinary table refuses blank cells. A sheet printed by ``frontcheck worksheet`` offers more
rows than anyone measures, and says so in its ``# worksheet`` line; a row of it in which nothing
was measured is left out and counted. Whatever is half filled in is still refused.
"""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Final

from frontcheck.errors import refuse

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from frontcheck.front.survey import MeasuredCheck
    from frontcheck.reading.table import Cell, Column, RawTable

FORM_KEY: Final = "worksheet"
"""Key of the ``#`` line that marks a sheet."""
FORM_VERSION: Final = "1"
"""First word of its value; free text may follow."""
BLANK: Final = "___"
"""Stands in a ``# check`` line for each number that is to be written."""

_SHOWN: Final = 8

_Row = tuple["Cell", ...]


def measured_rows(
    table: RawTable, metadata: Mapping[str, Cell], columns: Mapping[str, Column], file: str
) -> tuple[tuple[_Row, ...], tuple[str, ...]]:
    """Return the rows that were measured, and what to say about the others."""
    # A row of a sheet is left out when its setback is blank, and its height or its part as well:
    # a height alone or a part alone is what the sheet was printed with.
    mark = metadata.get(FORM_KEY)
    if mark is None:
        return table.rows, ()
    if not re.match(rf"{FORM_VERSION}(?![0-9])", mark.text):
        raise refuse(
            "sheet.version", file, mark, line=FORM_KEY, text=mark.text[:40], version=FORM_VERSION
        )
    measured = tuple(row for row in table.rows if _is_measured(row, columns, file))
    if not measured:
        raise refuse("sheet.blank", file, table.header_row, column=columns["setback"].name)
    return measured, tuple(_notes(table.rows, set(measured), columns))


def filled_metadata(metadata: dict[str, Cell], file: str) -> dict[str, Cell]:
    """Return the metadata lines without the checks of a sheet that were not made."""
    if FORM_KEY not in metadata:
        return metadata
    filled = {}
    for key, cell in metadata.items():
        left = cell.text.count(BLANK)
        printed = 3 if cell.text.startswith("tape") else 2
        if key.startswith("check_") and left == printed:
            continue
        if key.startswith("check_") and left:
            raise refuse(
                "sheet.check_blank",
                file,
                cell,
                text=cell.text[:60],
                left=left,
                printed=printed,
                blank=BLANK,
            )
        filled[key] = cell
    return filled


def sheet_check(
    check: MeasuredCheck, rows: Sequence[_Row], measured: Sequence[_Row], file: str
) -> MeasuredCheck:
    """Return a check whose tape goes to a row as numbered on the sheet, blank rows included."""
    if check.row is None or not rows:
        return check
    found = rows[check.row - 1] if check.row <= len(rows) else None
    if found is None or found not in measured:
        what = "was not measured" if found else f"is beyond the {len(rows)} rows there"
        raise refuse(
            "sheet.tape_row",
            file,
            check.source_row,
            row=check.row,
            station=check.station,
            what=what,
        )
    return replace(check, row=measured.index(found) + 1)


def _is_measured(row: _Row, columns: Mapping[str, Column], file: str) -> bool:
    height, setback = row[columns["height"].position], row[columns["setback"].position]
    part = row[columns["part"].position] if "part" in columns else None
    if not row[columns["station"].position].text:
        raise refuse("blank.cell", file, row[columns["station"].position])
    if not setback.text:
        if not height.text or part is None or not part.text:
            return False
        raise refuse(
            "sheet.no_setback", file, setback, height=height.text[:20], part=part.text[:20]
        )
    blank = next((cell for cell in row if not cell.text), None)
    if blank is None:
        return True
    if blank is part:
        raise refuse("blank.part", file, blank)
    raise refuse("blank.value", file, blank)


def _notes(
    rows: Iterable[_Row], measured: set[_Row], columns: Mapping[str, Column]
) -> Iterable[str]:
    out, stations, within = 0, [], []
    for station, group in groupby(rows, key=lambda row: row[columns["station"].position].text):
        block = list(group)
        out += sum(row not in measured for row in block)
        if not any(row in measured for row in block):
            stations.append(station)
        within += _passed_over(block, measured, columns["height"].position)
    if out:
        yield f"{out} {_rows(out)} of the sheet without a setback {_were(out)} left out."
    if within:
        shown = ", ".join(str(number) for number in within[:_SHOWN])
        more = f" and {len(within) - _SHOWN} more" if len(within) > _SHOWN else ""
        yield (
            f"{len(within)} of them {_were(len(within))} passed over between measured heights "
            f"({_rows(len(within))} {shown}{more} of the file): the contour runs straight there."
        )
    if stations:
        unit = columns["station"].unit
        yield (
            f"No row was measured at {'station' if len(stations) == 1 else 'stations'} "
            f"{', '.join(stations[:_SHOWN])}{' and more' if len(stations) > _SHOWN else ''} "
            f"{unit}; the front was read without."
        )


def _passed_over(block: list[_Row], measured: set[_Row], height: int) -> list[int]:
    """File rows of printed heights that lie between those measured before and after."""
    found = []
    before: float | None = None
    waiting: list[tuple[float, int]] = []  # printed heights above `before`, not yet closed off
    for row in block:
        here = _number(row[height])
        if here is None:
            continue
        if row not in measured:
            if before is not None and here > before:
                waiting.append((here, row[height].row))
            continue
        found += [number for value, number in waiting if value < here]
        before, waiting = here, []
    return found


def _number(cell: Cell) -> float | None:
    """A height for comparison only; cells that are used are judged strictly later."""
    try:
        return float(cell.text.replace(",", "."))
    except ValueError:
        return None


def _rows(count: int) -> str:
    return "row" if count == 1 else "rows"


def _were(count: int) -> str:
    return "was" if count == 1 else "were"

"""A measuring sheet: which stations and heights to measure, and the table to fill in.

The filled table is an offset table like any other (`frontcheck.reading.offsets`), but for blank
cells, which an ordinary table refuses. A sheet offers more rows than anyone measures, and says so
in its ``# worksheet`` line; a row of it in which nothing was measured is left out and counted.
Whatever is half filled in is still refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from itertools import groupby
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION
from frontcheck.errors import refuse
from frontcheck.front.survey import CHECK_LINES
from frontcheck.reading.offset_header import ARCHES
from frontcheck.reading.table import is_control, mm_per
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from frontcheck.front.survey import MeasuredCheck
    from frontcheck.reading.columns import Column
    from frontcheck.reading.table import Cell, RawTable

FORM_KEY: Final = "worksheet"
"""Key of the ``#`` line that marks a sheet."""
FORM_VERSION: Final = "1"
"""First word of its value; free text may follow."""
BLANK: Final = "___"
"""Stands in a ``# check`` line for each number that is to be written."""

SHEET_UNITS: Final = ("mm", "cm", "in")
"""Units that rules and tapes are marked in."""

_MAX_STATIONS: Final = 60
_MAX_HEIGHTS: Final = 400
_MAX_ROWS: Final = 6000
"""Most rows of all stations: some three hundred pages."""
_REACH_MM: Final = 5000.0
"""Farthest station and greatest height [mm]; beyond it the unit is wrong."""
_MAX_NAME: Final = 120
"""As the reader of offset tables takes it."""

_BEFORE: Final = (("underside", 4),)
_AFTER: Final = (("bonnet", 8), ("cowl", 3), ("windscreen", 5))
"""Rows without a printed height, by part: there the surface runs level, or returns to a height."""

_HOW: Final = (
    "Write setback and part in every row that was measured (- for a point without a part) and "
    "leave all other rows as they are. Insert rows where more points were measured. Keep the "
    "order: from the underside up the face and over the bonnet to the windscreen. Setbacks "
    "count rearward from the string line. Lengths above the table have their unit as in 2 mm "
    "and front_axle is the setback of the front wheel centre. What is not known above the table "
    "stays blank. In a check write a number for every ___ or leave it as it is. Tape checks "
    "count the rows of their station in this file with the blank ones."
)


@dataclass(frozen=True)
class SheetRow:
    """One row of a station to be filled in."""

    number: int  # Number in its station, from 1
    height: Decimal | None  # Printed height, in the unit of the sheet
    part: str = ""  # Printed part; empty where it is to be ticked


@one_line
@dataclass(frozen=True)
class Worksheet:
    """What is to be measured.

    Parameters
    ----------
    stations : tuple of decimal.Decimal
        Stations from left to right, in the unit of the sheet.
    heights : tuple of decimal.Decimal
        Heights to set the square to, rising, in the unit of the sheet.
    unit : str, optional
        One of `SHEET_UNITS`.
    name : str, optional
        Name of the vehicle.
    symmetric : bool or None, optional
        Whether one half stands for both. None: yes when all stations lie on one side.

    Raises
    ------
    InputError
        If there are no stations or heights, too many, out of order or out of reach, or the
        name cannot stand in a table.

    Examples
    --------
    >>> import frontcheck as fc
    >>> sheet = fc.worksheet([0, 300, 600], range(100, 1000, 50), name="Plover")
    >>> len(sheet.rows), sheet.unit
    (38, 'mm')
    """

    stations: tuple[Decimal, ...]
    heights: tuple[Decimal, ...]
    unit: str = "mm"
    name: str = ""
    symmetric: bool | None = None

    def __post_init__(self) -> None:
        """Check the lengths and settle name and symmetry."""
        if self.unit not in SHEET_UNITS:
            raise refuse("sheet.unit", unit=self.unit, units=SHEET_UNITS)
        _check(self.stations, "station", _MAX_STATIONS, self.unit)
        _check(self.heights, "height", _MAX_HEIGHTS, self.unit)
        if self.heights[0] < 0:
            raise refuse("sheet.below_ground", height=number_text(self.heights[0]))
        total = len(self.rows) * len(self.stations)
        if total > _MAX_ROWS:
            raise refuse(
                "sheet.too_long",
                total=total,
                stations=len(self.stations),
                rows=len(self.rows),
                most=_MAX_ROWS,
            )
        object.__setattr__(self, "name", _checked_name(self.name))
        both = self.stations[0] < 0 < self.stations[-1]
        if self.symmetric and both:
            raise refuse("sheet.both_sides")
        if self.symmetric is None:
            object.__setattr__(self, "symmetric", not both and any(self.stations))

    @property
    def rows(self) -> tuple[SheetRow, ...]:
        """Rows of every station, in the order in which they are traced."""
        cells: list[tuple[Decimal | None, str]] = []
        cells += [(None, part) for part, count in _BEFORE for _ in range(count)]
        cells += [(height, "") for height in self.heights]
        cells += [(None, part) for part, count in _AFTER for _ in range(count)]
        return tuple(SheetRow(i, *cell) for i, cell in enumerate(cells, start=1))

    @property
    def checks(self) -> tuple[tuple[Decimal, str], ...]:
        """Stations of the checks on the car, and what is checked: a line, or the tape.

        At the station nearest to the centre plane and at one halfway out.
        """
        outward = sorted(self.stations, key=abs)
        chosen = dict.fromkeys((outward[0], outward[len(outward) // 2]))
        return tuple((station, what) for station in chosen for what in (*CHECK_LINES, "tape"))

    def to_csv(self) -> bytes:
        """Return the table to fill in.

        Returns
        -------
        bytes
            UTF-8, with a byte order mark where the name needs one for a spreadsheet.
        """
        metadata = {
            FORM_KEY: f"{FORM_VERSION}. {_HOW}",
            "caution": CAUTION,
            "name": self.name,
            "method": "square and lateral string line",
            "datum": "common",
            "symmetric": "yes" if self.symmetric else "no",
            "height_u": "",
            "setback_u": "",
            "datum_u": "",
            "ground_slope_deg": "",
            **dict.fromkeys(ARCHES, ""),
            "notes": "",
        }
        for i, (station, what) in enumerate(self.checks, start=1):
            place = f"at {number_text(station)} {self.unit}"
            tool = f"tape to row {BLANK}" if what == "tape" else f"{what} height"
            metadata[f"check_{i}"] = f"{tool} {place}: {BLANK} {self.unit}, u {BLANK} {self.unit}"
        lines = [_quoted(f"# {key}: {value}".rstrip()) for key, value in metadata.items()]
        lines.append(f"station_{self.unit},height_{self.unit},setback_{self.unit},part")
        for station in self.stations:
            for row in self.rows:
                height = "" if row.height is None else number_text(row.height)
                lines.append(f"{number_text(station)},{height},,{row.part}")
        text = "".join(f"{line}\n" for line in lines)
        return text.encode("utf-8" if text.isascii() else "utf-8-sig")


def parse_stations(text: str) -> tuple[Decimal, ...]:
    """Read a list of stations."""
    return _lengths(text, "stations", "0,150,300")


def parse_heights(text: str) -> tuple[Decimal, ...]:
    """Read a list of heights."""
    return _lengths(text, "heights", "100:1000:50")


def number_text(value: Decimal) -> str:
    """Return a length as it is printed and written: plain digits, no trailing zeros."""
    return f"{value.normalize() + 0:f}"


def _lengths(text: str, what: str, example: str) -> tuple[Decimal, ...]:
    found: list[Decimal] = []
    for item in text.split(","):
        found += _range(item.strip(), what, example)
    ordered = sorted(found)
    for a, b in zip(ordered, ordered[1:], strict=False):
        if a == b:
            raise refuse("sheet.twice", what=what, text=text[:60], length=number_text(a))
    return tuple(ordered)


def _range(item: str, what: str, example: str) -> list[Decimal]:
    """One length, or those of ``START:STOP:STEP``, STOP included where a step meets it."""
    expected = f"{what} such as {example}, a range being START:STOP:STEP"
    pieces = item.split(":")
    try:
        if len(pieces) not in (1, 3) or not all(piece.isascii() for piece in pieces):
            raise InvalidOperation
        values = [Decimal(piece.strip()) for piece in pieces]
    except InvalidOperation:
        raise refuse("sheet.no_length", text=item[:60], wanted=expected) from None
    for value in values:
        # Also keeps exponents such as 1e999999 from being written out in full.
        if not value.is_finite() or abs(value) > 100_000 or value != round(value, 6):
            raise refuse("sheet.length_range", text=item[:60])
    if len(values) == 1:
        return values
    start, stop, step = values
    if step <= 0 or stop < start:
        raise refuse("sheet.range", text=item[:60])
    count = int((stop - start) / step) + 1
    if count > _MAX_HEIGHTS:
        raise refuse("sheet.many_steps", count=count, what=what, text=item[:60], most=_MAX_HEIGHTS)
    return [start + i * step for i in range(count)]


def _check(values: Sequence[Decimal], what: str, most: int, unit: str) -> None:
    if not 0 < len(values) <= most:
        raise refuse("sheet.count", count=len(values), what=what, most=most)
    for value in values:
        if abs(float(value)) * mm_per(unit) > _REACH_MM:
            raise refuse(
                "sheet.reach",
                what=what,
                value=number_text(value),
                unit=unit,
                reach=_REACH_MM / 1000.0,
            )
    if any(b <= a for a, b in zip(values, values[1:], strict=False)):
        raise refuse("sheet.order", what=what)


def _checked_name(name: str) -> str:
    """The name on one line; refused where a table with it could not be read again."""
    one_line = " ".join(name.split())
    for character in one_line:
        if is_control(character):
            raise refuse("sheet.letters", character=ord(character))
    if len(one_line) > _MAX_NAME:
        raise refuse("sheet.name", count=len(one_line), most=_MAX_NAME)
    return one_line


def _quoted(line: str) -> str:
    """A ``#`` line as one cell of a spreadsheet."""
    if not any(mark in line for mark in ',;"\t'):
        return line
    escaped = line.replace('"', '""')
    return f'"{escaped}"'


# Reading a filled sheet: which rows were measured, and which were left as printed.

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
        raise refuse(
            "sheet.blank",
            file,
            table.header_row,
            column=table.rows[0][columns["setback"].position].column,
        )
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

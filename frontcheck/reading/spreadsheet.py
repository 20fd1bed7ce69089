"""A sheet of a spreadsheet taken apart into the same pieces as a delimited text file.

Knows nothing of vehicles but the words that a header must hold.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import refuse
from frontcheck.reading.columns import check_usable, plain_name
from frontcheck.reading.table import MM_PER_UNIT, Cell, RawTable, is_control, several, suggest
from frontcheck.reading.workbook import sheets_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.reading.workbook import Value

SPREADSHEETS: Final = (".xlsx", ".ods", ".xls")
_PAIRS: Final = (
    {"height", "setback"}, {"range", "angle"}, {"tape_a", "tape_b"}, {"along", "depth"}
)  # fmt: skip
"""What a header holds beside station."""
_FILLED: Final = ("station", "part", "piece")
"""Columns in which merged cells hold for all their rows."""
_SHOWN: Final = 5
_CLOSE: Final = 0.8
"""How alike a key above the table is to one of ours, to be taken for it misspelt (own choice)."""


def parse_spreadsheet(
    content: bytes, file: str, sheet: str | None, keys: Mapping[str, object], form_key: str
) -> tuple[RawTable, str]:
    """Return the table of a spreadsheet, and the file and sheet as messages name them."""
    sheets = {each["name"]: each for each in sheets_of(content, file)}
    if sheet is not None and sheet not in sheets:
        raise refuse("spreadsheet.no_sheet", file, sheet=sheet[:60], sheets=list(sheets))
    searched = [sheet] if sheet is not None else list(sheets)
    tables = {name: row for name in searched if (row := _header(sheets[name]["rows"])) is not None}
    if not tables:
        raise refuse("spreadsheet.no_table", file, sheets=f"sheet {', '.join(searched)}")
    if len(tables) > 1:
        raise refuse("spreadsheet.several", file, sheets=list(tables), first=next(iter(tables)))
    ((name, header),) = tables.items()
    place = f"{file}, sheet {name}"
    others = [other for other in sheets if other != name]
    notes = [f"Sheet {name} was read" + (f"; left: {', '.join(others)}." if others else ".")]
    return _table(sheets[name], header, place, keys, form_key, notes), place


def letter(position: int) -> str:
    """Return the letters of a column, counted from 0."""
    before, last = divmod(position, 26)
    return (letter(before - 1) if before else "") + chr(ord("A") + last)


def _header(rows: Sequence[Sequence[Value]]) -> int | None:
    """Index of the first row that names station and two readings."""
    for number, row in enumerate(rows):
        names = [plain_name(value) for value in row if isinstance(value, str)]
        words = {re.match(r"tape_[ab]|[a-z]*", name)[0] for name in names}  # type: ignore[index]
        if "station" in words and any(pair <= words for pair in _PAIRS):
            return number
    return None


def _table(
    sheet: dict[str, Any], header: int, file: str, keys: Mapping[str, object], form_key: str,
    notes: list[str],
) -> RawTable:  # fmt: skip
    rows: list[list[Value]] = sheet["rows"]
    comments, letters = _comments(rows[:header], file, keys, notes)
    names = {
        position: name
        for position, value in enumerate(rows[header])
        if (name := _cell(value, header, letter(position), file).text)
    }
    body = range(header + 1, len(rows))
    nameless = [
        letter(position)
        for position in range(len(rows[header]))
        if position not in names and any(rows[number][position] is not None for number in body)
    ]
    if nameless:
        notes.append(f"Left aside: columns without a name ({', '.join(nameless)}).")
    filled = _merged(sheet["merged"], rows, names, header)
    places = {position: f"{letter(position)} ({name[:60]})" for position, name in names.items()}
    cells = []
    for number in body:
        row = [_cell(rows[number][p], number, place, file) for p, place in places.items()]
        if any(cell.text for cell in row):
            row = [
                _cell(filled[number, p], number, place, file) if (number, p) in filled else cell
                for (p, place), cell in zip(places.items(), row, strict=True)
            ]
        cells.append(tuple(row))
    texts = [
        f"{cell.column.partition(' ')[0]}{cell.row} {cell.text!r}"
        for row in cells
        for cell in row
        if not cell.kind
        and re.search(r"_(mm|cm|m|in|deg)$", plain_name(cell.column))
        and re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)?", cell.text)
    ]
    if texts:
        more = " and more" if texts[_SHOWN:] else ""
        notes.append(
            f"{several(len(texts), 'text')} read as {'a number' if len(texts) == 1 else 'numbers'}:"
            f" {', '.join(texts[:_SHOWN])}{more}."
        )
    return RawTable(
        tuple(comments), header + 1, tuple(names.values()), tuple(cells), tuple(notes),
        tuple(places.values()), tuple(letters.items()), form_key in letters,
    )  # fmt: skip


def _comments(
    rows: Sequence[Sequence[Value]], file: str, keys: Mapping[str, object], notes: list[str]
) -> tuple[list[Cell], dict[str, str]]:
    """Keys and values above the header; a row that starts with no key of ours is left and said."""
    comments, left, letters = [], [], {}
    for number, row in enumerate(rows):
        given = [(p, value) for p, value in enumerate(row) if value is not None]
        if not given:
            continue
        column = letter(given[0][0])
        cells = [_cell(value, number, letter(p), file) for p, value in given]
        first, rest = cells[0].text, cells[1:]
        ours = first.startswith("#")
        if ours and not rest:
            first, _, value = first.partition(":")
            rest = [Cell(value.strip(), number + 1, column)]
        key = plain_name(first.lstrip("#").strip().rstrip(":"))
        base, _, unit = key.rpartition("_")
        if key not in keys and unit in MM_PER_UNIT and base in keys:
            key, rest = base, [*rest, Cell(unit, number + 1, column)]
        if key not in keys and not ours:
            advice = suggest(key, keys, "", cutoff=_CLOSE) if rest else ""
            if advice:
                raise refuse("spreadsheet.key", file, cells[0], name=first[:40], advice=advice)
            left.append(f"{number + 1} ({first[:40]})")
            continue
        check_usable(rest, file)
        typed = any(cell.kind == "number" for cell in rest)
        text = " ".join(cell.text for cell in rest).strip()
        if text in {"True", "False"}:
            text = "yes" if text == "True" else "no"
        if text:
            comments.append(Cell(text, number + 1, key, "number" if typed else ""))
            letters[key] = rest[0].column
    if left:
        notes.append(f"Left aside above the table: {', '.join(left[:_SHOWN])}.")
    return comments, letters


def _merged(
    ranges: Sequence[Any], rows: Sequence[Sequence[Value]], names: Mapping[int, str], header: int
) -> dict[tuple[int, int], Value]:
    """What merged cells hold, for every row that they span."""
    return {
        (number, first): rows[top][first]
        for (top, first), (bottom, last) in ranges
        if top > header and first == last and plain_name(names.get(first, "")).startswith(_FILLED)
        for number in range(top + 1, min(bottom + 1, len(rows)))
    }


def _cell(value: Value, number: int, column: str, file: str) -> Cell:
    """A cell as text, a number as spreadsheets show it: with 15 digits."""
    row = number + 1
    if value is None:
        return Cell("", row, column)
    if isinstance(value, list):
        return Cell(value[1], row, column, value[0])
    if isinstance(value, float) and not isinstance(value, bool):
        return Cell(f"{value:.15g}", row, column, "number")
    text = " ".join(str(value).split())
    for character in "" if text.isprintable() else text:
        if is_control(character):
            raise refuse("table.control", file, row, column=column, character=ord(character))
    return Cell(text, row, column)

"""A delimited text file taken apart: comment lines, header, cells, and how they were written.

Knows nothing of vehicles. The delimiter is detected, never assumed.
"""

from __future__ import annotations

import csv
import difflib
import hashlib
import math
import os
import re
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError, is_unseen, refuse
from frontcheck.reading.workbook import MAX_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from frontcheck.errors import RefusedError

# Units of length that input may be given in; inside, everything is mm and degrees.

MM_PER_UNIT: Final = MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4})
"""Millimetres per unit. The inch is exactly 25.4 mm (international yard and pound, 1959)."""
UNITS: Final = ", ".join(MM_PER_UNIT)
"""The units by name, for messages."""


def mm_per(unit: str) -> float:
    """Return how many millimetres one `unit` has."""
    try:
        return MM_PER_UNIT[unit]
    except KeyError:
        raise ValueError(f"unit {unit!r} is not one of {', '.join(MM_PER_UNIT)}") from None


def several(count: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"


class ReaderNotes(list[str]):
    """What a reader says of a file, and which of it nobody told."""

    def __init__(self, said: Iterable[str] = ()) -> None:
        super().__init__(said)
        self.assumed: list[str] = []

    def assume(self, text: str) -> None:
        """Say what was taken without being told."""
        self.append(text)
        self.assumed.append(text)


MAX_BYTES: Final = 20_000_000
"""Largest file taken [bytes]: a hand measurement is a few ten thousand."""
_MAX_KEY: Final = 40
_DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True)
class Cell:
    """One piece of text and the place it came from."""

    text: str  # The text, without surrounding blanks
    row: int  # Line number in the file, from 1
    column: str  # Column or key it belongs to
    kind: str = ""  # In a spreadsheet: "number", "date", "empty" (a formula without a result)


@dataclass(frozen=True)
class RawTable:
    """What a delimited file holds, as text."""

    comments: tuple[Cell, ...]  # ``# key: value`` lines in order; `column` is the key in lower case
    header_row: int  # Line number of the header
    columns: tuple[str, ...]  # Column names as written
    rows: tuple[tuple[Cell, ...], ...]  # Data rows, one cell a column
    notes: tuple[str, ...]  # What was detected, as sentences
    places: tuple[str, ...] = ()  # Columns as messages name them, where not by their names
    letters: tuple[tuple[str, str], ...] = ()  # Key and column letter of comments in a spreadsheet
    form: bool = False  # A measuring sheet, in which cells may be blank


def file_size(path: str | os.PathLike[str], wanted: str, thing: str = "it") -> int:
    """Return the size of a file [bytes], having checked that it is there and can be opened."""
    name, place = os.fspath(path), Path(path)
    try:
        if place.is_dir():
            raise refuse("file.folder", name, wanted=wanted)
        if not place.exists():
            raise refuse("file.missing", name, wanted=wanted)
        if not place.is_file():
            raise refuse("file.not_plain", name, wanted=wanted, thing=thing)
        with place.open("rb"):
            return place.stat().st_size
    except (OSError, ValueError) as problem:
        if isinstance(problem, InputError):
            raise
        reason = getattr(problem, "strerror", None) or str(problem)
        raise refuse("file.not_opened", name, wanted=wanted, reason=reason) from problem


def read_bytes(path: str | os.PathLike[str]) -> tuple[bytes, str]:
    """Return the content of a file and its digest."""
    name = os.fspath(path)
    size = file_size(path, "a readable text file", "the table")
    if size > MAX_BYTES:
        raise refuse("table.too_large", name, size=size / 1e6, most=MAX_BYTES / 1e6)
    content = Path(name).read_bytes()
    if not content.strip(b"\xef\xbb\xbf \t\r\n"):
        raise refuse("table.empty", name)
    return content, hashlib.sha256(content).hexdigest()


def parse_table(content: bytes, file: str, *, form_key: str = "") -> RawTable:
    """Take a delimited file apart."""
    text, notes = _decode(content, file)
    lines = text.split("\n")
    padded = False
    while lines and not lines[-1].strip(' \t,;"'):
        padded = bool(lines.pop().strip()) or padded
    if len(lines) > MAX_ROWS:  # the cells of a million would take half a minute
        raise refuse("table.many_rows", file, MAX_ROWS + 1, count=len(lines), most=MAX_ROWS)
    if padded:
        notes.append("Rows of empty cells at the end of the file were skipped.")
    comments: list[Cell] = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        form = any(comment.column == form_key for comment in comments)
        comment = _comment(line, number, file, may_be_blank=form)
        if comment is None:
            return _parse_body(lines, number, comments, notes, file, may_be_blank=form)
        if comment.text:
            comments.append(comment)
    raise refuse("table.no_header", file, max(len(lines), 1))


def _decode(content: bytes, file: str) -> tuple[str, list[str]]:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refuse("encoding.utf16", file)
    nul = content.find(b"\0")
    if nul >= 0:
        raise refuse("encoding.nul", file, content.count(b"\n", 0, nul) + 1)
    notes = []
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as problem:
        row = content.count(b"\n", 0, problem.start) + 1
        raise refuse("encoding.not_utf8", file, row, byte=content[problem.start]) from None
    if text.startswith("\ufeff"):
        text = text[1:]
        notes.append("The file starts with a UTF-8 byte order mark, which was skipped.")
    text = text.replace("\r\n", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        if line.isascii() and line.replace("\t", " ").isprintable():
            continue
        for character in line:
            if is_control(character):
                raise refuse("table.control", file, number, character=ord(character))
    return text, notes


def is_control(character: str) -> bool:
    """Return whether a character has no place in a table: unseen, or turning text around."""
    return character != "\t" and is_unseen(character)


def _comment(line: str, number: int, file: str, *, may_be_blank: bool) -> Cell | None:
    """Return a ``# key: value`` line as a cell, or None for any other line."""
    # Spreadsheets pad such a line with empty cells, and quote it when it holds the delimiter;
    # both are undone.
    text = line.strip()
    if text.startswith('"#'):
        body = re.fullmatch(r'"((?:[^"]|"")*)"[,;\t ]*', text)
        if body is None:
            raise refuse("table.quoted_line", file, number)
        text = body[1].replace('""', '"')
    elif not text.startswith("#"):
        return None
    else:
        text = text.rstrip(",;\t ")
    key, colon, value = text[1:].partition(":")
    if not colon or not 0 < len(key.strip()) <= _MAX_KEY:
        raise refuse("table.comment", file, number, text=text[:60])
    if not value.strip() and not may_be_blank:
        raise refuse("table.no_value", file, number, column=key.strip().lower(), name=key.strip())
    return Cell(value.strip(), number, key.strip().lower())


def _parse_body(
    lines: list[str],
    header_row: int,
    comments: list[Cell],
    notes: list[str],
    file: str,
    *,
    may_be_blank: bool,
) -> RawTable:
    header = lines[header_row - 1]
    found = [mark for mark in _DELIMITERS if mark in header]
    if not found:
        raise refuse("delimiter.none", file, header_row, header=header.strip()[:60])
    if len(found) > 1:
        marks = " and ".join(_DELIMITERS[mark] for mark in found)
        raise refuse("delimiter.several", file, header_row, marks=marks)
    delimiter = found[0]
    notes.append(f"The delimiter was detected as a {_DELIMITERS[delimiter]}.")
    columns = tuple(name.strip() for name in _split(header, delimiter, header_row, file))
    rows = []
    for number in range(header_row + 1, len(lines) + 1):
        row = _row(lines[number - 1], number, delimiter, columns, file)
        rows.append(row)
    return RawTable(
        tuple(comments), header_row, columns, tuple(rows), tuple(notes), form=may_be_blank
    )


def _row(
    line: str, number: int, delimiter: str, columns: tuple[str, ...], file: str
) -> tuple[Cell, ...]:
    if not line.strip():
        return tuple(Cell("", number, column) for column in columns)
    if line.lstrip().startswith(("#", '"#')):
        raise refuse("table.late_comment", file, number)
    cells = [cell.strip() for cell in _split(line, delimiter, number, file)]
    if len(cells) != len(columns):
        count = several(len(cells), "cell")
        others = [name for m, name in _DELIMITERS.items() if m != delimiter and m in line]
        if len(cells) > len(columns) and delimiter == ",":
            raise refuse("ragged.decimal_comma", file, number, cells=count, columns=len(columns))
        if others:
            raise refuse(
                "ragged.delimiter", file, number, cells=count, columns=len(columns), mark=others[0]
            )
        raise refuse("ragged.cells", file, number, cells=count, columns=len(columns))
    return tuple(Cell(c, number, column) for c, column in zip(cells, columns, strict=True))


def _split(line: str, delimiter: str, number: int, file: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(iter(csv.reader([line], delimiter=delimiter, strict=True)))
    except csv.Error:
        raise refuse("table.quote", file, number) from None


# Numbers as text: which decimal mark a file uses, and what is wrong with a cell.
#
# Where the text allows two readings it is refused.

_MAX_DIGITS: Final = 40
_NUMBER: Final = re.compile(
    r"[+-]?(?:[0-9]+(?:(?P<mark>[.,])[0-9]*)?|(?P<bare>[.,])[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
)
_GROUPED: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}([.,' \u00a0\u2009\u202f])[0-9]{3}")
"""What a thousands separator looks like; 0.250 and 12.5 cannot be one."""


def decimal_mark(cells: Iterator[Cell], file: str, *, mixed: bool = False) -> str:
    """Return the decimal mark of number cells; of `mixed` ones, as in a spreadsheet, the first."""
    first: dict[str, Cell] = {}
    proven: set[str] = set()
    doubtful: list[tuple[str, Cell]] = []
    for cell in cells:
        if cell.kind == "number":
            continue
        match = _NUMBER.fullmatch(cell.text)
        if match is None or len(cell.text) > _MAX_DIGITS:
            raise number_problem(cell, file)
        mark = match["mark"] or match["bare"]
        if not mark:
            continue
        if first and mark not in first and not mixed:
            (other,) = first.values()
            raise refuse(
                "table.mixed_marks", file, cell, text=cell.text, row=other.row, first=other.text
            )
        first.setdefault(mark, cell)
        if _GROUPED.fullmatch(cell.text):
            doubtful.append((mark, cell))
        else:
            proven.add(mark)
    for mark, cell in doubtful:
        if mark not in proven or len(first) > 1:
            name = {".": "point", ",": "comma"}[mark]
            raise refuse("table.unclear_mark", file, cell, text=cell.text, name=name)
    return next(iter(first), "")


def number_problem(cell: Cell, file: str) -> RefusedError:
    """Return the error for a cell that should hold a number and does not."""
    text = cell.text
    shown = text[:40]
    if re.fullmatch(r"[+-]?(nan|inf|infinity|n/?a)", text, re.IGNORECASE):
        return refuse("number.not_measured", file, cell, text=text)
    if re.fullmatch(r"[+-]?[0-9.,]+\s*[A-Za-z\"']+", text):
        return refuse("number.with_unit", file, cell, text=shown)
    if text.count(",") + text.count(".") > 1 or _GROUPED.fullmatch(text):
        return refuse("number.grouped", file, cell, text=shown)
    if "\u2212" in text or "\u2013" in text:
        return refuse("number.dash", file, cell, text=shown)
    if len(text) > _MAX_DIGITS:
        return refuse("number.long", file, cell, count=len(text), start=text[:20])
    return refuse("number.other", file, cell, text=shown)


# What stands at the top of a table: `# key: value` lines.


def suggest(word: str, known: Iterable[str], otherwise: str, *, cutoff: float = 0.6) -> str:
    """Return advice on a misspelt word."""
    close = difflib.get_close_matches(word[:60], list(known), n=1, cutoff=cutoff)
    return f"did you mean {close[0]}? If not, {otherwise}" if close else otherwise


def read_metadata(table: RawTable, file: str, longest: Mapping[str, int]) -> dict[str, Cell]:
    """Return the metadata lines by key."""
    metadata: dict[str, Cell] = {}
    for cell in table.comments:
        key = cell.column
        if key not in longest:
            advice = suggest(key, longest, "write free text as '# notes: ...'")
            # Of numbered keys the first and the last are told.
            inner = (k for k in longest if not re.fullmatch(r"(check|mark)_([2-9]|1[0-9])", k))
            known = ", ".join(inner).replace("_1, ", "_1 to ")
            raise refuse("table.unknown_key", file, cell, name=key[:40], known=known, advice=advice)
        if key in metadata:
            raise refuse("table.key_twice", file, cell, name=key, row=metadata[key].row)
        if len(cell.text) > longest[key]:
            count = len(cell.text)
            raise refuse("table.long_text", file, cell, count=count, name=key, most=longest[key])
        metadata[key] = cell
    return metadata


def millimetres(cell: Cell, unit: str, file: str) -> float:
    """Return the value of a number cell [mm], converted in decimal arithmetic."""
    # So 22.6 cm is 226 mm to the last bit.
    text = cell.text.replace(",", ".")
    if not math.isfinite(float(text)):
        raise number_problem(cell, file)
    return float(Decimal(text) * Decimal(str(mm_per(unit)))) + 0.0


def mark_note(mark: str) -> str:
    """Return what to say of the decimal mark that was detected."""
    if not mark:
        return "No decimal mark occurs: all numbers are whole."
    return f"The decimal mark was detected as a {'comma' if mark == ',' else 'point'}."

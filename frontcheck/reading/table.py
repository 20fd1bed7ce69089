"""A delimited text file taken apart: comment lines, header, cells, and how they were written.

Knows nothing of vehicles. The delimiter is detected, never assumed.
"""

from __future__ import annotations

import csv
import hashlib
import os
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

# Units of length that input may be given in; inside, everything is mm and degrees.

MM_PER_UNIT: Final = MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4})
"""Millimetres per unit. The inch is exactly 25.4 mm (international yard and pound, 1959)."""


def mm_per(unit: str) -> float:
    """Return how many millimetres one `unit` has."""
    try:
        return MM_PER_UNIT[unit]
    except KeyError:
        raise ValueError(f"unit {unit!r} is not one of {', '.join(MM_PER_UNIT)}") from None


MAX_BYTES: Final = 20_000_000
"""Largest file taken [bytes]: a hand measurement is a few ten thousand."""
_MAX_KEY: Final = 40
_DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}
_BIDI: Final = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")


@dataclass(frozen=True)
class Cell:
    """One piece of text and the place it came from."""

    text: str  # The text, without surrounding blanks
    row: int  # Line number in the file, from 1
    column: str  # Column or key it belongs to


@dataclass(frozen=True)
class RawTable:
    """What a delimited file holds, as text."""

    comments: tuple[Cell, ...]  # ``# key: value`` lines in order; `column` is the key in lower case
    header_row: int  # Line number of the header
    columns: tuple[str, ...]  # Column names as written
    rows: tuple[tuple[Cell, ...], ...]  # Data rows, one cell a column
    notes: tuple[str, ...]  # What was detected, as sentences


def read_bytes(path: str | os.PathLike[str]) -> tuple[bytes, str]:
    """Return the content of a file and its digest."""
    name = os.fspath(path)

    def refuse(found: str, todo: str) -> InputError:
        return InputError(found, expected="a readable text file", todo=todo, file=name)

    try:
        place = Path(name)
        if place.is_dir():
            raise refuse("a folder", "name the file in it")
        if not place.exists():
            raise refuse("no such file", "check the file name and the folder")
        if not place.is_file():
            raise refuse("something that is not a plain file", "save the table as a file first")
        size = place.stat().st_size
        if size > MAX_BYTES:
            raise refuse(
                f"a file of {size / 1e6:.0f} MB, too large for an offset table",
                f"give a file of at most {MAX_BYTES / 1e6:.0f} MB",
            )
        content = place.read_bytes()
    except InputError:
        raise
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise refuse(f"a file that cannot be opened ({reason})", "check the name and rights") from (
            problem
        )
    if not content.strip(b"\xef\xbb\xbf \t\r\n"):
        raise refuse("an empty file", "save the table again and check that it holds rows")
    return content, hashlib.sha256(content).hexdigest()


def parse_table(content: bytes, file: str, *, form_key: str = "") -> RawTable:
    """Take a delimited file apart."""
    text, notes = _decode(content, file)
    lines = text.split("\n")
    padded = False
    while lines and not lines[-1].strip(' \t,;"'):
        padded = bool(lines.pop().strip()) or padded
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
    raise InputError(
        "no header line",
        expected="a line of column names after the # lines",
        todo="add the header, such as station_mm,height_mm,setback_mm",
        file=file,
        row=max(len(lines), 1),
    )


def _decode(content: bytes, file: str) -> tuple[str, list[str]]:
    expected, todo = "UTF-8 text", "save the table as CSV in UTF-8"
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("UTF-16 text", expected=expected, todo=todo, file=file)
    nul = content.find(b"\0")
    if nul >= 0:
        row = content.count(b"\n", 0, nul) + 1
        raise InputError(
            "a NUL byte: a binary file, or UTF-16 text",
            expected=expected,
            todo=todo,
            file=file,
            row=row,
        )
    notes = []
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as problem:
        raise InputError(
            f"byte 0x{content[problem.start]:02x}, which is not UTF-8",
            expected=expected,
            todo=todo,
            file=file,
            row=content.count(b"\n", 0, problem.start) + 1,
        ) from None
    if text.startswith("\ufeff"):
        text = text[1:]
        notes.append("The file starts with a UTF-8 byte order mark, which was skipped.")
    text = text.replace("\r\n", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        if line.isascii() and line.replace("\t", " ").isprintable():
            continue
        for character in line:
            if is_control(character):
                raise InputError(
                    f"control character U+{ord(character):04X}",
                    expected="plain text, one table row a line",
                    todo="delete the character, or save the table again as CSV",
                    file=file,
                    row=number,
                )
    return text, notes


def is_control(character: str) -> bool:
    """Return whether a character has no place in a table: unseen, or turning text around."""
    if character == "\t":
        return False
    return character in _BIDI or unicodedata.category(character) in {"Cc", "Zl", "Zp", "Cn", "Co"}


def _comment(line: str, number: int, file: str, *, may_be_blank: bool) -> Cell | None:
    """Return a ``# key: value`` line as a cell, or None for any other line."""
    # Spreadsheets pad such a line with empty cells, and quote it when it holds the delimiter;
    # both are undone.
    text = line.strip()
    if text.startswith('"#'):
        body = re.fullmatch(r'"((?:[^"]|"")*)"[,;\t ]*', text)
        if body is None:
            raise InputError(
                "a quoted # line that does not end in a quote",
                expected="# key: value",
                todo="delete the quotes",
                file=file,
                row=number,
            )
        text = body[1].replace('""', '"')
    elif not text.startswith("#"):
        return None
    else:
        text = text.rstrip(",;\t ")
    key, colon, value = text[1:].partition(":")
    if not colon or not 0 < len(key.strip()) <= _MAX_KEY:
        raise InputError(
            f"{text[:60]!r}",
            expected="# key: value",
            todo="write free text as '# notes: ...', in one line",
            file=file,
            row=number,
        )
    if not value.strip() and not may_be_blank:
        raise InputError(
            f"no value for {key.strip()!r}",
            expected="# key: value",
            todo="give the value, or delete the line",
            file=file,
            row=number,
            column=key.strip().lower(),
        )
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
    if len(found) != 1:
        what = (
            f"{' and '.join(_DELIMITERS[m] for m in found)} in the header"
            if found
            else f"a header without a delimiter, {header.strip()[:60]!r}"
        )
        raise InputError(
            what,
            expected="column names parted by one of comma, semicolon or tab",
            todo="part the columns by one and the same delimiter",
            file=file,
            row=header_row,
        )
    delimiter = found[0]
    notes.append(f"The delimiter was detected as a {_DELIMITERS[delimiter]}.")
    columns = tuple(name.strip() for name in _split(header, delimiter, header_row, file))
    rows = []
    for number in range(header_row + 1, len(lines) + 1):
        row = _row(lines[number - 1], number, delimiter, columns, file)
        blank = next((cell for cell in row if not cell.text), None)
        if blank is not None and not may_be_blank:
            raise blank_cell(blank, file)
        rows.append(row)
    if not rows:
        raise InputError(
            "a header and no rows",
            expected="one row a measured point",
            todo="add the measured rows below the header",
            file=file,
            row=header_row,
        )
    return RawTable(tuple(comments), header_row, columns, tuple(rows), tuple(notes))


def _row(
    line: str, number: int, delimiter: str, columns: tuple[str, ...], file: str
) -> tuple[Cell, ...]:
    if not line.strip():
        raise InputError(
            "a blank line between the rows",
            expected="rows without gaps",
            todo="delete the line, or fill in the row that is missing",
            file=file,
            row=number,
        )
    if line.lstrip().startswith(("#", '"#')):
        raise InputError(
            "a # line below the header",
            expected="all # lines before the header",
            todo="move the line to the top of the file",
            file=file,
            row=number,
        )
    cells = [cell.strip() for cell in _split(line, delimiter, number, file)]
    if len(cells) != len(columns):
        others = [name for m, name in _DELIMITERS.items() if m != delimiter and m in line]
        if len(cells) > len(columns) and delimiter == ",":
            todo = (
                "delete the extra cells; numbers with a decimal comma need semicolons or tabs "
                "between the columns"
            )
        elif others:
            todo = f"use the delimiter of the header here too, not a {others[0]}"
        else:
            todo = "give every column one cell in this row"
        raise InputError(
            f"{len(cells)} cell{'s' if len(cells) != 1 else ''}",
            expected=f"{len(columns)} cells, as in the header",
            todo=todo,
            file=file,
            row=number,
        )
    return tuple(Cell(c, number, column) for c, column in zip(cells, columns, strict=True))


def blank_cell(
    cell: Cell, file: str, todo: str = "measure or fill in the value, or delete the row"
) -> InputError:
    """Return the error for a cell that is blank and should not be."""
    return InputError(
        "a blank cell",
        expected="a value in every cell",
        todo=todo,
        file=file,
        row=cell.row,
        column=cell.column,
    )


def _split(line: str, delimiter: str, number: int, file: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(iter(csv.reader([line], delimiter=delimiter, strict=True)))
    except csv.Error:
        raise InputError(
            "a quote that is not closed, or text beside it",
            expected="cells without quotes, or wholly inside quotes",
            todo="delete the quotes in this row",
            file=file,
            row=number,
        ) from None


# Numbers as text: which decimal mark a file uses, and what is wrong with a cell.
#
# Where the text allows two readings it is refused.

_MAX_DIGITS: Final = 40
_NUMBER: Final = re.compile(
    r"[+-]?(?:[0-9]+(?:(?P<mark>[.,])[0-9]*)?|(?P<bare>[.,])[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
)
_GROUPED: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}([.,' \u00a0\u2009\u202f])[0-9]{3}")
"""What a thousands separator looks like; 0.250 and 12.5 cannot be one."""


def decimal_mark(cells: Iterator[Cell], file: str) -> str:
    """Return the decimal mark that a set of number cells uses."""
    first: Cell | None = None
    mark = ""
    proven = False
    for cell in cells:
        match = _NUMBER.fullmatch(cell.text)
        if match is None or len(cell.text) > _MAX_DIGITS:
            raise number_problem(cell, file)
        here = match["mark"] or match["bare"]
        if not here:
            continue
        if first is None:
            first, mark = cell, here
        elif here != mark:
            raise InputError(
                f"{cell.text!r}, where row {first.row} has {first.text!r}",
                expected="one decimal mark in the whole file",
                todo="write all numbers with the same decimal mark and no thousands separators",
                file=file,
                row=cell.row,
                column=cell.column,
            )
        proven = proven or not _GROUPED.fullmatch(cell.text)
    if first is not None and not proven:
        name = {".": "point", ",": "comma"}[mark]
        raise InputError(
            f"{first.text!r}, where the {name} may be a decimal mark or a thousands separator",
            expected=f"at least one number in the file that shows what the {name} means",
            todo="leave thousands separators out, or write one more decimal (1.2340)",
            file=file,
            row=first.row,
            column=first.column,
        )
    return mark


def number_problem(cell: Cell, file: str) -> InputError:
    """Return the error for a cell that should hold a number and does not."""
    text = cell.text
    found, todo = f"{text[:40]!r}, which is not a number", "write a plain number in this cell"
    if re.fullmatch(r"[+-]?(nan|inf|infinity|n/?a)", text, re.IGNORECASE):
        found = f"{text!r}, which is not a measured value"
        todo = "measure the value, or delete the row"
    elif re.fullmatch(r"[+-]?[0-9.,]+\s*[A-Za-z\"']+", text):
        found = f"{text[:40]!r}, a number with a unit"
        todo = "state the unit in the column name and write the number alone"
    elif text.count(",") + text.count(".") > 1 or _GROUPED.fullmatch(text):
        found = f"{text[:40]!r}, a number with thousands separators"
        todo = "leave thousands separators out"
    elif "\u2212" in text or "\u2013" in text:
        found = f"{text[:40]!r}, with a dash instead of a minus sign"
        todo = "write the minus sign as '-'"
    elif len(text) > _MAX_DIGITS:
        found = f"{len(text)} characters, starting {text[:20]!r}"
    return InputError(
        found, expected="a number", todo=todo, file=file, row=cell.row, column=cell.column
    )

"""Numbers as text: which decimal mark a file uses, and what is wrong with a cell.

Where the text allows two readings it is refused.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from frontcheck.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from frontcheck.reading.table import Cell

__all__ = ["decimal_mark", "number_problem"]

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

"""The errors frontcheck raises, each also a builtin so that plain code can catch it.

A refusal says where it is (file, row, column, key), what was found, what was expected and what
to do about it; the command line prints exactly that and no traceback. Its words stand in
`refusals.toml`, under a code, so that raising one is a single line: `raise refuse("code", ...)`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, partial
from typing import Any, Final, Protocol

_BIDI: Final = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")


def is_unseen(character: str) -> bool:
    """Whether a character has no place in a text: unseen, turning it around, or half of one."""
    from unicodedata import category  # here: most text is plain

    return character in _BIDI or category(character) in {"Cc", "Cs", "Zl", "Zp", "Cn", "Co"}


def escaped(text: object, keep: str = "") -> str:
    """Return text from outside as it may stand anywhere: what is unseen stands by its number."""
    said = str(text)
    if said.isprintable():
        return said
    return "".join(
        c.encode("unicode_escape").decode() if c not in keep and is_unseen(c) else c for c in said
    )


class FrontcheckError(Exception):
    """Base of every error that frontcheck raises on purpose."""

    def __str__(self) -> str:
        """Return the message, in one line, whatever names stand in it."""
        return escaped(super().__str__())


class RefusedError(FrontcheckError):
    """Something given that cannot be used, with its place and the way out."""

    def __init__(
        self,
        found: str,
        *,
        expected: str,
        todo: str,
        file: str | None = None,
        row: int | None = None,
        column: str | None = None,
        key: str | None = None,
        code: str = "",
    ) -> None:
        self.found = found
        self.expected = expected
        self.todo = todo
        self.file = file
        self.row = row
        self.column = column
        self.key = key
        self.code = code
        super().__init__(str(self))

    def __str__(self) -> str:
        """Return the one-line message: place, found, expected, what to do."""
        place = [self.file] if self.file else []
        for word, value in (("row", self.row), ("column", self.column), ("key", self.key)):
            if value:  # rows are counted from 1
                place.append(f"{word} {value}")
        head = ", ".join(place)
        body = f"found {self.found}; expected {self.expected}; {self.todo}"
        return escaped(f"{head}: {body}" if head else body)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle with its words: a worker's refusal reaches the process that asked."""
        make = partial(type(self), expected=self.expected, todo=self.todo)
        return make, (self.found,), self.__dict__

    def at(
        self,
        *,
        file: str | None = None,
        row: int | None = None,
        column: str | None = None,
        key: str | None = None,
        kind: type[RefusedError] | None = None,
    ) -> RefusedError:
        """Return the same error with its place filled in where it was not known."""
        return (kind or type(self))(
            self.found,
            expected=self.expected,
            todo=self.todo,
            file=self.file or file,
            row=self.row if self.row is not None else row,
            column=self.column if self.column is not None else column,
            key=self.key if self.key is not None else key,
            code=self.code,
        )


class InputError(RefusedError, ValueError):
    """Unusable input, with its place and the way out."""


class ContourError(InputError):
    """A contour that is no contour: too few points, not finite, repeated or crossing itself."""

    # `index` is the position (from 0) of the point concerned, so that a reader can turn it into a
    # file row.

    index: int | None = None


class StudyError(InputError):
    """Something in a study that cannot be used, with file and key."""


class RuleSetError(RefusedError, KeyError):
    """A rule set or a constant of it that does not exist or is malformed."""


class NotAvailableError(FrontcheckError, LookupError):
    """A value was asked for that could not be formed; the message is the reason."""


class OutputError(FrontcheckError, OSError):
    """An output could not be written; nothing half-written was left behind."""


class FileCell(Protocol):
    """A cell, or whatever else knows its row and column."""

    @property
    def row(self) -> int:
        """Row of the file, from 1."""

    @property
    def column(self) -> str:
        """Column or key."""


_KINDS: Final[Mapping[str, type[RefusedError]]] = {"study": StudyError, "rules": RuleSetError}
"""Errors of the sections of the table whose errors are not `InputError`."""


@cache
def refusals() -> Mapping[str, Mapping[str, str]]:
    """Return the table of refusals: templates of found, expected and todo by code."""
    import tomllib
    from importlib.resources import files  # both here: the command line must start fast

    text = files("frontcheck").joinpath("refusals.toml").read_text(encoding="utf-8")
    table: dict[str, Mapping[str, str]] = {}
    for section, entries in tomllib.loads(text).items():
        shared = {key: value for key, value in entries.items() if isinstance(value, str)}
        for name, entry in entries.items():
            if isinstance(entry, dict):
                table[f"{section}.{name}"] = shared | entry
    return table


def refuse(
    code: str,
    file: str | None = None,
    place: FileCell | int | None = None,
    *,
    column: str | None = None,
    key: str | None = None,
    kind: type[RefusedError] | None = None,
    **values: Any,
) -> RefusedError:
    """Return the error of a code, its words filled in (lists with commas) and its place named."""
    said = {
        name: ", ".join(map(str, value)) if isinstance(value, (tuple, list, Mapping)) else value
        for name, value in values.items()
    }
    words = {part: template.format(**said) for part, template in refusals()[code].items()}
    if place is None or isinstance(place, int):
        row = place
    else:
        row, column = place.row, column or place.column
    raised = kind or _KINDS.get(code.partition(".")[0], InputError)
    return raised(**words, file=file, row=row, column=column, key=key, code=code)

"""The errors frontcheck raises, each also a builtin so that plain code can catch it.

An input error says where it is (file, row, column), what was found, what was
expected and what to do about it; the command line prints exactly that and no
traceback.
"""

from __future__ import annotations


class FrontcheckError(Exception):
    """Base of every error that frontcheck raises on purpose."""


class InputError(FrontcheckError, ValueError):
    """Unusable input, with its place and the way out."""

    def __init__(
        self,
        found: str,
        *,
        expected: str,
        todo: str,
        file: str | None = None,
        row: int | None = None,
        column: str | None = None,
    ) -> None:
        self.found = found
        self.expected = expected
        self.todo = todo
        self.file = file
        self.row = row
        self.column = column
        super().__init__(str(self))

    def __str__(self) -> str:
        """Return the one-line message: place, found, expected, what to do."""
        place = [self.file] if self.file else []
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(f"column {self.column}")
        head = ", ".join(place)
        body = f"found {self.found}; expected {self.expected}; {self.todo}"
        return f"{head}: {body}" if head else body

    def at(
        self, *, file: str | None = None, row: int | None = None, column: str | None = None
    ) -> InputError:
        """Return the same error with its place filled in where it was not known."""
        return type(self)(
            self.found,
            expected=self.expected,
            todo=self.todo,
            file=self.file or file,
            row=self.row if self.row is not None else row,
            column=self.column if self.column is not None else column,
        )


class ContourError(InputError):
    """A contour that is no contour: too few points, not finite, repeated or crossing itself."""

    # `index` is the position (from 0) of the point concerned, so that a reader can turn it into a
    # file row.

    index: int | None = None


class RuleSetError(FrontcheckError, KeyError):
    """A rule set or a constant of it that does not exist or is malformed."""

    def __str__(self) -> str:
        """Return the plain message (KeyError would quote it)."""
        return str(self.args[0]) if self.args else ""


class NotAvailableError(FrontcheckError, LookupError):
    """A value was asked for that could not be formed; the message is the reason."""


class OutputError(FrontcheckError, OSError):
    """An output could not be written; nothing half-written was left behind."""

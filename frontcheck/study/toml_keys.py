"""Reading a TOML table key by key, with errors that name file and key."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeVar

from frontcheck.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

T = TypeVar("T")


class StudyError(InputError):
    """Something in a study that cannot be used, with file and key."""

    def __init__(
        self,
        found: str,
        *,
        expected: str,
        todo: str,
        file: str | None = None,
        row: int | None = None,
        column: str | None = None,
        key: str = "",
    ) -> None:
        self.key = key
        super().__init__(found, expected=expected, todo=todo, file=file, row=row, column=column)

    def __str__(self) -> str:
        """Return the one-line message: file, key, found, expected, what to do."""
        body = f"found {self.found}; expected {self.expected}; {self.todo}"
        place = [self.file] if self.file else []
        place += [f"row {self.row}"] if self.row is not None else []
        place += [f"column {self.column}"] if self.column is not None else []
        place += [f"key {self.key}"] if self.key else []
        return f"{', '.join(place)}: {body}" if place else body


class Table:
    """One table of a study; every key must be asked for, or `finish` refuses it."""

    def __init__(self, values: object, file: str, key: str = "") -> None:
        self.file = file
        self.key = key
        if not isinstance(values, dict):
            raise StudyError(
                _show(values), expected="a table", todo="write it as [table]", file=file, key=key
            )
        self.values: dict[str, Any] = values
        self._asked: list[str] = []

    def error(self, key: str, found: str, expected: str, todo: str) -> StudyError:
        """Return an error that names a key of this table."""
        dotted = ".".join(part for part in (self.key, key) if part)
        return StudyError(found, expected=expected, todo=todo, file=self.file, key=dotted)

    def has(self, key: str) -> bool:
        """Return whether a key is there."""
        self._asked.append(key)
        return key in self.values

    def table(self, key: str) -> Table:
        """Return a table in this one; an empty one where it is missing."""
        dotted = ".".join(part for part in (self.key, key) if part)
        return Table(self.values[key] if self.has(key) else {}, self.file, dotted)

    def tables(self, key: str) -> list[Table]:
        """Return the tables of a list; none where it is missing."""
        given = self.values[key] if self.has(key) else []
        if not isinstance(given, list):
            raise self.error(key, _show(given), "a list of tables", f"write each as [[{key}]]")
        return [Table(each, self.file, f"{key}[{i + 1}]") for i, each in enumerate(given)]

    def text(self, key: str, default: str | None = None, among: Sequence[str] = ()) -> str:
        """Return a text."""
        expected = f"one of {', '.join(among)}" if among else "a text"
        value = self._value(key, default, expected)
        if not isinstance(value, str) or not value or (among and value not in among):
            raise self.error(key, _show(value), expected, "correct the value")
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self._value(key, default, "true or false")
        if not isinstance(value, bool):
            raise self.error(key, _show(value), "true or false", "correct the value")
        return value

    def number(
        self,
        key: str,
        default: float | None = None,
        low: float = -math.inf,
        high: float = math.inf,
    ) -> float:
        """Return a finite number."""
        expected = "a number"
        if math.isfinite(low) or math.isfinite(high):
            expected += (
                f" from {low:g} to {high:g}" if math.isfinite(high) else f" of {low:g} or more"
            )
        value = self._value(key, default, expected)
        if not _is_number(value) or not low <= float(value) <= high:
            raise self.error(key, _show(value), expected, "correct the value")
        return float(value)

    def whole(self, key: str, default: int | None = None, low: int = 0, high: int = 10**9) -> int:
        """Return a whole number."""
        expected = f"a whole number from {low} to {high}"
        value = self._value(key, default, expected)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.error(key, _show(value), expected, "correct the value")
        return value

    def numbers(self, key: str, default: Sequence[float] | None = None) -> tuple[float, ...]:
        """Return a list of at least one finite number."""
        expected = "a list of numbers such as [0, 250]"
        value = self._value(key, None if default is None else list(default), expected)
        if not isinstance(value, list) or not value or not all(_is_number(v) for v in value):
            raise self.error(key, _show(value), expected, "correct the value")
        return tuple(float(v) for v in value)

    def texts(self, key: str, default: Sequence[str] | None = None) -> tuple[str, ...]:
        """Return a list of texts."""
        expected = 'a list of texts such as ["LBRL_z_mm"]'
        value = self._value(key, None if default is None else list(default), expected)
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.error(key, _show(value), expected, "correct the value")
        return tuple(value)

    def finish(self) -> None:
        """Refuse a key that nothing asked for."""
        for key in self.values:
            if key not in self._asked:
                known = ", ".join(dict.fromkeys(self._asked)) or "no keys"
                raise self.error(key, f"key {key!r}", f"one of: {known}", "correct the key")

    def _value(self, key: str, default: object, expected: str) -> Any:
        if self.has(key):
            return self.values[key]
        if default is None:
            raise self.error(key, "nothing", expected, "add the key")
        return default


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _show(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."

"""From results to documents and back: one serializer, its JSON Schema, and results in one line.

An entry names the keys of one JSON object in order. A key without a default is always there
(null where a value is missing), one with a default only where it says something.

msgspec rather than cattrs: one class is keys, types, validation and JSON Schema at once (cattrs
makes no schema), and it read and wrote 2040 points 3 times as fast when both were tried.
"""

import dataclasses
import numbers
import sys
import types
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import msgspec
from msgspec import UNSET, UnsetType

from frontcheck.errors import refuse

if TYPE_CHECKING:
    from pandas import DataFrame


class Entry(msgspec.Struct, omit_defaults=True, forbid_unknown_fields=True):
    """One JSON object of a document, filled from the result it speaks of."""


E = TypeVar("E", bound=Entry)


class From:
    """Where a key comes from when not from the attribute of its name, with or without unit."""

    def __init__(self, source: str | Callable[[Any], Any]) -> None:
        self.of = attrgetter(source) if isinstance(source, str) else source


def filled(kind: type[E], result: object, /, **given: Any) -> E:
    """Return an entry filled from a result; what is given stands instead of an attribute."""
    values = {}
    for name, source, convert in _plan(kind):
        value = given[name] if name in given else source(result)
        if value is not UNSET:
            values[name] = convert(value)
    return kind(**values)


def plain(kind: type[Entry], result: object, /, **given: Any) -> dict[str, Any]:
    """Return the same as plain values, ready for JSON."""
    built: dict[str, Any] = msgspec.to_builtins(filled(kind, result, **given))
    return built


def schema(kind: type[Entry]) -> dict[str, Any]:
    """Return the JSON Schema of a document."""
    made = msgspec.json.schema(kind)
    for entry in made["$defs"].values():
        entry["description"] = entry["description"].splitlines()[0]
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": _tag(kind)}
    return head | made


def read_document(kind: type[E], path: str | Path) -> E:
    """Read a document back; a file that is none is refused with the place of the fault."""
    name, wanted = Path(path).name, _tag(kind)
    try:
        return msgspec.json.decode(Path(path).read_bytes(), type=kind)
    except OSError as error:
        reason = error.strerror
        raise refuse("document.unreadable", name, wanted=wanted, reason=reason) from error
    except msgspec.ValidationError as error:
        found = _version_in(Path(path).read_bytes())
        if found != wanted and found.partition("/")[0] == wanted.partition("/")[0]:
            raise refuse("document.version", name, wanted=wanted, version=found) from error
        raise refuse("document.other", name, wanted=wanted, reason=error) from error
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise refuse("document.damaged", name, wanted=wanted, reason=error) from error


class _Tagged(msgspec.Struct):
    schema: str = ""


def _version_in(data: bytes) -> str:
    """Name and version that a document gives itself; empty where it gives none."""
    try:
        return msgspec.json.decode(data, type=_Tagged).schema
    except msgspec.DecodeError:
        return ""


def _tag(kind: type[Entry]) -> str:
    return str(kind.__struct_config__.tag)


@cache
def _plan(kind: type[Entry]) -> tuple[tuple[str, Any, Any], ...]:
    """Name, source and converter of every key; worked out once a kind."""
    # Named globals: a function in an annotation must find what its module holds.
    module = vars(sys.modules[kind.__module__])
    hints = typing.get_type_hints(kind, module, include_extras=True)
    return tuple(
        (name, _source(name, hints[name]), _converter(hints[name]))
        for name in kind.__struct_fields__
    )


def _source(name: str, hint: Any) -> Callable[[Any], Any]:
    for mark in getattr(hint, "__metadata__", ()):
        if isinstance(mark, From):
            return mark.of
    without_unit = name.rpartition("_")[0] or name
    return lambda result: getattr(result, name, getattr(result, without_unit, UNSET))


def _converter(hint: Any) -> Callable[[Any], Any]:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin is Annotated:
        return _converter(args[0])
    if origin in (typing.Union, types.UnionType):
        kinds = [kind for kind in args if kind not in (types.NoneType, UnsetType)]
        inner = _converter(kinds[0]) if len(kinds) == 1 else _builtin
        return lambda value: None if value is None else inner(value)
    if origin is list:
        of = _converter(args[0])
        return lambda value: [
            of(each) for each in (value.tolist() if hasattr(value, "tolist") else value)
        ]
    if origin is dict:
        of = _converter(args[1])
        return lambda value: {key: of(each) for key, each in value.items()}
    if isinstance(hint, type) and issubclass(hint, Entry):
        return lambda value: value if isinstance(value, Entry) else filled(hint, value)
    return _builtin


def _builtin(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_builtin(each) for each in value]
    return value.item() if hasattr(value, "dtype") else value  # a number of numpy


def by_name(things: Any) -> dict[str, Any]:
    """Return things by their names."""
    return {thing.name: thing for thing in things}


# Results in one line, for people who look at one in a session.

_WIDTH = 118
_ONE = (str, bool, int, float)
_MANY = (str, tuple, list, dict)
T = TypeVar("T")


def one_line(kind: type[T]) -> type[T]:
    """Let a result show itself in one readable line: what it holds, no long numbers, no arrays."""
    kind.__repr__ = _one_line  # type: ignore[method-assign]
    return kind


def _one_line(result: object) -> str:
    names = getattr(result, "__struct_fields__", ())
    if dataclasses.is_dataclass(result):
        names = tuple(field.name for field in dataclasses.fields(result) if field.repr)
    shown = [_word(name, getattr(result, name)) for name in names]
    text = ", ".join(word for word in shown if word)
    head = f"{type(result).__name__}("
    room = _WIDTH - len(head) - 1
    if len(text) > room:
        text = f"{text[: room - 4].rpartition(', ')[0]}, ..."
    return f"{head}{text})"


def _word(name: str, value: Any) -> str:
    """One field in a word or two; empty when there is nothing to say."""
    if value is None or value is UNSET or (isinstance(value, _MANY) and not value):
        return ""
    if _is_one(value):
        return f"{name}={_short(value)}"
    if hasattr(value, "dtype"):
        return f"{name}: {' x '.join(map(str, value.shape))} numbers"
    few = isinstance(value, tuple) and len(value) < 5
    if few and all(_is_one(each) for each in value):
        return f"{name}=({', '.join(_short(each) for each in value)})"
    if isinstance(value, _MANY):
        return f"{len(value)} {name}"
    known = (getattr(value, key, "") for key in ("status", "id", "code", "name"))
    word = next((each for each in known if isinstance(each, str) and each), "")
    if word:
        return f"{name}={word}"
    y = getattr(value, "y", None)
    return f"{name} y={y:g}" if isinstance(y, float) else ""


def _is_one(value: Any) -> bool:
    """Whether it is text or a number; those of numpy are told without loading it."""
    return isinstance(value, _ONE) or (hasattr(value, "dtype") and value.shape == ())


def _short(value: Any) -> str:
    if isinstance(value, str):
        line = " ".join(value.split())
        return repr(line if len(line) <= 40 else f"{line[:37]}...")
    whole = not isinstance(value, numbers.Real) or isinstance(value, numbers.Integral)
    return str(value) if whole else f"{value:g}"


# Results as tables. A column has one type, whatever is missing in it.

_YES_NO = ("bridged", "close_enough", "beyond_uncertainty")
_WORDS = (
    "status", "status_a", "status_b", "legform", "quantity", "group", "words", "unit", "line",
    "not_comparable", "correction", "check", "verdict", "reason",
)  # fmt: skip
_LISTS = ("add_heights_mm",)


def table(records: Sequence[Mapping[str, Any]], columns: Iterable[str], *index: str) -> "DataFrame":
    """Return records as a table: Float64, boolean and string columns, NA where missing."""
    import pandas as pd  # here and not above: the command line must start fast

    kinds = {name: _kind(name) for name in columns}
    frame = pd.DataFrame(
        {
            name: pd.Series([record.get(name) for record in records], dtype=kind)
            for name, kind in kinds.items()
        }
    )
    return frame.set_index(list(index) if len(index) > 1 else index[0]) if index else frame


def _kind(column: str) -> str:
    if column.endswith(_YES_NO):
        return "boolean"
    if column in _LISTS:
        return "object"
    words = column in _WORDS or column.endswith("_status")
    return "string" if words else "Float64"

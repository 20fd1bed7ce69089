"""One constant of a rule set, with where it comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from frontcheck.errors import RuleSetError

if TYPE_CHECKING:
    from collections.abc import Mapping

Scalar: TypeAlias = float | bool | str
Value: TypeAlias = Scalar | tuple[Scalar, ...]

PROVENANCES: Final = ("text read", "from memory", "from memory, unconfirmed")
"""How sure a constant is: the published text was read for it; entered from memory
with high confidence; entered from memory, to be confirmed before anyone relies on it."""


@dataclass(frozen=True)
class Constant:
    """One constant of a rule set."""

    name: str  # Dotted name, such as ``ubrl.lean_deg``
    value: Value  # The value, in the unit stated
    unit: str  # Unit, such as ``mm`` or ``deg``; empty for a switch or a list of names
    document: str  # The published document, or that the value is a reading of our own
    paragraph: str  # Paragraph of that document; empty where it is not known
    provenance: str  # One of `PROVENANCES`
    note: str = ""  # How the text was read, or what to mind

    def __post_init__(self) -> None:
        """Check every field and turn whole numbers into floats."""
        object.__setattr__(self, "value", _checked_value(self.name, self.value))
        for field in ("name", "unit", "document", "paragraph", "provenance", "note"):
            text: object = getattr(self, field)
            if not isinstance(text, str):
                raise RuleSetError(
                    f"constant {self.name!r}: found {field} {text!r}; expected a text; "
                    "put it in quotes"
                )
        if self.provenance not in PROVENANCES:
            raise RuleSetError(
                f"constant {self.name!r}: found provenance {self.provenance!r}; expected one of "
                f"{', '.join(map(repr, PROVENANCES))}; say how the value is known"
            )
        if not self.document.strip():
            raise RuleSetError(
                f"constant {self.name!r}: found no document; expected where the value is from; "
                "name the document, or say that it is a reading of your own"
            )

    @property
    def kind(self) -> str:
        """What the value is: ``number``, ``switch``, ``text``, or ``list of`` one of them."""
        if isinstance(self.value, tuple):
            return f"list of {_scalar_kind(self.value[0])}" if self.value else "empty list"
        return _scalar_kind(self.value)

    @property
    def plain(self) -> str:
        """The value with its unit, as a person would write it."""
        items = self.value if isinstance(self.value, tuple) else (self.value,)
        text = ", ".join(map(_scalar_text, items)) if items else "none"
        return f"{text} {self.unit}".strip()

    def alike(self, other: Constant) -> bool:
        """Return whether another constant may stand in for this one."""
        kinds = {self.kind, other.kind}
        lists = all("list" in kind for kind in kinds)
        return self.unit == other.unit and (len(kinds) == 1 or (lists and "empty list" in kinds))


def _scalar_kind(value: Scalar) -> str:
    if isinstance(value, bool):
        return "switch"
    return "text" if isinstance(value, str) else "number"


def _scalar_text(value: Scalar) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else f"{value:.15g}"


def _checked_value(name: str, value: object) -> Value:
    if isinstance(value, (list, tuple)):
        items = tuple(_checked_scalar(name, item) for item in value)
        if len({type(item) for item in items}) > 1:
            raise RuleSetError(
                f"constant {name!r}: found a list of mixed kinds {value!r}; expected all numbers "
                "or all texts; split it into two constants"
            )
        return items
    return _checked_scalar(name, value)


def _checked_scalar(name: str, value: object) -> Scalar:
    if isinstance(value, (bool, str)):
        return value
    if isinstance(value, (int, float)):
        if math.isfinite(value) and value >= 0.0:
            return float(value)
        raise RuleSetError(
            f"constant {name!r}: found {value!r}; expected a finite number of 0 or more; "
            "correct the value"
        )
    raise RuleSetError(
        f"constant {name!r}: found {value!r}; expected a number, a switch (true or false), a text "
        "or a list of those; correct the value"
    )


# Reading rule-set files: a base with every constant, and sets that override some of it.
#
# A file has a `documents` table, which gives the full title of every document under a
# short key, and one table a line or zone, holding one record a constant. A record
# cites its document by key. A set may give a key of the base another title: that is
# how the constants which all editions share come to name the edition in hand.

_REQUIRED: Final = ("value", "unit", "document", "paragraph", "provenance")
_OPTIONAL: Final = ("note",)
_HEAD: Final = ("id", "title", "documents")

Record = dict[str, Any]


class Records:
    """What one rule-set file says, checked for form but not yet layered."""

    def __init__(
        self,
        file: str,
        id: str,  # noqa: A002 - the word that the files use
        title: str,
        documents: Mapping[str, str],
        constants: Mapping[str, Record],
    ) -> None:
        self.file = file
        self.id = id
        self.title = title
        self.documents = dict(documents)
        self.constants = dict(constants)


def parse(text: str, file: str) -> Records:
    """Read one rule-set file."""
    import tomllib  # here and not above: `--help` needs no rule set

    try:
        tree = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RuleSetError(
            f"{file}: found {error}; expected a TOML document; correct the file there"
        ) from None
    head = {key: tree.pop(key, None) for key in _HEAD}
    for key in ("id", "title"):
        if not isinstance(head[key], str) or not head[key].strip():
            raise RuleSetError(
                f'{file}: found {key} {head[key]!r}; expected a text; add {key} = "..." on top'
            )
    documents = head["documents"] if head["documents"] is not None else {}
    if not isinstance(documents, dict) or not all(isinstance(t, str) for t in documents.values()):
        raise RuleSetError(
            f"{file}: found documents {documents!r}; expected a table of titles; "
            'write key = "title" under [documents]'
        )
    constants: dict[str, Record] = {}
    for group, table in tree.items():
        if not isinstance(table, dict):
            raise RuleSetError(
                f"{file}: found {group} = {table!r}; expected a table of constants; "
                f"put it under a heading such as [{group}]"
            )
        for key, record in table.items():
            constants[f"{group}.{key}"] = _checked_record(file, f"{group}.{key}", record)
    return Records(file, head["id"], head["title"], documents, constants)


def layer(base: Records, over: Records) -> dict[str, Constant]:
    """Lay one set over the base."""
    strange = [name for name in over.constants if name not in base.constants]
    if strange:
        raise RuleSetError(
            f"{over.file}: found {', '.join(strange)}; expected only constants that {base.file} "
            "has; correct the name, or add it to the base first"
        )
    documents = base.documents | over.documents
    merged: dict[str, Constant] = {}
    for name, record in base.constants.items():
        below = _constant(base.file, name, record, documents)
        if name in over.constants:
            above = _constant(over.file, name, over.constants[name], documents)
            if not below.alike(above):
                raise RuleSetError(
                    f"{over.file}: constant {name!r}: found {above.plain!r}, a {above.kind}; "
                    f"expected a {below.kind} like {below.plain!r} in {base.file}; "
                    "correct value or unit"
                )
            below = above
        merged[name] = below
    return merged


def _checked_record(file: str, name: str, record: object) -> Record:
    if not isinstance(record, dict):
        raise RuleSetError(
            f"{file}: constant {name!r}: found {record!r}; expected a record; "
            f"write {{ {' = ..., '.join(_REQUIRED)} = ... }}"
        )
    missing = [field for field in _REQUIRED if field not in record]
    if missing:
        raise RuleSetError(
            f"{file}: constant {name!r}: found no {', '.join(missing)}; expected all of "
            f'{", ".join(_REQUIRED)}; add what is missing (paragraph may be "")'
        )
    unknown = [field for field in record if field not in (*_REQUIRED, *_OPTIONAL)]
    if unknown:
        raise RuleSetError(
            f"{file}: constant {name!r}: found field {', '.join(unknown)}; expected only "
            f"{', '.join((*_REQUIRED, *_OPTIONAL))}; correct the name of the field"
        )
    return record


def _constant(file: str, name: str, record: Record, documents: Mapping[str, str]) -> Constant:
    key = record["document"]
    if not isinstance(key, str) or key not in documents:
        raise RuleSetError(
            f"{file}: constant {name!r}: found document {key!r}; expected one of the keys "
            f"{', '.join(documents)}; add its title under [documents]"
        )
    try:
        return Constant(name=name, **(record | {"document": documents[key]}))
    except RuleSetError as error:
        raise RuleSetError(f"{file}: {error}") from None

"""Reading rule-set files: a base with every constant, and sets that override some of it.

A file has a `documents` table, which gives the full title of every document under a
short key, and one table a line or zone, holding one record a constant. A record
cites its document by key. A set may give a key of the base another title: that is
how the constants which all editions share come to name the edition in hand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import RuleSetError
from frontcheck.rules.constant import Constant

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Records", "layer", "parse"]

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

"""Reading rule-set files: a base with every constant, and sets that override some of it.

A file has a `documents` table, which gives the full title of every document under a short key,
and one table a line or zone, holding one record a constant. A record cites its document by key.
A set may give a key of the base another title: that is how the constants which all editions
share come to name the edition in hand.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from frontcheck.caution import PROVENANCES, Provenance
from frontcheck.errors import RuleSetError, refuse
from frontcheck.files import checked, parse_toml
from frontcheck.rules.constant import Constant

_Scalar = float | bool | str
_Text = Annotated[str, Meta(pattern=r"\S", description="a text")]


class _Head(Struct, frozen=True):
    """What stands above the constants."""

    id: _Text
    title: _Text
    documents: dict[str, str] = {}
    caution: str = ""  # What to mind of the whole set
    provisional: bool = False  # Whether nothing taken from memory counts as confirmed


class _Record(Struct, forbid_unknown_fields=True, frozen=True):
    """One constant as its file states it."""

    value: Annotated[
        _Scalar | list[_Scalar],
        Meta(description="a number, a switch (true or false), a text or a list of those"),
    ]
    unit: str
    document: str  # A key of `documents`
    paragraph: str  # "" where it is not known
    provenance: Annotated[
        Provenance,
        Meta(description=f"one of {', '.join(map(repr, PROVENANCES))}"),
    ]
    note: str | UnsetType = UNSET


class Records:
    """What one rule-set file says, checked for form but not yet layered."""

    def __init__(self, text: str, file: str) -> None:
        tree = parse_toml(text, file, "a TOML document", RuleSetError)
        above = {key: tree.pop(key) for key in _Head.__struct_fields__ if key in tree}
        head = checked(above, _Head, file, RuleSetError)
        self.file, self.head, self.documents = file, head, head.documents
        self.records: dict[str, _Record] = {}
        for group, table in tree.items():
            for key, record in checked(table, dict[str, object], file, RuleSetError, group).items():
                name = f"{group}.{key}"
                self.records[name] = checked(record, _Record, file, RuleSetError, name)

    def constant(self, name: str, documents: dict[str, str]) -> Constant:
        """Return one constant, with the title of its document in place of the key."""
        one = self.records[name]
        if one.document not in documents:
            raise refuse("rules.unknown_document", self.file, key=name, document=one.document,
                         known=documents)  # fmt: skip
        value = tuple(one.value) if isinstance(one.value, list) else one.value
        note = one.note if isinstance(one.note, str) else ""
        try:
            return Constant(name, value, one.unit, documents[one.document], one.paragraph,
                            one.provenance, note)  # fmt: skip
        except RuleSetError as error:
            raise error.at(file=self.file) from None


def layered(base: Records, over: Records) -> dict[str, Constant]:
    """Lay one set over the base."""
    strange = ", ".join(name for name in over.records if name not in base.records)
    if strange:
        raise refuse("rules.not_in_base", over.file, names=strange, base=base.file)
    documents = base.documents | over.documents
    unsure = "from memory, unconfirmed"
    merged: dict[str, Constant] = {}
    for name in base.records:
        below = base.constant(name, documents)
        if name in over.records:
            above = over.constant(name, documents)
            if not below.alike(above):
                raise refuse("rules.other_kind", over.file, key=name, here=above.plain,
                             kind_here=above.kind, wanted=below.kind, there=below.plain,
                             base=base.file)  # fmt: skip
            below = above
        if over.head.provisional and below.provenance == "from memory":
            below = replace(below, provenance=unsure)
        merged[name] = below
    return merged

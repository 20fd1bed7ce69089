"""One constant of a rule set, with where it comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

from frontcheck.caution import PROVENANCES
from frontcheck.errors import refuse

Scalar: TypeAlias = float | bool | str
Value: TypeAlias = Scalar | tuple[Scalar, ...]


@dataclass(frozen=True)
class Constant:
    """One constant of a rule set."""

    name: str  # Dotted name, such as ``ubrl.lean_deg``
    value: Value  # The value, in the unit stated
    unit: str  # Unit, such as ``mm`` or ``deg``; empty for a switch or a list of names
    document: str  # The published document, or that the value is a reading of our own
    paragraph: str  # Paragraph of that document; empty where it is not known
    provenance: str  # One of `PROVENANCES`
    note: str = ""  # How the text was read, what to mind, or the reason for our own choice

    def __post_init__(self) -> None:
        """Check what the types do not say, and turn whole numbers into floats."""
        object.__setattr__(self, "value", _checked_value(self.name, self.value))
        if self.provenance not in PROVENANCES:
            known = ", ".join(map(repr, PROVENANCES))
            raise refuse("rules.provenance", key=self.name, provenance=self.provenance, known=known)
        if not self.document.strip():
            raise refuse("rules.no_document", key=self.name)
        if self.provenance == "own choice" and not self.note.strip():
            raise refuse("rules.no_reason", key=self.name)

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
    if not isinstance(value, (list, tuple)):
        return _checked_scalar(name, value)
    items = tuple(_checked_scalar(name, item) for item in value)
    if len({type(item) for item in items}) > 1:
        raise refuse("rules.mixed_list", key=name, value=repr(value))
    return items


def _checked_scalar(name: str, value: object) -> Scalar:
    if isinstance(value, (bool, str)):
        return value
    if not isinstance(value, (int, float)):
        raise refuse("rules.no_value", key=name, value=repr(value))
    if not (math.isfinite(value) and value >= 0.0):
        raise refuse("rules.negative", key=name, value=repr(value))
    return float(value)

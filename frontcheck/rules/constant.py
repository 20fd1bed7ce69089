"""One constant of a rule set, with where it comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, TypeAlias

from frontcheck.errors import RuleSetError

__all__ = ["PROVENANCES", "Constant", "Scalar", "Value"]

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

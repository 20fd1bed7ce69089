"""What a finding is, and what the rule behind it says of itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

__all__ = ["COMMON_PRACTICE", "Finding", "FindingRule", "Region"]

Comparison = Literal["<", "<=", ">", ">=", "within", "outside", "is"]
Topic = Literal["leg", "body", "head", "gap", "measurement"]
Provenance = Literal["text read", "from memory", "from memory, unconfirmed"]

COMMON_PRACTICE: Final = "common practice, no source"
"""Stands for a source where there is none to name."""


@dataclass(frozen=True)
class FindingRule:
    """What all findings of one code have in common; `frontcheck explain CODE` prints it."""

    code: str  # Stable code, such as ``LEG-UNDERCUT``; never used again for something else
    topic: Topic  # What it concerns
    title: str  # A few words
    meaning: str  # What the finding says, in plain sentences
    limits: str  # What it does not say, and where the geometry alone is not enough
    threshold: float | tuple[float, float] | None  # What the value is compared with, in `unit`
    unit: str  # Unit of value and threshold; empty for a plain statement
    comparison: Comparison  # How: ``<``, ``<=``, ``>``, ``>=``, ``within``, ``outside``, ``is``
    source: str  # Published source with place where known, or `COMMON_PRACTICE`
    provenance: Provenance


@dataclass(frozen=True)
class Region:
    """Where on the front a finding lies."""

    name: str  # In words, such as ``bumper`` or ``child headform area``
    arc_mm: tuple[float, float] | None = None
    outline_mm: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True)
class Finding:
    """One thing to look at, with everything needed to check it."""

    rule: FindingRule  # The rule that found it
    region: Region  # Where it is
    station: float | None  # Station [mm]; None when it concerns the whole front
    value: float | None  # What was compared, in ``rule.unit``; None for a plain statement
    message: str  # One plain sentence with value and threshold in it
    settled_by: str  # The test that settles it, such as ``lower legform test at y = 250 mm``
    person: str = ""  # Reference person concerned; empty when it concerns none in particular
    threshold: float | tuple[float, float] | None = None

    @property
    def code(self) -> str:
        """Stable code of the rule."""
        return self.rule.code

    @property
    def limit(self) -> float | tuple[float, float] | None:
        """What the value was compared with: its own threshold, else the rule's."""
        return self.rule.threshold if self.threshold is None else self.threshold

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
        limit = self.limit
        region: dict[str, Any] = {"name": self.region.name}
        if self.region.arc_mm is not None:
            region["arc_mm"] = list(self.region.arc_mm)
        if self.region.outline_mm:
            region["outline_mm"] = [list(point) for point in self.region.outline_mm]
        return {
            "code": self.code,
            "region": region,
            "station_mm": self.station,
            "value": self.value,
            "unit": self.rule.unit,
            "threshold": list(limit) if isinstance(limit, tuple) else limit,
            "comparison": self.rule.comparison,
            "message": self.message,
            "source": self.rule.source,
            "provenance": self.rule.provenance,
            "person": self.person,
            "settled_by": self.settled_by,
        }

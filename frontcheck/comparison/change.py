"""One quantity in two fronts, and how it changed from A to B."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

__all__ = ["COVERAGE", "Change", "change_of", "missing_reason"]

COVERAGE: Final = 2.0
"""A change is beyond the uncertainty when it is larger than this many times its standard
uncertainty: coverage factor 2, a level of about 95 % (JCGM 100:2008, from memory)."""


@dataclass(frozen=True)
class Change:
    """One quantity in A and in B."""

    quantity: str  # Name with its unit, such as ``UBRL_z_mm``
    words: str  # The same in words
    unit: str  # ``mm``, ``deg`` or ``m2``
    a: float | None  # The values; None where missing
    b: float | None  # The values; None where missing
    change: float | None  # B less A; None where they cannot be compared
    status_a: str = ""  # Status of the line it belongs to, in A and in B
    status_b: str = ""  # Status of the line it belongs to, in A and in B
    reason: str = ""  # Why the two cannot be compared
    u: float | None = None  # Standard uncertainty of the change; None where no draws were made
    chance_less: float | None = None
    chance_more: float | None = None

    @property
    def status_changed(self) -> bool:
        """Whether the line is formed in another way in B than in A."""
        return self.status_a != self.status_b

    @property
    def differs(self) -> bool:
        """Whether anything is different in B: the value, the status, or that it is there."""
        if (self.a is None) != (self.b is None):
            return True
        return self.status_changed or (self.change is not None and self.change != 0.0)

    @property
    def beyond(self) -> bool | None:
        """Whether the change is beyond its uncertainty; None where that is not known."""
        if self.u is None or self.change is None:
            return None
        return abs(self.change) > COVERAGE * self.u

    def with_draws(self, u: float | None, less: float, more: float) -> Change:
        """Return the same change with what draws say of it."""
        return replace(self, u=u, chance_less=less, chance_more=more)

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the comparison document."""
        entry: dict[str, Any] = {"unit": self.unit, "a": self.a, "b": self.b, "change": self.change}
        if self.status_a or self.status_b:
            entry |= {
                "status_a": self.status_a,
                "status_b": self.status_b,
                "status_changed": self.status_changed,
            }
        if self.reason:
            entry["not_comparable"] = self.reason
        if self.chance_less is not None:
            entry |= {
                "u": self.u,
                "beyond_uncertainty": self.beyond,
                "chance_b_less": self.chance_less,
                "chance_b_more": self.chance_more,
            }
        return entry


def change_of(
    quantity: str,
    words: str,
    a: float | None,
    b: float | None,
    *,
    status: tuple[str, str] = ("", ""),
    missing: tuple[str, str] = ("", ""),
    barred: str = "",
) -> Change:
    """Return the change of one quantity."""
    unit = quantity.rpartition("_")[2]
    reason = missing_reason(a is None, b is None, *missing) or barred
    change = None if reason or a is None or b is None else b - a + 0.0
    return Change(quantity, words, unit, a, b, change, *status, reason)


def missing_reason(no_a: bool, no_b: bool, why_a: str = "", why_b: str = "") -> str:
    """Return why something that is missing somewhere cannot be compared."""
    sides = [
        f"{name}: {why}" if why else name
        for name, gone, why in (("A", no_a, why_a), ("B", no_b, why_b))
        if gone
    ]
    if len(sides) == 2 and why_a == why_b:
        sides = [f"A and B: {why_a}" if why_a else "A and B"]
    return f"missing in {'; in '.join(sides)}" if sides else ""

"""Units of length that input may be given in; inside, everything is mm and degrees."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

__all__ = ["MM_PER_UNIT", "mm_per"]

MM_PER_UNIT: Final = MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4})
"""Millimetres per unit. The inch is exactly 25.4 mm (international yard and pound, 1959)."""


def mm_per(unit: str) -> float:
    """Return how many millimetres one `unit` has."""
    try:
        return MM_PER_UNIT[unit]
    except KeyError:
        raise ValueError(f"unit {unit!r} is not one of {', '.join(MM_PER_UNIT)}") from None

"""Small entries of a tolerance result: shares of the draws, and what to measure again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

__all__ = ["ContactShare", "MeasureAgain", "ThresholdShare"]


@dataclass(frozen=True)
class ContactShare:
    """How often a line lies at one row."""

    row: int  # Point of the section, counted from 0
    source_row: int | None  # Row of the file that holds it
    height: float  # The row as measured [mm]
    setback: float  # The row as measured [mm]
    share: float

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document."""
        return {
            "row": self.row,
            "source_row": self.source_row,
            "height_mm": self.height,
            "setback_mm": self.setback,
            "contact_share": self.share,
        }


@dataclass(frozen=True)
class ThresholdShare:
    """On which side of a threshold a quantity falls."""

    quantity: str  # Name of the quantity
    threshold: float  # The threshold [mm]
    below: float  # Shares of all draws; `missing` where the line is not formed. They add up to 1
    at_or_above: float  # Shares of all draws
    missing: float  # Shares of all draws; `missing` where the line is not formed. They add up to 1

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document."""
        return {
            "quantity": self.quantity,
            "threshold_mm": self.threshold,
            "below_share": self.below,
            "at_or_above_share": self.at_or_above,
            "missing_share": self.missing,
        }


@dataclass(frozen=True)
class MeasureAgain:
    """A row, or a step of the measurement, that the results hang on."""

    y: float  # Station [mm]; for an error of the whole vehicle, the one where it shows most
    name: str
    row: int | None  # Point of the section, counted from 0, and row of the file
    source_row: int | None  # Point of the section, counted from 0, and row of the file
    quantity: str  # The quantity that follows it most
    part_mm: float  # Standard deviation of that quantity that goes with it [mm]

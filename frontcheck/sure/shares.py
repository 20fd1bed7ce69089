"""Small entries of a tolerance result: shares of the draws, and what to measure again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

__all__ = ["ContactShare", "MeasureAgain", "ThresholdShare"]


@dataclass(frozen=True)
class ContactShare:
    """How often a line lies at one row.

    Parameters
    ----------
    row : int
        Point of the section, counted from 0.
    source_row : int or None
        Row of the file that holds it.
    height, setback : float
        The row as measured [mm].
    share : float
        Share of draws in which the line lies at the point of this row or on a stretch
        that ends there. A line between two rows counts for both.
    """

    row: int
    source_row: int | None
    height: float
    setback: float
    share: float

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document.

        Returns
        -------
        dict
            Plain values.
        """
        return {
            "row": self.row,
            "source_row": self.source_row,
            "height_mm": self.height,
            "setback_mm": self.setback,
            "contact_share": self.share,
        }


@dataclass(frozen=True)
class ThresholdShare:
    """On which side of a threshold a quantity falls.

    Parameters
    ----------
    quantity : str
        Name of the quantity.
    threshold : float
        The threshold [mm].
    below, at_or_above, missing : float
        Shares of all draws; `missing` where the line is not formed. They add up to 1.
    """

    quantity: str
    threshold: float
    below: float
    at_or_above: float
    missing: float

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document.

        Returns
        -------
        dict
            Plain values.
        """
        return {
            "quantity": self.quantity,
            "threshold_mm": self.threshold,
            "below_share": self.below,
            "at_or_above_share": self.at_or_above,
            "missing_share": self.missing,
        }


@dataclass(frozen=True)
class MeasureAgain:
    """A row, or a step of the measurement, that the results hang on.

    Parameters
    ----------
    y : float
        Station [mm]; for an error of the whole vehicle, the one where it shows most.
    name : str
        Which reading: ``height`` or ``setback`` of a row, or an error of the whole station or
        vehicle.
    row, source_row : int or None
        Point of the section, counted from 0, and row of the file; None for a common error.
    quantity : str
        The quantity that follows it most.
    part_mm : float
        Standard deviation of that quantity that goes with it [mm].
    """

    y: float
    name: str
    row: int | None
    source_row: int | None
    quantity: str
    part_mm: float

"""What the zones of the bumper are, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from frontcheck.lines.front_line import Pair, Spot

__all__ = ["BumperArea", "BumperCorners", "LegformRun", "Thirds"]


@dataclass(frozen=True)
class BumperCorners:
    """Corners of the bumper by either procedure.

    Parameters
    ----------
    plane, gauge : Pair
        By the vertical plane, and by the corner gauge.
    applies : {"plane_60deg", "gauge"}
        Which of them the rule set uses.
    """

    plane: Pair
    gauge: Pair
    applies: Literal["plane_60deg", "gauge"]

    @property
    def chosen(self) -> Pair:
        """The corners that the rule set uses."""
        return self.gauge if self.applies == "gauge" else self.plane

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document.

        Returns
        -------
        dict
            Plain values.
        """
        return {
            "plane_60deg": self.plane.to_dict(),
            "gauge": self.gauge.to_dict(),
            "applies": self.applies,
        }


@dataclass(frozen=True)
class BumperArea:
    """Lateral extent of the bumper test area.

    Parameters
    ----------
    y_min, y_max : float or None
        Its ends [mm]; None when it could not be formed.
    basis : str
        ``corners`` or ``beam``: what bounds it.
    status : str
        One of `frontcheck.lines.section_lines.STATUSES`.
    reason : str, optional
        Why, or what to mind.
    """

    y_min: float | None
    y_max: float | None
    basis: str
    status: str
    reason: str = ""

    @property
    def width(self) -> float | None:
        """Width [mm]; None when it could not be formed."""
        return None if self.y_min is None or self.y_max is None else self.y_max - self.y_min

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document.

        Returns
        -------
        dict
            Plain values.
        """
        return {
            "y_min_mm": self.y_min,
            "y_max_mm": self.y_max,
            "width_mm": self.width,
            "basis": self.basis,
            "status": self.status,
            "reason": self.reason,
        }


@dataclass(frozen=True)
class Thirds:
    """An outer contour cut in three equal lengths of tape.

    Parameters
    ----------
    ends : tuple of Spot
        The two ends, left then right; empty when they could not be formed.
    cuts : tuple of Spot
        The two places between the thirds, left then right.
    length : float or None
        Length of the whole tape [mm].
    status : str
        One of `frontcheck.lines.section_lines.STATUSES`.
    reason : str, optional
        Why.
    """

    ends: tuple[Spot, ...]
    cuts: tuple[Spot, ...]
    length: float | None
    status: str
    reason: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document.

        Returns
        -------
        dict
            Plain values.
        """
        return {
            "ends_mm": [list(s.point) for s in self.ends if s.point is not None],
            "cuts_mm": [list(s.point) for s in self.cuts if s.point is not None],
            "length_mm": self.length,
            "status": self.status,
            "reason": self.reason,
        }


@dataclass(frozen=True)
class LegformRun:
    """A stretch of the bumper tested with one legform.

    Parameters
    ----------
    y_from, y_to : float
        Its ends [mm].
    legform : {"lower", "either", "upper"} or None
        Which; None where LBRL could not be formed.
    """

    y_from: float
    y_to: float
    legform: Literal["lower", "either", "upper"] | None

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document.

        Returns
        -------
        dict
            Plain values.
        """
        return {"y_from_mm": self.y_from, "y_to_mm": self.y_to, "legform": self.legform}

"""What the zones of the bumper are, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from frontcheck.lines.front_line import Pair, Spot

__all__ = ["BumperArea", "BumperCorners", "LegformRun", "Thirds"]


@dataclass(frozen=True)
class BumperCorners:
    """Corners of the bumper by either procedure."""

    plane: Pair  # By the vertical plane, and by the corner gauge
    gauge: Pair  # By the vertical plane, and by the corner gauge
    applies: Literal["plane_60deg", "gauge"]  # Which of them the rule set uses

    @property
    def chosen(self) -> Pair:
        """The corners that the rule set uses."""
        return self.gauge if self.applies == "gauge" else self.plane

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
        return {
            "plane_60deg": self.plane.to_dict(),
            "gauge": self.gauge.to_dict(),
            "applies": self.applies,
        }


@dataclass(frozen=True)
class BumperArea:
    """Lateral extent of the bumper test area."""

    y_min: float | None  # Its ends [mm]; None when it could not be formed
    y_max: float | None  # Its ends [mm]; None when it could not be formed
    basis: str  # ``corners`` or ``beam``: what bounds it
    status: str  # One of `frontcheck.lines.section_lines.STATUSES`
    reason: str = ""  # Why, or what to mind

    @property
    def width(self) -> float | None:
        """Width [mm]; None when it could not be formed."""
        return None if self.y_min is None or self.y_max is None else self.y_max - self.y_min

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
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
    """An outer contour cut in three equal lengths of tape."""

    ends: tuple[Spot, ...]  # The two ends, left then right; empty when they could not be formed
    cuts: tuple[Spot, ...]  # The two places between the thirds, left then right
    length: float | None  # Length of the whole tape [mm]
    status: str  # One of `frontcheck.lines.section_lines.STATUSES`
    reason: str = ""  # Why

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
        return {
            "ends_mm": [list(s.point) for s in self.ends if s.point is not None],
            "cuts_mm": [list(s.point) for s in self.cuts if s.point is not None],
            "length_mm": self.length,
            "status": self.status,
            "reason": self.reason,
        }


@dataclass(frozen=True)
class LegformRun:
    """A stretch of the bumper tested with one legform."""

    y_from: float  # Its ends [mm]
    y_to: float  # Its ends [mm]
    legform: Literal["lower", "either", "upper"] | None  # Which

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
        return {"y_from_mm": self.y_from, "y_to_mm": self.y_to, "legform": self.legform}

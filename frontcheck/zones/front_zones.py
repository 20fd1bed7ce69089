"""Everything that is known of one front in three dimensions, and what may be chosen about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from frontcheck.lines.front_line import FrontLine, Pair
    from frontcheck.zones.bonnet_results import GridPoint, HeadformArea
    from frontcheck.zones.bumper_results import BumperArea, BumperCorners, LegformRun, Thirds

__all__ = ["FrontZones", "ZoneOptions"]

LoftChoice = Literal["auto", "smooth", "straight"]


@dataclass(frozen=True)
class ZoneOptions:
    """What may be chosen about the zones.

    Parameters
    ----------
    beam_ends_mm : tuple of float, optional
        y of the left and of the right end of the bumper beam [mm].
    grid_mm : float, optional
        Spacing of the candidate points, across and along the tape [mm].
    loft_mm : float, optional
        Spacing of the lofted contours between measured stations [mm].
    loft : {"auto", "smooth", "straight"}, optional
        How to go from station to station; auto is smooth up to 60 stations.

    Raises
    ------
    ValueError
        If a spacing is not positive, the beam ends are not left then right, or there is no such
        loft.
    """

    beam_ends_mm: tuple[float, float] | None = None
    grid_mm: float = 100.0
    loft_mm: float = 10.0
    loft: LoftChoice = "auto"

    def __post_init__(self) -> None:
        """Check the values."""
        for name in ("grid_mm", "loft_mm"):
            value = getattr(self, name)
            if not 1.0 <= value < float("inf"):
                raise ValueError(f"{name} must be a length of 1 mm or more, not {value:g}")
        if self.loft not in ("auto", "smooth", "straight"):
            raise ValueError(f"loft must be 'auto', 'smooth' or 'straight', not {self.loft!r}")
        if self.beam_ends_mm is not None:
            left, right = self.beam_ends_mm
            if not left < right:
                raise ValueError(
                    f"beam_ends_mm must be the left end, then the right end (y positive to the "
                    f"vehicle's right), not {left:g} and {right:g}"
                )


@dataclass(frozen=True, eq=False)
class FrontZones:
    """All lines across one front, and the zones between them."""

    lines: tuple[FrontLine, ...]
    bumper_corners: BumperCorners  # Corners of the bumper
    bumper_test_area: BumperArea  # Lateral extent of the bumper test area
    bumper_thirds: Thirds  # Thirds of bumper and of bonnet leading edge
    leading_edge_thirds: Thirds  # Thirds of bumper and of bonnet leading edge
    corner_reference_points: Pair  # Where SRL meets BLERL, and where it meets BRRL
    rear_corners: Pair  # Where SRL meets BLERL, and where it meets BRRL
    child_area: HeadformArea  # Headform test areas
    adult_area: HeadformArea  # Headform test areas
    legform_runs: tuple[LegformRun, ...]  # Legform choice from left to right
    grid: tuple[GridPoint, ...]  # Candidate test points on the headform areas
    options: ZoneOptions  # What was chosen
    loft: str  # ``smooth`` or ``straight``; empty where there is no surface
    notes: tuple[str, ...] = ()  # How wordings were read and what to mind

    def line(self, name: str) -> FrontLine:
        """Return one line across the front."""
        for line in self.lines:
            if line.name == name:
                return line
        raise KeyError(f"no line {name!r}; there are {', '.join(line.name for line in self.lines)}")

    def to_dict(self) -> dict[str, Any]:
        """Return the parts ``lines`` and ``zones`` of the screening document."""
        return {
            "lines": {line.name: line.to_dict() for line in self.lines},
            "zones": {
                "bumper_corners": self.bumper_corners.to_dict(),
                "bumper_test_area": self.bumper_test_area.to_dict(),
                "thirds": {
                    "bumper": self.bumper_thirds.to_dict(),
                    "leading_edge": self.leading_edge_thirds.to_dict(),
                },
                "corner_reference_points": self.corner_reference_points.to_dict(),
                "rear_corners": self.rear_corners.to_dict(),
                "child_headform_area": self.child_area.to_dict(),
                "adult_headform_area": self.adult_area.to_dict(),
                "legform_along_y": [run.to_dict() for run in self.legform_runs],
                "candidate_points": [point.to_dict() for point in self.grid],
                "loft": self.loft or None,
                "notes": list(self.notes),
            },
        }

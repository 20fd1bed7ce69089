"""Everything that is known of one front in three dimensions, and what may be chosen about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from frontcheck.lines.front_line import FrontLine, Pair, Spot, Xyz

# What the zones of the bonnet are, as plain frozen values.


@dataclass(frozen=True)
class Outline:
    """Closed outline of one part of an area; the first point is not repeated."""

    points: tuple[Xyz, ...]  # x, y and z [mm]
    wad: tuple[float | None, ...]  # Wrap-around distance of every point, for the unrolled map [mm]


@dataclass(frozen=True)
class HeadformArea:
    """One headform test area."""

    name: Literal["child", "adult"]  # Which
    area_m2: float | None  # Area of the surface [m2]; None when it could not be formed
    outlines: tuple[Outline, ...]  # Its parts, the largest first; usually one
    status: str  # One of `frontcheck.lines.section_lines.STATUSES`
    reason: str = ""  # Why, or what to mind

    @property
    def formed(self) -> bool:
        """Whether the area could be formed."""
        return self.area_m2 is not None

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
        first = self.outlines[0] if self.outlines else None
        entry: dict[str, Any] = {
            "area_m2": self.area_m2,
            "outline_mm": None if first is None else [list(p) for p in first.points],
            "outline_unrolled_mm": None
            if first is None
            else [[p[1], w] for p, w in zip(first.points, first.wad, strict=True)],
        }
        if len(self.outlines) > 1:
            entry["more_outlines_mm"] = [[list(p) for p in o.points] for o in self.outlines[1:]]
        return entry | {"status": self.status, "reason": self.reason}


@dataclass(frozen=True)
class GridPoint:
    """A candidate test point."""

    area: Literal["child", "adult"]  # The headform area it lies in
    point: Xyz  # x, y and z [mm]
    wad: float  # Wrap-around distance [mm]
    normal: Xyz  # Outward unit normal of the surface

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the screening document."""
        return {
            "area": self.area,
            "point_mm": list(self.point),
            "wad_mm": self.wad,
            "normal": list(self.normal),
        }


# What the zones of the bumper are, as plain frozen values.


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

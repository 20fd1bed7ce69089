"""What the zones of the bonnet are, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from frontcheck.lines.front_line import Xyz

__all__ = ["GridPoint", "HeadformArea", "Outline"]


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

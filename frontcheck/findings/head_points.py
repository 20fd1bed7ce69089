"""What a headform meets at every grid point of the headform areas.

Glossary
--------
unrolled
    The plane of y and wrap-around distance; distances to lines and borders are taken in it.
    Along a section they are lengths of the taut tape; across, y is not measured along
    the surface, so that they come out a little short where it falls away to the side.
angle
    Between the travel of the headform and the inward normal of the surface: 0 for a blow
    square to the skin, 90 for a graze.
normal share
    Share of the speed along the normal, the cosine of that angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from frontcheck.people.impactors import headforms

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.zones.bonnet_results import HeadformArea
    from frontcheck.zones.front_zones import FrontZones

__all__ = ["HeadPoint", "area_shape", "head_points", "impact_angle_deg"]


@dataclass(frozen=True)
class HeadPoint:
    """One grid point and what its headform meets there."""

    area: Literal["child", "adult"]  # The headform area it lies in
    x: float  # The point [mm]
    y: float  # The point [mm]
    z: float  # The point [mm]
    wad: float  # Wrap-around distance [mm]
    angle_deg: float  # Between travel and inward normal [deg]
    to_border: float | None
    to_blerl: float | None
    to_brrl: float | None
    to_srl: float | None

    @property
    def normal_share(self) -> float:
        """Share of the speed along the inward normal; negative where it would leave the skin."""
        return math.cos(math.radians(self.angle_deg))

    @property
    def xyz(self) -> tuple[float, float, float]:
        """The point [mm]."""
        return self.x, self.y, self.z

    def to_dict(self) -> dict[str, Any]:
        """Return plain values."""
        return {
            "area": self.area,
            "point_mm": list(self.xyz),
            "wad_mm": self.wad,
            "angle_deg": self.angle_deg,
            "normal_share": self.normal_share,
            "to_border_mm": self.to_border,
            "to_blerl_mm": self.to_blerl,
            "to_brrl_mm": self.to_brrl,
            "to_srl_mm": self.to_srl,
        }


def impact_angle_deg(normal: tuple[float, float, float], travel_deg: float) -> float:
    """Return the angle between a headform's travel and the inward normal of a surface."""
    down = math.radians(travel_deg)
    cosine = -(normal[0] * math.cos(down) - normal[2] * math.sin(down))
    return math.degrees(math.acos(min(max(cosine, -1.0), 1.0)))


def area_shape(area: HeadformArea) -> Any:
    """Return a headform area in the unrolled plane."""
    import shapely  # here and not above: the command line must start fast

    polygons = []
    for outline in area.outlines:
        ring = [
            (point[1], wad)
            for point, wad in zip(outline.points, outline.wad, strict=True)
            if wad is not None
        ]
        if len(ring) >= 3:
            polygons.append(shapely.make_valid(shapely.Polygon(ring)))
    return shapely.union_all(polygons)


def head_points(zones: FrontZones, rules: RuleSet) -> tuple[HeadPoint, ...]:
    """Measure every grid point of the headform areas."""
    import shapely  # here and not above: the command line must start fast

    if not zones.grid:
        return ()
    travel = {form.name: form.angle_deg for form in headforms(rules)}
    places = shapely.points([(point.point[1], point.wad) for point in zones.grid])
    borders = {
        area.name: area_shape(area).boundary for area in (zones.child_area, zones.adult_area)
    }
    away = {name: _to_line(zones, name, places) for name in ("BLERL", "BRRL", "SRL")}
    found = []
    for i, point in enumerate(zones.grid):
        border = borders[point.area]
        found.append(
            HeadPoint(
                point.area,
                *point.point,
                point.wad,
                impact_angle_deg(point.normal, travel[point.area]),
                None if border.is_empty else float(border.distance(places[i])),
                away["BLERL"][i],
                away["BRRL"][i],
                away["SRL"][i],
            )
        )
    return tuple(found)


def _to_line(zones: FrontZones, name: str, places: NDArray[Any]) -> list[float | None]:
    """Unrolled distance from places to a line; None where it was not formed."""
    import shapely  # here and not above: the command line must start fast

    line = zones.line(name)
    pieces: list[Any] = []
    for piece in line.pieces:
        run: list[tuple[float, float]] = []
        for i in range(piece.start, piece.stop):
            wad = line.wad[i] if line.wad else None
            if wad is None:
                _close(pieces, run)
                run = []
            else:
                run.append((float(line.points[i, 1]), wad))
        _close(pieces, run)
    if not pieces:
        return [None] * len(places)
    return [float(d) for d in shapely.distance(shapely.union_all(pieces), places)]


def _close(pieces: list[Any], run: list[tuple[float, float]]) -> None:
    import shapely  # here and not above: the command line must start fast

    if len(run) > 1:
        pieces.append(shapely.LineString(run))
    elif run:
        pieces.append(shapely.Point(run[0]))

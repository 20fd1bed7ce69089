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

import numpy as np

from frontcheck.geometry.polyline import nearest
from frontcheck.people.impactors import headforms
from frontcheck.zones.headform import enclosed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.geometry.tape import TautTape
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.zones.front_zones import FrontZones, HeadformArea


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

    @property
    def normal_share(self) -> float:
        """Share of the speed along the inward normal; negative where it would leave the skin."""
        return math.cos(math.radians(self.angle_deg))

    @property
    def xyz(self) -> tuple[float, float, float]:
        """The point [mm]."""
        return self.x, self.y, self.z


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
            polygons.append(enclosed(ring))
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
    found = []
    for i, point in enumerate(zones.grid):
        border = borders[point.area]
        found.append(
            HeadPoint(
                point.area,
                *point.point,
                point.wad,
                impact_angle_deg(point.normal, travel[point.area]),
                None if border is None or border.is_empty else float(border.distance(places[i])),
            )
        )
    return tuple(found)


def facets_between(points: Sequence[HeadPoint], spacing: float) -> Index:
    """Triangles (k, 3) between neighbours of the grid that lie in the same headform area."""
    at = {
        (point.area, round(point.y / spacing), round(point.wad / spacing)): n
        for n, point in enumerate(points)
    }
    found: list[tuple[int, int, int]] = []
    corners = ((0, 0), (1, 0), (1, 1), (0, 1))
    for area, i, j in dict.fromkeys((n, i - a, j - b) for n, i, j in at for a, b in corners):
        # All four corners of a cell: two triangles; three of them: one.
        round_it = [at.get((area, i + a, j + b)) for a, b in corners]
        own = [n for n in round_it if n is not None]
        if len(own) >= 3:
            found += [(own[0], own[k], own[k + 1]) for k in range(1, len(own) - 1)]
    return np.array(found, dtype=np.intp).reshape(-1, 3)


# Where the headform areas lie in one section: from and to which wrap-around distance.

_Name = Literal["child", "adult"]


@dataclass(frozen=True)
class AreaRange:
    """One headform area in one section."""

    name: _Name  # Which
    front: float  # Wrap-around distance of its front border [mm]
    rear: float  # Wrap-around distance of its rear border [mm]


class HeadAreas:
    """The headform areas of a front in the unrolled plane of y and wrap-around distance."""

    def __init__(self, zones: FrontZones) -> None:
        self.zones = zones
        self._shapes: dict[_Name, Any] = {
            "child": area_shape(zones.child_area),
            "adult": area_shape(zones.adult_area),
        }

    @property
    def known(self) -> bool:
        """Whether both areas could be formed, empty or not."""
        return self.zones.child_area.formed and self.zones.adult_area.formed

    def holds(self, name: _Name, y: float, wad: float) -> bool:
        """Return whether a place lies in an area, its border counted."""
        import shapely  # here and not above: the command line must start fast

        return bool(shapely.dwithin(self._shapes[name], shapely.Point(y, wad), 1e-6))

    def at(self, y: float) -> tuple[AreaRange, ...]:
        """Return the areas that a section cuts."""
        import shapely  # here and not above: the command line must start fast

        found = []
        for name, shape in self._shapes.items():
            if shape.is_empty:
                continue
            _, low, _, high = shape.bounds
            cut = shape.intersection(shapely.LineString([(y, low - 1.0), (y, high + 1.0)]))
            for piece in shapely.get_parts(cut):
                _, front, _, rear = piece.bounds
                if rear - front > 1e-6:
                    found.append(AreaRange(name, front, rear))
        return tuple(sorted(found, key=lambda r: (r.front, r.rear)))


def wad_at(tape: TautTape, point: tuple[float, float]) -> float:
    """Return the wrap-around distance of a contour point."""
    found = nearest(tape.points, point)
    return tape.at(int(found.stretch), float(found.t)).distance


def bend_radius(contour: Array, arcs: Array, length: float) -> Array:
    """Return the radius of the convex bend at every contour point, over a stated length."""
    # The contour turns only at its points. Of all stretches that hold the point and lie within
    # half of `length` to either side, the one that turns most to the body's side counts; the
    # radius is `length` over its turn. An arc of radius R cut into chords c gives R within c /
    # length, and a lone crease of angle a gives length / a, whatever the facets, also beside a
    # hollow.
    n = len(contour)
    steps = np.diff(contour, axis=0)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.zeros(n)
    # A right turn, with the body on the right, is convex.
    turn[1:-1] = -(np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi
    total = np.concatenate([[0.0], np.cumsum(turn)])
    first = np.searchsorted(arcs, arcs - length / 2.0, side="left")
    last = np.searchsorted(arcs, arcs + length / 2.0, side="right")
    here = np.arange(n)
    most = np.maximum.reduceat(np.append(total, -np.inf), np.stack([here + 1, last + 1], 1).ravel())
    least = np.minimum.reduceat(total, np.stack([first, here + 1], 1).ravel())
    bend = most[::2] - least[::2]
    convex = bend > 1e-9
    return np.where(convex, length / np.where(convex, bend, 1.0), np.inf)

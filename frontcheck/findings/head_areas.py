"""Where the headform areas lie in one section: from and to which wrap-around distance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from frontcheck.findings.head_points import area_shape

if TYPE_CHECKING:
    from frontcheck.geometry.tape import TautTape
    from frontcheck.zones.front_zones import FrontZones

__all__ = ["AreaRange", "HeadAreas", "wad_at"]

_Name = Literal["child", "adult"]


@dataclass(frozen=True)
class AreaRange:
    """One headform area in one section."""

    name: _Name  # Which
    front: float  # Wrap-around distance of its borders [mm]
    rear: float  # Wrap-around distance of its borders [mm]


class HeadAreas:
    """The headform areas of a front in the unrolled plane of y and wrap-around distance."""

    def __init__(self, zones: FrontZones) -> None:
        self.zones = zones
        self._shapes: dict[_Name, Any] = {
            "child": area_shape(zones.child_area),
            "adult": area_shape(zones.adult_area),
        }

    @property
    def any_formed(self) -> bool:
        """Whether there is a headform area at all."""
        return not all(shape.is_empty for shape in self._shapes.values())

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
    a = tape.points[:-1]
    d = np.diff(tape.points, axis=0)
    to = np.asarray(point) - a
    t = np.clip((to * d).sum(axis=1) / (d * d).sum(axis=1), 0.0, 1.0)
    i = int(np.argmin(np.hypot(*(to - t[:, None] * d).T)))
    return tape.at(i, float(t[i])).distance

"""Both surfaces laid over each other: outlines in plan view, and distances between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.comparison.contour_distance import contour_distance
from frontcheck.errors import ContourError, NotAvailableError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.comparison.common_datum import Origins
    from frontcheck.front.front import Front

__all__ = ["HEIGHTS_MM", "LoftOverlay", "LoftRow", "loft_overlay"]

HEIGHTS_MM: Final = (300.0, 400.0, 500.0, 600.0, 700.0)
"""Heights of the outlines in plan view [mm]: shin to thigh."""
_PITCH_MM: Final = 50.0


@dataclass(frozen=True)
class LoftRow:
    """Both surfaces at one station."""

    y: float  # Station [mm]
    a: tuple[float | None, ...]  # Foremost setback at every height [mm]
    b: tuple[float | None, ...]  # Foremost setback at every height [mm]
    outward_mm: float  # How far B stands outside and inside A there at most [mm], both 0 or more
    inward_mm: float  # How far B stands outside and inside A there at most [mm], both 0 or more


@dataclass(frozen=True)
class LoftOverlay:
    """Both surfaces laid over each other, over the stations that both have."""

    heights_mm: tuple[float, ...]  # Heights of the outlines [mm]
    rows: tuple[LoftRow, ...]  # By station; empty where there is no overlay
    reason: str  # Why there is none, or what was left out

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the comparison document."""
        return {
            "status": "ok" if self.rows else "not_available",
            "reason": self.reason,
            "heights_mm": list(self.heights_mm),
            "rows": [
                {
                    "y_mm": row.y,
                    "foremost_x_a_mm": list(row.a),
                    "foremost_x_b_mm": list(row.b),
                    "b_outside_a_mm": row.outward_mm,
                    "b_inside_a_mm": row.inward_mm,
                }
                for row in self.rows
            ],
        }


def loft_overlay(
    a: Front, b: Front, origins: Origins, stations: Iterable[float] = ()
) -> LoftOverlay:
    """Lay the surfaces of two fronts over each other."""
    if origins.barred:
        return LoftOverlay(HEIGHTS_MM, (), origins.barred)
    try:
        one, two = a.loft(), b.loft()
    except NotAvailableError as error:
        return LoftOverlay(HEIGHTS_MM, (), str(error))
    low = max(one.y_range[0], two.y_range[0])
    high = min(one.y_range[1], two.y_range[1])
    if a.symmetric and b.symmetric:
        low = max(low, 0.0)
    whole = np.arange(np.ceil(low / _PITCH_MM), np.floor(high / _PITCH_MM) + 1.0) * _PITCH_MM
    wanted = sorted({float(y) + 0.0 for y in (*whole, *stations) if low <= y <= high})
    rows, left_out = [], []
    for y in wanted:
        try:
            sections = one.section(y), two.section(y)
        except ContourError:
            left_out.append(y)
            continue
        distance = contour_distance(
            sections[0].points - np.array([origins.a, 0.0]),
            sections[1].points - np.array([origins.b, 0.0]),
            20.0,
        )
        outlines = [
            tuple(
                None if x is None else float(x) - origin
                for x in np.ma.asarray(section.setback_at(HEIGHTS_MM)).tolist()
            )
            for section, origin in zip(sections, (origins.a, origins.b), strict=True)
        ]
        rows.append(
            LoftRow(
                y,
                outlines[0],
                outlines[1],
                distance.outward.value if distance.outward else 0.0,
                -distance.inward.value if distance.inward else 0.0,
            )
        )
    reason = ""
    if left_out:
        reason = "left out, since a lofted contour would cross itself: y = " + ", ".join(
            f"{y:g}" for y in left_out
        )
    return LoftOverlay(HEIGHTS_MM, tuple(rows), reason)

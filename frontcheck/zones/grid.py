"""An even grid of candidate test points on the headform areas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from frontcheck.zones.bonnet_results import GridPoint

if TYPE_CHECKING:
    from frontcheck.surface.interpolate import Loft
    from frontcheck.zones.lines_across import Traced

__all__ = ["candidate_points", "grid_rows"]

_ON_EDGE = 1e-9


def grid_rows(low: float, high: float, spacing: float) -> list[float]:
    """Return the stations of the grid: whole multiples of the spacing from the centre plane."""
    first, last = int(np.ceil(low / spacing)), int(np.floor(high / spacing))
    return [spacing * i for i in range(first, last + 1)]


def candidate_points(
    traced: Traced, loft: Loft, spacing: float, shapes: dict[Literal["child", "adult"], Any]
) -> tuple[GridPoint, ...]:
    """Return the points of an even grid that lie in the headform areas."""
    # The grid is even on the surface: whole multiples of the spacing across, and along the taut
    # tape as wrap-around distance.
    import shapely  # here and not above: the command line must start fast

    net, marks = traced.net, traced.lines.WAD
    rows = np.flatnonzero(np.isin(net.y, grid_rows(*loft.y_range, spacing)))
    found: list[
        tuple[Literal["child", "adult"], int, float, tuple[float, float, float], float]
    ] = []
    for column, distance in enumerate(traced.lines.distances):
        if distance % spacing != 0.0:
            continue
        u = traced.mark_u(distance)
        here = rows[~np.isnan(u[rows])]
        if len(here) == 0:
            continue
        places = shapely.points(net.y[here], u[here])
        taken = np.zeros(len(here), dtype=bool)
        chosen: list[tuple[int, Literal["child", "adult"]]] = []
        for name, shape in shapes.items():
            inside = shapely.dwithin(shape, places, _ON_EDGE) & ~taken
            taken |= inside
            chosen.extend((int(i), name) for i in np.flatnonzero(inside))
        for i, name in sorted(chosen):
            row = here[i]
            point = (float(marks.x[row, column]), float(net.y[row]), float(marks.z[row, column]))
            found.append((name, int(row), float(u[row]), point, distance))
    if not found:
        return ()
    # All normals in one call: one by one they take longer than all the rest.
    normals = loft.normals(net.y[[row for _, row, *_ in found]], [u for _, _, u, *_ in found])
    return tuple(
        GridPoint(name, point, distance, (float(n[0]), float(n[1]), float(n[2])))
        for (name, _, _, point, distance), n in zip(found, normals, strict=True)
    )

"""An even grid of candidate test points on the headform areas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.lines.front_line import xyz
from frontcheck.zones.front_zones import GridPoint

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.zones.front_zones import AreaName
    from frontcheck.zones.headform import AreaShape
    from frontcheck.zones.lines_across import Across

_ON_EDGE = 1e-9
_NORMAL_SPAN_MM: Final = 5.0
"""A normal is square to the chord this far either way: own choice, about the facet of a hand
measurement, so that no single point decides."""


def grid_rows(low: float, high: float, spacing: float) -> list[float]:
    """Return the stations of the grid: whole multiples of the spacing from the centre plane."""
    first, last = int(np.ceil(low / spacing)), int(np.floor(high / spacing))
    return [spacing * i for i in range(first, last + 1)]


def candidate_points(
    across: Across, spacing: float, shapes: dict[AreaName, AreaShape]
) -> tuple[GridPoint, ...]:
    """Return the points of an even grid that lie in the headform areas."""
    # The grid is even on the surface: whole multiples of the spacing across, and along the taut
    # tape as wrap-around distance.
    found: list[tuple[AreaName, int, int]] = []
    marks = across.lines.WAD
    wanted = set(grid_rows(float(across.y[0]), float(across.y[-1]), spacing))
    for column, distance in enumerate(across.lines.distances):
        if distance % spacing != 0.0:
            continue
        arcs = across.mark_arc(distance)
        for row, y in enumerate(across.y.tolist()):
            if y not in wanted or np.isnan(arcs[row]):
                continue
            x = float(marks.x[row, column])
            for name, shape in shapes.items():
                at = np.flatnonzero(shape.rows == row)
                if len(at) and _holds(shape, int(at[0]), float(arcs[row]), x, y):
                    found.append((name, row, column))
                    break
    if not found:
        return ()
    names, rows, columns = zip(*found, strict=True)
    row_of, column_of = np.array(rows), np.array(columns)
    places, normals = _marks(across, row_of, column_of), _normals(across, row_of, column_of)
    return tuple(
        GridPoint(name, xyz(place), across.lines.distances[column], xyz(normal))
        for name, place, column, normal in zip(names, places, columns, normals, strict=True)
    )


def _marks(across: Across, rows: Index, columns: Index) -> Array:
    """Places (k, 3) of marks, by contour and distance."""
    marks = across.lines.WAD
    return np.stack([marks.x[rows, columns], across.y[rows], marks.z[rows, columns]], axis=1)


def _holds(shape: AreaShape, i: int, arc: float, x: float, y: float) -> bool:
    between = shape.front[i] - _ON_EDGE <= arc <= shape.rear[i] + _ON_EDGE
    deep = shape.rear[i] > shape.front[i]
    return bool(between and deep and shape.inside(np.array(x), np.array(y)) >= -_ON_EDGE)


def _normals(across: Across, row: Index, column: Index) -> Array:
    """Outward unit normals (k, 3) at marks, from the contour and the marks beside each."""
    end = across.arcs[row, across.counts[row] - 1]
    arc = across.mark_arcs[row, column]
    span = np.clip(np.stack([arc - _NORMAL_SPAN_MM, arc + _NORMAL_SPAN_MM], 1), 0.0, end[:, None])
    below, above = across.at(row, span).swapaxes(0, 1)
    left, right = np.maximum(row - 1, 0), np.minimum(row + 1, len(across) - 1)
    over = _marks(across, right, column) - _marks(across, left, column)
    reached = across.lines.WAD.reached
    over[~(reached[left, column] & reached[right, column])] = (0.0, 1.0, 0.0)
    along = np.stack([above[:, 0] - below[:, 0], np.zeros(len(row)), above[:, 1] - below[:, 1]], 1)
    normal = np.cross(along, over)
    length = np.linalg.norm(normal, axis=1)[:, None]
    return normal / np.where(length == 0.0, 1.0, length)

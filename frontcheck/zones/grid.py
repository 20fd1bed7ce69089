"""An even grid of candidate test points on the headform areas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.zones.front_zones import GridPoint

if TYPE_CHECKING:
    from frontcheck.zones.headform import AreaShape
    from frontcheck.zones.lines_across import Across

_ON_EDGE = 1e-9
_NORMAL_SPAN_MM: Final = 5.0


def grid_rows(low: float, high: float, spacing: float) -> list[float]:
    """Return the stations of the grid: whole multiples of the spacing from the centre plane."""
    first, last = int(np.ceil(low / spacing)), int(np.floor(high / spacing))
    return [spacing * i for i in range(first, last + 1)]


def candidate_points(
    across: Across, spacing: float, shapes: dict[Literal["child", "adult"], AreaShape]
) -> tuple[GridPoint, ...]:
    """Return the points of an even grid that lie in the headform areas."""
    # The grid is even on the surface: whole multiples of the spacing across, and along the taut
    # tape as wrap-around distance.
    found: list[GridPoint] = []
    marks = across.lines.WAD
    wanted = set(grid_rows(float(across.y[0]), float(across.y[-1]), spacing))
    for column, distance in enumerate(across.lines.distances):
        if distance % spacing != 0.0:
            continue
        arcs = across.mark_arc(distance)
        for row, y in enumerate(across.y.tolist()):
            if y not in wanted or np.isnan(arcs[row]):
                continue
            x, z = float(marks.x[row, column]), float(marks.z[row, column])
            for name, shape in shapes.items():
                at = np.flatnonzero(shape.rows == row)
                if len(at) and _holds(shape, int(at[0]), float(arcs[row]), x, y):
                    normal = _normal(across, row, column)
                    found.append(GridPoint(name, (x, y, z), distance, normal))
                    break
    return tuple(found)


def _holds(shape: AreaShape, i: int, arc: float, x: float, y: float) -> bool:
    between = shape.front[i] - _ON_EDGE <= arc <= shape.rear[i] + _ON_EDGE
    deep = shape.rear[i] > shape.front[i]
    return bool(between and deep and shape.inside(np.array(x), np.array(y)) >= -_ON_EDGE)


def _normal(across: Across, row: int, column: int) -> tuple[float, float, float]:
    """Outward unit normal at a mark, from the contour and the marks beside it."""
    marks = across.lines.WAD
    end = float(across.arcs[row, across.counts[row] - 1])
    arc = float(across.mark_arc(across.lines.distances[column])[row])
    span = np.clip([arc - _NORMAL_SPAN_MM, arc + _NORMAL_SPAN_MM], 0.0, end)
    below, above = across.at(row, span)
    sides = [
        i for i in (max(row - 1, 0), min(row + 1, len(across) - 1)) if marks.reached[i, column]
    ]
    ends = [np.array([marks.x[i, column], across.y[i], marks.z[i, column]]) for i in sides]
    along = np.array([above[0] - below[0], 0.0, above[1] - below[1]])
    over = ends[-1] - ends[0] if len(ends) == 2 else np.array([0.0, 1.0, 0.0])
    normal = np.cross(along, over)
    length = float(np.linalg.norm(normal))
    nx, ny, nz = (normal / (length or 1.0)).tolist()
    return nx, ny, nz

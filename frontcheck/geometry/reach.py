"""Whether a part of a section can matter: what the straight edges of the rules would meet first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array


def _edge(lean_deg: float, low: float, length: float) -> tuple[float, float, float]:
    lean = math.radians(lean_deg)
    return math.tan(lean), low, low + length * math.cos(lean)


_EDGES: Final = (
    _edge(20.0, 0.0, 700.0),  # UBRL
    _edge(-25.0, 0.0, 700.0),  # LBRL
    _edge(50.0, 600.0, 1000.0),  # BLERL, and taken again
    _edge(40.0, 600.0, 1000.0),
    _edge(0.0, 0.0, 1000.0),  # the foremost point, below which the tape hangs
)
"""Slope, lowest and highest point of the edges; UN R127 02 series, 2.38, 2.26, 2.7, 2.43."""


def travels(lines: Sequence[Array]) -> Array:
    """How far each straight edge travels until it meets one of some lines, (e,)."""
    out = []
    for slope, low, high in _EDGES:
        inside = (_within(line, low, high) for line in lines)
        out.append(
            min(
                (float((p[:, 0] - slope * p[:, 1]).min(initial=math.inf)) for p in inside),
                default=math.inf,
            )
        )
    return np.array(out)


def met_first(part: Sequence[Array], body: Sequence[Array]) -> bool:
    """Whether some straight edge meets a part before it meets the body, both polylines."""
    return bool((travels(part) < travels(body)).any())


def _within(line: Array, low: float, high: float) -> Array:
    """Points of a line between two heights, and where it passes them."""
    z = line[:, 1]
    out = [line[(z >= low) & (z <= high)]]
    for level in (low, high):
        i = np.flatnonzero((z[1:] < level) != (z[:-1] < level))
        a, b = line[i], line[i + 1]
        x = a[:, 0] + (level - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
        out.append(np.column_stack([x, np.full(len(i), level)]))
    return np.concatenate(out)

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
    """How far each straight edge travels until it meets each of some lines, (lines, edges)."""
    out = np.full((len(lines), len(_EDGES)), math.inf)
    x, z = np.concatenate([np.empty((0, 2)), *lines]).T
    line = np.repeat(np.arange(len(lines)), [len(each) for each in lines])
    joined = line[1:] == line[:-1]
    for e, (slope, low, high) in enumerate(_EDGES):
        inside = (z >= low) & (z <= high)
        np.minimum.at(out[:, e], line[inside], x[inside] - slope * z[inside])
        for level in (low, high):
            i = np.flatnonzero(((z[1:] < level) != (z[:-1] < level)) & joined)
            at = x[i] + (level - z[i]) / (z[i + 1] - z[i]) * (x[i + 1] - x[i])
            np.minimum.at(out[:, e], line[i], at - slope * level)
    return out


def met_first(part: Array, body: Array) -> bool:
    """Whether some edge meets a line of a part before one of the body, both as travelled to."""
    return bool((part.min(axis=0, initial=math.inf) < body.min(axis=0, initial=math.inf)).any())

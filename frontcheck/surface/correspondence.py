"""Which place of one section goes with which place of its neighbour.

Along every section a coordinate u runs from 0 at its first point to 1 at its last; places
of the same u at neighbouring stations belong together. Between landmarks that both
sections have, equal shares of arc length go together:

- sections with part labels: the first and the last point of every part that both have;
- otherwise: the foremost point and the two ends of the face (what lines leant 25 deg forward
  and 45 deg rearward touch first). A landmark that moves along the contour by far more than
  the stations are apart is another feature and is left out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.surface.section import Section

__all__ = ["match_sections"]

_CHIN_LEAN_DEG: Final = 25.0
_TOP_LEAN_DEG: Final = 45.0
_STRAY_MM: Final = 25.0
_STRAY_RATE: Final = 2.0
"""A landmark of shape may move by 25 mm plus twice the station distance, measured from the
foremost point; more than that is no longer the same feature. Frontcheck reading."""
_SAME: Final = 1e-9


def match_sections(sections: Sequence[Section]) -> tuple[NDArray[np.float64], ...]:
    """Give every contour point of every section its coordinate u."""
    centre = int(np.argmin([abs(section.y) for section in sections]))
    whole = np.array([0.0, 1.0])
    knots = {centre: (whole * sections[centre].length, whole)}
    for order in (range(centre, len(sections) - 1), range(centre, 0, -1)):
        for i in order:
            j = i + (1 if order.step > 0 else -1)
            knots[j] = _carry(knots[i], *_pairs(sections[i], sections[j]))
    out = []
    for i, section in enumerate(sections):
        u = np.interp(section.arc_lengths, *knots[i])
        u[0], u[-1] = 0.0, 1.0
        out.append(u)
    return tuple(out)


def _carry(
    knots: tuple[NDArray[np.float64], NDArray[np.float64]],
    here: NDArray[np.float64],
    there: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Carry the map from arc length to u over to the neighbour."""
    s, u = knots
    every = np.union1d(s, here)
    every = every[np.concatenate([[True], np.diff(every) > _SAME * every[-1]])]
    every[-1] = s[-1]
    return np.interp(every, here, there), np.interp(every, s, u)


def _pairs(a: Section, b: Section) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Arc lengths of the landmarks that two sections share, both ends among them."""
    if a.parts is not None and b.parts is not None:
        marks_a, marks_b = _part_marks(a), _part_marks(b)
    else:
        marks_a, marks_b = _shape_marks(a), _shape_marks(b)
        allowed = _STRAY_MM + _STRAY_RATE * abs(a.y - b.y)
        from_a = a.arc_lengths - a.arc_lengths[marks_a["foremost"]]
        from_b = b.arc_lengths - b.arc_lengths[marks_b["foremost"]]
        strays = [
            name
            for name in marks_a
            if abs(from_a[marks_a[name]] - from_b[marks_b[name]]) > allowed
            or math.dist(a.points[marks_a[name]], b.points[marks_b[name]]) > allowed
        ]
        marks_a = {name: i for name, i in marks_a.items() if name not in strays}
    shared = sorted((i, marks_b[name]) for name, i in marks_a.items() if name in marks_b)
    inner = [(i, j) for i, j in _in_order(shared) if 0 < i < len(a) - 1 and 0 < j < len(b) - 1]
    at_a = [0, *(i for i, _ in inner), len(a) - 1]
    at_b = [0, *(j for _, j in inner), len(b) - 1]
    return a.arc_lengths[at_a], b.arc_lengths[at_b]


def _in_order(pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Longest choice of pairs that increases strictly in both."""
    best: list[list[tuple[int, int]]] = []
    for i, j in pairs:
        before = [chain for chain in best if chain[-1][0] < i and chain[-1][1] < j]
        best.append([*max(before, key=len, default=[]), (i, j)])
    return max(best, key=len, default=[])


def _part_marks(section: Section) -> dict[str, int]:
    marks = {}
    for part in PARTS:
        at = np.flatnonzero(section.part_mask(part))
        if len(at):
            marks[f"first {part}"], marks[f"last {part}"] = int(at[0]), int(at[-1])
    return marks


def _shape_marks(section: Section) -> dict[str, int]:
    x, z = section.x, section.z
    top = int(np.argmin(x - z * math.tan(math.radians(_TOP_LEAN_DEG))))
    bottom = int(np.argmin((x + z * math.tan(math.radians(_CHIN_LEAN_DEG)))[: top + 1]))
    foremost = bottom + int(np.argmin(x[bottom : top + 1]))
    return {"face bottom": bottom, "foremost": foremost, "face top": top}

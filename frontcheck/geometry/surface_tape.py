"""A short length of taut tape laid on a contour from a point of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.geometry.polyline import gaps
from frontcheck.geometry.tape import TautTape

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SAME_MM = 1e-9


@dataclass(frozen=True)
class ContourPlace:
    """A place on a contour."""

    position: float  # Contour index: stretch plus position within it
    x: float  # The point [mm]
    z: float  # The point [mm]


def tape_onward(
    points: NDArray[np.float64], position: float, length: float, *, back: bool = False
) -> ContourPlace | None:
    """Lay a taut tape on a contour from a place of it, and return where it ends."""
    # The tape is the shortest path outside the body, so it bridges hollows; the place returned is
    # the first along the contour at that distance.
    last = len(points) - 1
    if back:
        # Seen in a mirror the contour runs the other way with the air still on its left.
        mirrored = points[::-1] * np.array([-1.0, 1.0])
        place = tape_onward(mirrored, last - position, length)
        return None if place is None else ContourPlace(last - place.position, -place.x, place.z)
    stretch = min(int(position), last - 1)
    here = points[stretch] + (position - stretch) * (points[stretch + 1] - points[stretch])
    low, high = _window(points, here, stretch, length)
    before, after = points[low : stretch + 1], points[stretch + 1 : high + 2]
    before = before[np.hypot(*(before - here).T) > _SAME_MM]
    dropped = int(np.hypot(*(after[0] - here)) <= _SAME_MM)
    after = after[dropped:]
    if len(after) == 0:
        return None
    path = np.concatenate([before, here[None], after])
    start = len(before)
    found = TautTape(path - [0.0, here[1]], float(here[0]), start).solve(length)
    if not found:
        return None
    end = found[0]
    x, z = end.x, end.z + float(here[1])
    if end.stretch > start:
        return ContourPlace(stretch + dropped + end.stretch - start + end.t, x, z)
    # On the rest of the first stretch.
    if dropped:
        return ContourPlace(stretch + 1 + end.t, x, z)
    return ContourPlace(position + end.t * (stretch + 1 - position), x, z)


def _window(
    points: NDArray[np.float64], here: NDArray[np.float64], stretch: int, length: float
) -> tuple[int, int]:
    """First and last stretch that comes within reach of the tape; the others cannot matter."""
    near = np.flatnonzero(gaps(points, here)[1] <= length * 1.001)
    low, high = (int(near[0]), int(near[-1])) if len(near) else (stretch, stretch)
    return min(low, stretch), max(high, stretch)

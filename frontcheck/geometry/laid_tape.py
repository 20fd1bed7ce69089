"""A taut tape laid on a contour from one of its places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import gaps
from frontcheck.geometry.tape import TautTape

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_TOUCH_MM: Final = 1e-9
_STRAIGHT: Final = 1e-9
"""Turns by less are rounding: points in a row lie in no hollow [rad]."""


@dataclass(frozen=True)
class TapeEnd:
    """Where a tape laid on a contour ends."""

    position: float  # Contour index: stretch plus position within it
    x: float  # The point [mm]
    z: float  # The point [mm]


def tape_onward(
    points: Array, position: float, length: float, *, back: bool = False
) -> TapeEnd | None:
    """Lay a taut tape on a contour from a place of it, and return where it ends."""
    # The tape is the shortest path outside the body, so it bridges hollows; the place returned is
    # the first along the contour at that distance.
    last = len(points) - 1
    if back:
        # Seen in a mirror the contour runs the other way with the air still on its left.
        mirrored = points[::-1] * np.array([-1.0, 1.0])
        place = tape_onward(mirrored, last - position, length)
        return None if place is None else TapeEnd(last - place.position, -place.x, place.z)
    stretch = min(int(position), last - 1)
    along = _on_convex(points, position, length)
    if along is not None:
        return along
    here = points[stretch] + (position - stretch) * (points[stretch + 1] - points[stretch])
    low, high = _window(points, here, stretch, length)
    before, after = points[low : stretch + 1], points[stretch + 1 : high + 2]
    before = before[np.hypot(*(before - here).T) > _TOUCH_MM]
    dropped = int(np.hypot(*(after[0] - here)) <= _TOUCH_MM)
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
        return TapeEnd(stretch + dropped + end.stretch - start + end.t, x, z)
    # On the rest of the first stretch.
    if dropped:
        return TapeEnd(stretch + 1 + end.t, x, z)
    return TapeEnd(position + end.t * (stretch + 1 - position), x, z)


def _on_convex(points: Array, position: float, length: float) -> TapeEnd | None:
    """Where a tape ends that lies on the contour all the way, for that is convex there."""
    first = min(int(position), len(points) - 2)
    row = points[first : first + 2]
    here = row[0] + (position - first) * (row[1] - row[0])
    reach = np.hypot(*(points[first + 1 :] - here).T)
    beyond = np.flatnonzero(reach > length)
    if len(beyond) == 0:
        return None
    row = np.concatenate([here[None], points[first + 1 : first + 2 + int(beyond[0])]])
    step = np.diff(row, axis=0)
    steps = np.hypot(*step.T)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    hollow = cross > _STRAIGHT * steps[:-1] * steps[1:]
    if hollow.any() or steps[0] <= _TOUCH_MM:
        return None
    arcs = np.concatenate([[0.0], np.cumsum(steps)])
    k = int(np.searchsorted(arcs, length, side="left")) - 1
    t = (length - arcs[k]) / (arcs[k + 1] - arcs[k])
    x, z = (row[k] + t * step[k]).tolist()
    at = position + t * (first + 1 - position) if k == 0 else first + k + t
    return TapeEnd(float(at), x, z)


def _window(points: Array, here: Array, stretch: int, length: float) -> tuple[int, int]:
    """First and last stretch that comes within reach of the tape; the others cannot matter."""
    near = np.flatnonzero(gaps(points, here)[1] <= length * 1.001)
    low, high = (int(near[0]), int(near[-1])) if len(near) else (stretch, stretch)
    return min(low, stretch), max(high, stretch)

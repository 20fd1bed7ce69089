"""The taut tape over many contours at once.

The walk of `frontcheck.geometry.tape` with a leading batch axis. It leaves out the search
for contour points that reach into a swept triangle, which is right for a contour that
rises and then runs rearward:

1. nothing stands forward of the anchor, and nothing before the start point stands
   forward of the start point;
2. from the start point on the heights first never fall, and from some point on the
   setbacks never fall; where the one changes to the other the contour does not turn left.

Then the contour beyond a point P lies above P or behind and outside the tape to P, and the
contour below the start lies behind the tape. Contours that are not of this kind are given
to `TautTape` one by one; results are the same either way.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.tape import ON_SURFACE_MM, TautTape, arrival_lift, rises_then_runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask

_AGAIN_MM: Final = 1e-6


@dataclass(frozen=True)
class TapeMarks:
    """First points at given tape distances, for B contours and m distances."""

    # Where `reached` is False the other arrays hold nothing meaningful.

    reached: Mask  # (B, m) bool
    x: Array  # (B, m) point [mm]
    z: Array  # (B, m) point [mm]
    stretch: Index  # (B, m) int, contour stretch that holds it
    bridged: Mask  # (B, m) bool, whether the tape arrives through air across a recess
    again: Mask

    def first(self, m: int) -> TapeMarks:
        """Return the marks of the first distances only."""
        return TapeMarks(
            self.reached[:, :m],
            self.x[:, :m],
            self.z[:, :m],
            self.stretch[:, :m],
            self.bridged[:, :m],
            self.again[:, :m],
        )


def tape_marks(
    points: Array, anchor_x: Array, start: Index, distances: Sequence[float]
) -> TapeMarks:
    """Find the first contour point at each tape distance, for many contours."""
    batch, m = len(points), len(distances)
    shape = (batch, m)
    reached = np.zeros(shape, dtype=bool)
    x, z = np.zeros(shape), np.zeros(shape)
    stretch = np.zeros(shape, dtype=np.intp)
    bridged, again = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    if m == 0 or batch == 0:
        return TapeMarks(reached, x, z, stretch, bridged, again)
    # A start point beyond the shortest distance needs a look below it, which the walk lacks.
    chosen = np.flatnonzero(rises_then_runs(points, anchor_x, start))
    if len(chosen):
        walk = _Walk(points[chosen], anchor_x[chosen], start[chosen])
        keep = walk.far_t[walk.start, walk.row] <= min(distances)
        chosen = chosen[keep]
        marks = walk.marks(np.array(distances, dtype=np.float64))
        for target, values in zip((reached, x, z, stretch, bridged, again), marks, strict=True):
            target[chosen] = values[keep]
    for i in np.setdiff1d(np.arange(batch), chosen):
        last = _unpadded(points[i])
        tape = TautTape(points[i, :last], float(anchor_x[i]), min(int(start[i]), last - 1))
        for j, distance in enumerate(distances):
            found = tape.solve(float(distance))
            if found:
                reached[i, j] = True
                x[i, j], z[i, j] = found[0].x, found[0].z
                stretch[i, j], bridged[i, j] = found[0].stretch, found[0].bridged
                again[i, j] = len(found) > 1
    return TapeMarks(reached, x, z, stretch, bridged, again)


def _unpadded(points: Array) -> int:
    """Number of points without the repeated last one."""
    moved = (np.diff(points, axis=0) != 0.0).any(axis=1)
    return int(np.flatnonzero(moved)[-1]) + 2


class _Walk:
    """Bearing points and distances of every contour point; index n stands for the anchor."""

    def __init__(self, points: Array, anchor_x: Array, start: Index) -> None:
        batch, n = points.shape[:2]
        self.n = n
        self.start = start
        self.row = np.arange(batch)
        # One row per point, one column per contour: each step reads whole rows.
        self.x = np.concatenate([points[..., 0].T, anchor_x[None]])
        self.z = np.concatenate([points[..., 1].T, np.zeros((1, batch))])
        self.bears_on = np.full((n + 1, batch), n, dtype=np.intp)
        self.far_t = np.full((n + 1, batch), -np.inf)
        self.far_t[n] = 0.0
        self._follow()

    def _follow(self) -> None:
        x, z, bears_on, far, row, n = (
            self.x, self.z, self.bears_on, self.far_t, self.row, self.n,
        )  # fmt: skip
        lowest = int(self.start.min())
        for k in range(lowest, n):
            w = np.where(k > self.start, k - 1, n)
            kx, kz = x[k], z[k]
            active = np.flatnonzero(w != n)
            while len(active):
                wa = w[active]
                a = bears_on[wa, active]
                wx, wz = x[wa, active], z[wa, active]
                turn = (wx - x[a, active]) * (kz[active] - wz)
                turn -= (wz - z[a, active]) * (kx[active] - wx)
                lets_go = turn >= 0.0
                active, a = active[lets_go], a[lets_go]
                w[active] = a
                active = active[a != n]
            bears_on[k] = w
            d = far[w, row] + np.hypot(kx - x[w, row], kz - z[w, row])
            far[k] = np.where(k >= self.start, d, -np.inf)

    @cached_property
    def _nearest_later(self) -> Array:
        """How near to the anchor any later stretch comes at least, (n - 1, B) [mm]."""
        n, far = self.n, self.far_t[: self.n]
        lengths = np.hypot(np.diff(self.x[:n], axis=0), np.diff(self.z[:n], axis=0))
        nearest = (far[:-1] + far[1:] - lengths) / 2.0
        later = np.full_like(nearest, np.inf)
        later[:-1] = np.minimum.accumulate(nearest[:0:-1])[::-1]
        return later

    def marks(self, distances: Array) -> tuple[NDArray[np.generic], ...]:
        """First points at distances (m,): reached, x, z, stretch, bridged, again, (B, m) each."""
        n, batch, m = self.n, len(self.row), len(distances)
        # A distance is first reached where the farthest point so far first is as far.
        farthest = np.maximum.accumulate(self.far_t[:n], axis=0).T
        first = np.stack([np.searchsorted(own, distances) for own in farthest]).ravel()
        row, distance = np.repeat(self.row, m), np.tile(distances, batch)
        at_start = self.far_t[self.start[row], row] == distance
        reached = (first < n) | at_start
        k = np.clip(np.where(at_start, self.start[row], first - 1), 0, n - 2)
        found = self._at(k, row, distance, reached, at_start)
        return tuple(values.reshape(batch, m) for values in (reached, *found))

    def _at(
        self, k: Index, row: Index, distance: Array, reached: Mask, at_start: Mask
    ) -> tuple[NDArray[np.generic], ...]:
        """Points at distances on stretches k of contours: x, z, stretch, bridged, again."""
        n, x, z = self.n, self.x, self.z
        # Bearing point of the mark: let go of bends until the next window is too far.
        w = k.copy()
        last = self.bears_on[k + 1, row]
        ax, az = x[k, row], z[k, row]
        sx, sz = x[k + 1, row] - ax, z[k + 1, row] - az
        active = np.flatnonzero(reached & (w != last))
        while len(active):
            wa, own = w[active], row[active]
            a = self.bears_on[wa, own]
            px, pz = x[wa, own], z[wa, own]
            dx, dz = px - x[a, own], pz - z[a, own]
            cross = sx[active] * dz - sz[active] * dx
            t = ((px - ax[active]) * dz - (pz - az[active]) * dx) / np.where(
                cross == 0.0, 1.0, cross
            )
            t = np.clip(np.where(cross == 0.0, 0.0, t), 0.0, 1.0)
            bx, bz = ax[active] + t * sx[active], az[active] + t * sz[active]
            there = self.far_t[wa, own] + np.hypot(bx - px, bz - pz)
            go_on = there < distance[active]
            active, a = active[go_on], a[go_on]
            w[active] = a
            active = active[a != last[active]]
        ux, uz = ax - x[w, row], az - z[w, row]
        rest = distance - self.far_t[w, row]
        square = sx * sx + sz * sz
        half = ux * sx + uz * sz
        inner = half * half - square * (ux * ux + uz * uz - rest * rest)
        root = np.sqrt(np.where(reached, np.maximum(inner, 0.0), 0.0))
        t = np.clip((root - half) / np.where(square == 0.0, 1.0, square), 0.0, 1.0)
        t = np.where(at_start, 0.0, t)
        lift = arrival_lift(sx, sz, ux + t * sx, uz + t * sz, t)
        bridged = (w != k) & (w != k + 1) & (w != n) & (lift > ON_SURFACE_MM)
        again = reached & (self._nearest_later[k, row] < distance + _AGAIN_MM)
        return ax + t * sx, az + t * sz, k, bridged, again

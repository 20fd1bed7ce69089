"""A flexible tape held taut from the ground over a contour: the shortest path outside the body.

Glossary
--------
anchor
    The point on the ground, (anchor x, 0), where the tape starts.
path
    The bends of the tape from the anchor to a contour point. Where two bends are not
    neighbours on the contour, the tape spans air: it bridges a recess.
bearing point
    The last bend before a contour point; the tape runs straight from there.
turn
    Positive when a path turns left, toward the air; negative when it turns right,
    round the body.

How it works
------------
The tape to a contour point P is followed while P walks along the contour, starting at the
contour point nearest to the anchor, which the tape reaches straight. When P moves on along
a stretch, the last bend is let go as soon as the tape no longer bears on it, and the
triangle so swept is searched for contour points that reach into it: the tape catches on
their hull. Every path made so is taut and crosses nothing, and outside a simple contour
there is only one taut path, the shortest.

For contours that rise and then run rearward nothing can reach into those triangles;
`frontcheck.geometry.tape_batch` follows many such contours at once without the search.

Distances are convex along each stretch (a property of shortest paths in a region without
holes), so a distance is reached at most twice on one stretch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import nearest, taut_string

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index, Mask

ANCHOR: Final = -1
"""Stands for the anchor among contour indices in a path."""

ON_SURFACE_MM: Final = 1e-6
"""A tape that leaves a stretch by no more than this lies on it [mm]."""

_FOLD: Final = 1e-9
"""A tape that turns back on itself within this angle [rad] is folded flat."""
_TOUCH_MM: Final = 1e-9
"""A point this close to the tape touches it [mm]: rounding of coordinates of some metres."""


@dataclass(frozen=True)
class TapePoint:
    """A contour point at a given distance along the tape."""

    x: float  # The point [mm]
    z: float  # The point [mm]
    distance: float  # Length of the taut tape from the anchor to the point [mm]
    stretch: int  # Index of the contour stretch that holds it
    t: float  # Position within the stretch, 0 to 1
    path: tuple[int, ...]  # Bends of the tape from the anchor: contour indices, `ANCHOR` first
    bridged: bool


def rises_then_runs(points: Array, anchor_x: Array, start: Index) -> Mask:
    """Return which contours are of the plain kind: they rise, then run rearward."""
    batch, n = points.shape[:2]
    x = points[..., 0]
    row = np.arange(batch)
    before = np.arange(n) < start[:, None]
    start_x = x[row, start]
    clear = (x >= anchor_x[:, None]).all(axis=1)
    clear &= (~before | (x >= start_x[:, None])).all(axis=1)
    step = np.diff(points, axis=1)
    after = np.arange(n - 1) >= start[:, None]
    rises = ~after | (step[..., 1] >= 0.0)
    # First stretch that falls; n - 1 when none does.
    change = np.where(rises.all(axis=1), n - 1, rises.argmin(axis=1))
    later = np.arange(n - 1) >= change[:, None]
    clear &= (~later | (step[..., 0] >= 0.0)).all(axis=1)
    inner = np.clip(change, 1, n - 2)
    into = np.where((change > start)[:, None], step[row, inner - 1], [0.0, 1.0])
    out = step[row, inner]
    left = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0] > 0.0
    turns_left: Mask = left & (change < n - 1)
    return np.asarray(clear & ~turns_left)


class TautTape:
    """The taut tape over one contour, exact for any contour that does not cross itself."""

    def __init__(self, points: ArrayLike, anchor_x: float, start: int) -> None:
        self.points = np.asarray(points, dtype=np.float64)
        self.anchor_x = float(anchor_x)
        self.start = int(start)
        # Over a plain contour nothing reaches into what the tape sweeps (`tape_batch`).
        where = np.array([self.anchor_x]), np.array([self.start])
        self._plain = bool(rises_then_runs(self.points[None], *where)[0])
        # Plain floats are several times faster than array scalars in the walk below. After
        # the contour come the point nearest to the anchor and the anchor (index -1).
        # The tape reaches the contour point nearest to the anchor straight.
        found = nearest(self.points, (self.anchor_x, 0.0))
        stretch, t = int(found.stretch), float(found.t)
        near = self.points[stretch] + t * (self.points[stretch + 1] - self.points[stretch])
        self._x: list[float] = [*self.points[:, 0].tolist(), float(near[0]), self.anchor_x]
        self._z: list[float] = [*self.points[:, 1].tolist(), float(near[1]), 0.0]
        n = len(self.points)
        self._near = stretch if t == 0.0 else stretch + 1 if t == 1.0 else n
        self._first_up = stretch + 1
        self._ways: list[tuple[int, ...]] = [()] * n
        self._walk(range(self._first_up, n), +1.0)

    def path_to(self, index: int) -> tuple[int, ...]:
        """Return the bends of the tape to a contour point, `ANCHOR` first, the point last."""
        return self._paths[index] if index < self._first_up else self._ways[index]

    @cached_property
    def _paths(self) -> list[tuple[int, ...]]:
        """The ways to all points: few ask for those below the nose."""
        self._walk(range(self._first_up - 1, -1, -1), -1.0)
        return self._ways

    @cached_property
    def distances(self) -> Array:
        """Length of the tape to every contour point, (n,) [mm]."""
        return self._lengths(self._paths)

    @cached_property
    def distances_up(self) -> Array:
        """The same from the start of the tape on, NaN before it."""
        if self.start < self._first_up:
            return np.where(np.arange(len(self.points)) < self.start, np.nan, self.distances)
        far = np.full(len(self.points), np.nan)
        far[self.start :] = self._lengths(self._ways[self.start :])
        return far

    def _lengths(self, paths: list[tuple[int, ...]]) -> Array:
        # One path goes on from another: its length is that up to its last bend, and the rest.
        known: dict[tuple[int, ...], float] = {}
        for path in paths:
            *_, bend, end = path
            before = known.get(path[:-1])
            if before is None:
                before = known[path[:-1]] = self._added(path[:-1])
            known[path] = before + self._span(bend, end)
        return np.array([known[path] for path in paths])

    def at(self, stretch: int, t: float) -> TapePoint:
        """Return the tape to a point within a contour stretch."""
        a, b = self.points[stretch], self.points[stretch + 1]
        p = a + t * (b - a)
        for path, t0, t1 in self._windows(stretch):
            if t0 <= t <= t1:
                return self._point(stretch, t, p, path)
        raise ValueError(f"t must lie within 0 and 1, not {t:g}")

    def solve(self, distance: float) -> tuple[TapePoint, ...]:
        """Return every contour point at a given tape distance, in order along the contour."""
        far = self.distances_up
        if far[self.start] > distance:
            for stretch in range(self.start - 1, -1, -1):
                below = self._solve_stretch(stretch, distance)
                if below:
                    return (below[-1],)
        found: list[TapePoint] = []
        for stretch in range(self.start, len(self.points) - 1):
            lower = (far[stretch] + far[stretch + 1] - self._stretch_length(stretch)) / 2.0
            if lower - 1e-6 <= distance <= max(far[stretch], far[stretch + 1]) + 1e-6:
                for point in self._solve_stretch(stretch, distance):
                    same = found and np.hypot(point.x - found[-1].x, point.z - found[-1].z) < 1e-9
                    if not same:
                        found.append(point)
        return tuple(found)

    def spans(self, path: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
        """Return the pairs of bends between which the tape spans air over a recess."""
        return tuple(
            (a, b)
            for a, b in zip(path, path[1:], strict=False)
            if a != ANCHOR and b != ANCHOR and abs(a - b) > 1 and not self._level(a, b)
        )

    def _level(self, a: int, b: int) -> bool:
        """Whether the contour runs straight between two bends, so that nothing is bridged."""
        low, high = min(a, b), max(a, b)
        off = self._inward(low, high, 1.0)[low : high + 1]
        return bool(np.abs(off).max() <= ON_SURFACE_MM)

    # --- the walk ------------------------------------------------------------------

    def _walk(self, order: range, side: float) -> None:
        """Follow the tape from its nearest point; `side` is +1 walking up, -1 down."""
        bends: list[int] = [ANCHOR, self._near]
        signs: list[float] = [0.0, 0.0]  # turn at each bend; 0 is decided by the next step
        for k in order:
            self._advance(bends, signs, k, side)
            self._ways[k] = (*bends, k)
            bends.append(k)
            signs.append(0.0)

    def _advance(self, bends: list[int], signs: list[float], k: int, side: float) -> None:
        """Let the tape end move on to contour point k."""
        x, z = self._x, self._z
        while len(bends) > 1:
            w = bends[-1]
            if w == k or (x[w] == x[k] and z[w] == z[k]) or self._folds(bends[-2], w, k):
                bends.pop()
                signs.pop()
                continue
            a = bends[-2]
            turn = (x[w] - x[a]) * (z[k] - z[w]) - (z[w] - z[a]) * (x[k] - x[w])
            # A bend just passed bears on the body when the path turns round it; a bend
            # borne before keeps bearing while the path turns to the same side.
            bears = turn * side < 0.0 if signs[-1] == 0.0 else turn * signs[-1] > 0.0
            if bears:
                signs[-1] = 1.0 if turn > 0.0 else -1.0
                return
            bends.pop()
            signs.pop()
            clear = turn == 0.0 or (self._plain and side > 0.0 and k > self.start)
            caught = [] if clear else self._caught(a, w, k)
            if caught:
                bends.extend(caught)
                signs.extend([1.0 if turn > 0.0 else -1.0] * len(caught))
                self._settle(bends, signs, k)
                return

    def _settle(self, bends: list[int], signs: list[float], k: int) -> None:
        """After catching on points, let go of every bend that no longer bears."""
        x, z = self._x, self._z
        i = 1
        while i < len(bends):
            a, w = bends[i - 1], bends[i]
            b = bends[i + 1] if i + 1 < len(bends) else k
            turn = (x[w] - x[a]) * (z[b] - z[w]) - (z[w] - z[a]) * (x[b] - x[w])
            if turn * signs[i] > 0.0 and not self._folds(a, w, b):
                i += 1
                continue
            caught = self._caught(a, w, b) if turn != 0.0 else []
            bends[i : i + 1] = caught
            signs[i : i + 1] = [1.0 if turn > 0.0 else -1.0] * len(caught)
            i = max(i - 1, 1)

    def _caught(self, a: int, w: int, b: int) -> list[int]:
        """Contour points inside triangle (a, w, b) that a tape let go of w catches on."""
        x, z = self._x, self._z
        ax, az, bx, bz = x[a], z[a], x[b], z[b]
        turn = 1.0 if (x[w] - ax) * (bz - z[w]) - (z[w] - az) * (bx - x[w]) > 0.0 else -1.0
        # How far points lie inward of each side of the triangle.
        first, second = self._inward(a, w, turn), self._inward(w, b, turn)
        inside = self._inward(b, a, turn) > _TOUCH_MM
        inside &= np.minimum(first, second) > -_TOUCH_MM
        for corner in (a, w, b):
            if 0 <= corner < len(self.points):
                inside[corner] = False
        for side in (first, second):
            # A point that just touches the tape as it lies may have its body on the other
            # side; it stops the tape only when the contour runs inward from it.
            touching = inside & (side <= _TOUCH_MM)
            if touching.any():
                inward = side > _TOUCH_MM
                before = np.concatenate([[False], inward[:-1]])
                after = np.concatenate([inward[1:], [False]])
                inside &= ~touching | before | after
        px, pz = self.points[:, 0], self.points[:, 1]
        found = np.flatnonzero(inside)
        if len(found) == 0:
            return []
        # Order along a -> b, then keep the hull on the side of w.
        along = (px[found] - ax) * (bx - ax) + (pz[found] - az) * (bz - az)
        row = [a, *found[np.argsort(along, kind="stable")].tolist(), b]
        bears = taut_string(np.array([(x[i], z[i]) for i in row]), turn)
        return [row[i] for i in bears[1:-1].tolist()]

    def _inward(self, i: int, j: int, turn: float) -> Array:
        """Distance of every contour point from the line i -> j, on the side of a turn [mm]."""
        dx, dz = self._x[j] - self._x[i], self._z[j] - self._z[i]
        off = dx * (self.points[:, 1] - self._z[i]) - dz * (self.points[:, 0] - self._x[i])
        return off * (turn / max(math.hypot(dx, dz), _TOUCH_MM))

    def _folds(self, a: int, w: int, k: int) -> bool:
        """Whether a tape a -> w -> k turns back the way it came."""
        # No body lies between then, and the side to which it turns is mere rounding.
        ux, uz = self._x[w] - self._x[a], self._z[w] - self._z[a]
        vx, vz = self._x[k] - self._x[w], self._z[k] - self._z[w]
        return abs(ux * vz - uz * vx) < -_FOLD * (ux * vx + uz * vz)

    # --- distances -----------------------------------------------------------------

    def _span(self, i: int, j: int) -> float:
        return math.hypot(self._x[i] - self._x[j], self._z[i] - self._z[j])

    def _stretch_length(self, stretch: int) -> float:
        return self._span(stretch, stretch + 1)

    def _path_length(self, path: tuple[int, ...]) -> float:
        # Nearly every way that is asked for is that to a point of the contour, and known.
        end = path[-1]
        if self.start <= end < len(self.points) and self.path_to(end) == path:
            return float(self.distances_up[end])
        return self._added(path)

    def _added(self, path: tuple[int, ...]) -> float:
        return float(sum(self._span(i, j) for i, j in zip(path, path[1:], strict=False)))

    def _windows(self, stretch: int) -> list[tuple[tuple[int, ...], float, float]]:
        """Parts of a stretch with one bearing point each: (path to it, from t, to t)."""
        lower, upper = self.path_to(stretch), self.path_to(stretch + 1)
        common = 0
        while common < min(len(lower), len(upper)) and lower[common] == upper[common]:
            common += 1
        # Bearing points met while the end walks along: back down the one path, up the other.
        bearing = [lower[:i] for i in range(len(lower), common, -1)]
        bearing.append(lower[:common])
        bearing.extend(upper[:i] for i in range(common + 1, len(upper)))
        a, b = self.points[stretch], self.points[stretch + 1]
        windows: list[tuple[tuple[int, ...], float, float]] = []
        t0 = 0.0
        for here, after in zip(bearing, bearing[1:], strict=False):
            t1 = min(max(self._meets(here[-1], after[-1], a, b), t0), 1.0)
            windows.append((here, t0, t1))
            t0 = t1
        windows.append((bearing[-1], t0, 1.0))
        return windows

    def _meets(self, i: int, j: int, a: Array, b: Array) -> float:
        """Parameter at which the line through bends i and j meets the stretch a-b."""
        px, pz = self._x[i], self._z[i]
        dx, dz = self._x[j] - px, self._z[j] - pz
        sx, sz = float(b[0] - a[0]), float(b[1] - a[1])
        cross = sx * dz - sz * dx
        if cross == 0.0:
            return 0.0
        return float(((px - a[0]) * dz - (pz - a[1]) * dx) / cross)

    def _point(self, stretch: int, t: float, p: Array, path: tuple[int, ...]) -> TapePoint:
        last = path[-1]
        distance = self._path_length(path) + float(
            np.hypot(p[0] - self._x[last], p[1] - self._z[last])
        )
        bridged = last not in (ANCHOR, stretch, stretch + 1)
        if bridged:
            # A bend on the straight continuation of the stretch: the tape lies on the surface.
            a, b = self.points[stretch], self.points[stretch + 1]
            lift = arrival_lift(
                b[0] - a[0], b[1] - a[1], p[0] - self._x[last], p[1] - self._z[last], t
            )
            bridged = bool(lift > ON_SURFACE_MM)
        return TapePoint(float(p[0]), float(p[1]), distance, stretch, t, path, bridged)

    def _solve_stretch(self, stretch: int, distance: float) -> list[TapePoint]:
        a, b = self.points[stretch], self.points[stretch + 1]
        found: list[TapePoint] = []
        for path, t0, t1 in self._windows(stretch):
            last = path[-1]
            rest = distance - self._path_length(path)
            if rest < 0.0:
                continue
            for t in _circle_roots(a, b, self._x[last], self._z[last], rest):
                if t0 - 1e-12 <= t <= t1 + 1e-12 and -1e-12 <= t <= 1.0 + 1e-12:
                    t_in = min(max(t, 0.0), 1.0)
                    if not found or abs(t_in - found[-1].t) > 1e-12:
                        found.append(self._point(stretch, t_in, a + t_in * (b - a), path))
        return sorted(found, key=lambda point: point.t)


def arrival_lift(
    step_x: ArrayLike, step_z: ArrayLike, tape_x: ArrayLike, tape_z: ArrayLike, t: ArrayLike
) -> Array:
    """Return how far a tape that ends on a stretch runs beside it."""
    cross = np.abs(np.multiply(step_x, tape_z) - np.multiply(step_z, tape_x))
    length = np.maximum(np.hypot(tape_x, tape_z), _TOUCH_MM)
    part = np.maximum(t, 1.0 - np.asarray(t))
    return np.asarray(cross / length * part)


def _circle_roots(a: Array, b: Array, cx: float, cz: float, radius: float) -> tuple[float, ...]:
    """Parameters at which the line a-b is at a given distance from a centre, ascending."""
    dx, dz = float(b[0] - a[0]), float(b[1] - a[1])
    ux, uz = float(a[0]) - cx, float(a[1]) - cz
    square = dx * dx + dz * dz
    half = ux * dx + uz * dz
    rest = half * half - square * (ux * ux + uz * uz - radius * radius)
    if rest < 0.0:
        return ()
    root = float(np.sqrt(rest))
    return ((-half - root) / square, (-half + root) / square)


# A short length of taut tape laid on a contour from a point of it.

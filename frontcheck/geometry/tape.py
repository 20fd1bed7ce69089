"""A flexible tape held taut from the ground over a contour: the shortest path outside the body.

Glossary
--------
anchor
    The point on the ground, (anchor x, 0), where the tape starts.
path
    The bends of the tape from the anchor to a contour point. Where two bends are not
    neighbours on the contour, the tape spans air: it bridges a recess.
way
    Number of a path: its last bend, and the way that it goes on from.
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
from frontcheck.geometry.swept import TOUCH_MM, SweptPoints

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index, Mask

ANCHOR: Final = -1
"""Stands for the anchor among contour indices in a path."""

ON_SURFACE_MM: Final = 1e-6
"""A tape that leaves a stretch by no more than this lies on it [mm]."""

_FOLD: Final = 1e-9
"""A tape that turns back on itself within this angle [rad] is folded flat."""


@dataclass(frozen=True)
class TapePoint:
    """A contour point at a given distance along the tape."""

    x: float  # The point [mm]
    z: float  # The point [mm]
    distance: float  # Length of the taut tape from the anchor to the point [mm]
    stretch: int  # Index of the contour stretch that holds it
    t: float  # Position within the stretch, 0 to 1
    way: int  # Of the tape up to its last bend: `TautTape.path_of`
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
        # One path goes on from another, so that all of them take no more room than the contour.
        self._bend, self._before, self._depth, self._far = [ANCHOR], [0], [0], [0.0]
        self._known: dict[tuple[int, int], int] = {}
        self._ways = [0] * n
        self._walk(range(self._first_up, n), +1.0)

    def path_to(self, index: int) -> tuple[int, ...]:
        """Return the bends of the tape to a contour point, `ANCHOR` first, the point last."""
        return self.path_of(self._way_to(index))

    def path_of(self, way: int) -> tuple[int, ...]:
        """Return the bends of a way, `ANCHOR` first."""
        path = []
        while way:
            path.append(self._bend[way])
            way = self._before[way]
        return (ANCHOR, *path[::-1])

    def _way_to(self, index: int) -> int:
        return self._all_ways[index] if index < self._first_up else self._ways[index]

    @cached_property
    def _all_ways(self) -> list[int]:
        """The ways to all points: few ask for those below the nose."""
        self._walk(range(self._first_up - 1, -1, -1), -1.0)
        return self._ways

    @cached_property
    def distances(self) -> Array:
        """Length of the tape to every contour point, (n,) [mm]."""
        return np.array([self._far[way] for way in self._all_ways])

    @cached_property
    def distances_up(self) -> Array:
        """The same from the start of the tape on, NaN before it."""
        if self.start < self._first_up:
            return np.where(np.arange(len(self.points)) < self.start, np.nan, self.distances)
        far = np.full(len(self.points), np.nan)
        far[self.start :] = [self._far[way] for way in self._ways[self.start :]]
        return far

    def _reaching(self, far: Array, distance: float) -> list[int]:
        """Stretches that may hold a point at a distance, by those of their ends."""
        lower = (far[:-1] + far[1:] - np.hypot(*np.diff(self.points[: len(far)], axis=0).T)) / 2.0
        upper = np.maximum(far[:-1], far[1:])
        return np.flatnonzero((lower - 1e-6 <= distance) & (distance <= upper + 1e-6)).tolist()

    def at(self, stretch: int, t: float) -> TapePoint:
        """Return the tape to a point within a contour stretch."""
        a, b = self.points[stretch], self.points[stretch + 1]
        p = a + t * (b - a)
        for way, t0, t1 in self._windows(stretch):
            if t0 <= t <= t1:
                return self._point(stretch, t, p, way)
        raise ValueError(f"t must lie within 0 and 1, not {t:g}")

    def solve(self, distance: float) -> tuple[TapePoint, ...]:
        """Return every contour point at a given tape distance, in order along the contour."""
        far = self.distances_up
        if far[self.start] > distance:
            for stretch in self._reaching(self.distances[: self.start + 1], distance)[::-1]:
                below = self._solve_stretch(stretch, distance)
                if below:
                    return (below[-1],)
        found: list[TapePoint] = []
        for stretch in self._reaching(far, distance):
            for point in self._solve_stretch(stretch, distance):
                same = found and math.hypot(point.x - found[-1].x, point.z - found[-1].z) < 1e-9
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
        off = self._inward(low, high, 1.0, slice(low, high + 1))
        return bool(np.abs(off).max() <= ON_SURFACE_MM)

    # --- the walk ------------------------------------------------------------------

    def _walk(self, order: range, side: float) -> None:
        """Follow the tape from its nearest point; `side` is +1 walking up, -1 down."""
        bends: list[int] = [ANCHOR, self._near]
        signs: list[float] = [0.0, 0.0]  # turn at each bend; 0 is decided by the next step
        ways = [0, self._onward(0, self._near)]
        for k in order:
            kept = self._advance(bends, signs, k, side)
            bends.append(k)
            signs.append(0.0)
            del ways[kept:]
            for bend in bends[kept:]:
                ways.append(self._onward(ways[-1], bend))
            self._ways[k] = ways[-1]

    def _onward(self, way: int, bend: int) -> int:
        """The way that goes on to a bend from another way."""
        known = self._known.setdefault((way, bend), len(self._bend))
        if known == len(self._bend):
            self._far.append(self._far[way] + self._span(self._bend[way], bend))
            self._depth.append(self._depth[way] + 1)
            self._before.append(way)
            self._bend.append(bend)
        return known

    def _advance(self, bends: list[int], signs: list[float], k: int, side: float) -> int:
        """Let the tape end move on to contour point k; return how many bends are as they were."""
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
                break
            bends.pop()
            # Where the tape bears as it does on the contour that it passed, this lies behind it.
            passed = max(signs.pop() * side, signs[-1] * side) <= 0.0
            clear = turn == 0.0 or (self._plain and side > 0.0 and k > self.start)
            caught = [] if clear else self._caught(a, w, k, self._piece(a, k) if passed else None)
            if caught:
                first = len(bends)
                bends.extend(caught)
                signs.extend([1.0 if turn > 0.0 else -1.0] * len(caught))
                return self._settle(bends, signs, k, first)
        return len(bends)

    def _settle(self, bends: list[int], signs: list[float], k: int, first: int) -> int:
        """After a catch, let go of what no longer bears; return how many bends are as before."""
        # Bends before the one that the first caught point follows bear as they did.
        x, z = self._x, self._z
        i = max(first - 1, 1)
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
            first = min(first, i)
            i = max(i - 1, 1)
        return first

    def _piece(self, a: int, k: int) -> tuple[int, int] | None:
        """First and last contour point that the walk passed from a bend to its end."""
        start = self._first_up
        if k >= start:
            first = start if a in {ANCHOR, len(self.points)} else a
            return (first, k) if start <= first < k else None
        last = start - 1 if a in {ANCHOR, len(self.points)} else a
        return (k, last) if k < last < start else None

    def _caught(self, a: int, w: int, b: int, behind: tuple[int, int] | None = None) -> list[int]:
        """Contour points inside triangle (a, w, b) that a tape let go of w catches on."""
        x, z = self._x, self._z
        ax, az, bx, bz = x[a], z[a], x[b], z[b]
        turn = 1.0 if (x[w] - ax) * (bz - z[w]) - (z[w] - az) * (bx - x[w]) > 0.0 else -1.0
        places = [(x[i], z[i]) for i in (a, w, b)]
        close = self._swept.within((a, w, b), places, turn, behind)
        if not close:
            return []
        near = np.array(close)
        # How far points lie inward of each side of the triangle.
        first, second = self._inward(a, w, turn, near), self._inward(w, b, turn, near)
        inside = self._inward(b, a, turn, near) > TOUCH_MM
        inside &= np.minimum(first, second) > -TOUCH_MM
        # A point that just touches the tape as it lies may have its body on the other
        # side; it stops the tape only when the contour runs inward from it.
        last = len(self.points) - 1
        for side, ends in ((first, (a, w)), (second, (w, b))):
            touching = np.flatnonzero(inside & (side <= TOUCH_MM))
            if len(touching):
                before, after = near[touching] - 1, near[touching] + 1
                inward = (before >= 0) & (self._inward(*ends, turn, before) > TOUCH_MM)
                beside = np.minimum(after, last)
                inward |= (after <= last) & (self._inward(*ends, turn, beside) > TOUCH_MM)
                inside[touching] = inward
        found = near[inside]
        if len(found) == 0:
            return []
        # Order along a -> b, then keep the hull on the side of w.
        px, pz = self.points[found, 0], self.points[found, 1]
        along = (px - ax) * (bx - ax) + (pz - az) * (bz - az)
        row = [a, *found[np.argsort(along, kind="stable")].tolist(), b]
        bears = taut_string(np.array([(x[i], z[i]) for i in row]), turn)
        return [row[i] for i in bears[1:-1].tolist()]

    @cached_property
    def _swept(self) -> SweptPoints:
        return SweptPoints(self.points)

    def _inward(self, i: int, j: int, turn: float, which: Index | slice) -> Array:
        """Distance of contour points from the line i -> j, on the side of a turn [mm]."""
        dx, dz = self._x[j] - self._x[i], self._z[j] - self._z[i]
        off = dx * (self.points[which, 1] - self._z[i]) - dz * (self.points[which, 0] - self._x[i])
        return off * (turn / max(math.hypot(dx, dz), TOUCH_MM))

    def _folds(self, a: int, w: int, k: int) -> bool:
        """Whether a tape a -> w -> k turns back the way it came."""
        # No body lies between then, and the side to which it turns is mere rounding.
        ux, uz = self._x[w] - self._x[a], self._z[w] - self._z[a]
        vx, vz = self._x[k] - self._x[w], self._z[k] - self._z[w]
        return abs(ux * vz - uz * vx) < -_FOLD * (ux * vx + uz * vz)

    # --- distances -----------------------------------------------------------------

    def _span(self, i: int, j: int) -> float:
        return math.hypot(self._x[i] - self._x[j], self._z[i] - self._z[j])

    def _windows(self, stretch: int) -> list[tuple[int, float, float]]:
        """Parts of a stretch with one bearing point each: (way to it, from t, to t)."""
        before, depth = self._before, self._depth
        lower, upper = self._way_to(stretch), self._way_to(stretch + 1)
        # Bearing points met while the end walks along: back down the one path, up the other.
        bearing, up = [lower], []
        while bearing[-1] != upper:
            if depth[bearing[-1]] >= depth[upper]:
                bearing.append(before[bearing[-1]])
            else:
                upper = before[upper]
                up.append(upper)
        bearing.extend(up[-2::-1])
        a, b = self.points[stretch], self.points[stretch + 1]
        windows: list[tuple[int, float, float]] = []
        t0 = 0.0
        for here, after in zip(bearing, bearing[1:], strict=False):
            t1 = min(max(self._meets(self._bend[here], self._bend[after], a, b), t0), 1.0)
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

    def _point(self, stretch: int, t: float, p: Array, way: int) -> TapePoint:
        last = self._bend[way]
        distance = self._far[way] + float(np.hypot(p[0] - self._x[last], p[1] - self._z[last]))
        bridged = last not in (ANCHOR, stretch, stretch + 1)
        if bridged:
            # A bend on the straight continuation of the stretch: the tape lies on the surface.
            a, b = self.points[stretch], self.points[stretch + 1]
            lift = arrival_lift(
                b[0] - a[0], b[1] - a[1], p[0] - self._x[last], p[1] - self._z[last], t
            )
            bridged = bool(lift > ON_SURFACE_MM)
        return TapePoint(float(p[0]), float(p[1]), distance, stretch, t, way, bridged)

    def _solve_stretch(self, stretch: int, distance: float) -> list[TapePoint]:
        a, b = self.points[stretch], self.points[stretch + 1]
        found: list[TapePoint] = []
        for way, t0, t1 in self._windows(stretch):
            last = self._bend[way]
            rest = distance - self._far[way]
            if rest < 0.0:
                continue
            for t in _circle_roots(a, b, self._x[last], self._z[last], rest):
                if t0 - 1e-12 <= t <= t1 + 1e-12 and -1e-12 <= t <= 1.0 + 1e-12:
                    t_in = min(max(t, 0.0), 1.0)
                    if not found or abs(t_in - found[-1].t) > 1e-12:
                        found.append(self._point(stretch, t_in, a + t_in * (b - a), way))
        return sorted(found, key=lambda point: point.t)


def arrival_lift(
    step_x: ArrayLike, step_z: ArrayLike, tape_x: ArrayLike, tape_z: ArrayLike, t: ArrayLike
) -> Array:
    """Return how far a tape that ends on a stretch runs beside it."""
    cross = np.abs(np.multiply(step_x, tape_z) - np.multiply(step_z, tape_x))
    length = np.maximum(np.hypot(tape_x, tape_z), TOUCH_MM)
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

"""The taut tape as a shortest path in a visibility graph around the body.

Two corners see each other when the straight line between them does not run through the
inside of the body (shapely relate, exact on the given coordinates). Dijkstra gives the
distance to every corner. A point within a stretch is moved `OUT` off the surface, so that
its rounding cannot put it inside; that is the limit of agreement there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy.optimize import brentq, minimize_scalar
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from references.random_contours import body

OUT = 1e-8
"""Distance by which a point within a stretch is moved into the air [mm]."""
CORE = 1e-6
"""A place deeper inside the body than this is beyond doubt inside [mm]."""
SAME = 1e-9
"""A corner whose distance differs less from the one sought is at that distance [mm]."""


@dataclass(frozen=True)
class SlowMark:
    """A point at a given distance; `slope` is d(distance)/d(length along the contour)."""

    stretch: int
    t: float
    x: float
    z: float
    slope: float
    bridged: bool


class SlowTape:
    """Distances around the body behind a contour, from an anchor on the ground."""

    def __init__(self, points: np.ndarray, anchor_x: float) -> None:
        self.points = points
        self.body = body(points)
        self.core = self.body.buffer(-CORE)
        shapely.prepare(self.body)
        shapely.prepare(self.core)
        self.anchor = np.array([anchor_x, 0.0])
        self.nodes = np.vstack([points, self.anchor[None]])  # the anchor is the last

    def _sees(self, a: np.ndarray, b: np.ndarray) -> np.ndarray:
        lines = shapely.linestrings(np.stack([a, b], axis=-2))
        # Interiors meet ("T********"): the line runs through the body.
        seen = ~shapely.relate_pattern(self.body, lines, "T********")
        # GEOS 3.14 misses that once in some million lines that also run along the boundary
        # to within rounding: look at a few places on the line as well.
        for part in (0.137, 0.318, 0.5, 0.717, 0.911):
            at = a + part * (b - a)
            seen &= ~shapely.contains_xy(self.core, at[..., 0], at[..., 1])
        return seen

    @cached_property
    def distances(self) -> np.ndarray:
        """Distance to every contour point, (n,)."""
        i, j = np.triu_indices(len(self.nodes), 1)
        seen = self._sees(self.nodes[i], self.nodes[j])
        i, j = i[seen], j[seen]
        length = np.hypot(*(self.nodes[i] - self.nodes[j]).T)
        n = len(self.nodes)
        graph = csr_matrix((length, (i, j)), shape=(n, n))
        return dijkstra(graph, directed=False, indices=n - 1)[:-1]

    def _bearing(self, stretch: int, t: float) -> tuple[float, int]:
        """Distance to a point within a stretch, and the last corner of its path."""
        a, b = self.points[stretch], self.points[stretch + 1]
        length = float(np.hypot(*(b - a)))
        along = (b - a) / length
        # Beside a sharp corner the other wall is near: step out less there.
        out = min(OUT, 1e-3 * length * min(t, 1.0 - t))
        p = a + t * (b - a) + out * np.array([-along[1], along[0]])
        total = np.append(self.distances, 0.0) + np.hypot(*(self.nodes - p).T)
        for node in np.argsort(total, kind="stable"):
            if self._sees(self.nodes[node], p):
                return float(total[node]), int(node)
        raise AssertionError("the point sees nothing")

    def distance(self, stretch: int, t: float) -> float:
        """Distance to a point within a stretch."""
        return self._bearing(stretch, t)[0]

    def solve_stretch(self, stretch: int, distance: float) -> list[SlowMark]:
        """Every point of a stretch at a distance (convex along it: at most two)."""
        d0, d1 = self.distances[stretch], self.distances[stretch + 1]
        length = float(np.hypot(*(self.points[stretch + 1] - self.points[stretch])))
        if (d0 + d1 - length) / 2.0 > distance + SAME or max(d0, d1) < distance - SAME:
            return []

        def miss(t: float) -> float:
            if t in (0.0, 1.0):
                return (d0, d1)[int(t)] - distance
            return self.distance(stretch, t) - distance

        lowest = 0.0 if d0 < d1 else 1.0
        if min(d0, d1) >= distance - SAME:  # both ends beyond or just there: look for a dip
            dip = minimize_scalar(
                miss, bounds=(0.0, 1.0), method="bounded", options={"xatol": 1e-6}
            )
            if dip.fun < min(d0, d1) - distance:
                lowest = float(dip.x)
        at: list[float] = []
        for end in (0.0, 1.0):
            if abs(miss(end)) <= SAME:
                at.append(end)
            elif miss(lowest) < -SAME and miss(end) > 0.0:
                at.append(brentq(miss, *sorted((end, lowest)), xtol=1e-12, rtol=1e-14))
        return [self._mark(stretch, t, length) for t in sorted(at)]

    def _mark(self, stretch: int, t: float, length: float) -> SlowMark:
        a, b = self.points[stretch], self.points[stretch + 1]
        p = a + t * (b - a)
        edge = min(1e-6 / length, 0.5)
        _, node = self._bearing(stretch, min(max(t, edge), 1.0 - edge))
        to = p - self.nodes[node]
        slope = float(to @ (b - a)) / max(float(np.hypot(*to)) * length, 1e-300)
        # In the air: the last of the tape before the point is off the surface.
        last = shapely.LineString([p, p - to * min(1.0, 0.5 / max(float(np.hypot(*to)), 1e-300))])
        off = shapely.hausdorff_distance(last, shapely.LineString([p, p]))
        surface = shapely.LineString(self.points)
        in_air = shapely.distance(shapely.Point(last.coords[-1]), surface) > 1e-6 and off > 1e-6
        bridged = node != len(self.points) and bool(in_air)
        return SlowMark(stretch, t, float(p[0]), float(p[1]), slope, bridged)

    def solve(self, distance: float, start: int) -> list[SlowMark]:
        """Every point at a distance from `start` upward; the nearest below it when it is beyond."""
        if self.distances[start] > distance:
            for stretch in range(start - 1, -1, -1):
                below = self.solve_stretch(stretch, distance)
                if below:
                    return below[-1:]
        found: list[SlowMark] = []
        for stretch in range(start, len(self.points) - 1):
            for mark in self.solve_stretch(stretch, distance):
                if not found or np.hypot(mark.x - found[-1].x, mark.z - found[-1].z) > 1e-7:
                    found.append(mark)
        return found

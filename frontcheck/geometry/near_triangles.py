"""Nearest points on triangles in space, and which triangles lie within reach of a point.

Large triangles are halved at their longest edges, which changes no point of the surface; the
pieces are kept in cubes with a sphere round each, so that one look at the cubes and one at the
pieces in those within reach finds every piece that may matter, and none is missed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

TOUCH_MM: Final = 1e-6
"""Points closer than this to a triangle or its edge lie on it [mm]."""
_CUBE_MM: Final = 8.0
"""Edge of the cubes [mm]: about the reach of what a sphere of some 80 mm nearly touches."""
_MARK: Final = (1.0, 0.6180339887498949, 0.4142135623730951)
_NARROW: Final = 1e-12
"""Corners in a row but for rounding: below this square of the sine of an angle the edges count."""
_PAD_MM: Final = 1e-6
"""Added to radii of spheres round pieces: ample for rounding [mm]."""


def dot(a: Array, b: Array) -> Array:
    """Products of vectors (..., 3), added up."""
    return a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2]


def cross(a: Array, b: Array) -> Array:
    """Vector products of vectors (..., 3); faster than numpy's for many."""
    return np.stack(
        [
            a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1],
            a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2],
            a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0],
        ],
        axis=-1,
    )


def unit(a: Array) -> Array:
    """Vectors (..., 3) at length one; those of no length stay."""
    length = np.sqrt(dot(a, a))[..., None]
    return a / np.where(length == 0.0, 1.0, length)


def nearest_on(tri: Array, at: Array) -> Array:
    """Nearest point of every triangle (n, 3, 3) to its point (n, 3)."""
    a, b, c = tri[:, 0], tri[:, 1], tri[:, 2]
    ab, ac, off = b - a, c - a, at - a
    g11, g12, g22 = dot(ab, ab), dot(ab, ac), dot(ac, ac)
    r1, r2 = dot(ab, off), dot(ac, off)
    whole = g11 * g22
    area = whole - g12 * g12
    wide = area > _NARROW * whole
    safe = np.where(wide, area, 1.0)
    v, w = (g22 * r1 - g12 * r2) / safe, (g11 * r2 - g12 * r1) / safe
    result: Array = a + v[:, None] * ab + w[:, None] * ac
    edge = np.flatnonzero(~(wide & (v >= 0.0) & (w >= 0.0) & (v + w <= 1.0)))
    if len(edge):
        point, best = at[edge], np.full(len(edge), np.inf)
        for start, end in ((a, b), (a, c), (b, c)):
            foot = nearest_on_edge(start[edge], end[edge], point)
            gap = foot - point
            distance = dot(gap, gap)
            closer = distance < best
            best = np.where(closer, distance, best)
            result[edge[closer]] = foot[closer]
    return result


def nearest_on_edge(start: Array, end: Array, at: Array) -> Array:
    """Nearest point of every edge (n, 3) to its point (n, 3)."""
    step = end - start
    square = dot(step, step)
    t = np.clip(dot(at - start, step) / np.where(square > 0.0, square, 1.0), 0.0, 1.0)
    return np.where((t < 1.0)[:, None], start + t[:, None] * step, end)


def ranges(first: Index, last: Index) -> tuple[Index, Index]:
    """Indices first..last - 1 of every row, one after the other, and the row of each."""
    count = np.maximum(last - first, 0)
    row = np.repeat(np.arange(len(count)), count)
    before = np.cumsum(count) - count
    return row, np.arange(len(row)) - np.repeat(before - first, count)


def marks_of(points: Array) -> Array:
    """One number for each of some points (..., 3): the same for the same point, to the last bit."""
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    return (x * _MARK[0] + y * _MARK[1]) + z * _MARK[2]


def held_by(points: Array, others: Array) -> Mask:
    """Which of some points (..., 3), few, are among many others (..., 3), to the last bit."""
    # Sorting the few and looking up the many is far quicker than sorting all.
    marks, wanted = marks_of(points).reshape(-1), marks_of(others).reshape(-1)
    order = np.argsort(marks, kind="stable")
    rising = np.append(marks[order], np.inf)
    first = np.searchsorted(rising, wanted)
    found = np.zeros(len(rising), dtype=bool)
    found[first[rising[first] == wanted]] = True
    # Equal marks stand together: all of them are found where the first is.
    lead = np.searchsorted(rising, marks)
    return found[lead].reshape(points.shape[:-1])


def halved(tri: Array, longest: float) -> tuple[Array, Index]:
    """Triangles (n, 3, 3) cut until no edge is longer than `longest`, and where each came from."""
    done, origin_done = [], []
    origin = np.arange(len(tri))
    while len(tri):
        step = tri[:, [1, 2, 0]] - tri
        square = dot(step, step)
        long = square.max(axis=1) > longest * longest
        if not long.any():
            break
        done.append(tri[~long])
        origin_done.append(origin[~long])
        origin = np.tile(origin[long], 2)
        first = square[long].argmax(axis=1)
        a, b, c = (tri[long][np.arange(len(first)), (first + i) % 3] for i in range(3))
        middle = (a + b) / 2.0
        tri = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
    return np.concatenate([*done, tri]), np.concatenate([*origin_done, origin])


@dataclass(frozen=True)
class Discs:
    """Round, flat boxes: nothing in one is farther from its middle than so far in and off plane."""

    middle: Array  # (n, 3)
    normal: Array  # (n, 3)
    radius: Array  # (n,)
    thick: Array  # (n,) half of the thickness

    def closer(self, row: Index, item: Index, at: Array, reach: Array) -> tuple[Index, Index]:
        """Those pairs (point, disc) in which some of the disc may come within reach."""
        gap = at[row] - self.middle[item]
        limit = reach[row] + self.radius[item] + self.thick[item]
        square = dot(gap, gap)
        kept = np.flatnonzero(square <= limit * limit)
        row, item, square = row[kept], item[kept], square[kept]
        # Seen from the point, a disc comes closer by what lies along the line of sight.
        along = np.abs(dot(gap[kept], self.normal[item]))
        aside = np.sqrt(np.maximum(square - along * along, 0.0))
        nearer = self.radius[item] * aside + self.thick[item] * along
        kept = np.flatnonzero(square - nearer <= np.sqrt(square) * reach[row])
        return row[kept], item[kept]


@dataclass(frozen=True)
class Pieces:
    """Small triangles sorted by cubes, with a disc round every piece and every cube."""

    corners: Array  # (p, 3, 3)
    first: Index  # (c + 1,) first piece of every cube
    layer: Index  # (c,) of every cube across y, rising
    discs: Discs  # Of the pieces
    cubes: Discs

    @classmethod
    def of(cls, corners: Array) -> Pieces:
        """Sort pieces (p, 3, 3) into cubes."""
        middle = (corners[:, 0] + corners[:, 1] + corners[:, 2]) / 3.0
        cell = np.floor(middle / _CUBE_MM).astype(np.intp)
        bottom = cell.min(axis=0)
        span = cell.max(axis=0) - bottom + 1
        cell -= bottom
        key = (cell[:, 1] * span[0] + cell[:, 0]) * span[2] + cell[:, 2]
        order = np.argsort(key, kind="stable")
        del cell
        corners, middle, key = corners[order], middle[order], key[order]
        a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
        square = np.maximum(*(dot(v - middle, v - middle) for v in (a, b)))
        square = np.maximum(square, dot(c - middle, c - middle))
        normal = unit(cross(b - a, c - a))
        thick = np.broadcast_to(_PAD_MM, len(key))
        discs = Discs(middle, normal, np.sqrt(square) + _PAD_MM, thick)
        starts = np.flatnonzero(np.diff(key, prepend=-1))
        first = np.append(starts, len(key))
        layer = key[starts] // (span[0] * span[2]) + bottom[1]
        return cls(corners, first, layer, discs, _round(corners, starts, normal))

    def within(self, at: Array, reach: Array) -> tuple[Index, Index]:
        """Pairs (point, piece), by rising point, of all pieces that may come within reach (q,)."""
        wide = reach + self.cubes.radius.max() + _CUBE_MM
        low = np.searchsorted(self.layer, np.floor((at[:, 1] - wide) / _CUBE_MM), "left")
        high = np.searchsorted(self.layer, np.floor((at[:, 1] + wide) / _CUBE_MM), "right")
        row, cube = self.cubes.closer(*ranges(low, high), at, reach)
        pair, piece = ranges(self.first[cube], self.first[cube + 1])
        return self.discs.closer(row[pair], piece, at, reach)

    def holding(self, at: Array) -> tuple[Index, Array]:
        """Pairs (point, triangle) of all pieces on which points (q, 3) lie: which, and corners."""
        pair, item = self.within(at, np.full(len(at), TOUCH_MM))
        tri = self.corners[item]
        gap = nearest_on(tri, at[pair]) - at[pair]
        holds = dot(gap, gap) <= TOUCH_MM**2
        return pair[holds], tri[holds]


def _round(corners: Array, starts: Index, normal: Array) -> Discs:
    """Discs round groups of triangles (p, 3, 3), each from one start to the next."""
    points = [corners[:, i] for i in (0, 1, 2)]
    low = np.minimum.reduceat(np.minimum(np.minimum(*points[:2]), points[2]), starts)
    high = np.maximum.reduceat(np.maximum(np.maximum(*points[:2]), points[2]), starts)
    middle = (low + high) / 2.0
    count = np.diff(starts, append=len(corners))
    each = np.repeat(middle, count, axis=0)
    # Normals of one side, whichever way round the corners of a triangle are given.
    over = dot(normal, np.repeat(normal[starts], count, axis=0)) < 0.0
    normal = unit(np.add.reduceat(np.where(over[:, None], -normal, normal), starts))
    across = np.repeat(normal, count, axis=0)
    radius, away = np.zeros(len(corners)), np.zeros(len(corners))
    for point in points:
        off = point - each
        radius = np.maximum(radius, dot(off, off))
        away = np.maximum(away, np.abs(dot(off, across)))
    radius = np.sqrt(np.maximum.reduceat(radius, starts)) + _PAD_MM
    return Discs(middle, normal, radius, np.maximum.reduceat(away, starts) + _PAD_MM)


class Nearest:
    """Nearest pieces to some points that move little: collected once, then looked at again."""

    def __init__(
        self, pieces: Pieces, count: int, reach: float, margins: tuple[float, ...]
    ) -> None:
        # Collected with the first margin, and with the next where nothing is found in it.
        self.pieces, self.reach, self.margins = pieces, reach, margins
        self.row, self.item = np.zeros(0, np.intp), np.zeros(0, np.intp)  # Pairs, by rising row
        self.low = np.zeros(0)  # The distance of a pair is at least this
        self.rest = np.full(count, -np.inf)  # That of what is in no pair is at least this
        self.at, self.foot = np.zeros((count, 3)), np.zeros((count, 3))
        self.best = np.full(count, np.inf)  # Distance of the nearest; inf: none in reach
        self.piece = np.zeros(count, np.intp)

    def move(self, rows: Index, at: Array) -> None:
        """Find the nearest to the points (q, 3) of those rows (q,)."""
        gap, moved = at - self.at[rows], np.zeros(len(self.best))
        moved[rows] = np.sqrt(dot(gap, gap))
        self.at[rows] = at
        self.rest -= moved
        self.low -= moved[self.row]
        wanted = np.zeros(len(self.best), dtype=bool)
        wanted[rows] = True
        limit = np.where(wanted, self.best + moved, -np.inf)
        self.best[rows] = np.inf
        self._look(np.flatnonzero(self.low <= limit[self.row]))
        for margin in self.margins:
            far = np.minimum(self.best[rows], self.reach + margin)
            again = rows[self.rest[rows] < far]
            if not len(again):
                continue
            reach = np.minimum(self.best[again], self.reach) + margin
            pair, item = self.pieces.within(self.at[again], reach)
            self.rest[again], wanted[:] = reach, True
            wanted[again] = False
            kept = wanted[self.row]
            row = np.concatenate([self.row[kept], again[pair]])
            order = np.argsort(row, kind="stable")
            self.row = row[order]
            self.item = np.concatenate([self.item[kept], item])[order]
            self.low = np.concatenate([self.low[kept], np.zeros(len(item))])[order]
            self.best[again] = np.inf
            self._look(np.flatnonzero(~wanted[self.row]))

    def _look(self, pair: Index) -> None:
        """Measure those pairs, which hold all pairs of their rows that may be the nearest."""
        if not len(pair):
            return
        row, item = self.row[pair], self.item[pair]
        point = nearest_on(self.pieces.corners[item], self.at[row])
        gap = point - self.at[row]
        distance = np.sqrt(dot(gap, gap))
        self.low[pair] = distance
        starts = np.flatnonzero(np.diff(row, prepend=-1))
        least = np.minimum.reduceat(distance, starts)
        ties = np.flatnonzero(distance == np.repeat(least, np.diff(starts, append=len(row))))
        first = ties[np.flatnonzero(np.diff(row[ties], prepend=-1))]
        self.best[row[first]], self.foot[row[first]] = distance[first], point[first]
        self.piece[row[first]] = item[first]

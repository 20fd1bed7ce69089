"""Triangles cut by many planes y = const: ordered chains of (x, z) in every plane.

Rules
-----
half-open
    A vertex exactly on a plane counts as above it. So every triangle either crosses a plane
    in one stretch or not at all, and a triangle lying in the plane gives nothing: its
    neighbours give the outline.
edge
    Both triangles at an edge find the same crossing, to the last bit, because it is always
    worked out from the lower end of the edge to the upper one. Equal bits therefore mean a
    common edge, and no mesh has to be welded first (`frontcheck.geometry.chains`).

Triangles are sorted by the first plane they meet; planes are done in blocks, so that memory
stays bounded by the mesh itself. Which of the chains is the outer contour is found by
`frontcheck.geometry.outline`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.chains import LinkCounts, link_segments
from frontcheck.geometry.outline import GAP_MM, Outline, outer_contour

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.geometry.chains import Chain

JOIN_MM: Final = 0.01
"""Ends of stretches closer than this are one point in a mesh that is not welded [mm]."""
_PAIRS_AT_ONCE: Final = 30_000
"""Crossings of a triangle with a plane worked on together: some 8 MB."""
_FACES_AT_ONCE: Final = 200_000

# By which corners lie below the plane (bit 0, 1, 2): the corner alone on its side.
_ALONE: Final = np.array([0, 0, 1, 2, 2, 1, 0, 0], dtype=np.intp)
_ALONE_BELOW: Final = np.array([0, 1, 1, 0, 1, 0, 0, 0], dtype=bool)


@dataclass(frozen=True)
class Axes:
    """How file coordinates become x rearward, y right, z up [mm]."""

    # Coordinate i is ``file[order[i]] * scale[i] + shift[i]``.

    order: tuple[int, int, int] = (0, 1, 2)  # File column of x, y and z
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)  # Added after scaling [mm]

    def column(self, points: NDArray[np.floating], i: int) -> Array:
        """Return one of our coordinates of file points."""
        return self._ours(points[..., self.order[i]], i)

    def span(
        self, least: NDArray[np.floating], most: NDArray[np.floating], i: int
    ) -> tuple[Array, Array]:
        """Return least and greatest of our coordinates from those of the file's column."""
        ends = self._ours(least, i), self._ours(most, i)
        return ends if self.scale[i] > 0.0 else ends[::-1]

    def _ours(self, numbers: NDArray[np.floating], i: int) -> Array:
        values = numbers.astype(np.float64)
        if self.scale[i] != 1.0:
            values *= self.scale[i]
        values += self.shift[i]
        values += 0.0
        return values


@dataclass(frozen=True)
class Slice:
    """What one plane cuts from a mesh."""

    y: float  # The plane [mm]
    outline: Outline | None  # The outer contour and what was joined or dropped
    counts: LinkCounts  # How the stretches were linked


def slice_mesh(
    points: NDArray[np.floating],
    planes: ArrayLike,
    faces: NDArray[np.integer] | None = None,
    *,
    axes: Axes | None = None,
    labels: NDArray[np.integer] | None = None,
    gap: float = GAP_MM,
    join: float = JOIN_MM,
    thin: float = 1e-6,
) -> Iterator[Slice]:
    """Cut a mesh by planes and find the outer contour in each."""
    foremost = _foremost(points, axes or Axes())
    for y, chains, counts in cut_mesh(
        points, planes, faces, axes=axes, labels=labels, join=join, thin=thin
    ):
        yield Slice(y, outer_contour(chains, gap, foremost) if chains else None, counts)


def _foremost(points: NDArray[np.floating], axes: Axes) -> float:
    column = points[..., axes.order[0]]
    end = column.min() if axes.scale[0] > 0.0 else column.max()
    return float(end) * axes.scale[0] + axes.shift[0]


def cut_mesh(
    points: NDArray[np.floating],
    planes: ArrayLike,
    faces: NDArray[np.integer] | None = None,
    *,
    axes: Axes | None = None,
    labels: NDArray[np.integer] | None = None,
    join: float = JOIN_MM,
    thin: float = 1e-6,
) -> Iterator[tuple[float, list[Chain], LinkCounts]]:
    """Cut a mesh by planes and chain what they cut."""
    levels = np.array(planes, dtype=np.float64)
    if levels.ndim != 1 or not (np.diff(levels) > 0.0).all():
        raise ValueError("planes must be strictly increasing")
    mesh = _Mesh(points, faces, axes or Axes(), labels)
    for start, stop, pairs, plane in mesh.blocks(levels):
        segments = mesh.cross(pairs, levels[plane])
        tags = None if labels is None else labels[pairs]
        linked = link_segments(plane - start, *segments, tags, stop - start, join, thin)
        for i in range(stop - start):
            yield float(levels[start + i]), linked.chains[i], linked.counts[i]


class _Mesh:
    """Triangles in file coordinates, read in our axes a few at a time."""

    def __init__(
        self,
        points: NDArray[np.floating],
        faces: NDArray[np.integer] | None,
        axes: Axes,
        labels: NDArray[np.integer] | None,
    ) -> None:
        self.points = points
        self.faces = faces
        self.axes = axes
        self.labels = labels
        self.size = len(points if faces is None else faces)

    def meets(self, levels: Array) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
        """First plane that each triangle crosses, and the one after its last; (m,) each."""
        first = np.empty(self.size, dtype=np.int32)
        last = np.empty(self.size, dtype=np.int32)
        flat = None if self.faces is None else self.axes.column(self.points, 1)
        even = _even_step(levels)
        for at in range(0, self.size, _FACES_AT_ONCE):
            part = slice(at, at + _FACES_AT_ONCE)
            if flat is None or self.faces is None:
                y = self.points[part][..., self.axes.order[1]]
            else:
                y = flat[self.faces[part]]
            least = np.minimum(np.minimum(y[:, 0], y[:, 1]), y[:, 2])
            most = np.maximum(np.maximum(y[:, 0], y[:, 1]), y[:, 2])
            # Turned into our axes after that, which keeps their order.
            lowest, highest = (least, most) if flat is not None else self.axes.span(least, most, 1)
            first[part] = _planes_up_to(lowest, levels, even)
            last[part] = _planes_up_to(highest, levels, even)
        return first, last

    def blocks(self, levels: Array) -> Iterator[tuple[int, int, Index, Index]]:
        """First and last plane of each block, and its crossings: triangle and plane."""
        first, last = self.meets(levels)
        meeting = np.flatnonzero(last > first)
        first, last = first[meeting], last[meeting]
        # Small whole numbers sort in linear time.
        small = first.astype(np.uint16) if len(levels) < 65_536 else first
        order = np.argsort(small, kind="stable")
        faces, first, last = meeting[order], first[order], last[order]
        p = len(levels)
        change = np.bincount(first, minlength=p + 1) - np.bincount(last, minlength=p + 1)
        total = np.concatenate([[0], np.cumsum(np.cumsum(change)[:p])])
        held = np.empty(0, dtype=np.intp)
        start = taken = 0
        while start < p:
            stop = int(np.searchsorted(total, total[start] + _PAIRS_AT_ONCE, side="right")) - 1
            stop = min(max(stop, start + 1), p)
            upto = int(np.searchsorted(first, stop, side="left"))
            active = np.concatenate([held, np.arange(taken, upto)])
            low = np.maximum(first[active], start)
            times = np.minimum(last[active], stop) - low
            ends = np.cumsum(times)
            within = np.arange(ends[-1] if len(ends) else 0) - np.repeat(ends - times, times)
            yield start, stop, np.repeat(faces[active], times), within + np.repeat(low, times)
            held = active[last[active] > stop]
            start, taken = stop, upto

    def cross(self, pairs: Index, level: Array) -> tuple[Array, Array, NDArray[np.uint64]]:
        """Ends of the stretches, as (2 s,) arrays of x, z and key, start and end in turn."""
        # The stretch walks with the air on its left when the triangle is wound outward.
        s = len(pairs)
        corners = self.points[pairs] if self.faces is None else self.points[self.faces[pairs]]
        x, y, z = (self.axes.column(corners, i) for i in range(3))
        below = y < level[:, None]
        code = below[:, 0] + 2 * below[:, 1] + 4 * below[:, 2]
        alone = _ALONE[code]
        row = np.arange(s) * 3
        a = row + alone
        b = row + (alone + 1) % 3
        c = row + (alone + 2) % 3
        # Corner alone above: from its next edge to its previous one; alone below: reversed.
        down = _ALONE_BELOW[code]
        out_x, out_z = np.empty(2 * s), np.empty(2 * s)
        key = np.empty(2 * s, dtype=np.uint64)
        flat_x, flat_y, flat_z = x.reshape(-1), y.reshape(-1), z.reshape(-1)
        for side, other in ((0, np.where(down, c, b)), (1, np.where(down, b, c))):
            low, high = np.where(down, a, other), np.where(down, other, a)
            low_y, high_y = flat_y[low], flat_y[high]
            t = (level - low_y) / (high_y - low_y)
            low_x, low_z = flat_x[low], flat_z[low]
            end_x, end_z = flat_x[high], flat_z[high]
            at_x = low_x + t * (end_x - low_x)
            at_z = low_z + t * (end_z - low_z)
            on_plane = np.flatnonzero(high_y == level)
            at_x[on_plane], at_z[on_plane] = end_x[on_plane], end_z[on_plane]
            at_x += 0.0
            at_z += 0.0
            mark = _mixed(at_x) * _K[0] + _mixed(at_z) * _K[1]
            if len(on_plane):
                # Edges that meet in a vertex on the plane are told apart by their lower ends.
                for values, k in ((low_x, _K[2]), (low_y, _K[3]), (low_z, _K[4])):
                    mark[on_plane] += _mixed(values[on_plane]) * k
            out_x[side::2], out_z[side::2], key[side::2] = at_x, at_z, mark
        key += np.repeat(_mixed(level) * _K[5], 2)
        return out_x, out_z, key


_FOLD: Final = np.uint64(29)
_K: Final = np.array(
    [
        0x9E3779B97F4A7C15,
        0xC2B2AE3D27D4EB4F,
        0x165667B19E3779F9,
        0xD6E8FEB86659FD93,
        0xA0761D6478BD642F,
        0xE7037ED1A0B428DB,
    ],
    dtype=np.uint64,
)
"""Odd numbers without pattern: sums of products of bits with them hardly ever coincide."""


def _mixed(values: Array) -> NDArray[np.uint64]:
    """Bits of numbers, high ones folded onto low ones."""
    # A sign is the highest bit, and times any odd number it stays alone: without this, two signs
    # changed together would cancel.
    bits = values.view(np.uint64)
    folded: NDArray[np.uint64] = bits ^ (bits >> _FOLD)
    return folded


def _even_step(levels: Array) -> float | None:
    """Spacing of evenly spaced planes, or None."""
    if len(levels) < 2:
        return None
    step = float(levels[-1] - levels[0]) / (len(levels) - 1)
    even = np.abs(levels - (levels[0] + step * np.arange(len(levels)))).max() < 0.25 * step
    return step if even else None


def _planes_up_to(y: Array, levels: Array, step: float | None) -> Index:
    """Number of planes at or below each y, as `searchsorted` but quicker when evenly spaced."""
    if step is None:
        return np.searchsorted(levels, y, side="right")
    count: Index = np.clip((y - levels[0]) / step + 0.5, 0.0, len(levels)).astype(np.intp)
    # The estimate is within one of the truth; compare with the planes themselves.
    padded = np.concatenate([[-np.inf], levels, [np.inf]])
    count -= padded[count] > y
    count += padded[count + 1] <= y
    return count

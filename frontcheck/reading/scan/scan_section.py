"""A side section through a cloud of points: ordered by a tree, fitted along and across.

Points of both sides are folded onto one. Across the station they are moved along with the surface
(a shift and its change, found for every stretch of the contour), so that a band wider than the
noise is alike can be averaged; along the contour a local quadratic is fitted, round after round to
what is left, so that corners are not cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.reading.scan.scan_ground import robust_sd

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

_CELL_MM: Final = 10.0
_NODE_MM: Final = 2.0
_TREE_BAND_MM: Final = 20.0
_FAR_MM: Final = 40.0
_TUKEY: Final = 4.685
_WARP_MM: Final = 80.0
_KEPT: Final = 0.03
_MOST_POINTS: Final = 30_000
_CENTRE: Final = 1.5
_LEAST_POINTS: Final = 6.0


@dataclass(frozen=True)
class Widths:
    """How far points count beside the place that is fitted."""

    along: float  # half-width along the contour [mm]
    across: float  # half-width across the station [mm]
    bend: float  # curvature that costs little [1/mm]
    least: float  # half-width kept to at a corner [mm]
    rounds: int = 9


@dataclass(frozen=True)
class FittedSection:
    """A contour through the points about a station."""

    y: float
    points: Array  # (n, 2) float, x and z [mm], evenly spaced
    seen: Mask  # (n,) whether points lie about it: elsewhere it is bridged
    sides: Array  # (n, 2) float, offset of the left and of the right side alone [mm]; nan: none
    noise: float  # of single points about the contour [mm]


def near_station(points: Array, y: float, band: float) -> tuple[Array, Array, Mask]:
    """Points of both sides within a band: x and z, distance across, whether mirrored."""
    own = np.abs(points[:, 1] - y) < band
    other = np.abs(points[:, 1] + y) < band
    flat = np.concatenate([points[own][:, ::2], points[other][:, ::2]])
    across = np.concatenate([points[own][:, 1] - y, -points[other][:, 1] - y])
    mirrored = np.arange(len(flat)) >= own.sum()
    return flat, across, mirrored


def first_contour(flat: Array) -> Array | None:
    """The longest way through the smallest tree of cells: it bridges holes and follows folds."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra, minimum_spanning_tree
    from scipy.spatial import Delaunay

    cells = np.floor(flat / _CELL_MM).astype(np.int64)
    cells -= cells.min(axis=0)
    _, own, counts = np.unique(
        cells[:, 0] * (cells[:, 1].max() + 1) + cells[:, 1], return_inverse=True, return_counts=True
    )
    nodes = np.stack([np.bincount(own, flat[:, i]) / counts for i in (0, 1)], axis=1)
    nodes = nodes[counts >= 2]
    if len(nodes) < 20:
        return None
    triangles = Delaunay(nodes).simplices
    ends = np.unique(
        np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [0, 2]]])),
        axis=0,
    )
    lengths = np.hypot(*(nodes[ends[:, 0]] - nodes[ends[:, 1]]).T)
    graph = coo_matrix((lengths, ends.T), shape=(len(nodes), len(nodes)))
    half: Any = minimum_spanning_tree(graph)
    tree: Any = half + half.T
    walk: Any = dijkstra
    away = walk(tree, indices=0)
    start = int(np.argmax(np.where(np.isfinite(away), away, -1.0)))
    away, before = walk(tree, indices=start, return_predecessors=True)
    at = int(np.argmax(np.where(np.isfinite(away), away, -1.0)))
    path = []
    while at >= 0:
        path.append(at)
        at = int(before[at])
    line = nodes[path]
    # From the underside on: its lower end lies behind the foremost point.
    return line if line[0, 1] < line[-1, 1] else line[::-1]


def fit_section(points: Array, y: float, widths: Widths, slope: float) -> FittedSection | None:
    """Fit the contour at a station; `slope` is how fast the face runs rearward there."""
    flat, across, _ = near_station(points, y, _TREE_BAND_MM)
    if len(flat) < 100:
        return None
    line = first_contour(flat - np.outer(across, [slope, 0.0]))
    if line is None:
        return None
    curve = _smoothed(_even(line, _NODE_MM), 12.0)
    # In the centre both sides are one and the same band: it has to be the wider.
    width = widths.across * (_CENTRE if y < widths.across / 2.0 else 1.0)
    flat, across, mirrored = near_station(points, y, width)
    some = np.random.default_rng(0).permutation(len(flat))[:_MOST_POINTS]
    flat, across, mirrored = flat[some], across[some], mirrored[some]
    bands = np.minimum(width, 25.0 * 2.0 ** np.arange(widths.rounds))
    fit = _Fit(curve, slope)
    for i, band in enumerate(bands):
        some = np.abs(across) < band
        fit.floor = max(8.0 * 0.75**i, 1.0)
        fit.take(flat[some], across[some], mirrored[some], band)
        fit.across(band)
        if i < 2:
            fit.along(20.0, 1.0, 20.0)
        else:
            fit.along(widths.along, widths.bend, widths.least)
        fit.even()
    fit.take(flat, across, mirrored, width)
    return fit.result(y, widths.along)


class _Fit:
    """A contour that is moved toward its points, and how the surface runs across it."""

    def __init__(self, curve: Array, slope: float) -> None:
        self.curve = curve
        self.prior = np.array([[slope, 0.0], [0.0, 0.0]])
        self.shift = np.tile(self.prior, (len(curve), 1, 1))
        self.sd = 5.0
        self.floor = 8.0
        self.residual: Array = np.zeros(0)

    def take(self, flat: Array, across: Array, mirrored: Mask, band: float) -> None:
        """Lay points on the contour, moved along the surface to the station."""
        from scipy.spatial import cKDTree

        tree: Any = cKDTree(self.curve)
        moved = flat - np.outer(across, [self.shift[:, 0, 0].mean(), 0.0])
        for _ in range(2):
            near = tree.query(moved)[1]
            shift = self.shift[near]
            moved = flat - shift[:, 0] * across[:, None] - shift[:, 1] * across[:, None] ** 2
        near = tree.query(moved)[1]
        tangents = _tangents(self.curve)
        step = moved - self.curve[near]
        along = np.einsum("ij,ij->i", step, tangents[near])
        self.normals = np.stack([-tangents[:, 1], tangents[:, 0]], axis=1)
        self.node = near
        self.off = np.einsum("ij,ij->i", step, self.normals[near])
        inside = (np.abs(along) < 1.5 * _NODE_MM) & (np.abs(self.off) < _FAR_MM)
        self.node, self.off = near[inside], self.off[inside]
        self.distance, self.mirrored = across[inside], mirrored[inside]
        self.near_weight = (1.0 - np.abs(self.distance / band) ** 3) ** 3
        self.sd = robust_sd(self.off) if len(self.off) else self.sd
        self.weight = self.near_weight * self._tukey(self.off)

    def _tukey(self, off: Array) -> Array:
        return np.maximum(1.0 - (off / (_TUKEY * max(self.sd, self.floor))) ** 2, 0.0) ** 2

    def across(self, band: float) -> None:
        """Find how the surface runs across the station, stretch by stretch."""
        size = len(self.curve)
        d = self.distance / band
        n = self.normals
        start = np.concatenate(
            [
                (self.shift[:, 0] - self.prior[0]) * band,
                (self.shift[:, 1] - self.prior[1]) * band**2,
            ],
            axis=1,
        )  # what was found so far beyond what the plan tells
        lean = np.einsum("ij,ij->i", n[self.node], start[self.node, :2])
        bow = np.einsum("ij,ij->i", n[self.node], start[self.node, 2:])
        whole = self.off + lean * d + bow * d**2
        # About the mean at every node: where the contour itself lies is not asked here.
        total = np.maximum(np.bincount(self.node, self.weight, size), 1e-9)
        d1, d2, own = (
            values - (np.bincount(self.node, self.weight * values, size) / total)[self.node]
            for values in (d, d**2, whole)
        )
        moments = [
            np.bincount(self.node, self.weight * each, size) for each in (d1 * d1, d1 * d2, d2 * d2)
        ]
        sums = [np.bincount(self.node, self.weight * each * own, size) for each in (d1, d2)]
        outer = n[:, :, None] * n[:, None, :]
        kernel = _tricube(_WARP_MM)
        lhs = np.zeros((size, 4, 4))
        for i, j, m in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
            block = _convolved(outer.reshape(size, 4) * moments[m][:, None], kernel)
            lhs[:, 2 * i : 2 * i + 2, 2 * j : 2 * j + 2] = block.reshape(size, 2, 2)
        rhs = np.concatenate([_convolved(n * s[:, None], kernel) for s in sums], axis=1)
        for k in range(0, 4, 2):  # along the contour nothing is seen: there the plan is kept to
            scale = lhs[:, k, k] + lhs[:, k + 1, k + 1]
            lhs[:, k : k + 2, k : k + 2] += (_KEPT * scale + 1e-6)[:, None, None] * np.eye(2)
        found = np.linalg.solve(lhs, rhs[:, :, None])[:, :, 0]
        self.shift[:, 0] = self.prior[0] + found[:, :2] / band
        self.shift[:, 1] = self.prior[1] + found[:, 2:] / band**2
        change = (found - start)[self.node]
        self.off = self.off - np.einsum(
            "ij,ij->i",
            n[self.node],
            change[:, :2] * d[:, None] + change[:, 2:] * d[:, None] ** 2,
        )

    def along(self, length: float, bend: float, least: float) -> None:
        """Move the contour to its points, as little bent as they allow; corners cost little."""
        from scipy.sparse import csc_matrix, diags_array
        from scipy.sparse.linalg import spsolve

        size = len(self.curve)
        p, n = self.curve, self.normals
        bent = np.zeros(size)
        bent[1:-1] = np.einsum("ij,ij->i", n[1:-1], p[2:] - 2 * p[1:-1] + p[:-2]) / _NODE_MM**2
        ones = np.ones(size)
        ones[[0, -1]] = 0.0  # at its ends a line does not bend
        second: Any = diags_array(
            [ones[1:], -2.0 * ones, ones[:-1]], offsets=[-1, 0, 1], shape=(size, size)
        )
        second = csc_matrix(second) / _NODE_MM**2 + diags_array(bent**2)
        for _ in range(3):
            w: Array = np.bincount(self.node, self.weight, size).astype(np.float64)
            b = np.bincount(self.node, self.weight * self.off, size)
            kernel = _tricube(15.0)
            count = _convolved(w, kernel)
            mean = float(np.median(w[w > 0])) if (w > 0).any() else 1.0
            # Curvature seen over some millimetres says where a corner is.
            seen_bend = _convolved(bent, kernel) / kernel.sum()
            cost = np.maximum(1.0 / (1.0 + (seen_bend / bend) ** 2) ** 2, (least / length) ** 4)
            stiff = second.T @ diags_array(mean * length**4 * cost)
            lhs = diags_array(w + 1e-6 * mean) + stiff @ second
            move = spsolve(csc_matrix(lhs), b - stiff @ bent)
            left = self.off - move[self.node]
            self.sd = robust_sd(left)
            self.weight = self.near_weight * self._tukey(left)
        self.seen = count > _LEAST_POINTS
        self.curve = self.curve + n * move[:, None]

    def even(self) -> None:
        """Space the nodes evenly again, and take out loops."""
        old = self.curve
        self.curve = _even(_unlooped(old), _NODE_MM)
        from scipy.spatial import cKDTree

        tree: Any = cKDTree(old)
        near = tree.query(self.curve)[1]
        self.shift, self.seen = self.shift[near], self.seen[near]

    def result(self, y: float, length: float) -> FittedSection:
        size = len(self.curve)
        sides = np.full((size, 2), np.nan)
        for i, side in enumerate((self.mirrored, ~self.mirrored)):
            move, count = _local(self.node[side], self.off[side], self.weight[side], size, length)
            sides[:, i] = np.where(count > _LEAST_POINTS, move, np.nan)
        noise = robust_sd(self.off)
        return FittedSection(y, self.curve, self.seen, sides, noise)


def _local(node: Index, off: Array, weight: Array, size: int, length: float) -> tuple[Array, Array]:
    """Value at every node of a local quadratic of weighted offsets, and the weight about it."""
    w: Array = np.bincount(node, weight, size).astype(np.float64)
    b = np.bincount(node, weight * off, size)
    half = int(np.ceil(length / _NODE_MM))
    d = np.arange(-half, half + 1) * _NODE_MM / length
    kernel = np.maximum(1.0 - np.abs(d) ** 3, 0.0) ** 3
    from scipy.ndimage import correlate1d

    s: list[Array] = [correlate1d(w, kernel * d**k, mode="constant") for k in range(5)]
    t = [correlate1d(b, kernel * d**k, mode="constant") for k in range(3)]
    lhs = np.stack([np.stack(s[i : i + 3], axis=-1) for i in range(3)], axis=-2)
    lhs += 1e-6 * np.eye(3) * (s[0][:, None, None] + 1e-9)
    value = np.linalg.solve(lhs, np.stack(t, axis=-1)[:, :, None])[:, 0, 0]
    return value.astype(np.float64), s[0]


def _tricube(length: float) -> Array:
    half = int(np.ceil(length / _NODE_MM))
    kernel: Array = (
        1.0 - np.minimum(np.abs(np.arange(-half, half + 1) * _NODE_MM / length), 1.0) ** 3
    ) ** 3
    return kernel


def _convolved(values: Array, kernel: Array) -> Array:
    from scipy.ndimage import correlate1d

    out: Array = correlate1d(values, kernel, axis=0, mode="constant")
    return out


def _tangents(curve: Array) -> Array:
    steps = np.gradient(_smoothed(curve, 2.0), axis=0)
    out: Array = steps / np.maximum(np.hypot(*steps.T), 1e-12)[:, None]
    return out


def _smoothed(curve: Array, sigma: float) -> Array:
    """A curve smoothed along itself, its ends kept."""
    from scipy.ndimage import gaussian_filter1d

    ends = np.linspace(curve[0], curve[-1], len(curve))
    out: Array = ends + gaussian_filter1d(curve - ends, sigma / _NODE_MM, axis=0, mode="nearest")
    return out


def _even(curve: Array, step: float) -> Array:
    """The same curve with nodes evenly spaced."""
    lengths = np.hypot(*np.diff(curve, axis=0).T)
    keep = np.concatenate([[True], lengths > 1e-9])
    curve = curve[keep]
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(curve, axis=0).T))])
    at = np.linspace(0.0, arc[-1], max(2, round(arc[-1] / step) + 1))
    return np.stack([np.interp(at, arc, curve[:, i]) for i in (0, 1)], axis=1)


def _unlooped(curve: Array) -> Array:
    """A curve without the loops in which it crosses itself."""
    reach = 60
    at = 0
    keep = np.ones(len(curve), dtype=bool)
    out = curve.copy()
    while at < len(curve) - 3:
        a, b = out[at], out[at + 1]
        c, d = out[at + 2 : at + reach], out[at + 3 : at + reach + 1]
        n = min(len(c), len(d))
        c, d = c[:n], d[:n]
        hit = _crosses(a, b, c, d)
        if hit.any():
            j = at + 2 + int(np.flatnonzero(hit)[-1])
            keep[at + 1 : j + 1] = False
            at = j + 1
        else:
            at += 1
    return out[keep]


def _crosses(a: Array, b: Array, c: Array, d: Array) -> Mask:
    def turn(p: Array, q: Array, r: Array) -> Array:
        out: Array = (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (
            r[..., 0] - p[..., 0]
        )
        return out

    hit: Mask = (turn(a, b, c) * turn(a, b, d) < 0) & (
        turn(c, d, a[None]) * turn(c, d, b[None]) < 0
    )
    return hit


def plan_slopes(points: Array, stations: Array) -> Array:
    """How fast the face runs rearward across every station: dx / dy, from its foremost points."""
    width = np.abs(points[:, 1])
    low = points[:, 2] < np.percentile(points[:, 2], 60)
    bins = (width[low] / 20.0).astype(np.int64)
    x = points[low][:, 0]
    order = np.lexsort((x, bins))
    starts = np.searchsorted(bins[order], np.arange(bins.max() + 2))
    front = np.array(
        [
            np.median(x[order[a : a + max(5, (b - a) // 50)]]) if b - a >= 20 else np.nan
            for a, b in zip(starts[:-1], starts[1:], strict=True)
        ]
    )
    y = (np.arange(len(front)) + 0.5) * 20.0
    out = []
    for at in stations:
        near = (np.abs(y - at) < 90.0) & np.isfinite(front)
        if near.sum() < 3:
            out.append(0.0)
            continue
        if at < 90.0:
            out.append(2.0 * float(np.polyfit(y[near] ** 2, front[near], 1)[0]) * at)
        else:
            out.append(float(np.polyfit(y[near] - at, front[near], 2)[1]))
    return np.array(out)

"""The pose of a scan: its body, its centre plane, and the way it faces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.front import MOST_LONG_MM, MOST_WIDE_MM
from frontcheck.reading.cad_file import axis_of

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.reading.scan.scan_ground import Ground

_ABOVE_MM: Final = 80.0
_VOXEL_MM, _LEAST_IN_VOXEL = 50.0, 4
_SECOND: Final = 0.3
"""A second body this large beside the first is another vehicle: own choice."""
_NEIGHBOURS: Final = 8
_MOST_UNDER: Final = 0.7
_CELL_MM: Final = 20.0
_MATCH_MM: Final = 25.0
"""A mirrored point this near to the body is matched."""
_LEAST_MATCHED, _MOST_LEAN_DEG, _MOST_RMS = 0.7, 0.5, 3.0
_ENDS_MM: Final = 150.0
"""Ends whose heights differ by less do not tell which is the front."""
_NARROWEST_MM: Final = 600.0


@dataclass(frozen=True)
class Pose:
    """How file coordinates become ours, and how well that is known."""

    axes: Array  # (3, 3) float, rows: rearward, right and up in file coordinates
    origin: Array  # (3,) float, ours of the origin of the file [mm]
    matched: float  # share of the body that has its mirror image
    rms: float  # of the mirrored body about itself [mm]
    lean_deg: float  # of the centre plane, left free as a check [deg]

    def __call__(self, points: Array) -> Array:
        """Return points in our axes: (n, 3) float, rearward, right, up [mm]."""
        ours: Array = points @ self.axes.T + self.origin
        return ours


def unit_vector(axis: str | None, name: str, file: str) -> Array | None:
    """Unit vector of an axis such as ``-x``; None where none is given."""
    if axis is None:
        return None
    index, sign = axis_of(axis, name, file)
    out: Array = sign * np.eye(3)[index]
    return out


def find_body(points: Array, ground: Ground, file: str) -> tuple[Mask, float]:
    """Find the largest body that stands on the ground, strays left out; and the spacing [mm]."""
    from scipy.ndimage import generate_binary_structure, label
    from scipy.spatial import cKDTree

    high = np.flatnonzero(points @ ground.up - ground.height > _ABOVE_MM)
    if len(high) < 1000:
        raise refuse("scan.no_body", file, count=len(high))
    own = points[high]
    voxels = np.floor((own - own.min(axis=0)) / _VOXEL_MM).astype(np.int64)
    size = voxels.max(axis=0) + 1
    if size.prod() > 50_000_000:
        raise refuse("scan.extent", file, box=_box(own))
    index = np.ravel_multi_index(tuple(voxels.T), tuple(size))
    counts = np.bincount(index, minlength=int(size.prod()))
    labels, found = label(
        (counts >= _LEAST_IN_VOXEL).reshape(size), generate_binary_structure(3, 3)
    )
    if found == 0:
        raise refuse("scan.no_body", file, count=len(high))
    label_of = labels.reshape(-1)[index]
    sizes = np.bincount(label_of, minlength=found + 1)[1:]
    largest = int(sizes.argmax()) + 1
    second = int(np.sort(sizes)[-2]) if found > 1 else 0
    if second > _SECOND * sizes.max():
        raise refuse("scan.two_bodies", file, share=100 * second / sizes.max())
    inside = high[label_of == largest]
    body = points[inside]
    tree: Any = cKDTree(body)
    rng = np.random.default_rng(0)
    some = body[rng.permutation(len(body))[:2000]]
    # The eighth neighbour of an even grid is 1.4 spacings away.
    eighth = tree.query(some, k=_NEIGHBOURS + 1)[0][:, -1]
    spacing = float(np.median(eighth)) / np.sqrt(2.0)
    reach = max(14.0, 3.0 * spacing)
    kept = tree.query(body, k=_NEIGHBOURS + 1, distance_upper_bound=reach)[0][:, -1] < np.inf
    mask = np.zeros(len(points), dtype=bool)
    mask[inside[kept]] = True
    if mask.sum() < 1000:
        raise refuse("scan.no_body", file, count=int(mask.sum()))
    return mask, spacing


def _box(points: Array) -> str:
    return " x ".join(f"{side:.4g}" for side in np.ptp(points, axis=0))


def find_pose(
    points: Array,
    body: Array,
    ground: Ground,
    forward: Array | None,
    rng: np.random.Generator,
    file: str,
) -> Pose:
    """Find centre plane and direction of a body that stands on its ground."""
    first = np.eye(3)[np.argmin(np.abs(ground.up))]
    first = first - ground.up * (first @ ground.up)
    first /= np.linalg.norm(first)
    level = np.array([first, np.cross(ground.up, first), ground.up])
    local = body @ level.T - [0.0, 0.0, ground.height]
    _check_footprint(local, points @ level.T - [0.0, 0.0, ground.height], ground, file)
    mirror = _Mirror(_thinned(local))
    normal, offset, matched, rms, lean = mirror.plane(rng)
    if matched < _LEAST_MATCHED:
        raise refuse("scan.not_matched", file, share=100 * matched, least=100 * _LEAST_MATCHED)
    if abs(lean) > _MOST_LEAN_DEG:
        raise refuse("scan.lean", file, lean=abs(lean), most=_MOST_LEAN_DEG)
    if rms > _MOST_RMS * max(ground.sd, 1.0):
        raise refuse("scan.mirror_rms", file, rms=rms, sd=ground.sd, most=_MOST_RMS)
    along = np.array([normal[1], -normal[0], 0.0])  # along x up points along the normal, or not
    x, y, z = local @ along, local @ normal - offset, local[:, 2]
    length, width = float(np.ptp(x)), float(2 * np.percentile(np.abs(y), 99.9))
    if width > MOST_WIDE_MM or length > MOST_LONG_MM:
        raise refuse("scan.extent", file, box=f"{length:.4g} x {width:.4g} x {np.ptp(z):.4g}")
    if width < _NARROWEST_MM:
        raise refuse("scan.narrow", file, width=width)
    rearward = along * _rearward(x, y, z, level, along, forward, file)
    right = np.cross([0.0, 0.0, 1.0], rearward)
    axes = np.array([rearward, right, [0.0, 0.0, 1.0]])
    return Pose(
        axes @ level,
        np.array([0.0, -offset * (right @ normal), -ground.height]),
        matched,
        rms,
        float(lean),
    )


def _check_footprint(body: Array, points: Array, ground: Ground, file: str) -> None:
    """Refuse a ground that lies below the body only: that is a side of the body itself."""
    on = points[np.abs(points[:, 2]) < 4.0 * ground.sd, :2]
    low = np.minimum(body[:, :2].min(axis=0), on.min(axis=0))
    cells = [np.floor((own[:, :2] - low) / 100.0).astype(np.int64) for own in (body, on)]
    if max(own.max() for own in cells) > 2000:
        raise refuse("scan.extent", file, box=_box(body))
    under = np.zeros((2001, 2001), dtype=bool)
    under[tuple(cells[0].T)] = True
    if under[tuple(cells[1].T)].mean() > _MOST_UNDER:
        raise refuse("scan.no_ground", file, share=5.0)


def _rearward(
    x: Array,
    y: Array,
    z: Array,
    level: Array,
    along: Array,
    forward: Array | None,
    file: str,
) -> float:
    """Which way along the body is rearward: +1 or -1."""
    if forward is not None:
        share = float(along @ level @ forward)
        if abs(share) < 0.5:
            raise refuse("scan.forward_across", file)
        return -1.0 if share > 0 else 1.0
    middle = np.abs(y) < np.percentile(np.abs(y), 99) / 3.0
    x, z = x[middle], z[middle]
    low, high = np.percentile(x, [0.1, 99.9])
    first, last = (
        float(np.percentile(z[end], 95)) for end in (x < low + _ENDS_MM, x > high - _ENDS_MM)
    )
    if abs(first - last) < _ENDS_MM:
        raise refuse("scan.forward", file, one=first, two=last, least=_ENDS_MM)
    return 1.0 if first < last else -1.0


def _thinned(points: Array) -> Array:
    """Means of the points in every cell."""
    cells = np.floor(points / _CELL_MM).astype(np.int64)
    cells -= cells.min(axis=0)
    size = cells.max(axis=0) + 1
    index = (cells[:, 0] * size[1] + cells[:, 1]) * size[2] + cells[:, 2]
    _, own, counts = np.unique(index, return_inverse=True, return_counts=True)
    sums = np.stack([np.bincount(own, points[:, i]) for i in range(3)], axis=1)
    means: Array = (sums / counts[:, None])[counts >= 2]
    return means


class _Mirror:
    """The body and its mirror image in an upright plane."""

    def __init__(self, points: Array) -> None:
        from scipy.spatial import cKDTree

        self.points = points
        self.tree: Any = cKDTree(points)
        near = points[self.tree.query(points, k=20)[1]]
        near -= near.mean(axis=1, keepdims=True)
        values, ways = np.linalg.eigh(np.einsum("nki,nkj->nij", near, near))
        self.normals = ways[:, :, 0]
        # What is no surface (edges of holes, strays) says little of where the mirror stands.
        self.flat = values[:, 0] < 0.1 * values[:, 1]

    def plane(self, rng: np.random.Generator) -> tuple[Array, float, float, float, float]:
        """Return normal, offset, share matched, rms [mm] and lean [deg] of the best plane."""
        from scipy.spatial import cKDTree

        order = rng.permutation(len(self.points))
        sample = self.points[order[:1500]]
        coarse: Any = cKDTree(self.points[order[: max(4000, len(order) // 4)]])
        starts = []
        for angle in np.radians(np.arange(0.0, 180.0, 3.0)):
            normal = np.array([np.cos(angle), np.sin(angle), 0.0])
            reach = self.points @ normal
            middle = 0.5 * (reach.min() + reach.max())
            for offset in (middle, float(np.median(reach)), float(reach.mean())):
                off = coarse.query(
                    sample - 2.0 * np.outer(sample @ normal - offset, normal),
                    distance_upper_bound=300.0,
                )[0]
                off = np.sort(np.minimum(off, 300.0))[: int(0.7 * len(off))]
                starts.append((float(off.mean()), angle, offset))
        starts.sort()
        some = rng.permutation(np.flatnonzero(self.flat))[:4000]
        found = []
        for _, angle, offset in starts[:3]:
            state = np.array([angle, offset, 0.0])
            for width in (200.0, 100.0, 50.0, 50.0, 30.0, 30.0):
                state = self._step(state, some, width, free=True)
            found.append((-self._matched(state, some), tuple(state)))
        state = np.array(min(found)[1])
        every = np.flatnonzero(self.flat)
        for _ in range(10):
            state = self._step(state, every, 30.0, free=True)
        lean = float(np.degrees(state[2]))
        state[2] = 0.0
        for _ in range(10):
            state = self._step(state, every, 30.0, free=False)
        matched = self._matched(state, np.arange(len(self.points)))
        off = self._residuals(state, every)[0]
        off = np.abs(off[np.abs(off) < _MATCH_MM])
        rms = float(np.sqrt((off**2).mean()) / np.sqrt(2.0)) if len(off) else np.inf
        angle, offset, _ = state
        return (
            np.array([np.cos(angle), np.sin(angle), 0.0]),
            float(offset),
            matched,
            rms,
            lean,
        )

    def _reflected(self, state: Array, points: Array) -> tuple[Array, Array, Array]:
        angle, offset, lean = state
        normal = np.array(
            [np.cos(angle) * np.cos(lean), np.sin(angle) * np.cos(lean), np.sin(lean)]
        )
        off = points @ normal - offset
        return points - 2.0 * np.outer(off, normal), normal, off

    def _matched(self, state: Array, some: Index) -> float:
        image = self._reflected(state, self.points[some])[0]
        near = self.tree.query(image, distance_upper_bound=_MATCH_MM)[0] < np.inf
        return float(near.mean())

    def _residuals(self, state: Array, some: Index) -> tuple[Array, Array, Mask]:
        points = self.points[some]
        image, normal, off = self._reflected(state, points)
        distance, near = self.tree.query(image, distance_upper_bound=200.0)
        found = distance < np.inf
        near = np.where(found, near, 0)
        square = self.normals[near]
        residual = np.einsum("ij,ij->i", square, image - self.points[near])
        angle = state[0]
        turned = np.array([-np.sin(angle), np.cos(angle), 0.0])
        tipped = np.array([0.0, 0.0, 1.0])
        along = square @ normal
        slopes = np.stack(
            [
                -2.0 * (off * (square @ turned) + (points @ turned) * along),
                2.0 * along,
                -2.0 * (off * (square @ tipped) + (points @ tipped) * along),
            ],
            axis=1,
        )
        # What runs along a surface is free to: a far neighbour in its plane is no match.
        across = distance**2 - residual**2
        found &= across < (2.0 * _CELL_MM) ** 2
        found &= self.flat[near]
        return np.where(found, residual, np.inf), slopes, found

    def _step(self, state: Array, some: Index, width: float, *, free: bool) -> Array:
        residual, slopes, _ = self._residuals(state, some)
        weight = np.maximum(1.0 - (residual / width) ** 2, 0.0) ** 2
        used = weight > 0
        if used.sum() < 30:
            return state
        a, r = slopes[used], residual[used]
        if not free:
            a = a[:, :2]
        w = weight[used][:, None]
        lhs = a.T @ (w * a)
        lhs += 1e-9 * np.trace(lhs) * np.eye(len(lhs))
        move = np.linalg.solve(lhs, a.T @ (w[:, 0] * r))
        out = state.copy()
        out[: len(move)] -= move
        return out

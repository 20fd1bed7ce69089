"""The ground of a scan: the plane that everything stands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_SAMPLE: Final = 40_000
_TRIPLES: Final = 400
_BEST: Final = 30
_ALIKE: Final = (0.985, 150.0)  # cosine, and distance in the middle of all [mm]
_NEAR_MM: Final = 500.0
"""Half of the triples are picked this close together: three of a small patch are found so."""
_TOLERANCE_MM: Final = 12.0
_BELOW: Final = (0.02, 60.0)
"""A plane with more than this share of the points farther than this [mm] on both sides is none."""
_LEAST_SHARE: Final = 0.05
_LEAST_PATCH_MM: Final = 1000.0
_UP_DEG: Final = 30.0
"""How far the stated axis may be from the normal of the ground [deg]."""


@dataclass(frozen=True)
class Ground:
    """The plane of the ground in file coordinates."""

    up: Array  # (3,) float, unit normal, away from the ground
    height: float  # of the plane along `up` [mm]
    sd: float  # of the points about it [mm]
    share: float  # of all points that lie on it
    patch: tuple[float, float]  # length and width of what was scanned [mm]


def robust_sd(off: Array) -> float:
    """Standard deviation of what is normal about 0 but for strays."""
    return float(1.4826 * np.median(np.abs(off)))


def find_ground(points: Array, up: Array | None, rng: np.random.Generator, file: str) -> Ground:
    """Find the plane that holds most points of those that have the rest on one side."""
    sample = points[rng.permutation(len(points))[:_SAMPLE]]
    best: tuple[int, Array, float] | None = None
    for candidate in _candidates(sample, up, rng):
        normal, height = candidate
        for tolerance in (3 * _TOLERANCE_MM, _TOLERANCE_MM, _TOLERANCE_MM):
            on = np.abs(sample @ normal - height) < tolerance
            if on.sum() < 10:
                break
            normal, height = _fitted(sample[on], normal)
        off = sample @ normal - height
        count = int((np.abs(off) < _TOLERANCE_MM).sum())
        sides = [float((way * off > _BELOW[1]).mean()) for way in (1.0, -1.0)]
        close = np.abs(off[np.abs(off) < 3 * _TOLERANCE_MM])
        curved = robust_sd(close) > _TOLERANCE_MM  # a bonnet or a roof
        if curved or min(sides) > _BELOW[0] or (best is not None and count <= best[0]):
            continue
        way = 1.0 if sides[0] >= sides[1] else -1.0
        if up is None or way * (normal @ up) > np.cos(np.radians(_UP_DEG)):
            best = count, way * normal, way * height
    if best is None:
        raise refuse("scan.no_ground", file, share=100 * _LEAST_SHARE)
    return _checked(points, best[1], best[2], file)


def _candidates(
    sample: Array, up: Array | None, rng: np.random.Generator
) -> list[tuple[Array, float]]:
    """Planes through triples that hold most points, the fullest."""
    from scipy.spatial import cKDTree

    first = rng.integers(len(sample), size=_TRIPLES)
    others = rng.integers(len(sample), size=(_TRIPLES, 2))
    near = cKDTree(sample).query_ball_point(sample[first[::2]], _NEAR_MM)
    for i, own in zip(range(0, _TRIPLES, 2), near, strict=True):
        others[i] = rng.choice(np.sort(own), 2)
    a, b, c = sample[first], sample[others[:, 0]], sample[others[:, 1]]
    normals = np.cross(b - a, c - a)
    size = np.linalg.norm(normals, axis=1)
    fine = size > 1e4  # mm2: three points in a line make no plane
    if up is not None:
        fine &= np.abs(normals @ up) > size * np.cos(np.radians(_UP_DEG))
    normals = normals[fine] / size[fine, None]
    heights = np.einsum("ij,ij->i", normals, a[fine])
    some = sample[:: max(1, len(sample) // 8000)].astype(np.float32)
    off = np.abs(some @ normals.T.astype(np.float32) - heights.astype(np.float32))
    middle = sample.mean(axis=0)
    levels = heights - normals @ middle
    kept: list[int] = []
    for i in np.argsort(-(off < 2 * _TOLERANCE_MM).sum(axis=0), kind="stable").tolist():
        # One of each kind: a bonnet may give more triples than the ground does.
        alike = normals[kept] @ normals[i] if kept else np.zeros(0)
        apart = np.abs(levels[kept] - np.sign(alike) * levels[i])
        if not ((np.abs(alike) > _ALIKE[0]) & (apart < _ALIKE[1])).any():
            kept.append(i)
        if len(kept) == _BEST:
            break
    return [(normals[i], float(heights[i])) for i in kept]


def _fitted(on: Array, normal: Array) -> tuple[Array, float]:
    """Plane of least squares, distances taken square to it."""
    middle = on.mean(axis=0)
    found = np.linalg.eigh(np.cov((on - middle).T))[1][:, 0]
    found = found if found @ normal > 0 else -found
    return found, float(found @ middle)


def _checked(points: Array, normal: Array, height: float, file: str) -> Ground:
    sd = _TOLERANCE_MM / 3
    for _ in range(4):
        off = points @ normal - height
        on = np.abs(off) < max(3.0 * sd, 3.0)
        if on.sum() < 10:
            raise refuse("scan.no_ground", file, share=100 * _LEAST_SHARE)
        normal, height = _fitted(points[on], normal)
        off = points @ normal - height
        near = np.abs(off) < max(4.0 * sd, 6.0)
        sd = robust_sd(off[near])
        sd = min(max(sd, 0.05), 2 * _TOLERANCE_MM)
    share = float((np.abs(off) < max(3.0 * sd, 3.0)).mean())
    flat = points[on] - normal * off[on, None]
    axes = np.linalg.eigh(np.cov(flat.T))[1][:, 1:]
    ends = np.percentile(flat @ axes, [0.5, 99.5], axis=0)
    width, length = sorted((ends[1] - ends[0]).tolist())
    if share < _LEAST_SHARE:
        raise refuse("scan.no_ground", file, share=100 * _LEAST_SHARE)
    if width < _LEAST_PATCH_MM:
        raise refuse("scan.small_ground", file, length=length, width=width, least=_LEAST_PATCH_MM)
    return Ground(normal, height, sd, share, (length, width))

"""Places of points that were not measured as height and setback, and how unsure they are.

Places are (n, 2), x rearward and z up [mm]; covariances (n, 2, 2) [mm^2].
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array

    Places = tuple[Array, Array]


def from_polar(
    origin: tuple[float, float], ranges: Array, angles_deg: Array,
    range_u: float = 0.0, angle_u_deg: float = 0.0,
) -> Places:  # fmt: skip
    """Return places at ranges and angles from an origin; angles rise from the rear upwards."""
    a, u_a = np.radians(angles_deg), np.radians(angle_u_deg)
    along = np.stack([np.cos(a), np.sin(a)], axis=-1)
    across = np.stack([-along[:, 1], along[:, 0]], axis=-1) * ranges[:, None]
    covariance = _square(along) * range_u**2 + _square(across) * u_a**2
    return np.asarray(origin) + along * ranges[:, None], covariance


def _square(v: Array) -> Array:
    product: Array = v[:, :, None] * v[:, None, :]
    return product


def from_two_tapes(
    a: tuple[float, float], b: tuple[float, float], from_a: Array,
    from_b: Array, tape_u: float = 0.0,
) -> Places:  # fmt: skip
    """Return places at distances from two marks, above the line through them; NaN where none is."""
    first, step = np.asarray(a), np.subtract(b, a)
    apart = float(np.hypot(*step))
    along = step / apart
    up = np.array([-along[1], along[0]]) * (1.0 if along[0] > 0.0 else -1.0)
    foot = (from_a**2 - from_b**2 + apart**2) / (2.0 * apart)
    square = from_a**2 - foot**2
    height = np.sqrt(np.where(square > 0.0, square, np.nan))
    places = first + foot[:, None] * along + height[:, None] * up
    # Lengths change along the tapes: the places follow by the inverse of those two directions.
    ways = np.stack([places - first, places - np.asarray(b)], axis=1)
    ways /= np.hypot(ways[..., 0], ways[..., 1])[..., None]
    found = np.isfinite(height)
    back = np.full_like(ways, np.nan)
    back[found] = np.linalg.inv(ways[found])
    return places, np.einsum("nij,nkj->nik", back, back) * tape_u**2


# A comb: short pieces of the contour, each in its own frame, joined where they overlap.
#
# Places and frames are complex numbers here, x + iz: a piece stands at t + exp(i phi) p.

_STEPS, _STILL = 50, 1e-6  # steps at most; ended by one that moves nothing [mm, rad]

Pair = tuple[int, int, complex, complex]
"""A point read in two pieces: both pieces, and where it lies in each."""
Anchor = tuple[int, complex, complex, tuple[float, float]]
"""A point measured otherwise: its piece, where it lies in it, its place, and u of x and z [mm]."""


def from_comb(
    pieces: Sequence[NDArray[np.complex128]], pairs: Sequence[Pair], anchors: Sequence[Anchor],
    comb_u: float,
) -> tuple[list[Places], Array]:  # fmt: skip
    """Return the places of all pieces, and how far off each pair and anchor is, in its own u."""
    # Least squares over the stands (x, z and angle of every piece), by Gauss and Newton's steps.
    poses = _first_stands(len(pieces), pairs, anchors)
    for _ in range(_STEPS):
        misfit, jacobian = _misfits(poses, pairs, anchors, comb_u)
        step, *_ = np.linalg.lstsq(jacobian, -misfit)
        poses = poses + step
        if np.abs(step).max() < _STILL:
            break
    misfit, jacobian = _misfits(poses, pairs, anchors, comb_u)
    off = np.hypot(*misfit.reshape(-1, 2).T)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    t, turn = _stands(poses)
    found = []
    for i, piece in enumerate(pieces):
        placed, lever = t[i] + turn[i] * piece, 1j * turn[i] * piece
        way = np.zeros((len(piece), 2, 3))
        way[:, 0, 0] = way[:, 1, 1] = 1.0
        way[:, 0, 2], way[:, 1, 2] = lever.real, lever.imag
        own = covariance[3 * i : 3 * i + 3, 3 * i : 3 * i + 3]
        spread = np.einsum("nij,jk,nlk->nil", way, own, way) + comb_u**2 * np.eye(2)
        found.append((np.stack([placed.real, placed.imag], axis=-1), spread))
    return found, off


def _stands(poses: Array) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    x, z, phi = poses.reshape(-1, 3).T
    return x + 1j * z, np.exp(1j * phi)


def _misfits(
    poses: Array, pairs: Sequence[Pair], anchors: Sequence[Anchor], comb_u: float
) -> tuple[Array, Array]:
    """How far off pairs and anchors are in x and z, in their own u, and how that changes."""
    t, turn = _stands(poses)
    misfit = np.zeros((len(pairs) + len(anchors), 2))
    jacobian = np.zeros((*misfit.shape, len(poses)))

    def add(row: int, piece: int, own: complex, sign: float) -> None:
        arm = sign * turn[piece] * own
        misfit[row] += [(sign * t[piece] + arm).real, (sign * t[piece] + arm).imag]
        jacobian[row, :, 3 * piece : 3 * piece + 3] = [
            [sign, 0.0, -arm.imag],
            [0.0, sign, arm.real],
        ]

    u = np.full(misfit.shape, np.sqrt(2.0) * comb_u)
    for row, (one, two, p, q) in enumerate(pairs):
        add(row, one, p, 1.0)
        add(row, two, q, -1.0)
    for row, (piece, own, at, stated) in enumerate(anchors, start=len(pairs)):
        add(row, piece, own, 1.0)
        misfit[row] -= [at.real, at.imag]
        u[row] = np.hypot(stated, comb_u)
    return (misfit / u).ravel(), (jacobian / u[..., None]).reshape(misfit.size, -1)


def _first_stands(count: int, pairs: Sequence[Pair], anchors: Sequence[Anchor]) -> Array:
    """Stands to start from: every piece fitted to the one before, then all to the anchors."""
    stands = [(0.0 + 0.0j, 1.0 + 0.0j)]
    for i in range(1, count):
        t, turn = stands[-1]
        shared = [(q, t + turn * p) for _, other, p, q in pairs if other == i]
        stands.append(_fitted(shared))
    whole, round_ = _fitted([(stands[k][0] + stands[k][1] * p, at) for k, p, at, _ in anchors])
    return np.array(
        [
            each
            for t, turn in stands
            for each in (
                (whole + round_ * t).real, (whole + round_ * t).imag, np.angle(round_ * turn)
            )
        ]
    )  # fmt: skip


def _fitted(pairs: Sequence[tuple[complex, complex]]) -> tuple[complex, complex]:
    """Shift and turn that bring the first of each pair nearest to the second."""
    own, there = (np.array(each) for each in zip(*pairs, strict=True))
    turn = np.sum(np.conj(own - own.mean()) * (there - there.mean()))
    turn = turn / abs(turn) if abs(turn) > 0.0 else 1.0 + 0.0j
    return complex(there.mean() - turn * own.mean()), complex(turn)

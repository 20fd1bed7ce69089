"""Rigid bodies hung on one another in one plane: many copies moving at once.

Where every body is follows from where the first one's joint is and from the angle of each body
against the upright, so that the equations of motion hold nothing but cosines and sines of
differences of angles.

Glossary
--------
angle
    Of a body against the upright; positive tips its top to greater x [rad].
origin
    Joint by which a body hangs on the one before it; of the first body a point of its own.
pose
    Place of the first origin, then the angles: (B, 2 + n) [m, rad], one row a copy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array


class Chain:
    """n bodies, each hung on one before it."""

    def __init__(
        self, parent: Sequence[int], at: Array, centre: Array, mass: Array, inertia: Array
    ) -> None:
        # Origins (n, 2) in the axes of the body before [m], centres of mass (n, 2) from the origin
        # [m], masses (n,) [kg], inertias (n,) about the centre of mass [kg m2].
        self.parent, self.mass, self.inertia = np.array(parent), mass, inertia
        self.centre = centre
        n = len(mass)
        # Arms (n, n, 2): what each body before adds to the place of an origin, in its own axes.
        self.arms = np.zeros((n, n, 2))
        for i in range(1, n):
            self.arms[i] = self.arms[parent[i]]
            self.arms[i, parent[i]] = at[i]
        far = self.arms.copy()
        far[np.arange(n), np.arange(n)] = centre
        self.moment = np.einsum("k,kia->ia", mass, far)
        a, b = far[:, :, None], far[:, None]
        self.along = np.einsum("k,kij->ij", mass, (a * b).sum(axis=-1))
        self.across = np.einsum("k,kij->ij", mass, a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])

    def __len__(self) -> int:
        return len(self.mass)

    def origins(self, pose: Array) -> Array:
        """Place of every origin, (B, n, 2)."""
        arms = turned(self.arms, pose[:, None, 2:])
        return np.asarray(pose[:, None, :2] + arms.sum(axis=2))

    def origin_rates(self, pose: Array, rate: Array) -> Array:
        """How fast every origin moves, (B, n, 2)."""
        arms = swung(self.arms, pose[:, None, 2:]) * rate[:, None, 2:, None]
        return np.asarray(rate[:, None, :2] + arms.sum(axis=2))

    def centre_of_mass(self, pose: Array) -> Array:
        """Of all bodies together, (B, 2)."""
        arms = turned(self.moment, pose[:, 2:]).sum(axis=1)
        return np.asarray(pose[:, :2] + arms / self.mass.sum())

    def mass_matrix(self, pose: Array) -> Array:
        """Resistance to acceleration of the pose, (B, 2 + n, 2 + n)."""
        n, angle = len(self), pose[:, 2:]
        off = angle[:, None, :] - angle[:, :, None]
        out = np.zeros((len(pose), n + 2, n + 2))
        out[:, 0, 0] = out[:, 1, 1] = self.mass.sum()
        out[:, :2, 2:] = swung(self.moment, angle).swapaxes(1, 2)
        out[:, 2:, :2] = out[:, :2, 2:].swapaxes(1, 2)
        out[:, 2:, 2:] = self.along * np.cos(off) + self.across * np.sin(off)
        out[:, 2 + np.arange(n), 2 + np.arange(n)] += self.inertia
        return out

    def load(self, pose: Array, rate: Array, force: Array, torque: Array, field: Array) -> Array:
        """What drives the pose, (B, 2 + n), less what turning bodies pull on one another."""
        # Forces (B, n, 2) act at the origins, torques (B, n) on the bodies, a field (B, 2) on all.
        angle, turning = pose[:, 2:], rate[:, 2:] ** 2
        off = angle[:, None, :] - angle[:, :, None]
        out = np.empty_like(pose)
        pull = turned(self.moment, angle) * turning[..., None]
        out[:, :2] = force.sum(axis=1) + self.mass.sum() * field + pull.sum(axis=1)
        sine, cosine = np.sin(off), np.cos(off)
        own = (self.along * sine - self.across * cosine) @ turning[..., None]
        out[:, 2:] = (
            torque + own[..., 0] + (swung(self.moment, angle) * field[:, None]).sum(axis=-1)
        )
        arms = swung(self.arms, angle[:, None])  # (B, body, body before, 2)
        out[:, 2:] += (arms * force[:, :, None]).sum(axis=(1, 3))
        return out

    def acceleration(
        self, pose: Array, rate: Array, force: Array, torque: Array, field: Array
    ) -> Array:
        """Acceleration of the pose, (B, 2 + n)."""
        load = self.load(pose, rate, force, torque, field)
        solved = np.linalg.solve(self.mass_matrix(pose), load[..., None])
        return np.asarray(solved[..., 0], dtype=np.float64)

    def momentum(self, pose: Array, rate: Array) -> Array:
        """Momentum of all bodies together, (B, 2) [N s]."""
        arms = swung(self.moment, pose[:, 2:]) * rate[:, 2:, None]
        return np.asarray(self.mass.sum() * rate[:, :2] + arms.sum(axis=1))

    def kinetic(self, pose: Array, rate: Array) -> Array:
        """Energy of motion, (B,) [J]."""
        energy: Array = 0.5 * (rate * (self.mass_matrix(pose) @ rate[..., None])[..., 0]).sum(
            axis=1
        )
        return energy


def turned(arms: Array, angle: Array) -> Array:
    """Arms (..., 2), given in the axes of bodies, in those of the plane."""
    cosine, sine = np.cos(angle), np.sin(angle)
    x, z = arms[..., 0], arms[..., 1]
    return np.stack([cosine * x + sine * z, cosine * z - sine * x], axis=-1)


def swung(arms: Array, angle: Array) -> Array:
    """How the ends of arms (..., 2) move as their bodies turn, per radian."""
    cosine, sine = np.cos(angle), np.sin(angle)
    x, z = arms[..., 0], arms[..., 1]
    return np.stack([cosine * z - sine * x, -cosine * x - sine * z], axis=-1)

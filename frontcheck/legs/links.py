"""Equations of motion of two upright links against a silhouette. SI units inside: m, kg, s, N.

Coordinates, in full: displacement of the femur's end of the knee, slope of the femur, and the
same of the tibia; a slope is du/dz with z up, u rearward. A locked knee drops a coordinate, so
that a lock is exact. The state is (coordinates, their rates, impulse of the front, its moment
about the height of the knee, energy lost): the last three make the balances.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.legs.foundation import positive_range

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.legs.contact import Silhouette
    from frontcheck.people.impactors import RigidLegform

# Two points are exact up to cubes; penetration times its speed times its speed is one.
_GAUSS: Final = 0.5 + np.array([[-0.5], [0.5]]) / np.sqrt(3.0)
# The front pushes forward, against u: a leg that bends around it has its ends rearward of the
# knee, and a tibia pushed ahead of the femur has the smaller u.
_BENDING: Final = np.array([0.0, 1.0, 0.0, -1.0])
_SHEAR: Final = np.array([1.0, 0.0, -1.0, 0.0])


@dataclass(frozen=True, eq=False)
class Links:
    """Two links, their knee, and the front ahead of them."""

    full: NDArray[np.float64]  # (4, r) full coordinates from the r free ones
    mass: NDArray[np.float64]  # (4, 4) mass matrix in full coordinates
    inverse: NDArray[np.float64]  # (r, r) inverse of the mass matrix in free coordinates
    ends: NDArray[np.float64]
    setback: NDArray[np.float64]  # (2, n) setback there, from the foremost point [m]
    upper: NDArray[np.bool_]  # (n,) bool, whether a piece faces the femur
    stiffness: NDArray[np.float64]  # (n,) [N/m2]
    damping: NDArray[np.float64]  # (n,) [s/m]
    bending: tuple[float, float]
    shear: tuple[float, float]
    accelerometer: float  # Height above the knee [m], negative
    length: float  # Length of the legform [m], for scale

    @classmethod
    def of(
        cls,
        legform: RigidLegform,
        seen: Silhouette,
        *,
        stiffness: NDArray[np.float64],
        damping: NDArray[np.float64],
        bending: tuple[float, float],
        shear: tuple[float, float],
    ) -> Links:
        """Put a legform before a silhouette."""
        pieces = seen.split(legform.knee_height_mm)
        mass = np.zeros((4, 4))
        for at, m, c, inertia in (
            (0, legform.femur_mass_kg, legform.femur_centre_mm, legform.femur_inertia_kg_m2),
            (2, legform.tibia_mass_kg, -legform.tibia_centre_mm, legform.tibia_inertia_kg_m2),
        ):
            arm = c / 1e3
            mass[at : at + 2, at : at + 2] = [[m, m * arm], [m * arm, inertia + m * arm * arm]]
        full = np.eye(4)
        if math.isinf(bending[0]):
            full[:, 1] += full[:, 3]
        if math.isinf(shear[0]):
            full[:, 0] += full[:, 2]
        locked = [i for i, law in ((3, bending), (2, shear)) if math.isinf(law[0])]
        full = np.delete(full, locked, axis=1)
        ends = (pieces.z.T - legform.knee_height_mm) / 1e3
        return cls(
            full=full,
            mass=mass,
            inverse=np.asarray(np.linalg.inv(full.T @ mass @ full), dtype=np.float64),
            ends=ends,
            setback=(pieces.x.T - seen.foremost_x) / 1e3,
            upper=ends.sum(axis=0) > 0.0,
            stiffness=stiffness,
            damping=damping,
            bending=(0.0, 0.0) if math.isinf(bending[0]) else bending,
            shear=(0.0, 0.0) if math.isinf(shear[0]) else shear,
            accelerometer=-legform.accelerometer_below_knee_mm / 1e3,
            length=legform.length_mm / 1e3,
        )

    @property
    def free(self) -> int:
        """Number of free coordinates."""
        return int(self.full.shape[1])

    def launch(self, speed: float) -> NDArray[np.float64]:
        """Return the state at first contact: upright, level flight."""
        state = np.zeros(2 * self.free + 3)
        # Every free coordinate is one of the full ones, so this picks the displacements.
        state[self.free : 2 * self.free] = speed * (self.full[[0, 2]].sum(axis=0) > 0.0)
        return state

    def coordinates(self, state: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Return full coordinates and their rates."""
        r = self.free
        return self.full @ state[:r], self.full @ state[r : 2 * r]

    def _at_ends(self, q: NDArray[np.float64]) -> NDArray[np.float64]:
        """Displacement (or speed) of the link at both ends of every piece, (2, n)."""
        base = np.where(self.upper, q[0], q[2])
        slope = np.where(self.upper, q[1], q[3])
        return np.asarray(base + slope * self.ends)

    def contact(
        self, q: NDArray[np.float64], rate: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], float, float]:
        """Return what the front does to the links."""
        push = np.zeros(4)
        pressed = self._at_ends(q) - self.setback
        touched = (pressed > 0.0).any(axis=0) & (self.stiffness > 0.0)
        if not touched.any():
            return push, 0.0, 0.0
        pressed = pressed[:, touched]
        speed = self._at_ends(rate)[:, touched]
        ends, upper = self.ends[:, touched], self.upper[touched]
        k, beta = self.stiffness[touched], self.damping[touched]
        size = ends[1] - ends[0]
        first, last = positive_range(pressed[0], pressed[1])
        at = first + (last - first) * _GAUSS
        weight = 0.5 * (last - first) * size * k
        depth = pressed[0] + (pressed[1] - pressed[0]) * at
        moving = speed[0] + (speed[1] - speed[0]) * at
        stored = float((0.5 * weight * depth**2).sum())
        elastic = float((weight * depth * moving).sum())
        # The skin does not pull: only where 1 + damping * speed is positive.
        gain = 1.0 + beta * speed
        lowest, highest = positive_range(gain[0], gain[1])
        first, last = np.maximum(first, lowest), np.minimum(last, highest)
        last = np.maximum(first, last)
        at = first + (last - first) * _GAUSS
        weight = 0.5 * (last - first) * size * k
        depth = pressed[0] + (pressed[1] - pressed[0]) * at
        moving = speed[0] + (speed[1] - speed[0]) * at
        force = weight * depth * (1.0 + beta * moving)
        height = ends[0] + size * at
        total, moment = force.sum(axis=0), (force * height).sum(axis=0)
        push[:] = [
            -total[upper].sum(),
            -moment[upper].sum(),
            -total[~upper].sum(),
            -moment[~upper].sum(),
        ]
        return push, stored, float((force * moving).sum()) - elastic

    def derivative(self, _time: float, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the rate of change of the state."""
        r = self.free
        q, rate = self.coordinates(state)
        push, _, lost = self.contact(q, rate)
        out = np.empty_like(state)
        out[:r] = state[r : 2 * r]
        out[r : 2 * r] = self.inverse @ (self.full.T @ (push + self._knee(q, rate)))
        out[2 * r] = push[0] + push[2]
        out[2 * r + 1] = push[1] + push[3]
        turning, sliding = rate @ _BENDING, rate @ _SHEAR
        out[2 * r + 2] = lost + self.bending[1] * turning**2 + self.shear[1] * sliding**2
        return out

    def _knee(self, q: NDArray[np.float64], rate: NDArray[np.float64]) -> NDArray[np.float64]:
        moment = self.bending[0] * (q @ _BENDING) + self.bending[1] * (rate @ _BENDING)
        force = self.shear[0] * (q @ _SHEAR) + self.shear[1] * (rate @ _SHEAR)
        return np.asarray(-moment * _BENDING - force * _SHEAR)

    def energies(self, state: NDArray[np.float64]) -> tuple[float, float, float, float]:
        """Return kinetic energy, energy in skin and knee, and energy lost so far [J]."""
        q, rate = self.coordinates(state)
        _, stored, _ = self.contact(q, rate)
        knee = 0.5 * (self.bending[0] * (q @ _BENDING) ** 2 + self.shear[0] * (q @ _SHEAR) ** 2)
        return float(0.5 * rate @ self.mass @ rate), stored, float(knee), float(state[-1])

    def momentum_error(self, start: NDArray[np.float64], state: NDArray[np.float64]) -> float:
        """Return how far momentum and impulse are apart, relative to the start."""
        r = self.free
        before = self.mass @ self.coordinates(start)[1]
        now = self.mass @ self.coordinates(state)[1]
        scale = before[0] + before[2]
        linear = now[0] + now[2] - scale - (state[2 * r] - start[2 * r])
        angular = (now - before)[[1, 3]].sum() - (state[2 * r + 1] - start[2 * r + 1])
        return float(max(abs(linear), abs(angular) / self.length) / abs(scale))

    def measure(self, state: NDArray[np.float64]) -> tuple[float, float, float, float]:
        """Return what is recorded of a state."""
        q, rate = self.coordinates(state)
        push, _, _ = self.contact(q, rate)
        faster = self.full @ (self.inverse @ (self.full.T @ (push + self._knee(q, rate))))
        tibia = faster[2] + faster[3] * self.accelerometer
        return float(q @ _BENDING), float(q @ _SHEAR), float(tibia), -float(push[0] + push[2])

    def largest_rotation(self, state: NDArray[np.float64]) -> float:
        """Return the largest of bending and the tilt of both links."""
        q, _ = self.coordinates(state)
        return float(max(abs(q[1]), abs(q[3]), abs(q @ _BENDING)))

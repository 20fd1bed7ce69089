"""Equations of motion of an upright legform against a silhouette. SI units inside: m, kg, s, N.

Coordinates, in full, of the femur and then of the tibia: displacement of its end at the knee, slope
there, and how much each joint of its bones bends; a slope is du/dz with z up, u rearward. A bone is
a row of stiff pieces, joined by springs at the middles of equal cells. A locked knee drops a
coordinate, so that a lock is exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array
    from frontcheck.people.impactors import Knee, Legform, Segment

CELLS: Final = 14
"""Cells of a bone, own choice: a centred load then bends it as a beam to within 1 %. The outermost
has no joint: next to nothing bends there, and a light piece at the end would ask for tiny steps."""
BONE_LOSS_S: Final = 1e-4
"""Bones lose what springs that give way so long would: own choice, some 3 % of a ringing at 100 Hz,
so that a bone once struck does not ring for ever."""


@dataclass(frozen=True)
class Joint:
    """Where a bone bends."""

    height: float  # Above the knee [m], negative on the tibia
    spring: float  # [N m/rad]
    coordinate: int  # Which of the full ones


@dataclass(frozen=True, eq=False)
class Links:
    """Two halves and their knee."""

    full: Array  # (R, r) full coordinates from the r free ones
    mass: Array  # (r, r)
    inverse: Array  # (r, r) of the mass
    spring: Array  # (r, r)
    damper: Array  # (r, r)
    joints: tuple[Joint, ...]
    tibia: int  # The first of the tibia's full coordinates
    ends: tuple[float, float]  # Lower and upper end, above the knee [m]

    @classmethod
    def of(cls, legform: Legform, knee: Knee) -> Links:
        """Put a legform together."""
        joints: list[Joint] = []
        bases: list[int] = []
        count = 0
        for side, segments in ((1.0, legform.femur), (-1.0, legform.tibia)):
            bases.append(count)
            count += 2
            start = 0.0
            for segment in segments:
                size = segment.length_mm / 1e3
                for i in range(0 if segment.bending_N_m2 is None else CELLS - 1):
                    at = side * (start + (i + 0.5) * size / CELLS)
                    joints.append(Joint(at, (segment.bending_N_m2 or 0.0) * CELLS / size, count))
                    count += 1
                start += size
        ends = (-legform.tibia_length_mm / 1e3, legform.femur_length_mm / 1e3)
        full = np.eye(count)
        bare = cls(full.copy(), full, full, full, full, tuple(joints), bases[1], ends)
        locked = []
        if math.isinf(knee.bending_stiffness):
            full[:, 1] += full[:, bases[1] + 1]
            locked.append(bases[1] + 1)
        if math.isinf(knee.shear_stiffness):
            full[:, 0] += full[:, bases[1]]
            locked.append(bases[1])
        full = np.delete(full, locked, axis=1)
        mass = np.zeros((count, count))
        for height, kg, inertia in _lumps(legform, joints):
            moved, turned = bare.shape([height])[0], bare.shape([height], slope=True)[0]
            mass += kg * np.outer(moved, moved) + inertia * np.outer(turned, turned)
        spring, damper = np.zeros((2, count, count))
        for joint in joints:
            spring[joint.coordinate, joint.coordinate] = joint.spring
            damper[joint.coordinate, joint.coordinate] = joint.spring * BONE_LOSS_S
        laws = (
            (bare.opening, knee.bending_stiffness, knee.bending_damping),
            (bare.shear, 1e3 * knee.shear_stiffness, 1e3 * knee.shear_damping),
        )
        for row, stiffness, damping in laws:
            if math.isfinite(stiffness):
                spring += stiffness * np.outer(row, row)
                damper += damping * np.outer(row, row)
        mass, spring, damper = (full.T @ each @ full for each in (mass, spring, damper))
        inverse = np.asarray(np.linalg.inv(mass), dtype=np.float64)
        return cls(full, mass, inverse, spring, damper, bare.joints, bare.tibia, bare.ends)

    @property
    def opening(self) -> Array:
        """What the knee angle is of the free coordinates (r,): positive where it opens."""
        # The front pushes forward, against u: a leg that bends around it has its ends rearward.
        return np.asarray(self.full[1] - self.full[self.tibia + 1])

    @property
    def shear(self) -> Array:
        """The same of the knee's shear: positive where the tibia's end is pushed farther."""
        return np.asarray(self.full[0] - self.full[self.tibia])

    def shape(self, heights: ArrayLike, *, slope: bool = False) -> Array:
        """Displacement (or slope) at heights above the knee [m], of the free coordinates (k, r)."""
        at = np.asarray(heights, dtype=np.float64)
        out = np.zeros((len(at), len(self.full)))
        upper = at >= 0.0
        for base, own in ((0, upper), (self.tibia, ~upper)):
            out[own, base] = 0.0 if slope else 1.0
            out[own, base + 1] = 1.0 if slope else at[own]
        for joint in self.joints:
            beyond = (at - joint.height) * np.sign(joint.height) > 0.0
            arm = 1.0 if slope else (at - joint.height)[beyond]
            out[beyond, joint.coordinate] = arm
        return np.asarray(out @ self.full)

    @property
    def bends(self) -> tuple[Array, Array]:
        """Heights (j,) of the tibia's joints above the knee [m], and their moments (j, r) [N m]."""
        own = [joint for joint in self.joints if joint.height < 0.0]
        moments = [joint.spring * self.full[joint.coordinate] for joint in own]
        heights = np.array([joint.height for joint in own])
        return heights, np.array(moments).reshape(len(own), self.full.shape[1])

    @property
    def level(self) -> Array:
        """Free coordinates (r,) of a legform that is shifted by 1 m."""
        row = np.zeros(len(self.full))
        row[[0, self.tibia]] = 1.0
        return np.asarray(np.linalg.lstsq(self.full, row, rcond=None)[0].round(12))

    @property
    def turns(self) -> Array:
        """Opening and every slope (k, r): what must stay small."""
        breaks = sorted([*self.ends, 0.0, *[joint.height for joint in self.joints]])
        middles = [0.5 * (a + b) for a, b in zip(breaks, breaks[1:], strict=False)]
        return np.vstack([self.opening[None], self.shape(middles, slope=True)])


def _lumps(legform: Legform, joints: list[Joint]) -> Iterator[tuple[float, float, float]]:
    """Height above the knee, mass and inertia of every stiff piece."""
    for side, segments in ((1.0, legform.femur), (-1.0, legform.tibia)):
        start = 0.0
        for segment in segments:
            size = segment.length_mm / 1e3
            own = sorted(abs(j.height) - start for j in joints if j.height * side > 0.0)
            cuts = [0.0, *[at for at in own if 0.0 < at < size], size]
            if len(cuts) == 2:
                yield side * (start + segment.centre_m), segment.mass_kg, segment.inertia
            else:
                yield from _pieces(segment, side, start, cuts)
            start += size


def _pieces(
    segment: Segment, side: float, start: float, cuts: list[float]
) -> Iterator[tuple[float, float, float]]:
    whole = segment.length_mm / 1e3
    for a, b in zip(cuts, cuts[1:], strict=False):
        kg = segment.mass_kg * (b - a) / whole
        yield side * (start + 0.5 * (a + b)), kg, kg * (b - a) ** 2 / 12.0

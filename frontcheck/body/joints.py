"""Joints between the bodies of a figure: springs, dampers, and stops where they give no more."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from frontcheck.body.anatomy import BODIES
from frontcheck.body.assumptions import DATA, values
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from frontcheck.body.anatomy import Figure
    from frontcheck.body.assumed import Cases
    from frontcheck.body.touch import Moment
    from frontcheck.geometry.arrays import Array

_KNEES = np.array([name.endswith("shank") for name in BODIES[1:]])
_JOINTS = values(DATA["joints"])
_MAN = next(person for person in PEOPLE if person.name == DATA["joints"]["springs"]["of"])


class Joints:
    """Joints by which every body but the first hangs on the one before it."""

    def __init__(self, figure: Figure, cases: Cases) -> None:
        man = _MAN.stature.known() / 1e3 * (_MAN.mass_kg or 0.0)
        size = figure.stature * figure.mass / man
        spine, neck, head, hip = (
            _JOINTS[f"{name}_stop"] for name in ("spine", "neck", "head", "hip")
        )
        legs = [cases.hip, cases.knee] * 2
        spring = np.stack([cases.spine, cases.spine, cases.neck, cases.neck, *legs], axis=1)
        damping = _JOINTS["damping_scale"] * (
            _JOINTS["damping_share"] * spring + _JOINTS["damping_least"]
        )
        damping[:, _KNEES] = _JOINTS["knee_damping"]
        stop = np.tile([spine, spine, neck, head, *[hip] * 4], (len(cases), 1))
        stop[:, 2:4] *= cases.stops[:, None]
        beyond = np.full(len(BODIES) - 1, _JOINTS["stop_stiffness"])
        beyond[3] = _JOINTS["head_stop_stiffness"]
        beyond[_KNEES] = 0.0
        self.spring, self.damping, self.beyond = size * spring, size * damping, size * beyond
        self.stop, self.most = stop, size * cases.knee_most[:, None]
        self.before = figure.chain.parent[1:]
        self.fold = np.zeros((len(BODIES) - 1, len(BODIES)))
        self.fold[np.arange(len(BODIES) - 1), np.arange(1, len(BODIES))] = 1.0
        self.fold[np.arange(len(BODIES) - 1), self.before] = -1.0

    def load(self, now: Moment) -> None:
        """Add the torques of the joints."""
        bend = now.angle[:, 1:] - now.angle[:, self.before]
        rate = now.turning[:, 1:] - now.turning[:, self.before]
        spring, most = self.spring[now.case] * bend, self.most[now.case]
        if np.isfinite(self.most).all():
            spring[:, _KNEES] = most * np.tanh(spring[:, _KNEES] / most)
        stop = self.stop[now.case]
        over = self.beyond * (bend - np.clip(bend, -stop, stop))
        torque: Array = -(spring + over + self.damping[now.case] * rate)
        now.torque[:] += torque @ self.fold

"""What is assumed of skin, joints and stance: one case, or many that are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.anatomy import DATA

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRONT_PARTS: Final = ("bumper", "leading edge", "bonnet", "windscreen")
"""Parts of a front that may differ in softness and friction."""


@dataclass(frozen=True, eq=False)
class Cases:
    """B assumed cases."""

    stiffness: NDArray[np.float64]  # (B, 4) of every part, a 100 mm of skin [N/m]
    friction: NDArray[np.float64]  # (B, 4)
    rebound: NDArray[np.float64]  # (B,) share of the speed that comes back
    grip: NDArray[np.float64]  # (B,) 0 to 1: rubs on the way out by its push, or by its depth
    sole_friction: NDArray[np.float64]  # (B,)
    spine: NDArray[np.float64]  # (B,) joints of the man's size [N m/rad]
    neck: NDArray[np.float64]
    hip: NDArray[np.float64]
    knee: NDArray[np.float64]
    knee_most: NDArray[np.float64]  # (B,) [N m]
    stops: NDArray[np.float64]  # (B,) by how much stops of neck and head are farther
    lean: NDArray[np.float64]  # (B,) [rad]
    shoulder: NDArray[np.float64]  # (B,) share of the breadth of the shoulders
    braking: NDArray[np.float64]  # (B,) [m/s2]
    legs_touch: NDArray[np.bool_]  # (B,) whether one leg strikes the other

    def __len__(self) -> int:
        return len(self.rebound)


def nominal() -> Cases:
    """Return the one case that no range is drawn for."""
    contact, joints = DATA["contact"], DATA["joints"]

    def one(value: float) -> NDArray[np.float64]:
        return np.array([float(value)])

    return Cases(
        np.full((1, len(FRONT_PARTS)), 1e6 * contact["stiffness"]),
        np.full((1, len(FRONT_PARTS)), contact["friction"]),
        one(contact["rebound"]),
        one(contact["grip"]),
        one(contact["sole_friction"]),
        one(joints["spine"]["stiffness"]),
        one(joints["neck"]["stiffness"]),
        one(joints["hip"]["stiffness"]),
        one(joints["knee"]["stiffness"]),
        one(joints["knee"]["most"]),
        one(1.0), one(0.0), one(1.0), one(0.0),
        np.array([True]),
    )  # fmt: skip


def drawn(count: int, seed: int) -> Cases:
    """Draw cases, each quantity evenly over its range."""
    contact, joints, stance = DATA["contact"], DATA["joints"], DATA["stance"]
    rng = np.random.default_rng(seed)

    def even(low: float, high: float) -> NDArray[np.float64]:
        # One draw in each of as many equal slices: fewer draws tell as much.
        share = (rng.permutation(count) + rng.random(count)) / count
        return low + share * (high - low)

    def by_factor(low: float, high: float) -> NDArray[np.float64]:
        return np.exp(even(np.log(low), np.log(high)))

    parts = range(len(FRONT_PARTS))
    low, high = contact["stiffness_range"]
    stiffness = np.stack([by_factor(1e6 * low, 1e6 * high) for _ in parts], axis=1)
    friction = np.stack([even(*contact["friction_range"]) for _ in parts], axis=1)
    return Cases(
        stiffness,
        friction,
        even(*contact["rebound_range"]),
        even(*contact["grip_range"]),
        even(*contact["sole_friction_range"]),
        by_factor(*joints["spine"]["range"]),
        by_factor(*joints["neck"]["range"]),
        by_factor(*joints["hip"]["range"]),
        by_factor(*joints["knee"]["range"]),
        even(*joints["knee"]["most_range"]),
        even(*joints["stop_range"]),
        np.radians(even(*stance["lean_deg"])),
        even(*stance["shoulder_share"]),
        even(*stance["braking"]),
        even(0.0, 1.0) < stance["legs_touch"],
    )

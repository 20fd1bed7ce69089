"""What is assumed of skin, joints and stance: one case, or many that are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.assumptions import DATA, numbers

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Mask

FRONT_PARTS: Final = ("bumper", "leading edge", "bonnet", "windscreen")
"""Parts of a front that may differ in softness and friction."""


@dataclass(frozen=True, eq=False)
class Cases:
    """B assumed cases."""

    stiffness: Array  # (B, 4) of every part, a 100 mm of skin [N/m]
    friction: Array  # (B, 4)
    rebound: Array  # (B,) share of the speed that comes back
    grip: Array  # (B,) 0 to 1: rubs on the way out by its push, or by its depth
    sole_friction: Array  # (B,)
    spine: Array  # (B,) joints of the man's size [N m/rad]
    neck: Array
    hip: Array
    knee: Array
    knee_most: Array  # (B,) [N m]
    stops: Array  # (B,) by how much stops of neck and head are farther
    lean: Array  # (B,) [rad]
    shoulder: Array  # (B,) share of the breadth of the shoulders
    braking: Array  # (B,) [m/s2]
    legs_touch: Mask  # (B,) whether one leg strikes the other

    def __len__(self) -> int:
        return len(self.rebound)


_ALL: Final = {
    k: v for part in ("joints", "contact", "stance") for k, v in numbers(DATA[part]).items()
}


def nominal() -> Cases:
    """Return the one case that no range is drawn for."""

    def one(name: str, unit: float = 1.0) -> Array:
        return np.array([unit * _ALL[name].value])

    parts = len(FRONT_PARTS)
    return Cases(
        np.tile(one("stiffness", 1e6)[:, None], (1, parts)),
        np.tile(one("friction")[:, None], (1, parts)),
        one("rebound"),
        one("grip"),
        one("sole_friction"),
        one("spine"),
        one("neck"),
        one("hip"),
        one("knee"),
        one("knee_bears"),
        one("stops_of_neck_and_head"),
        np.radians(one("lean")),
        one("breadth"),
        one("braking"),
        np.array([True]),
    )


def drawn(count: int, seed: int) -> Cases:
    """Draw cases, each quantity evenly over its range or over the logarithm of it."""
    rng = np.random.default_rng(seed)

    def even(low: float, high: float) -> Array:
        # One draw in each of as many equal slices: fewer draws tell as much.
        share = (rng.permutation(count) + rng.random(count)) / count
        return low + share * (high - low)

    def draw(name: str, unit: float = 1.0) -> Array:
        own = _ALL[name]
        low, high = (unit * end for end in own.range or (own.value, own.value))
        return np.exp(even(np.log(low), np.log(high))) if own.by_factor else even(low, high)

    parts = range(len(FRONT_PARTS))
    stiffness = np.stack([draw("stiffness", 1e6) for _ in parts], axis=1)
    friction = np.stack([draw("friction") for _ in parts], axis=1)
    return Cases(
        stiffness,
        friction,
        draw("rebound"),
        draw("grip"),
        draw("sole_friction"),
        draw("spine"),
        draw("neck"),
        draw("hip"),
        draw("knee"),
        draw("knee_bears"),
        draw("stops_of_neck_and_head"),
        np.radians(draw("lean")),
        draw("breadth"),
        draw("braking"),
        even(0.0, 1.0) < _ALL["legs_touch"].value,
    )

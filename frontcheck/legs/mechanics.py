"""What legforms and struck people share: how skin gives back, and one step in time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array


def given_back(into: Array, rebound: ArrayLike) -> Array:
    """Share of stiffness times depth with which skin pushes, by the speed of going in."""
    # Going in all of it, on the way out so little that the rebound is that share of the speed.
    return np.where(into >= 0.0, 1.0, np.asarray(rebound) ** 2)


def stepped(place: Array, rate: Array, acceleration: Array, step: float) -> tuple[Array, Array]:
    """Place and rate a step later: semi-implicit Euler, rates first, then places."""
    rate = rate + step * acceleration
    return place + step * rate, rate

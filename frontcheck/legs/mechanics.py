"""What legforms and struck people share: how skin gives back, and one step in time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def given_back(into: NDArray[np.float64], rebound: ArrayLike) -> NDArray[np.float64]:
    """Share of stiffness times depth with which skin pushes, by the speed of going in."""
    # Going in all of it, on the way out so little that the rebound is that share of the speed.
    back: NDArray[np.float64] = np.where(into >= 0.0, 1.0, np.asarray(rebound) ** 2)
    return back


def stepped(
    place: NDArray[np.float64],
    rate: NDArray[np.float64],
    acceleration: NDArray[np.float64],
    step: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Place and rate a step later: semi-implicit Euler, rates first, then places."""
    rate = rate + step * acceleration
    return place + step * rate, rate

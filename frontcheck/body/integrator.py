"""One step of semi-implicit Euler: rates first, then places."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from frontcheck.body.chain import Chain
    from frontcheck.body.touch import Moment


def stepped(
    chain: Chain,
    pose: NDArray[np.float64],
    rate: NDArray[np.float64],
    now: Moment,
    field: NDArray[np.float64],
    step: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pose and rate (B, 2 + n) a step later, under the loads of the moment and a field (B, 2)."""
    rate = rate + step * chain.acceleration(pose, rate, now.force, now.torque, field)
    return pose + step * rate, rate

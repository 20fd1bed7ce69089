"""Turning, leaning and shifting of sections: what bad ground, a leaning square and a laden car do.

Arrays only. Angles may differ from copy to copy: every function takes a leading batch axis.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["turned", "untilted"]


def untilted(points: NDArray[np.float64], tilt_deg: ArrayLike) -> NDArray[np.float64]:
    """Return where points are whose offsets were read from a leaning square."""
    # The heights are marks along the upright of the square, whose foot stands on the datum; the
    # setbacks are read level from it. A mark h on an upright that leans rearward by t is at
    # height h cos t and h sin t behind the datum.
    tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))[..., None]
    mark = points[..., 1]
    return np.stack([points[..., 0] + mark * np.sin(tilt), mark * np.cos(tilt)], axis=-1)


def turned(
    points: NDArray[np.float64],
    angle_deg: ArrayLike,
    pivot: tuple[float, float] = (0.0, 0.0),
) -> NDArray[np.float64]:
    """Return points turned about a pivot in the side view."""
    # Turning by the slope of the ground about the foot of the datum levels offsets that were
    # taken with a plumb square on ground which rises rearward by that slope.
    angle = np.radians(np.asarray(angle_deg, dtype=np.float64))[..., None]
    dx, dz = points[..., 0] - pivot[0], points[..., 1] - pivot[1]
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.stack([pivot[0] + dx * cosine + dz * sine, pivot[1] + dz * cosine - dx * sine], -1)

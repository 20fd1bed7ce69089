"""Free depth between the skin and a hard point under it, in one side section.

The depth along the travel of a headform is what it can move into the shape, past the skin,
until the spot of its surface that touched first stands on the hard point. On a flat skin no
other aim reaches the hard point in less.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["FreeDepth", "bend_radius", "free_depth"]


@dataclass(frozen=True)
class FreeDepth:
    """Free depth above a hard point."""

    status: Literal["under", "outside", "open"]  # ``under``: below the skin
    along_travel: float | None  # From the skin along the travel to the hard point [mm]
    along_normal: float  # Shortest distance to the skin, which lies along its normal [mm]
    skin: tuple[float, float] | None  # Point (x, z) of the skin on the line of travel [mm]
    stretch: int | None  # Contour stretch of `skin`


def free_depth(
    contour: NDArray[np.float64], point: tuple[float, float], travel: tuple[float, float]
) -> FreeDepth:
    """Return the free depth above a hard point in a side section."""
    a = contour[:-1]
    d = np.diff(contour, axis=0)
    to = np.asarray(point, dtype=np.float64) - a
    t_near = np.clip((to * d).sum(axis=1) / (d * d).sum(axis=1), 0.0, 1.0)
    nearest = float(np.hypot(*(to - t_near[:, None] * d).T).min())
    # Back along the travel: point - s travel = a + t d, with s the way and t within the stretch.
    ux, uz = travel
    cross = d[:, 0] * uz - d[:, 1] * ux
    parallel = cross == 0.0
    safe = np.where(parallel, 1.0, cross)
    t = (to[:, 0] * uz - to[:, 1] * ux) / safe
    s = (d[:, 0] * to[:, 1] - d[:, 1] * to[:, 0]) / safe
    meets = ~parallel & (t >= 0.0) & (t <= 1.0) & (s >= 0.0)
    if not meets.any():
        status: Literal["outside", "open"] = (
            "outside" if _in_the_air(contour, to, t_near) else "open"
        )
        return FreeDepth(status, None, nearest, None, None)
    way = np.where(meets, s, np.inf)
    i = int(np.argmin(way))
    # The way back leaves the body when it points to the left of the stretch.
    if d[i, 0] * -uz - d[i, 1] * -ux <= 0.0 and way[i] > 0.0:
        return FreeDepth("outside", None, nearest, None, None)
    skin = a[i] + t[i] * d[i]
    return FreeDepth("under", float(way[i]), nearest, (float(skin[0]), float(skin[1])), i)


def _in_the_air(
    contour: NDArray[np.float64], to: NDArray[np.float64], t: NDArray[np.float64]
) -> bool:
    """Whether the contour nearest to a point shows it its air side; not so at either end."""
    # `to` (n - 1, 2) leads from the start of every stretch to the point, whose nearest place on
    # it is `t` (n - 1,).
    d = np.diff(contour, axis=0)
    gap = np.hypot(*(to - t[:, None] * d).T)
    i = int(np.argmin(gap))
    if (i == 0 and t[i] == 0.0) or (i == len(d) - 1 and t[i] == 1.0):
        return False
    along = d[i] / np.hypot(*d[i])
    # At a bend the mean of both directions decides.
    if t[i] == 0.0:
        along = along + d[i - 1] / np.hypot(*d[i - 1])
    elif t[i] == 1.0:
        along = along + d[i + 1] / np.hypot(*d[i + 1])
    return bool(along[0] * to[i, 1] - along[1] * to[i, 0] > 0.0)


def bend_radius(
    contour: NDArray[np.float64], arcs: NDArray[np.float64], length: float
) -> NDArray[np.float64]:
    """Return the radius of the convex bend at every contour point, over a stated length."""
    # The contour turns only at its points. Of all stretches that hold the point and lie within
    # half of `length` to either side, the one that turns most to the body's side counts; the
    # radius is `length` over its turn. An arc of radius R cut into chords c gives R within c /
    # length, and a lone crease of angle a gives length / a, whatever the facets, also beside a
    # hollow.
    n = len(contour)
    steps = np.diff(contour, axis=0)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.zeros(n)
    # A right turn, with the body on the right, is convex.
    turn[1:-1] = -(np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi
    total = np.concatenate([[0.0], np.cumsum(turn)])
    first = np.searchsorted(arcs, arcs - length / 2.0, side="left")
    last = np.searchsorted(arcs, arcs + length / 2.0, side="right")
    bend = np.array(
        [total[i + 1 : last[i] + 1].max() - total[first[i] : i + 1].min() for i in range(n)]
    )
    convex = bend > 1e-9
    return np.where(convex, length / np.where(convex, bend, 1.0), np.inf)

"""The semicircular template that carries the bonnet rear line on where it does not meet SRL."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import arcs_of, nearest, points_at

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.geometry.arrays import Array

_TIE_MM: Final = 1e-9


@dataclass(frozen=True, eq=False)
class Template:
    """The semicircular template where it touches the bonnet rear line, laid out flat."""

    radius: float  # Its radius [mm]
    touch: Array  # (2,) where it touches the line
    arc: Array  # (k, 2) the arc from there to its rear end on the side line


def rear_template(
    side: Array, rear: Array, radii: Iterable[float], middle_deg: float
) -> Template | None:
    """Slide templates rearward along SRL onto BRRL, laid out flat; the first that fits."""
    # A template has both ends on SRL and its arc on the side of BRRL. It fits where it touches BRRL
    # tangentially, outside the middle of the arc.
    length = arcs_of(side)
    slid = (_slide(side, length, rear, radius, middle_deg) for radius in radii)
    return next((found for found in slid if found is not None), None)


def _slide(
    side: Array, length: Array, rear: Array, radius: float, middle_deg: float
) -> Template | None:
    """Slide one template; None when it does not fit."""

    def pose(s: float) -> tuple[Array, Array] | None:
        """Both ends of the arc, the rear one at length s along the side line."""
        end = points_at(side, length, s)
        ahead = side[: int(np.searchsorted(length, s))]
        fits = np.flatnonzero(np.hypot(*(ahead - end).T) >= 2.0 * radius)
        if len(fits) == 0:
            return None
        k = int(fits[-1])
        after = side[k + 1] if k + 1 < len(ahead) else end
        # Where the stretch from here to the next point is two radii from the rear end.
        step, off = after - side[k], side[k] - end
        half, square = float(step @ off), float(step @ step)
        inner = half * half - square * (float(off @ off) - 4.0 * radius * radius)
        return side[k] + (-half - math.sqrt(max(inner, 0.0))) / square * step, end

    def gap(s: float) -> tuple[float, Array, float] | None:
        """Least distance from arc to rear line, where on the line, and its parameter."""
        ends = pose(s)
        if ends is None:
            return None
        centre = (ends[0] + ends[1]) / 2.0
        found = nearest(rear, centre)
        k, t = int(found.stretch), float(found.t)
        near = rear[k] + t * (rear[k + 1] - rear[k])
        return float(found.distance) - radius, near, k + t

    s, previous = 2.0 * radius, None
    while s <= length[-1]:
        here = gap(s)
        if here is None:
            s += 1.0
            continue
        if here[0] <= 0.0:
            break
        previous = s
        # The centre moves no faster than the rear end, give or take a bend in the side line.
        s += max(here[0] / 2.0, 1.0)
    if previous is None or s > length[-1]:
        return None  # over the rear line where the template first fits, or never there
    low, high = previous, s
    for _ in range(60):
        half_way = (low + high) / 2.0
        middle = gap(half_way)
        if middle is not None and middle[0] > 0.0:
            low = half_way
        else:
            high = half_way
    ends, touch = pose(high), gap(high)
    if ends is None or touch is None:
        return None
    return _accept(ends, touch[1], touch[2], len(rear), radius, middle_deg)


def _accept(
    ends: tuple[Array, Array],
    touch: Array,
    parameter: float,
    points: int,
    radius: float,
    middle_deg: float,
) -> Template | None:
    """Take the template if it touches tangentially and outside the middle arc."""
    front, end = ends
    centre = (front + end) / 2.0
    at_end = parameter <= _TIE_MM or parameter >= points - 1 - _TIE_MM
    out = (end - centre) / radius  # toward the rear end
    inward = np.array([-out[1], out[0]])
    if float((touch - centre) @ inward) < 0.0:
        inward = -inward
    ray = (touch - centre) / radius
    angle = math.degrees(math.atan2(float(ray @ out), float(ray @ inward)))
    if at_end or angle <= middle_deg / 2.0:
        return None
    turn = np.radians(np.linspace(angle, 90.0, 33))
    arc = centre + radius * (np.cos(turn)[:, None] * inward + np.sin(turn)[:, None] * out)
    return Template(radius, touch, arc)

"""The sphere by going down the windscreen in small steps and bisecting the first touch.

In a section it is a circle. Its centre follows the windscreen at one radius: beside each
stretch, round each point. Positions that cut into the windscreen (in a hollow) are skipped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

STEP = 0.4
"""Step along the centre's path [mm]; a touch that lasts less may be missed."""
SHORT = 1e-8
"""By how much the surface stops short of the glass [mm]: no contact is known better there."""


@dataclass(frozen=True)
class SlowRest:
    """Where the sphere rests, and how fast it came nearer there (1: head on, 0: grazing)."""

    x: float
    z: float
    centre: tuple[float, float]
    rate: float


def slow_sphere(upper: np.ndarray, glass: np.ndarray, radius: float) -> SlowRest | str:
    """Contact with the surface ahead; "starts inside" or "no touch" when there is none."""
    screen = shapely.LineString(glass)
    # The last stretch ends on the glass, which the sphere touches anyway: stop just short.
    last = upper[-2] - upper[-1]
    short = upper[-1] + last * min(SHORT / float(np.hypot(*last)), 0.5)
    ahead = shapely.LineString([*upper[:-1], short])
    shapely.prepare(ahead)
    centres = _path(glass, radius)
    clear = shapely.distance(shapely.points(centres), screen) >= radius - 1e-7
    touch = shapely.distance(shapely.points(centres), ahead) <= radius
    kept = np.flatnonzero(clear)
    if len(kept) == 0 or touch[kept[0]]:
        return "starts inside"
    hits = kept[touch[kept]]
    if len(hits) == 0:
        return "no touch"
    i = int(hits[0])
    a, b = centres[kept[kept < i][-1]], centres[i]
    # Between two steps the path is a straight line or a short arc; keep to the arc by
    # pushing the middle back to one radius from the glass.
    while np.hypot(*(b - a)) > 1e-12:
        middle = _at_radius((a + b) / 2.0, screen, radius)
        if (middle == a).all() or (middle == b).all():
            break
        if ahead.distance(shapely.Point(middle)) <= radius:
            b = middle
        else:
            a = middle
    at = shapely.get_coordinates(shapely.shortest_line(shapely.Point(b), ahead))[-1]
    foot = shapely.get_coordinates(shapely.shortest_line(shapely.Point(b), screen))[-1]
    out, to = (b - foot) / radius, (at - b) / radius
    return SlowRest(float(at[0]), float(at[1]), (float(b[0]), float(b[1])),
                    abs(float(out[0] * to[1] - out[1] * to[0])))  # fmt: skip


def _path(glass: np.ndarray, radius: float) -> np.ndarray:
    """Centres from the top of the glass down, then round its lowest point."""
    centres: list[np.ndarray] = []
    angle: float | None = None
    for i in range(len(glass) - 2, -1, -1):
        a, b = glass[i], glass[i + 1]
        along = (b - a) / np.hypot(*(b - a))
        here = math.atan2(along[0], -along[1])  # direction of the left normal
        if angle is not None:
            roll = math.remainder(here - angle, 2.0 * math.pi)
            if roll > 0.0:
                centres.extend(_arc(b, angle, angle + roll, radius))
        n = max(int(np.hypot(*(b - a)) / STEP), 2)
        side = np.array([math.cos(here), math.sin(here)])
        centres.extend(b + (a - b) * t + radius * side for t in np.linspace(0.0, 1.0, n))
        angle = here
    assert angle is not None
    centres.extend(_arc(glass[0], angle, angle + math.pi, radius))
    return np.array(centres)


def _arc(v: np.ndarray, a: float, b: float, radius: float) -> list[np.ndarray]:
    n = max(int((b - a) * radius / STEP), 2)
    return [v + radius * np.array([math.cos(u), math.sin(u)]) for u in np.linspace(a, b, n)]


def _at_radius(p: np.ndarray, screen: shapely.LineString, radius: float) -> np.ndarray:
    foot = shapely.get_coordinates(shapely.shortest_line(shapely.Point(p), screen))[-1]
    out = p - foot
    return foot + out * (radius / np.hypot(*out))

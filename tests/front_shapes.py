"""Fronts in three dimensions whose lines have closed forms."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.front.front import Front
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import ArrayLike

FAR = 2600.0  # where bonnets without a windscreen end
TALL_SECTION = ((30.0, 410.0), (0.0, 860.0), (150.0, 1220.0), (390.0, 1290.0), (1650.0, 1351.5))
"""Invented points of a tall convex section; the stretches above the foremost have whole lengths."""


def front_of(
    contour: Callable[[float], ArrayLike],
    stations: ArrayLike,
    parts: Sequence[str] | None = None,
    **fields: object,
) -> Front:
    """A front whose section at each station is given by a function of y."""
    ys = np.asarray(stations, dtype=float)
    return Front(tuple(Section(contour(float(y)), float(y), parts) for y in ys), **fields)  # type: ignore[arg-type]


def upright_face(
    foremost: Callable[[float], float], top: float = 700.0
) -> Callable[[float], ArrayLike]:
    """A vertical face from z = 250 to `top` at x = foremost(y), a level bonnet behind it."""

    def contour(y: float) -> ArrayLike:
        x = foremost(y)
        return [(x + 200.0, 240.0), (x, 250.0), (x, top), (FAR, top)]

    return contour


def plan_circle(radius: float) -> Callable[[float], float]:
    """Foremost x of an upright cylinder that touches x = 0."""
    return lambda y: radius - math.sqrt(radius * radius - y * y)


def superellipse(a: float, b: float, p: float) -> Callable[[float], float]:
    """Foremost x of |y / a|^p + |(b - x) / b|^p = 1."""
    return lambda y: b * (1.0 - (1.0 - abs(y / a) ** p) ** (1.0 / p))


def superellipse_corner(a: float, b: float, p: float, plane_deg: float) -> tuple[float, float]:
    """Where a plane at an angle to the x axis touches it, from dy/dx = tan(angle)."""
    slope = 1.0 / math.tan(math.radians(plane_deg))  # dx/dy there
    ratio = (slope * a / b) ** (p / (p - 1.0))
    share = ratio / (1.0 + ratio)
    return b * (1.0 - (1.0 - share) ** (1.0 / p)), a * share ** (1.0 / p)


def barrel_top(y0: float, z0: float, radius: float) -> Callable[[float], float]:
    """Height of a level top with rounded sides: quarter circles about (+-y0, z0)."""

    def top(y: float) -> float:
        off = max(abs(y) - y0, 0.0)
        return z0 + math.sqrt(radius * radius - off * off)

    return top


def barrel(top: Callable[[float], float]) -> Callable[[float], ArrayLike]:
    """A vertical face at x = 0 below a top that is straight along x."""
    return lambda y: [(200.0, 190.0), (0.0, 200.0), (0.0, top(y)), (FAR, top(y))]


def screened(
    z_top: float, x_corner: float, rise_deg: float, screen_deg: float, x_face: float = 0.0
) -> list[tuple[float, float]]:
    """Vertical face, a straight bonnet rising to a concave corner, a straight windscreen."""
    rise = math.tan(math.radians(rise_deg))
    z_corner = z_top + rise * (x_corner - x_face)
    glass = 900.0
    end = (
        x_corner + glass * math.cos(math.radians(screen_deg)),
        z_corner + glass * math.sin(math.radians(screen_deg)),
    )
    return [(x_face + 200.0, 240.0), (x_face, 250.0), (x_face, z_top), (x_corner, z_corner), end]


SCREENED_PARTS = ("underside", "bumper", "bonnet", "windscreen", "windscreen")

"""How unsure the survey says a point is, so that a margin can be told in units of that."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.sure.uncertainty import Uncertainty

if TYPE_CHECKING:
    from frontcheck.front.front import Front

Way = Literal["height", "setback"]

COVERAGE: Final = 2.0
"""A band is widened by this many standard uncertainties: about 95 in 100 (JCGM 100:2008, Guide to
the expression of uncertainty in measurement, from memory)."""


def stated_u(front: Front, y: float, at: tuple[float, float], way: Way) -> float | None:
    """Return the standard uncertainty stated of a point; None where nothing is stated."""
    wanted = abs(y) if front.symmetric else y
    of_section = [abs(at) if front.symmetric else at for at in front.stations]
    section = front.sections[int(np.argmin(np.abs(np.subtract(of_section, wanted))))]
    rows = section.height_u if way == "height" else section.setback_u
    nearest = int(np.argmin(np.hypot(*(section.points - at).T)))
    of = Uncertainty.of(front)
    x, z = at
    lever = abs(x - of.pitch_pivot_mm) if way == "height" else z
    turn = lever * math.radians(of.pitch_u_deg)
    slope = (abs(x) if way == "height" else z) * math.radians(of.ground_slope_u_deg)
    scale = (z if way == "height" else x) * of.scale_u_percent / 100.0
    parts = [0.0 if rows is None else float(rows[nearest]), turn, slope, scale]
    if way == "height":
        parts.append(of.ride_height_u_mm)
    else:
        parts += [of.datum_u_mm, z * math.radians(of.square_tilt_u_deg)]
    return math.hypot(*parts) or None

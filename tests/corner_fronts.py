"""Fronts made of a few straight stretches, whose lines are known without computing them.

The nose is a corner: a straight face from (0, 300) up to the leading edge, a straight bonnet
from there, optionally a windscreen. A straight edge inclined between the two slopes touches the
corner between them, so BLERL is that corner as long as it is at or above z = 600.
"""

from __future__ import annotations

import math

from frontcheck.front.front import Front
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.surface.section import Section

CHIN = 300.0


def corner_nose(
    height: float,
    *,
    face_deg: float = 90.0,
    bonnet_deg: float = 8.0,
    bonnet_length: float = 1200.0,
    chin: float = CHIN,
    y: float = 0.0,
) -> Section:
    """Section with its leading edge at `height`; angles are to the horizontal."""
    back = (height - chin) / math.tan(math.radians(face_deg)) if face_deg != 90.0 else 0.0
    rise = math.tan(math.radians(bonnet_deg)) * bonnet_length
    points = [
        (400.0, chin - 40.0),
        (0.0, chin),
        (back, height),
        (back + bonnet_length, height + rise),
        *windscreen(back + bonnet_length, height + rise),
    ]
    parts = ["underside", "bumper", "bonnet", "bonnet", "windscreen", "windscreen"]
    return Section(points, y, parts)


def windscreen(x: float, z: float) -> list[tuple[float, float]]:
    """Two points of a windscreen at 35 deg that starts at a point."""
    slope = math.tan(math.radians(35.0))
    return [(x + run, z + run * slope) for run in (1.0, 500.0)]


def lined(*sections: Section, rules: str = "UN-R127-02", symmetric: bool = False) -> LinedFront:
    """A front of these sections with its lines."""
    return line_up(Front(tuple(sections), name="corner", symmetric=symmetric), rules)

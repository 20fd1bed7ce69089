"""The rear corners of the bonnet, and BRRL as the template procedure carries it on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import length_of
from frontcheck.lines.bonnet_template import rear_template
from frontcheck.lines.front_line import Spot, xyz
from frontcheck.lines.side import NO_SIDE, OPEN_SIDE
from frontcheck.zones.corner_patch import CornerPatch

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.line_values import LineValues
    from frontcheck.lines.side import Meeting, Side, SideContacts
    from frontcheck.zones.corner_patch import Tops
    from frontcheck.zones.lines_across import Across

_NAME: Final = "rear corner"
_FIRST_RADII: Final = 2.0
"""The first patch is laid out for templates up to twice the first radius, the next for up to
twice that, and so on: own choice, so that a small template lies on a small patch."""
_LARGEST_TEMPLATE_MM: Final = 2000.0  # own choice: a larger one would not fit a bonnet


@dataclass(frozen=True, eq=False)
class RearCorner:
    """Rear corner on the right."""

    spot: Spot  # The corner
    arc: Array  # (k, 3) BRRL from where the template touches it to the SRL [mm]


def rear_corner(across: Across, side_edge: Side, srl: SideContacts) -> RearCorner:
    """Rear corner on the right: BRRL and SRL, with the template where they do not meet."""
    line, rules = across.lines.BRRL, across.rules

    def alone(status: str, reason: str) -> RearCorner:
        return RearCorner(Spot(_NAME, status, None, reason), np.empty((0, 3)))

    if not across.y[-1] > 0.0:
        return alone("not_available", NO_SIDE)
    rows = np.flatnonzero(line.formed & (across.y >= 0.0))
    if len(rows) < 2:
        inboard = int(np.argmin(np.abs(across.y)))
        reason = line.reason(inboard) or "BRRL could not be formed on this side"
        return alone(line.status(inboard), reason)
    rear = np.stack([line.x, across.y, line.z], axis=1)[rows]
    met = side_edge.meeting(rear, "BRRL")
    if met.point is not None:
        return RearCorner(met_spot(_NAME, met, line, across.y), np.empty((0, 3)))
    constants = (
        rules.value(f"bonnet_corner.{name}")
        for name in ("template_radius_mm", "radius_step_mm", "middle_arc_deg")
    )
    found = arc_of_template(across, rear, srl.points, *constants)
    if isinstance(found, str):
        return alone("not_reached", f"{met.reason}, and {found}")
    radius, arc = found
    middle = rules["bonnet_corner.middle_arc_deg"]
    reason = (
        f"{met.reason}; BRRL is carried on along a template of radius {radius:g} mm, with a "
        f"middle arc of {middle.plain} ({middle.provenance})"
    )
    beside = (srl.open_end & srl.touched & (np.abs(srl.x - arc[-1, 0]) <= radius)).any()
    if beside:
        reason = f"{reason}; {OPEN_SIDE}"
    ended = beside or line.status(int(rows[-1])) == "open_end"
    return RearCorner(Spot(_NAME, "open_end" if ended else "ok", xyz(arc[-1]), reason), arc)


def arc_of_template(
    tops: Tops, rear: Array, side: Array, radius: float, step: float, middle_deg: float
) -> tuple[float, Array] | str:
    """Radius of the template that fits and its arc (k, 3) on the bonnet, or why there is none."""
    # Points (k, 3) of BRRL going outward and of SRL from front to rear. The arc runs from the touch
    # to the rear end on SRL.
    radii = np.arange(radius, min(_LARGEST_TEMPLATE_MM, length_of(side) / 2.0) + step, step)
    upto = _FIRST_RADII * radius
    while len(radii):
        patch = CornerPatch.of(tops, rear, side, upto)
        if patch is None:
            return "the template leaves the surface"
        if patch.wrinkled:
            return "the template does not follow the bonnet there without wrinkles"
        found = rear_template(patch.side, patch.rear, radii[radii <= upto].tolist(), middle_deg)
        if found is not None:
            arc = patch.up(found.arc)
            return "the template leaves the surface" if arc is None else (found.radius, arc)
        radii, upto = radii[radii > upto], 2.0 * upto
    return "no template fits between the two"


def met_spot(name: str, met: Meeting, line: LineValues, y: Array) -> Spot:
    """Return where a line meets SRL, as sure as the line is on either side of the place."""
    if met.point is None or met.open_end:
        return Spot(name, "open_end", met.point, met.reason)
    formed = np.flatnonzero(line.formed & (y >= 0.0))
    j = int(np.searchsorted(y[formed], met.point[1]))
    for i in formed[max(j - 1, 0) : j + 1].tolist():
        if line.status(i) == "open_end":
            return Spot(name, "open_end", met.point, line.reason(i))
    return Spot(name, "ok", met.point, met.reason)

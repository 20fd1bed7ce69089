"""The rear corners of the bonnet, and BRRL as the template procedure carries it on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.lines.front_line import Spot
from frontcheck.lines.side import NO_SIDE, meeting, rear_template

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.lines.side import SideContacts
    from frontcheck.surface.strips import Net
    from frontcheck.zones.lines_across import Traced

__all__ = ["RearCorner", "rear_corner"]

_NAME: Final = "rear corner"
_PLANE_REACH_MM: Final = 500.0
"""How far from the end of BRRL points count for the mean plane of the corner."""


@dataclass(frozen=True, eq=False)
class RearCorner:
    """Rear corner on the right."""

    spot: Spot  # The corner
    arc: NDArray[np.float64]  # (k, 3) BRRL from where the template touches it to the SRL [mm]
    arc_u: NDArray[np.float64]  # (k,) coordinates of the arc along the sections


def rear_corner(traced: Traced, srl: SideContacts) -> RearCorner:
    """Return the rear corner on the right: BRRL and SRL, with the template where they do not meet."""
    net, line, rules = traced.net, traced.lines.BRRL, traced.rules
    none = np.empty((0, 3)), np.empty(0)
    if not net.y[-1] > 0.0:
        return RearCorner(Spot(_NAME, "not_available", None, NO_SIDE), *none)
    rows = np.flatnonzero(line.formed & (net.y >= 0.0))
    if len(rows) < 2:
        inboard = int(np.argmin(np.abs(net.y)))
        reason = line.reason(inboard) or "BRRL could not be formed on this side"
        return RearCorner(Spot(_NAME, line.status(inboard), None, reason), *none)
    met = meeting(net, line.formed, line.x, line.z, rules.value("srl.lean_deg"), "BRRL")
    if met.point is not None:
        status = "edge_end" if met.open_end else "ok"
        return RearCorner(Spot(_NAME, status, met.point, met.reason), *none)
    rear = np.stack([line.x, net.y, line.z], axis=1)[rows]
    side = np.stack([srl.x, srl.y, srl.z], axis=1)[srl.touched]
    flat = _Plane(rear, side)
    constants = {
        name: rules.value(f"bonnet_corner.{name}")
        for name in ("template_radius_mm", "radius_step_mm", "middle_arc_deg")
    }
    found = rear_template(flat.down(side), flat.down(rear), *constants.values())
    if found is None:
        reason = f"{met.reason}, and no template fits between the two"
        return RearCorner(Spot(_NAME, "not_reached", None, reason), *none)
    arc, u = _on_surface(net, flat.up(found.arc))
    if len(arc) == 0:
        return RearCorner(
            Spot(_NAME, "not_reached", None, "the template leaves the surface"), *none
        )
    middle = rules["bonnet_corner.middle_arc_deg"]
    reason = (
        f"{met.reason}; BRRL is carried on along a template of radius {found.radius:g} mm, with a "
        f"middle arc of {middle.plain} ({middle.provenance})"
    )
    end = arc[-1]
    spot = Spot(_NAME, "ok", (float(end[0]), float(end[1]), float(end[2])), reason)
    return RearCorner(spot, arc, u)


class _Plane:
    """Mean plane of the corner, in which the flexible template is laid out."""

    def __init__(self, rear: NDArray[np.float64], side: NDArray[np.float64]) -> None:
        end = rear[-1]
        # Behind the end of BRRL the side line may climb the windscreen: not part of the plane.
        near = np.concatenate([rear, side[side[:, 0] <= rear[:, 0].max()]])
        near = near[np.linalg.norm(near - end, axis=1) <= _PLANE_REACH_MM]
        self.origin = near.mean(axis=0)
        normal = np.linalg.svd(near - self.origin)[2][2]
        along = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
        along /= np.linalg.norm(along)
        across = np.cross(normal, along)
        self.axes = np.stack([along, across if across[1] > 0.0 else -across])

    def down(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (k, 2) of the plane, square below points (k, 3)."""
        out: NDArray[np.float64] = (points - self.origin) @ self.axes.T
        return out

    def up(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (k, 3) in space of points (k, 2) of the plane."""
        out: NDArray[np.float64] = self.origin + points @ self.axes
        return out


def _on_surface(
    net: Net, points: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points of the surface at the plan places of given points, and their u."""
    levels, back = np.unique(points[:, 0], return_inverse=True)
    cuts = net.tops(levels)
    u = net.u_at(np.arange(len(net))[:, None], cuts.position)
    y = np.clip(points[:, 1], net.y[0], net.y[-1])
    j = np.clip(np.searchsorted(net.y, y, side="right") - 1, 0, len(net) - 2)
    t = (y - net.y[j]) / (net.y[j + 1] - net.y[j])
    there = (cuts.reached[j, back] | (t == 1.0)) & (cuts.reached[j + 1, back] | (t == 0.0))
    z = (1.0 - t) * cuts.value[j, back] + t * cuts.value[j + 1, back]
    at_u = (1.0 - t) * u[j, back] + t * u[j + 1, back]
    return np.stack([points[:, 0], y, z], axis=1)[there], at_u[there]

"""Lines and points of the sides: side reference line, corners of the bonnet.

Glossary
--------
SRL
    Side reference line: highest contacts of a straight edge, held in transverse vertical
    planes, leant 45 deg inward and brought down on the side.
corner reference point
    Where BLERL and SRL meet; the outermost where they meet more than once.
rear corner
    Where BRRL and SRL meet; where they do not, BRRL is carried on along a semicircular
    template (see `rear_corner`).

Everything here looks at the right side; the left is the right side of the net seen in a
mirror, so a symmetric front gives symmetric results to the last bit.

Readings
--------
The edge may slide along itself, so in each transverse plane it comes to rest on the point
that lies farthest out square to it; its length (700 mm) then bounds nothing. Contact at
the outermost contour that reaches the plane is kept and reported as ``edge_end``: the side
of the vehicle beyond it is not known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import arcs_of, nearest, points_at

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

NO_SIDE: Final = "nothing was measured on this side of the centre plane"
"""Why there is nothing on a side without stations."""

_TIE_MM: Final = 1e-9
_MEET_MM: Final = 1e-6
_LARGEST_TEMPLATE_MM: Final = 2000.0


@dataclass(frozen=True, eq=False)
class SideContacts:
    """Contacts of the side edge in K transverse planes."""

    # Where `touched` is False the other arrays hold nothing meaningful.

    touched: NDArray[np.bool_]  # (K,) bool, whether any contour reaches the plane
    x: NDArray[np.float64]  # (K,) contact [mm]
    y: NDArray[np.float64]  # (K,) contact [mm]
    z: NDArray[np.float64]  # (K,) contact [mm]
    open_end: NDArray[np.bool_]


@dataclass(frozen=True)
class Meeting:
    """Where a line across the front meets the side reference line."""

    point: tuple[float, float, float] | None  # x, y and z [mm]; None when they do not meet
    open_end: bool  # Whether they meet at the outermost contour
    reason: str  # Why they do not meet, or what to mind


@dataclass(frozen=True, eq=False)
class Template:
    """The semicircular template where it touches the bonnet rear line, in its own plane."""

    radius: float  # Its radius [mm]
    touch: NDArray[np.float64]  # (2,) where it touches the line
    arc: NDArray[np.float64]  # (k, 2) the arc from there to its rear end on the side line


def peak(
    y: NDArray[np.float64], value: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Find the top of the parabola through three points, the middle one the greatest."""
    before = (value[1] - value[0]) / (y[1] - y[0])
    after = (value[2] - value[1]) / (y[2] - y[1])
    bend = (after - before) / (y[2] - y[0])
    flat = bend >= 0.0
    at = np.where(flat, y[1], (y[0] + y[1]) / 2.0 - before / (2.0 * np.where(flat, -1.0, bend)))
    at = np.clip(at, y[0], y[2])
    weights = np.stack(
        [
            (at - y[1]) * (at - y[2]) / ((y[0] - y[1]) * (y[0] - y[2])),
            (at - y[0]) * (at - y[2]) / ((y[1] - y[0]) * (y[1] - y[2])),
            (at - y[0]) * (at - y[1]) / ((y[2] - y[0]) * (y[2] - y[1])),
        ]
    )
    return at, weights


def side_contacts(net: Any, x: NDArray[np.float64], lean_deg: float) -> SideContacts:
    """Bring the edge down on the right side in transverse planes."""
    cuts = net.tops(x)
    out, up = math.cos(math.radians(lean_deg)), math.sin(math.radians(lean_deg))
    far = np.where(cuts.reached, net.y[:, None] * out + cuts.value * up, -np.inf)
    best = far.max(axis=0)
    # Of several contacts at once the highest counts.
    j = np.where(far >= best - _TIE_MM, cuts.value, -np.inf).argmax(axis=0)
    k = np.arange(len(x))
    # Without a station on this side there is no side for the edge to touch.
    touched = np.isfinite(best) & (net.y[-1] > 0.0)
    y, z = net.y[j], cuts.value[j, k]
    outer = np.minimum(j + 1, len(net) - 1)
    open_end = touched & ((j == len(net) - 1) | ~cuts.reached[outer, k])
    inner = np.maximum(j - 1, 0)
    clear = touched & ~open_end & (j > 0) & cuts.reached[inner, k]
    if net.smooth and clear.any():
        three = np.stack([inner, j, outer])[:, clear]
        at, weights = peak(net.y[three], far[three, k[clear]])
        y[clear] = at
        z[clear] = (weights * cuts.value[three, k[clear]]).sum(axis=0)
    return SideContacts(touched, x, y, z, open_end)


def meeting(
    net: Any,
    formed: NDArray[np.bool_],
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    lean_deg: float,
    name: str,
) -> Meeting:
    """Find where a line across the front meets the side reference line on the right."""
    if not net.y[-1] > 0.0:
        return Meeting(None, False, NO_SIDE)
    rows = np.flatnonzero(formed & (net.y >= 0.0))
    if len(rows) == 0:
        return Meeting(None, False, f"{name} could not be formed on this side")
    levels, back = np.unique(x[rows], return_inverse=True)
    side = side_contacts(net, levels, lean_deg)
    inside_by = np.where(side.touched, side.y, -np.inf)[back] - net.y[rows]
    open_end = side.open_end[back]
    points = np.stack([x[rows], net.y[rows], z[rows]], axis=1)
    inside = np.flatnonzero(inside_by >= -_MEET_MM)
    if len(inside) == 0:
        return Meeting(None, False, f"{name} lies outside the SRL throughout")
    i = int(inside[-1])
    if i + 1 < len(rows):
        t = max(inside_by[i], 0.0) / (max(inside_by[i], 0.0) - inside_by[i + 1])
        point = points[i] + t * (points[i + 1] - points[i])
        return Meeting(_xyz(point), False, "")
    if inside_by[i] > _MEET_MM:
        reason = f"{name} ends at y = {net.y[rows[i]]:g} mm, inside the SRL"
        return Meeting(None, False, reason)
    reason = "at the outermost contour: the side of the vehicle beyond it is not known"
    return Meeting(_xyz(points[i]), bool(open_end[i]), reason if open_end[i] else "")


def rear_template(
    side: NDArray[np.float64],
    rear: NDArray[np.float64],
    radius: float,
    step: float,
    middle_deg: float,
) -> Template | None:
    """Slide a semicircular template rearward along the side line onto the bonnet rear line."""
    # The template has both ends on the side line and its arc on the side of the rear line. Its
    # radius grows until it touches the rear line tangentially, outside the middle of the arc.
    # Reading: the flexible template is laid flat, in the mean plane of the corner.
    length = arcs_of(side)
    for i in range(int((_LARGEST_TEMPLATE_MM - radius) // step) + 1):
        found = _slide(side, length, rear, radius + i * step, middle_deg)
        if found is not None:
            return found
    return None


def _slide(
    side: NDArray[np.float64],
    length: NDArray[np.float64],
    rear: NDArray[np.float64],
    radius: float,
    middle_deg: float,
) -> Template | None:
    """Slide one template; None when it does not fit."""

    def pose(s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
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

    def gap(s: float) -> tuple[float, NDArray[np.float64], float] | None:
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
    ends: tuple[NDArray[np.float64], NDArray[np.float64]],
    touch: NDArray[np.float64],
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


def _xyz(point: NDArray[np.float64]) -> tuple[float, float, float]:
    return float(point[0]), float(point[1]), float(point[2])

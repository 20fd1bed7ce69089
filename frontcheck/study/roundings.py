"""The roundings of many noses as circles, joined by straight lines that touch both.

Glossary
--------
direction
    Angle of the walk along the contour, from the x axis toward z [rad]; pi / 2 is upright.
signed radius
    Positive where the walk turns right round the body (a rounding), negative where it turns
    left (the floor of a recess). The contour point at a direction t is
    ``centre + signed radius (-sin t, cos t)`` either way.
joint
    The straight line that touches two neighbouring circles.

Everything is closed form, so tangency holds to rounding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.study.nose_dimensions import BLE_LEAN_DEG, DIMENSIONS, UPPER_BUMPER_LEAN_DEG

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Mask

CIRCLES: Final = (
    "lower lip",
    "recess",
    "lower edge of the bumper",
    "upper edge of the bumper",
    "recess above the bumper",
    "upper lip",
    "leading edge",
    "rear edge of the bonnet",
    "cowl",
)
"""The circles, in order along the contour."""
(LIP, RECESS, BUMPER_LOW, BUMPER_HIGH, GRILLE, UPPER_LIP, EDGE, BONNET_END, COWL) = range(9)

_JOINTS: Final = ((0, 1), (1, 2), (3, 4), (4, 5), (5, 6), (7, 8))
_SHORTEST_MM: Final = 0.01
"""A joint shorter than this is refused: its direction would be lost in rounding [mm]."""
_SLACK_RAD: Final = 1e-9
"""Rounding allowance for the direction in which an arc turns [rad]."""
_SPLIT: Final = math.radians(90.0 - BLE_LEAN_DEG)
"""Below this point of the leading edge heights only rise; above it setbacks only grow."""

_ROUND: Final = (LIP, BUMPER_LOW, BUMPER_HIGH, UPPER_LIP, EDGE, BONNET_END)
"""Circles that stand out; the others are floors of recesses."""
BEYOND_PLAN: Final = "the station lies outside the plan radius"
"""Why a nose has no section at a station."""


@dataclass(frozen=True, eq=False)
class Chain:
    """Circles and directions of B noses."""

    centre: Array  # (9, B, 2) centres [mm]
    rho: Array  # (9, B) signed radii [mm]
    enter: Array
    leave: Array
    bonnet: Array  # (2, B) directions at the front and rear end of the bonnet [rad]
    bonnet_length: Array  # (B,) chord of the bonnet [mm]
    crown: Array  # (B,) height of the bonnet's arc over its chord [mm]
    start: Array  # (B, 2) first and last point of the contour [mm]
    end: Array  # (B, 2) first and last point of the contour [mm]
    reason: NDArray[np.object_]  # (B,) why a nose cannot be made; empty where it can

    def point(self, i: int, direction: Array) -> Array:
        """Return the point of a circle at which the walk has a direction."""
        return _on(self.centre[i], self.rho[i], direction)


def left(direction: Array) -> Array:
    """Return the unit vector to the left of a walk."""
    return np.stack([-np.sin(direction), np.cos(direction)], axis=-1)


def _on(centre: Array, rho: Array, direction: Array) -> Array:
    """Points of circles (B,) at which the walk has directions (B,) or (B, m)."""
    if direction.ndim == 2:
        centre, rho = centre[:, None], rho[:, None]
    return np.asarray(centre + rho[..., None] * left(direction))


def lay_out(values: Array) -> Chain:
    """Place the circles of many noses and join them."""
    d = {dim.name: np.ascontiguousarray(values[:, k]) for k, dim in enumerate(DIMENSIONS)}
    batch = len(values)
    reason = np.full(batch, "", dtype=object)

    def rule_out(where: Mask, why: str) -> None:
        reason[where & (reason == "")] = why

    centre, rho = np.zeros((9, batch, 2)), np.zeros((9, batch))
    enter, leave = np.zeros((9, batch)), np.zeros((9, batch))
    _place(d, centre, rho)
    shallow = d["bumper_depth_mm"] < 2.0 * d["bumper_radius_mm"]
    rule_out(shallow, "the bumper is less deep than its two radii together")
    for floor, low, high, name, ends_of in (
        (RECESS, LIP, BUMPER_LOW, "recess", "lower lip to bumper"),
        (GRILLE, BUMPER_HIGH, UPPER_LIP, "grille", "bumper to upper lip"),
    ):
        direction, length = _touching(centre, rho, low, high)
        why = f"the string from {ends_of} cannot be laid: one rounding lies within the other"
        rule_out(length < _SHORTEST_MM, why)
        normal = left(direction)
        middle = (centre[low] + centre[high]) / 2.0
        middle += ((rho[low] + rho[high]) / 2.0)[:, None] * normal
        deepest = middle + np.stack([d[f"{name}_depth_mm"], np.zeros(batch)], axis=-1)
        radius = d[f"{name}_radius_mm"]
        centre[floor], rho[floor] = deepest + radius[:, None] * normal, -radius

    ends, chord = _bonnet(d, centre[EDGE])
    crown = d["bonnet_crown_mm"]
    ahead = chord <= d["leading_edge_radius_mm"] * 1e-3
    rule_out(ahead, "the cowl lies ahead of the leading edge: move it rearward")
    rule_out(crown > chord / 4.0, "the crown is more than a quarter of the bonnet's length")
    slope = np.radians(d["bonnet_angle_deg"])
    rear = _on(centre[EDGE], rho[EDGE], ends[0])
    rear = rear + chord[:, None] * np.stack([np.cos(slope), np.sin(slope)], axis=-1)
    rho[BONNET_END] = d["bonnet_edge_radius_mm"]
    centre[BONNET_END] = _on(rear, -rho[BONNET_END], ends[1])
    lowest = rear + np.stack([d["cowl_gap_mm"], -d["cowl_depth_mm"]], axis=-1)
    rho[COWL] = -d["cowl_radius_mm"]
    centre[COWL] = lowest + np.stack([np.zeros(batch), d["cowl_radius_mm"]], axis=-1)

    enter[LIP] = math.pi - np.radians(d["underside_angle_deg"])
    leave[BUMPER_LOW] = enter[BUMPER_HIGH] = math.pi / 2.0
    leave[EDGE], enter[BONNET_END] = ends
    leave[COWL] = np.radians(d["windscreen_angle_deg"])
    for i, j in _JOINTS:
        direction, length = _touching(centre, rho, i, j)
        leave[i] = enter[j] = direction
        why = (
            f"{CIRCLES[i]} and {CIRCLES[j]} lie too close together for a straight line that "
            "touches both: move them apart or take smaller radii"
        )
        rule_out(length < _SHORTEST_MM, why)
    for i, name in enumerate(CIRCLES):
        turn = (enter[i] - leave[i]) * np.sign(rho[i])
        why = "its neighbours lie too close together or out of order"
        why = "it does not stand out between its neighbours" if i in _ROUND else why
        rule_out(turn < -_SLACK_RAD, f"{name} would bend the wrong way: {why}")

    # First point of the underside and last point of the windscreen.
    under, up = (
        length[:, None] * np.stack([np.cos(along), np.sin(along)], axis=-1)
        for length, along in (
            (d["underside_length_mm"], enter[LIP]),
            (d["windscreen_length_mm"], leave[COWL]),
        )
    )
    start = _on(centre[LIP], rho[LIP], enter[LIP]) - under
    end = _on(centre[COWL], rho[COWL], leave[COWL]) + up
    chain = Chain(centre, rho, enter, leave, ends, chord, crown, start, end, reason)
    _check_course(chain, d, rule_out)
    return chain


def _place(d: dict[str, Array], centre: Array, rho: Array) -> None:
    """Place the roundings that the dimensions give directly."""
    for i, name in ((LIP, "lower_lip"), (UPPER_LIP, "upper_lip")):
        rho[i] = d[f"{name}_radius_mm"]
        centre[i] = np.stack([d[f"{name}_setback_mm"] + rho[i], d[f"{name}_height_mm"]], axis=-1)
    radius = d["bumper_radius_mm"]
    half = d["bumper_depth_mm"] / 2.0 - radius
    for i, side in ((BUMPER_LOW, -1.0), (BUMPER_HIGH, 1.0)):
        rho[i] = radius
        centre[i] = np.stack([radius, d["bumper_height_mm"] + side * half], axis=-1)
    rho[EDGE] = d["leading_edge_radius_mm"]
    lean = math.radians(BLE_LEAN_DEG)
    from_x = radius * (1.0 - math.cos(math.radians(UPPER_BUMPER_LEAN_DEG)))
    x = from_x + d["lead_mm"] + rho[EDGE] * math.cos(lean)
    z = d["leading_edge_height_mm"] - rho[EDGE] * math.sin(lean)
    centre[EDGE] = np.stack([x, z], axis=-1)


def _touching(centre: Array, rho: Array, i: int, j: int) -> tuple[Array, Array]:
    """Direction and length of the line from circle i to circle j; length 0 where none is."""
    step = centre[j] - centre[i]
    drop = rho[i] - rho[j]
    square = (step[:, 0] * step[:, 0] + step[:, 1] * step[:, 1]) - drop * drop
    length = np.sqrt(np.maximum(square, 0.0))
    direction = np.arctan2(step[:, 1], step[:, 0]) - np.arctan2(drop, length)
    return direction, length


def _bonnet(d: dict[str, Array], edge: Array) -> tuple[Array, Array]:
    """Directions at both ends of the bonnet (2, B), and its chord (B,)."""
    # The chord depends on where the bonnet leaves the leading edge's rounding, and that on the
    # chord through the crown. Each round brings this closer by radius crown / length^2 or better,
    # far below 0.1; sixteen rounds reach rounding.
    slope = np.radians(d["bonnet_angle_deg"])
    crown, radius = d["bonnet_crown_mm"], d["leading_edge_radius_mm"]
    cosine = np.cos(slope)
    bend = np.zeros(len(slope))
    chord = np.ones(len(slope))
    for _ in range(16):
        from_x = edge[:, 0] - radius * np.sin(slope + bend)
        chord = (d["cowl_setback_mm"] - from_x) / cosine
        # Half the turn of an arc of height h over a chord c is 2 atan(2 h / c).
        bend = 2.0 * np.arctan2(2.0 * crown, np.maximum(chord, 4.0 * crown + 1e-9))
    return np.stack([slope + bend, slope - bend]), chord


def _check_course(chain: Chain, d: dict[str, Array], rule_out: Callable[..., None]) -> None:
    """Refuse what could make the contour cross itself."""
    # From the underside to the 50 deg point of the leading edge no direction points downward, so
    # heights never fall; from there on none points forward, so setbacks never fall. Neither part
    # can cross itself. The second part can only meet the first where it comes down to its
    # heights, behind the bonnet; there it must lie behind all of it.
    face = np.concatenate([chain.enter[: EDGE + 1], chain.leave[:EDGE]])
    down = (face < -_SLACK_RAD).any(axis=0) | (face > math.pi + _SLACK_RAD).any(axis=0)
    rule_out(
        down, "a wall of a recess would run downward: make it shallower or move its lips apart"
    )
    rule_out(
        (chain.enter[EDGE] < _SPLIT) | (chain.leave[EDGE] > _SPLIT),
        "the leading edge's rounding lacks the point whose tangent leans 50 deg: "
        "the face leans more",
    )
    rear = np.concatenate([chain.enter[BONNET_END:], chain.leave[BONNET_END:], chain.bonnet[1:]])
    upright = math.pi / 2.0 - 1e-6
    rule_out(
        (np.abs(rear[:-1]) > upright).any(axis=0) | (rear[-1] < -upright),
        "the rear of the bonnet would run back under itself: make the cowl shallower",
    )
    rule_out(chain.start[:, 1] < 0.0, "the contour would go below the ground")
    split = chain.point(EDGE, np.full(len(chain.start), _SPLIT))
    bottom = chain.centre[COWL, :, 1] - d["cowl_radius_mm"]
    tail = chain.point(BONNET_END, chain.bonnet[1])
    # A crowned bonnet lies above its chord, so nothing ahead of its rear end is lower than both.
    lowest = np.minimum(bottom, tail[:, 1])
    back = np.max(chain.centre[:EDGE, :, 0] + np.abs(chain.rho[:EDGE]), axis=0)
    lip = chain.point(LIP, chain.enter[LIP])
    under = (lowest < split[:, 1]) & ((back >= tail[:, 0]) | (lowest <= lip[:, 1]))
    rule_out(under, "the cowl would lie lower than the face ahead of it and cut into it")

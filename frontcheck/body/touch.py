"""What a front, the ground and one leg on the other push on the bodies of a figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.body.anatomy import FAR_SHANK, NEAR_SHANK
from frontcheck.body.assumptions import DATA, values
from frontcheck.body.chain import turned
from frontcheck.legs.mechanics import given_back

if TYPE_CHECKING:
    from frontcheck.body.anatomy import Skin
    from frontcheck.body.assumed import Cases
    from frontcheck.body.chain import Chain
    from frontcheck.body.wall import Wall
    from frontcheck.geometry.arrays import Array, Index

_CONTACT = values(DATA["contact"])
_SHANKS = (NEAR_SHANK, FAR_SHANK)


@dataclass(frozen=True, eq=False)
class Moment:
    """Where every body and every circle of some cases is, and how fast."""

    case: Index  # (B,) which cases
    angle: Array  # (B, n) [rad]
    turning: Array  # (B, n) [rad/s]
    origin: Array  # (B, n, 2) [m]
    moving: Array  # (B, n, 2) [m/s]
    arm: Array  # (B, c, 2) of every circle, from the origin of its body [m]
    centre: Array  # (B, c, 2) [m]
    force: Array  # (B, n, 2) at the origins, added to [N]
    torque: Array  # (B, n) on the bodies, added to [N m]

    @classmethod
    def of(
        cls, chain: Chain, skin: Skin, place: Array, case: Index, pose: Array, rate: Array
    ) -> Moment:
        """Work it out for circles at places (B, c, 2) in the axes of their bodies."""
        angle, origin = pose[:, 2:], chain.origins(pose)
        arm = turned(place, angle[:, skin.body])
        return cls(
            case, angle, rate[:, 2:], origin, chain.origin_rates(pose, rate), arm,
            origin[:, skin.body] + arm, np.zeros_like(origin), np.zeros_like(angle),
        )  # fmt: skip

    def going(self, row: Index, body: Index, spot: Array) -> Array:
        """How fast spots (k, 2), seen from the origins of bodies, move."""
        swing = np.stack([spot[:, 1], -spot[:, 0]], axis=1)
        return self.moving[row, body] + self.turning[row, body, None] * swing

    def add(self, row: Index, body: Index, spot: Array, load: Array) -> None:
        """Add loads (k, 2) at spots."""
        np.add.at(self.force, (row, body), load)
        np.add.at(self.torque, (row, body), spot[:, 1] * load[:, 0] - spot[:, 0] * load[:, 1])


@dataclass(frozen=True, eq=False)
class Hits:
    """Circles that the front pushes on."""

    row: Index  # (k,) of the moment
    circle: Index  # (k,)
    stretch: Index  # (k,) of the wall
    at: Array  # (k, 2) nearest place of the wall [m]
    normal: Array  # (k, 2) of the wall there
    depth: Array  # (k,) [m]
    into: Array  # (k,) how fast it sinks in [m/s]


def front_loads(now: Moment, wall: Wall, part: Index, skin: Skin, cases: Cases) -> Hits:
    """Add what the front does."""
    count = len(skin.body)
    reach = np.tile(skin.radius, len(now.case))
    which, stretch, distance, normal = wall.near(now.centre.reshape(-1, 2), reach)
    hit = np.flatnonzero(distance < reach[which])
    row, circle = np.divmod(which[hit], count)
    stretch, distance, normal = stretch[hit], distance[hit], normal[hit]
    body, radius, case = skin.body[circle], skin.radius[circle], now.case[row]
    spot = now.arm[row, circle] - radius[:, None] * normal
    going = now.going(row, body, spot)
    into = -(going * normal).sum(axis=1)
    own = part[stretch]
    depth = radius - distance
    push = cases.stiffness[case, own] * skin.stiff[circle] * depth
    back = given_back(into, cases.rebound[case])
    slide = going + into[:, None] * normal
    slip = np.hypot(slide[:, 0], slide[:, 1])
    # Whether what has sunk in rubs on the way out by its push or by its depth is not known: drawn.
    rub = cases.friction[case, own] * push * (back + cases.grip[case] * (1.0 - back))
    rub *= np.tanh(slip / _CONTACT["slip_speed"])
    push *= back
    load = push[:, None] * normal - (rub / np.maximum(slip, 1e-9))[:, None] * slide
    now.add(row, body, spot, load)
    at = now.centre[row, circle] - distance[:, None] * normal
    return Hits(row, circle, stretch, at, normal, depth, into)


def ground_loads(now: Moment, sole: float, cases: Cases, ground: Array) -> None:
    """Add what the ground does to both soles, a length below the knees, moving at (B,) [m/s]."""
    row = np.arange(len(now.case))
    for shank in _SHANKS:
        spot = turned(np.array([0.0, -sole]), now.angle[:, shank])
        under = np.maximum(-(now.origin[:, shank, 1] + spot[:, 1]), 0.0)
        body = np.full(len(row), shank)
        going = now.going(row, body, spot)
        push = 1e3 * _CONTACT["sole_stiffness"] * under
        push *= given_back(-going[:, 1], cases.rebound[now.case])
        slip = (going[:, 0] - ground) / _CONTACT["slip_speed"]
        rub = -cases.sole_friction[now.case] * push * np.tanh(slip)
        now.add(row, body, spot, np.stack([rub, push], axis=1))


def leg_loads(now: Moment, skin: Skin, cases: Cases) -> None:
    """Add what one leg does to the other, where it strikes it."""
    rows = np.flatnonzero(cases.legs_touch[now.case])
    near, far, reach = skin.legs
    x, z = now.centre[rows, :, 0], now.centre[rows, :, 1]
    across = x[:, near, None] - x[:, None, far]
    up = z[:, near, None] - z[:, None, far]
    at, i, j = np.nonzero(across * across + up * up < reach * reach)
    off = np.stack([across[at, i, j], up[at, i, j]], axis=1)
    row, one, two = rows[at], near[i], far[j]
    apart = np.maximum(np.hypot(off[:, 0], off[:, 1]), 1e-9)
    normal = off / apart[:, None]
    spots = [
        now.arm[row, circle] - sign * skin.radius[circle, None] * normal
        for circle, sign in ((one, 1.0), (two, -1.0))
    ]
    going = [
        now.going(row, skin.body[circle], spot)
        for circle, spot in zip((one, two), spots, strict=True)
    ]
    into = -((going[0] - going[1]) * normal).sum(axis=1)
    push = 1e6 * _CONTACT["stiffness"] * skin.stiff[one] * (reach[i, j] - apart)
    push *= given_back(into, cases.rebound[now.case[row]])
    load = push[:, None] * normal
    now.add(row, skin.body[one], spots[0], load)
    now.add(row, skin.body[two], spots[1], -load)

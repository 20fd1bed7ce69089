"""A person is struck by a front: one station, one plane, until the head touches.

The front stands still and the person comes at it with the ground, so that braking is a field that
pulls the person on. The skin pushes along the nearest normal, rubs across it, and gives back
less than it took. Steps are those of semi-implicit Euler: rates first, then places.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.anatomy import (
    DATA,
    FAR_SHANK,
    FAR_THIGH,
    HEAD,
    NEAR_SHANK,
    NEAR_THIGH,
    NECK,
)
from frontcheck.body.chain import turned
from frontcheck.people.impactors import GRAVITY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.body.anatomy import Figure
    from frontcheck.body.assumed import Cases
    from frontcheck.body.wall import Wall

STEP_S: Final = 0.25e-3
LAST_S: Final = 0.35
_CONTACT, _JOINTS = DATA["contact"], DATA["joints"]


@dataclass(frozen=True, eq=False)
class Struck:
    """How B cases went."""

    first_s: NDArray[np.float64]  # (B,) first contact after the start; nan: none [s]
    head_s: NDArray[np.float64]  # (B,) when the head touched, after first contact; nan: never [s]
    head_stretch: NDArray[np.intp]  # (B,) stretch of the front that it touched
    head_at: NDArray[np.float64]  # (B, 2) where on the front [m]
    pose: NDArray[np.float64]  # (B, 11) then, or at the end
    beyond: NDArray[np.bool_]  # (B,) whether the head went beyond the end of the front
    times: NDArray[np.float64]  # (t,) [s] of the poses kept
    poses: NDArray[np.float64]  # (t, B, 11) poses kept; nan once a case has ended


class _Joints:
    """Torques between bodies."""

    def __init__(self, figure: Figure, cases: Cases) -> None:
        man = _JOINTS["man_stature_m"] * _JOINTS["man_mass_kg"]
        size = figure.stature * figure.mass / man
        damping, floor = _JOINTS["damping_share"], _JOINTS["damping_least"]
        spring = np.stack(
            [cases.spine, cases.spine, cases.neck, cases.neck,
             cases.hip, cases.knee, cases.hip, cases.knee], axis=1,
        )  # fmt: skip
        damp = _JOINTS["damping_scale"] * (damping * spring + floor)
        damp[:, [NEAR_SHANK - 1, FAR_SHANK - 1]] = _JOINTS["knee_damping"]
        stop = np.empty_like(spring)
        spine, neck, hip = (_JOINTS[name] for name in ("spine", "neck", "hip"))
        stop[:, :2] = spine["stop"]
        stop[:, NECK - 1] = neck["stop"] * cases.stops
        stop[:, HEAD - 1] = neck["head_stop"] * cases.stops
        stop[:, 4:] = hip["stop"]
        stiff = np.full(8, _JOINTS["stop_stiffness"])
        stiff[HEAD - 1] = _JOINTS["head_stop_stiffness"]
        self.knees = np.zeros(8, dtype=bool)
        self.knees[[NEAR_SHANK - 1, FAR_SHANK - 1]] = True
        stiff[self.knees] = 0.0
        self.spring, self.damp = size * spring, size * damp
        self.stop, self.stiff = stop, size * stiff
        self.most = size * cases.knee_most[:, None]
        self.parent = figure.chain.parent[1:]
        self.fold = np.zeros((8, 9))
        self.fold[np.arange(8), np.arange(1, 9)] = 1.0
        self.fold[np.arange(8), self.parent] = -1.0

    def torque(
        self, angle: NDArray[np.float64], turning: NDArray[np.float64], case: NDArray[np.intp]
    ) -> NDArray[np.float64]:
        bend, rate = angle[:, 1:] - angle[:, self.parent], turning[:, 1:] - turning[:, self.parent]
        spring = self.spring[case] * bend
        most = self.most[case]
        knee = self.knees
        spring[:, knee] = most * np.tanh(spring[:, knee] / most)
        over = bend - np.clip(bend, -self.stop[case], self.stop[case])
        torque: NDArray[np.float64] = -(spring + self.stiff * over + self.damp[case] * rate)
        return torque @ self.fold


def strike(
    figure: Figure,
    wall: Wall,
    part: NDArray[np.intp],
    cases: Cases,
    speed: float,
    *,
    step: float = STEP_S,
    last: float = LAST_S,
    keep_every: float | None = None,
) -> Struck:
    """Let a figure come at a wall whose stretches belong to parts (m,), at a speed [m/s]."""
    count, chain = len(cases), figure.chain
    joints = _Joints(figure, cases)
    place = np.broadcast_to(figure.place, (count, *figure.place.shape)).copy()
    wide = figure.shoulder
    place[:, wide, 0] += (cases.shoulder[:, None] - 1.0) * (place[:, wide, 0] + figure.radius[wide])
    pose, rate = np.zeros((2, count, 11))
    pose[:, 2:] = cases.lean[:, None]
    pose[:, 1] = figure.hip * np.cos(cases.lean)
    rate[:, 0] = speed
    pose[:, 0] -= _advance(figure, wall, place, pose)
    legs = _Legs(figure)
    first, head = np.full((2, count), np.nan)
    stretch, at = np.zeros(count, dtype=np.intp), np.full((count, 2), np.nan)
    beyond = np.zeros(count, dtype=bool)
    final = pose.copy()
    case = np.arange(count)
    reach = np.broadcast_to(figure.radius, place.shape[:2])
    steps = round(last / step)
    kept_each = None if keep_every is None else max(round(keep_every / step), 1)
    times, poses = [], []
    for n in range(steps + 1):
        if kept_each is not None and n % kept_each == 0:
            now = np.full((count, 11), np.nan)
            now[case] = pose
            times.append(n * step)
            poses.append(now)
        if not len(case) or n == steps:
            break
        origins, moving = chain.origins(pose), chain.origin_rates(pose, rate)
        angle, turning = pose[:, 2:], rate[:, 2:]
        arm = turned(place[case], angle[:, figure.body])
        centre = origins[:, figure.body] + arm
        force, torque = np.zeros((len(case), 9, 2)), joints.torque(angle, turning, case)
        # The front.
        flat = centre.reshape(-1, 2)
        which, edge, distance, normal = wall.near(flat, reach[case].ravel())
        row, circle = np.divmod(which, len(figure.body))
        depth = figure.radius[circle] - distance
        hit = np.flatnonzero(depth > 0.0)
        row, circle, edge, depth, normal = (v[hit] for v in (row, circle, edge, depth, normal))
        body = figure.body[circle]
        spot = arm[row, circle] - figure.radius[circle, None] * normal
        going = moving[row, body] + turning[row, body, None] * np.stack(
            [spot[:, 1], -spot[:, 0]], axis=1
        )
        into = -(going * normal).sum(axis=1)
        own = case[row]
        push = cases.stiffness[own, part[edge]] * figure.stiff[circle] * depth
        push *= np.where(into >= 0.0, 1.0, cases.rebound[own] ** 2)
        slide = going + into[:, None] * normal
        slip = np.hypot(slide[:, 0], slide[:, 1])
        rub = cases.friction[own, part[edge]] * push * np.tanh(slip / _CONTACT["slip_speed"])
        load = push[:, None] * normal - (rub / np.maximum(slip, 1e-9))[:, None] * slide
        _add(force, torque, row, body, spot, load)
        # The ground, which comes with the person and is braked with the front.
        time = n * step
        ground = np.maximum(speed - cases.braking[case] * time, 0.0)
        for shank in (NEAR_SHANK, FAR_SHANK):
            sole = turned(np.array([0.0, -figure.sole]), angle[:, shank])
            under = -(origins[:, shank, 1] + sole[:, 1])
            going = moving[:, shank] + turning[:, shank, None] * np.stack(
                [sole[:, 1], -sole[:, 0]], axis=1
            )
            push = np.where(under > 0.0, 1e3 * _CONTACT["sole_stiffness"] * under, 0.0)
            push *= np.where(going[:, 1] <= 0.0, 1.0, cases.rebound[case] ** 2)
            slip = going[:, 0] - ground
            rub = -cases.sole_friction[case] * push * np.tanh(slip / _CONTACT["slip_speed"])
            load = np.stack([rub, push], axis=1)
            force[:, shank] += load
            torque[:, shank] += sole[:, 1] * load[:, 0] - sole[:, 0] * load[:, 1]
        legs.strike(figure, cases, case, centre, arm, moving, turning, force, torque)
        braking = np.where(ground > 0.0, -cases.braking[case], 0.0)
        field = np.stack([braking, np.full(len(case), -GRAVITY)], axis=1)
        rate = rate + step * chain.acceleration(pose, rate, force, torque, field)
        touched = np.unique(own)
        first[touched] = np.where(np.isnan(first[touched]), time, first[touched])
        # The head, and who has gone beyond the end of the front.
        on_head = np.flatnonzero(body == HEAD)
        done = np.zeros(len(case), dtype=bool)
        if len(on_head):
            who = own[on_head]
            head[who] = time - first[who]
            stretch[who] = edge[on_head]
            at[who] = (
                centre[row[on_head], circle[on_head]]
                - normal[on_head] * (figure.radius[circle[on_head]] - depth[on_head])[:, None]
            )
            done[row[on_head]] = True
        top = centre[:, np.flatnonzero(figure.body == HEAD)[0]]
        gone = (top[:, 0] > wall.points[-1, 0]) & ~done
        beyond[case[gone]] = True
        final[case] = pose
        stay = ~(done | gone)
        pose = pose + step * rate
        if not stay.all():
            case, pose, rate = case[stay], pose[stay], rate[stay]
    return Struck(
        first, head, stretch, at, final, beyond,
        np.array(times), np.array(poses) if poses else np.zeros((0, count, 11)),
    )  # fmt: skip


def _add(
    force: NDArray[np.float64],
    torque: NDArray[np.float64],
    row: NDArray[np.intp],
    body: NDArray[np.intp],
    spot: NDArray[np.float64],
    load: NDArray[np.float64],
) -> None:
    """Add loads at spots, seen from the origins of the bodies."""
    np.add.at(force, (row, body), load)
    np.add.at(torque, (row, body), spot[:, 1] * load[:, 0] - spot[:, 0] * load[:, 1])


def _advance(
    figure: Figure, wall: Wall, place: NDArray[np.float64], pose: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far every figure has to go back from where its hip joint is at the foremost point."""
    # By halving: standing with a gap it touches nothing, and touches once it has come nearer.
    count = len(pose)
    arm = turned(place, pose[:, 2 + figure.body])
    origins = figure.chain.origins(pose)
    reach = np.broadcast_to(figure.radius, place.shape[:2]).ravel()
    far = float(wall.points[:, 0].min())
    near, away = np.full(count, -far), np.full(count, -far + 1.0)

    def touches(back: NDArray[np.float64]) -> NDArray[np.bool_]:
        centre = origins[:, figure.body] + arm
        centre[..., 0] -= back[:, None]
        which, _, distance, _ = wall.near(centre.reshape(-1, 2), reach)
        hit = which[distance < reach[which]]
        found = np.zeros(count, dtype=bool)
        found[hit // len(figure.body)] = True
        return found

    for _ in range(40):
        middle = (near + away) / 2.0
        met = touches(middle)
        near, away = np.where(met, middle, near), np.where(met, away, middle)
    return away


class _Legs:
    """One leg against the other."""

    def __init__(self, figure: Figure) -> None:
        near, far = (
            np.flatnonzero(np.isin(figure.body, pair))
            for pair in ((NEAR_THIGH, NEAR_SHANK), (FAR_THIGH, FAR_SHANK))
        )
        self.near, self.far = near, far
        self.reach = figure.radius[near][:, None] + figure.radius[far]

    def strike(
        self,
        figure: Figure,
        cases: Cases,
        case: NDArray[np.intp],
        centre: NDArray[np.float64],
        arm: NDArray[np.float64],
        moving: NDArray[np.float64],
        turning: NDArray[np.float64],
        force: NDArray[np.float64],
        torque: NDArray[np.float64],
    ) -> None:
        rows = np.flatnonzero(cases.legs_touch[case])
        if not len(rows):
            return
        off = centre[rows][:, self.near, None] - centre[rows][:, None, self.far]
        gap = np.hypot(off[..., 0], off[..., 1])
        at, i, j = np.nonzero(gap < self.reach)
        if not len(at):
            return
        row, near, far = rows[at], self.near[i], self.far[j]
        depth = (self.reach - gap)[at, i, j]
        normal = off[at, i, j] / np.maximum(gap[at, i, j], 1e-9)[:, None]
        spots = [
            arm[row, near] - figure.radius[near, None] * normal,
            arm[row, far] + figure.radius[far, None] * normal,
        ]
        bodies = [figure.body[near], figure.body[far]]
        going = [
            moving[row, body]
            + turning[row, body, None] * np.stack([spot[:, 1], -spot[:, 0]], axis=1)
            for body, spot in zip(bodies, spots, strict=True)
        ]
        into = -((going[0] - going[1]) * normal).sum(axis=1)
        push = 1e6 * _CONTACT["stiffness"] * figure.stiff[near] * depth
        push *= np.where(into >= 0.0, 1.0, cases.rebound[case[row]] ** 2)
        load = push[:, None] * normal
        _add(force, torque, row, bodies[0], spots[0], load)
        _add(force, torque, row, bodies[1], spots[1], -load)


__all__ = ["LAST_S", "STEP_S", "Struck", "strike"]

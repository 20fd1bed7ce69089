"""A person is struck by a front: one station, one plane, until the head touches.

The front stands still and the person comes at it with the ground; braking is a field that holds
the person back. The skin pushes along the nearest normal, rubs across it, and gives back less than
it took.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.anatomy import FAR_THIGH, HEAD, PELVIS
from frontcheck.body.assumptions import TOLD
from frontcheck.body.chain import turned
from frontcheck.body.joints import Joints
from frontcheck.body.touch import Moment, front_loads, ground_loads, leg_loads
from frontcheck.legs.mechanics import stepped
from frontcheck.people.impactors import GRAVITY

if TYPE_CHECKING:
    from frontcheck.body.anatomy import Figure
    from frontcheck.body.assumed import Cases
    from frontcheck.body.wall import Wall
    from frontcheck.geometry.arrays import Array, Index, Mask

STEP_S: Final = TOLD["step"] * 1e-3
LAST_S: Final = TOLD["last"]
_HALVINGS: Final = 40
_CLEAR_M: Final = 1.0
_STILL_M_S: Final = 1e-9


@dataclass(frozen=True, eq=False)
class Struck:
    """How B cases went."""

    # Not a number where something did not happen.

    first_s: Array  # (B,) first contact after the start [s]
    first_body: Index  # (B,) which body the front met first
    first_stretch: Index  # (B,) which stretch of the front
    first_at: Array  # (B, 2) where on it [m]
    head_s: Array  # (B,) the head's contact, after the first [s]
    head_stretch: Index  # (B,) stretch of the front that it touched
    head_at: Array  # (B, 2) where on the front [m]
    pose: Array  # (B, 11) then, or at the end
    beyond: Mask  # (B,) whether the head went beyond the end of the front
    times: Array  # (t,) of the poses kept [s]
    poses: Array  # (t, B, 11) poses kept, up to the end of each case


def strike(
    figure: Figure,
    wall: Wall,
    part: Index,
    cases: Cases,
    speed: float,
    *,
    step: float = STEP_S,
    last: float = LAST_S,
    keep_every: float | None = None,
    joints: Joints | None = None,
    gravity: float = GRAVITY,
    on_ground: bool = True,
) -> Struck:
    """Let a figure come at a wall whose stretches belong to parts (m,), at a speed [m/s]."""
    count, chain, skin = len(cases), figure.chain, figure.skin
    joints = Joints(figure, cases) if joints is None else joints
    place = skin.with_shoulders(cases.shoulder)
    pose, rate = np.zeros((2, count, 2 + len(chain)))
    pose[:, 2:] = cases.lean[:, None]
    # Leaning, one hip is lower than the other: its sole just touches the road.
    beside = abs(float(chain.arms[FAR_THIGH, PELVIS, 0]))
    pose[:, 1] = figure.hip * np.cos(cases.lean) + beside * np.abs(np.sin(cases.lean))
    rate[:, 0] = speed
    pose[:, 0] = _start(figure, wall, place, pose)
    out = Struck(
        first_s=np.full(count, np.nan),
        first_body=np.zeros(count, dtype=np.intp),
        first_stretch=np.zeros(count, dtype=np.intp),
        first_at=np.full((count, 2), np.nan),
        head_s=np.full(count, np.nan),
        head_stretch=np.zeros(count, dtype=np.intp),
        head_at=np.full((count, 2), np.nan),
        pose=pose.copy(),
        beyond=np.zeros(count, dtype=bool),
        times=np.zeros(0),
        poses=np.zeros((0, *pose.shape)),
    )
    head = int(np.flatnonzero(skin.body == HEAD)[0])
    kept: list[tuple[float, Array]] = []
    case = np.arange(count)
    for n in range(round(last / step) + 1):
        time = n * step
        if keep_every is not None and n % max(round(keep_every / step), 1) == 0:
            kept.append((time, np.full_like(out.pose, np.nan)))
            kept[-1][1][case] = pose
        now = Moment.of(chain, skin, place[case], case, pose, rate)
        hits = front_loads(now, wall, part, skin, cases)
        met = case[hits.row]
        # Contact began within the last step: so long ago as it took to sink in.
        ago = np.clip(hits.depth / np.maximum(hits.into, _STILL_M_S), 0.0, step)
        new = np.flatnonzero(np.isnan(out.first_s[met]))
        new = new[np.argsort(ago[new], kind="stable")]  # what met first is written last
        out.first_s[met[new]] = time - ago[new]
        out.first_body[met[new]] = skin.body[hits.circle[new]]
        out.first_stretch[met[new]] = hits.stretch[new]
        out.first_at[met[new]] = hits.at[new]
        # What is nearest to the very end of the contour would meet what was not measured.
        at_end = (hits.at == wall.points[-1]).all(axis=1)
        by_head = np.flatnonzero((hits.circle == head) & ~at_end)
        who, row, since = met[by_head], hits.row[by_head], ago[by_head]
        out.head_s[who] = time - since - out.first_s[who]
        out.head_stretch[who] = hits.stretch[by_head]
        going = now.going(row, np.full(len(row), HEAD), now.arm[row, head])
        along = going + hits.into[by_head, None] * hits.normal[by_head]
        out.head_at[who] = hits.at[by_head] - since[:, None] * along
        out.pose[case] = pose
        gone = now.centre[:, head, 0] > wall.points[-1, 0]
        gone[hits.row[(hits.circle == head) & at_end]] = True
        done = np.isin(case, who)
        out.beyond[case[gone & ~done]] = True
        stay = ~(done | gone)
        if not stay.any():
            break
        ground = np.maximum(speed - cases.braking[case] * time, 0.0)
        if on_ground:
            ground_loads(now, figure.sole, cases, ground)
        leg_loads(now, skin, cases)
        joints.load(now)
        field = np.zeros((len(case), 2))
        field[:, 0] = np.where(ground > 0.0, -cases.braking[case], 0.0)
        field[:, 1] = -gravity
        faster = chain.acceleration(pose, rate, now.force, now.torque, field)
        pose, rate = stepped(pose, rate, faster, step)
        if not stay.all():
            case, pose, rate = case[stay], pose[stay], rate[stay]
    if kept:
        times, poses = zip(*kept, strict=True)
        out = replace(out, times=np.array(times), poses=np.array(poses))
    return out


def _start(figure: Figure, wall: Wall, place: Array, pose: Array) -> Array:
    """Where hip joints (B,) are just before anything touches."""
    # By halving: far ahead of the front nothing touches, at its foremost point something does.
    skin = figure.skin
    standing = figure.chain.origins(pose)[:, skin.body] + turned(place, pose[:, 2 + skin.body])
    reach = np.tile(skin.radius, len(pose))
    inside = np.full(len(pose), float(wall.points[:, 0].min()))
    outside = inside - _CLEAR_M
    for _ in range(_HALVINGS):
        middle = (inside + outside) / 2.0
        centre = standing.copy()
        centre[..., 0] += middle[:, None]
        which, _, distance, _ = wall.near(centre.reshape(-1, 2), reach)
        touches = np.zeros(len(pose), dtype=bool)
        touches[which[distance < reach[which]] // len(skin.body)] = True
        inside, outside = np.where(touches, middle, inside), np.where(touches, outside, middle)
    return outside

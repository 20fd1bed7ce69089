"""A run from the first contact to that of the head, against a plain loop over cases and contacts.

What pushes is tested by itself (test_body_touch.py); here: who touched first, where and when, when
a case ends, what of it is kept. Own choice of model (its contract, section 1).
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest

from frontcheck.body.anatomy import Figure
from frontcheck.body.assumed import drawn
from frontcheck.body.joints import Joints
from frontcheck.body.struck import _start, strike
from frontcheck.body.touch import Moment, front_loads, ground_loads, leg_loads
from frontcheck.body.wall import Wall

MAN, CHILD = Figure.of(1.755, 77.0), Figure.of(1.153, 21.0, child=True)
NOSE = np.array([
    (0.12, 0.20), (0.02, 0.30), (0.0, 0.45), (0.04, 0.59), (0.12, 0.68), (0.40, 0.775),
    (1.15, 0.905), (1.95, 1.34),
])  # fmt: skip
TALL = np.array([(0.3, 0.1), (0.0, 0.4), (0.0, 1.3), (0.2, 1.8), (0.7, 2.1)])
STEP = 5e-4
HEAD = 4


def one_of(cases, k):
    """A single case of many."""
    return replace(cases, **{each.name: getattr(cases, each.name)[k : k + 1] for each in
                             fields(cases)})  # fmt: skip


def plain_run(figure, points, part, cases, speed, last, keep_every, gravity, on_ground):
    """One case: contacts one by one, the road slowing down, until it ends."""
    wall, skin, chain = Wall(points), figure.skin, figure.chain
    place, joints = skin.with_shoulders(cases.shoulder), Joints(figure, cases)
    lean, case = float(cases.lean[0]), np.zeros(1, dtype=np.intp)
    pose, rate = np.zeros((2, 1, 11))
    pose[0, 2:] = lean
    # Of two hip joints 0.05 of the stature to either side the lower one has its sole on the road.
    pose[0, 1] = figure.hip * math.cos(lean) + 0.05 * figure.stature * abs(math.sin(lean))
    pose[0, 0] = _start(figure, wall, place, pose)[0]
    rate[0, 0] = speed
    told = SimpleNamespace(first=None, head=None, beyond=False, poses=[])
    for n in range(round(last / STEP) + 1):
        time = n * STEP
        if n % round(keep_every / STEP) == 0:
            told.poses.append((time, pose[0].copy()))
        now = Moment.of(chain, skin, place, case, pose, rate)
        hits = front_loads(now, wall, part, skin, cases)
        told.pose, past = pose[0], now.centre[0, skin.body.tolist().index(HEAD), 0] > points[-1, 0]
        for i, circle in enumerate(hits.circle.tolist()):
            began = time - min(max(hits.depth[i] / max(hits.into[i], 1e-9), 0.0), STEP)
            body, at_end = int(skin.body[circle]), bool((hits.at[i] == points[-1]).all())
            if told.first is None or (told.first[4] == n and began < told.first[0]):
                told.first = began, body, int(hits.stretch[i]), hits.at[i], n
            if body == HEAD and at_end:
                past = True
            elif body == HEAD:
                swing = now.arm[0, circle]
                going = now.moving[0, HEAD] + now.turning[0, HEAD] * np.array([swing[1], -swing[0]])
                along = going - (going @ hits.normal[i]) * hits.normal[i]
                into = -float(now.going(hits.row[i : i + 1], np.array([HEAD]),
                              (swing - skin.radius[circle] * hits.normal[i])[None])[0]
                              @ hits.normal[i])  # fmt: skip
                assert into == pytest.approx(hits.into[i])
                told.head = began, int(hits.stretch[i]), hits.at[i] - (time - began) * along
        if told.head is not None or past:
            told.beyond = told.head is None
            return told
        road = max(speed - float(cases.braking[0]) * time, 0.0)
        if on_ground:
            ground_loads(now, figure.sole, cases, np.array([road]))
        leg_loads(now, skin, cases)
        joints.load(now)
        field = np.array([[-float(cases.braking[0]) if road > 0.0 else 0.0, -gravity]])
        rate = rate + STEP * chain.acceleration(pose, rate, now.force, now.torque, field)
        pose = pose + STEP * rate
    return told


@pytest.mark.parametrize(
    ("figure", "points", "part", "speed", "last", "gravity", "on_ground", "ends"),
    [
        # How cases end: at the head's contact, past the end of the contour, or with the time.
        (MAN, NOSE, [0, 0, 0, 1, 1, 2, 3], 11.0, 0.2, 9.80665, True, {"head"}),
        (CHILD, NOSE, [0, 0, 0, 1, 1, 2, 3], 8.0, 0.2, 9.80665, True, {"head"}),
        (MAN, NOSE[:6], [0, 0, 0, 1, 1], 12.0, 0.2, 9.80665, True, {"beyond"}),
        (CHILD, NOSE[:5] * [1, 1.5], [0, 0, 1, 1], 12.0, 0.2, 9.80665, True, {"beyond"}),
        (MAN, TALL, [0, 1, 2, 3], 9.0, 0.05, 9.80665, True, {"head"}),
        (MAN, NOSE, [0, 0, 0, 1, 1, 2, 3], 0.3, 0.05, 3.0, False, {"time"}),
        (MAN, NOSE, [0, 0, 0, 1, 1, 2, 3], 0.2, 0.04, 9.80665, True, {"time"}),
    ],
    ids=["man", "child", "short", "edge of the end", "tall", "afloat", "stopped"],
)
def test_a_run_is_that_of_a_plain_loop(
    figure, points, part, speed, last, gravity, on_ground, ends
) -> None:
    cases, part = drawn(2, 3), np.array(part)
    ended = strike(
        figure, Wall(points), part, cases, speed, step=STEP, last=last, keep_every=0.005,
        gravity=gravity, on_ground=on_ground,
    )  # fmt: skip
    seen = set()
    for k in range(len(cases)):
        told = plain_run(
            figure, points, part, one_of(cases, k), speed, last, 0.005, gravity, on_ground
        )
        assert told.first is not None
        assert ended.first_s[k] == pytest.approx(told.first[0], abs=1e-9)
        assert (ended.first_body[k], ended.first_stretch[k]) == told.first[1:3]
        assert ended.first_at[k] == pytest.approx(told.first[3])
        assert ended.beyond[k] == told.beyond
        assert ended.pose[k] == pytest.approx(told.pose, abs=1e-7)
        if told.head is None:
            assert np.isnan(ended.head_s[k])
            assert np.isnan(ended.head_at[k]).all()
        else:
            assert ended.head_s[k] == pytest.approx(told.head[0] - told.first[0], abs=1e-7)
            assert ended.head_stretch[k] == told.head[1]
            assert ended.head_at[k] == pytest.approx(told.head[2], abs=1e-7)
        for i, time in enumerate(ended.times.tolist()):
            assert time == pytest.approx(0.005 * i)
            if i < len(told.poses):
                assert told.poses[i][0] == pytest.approx(time)
                assert ended.poses[i, k] == pytest.approx(told.poses[i][1], abs=1e-7)
            else:
                assert np.isnan(ended.poses[i, k]).all()  # nothing after the end of a case
        seen.add("beyond" if told.beyond else "time" if told.head is None else "head")
    assert seen == ends
    assert len(ended.times) <= round(last / 0.005) + 1


def test_nothing_is_kept_that_was_not_asked_for() -> None:
    ended = strike(MAN, Wall(NOSE), np.zeros(7, dtype=int), drawn(2, 1), 10.0, last=0.002)
    assert ended.times.shape == (0,)
    assert ended.poses.shape == (0, 2, 11)
    # Asked for more often than there are steps, every one of them is kept: 0.25 ms.
    often = strike(
        MAN, Wall(NOSE), np.zeros(7, dtype=int), drawn(2, 1), 10.0, last=0.002, keep_every=1e-6
    )
    assert often.times == pytest.approx(np.arange(9) * 0.25e-3)
    assert often.pose == pytest.approx(often.poses[-1])

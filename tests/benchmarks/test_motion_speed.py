"""A struck person against the same chain in MuJoCo, and fine sections against coarse ones.

Run with ``pytest tests/benchmarks/test_motion_speed.py -s`` to see the ratios. MuJoCo (Apache-2.0)
moves the same nine bodies by the same step for as long as ours need to the head's contact, but
meets no front, no ground and no leg: what it leaves out is most of our work.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np
import pytest
from references.mujoco_chain import run

import frontcheck as fc
from frontcheck.body.anatomy import figure_of
from frontcheck.body.assumed import drawn, nominal
from frontcheck.body.joints import Joints
from frontcheck.body.person_motion import person_motion
from frontcheck.body.struck import STEP_S
from frontcheck.body.struck_front import StruckFront
from frontcheck.lines.lined_front import chosen_stations, line_up
from frontcheck.people.people import struck_people

pytestmark = pytest.mark.benchmark
pytest.importorskip("mujoco")

DRAWS, ROUNDS = 64, 3
MAN = next(person for person in struck_people() if person.name == "man p50")
MOST_MUJOCO = 14.0
"""As slow as MuJoCo's bare chain times this: own choice, half above what was measured, 9.4."""
MOST_FINE = 2.0
CONTOUR = np.array([
    (120, 200), (40, 260), (5, 330), (0, 450), (8, 540), (40, 590), (85, 640), (120, 680),
    (170, 712), (250, 738), (400, 775), (700, 835), (1000, 885), (1120, 905), (1150, 905),
    (1400, 1050), (1700, 1215), (1950, 1340),
])  # fmt: skip


def struck_front(count: int) -> StruckFront:
    """The contour with so many points more, its corners kept."""
    arcs = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(CONTOUR, axis=0).T))])
    at = np.unique(np.concatenate([arcs, np.linspace(0.0, arcs[-1], count)])) if count else arcs
    points = np.stack([np.interp(at, arcs, CONTOUR[:, i]) for i in (0, 1)], axis=1)
    lined = line_up(fc.Front([fc.Section(points)]), "UN-R127-02")
    ((side,),) = chosen_stations([lined])[0].values()
    return StruckFront.of(side)


def struck(front: StruckFront):
    return person_motion(front, MAN.name, figure_of(MAN), drawn(DRAWS, 1), 40.0).motion


def seconds(call) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def ratio(one, other) -> float:
    """Median over rounds of what one takes over the other, side by side."""
    one(), other()
    return statistics.median(seconds(one) / seconds(other) for _ in range(ROUNDS))


def test_a_person_against_the_bare_chain_in_mujoco():
    front, figure = struck_front(0), figure_of(MAN)
    found = struck(front)
    assert found.shares["no_head_contact"] == found.shares["beyond_measured"] == 0.0
    spring, lasts = Joints(figure, nominal()).spring[0], found.time_ms.median / 1e3

    def theirs():
        for _ in range(DRAWS):
            run(figure, spring, np.zeros(9), 11.1, lasts, STEP_S)

    found = ratio(lambda: struck(front), theirs)
    sys.stdout.write(f"\na struck person costs {found:.1f} times the bare chain in MuJoCo\n")
    assert found <= MOST_MUJOCO


def test_fine_sections_against_coarse_ones():
    coarse, fine = struck_front(0), struck_front(300)
    assert len(coarse.points) == len(CONTOUR)
    assert len(fine.points) > 300
    found = ratio(lambda: struck(fine), lambda: struck(coarse))
    sys.stdout.write(f"\n{len(fine.points)} points cost {found:.2f} times {len(coarse.points)}\n")
    assert found <= MOST_FINE

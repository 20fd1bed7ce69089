"""The free chain against MuJoCo (Apache-2.0), and against angles that were worked out before.

MuJoCo builds its own equations from masses, inertias and places of the joints of the same figure:
nothing of ours but these numbers goes into it.
"""

from __future__ import annotations

import numpy as np
import pytest
from checks import Check, Source, derived
from references.mujoco_chain import run

import frontcheck as fc
from frontcheck.body.anatomy import BODIES, figure_of
from frontcheck.body.assumed import nominal
from frontcheck.body.joints import Joints
from frontcheck.body.touch import Moment
from frontcheck.errors import InputError
from frontcheck.legs.mechanics import stepped
from frontcheck.people.people import struck_people

pytest.importorskip("mujoco")
BEFORE = Check(
    "free-chain-worked-out-before",
    kind="independent method",
    quantity="angles of nine bodies of a man flying freely, after 0.15 s",
    unit="rad",
    source=Source("two programs apart, MuJoCo among them, run once", known="derived"),
    why="half a unit of the last digit kept, and what the step leaves open",
)
MUJOCO = Check(
    "free-chain-mujoco",
    kind="independent method",
    quantity="angles of nine linked bodies: flying, falling, damped",
    unit="rad",
    source=Source("MuJoCo", where="equations built from masses, inertias, joints", known="derived"),
    why="same steps, so what these leave open is alike; it damps ahead of a step, so 1e-4 there",
)
HALVED = Check(
    "free-chain-half-the-step",
    kind="closed form",
    quantity="what a step leaves open in the angles, after halving it",
    unit="rad",
    source=derived("half of it: the step is of first order"),
    why="10 % of it for the next term",
)

PEOPLE = {person.name: person for person in struck_people()}
RATES = (0.5, 1.0, 2.0, 3.0, 4.0, -1.0, 2.0, 1.0, -2.0)
OTHERS = (-3.0, 2.0, -1.0, 6.0, -5.0, 4.0, -2.0, -1.5, 3.0)
STEP = 5e-5
# Derived once for this chain by two programs apart, MuJoCo among them.
ANGLES = (0.12223, 0.19127, 0.25475, 0.37261, 0.42780, 0.03301, -0.01248, -0.01379, 0.02180)


def springs(person):
    return Joints(figure_of(person), nominal()).spring[0]


def test_the_angles_that_were_worked_out_before() -> None:
    chain = fc.free_chain(PEOPLE["man p50"], rates_rad_s=RATES, speed_m_s=3.0)
    BEFORE.compare(ANGLES, chain.angles_rad[-1], tolerance=2.5e-5)


@pytest.mark.parametrize("rates", [RATES, OTHERS], ids=["mild", "wild"])
@pytest.mark.parametrize("name", ["man p50", "woman p5", "six-year-old"])
def test_mujoco_moves_alike(name, rates) -> None:
    person = PEOPLE[name]
    own = fc.free_chain(person, rates_rad_s=rates, speed_m_s=3.0).angles_rad[-1]
    theirs = run(figure_of(person), springs(person), rates, 3.0, 0.15, STEP)
    MUJOCO.compare(theirs, own, tolerance=1e-5)


def test_mujoco_falls_alike() -> None:
    person = PEOPLE["man p95"]
    own = fc.free_chain(
        person, rates_rad_s=OTHERS, duration_s=0.1, gravity_m_s2=9.80665
    ).angles_rad[-1]
    theirs = run(figure_of(person), springs(person), OTHERS, 0.0, 0.1, STEP, gravity=9.80665)
    MUJOCO.compare(theirs, own, tolerance=1e-5)


def test_mujoco_is_damped_alike() -> None:
    """Dampers and knees that give, before any stop is met; steps fine, as theirs damp ahead."""
    person, step, seconds = PEOPLE["man p50"], 1e-5, 0.03
    figure = figure_of(person)
    joints = Joints(figure, nominal())
    joints.most = np.full_like(joints.most, np.inf)
    pose, rate = np.zeros((2, 1, 2 + len(BODIES)))
    rate[0, 2:] = RATES
    case, place = np.zeros(1, dtype=np.intp), figure.skin.place[None]
    for _ in range(round(seconds / step)):
        now = Moment.of(figure.chain, figure.skin, place, case, pose, rate)
        joints.load(now)
        loads = now.force, now.torque, np.zeros((1, 2))
        pose, rate = stepped(pose, rate, figure.chain.acceleration(pose, rate, *loads), step)
    theirs = run(figure, joints.spring[0], RATES, 0.0, seconds, step, damping=joints.damping[0])
    MUJOCO.compare(theirs, pose[0, 2:], tolerance=1e-4)


def test_halving_the_step_halves_what_it_leaves_open() -> None:
    man = PEOPLE["man p50"]
    steps = (2e-4, 1e-4, 5e-5, 2.5e-5)
    ends = [
        fc.free_chain(man, rates_rad_s=RATES, speed_m_s=3.0, step_s=step).angles_rad[-1]
        for step in steps
    ]
    off = [np.abs(one - two).max() for one, two in zip(ends, ends[1:], strict=False)]
    HALVED.compare(np.divide(off[:2], 2.0), off[1:], relative=0.1)


@pytest.mark.parametrize(
    "wrong",
    [
        {"rates_rad_s": (1.0, 2.0)},
        {"angles_rad": (np.nan,) * 9},
        {"step_s": 0.0},
        {"duration_s": 3.0},
        {"step_s": 0.2},
        {"speed_m_s": np.inf},
        {"gravity_m_s2": np.nan},
    ],
)
def test_what_is_no_start_is_refused(wrong) -> None:
    with pytest.raises(ValueError, match=r"finite|<= step <="):
        fc.free_chain(PEOPLE["man p50"], **wrong)


def test_someone_whom_no_table_fits_is_refused() -> None:
    with pytest.raises(InputError, match="1200"):
        fc.free_chain(fc.person_of_stature(1300, mass_kg=33))

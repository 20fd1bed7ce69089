"""The chain of bodies and its contact, against mechanics in closed form.

Every value is derived in its test; nothing is taken from a run of ours.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from checks import Check, Source, derived

from frontcheck.body.anatomy import Figure, Skin
from frontcheck.body.assumed import drawn, nominal
from frontcheck.body.chain import Chain
from frontcheck.body.joints import Joints
from frontcheck.body.struck import STEP_S, strike
from frontcheck.body.touch import Moment, front_loads, ground_loads, leg_loads
from frontcheck.body.wall import Wall
from frontcheck.legs.mechanics import stepped

PARABOLA = Check(
    "chain-parabola",
    kind="closed form",
    quantity="way of the centre of mass of a person in flight",
    unit="m",
    source=derived("v t - g t^2 / 2"),
    why="half a step ahead, g t dt / 2, and 0.05 mm for terms of second order",
)
KEPT = Check(
    "chain-energy-and-momentum",
    kind="closed form",
    quantity="energy and momentum of a person on undamped springs, after 0.3 s [J, N s, N m s]",
    source=derived("nothing is lost, nothing pushes"),
    why="0.1 % for the step",
)
LAGRANGE = Check(
    "chain-lagrange",
    kind="independent method",
    quantity="change of the momenta of the chain under any load [N, N m]",
    source=Source("Lagrange's equations", where="numerical derivatives", known="derived"),
    why="1e-5 of it, 1e-3 at least: what central differences give",
)
SPRING = Check(
    "contact-circle-on-a-spring",
    kind="closed form",
    quantity="depth, force, duration and speed back of a circle that strikes a wall [m, N, s, m/s]",
    source=derived("v sqrt(m / K), v sqrt(m K), a quarter period, e v"),
    why="0.1 %, of the speed 0.2 %, for the step",
)
LARGER = Check(
    "motion-larger-copy",
    kind="closed form",
    quantity="angles, places and times of a struck person 1.3 times as large [rad, m, s]",
    source=derived("similarity: lengths and times L, masses L^3, dampers L^4"),
    why="rounding of doubles, magnified by contacts",
)
ROD = Check(
    "rod-thrown-by-a-blow",
    kind="closed form",
    quantity="push and turning of a stiff rod struck by a hard edge [N s, rad/s]",
    source=derived("J = m v k^2 / (k^2 + d^2), w = J d / (m k^2)"),
    why="0.2 %: the edge gives a little",
)

GRAVITY = 9.80665
MAN = Figure.of(1.755, 77.0)
CHILD = Figure.of(1.153, 21.0, child=True)
RATES = np.array([0.5, 1.0, 2.0, 3.0, 4.0, -1.0, 2.0, 1.0, -2.0])


def flight(figure, rates, seconds, step, spring=None, field=(0.0, 0.0), speed=3.0):
    """Poses and rates of a chain in the air, its joints linear springs."""
    chain = figure.chain
    pose, rate = np.zeros((2, 1, 11))
    rate[:, 0], rate[:, 2:] = speed, rates
    before = chain.parent[1:]
    for _ in range(round(seconds / step)):
        torque = np.zeros((1, 9))
        if spring is not None:
            bend = pose[:, 3:] - pose[:, 2 + before]
            torque[:, 1:] -= spring * bend
            for j, i in enumerate(before):
                torque[:, i] += spring[j] * bend[:, j]
        rate = rate + step * chain.acceleration(
            pose, rate, np.zeros((1, 9, 2)), torque, np.array([field])
        )
        pose = pose + step * rate
    return pose, rate


@pytest.mark.parametrize("figure", [MAN, CHILD], ids=["man", "child"])
def test_in_flight_the_centre_of_mass_runs_on_a_parabola(figure) -> None:
    step, seconds = 1e-4, 0.15
    chain = figure.chain
    start, rate = np.zeros((2, 1, 11))
    rate[:, 0], rate[:, 2:] = 3.0, RATES
    going = chain.momentum(start, rate)[0] / chain.mass.sum()
    pose, _ = flight(figure, RATES, seconds, step, field=(0.0, -GRAVITY))
    moved = chain.centre_of_mass(pose)[0] - chain.centre_of_mass(start)[0]
    expected = going * seconds - [0.0, GRAVITY * seconds**2 / 2.0]
    # Rates first, then places: half a step ahead, g t dt / 2 = 0.074 mm; what the angles do in a
    # step adds second order terms of the arms, below a hundredth of a millimetre.
    PARABOLA.compare(expected, moved, tolerance=GRAVITY * seconds * step / 2.0 + 5e-5)


@pytest.mark.parametrize("figure", [MAN, CHILD], ids=["man", "child"])
def test_springs_keep_energy_and_momentum(figure) -> None:
    """Undamped and free: nothing is lost in 0.3 s, and nothing from outside pushes."""
    spring = np.array([180.0, 180.0, 25.0, 25.0, 60.0, 600.0, 60.0, 600.0])
    chain = figure.chain
    before = chain.parent[1:]

    def energy(pose, rate):
        bend = pose[:, 3:] - pose[:, 2 + before]
        return float((chain.kinetic(pose, rate) + 0.5 * (spring * bend**2).sum(axis=1))[0])

    start = flight(figure, RATES, 0.0, 1e-4)
    end = flight(figure, RATES, 0.3, 2.5e-5, spring)
    KEPT.compare(energy(*start), energy(*end), relative=1e-3)
    kept = chain.momentum(*start)
    KEPT.compare(kept, chain.momentum(*end), tolerance=np.maximum(1e-3 * np.abs(kept), 1e-2))


def test_rates_follow_from_lagrange() -> None:
    """Against accelerations from the derivatives of the energy, taken numerically."""
    chain = MAN.chain
    rng = np.random.default_rng(3)
    pose, rate = rng.normal(0.0, 0.7, (2, 1, 11))
    force, torque = rng.normal(0.0, 100.0, (1, 9, 2)), rng.normal(0.0, 20.0, (1, 9))
    field = np.array([[1.5, -GRAVITY]])

    def origins(q):
        return chain.origins(q[None])[0]

    def work(q):
        """What the loads do up to a pose, each taken as constant."""
        lifted = chain.mass.sum() * field[0] @ chain.centre_of_mass(q[None])[0]
        return float((force[0] * origins(q)).sum() + torque[0] @ q[2:] + lifted)

    def kinetic(q, u):
        return float(chain.kinetic(q[None], u[None])[0])

    h, q, u = 1e-5, pose[0], rate[0]
    eye = np.eye(11) * h
    acceleration = chain.acceleration(pose, rate, force, torque, field)[0]

    def momenta(q, u):
        return chain.mass_matrix(q[None])[0] @ u

    # d/dt (dT/du) = dT/dq + dW/dq, with the momenta carried along the motion.
    change = (
        momenta(q + h * u, u + h * acceleration) - momenta(q - h * u, u - h * acceleration)
    ) / (2.0 * h)
    drive = [
        (kinetic(q + e, u) + work(q + e) - kinetic(q - e, u) - work(q - e)) / (2.0 * h) for e in eye
    ]
    LAGRANGE.compare(drive, change, tolerance=np.maximum(1e-5 * np.abs(drive), 1e-3))


def test_energy_of_motion_is_that_of_the_bodies() -> None:
    """Against every body's own speed and turn, places differentiated numerically."""
    chain = CHILD.chain
    rng = np.random.default_rng(5)
    pose, rate = rng.normal(0.0, 0.7, (2, 1, 11))

    def centres(q):
        arms = [
            (c * x + s * z, c * z - s * x)
            for (x, z), c, s in zip(chain.centre, np.cos(q[0, 2:]), np.sin(q[0, 2:]), strict=True)
        ]
        return chain.origins(q)[0] + arms

    speed = (centres(pose + 1e-6 * rate) - centres(pose - 1e-6 * rate)) / 2e-6
    expected = 0.5 * (chain.mass @ (speed**2).sum(axis=1) + chain.inertia @ rate[0, 2:] ** 2)
    assert chain.kinetic(pose, rate)[0] == pytest.approx(expected, rel=1e-7)


def bounce(rebound, stiffness=100e3, mass=10.0, speed=5.0, step=5e-6):
    """Depths, forces and speeds of a circle that strikes an upright wall squarely."""
    chain = Chain([-1], np.zeros((1, 2)), np.zeros((1, 2)), np.array([mass]), np.array([0.1]))
    skin = Skin(
        np.zeros(1, dtype=np.intp), np.zeros((1, 2)), np.array([0.05]), np.ones(1),
        np.zeros(1, dtype=bool),
    )  # fmt: skip
    cases = replace(
        nominal(), rebound=np.array([rebound]), stiffness=np.full((1, 4), stiffness),
        friction=np.zeros((1, 4)),
    )  # fmt: skip
    wall = Wall(np.array([[0.0, 0.0], [0.0, 2.0]]))
    part = np.zeros(1, dtype=np.intp)
    pose, rate = np.array([[-0.05, 1.0, 0.0]]), np.array([[speed, 0.0, 0.0]])
    told = []
    for _ in range(round(0.2 / step)):
        now = Moment.of(chain, skin, np.zeros((1, 1, 2)), np.zeros(1, dtype=np.intp), pose, rate)
        front_loads(now, wall, part, skin, cases)
        told.append((pose[0, 0] + 0.05, -now.force[0, 0, 0], rate[0, 0]))
        if pose[0, 0] < -0.0501:
            break
        rate = rate + step * chain.acceleration(pose, rate, now.force, now.torque, np.zeros((1, 2)))
        pose = pose + step * rate
    return np.array(told)


@pytest.mark.parametrize("rebound", [0.2, 0.4])
def test_a_circle_bounces_like_a_mass_on_a_spring(rebound) -> None:
    """v sqrt(m / K) deep, v sqrt(m K) hard, a quarter of a period long; e v comes back."""
    told = bounce(rebound)
    deepest = int(told[:, 0].argmax())
    period = math.sqrt(10.0 / 100e3)
    for what, expected, ours, share in (
        ("depth", 5.0 * period, told[deepest, 0], 1e-3),
        ("force", 5.0 * math.sqrt(10.0 * 100e3), told[:, 1].max(), 1e-3),
        ("time", math.pi / 2.0 * period, deepest * 5e-6, 1e-3),
        ("speed back", -rebound * 5.0, told[-1, 2], 2e-3),
    ):
        SPRING.compare(expected, ours, relative=share, case=f"{what}, rebound {rebound}")


NOSE = np.array(
    [(0.12, 0.2), (0.0, 0.45), (0.12, 0.68), (0.4, 0.775), (1.15, 0.905), (1.95, 1.34)]
)  # invented
PARTS = np.array([0, 0, 1, 2, 3])


def test_a_larger_copy_of_it_all_goes_as_slowly() -> None:
    """Lengths and times by L, masses and springs by L cubed, dampers by its fourth power.

    Then forces go with L squared, as stiffness a length of skin times depth does, and angles and
    speeds are the same. Without gravity, which does not grow.
    """
    scale, speed, step = 1.3, 40.0 / 3.6, 2.5e-4
    cases = nominal()
    small = strike(
        MAN, Wall(NOSE), PARTS, cases, speed, step=step, last=0.2, gravity=0.0, on_ground=False
    )
    figure = Figure.of(1.755 * scale, 77.0 * scale**3)
    joints = Joints(figure, cases)
    for name in ("spring", "beyond", "most"):  # those of people go with mass and stature
        setattr(joints, name, getattr(joints, name) / scale)
    large = strike(
        figure, Wall(NOSE * scale), PARTS, cases, speed, step=step * scale, last=0.2 * scale,
        joints=joints, gravity=0.0, on_ground=False,
    )  # fmt: skip
    assert np.isfinite(small.head_s).all()
    LARGER.compare(small.head_s * scale, large.head_s, relative=1e-6, case="time")
    LARGER.compare(small.head_at * scale, large.head_at, relative=1e-6, case="place")
    LARGER.compare(small.pose[:, 2:], large.pose[:, 2:], tolerance=1e-6, case="angle")


def test_momentum_changes_by_what_pushes_from_outside() -> None:
    """Its rate is the sum of the pushes of front and ground, and of weight and braking: 1e-9.

    The derivative along the motion is taken by a complex step; joints and legs only push bodies
    apart, which changes nothing of the sum.
    """
    chain, skin, cases = MAN.chain, MAN.skin, nominal()
    rng = np.random.default_rng(7)
    wall, case = Wall(NOSE), np.zeros(1, dtype=np.intp)
    field = np.array([[-4.0, -GRAVITY]])
    for _ in range(5):
        pose, rate = rng.normal(0.0, 0.3, (2, 1, 11))
        pose[0, :2] = rng.uniform([-0.1, 0.9], [0.2, 1.1])
        rate[0, 0] += 8.0
        now = Moment.of(chain, skin, skin.place[None], case, pose, rate)
        assert len(front_loads(now, wall, PARTS, skin, cases).row)
        ground_loads(now, MAN.sole, cases, np.array([8.0]))
        outside = now.force.sum(axis=1) + chain.mass.sum() * field
        leg_loads(now, skin, cases)
        Joints(MAN, cases).load(now)
        acceleration = chain.acceleration(pose, rate, now.force, now.torque, field)
        h = 1e-25
        ahead = chain.momentum(pose + 1j * h * rate, rate + 1j * h * acceleration)
        assert ahead.imag / h == pytest.approx(outside, rel=1e-9)


@pytest.mark.parametrize(
    ("stature", "mass", "centre", "height", "impulse", "speed", "turning"),
    [
        (1.755, 77.0, 0.573, 0.75, 681.95, 8.857, 8.820),
        (1.755, 77.0, 0.573, 0.65, 573.16, 7.444, 10.313),
        (1.153, 21.0, 0.573, 0.95, None, None, -16.53),
    ],
)
def test_a_stiff_rod_is_thrown_by_a_blow_that_sticks(
    stature, mass, centre, height, impulse, speed, turning
) -> None:
    """An even rod at 40 km/h against a hard edge that gives nothing back.

    J = m v k2 / (k2 + d2) with d the height of the centre above the blow and k2 = H2 / 12; then
    v' = J / m and w = J d / (m k2). The numbers are those formulas worked out by hand.
    """
    v, d, k2 = 40.0 / 3.6, centre * stature - height, stature**2 / 12.0
    blow = mass * v * k2 / (k2 + d * d)
    assert blow * d / (mass * k2) == pytest.approx(turning, rel=1e-3)
    if impulse is not None:
        assert blow == pytest.approx(impulse, rel=1e-4)
        assert blow / mass == pytest.approx(speed, rel=1e-3)
    chain = Chain([-1], np.zeros((1, 2)), np.zeros((1, 2)), np.array([mass]), np.array([mass * k2]))
    skin = Skin(
        np.zeros(1, dtype=np.intp), np.array([[-0.01, -d]]), np.array([0.01]), np.ones(1),
        np.zeros(1, dtype=bool),
    )  # fmt: skip
    stiffness, step = 1e10, 5e-8
    cases = replace(
        nominal(), rebound=np.zeros(1), friction=np.zeros((1, 4)),
        stiffness=np.full((1, 4), stiffness),
    )  # fmt: skip
    wall = Wall(np.array([[0.0, 0.1], [0.0, 2.0]]))
    pose, rate = np.array([[0.0, centre * stature, 0.0]]), np.array([[v, 0.0, 0.0]])
    for _ in range(20_000):
        now = Moment.of(chain, skin, skin.place[None], np.zeros(1, dtype=np.intp), pose, rate)
        front_loads(now, wall, np.zeros(1, dtype=np.intp), skin, cases)
        going = rate[0, 0] - d * rate[0, 2]  # of the place of the blow
        if going <= 0.0:
            break
        loads = now.force, now.torque, np.zeros((1, 2))
        pose, rate = stepped(pose, rate, chain.acceleration(pose, rate, *loads), step)
    else:
        pytest.fail("the blow does not end")
    ROD.compare(
        blow, mass * (v - rate[0, 0]), relative=2e-3, case=f"push, {mass:g} kg at {height} m"
    )
    ROD.compare(turning, rate[0, 2], relative=2e-3, case=f"turning, {mass:g} kg at {height} m")


@pytest.mark.parametrize("figure", [MAN, CHILD], ids=["man", "child"])
@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda points: points + np.array([0.7, 0.0]), id="moved"),
        pytest.param(lambda points: resampled(points, 60), id="resampled"),
    ],
)
def test_neither_place_nor_points_of_a_front_matter(figure, change) -> None:
    """The head lands within 1 mm along the contour, as soon as before within 0.1 ms."""
    other = change(NOSE)
    pairs = [
        (strike(figure, Wall(points), parts_of(points), nominal(), 40.0 / 3.6), points)
        for points in (NOSE, other)
    ]
    (one, _), (two, _) = pairs
    assert along(pairs[1]) == pytest.approx(along(pairs[0]), abs=1e-3)
    assert two.head_s == pytest.approx(one.head_s, abs=1e-4)


def resampled(points, count):
    """The same contour with points every so often, its corners kept."""
    arcs = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.unique(np.concatenate([arcs, np.linspace(0.0, arcs[-1], count)]))
    return np.stack([np.interp(at, arcs, points[:, i]) for i in (0, 1)], axis=1)


def parts_of(points):
    """The part that a stretch lies on: by the height of its middle, as those of the nose do."""
    middle = (points[1:, 1] + points[:-1, 1]) / 2.0
    return np.searchsorted([0.45, 0.68, 0.905], middle).clip(0, 3)


def along(pair):
    """How far along the contour the head landed."""
    struck, points = pair
    stretch = int(struck.head_stretch[0])
    before = np.hypot(*np.diff(points[: stretch + 1], axis=0).T).sum()
    return before + np.hypot(*(struck.head_at[0] - points[stretch]))


@pytest.mark.parametrize("figure", [MAN, CHILD], ids=["man", "child"])
@pytest.mark.parametrize("draws", [1, 24], ids=["one case", "middle of many"])
def test_a_finer_step_moves_next_to_nothing(figure, draws) -> None:
    """Half the step: less than 2 mm along the contour and 0.3 ms."""
    cases = nominal() if draws == 1 else drawn(draws, 3)
    ends = []
    for step in (STEP_S, STEP_S / 2.0):
        one = strike(figure, Wall(NOSE), PARTS, cases, 40.0 / 3.6, step=step)
        arcs = [
            along((replace(one, head_stretch=one.head_stretch[i:], head_at=one.head_at[i:]), NOSE))
            for i in range(draws)
        ]
        ends.append((np.median(arcs), np.median(one.head_s)))
    (arc, time), (finer_arc, finer_time) = ends
    assert finer_arc == pytest.approx(arc, abs=2e-3)
    assert finer_time == pytest.approx(time, abs=0.3e-3)


def test_a_head_over_the_very_end_is_beyond() -> None:
    """Cut where the head would land: what is nearest to the end is not measured ground."""
    whole = strike(MAN, Wall(NOSE), PARTS, nominal(), 40.0 / 3.6)
    x = float(whole.head_at[0, 0])
    z = float(whole.head_at[0, 1])
    stretch = int(whole.head_stretch[0])
    cut = np.concatenate([NOSE[: stretch + 1], [[x - 0.001, z - 0.0005]]])
    short = strike(MAN, Wall(cut), PARTS[: stretch + 1], nominal(), 40.0 / 3.6)
    assert np.isnan(short.head_s).all()
    assert short.beyond.all()

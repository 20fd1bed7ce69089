"""Leg models against closed forms: point load, single spring, rigid wall, locked knee.

The closed forms are textbook rigid-body mechanics, written out here from the published data of
the rigid legform and not taken from the package.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived

from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.dynamics import RunSettings, run_legform
from frontcheck.legs.foundation import foundation_load, knee_response
from frontcheck.people.impactors import Knee
from frontcheck.surface.section import Section

LOADS = Check(
    "foundation-loads",
    kind="closed form",
    quantity="load [mm2] and height of load [mm] of plumb, wedge and round faces",
    source=derived("areas and centroids of rectangle, triangle and segment"),
    why="rounding; a circle of 2000 facets 1e-5 of its area",
)
RIGID_LEG = Check(
    "legform-as-one-body",
    kind="closed form",
    quantity="impulse [N s] on a locked legform at a rigid edge, energy [J] left",
    source=derived("central theorem of a rigid body: 2 v / (1/m + a^2/I)"),
    why="contact lasts 0.2 ms, in steps: 0.2 %",
)
HINGED = Check(
    "legform-hinged",
    kind="closed form",
    quantity="opening rate of the knee over impulse, legform against a rigid edge",
    unit="rad/s per N s",
    source=derived("momentum balance of two hinged links"),
    why="links turn by less than 0.2 deg during the blow: half a per cent",
)

SPEED = 40.0 / 3.6
M1, M2, C1, C2, I1, I2 = 8.6, 4.8, 0.217, 0.233, 0.127, 0.120
MASS = M1 + M2
KNEE = 25.0 + 494.0
# Centre of mass above the knee, and inertia about it, of both links as one body.
CENTRE = (M1 * C1 - M2 * C2) / MASS
INERTIA = I1 + M1 * (C1 - CENTRE) ** 2 + I2 + M2 * (C2 + CENTRE) ** 2
RIGID = Knee(bending_stiffness=math.inf, shear_stiffness=math.inf)
HINGE = Knee(bending_stiffness=0.0, bending_damping=0.0, shear_stiffness=math.inf)


def ram(height: float, half: float) -> Section:
    """A plumb face of a given height, everything else far behind."""
    low, high = height - half, height + half
    return Section([(2000, low), (0, low), (0, high), (2000, high), (2500, high + 500.0)])


def test_uniform_load_on_a_plumb_face() -> None:
    # Constant pressure: load = depth x height of the face, resultant at its middle.
    load = foundation_load(silhouette_of(ram(500.0, 100.0), 0.0, 900.0), [20.0, 60.0], knee=520.0)
    LOADS.compare([20.0 * 200.0, 60.0 * 200.0], load.load, relative=1e-6, case="plumb, load")
    LOADS.compare([500.0, 500.0], load.height, relative=1e-6, case="plumb, height")
    # Band 470..570 of 400..600.
    assert load.below == pytest.approx([0.35, 0.35])
    assert load.across == pytest.approx([0.5, 0.5])
    assert load.above == pytest.approx([0.15, 0.15])


def test_wedge_load_is_a_triangle() -> None:
    # Face leaning 45 deg from (0, 400): penetration d - (z - 400), a triangle of area d^2 / 2
    # with its centroid a third of d up.
    wedge = Section([(0, 400), (500, 900), (900, 1000)])
    load = foundation_load(silhouette_of(wedge, 0.0, 850.0), [30.0, 90.0], knee=600.0)
    LOADS.compare([450.0, 4050.0], load.load, relative=1e-6, case="wedge, load")
    LOADS.compare([410.0, 430.0], load.height, relative=1e-6, case="wedge, height")


def test_round_bumper_contact_is_a_chord() -> None:
    # Circle of radius R pushed in by d: half chord sqrt(2 R d - d^2), load the segment
    # R^2 acos(1 - d/R) - (R - d) half chord. 2000 facets: sagitta c^2 / 8R below 1e-4 mm.
    radius, depth = 120.0, 25.0
    angle = np.linspace(0.0, np.pi, 2001)
    points = np.stack([radius * (1 - np.sin(angle)), 500.0 - radius * np.cos(angle)], axis=1)
    load = foundation_load(silhouette_of(Section(points), 0.0, 900.0), [depth], knee=400.0)
    chord = math.sqrt(2 * radius * depth - depth**2)
    segment = radius**2 * math.acos(1 - depth / radius) - (radius - depth) * chord
    assert load.bands[0] == (pytest.approx((500 - chord, 500 + chord), abs=1e-3),)
    LOADS.compare(segment, load.load[0], relative=1e-5, case="round, load")
    assert load.height[0] == pytest.approx(500.0, abs=1e-6)


@pytest.mark.parametrize(
    ("below", "rate"),
    [(50.0, 1.410576), (100.0, 1.013618), (150.0, 0.616659), (200.0, 0.219701), (300.0, -0.574217)],
)
def test_symmetric_load_on_the_tibia_is_a_point_load(below: float, rate: float) -> None:
    """Impulse table of test_rigid_legform.py: the closed form is linear along a link, so a load
    that is symmetric about a height and stays on the tibia equals a point load there."""
    response = knee_response(ram(KNEE - below, 40.0), [30.0])
    assert response.rate[0] == pytest.approx(rate, abs=0.5e-6)
    assert response.height[0] == pytest.approx(KNEE - below)


def test_free_flight_without_stiffness() -> None:
    run = run_legform(ram(400.0, 50.0), RunSettings(stiffness=0.0))
    assert run.status == "ok"
    for values in (run.force, run.knee_angle, run.knee_shear, run.lost):
        assert np.abs(values).max() < 1e-9
    assert np.ptp(run.kinetic) < 1e-9


def single_spring(rebound: float = 1.0, stiffness: float = 0.5):
    """A plumb face centred on the centre of mass of the locked legform: pure translation."""
    half = 60.0
    duration = 60.0 + 30.0 / rebound  # the way out takes 1 / r times that in
    settings = RunSettings(
        stiffness=stiffness, rebound=rebound, knee=RIGID, duration_ms=duration, step_ms=0.05
    )
    run = run_legform(ram(KNEE + 1000.0 * CENTRE, half), settings)
    return run, stiffness * 1e6 * 2 * half / 1000.0  # spring of the whole face [N/m]


def test_single_spring_half_period_peak_and_rebound() -> None:
    """Mass on a spring: contact lasts pi sqrt(m/k), peak force v sqrt(k m), all energy back.

    Steps in time are 0.017 ms, and half of one is lost or won at the first touch: 1 part in 1000
    of what goes over 40 ms."""
    run, spring = single_spring()
    pulse = run.time[run.force > 1e-9]
    # The pulse starts and ends between output steps of 0.05 ms.
    assert pulse[-1] - pulse[0] == pytest.approx(1e3 * math.pi * math.sqrt(MASS / spring), abs=0.11)
    during = run.force[run.time < pulse[-1]]
    peak = SPEED * math.sqrt(spring * MASS) / 1e3
    assert during.max() == pytest.approx(peak, rel=1e-4)
    omega = math.sqrt(spring / MASS)
    assert np.allclose(
        during, peak * np.sin(omega * run.time[: len(during)] / 1e3), atol=2e-3 * peak
    )
    assert run.kinetic[-1] == pytest.approx(run.kinetic[0], rel=1e-3)


@pytest.mark.parametrize("rebound", [0.1, 0.2, 0.5, 0.9])
def test_skin_gives_back_a_share_of_the_speed(rebound: float) -> None:
    """A spring that pushes with r^2 of its force on the way out does r^2 of its work: the mass
    leaves at r times its speed, whatever the stiffness."""
    for stiffness in (0.6, 1.8):
        leaving = math.sqrt(2.0 * single_spring(rebound, stiffness)[0].kinetic[-1] / MASS)
        assert leaving == pytest.approx(rebound * SPEED, rel=5e-3)


@pytest.mark.parametrize("height", [300.0, 450.0, 650.0])
def test_locked_knee_against_a_rigid_edge_is_one_rigid_body(height: float) -> None:
    """Elastic central theorem: impulse J = 2 v / (1/m + a^2/I), a the arm to the centre of
    mass; speed after contact by J alone."""
    arm = (height - KNEE) / 1000.0 - CENTRE
    impulse = 2.0 * SPEED / (1.0 / MASS + arm**2 / INERTIA)
    # A very stiff narrow face: contact lasts 0.2 ms.
    settings = RunSettings(stiffness=2e6, rebound=1.0, knee=RIGID, duration_ms=0.5, step_ms=0.0005)
    run = run_legform(ram(height, 1.0), settings)
    got = 1e3 * np.trapezoid(run.force, run.time / 1e3)
    RIGID_LEG.compare(impulse, got, relative=2e-3, case=f"impulse at {height:g} mm")
    after = 0.5 * MASS * (SPEED - impulse / MASS) ** 2 + 0.5 * (impulse * arm) ** 2 / INERTIA
    RIGID_LEG.compare(after, run.kinetic[-1], relative=2e-3, case=f"energy at {height:g} mm")
    assert after == pytest.approx(run.kinetic[0])  # elastic: the closed form keeps energy too


@pytest.mark.parametrize(
    ("below", "rate"), [(50.0, 1.410576), (150.0, 0.616659), (300.0, -0.574217)]
)
def test_hinged_legform_against_a_rigid_edge_is_the_impulse_table(
    below: float, rate: float
) -> None:
    """Rigid limit of the dynamics: knee rate after contact / impulse = table of section 9.

    During the blow the links turn by less than 0.2 deg, which moves the result by less than
    half a percent."""
    settings = RunSettings(stiffness=2e6, rebound=1.0, knee=HINGE, duration_ms=0.5, step_ms=0.0005)
    run = run_legform(ram(KNEE - below, 1.0), settings)
    impulse = 1e3 * np.trapezoid(run.force, run.time / 1e3)
    after = run.time > run.time[run.force > 0.0][-1]
    turning = np.polyfit(run.time[after] / 1e3, np.radians(run.knee_angle[after]), 1)[0]
    within = max(5e-3 * abs(rate), 2e-3)
    HINGED.compare(rate, turning / impulse, tolerance=within, case=f"{below:g} mm below")


def test_flat_rigid_wall_sends_a_rigid_leg_straight_back() -> None:
    """Over its whole length a plumb wall and a uniform skin give two coupled modes; a wall as long
    as the leg and centred on its centre of mass gives one: no rotation, full rebound."""
    run = run_legform(
        ram(KNEE + 1000.0 * CENTRE, 375.0),
        RunSettings(stiffness=0.5, rebound=1.0, knee=RIGID, duration_ms=30.0),
    )
    assert run.status == "ok"
    assert run.kinetic[-1] == pytest.approx(run.kinetic[0], rel=1e-3)
    assert np.ptp(run.place, axis=1).max() < 1e-3  # every corner has gone as far [mm]
    assert run.force[-1] == 0.0


def test_stiff_knee_goes_over_into_the_lock() -> None:
    section = Section([(300, 200), (40, 320), (70, 400), (20, 520), (60, 700), (120, 800)])
    locked = run_legform(section, RunSettings(knee=RIGID, duration_ms=10.0, step_ms=0.02))
    gaps = []
    for bending, shear in ((1e5, 1e5), (1e6, 1e6)):
        knee = Knee(bending, 50.0, shear, 5.0)
        stiff = run_legform(section, RunSettings(knee=knee, duration_ms=10.0, step_ms=0.02))
        gaps.append(np.abs(stiff.force - locked.force).max() / locked.force.max())
    assert gaps[1] < gaps[0]
    assert gaps[1] < 0.02

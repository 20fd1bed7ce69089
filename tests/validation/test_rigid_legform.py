"""Rigid legform and stop distances against published and derived values.

Legform data: UN GTR 9 in its original edition, from memory. The impulse table was
derived by hand and by script from the momentum balance of two hinged links, the stop distances in
test_stop_distance.py; neither by this package. Tolerances are half of the last digit printed.
"""

from __future__ import annotations

import numpy as np
import pytest
from checks import Check, Source, derived

from frontcheck.people.impactors import (
    GRAVITY,
    RIGID_LEGFORM,
    knee_rate_per_impulse,
    least_stop_distance,
    square_pulse_stop_distance,
)

IMPULSES = Check(
    "legform-impulses",
    kind="closed form",
    quantity="opening rate of the rigid legform's knee for a blow on the tibia",
    unit="rad/s per N s",
    source=derived("momentum balance of two hinged links, by hand and by script"),
    why="half of the last digit of the table",
)
DATA = Check(
    "legform-data",
    kind="published value",
    quantity="lengths, masses, centres and inertias of the rigid legform",
    source=Source("UN Global Technical Regulation No. 9", where="original edition", known="memory"),
    why="the same numbers",
)

TABLE = {
    0.0: 1.807535,
    50.0: 1.410576,
    100.0: 1.013618,
    150.0: 0.616659,
    200.0: 0.219701,
    300.0: -0.574217,
}


@pytest.mark.parametrize("below", TABLE)
def test_impulse_table(below: float) -> None:
    # Printed to six digits; half of the last digit.
    rate = knee_rate_per_impulse(below)
    IMPULSES.compare(TABLE[below], rate, tolerance=0.5e-6, case=f"{below:g} mm below")


def test_height_of_no_rotation() -> None:
    before, after = knee_rate_per_impulse([227.6725, 227.6735])
    assert before > 0.0 > after


def test_knee_rate_from_two_free_bodies_and_a_hinge_force() -> None:
    """The same from Newton's laws of two bodies, with the hinge force as an unknown."""
    m1, m2, c1, c2 = 8.6, 4.8, 0.217, 0.233
    i1, i2 = 0.127, 0.120
    for below in (0.0, 0.1, 0.3):
        # Unknowns: speeds of both centres, slopes du/dz, hinge impulse on the femur.
        system = np.array(
            [
                [m1, 0, 0, 0, -1],
                [0, m2, 0, 0, 1],
                [0, 0, i1, 0, c1],
                [0, 0, 0, i2, c2],
                [1, -1, -c1, -c2, 0],
            ]
        )
        # The blow acts on the tibia, (c2 - below) above its centre of mass.
        right = np.array([0, 1, 0, c2 - below, 0])
        speeds = np.linalg.solve(system, right)
        assert knee_rate_per_impulse(1000 * below) == pytest.approx(speeds[3] - speeds[2])


def test_published_data() -> None:
    legform = RIGID_LEGFORM
    lengths = legform.length_mm, legform.femur_length_mm, legform.tibia_length_mm
    DATA.same((926, 432, 494), lengths, case="lengths [mm]")
    (femur,), (tibia,) = legform.femur, legform.tibia
    DATA.same((8.6, 4.8), (femur.mass_kg, tibia.mass_kg), case="masses [kg]")
    DATA.same((217, 233), (femur.centre_mm, tibia.centre_mm), case="centres [mm]")
    inertias = femur.inertia_kg_m2, tibia.inertia_kg_m2
    DATA.same((0.127, 0.120), inertias, case="inertias [kg m2]")
    assert legform.provenance == "from memory"


@pytest.mark.parametrize(("speed", "depth"), [(35.0, 47.915607), (40.0, 68.410409)])
def test_stop_distance_for_hic_1000(speed: float, depth: float) -> None:
    assert square_pulse_stop_distance(1000.0, speed) == pytest.approx(depth, abs=0.5e-6)
    assert least_stop_distance(1000.0, speed) == pytest.approx(0.75 * depth, abs=0.5e-6)


def hic_of(time: np.ndarray, speed_lost: np.ndarray) -> float:
    """HIC by its definition, all windows, from the speed lost so far [m/s]."""
    dt = time[None, :] - time[:, None]
    dv = speed_lost[None, :] - speed_lost[:, None]
    positive = dt > 0
    mean = np.where(positive, dv / np.where(positive, dt, 1.0), 0.0) / GRAVITY
    return float((np.clip(mean, 0.0, None) ** 2.5 * dt).max())


PULSES = {
    "square": lambda s: s,
    "half sine": lambda s: (1 - np.cos(np.pi * s)) / 2,
    "rising ramp": lambda s: s**2,
    "falling ramp": lambda s: 1 - (1 - s) ** 2,
    "front loaded": lambda s: s**0.7,
}


@pytest.mark.parametrize("name", PULSES)
def test_no_pulse_stops_shorter_than_the_bound(name: str) -> None:
    """Depth and HIC of a pulse, both by numerical integration, against the closed forms."""
    v = 40.0 / 3.6
    s = np.linspace(0.0, 1.0, 801)
    duration = 0.012
    time, lost = duration * s, v * PULSES[name](s)
    depth = 1000.0 * np.trapezoid(v - lost, time)
    hic = hic_of(time, lost)
    assert depth >= least_stop_distance(hic, 40.0)
    if name == "square":
        assert depth == pytest.approx(float(square_pulse_stop_distance(hic, 40.0)), rel=1e-9)


def test_the_bound_is_reached_by_its_own_pulse() -> None:
    # Speed lost as t^0.6, the pulse of the derivation; 801 steps, the trapezoid of t^0.6
    # is good to about 1e-5.
    v = 40.0 / 3.6
    s = np.linspace(0.0, 1.0, 801)
    time, lost = 0.01 * s, v * s**0.6
    depth = 1000.0 * np.trapezoid(v - lost, time)
    bound = float(least_stop_distance(hic_of(time, lost), 40.0))
    assert depth == pytest.approx(bound, rel=1e-4)

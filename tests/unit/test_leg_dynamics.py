"""Planar dynamics: balances, locks, refusal of bad settings, flags. Closed forms: validation."""

from __future__ import annotations

import math
from time import perf_counter

import numpy as np
import pytest

from frontcheck.errors import NotAvailableError
from frontcheck.front.front import Front
from frontcheck.legs import dynamics
from frontcheck.legs.dynamics import Knee, RunSettings, Skin, run_legform
from frontcheck.people.impactors import RIGID_LEGFORM
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import Section

LIPS = Section(
    [(300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 700), (120, 800),
     (900, 950)],
    parts=["underside", *["bumper"] * 5, "grille", "bonnet", "bonnet"],
)  # fmt: skip
START = 0.5 * RIGID_LEGFORM.mass_kg * (40.0 / 3.6) ** 2


@pytest.fixture(scope="module")
def fronts(root) -> dict[str, Front]:
    return {name: read_front(root / "geometries" / f"{name}.csv") for name in ("plover", "avocet")}


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_every_station_of_the_demo_fronts_is_in_balance(
    name: str, fronts: dict[str, Front]
) -> None:
    began = perf_counter()
    for section in fronts[name].sections:
        run = run_legform(section)
        assert run.usable, run.reason
        assert run.energy_error <= 1e-6
        assert run.momentum_error <= 1e-6
        assert run.kinetic[0] == pytest.approx(START)
        total = run.kinetic + run.skin + run.knee + run.lost
        assert np.abs(total / START - 1.0).max() <= 1e-6
        assert (np.diff(run.lost) >= -1e-9).all()
        assert min(run.skin.min(), run.knee.min()) >= 0.0
    # About 0.2 s a run when this was written; ten times that on a busy machine is still fine.
    assert perf_counter() - began < 2.0 * len(fronts[name].sections)


@pytest.mark.parametrize(
    "knee",
    [
        Knee(),
        Knee(bending_stiffness=0.0, bending_damping=0.0),
        Knee(bending_stiffness=math.inf),
        Knee(shear_stiffness=math.inf),
        Knee(bending_stiffness=math.inf, shear_stiffness=math.inf),
    ],
    ids=["both", "free", "bending locked", "shear locked", "rigid"],
)
@pytest.mark.parametrize("damping", [0.0, 0.1, 0.5])
def test_balance_for_every_knee_and_skin(knee: Knee, damping: float) -> None:
    run = run_legform(LIPS, RunSettings(skin=Skin(0.3, damping), knee=knee))
    assert run.usable, run.reason
    if math.isinf(knee.bending_stiffness):
        assert not run.knee_angle.any()
    if math.isinf(knee.shear_stiffness):
        assert not run.knee_shear.any()


def test_links_stand_where_the_knee_says() -> None:
    """The links read back: upright at first touch, then the knee's angle and shear, lengths."""
    run = run_legform(LIPS)
    for link in run.leg_at(0):
        assert (link[:, 0] == 20.0).all()  # foremost point of LIPS
    for i in (40, 120, 250):
        femur, tibia = run.leg_at(i)
        slopes = [float((b[0] - a[0]) / (b[1] - a[1])) for a, b in (femur, tibia)]
        assert math.degrees(slopes[0] - slopes[1]) == pytest.approx(run.knee_angle[i], abs=1e-9)
        assert femur[0, 0] - tibia[0, 0] == pytest.approx(run.knee_shear[i], abs=1e-9)
        assert (femur[1, 1], tibia[1, 1]) == (RIGID_LEGFORM.high_mm, RIGID_LEGFORM.low_mm)


def test_a_run_out_of_balance_is_flagged_and_gives_no_peaks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A planted fault: the skin's stored energy is counted twice."""
    true = dynamics.Links.energies

    def wrong(self, state):
        kinetic, skin, knee, lost = true(self, state)
        return kinetic, 1.001 * skin, knee, lost

    monkeypatch.setattr(dynamics.Links, "energies", wrong)
    run = run_legform(LIPS)
    assert run.status == "out_of_balance"
    assert "not to be used" in run.reason
    assert run.peak_knee_angle is run.peak_knee_shear is run.peak_tibia_acceleration is None


def test_momentum_fault_is_flagged(monkeypatch: pytest.MonkeyPatch) -> None:
    """A planted fault: the knee pushes on the femur without pushing back on the tibia."""
    true = dynamics.Links._knee
    monkeypatch.setattr(
        dynamics.Links, "_knee", lambda self, q, rate: true(self, q, rate) * [1, 1, 0.99, 1]
    )
    run = run_legform(LIPS)
    assert run.status == "out_of_balance"
    assert run.momentum_error > 1e-6


def test_rotation_limit_ends_the_run_and_says_so() -> None:
    free = RunSettings(knee=Knee(bending_stiffness=0.0, bending_damping=0.0), rotation_limit_deg=10)
    run = run_legform(LIPS, free)
    assert run.status == "rotation_limit"
    assert "10 deg" in run.reason
    assert run.usable
    assert run.time[-1] < free.duration_ms
    assert run.peak_knee_angle is not None
    assert abs(run.peak_knee_angle) <= 10.0


def test_parts_may_have_skins_of_their_own() -> None:
    plain = run_legform(LIPS)
    same = run_legform(LIPS, RunSettings(parts=(("bumper", Skin()),)))
    other = run_legform(LIPS, RunSettings(parts=(("bumper", Skin(0.6, 0.1)),)))
    elsewhere = run_legform(LIPS, RunSettings(parts=(("windscreen", Skin(9.0, 0.1)),)))
    assert (plain.knee_angle == same.knee_angle).all()
    assert (plain.knee_angle == elsewhere.knee_angle).all()
    assert other.force.max() > plain.force.max()


def test_same_input_same_output_and_shift_in_x_changes_nothing() -> None:
    first, again = run_legform(LIPS), run_legform(LIPS)
    assert (first.knee_angle == again.knee_angle).all()
    moved = run_legform(Section(np.add(LIPS.points, [512.0, 0.0]), parts=LIPS.parts))
    assert np.allclose(moved.knee_angle, first.knee_angle, atol=1e-6)


def test_time_steps_are_those_asked_for() -> None:
    run = run_legform(LIPS, RunSettings(duration_ms=5.0, step_ms=0.25))
    assert np.allclose(run.time, np.arange(21) * 0.25)
    assert run.force[0] == 0.0


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Skin(-1.0, 0.1), "stiffness and damping"),
        (lambda: Skin(1.0, math.nan), "stiffness and damping"),
        (lambda: Skin(math.inf, 0.1), "stiffness and damping"),
        (lambda: Knee(bending_stiffness=-1.0), "springs and dampers"),
        (lambda: Knee(shear_damping=math.inf), "springs and dampers"),
        (lambda: RunSettings(speed_km_h=0.0), "positive numbers"),
        (lambda: RunSettings(duration_ms=math.inf), "positive numbers"),
    ],
)
def test_bad_settings_are_refused(make, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


def test_front_below_the_legform_is_not_available() -> None:
    with pytest.raises(NotAvailableError, match="nothing between"):
        run_legform(Section([(90, 5), (0, 10), (50, 20)]))

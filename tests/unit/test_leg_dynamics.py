"""Planar dynamics: balances, locks, refusal of bad settings, flags. Closed forms: validation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.body.assumed import nominal
from frontcheck.errors import NotAvailableError
from frontcheck.front.front import Front
from frontcheck.legs import dynamics
from frontcheck.legs.dynamics import RunSettings, fly, run_legform
from frontcheck.legs.faced import face_of
from frontcheck.people.impactors import FLEXIBLE_LEGFORM, RIGID_LEGFORM, Knee
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import Section

LIPS = Section(
    [(300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 700), (120, 800),
     (900, 950)],
    parts=["underside", *["bumper"] * 5, "grille", "bonnet", "bonnet"],
)  # fmt: skip


@pytest.fixture(scope="module")
def fronts(root) -> dict[str, Front]:
    return {name: read_front(root / "geometries" / f"{name}.csv") for name in ("plover", "avocet")}


@pytest.mark.parametrize("legform", [RIGID_LEGFORM, FLEXIBLE_LEGFORM], ids=lambda f: f.name)
@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_every_station_of_the_demo_fronts_is_in_balance(name: str, legform, fronts) -> None:
    start = 0.5 * legform.mass_kg * (40.0 / 3.6) ** 2
    for section in fronts[name].sections:
        run = run_legform(section, legform=legform)
        assert run.usable, run.reason
        # Steps of 0.02 ms miss it by a thousandth when this was written.
        assert run.energy_error <= 3e-3
        assert run.kinetic[0] == pytest.approx(start)
        assert (np.diff(run.lost) >= -1e-9).all()
        assert min(run.stored.min(), run.kinetic.min()) >= 0.0


@pytest.mark.parametrize(
    "knee",
    [
        Knee(2918.0),
        Knee(0.0, bending_damping=0.0),
        Knee(math.inf),
        Knee(2918.0, shear_stiffness=math.inf),
        Knee(math.inf, shear_stiffness=math.inf),
    ],
    ids=["both", "free", "bending locked", "shear locked", "rigid"],
)
@pytest.mark.parametrize("rebound", [0.0, 0.2, 1.0])
@pytest.mark.parametrize("legform", [RIGID_LEGFORM, FLEXIBLE_LEGFORM], ids=lambda f: f.name)
def test_balance_for_every_knee_and_skin(knee: Knee, rebound: float, legform) -> None:
    run = run_legform(LIPS, RunSettings(rebound=rebound, knee=knee), legform)
    assert run.usable, run.reason
    if math.isinf(knee.bending_stiffness):
        assert not run.knee_angle.any()
    if math.isinf(knee.shear_stiffness):
        assert not run.knee_shear.any()


@pytest.mark.parametrize("legform", [RIGID_LEGFORM, FLEXIBLE_LEGFORM], ids=lambda f: f.name)
def test_momentum_lost_is_the_impulse_of_the_front(legform) -> None:
    """Newton's second law over the whole run: nothing else pushes on the legform."""
    run = run_legform(LIPS, RunSettings(duration_ms=30.0), legform)
    impulse = 1e3 * np.trapezoid(run.force, run.time / 1e3)
    gone = 1e-3 * np.gradient(run.place, run.time / 1e3, axis=0)[-2]  # speeds of the corners
    heights = run.corners / 1e3
    # Speeds are straight between corners; mass is as told by the legform, spread as its segments.
    kg = 0.0
    for side, segments in ((1.0, legform.femur), (-1.0, legform.tibia)):
        start = 0.0
        for segment in segments:
            if segment.centre_mm is None:
                at = start + (np.arange(2000) + 0.5) / 2000 * segment.length_mm / 1e3
            else:
                at = np.array([start + segment.centre_mm / 1e3])
            kg += segment.mass_kg * np.interp(side * at, heights, gone).mean()
            start += segment.length_mm / 1e3
    before = legform.mass_kg * 40.0 / 3.6
    assert before - kg == pytest.approx(impulse, rel=5e-3)


def test_links_stand_where_the_knee_says() -> None:
    """The links read back: upright at first touch, then the knee's angle and shear, lengths."""
    run = run_legform(LIPS)
    for link in run.leg_at(0):
        assert (link[:, 0] == 20.0).all()  # foremost point of LIPS
    for i in (40, 120, 250):
        femur, tibia = run.leg_at(i)
        slopes = [float((b[0] - a[0]) / (b[1] - a[1])) for a, b in (femur, tibia)]
        assert math.degrees(slopes[0] - slopes[1]) == pytest.approx(run.knee_angle[i], abs=1e-5)
        assert femur[0, 0] - tibia[0, 0] == pytest.approx(run.knee_shear[i], abs=1e-6)
        assert (femur[1, 1], tibia[1, 1]) == (RIGID_LEGFORM.high_mm, RIGID_LEGFORM.low_mm)


def test_the_flexible_legform_bends_where_it_is_drawn_bent() -> None:
    run = run_legform(LIPS, legform=FLEXIBLE_LEGFORM)
    i = int(np.abs(run.tibia_bending).max(axis=1).argmax())
    _, tibia = run.leg_at(i)
    slope = np.diff(tibia[:, 0]) / np.diff(tibia[:, 1])
    # Moment = bending stiffness of a cell (170 N m2 over 404 mm / 14) times the break in slope.
    moments = -np.diff(slope) * 170.0 / (0.404 / 14)
    assert np.sort(np.abs(moments)) == pytest.approx(
        np.sort(np.abs(run.tibia_bending[i])), rel=1e-4
    )
    assert run.tibia_bending_height == pytest.approx(
        tibia[1:-1][np.abs(moments).argmax(), 1], abs=1e-6
    )
    assert run_legform(LIPS).tibia_bending_height is None  # the rigid one does not bend


def test_a_run_out_of_balance_is_flagged_and_gives_no_peaks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A planted fault: what speeds the legform up counts 5 % more than what moves it."""
    monkeypatch.setattr(dynamics, "stepped", lambda p, r, f, s: (p + s * r, r + s * (1.05 * f)))
    run = run_legform(LIPS)
    assert run.status == "out_of_balance"
    assert "not to be used" in run.reason
    assert run.peak_knee_angle is run.peak_knee_shear is None
    assert run.opening_reached is False


def test_rotation_limit_ends_the_run_and_says_so() -> None:
    free = RunSettings(knee=Knee(0.0, bending_damping=0.0), rotation_limit_deg=10)
    run = run_legform(LIPS, free)
    assert run.status == "rotation_limit"
    assert "10 deg" in run.reason
    assert run.usable
    assert run.time[-1] < free.duration_ms
    assert run.peak_knee_angle is not None
    assert abs(run.peak_knee_angle) <= 10.0
    assert not run.opening_reached


def test_parts_may_have_skins_of_their_own() -> None:
    plain = run_legform(LIPS)
    same = run_legform(LIPS, RunSettings(parts=(("bumper", 0.3),)))
    other = run_legform(LIPS, RunSettings(parts=(("bumper", 0.6),)))
    elsewhere = run_legform(LIPS, RunSettings(parts=(("windscreen", 9.0),)))
    assert (plain.knee_angle == same.knee_angle).all()
    assert (plain.knee_angle == elsewhere.knee_angle).all()
    assert other.force.max() > plain.force.max()


def test_same_input_same_output_and_shift_in_x_changes_nothing() -> None:
    first, again = run_legform(LIPS), run_legform(LIPS)
    assert (first.knee_angle == again.knee_angle).all()
    moved = run_legform(Section(np.add(LIPS.points, [512.0, 0.0]), parts=LIPS.parts))
    assert np.allclose(moved.knee_angle, first.knee_angle, atol=1e-6)


def test_many_at_once_are_those_one_by_one() -> None:
    """Copies are worked in groups; whatever the groups, each is what it is alone."""
    face = face_of(LIPS, FLEXIBLE_LEGFORM)
    settings = RunSettings(duration_ms=10.0)
    factors = np.linspace(0.3, 3.0, 70)
    stiffness = factors[:, None] * face.stiffness(0.3, {})
    together = fly(face, FLEXIBLE_LEGFORM, settings, stiffness).opening()
    for i in (0, 33, 69):
        alone = fly(face, FLEXIBLE_LEGFORM, settings, stiffness[i : i + 1]).opening()
        assert together[:, i] == pytest.approx(alone[:, 0], abs=1e-9)


def test_skin_gives_back_what_it_does_to_a_struck_person() -> None:
    """One law, one number: what is assumed of skin is the same whatever it strikes."""
    assert RunSettings().rebound == nominal().rebound[0]


def test_time_steps_are_those_asked_for() -> None:
    run = run_legform(LIPS, RunSettings(duration_ms=5.0, step_ms=0.25))
    assert np.allclose(run.time, np.arange(21) * 0.25)
    assert run.force[0] == 0.0


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: RunSettings(stiffness=-1.0), "a stiffness"),
        (lambda: RunSettings(stiffness=math.inf), "a stiffness"),
        (lambda: RunSettings(parts=(("bumper", math.nan),)), "a stiffness"),
        (lambda: RunSettings(rebound=1.1), "the rebound"),
        (lambda: Knee(-1.0), "springs and dampers"),
        (lambda: Knee(1.0, shear_damping=math.inf), "springs and dampers"),
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

"""A legform put together and flown, against plain sums, matrices written out and another solver.

Data of the rigid legform are from memory of the published drawings: 8.6 and 4.8 kg, 0.217 and
0.233 m from the knee, 0.127 and 0.120 kg m2; bones, knees and skin are own choice.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from frontcheck.legs import dynamics
from frontcheck.legs.dynamics import Flights, RunSettings, fly, run_legform
from frontcheck.legs.faced import face_of, lip_heights
from frontcheck.legs.links import Links
from frontcheck.people.impactors import FLEXIBLE_LEGFORM, RIGID_LEGFORM, Knee
from frontcheck.surface.section import Section

LIPS = Section(
    [(300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 700), (120, 800),
     (900, 950)],
    parts=["underside", *["bumper"] * 5, "grille", "bonnet", "bonnet"],
)  # fmt: skip
KNEE = Knee(2918.0, 5.0, 600.0, 0.3)
FREE = Knee(0.0, 0.0, 0.0, 0.0)
M1, M2, C1, C2, I1, I2 = 8.6, 4.8, 0.217, 0.233, 0.127, 0.120


def quadratic(*rows):
    """Matrix whose form is the sum of weights times squares of rows."""
    return sum(weight * np.outer(row, row) for weight, row in rows)


def test_the_rigid_legform_is_two_bodies_and_a_knee() -> None:
    """Femur: place at the knee and slope; tibia likewise. u of a height z is place + slope z."""
    links = Links.of(RIGID_LEGFORM, KNEE)
    assert links.mass == pytest.approx(
        quadratic((M1, [1, C1, 0, 0]), (I1, [0, 1, 0, 0]), (M2, [0, 0, 1, -C2]), (I2, [0, 0, 0, 1]))
    )
    assert links.inverse @ links.mass == pytest.approx(np.eye(4))
    opens, shears = [0, 1, 0, -1], [1, 0, -1, 0]
    assert links.spring == pytest.approx(quadratic((2918.0, opens), (600e3, shears)))
    assert links.damper == pytest.approx(quadratic((5.0, opens), (300.0, shears)))
    assert (links.opening.tolist(), links.shear.tolist()) == (opens, shears)
    assert links.level.tolist() == [1.0, 0.0, 1.0, 0.0]
    assert links.ends == pytest.approx((-0.494, 0.432))
    assert (links.tibia, links.joints) == (2, ())
    assert links.shape([0.3, 0.0, -0.2]) == pytest.approx(
        np.array([[1, 0.3, 0, 0], [1, 0, 0, 0], [0, 0, 1, -0.2]])
    )
    assert links.shape([0.3, -0.2], slope=True).tolist() == [[0, 1, 0, 0], [0, 0, 0, 1]]
    assert links.turns.tolist() == [opens, [0, 0, 0, 1], [0, 1, 0, 0]]
    heights, moments = links.bends
    assert (heights.shape, moments.shape) == ((0,), (0, 4))


@pytest.mark.parametrize(
    ("knee", "free"),
    [
        (Knee(math.inf, 5.0, 600.0, 0.3), [[1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 1, 0]]),
        (Knee(2918.0, 5.0, math.inf, 0.3), [[1, 0, 0], [0, 1, 0], [1, 0, 0], [0, 0, 1]]),
        (Knee(math.inf, 5.0, math.inf, 0.3), [[1, 0], [0, 1], [1, 0], [0, 1]]),
    ],
    ids=["bending", "shear", "both"],
)
def test_a_lock_leaves_out_what_it_holds(knee: Knee, free) -> None:
    """Both halves have one place, one slope or both; what is left has the same mass and springs."""
    full, links = np.array(free, dtype=float), Links.of(RIGID_LEGFORM, knee)
    bare = Links.of(RIGID_LEGFORM, FREE)
    assert links.full == pytest.approx(full)
    assert links.mass == pytest.approx(full.T @ bare.mass @ full)
    opens, shears = full.T @ [0, 1, 0, -1], full.T @ [1, 0, -1, 0]
    for found, bending, shear in ((links.spring, 2918.0, 600e3), (links.damper, 5.0, 300.0)):
        expected = np.zeros_like(links.mass)
        if math.isfinite(knee.bending_stiffness):
            expected += quadratic((bending, opens))
        if math.isfinite(knee.shear_stiffness):
            expected += quadratic((shear, shears))
        assert found == pytest.approx(expected)
    assert links.opening == pytest.approx(opens)
    assert links.shear == pytest.approx(shears)
    assert full @ links.level == pytest.approx([1.0, 0.0, 1.0, 0.0])


def plain_shape(height: float) -> np.ndarray:
    """Of the flexible legform: 13 joints a bone, of 14 equal cells at their middles."""
    row = np.zeros(30)
    base, size, start = (0, 0.339, 0.0925) if height >= 0.0 else (15, 0.404, 0.0925)
    row[base], row[base + 1] = 1.0, height
    for i in range(13):
        joint = math.copysign(start + (i + 0.5) * size / 14, height)
        if abs(height) > abs(joint):
            row[base + 2 + i] = height - joint
    return row


def test_the_flexible_legform_bends_at_the_middles_of_its_cells() -> None:
    links = Links.of(FLEXIBLE_LEGFORM, FREE)
    rng = np.random.default_rng(2)
    heights = [*rng.uniform(-0.4965, 0.4315, 40), 0.0]
    shape = links.shape(heights)
    for row, height in zip(shape, heights, strict=True):
        assert row == pytest.approx(plain_shape(height))
    slopes = links.shape(heights, slope=True)
    for row, height in zip(slopes, heights, strict=True):
        expected = (plain_shape(height + 1e-7) - plain_shape(height - 1e-7)) / 2e-7
        if abs(height) > 1e-6:
            assert row == pytest.approx(expected, abs=1e-6)
    assert links.ends == pytest.approx((-0.4965, 0.4315))
    assert [joint.coordinate for joint in links.joints] == [*range(2, 15), *range(17, 30)]
    for joint in links.joints:
        stiffness, size = (200.0, 0.339) if joint.height > 0.0 else (170.0, 0.404)
        assert joint.spring == pytest.approx(stiffness * 14 / size)
        k = joint.coordinate
        assert links.spring[k, k] == pytest.approx(joint.spring)
        assert links.damper[k, k] == pytest.approx(1e-4 * joint.spring)
    off = links.spring - np.diag(np.diag(links.spring))
    assert np.abs(off).max() == 0.0  # a free knee ties nothing
    heights, moments = links.bends
    assert heights == pytest.approx([-(0.0925 + (i + 0.5) * 0.404 / 14) for i in range(13)])
    for i in range(13):
        expected = np.zeros(30)
        expected[17 + i] = 170.0 * 14 / 0.404
        assert moments[i] == pytest.approx(expected)


def test_masses_of_the_flexible_legform_are_spread_evenly() -> None:
    """Its pieces are thin stiff rods: the sum over hair's breadths of it, by midpoints."""
    links = Links.of(FLEXIBLE_LEGFORM, FREE)
    mass = np.zeros((30, 30))
    for side, bone_kg, bone in ((1.0, 3.85, 0.339), (-1.0, 4.29, 0.404)):
        for kg, start, size in ((2.52, 0.0, 0.0925), (bone_kg, 0.0925, bone)):
            at = start + (np.arange(14 * 60) + 0.5) * size / (14 * 60)
            rows = np.array([plain_shape(side * height) for height in at])
            mass += kg / len(at) * rows.T @ rows
    assert links.mass == pytest.approx(mass, abs=1e-6)
    assert links.level @ links.mass @ links.level == pytest.approx(13.18)  # 2.52 2 + 3.85 + 4.29
    # What must stay small: the opening and the slope of every stiff piece, from below.
    assert len(links.turns) == 1 + 14 + 14
    opening = np.zeros(30)
    opening[[1, 16]] = 1.0, -1.0
    assert links.turns[0] == pytest.approx(opening)
    lowest, highest = np.zeros(30), np.zeros(30)
    lowest[[16, *range(17, 30)]], highest[[1, *range(2, 15)]] = 1.0, 1.0
    assert links.turns[1] == pytest.approx(lowest)
    assert links.turns[-1] == pytest.approx(highest)


# What a legform faces.


@pytest.mark.parametrize("legform", [RIGID_LEGFORM, FLEXIBLE_LEGFORM], ids=lambda f: f.name)
def test_cells_are_the_front_a_few_mm_at_a_time(legform) -> None:
    """Setback at the middle of every cell by the section itself; parts by label, lip and UBRL."""
    face = face_of(LIPS, legform, (400.0, 560.0))
    middle = 1e3 * face.height + legform.knee_height_mm
    low, high = middle - 500.0 * face.size, middle + 500.0 * face.size
    assert face.foremost_x == 20.0
    assert low[0] == pytest.approx(max(legform.low_mm, 200.0))
    assert high[-1] == pytest.approx(min(legform.high_mm, 950.0))
    assert low[1:] == pytest.approx(high[:-1])  # without a gap, nothing twice
    assert (1e3 * face.size).max() < 4.02
    assert len(face.size) < 200 + 15  # 750 or 800 mm of front, 4 mm each, and where parts begin
    borders = [*low, *high]
    for height in (legform.knee_height_mm, 400.0, 560.0, 320.0, 520.0):
        assert min(abs(np.subtract(borders, height))) < 1e-9
    for i, z in enumerate(middle.tolist()):
        assert 1e3 * face.setback[i] + 20.0 == pytest.approx(LIPS.foremost_at(z))
        label = "underside" if z < 260 else "bumper" if z < 700 else "bonnet"
        if not 580.0 < z < 800.0:
            assert face.label[i] == label
        if face.label[i] not in ("", "bumper"):
            assert face.part[i] == face.label[i]
        else:
            assert face.part[i] == (
                "lower lip" if z < 400.0 else "bumper" if z < 560.0 else "leading edge"
            )
    usual = face.stiffness(0.3, {"bumper": 0.8, "bonnet": 0.0, "wing": 5.0})
    for label, stiffness in zip(face.label, usual.tolist(), strict=True):
        assert stiffness == pytest.approx({"bumper": 0.8e6, "bonnet": 0.0}.get(label, 0.3e6))


def test_parts_without_a_name_go_by_lips_where_those_are_known() -> None:
    bare = Section(LIPS.points)
    for lips, names in (
        ((400.0, 560.0), ["lower lip", "bumper", "leading edge"]),
        ((None, 560.0), ["bumper", "leading edge"]),
        ((400.0, None), ["lower lip", "bumper"]),
        ((None, None), ["bumper"]),
        ((2000.0, None), ["lower lip"]),
        ((None, 10.0), ["leading edge"]),
    ):
        face = face_of(bare, RIGID_LEGFORM, lips)
        assert list(dict.fromkeys(face.part)) == names
        assert set(face.label) == {""}


def test_where_the_lower_lip_ends_and_where_the_bumper_does() -> None:
    members = {"lower lip": SimpleNamespace(z=300.0), "bumper": SimpleNamespace(z=520.0)}
    for gone, split in ((None, 410.0), ("lower lip", None), ("bumper", None)):
        contact = SimpleNamespace(member=lambda n, gone=gone: None if n == gone else members[n])
        for top in (600.0, None):
            station = SimpleNamespace(UBRL=SimpleNamespace(z=top))
            assert lip_heights(contact, station) == (split, top)


def test_a_hole_in_what_is_seen_has_no_cells() -> None:
    """A plate that hangs alone below the nose: what is between them pushes nothing."""
    section = Section([
        (900, 300), (0, 300), (0, 340), (900, 340.5), (901, 500), (10, 500), (10, 600), (900, 700),
    ])  # fmt: skip
    face = face_of(section, RIGID_LEGFORM)
    middle = 1e3 * face.height + RIGID_LEGFORM.knee_height_mm
    assert (1e3 * face.size).sum() == pytest.approx(400.0)
    assert face.setback[middle < 340.0] == pytest.approx(0.0)
    assert face.setback[(middle > 500.0) & (middle < 600.0)] == pytest.approx(0.010)
    assert face.setback[(middle > 341.0) & (middle < 500.0)].min() > 0.89


# Flights.


def plain_flight(legform, settings, face, stiffness):
    """The same laws by a solver of scipy: places at the moments asked for."""
    links = Links.of(legform, settings.knee or legform.knee)
    shape = links.shape(face.height)
    r = len(links.level)

    def rates(_, state):
        place, rate = state[:r], state[r:]
        depth = np.maximum(shape @ place - face.setback, 0.0)
        back = np.where(shape @ rate >= 0.0, 1.0, settings.rebound**2)
        push = stiffness * face.size * depth * back
        load = -(shape.T @ push) - links.spring @ place - links.damper @ rate
        return np.concatenate([rate, np.linalg.solve(links.mass, load)])

    start = np.concatenate([np.zeros(r), settings.speed_km_h / 3.6 * links.level])
    end = settings.duration_ms / 1e3
    times = np.linspace(0.0, end, round(settings.duration_ms / settings.step_ms) + 1)
    done = solve_ivp(rates, (0.0, end), start, "LSODA", times, rtol=1e-8, atol=1e-10, max_step=5e-5)
    return times, done.y[:r].T, done.y[r:].T


@pytest.mark.parametrize(
    ("legform", "knee", "rebound"),
    [
        (RIGID_LEGFORM, None, 0.2),
        (RIGID_LEGFORM, Knee(400.0, 60.0, 100.0, 2.0), 0.7),
        (RIGID_LEGFORM, Knee(math.inf, 5.0, 200.0, 0.3), 0.0),
    ],
    ids=["usual", "soft and damped", "bending locked"],
)
def test_a_flight_is_that_of_another_solver(legform, knee, rebound) -> None:
    """To 0.5 %: steps of 0.02 ms are of first order. Force, opening, shear, energy by own sums."""
    settings = RunSettings(
        speed_km_h=30.0, duration_ms=12.0, step_ms=0.5, rebound=rebound, knee=knee,
        parts=(("bumper", 0.5),),
    )  # fmt: skip
    face = face_of(LIPS, legform)
    stiffness = face.stiffness(settings.stiffness, dict(settings.parts))
    times, place, rate = plain_flight(legform, settings, face, stiffness)
    run = run_legform(LIPS, settings, legform)
    links = Links.of(legform, settings.knee or legform.knee)
    shape = links.shape(face.height)
    depth = np.maximum(place @ shape.T - face.setback, 0.0)
    back = np.where(rate @ shape.T >= 0.0, 1.0, rebound**2)
    force = (stiffness * face.size * depth * back).sum(axis=1) / 1e3
    kinetic = 0.5 * np.einsum("ti,ij,tj->t", rate, links.mass, rate)
    stored = 0.5 * (stiffness * face.size * depth**2).sum(axis=1)
    stored += 0.5 * np.einsum("ti,ij,tj->t", place, links.spring, place)
    expected = {
        "time": 1e3 * times,
        "force": force,
        "knee_angle": np.degrees(place @ links.opening),
        "knee_shear": 1e3 * place @ links.shear,
        "kinetic": kinetic,
        "stored": stored,
        "lost": kinetic[0] - kinetic - stored,
        "place": 1e3 * place @ links.shape([-0.494, -1e-12, 0.0, 0.432]).T,
    }
    for name, values in expected.items():
        found = getattr(run, name)
        assert found.shape == values.shape, name
        within = 1e-2 if name == "lost" else 5e-3
        assert np.abs(found - values).max() <= within * max(np.abs(values).max(), 1e-6), name
    assert run.corners == pytest.approx([-494.0, 0.0, 0.0, 432.0], abs=1e-8)
    assert (run.status, run.reason, run.y, run.touch_x) == ("ok", "", 0.0, 20.0)
    assert (run.legform, run.settings) == (legform, settings)
    assert run.kinetic[0] == pytest.approx(0.5 * 13.4 * (30.0 / 3.6) ** 2)
    assert run.tibia_bending.shape == (25, 0)
    assert run.tibia_bending_height is None


def test_steps_between_outputs_divide_them_evenly() -> None:
    """Steps are 0.02 ms at most, outputs as often as asked for, whatever the two have in common."""
    face = face_of(LIPS, RIGID_LEGFORM)
    stiffness = face.stiffness(0.3, {})[None]
    seen = []

    def counted(place, rate, faster, step):
        seen.append(step)
        rate = rate + step * faster
        return place + step * rate, rate

    for duration, every, outputs, steps in (
        (1.0, 0.1, 10, 50), (1.0, 0.03, 33, 66), (1.0, 5.0, 1, 250), (0.2, 0.021, 10, 20),
        (0.1, 0.02, 5, 5), (0.5, 0.25, 2, 26),
    ):  # fmt: skip
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(dynamics, "stepped", counted)
            seen.clear()
            settings = RunSettings(duration_ms=duration, step_ms=every)
            flights = fly(face, RIGID_LEGFORM, settings, stiffness)
        assert flights.time == pytest.approx(np.linspace(0.0, duration, outputs + 1))
        assert len(seen) == steps
        assert seen == pytest.approx([duration / 1e3 / steps] * steps)


def made_up(place) -> Flights:
    """Flights of the rigid legform by places of femur and tibia (T, B, 4)."""
    place = np.array(place, dtype=float)
    return Flights(Links.of(RIGID_LEGFORM, KNEE), np.arange(len(place)), place, 0.0 * place)


def test_what_turns_farthest_and_how_long_it_is_kept() -> None:
    """Opening or the slope of either half, whichever is more; up to the first that is too far."""
    d = math.radians(1.0)
    flights = made_up([
        [[0, 0, 0, 0], [0, 0, 0, 0]],
        [[0.01, 10 * d, 0.02, 4 * d], [0, -2 * d, 0, 1 * d]],
        [[0, 4 * d, 0, -9 * d], [0.004, 2 * d, 0.001, -12 * d]],
        [[0, 1 * d, 0, 5 * d], [0, 30 * d, 0, 30 * d]],
    ])  # fmt: skip
    assert flights.turned() == pytest.approx(
        np.array([[0, 0], [10, 3], [13, 14], [5, 30]], dtype=float)
    )
    assert flights.kept(12.99).tolist() == [2, 2]
    assert flights.kept(13.5).tolist() == [4, 2]
    assert flights.kept(29.0).tolist() == [4, 3]
    assert flights.kept(31.0).tolist() == [4, 4]
    exact = made_up([[[0, 0, 0, 0]], [[0, 0.5, 0, 0]]])
    assert exact.kept(float(np.degrees(0.5))).tolist() == [2]  # as far as the limit is not farther
    assert flights.opening()[1] == pytest.approx([6.0, -3.0])
    assert flights.shear()[:, 0] == pytest.approx([0.0, -10.0, 0.0, 0.0])
    assert flights.shear()[2, 1] == pytest.approx(3.0)


def run_with(**changed):
    short = RunSettings(duration_ms=1.0, step_ms=0.25)
    return replace(run_legform(LIPS, short), **changed)


@pytest.mark.parametrize(
    ("angle", "opens", "reached", "peak"),
    [
        ([0.0, 3.0, 1.0], True, True, 3.0), ([0.0, 1.0, 3.0], True, False, 3.0),
        ([0.0, -4.0, 3.0], False, False, -4.0), ([0.0, 4.0, -4.0], True, True, 4.0),
        ([0.0, -4.0, 1.0, 0.0], False, True, -4.0), ([0.0, -1.0, -2.0], False, True, -2.0),
        ([0.0, 0.0, 0.0], True, True, 0.0),
    ],
)  # fmt: skip
def test_what_a_run_says_of_its_knee(angle, opens, reached, peak) -> None:
    run = run_with(knee_angle=np.array(angle), knee_shear=-np.array(angle))
    assert (run.opens, run.opening_reached, run.peak_knee_angle) == (opens, reached, peak)
    assert run.peak_knee_shear == -peak
    assert run.usable
    bad = replace(run, status="out_of_balance")
    assert (bad.usable, bad.opening_reached, bad.peak_knee_angle) == (False, False, None)
    assert bad.peak_knee_shear is None
    assert replace(run, status="rotation_limit").usable


def test_where_the_tibia_bends_most_whichever_way() -> None:
    bending = np.array([[1.0, -2.0, 3.0], [0.0, -9.0, 4.0]])
    run = run_with(tibia_bending=bending, tibia_heights=np.array([400.0, 300.0, 200.0]))
    assert run.tibia_bending_height == 300.0
    assert replace(run, status="out_of_balance").tibia_bending_height is None


def test_why_a_run_ended_in_words(monkeypatch) -> None:
    loose = RunSettings(knee=Knee(0.0, 0.0), rotation_limit_deg=3.0, step_ms=0.5)
    run = run_legform(LIPS, loose)
    assert run.status == "rotation_limit"
    assert run.reason == (
        f"a rotation reached 3 deg after {run.time[-1]:.1f} ms; small rotations do not hold beyond "
        "it: the run ends there"
    )
    later = run_legform(LIPS, replace(loose, rotation_limit_deg=60.0))
    n = len(run.time)
    for name in ("knee_angle", "knee_shear", "force", "kinetic", "stored", "lost", "time"):
        assert getattr(run, name) == pytest.approx(getattr(later, name)[:n])
    assert abs(later.knee_angle[:n]).max() <= 3.0 < 60.0
    assert dynamics._BALANCE == 0.01  # own choice
    monkeypatch.setattr(dynamics, "_BALANCE", 1e-9)
    strict = run_legform(LIPS, RunSettings(duration_ms=2.0))
    assert strict.status == "out_of_balance"
    assert strict.reason == (
        f"energy is out by {strict.energy_error:.1e} of the start, more than 1e-09; the run is not "
        "to be used"
    )
    total = strict.kinetic + strict.stored + strict.lost
    assert strict.energy_error == pytest.approx(abs(total / total[0] - 1.0).max())


def test_settings_in_words_and_what_they_must_be() -> None:
    usual = RunSettings()
    assert usual.words == "legform at 40 km/h; stiffness [N/mm2] of the skin: everywhere 0.3"
    own = replace(usual, parts=(("bumper", 0.5), ("bonnet", 0.125)), speed_km_h=32.5)
    assert own.words == (
        "legform at 32.5 km/h; stiffness [N/mm2] of the skin: bumper 0.5; bonnet 0.125; everywhere "
        "else 0.3"
    )
    assert (usual.rebound, usual.duration_ms, usual.step_ms) == (0.2, 50.0, 0.1)
    assert usual.rotation_limit_deg == 60.0
    for fine in ({"stiffness": 0.0}, {"rebound": 0.0}, {"rebound": 1.0}, {"parts": (("a", 0.0),)}):
        assert replace(usual, **fine)
    for name in ("speed_km_h", "duration_ms", "step_ms", "rotation_limit_deg"):
        for wrong in (0.0, -1.0, math.nan, math.inf):
            with pytest.raises(
                ValueError, match="speed, duration, step and rotation limit must be positive numb"
            ):
                replace(usual, **{name: wrong})
    for wrong in ({"stiffness": -1e-9}, {"parts": (("a", 1.0), ("b", -1.0))}):
        with pytest.raises(ValueError, match="a stiffness must be a number of 0 or more"):
            replace(usual, **wrong)
    for wrong in (-1e-9, 1.0001, math.nan):
        with pytest.raises(ValueError, match="the rebound must be a share from 0 to 1"):
            replace(usual, rebound=wrong)


def test_a_leg_stands_where_it_was_touched() -> None:
    """Links from the knee outward: the femur up from it, the tibia down, both from the touch."""
    run = run_with(
        place=np.array([[4.0, 2.0, 1.0, 7.0]]), corners=np.array([-494.0, -1e-9, 0.0, 432.0]),
        touch_x=100.0,
    )  # fmt: skip
    femur, tibia = run.leg_at(0)
    assert femur == pytest.approx(np.array([(101.0, 519.0), (107.0, 951.0)]))
    assert tibia == pytest.approx(np.array([(102.0, 519.0), (104.0, 25.0)]))

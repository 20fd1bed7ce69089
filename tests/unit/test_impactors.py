"""Impactors: headforms from the rules, stop distances and knee rates at their edges."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.people.impactors import (
    FLEXIBLE_LEGFORM,
    RIGID_LEGFORM,
    Knee,
    headforms,
    knee_rate_per_impulse,
    least_stop_distance,
    legform_of,
    square_pulse_stop_distance,
)
from frontcheck.rules.ruleset import rule_set, rule_set_ids


@pytest.mark.parametrize("rules", rule_set_ids())
def test_headforms_follow_the_rule_set(rules: str) -> None:
    child, adult = headforms(rule_set(rules))
    assert (child.name, adult.name) == ("child", "adult")
    # UN GTR 9 and UN R127, from memory: 165 mm; 3.5 kg at 50 deg, 4.5 kg at 65 deg.
    assert (child.mass_kg, child.angle_deg) == (3.5, 50.0)
    assert (adult.mass_kg, adult.angle_deg) == (4.5, 65.0)
    assert child.diameter_mm == adult.diameter_mm == 165.0
    assert child.speed_km_h > 0.0


@pytest.mark.parametrize("which", [0, 1])
def test_travel_is_a_unit_vector_down_and_rearward(which: int) -> None:
    headform = headforms(rule_set("UN-R127-02"))[which]
    x, z = headform.travel
    assert math.hypot(x, z) == pytest.approx(1.0)
    assert x > 0.0 > z
    assert math.degrees(math.atan2(-z, x)) == pytest.approx(headform.angle_deg)


@pytest.mark.parametrize("rules", rule_set_ids())
def test_the_legform_follows_the_edition(rules: str) -> None:
    """Rigid before the 01 series of UN R127 and in the first UN GTR 9, flexible from then on and
    75 mm above ground (from memory)."""
    rigid = rules in ("EU-631-2009", "UN-GTR9", "UN-R127-00")
    legform = legform_of(rule_set(rules))
    assert legform.name == ("rigid legform" if rigid else "flexible legform")
    assert legform.low_mm == (25.0 if rigid else 75.0)
    assert legform.provenance == ("from memory" if rigid else "from memory, unconfirmed")


def test_the_flexible_legform_is_bones_between_half_a_knee_block_each() -> None:
    """928 mm long, 13.2 kg, bones 339 and 404 mm (from memory, unconfirmed)."""
    legform = FLEXIBLE_LEGFORM
    assert legform.length_mm == 928.0
    assert legform.mass_kg == pytest.approx(13.2, abs=0.05)
    assert [s.length_mm for s in legform.femur if s.bending_N_m2] == [339.0]
    assert [s.length_mm for s in legform.tibia if s.bending_N_m2] == [404.0]


def test_legform_lengths_add_up() -> None:
    legform = RIGID_LEGFORM
    assert legform.femur_length_mm + legform.tibia_length_mm == legform.length_mm
    assert legform.high_mm - legform.low_mm == legform.length_mm
    assert legform.mass_kg == pytest.approx(13.4)


def test_knee_rate_is_linear_on_each_link_and_continuous_at_the_knee() -> None:
    y = np.linspace(-400.0, 0.0, 9)
    assert np.ptp(np.diff(knee_rate_per_impulse(y))) < 1e-12
    assert np.ptp(np.diff(knee_rate_per_impulse(-y))) < 1e-12
    above, below = knee_rate_per_impulse([-1e-9, 1e-9])
    assert above == pytest.approx(below, abs=1e-9)


@pytest.mark.parametrize("y", [494.1, -432.1, float("nan")])
def test_blow_off_the_legform_is_refused(y: float) -> None:
    with pytest.raises(ValueError, match="between -432 and 494 mm below the knee"):
        knee_rate_per_impulse(y)


def test_stop_distances_broadcast_and_take_rest() -> None:
    depth = square_pulse_stop_distance(np.array([[1000.0], [1700.0]]), [0.0, 35.0, 40.0])
    assert depth.shape == (2, 3)
    assert (depth[:, 0] == 0.0).all()
    assert (depth[0, 1:] > depth[1, 1:]).all()
    assert np.allclose(least_stop_distance(1000.0, 35.0), 0.75 * depth[0, 1], rtol=1e-14)


@pytest.mark.parametrize("bad", [(0.0, 35.0), (-1.0, 35.0), (math.nan, 35.0)])
def test_impossible_hic_is_refused(bad: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="HIC must be"):
        square_pulse_stop_distance(*bad)


@pytest.mark.parametrize("speed", [-1.0, math.inf])
def test_impossible_speed_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="speed must be"):
        least_stop_distance(1000.0, speed)


@pytest.mark.parametrize(
    "name", ["bending_stiffness", "bending_damping", "shear_stiffness", "shear_damping"]
)
def test_each_value_of_a_knee_is_a_number_of_nought_or_more(name: str) -> None:
    """Stiffnesses may be infinite, which locks the knee; a damper that is so would be no motion."""
    good = {"bending_stiffness": 500.0}
    for bad in (-1e-9, math.nan, -math.inf, *([math.inf] if "damping" in name else [])):
        with pytest.raises(ValueError, match="numbers of 0 or more"):
            Knee(**{**good, name: bad})
    for fit in (0.0, 3.0, *([math.inf] if "stiffness" in name else [])):
        assert getattr(Knee(**{**good, name: fit}), name) == fit

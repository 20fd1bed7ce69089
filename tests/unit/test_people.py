"""Reference people: consistent landmarks, honest sources, refusal of impossible statures."""

from __future__ import annotations

import dataclasses

import pytest

from frontcheck.errors import InputError
from frontcheck.people.people import (
    ADULTS,
    CHILD,
    FRACTIONS,
    PEOPLE,
    Person,
    person_of_stature,
    struck_people,
)


@pytest.mark.parametrize("person", PEOPLE, ids=lambda p: p.name)
def test_landmarks_stand_one_above_the_other(person: Person) -> None:
    known = [h.value_mm for h in person.heights.values() if h.value_mm is not None]
    assert known == sorted(known)
    assert len(set(known)) == len(known)


@pytest.mark.parametrize("person", [*PEOPLE, person_of_stature(1700)], ids=lambda p: p.name)
def test_every_height_says_where_it_is_from_and_that_it_is_a_fraction(person: Person) -> None:
    for name, height in person.heights.items():
        assert height.source
        assert height.from_fraction == ("of stature" in height.source), name
        assert (height.value_mm is None) == bool(height.reason), name


def test_missing_waist_has_a_reason_and_is_not_made_up() -> None:
    assert CHILD.waist.value_mm is None
    with pytest.raises(ValueError, match="no waist height"):
        CHILD.waist.known()
    assert all(adult.waist.known() > adult.hip.known() for adult in ADULTS)


def test_any_stature_scales_by_fractions() -> None:
    small, large = person_of_stature(1000), person_of_stature(2000, name="tall")
    assert (small.name, large.name) == ("stature 1000 mm", "tall")
    for name, share in FRACTIONS.items():
        assert getattr(small, name).known() == pytest.approx(1000 * share)
        assert getattr(large, name).known() == pytest.approx(2 * getattr(small, name).known())


@pytest.mark.parametrize("stature", [0.0, -1700.0, 1.7, 699.9, 2501.0, float("nan")])
def test_impossible_statures_are_refused(stature: float) -> None:
    with pytest.raises(InputError, match="700 to 2500 mm"):
        person_of_stature(stature)


def test_centre_of_mass_states_a_band_that_holds_what_is_published() -> None:
    """0.573 of stature: D. A. Winter, Biomechanics and Motor Control of Human Movement, Wiley
    (from memory; edition and year not confirmed). The band is own choice, higher for the child."""
    for person in PEOPLE:
        share = [end / person.stature.known() for end in person.centre_of_mass.band_mm or ()]
        assert share == pytest.approx([0.56, 0.60] if person is CHILD else [0.55, 0.59])
        assert share[0] < 0.573 < share[1]
        assert "own choice" in person.centre_of_mass.source


def test_people_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        CHILD.name = "x"  # type: ignore[misc]


def test_five_people_have_a_mass() -> None:
    """Own choice; no two percentiles of stature and mass belong to one person."""
    assert {person.name: person.mass_kg for person in struck_people()} == {
        "six-year-old": 21.0, "woman p5": 50.0, "woman p50": 62.0, "man p50": 77.0, "man p95": 98.0,
    }  # fmt: skip
    assert person_of_stature(1700).mass_kg is None
    assert person_of_stature(1700, mass_kg=70.0).mass_kg == 70.0


@pytest.mark.parametrize("mass", [0.0, -70.0, 34.6, 144.6, float("nan"), float("inf")])
def test_a_mass_that_nobody_of_that_stature_has_is_refused_with_the_range(mass: float) -> None:
    """12 and 50 kg/m2, own choice: of 1700 mm 34.7 to 144.5 kg."""
    with pytest.raises(InputError, match=r"35 to 144 kg: a body mass index of 12 to 50 kg/m2"):
        person_of_stature(1700, mass_kg=mass)
    with pytest.raises(InputError, match="mass"):
        dataclasses.replace(person_of_stature(1700), mass_kg=mass)

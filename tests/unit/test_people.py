"""Reference people: consistent landmarks, honest sources, refusal of impossible statures."""

from __future__ import annotations

import dataclasses

import pytest

from frontcheck.errors import InputError
from frontcheck.people.people import (
    ADULTS,
    CHILD,
    PEOPLE,
    SHOE_MM,
    Person,
    _rank,
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
    with pytest.raises(ValueError, match="no published waist height of a child"):
        CHILD.waist.known()
    assert all(adult.waist.known() > adult.hip.known() for adult in ADULTS)


def test_one_stature_is_one_person() -> None:
    """Whoever is named by a percentile stands as anybody else of that stature."""
    for person in ADULTS:
        assert person_of_stature(person.stature.known()).knee == person.knee
    assert person_of_stature(CHILD.stature.known()).hip == CHILD.hip
    assert person_of_stature(1800, name="tall").name == "tall"


@pytest.mark.parametrize("stature", [0.0, -1700.0, 1.7, 700.0, 1099.9, 2100.1, float("nan")])
def test_impossible_statures_are_refused(stature: float) -> None:
    with pytest.raises(InputError, match="1100 to 2100 mm"):
        person_of_stature(stature)


@pytest.mark.parametrize("stature", [1200.0, 1300.0, 1450.0])
def test_nothing_is_made_up_between_child_and_adult(stature: float) -> None:
    with pytest.raises(InputError, match="below 1200 mm, for a child, or above 1450 mm"):
        person_of_stature(stature)


def test_the_borders_belong_to_the_tables_beside_them() -> None:
    """Own choice: a child's own shares below 1200 mm, adults above 1450 mm."""
    child, adult = person_of_stature(1199.9), person_of_stature(1450.1)
    assert child.knee.known() == pytest.approx(0.270 * 1199.9 + 25.0)
    assert adult.knee.known() == pytest.approx(0.3268 * 1450.1 - 84.7 + 25.0)
    assert (child.waist.value_mm is None, adult.waist.value_mm is None) == (True, False)
    assert (child.stature.ranks, child.knee.ranks) == ((), ())


def test_a_shoe_lifts_everybody_and_can_be_set() -> None:
    """25 mm: common practice, no source."""
    assert SHOE_MM == 25.0
    for person in PEOPLE:
        bare = person.in_shoes(0.0)
        assert (person.shoe_mm, bare.shoe_mm) == (25.0, 0.0)
        for name, height in person.heights.items():
            lift = 0.0 if name == "stature" else 25.0
            low = bare.heights[name]
            if height.value_mm is not None:
                assert height.value_mm - low.known() == pytest.approx(lift), name
            if height.band_mm is not None:
                assert height.band_mm[0] - (low.band_mm or (0.0, 0.0))[0] == pytest.approx(lift)
        assert bare.in_shoes(40.0).in_shoes(25.0).knee.known() == pytest.approx(person.knee.known())
        assert "in shoes of 25 mm" in person.words
        assert "on bare feet" in bare.words


@pytest.mark.parametrize("shoe", [-1.0, 100.1, float("nan")])
def test_a_shoe_that_nobody_wears_is_refused(shoe: float) -> None:
    with pytest.raises(InputError, match=r"0 \(bare feet\) to 100 mm"):
        CHILD.in_shoes(shoe)


def test_a_stature_is_told_with_its_rank_and_heights() -> None:
    """By hand: (1500 - 1628.5) / 64.2 = -2.00 SD, 2.3 of 100; men (1500 - 1756.2) / 68.6 = -3.7."""
    words = person_of_stature(1500).words
    assert words == (
        "knee 430, hip 794, waist 917 mm up in shoes of 25 mm; stature p2 of women and below p1 of "
        "men (ANSUR II)"
    )
    assert "above p99 of women and above p99 of men" in person_of_stature(1990).words


@pytest.mark.parametrize(
    ("rank", "words"),
    [
        (0.49, "below p1"),
        (0.5, "p1"),
        (1.49, "p1"),
        (1.5, "p2"),
        (99.49, "p99"),
        (99.5, "above p99"),
    ],
)
def test_a_rank_is_told_to_the_nearest_and_never_beyond_the_ends(rank, words) -> None:
    assert _rank(rank) == words


def test_centre_of_mass_states_a_band_that_holds_what_is_published() -> None:
    """0.573 of stature: D. A. Winter, Biomechanics and Motor Control of Human Movement, Wiley
    (from memory; edition and year not confirmed). The band is own choice, higher for the child."""
    for person in PEOPLE:
        band = person.in_shoes(0.0).centre_of_mass.band_mm or ()
        share = [end / person.stature.known() for end in band]
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

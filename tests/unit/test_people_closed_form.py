"""Reference people and impactors, number by number, against sums written out here.

Sources of the numbers are in frontcheck/people/people.toml and impactors.toml: statures, lines and
spreads after Gordon and others, NATICK/TR-15/007, 2014 (from memory); a child's by the 2000 CDC
growth charts (from memory) with shares of its own; legforms from memory of UN GTR 9 and UN R127;
masses, bands and limits of stature are own choice.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from frontcheck.errors import InputError
from frontcheck.people.impactors import (
    FLEXIBLE_LEGFORM,
    RIGID_LEGFORM,
    UPPER_LEGFORM,
    Headform,
    Knee,
    Legform,
    Segment,
    knee_rate_per_impulse,
    least_stop_distance,
    legform_of,
    square_pulse_stop_distance,
)
from frontcheck.people.people import (
    ADULTS,
    CHILD,
    PEOPLE,
    BodyHeight,
    Person,
    person_of_stature,
    proportions_of,
    struck_people,
)

SHOE = 25.0
STATURES = {
    "woman p5": 1525.0, "woman p50": 1626.0, "woman p95": 1740.0,
    "man p5": 1648.0, "man p50": 1755.0, "man p95": 1870.0,
}  # fmt: skip
LINES = {"knee": (0.3268, 84.7), "hip": (0.5302, 26.2), "waist": (0.6525, 87.1)}
SPREAD = {
    "stature": ((1628.5, 64.2), (1756.2, 68.6)), "knee": ((449.0, 26.0), (488.4, 28.1)),
    "hip": ((845.4, 44.7), (900.9, 49.2)), "waist": ((980.1, 50.0), (1056.5, 52.2)),
}  # fmt: skip
ANSUR = "C. C. Gordon and others, NATICK/TR-15/007, 2014"


@pytest.mark.parametrize("name", STATURES)
def test_an_adult_stands_on_its_lines_in_a_shoe(name: str) -> None:
    person = next(each for each in ADULTS if each.name == name)
    stature = STATURES[name]
    assert person.stature.value_mm == stature
    for part, (slope, less) in LINES.items():
        height = person.heights[part]
        bare = slope * stature - less
        assert height.value_mm == pytest.approx(bare + SHOE), part
        assert height.provenance == "from memory"
        assert height.from_fraction is False
        assert height.source.startswith(ANSUR)
        assert height.source.endswith(
            "of the average person of this stature, by a line over the stature of women and men"
        )
    assert person.ankle.value_mm == pytest.approx(0.039 * stature + SHOE)
    assert person.centre_of_mass.value_mm == pytest.approx(0.573 * stature + SHOE)
    assert person.centre_of_mass.band_mm == pytest.approx(
        (0.55 * stature + SHOE, 0.59 * stature + SHOE)
    )
    assert person.ankle.source.startswith("0.039 of stature (R. Drillis and R. Contini")
    assert "band 0.55 to 0.59, own choice" in person.centre_of_mass.source
    assert person.ankle.from_fraction
    assert list(person.heights) == ["ankle", "knee", "hip", "centre of mass", "waist", "stature"]
    assert person.stature.source == (
        person.knee.source.partition(": knee height, mid-patella")[0] + ": stature"
    )


@pytest.mark.parametrize("name", STATURES)
def test_ranks_are_those_of_a_normal_distribution_among_women_and_then_men(name: str) -> None:
    person = next(each for each in ADULTS if each.name == name)
    for part, spreads in SPREAD.items():
        bare = person.in_shoes(0.0).heights[part].known()
        wanted = [100.0 * norm.cdf(bare, mean, deviation) for mean, deviation in spreads]
        ranks = person.heights[part].ranks
        assert [sex for sex, _ in ranks] == ["women", "men"]
        assert [rank for _, rank in ranks] == pytest.approx(wanted, rel=1e-9)


def test_the_child_has_shares_of_its_own() -> None:
    stature = (1156.6 + 1150.1) / 2.0
    assert CHILD.stature.value_mm == pytest.approx(stature)
    assert CHILD.stature.source.endswith(": mean of boys 1156.6 and girls 1150.1 mm")
    for part, share in (("ankle", 0.039), ("knee", 0.270), ("hip", 0.495)):
        height = CHILD.heights[part]
        assert height.value_mm == pytest.approx(share * stature + SHOE)
        assert height.provenance == "from memory, unconfirmed"
        assert height.source.startswith(f"{share:g} of stature (to be held against")
    assert CHILD.centre_of_mass.band_mm == pytest.approx(
        (0.56 * stature + SHOE, 0.60 * stature + SHOE)
    )
    assert CHILD.words == "knee 336, hip 596 mm up in shoes of 25 mm"
    assert CHILD.in_shoes(0.0).words == "knee 311, hip 571 mm up on bare feet"
    assert CHILD.waist == BodyHeight(
        None, "none", "from memory", reason="no published waist height of a child is at hand"
    )
    assert (PEOPLE[0], PEOPLE[1:]) == (CHILD, ADULTS)
    assert [person.name for person in ADULTS] == list(STATURES)


def test_a_shoe_of_nothing_and_of_the_most_are_taken() -> None:
    """Own choice: 0 to 100 mm."""
    for shoe in (0.0, 100.0):
        person = CHILD.in_shoes(shoe)
        assert person.shoe_mm == shoe
        assert person.ankle.known() == pytest.approx(0.039 * CHILD.stature.known() + shoe)
    assert "in shoes of 7.5 mm" in CHILD.in_shoes(7.5).words


@pytest.mark.parametrize(
    ("stature", "table"),
    [
        (1100.0, "child"), (1199.999, "child"), (1450.001, "adult"), (2100.0, "adult"),
        (1099.999, None), (1200.0, None), (1450.0, None), (2100.001, None),
    ],
)  # fmt: skip
def test_which_table_a_stature_has(stature: float, table: str | None) -> None:
    """Own choice: below 1200 mm a child, above 1450 mm an adult, 1100 to 2100 mm at all."""
    if table is None:
        with pytest.raises(InputError):
            person_of_stature(stature)
        return
    person = person_of_stature(stature, mass_kg=30.0 if table == "child" else 90.0)
    assert proportions_of(person) == table
    assert person.name == f"stature {stature:g} mm"
    assert (person.stature.source, person.stature.provenance) == ("given by the user", "own choice")
    with pytest.raises(InputError, match=person.name):
        proportions_of(person_of_stature(stature))


@pytest.mark.parametrize("index", [12.0, 50.0])
def test_the_ends_of_the_mass_index_are_taken(index: float) -> None:
    """12 to 50 kg/m2, own choice; 1500 mm squared is 2.25 m2."""
    assert person_of_stature(1500, mass_kg=2.25 * index).mass_kg == 2.25 * index
    off = 1e-6 if index > 20.0 else -1e-6
    with pytest.raises(InputError, match="27 to 112 kg: a body mass index of 12 to 50 kg/m2"):
        person_of_stature(1500, mass_kg=2.25 * (index + off))
    unknown = replace(ADULTS[0].stature, value_mm=None)
    assert replace(ADULTS[0], stature=unknown, mass_kg=1.0).mass_kg == 1.0


def test_who_is_struck_has_a_mass() -> None:
    assert all(isinstance(person, Person) and person.mass_kg for person in struck_people())
    assert [person.name for person in struck_people()] == [
        "six-year-old", "woman p5", "woman p50", "man p50", "man p95",
    ]  # fmt: skip


# --- impactors ---------------------------------------------------------------------

UNEVEN = Legform(
    "flexible legform",
    (Segment(100.0, 2.0, 30.0, 0.01), Segment(300.0, 5.0)),
    (Segment(150.0, 1.5), Segment(250.0, 3.0, 140.0, 0.02), Segment(50.0, 0.5)),
    Knee(1000.0),
    40.0,
    60.0,
    "made for the test",
    "own choice",
)
LEGFORMS = {"rigid": RIGID_LEGFORM, "flexible": FLEXIBLE_LEGFORM, "uneven": UNEVEN}


def masses(legform: Legform) -> np.ndarray:
    """Point masses that stand for the segments: u = knee speed + slope times height, summed."""
    rows = []  # mass, height above the knee [m], which half
    for half, sign, segments in ((0, 1.0, legform.femur), (1, -1.0, legform.tibia)):
        start = 0.0
        for segment in segments:
            length = segment.length_mm
            centre = length / 2.0 if segment.centre_mm is None else segment.centre_mm
            even = segment.mass_kg * (length / 1000.0) ** 2 / 12.0
            inertia = even if segment.inertia_kg_m2 is None else segment.inertia_kg_m2
            apart = math.sqrt(inertia / segment.mass_kg)
            for off in (-apart, apart):
                at = sign * ((start + centre) / 1000.0 + off)
                rows.append((segment.mass_kg / 2.0, at, half))
            start += length
    return np.array(rows)


@pytest.mark.parametrize("name", LEGFORMS)
def test_the_mass_matrix_is_that_of_point_masses(name: str) -> None:
    """Two points either side of each centre have mass, centre and inertia of a segment."""
    legform = LEGFORMS[name]
    mass, at, half = masses(legform).T
    shape = np.stack([np.ones_like(at), at * (half == 0), at * (half == 1)])
    assert legform.mass_matrix == pytest.approx((shape * mass) @ shape.T, rel=1e-12, abs=1e-12)
    assert legform.mass_kg == pytest.approx(mass.sum())


@pytest.mark.parametrize("name", LEGFORMS)
def test_a_blow_opens_the_knee_as_point_masses_do(name: str) -> None:
    """Least kinetic energy under a unit impulse (Kelvin); opening is tibia less femur."""
    legform = LEGFORMS[name]
    mass, at, half = masses(legform).T
    shape = np.stack([np.ones_like(at), at * (half == 0), at * (half == 1)])
    below = np.linspace(-legform.femur_length_mm, legform.tibia_length_mm, 7)
    for y in below.tolist():
        push = np.array([1.0, max(-y, 0.0) / 1e3, min(-y, 0.0) / 1e3])
        rates = np.linalg.solve((shape * mass) @ shape.T, push)
        assert knee_rate_per_impulse(y, legform) == pytest.approx(rates[2] - rates[1])
    for off in (below[0] - 0.1, below[-1] + 0.1):
        said = rf"between -{legform.femur_length_mm:g} and {legform.tibia_length_mm:g} mm below"
        with pytest.raises(ValueError, match=said):
            knee_rate_per_impulse([0.0, off], legform)


def test_heights_of_a_legform_are_from_the_ground_up() -> None:
    assert (UNEVEN.femur_length_mm, UNEVEN.tibia_length_mm, UNEVEN.length_mm) == (400, 450, 850)
    assert (UNEVEN.low_mm, UNEVEN.knee_height_mm, UNEVEN.high_mm) == (60.0, 510.0, 910.0)
    assert (RIGID_LEGFORM.knee_height_mm, RIGID_LEGFORM.high_mm) == (519.0, 951.0)
    assert (FLEXIBLE_LEGFORM.knee_height_mm, FLEXIBLE_LEGFORM.high_mm) == (571.5, 1003.0)
    assert UPPER_LEGFORM.face_mm == 350.0
    assert Segment(200.0, 3.0).centre_m == 0.1
    assert Segment(200.0, 3.0).inertia == pytest.approx(0.01)
    assert Segment(200.0, 3.0, 0.0, 0.0).centre_m == Segment(200.0, 3.0, 0.0, 0.0).inertia == 0.0


def test_damping_and_shear_of_a_knee_that_gives_only_its_spring() -> None:
    """Own choice, assumed."""
    knee = Knee(1000.0)
    assert (knee.bending_damping, knee.shear_stiffness, knee.shear_damping) == (5.0, 600.0, 0.3)


def test_which_legform_a_rule_set_flies() -> None:
    for flexible, legform in ((True, FLEXIBLE_LEGFORM), (False, RIGID_LEGFORM)):
        rules = SimpleNamespace(flag=lambda name, is_=flexible: is_ and name == "legform.flexible")
        assert legform_of(rules) is legform


def test_a_headform_travels_down_and_rearward() -> None:
    x, z = Headform("adult", 4.5, 165.0, 30.0, 35.0).travel
    assert (x, z) == pytest.approx((math.sqrt(3.0) / 2.0, -0.5))


@pytest.mark.parametrize(("hic", "speed"), [(700.0, 30.0), (1000.0, 35.0), (1700.0, 11.1)])
def test_stop_distance_from_the_deceleration_of_a_constant_pulse(hic: float, speed: float) -> None:
    """HIC = a^2.5 v / (a g) with a in g; way v^2 / (2 a g); any pulse 75 % of it."""
    v, g = speed / 3.6, 9.80665
    a = (hic * g / v) ** (2.0 / 3.0)
    way = 1000.0 * v * v / (2.0 * a * g)
    assert float(square_pulse_stop_distance(hic, speed)) == pytest.approx(way)
    assert float(least_stop_distance(hic, speed)) == pytest.approx(0.75 * way)
    for bad in ((math.inf, speed), ([hic, 0.0], speed)):
        with pytest.raises(ValueError, match="HIC must be a positive number"):
            least_stop_distance(*bad)
    with pytest.raises(ValueError, match="speed must be a number of 0 or more"):
        square_pulse_stop_distance(hic, [speed, -0.1])
    with pytest.raises(ValueError, match="speed must be a number of 0 or more"):
        square_pulse_stop_distance(hic, math.nan)

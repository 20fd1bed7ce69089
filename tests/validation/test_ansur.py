"""Reference people against the published tables.

Sources:
C. C. Gordon, C. L. Blackwell, B. Bradtmiller, J. L. Parham, P. Barrientos, S. P. Paquette,
B. D. Corner, J. M. Carson, J. C. Venezia, B. M. Rockwell, M. Mucher and S. Kristensen, 2012
Anthropometric Survey of U.S. Army Personnel: Methods and Summary Statistics, Technical Report
NATICK/TR-15/007, 2014 (4082 men, 1986 women);
R. J. Kuczmarski, C. L. Ogden, S. S. Guo, L. M. Grummer-Strawn, K. M. Flegal, Z. Mei, R. Wei,
L. R. Curtin, A. F. Roche and C. L. Johnson, 2000 CDC Growth Charts for the United States: Methods
and Development, Vital and Health Statistics, series 11, no. 246, 2002: stature for age;
R. Drillis and R. Contini, Body Segment Parameters, Technical Report 1166.03, New York University,
1966, as tabled by D. A. Winter, Biomechanics and Motor Control of Human Movement, Wiley (edition
and year not confirmed).
Citations, and the numbers below, from memory of those sources; none was taken from people.toml.
"""

from __future__ import annotations

import pytest

from frontcheck.people.people import CHILD, PEOPLE

BY_NAME = {person.name: person for person in PEOPLE}

PERCENTILES = {
    "man": {
        "knee": (443.1, 487, 536),
        "hip": (824, 899, 985),
        "waist": (972, 1055, 1144.9),
        "stature": (1648, 1755, 1870),
    },
    "woman": {
        "knee": (408, 448, 493),
        "hip": (774.2, 844, 919),
        "waist": (900, 977.5, 1064),
        "stature": (1525, 1626, 1740),
    },
}
# Mean and standard deviation of the same measures, printed in the same report.
MEAN_SD = {
    "man": {
        "knee": (488.4, 28.1),
        "hip": (900.9, 49.2),
        "waist": (1056.5, 52.2),
        "stature": (1756.2, 68.6),
    },
    "woman": {
        "knee": (449.0, 26.0),
        "hip": (845.4, 44.7),
        "waist": (980.1, 50.0),
        "stature": (1628.5, 64.2),
    },
}


@pytest.mark.parametrize("measure", ["knee", "hip", "waist", "stature"])
@pytest.mark.parametrize("sex", ["man", "woman"])
def test_percentiles_are_those_printed(sex: str, measure: str) -> None:
    got = [getattr(BY_NAME[f"{sex} p{p}"], measure).value_mm for p in (5, 50, 95)]
    assert got == list(PERCENTILES[sex][measure])


@pytest.mark.parametrize("measure", ["knee", "hip", "waist", "stature"])
@pytest.mark.parametrize("sex", ["man", "woman"])
def test_percentiles_agree_with_mean_and_deviation(sex: str, measure: str) -> None:
    # The measures are close to normal: the printed percentiles must lie within 0.15 SD of
    # mean - 1.645 SD, mean, mean + 1.645 SD. Catches a swapped row or a typing error.
    mean, sd = MEAN_SD[sex][measure]
    for p, z in ((5, -1.6449), (50, 0.0), (95, 1.6449)):
        got = getattr(BY_NAME[f"{sex} p{p}"], measure).known()
        assert abs(got - (mean + z * sd)) < 0.15 * sd


def test_child_stature_is_the_mean_of_boys_and_girls() -> None:
    assert CHILD.stature.value_mm == pytest.approx((1156.6 + 1150.1) / 2)
    assert "1156.6" in CHILD.stature.source
    assert "1150.1" in CHILD.stature.source


@pytest.mark.parametrize(
    ("landmark", "share"),
    [("ankle", 0.039), ("knee", 0.285), ("hip", 0.530), ("centre_of_mass", 0.573)],
)
def test_child_landmarks_are_the_published_fractions(landmark: str, share: float) -> None:
    assert getattr(CHILD, landmark).known() == pytest.approx(share * 1153.35)


def test_fractions_agree_with_the_measured_adults() -> None:
    # Two independent sources: 0.285 and 0.530 of stature (Drillis & Contini) against the
    # measured mean knee and trochanterion heights. They are not the same landmarks, so
    # only 3 % of stature is asked for.
    for sex, rows in MEAN_SD.items():
        stature = rows["stature"][0]
        assert abs(rows["knee"][0] / stature - 0.285) < 0.03, sex
        assert abs(rows["hip"][0] / stature - 0.530) < 0.03, sex

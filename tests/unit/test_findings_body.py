"""Body findings on noses whose leading edge is a corner of known height."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from corner_fronts import corner_nose, lined
from finding_sides import check_sides

from frontcheck.findings.body import body_findings
from frontcheck.people.people import PEOPLE, BodyHeight, Person
from frontcheck.surface.section import Section

ADULT = next(person for person in PEOPLE if person.name == "woman p50")


def of_height(value: float) -> BodyHeight:
    return BodyHeight(value, "made for the test", "text read")


def person(hip: float, waist: float, mass: float, name: str = "tester") -> Person:
    return replace(
        ADULT,
        name=name,
        hip=of_height(hip),
        waist=of_height(waist),
        centre_of_mass=of_height(mass),
    )


def at_height(height: float, *people: Person):
    return body_findings(lined(corner_nose(height)), people or (ADULT,))


def test_the_corner_is_the_leading_edge() -> None:
    station = lined(corner_nose(812.0)).stations[0]
    assert (station.BLERL.x, station.BLERL.z) == pytest.approx((0.0, 812.0), abs=1e-9)


def test_edge_above_waist() -> None:
    waist = ADULT.waist.known()
    (found,) = check_sides("BODY-EDGE-ABOVE-WAIST", at_height(waist + 1.0), at_height(waist - 1.0))
    assert found.value == pytest.approx(waist + 1.0)
    assert (found.limit, found.person, found.station) == (waist, "woman p50", 0.0)


def test_edge_between_hip_and_waist() -> None:
    hip, waist = ADULT.hip.known(), ADULT.waist.known()
    check_sides("BODY-EDGE-HIP-TO-WAIST", at_height(hip + 1.0), at_height(hip - 1.0))
    check_sides("BODY-EDGE-HIP-TO-WAIST", at_height(waist - 1.0), at_height(waist + 1.0))


def test_edge_against_the_band_of_the_centre_of_mass() -> None:
    """The band is 0.55 to 0.59 of stature, own choice, in shoes; no uncertainty is stated."""
    low, high = (share * ADULT.stature.known() + 25.0 for share in (0.55, 0.59))
    above, inside, below = (at_height(h) for h in (high + 1.0, high - 1.0, low - 1.0))
    (found,) = check_sides("BODY-EDGE-ABOVE-MASS", above, inside)
    assert found.limit == pytest.approx(high)
    check_sides("BODY-EDGE-IN-MASS-BAND", inside, below)
    check_sides("BODY-EDGE-IN-MASS-BAND", inside, above)
    assert not [f for f in below if "MASS" in f.code]  # below it stands in the table of people


def test_the_band_is_wider_by_twice_what_the_survey_states() -> None:
    """Coverage factor 2: JCGM 100:2008, Guide to the expression of uncertainty in measurement (from
    memory)."""
    high = 0.59 * ADULT.stature.known() + 25.0

    def at(height: float, u: float):
        one = corner_nose(height)
        return body_findings(lined(Section(one.points, 0.0, one.parts, height_u=u)), (ADULT,))

    check_sides("BODY-EDGE-ABOVE-MASS", at(high + 10.1, 5.0), at(high + 9.9, 5.0))


def test_edge_line_at_the_lower_end_of_the_tool() -> None:
    """A face plumb to 550 mm and a bonnet of 8 deg: the lower end of the edge, at 600 mm, touches
    the bonnet first (UN R127, 02 series, 2.7)."""

    def low(top: float) -> Section:
        rise = 1500.0 * math.tan(math.radians(8.0))
        return Section([(300.0, 200.0), (0.0, 250.0), (0.0, top), (1500.0, top + rise)])

    fires, silent = (body_findings(lined(low(top)), (ADULT,)) for top in (550.0, 650.0))
    (found,) = check_sides("BODY-EDGE-LOWER-END", fires, silent)
    assert found.value == pytest.approx(600.0)


def test_people_and_neighbouring_stations_are_merged() -> None:
    short, tall = person(600.0, 790.0, 700.0, "short"), person(600.0, 810.0, 700.0, "tall")
    front = lined(*(corner_nose(h, y=y) for y, h in ((0.0, 800.0), (100.0, 815.0), (200.0, 780.0))))
    above = [f for f in body_findings(front, (short, tall)) if f.code == "BODY-EDGE-ABOVE-WAIST"]
    assert len(above) == 1
    (found,) = above
    # Worst is 815 against 790, at y = 100.
    assert (found.station, found.value, found.limit) == (100.0, pytest.approx(815.0), 790.0)
    assert found.person == "short, tall"
    assert "at y = 0 to 100 mm is above the waist of short, tall (at y = 100 mm)" in found.message
    assert [round(p[1]) for p in found.region.outline_mm] == [0, 100]


def test_stations_that_are_apart_stay_apart() -> None:
    someone = person(600.0, 790.0, 700.0)
    front = lined(*(corner_nose(h, y=y) for y, h in ((0.0, 800.0), (100.0, 780.0), (200.0, 801.0))))
    above = [f for f in body_findings(front, (someone,)) if f.code == "BODY-EDGE-ABOVE-WAIST"]
    assert [f.station for f in above] == [0.0, 200.0]


def test_region_is_the_leading_edge_of_the_station() -> None:
    (found,) = [f for f in at_height(1000.0) if f.code == "BODY-EDGE-ABOVE-WAIST"]
    section = corner_nose(1000.0)
    assert found.region.arc_mm is not None
    for arc in found.region.arc_mm:
        assert section.at_arc_length(arc) == pytest.approx([0.0, 1000.0], abs=1e-9)


def test_no_leading_edge_no_finding() -> None:
    front = lined(corner_nose(800.0))
    gone = replace(front.stations[0], BLERL=replace(front.stations[0].BLERL, x=None, z=None))
    assert body_findings(replace(front, stations=(gone,)), PEOPLE) == ()


def test_message_names_value_and_threshold() -> None:
    for found in at_height(990.0, *PEOPLE):
        assert f"{found.value:.0f}" in found.message
        limits = found.limit if isinstance(found.limit, tuple) else (found.limit,)
        assert all(f"{limit:.0f}" in found.message for limit in limits)

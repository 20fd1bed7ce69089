"""Body findings on noses whose leading edge is a corner of known height."""

from __future__ import annotations

from dataclasses import replace

import pytest
from corner_fronts import corner_nose, lined
from finding_sides import check_sides

from frontcheck.findings.body import body_findings
from frontcheck.people.people import CHILD, PEOPLE, BodyHeight, Person

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


def test_edge_above_hip_only_where_no_waist_is_known() -> None:
    hip = CHILD.hip.known()
    assert CHILD.waist.value_mm is None
    (found,) = check_sides(
        "BODY-EDGE-ABOVE-HIP", at_height(hip + 1.0, CHILD), at_height(hip - 1.0, CHILD)
    )
    assert "no waist height" in found.message
    codes = {f.code for f in at_height(ADULT.hip.known() + 1.0, ADULT)}
    assert "BODY-EDGE-ABOVE-HIP" not in codes


def test_centre_of_mass_below_or_above_the_edge() -> None:
    someone = person(700.0, 1000.0, 860.0)
    below, above = at_height(859.0, someone), at_height(861.0, someone)
    check_sides("BODY-FORWARD-PROJECTION", above, below)
    check_sides("BODY-WRAP", below, above)
    # Reconstruction handbooks: forward projection when the centre of mass is below the edge; own
    # choice: level is not below.
    assert {"BODY-WRAP"} == {f.code for f in at_height(860.0, someone)} - {"BODY-EDGE-HIP-TO-WAIST"}


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

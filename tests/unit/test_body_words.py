"""Body findings word by word, and whose they are; edges are corners of known height."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest
from corner_fronts import corner_nose, lined

from frontcheck.findings.body import _heights, body_findings, edge_hits
from frontcheck.people.people import PEOPLE, BodyHeight
from frontcheck.surface.section import Section

ADULT = next(person for person in PEOPLE if person.name == "woman p50")
SETTLED = (
    "no test of the rule sets loads the trunk; remeasure the height of the leading edge, and ask "
    "for dummy tests or a human body model simulation of this front"
)


def height(value, band=None):
    return BodyHeight(value, "made for the test", "text read", band_mm=band)


def person(name, hip=600.0, waist=800.0, band=(690.0, 740.0)):
    return replace(
        ADULT, name=name, hip=height(hip), waist=height(waist),
        centre_of_mass=height(715.0, band),
    )  # fmt: skip


def found(*edges, people, symmetric=False):
    front = lined(*(corner_nose(z, y=y) for y, z in edges), symmetric=symmetric)
    return {f.code: f for f in body_findings(front, people)}


def test_an_edge_above_waist_and_mass_says_both() -> None:
    every = found((0.0, 850.0), people=[person("A")])
    assert {code: f.message for code, f in every.items()} == {
        "BODY-EDGE-ABOVE-WAIST": "Leading edge 850 mm high at y = 0 mm is above the waist of A; "
        "clearest at y = 0 mm for A: 850 mm against waist 800 mm.",
        "BODY-EDGE-ABOVE-MASS": "Leading edge 850 mm high at y = 0 mm is above the band of the "
        "centre of mass of A; clearest at y = 0 mm for A: 850 mm against a centre of mass at 690 "
        "to 740 mm.",
    }
    assert {f.settled_by for f in every.values()} == {SETTLED}
    assert [f.limit for f in every.values()] == [800.0, 740.0]
    assert {f.region.name for f in every.values()} == {"bonnet leading edge"}


def test_the_margin_between_hip_and_waist_is_how_far_it_stands_above_the_hip() -> None:
    """The clearest is the one highest above a hip, though another stands nearer the middle."""
    people = [person("A", 600.0, 740.0), person("B", 690.0, 800.0)]
    one = found((0.0, 730.0), (100.0, 725.0), people=people)["BODY-EDGE-HIP-TO-WAIST"]
    assert one.message == (
        "Leading edge 725 to 730 mm high at y = 0 to 100 mm is between hip and waist of A, B; "
        "clearest at y = 0 mm for A: 730 mm against hip 600 mm and waist 740 mm."
    )
    assert (one.limit, one.spread, one.person) == ((600.0, 740.0), (725.0, 730.0), "A, B")
    (hit,) = (
        h for h in edge_hits(*front_and_station(730.0), people[1:])
        if h.rule.code == "BODY-EDGE-HIP-TO-WAIST"
    )  # fmt: skip
    assert hit.margin == pytest.approx(40.0)
    band = found((0.0, 730.0), people=people)["BODY-EDGE-IN-MASS-BAND"]
    assert "is level with the centre of mass of A, B; clearest" in band.message


def front_and_station(z: float):
    front = lined(corner_nose(z))
    return front.front, front.stations[0]


def codes(z, **heights):
    return {hit.rule.code.removeprefix("BODY-EDGE-") for hit in
            edge_hits(*front_and_station(z), [person("A", **heights)])}  # fmt: skip


@pytest.mark.parametrize(
    ("z", "wanted"),
    [
        (649.9, set()), (650.1, {"HIP-TO-WAIST"}), (690.1, {"HIP-TO-WAIST", "IN-MASS-BAND"}),
        (739.9, {"HIP-TO-WAIST", "IN-MASS-BAND"}), (740.1, {"HIP-TO-WAIST", "ABOVE-MASS"}),
        (799.9, {"HIP-TO-WAIST", "ABOVE-MASS"}), (800.1, {"ABOVE-WAIST", "ABOVE-MASS"}),
    ],
)  # fmt: skip
def test_borders_of_a_body(z: float, wanted: set[str]) -> None:
    assert codes(z, hip=650.0) == wanted


def test_a_height_that_is_not_known_is_held_against_nothing() -> None:
    assert codes(850.0, waist=None) == {"ABOVE-MASS"}
    assert codes(850.0, hip=None) == {"ABOVE-WAIST", "ABOVE-MASS"}
    assert codes(750.0, hip=None) == {"ABOVE-MASS"}
    assert codes(850.0, band=None) == {"ABOVE-WAIST"}


def test_people_for_whom_it_holds_at_some_stations_only() -> None:
    people = [person("A"), person("B", waist=840.0), person("C", waist=900.0)]
    edges = ((0.0, 830.0), (100.0, 850.0), (200.0, 860.0))
    one = found(*edges, people=people, symmetric=True)["BODY-EDGE-ABOVE-WAIST"]
    assert one.message == (
        "Leading edge 830 to 860 mm high at y = 0 to 200 mm (either side) is above the waist of A, "
        "B (at y = 100 to 200 mm); clearest at y = 200 mm for A: 860 mm against waist 800 mm."
    )
    assert one.person == "A, B"
    assert one.region.outline_mm == tuple((0.0, y, pytest.approx(z)) for y, z in edges)


def test_an_edge_at_the_lower_end_concerns_the_front_as_such() -> None:
    """The lower end of the edge stands at 600 mm (UN R127, 02 series, 2.7)."""
    front, station = front_and_station(850.0)
    end = replace(station, BLERL=replace(station.BLERL, status="lower_end"))
    hits = [h for h in edge_hits(front, end, []) if h.rule.code == "BODY-EDGE-LOWER-END"]
    assert [(h.value, h.threshold, h.margin) for h in hits] == [
        (pytest.approx(850.0), pytest.approx(850.0), 0.0)
    ]
    assert hits[0].detail == "BLERL 850 mm high"
    assert hits[0].person == ""
    assert list(edge_hits(front, station, [])) == []
    gone = SimpleNamespace(BLERL=SimpleNamespace(point=None, status="lower_end"), y=0.0)
    assert list(edge_hits(front, gone, [ADULT])) == []


def test_where_nobody_is_named_no_room_is_left_for_a_name() -> None:
    """The lower end of the edge stands at 600 mm (UN R127, 02 series, 2.7)."""
    points = [(0.0, 300.0), (0.0, 550.0), (900.0, 640.0)]
    (end,) = body_findings(lined(Section(points), Section(points, 300.0)), [])
    assert end.message == (
        "Leading edge 600 mm high at y = 0 to 300 mm stands at the lower end of the straight edge; "
        "clearest at y = 0 mm: BLERL 600 mm high."
    )
    assert end.person == ""


def test_heights_are_rounded_and_one_is_told_once() -> None:
    assert _heights([800.4, 799.6]) == "800 mm"
    assert _heights([800.4, 810.6, 799.4]) == "799 to 811 mm"

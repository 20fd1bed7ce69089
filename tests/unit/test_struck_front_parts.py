"""A section as a person meets it: which stretch is what, what is refused and in which words.

Lengths along the contour are worked out by hand; borders are own choice (contract, section 1).
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.body import struck_front as struck_fronts
from frontcheck.body.edge_height import band_of, edge_to_middle
from frontcheck.body.struck_front import StruckFront, plan_normal_deg, refusal
from frontcheck.lines.lined_front import Side
from frontcheck.lines.station import LinePoint, Station, WadPoint
from frontcheck.people.people import person_of_stature

# Up a plumb face, then level: lengths along it are 0 200 400 600 | 660 690 710 1000 1600 1700 1750
# at the points, 2164 at the last; in the middle of stretches 100 300 500 630 675 700 855 1300 1650
# 1725 and more.
POINTS = [
    (0, 200), (0, 400), (0, 600), (0, 800), (60, 800), (90, 800), (110, 800), (400, 800),
    (1000, 800), (1100, 800), (1150, 800), (1550, 900),
]  # fmt: skip
BUMPER, EDGE, BONNET, SCREEN = range(4)  # parts that may differ in softness
LABELS = ["bumper"] * 4 + ["bonnet"] * 6 + ["windscreen"] * 2


def line(name: str, at=None, status: str = "ok", reason: str = "") -> LinePoint:
    x, z = at or (None, None)
    return LinePoint(name, status, x, z, reason)


def station(y: float = 0.0, **changed) -> Station:
    lines = {
        "UBRL": line("UBRL", (0.0, 603.0)),
        "LBRL": line("LBRL", (0.0, 400.0)),
        "BLERL": line("BLERL", (1.0, 798.0)),
        "BRRL": line("BRRL", (1101.0, 800.0)),
    }
    return Station(
        y, **(lines | {k: v for k, v in changed.items() if k in lines}),
        wads=changed.get("wads", ()), legform="lower", foremost=changed.get("foremost", (0.0, 400)),
        tape_x=changed.get("tape_x", 0.0),
    )  # fmt: skip


def struck(parts=LABELS, **changed) -> StruckFront:
    section = fc.Section(POINTS, changed.get("y", 0.0), parts)
    return StruckFront.of(Side(section, station(**changed), "measured"))


def test_parts_that_may_differ_in_softness() -> None:
    """Bumper to UBRL, leading edge to less than 100 mm behind BLERL, then bonnet, then glass."""
    front = struck()
    assert front.part.tolist() == [BUMPER] * 2 + [EDGE] * 3 + [BONNET] * 5 + [SCREEN]
    assert (front.y, front.edge, front.open_marks) == (0.0, (1.0, 798.0), ())
    assert front.wall.points == pytest.approx(np.array(POINTS) / 1e3)
    # Without UBRL nothing is called bumper; without glass the bonnet goes on.
    bare = struck(None, UBRL=line("UBRL", None, "not_reached", "out of reach"))
    assert bare.part.tolist() == [EDGE] * 5 + [BONNET] * 6
    with pytest.raises(ValueError, match="there is no leading edge"):
        struck(BLERL=line("BLERL", None, "not_reached"))


@pytest.mark.parametrize(
    ("parts", "brrl", "places"),
    [
        # Between BRRL and the glass lies the cowl.
        (LABELS, True, [0, 0, 1, 1, 1, 2, 2, 2, 2, 3, 4]),
        (LABELS, False, [0, 0, 1, 1, 1, 2, 2, 2, 2, 2, 4]),
        (None, True, [0, 0, 1, 1, 1, 2, 2, 2, 2, 3, 3]),
        # Of points labelled so: where both ends of a stretch are.
        ([*LABELS[:8], *["cowl"] * 3, "bonnet"], False, [0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 2]),
        # Wings and pillars: one end is enough.
        (
            [*LABELS[:7], "wing", "wing", "bonnet", "pillar", "pillar"], True,
            [0, 0, 1, 1, 1, 2, 5, 5, 5, 6, 6],
        ),
    ],
)  # fmt: skip
def test_places_where_a_head_may_land(parts, brrl, places) -> None:
    """0 bumper, 1 leading edge, 2 bonnet, 3 cowl, 4 windscreen; not covered: 5 wing, 6 pillar."""
    told = struck(parts, **({} if brrl else {"BRRL": line("BRRL", None, "not_reached")}))
    assert told.place.tolist() == places


def test_wrap_around_distances_and_bands_along_the_contour() -> None:
    """The tape hangs plumb from the face: a point at height z on it is z away; then along."""
    front = struck()
    at = np.array([(0.0, 500.0), (0.0, 100.0), (60.0, 800.0), (750.0, 800.0), (750.0, 830.0)])
    found = front.distances(np.array([1, 0, 4, 7, 7]), at)
    # Off the contour the nearest place of that stretch counts.
    assert found == pytest.approx([500.0, 200.0, 860.0, 1550.0, 1550.0])
    bands = [(band.place, band.low_mm, band.high_mm) for band in front.bands()]
    end = 800.0 + math.hypot(1550.0, 100.0)  # where the last stretch rises the tape goes straight
    assert [name for name, *_ in bands] == [
        "bumper", "leading edge", "bonnet", "cowl", "windscreen",
    ]  # fmt: skip
    assert np.array([ends for _, *ends in bands]) == pytest.approx(
        np.array([(200, 600), (600, 890), (890, 1900), (1900, 1950), (1950, end)])
    )
    assert [b[2] for b in bands[:-1]] == [b[1] for b in bands[1:]]


def test_bands_end_where_the_first_mark_is_not_known() -> None:
    marks = (
        WadPoint(1500.0, "open_end", 700.0, 800.0, False, "the contour ends"),
        WadPoint(1000.0, "ok", 200.0, 800.0, False),
        WadPoint(1700.0, "open_end", 900.0, 800.0, False, "the contour ends there"),
    )
    front = struck(wads=marks)
    assert front.open_marks == ((1500.0, "the contour ends"), (1700.0, "the contour ends there"))
    last = front.bands()[-1]
    assert (last.place, last.high_mm) == ("bonnet", 1500.0)
    without = struck(tape_x=None)
    assert without.bands() == ()
    assert without.tape is None
    nowhere = without.distances(np.array([1, 2]), np.zeros((2, 2)))
    assert nowhere.shape == (2,)
    assert np.isnan(nowhere).all()


def test_a_band_goes_as_far_as_its_farthest_point() -> None:
    """A dip shortens the tape again: ends are the farthest so far; what adds nothing has none."""
    front = struck()
    far = np.maximum.accumulate(front.tape.distances_up)
    places = ["bumper", "leading edge", "bonnet", "cowl", "windscreen", "wing", "pillar"]
    expected = []
    for own, (a, b) in zip(front.place.tolist(), pairwise(far), strict=True):
        if expected and expected[-1][0] == places[own]:
            expected[-1][2] = b
        else:
            expected.append([places[own], a, b])
    told = [[band.place, band.low_mm, band.high_mm] for band in front.bands()]
    assert told == [each for each in expected if each[2] > each[1]]


def lined(ahead: dict[float, float | None], *, symmetric=False, datum="common"):
    """A front known by the setback of its foremost points alone."""
    stations = tuple(
        station(y, foremost=None if x is None else (x, 450.0)) for y, x in ahead.items()
    )
    front = SimpleNamespace(symmetric=symmetric, datum=datum)
    return SimpleNamespace(front=front, stations=stations)


def at(front, y: float):
    return SimpleNamespace(station=next(s for s in front.stations if s.y == y))


def bent(y: float) -> float:
    """Setback of a plan that is a parabola leaning to one side: slope 0.2 + 0.001 y."""
    return 0.2 * y + 0.0005 * y * y


@pytest.mark.parametrize(
    ("ahead", "y", "options", "slope"),
    [
        # Through three points of a parabola: exact, however far apart.
        ({y: bent(y) for y in (-300.0, 0.0, 500.0)}, 0.0, {}, 0.2),
        ({y: bent(y) for y in (-500.0, 0.0, 300.0)}, 0.0, {}, 0.2),
        ({y: bent(y) for y in (100.0, 200.0, 260.0)}, 200.0, {}, 0.4),
        # At an end of the front the one neighbour there is, and of either sign alike.
        ({0.0: 0.0, 100.0: 30.0}, 100.0, {}, 0.3),
        ({0.0: 0.0, 100.0: 30.0}, 0.0, {}, 0.3),
        ({0.0: 40.0, 100.0: 0.0}, 100.0, {}, 0.4),
        # Stations nearer than 50 mm are passed over, where there are others; at 50 mm none is.
        ({0.0: 0.0, 49.0: 30.0, 100.0: 10.0}, 0.0, {}, 0.1),
        ({0.0: 0.0, 50.0: 30.0, 100.0: 10.0}, 0.0, {}, 0.6),
        ({0.0: 0.0, 20.0: 1.0, 40.0: 8.0}, 0.0, {}, 0.2),  # else the farthest of them
        ({-100.0: 20.0, 0.0: 0.0, 49.0: 30.0, 100.0: 10.0}, 0.0, {}, 0.1),  # of a ridge the lesser
        # At a ridge in the middle, where both sides leave, the lesser of both; in a dip too.
        ({-100.0: 30.0, 0.0: 0.0, 100.0: 20.0}, 0.0, {}, 0.2),
        ({-100.0: -30.0, 0.0: 0.0, 100.0: -20.0}, 0.0, {}, 0.2),
        # A symmetric front has its other side too.
        ({0.0: 0.0, 100.0: 20.0}, 0.0, {"symmetric": True}, 0.2),
        ({0.0: 0.0, 100.0: 20.0, 200.0: 60.0}, 100.0, {"symmetric": True}, 0.3),
        ({50.0: 0.0, 150.0: 40.0}, 50.0, {"symmetric": True}, 0.2),
        # A station without a foremost point does not count.
        ({0.0: 0.0, 60.0: None, 100.0: 25.0}, 0.0, {}, 0.25),
    ],
)  # fmt: skip
def test_how_far_the_plan_turns(ahead, y, options, slope) -> None:
    front = lined(ahead, **options)
    assert plan_normal_deg(front, at(front, y)) == pytest.approx(math.degrees(math.atan(slope)))


def test_where_the_plan_is_not_known() -> None:
    for front in (
        lined({0.0: 0.0, 100.0: 20.0}, datum="local"),
        lined({0.0: None, 100.0: 20.0}),
        lined({0.0: 0.0}),
        lined({0.0: 0.0, 1e-7: 20.0}),
        lined({0.0: 0.0, 100.0: None}),
    ):
        assert plan_normal_deg(front, at(front, 0.0)) is None


STRAIGHT = {0.0: 0.0, 100.0: 0.0, 200.0: 0.0}
BELOW = (
    "the contour ends where {} may yet lie (open end): what is below the leading edge is not "
    "known; measure on"
)
SIDEWAYS = (
    "the front faces 15 deg to the side there, more than 15 deg: it would turn the person, which "
    "one plane cannot show; take a station nearer the centre"
)
OPEN = {"status": "open_end", "reason": "open"}


@pytest.mark.parametrize(
    ("front", "y", "lines", "says"),
    [
        (lined(STRAIGHT), 100.0, {}, ""),
        (lined(STRAIGHT), 0.0, {}, ""),
        (
            lined(STRAIGHT), 0.0,
            {"BLERL": line("BLERL", None, "not_reached", "nothing within reach")},
            "no leading edge is known there: nothing within reach",
        ),
        (
            lined(STRAIGHT), 0.0, {"LBRL": line("LBRL", (0.0, 400.0), **OPEN)},
            BELOW.format("LBRL"),
        ),
        (
            lined(STRAIGHT), 0.0,
            {n: line(n, (0.0, 400.0), **OPEN) for n in ("LBRL", "UBRL", "BLERL")},
            BELOW.format("LBRL and UBRL and BLERL"),
        ),
        (lined(STRAIGHT), 0.0, {"BRRL": line("BRRL", (1000.0, 800.0), **OPEN)}, ""),
        (lined(STRAIGHT, datum="local"), 0.0, {}, ""),
        (
            lined(STRAIGHT, datum="local"), 100.0, {},
            "the plan shape is not known, so neither is whether the front faces straight ahead",
        ),
        (
            lined({**STRAIGHT, -100.0: 0.0}, datum="local"), -100.0, {},
            "the plan shape is not known, so neither is whether the front faces straight ahead",
        ),
        (
            lined({0.0: 0.0, 100.0: 100.0 * math.tan(math.radians(15.01))}), 100.0, {},
            SIDEWAYS,
        ),
        (lined({0.0: 0.0, 100.0: 100.0 * math.tan(math.radians(14.99))}), 100.0, {}, ""),
    ],
)  # fmt: skip
def test_where_one_plane_says_nothing(front, y, lines, says) -> None:
    foremost = at(front, y).station.foremost
    assert refusal(front, SimpleNamespace(station=station(y, foremost=foremost, **lines))) == says


def test_the_edge_against_the_centre_of_mass() -> None:
    """0.55 to 0.59 of an adult's stature (own choice) and shoes of 25 mm: 990 to 1060 mm."""
    person, front = person_of_stature(1754.3859649122807), fc.Front([fc.Section(POINTS)])
    low, high = 0.55 * 1754.3859649122807 + 25.0, 0.59 * 1754.3859649122807 + 25.0
    for z, against in (
        (low - 1e-6, "below"), (low + 1e-6, "in the band"), (high - 1e-6, "in the band"),
        (high + 1e-6, "above"),
    ):  # fmt: skip
        found = edge_to_middle(front, station(BLERL=line("BLERL", (0.0, z))), person)
        assert (found.against, found.edge_mm) == (against, z)
        assert found.band_mm == pytest.approx((low, high))
    for z in band_of(person, None):  # its ends are in it
        found = edge_to_middle(front, station(BLERL=line("BLERL", (0.0, z))), person)
        assert found.against == "in the band"
    # Of an edge that is unsure by u the band is wider by 2 u either way.
    unsure = fc.Front([fc.Section(POINTS, height_u=[4.0] * len(POINTS))])
    edge = station(BLERL=line("BLERL", (0.0, low - 7.9)))
    found = edge_to_middle(unsure, edge, person)
    assert found.against == "in the band"
    assert found.band_mm == pytest.approx((low - 8.0, high + 8.0))
    assert band_of(person, None) == pytest.approx((low, high))
    assert band_of(person, 3.0) == pytest.approx((low - 6.0, high + 6.0))
    for gone in (line("BLERL", None, "not_reached"), line("BLERL", (0.0, 1000.0), "open_end")):
        assert edge_to_middle(front, station(BLERL=gone), person) is None
    no_band = replace(person, centre_of_mass=replace(person.centre_of_mass, band_mm=None))
    assert band_of(no_band, 1.0) is None
    assert edge_to_middle(front, station(), no_band) is None


def test_just_as_far_to_the_side_as_one_plane_may_show(monkeypatch) -> None:
    """15 deg exactly (own choice) is not more than 15 deg."""
    front = lined(STRAIGHT)
    for normal, says in ((15.0, ""), (15.0000001, SIDEWAYS), (0.0, "")):
        monkeypatch.setattr(struck_fronts, "plan_normal_deg", lambda *_, n=normal: n)
        assert refusal(front, SimpleNamespace(station=station(100.0))) == says

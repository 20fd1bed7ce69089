"""When two values cannot be compared and what is said then: every case, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Fake

import numpy as np
import pytest
from corner_fronts import corner_nose

from frontcheck import Front, Section, screen
from frontcheck.caution import CAUTION
from frontcheck.comparison import two_fronts
from frontcheck.comparison.changes import (
    Alignment,
    Change,
    Origins,
    change_of,
    missing_reason,
)
from frontcheck.comparison.comparison_result import StationComparison
from frontcheck.comparison.two_fronts import compare
from frontcheck.errors import InputError
from frontcheck.sure.uncertainty import Uncertainty

LOCAL = (
    "setbacks are from a datum set anew at each station (datum: local), so A and B have no place "
    "in common; align by their foremost points"
)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ((False, False), ""),
        ((False, False, "a", "b"), ""),
        ((True, False, "a", "b"), "missing in A: a"),
        ((False, True, "a", "b"), "missing in B: b"),
        ((True, True, "a", "b"), "missing in A: a; in B: b"),
        ((True, True, "a", "a"), "missing in A and B: a"),
        ((True, False), "missing in A"),
        ((False, True), "missing in B"),
        ((True, True), "missing in A and B"),
        ((True, True, "a", ""), "missing in A: a; in B"),
        ((True, True, "", "b"), "missing in A; in B: b"),
    ],
)
def test_where_something_is_missing_and_why(given, said) -> None:
    assert missing_reason(*given) == said


OPEN = "open_end"
BARRED = Origins(10.0, 4.0, LOCAL)


@pytest.mark.parametrize(
    ("a", "b", "more", "change", "reason", "open_end"),
    [
        (3.0, 5.0, {}, 2.0, "", ""),
        (3.0, 5.0, {"origins": Origins(10.0, 4.0, "")}, 8.0, "", ""),
        (3.0, 5.0, {"origins": BARRED}, None, LOCAL, ""),
        (None, 5.0, {"origins": BARRED}, None, "missing in A", ""),
        (3.0, None, {"missing": ("why", "so")}, None, "missing in B: so", ""),
        (None, None, {"missing": ("why", "so")}, None, "missing in A: why; in B: so", ""),
        (3.0, 5.0, {"status": (OPEN, "ok")}, None, "not known: open end in A", "A"),
        (3.0, 5.0, {"status": ("ok", f"{OPEN}, bridged")}, None, "not known: open end in B", "B"),
        (3.0, 5.0, {"status": (OPEN, OPEN)}, None, "not known: open end in A and B", "A and B"),
        (3.0, 5.0, {"status": (OPEN, "ok"), "origins": BARRED}, None,
         "not known: open end in A", "A"),
        (None, 5.0, {"status": ("not_reached", OPEN)}, None, "missing in A", "B"),
        # What the ends say goes before the statuses.
        (3.0, 5.0, {"ends": (True, False)}, None, "not known: open end in A", "A"),
        (3.0, 5.0, {"ends": (False, True)}, None, "not known: open end in B", "B"),
        (3.0, 5.0, {"ends": (False, False), "status": (OPEN, OPEN)}, 2.0, "", ""),
    ],
)  # fmt: skip
def test_the_change_of_a_quantity_or_why_there_is_none(
    a, b, more, change, reason, open_end
) -> None:
    found = change_of("UBRL_x_mm", "words", a, b, **more)
    assert (found.change, found.reason, found.open_end) == (change, reason, open_end)
    assert (found.quantity, found.words, found.unit) == ("UBRL_x_mm", "words", "mm")
    at = more.get("origins", Origins(0.0, 0.0, ""))
    assert found.a == (None if a is None else a - at.a)
    assert found.b == (None if b is None else b - at.b)
    assert change_of("area_m2", "words", 1.0, 1.0).unit == "m2"


def told(a, b, change=None, **more) -> Change:
    return Change("q_mm", "w", "mm", a, b, change, **more)


@pytest.mark.parametrize(
    ("change", "differs"),
    [
        (told(1.0, 1.0, 0.0), False),
        (told(1.0, 2.0, 1.0), True),
        (told(1.0, 2.0), False),  # cannot be compared: nothing is said of it
        (told(None, None), False),
        (told(None, 1.0), True),
        (told(1.0, None), True),
        (told(1.0, 2.0, open_end="A"), True),
        (told(1.0, 1.0, open_end="A"), False),
        (told(1.0, 1.0, 0.0, status_a="ok", status_b="edge_end"), True),
        (told(None, None, status_a="not_reached", status_b="not_available"), True),
        (told(1.0, 1.0, 0.0, status_a="ok", status_b="ok"), False),
    ],
)
def test_what_counts_as_a_difference(change, differs) -> None:
    assert change.differs is differs


def test_beyond_is_more_than_twice_the_standard_uncertainty_either_way() -> None:
    # Coverage factor 2: JCGM 100:2008 (from memory). Exactly twice is within.
    for size, beyond in ((2.0, False), (2.0001, True)):
        for sign in (1.0, -1.0):
            assert told(0.0, 1.0, sign * size, u=1.0).beyond is beyond
    assert told(0.0, 1.0, 2.0).beyond is None
    assert told(0.0, 1.0, None, u=1.0).beyond is None


def test_the_ways_in_which_a_line_is_formed_in_words() -> None:
    change = told(1.0, 1.0, status_a="wad_1000, bridged", status_b="retaken_40deg")
    assert change.ways == ("WAD point, bridged", "second inclination")
    assert change.status_changed
    assert not told(1.0, 1.0, status_a="ok", status_b="ok").status_changed


# Alignment: foremost bumper point of the whole front or of the section; else the foremost point.


def section(*xs: float) -> Fake:
    return Fake(x=np.array(xs))


def lined(datum: str, *foremost: float | None) -> Fake:
    """Two sections with points at 7 and 9, and 5 and 8 mm, with these foremost bumper points."""
    stations = [Fake(foremost=None if x is None else (x, 400.0)) for x in foremost]
    front = Fake(datum=datum, sections=[section(9.0, 7.0), section(5.0, 8.0)])
    return Fake(front=front, stations=stations)


A, B = lined("common", 12.5, 30.0), lined("common", -4.0, -2.0)
ANEW = lined("local", 12.5, 30.0)
SHIFTED = (
    "Setbacks are counted from the foremost bumper point of each whole front: A is shifted by "
    "-12.5 mm and B by 4 mm."
)
OWN = (
    "Setbacks are counted from the foremost bumper point of each section, since a front has a "
    "datum set anew at each station."
)
PLAIN = "Setbacks are compared as measured, each front from its own datum line: no shift."
NONE = "Setbacks are not compared: a front has a datum set anew at each station."


@pytest.mark.parametrize(
    ("a", "b", "align", "words", "whole", "here"),
    [
        (A, B, "none", PLAIN, (0.0, 0.0, ""), (0.0, 0.0, "")),
        (A, B, "foremost", SHIFTED, (12.5, -4.0, ""), (12.5, -4.0, "")),
        (ANEW, B, "none", NONE, (0.0, 0.0, LOCAL), (0.0, 0.0, LOCAL)),
        (A, ANEW, "none", NONE, (0.0, 0.0, LOCAL), (0.0, 0.0, LOCAL)),
        (ANEW, B, "foremost", OWN, (12.5, -4.0, LOCAL), (30.0, 3.0, "")),
        (A, ANEW, "foremost", OWN, (12.5, 12.5, LOCAL), (30.0, 3.0, "")),
    ],
)
def test_where_setbacks_count_from(a, b, align, words, whole, here) -> None:
    found = Alignment(a, b, align)
    assert found.words == words
    assert found.whole == Origins(*whole)
    matched = Fake(
        a=Fake(station=Fake(foremost=(30.0, 400.0)), section=section(1.0, 2.0)),
        b=Fake(station=Fake(foremost=None), section=section(6.0, 3.0)),
    )
    assert found.at(matched) == Origins(*here)


def test_contours_are_laid_over_each_other_from_their_own_origins() -> None:
    one, two = (Fake(points=np.array([[x, 300.0], [x + 9.0, 400.0]])) for x in (30.0, 70.0))
    a, b = Origins(10.0, -4.0, "").laid(one, two)
    assert a.tolist() == [[20.0, 300.0], [29.0, 400.0]]
    assert b.tolist() == [[74.0, 300.0], [83.0, 400.0]]
    matched = Fake(a=Fake(section=one), b=Fake(section=two))
    found = Origins(10.0, -4.0, "").points(matched)
    assert [each.tolist() for each in found] == [a.tolist(), b.tolist()]


def test_without_a_bumper_point_the_foremost_of_all_points_counts() -> None:
    bare = lined("common", None, None)
    assert Alignment(bare, lined("common", None, 30.0), "foremost").whole == Origins(5.0, 30.0, "")


def test_an_alignment_that_is_none_is_refused_with_those_that_are() -> None:
    with pytest.raises(InputError) as caught:
        Alignment(A, B, "front")  # type: ignore[arg-type]
    assert "found alignment 'front'; expected one of none, foremost; name one of" in str(
        caught.value
    )


# Notes, cautions and draws of two fronts.


def front(height: float, lacks: str = "", **more) -> Front:
    """One station whose leading edge is a corner; without a part where it lacks one."""
    one, u = corner_nose(height), more.pop("u", None)
    n = 4 if lacks == "windscreen" else 6
    parts = ["bonnet" if part == lacks else part for part in one.parts[:n]]
    return Front((Section(one.points[:n], 0.0, parts, height_u=u, setback_u=u),), **more)


@pytest.mark.parametrize(
    ("lacks", "lines"), [("bumper", "UBRL"), ("windscreen", "BRRL, and areas behind it,")]
)
def test_a_part_that_one_front_alone_knows_is_said(lacks, lines) -> None:
    full, bare = screen(front(760.0)), screen(front(760.0, lacks))
    said = f"labels points as {lacks} and {{}} does not, so {lines} may change for that reason"
    assert f"A {said.format('B')} alone." in compare(full, bare).notes
    assert f"B {said.format('A')} alone." in compare(bare, full).notes
    # A part that one of its stations has, a front has.
    one, other = (each.front.sections[0] for each in (full, bare))
    some = screen(Front((one, replace(other, y=300.0))))
    for both in (compare(full, full), compare(bare, bare), compare(some, full)):
        assert not any("labels points" in note for note in both.notes)
    assert any(f"A labels points as {lacks}" in note for note in compare(some, bare).notes)


def test_notes_and_cautions_of_draws(monkeypatch) -> None:
    sure, unsure = screen(front(760.0)), screen(front(765.0, u=2.0))
    monkeypatch.setattr(two_fronts, "drawn_stations", lambda *_: {0.0: {}})
    found = compare(unsure, sure, draws=600, seed=5)
    assert found.notes == (
        "600 draws of either front, seed 5; each of A is held against each of B.",
        "Setback of the lower lip behind the bumper: the first 500 draws.",
        "B states no uncertainty and is taken as exact.",
    )
    fewer = compare(sure, unsure, draws=100)
    assert "Setback of the lower lip behind the bumper: the first 100 draws." in fewer.notes
    assert fewer.notes[-1] == "A states no uncertainty and is taken as exact."
    chances = (
        "Probabilities hold for the uncertainties stated, taken as normal and independent. They "
        "say how sure the geometry is, nothing of what a test would show."
    )
    assert chances in found.cautions
    assert found.cautions[0] == CAUTION
    exact = compare(sure, unsure, seed=7)
    assert chances not in exact.cautions
    assert exact.to_dict()["settings"]["seed"] is None
    assert found.to_dict()["settings"]["seed"] == 5


def test_a_caution_of_one_front_says_of_which() -> None:
    def said(*texts: str) -> Fake:
        return Fake(all_cautions=lambda: ("first", *texts))

    found = two_fronts._cautions(said("both", "one"), said("two", "both"), 0)
    assert found[3:] == ("both", "A: one", "B: two")
    assert found[:2] == (
        CAUTION,
        (
            "Every change is B minus A. A change of shape says nothing by itself about which front "
            "treats a pedestrian better: stiffness and what lies behind the skin are not known."
        ),
    )


def test_screenings_under_other_settings_are_refused_with_both() -> None:
    one = front(760.0)
    a = screen(one, wad=(1000.0, 1500.0))
    rules = replace(a.rules.with_values({"ubrl.lean_deg": 21.0}), title=a.rules.title)
    for b, words in (
        (screen(one, wad=(1000.0,)), "wrap-around distances 1000, 1500 for A and 1000 for B"),
        (screen(one, a.rules, (1000.0, 1500.0), tape_start="vehicle"),
         "tape start section for A and vehicle for B"),
        (screen(one, rules, (1000.0, 1500.0)), "ubrl.lean_deg 20 deg for A and 21 deg for B"),
    ):  # fmt: skip
        with pytest.raises(InputError) as caught:
            compare(a, b)
        assert f"found {words}; expected the same for both" in str(caught.value)


def unsure(*edges: tuple[float, float], symmetric: bool = False) -> Front:
    """Leading edges (y, height) that are corners; rows 1 mm unsure either way."""
    noses = [corner_nose(z, y=y) for y, z in edges]
    sections = [replace(s, height_u=[1.0] * 6, setback_u=[1.0] * 6) for s in noses]
    return Front(tuple(sections), symmetric=symmetric)


RIGHT = unsure((0.0, 760.0), (300.0, 800.0), symmetric=True)
LEFT = unsure((-300.0, 800.0), (0.0, 760.0), symmetric=True)
# No more than the rounding of a unit conversion beside the others: the same stations.
BESIDE = unsure((-300.0 + 4e-7, 800.0), (0.0, 760.0), (300.0 - 3e-7, 800.0))
UNEVEN = unsure((-300.0, 840.0), (0.0, 760.0), (300.0 + 4e-7, 800.0))
BESIDE_UNEVEN = unsure((-300.0, 840.0), (0.0, 760.0), (300.0, 800.0))


@pytest.mark.parametrize(
    ("a", "b"),
    [(RIGHT, RIGHT.full()), (BESIDE, LEFT), (RIGHT, LEFT), (UNEVEN, BESIDE_UNEVEN)],
)
def test_a_front_against_itself_is_as_likely_higher_as_lower(a: Front, b: Front) -> None:
    """Each station is held against its own draws, whichever side of it was measured: of two draws
    of the same height either is the higher one as often, and their difference is as unsure as
    hypot(1, 1) mm."""
    found = compare(screen(a), screen(b), draws=100)
    assert len(found.stations) == (2 if a.symmetric and b.symmetric else 3)
    for at in found.stations:
        edge = at.change("BLERL_z_mm")
        assert edge.change == pytest.approx(0.0)
        assert edge.chance_more == pytest.approx(0.5, abs=0.08), at.y
        assert edge.chance_less == pytest.approx(0.5, abs=0.08), at.y
        assert edge.u == pytest.approx(np.hypot(1.0, 1.0), rel=0.2), at.y


def test_a_whole_front_has_the_chances_of_each_side() -> None:
    """B is 40 mm higher on the left and as high elsewhere."""
    found = compare(screen(RIGHT), screen(UNEVEN), draws=100)
    more = {round(at.y): at.change("BLERL_z_mm").chance_more for at in found.stations}
    assert more == {-300: 1.0, 0: pytest.approx(0.5, abs=0.08), 300: pytest.approx(0.5, abs=0.08)}


def test_setbacks_have_chances_only_from_one_datum() -> None:
    a, b = ({"UBRL_x_mm": np.array([x]), "UBRL_z_mm": np.array([z])} for x, z in ((5, 5), (7, 5.5)))
    counted = two_fronts._chances(a, b, Origins(0.0, 3.0, ""))
    assert {name: (c.less, c.more) for name, c in counted.items()} == {
        "UBRL_x_mm": (1.0, 0.0),  # 7 - 3 against 5
        "UBRL_z_mm": (0.0, 1.0),
    }
    assert set(two_fronts._chances(a, b, BARRED)) == {"UBRL_z_mm"}


def test_settings_given_count_for_both_fronts_and_only_measured_stations_are_drawn() -> None:
    one, two = screen(front(760.0)), screen(front(765.0))
    found = compare(one, two, draws=100, settings=Uncertainty(height_u_mm=1.0))
    assert not any("taken as exact" in note for note in found.notes)
    assert found.stations[0].change("BLERL_z_mm").chance_more > 0.99


# What differs at a station: each kind alone is enough.


def station(**more) -> StationComparison:
    """A station at which nothing differs, but for what is given."""
    side = Fake(station=Fake(legform="lower", LBRL=Fake(formed=True)))
    told = {
        "matched": Fake(y=0.0, a=side, b=side),
        "origins": BARRED,
        "lines": (),
        "face": (),
        "leg": Fake(changes=()),
        "contour": None,
        "contour_reason": "",
        "chances": (),
    }
    return StationComparison(**(told | more))


def legforms(a: str | None, b: str | None, formed: bool = True) -> Fake:
    sides = [Fake(station=Fake(legform=each, LBRL=Fake(formed=formed))) for each in (a, b)]
    return Fake(y=0.0, a=sides[0], b=sides[1])


def test_one_difference_of_any_kind_makes_a_station_differ() -> None:
    assert not station().differs
    assert not station(contour=Fake(largest=None)).differs
    assert not station(lines=(told(1.0, 1.0, 0.0),)).differs
    for one in (
        station(contour=Fake(largest=1)),
        station(matched=legforms("lower", "upper")),
        station(lines=(told(1.0, 2.0, 1.0),)),
        station(face=(told(1.0, 1.0, 0.0), told(1.0, 2.0, 1.0))),
        station(leg=Fake(changes=(told(1.0, 2.0, 1.0),))),
    ):
        assert one.differs


def test_legforms_in_words() -> None:
    assert station(matched=legforms("lower", None)).legform_words == ("lower", "not known")
    assert station(matched=legforms(None, "upper", False)).legform_words == ("none", "upper")

"""Which findings make a line of an answer, where it holds and how clearly.

Fronts and findings are made up (unit/made_answers.py).
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from unit.made_answers import (
    ABOVE_WAIST,
    HALF,
    KNEE,
    LIP,
    LOWER,
    NO_AREA,
    NOTHING_LOW,
    THIGH,
    WHOLE,
    candidates,
    found,
    front,
)

from frontcheck.findings import answer as room
from frontcheck.findings import assumed_cases
from frontcheck.findings.answer import (
    _at,
    _candidate,
    _chosen,
    _counted,
    _in_units_of_u,
    _stations,
    place,
)

LEFT = front(-580.0, -300.0, 0.0, symmetric=True)
"""A half front of which the left side was measured."""


@pytest.fixture(autouse=True)
def nothing_stated(monkeypatch) -> None:
    """Rows of these fronts are unsure by what a test says, and else by nothing."""
    monkeypatch.setattr(room, "stated_u", lambda *_: None)


# --- which of them are told --------------------------------------------------------


def test_what_is_told_of_nobody_but_the_child_or_is_aside_is_no_line() -> None:
    rows = [
        found("LEG-KNEE-FIRST", 0.0, person="six-year-old"),
        found("LEG-THIGH-FIRST", 60.0, person="six-year-old, woman p5"),
        found("LEG-UNDERCUT", 12.0),  # has no words of a line
        found("LEG-LIP-AHEAD", 12.0, aside=True),
        found("LEG-THIGH-FIRST", 70.0, person="man p50", y=300.0),
        found("BODY-EDGE-LOWER-END", 600.0),
    ]
    codes = {one.code: len(one.findings) for one in candidates(WHOLE, *rows)}
    assert codes == {"LEG-THIGH-FIRST": 2, "BODY-EDGE-LOWER-END": 1}


def test_where_people_are_struck_that_stands_in_place_of_what_heights_let_one_think() -> None:
    heights = found("BODY-EDGE-ABOVE-MASS", 1000.0, person="man p50")
    knee = found("LEG-KNEE-FIRST", 0.0, person="man p50")
    carried = found("BODY-STRUCK-CARRIED", 100.0, person="man p50")
    heads = found("BODY-HEAD-OUTSIDE", 50.0, person="man p50")
    for rows, codes in (
        ([heights, knee], {"BODY-EDGE-ABOVE-MASS", "LEG-KNEE-FIRST"}),
        ([heights, knee, carried], {"BODY-STRUCK-CARRIED", "LEG-KNEE-FIRST"}),
        ([heights, heads], {"BODY-EDGE-ABOVE-MASS", "BODY-HEAD-OUTSIDE"}),
    ):
        assert {one.code for one in candidates(WHOLE, *rows)} == codes


def chosen(*findings, robust=(), of=WHOLE, margins=None):
    every = [
        replace(one, robust=one.code in robust, margin=(margins or {}).get(one.code))
        for one in candidates(of, *findings)
    ]
    lines, left = _chosen(every)
    return [one.code for one in lines], [one.code for one in left]


def test_the_legform_is_told_only_where_nothing_with_a_source_of_its_own_stands_out() -> None:
    assert chosen(LOWER) == (["LEG-LOWER-LEGFORM"], [])
    assert chosen(LOWER, KNEE) == (["LEG-LOWER-LEGFORM"], ["LEG-KNEE-FIRST"])
    assert chosen(LOWER, NO_AREA) == (["GAP-NO-HEAD-AREA"], ["LEG-LOWER-LEGFORM"])
    assert chosen() == ([], [])


def test_a_threshold_of_our_own_never_leads_however_robust() -> None:
    own, study = "LEG-NOTHING-LOW", "BODY-EDGE-ABOVE-WAIST"
    rows = (NOTHING_LOW, ABOVE_WAIST)
    assert chosen(*rows)[0] == [study, own]
    assert chosen(*rows, robust=(own,))[0] == [study, own]
    both = [replace(one, robust=one.code == own) for one in candidates(WHOLE, *rows)]
    assert [one.evidence for one in _chosen(both)[0]] == ["study", "practice"]
    # Of two themes evidence decides, however clear the weaker one is.
    area_first = ["GAP-NO-HEAD-AREA", "LEG-LIP-AHEAD"]
    assert chosen(LIP, NO_AREA, margins={"LEG-LIP-AHEAD": 9.0})[0] == area_first
    # Beside what leads by its own source it keeps its rank.
    assert chosen(*rows, NO_AREA, robust=(own,))[0] == ["GAP-NO-HEAD-AREA", own, study]
    assert chosen(*rows, robust=(own, study), margins={study: 5.0, own: 1.0})[0] == [study, own]


def test_of_one_theme_one_line_is_told_by_evidence_then_by_rank_then_by_margin() -> None:
    assert chosen(KNEE, THIGH)[0] == ["LEG-KNEE-FIRST"]
    knee = (["LEG-KNEE-FIRST"], ["LEG-THIGH-FIRST"])
    assert chosen(THIGH, KNEE) == chosen(THIGH, KNEE, margins={"LEG-THIGH-FIRST": 9.0}) == knee
    trunk = found("LEG-TRUNK-FIRST", 5.0, person="man p50")  # its rank is that of the thigh
    assert chosen(THIGH, trunk, margins={"LEG-TRUNK-FIRST": 1.0})[0] == ["LEG-TRUNK-FIRST"]
    both = {"LEG-TRUNK-FIRST": 1.0, "LEG-THIGH-FIRST": 2.0}
    assert chosen(THIGH, trunk, margins=both)[0] == ["LEG-THIGH-FIRST"]
    # Alike in all of that: the wider one, then by the alphabet.
    wide = found("LEG-TRUNK-FIRST", 5.0, person="man p50", ys=[0.0, 300.0])
    assert chosen(THIGH, wide)[0] == ["LEG-TRUNK-FIRST"]
    assert chosen(trunk, THIGH)[0] == ["LEG-THIGH-FIRST"]
    # A test that applies comes before what is only practice, robust or not.
    assert chosen(KNEE, found("LEG-HIGH-BUMPER", 430.0))[0] == ["LEG-HIGH-BUMPER"]


def test_five_lines_are_told_at_most_the_most_important_ones() -> None:
    rows = (
        found("LEG-HIGH-BUMPER", 430.0), NO_AREA, found("GAP-LINE-MISSING", y=None, ys=[]),
        found("GAP-HARD-POINT", y=0.0), NOTHING_LOW, ABOVE_WAIST,
        found("HEAD-DEPTH-BELOW-BOUND", 20.0, limit=36.0),
    )  # fmt: skip
    lines, left = chosen(*rows)
    # What concerns the whole width comes before what holds at one station.
    assert lines == [
        "HEAD-DEPTH-BELOW-BOUND", "GAP-LINE-MISSING", "GAP-NO-HEAD-AREA", "GAP-HARD-POINT",
        "LEG-HIGH-BUMPER",
    ]  # fmt: skip
    assert left == ["BODY-EDGE-ABOVE-WAIST", "LEG-NOTHING-LOW"]


def test_what_is_counted_in_cases_is_what_may_be_told(monkeypatch) -> None:
    """The best of every theme, and what may stand in; the bumper test area stays where it is."""
    seen = {}
    area, cases, settings = object(), object(), object()

    def held_again(of, wanted, given_cases, given_settings, given_area):
        seen.update(wanted)
        assert (of, given_cases, given_settings) == (WHOLE, cases, settings)
        assert given_area in (area, None)
        seen["area"] = given_area
        return {
            "LEG-LOWER-LEGFORM": np.arange(200) < 199,
            "LEG-KNEE-FIRST": np.arange(200) < 101,
        }

    monkeypatch.setattr(assumed_cases, "held_again", held_again)
    every = candidates(WHOLE, LOWER, KNEE, THIGH, NO_AREA)
    zones = SimpleNamespace(bumper_test_area=area)
    counted = {one.code: one for one in _counted(WHOLE, every, cases, settings, zones)}
    assert seen == {
        "LEG-LOWER-LEGFORM": (0.0,), "LEG-KNEE-FIRST": (0.0,), "area": area,
        "GAP-NO-HEAD-AREA": (-580.0, -300.0, 0.0, 300.0, 580.0),
    }  # fmt: skip
    assert {code: (one.in_100, one.robust) for code, one in counted.items()} == {
        "LEG-LOWER-LEGFORM": (99, True), "LEG-KNEE-FIRST": (50, False),
        "LEG-THIGH-FIRST": (None, False), "GAP-NO-HEAD-AREA": (None, False),
    }  # fmt: skip
    # What decides a test is no weaker for being robust too.
    assert counted["LEG-LOWER-LEGFORM"].evidence == "test"
    _counted(WHOLE, every, cases, settings, None)
    assert seen["area"] is None


# --- where it holds, and how clearly -----------------------------------------------


@pytest.mark.parametrize(
    ("of", "ys", "stations"),
    [
        (HALF, [], (0.0, 300.0, 580.0)),
        (HALF, [580.0, 0.0], (0.0, 580.0)),
        (HALF, [-520.0, 350.0], (300.0,)),  # none from 350 to 520: the nearest to the centre
        (HALF, [-600.0, 200.0], (300.0, 580.0)),
        (LEFT, [], (-580.0, -300.0, 0.0)),
        (LEFT, [-580.0, 0.0], (-580.0, 0.0)),
        (LEFT, [-520.0, 350.0], (-300.0,)),
        (LEFT, [-600.0, 200.0], (-580.0, -300.0)),
        (WHOLE, [-310.0, 290.0], (-300.0, 0.0)),
        (WHOLE, [-300.0, 580.0], (-300.0, 580.0)),
        (WHOLE, [310.0, 400.0], (300.0,)),
        (WHOLE, [-580.0, 300.0, 310.0], (-580.0, -300.0, 0.0, 300.0)),
    ],
)
def test_stations_of_a_line_are_those_of_the_front(of, ys, stations) -> None:
    assert _stations(of, [found("HEAD-NEAR-NORMAL", 3.0, y=None, ys=ys)]) == stations


def test_a_margin_is_told_in_units_of_what_is_stated_of_its_point(monkeypatch) -> None:
    asked = []

    def stated(of, y, at, way):
        asked.append((y, at, way))
        return 2.0

    monkeypatch.setattr(room, "stated_u", stated)
    lead = found("LEG-LONG-LEAD", 410.0, y=300.0, ys=[0.0, 290.0], limit=400.0)
    assert _in_units_of_u(WHOLE, lead) == 5.0
    crossed = found("LEG-LINES-CROSSED", -3.0, y=-300.0, limit=0.0)
    assert _in_units_of_u(WHOLE, crossed) == 1.5
    assert asked == [(300.0, (11.0, 540.0), "setback"), (-300.0, (10.0, 500.0), "height")]
    for nothing in (
        found("LEG-LONG-LEAD", 410.0, y=None, limit=400.0, ys=[0.0]),
        found("LEG-LONG-LEAD", None),
        found("LEG-LONG-LEAD", 410.0, ys=[], limit=400.0),
        found("LEG-OVERHANG", 20.0, limit=15.0),
    ):
        assert _in_units_of_u(WHOLE, nothing) is None
    one = _candidate(WHOLE, lead.code, [lead, found("LEG-LONG-LEAD", 430.0, limit=400.0)])
    assert (one.margin, one.width) == (15.0, 1 / 5)  # from 0 to 290 mm stands one of five
    monkeypatch.setattr(room, "stated_u", lambda *_: None)
    assert _in_units_of_u(WHOLE, lead) is None


@pytest.mark.parametrize(
    ("y", "half", "whole"),
    [
        (None, "on the whole front", "on the whole front"), (0.0, "at the centre", "at the centre"),
        (300.0, "at 300 mm out", "at 300 mm out right"),
        (-300.0, "at 300 mm out", "at 300 mm out left"),
    ],
)  # fmt: skip
def test_a_station_in_words(y, half, whole) -> None:
    assert (_at(HALF, y), _at(WHOLE, y)) == (half, whole)


@pytest.mark.parametrize(
    ("ys", "words"),
    [
        ((), "over the whole width"),
        ((-580.0, -300.0, 0.0, 300.0, 580.0), "over the whole width"),
        ((-580.0, -300.0, 300.0, 580.0), "at 300 to 580 mm out both sides"),
        ((-580.0, -300.0), "at 300 to 580 mm out left"),
        ((-300.0, 580.0), "from 300 mm left to 580 mm right"),
        ((300.0, 580.0), "at 300 to 580 mm out right"),
        ((0.0, 580.0), "out to 580 mm right"),
        ((300.0,), "at 300 mm out right"),
        ((0.0,), "at the centre"),
        ((-300.0, 300.0), "at 300 mm out both sides"),
        ((-300.0, 0.0, 300.0), "out to 300 mm both sides"),
    ],
)
def test_places_of_a_whole_front_in_words(ys, words) -> None:
    assert place(WHOLE, ys) == words
    assert place(front(300.0), (300.0,)) == "in this section"

"""How assumed cases are counted: half of the stations, somebody but the child, no open end.

Cases are made up: what holds in each is known, and counted again by a plain loop.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from corner_fronts import corner_nose, lined

from frontcheck.errors import InputError
from frontcheck.findings import assumed_cases as room
from frontcheck.findings.assumed_cases import CASES, AssumedCases, _held, held_again, in_100
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.people.people import ADULTS, CHILD
from frontcheck.zones.front_zones import BumperArea

KNEE, WAIST, OPENS = "LEG-KNEE-FIRST", "BODY-EDGE-ABOVE-WAIST", "LEG-KNEE-OPENS"
WANTED = {
    KNEE: (0.0, 100.0), WAIST: (0.0, 100.0, 200.0), OPENS: (100.0,),
    "HEAD-SHARP-BEND": (0.0,), "GAP-NO-HEAD-AREA": (0.0, 100.0),
}  # fmt: skip


def test_cases_hold_at_half_of_the_stations_for_somebody_but_the_child(monkeypatch) -> None:
    rng = np.random.default_rng(2)
    ys = (0.0, 100.0, 200.0, 300.0)
    plan = {(y, k): {} for y in ys for k in range(CASES)}
    for held in plan.values():
        for code in (KNEE, WAIST, OPENS):
            if rng.random() < 0.5:
                held[code] = bool(rng.random() < 0.4)
    area, settings = object(), object()
    front = SimpleNamespace(front="front", rules="rules", tape_start="section")

    def station_draws(given, uncertainty, draws, seed):
        assert (given, uncertainty, draws, seed) == ("front", "u", 200, 7)
        return [SimpleNamespace(section=SimpleNamespace(y=y)) for y in ys]

    def drawn(survey, given, tape_x):
        assert (given, tape_x) == (front, None)
        assert survey.section.y != 300.0  # nothing is wanted there
        return ((survey.section.y, k) for k in range(CASES))

    def held(own, here, given, at):
        assert (given, at) == (settings, area)
        assert set(here) == {c for c in (KNEE, WAIST, OPENS) if own[0] in WANTED[c]}
        return {code: adult for code, adult in plan[own].items() if code in here}

    for name, made in (("station_draws", station_draws), ("_drawn", drawn), ("_held", held)):
        monkeypatch.setattr(room, name, made)
    found = held_again(front, WANTED, AssumedCases("u", 7), settings, area)
    assert set(found) == {KNEE, WAIST, OPENS}  # what needs the whole surface is not claimed
    for code, cases in found.items():
        for k in range(CASES):
            told = [plan[y, k][code] for y in WANTED[code] if code in plan[y, k]]
            assert cases[k] == (len(told) / len(WANTED[code]) >= 0.5 and any(told)), (code, k)
    assert {0 < int(cases.sum()) < CASES for cases in found.values()} == {True}


def test_a_tape_of_the_vehicle_is_drawn_with_it(monkeypatch) -> None:
    seen = []
    monkeypatch.setattr(room, "vehicle_tape", lambda surveys, rules: (surveys, rules))
    fake = SimpleNamespace(section=SimpleNamespace(y=0.0))
    monkeypatch.setattr(room, "station_draws", lambda *_: [fake])
    monkeypatch.setattr(room, "_drawn", lambda _, __, tape_x: seen.append(tape_x) or ())
    for start, wanted in (("section", None), ("vehicle", ([fake], "rules"))):
        front = SimpleNamespace(front="front", rules="rules", tape_start=start)
        held_again(front, {KNEE: (0.0,)}, AssumedCases("u", 7), None, None)
        assert seen.pop() == wanted


def test_what_holds_in_one_case() -> None:
    """An edge of 1100 mm stands above every waist; the bumper line ends in nothing open."""
    front = lined(corner_nose(1100.0))
    (station,) = front.stations
    people = FindingSettings(people=(ADULTS[0],))
    codes = {WAIST, "LEG-LOWER-LEGFORM", "BODY-EDGE-ABOVE-MASS"}
    assert _held(None, codes, people, None) == {}
    assert _held(front, codes, people, None) == dict.fromkeys(codes, True)
    assert _held(front, {WAIST}, people, None) == {WAIST: True}
    assert _held(front, {"LEG-LOWER-LEGFORM"}, people, None) == {"LEG-LOWER-LEGFORM": True}
    # Of the child alone it is not told; of both it is.
    mass = {"BODY-EDGE-ABOVE-MASS"}
    child = FindingSettings(people=(CHILD,))
    assert _held(front, mass, child, None) == {"BODY-EDGE-ABOVE-MASS": False}
    for both in ((CHILD, ADULTS[0]), (ADULTS[0], CHILD)):
        assert _held(front, mass, FindingSettings(people=both), None) == dict.fromkeys(mass, True)
    # Where no legform is aimed, nothing is said of which one applies.
    beside = BumperArea(100.0, 200.0, "corners", "ok")
    assert set(_held(front, codes, people, beside)) == codes - {"LEG-LOWER-LEGFORM"}
    # What an open end could change is not known to hold.
    for name, gone in (("LBRL", {"LEG-LOWER-LEGFORM"}), ("UBRL", set()),
                       ("BLERL", {WAIST, "BODY-EDGE-ABOVE-MASS"})):  # fmt: skip
        line = replace(getattr(station, name), status="open_end")
        opened = replace(front, stations=(replace(station, **{name: line}),))
        assert set(_held(opened, codes, people, None)) == codes - gone


def test_a_count_is_told_of_100_and_rounded_down() -> None:
    assert CASES == 200
    assert [in_100(n) for n in (1, 2, 3, 198, 199)] == [0, 1, 1, 99, 99]


def test_cases_are_drawn_only_of_what_is_unsure(monkeypatch) -> None:
    front = SimpleNamespace(front=SimpleNamespace(datum="local"), tape_start="section")
    for inputs, refused in (((), True), (((), ("height",)), False), (((), ()), True)):
        surveys = [SimpleNamespace(inputs=each) for each in inputs]
        monkeypatch.setattr(room, "station_draws", lambda *_, made=surveys: made)
        if refused:
            with pytest.raises(InputError, match="uncertain"):
                AssumedCases.of(front, "u", 3)
        else:
            made = AssumedCases.of(front, "u", 3)
            assert (made.uncertainty, made.seed) == ("u", 3)
    monkeypatch.setattr(room, "station_draws", lambda *_: [SimpleNamespace(inputs=("height",))])
    for start, datum, refused in (
        ("vehicle", "local", True), ("vehicle", "common", False), ("section", "local", False),
    ):  # fmt: skip
        of = SimpleNamespace(front=SimpleNamespace(datum=datum), tape_start=start)
        if refused:
            with pytest.raises(InputError, match="tape"):
                AssumedCases.of(of, "u", 3)
        else:
            assert AssumedCases.of(of, "u", 3).seed == 3

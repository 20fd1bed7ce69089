"""Findings of people who are struck: kinds, shares, heads outside the areas and near stiff parts.

Cases are made up, so that every count is known; where heads land is counted again by a plain loop.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from finding_sides import check_sides

import frontcheck as fc
from frontcheck.body.person_motion import HeadContacts, Spread
from frontcheck.errors import InputError
from frontcheck.findings.explanations import explain
from frontcheck.people.people import struck_people
from frontcheck.sure.shares import is_robust, least_share

CHILD, *ADULTS = struck_people()
MAN = ADULTS[2]


@cache
def plover():
    return fc.screen(fc.read_front("geometries/plover.csv"))


@cache
def base():
    return fc.motion(plover(), people=[MAN], draws=20)


def study(draws=100, *, pushed=0, folded=0, wads=None, at=None, who=MAN.name):
    """A study of one person with counts and landing places as they are given."""
    counts = {"pushed": pushed, "folded": folded, "carried": draws - pushed - folded}
    kinds = {"pushed": "pushed ahead", "folded": "folded over the edge", "carried": "carried up"}
    named = [key for key, count in counts.items() if count >= 0.9 * draws]
    given = np.full(draws, 1500.0) if wads is None else np.array(wads, dtype=float)
    person = replace(
        base().people[0],
        person=who,
        kind=kinds[named[0]] if named else "undecided",
        shares={key: count / draws for key, count in counts.items()},
        at_least=least_share(counts[named[0]], draws) if named else None,
        wad_mm=Spread.of(given),
    )
    points = np.tile([765.0, 930.0], (draws, 1)) if at is None else np.array(at, dtype=float)
    heads = HeadContacts(given, np.full(draws, 100.0), points)
    return replace(base(), draws=draws, motions=((person,),), heads=((heads,),))


def found(made, **settings):
    own = fc.FindingSettings(**settings) if settings else None
    front = plover().front
    return fc.screen(front, motion=made, finding_settings=own).findings


def test_kinds_are_told_from_nine_in_ten_on() -> None:
    check_sides("BODY-STRUCK-PUSHED", found(study(pushed=90)), found(study(pushed=89)))
    check_sides("BODY-STRUCK-FOLDED", found(study(folded=90)), found(study(folded=89)))
    (carried,) = check_sides(
        "BODY-STRUCK-CARRIED", found(study(pushed=10)), found(study(pushed=11))
    )
    assert carried.value == 90.0
    assert carried.person == MAN.name
    assert "90 % of 100 assumed cases (at least 84 %" in carried.message
    assert "40 km/h at y = 0 mm" in carried.message


@pytest.mark.parametrize(("draws", "least"), [(200, 179), (1000, 869)])
def test_robust_from_a_lower_limit_of_85_in_100_and_200_draws_on(draws, least) -> None:
    """Against the binomial distribution itself: what is seen comes about once in 20 times."""

    def tail(count, p):
        return sum(
            math.exp(
                math.lgamma(draws + 1) - math.lgamma(k + 1) - math.lgamma(draws - k + 1)
                + k * math.log(p) + (draws - k) * math.log1p(-p)
            )
            for k in range(count, draws + 1)
        )  # fmt: skip

    first = next(count for count in range(draws) if tail(count, 0.85) <= 0.05)
    assert first == least
    assert not is_robust(first - 1, draws)
    assert is_robust(first, draws)
    assert not is_robust(199, 199)


def evidence(made, code="BODY-STRUCK-CARRIED"):
    return {finding.rule.evidence for finding in found(made) if finding.code == code}


def test_evidence_goes_by_draws_and_share() -> None:
    assert evidence(study(200, pushed=20)) == {"robust"}
    assert evidence(study(199)) == {"practice"}
    assert evidence(study(64)) == {"practice"}


def test_heads_outside_the_headform_areas() -> None:
    """The adult area ends at 1736 mm at the centre, the child area begins at 1000."""
    ranges = [
        (1000.0, 1700.0), (1700.0, 1736.0),
    ]  # fmt: skip
    rng = np.random.default_rng(5)
    wads = rng.uniform(900.0, 1800.0, 100)
    (one,) = (f for f in found(study(wads=wads)) if f.code == "BODY-HEAD-OUTSIDE")
    counted = sum(not any(low <= wad <= high for low, high in ranges) for wad in wads)
    assert one.value == counted
    outside, inside = np.full(100, 1500.0), np.full(100, 1500.0)
    outside[:10], inside[:9] = 1900.0, 1900.0
    check_sides("BODY-HEAD-OUTSIDE", found(study(wads=outside)), found(study(wads=inside)))


def test_nothing_is_claimed_of_areas_that_are_not_known() -> None:
    """One section has no areas: where heads land is held against none."""
    front = replace(plover().front, sections=plover().front.sections[:1])
    alone = fc.screen(front)
    made = fc.motion(alone, people=[ADULTS[3]], draws=20)
    codes = {finding.code for finding in fc.screen(front, motion=made).findings}
    assert "BODY-HEAD-OUTSIDE" not in codes
    assert "BODY-STRUCK-CARRIED" in codes


def test_heads_near_a_stiff_part() -> None:
    """Half of a ball of 100 mm about the part, by Pythagoras."""
    part = fc.HardPoint(800.0, 60.0, 900.0, "hinge", "hinge")
    far, near = [800.0 + 80.1, 900.0], [800.0 - 79.9, 900.0]
    at = [near] * 10 + [far] * 90
    fires = found(study(at=at), hard_points=(part,))
    silent = found(study(at=[near] * 9 + [far] * 91), hard_points=(part,))
    (one,) = check_sides("BODY-HEAD-NEAR-STIFF", fires, silent)
    assert one.value == 10.0
    assert "within 100 mm of hinge" in one.message


def test_the_answer_says_what_becomes_of_people() -> None:
    lines = fc.screen(plover().front, motion=study(200)).answer.lines
    (line,) = (line for line in lines if line.theme == "pushed_or_carried")
    assert line.text == "Struck at 40 km/h: average man carried up in 100 % of assumed cases"
    assert line.evidence == "robust"
    child = fc.screen(plover().front, motion=study(200, who=CHILD.name)).answer.lines
    assert "pushed_or_carried" not in {line.theme for line in child}


def test_the_document_carries_the_motion_of_those_who_were_struck() -> None:
    made = study()
    people = fc.screen(plover().front, motion=made).to_dict()["answer"]["people"]
    told = {row["person"]: row["motion"] for row in people}
    assert told.pop("average man (p50)") == {
        "kind": "carried up",
        "shares": made.people[0].shares,
        "wad_mm": {"median": 1500.0, "p5": 1500.0, "p95": 1500.0},
        "time_ms": {key: getattr(made.people[0].time_ms, key) for key in ("median", "p5", "p95")},
    }
    assert set(told.values()) == {None}


def test_a_motion_of_another_front_is_refused() -> None:
    other = fc.read_front("geometries/avocet.csv")
    with pytest.raises(InputError, match="of another front"):
        fc.screen(other, motion=base())
    with pytest.raises(InputError, match="by another rule set"):
        fc.screen(plover().front, "EU-631-2009", motion=base())


def test_a_front_that_is_refused_says_why() -> None:
    made = fc.motion(plover(), people=[MAN], station=650.0, draws=20)
    result = fc.screen(plover().front, motion=made)
    assert result.answer.people[2].motion is None
    assert any("man p50: no motion: the front faces" in text for text in result.all_cautions())
    assert not any(f.code.startswith("BODY-STRUCK") for f in result.findings)


def test_other_stations_find_their_own() -> None:
    made = fc.motion(plover(), people=[MAN], station=300.0, draws=20)
    result = fc.screen(plover().front, motion=made)
    (one,) = (f for f in result.findings if f.code == "BODY-STRUCK-CARRIED")
    assert one.station == 300.0


@pytest.mark.parametrize("code", ["BODY-STRUCK-CARRIED", "BODY-HEAD-OUTSIDE"])
def test_codes_are_explained_with_what_they_do_not_say(code) -> None:
    said = " ".join(explain(code).split())
    assert "never a chance in a crash" in said
    assert "may be run over" in said

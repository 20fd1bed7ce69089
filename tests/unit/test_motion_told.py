"""What is told of drawn cases of one person: kinds, places, reasons, pictures; all cases made up.

Thresholds are own choice (contract, section 3): folded from 40 deg on, a kind named from 0.9, a
place given from 0.95 of the cases on.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from references.saloon import struck_front

from frontcheck.body import person_motion as told_of
from frontcheck.body.anatomy import figure_of
from frontcheck.body.assumed import drawn
from frontcheck.body.chain import turned
from frontcheck.body.person_motion import (
    FirstContact,
    PersonMotion,
    Spread,
    by_reason,
    person_motion,
    too_few,
)
from frontcheck.body.struck import Struck, strike
from frontcheck.people.people import struck_people

CHILD, *ADULTS = struck_people()
MAN = ADULTS[2]
FIGURE = figure_of(MAN)
# Stretches of the saloon: 0 to 3 bumper, 4 to 7 leading edge, 8 to 14 bonnet, 15 and 16 glass.


def cases_of(count=20, *, past=-10.0, torso=0.0, head=0.1, beyond=False, at=(700.0, 835.0),
             stretch=12, front=None, **changed):  # fmt: skip
    """Made-up ends of cases before a front: (front, ended)."""
    front = struck_front() if front is None else front
    pose = np.zeros((count, 11))
    pose[:, 2 + 2] = np.radians(np.broadcast_to(torso, count))
    own = FIGURE.chain.centre_of_mass(pose)[:, 0]
    pose[:, 0] = (front.edge[0] + np.broadcast_to(past, count)) / 1e3 - own
    head_s = np.broadcast_to(np.asarray(head, dtype=float), count).copy()
    ended = Struck(
        first_s=np.zeros(count), first_body=np.full(count, 6), first_stretch=np.full(count, 3),
        first_at=np.tile([0.0, 0.5], (count, 1)), head_s=head_s,
        head_stretch=np.broadcast_to(stretch, count).copy(),
        head_at=np.tile(np.array(at) / 1e3, (count, 1)), pose=pose,
        beyond=np.broadcast_to(beyond, count).copy(), times=np.zeros(0), poses=np.zeros((0, 0, 11)),
    )  # fmt: skip
    return front, replace(ended, **changed)


def told(front, ended, wads=None) -> PersonMotion:
    wads = np.where(np.isnan(ended.head_s), np.nan, 1500.0) if wads is None else wads
    return told_of._told(front, "man p50", FIGURE, ended, wads)


def first(count: int, of: int, value, other):
    """`value` in so many of the cases, the other in the rest."""
    return np.where(np.arange(of) < count, value, other)


def test_everything_that_is_told_of_plain_cases() -> None:
    front, ended = cases_of(past=np.linspace(-20.0, -1.0, 20), head=np.linspace(0.081, 0.1, 20))
    made = told(front, ended, np.linspace(1405.0, 1500.0, 20))
    assert (made.person, made.stature_mm, made.mass_kg) == ("man p50", 1755.0, 77.0)
    assert made.station_mm == 0.0
    assert made.kind == "pushed ahead"
    assert made.shares == {
        "pushed": 1.0, "folded": 0.0, "carried": 0.0, "no_head_contact": 0.0,
        "beyond_measured": 0.0,
    }  # fmt: skip
    # 20 of 20: the share p of which as many come once in 20 times, p ** 20 = 0.05.
    assert made.at_least == pytest.approx(0.05 ** (1.0 / 20.0))
    # Straight between cases in order: 0.95, 9.5 and 18.05 steps of 5 mm.
    assert made.wad_mm == Spread(
        pytest.approx(1452.5), pytest.approx(1409.75), pytest.approx(1495.25)
    )
    assert made.time_ms.median == pytest.approx(90.5)
    assert made.past_edge_mm.p5 == pytest.approx(-19.05)
    assert made.past_edge_mm.p95 == pytest.approx(-1.95)
    assert made.torso_deg == Spread(0.0, 0.0, 0.0)
    assert (made.part, made.parts, made.reason) == ("bonnet", {"bonnet": 1.0}, "")
    assert made.first_contact == FirstContact("bumper", "near shank", Spread(500.0, 500.0, 500.0))
    assert not made.refused


@pytest.mark.parametrize(
    ("past", "torso", "key"),
    [
        (1e-6, 0.0, "carried"), (0.0, 0.0, "pushed"), (-1e-6, 90.0, "folded"),
        (-1.0, 40.000001, "folded"), (-1.0, 39.999999, "pushed"), (-1.0, -41.0, "pushed"),
        (5.0, 41.0, "carried"),
    ],
)  # fmt: skip
def test_kinds_at_their_borders(past: float, torso: float, key: str) -> None:
    shares = told(*cases_of(past=past, torso=torso)).shares
    assert [shares[name] for name in ("pushed", "folded", "carried")] == [
        float(name == key) for name in ("pushed", "folded", "carried")
    ]


@pytest.mark.parametrize(
    ("kinds", "kind"),
    [
        ((18, 1, 1), "pushed ahead"), ((1, 18, 1), "folded over the edge"),
        ((1, 1, 18), "carried up"), ((17, 2, 1), "undecided"), ((0, 3, 17), "undecided"),
    ],
)  # fmt: skip
def test_a_kind_is_named_by_nine_in_ten(kinds, kind) -> None:
    pushed, folded, carried = kinds
    past = np.repeat([-5.0, -5.0, 5.0], kinds)
    torso = np.repeat([0.0, 60.0, 0.0], kinds)
    made = told(*cases_of(past=past, torso=torso))
    assert made.kind == kind
    assert (made.at_least is None) == (kind == "undecided")
    assert [made.shares[k] * 20.0 for k in ("pushed", "folded", "carried")] == pytest.approx(
        [pushed, folded, carried]
    )


NEVER = "the head touches nothing within 0.35 s in {} of the cases"
GONE = "it goes beyond what was measured in {} of the cases"
BEYOND = "beyond what was measured"


@pytest.mark.parametrize(
    ("never", "gone", "reason", "part"),
    [
        (0, 0, "", "bonnet"),
        (1, 0, "", "bonnet"),
        (0, 1, "", "bonnet"),  # 19 of 20 are enough
        (2, 0, NEVER.format("10%"), None),
        (0, 2, GONE.format("10%"), BEYOND),
        (1, 1, f"{NEVER.format('5%')} and {GONE.format('5%')}", None),
        (1, 2, f"{NEVER.format('5%')} and {GONE.format('10%')}", BEYOND),
        (3, 3, f"{NEVER.format('15%')} and {GONE.format('15%')}", None),
        (4, 3, f"{NEVER.format('20%')} and {GONE.format('15%')}", None),
        (0, 20, GONE.format("100%"), BEYOND),
        (20, 0, NEVER.format("100%"), None),
    ],
)
def test_why_no_place_of_the_head_is_given(never, gone, reason, part) -> None:
    head = first(never + gone, 20, np.nan, 0.1)
    made = told(*cases_of(head=head, beyond=first(gone, 20, True, False)))
    assert made.shares["no_head_contact"] == pytest.approx(never / 20.0)
    assert made.shares["beyond_measured"] == pytest.approx(gone / 20.0)
    assert (made.reason, made.part) == (reason, part)
    for value in (made.wad_mm, made.time_ms, made.parts):
        assert (value is None) == bool(reason)
    assert made.kind == "pushed ahead"  # the kind is told all the same
    assert too_few(made.shares) == bool(reason)


def test_shares_that_only_rounding_parts_from_the_threshold_are_enough() -> None:
    """0.03 + 0.02 is 0.05 as people count, whatever floating point makes of it."""
    for one, other in ((0.05, 0.0), (0.03, 0.02), (0.02, 0.03), (0.01, 0.04)):
        assert not too_few({"no_head_contact": one, "beyond_measured": other})
    assert too_few({"no_head_contact": 0.03, "beyond_measured": 0.0201})


@pytest.mark.parametrize(
    ("wads", "marks", "reason"),
    [
        ([1500.0] * 20, (), ""),
        ([1500.0] * 20, ((1500.0, "open there"),), "open there"),
        ([1500.0] * 20, ((1500.1, "open there"),), ""),
        # 95 of 100 decide: one in 20 that lands farther does not.
        ([1500.0] * 19 + [1700.0], ((1600.0, "open there"),), ""),
        ([1500.0] * 18 + [1700.0] * 2, ((1600.0, "open there"),), "open there"),
        ([1500.0] * 20, ((1400.0, "first"), (1450.0, "second")), "first"),
        ([1500.0] * 20, ((2100.0, "far"), (1450.0, "second")), "second"),
    ],
)
def test_open_marks_before_the_head_withhold_the_place(wads, marks, reason) -> None:
    front, ended = cases_of()
    made = told(replace(front, open_marks=marks), ended, np.array(wads))
    said = f"the wrap-around distance is not known there: {reason}" if reason else ""
    assert made.reason == said


def test_places_that_are_not_covered_and_tapes_that_do_not_hang_withhold_it() -> None:
    place = struck_front().place.copy()
    # Wing and pillar come after bumper, leading edge, bonnet, cowl and windscreen.
    for number, name in ((5, "wing"), (6, "pillar")):
        own = place.copy()
        own[16] = number
        front, ended = cases_of(stretch=first(1, 20, 16, 12))
        made = told(replace(front, place=own), ended)
        assert made.reason == f"the head meets a {name}, whose shape across the front matters"
        assert (made.wad_mm, made.part, made.parts) == (None, None, None)
    front, ended = cases_of()
    bare = told(replace(front, tape=None), ended)
    assert bare.reason == (
        "no tape can be hung there: the foremost point of the bumper is not known"
    )
    few = told(replace(front, tape=None), cases_of(head=np.nan)[1])
    assert "touches nothing" in few.reason  # what is said first


def test_parts_that_heads_touch_are_counted() -> None:
    front, ended = cases_of(stretch=np.repeat([16, 12, 6], [11, 6, 3]))
    made = told(front, ended)
    assert made.part == "windscreen"
    assert list(made.parts.items()) == [
        ("bonnet", 6 / 20), ("leading edge", 3 / 20), ("windscreen", 11 / 20),
    ]  # fmt: skip


def test_what_meets_first_is_what_does_in_most_cases() -> None:
    front, ended = cases_of(
        first_s=first(4, 20, np.nan, 0.0), first_body=np.repeat([4, 5, 6], [4, 9, 7]),
        first_stretch=np.repeat([16, 3, 6], [4, 7, 9]),
        first_at=np.stack([np.zeros(20), np.linspace(0.401, 0.42, 20)], axis=1),
    )  # fmt: skip
    met = told(front, ended).first_contact
    assert (met.part, met.body) == ("leading edge", "near thigh")
    assert met.height_mm.median == pytest.approx(412.5)  # of those who are met, 405 to 420
    none = cases_of(first_s=np.nan * np.zeros(20), head=np.nan)
    assert told(*none).first_contact is None


def test_a_spread_leaves_out_what_is_no_number() -> None:
    assert Spread.of(np.array([np.nan, np.nan])) is None
    assert Spread.of(np.zeros(0)) is None
    found = Spread.of(np.array([np.nan, *np.arange(101.0)]))
    assert (found.p5, found.median, found.p95) == (5.0, 50.0, 95.0)


def test_reasons_are_told_once_with_those_whom_they_concern() -> None:
    people = [SimpleNamespace(person=p, reason=r) for p, r in
              (("a", "far"), ("b", ""), ("c", "open"), ("d", "far"))]  # fmt: skip
    assert by_reason(people) == {"far": ["a", "d"], "open": ["c"]}


# Pictures: the middle case.


@pytest.mark.parametrize("given", [True, False])
def test_the_case_in_pictures_is_the_middle_one(given: bool, monkeypatch) -> None:
    """By the place of the head, or where none is given by the centre of mass; from first contact
    to the end of the case, 5 ms apart, and one picture before at most."""
    front, cases = struck_front(), drawn(9, 5)
    ended = strike(
        FIGURE,
        front.wall,
        front.part,
        cases,
        11.0,
        last=0.25 if given else 0.04,
        step=5e-4,
        keep_every=0.005,
    )
    asked = []

    def struck(*given, **named):
        asked.append((given, named))
        return ended

    monkeypatch.setattr(told_of, "strike", struck)
    made = person_motion(front, MAN.name, FIGURE, cases, 39.6) if given else None
    wads = front.distances(ended.head_stretch, 1e3 * ended.head_at) if given else None
    frames = told_of._frames(FIGURE, cases, ended, wads)
    if given:
        (((*same, speed), named),) = asked
        assert all(
            a is b for a, b in zip(same, (FIGURE, front.wall, front.part, cases), strict=True)
        )
        assert (speed, named) == (pytest.approx(11.0), {"keep_every": 0.005})
        assert made.heads.wad_mm == pytest.approx(wads)
        assert made.heads.time_ms == pytest.approx(1e3 * ended.head_s)
        assert made.heads.at_mm == pytest.approx(1e3 * ended.head_at)
        assert made.frames.times_ms == pytest.approx(frames.times_ms)
        assert made.frames.contact_mm == frames.contact_mm
    by = wads if given else FIGURE.chain.centre_of_mass(ended.pose)[:, 0]
    case = int(np.argsort(by)[4])
    start, times = ended.first_s[case], [*ended.times]
    kept = [i for i, t in enumerate(times) if t >= start - 0.005]
    kept = [i for i in kept if np.isfinite(ended.poses[i, case]).all()]
    end = ended.head_s[case] if given else times[kept[-1]] - start
    expected = [*(1e3 * (times[i] - start) for i in kept), 1e3 * end]
    assert frames.times_ms == pytest.approx(expected)
    poses = np.array([*(ended.poses[i, case] for i in kept), ended.pose[case]])
    assert frames.centre_of_mass_mm == pytest.approx(1e3 * FIGURE.chain.centre_of_mass(poses))
    assert frames.circles_mm.shape == (len(expected), 65, 2)
    assert frames.radii_mm.shape == (65,)
    place = FIGURE.skin.with_shoulders(cases.shoulder[[case]])[0]
    head = FIGURE.chain.origins(poses)[:, 4] + turned(place[14], poses[:, 2 + 4])
    assert frames.head_mm == pytest.approx(1e3 * head)
    assert (frames.head_mm == frames.circles_mm[:, 14]).all()
    assert frames.head_radius_mm == pytest.approx(0.044 * 1755.0)
    chest = FIGURE.chain.origins(poses)[:, 2] + turned(place[8], poses[:, 2 + 2])
    assert frames.circles_mm[:, 8] == pytest.approx(1e3 * chest)
    if given:
        assert frames.contact_mm == pytest.approx(1e3 * ended.head_at[case])
    else:
        assert frames.contact_mm is None


def test_pictures_begin_one_before_the_first_contact_at_most() -> None:
    """Poses 5 ms apart from the start of a run; contact at 10 ms: the one 5 ms before is kept."""
    _, ended = cases_of(3, head=np.nan, first_s=np.array([0.01, 0.01, 0.01]))
    times = np.array([0.0, 0.005, 0.01, 0.015])
    poses = np.tile(ended.pose, (4, 1, 1))
    poses[3, 0] = np.nan
    ended = replace(ended, times=times, poses=poses)
    frames = told_of._frames(FIGURE, drawn(3, 1), ended, None)
    assert frames.times_ms == pytest.approx([-5.0, 0.0, 0.0])  # of the first case, which ended


def test_without_any_contact_there_are_no_pictures() -> None:
    _, ended = cases_of(first_s=np.nan * np.zeros(20), head=np.nan)
    assert told_of._frames(FIGURE, drawn(20, 1), ended, None) is None

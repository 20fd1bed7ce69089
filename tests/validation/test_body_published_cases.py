"""People struck by a class-typical section, against published cases and facts of the model.

The contours of the cars that were tested are not known: the section stands for a class, so that
limits are wide. Agreement is "consistent with", never more.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from checks import Check, Source
from references.saloon import SALOON, front_of

import frontcheck as fc
from frontcheck.people.people import struck_people

KERRIGAN = Source(
    "Pedestrian kinematic response to mid-sized vehicle impact, International Journal of Vehicle "
    "Safety 2 (3), 221-240",
    author="J. R. Kerrigan, J. R. Crandall and B. Deng",
    year="2007",
    where="seven tests; abstract read, these figures handed down, not confirmed in the text",
    known="memory",
)
WIDE = "the cars' contours are not known, a section of the class stands for them: wide limits"
PLACE = Check(
    "motion-man-at-40-km-h-place",
    kind="published value",
    quantity="where the head of a man lands along the skin, middle of the range (consistent with)",
    unit="mm",
    source=KERRIGAN,
    why=f"8 %: {WIDE}",
)
TIME = Check(
    "motion-man-at-40-km-h-time",
    kind="published value",
    quantity="when his head lands, middle of the range (consistent with)",
    unit="ms",
    source=KERRIGAN,
    why=WIDE,
)
OF_STATURE = Check(
    "motion-place-of-stature",
    kind="population plausibility",
    quantity="where heads of adults land, as a share of their stature",
    source=Source("no source", where="0.9 to 1.2", known="memory"),
    why="range of memory, unconfirmed",
)
FASTER = Check(
    "motion-farther-and-sooner",
    kind="published value",
    quantity="direction in which place and time of the head go with speed (consistent with)",
    source=Source(
        "SAE Technical Paper 2015-01-1461",
        author="D. Otte and others",
        year="2015",
        where="abstract, read; of adults",
        known="read",
    ),
    why="the direction only",
)
NARROW = Check(
    "motion-width-of-the-range",
    kind="published value",
    quantity="5 to 95 % range of the place of the head, as a share of its middle (consistent with)",
    source=Source(
        "Pedestrian risk from cars and sport utility vehicles: a comparative analytical study",
        author="C. K. Simms and D. P. Wood",
        year="2005",
        where="abstract, read; journal details not confirmed",
        known="read",
    ),
    why="told within a fifth",
)
RAISED = Check(
    "motion-raised-nose",
    kind="independent method",
    quantity="how much nearer the head of a man lands for each mm a nose is raised [mm/mm]",
    source=Source("another program, run once", known="derived"),
    why="the range that it gave",
)

PEOPLE = {person.name: person for person in struck_people()}


@cache
def struck(name, speed=40.0, draws=40, up=0.0):
    front = front_of(SALOON + np.array([0.0, up]))
    people = [PEOPLE[name] if isinstance(name, str) else name]
    return fc.motion(front, people=people, speed_km_h=speed, draws=draws).people[0]


def test_a_man_struck_at_40_km_h() -> None:
    """Head at 1978 mm along the skin after 116 ms: within the range, the middle near it.

    J. R. Kerrigan, J. R. Crandall and B. Deng, Pedestrian kinematic response to mid-sized vehicle
    impact, International Journal of Vehicle Safety 2 (3), 221-240, 2007: seven tests; only the
    abstract was read, and the two figures are handed down, not confirmed in the text.
    """
    found = struck("man p50", draws=200)
    PLACE.compare(1978.0, found.wad_mm.median, relative=0.08)
    TIME.compare(116.0, found.time_ms.median, tolerance=12.0)
    assert found.wad_mm.p5 <= 1978.0 <= found.wad_mm.p95
    assert found.time_ms.p5 <= 116.0 <= found.time_ms.p95


def test_wrap_around_distance_does_not_go_with_stature() -> None:
    """Shares of stature differ by more than 0.05 from person to person (same paper, abstract)."""
    people = [struck(name) for name in PEOPLE]
    shares = [one.wad_mm.median / one.stature_mm for one in people]
    assert max(shares) - min(shares) > 0.05
    # From memory, no source: adults' heads land at 0.9 to 1.2 of their stature.
    OF_STATURE.between(shares[1:], 0.9, 1.2)


@pytest.mark.parametrize("name", list(PEOPLE))
def test_the_head_lands_farther_and_sooner_the_faster(name) -> None:
    """D. Otte and others, SAE Technical Paper 2015-01-1461, 2015 (abstract read): adults.

    Of the child the paper says nothing that was read; on this low nose it holds for it, too.
    """
    found = [struck(name, speed) for speed in (20.0, 30.0, 40.0, 50.0)]
    wads = [one.wad_mm.median for one in found]
    FASTER.same("farther", "farther" if wads == sorted(wads) else "not farther")
    times = [one.time_ms.median for one in found]
    FASTER.same("sooner", "sooner" if times == sorted(times, reverse=True) else "not sooner")


@pytest.mark.parametrize("name", list(PEOPLE))
def test_the_place_is_told_within_a_fifth(name) -> None:
    """The 5 to 95 % range is narrower than a fifth of the distance.

    C. K. Simms and D. P. Wood, Pedestrian risk from cars and sport utility vehicles: a comparative
    analytical study, 2005 (abstract read; journal details not confirmed).
    """
    wad = struck(name, draws=200 if name == "man p50" else 40).wad_mm
    NARROW.between((wad.p95 - wad.p5) / wad.median, high=0.2)


def test_the_taller_the_farther() -> None:
    adults = [
        struck(name).wad_mm.median for name in ("woman p5", "woman p50", "man p50", "man p95")
    ]
    assert adults == sorted(adults)
    slim = [
        struck(fc.person_of_stature(stature, mass_kg=0.023 * stature**2 / 1e3)).wad_mm.median
        for stature in (1500.0, 1650.0, 1800.0)
    ]
    assert slim == sorted(slim)


@pytest.mark.parametrize("name", list(PEOPLE))
def test_raising_the_nose_brings_the_head_nearer_and_sooner(name) -> None:
    """Derived with another program, for a man: 0.55 to 0.9 mm and 0.04 to 0.11 ms a mm."""
    heights = (-100.0, 0.0, 100.0)
    found = [struck(name, up=up) for up in heights]
    wads = [one.wad_mm.median for one in found]
    assert wads == sorted(wads, reverse=True)
    times = [one.time_ms.median for one in found]
    assert times == sorted(times, reverse=True)
    if name == "man p50":
        RAISED.between((wads[0] - wads[2]) / 200.0, 0.55, 0.9)
        assert 0.04 <= (times[0] - times[2]) / 200.0 <= 0.11


def test_an_edge_between_waist_and_shoulder_has_no_place() -> None:
    """The shoulder holds the head off a high edge: there the kind is told, and no place."""
    never = [struck("woman p5", up=up).shares["no_head_contact"] for up in (0.0, 280.0, 400.0)]
    assert never == sorted(never)
    assert never[0] == 0.0
    high = struck("woman p5", up=400.0)
    assert never[-1] > 0.05
    assert high.wad_mm is None
    assert high.part is None
    assert high.kind == "pushed ahead"


def test_a_child_before_a_high_edge_is_pushed_ahead() -> None:
    high = struck("six-year-old", up=250.0)
    assert high.kind == "pushed ahead"
    assert high.shares["pushed"] == 1.0

"""The answer: its order, its people, and what it says of what is not sure."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from corner_fronts import corner_nose

from frontcheck import FindingSettings, Front, Section, person_of_stature, read_front, screen
from frontcheck.findings.answer import answer, place
from frontcheck.findings.people_rows import names_of
from frontcheck.front.survey import Survey
from frontcheck.sure.stated_uncertainty import stated_u


@pytest.fixture(scope="module")
def plover(geometries):
    return screen(read_front(geometries / "plover.csv"))


def corner(height: float, u: float | None = None) -> Front:
    one = corner_nose(height)
    return Front((Section(one.points, 0.0, one.parts, height_u=u),))


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["woman p5"], "small woman"),
        (["man p95", "woman p5"], "small woman, tall man"),
        (["woman p5", "woman p50", "woman p95", "man p5", "man p50"], "small woman to average man"),
        (["woman p5", "woman p50", "man p50", "man p95"], "all adults"),
        (["six-year-old", "woman p5"], "small woman, six-year-old"),
        (["stature 1500 mm"], "stature 1500 mm"),
        ([], ""),
    ],
)
def test_people_are_named_in_plain_words(names, words) -> None:
    assert names_of(names) == words


def test_the_five_people_stand_in_order_and_others_where_they_are_asked_for(plover) -> None:
    named = [row.person for row in plover.answer.people]
    assert named == [
        "small woman (p5)", "average woman (p50)", "average man (p50)", "tall man (p95)",
        "six-year-old",
    ]  # fmt: skip
    settings = FindingSettings(people=(person_of_stature(1500.0),))
    (row,) = screen(plover.front, finding_settings=settings).answer.people
    assert row.person == "stature 1500 mm"
    # 0.55 to 0.59 of 1500 mm on 25 mm of shoe, wider by twice the 2 mm stated: BLERL is at 800 mm.
    assert row.band_mm == pytest.approx((850.0 - 4.0, 910.0 + 4.0))
    assert (row.edge_mm, row.edge_against_centre_of_mass) == (800.0, "below")
    assert row.given
    assert row.heights.startswith("knee 430, hip 794, waist 917 mm up in shoes of 25 mm")
    # Plover's rows: upper lip at 538 mm, lower lip at 338 mm and 14 mm behind.
    assert (row.first_touch, row.first_touch_mm) == ("thigh", 538.0)
    assert (row.second_touch, row.second_touch_mm, row.second_later_mm) == ("shin", 338.0, 14.0)
    barefoot = FindingSettings(people=(person_of_stature(1500.0).in_shoes(0.0),))
    (bare,) = screen(plover.front, finding_settings=barefoot).answer.people
    assert bare.band_mm == pytest.approx((825.0 - 4.0, 885.0 + 4.0))


def test_a_line_is_told_by_evidence_then_margin_in_units_of_what_is_stated(plover) -> None:
    """With heights ten times as unsure a line falls behind none of a weaker kind."""
    order = ("bound", "test", "robust", "study", "practice")
    ranks = [order.index(line.evidence) for line in plover.answer.lines]
    assert ranks == sorted(ranks)
    assert len(ranks) > 1
    # The order of findings given does not matter.
    assert answer(plover, plover.findings[::-1], None, plover.zones).lines == plover.answer.lines


def test_what_is_within_twice_the_uncertainty_is_too_close_to_call(plover) -> None:
    """LBRL at 580 mm is 428 mm high, 3 mm above 425; 2 mm are stated (coverage factor 2)."""
    assert "3 mm above 425 at 580 mm out: too close to call" in plover.answer.lines[0].text
    sections = tuple(
        Section(s.points, s.y, s.parts, height_u=1.0, setback_u=1.0) for s in plover.front.sections
    )
    surer = screen(replace(plover.front, sections=sections)).answer.lines[0].text
    assert "3 mm above 425 at 580 mm out: either legform may be used" in surer


def test_stated_uncertainties_add_in_squares() -> None:
    """JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2 (from memory):
    independent parts add in squares."""
    plain = corner(800.0, u=3.0)
    front = replace(plain, survey=Survey(ride_height_u_mm=4.0))
    assert stated_u(front, 0.0, (0.0, 800.0), "height") == pytest.approx(5.0)
    # Pitch about 2000 mm behind the datum lifts the corner at x = 0 by 2000 mm times the angle.
    turned = replace(plain, survey=Survey(pitch_u_deg=0.1))
    assert stated_u(turned, 0.0, (0.0, 800.0), "height") == pytest.approx(
        math.hypot(3.0, 2000.0 * math.radians(0.1))
    )
    assert stated_u(corner(800.0), 0.0, (0.0, 800.0), "height") is None


def test_without_a_stated_uncertainty_the_next_step_asks_for_it() -> None:
    steps = [step.do for step in screen(corner(950.0)).answer.next]
    assert any(step.startswith("State how exact the rows are") for step in steps)
    assert not any(
        step.do.startswith("State how") for step in screen(corner(950.0, u=2.0)).answer.next
    )


def test_what_two_lines_formed_would_hide_is_said_in_words() -> None:
    """Lead above 400 mm: a line, or a sentence of the standing paragraph."""
    points = [(300, 200), (90, 300), (25, 320), (60, 420), (20, 520), (100, 560), (450, 900)]
    result = screen(Front((Section([*points, (1500, 950)]),)))
    assert result.stations[0].bumper_lead == pytest.approx(430.0)
    said = " ".join([*(x.text for x in result.answer.lines), result.answer.standing])
    assert "430 mm behind" in said


def test_the_child_stands_in_the_paragraph_and_never_alone_in_a_line(plover) -> None:
    """0.56 to 0.60 of 1153.35 mm (source in tests/validation/test_ansur.py) on 25 mm of shoe, wider
    by 4 mm."""
    assert "six-year-old (667 to 721 mm)" in plover.answer.standing
    assert not any(line.text.endswith("six-year-old") for line in plover.answer.lines)


@pytest.mark.parametrize(
    ("ys", "half", "whole"),
    [
        ((0.0, 100.0), "out to 100 mm", "out to 100 mm right"),
        ((580.0,), "at 580 mm out", "at 580 mm out right"),
        ((580.0, 650.0), "at 580 to 650 mm out", "at 580 to 650 mm out right"),
        ((-580.0, 580.0), None, "at 580 mm out both sides"),
        ((-580.0,), None, "at 580 mm out left"),
        ((-650.0, -580.0), None, "at 580 to 650 mm out left"),
        ((-100.0, 0.0, 100.0), None, "out to 100 mm both sides"),
        ((-100.0, 0.0, 200.0), None, "from 100 mm left to 200 mm right"),
        ((0.0,), "at the centre", "at the centre"),
    ],
)
def test_places_are_told_by_side_where_both_halves_were_measured(plover, ys, half, whole) -> None:
    if half is not None:
        assert place(plover, ys) == half
    assert place(screen(plover.front.full()), ys) == whole


@pytest.mark.parametrize(("heights", "said"), [
    ((1150.0, 1190.0), "1150 to 1190 mm"), ((1190.0, 1150.0), "1150 to 1190 mm"),
    ((1150.2, 1150.4), "1150 mm"), ((1150.4, 1150.6), "1150 to 1151 mm"),
])  # fmt: skip
def test_values_that_differ_over_the_width_are_told_from_the_least_to_the_most(
    heights, said
) -> None:
    sections = []
    for y, height in zip((0.0, 300.0), heights, strict=True):
        one = corner_nose(height)
        sections.append(Section(one.points, y, one.parts))
    lines = [line.text for line in screen(Front(tuple(sections))).answer.lines]
    (line,) = [line for line in lines if line.startswith("Bonnet edge 1")]
    assert f"edge {said} up" in line

"""Findings of people who are struck, word by word; their rows; and what stands for itself.

Cases are made up, so that every count is known: no motion is worked out.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from corner_fronts import corner_nose, lined

from frontcheck.findings.people_rows import (
    head_part,
    kind_of,
    names_of,
    percent,
    person_rows,
    plain_person,
    shown_people,
)
from frontcheck.findings.standing import standing
from frontcheck.findings.struck_findings import struck_findings
from frontcheck.front.beside import HardPoint
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.people.people import ADULTS, CHILD, PEOPLE, person_of_stature
from frontcheck.surface.section import Section
from frontcheck.zones.front_zones import BumperArea, HeadformArea, Outline

NOSE = lined(corner_nose(800.0), corner_nose(800.0, y=300.0))


def person(name="man p50", kind="undecided", at_least=None, wad=True, **shares):
    full = {"pushed": 0.0, "folded": 0.0, "carried": 0.0} | shares
    return SimpleNamespace(
        person=name, kind=kind, shares=full, at_least=at_least, wad_mm=object() if wad else None,
        refused=False, part=None, parts=None,
    )  # fmt: skip


def heads(wads, at=(0.0, 0.0)):
    given = np.array(wads, dtype=float)
    points = np.broadcast_to(np.array(at, dtype=float), (len(given), 2))
    return SimpleNamespace(wad_mm=given, at_mm=points)


def study(people, of_heads=None, *, draws=100, speed=40.0, y=300.0, front=NOSE, symmetric=False):
    station = SimpleNamespace(y=y, BLERL=front.station(y).BLERL, open_ends=())
    side = SimpleNamespace(station=station, section=front.front.section(y))
    fronts = (SimpleNamespace(front=SimpleNamespace(symmetric=symmetric)),)
    own = (None,) * len(people) if of_heads is None else tuple(of_heads)
    return SimpleNamespace(
        people=tuple(people), heads=(own,), sides=(side,), fronts=fronts, draws=draws,
        speed_km_h=speed,
    )  # fmt: skip


def areas(*ranges, known=True):
    made = tuple(SimpleNamespace(name=n, front=a, rear=b) for n, a, b in ranges)
    return SimpleNamespace(known=known, at=lambda y: made if y == 300.0 else ())


def found(made, of=None, points=()):
    return list(struck_findings(made, areas() if of is None else of, points))


# --- kinds -------------------------------------------------------------------------


def test_people_of_one_kind_are_told_together_with_the_least_sure_of_them() -> None:
    people = [
        person("woman p5", "carried up", 0.9432, carried=0.97),
        person("man p50", "folded over the edge", 0.84, folded=0.9),
        person("man p95", "carried up", 0.8449, carried=0.9051),
        person("six-year-old", "pushed ahead", 0.97, pushed=1.0),
        person("woman p50", "undecided", None, pushed=1.0),
    ]
    pushed, folded, carried = found(study(people, speed=32.5))
    assert carried.message == (
        "Struck at 32.5 km/h at y = 300 mm, woman p5, man p95 are carried up in 91 to 97 % of 100 "
        "assumed cases (at least 84 %, the lower 95 % limit)."
    )
    assert (carried.person, carried.value, carried.spread) == (
        "woman p5, man p95", 91.0, (91.0, 97.0),
    )  # fmt: skip
    assert folded.message == (
        "Struck at 32.5 km/h at y = 300 mm, man p50 is folded over the edge in 90 % of 100 assumed "
        "cases (at least 84 %, the lower 95 % limit)."
    )
    assert (pushed.code, pushed.station) == ("BODY-STRUCK-PUSHED", 300.0)
    assert (
        "six-year-old is pushed ahead in 100 % of 100 assumed cases (at least 97 %"
        in pushed.message
    )
    assert carried.settled_by == (
        "dummy tests or human body model simulations of this front at this speed"
    )
    assert carried.region.name == "Struck at 32.5 km/h"
    assert carried.region.outline_mm == ((0.0, 300.0, pytest.approx(800.0)),)
    low, high = carried.region.arc_mm
    section = corner_nose(800.0)
    assert section.at_arc_length(low) == pytest.approx([0.0, 800.0])
    assert low == high
    assert carried.rule.evidence == "practice"


def test_it_is_robust_where_draws_enough_agree_for_each_of_them() -> None:
    """200 draws and a lower 95 % limit of 0.85 (own choice): 179 of 200."""
    for counts, evidence in (((200, 179), "robust"), ((200, 178), "practice")):
        people = [person(str(n), "carried up", 0.9, carried=n / 200.0) for n in counts]
        (one,) = found(study(people, draws=200))
        assert one.rule.evidence == evidence


# --- heads -------------------------------------------------------------------------

RANGES = (("child", 1000.0, 1700.0), ("adult", 1700.0, 2000.0))


def test_heads_on_the_border_of_an_area_land_in_it() -> None:
    inside = [1000.0, 1700.0, 2000.0, math.nan] * 20
    outside = [999.9] * 9 + [2000.1] * 11
    at = np.column_stack([np.arange(100.0), 900.0 - np.arange(100.0)])
    own = heads([*inside, *outside])
    own.at_mm = at[::-1]
    (one,) = found(study([person()], [own]), areas(*RANGES))
    assert one.message == (
        "Struck at 40 km/h at y = 300 mm, the heads of man p50 land outside the headform areas "
        "(wrap-around distance, mm: child 1000 to 1700 and adult 1700 to 2000) in 20 % of 100 "
        "assumed cases."
    )
    assert (one.code, one.settled_by) == (
        "BODY-HEAD-OUTSIDE", "headform tests where such heads land",
    )  # fmt: skip
    # Foremost, middle and rearmost of those that land outside: setbacks 0 to 19.
    assert one.region.outline_mm == (
        (0.0, 300.0, 900.0), (10.0, 300.0, 890.0), (19.0, 300.0, 881.0),
    )  # fmt: skip
    assert one.region.arc_mm is None


def test_who_is_told_of_outside_heads_from_one_in_ten_on() -> None:
    """Own choice."""
    people = [person("A"), person("B"), person("C"), person("D", wad=False), person("E")]
    at = [heads([900.0] * n + [1500.0] * (100 - n), (n, 5.0)) for n in (10, 9, 40, 50)]
    made = study(people, [*at, None])
    (one,) = found(made, areas(*RANGES))
    assert (one.person, one.value, one.spread) == ("A, C", 10.0, (10.0, 40.0))
    assert "the heads of A, C land" in one.message
    assert " in 10 to 40 % of 100" in one.message
    assert {x for x, _, _ in one.region.outline_mm} == {10.0, 40.0}
    (none,) = found(made, areas())
    assert "headform areas (none there) in 100 % of" in none.message
    assert none.person == "A, B, C"
    assert found(made, areas(*RANGES, known=False)) == []
    many = [heads([900.0] * n + [1500.0] * (1000 - n)) for n in (99, 100)]
    (least,) = found(study(people[:2], many, draws=1000), areas(*RANGES))
    assert (least.person, least.value) == ("B", 10.0)
    assert found(study(people[:1], [heads([1500.0] * 100)]), areas(*RANGES)) == []
    assert found(study([person(wad=False)], at[2:3]), areas(*RANGES)) == []


@pytest.mark.parametrize("open_ends", [("BLERL",), ("BRRL",), ("LBRL", "UBRL", "SRL")])
def test_nothing_is_claimed_of_areas_that_an_open_end_could_move(open_ends) -> None:
    made = study([person()], [heads([900.0] * 100)])
    made.sides[0].station = SimpleNamespace(y=300.0, open_ends=open_ends)
    assert bool(found(made, areas(*RANGES))) == (open_ends[0] == "LBRL")


def test_a_head_100_mm_from_a_stiff_part_is_near_it() -> None:
    """A ball of 100 mm, own choice: 48 back, 64 up and 60 across are 100 mm."""
    part = HardPoint(852.0, 240.0, 836.0, "latch", "lock")
    for x, code in ((900.0, ["BODY-HEAD-NEAR-STIFF"]), (900.1, [])):
        made = study([person()], [heads([1500.0] * 100, (x, 900.0))])
        near = found(made, areas(*RANGES), [part])
        assert [f.code for f in near] == code
    (one,) = found(
        study([person()], [heads([1500.0] * 100, (900.0, 900.0))]), areas(*RANGES), [part]
    )
    assert one.message == (
        "Struck at 40 km/h at y = 300 mm, the heads of man p50 land within 100 mm of latch (lock) "
        "in 100 % of 100 assumed cases."
    )
    assert one.settled_by == "a headform test above latch"
    assert one.region.outline_mm == ((852.0, 240.0, 836.0),)
    assert one.region.name == "latch"
    # On a half front the other side is struck alike; on a whole one it is far away.
    other = HardPoint(852.0, -240.0, 836.0, "latch", "lock")
    for symmetric, count in ((True, 1), (False, 0)):
        made = study([person()], [heads([1500.0] * 100, (900.0, 900.0))], symmetric=symmetric)
        assert len(found(made, areas(*RANGES), [other])) == count
    ten = heads([1500.0] * 100)
    ten.at_mm = np.array([[852.0, 836.0]] * 10 + [[852.0, 9000.0]] * 90)
    nine = heads([1500.0] * 100)
    nine.at_mm = np.array([[852.0, 836.0]] * 9 + [[9000.0, 836.0]] * 91)
    (few,) = found(study([person("A"), person("B")], [ten, nine]), areas(*RANGES), [part])
    assert (few.person, few.value) == ("A", 10.0)


# --- rows of people ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["woman p5", "woman p50"], "small woman, average woman"),
        (["woman p50", "man p50", "man p95"], "average woman to tall man"),
        (["woman p5", "woman p50", "man p95"], "small woman, average woman, tall man"),
        (["man p95", "man p50", "woman p50", "woman p5", "six-year-old", "six-year-old"],
         "all adults, six-year-old"),
        (["woman p95", "man p5"], ""),
        (["B", "man p50", "A", "B"], "average man, B, A"),
    ],
)  # fmt: skip
def test_people_in_plain_words(names, words) -> None:
    assert names_of(names) == words


def test_a_person_in_plain_words_with_its_percentile() -> None:
    names = {p.name: plain_person(p.name) for p in (*PEOPLE, person_of_stature(1500.0))}
    assert names == {
        "six-year-old": "six-year-old", "woman p5": "small woman (p5)",
        "woman p50": "average woman (p50)", "woman p95": "woman p95", "man p5": "man p5",
        "man p50": "average man (p50)", "man p95": "tall man (p95)",
        "stature 1500 mm": "stature 1500 mm",
    }  # fmt: skip
    mine = person_of_stature(1500.0)
    assert [p.name for p in shown_people([mine, *PEOPLE[::-1]])] == [
        "woman p5", "woman p50", "man p50", "man p95", "six-year-old", "stature 1500 mm",
    ]  # fmt: skip


def test_what_becomes_of_a_person_in_words() -> None:
    assert percent(0.125) == "12 %"
    assert percent(1.0) == "100 %"
    assert kind_of(person(kind="folded over the edge", folded=0.93, pushed=0.07)) == (
        "folded over the edge in 93 %"
    )
    assert kind_of(person(folded=0.4, carried=0.45, pushed=0.15)) == ("undecided, carried in 45 %")
    refused = person()
    refused.refused = True
    assert kind_of(refused) == "not said"
    one = person()
    assert head_part(one) == ""
    one.part = "bonnet"
    assert head_part(one) == "bonnet"
    one.parts = {"bonnet": 0.72, "cowl": 0.28}
    assert head_part(one) == "bonnet 72 %"
    one.parts = {"bonnet": 1.0}
    assert head_part(one) == "bonnet"


def test_rows_are_of_the_station_nearest_the_centre_the_left_one_of_two() -> None:
    """The edge of the nose stands 990 mm up at the left, 800 mm at the right."""
    front = lined(corner_nose(990.0, y=-100.0), corner_nose(800.0, y=100.0))
    other = person("man p95")
    struck = SimpleNamespace(people=[person("man p50"), other])
    other.refused = True
    rows = {row.person: row for row in person_rows(front, PEOPLE, struck)}
    assert list(rows)[-1] == "six-year-old"
    man, tall = rows["average man (p50)"], rows["tall man (p95)"]
    assert man.edge_mm == pytest.approx(990.0)
    # 0.55 to 0.59 of 1755 mm and 25 mm of shoe: 990.25 to 1060.45.
    assert man.band_mm == pytest.approx((0.55 * 1755.0 + 25.0, 0.59 * 1755.0 + 25.0))
    assert [row.edge_against_centre_of_mass for row in rows.values()] == [
        "above", "above", "below", "below", "above",
    ]  # fmt: skip
    assert (man.motion, tall.motion) == (struck.people[0], None)
    assert man.heights == ADULTS[4].words
    assert not any(row.given for row in rows.values())
    # A plumb face from 300 mm up: every knee is met, at its own height.
    assert [row.first_touch for row in rows.values()] == ["knee"] * 5
    assert man.first_touch_mm == pytest.approx(0.3268 * 1755.0 - 84.7 + 25.0)
    assert (man.second_touch, man.second_touch_mm, man.second_later_mm) == ("none", None, None)
    nearer = lined(corner_nose(990.0, y=-100.0), corner_nose(800.0, y=50.0))
    assert [row.edge_mm for row in person_rows(nearer, PEOPLE)] == pytest.approx([800.0] * 5)


def test_a_row_says_where_the_knee_stands_and_what_stays_free() -> None:
    """A plumb face from 470 to 540 mm; below it the skin goes back by 12 mm a mm of height, above
    by 1.2: what is touched 60 mm in reaches from 465 to 590 mm."""
    points = [(900, 410), (600, 420), (0, 470), (0, 540), (300, 790), (1500, 890)]
    front = line_up(Front((Section(points),)), "UN-R127-02")
    rows = {row.person: row for row in person_rows(front, PEOPLE)}
    assert [row.knee for row in rows.values()] == ["below", "in", "in", "above the face", "below"]
    assert [row.first_touch for row in rows.values()] == ["knee"] * 4 + ["thigh"]
    tall, child = rows["tall man (p95)"], rows["six-year-old"]
    assert (tall.first_touch_mm, child.first_touch_mm) == (540.0, 470.0)
    hip = 0.5302 * 1870.0 - 26.2 + 25.0
    assert tall.free_mm == (pytest.approx((0.0, 465.0)), pytest.approx((590.0, hip)))
    assert (tall.edge_mm, tall.edge_against_centre_of_mass) == (pytest.approx(600.0), "below")


def test_a_row_says_what_is_met_next_and_how_much_later() -> None:
    """Upper lip at 520 mm, lower one at 320 mm and 20 mm behind it, a recess between."""
    points = [(300, 200), (90, 300), (40, 320), (90, 420), (20, 520), (100, 560), (240, 780),
              (250, 800), (1200, 900)]  # fmt: skip
    front = line_up(Front((Section(points),)), "UN-R127-02")
    man = person_rows(front, [ADULTS[4]])[0]
    assert (man.person, man.first_touch, man.first_touch_mm) == ("average man (p50)", "knee", 520.0)
    assert (man.second_touch, man.second_touch_mm, man.second_later_mm) == ("shin", 320.0, 20.0)


# --- what stands for itself --------------------------------------------------------


def area(name, *wads):
    points = tuple((0.0, 0.0, float(i)) for i in range(len(wads)))
    return HeadformArea(name, 1.0, (Outline(points, wads),) if wads else (), "ok")


def zones(y_min, y_max, child=(), adult=()):
    return SimpleNamespace(
        bumper_test_area=BumperArea(y_min, y_max, "corners", "ok"),
        child_area=area("child", *child), adult_area=area("adult", *adult),
    )  # fmt: skip


BEYOND = "Heads can land beyond 2100 mm along the skin (WAD), where no headform is aimed."
EDGE = (
    "The bonnet edge, 800 mm up, stands above the balance point of a six-year-old (671 to 717 mm): "
    "it tends to push the child ahead."
)


def test_what_holds_for_nearly_every_front() -> None:
    """0.56 to 0.60 of 1153.35 mm and 25 mm of shoe: 671 to 717 mm."""

    def said(made=None, people=PEOPLE, front=NOSE, findings=(), told=()):
        return standing(front, findings, people, made, told)

    assert said() == f"{EDGE} {BEYOND}"
    assert said(people=[CHILD]) == said()
    assert said(people=ADULTS) == BEYOND
    low = lined(corner_nose(700.0))
    assert said(front=low) == BEYOND
    full = zones(-560.4, 590.6, (1000.0, None, 1650.0), (1700.0, 1999.6))
    assert said(full, people=ADULTS) == (
        "No legform is aimed outboard of 560 mm left and 591 mm right of the centre. No test is "
        "aimed between the upper bumper line (UBRL) and the headform areas, which reach from 1000 "
        "to 2000 mm along the skin (WAD); heads can land behind them, beyond WAD 2100 too."
    )
    assert said(zones(None, 590.0), people=ADULTS) == BEYOND
    assert said(zones(-590.0, None), people=ADULTS) == BEYOND
    assert said(zones(-590.0, 0.0), people=ADULTS).startswith(
        "No legform is aimed outboard of 590 mm left and 0 mm right of the centre."
    )
    rows = [
        SimpleNamespace(code=code, message=f"{code} is said.")
        for code in ("LEG-LONG-LEAD", "LEG-OVERHANG", "BODY-EDGE-LOWER-END", "LEG-LINES-CROSSED")
    ]
    assert said(people=ADULTS, findings=rows, told={"LEG-LONG-LEAD"}) == (
        f"{BEYOND} BODY-EDGE-LOWER-END is said. LEG-LINES-CROSSED is said."
    )

"""Leg findings word by word: side, number, whom it concerns, and what settles it.

Noses have their lower lip at 320 mm and their bumper at 520 mm; what is expected is worked out by
hand from straight stretches. Legform limits: UN R127, 02 series, 5.1 (text read).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from frontcheck.errors import NotAvailableError
from frontcheck.findings.finding_rules import LEG_RULES
from frontcheck.findings.finding_settings import LegSettings
from frontcheck.findings.leg_findings import (
    _above,
    _free,
    _inside,
    _on,
    aimed_hits,
    hits_at,
    leg_findings,
)
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.people.people import PEOPLE, BodyHeight
from frontcheck.surface.section import Section
from frontcheck.zones.front_zones import BumperArea

MAN = next(person for person in PEOPLE if person.name == "man p50")
OWN = LegSettings()


def person(knee, name="tester", ankle=60.0, hip=900.0):
    def made(value):
        return BodyHeight(value, "made for the test", "text read")

    return replace(MAN, name=name, knee=made(knee), ankle=made(ankle), hip=made(hip))


def lips(lip=25.0, recess=60.0, bumper=20.0, edge=250.0, up=0.0, y=0.0):
    points = [(300, 200), (90, 300), (lip, 320), (recess, 420), (bumper, 520), (100, 560),
              (edge - 10, 780), (edge, 800), (1200, 900)]  # fmt: skip
    return Section([(x, z + up) for x, z in points], y)


def ram(low, high):
    return Section([(2000, low), (0, low), (0, high), (2000, high), (2500, high + 300)])


def found(sections, *people, area=None, symmetric=False):
    lined = line_up(Front(tuple(sections), symmetric=symmetric), "UN-R127-02")
    return {f.code: f for f in leg_findings(lined, people, area=area)}


LOWER = "lower legform test at y = 0 mm"
AGAIN = "height of LBRL, measured again at ride height at y = 0 mm"
SAID = {
    # Lip 20 mm behind; edge 90 mm behind. At 70 mm setback the underside is 308 mm high.
    "set back": (
        lips(lip=40, edge=110),
        [person(500.0), person(330.0, "low")],
        {
            "LEG-KNEE-FIRST": (
                (
                    "First touch at y = 0 mm is at the knee of tester; clearest here: 520 mm "
                    "high, 20 mm above the knee at 500 mm, within 50 mm."
                ),
                None,
            ),
            "LEG-THIGH-FIRST": (
                (
                    "First touch at y = 0 mm is on the thigh of low; clearest here: 520 mm "
                    "high, 190 mm above the knee at 330 mm, more than 50 mm."
                ),
                None,
            ),
            "LEG-NOTHING-LOW": (
                (
                    "Nothing low at y = 0 mm, the middle of the shin is free of tester, "
                    "low; clearest here for tester: lowest surface within 50 mm of the "
                    "bumper 308 mm high, above 262 mm."
                ),
                LOWER,
            ),
            "LEG-UNDERCUT": (
                (
                    "Lower lip at y = 0 mm stands behind the bumper; clearest here: 20.0 mm, "
                    "more than 10 mm (lip 320 mm and bumper 520 mm high)."
                ),
                LOWER,
            ),
            "LEG-OVERHANG": (
                (
                    "Face at y = 0 mm leans forward of vertical; clearest here: 40.0 mm "
                    "between 420 and 520 mm high, more than 15 mm."
                ),
                LOWER,
            ),
            "LEG-SHORT-LEAD": (
                ("Bumper lead at y = 0 mm is short; clearest here: 90.0 mm, less than 100 mm."),
                LOWER,
            ),
            "LEG-LOWER-LEGFORM": (
                (
                    "Lower bumper height at y = 0 mm calls for the lower legform; "
                    "clearest here: 320 mm, below 425 mm."
                ),
                AGAIN,
            ),
        },
    ),
    # 1 mm below 425. At 20 mm depth free from 460.4 to 611.5 mm: 36.4 mm above the lip, 12.5 mm
    # below the bumper. The knee of the legform is opened by the load's mean height.
    "lip ahead": (
        lips(lip=5, up=104),
        [person(450.0)],
        {
            "LEG-KNEE-FIRST": (
                (
                    "First touch at y = 0 mm is at the knee of tester; clearest here: 424 mm "
                    "high, 26 mm below the knee at 450 mm, within 50 mm."
                ),
                None,
            ),
            "LEG-LIP-AHEAD": (
                (
                    "Lower lip at y = 0 mm stands ahead of the bumper; clearest here: 15.0 "
                    "mm, more than 10 mm (lip 424 mm and bumper 624 mm high)."
                ),
                LOWER,
            ),
            "LEG-SPLIT-CONTACT": (
                (
                    "Leg at y = 0 mm is first held at two places; clearest here: 151 mm "
                    "free between 460 and 612 mm high, more than 50 mm."
                ),
                LOWER,
            ),
            "LEG-LEGFORM-NEAR": (
                (
                    "Lower bumper height at y = 0 mm is near a change of legform; clearest "
                    "here: 1.0 mm below 425 mm, within 15 mm."
                ),
                AGAIN,
            ),
            "LEG-KNEE-OPENS": (
                (
                    "Load at y = 0 mm opens the knee of the legform; clearest here: 0.89 "
                    "rad/s per N s, more than 0.72, with the load 518 mm high."
                ),
                LOWER,
            ),
        },
    ),
    "either": (
        lips(lip=5, up=105),
        [person(700.0)],
        {
            "LEG-HIGH-BUMPER": (
                (
                    "Lower bumper height at y = 0 mm lets the upper legform be used; "
                    "clearest here: 425 mm, not below 425 mm; legform: either."
                ),
                AGAIN,
            ),
            "LEG-LEGFORM-NEAR": (
                (
                    "Lower bumper height at y = 0 mm is near a change of legform; clearest "
                    "here: 0.0 mm above 425 mm, within 15 mm."
                ),
                AGAIN,
            ),
            "LEG-LIP-AHEAD": (None, f"{LOWER}, if the manufacturer chooses it"),
        },
    ),
    "upper": (
        ram(550, 600),
        [person(500.0)],
        {
            "LEG-HIGH-BUMPER": (
                (
                    "Lower bumper height at y = 0 mm lets the upper legform be used; "
                    "clearest here: 550 mm, not below 425 mm; legform: upper."
                ),
                AGAIN,
            ),
            "LEG-KNEE-FIRST": (
                (
                    "First touch at y = 0 mm is at the knee of tester; clearest here: 550 mm "
                    "high, 50 mm above the knee at 500 mm, within 50 mm."
                ),
                (
                    "push-in reading at the first touch at y = 0 mm; no legform has this "
                    "person's knee"
                ),
            ),
            "LEG-SHORT-LEAD": (
                ("Bumper lead at y = 0 mm is short; clearest here: 0.0 mm, less than 100 mm."),
                ("no legform of UN-R127-02 loads this at y = 0 mm; take a push-in reading there"),
            ),
        },
    ),
    # 341.5 mm below the flexible legform's knee: 1.440675 - 0.00682815 x 341.5; a fifth of it.
    "low": (
        ram(200, 260),
        [person(500.0)],
        {
            "LEG-KNEE-CLOSES": (
                (
                    "Load at y = 0 mm closes the knee of the legform; clearest here: -0.89 "
                    "rad/s per N s, less than -0.29, with the load 230 mm high."
                ),
                LOWER,
            ),
        },
    ),
    "long": (
        Section(
            [
                (300, 200),
                (90, 300),
                (25, 320),
                (60, 420),
                (20, 520),
                (100, 560),
                (430, 900),
                (1500, 950),
            ]
        ),
        [person(500.0)],
        {
            "LEG-LONG-LEAD": (
                ("Bumper lead at y = 0 mm is long; clearest here: 410.0 mm, more than 400 mm."),
                "a look at what both straight edges touch at y = 0 mm",
            ),
        },
    ),
    "trunk": (
        lips(),
        [person(300.0, hip=515.0)],
        {
            "LEG-TRUNK-FIRST": (
                (
                    "First touch at y = 0 mm is at hip or trunk of tester; clearest here: "
                    "520 mm high, 5 mm above the hip at 515 mm."
                ),
                None,
            ),
        },
    ),
}


@pytest.mark.parametrize("name", SAID)
def test_every_finding_says_its_numbers_and_sides(name: str) -> None:
    section, people, wanted = SAID[name]
    findings = found([section], *people)
    for code, (message, settled) in wanted.items():
        if message is not None:
            assert findings[code].message == message
        if settled is not None:
            assert findings[code].settled_by == settled
        assert findings[code].aside is False
    of_people = {"LEG-KNEE-FIRST", "LEG-THIGH-FIRST", "LEG-TRUNK-FIRST"}
    if set(wanted) & of_people:
        assert set(findings) & of_people == set(wanted) & of_people


def test_where_on_the_skin_a_finding_lies() -> None:
    """Ends of its stretch of contour from below upward, and the end that is drawn at a station."""
    section = lips(lip=40, edge=110)
    findings = found([section], person(500.0))
    lip, recess, bumper, edge, low = (40, 320), (60, 420), (20, 520), (110, 800), (70, 308)
    for code, first, last, drawn in (
        ("LEG-UNDERCUT", lip, bumper, bumper), ("LEG-OVERHANG", recess, bumper, bumper),
        ("LEG-SHORT-LEAD", bumper, edge, edge), ("LEG-LOWER-LEGFORM", lip, lip, lip),
        ("LEG-KNEE-FIRST", bumper, bumper, bumper), ("LEG-NOTHING-LOW", low, bumper, low),
    ):  # fmt: skip
        region = findings[code].region
        ends = section.at_arc_length(region.arc_mm)
        assert ends.tolist() == [pytest.approx(list(first)), pytest.approx(list(last))], code
        assert region.outline_mm == ((pytest.approx(drawn[0]), 0.0, pytest.approx(drawn[1])),)
    long = found([SAID["long"][0]], person(500.0))["LEG-LONG-LEAD"]
    assert long.region.outline_mm == ((430.0, 0.0, 900.0),)
    # At 424 mm, above 389 mm (knee band of the small woman), the lip is the bumper: within 50 mm of
    # its 5 mm the underside is 404 + 20 x 35 / 85 mm high.
    ahead = found([lips(lip=5, up=104)], person(450.0))["LEG-NOTHING-LOW"]
    assert ahead.value == pytest.approx(404.0 + 20.0 * 35.0 / 85.0)
    upper = found([ram(550, 600)], person(500.0))
    assert not {"LEG-KNEE-OPENS", "LEG-KNEE-CLOSES"} & set(upper)


def test_an_untouched_side_of_a_limit_is_not_told() -> None:
    """At the border itself: 10 mm of lip, 15 mm of overhang, 100 and 400 mm of lead, 50 mm free."""
    at = found([lips(lip=30, recess=35, edge=120)], person(300.0))
    assert not {"LEG-UNDERCUT", "LEG-OVERHANG", "LEG-SHORT-LEAD"} & set(at)
    assert "LEG-LIP-AHEAD" not in found([lips(lip=10)], person(300.0))
    assert "LEG-TRUNK-FIRST" not in found([lips()], person(300.0, hip=520.0))
    assert "LEG-THIGH-FIRST" not in found([lips()], person(470.0))
    assert found([lips()], person(570.0))["LEG-KNEE-FIRST"].value == -50.0
    for up, value in ((90.0, -15.0), (120.0, 15.0)):
        assert found([lips(up=up)], person(300.0))["LEG-LEGFORM-NEAR"].value == value


def test_people_are_named_by_whether_it_holds_for_them_at_every_station() -> None:
    """First touch 520 and 560 mm high: knees within 50 mm of both, of one, of none."""
    people = [person(535.0, "A"), person(480.0, "B"), person(600.0, "C"), person(700.0, "D")]
    pair = (lips(), lips(up=40.0, y=100.0))
    both = found(pair, *people)["LEG-KNEE-FIRST"]
    assert both.message == (
        "First touch at y = 0 to 100 mm is at the knee of A (at some of these stations also B, C); "
        "clearest at y = 0 mm for A: 520 mm high, 15 mm below the knee at 535 mm, within 50 mm."
    )
    assert both.person == "A, B, C"
    some = found(pair, people[1], people[2])["LEG-KNEE-FIRST"]
    assert "is at the knee of B, C at some of these stations; clearest at y = " in some.message
    assert some.message.count(" for ") == 1
    one = found(pair, people[1])["LEG-KNEE-FIRST"]
    assert one.message.startswith("First touch at y = 0 mm is at the knee of B; clearest here: ")
    alone = found(pair[:1], people[0])["LEG-KNEE-FIRST"]
    assert "; clearest here: 520 mm" in alone.message
    half = found(pair, people[0], symmetric=True)["LEG-KNEE-FIRST"]
    assert half.message.startswith(
        "First touch at y = 0 to 100 mm (either side) is at the knee of A;"
    )
    assert "clearest at y = 0 mm: 520 mm" in half.message


def test_a_split_leg_is_that_whose_knee_stands_in_the_gap_its_ends_counted() -> None:
    """Recess of 40 mm between lips at one setback: at 20 mm depth free from 370 to 470 mm."""
    section = lips(lip=20.0, recess=60.0)
    people = [person(k, str(k)) for k in (369.9, 370.0, 420.0, 470.0, 470.1)]
    split = found([section], *people)["LEG-SPLIT-CONTACT"]
    assert split.person == "370.0, 420.0, 470.0"
    assert split.message == (
        "Leg at y = 0 mm is first held at two places, around the knee of 370.0, 420.0, 470.0; "
        "clearest here for 370.0: 100 mm free between 370 and 470 mm high, more than 50 mm."
    )
    assert split.region.outline_mm == ((40.0, 0.0, 470.0),)
    # Nothing above the hip is of the leg.
    short = person(420.0, "short", hip=460.0)
    assert found([section], short)["LEG-SPLIT-CONTACT"].person == ""
    assert _free([(0.0, 10.0), (30.0, 40.0), (90.0, 95.0), (100.0, 120.0)]) == [
        (50.0, 40.0, 90.0), (20.0, 10.0, 30.0), (5.0, 95.0, 100.0),
    ]  # fmt: skip
    assert _free([(0.0, 10.0)]) == []


def test_whose_shin_stays_free_of_what_is_lowest() -> None:
    """Lowest surface 308 mm high; the middle between ankle at 60 mm and knee stands below it."""
    section = lips(lip=40, edge=110)
    people = [person(555.9, "A"), person(556.0, "B"), person(600.0, "C")]
    free = found([section], *people)["LEG-NOTHING-LOW"]
    assert free.person == "A"
    assert free.value == pytest.approx(308.0)
    nobody = found([section], *people[1:])["LEG-NOTHING-LOW"]
    assert (nobody.person, nobody.message) == (
        "",
        (
            "Nothing low at y = 0 mm; clearest here: lowest surface within 50 mm of the bumper 308 "
            "mm high, above 262 mm."
        ),
    )
    assert nobody.region.outline_mm == ((pytest.approx(70.0), 0.0, pytest.approx(308.0)),)


def test_where_no_legform_is_aimed_it_says_so_and_some_rules_are_silent() -> None:
    pair = [lips(lip=5, up=105), lips(lip=5, up=105, y=100.0)]
    every = {"LEG-HIGH-BUMPER", "LEG-LEGFORM-NEAR"}
    for area, ys in (
        (BumperArea(-50.0, 50.0, "corners", "ok"), (0.0,)),
        (BumperArea(50.0, 100.0, "corners", "ok"), (100.0,)),
        (BumperArea(-100.0, 99.9, "corners", "ok"), (0.0,)),
        (BumperArea(0.0, 100.0, "corners", "ok"), (0.0, 100.0)),
        (BumperArea(150.0, 200.0, "corners", "ok"), ()),
        (BumperArea(None, 50.0, "corners", "not_available"), (0.0, 100.0)),
        (BumperArea(-50.0, None, "corners", "not_available"), (0.0, 100.0)),
        (None, (0.0, 100.0)),
    ):
        findings = found(pair, person(300.0), area=area)
        for code in every:
            assert (findings[code].stations if ys else code not in findings) == (ys or True)
        lip = findings["LEG-LIP-AHEAD"]
        assert lip.stations == (0.0, 100.0)
        assert lip.station == (ys or (0.0,))[0]
        assert lip.settled_by == (
            f"lower legform test at y = {ys[0]:g} mm, if the manufacturer chooses it" if ys
            else "no legform of UN-R127-02 is aimed at y = 0 mm; take a push-in reading there"
        )  # fmt: skip
    station = line_up(Front((lips(),)), "UN-R127-02").stations[0]
    assert _inside(station, BumperArea(0.0, 0.0, "corners", "ok"))


def test_what_is_wanted_of_a_station_is_what_all_of_it_holds() -> None:
    """The assumed cases ask for some codes only."""
    people = [person(430.0, "A"), person(500.0, "B"), *PEOPLE]
    seen = set()
    for section in (lips(lip=40, edge=110), lips(lip=5, up=104), ram(200, 260), ram(550, 600)):
        lined = line_up(Front((section,)), "UN-R127-02")
        (station,) = lined.stations
        every = hits_at(lined, station, people, OWN)
        for code in LEG_RULES:
            wanted = [hit for hit in every if hit.rule.code == code]
            some = hits_at(lined, station, people, OWN, {code})
            assert [hit for hit in some if hit.rule.code == code] == wanted
            own = aimed_hits(lined, station, people, OWN, None, {code})
            assert [hit for hit in own if hit.rule.code == code] == wanted
            seen.add((code, bool(wanted)))
    assert {("LEG-SPLIT-CONTACT", True), ("LEG-KNEE-CLOSES", True), ("LEG-KNEE-OPENS", True),
            ("LEG-KNEE-FIRST", True), ("LEG-THIGH-FIRST", True)} <= seen  # fmt: skip


def test_a_line_that_is_missing_takes_only_what_rests_on_it() -> None:
    lined = line_up(Front((lips(lip=40, edge=110),)), "UN-R127-02")
    (station,) = lined.stations
    every = {hit.rule.code for hit in hits_at(lined, station, [MAN], OWN)}

    def without(**gone):
        parted = replace(station, **gone)
        return every - {hit.rule.code for hit in hits_at(lined, parted, [MAN], OWN)}

    def none(line):
        return replace(line, x=None, z=None)

    assert every >= {"LEG-SHORT-LEAD", "LEG-UNDERCUT", "LEG-LOWER-LEGFORM", "LEG-NOTHING-LOW"}
    assert without(BLERL=none(station.BLERL)) == {"LEG-SHORT-LEAD"}
    assert without(UBRL=none(station.UBRL)) == {"LEG-SHORT-LEAD", "LEG-UNDERCUT"}
    assert without(LBRL=none(station.LBRL)) == {"LEG-LOWER-LEGFORM", "LEG-UNDERCUT"}
    assert without(foremost=None) == {"LEG-NOTHING-LOW"}
    level = replace(station, UBRL=replace(station.UBRL, z=station.LBRL.z))
    codes = {hit.rule.code for hit in hits_at(lined, level, [MAN], OWN)}
    assert "LEG-LINES-CROSSED" not in codes
    crossed = replace(station, UBRL=replace(station.UBRL, z=station.LBRL.z - 2.0))
    (hit,) = (h for h in hits_at(lined, crossed, [MAN], OWN) if h.rule.code == "LEG-LINES-CROSSED")
    assert (hit.value, hit.detail) == (2.0, "LBRL 320 mm, UBRL 318 mm high")
    assert (hit.start, hit.end) == ((20.0, 318.0), (40.0, 320.0))


def test_small_words() -> None:
    assert (_above(0.0), _above(12.4), _above(-12.6)) == (
        "0 mm above", "12 mm above", "13 mm below",
    )  # fmt: skip
    assert _on(lips(), 470.0) == (40.0, 470.0)
    with pytest.raises(NotAvailableError, match="the section has nothing 950 mm high"):
        _on(lips(), 950.0)

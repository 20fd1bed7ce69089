"""Leg findings: every code on both sides of its threshold, grouping, and the demo fronts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from finding_sides import check_sides, sides_in

from frontcheck.caution import LEG_CAUTION
from frontcheck.documents import FindingEntry
from frontcheck.findings.finding_rules import LEG_RULES
from frontcheck.findings.finding_settings import LegSettings
from frontcheck.findings.leg_findings import leg_findings
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.people.people import PEOPLE, BodyHeight, Person
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.serializer import plain
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from frontcheck.findings.finding import Finding

ADULT = next(person for person in PEOPLE if person.name == "man p50")
# Knee above ground, blow at the knee and its fall per mm below, by hand from the momentum of two
# hinged links: rigid (test_rigid_legform.py), and flexible as if no bone bent.
LEGFORMS = {
    "UN-R127-00": (519.0, 1.807535, 0.00793918),
    "UN-R127-02": (571.5, 1.440675, 0.00682815),
}


def with_knee(knee: float, ankle: float = 60.0, hip: float = 900.0, name: str = "tester") -> Person:
    def made(value: float) -> BodyHeight:
        return BodyHeight(value, "made for the test", "text read")

    return replace(ADULT, name=name, knee=made(knee), ankle=made(ankle), hip=made(hip))


def lined(*sections: Section, rules: str = "UN-R127-02") -> LinedFront:
    return line_up(Front(sections), rules)


def lips(
    *,
    lip: float = 25.0,
    recess: float = 60.0,
    bumper: float = 20.0,
    edge: float = 250.0,
    up: float = 0.0,
    y: float = 0.0,
) -> Section:
    """Lower lip at 320, recess at 420, bumper at 520 mm high; LBRL is the lip, UBRL the bumper."""
    points = [
        (300.0, 200.0),
        (90.0, 300.0),
        (lip, 320.0),
        (recess, 420.0),
        (bumper, 520.0),
        (100.0, 560.0),
        (edge - 10.0, 780.0),
        (edge, 800.0),
        (1200.0, 900.0),
    ]
    return Section([(x, z + up) for x, z in points], y)


def ram(low: float, high: float, y: float = 0.0) -> Section:
    """A plumb face and nothing else near: the resultant is at its middle, whatever the depth."""
    return Section([(2000, low), (0, low), (0, high), (2000, high), (2500, high + 300.0)], y)


def found(
    section: Section, *people: Person, rules: str = "UN-R127-02", **settings: float
) -> tuple[Finding, ...]:
    return leg_findings(lined(section, rules=rules), people or (ADULT,), LegSettings(**settings))


def test_the_lines_of_the_nose_are_its_lips() -> None:
    station = lined(lips()).stations[0]
    assert (station.LBRL.x, station.LBRL.z) == (25.0, 320.0)
    assert (station.UBRL.x, station.UBRL.z) == (20.0, 520.0)
    assert (station.BLERL.x, station.BLERL.z) == (250.0, 800.0)


def test_knee_first() -> None:
    for near, far in ((471.0, 469.0), (569.0, 571.0)):
        nose = lips()
        (one,) = check_sides(
            "LEG-KNEE-FIRST", found(nose, with_knee(near)), found(nose, with_knee(far))
        )
        assert one.value == pytest.approx(520.0 - near)
        assert one.limit == (-50.0, 50.0)


def test_thigh_first() -> None:
    nose = lips()
    (one,) = check_sides(
        "LEG-THIGH-FIRST", found(nose, with_knee(469.0)), found(nose, with_knee(471.0))
    )
    assert (one.value, one.person) == (51.0, "tester")


def test_trunk_first() -> None:
    """The foremost point stands 520 mm up: above a hip at 519 mm, on the leg of one at 521 mm."""
    nose = lips()
    people = [with_knee(300.0, hip=hip) for hip in (519.0, 521.0)]
    (one,) = check_sides("LEG-TRUNK-FIRST", found(nose, people[0]), found(nose, people[1]))
    assert (one.value, one.limit, one.person) == (1.0, 0.0, "tester")
    assert "LEG-THIGH-FIRST" not in {f.code for f in found(nose, people[0])}


def test_no_finding_of_a_person_offers_or_reads_a_legform() -> None:
    """A thigh against the bumper is no result of a legform, and no legform settles it."""
    nose = lips()
    people = [with_knee(k, hip=h) for k, h in ((480.0, 900.0), (300.0, 900.0), (300.0, 519.0))]
    of_people = {"LEG-KNEE-FIRST", "LEG-THIGH-FIRST", "LEG-TRUNK-FIRST"}
    seen = {f.code: f for person in people for f in found(nose, person) if f.code in of_people}
    assert set(seen) == of_people
    for finding in seen.values():
        assert finding.settled_by.startswith("push-in reading at the first touch at y = 0 mm")
        assert "legform" not in finding.message
    for finding in found(nose, *PEOPLE):
        if "legform" in finding.message:
            assert finding.person == ""


@pytest.mark.parametrize("up", [104.0, 200.0])
def test_where_the_upper_legform_applies_the_lower_one_is_not_read(up: float) -> None:
    """LBRL at 424 mm: lower; at 520 mm: upper alone (UN R127, 02 series, 5.1, text read)."""
    findings = found(lips(up=up, lip=40.0))
    of_lower = {f.code for f in findings} & {"LEG-KNEE-OPENS", "LEG-KNEE-CLOSES"}
    assert bool(of_lower) == (up == 104.0)
    for finding in findings:
        assert up == 104.0 or "lower legform test" not in finding.settled_by


def low(height: float, setback: float) -> Section:
    """A plumb bumper from 400 to 600 mm, and a shelf whose front corner stands below it."""
    points = [(900.0, height - 0.1), (setback, height), (600.0, height + 10.0)]
    return Section([*points, (600.0, 390.0), (0.0, 400.0), (0.0, 600.0), (900.0, 900.0)])


def test_nothing_low() -> None:
    """Mid-shin of the small woman: ankle 0.039 x 1525 mm, knee 0.3268 x 1525 - 84.7 mm, in shoes of
    25 mm (sources in tests/validation/test_ansur.py)."""
    middle = 0.5 * (0.039 * 1525.0 + 0.3268 * 1525.0 - 84.7) + 25.0
    woman = next(person for person in PEOPLE if person.name == "woman p5")
    (one,) = check_sides(
        "LEG-NOTHING-LOW",
        found(low(middle + 1.0, 0.0), woman),
        found(low(middle - 1.0, 0.0), woman),
    )
    assert one.limit == pytest.approx(middle)
    check_sides("LEG-NOTHING-LOW", found(low(200.0, 50.5), woman), found(low(200.0, 49.5), woman))
    assert one.person == "woman p5"


def test_a_contour_that_ends_below_the_knee_band_is_held_against_itself() -> None:
    """Of the small woman it begins 50 mm below her knee, at 389 mm: the foremost point counts."""
    short = Section([(60.0, 280.0), (0.0, 300.0), (10.0, 360.0), (900.0, 380.0)])
    (one,) = [f for f in found(short, ADULT) if f.code == "LEG-NOTHING-LOW"]
    assert one.value == pytest.approx(280.0 + 10.0 / 3.0)


def test_nothing_low_is_no_line_where_the_contour_ends_open() -> None:
    """A face measured from 300 mm up may go on below: LBRL is an open end."""
    result = screen(Front((Section([(0.0, 300.0), (0.0, 600.0), (900.0, 900.0)]),)))
    assert result.stations[0].LBRL.status == "open_end"
    (one,) = [f for f in result.findings if f.code == "LEG-NOTHING-LOW"]
    assert "(open end: LBRL at y = 0 mm" in one.message
    assert "low_support" not in {line.theme for line in result.answer.lines}


def crossed(by: float) -> tuple[Finding, ...]:
    """UBRL put below LBRL by hand: two edges of the rule sets cannot cross in one section."""
    front = lined(lips())
    station = front.stations[0]
    upper = replace(station.UBRL, z=station.LBRL.z - by)
    return leg_findings(replace(front, stations=(replace(station, UBRL=upper),)), (ADULT,))


def test_lines_crossed() -> None:
    (one,) = check_sides("LEG-LINES-CROSSED", crossed(1.0), crossed(-1.0))
    assert one.value == pytest.approx(1.0)


def long_nose(edge: float) -> Section:
    """UBRL is the bumper at x = 20, BLERL the corner of the bonnet."""
    points = [(300, 200), (90, 300), (25, 320), (60, 420), (20, 520), (100, 560)]
    return Section([*points, (edge, 900), (1500, 950)])


def test_long_lead() -> None:
    (one,) = check_sides("LEG-LONG-LEAD", found(long_nose(421.0)), found(long_nose(419.0)))
    assert one.value == pytest.approx(401.0)


def test_lower_legform() -> None:
    check_sides("LEG-LOWER-LEGFORM", found(lips(up=104.0)), found(lips(up=105.0)))


def test_undercut() -> None:
    (one,) = check_sides("LEG-UNDERCUT", found(lips(lip=31.0)), found(lips(lip=29.0)))
    assert one.value == 11.0


def test_lip_ahead() -> None:
    (one,) = check_sides("LEG-LIP-AHEAD", found(lips(lip=9.0)), found(lips(lip=11.0)))
    assert one.value == 11.0


def test_overhang() -> None:
    (one,) = check_sides("LEG-OVERHANG", found(lips(recess=36.0)), found(lips(recess=34.0)))
    assert one.value == 16.0


def test_split_contact() -> None:
    # Between two lips at one setback, 200 mm apart, a recess of depth r leaves
    # 200 (1 - 20 / r) mm free at a depth of 20 mm: more than 50 mm from r = 26.67.
    people = (with_knee(420.0, name="inside"), with_knee(330.0, name="outside"))
    (one,) = check_sides(
        "LEG-SPLIT-CONTACT",
        found(lips(lip=20.0, recess=47.0), *people),
        found(lips(lip=20.0, recess=46.0), *people),
    )
    assert one.value == pytest.approx(200.0 * (1.0 - 20.0 / 27.0))
    assert one.person == "inside"
    nobody = found(lips(lip=20.0, recess=47.0), people[1])
    assert [f.person for f in nobody if f.code == "LEG-SPLIT-CONTACT"] == [""]


def test_short_lead() -> None:
    (one,) = check_sides("LEG-SHORT-LEAD", found(lips(edge=119.0)), found(lips(edge=121.0)))
    assert one.value == pytest.approx(99.0)


def test_high_bumper() -> None:
    (one,) = check_sides("LEG-HIGH-BUMPER", found(lips(up=105.0)), found(lips(up=104.0)))
    assert one.value == 425.0
    assert one.settled_by.startswith("height of LBRL, measured again")


def test_legform_near() -> None:
    for near, far in ((119.0, 121.0), (91.0, 89.0), (166.0, 164.0)):
        check_sides("LEG-LEGFORM-NEAR", found(lips(up=near)), found(lips(up=far)))


@pytest.mark.parametrize("rules", LEGFORMS)
def test_knee_opens(rules: str) -> None:
    """Half of the blow at the knee: 113.84 mm below it with the rigid legform, 105.50 with the
    flexible one."""
    knee, blow, fall = LEGFORMS[rules]
    border = 0.5 * blow / fall

    def face(below: float) -> Section:
        return ram(knee - below - 40.0, knee - below + 40.0)

    near, far = border - 0.8, border + 0.8
    (one,) = check_sides(
        "LEG-KNEE-OPENS", found(face(near), rules=rules), found(face(far), rules=rules)
    )
    assert one.value == pytest.approx(blow - near * fall, abs=1e-5)
    assert one.person == ""


@pytest.mark.parametrize("rules", LEGFORMS)
def test_knee_closes(rules: str) -> None:
    """A fifth of the blow beyond where it turns neither way: 273.21 and 253.19 mm below."""
    knee, blow, fall = LEGFORMS[rules]
    border = 1.2 * blow / fall

    def face(below: float) -> Section:
        return ram(knee - below - 40.0, knee - below + 40.0)

    (one,) = check_sides(
        "LEG-KNEE-CLOSES",
        found(face(border + 1.5), rules=rules),
        found(face(border - 1.5), rules=rules),
    )
    assert one.value is not None
    assert one.value < -0.2 * blow


def test_no_knee_of_a_legform_is_told_where_no_lower_legform_is_flown() -> None:
    """LBRL of 500 mm or more: upper legform (UN R127 02 series, 5.1, text read)."""
    for high, wanted in ((500.0, set()), (499.0, {"LEG-KNEE-OPENS"})):
        codes = {finding.code for finding in found(ram(high, high + 100.0))}
        assert codes & {"LEG-KNEE-OPENS", "LEG-KNEE-CLOSES"} == wanted


def test_every_leg_code_is_checked_on_both_sides_above() -> None:
    codes = [rule.code for rule in LEG_RULES.values()]
    assert len(set(codes)) == len(codes)
    assert sides_in(Path(__file__).read_text(encoding="utf-8")) == set(codes)


def test_rules_are_complete_and_models_say_first_that_stiffness_is_not_known() -> None:
    for rule in LEG_RULES.values():
        assert rule.topic == "leg"
        assert rule.code.startswith("LEG-")
        assert all((rule.title, rule.meaning, rule.limits, rule.source, rule.unit))
        if "load" in rule.title or rule.code in ("LEG-SPLIT-CONTACT",):
            assert rule.limits.startswith(LEG_CAUTION)


@pytest.mark.parametrize("code", [rule.code for rule in LEG_RULES.values()])
def test_default_settings_are_the_thresholds_of_the_rules(code: str) -> None:
    """What `explain` prints must be what is compared by default."""
    rule = LEG_RULES[code]
    noses = (
        lips(), lips(lip=40.0), lips(lip=0.0), lips(edge=110.0), lips(up=110.0), ram(100.0, 200.0),
        long_nose(450.0),
    )  # fmt: skip
    people = (with_knee(300.0), with_knee(480.0), *PEOPLE)
    every = [*crossed(5.0), *(f for nose in noses for f in found(nose, *people))]
    seen = [f for f in every if f.code == code]
    assert seen
    for finding in seen:
        if rule.threshold is not None:
            assert finding.limit == pytest.approx(rule.threshold)


def test_settings_move_thresholds_and_are_told() -> None:
    nose = lips(lip=40.0)
    (one,) = [f for f in found(nose, lip_mm=19.0) if f.code == "LEG-UNDERCUT"]
    assert one.limit == 19.0
    assert "19 mm" in one.message
    assert "LEG-UNDERCUT" not in {f.code for f in found(nose, lip_mm=21.0)}


@pytest.mark.parametrize("name", ["depth_mm", "lip_mm", "opens_share"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan")])
def test_settings_must_be_positive(name: str, value: float) -> None:
    with pytest.raises(ValueError, match=f"{name} must be a positive number"):
        LegSettings(**{name: value})


def test_neighbouring_stations_are_told_in_one_with_the_clearest_value() -> None:
    front = lined(
        lips(lip=40.0, y=0.0),
        lips(lip=45.0, y=100.0),
        lips(lip=25.0, y=200.0),
        lips(lip=42.0, y=300.0),
    )
    runs = [f for f in leg_findings(front, (ADULT,)) if f.code == "LEG-UNDERCUT"]
    assert [(f.station, f.value, len(f.region.outline_mm)) for f in runs] == [
        (100.0, 25.0, 2),
        (300.0, 22.0, 1),
    ]
    assert "y = 0 to 100 mm" in runs[0].message
    section = front.front.section(100.0)
    assert runs[0].region.arc_mm is not None
    ends = section.at_arc_length(runs[0].region.arc_mm)
    assert ends.tolist() == pytest.approx(
        [pytest.approx([45.0, 320.0]), pytest.approx([20.0, 520.0])]
    )


def test_people_are_named_together() -> None:
    people = (with_knee(500.0, name="A"), with_knee(540.0, name="B"), with_knee(350.0, name="C"))
    (one,) = [f for f in found(lips(), *people) if f.code == "LEG-KNEE-FIRST"]
    assert one.person == "A, B"
    assert "C" not in one.person


def test_front_out_of_reach_of_everything_gives_nothing() -> None:
    high = Section([(300, 2300), (0, 2400), (50, 2500), (900, 2700)])
    assert leg_findings(lined(high)) == ()
    heads = Section([(300, 1300), (0, 1400), (50, 1500), (900, 1700)])
    assert {f.code for f in leg_findings(lined(heads))} == {"LEG-TRUNK-FIRST"}


@pytest.fixture(scope="module")
def demo(root: Path) -> dict[str, LinedFront]:
    return {
        name: line_up(read_front(root / "geometries" / f"{name}.csv"), "UN-R127-02")
        for name in ("plover", "avocet")
    }


def test_demo_fronts_differ_in_a_way_to_follow(demo: dict[str, LinedFront]) -> None:
    """Plover is overhung with its lip set back, Avocet slopes from a lip ahead: as their files
    say in words. What follows from that is told of one and not of the other."""
    codes = {name: {f.code for f in leg_findings(front)} for name, front in demo.items()}
    only_plover = codes["plover"] - codes["avocet"]
    assert {"LEG-UNDERCUT", "LEG-OVERHANG", "LEG-KNEE-OPENS", "LEG-SHORT-LEAD"} <= only_plover
    assert "LEG-LIP-AHEAD" in codes["avocet"] - codes["plover"]


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_demo_lists_stay_readable_and_repeat(name: str, demo: dict[str, LinedFront]) -> None:
    findings = leg_findings(demo[name])
    assert 3 <= len(findings) <= 40
    again = leg_findings(demo[name])
    assert [plain(FindingEntry, f) for f in findings] == [plain(FindingEntry, f) for f in again]
    for finding in findings:
        assert finding.message.count(". ") == 0
        assert finding.message.endswith(".")
        assert f"at y = {finding.station:g} mm" in finding.settled_by

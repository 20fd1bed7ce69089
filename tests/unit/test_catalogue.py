"""Every finding code: source, limits, and tests on both sides.

`check_sides` (tests/finding_sides.py) is the check on both sides of a threshold; here the test
sources are read for codes that no test gives to it.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import fields, replace
from pathlib import Path
from typing import get_args

import pytest
from finding_sides import check_sides, holds, sides_in

from frontcheck.caution import PROVENANCES
from frontcheck.documents import Evidence, FindingEntry, Theme
from frontcheck.findings.catalogue import all_findings
from frontcheck.findings.explanations import explain
from frontcheck.findings.finding import (
    STRETCHES,
    Finding,
    Region,
    beyond,
    hits,
    in_order,
    stretch_of,
)
from frontcheck.findings.finding_rules import COMMON_PRACTICE, OWN_CHOICE, RULES, FindingRule
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.front.beside import HardPoint
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set_ids
from frontcheck.screening import screen
from frontcheck.serializer import plain
from frontcheck.sure.closure import CLOSURE_THRESHOLD
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import FrontZones, ZoneOptions

TESTS = Path(__file__).resolve().parent.parent
HARD_POINTS = (
    HardPoint(1020.0, 560.0, 850.0, "hinge", "hinge"),
    HardPoint(500.0, 0.0, 740.0, "air box", "lid"),
)


@pytest.fixture(scope="module", params=["plover", "avocet"])
def demo(request: pytest.FixtureRequest, geometries: Path) -> tuple[LinedFront, FrontZones]:
    of = line_up(read_front(geometries / f"{request.param}.csv"), "UN-R127-02")
    return of, zones_of(of, ZoneOptions(cut_mm=50.0))


# --- the codes ---------------------------------------------------------------------


def test_every_code_is_tested_on_both_sides() -> None:
    tested = set()
    for path in sorted(TESTS.rglob("test_*.py")):
        if path != Path(__file__).resolve():
            tested |= sides_in(path.read_text(encoding="utf-8"))
    assert set(RULES) - tested == set(), "codes without check_sides in any test"
    assert tested - set(RULES) == set(), "codes tested that are not in the catalogue"


def test_reader_of_test_sources_finds_what_it_should() -> None:
    inside = "def test_a():\n    check_sides('A-B', fires, silent)\n"
    assert sides_in(inside) == {"A-B"}
    assert sides_in(inside.replace("test_a", "helper")) == set()
    assert sides_in(inside.replace(", silent", "")) == set()
    assert sides_in(inside.replace("'A-B'", "code")) == set()
    assert sides_in(inside.replace("check_sides", "check")) == set()


def made(value: float, comparison: str, limit: float | tuple[float, float]) -> Finding:
    rule = replace(next(iter(RULES.values())), code="X", comparison=comparison, threshold=limit)  # type: ignore[arg-type]
    return Finding(rule, Region("somewhere"), None, value, "said", "settled")


@pytest.mark.parametrize(
    ("value", "comparison", "limit", "expected"),
    [
        (1.0, "<", 1.0, False),
        (1.0, "<=", 1.0, True),
        (1.0, ">", 1.0, False),
        (1.0, ">=", 1.0, True),
        (1.0, "within", (1.0, 2.0), True),
        (2.1, "within", (1.0, 2.0), False),
        (2.1, "outside", (1.0, 2.0), True),
        (1.5, "outside", (1.0, 2.0), False),
    ],
)
def test_check_of_sides_reads_comparisons(
    value: float, comparison: str, limit: float | tuple[float, float], expected: bool
) -> None:
    finding = made(value, comparison, limit)
    assert holds(finding) is expected
    if expected:
        assert check_sides("X", [finding], []) == (finding,)
        with pytest.raises(AssertionError):
            check_sides("X", [finding], [finding])
    else:
        with pytest.raises(AssertionError):
            check_sides("X", [finding], [])
    with pytest.raises(AssertionError, match="not found"):
        check_sides("X", [], [])


@pytest.mark.parametrize("code", RULES)
def test_rule_says_all_it_must(code: str) -> None:
    rule = RULES[code]
    assert rule.code == code
    assert re.fullmatch(r"(LEG|BODY|HEAD|GAP|MEASUREMENT)-[A-Z0-9]+(-[A-Z0-9]+)*", code)
    assert code.startswith(rule.topic.upper())
    for field in fields(FindingRule):
        if field.name not in ("threshold", "unit"):
            assert str(getattr(rule, field.name)).strip(), field.name
    assert rule.provenance in PROVENANCES
    assert len(rule.limits) > 30
    assert (rule.comparison == "is") == (rule.unit == "")
    if isinstance(rule.threshold, tuple):
        assert rule.threshold[0] < rule.threshold[1]
    # A finding states geometry; it never says what happens to somebody.
    assert not re.search(r"\b(will|would) (be )?injur|\bsafe\b|\bsafer\b", rule.meaning)


@pytest.mark.parametrize("code", RULES)
def test_a_rule_is_no_stronger_than_what_it_rests_on(code: str) -> None:
    """A threshold of our own is `practice`; `robust` is said of an answer, never of a rule."""
    rule = RULES[code]
    assert rule.theme in get_args(Theme)
    assert rule.evidence in set(get_args(Evidence)) - {"robust"}
    # One tag, that of what decides: a number of our own stands with its reason.
    assert (OWN_CHOICE in rule.source) == (rule.provenance == "own choice")
    assert (COMMON_PRACTICE in rule.source) == (rule.provenance == "common practice")
    if rule.provenance == "own choice":
        assert len(rule.source.partition(f"{OWN_CHOICE}: ")[2].split()) > 2
    if rule.provenance in ("own choice", "common practice"):
        assert rule.evidence in ("test", "practice")
    if rule.evidence == "study":
        assert re.search(r"\b(Matsui|Mueller|Monfort)\b", rule.source)
    # Only a depth that no pulse can do with contradicts physics.
    assert (rule.evidence == "bound") == (code == "HEAD-DEPTH-BELOW-BOUND")
    assert f"Evidence: {rule.evidence}: " in explain(code)


def test_every_theme_has_its_rules() -> None:
    assert {rule.theme for rule in RULES.values()} == set(get_args(Theme))


@pytest.mark.parametrize("comparison", ["<", "<=", ">", ">=", "within"])
@pytest.mark.parametrize("value", [0.9, 1.0, 1.5, 2.0, 2.1])
def test_a_rule_hits_exactly_where_its_comparison_holds(comparison: str, value: float) -> None:
    limit = (1.0, 2.0) if comparison == "within" else 1.0
    finding = made(value, comparison, limit)
    found = list(hits(finding.rule, value, limit, (0.0, 0.0), (0.0, 0.0), "said"))
    assert bool(found) is holds(finding)
    edges = limit if isinstance(limit, tuple) else (limit,)
    assert [hit.margin for hit in found] == [
        pytest.approx(min(abs(value - edge) for edge in edges)) for _ in found
    ]


@pytest.mark.parametrize(("value", "margin"), [(0.9, 0.1), (1.0, 0.0), (1.4, -0.4), (2.3, 0.3)])
def test_a_margin_is_signed_so_that_what_holds_is_positive(value: float, margin: float) -> None:
    assert beyond("outside", value, (1.0, 2.0)) == pytest.approx(margin, abs=1e-12)
    assert beyond("within", value, (1.0, 2.0)) == pytest.approx(-margin, abs=1e-12)
    assert beyond(">", value, 1.0) == -beyond("<=", value, 1.0) == value - 1.0


@pytest.mark.parametrize("code", RULES)
def test_shared_phrases_are_put_into_the_texts_of_a_rule(code: str) -> None:
    rule = RULES[code]
    for text in (rule.title, rule.meaning, rule.limits, rule.source):
        assert not set("{}\n") & set(text)
        assert "  " not in text


def test_a_threshold_of_a_closure_check_is_that_of_its_verdict() -> None:
    assert RULES["MEASUREMENT-CLOSURE"].threshold == CLOSURE_THRESHOLD


# --- all findings of a front -------------------------------------------------------


def test_demo_findings_agree_with_their_thresholds(demo: tuple[LinedFront, FrontZones]) -> None:
    found = all_findings(*demo, FindingSettings(hard_points=HARD_POINTS))
    assert {f.rule.topic for f in found} == {"leg", "body", "head", "gap"}
    for finding in found:
        assert RULES[finding.code] is finding.rule
        assert holds(finding), (finding.code, finding.value, finding.limit)
        assert finding.message.endswith(".")
        assert finding.settled_by
        entry = plain(FindingEntry, finding)
        assert entry["source"]
        assert entry["provenance"] in PROVENANCES


def test_demo_findings_are_few_enough_to_read(demo: tuple[LinedFront, FrontZones]) -> None:
    found = all_findings(*demo)
    assert len(found) <= 40
    # Told once for a run of stations, not station by station.
    assert max(Counter(f.code for f in found).values()) <= 4


def test_same_front_same_findings(demo: tuple[LinedFront, FrontZones]) -> None:
    once, again = (all_findings(*demo) for _ in range(2))
    entries = [[plain(FindingEntry, f) for f in found] for found in (once, again)]
    assert entries[0] == entries[1]


def test_order_is_from_the_ground_up_then_rearward(demo: tuple[LinedFront, FrontZones]) -> None:
    lined, _ = demo
    found = all_findings(*demo)
    ranks = [STRETCHES.index(stretch_of(lined, f)) for f in found]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) > 3
    # The order given does not matter.
    assert in_order(lined, found[::-1]) == found
    for before, after in zip(found, found[1:], strict=False):
        same = before.region.name == after.region.name and before.station and after.station
        if same and stretch_of(lined, before) == stretch_of(lined, after):
            assert before.station <= after.station


def test_regions_of_one_stretch_follow_the_contour(demo: tuple[LinedFront, FrontZones]) -> None:
    lined, _ = demo
    length = lined.front.section(0.0).length

    def at(name: str, share: float) -> Finding:
        region = Region(name, (share * length, share * length))
        return Finding(RULES["GAP-HARD-POINT"], region, 0.0, None, f"{name}.", "settled")

    rows = [at("c", 0.60), at("a", 0.65), at("b", 0.7)]
    assert {stretch_of(lined, f) for f in rows} == {"bonnet"}
    assert in_order(lined, rows[::-1]) == tuple(rows)


def test_place_decides_the_stretch(demo: tuple[LinedFront, FrontZones]) -> None:
    lined, _ = demo
    station = lined.stations[0]
    section = lined.front.section(station.y)
    rule = RULES["BODY-EDGE-ABOVE-MASS"]
    expected = []
    for line in (station.LBRL, station.UBRL, station.BLERL):
        assert line.x is not None
        assert line.z is not None
        region = Region("here", outline_mm=((line.x, station.y, line.z),))
        finding = Finding(rule, region, station.y, None, "said.", "settled")
        expected.append(stretch_of(lined, finding))
    assert expected == ["bumper", "bumper", "leading edge"]
    ends = {
        0.0: "below the bumper",
        section.length: "bonnet rear and windscreen",
    }
    for arc, stretch in ends.items():
        finding = Finding(rule, Region("here", (arc, arc)), station.y, None, "said.", "settled")
        assert stretch_of(lined, finding) == stretch
    nowhere = Finding(rule, Region("front"), None, None, "said.", "settled")
    assert stretch_of(lined, nowhere) == "whole front"


def test_the_two_demo_fronts_differ_where_a_reader_can_see_it(geometries: Path) -> None:
    codes = {}
    for name in ("plover", "avocet"):
        of = line_up(read_front(geometries / f"{name}.csv"), "UN-R127-02")
        codes[name] = {f.code for f in all_findings(of, zones_of(of))}
    # Plover: upright overhung face with two lips. Avocet: sloped face, lower lip ahead.
    assert {"LEG-NOTHING-LOW", "LEG-OVERHANG"} <= codes["plover"] - codes["avocet"]
    assert {"LEG-LIP-AHEAD", "GAP-NO-HEAD-AREA"} <= codes["avocet"] - codes["plover"]
    assert not codes["avocet"] & {"LEG-OVERHANG", "LEG-UNDERCUT"}


@pytest.mark.parametrize("rules", rule_set_ids())
def test_every_rule_set_gives_findings(rules: str, geometries: Path) -> None:
    of = line_up(read_front(geometries / "plover.csv"), rules)
    found = all_findings(of, zones_of(of, ZoneOptions(cut_mm=50.0)))
    assert all(holds(f) for f in found)
    assert len(found) > 10


def test_a_leg_finding_names_a_station_in_the_test_area_while_it_holds_at_one(geometries):
    lined = line_up(read_front(geometries / "plover.csv"), "UN-R127-02")
    zones = zones_of(lined)
    area = zones.bumper_test_area

    def aimed(y: float) -> bool:
        return area.y_min <= y <= area.y_max

    legs = [
        f for f in all_findings(lined, zones) if f.rule.topic == "leg" and f.station is not None
    ]
    assert any(not aimed(y) for f in legs for y in f.stations)
    for finding in legs:
        assert aimed(finding.station) == any(aimed(y) for y in finding.stations), finding.code
        if finding.code in ("LEG-HIGH-BUMPER", "LEG-LEGFORM-NEAR", "LEG-LOWER-LEGFORM"):
            assert all(aimed(y) for y in finding.stations), finding.code


def test_a_knee_or_shin_is_never_settled_by_an_upper_legform(geometries):
    for name in ("plover", "avocet"):
        for finding in screen(read_front(geometries / f"{name}.csv")).findings:
            if finding.rule.topic == "leg" and finding.code != "LEG-THIGH-FIRST":
                assert not finding.settled_by.startswith("upper legform test"), finding.code


def test_close_stations_find_what_stations_20_mm_apart_find(geometries) -> None:
    """A mesh cut every 5 mm shows nothing that the same mesh cut every 20 mm does not."""
    fine, coarse = (
        screen(read_front(geometries / "plover.stl", unit="mm", pitch=pitch)).findings
        for pitch in (5.0, 20.0)
    )
    assert [f.code for f in fine] == [f.code for f in coarse]
    assert [f.station for f in fine] == [f.station for f in coarse]

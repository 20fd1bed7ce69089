"""In how many of 100 assumed cases a line holds: against closed forms and plain re-screening."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
import shapely
from checks import Check, Source, derived
from click.testing import CliRunner
from corner_fronts import corner_nose
from scipy.stats import binomtest, norm

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.documents import Evidence
from frontcheck.errors import InputError
from frontcheck.findings.answer import answer
from frontcheck.findings.assumed_cases import (
    CASES,
    AssumedCases,
    held_again,
    in_100,
)
from frontcheck.findings.finding_rules import RULES, STRUCK_RULES
from frontcheck.findings.finding_settings import LegSettings
from frontcheck.lines.lined_front import line_up
from frontcheck.people.people import CHILD
from frontcheck.sure.draws import station_draws
from frontcheck.sure.shares import ROBUST_SHARE, is_robust

NORMAL = Check(
    "assumed-cases-normal",
    kind="closed form",
    quantity="in how many of 200 cases an uncertain edge stands above a limit",
    source=derived("normal distribution function"),
    why="a Latin hypercube of one input has one draw in each two-hundredth: one off at an end",
)
IN_FULL = Check(
    "assumed-cases-in-full",
    kind="independent method",
    quantity="whether a leg or body finding holds in an assumed case",
    source=Source("frontcheck, each drawn front screened in full like any other", known="derived"),
    why="yes or no: the same in every case",
)
LIMIT = Check(
    "robust-share",
    kind="independent method",
    quantity="whether a share of cases counts as robust",
    source=Source(
        "scipy.stats.binomtest", where="exact (Clopper-Pearson) lower limit", known="derived"
    ),
    why="yes or no: the same for every count",
)

ORDER = get_args(Evidence)
EXACT = fc.Uncertainty()
FEW = 20
"""Cases screened in full: each takes as long as a screening."""


def unsure(name: str, u: float, *stations: float) -> fc.Front:
    """Some stations of a demo front whose rows are all unsure by so much."""
    front = fc.read_front(f"geometries/{name}.csv")
    sections = tuple(
        fc.Section(s.points, s.y, s.parts, height_u=u, setback_u=u)
        for s in front.sections
        if s.y in stations
    )
    return replace(front, sections=sections)


def corner(height: float, u: float) -> fc.Front:
    """A section whose leading edge is one row, the only row that is not exact."""
    one = corner_nose(height)
    rows = np.where(one.points[:, 1] == height, u, 0.0)
    assert np.count_nonzero(rows) == 1
    return fc.Front((fc.Section(one.points, 0.0, one.parts, height_u=rows, setback_u=0.0),))


@pytest.mark.parametrize("height", [926.0, 933.5, 936.0, 945.0])
def test_a_corner_above_a_limit_holds_as_often_as_the_normal_distribution_says(height) -> None:
    """Waist of the small woman of 1525 mm: 0.6525 of that less 87.1 mm (source in test_ansur.py),
    in shoes of 25 mm; height unsure by 6 mm."""
    waist = 0.6525 * 1525.0 - 87.1 + 25.0
    lined = fc.screen(corner(height, 6.0), "UN-R127-02")
    code = "BODY-EDGE-ABOVE-WAIST"
    cases = AssumedCases.of(lined, EXACT, 1)
    held = held_again(lined, {code: (0.0,)}, cases, fc.FindingSettings(), None)[code]
    share = float(norm.cdf((height - waist) / 6.0))
    # A Latin hypercube of one input has a draw in every two-hundredth: one off at either end.
    NORMAL.compare(CASES * share, int(held.sum()), tolerance=1.0)
    other = AssumedCases.of(lined, EXACT, 2)
    again = held_again(lined, {code: (0.0,)}, other, fc.FindingSettings(), None)[code]
    NORMAL.compare(CASES * share, int(again.sum()), tolerance=1.0)
    assert (again != held).any()  # another seed, other cases


@pytest.mark.parametrize(
    ("name", "u"),
    [("plover", 2.0), ("plover", 5.0), ("avocet", 6.0)],
)
def test_a_case_holds_what_screening_it_in_full_finds(name, u) -> None:
    """Drawn fronts are screened like any other: surface, zones, findings and all."""
    stations = (0.0, 300.0, 580.0)
    lined = fc.screen(unsure(name, u, *stations))
    # What the motion of people gives has draws of its own.
    codes = [code for code, rule in RULES.items() if rule.topic in ("leg", "body")]
    codes = [code for code in codes if code not in STRUCK_RULES]
    settings, area = fc.FindingSettings(), lined.zones.bumper_test_area
    cases = AssumedCases.of(lined, EXACT, 3)
    held = held_again(lined, dict.fromkeys(codes, stations), cases, settings, area)
    drawn = [next(s.blocks())[2] for s in station_draws(lined.front, EXACT, CASES, 3)]
    seen = set()
    for k in range(FEW):
        sections = [
            fc.Section(points[k], s.y, s.parts, height_u=u, setback_u=u)
            for s, points in zip(lined.front.sections, drawn, strict=True)
        ]
        found = fc.screen(replace(lined.front, sections=tuple(sections)))
        for code in codes:
            ours = [f for f in found.findings if f.code == code and not f.aside]
            at = {y for f in ours for y in f.stations}
            wanted = 2 * len(at) >= len(stations) and any(f.person != CHILD.name for f in ours)
            IN_FULL.same(wanted, bool(held[code][k]), case=f"{name}, {code}, case {k}")
            seen.add((code, wanted))
    # It is no test where all cases are alike: some codes hold in some of them only.
    assert len(seen) > len({code for code, _ in seen})


@pytest.mark.parametrize("start", ["section", "vehicle"])
@pytest.mark.parametrize("datum", ["local", "common"])
def test_cases_are_refused_where_no_tape_of_the_vehicle_can_start(start, datum) -> None:
    """A tape from the foremost point of the vehicle needs setbacks from one datum."""
    lined = line_up(
        replace(unsure("plover", 2.0, 0.0, 300.0), datum=datum), "UN-R127-02", tape_start=start
    )
    if (start, datum) == ("vehicle", "local"):
        with pytest.raises(InputError, match="tape"):
            AssumedCases.of(lined, EXACT, 1)
    else:
        assert AssumedCases.of(lined, EXACT, 1).seed == 1


def test_a_contour_that_crosses_itself_holds_nothing() -> None:
    """Told from the others by shapely."""
    lined = fc.screen(unsure("plover", 12.0, 0.0))
    cases = AssumedCases.of(lined, EXACT, 1)
    codes = [code for code, rule in RULES.items() if rule.topic in ("leg", "body")]
    held = held_again(lined, dict.fromkeys(codes, (0.0,)), cases, fc.FindingSettings(), None)
    drawn = next(station_draws(lined.front, EXACT, CASES, 1)[0].blocks())[2]
    simple = shapely.is_simple(shapely.linestrings(drawn))
    assert 0 < int(simple.sum()) < CASES
    anything = np.any(list(held.values()), axis=0)
    assert (anything == simple).all()


@pytest.mark.parametrize("count", [0, 1, 100, 170, 178, 179, 180, 199, 200])
def test_robust_is_what_the_exact_lower_limit_says(count) -> None:
    """SciPy's exact (Clopper-Pearson) limit of a share, one-sided."""
    limit = binomtest(count, CASES, alternative="greater").proportion_ci(0.95, "exact").low
    LIMIT.same(bool(limit >= ROBUST_SHARE), is_robust(count, CASES))
    assert CASES >= 200


def test_a_count_is_100_only_where_all_cases_hold() -> None:
    assert [in_100(n) for n in (0, 1, 2, 170, 199, 200)] == [0, 0, 1, 85, 99, 100]


@pytest.fixture(scope="module")
def fronts() -> dict[str, fc.Screening]:
    return {
        name: fc.screen(unsure(name, u, 0.0, 300.0, 580.0), cases=EXACT)
        for name, u in (("plover", 2.0), ("avocet", 2.0))
    }


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_only_what_was_looked_for_again_claims_a_count(fronts, name) -> None:
    lines = fronts[name].answer.lines
    for line in lines:
        again = all(RULES[code].topic in ("leg", "body") for code in line.findings)
        assert (line.holds_in_100 is not None) == again
    assert {line.holds_in_100 is None for line in lines} == {True, False}
    # Without cases nothing is claimed, and the same things stand out.
    bare = replace(fronts[name], cases=None).answer
    assert all(line.holds_in_100 is None for line in bare.lines)
    assert "robust" not in {line.evidence for line in bare.lines}
    assert {line.text for line in bare.lines} == {line.text for line in lines}


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_order_is_bound_test_robust_study_practice_and_own_choice_never_leads(fronts, name) -> None:
    lines = fronts[name].answer.lines
    ranks = [ORDER.index(line.evidence) for line in lines]
    assert ORDER == ("bound", "test", "robust", "study", "practice")
    assert all(a <= b for a, b in pairwise(ranks))
    assert RULES[lines[0].findings[0]].provenance != "own choice"
    for line in lines:
        own = RULES[line.findings[0]].evidence
        # It is never made weaker, and robust only where nearly all cases hold.
        assert ORDER.index(line.evidence) <= ORDER.index(own)
        if line.evidence == "robust":
            assert line.holds_in_100 is not None
            assert line.holds_in_100 >= 85
    assert "robust" in {line.evidence for line in lines}


def test_what_hangs_on_the_measurement_is_not_robust() -> None:
    """How far the lip stands behind the bumper, against limits below, about and above it."""
    front = unsure("plover", 2.0, 300.0)
    shares = {}
    for lip in (1.0, 14.0, 60.0):
        settings = fc.FindingSettings(leg=LegSettings(lip_mm=lip))
        lined = fc.screen(front, finding_settings=settings)
        cases = AssumedCases.of(lined, EXACT, 1)
        held = held_again(lined, {"LEG-UNDERCUT": (300.0,)}, cases, settings, None)
        shares[lip] = int(held["LEG-UNDERCUT"].sum())
    assert shares[60.0] == 0
    assert is_robust(shares[1.0], CASES)
    assert 0 < shares[14.0] < CASES
    assert not is_robust(shares[14.0], CASES)


def test_the_same_seed_gives_the_same_answer_and_the_document_says_it(fronts) -> None:
    once = fronts["plover"]
    twice = fc.screen(once.front, cases=EXACT)
    assert twice.answer == once.answer
    lines = once.to_dict()["answer"]["lines"]
    counts = [line.holds_in_100 for line in once.answer.lines]
    assert [line["holds_in_100"] for line in lines] == counts
    assert answer(once, once.findings, None, once.zones, once.cases) == once.answer


def test_cases_need_an_uncertainty() -> None:
    front = fc.Front((fc.Section(corner_nose(900.0).points),))
    with pytest.raises(InputError, match="uncertain"):
        fc.screen(front, cases=EXACT)


def test_the_command_says_it_from_200_draws_on(tmp_path) -> None:
    text = Path("geometries/plover.csv").read_text("utf-8").splitlines(keepends=True)
    kept = ("#", "station", "0,", "300,", "580,")
    path = tmp_path / "few.csv"
    path.write_text("".join(row for row in text if row.startswith(kept)), "utf-8")
    said = {}
    for draws in ("100", "200"):
        result = CliRunner().invoke(main, ["screen", str(path), "--draws", draws])
        assert result.exit_code == 0, result.output
        said[draws] = " ".join(result.output.split())
    assert "assumed cases" not in said["100"]
    assert "how sure each line is, by the errors stated: --draws 200" in said["100"]
    front = fc.read_front(path)
    for line in fc.screen(front, cases=fc.Uncertainty.of(front)).answer.lines:
        claim = f"{line.text}; holds in {line.holds_in_100} of 100 assumed cases"
        assert (claim in said["200"]) == (line.holds_in_100 is not None)
    assert "assumed cases: measured again, with other errors of the size stated" in said["200"]

"""The search for the least change piece by piece: ranks, halves, margins, and what is claimed."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.rules.ruleset import rule_set
from frontcheck.study import solve as solving
from frontcheck.study.nose_dimensions import Nose
from frontcheck.study.noses import facets_for
from frontcheck.study.search import (
    Problem,
    _back_toward_base,
    _by_gradient,
    _by_pattern,
    _globally,
    _halved,
    _steps,
    bound,
)
from frontcheck.study.solve import LineChange, _check, _missed, _read, _widened, solve
from frontcheck.study.study import Limit, Setup, Study, Varied
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes
from frontcheck.surface.section import Section

INF = math.inf
POINTS = [(400, 190), (200, 200), (40, 300), (70, 400), (0, 500), (60, 750), (500, 860),
          (1000, 930), (1500, 1200)]  # fmt: skip
PARTS = ["underside"] * 2 + ["bumper"] * 3 + ["bonnet"] * 3 + ["windscreen"]


def study(*limits: Limit, low=-40.0, high=40.0, names=("lower_lip_up_mm",), base=None) -> Study:
    """A polygon whose lower bumper line is its lower lip, 300 mm high."""
    shapes = base or FrontShapes(Front((Section(POINTS, 0.0, PARTS),)), names, (0.0,))
    varied = tuple(Varied(name, "mm", low, high) for name in names)
    setup = Setup(shapes, rule_set("UN-R127-02"), (1000.0,))
    return Study("s", setup, varied, "list", 1, np.zeros((1, len(names))), limits=limits)


def most(at: float, line: str = "LBRL_z_mm", p: float | None = None) -> Limit:
    return Limit(line, None, -INF, at, p)


def least(at: float, line: str = "LBRL_z_mm") -> Limit:
    return Limit(line, None, at, INF)


def test_violations_are_signed_and_count_their_margins() -> None:
    both = Limit("LBRL_z_mm", None, 295.0, 310.0)
    problem = Problem(study(both, least(495.0, "UBRL_z_mm")), (0.0, 2.0))
    values = np.array([[0.0], [12.0], [-9.0]])
    assert problem.violations(values) == pytest.approx(
        np.array([[-10.0, -5.0, -3.0], [2.0, -17.0, -3.0], [-19.0, 4.0, -3.0]])
    )
    assert problem.missed(values) == pytest.approx([0.0, 2.0, 4.0])
    margins = Problem(study(both), (3.0,)).violations(values[:1])
    assert margins == pytest.approx(np.array([[-7.0, -2.0]]))
    # 1e5 where a line is missing; ten times it where a shape cannot be made.
    gone = Problem(study(least(0.0, "WAD_1000_z_mm"), low=-900.0, high=900.0), (0.0,))
    assert gone.violations(np.array([[420.0]])).tolist() == [[1e6]]


def test_ranks_put_what_keeps_the_limits_first_and_of_that_the_least_travel() -> None:
    problem = Problem(study(most(310.0)), (0.0,))
    values = np.array([[-8.0], [0.0], [10.0], [13.0]])
    assert problem.rank(values) == pytest.approx([8.0, 0.0, 10.0, 1e4 + 3.0])
    # Within a greatest travel it is that of the whole skin that counts.
    far = problem.shapes.travel(values)
    overall = np.sqrt((far * far).mean(axis=1))
    assert problem.rank(values, 9.0) == pytest.approx(
        [overall[0], 0.0, 1e5 + overall[2], 1e6 + 3.0]
    )
    one, two = np.array([5.0]), np.array([-5.0])
    assert problem.better(one, two) is one  # the first of equals
    assert problem.better(two, np.array([4.0])).tolist() == [4.0]


def test_the_way_back_ends_where_the_limits_are_just_kept() -> None:
    problem = Problem(study(most(290.0)), (0.0,))
    assert _back_toward_base(problem, np.array([-30.0])) == pytest.approx([-10.0], abs=1e-6)
    kept = problem.missed(_back_toward_base(problem, np.array([-30.0]))[None])
    assert kept[0] == 0.0
    bad = np.array([-5.0])
    assert _back_toward_base(problem, bad) is bad


def two_ways() -> Problem:
    """The lip must come down by 6 and go back by 8: 10 mm of skin (Pythagoras), no less."""
    names = ("lower_lip_up_mm", "lower_lip_back_mm")
    asked = study(most(294.0), least(48.0, "LBRL_x_mm"), names=names)
    varied = (Varied(names[0], "mm", -30.0, 12.0), Varied(names[1], "mm", -9.0, 45.0))
    return Problem(replace(asked, varied=varied), (0.0, 0.0))


ONE_WAY = Problem(study(most(290.0), low=-40.0, high=25.0), (0.0,))


@pytest.mark.parametrize(
    ("problem", "start", "best"),
    [(ONE_WAY, [-33.0], [-10.0]), (two_ways(), [-15.0, 30.0], [-6.0, 8.0])],
    ids=["one way", "two ways"],
)
def test_every_step_of_the_search_alone_comes_to_the_least_change(problem, start, best) -> None:
    """Steps check and repair each other; alone each must do so too, from a change that is kept."""
    start, best = np.array(start), np.array(best)
    found = _by_pattern(problem, start, 1)
    assert found == pytest.approx(best, abs=1e-4)
    assert problem.missed(found[None])[0] == 0.0
    found = _by_gradient(problem, start)
    assert found == pytest.approx(best, abs=1e-5)
    assert problem.missed(found[None])[0] == 0.0


def test_of_changes_that_move_no_point_farther_one_that_moves_less_is_found() -> None:
    """Lip down by 10 with the ride height or without: nearly without it, the rest stays."""
    names = ("lower_lip_up_mm", "ride_height_up_mm")
    problem = Problem(study(most(290.0), names=names), (0.0,))
    start = np.array([-4.0, -6.0])
    assert problem.missed(start[None])[0] == 0.0
    found = _by_gradient(problem, start, 10.0 + 5e-7)
    # Points go f u + v, f 1 at the lip, where u + v = -10: of the sum of squares the least.
    f = problem.shapes.fields[0].fields[0][:, 1]
    v = 10.0 * (f * (1.0 - f)).sum() / ((1.0 - f) ** 2).sum()
    assert found == pytest.approx([-10.0 - v, v], abs=1e-3)
    ranks = problem.rank(np.stack([start, found]), 10.0 + 5e-7)
    assert ranks[1] < ranks[0]


def test_the_first_look_over_all_ranges_comes_near() -> None:
    found = _globally(ONE_WAY, 1, ())
    assert -10.5 < found[0] <= -10.0 + 1e-8


def test_boxes_are_cut_across_their_relatively_longest_side() -> None:
    lo, hi = np.array([[0.0, 0.0], [2.0, 10.0]]), np.array([[4.0, 10.0], [6.0, 12.0]])
    low, high = _halved(lo, hi, np.array([10.0, 10.0]))
    assert low.tolist() == [[0.0, 0.0], [2.0, 10.0], [0.0, 5.0], [4.0, 10.0]]
    assert high.tolist() == [[4.0, 5.0], [4.0, 12.0], [4.0, 10.0], [6.0, 12.0]]
    low, _ = _halved(lo[:1], hi[:1], np.array([4.0, 100.0]))
    assert low.tolist() == [[0.0, 0.0], [2.0, 0.0]]
    assert _steps(2, 0.5).tolist() == [
        [0.0, 0.0], [0.5, 0.0], [0.0, 0.5], [-0.5, 0.0], [0.0, -0.5]
    ]  # fmt: skip


HOW = (
    "Shown by bounds over boxes of parameter values that hold for every shape in a box, not for "
    "samples; {} boxes; rounding allowance 1e-06 mm."
)
NONE = "the limits cannot be kept by moving the skin less than"
WHICH = "LBRL_x_mm, LBRL_z_mm, UBRL_x_mm, UBRL_z_mm, BLERL_x_mm, BLERL_z_mm, bumper_lead_mm"


def test_what_is_proven_and_how_it_is_said() -> None:
    none = bound(study(most(259.9)))
    assert (none.status, none.least_mm) == ("none_exists", None)
    limit = "LBRL_z_mm at most 259.9 mm at all stations"
    how = HOW.format(none.boxes)
    assert none.text == f"Proven: nothing within the ranges keeps all of: {limit}. {how}"
    at_border = bound(study(most(260.0)))
    assert at_border.status != "none_exists"  # the lip can be as low as 260 mm
    # The lip must come down by 10 mm; proven to two in a hundred (own choice).
    proven = bound(study(most(290.0)), 10.0)
    assert proven.status == "least_change"
    assert 9.8 <= proven.least_mm <= 10.0
    how = HOW.format(proven.boxes)
    assert proven.text == f"Proven: {NONE} {proven.least_mm:.4g} mm within the ranges. {how}"
    few = bound(study(most(290.0)), 10.0, most_boxes=4)
    assert few.status == "open"
    assert few.boxes <= 6
    if few.least_mm > 0.0:
        assert few.text.startswith(f"Proven only: {NONE} {few.least_mm:.4g} mm within the ranges.")
    once = bound(study(most(290.0)), None, most_boxes=1)
    assert (once.status, once.least_mm, once.text) == ("open", 0.0, "No proof within 1 boxes.")


def test_where_nothing_can_be_proven_it_says_why() -> None:
    wad = bound(study(most(5.0, "WAD_1000_x_mm")))
    assert (wad.status, wad.least_mm, wad.boxes) == ("not_available", None, 0)
    assert wad.text == (
        f"no proof: none of the limits is on a line that can be enclosed, which are {WHICH}"
    )
    nose = NoseShapes(Nose(), ("lead_mm",), (0.0,), facets_for(Nose().values[None]), 0.02)
    made = bound(study(most(500.0), names=("lead_mm",), low=90.0, high=110.0, base=nose), 1.0)
    assert made.text == (
        "That nothing smaller does is a result of the search and not proven: how far the skin of a "
        "parametric nose travels is not enclosed."
    )
    short = FrontShapes(Front((Section(POINTS[:6]),)), ("lower_lip_up_mm",), (0.0,))
    ended = "is on a line with an open end: what lies beyond the measured surface could change it"
    text = "BLERL_z_mm at most 700 mm at all stations"
    alone = bound(study(most(700.0, "BLERL_z_mm"), base=short))
    assert alone.text == f"no proof: {text} {ended}"
    beside = bound(study(most(700.0, "BLERL_z_mm"), most(200.0), base=short))
    assert beside.status == "none_exists"
    assert beside.text.endswith(f" mm. Left out: {text} {ended}.")
    open_end = bound(study(most(700.0, "BLERL_z_mm"), most(290.0), base=short), None, 1)
    assert open_end.text == f"No proof within 1 boxes. Left out: {text} {ended}."


# What a solution says of each line.


@pytest.mark.parametrize(
    ("limit", "after", "more", "kept"),
    [
        (most(300.0), 300.0 + 9e-7, {}, True),
        (most(300.0), 300.0 + 2e-6, {}, False),
        (least(300.0), 300.0 - 9e-7, {}, True),
        (least(300.0), 300.0 - 2e-6, {}, False),
        (most(300.0), None, {}, False),
        (most(300.0), 299.0, {"after_open_end": True}, False),
        (most(300.0), 299.0, {"before_open_end": True}, True),
        (most(300.0, p=0.9), 299.0, {"probability": 0.9}, True),
        (most(300.0, p=0.9), 299.0, {"probability": 0.899}, False),
        (most(300.0, p=0.9), 299.0, {}, False),
        (most(300.0), 299.0, {"probability": 0.1}, True),
    ],
)
def test_a_line_keeps_its_limit_or_does_not(limit, after, more, kept) -> None:
    assert LineChange(limit, 0.0, 310.0, after, **more).kept is kept


def test_how_far_a_limit_is_missed() -> None:
    both = Limit("LBRL_z_mm", None, 290.0, 300.0)
    assert [_missed(both, at) for at in (285.0, 290.0, 294.0, 300.0, 303.0)] == [5, 0, -4, 0, 3]


def test_margins_widen_by_what_is_missed_or_by_what_a_chance_lacks() -> None:
    one, two = most(300.0), most(500.0, p=0.95)
    asked = study(one, two)

    def line(limit: Limit, after: float | None, p: float | None = None, **more) -> LineChange:
        return LineChange(limit, 0.0, 0.0, after, p, **more)

    assert _widened(asked, (line(one, 303.0),), [1.0, 0.0]) == [pytest.approx(4.0 + 2e-6), 0.0]
    worst = (line(one, 303.0), line(one, 305.0), line(one, 299.0))
    assert _widened(asked, worst, [1.0, 0.0]) == [pytest.approx(6.0 + 2e-6), 0.0]
    lost = (line(one, None), line(one, 305.0, after_open_end=True))
    assert _widened(asked, lost, [1.0, 0.5]) == [1.0, 0.5]
    # Standard normal: a share of 0.8413 lies one spread inside, 0.95 lies 1.645 (from tables).
    inside = _widened(asked, (line(two, 498.0, 0.841345),), [0.0, 0.5])
    assert inside == [0.0, pytest.approx(0.5 + 0.644854 * 2.0 * 1.05 + 0.05, abs=1e-4)]
    slight = _widened(asked, (line(two, 499.895, 0.841345),), [0.0, 0.0])
    assert slight == [0.0, pytest.approx(0.644854 * 0.105 * 1.05 + 0.05, abs=1e-4)]
    wide = _widened(asked, (line(two, 498.0, 0.621720),), [0.0, 0.0])  # 0.31 spreads inside
    assert wide == [0.0, pytest.approx(1.334854 * 2.0 / 0.31 * 1.05 + 0.05, abs=1e-3)]
    # So near the limit that no spread can be told: 1.5 mm (own choice).
    near = _widened(asked, (line(two, 499.95, 0.5),), [0.0, 0.0])
    assert near == [0.0, pytest.approx(1.644854 * 1.5 * 1.05 + 0.05, abs=1e-4)]
    outside = _widened(asked, (line(two, 504.0, 0.0),), [0.0, 0.0])
    assert outside == [0.0, pytest.approx((1.644854 + 3.090232) * 1.5 * 1.05 + 0.05, abs=1e-4)]


def test_numbers_are_read_off_a_station_by_their_names() -> None:
    marks = {1000.0: Fake(x=1.0, z=2.0, status="ok"), 1500.0: Fake(x=3.0, z=4.0, status="open_end")}
    station = Fake(
        bumper_lead=80.0, lead_open_end=True, wad=marks.__getitem__,
        LBRL=Fake(x=5.0, z=6.0, status="ok"), UBRL=Fake(x=None, z=None, status="not_reached"),
    )  # fmt: skip
    assert _read(station, "bumper_lead_mm") == (80.0, True)
    assert _read(station, "WAD_1000_x_mm") == (1.0, False)
    assert _read(station, "WAD_1500_z_mm") == (4.0, True)
    assert _read(station, "LBRL_z_mm") == (6.0, False)
    assert _read(station, "UBRL_x_mm") == (None, False)


def test_a_chance_of_two_ends_is_what_neither_takes(monkeypatch) -> None:
    asked = []

    def drawn(front, rules, wad, *, draws, seed, thresholds):
        asked.append((draws, seed, thresholds))
        shares = [Fake(below=0.9, at_or_above=0.1), Fake(below=0.25, at_or_above=0.75)]
        return Fake(stations=[Fake(thresholds=shares[: len(thresholds)])])

    monkeypatch.setattr("frontcheck.sure.intervals.tolerance", drawn)
    screening = Fake(front=Front((Section(POINTS),)), rules=None, wad=())
    both = Limit("LBRL_z_mm", None, 290.0, 310.0, 0.5)
    assert solving._chance(screening, both, 0.0, 7) == pytest.approx(0.9 + 0.75 - 1.0)
    assert asked == [(4000, 7, [("LBRL_z_mm", 310.0), ("LBRL_z_mm", 290.0)])]
    assert solving._chance(screening, most(310.0, p=0.5), 0.0, 7) == pytest.approx(0.9)
    assert solving._chance(screening, least(290.0), 0.0, 7) == pytest.approx(0.1)


def test_what_cannot_be_searched_is_refused() -> None:
    for asked, words in (
        (study(), "found no limits; expected at least one [[limits]] in the study"),
        (study(most(1.0, "head_wad")), "found 'head_wad'; expected a line of the front"),
        (
            study(most(1.0), low=1.0),
            "found lower_lip_up_mm = 0 at the base, outside its range 1 to",
        ),
        (study(most(1.0), high=-1.0), "at the base, outside its range -40 to -1; expected a range"),
    ):
        with pytest.raises(InputError) as caught:
            _check(asked)
        assert words in str(caught.value)
    for ends in ({"low": 0.0}, {"high": 0.0}):
        _check(study(most(1.0), **ends))


def test_what_is_said_of_a_base_that_keeps_its_limits() -> None:
    found = solve(study(most(300.0), least(300.0)))
    assert found.reason == ("The base keeps all limits already; verified by a fresh screening.")
    assert (found.status, found.proof.text) == ("met", "Nothing needs to move.")
    assert (found.proof.status, found.proof.least_mm, found.proof.boxes) == ("least_change", 0.0, 0)
    document = found.to_dict()
    assert document["proven_least_mm"] == 0.0
    row = document["lines"][1]
    assert (row["at_least_mm"], row["at_most_mm"]) == (300.0, None)
    assert document["parameters"] == [
        {"name": "lower_lip_up_mm", "unit": "mm", "low": -40.0, "high": 40.0, "base": 0.0,
         "solution": None}
    ]  # fmt: skip

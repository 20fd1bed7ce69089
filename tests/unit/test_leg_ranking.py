"""Order of two legform runs: which does less, and when no order may be told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frontcheck.legs.dynamics import LegRun, RunSettings, Skin, run_legform
from frontcheck.legs.leg_document import RankingEntry
from frontcheck.legs.leg_order import rank_runs, scaled, with_other_stiffness
from frontcheck.serializer import plain
from frontcheck.surface.section import Section

SECTION = Section([(300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (60, 700), (900, 950)])
ANGLE, SHEAR, TIBIA = range(3)


@pytest.fixture(scope="module")
def run() -> LegRun:
    return run_legform(SECTION)


def shaped(run: LegRun, angle: float, shear: float = 1.0, slowing: float = 100.0) -> LegRun:
    """The same run with half-sine histories of these peaks."""
    wave = np.sin(np.linspace(0.0, np.pi, len(run.time)))
    return replace(
        run,
        knee_angle=angle * wave,
        knee_shear=shear * wave,
        tibia_acceleration=slowing * wave,
    )


@pytest.mark.parametrize(
    ("one", "two", "less", "says"),
    [
        (5.0, 12.0, "a", "Plover opens the knee less"),
        (12.0, 5.0, "b", "Avocet opens the knee less"),
        (-12.0, -5.0, "b", "Avocet closes the knee less"),
        # 1 % of the larger is the border, counted as alike.
        (10.0, 9.9001, "alike", "alike"),
        (10.0, 9.89, "b", "Avocet opens the knee less"),
        (0.0, 0.0, "alike", "alike"),
    ],
)
def test_the_smaller_peak_is_named(run: LegRun, one, two, less, says) -> None:
    ranking = rank_runs(shaped(run, one), shaped(run, two), ("Plover", "Avocet"))[ANGLE]
    assert ranking.less == less
    assert says in ranking.sentence
    assert "under these assumptions" in ranking.sentence
    assert (ranking.a, ranking.b) == pytest.approx((one, two), abs=1e-3)


def test_opposite_senses_are_not_ranked(run: LegRun) -> None:
    rankings = rank_runs(shaped(run, 9.0, -1.0), shaped(run, -3.0, 2.0), ("Plover", "Avocet"))
    assert [r.less for r in rankings] == [None, None, "alike"]
    assert rankings[ANGLE].reason == "Plover opens the knee, Avocet closes the knee"
    assert "femur's end" in rankings[SHEAR].reason
    assert "less" not in rankings[ANGLE].sentence


@pytest.mark.parametrize("status", ["out_of_balance", "rotation_limit"])
@pytest.mark.parametrize("flagged", [0, 1])
def test_nothing_is_ranked_beside_a_flagged_run(run: LegRun, status, flagged: int) -> None:
    runs = [shaped(run, 5.0), shaped(run, 12.0)]
    runs[flagged] = replace(runs[flagged], status=status, reason="it went wrong")
    for ranking in rank_runs(*runs, ("Plover", "Avocet")):
        assert ranking.less is None
        assert not ranking.told
        assert ranking.reason == f"{('Plover', 'Avocet')[flagged]}: it went wrong"
        assert " less " not in ranking.sentence
        assert plain(RankingEntry, ranking)["status"] == "not_ranked"
    unusable = rank_runs(*runs)[ANGLE]
    shown = (unusable.a, unusable.b)[flagged]
    assert (shown is None) == (status == "out_of_balance")


def test_a_peak_at_the_end_of_a_run_may_not_be_reached(run: LegRun) -> None:
    rising = replace(shaped(run, 5.0), knee_angle=np.linspace(0.0, 6.0, len(run.time)))
    rankings = rank_runs(shaped(run, 12.0), rising)
    assert rankings[ANGLE].less is None
    assert "B: its peak stands at the end of the run, 25 ms" in rankings[ANGLE].sentence
    assert rankings[TIBIA].less == "alike"  # that one was reached


def test_runs_under_different_assumptions_are_refused(run: LegRun) -> None:
    other = run_legform(SECTION, RunSettings(skin=Skin(0.6), duration_ms=1.0))
    with pytest.raises(ValueError, match="same assumptions"):
        rank_runs(run, other)


def test_scaled_changes_every_stiffness_and_nothing_else() -> None:
    settings = RunSettings(skin=Skin(0.3, 0.2), parts=(("bumper", Skin(0.8, 0.1)),))
    twice = scaled(settings, 2.0)
    assert twice.skin == Skin(0.6, 0.2)
    assert twice.parts == (("bumper", Skin(1.6, 0.1)),)
    assert scaled(twice, 0.5) == settings


@pytest.mark.parametrize(
    ("there", "holds", "says"),
    [
        ((5.0, 12.0), True, "at half the stiffness the same"),
        ((12.0, 5.0), False, "at half the stiffness another"),
        ((-5.0, 12.0), None, "not known (A closes the knee, B opens the knee)"),
    ],
)
def test_whether_the_order_holds_elsewhere(run: LegRun, there, holds, says) -> None:
    here = rank_runs(shaped(run, 5.0), shaped(run, 12.0))
    other = rank_runs(shaped(run, there[0]), shaped(run, there[1]))
    assert here[ANGLE].holds is None
    assert here[ANGLE].holds_sentence == ""
    checked = with_other_stiffness(here, [(0.5, other), (2.0, here)])[ANGLE]
    assert checked.holds is holds
    assert says in checked.holds_sentence
    assert "at twice the stiffness the same" in checked.holds_sentence

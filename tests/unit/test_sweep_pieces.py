"""Handing out a sweep and reading it back, piece by piece: plain counts, words and borders."""

from __future__ import annotations

import csv
import math
from concurrent.futures import BrokenExecutor, CancelledError
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.errors import NotAvailableError, OutputError
from frontcheck.files import ASIDE
from frontcheck.study import sweep
from frontcheck.study.blocks import Crew, Parts
from frontcheck.study.head_landings import HeadLandings
from frontcheck.study.study import Limit
from frontcheck.study.study_file import parse_study
from frontcheck.study.sweep import SweepRun, Task, _gaps, _Handing
from frontcheck.study.sweep_results import (
    Results,
    _counted,
    _head_landings,
    _is_text,
    _number,
    read_results,
)

STUDY = """
[nose]
[vary]
lower_lip_height_mm = { low = 320, high = 350 }
lead_mm = { low = 90, high = 110 }
[sampling]
variants = 6
"""


@pytest.mark.parametrize("seed", range(5))
def test_what_is_left_is_what_no_part_holds(seed) -> None:
    rng = np.random.default_rng(seed)
    cuts = np.sort(rng.choice(60, 9, replace=False)).tolist()
    parts = [(a, b) for a, b in zip(cuts, cuts[1:], strict=False) if rng.random() < 0.5]
    count = cuts[-1] + int(rng.integers(0, 2)) * 7
    held = {i for a, b in parts for i in range(a, b)}
    left = [i for a, b in _gaps(parts, count) for i in range(a, b)]
    assert left == [i for i in range(count) if i not in held]
    assert all(a < b for a, b in _gaps(parts, count))
    assert _gaps([], 0) == []


def handing(gaps, size=256) -> _Handing:
    """A run that has these ranges to do."""
    made = _Handing.__new__(_Handing)
    made.study = Fake(setup=Fake(block=size), sample=range(500))
    made.gaps, made.size, made.tasks, made.values = gaps, size, 0, np.arange(2000)[:, None]
    made.made = made.present = 0
    made.worked, made.cost, made.block_seconds, made.progress = 0.0, 0.0, None, None
    made.parts = Fake(folder="out", add=lambda *_: None)
    return made


def test_tasks_are_whole_blocks_of_one_range_and_go_back_where_they_came_from() -> None:
    hand = handing([(0, 600), (1024, 1100)])
    first, second, third = hand._next(2), hand._next(2), hand._next(2)
    assert [(t.first, len(t.values), t.sample) for t in (first, second, third)] == [
        (0, 512, 500), (512, 88, 500), (1024, 76, 500)
    ]  # fmt: skip
    assert first.values[0, 0] == 0
    assert third.values[0, 0] == 1024
    assert (hand.gaps, hand.tasks, hand._left) == ([], 3, 0)
    hand._put_back([third, first])
    assert (hand.gaps, hand.tasks, hand._left) == ([(0, 512), (1024, 1100)], 1, 588)


def test_what_comes_back_is_counted_and_told() -> None:
    """Seconds of a block: the first as it is, later ones at three parts in ten (own choice)."""
    told, added = [], []
    hand = handing([])
    hand.progress = lambda done, total: told.append((done, total))
    hand.parts = Fake(add=lambda *part: added.append(part))
    setup = hand.study.setup
    hand._keep(Task(setup, 256, 500, hand.values[256:768]), b"rows", 3.0)
    assert hand.block_seconds == 1.5
    hand._keep(Task(setup, 1984, 500, hand.values[1984:2000]), b"more", 0.25)
    assert hand.block_seconds == pytest.approx(0.7 * 1.5 + 0.3 * 4.0)
    assert (hand.made, hand.present, hand.worked) == (528, 528, 3.25)
    assert told == [(512, 2000), (528, 2000)]
    assert added == [(256, 768, b"rows"), (1984, 2000, b"more")]


@pytest.mark.parametrize(
    ("cost", "seconds", "left", "workers", "blocks"),
    [
        (0.4, 1.0, 10**7, 2, 10),  # 4 % of 10 s
        (0.41, 1.0, 10**7, 2, 11),
        (0.0, 1.0, 10**7, 2, 1),
        (0.4, None, 10**7, 2, 1),
        (50.0, 1.0, 10**7, 2, 64),
        (0.4, 1.0, 256 * 30, 2, 5),  # a sixth of 30 blocks
        (0.4, 1.0, 256 * 31, 2, 6),
        (0.4, 1.0, 10, 2, 1),
    ],
)
def test_blocks_of_a_task(cost, seconds, left, workers, blocks) -> None:
    hand = handing([(0, left)])
    hand.cost, hand.block_seconds = cost, seconds
    assert hand._blocks(workers) == blocks


def test_workers_that_died_are_told_with_what_is_kept() -> None:
    hand = handing([])
    hand.present = 512
    assert hand._went_wrong(BrokenExecutor("x")) == (
        "out: workers died 4 times in a row (BrokenExecutor); 512 of 2000 variants are kept; give "
        "the workers more memory or take fewer, and run the same command to go on"
    )
    crew = Crew(Fake, 0, (KeyError,))
    assert crew.workers == 1
    assert crew.deaths == (BrokenExecutor, CancelledError, OSError, KeyError)


def test_overhead_is_the_share_of_handing_out() -> None:
    run = SweepRun(100, 100, 9.0, 6.0, 2, 4, 0.5, 0)
    assert run.overhead == 0.25  # 2 s of 8 s
    assert replace(run, worked=0.0).overhead == 0.0


def test_a_run_alone_counts_what_it_made_and_one_of_a_whole_folder_makes_nothing(tmp_path) -> None:
    study, told = parse_study(STUDY), []
    run = sweep.run_sweep(study, tmp_path, None, lambda *at: told.append(at))
    assert (run.total, run.made, run.workers, run.tasks) == (6, 6, 1, 1)
    assert (run.handing_out, run.renewals) == (0.0, 0)
    assert 0.0 < run.worked <= run.seconds
    assert told == [(0, 6), (6, 6)]
    assert sweep.run_sweep(study, tmp_path) == SweepRun(6, 0, 0.0, 0.0, 1, 0, 0.0, 0)


def test_a_task_is_worked_out_block_by_block_in_order(monkeypatch) -> None:
    asked = []

    def rows(setup, first, sample, values):
        asked.append((first, sample, values[:, 0].tolist()))
        return f"{first};".encode()

    monkeypatch.setattr(sweep, "result_rows", rows)
    task = Task(Fake(block=3), 30, 34, np.arange(7)[:, None])
    done, seconds = sweep.work(task)
    assert done == b"30;33;36;"
    assert asked == [(30, 34, [0, 1, 2]), (33, 34, [3, 4, 5]), (36, 34, [6])]
    assert seconds >= 0.0
    assert sweep.idle(task) == 30


def test_parts_are_known_by_their_names_alone(tmp_path) -> None:
    study = parse_study(STUDY)
    with Parts.kept(tmp_path, study) as parts:
        parts.add(4, 6, b"4\n5\n")
        parts.add(0, 4, b"0\n1\n2\n3\n")
        assert sorted(each.name for each in (tmp_path / "parts").iterdir()) == [
            "000000000-000000004.csv", "000000004-000000006.csv"
        ]  # fmt: skip
        for name in ("000000007-000000009.txt", "7-9.csv", "x000000007-000000009.csv"):
            (tmp_path / "parts" / name).write_text("a person's")
        assert parts.done() == [(0, 4), (4, 6)]
        assert not parts.complete
        parts.finish()
        assert parts.complete
    text = (tmp_path / "results.csv").read_text("utf-8").splitlines()
    assert text[0].startswith("# caution: This is a screening of geometry.")
    assert text[1].startswith("variant,set,lower_lip_height_mm,lead_mm,status,reason,y0_LBRL_x_mm,")
    assert text[2:] == ["0", "1", "2", "3", "4", "5"]
    assert len(list((tmp_path / "parts").iterdir())) == 3


@pytest.mark.parametrize("first", [False, True])
def test_what_a_run_left_goes_even_if_another_hand_is_quicker(tmp_path, monkeypatch, first) -> None:
    with Parts.kept(tmp_path, parse_study(STUDY)) as parts:
        parts.add(0, 4, b"0\n1\n2\n3\n")
        left = tmp_path / "parts" / f"{ASIDE}0-1-2"
        left.write_text("half of it")
    listed = Path.glob

    def quicker(folder, pattern):
        found = list(listed(folder, pattern))
        for path in found:
            if first and path.name == left.name:
                path.unlink()
        return found

    monkeypatch.setattr(Path, "glob", quicker)
    with Parts.kept(tmp_path, parse_study(STUDY)) as parts:
        assert not left.exists()
        assert parts.done() == [(0, 4)]


def test_folders_that_are_no_place_for_a_sweep_are_told_why(tmp_path) -> None:
    study = parse_study(STUDY)

    def why(folder) -> str:
        with pytest.raises(OutputError) as caught, Parts.kept(folder, study):
            pass
        return str(caught.value)

    theirs = tmp_path / "theirs"
    theirs.mkdir()
    (theirs / "letter.txt").write_text("x")
    assert why(theirs).endswith(
        "theirs: holds files and no record of a sweep (sweep.json); expected a new or empty "
        "folder, or one that this study began; name another folder"
    )
    other = tmp_path / "other"
    with Parts.kept(other, parse_study(STUDY.replace("320", "321"))):
        pass
    assert why(other).endswith(
        "other: found results of another study, or of this one before it was changed; expected a "
        "new folder or one that this study began; name another folder, or delete this one"
    )
    own = tmp_path / "own"
    with Parts.kept(own, study):
        pass
    (own / "results.csv").write_text("# caution: x\n")
    assert why(own).endswith(
        "results.csv: found something else than the table of this study; expected no such file, or "
        "ours; move it away, or name another folder"
    )
    with pytest.raises(NotAvailableError) as caught:
        read_results(study, tmp_path / "none")
    assert str(caught.value).endswith("results.csv: no results yet; run the sweep to its end")


# Results.

NAN = math.nan


def results(limits=(), **more) -> Results:
    study = replace(parse_study(STUDY), limits=tuple(limits))
    told = {
        "status": np.array(["ok", "incomplete", "infeasible", "ok", "ok", "ok"]),
        "reasons": {},
        "values": study.sample,
        "numbers": {"y0_LBRL_z_mm": np.array([300.0, NAN, NAN, 310.0, 320.0, 299.9]),
                    "y0_UBRL_z_mm": np.array([500.0, 500.0, 500.0, 500.0, 510.0, 500.0])},
        "open_end": {"y0_LBRL_z_mm": np.array([False, True, False, False, False, False]),
                     "y0_UBRL_z_mm": np.array([False, False, False, False, True, False])},
    }  # fmt: skip
    return Results(study, **(told | more))


def test_limits_hold_at_their_ends_and_for_every_line_that_is_known() -> None:
    low = Limit("LBRL_z_mm", None, 300.0, 310.0)
    high = Limit("UBRL_z_mm", 0.0, -math.inf, 500.0)
    found = results([low, high])
    assert found.within(low).tolist() == [True, False, False, True, False, False]
    assert found.within(high).tolist() == [True, True, True, True, False, True]
    assert found.within_all.tolist() == [True, False, False, True, False, False]
    assert results([high]).within_all.tolist() == [True, True, False, True, False, True]
    assert found.open_ends().tolist() == [False, True, False, False, True, False]
    assert found.open_ends(low).tolist() == [False, True, False, False, False, False]
    assert (found.count("ok"), found.count("incomplete"), found.count("infeasible")) == (4, 1, 1)


def indexed(column: list[float]) -> Results:
    """Two parameters, samples of four: A and B, then both mixed, behind six of the sample."""
    study = replace(parse_study(STUDY), sensitivity_samples=4, sensitivity_of=("LBRL_z_mm",))
    numbers = {"y0_LBRL_z_mm": np.array([NAN] * 6 + column)}
    return replace(results(), study=study, numbers=numbers)


def test_indices_need_numbers_everywhere_that_are_not_all_the_same() -> None:
    (lost,) = indexed([1.0, 2.0, NAN, 4.0] * 2 + [5.0] * 8).sensitivities()
    assert (lost.name, lost.status) == ("y0_LBRL_z_mm", "not_available")
    assert lost.reason == (
        "2 of 16 variants have no such number, or one that an open end could change, and Sobol "
        "indices need it everywhere: narrow the ranges under [vary]"
    )
    assert (lost.first, lost.total, lost.deviation) == (None, None, None)
    (flat,) = indexed([5.0] * 16).sensitivities()
    assert flat.reason == "no parameter changes it within the ranges"
    a, b = np.array([1.0, 3.0, 2.0, 6.0]), np.array([2.5, 4.0, 1.0, 5.0])
    mixed = np.array([[1.5, 3.5, 1.5, 5.5], [2.0, 3.0, 2.0, 3.0]])
    (made,) = indexed([*a, *b, *mixed.ravel()]).sensitivities()
    assert (made.status, made.reason) == ("ok", "")
    assert made.deviation == pytest.approx(np.std([*a, *b]))
    # Total index of a parameter (Jansen, 1999): mean of (A - AB)^2 / 2 over the variance.
    expected = ((a - mixed) ** 2).mean(axis=1) / 2.0 / np.var([*a, *b])
    assert made.total == pytest.approx(expected)
    assert results().sensitivities() == ()


def test_reasons_are_counted_most_frequent_first_then_by_name() -> None:
    assert list(_counted(["b", "a", "c", "c"]).items()) == [("c", 2), ("a", 1), ("b", 1)]


@pytest.mark.parametrize(
    ("column", "text"),
    [("set", True), ("status", True), ("reason", True), ("findings", True), ("y0_legform", True),
     ("y0_LBRL_status", True), ("y0_head_wad_x_reason", True), ("y0_LBRL_z_mm", False),
     ("variant", False), ("child_area_m2", False)],
)  # fmt: skip
def test_which_columns_hold_words(column, text) -> None:
    assert _is_text(column) is text


def test_heads_of_the_sample_are_counted_and_both_ends_named(tmp_path) -> None:
    """Six of a sample and one behind it: medians 900 to 1100 mm, two without, one not made."""
    assert math.isnan(_number(""))
    assert _number("1.5") == 1.5
    heads = HeadLandings(("man p50",), 0.0, 40.0, 20, 1)
    study = parse_study(STUDY)
    study = replace(study, setup=replace(study.setup, heads=heads))
    rows = [
        ("1000", "990", "1010", "ok", ""), ("", "", "", "not_available", "beyond"),
        ("1100", "1090", "1110", "ok", ""), ("", "", "", "", ""),
        ("900", "890", "910", "ok", ""), ("", "", "", "not_available", "beyond"),
        ("1", "1", "1", "ok", ""),
    ]  # fmt: skip
    with (tmp_path / "results.csv").open("w", newline="", encoding="utf-8") as stream:
        stream.write("# caution\n")
        writer = csv.writer(stream)
        writer.writerow(["variant", *heads.columns])
        writer.writerows([i, *row] for i, row in enumerate(rows))
    (found,) = _head_landings(study, tmp_path / "results.csv")
    assert (found.person, found.given, found.not_given) == ("man p50", 3, 2)
    assert found.because == {"beyond": 2}
    assert (found.nearest.variant, found.farthest.variant) == (4, 2)
    spread = found.nearest.wad_mm
    assert (spread.median, spread.p5, spread.p95) == (900.0, 890.0, 910.0)
    assert list(_head_landings(parse_study(STUDY), tmp_path / "results.csv")) == []

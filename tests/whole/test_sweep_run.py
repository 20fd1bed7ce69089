"""Running a sweep: the same bytes however it is run, nothing lost, nothing made twice."""

from __future__ import annotations

import csv
import os
import signal
from concurrent.futures import Executor, Future
from pathlib import Path

import numpy as np
import pytest
from lip_study import NOSE_STUDY

from frontcheck.errors import OutputError
from frontcheck.lines.lined_front import line_up
from frontcheck.screening import screen
from frontcheck.study import sweep as running
from frontcheck.study.blocks import Crew, local_crew
from frontcheck.study.moves import morph_front
from frontcheck.study.study import BLOCK
from frontcheck.study.study_file import parse_study
from frontcheck.study.sweep import run_sweep


@pytest.fixture(scope="module")
def study():
    return parse_study(NOSE_STUDY)


@pytest.fixture(scope="module")
def serial(study, tmp_path_factory):
    folder = tmp_path_factory.mktemp("serial")
    run_sweep(study, folder)
    return folder


def rows_of(folder: Path) -> list[dict[str, str]]:
    lines = (folder / "results.csv").read_text("utf-8").splitlines()
    assert lines[0].startswith("# caution: This is a screening of geometry.")
    return list(csv.DictReader(lines[1:]))


class Inline(Executor):
    """Any executor will do: this one works at once, and counts."""

    def __init__(self):
        self.sizes = []

    def submit(self, fn, /, *args, **kwargs):
        future = Future()
        future.set_result(fn(*args, **kwargs))
        if fn is running.work:
            self.sizes.append(len(args[0].values))
        return future


def test_every_variant_has_one_row_in_order(study, serial):
    rows = rows_of(serial)
    assert [int(row["variant"]) for row in rows] == list(range(1500))
    assert [float(row["lead_mm"]) for row in rows] == study.sample[:, 2].tolist()
    assert {row["status"] for row in rows} == {"ok", "infeasible"}
    assert sorted(p.name for p in serial.iterdir()) == ["results.csv", "sweep.json"]


def test_rows_are_what_a_screening_of_each_variant_alone_gives(study, serial):
    """The one-at-a-time way, with facets of its own: contacts on roundings are exact either way;
    wrap-around points differ by what facets differ, far below the chord tolerance."""
    rows = rows_of(serial)
    checked = 0
    for i in range(0, 1500, 60):
        row = rows[i]
        if row["status"] == "infeasible":
            assert row["reason"]
            assert row["y0_LBRL_z_mm"] == ""
            continue
        checked += 1
        assert row["reason"] == ""
        lined = line_up(study.setup.shapes.front(study.sample[i]), study.setup.rules, [1000, 1500])
        for y in (0.0, 500.0):
            station = lined.station(y)
            for line in station.lines:
                assert row[f"y{y:g}_{line.name}_status"] == line.status
                assert float(row[f"y{y:g}_{line.name}_z_mm"]) == pytest.approx(line.z, abs=0.02)
            for line in (station.LBRL, station.UBRL, station.BLERL):
                assert float(row[f"y{y:g}_{line.name}_x_mm"]) == pytest.approx(line.x, abs=1e-6)
                assert float(row[f"y{y:g}_{line.name}_z_mm"]) == pytest.approx(line.z, abs=1e-6)
            assert row[f"y{y:g}_legform"] == station.legform
            assert float(row[f"y{y:g}_bumper_lead_mm"]) == pytest.approx(station.bumper_lead)
            for mark in station.wads:
                got = float(row[f"y{y:g}_WAD_{mark.distance:g}_x_mm"])
                assert got == pytest.approx(mark.x, abs=0.02)
    assert checked > 10


def test_a_run_of_a_measured_front_is_bit_for_bit_the_one_at_a_time_way(geometries, tmp_path):
    study = parse_study(
        '[front]\nfile = "plover.csv"\nstations_mm = [0, 580]\n[vary]\n'
        "nose_up_mm = { low = -20, high = 60 }\nface_lean_deg = { low = -4, high = 8 }\n"
        "lower_lip_up_mm = { low = -150, high = 150 }\n[sampling]\nvariants = 300",
        folder=geometries,
    )
    run_sweep(study, tmp_path)
    rows = rows_of(tmp_path)
    made = [i for i, row in enumerate(rows) if row["status"] != "infeasible"]
    assert 20 < len(made) < 300
    for i in made[::15]:
        lined = line_up(study.setup.shapes.front(study.sample[i]), study.setup.rules)
        for station in lined.stations:
            for point in (*station.lines, *station.wads):
                name = f"y{station.y:g}_{point.name.replace(' ', '_')}"
                cell = rows[i][f"{name}_x_mm"]
                if point.name == "BRRL":
                    # One moves the nominal line (`frontcheck.lines.rear`), the other rolls anew.
                    assert float(cell) == pytest.approx(point.x, abs=0.02)
                else:
                    assert (float(cell) if cell else None) == point.x


def test_zones_and_findings_are_those_of_a_screening_of_each_variant(geometries, tmp_path):
    study = parse_study(
        'zones_and_findings = true\n[front]\nfile = "plover.csv"\n[vary]\n'
        'nose_up_mm = { values = [0, 40] }\n[sampling]\nmethod = "grid"',
        folder=geometries,
    )
    run_sweep(study, tmp_path)
    rows = rows_of(tmp_path)
    assert len(rows) == 2
    for row, amount in zip(rows, (0.0, 40.0), strict=True):
        screening = screen(morph_front(study.setup.shapes.measured, {"nose_up_mm": amount}).front)
        assert row["findings"].split() == sorted({f.code for f in screening.findings})
        assert float(row["bumper_test_area_mm"]) == screening.zones.bumper_test_area.width
        assert float(row["child_area_m2"]) == screening.zones.child_area.area_m2
    assert rows[0]["findings"] != rows[1]["findings"]


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_crews_give_the_same_bytes_as_one_alone(kind, study, serial, tmp_path):
    with local_crew(kind, 2) as crew:
        run = run_sweep(study, tmp_path, crew)
    assert run.made == 1500
    assert (tmp_path / "results.csv").read_bytes() == (serial / "results.csv").read_bytes()
    assert (tmp_path / "sweep.json").read_bytes() == (serial / "sweep.json").read_bytes()


@pytest.mark.parametrize("cost", [1e-9, 0.02, 10.0])
def test_bytes_do_not_depend_on_how_work_is_cut_up(cost, study, serial, tmp_path, monkeypatch):
    inline = Inline()
    monkeypatch.setattr(running._Handing, "_cost", lambda *_: cost)
    run_sweep(study, tmp_path, Crew(lambda: inline, 1))
    assert (tmp_path / "results.csv").read_bytes() == (serial / "results.csv").read_bytes()
    assert sum(inline.sizes) == 1500
    assert all(size % BLOCK == 0 for size in inline.sizes[:-1])
    if cost == 10.0:
        assert max(inline.sizes) > BLOCK


def test_tasks_grow_until_handing_out_is_a_small_share(study):
    hand = running._Handing.__new__(running._Handing)
    hand.gaps, hand.block_seconds, hand.size = [(0, 10**6)], 0.01, BLOCK
    for cost in (1e-5, 1e-3, 0.02):
        hand.cost = cost
        blocks = hand._blocks(2)
        assert cost / (cost + blocks * 0.01) < 0.05
        assert blocks == 1 or cost / (cost + (blocks - 1) * 0.01) > 0.03


class StoppedError(Exception):
    pass


@pytest.mark.parametrize("with_crew", [False, True])
def test_an_interrupted_sweep_goes_on_without_loss_or_repeat(
    with_crew, study, serial, tmp_path, monkeypatch
):
    worked = []
    work = running.work

    def watched(task):
        worked.append(task.first)
        return work(task)

    monkeypatch.setattr(running, "work", watched)

    def stop_half_way(done, total):
        if done > total / 2:
            raise StoppedError

    crew = Crew(Inline, 2) if with_crew else None
    with pytest.raises(StoppedError):
        run_sweep(study, tmp_path, crew, stop_half_way)
    assert not (tmp_path / "results.csv").exists()
    kept = {int(p.name[:9]) for p in (tmp_path / "parts").iterdir()}
    assert kept
    (tmp_path / "parts" / ".frontcheck-new-abc").write_bytes(b"half a row")

    worked.clear()
    told = []
    run = run_sweep(study, tmp_path, None, lambda done, total: told.append((done, total)))
    assert told[0][0] >= 750
    assert told[-1] == (1500, 1500)
    assert 0 < run.made <= 750
    assert kept.isdisjoint(worked)
    assert (tmp_path / "results.csv").read_bytes() == (serial / "results.csv").read_bytes()

    worked.clear()
    again = run_sweep(study, tmp_path)
    assert again.made == 0
    assert worked == []


def test_a_changed_study_is_refused_and_nothing_touched(study, tmp_path):
    run_sweep(study, tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    changed = parse_study(NOSE_STUDY.replace("high = 420", "high = 421"))
    with pytest.raises(OutputError, match="another study"):
        run_sweep(changed, tmp_path)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"digest": 3}'])
def test_results_of_unknown_origin_are_refused(content, study, tmp_path):
    (tmp_path / "sweep.json").write_bytes(content)
    with pytest.raises(OutputError, match="another study"):
        run_sweep(study, tmp_path)
    (tmp_path / "sweep.json").unlink()
    (tmp_path / "results.csv").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"holds files and no record of a sweep \(sweep\.json\)"):
        run_sweep(study, tmp_path)
    assert (tmp_path / "results.csv").read_bytes() == b"mine"


def test_a_folder_that_cannot_be_made_is_refused(study, tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError, match="cannot be written"):
        run_sweep(study, tmp_path / "file" / "out")


def test_a_killed_process_loses_and_repeats_nothing(study, serial, tmp_path):
    killed = []

    def kill_one(done, total):
        if done >= 500 and not killed:
            pid = next(iter(crew.executor._processes))
            killed.append(pid)
            os.kill(pid, signal.SIGKILL)

    with local_crew("processes", 2) as crew:
        run = run_sweep(study, tmp_path, crew, kill_one)
    assert killed
    assert run.made == 1500
    assert [int(row["variant"]) for row in rows_of(tmp_path)] == list(range(1500))
    assert (tmp_path / "results.csv").read_bytes() == (serial / "results.csv").read_bytes()


def test_workers_that_keep_dying_end_the_sweep_with_a_way_on(study, tmp_path):
    from concurrent.futures import BrokenExecutor

    class Broken(Executor):
        def submit(self, fn, /, *args, **kwargs):
            future = Future()
            if fn is running.work:
                future.set_exception(BrokenExecutor("gone"))
            else:
                future.set_result(fn(*args, **kwargs))
            return future

    with pytest.raises(OutputError, match=r"workers died 4 times in a row.*same command"):
        run_sweep(study, tmp_path, Crew(Broken, 2))


def test_an_error_in_a_worker_is_not_taken_for_a_death(study, tmp_path, monkeypatch):
    def fails(task):
        raise ZeroDivisionError

    monkeypatch.setattr(running, "work", fails)
    with pytest.raises(ZeroDivisionError):
        run_sweep(study, tmp_path, Crew(Inline, 2))


def test_memory_of_a_task_is_bounded(study):
    hand = running._Handing.__new__(running._Handing)
    hand.gaps, hand.block_seconds, hand.cost, hand.size = [(0, 10**8)], 1e-6, 100.0, BLOCK
    assert hand._blocks(2) == running._MOST_BLOCKS
    assert np.prod((running._MOST_BLOCKS, BLOCK)) <= 20_000

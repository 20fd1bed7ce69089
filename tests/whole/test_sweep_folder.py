"""The folder of a sweep: kept by one run at a time, and a person's files in it stay."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from lip_study import LIP_STUDY

from frontcheck import files as files_module
from frontcheck.cli import main
from frontcheck.errors import OutputError
from frontcheck.files import held
from frontcheck.outputs.documents.folder import LIST
from frontcheck.outputs.writing import write_sweep
from frontcheck.study.study_file import parse_study
from frontcheck.study.sweep import run_sweep
from frontcheck.study.sweep_results import read_results

TEXT = LIP_STUDY.replace("variants = 512", "variants = 64")
STUDY = parse_study(TEXT)
DONE = {0, 1}  # 1: some variants cannot be made
MADE = {"results.csv", "sweep.json", "summary.json", LIST}


@pytest.fixture
def study_file(tmp_path) -> Path:
    path = tmp_path / "study.toml"
    path.write_text(TEXT, "utf-8")
    return path


def sweep(study: Path | str, out: Path | str, *more: str):
    args = ["sweep", str(study), "--out", str(out), "--workers", "1", *more]
    return CliRunner().invoke(main, args)


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_what_is_not_a_sweeps_is_refused_before_any_work(tmp_path, monkeypatch) -> None:
    """The study does not even exist."""
    monkeypatch.chdir(tmp_path)
    for name, file in (("notes", "notes.md"), ("table", "results.csv"), ("parts", "parts/a.csv")):
        path = tmp_path / name / file
        path.parent.mkdir(parents=True)
        path.write_bytes(b"mine")
        got = sweep("no.toml", name)
        assert got.exit_code == 2
        assert f"{name}: holds files" in got.stderr
        assert "no.toml" not in got.stderr
        with pytest.raises(OutputError, match="holds files and no record of a sweep"):
            run_sweep(STUDY, name)
        assert contents(tmp_path / name) == {file: b"mine"}
    for place in (".", "..", "/"):
        assert "working folder, your home" in sweep("no.toml", place).stderr
        with pytest.raises(OutputError, match="working folder, your home"):
            run_sweep(STUDY, place)


def test_a_persons_files_stay_and_one_in_the_way_is_an_error_before_any_work(
    study_file, tmp_path
) -> None:
    out = tmp_path / "out"
    assert sweep(study_file, out, "--no-pictures").exit_code in DONE
    assert set(contents(out)) == MADE
    (out / "notes.md").write_bytes(b"mine")
    (out / "lines.png").write_bytes(b"my own drawing")
    before = contents(out)
    got = sweep("no.toml", out)
    assert got.exit_code == 2
    assert "lines.png: was not written by frontcheck" in got.stderr
    with pytest.raises(OutputError, match=r"lines\.png: was not written by frontcheck"):
        write_sweep(read_results(STUDY, out), out)
    assert contents(out) == before
    (out / "lines.png").unlink()
    assert sweep(study_file, out).exit_code in DONE
    assert contents(out)["notes.md"] == b"mine"
    made = contents(out)
    rows = [row.split(" ", 2)[2] for row in made[LIST].decode().splitlines()[1:]]
    assert sorted(rows) == sorted(made.keys() - {"notes.md", LIST})
    # Without pictures those that are there stay, for a sweep only adds.
    assert sweep(study_file, out, "--no-pictures").exit_code in DONE
    assert contents(out) == made
    (out / "summary.json").write_bytes(b"{}")
    assert "summary.json: was changed since" in sweep("no.toml", out).stderr


def test_a_summary_alone_is_the_summary_in_the_folder(tmp_path) -> None:
    out = tmp_path / "out"
    run_sweep(STUDY, out)
    results = read_results(STUDY, out)
    write_sweep(results, out)
    write_sweep(results, tmp_path / "alone.json")
    assert (tmp_path / "alone.json").read_bytes() == (out / "summary.json").read_bytes()


def test_a_table_that_is_not_ours_is_never_read_nor_replaced(study_file, tmp_path) -> None:
    out = tmp_path / "out"
    run_sweep(STUDY, out)
    made = (out / "results.csv").read_bytes()
    for content in (b"", b"variant,x\n0,1\n", made[:300]):
        (out / "results.csv").write_bytes(content)
        got = sweep(study_file, out)
        assert got.exit_code == 2
        assert "results.csv: found something else than the table of this study" in got.stderr
        assert (out / "results.csv").read_bytes() == content


def test_a_persons_files_among_the_parts_stay(tmp_path) -> None:
    out = tmp_path / "out"

    def stop(done: int, _: int) -> None:
        if done:
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        run_sweep(STUDY, out, None, stop)
    (out / "parts" / "notes.md").write_bytes(b"mine")
    run_sweep(STUDY, out)
    assert [path.name for path in (out / "parts").iterdir()] == ["notes.md"]


def test_links_are_followed_and_modes_kept(study_file, tmp_path) -> None:
    real, link = tmp_path / "real", tmp_path / "link"
    real.mkdir()
    real.chmod(0o700)
    link.symlink_to(real)
    for _ in range(2):
        assert sweep(study_file, link, "--no-pictures").exit_code in DONE
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o700
    assert set(contents(real)) == MADE


def test_a_folder_that_another_run_holds_is_waited_for_and_then_named(
    study_file, tmp_path, monkeypatch
) -> None:
    out = tmp_path / "out"
    monkeypatch.setattr(files_module, "_WAIT_S", 0.2)
    out.mkdir()
    with held(out):
        got = sweep(study_file, out)
    assert got.exit_code == 2
    assert f"another run (process {os.getpid()} on " in got.stderr
    assert contents(out) == {}


def test_two_at_once_leave_the_whole_folder_of_one(study_file, tmp_path) -> None:
    run_sweep(STUDY, tmp_path / "alone")
    command = [sys.executable, "-m", "frontcheck", "sweep", str(study_file), "--workers", "1",
               "--no-pictures", "--out"]  # fmt: skip
    for turn in range(3):
        out = tmp_path / str(turn)
        both = [
            subprocess.Popen([*command, str(out)], stdout=subprocess.DEVNULL,
                             stderr=subprocess.PIPE, text=True)
            for _ in range(2)
        ]  # fmt: skip
        assert [each.communicate(timeout=60)[1] for each in both] == ["", ""]
        assert {each.returncode for each in both} <= DONE
        assert set(contents(out)) == MADE
        for name in ("results.csv", "sweep.json"):
            assert (out / name).read_bytes() == (tmp_path / "alone" / name).read_bytes()


HOLDS = """
import sys, time
from pathlib import Path
from frontcheck.files import held
with held(Path(sys.argv[1])):
    print("ready", flush=True)
    time.sleep(60.0)
"""


def test_a_lock_of_the_dead_holds_nobody_up(tmp_path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    dead = subprocess.Popen([sys.executable, "-c", HOLDS, str(out)], stdout=subprocess.PIPE)
    with dead.stdout:
        assert dead.stdout.readline() == b"ready\n"
    dead.kill()
    dead.wait()
    assert [path.name for path in out.iterdir()] == [".frontcheck-lock"]
    begun = time.monotonic()
    run_sweep(STUDY, out)
    assert time.monotonic() - begun < files_module._WAIT_S
    assert set(contents(out)) == {"results.csv", "sweep.json"}


def test_parquet_is_ours_only_if_we_wrote_it(study_file, tmp_path) -> None:
    pytest.importorskip("pyarrow")
    out = tmp_path / "out"
    for _ in range(2):
        assert sweep(study_file, out, "--parquet", "--no-pictures").exit_code in DONE
    assert set(contents(out)) == {*MADE, "results.parquet"}
    (out / "results.parquet").write_bytes(b"mine")
    assert "results.parquet: was changed" in sweep("no.toml", out, "--parquet").stderr
    assert (out / "results.parquet").read_bytes() == b"mine"

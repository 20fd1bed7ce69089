"""The command line: exit codes, what it prints, what it leaves behind."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from unit.bad_tables import BAD_TABLES
from click.testing import CliRunner

from frontcheck.cli import main
from frontcheck.rules import rule_set_ids

COARSE = """\
# name: coarse
# datum: common
station_mm,height_mm,setback_mm
0,396.535,24.733
0,838.896,0
0,1234.376,146.839
0,1324.111,461.218
0,1333.321,1661.762
"""


@pytest.fixture
def coarse(tmp_path):
    path = tmp_path / "coarse.csv"
    path.write_text(COARSE, "utf-8")
    return path


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


def test_a_complete_front_ends_with_0_and_the_caution(geometries):
    result = run("screen", geometries / "plover.csv")
    assert result.exit_code == 0, result.output
    assert "not a test, not an approval and not a prediction" in " ".join(result.output.split())
    assert result.stderr == ""


def test_a_line_that_cannot_be_formed_ends_with_1_and_is_named(coarse):
    result = run("screen", coarse)
    assert result.exit_code == 1
    assert "Missing: BRRL at all stations: no point is labelled windscreen" in result.output


def test_json_to_stdout_is_the_document_and_nothing_else(geometries):
    result = run("screen", geometries / "plover.csv", "--json", "-", "--wad", "775,1000")
    document = json.loads(result.stdout)
    assert document["schema"] == "frontcheck.screening/1"
    assert {tuple(s["WAD"]) for s in document["stations"]} == {("775", "1000")}
    assert document["rule_set"]["id"] == "UN-R127-02"


def test_json_to_a_file_equals_json_to_stdout(geometries, tmp_path):
    target = tmp_path / "document.json"
    piped = run("screen", geometries / "avocet.csv", "--json", "-")
    run("screen", geometries / "avocet.csv", "--json", target)
    assert target.read_bytes() == piped.stdout_bytes
    assert [p.name for p in tmp_path.iterdir()] == ["document.json"]


def test_the_document_holds_no_sentinel_for_a_missing_line(coarse):
    document = json.loads(run("screen", coarse, "--json", "-").stdout)
    rear = document["stations"][0]["BRRL"]
    assert rear["x_mm"] is None
    assert rear["z_mm"] is None
    assert rear["status"] == "not_available"
    assert "windscreen" in rear["reason"]


@pytest.mark.parametrize("rules_id", rule_set_ids())
def test_every_rule_set_can_be_listed_and_used(rules_id, geometries):
    listed = run("rules", rules_id)
    assert listed.exit_code == 0
    assert "from memory" in listed.output
    assert run("screen", geometries / "plover.csv", "--rules", rules_id).exit_code == 0
    assert rules_id in run("rules").output


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--rules", "UN-R127-09"], "UN-R127-02"),
        (["--wad", "1000,x"], "list of lengths"),
        (["--wad", "-5"], "not above 0"),
        (["--wad", "0"], "not above 0"),
        (["--wad", "nan"], "not above 0"),
        (["--wad", "inf"], "not above 0"),
        (["--tape-start", "bumper"], "section"),
    ],
)
def test_unusable_arguments_end_with_2_and_say_what_is_expected(args, says, geometries):
    result = run("screen", geometries / "plover.csv", *args)
    assert result.exit_code == 2
    assert says in result.output + result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("bad", BAD_TABLES, ids=lambda bad: bad.name)
def test_bad_tables_end_with_2_and_leave_nothing(bad, tmp_path):
    path, out, document = tmp_path / "bad.csv", tmp_path / "out", tmp_path / "d.json"
    path.write_bytes(bad.content)
    result = run("screen", path, "--out", out, "--json", document)
    assert result.exit_code == 2, result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert result.stderr.startswith(f"frontcheck: {path}")
    assert bad.row is None or f"row {bad.row}" in result.stderr
    assert bad.column is None or f"column {bad.column}" in result.stderr
    assert "expected" in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""
    assert [p.name for p in tmp_path.iterdir()] == ["bad.csv"]


@pytest.mark.parametrize("command", [[], ["screen"], ["rules"]])
def test_every_help_has_an_example(command):
    output = run(*command, "--help").output
    assert "Example" in output
    assert "frontcheck " in output.split("Example")[1]


def test_an_unwritable_place_ends_with_2(geometries, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    result = run("screen", geometries / "plover.csv", "--json", blocked / "d.json")
    assert result.exit_code == 2
    assert "cannot be written" in result.stderr
    assert os.listdir(tmp_path) == ["file"]  # noqa: PTH208


def test_tape_start_vehicle_is_refused_on_a_local_datum_with_the_reason(tmp_path):
    path = tmp_path / "local.csv"
    path.write_text(COARSE.replace("common", "local"), "utf-8")
    result = run("screen", path, "--tape-start", "vehicle", "--json", "-")
    assert result.exit_code == 1
    wad = json.loads(result.stdout)["stations"][0]["WAD"]["1000"]
    assert wad["status"] == "not_available"
    assert "common datum" in wad["reason"]


def test_the_folder_is_complete_and_repeatable(geometries, tmp_path):
    first, second = tmp_path / "a", tmp_path / "b"
    for out in (first, second):
        assert run("screen", geometries / "plover.csv", "--out", out).exit_code == 0
    names = sorted(p.name for p in first.iterdir())
    assert {"screening.json", "stations.csv", "overview.svg", "overview.png"} <= set(names)
    assert names == sorted(p.name for p in second.iterdir())
    for name in names:
        assert (first / name).read_bytes() == (second / name).read_bytes(), name


def test_a_second_run_replaces_its_own_files_and_keeps_the_users(geometries, tmp_path):
    out = tmp_path / "out"
    run("screen", geometries / "plover.csv", "--out", out)
    (out / "my notes.txt").write_text("mine")
    stale = Path(out / "side-y0760.png")
    assert stale.exists()
    (out / "contents.txt").write_text((out / "contents.txt").read_text() + "old.svg\n")
    (out / "old.svg").write_text("<svg/>")
    run("screen", geometries / "plover.csv", "--out", out)
    assert (out / "my notes.txt").read_text() == "mine"
    assert not (out / "old.svg").exists()


def test_the_working_folder_is_not_swapped_away(geometries, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("screen", geometries / "plover.csv", "--out", ".")
    assert result.exit_code == 2
    assert "working folder" in result.stderr

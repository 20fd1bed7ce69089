"""The command line: exit codes, what it prints, what it leaves behind."""

from __future__ import annotations

import hashlib
import json
import os

import pytest
from click.testing import CliRunner
from unit.bad_tables import BAD_TABLES

from frontcheck.cli import main
from frontcheck.rules.ruleset import rule_set_ids

COARSE = """\
# name: coarse
# datum: common
station_mm,height_mm,setback_mm
0,410,30
0,860,0
0,1220,150
0,1290,390
0,1351.5,1650
"""


@pytest.fixture
def coarse(tmp_path):
    path = tmp_path / "coarse.csv"
    path.write_text(COARSE, "utf-8")
    return path


@pytest.fixture(scope="module")
def few(geometries, tmp_path_factory):
    """Plover at three stations: the same code at a fraction of the time."""
    lines = (geometries / "plover.csv").read_text("utf-8").splitlines(keepends=True)
    kept = ("#", "station", "0,", "300,", "650,")
    path = tmp_path_factory.mktemp("few") / "few.csv"
    path.write_text("".join(line for line in lines if line.startswith(kept)), "utf-8")
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
    assert "BRRL" in result.output.partition("Not formed")[2]
    told = run("screen", coarse, "--stations")
    assert told.exit_code == 1
    assert "Missing: BRRL at y = 0 mm: the sphere rests in space" in told.output
    assert "one section does not tell where" in told.output


def test_json_to_stdout_is_the_document_and_nothing_else(geometries):
    result = run("screen", geometries / "plover.csv", "--json", "-", "--wad", "775,1000")
    document = json.loads(result.stdout)
    assert document["schema"] == "frontcheck.screening/2"
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
    screened = run("screen", geometries / "plover.csv", "--rules", rules_id)
    # The provisional set asks for WAD 2500, which lies beyond what was measured.
    beyond = "2500" in screened.output
    assert beyond == (rules_id == "UN-R127-03")
    assert screened.exit_code == (1 if beyond else 0)
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


@pytest.mark.parametrize("command", [[], *([name] for name in main.list_commands(None))])
def test_every_help_has_an_example_on_a_line_of_its_own(command):
    output = run(*command, "--help").output
    examples = output.split("Example")[1].splitlines()[1:]
    assert examples[0].lstrip().startswith("frontcheck ")
    assert "\\b" not in output


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


def test_beam_ends_hard_points_and_statures_reach_the_document(geometries):
    document = json.loads(
        run(
            "screen", geometries / "plover.csv", "--beam-ends", "-700,700", "--stature", "1500",
            "--hard-points", geometries / "plover-hard-points.csv", "--json", "-",
        ).stdout
    )  # fmt: skip
    area = document["zones"]["bumper_test_area"]
    # Beam ends at 700 mm less 42 mm each side are wider than the corners less 42 mm.
    assert (area["y_min_mm"], area["y_max_mm"]) == (-658.0, 658.0)
    messages = " ".join(finding["message"] for finding in document["findings"])
    assert "inverter lid" in messages
    assert "1500" in messages


@pytest.mark.parametrize(
    "args", [["--beam-ends", "5"], ["--beam-ends", "700,-700"], ["--grid", "0"], ["--stature", "3"]]
)
def test_unusable_zone_options_end_with_2(args, geometries):
    result = run("screen", geometries / "plover.csv", *args)
    assert result.exit_code == 2
    assert result.stdout == ""


def test_the_drawing_holds_one_layer_a_line(few, tmp_path):
    ezdxf = pytest.importorskip("ezdxf")
    target = tmp_path / "lines.dxf"
    assert run("screen", few, "--dxf", target).exit_code == 0
    layers = {layer.dxf.name for layer in ezdxf.readfile(target).layers}
    assert {"UBRL", "LBRL", "BLERL", "BRRL", "SRL"} <= layers


def test_explain_knows_every_code_and_refuses_others():
    listed = run("explain").output
    codes = [line.split()[0] for line in listed.splitlines() if line.startswith(("LEG-", "HEAD-"))]
    assert len(codes) > 20
    for code in codes:
        assert "Source:" in run("explain", code).output
    unknown = run("explain", "LEG-NONSENSE")
    assert unknown.exit_code == 2
    assert "expected one of" in unknown.stderr


def test_what_nobody_told_is_printed(geometries):
    run = CliRunner().invoke(main, ["screen", str(geometries / "plover.csv"), "--lines-only"])
    text = " ".join(run.output.split())
    assert "Assumed: The vehicle is taken to be in the scope of UN-R127-02" in text
    assert "Assumed: WAD 1500 is asked for" in text
    args = ["screen", str(geometries / "plover.csv"), "--lines-only", "--wad", "1500"]
    assert "WAD 1500 is asked for" not in CliRunner().invoke(main, args).output


def test_every_file_that_was_read_is_named_with_its_digest(geometries, tmp_path):
    files = [geometries / "plover.csv", geometries / "plover-hard-points.csv"]
    out = tmp_path / "out.json"
    args = ["screen", str(files[0]), "--hard-points", str(files[1]), "--json", str(out)]
    CliRunner().invoke(main, args)
    assert json.loads(out.read_bytes())["input"]["files"] == [
        {"file": file.name, "sha256": hashlib.sha256(file.read_bytes()).hexdigest()}
        for file in files
    ]

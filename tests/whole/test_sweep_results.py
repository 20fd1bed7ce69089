"""Results read back, summaries, pictures, and the commands sweep and solve."""

from __future__ import annotations

import json
import sys

import numpy as np
import pytest
from click.testing import CliRunner
from lip_study import LIP_STUDY

from frontcheck.cli.study import solve, sweep
from frontcheck.errors import NotAvailableError
from frontcheck.outputs.figures.canvas import new_figure
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.outputs.figures.sweep_figures import (  # fmt: skip
    feasible_region,
    scatter_matrix,
    sensitivity_bars,
    sweep_figures,
)
from frontcheck.study.moves import HANDLES
from frontcheck.study.nose_dimensions import DIMENSIONS
from frontcheck.study.study_file import parse_study
from frontcheck.study.sweep import run_sweep
from frontcheck.study.sweep_results import parquet_aside, read_results, summary

STUDY = (
    LIP_STUDY
    + """\
[[limits]]
line = "bumper_lead_mm"
at_least_mm = 90
"""
)
WITH_INDICES = STUDY.replace("high = 400", "high = 340") + "[sensitivity]\nsamples = 64\n"


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    folder = tmp_path_factory.mktemp("lip")
    study = parse_study(STUDY)
    run_sweep(study, folder)
    return read_results(study, folder)


@pytest.fixture(scope="module")
def indexed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("indexed")
    study = parse_study(WITH_INDICES)
    run_sweep(study, folder)
    return read_results(study, folder)


def test_limits_are_counted_as_a_plain_look_at_the_table_has_it(results):
    z = results.numbers["y0_LBRL_z_mm"]
    lead = results.numbers["y0_bumper_lead_mm"]
    by_hand = sum(
        1
        for s, a, b in zip(results.status, z, lead, strict=True)
        if s != "infeasible" and a <= 330 and b >= 90
    )
    assert 0 < by_hand < 512
    assert int(results.within_all.sum()) == by_hand
    assert summary(results)["within_all_limits"] == by_hand


def test_what_cannot_be_made_is_counted_by_reason_and_keeps_no_limit(results):
    bad = results.status == "infeasible"
    assert 0 < bad.sum() < 512
    assert sum(results.reasons.values()) == bad.sum()
    assert not results.within_all[bad].any()
    assert np.isnan(results.numbers["y0_LBRL_z_mm"][bad]).all()


def test_indices_need_every_value_and_say_so(tmp_path):
    study = parse_study(f"{STUDY}[sensitivity]\nsamples = 64\n")
    run_sweep(study, tmp_path)
    found = read_results(study, tmp_path).sensitivities()
    assert {s.status for s in found} == {"not_available"}
    assert all(s.first is None for s in found)
    assert "narrow the ranges" in found[0].reason


def test_indices_of_a_line_that_one_parameter_moves(indexed):
    """LBRL z on the lip's rounding is its height less r sin 25: linear in one parameter, so that
    its index is 1 and the other's 0; a lead that nothing moves has none."""
    found = {s.name: s for s in indexed.sensitivities()}
    lip = found["y0_LBRL_z_mm"]
    assert lip.first == pytest.approx([1, 0], abs=0.02)
    assert lip.total == pytest.approx([1, 0], abs=0.02)
    # Standard deviation of a uniform variable over 40 mm.
    assert lip.deviation == pytest.approx(40 / np.sqrt(12), rel=0.02)
    assert found["y0_bumper_lead_mm"].status == "not_available"
    assert "no parameter changes it" in found["y0_bumper_lead_mm"].reason


def test_the_summary_is_plain_and_carries_the_caution(indexed):
    document = json.loads(json.dumps(summary(indexed), allow_nan=False))
    assert document["variants"]["made"] == 512 + 64 * 4
    assert document["variants"]["sample"] == 512
    assert "not a test" in document["cautions"][0]


def test_results_that_are_not_there_are_named(tmp_path):
    with pytest.raises(NotAvailableError, match="no results yet"):
        read_results(parse_study(STUDY), tmp_path)


def test_parquet_without_pyarrow_is_named(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(NotAvailableError, match="pip install pyarrow"):
        parquet_aside(tmp_path)


def test_parquet_holds_what_the_table_holds(tmp_path):
    pytest.importorskip("pyarrow")
    import pandas as pd

    run_sweep(parse_study(STUDY), tmp_path)
    path = parquet_aside(tmp_path, rows=100)
    table = pd.read_csv(tmp_path / "results.csv", comment="#")
    got = pd.read_parquet(path)
    assert list(got.columns) == list(table.columns)
    assert got["y0_LBRL_z_mm"].to_numpy() == pytest.approx(
        table["y0_LBRL_z_mm"].to_numpy(), nan_ok=True
    )


def test_pictures_are_repeatable_and_carry_the_caution(indexed):
    figures, missing = sweep_figures(indexed)
    assert missing == ()
    assert sorted(figures) == ["lines", "region", "sensitivity", "shapes"]
    again, _ = sweep_figures(indexed)
    for name, figure in figures.items():
        assert figure_bytes(figure) == figure_bytes(again[name]), name
        assert "Screening of geometry only" in " ".join(t.get_text() for t in figure.texts)


def test_dots_drawn_dark_are_the_variants_within_the_limits(results):
    figure = scatter_matrix(results)
    # Every panel below the diagonal draws those outside, then those within.
    panels = [ax for ax in figure.axes if len(ax.collections) == 2]
    assert len(panels) == 6
    made = results.status != "infeasible"
    for ax in panels:
        rest, kept = (len(c.get_offsets()) for c in ax.collections)
        assert kept == results.within_all.sum()
        assert rest == (made & ~results.within_all).sum()


def test_pictures_that_cannot_be_drawn_say_why(tmp_path):
    study = parse_study(STUDY[: STUDY.index("[[limits]]")])
    run_sweep(study, tmp_path)
    bare = read_results(study, tmp_path)
    with pytest.raises(NotAvailableError, match="no limits"):
        feasible_region(bare)
    with pytest.raises(NotAvailableError, match="asks for no sensitivities"):
        sensitivity_bars(bare)
    _, missing = sweep_figures(bare)
    assert len(missing) == 2


# --- commands ----------------------------------------------------------------------


def run(command, *args):
    return CliRunner().invoke(command, [str(a) for a in args])


@pytest.fixture
def study_file(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text(WITH_INDICES, "utf-8")
    return path


def test_sweep_leaves_a_complete_folder(study_file, tmp_path):
    out = tmp_path / "out"
    result = run(sweep, study_file, "--out", out, "--workers", "1")
    assert result.exit_code == 0, result.output
    names = {p.name for p in out.iterdir()}
    assert names == {
        "results.csv", "summary.json", "sweep.json", "lines.svg", "lines.png", "region.svg",
        "region.png", "sensitivity.svg", "sensitivity.png", "shapes.svg", "shapes.png",
        "frontcheck-files.txt",
    }  # fmt: skip
    assert "768 variants, 768 with every line" in result.output
    assert "not a test" in result.output
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    again = run(sweep, study_file, "--out", out, "--workers", "1")
    assert "nothing was made anew" in again.output
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_sweep_with_variants_that_cannot_be_made_ends_with_1(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text(STUDY, "utf-8")
    result = run(sweep, path, "--out", tmp_path / "out", "--workers", "1", "--no-pictures")
    assert result.exit_code == 1
    assert "that cannot be made" in result.output
    assert "too close together" in result.output


@pytest.mark.parametrize(
    ("change", "args", "says"),
    [
        (("low = 300", "low = 500"), [], "key vary.lower_lip_height_mm.high"),
        (("[nose]", "[nose"), [], "not TOML"),
        (None, ["--cluster", "tcp://127.0.0.1:9", "--workers", "2"], "goes without"),
        (None, ["--workers", "-1"], "0"),
    ],
)
def test_unusable_input_ends_with_2_and_leaves_nothing(change, args, says, tmp_path):
    path, out = tmp_path / "study.toml", tmp_path / "out"
    path.write_text(STUDY.replace(*change) if change else STUDY, "utf-8")
    result = run(sweep, path, "--out", out, *args)
    assert result.exit_code == 2
    assert says in result.output + result.stderr
    assert "Traceback" not in result.output + result.stderr
    assert not out.exists()


def test_solve_finds_and_says_how_far_the_skin_moves(study_file):
    result = run(solve, study_file)
    assert result.exit_code == 0, result.output
    assert "the base keeps" in result.output.lower() or "Found" in result.output
    document = json.loads(run(solve, study_file, "--json", "-").stdout)
    assert document["schema"] == "frontcheck.solution/1"


def test_solve_that_proves_there_is_none_ends_with_1(tmp_path):
    path, document = tmp_path / "study.toml", tmp_path / "solution.json"
    path.write_text(WITH_INDICES.replace("at_most_mm = 330", "at_most_mm = 200"), "utf-8")
    result = run(solve, path, "--json", document)
    assert result.exit_code == 1
    assert "Proven: nothing within the ranges" in result.output
    assert json.loads(document.read_text("utf-8"))["status"] == "none_exists"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("at_most_mm = 330", ""), "found no limit"),
        ((STUDY[STUDY.index("[[limits]]") :], ""), "no limits"),
        (("low = 300, high = 400", "low = 340, high = 400"), "outside its range"),
    ],
)
def test_solve_of_a_study_it_cannot_use_ends_with_2(change, says, tmp_path):
    path = tmp_path / "study.toml"
    path.write_text(STUDY.replace(*change), "utf-8")
    result = run(solve, path)
    assert result.exit_code == 2
    assert says in result.output + result.stderr


def test_every_parameter_is_listed_with_its_range():
    output = run(sweep, "--parameters").output
    for each in (*DIMENSIONS, *HANDLES):
        line = next(line for line in output.splitlines() if line.strip().startswith(each.name))
        assert each.unit in line


@pytest.mark.parametrize("command", [sweep, solve])
def test_every_help_has_an_example_on_lines_of_its_own(command):
    output = run(command, "--help").output
    assert "\n  Examples:\n    frontcheck " in output


def test_a_given_figure_is_drawn_into(indexed):
    for draw in (scatter_matrix, feasible_region, sensitivity_bars):
        mine = new_figure(9.0, 9.0)
        assert draw(indexed, figure=mine) is mine
        assert mine.axes

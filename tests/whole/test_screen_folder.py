"""The folder that `screen --out` leaves: whole, repeatable, and mindful of what is a user's."""

from __future__ import annotations

import shutil

import pytest
from click.testing import CliRunner

from frontcheck.cli import main
from frontcheck.outputs.documents.folder import LIST

TABLES = ["findings.csv", LIST, "lines.csv", "screening.json", "stations.csv"]


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


@pytest.fixture(scope="module")
def whole(few, tmp_path_factory):
    """A folder with every figure."""
    out = tmp_path_factory.mktemp("whole") / "all"
    assert run("screen", few, "--out", out, "--figures", "all").exit_code == 0
    return out


def test_the_folder_is_complete_and_repeatable(few, whole, tmp_path):
    first, second = whole, tmp_path / "b"
    assert run("screen", few, "--out", second, "--figures", "all").exit_code == 0
    names = sorted(p.name for p in first.iterdir())
    figures = [
        "bonnet-map", "findings", "front", "head-map", "leg-man-p50", "leg-six-year-old",
        "leg-woman-p50", "overview", "plan", "side-y0000", "side-y0300", "side-y0650",
    ]  # fmt: skip
    assert names == sorted([*TABLES, *(f"{f}.{kind}" for f in figures for kind in ("png", "svg"))])
    rows = (first / LIST).read_text("utf-8").splitlines()[1:]
    assert [row.split(" ", 2)[2] for row in rows] == [name for name in names if name != LIST]
    assert sorted(p.name for p in second.iterdir()) == names
    for name in names:
        assert (first / name).read_bytes() == (second / name).read_bytes(), name
    for name in ("findings.csv", "lines.csv", "stations.csv"):
        rows = (first / name).read_text("utf-8").splitlines()
        assert len(rows) > 3
        assert all("not a prediction of injury" in row for row in rows[1:]), name


def test_few_figures_are_one_of_a_kind_and_a_line_says_what_was_written(few, whole, tmp_path):
    out, larger = tmp_path / "out", tmp_path / "all"
    result = run("screen", few, "--out", out)
    assert result.exit_code == 0
    names = sorted(p.name for p in out.iterdir())
    figures = ["findings", "head-map", "leg-woman-p50", "overview", "plan", "side-y0000"]
    assert names == sorted([*TABLES, *(f"{figure}.png" for figure in figures)])
    assert len(names) <= 12
    said = [line for line in result.stdout.splitlines() if line.startswith("Written: ")]
    assert len(said) == 1
    assert str(out) in said[0]
    assert all(name in said[0] for name in TABLES if name != LIST)
    assert "6 figures" in said[0]
    assert "--figures all" in said[0]
    # The same figures as among all, and nothing else is left of an earlier, larger folder.
    for name in names:
        if name != LIST:
            assert (out / name).read_bytes() == (whole / name).read_bytes(), name
    shutil.copytree(whole, larger)
    assert run("screen", few, "--out", larger).exit_code == 0
    assert sorted(p.name for p in larger.iterdir()) == names

"""Seeded damage to every kind of file, through every reader and command; see `fuzzed.py`."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from fuzzed import Trials, damaged, good

READ = [*good()[0], *good()[1]]
COMMANDS = ("table.csv", "book.xlsx", "drawing.dxf", "text.stl", "mesh.obj", "text.ply", "mesh.glb",
            "front.toml", "points.csv", "study.toml")  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_a_damaged_file_is_read_or_refused_by_name(tmp_path, name: str) -> None:
    trials = Trials(tmp_path, 7)
    for _ in range(1 if name == "model.step" else 25):
        trials.reader(name)
    assert trials.faults == []
    assert trials.refused.total() > 0 or name in {"model.step", "points.csv"}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_ends_in_words(tmp_path, name: str) -> None:
    trials = Trials(tmp_path, 8)
    for _ in range(5):
        trials.command(name)
    assert trials.faults == []


def test_nasty_contours_are_screened_or_refused(tmp_path) -> None:
    trials = Trials(tmp_path, 9)
    for _ in range(40):
        trials.nasty()
    assert trials.faults == []
    assert 0 < trials.refused["nasty"] < trials.ran["nasty"]


def test_a_process_of_its_own_ends_in_words(tmp_path) -> None:
    rng = np.random.default_rng(10)
    for name in ("table.csv", "text.stl", "drawing.dxf"):
        path = tmp_path / name
        path.write_bytes(damaged(name, good()[0][name], rng))
        ended = subprocess.run(
            [sys.executable, "-m", "frontcheck", "screen", str(path), "--lines-only"],
            check=False, capture_output=True, text=True, timeout=60,
        )  # fmt: skip
        assert ended.returncode in {0, 1, 2}
        assert "Traceback" not in ended.stderr
        assert ended.returncode < 2 or name in ended.stderr

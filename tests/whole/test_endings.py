"""How commands end that cannot go on: exit code, what is said, and never a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner
from stoppable import STOPPABLE

from frontcheck.cli import main

FRONT = "geometries/plover.csv"


def started(root, *args, **rest):
    return subprocess.Popen(
        [sys.executable, "-c", STOPPABLE, *args],
        cwd=root, stderr=subprocess.PIPE, text=True, **rest,
    )  # fmt: skip


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device here")  # noqa: PTH110
@pytest.mark.parametrize(
    "args", [("screen", FRONT, "--lines-only"), ("explain", "UBRL"), ("--help",)]
)
def test_a_full_device_is_one_line(root, args) -> None:
    with open("/dev/full", "w") as full:  # noqa: PTH123
        process = started(root, *args, stdout=full)
        said = process.communicate(timeout=60)[1]
    assert process.returncode == 2
    assert said.count("\n") == 1
    assert "cannot be written (No space left on device)" in said


def test_whoever_reads_may_have_enough(root) -> None:
    process = started(root, "screen", FRONT, "--lines-only", stdout=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.close()
    assert process.communicate(timeout=60)[1] == ""


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "utf-16"])
def test_any_encoding_prints(root, encoding: str, tmp_path) -> None:
    front = tmp_path / "n.csv"
    text = (root / FRONT).read_text("utf-8").replace("Plover", "Plöver \N{SNOWMAN}", 1)
    front.write_text(text, "utf-8")
    process = started(
        root, "screen", str(front), "--lines-only", stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONIOENCODING": encoding}, encoding=encoding,
    )  # fmt: skip
    shown, said = process.communicate(timeout=60)
    assert (process.returncode, said) == (0, "")
    assert "Plöver" in shown
    assert ("\N{SNOWMAN}" if encoding == "utf-16" else r"\u2603") in shown


def test_a_stop_from_the_keyboard_is_130_and_says_what_stands(root, tmp_path) -> None:
    out = tmp_path / "annex"
    process = started(root, "annex", FRONT, "--out", str(out), stdout=subprocess.DEVNULL)
    time.sleep(2.0)
    process.send_signal(signal.SIGINT)
    begun = time.monotonic()
    said = process.communicate(timeout=60)[1]
    assert time.monotonic() - begun < 2.0
    assert process.returncode == 130
    assert "frontcheck: stopped; outputs stand as they were" in said
    assert "Traceback" not in said
    assert list(tmp_path.iterdir()) == []


def broken(*_, **__):
    raise ZeroDivisionError("planted\nfault")


def test_a_fault_of_ours_is_two_lines_and_70(monkeypatch) -> None:
    monkeypatch.setattr("frontcheck.rules.ruleset.rule_set_ids", broken)
    plain = CliRunner().invoke(main, ["rules"])
    assert plain.exit_code == 70
    assert "ZeroDivisionError" in plain.stderr
    assert "please report it" in plain.stderr
    assert len(plain.stderr.splitlines()) == 2
    assert "Traceback" not in plain.stderr
    shown = CliRunner().invoke(main, ["--debug", "rules"])
    assert shown.exit_code == 70
    assert "Traceback" in shown.stderr
    assert "test_endings.py" in shown.stderr

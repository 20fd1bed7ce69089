"""The progress bar: silent at first and away from a terminal, then saying what goes on."""

from __future__ import annotations

import io
import sys
import time

import pytest

from frontcheck.cli import progress as module
from frontcheck.cli.progress import progress


class Terminal(io.StringIO):
    """What a person looks at."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def soon(monkeypatch):
    """A moment is a twentieth of a second here."""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(module, "_AFTER_S", 0.05)


def watched(stream, monkeypatch, steps):
    monkeypatch.setattr(sys, "stderr", stream)
    with progress("screening") as step:
        for words, done, seconds in steps:
            if words:
                step(words, done)
            time.sleep(seconds)
    return stream.getvalue()


def test_a_long_wait_is_explained_even_where_nothing_tells_how_far_it_is(monkeypatch, soon):
    assert "screening" in watched(Terminal(), monkeypatch, [("", 0.0, 0.6)])


def test_steps_told_before_and_after_the_bar_appears_are_shown(monkeypatch, soon):
    shown = watched(Terminal(), monkeypatch, [("first", 0.1, 0.5), ("second", 0.6, 0.4)])
    assert "first" in shown
    assert "second" in shown


def test_a_short_wait_and_a_file_see_nothing(monkeypatch, soon):
    assert watched(io.StringIO(), monkeypatch, [("first", 0.1, 0.3)]) == ""
    monkeypatch.setattr(module, "_AFTER_S", 1.0)  # as it is for people
    assert watched(Terminal(), monkeypatch, [("first", 0.1, 0.0), ("second", 0.9, 0.0)]) == ""


def test_the_bar_ends_with_the_work_even_where_that_fails(monkeypatch, soon):
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)

    def work() -> None:
        with progress("screening"):
            time.sleep(0.3)
            raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        work()
    after = stream.getvalue()
    assert "screening" in after
    time.sleep(0.3)
    assert stream.getvalue() == after

"""The example in the docstring of every public name runs, and prints what it says."""

from __future__ import annotations

import doctest
import inspect
from pathlib import Path

import pytest
from unit.test_docstrings import DOCUMENTED, thing


@pytest.fixture
def demo_folder(root, tmp_path, monkeypatch) -> Path:
    """An empty folder from which `geometries` is found, as from the repository."""
    (tmp_path / "geometries").symlink_to(root / "geometries")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def example_of(name: str) -> doctest.DocTest | None:
    found = doctest.DocTestParser().get_doctest(
        inspect.getdoc(thing(name)) or "", {}, name, None, None
    )
    return found if found.examples else None


@pytest.mark.parametrize("name", DOCUMENTED)
def test_an_exported_name_has_an_example_that_runs(name, demo_folder) -> None:
    example = example_of(name)
    assert example is not None
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE)
    said: list[str] = []
    runner.run(example, out=said.append)
    assert runner.summarize(verbose=False).failed == 0, "".join(said)

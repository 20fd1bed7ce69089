"""Shared by all tests: where things are, and how hypothesis runs."""

from __future__ import annotations

import sys
from pathlib import Path
from subprocess import CompletedProcess, run
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from collections.abc import Callable

# Same input, same tests: no random seed, no database on disk, no clock.
settings.register_profile(
    "frontcheck",
    derandomize=True,
    database=None,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("frontcheck")


@pytest.fixture(scope="session")
def root() -> Path:
    """Top folder of the repository."""
    return Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def geometries(root: Path) -> Path:
    """Folder of the demonstration offset tables."""
    return root / "geometries"


@pytest.fixture
def frontcheck_command(tmp_path: Path) -> Callable[..., CompletedProcess[str]]:
    """Run the command line in a process of its own, in an empty folder."""

    def command(*args: str | Path, cwd: Path = tmp_path) -> CompletedProcess[str]:
        code = "import sys; from frontcheck.cli import main; sys.argv[0] = 'frontcheck'; main()"
        return run(
            [sys.executable, "-c", code, *map(str, args)],
            cwd=cwd,
            capture_output=True,
            text=True,
            check=False,
        )

    return command

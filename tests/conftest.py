"""Shared by all tests: where things are, and how hypothesis runs."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from subprocess import CompletedProcess, run
from typing import TYPE_CHECKING

import pytest
from checks import RECORDS
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadScopeScheduling

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


# Under xdist a file stays with one worker, so that what its fixtures make is made once; the tests
# of the annex share one. The longest go first, so that no worker is left alone with one at the end.
SHARED = {"test_annex": "annex"}
APART = {"test_interval_coverage"}  # each test of these for itself: few, long, nothing in common
FIRST = (
    "annex", "test_leg_command", "test_enclosures", "test_coverage", "test_screen_folder",
    "test_figures", "test_compare", "test_random_contours", "test_damaged_files",
)  # fmt: skip
LONG = ("whole", "pictures", "validation", "properties")


def group_of(path: Path) -> str:
    """Which worker's share a test file belongs to."""
    return next((name for stem, name in SHARED.items() if path.stem.startswith(stem)), path.stem)


class ByShare(LoadScopeScheduling):
    """Hands out whole shares."""

    def _split_scope(self, nodeid: str) -> str:
        file = Path(nodeid.partition("::")[0])
        return nodeid if file.stem in APART else group_of(file)


def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> ByShare:
    """Use the shares named here."""
    return ByShare(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the long shares first, then the folders of long tests; small ones fill what is left."""
    rank = {name: i for i, name in enumerate((*FIRST, *LONG))}

    def place(item: pytest.Item) -> int:
        last = len(rank)
        return min(rank.get(group_of(item.path), last), rank.get(item.path.parent.name, last))

    items.sort(key=place)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Remember what failed, for the records of checks."""
    if report.failed:
        RECORDS.failed.add(report.nodeid)


def pytest_sessionfinish() -> None:
    """Leave the records of checks (tests/checks.py) where they are wanted."""
    RECORDS.write(os.environ.get("FRONTCHECK_CHECKS"))


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

"""How long a person waits for the command line, as ratios to importing its packages.

Each pair runs alternately in the same test, in processes of their own, and medians are
compared: a time by itself would say more of the machine than of the program.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

import pytest

pytestmark = pytest.mark.benchmark

ROUNDS = 7
AT_MOST = 2.0
MAIN = "import sys; from frontcheck.cli import main; sys.argv[0] = 'frontcheck'; main()"


# As installed: modules compiled once. An environment may forbid that, as containers often do.
COMPILED = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


@pytest.fixture(scope="module", autouse=True)
def compiled(tmp_path_factory):
    """Keep what is compiled in a folder of its own: the first run of each pair fills it."""
    COMPILED["PYTHONPYCACHEPREFIX"] = str(tmp_path_factory.mktemp("compiled"))


def seconds(code: str, *args: str) -> float:
    start = time.perf_counter()
    run = subprocess.run(
        [sys.executable, "-c", code, *args], env=COMPILED, capture_output=True, check=False
    )
    taken = time.perf_counter() - start
    # 1 is a screening done with a line missing; a traceback would be quicker than the work.
    assert run.returncode in (0, 1), run.stderr.decode()
    assert b"Traceback" not in run.stderr
    return taken


def ratio(command: tuple[str, ...], imports: str) -> float:
    """Median time of a command over that of the imports, alternately, after one of each."""
    seconds(MAIN, *command)
    seconds(imports)
    pairs = [(seconds(MAIN, *command), seconds(imports)) for _ in range(ROUNDS)]
    ours, theirs = (statistics.median(column) for column in zip(*pairs, strict=True))
    each = sorted(a / b for a, b in pairs)
    shown = " ".join(("frontcheck", *(word.rpartition("/")[2] for word in command)))
    sys.stdout.write(
        f"\n{shown}: {ours / theirs:.2f} times `{imports}` (medians of {ROUNDS} alternate runs; "
        f"single pairs {each[0]:.2f} to {each[-1]:.2f})\n"
    )
    return ours / theirs


def test_help_against_importing_numpy():
    assert ratio(("--help",), "import numpy") <= AT_MOST


def test_lines_without_figures_against_importing_packages(geometries):
    """With the sphere in space 1.0 to 1.2 was seen (0.75 before it). The rest is for noise."""
    command = ("screen", str(geometries / "plover.csv"), "--lines-only")
    assert ratio(command, "import numpy, shapely, pandas") <= 1.5


def test_screening_without_figures_against_importing_packages(geometries):
    """The goal is 1.5; with zones in space and findings 2.3 to 3.0 was seen: not there yet."""
    command = ("screen", str(geometries / "plover.csv"))
    assert ratio(command, "import numpy, shapely, pandas") <= 3.5

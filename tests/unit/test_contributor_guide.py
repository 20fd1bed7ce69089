"""What DEVELOPERS.md says of the tree is true of the tree.

The times it states are measured by .ci/run, which reads them from the same table.
"""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest
from unit import test_rooms
from unit.test_layers import ORDER

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
PLACES = ("", "frontcheck", "frontcheck/rules", "frontcheck/outputs", "tests/unit")
"""Where a path in the guide may start."""


def named_paths(text: str) -> list[str]:
    """Files and folders named in backticks; patterns such as `<ID>.toml` left out."""
    found = re.findall(r"`([\w./-]+(?:\.py|\.toml|\.md|/))`", text)
    found += re.findall(r"`(\.ci/\w+)`", text)
    return sorted(set(found))


def missing(text: str) -> list[str]:
    """Paths that the text names and that are nowhere."""
    return [
        path for path in named_paths(text) if not any((ROOT / p / path).exists() for p in PLACES)
    ]


def slowest(text: str) -> list[tuple[str, str]]:
    """File and function of every test in the list of slow ones."""
    return re.findall(r"^\| `(tests/[\w/]+\.py)::(test_\w+)", text, re.MULTILINE)


def test_every_path_is_there() -> None:
    assert len(named_paths(GUIDE)) > 20
    assert missing(GUIDE) == []
    assert missing("see `geometry/tape.py`, `geometry/rope.py` and `attic/`") == [
        "attic/", "geometry/rope.py",
    ]  # fmt: skip


def test_the_table_of_rooms_is_the_order_of_imports() -> None:
    table = GUIDE.partition("| from the bottom | holds |")[2].partition("\n\n")[0]
    first_column = [
        name
        for row in table.splitlines()[2:]
        for name in re.findall(r"`(\w+)(?:\.py|/)`", row.split("|")[1])
    ]
    order = [name for names in ORDER for name in names if name != "__main__"]
    assert sorted(first_column) == sorted(order)
    rank = {name: i for i, names in enumerate(ORDER) for name in names}
    assert [rank[name] for name in first_column] == sorted(rank[name] for name in first_column)


@pytest.mark.parametrize(
    ("words", "limit"),
    [
        ("at most (\\d+) rooms,", test_rooms.ROOMS),
        (", (\\d+) rooms within\nrooms", test_rooms.SUB_ROOMS),
        ("and (\\d+) files outside", test_rooms.FLAT),
        ("at most (\\d+) lines a file", test_rooms.LINES),
    ],
)
def test_limits_are_those_that_are_tested(words: str, limit: int) -> None:
    (found,) = re.findall(words, GUIDE)
    assert int(found) == limit


def test_the_slowest_twenty_are_tests() -> None:
    listed = slowest(GUIDE)
    assert len(listed) == len(set(listed)) == 20
    for file, function in listed:
        tree = ast.parse((ROOT / file).read_text("utf-8"))
        assert function in {n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)}, file


def test_times_are_stated_where_ci_reads_them() -> None:
    done = subprocess.run(
        ["bash", str(ROOT / ".ci/times"), "list"], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines() == ["300 unit tests", "1200 README: test command"]


def test_steps_of_ci_are_those_described() -> None:
    steps = re.findall(r'^step "([^"]+)"', (ROOT / ".ci/run").read_text("utf-8"), re.MULTILINE)
    described = GUIDE.split("## CI")[1].split("## CHANGELOG")[0]
    for step, words in {
        "ruff check": "ruff",
        "ruff format": "ruff format",
        "mypy": "mypy",
        "README: main command": '"Run it"',
        "README: test command": '"Test it"',
        "reports/ are as committed": "compares",
        "unit tests": "`tests/unit`",
        "times of DEVELOPERS.md": "measures",
        "benchmarks": "runs the benchmarks",
    }.items():
        assert step in steps
        assert words in described

"""What DEVELOPERS.md says of the tree is true of the tree.

The times it states are measured by .ci/run, which reads them from the same table.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
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
        "lowest versions": "lowest versions",
        "coverage of intervals": "coverage of intervals",
        "records of checks": "keeps the records of checks",
        "benchmarks": "runs the benchmarks",
    }.items():
        assert step in steps
        assert words in described


DIFFS = re.findall(r"```diff\n(.*?)```", GUIDE, re.DOTALL)
ADDED = """
import json, sys
from pathlib import Path
import frontcheck as fc
from frontcheck.errors import InputError
from frontcheck.outputs.documents.result_files import line_txt, screening_files

plover = fc.read_front(sys.argv[1])
result = fc.screen(plover)
lamp = result.station(0).LAMP
assert lamp.status == "ok" and 600.0 < lamp.z < 800.0, lamp
assert fc.screen(plover, "EX-DRAFT").rules.value("child_area.wad_rear_mm") == 1800.0
found = [each for each in result.findings if each.code == "LEG-FACE-UPRIGHT"]
assert found and all(each.value < 10.0 for each in found)
points = [[60.0, 200.0], [0.0, 500.0], [80.0, 800.0], [900.0, 900.0]]
Path("nose.json").write_text(json.dumps({"points_mm": points}))
assert fc.read_front("nose.json").section(0).points.tolist() == points
for bad in ("{}", '{"points_mm": 3}', "x"):
    Path("bad.json").write_text(bad)
    try:
        fc.read_front("bad.json")
    except InputError as error:
        assert "bad.json: found no list of points; expected {" in str(error), error
    else:
        raise AssertionError(bad)
said = line_txt(result).decode()
assert said.startswith("Plover: leading edge 800 mm, bumper lead 80 mm. Screening"), said
assert screening_files(result, figures="few")["line.txt"].decode() == said
print(Path(fc.__file__).parent)
"""


def test_what_is_added_by_the_diffs_works(tmp_path) -> None:
    assert len(DIFFS) == 7
    assert all(each.count("\n") < 40 for each in DIFFS)
    copy = tmp_path / "frontcheck"
    shutil.copytree(ROOT / "frontcheck", copy, ignore=shutil.ignore_patterns("__pycache__"))
    alone = os.environ | {"GIT_CEILING_DIRECTORIES": str(tmp_path.parent)}
    for each in DIFFS:
        done = subprocess.run(
            ["git", "apply", "-"], cwd=tmp_path, input=each, text=True, env=alone, check=False,
            stderr=subprocess.PIPE,
        )  # fmt: skip
        assert done.returncode == 0, f"{done.stderr}\n{each}"
    done = subprocess.run(
        [sys.executable, "-c", ADDED, str(ROOT / "geometries/plover.csv")], cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(tmp_path)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.strip() == str(copy), done.stderr

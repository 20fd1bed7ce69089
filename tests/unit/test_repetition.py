"""No twelve or more equal lines stand in two files of the package, imports and headers aside."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

import pytest

import frontcheck

PACKAGE = Path(frontcheck.__file__).parent
LEAST = 12


def body(source: str) -> list[tuple[int, str]]:
    """Number and text of the lines that count: no blank ones, imports or module docstring."""
    tree = ast.parse(source)
    aside: set[int] = set()
    for node in ast.walk(tree):
        heads = isinstance(node, (ast.Import, ast.ImportFrom)) or (
            isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        )
        if heads or (node is tree.body[0] and isinstance(node, ast.Expr)):
            aside.update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    lines = enumerate(source.splitlines(), start=1)
    return [(i, text.strip()) for i, text in lines if text.strip() and i not in aside]


def repeated(sources: dict[str, str], least: int = LEAST) -> list[str]:
    """Runs of equal lines, however indented, that stand in two files."""
    bodies = {file: body(source) for file, source in sources.items() if source.strip()}
    places: dict[tuple[str, ...], list[tuple[str, int]]] = defaultdict(list)
    for file, lines in bodies.items():
        for at in range(len(lines) - least + 1):
            places[tuple(text for _, text in lines[at : at + least])].append((file, at))
    found = []
    seen: set[tuple[str, int]] = set()
    for where in places.values():
        if len({file for file, _ in where}) < 2:
            continue
        # A longer run shows as several windows, one line on each time; only its first is told.
        if not any((file, at - 1) in seen for file, at in where):
            found.append("; ".join(f"{file}:{bodies[file][at][0]}" for file, at in where))
        seen.update(where)
    return found


def test_nothing_stands_in_two_files() -> None:
    files = PACKAGE.rglob("*.py")
    sources = {str(path.relative_to(PACKAGE)): path.read_text(encoding="utf-8") for path in files}
    assert repeated(sources) == []


RUN = "".join(f"x{i} = {i}\n" for i in range(LEAST))


@pytest.mark.parametrize(
    "other",
    [
        f"def f():\n    y = 1\n    {RUN.strip().replace(chr(10), chr(10) + '    ')}\n",
        f"import os\n\n\n{RUN}{RUN.replace('x', 'z')}",
        RUN.replace("x5 = 5\n", "x5 = 5\n\n\n"),
    ],
)
def test_checker_finds_a_planted_copy(other: str) -> None:
    assert len(repeated({"a.py": f'"""A."""\n{RUN}', "b.py": other})) == 1


@pytest.mark.parametrize(
    "other",
    [
        RUN.replace("x5", "y5"),
        "\n".join(RUN.splitlines()[1:]),
        "\n".join(f"from frontcheck import a{i}" for i in range(LEAST)),
    ],
)
def test_checker_lets_what_differs_pass(other: str) -> None:
    imports = "\n".join(f"from frontcheck import a{i}" for i in range(LEAST))
    assert repeated({"a.py": f"{imports}\n{RUN}", "b.py": other}) == []


def test_a_long_run_is_told_once() -> None:
    longer = f"{RUN}y = 1\nz = 2\n"
    assert repeated({"a.py": longer, "b.py": f"w = 0\n{longer}"}) == ["a.py:1; b.py:2"]

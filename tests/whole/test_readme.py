"""The Python of the README runs, and gives the numbers that it says."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any

import pytest

README = Path(__file__).resolve().parents[2] / "README.md"


def blocks() -> list[str]:
    return re.findall(r"```python\n(.*?)```", README.read_text("utf-8"), re.DOTALL)


def numbers_said(line: str) -> list[str]:
    """Numbers at the end of a line: `x, y  # 556.0, 274.6...`; none where the comment is words."""
    comment = line.partition("  # ")[2].strip()
    parts = comment.split(", ")
    return parts if all(re.fullmatch(r"-?\d+(\.\d+)?(\.\.\.)?", p) for p in parts) else []


def is_said(number: str, value: float) -> bool:
    """Whether a value is what a number says; the digits before `...` are those of the value."""
    if number.endswith("..."):
        return repr(float(value)).startswith(number[:-3])
    return repr(float(value)) == repr(float(number))


def run(source: str, names: dict[str, Any]) -> int:
    """Run a block statement by statement; how many numbers it said, all of them right."""
    lines, said = source.splitlines(), 0
    for node in ast.parse(source).body:
        numbers = numbers_said(lines[node.end_lineno - 1])
        if not isinstance(node, ast.Expr):
            exec(compile(ast.Module([node], []), "README", "exec"), names)
            continue
        found = eval(compile(ast.Expression(node.value), "README", "eval"), names)
        values = found if isinstance(found, tuple) else (found,)
        if numbers:
            assert len(values) == len(numbers), ast.unparse(node)
            for number, value in zip(numbers, values, strict=True):
                assert is_said(number, value), f"{ast.unparse(node)} is {value}, not {number}"
        said += len(numbers)
    return said


def test_it_says_what_comes_out(tmp_path, monkeypatch, geometries) -> None:
    (tmp_path / "geometries").symlink_to(geometries)
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    assert len(blocks()) == 3
    assert sum(run(block, names) for block in blocks()) == 10


@pytest.mark.parametrize("line", ["1 + 1  # 3", "2.5, 3  # 2.5, 4", "1 / 3  # 0.34..."])
def test_a_planted_wrong_number_is_noticed(line) -> None:
    with pytest.raises(AssertionError, match="not"):
        run(line, {})


def test_a_right_number_passes() -> None:
    assert run("x = 1\nx / 3, 7  # 0.333..., 7.0\nx  # words with 1", {}) == 2

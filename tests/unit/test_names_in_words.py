"""A name of the package that a docstring or comment speaks of is there under that name."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path

import pytest

import frontcheck

PACKAGE = Path(frontcheck.__file__).parent
NAME = re.compile(r"`(frontcheck(?:\.\w+)+)`")


def is_there(name: str) -> bool:
    """Whether a dotted name is a module of the package, or something in one."""
    parts = name.split(".")
    for known in range(len(parts), 0, -1):
        try:
            found = import_module(".".join(parts[:known]))
        except ImportError:
            continue
        for part in parts[known:]:
            if not hasattr(found, part):
                return False
            found = getattr(found, part)
        return True
    return False


def lost(text: str) -> list[str]:
    """Names in a text that lead nowhere."""
    return [name for name in NAME.findall(text) if not is_there(name)]


def test_names_in_words_lead_somewhere() -> None:
    files = [*PACKAGE.rglob("*.py"), *PACKAGE.rglob("*.toml")]
    found = {path.name: lost(path.read_text(encoding="utf-8")) for path in files}
    assert {file: names for file, names in found.items() if names} == {}


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("see `frontcheck.screening`", 0),
        ("see ``frontcheck.screening.screen``", 0),
        ("see `frontcheck.errors.InputError.at`", 0),
        ("see `frontcheck.nowhere`", 1),
        ("see ``frontcheck.screening.nothing`` and `frontcheck.errors.InputError.nothing`", 2),
        ("the schema ``frontcheck.screening/2``", 0),
    ],
)
def test_checker_tells_names_that_are_there_from_others(text: str, count: int) -> None:
    assert len(lost(text)) == count

"""The house keeps its size: few rooms, file names that stand once, files one can read in one go.

The limits are our own choice, so that a newcomer finds a thing by the name of its room; the
checker is tested on planted faults.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from unit.test_layers import LAYER

import frontcheck

PACKAGE = Path(frontcheck.__file__).parent
ROOMS, SUB_ROOMS, FLAT, LINES = 17, 8, 9, 450


def faults(lengths: dict[str, int]) -> list[str]:
    """What is wrong with a tree of modules, given the lines of each by its path in the package."""
    out = []
    rooms = {parts[0] for parts in map(_folders, lengths) if parts}
    below = {parts for parts in map(_folders, lengths) if len(parts) == 2}
    deep = sorted({"/".join(_folders(path)) for path in lengths if len(_folders(path)) > 2})
    flat = sorted(path for path in lengths if not _folders(path))
    if len(rooms) > ROOMS:
        out.append(f"{len(rooms)} rooms: {sorted(rooms)}")
    if len(below) > SUB_ROOMS:
        out.append(f"{len(below)} rooms within rooms: {sorted(below)}")
    if len(flat) > FLAT:
        out.append(f"{len(flat)} files outside the rooms: {flat}")
    out += [f"{path} lies more than two rooms deep" for path in deep]
    named = Counter(Path(p).name for p in lengths if "cli" not in _folders(p))
    out += [f"{n} files are called {name}" for name, n in named.items() if n > 1 and name != INIT]
    for room in {_folders(path) for path in lengths} - {()}:
        held = [p for p in lengths if _folders(p) == room and Path(p).name != INIT]
        within = [p for p in lengths if _folders(p)[: len(room)] == room and _folders(p) != room]
        if not held and not within:
            out.append(f"{'/'.join(room)} is an empty room")
        if f"{'/'.join(room)}/{INIT}" not in lengths:
            out.append(f"{'/'.join(room)} has no {INIT}")
    out += [f"{path} has {n} lines" for path, n in lengths.items() if n > LINES]
    return out


INIT = "__init__.py"


def _folders(path: str) -> tuple[str, ...]:
    return Path(path).parts[:-1]


def lengths() -> dict[str, int]:
    """Lines of every module, by its path in the package."""
    return {
        path.relative_to(PACKAGE).as_posix(): len(path.read_text("utf-8").splitlines())
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def test_the_house_is_in_order() -> None:
    assert faults(lengths()) == []


GOOD = {
    "__init__.py": 9, "errors.py": 90, "geometry/__init__.py": 1, "geometry/tape.py": 450,
    "outputs/__init__.py": 1, "outputs/text/__init__.py": 1, "outputs/text/words.py": 10,
    "cli/__init__.py": 50, "cli/tape.py": 100,
}  # fmt: skip

PLANTED = {
    "too long": ({"geometry/sphere.py": 451}, "451 lines"),
    "twice": ({"outputs/text/tape.py": 3}, "2 files are called tape.py"),
    "too deep": ({"outputs/text/a/b.py": 3, "outputs/text/a/__init__.py": 1}, "two rooms deep"),
    "empty": ({"zones/__init__.py": 1}, "zones is an empty room"),
    "no init": ({"zones/grid.py": 1}, "zones has no __init__.py"),
    "flat": ({f"f{i}.py": 1 for i in range(8)}, "10 files outside"),
    "rooms": (
        {f"r{i}/{name}": 1 for i in range(16) for name in (INIT, f"f{i}.py")},
        "19 rooms",
    ),
    "rooms within rooms": (
        {f"outputs/r{i}/{name}": 1 for i in range(8) for name in (INIT, f"f{i}.py")},
        "9 rooms within rooms",
    ),
}


def test_the_checker_lets_a_good_house_pass() -> None:
    assert faults(GOOD) == []


@pytest.mark.parametrize("case", PLANTED)
def test_the_checker_finds_a_planted_fault(case: str) -> None:
    added, says = PLANTED[case]
    found = faults(GOOD | added)
    assert len(found) == 1
    assert says in found[0]


def test_every_room_has_its_place_in_the_order_of_imports() -> None:
    rooms = {parts[0] for parts in map(_folders, lengths()) if parts}
    assert rooms <= set(LAYER)


def test_no_layer_is_named_that_is_not_there() -> None:
    there = {parts[0] for parts in map(_folders, lengths()) if parts}
    there |= {Path(path).stem for path in lengths() if not _folders(path)}
    assert set(LAYER) - there <= {"__main__"}

"""What the readers of drawings and meshes share: file checks, axes, the extra to install."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import InputError
from frontcheck.geometry.slicing import Axes
from frontcheck.reading.units import MM_PER_UNIT, mm_per

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = [
    "MAX_COORDINATE_MM",
    "checked_length",
    "checked_unit",
    "file_size",
    "missing_extra",
    "parse_axes",
    "several",
    "told_apart",
]

MAX_COORDINATE_MM: Final = 1e5
"""Farthest coordinate taken [mm], 100 m: beyond it the unit is wrong, or the number is."""

_AXES: Final = {"x": 0, "y": 1, "z": 2}


def file_size(path: str | os.PathLike[str], largest: int, kind: str) -> int:
    """Check that a file is there and is a plain file of fair size."""
    name = os.fspath(path)

    def refuse(found: str, todo: str) -> InputError:
        return InputError(found, expected=kind, todo=todo, file=name)

    try:
        place = Path(name)
        if place.is_dir():
            raise refuse("a folder", "name the file in it")
        if not place.exists():
            raise refuse("no such file", "check the file name and the folder")
        if not place.is_file():
            raise refuse("something that is not a plain file", "save it as a file first")
        size = place.stat().st_size
        with place.open("rb"):
            pass
    except InputError:
        raise
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise refuse(f"a file that cannot be opened ({reason})", "check the name and rights") from (
            problem
        )
    if size == 0:
        raise refuse("an empty file", "export it again and check that something is in it")
    if size > largest:
        raise refuse(
            f"a file of {size / 1e6:.0f} MB",
            f"export only the vehicle front, at most {largest / 1e6:.0f} MB",
        )
    return size


def missing_extra(package: str, file: str) -> InputError:
    """Return the error for a package of the ``cad`` extra that is not installed."""
    return InputError(
        f"that the package {package} is not installed",
        expected=f"{package}, which reads this kind of file",
        todo="run: pip install 'frontcheck[cad]'",
        file=file,
    )


def told_apart(load: Callable[[], Any], file: str, kind: str) -> Any:
    """Run a parser of another package and turn whatever it raises into our error."""
    try:
        return load()
    except InputError:
        raise
    except ImportError as problem:
        raise missing_extra(problem.name or "a parser", file) from None
    except Exception as problem:  # parsers raise what they like on damaged files
        reason = " ".join(str(problem).split())[:120] or "no reason given"
        raise InputError(
            f"a damaged file ({type(problem).__name__}: {reason})",
            expected=kind,
            todo="export the file again, or in another of the formats read",
            file=file,
        ) from problem


def checked_unit(unit: str | None, file: str) -> str | None:
    """Return a unit given as an option, checked."""
    if unit is not None and unit not in MM_PER_UNIT:
        raise InputError(
            f"unit {unit!r}",
            expected=f"one of {', '.join(MM_PER_UNIT)}",
            todo="state the unit of the file's coordinates",
            file=file,
        )
    return unit


def checked_length(
    value: float | None, name: str, default: float, low: float, high: float, file: str
) -> float:
    """Return a number given as an option, checked."""
    if value is None:
        return default
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = float("nan")
    if not low <= number <= high:
        raise InputError(
            f"{name} {value}",
            expected=f"a number from {low:g} to {high:g}",
            todo=f"correct {name}",
            file=file,
        )
    return number


def parse_axes(forward: str, up: str, unit: str, ground: float, file: str) -> Axes:
    """Return how file coordinates become ours."""
    front, front_sign = _axis(forward, "forward", file)
    top, top_sign = _axis(up, "up", file)
    if front == top:
        raise InputError(
            f"forward {forward} and up {up}",
            expected="two axes square to each other",
            todo="state the axis that the vehicle faces and the one that points up",
            file=file,
        )
    side = 3 - front - top
    # forward x up points to the vehicle's right; +1 where (front, top, side) is cyclic.
    cyclic = 1.0 if (top - front) % 3 == 1 else -1.0
    k = mm_per(unit)
    scale = (-front_sign * k, cyclic * front_sign * top_sign * k, top_sign * k)
    return Axes((front, side, top), scale, (0.0, 0.0, -ground * k))


def _axis(text: str, name: str, file: str) -> tuple[int, float]:
    plain = str(text).strip().lower()
    sign, letter = (plain[0], plain[1:]) if plain[:1] in {"+", "-"} else ("+", plain)
    if letter not in _AXES:
        raise InputError(
            f"{name} {text!r}",
            expected="one of +x, -x, +y, -y, +z, -z",
            todo=f"state {name} as an axis of the file",
            file=file,
        )
    return _AXES[letter], -1.0 if sign == "-" else 1.0


def several(count: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"

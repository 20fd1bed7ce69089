"""What results and figures hold, in few lines: any number, word or side that changes shows.

Of a list of numbers only how many there are, their sum and their sum with growing weights are kept,
so that a document of a megabyte takes a page, and the line that differs names what did.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from figure_words import words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")
NEAR = 1e-6
"""Of a number with a point in it, relative and absolute: above rounding of other machines."""
LONG = 12
"""Words of a list that are kept one by one; of longer lists each different one and its places."""


def leaves(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Every value of a document with its key; places in lists are left out."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from leaves(inner, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from leaves(inner, f"{key}[]")
    else:
        yield key, value


def summed(numbers: list[float]) -> str:
    """How many, their sum, and their sum weighted so that order matters."""
    values = np.array(numbers, dtype=np.float64)
    weights = 1.0 + np.arange(len(values)) % 97 / 97.0
    return f"{len(values)} numbers {values.sum():.9e} {(values * weights).sum():.9e}"


def of_document(document: dict[str, Any]) -> str:
    """A line for each key."""
    kept: dict[str, list[Any]] = {}
    for key, value in leaves(document):
        kept.setdefault(key, []).append(value)
    lines = []
    for key, values in kept.items():
        numbers = [v for v in values if isinstance(v, int | float) and not isinstance(v, bool)]
        others = [(i, v) for i, v in enumerate(values) if isinstance(v, bool | str | None)]
        if numbers:
            lines.append(f"{key}: {summed(numbers)}")
        if others and len(others) <= LONG:
            lines += [f"{key}: {word!r}" for _, word in others]
        elif others:
            places: dict[Any, list[float]] = {}
            for i, word in others:
                places.setdefault(word, []).append(float(i))
            lines += [f"{key}: {word!r} {summed(at)}" for word, at in places.items()]
    return "\n".join(lines) + "\n"


def of_figure(figure: Figure) -> str:
    """Its words, and of what is drawn in the units of its axes the points, by gid."""
    from matplotlib.collections import Collection
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    figure.draw_without_rendering()
    said = [" ".join(t.get_text().split()) for t in words(figure)]
    drawn: dict[str, list[float]] = {}
    for number, axes in enumerate(figure.axes):
        for artist in axes.findobj(lambda a: isinstance(a, Line2D | Patch | Collection)):
            if artist is axes.patch or not artist.get_visible():
                continue
            name = f"axes {number} {type(artist).__name__} {artist.get_gid() or ''}".strip()
            if isinstance(artist, Line2D):
                points = [artist.get_xydata()]
            elif isinstance(artist, Patch):
                points = [artist.get_path().vertices]
            else:
                points = [np.ma.filled(artist.get_offsets(), 0.0)]
                points += [path.vertices for path in artist.get_paths()]
            flat = np.concatenate([np.ravel(each) for each in points])
            drawn.setdefault(name, []).extend(flat[np.isfinite(flat)].tolist())
    lines = [f"said: {' | '.join(said)}"]
    return "\n".join(lines + [f"{name}: {summed(at)}" for name, at in drawn.items()]) + "\n"


def of_drawing(path: Path) -> str:
    """Of a DXF drawing the entities by layer."""
    import ezdxf

    kept: dict[str, list[float]] = {}
    words = []
    for entity in ezdxf.readfile(path).modelspace():
        kind = entity.dxftype()
        if kind == "MTEXT":
            words.append(f"{entity.dxf.layer}: {entity.text}")
        points = {"POINT": lambda e: [e.dxf.location], "POLYLINE": lambda e: list(e.points()),
                  "MTEXT": lambda e: [e.dxf.insert]}[kind](entity)  # fmt: skip
        at = kept.setdefault(f"{entity.dxf.layer} {kind}", [])
        at += [float(v) for point in points for v in point]
    return "\n".join([*words, *(f"{kind}: {summed(at)}" for kind, at in kept.items())]) + "\n"


def same(found: Path, kept: Path) -> None:
    """Whether two texts are the same, up to the last digits of numbers with a point."""
    new, old = (path.read_text("utf-8").splitlines() for path in (found, kept))
    for number, (a, b) in enumerate(zip(new, old, strict=False), start=1):
        assert alike(a, b), f"{kept.name}, line {number}:\n  was {b}\n  is  {a}"
    assert len(new) == len(old), f"{kept.name}: {len(old)} lines were, {len(new)} are"


def alike(a: str, b: str) -> bool:
    """Whether two lines say the same."""
    if a == b:
        return True
    ones, twos = NUMBER.findall(a), NUMBER.findall(b)
    if NUMBER.sub("#", a) != NUMBER.sub("#", b) or len(ones) != len(twos):
        return False
    pairs = [(x, y) for x, y in zip(ones, twos, strict=True) if x != y]
    return all("." in x and near(float(x), float(y)) for x, y in pairs)


def near(x: float, y: float) -> bool:
    """Whether two numbers differ by rounding alone."""
    return abs(x - y) <= NEAR * max(1.0, abs(x), abs(y))

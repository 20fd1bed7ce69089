"""Names of objects, products, layers and blocks, and the part of a front each counts as.

A name may be a path, `assembly/product`: patterns match all of it or one piece, and of the pieces
the last that says a part counts. The words stand in `part_names.toml`.
"""

from __future__ import annotations

import re
import tomllib
from fnmatch import fnmatchcase
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from frontcheck.errors import refuse
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

MOST_NAMES: Final = 40
_SEAM: Final = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])")
_LONGEST: Final = 3
"""Words in the longest phrase of the table."""


@cache
def _table(section: str) -> dict[tuple[str, ...], str]:
    text = files("frontcheck.reading").joinpath("part_names.toml").read_text("utf-8")
    return {
        tuple(phrase.split()): part
        for part, phrases in tomllib.loads(text)[section].items()
        for phrase in phrases
    }


@cache
def part_said(name: str) -> str:
    """Return the part that one name says by the table of words; empty when none."""
    words = [word.lower() for word in re.findall(r"[^\W_]+", _SEAM.sub(" ", name))]
    found = _phrases(words, _table("words")) or _phrases(words, _table("alone"))
    return "ignore" if "ignore" in found else found[-1] if found else ""


def _phrases(words: Sequence[str], table: Mapping[tuple[str, ...], str]) -> list[str]:
    found, at = [], 0
    while at < len(words):
        for size in range(_LONGEST, 0, -1):
            *first, last = words[at : at + size]
            part = table.get((*first, last)) or table.get((*first, last.removesuffix("s")))
            if part:
                break
        found += [part] if part else []
        at += size
    return found


def parts_of(
    names: Sequence[str], wanted: Mapping[str, Sequence[str]] | None, file: str
) -> list[str]:
    """Return the part of each name: by the patterns wanted, else by its words; empty for none."""
    own: dict[int, str] = {}
    for part, patterns in (wanted or {}).items():
        if part not in PARTS:
            raise refuse("parts.part", file, part=part, parts=PARTS)
        for i in sorted(named(names, patterns, file)):
            if own.setdefault(i, part) != part:
                raise refuse("parts.twice", file, name=names[i], one=own[i], two=part)
    paths = [name.split("/") for name in names]
    shared = 0  # what stands before all names, such as the product as a whole, parts none of them
    if len(paths) > 1:
        while all(len(p) > shared + 1 and p[shared] == paths[0][shared] for p in paths):
            shared += 1
    return [
        own.get(i) or next(filter(None, map(part_said, reversed(path[shared:]))), "")
        for i, path in enumerate(paths)
    ]


def named(names: Sequence[str], patterns: Sequence[str], file: str) -> set[int]:
    """Names that match one of some patterns, as a whole or in one piece of their path."""
    found: set[int] = set()
    for pattern in [patterns] if isinstance(patterns, str) else patterns:
        own = {
            i
            for i, name in enumerate(names)
            if any(fnmatchcase(n.lower(), pattern.lower()) for n in (name, *name.split("/")))
        }
        if not own:
            raise refuse("mesh.pattern", file, pattern=pattern, names=shown(names))
        found |= own
    return found


def shown(names: Sequence[str]) -> str:
    """Some names for a sentence; of very many the first."""
    text = ", ".join(name or "(no name)" for name in names[:MOST_NAMES])
    return text + (f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else "")

"""Abbreviations that are printed, each with its words; on every screen the words come first."""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import Final

ABBREVIATIONS: Final = MappingProxyType(
    {
        "LBRL": "lower bumper reference line",
        "UBRL": "upper bumper reference line",
        "BLERL": "bonnet leading edge reference line",
        "BRRL": "bonnet rear reference line",
        "SRL": "side reference line",
        "WAD": "wrap-around distance",
        "HIC": "head injury criterion",
    }
)
"""Words of each abbreviation, but for percentiles."""

_COLOURED: Final = re.compile(r"\x1b\[[0-9;]*m")
# Finding codes such as HEAD-WAD1000-AHEAD are names; `_` is a letter here, so that LBRL_z_mm counts
_SHORT: Final = re.compile(
    rf"(?<![A-Za-z-])(?:{'|'.join(ABBREVIATIONS)})(?![A-Za-z0-9-])|(?<![\w-])p\d{{1,2}}\b"
)


def legend(text: str) -> str:
    """Return the words of the abbreviations that a text uses before it says their words."""
    text = _COLOURED.sub("", text)
    bare = [short for short, at in _first(text).items() if not _beside(text, short, at)]
    people = sorted(int(short[1:]) for short in bare if short[0] == "p")
    said = [f"{short}: {ABBREVIATIONS[short]}" for short in ABBREVIATIONS if short in bare]
    if people:
        names, *rest = (", ".join(f"p{p}" for p in people), *map(str, people))
        shares = " or ".join(filter(None, [", ".join(rest[:-1]), rest[-1]]))
        said.append(f"{names}: {shares} of 100 people of a group have less")
    return f"{'; '.join(said)}." if said else ""


def in_words(text: str) -> str:
    """Return running text in which each abbreviation has its words where it stands first."""
    for short, at in reversed(_first(text).items()):
        if short in ABBREVIATIONS and not _beside(text, short, at):
            text = f"{text[:at]}{ABBREVIATIONS[short]} ({short}){text[at + len(short) :]}"
    return text


def _first(text: str) -> dict[str, int]:
    """Where each abbreviation of a text stands first, in that order."""
    first: dict[str, int] = {}
    for found in _SHORT.finditer(text):
        first.setdefault(found[0], found.start())
    return first


def _beside(text: str, short: str, at: int) -> bool:
    """Whether words stand there: `lower bumper line (LBRL)` or `LBRL: lower bumper ...`."""
    after = text[at + len(short) :]
    return (text[:at].endswith("(") and after.startswith(")")) or after.startswith(
        f": {ABBREVIATIONS.get(short, 'percentile')}"
    )

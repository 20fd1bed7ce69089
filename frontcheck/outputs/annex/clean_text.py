"""Text from files and options, made fit to be shown."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

__all__ = ["breakable", "clean"]

_BREAK: Final = "\N{ZERO WIDTH SPACE}"
_LONGEST: Final = 4000
_WIDE: Final = frozenset("WMmw@%")
_NARROW: Final = frozenset("ijlI.,:;'|!()[] ")
_WORD: Final = re.compile(r"[^\s/-]+")
"""What is not broken in any case: lines end at spaces, hyphens and slashes."""


def clean(text: str) -> str:
    """Return a text without what would disturb the line it stands on."""
    # Control characters and line breaks become spaces; characters that turn the direction of
    # writing or take no room are dropped, so that a name cannot pass for another; halves of
    # characters become a replacement mark.
    kept = []
    for character in text:
        kind = unicodedata.category(character)
        if kind == "Cf":
            continue
        if kind == "Cs":
            kept.append("\N{REPLACEMENT CHARACTER}")
        else:
            kept.append(" " if kind in ("Cc", "Zl", "Zp") else character)
    # No-break spaces stay: they hold a number and its unit together.
    line = " ".join(word for word in "".join(kept).split(" ") if word)
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST]}..."


def breakable(text: str, room_em: float) -> str:
    """Return a text that can be broken inside words that are longer than a line is wide."""
    return _WORD.sub(lambda found: _pieces(found[0], room_em), text)


def _pieces(word: str, room_em: float) -> str:
    made, used = [], 0.0
    for character in word:
        width = _width_em(character)
        if used + width > room_em and used > 0.0:
            made.append(_BREAK)
            used = 0.0
        made.append(character)
        used += width
    return "".join(made)


def _width_em(character: str) -> float:
    """Width of a letter, on the safe side for the bold letters of DejaVu Sans."""
    if character in _WIDE or not character.isascii():
        return 1.12
    if character in _NARROW:
        return 0.48
    return 0.85 if character.isupper() else 0.72

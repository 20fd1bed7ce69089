"""Text from files and options, made fit to be shown."""

from __future__ import annotations

import unicodedata
from typing import Final

__all__ = ["breakable", "clean"]

_BREAK: Final = "\N{ZERO WIDTH SPACE}"
_LONGEST: Final = 4000


def clean(text: str) -> str:
    """Return a text without what would disturb the line it stands on.

    Control characters and line breaks become spaces; characters that turn the direction of
    writing or take no room are dropped, so that a name cannot pass for another; halves of
    characters become a replacement mark.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        One line, cut where it is beyond all measure.
    """
    kept = []
    for character in text:
        kind = unicodedata.category(character)
        if kind == "Cf":
            continue
        if kind == "Cs":
            kept.append("\N{REPLACEMENT CHARACTER}")
        else:
            kept.append(" " if kind in ("Cc", "Zl", "Zp") else character)
    line = " ".join("".join(kept).split())
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST]}..."


def breakable(text: str, longest: int) -> str:
    """Return a text that can be broken inside words that are longer than a column is wide.

    Parameters
    ----------
    text : str
        A text.
    longest : int
        Characters that fit.

    Returns
    -------
    str
        The text, with invisible places to break in words longer than that.
    """
    return " ".join(
        word
        if len(word) <= longest
        else _BREAK.join(word[i : i + longest] for i in range(0, len(word), longest))
        for word in text.split(" ")
    )

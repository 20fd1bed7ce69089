"""PDF documents set by typst: vectors, embedded fonts, bookmarks, searchable text.

typst is a wheel without system packages. Content goes to it as data, never as source.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import OutputError
from frontcheck.outputs.figures.canvas import FONT

if TYPE_CHECKING:
    from collections.abc import Mapping


_OUTLINED: Final = re.compile(
    r'<!-- (?P<words>.*?) -->\s*<g(?P<style> style="[^"]*")?(?P<place> transform="[^"]*?)'
    r' scale\((?P<size>[\d.]+) -[\d.]+\)">(?P<glyphs>.*?)</g>',
    re.DOTALL,
)
"""A line of text in a figure: its words as a comment, then its letters as outlines."""


def require_typst() -> Any:
    """Return the library that sets documents; called before long work, not after it."""
    try:
        import typst
    except ImportError:
        raise OutputError(
            "documents need the package typst, which is not installed; "
            "run: pip install 'frontcheck[annex]'"
        ) from None
    return typst


def typst_pdf(
    room: str,
    name: str,
    content: Mapping[str, Any],
    pictures: Mapping[str, bytes] | None = None,
    *,
    tagged: bool = True,
) -> bytes:
    """Fill the template `name` of a room with content; the same always gives the same bytes."""
    typst = require_typst()
    drawn = {name: _lettered(svg.decode()).encode() for name, svg in (pictures or {}).items()}
    templates = {
        each.name: each.read_bytes()
        for each in files(room).joinpath("templates").iterdir()
        if each.name.endswith(".typ")
    }
    sources = {
        **templates,
        "main.typ": templates[f"{name}.typ"],
        f"{name}.json": json.dumps(content, ensure_ascii=True).encode(),
    }
    pdf: bytes = typst.compile(
        sources | drawn,
        font_paths=[str(_fonts())],
        ignore_system_fonts=True,  # the same letters, and the same bytes, on every machine
        format="pdf",
        pdf_tags=tagged,  # for a reading voice; a form to print has no use for them
    )
    return pdf


def _lettered(svg: str) -> str:
    """Set the texts of a figure in the fonts of the document, to be searched, and half as large."""
    # Two hyphens cannot stand in a comment; such a figure keeps its outlines.
    return svg if "- -" in svg else _OUTLINED.sub(_letters, svg)


def _letters(line: re.Match[str]) -> str:
    glyphs, size = line["glyphs"], 100.0 * float(line["size"])
    bold = ' font-weight="bold"' if "-Bold" in glyphs else ""
    slanted = ' font-style="italic"' if "Oblique" in glyphs else ""
    return (
        f'<text{line["style"] or ""}{line["place"]}" font-family="{FONT}" font-size="{size:g}"'
        f'{bold}{slanted} xml:space="preserve">{line["words"]}</text>'
    )


def _fonts() -> Path:
    """Folder with the letters that matplotlib comes with, and our figures use."""
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf"

"""The annex as a PDF: what `templates/annex.typ` is filled with."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.outputs.annex.annex_text import (
    Bullets,
    Facts,
    Paragraph,
    Picture,
    Table,
    breakable,
    clean,
)
from frontcheck.outputs.documents.typst_pdf import typst_pdf
from frontcheck.outputs.figures import style as look

if TYPE_CHECKING:
    from frontcheck.outputs.annex.annex_text import Annex, Block, Section

Paper: TypeAlias = Literal["a4", "letter"]

_PAPERS: Final[dict[str, str]] = {"a4": "a4", "letter": "us-letter"}
_TABLE_MM: Final = 255.0
"""Width of a table on the narrower of the two papers [mm]."""
_MM_PER_PT: Final = 25.4 / 72.0
# Room on a line in em: width [mm] over height of the letters. Sizes are those of the template.
_IN_TEXT: Final = 170.0 / (9.5 * _MM_PER_PT)
_IN_NAMES: Final = 57.0 / (8.0 * _MM_PER_PT)
_IN_VALUES: Final = 192.0 / (8.0 * _MM_PER_PT)
_IN_TITLE: Final = 144.0 / (22.0 * _MM_PER_PT)
_IN_ENTRIES: Final = 104.0 / (8.5 * _MM_PER_PT)
_IN_CELLS_PT: Final = 7.0
_HEIGHT_MM: Final = 160.0
_HEIGHT_BELOW_HEADING_MM: Final = 144.0
RULE: Final = "#c9ccd1"
TINT: Final = "#f4f2ee"


def document_bytes(annex: Annex, paper: Paper = "a4") -> bytes:
    """Return an annex as a PDF; the same annex always gives the same bytes."""
    if paper not in _PAPERS:
        raise ValueError(f"paper must be 'a4' or 'letter', not {paper!r}")
    pictures = {f"{picture.stem}.svg": picture.svg for picture in annex.pictures}
    return typst_pdf("frontcheck.outputs.annex", "annex", _content(annex, paper), pictures)


def _content(annex: Annex, paper: str) -> dict[str, Any]:
    block = annex.title_block
    marks = [
        f"{name} {text}" for name, text in (("No.", block.number), ("rev.", block.revision)) if text
    ]
    return {
        "heading": breakable(clean(annex.heading), _IN_TITLE),
        "subject": breakable(clean(annex.subject), _IN_ENTRIES),
        "title": clean(annex.heading),
        "author": [clean(block.author)] if block.author else [],
        "entries": [
            (name, breakable(clean(text), _IN_ENTRIES)) for name, text in block.entries
        ],
        "running": _cut(clean(annex.heading), 110),
        "mark": _cut(clean(", ".join(marks)), 50),
        "made": _made(),
        "caution": CAUTION,
        "caution_short": CAUTION_SHORT,
        "paper": _PAPERS[paper],
        "fonts": [look.FONT],
        "look": {
            "ink": look.INK, "muted": look.MUTED, "face": look.FACE, "rule": RULE, "tint": TINT,
        },
        "sections": [
            {"title": clean(section.title), "blocks": _blocks(section)}
            for section in annex.sections
        ],
    }  # fmt: skip


def _made() -> str:
    from frontcheck import __version__

    return f"Made with frontcheck {__version__}."


def _blocks(section: Section) -> list[dict[str, Any]]:
    """The blocks of a section; a figure below the heading leaves room for it on its page."""
    made = [_block(block) for block in section.blocks]
    for i, each in enumerate(made):
        if each["kind"] == "picture":
            each["height_mm"] = _HEIGHT_BELOW_HEADING_MM if i < 2 else _HEIGHT_MM
    return made


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Paragraph):
        return {"kind": block.voice, "text": _text(block.text)}
    if isinstance(block, Bullets):
        return {"kind": "bullets", "items": [_text(item) for item in block.items]}
    if isinstance(block, Facts):
        pairs = [
            (
                breakable(clean(name), _IN_NAMES),
                breakable(clean(value), _IN_VALUES),
            )
            for name, value in block.pairs
        ]
        return {"kind": "facts", "caption": _text(block.caption), "pairs": pairs}
    if isinstance(block, Picture):
        return {
            "kind": "picture",
            "file": f"{block.stem}.svg",
            "caption": _text(block.caption),
            "alt": clean(block.alt),
        }
    return _table(block)


def _table(table: Table) -> dict[str, Any]:
    per_part = _TABLE_MM / sum(table.widths)
    em = _IN_CELLS_PT * _MM_PER_PT
    rooms = [max((width * per_part - 3.0) / em, 1.5) for width in table.widths]

    def row(cells: tuple[str, ...]) -> list[str]:
        return [breakable(clean(cell), room) for cell, room in zip(cells, rooms, strict=True)]

    return {
        "kind": "table",
        "caption": _text(table.caption),
        "header": row(table.header),
        "rows": [row(cells) for cells in table.rows],
        "widths": list(table.widths),
        "numeric": list(table.numeric),
        "notes": [_text(note) for note in table.notes],
    }


def _text(text: str) -> str:
    return breakable(clean(text), _IN_TEXT)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 3].rstrip()}..."

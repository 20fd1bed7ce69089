"""What an annex is made of: numbered sections with text, facts, tables and figures.

One model for both the PDF and the page; neither adds a number or a sentence of its own. All
text is plain: whatever it holds, it is shown as it stands and never read as markup.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

__all__ = [
    "Annex",
    "Block",
    "Bullets",
    "Facts",
    "Paragraph",
    "Picture",
    "Section",
    "Table",
    "TitleBlock",
]

Voice: TypeAlias = Literal["plain", "caution", "note"]


@dataclass(frozen=True)
class TitleBlock:
    """What the user says of the document; what is not given does not appear."""

    title: str = ""  # Free text
    author: str = ""  # Free text
    project: str = ""  # Free text
    number: str = ""  # Free text
    revision: str = ""  # Free text
    date: str = ""  # Free text

    @property
    def entries(self) -> tuple[tuple[str, str], ...]:
        """Those given, besides the title, with what they are."""
        named = (
            ("Project", self.project),
            ("Drawing number", self.number),
            ("Revision", self.revision),
            ("Date", self.date),
            ("Author", self.author),
        )
        return tuple((name, text) for name, text in named if text)


@dataclass(frozen=True)
class Paragraph:
    """A paragraph."""

    text: str  # The text
    voice: Voice = "plain"  # A caution must not be overlooked; a note stands back


@dataclass(frozen=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]  # Its items


@dataclass(frozen=True)
class Facts:
    """Names and values, one below the other."""

    caption: str  # What they are about
    pairs: tuple[tuple[str, str], ...]  # Name and value


@dataclass(frozen=True)
class Table:
    """A table; the first column names the row."""

    caption: str  # What it shows
    header: tuple[str, ...]  # Column heads, with units in brackets
    rows: tuple[tuple[str, ...], ...]  # Cells
    widths: tuple[float, ...]  # Widths of the columns in relation to each other
    notes: tuple[str, ...] = ()  # What stands below it

    def __post_init__(self) -> None:
        """Check the widths."""
        for row in (*self.rows, self.widths):
            if len(row) != len(self.header):
                raise ValueError(
                    f"table {self.caption!r}: {len(row)} entries in a row of {len(self.header)}"
                )

    @property
    def numeric(self) -> tuple[bool, ...]:
        """For every column, whether all its cells are numbers or dashes."""
        return tuple(
            any(row[i] for row in self.rows) and all(_is_number(row[i]) for row in self.rows)
            for i in range(len(self.header))
        )


@dataclass(frozen=True)
class Picture:
    """A figure."""

    stem: str  # File name without suffix
    svg: bytes = field(repr=False)  # The drawing
    caption: str  # What it shows
    alt: str  # The same for those who cannot see it


Block: TypeAlias = Paragraph | Bullets | Facts | Table | Picture


@dataclass(frozen=True)
class Section:
    """A numbered section."""

    key: str  # Name by which to link to it
    title: str  # Its heading
    blocks: tuple[Block, ...]  # What it holds, in order


@dataclass(frozen=True)
class Annex:
    """A whole annex."""

    heading: str  # Title of the document
    subject: str  # What it is about, in a line
    title_block: TitleBlock  # What the user says of it
    sections: tuple[Section, ...]  # Sections, numbered from 1

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """All figures, numbered from 1 in this order."""
        blocks = [block for section in self.sections for block in section.blocks]
        return tuple(block for block in blocks if isinstance(block, Picture))


def _is_number(cell: str) -> bool:
    text = cell.rstrip(" *")
    if text in ("", "-", "\N{EN DASH}"):
        return True
    try:
        float(text.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        return False
    return True

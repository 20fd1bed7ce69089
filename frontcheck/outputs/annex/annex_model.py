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
    """What the user says of the document; what is not given does not appear.

    Parameters
    ----------
    title, author, project, number, revision, date : str, optional
        Free text.
    """

    title: str = ""
    author: str = ""
    project: str = ""
    number: str = ""
    revision: str = ""
    date: str = ""

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
    """A paragraph.

    Parameters
    ----------
    text : str
        The text.
    voice : {"plain", "caution", "note"}, optional
        A caution must not be overlooked; a note stands back.
    """

    text: str
    voice: Voice = "plain"


@dataclass(frozen=True)
class Bullets:
    """A list.

    Parameters
    ----------
    items : tuple of str
        Its items.
    """

    items: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Names and values, one below the other.

    Parameters
    ----------
    caption : str
        What they are about.
    pairs : tuple of (str, str)
        Name and value.
    """

    caption: str
    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table; the first column names the row.

    Parameters
    ----------
    caption : str
        What it shows.
    header : tuple of str
        Column heads, with units in brackets.
    rows : tuple of tuple of str
        Cells.
    widths : tuple of float
        Widths of the columns in relation to each other.
    notes : tuple of str, optional
        What stands below it.

    Raises
    ------
    ValueError
        If a row or the widths do not have as many entries as the header.
    """

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    notes: tuple[str, ...] = ()

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
    """A figure.

    Parameters
    ----------
    stem : str
        File name without suffix.
    svg : bytes
        The drawing.
    caption : str
        What it shows.
    alt : str
        The same for those who cannot see it.
    """

    stem: str
    svg: bytes = field(repr=False)
    caption: str
    alt: str


Block: TypeAlias = Paragraph | Bullets | Facts | Table | Picture


@dataclass(frozen=True)
class Section:
    """A numbered section.

    Parameters
    ----------
    key : str
        Name by which to link to it.
    title : str
        Its heading.
    blocks : tuple of Block
        What it holds, in order.
    """

    key: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Annex:
    """A whole annex.

    Parameters
    ----------
    heading : str
        Title of the document.
    subject : str
        What it is about, in a line.
    title_block : TitleBlock
        What the user says of it.
    sections : tuple of Section
        Sections, numbered from 1.
    """

    heading: str
    subject: str
    title_block: TitleBlock
    sections: tuple[Section, ...]

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

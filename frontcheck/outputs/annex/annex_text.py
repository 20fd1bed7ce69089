"""Numbers and sources of the annex in words."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from frontcheck.errors import escaped
from frontcheck.files import own_toml
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, STATUS_WORDS
from frontcheck.outputs.figures.side_drawing import LINE_NAMES
from frontcheck.outputs.figures.side_view import figure_bytes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from matplotlib.figure import Figure

    from frontcheck.findings.finding import Finding
    from frontcheck.lines.front_line import FrontLine
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.rules.ruleset import RuleSet

# Text from files and options, made fit to be shown.

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
    swapped = dict.fromkeys(("Cc", "Zl", "Zp"), " ")
    swapped |= {"Cf": "", "Cs": "\N{REPLACEMENT CHARACTER}"}
    kept = "".join(swapped.get(unicodedata.category(each), each) for each in text)
    # No-break spaces stay: they hold a number and its unit together.
    line = " ".join(word for word in kept.split(" ") if word)
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST]}..."


def breakable(text: str, room_em: float) -> str:
    """Return a text that can be broken inside words that are longer than a line is wide."""
    return _WORD.sub(lambda found: _pieces(found[0], room_em), text)


def _pieces(word: str, room_em: float) -> str:
    made, used = "", 0.0
    for character in word:
        width = _width_em(character)
        if used + width > room_em and used > 0.0:
            made, used = made + _BREAK, 0.0
        made, used = made + character, used + width
    return made


def _width_em(character: str) -> float:
    """Width of a letter, on the safe side for the bold letters of DejaVu Sans."""
    if character in _WIDE or not character.isascii():
        return 1.12
    if character in _NARROW:
        return 0.48
    return 0.85 if character.isupper() else 0.72


# What an annex is made of: numbered sections with text, facts, tables and figures.
#
# One model for both the PDF and the page; neither adds a number or a sentence of its own. All
# text is plain: whatever it holds, it is shown as it stands and never read as markup.

Paper: TypeAlias = Literal["a4", "letter"]
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

    def __post_init__(self) -> None:
        """Let texts stand as they may stand anywhere."""
        for name, text in vars(self).copy().items():
            object.__setattr__(self, name, escaped(text))

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
    title: str = ""  # What it is of
    ordered: bool = False  # Numbered from 1


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
    draw: Callable[[], bytes] = field(repr=False)  # Makes the drawing
    caption: str  # What it shows
    alt: str  # The same for those who cannot see it

    @cached_property
    def svg(self) -> bytes:
        """The drawing, made when first asked for."""
        return self.draw()


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
    text = cell.rstrip(" *").strip("()").lstrip("\N{PLUS-MINUS SIGN}")
    try:
        float(text.replace("\N{MINUS SIGN}", "-") if text not in ("", "-", MISSING) else 0.0)
    except ValueError:
        return False
    return True


_WORDS: Final = own_toml(__package__, "words.toml")
MISSING: Final = "\N{EN DASH}"
"""Stands where there is no number."""
SQUARE_METRES: Final = "m\N{SUPERSCRIPT TWO}"


def _filled(text: str, /, **values: object) -> str:
    return text.strip().format(**values)


def told(name: str, /, **values: object) -> Paragraph:
    """Return a paragraph of `words.toml`."""
    return Paragraph(_filled(_WORDS["texts"][name], **values))


def phrase(kind: str, what: str | None) -> str:
    """Return a phrase of `words.toml` for what a result says."""
    return str(_WORDS["phrases"][kind][what or ""])


def tabled(
    name: str, rows: Iterable[Sequence[str]], notes: Iterable[str] = (), /, **values: object
) -> Table:
    """Return a table as `words.toml` lays it out, with notes of its own before more."""
    laid = _WORDS["tables"][name]
    own = [_filled(note, **values) for note in laid.get("notes", ())]
    return Table(
        _filled(laid["caption"], **values), tuple(laid["header"]), tuple(map(tuple, rows)),
        tuple(laid["widths"]), (*own, *notes),
    )  # fmt: skip


def pictured(name: str, make: Callable[[], Figure], stem: str = "", /, **values: object) -> Picture:
    """Return a figure with the words of `words.toml`, drawn when it is asked for."""
    said = {key: _filled(text, **values) for key, text in _WORDS["figures"][name].items()}
    return Picture(stem or name, lambda: figure_bytes(make()), **said)


def number(value: float | None, digits: int = 1) -> str:
    """Return a number with a true minus sign, or a dash for none."""
    if value is None:
        return MISSING
    text = f"{value:.{digits}f}"
    return (text.lstrip("-") if float(text) == 0.0 else text).replace("-", "\N{MINUS SIGN}")


def station_number(y: float) -> str:
    """Return a station without decimals where it has none."""
    return number(y, 0 if y == round(y) else 1)


def extent_text(ends: tuple[float, float]) -> str:
    """Return a stretch across the vehicle."""
    return f"y = {number(ends[0])} to {number(ends[1])} mm"


def point_name(name: str) -> str:
    """Return the name of a line or mark, spelt out."""
    if name in LINE_NAMES:
        return f"{LINE_NAMES[name]} ({name})"
    return f"Wrap-around distance {name.removeprefix('WAD ')} mm ({name})"


def line_source(name: str, rules: RuleSet) -> str:
    """Return by what text a line is formed, and how sure its constants are."""
    prefix = name.lower() if name in LINE_NAMES else "wad"
    by_document: dict[tuple[str, str], list[str]] = {}
    for constant in rules:
        if constant.name.startswith(f"{prefix}."):
            key = (constant.document, constant.provenance)
            by_document.setdefault(key, []).append(constant.paragraph)
    said = []
    for (document, provenance), paragraphs in by_document.items():
        known = sorted({paragraph for paragraph in paragraphs if paragraph})
        where = f", {', '.join(known)}" if known else ", paragraph not known"
        if document.startswith("frontcheck"):
            where = ""
        said.append(f"{document}{where} ({provenance})")
    return "; ".join(said)


def grouped(items: Iterable[tuple[str, float]], total: int) -> list[str]:
    """Return statements with the stations they hold for, each once."""
    where: dict[str, list[float]] = {}
    for text, y in items:
        where.setdefault(text, []).append(y)
    said = []
    for text, ys in where.items():
        place = f"y = {', '.join(map(station_number, ys))} mm"
        if len(ys) == total:
            place = "all stations" if total > 1 else f"y = {ys[0]:g} mm"
        said.append(f"{text} ({place})")
    return said


def status_notes(lined: LinedFront) -> tuple[str, ...]:
    """Return what is to be said of lines that were not formed in the plain way."""
    items = []
    for station in lined.stations:
        for point in all_points(station):
            if point.status != "ok" or point.reason:
                items.append((f"{point.name}, {status_text(point)}", station.y))
            elif getattr(point, "bridged", None):
                words = f"{point.name}: the tape arrives through air, over a hollow"
                items.append((words, station.y))
    return tuple(grouped(items, len(lined.stations)))


def status_text(what: LinePoint | WadPoint | FrontLine) -> str:
    """Return the status of a line in words, with its reason."""
    return f"{STATUS_NAMES[what.status]}: {meaning(what)}"


def meaning(what: LinePoint | WadPoint | FrontLine) -> str:
    """Return why the status of a line is what it is, or what it means."""
    name = f"{STATUS_NAMES[what.status]}: "
    words, why = (text.removeprefix(name) for text in (STATUS_WORDS[what.status], what.reason))
    if what.status == OPEN_END and why == what.reason != "":
        return f"{words} ({why})"
    return why or words


def lead_status(station: Station) -> str:
    """Return the status of a bumper lead: open end where either of its lines has one."""
    return OPEN_END if station.lead_open_end else "ok"


def marked(text: str, status: str) -> str:
    """Return a number in brackets where it is kept, but not known."""
    return f"({text})" if status == OPEN_END and text != MISSING else text


def all_points(station: Station) -> tuple[LinePoint | WadPoint, ...]:
    """Return the reference lines and the wrap-around points of a station."""
    return (*station.lines, *station.wads)


def value_text(finding: Finding) -> str:
    """Return the value of a finding with its unit."""
    return MISSING if finding.value is None else _with_unit(finding.value, finding.rule.unit)


def limit_text(finding: Finding) -> str:
    """Return what the value of a finding was compared with, and how."""
    limit, how = finding.limit, finding.rule.comparison
    signs = {"<=": "\N{LESS-THAN OR EQUAL TO}", ">=": "\N{GREATER-THAN OR EQUAL TO}"}
    if isinstance(limit, tuple):
        low, high = map(_plain, limit)
        return f"{how} {low} to {high} {finding.rule.unit}".strip()
    if limit is None:
        return MISSING
    return f"{signs.get(how, how)} {_with_unit(limit, finding.rule.unit)}"


def place_text(finding: Finding) -> str:
    """Return where a finding lies."""
    if finding.station is None:
        return f"{finding.region.name}, whole front"
    station = f"y = {station_number(finding.station)} mm".replace(" ", "\N{NO-BREAK SPACE}")
    return f"{finding.region.name}, {station}"


def _plain(value: float) -> str:
    return f"{value:.4g}".replace("-", "\N{MINUS SIGN}")


def _with_unit(value: float, unit: str) -> str:
    # A long unit may go to the next line; a short one stays with its number.
    space = "\N{NO-BREAK SPACE}" if len(unit) <= 3 else " "
    return f"{_plain(value)}{space}{unit}".strip()

"""The geometry annex of one front, or of two: sections in order, figures drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.outputs.annex import annex_sections as parts
from frontcheck.outputs.annex import annex_text as words
from frontcheck.outputs.annex.annex_figures import (
    BELOW_HEADING,
    WHOLE_PAGE,
    screening_figures,
    struck_figures,
)  # fmt: skip
from frontcheck.outputs.annex.annex_page import page_bytes
from frontcheck.outputs.annex.annex_sections import line_tables, test_areas
from frontcheck.outputs.annex.annex_text import (
    MISSING,
    SQUARE_METRES,
    Annex,
    Bullets,
    Facts,
    Paragraph,
    Picture,
    Section,
    Table,
    TitleBlock,
    breakable,
    clean,
    tabled,
    told,
)
from frontcheck.outputs.annex.first_page import answer_section
from frontcheck.outputs.documents.exports import json_bytes
from frontcheck.outputs.documents.exports_dxf import dxf_bytes
from frontcheck.outputs.documents.result_files import changes_csv, lines_csv, station_stem
from frontcheck.outputs.documents.typst_pdf import require_typst, typst_pdf
from frontcheck.outputs.figures import canvas as look

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.comparison.changes import Change
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.annex.annex_text import Block, Paper
    from frontcheck.screening import Screening

# The section of the annex that tells what changes from one front to another.


def changes(comparison: Comparison, pictures: Sequence[Picture]) -> Section:
    """Return the section on changes."""
    b = comparison.b.front.name
    said = {"a": comparison.a.front.name, "b": b, "alignment": comparison.alignment}
    blocks: list[Block] = [
        told("changes", **said),
        *pictures,  # the tables after them end where the next section begins: no page is half empty
    ]
    if comparison.notes:
        blocks.append(Bullets(comparison.notes))
    if not comparison.changed:
        blocks.append(Paragraph("Nothing is different in B."))
    blocks += [_by_station(comparison), _findings(comparison)]
    blocks += [tabled("zones", map(_zone_row, comparison.zones))]
    return Section("changes", "Changes", (*blocks, *line_tables(comparison.b, f" of {b}")))


def change_figures(comparison: Comparison) -> list[Picture]:
    """Return the figures of the changes."""
    from frontcheck.outputs.figures.comparison_figures import changes_figure, overlay_figure

    y = min((station.y for station in comparison.stations), key=abs)
    return [
        words.pictured(
            "overlay", lambda: overlay_figure(comparison, y, look.new_figure(*BELOW_HEADING)),
            f"overlay-{station_stem(y).removeprefix('side-')}", y=y,
        ),
        words.pictured(
            "changes", lambda: changes_figure(comparison, look.new_figure(*WHOLE_PAGE))
        ),
    ]  # fmt: skip


def _by_station(comparison: Comparison) -> Table:
    summary = comparison.summary()
    names = list(summary[0])
    items = (
        (f"{c.words}: {c.reason}", s.y) for s in comparison.stations for c in s.lines if c.open_end
    )
    open_ends = words.grouped(items, len(comparison.stations))
    return Table(
        "Changes by station, B minus A [mm]",
        tuple("station y" if name == "y" else name for name in names),
        tuple(tuple(_cell(name, row[name]) for name in names) for row in summary),
        tuple(1.5 if name == "legform" else 1.0 for name in names),
        (told("station_note").text, *(f"{text}." for text in open_ends)),
    )


def _cell(name: str, value: float | str | None) -> str:
    if isinstance(value, str):
        return value
    return words.number(value) if name != "y" or value is None else words.station_number(value)


def _findings(comparison: Comparison) -> Table | Paragraph:
    rows = [
        (
            found.kind,
            f"{found.finding.code}: {found.finding.rule.title}",
            found.place,
            found.details or MISSING,
            found.finding.message,
        )
        for found in comparison.findings
        if found.kind != "same"
    ]
    return tabled("changes", rows) if rows else Paragraph("No finding changes.")


def _zone_row(change: Change) -> tuple[str, ...]:
    digits = 3 if change.unit == "m2" else 1
    values = (words.number(value, digits) for value in (change.a, change.b, change.change))
    unit = SQUARE_METRES if change.unit == "m2" else change.unit
    return (change.words, *values, unit, change.reason)


def annex_of(
    screening: Screening,
    comparison: Comparison | None = None,
    title_block: TitleBlock | None = None,
    *,
    full: bool = False,
) -> Annex:
    """Assemble the annex; its figures are drawn when they are asked for."""
    title_block = title_block or TitleBlock()
    drawn = screening_figures(screening, full=full)
    study, name = screening.motion, screening.front.name
    subject = f"Geometry annex: {name}"
    if comparison is not None:
        subject += f", and the changes to {comparison.b.front.name}"
    sections = [
        answer_section(screening, drawn["answer"][0], full=full),
        parts.input_and_settings(screening, comparison.b if comparison else None),
        parts.reference_lines(screening),
        _side_views(screening, drawn["side"]),
        test_areas(screening, drawn["plan"]),
        Section("body", "Leg and head", (told("body"), *drawn["body"])),
        *([parts.struck_section(study, struck_figures(study, full=full))] if study else ()),
        parts.findings(screening),
        *([changes(comparison, change_figures(comparison))] if comparison else ()),
        *([parts.constants(screening)] if full else ()),
        parts.how_to_read(screening),
    ]
    return Annex(title_block.title or subject, subject, title_block, tuple(sections))


def _side_views(screening: Screening, pictures: Sequence[Picture]) -> Section:
    intro = told("sides")
    if len(pictures) < len(screening.stations):
        intro = told("some_sides", shown=len(pictures), all=len(screening.stations))
    return Section("sides", "Side views", (intro, *pictures))


# The files of an annex folder.

_DRAWING_SHARE = 0.8
"""Part of the time that goes into figures."""


def annex_files(
    screening: Screening,
    comparison: Comparison | None = None,
    title_block: TitleBlock | None = None,
    paper: Paper = "a4",
    step: Callable[[str, float], None] | None = None,
    *,
    full: bool = False,
) -> dict[str, bytes]:
    """Return every file of an annex."""

    def then(words: str, done: float) -> None:
        if step is not None:
            step(words, done)

    require_typst()
    then("test areas and findings", 0.0)
    annex = annex_of(screening, comparison, title_block, full=full)
    files: dict[str, bytes] = {}
    for n, picture in enumerate(annex.pictures):
        then(f"figure {picture.stem}", _DRAWING_SHARE * n / len(annex.pictures))
        files[f"{picture.stem}.svg"] = picture.svg
    then("other rule sets", _DRAWING_SHARE)
    then("annex.html", 0.86)
    files["annex.html"] = page_bytes(annex, screening, screening.by_other_rules, paper)
    then("annex.pdf", 0.92)
    files["annex.pdf"] = document_bytes(annex, paper)
    then("tables and drawing", 0.96)
    files |= _data(screening, "")
    if comparison is not None:
        files |= _data(comparison.b, "-b")
        files["comparison.json"] = json_bytes(comparison.to_dict())
        files["changes.csv"] = changes_csv(comparison)
    if screening.motion is not None:
        files["motion.json"] = json_bytes(screening.motion.to_dict())
    return files


def _data(screening: Screening, mark: str) -> dict[str, bytes]:
    return {
        f"screening{mark}.json": json_bytes(screening.to_dict()),
        f"lines{mark}.csv": lines_csv(screening),
        f"lines{mark}.dxf": dxf_bytes(screening.zones),
    }


# The annex as a PDF, set by typst: vectors, embedded fonts, bookmarks, searchable text. Content
# goes to it as data, never as source.

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
_FLOWING: Final = ("lines", "findings", "constants", "cautions")
"""Sections that begin below the one before, so that no page is nearly empty."""
_HEIGHT_MM: Final = 165.0
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
    from frontcheck import __version__

    block, heading = annex.title_block, clean(annex.heading)
    named = (("No.", block.number), ("rev.", block.revision))
    colors = {"ink": look.INK, "muted": look.MUTED, "face": look.FACE, "rule": RULE, "tint": TINT}
    return {
        "heading": breakable(_cut(heading, 110), _IN_TITLE),
        "subject": breakable(_cut(clean(annex.subject), 160), _IN_ENTRIES),
        "title": heading,
        "author": [clean(block.author)] if block.author else [],
        "entries": [
            (name, breakable(_cut(clean(text), 80), _IN_ENTRIES)) for name, text in block.entries
        ],
        "running": _cut(heading, 110),
        "mark": _cut(clean(", ".join(f"{name} {text}" for name, text in named if text)), 50),
        "made": f"Made with frontcheck {__version__}.",
        "caution": CAUTION,
        "caution_short": CAUTION_SHORT,
        "paper": _PAPERS[paper],
        "fonts": [look.FONT],
        "look": colors,
        "sections": [
            {"title": clean(section.title), "blocks": _blocks(section), "key": section.key,
             "flows": section.key in _FLOWING}
            for section in annex.sections
        ],
    }  # fmt: skip


def _blocks(section: Section) -> list[dict[str, Any]]:
    """The blocks of a section; a figure below the heading leaves room for it on its page."""
    made = [_block(block) for block in section.blocks]
    for i, each in enumerate(made):
        if each["kind"] == "picture":
            each["height_mm"] = _HEIGHT_BELOW_HEADING_MM if i < 2 else _HEIGHT_MM
    return made


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Paragraph():
            return {"kind": block.voice, "text": _text(block.text)}
        case Bullets():
            items = [_text(item) for item in block.items]
            return {
                "kind": "bullets", "items": items, "title": block.title, "ordered": block.ordered
            }  # fmt: skip
        case Facts():
            pairs = [
                (breakable(clean(name), _IN_NAMES), breakable(clean(value), _IN_VALUES))
                for name, value in block.pairs
            ]
            return {"kind": "facts", "caption": _text(block.caption), "pairs": pairs}
        case Picture():
            words = {"caption": _text(block.caption), "alt": clean(block.alt)}
            return {"kind": "picture", "file": f"{block.stem}.svg", **words}
        case Table():
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

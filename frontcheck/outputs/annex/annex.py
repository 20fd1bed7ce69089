"""The geometry annex of one front, or of two: sections in order, figures drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.outputs.annex import annex_sections as parts
from frontcheck.outputs.annex.annex_figures import (
    BELOW_HEADING,
    WHOLE_PAGE,
    Drawn,
    screening_figures,
)
from frontcheck.outputs.annex.annex_page import page_bytes
from frontcheck.outputs.annex.annex_sections import line_tables, test_areas
from frontcheck.outputs.annex.annex_text import (
    MISSING,
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
    grouped,
    number,
)
from frontcheck.outputs.annex.first_page import answer_section
from frontcheck.outputs.annex.struck_section import struck_figures, struck_section
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

_TEXT_COLUMNS = ("legform",)
_STATION_NOTE = (
    "z heights, x setbacks. B outside and B inside: farthest that B stands outside and inside A, "
    "square to the contours. Legform: A > B where it differs."
)


def changes(comparison: Comparison, pictures: Sequence[Picture]) -> Section:
    """Return the section on changes."""
    a, b = comparison.a.front, comparison.b.front
    blocks: list[Block] = [
        Paragraph(
            f"A is {a.name}, B is {b.name}; every change is B minus A, so a positive height is "
            f"higher and a positive setback farther rearward in B. {comparison.alignment}"
        ),
        *pictures,  # the tables after them end where the next section begins: no page is half empty
    ]
    if comparison.notes:
        blocks.append(Bullets(comparison.notes))
    if not comparison.changed:
        blocks.append(Paragraph("Nothing is different in B."))
    blocks += [_by_station(comparison), _findings(comparison), _zones(comparison)]
    blocks += line_tables(comparison.b, f" of {b.name}")
    return Section("changes", "Changes", tuple(blocks))


def change_figures(comparison: Comparison) -> tuple[Drawn, ...]:
    """Return the figures of the changes."""
    from frontcheck.outputs.figures.comparison_figures import changes_figure, overlay_figure

    y = min((station.y for station in comparison.stations), key=abs)
    end = station_stem(y).removeprefix("side-")
    return (
        Drawn(
            f"overlay-{end}",
            f"Both side views at station {y:g} mm, to scale.",
            f"Sections of A and B at station {y:g} mm over each other; the table of changes "
            "has the numbers.",
            lambda: overlay_figure(comparison, y, look.new_figure(*BELOW_HEADING)),
        ),
        Drawn(
            "changes",
            "Changes of heights, bumper lead and points at wrap-around distances (WAD) across the "
            "front. LBRL, UBRL, BLERL: reference lines of the lower and upper bumper and of the "
            "bonnet leading edge.",
            "Changes over the stations; the table of changes has the numbers.",
            lambda: changes_figure(comparison, look.new_figure(*WHOLE_PAGE)),
        ),
    )


def _by_station(comparison: Comparison) -> Table:
    summary = comparison.summary()
    names = list(summary[0])
    rows = tuple(tuple(_cell(name, row[name]) for name in names) for row in summary)
    open_ends = grouped(
        (
            (f"{c.words}: {c.reason}", s.y)
            for s in comparison.stations
            for c in s.lines
            if c.open_end
        ),
        len(comparison.stations),
    )
    return Table(
        "Changes by station, B minus A [mm]",
        tuple("station y" if name == "y" else name for name in names), rows,
        tuple(1.5 if name in _TEXT_COLUMNS else 1.0 for name in names),
        (_STATION_NOTE, *(f"{text}." for text in open_ends)),
    )  # fmt: skip


def _cell(name: str, value: float | str | None) -> str:
    if isinstance(value, str):
        return value
    whole = name == "y" and value is not None and value == round(value)
    return number(value, 0 if whole else 1)


def _findings(comparison: Comparison) -> Table | Paragraph:
    rows = tuple(
        (
            found.kind,
            f"{found.finding.code}: {found.finding.rule.title}",
            found.place,
            found.details or MISSING,
            found.finding.message,
        )
        for found in comparison.findings
        if found.kind != "same"
    )
    if not rows:
        return Paragraph("No finding changes.")
    return Table(
        "Findings that change from A to B",
        ("change", "code", "where", "what happened", "finding (in B; in A where it is gone)"),
        rows, (0.7, 2.4, 1.9, 2.4, 5.4),
        ("New: in B only. Gone: in A only. Moved: in both, with another value or extent.",),
    )  # fmt: skip


def _zones(comparison: Comparison) -> Table:
    return Table(
        "Corners, test areas and thirds, A and B",
        ("what", "A", "B", "B minus A", "unit", "why not compared"),
        tuple(_zone_row(change) for change in comparison.zones),
        (4.2, 1.0, 1.0, 1.0, 0.6, 4.0),
    )


def _zone_row(change: Change) -> tuple[str, ...]:
    digits = 3 if change.unit == "m2" else 1
    values = (number(value, digits) for value in (change.a, change.b, change.change))
    unit = "m\N{SUPERSCRIPT TWO}" if change.unit == "m2" else change.unit
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
    other = None if comparison is None else comparison.b
    if comparison is not None:
        drawn["changes"] = change_figures(comparison)
    study = screening.motion
    if study is not None:
        drawn["motion"] = struck_figures(study, full=full)
    pictures = {group: [_picture(figure) for figure in each] for group, each in drawn.items()}
    sections = [
        answer_section(screening, pictures["answer"][0], full=full),
        parts.input_and_settings(screening, other),
        parts.reference_lines(screening),
        _side_views(screening, pictures["side"]),
        test_areas(screening, pictures["plan"]),
        _body(pictures["body"]),
        *(() if study is None else (struck_section(study, pictures["motion"]),)),
        parts.findings(screening),
    ]
    if comparison is not None:
        sections.append(changes(comparison, pictures["changes"]))
    if full:
        sections.append(parts.constants(screening))
    sections.append(parts.how_to_read(screening))
    name = screening.front.name
    subject = f"Geometry annex: {name}"
    if other is not None:
        subject = f"Geometry annex: {name}, and the changes to {other.front.name}"
    return Annex(title_block.title or subject, subject, title_block, tuple(sections))


def _picture(figure: Drawn) -> Picture:
    return Picture(figure.stem, figure.svg, figure.caption, figure.alt)


def _side_views(screening: Screening, pictures: Sequence[Picture]) -> Section:
    intro = "Every station measured is shown."
    if len(pictures) < len(screening.stations):
        intro = (
            f"{len(pictures)} of {len(screening.stations)} stations are shown; annex.html has "
            "the others, and the tables of reference lines all of them."
        )
    return Section("sides", "Side views", (Paragraph(intro), *pictures))


def _body(pictures: Sequence[Picture]) -> Section:
    return Section(
        "body",
        "Leg and head",
        (
            Paragraph(
                "Stiffness is not known: the leg models rank shapes under the same assumptions, "
                "and no value of theirs is to be held against a limit. The head map shows angles "
                "only; there is none where no candidate point lies in a headform area."
            ),
            *pictures,
        ),
    )


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
    block = annex.title_block
    marks = [
        f"{name} {text}" for name, text in (("No.", block.number), ("rev.", block.revision)) if text
    ]
    return {
        "heading": breakable(_cut(clean(annex.heading), 110), _IN_TITLE),
        "subject": breakable(_cut(clean(annex.subject), 160), _IN_ENTRIES),
        "title": clean(annex.heading),
        "author": [clean(block.author)] if block.author else [],
        "entries": [
            (name, breakable(_cut(clean(text), 80), _IN_ENTRIES)) for name, text in block.entries
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
            {"title": clean(section.title), "blocks": _blocks(section), "key": section.key,
             "flows": section.key in _FLOWING}
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
        return {
            "kind": "bullets",
            "items": [_text(item) for item in block.items],
            "title": block.title,
            "ordered": block.ordered,
        }
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

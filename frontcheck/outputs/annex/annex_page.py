"""The annex as one HTML page that needs no network: text, styles, script and figures inside.

Content is escaped where it is written; a content security policy forbids the page to load or
run anything but its own style and script.
"""

from __future__ import annotations

import base64
import hashlib
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION
from frontcheck.outputs.annex.annex_text import Bullets, Facts, Paragraph, Picture, Table, clean
from frontcheck.outputs.annex.page_viewer import viewer_html

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.outputs.annex.annex_pdf import Paper
    from frontcheck.outputs.annex.annex_text import Annex, Block, Section
    from frontcheck.screening import Screening

_SHEETS: Final = {"a4": "A4", "letter": "letter"}
_WIDE_FROM: Final = 40
"""Cells with more characters than this get a column of some width."""


def page_bytes(
    annex: Annex, screening: Screening, others: Sequence[Screening] = (), paper: Paper = "a4"
) -> bytes:
    """Return an annex as a page; the same annex always gives the same bytes."""
    style = (
        _template("annex.css") + f"@page {{ size: {_SHEETS[paper]} landscape; margin: 12mm; }}\n"
    )
    script = _template("annex.js")
    policy = (
        f"default-src 'none'; img-src data:; style-src {_hash(style)}; script-src {_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    title = escape(clean(annex.heading))
    numbered = iter(range(1, 10_000))
    tables = iter(range(1, 10_000))
    sections = "".join(
        _section(n, section, screening, others, numbered, tables)
        for n, section in enumerate(annex.sections, start=1)
    )
    contents = "".join(
        f'<li><a href="#{section.key}">{escape(section.title)}</a></li>'
        for section in annex.sections
    )
    text = (
        '<!DOCTYPE html>\n<html lang="en-GB"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="description" content="{escape(CAUTION)}">'
        f'<title>{title}</title><link rel="icon" href="data:,">'
        f"<style>{style}</style></head><body>"
        '<a class="skip" href="#main">Skip to the content</a>'
        f"{_header(annex, title)}"
        f'<main id="main" tabindex="-1"><nav aria-label="Contents"><h2>Contents</h2>'
        f"<ol>{contents}</ol></nav>{sections}</main>"
        f"<footer><p>{escape(CAUTION)}</p></footer>"
        f"<script>{script}</script></body></html>\n"
    )
    return text.encode()


def _template(name: str) -> str:
    return files("frontcheck.outputs.annex").joinpath(f"templates/{name}").read_text("utf-8")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _header(annex: Annex, title: str) -> str:
    subject = escape(clean(annex.subject))
    entries = "".join(
        f"<dt>{escape(name)}</dt><dd>{escape(clean(text))}</dd>"
        for name, text in annex.title_block.entries
    )
    return (
        f"<header><h1>{title}</h1>"
        + (f'<p class="subject">{subject}</p>' if subject != title else "")
        + (f'<dl class="block">{entries}</dl>' if entries else "")
        + f'<p class="caution">{escape(CAUTION)}</p></header>'
    )


def _section(
    n: int,
    section: Section,
    screening: Screening,
    others: Sequence[Screening],
    figures: Iterator[int],
    tables: Iterator[int],
) -> str:
    head = f'<section id="{section.key}"><h2>{n} {escape(section.title)}</h2>'
    if section.key == "sides":
        intro = (
            "<p>Side views to scale, front of the vehicle on the left, with straight edges, tape "
            "and sphere where they touch.</p>"
        )
        return f"{head}{intro}{viewer_html(screening, others)}</section>"
    told = [block for block in section.blocks if section.key != "about" or not _cautions(block)]
    blocks = "".join(_block(block, figures, tables) for block in told)
    return f"{head}{blocks}</section>"


def _cautions(block: Block) -> bool:
    """Whether it is the caution, which stands at the top of the page already."""
    return isinstance(block, Paragraph) and block.voice == "caution"


def _block(block: Block, figures: Iterator[int], tables: Iterator[int]) -> str:
    if isinstance(block, Paragraph):
        kind = "" if block.voice == "plain" else f' class="{block.voice}"'
        return f"<p{kind}>{_text(block.text)}</p>"
    if isinstance(block, Bullets):
        items = "".join(f"<li>{_text(item)}</li>" for item in block.items)
        return f'<ul class="text">{items}</ul>'
    if isinstance(block, Picture):
        return _picture(block, next(figures))
    return _facts(block, next(tables)) if isinstance(block, Facts) else _table(block, next(tables))


def _picture(picture: Picture, n: int) -> str:
    data = base64.b64encode(picture.svg).decode()
    return (
        f'<figure><div class="scroll" role="region" aria-label="Figure {n}" tabindex="0">'
        f'<img alt="{_text(picture.alt)}" src="data:image/svg+xml;base64,{data}"></div>'
        f"<figcaption>Figure {n}: {_text(picture.caption)}</figcaption></figure>"
    )


def _facts(facts: Facts, n: int) -> str:
    rows = "".join(
        f'<tr><th scope="row">{_text(name)}</th><td>{_text(value)}</td></tr>'
        for name, value in facts.pairs
    )
    return _framed(facts.caption, n, f'<tbody class="facts">{rows}</tbody>', ())


def _table(table: Table, n: int) -> str:
    numeric = table.numeric
    wide = [any(len(row[i]) > _WIDE_FROM for row in table.rows) for i in range(len(table.header))]

    def kind(i: int) -> str:
        return ' class="number"' if numeric[i] else ' class="wide"' if wide[i] else ""

    head = "".join(
        f'<th scope="col"{kind(i)}>{_text(name)}</th>' for i, name in enumerate(table.header)
    )
    rows = []
    for row in table.rows:
        cells = [f'<th scope="row"{kind(0)}>{_text(row[0])}</th>']
        cells += [f"<td{kind(i)}>{_text(cell)}</td>" for i, cell in enumerate(row) if i]
        rows.append(f"<tr>{''.join(cells)}</tr>")
    parts = sum(table.widths)
    columns = "".join(f'<col width="{100.0 * width / parts:.1f}%">' for width in table.widths)
    body = (
        f"<colgroup>{columns}</colgroup><thead><tr>{head}</tr></thead>"
        f"<tbody>{''.join(rows)}</tbody>"
    )
    return _framed(table.caption, n, body, table.notes)


def _framed(caption: str, n: int, body: str, notes: Sequence[str]) -> str:
    said = "".join(f'<p class="note">{_text(note)}</p>' for note in notes)
    return (
        f'<div class="tabled"><div class="scroll" role="region" aria-label="Table {n}" '
        f'tabindex="0"><table><caption><span>Table {n}: '
        f"{_text(caption)}</span></caption>{body}</table></div>{said}</div>"
    )


def _text(text: str) -> str:
    return escape(clean(text))

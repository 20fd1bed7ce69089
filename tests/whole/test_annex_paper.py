"""What stands on the pages of the annex: no page nearly empty, letters high enough, contents right.

Read back by an engine of its own (pypdfium2, PDFium), not by the one that set the pages.
"""

from __future__ import annotations

import ctypes
import io
import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from annexes import TITLES, both_files, plover_files, screened, struck

from frontcheck.front.front import Front
from frontcheck.outputs.annex.annex import annex_of, document_bytes
from frontcheck.screening import Screening, screen
from frontcheck.surface.section import Section

MM = 72.0 / 25.4
LEAST_PT = 7.0
USED_AT_LEAST = 0.25
"""Share of the height of a page that is used: own choice, a heading with a table of a few rows;
what is left of a long table before a figure takes no less."""
MOST_PAGES = 14
HEAD_MM, FOOT_MM = 17.0, 14.0
"""Where the running head ends and the foot begins."""


def bare(front: Front) -> Front:
    """Without labels and without the windscreen, which would be found by its shape."""
    ends = [(s, int(s.part_mask("windscreen").argmax())) for s in front.sections]
    return replace(front, sections=tuple(Section(s.points[:end], s.y) for s, end in ends))


def taller(front: Front, times: float) -> Front:
    return replace(
        front,
        sections=tuple(Section(s.points * (1.0, times), s.y, s.parts) for s in front.sections),
    )


def with_more_stations(front: Front) -> Front:
    """Fifteen across, each side by itself, as a mesh is cut."""
    shape = front.sections[0]
    across = [Section(shape.points, y, shape.parts) for y in np.arange(-700.0, 701.0, 100.0)]
    return replace(front, sections=tuple(across), symmetric=False)


FRONTS: dict[str, Callable[[Front], Front]] = {
    "one section": lambda front: replace(front, sections=front.sections[:1]),
    "plan not known": lambda front: replace(front, datum="local"),
    "no windscreen": bare,
    "low": lambda front: taller(front, 0.7),
    "many stations": with_more_stations,
    "tall": lambda front: taller(front, 1.4),
}


@cache
def pdf(name: str) -> bytes:
    if name == "plover":
        return plover_files()["annex.pdf"]
    if name == "both, full, Letter":
        return both_files()["annex.pdf"]
    if name == STRUCK:
        return document_bytes(annex_of(struck()))
    return document_bytes(annex_of(screening(name)))


def screening(name: str) -> Screening:
    return screen(FRONTS[name](screened("plover").front))


STRUCK = "people struck"
NAMES = ("plover", "both, full, Letter", STRUCK, *FRONTS)


def used_shares(data: bytes) -> list[float]:
    """How far down the ink reaches on every page, between head and foot."""
    found = []
    for page in pypdfium2.PdfDocument(data):
        ink = np.asarray(page.render(scale=1.0).to_pil().convert("L")) < 200
        body = ink[round(HEAD_MM * MM) : -round(FOOT_MM * MM)]
        rows = np.flatnonzero(body.any(axis=1))
        found.append((int(rows[-1]) + 1) / len(body) if len(rows) else 0.0)
    return found


def letters(data: bytes) -> list[tuple[float, int, str]]:
    """Height [pt], page and text of every letter, with the scale at which figures stand."""
    found = []
    matrix = pdfium.FS_MATRIX()
    for n, page in enumerate(pypdfium2.PdfDocument(data), start=1):
        text = page.get_textpage()
        for i in range(text.count_chars()):
            letter = chr(pdfium.FPDFText_GetUnicode(text.raw, i))
            if letter.isspace() or letter == "\0":
                continue
            assert pdfium.FPDFText_GetMatrix(text.raw, i, ctypes.byref(matrix))
            scale = math.hypot(matrix.c, matrix.d)
            found.append((pdfium.FPDFText_GetFontSize(text.raw, i) * scale, n, letter))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_no_page_is_nearly_empty(name: str) -> None:
    shares = used_shares(pdf(name))
    assert min(shares) >= USED_AT_LEAST, shares
    assert max(shares) <= 1.0
    if "full" not in name:
        assert len(shares) <= MOST_PAGES + 3 * (name == STRUCK)


@pytest.mark.parametrize("name", NAMES)
def test_every_letter_is_high_enough(name: str) -> None:
    found = letters(pdf(name))
    assert len(found) > 5_000
    # Sizes are read with four digits.
    assert [each for each in found if each[0] < LEAST_PT - 1e-3] == []


@pytest.mark.parametrize("name", NAMES)
def test_the_contents_name_the_page_of_every_section(name: str) -> None:
    document = pypdfium2.PdfDocument(pdf(name))
    first = document[0].get_textpage().get_text_range().splitlines()
    at = first.index("Contents")
    entries = [line.replace(" .", "").replace(".", "") for line in first[at + 1 :]]
    there = {}
    for bookmark in document.get_toc():
        place = bookmark.get_dest()
        assert place is not None
        there[" ".join(bookmark.get_title().split())] = place.get_index() + 1
    assert len(there) >= 8
    for (title, page), entry in zip(there.items(), entries, strict=False):
        assert " ".join(entry.split()) == f"{title} {page}"
        if page > 1:
            words = document[page - 1].get_textpage().get_text_range().splitlines()
            assert title in words


def test_an_empty_page_and_small_letters_are_seen() -> None:
    document = pypdfium2.PdfDocument.new()
    document.new_page(842.0, 595.0)
    made = io.BytesIO()
    document.save(made)
    assert used_shares(made.getvalue()) == [0.0]
    sizes = {round(size, 1) for size, _, _ in letters(pdf("plover"))}
    assert {7.0, 8.5, 14.0} <= sizes  # of tables, running text and headings, as the template says


@pytest.mark.parametrize("name", FRONTS)
def test_the_first_page_is_the_answer_whatever_the_front(name: str) -> None:
    document = pypdfium2.PdfDocument(pdf(name))
    first = " ".join(document[0].get_textpage().get_text_range().split())
    answer = screening(name).answer
    for words in (
        *(line.text for line in answer.lines), *answer.cannot_say,
        *(step.do for step in answer.next), "Contents", "What this rests on",
    ):  # fmt: skip
        assert words in first
    second = document[1].get_textpage().get_text_range()
    assert "2 What this is, input and settings" in second.splitlines()


def test_the_longest_answer_stays_on_its_page() -> None:
    """Five lines and three steps of a hundred letters, and a full title block."""
    result = screen(screened("plover").front)
    line, step = result.answer.lines[0], result.answer.next[0]
    long = " ".join(["broadly worded"] * 7)[:100]
    full = replace(
        result.answer,
        lines=(replace(line, text=long),) * 5,
        next=(replace(step, do=long),) * 3,
    )
    result.__dict__["answer"] = full
    document = pypdfium2.PdfDocument(document_bytes(annex_of(result, title_block=TITLES)))
    first, second = (" ".join(document[n].get_textpage().get_text_range().split()) for n in (0, 1))
    assert first.count(long) == 8
    assert "Taken without being told The vehicle" in first
    assert "Made with frontcheck" in first
    assert "2 What this is, input and settings" in second[:120]

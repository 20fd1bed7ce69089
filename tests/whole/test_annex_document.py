"""The PDF of the annex: fonts, text, bookmarks, paper, nothing beyond its margins."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from annexes import HOSTILE, LONG, TITLES, both_files, plover_files, screened
from pypdf import PdfReader
from pypdf.generic import DictionaryObject

from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.outputs.annex.annex import annex_of, document_bytes
from frontcheck.outputs.annex.annex_text import (
    Annex,
    Bullets,
    Facts,
    Paragraph,
    Picture,
    Section,
    Table,
    TitleBlock,
)

MM = 72.0 / 25.4
PAPERS = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""A4 and size A (letter), landscape [mm]: sources in tests/unit/test_worksheet.py."""


@pytest.fixture(scope="module")
def reader():
    return PdfReader(io.BytesIO(plover_files()["annex.pdf"]))


def text_of(reader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


def hostile_annex() -> Annex:
    text = f"{HOSTILE}{LONG}"
    return Annex(
        text,
        text,
        TitleBlock(*([text] * 6)),
        (
            Section(
                "s",
                "A title",
                (
                    Paragraph(text),
                    Paragraph(text, "caution"),
                    Paragraph(text, "note"),
                    Bullets((text, text)),
                    Facts(text, ((text, text),)),
                    Table(
                        text,
                        ("a", "b", "c", "d"),
                        ((text,) * 4,) * 3,
                        (1.0, 2.0, 0.5, 4.0),
                        (text,),
                    ),
                ),
            ),
        ),
    )


def solid(reference):
    """What an indirect reference stands for."""
    return reference.get_object()


def fonts_of(page) -> dict[str, DictionaryObject]:
    found: dict[str, DictionaryObject] = {}

    def collect(resources) -> None:
        for font in map(solid, (resources.get("/Font") or {}).values()):
            found[str(font["/BaseFont"])] = font
        for form in map(solid, (resources.get("/XObject") or {}).values()):
            if "/Resources" in form:
                collect(form["/Resources"].get_object())

    collect(page["/Resources"].get_object())
    return found


def test_every_font_is_embedded(reader):
    fonts = {}
    for page in reader.pages:
        fonts |= fonts_of(page)
    assert fonts
    for name, font in fonts.items():
        below = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        descriptor = below["/FontDescriptor"].get_object()
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor), name
        assert "DejaVuSans" in name


def test_text_can_be_searched(reader):
    text = text_of(reader)
    assert CAUTION in text
    for words in (
        "BODY-EDGE-ABOVE-MASS", "from memory, unconfirmed",
        screened("plover").front.source.sha256, "gauge_width_mm",
    ):  # fmt: skip
        assert words in text, words
    assert all(CAUTION_SHORT in " ".join(page.extract_text().split()) for page in reader.pages)
    assert "Constants and their sources" not in text
    full = text_of(PdfReader(io.BytesIO(both_files()["annex.pdf"])))
    for words in ("Constants and their sources", "bumper_corner.gauge_width_mm", "bonnet unrolled"):
        assert words in full, words


def test_bookmarks_name_the_sections_in_order(reader):
    titles = [item.title for item in reader.outline]
    assert [title.split(" ", 1)[0] for title in titles] == [str(n) for n in range(1, 9)]
    assert titles[0] == "1 The answer"
    pages = [reader.get_destination_page_number(item) for item in reader.outline]
    assert pages == sorted(pages)
    # The first heading is a bookmark only: its page is the answer.
    for title, page in list(zip(titles, pages, strict=True))[1:]:
        assert title.split(" ", 1)[1] in reader.pages[page].extract_text()


@pytest.mark.parametrize(("paper", "files"), [("a4", plover_files), ("letter", both_files)])
def test_pages_have_the_size_asked_for(paper, files):
    for page in PdfReader(io.BytesIO(files()["annex.pdf"])).pages:
        size = float(page.mediabox.width) / MM, float(page.mediabox.height) / MM
        assert size == pytest.approx(PAPERS[paper], abs=0.1)


def test_figures_are_vectors(reader):
    def images(resources) -> list[str]:
        found = []
        for name, reference in (resources.get("/XObject") or {}).items():
            each = solid(reference)
            if each["/Subtype"] == "/Image":
                found.append(name)
            elif "/Resources" in each:
                found += images(each["/Resources"].get_object())
        return found

    # The colour bar of the head map is the one thing matplotlib draws as an image.
    rasters = [images(page["/Resources"].get_object()) for page in reader.pages]
    assert sum(map(bool, rasters)) <= 1
    drawn = sum(len(page.get_contents().get_data()) for page in reader.pages)
    assert drawn > 10_000


def test_title_block_and_meta_data_hold_what_was_given_and_no_date():
    given = PdfReader(io.BytesIO(both_files()["annex.pdf"]))
    assert given.metadata.title == "Nose review"
    assert given.metadata.author == "The studio"
    first = given.pages[0].extract_text()
    for _, words in TITLES.entries:
        assert words in first
    bare = PdfReader(io.BytesIO(plover_files()["annex.pdf"]))
    assert bare.metadata.title == "Geometry annex: Plover"
    assert bare.metadata.author is None
    for name in ("Drawing number", "Revision", "Author", "Project"):
        assert name not in bare.pages[0].extract_text()
    for reader in (given, bare):
        assert {"/CreationDate", "/ModDate"}.isdisjoint(reader.metadata)


def test_markup_from_files_is_shown_as_text_and_not_obeyed():
    data = document_bytes(hostile_annex())
    reader = PdfReader(io.BytesIO(data))
    text = text_of(reader).replace(" ", "")
    assert '#panic("broken")' in text
    assert "*bold*" in text
    assert '#include"/etc/passwd"' in text
    assert "root:" not in text  # what that file begins with
    assert "\u202e" not in text
    assert len(reader.outline) == 1
    links = [a.get_object() for page in reader.pages for a in page.get("/Annots", [])]
    assert all("/URI" not in str(link.get("/A", "")) for link in links)


def test_a_document_needs_a_paper_it_knows():
    with pytest.raises(ValueError, match="'a4' or 'letter', not 'a5'"):
        document_bytes(hostile_annex(), "a5")  # type: ignore[arg-type]


@pytest.mark.parametrize("what", ["plover", "both", "hostile"])
def test_nothing_runs_into_the_margins(what):
    # Rendered by an engine of its own (pypdfium2, PDFium), not by the one that set the pages.
    data = {
        "plover": lambda: plover_files()["annex.pdf"],
        "both": lambda: both_files()["annex.pdf"],
        "hostile": lambda: document_bytes(hostile_annex()),
    }[what]()
    document = pypdfium2.PdfDocument(data)
    scale = 2.0
    for n, page in enumerate(document):
        ink = np.asarray(page.render(scale=scale).to_pil().convert("L")) < 250
        side, top, foot = (round(mm * MM * scale) for mm in (11.0, 5.0, 5.0))
        assert not ink[:, :side].any(), f"page {n + 1}: left margin"
        assert not ink[:, -side:].any(), f"page {n + 1}: right margin"
        assert not ink[:top].any(), f"page {n + 1}: top"
        assert not ink[-foot:].any(), f"page {n + 1}: foot"
        assert ink.any(), f"page {n + 1}: empty"
    document.close()


def test_words_in_figures_are_text_to_search_for_and_nothing_is_drawn_twice(reader):
    figures = [" ".join(page.extract_text().split()) for page in reader.pages]
    side = next(text for text in figures if "Figure 2:" in text)
    # Labels of the side view, which the document itself does not write there.
    for words in ("straight edge 1000 mm, 50 deg rearward", "height above ground z [mm]",
                  "Bonnet leading edge reference line (BLERL)"):  # fmt: skip
        assert side.count(words) == 1, words


SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'width="90" height="20"><!-- {} --><g style="fill: #5d6670" transform="translate(5 15) '
    'scale(0.07 -0.07)"><defs><path id="DejaVuSans-16" d="M 0 0 L 900 0 L 900 900 z" '
    'transform="scale(0.015625)"/></defs><use xlink:href="#DejaVuSans-16"/></g></svg>'
)


@pytest.mark.parametrize(
    ("comment", "shown"), [("a &lt;b&gt; &amp; c", "a <b> & c"), ("a- -b", ""), ("300", "300")]
)
def test_a_figure_is_lettered_as_its_words_say_or_keeps_its_outlines(comment, shown):
    """matplotlib writes two hyphens in a comment as `- -`, so that they cannot be told from it."""
    section = Section("s", "A", (Picture("p", SVG.format(comment).encode, "caption", "alt"),))
    text = PdfReader(io.BytesIO(document_bytes(Annex("t", "t", TitleBlock(), (section,)))))
    page = text.pages[1].extract_text()
    assert "caption" in page
    words = [line for line in page.splitlines() if "b" in line or "300" in line]
    assert [line.strip() for line in words if line.strip()] == ([shown] if shown else [])


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_the_first_page_has_every_line_of_the_answer_by_number(name):
    screening = screened(name)
    pages = PdfReader(io.BytesIO(document_bytes(annex_of(screening)))).pages
    assert len(pages) <= 14
    first = " ".join(pages[0].extract_text().split())
    answer = screening.answer
    assert answer.lines
    for said in (
        [line.text for line in answer.lines], [step.do for step in answer.next],
    ):  # fmt: skip
        for n, words in enumerate(said, start=1):
            assert f"{n}. {words}" in first
    for words in (*answer.cannot_say, *(row.person for row in answer.people), CAUTION):
        assert words in first
    assert "The answer" not in pages[1].extract_text()

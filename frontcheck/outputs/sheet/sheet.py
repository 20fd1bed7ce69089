"""The measuring sheet as a PDF to print, and as files in a folder.

Page 1 shows how to measure, page 2 takes what belongs to the whole vehicle, and every station has
pages of its own.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.errors import OutputError
from frontcheck.files import write_file
from frontcheck.outputs.figures import style as look
from frontcheck.outputs.sheet.sheet_drawing import draw_checks, draw_plan, draw_side
from frontcheck.outputs.sheet.sheet_page import BODY, FINE, RULE, Page, text_width
from frontcheck.outputs.sheet.sheet_record import draw_record
from frontcheck.outputs.sheet.sheet_words import BEWARE, steps
from frontcheck.reading.form import number_text
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from decimal import Decimal
    from pathlib import Path

    from frontcheck.reading.form import SheetRow, Worksheet

PDF_NAME: Final = "worksheet.pdf"
CSV_NAME: Final = "worksheet.csv"

_FOOT: Final = 12.0
"""Height kept for the caution above the lower margin [mm]."""
_ROW: Final = (6.4, 8.2)
"""Least and greatest height of a row to write in [mm]; 6 mm takes handwriting."""
_HEAD: Final = 50.0
"""From the upper edge of the paper to the first row of a station [mm]."""
_SPARE: Final = 3
"""Rows at least that are left for points between the printed ones."""
_COLUMNS: Final = (10.0, 28.0, 28.0)
"""Widths of row, height and setback [mm]."""
_TICK: Final = 8.0
"""Width of the box of a part [mm]."""
_PALE: Final = "#f1f2f3"


def sheet_pdf(sheet: Worksheet, paper: str = "a4") -> bytes:
    """Return the sheet to print."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    stream = io.BytesIO()
    # No date and no version of anything: the same sheet gives the same bytes.
    metadata = {
        "Title": "Measuring sheet for a vehicle front",
        "Creator": "frontcheck",
        "Producer": "frontcheck",
        "CreationDate": None,
        "ModDate": None,
    }
    # Type 42: the letters as TrueType, which every printer takes and every viewer can search.
    with (
        look.house_style(),
        rc_context({"pdf.fonttype": 42, "pdf.compression": 6}),
        PdfPages(stream, metadata=metadata) as pages,
    ):
        for page in build_pages(sheet, paper):
            pages.savefig(page.figure)
    return stream.getvalue()


def sheet_pages(sheet: Worksheet, paper: str = "a4") -> int:
    """Return how many pages the sheet has."""
    with look.house_style():
        return 2 + _Rows.of(sheet, Page(paper)).pages * len(sheet.stations)


def write_sheet(sheet: Worksheet, folder: Path, paper: str = "a4") -> None:
    """Write the PDF and the CSV into a folder."""
    files = {PDF_NAME: sheet_pdf(sheet, paper), CSV_NAME: sheet.to_csv()}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            path = folder / name
            if path.exists() and path.read_bytes() != data:
                raise OutputError(
                    f"{path}: another sheet is there, perhaps filled in; expected a folder "
                    "without one; name another folder, or move the file away"
                )
    except OutputError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"{folder}: cannot be written ({reason}); name a place you may write to"
        ) from error
    for name, data in files.items():
        write_file(folder / name, data)


# ---- pages ----------------------------------------------------------------------------------


def build_pages(sheet: Worksheet, paper: str = "a4") -> Iterator[Page]:
    """Build the pages one by one; under `look.house_style`, as all figures."""
    total = sheet_pages(sheet, paper)
    for number in range(1, total + 1):
        page = Page(paper)
        if number == 1:
            _how_to(page, sheet)
        elif number == 2:
            draw_record(page, sheet)
        else:
            rows = _Rows.of(sheet, page)
            station, part = divmod(number - 3, rows.pages)
            _station(page, sheet, sheet.stations[station], rows, part)
        _foot(page, number, total)
        yield page


def _how_to(page: Page, sheet: Worksheet) -> None:
    rules = rule_set()
    width = page.right - page.left
    page.text((page.left, 20.0), "How to measure a vehicle front", 14.0, bold=True)
    page.text((page.left, 25.5), "by square, string line, level and tape: side sections across the "
              "front", look.TEXT, color=look.MUTED)  # fmt: skip
    draw_side(page, 28.5, width, 92.0)
    half = (width - 4.0) / 2.0
    plan = 74.0
    draw_plan(page, (page.left, 123.5), plan, 53.0)
    draw_checks(page, (page.left + plan + 4.0, 123.5), width - plan - 4.0, 53.0, rules)
    y = 183.0
    page.text((page.left, y), "Step by step", 9.5, bold=True)
    y += 2.0
    for number, step in enumerate(steps(sheet), start=1):
        y = page.paragraph((page.left, y), step, half + 14.0, BODY, hang=f"{number}") + 0.6
    x = page.left + half + 20.0
    narrow = page.right - x
    page.text((x, 184.5), "Beware", 9.5, bold=True)
    y = 187.0
    for words in (*BEWARE, CAUTION_SHORT):
        y = page.paragraph((x, y), words, narrow - 2.5, BODY, hang="!") + 1.0
    page.box(x - 2.5, 179.5, narrow + 2.5, y + 1.0 - 179.5, look.INK, _PALE)


@dataclass(frozen=True)
class _Rows:
    """How the rows of a station are spread over pages."""

    rows: tuple[SheetRow | None, ...]
    per_page: int
    height: float

    @classmethod
    def of(cls, sheet: Worksheet, page: Page) -> _Rows:
        """Share rows and spare rows evenly among as few pages as hold them."""
        room = page.height - 15.0 - _FOOT - _HEAD
        most = int(room / _ROW[0])
        count = len(sheet.rows) + _SPARE
        pages = math.ceil(count / most)
        per_page = max(math.ceil(count / pages), int(room / _ROW[1]))
        height = min(_ROW[1], room / per_page)
        spare = pages * per_page - len(sheet.rows)
        return cls((*sheet.rows, *([None] * spare)), per_page, height)

    @property
    def pages(self) -> int:
        """Pages of a station."""
        return len(self.rows) // self.per_page


def _station(page: Page, sheet: Worksheet, station: Decimal, rows: _Rows, part: int) -> None:
    side = "on the centre plane"
    if station:
        side = f"to the vehicle's {'right' if station > 0 else 'left'} of the centre plane"
    of = f", part {part + 1} of {rows.pages}" if rows.pages > 1 else ""
    title = f"Station {number_text(station)} {sheet.unit}"
    page.heading(title, sheet.name)
    wide = text_width(title, 14.0, bold=True)
    page.text((page.left + wide + 4.0, 20.0), f"{side}{of}", look.TEXT, color=look.MUTED)
    page.field(page.left, 23.5, page.left + 84.0, "Measured by")
    page.box(page.left + 96.0, 23.7, 6.0, 6.0)
    page.text((page.left + 104.0, 28.5), "upright checked, plumb", look.TEXT)
    page.box(page.left + 146.0, 23.7, 6.0, 6.0)
    page.text((page.left + 154.0, 28.5), "typed in", look.TEXT)
    shown = rows.rows[part * rows.per_page : (part + 1) * rows.per_page]
    edges = [page.left]
    for width in (*_COLUMNS, *(_TICK for _ in PARTS)):
        edges.append(edges[-1] + width)
    edges.append(page.right)
    names = ("row", f"height [{sheet.unit}]", f"setback [{sheet.unit}]")
    for x, name in zip(edges, names, strict=False):
        page.text((x + 1.2, _HEAD - 1.5), name, look.SMALL, bold=True)
    for x, name in zip(edges[3:-2], PARTS, strict=True):
        page.text((x + _TICK / 2.0 + 1.0, _HEAD - 1.5), name, look.SMALL, bold=True, turned=True)
    page.text((edges[-2] + 1.2, _HEAD - 1.5), "note", look.SMALL, bold=True)
    bottom = _HEAD + len(shown) * rows.height
    for i, row in enumerate(shown):
        _row(page, row, edges, _HEAD + i * rows.height, rows.height)
    page.lines(
        [
            ((edges[0], y), (edges[-1], y))
            for y in (_HEAD + i * rows.height for i in range(1, len(shown)))
        ],
        look.MUTED, FINE,
    )  # fmt: skip
    page.lines([((x, _HEAD), (x, bottom)) for x in edges[1:-1]], look.MUTED, FINE)
    page.lines([((x, _HEAD), (x, bottom)) for x in edges[2:4]], look.INK, RULE)
    page.box(edges[0], _HEAD, edges[-1] - edges[0], bottom - _HEAD)


def _row(page: Page, row: SheetRow | None, edges: list[float], y: float, height: float) -> None:
    """What is printed in one row."""
    base = y + height / 2.0 + 1.1
    note = edges[-2] + 1.2
    if row is None:
        page.text((edges[0] + 5.0, base), "+", look.TEXT, ha="center", color=look.MUTED)
        page.text((note, base), "after row no.", look.SMALL, color=look.MUTED)
        return
    page.text((edges[0] + 5.0, base), f"{row.number}", look.TEXT, ha="center", bold=True)
    if row.height is not None:
        page.text((edges[1] + 1.8, base), number_text(row.height), look.TEXT)
    if row.part:
        column = 3 + PARTS.index(row.part)
        corners = [(edges[column], y), (edges[column + 1], y), (edges[column + 1], y + height),
                   (edges[column], y + height)]  # fmt: skip
        page.area(corners, "#e3e5e8")
        page.text(((edges[column] + edges[column + 1]) / 2.0, base), "x", look.TEXT, ha="center",
                  color=look.MUTED)  # fmt: skip
        page.text((note, base), f"{row.part}: write both", look.SMALL, color=look.MUTED)


def _foot(page: Page, number: int, total: int) -> None:
    y = page.height - 15.0 - _FOOT + 3.0
    page.line([(page.left, y), (page.right, y)], look.MUTED, FINE)
    end = page.paragraph(
        (page.left, y + 1.2), CAUTION, page.right - page.left, 6.4, color=look.MUTED
    )
    page.text((page.left, end + 2.8), "frontcheck measuring sheet", 6.4, color=look.MUTED)
    page.text((page.right, end + 2.8), f"page {number} of {total}", look.SMALL, ha="right")

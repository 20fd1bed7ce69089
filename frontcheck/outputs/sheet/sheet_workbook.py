"""The measuring sheet as a spreadsheet: the table of its CSV, cell by cell."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import datetime
from typing import TYPE_CHECKING, Final

from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from frontcheck.reading.form import Worksheet

_DAY: Final = datetime(2000, 1, 1)
"""Stands for no day: the same sheet, the same bytes."""
_PAPER: Final = "FFF2CC"
_WIDE: Final = 70
"""Letters that fit beside a key in one line."""


def sheet_xlsx(sheet: Worksheet) -> bytes:
    """Return the spreadsheet to fill in; the same sheet always gives the same bytes."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.worksheet.datavalidation import DataValidation

    book = Workbook()
    book.properties.creator = "frontcheck"
    book.properties.created = _DAY
    page = book.active
    page.title = "measured"
    fill, bold = PatternFill("solid", fgColor=_PAPER), Font(bold=True)
    lines = list(csv.reader(io.StringIO(sheet.to_csv().decode("utf-8-sig"))))
    header = next(i for i, line in enumerate(lines, start=1) if not line[0].startswith("#"))
    for number, line in enumerate(lines, start=1):
        row = line
        if number < header:
            key, _, value = line[0][1:].strip().partition(":")
            row = [key, value.strip()]
            page.merge_cells(start_row=number, end_row=number, start_column=2, end_column=7)
            page.cell(number, 2).fill = fill
            page.cell(number, 2).alignment = Alignment(wrap_text=True, vertical="top")
            page.row_dimensions[number].height = 15.0 * (1 + len(value) // _WIDE)
        for column, text in enumerate(row, start=1):
            cell = page.cell(number, column)
            measured = number > header and column < 4 and text
            cell.value = float(text) if measured else (text or None)
            if number > header and (column > 2 or not text):
                cell.fill = fill
            if number == header or (number < header and column == 1):
                cell.font = bold
    parts = DataValidation("list", formula1=f'"{",".join((*PARTS, "-"))}"', allow_blank=True)
    parts.add(f"D{header + 1}:D1048576")
    page.add_data_validation(parts)
    page.freeze_panes = f"A{header + 1}"
    for letter in "ABCDEFG":
        page.column_dimensions[letter].width = 22 if letter == "A" else 14
    written = io.BytesIO()
    book.save(written)
    return without_times(written.getvalue())


def without_times(packed: bytes) -> bytes:
    """Return the same file without the time at which it was written."""
    told = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(packed)) as old, zipfile.ZipFile(told, "w") as new:
        for part in old.namelist():
            data = old.read(part)
            if part == "docProps/core.xml":
                stamp = _DAY.isoformat().encode() + b"Z<"
                data = re.sub(rb"(?<=W3CDTF\">)[^<]*<", stamp, data)
            info = zipfile.ZipInfo(part, (1980, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, data)
    return told.getvalue()

"""Spreadsheets for tests, and the example: `python tests/spreadsheets.py` writes it anew."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from itertools import groupby
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font

from frontcheck.outputs.sheet.sheet_workbook import without_times

GEOMETRIES = Path(__file__).parents[1] / "geometries"


def workbook(*sheets, merged=(), names=("measured", "second", "third")):
    """An .xlsx file: each sheet a list of rows of values."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in zip(names, sheets, strict=False):
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
        for cells in merged:
            page.merge_cells(cells)
    written = io.BytesIO()
    book.save(written)
    return without_times(written.getvalue())


def open_document(*sheets, names=("measured", "second")):
    """An .ods file (OASIS Open Document Format 1.2, part 1) of texts, numbers, dates and gaps."""
    kinds = {str: "string", float: "float", int: "float"}

    def cell(value):
        if value is None:
            return "<table:table-cell/>"
        if isinstance(value, str) and value.startswith("="):
            return f"<table:table-cell table:formula={quoteattr(f'of:{value}')}/>"
        if isinstance(value, tuple):
            return f'<table:table-cell office:value-type="date" office:date-value="{value[0]}"/>'
        said = "" if isinstance(value, str) else f' office:value="{value}"'
        text = f"<text:p>{escape(str(value))}</text:p>"
        kind = kinds[type(value)]
        return f'<table:table-cell office:value-type="{kind}"{said}>{text}</table:table-cell>'

    tables = "".join(
        f"<table:table table:name={quoteattr(name)}>"
        + "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
        # Spreadsheet programs say of the rest of a sheet that it is empty.
        + '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="16384"/></table:table-row></table:table>'
        for name, rows in zip(names, sheets, strict=False)
    )
    namespaces = " ".join(
        f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for prefix, name in (("office", "office"), ("table", "table"), ("text", "text"))
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {namespaces} '
        f'office:version="1.2"><office:body><office:spreadsheet>{tables}'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" '
        f'manifest:version="1.2"><manifest:file-entry manifest:full-path="/" '
        f'manifest:media-type="{kind}"/></manifest:manifest>'
    )
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as packed:
        packed.writestr("mimetype", kind)
        packed.writestr("META-INF/manifest.xml", manifest)
        packed.writestr("content.xml", content)
    return written.getvalue()


def old_workbook(rows, merged=()):
    """An .xls file."""
    import xlwt

    book = xlwt.Workbook()
    page = book.add_sheet("measured")
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            if value is not None:
                day = xlwt.easyxf(num_format_str="D-MMM-YY")
                page.write(i, j, value, *([day] if isinstance(value, dt.date) else []))
    for top, bottom, column in merged:
        page.merge(top, bottom, column, column)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def example():
    """Plover as a workshop might keep it: a title, keys, merged stations, gaps, a notes column."""
    lines = list(csv.reader((GEOMETRIES / "plover.csv").read_text("utf-8").splitlines()))
    keys = [",".join(row)[2:].partition(": ") for row in lines if row[0].startswith("#")]
    rows = [row for row in lines if not row[0].startswith("#")][1:]
    book = Workbook()
    book.properties.creator = "frontcheck"
    about = book.active
    about.title = "about"
    about.append(["Invented demo shape, measured with square and lateral string line."])
    page = book.create_sheet("sections")
    page.append(["Offsets of the front, as measured"])
    page["A1"].font = Font(bold=True, size=14)
    for key, _, value in keys:
        if key != "notes":
            page.append([f"{key.replace('_', ' ').capitalize()}:", value])
    page.append([])
    page.append(["Station (mm)", "Height (mm)", "Setback (mm)", "Part", "Notes"])
    for cell in page[page.max_row]:
        cell.font = Font(bold=True)
    first = page.max_row + 1
    for station, group in groupby(rows, key=lambda row: row[0]):
        block = list(group)
        for i, (_, height, setback, part) in enumerate(block):
            note = "wiper parked" if part == "cowl" and block[i - 1][3] != "cowl" else None
            values = (float(height), float(setback), part, note)
            for column, value in enumerate(values, start=2):
                page.cell(first + i, column, value)
        page.cell(first, 1, float(station)).alignment = Alignment(vertical="top")
        last = first + len(block) - 1
        page.merge_cells(start_row=first, end_row=last, start_column=1, end_column=1)
        first = last + 2  # a blank row between stations
    page.freeze_panes = page.cell(len(keys) + 3, 1)
    for letter in "ABCDE":
        page.column_dimensions[letter].width = 18
    written = io.BytesIO()
    book.save(written)
    return without_times(written.getvalue())


if __name__ == "__main__":
    (GEOMETRIES / "plover.xlsx").write_bytes(example())

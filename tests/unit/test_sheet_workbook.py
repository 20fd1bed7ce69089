"""The measuring sheet as a spreadsheet: the same cells as its CSV, and read back the same."""

from __future__ import annotations

import io
import re
import zipfile
from decimal import Decimal

import openpyxl
import pytest
from click.testing import CliRunner
from unit.test_worksheet import filled, joined, sheet

from frontcheck.caution import CAUTION
from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.outputs.sheet.sheet import XLSX_NAME, write_sheet
from frontcheck.outputs.sheet.sheet_workbook import sheet_xlsx
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import PARTS


@pytest.fixture
def page():
    return openpyxl.load_workbook(io.BytesIO(sheet_xlsx(sheet(name="Pløver; =1+1"))))["measured"]


def table_of(page):
    """Keys with their values, header, and rows as texts."""
    rows = [[cell.value for cell in row] for row in page.iter_rows()]
    header = next(i for i, row in enumerate(rows) if row[0] == "station_mm")
    keys = {row[0]: "" if row[1] is None else row[1] for row in rows[:header]}
    texts = [
        ["" if v is None else v if isinstance(v, str) else f"{Decimal(v)}" for v in row[:4]]
        for row in rows[header + 1 :]
    ]
    return keys, rows[header][:4], texts


def test_it_holds_what_the_csv_holds(page):
    keys, header, rows = table_of(page)
    text = sheet(name="Pløver; =1+1").to_csv().decode("utf-8-sig").splitlines()
    lines = [line.strip('"').replace('""', '"') for line in text]
    top = [line for line in lines if line.startswith("# ")]
    assert [f"# {key}: {value}".rstrip() for key, value in keys.items()] == top
    assert lines[len(top) :] == [",".join(row) for row in [header, *rows]]
    assert keys["caution"] == CAUTION
    # A formula in a name stays a text.
    assert next(r[1] for r in page.iter_rows() if r[0].value == "name").data_type == "s"


def test_numbers_are_numbers_and_parts_are_offered(page):
    header = next(cell.row for cell in page["A"] if cell.value == "station_mm")
    assert isinstance(page.cell(header + 10, 1).value, (int, float))
    (offered,) = page.data_validations.dataValidation
    assert offered.formula1.strip('"').split(",") == [*PARTS, "-"]
    assert f"D{header + 1}" in offered.sqref
    assert page.freeze_panes == f"A{header + 1}"


def filled_in(made, lines):
    """The spreadsheet with the cells of a filled CSV typed into it, as a person would."""
    book = openpyxl.load_workbook(io.BytesIO(made))
    page = book["measured"]
    for number, line in enumerate(lines, start=1):
        if line[0].startswith("#"):
            key, _, value = line[0][1:].strip().partition(":")
            assert page.cell(number, 1).value == key
            page.cell(number, 2).value = value.strip() or None
            continue
        for column, text in enumerate(line, start=1):
            number_typed = re.fullmatch(r"[-0-9.]+", text)
            page.cell(number, column).value = float(text) if number_typed else text or None
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def test_filled_in_it_reads_back_like_the_filled_csv(geometries, tmp_path):
    (top, header, rows), _, left_out = filled(geometries)
    top = [["# height_u: 2 mm"] if line == ["# height_u:"] else line for line in top]
    stations = ",".join(dict.fromkeys(row[0] for row in rows))
    made = sheet_xlsx(sheet(stations, "100:1000:25", name="Plover, filled"))
    (tmp_path / "sheet.csv").write_bytes(joined(top, header, rows))
    (tmp_path / "sheet.xlsx").write_bytes(filled_in(made, [*top, header, *rows]))
    text, book = (read_front(tmp_path / f"sheet.{kind}") for kind in ("csv", "xlsx"))
    for ours, theirs in zip(book.sections, text.sections, strict=True):
        assert ours.y == theirs.y
        assert ours.points.tolist() == theirs.points.tolist()
        assert ours.parts == theirs.parts
        assert ours.rows == theirs.rows
        assert ours.height_u.tolist() == theirs.height_u.tolist()
    for name in ("name", "method", "datum", "symmetric", "notes", "survey"):
        assert getattr(book, name) == getattr(text, name)
    said = [note for note in text.reader_notes if "sheet" in note]
    assert f"{left_out} rows of the sheet" in said[0]
    assert set(said) <= set(book.reader_notes)


def test_as_printed_it_says_that_nothing_is_filled_in(tmp_path):
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet_xlsx(sheet()))
    with pytest.raises(InputError, match="a sheet without a setback in any row") as caught:
        read_front(path)
    assert caught.value.column == "C (setback_mm)"


def test_the_same_bytes_whatever_the_day(monkeypatch, tmp_path):
    first = sheet_xlsx(sheet())
    monkeypatch.setattr("time.time", lambda: 2e9)
    monkeypatch.setattr("time.localtime", lambda *_: (2033, 5, 18, 3, 33, 20, 2, 138, 0))
    assert sheet_xlsx(sheet()) == first
    with zipfile.ZipFile(io.BytesIO(first)) as packed:
        assert {info.date_time for info in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        about = packed.read("docProps/core.xml").decode()
    assert re.findall(r">(\d{4}-[^<]*)<", about) == ["2000-01-01T00:00:00Z"] * 2


def test_without_openpyxl_the_rest_is_written_and_the_way_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("frontcheck.outputs.sheet.sheet.find_spec", lambda _: None)
    out = tmp_path / "out"
    done = CliRunner().invoke(
        main, ["worksheet", "--stations", "0,300", "--heights", "100:900:100", "--out", str(out)]
    )
    assert done.exit_code == 0
    assert "pip install 'frontcheck[sheets]'" in done.output
    assert sorted(path.name for path in out.iterdir()) == ["worksheet.csv", "worksheet.pdf"]


def test_a_filled_spreadsheet_is_not_written_over(tmp_path):
    write_sheet(sheet(), tmp_path)
    (tmp_path / XLSX_NAME).write_bytes(b"filled in")
    with pytest.raises(OSError, match=r"worksheet\.xlsx: another sheet is there"):
        write_sheet(sheet(), tmp_path)
    assert (tmp_path / XLSX_NAME).read_bytes() == b"filled in"

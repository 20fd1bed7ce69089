"""Spreadsheets: read like the same table as text, and refused with sheet, row and column letter."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner
from spreadsheets import example, old_workbook, open_document, workbook

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front
from frontcheck.reading.workbook import sheets_of

HEADER = ["station_mm", "height_mm", "setback_mm", "part"]
ROWS = [
    [0, 200, 300, "underside"], [0, 300, 0.5, "bumper"], [0, 600, 10, "bumper"],
    [0, 700, 60, "bonnet"], [0, 800, 800, "bonnet"],
    [100, 200, 300, "underside"], [100, 300, 0, "bumper"], [100, 600, 10.25, "bumper"],
    [100, 800, 800, "bonnet"],
]  # fmt: skip
TOP = [["datum", "common"], ["symmetric", "yes"], ["height_u", "2 mm"], ["setback_u", "1.5 mm"]]
GOOD = [*TOP, HEADER, *ROWS]


@pytest.fixture
def read(tmp_path):
    def read(content, name="front.xlsx", **options):
        path = tmp_path / name
        path.write_bytes(content)
        return read_front(path, **options)

    return read


def at(row, column, value, rows=GOOD):
    """The good sheet with one other cell; row and column as a person counts them."""
    changed = [list(each) for each in rows]
    changed[row - 1][ord(column) - ord("A")] = value
    return changed


def plain(front):
    """All that a table says of a front."""
    return [
        (s.y, s.points.tolist(), s.parts, s.height_u.tolist(), s.setback_u.tolist())
        for s in front.sections
    ]


@pytest.fixture(scope="module")
def as_text(tmp_path_factory):
    path = tmp_path_factory.mktemp("text") / "front.csv"
    lines = [f"# {key}: {value}" for key, value in TOP]
    path.write_text("\n".join([*lines, *(",".join(map(str, row)) for row in [HEADER, *ROWS])]))
    return read_front(path)


class TestSameAsText:
    @pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
    def test_all_three_kinds(self, kind, read, as_text):
        make = {"xlsx": workbook, "ods": open_document, "xls": old_workbook}[kind]
        front = read(make(GOOD), f"front.{kind}")
        assert plain(front) == plain(as_text)
        assert (front.datum, front.symmetric) == ("common", True)
        assert front.source.kind == "offsets"
        assert front.reader_notes[0] == "Sheet measured was read."

    @pytest.mark.parametrize("unit", ["{}_mm", "{} (mm)", "{} [mm]", "{} mm", "{}  (MM)"])
    def test_units_in_the_header(self, unit, read, as_text):
        names = [unit.format(name.capitalize()) for name in ("station", "height", "setback")]
        assert plain(read(workbook([*TOP, [*names, "Part"], *ROWS]))) == plain(as_text)

    def test_units_count(self, read, as_text):
        rows = [[y / 10, z / 25.4, x / 1000, part] for y, z, x, part in ROWS]
        header = ["station (cm)", "height in", "setback [m]", "part"]
        front = read(workbook([*TOP, header, *rows]))
        for ours, theirs in zip(front.sections, as_text.sections, strict=True):
            # A sheet keeps 15 digits.
            np.testing.assert_allclose(ours.points, theirs.points, rtol=0, atol=1e-10)

    def test_keys_values_titles_and_gaps_above(self, read, as_text):
        top = [
            ["Front of the proposal"], [None], ["Measured by", "A. B."],
            [None, "Datum:", "common"], ["Symmetric", True], ["# height_u: 2 mm"],
            ["Setback u (mm)", 1.5], ["notes", None], [],
        ]  # fmt: skip
        front = read(workbook([*top, HEADER, *ROWS]))
        assert plain(front) == plain(as_text)
        said = "1 (Front of the proposal), 3 (Measured by)"
        assert f"Left aside above the table: {said}." in front.reader_notes

    def test_blank_rows_and_other_columns_are_left_and_said(self, read, as_text):
        blank = [None] * 6
        rows = [[*row, "", f"seen {i}"] for i, row in enumerate(ROWS)]
        rows = [*rows[:5], blank, [None, None, None, None, None, "next one"], *rows[5:]]
        date = dt.date(2026, 4, 12)  # of no matter in a column that is not used
        rows[0][5] = date
        front = read(workbook([*TOP, [*HEADER, None, "notes"], *rows]))
        assert plain(front) == plain(as_text)
        assert "Left aside: 1 column (F (notes))." in front.reader_notes
        assert "Skipped: 2 blank rows (11, 12)." in front.reader_notes

    def test_a_column_without_a_name_is_left_and_said(self, read, as_text):
        rows = [[*row, 7] for row in ROWS]
        front = read(workbook([*TOP, [*HEADER, None], *rows]))
        assert plain(front) == plain(as_text)
        assert "Left aside: columns without a name (E)." in front.reader_notes

    def test_a_table_that_starts_further_right(self, read, as_text):
        front = read(workbook([[None, None, *row] for row in GOOD]))
        assert plain(front) == plain(as_text)

    def test_text_that_is_a_number_is_read_and_said(self, read):
        front = read(workbook(at(8, "C", "22,6")))
        assert front.sections[0].x[2] == 22.6
        assert "1 text read as a number: C8 '22,6'." in front.reader_notes

    def test_merged_stations_are_filled_down(self, read, as_text):
        rows = [[y if i in {0, 5} else None, *rest] for i, (y, *rest) in enumerate(ROWS)]
        merged = ("A6:A10", "A11:A14")
        front = read(workbook([*TOP, HEADER, *rows], merged=merged))
        assert plain(front) == plain(as_text)
        old = old_workbook([*TOP, HEADER, *rows], merged=[(5, 9, 0), (10, 13, 0)])
        assert plain(read(old, "front.xls")) == plain(as_text)

    def test_the_example_is_plover(self, geometries):
        """To 0.01 mm asked; the same numbers are the same lines."""
        sheet, text = (
            fc.screen(fc.read_front(geometries / f"plover.{kind}")) for kind in ("xlsx", "csv")
        )
        assert sheet.to_dict()["stations"] == text.to_dict()["stations"]

    def test_the_example_is_what_its_script_makes(self, geometries):
        stored = (geometries / "plover.xlsx").read_bytes()
        assert sheets_of(stored, "stored") == sheets_of(example(), "made")
        assert example() == example()


REFUSED = {
    "date": (at(7, "C", dt.date(2026, 4, 12)), 7, "C (setback_mm)", "2026-04-12", "number"),
    "time": (at(7, "B", dt.time(3, 4)), 7, "B (height_mm)", "03:04", "number"),
    "date above": (at(3, "B", dt.date(2026, 4, 12)), 3, "B", "a date", "number"),
    "formula without result": (at(8, "C", "=C7+1"), 8, "C (setback_mm)", "'=C7+1'", "mend"),
    "error": (at(8, "C", "#DIV/0!"), 8, "C (setback_mm)", "'#DIV/0!'", "type the value"),
    "row of formulas": (
        [*GOOD[:7], ["=A7", "=B7", "=C7", "=D7"], *GOOD[8:]], 8, "A (station_mm)", "'=A7'", "save",
    ),
    "truth": (at(8, "C", True), 8, "C (setback_mm)", "'True'", "plain"),
    "word": (at(8, "C", "ten"), 8, "C (setback_mm)", "'ten'", "plain"),
    "unclear beside another": (
        at(8, "C", "1,5", at(9, "C", "1.200")), 9, "C (setback_mm)", "'1.200'", "1.2340",
    ),
    "unclear mark": (at(9, "C", "1,200"), 9, "C (setback_mm)", "'1,200'", "1.2340"),
    "blank height": (at(8, "B", None), 8, "B (height_mm)", "blank", "fill in"),
    "station not merged": (at(8, "A", None), 8, "A (station_mm)", "blank", "fill in"),
    "unknown part": (at(8, "D", "bumber"), 8, "D (part)", "'bumber'", "bumper?"),
    "negative height": (at(8, "B", -5), 8, "B (height_mm)", "-5 mm", "level ground"),
    "bad key": (at(1, "A", "dautm"), 1, "A", "'dautm'", "datum?"),
    "unknown # key": (at(1, "A", "# colour: red", at(1, "B", None)), 1, "A (colour)", "colour", ""),
    "bad value": (at(3, "B", "two"), 3, "B (height_u)", "'two'", ""),
    "no unit": (at(5, "C", "setback"), 5, "C (setback)", "without a unit", "setback_mm"),
    "feet": (at(5, "C", "setback (ft)"), 5, "C (setback (ft))", "'ft'", "convert"),
    "misspelt": (at(5, "D", "parts"), 5, "D (parts)", "'parts'", "part?"),
    "order": (
        at(8, "B", 150), 8, "A (station_mm), B (height_mm), C (setback_mm)", "stretch", "place",
    ),
    "hidden letter": (at(8, "D", "bum\u202eper"), 8, "D (part)", "U+202E", "delete"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_sheet_row_and_letter(case, read, tmp_path):
    rows, row, column, found, todo = REFUSED[case]
    with pytest.raises(InputError) as caught:
        read(workbook(rows))
    error = caught.value
    assert error.file == f"{tmp_path / 'front.xlsx'}, sheet measured"
    assert (error.row, error.column) == (row, column)
    assert found in error.found
    assert todo in error.todo
    assert f"row {row}, column {column}: found" in str(error)


def test_dates_are_refused_in_all_three_kinds(read):
    day = dt.date(2026, 4, 12)
    ods = open_document(at(7, "C", ("2026-04-12",)))
    made = {
        "a.ods": ods,
        "a.xlsx": workbook(at(7, "C", day)),
        "a.xls": old_workbook(at(7, "C", day)),
    }
    for name, content in made.items():
        with pytest.raises(InputError, match=r"row 7, column C \(setback_mm\): found a date"):
            read(content, name)


def test_formulas_without_a_result_are_refused_in_an_ods(read):
    whole = [*GOOD[:7], ["=A7", "=B7", "=C7", "=D7"], *GOOD[8:]]
    for rows, column in ((whole, "A (station_mm)"), (at(8, "C", "=C7+1"), "C (setback_mm)")):
        with pytest.raises(InputError, match="a formula without a result, 'of:=") as caught:
            read(open_document(rows), "front.ods")
        assert (caught.value.row, caught.value.column) == (8, column)


class TestSheets:
    def test_the_only_table_is_found(self, read, as_text):
        front = read(workbook([["about this file"]], GOOD))
        assert plain(front) == plain(as_text)
        assert "Sheet second was read; left: measured." in front.reader_notes

    def test_two_tables_ask_which(self, read, as_text):
        two = workbook(GOOD, at(8, "C", 11))
        with pytest.raises(InputError, match="--sheet 'measured'") as caught:
            read(two)
        assert "measured, second" in caught.value.found
        assert plain(read(two, sheet="measured")) == plain(as_text)
        assert read(two, sheet="second").sections[0].x[2] == 11.0

    def test_a_sheet_that_is_not_there(self, read):
        with pytest.raises(InputError, match="one of measured"):
            read(workbook(GOOD), sheet="third")

    def test_no_table(self, read):
        with pytest.raises(InputError, match="station_mm, station"):
            read(workbook([["a", "b"], [1, 2]]))

    def test_no_rows(self, read):
        with pytest.raises(InputError, match="row 5: found a header and no rows"):
            read(workbook([*TOP, HEADER]))

    def test_sheet_is_for_spreadsheets_only(self, geometries):
        for name in ("plover.csv", "plover.stl", "plover.dxf"):
            with pytest.raises(InputError, match="option sheet"):
                read_front(geometries / name, sheet="measured")

    def test_on_the_command_line(self, tmp_path, geometries):
        path = tmp_path / "two.xlsx"
        path.write_bytes(workbook(GOOD, GOOD))
        other = str(geometries / "plover.csv")
        run = CliRunner().invoke
        asked = run(main, ["screen", str(path)])
        assert asked.exit_code == 2
        assert "--sheet 'measured'" in asked.stderr
        front = tmp_path / "two.toml"
        front.write_text('kind = "table"\nfiles = ["two.xlsx"]\nsheet = "second"\n')
        for command in (["screen", path, "--sheet", "second"], ["compare", front, other]):
            done = run(main, [str(word) for word in command])
            assert done.exit_code in {0, 1}, done.output  # 1: this small front lacks lines
            assert "UBRL" in done.output


def test_without_the_extra(read, monkeypatch):
    monkeypatch.setattr("frontcheck.reading.workbook.find_spec", lambda _: None)
    with pytest.raises(InputError, match=r"pip install 'frontcheck\[sheets\]'"):
        read(workbook(GOOD))


def test_nothing_is_imported_from_the_current_folder(tmp_path):
    (tmp_path / "json.py").write_text("raise SystemExit('taken from the folder')")
    (tmp_path / "front.xlsx").write_bytes(workbook(GOOD))
    told = subprocess.run(
        [sys.executable, "-P", "-c", "import frontcheck as fc; print(fc.read_front('front.xlsx'))"],
        cwd=tmp_path, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert re.search("Front", told.stdout)

"""The measuring sheet: what it offers, how it prints, and that a filled one screens as it is."""

from __future__ import annotations

import csv
import io
import itertools
import os
import re
import subprocess
import sys
from decimal import Decimal

import numpy as np
import pypdfium2
import pytest
from click.testing import CliRunner
from matplotlib.figure import Figure
from pypdf import PdfReader
from pypdfium2.raw import FPDF_PAGEOBJ_PATH, FPDF_PAGEOBJ_TEXT

from frontcheck.caution import CAUTION
from frontcheck.cli import main
from frontcheck.errors import InputError, OutputError
from frontcheck.outputs.documents.folder import write_folder
from frontcheck.outputs.sheet.sheet import PART_WORDS, sheet_pages, sheet_pdf, write_sheet
from frontcheck.reading.form import Worksheet, parse_heights, parse_stations
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import PARTS

# ISO 216:2007, trimmed sizes of paper: A4 is 210 x 297 mm. ANSI/ASME Y14.1, drawing sheet size and
# format (year not confirmed): size A (letter) is 8.5 x 11 in. Both from memory.
SIZES = {"a4": (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0), "letter": (612.0, 792.0)}
MM = 25.4 / 72.0


def sheet(stations="0,150,300", heights="100:1000:50", **options):
    return Worksheet(parse_stations(stations), parse_heights(heights), **options)


def run(*args):
    return CliRunner().invoke(main, ["worksheet", *map(str, args)])


def cells(content):
    """The sheet as a spreadsheet sees it: # lines, header, rows."""
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    top = [row for row in rows if row[0].startswith("#")]
    return top, rows[len(top)], rows[len(top) + 1 :]


def joined(top, header, rows, pad=0):
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n" if pad else "\n")
    for row in [*top, header, *rows]:
        writer.writerow(row + [""] * (pad - len(row)))
    return stream.getvalue().encode()


@pytest.fixture
def read(tmp_path):
    def read(content):
        path = tmp_path / "sheet.csv"
        path.write_bytes(content)
        return read_front(path)

    return read


# ---- lists of stations and heights ---------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("100:300:100", ["100", "200", "300"]),
        ("100:350:100", ["100", "200", "300"]),
        ("4:5:0.25", ["4", "4.25", "4.5", "4.75", "5"]),
        ("0.1:0.3:0.1", ["0.1", "0.2", "0.3"]),  # in binary floating point 0.3 would be missed
        ("100:200:50,225, 250", ["100", "150", "200", "225", "250"]),
        ("5:5:1", ["5"]),
    ],
)
def test_ranges_hold_both_ends_where_a_step_meets_them(text, expected):
    assert parse_heights(text) == tuple(Decimal(each) for each in expected)


def test_stations_come_out_from_left_to_right():
    assert parse_stations("300,-150,0") == (-150, 0, 300)


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--heights", "100-1000", "START:STOP:STEP"),
        ("--heights", "100:1000", "START:STOP:STEP"),
        ("--heights", "", "START:STOP:STEP"),
        ("--heights", "100:1000:0", "STEP above 0"),
        ("--heights", "100:1000:-50", "STEP above 0"),
        ("--heights", "1000:100:50", "START no greater than STOP"),
        ("--heights", "0:1000:0.001", "longer step"),
        ("--heights", "-100:100:50", "0 or more"),
        ("--heights", "100,100", "100 twice"),
        ("--heights", "nan", "lengths of a vehicle front"),
        ("--heights", "1e999999", "lengths of a vehicle front"),
        ("--heights", "0.0000001", "at most 6 decimals"),
        ("--heights", "\u0661\u0662", "START:STOP:STEP"),
        ("--heights", "6000", "check the unit"),
        ("--stations", "0,x", "'x'"),
        ("--stations", "0,,150", "''"),
        ("--stations", "0,0.0", "0 twice"),
        ("--stations", "99999", "check the unit"),
        ("--stations", "0:100:1", "1 to 60"),
        ("--paper", "a3", "letter"),
        ("--unit", "m", "cm"),
        ("--name", "a\u202eb", "U+202E"),
        ("--name", "a\x07b", "U+0007"),
        ("--name", "x" * 121, "at most 120"),
        ("--name", "\udcff", "U+DCFF"),
    ],
)
def test_bad_arguments_end_with_2_a_plain_message_and_no_files(option, value, says, tmp_path):
    given = {"--stations": "0,150", "--heights": "100:1000:50", option: value}
    out = tmp_path / "out"
    result = run(*(f"{key}={text}" for key, text in given.items()), "--out", out)
    assert result.exit_code == 2
    assert isinstance(result.exception, SystemExit)
    assert says in result.stderr
    assert "Traceback" not in result.output
    assert not out.exists()


def test_too_many_rows_are_refused():
    with pytest.raises(InputError, match="at most 6000 rows"):
        sheet("0:590:10", "0:399:1")


def test_half_fronts_have_their_stations_on_one_side():
    assert sheet("0,150").symmetric
    assert sheet("-300,-150").symmetric
    assert not sheet("-150,0,150").symmetric
    assert not sheet("0").symmetric
    assert not sheet("0,150", symmetric=False).symmetric
    with pytest.raises(InputError, match="one side"):
        sheet("-150,150", symmetric=True)


# ---- the table -------------------------------------------------------------------------------


def test_every_station_has_every_height_once_and_parts_are_known():
    top, header, rows = cells(sheet("0,6,12", "4:8:0.5", unit="in").to_csv())
    assert header == ["station_in", "height_in", "setback_in", "part"]
    assert all(len(line) == 1 for line in top)  # one cell each in a spreadsheet
    for station in ("0", "6", "12"):
        own = [row for row in rows if row[0] == station]
        heights = [row[1] for row in own if row[1]]
        assert heights == ["4", "4.5", "5", "5.5", "6", "6.5", "7", "7.5", "8"]
        assert {row[3] for row in own} <= {"", *PARTS}
        assert all(row[2] == "" for row in own)
        assert all(bool(row[1]) != bool(row[3]) for row in own)
    assert tuple(PART_WORDS) == PARTS


def test_an_empty_sheet_is_refused_and_says_so(read):
    with pytest.raises(InputError, match="a sheet without a setback in any row") as caught:
        read(sheet().to_csv())
    assert caught.value.column == "setback_mm"


def plover_sections(geometries):
    lines = (geometries / "plover.csv").read_text("utf-8").splitlines()
    rows = [line.split(",") for line in lines if not line.startswith("#")][1:]
    stations = dict.fromkeys(row[0] for row in rows)
    return {s: [(float(h), float(b), p) for y, h, b, p in rows if y == s] for s in stations}


def filled(geometries, name="Plover, filled"):
    """A sheet for Plover's stations, filled in as a measurer would: printed heights on the face.

    Returns the filled sheet and the same points as an ordinary table.
    """
    sections = plover_sections(geometries)
    made = sheet(",".join(sections), "100:1000:25", name=name)
    top, header, rows = cells(made.to_csv())
    done = []
    for station, points in sections.items():
        own = [row for row in rows if row[0] == station]
        face = [p for p in points if p[2] in ("bumper", "grille", "lamp")]
        low, high = max(p[0] for p in points if p[2] == "underside"), face[-1][0]
        for part in ("underside", "bonnet", "cowl", "windscreen"):
            free = [row for row in own if row[3] == part]
            measured = [p for p in points if p[2] == part]
            for row, (height, setback, _) in zip(free, measured, strict=False):
                row[1], row[2] = f"{height:g}", f"{setback:g}"
        for row in own:
            if row[3] == "" and low < float(row[1]) <= high:
                heights = [p[0] for p in face]
                setback = np.interp(float(row[1]), heights, [p[1] for p in face])
                row[2] = f"{setback:.1f}"
                row[3] = face[int(np.argmin(np.abs(np.array(heights) - float(row[1]))))][2]
        done += own
    plain = [row for row in done if row[2]]
    said = [["# name: Plain"], ["# datum: common"], ["# symmetric: yes"]]
    return (top, header, done), joined(said, header, plain), len(done) - len(plain)


def test_a_filled_sheet_screens_without_edits_and_like_an_ordinary_table(geometries, tmp_path):
    form, plain, left_out = filled(geometries)
    assert left_out > 50
    documents = []
    for name, content in (("form", joined(*form)), ("plain", plain)):
        path = tmp_path / f"{name}.csv"
        path.write_bytes(content)
        document = tmp_path / f"{name}.json"
        result = CliRunner().invoke(main, ["screen", str(path), "--json", str(document)])
        assert result.exit_code == 0, result.output
        documents.append(re.sub(r'"(name|file|sha256)": "[^"]*"', "", document.read_text("utf-8")))
    notes = re.compile(r',?\s*"[^"\n]*(left out|passed over)[^"\n]*"')
    assert notes.sub("", documents[0]).split() == notes.sub("", documents[1]).split()
    front = read_front(tmp_path / "form.csv")
    assert f"{left_out} rows of the sheet without a setback were left out." in front.reader_notes
    assert front.name == "Plover, filled"
    assert front.datum == "common"
    assert front.symmetric


def test_a_spreadsheet_may_pad_it_and_change_the_line_ends(geometries, read):
    (top, header, rows), plain, _ = filled(geometries)
    saved, reference = read(joined(top, header, rows, pad=4)), read(plain)
    assert saved.stations == reference.stations
    for a, b in zip(saved.sections, reference.sections, strict=True):
        assert np.array_equal(a.points, b.points)
        assert a.parts == b.parts


SMALL = [
    ["0", "200", "300", "underside"], ["0", "250", "100", "bumper"], ["0", "300", "", ""],
    ["0", "400", "20", "bumper"], ["0", "450", "", ""], ["0", "", "", "bonnet"],
    ["0", "440", "60", "bonnet"],
]  # fmt: skip
MARK, DATUM = ["# worksheet: 1. As printed."], ["# datum: common"]
HEADER = ["station_mm", "height_mm", "setback_mm", "part"]


def test_rows_left_blank_are_counted_and_those_between_are_named(read):
    front = read(joined([MARK, DATUM], HEADER, SMALL))
    assert len(front.sections[0]) == 4
    assert "3 rows of the sheet without a setback were left out." in front.reader_notes
    between = [note for note in front.reader_notes if "passed over" in note]
    # Line 6 of the file: 300 lies between the measured 250 and 400; 450 is above both 400 and 440.
    assert len(between) == 1
    assert between[0].startswith("1 of them was passed over between measured heights (row 6 of")


def test_a_station_without_a_measured_row_is_named(read):
    front = read(joined([MARK, DATUM], HEADER, [*SMALL, ["150", "200", "", ""]]))
    assert front.stations == (0.0,)
    assert any("No row was measured at station 150 mm" in note for note in front.reader_notes)


@pytest.mark.parametrize(
    ("at", "row", "column", "says"),
    [
        (1, ["0", "250", "", "bumper"], "setback_mm", "but no setback"),
        (1, ["0", "", "100", "bumper"], "height_mm", "blank cell"),
        (1, ["0", "250", "100", ""], "part", "write the part of this point, or -"),
        (2, ["", "300", "", ""], "station_mm", "blank cell"),
        (2, ["x", "300", "", ""], "station_mm", "not a number"),
    ],
)
def test_rows_filled_in_by_half_are_refused_with_their_place(read, at, row, column, says):
    rows = [*SMALL[:at], row, *SMALL[at + 1 :]]
    with pytest.raises(InputError, match=re.escape(says)) as caught:
        read(joined([MARK, DATUM], HEADER, rows))
    assert caught.value.row == 4 + at
    assert caught.value.column == column


@pytest.mark.parametrize("top", [[DATUM], [DATUM, ["# notes: worksheet: 1"]]])
def test_ordinary_tables_still_refuse_blanks(read, top):
    with pytest.raises(InputError, match="a blank cell"):
        read(joined(top, HEADER, SMALL))


def test_ordinary_tables_still_refuse_keys_without_a_value(read):
    with pytest.raises(InputError, match="no value for 'height_u'"):
        read(joined([DATUM, ["# height_u:"]], HEADER, SMALL))


@pytest.mark.parametrize("mark", ["2", "10", "yes"])
def test_a_sheet_of_another_kind_is_refused(read, mark):
    with pytest.raises(InputError, match="as printed by frontcheck worksheet") as caught:
        read(joined([[f"# worksheet: {mark}"], DATUM], HEADER, SMALL))
    assert caught.value.column == "worksheet"


# ---- checks and other lines above the table --------------------------------------------------


def test_lines_left_blank_count_as_not_given_and_filled_ones_are_read(geometries, read):
    (top, header, rows), _, _ = filled(geometries)
    front = read(joined(top, header, rows))
    assert front.survey.checks == ()
    assert front.survey.arches is None
    assert front.sections[0].height_u is None
    said = {"# height_u:": "# height_u: 2 mm", "# datum_u:": "# datum_u: 1 mm"}
    lines = [[said.get(line[0], line[0])] for line in top]
    assert ["# height_u: 2 mm"] in lines
    front = read(joined(lines, header, rows))
    assert np.array_equal(front.sections[0].height_u, np.full(len(front.sections[0]), 2.0))
    assert front.survey.datum_u_mm == 1.0


def with_check(check, rows=SMALL):
    return joined([MARK, DATUM, [f"# check_1: {check}"]], HEADER, rows)


def test_a_tape_check_names_the_row_as_numbered_on_the_sheet(read):
    front = read(with_check("tape to row 7 at 0 mm: 700 mm, u 3 mm"))
    check = front.survey.checks[0]
    # Row 7 of the sheet is the fourth that was measured, at height 440.
    assert check.row == 4
    assert front.sections[0].z[check.row - 1] == 440.0


@pytest.mark.parametrize(
    ("row", "says"), [(3, "was not measured"), (8, "is beyond the 7 rows there")]
)
def test_a_tape_to_a_row_that_was_not_measured_is_refused(read, row, says):
    with pytest.raises(InputError, match=says) as caught:
        read(with_check(f"tape to row {row} at 0 mm: 700 mm, u 3 mm"))
    assert caught.value.row == 3


@pytest.mark.parametrize(
    "check",
    [
        "UBRL height at 0 mm: 400 mm, u ___ mm",
        "tape to row 4 at 0 mm: ___ mm, u ___ mm",
    ],
)
def test_a_check_filled_in_by_half_is_refused(read, check):
    with pytest.raises(InputError, match="still to be written") as caught:
        read(with_check(check))
    assert caught.value.column == "check_1"


def test_printed_checks_read_once_their_numbers_are_written(read):
    top, _, _ = cells(sheet("0,150").to_csv())
    printed = [line[0] for line in top if line[0].startswith("# check_")]
    written = [[line.replace("row ___", "row 4").replace("___", "400")] for line in printed]
    rows = [*SMALL, *(["150", *row[1:]] for row in SMALL)]
    front = read(joined([MARK, DATUM, *written], HEADER, rows))
    found = {(check.station, check.line or check.kind) for check in front.survey.checks}
    kinds = ("UBRL", "LBRL", "BLERL", "tape")
    assert found == {(y, kind) for y in (0.0, 150.0) for kind in kinds}


# ---- names -------------------------------------------------------------------------------------

HOSTILE = [
    "$\\frac{x}{0}$ %s {0}", "=HYPERLINK(1)", 'a "b", c;', "x;", "<script>alert(1)</script>", "-1",
    "\u540d\u524d", "\U0001f697", "Zo\u00eb", "W" * 120, "  two\n lines\t", "a\\n", "# name: b",
    "\ufdfa" * 40, "#panic(1) *b* _i_ @x ~ [",
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_any_name_is_printed_on_one_line_and_read_back(name, read):
    made = sheet("0", "100:300:100", name=name)
    one_line = " ".join(name.split())
    lines = [line for line in cells(made.to_csv())[0] if line[0].startswith("# name")]
    assert lines == [[f"# name: {one_line}"]]  # one cell of a spreadsheet
    content = made.to_csv()
    for height in (b"100", b"200", b"300"):
        blank = b"0," + height + b",,\n"
        assert blank in content
        content = content.replace(blank, b"0," + height + b"," + height + b",bumper\n")
    assert read(content).name == one_line
    page = printed(made)[2]
    assert outside(page) == []
    if one_line.isascii() and len(one_line) < 60:
        assert one_line in [words for words, *_ in boxes(page)]


def test_a_name_with_the_signs_of_formulas_comes_out_as_it_is():
    name = "$\\frac{x}{0}$ %s {0}"
    text = PdfReader(io.BytesIO(sheet_pdf(sheet("0", "100:300:100", name=name)))).pages[1]
    assert name in text.extract_text()


# ---- the printed sheet -------------------------------------------------------------------------


def printed(made, paper="a4"):
    """Pages as a viewer that is not ours reads them."""
    return pypdfium2.PdfDocument(sheet_pdf(made, paper))


def extents(page, kind):
    """Objects of a kind on a page, and where their ink lies [mm], from the upper left."""
    _, height = page.get_size()
    for each in page.get_objects(filter=[kind], textpage=page.get_textpage()):
        left, low, right, high = each.get_bounds()
        yield each, left * MM, (height - high) * MM, right * MM, (height - low) * MM


def boxes(page):
    """Every text on the page, and where its ink lies."""
    found = [(each.extract().strip(), *box) for each, *box in extents(page, FPDF_PAGEOBJ_TEXT)]
    return [box for box in found if box[0]]


def outside(page):
    # 9 mm: most printers leave out 4 to 6 mm at the edges (common practice, no source).
    width, height = (side * MM for side in page.get_size())
    return [
        words
        for words, x0, y0, x1, y1 in boxes(page)
        if x0 < 9.0 or y0 < 9.0 or x1 > width - 9.0 or y1 > height - 9.0
    ]


def overlaps(page):
    """Pairs of texts that share more than a hair of paper."""
    found, all_boxes = [], boxes(page)
    for i, (a, ax0, ay0, ax1, ay1) in enumerate(all_boxes):
        for b, bx0, by0, bx1, by1 in all_boxes[i + 1 :]:
            wide, high = min(ax1, bx1) - max(ax0, bx0), min(ay1, by1) - max(ay0, by0)
            if wide > 0.2 and high > 0.1:
                found.append((a, b))
    return found


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(
    "made",
    [
        sheet(name="Plover"),
        sheet("-12.5,0,12.5", "4:40:2", unit="in"),
        sheet("0:90:15", "0:100:0.5", unit="cm", name="W" * 120),
    ],
    ids=["mm", "in", "cm"],
)
def test_nothing_is_cut_and_no_texts_overlap(made, paper):
    for page in itertools.islice(printed(made, paper), 4):
        assert len(boxes(page)) > 20
        assert outside(page) == []
        assert overlaps(page) == []


def test_a_text_at_the_edge_and_two_on_one_place_would_be_found(tmp_path):
    """The two checks above, on a page with both faults."""
    figure = Figure(figsize=(8.27, 11.69))
    for x, y, words in ((0.5, 0.5, "here"), (0.5, 0.5, "there"), (0.99, 0.5, "beyond")):
        figure.text(x, y, words)
    figure.savefig(tmp_path / "faulty.pdf")
    page = pypdfium2.PdfDocument(tmp_path / "faulty.pdf")[0]
    assert outside(page) == ["beyond"]
    assert overlaps(page) == [("here", "there")]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("heights", ["100:1000:50", "0:1000:10", "100:300:100"])
def test_rows_to_write_in_are_6_mm_high_or_more_and_end_above_the_footer(paper, heights):
    page = printed(sheet("0", heights), paper)[2]
    # Lines right across the paper: between rows, and one above the footer.
    across = [
        (y0 + y1) / 2.0
        for _, x0, y0, x1, y1 in extents(page, FPDF_PAGEOBJ_PATH)
        if x1 - x0 > 170.0 and y1 - y0 < 1.0
    ]
    footer_line = max(across)
    footer = min(y0 for words, _, y0, _, _ in boxes(page) if words.startswith("This is a scr"))
    levels = sorted({round(y, 3) for y in across} - {round(footer_line, 3)})
    assert len(levels) > 5
    assert min(np.diff(levels)) >= 6.0
    assert levels[-1] < footer_line < footer
    numbers = [words for words, x0, *_ in boxes(page) if x0 < 25.0 and words.isdigit()]
    assert len(numbers) > 3
    (rim,) = [
        (y0, y1) for _, x0, y0, x1, y1 in extents(page, FPDF_PAGEOBJ_PATH)
        if x1 - x0 > 170.0 and y1 - y0 > 50.0
    ]  # fmt: skip
    assert levels[-1] <= rim[1] < footer_line


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_pdf_has_the_size_the_fonts_and_the_words(paper):
    made = sheet("-150,0,150", name="Plover")
    reader = PdfReader(io.BytesIO(sheet_pdf(made, paper)))
    assert len(reader.pages) == sheet_pages(made, paper)
    texts = [" ".join(page.extract_text().split()) for page in reader.pages]
    for number, (page, text) in enumerate(zip(reader.pages, texts, strict=True), start=1):
        size = float(page.mediabox.width), float(page.mediabox.height)
        assert size == pytest.approx(SIZES[paper], abs=0.5)
        assert CAUTION in text
        assert f"page {number} of {len(texts)}" in text
    for words in ("parking brake", "chocks", "jack: use rated stands", "Ignition off", "sharp",
                  "no active bonnet", "string line", "level ground",
                  "height = level's height"):  # fmt: skip
        assert words.lower() in texts[0].lower()
    for words in ("Tyre pressure", "Wheel arch in normal ride attitude", "Measured by",
                  "upper bumper reference line (UBRL)", "700 mm", "lower end at 600 mm",
                  *PARTS):  # fmt: skip
        assert words in texts[1]
    per_station = (len(texts) - 2) // 3
    sides = ("left of the centre plane", "on the centre plane", "right of the centre plane")
    for i, (station, side) in enumerate(zip(("-150", "0", "150"), sides, strict=True)):
        own = texts[2 + i * per_station : 2 + (i + 1) * per_station]
        assert all(f"Station {station} mm" in text for text in own)
        assert all(side in text for text in own)
        assert all("setback [mm]" in text for text in own)  # the header on every page
        together = " ".join(own).split()
        assert {str(height) for height in range(100, 1001, 50)} <= set(together)
        assert " ".join(own).count("bonnet: write both") == 8


def test_fonts_are_embedded_as_truetype():
    reader = PdfReader(io.BytesIO(sheet_pdf(sheet("0"))))
    seen = 0
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()
            if "/DescendantFonts" in inner:
                inner = inner["/DescendantFonts"][0].get_object()
            assert inner["/Subtype"] in ("/CIDFontType2", "/TrueType")
            assert "/FontFile2" in inner["/FontDescriptor"].get_object()
            seen += 1
    assert seen >= 2


def test_same_sheet_same_bytes_whatever_the_process(tmp_path):
    code = "from frontcheck.cli import main; main()"
    args = ["worksheet", "--stations", "0,150", "--heights", "100:900:50", "--name", "Zoë"]
    made = []
    for seed, zone, epoch in (("1", "UTC", "1"), ("2", "Asia/Tokyo", "2000000000")):
        out = tmp_path / seed
        env = os.environ | {"PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": epoch}
        subprocess.run(
            [sys.executable, "-c", code, *args, "--out", str(out)],
            env=env, check=True, capture_output=True,
        )  # fmt: skip
        made.append({p.name: p.read_bytes() for p in out.iterdir()})
    assert set(made[0]) == {"worksheet.pdf", "worksheet.csv", "worksheet.xlsx"}
    assert made[0] == made[1]
    metadata = PdfReader(io.BytesIO(made[0]["worksheet.pdf"])).metadata
    assert not any("Date" in key for key in metadata)


# ---- files ---------------------------------------------------------------------------------------


def test_a_sheet_in_use_is_never_overwritten(tmp_path):
    args = ("--stations", "0", "--heights", "100:600:100", "--out", tmp_path)
    assert run(*args).exit_code == 0
    assert run(*args).exit_code == 0  # the same again: nothing to lose
    path = tmp_path / "worksheet.csv"
    path.write_bytes(path.read_bytes().replace(b"0,200,,", b"0,200,31,bumper"))
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    result = run(*args)
    assert result.exit_code == 2
    assert "perhaps filled in" in result.stderr
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_results_are_not_written_into_the_folder_of_a_sheet(tmp_path):
    out = tmp_path / "out"
    assert run("--stations", "0", "--heights", "100:600:100", "--out", out).exit_code == 0
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    with pytest.raises(OutputError, match="no list of ours"):
        write_folder(out, {"screening.json": b"{}"})
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_a_place_that_cannot_be_written_is_said_plainly(tmp_path):
    (tmp_path / "file").write_text("x", "utf-8")
    with pytest.raises(OutputError, match="name a place you may write to"):
        write_sheet(sheet("0", "100:300:100"), tmp_path / "file" / "below")

"""Spreadsheets made to harm: a plain refusal within 10 s and 2 GB, and nothing written."""

from __future__ import annotations

import io
import json
import random
import re
import struct
import subprocess
import sys
import time
import zipfile

import pytest
from spreadsheets import old_workbook, open_document, workbook

from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front
from frontcheck.reading.table import MAX_BYTES

SECONDS, BYTES = 10.0, 2e9
GOOD = [
    ["datum", "common"], ["station_mm", "height_mm", "setback_mm"],
    [0, 200, 60], [0, 500, 0], [0, 800, 80],
]  # fmt: skip
PLAIN = workbook(GOOD)
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
FILE = '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>'
SOURCE = b'<table:table-source xlink:href="file:///etc/passwd"/><table:table-row>'
BOMB = (
    '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {b} "{10 * ("&" + a + ";")}">'
        for a, b in zip("abcdefghi", "bcdefghij", strict=True)
    )
    + "]>"
)


def repacked(changes, content=PLAIN):
    """A packed file with parts put in place of others, or added; a function changes the old one."""
    made = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
    ):
        for name in dict.fromkeys([*old.namelist(), *changes]):
            part = changes.get(name)
            before = old.read(name) if name in old.namelist() else b""
            # The kind of an open document is told by a part that is not packed.
            kind = zipfile.ZIP_STORED if name == "mimetype" else None
            data = before if part is None else part(before) if callable(part) else part
            if isinstance(data, int):  # so many blanks, never held at once
                with new.open(name, "w", force_zip64=True) as stream:
                    for _ in range(data // 1_000_000):
                        stream.write(b" " * 1_000_000)
                continue
            new.writestr(name, data, kind)
    return made.getvalue()


def sheet(body):
    return f'<worksheet xmlns="{MAIN}"><sheetData>{body}</sheetData></worksheet>'


SHEET = "xl/worksheets/sheet1.xml"
SHARED = '<c t="s"><v>0</v></c>'
CELL = "<row><c><v>1</v></c></row>"


def far_corner(column, row):
    cells = (f'<row r="{y}"><c r="{x}{y}"><v>1</v></c></row>' for x, y in (("A", 1), (column, row)))
    return repacked({SHEET: sheet("".join(cells))})


def with_lying_size():
    """The directory says that a part unpacks to 100 bytes; it unpacks to 300 MB."""
    content = bytearray(repacked({SHEET: 300_000_000}))
    for mark, at in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        place = content.find(mark)
        while place >= 0:
            size = struct.unpack_from("<I", content, place + at)[0]
            if size > 1_000_000:
                struct.pack_into("<I", content, place + at, 100)
            place = content.find(mark, place + 4)
    return bytes(content)


def repeated_cells(rows, columns):
    """An .ods file that says of each cell that it stands so many times."""
    content = open_document(GOOD)
    cell, row = (b"<table:table-cell office", b"<table:table-row>")
    many = b' table:number-columns-repeated="%d" office' % columns
    times = b'<table:table-row table:number-rows-repeated="%d">' % rows
    return repacked(
        {"content.xml": lambda old: old.replace(cell, cell[:-7] + many).replace(row, times)},
        content,
    )


def noise(count, seed=5):
    return random.Random(seed).randbytes(count)


HOSTILE = {
    "one long text everywhere": (
        lambda: repacked(
            {
                "xl/sharedStrings.xml": f'<sst xmlns="{MAIN}"><si><t>{"a" * 32_000}</t></si></sst>',
                SHEET: sheet(f"<row>{SHARED * 200}</row>" * 500),
            }
        ),
        "xlsx",
        "too much text|broke off",
    ),
    "zip bomb": (lambda: repacked({SHEET: 500_000_000}), "xlsx", "unpacks to"),
    "lying size": (with_lying_size, "xlsx", "cannot be read"),
    "10^6 rows of 4": (
        lambda: repacked({SHEET: sheet(f"<row>{'<c><v>1234</v></c>' * 4}</row>" * 1_000_000)}),
        "xlsx",
        "unpacks to",
    ),
    "10^6 short rows": (
        lambda: repacked({SHEET: sheet(CELL * 1_000_000)}),
        "xlsx",
        "rows by",
    ),
    "a cell in the last corner": (lambda: far_corner("XFD", 1_048_576), "xlsx", "2 GB|1.5 GB"),
    "a cell far off": (lambda: far_corner("IV", 90_000), "xlsx", "cells in all"),
    "a column far off": (lambda: far_corner("ZZZ", 3), "xlsx", "columns|broke off|cannot be read"),
    "one cell everywhere": (lambda: repeated_cells(1_048_576, 16_384), "ods", "cannot be read"),
    "one cell on and on": (lambda: repeated_cells(100_000, 100), "ods", "broke off"),
    "one cell a million times": (lambda: repeated_cells(1_048_576, 1), "ods", "rows by"),
    "entity bomb": (
        lambda: repacked({"xl/sharedStrings.xml": f"{BOMB}<sst><si><t>&j;</t></si></sst>"}),
        "xlsx",
        "entities",
    ),
    "entity bomb in an .ods": (
        lambda: repacked({"content.xml": lambda old: BOMB.encode() + old}, open_document(GOOD)),
        "ods",
        "entities",
    ),
    "file from outside": (
        lambda: repacked({SHEET: f"{FILE}{sheet(CELL)}"}),
        "xlsx",
        "entities",
    ),
    "nested tags": (lambda: repacked({SHEET: sheet("<row>" * 2_000_000)}), "xlsx", "found"),
    "many parts": (
        lambda: repacked({f"xl/{i}.xml": b"" for i in range(5000)}),
        "xlsx",
        "5\\d+ parts",
    ),
    "macros": (lambda: repacked({"xl/vbaProject.bin": b"x"}), "xlsx", "macros"),
    "macros in an .ods": (
        lambda: repacked({"Basic/Standard/Module1.xml": b"x"}, open_document(GOOD)),
        "ods",
        "macros",
    ),
    "link to another file": (
        lambda: repacked({"xl/externalLinks/externalLink1.xml": b"<x/>"}),
        "xlsx",
        "another file",
    ),
    "link in an .ods": (
        lambda: repacked(
            {"content.xml": lambda old: old.replace(b"<table:table-row>", SOURCE, 1)},
            open_document(GOOD),
        ),
        "ods",
        "another file",
    ),
    "text": (lambda: b"station_mm,height_mm,setback_mm\n0,1,2\n", "xlsx", "end in .csv"),
    "picture": (lambda: b"\x89PNG\r\n\x1a\n" + noise(500), "xls", "no spreadsheet"),
    "noise in a packed file": (lambda: b"PK\x03\x04" + noise(5000), "xlsx", "cannot be read"),
    "noise in an old file": (
        lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + noise(50_000),
        "xls",
        "cannot be read|broke off",
    ),
    "half a file": (lambda: PLAIN[: len(PLAIN) // 2], "xlsx", "cannot be read"),
    "half an old file": (
        lambda: old_workbook(GOOD)[:3000],
        "xls",
        "cannot be read|no table|broke off",
    ),
    "a packed file of something else": (
        lambda: repacked({}, _packed("a.txt")),
        "xlsx",
        "cannot be read",
    ),
    "too large": (lambda: b"PK\x03\x04" + bytes(MAX_BYTES), "xlsx", "too large"),
    "empty": (lambda: b"", "xlsx", "empty"),
}

WATCHED = """
import json, resource, sys, time
from click.testing import CliRunner
from frontcheck.cli import main
start = time.monotonic()
done = CliRunner().invoke(main, ["screen", sys.argv[1], "--out", sys.argv[2]])
who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
most = max(resource.getrusage(each).ru_maxrss for each in who)
print(json.dumps([done.exit_code, done.output, time.monotonic() - start, most * 1024]))
"""


def _packed(name):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as new:
        new.writestr(name, "x")
    return made.getvalue()


@pytest.mark.parametrize("case", HOSTILE)
def test_refused_in_time_and_memory(case, tmp_path):
    make, kind, says = HOSTILE[case]
    path = tmp_path / f"front.{kind}"
    path.write_bytes(make())
    told = subprocess.run(
        [sys.executable, "-c", WATCHED, path, tmp_path / "out"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    code, output, seconds, most = json.loads(told.stdout)
    assert code == 2
    assert "Traceback" not in output
    assert re.search(f"{says}|takes longer than 6 s", output), output  # on a busy machine
    assert seconds < SECONDS
    assert most < BYTES
    assert list(tmp_path.iterdir()) == [path]


def read_or_refused(path):
    """Whether a file is read; where not, that it was refused with its place and in one line."""
    refused = None
    try:
        return bool(read_front(path).stations)
    except InputError as error:
        refused = error
    assert refused.file.startswith(str(path))
    assert str(refused).isprintable()
    return False


def test_any_damage_is_read_or_refused(tmp_path):
    """Bytes changed anywhere in sound files: a front, or an InputError, never anything else."""
    draw = random.Random(7)
    files = {"xlsx": PLAIN, "ods": open_document(GOOD), "xls": old_workbook(GOOD)}
    found = set()
    for i in range(45):
        kind = list(files)[i % 3]
        content = bytearray(files[kind])
        for _ in range(draw.choice([1, 3, 20])):
            content[draw.randrange(len(content))] = draw.randrange(256)
        path = tmp_path / f"damaged.{kind}"
        path.write_bytes(content)
        found.add(read_or_refused(path))
    assert found == {True, False}


def test_damage_inside_the_parts_is_read_or_refused(tmp_path):
    draw = random.Random(11)

    def damaged(old):
        content = bytearray(old)
        for _ in range(draw.choice([1, 3, 20])):
            content[draw.randrange(len(content))] = draw.randrange(32, 127)
        return bytes(content)

    path = tmp_path / "damaged.xlsx"
    found = set()
    for i in range(30):
        path.write_bytes(repacked({SHEET if i % 2 else "xl/workbook.xml": damaged}))
        found.add(read_or_refused(path))
    assert found == {True, False}


def test_reading_that_does_not_end_is_ended(tmp_path, monkeypatch):
    monkeypatch.setattr("frontcheck.reading.processes._BEGIN", "import time; time.sleep(60)")
    monkeypatch.setattr("frontcheck.reading.workbook.SECONDS", 0.5)
    path = tmp_path / "front.xlsx"
    path.write_bytes(PLAIN)
    start = time.monotonic()
    with pytest.raises(InputError, match=r"longer than 0\.5 s"):
        read_front(path)
    assert time.monotonic() - start < 5.0

"""Offset tables that must be refused, each with the place and the words of its refusal.

One good table is spoilt in one way at a time. `BAD_TABLES` is used by the reader's tests
and by those of the command line.
"""

from __future__ import annotations

from typing import NamedTuple

GOOD_LINES = (
    "# name: Trial",  # row 1
    "# datum: common",  # row 2
    "# symmetric: no",  # row 3
    "station_mm,height_mm,setback_mm,part",  # row 4
    "0,200,300,underside",  # row 5
    "0,300,0.5,bumper",  # row 6
    "0,600,10,bumper",  # row 7
    "0,700,60,bonnet",  # row 8
    "0,800,800,bonnet",  # row 9
    "100,210,310,underside",  # row 10
    "100,310,10,bumper",  # row 11
    "100,610,20,bumper",  # row 12
    "100,810,810,bonnet",  # row 13
)


class BadTable(NamedTuple):
    """One table to be refused.

    `row` and `column` are where the error must point (None: nowhere); the last three are
    words that its found, expected and to-do texts must contain.
    """

    name: str
    content: bytes
    row: int | None
    column: str | None
    found: str
    expected: str
    todo: str


def spoilt(changes: dict[int, str | None] | None = None, *, end: str = "\n") -> bytes:
    """Return the good table with rows replaced (None: taken out; a text may hold several)."""
    changes = changes or {}
    lines = [changes.get(row, line) for row, line in enumerate(GOOD_LINES, start=1)]
    return (end.join(line for line in lines if line is not None) + end).encode()


GOOD = spoilt()
HEADER = "station_mm,height_mm,setback_mm,part"
SEMICOLONS = GOOD.replace(b",", b";")
NO_PART = "\n".join(line.rsplit(",", 1)[0] for line in GOOD_LINES).encode()
U_HEADER = HEADER + ",setback_u_mm"


def _with_u(value: str) -> bytes:
    lines = [*GOOD_LINES[:3], U_HEADER, *(f"{line},1.5" for line in GOOD_LINES[4:])]
    lines[6] = f"{GOOD_LINES[6]},{value}"
    return "\n".join(lines).encode()


def _cell(name: str, row: int, line: str, column: str, *words: str) -> BadTable:
    return BadTable(name, spoilt({row: line}), row, column, *words)


_FILES = (
    BadTable("empty file", b"", None, None, "empty", "text file", "save the table again"),
    BadTable("only blanks", b" \r\n\t\n\n", None, None, "empty", "text file", "holds rows"),
    BadTable("only a byte order mark", b"\xef\xbb\xbf\n", None, None, "empty", "text", "save"),
    BadTable("NUL byte", GOOD[:60] + b"\0" + GOOD[60:], 4, None, "NUL", "UTF-8", "CSV in UTF-8"),
    BadTable("image file", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 3, None, "binary", "UTF-8", "CSV"),
    BadTable("zip file", b"PK\x03\x04\x14\x00\x06\x00", 1, None, "binary", "UTF-8 text", "CSV"),
    BadTable("UTF-16", GOOD.decode().encode("utf-16"), None, None, "UTF-16", "UTF-8", "UTF-8"),
    BadTable(
        "UTF-16 without a mark", GOOD.decode().encode("utf-16-le"), 1, None, "NUL", "UTF-8", "UTF-8"
    ),
    BadTable(
        "Latin-1",
        spoilt({1: "# name: Tri\u00e8l"}).decode().encode("latin-1"),
        1,
        None,
        "byte 0xe8",
        "UTF-8",
        "UTF-8",
    ),
    BadTable(
        "cut-off UTF-8 sequence",
        spoilt({13: "100,810,810,bonnet\u20ac"}).rstrip(b"\n")[:-1],
        13,
        None,
        "byte 0xe2",
        "UTF-8",
        "save the table",
    ),
    BadTable(
        "terminal escape in the name",
        spoilt({1: "# name: \x1b[31mTrial"}),
        1,
        None,
        "U+001B",
        "plain text",
        "delete the character",
    ),
    BadTable(
        "right-to-left override",
        spoilt({1: "# name: Tri\u202eal"}),
        1,
        None,
        "U+202E",
        "plain text",
        "delete",
    ),
    BadTable(
        "line separator character",
        spoilt({6: "0,300,0.5\u2028,bumper"}),
        6,
        None,
        "U+2028",
        "one table row a line",
        "delete",
    ),
    BadTable(
        "lone carriage returns", spoilt(end="\r"), 1, None, "U+000D", "one table row a line", "CSV"
    ),
)

_METADATA = (
    BadTable("no header", b"# datum: common\n# name: x\n", 2, None, "no header", "column", "add"),
    BadTable("no rows", spoilt(dict.fromkeys(range(5, 14))), 4, None, "no rows", "row", "below"),
    BadTable(
        "no datum", spoilt({2: None}), 3, "datum", "no datum", "common", "add the line '# datum"
    ),
    _cell("unknown datum", 2, "# datum: global", "datum", "'global'", "local", "one of the two"),
    _cell("misspelt key", 3, "# simmetric: yes", "simmetric", "'simmetric'", "notes", "symmetric?"),
    _cell("unknown key", 1, "# colour: red", "colour", "'colour'", "ground_slope_deg", "# notes"),
    _cell("key without value", 1, "# name:", "name", "no value", "# key: value", "delete the line"),
    BadTable(
        "free comment",
        spoilt({1: "# measured on a level floor"}),
        1,
        None,
        "measured on",
        "# key: value",
        "# notes:",
    ),
    BadTable("key missing", spoilt({1: "# : Trial"}), 1, None, "Trial", "# key: value", "# notes:"),
    BadTable(
        "endless key",
        spoilt({1: f"# {'k' * 5000}: x"}),
        1,
        None,
        "'# kkkk",
        "# key: value",
        "# notes:",
    ),
    BadTable(
        "duplicate key",
        spoilt({3: "# Datum: local"}),
        3,
        "datum",
        "first in row 2",
        "once",
        "delete one",
    ),
    _cell(
        "symmetric perhaps", 3, "# symmetric: maybe", "symmetric", "'maybe'", "yes or no", "half"
    ),
    BadTable(
        "symmetric over both sides",
        spoilt(
            {
                3: "# symmetric: yes",
                **{r: GOOD_LINES[r - 1].replace("0,", "-100,", 1) for r in range(5, 10)},
            }
        ),
        3,
        "symmetric",
        "-100 to 100",
        "one side",
        "one half",
    ),
    _cell("long name", 1, "# name: " + "x" * 121, "name", "121 characters", "120", "shorten"),
    _cell("uncertainty without unit", 1, "# height_u: 2", "height_u", "'2'", "units mm", "1.5 mm"),
    _cell(
        "uncertainty in feet", 1, "# height_u: 2 ft", "height_u", "'2 ft'", "cm, m, in", "1.5 mm"
    ),
    _cell("uncertainty a word", 1, "# height_u: small", "height_u", "'small'", "number", "1.5 mm"),
    _cell(
        "negative uncertainty", 1, "# height_u: -2 mm", "height_u", "negative", "0 or more", "pos"
    ),
    _cell(
        "uncertainty no number", 1, "# setback_u: 1-2 mm", "setback_u", "'1-2'", "number", "plain"
    ),
    BadTable(
        "uncertainty twice",
        _with_u("1.5").replace(b"# name: Trial", b"# setback_u: 2 mm"),
        1,
        "setback_u",
        "setback_u_mm as well",
        "one place",
        "delete the line or the column",
    ),
    _cell(
        "slope a word", 1, "# ground_slope_deg: flat", "ground_slope_deg", "'flat'", "num", "plain"
    ),
    _cell(
        "slope too steep", 1, "# ground_slope_deg: 20", "ground_slope_deg", "20 deg", "15", "level"
    ),
    BadTable(
        "metadata below the header",
        spoilt({7: "# notes: second half"}),
        7,
        None,
        "# line below",
        "before the header",
        "top",
    ),
)

_HEADERS = (
    BadTable(
        "header missing",
        spoilt({4: None}),
        4,
        "0",
        "no column name",
        "station_<u>",
        "line of column names",
    ),
    _cell(
        "no unit",
        4,
        "station_mm,height,setback_mm,part",
        "height",
        "without a unit",
        "<u>",
        "height_mm",
    ),
    _cell(
        "unit in feet",
        4,
        "station_ft,height_mm,setback_mm,part",
        "station_ft",
        "'ft'",
        "in",
        "convert",
    ),
    _cell(
        "two units",
        4,
        "station_mm,height_mm,height_cm,part",
        "height_cm",
        "height_mm",
        "one unit",
        "delete",
    ),
    _cell(
        "duplicate column",
        4,
        "station_mm,height_mm,height_mm,part",
        "height_mm",
        "second time",
        "one column",
        "one of the two",
    ),
    _cell(
        "misspelt column",
        4,
        "station_mm,hieght_mm,setback_mm,part",
        "hieght_mm",
        "'hieght_mm'",
        "height_u",
        "height_mm?",
    ),
    _cell(
        "nameless column",
        4,
        "station_mm,height_mm,setback_mm,",
        "4",
        "without a name",
        "part",
        "name the",
    ),
    _cell(
        "no setback",
        4,
        "station_mm,height_mm,setback_u_mm,part",
        "setback",
        "no column",
        "setback_mm",
        "add",
    ),
    _cell(
        "no height",
        4,
        "station_mm,setback_mm,height_u_mm,part",
        "height",
        "no column",
        "height_mm",
        "add",
    ),
    _cell(
        "no station",
        4,
        "height_u_mm,height_mm,setback_mm,part",
        "station",
        "no column",
        "station_mm",
        "add",
    ),
    BadTable(
        "pipes", GOOD.replace(b",", b"|"), 4, None, "without a delimiter", "semicolon", "one and"
    ),
    BadTable(
        "blanks", GOOD.replace(b",", b" "), 4, None, "without a delimiter", "comma", "one and"
    ),
    BadTable(
        "two delimiters in the header",
        spoilt({4: "station_mm;height_mm,setback_mm;part"}),
        4,
        None,
        "comma and semicolon",
        "one of",
        "one and the same",
    ),
)

_ROWS = (
    BadTable("short row", spoilt({7: "0,600,10"}), 7, None, "3 cells", "4 cells", "every column"),
    BadTable("long row", spoilt({7: "0,600,10,bumper,x"}), 7, None, "5 cells", "4", "extra"),
    BadTable(
        "decimal commas between commas",
        spoilt({6: "0,300,0,5,bumper"}),
        6,
        None,
        "5 cells",
        "4 cells",
        "decimal comma need semicolons",
    ),
    BadTable(
        "another delimiter in one row",
        spoilt({7: "0;600;10;bumper"}),
        7,
        None,
        "1 cell",
        "4 cells",
        "not a semicolon",
    ),
    BadTable("open quote", spoilt({7: '0,600,10,"bumper'}), 7, None, "quote", "wholly", "delete"),
    _cell(
        "blank station", 7, ",600,10,bumper", "station_mm", "blank cell", "every cell", "fill in"
    ),
    _cell("blank height", 7, "0,,10,bumper", "height_mm", "blank cell", "every cell", "fill in"),
    _cell(
        "blanks for a setback", 7, "0,600,  ,bumper", "setback_mm", "blank cell", "every", "fill"
    ),
    _cell("blank part", 7, "0,600,10,", "part", "blank cell", "every cell", "fill in"),
    _cell("text in a height", 7, "0,high,10,bumper", "height_mm", "'high'", "a number", "plain"),
    _cell(
        "text in a station", 7, "left,600,10,bumper", "station_mm", "'left'", "a number", "plain"
    ),
    _cell(
        "unit in a cell",
        7,
        "0,600 mm,10,bumper",
        "height_mm",
        "with a unit",
        "number",
        "column name",
    ),
    _cell("inch mark", 7, "0,600,10',bumper", "setback_mm", "with a unit", "number", "column name"),
    _cell("formula", 7, "0,=A1+2,10,bumper", "height_mm", "'=A1+2'", "a number", "plain"),
    _cell("NaN", 7, "0,NaN,10,bumper", "height_mm", "'NaN'", "a number", "measure"),
    _cell("minus infinity", 7, "0,600,-inf,bumper", "setback_mm", "'-inf'", "a number", "measure"),
    _cell(
        "not applicable", 7, "0,600,n/a,bumper", "setback_mm", "'n/a'", "a number", "delete the row"
    ),
    _cell("huge exponent", 7, "0,600,1e999,bumper", "setback_mm", "'1e999'", "a number", "plain"),
    _cell(
        "endless digits",
        7,
        f"0,600,{'1' * 500},bumper",
        "setback_mm",
        "500 char",
        "number",
        "plain",
    ),
    _cell("hexadecimal", 7, "0,0x258,10,bumper", "height_mm", "'0x258'", "a number", "plain"),
    _cell("underscore", 7, "0,6_00,10,bumper", "height_mm", "'6_00'", "a number", "plain"),
    _cell(
        "digits of another script",
        7,
        "0,\u0666\u0660\u0660,10,bumper",
        "height_mm",
        "\u0666",
        "num",
        "plain",
    ),
    _cell("long dash", 7, "0,600,\u221210,bumper", "setback_mm", "dash", "a number", "'-'"),
    _cell("range", 7, "0,600-610,10,bumper", "height_mm", "'600-610'", "a number", "plain"),
    _cell(
        "thousands by blanks", 9, "0,800,1 200,bonnet", "setback_mm", "thousands", "number", "leave"
    ),
    _cell(
        "thousands by apostrophe",
        9,
        "0,800,1'200,bonnet",
        "setback_mm",
        "thousands",
        "num",
        "leave",
    ),
    _cell(
        "thousands by quoted comma",
        9,
        '0,800,"1,200.5",bonnet',
        "setback_mm",
        "thousands",
        "num",
        "leave",
    ),
    _cell("two points", 7, "0,6.0.0,10,bumper", "height_mm", "thousands", "a number", "leave"),
    BadTable(
        "ambiguous comma",
        SEMICOLONS.replace(b"0.5", b"0").replace(b";800;800", b";800;1,200"),
        9,
        "setback_mm",
        "'1,200'",
        "what the comma means",
        "1.2340",
    ),
    BadTable(
        "ambiguous point",
        GOOD.replace(b"0.5", b"0").replace(b",800,800", b",800,1.200"),
        9,
        "setback_mm",
        "point may be",
        "what the point means",
        "thousands",
    ),
    BadTable(
        "two decimal marks",
        SEMICOLONS.replace(b";600;10;", b";600;10,5;"),
        7,
        "setback_mm",
        "row 6 has '0.5'",
        "one decimal mark",
        "same decimal mark",
    ),
    BadTable(
        "other mark in the metadata",
        spoilt({1: "# height_u: 1,5 mm"}),
        6,
        "setback_mm",
        "row 1 has '1,5'",
        "one decimal mark",
        "same decimal mark",
    ),
    _cell(
        "negative height", 7, "0,-600,10,bumper", "height_mm", "-600 mm", "ground", "level ground"
    ),
    _cell("unknown part", 7, "0,600,10,fascia", "part", "'fascia'", "windscreen", "one of these"),
    _cell("misspelt part", 7, "0,600,10,bumber", "part", "'bumber'", "bumper", "bumper?"),
    BadTable(
        "negative uncertainty in a row",
        _with_u("-1.5"),
        7,
        "setback_u_mm",
        "negative",
        "0 or more",
        "positive",
    ),
    BadTable(
        "text in an uncertainty", _with_u("ok"), 7, "setback_u_mm", "'ok'", "a number", "plain"
    ),
)

_CONTOURS = (
    BadTable(
        "two rows in a station",
        spoilt({12: None, 13: None}),
        11,
        None,
        "2 points, at station 100 mm",
        "at least 3",
        "more rows",
    ),
    BadTable(
        "one row in the file",
        spoilt(dict.fromkeys(range(6, 14))),
        5,
        None,
        "1 point, at station 0 mm",
        "at least 3",
        "more rows",
    ),
    BadTable(
        "repeated point", spoilt({8: "0,600,10.0,bonnet"}), 8, None, "twice", "once", "delete"
    ),
    BadTable(
        "point repeated later", spoilt({9: "0,300,0.5,bumper"}), 8, None, "touches", "once", "order"
    ),
    BadTable(
        "rows swapped",
        spoilt({6: "0,700,60,bonnet", 8: "0,300,0.5,bumper"}),
        8,
        None,
        "crosses",
        "traced once",
        "order",
    ),
    BadTable(
        "stray point",
        spoilt({8: "0,150,200,bonnet"}),
        7,
        None,
        "stretch 1-2 meets 3-4",
        "traced once",
        "out of place",
    ),
    BadTable(
        "folded onto itself",
        spoilt({6: "0,300,10,bumper", 8: "0,450,10,bonnet"}),
        7,
        None,
        "stretch 2-3 meets 3-4",
        "traced once",
        "order in which the surface runs",
    ),
    _cell(
        "station out of order", 13, "50,810,810,bonnet", "station_mm", "50 mm after", "incr", "sort"
    ),
    BadTable(
        "stations in decreasing order",
        spoilt({r: GOOD_LINES[r - 1].replace("100,", "-5,", 1) for r in range(10, 14)}),
        10,
        "station_mm",
        "-5 mm after station 0",
        "increasing",
        "left",
    ),
    _cell(
        "station again", 13, "0,810,810,bonnet", "station_mm", "first in row 5", "together", "move"
    ),
    BadTable(
        "stations interleaved",
        spoilt({7: GOOD_LINES[9], 8: GOOD_LINES[6], 10: GOOD_LINES[7]}),
        8,
        "station_mm",
        "station 0 mm again",
        "together",
        "move",
    ),
    BadTable(
        "station beyond 100 m",
        spoilt({r: GOOD_LINES[r - 1].replace("100,", "100100,", 1) for r in range(10, 14)}),
        10,
        "station_mm",
        "100 m",
        "vehicle front",
        "unit",
    ),
    BadTable(
        "millimetres called metres",
        GOOD.replace(b"height_mm", b"height_m"),
        5,
        None,
        "beyond 100 m",
        "vehicle front",
        "unit",
    ),
    BadTable(
        "traced downwards",
        spoilt(dict(zip(range(5, 10), reversed(GOOD_LINES[4:9]), strict=True))),
        9,
        "height_mm",
        "not above its first row",
        "underside up",
        "reverse",
    ),
    BadTable(
        "setback signed forward",
        GOOD.replace(b",300,under", b",-300,under")
        .replace(b",800,bon", b",-800,bon")
        .replace(b",60,bon", b",-60,bon"),
        9,
        "setback_mm",
        "500 mm ahead",
        "positive rearward",
        "sign",
    ),
)

BAD_TABLES = (*_FILES, *_METADATA, *_HEADERS, *_ROWS, *_CONTOURS)

"""The cells of a spreadsheet file, read in a process of its own that may neither grow nor linger.

A small file can ask for any amount of memory: one cell in the last row of a sheet is enough. So
what a packed file unpacks to is counted first, and the reading itself is limited.
"""

from __future__ import annotations

import io
import json
import re
import sys
import zipfile
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import InputError, refuse
from frontcheck.reading.processes import answer_of

if TYPE_CHECKING:
    from collections.abc import Iterator

Value = float | str | bool | list[str] | None
"""What a cell holds; of no use are lists: ``["date", text]`` and ``["empty", formula]``."""

MAX_UNPACKED: Final = 64_000_000
"""Most that the parts of a file may unpack to [bytes]: a measurement has under a million."""
MAX_ROWS: Final = 100_000
_MAX_COLUMNS: Final = 256
_MAX_CELLS: Final = 1_000_000
"""Most that all sheets may span: a cell in a far corner spans all that lie before it."""
_MAX_TEXT: Final = 5000
"""Letters of a cell that are kept: more than any text that is taken."""
_MAX_SHEETS: Final = 64
_MAX_MEMORY: Final = 1_500_000_000
SECONDS: Final = 6.0
"""Longest that reading may take."""

_PACKED: Final = b"PK\x03\x04"
_COMPOUND: Final = b"\xd0\xcf\x11\xe0"
_MACROS: Final = re.compile(r"(?i)vbaProject|^(Basic|Scripts)/|macrosheets/")
_LINKS: Final = re.compile(r"(?i)externalLinks/|^xl/connections")
_FORMULA: Final = re.compile(rb"""<(\w+:)?f[ >/]|\bt=["']e["']|table:formula=""")


def sheets_of(content: bytes, file: str) -> list[dict[str, Any]]:
    """Return name, rows of values and merged ranges of every sheet of a file."""
    formulas = False
    if content.startswith(_PACKED):
        formulas = _check_packed(content, file)
    elif not content.startswith(_COMPOUND):
        raise refuse("spreadsheet.none", file)
    elif "_VBA_PROJECT".encode("utf-16-le") in content:
        raise refuse("spreadsheet.macros", file)
    if not find_spec("python_calamine"):
        raise refuse("spreadsheet.extra", file)
    try:
        done = answer_of("workbook", (f"{formulas:d}",), content, seconds=SECONDS,
                         memory=_MAX_MEMORY, output=MAX_UNPACKED)  # fmt: skip
        told = json.loads(b"" if done.returncode else done.stdout)
    except TimeoutError:
        raise refuse("spreadsheet.slow", file, seconds=SECONDS) from None
    except ValueError:
        raise refuse("spreadsheet.killed", file, memory=_MAX_MEMORY / 1e9) from None
    if isinstance(told, str):
        raise refuse("spreadsheet.damaged", file, reason=told[:120])
    for sheet in told:
        if sheet["too_large"]:
            height, width = sheet["size"]
            raise refuse("spreadsheet.size", file, sheet=sheet["name"], height=height, width=width,
                         rows=MAX_ROWS, columns=_MAX_COLUMNS, cells=_MAX_CELLS)  # fmt: skip
    return list(told)


def _check_packed(content: bytes, file: str) -> bool:
    """Refuse too much, macros, links and entities before parsing; tell of formulas."""
    formulas = False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            size = sum(part.file_size for part in parts)
            if size > MAX_UNPACKED or len(parts) > 2000:
                raise refuse("spreadsheet.unpacked", file, size=size / 1e6, count=len(parts),
                             most=MAX_UNPACKED / 1e6)  # fmt: skip
            for part in parts:
                if _MACROS.search(part.filename):
                    raise refuse("spreadsheet.macros", file)
                if _LINKS.search(part.filename):
                    raise refuse("spreadsheet.links", file, what="data from another file")
                if part.filename.lower().endswith((".xml", ".rels")):
                    text = packed.read(part)
                    formulas |= bool(_FORMULA.search(text))
                    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
                        raise refuse("spreadsheet.entities", file, part=part.filename[:60])
                    if b"<table:table-source" in text or b"'file:" in text:
                        raise refuse("spreadsheet.links", file, what="data from another file")
    except InputError:
        raise
    except Exception as problem:  # noqa: BLE001 -- zipfile has a dozen for damaged files
        raise refuse("spreadsheet.damaged", file, reason=str(problem)[:120]) from None
    return formulas


def child(formulas: str) -> None:
    """Read a file from standard input and write its sheets, or what went wrong, as JSON."""
    try:
        told: Any = _sheets(sys.stdin.buffer.read(), formulas=formulas == "1")
    except BaseException as problem:  # noqa: BLE001 -- a panic of the parser is no Exception
        told = str(problem) or type(problem).__name__
    text = json.dumps(told)
    sys.stdout.write(text if len(text) <= MAX_UNPACKED else json.dumps("too much text"))


def _sheets(content: bytes, *, formulas: bool) -> list[dict[str, Any]]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum

    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    found: list[dict[str, Any]] = []
    cells = 0
    for about in book.sheets_metadata[:_MAX_SHEETS]:
        if about.typ != SheetTypeEnum.WorkSheet:
            continue
        sheet = book.get_sheet_by_name(about.name)
        size = (sheet.total_height + 1, sheet.total_width + 1)  # both are counted from 0
        cells += size[0] * size[1]
        large = size[0] > MAX_ROWS or size[1] > _MAX_COLUMNS or cells > _MAX_CELLS
        name = "".join(c if c.isprintable() else "?" for c in about.name[:60])
        told = {"name": name, "size": size, "too_large": large, "rows": [], "merged": []}
        told["as_written"] = about.name
        found.append(told)
        if large:
            continue
        rows = sheet.to_python(skip_empty_area=False)
        told["rows"] = [[_value(cell) for cell in row] for row in rows]
        told["merged"] = sheet.merged_cell_ranges or []
    if formulas:
        of_sheet = {sheet.pop("as_written"): sheet for sheet in found}
        for name, row, column, said in (
            _in_open_document(content) if b"opendocument" in content[:200] else _in_xlsx(content)
        ):
            cells_of = of_sheet[name]["rows"] if name in of_sheet else []
            if row >= len(cells_of) or column >= len(cells_of[row]):
                continue
            if cells_of[row][column] is None:  # 0 is a result
                cells_of[row][column] = ["empty", said]
    return found


def _value(cell: object) -> Value:
    if isinstance(cell, str):
        return cell[:_MAX_TEXT] or None
    if isinstance(cell, bool):
        return cell
    return float(cell) if isinstance(cell, (int, float)) else ["date", str(cell)]


# Formulas and errors, as sheet, row and column from 0, and text: where they have no result, the
# other reader gives empty cells.


def _in_xlsx(content: bytes) -> Iterator[tuple[str, int, int, str]]:
    from xml.etree import ElementTree as ET

    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        links = ET.fromstring(packed.read("xl/_rels/workbook.xml.rels"))
        targets = {link.get("Id"): link.get("Target", "") for link in links}
        for sheet in ET.fromstring(packed.read("xl/workbook.xml")).iterfind(".//{*}sheet"):
            target = targets[next(v for k, v in sheet.items() if k.endswith("}id"))]
            part = target[1:] if target.startswith("/") else f"xl/{target}"
            number = -1
            for row in ET.fromstring(packed.read(part)).iterfind(".//{*}row"):
                number = int(row.get("r", number + 2)) - 1
                column = -1
                for cell in row.iterfind("{*}c"):
                    letters = cell.get("r", "").rstrip("0123456789")
                    column = _position(letters) if letters else column + 1
                    formula, value = cell.find("{*}f"), cell.find("{*}v")
                    if formula is not None:
                        yield sheet.get("name", ""), number, column, f"={formula.text or ''}"
                    elif cell.get("t") == "e" and value is not None:
                        yield sheet.get("name", ""), number, column, value.text or ""


def _position(letters: str) -> int:
    """Place of a column, from 0, by its letters."""
    place = 0
    for each in letters:
        place = 26 * place + ord(each) - ord("A") + 1
    return place - 1


def _in_open_document(content: bytes) -> Iterator[tuple[str, int, int, str]]:
    from xml.etree import ElementTree as ET

    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        top = ET.fromstring(packed.read("content.xml"))
    ns = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
    for table in top.iter(f"{ns}table"):
        number = 0
        for row in table.iter(f"{ns}table-row"):
            column = 0
            for cell in row:
                formula = cell.get(f"{ns}formula")
                if formula is not None:
                    yield table.get(f"{ns}name", ""), number, column, formula
                column += int(cell.get(f"{ns}number-columns-repeated", 1))
            number += int(row.get(f"{ns}number-rows-repeated", 1))

"""The measuring sheet as a PDF to print, and as files in a folder.

Page 1 shows how to measure, page 2 takes what belongs to the whole vehicle, and every station has
pages of its own; `templates/sheet.typ` sets them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.errors import OutputError
from frontcheck.files import write_file, writing_to
from frontcheck.outputs.documents.typst_pdf import typst_pdf
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.sheet.sheet_workbook import sheet_xlsx
from frontcheck.reading.form import number_text
from frontcheck.rules.ruleset import rule_set

if TYPE_CHECKING:
    from decimal import Decimal
    from pathlib import Path

    from frontcheck.reading.form import SheetRow, Worksheet
    from frontcheck.rules.ruleset import RuleSet

PDF_NAME: Final = "worksheet.pdf"
CSV_NAME: Final = "worksheet.csv"
XLSX_NAME: Final = "worksheet.xlsx"
PAPERS: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of the paper, upright [mm]: ISO 216:2007, trimmed sizes of paper; ANSI/ASME
Y14.1, drawing sheet size and format, 8.5 by 11 in (both from memory, the year of the second not
confirmed)."""
PART_WORDS: Final = {
    "underside": "below the bumper, facing the ground",
    "bumper": "cover with its lips and recesses",
    "grille": "openings and their bars",
    "lamp": "lamp glass and its rim",
    "bonnet": "lid over the front, with its leading edge",
    "wing": "side panel beside the lid",
    "cowl": "hollow before the windscreen, wipers off",
    "windscreen": "glass and its frame",
    "pillar": "frame beside the glass",
    "trim": "strips and badges",
    "ignore": "mirrors, plates, wipers, tyres: left out",
}
"""The parts of `frontcheck.surface.section.PARTS` in plain words."""
LINE_WORDS: Final = {
    "UBRL": "upper bumper reference line (UBRL)",
    "LBRL": "lower bumper reference line (LBRL)",
    "BLERL": "bonnet leading edge reference line (BLERL)",
}
"""The lines that are checked, spelled out."""

_ROOM: Final = 77.0
"""Of the height of the paper, what a table of a station cannot have [mm]."""
_ROW: Final = (6.4, 8.2)
"""Least and greatest height of a row to write in [mm]; 6 mm takes handwriting."""
_SPARE: Final = 3
"""Rows at least that are left for points between the printed ones."""


def sheet_pdf(sheet: Worksheet, paper: str = "a4") -> bytes:
    """Return the sheet to print; the same sheet always gives the same bytes."""
    return typst_pdf("frontcheck.outputs.sheet", "sheet", _content(sheet, paper), tagged=False)


def sheet_pages(sheet: Worksheet, paper: str = "a4") -> int:
    """Return how many pages the sheet has."""
    return 2 + len(_Rows.of(sheet, paper).pages) * len(sheet.stations)


def write_sheet(sheet: Worksheet, folder: Path, paper: str = "a4") -> None:
    """Write PDF and CSV into a folder, and the spreadsheet where openpyxl is installed."""
    files = {PDF_NAME: sheet_pdf(sheet, paper), CSV_NAME: sheet.to_csv()}
    if find_spec("openpyxl"):
        files[XLSX_NAME] = sheet_xlsx(sheet)
    with writing_to(folder):
        folder.mkdir(parents=True, exist_ok=True)
        in_use = [
            folder / name
            for name, data in files.items()
            if (folder / name).exists() and (folder / name).read_bytes() != data
        ]
    if in_use:
        raise OutputError(
            f"{in_use[0]}: another sheet is there, perhaps filled in; expected a folder "
            "without one; name another folder, or move the file away"
        )
    for name, data in files.items():
        write_file(folder / name, data)


@dataclass(frozen=True)
class _Rows:
    """How the rows of a station are spread over pages."""

    pages: tuple[tuple[SheetRow | None, ...], ...]
    height: float  # Of a row [mm]

    @classmethod
    def of(cls, sheet: Worksheet, paper: str) -> _Rows:
        """Share rows and spare rows evenly among as few pages as hold them."""
        room = PAPERS[paper][1] - _ROOM
        count = len(sheet.rows) + _SPARE
        pages = math.ceil(count / int(room / _ROW[0]))
        per_page = max(math.ceil(count / pages), int(room / _ROW[1]))
        rows = (*sheet.rows, *([None] * (pages * per_page - len(sheet.rows))))
        shared = tuple(rows[i : i + per_page] for i in range(0, len(rows), per_page))
        return cls(shared, min(_ROW[1], room / per_page))


def _content(sheet: Worksheet, paper: str) -> dict[str, Any]:
    width, height = PAPERS[paper]
    rows = _Rows.of(sheet, paper)
    pages = [[_row(row) for row in page] for page in rows.pages]
    rules = rule_set()
    edges = {name: _Edge.of(rules, name) for name in LINE_WORDS}
    return {
        "width": width,
        "height": height,
        "fonts": [look.FONT],
        "look": {
            "ink": look.INK, "muted": look.MUTED, "face": look.FACE, "rim": look.TAPE_RIM,
            "ground": look.GROUND,
        },
        "caution": CAUTION,
        "caution_short": CAUTION_SHORT,
        "unit": sheet.unit,
        "name": look.printable(sheet.name, 120),
        "symmetric": bool(sheet.symmetric),
        "fine": "1/32 in" if sheet.unit == "in" else "1 mm",
        "parts": list(PART_WORDS.items()),
        "edges": [edge.drawn() for edge in edges.values()],
        "checks": [
            {
                "station": number_text(station),
                "what": f"height of the {LINE_WORDS[what]}"
                if what in edges
                else "tape from the ground to row no.",
                "how": edges[what].words() if what in edges else "",
            }
            for station, what in sheet.checks
        ],
        "row_height": rows.height,
        "stations": [(number_text(y), _side(y), pages) for y in sheet.stations],
    }  # fmt: skip


def _side(station: Decimal) -> str:
    if not station:
        return "on the centre plane"
    return f"to the vehicle's {'right' if station > 0 else 'left'} of the centre plane"


def _row(row: SheetRow | None) -> dict[str, Any]:
    """What is printed in one row; None: a spare one."""
    if row is None:
        return {"number": None}
    height = "" if row.height is None else number_text(row.height)
    return {"number": row.number, "height": height, "part": row.part}


_LABELS: Final = {
    "LBRL": ["edge for", "lower bumper", "line (LBRL)"],
    "UBRL": ["edge for", "upper bumper", "line (UBRL)"],
    "BLERL": ["edge for", "bonnet edge", "(BLERL)"],
}
"""What the sketch says at each edge."""


@dataclass(frozen=True)
class _Edge:
    """How a straight edge is held to check the height of a line."""

    name: str
    length: float  # [mm]
    lean: float  # From the vertical, positive rearward [deg]
    foot: float  # Height of the lower end [mm]

    @classmethod
    def of(cls, rules: RuleSet, name: str) -> _Edge:
        key = name.lower()
        lean = rules.value(f"{key}.lean_deg")
        return cls(
            name,
            rules.value(f"{key}.edge_length_mm"),
            -lean if name == "LBRL" else lean,
            rules.value("blerl.foot_height_mm") if name == "BLERL" else 0.0,
        )

    def words(self) -> str:
        """How to hold it."""
        stands = f"lower end at {self.foot:g} mm" if self.foot else "foot on the ground"
        way = "rearward" if self.lean > 0.0 else "forward"
        touch = {"UBRL": "highest touch on the bumper", "LBRL": "lowest touch"}
        return (
            f"edge of {self.length:g} mm, {stands}, inclined {abs(self.lean):g} deg {way}: "
            f"{touch.get(self.name, 'touch')}"
        )

    def drawn(self) -> dict[str, Any]:
        """What the sketch needs."""
        stroke = look.LINE_STYLES[self.name]
        return {
            "name": self.name, "label": _LABELS[self.name],
            "length": self.length, "lean": self.lean, "foot": self.foot,
            "color": stroke.color, "width": stroke.width, "dashes": list(stroke.dashes),
        }  # fmt: skip

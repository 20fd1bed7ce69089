"""Tables and documents of a screening as bytes: JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.tolerance_result import Tolerance

__all__ = ["csv_bytes", "json_bytes", "screening_document", "station_rows", "stations_csv"]

_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def json_bytes(document: dict[str, Any]) -> bytes:
    """Return a document as JSON, numbers at full precision, keys in the order given."""
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def screening_document(
    screening: Screening,
    *,
    lines_only: bool = False,
    tolerance: Tolerance | None = None,
    corrections: CorrectionReport | None = None,
) -> dict[str, Any]:
    """Return the screening document, with what was found beside the screening."""
    document = screening.to_dict(lines_only=lines_only)
    if tolerance is not None:
        said_above = ("frontcheck", "input", "rule_set")
        whole = tolerance.to_dict()
        document["tolerance"] = {key: whole[key] for key in whole if key not in said_above}
    if corrections is not None:
        document["corrections"] = {"applied": True, **corrections.to_dict()}
    return document


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return rows as comma-separated values."""
    # Text that a spreadsheet would take for a formula is given a leading apostrophe, so that
    # names and notes from input files stay text.
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return stream.getvalue().encode()


def station_rows(screening: Screening) -> tuple[list[str], list[list[object]]]:
    """Return the table of lines, one row a station, with units in the column names."""
    records = screening.records()
    header = list(records[0])
    return header, [[record[name] for name in header] for record in records]


def stations_csv(screening: Screening) -> bytes:
    """Return the table of lines as CSV."""
    header, rows = station_rows(screening)
    caution = screening.cautions[0]
    return csv_bytes([*header, "caution"], [[*row, caution] for row in rows])


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return f"'{value}"
    return value

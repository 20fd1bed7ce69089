"""Tables and documents of a screening as bytes: JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.screening import ScreeningDocument
from frontcheck.serializer import plain, read_document
from frontcheck.sure.tolerance_document import CorrectionsEntry, within_screening

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from frontcheck.front.front import Front
    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.tolerance_result import Tolerance

_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def json_bytes(document: dict[str, Any]) -> bytes:
    """Return a document as JSON, numbers at full precision, keys in the order given."""
    import msgspec

    # Indented afterwards: without indents the encoder is ten times faster.
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    return f"{msgspec.json.format(text, indent=1)}\n".encode()


def screening_document(
    screening: Screening,
    *,
    lines_only: bool = False,
    tolerance: Tolerance | None = None,
    corrections: CorrectionReport | None = None,
) -> dict[str, Any]:
    """Return the screening document, with what was found beside the screening."""
    beside = {}
    if tolerance is not None:
        beside["tolerance"] = within_screening(tolerance)
    if corrections is not None:
        beside["corrections"] = plain(CorrectionsEntry, corrections, applied=True)
    return screening.to_dict(lines_only=lines_only) | beside


def read_screening(path: str | Path) -> ScreeningDocument:
    """Read a screening document back.

    Parameters
    ----------
    path : str or Path
        A JSON file that `Screening.to_dict` or the command line wrote.

    Returns
    -------
    ScreeningDocument
        Every key of the document as an attribute, such as ``stations[0].UBRL.z_mm``.

    Raises
    ------
    InputError
        If the file cannot be read, is damaged, or is no document ``frontcheck.screening/2``.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> path = fc.write_screening(result, "plover.json", lines_only=True)
    >>> fc.read_screening(path).stations[0].bumper_lead_mm
    79.5
    """
    return read_document(ScreeningDocument, path)


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[object]], *fronts: Front) -> bytes:
    """Return rows as comma-separated values, the caution in the last column of each."""
    caution = " ".join([CAUTION, *filter(None, (one.drawn for one in fronts))])
    # Text that a spreadsheet would take for a formula is given a leading apostrophe, so that
    # names and notes from input files stay text.
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([*header, "caution"])
    start = stream.tell()
    writer.writerows([*map(_cell, row), caution] for row in rows)
    if stream.tell() == start:  # No row to stand in: below the header, as a comment
        stream.write(f"# caution: {caution}\n")
    return stream.getvalue().encode()


def station_rows(screening: Screening) -> tuple[list[str], list[list[object]]]:
    """Return the table of lines, one row a station, with units in the column names."""
    records = screening.records()
    header = list(records[0])
    return header, [[record[name] for name in header] for record in records]


def stations_csv(screening: Screening) -> bytes:
    """Return the table of lines as CSV."""
    return csv_bytes(*station_rows(screening), screening.front)


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return f"'{value}"
    return value

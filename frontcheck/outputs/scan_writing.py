"""What a scan leaves behind: its offset table, and a picture of what was found."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from frontcheck.files import write_file
from frontcheck.outputs.documents.offset_table import offset_table, table_place

if TYPE_CHECKING:
    import os
    from pathlib import Path

    from frontcheck.reading.scan.scan import Scan

SCAN: Final = "scan"
"""What makes these tables, as `table_place` has it."""
PICTURE: Final = (".png",)
"""What goes beside a table, by suffix."""


def write_scan(scan: Scan, path: str | os.PathLike[str]) -> tuple[Path, ...]:
    """Write the offset table of a scan, and a picture of what was found beside it.

    Parameters
    ----------
    scan : Scan
        The scan.
    path : str or os.PathLike
        The table, ``.csv``; the picture takes its name and ``.png``.

    Returns
    -------
    tuple of pathlib.Path
        The table and the picture.

    Raises
    ------
    OutputError
        If one cannot be written, or the user's own file stands there.

    Examples
    --------
    >>> import frontcheck as fc
    >>> scan = fc.read_scan("geometries/plover-scan.ply", unit="m", stations=[0])
    >>> [file.name for file in fc.write_scan(scan, "plover-scanned.csv")]
    ['plover-scanned.csv', 'plover-scanned.png']
    """
    from frontcheck.outputs.figures.scan_figure import scan_figure
    from frontcheck.outputs.figures.side_view import figure_bytes

    target, picture = table_place(path, SCAN, PICTURE)
    image = figure_bytes(scan_figure(scan), "png")
    write_file(target, scan_csv(scan, image))
    write_file(picture, image)
    return target, picture


def scan_csv(scan: Scan, *beside: bytes) -> bytes:
    """Return the sections of a scan as an offset table that reads back as they are."""
    return offset_table(replace(scan.front, notes=" ".join(scan.notes)), SCAN, beside)

"""What a scan leaves behind: its offset table, and a picture of what was found."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from frontcheck.caution import CAUTION
from frontcheck.errors import OutputError
from frontcheck.files import write_file
from frontcheck.reading.scan.scan import METHOD

if TYPE_CHECKING:
    import os

    from frontcheck.reading.scan.scan import Scan


def scan_places(path: str | os.PathLike[str]) -> tuple[Path, Path]:
    """Where table and picture of a scan go; a place that cannot take them is refused."""
    target = Path(path)
    if not target.parent.is_dir():
        raise OutputError(
            f"{target}: there is no folder {target.parent}; expected one; make it, or name another"
        )
    picture = target.with_suffix(".png")
    if any(place.exists() for place in (target, picture)) and not is_scan_table(target):
        raise OutputError(
            f"{target}: there is a file of this name or of its picture that is not of a scan; "
            "expected none, or what an earlier scan left; name another table"
        )
    return target, picture


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

    target, picture = scan_places(path)
    image = figure_bytes(scan_figure(scan), "png")
    write_file(target, scan_csv(scan))
    write_file(picture, image)
    return target, picture


def scan_csv(scan: Scan) -> bytes:
    """Return the sections of a scan as an offset table that reads back as they are."""
    front = scan.front
    metadata = {
        "caution": CAUTION,
        "name": " ".join(front.name.split())[:120],
        "method": front.method,
        "datum": "common",
        "symmetric": "yes" if front.symmetric else "no",
        "height_u": f"{scan.u_mm:.2f} mm",
        "setback_u": f"{scan.u_mm:.2f} mm",
        "error_length": f"{scan.error_length_mm:g} mm",
        "scale_u": f"{scan.scale_u_percent:.3g} %",
        "notes": " ".join(scan.notes)[:3900],
    }
    lines = [f"# {key}: {value}" for key, value in metadata.items()]
    lines.append("station_mm,height_mm,setback_mm,part")
    for section in front.sections:
        parts = section.parts or ("",) * len(section.points)
        lines += [
            f"{section.y:g},{z:.2f},{x:.2f},{part or '-'}"
            for (x, z), part in zip(section.points.tolist(), parts, strict=True)
        ]
    text = "".join(f"{line}\n" for line in lines)
    return text.encode("utf-8" if text.isascii() else "utf-8-sig")


def is_scan_table(path: Path) -> bool:
    """Whether an earlier scan left a table there."""
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return f"method: {METHOD}".encode() in stream.read(4096)

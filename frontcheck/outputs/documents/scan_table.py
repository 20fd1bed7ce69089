"""The offset table of a scan: what it is, how sure, and its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.caution import CAUTION
from frontcheck.reading.scan.scan import METHOD

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.reading.scan.scan import Scan


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

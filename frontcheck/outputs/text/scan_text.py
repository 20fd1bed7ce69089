"""What was found in a scan, in numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.caution import CAUTION
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.outputs.text.terminal import Style
    from frontcheck.reading.scan.scan import Scan


def scan_text(style: Style, scan: Scan, written: tuple[Path, ...]) -> str:
    """Return what was found, as tables and paragraphs."""
    front = scan.front
    length, width = scan.ground_patch_mm
    rows = [
        ("points read", f"{scan.points}"),
        ("points left out", f"{scan.left_out}"),
        ("ground, scanned", f"{length / 1000:.1f} by {width / 1000:.1f} m"),
        ("ground, sd about its plane", f"{scan.ground_sd_mm:.1f} mm"),
        ("up, in file axes", _way(scan.up)),
        ("forward, in file axes", _way(scan.forward)),
        ("body with a mirror image", f"{100 * scan.mirrored_share:.0f} %"),
        ("body to its mirror image, rms", f"{scan.mirrored_rms_mm:.1f} mm"),
        ("lean of the centre plane", f"{abs(scan.lean_deg):.2f} deg"),
        ("noise of single points", f"{scan.noise_mm:.1f} mm"),
        ("u of the sections", f"{scan.u_mm:.1f} mm, alike over {scan.error_length_mm:g} mm"),
        ("u of the scale", f"{scan.scale_u_percent:.2g} %"),
        ("windscreen scanned", _share(scan.glass_covered)),
    ]
    if scan.scale != 1.0:
        rows.insert(2, ("scale, by the taped length", f"{scan.scale:.4f}"))
    sections = [
        (f"{s.y:g}", f"{len(s.points)}", f"{s.z.min():.0f} to {s.z.max():.0f}",
         f"{s.x.min():.0f} to {s.x.max():.0f}")
        for s in front.sections
    ]  # fmt: skip
    parts = [
        style.table(f"{front.name}: what was found in the scan", ["what", "found"], rows),
        style.table(
            "Sections, setback from where it is foremost in the centre",
            ["station mm", "rows", "height mm", "setback mm"],
            sections,
        ),
        *(style.paragraph(note) for note in scan.notes),
    ]
    if scan.scale == 1.0:
        parts.append(
            style.paragraph(
                "No taped length was given: the scale is taken as it is, and said to be sure to "
                f"{scan.scale_u_percent:g} % only (--taped fixes it)."
            )
        )
    parts.append(style.paragraph("Look at the picture before you use the table."))
    parts.append(style.paragraph(CAUTION, loud=True))
    parts.append(style.paragraph(f"Written: {', '.join(map(escaped, written))}."))
    return style.spelt_out(parts)


def _way(vector: tuple[float, float, float]) -> str:
    return ", ".join(f"{value:.3f}" for value in vector)


def _share(share: float | None) -> str:
    return "none found" if share is None else f"{100 * share:.0f} %"

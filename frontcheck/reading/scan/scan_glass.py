"""How much of the windscreen was scanned, and sections without it where that is too little."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.surface.section import Section
from frontcheck.surface.windscreen import Rise, feet_by_shape

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.reading.scan.scan_regions import Region

_GLASS: Final = Rise(700.0, 20.0, 65.0, 250.0)
"""What is a windscreen by shape: as the rule sets have it, own choice."""
_LEAST_GLASS: Final = 0.5


def without_glass(
    sections: list[Section],
    body: Array,
    spacing: float,
    parts: Sequence[Region],
    notes: list[str],
) -> tuple[list[Section], float | None]:
    """Sections without the windscreen where too little of it was scanned; and the share."""
    named = [part for part in parts if part.part == "windscreen"]
    if named:
        feet: list[int | None] = [
            next((i for i, p in enumerate(s.points) if any(r.holds(p) for r in named)), None)
            for s in sections
        ]
    else:
        feet = feet_by_shape(sections, _GLASS)
    covered = _covered(sections, feet, body, spacing)
    if covered is None:
        return sections, None
    if covered >= _LEAST_GLASS:
        return sections, covered
    notes.append(
        f"{100 * covered:.0f} % of the windscreen was scanned, less than {100 * _LEAST_GLASS:.0f} "
        "%: it was left out, so that no bonnet rear reference line (BRRL) is formed on it. Spray "
        "or cover the glass and scan again, or measure its foot by hand."
    )
    cut = []
    for section, foot in zip(sections, feet, strict=True):
        end = len(section.points) if foot is None else max(foot, 3)
        own = section.height_u[:end] if section.height_u is not None else None
        cut.append(Section(section.points[:end], section.y, height_u=own, setback_u=own))
    return cut, covered


def _covered(
    sections: list[Section], feet: list[int | None], body: Array, spacing: float
) -> float | None:
    """Share of the windscreen, out to the last station, on which points lie: seen from above."""
    known = [
        (section.y, *section.points[foot])
        for section, foot in zip(sections, feet, strict=True)
        if foot is not None
    ]
    if not known:
        return None
    y, x, z = np.array(known).T
    cell = 1.6 * spacing
    across = np.abs(body[:, 1])
    near = across < max(200.0, sections[-1].y)
    behind = body[:, 0] - np.interp(across, y, x)
    glass = near & (behind > 0.0) & (body[:, 2] > np.interp(across, y, z))
    if not glass.any():
        return None
    rows = np.floor(behind[glass] / cell).astype(np.int64)
    columns = np.floor(body[glass, 1] / cell).astype(np.int64)
    columns -= columns.min()
    seen = np.zeros((int(rows.max()) + 1, int(columns.max()) + 1), dtype=bool)
    seen[rows, columns] = True
    # Where it ends in a hole the glass goes on: the longest columns say how far.
    ends = len(seen) - np.argmax(seen[::-1], axis=0)
    return float(seen.sum() / (np.percentile(ends, 95) * seen.shape[1]))

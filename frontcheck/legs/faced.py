"""What a legform faces: cells of a silhouette, and which part of the front each belongs to.

Glossary
--------
lower lip, bumper, leading edge
    Of a stretch that has no part of its own: below half-way from the lower lip to the bumper, from
    there to UBRL, above UBRL. Each may be backed by something else, so each counts as a part.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.legs.contact import silhouette_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frontcheck.geometry.arrays import Array
    from frontcheck.legs.contact import FrontContact
    from frontcheck.lines.station import Station
    from frontcheck.people.impactors import Legform
    from frontcheck.surface.section import Section

_CELL_MM: Final = 4.0
LIPS: Final = ("lower lip", "bumper", "leading edge")


@dataclass(frozen=True, eq=False)
class Face:
    """Cells from below upward."""

    foremost_x: float  # Setback of the foremost point [mm]
    height: Array  # (m,) middle above the knee [m]
    size: Array  # (m,) [m]
    setback: Array  # (m,) from the foremost point [m]
    label: tuple[str, ...]  # (m,) part as the contour has it; empty where it has none
    part: tuple[str, ...]  # (m,) part as it is drawn

    def stiffness(self, usual: float, known: Mapping[str, float]) -> Array:
        """Force per height and penetration of every cell (m,) [N/m2]."""
        return 1e6 * np.array([known.get(label, usual) for label in self.label])


def lip_heights(contact: FrontContact, station: Station) -> tuple[float | None, float | None]:
    """Return where the lower lip ends and where the bumper does [mm]; None where not known."""
    lip, bumper = contact.member("lower lip"), contact.member("bumper")
    split = None if lip is None or bumper is None else 0.5 * (lip.z + bumper.z)
    return split, station.UBRL.z


def face_of(
    section: Section, legform: Legform, lips: tuple[float | None, float | None] = (None, None)
) -> Face:
    """Return what a legform faces of a section."""
    seen = silhouette_of(section, legform.low_mm, legform.high_mm)
    knee = legform.knee_height_mm
    count = round((legform.high_mm - legform.low_mm) / _CELL_MM)
    grid = np.linspace(legform.low_mm, legform.high_mm, count + 1)
    cuts = [height for height in lips if height is not None and seen.low < height < seen.high]
    levels = np.unique(np.concatenate([grid, seen.z.ravel(), [knee, *cuts]]))
    middle = 0.5 * (levels[1:] + levels[:-1])
    piece = np.searchsorted(seen.z[:, 0], middle, "right") - 1
    there = (piece >= 0) & (middle < seen.z[np.maximum(piece, 0), 1])
    middle, size, piece = middle[there], np.diff(levels)[there], piece[there]
    low, high = seen.z[piece].T
    share = (middle - low) / (high - low)
    setback = (1.0 - share) * seen.x[piece, 0] + share * seen.x[piece, 1] - seen.foremost_x
    parts = seen.parts
    label = [parts[i] for i in piece.tolist()]
    split, top = lips
    part = [
        own if own not in ("", "bumper") else LIPS[_lip(height, split, top)]
        for own, height in zip(label, middle.tolist(), strict=True)
    ]
    return Face(
        seen.foremost_x, (middle - knee) / 1e3, size / 1e3, setback / 1e3, tuple(label), tuple(part)
    )


def _lip(height: float, split: float | None, top: float | None) -> int:
    if split is not None and height < split:
        return 0
    return 2 if top is not None and height > top else 1

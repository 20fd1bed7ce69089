"""Contours side by side in one array, ready for the contact functions.

Many stations, or many perturbed copies of one section, are worked on at once; shorter
contours repeat their last point, which adds stretches of no length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.surface.section import Section

_FACE_PARTS = ("underside", "bumper", "grille", "lamp")


@dataclass(frozen=True, eq=False)
class Contours:
    """B contours of n points with what the lines need to know of their parts."""

    points: Array  # (B, n, 2) float, x and z [mm]
    counts: Index  # (B,) int, points of each contour before padding
    parts: NDArray[np.int8]  # (B, n) int, index into `PARTS`, -1 for points without a label
    screen: Index
    silhouette: Mask  # (B,) bool, whether each is an outline seen from the side

    def __len__(self) -> int:
        """Return the number of contours."""
        return len(self.points)

    def part(self, which: slice | Index) -> Contours:
        """Return some of the contours; views where a slice says which."""
        return Contours(
            self.points[which],
            self.counts[which],
            self.parts[which],
            self.screen[which],
            self.silhouette[which],
        )

    @classmethod
    def of(cls, sections: Sequence[Section]) -> Contours:
        """Lay sections side by side."""
        counts = np.array([len(section) for section in sections])
        n = int(counts.max())
        points = np.empty((len(sections), n, 2))
        parts = np.empty((len(sections), n), dtype=np.int8)
        for i, section in enumerate(sections):
            points[i, : counts[i]] = section.points
            points[i, counts[i] :] = section.points[-1]
            parts[i, : counts[i]] = section.part_codes
            parts[i, counts[i] :] = section.part_codes[-1]
        return cls(
            points,
            counts,
            parts,
            np.array([_screen_range(section) for section in sections]),
            np.array([section.silhouette for section in sections]),
        )

    @classmethod
    def copies(cls, section: Section, points: Array) -> Contours:
        """Lay changed copies of one section side by side."""
        if points.ndim != 3 or points.shape[1:] != section.points.shape:
            raise ValueError(f"copies have shape {points.shape}; expected (B, {len(section)}, 2)")
        one = cls.of([section])
        batch = len(points)
        return cls(
            points,
            np.repeat(one.counts, batch),
            np.broadcast_to(one.parts, points.shape[:2]),
            np.repeat(one.screen, batch, axis=0),
            np.repeat(one.silhouette, batch),
        )


def _screen_range(section: Section) -> tuple[int, int, int]:
    """First upper point, first and last windscreen point; (-1, -1, -1) without one."""
    glass = np.flatnonzero(section.part_mask("windscreen"))
    if len(glass) < 2:
        return -1, -1, -1
    first, last = int(glass[0]), int(glass[-1])
    face = np.flatnonzero(section.part_mask(*_FACE_PARTS)[:first])
    return (int(face[-1]) + 1 if len(face) else 0), first, last

"""What an upright line sees of a contour from the front: the silhouette.

Reading: the leg is a vertical line, the surface of the leg that faces the vehicle; its
thickness moves that line forward and changes nothing else. Knee bulge and calf are left out.

The silhouette at a height is the foremost point of the contour there. It is piecewise
straight, with a jump where a ledge or a fold hides what is behind it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import NotAvailableError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.surface.section import Section

__all__ = ["Silhouette", "silhouette_of"]

_TIE_MM: Final = 1e-9
"""Setbacks closer than this are one contact [mm]: rounding of coordinates of some metres."""


@dataclass(frozen=True, eq=False)
class Silhouette:
    """Foremost contour over a range of heights, as straight pieces from below upward."""

    z: NDArray[np.float64]  # (n, 2) lower and upper height of every piece [mm]
    x: NDArray[np.float64]  # (n, 2) setback at those heights [mm]
    stretch: NDArray[np.intp]
    parts: tuple[str, ...]  # (n,) part of every piece; empty where the contour has no labels
    low: float  # Heights looked at [mm]; pieces need not fill them
    high: float  # Heights looked at [mm]; pieces need not fill them

    @property
    def foremost_x(self) -> float:
        """Setback of the foremost point [mm]."""
        return float(self.x.min())

    @property
    def first_touch(self) -> tuple[float, float]:
        """Ends of the lowest foremost stretch [mm]; the same unless the front stands plumb."""
        touching = self.x <= self.foremost_x + _TIE_MM
        low = high = float(self.z[touching].min())
        for bottom, top in self.z[touching.all(axis=1)].tolist():
            high = top if bottom == high else high
        return low, high

    @property
    def foremost(self) -> tuple[float, float]:
        """Foremost point (x, z) [mm]; the middle of the touch where the front stands plumb."""
        low, high = self.first_touch
        return self.foremost_x, 0.5 * (low + high)

    def cut(self, low: float, high: float) -> Silhouette:
        """Return the pieces between two heights, cut where they cross them."""
        keep = np.flatnonzero((self.z[:, 1] > low) & (self.z[:, 0] < high))
        old, x = self.z[keep], self.x[keep]
        z = np.clip(old, low, high)
        share = (z - old[:, :1]) / (old[:, 1:] - old[:, :1])
        # Ends that are not cut keep their number: 0 and 1 times the step are exact.
        cut_x = np.where(share == 1.0, x[:, 1:], x[:, :1] + share * (x[:, 1:] - x[:, :1]))
        return Silhouette(
            z, cut_x, self.stretch[keep], tuple(self.parts[i] for i in keep), low, high
        )

    def split(self, height: float) -> Silhouette:
        """Return the same silhouette with no piece reaching across a height."""
        below, above = self.cut(self.low, height), self.cut(height, self.high)
        return Silhouette(
            np.concatenate([below.z, above.z]),
            np.concatenate([below.x, above.x]),
            np.concatenate([below.stretch, above.stretch]),
            below.parts + above.parts,
            self.low,
            self.high,
        )


def silhouette_of(section: Section, low: float, high: float) -> Silhouette:
    """Return what an upright line from one height to another sees of a section."""
    if not low < high:
        raise ValueError(f"the leg must have a length; it goes from {low:g} to {high:g} mm")
    x, z = section.points.T
    levels = np.unique(np.concatenate([np.clip(z, low, high), [low, high]]))
    bottom, top = levels[:-1], levels[1:]
    middle = 0.5 * (bottom + top)
    z0, z1, x0, x1 = z[:-1], z[1:], x[:-1], x[1:]
    rise = np.where(z1 == z0, 1.0, z1 - z0)
    slope = (x1 - x0) / rise
    across = (np.minimum(z0, z1) < middle[:, None]) & (middle[:, None] < np.maximum(z0, z1))
    seen = np.where(across, x0 + (middle[:, None] - z0) * slope, np.inf)
    # Stretches of a contour do not cross, and no point lies within a slab: the stretch that is
    # foremost at mid-height is foremost over the whole slab.
    stretch = np.argmin(seen, axis=1)
    there = across.any(axis=1)
    if not there.any():
        raise NotAvailableError(
            f"the section at y = {section.y:g} mm has nothing between {low:g} and {high:g} mm"
        )
    stretch, heights = stretch[there], np.stack([bottom, top], axis=1)[there]
    a, b = stretch[:, None], stretch[:, None] + 1
    share = (heights - z[a]) / (z[b] - z[a])
    setback = np.where(share == 1.0, x[b], x[a] + share * (x[b] - x[a]))
    labels = section.parts or ("",) * len(section)
    # A stretch between two parts is taken for the one it starts from.
    return Silhouette(heights, setback, stretch, tuple(labels[i] for i in stretch), low, high)

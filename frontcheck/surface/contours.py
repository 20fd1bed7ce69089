"""Contours side by side in one array, ready for the contact functions.

Many stations, or many perturbed copies of one section, are worked on at once; shorter
contours repeat their last point, which adds stretches of no length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.geometry.level_cuts import level_cuts
from frontcheck.geometry.polyline import points_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.level_cuts import LevelCuts
    from frontcheck.surface.section import Section

_FACE_PARTS = ("underside", "bumper", "grille", "lamp")


@dataclass(frozen=True, eq=False)
class Contours:
    """B contours of n points with what the lines need to know of their parts."""

    points: NDArray[np.float64]  # (B, n, 2) float, x and z [mm]
    counts: NDArray[np.intp]  # (B,) int, points of each contour before padding
    bumper: NDArray[np.bool_]  # (B, n) bool, points labelled bumper or not labelled at all
    has_bumper: NDArray[np.bool_]  # (B,) bool, whether a contour has points labelled bumper
    screen: NDArray[np.intp]

    def __len__(self) -> int:
        """Return the number of contours."""
        return len(self.points)

    def part(self, which: slice | NDArray[np.intp]) -> Contours:
        """Return some of the contours; views where a slice says which."""
        return Contours(
            self.points[which],
            self.counts[which],
            self.bumper[which],
            self.has_bumper[which],
            self.screen[which],
        )

    @classmethod
    def of(cls, sections: Sequence[Section]) -> Contours:
        """Lay sections side by side."""
        counts = np.array([len(section) for section in sections])
        n = int(counts.max())
        points = np.empty((len(sections), n, 2))
        bumper = np.empty((len(sections), n), dtype=bool)
        for i, section in enumerate(sections):
            points[i, : counts[i]] = section.points
            points[i, counts[i] :] = section.points[-1]
            mask = section.part_mask("bumper", unlabelled=True)
            bumper[i, : counts[i]] = mask
            bumper[i, counts[i] :] = mask[-1]
        return cls(
            points,
            counts,
            bumper,
            np.array([section.has_part("bumper") for section in sections]),
            np.array([_screen_range(section) for section in sections]),
        )

    @classmethod
    def copies(cls, section: Section, points: NDArray[np.float64]) -> Contours:
        """Lay changed copies of one section side by side."""
        if points.ndim != 3 or points.shape[1:] != section.points.shape:
            raise ValueError(f"copies have shape {points.shape}; expected (B, {len(section)}, 2)")
        one = cls.of([section])
        batch = len(points)
        return cls(
            points,
            np.repeat(one.counts, batch),
            np.broadcast_to(one.bumper, points.shape[:2]),
            np.repeat(one.has_bumper, batch),
            np.repeat(one.screen, batch, axis=0),
        )


def _screen_range(section: Section) -> tuple[int, int, int]:
    """First upper point, first and last windscreen point; (-1, -1, -1) without one."""
    glass = np.flatnonzero(section.part_mask("windscreen"))
    if len(glass) < 2:
        return -1, -1, -1
    first, last = int(glass[0]), int(glass[-1])
    face = np.flatnonzero(section.part_mask(*_FACE_PARTS)[:first])
    return (int(face[-1]) + 1 if len(face) else 0), first, last


# Contours of a surface side by side, each with its coordinates u.


@dataclass(frozen=True, eq=False)
class Net:
    """Contours of a surface side by side, each with its coordinates u."""

    y: NDArray[np.float64]  # (m,) stations, increasing [mm]
    points: NDArray[np.float64]  # (m, n, 2) float, x and z [mm]
    u: NDArray[np.float64]  # (m, n) float, coordinate of every point
    counts: NDArray[np.intp]  # (m,) int, points of each contour before padding
    measured: NDArray[np.bool_]  # (m,) bool, whether the contour was measured
    contours: Contours  # The distinct contours: mirror images are not repeated
    row: NDArray[np.intp]  # (m,) int, which of `contours` each one is
    smooth: bool  # Whether the surface is smooth across the contours
    missing: tuple[float, ...] = ()

    @classmethod
    def of(
        cls,
        sections: list[Section],
        u: list[NDArray[np.float64]],
        *,
        stations: NDArray[np.float64],
        symmetric: bool,
        smooth: bool,
        missing: tuple[float, ...] = (),
    ) -> Net:
        """Lay sections of a surface side by side."""
        contours = Contours.of(sections)
        padded = np.ones(contours.points.shape[:2])
        for i, own in enumerate(u):
            padded[i, : len(own)] = own
        half = np.array([section.y for section in sections])
        row = np.arange(len(half))
        if symmetric:
            off = np.flatnonzero(half > 0.0)[::-1]
            y, row = np.concatenate([-half[off], half]), np.concatenate([off, row])
        else:
            y = half
        measured = np.isin(y, stations)
        return cls(
            y, contours.points[row], padded[row], contours.counts[row], measured,
            contours, row, smooth, missing,
        )  # fmt: skip

    def __len__(self) -> int:
        """Return the number of contours."""
        return len(self.y)

    def mirrored(self) -> Net:
        """Return the net seen in a mirror: y changes sign, left becomes right."""
        return Net(
            0.0 - self.y[::-1], self.points[::-1], self.u[::-1], self.counts[::-1],
            self.measured[::-1], self.contours, self.row[::-1], self.smooth, self.missing,
        )  # fmt: skip

    def u_at(self, rows: NDArray[np.intp], position: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the coordinate u of places given by contour index."""
        stretch = np.minimum(position.astype(np.intp), self.u.shape[1] - 2)
        t = position - stretch
        out: NDArray[np.float64] = (1.0 - t) * self.u[rows, stretch] + t * self.u[rows, stretch + 1]
        return out

    def position(self, row: int, u: float) -> float:
        """Return the contour index of a place given by its coordinate u."""
        count = int(self.counts[row])
        return float(np.interp(u, self.u[row, :count], np.arange(count)))

    def along(self, row: int, u: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points of one contour."""
        count = int(self.counts[row])
        own, points = self.u[row, :count], self.points[row, :count]
        return points_at(points, own, u)

    def lift(self, y: NDArray[np.float64], u: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points of the facetted surface: straight lines from contour to contour."""
        cell = np.clip(np.searchsorted(self.y, y, side="right") - 1, 0, len(self) - 2)
        t = ((y - self.y[cell]) / (self.y[cell + 1] - self.y[cell]))[:, None]
        out = np.empty((len(y), 3))
        out[:, 1] = y
        for i in np.unique(cell):
            here = cell == i
            before, after = self.along(int(i), u[here]), self.along(int(i) + 1, u[here])
            out[here, ::2] = (1.0 - t[here]) * before + t[here] * after
        return out

    def tops(self, x: NDArray[np.float64]) -> LevelCuts:
        """Cut every contour at setbacks and keep the highest crossing."""
        return level_cuts(self.points, x, axis=0, take="greatest")

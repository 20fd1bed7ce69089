"""Seeded draws of measured sections: what else the same survey might have read.

Draws are made in blocks of `BLOCK`, each a scrambled Latin hypercube of its own, from a seed
that depends on the block and the station only. So memory does not grow with the number of
draws, a longer run starts with the draws of a shorter one (whole blocks), and the errors
of the whole vehicle are the same at every station.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.front.attitude import turned, untilted
from frontcheck.sure.spread import VEHICLE_ERRORS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from frontcheck.sure.uncertainty import Uncertainty
    from frontcheck.surface.section import Section

__all__ = ["BLOCK", "Input", "StationDraws"]

BLOCK: Final = 1000
"""Draws worked on at once: small enough for the processor's cache."""

_VEHICLE: Final = 0
"""Stream of the errors of the whole vehicle; station i has stream i + 1."""


@dataclass(frozen=True)
class Input:
    """One independent error of a station."""

    name: str
    u: float  # Standard uncertainty [mm] or [deg]
    row: int | None = None  # Point of the section, counted from 0, for ``height`` and ``setback``

    @property
    def of_vehicle(self) -> bool:
        """Whether the error is shared by all stations."""
        return self.name in VEHICLE_ERRORS


class StationDraws:
    """Draws of one section."""

    def __init__(
        self, section: Section, settings: Uncertainty, index: int, draws: int, seed: int
    ) -> None:
        self.section = section
        self.settings = settings
        self.draws = draws
        self.inputs = _inputs(section, settings)
        self._index, self._seed = index, seed

    def __len__(self) -> int:
        """Return the number of draws."""
        return self.draws

    def blocks(self) -> Iterator[tuple[slice, NDArray[np.float64], NDArray[np.float64]]]:
        """Make the draws, block by block."""
        for number, start in enumerate(range(0, self.draws, BLOCK)):
            size = min(BLOCK, self.draws - start)
            normals = np.empty((size, len(self.inputs)))
            shared = np.array([item.of_vehicle for item in self.inputs], dtype=bool)
            for stream, mine in ((self._index + 1, ~shared), (_VEHICLE, shared)):
                # The vehicle's stream always has the same columns, whatever a station lacks.
                normals[:, mine] = _latin_normals(size, int(mine.sum()), self._seed, number, stream)
            yield slice(start, start + size), normals, self._points(normals)

    def strayed(self, normals: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return sections with the errors of their rows only."""
        base = self.section.points
        points = np.broadcast_to(base, (len(normals), *base.shape)).copy()
        for j, item in enumerate(self.inputs):
            if item.row is not None:
                points[:, item.row, 1 if item.name == "height" else 0] += item.u * normals[:, j]
        return points

    def _points(self, normals: NDArray[np.float64]) -> NDArray[np.float64]:
        settings, points = self.settings, self.strayed(normals)
        common = {
            item.name: item.u * normals[:, j]
            for j, item in enumerate(self.inputs)
            if item.row is None
        }
        if "square tilt" in common:
            points = untilted(points, common["square tilt"])
        if "datum" in common:
            points[..., 0] += common["datum"][:, None]
        if "ground slope" in common:
            points = turned(points, common["ground slope"])
        if "pitch" in common:
            points = turned(points, common["pitch"], (settings.pitch_pivot_mm, 0.0))
        if "ride height" in common:
            points[..., 1] += common["ride height"][:, None]
        return points


def _inputs(section: Section, settings: Uncertainty) -> tuple[Input, ...]:
    """Errors of a station that are not 0, rows first."""
    n = len(section)
    heights = section.height_u if section.height_u is not None else [settings.height_u_mm] * n
    setbacks = section.setback_u if section.setback_u is not None else [settings.setback_u_mm] * n
    inputs = [
        Input(name, float(u), row)
        for row in range(n)
        for name, u in (("height", heights[row]), ("setback", setbacks[row]))
    ]
    inputs += [
        Input("datum", settings.datum_u_mm),
        Input("square tilt", settings.square_tilt_u_deg),
        Input("ground slope", settings.ground_slope_u_deg),
        Input("ride height", settings.ride_height_u_mm),
        Input("pitch", settings.pitch_u_deg),
    ]
    return tuple(item for item in inputs if item.u > 0.0)


def _latin_normals(size: int, columns: int, seed: int, *stream: int) -> NDArray[np.float64]:
    """Standard normal deviates (size, columns) from a scrambled Latin hypercube."""
    # Here and not above: the command line must start fast.
    from scipy.special import ndtri
    from scipy.stats.qmc import LatinHypercube

    if columns == 0:
        return np.empty((size, 0))
    entropy = np.random.SeedSequence(seed, spawn_key=stream)
    uniform = LatinHypercube(columns, seed=np.random.default_rng(entropy)).random(size)
    # A uniform deviate of exactly 0 would become minus infinity.
    normals: NDArray[np.float64] = ndtri(np.clip(uniform, 1e-300, 1.0 - 1e-16))
    return normals

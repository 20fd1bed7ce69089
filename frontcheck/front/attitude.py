"""Attitude of a front: what was done to bring it to its design position."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from frontcheck.serializer import one_line


@one_line
@dataclass(frozen=True)
class Attitude:
    """How a front was turned and lifted from where it was measured."""

    basis: Literal["as measured", "wheel arches", "primary reference marks"] = "as measured"
    pitch_deg: float = 0.0  # Turned by this about the pivot [deg], front up positive
    lift_mm: float = 0.0  # And then lifted by this [mm]
    pivot: tuple[float, float] = (0.0, 0.0)  # x and z of what it was turned about [mm]

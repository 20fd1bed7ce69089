"""A study: what varies and how far, how it is sampled, which lines must lie where."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck import __version__
from frontcheck.study.measuring import Setup, line_names, prefixed
from frontcheck.study.sampling import saltelli

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["SCHEMA", "Limit", "Study", "Varied"]

SCHEMA: Final = "frontcheck.sweep/1"
"""Name and version of the record that a sweep leaves beside its results."""


@dataclass(frozen=True)
class Varied:
    """One parameter that varies."""

    name: str  # Dimension of the nose, or handle of the measured front
    unit: str  # ``mm`` or ``deg``
    low: float  # Bounds, in that unit
    high: float  # Bounds, in that unit


@dataclass(frozen=True)
class Limit:
    """Where a line must lie."""

    line: str  # Number formed at every station, such as ``LBRL_z_mm``
    station: float | None  # Station [mm]; None for all of them
    at_least: float  # Limits [mm]; infinite where there is none
    at_most: float  # Limits [mm]; infinite where there is none
    probability: float | None = None

    def columns(self, stations: tuple[float, ...]) -> tuple[str, ...]:
        """Return the columns of the results table that it concerns."""
        chosen = stations if self.station is None else (self.station,)
        return tuple(prefixed(y, self.line) for y in chosen)

    @property
    def text(self) -> str:
        """The limit in words."""
        bounds = []
        if math.isfinite(self.at_least):
            bounds.append(f"at least {self.at_least:g}")
        if math.isfinite(self.at_most):
            bounds.append(f"at most {self.at_most:g}")
        where = "all stations" if self.station is None else f"y = {self.station:g} mm"
        chance = "" if self.probability is None else f" with probability {self.probability:g}"
        return f"{self.line} {' and '.join(bounds)} mm at {where}{chance}"


@dataclass(frozen=True, eq=False)
class Study:
    """One study, read and checked.

    Parameters
    ----------
    name : str
        Its name.
    setup : Setup
        Shapes, rules, distances.
    varied : tuple of Varied
        (d,) parameters that vary.
    method : str
        ``sobol``, ``latin-hypercube``, ``grid`` or ``list``.
    seed : int
        Seed of the sampling.
    sample : ndarray
        (N, d) values of the sample.
    sensitivity_samples : int
        Points in A and in B for the Sobol indices; 0 for none.
    sensitivity_of : tuple of str
        Numbers whose Sobol indices are asked for, without station.
    limits : tuple of Limit
        Where lines must lie.
    """

    name: str
    setup: Setup
    varied: tuple[Varied, ...]
    method: str
    seed: int
    sample: NDArray[np.float64]
    sensitivity_samples: int = 0
    sensitivity_of: tuple[str, ...] = ()
    limits: tuple[Limit, ...] = ()

    @property
    def values(self) -> NDArray[np.float64]:
        """Values of all variants: the sample, then those for the sensitivities, (M, d)."""
        if not self.sensitivity_samples:
            return self.sample
        low, high = [v.low for v in self.varied], [v.high for v in self.varied]
        more = saltelli(low, high, self.sensitivity_samples, self.seed)
        return np.concatenate([self.sample, more])

    @property
    def count(self) -> int:
        """Number of all variants."""
        return len(self.sample) + self.sensitivity_samples * (len(self.varied) + 2)

    @property
    def names(self) -> tuple[str, ...]:
        """Numbers formed at every station, without station."""
        return line_names(self.setup.wad)

    def record(self) -> dict[str, Any]:
        """Return all that the results depend on; limits only pick from them.

        Returns
        -------
        dict
            Plain values.
        """
        sample = np.ascontiguousarray(self.sample)
        return {
            "schema": SCHEMA,
            "frontcheck": __version__,
            "shapes": self.setup.shapes.to_dict(),
            "rule_set": {
                "id": self.setup.rules.id,
                "constants": {c.name: c.plain for c in self.setup.rules},
            },
            "wad_mm": list(self.setup.wad),
            "zones_and_findings": self.setup.across,
            "sampling": {
                "method": self.method,
                "seed": self.seed,
                "variants": len(sample),
                "sha256": hashlib.sha256(sample.tobytes()).hexdigest(),
            },
            "vary": [[v.name, v.low, v.high] for v in self.varied],
            "sensitivity": {
                "samples": self.sensitivity_samples,
            },
            "block": self.setup.block,
        }

    @property
    def digest(self) -> str:
        """Digest of `record`: the same for two studies whose results are the same."""
        text = json.dumps(self.record(), sort_keys=True, allow_nan=False)
        return hashlib.sha256(text.encode()).hexdigest()

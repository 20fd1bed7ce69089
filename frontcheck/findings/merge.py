"""One rule at many stations or grid points, told as few findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.findings.contour_places import line_region, runs, stations_text
from frontcheck.findings.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from frontcheck.findings.finding import FindingRule
    from frontcheck.lines.lined_front import LinedFront

__all__ = ["StationHit", "merged", "patches"]


@dataclass(frozen=True)
class StationHit:
    """One rule that holds at one station."""

    value: float  # What was compared, in the unit of the rule
    margin: float  # How clearly the rule holds
    start: tuple[float, float]  # Ends (x, z) of the stretch of contour concerned [mm]
    end: tuple[float, float]  # Ends (x, z) of the stretch of contour concerned [mm]
    detail: str  # Value and threshold in words


def merged(
    lined: LinedFront,
    rule: FindingRule,
    name: str,
    hits: Sequence[StationHit | None],
    says: str,
    settled_by: Callable[[float], str],
    threshold: float | None = None,
) -> list[Finding]:
    """Tell one rule once for every unbroken run of stations."""
    found = []
    for first, last in runs([hit is not None for hit in hits]):
        here = [
            (station.y, hit)
            for station, hit in zip(
                lined.stations[first : last + 1], hits[first : last + 1], strict=True
            )
            if hit is not None
        ]
        y, worst = max(here, key=lambda pair: pair[1].margin)
        ends = (worst.start,) if worst.start == worst.end else (worst.start, worst.end)
        outline = [
            (x, at, z)
            for at, hit in here
            for x, z in ((hit.start, hit.end) if len(ends) == 2 else (hit.start,))
        ]
        clearest = "here" if len(here) == 1 else f"clearest at y = {y:g} mm"
        found.append(
            Finding(
                rule,
                line_region(name, lined.front.section(y), worst.start, worst.end, outline),
                y,
                worst.value,
                f"{says} {stations_text([at for at, _ in here], lined.front)}; {clearest}: "
                f"{worst.detail}.",
                settled_by(y),
                threshold=threshold,
            )
        )
    return found


def patches(places: NDArray[np.float64], spacing: float) -> list[list[int]]:
    """Group grid points into patches of neighbours."""
    groups: list[list[int]] = []
    for i, place in enumerate(places):
        near = [
            group
            for group in groups
            if (np.abs(places[group] - place) <= 1.01 * spacing).all(axis=1).any()
        ]
        joined = sorted([i, *(k for group in near for k in group)])
        groups = [group for group in groups if group not in near]
        groups.append(joined)
    return sorted(groups)

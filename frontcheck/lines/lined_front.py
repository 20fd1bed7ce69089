"""A front with the lines of its sections: what zones and findings are made from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.geometry.tape import TautTape
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.station import station_of
from frontcheck.rules.ruleset import RuleSet, rule_set
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.front.front import Front
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section

__all__ = ["LinedFront", "TapeStart", "line_up"]

TapeStart = Literal["section", "vehicle"]

_NO_PLAN: Final = (
    "the stations have no common datum, so the foremost point of the whole front is not known"
)


@dataclass(frozen=True, eq=False)
class LinedFront:
    """A front with its reference lines, by one rule set."""

    front: Front  # The front
    rules: RuleSet  # The rule set used
    stations: tuple[Station, ...]  # Lines of every measured section
    wad: tuple[float, ...]  # Wrap-around distances asked for [mm]
    tape_start: TapeStart  # Where the tape stands

    @property
    def complete(self) -> bool:
        """Whether every line asked for could be formed at every station."""
        return not any(station.missing for station in self.stations)

    def station(self, y: float) -> Station:
        """Return the lines at one measured station."""
        for station in self.stations:
            if station.y == y:
                return station
        raise KeyError(f"no station at {y:g} mm; there are {self.front.stations}")

    def tape(self, y: float) -> TautTape:
        """Return the taut tape at one station, to read paths and other distances from."""
        station = self.station(y)
        if station.tape_x is None:
            raise KeyError(f"no tape can be hung at station {y:g} mm")
        if y not in self._tapes:
            points = self.front.section(y).points
            self._tapes[y] = TautTape(points, station.tape_x, station.tape_start)
        return self._tapes[y]

    @cached_property
    def _tapes(self) -> dict[float, TautTape]:
        """Tapes made so far: figures and findings ask for the same ones again and again."""
        return {}


def line_up(
    front: Front,
    rules: str | RuleSet,
    wad: Iterable[float] | None = None,
    *,
    tape_start: TapeStart = "section",
) -> LinedFront:
    """Form every line of every section of a front."""
    rules = rule_set(rules)
    distances = tuple(
        dict.fromkeys(float(d) for d in (rules.values("wad.distances_mm") if wad is None else wad))
    )
    for distance in distances:
        if not (np.isfinite(distance) and distance > 0.0):
            raise ValueError(f"a wrap-around distance must be a positive length, not {distance:g}")
    if tape_start not in ("section", "vehicle"):
        raise ValueError(f"tape_start must be 'section' or 'vehicle', not {tape_start!r}")
    refused = _NO_PLAN if tape_start == "vehicle" and front.datum == "local" else ""
    batch = section_lines(
        Contours.of(front.sections),
        rules,
        distances,
        tape_start="section" if refused else tape_start,
    )
    stations = []
    for i, section in enumerate(front.sections):
        station = station_of(batch, i, section.y, rules, wad_refused=refused)
        if batch.WAD.again[i].any() and not refused:
            station = _with_every_solution(station, section)
        stations.append(station)
    return LinedFront(front, rules, tuple(stations), distances, tape_start)


def _with_every_solution(station: Station, section: Section) -> Station:
    """Add the further points at the same distance, where the distance is not monotone."""
    if station.tape_x is None:
        return station
    tape = TautTape(section.points, station.tape_x, station.tape_start)
    wads = tuple(
        replace(point, also_at=tuple((p.x, p.z) for p in tape.solve(point.distance)[1:]))
        for point in station.wads
    )
    return replace(station, wads=wads)

"""What is to be said of a front and its lines beside their values: cautions, and what was taken."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION
from frontcheck.front.attitude import not_corrected
from frontcheck.lines.station import at_stations
from frontcheck.lines.statuses import OPEN_END

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station

_OURS: Final = 1500.0  # a wrap-around distance that no text names; own choice


def untold(lined: LinedFront, *, wad_given: bool) -> tuple[str, ...]:
    """Return what was taken without being told before any line was formed."""
    front, rules = lined.front, lined.rules.id
    said = [f"The vehicle is taken to be in the scope of {rules}; a shape cannot settle that."]
    if front.attitude.basis == "as measured" and front.survey.arches is None:
        said.append("The front is taken to stand in normal ride attitude as it was measured.")
    if not wad_given and _OURS in lined.wad:
        said.append(f"WAD {_OURS:g} is asked for beside those of the text: own choice.")
    return tuple(said)


def said_of_lines(lined: LinedFront) -> tuple[str, ...]:
    """Return what to keep in mind of a front and its lines."""
    front = lined.front
    cautions = [CAUTION, *front.reader_cautions]
    if front.drawn:
        cautions.append(front.drawn)
    if front.datum == "local":
        cautions.append(
            "Setbacks are from a datum set anew at each station (datum: local): sections may be "
            "read one by one, and nothing that needs the plan shape is given."
        )
    uncorrected = not_corrected(front)
    if uncorrected:
        cautions.append(uncorrected)
    cautions += filter(None, [front.not_seen])
    open_ends: dict[str, list[float]] = {}
    for station in lined.stations:
        for line in station.lines:
            if line.status == OPEN_END:
                open_ends.setdefault(line.name, []).append(station.y)
    if open_ends:
        every = [station.y for station in lined.stations]
        where = "; ".join(f"{name} {at_stations(ys, every)}" for name, ys in open_ends.items())
        cautions.append(f"What lies beyond the measured surface may move (open end): {where}.")
    return tuple(cautions)


def missing_said(stations: Sequence[Station]) -> list[str]:
    """Return what could not be formed, said once for all stations that share it."""
    where: dict[str, list[float]] = {}
    for station in stations:
        for text in station.missing:
            where.setdefault(text, []).append(station.y)
    every = [station.y for station in stations]
    told = ((*text.split(": ", 1), at_stations(ys, every)) for text, ys in where.items())
    return [f"{name} {place}: {reason}" for name, reason, place in told]

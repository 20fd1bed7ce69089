"""In how many of 100 assumed cases a finding holds: the same measurement with other errors.

Each case is one draw of the uncertainty stated, of all sections at once. Findings that rest on the
sections alone, those of leg and body, are looked for in it again; the bumper test area stays where
it is. Those of heads, areas and gaps need the whole surface: nothing is claimed of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError, refuse
from frontcheck.findings.body import edge_hits
from frontcheck.findings.finding_rules import BODY_RULES, LEG_RULES, WORDS
from frontcheck.findings.leg_findings import aimed_hits
from frontcheck.lines.lined_front import LinedFront
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.station import station_of
from frontcheck.people.people import CHILD
from frontcheck.serializer import one_line
from frontcheck.sure.draws import station_draws
from frontcheck.sure.intervals import vehicle_tape
from frontcheck.sure.shares import ROBUST_CASES
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from frontcheck.findings.finding_settings import FindingSettings
    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.sure.draws import StationDraws
    from frontcheck.sure.uncertainty import Uncertainty
    from frontcheck.zones.front_zones import BumperArea

CASES: Final = ROBUST_CASES
"""Cases assumed, each a draw."""


@one_line
@dataclass(frozen=True)
class AssumedCases:
    """What cases are drawn with."""

    uncertainty: Uncertainty  # Of what the rows do not state themselves
    seed: int  # The same seed gives the same cases

    @classmethod
    def of(cls, lined: LinedFront, uncertainty: Uncertainty, seed: int) -> AssumedCases:
        """Return them where a front can have any."""
        surveys = station_draws(lined.front, uncertainty, CASES, seed)
        if not any(survey.inputs for survey in surveys):
            raise refuse("draws.no_uncertainty")
        if lined.tape_start == "vehicle" and lined.front.datum == "local":
            raise refuse("draws.tape")
        return cls(uncertainty, seed)


def in_100(count: int) -> int:
    """Return a count of the cases as one of 100: all 100 only where it holds in all."""
    return 100 * count // CASES


def held_again(
    lined: LinedFront,
    wanted: Mapping[str, Collection[float]],
    cases: AssumedCases,
    settings: FindingSettings,
    area: BumperArea | None,
) -> dict[str, Mask]:
    """Say by code in which cases it holds again, at half of the stations wanted at least."""
    surveys = station_draws(lined.front, cases.uncertainty, CASES, cases.seed)
    tape_x = vehicle_tape(surveys, lined.rules) if lined.tape_start == "vehicle" else None
    codes = [code for code in wanted if code in LEG_RULES or code in BODY_RULES]
    places = {code: np.zeros(CASES, dtype=np.intp) for code in codes}
    # Of the child alone no line is told: somewhere it has to hold for somebody else.
    others = {code: np.zeros(CASES, dtype=bool) for code in codes}
    for survey in surveys:
        here = {code for code in codes if survey.section.y in wanted[code]}
        drawn = _drawn(survey, lined, tape_x) if here else ()
        for k, own in enumerate(drawn):
            for code, adult in _held(own, here, settings, area).items():
                places[code][k] += 1
                others[code][k] |= adult
    # Half: own choice, for a run of stations a little shorter says the same.
    return {code: (2 * places[code] >= len(wanted[code])) & others[code] for code in codes}


def _drawn(
    survey: StationDraws, lined: LinedFront, tape_x: Array | None
) -> Iterator[LinedFront | None]:
    """One station in every case; None where the contour crosses itself, as no surface does."""
    base = survey.section
    for at, _, points in survey.blocks():
        standing = None if tape_x is None else tape_x[at]
        contours = Contours.copies(base, points)
        batch = section_lines(contours, lined.rules, lined.wad, tape_x=standing)
        for k, drawn in enumerate(points):
            try:
                section = replace(base, points=drawn)
            except ContourError:
                yield None
                continue
            station = station_of(batch, k, base.y, lined.rules)
            front = replace(lined.front, sections=(section,))
            yield LinedFront(
                front, lined.rules, (station,), lined.wad, lined.tape_start, batch=batch
            )


def _held(
    lined: LinedFront | None,
    wanted: Collection[str],
    settings: FindingSettings,
    area: BumperArea | None,
) -> dict[str, bool]:
    """What of the codes wanted holds at the one station, and whether for others than the child."""
    if lined is None:
        return {}
    (station,), people = lined.stations, settings.people
    found = aimed_hits(lined, station, people, settings.leg, area, wanted)
    if any(code in BODY_RULES for code in wanted):
        found += edge_hits(lined.front, station, people)
    held: dict[str, bool] = {}
    for hit in found:
        # What an open end could change is not known to hold.
        sure = set(WORDS[hit.rule.code].get("lines", ())).isdisjoint(station.open_ends)
        if hit.rule.code in wanted and sure:
            held[hit.rule.code] = held.get(hit.rule.code, False) or hit.person != CHILD.name
    return held

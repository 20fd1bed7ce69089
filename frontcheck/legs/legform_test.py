"""Which legform a test would use at a station, and how the upper one would meet the front."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.foundation import loads_between
from frontcheck.people.impactors import UPPER_LEGFORM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.lines.station import Station
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section


@dataclass(frozen=True)
class UpperCase:
    """The face of the upper legform against one section: geometry only."""

    aim: float  # Middle of the face above ground [mm]
    low: float  # Lower end of the face [mm]
    high: float  # Upper end of the face [mm]
    bumper_overlap: float  # How much of the face is as high as the bumper, LBRL to UBRL [mm]
    edge_overlap: float | None  # How much is as high as UBRL to BLERL [mm]; None where not known
    edge_below_top: float | None  # How far BLERL is below the upper end [mm], negative above it
    load_height: tuple[float, ...]  # Where the load on the face acts, by depth [mm]


def lower_refusal(station: Station, rules: RuleSet) -> str:
    """Why the lower legform is not flown there; empty where a test may use it."""
    if station.legform is None:
        return f"which legform a test would use is not known: {_unknown(station)}"
    if station.legform != "upper":
        return ""
    return (
        f"the lower legform does not apply: the lower bumper height, "
        f"{station.lower_bumper_height:.0f} mm, is not below {_limit('upper_from_mm', rules)}; a "
        "test would use the upper legform"
    )


def choice_note(station: Station, rules: RuleSet) -> str:
    """Say that both legforms are possible, where they are."""
    if station.legform != "either":
        return ""
    return (
        f"either legform is possible, by the manufacturer's choice: the lower bumper height, "
        f"{station.lower_bumper_height:.0f} mm, is not below {_limit('lower_below_mm', rules)} but "
        f"below {rules.value('legform.upper_from_mm'):g} mm"
    )


def upper_case(section: Section, station: Station, depths: Sequence[float]) -> UpperCase:
    """Put the face of the upper legform before one section."""
    bottom, top, edge = station.LBRL.z, station.UBRL.z, station.BLERL.z
    if bottom is None or top is None:
        raise NotAvailableError("it is aimed half-way between LBRL and UBRL, which are not known")
    aim = 0.5 * (bottom + top)
    low, high = aim - 0.5 * UPPER_LEGFORM.face_mm, aim + 0.5 * UPPER_LEGFORM.face_mm
    (load,), (moment,) = loads_between(
        silhouette_of(section, low, high), np.asarray(depths, dtype=np.float64), (low, high)
    )
    return UpperCase(
        aim,
        low,
        high,
        max(0.0, min(high, top) - max(low, bottom)),
        None if edge is None else max(0.0, min(high, edge) - max(low, top)),
        None if edge is None else high - edge,
        tuple((moment / load).tolist()),
    )


def _unknown(station: Station) -> str:
    return station.LBRL.reason or f"LBRL has the status {station.LBRL.status}"


def _limit(name: str, rules: RuleSet) -> str:
    constant = rules[f"legform.{name}"]
    place = f", {constant.paragraph}" if constant.paragraph else f", {constant.provenance}"
    return f"{rules.value(constant.name):g} mm ({rules.title}{place})"

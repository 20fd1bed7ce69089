"""How a front meets one person who stands upright: where first, where next, what stays free.

From the contour alone, whatever its stiffness. A legform is no person: it stands apart.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import seen_by, silhouette_of, touch_of
from frontcheck.legs.foundation import contact_bands, foundation_load
from frontcheck.legs.legform_test import lower_refusal
from frontcheck.lines.statuses import OPEN_END
from frontcheck.people.impactors import legform_of
from frontcheck.serializer import one_line
from frontcheck.surface.face import recesses

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array
    from frontcheck.legs.contact import FirstTouch
    from frontcheck.legs.foundation import FoundationLoad
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.impactors import Legform
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section


_LATEST_MM: Final = 250.0
"""What comes later than this meets nobody who still stands upright: own choice, the first touch
moves a leg in less than the time that takes [mm]."""
_REACH_MM: Final = 60.0
"""What is this far behind the first touch still holds the leg: own choice, as in the leg models."""


@dataclass(frozen=True)
class KneeBand:
    """One knee against the band from LBRL to UBRL."""

    knee: float  # Height of the knee [mm]
    low: float  # Height of LBRL [mm]
    high: float  # Height of UBRL [mm]
    place: Literal["below", "inside", "above"]  # Where the knee is


@one_line
@dataclass(frozen=True)
class PersonLeg:
    """How the front meets one person: from the contour, whatever lies behind it."""

    first: FirstTouch
    second: FirstTouch | None  # Next touch apart from the first; None where touch only spreads
    later_mm: float | None  # Way from the first touch to that [mm]
    # Stretches from sole to hip that nothing touches, the front having gone on by `reach_mm` [mm]
    free_mm: tuple[tuple[float, float], ...]
    reach_mm: float


def person_leg(section: Section, person: Person, reach: float = _REACH_MM) -> PersonLeg:
    """Return where a front meets a person first and second, and what of the leg stays free."""
    seen, hip = seen_by(section, person), person.hip.known()
    first = touch_of(seen, person)
    # A hollow parts two touches, unless what is foremost beyond it is its own bottom: then the
    # touch only spreads.
    points = seen.points
    ends = [seen.low, *(float(points[i, 1]) for i, _ in recesses(points)), seen.high]
    later = []
    for bottom, top in pairwise(ends):
        piece = seen.cut(bottom, top)
        not_apart = seen.first_touch, (bottom, bottom), (top, top)
        if len(piece.z) and piece.first_touch not in not_apart:
            at = touch_of(piece, person)
            if at.x - first.x <= _LATEST_MM:
                later.append(at)
    second = min(later, key=_setback, default=None)
    held = [(low, min(high, hip)) for low, high in contact_bands(seen, reach) if low < hip]
    ends = [0.0, *(end for band in held for end in band), hip]
    return PersonLeg(
        first,
        second,
        None if second is None else second.x - first.x,
        tuple((low, high) for low, high in zip(ends[::2], ends[1::2], strict=True) if low < high),
        reach,
    )


def _setback(touch: FirstTouch) -> float:
    return touch.x


def knee_band(station: Station, person: Person) -> KneeBand | None:
    """Return how a knee stands to the face from LBRL to UBRL; None where one is not known."""
    low, high = station.LBRL, station.UBRL
    if low.z is None or high.z is None or OPEN_END in (low.status, high.status):
        return None
    bottom, top = sorted((low.z, high.z))
    knee = person.knee.known()
    return KneeBand(
        knee, low.z, high.z, "below" if knee < bottom else "above" if knee > top else "inside"
    )


_DEPTHS: Final = np.linspace(1.0, 120.0, 239)
"""Depths of the curves [mm]."""


@one_line
@dataclass(frozen=True, eq=False)
class LegLoad:
    """One person beside one station with the front pushed in, and the legform apart: a figure."""

    met: PersonLeg
    overlaps: tuple[Array, ...]  # Outlines (k, 2) of what overlaps, from below [mm]
    here: FoundationLoad  # At one depth
    curve: FoundationLoad  # Over depth
    legform: Legform  # The lower one of the rule set
    refused: str  # Why a test does not use it there; empty where it may
    legform_touch: tuple[float, float] | None  # Where it is touched first (x, z) [mm]
    legform_bands: tuple[tuple[float, float], ...]  # What is touched at that depth [mm]


def leg_load(lined: LinedFront, y: float, person: Person, depth: float) -> LegLoad:
    """Push one station into one person, and into the legform of the rule set."""
    section, knee = lined.front.section(y), person.knee.known()
    legform, met = legform_of(lined.rules), person_leg(section, person)
    seen, touch = seen_by(section, person), met.first.x
    here = foundation_load(seen, depth, knee)
    overlaps = []
    for low, high in here.bands[0]:
        part = seen.cut(low, high)
        edge = np.stack([np.minimum(part.x.ravel() - depth, touch), part.z.ravel()], axis=1)
        overlaps.append(np.concatenate([edge, [(touch, high), (touch, low)]]))
    refused = lower_refusal(lined.station(y), lined.rules)
    first: tuple[float, float] | None = None
    bands: tuple[tuple[float, float], ...] = ()
    with suppress(NotAvailableError):
        if not refused:
            faced = silhouette_of(section, legform.low_mm, legform.high_mm)
            first, bands = faced.foremost, contact_bands(faced, depth)
    curve = foundation_load(seen, _DEPTHS, knee)
    return LegLoad(met, tuple(overlaps), here, curve, legform, refused, first, bands)

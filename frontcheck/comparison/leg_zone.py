"""What both fronts show an upright leg at one station, side by side."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.comparison.changes import Change, change_of
from frontcheck.errors import ContourError, NotAvailableError, refuse
from frontcheck.legs.contact import FirstTouch, FrontContact, first_touch, front_contact
from frontcheck.lines.rear import RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.station import station_of
from frontcheck.serializer import one_line
from frontcheck.sure.draws import (  # fmt: skip
    LEAST_DRAWS,
    StationDraws,
    open_ended,
    quantities,
    quantity_names,
    station_draws,
    status_codes,
)
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.comparison.changes import Origins
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import LinedFront, Matched, Side
    from frontcheck.people.people import Person
    from frontcheck.rules.ruleset import RuleSet

UNDERCUT: Final = "lip_behind_bumper_mm"
"""Setback of the lower lip behind the bumper: the less, the better the shin is supported."""

_MEMBERS: Final = ("lower lip", "bumper", "leading edge")


@one_line
@dataclass(frozen=True)
class PersonTouch:
    """Where either front first touches one person's leg."""

    person: str  # Reference person
    knee_mm: float  # Height of the knee [mm]
    a: FirstTouch | None  # First touch by A
    b: FirstTouch | None  # First touch by B

    @property
    def moved_on_leg(self) -> bool:
        """Whether B first touches another part of the leg than A."""
        return (self.a and self.a.place) != (self.b and self.b.place)


@one_line
@dataclass(frozen=True)
class LegZone:
    """What both fronts show an upright leg at one station."""

    a: FrontContact  # Lower lip, bumper and leading edge, in contact order; setbacks as measured
    b: FrontContact  # Lower lip, bumper and leading edge, in contact order; setbacks as measured
    changes: tuple[Change, ...]
    people: tuple[PersonTouch, ...]  # First touch for every person chosen


def leg_zone(
    matched: Matched, rules: RuleSet, people: Sequence[Person], origins: Origins
) -> LegZone:
    """Return what both fronts show an upright leg at one station."""
    a = front_contact(matched.a.section, matched.a.station, rules)
    b = front_contact(matched.b.section, matched.b.station, rules)
    changes: list[Change] = []
    for name in _MEMBERS:
        one, two = a.member(name), b.member(name)
        stem, why = name.replace(" ", "_"), ("its reference line is missing",) * 2
        for axis, words in (("x", "x"), ("z", "z"), ("closing_mm", "closing distance")):
            values = (None if each is None else getattr(each, axis) for each in (one, two))
            quantity = f"{stem}_{axis.removesuffix('_mm')}_mm"
            counted = origins if axis == "x" else None
            said = f"{words} of the {name}"
            changes.append(change_of(quantity, said, *values, missing=why, origins=counted))
    why = ("lower lip or bumper is missing",) * 2
    words = "setback of the lower lip behind the bumper"
    changes.append(change_of(UNDERCUT, words, a.undercut_mm, b.undercut_mm, missing=why))
    sides = (matched.a, matched.b)
    touches = tuple(
        PersonTouch(person.name, person.knee.known(), *(_first(side, person) for side in sides))
        for person in people
    )
    return LegZone(a, b, tuple(changes), touches)


def _first(side: Side, person: Person) -> FirstTouch | None:
    with suppress(NotAvailableError):
        return first_touch(side.section, person)
    return None


# With draws: how likely B is lower, shorter or its lip less far behind than in A.
#
# A and B were measured independently, so every draw of A is held against every draw of B: with
# n draws each, the share of the n x n pairs in which B is less. That needs no more than the
# two sorted lists (it is the statistic of H. B. Mann and D. R. Whitney, On a test of whether one of
# two random variables is stochastically larger than the other, Annals of Mathematical Statistics
# 18 (1), 50-60, 1947, from memory), its noise is smaller than that of n pairs, and A against B is
# exactly the opposite of B against A.
#
# The draws are those of `frontcheck.sure` for the same seed.

SUPPORT_DRAWS: Final = 500
"""Draws used for the setback of the lip behind the bumper at most: each is worked on alone."""

_NAMED: Final = (
    ("bonnet leading edge lower", "BLERL_z_mm"),
    ("upper bumper height lower", "UBRL_z_mm"),
    ("lower bumper height lower", "LBRL_z_mm"),
    ("shorter bumper lead", "bumper_lead_mm"),
    ("lower lip less far behind the bumper", UNDERCUT),
)


@dataclass(frozen=True)
class Chance:
    """How likely a quantity is less, or more, in B than in A."""

    u: float | None  # Standard uncertainty of the change [unit of the quantity]
    less: float  # Probability that it is less
    more: float  # Probability that it is more


Drawn = dict[str, "Array"]
"""Drawn values by quantity; draws in which it is not known are NaN."""


def chance(a: Array, b: Array) -> Chance:
    """Hold every draw of A against every draw of B."""
    one, two = np.sort(a[~np.isnan(a)]), np.sort(b[~np.isnan(b)])
    if len(one) == 0 or len(two) == 0:
        return Chance(None, 0.0, 0.0)
    pairs = len(a) * len(b)
    # For every draw of A: how many draws of B are less, and how many more.
    less = int(np.searchsorted(two, one, side="left").sum())
    more = int((len(two) - np.searchsorted(two, one, side="right")).sum())
    u = float(np.sqrt(one.var() + two.var()))
    return Chance(u, less / pairs, more / pairs)


def drawn_stations(
    lined: LinedFront, draws: int, seed: int, settings: Uncertainty | None = None
) -> dict[float, Drawn]:
    """Draw every measured station of a front, and form its quantities."""
    settings = Uncertainty.of(lined.front) if settings is None else settings
    surveys = station_draws(lined.front, settings, draws, seed)
    if lined.tape_start != "section":
        raise refuse("compare.tape")
    return {survey.section.y: _drawn(survey, lined, i) for i, survey in enumerate(surveys)}


def unsure(lined: LinedFront, settings: Uncertainty | None = None) -> bool:
    """Return whether anything of a front has an uncertainty."""
    settings = Uncertainty.of(lined.front) if settings is None else settings
    return any(draws.inputs for draws in station_draws(lined.front, settings, LEAST_DRAWS, 0))


def _drawn(survey: StationDraws, lined: LinedFront, i: int) -> Drawn:
    rear = RuledRear.of(lined.batch, i, Contours.of([survey.section]), lined.rules)
    names = quantity_names(lined.wad)
    values = np.empty((len(names), len(survey)))
    support = np.full(min(len(survey), SUPPORT_DRAWS), np.nan)
    for at, _, points in survey.blocks():
        contours = Contours.copies(survey.section, points)
        batch = rear.on(section_lines(contours, lined.rules, lined.wad), contours, lined.rules)
        block, formed = quantities(batch)
        known = formed & ~open_ended(status_codes(batch))
        values[:, at] = np.where(known, block, np.nan)
        for k in range(at.start, min(at.stop, len(support))):
            try:
                section = Section(points[k - at.start], survey.section.y, survey.section.parts)
            except ContourError:
                continue  # it crosses itself: no surface looks like that, and it shows nothing
            station = station_of(batch, k - at.start, section.y, lined.rules)
            undercut = front_contact(section, station, lined.rules).undercut_mm
            support[k] = np.nan if undercut is None else undercut
    return dict(zip(names, values, strict=True)) | {UNDERCUT: support}


def named_chances(chances: Mapping[str, Chance]) -> tuple[tuple[str, str, float], ...]:
    """Return what is asked first: whether B is lower, shorter, its lip less far behind."""
    return tuple((words, name, chances[name].less) for words, name in _NAMED if name in chances)

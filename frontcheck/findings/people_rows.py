"""Who meets what: where the leg is met, the knee against the face, the edge against the middle."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

from frontcheck.body.edge_height import edge_to_middle
from frontcheck.body.person_motion import KINDS
from frontcheck.errors import NotAvailableError
from frontcheck.legs.person_leg import knee_band, person_leg
from frontcheck.people.people import CHILD, PEOPLE
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.body.edge_height import Against
    from frontcheck.body.motion import MotionStudy
    from frontcheck.body.person_motion import PersonMotion
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person

Knee = Literal["below", "in", "above the face"]
Met = Literal["shin", "knee", "thigh", "hip or trunk", "none"]

PLAIN_NAMES: Final = MappingProxyType(
    {
        "woman p5": "small woman",
        "woman p50": "average woman",
        "man p50": "average man",
        "man p95": "tall man",
        CHILD.name: CHILD.name,
    }
)
"""The people of the answer, in its order; the other reference people stand between them."""
_KNEE: Final[dict[str, Knee]] = {"below": "below", "inside": "in", "above": "above the face"}


@one_line
@dataclass(frozen=True)
class PersonRow:
    """What the front meets first on one person, and where its edge stands to the middle."""

    person: str  # In plain words, such as ``small woman (p5)``
    first_touch: Met
    first_touch_mm: float | None  # Its height [mm]
    second_touch: Met  # The next one apart from it; none where touch only spreads
    second_touch_mm: float | None  # Its height [mm]
    second_later_mm: float | None  # How far behind the first it stands [mm]
    # Stretches from sole to hip that nothing touches until 60 mm beyond the first touch [mm]
    free_mm: tuple[tuple[float, float], ...]
    knee: Knee | None  # Against the face from LBRL to UBRL; None where one is not known
    edge_against_centre_of_mass: Against | None  # Of BLERL; None where it is not known
    edge_mm: float | None = None  # Height of BLERL [mm]
    band_mm: tuple[float, float] | None = None  # Of the centre of mass, widened [mm]
    heights: str = ""  # Of the person, in words
    given: bool = False  # Whether a stature was given, and this is none of the reference people
    motion: PersonMotion | None = None  # Where the motion model was asked and says something


def names_of(names: Iterable[str]) -> str:
    """Return people in plain words, each once; three adults or more in a row by their ends."""
    named, known = list(dict.fromkeys(names)), {person.name for person in PEOPLE}
    adults = [name for name in PLAIN_NAMES if name != CHILD.name]
    plain = [PLAIN_NAMES[name] for name in adults if name in named]
    places = [i for i, name in enumerate(adults) if name in named]
    if len(plain) == len(adults):
        plain = ["all adults"]
    elif len(plain) > 2 and places[-1] - places[0] == len(plain) - 1:
        plain = [f"{plain[0]} to {plain[-1]}"]
    plain += [CHILD.name] if CHILD.name in named else []
    return ", ".join([*plain, *(name for name in named if name not in known)])


def plain_person(name: str) -> str:
    """Return a person in plain words, with the percentile: ``small woman (p5)``."""
    plain = PLAIN_NAMES.get(name, name)
    return plain if plain == name else f"{plain} ({name.rsplit(maxsplit=1)[-1]})"


def kind_of(one: PersonMotion) -> str:
    """Return what becomes of a person who is struck, with its share of the cases."""
    if one.refused:
        return "not said"
    for share, kind in KINDS.items():
        if one.kind == kind:
            return f"{kind} in {percent(one.shares[share])}"
    most = max(KINDS, key=lambda name: one.shares[name])
    return f"undecided, {most} in {percent(one.shares[most])}"


def head_part(one: PersonMotion) -> str:
    """Return the part of the front that most heads touch, with its share if not all do."""
    if one.part is None or one.parts is None:
        return one.part or ""
    share = one.parts[one.part]
    return one.part if share == 1.0 else f"{one.part} {percent(share)}"


def percent(share: float) -> str:
    """Return a share of cases in words."""
    return f"{100.0 * share:.0f} %"


def shown_people(people: Sequence[Person]) -> list[Person]:
    """Return the people of the answer: its five of the reference people, and whoever is not one."""
    order = list(PLAIN_NAMES)
    ours = sorted((p for p in people if p.name in order), key=lambda p: order.index(p.name))
    known = {person.name for person in PEOPLE}
    return ours + [person for person in people if person.name not in known]


def person_rows(
    lined: LinedFront, people: Sequence[Person], motion: MotionStudy | None = None
) -> tuple[PersonRow, ...]:
    """Return a row a person at the station nearest the centre plane."""
    station = min(lined.stations, key=lambda s: (abs(s.y), s.y))
    struck = {} if motion is None else {p.person: p for p in motion.people if not p.refused}
    return tuple(
        _row(lined, station, person, struck.get(person.name)) for person in shown_people(people)
    )


def _row(
    lined: LinedFront, station: Station, person: Person, motion: PersonMotion | None
) -> PersonRow:
    leg = None
    with suppress(NotAvailableError):
        leg = person_leg(lined.front.section(station.y), person)
    first, second = (None, None) if leg is None else (leg.first, leg.second)
    edge = edge_to_middle(lined.front, station, person)
    band = knee_band(station, person)
    return PersonRow(
        person=plain_person(person.name),
        first_touch="none" if first is None else first.place,
        first_touch_mm=None if first is None else first.z,
        second_touch="none" if second is None else second.place,
        second_touch_mm=None if second is None else second.z,
        second_later_mm=None if leg is None else leg.later_mm,
        free_mm=() if leg is None else leg.free_mm,
        knee=None if band is None else _KNEE[band.place],
        edge_against_centre_of_mass=None if edge is None else edge.against,
        edge_mm=None if edge is None else edge.edge_mm,
        band_mm=None if edge is None else edge.band_mm,
        heights=person.words,
        given=person.name not in {known.name for known in PEOPLE},
        motion=motion,
    )

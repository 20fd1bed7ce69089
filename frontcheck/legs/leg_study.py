"""What one front, or two under the same assumptions, do to an upright leg, at chosen stations.

Stiffness not known: two shapes may be ranked under the same assumptions; no value is to be held
against a limit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

from frontcheck.caution import CAUTION, LEG_CAUTION
from frontcheck.errors import NotAvailableError
from frontcheck.front.front import drawn_or_unseen
from frontcheck.legs.contact import front_contact, seen_by, silhouette_of
from frontcheck.legs.dynamics import RunSettings, run_legform
from frontcheck.legs.faced import face_of, lip_heights
from frontcheck.legs.foundation import foundation_load, knee_response
from frontcheck.legs.leg_document import LegDocument
from frontcheck.legs.leg_order import DRAWS, FACTOR, compared
from frontcheck.legs.legform_test import choice_note, lower_refusal, upper_case
from frontcheck.legs.person_leg import knee_band, person_leg
from frontcheck.lines.lined_front import chosen_stations, short_names
from frontcheck.lines.statuses import NOT_KNOWN
from frontcheck.people.impactors import legform_of
from frontcheck.serializer import one_line, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.legs.contact import FrontContact
    from frontcheck.legs.dynamics import LegRun
    from frontcheck.legs.foundation import FoundationLoad, KneeResponse
    from frontcheck.legs.leg_order import Order
    from frontcheck.legs.legform_test import UpperCase
    from frontcheck.legs.person_leg import KneeBand, PersonLeg
    from frontcheck.lines.lined_front import LinedFront, Side
    from frontcheck.lines.station import Station
    from frontcheck.people.impactors import Legform
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section

T = TypeVar("T")

DEPTHS: Final = (20.0, 60.0, 100.0)
"""Depths told [mm] when none are asked for."""


@one_line
@dataclass(frozen=True, eq=False)
class LegAt:
    """One front at one station."""

    name: str  # What to call the front
    lined: LinedFront  # The front cut down to this station
    basis: Literal["measured", "cut", "interpolated"]  # Whether the section was measured there
    contact: FrontContact  # What it shows an upright leg, in contact order
    band: KneeBand | None  # Knee against bumper; None where LBRL or UBRL is not known
    met: PersonLeg | None  # How it meets the person; None where nothing is there
    load: FoundationLoad | None  # Load of the person over depth; None likewise
    response: KneeResponse | None  # Opening rate of the legform over depth
    lower_refusal: str  # Why the lower legform is not flown; empty where it is
    choice: str  # That either legform is possible; empty where it is not
    run: LegRun | None  # The lower legform over time; None where refused, or nothing is there
    upper: UpperCase | None  # The upper legform; None where a test would not use it
    idle_parts: tuple[str, ...]
    missing: tuple[str, ...]  # What could not be formed, and why

    @property
    def section(self) -> Section:
        """The section."""
        return self.lined.front.sections[0]

    @property
    def station(self) -> Station:
        """Its lines."""
        return self.lined.stations[0]


@one_line
@dataclass(frozen=True, eq=False)
class LegStation:
    """One station."""

    y: float  # Station [mm]
    fronts: tuple[LegAt, ...]  # One front or two
    order: Order | None  # Which of two opens the knee of the lower legform less
    no_order: str  # Why there is none; empty where there is, and of one front


@one_line
@dataclass(frozen=True, eq=False)
class LegStudy:
    """One front, or two under the same assumptions, at chosen stations.

    Parameters
    ----------
    fronts : tuple of LinedFront
        The fronts with their lines.
    names : tuple of str
        What to call them.
    person : Person
        Whose leg.
    depths : tuple of float
        Depths of the load [mm].
    settings : RunSettings
        Assumptions of the runs.
    stations : tuple of LegStation
        The stations asked for.
    notes : tuple of str
        What was interpolated or left out.
    draws : int
        How many cases of stiffness two fronts are compared in.
    seed : int
        Of the draws.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> study = fc.leg([result], fc.PEOPLE[0])
    >>> study.stations[0].y, study.complete
    (0.0, True)
    """

    fronts: tuple[LinedFront, ...]
    names: tuple[str, ...]
    person: Person
    depths: tuple[float, ...]
    settings: RunSettings
    stations: tuple[LegStation, ...]
    notes: tuple[str, ...]
    draws: int
    seed: int

    @property
    def legform(self) -> Legform:
        """Which lower legform flew, by the rule set."""
        return legform_of(self.fronts[0].rules)

    @property
    def legform_words(self) -> str:
        """Which legform, how sure its data are, and what is assumed, in words."""
        form, two = self.legform, len(self.fronts) == 2
        drawn = (
            f"; {self.draws} draws, the stiffness of every part by itself from {1 / FACTOR:g} to "
            f"{FACTOR:g} times that" if two else ""
        )  # fmt: skip
        return (
            f"Lower legform: {form.name}, data {form.provenance}, foot {form.low_mm:g} mm and knee "
            f"{form.knee_height_mm:g} mm high. Assumed: {self.settings.words}{drawn}"
        )

    @property
    def complete(self) -> bool:
        """Whether everything could be formed, and every run is in balance and ran to its end."""
        return not any(at.missing for station in self.stations for at in station.fronts)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What is said with every value: stiffness first."""
        said = drawn_or_unseen(lined.front for lined in self.fronts)
        return LEG_CAUTION, CAUTION, *filter(None, [*said, self.fronts[0].rules.caution])

    def to_dict(self) -> dict[str, Any]:
        """Return the leg document ``frontcheck.leg/2`` as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(LegDocument, self)


def leg_study(
    fronts: Sequence[LinedFront],
    person: Person,
    stations: Sequence[float] = (),
    *,
    depths: Sequence[float] = DEPTHS,
    settings: RunSettings | None = None,
    draws: int = DRAWS,
    seed: int = 0,
) -> LegStudy:
    """Bring one front or two against an upright leg at chosen stations.

    Parameters
    ----------
    fronts : sequence of LinedFront
        One or two fronts with their lines, by the same rule set.
    person : Person
        Whose leg.
    stations : sequence of float, optional
        Stations [mm]; the one nearest the centre when none are given. Where one of two fronts
        was not measured it is cut from its mesh, or interpolated. A front with mirror symmetry
        has both its sides.
    depths : sequence of float, optional
        Depths of the load [mm].
    settings : RunSettings, optional
        Assumptions of the runs; the defaults when not given.
    draws : int, optional
        In how many cases of stiffness, drawn part by part, two fronts are compared.
    seed : int, optional
        Of the draws: the same seed gives the same result.

    Returns
    -------
    LegStudy
        The study.

    Raises
    ------
    InputError
        If a station is not to be had, or two fronts have none in common.
    ValueError
        If there are not one or two fronts, or a depth is not positive.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> study = fc.leg([fc.screen(front) for front in fronts], fc.PEOPLE[0])
    >>> order = study.stations[0].order
    >>> order.draws, order.status
    (200, 'depends')
    """
    if len(fronts) not in (1, 2):
        raise ValueError(f"one front or two, not {len(fronts)}")
    settings = RunSettings() if settings is None else settings
    names = short_names(fronts)
    chosen, notes = chosen_stations(fronts, stations)
    made = []
    for y, sides in chosen.items():
        everyone = tuple(
            _at(name, lined, side, person, tuple(depths), settings)
            for name, lined, side in zip(names, fronts, sides, strict=True)
        )
        reasons = [(at.name, at.lower_refusal or "it did not fly") for at in everyone if not at.run]
        refused = "; ".join(f"{name}: {reason}" for name, reason in reasons)
        order = None if refused else _order(everyone, settings, draws, seed)
        made.append(LegStation(y, everyone, order, refused if len(everyone) == 2 else ""))
    return LegStudy(
        tuple(fronts), names, person, tuple(depths), settings, tuple(made), notes, draws, seed
    )


def _at(
    name: str,
    lined: LinedFront,
    side: Side,
    person: Person,
    depths: tuple[float, ...],
    settings: RunSettings,
) -> LegAt:
    section, station = side.section, side.station
    missing = [text for text in station.missing if text.split(":")[0] in ("LBRL", "UBRL", "BLERL")]

    def or_missing(what: str, work: Callable[[], T]) -> T | None:
        try:
            return work()
        except NotAvailableError as error:
            missing.append(f"{what}: {error}")
            return None

    open_ends = [name for name in ("LBRL", "UBRL") if name in station.open_ends]
    if open_ends:
        missing.append(f"knee and bumper: {NOT_KNOWN} of {' and '.join(open_ends)}")
    knee = person.knee.known()
    met = or_missing(f"leg of {person.name}", lambda: person_leg(section, person))
    load = None
    if met is not None:
        load = foundation_load(seen_by(section, person), depths, knee)
    legform, refusal = legform_of(lined.rules), lower_refusal(station, lined.rules)
    run = response = upper = None
    if not refusal:
        run = or_missing(legform.name, lambda: run_legform(section, settings, legform))
    if run is not None:
        response = knee_response(section, depths, legform)
        if not run.opening_reached:
            ended = run.reason or f"the run ends after {run.time[-1]:g} ms"
            missing.append(f"opening of the knee is not known: {ended}")
    if station.legform in ("either", "upper"):
        upper = or_missing("upper legform", lambda: upper_case(section, station, depths))
    return LegAt(
        name=name,
        lined=replace(
            lined,
            front=replace(lined.front, sections=(section,), symmetric=False),
            stations=(station,),
        ),
        basis=side.basis,
        contact=front_contact(section, station, lined.rules),
        band=knee_band(station, person),
        met=met,
        load=load,
        response=response,
        lower_refusal=refusal,
        choice=choice_note(station, lined.rules),
        run=run,
        upper=upper,
        idle_parts=_idle(section, settings, run),
        missing=tuple(missing),
    )


def _idle(section: Section, settings: RunSettings, run: LegRun | None) -> tuple[str, ...]:
    named = [part for part, _ in settings.parts]
    if run is None or not named:
        return tuple(named)
    faced = silhouette_of(section, run.legform.low_mm, run.legform.high_mm).parts
    return tuple(part for part in named if part not in faced)


def _order(fronts: tuple[LegAt, ...], settings: RunSettings, draws: int, seed: int) -> Order | None:
    """Which of two fronts opens the knee of the legform less, over draws of stiffness."""
    if len(fronts) != 2:
        return None
    legform = legform_of(fronts[0].lined.rules)
    one, two = (face_of(at.section, legform, lip_heights(at.contact, at.station)) for at in fronts)
    names = (fronts[0].name, fronts[1].name)
    return compared(names, (one, two), legform, settings, draws, seed)[0]

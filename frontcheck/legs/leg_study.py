"""What one front, or two under the same assumptions, do to an upright leg, at chosen stations.

Stiffness not known: two shapes may be ranked under the same assumptions; no value is to be held
against a limit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

from frontcheck.caution import CAUTION, LEG_CAUTION
from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import first_touch, front_contact, silhouette_of
from frontcheck.legs.dynamics import RunSettings, run_legform
from frontcheck.legs.foundation import foundation_load, knee_response
from frontcheck.legs.leg_document import LegDocument
from frontcheck.legs.leg_order import (
    STIFFNESS_FACTORS,
    rank_runs,
    scaled,
    with_other_stiffness,
)
from frontcheck.lines.lined_front import chosen_stations, short_names
from frontcheck.lines.statuses import NOT_KNOWN
from frontcheck.people.impactors import RIGID_LEGFORM
from frontcheck.serializer import one_line, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.legs.contact import FirstTouch, FrontContact
    from frontcheck.legs.dynamics import LegRun
    from frontcheck.legs.foundation import FoundationLoad, KneeResponse
    from frontcheck.legs.leg_order import Ranking
    from frontcheck.lines.lined_front import LinedFront, Side
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section

T = TypeVar("T")

DEPTHS: Final = (20.0, 60.0, 100.0)
"""Depths told [mm] when none are asked for."""


@dataclass(frozen=True)
class KneeBand:
    """One knee against the band from LBRL to UBRL."""

    knee: float  # Height of the knee [mm]
    low: float  # Height of LBRL [mm]
    high: float  # Height of UBRL [mm]
    place: Literal["below", "inside", "above"]  # Where the knee is


@one_line
@dataclass(frozen=True, eq=False)
class LegAt:
    """One front at one station."""

    name: str  # What to call the front
    lined: LinedFront  # The front cut down to this station
    basis: Literal["measured", "cut", "interpolated"]  # Whether the section was measured there
    contact: FrontContact  # What it shows an upright leg, in contact order
    band: KneeBand | None  # Knee against bumper; None where LBRL or UBRL is not known
    touch: FirstTouch | None  # First touch of the person's leg
    load: FoundationLoad | None  # Load of the person's leg over depth; None likewise
    response: KneeResponse | None  # Opening rate of the legform over depth
    run: LegRun | None  # The legform over time; None likewise
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
    rankings: tuple[Ranking, ...]  # Order of the peaks


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

    @property
    def complete(self) -> bool:
        """Whether everything could be formed, and every run is in balance and ran to its end."""
        return not any(at.missing for station in self.stations for at in station.fronts)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What is said with every value: stiffness first."""
        return LEG_CAUTION, CAUTION, *filter(None, [self.fronts[0].rules.caution])

    def to_dict(self) -> dict[str, Any]:
        """Return the leg document ``frontcheck.leg/1`` as plain values.

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
    stiffness_factors: Sequence[float] = STIFFNESS_FACTORS,
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
    stiffness_factors : sequence of float, optional
        The order of two fronts is looked at with all skins at these multiples too.

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
    >>> [ranking.less for ranking in study.stations[0].rankings]
    ['b', 'a', 'b']
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
        made.append(LegStation(y, everyone, _rankings(everyone, settings, stiffness_factors)))
    return LegStudy(tuple(fronts), names, person, tuple(depths), settings, tuple(made), notes)


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

    ended = [name for name in ("LBRL", "UBRL") if name in station.open_ends]
    if ended:
        missing.append(f"knee and bumper: {NOT_KNOWN} of {' and '.join(ended)}")
    knee = person.knee.known()
    touch = or_missing(f"leg of {person.name}", lambda: first_touch(section, person))
    load = None
    if touch is not None:
        load = foundation_load(silhouette_of(section, 0.0, person.hip.known()), depths, knee)
    run = or_missing("legform", lambda: run_legform(section, settings))
    if run is not None and run.status != "ok":
        missing.append(f"peaks of the legform: {run.reason}")
    return LegAt(
        name=name,
        lined=replace(
            lined,
            front=replace(lined.front, sections=(section,), symmetric=False),
            stations=(station,),
        ),
        basis=side.basis,
        contact=front_contact(section, station, lined.rules),
        band=None if ended else _band(station, knee),
        touch=touch,
        load=load,
        response=None if run is None else knee_response(section, depths),
        run=run,
        idle_parts=_idle(section, settings, run),
        missing=tuple(missing),
    )


def _band(station: Station, knee: float) -> KneeBand | None:
    low, high = station.LBRL.z, station.UBRL.z
    if low is None or high is None:
        return None
    place: Literal["below", "inside", "above"] = "inside"
    if knee < low:
        place = "below"
    elif knee > high:
        place = "above"
    return KneeBand(knee, low, high, place)


def _idle(section: Section, settings: RunSettings, run: LegRun | None) -> tuple[str, ...]:
    named = [part for part, _ in settings.parts]
    if run is None or not named:
        return tuple(named)
    faced = silhouette_of(section, RIGID_LEGFORM.low_mm, RIGID_LEGFORM.high_mm).parts
    return tuple(part for part in named if part not in faced)


def _rankings(
    fronts: tuple[LegAt, ...], settings: RunSettings, factors: Sequence[float]
) -> tuple[Ranking, ...]:
    """Order of the peaks, also with all skins at multiples of their stiffness."""
    if len(fronts) != 2 or any(at.run is None for at in fronts):
        return ()
    names = (fronts[0].name, fronts[1].name)

    def ranked(made: RunSettings) -> tuple[Ranking, ...]:
        one, two = (
            at.run if made == settings and at.run else run_legform(at.section, made)
            for at in fronts
        )
        return rank_runs(one, two, names)

    others = [(factor, ranked(scaled(settings, factor))) for factor in factors]
    return with_other_stiffness(ranked(settings), others)

"""Pushed ahead, folded or carried up: what becomes of people whom one front, or two, strike.

Screening: geometry and stated assumptions, in one plane, until the head touches. Nothing here is
an injury, a force, contact with the ground or a verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import starmap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.body.anatomy import figure_of
from frontcheck.body.assumed import drawn
from frontcheck.body.assumptions import TOLD, assumptions
from frontcheck.body.edge_height import edge_to_middle
from frontcheck.body.motion_document import MotionDocument
from frontcheck.body.person_motion import PersonMotion, Spread, by_reason, person_motion
from frontcheck.body.struck_front import StruckFront, plan_normal_deg, refusal
from frontcheck.caution import CAUTION, MOTION_CAUTIONS
from frontcheck.errors import refuse
from frontcheck.front.front import drawn_or_unseen
from frontcheck.lines.lined_front import LinedFront, chosen_stations, line_up, short_names
from frontcheck.people.people import struck_people
from frontcheck.rules.ruleset import DEFAULT_RULES
from frontcheck.serializer import one_line, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from concurrent.futures import Executor

    from frontcheck.body.motion_document import Separable
    from frontcheck.body.person_motion import Frames, HeadContacts, Told
    from frontcheck.body.struck_front import Band
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import Side
    from frontcheck.people.people import Person

DRAWS: Final = int(TOLD["usual_draws"])
"""Cases drawn when no number is asked for."""
SPEED_KM_H: Final = TOLD["usual_speed"]
SPEEDS_KM_H: Final = (TOLD["lowest_speed"], TOLD["highest_speed"])
"""Slower the head may land after the time looked at; faster no check of ours was made [km/h]."""
LEAST_DRAWS, MOST_DRAWS = int(TOLD["fewest_draws"]), int(TOLD["most_draws"])
"""Own choice: of fewer, 5 and 95 % cannot be told; of more, nothing is learned."""
SAME_SIGN: Final = TOLD["same_sign"]
"""Own choice, as the interval told is that of 5 to 95 %."""
MOVES_MM, MOVES_MS = TOLD["place_moves"], TOLD["time_moves"]
"""Less is not called a difference: own choice, near what finer steps and other seeds change."""
_APART: Final = 1_000_003
"""Added to the seed where softness and friction of the second front are drawn apart."""


@one_line
@dataclass(frozen=True)
class Difference:
    """What a quantity changes by from A to B, and in what share of the cases it has that sign."""

    spread: Spread
    same_sign: float  # Same softness and friction for both
    same_sign_drawn_apart: float  # Softness and friction drawn for each by itself
    separable: Separable


@one_line
@dataclass(frozen=True)
class PersonChange:
    """What becomes otherwise of one person."""

    person: str
    wad: Difference | None  # B less A [mm]
    time: Difference | None  # B less A [ms]
    reason: str = ""  # Why there is none

    @property
    def separable(self) -> Separable:
        """Whether the place of the head differs by more than assumptions leave open."""
        return "no" if self.wad is None else self.wad.separable

    @property
    def time_separable(self) -> Separable:
        """Whether its time does."""
        return "no" if self.time is None else self.time.separable


@one_line
@dataclass(frozen=True, eq=False)
class MotionStudy:
    """What becomes of people whom one front, or two under the same assumptions, strike.

    Parameters
    ----------
    fronts : tuple of LinedFront
        The fronts with their lines.
    names : tuple of str
        What to call them.
    sides : tuple of Side
        The section of each front, and its lines.
    speed_km_h : float
        Speed [km/h].
    draws, seed : int
        Assumed cases of each person, and the seed of their draws.
    motions : tuple of tuple of PersonMotion
        Of every front, every person.
    heads : tuple of tuple of HeadContacts or None
        Of every front and person where and when the head touched, case by case.
    frames : tuple of tuple of Frames or None
        Of every front and person one case in pictures.
    bands : tuple of tuple of Band
        Of every front its parts by wrap-around distance; empty where nothing is said of it.
    changes : tuple of PersonChange
        From the first front to the second, where there are two.
    assumed : tuple of str
        What was assumed, and what would settle it.
    notes : tuple of str
        What was interpolated or left out.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> study = fc.motion(plover, people=fc.PEOPLE[:1], draws=20)
    >>> study.people[0].kind, sorted(study.people[0].shares)[:2]
    ('undecided', ['beyond_measured', 'carried'])
    """

    fronts: tuple[LinedFront, ...]
    names: tuple[str, ...]
    sides: tuple[Side, ...]
    speed_km_h: float
    draws: int
    seed: int
    motions: tuple[tuple[PersonMotion, ...], ...]
    heads: tuple[tuple[HeadContacts | None, ...], ...]
    frames: tuple[tuple[Frames | None, ...], ...]
    bands: tuple[tuple[Band, ...], ...]
    changes: tuple[PersonChange, ...]
    assumed: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def people(self) -> tuple[PersonMotion, ...]:
        """What becomes of the people whom the first front strikes."""
        return self.motions[0]

    @property
    def people_b(self) -> tuple[PersonMotion, ...]:
        """What becomes of those whom the second front strikes; empty where there is none."""
        return self.motions[1] if len(self.motions) > 1 else ()

    @property
    def bases(self) -> tuple[str, ...]:
        """Whether the section of each front was measured there, cut or interpolated."""
        return tuple(side.basis for side in self.sides)

    @property
    def complete(self) -> bool:
        """Whether a place of the head is given for everyone."""
        return not any(one.reason for people in self.motions for one in people)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What is said with every result."""
        said = drawn_or_unseen(lined.front for lined in self.fronts)
        return CAUTION, *said, *MOTION_CAUTIONS

    @property
    def to_mind(self) -> tuple[str, ...]:
        """What is said where the motion stands beside other results: for whom nothing is given."""
        what = "no motion" if any(one.refused for one in self.people) else "no place of the head"
        withheld = [
            f"{', '.join(who)}: {what}: {why}." for why, who in by_reason(self.people).items()
        ]
        return *withheld, *MOTION_CAUTIONS

    def to_dict(self) -> dict[str, Any]:
        """Return the motion document ``frontcheck.motion/1`` as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(MotionDocument, self)


def motion(
    front: Front | LinedFront,
    front_b: Front | LinedFront | None = None,
    *,
    people: Iterable[Person] | None = None,
    station: float | None = None,
    speed_km_h: float = SPEED_KM_H,
    draws: int = DRAWS,
    seed: int = 1,
    executor: Executor | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> MotionStudy:
    """Say what becomes of people whom a front strikes, under drawn assumptions, in one plane.

    Parameters
    ----------
    front, front_b : Front or LinedFront
        The front, with its lines or without, and one to compare it with.
    people : iterable of Person, optional
        Who is struck; the five reference people of the model when not given.
    station : float, optional
        Station [mm]; the one nearest the centre when not given.
    speed_km_h : float, optional
        Speed, 20 to 50 km/h.
    draws : int, optional
        Assumed cases, 20 to 5000; 200 or more for a robust finding.
    seed : int, optional
        Of the draws. The same seed gives the same results, for each person by itself.
    executor : concurrent.futures.Executor, optional
        Who works the people out side by side; this process when not given. Results are the same.
    progress : callable, optional
        Told what is done, and what share of it.

    Returns
    -------
    MotionStudy
        The study; what cannot be said has a reason.

    Raises
    ------
    InputError
        If speed, draws, seed or a person is out of range, or the station is not to be had.

    Notes
    -----
    Own model: nine rigid bodies in one plane, see ``frontcheck explain motion-model``. No published
    method; "consistent with" the few published tests it was held against, never more.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> study = fc.motion(*fronts, people=fc.PEOPLE[:1], draws=20)
    >>> [change.person for change in study.changes]
    ['six-year-old']
    """
    _check(speed_km_h, draws, seed)
    chosen = struck_people() if people is None else tuple(people)
    figures = [figure_of(person) for person in chosen]
    fronts = tuple(
        each if isinstance(each, LinedFront) else line_up(each, DEFAULT_RULES)
        for each in (front, front_b)
        if each is not None
    )
    sides, notes = chosen_stations(fronts, () if station is None else (station,))
    (at,) = sides.values()
    refused = list(starmap(refusal, zip(fronts, at, strict=True)))
    cases = drawn(draws, seed)
    apart = drawn(draws, seed + _APART)
    apart = replace(
        cases, stiffness=apart.stiffness, friction=apart.friction, rebound=apart.rebound,
        grip=apart.grip,
    )  # fmt: skip
    struck = [None if why else StruckFront.of(side) for why, side in zip(refused, at, strict=True)]
    both = len(fronts) == 2 and not any(refused)
    tasks = [
        (front, person.name, figure, drawn_cases, speed_km_h)
        for person, figure in zip(chosen, figures, strict=True)
        for front, drawn_cases in zip(
            [*struck, *struck[1:]] if both else struck, [cases, cases, apart], strict=False
        )
        if front is not None
    ]
    told = iter(_worked_out(tasks, executor, progress))
    motions: list[list[PersonMotion]] = [[] for _ in fronts]
    told_of: list[list[Told | None]] = [[] for _ in fronts]
    changes = []
    for person, figure in zip(chosen, figures, strict=True):
        pair: list[Told] = []
        for i, side in enumerate(at):
            who = person.name, 1e3 * figure.stature, figure.mass, side.station.y
            made = PersonMotion(*who, "undecided", {}, reason=refused[i])
            if not refused[i]:
                pair.append(next(told))
                made = pair[-1].motion
            edge = edge_to_middle(fronts[i].front, side.station, person)
            motions[i].append(replace(made, edge=edge))
            told_of[i].append(None if refused[i] else pair[-1])
        if both:
            a, b = pair
            changes.append(_changed(person.name, a, b, next(told)))
        elif len(fronts) == 2:
            why = next(filter(None, refused))
            changes.append(PersonChange(person.name, None, None, why))
    return MotionStudy(
        fronts,
        short_names(fronts),
        at,
        float(speed_km_h),
        draws,
        seed,
        tuple(map(tuple, motions)),
        tuple(tuple(None if one is None else one.heads for one in each) for each in told_of),
        tuple(tuple(None if one is None else one.frames for one in each) for each in told_of),
        tuple(() if each is None else each.bands() for each in struck),
        tuple(changes),
        (*_of_the_plan(fronts, at), *assumptions()),
        notes,
    )


def _check(speed_km_h: float, draws: int, seed: int) -> None:
    low, high = SPEEDS_KM_H
    if not low <= speed_km_h <= high:
        raise refuse("motion.speed", speed=speed_km_h, low=low, high=high)
    if not LEAST_DRAWS <= draws <= MOST_DRAWS:
        raise refuse("motion.draws", draws=draws, least=LEAST_DRAWS, most=MOST_DRAWS)
    if seed < 0:
        raise refuse("draws.seed", seed=seed)


def _worked_out(
    tasks: Sequence[tuple[Any, ...]],
    executor: Executor | None,
    progress: Callable[[str, float], None] | None,
) -> Iterator[Told]:
    """Every task in order, here or side by side."""
    made = (
        starmap(person_motion, tasks)
        if executor is None
        else executor.map(person_motion, *zip(*tasks, strict=True))
        if tasks
        else iter(())
    )
    for done, (task, told) in enumerate(zip(tasks, made, strict=True), 1):
        if progress is not None:
            progress(f"{task[1]} is struck", done / len(tasks))
        yield told


def _of_the_plan(fronts: Sequence[LinedFront], sides: Sequence[Side]) -> Iterator[str]:
    for lined, side in zip(fronts, sides, strict=True):
        if plan_normal_deg(lined, side) is None:
            yield (
                f"{lined.front.name}: the plan shape is not known; at the centre plane it is taken "
                "to face straight ahead."
            )


def _changed(name: str, a: Told, b: Told, b_apart: Told) -> PersonChange:
    """Difference of two fronts, case by case."""
    missing = [one.motion.reason for one in (a, b) if one.motion.wad_mm is None]
    if missing:
        return PersonChange(name, None, None, missing[0])
    one, two, apart = a.heads, b.heads, b_apart.heads
    return PersonChange(
        name,
        _difference(two.wad_mm - one.wad_mm, apart.wad_mm - one.wad_mm, MOVES_MM),
        _difference(two.time_ms - one.time_ms, apart.time_ms - one.time_ms, MOVES_MS),
    )


def _difference(paired: Array, apart: Array, least: float) -> Difference | None:
    spread = Spread.of(paired)
    if spread is None:
        return None
    sign = math.copysign(1.0, spread.median)
    same, same_apart = (float(np.mean(sign * off > 0.0)) for off in (paired, apart))
    separable: Separable = "no"
    if same >= SAME_SIGN and abs(spread.median) > least:
        separable = "yes" if same_apart >= SAME_SIGN else "only if equally soft"
    return Difference(spread, same, same_apart, separable)

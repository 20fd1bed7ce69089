"""One call from two screenings to everything that changes from one to the other."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION
from frontcheck.comparison.changes import Alignment, face_changes, line_changes, zone_changes
from frontcheck.comparison.comparison_result import Comparison, StationComparison
from frontcheck.comparison.contour_distance import contour_distance
from frontcheck.comparison.finding_changes import finding_changes
from frontcheck.comparison.leg_zone import (
    SUPPORT_DRAWS,
    chance,
    drawn_stations,
    leg_zone,
    named_chances,
    unsure,
)
from frontcheck.errors import refuse
from frontcheck.lines.lined_front import match_stations
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.comparison.changes import Align, Change, Origins
    from frontcheck.comparison.leg_zone import Chance, Drawn
    from frontcheck.lines.lined_front import Matched, Side
    from frontcheck.people.people import Person
    from frontcheck.screening import Screening
    from frontcheck.sure.uncertainty import Uncertainty

_DIRECTION: Final = (
    "Every change is B minus A. A change of shape says nothing by itself about which front treats "
    "a pedestrian better: stiffness and what lies behind the skin are not known."
)
_DISTANCES: Final = (
    "Distances between contours are to the nearest place of the other contour, between the rows "
    "along straight stretches; they are given at contour points only as far as the other "
    "contour was measured."
)


def compare(
    a: Screening,
    b: Screening,
    *,
    align: Align = "none",
    people: Iterable[Person] | None = None,
    draws: int = 0,
    seed: int = 1,
    settings: Uncertainty | None = None,
) -> Comparison:
    """Return what changes from front A to front B. Every change is B minus A.

    Parameters
    ----------
    a, b : Screening
        Screenings of both fronts under the same rules and wrap-around distances.
    align : {"none", "foremost"}, optional
        ``none``: setbacks as measured, each front from its own datum line, no shift.
        ``foremost``: counted from the foremost bumper point of each whole front (of each
        section where a front has a datum set anew at each station).
    people : iterable of Person, optional
        People whose knees are looked at; those of the finding settings of A when not given.
    draws : int, optional
        Draws of what either measurement might have read; 0 for none, else 100 or more.
    seed : int, optional
        Seed of the draws; the same seed gives the same result to the last bit.
    settings : Uncertainty, optional
        Uncertainties of what the rows do not state themselves, for both fronts; what each
        survey states when not given.

    Returns
    -------
    Comparison
        Changes of lines, face, leg zone, zones and findings, distances between contours.

    Raises
    ------
    InputError
        If the screenings were made under different settings, no station can be matched,
        there is no such alignment, or draws are asked for and cannot be made.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> both.station(0).change("BLERL_z_mm").change
    -103.0
    """
    _check_alike(a, b)
    alignment = Alignment(a, b, align)
    if people is None:
        people = a.finding_settings.people if a.finding_settings is not None else PEOPLE
    chosen = tuple(people)
    matched, notes = match_stations(a, b)
    drawn, extra = _draw(a, b, draws, seed, settings) if draws else ([], [])
    stations = tuple(_station(each, a, chosen, alignment.at(each), drawn) for each in matched)
    by_y = {station.y: station for station in stations}

    def change_at(y: float, quantity: str) -> Change | None:
        here = by_y.get(y, by_y.get(abs(y)))
        return None if here is None else here.change(quantity)

    return Comparison(
        a,
        b,
        align,
        alignment.words,
        stations,
        alignment.whole,
        zone_changes(a.zones, b.zones, alignment.whole),
        finding_changes(a.findings, b.findings, change_at, (a.front.symmetric, b.front.symmetric)),
        tuple(person.name for person in chosen),
        draws,
        seed,
        (*notes, *_labels(a, b), *extra),
        _cautions(a, b, draws),
    )


def _check_alike(a: Screening, b: Screening) -> None:
    for what, one, two in (
        ("rule set", a.rules.title, b.rules.title),
        ("wrap-around distances", _list(a.wad), _list(b.wad)),
        ("tape start", a.tape_start, b.tape_start),
    ):
        if one != two:
            raise refuse("compare.setting", what=what, one=one, two=two)
    for constant in a.rules:
        if b.rules[constant.name].value != constant.value:
            two = b.rules[constant.name].plain
            raise refuse("compare.constant", name=constant.name, one=constant.plain, two=two)


def _labels(a: Screening, b: Screening) -> list[str]:
    """Say so where one front alone knows which points are bumper, or windscreen."""
    notes = []
    for part, lines in (("bumper", "UBRL"), ("windscreen", "BRRL, and areas behind it,")):
        has = [any(s.has_part(part) for s in each.front.sections) for each in (a, b)]
        if has[0] != has[1]:
            with_it, without = ("A", "B") if has[0] else ("B", "A")
            notes.append(
                f"{with_it} labels points as {part} and {without} does not, so {lines} may change "
                "for that reason alone."
            )
    return notes


def _draw(
    a: Screening, b: Screening, draws: int, seed: int, settings: Uncertainty | None
) -> tuple[list[dict[float, Drawn]], list[str]]:
    known = unsure(a, settings), unsure(b, settings)
    if not any(known):
        raise refuse("compare.no_uncertainty")
    notes = [
        f"{draws} draws of either front, seed {seed}; each of A is held against each of B.",
        f"Setback of the lower lip behind the bumper: the first {min(draws, SUPPORT_DRAWS)} draws.",
    ]
    notes += [
        f"{name} states no uncertainty and is taken as exact."
        for name, is_unsure in zip("AB", known, strict=True)
        if not is_unsure
    ]
    return [drawn_stations(each, draws, seed, settings) for each in (a, b)], notes


def _station(
    matched: Matched,
    a: Screening,
    people: Sequence[Person],
    origins: Origins,
    drawn: Sequence[dict[float, Drawn]],
) -> StationComparison:
    lines, face = line_changes(matched, origins), face_changes(matched, origins)
    leg = leg_zone(matched, a.rules, people, origins)
    chances: dict[str, Chance] = {}
    if drawn and matched.a.basis == matched.b.basis == "measured":
        unknown = {change.quantity for change in (*lines, *leg.changes) if change.open_end}
        one, two = map(_at, drawn, (matched.a, matched.b))
        found = _chances(one, two, origins)
        chances = {name: found[name] for name in found if name not in unknown}
    leg = replace(leg, changes=_with(leg.changes, chances))
    contour = None
    if not origins.barred:
        contour = contour_distance(*origins.points(matched))
    more = (contour, origins.barred, named_chances(chances))
    return StationComparison(matched, origins, _with(lines, chances), face, leg, *more)


def _at(drawn: dict[float, Drawn], side: Side) -> Drawn:
    """Draws of a measured section, or of the one that it mirrors."""
    y = side.section.y
    return drawn[y if y in drawn else 0.0 - y]


def _chances(a: Drawn, b: Drawn, origins: Origins) -> dict[str, Chance]:
    found = {}
    for name in a:
        across = name.endswith("_x_mm")
        if across and origins.barred:
            continue
        shift = (origins.a, origins.b) if across else (0.0, 0.0)
        found[name] = chance(a[name] - shift[0], b[name] - shift[1])
    return found


def _with(changes: tuple[Change, ...], chances: dict[str, Chance]) -> tuple[Change, ...]:
    return tuple(
        replace(change, u=found.u, chance_less=found.less, chance_more=found.more)
        if (found := chances.get(change.quantity)) is not None
        else change
        for change in changes
    )


def _cautions(a: Screening, b: Screening, draws: int) -> tuple[str, ...]:
    cautions = [CAUTION, _DIRECTION, _DISTANCES]
    if draws:
        cautions.append(
            "Probabilities hold for the uncertainties stated, taken as normal and independent. "
            "They say how sure the geometry is, nothing of what a test would show."
        )
    own_a, own_b = a.all_cautions()[1:], b.all_cautions()[1:]
    cautions += [text for text in own_a if text in own_b]
    for name, own, other in (("A", own_a, own_b), ("B", own_b, own_a)):
        cautions += [f"{name}: {text}" for text in own if text not in other]
    return tuple(cautions)


def _list(values: Iterable[float]) -> str:
    return ", ".join(f"{value:g}" for value in values)

"""Findings of people whom the front strikes: what becomes of them, and what their heads meet."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.person_motion import KINDS
from frontcheck.findings.finding import Finding, Region, line_region
from frontcheck.findings.finding_rules import STRUCK_RULES
from frontcheck.sure.shares import is_robust

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.body.motion import MotionStudy
    from frontcheck.body.person_motion import HeadContacts, PersonMotion
    from frontcheck.findings.finding_rules import FindingRule
    from frontcheck.findings.head_points import HeadAreas
    from frontcheck.front.beside import HardPoint

NEAR_MM: Final = 100.0
"""Own choice: half a head, and what the model leaves open of the place."""

_CODES: Final = {
    "pushed": "BODY-STRUCK-PUSHED",
    "folded": "BODY-STRUCK-FOLDED",
    "carried": "BODY-STRUCK-CARRIED",
}
_SETTLED: Final = "dummy tests or human body model simulations of this front at this speed"
_Counted = tuple["PersonMotion", int]


def struck_findings(
    motion: MotionStudy, areas: HeadAreas, hard_points: Sequence[HardPoint]
) -> Iterator[Finding]:
    """What the motion of people gives to be looked at, at its one station."""
    for share, code in _CODES.items():
        told = [
            (person, round(person.shares[share] * motion.draws))
            for person in motion.people
            if person.kind == KINDS[share]
        ]
        if told:
            yield _kind(motion, STRUCK_RULES[code], told)
    heads = [
        (person, own)
        for person, own in zip(motion.people, motion.heads[0], strict=True)
        if person.wad_mm is not None and own is not None
    ]
    if heads:
        yield from _outside(motion, areas, heads)
        for point in hard_points:
            yield from _near(motion, point, heads)


def _kind(motion: MotionStudy, rule: FindingRule, told: Sequence[_Counted]) -> Finding:
    side = motion.sides[0]
    edge = side.station.BLERL.point
    assert edge is not None  # nothing is said without one
    where = f"Struck at {motion.speed_km_h:g} km/h"
    region = line_region(where, side.section, edge, edge, [(edge[0], side.station.y, edge[1])])
    limits = [person.at_least for person, _ in told if person.at_least is not None]
    most = rule.title.partition(",")[0]
    return _finding(
        motion, rule, region, told,
        f"{_who(told)} {_be(told)} {most} in {_shares(motion, told)} of {motion.draws} assumed "
        f"cases (at least {100.0 * min(limits):.0f} %, the lower 95 % limit)",
        _SETTLED,
    )  # fmt: skip


def _outside(
    motion: MotionStudy, areas: HeadAreas, heads: Sequence[tuple[PersonMotion, HeadContacts]]
) -> Iterator[Finding]:
    """Whose head lands where no headform is aimed; nothing where the areas are not known."""
    y, station = motion.sides[0].station.y, motion.sides[0].station
    ranges = areas.at(y)
    if not areas.known or {"BLERL", "BRRL"} & set(station.open_ends):
        return
    said = " and ".join(f"{r.name} {r.front:.0f} to {r.rear:.0f}" for r in ranges)
    areas_words = f"(wrap-around distance, mm: {said})" if ranges else "(none there)"
    told, places = [], []
    for person, own in heads:
        wad = own.wad_mm
        inside = np.zeros(len(wad), dtype=bool)
        for one in ranges:
            inside |= (wad >= one.front) & (wad <= one.rear)
        outside = ~inside & ~np.isnan(wad)
        told.append((person, int(outside.sum())))
        places.append(own.at_mm[outside])
    rule = STRUCK_RULES["BODY-HEAD-OUTSIDE"]
    kept = [i for i, one in enumerate(told) if _fires(motion, rule, one)]
    if not kept:
        return
    told = [told[i] for i in kept]
    outline = _outline(np.concatenate([places[i] for i in kept]), y)
    yield _finding(
        motion, rule, Region(f"Struck at {motion.speed_km_h:g} km/h", outline_mm=outline), told,
        f"the heads of {_who(told)} land outside the headform areas {areas_words} in "
        f"{_shares(motion, told)} of {motion.draws} assumed cases",
        "headform tests where such heads land",
    )  # fmt: skip


def _near(
    motion: MotionStudy, point: HardPoint, heads: Sequence[tuple[PersonMotion, HeadContacts]]
) -> Iterator[Finding]:
    """Whose head lands near one stiff part."""
    y, symmetric = motion.sides[0].station.y, motion.fronts[0].front.symmetric
    across = min(abs(point.y - side) for side in ((y, -y) if symmetric else (y,)))
    rule = STRUCK_RULES["BODY-HEAD-NEAR-STIFF"]
    told = []
    for person, own in heads:
        off = own.at_mm - [point.x, point.z]
        near = np.hypot(np.hypot(off[:, 0], off[:, 1]), across) <= NEAR_MM
        told.append((person, int(near.sum())))
    told = [one for one in told if _fires(motion, rule, one)]
    if told:
        yield _finding(
            motion, rule, Region(point.name, outline_mm=((point.x, point.y, point.z),)), told,
            f"the heads of {_who(told)} land within {NEAR_MM:g} mm of {point.name} "
            f"({point.kind}) in {_shares(motion, told)} of {motion.draws} assumed cases",
            f"a headform test above {point.name}",
        )  # fmt: skip


def _fires(motion: MotionStudy, rule: FindingRule, told: _Counted) -> bool:
    assert isinstance(rule.threshold, float)
    return told[1] > 0 and 100.0 * told[1] / motion.draws >= rule.threshold


def _finding(
    motion: MotionStudy,
    rule: FindingRule,
    region: Region,
    told: Sequence[_Counted],
    says: str,
    settled_by: str,
) -> Finding:
    """One finding of some people; robust where draws enough agree for each of them."""
    shares = [100.0 * count / motion.draws for _, count in told]
    if all(is_robust(count, motion.draws) for _, count in told):
        rule = replace(rule, evidence="robust")
    y = motion.sides[0].station.y
    return Finding(
        rule,
        region,
        y,
        min(shares),
        f"Struck at {motion.speed_km_h:g} km/h at y = {y:g} mm, {says}.",
        settled_by,
        person=", ".join(person.person for person, _ in told),
        spread=(min(shares), max(shares)),
    )


def _outline(places: np.ndarray, y: float) -> tuple[tuple[float, float, float], ...]:
    """Where heads land, from the foremost to the rearmost."""
    order = places[np.argsort(places[:, 0])]
    ends = order[[0, len(order) // 2, -1]].tolist()
    return tuple((x, y, z) for x, z in ends)


def _who(told: Sequence[_Counted]) -> str:
    return ", ".join(person.person for person, _ in told)


def _be(told: Sequence[_Counted]) -> str:
    return "is" if len(told) == 1 else "are"


def _shares(motion: MotionStudy, told: Sequence[_Counted]) -> str:
    shares = [100.0 * count / motion.draws for _, count in told]
    low, high = f"{min(shares):.0f}", f"{max(shares):.0f}"
    return f"{low} %" if low == high else f"{low} to {high} %"

"""Leg findings: where and how the front meets an upright leg, and what that does to the knee.

The geometry and the models are in `frontcheck.legs`; here they are compared with thresholds.
Neighbouring stations and all people who share a finding are told in one, with the value of
the place and person where it holds most clearly.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.findings import leg_rules as rules_of
from frontcheck.findings.contour_places import line_region, runs, stations_text
from frontcheck.findings.finding import Finding
from frontcheck.findings.leg_hits import LegSettings, hits_at
from frontcheck.findings.leg_rules import LEG_RULES
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.findings.leg_hits import Hit
    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person

__all__ = ["LEG_RULES", "LegSettings", "leg_findings"]


def leg_findings(
    lined: LinedFront,
    people: Sequence[Person] = PEOPLE,
    settings: LegSettings | None = None,
) -> tuple[Finding, ...]:
    """Compare every station of a front with every leg rule and person."""
    settings = LegSettings() if settings is None else settings
    hits = [hits_at(lined, station, people, settings) for station in lined.stations]
    found: list[Finding] = []
    for rule in LEG_RULES:
        here = [[hit for hit in at if hit.rule is rule] for at in hits]
        for first, last in runs([bool(at) for at in here]):
            stations = lined.stations[first : last + 1]
            found.append(_finding(lined.front, stations, here[first : last + 1], people))
    return tuple(found)


_SAYS: Final = {
    rules_of.KNEE_FIRST: ("First touch", "is at the knee", " of", "first touch"),
    rules_of.THIGH_FIRST: ("First touch", "is on the thigh", " of", "first touch"),
    rules_of.KNEE_IN_BAND: ("Bumper face", "is level with the knee", " of", "bumper face"),
    rules_of.LOAD_AT_KNEE: ("Resultant load", "is at the knee", " of", "contact on the leg"),
    rules_of.LOAD_ABOVE_KNEE: ("Resultant load", "is on the thigh", " of", "contact on the leg"),
    rules_of.FREE_SHIN: ("Lower half of the shin", "is left free", " for", "lowest contact"),
    rules_of.UNDERCUT: ("Lower lip", "stands behind the bumper", "", "lower lip to bumper"),
    rules_of.LIP_AHEAD: ("Lower lip", "stands ahead of the bumper", "", "lower lip to bumper"),
    rules_of.OVERHANG: ("Face", "leans forward of vertical", "", "overhang"),
    rules_of.SPLIT_CONTACT: (
        "Leg",
        "is first held at two places",
        ", around the knee of",
        "recess",
    ),
    rules_of.SHORT_LEAD: ("Bumper lead", "is short", "", "bumper to leading edge"),
    rules_of.HIGH_BUMPER: ("Lower bumper height", "lets the upper legform be used", "", "LBRL"),
    rules_of.LEGFORM_NEAR: ("Lower bumper height", "is near a change of legform", "", "LBRL"),
    rules_of.KNEE_OPENS: ("Load", "opens the knee of the legform", "", "contact on the legform"),
    rules_of.KNEE_CLOSES: ("Load", "closes the knee of the legform", "", "contact on the legform"),
}
"""Subject, predicate, how people are joined on, and region of every rule."""


def _finding(
    front: Front,
    stations: Sequence[Station],
    hits: Sequence[Sequence[Hit]],
    people: Sequence[Person],
) -> Finding:
    """Tell one rule over neighbouring stations."""
    i, worst = max(
        ((i, hit) for i, at in enumerate(hits) for hit in at), key=lambda pair: pair[1].margin
    )
    subject, predicate, joint, name = _SAYS[worst.rule]
    always: list[str] = []
    partly: list[str] = []
    for person in people:
        count = sum(any(hit.person == person.name for hit in at) for at in hits)
        if count:
            (always if count == len(hits) else partly).append(person.name)
    concerned = f"{joint} {', '.join(always or partly)}" if always or partly else ""
    if always and partly:
        concerned += f" (at some of these stations also {', '.join(partly)})"
    elif partly and len(stations) > 1:
        concerned += " at some of these stations"
    station = stations[i]
    clearest = f"at y = {station.y:g} mm" if len(stations) > 1 else "here"
    if worst.person and len(always) + len(partly) > 1:
        clearest += f" for {worst.person}"
    all_at = stations_text([s.y for s in stations], front)
    section = front.section(station.y)
    outline = [(at[0].end[0], s.y, at[0].end[1]) for s, at in zip(stations, hits, strict=True)]
    return Finding(
        rule=worst.rule,
        region=line_region(name, section, worst.start, worst.end, outline),
        station=station.y,
        value=worst.value,
        message=(
            f"{subject} {all_at} {predicate}{concerned}; clearest {clearest}: {worst.detail}."
        ),
        settled_by=_settled_by(station),
        person=", ".join(p.name for p in people if p.name in (*always, *partly)),
        threshold=worst.threshold,
    )


def _settled_by(station: Station) -> str:
    which = {
        "lower": "lower legform test",
        "either": "lower or upper legform test, by the manufacturer's choice,",
        "upper": "upper legform test",
        None: "legform test",
    }[station.legform]
    return f"{which} at y = {station.y:g} mm"

"""Body findings: the bonnet leading edge against the body.

What the trunk meets, and whether it is pushed ahead or carried up, is decided by the height of the
leading edge (z of BLERL, the bonnet leading edge reference line) against hip, waist and centre of
mass; nothing here says how hard it is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from frontcheck.body.edge_height import band_of
from frontcheck.findings.finding import Finding, Hit, hits, line_region, stations_text, told
from frontcheck.findings.finding_rules import BODY_RULES, WORDS
from frontcheck.sure.stated_uncertainty import stated_u

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.finding import Point, Run
    from frontcheck.findings.finding_rules import Threshold
    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person

_SETTLED: Final = (
    "no test of the rule sets loads the trunk; remeasure the height of the leading edge, and ask "
    "for dummy tests or a human body model simulation of this front"
)


def body_findings(lined: LinedFront, people: Sequence[Person]) -> tuple[Finding, ...]:
    """Compare the leading edge of every station with every person."""
    found = [list(edge_hits(lined.front, station, people)) for station in lined.stations]
    return tuple(
        _finding(lined.front, run, people) for run in told(lined, BODY_RULES.values(), found)
    )


def edge_hits(front: Front, station: Station, people: Sequence[Person]) -> Iterator[Hit]:
    """Return every body rule that holds at one station."""
    edge = station.BLERL.point
    if edge is None:
        return
    if station.BLERL.status == "lower_end":
        rule = BODY_RULES["BODY-EDGE-LOWER-END"]
        yield Hit(rule, edge[1], edge[1], 0.0, edge, edge, f"BLERL {edge[1]:.0f} mm high")
    u = stated_u(front, station.y, edge, "height")
    for person in people:
        yield from _person_hits(person, edge, u)


def _person_hits(person: Person, edge: Point, u: float | None) -> Iterator[Hit]:
    height, hip, waist = edge[1], person.hip.value_mm, person.waist.value_mm

    def of(code: str, threshold: Threshold, against: str) -> Iterator[Hit]:
        rule = BODY_RULES[f"BODY-{code}"]
        return hits(rule, height, threshold, edge, edge, against, person.name)

    if waist is not None:
        yield from of("EDGE-ABOVE-WAIST", waist, f"waist {waist:.0f} mm")
    if hip is not None and waist is not None:
        against = f"hip {hip:.0f} mm and waist {waist:.0f} mm"
        for hit in of("EDGE-HIP-TO-WAIST", (hip, waist), against):
            yield replace(hit, margin=height - hip)
    band = band_of(person, u)
    if band is not None:
        against = f"a centre of mass at {band[0]:.0f} to {band[1]:.0f} mm"
        yield from of("EDGE-ABOVE-MASS", band[1], against)
        yield from of("EDGE-IN-MASS-BAND", band, against)


def _finding(front: Front, run: Run, people: Sequence[Person]) -> Finding:
    at_stations = list(zip(run.ys, run.hits, strict=True))
    outline = tuple((at[0].start[0], y, at[0].start[1]) for y, at in at_stations)
    named = []
    for person in people:
        ys = [y for y, at in at_stations if any(hit.person == person.name for hit in at)]
        if ys:
            partly = "" if len(ys) == len(run.ys) else f" ({stations_text(ys)})"
            named.append((person.name, partly))
    worst, y = run.worst, run.station.y
    clearest = f" for {worst.person}: {worst.value:.0f} mm against" if worst.person else ":"
    says = f"{WORDS[worst.rule.code]['says']} {', '.join(map(''.join, named))}".rstrip()
    message = (
        f"Leading edge {_heights([height for _, _, height in outline])} high "
        f"{stations_text(run.ys, front)} {says}; clearest at y = {y:g} mm"
        f"{clearest} {worst.detail}."
    )
    return Finding(
        worst.rule,
        line_region("bonnet leading edge", front.section(y), worst.start, worst.end, outline),
        y,
        worst.value,
        message,
        _SETTLED,
        person=", ".join(name for name, _ in named),
        threshold=worst.threshold,
        spread=run.spread,
    )


def _heights(heights: Sequence[float]) -> str:
    low, high = round(min(heights)), round(max(heights))
    return f"{low} mm" if low == high else f"{low} to {high} mm"

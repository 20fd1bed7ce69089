"""Body findings: the bonnet leading edge against hip, waist and centre of mass.

What the trunk meets is decided by the height of the leading edge (z of BLERL, the bonnet
leading edge reference line) against the body; nothing here says how hard it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from frontcheck.findings.finding import Finding, FindingRule, line_region, runs, stations_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.people.people import Person

_MUELLER: Final = (
    "Mueller, Monfort & Jermakian, Stapp Car Crash Conference: leading edge above the waist "
    "worst for the torso, from hip to waist next"
)
_RECONSTRUCTION: Final = (
    "accident reconstruction handbooks; trajectory classes after Ravani, Brougham & Mason, "
    "SAE 811024"
)
_STANDING: Final = (
    "People are taken standing upright at their published heights with nothing but the shape "
    "known: stance, shoes, braking dive, stiffness and speed are left out. "
)

EDGE_ABOVE_WAIST: Final = FindingRule(
    code="BODY-EDGE-ABOVE-WAIST",
    topic="body",
    title="leading edge above the waist",
    meaning=(
        "The bonnet leading edge stands higher than the person's waist, so the trunk, and not "
        "the legs and pelvis, meets the upper front. The study cited found this the worst of "
        "its three cases for injury of the torso."
    ),
    limits=_STANDING + "The study compares groups of crashes; it gives no value for this shape.",
    threshold=None,
    unit="mm",
    comparison=">",
    source=_MUELLER,
    provenance="from memory",
)
EDGE_HIP_TO_WAIST: Final = FindingRule(
    code="BODY-EDGE-HIP-TO-WAIST",
    topic="body",
    title="leading edge between hip and waist",
    meaning=(
        "The bonnet leading edge stands between the person's hip and waist, so it meets the "
        "pelvis and lower trunk. The study cited found this second to an edge above the waist "
        "for injury of the torso."
    ),
    limits=_STANDING + "The study compares groups of crashes; it gives no value for this shape.",
    threshold=None,
    unit="mm",
    comparison="within",
    source=_MUELLER,
    provenance="from memory",
)
EDGE_ABOVE_HIP: Final = FindingRule(
    code="BODY-EDGE-ABOVE-HIP",
    topic="body",
    title="leading edge above the hip, waist not known",
    meaning=(
        "The bonnet leading edge stands above the hip of a person for whom no waist height is "
        "at hand (a child, a stature given by the user), so it meets pelvis or trunk. Whether "
        "it is the worst case of the study cited, above the waist, cannot be told."
    ),
    limits=_STANDING + "The study is of adults and compares groups of crashes.",
    threshold=None,
    unit="mm",
    comparison=">=",
    source=_MUELLER,
    provenance="from memory",
)
FORWARD_PROJECTION: Final = FindingRule(
    code="BODY-FORWARD-PROJECTION",
    topic="body",
    title="centre of mass below the leading edge",
    meaning=(
        "The person's centre of mass is below the bonnet leading edge: the front tends to push "
        "the person ahead and down (forward projection), rather than to carry the body onto "
        "the bonnet."
    ),
    limits=(
        _STANDING + "A tendency only: braking and speed move cases from one class to another, and "
        "the other three classes (fender vault, roof vault, somersault) depend on them entirely."
    ),
    threshold=None,
    unit="mm",
    comparison=">",
    source=_RECONSTRUCTION,
    provenance="from memory",
)
WRAP: Final = FindingRule(
    code="BODY-WRAP",
    topic="body",
    title="centre of mass above the leading edge",
    meaning=(
        "The person's centre of mass is above the bonnet leading edge: the body tends to turn "
        "about the edge and wrap round the front, which brings the head down onto bonnet or "
        "windscreen. It says which parts of the front matter for this person, not that the "
        "front is better or worse."
    ),
    limits=(
        _STANDING + "A tendency only: braking and speed move cases from one class to another, and "
        "the other three classes (fender vault, roof vault, somersault) depend on them entirely."
    ),
    threshold=None,
    unit="mm",
    comparison="<=",
    source=_RECONSTRUCTION,
    provenance="from memory",
)

BODY_RULES: Final = (
    EDGE_ABOVE_WAIST,
    EDGE_HIP_TO_WAIST,
    EDGE_ABOVE_HIP,
    FORWARD_PROJECTION,
    WRAP,
)
"""Rules of this module."""

_SETTLED: Final = (
    "no test of the rule sets loads the trunk; remeasure the height of the leading edge, and ask "
    "for an upper legform test on the leading edge or a human body model simulation"
)


_Point = tuple[float, float, float]


@dataclass(frozen=True)
class _Hit:
    """One person at one station: by how much the rule holds, and against what."""

    person: Person
    edge: _Point
    threshold: float | tuple[float, float]
    margin: float
    against: str


def body_findings(lined: LinedFront, people: Sequence[Person]) -> tuple[Finding, ...]:
    """Compare the leading edge of every station with every person."""
    edges: list[_Point | None] = []
    for station in lined.stations:
        x, z = station.BLERL.x, station.BLERL.z
        edges.append(None if x is None or z is None else (x, station.y, z))
    found: list[Finding] = []
    for rule in BODY_RULES:
        hits = [
            [] if edge is None else [h for p in people if (h := _compare(rule, p, edge))]
            for edge in edges
        ]
        for first, last in runs([bool(at) for at in hits]):
            found.append(_finding(lined.front, rule, hits[first : last + 1], people))
    return tuple(found)


def _compare(rule: FindingRule, person: Person, edge: _Point) -> _Hit | None:
    height = edge[2]
    hip, waist = person.hip.value_mm, person.waist.value_mm
    mass = person.centre_of_mass.value_mm
    if rule is EDGE_ABOVE_WAIST and waist is not None and height > waist:
        return _Hit(person, edge, waist, height - waist, f"waist {waist:.0f} mm")
    if hip is not None and height >= hip:
        if rule is EDGE_HIP_TO_WAIST and waist is not None and height <= waist:
            against = f"hip {hip:.0f} mm and waist {waist:.0f} mm"
            return _Hit(person, edge, (hip, waist), height - hip, against)
        if rule is EDGE_ABOVE_HIP and waist is None:
            return _Hit(person, edge, hip, height - hip, f"hip {hip:.0f} mm")
    if mass is not None:
        against = f"centre of mass {mass:.0f} mm"
        if rule is FORWARD_PROJECTION and height > mass:
            return _Hit(person, edge, mass, height - mass, against)
        if rule is WRAP and height <= mass:
            return _Hit(person, edge, mass, mass - height, against)
    return None


_SAYS: Final = {
    EDGE_ABOVE_WAIST.code: "is above the waist of",
    EDGE_HIP_TO_WAIST.code: "is between hip and waist of",
    EDGE_ABOVE_HIP.code: "is above the hip (no waist height at hand) of",
    FORWARD_PROJECTION.code: "is above the centre of mass (forward projection tendency) of",
    WRAP.code: "is not above the centre of mass (wrap tendency) of",
}


def _finding(
    front: Front, rule: FindingRule, hits: Sequence[Sequence[_Hit]], people: Sequence[Person]
) -> Finding:
    every = [hit for at in hits for hit in at]
    worst = max(every, key=lambda hit: hit.margin)
    outline = tuple(at[0].edge for at in hits)
    named = []
    for person in people:
        ys = [hit.edge[1] for hit in every if hit.person is person]
        if ys:
            partly = "" if len(ys) == len(hits) else f" ({stations_text(ys)})"
            named.append((person.name, partly))
    x, y, z = worst.edge
    message = (
        f"Leading edge {_heights([height for _, _, height in outline])} high "
        f"{stations_text([at for _, at, _ in outline], front)} {_SAYS[rule.code]} "
        f"{', '.join(name + partly for name, partly in named)}; clearest at y = {y:g} mm for "
        f"{worst.person.name}: {z:.0f} mm against {worst.against}."
    )
    return Finding(
        rule,
        line_region("bonnet leading edge", front.section(y), (x, z), (x, z), outline),
        y,
        z,
        message,
        _SETTLED,
        person=", ".join(name for name, _ in named),
        threshold=worst.threshold,
    )


def _heights(heights: Sequence[float]) -> str:
    low, high = round(min(heights)), round(max(heights))
    return f"{low} mm" if low == high else f"{low} to {high} mm"

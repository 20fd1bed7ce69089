"""Body findings: the bonnet leading edge against the body, and the front in the classes of a study.

What the trunk meets is decided by the height of the leading edge (z of BLERL, the bonnet
leading edge reference line) against hip, waist and centre of mass; nothing here says how hard it
is. The classes are those of a crash study, by leading-edge height, face angle and bonnet angle; the
figures quoted are population statistics of that study: fronts of a class compared with low, sloped
fronts over many crashes. They are no prediction for the shape at hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from frontcheck.findings.finding import (
    Finding,
    hits,
    line_region,
    stations_text,
    told,
)
from frontcheck.findings.finding_rules import BODY_RULES, WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.finding import Hit, Point, Run
    from frontcheck.findings.finding_rules import FindingRule, Threshold
    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section

_SETTLED: Final = (
    "no test of the rule sets loads the trunk; remeasure the height of the leading edge, and ask "
    "for an upper legform test on the leading edge or a human body model simulation"
)


def body_findings(lined: LinedFront, people: Sequence[Person]) -> tuple[Finding, ...]:
    """Compare the leading edge of every station with every person."""
    edges = [station.BLERL.point for station in lined.stations]
    found = [
        [] if edge is None else [hit for p in people for hit in _person_hits(p, edge)]
        for edge in edges
    ]
    return tuple(
        _finding(lined.front, run, people) for run in told(lined, BODY_RULES.values(), found)
    )


def _person_hits(person: Person, edge: Point) -> Iterator[Hit]:
    height = edge[1]
    hip, waist = person.hip.value_mm, person.waist.value_mm
    mass = person.centre_of_mass.value_mm

    def of(code: str, threshold: Threshold, against: str) -> Iterator[Hit]:
        rule = BODY_RULES[f"BODY-{code}"]
        return hits(rule, height, threshold, edge, edge, against, person.name)

    if waist is not None:
        yield from of("EDGE-ABOVE-WAIST", waist, f"waist {waist:.0f} mm")
    if hip is not None and waist is not None:
        against = f"hip {hip:.0f} mm and waist {waist:.0f} mm"
        for hit in of("EDGE-HIP-TO-WAIST", (hip, waist), against):
            yield replace(hit, margin=height - hip)
    elif hip is not None:
        yield from of("EDGE-ABOVE-HIP", hip, f"hip {hip:.0f} mm")
    if mass is not None:
        for code in ("FORWARD-PROJECTION", "WRAP"):
            yield from of(code, mass, f"centre of mass {mass:.0f} mm")


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
    message = (
        f"Leading edge {_heights([height for _, _, height in outline])} high "
        f"{stations_text(run.ys, front)} {WORDS[worst.rule.code]['says']} "
        f"{', '.join(name + partly for name, partly in named)}; clearest at y = {y:g} mm for "
        f"{worst.person}: {worst.value:.0f} mm against {worst.detail}."
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


# The front in the classes of the study.

CLASS_RULES: Final = tuple(rule for code, rule in BODY_RULES.items() if "-CLASS-" in code)
"""Rules of the classes."""
_MEDIUM, _TALL, _BLUNT, _FLAT = CLASS_RULES
_HIGHER_RISK: Final = {code: words.get("higher_risk_percent", {}) for code, words in WORDS.items()}
"""Fatality risk of a struck pedestrian, in per cent above low and sloped fronts, or above steeper
bonnets; same study."""

_CLASS_SETTLED: Final = (
    "no test settles a class; measure height and angles again by the study's own figure before "
    "quoting it"
)


@dataclass(frozen=True)
class FrontClass:
    """A front in the classes of the study, at one station."""

    station: float  # Station used, the one nearest the centre plane [mm]
    ble_height_mm: float | None  # Leading-edge height [mm]
    height: Literal["low", "medium", "tall"] | None  # Its class
    face_angle_deg: float | None  # Face angle from the horizontal [deg]
    face: Literal["sloped", "blunt"] | None  # Its class
    whole_face_angle_deg: float
    bonnet_angle_deg: float | None  # Bonnet angle from the horizontal [deg]
    bonnet: Literal["flat", "steeper"] | None  # Its class
    higher_risk_percent: float | None  # Published fatality risk above low and sloped fronts [%]


def face_angle_deg(station: Station) -> float | None:
    """Return the lean of the line from UBRL to BLERL from the horizontal."""
    bumper, edge = station.UBRL.point, station.BLERL.point
    if bumper is None or edge is None or edge[1] <= bumper[1]:
        return None
    return math.degrees(math.atan2(edge[1] - bumper[1], edge[0] - bumper[0]))


def front_class(lined: LinedFront) -> FrontClass:
    """Put a front into the classes of the study."""
    station = min(lined.stations, key=lambda s: (abs(s.y), s.y))
    face = lined.front.section(station.y).face
    edge, angle, bonnet = station.BLERL.z, face_angle_deg(station), face.bonnet_angle_deg
    height: Literal["low", "medium", "tall"] | None = None
    if edge is not None:
        height = "tall" if _beyond(_TALL, edge) else "medium" if _beyond(_MEDIUM, edge) else "low"
    kind: Literal["sloped", "blunt"] | None = None
    if angle is not None:
        kind = "blunt" if _beyond(_BLUNT, angle) else "sloped"
    risks = _HIGHER_RISK[(_TALL if height == "tall" else _MEDIUM).code]
    return FrontClass(
        station=station.y,
        ble_height_mm=edge,
        height=height,
        face_angle_deg=angle,
        face=kind,
        whole_face_angle_deg=90.0 - face.mean_face_angle_deg,
        bonnet_angle_deg=bonnet,
        bonnet=None if bonnet is None else "steeper" if _beyond(_FLAT, bonnet) else "flat",
        higher_risk_percent=None if height in (None, "low") else risks.get(kind),
    )


def _beyond(rule: FindingRule, value: float) -> bool:
    """Whether a value lies above the limit of a class, its lower one where it has two."""
    return value > _limits(rule)[0]


def _limits(rule: FindingRule) -> tuple[float, float]:
    limit = rule.threshold
    assert limit is not None
    return limit if isinstance(limit, tuple) else (limit, limit)


def class_findings(lined: LinedFront) -> tuple[Finding, ...]:
    """Return what the classes of the study say of a front."""
    found = front_class(lined)
    return tuple(_class_findings(lined.front, lined.station(found.station), found))


def _class_findings(front: Front, station: Station, found: FrontClass) -> Iterator[Finding]:
    section = front.section(station.y)
    where = f"at y = {station.y:g} mm"
    bumper, edge = station.UBRL.point, station.BLERL.point

    def made(
        rule: FindingRule, name: str, ends: tuple[Point, Point], value: float, says: str
    ) -> Finding:
        region = line_region(name, section, *ends)
        return Finding(rule, region, station.y, value, f"{says}.", _CLASS_SETTLED)

    if edge and found.height in ("medium", "tall"):
        low, high = _limits(_MEDIUM)
        rule, span = (
            (_TALL, f"over {high:g} mm")
            if found.height == "tall"
            else (_MEDIUM, f"over {low:g}, up to {high:g} mm")
        )
        says = (
            f"Leading edge {edge[1]:.0f} mm high {where}: {found.height} class ({span}); "
            f"{_risk(found)}"
        )
        yield made(rule, "bonnet leading edge", (edge, edge), edge[1], says)
    if edge and bumper and found.face == "blunt" and found.face_angle_deg is not None:
        says = (
            f"Face {found.face_angle_deg:.1f} deg to the horizontal, UBRL to BLERL, {where}: blunt "
            f"class (over {_limits(_BLUNT)[0]:g} deg); {found.whole_face_angle_deg:.1f} deg over "
            "the whole face"
        )
        yield made(_BLUNT, "face", (bumper, edge), found.face_angle_deg, says)
    if found.bonnet == "flat" and found.bonnet_angle_deg is not None:
        says = (
            f"Bonnet rises at {found.bonnet_angle_deg:.1f} deg {where}: flat class (up to "
            f"{_limits(_FLAT)[0]:g} deg); in that study's population flat bonnets had a fatality "
            f"risk {_HIGHER_RISK[_FLAT.code]['flat']:g} % above steeper ones"
        )
        yield made(_FLAT, "bonnet", _bonnet_ends(section), found.bonnet_angle_deg, says)


def _bonnet_ends(section: Section) -> tuple[tuple[float, float], tuple[float, float]]:
    """The stretch that the bonnet angle was taken over, or near enough for a drawing."""
    chosen = section.points[section.part_mask("bonnet")]
    if len(chosen):
        return tuple(chosen[0]), tuple(chosen[-1])
    return section.face.face_top, tuple(section.points[-1])


def _risk(found: FrontClass) -> str:
    if found.face is None or found.height is None:
        return "face angle not known, so no figure of the study can be named"
    sloped_only_here = found.face == "sloped" and found.whole_face_angle_deg > _limits(_BLUNT)[0]
    other = (
        f"; the face is sloped from UBRL to BLERL ({found.face_angle_deg:.1f} deg) but blunt over "
        f"its whole height ({found.whole_face_angle_deg:.1f} deg), so the class is not certain"
        if sloped_only_here
        else ""
    )
    percent = found.higher_risk_percent
    if percent is None:
        text = f"no figure of the study is held for {found.height} and {found.face} fronts"
    else:
        text = (
            f"in that study's population {found.height} and {found.face} fronts had a fatality "
            f"risk {percent:g} % above low and sloped ones"
        )
    return text + other

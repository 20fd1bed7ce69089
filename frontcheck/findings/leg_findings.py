"""Leg findings: where and how the front meets an upright leg, and what that does to the knee.

The geometry and the models are in `frontcheck.legs`; here they are compared with thresholds.
Neighbouring stations and all people who share a finding are told in one, with the value of
the place and person where it holds most clearly.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.findings import leg_rules as rules_of
from frontcheck.findings.finding import Finding, line_region, runs, stations_text
from frontcheck.findings.leg_rules import LEG_RULES
from frontcheck.legs.contact import first_touch, front_contact, silhouette_of
from frontcheck.legs.foundation import contact_bands, foundation_load, knee_response
from frontcheck.people.impactors import RIGID_LEGFORM
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.finding import FindingRule
    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section

# Where each leg rule holds, station by station and person by person.

_Point = tuple[float, float]


@dataclass(frozen=True)
class LegSettings:
    """Depths and thresholds of the leg findings; the defaults are common practice, no source."""

    knee_half_band_mm: float = 50.0  # The knee band reaches this far below and above the knee
    depth_mm: float = 60.0  # How far the front is pushed into the leg for the load
    early_depth_mm: float = 20.0  # The same shortly after first touch, for split contact
    lip_mm: float = 10.0  # Lower lip this far behind or ahead of the bumper counts
    overhang_mm: float = 15.0  # Lean forward beyond this counts
    free_stretch_mm: float = 50.0  # Free stretch between two contact bands beyond this counts
    lead_mm: float = 100.0  # Bumper lead below this is short
    legform_margin_mm: float = 15.0  # Lower bumper height this near a change of legform counts
    opens_share: float = 0.5  # Opening and closing rate, as shares of that of a blow at the knee
    closes_share: float = 0.2  # Opening and closing rate, as shares of that of a blow at the knee

    def __post_init__(self) -> None:
        """Check the values."""
        for entry in fields(self):
            value = getattr(self, entry.name)
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError(f"{entry.name} must be a positive number, not {value:g}")


@dataclass(frozen=True)
class Hit:
    """One rule that holds at one station, for one person or for the front as such."""

    rule: FindingRule  # The rule
    value: float  # What was compared, in the unit of the rule
    threshold: float | tuple[float, float]  # What it was compared with
    margin: float  # How clearly the rule holds, 0 at the threshold
    start: _Point  # Ends (x, z) of the stretch of contour concerned [mm]
    end: _Point  # Ends (x, z) of the stretch of contour concerned [mm]
    detail: str  # Value and threshold in words
    person: str = ""  # Name of the person concerned


def hits_at(
    lined: LinedFront, station: Station, people: Sequence[Person], settings: LegSettings
) -> list[Hit]:
    """Return every leg rule that holds at one station."""
    section = lined.front.section(station.y)
    hits = [*_front_hits(lined, section, station, settings)]
    # Without any surface at these heights there is nothing to find; it is a gap.
    with suppress(NotAvailableError):
        hits.extend(_legform_hits(section, settings, people))
    for person in people:
        with suppress(NotAvailableError):
            hits.extend(_person_hits(section, station, person, settings))
    return hits


def _front_hits(
    lined: LinedFront, section: Section, station: Station, settings: LegSettings
) -> Iterator[Hit]:
    """Rules on the shape alone: lips, overhang, lead, legform."""
    contact = front_contact(section, station, lined.rules)
    lip, bumper = contact.member("lower lip"), contact.member("bumper")
    if contact.undercut_mm is not None and lip is not None and bumper is not None:
        start, end = (lip.x, lip.z), (bumper.x, bumper.z)
        heights = f"lip {lip.z:.0f} mm and bumper {bumper.z:.0f} mm high"
        for rule, value in (
            (rules_of.UNDERCUT, contact.undercut_mm),
            (rules_of.LIP_AHEAD, -contact.undercut_mm),
        ):
            if value > settings.lip_mm:
                margin = value - settings.lip_mm
                detail = f"{value:.1f} mm, more than {settings.lip_mm:g} mm ({heights})"
                yield Hit(rule, value, settings.lip_mm, margin, start, end, detail)
    face = section.face
    if (
        face.overhang_mm > settings.overhang_mm
        and face.overhang_from is not None
        and face.overhang_to is not None
    ):
        detail = (
            f"{face.overhang_mm:.1f} mm between {face.overhang_from[1]:.0f} and "
            f"{face.overhang_to[1]:.0f} mm high, more than {settings.overhang_mm:g} mm"
        )
        yield Hit(
            rules_of.OVERHANG,
            face.overhang_mm,
            settings.overhang_mm,
            face.overhang_mm - settings.overhang_mm,
            face.overhang_from,
            face.overhang_to,
            detail,
        )
    lead, upper, edge = station.bumper_lead, _point(station, "UBRL"), _point(station, "BLERL")
    if lead is not None and upper and edge and lead < settings.lead_mm:
        detail = f"{lead:.1f} mm, less than {settings.lead_mm:g} mm"
        yield Hit(
            rules_of.SHORT_LEAD,
            lead,
            settings.lead_mm,
            settings.lead_mm - lead,
            upper,
            edge,
            detail,
        )
    height, lower = station.lower_bumper_height, _point(station, "LBRL")
    limit, margin_mm = contact.legform_limit_mm, contact.legform_margin_mm
    if height is None or lower is None or limit is None or margin_mm is None:
        return
    either_from = lined.rules.value("legform.lower_below_mm")
    if height >= either_from:
        detail = f"{height:.0f} mm, not below {either_from:g} mm; legform: {station.legform}"
        yield Hit(
            rules_of.HIGH_BUMPER,
            height,
            either_from,
            height - either_from,
            lower,
            lower,
            detail,
        )
    near = settings.legform_margin_mm
    if abs(margin_mm) <= near:
        side = "above" if margin_mm >= 0.0 else "below"
        detail = f"{abs(margin_mm):.1f} mm {side} {limit:g} mm, within {near:g} mm"
        yield Hit(
            rules_of.LEGFORM_NEAR,
            margin_mm,
            (-near, near),
            near - abs(margin_mm),
            lower,
            lower,
            detail,
        )


def _legform_hits(
    section: Section, settings: LegSettings, people: Sequence[Person]
) -> Iterator[Hit]:
    """Rules on the load of the rigid legform, and on its first contact."""
    seen = silhouette_of(section, RIGID_LEGFORM.low_mm, RIGID_LEGFORM.high_mm)
    early = contact_bands(seen, settings.early_depth_mm)
    free = [
        (above[0] - below[1], below[1], above[0])
        for below, above in zip(early, early[1:], strict=False)
    ]
    if free and max(free)[0] > settings.free_stretch_mm:
        size, low, high = max(free)
        inside = [p.name for p in people if low <= p.knee.known() <= high]
        detail = (
            f"{size:.0f} mm free between {low:.0f} and {high:.0f} mm high, more than "
            f"{settings.free_stretch_mm:g} mm"
        )
        for name in inside or [""]:
            yield Hit(
                rules_of.SPLIT_CONTACT,
                size,
                settings.free_stretch_mm,
                size - settings.free_stretch_mm,
                _on(section, low),
                _on(section, high),
                detail,
                name,
            )
    response = knee_response(section, settings.depth_mm)
    rate, height = float(response.rate[0]), float(response.height[0])
    bands = contact_bands(seen, settings.depth_mm)
    start, end = _on(section, bands[0][0]), _on(section, bands[-1][1])
    opens = settings.opens_share * response.blow_at_knee
    closes = -settings.closes_share * response.blow_at_knee
    for rule, limit, word in (
        (rules_of.KNEE_OPENS, opens, "more"),
        (rules_of.KNEE_CLOSES, closes, "less"),
    ):
        over = rate - limit if word == "more" else limit - rate
        if over > 0.0:
            detail = (
                f"{rate:.2f} rad/s per N s, {word} than {limit:.2f}, with the load "
                f"{height:.0f} mm high"
            )
            yield Hit(rule, rate, limit, over, start, end, detail)


def _person_hits(
    section: Section, station: Station, person: Person, settings: LegSettings
) -> Iterator[Hit]:
    """Rules that compare one station with one person."""
    knee, half = person.knee.known(), settings.knee_half_band_mm
    touch = first_touch(section, person, half)
    at = (touch.x, touch.z)
    above = touch.above_knee_mm
    where = f"{_above(above)} the knee at {knee:.0f} mm"
    if touch.place == "knee":
        detail = f"{touch.z:.0f} mm high, {where}, within {half:g} mm"
        yield Hit(
            rules_of.KNEE_FIRST,
            above,
            (-half, half),
            half - abs(above),
            at,
            at,
            detail,
            person.name,
        )
    if touch.place == "thigh":
        detail = f"{touch.z:.0f} mm high, {where}, more than {half:g} mm"
        yield Hit(rules_of.THIGH_FIRST, above, half, above - half, at, at, detail, person.name)
    lower, upper = _point(station, "LBRL"), _point(station, "UBRL")
    if lower and upper and lower[1] <= knee <= upper[1]:
        detail = f"knee {knee:.0f} mm, between {lower[1]:.0f} and {upper[1]:.0f} mm"
        margin = min(knee - lower[1], upper[1] - knee)
        yield Hit(
            rules_of.KNEE_IN_BAND,
            knee,
            (lower[1], upper[1]),
            margin,
            lower,
            upper,
            detail,
            person.name,
        )
    yield from _load_hits(section, person, settings)


def _load_hits(section: Section, person: Person, settings: LegSettings) -> Iterator[Hit]:
    """Rules on the load of one person's leg."""
    knee, half = person.knee.known(), settings.knee_half_band_mm
    seen = silhouette_of(section, 0.0, person.hip.known())
    load = foundation_load(seen, settings.depth_mm, knee, half)
    bands = load.bands[0]
    start, end = _on(section, bands[0][0]), _on(section, bands[-1][1])
    height = float(load.height[0])
    above = height - knee
    shares = (
        f"{100 * load.below[0]:.0f} % below, {100 * load.across[0]:.0f} % across and "
        f"{100 * load.above[0]:.0f} % above the band"
    )
    where = f"{height:.0f} mm high, {_above(above)} the knee at {knee:.0f} mm"
    if abs(above) <= half:
        detail = f"{where}, within {half:g} mm ({shares})"
        yield Hit(
            rules_of.LOAD_AT_KNEE,
            above,
            (-half, half),
            half - abs(above),
            start,
            end,
            detail,
            person.name,
        )
    elif above > half:
        detail = f"{where}, more than {half:g} mm ({shares})"
        yield Hit(
            rules_of.LOAD_ABOVE_KNEE, above, half, above - half, start, end, detail, person.name
        )
    lowest, middle = bands[0][0], 0.5 * (person.ankle.known() + knee)
    if lowest > middle:
        detail = f"lowest touch {lowest:.0f} mm, above the middle of the shin at {middle:.0f} mm"
        foot = _on(section, lowest)
        yield Hit(
            rules_of.FREE_SHIN,
            lowest,
            middle,
            lowest - middle,
            foot,
            foot,
            detail,
            person.name,
        )


def _point(station: Station, name: str) -> _Point | None:
    line = {"LBRL": station.LBRL, "UBRL": station.UBRL, "BLERL": station.BLERL}[name]
    return None if line.x is None or line.z is None else (line.x, line.z)


def _on(section: Section, height: float) -> _Point:
    """The point that an upright leg sees at a height."""
    return float(np.ma.getdata(section.setback_at(height))), height


def _above(mm: float) -> str:
    return f"{abs(mm):.0f} mm {'above' if mm >= 0.0 else 'below'}"


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

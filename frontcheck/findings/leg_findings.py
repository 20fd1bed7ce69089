"""Leg findings: where and how the front meets an upright leg, and what that does to the knee.

The geometry and the models are in `frontcheck.legs`; here they are compared with thresholds.
Neighbouring stations and all people who share a finding are told in one, with the value of
the place and person where it holds most clearly.
"""

from __future__ import annotations

from contextlib import suppress
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import NotAvailableError
from frontcheck.findings.finding import Finding, hits, line_region, stations_text, told
from frontcheck.findings.finding_rules import LEG_RULES, WORDS
from frontcheck.findings.finding_settings import LegSettings
from frontcheck.legs.contact import first_touch, front_contact, silhouette_of
from frontcheck.legs.foundation import contact_bands, knee_response
from frontcheck.people.impactors import legform_of
from frontcheck.people.people import ADULTS, PEOPLE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from frontcheck.findings.finding import Hit, Point, Run
    from frontcheck.findings.finding_rules import Threshold
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.impactors import Legform
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section
    from frontcheck.zones.front_zones import BumperArea

SMALLEST: Final = ADULTS[0]
"""The small woman, whose shin is the lowest of the adults."""


_OF_LEGFORM: Final = frozenset({"LEG-KNEE-OPENS", "LEG-KNEE-CLOSES"})
_OF_PEOPLE: Final = frozenset({"LEG-KNEE-FIRST", "LEG-THIGH-FIRST", "LEG-TRUNK-FIRST"})


def hits_at(
    lined: LinedFront,
    station: Station,
    people: Sequence[Person],
    settings: LegSettings,
    wanted: Collection[str] = LEG_RULES,
) -> list[Hit]:
    """Return every leg rule that holds at one station, or at least those wanted."""
    section = lined.front.section(station.y)
    found = [*_front_hits(lined, section, station, settings, people)]
    # Without any surface at these heights there is nothing to find; it is a gap.
    legform = legform_of(lined.rules)
    if "LEG-SPLIT-CONTACT" in wanted:
        with suppress(NotAvailableError):
            found.extend(_split_hits(section, settings, people, legform))
    # Where the upper legform is used the lower one meets nothing.
    if not _OF_LEGFORM.isdisjoint(wanted) and station.legform != "upper":
        with suppress(NotAvailableError):
            found.extend(_legform_hits(section, settings, legform))
    for person in people if not _OF_PEOPLE.isdisjoint(wanted) else ():
        with suppress(NotAvailableError):
            found.extend(_person_hits(section, person, settings))
    return found


def _hits(
    code: str,
    value: float,
    threshold: Threshold,
    stretch: tuple[Point, Point],
    detail: str,
    person: str = "",
) -> Iterator[Hit]:
    return hits(LEG_RULES[code], value, threshold, *stretch, detail, person)


def _front_hits(
    lined: LinedFront,
    section: Section,
    station: Station,
    settings: LegSettings,
    people: Sequence[Person],
) -> Iterator[Hit]:
    """Rules on the shape alone: lips, overhang, lead, legform."""
    contact = front_contact(section, station, lined.rules)
    lip, bumper = contact.member("lower lip"), contact.member("bumper")
    if contact.undercut_mm is not None and lip is not None and bumper is not None:
        heights = f"lip {lip.z:.0f} mm and bumper {bumper.z:.0f} mm high"
        for code, value in (
            ("LEG-UNDERCUT", contact.undercut_mm),
            ("LEG-LIP-AHEAD", -contact.undercut_mm),
        ):
            detail = f"{value:.1f} mm, more than {settings.lip_mm:g} mm ({heights})"
            ends = (lip.x, lip.z), (bumper.x, bumper.z)
            yield from _hits(code, value, settings.lip_mm, ends, detail)
    face, most = section.face, settings.overhang_mm
    if face.overhang_from is not None and face.overhang_to is not None:
        low, high = face.overhang_from, face.overhang_to
        detail = (
            f"{face.overhang_mm:.1f} mm between {low[1]:.0f} and {high[1]:.0f} mm high, more than "
            f"{most:g} mm"
        )
        yield from _hits("LEG-OVERHANG", face.overhang_mm, most, (low, high), detail)
    lead, upper, edge = station.bumper_lead, station.UBRL.point, station.BLERL.point
    if lead is not None and upper and edge:
        detail = f"{lead:.1f} mm, less than {settings.lead_mm:g} mm"
        yield from _hits("LEG-SHORT-LEAD", lead, settings.lead_mm, (upper, edge), detail)
        detail = f"{lead:.1f} mm, more than {settings.long_lead_mm:g} mm"
        yield from _hits("LEG-LONG-LEAD", lead, settings.long_lead_mm, (upper, edge), detail)
    yield from _low_hits(section, station, settings, people)
    height, lower = station.lower_bumper_height, station.LBRL.point
    if lower and upper:
        apart = lower[1] - upper[1]
        detail = f"LBRL {lower[1]:.0f} mm, UBRL {upper[1]:.0f} mm high"
        yield from _hits("LEG-LINES-CROSSED", apart, 0.0, (upper, lower), detail)
    limit, margin_mm = contact.legform_limit_mm, contact.legform_margin_mm
    if height is None or lower is None or limit is None or margin_mm is None:
        return
    either = lined.rules.value("legform.lower_below_mm")
    detail = f"{height:.0f} mm, below {either:g} mm"
    yield from _hits("LEG-LOWER-LEGFORM", height, either, (lower, lower), detail)
    detail = f"{height:.0f} mm, not below {either:g} mm; legform: {station.legform}"
    yield from _hits("LEG-HIGH-BUMPER", height, either, (lower, lower), detail)
    near = settings.legform_margin_mm
    side = "above" if margin_mm >= 0.0 else "below"
    detail = f"{abs(margin_mm):.1f} mm {side} {limit:g} mm, within {near:g} mm"
    yield from _hits("LEG-LEGFORM-NEAR", margin_mm, (-near, near), (lower, lower), detail)


def _low_hits(
    section: Section, station: Station, settings: LegSettings, people: Sequence[Person]
) -> Iterator[Hit]:
    """The rule that nothing low meets the leg while the bumper does."""
    middle, foremost = settings.mid_shin_mm, station.foremost
    if foremost is None:
        return
    # A bumper as low as the shin is itself low; above it lips do not count, ahead or behind.
    above = SMALLEST.knee.known() - settings.knee_half_band_mm
    if foremost[1] < above:
        with suppress(NotAvailableError):  # a contour may end below
            foremost = silhouette_of(section, above, SMALLEST.hip.known()).foremost
    seen = silhouette_of(section, 0.0, max(foremost[1], middle) + 1.0)
    depth = foremost[0] + settings.low_depth_mm - seen.foremost_x
    lowest = contact_bands(seen, depth)[0][0] if depth > 0.0 else foremost[1]
    at = _on(section, lowest)
    detail = (
        f"lowest surface within {settings.low_depth_mm:g} mm of the bumper {lowest:.0f} mm high, "
        f"above {middle:.0f} mm"
    )
    free = [p.name for p in people if 0.5 * (p.ankle.known() + p.knee.known()) < lowest]
    for name in free or [""]:
        yield from _hits("LEG-NOTHING-LOW", lowest, middle, (foremost, at), detail, name)


def _split_hits(
    section: Section, settings: LegSettings, people: Sequence[Person], legform: Legform
) -> Iterator[Hit]:
    """The rule that a leg is first met at two places: a person's, else the legform."""
    depth, most = settings.early_depth_mm, settings.free_stretch_mm
    early = contact_bands(silhouette_of(section, legform.low_mm, legform.high_mm), depth)
    split = []
    for person in people:
        # Nothing of a legform stands under a person's name: what the person's own leg meets.
        leg = contact_bands(silhouette_of(section, 0.0, person.hip.known()), depth)
        knee = person.knee.known()
        split += [(*free, person.name) for free in _free(leg) if free[1] <= knee <= free[2]]
    for size, low, high, name in split or [(*free, "") for free in _free(early)[:1]]:
        detail = (
            f"{size:.0f} mm free between {low:.0f} and {high:.0f} mm high, more than {most:g} mm"
        )
        stretch = _on(section, low), _on(section, high)
        yield from _hits("LEG-SPLIT-CONTACT", size, most, stretch, detail, name)


def _legform_hits(section: Section, settings: LegSettings, legform: Legform) -> Iterator[Hit]:
    """Rules on the load of the lower legform of the rule set."""
    seen = silhouette_of(section, legform.low_mm, legform.high_mm)
    response = knee_response(section, settings.depth_mm, legform)
    rate, height = float(response.rate[0]), float(response.height[0])
    bands = contact_bands(seen, settings.depth_mm)
    stretch = _on(section, bands[0][0]), _on(section, bands[-1][1])
    for code, share, word in (
        ("LEG-KNEE-OPENS", settings.opens_share, "more"),
        ("LEG-KNEE-CLOSES", -settings.closes_share, "less"),
    ):
        limit = share * response.blow_at_knee
        detail = (
            f"{rate:.2f} rad/s per N s, {word} than {limit:.2f}, with the load {height:.0f} mm high"
        )
        yield from _hits(code, rate, limit, stretch, detail)


def _free(bands: Sequence[tuple[float, float]]) -> list[tuple[float, float, float]]:
    """Size, lower and upper end of what is free between bands, the largest first."""
    free = [(above[0] - below[1], below[1], above[0]) for below, above in pairwise(bands)]
    return sorted(free, reverse=True)


def _person_hits(section: Section, person: Person, settings: LegSettings) -> Iterator[Hit]:
    """Rules that compare one station with one person."""
    knee, half, name = person.knee.known(), settings.knee_half_band_mm, person.name
    touch = first_touch(section, person, half)
    at, above = ((touch.x, touch.z),) * 2, touch.above_knee_mm
    where = f"{touch.z:.0f} mm high, {_above(above)} the knee at {knee:.0f} mm"
    if touch.place == "knee":
        detail = f"{where}, within {half:g} mm"
        yield from _hits("LEG-KNEE-FIRST", above, (-half, half), at, detail, name)
    if touch.place == "thigh":
        detail = f"{where}, more than {half:g} mm"
        yield from _hits("LEG-THIGH-FIRST", above, half, at, detail, name)
    if touch.place == "hip or trunk":
        hip = person.hip.known()
        over = touch.z - hip
        detail = f"{touch.z:.0f} mm high, {over:.0f} mm above the hip at {hip:.0f} mm"
        yield from _hits("LEG-TRUNK-FIRST", over, 0.0, at, detail, name)


def _on(section: Section, height: float) -> Point:
    """The point that an upright leg sees at a height."""
    x = section.foremost_at(height)
    if x is None:
        raise NotAvailableError(f"the section has nothing {height:g} mm high")
    return x, height


def _above(mm: float) -> str:
    return f"{abs(mm):.0f} mm {'above' if mm >= 0.0 else 'below'}"


def leg_findings(
    lined: LinedFront,
    people: Sequence[Person] = PEOPLE,
    settings: LegSettings | None = None,
    area: BumperArea | None = None,
) -> tuple[Finding, ...]:
    """Compare every station of a front with every leg rule and person."""
    settings = LegSettings() if settings is None else settings
    found = [aimed_hits(lined, at, people, settings, area) for at in lined.stations]
    aimed_at = {at.y for at in lined.stations if _inside(at, area)}
    return tuple(
        _finding(lined, run, people, aimed_at)
        for run in told(lined, LEG_RULES.values(), found, aimed_at)
    )


def aimed_hits(
    lined: LinedFront,
    station: Station,
    people: Sequence[Person],
    settings: LegSettings,
    area: BumperArea | None,
    wanted: Collection[str] = LEG_RULES,
) -> list[Hit]:
    """Return every leg rule that holds at one station, some only where a legform is aimed."""
    found = hits_at(lined, station, people, settings, wanted)
    return [hit for hit in found if _inside(station, area) or not _only(hit)]


def _inside(station: Station, area: BumperArea | None) -> bool:
    """Whether a legform is aimed at a station, as far as is known."""
    if area is None or area.y_min is None or area.y_max is None:
        return True
    return area.y_min <= station.y <= area.y_max


def _only(hit: Hit) -> bool:
    """Whether a rule says something only where a legform is aimed."""
    return WORDS[hit.rule.code].get("aimed") == "only"


def _finding(
    lined: LinedFront, run: Run, people: Sequence[Person], aimed_at: set[float]
) -> Finding:
    """Tell one rule over neighbouring stations."""
    front, worst, station = lined.front, run.worst, run.station
    words = WORDS[worst.rule.code]
    always: list[str] = []
    partly: list[str] = []
    for person in people:
        count = sum(any(hit.person == person.name for hit in at) for at in run.hits)
        if count:
            (always if count == len(run.hits) else partly).append(person.name)
    several = len(run.stations) > 1
    concerned = f"{words['who']} {', '.join(always or partly)}" if always or partly else ""
    if always and partly:
        concerned += f" (at some of these stations also {', '.join(partly)})"
    elif partly and several:
        concerned += " at some of these stations"
    clearest = f"at y = {station.y:g} mm" if several else "here"
    if worst.person and len(always) + len(partly) > 1:
        clearest += f" for {worst.person}"
    says = words["says"].format(where=stations_text(run.ys, front))
    section = front.section(station.y)
    outline = [(at[0].end[0], y, at[0].end[1]) for y, at in zip(run.ys, run.hits, strict=True)]
    return Finding(
        rule=worst.rule,
        region=line_region(words["region"], section, worst.start, worst.end, outline),
        station=station.y,
        value=worst.value,
        message=f"{says}{concerned}; clearest {clearest}: {worst.detail}.",
        settled_by=_settled_by(lined, station, words, aimed=station.y in aimed_at),
        person=", ".join(p.name for p in people if p.name in (*always, *partly)),
        threshold=worst.threshold,
        spread=run.spread,
    )


def _settled_by(
    lined: LinedFront, station: Station, words: Mapping[str, Any], *, aimed: bool
) -> str:
    """Name a test only where it is aimed and loads what is concerned."""
    y = f"{station.y:g}"
    if "settled_by" in words:
        return str(words["settled_by"].format(y=y))
    if aimed and station.legform in ("lower", "either"):
        choice = ", if the manufacturer chooses it" if station.legform == "either" else ""
        return f"lower legform test at y = {y} mm{choice}"
    where = "loads this" if aimed else "is aimed"
    return f"no legform of {lined.rules.id} {where} at y = {y} mm; take a push-in reading there"

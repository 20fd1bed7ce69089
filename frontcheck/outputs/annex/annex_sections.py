"""The sections of the annex that speak of one front."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.body.person_motion import KINDS, by_reason
from frontcheck.findings.people_rows import head_part, percent, plain_person
from frontcheck.front.plausible import doubts_said
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, STATUS_WORDS
from frontcheck.outputs.annex import annex_text as words
from frontcheck.outputs.annex.annex_text import (
    MISSING,
    SQUARE_METRES,
    Bullets,
    Facts,
    Paragraph,
    Section,
    Table,
    marked,
    number,
    phrase,
    tabled,
    told,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from frontcheck.body.motion import Difference, MotionStudy, PersonChange
    from frontcheck.body.person_motion import PersonMotion, Spread
    from frontcheck.lines.front_line import Pair, Spot
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.outputs.annex.annex_text import Block, Picture
    from frontcheck.screening import Screening
    from frontcheck.zones.front_zones import BumperArea, HeadformArea, LegformRun, Thirds


def input_and_settings(screening: Screening, other: Screening | None = None) -> Section:
    """Return the section on what this is, on input and on settings."""
    rules, zones = screening.rules, screening.zones
    beam = zones.options.beam_ends_mm
    settings = (
        ("Rule set", f"{rules.id}: {rules.title}"),
        ("Constants set by the user", ", ".join(rules.changed) or "none"),
        ("Wrap-around distances (WAD) [mm]", ", ".join(f"{d:g}" for d in screening.wad)),
        ("The tape stands", phrase("tape_start", screening.tape_start)),
        ("Surface between stations", zones.surface or "none: no common datum"),
        ("Spacing of candidate points [mm]", f"{zones.options.grid_mm:g}"),
        ("Ends of the bumper beam [mm]", "not given" if beam is None else words.extent_text(beam)),
    )
    blocks: list[Block] = [told("about"), told("exact"), front_facts(screening, "Input")]
    if other is not None:
        blocks.append(front_facts(other, "Input that it is compared with"))
    blocks.append(Facts("Settings", settings))
    return Section("input", "What this is, input and settings", tuple(blocks))


def front_facts(screening: Screening, caption: str) -> Facts:
    """Return what is known of an input."""
    front = screening.front
    mirrored = "yes: one half was given, the other is its mirror image"
    stations = ", ".join(map(words.station_number, front.stations))
    if len(front.stations) > 40:
        low, high = (number(y) for y in (front.stations[0], front.stations[-1]))
        stations = f"{len(front.stations)} from {low} to {high}"
    pairs = [
        ("Name", front.name),
        ("File", front.source.file or "made in memory"),
        ("SHA-256 of the file", front.source.sha256 or MISSING),
        ("Kind of input", front.source.kind),
        ("Datum", phrase("datum", front.datum)),
        ("Symmetric", mirrored if front.symmetric else "no: given as a whole"),
        ("Stations y [mm]", stations),
        ("Slope of the ground [deg]", number(front.ground_slope_deg, 2)),
    ]
    said = (
        ("Method", front.method),
        ("Notes in the file", front.notes),
        ("Not measured", front.not_measured),
        ("Changed from what was measured", "; ".join(front.changes)),
        ("Detected or repaired by the reader", " ".join(front.reader_notes)),
        ("Whether it looks like a front", " ".join(doubts_said(screening.doubts))),
        ("Taken without being told", " ".join(screening.assumed(struck=False))),
    )
    pairs += [(name, text) for name, text in said if text]
    return Facts(caption, tuple(pairs))


def reference_lines(screening: Screening) -> Section:
    """Return the section with the tables of lines."""
    blocks: list[Block] = [*line_tables(screening)]
    notes = words.status_notes(screening)
    if notes:
        blocks += [Paragraph("Statuses other than ok, and what to mind:"), Bullets(notes)]
    return Section("lines", "Reference lines", tuple(blocks))


def line_tables(screening: Screening, of: str = "") -> tuple[Table, Table]:
    """Return the tables of reference lines and of wrap-around points."""
    first = screening.stations[0]
    rows, taped = [], []
    for station in screening.stations:
        row = [words.station_number(station.y)]
        for line in station.lines:
            mark = "*" if line.formed and (line.status != "ok" or line.reason) else ""
            row += [marked(number(line.z), line.status) + mark, marked(number(line.x), line.status)]
        lead = marked(number(station.bumper_lead), words.lead_status(station))
        rows.append((*row, lead, station.legform or MISSING))
        row = [words.station_number(station.y)]
        for point in station.wads:
            mark = "*" if point.bridged or point.status == OPEN_END else ""
            row += [marked(number(point.z), point.status) + mark]
            row += [marked(number(point.x), point.status)]
        taped.append(tuple(row))
    status = told("status_note", missing=MISSING, open_end=STATUS_WORDS[OPEN_END])
    return (
        Table(
            f"Reference lines by station{of} [mm]",
            (*_columns(first.lines), "bumper lead", "legform"), tuple(rows),
            (1.0, *([1.05] * 8), 1.0, 0.9), (told("lines_note").text, status.text),
        ),
        Table(
            f"Points at the wrap-around distances by station{of} [mm]", _columns(first.wads),
            tuple(taped), (1.0, *([1.0] * (2 * len(first.wads)))), (told("tape_note").text,),
        ),
    )  # fmt: skip


def _columns(points: Iterable[LinePoint | WadPoint]) -> tuple[str, ...]:
    heads = (f"{point.name} {what}" for point in points for what in ("height", "setback"))
    return ("station y [mm]", *heads)


def findings(screening: Screening) -> Section:
    """Return the section on findings."""
    rows = [
        (
            str(n),
            f"{finding.code}: {finding.rule.title}",
            words.place_text(finding),
            words.value_text(finding),
            words.limit_text(finding),
            finding.message,
            f"{finding.rule.source} ({finding.rule.provenance})",
            finding.settled_by,
        )
        for n, finding in enumerate(screening.findings, start=1)
    ]
    found = tabled("findings", rows) if rows else Paragraph("There is no finding.")
    holds = Paragraph(screening.answer.standing)
    return Section("findings", "Findings", (told("findings"), holds, found))


def constants(screening: Screening) -> Section:
    """Return the section with every constant of the rule set."""
    rows = (
        (c.name, c.plain, c.document, c.paragraph or "not known", c.provenance, c.note)
        for c in screening.rules
    )
    table = tabled("constants", rows, id=screening.rules.id)
    return Section("constants", "Constants and their sources", (table,))


def how_to_read(screening: Screening) -> Section:
    """Return the last section: cautions and how to read the annex."""
    said = tuple((f"{STATUS_NAMES[code]} ({code})", text) for code, text in STATUS_WORDS.items())
    statuses = Facts("Statuses of lines, places and areas", said)
    blocks = (Bullets(screening.all_cautions()[1:]), told("cautions"), statuses)
    return Section("cautions", "Cautions and how to read this annex", blocks)


# The section of the annex on test areas, and what bounds them.


def test_areas(screening: Screening, pictures: Sequence[Picture]) -> Section:
    """Return the section on bumper and headform test areas."""
    zones, corners = screening.zones, screening.zones.bumper_corners
    places = [
        *_pair_rows("bumper corner, by vertical plane", corners.plane),
        *_pair_rows("bumper corner, by corner gauge", corners.gauge),
        *_pair_rows("corner reference point (BLERL and SRL meet)", zones.corner_reference_points),
        *_pair_rows("rear corner (BRRL and SRL meet)", zones.rear_corners),
        *_thirds_rows("bumper", zones.bumper_thirds),
        *_thirds_rows("bonnet leading edge", zones.leading_edge_thirds),
    ]
    tool = phrase("corner_tool", corners.applies)
    areas = [
        _bumper_row(zones.bumper_test_area),
        *map(_legform_row, zones.legform_runs),
        _area_row(zones.child_area),
        _area_row(zones.adult_area),
    ]
    alike: dict[str, list[str]] = {}
    for line in zones.lines:
        if line.status != "ok" or line.reason:
            alike.setdefault(words.status_text(line), []).append(line.name)
    blocks: list[Block] = [
        tabled("areas", areas, zones.notes), tabled("places", places, tool=tool)
    ]  # fmt: skip
    if alike:
        lines = tuple(f"{', '.join(names)}, {why}" for why, names in alike.items())
        blocks += [Paragraph("Lines across the front, what to mind:"), Bullets(lines)]
    return Section("areas", "Test areas", (*blocks, *pictures))


def _bumper_row(area: BumperArea) -> tuple[str, ...]:
    extent = MISSING
    if area.y_min is not None and area.y_max is not None:
        extent = f"{words.extent_text((area.y_min, area.y_max))}, width {number(area.width)} mm"
    why = _noted(area.status, area.basis, area.reason)
    return ("bumper test area", marked(extent, area.status), STATUS_NAMES[area.status], why)


def _legform_row(run: LegformRun) -> tuple[str, ...]:
    extent = words.extent_text((run.y_from, run.y_to))
    return ("legform by lower bumper height", extent, "", phrase("legform", run.legform))


def _area_row(area: HeadformArea) -> tuple[str, ...]:
    extent = MISSING if area.area_m2 is None else f"{number(area.area_m2, 3)} {SQUARE_METRES}"
    why = _noted(area.status, area.reason)
    name = f"{area.name} headform area"
    return (name, marked(extent, area.status), STATUS_NAMES[area.status], why)


def _noted(status: str, *reasons: str) -> str:
    """Why, led by what the status means where the extent is doubtful or nothing else is said."""
    doubtful = status in ("open_end", "wad_only")
    words = STATUS_WORDS[status] if doubtful or (status != "ok" and not reasons[-1]) else ""
    return "; ".join(text for text in (words, *reasons) if text)


def _pair_rows(name: str, pair: Pair) -> list[tuple[str, ...]]:
    spots = (pair.left, pair.right)
    notes = ["; ".join(text for text in (spot.reason, pair.note) if text) for spot in spots]
    return _side_rows(name, spots, notes)


def _thirds_rows(name: str, thirds: Thirds) -> list[tuple[str, ...]]:
    if not thirds.cuts:
        dashes = (MISSING,) * 3
        status = STATUS_NAMES[thirds.status]
        return [(f"thirds of the {name}", "both", *dashes, status, thirds.reason)]
    whole = f"whole tape {number(thirds.length)} mm"
    notes = [spot.reason or whole for spot in thirds.cuts]
    return _side_rows(f"between thirds of the {name}", thirds.cuts, notes)


def _side_rows(name: str, spots: Sequence[Spot], notes: Sequence[str]) -> list[tuple[str, ...]]:
    """A row a side; one for both where the other is its mirror image and nothing else differs."""

    def row(side: str, spot: Spot, why: str, y_sign: float = 1.0) -> tuple[str, ...]:
        x, y, z = spot.point or (None, None, None)
        cells = (number(at) for at in (x, None if y is None else y_sign * y, z))
        places = (marked(cell, spot.status) for cell in cells)
        return (name, side, *places, STATUS_NAMES[spot.status], why)

    left, right = spots
    if row("", left, notes[0], -1.0) != row("", right, notes[1]):
        return [row("left", left, notes[0]), row("right", right, notes[1])]
    _, _, x, y, *rest = row("", right, notes[1])
    either = y if y == MISSING else y.replace(y.strip("()"), f"\N{PLUS-MINUS SIGN}{y.strip('()')}")
    return [(name, "either", x, either, *rest)]


# The section of the annex on people who are struck: figures, tables, what was assumed.


def struck_section(study: MotionStudy, pictures: Sequence[Picture]) -> Section:
    """Return the section on people who are struck."""
    y = study.sides[0].station.y
    where = "at the centre plane" if y == 0.0 else f"at station {number(y, 0)} mm"
    said = {"speed": study.speed_km_h, "draws": study.draws, "seed": study.seed, "where": where}
    notes = [told("range").text, told("word").text]
    tables = []
    for name, people in zip(study.names, study.motions, strict=True):
        more = [*notes, *_withheld(people)]
        tables.append(tabled("struck", map(_row, people), more, name=name))
        notes = []
    return Section(
        "motion",
        "People who are struck",
        (
            told("motion", **said),
            *pictures,
            *tables,
            *_changes(study),
            *(Bullets(study.notes, "Interpolated or left out") for _ in study.notes[:1]),
            Bullets(study.cautions[1:], "What this does not say"),
            Bullets(study.assumed, "What was assumed, and what would settle it"),
        ),
    )


def _row(one: PersonMotion) -> tuple[str, ...]:
    return (
        plain_person(one.person),
        *(percent(one.shares[key]) if one.shares else MISSING for key in KINDS),
        "not said" if one.refused else one.kind,
        MISSING if one.at_least is None else percent(one.at_least),
        _range(one.wad_mm),
        head_part(one) or MISSING,
        _range(one.time_ms),
        _range(one.torso_deg),
        _range(one.past_edge_mm),
    )


def _withheld(told: Sequence[PersonMotion] | Sequence[PersonChange]) -> Iterator[str]:
    """Why something is not given, each reason once, with whom it concerns."""
    for why, who in by_reason(told).items():
        yield f"{', '.join(map(plain_person, who))}: {why}."


def _range(spread: Spread | None) -> str:
    if spread is None:
        return MISSING
    return f"{number(spread.median, 0)} ({number(spread.p5, 0)} to {number(spread.p95, 0)})"


def _changes(study: MotionStudy) -> Iterator[Table]:
    if not study.changes:
        return
    a, b = study.names
    rows = (
        (plain_person(change.person), *_moved(change.wad), *_moved(change.time))
        for change in study.changes
    )
    yield tabled("moved", rows, _withheld(study.changes), a=a, b=b)


def _moved(of: Difference | None) -> tuple[str, str, str]:
    if of is None:
        return MISSING, MISSING, MISSING
    low, middle, high = (
        ("+" if round(value) > 0 else "") + number(value, 0)
        for value in (of.spread.p5, of.spread.median, of.spread.p95)
    )
    same = f"{percent(of.same_sign)} / {percent(of.same_sign_drawn_apart)}"
    return f"{middle} ({low} to {high})", phrase("separable", of.separable), same

"""The sections of the annex that speak of one front."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.front.plausible import doubts_said
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, STATUS_WORDS
from frontcheck.outputs.annex.annex_text import (
    MISSING,
    Bullets,
    Facts,
    Paragraph,
    Section,
    Table,
    extent_text,
    lead_status,
    limit_text,
    marked,
    number,
    place_text,
    status_notes,
    status_text,
    value_text,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.lines.front_line import Pair, Spot
    from frontcheck.outputs.annex.annex_text import Block, Picture
    from frontcheck.screening import Screening
    from frontcheck.zones.front_zones import BumperArea, HeadformArea, Thirds

_STATUS_NOTE: Final = (
    "* status other than ok, or something to mind; listed below the tables of this section. "
    f"{MISSING} could not be formed. In brackets: {STATUS_WORDS['open_end']}."
)
_LINES_NOTE: Final = (
    "LBRL lower bumper reference line; UBRL upper bumper reference line; BLERL bonnet leading edge "
    "reference line; BRRL bonnet rear reference line. Bumper lead: horizontal, from UBRL to BLERL. "
    "Legform by lower bumper height."
)
_TAPE_NOTE: Final = (
    "WAD wrap-around distance: length of a taut tape from the ground below the foremost bumper "
    "point to the point, along and over the outer surface."
)
_PROVENANCE_NOTE: Final = (
    "Text read: the text of this edition was read for this value. From memory: entered from memory "
    "of the text. From memory, unconfirmed: confirm before relying on it. Own choice: no text "
    "gives it; the note says why we took it. Common practice: a habit of the trade without a "
    "source. A paragraph is named only where it is known."
)


_ABOUT: Final = (
    Paragraph(
        "This annex states where the published pedestrian-protection definitions put their "
        "reference lines and test areas on one vehicle front, which regions of it are likely to "
        "load a leg or a head differently, and which test would settle each point. It is made "
        "from measured or drawn side sections alone: stiffness, structure behind the skin and "
        "moving parts are not known to it."
    ),
    Paragraph(
        "Contacts are exact on the polyline of each section; between two measured points the "
        "surface is taken as straight. Axes: x rearward (setback), y to the vehicle's right "
        "(station), z up from the ground (height). Lengths are in mm, angles in deg. Numbers are "
        "rounded here; screening.json holds them in full."
    ),
)


def input_and_settings(screening: Screening, other: Screening | None = None) -> Section:
    """Return the section on what this is, on input and on settings."""
    rules = screening.rules
    starts = {
        "section": "below the foremost bumper point of each section",
        "vehicle": "below the foremost point of the whole front",
    }
    settings = [
        ("Rule set", f"{rules.id}: {rules.title}"),
        ("Constants set by the user", ", ".join(rules.changed) or "none"),
        ("Wrap-around distances (WAD) [mm]", ", ".join(f"{d:g}" for d in screening.wad)),
        ("The tape stands", starts[screening.tape_start]),
        ("Surface between stations", screening.zones.surface or "none: no common datum"),
        ("Spacing of candidate points [mm]", f"{screening.zones.options.grid_mm:g}"),
    ]
    beam = screening.zones.options.beam_ends_mm
    settings.append(
        ("Ends of the bumper beam [mm]", "not given" if beam is None else extent_text(beam))
    )
    blocks: list[Block] = [*_ABOUT, front_facts(screening, "Input")]
    if other is not None:
        blocks.append(front_facts(other, "Input that it is compared with"))
    blocks.append(Facts("Settings", tuple(settings)))
    return Section("input", "What this is, input and settings", tuple(blocks))


def front_facts(screening: Screening, caption: str) -> Facts:
    """Return what is known of an input."""
    front = screening.front
    datum = {
        "common": "common: all setbacks are from one lateral line",
        "local": "local: the square was set anew at each station; plan shape not known",
    }[front.datum]
    mirrored = "yes: one half was given, the other is its mirror image"
    stations = ", ".join(number(y, 0 if y == round(y) else 1) for y in front.stations)
    if len(front.stations) > 40:
        low, high = (number(y) for y in (front.stations[0], front.stations[-1]))
        stations = f"{len(front.stations)} from {low} to {high}"
    pairs = [
        ("Name", front.name),
        ("File", front.source.file or "made in memory"),
        ("SHA-256 of the file", front.source.sha256 or MISSING),
        ("Kind of input", front.source.kind),
        ("Datum", datum),
        ("Symmetric", mirrored if front.symmetric else "no: given as a whole"),
        ("Stations y [mm]", stations),
        ("Slope of the ground [deg]", number(front.ground_slope_deg, 2)),
    ]
    said = (
        ("Method", front.method),
        ("Notes in the file", front.notes),
        ("Detected or repaired by the reader", " ".join(front.reader_notes)),
        ("Whether it looks like a front", " ".join(doubts_said(screening.doubts))),
        ("Taken without being told", " ".join(screening.assumed(struck=False))),
    )
    pairs += [(name, text) for name, text in said if text]
    return Facts(caption, tuple(pairs))


def reference_lines(screening: Screening) -> Section:
    """Return the section with the tables of lines."""
    notes = status_notes(screening)
    blocks: list[Table | Bullets | Paragraph] = list(line_tables(screening))
    if notes:
        blocks += [Paragraph("Statuses other than ok, and what to mind:"), Bullets(notes)]
    return Section("lines", "Reference lines", tuple(blocks))


def line_tables(screening: Screening, of: str = "") -> tuple[Table, Table]:
    """Return the tables of reference lines and of wrap-around points."""
    header = ["station y [mm]"]
    for name in (line.name for line in screening.stations[0].lines):
        header += [f"{name} height", f"{name} setback"]
    header += ["bumper lead", "legform"]
    rows: list[tuple[str, ...]] = []
    for station in screening.stations:
        row = [_station(station.y)]
        for line in station.lines:
            mark = "*" if line.formed and (line.status != "ok" or line.reason) else ""
            row += [marked(number(at), line.status) + m for at, m in ((line.z, mark), (line.x, ""))]
        lead = marked(number(station.bumper_lead), lead_status(station))
        rows.append((*row, lead, station.legform or MISSING))
    lines = Table(
        f"Reference lines by station{of} [mm]", tuple(header), tuple(rows),
        (1.0, *([1.05] * 8), 1.0, 0.9),
        (_LINES_NOTE, _STATUS_NOTE),
    )  # fmt: skip
    marks = screening.stations[0].wads
    header = ["station y [mm]"]
    for point in marks:
        header += [f"{point.name} height", f"{point.name} setback"]
    taped: list[tuple[str, ...]] = []
    for station in screening.stations:
        row = [_station(station.y)]
        for point in station.wads:
            z, x = (marked(number(at), point.status) for at in (point.z, point.x))
            row += [z + ("*" if point.bridged or point.status == OPEN_END else ""), x]
        taped.append(tuple(row))
    tape = Table(
        f"Points at the wrap-around distances by station{of} [mm]", tuple(header), tuple(taped),
        (1.0, *([1.0] * (2 * len(marks)))),
        (_TAPE_NOTE,),
    )  # fmt: skip
    return lines, tape


def findings(screening: Screening) -> Section:
    """Return the section on findings."""
    rows = tuple(
        (
            str(n),
            f"{finding.code}: {finding.rule.title}",
            place_text(finding),
            value_text(finding),
            limit_text(finding),
            finding.message,
            f"{finding.rule.source} ({finding.rule.provenance})",
            finding.settled_by,
        )
        for n, finding in enumerate(screening.findings, start=1)
    )
    intro = Paragraph(
        "A finding marks a region to look at and names the test that settles it. It states "
        "geometry and who relates it to loading; it says nothing of injury. Findings run from the "
        "ground up, then rearward."
    )
    holds = Paragraph(screening.answer.standing)
    if not rows:
        return Section("findings", "Findings", (intro, holds, Paragraph("There is no finding.")))
    table = Table(
        "Findings",
        ("no.", "code", "where", "value", "threshold", "what was found", "source (how known)",
         "what settles it"),
        rows, (0.5, 2.4, 1.2, 0.8, 1.05, 3.7, 3.7, 2.1),  # no code is broken to be searched in vain
    )  # fmt: skip
    return Section("findings", "Findings", (intro, holds, table))


def constants(screening: Screening) -> Section:
    """Return the section with every constant of the rule set."""
    rows = tuple(
        (
            constant.name,
            constant.plain,
            constant.document,
            constant.paragraph or "not known",
            constant.provenance,
            constant.note,
        )
        for constant in screening.rules
    )
    table = Table(
        f"Constants of rule set {screening.rules.id}",
        ("constant", "value", "document", "paragraph", "how known", "note"),
        rows, (2.9, 1.4, 3.4, 1.0, 1.5, 4.2),
        (_PROVENANCE_NOTE,),
    )  # fmt: skip
    return Section("constants", "Constants and their sources", (table,))


def how_to_read(screening: Screening) -> Section:
    """Return the last section: cautions and how to read the annex."""
    words = ((f"{STATUS_NAMES[code]} ({code})", text) for code, text in STATUS_WORDS.items())
    statuses = Facts("Statuses of lines, places and areas", tuple(words))
    return Section(
        "cautions",
        "Cautions and how to read this annex",
        (
            Bullets(screening.all_cautions()[1:]),
            Paragraph(
                "A line with a status other than ok follows a special case of the definitions; a "
                "line that could not be formed has a reason in place of a number. Thresholds of "
                "findings that have no published source are marked as our own choice: they "
                "choose what is shown, not what is safe. Settle each finding by the test named "
                "with it, at an accredited laboratory, under the rules in force where the vehicle "
                "is used."
            ),
            statuses,
        ),
    )


def _station(y: float) -> str:
    return number(y, 0 if y == round(y) else 1)


# The section of the annex on test areas, and what bounds them.

_THIRDS_NOTE: Final = (
    "SRL side reference line. Thirds: the outer contour cut in three equal lengths of tape."
)
_SQUARE_METRES: Final = "m\N{SUPERSCRIPT TWO}"


def test_areas(screening: Screening, pictures: Sequence[Picture]) -> Section:
    """Return the section on bumper and headform test areas."""
    zones, corners = screening.zones, screening.zones.bumper_corners
    applies = {"gauge": "corner gauge", "plane_60deg": "vertical plane"}[corners.applies]
    rows = [
        *_pair_rows("bumper corner, by vertical plane", corners.plane),
        *_pair_rows("bumper corner, by corner gauge", corners.gauge),
        *_pair_rows("corner reference point (BLERL and SRL meet)", zones.corner_reference_points),
        *_pair_rows("rear corner (BRRL and SRL meet)", zones.rear_corners),
        *_thirds_rows("bumper", zones.bumper_thirds),
        *_thirds_rows("bonnet leading edge", zones.leading_edge_thirds),
    ]
    places = Table(
        "Corners and thirds [mm]",
        ("place", "side", "setback x", "station y", "height z", "status", "reason or note"),
        tuple(rows), (3.0, 0.7, 0.9, 0.9, 0.9, 1.2, 4.0),
        (f"{_THIRDS_NOTE} The rule set finds bumper corners with the {applies}.",),
    )  # fmt: skip
    areas = Table(
        "Test areas",
        ("area", "extent", "status", "basis, reason or note"),
        (
            _bumper_row(zones.bumper_test_area),
            *(_legform_row(*run) for run in _runs(screening)),
            _area_row(zones.child_area),
            _area_row(zones.adult_area),
        ),
        (2.0, 2.4, 0.9, 5.0),
        tuple(zones.notes),
    )
    alike: dict[str, list[str]] = {}
    for line in zones.lines:
        if line.status != "ok" or line.reason:
            alike.setdefault(status_text(line), []).append(line.name)
    lines = [f"{', '.join(names)}, {why}" for why, names in alike.items()]
    said: list[Paragraph | Bullets] = []
    if lines:
        said = [Paragraph("Lines across the front, what to mind:"), Bullets(tuple(lines))]
    return Section("areas", "Test areas", (areas, places, *said, *pictures))


def _runs(screening: Screening) -> list[tuple[float, float, str]]:
    return [
        (run.y_from, run.y_to, run.legform or "not known") for run in screening.zones.legform_runs
    ]


def _bumper_row(area: BumperArea) -> tuple[str, ...]:
    extent = MISSING
    if area.y_min is not None and area.y_max is not None:
        extent = f"{extent_text((area.y_min, area.y_max))}, width {number(area.width)} mm"
    why = _noted(area.status, area.basis, area.reason)
    return ("bumper test area", marked(extent, area.status), STATUS_NAMES[area.status], why)


def _legform_row(low: float, high: float, legform: str) -> tuple[str, ...]:
    words = {"either": "lower or upper, by the manufacturer's choice"}.get(legform, legform)
    return ("legform by lower bumper height", extent_text((low, high)), "", words)


def _area_row(area: HeadformArea) -> tuple[str, ...]:
    extent = MISSING if area.area_m2 is None else f"{number(area.area_m2, 3)} {_SQUARE_METRES}"
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
        return (
            name,
            side,
            *(marked(c, spot.status) for c in cells),
            STATUS_NAMES[spot.status],
            why,
        )

    left, right = spots
    if row("", left, notes[0], -1.0) != row("", right, notes[1]):
        return [row("left", left, notes[0]), row("right", right, notes[1])]
    _, _, x, y, *rest = row("", right, notes[1])
    either = y if y == MISSING else y.replace(y.strip("()"), f"\N{PLUS-MINUS SIGN}{y.strip('()')}")
    return [(name, "either", x, either, *rest)]

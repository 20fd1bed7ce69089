"""The part of the page that shows side views: stations, rule sets, findings to point at."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Final

from frontcheck.outputs.annex.annex_text import (
    STATUS_WORDS,
    all_points,
    clean,
    line_source,
    number,
    place_text,
    point_name,
)
from frontcheck.outputs.annex.side_svg import (
    band_marks,
    base_drawing,
    frame_of,
    line_marks,
    tape_drawing,
)
from frontcheck.outputs.figures.findings_figure import bands_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.outputs.annex.side_svg import Frame
    from frontcheck.screening import Screening

MOST_STATIONS: Final = 61
"""Of more stations than this, evenly chosen ones are shown: a page has its limits."""

_LINES: Final = ("LBRL", "UBRL", "BLERL", "BRRL", "WAD")


@dataclass(frozen=True)
class _Variant:
    """What rule sets with the same result show of one station."""

    rules: tuple[str, ...]
    under: str
    drawing: str
    table: str


def viewer_html(screening: Screening, others: Sequence[Screening]) -> str:
    """Return the viewer; without scripts it is all stations one below the other."""
    front, frame = screening.front, frame_of(screening.front)
    every = -(-len(front.stations) // MOST_STATIONS)
    centre = min(range(len(front.stations)), key=lambda i: abs(front.stations[i]))
    chosen = tuple(y for i, y in enumerate(front.stations) if (i - centre) % every == 0)
    start = chosen.index(front.stations[centre])
    stations = "".join(_station(frame, screening, others, y) for y in chosen)
    said = ""
    if every > 1:
        said = (
            f'<p class="note">{len(chosen)} of {len(front.stations)} stations are drawn, one in '
            f"{every}; the tables have all of them.</p>"
        )
    listed = bool(screening.findings)
    return (
        f'<div id="viewer">{_controls(screening, others, chosen, start)}{said}'
        f'<div class="view{" with-list" if listed else ""}"><div>{stations}</div>'
        f'<div class="aside">{_readout()}{_found(screening, chosen) if listed else ""}</div></div>'
        f"{_sources((screening, *others))}</div>"
    )


def _controls(
    screening: Screening, others: Sequence[Screening], chosen: Sequence[float], start: int
) -> str:
    options = "".join(
        f'<option value="{escape(each.rules.id)}"{" selected" if each is screening else ""}>'
        f"{escape(each.rules.id)}</option>"
        for each in sorted((screening, *others), key=lambda each: each.rules.id)
    )
    return (
        '<div class="controls js-only" hidden><div class="slide">'
        '<label for="station">Station</label>'
        f'<input type="range" id="station" min="0" max="{len(chosen) - 1}" step="1" '
        f'value="{start}" aria-describedby="station-shown">'
        f'<output id="station-shown" for="station">y = {_y(chosen[start])} mm</output></div>'
        '<div><label for="rules">Rule set of the lines</label>'
        f'<select id="rules">{options}</select></div></div>'
    )


def _station(frame: Frame, screening: Screening, others: Sequence[Screening], y: float) -> str:
    section = screening.front.section(y)
    bands = band_marks(frame, section, screening.findings, symmetric=screening.front.symmetric)
    variants = _variants(frame, (screening, *others), y)
    under, drawings, tables = [], [], []
    for i, variant in enumerate(variants):
        attributes = f'data-rules-any="{escape(" ".join(variant.rules))}"{" hidden" if i else ""}'
        under.append(f"<g {attributes}>{variant.under}</g>")
        drawings.append(f"<g {attributes}>{variant.drawing}</g>")
        tables.append(f'<div {attributes} class="tabled">{variant.table}</div>')
    title = f"Station y = {_y(y)} mm"
    return (
        f'<div class="station" data-y="{_y(y)}"><h3>{title}</h3>'
        f'<div class="scroll" role="region" aria-label="Side view, {title}" tabindex="0">'
        f'<svg viewBox="{frame.view_box}" role="group" aria-label="Side view to scale, front of '
        f'the vehicle on the left, {title}">{"".join(under)}{base_drawing(frame, section)}'
        f"{bands}{''.join(drawings)}</svg></div>{''.join(tables)}</div>"
    )


def _variants(frame: Frame, screenings: Sequence[Screening], y: float) -> list[_Variant]:
    found: dict[tuple[str, str, str], list[str]] = {}
    for each in screenings:
        key = (tape_drawing(frame, each, y), line_marks(frame, each, y), _values(each, y))
        found.setdefault(key, []).append(each.rules.id)
    return [_Variant(tuple(ids), *key) for key, ids in found.items()]


def _values(screening: Screening, y: float) -> str:
    station = screening.station(y)
    rows = []
    for point in all_points(station):
        why = point.reason or STATUS_WORDS[point.status]
        rows.append(
            f'<tr data-line="{escape(point.name)}"><th scope="row">{escape(point_name(point.name))}'
            f'</th><td class="number">{number(point.z)}</td><td class="number">{number(point.x)}'
            f"</td><td>{escape(point.status)}</td><td>{escape(why)}</td></tr>"
        )
    lead = number(station.bumper_lead)
    rows.append(
        f'<tr><th scope="row">Bumper lead</th><td></td><td class="number">{lead}</td><td></td>'
        "<td>horizontal, from UBRL to BLERL</td></tr>"
    )
    heads = "".join(
        f'<th scope="col"{" class=number" if "[mm]" in name else ""}>{name}</th>'
        for name in ("line", "height [mm]", "setback [mm]", "status", "meaning")
    )
    return (
        f'<div class="scroll" role="region" aria-label="Values at y = {_y(y)} mm" tabindex="0">'
        f"<table><caption><span>Values at y = {_y(y)} mm</span></caption>"
        f"<thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def _readout() -> str:
    return (
        '<h3 class="js-only" hidden>Line pointed at</h3>'
        '<div class="readout js-only" role="status" hidden>'
        '<p class="name">None yet</p><p class="value">Point at a line of the side view or of the '
        "table, or reach it with the Tab key, to read its value, status and source.</p>"
        '<p class="status"></p><p class="source"></p></div>'
    )


def _found(screening: Screening, chosen: Sequence[float]) -> str:
    front = screening.front
    where: dict[int, list[int]] = {}
    for i, y in enumerate(chosen):
        bands = bands_of(front.section(y), screening.findings, symmetric=front.symmetric)
        for band in bands:
            where.setdefault(band.number, []).append(i)
    items = []
    for n, finding in enumerate(screening.findings, start=1):
        words = (
            f"{n}. {escape(clean(finding.rule.title))} <code>{escape(finding.code)}</code>"
            f"{escape(clean(place_text(finding)))}"
        )
        if n not in where:
            items.append(f'<li><span class="nowhere">{words}: not in a side view</span></li>')
            continue
        at = where[n][0]
        if finding.station in chosen:
            own = chosen.index(finding.station)
            at = own if own in where[n] else at
        items.append(
            f'<li><button type="button" data-finding="{n}" data-station="{at}" '
            f'aria-pressed="false">{words}</button></li>'
        )
    return (
        f'<div class="js-only" hidden><h3 id="found">Findings by {escape(screening.rules.id)}: '
        f'choose one to see where it lies</h3><ol class="found" aria-labelledby="found" '
        f'tabindex="0">{"".join(items)}</ol></div>'
    )


def _sources(screenings: Sequence[Screening]) -> str:
    rows = []
    for each in sorted(screenings, key=lambda each: each.rules.id):
        for line in _LINES:
            name = "Wrap-around distance (WAD)" if line == "WAD" else point_name(line)
            rows.append(
                f'<tr><th scope="row">{escape(each.rules.id)}</th><td>{escape(name)}</td>'
                f'<td data-rules="{escape(each.rules.id)}" data-of="{line}">'
                f"{escape(clean(line_source(line, each.rules)))}</td></tr>"
            )
    heads = "".join(f'<th scope="col">{name}</th>' for name in ("rule set", "line", "source"))
    return (
        '<details class="sources"><summary>Source of every line, by rule set</summary>'
        '<div class="scroll" role="region" aria-label="Sources of lines" tabindex="0"><table>'
        "<caption><span>Source of every line, by rule set</span></caption>"
        f"<thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table></div></details>"
    )


def _y(y: float) -> str:
    return number(y, 0 if y == round(y) else 1)

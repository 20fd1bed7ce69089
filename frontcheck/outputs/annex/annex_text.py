"""Numbers and sources of the annex in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.outputs.figures.contour_drawing import LINE_NAMES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.rules.ruleset import RuleSet

__all__ = [
    "MISSING",
    "STATUS_WORDS",
    "all_points",
    "extent_text",
    "grouped",
    "limit_text",
    "line_source",
    "number",
    "place_text",
    "point_name",
    "status_notes",
    "value_text",
]

MISSING: Final = "\N{EN DASH}"
"""Stands where there is no number."""

STATUS_WORDS: Final = {
    "ok": "formed in the plain way",
    "edge_end": "the straight edge touches with its end, at its reach limit",
    "lower_end": "the lower end of the straight edge touches first",
    "wad_1000": "a wrap-around point stands in, as the upper end of the edge touches first",
    "retaken_40deg": "taken again at the second lean of the straight edge",
    "not_reached": "could not be formed: nothing lies within reach",
    "not_available": "could not be formed: the input does not allow it",
}
"""What each status means."""

_PREFIXES: Final = {"LBRL": "lbrl", "UBRL": "ubrl", "BLERL": "blerl", "BRRL": "brrl"}


def number(value: float | None, digits: int = 1) -> str:
    """Return a number with a true minus sign, or a dash for none."""
    if value is None:
        return MISSING
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "\N{MINUS SIGN}")


def extent_text(ends: tuple[float, float]) -> str:
    """Return a stretch across the vehicle."""
    return f"y = {number(ends[0])} to {number(ends[1])} mm"


def point_name(name: str) -> str:
    """Return the name of a line or mark, spelt out."""
    if name in LINE_NAMES:
        return f"{LINE_NAMES[name]} ({name})"
    return f"Wrap-around distance {name.removeprefix('WAD ')} mm ({name})"


def line_source(name: str, rules: RuleSet) -> str:
    """Return by what text a line is formed, and how sure its constants are."""
    prefix = _PREFIXES.get(name, "wad")
    by_document: dict[tuple[str, str], list[str]] = {}
    for constant in rules:
        if constant.name.startswith(f"{prefix}."):
            key = (constant.document, constant.provenance)
            by_document.setdefault(key, []).append(constant.paragraph)
    said = []
    for (document, provenance), paragraphs in by_document.items():
        known = sorted({paragraph for paragraph in paragraphs if paragraph})
        where = f", {', '.join(known)}" if known else ", paragraph not known"
        if document.startswith("frontcheck"):
            where = ""
        said.append(f"{document}{where} ({provenance})")
    return "; ".join(said)


def grouped(items: Iterable[tuple[str, float]], total: int) -> list[str]:
    """Return statements with the stations they hold for, each once."""
    where: dict[str, list[float]] = {}
    for text, y in items:
        where.setdefault(text, []).append(y)
    said = []
    for text, ys in where.items():
        if len(ys) == total:
            place = "all stations" if total > 1 else f"y = {ys[0]:g} mm"
        else:
            place = f"y = {', '.join(number(y, 0 if y == round(y) else 1) for y in ys)} mm"
        said.append(f"{text} ({place})")
    return said


def status_notes(lined: LinedFront) -> tuple[str, ...]:
    """Return what is to be said of lines that were not formed in the plain way."""
    items = []
    for station in lined.stations:
        for point in all_points(station):
            if point.status != "ok" or point.reason:
                why = point.reason or STATUS_WORDS[point.status]
                items.append((f"{point.name}, {point.status}: {why}", station.y))
            elif getattr(point, "bridged", None):
                items.append(
                    (f"{point.name}: the tape arrives through air, over a hollow", station.y)
                )
    return tuple(grouped(items, len(lined.stations)))


def all_points(station: Station) -> tuple[LinePoint | WadPoint, ...]:
    """Return the reference lines and the wrap-around points of a station."""
    return (*station.lines, *station.wads)


def value_text(finding: Finding) -> str:
    """Return the value of a finding with its unit."""
    if finding.value is None:
        return MISSING
    return _with_unit(finding.value, finding.rule.unit)


def limit_text(finding: Finding) -> str:
    """Return what the value of a finding was compared with, and how."""
    limit, how = finding.limit, finding.rule.comparison
    signs = {"<=": "\N{LESS-THAN OR EQUAL TO}", ">=": "\N{GREATER-THAN OR EQUAL TO}"}
    if limit is None:
        return MISSING
    if isinstance(limit, tuple):
        low, high = (_plain(value) for value in limit)
        return f"{how} {low} to {high} {finding.rule.unit}".strip()
    return f"{signs.get(how, how)} {_with_unit(limit, finding.rule.unit)}"


def place_text(finding: Finding) -> str:
    """Return where a finding lies."""
    if finding.station is None:
        return f"{finding.region.name}, whole front"
    digits = 0 if finding.station == round(finding.station) else 1
    station = f"y = {number(finding.station, digits)} mm".replace(" ", "\N{NO-BREAK SPACE}")
    return f"{finding.region.name}, {station}"


def _plain(value: float) -> str:
    return f"{value:.4g}".replace("-", "\N{MINUS SIGN}")


def _with_unit(value: float, unit: str) -> str:
    # A long unit may go to the next line; a short one stays with its number.
    space = "\N{NO-BREAK SPACE}" if len(unit) <= 3 else " "
    return f"{_plain(value)}{space}{unit}".strip()

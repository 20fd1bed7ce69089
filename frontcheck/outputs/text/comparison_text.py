"""What the command ``compare`` says on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.errors import escaped
from frontcheck.lines.station import at_stations, stretches

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from frontcheck.comparison.changes import Change
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.text.terminal import Style

_KINDS: Final = {
    "new": "New in B",
    "gone": "Gone in B",
    "moved": "In both, changed",
}


def comparison_text(style: Style, comparison: Comparison, out: Path | None = None) -> str:
    """Return a comparison as text."""
    a, b = comparison.a, comparison.b
    parts = [style.paragraph(f"A: {a.front.name}. B: {b.front.name}. {a.rules.title}.")]
    rows = [[_cell(value) for value in row.values()] for row in comparison.summary()]
    title = "Change from A to B (B minus A), mm; farthest B stands outside and inside A"
    parts.append(style.table(title, list(comparison.summary()[0]), rows))
    parts.append(style.paragraph(comparison.alignment))
    if not comparison.changed:
        parts.append(style.paragraph("Nothing is different in B.", loud=True))
    lines = [(station.y, change) for station in comparison.stations for change in station.lines]
    statuses = formed_otherwise(lines)
    if statuses:
        parts.append(style.table("Formed in another way", ["line", "in A", "in B", "y"], statuses))
    parts += [style.paragraph(f"{text}.") for text in not_comparable(lines)]
    zones = [_zone_row(change) for change in comparison.zones if change.differs]
    if zones:
        parts.append(style.table("Whole front", ["", "A", "B", "change", ""], zones))
    if any(station.chances for station in comparison.stations):
        parts.append(_chances(style, comparison))
    for kind, words in _KINDS.items():
        found = [f for f in comparison.findings if f.kind == kind]
        if found:
            body = [[f.finding.code, f.place, f.details] for f in found]
            parts.append(style.table(f"Findings: {words}", ["code", "where", ""], body))
    parts += [style.paragraph(note) for note in comparison.notes]
    parts += [style.paragraph(text, loud=i == 0) for i, text in enumerate(comparison.cautions)]
    if out is not None:
        parts.append(style.paragraph(f"Written: {escaped(out)}"))
    return style.spelt_out(parts)


def _cell(value: float | str | None) -> str:
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    return f"{value:.1f}"


def formed_otherwise(lines: Sequence[tuple[float, Change]]) -> list[list[str]]:
    """Lines formed in another way, how they were and are, and the stations where they are."""
    where: dict[tuple[str, ...], list[float]] = {}
    for y, change in lines:
        if change.status_changed and change.quantity.endswith("_z_mm"):
            name = change.quantity.removesuffix("_z_mm").replace("_", " ")
            where.setdefault((name, *change.ways), []).append(y)
    every = _stations(lines)
    return [[*key, stretches(ys, every)] for key, ys in where.items()]


def not_comparable(lines: Sequence[tuple[float, Change]]) -> list[str]:
    """What is there in one front only, or barred, said once for all stations."""
    where: dict[str, list[float]] = {}
    for y, change in lines:
        if change.reason and (change.a is not None or change.b is not None):
            what = f"{change.words}: {change.reason}"
            what = f"{what[0].upper()}{what[1:]}" if change.open_end else f"Not comparable: {what}"
            where.setdefault(what, []).append(y)
    every = _stations(lines)
    return [f"{what} ({at_stations(ys, every)})" for what, ys in where.items()]


def _stations(lines: Sequence[tuple[float, Change]]) -> list[float]:
    return sorted({y for y, _ in lines})


def _zone_row(change: Change) -> list[str]:
    digits = 3 if change.unit == "m2" else 1
    words = f"{change.words} [{change.unit}]"
    values = [
        "-" if value is None else f"{value:.{digits}f}"
        for value in (change.a, change.b, change.change)
    ]
    return [words, *values, change.reason if change.open_end else ""]


def _chances(style: Style, comparison: Comparison) -> str:
    stations = [station for station in comparison.stations if station.chances]
    words = [text for text, _, _ in stations[0].chances]
    rows = [
        [text, *[f"{station.chances[i][2]:.3f}" for station in stations]]
        for i, text in enumerate(words)
    ]
    header = ["B is", *[f"y = {station.y:g}" for station in stations]]
    return style.table("Probability, for the uncertainties stated", header, rows)

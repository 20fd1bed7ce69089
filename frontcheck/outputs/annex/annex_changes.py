"""The section of the annex that tells what changes from one front to another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.outputs.annex.annex_figures import Drawn
from frontcheck.outputs.annex.annex_model import Bullets, Paragraph, Section, Table
from frontcheck.outputs.annex.annex_sections import line_tables
from frontcheck.outputs.annex.annex_text import MISSING, number
from frontcheck.outputs.documents.screening_files import station_stem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.comparison.change import Change
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.annex.annex_model import Block, Picture

__all__ = ["change_figures", "changes"]

_TEXT_COLUMNS = ("legform",)
_STATION_NOTE = (
    "z heights, x setbacks. B outside and B inside: farthest that B stands outside and inside A, "
    "square to the contours. Legform: A > B where it differs."
)


def changes(comparison: Comparison, pictures: Sequence[Picture]) -> Section:
    """Return the section on changes."""
    a, b = comparison.a.front, comparison.b.front
    blocks: list[Block] = [
        Paragraph(
            f"A is {a.name}, B is {b.name}; every change is B less A, so a positive height is "
            f"higher and a positive setback farther rearward in B. {comparison.alignment}"
        )
    ]
    if comparison.notes:
        blocks.append(Bullets(comparison.notes))
    if not comparison.changed:
        blocks.append(Paragraph("Nothing is different in B."))
    blocks += [_by_station(comparison), *pictures, _findings(comparison), _zones(comparison)]
    blocks += line_tables(comparison.b, f" of {b.name}")
    return Section("changes", "Changes", tuple(blocks))


def change_figures(comparison: Comparison) -> tuple[Drawn, ...]:
    """Return the figures of the changes."""
    from frontcheck.outputs.figures.comparison_figures import changes_figure, overlay_figure

    y = min((station.y for station in comparison.stations), key=abs)
    end = station_stem(y).removeprefix("side-")
    return (
        Drawn(
            f"overlay-{end}",
            f"Both side views at station {y:g} mm, to scale.",
            f"Sections of A and B at station {y:g} mm over each other; the table of changes "
            "has the numbers.",
            lambda: overlay_figure(comparison, y),
        ),
        Drawn(
            "changes",
            "Changes of heights, bumper lead and wrap-around points across the front.",
            "Changes over the stations; the table of changes has the numbers.",
            lambda: changes_figure(comparison),
        ),
    )


def _by_station(comparison: Comparison) -> Table:
    summary = comparison.summary()
    names = list(summary[0])
    rows = tuple(tuple(_cell(name, row[name]) for name in names) for row in summary)
    return Table(
        "Changes by station, B less A [mm]",
        tuple("station y" if name == "y" else name for name in names), rows,
        tuple(1.5 if name in _TEXT_COLUMNS else 1.0 for name in names),
        (_STATION_NOTE,),
    )  # fmt: skip


def _cell(name: str, value: float | str | None) -> str:
    if isinstance(value, str):
        return value
    whole = name == "y" and value is not None and value == round(value)
    return number(value, 0 if whole else 1)


def _findings(comparison: Comparison) -> Table | Paragraph:
    rows = tuple(
        (
            found.kind,
            f"{found.finding.code}: {found.finding.rule.title}",
            found.place,
            found.details or MISSING,
            found.finding.message,
        )
        for found in comparison.findings
        if found.kind != "same"
    )
    if not rows:
        return Paragraph("No finding changes.")
    return Table(
        "Findings that change from A to B",
        ("change", "code", "where", "what happened", "finding (in B; in A where it is gone)"),
        rows, (0.7, 2.4, 1.9, 2.4, 5.4),
        ("New: in B only. Gone: in A only. Moved: in both, with another value or extent.",),
    )  # fmt: skip


def _zones(comparison: Comparison) -> Table:
    return Table(
        "Corners, test areas and thirds, A and B",
        ("what", "A", "B", "B less A", "unit", "why not compared"),
        tuple(_zone_row(change) for change in comparison.zones),
        (4.2, 1.0, 1.0, 1.0, 0.6, 4.0),
    )


def _zone_row(change: Change) -> tuple[str, ...]:
    digits = 3 if change.unit == "m2" else 1
    values = (number(value, digits) for value in (change.a, change.b, change.change))
    unit = "m\N{SUPERSCRIPT TWO}" if change.unit == "m2" else change.unit
    return (change.words, *values, unit, change.reason)

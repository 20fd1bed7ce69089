"""The files that a comparison leaves in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.outputs.documents.exports import csv_bytes, json_bytes
from frontcheck.outputs.documents.screening_files import station_stem

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from frontcheck.comparison.comparison_result import Comparison

__all__ = ["changes_csv", "comparison_files", "findings_csv"]

_MOST: Final = 12
"""Stations drawn; of more (slices of a model) these are spread evenly."""


def changes_csv(comparison: Comparison) -> bytes:
    """Return the table of changes as CSV, one row a station and quantity."""
    records = comparison.records()
    header = list(records[0])
    caution = comparison.cautions[0]
    rows = [[*(record[name] for name in header), caution] for record in records]
    return csv_bytes([*header, "caution"], rows)


def findings_csv(comparison: Comparison) -> bytes:
    """Return the findings that are new, gone, moved or the same as CSV."""
    header = [
        "code", "region", "kind", "crossed_threshold", "beyond_uncertainty", "value_a", "value_b",
        "change", "unit", "message_a", "message_b", "caution",
    ]  # fmt: skip
    rows = [
        [
            found.finding.code, found.finding.region.name, found.kind, found.crossed, found.beyond,
            found.a and found.a.value, found.b and found.b.value, found.change,
            found.finding.rule.unit, found.a and found.a.message, found.b and found.b.message,
            comparison.cautions[0],
        ]
        for found in comparison.findings
    ]  # fmt: skip
    return csv_bytes(header, rows)


def comparison_files(comparison: Comparison) -> dict[str, bytes]:
    """Return document, tables and figures of a comparison."""
    from frontcheck.outputs.figures.change_panels import spread_out
    from frontcheck.outputs.figures.comparison_figures import (
        changes_figure,
        distance_figure,
        leg_figure,
        overlay_figure,
        plan_figure,
    )
    from frontcheck.outputs.figures.side_view import figure_bytes

    files = {
        "comparison.json": json_bytes(comparison.to_dict()),
        "changes.csv": changes_csv(comparison),
        "finding-changes.csv": findings_csv(comparison),
    }
    figures: dict[str, Figure] = {
        "changes": changes_figure(comparison),
        "distances": distance_figure(comparison),
    }
    plan = plan_figure(comparison)
    if plan is not None:
        figures["plan"] = plan
    for station in spread_out(comparison.stations, _MOST):
        end = station_stem(station.y).removeprefix("side-")
        figures[f"overlay-{end}"] = overlay_figure(comparison, station.y)
        figures[f"leg-{end}"] = leg_figure(comparison, station.y)
    for stem, figure in figures.items():
        for kind in ("svg", "png"):
            files[f"{stem}.{kind}"] = figure_bytes(figure, kind)
    return files

"""What is said of a measurement, brought together, and the files that it leaves in a folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.findings.measurement import closure_findings
from frontcheck.outputs.documents.exports import csv_bytes, json_bytes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.sure.closure import ClosureReport
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.spacing import SpacingReport
    from frontcheck.sure.tolerance_result import Tolerance

__all__ = ["Measurement", "corrections_csv", "intervals_csv", "tolerance_files"]

_ALL: Final = 10_000
"""More errors than any front has rows: all are listed in the file."""


@dataclass(frozen=True)
class Measurement:
    """How sure a front is, from every side."""

    tolerance: Tolerance  # Draws of the measurement
    spacing: SpacingReport  # Whether the rows lie close enough together
    closure: ClosureReport  # What was measured a second way; empty when nothing was
    corrections: CorrectionReport  # Known errors, with the lines before and after
    applied: bool  # Whether the other results are those after the corrections

    @property
    def complete(self) -> bool:
        """Whether every line asked for is formed with the offsets as measured."""
        return all(
            line.x is not None and line.x.nominal is not None
            for station in self.tolerance.stations
            for line in station.lines
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the tolerance document, with the parts that belong to it."""
        document = self.tolerance.to_dict()
        cautions = document.pop("cautions")
        return document | {
            "spacing": self.spacing.to_dict(),
            "closure": {
                **self.closure.to_dict(),
                "findings": [finding.to_dict() for finding in closure_findings(self.closure)],
            },
            "corrections": {"applied": self.applied, **self.corrections.to_dict()},
            "cautions": cautions,
        }


def intervals_csv(tolerance: Tolerance) -> bytes:
    """Return median and interval of every quantity as CSV."""
    header = (
        "y_mm", "quantity", "nominal_mm", "median_mm", "low_mm", "high_mm", "sd_mm", "formed_share"
    )  # fmt: skip
    return _table(header, tolerance.records())


def corrections_csv(corrections: CorrectionReport) -> bytes:
    """Return the lines before and after each correction as CSV."""
    header = ("correction", "y_mm", "quantity", "before_mm", "after_mm", "move_mm")
    return _table(header, corrections.records())


def tolerance_files(measurement: Measurement) -> dict[str, bytes]:
    """Return document, tables and figure of a measurement."""
    from frontcheck.outputs.figures.side_view import figure_bytes
    from frontcheck.outputs.figures.tolerance_figure import tolerance_figure

    files = {
        "tolerance.json": json_bytes(measurement.to_dict()),
        "intervals.csv": intervals_csv(measurement.tolerance),
        "measure-again.csv": _measure_again_csv(measurement.tolerance),
        "spacing.csv": _spacing_csv(measurement.spacing),
    }
    if measurement.closure.closures:
        files["checks.csv"] = _checks_csv(measurement.closure)
    if measurement.corrections.corrections:
        files["corrections.csv"] = corrections_csv(measurement.corrections)
    figure = tolerance_figure(measurement.tolerance)
    for kind in ("svg", "png"):
        files[f"tolerance.{kind}"] = figure_bytes(figure, kind)
    return files


def _table(header: Sequence[str], records: Sequence[dict[str, Any]]) -> bytes:
    rows = [[*(record[name] for name in header), CAUTION] for record in records]
    return csv_bytes([*header, "caution"], rows)


def _measure_again_csv(tolerance: Tolerance) -> bytes:
    header = ("no", "y_mm", "error", "source_row", "point", "quantity", "part_mm")
    records = [
        {
            "no": number,
            "y_mm": item.y,
            "error": item.name,
            "source_row": item.source_row,
            "point": None if item.row is None else item.row + 1,
            "quantity": item.quantity,
            "part_mm": item.part_mm,
        }
        for number, item in enumerate(tolerance.measure_again(_ALL), start=1)
    ]
    return _table(header, records)


def _spacing_csv(spacing: SpacingReport) -> bytes:
    header = (
        "y_mm", "line", "x_mm", "z_mm", "x_low_mm", "x_high_mm", "z_low_mm", "z_high_mm",
        "move_mm", "limit_mm", "close_enough", "add_heights_mm",
    )  # fmt: skip
    records = []
    for gap in spacing.gaps:
        record = gap.to_dict()
        record["add_heights_mm"] = " ".join(f"{height:g}" for height in record["add_heights_mm"])
        records.append(record)
    return _table(header, records)


def _checks_csv(closure: ClosureReport) -> bytes:
    header = (
        "check", "y_mm", "measured_mm", "measured_u_mm", "computed_mm", "computed_u_mm",
        "combined_u_mm", "normalised_difference", "verdict", "reason",
    )  # fmt: skip
    return _table(header, [{"reason": "", **each.to_dict()} for each in closure.closures])

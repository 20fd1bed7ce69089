"""What is said of a measurement, brought together, and the files that it leaves in a folder."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

from frontcheck.documents import FindingEntry
from frontcheck.findings.catalogue import closure_findings
from frontcheck.outputs.documents.exports import (
    csv_bytes,
    json_bytes,
    screening_document,
    stations_csv,
)
from frontcheck.people.people import PEOPLE
from frontcheck.serializer import filled, plain
from frontcheck.study.sweep_results import summary
from frontcheck.sure.tolerance_document import (
    CheckEntry,
    ClosureEntry,
    CorrectionsEntry,
    GapEntry,
    ToleranceDocument,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from matplotlib.figure import Figure

    from frontcheck.body.motion import MotionStudy
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.front.front import Front
    from frontcheck.legs.leg_study import LegStudy
    from frontcheck.screening import Screening
    from frontcheck.study.sweep_results import Results
    from frontcheck.sure.closure import ClosureReport
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.spacing import SpacingReport
    from frontcheck.sure.tolerance_result import Tolerance

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
            line.nominal is not None
            for station in self.tolerance.stations
            for line in station.lines
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the tolerance document, with the parts that belong to it."""
        return plain(
            ToleranceDocument,
            self.tolerance,
            spacing=self.spacing,
            closure=filled(ClosureEntry, self.closure, findings=closure_findings(self.closure)),
            corrections=filled(CorrectionsEntry, self.corrections, applied=self.applied),
        )


def intervals_csv(tolerance: Tolerance) -> bytes:
    """Return median and interval of every quantity as CSV."""
    header = (
        "y_mm", "quantity", "nominal_mm", "median_mm", "low_mm", "high_mm", "sd_mm",
        "formed_share", "reason",
    )  # fmt: skip
    return _table(header, tolerance.records(), tolerance.front)


def corrections_csv(corrections: CorrectionReport) -> bytes:
    """Return the lines before and after each correction as CSV."""
    header = ("correction", "y_mm", "quantity", "before_mm", "after_mm", "move_mm")
    return _table(header, corrections.records())


def tolerance_files(measurement: Measurement) -> dict[str, bytes]:
    """Return document, tables and figure of a measurement."""
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
    return files | _pictures({"tolerance": lambda: tolerance_figure(measurement.tolerance)})


def _table(header: Sequence[str], records: Sequence[dict[str, Any]], *fronts: Front) -> bytes:
    return csv_bytes(header, ([record[name] for name in header] for record in records), *fronts)


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
    return _table(header, records, tolerance.front)


def _spacing_csv(spacing: SpacingReport) -> bytes:
    header = (
        "y_mm", "line", "x_mm", "z_mm", "x_low_mm", "x_high_mm", "z_low_mm", "z_high_mm",
        "move_mm", "limit_mm", "close_enough", "add_heights_mm",
    )  # fmt: skip
    records = []
    for gap in spacing.gaps:
        record = plain(GapEntry, gap)
        record["add_heights_mm"] = " ".join(f"{height:g}" for height in record["add_heights_mm"])
        records.append(record)
    return _table(header, records)


def _checks_csv(closure: ClosureReport) -> bytes:
    header = (
        "check", "y_mm", "measured_mm", "measured_u_mm", "computed_mm", "computed_u_mm",
        "combined_u_mm", "normalised_difference", "verdict", "reason",
    )  # fmt: skip
    return _table(header, [{"reason": "", **plain(CheckEntry, each)} for each in closure.closures])


# The files that a screening leaves in a folder.

Figures: TypeAlias = Literal["few", "all"]
"""One of a kind as PNG, or every station and every kind as SVG and PNG."""
Step: TypeAlias = "Callable[[str, float], None]"
"""Is told what is being made, and which share of the whole is done."""

_DRAWN: Final = ("six-year-old", "woman p50", "man p50")
_DRAWN_FIRST: Final = ("woman p50",)
"""People drawn beside the front, and those among a few figures."""


def station_stem(y: float) -> str:
    """Return the file name of a station's figure, without suffix."""
    sign = "m" if y < 0.0 else ""
    whole, _, part = f"{abs(y):.10g}".partition(".")
    return f"side-y{sign}{whole.zfill(4)}" + (f"p{part}" if part else "")


def lines_csv(screening: Screening) -> bytes:
    """Return the lines across the front as CSV, one row a point."""
    from frontcheck.outputs.documents.exports_dxf import LINES_HEADER, lines_rows

    return csv_bytes(LINES_HEADER, lines_rows(screening.zones), screening.front)


def findings_csv(screening: Screening) -> bytes:
    """Return the findings as CSV, numbered as in the figures."""
    header = (
        "no", "code", "theme", "evidence", "region", "station_mm", "person", "value", "unit",
        "comparison", "threshold", "margin", "message", "settled_by", "source", "provenance",
    )  # fmt: skip
    rows = []
    for number, finding in enumerate(screening.findings, start=1):
        entry = plain(FindingEntry, finding)
        entry["region"] = finding.region.name
        if isinstance(entry["threshold"], list):
            entry["threshold"] = " to ".join(f"{limit:g}" for limit in entry["threshold"])
        entry["no"] = number
        rows.append([entry[name] for name in header])
    return csv_bytes(header, rows, screening.front)


def screening_files(
    screening: Screening,
    *,
    figures: Figures = "few",
    lines_only: bool = False,
    tolerance: Tolerance | None = None,
    corrections: CorrectionReport | None = None,
    step: Step | None = None,
) -> dict[str, bytes]:
    """Return document, tables and figures of a screening."""
    document = screening_document(
        screening, lines_only=lines_only, tolerance=tolerance, corrections=corrections
    )
    files = {"screening.json": json_bytes(document), "stations.csv": stations_csv(screening)}
    if tolerance is not None:
        files["intervals.csv"] = intervals_csv(tolerance)
    if corrections is not None:
        files["corrections.csv"] = corrections_csv(corrections)
    if not lines_only:
        files["findings.csv"] = findings_csv(screening)
        files["lines.csv"] = lines_csv(screening)
    whole = figures == "all"
    drawn = _screening_figures(screening, tolerance, whole=whole, lines_only=lines_only)
    return files | _pictures(drawn, ("svg", "png") if whole else ("png",), step)


def _screening_figures(
    screening: Screening, tolerance: Tolerance | None, *, whole: bool, lines_only: bool
) -> dict[str, Callable[[], Figure]]:
    """Figures of a screening; where one station must stand for all, the centre."""
    from frontcheck.outputs.figures.canvas import figure_of
    from frontcheck.outputs.figures.findings_figures import findings_view, head_map
    from frontcheck.outputs.figures.leg_figure import leg_figure
    from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view
    from frontcheck.outputs.figures.side_view import overview, side_view_figure

    centre = min(screening.front.stations, key=abs)
    figures: dict[str, Callable[[], Figure]] = {
        "overview": lambda: overview(screening, tolerance=tolerance)
    }
    for y in screening.front.stations if whole else (centre,):
        figures[station_stem(y)] = partial(side_view_figure, screening, y, tolerance=tolerance)
    if lines_only:
        return figures
    figures["findings"] = lambda: findings_view(screening, centre)
    plan_known = bool(screening.zones.surface)  # otherwise these would be empty
    if plan_known:
        figures["plan"] = lambda: figure_of(plan_view(screening, screening.zones))
        figures["head-map"] = lambda: head_map(screening, screening.head)
    if whole and plan_known:
        figures["front"] = lambda: figure_of(front_view(screening, screening.zones))
        figures["bonnet-map"] = lambda: figure_of(bonnet_map(screening, screening.zones))
    for person in PEOPLE:
        if person.name in (_DRAWN if whole else _DRAWN_FIRST):
            stem = f"leg-{person.name.replace(' ', '-')}"
            figures[stem] = partial(leg_figure, screening, centre, person)
    return figures


def _pictures(
    figures: Mapping[str, Callable[[], Figure]],
    kinds: Sequence[str] = ("svg", "png"),
    step: Step | None = None,
) -> dict[str, bytes]:
    """Draw figures one by one, so that only one is in memory, as files of the kinds asked for."""
    from frontcheck.outputs.figures.side_view import figure_bytes

    files = {}
    for i, (stem, make) in enumerate(figures.items()):
        if step is not None:
            step(f"drawing {stem}", i / len(figures))
        figure = make()
        for kind in kinds:
            files[f"{stem}.{kind}"] = figure_bytes(figure, kind)
    return files


# The files that a comparison leaves in a folder.

_MOST: Final = 12
"""Stations drawn; of more (slices of a model) these are spread evenly."""


def changes_csv(comparison: Comparison) -> bytes:
    """Return the table of changes as CSV, one row a station and quantity."""
    records = comparison.records()
    return _table(list(records[0]), records, comparison.a.front, comparison.b.front)


def findings_csv_comparison(comparison: Comparison) -> bytes:
    """Return the findings that are new, gone, moved or the same as CSV."""
    header = [
        "code", "region", "kind", "crossed_threshold", "beyond_uncertainty", "value_a", "value_b",
        "change", "unit", "message_a", "message_b",
    ]  # fmt: skip
    rows = [
        [
            found.finding.code, found.finding.region.name, found.kind, found.crossed, found.beyond,
            found.a and found.a.value, found.b and found.b.value, found.change,
            found.finding.rule.unit, found.a and found.a.message, found.b and found.b.message,
        ]
        for found in comparison.findings
    ]  # fmt: skip
    return csv_bytes(header, rows, comparison.a.front, comparison.b.front)


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

    files = {
        "comparison.json": json_bytes(comparison.to_dict()),
        "changes.csv": changes_csv(comparison),
        "finding-changes.csv": findings_csv_comparison(comparison),
    }
    figures: dict[str, Callable[[], Figure]] = {
        "changes": lambda: changes_figure(comparison),
        "distances": lambda: distance_figure(comparison),
    }
    plan = plan_figure(comparison)
    if plan is not None:
        figures["plan"] = lambda: plan
    for station in spread_out(comparison.stations, _MOST):
        end = station_stem(station.y).removeprefix("side-")
        figures[f"overlay-{end}"] = partial(overlay_figure, comparison, station.y)
        figures[f"leg-{end}"] = partial(leg_figure, comparison, station.y)
    return files | _pictures(figures)


# The files that a leg study leaves in a folder.


def leg_files(study: LegStudy, depth: float = 60.0) -> dict[str, bytes]:
    """Return document and figures of a leg study."""
    from frontcheck.outputs.figures.leg_figure import leg_figure
    from frontcheck.outputs.figures.leg_motion_figure import leg_motion_figure

    figures: dict[str, Callable[[], Figure]] = {}
    for station in study.stations:
        end = station_stem(station.y).removeprefix("side-")
        letters = "ab" if len(station.fronts) > 1 else ""
        for i, at in enumerate(station.fronts):
            if at.load is not None:
                stem = f"leg-{letters[i]}-{end}" if letters else f"leg-{end}"
                order = station.order.sentence if station.order else station.no_order
                figures[stem] = partial(
                    leg_figure, at.lined, at.section.y, study.person, depth, said=order
                )
        flown = [(at.name, at.section, at.run) for at in station.fronts if at.run is not None]
        if flown:
            names, sections, runs = zip(*flown, strict=True)
            figures[f"leg-motion-{end}"] = partial(
                leg_motion_figure, names, sections, runs, station.order
            )
    return {"leg.json": json_bytes(study.to_dict())} | _pictures(figures)


# The files that a motion study leaves in a folder.


def motion_files(study: MotionStudy) -> dict[str, bytes]:
    """Return document and figures of a motion study, a figure for every person."""
    from frontcheck.outputs.figures.motion_figure import motion_figure

    figures: dict[str, Callable[[], Figure]] = {
        f"motion-{one.person.replace(' ', '-')}": partial(motion_figure, study, one.person)
        for one in study.people
    }
    return {"motion.json": json_bytes(study.to_dict())} | _pictures(figures)


# The files that a sweep leaves in a folder, beside its table.

SUMMARY: Final = "summary.json"
SWEEP_FILES: Final = (
    SUMMARY,
    *(
        f"{name}.{kind}"
        for name in ("lines", "region", "sensitivity", "shapes")
        for kind in ("svg", "png")
    ),
)
"""All that there may be, so that a person's own is seen before any work."""


def sweep_files(
    results: Results, *, pictures: bool = True
) -> tuple[dict[str, bytes], tuple[str, ...]]:
    """Return summary and pictures of a sweep, and why some of them are not there."""
    from frontcheck.outputs.figures.sweep_figures import sweep_figures

    figures, missing = sweep_figures(results) if pictures else ({}, ())
    drawn = _pictures({name: partial(dict.__getitem__, figures, name) for name in figures})
    return {SUMMARY: json_bytes(summary(results)), **drawn}, missing

"""The files that a screening leaves in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.outputs.documents.exports import (
    csv_bytes,
    json_bytes,
    screening_document,
    stations_csv,
)
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.tolerance_result import Tolerance

__all__ = ["findings_csv", "lines_csv", "screening_files", "station_stem"]

_DRAWN: Final = ("six-year-old", "woman p50", "man p50")
"""People drawn beside the front."""


def station_stem(y: float) -> str:
    """Return the file name of a station's figure, without suffix."""
    sign = "m" if y < 0.0 else ""
    whole, _, part = f"{abs(y):.10g}".partition(".")
    return f"side-y{sign}{whole.zfill(4)}" + (f"p{part}" if part else "")


def lines_csv(screening: Screening) -> bytes:
    """Return the lines across the front as CSV, one row a point."""
    from frontcheck.outputs.documents.exports_dxf import LINES_HEADER, lines_rows

    caution = screening.cautions[0]
    rows = ([*row, caution] for row in lines_rows(screening.zones))
    return csv_bytes([*LINES_HEADER, "caution"], rows)


def findings_csv(screening: Screening) -> bytes:
    """Return the findings as CSV, numbered as in the figures."""
    header = (
        "no", "code", "region", "station_mm", "person", "value", "unit", "comparison",
        "threshold", "message", "settled_by", "source", "provenance", "caution",
    )  # fmt: skip
    rows = []
    for number, finding in enumerate(screening.findings, start=1):
        entry = finding.to_dict()
        entry["region"] = finding.region.name
        if isinstance(entry["threshold"], list):
            entry["threshold"] = " to ".join(f"{limit:g}" for limit in entry["threshold"])
        entry |= {"no": number, "caution": screening.cautions[0]}
        rows.append([entry[name] for name in header])
    return csv_bytes(header, rows)


def screening_files(
    screening: Screening,
    *,
    lines_only: bool = False,
    tolerance: Tolerance | None = None,
    corrections: CorrectionReport | None = None,
) -> dict[str, bytes]:
    """Return document, tables and figures of a screening."""
    from frontcheck.outputs.documents.tolerance_files import corrections_csv, intervals_csv
    from frontcheck.outputs.figures.side_view import figure_bytes, overview, side_view_figure

    files = {
        "screening.json": json_bytes(
            screening_document(
                screening, lines_only=lines_only, tolerance=tolerance, corrections=corrections
            )
        ),
        "stations.csv": stations_csv(screening),
    }
    if tolerance is not None:
        files["intervals.csv"] = intervals_csv(tolerance)
    if corrections is not None:
        files["corrections.csv"] = corrections_csv(corrections)
    figures = {"overview": overview(screening, tolerance=tolerance)}
    for station in screening.stations:
        figures[station_stem(station.y)] = side_view_figure(
            screening, station.y, tolerance=tolerance
        )
    if not lines_only:
        files["findings.csv"] = findings_csv(screening)
        files["lines.csv"] = lines_csv(screening)
        figures |= _further_figures(screening)
    for stem, figure in figures.items():
        for kind in ("svg", "png"):
            files[f"{stem}.{kind}"] = figure_bytes(figure, kind)
    return files


def _further_figures(screening: Screening) -> dict[str, Figure]:
    """Figures of findings, leg and head; where one station must stand for all, the centre."""
    from frontcheck.outputs.figures.findings_figure import findings_view
    from frontcheck.outputs.figures.head_map import head_map
    from frontcheck.outputs.figures.leg_figure import leg_figure
    from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view

    settings = screening.finding_settings
    hard_points = settings.hard_points if settings else ()
    centre = min(screening.front.stations, key=abs)
    figures = {
        "findings": findings_view(screening, centre, screening.findings),
        "plan": _whole(plan_view(screening, screening.zones)),
        "front": _whole(front_view(screening, screening.zones)),
        "bonnet-map": _whole(bonnet_map(screening, screening.zones)),
        "head-map": head_map(screening, screening.zones, hard_points),
    }
    for person in PEOPLE:
        if person.name in _DRAWN:
            stem = f"leg-{person.name.replace(' ', '-')}"
            figures[stem] = leg_figure(screening, centre, person)
    return figures


def _whole(ax: Axes) -> Figure:
    figure = ax.get_figure(root=True)
    assert figure is not None
    return figure

"""The files that a leg study leaves in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.legs.leg_document import leg_document
from frontcheck.outputs.documents.exports import json_bytes
from frontcheck.outputs.documents.screening_files import station_stem

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from frontcheck.legs.leg_study import LegStudy

__all__ = ["leg_files"]


def leg_files(study: LegStudy, depth: float = 60.0) -> dict[str, bytes]:
    """Return document and figures of a leg study."""
    from frontcheck.outputs.figures.leg_figure import leg_figure
    from frontcheck.outputs.figures.leg_motion_figure import leg_motion_figure
    from frontcheck.outputs.figures.side_view import figure_bytes

    figures: dict[str, Figure] = {}
    for station in study.stations:
        end = station_stem(station.y).removeprefix("side-")
        letters = "ab" if len(station.fronts) > 1 else ""
        for i, at in enumerate(station.fronts):
            if at.load is not None and at.response is not None:
                stem = f"leg-{letters[i]}-{end}" if letters else f"leg-{end}"
                figures[stem] = leg_figure(at.lined, at.section.y, study.person, depth)
        flown = [(at.name, at.section, at.run) for at in station.fronts if at.run is not None]
        if flown:
            names, sections, runs = zip(*flown, strict=True)
            figures[f"leg-motion-{end}"] = leg_motion_figure(
                names, sections, runs, station.rankings
            )
    files = {"leg.json": json_bytes(leg_document(study))}
    for stem, figure in figures.items():
        for kind in ("svg", "png"):
            files[f"{stem}.{kind}"] = figure_bytes(figure, kind)
    return files

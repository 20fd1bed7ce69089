"""The files that a screening leaves in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.report.exports import json_bytes, stations_csv

if TYPE_CHECKING:
    from frontcheck.screening import Screening

__all__ = ["screening_files", "station_stem"]


def station_stem(y: float) -> str:
    """Return the file name of a station's figure, without suffix.

    Parameters
    ----------
    y : float
        Station [mm].

    Returns
    -------
    str
        Such as ``side-y0150`` or ``side-ym0150p5`` (m: minus, p: point).
    """
    sign = "m" if y < 0.0 else ""
    whole, _, part = f"{abs(y):.10g}".partition(".")
    return f"side-y{sign}{whole.zfill(4)}" + (f"p{part}" if part else "")


def screening_files(screening: Screening) -> dict[str, bytes]:
    """Return document, table and figures of a screening.

    Parameters
    ----------
    screening : Screening
        The screening.

    Returns
    -------
    dict of str to bytes
        Content by file name.
    """
    from frontcheck.report.figures import figure_bytes, overview, side_view_figure

    files = {
        "screening.json": json_bytes(screening.to_dict()),
        "stations.csv": stations_csv(screening),
    }
    figures = {"overview": overview(screening)}
    for station in screening.stations:
        figures[station_stem(station.y)] = side_view_figure(screening, station.y)
    for stem, figure in figures.items():
        for kind in ("svg", "png"):
            files[f"{stem}.{kind}"] = figure_bytes(figure, kind)
    return files

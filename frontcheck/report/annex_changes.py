"""The section of the annex that tells what changes from one front to another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.report.annex_model import Paragraph, Section, Table
from frontcheck.report.annex_text import number

if TYPE_CHECKING:
    from frontcheck.screening import Screening
    from frontcheck.station import Station

__all__ = ["changes"]


def changes(a: Screening, b: Screening) -> Section:
    """Return the section on changes from `a` to `b`.

    Parameters
    ----------
    a, b : Screening
        The two screenings, by one rule set.

    Returns
    -------
    Section
        Tables of changes at the stations both have.
    """
    shared = [y for y in a.front.stations if y in b.front.stations]
    intro = Paragraph(
        f"Differences are {b.front.name} minus {a.front.name}, at the stations measured on both: a "
        "positive height is higher, a positive setback farther rearward."
    )
    if not shared:
        none = Paragraph("The two have no measured station in common.")
        return Section("changes", "Changes", (intro, none))
    header = ("station y [mm]", "LBRL height", "UBRL height", "BLERL height", "BLERL setback",
              "BRRL setback", "bumper lead")  # fmt: skip
    rows = []
    for y in shared:
        one, two = (_values(each.station(y)) for each in (a, b))
        cells = [
            number(None if p is None or q is None else q - p)
            for p, q in zip(one, two, strict=True)
        ]
        rows.append((number(y, 0), *cells))
    table = Table("Changes by station [mm]", header, tuple(rows), (1.0,) * len(header))
    return Section("changes", "Changes", (intro, table))


def _values(station: Station) -> list[float | None]:
    return [
        station.LBRL.z, station.UBRL.z, station.BLERL.z, station.BLERL.x, station.BRRL.x,
        station.bumper_lead,
    ]  # fmt: skip

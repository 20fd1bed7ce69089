"""The height of the leading edge against the centre of mass of a person who stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from frontcheck.lines.statuses import OPEN_END
from frontcheck.serializer import one_line
from frontcheck.sure.stated_uncertainty import COVERAGE, stated_u

if TYPE_CHECKING:
    from frontcheck.front.front import Front
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person

Against = Literal["below", "in the band", "above"]


@one_line
@dataclass(frozen=True)
class EdgeToMiddle:
    """How the leading edge stands to the middle of one person."""

    against: Against
    edge_mm: float  # Height of BLERL [mm]
    band_mm: tuple[float, float]  # Of the centre of mass, widened by what is stated of the edge


def edge_to_middle(front: Front, station: Station, person: Person) -> EdgeToMiddle | None:
    """Hold the edge of one station against one person; None where it is not known."""
    edge = station.BLERL
    if edge.point is None or edge.status == OPEN_END:
        return None
    band = band_of(person, stated_u(front, station.y, edge.point, "height"))
    if band is None:
        return None
    (low, high), z = band, edge.point[1]
    return EdgeToMiddle("below" if z < low else "above" if z > high else "in the band", z, band)


def band_of(person: Person, u: float | None) -> tuple[float, float] | None:
    """Return the heights between which the centre of mass may stand to an edge that is unsure."""
    band = person.centre_of_mass.band_mm
    wider = COVERAGE * (u or 0.0)
    return None if band is None else (band[0] - wider, band[1] + wider)

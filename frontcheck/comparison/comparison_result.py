"""What a comparison says, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from frontcheck.caution import CAUTION
from frontcheck.comparison.comparison_document import ComparisonDocument
from frontcheck.comparison.contour_distance import surface_overlay
from frontcheck.comparison.leg_zone import UNDERCUT
from frontcheck.front.front import ByStation
from frontcheck.serializer import one_line, plain, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from frontcheck.comparison.changes import Align, Change, Origins
    from frontcheck.comparison.contour_distance import ContourDistance, SurfaceOverlay
    from frontcheck.comparison.finding_changes import FindingChange
    from frontcheck.comparison.leg_zone import LegZone
    from frontcheck.lines.lined_front import Matched
    from frontcheck.screening import Screening


@one_line
@dataclass(frozen=True, eq=False)
class StationComparison:
    """Both fronts at one station."""

    matched: Matched  # Section and lines of either front there
    origins: Origins  # Where setbacks count from there
    lines: tuple[Change, ...]  # Changes of the lines, the bumper lead and the wrap-around points
    face: tuple[Change, ...]  # Changes of the face
    leg: LegZone  # What both fronts show an upright leg
    contour: ContourDistance | None  # Signed distance between the contours
    contour_reason: str  # Why there is none
    chances: tuple[tuple[str, str, float], ...]

    @property
    def y(self) -> float:
        """Station [mm]."""
        return self.matched.y

    @property
    def changes(self) -> tuple[Change, ...]:
        """Every change of the station: lines, face, leg zone."""
        return (*self.lines, *self.face, *self.leg.changes)

    @property
    def legform(self) -> tuple[str | None, str | None]:
        """Legform by lower bumper height in A and in B."""
        return self.matched.a.station.legform, self.matched.b.station.legform

    @property
    def legform_words(self) -> tuple[str, str]:
        """The same in words: none without LBRL, not known where LBRL is not known."""
        a, b = (
            side.station.legform or ("not known" if side.station.LBRL.formed else "none")
            for side in (self.matched.a, self.matched.b)
        )
        return a, b

    @property
    def differs(self) -> bool:
        """Whether anything is different in B."""
        apart = self.contour is not None and self.contour.largest is not None
        return (
            apart
            or self.legform[0] != self.legform[1]
            or any(change.differs for change in self.changes)
        )

    def change(self, quantity: str) -> Change:
        """Return one change."""
        for change in self.changes:
            if change.quantity == quantity:
                return change
        raise KeyError(f"no quantity {quantity!r}; there are {[c.quantity for c in self.changes]}")


@one_line
@dataclass(frozen=True, eq=False)
class Comparison(ByStation[StationComparison]):
    """What changes from front A to front B, both under one rule set. Every change is B minus A.

    Parameters
    ----------
    a, b : Screening
        The screenings.
    align : {"none", "foremost"}
        How setbacks are compared.
    alignment : str
        The same as a sentence.
    stations : tuple of StationComparison
        Stations that could be matched, y increasing.
    whole : Origins
        Where setbacks of the whole fronts count from.
    zones : tuple of Change
        Corners, test areas, thirds, headform areas.
    findings : tuple of FindingChange
        New, gone, moved, then the same.
    people : tuple of str
        Reference people chosen for the leg zone.
    draws, seed : int
        Draws, 0 for none, and their seed.
    notes : tuple of str
        What was interpolated, left out or taken as exact, and why.
    cautions : tuple of str
        What to keep in mind; the first says what a screening is not.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fronts = [fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet")]
    >>> both = fc.compare(*map(fc.screen, fronts))
    >>> both.station(0).change("bumper_lead_mm").change
    144.0
    >>> both.changed
    True
    """

    a: Screening
    b: Screening
    align: Align
    alignment: str
    stations: tuple[StationComparison, ...]
    whole: Origins
    zones: tuple[Change, ...]
    findings: tuple[FindingChange, ...]
    people: tuple[str, ...]
    draws: int
    seed: int
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def changed(self) -> bool:
        """Whether anything at all is different in B."""
        return (
            any(station.differs for station in self.stations)
            or any(change.differs for change in self.zones)
            or any(finding.kind != "same" for finding in self.findings)
        )

    @property
    def complete(self) -> bool:
        """Whether everything that was asked for could be formed in both fronts."""
        return not any(
            side.station.missing
            for station in self.stations
            for side in (station.matched.a, station.matched.b)
        )

    @cached_property
    def surface(self) -> SurfaceOverlay:
        """Both surfaces laid over each other; worked out on first use."""
        ys = [station.y for station in self.stations]
        return surface_overlay(self.a.front, self.b.front, self.whole, ys)

    def _every(self) -> Iterator[tuple[float | None, str, Change]]:
        for station in self.stations:
            yield from ((station.y, "lines", change) for change in station.lines)
            yield from ((station.y, "face", change) for change in station.face)
            yield from ((station.y, "leg zone", change) for change in station.leg.changes)
        yield from ((None, "zones", change) for change in self.zones)

    def records(self) -> list[dict[str, Any]]:
        """Return one mapping per station and quantity, then per quantity of the whole front.

        Returns
        -------
        list of dict
            The same keys everywhere; None where missing or not known.
        """
        return [
            {
                "y_mm": y,
                "group": group,
                "quantity": change.quantity,
                "words": change.words,
                "unit": change.unit,
                "a": change.a,
                "b": change.b,
                "change": change.change,
                "status_a": change.status_a or None,
                "status_b": change.status_b or None,
                "not_comparable": change.reason or None,
                "u": change.u,
                "beyond_uncertainty": change.beyond,
                "chance_b_less": change.chance_less,
                "chance_b_more": change.chance_more,
            }
            for y, group, change in self._every()
        ]

    def to_frame(self) -> pd.DataFrame:
        """Return one row per station and quantity.

        Returns
        -------
        pandas.DataFrame
            Index ``y_mm`` (NA for the whole front) and ``quantity``; every change is B minus A.
        """
        records = self.records()
        return table(records, records[0], "y_mm", "quantity")

    def to_dict(self) -> dict[str, Any]:
        """Return the comparison document ``frontcheck.comparison/2`` as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(ComparisonDocument, self)

    def summary(self) -> list[dict[str, float | str | None]]:
        """Return one short mapping per station, for a first look.

        Returns
        -------
        list of dict
            Changes of the heights, the bumper lead and the wrap-around points, farthest
            distances between the contours (0 where B never stands on that side), legform in A
            and B. The same keys everywhere; None where not comparable.
        """
        names = {
            "LBRL z": "LBRL_z_mm",
            "UBRL z": "UBRL_z_mm",
            "BLERL z": "BLERL_z_mm",
            "lead": "bumper_lead_mm",
            "lip behind bumper": UNDERCUT,
        }
        names |= {f"WAD {distance:g} x": f"WAD_{distance:g}_x_mm" for distance in self.a.wad}
        out: list[dict[str, float | str | None]] = []
        for station in self.stations:
            row: dict[str, float | str | None] = {"y": station.y}
            row |= {words: station.change(name).change for words, name in names.items()}
            reach = station.contour.reach if station.contour else (None, None)
            row["B outside"], row["B inside"] = reach
            one, two = station.legform_words
            row["legform"] = one if one == two else f"{one} > {two}"
            out.append(row)
        return out

    def _repr_html_(self) -> str:
        from html import escape

        import pandas as pd

        title = escape(f"A: {self.a.front.name}, B: {self.b.front.name}. {self.a.rules.title}")
        table = pd.DataFrame(self.summary()).set_index("y").convert_dtypes().round(1)
        kept = [finding for finding in self.findings if finding.kind != "same"]
        items = "".join(f"<li>{escape(finding.words)}</li>" for finding in kept)
        return (
            f"<p><b>{title}</b></p><p>Change from A to B (B minus A), mm. {escape(self.alignment)}"
            f"</p>{table.to_html(na_rep='-', border=0)}"
            f"<ul>{items or '<li>no finding changes</li>'}</ul><p><i>{escape(CAUTION)}</i></p>"
        )

"""What a tolerance run says, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from frontcheck.front.front import ByStation
from frontcheck.lines.statuses import OPEN_END
from frontcheck.serializer import one_line, plain, table
from frontcheck.sure.errors_drawn import Named
from frontcheck.sure.tolerance_document import ToleranceDocument

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from frontcheck.front.front import Front
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.sure.uncertainty import Uncertainty


@one_line
@dataclass(frozen=True)
class Driver(Named):
    """One error that a quantity follows."""

    name: str
    row: int | None  # Point of the section, counted from 0
    source_row: int | None  # Row of the file that holds the point
    share: float  # Share of the variance of the quantity that goes with it: squared correlation
    part_mm: float  # Standard deviation of the quantity that goes with it [mm]


@one_line
@dataclass(frozen=True)
class Spread:
    """How far one number may be off."""

    quantity: str  # Name with unit, such as ``UBRL_z_mm``
    nominal: float | None  # From the offsets as measured [mm]
    median: float  # Of the draws in which it is formed [mm]
    low: float  # Lower end of the 95 % interval [mm]; see `interval`
    high: float  # Its upper end [mm]
    sd: float  # Standard deviation of the draws [mm]
    formed: float  # Share of draws in which it is formed; the other numbers are of those
    drivers: tuple[Driver, ...] = ()

    @property
    def width(self) -> float:
        """Width of the interval [mm]."""
        return self.high - self.low

    @property
    def linear_share(self) -> float:
        """Share of the variance that goes with the listed drivers, one by one."""
        return sum(driver.share for driver in self.drivers)


NO_INTERVAL: Final = (
    "no interval: open end, what lies beyond the measured surface could change it by more than "
    "the measurement is unsure"
)
"""Why draws say nothing of a line that ends where the measurement does."""


LONG_CONTACT: Final = (
    "long contact: the measurement is not sure enough to say where the edge touches along"
)
"""Why an interval spans all rows that may be touched."""


# Small entries of a tolerance result: shares of the draws, and what to measure again.


@one_line
@dataclass(frozen=True)
class ContactShare:
    """How often a line lies at one row."""

    row: int  # Point of the section, counted from 0
    source_row: int | None  # Row of the file that holds it
    height: float  # The row as measured [mm]
    setback: float  # The row as measured [mm]
    share: float


@one_line
@dataclass(frozen=True)
class ThresholdShare:
    """On which side of a threshold a quantity falls."""

    quantity: str  # Name of the quantity
    threshold: float  # The threshold [mm]
    below: float  # Share of all draws
    at_or_above: float  # Share of all draws
    missing: float  # Share of all draws in which it is not known; the three add up to 1


@one_line
@dataclass(frozen=True)
class MeasureAgain(Named):
    """A row, or a step of the measurement, that the results hang on."""

    y: float  # Station [mm]; for an error of the whole vehicle, the one where it shows most
    name: str
    row: int | None  # Point of the section, counted from 0
    source_row: int | None  # Row of the file that holds it
    quantity: str  # The quantity that follows it most
    part_mm: float  # Standard deviation of that quantity that goes with it [mm]


@one_line
@dataclass(frozen=True)
class LineTolerance:
    """One line at one station."""

    name: str  # ``UBRL``, ``LBRL``, ``BLERL``, ``BRRL`` or a mark such as ``WAD 1000``
    statuses: tuple[tuple[str, float], ...]
    nominal_status: str  # Status with the offsets as measured
    x: Spread | None  # Its place; None when no draw forms it, and of an open end
    z: Spread | None  # Its place; None when no draw forms it, and of an open end
    contacts: tuple[ContactShare, ...]
    nominal: tuple[float, float] | None = None  # x and z with the offsets as measured [mm]
    may_touch_mm: float = 0.0  # Length of a long contact; 0 of a short one, and of marks

    @property
    def long_contact(self) -> str:
        """Why the interval is wide, where the contour lies along the edge; else empty."""
        return f"{LONG_CONTACT} {self.may_touch_mm:.0f} mm" if self.may_touch_mm else ""

    @property
    def no_interval(self) -> str:
        """Why there is no interval although the line is formed; empty when there is one."""
        return NO_INTERVAL if self.nominal_status == OPEN_END else ""

    def share(self, status: str) -> float:
        """Return the share of draws with one status."""
        return dict(self.statuses).get(status, 0.0)


@one_line
@dataclass(frozen=True)
class StationTolerance:
    """All lines of one station."""

    y: float  # Station [mm]
    lines: tuple[LineTolerance, ...]  # Reference lines, then the wrap-around distances asked for
    bumper_lead: Spread | None  # Horizontal distance from UBRL to BLERL
    legform: tuple[tuple[str, float], ...]  # Shares; missing where LBRL is not known
    thresholds: tuple[ThresholdShare, ...]  # Thresholds asked for
    crossed: float

    def line(self, name: str) -> LineTolerance:
        """Return one line."""
        for line in self.lines:
            if line.name == name:
                return line
        raise KeyError(f"no line {name!r}; there are {[line.name for line in self.lines]}")

    @property
    def no_lead_interval(self) -> str:
        """Why there is no interval of the lead although its lines are formed."""
        open_end = [n for n in ("UBRL", "BLERL") if self.line(n).nominal_status == OPEN_END]
        return f"{' and '.join(open_end)}: {NO_INTERVAL}" if open_end else ""

    def rows(self) -> Iterator[tuple[Any, ...]]:
        """Every quantity that is formed, as `Tolerance.records` has it, and why it is not sure."""
        for line in self.lines:
            stem = line.name.replace(" ", "_")
            for i, spread in enumerate((line.x, line.z)):
                at = None if line.nominal is None else line.nominal[i]
                why = line.no_interval or line.long_contact
                yield from _row(f"{stem}_{'xz'[i]}_mm", spread, at, why)
        edge, upper = self.line("BLERL").nominal, self.line("UBRL").nominal
        lead = None if edge is None or upper is None else edge[0] - upper[0]
        yield from _row("bumper_lead_mm", self.bumper_lead, lead, self.no_lead_interval)

    @property
    def spreads(self) -> tuple[Spread, ...]:
        """Every spread of the station: x and z of each line, then the bumper lead."""
        found = [spread for line in self.lines for spread in (line.x, line.z)]
        return tuple(spread for spread in (*found, self.bumper_lead) if spread is not None)


def _row(
    quantity: str, spread: Spread | None, nominal: float | None, why: str
) -> Iterator[tuple[Any, ...]]:
    if spread is not None:
        numbers = (spread.median, spread.low, spread.high, spread.sd, spread.formed)
        yield quantity, spread.nominal, *numbers, why or None
    elif why and nominal is not None:
        yield quantity, nominal, *([None] * 5), why


_COLUMNS: Final = (
    "y_mm", "quantity", "nominal_mm", "median_mm", "low_mm", "high_mm", "sd_mm", "formed_share",
    "reason",
)  # fmt: skip


@one_line
@dataclass(frozen=True, eq=False)
class Tolerance(ByStation[StationTolerance]):
    """How far the lines of a front may be off, for the uncertainties given.

    Parameters
    ----------
    front : Front
        The front as measured.
    rules : RuleSet
        The rule set used.
    settings : Uncertainty
        Uncertainties of what the rows do not state themselves.
    draws : int
        Number of draws.
    seed : int
        Seed of the draws.
    wad : tuple of float
        Wrap-around distances asked for [mm].
    tape_start : str
        Where the tape stands: ``section`` or ``vehicle``.
    stations : tuple of StationTolerance
        One a measured section.
    cautions : tuple of str
        What to keep in mind; the first says what a screening is not.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> drawn = fc.tolerance(plover, "UN-R127-02", draws=100)
    >>> drawn.draws, drawn.station(0).line("UBRL").nominal_status
    (100, 'ok')
    """

    front: Front
    rules: RuleSet
    settings: Uncertainty
    draws: int
    seed: int
    wad: tuple[float, ...]
    tape_start: str
    stations: tuple[StationTolerance, ...]
    cautions: tuple[str, ...]

    def measure_again(self, count: int = 10) -> tuple[MeasureAgain, ...]:
        """Return what to measure again first: the errors that move any quantity most.

        Parameters
        ----------
        count : int, optional
            How many at most.

        Returns
        -------
        tuple of MeasureAgain
            Largest part first; each reading once, with the quantity it moves most.
        """
        best: dict[tuple[float | None, str, int | None], MeasureAgain] = {}
        for station in self.stations:
            for spread in station.spreads:
                for driver in spread.drivers:
                    # An error of the whole vehicle is measured once, not at every station.
                    key = (None if driver.of_vehicle else station.y, driver.name, driver.row)
                    if key not in best or driver.part_mm > best[key].part_mm:
                        best[key] = MeasureAgain(
                            station.y,
                            driver.name,
                            driver.row,
                            driver.source_row,
                            spread.quantity,
                            driver.part_mm,
                        )
        order = sorted(best.values(), key=lambda m: (-m.part_mm, m.y, m.name, m.row or 0))
        return tuple(order[:count])

    def records(self) -> list[dict[str, Any]]:
        """Return one mapping per station and quantity.

        Returns
        -------
        list of dict
            The same keys everywhere; lengths in mm, shares 0 to 1. Where there is no interval
            of something formed, or a wide one of a long contact, ``reason`` says why.
        """
        return [
            dict(zip(_COLUMNS, (station.y, *cells), strict=True))
            for station in self.stations
            for cells in station.rows()
        ]

    def to_frame(self) -> pd.DataFrame:
        """Return one row per station and quantity.

        Returns
        -------
        pandas.DataFrame
            Index ``y_mm`` and ``quantity``; lengths in mm, shares 0 to 1.
        """
        return table(self.records(), _COLUMNS, "y_mm", "quantity")

    def to_dict(self) -> dict[str, Any]:
        """Return the document ``frontcheck.tolerance/1`` as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(ToleranceDocument, self)

"""What findings are made from: the part of a screening that exists before its findings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from frontcheck.contact.tape import TautTape
    from frontcheck.front import Front
    from frontcheck.rules import RuleSet
    from frontcheck.station import Station

__all__ = ["Screened"]


class Screened(Protocol):
    """A front with its lines; `frontcheck.screening.Screening` is one.

    Findings stand below the screening in the order of the layers, so they name what they
    need of it here.
    """

    @property
    def front(self) -> Front:
        """What was screened."""

    @property
    def rules(self) -> RuleSet:
        """The rule set used."""

    @property
    def stations(self) -> tuple[Station, ...]:
        """Lines of every measured section."""

    def station(self, y: float) -> Station:
        """Return the lines at one station.

        Parameters
        ----------
        y : float
            Station [mm].

        Returns
        -------
        Station
            The lines.
        """

    def tape(self, y: float) -> TautTape:
        """Return the taut tape at one station.

        Parameters
        ----------
        y : float
            Station [mm].

        Returns
        -------
        TautTape
            The tape.
        """

"""Where setbacks are counted from, so that two fronts can be laid over each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station_pairs import Matched, Side

__all__ = ["ALIGNMENTS", "Align", "Alignment", "Origins"]

Align = Literal["none", "foremost"]
ALIGNMENTS: Final[tuple[Align, ...]] = ("none", "foremost")

_LOCAL: Final = (
    "setbacks are from a datum set anew at each station (datum: local), so A and B have no place "
    "in common; align by their foremost points"
)


@dataclass(frozen=True)
class Origins:
    """Setback that counts as 0 at one station."""

    a: float  # In A and in B [mm]
    b: float  # In A and in B [mm]
    barred: str  # Why setbacks of A and B cannot be compared; empty when they can

    def points(self, matched: Matched) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return both contours with setbacks counted from here."""
        return (
            matched.a.section.points - np.array([self.a, 0.0]),
            matched.b.section.points - np.array([self.b, 0.0]),
        )


class Alignment:
    """How the fronts are laid over each other."""

    def __init__(self, a: LinedFront, b: LinedFront, align: Align) -> None:
        if align not in ALIGNMENTS:
            raise InputError(
                f"alignment {align!r}",
                expected=f"one of {', '.join(ALIGNMENTS)}",
                todo="name one of these",
            )
        self.align: Align = align
        self.local = "local" in (a.front.datum, b.front.datum)
        self._whole = (_foremost(a), _foremost(b)) if align == "foremost" else (0.0, 0.0)

    @property
    def words(self) -> str:
        """How setbacks are compared, as a sentence."""
        if self.align == "none":
            return (
                "Setbacks are compared as measured, each front from its own datum line: no shift."
                if not self.local
                else "Setbacks are not compared: a front has a datum set anew at each station."
            )
        if self.local:
            return (
                "Setbacks are counted from the foremost bumper point of each section, "
                "since a front has a datum set anew at each station."
            )
        a, b = self._whole
        return (
            "Setbacks are counted from the foremost bumper point of each whole front: A is "
            f"shifted by {-a + 0.0:g} mm and B by {-b + 0.0:g} mm."
        )

    @property
    def whole(self) -> Origins:
        """Origins of the whole fronts."""
        return Origins(*self._whole, _LOCAL if self.local else "")

    def at(self, matched: Matched) -> Origins:
        """Return the origins at one station."""
        if not self.local:
            return self.whole
        if self.align == "none":
            return Origins(0.0, 0.0, _LOCAL)
        return Origins(_own_foremost(matched.a), _own_foremost(matched.b), "")


def _own_foremost(side: Side) -> float:
    if side.station.foremost is None:
        return float(side.section.x.min())
    return side.station.foremost[0]


def _foremost(lined: LinedFront) -> float:
    """Setback of the foremost bumper point of all sections, of any point where there is none."""
    found = [s.foremost[0] for s in lined.stations if s.foremost is not None]
    return min(found or [float(section.x.min()) for section in lined.front.sections])

"""Lines across a whole front and single places on it, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from frontcheck.lines.section_lines import STATUSES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

Xyz: TypeAlias = tuple[float, float, float]

_FORMED: Final = frozenset(STATUSES[:5])


def worst_status(*statuses: str) -> str:
    """Return the status that stands for several."""
    return max(statuses, key=STATUSES.index, default="not_available")


@dataclass(frozen=True)
class Spot:
    """One place on the surface."""

    name: str  # What it is, such as ``bumper corner``
    status: str  # One of `frontcheck.lines.section_lines.STATUSES`
    point: Xyz | None  # x, y and z [mm]; None when it could not be formed
    reason: str = ""  # Why the status is what it is
    wad: float | None = None  # Wrap-around distance there [mm]; None where it was not worked out

    @property
    def formed(self) -> bool:
        """Whether there is such a place."""
        return self.status in _FORMED


@dataclass(frozen=True)
class Pair:
    """The same place on the left and on the right."""

    left: Spot  # The places
    right: Spot  # The places
    note: str = ""  # How they were found, where that needs saying

    @property
    def status(self) -> str:
        """The status farthest from ok of the two."""
        return worst_status(self.left.status, self.right.status)

    @property
    def formed(self) -> bool:
        """Whether both places could be formed."""
        return self.left.formed and self.right.formed

    @property
    def reason(self) -> str:
        """Why the status is what it is, for either side."""
        if self.left.reason == self.right.reason:
            return self.left.reason
        return "; ".join(
            f"{side}: {spot.reason}"
            for side, spot in (("left", self.left), ("right", self.right))
            if spot.reason
        )


@dataclass(frozen=True)
class Piece:
    """An unbroken piece of a line."""

    start: int  # Points `start` to `stop` - 1 of the line belong to it
    stop: int  # Points `start` to `stop` - 1 of the line belong to it
    side: str  # ``left``, ``right``, or ``both`` for a piece that runs across the centre plane


@dataclass(frozen=True, eq=False)
class FrontLine:
    """One line across the front."""

    name: str  # UBRL, LBRL, BLERL, BRRL, SRL or a mark such as ``WAD 1000``
    points: NDArray[np.float64]  # (n, 3) float, x, y and z of the points that could be formed [mm]
    point_status: tuple[str, ...]  # (n,) status of every point
    pieces: tuple[Piece, ...]  # The unbroken pieces
    status: str  # ``ok`` when every point formed is
    reason: str = ""  # Why, with how many of the contours it concerns
    wad: tuple[float | None, ...] = ()

    def __post_init__(self) -> None:
        """Keep a read-only copy of the points."""
        points = np.array(self.points, dtype=np.float64).reshape(-1, 3)
        points.setflags(write=False)
        object.__setattr__(self, "points", points)

    @property
    def formed(self) -> bool:
        """Whether any point of the line could be formed."""
        return len(self.points) > 0

    def runs(self) -> Iterator[NDArray[np.float64]]:
        """Go through the unbroken pieces."""
        for piece in self.pieces:
            yield self.points[piece.start : piece.stop]

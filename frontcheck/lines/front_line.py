"""Lines across a whole front and single places on it, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from frontcheck.lines.line_values import FORMED, STATUSES
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

Xyz: TypeAlias = tuple[float, float, float]


def worst_status(*statuses: str) -> str:
    """Return the status that stands for several."""
    return max(statuses, key=STATUSES.index, default="not_available")


@one_line
@dataclass(frozen=True)
class UprightFace:
    """An upright face where it touches, as seen from above."""

    along: tuple[float, float]  # Unit vector along it, x and y
    width: float | None  # Its width [mm]; None for a plane


@one_line
@dataclass(frozen=True)
class Spot:
    """One place on the surface."""

    name: str  # What it is, such as ``bumper corner``
    status: str  # One of `frontcheck.lines.line_values.STATUSES`
    point: Xyz | None  # x, y and z [mm]; None when it could not be formed
    reason: str = ""  # Why the status is what it is
    wad: float | None = None  # Wrap-around distance there [mm]; None where it was not worked out
    tool: UprightFace | None = None  # The tool that touches there, where one does
    formed: bool = field(init=False, repr=False)  # Whether there is such a place

    def __post_init__(self) -> None:
        """Say once whether there is such a place."""
        object.__setattr__(self, "formed", self.status in FORMED)


@one_line
@dataclass(frozen=True)
class Pair:
    """The same place on the left and on the right."""

    left: Spot  # The places
    right: Spot  # The places
    note: str = ""  # How they were found, where that needs saying
    status: str = field(init=False, repr=False)  # The status farthest from ok of the two
    reason: str = field(init=False, repr=False)  # Why, for either side
    formed: bool = field(init=False, repr=False)  # Whether both places could be formed

    def __post_init__(self) -> None:
        """Say once what holds for both sides."""
        left, right = self.left, self.right
        said = [f"{side}: {s.reason}" for side, s in (("left", left), ("right", right)) if s.reason]
        reason = left.reason if left.reason == right.reason else "; ".join(said)
        object.__setattr__(self, "status", worst_status(left.status, right.status))
        object.__setattr__(self, "reason", reason)
        object.__setattr__(self, "formed", left.formed and right.formed)


@dataclass(frozen=True)
class Piece:
    """An unbroken piece of a line."""

    start: int  # Points `start` to `stop` - 1 of the line belong to it
    stop: int  # Points `start` to `stop` - 1 of the line belong to it
    side: str  # ``left``, ``right``, or ``both`` for a piece that runs across the centre plane


@one_line
@dataclass(frozen=True, eq=False)
class FrontLine:
    """One line across the front."""

    name: str  # UBRL, LBRL, BLERL, BRRL, SRL or a mark such as ``WAD 1000``
    points: Array  # (n, 3) float, x, y and z of the points that could be formed [mm]
    point_status: tuple[str, ...]  # (n,) status of every point
    pieces: tuple[Piece, ...]  # The unbroken pieces
    status: str  # ``ok`` when every point formed is
    reason: str = ""  # Why, with how many of the contours it concerns
    wad: tuple[float | None, ...] = ()
    formed: bool = field(init=False, repr=False)  # Whether any point of the line could be formed
    runs: tuple[Array, ...] = field(init=False, repr=False)
    """The points of every unbroken piece."""

    def __post_init__(self) -> None:
        """Keep a read-only copy of the points."""
        points = np.array(self.points, dtype=np.float64).reshape(-1, 3)
        points.setflags(write=False)
        runs = tuple(points[piece.start : piece.stop] for piece in self.pieces)
        for name, value in (("points", points), ("formed", len(points) > 0), ("runs", runs)):
            object.__setattr__(self, name, value)


def xyz(point: Array) -> Xyz:
    """Return a place (3,) as plain numbers."""
    return float(point[0]), float(point[1]), float(point[2])

"""What is clicked on a side photo, checked click by click."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal, TypeGuard

import numpy as np

from frontcheck.errors import refuse
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

LEAST_PX: Final = 60.0
"""A board with a shorter side in the picture scales nothing: own choice, 1 px is then 1.7 %."""
_LEAST_TURN: Final = 0.17
"""Sine of the least turn at a corner of the board: own choice, at 10 deg three are in one line."""
_MOST_CLICKS: Final = 1000
"""Most clicks of an outline: own choice, a person sets some twenty to a hundred."""
_MOST_PX: Final = 1e6
"""No picture is larger [px]: own choice."""
_RANGES: Final = {
    "click_px": (1e-9, 100.0),
    "board_u_mm": (0.0, 100.0),
    "off_plane_mm": (0.0, 1000.0),
    "distance_mm": (500.0, 1e6),
    "behind_mm": (-1e5, 1e5),
    "above_mm": (-1e5, 1e5),
    "plan_radius_mm": (1e-9, 1e9),
    "crown_radius_mm": (1e-9, 1e9),
}
_Pixels = tuple[tuple[float, float], ...]


@one_line
@dataclass(frozen=True)
class PhotoClicks:
    """What was clicked on a side photo, and how it was taken.

    Pixels are (column, row), rows downward. A click that is no pair of numbers, or a number out of
    range, is refused by its number and key.

    Parameters
    ----------
    ground : sequence of pair of float
        Two points on the line on the ground on which the board stands [px]: they say which way is
        level.
    corners : sequence of pair of float
        Corners of the board as they are in the picture [px]: bottom left, bottom right, top right,
        top left. It stands on the ground in the centre plane; heights are from its foot.
    board_mm : pair of float
        Width and height of the board [mm].
    outline : sequence of pair of float
        (n, 2) points of the outline, n >= 3, from the lowest of the face over the nose rearward
        [px].
    parts : sequence of str, optional
        (n,) part of every point of the outline.
    facing : {"left", "right"}, optional
        Where the vehicle looks in the picture; found from the outline when not given: its last
        point is rearward of its first.
    click_px, board_u_mm : float, optional
        Standard uncertainties of a click, each way [px], and of the board's sides [mm].
    off_plane_mm : float, optional
        Standard uncertainty of how far the board is off the centre plane [mm].
    distance_mm : float, optional
        Camera to centre plane [mm].
    behind_mm, above_mm : float, optional
        How far the camera is behind the foremost point and above the highest point of the bonnet
        [mm]; without such a part, above the highest point.
    plan_radius_mm, crown_radius_mm : float, optional
        Radii of the front in plan and of the bonnet across [mm].

    Raises
    ------
    InputError
        If points are missing or no numbers, the corners are in another order or in one line, the
        board is too small in the picture, or a number may not stand there.

    Examples
    --------
    >>> import frontcheck as fc
    >>> clicks = fc.PhotoClicks(
    ...     ground=((80, 900), (900, 900)),
    ...     corners=((300, 900), (700, 900), (700, 500), (300, 500)),
    ...     board_mm=(800, 800),
    ...     outline=((130, 800), (100, 650), (140, 500), (540, 430)),
    ... )
    >>> fc.front_from_photo(clicks).section(0).points.round(1).tolist()
    [[60.0, 200.0], [0.0, 500.0], [80.0, 800.0], [880.0, 940.0]]
    """

    ground: _Pixels
    corners: _Pixels
    board_mm: tuple[float, float]
    outline: _Pixels
    parts: tuple[str, ...] | None = None
    facing: Literal["left", "right"] | None = None
    click_px: float = 1.0
    board_u_mm: float = 1.0
    off_plane_mm: float = 20.0
    distance_mm: float = 5000.0
    behind_mm: float = 0.0
    above_mm: float = 0.0
    plan_radius_mm: float = 2500.0
    crown_radius_mm: float = 6500.0

    def __post_init__(self) -> None:
        """Check what can be checked before anything is computed."""
        keep = object.__setattr__
        for key, least, most in (("ground", 2, 2), ("corners", 4, 4), ("outline", 3, _MOST_CLICKS)):
            keep(self, key, _pixels(key, getattr(self, key), least, most))
        keep(self, "board_mm", _pair("board_mm", self.board_mm, None, 1e5))
        for side in self.board_mm:
            number_of("board_mm", side, 1.0, 1e5)
        for key, (low, high) in _RANGES.items():
            keep(self, key, number_of(key, getattr(self, key), low, high))
        if not (self.facing is None or self.facing in ("left", "right")):
            raise refuse("photo.facing", key="facing", value=_shown(self.facing))
        if self.parts is not None:
            names = _listed(self.parts)
            if names is None or not all(isinstance(part, str) for part in names):
                raise refuse("photo.parts", key="parts", found=_shown(self.parts),
                             count=len(self.outline))  # fmt: skip
            if len(names) != len(self.outline):
                raise refuse("photo.parts", key="parts", found=f"{len(names)} parts",
                             count=len(self.outline))  # fmt: skip
            keep(self, "parts", tuple(names))
        _check_board(np.array(self.corners))


def _shown(value: object) -> str:
    """A value in a few characters, whatever it is."""
    try:
        text = repr(value)
    except Exception:  # noqa: BLE001 (of any type: its words are not ours)
        text = type(value).__name__
    return text if len(text) <= 40 else f"{text[:37]}..."


def _listed(given: object) -> list[Any] | None:
    """The members of a list, a tuple or an array; None of anything else."""
    if isinstance(given, np.ndarray):
        given = given.tolist()
    return list(given) if isinstance(given, (list, tuple)) else None


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, (int, float, np.integer, np.floating)) and not isinstance(value, bool)


def number_of(key: str, value: object, low: float, high: float) -> float:
    """A number within bounds, which nothing else is taken for."""
    if not (_is_number(value) and low <= value <= high):
        raise refuse("photo.number", key=key, value=_shown(value), low=low, high=high)
    return float(value)


def _pair(key: str, given: object, place: int | None, most: float) -> tuple[float, float]:
    """Two finite numbers, which may be the `place`-th of several pairs."""
    pair = _listed(given)
    if pair is None or len(pair) != 2:
        raise refuse("photo.pair", None, place, key=key, value=_shown(given))
    for value in pair:
        if not (_is_number(value) and -most <= value <= most):
            raise refuse("photo.value", None, place, key=key, value=_shown(value), most=most)
    return float(pair[0]), float(pair[1])


def _pixels(key: str, given: object, least: int, most: int) -> _Pixels:
    """Clicks as pairs of numbers."""
    clicks = _listed(given)
    if clicks is None:
        raise refuse("photo.clicks", key=key, value=_shown(given))
    if not least <= len(clicks) <= most:
        wanted = f"{least}" if least == most else f"{least} or more, {most} at most"
        raise refuse("photo.points", key=key, count=len(clicks), wanted=wanted)
    return tuple(_pair(key, click, i, _MOST_PX) for i, click in enumerate(clicks, start=1))


def _check_board(corners: Array) -> None:
    """Refuse corners in another order or in one line, and a board that scales nothing."""
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    lengths = np.hypot(*sides.T)
    least = _LEAST_TURN * lengths * np.roll(lengths, -1)
    # Rows run downward, so this order turns to the left of the picture: every turn negative.
    if not ((turns < -least).all() and sides[0, 0] > abs(sides[0, 1])):
        raise refuse("photo.corners", key="corners")
    if lengths.min() < LEAST_PX:
        raise refuse("photo.board", key="corners", side=lengths.min(), least=LEAST_PX)

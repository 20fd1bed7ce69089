"""A side section from clicks on a side photo: a board in the centre plane gives the scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.front import Front
from frontcheck.front.survey import MAX_ERROR_LENGTH_MM, Survey
from frontcheck.serializer import one_line
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_LEAST_BOARD_PX: Final = 60.0
"""A board with a shorter side in the picture scales nothing: own choice, 1 px is then 1.7 %."""
_FOOT_MM: Final = 60.0
"""Farther from the board's foot the ground line is another ground: own choice [mm]."""
_NOTES: Final = (
    "Read from one side photo: one section, y = 0, of the outline seen from the side.",
    "The plan shape and stations off the centre plane cannot be seen in a side photo.",
    "Errors of the board's corners are shared by all points and stand in the uncertainty of each.",
    "The error length, half the board's smaller side, is an own choice.",
)
_CAUTION: Final = (
    "A recess that the corners of the bumper hide from the side is not seen: where the photo shows "
    "no recess, there may be one."
)

_Pixels = tuple[tuple[float, float], ...]


@one_line
@dataclass(frozen=True)
class PhotoClicks:
    """What was clicked on a side photo, and how it was taken.

    Parameters
    ----------
    ground : tuple of tuple of float
        Two points (column, row) on the ground in the centre plane [px], rows downward.
    corners : tuple of tuple of float
        Corners of the board as they are in the picture [px]: bottom left, bottom right, top right,
        top left.
    board_mm : tuple of float
        Width and height of the board [mm].
    outline : tuple of tuple of float
        Points of the outline from the lowest of the face over the nose rearward [px].
    parts : tuple of str, optional
        Part of every point of the outline.
    facing : {"left", "right"}, optional
        Where the vehicle looks in the picture; found from the outline when not given: its last
        point is rearward of its first.
    click_px, board_u_mm : float, optional
        Standard uncertainties of a click [px] and of the board's sides [mm].
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
        If points are missing, the corners are in another order, the board is too small in the
        picture, or a number may not stand there.

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
        for name, given, least in (("ground", self.ground, 2), ("corners", self.corners, 4)):
            if np.shape(given) != (least, 2) or not np.isfinite(given).all():
                raise refuse("photo.points", key=name, count=len(given), least=least)
        if len(self.outline) < 3 or np.shape(self.outline) != (len(self.outline), 2):
            raise refuse("photo.outline", key="outline", count=len(self.outline))
        if not np.isfinite(self.outline).all():
            raise refuse("photo.number", key="outline", value="a click that is no number")
        for key in ("distance_mm", "plan_radius_mm", "crown_radius_mm", "click_px"):
            _positive(key, getattr(self, key))
        for side in self.board_mm:
            _positive("board_mm", side)
        for key in ("board_u_mm", "off_plane_mm"):
            if not 0.0 <= getattr(self, key) < math.inf:
                raise refuse("photo.number", key=key, value=getattr(self, key))
        for key in ("behind_mm", "above_mm"):
            if not math.isfinite(getattr(self, key)):
                raise refuse("photo.number", key=key, value=getattr(self, key))
        if self.facing not in {None, "left", "right"}:
            raise refuse("photo.number", key="facing", value=self.facing)
        _check_board(np.array(self.corners, dtype=np.float64))


def _positive(key: str, value: float) -> None:
    """Refuse what scales or divides and is nothing."""
    if not (math.isfinite(value) and value > 0.0):
        raise refuse("photo.number", key=key, value=value)


def _check_board(corners: Array) -> None:
    """Refuse corners in another order, and a board that scales nothing."""
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    # Rows run downward, so this order turns to the left of the picture: every turn negative.
    if not ((turns < 0.0).all() and sides[0, 0] > abs(sides[0, 1])):
        raise refuse("photo.corners", key="corners")
    shortest = float(np.hypot(*sides.T).min())
    if shortest < _LEAST_BOARD_PX:
        raise refuse("photo.board", key="corners", side=shortest, least=_LEAST_BOARD_PX)


def homography(seen: Array, true: Array) -> Array:
    """Return the 3 x 3 matrix that takes four points to four others."""
    rows, right = [], []
    for (c, r), (u, v) in zip(seen, true, strict=True):
        rows += [[c, r, 1, 0, 0, 0, -u * c, -u * r], [0, 0, 0, c, r, 1, -v * c, -v * r]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)


def through(matrix: Array, points: Array) -> Array:
    """Return where points go by a homography."""
    lifted = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(lifted[:, :2] / lifted[:, 2:])


def _board(size: Array) -> Array:
    """Return the corners of the board on its own plane, in the order of the clicks [mm]."""
    return np.array([[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]])


def _levelled(corners: Array, ground: Array, size: Array, points: Array) -> Array:
    """Return points from the ground line: along it from the board's first corner, and above it."""
    # The ground points alone say where z = 0 is and which way is up: the board may lean.
    matrix = homography(corners, _board(size))
    first, second = through(matrix, ground[np.argsort(ground[:, 0])])
    along = (second - first) / np.hypot(*(second - first))
    plane = through(matrix, points)
    x = plane @ along
    return np.column_stack([x, (plane - first) @ (-along[1], along[0])])


def _covariance(clicks: PhotoClicks, corners: Array, ground: Array, outline: Array) -> Array:
    """Return the (n, 2, 2) covariance of points by clicks, corners, ground and board's size."""
    size = np.array(clicks.board_mm, dtype=np.float64)
    given = np.concatenate([corners.ravel(), ground.ravel(), size])
    steps = np.append(np.full(12, 0.05), np.full(2, 0.05))
    u = np.append(np.full(12, clicks.click_px), np.full(2, clicks.board_u_mm))

    def at(values: Array, points: Array) -> Array:
        return _levelled(values[:8].reshape(4, 2), values[8:12].reshape(2, 2), values[12:], points)

    shared = [
        (at(given + step, outline) - at(given - step, outline)) / (2.0 * step.sum()) * each
        for step, each in zip(np.diag(steps), u, strict=True)
    ]
    own = [
        (at(given, outline + step) - at(given, outline - step)) / 0.1 * clicks.click_px
        for step in ((0.05, 0.0), (0.0, 0.05))
    ]
    parts = np.array(shared + own)
    return np.asarray(np.einsum("kni,knj->nij", parts, parts))


def _silhouette(clicks: PhotoClicks, points: Array, camera: Array) -> Array:
    """Return how far the outline seen stands off the section at each point, as (x, z) [mm]."""
    # Along the normal n the surface falls off by y^2 k / 2 with k = |nx| / R + |nz| / Rc, and the
    # view leans against it by s = n (camera - point) / d: it is touched s^2 / (2 k) farther out.
    tangent = np.gradient(points, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
    fall = np.abs(normal) @ (1.0 / clicks.plan_radius_mm, 1.0 / clicks.crown_radius_mm)
    lean = np.einsum("ni,ni->n", normal, camera - points) / clicks.distance_mm
    return np.asarray(normal * (lean**2 / (2.0 * np.maximum(fall, 1e-12)))[:, None])


def front_from_photo(clicks: PhotoClicks, name: str = "front") -> Front:
    """Return the one section that clicks on a side photo give, with its uncertainties.

    Parameters
    ----------
    clicks : PhotoClicks
        What was clicked and how the photo was taken.
    name : str, optional
        Name of the front.

    Returns
    -------
    Front
        One section at y = 0, setbacks from its foremost point.

    Raises
    ------
    InputError
        If the ground is not at the board's foot, a point lies at or beyond the horizon, or the
        outline crosses itself.

    Examples
    --------
    >>> import frontcheck as fc
    >>> clicks = fc.PhotoClicks(
    ...     ground=((80, 900), (900, 900)),
    ...     corners=((300, 900), (700, 900), (700, 500), (300, 500)),
    ...     board_mm=(800, 800),
    ...     outline=((130, 800), (100, 650), (140, 500), (540, 430)),
    ... )
    >>> fc.front_from_photo(clicks, "Plover").stations
    (0.0,)
    """
    corners, ground, outline = (
        np.array(each, dtype=np.float64) for each in (clicks.corners, clicks.ground, clicks.outline)
    )
    size = np.array(clicks.board_mm, dtype=np.float64)
    matrix = homography(corners, _board(size))
    every = np.column_stack([np.vstack([outline, ground]), np.ones(len(outline) + 2)])
    if not (every @ matrix[2] > 1e-6).all():
        raise refuse("photo.horizon", key="outline")
    if np.hypot(*(ground[1] - ground[0])) < _LEAST_BOARD_PX:
        raise refuse("photo.ground_near", key="ground", least=_LEAST_BOARD_PX)
    foot = float(np.abs(_levelled(corners, ground, size, corners[:2])[:, 1]).max())
    if foot > _FOOT_MM:
        raise refuse("photo.ground", key="ground", foot=foot, most=_FOOT_MM)
    points = _levelled(corners, ground, size, outline)
    covariance = _covariance(clicks, corners, ground, outline)
    if (clicks.facing or ("left" if points[-1, 0] > points[0, 0] else "right")) == "right":
        points[:, 0] *= -1.0
        covariance[:, 0, 1] *= -1.0
        covariance[:, 1, 0] *= -1.0
    points[:, 0] -= points[:, 0].min()
    bonnet = np.array([part == "bonnet" for part in clicks.parts or ()], dtype=bool)
    top = points[bonnet, 1] if len(bonnet) == len(points) and bonnet.any() else points[:, 1]
    camera = np.array([clicks.behind_mm, float(top.max()) + clicks.above_mm])
    # A board off the plane scales all; heights from the ground or, if the ground points are off
    # with it, from the camera: the larger of the two.
    reach = np.maximum(np.abs(points), np.abs(points - camera))
    off = reach * (clicks.off_plane_mm / clicks.distance_mm)
    seen = _silhouette(clicks, points, camera)
    for i in range(2):
        covariance[:, i, i] += off[:, i] ** 2 + seen[:, i] ** 2
    u = np.sqrt(np.einsum("nii->ni", covariance))
    section = Section(
        points,
        parts=clicks.parts,
        setback_u=u[:, 0],
        height_u=u[:, 1],
        correlation=np.clip(covariance[:, 0, 1] / (u[:, 0] * u[:, 1]), -1.0, 1.0),
    )
    return Front(
        (section,),
        name=name,
        method="side photo with a board in the centre plane",
        reader_notes=_NOTES,
        reader_cautions=(_CAUTION,),
        survey=Survey(error_length_mm=min(float(size.min()) / 2.0, MAX_ERROR_LENGTH_MM)),
    )


def board_grid(clicks: PhotoClicks, pitch_mm: float = 100.0) -> tuple[Array, ...]:
    """Return the lines of a grid on the board in pixels, (2, 2) each, to draw over the picture."""
    _positive("pitch_mm", pitch_mm)
    width, height = clicks.board_mm
    pitch = max(pitch_mm, max(width, height) / 100.0)
    back = homography(_board(np.array([width, height])), np.array(clicks.corners, dtype=float))
    upright = [[[u, 0.0], [u, height]] for u in np.append(np.arange(0.0, width, pitch), width)]
    level = [[[0.0, v], [width, v]] for v in np.append(np.arange(0.0, height, pitch), height)]
    return tuple(through(back, np.array(line)) for line in upright + level)

"""A side section from clicks on a side photo: a board in the centre plane gives the scale.

Glossary
--------
camera's foot
    Where the line from the camera square to the centre plane meets it. A board that stands a
    little before or behind that plane is seen larger or smaller about this point.
shared error
    One that all points have from the same cause: a corner clicked off, the board's size, the board
    off the plane, the outline seen beside the section.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError, refuse
from frontcheck.front.front import Front
from frontcheck.front.survey import MAX_ERROR_LENGTH_MM, Survey
from frontcheck.reading.photo_clicks import LEAST_PX, PhotoClicks, number_of
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from frontcheck.geometry.arrays import Array

_FOOT_MM: Final = 60.0
"""Farther from the board's foot the ground line is another ground: own choice [mm]."""
_HORIZON: Final = 0.05
"""Own choice: what is seen twenty times as small as the board is next to the horizon."""
_FAR_BOARDS: Final = 3.0
"""Clicks farther from the board than so many of its widths are named: own choice, there a click of
a corner counts some ten times."""
_UNSURE_MM: Final = 25.0
"""Clicks less sure than this are named [mm]: own choice, ten times what a click is."""
_SMALL_MM: Final = 600.0
"""Boards lower or narrower than this are named [mm]: own choice, below it errors grow fast."""
_HALF_MM: Final = 900.0
"""No vehicle is seen farther from its centre plane [mm]: own choice, half of a wide car."""
_CROWN_MM: Final = (600.0, 850.0)
"""The crown of a bonnet begins at one height and is whole from the other on [mm]: own choice, from
the foot of the straight edge that finds the leading edge to a bonnet."""
_STEP: Final = 0.05  # of a click [px] and of a side [mm], to see what it does
_NOTES: Final = (
    "Read from one side photo: one section, y = 0, of the outline seen from the side.",
    "Recesses, the lower lip, the plan shape, corners and stations off the centre are not seen.",
    "Heights are from the foot of the board; the two ground points say which way is level.",
    "Errors that all points share are stated as of datum, square, ground, ride height and scale.",
)


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


_CORNERS, _GROUND = slice(0, 4), slice(4, 6)


class _Picture:
    """Clicks about the board's middle, the board about 1 large, so that nothing is ill posed."""

    def __init__(self, clicks: PhotoClicks) -> None:
        every = np.array([*clicks.corners, *clicks.ground, *clicks.outline])
        corners, ground = every[_CORNERS], every[_GROUND]
        if np.hypot(*(ground[1] - ground[0])) < LEAST_PX:
            raise refuse("photo.ground_near", key="ground", least=LEAST_PX)
        self.px = float(np.ptp(corners, axis=0).max())
        self.every = (every - corners.mean(axis=0)) / self.px
        self.size = np.array(clicks.board_mm)
        matrix = homography(self.every[_CORNERS], _board(self.size))
        depth = np.column_stack([self.every, np.ones(len(every))]) @ matrix[2]
        for i in np.flatnonzero(depth < _HORIZON).tolist():
            key, before = ("outline", 6) if i > 5 else ("ground", 4)
            raise refuse("photo.horizon", None, i - before + 1, key=key)
        self.plane = through(matrix, self.every)
        self.points = self.placed(self.every, self.size)

    def placed(self, every: Array, size: Array) -> Array:
        """Where corners, ground points and outline are: along the ground, and above the foot."""
        # The board stands on the ground, so its foot says where z = 0 is: a board off the plane
        # then scales all about the camera's foot, wherever the ground points are. Those say which
        # way is up, as the board may lean: a line along the ground is level off the plane, too.
        plane = through(homography(every[_CORNERS], _board(size)), every)
        first, second = plane[_GROUND][np.argsort(every[_GROUND, 0])]
        along = (second - first) / np.hypot(*(second - first))
        where = np.column_stack([plane @ along, plane @ (-along[1], along[0])])
        return np.asarray(where - (0.0, where[:2, 1].mean()))

    def foot(self) -> Array:
        """How far both feet of the board are above the line of the ground points, (2,) [mm]."""
        return np.asarray(self.points[:2, 1] - self.points[_GROUND, 1].mean())

    def shared(self, click_px: float, board_u: float) -> list[Array]:
        """What each corner, ground point and side of the board does to the outline, (n, 2) [mm]."""
        moves = [(one, np.zeros(2), click_px) for one in self._clicks(range(6))]
        moves += [(np.zeros(2), side, board_u) for side in _STEP * np.eye(2)]
        return [self._moved(off, size) * (u / _STEP) for off, size, u in moves]

    def own(self, click_px: float) -> Array:
        """Variance of every point by its own click, (n, 2) [mm2]."""
        moves = (self._moved(off, np.zeros(2)) for off in self._clicks([slice(6, None)]))
        return np.asarray(sum(np.square(move * (click_px / _STEP)) for move in moves))

    def _clicks(self, which: Iterable[int | slice]) -> Iterator[Array]:
        """A step of each of some clicks, along the row and down the column."""
        for i in which:
            for axis in range(2):
                off = np.zeros_like(self.every)
                off[i, axis] = _STEP / self.px
                yield off

    def _moved(self, off: Array, size: Array) -> Array:
        """How far such a step moves the outline, (n, 2) [mm]."""
        ahead = self.placed(self.every + off, self.size + size)
        behind = self.placed(self.every - off, self.size - size)
        return np.asarray((ahead - behind)[6:] / 2.0)

    def far(self) -> list[int]:
        """Numbers of the clicks of the outline that are far from the board."""
        clicks = self.plane[6:]
        off = np.maximum(np.maximum(-clicks, clicks - self.size), 0.0)
        return [int(i) + 1 for i in np.flatnonzero(np.hypot(*off.T) > _FAR_BOARDS * self.size[0])]


def _silhouette(clicks: PhotoClicks, points: Array, camera: Array) -> Array:
    """Return how far what is seen is from each point of the section, as (x, z) [mm]."""
    # At y a point of the section stands x + y^2 / 2R, z - y^2 / 2Rc; along the normal n of the
    # section that falls off by k y^2 / 2, k = |nx| / R + nz / Rc (no crown below the bonnet, nor
    # where it faces down). The view grazes it where y^2 / 2 + d y = n (camera - point) / k; what is
    # there is drawn to the plane from the camera. To first order that is s^2 / (2 k) along n,
    # with s = n (camera - point) / d, and s / (k d) of the way to the camera along the section.
    tangent = np.gradient(points, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
    crown = np.clip((points[:, 1] - _CROWN_MM[0]) / np.ptp(_CROWN_MM), 0.0, 1.0)
    crown *= (normal[:, 1] > 0.0) / clicks.crown_radius_mm
    plan, d = np.full(len(points), 1.0 / clicks.plan_radius_mm), clicks.distance_mm
    fall = np.maximum(np.abs(normal[:, 0]) * plan + normal[:, 1] * crown, 1e-12)
    lean = np.einsum("ni,ni->n", normal, camera - points) / fall
    half = min(_HALF_MM, d / 2.0)
    y = np.clip(np.sqrt(np.maximum(d**2 + 2.0 * lean, 0.0)) - d, -half, half)[:, None]
    there = points + y**2 / 2.0 * np.column_stack([plan, -crown])
    return np.asarray(camera + (there - camera) * (d / (d + y)) - points)


@dataclass(frozen=True)
class _Outline:
    """Where the outline is, how unsure, and what makes it less sure than need be."""

    points: Array  # (n, 2) [mm]
    shared: Array  # Variance by errors that all points share, (n, 2) [mm2]
    own: Array  # Variance by their own clicks, (n, 2) [mm2]
    doubts: tuple[str, ...]

    @property
    def u(self) -> Array:
        """How unsure it is, all errors together, (n, 2) [mm]."""
        return np.asarray(np.sqrt(self.shared + self.own))


def _outline(clicks: PhotoClicks) -> _Outline:
    """Read clicks."""
    picture = _Picture(clicks)
    foot = picture.foot()
    if np.abs(foot).max() > _FOOT_MM:
        raise refuse("photo.ground", key="ground", foot=np.abs(foot).max(), most=_FOOT_MM)
    points = picture.points[6:].copy()
    right = points[-1, 0] < points[0, 0] if clicks.facing is None else clicks.facing == "right"
    points[:, 0] *= -1.0 if right else 1.0
    points[:, 0] -= points[:, 0].min()
    bonnet = np.array([part == "bonnet" for part in clicks.parts or ()], dtype=bool)
    top = float((points[bonnet, 1] if bonnet.any() else points[:, 1]).max())
    camera = np.array([clicks.behind_mm, top + clicks.above_mm])
    off = clicks.off_plane_mm / clicks.distance_mm
    shared = picture.shared(clicks.click_px, clicks.board_u_mm)
    shared += [(points - camera) * off, _silhouette(clicks, points, camera)]
    own, doubts, gap = picture.own(clicks.click_px), [], float(foot.mean())
    likely = math.hypot(2.0 * math.sqrt(float(own.mean())), float(camera[1]) * off)
    if abs(gap) > 3.0 * likely:  # 3 standard deviations
        doubts.append(
            f"The foot of the board is {abs(gap):.0f} mm {'above' if gap > 0.0 else 'below'} the "
            "line of the ground points, more than clicks explain: heights are from the foot. Does "
            "it stand on the ground, and are the ground points on the line it stands on?"
        )
    if far := picture.far():
        doubts.append(
            f"{len(far)} clicks of the outline, from number {far[0]} on, are more than "
            f"{_FAR_BOARDS:g} board widths from the board: errors of its corners grow fast there. "
            "Use a larger board, or one nearer to them."
        )
    if min(clicks.board_mm) < _SMALL_MM:
        doubts.append(
            f"The board is smaller than {_SMALL_MM:g} mm: what is above or beside it is unsure."
        )
    total = np.square(shared).sum(axis=0)
    unsure = np.flatnonzero((total + own).max(axis=1) > _UNSURE_MM**2) + 1
    if len(unsure):
        doubts.append(
            f"Unsure by more than {_UNSURE_MM:g} mm, far from the board or seen far off the centre "
            f"plane, are clicks of the outline: {', '.join(map(str, unsure[:9]))}"
            + (f" and {len(unsure) - 9} more." if len(unsure) > 9 else ".")
        )
    return _Outline(points, total, own, tuple(doubts))


def _as_whole(clicks: PhotoClicks, read: _Outline) -> tuple[Survey, Array]:
    """Return shared errors as those of the whole measurement, and the variance left to the rows."""
    from scipy.optimize import linprog  # here: the command line must start fast

    shared = read.shared
    # As much as datum, square, ground, scale and ride height can carry without stating any point
    # less sure than it is: the greatest sum of shares, a linear programme in their variances.
    x, z = np.square(read.points.T / 1000.0)
    one, none = np.ones_like(x), np.zeros_like(x)
    moves = np.hstack([[one, z, z, x, none], [none, none, x, z, one]]).T
    room = np.maximum(shared.T.ravel(), 1e-12)
    share = moves / room[:, None]
    most = np.square([200.0, *[1000.0 * math.radians(15.0)] * 2, 100.0, 200.0])  # of a survey
    bounds = [(0.0, float(top)) for top in most]
    found = linprog(-np.asarray(share.sum(axis=0)), share, np.ones(len(room)), bounds=bounds)
    # Without a solution, as of lengths beyond all reason, all stays with the rows. Rounded down.
    u = np.sqrt(np.maximum(np.zeros(5) if found.x is None else found.x, 0.0))
    units = np.array([1.0, *[math.degrees(1e-3)] * 2, 0.1, 1.0])
    u = np.floor(u * units * 1e4) / 1e4
    datum, tilt, slope, scale, ride = u.tolist()
    left = np.maximum(shared - (moves @ np.square(u / units)).reshape(2, -1).T, 0.0)
    # Clicks err one by one. Own choice: where what is left of the shared errors is three times as
    # large, as far from a small board, rows err alike over half the board.
    bends = np.median(left) > 9.0 * np.median(read.own)
    length = min(min(clicks.board_mm) / 2.0, MAX_ERROR_LENGTH_MM) if bends else 0.0
    survey = Survey(
        datum_u_mm=datum,
        square_tilt_u_deg=tilt,
        ground_slope_u_deg=slope,
        scale_u_percent=scale,
        ride_height_u_mm=ride,
        error_length_mm=length,
    )
    return survey, left + read.own


def point_uncertainty(clicks: PhotoClicks) -> Array:
    """Return how unsure each click of the outline is, all errors together: (n, 2) x and z [mm]."""
    return _outline(clicks).u


def front_from_photo(clicks: PhotoClicks, name: str = "front") -> Front:
    """Return the one section that clicks on a side photo give, with its uncertainties.

    Errors that all points share stand in the survey of the front (datum, square, ground, ride
    height, scale), those of single points at its rows; `point_uncertainty` gives both together.
    The section is marked as an outline seen from the side (`Section.silhouette`): what depends on
    a recess or on the lower lip is then said to be not seen.

    Parameters
    ----------
    clicks : PhotoClicks
        What was clicked and how the photo was taken.
    name : str, optional
        Name of the front.

    Returns
    -------
    Front
        One section at y = 0, setbacks from its foremost point; `reader_cautions` name what makes
        it less sure than need be.

    Raises
    ------
    InputError
        If the ground is not at the board's foot, a point lies at or beyond the horizon, or the
        outline is none: too few points, crossing itself, below the ground.

    Examples
    --------
    >>> import frontcheck as fc
    >>> clicks = fc.PhotoClicks(
    ...     ground=((80, 900), (900, 900)),
    ...     corners=((300, 900), (700, 900), (700, 500), (300, 500)),
    ...     board_mm=(800, 800),
    ...     outline=((130, 800), (100, 650), (140, 500), (540, 430)),
    ... )
    >>> front = fc.front_from_photo(clicks, "Plover")
    >>> front.stations, front.silhouette, front.survey.datum_u_mm > 0
    ((0.0,), True, True)
    """
    read = _outline(clicks)
    survey, rows = _as_whole(clicks, read)
    u = np.ceil(np.sqrt(rows) * 10.0) / 10.0
    try:
        section = Section(read.points, 0.0, clicks.parts, u[:, 1], u[:, 0], silhouette=True)
    except ContourError as problem:
        at = None if problem.index is None else problem.index + 1
        raise refuse("photo.contour", None, at, key="outline", found=problem.found,
                     expected=problem.expected) from problem  # fmt: skip
    sure = f"A point is sure to {read.u.min():.1f} to {read.u.max():.1f} mm, all errors together."
    return Front(
        (section,),
        name=name,
        method="side photo with a board in the centre plane",
        notes=" ".join([*_NOTES, sure, *read.doubts]),
        reader_notes=(*_NOTES, sure),
        reader_cautions=read.doubts,
        survey=survey,
    )


def board_grid(clicks: PhotoClicks, pitch_mm: float = 100.0) -> tuple[Array, ...]:
    """Return a grid on the board as ends of lines, (2, 2) each [px]: seen on it, it has to fit."""
    width, height = clicks.board_mm
    pitch = max(number_of("pitch_mm", pitch_mm, 1e-9, 1e5), max(width, height) / 100.0)
    back = homography(_board(np.array([width, height])), np.array(clicks.corners))
    upright = [[[u, 0.0], [u, height]] for u in np.append(np.arange(0.0, width, pitch), width)]
    level = [[[0.0, v], [width, v]] for v in np.append(np.arange(0.0, height, pitch), height)]
    return tuple(through(back, np.array(line)) for line in upright + level)

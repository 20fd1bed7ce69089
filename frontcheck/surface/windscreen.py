"""The windscreen of a contour without labels, told by its shape or by where it begins.

Readings
--------
by shape
    The last concave bend above a height (700 mm) from which the contour rises at 20 to 65 deg
    and nearly straight for at least a length (250 mm): own choice, `windscreen` in the rule sets.
    Bonnets rise less, pillars and grilles more, scuttles for less. The rise is looked at in chords
    of 50 mm and more, so that neither facets nor offsets a few millimetres wrong decide.
from station to station
    From the centre outward the foot may move by 50 mm plus 1.5 times the distance across rearward
    and half of that in height [own choice: a windscreen that sweeps by 56 deg]; beyond a greater
    step what is found is another bend, and the windscreen has ended.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np

from frontcheck.geometry.polyline import nearest, points_at
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.surface.section import Section

_PIECE_MM: Final = 50.0  # own choice: a few rows of a hand measurement
_BEND_DEG: Final = 5.0
"""Least bend at the foot [deg]; own choice: more than a bonnet's own hollow within 50 mm."""
_BEND_PIECES: Final = 3
"""Pieces over which the rise is compared with the way into it: own choice, so that a step is no
bend."""
_STRAIGHT_MM: Final = 16.0
"""Farthest that the rise may leave its chord [mm]; own choice: glass bent to a radius of 1 m does
so by 8 mm in 250 mm and a frame stands out by as much, the edge of a roof by more than 30."""
_STEP_MM, _STEP_RATE = 50.0, 1.5
"""A foot may move by 50 mm plus 1.5 times the station distance: own choice, windscreens turn away
by less than 56 deg in plan."""
_SAME: Final = 1e-6


@one_line
@dataclass(frozen=True)
class Windscreen:
    """How the windscreen was told from the bonnet."""

    basis: Literal["labels", "shape", "given", "none"] = "none"
    at: tuple[float, float] | None = None  # Its foot nearest the centre, x and z [mm]


class Rise(NamedTuple):
    """What counts as a windscreen."""

    above: float  # Height above which it is sought [mm]
    low: float  # Least and greatest slope [deg]
    high: float
    length: float  # For how long it rises at least [mm]


def foot_by_shape(section: Section, rise: Rise) -> int | None:
    """Index of the point at which the windscreen stands; None where there is none."""
    points, arcs = section.points, section.arc_lengths
    from_front = int(np.argmin(section.x))
    steps = np.arange(0.0, rise.length + 1e-9, _PIECE_MM)
    here = np.flatnonzero(
        (section.z > rise.above)
        & (np.arange(len(points)) > from_front)
        & (arcs + steps[-1] <= arcs[-1])
    )
    if len(here) == 0:
        return None
    # Chords of the rise from its foot on, and the way into it.
    ahead = points_at(points, arcs, arcs[here, None] + steps)
    chords = ahead[:, 1:] - ahead[:, :1]
    slopes, whole = _slopes(chords), chords[:, -1]
    across = chords[..., 0] * whole[:, None, 1] - chords[..., 1] * whole[:, None, 0]
    off = np.abs(across / np.hypot(whole[:, 0], whole[:, 1])[:, None]).max(axis=1)
    rises = ((slopes >= rise.low) & (slopes <= rise.high)).all(axis=1) & (off <= _STRAIGHT_MM)
    into = points[here] - points_at(points, arcs, np.maximum(arcs[here] - _PIECE_MM, 0.0))
    bend = slopes[:, _BEND_PIECES - 1] - _slopes(into)
    fits = np.flatnonzero(rises & (bend >= _BEND_DEG))
    if len(fits) == 0:
        return None
    # The last group of points that lie within a piece of one another; its sharpest bend.
    apart = np.flatnonzero(np.diff(arcs[here[fits]]) > _PIECE_MM)
    last = fits[apart[-1] + 1 :] if len(apart) else fits
    return int(here[last[bend[last].argmax()]])


def _slopes(steps: Array) -> Array:
    """Slope of steps, 0 level rearward, 90 upright [deg]."""
    return np.degrees(np.arctan2(steps[..., 1], steps[..., 0]))


def feet_by_shape(sections: Sequence[Section], rise: Rise) -> list[int | None]:
    """Foot of every section, as far as they hang together from the centre outward."""
    found = [foot_by_shape(section, rise) for section in sections]
    return _together(sections, found)


def feet_from(sections: Sequence[Section], place: tuple[float, float], rise: Rise) -> list[float]:
    """Foot of every section where the windscreen of the centre begins at a given place."""
    # Elsewhere by shape, where that is near the foot of the neighbour, else straight across.
    centre = _centre(sections)
    feet = [nearest_place(sections[centre], place)] * len(sections)
    for order in (range(centre + 1, len(sections)), range(centre - 1, -1, -1)):
        before = centre
        for i in order:
            by_shape = foot_by_shape(sections[i], rise)
            if by_shape is not None and _hangs(sections, before, i, feet[before], by_shape):
                feet[i] = float(by_shape)
            else:
                feet[i] = nearest_place(sections[i], place_of(sections[before], feet[before]))
            before = i
    return feet


def _together(sections: Sequence[Section], found: list[int | None]) -> list[int | None]:
    centre = _centre(sections)
    kept: list[int | None] = [None] * len(sections)
    if found[centre] is None:
        return kept
    kept[centre] = found[centre]
    for order in (range(centre + 1, len(sections)), range(centre - 1, -1, -1)):
        before = centre
        for i in order:
            one, two = kept[before], found[i]
            if one is None or two is None or not _hangs(sections, before, i, one, two):
                break
            kept[i] = two
            before = i
    return kept


def _hangs(sections: Sequence[Section], before: int, i: int, one: float, two: float) -> bool:
    (x0, z0), (x1, z1) = place_of(sections[before], one), place_of(sections[i], two)
    most = _STEP_MM + _STEP_RATE * abs(sections[i].y - sections[before].y)
    return bool(abs(x1 - x0) <= most and abs(z1 - z0) <= most / 2.0)


def _centre(sections: Sequence[Section]) -> int:
    return int(np.argmin([abs(section.y) for section in sections]))


def nearest_place(section: Section, place: tuple[float, float]) -> float:
    """Place of a contour, as index and position behind it, that is nearest to a point."""
    found = nearest(section.points, place)
    t = float(found.t)
    # Close to a point of the contour it is that point.
    t = 0.0 if t < _SAME else 1.0 if t > 1.0 - _SAME else t
    return min(int(found.stretch) + t, len(section) - 1.5)


def place_of(section: Section, foot: float) -> tuple[float, float]:
    """Setback and height of a place of a contour."""
    k = int(foot)
    a, b = section.points[k], section.points[min(k + 1, len(section) - 1)]
    x, z = (a + (foot - k) * (b - a)).tolist()
    return x, z


def with_foot(section: Section, foot: float | None) -> Section:
    """Return a section that is windscreen from its foot on; a point is added where it has none."""
    if foot is None:
        return section
    parts = ["" if p == "windscreen" else p for p in section.parts or ("",) * len(section)]
    k = math.ceil(foot)
    if k == foot:
        return section.relabelled([*parts[:k], *map(_glass, parts[k:])])
    points = np.insert(section.points, k, place_of(section, foot), axis=0)
    height_u, setback_u, both = (
        None if each is None else np.insert(each, k, each[k - 1])
        for each in (section.height_u, section.setback_u, section.correlation)
    )
    rows = section.rows and (*section.rows[:k], section.rows[k - 1], *section.rows[k:])
    parts = [*parts[:k], "windscreen", *map(_glass, parts[k:])]
    drawn = None if section.proposed is None else np.insert(section.proposed, k, True)
    return replace(
        section, points=points, parts=tuple(parts), rows=rows, proposed=drawn,
        height_u=height_u, setback_u=setback_u, correlation=both,
    )  # fmt: skip


def _glass(part: str) -> str:
    """What lies behind the foot is windscreen, but for what is known to be its frame."""
    return part if part == "pillar" else "windscreen"

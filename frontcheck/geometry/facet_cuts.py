"""Facets cut by planes square to an axis, and straight tools that touch them from outside.

Glossary
--------
facet
    Flat triangle, a row of (k, 3, 3) corners.
cut
    Stretch in which a facet crosses a plane. Corners on the plane count on either side, so that
    facets which touch it or lie in it have cuts too.
along, out
    Coordinates of a touch in the plane of a tool: along the tool, and square out of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

CREASE_DEG: Final = 12.0
"""A contour that turns by more than this at the touch has an edge there and touches with it; one
that turns by less stands for a smooth shape. Own choice: facets of 10 mm turn by 12 deg on a radius
of 48 mm, and panels meet in sharper edges."""
LEANS_DEG: Final = 1.5
"""The place of a touch on a smooth shape is the mean over leans this much either way: own choice,
some 50 mm of contour on a radius of 1 m, so that no single facet decides."""
FLAT_MM: Final = 40.0
"""Longer facets are taken for flat pieces and not for a smooth shape. Own choice: coarser facets
than that leave 0.2 mm of a radius of 1 m."""
AROUND_MM: Final = 60.0
"""How far along the tool from a touch its contour is looked at [mm]."""


@dataclass(frozen=True, eq=False)
class Cuts:
    """Stretches in which facets cross planes."""

    level: Index  # (p,) int, which plane
    facet: Index  # (p,) int, which facet
    ends: Array  # (p, 2, 3) float, both ends of the stretch [mm]


def spans(corners: Array, axis: Literal[0, 1, 2]) -> tuple[Array, Array]:
    """Least and greatest of one coordinate of every facet, (k,) each."""
    a, b, c = (corners[:, i, axis] for i in range(3))
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def cut_facets(corners: Array, axis: Literal[0, 1, 2], levels: Array) -> Cuts:
    """Cut facets by planes, whose places increase."""
    low, high = spans(corners, axis)
    first = np.searchsorted(levels, low, side="left")
    count = np.searchsorted(levels, high, side="right") - first
    facet = np.repeat(np.arange(len(corners)), count)
    level = first[facet] + np.arange(len(facet)) - np.repeat(np.cumsum(count) - count, count)
    at = levels[level] if len(level) else np.empty(0)
    own = corners[facet]
    order = np.argsort(own[:, :, axis], axis=1, kind="stable")
    a, b, c = (np.take_along_axis(own, order[:, i, None, None], axis=1)[:, 0] for i in range(3))
    lower = at < b[:, axis]
    ends = np.stack(
        [
            _between(a, c, axis, at),
            np.where(lower[:, None], _between(a, b, axis, at), _between(b, c, axis, at)),
        ],
        axis=1,
    )
    # A facet that lies in the plane is met in all three of its edges.
    flat = np.flatnonzero(a[:, axis] == c[:, axis])
    if len(flat):
        more = [np.stack([a[flat], c[flat]], axis=1), np.stack([b[flat], c[flat]], axis=1)]
        ends[flat] = np.stack([a[flat], b[flat]], axis=1)
        ends = np.concatenate([ends, *more])
        level = np.concatenate([level, level[flat], level[flat]])
        facet = np.concatenate([facet, facet[flat], facet[flat]])
    return Cuts(level, facet, ends)


def _between(a: Array, b: Array, axis: int, at: Array) -> Array:
    """Where stretches from a to b, which does not lie lower, cross the planes."""
    step = b[:, axis] - a[:, axis]
    t = np.where(step > 0.0, (at - a[:, axis]) / np.where(step > 0.0, step, 1.0), 0.0)
    point: Array = a + t[:, None] * (b - a)
    point[:, axis] = at
    return point


def smooth_places(group: Index, points: Array, at: Array) -> Array:
    """Where along a tool it touches the smooth shapes that facetted contours stand for."""
    # Points (n, 2), along and out, belong to the touch near `at` (k,) that `group` says. The tool
    # is inclined a little either way: on a circle cut into facets the mean touch is the true
    # one, and at an edge it is the edge.
    near = np.abs(points[:, 0] - at[group]) <= AROUND_MM
    group, points = group[near], points[near]
    order = np.lexsort((points[:, 1], points[:, 0], group))
    group, points = group[order], points[order]
    new = np.ones(len(group), dtype=bool)
    new[1:] = (np.diff(points, axis=0) != 0.0).any(axis=1) | (np.diff(group) > 0)
    group, points = _hulls(group[new], points[new])
    places = at.copy()
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    if len(starts) == 0:
        return places
    own, sizes = group[starts], np.diff(starts, append=len(group))
    along, out = points.T
    # Of several places that stand out as far the nearest counts.
    most = np.repeat(np.maximum.reduceat(out, starts), sizes)
    off = np.where(out >= most - 1e-9, np.abs(along - at[group]), np.inf)
    least = np.flatnonzero(off == np.repeat(np.minimum.reduceat(off, starts), sizes))
    i = least[np.flatnonzero(np.diff(group[least], prepend=-1))]
    inner = (i > starts) & (i < starts + sizes - 1)
    # Steps from one point to the next; the last of every hull leads nowhere.
    step = np.diff(points, axis=0, append=points[-1:])
    lean = np.arctan2(step[:, 1], step[:, 0])
    bend = lean[i - 1] - lean[i]
    # Beyond a flat piece, or the last point looked at, nothing is known of the shape.
    ends = starts + sizes - 1
    flat = step[:, 0] > FLAT_MM
    flat[starts] = flat[ends - 1] = True
    flat[ends] = False
    rising = np.arange(len(group)) < np.repeat(i, sizes)
    bound = np.where(flat, np.where(rising, lean, -lean), np.inf)
    reach = np.minimum(
        np.maximum(math.radians(LEANS_DEG), 1.2 * bend), np.minimum.reduceat(bound, starts)
    )
    known = inner & (bend <= math.radians(CREASE_DEG)) & (reach > 1e-9)
    # Leans weigh less the farther they are off, down to none at the reach.
    t = np.clip(lean / np.repeat(np.where(known, reach, 1.0), sizes), -1.0, 1.0)
    share = 0.5 + t - np.sign(t) * t * t / 2.0
    weight = np.append(0.0, share[:-1] - share[1:])
    weight[starts] = weight[ends] = 0.0
    mean = np.add.reduceat(weight * along, starts)
    places[own[known]] = mean[known]
    return places


def _hulls(group: Index, points: Array) -> tuple[Index, Array]:
    """Points on which strings bear that are drawn taut over groups of points, from outside."""
    done = [(group[:0], points[:0])]
    while len(group):
        # A point that lies on or behind the line between its neighbours bears nothing, ever.
        a, b, c = points[:-2], points[1:-1], points[2:]
        turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        idle = np.zeros(len(group), dtype=bool)
        idle[1:-1] = (turn >= 0.0) & (group[:-2] == group[2:])
        # Groups in which all bear are done.
        moving = np.zeros(int(group[-1]) + 1, dtype=bool)
        moving[group[idle]] = True
        on = moving[group]
        done.append((group[~on], points[~on]))
        group, points = group[on & ~idle], points[on & ~idle]
    groups, several = zip(*done, strict=True)
    group, points = np.concatenate(groups), np.concatenate(several)
    order = np.argsort(group, kind="stable")
    return group[order], points[order]


def goes_on(
    group: Index, along: Array, out: Array, touch: Array, gap: float, margin: float = 1e-6
) -> Mask:
    """Whether the contour goes on beyond touches (k, 2), itself or across a gap; (k,) bool."""
    # Stretches along (n, 2), out (n, 2) belong to the touch that `group` says.
    place = touch[group]
    step = np.stack([along[:, 1] - along[:, 0], out[:, 1] - out[:, 0]], axis=1)
    to = place - np.stack([along[:, 0], out[:, 0]], axis=1)
    square = (step * step).sum(axis=1)
    t = np.clip((to * step).sum(axis=1) / np.where(square == 0.0, 1.0, square), 0.0, 1.0)
    off = np.hypot(*(to - t[:, None] * step).T)
    beyond = (along.max(axis=1) > place[:, 0] + margin) & (off <= gap)
    return np.bincount(group[beyond], minlength=len(touch)) > 0

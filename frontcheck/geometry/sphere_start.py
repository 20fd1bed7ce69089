"""Where a sphere rests, roughly: let down on points of two surfaces in planes y = const.

The height at which a sphere let down at (x, y) meets a set of points is known in closed form.
Behind, it meets the windscreen first; going forward, the first place where it meets the front
structure as high is where it comes to rest between the two. Points stand for pieces of
surface some ten millimetres across: good to a fraction of a millimetre, and told apart are
all places where it might rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.near_triangles import Pieces, halved, held_by, ranges

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

PIECE_MM: Final = 16.0
"""No edge of a piece is longer [mm]: own choice, between few pieces and a close start."""
_ROW_MM: Final = 32.0
_STEPS_PER_RADIUS: Final = 4
_HALVINGS: Final = 9
_PLANES_MM: Final = 20.0
"""Places of rest are sought no closer than this across the front [mm]."""
_AIMS: Final = 4


def facing_pieces(sides: list[Array], reach: float) -> tuple[Pieces, Pieces, Array] | None:
    """Pieces of two surfaces that may lie within reach, and the triangles of the first of them."""
    # The list is emptied: triangles may be many, and most are far off. None: there are none near.
    whole: Array | None = None  # Those of the first before any was cut
    origin = np.zeros(0, dtype=np.intp)  # Which of them each was cut from
    boxes = [_box(side) for side in sides]
    # Step by step, so that what is far off is dropped before it is cut small.
    for longest in (np.inf, 16.0 * PIECE_MM, 4.0 * PIECE_MM, PIECE_MM):
        cut_any = longest == np.inf
        for i, (low, high) in enumerate(boxes):
            size = high - low
            if (size[:, 0] ** 2 + size[:, 1] ** 2 + size[:, 2] ** 2).max(initial=0.0) > longest**2:
                if i == 0 and whole is None:
                    whole, origin = sides[0], np.arange(len(sides[0]))
                sides[i], cut = halved(sides[i], longest)
                boxes[i], cut_any = _box(sides[i]), True
                origin = origin[cut] if i == 0 else origin
        for i in (0, 1, 0) if cut_any else ():
            if not len(sides[0]) or not len(sides[1]):
                return None
            low, high = boxes[i]
            if i == 0:
                near = _ahead(boxes[1][0], boxes[1][1], low, high, high, reach)
            else:
                near = _ahead(-boxes[0][1], -boxes[0][0], -high, -low, -low, reach)
            kept = np.flatnonzero(near)
            if len(kept) < len(near):
                boxes[i] = (low[kept], high[kept])
                del low, high
                sides[i] = sides[i][kept]
                origin = origin[kept] if i == 0 and whole is not None else origin
    if not len(sides[0]) or not len(sides[1]):
        return None
    structure = None if whole is None else whole[np.unique(origin)]
    del boxes, whole
    on_second, on_first = (Pieces.of(sides.pop()) for _ in range(2))
    # Where nothing was cut the pieces are the triangles, and need not be held twice.
    return on_first, on_second, on_first.corners if structure is None else structure


def _box(tri: Array) -> tuple[Array, Array]:
    """Least and greatest coordinates (n, 3) of triangles."""
    a, b, c = tri[:, 0], tri[:, 1], tri[:, 2]
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def _ahead(
    low: Array, high: Array, mine_low: Array, mine_high: Array, farthest: Array, reach: float
) -> Mask:
    """Which boxes reach as far back and up as the foremost and lowest of the others, less reach."""
    first, last = (np.floor(v[:, 1] / _ROW_MM).astype(np.intp) for v in (mine_low, mine_high))
    bottom, top = first.min(), last.max()
    wide = int(reach // _ROW_MM) + 1
    other_first, other_last = (np.floor(v[:, 1] / _ROW_MM).astype(np.intp) for v in (low, high))
    other_first = np.maximum(other_first, bottom - wide)
    other_last = np.minimum(other_last, top + wide)
    box, row = ranges(other_first, other_last + 1)
    near = np.ones(len(mine_low), dtype=bool)
    for axis in (0, 2):
        lowest = np.full(top - bottom + 1 + 2 * wide, np.inf)
        np.minimum.at(lowest, row - bottom + wide, low[box, axis])
        bound = np.full(top - bottom + 1, np.inf)
        for offset in range(-wide, wide + 1):
            apart = max(0.0, (abs(offset) - 1) * _ROW_MM)
            if apart <= reach:
                slide = lowest[wide + offset : wide + offset + len(bound)]
                bound = np.minimum(bound, slide - np.sqrt(reach * reach - apart * apart))
        # Boxes over many rows, few as they are, are held to the loosest bound.
        loosest = np.where(
            last - first > 1, bound.min(), np.minimum(bound[first - bottom], bound[last - bottom])
        )
        near &= farthest[:, axis] >= loosest
    return near


@dataclass(frozen=True)
class Start:
    """Rough places of rest, by rising y of the centre."""

    centre: Array  # (j, 3)
    front: Array  # (j, 3)
    screen: Array  # (j, 3)

    def aim(self, levels: Array) -> Array:
        """Planes for a centre whose contact on the front structure lies in those levels (n,)."""
        # Contacts on points jump to and fro a little: held to one direction.
        met = np.maximum.accumulate(self.front[:, 1])
        beyond = np.minimum(levels - met[0], 0.0) + np.maximum(levels - met[-1], 0.0)
        return np.asarray(np.interp(levels, met, self.centre[:, 1]) + beyond)


def rough_rest(front: Pieces, screen: Pieces, radius: float, levels: Array) -> Start:
    """Let a sphere down wherever its contact may lie in one of the levels (n,), rising."""
    top = _alone(_most(front, 2), screen)
    if not len(top):  # a narrow strip: lower corners stand for it
        top = _by_y(_alone(front.corners.reshape(-1, 3), screen))
    tops = [top, _most(screen, 2)]
    ends: list[Array] = []
    tried, start = np.zeros(0), np.zeros((3, 0, 3))
    wanted = levels
    for _ in range(_AIMS):
        planes = _thinned(wanted)
        tried = np.concatenate([tried, planes])
        found = _rests(tops, radius, planes)
        if found.shape[1] < len(planes):  # ends that face each other hold it too
            if not ends:
                facing = _alone(_most(front, 0), screen), _most(screen, 0, -1.0)
                ends = [_by_y(*both) for both in zip(tops, facing, strict=True)]
            held = _rests(ends, radius, planes[~np.isin(planes, found[0, :, 1])])
            found = np.concatenate([found, held], axis=1)
        start = np.concatenate([start, found], axis=1)
        start = start[:, np.argsort(start[0, :, 1], kind="stable")]
        if not start.shape[1]:
            break
        # Where surfaces turn in plan, centre and contact lie in planes far apart.
        wanted = np.sort(Start(*start).aim(levels))
        wanted = wanted[np.abs(wanted[:, None] - tried).min(axis=1) > _PLANES_MM / 2.0]
        if not len(wanted):
            break
    return Start(*start)


def _thinned(levels: Array) -> Array:
    """Some of the levels (n,), rising, no two closer than need be; both ends."""
    slot = np.floor((levels - levels[0]) / _PLANES_MM)
    kept = np.diff(slot, prepend=-1.0) > 0.0
    kept[-1] = True
    return np.asarray(levels[kept])


def _rests(tops: list[Array], radius: float, planes: Array) -> Array:
    """Centres and contacts on both surfaces (3, j, 3), of the planes in which a sphere rests."""
    drops = [_Drop(points, radius, planes) for points in tops]
    low = np.maximum(drops[0].low, drops[1].low) - radius
    high = np.minimum(drops[0].high, drops[1].high) + radius
    usable = low < high
    low, high = np.where(usable, low, 0.0), np.where(usable, high, 0.0)
    step = radius / _STEPS_PER_RADIUS
    rear, ahead = high.copy(), high.copy()
    rests = np.zeros(len(planes), dtype=bool)
    on_screen = np.zeros(len(planes), dtype=bool)
    for i in range(int(np.ceil((high - low).max(initial=0.0) / step)) + 1):
        x = np.maximum(high - i * step, low)
        lead = _lead(drops, x)
        met = on_screen & ~rests & (lead >= 0.0)
        rear = np.where(met, np.minimum(x + step, high), rear)
        ahead, rests = np.where(met, x, ahead), rests | met
        on_screen = lead < 0.0
    rests &= usable
    for _ in range(_HALVINGS):
        x = (ahead + rear) / 2.0
        met = _lead(drops, x) >= 0.0
        ahead, rear = np.where(met, x, ahead), np.where(met, rear, x)
    z, on_front = drops[0].contact(ahead)
    _, on_glass = drops[1].contact(ahead)
    rests &= (on_front >= 0) & (on_glass >= 0)
    centre = np.stack([ahead, planes, z], axis=1)
    return np.stack([centre[rests], tops[0][on_front[rests]], tops[1][on_glass[rests]]])


def _lead(drops: list[_Drop], x: Array) -> Array:
    """How much higher the front structure is met than the windscreen; inf where that is not."""
    front, screen = (drop.height(x) for drop in drops)
    missed = np.isneginf(screen)
    return np.where(missed, np.inf, front - np.where(missed, 0.0, screen))


def _most(side: Pieces, axis: int, way: float = 1.0) -> Array:
    """Corner in every cube that lies farthest along an axis, by rising y."""
    along = way * side.corners[:, :, axis]
    farthest = side.corners[np.arange(len(along)), along.argmax(axis=1)]
    cube = np.repeat(np.arange(len(side.layer)), np.diff(side.first))
    order = np.lexsort((-way * farthest[:, axis], cube))
    return _by_y(farthest[order[side.first[:-1]]])


def _alone(points: Array, screen: Pieces) -> Array:
    """Points of the front structure alone: one of both is met with the windscreen."""
    return points[~held_by(points, screen.corners)]


def _by_y(*points: Array) -> Array:
    whole = np.concatenate(points)
    return np.asarray(whole[np.argsort(whole[:, 1], kind="stable")])


class _Drop:
    """Spheres let down on points, one sphere a plane."""

    def __init__(self, points: Array, radius: float, planes: Array) -> None:
        self.points = points
        first = np.searchsorted(points[:, 1], planes - radius)
        last = np.searchsorted(points[:, 1], planes + radius)
        row, self.point = ranges(first, last)
        self.row, self.count = row, len(planes)
        across = points[self.point, 1] - planes[row]
        self.left = radius * radius - across * across
        self.x, self.z = points[self.point, 0], points[self.point, 2]
        self.starts = np.flatnonzero(np.diff(row, prepend=-1))
        self.rows = row[self.starts]
        self.low, self.high = np.full(self.count, np.inf), np.full(self.count, -np.inf)
        if len(row):
            self.low[self.rows] = np.minimum.reduceat(self.x, self.starts)
            self.high[self.rows] = np.maximum.reduceat(self.x, self.starts)

    def _heights(self, x: Array) -> Array:
        """Height of the centre over every point; -inf beside it."""
        ahead = self.x - x[self.row]
        left = self.left - ahead * ahead
        return np.where(left >= 0.0, self.z + np.sqrt(np.maximum(left, 0.0)), -np.inf)

    def height(self, x: Array) -> Array:
        """Height of the centre (j,) at which the first point is met; -inf: none."""
        result = np.full(self.count, -np.inf)
        if len(self.row):
            result[self.rows] = np.maximum.reduceat(self._heights(x), self.starts)
        return result

    def contact(self, x: Array) -> tuple[Array, Index]:
        """Height of the centre and the point met (-1 for none), in every plane."""
        height = self.height(x)
        met = np.full(self.count, -1)
        if len(self.row):
            ties = np.flatnonzero(self._heights(x) == height[self.row])
            first = ties[np.flatnonzero(np.diff(self.row[ties], prepend=-1))]
            met[self.row[first]] = self.point[first]
        met[~np.isfinite(height)] = -1
        return height, met

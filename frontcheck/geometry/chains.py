"""Stretches linked into chains: by shared edges, else undirected by nearness.

A stretch has two ends; an end is known by a key, equal for the two triangles at an edge.
Where exactly two ends carry one key they are linked, whichever way round the triangles
are wound. Ends left over (cracks in a mesh that is not welded) are linked when exactly two
lie together within a tolerance. Stretches that occur twice are kept once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NONE: Final = -1


@dataclass(frozen=True, eq=False)
class Chain:
    """An ordered polyline."""

    points: NDArray[np.float64]  # (n, 2) float, x and z [mm]
    closed: bool = False  # Whether the last point is followed by the first
    labels: NDArray[np.int64] | None = None  # (n - 1,) int label of every stretch, (n,) when closed
    winding: int = 0

    def reversed(self) -> Chain:
        """Return the chain walked the other way."""
        if self.closed:
            points = np.roll(self.points[::-1], 1, axis=0)
        else:
            points = self.points[::-1]
        labels = None if self.labels is None else self.labels[::-1]
        return Chain(points, self.closed, labels, -self.winding)


@dataclass
class LinkCounts:
    """How the stretches of one plane were linked."""

    stretches: int = 0  # Stretches cut from triangles
    duplicates: int = 0  # Stretches left out because the same one was there already
    flipped: int = 0  # Edges whose two triangles are wound against each other
    cracks: int = 0  # Pairs of ends that share no edge and were linked because they lie together
    junctions: int = 0  # Edges at which more than two triangles meet


@dataclass
class Linked:
    """Chains and counts of every plane of a block."""

    chains: list[list[Chain]] = field(default_factory=list)  # Chains by plane
    counts: list[LinkCounts] = field(default_factory=list)  # Counts by plane


def link_segments(
    plane: NDArray[np.intp],
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    key: NDArray[np.uint64],
    tags: NDArray[np.integer] | None,
    planes: int,
    join: float,
    thin: float,
) -> Linked:
    """Link stretches into chains, plane by plane."""
    out = Linked([[] for _ in range(planes)], [LinkCounts() for _ in range(planes)])
    _count(out, "stretches", plane)
    keep = key[::2] != key[1::2]  # no length: a triangle folded onto one edge
    if not keep.all():
        plane, x, z, key, tags = _kept(keep, plane, x, z, key, tags)
    order = np.argsort(key)
    size, first = _groups(key[order])
    if len(size) and size.max() > 2:
        keep = _first_of_each(key)
        if not keep.all():
            _count(out, "duplicates", plane[~keep])
            plane, x, z, key, tags = _kept(keep, plane, x, z, key, tags)
            order = np.argsort(key)
            size, first = _groups(key[order])
        many = first[size > 2]
        _count(out, "junctions", plane[order[many] >> 1])
    partner = np.full(len(key), _NONE, dtype=np.int64)
    two = first[size == 2]
    a, b = order[two], order[two + 1]
    partner[a], partner[b] = b, a
    against = (a & 1) == (b & 1)
    if against.any():
        _count(out, "flipped", plane[a[against] >> 1])
    free = np.flatnonzero(partner == _NONE)
    if len(free) >= 2:
        free = _link_near(out, plane, x, z, partner, free, join)
    _walk(out, plane, x, z, tags, partner, free, thin)
    return out


def _kept(
    keep: NDArray[np.bool_],
    plane: NDArray[np.intp],
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    key: NDArray[np.uint64],
    tags: NDArray[np.integer] | None,
) -> tuple[
    NDArray[np.intp],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.uint64],
    NDArray[np.integer] | None,
]:
    ends = np.repeat(keep, 2)
    return plane[keep], x[ends], z[ends], key[ends], None if tags is None else tags[keep]


def _count(out: Linked, name: str, plane: NDArray[np.intp]) -> None:
    for i, n in enumerate(np.bincount(plane, minlength=len(out.counts))):
        setattr(out.counts[i], name, getattr(out.counts[i], name) + int(n))


def _groups(ordered: NDArray[np.uint64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Size and start of the runs of equal values."""
    if len(ordered) == 0:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    first = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    return np.diff(np.append(first, len(ordered))), first


def _first_of_each(key: NDArray[np.uint64]) -> NDArray[np.bool_]:
    """Which stretches are the first with their two ends, whichever way round."""
    low, high = np.minimum(key[::2], key[1::2]), np.maximum(key[::2], key[1::2])
    order = np.lexsort((high, low))
    again = (np.diff(low[order]) == 0) & (np.diff(high[order]) == 0)
    keep = np.ones(len(low), dtype=bool)
    keep[order[1:][again]] = False
    return keep


def _link_near(
    out: Linked,
    plane: NDArray[np.intp],
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    partner: NDArray[np.int64],
    free: NDArray[np.intp],
    join: float,
) -> NDArray[np.intp]:
    """Link free ends that lie together in pairs; return those still free."""
    # The grid is laid four times, shifted by half a cell: two ends within half a cell of each
    # other share a cell at least once.
    cell = 2.0 * join
    for shift_x, shift_z in ((0.0, 0.0), (0.5, 0.5), (0.5, 0.0), (0.0, 0.5)):
        if len(free) < 2:
            break
        column = np.floor(x[free] / cell + shift_x)
        line = np.floor(z[free] / cell + shift_z)
        order = np.lexsort((column, line, plane[free >> 1]))
        ends = free[order]
        fresh = np.concatenate(
            [
                [True],
                (np.diff(column[order]) != 0.0)
                | (np.diff(line[order]) != 0.0)
                | (np.diff(plane[ends >> 1]) != 0),
            ]
        )
        first = np.flatnonzero(fresh)
        size = np.diff(np.append(first, len(ends)))
        two = first[size == 2]
        a, b = ends[two], ends[two + 1]
        # A short stretch must not be closed onto itself.
        apart = (a >> 1) != (b >> 1)
        a, b = a[apart], b[apart]
        partner[a], partner[b] = b, a
        _count(out, "cracks", plane[a >> 1])
        _count(out, "flipped", plane[a[(a & 1) == (b & 1)] >> 1])
        free = free[partner[free] == _NONE]
    return free


def _walk(
    out: Linked,
    plane: NDArray[np.intp],
    x: NDArray[np.float64],
    z: NDArray[np.float64],
    tags: NDArray[np.integer] | None,
    partner: NDArray[np.int64],
    free: NDArray[np.intp],
    thin: float,
) -> None:
    """Follow the links and lay down the chains."""
    follow = partner.tolist()  # plain numbers are several times quicker in this loop
    seen = bytearray(len(plane))
    points = np.stack([x, z], axis=1)

    def chain(begin: int, closed: bool) -> None:
        entered: list[int] = []
        end = begin
        while end != _NONE and not seen[end >> 1]:
            seen[end >> 1] = 1
            entered.append(end)
            end = follow[end ^ 1]
        ends = np.array(entered)
        leave = points[ends ^ 1]
        own = None if tags is None else tags[ends >> 1].astype(np.int64)
        line = leave if closed else np.concatenate([points[ends[:1]], leave])
        if closed and own is not None:
            own = np.roll(own, -1)  # the stretch after a point, now that points are ends
        ahead = int((ends & 1 == 0).sum())
        winding = 1 if ahead == len(ends) else -1 if ahead == 0 else 0
        made = thinned(Chain(line, closed, own, winding), thin)
        if made is not None:
            out.chains[int(plane[begin >> 1])].append(made)

    for begin in free.tolist():
        if not seen[begin >> 1]:
            chain(begin, closed=False)
    at = seen.find(0)
    while at >= 0:
        chain(2 * at, closed=True)
        at = seen.find(0, at)


def thinned(chain: Chain, tolerance: float) -> Chain | None:
    """Leave out points while the chain moves by no more than a tolerance."""
    # Points where the label changes stay.
    points, labels = chain.points, chain.labels
    wrap = chain.closed
    # Repeated points first; the stretch of no length goes, the one after the point stays.
    after = np.roll(points, -1, axis=0) if wrap else points[1:]
    moves = (after != points[: len(after)]).any(axis=1)
    if not moves.any():
        return None
    if not moves.all():
        points = points[moves] if wrap else points[np.append(moves, True)]
        labels = None if labels is None else labels[moves]
    step = tolerance / 2.0
    for _ in range(40 if tolerance > 0.0 else 0):
        n = len(points)
        if n < (4 if wrap else 3):
            break
        drop = _droppable(points, labels, step, wrap)
        if not drop.any():
            break
        keep = ~drop
        points = points[keep]
        if labels is not None:
            labels = labels[keep if wrap else keep[:-1]]
        # Each round may move the chain by its own part of the tolerance: 1/2 + 1/4 + ...
        step /= 2.0
    return Chain(points, wrap, labels, chain.winding)


def _droppable(
    points: NDArray[np.float64], labels: NDArray[np.int64] | None, step: float, wrap: bool
) -> NDArray[np.bool_]:
    """Points, no two of them neighbours, that lie within `step` of the chord beside them."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    chord, off = after - before, points - before
    length2 = (chord * chord).sum(axis=1)
    along = (off * chord).sum(axis=1)
    cross = chord[:, 0] * off[:, 1] - chord[:, 1] * off[:, 0]
    near = (cross * cross <= step * step * length2) & (along > 0.0) & (along < length2)
    if labels is not None:
        if wrap:
            near &= labels == np.roll(labels, 1)
        else:
            near[1:-1] &= labels[1:] == labels[:-1]
    if not wrap:
        near[[0, -1]] = False
    elif near[0] and near[-1]:
        near[-1] = False
    # Within a run of such points every second one goes.
    index = np.arange(len(points))
    run_start = np.maximum.accumulate(np.where(near, 0, index + 1))
    drop: NDArray[np.bool_] = near & ((index - run_start) % 2 == 0)
    return drop


def ahead_of(chain: Chain, x: float) -> list[Chain]:
    """Cut away what lies rearward of a plane across the vehicle."""
    inside = chain.points[:, 0] <= x
    if inside.all():
        return [chain]
    if not inside.any():
        return []
    points, labels = chain.points, chain.labels
    if chain.closed:
        begin = int(np.argmin(inside))
        points = np.roll(points, -begin, axis=0)
        points = np.concatenate([points, points[:1]])
        labels = None if labels is None else np.roll(labels, -begin)
        inside = points[:, 0] <= x
    out = []
    change = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    bounds = [0, *change.tolist(), len(points)]
    for first, last in zip(bounds[:-1], bounds[1:], strict=True):
        if not inside[first]:
            continue
        line = [points[first:last]]
        low, high = max(first - 1, 0), min(last, len(points) - 1)
        if first > 0 and points[first, 0] < x:
            line.insert(0, _at(x, points[first - 1], points[first]))
        if last < len(points) and points[last - 1, 0] < x:
            line.append(_at(x, points[last - 1], points[last]))
        made = np.concatenate(line)
        if first > 0 and points[first, 0] >= x:
            low = first
        if last < len(points) and points[last - 1, 0] >= x:
            high = last - 1
        if len(made) > 1:
            own = None if labels is None else labels[low:high]
            out.append(Chain(made, False, own, chain.winding))
    return out


def _at(x: float, a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where a stretch crosses a plane, (1, 2)."""
    return np.array([[x, a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1])]])

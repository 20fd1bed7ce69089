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

from frontcheck.geometry.thinning import Lines

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask

_NONE: Final = -1


@dataclass(frozen=True, eq=False)
class Chain:
    """An ordered polyline."""

    points: Array  # (n, 2) float, x and z [mm]
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
    plane: Index,
    x: Array,
    z: Array,
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
    order = _rising(key)
    size, first = _groups(key[order])
    if len(size) and size.max() > 2:
        keep = _first_of_each(key)
        if not keep.all():
            _count(out, "duplicates", plane[~keep])
            plane, x, z, key, tags = _kept(keep, plane, x, z, key, tags)
            order = _rising(key)
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
    keep: Mask,
    plane: Index,
    x: Array,
    z: Array,
    key: NDArray[np.uint64],
    tags: NDArray[np.integer] | None,
) -> tuple[Index, Array, Array, NDArray[np.uint64], NDArray[np.integer] | None]:
    ends = np.repeat(keep, 2)
    return plane[keep], x[ends], z[ends], key[ends], None if tags is None else tags[keep]


def _count(out: Linked, name: str, plane: Index) -> None:
    for i, n in enumerate(np.bincount(plane, minlength=len(out.counts))):
        setattr(out.counts[i], name, getattr(out.counts[i], name) + int(n))


def _rising(key: NDArray[np.uint64]) -> Index:
    """Order in which keys rise, equal ones as they come."""
    # Sixteen bits at a time: whole numbers that small sort in linear time.
    order = np.argsort(key.astype(np.uint16), kind="stable")
    for shift in (16, 32, 48):
        part = (key >> np.uint64(shift)).astype(np.uint16)
        order = order[np.argsort(part[order], kind="stable")]
    return order


def _groups(ordered: NDArray[np.uint64]) -> tuple[Index, Index]:
    """Size and start of the runs of equal values."""
    if len(ordered) == 0:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    first = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    return np.diff(np.append(first, len(ordered))), first


def _first_of_each(key: NDArray[np.uint64]) -> Mask:
    """Which stretches are the first with their two ends, whichever way round."""
    low, high = np.minimum(key[::2], key[1::2]), np.maximum(key[::2], key[1::2])
    order = np.lexsort((high, low))
    again = (np.diff(low[order]) == 0) & (np.diff(high[order]) == 0)
    keep = np.ones(len(low), dtype=bool)
    keep[order[1:][again]] = False
    return keep


def _link_near(
    out: Linked,
    plane: Index,
    x: Array,
    z: Array,
    partner: NDArray[np.int64],
    free: Index,
    join: float,
) -> Index:
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


_STRIDE: Final = 16
"""Links that one jump of a walk takes."""


def _walk(
    out: Linked,
    plane: Index,
    x: Array,
    z: Array,
    tags: NDArray[np.integer] | None,
    partner: NDArray[np.int64],
    free: Index,
    thin: float,
) -> None:
    """Follow the links and lay down the chains."""
    entered, sizes, closed = _entered(partner, free)
    if len(sizes) == 0:
        return
    first = np.cumsum(sizes) - sizes
    ahead = np.add.reduceat((entered & 1 == 0).astype(np.intp), first)
    winding = np.where(ahead == sizes, 1, np.where(ahead == 0, -1, 0))
    # A line has one point more than stretches, a ring as many.
    opened = np.cumsum(~closed)
    held = sizes + ~closed
    start = np.cumsum(held) - held
    at = np.arange(len(entered)) + np.repeat(opened, sizes)
    ends = np.empty(int(held.sum()), dtype=np.int64)
    ends[start] = entered[first]
    ends[at] = entered ^ 1
    labels = None
    if tags is not None:
        labels = np.zeros(len(ends), dtype=np.int64)
        before = at - 1
        before[first[closed]] = start[closed] + sizes[closed] - 1
        labels[before] = tags[entered >> 1]
    lines = Lines(np.stack([x[ends], z[ends]], axis=1), labels, held, closed)
    thinned = lines.thinned(thin)
    stop = np.cumsum(thinned.sizes).tolist()
    where = plane[entered[first] >> 1].tolist()
    for i, (low, high, ring) in enumerate(zip([0, *stop[:-1]], stop, closed.tolist(), strict=True)):
        if low < high:
            last = high if ring else high - 1
            own = None if thinned.labels is None else thinned.labels[low:last]
            made = Chain(thinned.points[low:high], ring, own, int(winding[i]))
            out.chains[where[i]].append(made)


def _entered(partner: NDArray[np.int64], free: Index) -> tuple[NDArray[np.int64], Index, Mask]:
    """Ends by which the walks enter their stretches, walk after walk; their sizes; which close."""
    # A plain walk of link after link costs most of a cut: jumps of several links are made at
    # once for all, walks leap from link to link of theirs, and what lies between is filled in.
    none = len(partner)
    follow = np.append(np.where(partner == _NONE, none, partner)[np.arange(none) ^ 1], none)
    jumps = [follow]
    while 2 ** len(jumps) <= _STRIDE:
        jumps.append(jumps[-1][jumps[-1]])
    *shorter, leap = (memoryview(jump.data) for jump in jumps)  # quicker to ask for one number
    landed: list[int] = []
    leaps: list[int] = []
    done: set[int] = set()
    for begin in free.tolist():
        if begin in done:
            continue
        at, before = begin, len(landed)
        while at != none:
            landed.append(at)
            at = leap[at]
        leaps.append(len(landed) - before)
        at = landed[-1]
        for jump in reversed(shorter):
            at = at if jump[at] == none else jump[at]
        done.add(at ^ 1)
    parts, sizes = _filled(jumps, landed, leaps)
    closed = [False] * len(leaps)
    seen = bytearray(none // 2)
    np.frombuffer(seen, dtype=np.uint8)[parts >> 1] = 1
    rings: list[NDArray[np.int64]] = []
    at = seen.find(0)
    while at >= 0:
        ring = _ring_from(2 * at, jumps, shorter[0], leap)
        np.frombuffer(seen, dtype=np.uint8)[ring >> 1] = 1
        rings.append(ring)
        at = seen.find(0, at)
    sizes = np.concatenate([sizes, np.array([len(ring) for ring in rings], dtype=np.intp)])
    closed += [True] * len(rings)
    return np.concatenate([parts, *rings]), sizes, np.array(closed, dtype=bool)


def _ring_from(
    begin: int, jumps: list[NDArray[np.int64]], follow: memoryview[int], leap: memoryview[int]
) -> NDArray[np.int64]:
    """Ends by which a walk around a ring enters its stretches."""
    # The last links before the begin are known by walking back: any leap meets one of them.
    left = {}
    at = begin
    for steps in range(1, _STRIDE + 1):
        # The end walked into from `p` is `follow[p]`; back is the same walk on the other ends.
        at = follow[at ^ 1] ^ 1
        left[at] = steps
        if at == begin:
            break
    landed = [begin]
    while landed[-1] not in left:
        landed.append(leap[landed[-1]])
    size = _STRIDE * (len(landed) - 1) + left[landed[-1]]
    ring, _ = _filled(jumps, landed, [len(landed)])
    return ring[:size]


def _filled(
    jumps: list[NDArray[np.int64]], landed: list[int], leaps: list[int]
) -> tuple[NDArray[np.int64], Index]:
    """All ends between those landed on, and their number in every walk."""
    ends = np.array(landed, dtype=np.int64)[:, None]
    for jump in jumps[-2::-1]:
        ends = np.stack([ends, jump[ends]], axis=-1).reshape(len(ends), 2 * ends.shape[1])
    there = ends != len(jumps[0]) - 1
    count = np.concatenate([[0], np.cumsum(there.sum(axis=1))])
    walk = np.concatenate([[0], np.cumsum(np.array(leaps, dtype=np.intp))])
    return ends[there], np.diff(count[walk])


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


def _at(x: float, a: Array, b: Array) -> Array:
    """Where a stretch crosses a plane, (1, 2)."""
    return np.array([[x, a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1])]])

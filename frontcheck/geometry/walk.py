"""The outer contour of a section of several chains, walked from the underside to the rear.

How it is found
---------------
seen
    What is seen from the front comes first: height by height the foremost surface, whatever its
    length. A straight edge that slides rearward touches nothing else.
ledge
    Where the foremost surface steps rearward, what is seen from above in that step is put
    between; where it steps forward, what is seen from below. Behind the lowest point goes on what
    is seen from below, behind the highest what is seen from above. A single sheet is seen from
    both: it counts from above, unless it lies low.
recess
    From one seen run to the next on the same chain the chain itself is walked, however deep.
bridge
    From one chain to another a straight line is drawn. Where it can be kept to the gap allowed
    it goes from edge to edge, and flanges turned inward there are left out.
slot
    What is seen only through an opening between two chains that is no wider than the gap, or
    deeper than the slant of the flattest straight edge reaches, is left out.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.places import Places
from frontcheck.geometry.polyline import first_meeting, length_of
from frontcheck.geometry.reach import met_first, travels
from frontcheck.geometry.seen import SAME_MM, STEEP, TILT, Run, Stretches

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.geometry.chains import Chain
    from frontcheck.geometry.seen import Side

    Place = tuple[float, float]

NO_LABEL: Final = -1
"""Label of a bridge, and of everything when the mesh has no labels."""

_APART_MM: Final = 300.0
"""Own choice: past a longer bridge that no straight edge could span the contour ends, since nobody
would lay a tape on into nothing."""
_FAR_MM: Final = 2500.0  # No two surfaces of a walk are farther apart
_ONE_MM: Final = 1e-9
_PULL_MM: Final = 1.0
"""Own choice: where a run ends in a point of another, it ends this much earlier."""
_SHOWN_MM: Final = 0.1  # Ends this close are one point: no bridge is told of
_FLOOR_MM: Final = 200.0
"""Own choice: a single sheet no higher than this over the lowest place seen from the front is a
floor; no bonnet begins so low."""
_SLIVER_MM: Final = 2.0  # Own choice: less that shows beyond another sheet is a layer of it
_RIM: Final = -1


@dataclass(frozen=True)
class Bridge:
    """A straight line over a gap."""

    length: float  # [mm]
    x: float  # Its middle [mm]
    z: float  # Its middle [mm]


@dataclass(frozen=True, eq=False)
class Walk:
    """The contour found."""

    points: Array
    labels: NDArray[np.int64]
    bridges: list[Bridge]
    used: dict[int, list[tuple[float, float]]]  # Places walked, by chain
    way: dict[int, int]  # +1 where a chain is walked as it runs, -1 the other way, 0 both


@dataclass(eq=False)
class _Step:
    """A run on the way, and how the way goes on from it."""

    run: Run
    front: bool = False  # Whether it is seen from the front: then it stays whatever happens
    recess: bool = True  # Whether the chain may be walked on to the next run
    shortened: bool = False


@dataclass(frozen=True, eq=False)
class _Piece:
    """Points walked, with the label of every stretch."""

    points: Array
    labels: NDArray[np.int64]
    chain: int  # Index of the chain, or `_RIM` for a bridge
    places: Array  # Place of every point on its chain
    step: int  # The step it is, or comes after
    recess: bool = False


def walk(chains: Sequence[Chain], gap: float) -> Walk:
    """Walk the outer contour of chains."""
    stretches = Stretches.of(chains)
    steps, strict = _steps(stretches, gap, strict=False), False
    edges = gap
    while True:
        pieces = _cut_short(_linked(stretches, steps))
        made, owner = _laid(pieces, edges)
        meeting = first_meeting(made.points)
        if meeting is None:
            return made
        met = [pieces[k] for i in meeting for k in owner[i]]
        if _mended(stretches, steps, met, made.points[meeting[1]]):
            continue
        if not strict:  # level sheets may have been walked twice: back to what is seen
            steps, strict = _steps(stretches, gap, strict=True), True
        elif edges >= 0.0:
            edges = -1.0
        else:
            return made


def _from_point(stretches: Stretches, run: Run) -> Run:
    """A run seen from the front, started at the point of its chain that only the tilt hides."""
    begin = math.floor(run.begin) if run.end > run.begin else math.ceil(run.begin)
    first = stretches.point(run.chain, float(begin))
    if abs(first[1] - run.first[1]) > TILT * _FAR_MM:
        return run
    return replace(run, begin=float(begin), first=first)


def _mended(stretches: Stretches, steps: list[_Step], met: list[_Piece], place: Array) -> bool:
    """Take back what meets the contour again: a recess, or what is not seen from the front."""
    for piece in met:
        if piece.recess:
            steps[piece.step].recess = False
            return True
    near = dict.fromkeys(
        k for p in met for k in ((p.step, p.step + 1) if p.chain == _RIM else (p.step,))
    )
    own = [k for k in near if k < len(steps) and not steps[k].front]
    for k in own:
        step = steps[k]
        if not step.shortened:
            at_end = math.dist(step.run.last, place) < math.dist(step.run.first, place)
            step.run, step.shortened = _shortened(stretches, step.run, at_end=at_end), True
            return True
    for k in own:
        del steps[k]
        return True
    return False


def _shortened(stretches: Stretches, run: Run, *, at_end: bool) -> Run:
    """A run ended a little earlier, so that it does not meet another in one point."""
    begin, end = (run.begin, run.end) if at_end else (run.end, run.begin)
    back = 1.0 if begin > end else -1.0
    stretch = math.ceil(end) - 1 if begin < end else math.floor(end)
    points, _ = stretches.between(run.chain, float(stretch), float(stretch + 1))
    end += back * min(_PULL_MM / length_of(points), abs(end - begin) / 2.0)
    if at_end:
        return replace(run, end=end, last=stretches.point(run.chain, end))
    return replace(run, begin=end, first=stretches.point(run.chain, end))


def _steps(stretches: Stretches, gap: float, *, strict: bool) -> list[_Step]:
    """Runs in the order they are walked."""
    used, floor = Places(stretches.chains), Places(stretches.chains)
    shut: set[int] = set()
    front = stretches.seen_from("front")
    if not strict:
        front = [_from_point(stretches, run) for run in front]
    front = _without_slots(front, gap, shut)
    while len(front) > 1 and _under(front[0], front[1], gap):
        del front[0]
    for run in front:
        used.add(run.chain, run.begin, run.end)
    first, last = front[0], front[-1]
    below = stretches.seen_from("below", high=-first.first[0])
    for run in below:
        if max(run.first[1], run.last[1]) < first.first[1] + _FLOOR_MM:
            floor.add(run.chain, run.begin, run.end)

    def seen(side: Side, found: list[Run], start: Place | None, stop: Place | None) -> list[_Step]:
        rims = [[] if place is None else [_rim(place, side)] for place in (start, stop)]
        found = [
            run
            for run in found
            if math.dist(run.first, run.last) > _SLIVER_MM
            and not used.holds(run.chain, run.begin, run.end)
        ]
        kept = _without_slots([*rims[0], *found, *rims[1]], gap, shut)
        kept = [run for run in kept if run.chain != _RIM]
        for run in kept:
            used.add(run.chain, run.begin, run.end)
        return [_Step(run) for run in kept]

    def above(low: float, high: float, beyond: float) -> list[Run]:
        found = stretches.seen_from("above", low, high, beyond)
        return [run for run in found if not floor.holds(run.chain, run.begin, run.end)]

    # What is seen from both sides is a sheet, and counts from above, unless it lies low.
    steps = [[_Step(run, front=True)] for run in front]
    ledges = [
        (i, one.last, two.first)
        for i, (one, two) in enumerate(itertools.pairwise(front))
        if abs(two.first[0] - one.last[0]) > gap and id(one) not in shut
    ]
    for i, start, stop in ledges:
        if start[0] < stop[0]:
            found = above(start[0], stop[0], -max(start[1], stop[1]))
            steps[i] += seen("above", found, start, stop)
    steps[-1] += seen("above", above(last.last[0], math.inf, -math.inf), last.last, None)
    for i, start, stop in ledges:
        if stop[0] < start[0]:
            found = stretches.seen_from("below", -start[0], -stop[0], min(start[1], stop[1]))
            steps[i] += seen("below", found, start, stop)
    return [*seen("below", below, None, first.first), *itertools.chain.from_iterable(steps)]


def _rim(place: Place, side: Side) -> Run:
    """The end of a run as a run of no length, seen from another side."""
    x, z = place
    across, depth = (x, -z) if side == "above" else (-x, z)
    return Run(_RIM, 0.0, 0.0, (across, across), (depth, depth), depth, place, place, 0)


def _under(floor: Run, lowest: Run, gap: float) -> bool:
    """Whether one looks over a floor, that begins behind what is lowest, and under that."""
    opening, behind = lowest.across[0] - floor.across[0], floor.depth[0] - lowest.depth[0]
    deep = floor.depth[1] - floor.depth[0] > STEEP * opening
    return floor.steep > 0 and behind > 0.0 and (deep or math.hypot(opening, behind) <= gap)


def _without_slots(runs: list[Run], gap: float, shut: set[int]) -> list[Run]:
    """Leave out what is seen only through narrow or deep openings between two chains."""
    runs = list(runs)
    for i in reversed(range(len(runs) - 1)):  # those within another opening first
        while (k := _far_rim(runs, i, gap)) is not None:
            # Behind a far rim that is an edge of what was seen there is a ledge to look down on.
            at_rim = k < len(runs) and runs[k].depth[0] <= runs[k - 1].depth[1] + SAME_MM
            (shut.add if at_rim else shut.discard)(id(runs[i]))
            del runs[i + 1 : k]
    return runs


def _far_rim(runs: list[Run], i: int, gap: float) -> int | None:
    """The run at the far rim of a slot that begins behind a run."""
    near = runs[i]
    if i + 1 == len(runs):
        return None
    if runs[i + 1].depth[0] <= near.depth[1] + SAME_MM and runs[i + 1].steep <= 0:
        return None
    ground, wall = math.inf, -math.inf  # least depth within, walls apart; greatest depth of walls
    for k in range(i + 2, len(runs) + 1):
        inner = runs[k - 1]
        if inner.steep:
            wall = max(wall, *inner.depth)
        else:
            ground = min(ground, inner.nearest)
        if inner.nearest < near.depth[1] - SAME_MM:
            return None
        if k < len(runs) and runs[k].depth[0] < inner.depth[1] - SAME_MM:
            across, rim, stop = runs[k].across[0], runs[k].depth[0], k + 1
        elif inner.steep < 0:  # its own edge is the rim: one looks under it
            across, rim, stop = inner.across[1], inner.depth[1], k
        else:
            continue
        depth = (wall if math.isinf(ground) else ground) - max(near.depth[1], rim)
        opening = across - near.across[1]
        narrow = math.hypot(opening, rim - near.depth[1]) <= gap
        one_chain = len({run.chain for run in runs[i:stop]}) == 1
        if depth > SAME_MM and (narrow or depth > STEEP * opening) and not one_chain:
            return k
    return None


def _linked(stretches: Stretches, steps: list[_Step]) -> list[_Piece]:
    """Runs with what lies between them: nothing, a recess of the same chain, or a bridge."""
    used = Places(stretches.chains)
    for step in steps:
        used.add(step.run.chain, step.run.begin, step.run.end)
    out = []
    for i, step in enumerate(steps):
        run = step.run
        out.append(_piece(stretches, run.chain, run.begin, run.end, i))
        if i + 1 == len(steps):
            break
        after = steps[i + 1].run
        if math.dist(run.last, after.first) <= _ONE_MM:
            continue
        ends = _recess(used, run, after) if step.recess and run.chain == after.chain else None
        if ends is None:
            out.append(_bridge(np.array(run.last), np.array(after.first), i))
        else:
            used.add(run.chain, *ends)
            out.append(_piece(stretches, run.chain, *ends, i, recess=True))
    return out


def _recess(used: Places, run: Run, after: Run) -> tuple[float, float] | None:
    """Places from the end of one run to the start of the next, if not walked yet."""
    size = used.size[run.chain]
    ways = [after.begin + k * size for k in (-2, -1, 0, 1, 2)] if size else [after.begin]
    for end in sorted(ways, key=lambda place: abs(place - run.end)):
        if size and abs(end - run.end) > size:
            break
        if not used.holds(run.chain, run.end, end):
            return run.end, end
    return None


def _piece(
    stretches: Stretches, chain: int, begin: float, end: float, step: int, *, recess: bool = False
) -> _Piece:
    points, labels = stretches.between(chain, begin, end)
    if labels is None:
        labels = np.full(len(points) - 1, NO_LABEL, dtype=np.int64)
    low, high = min(begin, end), max(begin, end)
    places = np.concatenate([[low], np.arange(math.floor(low) + 1, math.ceil(high)), [high]])
    return _Piece(points, labels, chain, places if begin < end else places[::-1], step, recess)


def _bridge(start: Array, stop: Array, step: int) -> _Piece:
    return _Piece(np.array([start, stop]), np.array([NO_LABEL]), _RIM, np.zeros(2), step)


def _cut_short(pieces: list[_Piece]) -> list[_Piece]:
    """End the contour at a long bridge beyond which no straight edge would touch anything."""
    long = [i for i, p in enumerate(pieces) if p.chain == _RIM and length_of(p.points) > _APART_MM]
    if not long:
        return pieces
    foremost = min(range(len(pieces)), key=lambda i: float(pieces[i].points[:, 0].min()))
    low, high = 0, len(pieces)
    reach = travels([p.points if p.chain != _RIM else p.points[:0] for p in pieces])
    for i in sorted(long, key=lambda i: abs(i - foremost)):
        if i < foremost and i >= low and not met_first(reach[low:i], reach[i + 1 : high]):
            low = i + 1
        elif foremost < i < high and not met_first(reach[i + 1 : high], reach[low:i]):
            high = i
    return pieces[low:high]


def _laid(pieces: list[_Piece], gap: float) -> tuple[Walk, list[list[int]]]:
    """Lay pieces end to end, bridges from edge to edge; first and last piece of every stretch."""
    line = np.concatenate([pieces[0].points[:1], *(piece.points[1:] for piece in pieces)])
    label = np.concatenate([piece.labels for piece in pieces])
    chain = np.repeat([p.chain for p in pieces], [len(p.labels) for p in pieces])
    place = np.stack(
        [np.concatenate([p.places[:-1] for p in pieces]),
         np.concatenate([p.places[1:] for p in pieces])]
    )  # fmt: skip
    kept = np.ones(len(line), dtype=bool)  # points; and stretches by the point before them
    for i in np.flatnonzero(chain == _RIM).tolist():
        a, b = _edges(line, chain, i, gap)
        kept[a + 1 : b] = False
        chain[a:b], label[a:b] = _RIM, NO_LABEL
    # Ends that meet within rounding are one point.
    moves = np.hypot(*np.diff(line[kept], axis=0).T) > _ONE_MM
    inner = np.flatnonzero(kept)
    kept[inner[:-1][~moves]] = False
    # Nor is a point where one side sees no farther and another side sees on.
    stretch = np.flatnonzero(kept)[:-1]
    own, meet = chain[stretch], place[0, stretch[1:]]
    way = np.sign(place[1] - place[0])[stretch]
    seam = (own[1:] == own[:-1]) & (own[1:] != _RIM) & (way[1:] == way[:-1])
    seam &= (np.abs(place[1, stretch[:-1]] - meet) < SAME_MM) & (np.abs(meet - np.rint(meet)) > 0.0)
    kept[stretch[1:][seam]] = False
    first = np.flatnonzero(np.concatenate([[True], ~seam]))
    last = np.append(first[1:], len(stretch)) - 1
    place = np.stack([place[0, stretch[first]], place[1, stretch[last]]])
    owner = np.repeat(np.arange(len(pieces)), [len(p.labels) for p in pieces])
    owners = np.stack([owner[stretch[first]], owner[stretch[last]]], axis=1)
    stretch = stretch[first]
    line, label, own = line[kept], label[stretch], chain[stretch]
    bridges = [
        Bridge(math.dist(line[i], line[i + 1]), *((line[i] + line[i + 1]) / 2.0).tolist())
        for i in np.flatnonzero(own == _RIM).tolist()
        if math.dist(line[i], line[i + 1]) > _SHOWN_MM
    ]
    return Walk(line, label, bridges, *_places_walked(own, place)), owners.tolist()


def _places_walked(
    chain: Index, place: Array
) -> tuple[dict[int, list[tuple[float, float]]], dict[int, int]]:
    """Places walked of every chain, joined where they follow one another, and which way."""
    used: dict[int, list[tuple[float, float]]] = {}
    ways: dict[int, set[int]] = {}
    for own, a, b in zip(chain.tolist(), *place.tolist(), strict=True):
        if own == _RIM:
            continue
        low, high = min(a, b), max(a, b)
        ways.setdefault(own, set()).add(1 if b > a else -1)
        before = used.setdefault(own, [])
        if before and abs(before[-1][1] - low) <= SAME_MM:
            before[-1] = (before[-1][0], high)
        elif before and abs(before[-1][0] - high) <= SAME_MM:
            before[-1] = (low, before[-1][1])
        else:
            before.append((low, high))
    return used, {own: way.pop() if len(way) == 1 else 0 for own, way in ways.items()}


def _edges(line: Array, chain: Index, i: int, gap: float) -> tuple[int, int]:
    """Ends of the bridge after point i, moved outward along both panels to their edges."""
    a, b = i, i + 1
    widest = max(gap, math.dist(line[a], line[b])) if gap >= 0.0 else -1.0
    while True:
        if a > 0 and chain[a - 1] != _RIM and _inward(line[a - 1], line[b], line[a], widest):
            a -= 1
        elif b < len(chain) and chain[b] != _RIM and _inward(line[a], line[b + 1], line[b], widest):
            b += 1
        else:
            return a, b


def _inward(start: Array, stop: Array, left_out: Array, gap: float) -> bool:
    """Whether a point lies behind a bridge that the gap allows, and is touched by no edge."""
    (x, z), (u, w) = (stop - start).tolist(), (left_out - start).tolist()
    length = math.hypot(x, z)
    if length > gap or x * w - z * u >= -SAME_MM * length:
        return False
    # No straight edge, however it leans, meets it before it meets one end of the bridge.
    slopes = [-STEEP, STEEP]
    if abs(x) < STEEP * abs(z):
        slopes.append(x / z)
    return all(u - slope * w >= min(0.0, x - slope * z) for slope in slopes)

"""The outer contour of one section, put together from chains.

One chain that lies within reach is the contour, whole, recesses and all. Several are walked by
what is seen of them (`frontcheck.geometry.walk`); what lies farther rearward than the tools reach
is cut away first. The contour is turned so that air is on its left; it then runs from the
underside up the face to the rear.

Left out, and reported:

hidden
    Parts behind the outer surface: liners, beams, tubs, brackets, floors.
layer
    A second layer on the surface.
flange
    The end of a panel, turned inward at a joint.
behind
    Surface behind a part that stands before it.
free
    Small parts high up that stand free of everything else: mirrors, wires, aerials.
rear
    What lies farther rearward than any tool reaches.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.geometry.chains import Chain, ahead_of
from frontcheck.geometry.polyline import length_of, nearest
from frontcheck.geometry.reach import travels
from frontcheck.geometry.seen import Stretches
from frontcheck.geometry.walk import NO_LABEL, Bridge, walk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array

__all__ = ["GAP_MM", "NO_LABEL", "Dropped", "Outline", "outer_contour"]

GAP_MM: Final = 25.0
"""Widest gap between panels that is bridged when nothing else is said [mm]."""
REACH_MM: Final = 2200.0
"""No tool reaches farther behind the foremost point: the longest tape is 2100 mm, the sphere
stands 82.5 mm beyond its end."""
_LAYER_MM: Final = 2.0
"""A part within this of the contour all along is a second layer of it."""
_SHOWN_MM: Final = 0.1
"""Less than this that is left out is not told of."""
_FLANGE_MM: Final = 100.0
"""Own choice: an end of a panel that is left out and longer than this is more than a flange."""

_HIGH_MM: Final = 700.0
_SMALL_MM: Final = 300.0
_FREE_MM: Final = 100.0
"""Own choice: a part that lies wholly above the first height, is smaller than the second and stands
farther than the third from everything else is no part of the body, unless a straight edge might
meet it first. Every bumper reaches lower, every windscreen is longer, no shut line is as wide."""

Kind = Literal["hidden", "layer", "flange", "behind", "free", "rear"]


@dataclass(frozen=True)
class Dropped:
    """Something that is not part of the outer contour."""

    kind: Kind
    length: float  # Its length [mm]
    x: float  # Its middle [mm]
    z: float  # Its middle [mm]


@dataclass(frozen=True, eq=False)
class Outline:
    """The outer contour of one section."""

    points: Array  # (n, 2) float, x and z [mm], air on the left; none at all
    # where only free parts are cut
    labels: NDArray[np.int64] | None  # (n - 1,) int, label of every stretch; `NO_LABEL` on bridges
    opened: bool = False  # Whether it was a closed loop, opened at the rear
    winding: int = 0  # Winding of the chains as found: +1 air on the left, -1 right, 0 mixed
    bridges: tuple[Bridge, ...] = ()  # Straight bridges over gaps
    dropped: tuple[Dropped, ...] = ()  # What was left out
    whole: Chain | None = None  # The one chain it is, when it was taken as it is

    def walked(self, gap: float = GAP_MM) -> Outline | None:
        """Walk a contour that crosses itself by what is seen of it; None if it was walked."""
        return None if self.whole is None else _walked([self.whole], gap)


def outer_contour(
    chains: Sequence[Chain], gap: float = GAP_MM, foremost: float = math.inf
) -> Outline:
    """Find the outer contour among the chains of one section, given the foremost x of the front."""
    if len(chains) == 1 and not chains[0].closed:
        only = chains[0]
        ends = only.points[0] - only.points[-1]
        near = only.points[:, 0].min() <= foremost + REACH_MM
        if (
            near
            and np.ptp(only.points[:, 0]) <= REACH_MM
            and np.hypot(*ends) > min(gap, length_of(only.points) / 20.0)
        ):
            turn = _wraps(only.points) or _walked_way(only)
            chain = only if turn < 0 else only.reversed()
            points = np.ascontiguousarray(chain.points)
            return Outline(points, chain.labels, winding=chain.winding, whole=chain)
    # What begins beyond all reach is no front: lamps, flares, a wheel at the rear.
    ahead = [chain.points[:, 0].min() <= foremost + REACH_MM for chain in chains]
    rear = [chain for chain, first in zip(chains, ahead, strict=True) if not first]
    body, free = _without_free([c for c, first in zip(chains, ahead, strict=True) if first])
    found = _walked(body, gap) if body else Outline(np.empty((0, 2)), None)
    lost = [
        _dropped("hidden" if _inside(found.points, chain) else "free", _length(chain), chain.points)
        for chain in free
    ]
    lost += [_dropped("rear", _length(chain), chain.points) for chain in rear]
    return replace(found, dropped=(*lost, *found.dropped))


def _inside(contour: Array, chain: Chain) -> bool:
    """Whether a contour stands before and above a chain."""
    (x, z), level = chain.points.min(axis=0), chain.points.max(axis=0)[1]
    ahead = contour[contour[:, 0] <= x]
    return bool(len(ahead) and (ahead[:, 1] >= level).any() and (ahead[:, 1] <= z).any())


def _without_free(chains: Sequence[Chain]) -> tuple[list[Chain], list[Chain]]:
    """Body, and small parts high up that stand free of it and that no straight edge meets."""
    if not chains:
        return [], []
    low = np.array([chain.points.min(axis=0) for chain in chains])
    high = np.array([chain.points.max(axis=0) for chain in chains])
    loose = (low[:, 1] > _HIGH_MM) & (np.hypot(*(high - low).T) < _SMALL_MM)
    todo = np.flatnonzero(~loose).tolist()
    while todo and loose.any():
        i = todo.pop()
        over = (low <= high[i] + _FREE_MM) & (high >= low[i] - _FREE_MM)
        for j in np.flatnonzero(loose & over.all(axis=1)).tolist():
            if _distance(chains[i], chains[j]) <= _FREE_MM:
                loose[j] = False
                todo.append(j)
    if loose.any() and not loose.all():
        reach = travels([_ring(chain) for chain in chains])
        loose &= ~(reach < reach[~loose].min(axis=0)).any(axis=1)
    return (
        [chain for chain, out in zip(chains, loose, strict=True) if not out],
        [chain for chain, out in zip(chains, loose, strict=True) if out],
    )


def _distance(a: Chain, b: Chain) -> float:
    return min(
        float(nearest(one.points, other.points).distance.min()) for one, other in ((a, b), (b, a))
    )


def _walked(chains: Sequence[Chain], gap: float) -> Outline:
    """Walk the chains that lie within reach."""
    limit = min(float(chain.points[:, 0].min()) for chain in chains) + REACH_MM
    dropped: list[Dropped] = []
    near: list[Chain] = []
    for chain in chains:
        parts = ahead_of(chain, limit)
        near += parts
        lost = _length(chain) - sum(_length(part) for part in parts)
        if not parts or parts[0] is not chain:
            dropped.append(_dropped("rear", lost, chain.points[chain.points[:, 0] > limit]))
    near.sort(key=_length, reverse=True)  # stable: of two layers in one place the longer counts
    made = walk(near, gap)
    line = Stretches.of(near)
    windings = set()
    for i, chain in enumerate(near):
        used = sorted(made.used.get(i, []))
        if not used:
            dropped.append(_unused(chain, made.points))
            continue
        windings.add(chain.winding * made.way[i])
        dropped += _leftover(line, i, used)
    opened = any(chain.closed and i in made.used for i, chain in enumerate(near))
    labelled = any(chain.labels is not None for chain in near)
    return Outline(
        made.points,
        made.labels if labelled else None,
        opened,
        windings.pop() if len(windings) == 1 else 0,
        tuple(made.bridges),
        tuple(dropped),
    )


def _leftover(line: Stretches, i: int, used: list[tuple[float, float]]) -> list[Dropped]:
    """What is not walked of a chain that is walked in part."""
    chain = line.chains[i]
    n = len(chain.points)
    if chain.closed:
        used = sorted((a % n, a % n + b - a) for a, b in used)
        used.append((used[0][0] + n, 0.0))
    ends: list[tuple[Kind, float, float]] = [
        ("behind", a, b) for (_, a), (b, _) in zip(used[:-1], used[1:], strict=True)
    ]
    if chain.closed:  # its longest rest is where it is opened
        ends.remove(max(ends, key=lambda end: end[2] - end[1]))
    else:
        ends += [("flange", 0.0, used[0][0]), ("flange", used[-1][1], n - 1.0)]
    out = []
    for kind, a, b in ends:
        points, _ = line.between(i, a, b) if b > a else (np.zeros((1, 2)), None)
        length = length_of(points)
        if length > _SHOWN_MM:
            long = kind == "flange" and length > _FLANGE_MM
            out.append(_dropped("hidden" if long else kind, length, points))
    return out


def _unused(chain: Chain, contour: Array) -> Dropped:
    checked = chain.points[:: max(1, len(chain.points) // 20)]
    layer = bool((nearest(contour, checked).distance <= _LAYER_MM).all())
    return _dropped("layer" if layer else "hidden", _length(chain), chain.points)


def _dropped(kind: Kind, length: float, points: Array) -> Dropped:
    x, z = points[len(points) // 2]
    return Dropped(kind, float(length), float(x), float(z))


def _length(chain: Chain) -> float:
    return length_of(_ring(chain))


def _ring(chain: Chain) -> Array:
    points = chain.points
    return np.concatenate([points, points[:1]]) if chain.closed else points


def _walked_way(chain: Chain) -> int:
    """-1 where an open chain is seen from the left of its walk, +1 where from the right."""
    line = Stretches.of([chain])
    seen = [*line.seen_from("front"), *line.seen_from("above")]
    ahead = sum(
        (1.0 if run.end > run.begin else -1.0) * (run.across[1] - run.across[0]) for run in seen
    )
    return -1 if ahead >= 0.0 else 1


def _area(points: Array) -> float:
    """Twice the area of a polygon, positive when it runs anticlockwise."""
    x, z = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
    return float((x * np.roll(z, -1) - np.roll(x, -1) * z).sum())


def _wraps(points: Array) -> int:
    """-1 for a line that clearly wraps clockwise, air on its left; +1 the other way; else 0."""
    # A front from the underside to the windscreen, closed by a straight line, encloses some tenth
    # of the square of its length.
    around = _area(points) / length_of(points) ** 2
    return 0 if abs(around) < 0.05 else -1 if around < 0.0 else 1

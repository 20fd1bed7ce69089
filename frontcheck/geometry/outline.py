"""The outer contour of one section, put together from chains.

What "outer" means here
-----------------------
seen
    A stretch is seen when a straight line from it, in at least one of the directions
    forward and down 45 deg, forward, forward and up 45 deg, and up, meets nothing else.
    These are the sides from which straight edges, sphere and tape come.
skin
    The chain with the greatest length seen, from the first to the last of its stretches that
    are seen, whole: recesses in between belong to it although no line reaches into them.
panel
    A chain of which at least a fifth is seen. It continues the skin where the distance
    from the end of the skin to its own end is no more than the gap allowed; a straight
    bridge joins the two. Flanges turned inward at such a joint are left out.
plate
    A panel that stands before the skin, with both ends within the gap of it and the skin
    behind it not seen: it takes the place of the skin there.
dropped
    Everything else: hidden chains (liners, beams, brackets), second layers on the skin, and
    parts that stand free, farther away than the gap. Each is reported.
torn
    A contour beside which a quarter of its own length, or more, stands free: whatever it is, it is
    no mirror or badge, and lines found without it would be wrong.

A closed chain (a solid) is opened at the run of unseen stretches that reaches farthest
rearward. The contour is turned so that air, the side it is seen from, is on its left; it
then runs from the underside up the face to the rear.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.geometry.chains import seen_stretches
from frontcheck.geometry.polyline import length_of, nearest, part_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.chains import Chain, Seen

GAP_MM: Final = 25.0
"""Widest gap between panels that is bridged when nothing else is said [mm]."""
NO_LABEL: Final = -1
"""Label of a bridge, and of everything when the mesh has no labels."""

_SAME_MM: Final = 0.1
"""Ends this close are one point: no bridge needed."""
_LAYER_MM: Final = 2.0
"""A panel within this of the skin all along is a second layer of it."""
_PANEL_SHARE: Final = 0.2
_TORN_SHARE: Final = 0.25
"""A free part seen over more than this share of the contour's length belongs to the contour."""

Kind = Literal["hidden", "layer", "free", "flange", "behind a plate"]


@dataclass(frozen=True)
class Dropped:
    """Something that is not part of the outer contour."""

    kind: Kind  # ``hidden``, ``layer``, ``free``, ``flange`` or ``behind a plate``
    length: float  # Its length [mm]
    seen: float  # How much of that is seen [mm]
    x: float  # Its middle [mm]
    z: float  # Its middle [mm]
    distance: float = 0.0  # Distance of its ends from the contour [mm], for ``free``


@dataclass(frozen=True, eq=False)
class Outline:
    """The outer contour of one section."""

    points: NDArray[np.float64]  # (n, 2) float, x and z [mm], air on the left
    labels: NDArray[np.int64] | None  # (n - 1,) int, label of every stretch; `NO_LABEL` on bridges
    opened: bool = False  # Whether it was a closed loop, opened at the rear
    winding: int = 0  # Winding of the skin as found: +1 air on the left, -1 on the right, 0 mixed
    bridges: tuple[float, ...] = ()  # Lengths of the straight bridges over gaps [mm]
    dropped: tuple[Dropped, ...] = ()  # What was left out

    @property
    def torn(self) -> Dropped | None:
        """The free part too large to be a mere accessory: the contour itself is in pieces."""
        length = length_of(self.points)
        free = [lost for lost in self.dropped if lost.kind == "free"]
        largest = max(free, key=lambda lost: lost.seen, default=None)
        return largest if largest and largest.seen > _TORN_SHARE * length else None


@dataclass(eq=False)
class _Panel:
    """An open chain with the range of its points that is seen."""

    points: NDArray[np.float64]
    labels: NDArray[np.int64] | None
    first: int
    last: int
    seen: float = 0.0
    length: float = 0.0
    opened: bool = False
    winding: int = 0

    def turned(self) -> _Panel:
        n = len(self.points) - 1
        labels = None if self.labels is None else self.labels[::-1]
        return replace(
            self, points=self.points[::-1], labels=labels,
            first=n - self.last, last=n - self.first, winding=-self.winding,
        )  # fmt: skip

    def dropped(self, kind: Kind, distance: float = 0.0) -> Dropped:
        x, z = self.points[len(self.points) // 2]
        return Dropped(kind, self.length, self.seen, float(x), float(z), distance)


def outer_contour(chains: Sequence[Chain], gap: float = GAP_MM) -> Outline:
    """Find the outer contour among the chains of one section."""
    if len(chains) == 1 and not chains[0].closed:
        only = chains[0]
        whole = _Panel(only.points, only.labels, 0, len(only.points) - 1, winding=only.winding)
        turn = _wraps(only.points)
        if turn != 0:
            return _outline(whole if turn < 0 else whole.turned(), [], [])
    panels = [
        _panel(chain, seen) for chain, seen in zip(chains, seen_stretches(chains), strict=True)
    ]
    panels.sort(key=lambda panel: -panel.seen)  # stable: ties stay in order
    skin = panels[0]
    dropped = [p.dropped("hidden") for p in panels[1:] if p.seen < _PANEL_SHARE * p.length]
    rest = [p for p in panels[1:] if p.seen >= _PANEL_SHARE * p.length]
    bridges: list[float] = []
    for _ in range(2):
        skin = _extended(skin, rest, gap, bridges, dropped).turned()
    for panel in list(rest):
        if _is_layer(panel, skin):
            dropped.append(panel.dropped("layer"))
            rest.remove(panel)
            continue
        over = _plate(panel, skin, gap)
        if over is not None:
            skin, lost, spans = over
            dropped.append(lost)
            bridges.extend(spans)
            rest.remove(panel)
    dropped.extend(p.dropped("free", _end_distance(p, skin)) for p in rest)
    return _outline(skin, bridges, dropped)


def _panel(chain: Chain, view: Seen) -> _Panel:
    """Open a chain if it is closed, and turn it so that it is seen from the left."""
    points, labels, seen = chain.points, chain.labels, view.mask
    if chain.closed:
        begin = _rear_opening(points, seen)
        points = np.roll(points, -begin, axis=0)
        points = np.concatenate([points, points[:1]])
        seen = np.roll(seen, -begin)
        labels = None if labels is None else np.roll(labels, -begin)
    where = np.flatnonzero(seen)
    first, last = (int(where[0]), int(where[-1]) + 1) if len(where) else (0, len(points) - 1)
    if chain.closed:
        labels = None if labels is None else labels[first:last]
        points, first, last = points[first : last + 1], 0, last - first
    length = length_of(points)
    panel = _Panel(points, labels, first, last, view.length, length, chain.closed, chain.winding)
    right = view.from_left < 0.0 or (view.from_left == 0.0 and points[-1, 1] < points[0, 1])
    return panel.turned() if right else panel


def _rear_opening(points: NDArray[np.float64], seen: NDArray[np.bool_]) -> int:
    """Stretch of a loop at which it is opened: the unseen run that reaches farthest rearward."""
    if seen.all() or not seen.any():
        return int(points[:, 0].argmax())
    n = len(points)
    begins = np.flatnonzero(~seen & np.roll(seen, 1))
    best, chosen = -math.inf, 0
    for begin in begins.tolist():
        run = begin
        reach = -math.inf
        while not seen[run % n]:
            middle = (points[run % n, 0] + points[(run + 1) % n, 0]) / 2.0
            reach = max(reach, float(middle))
            run += 1
        if reach > best:
            best, chosen = reach, begin
    return chosen


def _extended(
    skin: _Panel, rest: list[_Panel], gap: float, bridges: list[float], dropped: list[Dropped]
) -> _Panel:
    """Continue the skin at its end, panel by panel; joined panels leave `rest`."""
    while rest:
        options = [
            (*joint, i)
            for i, panel in enumerate(rest)
            for joint in _joints(skin, panel)
            if joint[1] <= gap
        ]
        if not options:
            break
        rank, distance, turn, i = min(options)
        panel = rest.pop(i)
        if turn:
            panel = panel.turned()
        at_end = len(skin.points) - 1 if rank == 0 else skin.last
        begin = 0 if rank == 0 else panel.first
        for lost, whole in ((skin.points[at_end:], skin), (panel.points[: begin + 1], panel)):
            length = length_of(lost)
            if length > 0.0:
                x, z = lost[len(lost) // 2]
                dropped.append(Dropped("flange", length, 0.0, float(x), float(z)))
            whole.length -= length
        if distance > _SAME_MM:
            bridges.append(distance)
        skin = _joined(skin, at_end, panel, begin, distance)
    return skin


def _joints(skin: _Panel, panel: _Panel) -> list[tuple[int, float, bool]]:
    """Ways to go on from the end of the skin: rank, distance, panel turned or not."""
    # Rank 0: ends that coincide. Rank 1: ends of what is seen.
    out = []
    for turn in (False, True):
        begin = panel.points[-1 if turn else 0]
        distance = math.dist(skin.points[-1], begin)
        if distance <= _SAME_MM:
            out.append((0, distance, turn))
        begin = panel.points[panel.last if turn else panel.first]
        out.append((1, math.dist(skin.points[skin.last], begin), turn))
    return out


def _joined(skin: _Panel, at_end: int, panel: _Panel, begin: int, distance: float) -> _Panel:
    head, tail = skin.points[: at_end + 1], panel.points[begin:]
    touching = distance == 0.0
    points = np.concatenate([head, tail[1:] if touching else tail])
    labels = None
    if skin.labels is not None and panel.labels is not None:
        bridge = np.full(0 if touching else 1, NO_LABEL, dtype=np.int64)
        labels = np.concatenate([skin.labels[:at_end], bridge, panel.labels[begin:]])
    offset = len(points) - len(panel.points)
    return _Panel(
        points,
        labels,
        skin.first,
        panel.last + offset,
        skin.seen + panel.seen,
        skin.length + panel.length,
        skin.opened,
        skin.winding,
    )


def _end_distance(panel: _Panel, skin: _Panel) -> float:
    return float(nearest(skin.points, panel.points[[0, -1]]).distance.min())


def _is_layer(panel: _Panel, skin: _Panel) -> bool:
    checked = panel.points[:: max(1, len(panel.points) // 20)]
    return bool((nearest(skin.points, checked).distance <= _LAYER_MM).all())


def _plate(
    panel: _Panel, skin: _Panel, gap: float
) -> tuple[_Panel, Dropped, tuple[float, ...]] | None:
    """Put a panel that stands before the skin in the place of the skin behind it."""
    found = nearest(skin.points, panel.points[[panel.first, panel.last]])
    (i, j), (s, t), (near_i, near_j) = (values.tolist() for values in found)
    if max(near_i, near_j) > gap or (i, s) == (j, t):
        return None
    if (i, s) > (j, t):
        panel = panel.turned()
        i, s, near_i, j, t, near_j = j, t, near_j, i, s, near_i
    own = panel.points[panel.first : panel.last + 1]
    lost = part_of(skin.points, (i, s), (j, t))
    # The plate stands in the air: on the left of the stretch it covers.
    if _area(np.concatenate([lost, own[::-1]])) <= 0.0:
        return None
    points = np.concatenate([skin.points[: i + 1], lost[:1], own, lost[-1:], skin.points[j + 1 :]])
    labels = None
    if skin.labels is not None and panel.labels is not None:
        bridge = np.array([NO_LABEL])
        labels = np.concatenate(
            [
                skin.labels[: i + 1], bridge, panel.labels[panel.first : panel.last],
                bridge, skin.labels[j:],
            ]
        )  # fmt: skip
    moved = np.concatenate([[True], (np.diff(points, axis=0) != 0.0).any(axis=1)])
    labels = None if labels is None else labels[moved[1:]]
    x, z = lost[len(lost) // 2]
    length = length_of(lost)
    made = replace(skin, points=points[moved], labels=labels, last=int(moved.sum()) - 1, first=0)
    spans = tuple(d for d in (near_i, near_j) if d > _SAME_MM)
    return made, Dropped("behind a plate", length, 0.0, float(x), float(z)), spans


def _area(points: NDArray[np.float64]) -> float:
    """Twice the area of a polygon, positive when it runs anticlockwise."""
    x, z = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
    return float((x * np.roll(z, -1) - np.roll(x, -1) * z).sum())


def _wraps(points: NDArray[np.float64]) -> int:
    """-1 for a line that clearly wraps clockwise, air on its left; +1 the other way; else 0."""
    # A front from the underside to the windscreen, closed by a straight line, encloses some tenth
    # of the square of its length.
    around = _area(points) / length_of(points) ** 2
    return 0 if abs(around) < 0.05 else -1 if around < 0.0 else 1


def _outline(skin: _Panel, bridges: list[float], dropped: list[Dropped]) -> Outline:
    return Outline(
        np.ascontiguousarray(skin.points),
        skin.labels,
        skin.opened,
        skin.winding,
        tuple(bridges),
        tuple(dropped),
    )

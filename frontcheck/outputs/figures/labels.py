"""Where to put labels so that none overlaps another or leaves the frame.

Glossary
--------
box
    Left, bottom, right and top of a text, in pixels.
anchor
    The point a label speaks of; a thin leader runs from there to the box.
obstacle
    A drawn line that text had better not cover; crossing one costs, but is allowed.

Each label has a list of places it may take: rings round its anchor, then a grid over the
whole frame. Places outside the frame or over another label are out; of the rest the
cheapest is taken. Labels are set in the order given, then each is set anew, knowing the
others, until a round changes nothing. Then each label that is badly off tries the place it
would have alone, and whoever stands there moves, if that is cheaper in all. There is no
chance in it: same input, same places.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.geometry.arrays import Array, Index, Mask

_RINGS: Final = (8.0, 14.0, 22.0, 32.0, 45.0, 60.0, 80.0, 105.0, 135.0, 170.0, 210.0, 260.0)
"""Gaps between anchor and box [px]."""
_DIRECTIONS: Final = 24
_GRID: Final = (26, 20)
_ROUNDS: Final = 4
_TOUCH: Final = 1e-9
_NOT_FREE: Final = 1e6

_PER_PIXEL: Final = 1.0  # leader length
_TURNED: Final = 35.0  # looking away from the preferred side
_ON_LINE: Final = 120.0  # covering an obstacle at all, and per pixel of it
_ON_LINE_PIXEL: Final = 3.0
_NEAR_LINE: Final = 3.0  # closer than this [px] counts as covering: lines have a width
_OVER_LINE: Final = 14.0  # a leader crossing an obstacle
_OVER_LEADER: Final = 250.0
_OVER_BOX: Final = 2000.0
_WORTH_IT: Final = 60.0  # a label this much dearer than alone asks others to give way
_ON_ANCHOR: Final = 300.0  # covering the anchor of any label


@dataclass(frozen=True)
class Request:
    """A label that wants a place."""

    width: float  # Size of its box [px]
    height: float  # Size of its box [px]
    anchor: tuple[float, float] | None  # The point it speaks of [px]
    prefer: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Placement:
    """Where a label stands."""

    x: float  # Left and bottom of its box [px]
    y: float  # Left and bottom of its box [px]
    leader: tuple[float, float] | None
    free: bool


def arrange(
    requests: Sequence[Request],
    frame: tuple[float, float, float, float],
    obstacles: Array,
    *,
    gap: float = 4.0,
    scale: float = 1.0,
) -> tuple[Placement, ...]:
    """Find a place for every label."""
    if not requests:
        return ()
    lines = np.asarray(obstacles) / scale
    room = _Room(requests, np.asarray(frame) / scale, lines, gap / scale, scale)
    everyone = range(len(requests))
    room.settle_all(everyone)
    for _ in range(_ROUNDS):
        if not any([room.give_way(i) for i in everyone]):  # noqa: C419 - each has its turn
            break
    known = zip(room.boxes * scale, room.ends * scale, room.led, room.free, strict=True)
    return tuple(
        Placement(float(box[0]), float(box[1]), (float(x), float(z)) if led else None, bool(free))
        for box, (x, z), led, free in known
    )


class _Room:
    """The frame with what stands in it so far, in pixels of a 100 dpi screen."""

    def __init__(
        self,
        requests: Sequence[Request],
        frame: Array,
        obstacles: Array,
        gap: float,
        scale: float,
    ) -> None:
        n, nowhere = len(requests), (np.nan, np.nan)
        self.frame, self.lines, self.gap = frame, obstacles.reshape(-1, 2, 2), gap
        self.sizes = np.array([(r.width, r.height) for r in requests]) / scale
        self.anchors = np.array([r.anchor or nowhere for r in requests], dtype=np.float64) / scale
        self.led = ~np.isnan(self.anchors[:, 0])  # Which have an anchor, and so a leader
        self.prefer = np.array([r.prefer for r in requests], dtype=np.float64)
        self.boxes = np.full((n, 4), np.nan)
        self.ends = np.full((n, 2), np.nan)
        self.free = np.zeros(n, dtype=bool)
        self._known_choices: dict[int, tuple[Array, Array]] = {}

    def settle(self, i: int) -> bool:
        """Give label i the cheapest place there is now; return whether it moved."""
        boxes, fixed = self._choices(i)
        others = np.arange(len(self.boxes)) != i
        cost, free = self._judge(i, boxes, others & ~np.isnan(self.boxes[:, 0]))
        best = int((fixed + cost).argmin())
        moved = not np.array_equal(self.boxes[i], boxes[best])
        self._put(i, boxes[best])
        self.free[i] = free[best]
        return moved

    def settle_all(self, order: Iterable[int]) -> None:
        """Settle labels in turn until a round changes nothing."""
        for _ in range(_ROUNDS):
            if not any([self.settle(i) for i in order]):  # noqa: C419 - settle all
                break

    def give_way(self, i: int) -> bool:
        """Give label i the place it would have alone, and whoever stands there another."""
        # Returns whether that made the whole cheaper; if not, all stays as it was.
        boxes, alone = self._choices(i)
        wish = boxes[int(alone.argmin())]
        if np.array_equal(wish, self.boxes[i]) or self._price(i) < alone.min() + _WORTH_IT:
            return False
        before = self.boxes.copy(), self.ends.copy(), self.free.copy()
        total = self._total()
        self._put(i, wish)
        blockers = [j for j in range(len(self.boxes)) if j != i and self._in_the_way(i, j)]
        for j in blockers:
            self.boxes[j] = self.ends[j] = np.nan
        self.settle_all([*blockers, i])
        if self._total() < total - 1.0:
            return True
        self.boxes, self.ends, self.free = before
        return False

    def _in_the_way(self, i: int, j: int) -> bool:
        if _overlap(self.boxes[[i]], self.boxes[[j]], self.gap)[0] > 0.0:
            return True
        leaders = np.stack([self.anchors, self.ends], axis=1)
        return any(
            self.led[a] and _length_inside(self.boxes[[b]], leaders[[a]])[0, 0] > 0.0
            for a, b in ((i, j), (j, i))
        )

    def _put(self, i: int, box: Array) -> None:
        self.boxes[i] = box
        self.ends[i] = np.clip(self.anchors[i], box[:2], box[2:])

    def _price(self, i: int) -> float:
        others = np.arange(len(self.boxes)) != i
        box = self.boxes[i : i + 1]
        return float(self._fixed_cost(i, box)[0] + self._judge(i, box, others)[0][0])

    def _total(self) -> float:
        return sum(self._price(i) for i in range(len(self.boxes)))

    def _choices(self, i: int) -> tuple[Array, Array]:
        """Places that label i may take, and what each costs were it alone."""
        if i not in self._known_choices:
            boxes = self._places(i)
            self._known_choices[i] = boxes, self._fixed_cost(i, boxes)
        return self._known_choices[i]

    def _places(self, i: int) -> Array:
        size = self.sizes[i]
        room = self.frame[2:] - self.frame[:2] - size
        axes = (np.linspace(0.0, max(r, 0.0), m) for r, m in zip(room, _GRID, strict=True))
        corners = self.frame[:2] + np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
        if self.led[i]:
            angle = np.arange(_DIRECTIONS) * (2.0 * math.pi / _DIRECTIONS)
            unit = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
            # The box stands so that its nearest point is one ring away in that direction.
            near = self.anchors[i] + np.asarray(_RINGS)[:, None, None] * unit
            lean = np.where(np.abs(unit) < 0.2, 0.0, np.sign(unit))
            corners = np.concatenate([(near - size / 2 + lean * size / 2).reshape(-1, 2), corners])
        return np.concatenate([corners, corners + size], axis=1)

    def _outside(self, boxes: Array) -> Array:
        """How far boxes reach out of the frame; not above nought within it."""
        low, high = self.frame[:2] - boxes[:, :2], boxes[:, 2:] - self.frame[2:]
        return np.asarray(np.maximum(low, high).max(axis=1))

    def _leaders(self, i: int, boxes: Array) -> Array:
        """Leaders (m, 2, 2) of label i to boxes (m, 4), from its anchor."""
        end = np.clip(self.anchors[i], boxes[:, :2], boxes[:, 2:])
        return np.stack([np.broadcast_to(self.anchors[i], end.shape), end], axis=1)

    def _fixed_cost(self, i: int, boxes: Array) -> Array:
        """Cost of places for label i that does not depend on where the others stand."""
        out = self._outside(boxes)
        cost = np.where(out > _TOUCH, _NOT_FREE + 1e4 * out, 0.0)
        wide = boxes + np.array([-_NEAR_LINE, -_NEAR_LINE, _NEAR_LINE, _NEAR_LINE])
        covered = _length_inside(wide, self.lines).sum(axis=1)
        cost += np.where(covered > 0.0, _ON_LINE + _ON_LINE_PIXEL * covered, 0.0)
        points = self.anchors[self.led]
        inside = (points >= boxes[:, None, :2] - 4.0) & (points <= boxes[:, None, 2:] + 4.0)
        cost += _ON_ANCHOR * inside.all(axis=-1).sum(axis=1)
        prefer, middle = self.prefer[i], (boxes[:, :2] + boxes[:, 2:]) / 2.0
        if not self.led[i]:
            corner = np.where(prefer > 0.0, self.frame[2:], self.frame[:2])
            return np.asarray(cost + 0.2 * (np.abs(middle - corner) @ np.abs(np.sign(prefer))))
        own = self._leaders(i, boxes)
        length = np.hypot(*(own[:, 1] - own[:, 0]).T)
        cost += _PER_PIXEL * length + _OVER_LINE * _crossings(own, self.lines)
        if prefer.any():
            to = middle - self.anchors[i]
            cosine = to @ prefer / (np.hypot(*to.T) * np.hypot(*prefer) + 1e-12)
            cost += _TURNED * (1.0 - cosine)
        return np.asarray(cost)

    def _judge(self, i: int, boxes: Array, others: Mask) -> tuple[Array, Mask]:
        """Cost of places for label i beside some others, and which places are free."""
        placed = self.boxes[others]
        clash = _overlap(boxes, placed, self.gap)
        cost = np.where(clash > 0.0, _NOT_FREE + clash, 0.0)
        leaders = np.stack([self.anchors, self.ends], axis=1)[others & self.led]
        cost += _OVER_BOX * (_length_inside(boxes, leaders) > 0.0).sum(axis=1)
        if self.led[i]:
            own = self._leaders(i, boxes)
            cost += _OVER_BOX * (_length_inside(placed, own) > 0.0).sum(axis=0)
            cost += _OVER_LEADER * _crossings(own, leaders)
        return np.asarray(cost), (self._outside(boxes) <= _TOUCH) & (clash == 0.0)


def _overlap(boxes: Array, placed: Array, gap: float) -> Array:
    """Area by which each box, kept `gap` clear, overlaps those placed."""
    low = np.maximum(boxes[:, None, :2] - gap, placed[None, :, :2])
    high = np.minimum(boxes[:, None, 2:] + gap, placed[None, :, 2:])
    total: Array = np.maximum(high - low, 0.0).prod(axis=-1).sum(axis=1)
    return total


def _length_inside(boxes: Array, lines: Array) -> Array:
    """Length of each segment (k, 2, 2) within each box (m, 4), (m, k)."""
    at, of = _meeting(boxes[:, :2], boxes[:, 2:], lines)
    start, step = lines[of, 0], lines[of, 1] - lines[of, 0]
    level = step == 0.0
    safe = np.where(level, 1.0, step)
    to_low = (boxes[at, :2] - start) / safe
    to_high = (boxes[at, 2:] - start) / safe
    # A level segment whose extent meets the box lies between its sides.
    enter = np.where(level, 0.0, np.minimum(to_low, to_high))
    leave = np.where(level, 1.0, np.maximum(to_low, to_high))
    part = np.clip(leave, 0.0, 1.0).min(axis=-1) - np.clip(enter, 0.0, 1.0).max(axis=-1)
    length = np.zeros((len(boxes), len(lines)))
    length[at, of] = np.maximum(part, 0.0) * np.hypot(*step.T)
    return length


def _crossings(own: Array, lines: Array) -> Array:
    """How many of the segments (k, 2, 2) each leader (m, 2, 2) crosses after its first 5 px."""
    at, of = _meeting(own.min(axis=1), own.max(axis=1), lines)
    a, step = own[at, 0], own[at, 1] - own[at, 0]
    b, other = lines[of, 0], lines[of, 1] - lines[of, 0]
    cross = step[:, 0] * other[:, 1] - step[:, 1] * other[:, 0]
    parallel = cross == 0.0
    safe = np.where(parallel, 1.0, cross)
    gap = b - a
    t = (gap[:, 0] * other[:, 1] - gap[:, 1] * other[:, 0]) / safe
    u = (gap[:, 0] * step[:, 1] - gap[:, 1] * step[:, 0]) / safe
    length = np.hypot(step[:, 0], step[:, 1])
    hit = ~parallel & (t * length > 5.0) & (t < 1.0) & (u >= 0.0) & (u <= 1.0)
    return np.bincount(at[hit], minlength=len(own)).astype(np.float64)


def _meeting(low: Array, high: Array, lines: Array) -> tuple[Index, Index]:
    """Pairs of box and segment whose extents meet: most pass one another by, far off."""
    first, last = lines.min(axis=1), lines.max(axis=1)
    meet = first[:, 0] <= high[:, 0, None]
    meet &= first[:, 1] <= high[:, 1, None]
    meet &= last[:, 0] >= low[:, 0, None]
    meet &= last[:, 1] >= low[:, 1, None]
    at, of = np.nonzero(meet)
    return at, of

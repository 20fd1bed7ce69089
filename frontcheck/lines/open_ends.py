"""Whether a plausible continuation of an open contour could change a line.

A contour is open at both its ends. What may lie beyond an end is a class of continuations (own
choice, constants of the rules): straight on for up to a length, in a direction within an angle
either way of the chord of the last stretch. Together they fill a fan at the end, a convex region,
and a straight tool meets one of them first if it meets the fan first. The fan is taken with a
polygon round its arc, at most 2 per thousand of its radius too large. A continuation keeps the
part of the end point, stays above ground, and is straight: those that would cross the contour
are not told apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from frontcheck.geometry.straight_edge import TIE_MM
from frontcheck.lines.line_values import OPEN_END, R_OPEN_LOWER, REASONS, LineValues

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.geometry.straight_edge import StraightEdge
    from frontcheck.geometry.tape_batch import TapeMarks
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.contours import Contours

LOWER: Final = 1
REAR: Final = 2
"""Which end could change a line; both are 3."""

_SIDES: Final = 8
"""Sides of the polygon round the arc of a fan."""
_SLACK_MM: Final = 1e-6
"""A continuation that comes this close to the tool counts as meeting it: rounding."""


@dataclass(frozen=True, eq=False)
class Ends:
    """Both ends of B contours and what may lie beyond them."""

    apex: Array  # (B, 2, 2) first and last point, x and z [mm]
    along: Array  # (B, 2) direction in which the contour leaves it [rad]
    reach: float  # Greatest length of a continuation [mm]
    spread: float  # Greatest turn of a continuation, either way [rad]

    @classmethod
    def of(cls, contours: Contours, rules: RuleSet) -> Ends:
        """Find the ends of contours and their directions."""
        last = rules.value("open_end.last_mm")
        count, points = contours.counts[:, None], contours.points
        row = np.arange(len(contours))[:, None]
        apex, along = [], []
        for rear in (False, True):
            k = 8
            while True:
                # The points of the end, from it inward; as many as the chord needs.
                steps = np.minimum(np.arange(k), count - 1)
                some = points[row, count - 1 - steps if rear else steps]
                lengths = np.hypot(*np.moveaxis(np.diff(some, axis=1), -1, 0))
                arcs = np.cumsum(lengths, axis=1)
                if k >= points.shape[1] or (arcs[:, -1] >= last).all():
                    break
                k = min(4 * k, points.shape[1])
            over = np.where(arcs[:, -1] >= last, (arcs >= last).argmax(axis=1), k - 2)[:, None]
            here, length = arcs[row, over][:, 0], lengths[row, over][:, 0]
            t = np.clip((here - last) / np.where(length == 0.0, 1.0, length), 0.0, 1.0)[:, None]
            inner = (1.0 - t) * some[row, over + 1][:, 0] + t * some[row, over][:, 0]
            chord = some[:, 0] - inner
            apex.append(some[:, 0])
            along.append(np.arctan2(chord[:, 1], chord[:, 0]))
        return cls(
            np.stack(apex, axis=1),
            np.stack(along, axis=1),
            rules.value("open_end.reach_mm"),
            math.radians(rules.value("open_end.spread_deg")),
        )

    def part(self, chosen: Index) -> Ends:
        """Return the ends of some of the contours."""
        return Ends(self.apex[chosen], self.along[chosen], self.reach, self.spread)

    def ahead(
        self, slope: ArrayLike, bar: ArrayLike, low: float, high: float, counted: Mask | None = None
    ) -> NDArray[np.int8]:
        """Ends whose fan holds, between two heights, a point with ``x - slope z`` below `bar`."""
        batch = len(self.apex)
        slope, bar = (np.broadcast_to(value, batch)[:, None] for value in (slope, bar))
        # Bounds first: most ends lie far behind the tool, or beyond its reach.
        least = self.apex[..., 0] - slope * self.apex[..., 1]
        facing = np.arctan2(slope, -1.0)  # the direction in which that falls fastest
        falls = np.cos(np.maximum(_between(self.along, facing) - self.spread, 0.0))
        reach = self.reach / math.cos(self.spread / _SIDES)
        least = least - reach * np.hypot(1.0, slope) * np.maximum(falls, 0.0)
        near = least < bar
        for side, height in ((1.0, low), (-1.0, high)):
            rises = np.cos(np.maximum(_between(self.along, side * math.pi / 2) - self.spread, 0.0))
            near &= side * (self.apex[..., 1] - height) + reach * np.maximum(rises, 0.0) >= 0.0
        if counted is not None:
            near &= counted
        found = np.zeros((batch, 2), dtype=bool)
        i, end = np.nonzero(near)
        if len(i):
            fans = self._fans(i, end)
            found[i, end] = _least(fans, slope[i, 0], low, high) < bar[i, 0]
        bits: NDArray[np.int8] = (found * [LOWER, REAR]).sum(axis=1).astype(np.int8)
        return bits

    def meet(
        self, edge: StraightEdge, foot_x: Array, margin: float = 0.0, counted: Mask | None = None
    ) -> NDArray[np.int8]:
        """Ends whose fan an edge would touch before it stands with its foot at `foot_x`."""
        bar = foot_x - edge.low * edge.slope + margin + _SLACK_MM
        return self.ahead(edge.slope, bar, edge.low, edge.high, counted)

    def at(self, x: Array, z: Array) -> NDArray[np.int8]:
        """Ends at which a point lies."""
        same = (self.apex[..., 0] == x[:, None]) & (self.apex[..., 1] == z[:, None])
        bits: NDArray[np.int8] = (same * [LOWER, REAR]).sum(axis=1).astype(np.int8)
        return bits

    def _fans(self, i: Index, end: Index) -> Array:
        """Polygons round fans, closed: apex, one end of the arc, tangent corners, the other."""
        half = self.spread / _SIDES
        turns = np.concatenate(
            [[-self.spread], np.arange(1 - _SIDES, _SIDES, 2) * half, [self.spread]]
        )
        radii = self.reach / np.concatenate([[1.0], np.full(_SIDES, math.cos(half)), [1.0]])
        angle = self.along[i, end][:, None] + turns
        apex = self.apex[i, end][:, None]
        arc = apex + radii[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        return np.concatenate([apex, arc, apex], axis=1)


def _between(a: ArrayLike, b: ArrayLike) -> Array:
    """Angle between two directions, 0 to pi [rad]."""
    return np.abs(np.remainder(np.subtract(a, b) + math.pi, math.tau) - math.pi)


def _least(fans: Array, slope: Array, low: float, high: float) -> Array:
    """Least ``x - slope z`` of closed polygons (M, k, 2) between two heights; inf outside."""
    x0, z0 = fans[:, :-1, 0], fans[:, :-1, 1]
    dx, dz = fans[:, 1:, 0] - x0, fans[:, 1:, 1] - z0
    best = np.full(len(fans), np.inf)
    for height in (None, low, high):
        if height is None:
            t, inside = np.zeros_like(z0), (z0 >= low) & (z0 <= high)
        elif math.isfinite(height):
            t = (height - z0) / np.where(dz == 0.0, 1.0, dz)
            inside = (dz != 0.0) & (t >= 0.0) & (t <= 1.0)
        else:
            continue
        value = x0 + t * dx - slope[:, None] * (z0 + t * dz)
        best = np.minimum(best, np.where(inside, value, np.inf).min(axis=1))
    return best


class OpenFoot(NamedTuple):
    """What the foot of the tape rests on, in B contours."""

    x: Array  # (B,) foremost bumper point [mm]
    labelled: Mask  # (B,) bool, whether labels say what is bumper
    counted: Mask | None  # (B, 2) bool, whether each end is bumper; None: all are
    limit: float  # Greatest height of the foremost point without labels [mm]


def open_reason(bits: int) -> str:
    """Why an end, or both, leave a value open, and what to do."""
    return REASONS[R_OPEN_LOWER - LOWER + bits]


def opened(values: LineValues, ends: Ends, bits: NDArray[np.int8]) -> None:
    """Mark what an end could change, and what lies at an end: status and reason."""
    bits = np.where(values.formed, bits | ends.at(values.x, values.z), 0)
    changed = bits > 0
    values.code[changed] = OPEN_END
    values.reason_code[changed] = R_OPEN_LOWER - LOWER + bits[changed]


def open_marks(
    ends: Ends, contours: Contours, foot: OpenFoot, anchor_x: Array,
    marks: TapeMarks,
) -> NDArray[np.int8]:  # fmt: skip
    """Ends that could change the marks of the tape, (B, m): those that move its foot or its way."""
    # The foot moves where a continuation is a bumper point ahead of the foremost one.
    bits = np.zeros(len(contours), dtype=np.int8)
    for labelled, height in ((True, math.inf), (False, foot.limit)):
        here = foot.labelled == labelled
        if here.any():
            bits[here] = ends.ahead(0.0, foot.x - TIE_MM, 0.0, height, foot.counted)[here]
    # The way changes where one reaches across the tape: from below, across its first straight
    # run, which goes straight up where the tape stands below the foremost point of the contour.
    x, z, reached = contours.points[..., 0], contours.points[..., 1], marks.reached
    bits |= ends.ahead(0.0, anchor_x - TIE_MM, 0.0, math.inf) & LOWER
    out = np.repeat(bits[:, None], reached.shape[1], axis=1)
    leans = np.flatnonzero(x.min(axis=1) != anchor_x)
    if len(leans):
        stands, some = anchor_x[leans], ends.part(leans)
        run = (x[leans] - stands[:, None]) / np.maximum(z[leans], TIE_MM)
        least = np.minimum.accumulate(run, axis=1)
        for j in range(reached.shape[1]):
            own = (marks.x[leans, j] - stands) / np.maximum(marks.z[leans, j], TIE_MM)
            passed = least[np.arange(len(leans)), marks.stretch[leans, j]]
            slope = np.minimum(passed, own)
            out[leans, j] |= some.ahead(slope, stands - TIE_MM, 0.0, math.inf) & LOWER
    # From the rear end nothing comes across when it only runs on rearward, or upward, of all
    # that the tape passes.
    last, along = ends.apex[:, 1], ends.along[:, 1]
    back = _between(along, 0.0) + ends.spread <= math.pi / 2
    up = _between(along, math.pi / 2) + ends.spread <= math.pi / 2
    clear = back[:, None] & (last[:, :1] >= marks.x)
    clear |= (up & (last[:, 1] >= z.max(axis=1)))[:, None]
    out |= np.where(clear, 0, REAR).astype(np.int8)
    return np.where(reached, out, 0).astype(np.int8)

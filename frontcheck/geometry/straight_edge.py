"""Contact of a straight edge that slides horizontally onto a contour.

Glossary
--------
lean
    Angle of the edge from vertical [deg]; positive when its upper end is rearward.
reach
    Heights between the two ends of the edge [mm].
gap
    How far the edge, brought up from the front, must still travel to meet a contour
    point: ``x - (z - reach foot) tan(lean)``. The contact is where the gap is least.
    Along one contour stretch the gap is linear, so the least value lies at a contour
    point or where a stretch is cut by an end of the reach: both count.

Every function takes a leading batch axis: ``points`` is (B, n, 2), many sections or many
perturbed copies of one. Contours of different length are padded by repeating the last
point, which adds stretches of no length and changes nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

TIE_MM: Final = 1e-9
"""Gaps closer than this are one contact [mm]: rounding of coordinates of some metres."""


@dataclass(frozen=True)
class StraightEdge:
    """A straight edge held in the vertical longitudinal plane, sliding in x only."""

    lean_deg: float  # Lean from vertical [deg], positive rearward, within (-90, 90)
    low: float  # Heights of its lower and upper end [mm]; `high` may be infinite
    high: float  # Heights of its lower and upper end [mm]; `high` may be infinite

    def __post_init__(self) -> None:
        """Check the pose."""
        if not -90.0 < self.lean_deg < 90.0:
            raise ValueError(f"lean must be within -90 and 90 deg, not {self.lean_deg:g}")
        if not (math.isfinite(self.low) and self.high > self.low):
            raise ValueError(f"reach from {self.low:g} to {self.high:g} mm is empty")

    @classmethod
    def standing(cls, length: float, lean_deg: float, low: float = 0.0) -> StraightEdge:
        """Return an edge of given length whose lower end is at a given height."""
        return cls(lean_deg, low, low + length * math.cos(math.radians(lean_deg)))

    @property
    def slope(self) -> float:
        """Rearward travel per unit of height along the edge, tan(lean)."""
        return math.tan(math.radians(self.lean_deg))

    @property
    def cosine(self) -> float:
        """Height per unit of length along the edge."""
        return math.cos(math.radians(self.lean_deg))

    def gap(self, x: Array, z: Array) -> Array:
        """Return the gap of points to the edge when its lower end is at x = 0."""
        return x - (z - self.low) * self.slope


@dataclass(frozen=True)
class EdgeContact:
    """First contact of a straight edge, one entry per contour of the batch."""

    # Where `touched` is False the other arrays hold nothing meaningful.

    touched: Mask
    x: Array  # (B,) chosen contact point [mm]
    z: Array  # (B,) chosen contact point [mm]
    foot_x: Array  # (B,) x of the lower end of the edge at contact [mm]
    stretch: Index  # (B,) int, index of the contour stretch that holds the chosen point
    at_low: Mask  # (B,) bool, whether the chosen point is at an end of the reach
    at_high: Mask  # (B,) bool, whether the chosen point is at an end of the reach
    z_lowest: Array
    z_highest: Array


@dataclass(frozen=True)
class TouchRuns:
    """Stretches of contour that stay within a tolerance of the edge at contact."""

    longest: Array  # (B,) extent along the edge of the longest unbroken stretch [mm]
    spread: Array
    count: Index  # (B,) int, number of separate touches
    top_x: Array
    top_z: Array


@dataclass(frozen=True)
class _Clipped:
    """Contour stretches cut to the reach: ends (B, n-1, 2) of x and z, and which are left."""

    x: Array
    z: Array
    t: Array
    inside: Mask


def edge_contact(
    points: Array,
    edge: StraightEdge,
    *,
    take: Literal["upper", "lower"] = "upper",
    counted: Mask | None = None,
) -> EdgeContact:
    """Slide an edge rearward onto contours and return where it first touches."""
    cut, first = _clip_near(points, edge, counted)
    gap = np.where(cut.inside[..., None], edge.gap(cut.x, cut.z), np.inf)
    flat = (len(points), 2 * gap.shape[1])
    flat_gap = gap.reshape(flat)
    least = flat_gap.min(axis=1)
    touched = np.isfinite(least)
    tie = flat_gap <= (least + TIE_MM)[:, None]
    flat_z = cut.z.reshape(flat)
    high = np.where(tie, flat_z, -np.inf)
    low = np.where(tie, flat_z, np.inf)
    chosen = high.argmax(axis=1) if take == "upper" else low.argmin(axis=1)
    row = np.arange(len(points))
    x = cut.x.reshape(flat)[row, chosen]
    z = flat_z[row, chosen]
    return EdgeContact(
        touched=touched,
        x=x,
        z=z,
        foot_x=least,
        stretch=first + chosen // 2,
        at_low=touched & (z <= edge.low + TIE_MM),
        at_high=touched & (z >= edge.high - TIE_MM),
        z_lowest=low.min(axis=1),
        z_highest=high.max(axis=1),
    )


def touch_runs(
    points: Array,
    edge: StraightEdge,
    contact: EdgeContact,
    tolerance: float,
    *,
    counted: Mask | None = None,
) -> TouchRuns:
    """Measure how much of each contour lies within a tolerance of the edge at contact."""
    cosine = edge.cosine
    sine = math.sin(math.radians(edge.lean_deg))
    cut, _ = _clip_near(points, edge, counted)
    # No number to subtract where nothing is touched; nothing is near there either.
    foot = np.where(contact.touched, contact.foot_x, 0.0)[:, None, None]
    distance = (edge.gap(cut.x, cut.z) - foot) * cosine
    along = (cut.x - foot) * sine + (cut.z - edge.low) * cosine
    # Part of each stretch within tolerance, as a range of its own parameter 0..1.
    d0, d1 = distance[..., 0], distance[..., 1]
    change = d1 - d0
    level = change == 0.0
    cross = (tolerance - d0) / np.where(level, 1.0, change)
    start = np.where(~level & (d0 > tolerance), cross, 0.0)
    stop = np.where(~level & (d1 > tolerance), cross, 1.0)
    near = cut.inside & (np.minimum(d0, d1) <= tolerance) & contact.touched[:, None]
    at = np.stack([start, stop], axis=-1)
    u = along[..., :1] + at * np.diff(along, axis=-1)
    # A stretch continues the one before when neither was cut at their common point.
    whole_end = (stop == 1.0) & (cut.t[..., 1] == 1.0)
    whole_start = (start == 0.0) & (cut.t[..., 0] == 0.0)
    follows = near[:, :-1] & near[:, 1:] & whole_end[:, :-1] & whole_start[:, 1:]
    best_d = np.minimum(d0, d1)
    upper_end = np.where(along[..., 0] > along[..., 1], 0, 1)
    nearer = np.where(np.abs(change) <= TIE_MM, upper_end, np.where(d0 < d1, 0, 1))
    best = np.stack([_pick(values, nearer) for values in (along, cut.x, cut.z)])

    batch = len(points)
    longest = np.zeros(batch)
    count = np.zeros(batch, dtype=np.intp)
    touch_low = np.full(batch, np.inf)
    touch_high = np.full(batch, -np.inf)
    run_low = np.full(batch, np.inf)
    run_high = np.full(batch, -np.inf)
    run_d = np.full(batch, np.inf)
    run = np.zeros((3, batch))  # position along the edge, x and z of its closest point
    top = np.zeros((3, batch))
    stretches = near.shape[1]
    for i in np.flatnonzero(near.any(axis=0)):
        here = near[:, i]
        fresh = here if i == 0 else here & ~follows[:, i - 1]
        run_low = np.where(fresh, np.inf, run_low)
        run_high = np.where(fresh, -np.inf, run_high)
        run_d = np.where(fresh, np.inf, run_d)
        count += fresh
        run_low = np.where(here, np.minimum(run_low, u[:, i].min(axis=-1)), run_low)
        run_high = np.where(here, np.maximum(run_high, u[:, i].max(axis=-1)), run_high)
        closer = best_d[:, i] < run_d - TIE_MM
        higher = (best_d[:, i] <= run_d + TIE_MM) & (best[0, :, i] > run[0])
        better = here & (closer | higher)
        run_d = np.where(better, np.minimum(best_d[:, i], run_d), run_d)
        run = np.where(better, best[:, :, i], run)
        longest = np.where(here, np.maximum(longest, run_high - run_low), longest)
        ends = here if i == stretches - 1 else here & ~follows[:, i]
        top = np.where(ends & (run[0] > touch_high), run, top)
        touch_low = np.where(ends, np.minimum(touch_low, run[0]), touch_low)
        touch_high = np.where(ends, np.maximum(touch_high, run[0]), touch_high)
    spread = np.where(count > 1, touch_high - touch_low, 0.0)
    return TouchRuns(longest, spread, count, top[1], top[2])


def _pick(values: Array, end: Index) -> Array:
    """Choose one of the two ends of every stretch: values (B, n-1, 2), end (B, n-1)."""
    return np.where(end == 0, values[..., 0], values[..., 1])


def _clip_near(points: Array, edge: StraightEdge, counted: Mask | None) -> tuple[_Clipped, int]:
    """Cut the stretches that some contour may hold within the reach; index of the first."""
    # The stretches left out are within the reach in no contour, so no contact is lost.
    z = points[..., 1]
    low = z.max(axis=0, initial=-np.inf) < edge.low
    high = z.min(axis=0, initial=np.inf) > edge.high
    beyond = (low[:-1] & low[1:]) | (high[:-1] & high[1:])
    if counted is not None:
        used = np.broadcast_to(counted, points.shape[:2]).max(axis=0, initial=False)
        beyond |= ~(used[:-1] | used[1:])
    within = np.flatnonzero(~beyond)
    first, last = (int(within[0]), int(within[-1])) if len(within) else (0, 0)
    part = slice(first, last + 2)
    mask = None if counted is None else counted[..., part]
    return _clip(points[:, part], edge, mask), first


def _clip(points: Array, edge: StraightEdge, counted: Mask | None) -> _Clipped:
    """Cut every stretch to the heights the edge reaches."""
    x0, z0 = points[:, :-1, 0], points[:, :-1, 1]
    dx, dz = points[:, 1:, 0] - x0, points[:, 1:, 1] - z0
    level = dz == 0.0
    safe = np.where(level, 1.0, dz)
    to_low = (edge.low - z0) / safe
    to_high = (edge.high - z0) / safe
    enter = np.where(level, 0.0, np.clip(np.minimum(to_low, to_high), 0.0, 1.0))
    leave = np.where(level, 1.0, np.clip(np.maximum(to_low, to_high), 0.0, 1.0))
    z_min = np.minimum(z0, points[:, 1:, 1])
    z_max = np.maximum(z0, points[:, 1:, 1])
    inside = (z_max >= edge.low) & (z_min <= edge.high)
    if counted is not None:
        mask = np.broadcast_to(counted, points.shape[:2])
        both = mask[:, :-1] & mask[:, 1:]
        # A counted point between uncounted ones stands for itself: shrink a stretch onto it.
        only_start = mask[:, :-1] & ~mask[:, 1:]
        only_end = ~mask[:, :-1] & mask[:, 1:]
        inside &= both | (only_start & (enter == 0.0)) | (only_end & (leave == 1.0))
        leave = np.where(only_start, enter, leave)
        enter = np.where(only_end, leave, enter)
    t = np.stack([enter, leave], axis=-1)
    x = x0[..., None] + t * dx[..., None]
    z = z0[..., None] + t * dz[..., None]
    # The ends themselves are exact: rounding must not move a point off the reach or a vertex.
    z = np.clip(z, edge.low, edge.high)
    z = np.where((t == 0.0) & inside[..., None], z0[..., None], z)
    last = (t == 1.0) & inside[..., None]
    x = np.where(last, points[:, 1:, 0][..., None], x)
    z = np.where(last, points[:, 1:, 1][..., None], z)
    return _Clipped(x, z, t, inside)

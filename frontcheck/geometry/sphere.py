"""A sphere kept on the windscreen and let down until it meets the upper surface.

In one section the sphere is a circle. Its centre runs at one radius from the windscreen:
along a stretch it moves parallel to it, round a point in an arc. Every position in which
it also touches a stretch or a point of the upper surface has a closed form; among those
that do not cut into the windscreen, the first met on the way down is the contact. No
buffered outline is built, so the contact is exact on the polyline.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.polyline import nearest

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

_SLACK: Final = 1e-9
"""Rounding allowance for touching and for ends of stretches [mm]."""
_CUT_MM: Final = 1e-7
"""A sphere closer than this to the windscreen than its radius rests on it [mm]."""
_BOX_MARGIN_MM: Final = 1e-3
"""Added to one diameter when sorting out what a sphere cannot touch: ample for rounding [mm]."""
_PARALLEL: Final = 1e-12
"""Rate of approach below which a sphere moves along a stretch, not toward it."""


@dataclass(frozen=True)
class SphereContact:
    """Where the sphere rests, one entry per contour of the batch."""

    # Where `touched` is False the other arrays hold nothing meaningful.

    touched: Mask  # (B,) bool
    x: Array  # (B,) contact on the upper surface, the rearmost of several [mm]
    z: Array  # (B,) contact on the upper surface, the rearmost of several [mm]
    stretch: Index
    centre_x: Array  # (B,) centre of the sphere [mm]
    centre_z: Array  # (B,) centre of the sphere [mm]
    screen_x: Array  # (B,) contact on the windscreen [mm]
    screen_z: Array  # (B,) contact on the windscreen [mm]


class _Best:
    """The contact met first on the way down, per contour."""

    def __init__(self, batch: int) -> None:
        self.rank = np.full(batch, -np.inf)
        self.at = np.zeros((batch, 2))
        self.centre = np.zeros((batch, 2))
        self.screen = np.zeros((batch, 2))
        self.stretch = np.zeros(batch, dtype=np.intp)

    def offer(
        self, valid: Mask, rank: Array, at: Array, centre: Array, screen: Array, stretch: Index
    ) -> None:
        """Take candidates (B, u): rank, contact (B, u, 2), centre, screen point, stretch (u,)."""
        rank = np.where(valid, rank, -np.inf)
        # Of contacts met together the rearmost counts.
        top = rank.max(axis=1)
        tie = valid & (rank >= (top - _SLACK)[:, None])
        pick = np.where(tie, at[..., 0], -np.inf).argmax(axis=1)
        row = np.arange(len(rank))
        tied = np.isfinite(top) & (top >= self.rank - _SLACK) & (top <= self.rank + _SLACK)
        wins = (top > self.rank + _SLACK) | (tied & (at[row, pick, 0] > self.at[:, 0]))
        self.rank = np.where(wins, top, self.rank)
        self.at[wins] = at[row, pick][wins]
        self.centre[wins] = centre[row, pick][wins]
        self.screen[wins] = screen[row, pick][wins]
        self.stretch[wins] = stretch[pick][wins]


def sphere_contact(
    points: Array, radius: float, screen: tuple[int, int], first_upper: int
) -> SphereContact:
    """Let a sphere down the windscreen until it meets the surface ahead of it."""
    first, last = screen
    best = _Best(len(points))
    glass = _Glass(points[:, first : last + 1], radius)
    if first - first_upper >= 1 and last - first >= 1:
        near = _near(points[:, first_upper : first + 1], points[:, first : last + 1], radius)
        for j in np.flatnonzero(near.any(axis=0)):
            reached = np.flatnonzero(near[:, j])
            start, stop = first_upper + int(reached[0]), first_upper + int(reached[-1])
            upper = _Upper(points[:, start : stop + 2], start)
            _on_glass_stretch(best, glass, int(j), upper)
            _on_glass_point(best, glass, int(j), upper)
    touched = np.isfinite(best.rank)
    if touched.any():
        # A sphere that already cuts into the surface at the upper end of the windscreen would
        # rest above it, and what it meets farther down is not its contact.
        touched &= glass.top_clear_of(points[:, first_upper : first + 1])
    return SphereContact(
        touched=touched,
        x=best.at[:, 0],
        z=best.at[:, 1],
        stretch=best.stretch,
        centre_x=best.centre[:, 0],
        centre_z=best.centre[:, 1],
        screen_x=best.screen[:, 0],
        screen_z=best.screen[:, 1],
    )


def _near(upper: Array, glass: Array, radius: float) -> Mask:
    """Pairs of stretches (of the surface, of the windscreen) that one sphere may touch at once."""
    # Both lie within one diameter of each other then, in some contour at least. Boxes round the
    # stretches are compared: cheap, and never too strict.
    reach = 2.0 * radius + _BOX_MARGIN_MM
    close = np.ones((upper.shape[1] - 1, glass.shape[1] - 1), dtype=bool)
    for axis in (0, 1):
        (u_low, u_high), (g_low, g_high) = (
            (
                np.minimum(line[:, :-1, axis], line[:, 1:, axis]).min(axis=0),
                np.maximum(line[:, :-1, axis], line[:, 1:, axis]).max(axis=0),
            )
            for line in (upper, glass)
        )
        close &= u_low[:, None] - g_high <= reach
        close &= g_low - u_high[:, None] <= reach
    return close


class _Upper:
    """The surface ahead of the windscreen: its points and stretches."""

    def __init__(self, points: Array, first: int) -> None:
        self.points = points
        # The last point belongs to the windscreen: touching it there is no new contact.
        self.own = points[:, :-1]
        self.step = np.diff(points, axis=1)
        self.side = _left(self.step)
        self.index = np.arange(first, first + points.shape[1] - 1)

    def holds(self, at: Array) -> Mask:
        """Whether points (B, u, 2) on the lines of the stretches lie within them."""
        square = _dot(self.step, self.step)
        t = _dot(at - self.own, self.step)
        slack = _SLACK * np.sqrt(square)
        return (square > 0.0) & (t >= -slack) & (t <= square + slack)


class _Glass:
    """The windscreen and the path of the sphere's centre along it."""

    def __init__(self, points: Array, radius: float) -> None:
        self.points = points
        self.radius = radius
        step = np.diff(points, axis=1)
        self.length = np.hypot(step[..., 0], step[..., 1])
        self.unit = step / np.where(self.length == 0.0, 1.0, self.length)[..., None]
        self.side = _left(step)
        # Angle through which the sphere rolls round each point on its way down; round the
        # lowest point it may roll until something stops it. Negative in a hollow: no roll.
        upper, lower = self.side[:, 1:], self.side[:, :-1]
        bend = np.arctan2(
            upper[..., 0] * lower[..., 1] - upper[..., 1] * lower[..., 0], _dot(upper, lower)
        )
        self.roll = np.concatenate([np.full((len(points), 1), np.pi), bend], axis=1)
        # Length of the centre's path from the lowest point up to the foot of each stretch.
        arcs = radius * np.cumsum(np.maximum(bend, 0.0), axis=1)
        path = np.cumsum(self.length, axis=1)[:, :-1] + arcs
        self.path = np.concatenate([np.zeros((len(points), 1)), path], axis=1)

    def top_clear_of(self, line: Array) -> Mask:
        """Whether spheres at the upper end of the windscreen keep clear of lines (B, m, 2)."""
        # Where such a sphere cuts into the windscreen itself nothing is said against it: it comes
        # to rest on the windscreen only lower down.
        centre = self.points[:, -1] + self.radius * self.side[:, -1]
        away = nearest(line, centre).distance
        on_glass = self.clear_of(centre[:, None], np.ones((len(centre), 1), dtype=bool))[:, 0]
        return np.asarray((away >= self.radius - _CUT_MM) | ~on_glass)

    def clear_of(self, centre: Array, among: Mask) -> Mask:
        """Which of some spheres (B, u), centres (B, u, 2), cut into no windscreen stretch."""
        row = np.nonzero(among)[0]
        chosen = centre[among]
        clear = np.ones(len(chosen), dtype=bool)
        for i in range(self.length.shape[1]):
            off, unit = chosen - self.points[row, i], self.unit[row, i]
            t = np.clip(_dot(off, unit), 0.0, self.length[row, i])
            gap = off - t[..., None] * unit
            clear &= np.hypot(gap[..., 0], gap[..., 1]) >= self.radius - _CUT_MM
        result = among.copy()
        result[among] = clear
        return result


def _dot(a: Array, b: Array) -> Array:
    """Products of vectors (..., 2); several times faster than a sum over an axis of two."""
    # Adding 0 takes the sign off a zero, lest a stretch of no length seem to turn by 180 deg.
    return a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + 0.0


def _left(step: Array) -> Array:
    """Unit normal on the air side of steps (..., 2)."""
    normal = np.stack([-step[..., 1], step[..., 0]], axis=-1)
    length = np.hypot(step[..., 0], step[..., 1])[..., None]
    return normal / np.where(length == 0.0, 1.0, length)


def _on_glass_stretch(best: _Best, glass: _Glass, j: int, upper: _Upper) -> None:
    """Offer the contacts with the sphere on windscreen stretch j."""
    radius, a, unit = glass.radius, glass.points[:, None, j], glass.unit[:, None, j]
    base = a + radius * glass.side[:, None, j]  # centre at the lower end of the stretch

    def offer(s: Array, ok: Mask, at: Array) -> None:
        ok = ok & (s >= -_SLACK) & (s <= glass.length[:, None, j] + _SLACK)
        if not ok.any():
            return
        centre = base + s[..., None] * unit
        ok = glass.clear_of(centre, ok)
        touch = a + s[..., None] * unit
        best.offer(ok, glass.path[:, None, j] + s, at, centre, touch, upper.index)

    # Against points of the upper surface: |base + s unit - u| = radius; coming down, the
    # greater root is met first.
    off = base - upper.own
    half = _dot(off, unit)
    inner = half * half - _dot(off, off) + radius * radius
    offer(np.sqrt(np.maximum(inner, 0.0)) - half, inner >= 0.0, upper.own)
    # Against its stretches: centre at one radius on their air side, coming closer.
    rate = _dot(upper.side, unit)
    start = _dot(base - upper.own, upper.side)
    approaching = rate > _PARALLEL
    s = np.where(approaching, (radius - start) / np.where(approaching, rate, 1.0), 0.0)
    at = base + s[..., None] * unit - radius * upper.side
    offer(s, approaching & upper.holds(at), at)


def _on_glass_point(best: _Best, glass: _Glass, j: int, upper: _Upper) -> None:
    """Offer the contacts with the sphere rolling round windscreen point j."""
    radius, v, above = glass.radius, glass.points[:, None, j], glass.side[:, None, j]

    def offer(centre: Array, ok: Mask, at: Array) -> None:
        out = (centre - v) / radius
        rolled = np.arctan2(
            above[..., 0] * out[..., 1] - above[..., 1] * out[..., 0], _dot(above, out)
        )
        slack = _SLACK / radius
        ok = ok & (rolled >= -slack) & (rolled <= glass.roll[:, None, j] + slack)
        if not ok.any():
            return
        ok = glass.clear_of(centre, ok)
        touch = np.broadcast_to(v, centre.shape)
        best.offer(ok, glass.path[:, None, j] - radius * rolled, at, centre, touch, upper.index)

    # Against points: two circles of one radius about either point.
    gap = upper.own - v
    apart = np.hypot(gap[..., 0], gap[..., 1])
    meet = (apart > 0.0) & (apart <= 2.0 * radius)
    safe = np.where(meet, apart, 1.0)
    rise = np.sqrt(np.maximum(radius * radius - (safe / 2.0) ** 2, 0.0))
    across = rise[..., None] * np.stack([-gap[..., 1], gap[..., 0]], axis=-1) / safe[..., None]
    for centre in ((upper.own + v) / 2.0 + across, (upper.own + v) / 2.0 - across):
        offer(centre, meet, upper.own)
    # Against stretches: a line at one radius from the stretch and a circle about v.
    side = upper.side
    # The stretch that ends at v holds it exactly; a root follows that would make much of rounding.
    ends_here = (upper.points[:, 1:] == v).all(axis=-1)
    level = radius - np.where(ends_here, 0.0, _dot(v - upper.own, side))
    meet = np.abs(level) <= radius
    slide = np.sqrt(np.maximum(radius * radius - level * level, 0.0))
    across = slide[..., None] * np.stack([side[..., 1], -side[..., 0]], axis=-1)
    for centre in (v + level[..., None] * side + across, v + level[..., None] * side - across):
        at = centre - radius * side
        offer(centre, meet & upper.holds(at), at)

"""What is seen of the chains of one section from one side, to the last digit.

Glossary
--------
side
    Where one looks from, square to an axis: ``front`` (along +x), ``above`` (down) or
    ``below`` (up). `across` runs square to the looking, `depth` along it; walked with `across`
    rising, the air is on the left.
place
    Where on a chain: index of a point, plus the share of the stretch after it. On a closed
    chain places go on beyond the last point.
run
    An unbroken piece of one chain that is seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.geometry.chains import Chain

SAME_MM: Final = 1e-3
"""Surfaces this close are one, the first of their chains: 32-bit files round by a tenth of it."""
_ROUNDING: Final = 1e-11
_MEET: Final = 1e-6
"""Places this close are one."""
STEEP: Final = math.tan(math.radians(50.0))
"""No straight edge of the rules leans farther from upright: deeper in a slot nothing is touched."""
_NONE_MM: Final = 1e-10

Side = Literal["front", "above", "below"]
TILT: Final = 1e-7
"""From the front one looks up by this slope, so that a level sheet is seen, from below."""
_SIDES: Final[dict[Side, Array]] = {
    "front": np.array([[-TILT, 1.0], [1.0, 0.0]]),
    "above": np.array([[1.0, 0.0], [0.0, -1.0]]),
    "below": np.array([[-1.0, 0.0], [0.0, 1.0]]),
}
"""`across` and `depth` by x and z."""


@dataclass(frozen=True, eq=False)
class Run:
    """An unbroken piece of a chain, as it is walked."""

    chain: int  # Index of the chain
    begin: float  # Place where it starts
    end: float  # Place where it ends
    across: tuple[float, float]  # `across` of its two ends [mm]
    depth: tuple[float, float]  # `depth` of its two ends [mm]
    nearest: float  # Least `depth` on it [mm]
    first: tuple[float, float]  # x and z of its start [mm]
    last: tuple[float, float]  # x and z of its end [mm]
    steep: int  # +1 or -1 where it goes away or comes nearer more steeply than `STEEP`, else 0


@dataclass(frozen=True, eq=False)
class Stretches:
    """The stretches of some chains, laid end to end."""

    chains: Sequence[Chain]
    start: Array  # (m, 2) x and z [mm]
    stop: Array  # (m, 2) x and z [mm]
    chain: Index  # (m,) index of the chain
    index: Index  # (m,) index within the chain

    @classmethod
    def of(cls, chains: Sequence[Chain]) -> Stretches:
        """Lay out the stretches of chains."""
        stops = [np.roll(c.points, -1, axis=0) if c.closed else c.points[1:] for c in chains]
        starts = [c.points[: len(stop)] for c, stop in zip(chains, stops, strict=True)]
        start, stop = np.concatenate(starts), np.concatenate(stops)
        counts = [len(part) for part in starts]
        return cls(
            chains,
            start,
            stop,
            np.repeat(np.arange(len(chains)), counts),
            np.concatenate([np.arange(n) for n in counts]),
        )

    def seen_from(
        self, side: Side, low: float = -math.inf, high: float = math.inf, beyond: float = -math.inf
    ) -> list[Run]:
        """Return what is seen between two values of `across`, of what lies beyond a depth."""
        (u, v), ends = _SIDES[side] @ self.start.T, _SIDES[side] @ self.stop.T
        du, dv = ends[0] - u, ends[1] - v
        t = _within(u, du, low, high)
        more = _within(v, dv, beyond, math.inf)
        t = np.stack([np.maximum(t[0], more[0]), np.minimum(t[1], more[1])])
        t = np.where(du < 0.0, t[::-1], t)  # walked with `across` rising
        at = np.where(t == 1.0, ends[0], u + t * du)
        kept = np.flatnonzero((t[1] != t[0]) & (at[1] - at[0] > _NONE_MM))
        kept = kept[((t[1] > t[0]) == (du > 0.0))[kept]]
        if len(kept) == 0:
            return []
        pieces = _envelope(
            at[:, kept], t[:, kept], v[kept], dv[kept], ends[1][kept], self.chain[kept]
        )
        return self._runs(kept[pieces.owner], pieces)

    def _runs(self, stretch: Index, pieces: _Pieces) -> list[Run]:
        """Join pieces that follow one another on their chain."""
        chain = self.chain[stretch]
        begin, end = self.index[stretch] + pieces.t[0], self.index[stretch] + pieces.t[1]
        size = np.array([len(c.points) if c.closed else 0 for c in self.chains])[chain]
        off = np.abs(begin[1:] - end[:-1])
        off = np.minimum(off, np.where(size[1:] > 0, np.abs(off - size[1:]), np.inf))
        forward = end > begin
        follows = (chain[1:] == chain[:-1]) & (off < _MEET) & (forward[1:] == forward[:-1])
        follows &= pieces.across[0, 1:] - pieces.across[1, :-1] < _MEET
        width, rise = np.diff(pieces.across, axis=0)[0], np.diff(pieces.depth, axis=0)[0]
        steep = np.where(np.abs(rise) > STEEP * width, np.sign(rise), 0.0)
        follows &= steep[1:] == steep[:-1]
        first = np.flatnonzero(np.concatenate([[True], ~follows]))
        last = np.append(first[1:], len(chain)) - 1
        long = np.add.reduceat(end - begin, first)
        nearest = np.minimum.reduceat(pieces.depth.min(axis=0), first)
        out = []
        for a, b, length, near in zip(
            first.tolist(), last.tolist(), long.tolist(), nearest.tolist(), strict=True
        ):
            start, stop = _at_point(float(begin[a])), _at_point(float(begin[a]) + length)
            out.append(
                Run(
                    int(chain[a]), start, stop,
                    (float(pieces.across[0, a]), float(pieces.across[1, b])),
                    (float(pieces.depth[0, a]), float(pieces.depth[1, b])),
                    near, self.point(int(chain[a]), start), self.point(int(chain[a]), stop),
                    int(steep[a]),
                )
            )  # fmt: skip
        return out

    def point(self, chain: int, place: float) -> tuple[float, float]:
        """X and z at a place."""
        points = self.chains[chain].points
        i = math.floor(place)
        t = place - i
        n = len(points)
        a = points[i % n]
        if t == 0.0:
            return float(a[0]), float(a[1])
        b = points[(i + 1) % n]
        return float(a[0] + t * (b[0] - a[0])), float(a[1] + t * (b[1] - a[1]))

    def between(
        self, chain: int, begin: float, end: float
    ) -> tuple[Array, NDArray[np.int64] | None]:
        """Points of a chain from place to place, and the label of every stretch between."""
        own = self.chains[chain]
        if end < begin:
            points, labels = self.between(chain, end, begin)
            return points[::-1], None if labels is None else labels[::-1]
        inner = np.arange(math.floor(begin) + 1, math.ceil(end))
        points = np.concatenate(
            [
                [self.point(chain, begin)],
                own.points[inner % len(own.points)],
                [self.point(chain, end)],
            ]
        )
        if own.labels is None:
            return points, None
        stretch = np.concatenate([[math.floor(begin)], inner]).astype(np.intp)
        return points, own.labels[stretch % len(own.labels)]


def _at_point(place: float) -> float:
    """A place, moved onto a point of its chain where only rounding keeps it off."""
    return float(round(place)) if abs(place - round(place)) < _ROUNDING else place


def _within(start: Array, step: Array, low: float, high: float) -> Array:
    """Shares of stretches, (2, m), from where to where a coordinate lies between two values."""
    share = np.stack([np.zeros(len(start)), np.ones(len(start))])
    level = step == 0.0
    safe = np.where(level, 1.0, step)
    for bound, above in ((low, True), (high, False)):
        if math.isinf(bound):
            continue
        cross = (bound - start) / safe
        rising = (step > 0.0) == above
        share[0] = np.where(~level & rising, np.maximum(share[0], cross), share[0])
        share[1] = np.where(~level & ~rising, np.minimum(share[1], cross), share[1])
        out = level & ((start < bound) if above else (start > bound))
        share[1] = np.where(out, -1.0, share[1])
    return share


@dataclass(frozen=True, eq=False)
class _Pieces:
    """What is nearest, from one value of `across` to the next."""

    owner: Index
    t: Array  # (2, k)
    across: Array  # (2, k)
    depth: Array  # (2, k)


def _envelope(at: Array, t: Array, v: Array, dv: Array, v_end: Array, chain: Index) -> _Pieces:
    """The nearest of slanted stretches everywhere, changing where they begin, end or cross."""
    levels = np.unique(at)
    first, last = (np.searchsorted(levels, row) for row in at)
    times = last - first
    of = np.repeat(np.arange(len(first)), times)
    step = np.arange(len(of)) - np.repeat(np.cumsum(times) - times, times) + first[of]
    order = np.lexsort((chain[of], step))
    of, step = of[order], step[order]
    ua, ub = levels[step], levels[step + 1]
    ta, tb = (_share(at, t, of, value) for value in (ua, ub))
    va, vb = (np.where(s == 1.0, v_end[of], v[of] + s * dv[of]) for s in (ta, tb))
    group = np.flatnonzero(np.concatenate([[True], np.diff(step) != 0]))
    size = np.diff(np.append(group, len(step)))
    near_a, near_b = (np.repeat(np.minimum.reduceat(d, group), size) for d in (va, vb))
    wins = (va <= near_a + SAME_MM) & (vb <= near_b + SAME_MM)
    rank = np.where(wins, np.arange(len(wins)), len(wins))
    winner = np.minimum.reduceat(rank, group)
    rows = winner[winner < len(wins)]
    owner = [of[rows]]
    shares, across, depth = [np.stack([ta, tb])[:, rows]], [np.stack([ua, ub])[:, rows]], [
        np.stack([va, vb])[:, rows]
    ]  # fmt: skip
    for g in np.flatnonzero(winner == len(wins)).tolist():
        here = slice(int(group[g]), int(group[g] + size[g]))
        for k, begin, end in _crossing(va[here], vb[here]):
            row = here.start + k
            at_ends = np.array([[begin], [end]])
            owner.append(of[row : row + 1])
            for into, low, high in ((shares, ta, tb), (across, ua, ub), (depth, va, vb)):
                values = low[row] + at_ends * (high[row] - low[row])
                into.append(np.where(at_ends == 1.0, high[row], values))
    turn = np.argsort(np.concatenate(across, axis=1)[0], kind="stable")
    return _Pieces(
        np.concatenate(owner)[turn],
        np.concatenate(shares, axis=1)[:, turn],
        np.concatenate(across, axis=1)[:, turn],
        np.concatenate(depth, axis=1)[:, turn],
    )


def _share(at: Array, t: Array, of: Index, value: Array) -> Array:
    """Share of a stretch at which `across` has a value; exact at its ends."""
    low, high = at[0, of], at[1, of]
    share = t[0, of] + (value - low) / (high - low) * (t[1, of] - t[0, of])
    share = np.where(value == low, t[0, of], share)
    return np.asarray(np.where(value == high, t[1, of], share))


def _crossing(va: Array, vb: Array) -> list[tuple[int, float, float]]:
    """The nearest of straight lines from 0 to 1 by their depths at both ends."""
    now = int(np.lexsort((vb, va))[0])
    at, out = 0.0, []
    while True:
        gap, slope = va - va[now], (vb - va) - (vb[now] - va[now])
        with np.errstate(divide="ignore", invalid="ignore"):
            cross = np.where(slope < 0.0, gap / -slope, np.inf)
        cross = np.where(cross <= at, np.inf, cross)
        cross[now] = np.inf
        next_at = float(cross.min())
        if not next_at < 1.0:
            out.append((now, at, 1.0))
            return out
        out.append((now, at, next_at))
        tied = np.flatnonzero(cross == next_at)
        now, at = int(tied[np.argmin(vb[tied])]), next_at

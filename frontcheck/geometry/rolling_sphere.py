"""A sphere let down along the windscreen until it also touches the front structure, in space.

Contact is exact on triangles: faces, edges and corners. A station asks for the contact on the front
structure that lies in its plane y = const; the centre of the sphere then generally lies in
another, since both surfaces turn in plan.

How it is found
---------------
The plane cuts the front structure in stretches. With the contact on a stretch, the centre is one
radius off it, square to its triangle; with the contact on a crossing of an edge, one radius
off that, square to the edge and turned away from every triangle at it. Against the plane
that touches the sphere where the windscreen is nearest, every such contact has a closed form, and
the sphere that lies highest cuts into nothing. A new plane is taken there until the
windscreen is one radius away.

Where the front structure is hollow in plan a sphere touches two places at once, and none between
them: there the line runs straight from the one to the other. Where nothing stops the sphere it
comes down to the seam of both surfaces.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.near_triangles import (
    TOUCH_MM,
    Nearest,
    Pieces,
    cross,
    dot,
    held_by,
    nearest_on,
    nearest_on_edge,
    ranges,
    unit,
)
from frontcheck.geometry.sphere_seam import SLIGHT_MM, seam_rest
from frontcheck.geometry.sphere_start import Start, facing_pieces, rough_rest

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

_NUDGE_MM: Final = 1e-7
"""A plane through corners is cut this far on either side, and the mean taken [mm]."""
_NEAR_MM: Final = 15.0
"""Stretches farther from the rough place of rest than its radius and this are left out [mm]."""
_MARGINS_MM: Final = (0.8, 15.0)
"""Pieces of the windscreen are collected for moves of a centre up to the first of these, and
to the second where that finds none [mm]."""
_CLOSE_MM: Final = 1e-9
"""Nearer than this to one radius, a surface is touched [mm]."""
_CUT_MM: Final = 1e-6
"""A sphere closer than this to a surface than its radius rests on it [mm]."""
_SLACK: Final = 1e-9
"""Rounding allowance for ends of stretches and turns of normals."""
_SHARP: Final = 0.9
"""Triangles whose normals agree less than this leave a sharp edge between them: ample."""
_ROUNDS: Final = 40
_BOTH: Final = (np.minimum, np.maximum)
_DEEP_MM: Final = 1.0
"""Spheres that cut in deeper start from their rough places again [mm]."""
_SEAM_MM: Final = 0.05
"""Contacts closer together than this are one place on the seam of both surfaces [mm]."""
_REACH_MM: Final = 10.0
"""Pieces farther off than a radius and this play no part in resting on three places [mm]."""
_STEP_MM: Final = 5.0
"""Longest step of a centre towards three places [mm]."""
_OPEN: Final = 1.75 * np.pi
"""A closed surface takes up some 2 pi round a point, one that ends there pi [rad]: own choice."""


@dataclass(frozen=True)
class SphereLine:
    """Where the sphere touches both surfaces, one entry a station."""

    # Where `touched` is False the other arrays hold nothing meaningful.

    touched: Mask  # (n,)
    centre: Array  # (n, 3) [mm]
    front: Array  # (n, 3) contact on the front structure, y that of the station [mm]
    screen: Array  # (n, 3) contact on the windscreen [mm]
    front_end: Mask  # (n,) the contact is where the front structure ends, open
    screen_end: Mask  # (n,) the contact is where the windscreen ends, open


def sphere_line(sides: list[Array], radius: float, stations: Array) -> SphereLine:
    """Contacts on the front structure (k, 3, 3) of a sphere on it and the windscreen (m, 3, 3)."""
    # The list of both is emptied: what is far off is let go of.
    count = len(stations)
    line = SphereLine(
        np.zeros(count, dtype=bool), *np.zeros((3, count, 3)), *np.zeros((2, count), dtype=bool)
    )
    facing = facing_pieces(sides, 2.0 * radius + _NEAR_MM) if count else None
    if facing is None:
        return line
    on_front, on_screen, near = facing
    rough = rough_rest(on_front, on_screen, radius, np.unique(stations))
    if len(rough.centre):
        _roll(line, near, rough, on_front, on_screen, radius, stations)
    lost = np.flatnonzero(~line.touched)
    if len(lost):
        rest, centre, at = seam_rest(near, on_front, on_screen, radius, stations[lost])
        line.touched[lost[rest]], line.centre[lost[rest]] = True, centre
        line.front[lost[rest]] = line.screen[lost[rest]] = at
    line.front[:, 1] = stations
    return line


def _roll(
    line: SphereLine,
    near: Array,
    rough: Start,
    on_front: Pieces,
    on_screen: Pieces,
    radius: float,
    stations: Array,
) -> None:
    """Fill in where spheres rest that come from rough places."""
    count = len(stations)
    station, level = _cuts(stations, near)
    spheres = _Spheres(level, rough, on_front, on_screen, radius)
    spheres.settle(_Stretches(near, on_screen, level, spheres.centre, radius))
    spheres.bridge()
    # Either side of a plane through corners: the mean of both, or the one there is.
    share = np.bincount(station, spheres.touched, count)
    line.touched[:] = share > 0.0
    ends = [spheres.open_front(), spheres.open_screen()]
    for mine, theirs in (
        (line.centre, spheres.centre), (line.front, spheres.front), (line.screen, spheres.screen)
    ):  # fmt: skip
        for axis in (0, 1, 2):
            total = np.bincount(station, np.where(spheres.touched, theirs[:, axis], 0.0), count)
            mine[:, axis] = total / np.maximum(share, 1.0)
    for flag, end in zip((line.front_end, line.screen_end), ends, strict=True):
        flag[:] = np.bincount(station, end & spheres.touched, count) > 0


def _cuts(stations: Array, tri: Array) -> tuple[Index, Array]:
    """Planes to cut in, rising, and the station of each; two where corners lie in one."""
    rising = np.argsort(stations, kind="stable")
    ends = np.append(stations[rising], np.inf)
    corners = tri[:, :, 1].reshape(-1)
    next_one = np.searchsorted(ends, corners - 2.0 * _NUDGE_MM)
    through = np.unique(rising[next_one[ends[next_one] <= corners + 2.0 * _NUDGE_MM]])
    level = stations.copy()
    level[through] -= _NUDGE_MM
    level = np.concatenate([level, stations[through] + _NUDGE_MM])
    station = np.concatenate([np.arange(len(stations)), through])
    order = np.argsort(level, kind="stable")
    return station[order], level[order]


class _Stretches:
    """What planes y = const cut from triangles, near spheres."""

    def __init__(
        self, tri: Array, screen: Pieces, level: Array, centre: Array, radius: float
    ) -> None:
        self.radius = radius
        y = tri[:, :, 1]
        first = np.searchsorted(level, y.min(axis=1), "right")
        last = np.searchsorted(level, y.max(axis=1), "right")
        which, row = ranges(first, last)
        for axis in (0, 2):
            low, high = (f(f(tri[:, 0, axis], tri[:, 1, axis]), tri[:, 2, axis]) for f in _BOTH)
            at = centre[row, axis]
            reached = np.maximum(low[which] - at, at - high[which]) <= radius + _NEAR_MM
            which, row = which[reached], row[reached]
        corner = tri[which]
        below = corner[:, :, 1] < level[row, None]
        low_one = below.sum(axis=1) == 1
        alone = np.where(low_one, below.argmax(axis=1), below.argmin(axis=1))
        index = np.arange(len(alone))
        a, b, c = (corner[index, (alone + i) % 3] for i in range(3))
        ends, edges, outs = [], [], []
        for other, third in ((b, c), (c, b)):
            # From the lower end up, so that both triangles at an edge find the same bits.
            lower = np.where(low_one[:, None], a, other)
            step = np.where(low_one[:, None], other, a) - lower
            part = (level[row] - lower[:, 1]) / step[:, 1]
            at = lower + part[:, None] * step
            at[:, 1] = level[row]
            edge = unit(step)
            off = a - third
            ends.append(at)
            edges.append(edge)
            outs.append(unit(off - dot(off, edge)[:, None] * edge))
        gap = nearest_on_edge(ends[0], ends[1], centre[row]) - centre[row]
        near = np.flatnonzero(dot(gap, gap) <= (radius + _NEAR_MM) ** 2)
        self.row = row[near]
        self.ends = np.stack(ends)[:, near]  # (2, n, 3)
        normal = unit(cross((b - a)[near], (c - a)[near]))
        down = dot(centre[self.row] - self.ends[0], normal) < 0.0
        self.normal = np.where(down[:, None], -normal, normal)
        self.edge, self.out = np.stack(edges)[:, near], np.stack(outs)[:, near]
        # An edge of the windscreen too is met with it, and is no second contact.
        of_both = held_by(np.stack([a[near], b[near], c[near]]), screen.corners)
        self.seam = np.concatenate([of_both[0] & of_both[1], of_both[0] & of_both[2]])
        self.mate = self._mates()  # (2n,) the same crossing of the neighbour, or -1
        both = np.tile(self.normal, (2, 1))
        self.sharp = (self.mate < 0) | (dot(both, both[self.mate]) < _SHARP)

    def _mates(self) -> Index:
        """Find the crossings that two triangles share, to the last bit."""
        x, z = self.ends[..., 0].ravel(), self.ends[..., 2].ravel()
        row = np.tile(self.row, 2)
        order = np.lexsort((z, x, row))
        same = (np.diff(row[order]) == 0) & (np.diff(x[order]) == 0) & (np.diff(z[order]) == 0)
        start = np.flatnonzero(~np.concatenate([[False], same]))
        place = np.arange(len(order)) - np.repeat(start, np.diff(start, append=len(order)))
        lead = np.flatnonzero(np.append(same, False) & (place % 2 == 0))
        mate = np.full(len(order), -1)
        mate[order[lead]], mate[order[lead + 1]] = order[lead + 1], order[lead]
        return mate

    def touch(
        self, wanted: Mask, through: Array, square: Array, up: Array
    ) -> tuple[Index, Array, Array, Mask]:
        """Highest spheres on planes and a stretch: rows, contacts, normals, if at a free end."""
        # The planes go through points (q, 3), square to (q, 3).
        radius = self.radius
        mine = np.flatnonzero(wanted[self.row])
        row = self.row[mine]
        away = np.full((2, len(self.row)), np.nan)
        for i in (0, 1):
            at = self.ends[i, mine] + radius * self.normal[mine] - through[row]
            away[i, mine] = dot(at, square[row]) - radius
        off = away[:, mine]
        fall = off[0] - off[1]
        part = off[0] / np.where(fall == 0.0, 1.0, fall)
        met = (fall != 0.0) & (part >= -_SLACK) & (part <= 1.0 + _SLACK)
        part = np.clip(part[met], 0.0, 1.0)[:, None]
        a, b = self.ends[0, mine[met]], self.ends[1, mine[met]]
        rows, points, normals = [row[met]], [a + part * (b - a)], [self.normal[mine[met]]]
        frees = [np.zeros(len(part), dtype=bool)]
        # Round a blunt edge a sphere turns from one side of the plane to the other, or not at all.
        each = away.reshape(-1)
        turns = ~self.seam & (self.sharp | (each * each[self.mate] <= 0.0))
        pick = np.flatnonzero(turns & ~np.isnan(each))
        row = self.row[pick % len(self.row)]
        at, edge, out = (v.reshape(-1, 3)[pick] for v in (self.ends, self.edge, self.out))
        mate = self.mate[pick]
        other = np.where((mate < 0)[:, None], out, self.out.reshape(-1, 3)[mate])
        g = square[row]
        lean = dot(g, edge)
        share = 1.0 - lean * lean
        cosine = 1.0 - dot(at - through[row], g) / radius
        left = share - cosine * cosine
        possible = (left >= 0.0) & (share > 0.0)
        safe = np.where(possible, share, 1.0)
        along = (cosine / safe)[:, None] * (g - lean[:, None] * edge)
        across = (np.sqrt(np.maximum(left, 0.0)) / safe)[:, None] * cross(edge, g)
        for normal in (along + across, along - across):
            turned = possible & (dot(normal, out) >= -_SLACK) & (dot(normal, other) >= -_SLACK)
            rows.append(row[turned])
            points.append(at[turned])
            normals.append(normal[turned])
            frees.append(mate[turned] < 0)
        row, point = np.concatenate(rows), np.concatenate(points)
        normal, free = np.concatenate(normals), np.concatenate(frees)
        height = dot(point + radius * normal, up[row])
        order = np.lexsort((height, row))
        best = order[np.flatnonzero(np.diff(row[order], append=-1))]
        return row[best], point[best], normal[best], free[best]


class _Spheres:
    """Spheres at rest, one a plane."""

    def __init__(
        self, level: Array, rough: Start, on_front: Pieces, on_screen: Pieces, radius: float
    ) -> None:
        self.level, self.radius = level, radius
        self.on_front, self.on_screen = on_front, on_screen
        centre, across = rough.centre, rough.aim(level)
        x, z = (np.interp(across, centre[:, 1], centre[:, i]) for i in (0, 2))
        self.centre = np.stack([x, across, z], axis=1)
        self.rough = self.centre.copy()
        nearest = np.abs(across[:, None] - centre[:, 1]).argmin(axis=1)
        self.near = np.abs(across - centre[nearest, 1]) <= radius
        self.square = unit(centre - rough.screen)[nearest]
        self.front, self.screen = np.zeros((2, *self.centre.shape))
        self.touched, self.free = np.zeros((2, len(level)), dtype=bool)

    def settle(self, stretches: _Stretches) -> None:
        """Let every sphere touch the plane at its windscreen and a stretch, until all is still."""
        radius = self.radius
        glass = Nearest(self.on_screen, len(self.level), radius, _MARGINS_MM)
        through = self.centre - radius * self.square
        up = np.tile([0.0, 0.0, 1.0], (len(self.level), 1))
        moving = self.near.copy()
        for _ in range(_ROUNDS):
            rows, point, normal, free = stretches.touch(moving, through, self.square, up)
            if not len(rows):
                break
            self.centre[rows] = point + radius * normal
            self.front[rows], self.free[rows], up[rows] = point, free, normal
            glass.move(rows, self.centre[rows])
            seen = rows[np.isfinite(glass.best[rows]) & (glass.best[rows] > 0.0)]
            through[seen] = glass.foot[seen]
            self.square[seen] = (self.centre[seen] - glass.foot[seen]) / glass.best[seen, None]
            still = np.abs(glass.best[seen] - radius) <= _CLOSE_MM
            self.touched[seen[still]] = True
            moving[:] = False
            moving[seen[~still]] = True
        self.screen = through

    def bridge(self) -> None:
        """Where a sphere cuts into the front structure, rest it on both sides of its plane."""
        rows = np.flatnonzero(self.touched)
        pair, _, gap = self._gaps(self.on_front, self.centre[rows], 0.0)
        _, least = _least(len(rows), pair, np.zeros((len(pair), 3)), gap)
        depth = np.zeros(len(self.level))
        depth[rows] = np.maximum(self.radius - least, 0.0)
        self.touched &= depth <= _CUT_MM
        # The two places lie no farther apart than the sphere cuts in, but for a bend.
        shallow = np.flatnonzero((depth > _CUT_MM) & (depth < _DEEP_MM))
        if len(shallow):
            places = (self.centre, self.front, self.screen, self.free)
            settled = [place[shallow] for place in places]
            leash = 4.0 * np.sqrt(2.0 * self.radius * depth[shallow])
            self._between(shallow, leash)
            off = self.centre[shallow] - settled[0]
            strayed = ~self.touched[shallow] | (dot(off, off) > leash * leash)
            again = shallow[strayed]
            for place, kept in zip(places, settled, strict=True):
                place[again] = kept[strayed]
            self.touched[again] = depth[again] <= SLIGHT_MM
        lost = np.flatnonzero(self.near & ~self.touched)
        self.centre[lost] = self.rough[lost]
        self._between(lost, np.full(len(lost), _STEP_MM))

    def _between(self, rows: Index, longest: Array) -> None:
        """Rest spheres on the windscreen and on both sides of their planes, by Newton's method."""
        for i in range(_ROUNDS):
            if not len(rows):
                break
            at = self.centre[rows]
            glass = _least(len(rows), *self._gaps(self.on_screen, at, _REACH_MM))
            pair, foot, gap = self._gaps(self.on_front, at, _REACH_MM)
            apart = foot - glass[0][pair]
            own = dot(apart, apart) > _SEAM_MM**2
            left = foot[:, 1] <= self.level[rows[pair]]
            both = [_least(len(rows), pair[s], foot[s], gap[s]) for s in (left & own, own & ~left)]
            both.append(glass)
            feet, gaps = (np.stack(v, axis=1) for v in zip(*both, strict=True))
            seen = np.isfinite(gaps).all(axis=1) & (gaps > 0.0).all(axis=1)
            rows, at, feet, gaps = rows[seen], at[seen], feet[seen], gaps[seen]
            longest = longest[seen]
            off = self.radius - gaps
            step = (np.linalg.pinv((at[:, None] - feet) / gaps[..., None]) @ off[..., None])[..., 0]
            step *= np.minimum(1.0, longest / np.maximum(np.sqrt(dot(step, step)), longest))[
                :, None
            ]
            still = np.abs(off).max(axis=1) <= 10.0 * _CLOSE_MM
            # A shorter step now and then leaves the circles that bends lead into.
            self.centre[rows[~still]] += (0.4 if i % 3 == 2 else 1.0) * step[~still]
            done, (a, b, screen) = rows[still], feet[still].swapaxes(0, 1)
            part = (self.level[done] - a[:, 1]) / np.maximum(b[:, 1] - a[:, 1], _NUDGE_MM)
            self.front[done] = a + np.clip(part, 0.0, 1.0)[:, None] * (b - a)
            self.screen[done], self.touched[done], self.free[done] = screen, True, False
            rows, longest = rows[~still], longest[~still]

    def _gaps(self, pieces: Pieces, at: Array, margin: float) -> tuple[Index, Array, Array]:
        """Rows, nearest points and distances of all pieces close to touching spheres there."""
        pair, item = pieces.within(at, np.full(len(at), self.radius + margin))
        foot = nearest_on(pieces.corners[item], at[pair])
        gap = foot - at[pair]
        return pair, foot, np.sqrt(dot(gap, gap))

    def open_front(self) -> Mask:
        """Contacts on a free end of a stretch round which the surfaces do not close."""
        rows = np.flatnonzero(self.touched & self.free)
        return self._open(rows, self.front)

    def open_screen(self) -> Mask:
        """Contacts on the windscreen round which the surfaces do not close."""
        return self._open(np.flatnonzero(self.touched), self.screen)

    def _open(self, rows: Index, at: Array) -> Mask:
        """Those of some rows round whose points the pieces leave more open than a fold does."""
        angle = np.zeros(len(rows))
        for pieces in (self.on_front, self.on_screen):
            pair, tri = pieces.holding(at[rows])
            angle += np.bincount(pair, _angle(tri, at[rows[pair]]), len(rows))
        result = np.zeros(len(self.touched), dtype=bool)
        result[rows[angle < _OPEN]] = True
        return result


def _angle(tri: Array, at: Array) -> Array:
    """Angle [rad] that triangles take up round points on them: all, half, or that of a corner."""
    off = tri - at[:, None]
    length = np.sqrt(dot(off, off))
    on_edge, on_corner = np.zeros(len(tri), dtype=bool), np.zeros(len(tri))
    for i in (0, 1, 2):
        a, b, c = tri[:, i], tri[:, (i + 1) % 3], tri[:, (i + 2) % 3]
        gap = nearest_on_edge(a, b, at) - at
        on_edge |= dot(gap, gap) <= TOUCH_MM**2
        cosine = np.clip(dot(unit(b - a), unit(c - a)), -1.0, 1.0)
        on_corner = np.where(length[:, i] <= TOUCH_MM, np.arccos(cosine), on_corner)
    return np.where(on_corner > 0.0, on_corner, np.where(on_edge, np.pi, 2.0 * np.pi))


def _least(count: int, pair: Index, foot: Array, gap: Array) -> tuple[Array, Array]:
    """Nearest of the points of every row, and its distance; inf where there is none."""
    order = np.lexsort((gap, pair))
    lead = order[np.flatnonzero(np.diff(pair[order], prepend=-1))]
    feet, gaps = np.zeros((count, 3)), np.full(count, np.inf)
    feet[pair[lead]], gaps[pair[lead]] = foot[lead], gap[lead]
    return feet, gaps

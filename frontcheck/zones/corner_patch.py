"""The bonnet beside the rear corner laid out flat, as a sheet that does not stretch lies on it.

Readings
--------
The template is thin sheet that bends to a single curvature and takes no wrinkles (UN R127 02
series, 2.8, text read), so lengths on it are lengths on the bonnet. On a bonnet of single
curvature the flat layout keeps every length; on one of double curvature, which no sheet follows
without some play, it keeps them as well as can be, by least squares.

Glossary
--------
depth
    Length along the surface in a transverse plane, inboard from SRL.
net
    Rows of nodes from the front to BRRL, columns at equal depth; beside the end of BRRL a strip
    of it goes on rearward along SRL.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from frontcheck.geometry.polyline import points_at

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index

_AHEAD: Final = 3.5
_BEHIND: Final = 1.0
_INBOARD: Final = 1.2
"""Radii that the patch reaches from the end of BRRL and from SRL. The template touches a line
swept by less than half of its middle arc, so its ends lie less than 3 radii ahead of that and 1
behind, and its arc 1 inboard of SRL."""
_NODES: Final = 11.0
"""Nodes to a radius: some 18 mm apart for the first templates. Own choice: on a plan radius of 3 m
the lines between nodes then lie 0.015 mm off."""
_PLANES: Final = 40.0
_DEPTHS: Final = 111
"""Planes to a radius and places in each from which nodes are read. Own choice: 2.5 and 1.1 mm apart
for a radius of 100 mm, finer than nodes stand."""
_STRIP: Final = 2
_STEEP: Final = 0.3
"""Rows of nodes at least beyond BRRL, and slopes against a chord beyond which no cubic is taken:
own choice, for panels bend by less from node to node."""
_ROUNDS: Final = 12
_STILL_MM: Final = 1e-6
_WRINKLED: Final = 0.02
"""A patch whose lengths change by more than 2 % (root mean square) is none that a sheet follows.
Own choice: grooves and ledges of 5 mm stay below; a sphere of 300 mm radius has 0.6 %."""
_OFF: Final = 0.05
"""Share of a cell that places may lie beyond the net: its edge is straight from node to node."""


class Tops(Protocol):
    """Sections side by side, from left to right."""

    @property
    def y(self) -> Array:
        """Where they are cut, increasing [mm]."""

    def tops_at(self, x: Array) -> Array:
        """Height of every section at setbacks, (m, k)."""


@dataclass(frozen=True, eq=False)
class _Planes:
    """Places of the surface in transverse planes, by their depth."""

    x: Array  # (l,) where the planes stand, increasing [mm]
    y: Array  # (k,) the sections on this side [mm]
    arcs: Array  # (l, k) depth where every plane meets every section [mm]
    depth: Array  # (q,) of the places, from 0 [mm]
    places: Array  # (l, q, 3) not a number beyond the surface [mm]

    @classmethod
    def of(cls, tops: Tops, side: Array, x: Array, depth: float) -> _Planes:
        """Lay depths off inboard from SRL, points (k, 3) from front to rear."""
        srl = points_at(side[:, 1:], side[:, 0], x)
        y = tops.y[tops.y >= 0.0][::-1]
        z = tops.tops_at(x)[tops.y >= 0.0][::-1].T
        out = y >= srl[:, :1] - 1e-9
        rows = np.stack([np.where(out, srl[:, :1], y), np.where(out, srl[:, 1:], z)], axis=-1)
        rows = np.concatenate([srl[:, None], rows], axis=1)
        step = np.diff(rows, axis=1)
        arcs = np.cumsum(np.hypot(step[..., 0], step[..., 1]), axis=1)
        at = np.linspace(0.0, depth, _DEPTHS)
        places = np.empty((len(x), len(at), 3))
        places[..., 0] = x[:, None]
        for plane, row, arc in zip(places, rows, arcs, strict=True):
            known = int(np.count_nonzero(~np.isnan(arc))) + 1
            along = np.concatenate([[0.0], arc])[:known]
            plane[:, 1:] = points_at(row[:known], along, at)
            plane[at > along[-1] + 1e-9, 1:] = np.nan
        return cls(x, y, arcs, at, places)

    def reach(self) -> Array:
        """How deep the surface goes in every plane."""
        known = np.count_nonzero(~np.isnan(self.places[..., 1]), axis=1)
        return np.asarray(self.depth[known - 1])

    def depth_of(self, points: Array) -> Array:
        """Depth of points (k, 3) of the surface."""
        return _between(self.x, -self.y, self.arcs[..., None], points[:, 0], -points[:, 1])[:, 0]

    def at(self, x: Array, depth: Array) -> Array:
        """Places (k, 3) at setbacks and depths."""
        return _between(self.x, self.depth, self.places, x, depth)


def _between(first: Array, second: Array, values: Array, a: Array, b: Array) -> Array:
    """Values (m, n, c) of a grid at places between its lines, linear both ways."""
    i = np.clip(np.searchsorted(first, a, side="right") - 1, 0, len(first) - 2)
    j = np.clip(np.searchsorted(second, b, side="right") - 1, 0, len(second) - 2)
    s = ((a - first[i]) / (first[i + 1] - first[i]))[:, None]
    t = ((b - second[j]) / (second[j + 1] - second[j]))[:, None]
    # A place on a line needs that line only.
    near, far = (
        np.where(t == 0.0, values[k, j], (1.0 - t) * values[k, j] + t * values[k, j + 1])
        for k in (i, i + 1)
    )
    return np.where(s == 0.0, near, (1.0 - s) * near + s * far)


@dataclass(frozen=True, eq=False)
class CornerPatch:
    """The bonnet beside the rear corner on the right, laid out flat."""

    planes: _Planes
    place: Array  # (n, 2) setback and depth of every node [mm]
    flat: Array  # (n, 2) where the nodes lie in the flat layout [mm]
    triangles: Index  # (t, 3) between nodes
    side: Array  # (k, 2) SRL in the flat layout, from front to rear
    rear: Array  # (k, 2) BRRL in it, going outward
    strain: float  # How much lengths change, root mean square

    @property
    def wrinkled(self) -> bool:
        """Whether a sheet cannot follow the bonnet there."""
        return self.strain > _WRINKLED

    @classmethod
    def of(cls, tops: Tops, rear: Array, side: Array, radius: float) -> CornerPatch | None:
        """Lay out what templates up to a radius may lie on; None where there is no surface."""
        # Points (k, 3) of BRRL going outward, and of SRL from front to rear.
        end = float(rear[-1, 0])
        low, high = max(end - _AHEAD * radius, side[0, 0]), min(end + _BEHIND * radius, side[-1, 0])
        if not low < end < high:
            return None
        x = np.linspace(low, high, math.ceil((high - low) * _PLANES / radius) + 1)
        planes = _Planes.of(tops, side, x, _INBOARD * radius)
        deep = planes.depth_of(rear)[::-1]
        inner = np.isnan(deep) | (rear[::-1, 0] < low)
        deep = np.maximum.accumulate(deep[: int(inner.argmax()) if inner.any() else len(deep)])
        reach = planes.reach()
        near = (x >= end - 2.0 * radius) & (x <= end)
        depth = min(_INBOARD * radius, deep[-1:].max(initial=0.0), reach[near].min(initial=np.inf))
        if len(deep) < 2 or not 0.0 < deep[0] < depth:
            return None
        gap, step = float(deep[0]), radius / _NODES
        columns = np.concatenate(
            [
                np.linspace(0.0, gap, max(round(gap / step), 1) + 1),
                np.linspace(gap, depth, max(round((depth - gap) / step), 1) + 1)[1:],
            ]
        )
        brrl = np.interp(columns, deep, rear[::-1, 0][: len(deep)])
        strip = min(max(round(gap / step), _STRIP), len(columns) - 1) + 1
        # Ahead of the last plane in which the surface ends too early, and behind the first.
        short = np.flatnonzero((reach < depth - 1e-9) & (x < brrl.min()))
        low = float(x[short[-1] + 1]) if len(short) else low
        ended = np.flatnonzero((reach < columns[strip - 1]) & (x > end))
        high = float(x[ended[0] - 1]) if len(ended) else high
        if not (low < brrl.min() - step and high > brrl[:strip].max()):
            return None
        shares = np.linspace(0.0, 1.0, math.ceil((end - low) / step) + 1)[:, None]
        more = np.linspace(0.0, 1.0, math.ceil((high - end) / step) + 1)[1:, None]
        setback = np.concatenate([low + shares * (brrl - low), brrl + more * (high - brrl)])
        number = np.full(setback.shape, -1)
        held = np.ones(setback.shape, dtype=bool)
        held[len(shares) :, strip:] = False
        number[held] = np.arange(np.count_nonzero(held))
        place = np.stack([setback, np.broadcast_to(columns, setback.shape)], axis=-1)[held]
        nodes = planes.at(*place.T)
        if np.isnan(nodes).any():
            return None
        a, b, c, d = (n.ravel() for n in (number[:-1, :-1], number[:-1, 1:],
                                          number[1:, :-1], number[1:, 1:]))  # fmt: skip
        whole = np.minimum(np.minimum(a, b), np.minimum(c, d)) >= 0
        a, b, c, d = (n[whole] for n in (a, b, c, d))
        edges = np.unique(np.concatenate([np.stack(pair, axis=1) for pair in (
            (a, b), (c, d), (a, c), (b, d), (a, d), (b, c))]), axis=0)  # fmt: skip
        length = _lengths(nodes, edges, _normals(nodes, a, b, c, d))
        flat, strain = _laid_flat(nodes, edges, length)
        triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)])
        within = np.append(deep[deep < depth], depth)
        setbacks = np.interp(within, deep, rear[::-1, 0][: len(deep)])
        known = np.stack([setbacks, within], axis=1)[::-1]
        line = _carried(known, place, flat, triangles)[0]
        return cls(planes, place, flat, triangles, flat[number[:, 0]], line, strain)

    def up(self, points: Array) -> Array | None:
        """Points (k, 3) of the bonnet that points of the flat layout lie on; None off it."""
        place, share = _carried(points, self.flat, self.place, self.triangles)
        if share.min() < -_OFF:
            return None
        found = self.planes.at(*place.T)
        return None if np.isnan(found).any() else found


def _carried(points: Array, one: Array, other: Array, triangles: Index) -> tuple[Array, Array]:
    """Points (k, 2) carried from one layout of the nodes to another, and how far within a net."""
    # By the triangle that holds a point, or comes nearest to it.
    a, b, c = (one[triangles[:, i]] for i in range(3))
    to = points[:, None] - a
    area = _cross(b - a, c - a)
    v, w = _cross(to, c - a) / area, _cross(b - a, to) / area
    share = np.stack([1.0 - v - w, v, w], axis=-1)
    own = share.min(axis=-1)
    each, best = np.arange(len(points)), own.argmax(axis=1)
    out: Array = (share[each, best][..., None] * other[triangles[best]]).sum(axis=1)
    return out, own[each, best]


def _cross(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _normals(nodes: Array, *cell: Index) -> Array:
    """Unit normals of the surface at the nodes, the mean of the cells about each."""
    a, b, c, d = (nodes[corner] for corner in cell)
    own = np.cross(d - a, c - b)
    out = np.zeros_like(nodes)
    for corner in cell:
        np.add.at(out, corner, own)
    out /= np.linalg.norm(out, axis=1)[:, None]
    return out


def _lengths(nodes: Array, edges: Index, normals: Array) -> Array:
    """Lengths on the surface between nodes, which bends from normal to normal."""
    step = nodes[edges[:, 1]] - nodes[edges[:, 0]]
    chord = np.asarray(np.linalg.norm(step, axis=1))
    # Length of the cubic with those slopes over its chord, to the square of the slopes.
    m, n = (
        np.clip((step * normals[edges[:, i]]).sum(axis=1) / chord, -_STEEP, _STEEP) for i in (0, 1)
    )
    return np.asarray(chord * (1.0 + (2.0 * m * m + 2.0 * n * n - m * n) / 30.0))


def _laid_flat(nodes: Array, edges: Index, length: Array) -> tuple[Array, float]:
    """Lay nodes (n, 3) out flat with given lengths between them, by Gauss and Newton."""
    from scipy.linalg import solveh_banded  # here and not above: the command line must start fast

    # From the mean plane of the nodes.
    off = nodes - nodes.mean(axis=0)
    normal = np.linalg.eigh(off.T @ off)[1][:, 0]
    along = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
    along /= np.linalg.norm(along)
    flat = off @ np.stack([along, np.cross(normal, along)]).T
    first, second = edges.T
    unknown = np.stack([2 * first, 2 * first + 1, 2 * second, 2 * second + 1], axis=1)
    i, j = np.broadcast_arrays(unknown[:, :, None], unknown[:, None, :])
    upper, count = i <= j, 2 * len(nodes)
    band = int((j - i).max())
    cell = ((band + i - j) * count + j)[upper]
    for _ in range(_ROUNDS):
        step = flat[second] - flat[first]
        own = np.hypot(*step.T)
        unit = step / own[:, None]
        slope = np.concatenate([-unit, unit], axis=1)
        square = (slope[:, :, None] * slope[:, None, :])[upper]
        matrix = np.bincount(cell, square, (band + 1) * count).reshape(band + 1, count)
        # Held by a hair, for the layout as a whole may lie anywhere.
        matrix[band] += 1e-9
        pull = np.bincount(unknown.ravel(), (slope * (length - own)[:, None]).ravel(), count)
        move = solveh_banded(matrix, pull, overwrite_ab=True, check_finite=False).reshape(-1, 2)
        flat = flat + move
        if np.abs(move).max() <= _STILL_MM:
            break
    own = np.hypot(*(flat[second] - flat[first]).T)
    return flat, float(np.sqrt(np.mean((own / length - 1.0) ** 2)))

"""The measuring tools of one station where they stand: straight edges, sphere, taut tape.

Asked of the lines they formed, so that nobody works a contact out again to draw it; worked out
when somebody looks, as few of the stations of a mesh are ever drawn.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from frontcheck.geometry.polyline import taut_strings
from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.lines.bumper_lines import bumper_of, lower_edge, upper_edge
from frontcheck.serializer import one_line
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.geometry.tape import TapePoint, TautTape
    from frontcheck.lines.line_values import LineValues
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section

Xz: TypeAlias = tuple[float, float]
Xyz: TypeAlias = tuple[float, float, float]

_ON_MM: Final = 1e-6  # Points this close to the tape lie on it: rounding
_HOLLOW_MM: Final = 0.5
"""Hollows shallower than this are not told of: own choice, below what a hand measurement shows."""
_CUT_MM: Final = 0.5
"""How far the body must stand ahead of an edge before the edge counts as shortened: own choice, as
above."""


@one_line
@dataclass(frozen=True)
class EdgePose:
    """A straight edge where it touches."""

    length: float  # Its length [mm]
    lean_deg: float  # Its lean from vertical [deg], positive rearward
    foot: Xz  # Its lower end [mm]
    tip: Xz  # Its upper end [mm]
    used: tuple[Xz, Xz]  # Ends of the part in whose way nothing of the body stands [mm]
    shortened: bool  # Whether part of the edge would stand in the body


@one_line
@dataclass(frozen=True)
class SpherePose:
    """A sphere where it rests in space."""

    centre: Xyz  # [mm]
    radius: float  # Radius [mm]
    surface: Xyz  # Where it touches the front structure, in the plane of the section [mm]
    windscreen: Xyz  # Where it touches the windscreen [mm]
    cut: float  # Radius of the circle in which the plane of the section cuts it [mm]


@one_line
@dataclass(frozen=True)
class TapePath:
    """The way of the taut tape to one mark."""

    points: tuple[Xz, ...]  # From the ground to the mark [mm]
    spans: tuple[tuple[Xz, Xz], ...]  # Stretches in the air over a hollow [mm]
    along: Xz  # Unit vector along the contour at the mark
    hollow: float  # Depth of the hollow across which the tape comes to the mark [mm]


def bumper_edge(prefix: str, section: Section, at: Xz, rules: RuleSet) -> EdgePose:
    """Pose of the edge that formed UBRL (``ubrl``) or LBRL (``lbrl``)."""
    length = rules.value(f"{prefix}.edge_length_mm")
    edge = lower_edge(rules)
    if prefix == "ubrl":
        edge = upper_edge(
            rules, labelled=bool(bumper_of(Contours.of([section]), rules).labelled[0])
        )
    if not math.isfinite(edge.high):
        # The rules do not say where such an edge is held: taken with its middle at the touch.
        low = max(at[1] - length * math.cos(math.radians(edge.lean_deg)) / 2.0, 0.0)
        edge = StraightEdge.standing(length, edge.lean_deg, low)
    return _edge(section.points, edge, length, at)


def leading_edge(section: Section, at: Xz, lean_deg: float, rules: RuleSet) -> EdgePose:
    """Pose of the edge that formed BLERL, from where it touches."""
    length = rules.value("blerl.edge_length_mm")
    edge = StraightEdge.standing(length, lean_deg, rules.value("blerl.foot_height_mm"))
    return _edge(section.points, edge, length, at)


def _edge(points: Array, edge: StraightEdge, length: float, at: Xz) -> EdgePose:
    foot = float(edge.gap(np.array(at[0]), np.array(at[1])))

    def place(z: float) -> Xz:
        return foot + (z - edge.low) * edge.slope, z

    low, high = _used(points, edge, foot, at[1])
    return EdgePose(
        length,
        edge.lean_deg,
        foot=place(edge.low),
        tip=place(edge.high),
        used=(place(low), place(high)),
        shortened=(low, high) != (edge.low, edge.high),
    )


def _used(points: Array, edge: StraightEdge, foot: float, z: float) -> Xz:
    """Heights of the edge up to where the body stands ahead of it, either way from z."""
    tall = np.maximum(points[1:, 1], points[:-1, 1]) > edge.low
    reached = tall & (np.minimum(points[1:, 1], points[:-1, 1]) < edge.high)
    ahead_of = edge.gap(points[:, 0], points[:, 1]) - foot
    if np.minimum(ahead_of[1:], ahead_of[:-1])[reached].min(initial=0.0) >= -_CUT_MM:
        return edge.low, edge.high  # of no stretch within reach is either end ahead
    rising = np.where((points[1:, 1] < points[:-1, 1])[:, None, None], 1, 0)
    ends = np.stack([points[:-1], points[1:]], axis=1)
    lower = np.take_along_axis(ends, rising, axis=1)[:, 0]
    upper = np.take_along_axis(ends, 1 - rising, axis=1)[:, 0]
    here = (upper[:, 1] > edge.low) & (lower[:, 1] < edge.high) & (upper[:, 1] != lower[:, 1])
    ends, lower, upper = ends[here], lower[here], upper[here]
    # Every stretch as far as the edge reaches, and how far it stands behind the edge there.
    heights = np.clip(ends[..., 1], edge.low, edge.high)
    slope = (upper[:, 0] - lower[:, 0]) / (upper[:, 1] - lower[:, 1])
    x = slope[:, None] * (heights - lower[:, 1:]) + lower[:, :1]
    x = np.where(heights == upper[:, 1:], upper[:, :1], x)
    gap = edge.gap(x, heights) - foot
    ahead = gap.min(axis=1) < -_CUT_MM
    heights, gap = heights[ahead], gap[ahead]
    # Heights at which it stands ahead: cut off where it crosses the edge.
    crosses = gap.max(axis=1) > 0.0
    h, g = heights[crosses], gap[crosses]
    crossing = h[:, 0] + g[:, 0] / (g[:, 0] - g[:, 1]) * (h[:, 1] - h[:, 0])
    heights[crosses, 0], heights[crosses, 1] = (crossing, h[np.arange(len(h)), g.argmin(axis=1)])
    bottom, top = heights.min(axis=1), heights.max(axis=1)
    above = top > z
    return (
        float(top[~above].max(initial=edge.low)),
        float(np.maximum(bottom[above], z).min(initial=edge.high)),
    )


@dataclass(frozen=True, eq=False)
class Tools:
    """The tools that formed the lines of one contour of a batch."""

    section: Section
    batch: LineBatch
    i: int
    rules: RuleSet
    tape: TautTape | None = None  # Where the contour is not plain

    def pose(self, line: str) -> EdgePose | SpherePose:
        """Pose of the tool that formed a line."""
        batch, i = self.batch, self.i
        if line == "BRRL":
            return self._sphere()
        if line == "BLERL":
            # Where the line is a WAD point, the edge still stands where its end touches.
            x, z = batch.edge_touch[i].tolist()
            return leading_edge(self.section, (x, z), float(batch.edge_angle_deg[i]), self.rules)
        values: LineValues = getattr(batch, line)
        at = float(values.x[i]), float(values.z[i])
        return bumper_edge(line.lower(), self.section, at, self.rules)

    def _sphere(self) -> SpherePose:
        x0, y0, z0, x1, _, z1, x2, y2, z2 = self.batch.sphere[self.i].tolist()
        radius = self.rules.value("brrl.sphere_diameter_mm") / 2.0
        # Through the contact: at an edge between facets the centre is the mean of either side's.
        cut = math.hypot(x0 - x1, z0 - z1)
        touched = x1, self.section.y, z1
        return SpherePose((x0, y0, z0), radius, touched, (x2, y2, z2), cut)

    def further(self, j: int) -> tuple[Xz, ...]:
        """Further points at a distance, where it is not monotone along the contour."""
        if self.tape is None or not self.batch.WAD.again[self.i].any():
            return ()
        return tuple((point.x, point.z) for point in self._solved[j][1:])

    def path(self, j: int) -> TapePath:
        """Way of the tape to the mark at one of the distances."""
        contour = self.section.points
        at, stretch, bridged = self._mark(j)
        if self.tape is None:
            bends = self._bends[j]
        else:
            way = self.tape.path_of(self._solved[j][0].way)
            bends = [bend for bend in way if 0 <= bend < len(contour)]
        stand = float(self.batch.anchor_x[self.i])
        return tape_path(contour, stand, bends, at, stretch, bridged=bridged)

    def _mark(self, j: int) -> tuple[Xz, int, bool]:
        marks, i = self.batch.WAD, self.i
        at = float(marks.x[i, j]), float(marks.z[i, j])
        return at, int(marks.stretch[i, j]), bool(marks.bridged[i, j])

    @cached_property
    def _solved(self) -> list[tuple[TapePoint, ...]]:
        assert self.tape is not None
        return [
            tuple(self.tape.solve(distance)) if reached else ()
            for distance, reached in zip(
                self.batch.distances, self.batch.WAD.reached[self.i], strict=True
            )
        ]

    @cached_property
    def _bends(self) -> dict[int, list[int]]:
        """Bends on the way to every mark: one walk for all."""
        batch, i = self.batch, self.i
        there = np.flatnonzero(batch.WAD.reached[i]).tolist()
        ends = [self._mark(j)[1::-1] for j in there]
        start = int(batch.anchor.start[i])
        ways = bends_over(self.section.points, float(batch.anchor_x[i]), start, ends)
        return dict(zip(there, ways, strict=True))


def tape_path(
    contour: Array, tape_x: float, bends: Sequence[int], mark: Xz, stretch: int, *, bridged: bool
) -> TapePath:
    """Way of a taut tape to one mark on a stretch, over the contour points on which it bends."""
    over = [(a, b) if a < b else (b, a) for a, b in itertools.pairwise(bends)]
    legs = [contour[a : b + 1] for a, b in over]
    # On its way to the mark, its last point, the tape passes what lies before that.
    for end in bends[-1:]:
        passed = contour[end : stretch + 1] if end <= stretch else contour[end:stretch:-1]
        legs.append(np.append(passed, [mark], axis=0))
    spans = [part for leg in legs for part in _parts(leg)]
    hollow = _depth(spans[-1]) if bridged else 0.0
    step = contour[stretch + 1] - contour[stretch]
    along = step / np.hypot(*step)
    return TapePath(
        ((tape_x, 0.0), *[_xz(contour[i]) for i in bends], mark),
        tuple((_xz(span[0]), _xz(span[-1])) for span in spans if _depth(span) >= _HOLLOW_MM),
        _xz(along),
        hollow,
    )


def _parts(leg: Array) -> list[Array]:
    """Cut a run of points where it comes back to the line between its ends."""
    cuts = [0, *(np.flatnonzero(_off(leg)[1:-1] <= _ON_MM) + 1).tolist(), len(leg) - 1]
    return [leg[a : b + 1] for a, b in itertools.pairwise(cuts)]


def bends_over(
    contour: Array, tape_x: float, start: int, marks: Sequence[tuple[int, Xz]]
) -> list[list[int]]:
    """Bends of the tape to marks (stretch, place) where the contour rises, then runs rearward."""
    last = max((stretch for stretch, _ in marks), default=start)
    row = np.concatenate([[(tape_x, 0.0)], contour[start : last + 1]])
    ends = [(stretch - start + 2, *at) for stretch, at in marks]
    return [[start + i - 1 for i in bends] for bends in taut_strings(row, ends, -1.0)]


def _xz(point: Array) -> Xz:
    return float(point[0]), float(point[1])


def _depth(span: Array) -> float:
    """Greatest distance of a run of points from the line between its ends."""
    return float(_off(span).max())


def _off(span: Array) -> Array:
    """Distances (n,) of a run of points from the line between its ends."""
    chord, off = span[-1] - span[0], span - span[0]
    length = np.hypot(*chord)
    across = np.abs(chord[0] * off[:, 1] - chord[1] * off[:, 0])
    return np.asarray(across / (length if length > 0.0 else 1.0))

"""Corners of the bumper: by the vertical plane, and by the corner gauge.

Both work on the right side; the left is the right side of the facets seen in a mirror.

Readings
--------
bumper
    Facets labelled as the parts that UN R127 02 series, 2.11 (text read) names: the front, lower,
    outer structure with its attachments. Where nothing is labelled bumper, every facet but those
    of the underside, the plane then meets them up to the height that the tape hangs from.
plane
    The vertical plane touches the bumper from outside; of several touches the outermost counts.
gauge
    The gauge is a flat rectangle standing upright, square to the ground, its face at 60 deg to
    the longitudinal plane. At every height of its centre between the bounds that LBRL and UBRL
    set at the place of the touch, it is moved inward, square to its face, until it touches. The
    touch counts when it is on the vertical centreline and not on the top or bottom edge. The
    corner is the outermost touch that counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.facet_cuts import cut_facets, goes_on, smooth_places, spans
from frontcheck.geometry.outline import GAP_MM
from frontcheck.lines.front_line import Spot, UprightFace
from frontcheck.lines.side import NEVER, NO_SIDE

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.lines.front_line import Xyz
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.surface import Facets

_NAME: Final = "bumper corner"
_AT_END: Final = (
    "the surface ends where it touches: the true corner is there or farther out, where nothing "
    "is known"
)
_TIE_MM: Final = 1e-9
_STANDS_MM: Final = 1e-3
"""The gauge touches all that stands out within this, so that 0.1 deg from upright is upright: own
choice, finer than any bumper is made."""
_EDGE_MM: Final = 0.5
"""Touches nearer to its top or bottom than this are touches of the edge: own choice, as well
as a gauge is held by hand."""
_RUNGS_MM: Final = 20.0
"""Heights at which facets that stand upright are tried between their corners: own choice, a sixth
of the gauge's height."""
_CELL_MM: Final = 6.0
"""A touch less than this below or above what stands out farther is a touch of the gauge's edge:
own choice, for the edge has a radius and a bumper its texture."""
_AT_ONCE: Final = 16_384
_END_MM: Final = 5.0
"""Touches nearer to the outer end of the surface than this are at the end: own choice, some widths
of a facet of a fine mesh."""


@dataclass(frozen=True, eq=False)
class Bumper:
    """The bumper of a front, or of a front seen in a mirror."""

    corners: Array  # (k, 3, 3) float, facets of the front [mm]
    counted: Mask  # (k,) bool, whether they belong to the bumper
    top: float  # How high it reaches at most [mm]
    faces: dict[float, _Turned | None] = field(default_factory=dict, repr=False)
    """It and upright faces at angles looked at so far: plane and gauge may have one."""

    @classmethod
    def of(cls, facets: Facets, rules: RuleSet) -> Bumper:
        """Return the bumper among facets."""
        never = facets.labelled(*NEVER)
        if never.any():
            facets = facets.only(~never)
        parts = rules.texts("bumper.parts")
        if parts and facets.labelled("bumper").any():
            return cls(facets.corners, facets.labelled(*parts, unlabelled=True), math.inf)
        top = rules.value("wad.anchor_height_mm")
        counted = ~facets.labelled(*(("underside",) if parts else ()))
        return cls(facets.corners, counted, top)

    def between(self, low: float, high: float) -> Bumper:
        """Return its facets that reach between two heights."""
        face = next(filter(None, self.faces.values()), None)  # it knows already
        lowest, highest = spans(self.corners, 2) if face is None else (face.low[2], face.high[2])
        here = self.counted & (highest >= low) & (lowest <= high)
        return Bumper(self.corners[here], self.counted[here], self.top)

    def turned(self, angle_deg: float) -> _Turned | None:
        """Return it and an upright face at an angle; None where nothing is on the right."""
        if angle_deg not in self.faces:
            self.faces[angle_deg] = _Turned.of(self, angle_deg)
        return self.faces[angle_deg]

    def mirrored(self) -> Bumper:
        """Return the bumper seen in a mirror: left becomes right."""
        return Bumper(self.corners * np.array([1.0, -1.0, 1.0]), self.counted, self.top)


@dataclass(frozen=True, eq=False)
class Heights:
    """Lowest and highest place between two bounds, along y."""

    y: Array  # (m,) increasing [mm]
    low: Array  # (m,) [mm]
    high: Array  # (m,) [mm]

    @classmethod
    def of(cls, y: Array, lines: LineBatch) -> Heights:
        """Return LBRL and UBRL where both are formed."""
        both = lines.LBRL.formed & lines.UBRL.formed
        return cls(y[both], lines.LBRL.z[both], lines.UBRL.z[both])

    def within(self, low: float, high: float) -> Heights:
        """Return bounds that lie no lower and no higher."""
        return Heights(self.y, np.maximum(self.low, low), np.minimum(self.high, high))

    def at(self, y: Array) -> tuple[Array, Array]:
        """Return both bounds at places; beyond the ends they run on level."""
        return np.interp(y, self.y, self.low), np.interp(y, self.y, self.high)


def plane_corner(bumper: Bumper, rules: RuleSet) -> Spot:
    """Return the right bumper corner by the vertical plane."""
    turned = bumper.turned(rules.value("bumper_corner.plane_deg"))
    if turned is None:
        return Spot(_NAME, "not_available", None, NO_SIDE)
    points = turned.outermost().between(-math.inf, bumper.top)
    if len(points) == 0:
        return Spot(_NAME, "not_reached", None, "no contour has a bumper point")
    tied = points[points[:, 1] >= points[:, 1].max() - _TIE_MM]
    touch = tied[np.lexsort((tied[:, 2], -tied[:, 0]))[0]]
    return turned.spot(touch, points, None)


def gauge_corner(bumper: Bumper, heights: Heights, rules: RuleSet) -> Spot:
    """Return the right bumper corner by the corner gauge."""
    turned = bumper.turned(rules.value("bumper_corner.gauge_face_deg"))
    if turned is None:
        return Spot(_NAME, "not_available", None, NO_SIDE)
    low, high = (rules.value(f"bumper_corner.gauge_{end}_mm") for end in ("low", "high"))
    heights = heights.within(low, high)
    usable = heights.low <= heights.high
    if not usable[heights.y > 0.0].any():
        reason = "LBRL and UBRL leave no height for the centre of the gauge on this side"
        return Spot(_NAME, "not_reached", None, reason)
    tall, width = (rules.value(f"bumper_corner.gauge_{side}_mm") for side in ("height", "width"))
    lowest, highest = heights.low[usable].min() - tall, heights.high[usable].max() + tall
    reached = turned.within(lowest, highest)
    places = _standing_out(reached, lowest + tall / 2.0, highest - tall / 2.0, width)

    def touches(among: Array) -> tuple[Array, float] | None:
        for touch in among:
            centre = _centre(reached, touch, heights, tall, width)
            if centre is not None:
                return touch, centre
        return None

    first = touches(places)
    if first is None:
        return Spot(_NAME, "not_reached", None, "the gauge touches nowhere on its centreline")
    # Where the bumper stands upright, the lowest of the heights that count.
    same = np.abs(places[:, :2] - first[0][:2]) <= (_CELL_MM, _STANDS_MM)
    touch, centre = touches(_by_height(places[same.all(axis=1)], heights, turned)) or first
    near = reached.between(centre - tall / 2.0, centre + tall / 2.0)
    return turned.spot(touch, near, width)


@dataclass(frozen=True, eq=False)
class _Turned:
    """A bumper and an upright face, along which, out of which and up its facets reach."""

    bumper: Bumper
    cos: float
    sin: float
    low: Array  # (3, k) least of every facet [mm]
    high: Array  # (3, k) greatest of every facet [mm]
    own: Index  # Which of the facets are looked at

    @classmethod
    def of(cls, bumper: Bumper, angle_deg: float) -> _Turned | None:
        cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        count = len(bumper.corners)
        low, high = np.empty((2, 3, count))
        right = np.empty(count, dtype=bool)
        # Blocks that fit into the processor's cache take a third of the time.
        for i in range(0, count, _AT_ONCE):
            block = slice(i, i + _AT_ONCE)
            x, y, z = np.ascontiguousarray(bumper.corners[block].transpose(2, 1, 0))
            for axis, (a, b, c) in enumerate((y * sin + x * cos, y * cos - x * sin, z)):
                np.minimum(np.minimum(a, b), c, out=low[axis, block])
                np.maximum(np.maximum(a, b), c, out=high[axis, block])
            right[block] = (y > 0.0).any(axis=0)
        if not right.any():
            return None
        return cls(bumper, cos, sin, low, high, np.flatnonzero(right & bumper.counted))

    def only(self, which: Mask) -> _Turned:
        return _Turned(self.bumper, self.cos, self.sin, self.low, self.high, self.own[which])

    def within(self, low: float, high: float) -> _Turned:
        """What lies between two heights."""
        return self.only((self.high[2, self.own] >= low) & (self.low[2, self.own] <= high))

    def outermost(self) -> _Turned:
        """What stands out as far as what stands out most, or nearly."""
        there = self.within(-math.inf, self.bumper.top)
        whole = there.own[there.high[2, there.own] <= self.bumper.top]
        most = self.high[1, whole].max(initial=-math.inf)
        return there.only(self.high[1, there.own] >= most - 2.0 * GAP_MM)

    def facets(self, which: Index) -> Array:
        """Return facets in the axes of the face: along, out and up."""
        x, y, z = (self.bumper.corners[which][..., i] for i in range(3))
        return np.stack([y * self.sin + x * self.cos, y * self.cos - x * self.sin, z], axis=-1)

    def y(self, points: Array) -> Array:
        return points[..., 0] * self.sin + points[..., 1] * self.cos

    def between(self, low: float, high: float, levels: Array | None = None) -> Array:
        """Corners of the facets between two heights, and where they cross levels, (n, 3)."""
        facets = self.facets(self.within(low, high).own)
        corners = facets.reshape(-1, 3)
        if levels is None:
            levels = np.array([v for v in (low, high) if math.isfinite(v)])
        crossed = cut_facets(facets, 2, levels).ends.reshape(-1, 3)
        points = np.concatenate(
            [corners[(corners[:, 2] >= low) & (corners[:, 2] <= high)], crossed]
        )
        return points[self.y(points) > 0.0]

    def spot(self, touch: Array, points: Array, width: float | None) -> Spot:
        """The corner where the face touches, its place among points that it could touch."""
        here = np.abs(points[:, 0] - touch[0]) <= 2.0 * GAP_MM
        one = np.zeros(int(here.sum()), dtype=np.intp)
        along = float(smooth_places(one, points[here][:, :2], touch[:1])[0])
        out, z = float(touch[1]), float(touch[2])
        ended = self._ends(touch)
        if ended:
            along = float(touch[0])
        face = UprightFace((self.cos, self.sin), width)
        point: Xyz = (along * self.cos - out * self.sin, along * self.sin + out * self.cos, z)
        status, reason = ("open_end", _AT_END) if ended else ("ok", "")
        return Spot(_NAME, status, point, reason, tool=face)

    def _ends(self, touch: Array) -> bool:
        """Whether the surface ends there."""
        z = float(touch[2])
        near = self.bumper.corners[
            (self.high[2] >= z - _END_MM) & (self.low[2] <= z + _END_MM)
            & (np.abs(self.high[0] + self.low[0] - 2.0 * touch[0])
               <= self.high[0] - self.low[0] + 2.0 * GAP_MM)
        ]  # fmt: skip
        cuts = cut_facets(near, 2, np.array([z - _END_MM, z, z + _END_MM]))
        y = self.y(touch)
        x = touch[0] * self.cos - touch[1] * self.sin
        found = goes_on(
            np.zeros(len(cuts.level), dtype=np.intp),
            cuts.ends[..., 1],
            cuts.ends[..., 0],
            np.array([[y, x]]),
            GAP_MM,
            _END_MM,
        )
        return not found[0]


def _standing_out(turned: _Turned, lowest: float, highest: float, width: float) -> Array:
    """Places that the gauge may touch, (n, 3), the outermost first."""
    rungs = np.arange(math.ceil(lowest / _RUNGS_MM), highest / _RUNGS_MM) * _RUNGS_MM
    rungs = np.concatenate([[lowest], rungs[rungs > lowest], [highest]])
    points = turned.between(lowest, highest, rungs)
    if len(points) == 0:
        return points
    start = points[:, [0, 2]].min(axis=0)
    cell = ((points[:, [0, 2]] - start) // _CELL_MM).astype(np.intp)
    columns, rows = cell.max(axis=0) + 1
    most = np.full((rows + 2, columns), -np.inf)
    np.maximum.at(most, (cell[:, 1] + 1, cell[:, 0]), points[:, 1])
    # Nothing within the width of the gauge may stand out farther, at about this height.
    reach = max(int(width / 2.0 // _CELL_MM) - 1, 0)
    padded = np.pad(most, ((0, 0), (reach, reach)), constant_values=-np.inf)
    wide = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1, axis=1).max(axis=-1)
    wide = np.maximum(np.maximum(wide[:-2], wide[1:-1]), wide[2:])
    points = np.unique(points[points[:, 1] >= wide[cell[:, 1], cell[:, 0]] - _STANDS_MM], axis=0)
    return points[np.argsort(-turned.y(points), kind="stable")]


def _by_height(points: Array, heights: Heights, turned: _Turned) -> Array:
    """Places from the lowest up, those between the bounds first."""
    low, high = heights.at(turned.y(points))
    off = np.maximum(np.maximum(low - points[:, 2], points[:, 2] - high), 0.0)
    return points[np.lexsort((points[:, 2], off))]


def _centre(
    turned: _Turned, touch: Array, heights: Heights, tall: float, width: float
) -> float | None:
    """Height of the centre of the gauge where it touches a place; None where it cannot."""
    along, out, z = touch.tolist()
    half, low, high = tall / 2.0, turned.low, turned.high
    here = turned.own[high[1, turned.own] > out + _STANDS_MM]
    for axis, middle, off in ((0, along, width / 2.0), (2, z, tall)):
        here = here[(high[axis][here] >= middle - off) & (low[axis][here] <= middle + off)]
    least, most = _clipped(turned.facets(here), along, width / 2.0, out + _STANDS_MM)
    if ((least <= z) & (most >= z)).any():
        return None
    above, below = least[least > z].min(initial=math.inf), most[most < z].max(initial=-math.inf)
    bounds = heights.at(turned.y(touch[None]))
    lowest = max(below + half, z - half + _EDGE_MM, float(bounds[0][0]))
    highest = min(above - half, z + half - _EDGE_MM, float(bounds[1][0]))
    return min(max(z, lowest), highest) if lowest <= highest else None


def _clipped(facets: Array, along: float, half: float, out: float) -> tuple[Array, Array]:
    """Least and greatest height of facets within a width and beyond a face; those that have any."""
    sides = ((0, along - half), (0, along + half), (1, out))
    corner, after = facets, np.roll(facets, -1, axis=1)
    found = [corner]
    for axis, at in sides:
        step = after[..., axis] - corner[..., axis]
        t = (at - corner[..., axis]) / np.where(step == 0.0, 1.0, step)
        point = corner + t[..., None] * (after - corner)
        point[(step == 0.0) | (t < 0.0) | (t > 1.0)] = np.nan
        found.append(point)
    # Where both bounds cross inside a facet.
    a, u, v = facets[:, 0], facets[:, 1] - facets[:, 0], facets[:, 2] - facets[:, 0]
    det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    safe = np.where(det == 0.0, 1.0, det)
    for at in (along - half, along + half):
        p, q = at - a[:, 0], out - a[:, 1]
        s, t = (p * v[:, 1] - q * v[:, 0]) / safe, (q * u[:, 0] - p * u[:, 1]) / safe
        point = a + s[:, None] * u + t[:, None] * v
        point[(det == 0.0) | (s < 0.0) | (t < 0.0) | (s + t > 1.0)] = np.nan
        found.append(point[:, None])
    every = np.concatenate(found, axis=1)
    with np.errstate(invalid="ignore"):
        holds = (np.abs(every[..., 0] - along) <= half + _TIE_MM) & (every[..., 1] >= out - _TIE_MM)
    some = holds.any(axis=1)
    z = every[some][..., 2]
    low = np.where(holds[some], z, np.inf).min(axis=1, initial=np.inf)
    high = np.where(holds[some], z, -np.inf).max(axis=1, initial=-np.inf)
    return low, high

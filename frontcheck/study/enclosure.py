"""Where a reference line can lie when the parameters are anywhere in a box.

A straight edge touches a contour at the point whose gap is least. A point can only be that
one if its least gap over the box is no more than the smallest of all greatest gaps; the line
therefore lies within the ranges of those points. This holds for every shape in the box, and
not for samples of it only.

For a measured front with handles the points are the contour's own and the places where a
stretch passes the end of the edge's reach. For a parametric nose they are the points of the
roundings at the lean of the edge: everything else of the contour lies behind the strings
between roundings, or behind the bonnet's first direction.

Glossary
--------
box
    A range for every parameter, (lo, hi) of shape (M, H) for M boxes at once.
form
    ``constant + sum of slope times parameter``. Over a box its least and greatest values are
    at corners and are found parameter by parameter, so these bounds are exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.lines.bumper_lines import bumper_of, lower_edge, upper_edge
from frontcheck.study.nose_dimensions import DIMENSIONS, STEP_DEG
from frontcheck.study.roundings import BUMPER_HIGH, BUMPER_LOW, EDGE, LIP, UPPER_LIP, lay_out
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.moves import MorphField
    from frontcheck.study.varied_shapes import Shapes

    _Touch: TypeAlias = "tuple[Range, Range, Mask, Mask]"


ENCLOSED: Final = (
    "LBRL_x_mm", "LBRL_z_mm", "UBRL_x_mm", "UBRL_z_mm", "BLERL_x_mm", "BLERL_z_mm",
    "bumper_lead_mm",
)  # fmt: skip
"""Numbers that can be enclosed."""

ROUNDING_MM: Final = 1e-6
"""Allowance for rounding in every comparison of gaps and limits [mm]."""


@dataclass(frozen=True, eq=False)
class Range:
    """Least and greatest values, one entry per box (and quantity)."""

    lo: Array  # Bounds, of one shape
    hi: Array

    def __sub__(self, other: Range) -> Range:
        """Return the range of differences."""
        return Range(self.lo - other.hi, self.hi - other.lo)

    def joined(self, other: Range, where: Mask) -> Range:
        """Return the range widened by another, in some boxes."""
        lo = np.where(where, np.minimum(self.lo, other.lo), self.lo)
        return Range(lo, np.where(where, np.maximum(self.hi, other.hi), self.hi))

    def ends(self) -> tuple[Range, Range]:
        """Return the ranges of the first and of the second point of every stretch."""
        lo, hi = self.lo, self.hi
        return Range(lo[:, :-1], hi[:, :-1]), Range(lo[:, 1:], hi[:, 1:])

    def pairs(self) -> Range:
        """Return the range of every stretch from those of its two points."""
        one, two = self.ends()
        return Range(np.minimum(one.lo, two.lo), np.maximum(one.hi, two.hi))


@dataclass(frozen=True, eq=False)
class Forms:
    """Linear forms of the parameters."""

    constant: Array  # (n,) values with all parameters 0
    slope: Array  # (H, n) change per unit of each parameter

    def over(self, lo: Array, hi: Array) -> Range:
        """Return the exact range of every form over every box."""
        least = np.tile(self.constant, (len(lo), 1))
        most = least.copy()
        for h, slope in enumerate(self.slope):
            a, b = lo[:, h, None] * slope, hi[:, h, None] * slope
            least += np.minimum(a, b)
            most += np.maximum(a, b)
        return Range(least, most)

    def plus(self, factor: float, other: Forms) -> Forms:
        """Return these forms plus a multiple of others."""
        return Forms(self.constant + factor * other.constant, self.slope + factor * other.slope)


def _hull(places: Sequence[tuple[Mask, Range]]) -> Range:
    """The ranges that hold all places that count, per box."""
    low = [np.where(where, at.lo, np.inf).min(axis=1, initial=np.inf) for where, at in places]
    high = [np.where(where, at.hi, -np.inf).max(axis=1, initial=-np.inf) for where, at in places]
    return Range(np.min(low, axis=0), np.max(high, axis=0))


class Enclosure:
    """Ranges of the lines of one station, and of the travel of its skin, over boxes."""

    def __init__(self, rules: RuleSet, x: Forms, z: Forms, has_bumper: bool) -> None:
        self.rules, self.x, self.z, self.has_bumper = rules, x, z, has_bumper

    def touch(self, edge: StraightEdge, lo: Array, hi: Array, near: float, bumper: bool) -> _Touch:
        """Return where an edge can touch, and whether it may often, and with its upper end."""
        raise NotImplementedError

    def anywhere(self, lo: Array, hi: Array) -> tuple[Range, Range]:
        """Return where any point of the contour can lie, as far as that is enclosed."""
        del hi
        far = np.full(len(lo), np.inf)
        return Range(-far, far), Range(-far, far)

    def moved(self, lo: Array, hi: Array) -> Array:
        """Return at least how far some point of the skin travels, as far as that is enclosed."""
        del hi
        return np.zeros(len(lo))

    def line(self, name: str, lo: Array, hi: Array) -> Range:
        """Return the range of a number over boxes."""
        if name == "bumper_lead_mm":
            return self._edge(lo, hi)[0] - self._bumper("UBRL", lo, hi)[0]
        line, axis, _ = name.split("_")
        x, z = self._edge(lo, hi) if line == "BLERL" else self._bumper(line, lo, hi)
        return x if axis == "x" else z

    def _bumper(self, line: str, lo: Array, hi: Array) -> tuple[Range, Range]:
        edge = lower_edge(self.rules)
        if line == "UBRL":
            edge = upper_edge(self.rules, labelled=self.has_bumper)
        return self.touch(edge, lo, hi, 0.0, True)[:2]

    def _edge(self, lo: Array, hi: Array) -> tuple[Range, Range]:
        rules = self.rules
        length, foot = rules.value("blerl.edge_length_mm"), rules.value("blerl.foot_height_mm")
        near = rules.value("blerl.contact_tolerance_mm")
        leans = (rules.value(f"blerl.{key}") for key in ("lean_deg", "retake_lean_deg"))
        edges = (StraightEdge.standing(length, lean, foot) for lean in leans)
        one, two = (self.touch(edge, lo, hi, near, False) for edge in edges)
        several, upper_end = one[2:]
        # By the tape the line is a point at a wrap-around distance, anywhere on the contour.
        tape = upper_end | (several & two[3])
        ways = zip(one[:2], two[:2], self.anywhere(lo, hi), strict=True)
        x, z = (own.joined(next_, several).joined(every, tape) for own, next_, every in ways)
        return x, z


class _FrontEnclosure(Enclosure):
    """Enclosures of one station of a measured front with handles."""

    def __init__(self, field: MorphField, rules: RuleSet) -> None:
        section, along_x, along_z = field.section, field.fields[:, :, 0], field.fields[:, :, 1]
        x, z = Forms(section.points[:, 0], along_x), Forms(section.points[:, 1], along_z)
        bumper = bumper_of(Contours.of([section]), rules)
        super().__init__(rules, x, z, bool(bumper.labelled[0]))
        nothing = np.zeros(len(section.points))
        self.steps = Forms(nothing, along_x), Forms(nothing, along_z)
        self.every = np.ones(len(section.points), dtype=bool)
        self.bumper = self.every if bumper.counted is None else bumper.counted[0]

    def moved(self, lo: Array, hi: Array) -> Array:
        square = np.zeros((len(lo), len(self.bumper)))
        for forms in self.steps:
            step = forms.over(lo, hi)
            least = np.maximum(np.maximum(step.lo, -step.hi), 0.0)
            square += least * least
        return np.asarray(np.sqrt(square.max(axis=1)))

    def anywhere(self, lo: Array, hi: Array) -> tuple[Range, Range]:
        x, z = self.x.over(lo, hi), self.z.over(lo, hi)
        return _hull([(self.every, x)]), _hull([(self.every, z)])

    def touch(self, edge: StraightEdge, lo: Array, hi: Array, near: float, bumper: bool) -> _Touch:
        cosine, sine = _leaning(edge)
        x, z = self.x.over(lo, hi), self.z.over(lo, hi)
        raw = self.x.plus(-edge.slope, self.z).over(lo, hi)
        shift = edge.low * edge.slope
        gap = Range(raw.lo + shift, raw.hi + shift)
        along_forms = Forms(self.x.constant * sine, self.x.slope * sine).plus(cosine, self.z)
        along = along_forms.over(lo, hi)
        counted = self.bumper if bumper else self.every

        sure = counted & (z.lo >= edge.low) & (z.hi <= edge.high)
        bar = np.where(sure, gap.hi, np.inf).min(axis=1)
        both = counted[:-1] & counted[1:]
        pair_x, pair_z, (one, two) = x.pairs(), z.pairs(), z.ends()
        heights = filter(math.isfinite, (edge.low, edge.high))
        cuts = {height: _crossing(x, z, height, pair_x) for height in heights}
        for height, at_x in cuts.items():
            surely = both & (np.minimum(one.hi, two.hi) <= height)
            surely &= np.maximum(one.lo, two.lo) >= height
            most = at_x.hi - (height - edge.low) * edge.slope
            bar = np.minimum(bar, np.where(surely, most, np.inf).min(axis=1))
        bar = bar[:, None] + near / cosine + ROUNDING_MM
        point = counted & (z.hi >= edge.low) & (z.lo <= edge.high) & (gap.lo <= bar)
        reached = Range(np.maximum(z.lo, edge.low), np.minimum(z.hi, edge.high))
        touched = [(point, (x, reached, along))]
        upper_end = (point & (z.hi >= edge.high - ROUNDING_MM)).any(axis=1)
        for height, at_x in cuts.items():
            passes = (pair_z.lo <= height) & (pair_z.hi >= height)
            at = Range(np.full_like(pair_x.lo, height), np.full_like(pair_x.lo, height))
            # Two lower bounds of the gap there: that of the stretch, and that of its least x.
            least = np.maximum(gap.pairs().lo, at_x.lo - (height - edge.low) * edge.slope)
            cut = both & passes & (least <= bar)
            touched.append((cut, (at_x, at, along.pairs())))
            if height == edge.high:
                upper_end |= cut.any(axis=1)
        found_x, found_z, over = (_hull([(at, of[k]) for at, of in touched]) for k in range(3))
        reach = over.hi - over.lo
        # A run within the tolerance may go on into the neighbouring stretch, up to the place
        # where that leaves the tolerance.
        long = reach + 2.0 * _run_on(gap, along, bar, point, near, cosine)
        apart, on = (
            self.rules.value(f"blerl.{key}_mm") for key in ("separate_touch", "continuous_length")
        )
        several = (reach > apart) | (long > on)
        return found_x, found_z, several, upper_end


def _leaning(edge: StraightEdge) -> tuple[float, float]:
    """Cosine and sine of the lean of an edge."""
    lean = math.radians(edge.lean_deg)
    return math.cos(lean), math.sin(lean)


def _crossing(x: Range, z: Range, height: float, anywhere: Range) -> Range:
    """Where stretches that surely rise or fall can cross a height; the others anywhere."""
    (x0, x1), (z0, z1) = x.ends(), z.ends()
    rises, falls = z0.hi < z1.lo, z1.hi < z0.lo
    known, shares = rises | falls, []
    # The share of the way up falls where either end is raised, as long as it is crossed.
    for one, two in ((z0.lo, z1.lo), (z0.hi, z1.hi)):
        low, high = np.where(rises, one, two), np.where(rises, two, one)
        up = np.clip((height - low) / np.where(known, high - low, 1.0), 0.0, 1.0)
        shares.append(np.where(rises, up, 1.0 - up))
    least = np.minimum(*((1.0 - t) * x0.lo + t * x1.lo for t in shares)) - ROUNDING_MM
    most = np.maximum(*((1.0 - t) * x0.hi + t * x1.hi for t in shares)) + ROUNDING_MM
    return Range(np.where(known, least, anywhere.lo), np.where(known, most, anywhere.hi))


def _run_on(gap: Range, along: Range, bar: Array, point: Mask, near: float, cosine: float) -> Array:
    """Longest part of a stretch beyond the touched points that stays within the tolerance."""
    longest = np.zeros(len(point))
    least = bar - near / cosine - ROUNDING_MM
    for here, there in ((slice(None, -1), slice(1, None)), (slice(1, None), slice(None, -1))):
        away = (gap.lo[:, there] - least) * cosine
        length = np.maximum(
            np.abs(along.hi[:, there] - along.lo[:, here]),
            np.abs(along.hi[:, here] - along.lo[:, there]),
        )
        share = np.minimum(near / np.maximum(away, near + 1e-12), 1.0)
        leaves = point[:, here] & ~point[:, there]
        longest = np.maximum(longest, np.where(leaves, share * length, 0.0).max(axis=1))
    return longest


class _NoseEnclosure(Enclosure):
    """Enclosures of one station of a parametric nose."""

    _DISCS: Final = (LIP, BUMPER_LOW, BUMPER_HIGH, UPPER_LIP, EDGE)
    _BUMPER: Final = np.array([True, True, True, False, False])

    def __init__(self, shapes: NoseShapes, rules: RuleSet, y: float) -> None:
        self.shapes, self.y = shapes, y
        # Centres and radii are linear in the dimensions: steps of 1 give the exact slopes.
        probe = np.tile(shapes.nose.values, (len(shapes.names) + 1, 1))
        names = [dimension.name for dimension in DIMENSIONS]
        for h, name in enumerate(shapes.names):
            probe[h + 1, names.index(name)] += 1.0
        chain = lay_out(probe)
        centre = chain.centre[list(self._DISCS)]
        x, z = (self._forms(centre[..., axis].T) for axis in (0, 1))
        super().__init__(rules, x, z, has_bumper=True)
        self.rho = self._forms(chain.rho[list(self._DISCS)].T)

    def _forms(self, values: Array) -> Forms:
        slope = values[1:] - values[0]
        return Forms(values[0] - self.shapes.base @ slope, slope)

    def _dim(self, name: str, lo: Array, hi: Array) -> Range:
        if name in self.shapes.names:
            h = self.shapes.names.index(name)
            return Range(lo[:, h], hi[:, h])
        value = np.full(len(lo), getattr(self.shapes.nose, name))
        return Range(value, value)

    def touch(self, edge: StraightEdge, lo: Array, hi: Array, near: float, bumper: bool) -> _Touch:
        cosine, sine = _leaning(edge)
        x = self.x.plus(-cosine, self.rho).over(lo, hi)
        z = self.z.plus(sine, self.rho).over(lo, hi)
        raw = self.x.plus(-edge.slope, self.z).plus(-1.0 / cosine, self.rho).over(lo, hi)
        counted = self._BUMPER if bumper else np.ones(len(self._DISCS), dtype=bool)
        bar = np.where(counted, raw.hi, np.inf).min(axis=1)[:, None]
        point = counted & (raw.lo <= bar + near / cosine + ROUNDING_MM)
        # The whole section stands back with the plan radius; heights stay.
        plan = self._dim("plan_radius_mm", lo, hi)
        back = Range(*(self.y**2 / (r + np.sqrt(np.maximum(r * r - self.y**2, 0.0)))
                       for r in (plan.hi, plan.lo)))  # fmt: skip
        at_x, at_z = _hull([(point, x)]), _hull([(point, z)])
        at_x = Range(at_x.lo + back.lo, at_x.hi + back.hi)
        # Outside the reach of the edge, or where the rear of the car might be touched, nothing
        # is claimed.
        lost = (at_z.lo < edge.low + ROUNDING_MM) | (at_z.hi > edge.high - ROUNDING_MM)
        # Facets have a point of their own at leans in whole 5 deg only.
        lost |= abs(edge.lean_deg / STEP_DEG - round(edge.lean_deg / STEP_DEG)) > 1e-9
        if edge.lean_deg > 0.0:
            steepest = 90.0 - edge.lean_deg
            if bumper:
                # The bumper ends where its upper rounding does: the point must be on it.
                lost |= self._bumper_ends(lo, hi) > math.radians(steepest) - 1e-9
            else:
                lost |= self._dim("windscreen_angle_deg", lo, hi).hi >= steepest
        else:
            lost |= self._dim("cowl_setback_mm", lo, hi).lo <= bar[:, 0]
        anything, _ = self.anywhere(lo, hi)
        several = (point.sum(axis=1) > 1) | self._flat(edge, lo, hi, raw, bar, near, cosine)
        return at_x.joined(anything, lost), at_z.joined(anything, lost), several, lost

    def _bumper_ends(self, lo: Array, hi: Array) -> Array:
        """Greatest direction at which the walk can leave the bumper's upper rounding [rad]."""
        # The string to the upper lip has direction s and length L. The recess of depth d turns
        # the walk further by t, with ``a sin t = d sin s cos t + (r + R) (1 - cos t)`` and ``a =
        # L / 2 + d cos s`` (r, R radii of rounding and recess), hence ``tan t >= d sin s / a``.
        x, z, rho = (f.over(lo, hi) for f in (self.x, self.z, self.rho))
        one, two = 2, 3  # the bumper's upper rounding and the upper lip, in `_DISCS`
        ahead = [x.lo[:, two] - x.hi[:, one], x.hi[:, two] - x.lo[:, one]]
        above = [z.lo[:, two] - z.hi[:, one], z.hi[:, two] - z.lo[:, one]]
        corners = np.stack([np.arctan2(dz, dx) for dx in ahead for dz in above])
        near = np.hypot(np.maximum(np.maximum(ahead[0], -ahead[1]), 0.0), above[0])
        far = np.hypot(np.maximum(np.abs(ahead[0]), np.abs(ahead[1])), above[1])
        # The string leaves the line between the centres by asin of drop over distance.
        least, most = rho.lo[:, one] - rho.hi[:, two], rho.hi[:, one] - rho.lo[:, two]
        known = (above[0] > 0.0) & (np.maximum(most, -least) < near)
        tilts = [
            np.arcsin(np.clip(drop / np.maximum(by, 1e-9), -1.0, 1.0))
            for drop in (least, most)
            for by in (near, far)
        ]
        steepest = corners.max(axis=0) - np.min(tilts, axis=0)
        flattest = corners.min(axis=0) - np.max(tilts, axis=0)
        depth = self._dim("grille_depth_mm", lo, hi)
        sine = np.minimum(np.sin(steepest), np.sin(flattest))
        run = far / 2.0 + depth.hi * np.maximum(np.cos(flattest), 0.0)
        turn = np.arctan(np.maximum(depth.lo * sine, 0.0) / run)
        return np.where(known, steepest - turn, np.inf)

    def _flat(
        self, edge: StraightEdge, lo: Array, hi: Array, gap: Range, bar: Array, near: float,
        cosine: float,
    ) -> Mask:  # fmt: skip
        """Whether contact with one rounding may be continuous: it is flat, or what joins it is."""
        long = self.rules.value("blerl.continuous_length_mm")
        rho = self.rho.over(lo, hi).hi.max(axis=1)
        on_arc = 2.0 * np.sqrt(2.0 * rho * near)
        # Along a straight line to the next rounding, which leaves the edge by `away` at its end.
        away = (np.sort(gap.lo, axis=1)[:, 1] - bar[:, 0]) * cosine
        x, z = self.x.over(lo, hi), self.z.over(lo, hi)
        spread = np.hypot(
            x.hi.max(axis=1) - x.lo.min(axis=1) + 2.0 * rho,
            z.hi.max(axis=1) - z.lo.min(axis=1) + 2.0 * rho,
        )
        on_line = np.minimum(near / np.maximum(away, near + 1e-12), 1.0) * spread
        # Along the bonnet, which starts at its chord's angle and half the turn of its crown.
        crown = self._dim("bonnet_crown_mm", lo, hi).hi
        rear = self._dim("cowl_setback_mm", lo, hi).lo
        chord = np.maximum(rear - x.hi[:, -1], 1e-9)
        steep = np.radians(self._dim("bonnet_angle_deg", lo, hi).hi)
        steep += 2.0 * np.arctan2(2.0 * crown, chord)
        leaves = math.radians(90.0 - edge.lean_deg) - steep
        on_bonnet = near / np.sin(np.clip(leaves, 1e-9, math.pi / 2.0))
        return np.asarray(on_arc + on_line + on_bonnet > long)


def enclosures_of(shapes: Shapes, rules: RuleSet) -> Mapping[float, Enclosure]:
    """Return the enclosures of every station."""
    if isinstance(shapes, FrontShapes):
        return {field.section.y: _FrontEnclosure(field, rules) for field in shapes.fields}
    return {y: _NoseEnclosure(shapes, rules, y) for y in shapes.stations}

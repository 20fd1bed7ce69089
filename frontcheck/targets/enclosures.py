"""Where a reference line can lie when the parameters are anywhere in a box.

A straight edge touches a contour at the point whose gap is least. A point can only be that
one if its least gap over the box is no more than the smallest of all greatest gaps; the line
therefore lies within the ranges of those points. This holds for every shape in the box, and
not for samples of it only.

For a measured front with handles the points are the contour's own and the places where a
stretch passes the end of the edge's reach. For a parametric nose they are the points of the
roundings at the lean of the edge: everything else of the contour lies behind the strings
between roundings, or behind the bonnet's first direction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from frontcheck.contact.straight_edge import StraightEdge
from frontcheck.nose import DIMENSIONS
from frontcheck.nose.chain import BUMPER_HIGH, BUMPER_LOW, EDGE, LIP, UPPER_LIP, lay_out
from frontcheck.nose.facets import STEP_DEG
from frontcheck.sweep.shapes import FrontShapes, NoseShapes
from frontcheck.targets.linear import Forms, Range

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.morph import MorphField
    from frontcheck.rules import RuleSet
    from frontcheck.sweep.shapes import Shapes

__all__ = ["ENCLOSED", "ROUNDING_MM", "Enclosure", "enclosures_of"]

ENCLOSED: Final = (
    "LBRL_x_mm", "LBRL_z_mm", "UBRL_x_mm", "UBRL_z_mm", "BLERL_x_mm", "BLERL_z_mm",
    "bumper_lead_mm",
)  # fmt: skip
"""Numbers that can be enclosed."""

ROUNDING_MM: Final = 1e-6
"""Allowance for rounding in every comparison of gaps and limits [mm]."""


class Enclosure(Protocol):
    """Ranges of the lines of one station, and of the travel of its skin, over boxes."""

    def line(self, name: str, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> Range:
        """Return the range of a number over boxes.

        Parameters
        ----------
        name : str
            One of `ENCLOSED`.
        lo, hi : ndarray
            (M, H) boxes.

        Returns
        -------
        Range
            Of shape (M,).
        """

    def moved(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return at least how far some point of the skin travels.

        Parameters
        ----------
        lo, hi : ndarray
            (M, H) boxes.

        Returns
        -------
        ndarray
            (M,) [mm]; 0 where it is not enclosed.
        """


@dataclass(frozen=True, eq=False)
class Touch:
    """Where an edge can touch in each of M boxes.

    Parameters
    ----------
    x, z : Range
        (M,) where the contact can lie [mm].
    several : ndarray
        (M,) bool, whether contact may be continuous or multiple.
    upper_end : ndarray
        (M,) bool, whether the upper end of the edge may touch.
    """

    x: Range
    z: Range
    several: NDArray[np.bool_]
    upper_end: NDArray[np.bool_]


class _Lines:
    """What both kinds of shape share: lines from touches of straight edges."""

    def __init__(self, rules: RuleSet) -> None:
        self.rules = rules

    def touch(
        self, edge: StraightEdge, lo: NDArray[np.float64], hi: NDArray[np.float64], near: float,
        bumper: bool,
    ) -> Touch:  # fmt: skip
        """Where an edge can touch; `near` widens the gap that counts [mm]."""
        raise NotImplementedError

    def anywhere(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        """Where any point of the contour can lie: x and z."""
        raise NotImplementedError

    @property
    def has_bumper(self) -> bool:
        """Whether points are labelled bumper."""
        raise NotImplementedError

    def line(self, name: str, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> Range:
        """Return the range (M,) of a number of `ENCLOSED` over boxes (M, H)."""
        if name == "bumper_lead_mm":
            return self._edge(lo, hi)[0] - self._bumper("UBRL", lo, hi)[0]
        line, axis, _ = name.split("_")
        x, z = self._edge(lo, hi) if line == "BLERL" else self._bumper(line, lo, hi)
        return x if axis == "x" else z

    def _bumper(
        self, line: str, lo: NDArray[np.float64], hi: NDArray[np.float64]
    ) -> tuple[Range, Range]:
        rules, key = self.rules, line.lower()
        sign = 1.0 if line == "UBRL" else -1.0
        edge = StraightEdge.standing(
            rules.value(f"{key}.edge_length_mm"), sign * rules.value(f"{key}.lean_deg")
        )
        limited = line == "UBRL" and self.has_bumper and bool(rules.texts("ubrl.parts"))
        if limited and not rules.flag("ubrl.foot_on_ground"):
            edge = StraightEdge(edge.lean_deg, edge.low, math.inf)
        found = self.touch(edge, lo, hi, 0.0, limited)
        return found.x, found.z

    def _edge(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        rules = self.rules
        length, foot = rules.value("blerl.edge_length_mm"), rules.value("blerl.foot_height_mm")
        near = rules.value("blerl.contact_tolerance_mm")
        one, two = (
            self.touch(
                StraightEdge.standing(length, rules.value(f"blerl.{key}"), foot),
                lo,
                hi,
                near,
                False,
            )
            for key in ("lean_deg", "retake_lean_deg")
        )
        x, z = one.x.joined(two.x, one.several), one.z.joined(two.z, one.several)
        # Then the line is a point at a wrap-around distance, and can be anywhere on the contour.
        tape = one.upper_end | (one.several & two.upper_end)
        all_x, all_z = self.anywhere(lo, hi)
        return x.joined(all_x, tape), z.joined(all_z, tape)


class _OfFront(_Lines):
    """Enclosures of one station of a measured front with handles."""

    def __init__(self, field: MorphField, rules: RuleSet) -> None:
        super().__init__(rules)
        points, fields = field.section.points, field.fields
        self.field = field
        self.x = Forms(points[:, 0], fields[:, :, 0])
        self.z = Forms(points[:, 1], fields[:, :, 1])
        nothing = np.zeros(len(points))
        self.step_x = Forms(nothing, fields[:, :, 0])
        self.step_z = Forms(nothing, fields[:, :, 1])
        self.bumper = field.section.part_mask("bumper", unlabelled=True)

    @property
    def has_bumper(self) -> bool:
        """Whether points are labelled bumper."""
        return self.field.section.has_part("bumper")

    def moved(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return at least how far some point of the skin travels in each box, (M,) [mm]."""
        square = np.zeros((len(lo), len(self.bumper)))
        for forms in (self.step_x, self.step_z):
            step = forms.over(lo, hi)
            least = np.maximum(np.maximum(step.lo, -step.hi), 0.0)
            square += least * least
        found: NDArray[np.float64] = np.sqrt(square.max(axis=1))
        return found

    def anywhere(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        """Where any point of the contour can lie: x and z."""
        x, z = self.x.over(lo, hi), self.z.over(lo, hi)
        return (
            Range(x.lo.min(axis=1), x.hi.max(axis=1)),
            Range(z.lo.min(axis=1), z.hi.max(axis=1)),
        )

    def touch(
        self, edge: StraightEdge, lo: NDArray[np.float64], hi: NDArray[np.float64], near: float,
        bumper: bool,
    ) -> Touch:  # fmt: skip
        """Where an edge can touch; `near` widens the gap that counts [mm]."""
        cosine = math.cos(math.radians(edge.lean_deg))
        sine = math.sin(math.radians(edge.lean_deg))
        x, z = self.x.over(lo, hi), self.z.over(lo, hi)
        gap_forms = self.x.plus(-edge.slope, self.z)
        shift = edge.low * edge.slope
        raw = gap_forms.over(lo, hi)
        gap = Range(raw.lo + shift, raw.hi + shift)
        along_forms = Forms(self.x.constant * sine, self.x.slope * sine).plus(cosine, self.z)
        along = along_forms.over(lo, hi)
        counted = self.bumper if bumper else np.ones(len(self.bumper), dtype=bool)

        sure = counted & (z.lo >= edge.low) & (z.hi <= edge.high)
        bar = np.where(sure, gap.hi, np.inf).min(axis=1)[:, None] + near / cosine + ROUNDING_MM
        point = counted & (z.hi >= edge.low) & (z.lo <= edge.high) & (gap.lo <= bar)
        found = _Hull(len(lo))
        found.add(point, x, Range(np.maximum(z.lo, edge.low), np.minimum(z.hi, edge.high)), along)
        both = counted[:-1] & counted[1:]
        upper_end = (point & (z.hi >= edge.high - ROUNDING_MM)).any(axis=1)
        for height in (edge.low, edge.high):
            if not math.isfinite(height):
                continue
            passes = (np.minimum(z.lo[:, :-1], z.lo[:, 1:]) <= height) & (
                np.maximum(z.hi[:, :-1], z.hi[:, 1:]) >= height
            )
            cut_x = _pairs(x)
            at = Range(np.full_like(cut_x.lo, height), np.full_like(cut_x.lo, height))
            # Two lower bounds of the gap there: that of the stretch, and that of its least x.
            least = np.maximum(_pairs(gap).lo, cut_x.lo - (height - edge.low) * edge.slope)
            cut = both & passes & (least <= bar)
            found.add(cut, cut_x, at, _pairs(along))
            if height == edge.high:
                upper_end |= cut.any(axis=1)
        reach = found.along.hi - found.along.lo
        # A run within the tolerance may go on into the neighbouring stretch, up to the place
        # where that leaves the tolerance.
        long = reach + 2.0 * self._run_on(gap, along, bar, point, near, cosine)
        several = (reach > self.rules.value("blerl.separate_touch_mm")) | (
            long > self.rules.value("blerl.continuous_length_mm")
        )
        return Touch(found.x, found.z, several, upper_end)

    @staticmethod
    def _run_on(
        gap: Range,
        along: Range,
        bar: NDArray[np.float64],
        point: NDArray[np.bool_],
        near: float,
        cosine: float,
    ) -> NDArray[np.float64]:
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


class _OfNose(_Lines):
    """Enclosures of one station of a parametric nose."""

    _DISCS: Final = (LIP, BUMPER_LOW, BUMPER_HIGH, UPPER_LIP, EDGE)
    _BUMPER: Final = np.array([True, True, True, False, False])

    def __init__(self, shapes: NoseShapes, rules: RuleSet, y: float) -> None:
        super().__init__(rules)
        self.shapes = shapes
        # Centres and radii are linear in the dimensions: steps of 1 give the exact slopes.
        probe = np.tile(shapes.nose.values, (len(shapes.names) + 1, 1))
        names = [dimension.name for dimension in DIMENSIONS]
        for h, name in enumerate(shapes.names):
            probe[h + 1, names.index(name)] += 1.0
        chain = lay_out(probe)
        centre = chain.centre[list(self._DISCS)]
        self.x = self._forms(centre[..., 0].T)
        self.z = self._forms(centre[..., 1].T)
        self.rho = self._forms(chain.rho[list(self._DISCS)].T)
        self.y = y

    def _forms(self, values: NDArray[np.float64]) -> Forms:
        slope = values[1:] - values[0]
        return Forms(values[0] - self.shapes.base @ slope, slope)

    def _dim(self, name: str, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> Range:
        if name in self.shapes.names:
            h = self.shapes.names.index(name)
            return Range(lo[:, h], hi[:, h])
        value = np.full(len(lo), getattr(self.shapes.nose, name))
        return Range(value, value)

    @property
    def has_bumper(self) -> bool:
        """Whether points are labelled bumper."""
        return True

    def moved(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return 0: how far the skin travels is not enclosed for a parametric nose."""
        del hi
        return np.zeros(len(lo))

    def anywhere(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        """Where any point of the contour can lie: not known, so anywhere."""
        del hi
        far = np.full(len(lo), np.inf)
        return Range(-far, far), Range(-far, far)

    def touch(
        self, edge: StraightEdge, lo: NDArray[np.float64], hi: NDArray[np.float64], near: float,
        bumper: bool,
    ) -> Touch:  # fmt: skip
        """Where an edge can touch; `near` widens the gap that counts [mm]."""
        cosine = math.cos(math.radians(edge.lean_deg))
        sine = math.sin(math.radians(edge.lean_deg))
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
        found = _Hull(len(lo))
        found.add(point, x, z, z)
        at_x = Range(found.x.lo + back.lo, found.x.hi + back.hi)
        # Outside the reach of the edge, or where the rear of the car might be touched, nothing
        # is claimed.
        lost = (found.z.lo < edge.low + ROUNDING_MM) | (found.z.hi > edge.high - ROUNDING_MM)
        # Facets have a point of their own at leans in whole 5 deg only.
        lost |= abs(edge.lean_deg / STEP_DEG - round(edge.lean_deg / STEP_DEG)) > 1e-9
        if edge.lean_deg > 0.0:
            steepest = 90.0 - edge.lean_deg
            if not bumper:
                lost |= self._dim("windscreen_angle_deg", lo, hi).hi >= steepest
        else:
            lost |= self._dim("cowl_setback_mm", lo, hi).lo <= bar[:, 0]
        far = np.full(len(lo), np.inf)
        anything = Range(-far, far)
        several = (point.sum(axis=1) > 1) | self._flat(edge, lo, hi, raw, bar, near, cosine)
        return Touch(at_x.joined(anything, lost), found.z.joined(anything, lost), several, lost)

    def _flat(
        self,
        edge: StraightEdge,
        lo: NDArray[np.float64],
        hi: NDArray[np.float64],
        gap: Range,
        bar: NDArray[np.float64],
        near: float,
        cosine: float,
    ) -> NDArray[np.bool_]:
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
        flat: NDArray[np.bool_] = on_arc + on_line + on_bonnet > long
        return flat


class _Hull:
    """Ranges that hold all points offered, per box."""

    def __init__(self, boxes: int) -> None:
        far = np.full(boxes, np.inf)
        self.x, self.z, self.along = Range(far, -far), Range(far, -far), Range(far, -far)

    def add(self, where: NDArray[np.bool_], x: Range, z: Range, along: Range) -> None:
        """Take in the points (M, k) that count."""
        for name, new in (("x", x), ("z", z), ("along", along)):
            old: Range = getattr(self, name)
            low = np.where(where, new.lo, np.inf).min(axis=1, initial=np.inf)
            high = np.where(where, new.hi, -np.inf).max(axis=1, initial=-np.inf)
            setattr(self, name, Range(np.minimum(old.lo, low), np.maximum(old.hi, high)))


def _pairs(each: Range) -> Range:
    """Range of every stretch from those of its two points."""
    return Range(
        np.minimum(each.lo[:, :-1], each.lo[:, 1:]), np.maximum(each.hi[:, :-1], each.hi[:, 1:])
    )


def enclosures_of(shapes: Shapes, rules: RuleSet) -> dict[float, Enclosure] | None:
    """Return the enclosures of every station, where the kind of shape has them.

    Parameters
    ----------
    shapes : Shapes
        What varies.
    rules : RuleSet
        By which rules.

    Returns
    -------
    dict of float to Enclosure, or None
        By station [mm].
    """
    if isinstance(shapes, FrontShapes):
        return {field.section.y: _OfFront(field, rules) for field in shapes.fields}
    if isinstance(shapes, NoseShapes):
        return {y: _OfNose(shapes, rules, y) for y in shapes.stations}
    return None

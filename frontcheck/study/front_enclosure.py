"""Enclosures of the lines of a measured front with handles."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.study.linear import Forms, Range
from frontcheck.study.touches import ROUNDING_MM, Hull, LinesOverBoxes, Touch

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.geometry.straight_edge import StraightEdge
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.moves import MorphField


class FrontEnclosure(LinesOverBoxes):
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
        """Return at least how far some point of the skin travels."""
        square = np.zeros((len(lo), len(self.bumper)))
        for forms in (self.step_x, self.step_z):
            step = forms.over(lo, hi)
            least = np.maximum(np.maximum(step.lo, -step.hi), 0.0)
            square += least * least
        found: NDArray[np.float64] = np.sqrt(square.max(axis=1))
        return found

    def anywhere(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        """Return where any point of the contour can lie."""
        x, z = self.x.over(lo, hi), self.z.over(lo, hi)
        return (
            Range(x.lo.min(axis=1), x.hi.max(axis=1)),
            Range(z.lo.min(axis=1), z.hi.max(axis=1)),
        )

    def touch(
        self, edge: StraightEdge, lo: NDArray[np.float64], hi: NDArray[np.float64], near: float,
        bumper: bool,
    ) -> Touch:  # fmt: skip
        """Return where an edge can touch."""
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
        found = Hull(len(lo))
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


def _pairs(each: Range) -> Range:
    """Range of every stretch from those of its two points."""
    return Range(
        np.minimum(each.lo[:, :-1], each.lo[:, 1:]), np.maximum(each.hi[:, :-1], each.hi[:, 1:])
    )

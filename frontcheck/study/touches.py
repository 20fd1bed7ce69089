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

from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.study.linear import Range

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.rules.ruleset import RuleSet

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
        """Return the range of a number over boxes."""

    def moved(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return at least how far some point of the skin travels."""


@dataclass(frozen=True, eq=False)
class Touch:
    """Where an edge can touch in each of M boxes."""

    x: Range  # (M,) where the contact can lie [mm]
    z: Range  # (M,) where the contact can lie [mm]
    several: NDArray[np.bool_]  # (M,) bool, whether contact may be continuous or multiple
    upper_end: NDArray[np.bool_]  # (M,) bool, whether the upper end of the edge may touch


class LinesOverBoxes:
    """What both kinds of shape share: lines from touches of straight edges."""

    def __init__(self, rules: RuleSet) -> None:
        self.rules = rules

    def touch(
        self, edge: StraightEdge, lo: NDArray[np.float64], hi: NDArray[np.float64], near: float,
        bumper: bool,
    ) -> Touch:  # fmt: skip
        """Return where an edge can touch."""
        raise NotImplementedError

    def anywhere(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        """Return where any point of the contour can lie."""
        raise NotImplementedError

    @property
    def has_bumper(self) -> bool:
        """Whether points are labelled bumper."""
        raise NotImplementedError

    def line(self, name: str, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> Range:
        """Return the range of a number over boxes."""
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


class Hull:
    """Ranges that hold all points offered, per box."""

    def __init__(self, boxes: int) -> None:
        far = np.full(boxes, np.inf)
        self.x, self.z, self.along = Range(far, -far), Range(far, -far), Range(far, -far)

    def add(self, where: NDArray[np.bool_], x: Range, z: Range, along: Range) -> None:
        """Take in points."""
        for name, new in (("x", x), ("z", z), ("along", along)):
            old: Range = getattr(self, name)
            low = np.where(where, new.lo, np.inf).min(axis=1, initial=np.inf)
            high = np.where(where, new.hi, -np.inf).max(axis=1, initial=-np.inf)
            setattr(self, name, Range(np.minimum(old.lo, low), np.maximum(old.hi, high)))

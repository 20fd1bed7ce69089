"""Enclosures of the lines of a parametric nose."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.study.linear import Forms, Range
from frontcheck.study.nose_dimensions import DIMENSIONS, STEP_DEG
from frontcheck.study.roundings import BUMPER_HIGH, BUMPER_LOW, EDGE, LIP, UPPER_LIP, lay_out
from frontcheck.study.touches import ROUNDING_MM, Hull, LinesOverBoxes, Touch

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.geometry.straight_edge import StraightEdge
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.varied_shapes import NoseShapes


class NoseEnclosure(LinesOverBoxes):
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
        """Return at least how far some point of the skin travels."""
        del hi
        return np.zeros(len(lo))

    def anywhere(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> tuple[Range, Range]:
        """Return where any point of the contour can lie."""
        del hi
        far = np.full(len(lo), np.inf)
        return Range(-far, far), Range(-far, far)

    def touch(
        self, edge: StraightEdge, lo: NDArray[np.float64], hi: NDArray[np.float64], near: float,
        bumper: bool,
    ) -> Touch:  # fmt: skip
        """Return where an edge can touch."""
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
        found = Hull(len(lo))
        found.add(point, x, z, z)
        at_x = Range(found.x.lo + back.lo, found.x.hi + back.hi)
        # Outside the reach of the edge, or where the rear of the car might be touched, nothing
        # is claimed.
        lost = (found.z.lo < edge.low + ROUNDING_MM) | (found.z.hi > edge.high - ROUNDING_MM)
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
        far = np.full(len(lo), np.inf)
        anything = Range(-far, far)
        several = (point.sum(axis=1) > 1) | self._flat(edge, lo, hi, raw, bar, near, cosine)
        return Touch(at_x.joined(anything, lost), found.z.joined(anything, lost), several, lost)

    def _bumper_ends(self, lo: NDArray[np.float64], hi: NDArray[np.float64]) -> NDArray[np.float64]:
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

"""The side reference line: a straight edge brought down on the sides of the surface.

Glossary
--------
SRL
    Side reference line: highest contacts of a straight edge 700 mm long, held in transverse
    vertical planes, inclined 45 deg inward and brought down on the sides of the front structure.
front structure
    Everything but windscreen, windscreen header, pillars and what is rearward of them
    (UN R127 02 series, 2.22, text read).

Everything here looks at the right side; the left is the right side of the facets seen in a
mirror, so a symmetric front gives symmetric results to the last bit.

Readings
--------
The edge may slide along itself, so in each transverse plane it comes to rest on the place that
lies farthest out square to it; its length then bounds nothing. Contact where the surface ends
outboard is kept and reported as ``open_end``: the side of the vehicle beyond it is not known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.facet_cuts import cut_facets, goes_on, smooth_places
from frontcheck.geometry.outline import GAP_MM
from frontcheck.lines.front_line import xyz
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.geometry.facet_cuts import Cuts
    from frontcheck.surface.surface import Facets

NO_SIDE: Final = "nothing was measured on this side of the centre plane"
"""Why there is nothing on a side without stations."""
OPEN_SIDE: Final = "the surface ends there: the side of the vehicle beyond it is not known"
"""Why a place at the outer end of the surface is not known for sure."""

NEVER: Final = tuple(part for part in ("ignore",) if part in PARTS)
"""Parts that no tool touches: mirrors, plates, wipers, tyres."""

_NOT_FRONT: Final = tuple(part for part in ("windscreen", "pillar", "ignore") if part in PARTS)
_STEP_MM: Final = 10.0
"""Transverse planes stand this far apart, nearer where the line bends: own choice, the width of a
finger."""
_HALVINGS: Final = 3
_STRAIGHT_MM: Final = 0.5
"""Planes are added, three times at most, beside places off the straight line between their
neighbours by more: own choice, below what a hand measurement can tell."""
_TIE_MM: Final = 1e-9
_MEET_MM: Final = 0.01
_BEHIND_MM: Final = 1e-6
_BELOW_MM: Final = 20.0
"""Facets that lie farther than this below the contact have no say in it: own choice, for speed."""
_SAMPLE: Final = 5000
_AT_ONCE: Final = 16_384
_SHARES: Final = np.linspace(0.0, 1.0, 17)
_FEW: Final = 16


@dataclass(frozen=True, eq=False)
class SideContacts:
    """Contacts of the side edge in K transverse planes."""

    # Where `touched` is False the other arrays hold nothing meaningful.

    touched: Mask  # (K,) bool, whether anything reaches the plane
    x: Array  # (K,) contact [mm]
    y: Array  # (K,) contact [mm]
    z: Array  # (K,) contact [mm]
    open_end: Mask  # (K,) bool, whether the surface ends there

    def at(self, which: Mask | Index) -> SideContacts:
        """Return some of the contacts."""
        return SideContacts(*(getattr(self, field.name)[which] for field in fields(self)))

    @property
    def points(self) -> Array:
        """The contacts there are, (k, 3) [mm]."""
        return np.stack([self.x, self.y, self.z], axis=1)[self.touched]


@dataclass(frozen=True)
class Meeting:
    """Where a line across the front meets the side reference line."""

    point: tuple[float, float, float] | None  # x, y and z [mm]; None when they do not meet
    open_end: bool  # Whether they meet where the surface ends
    reason: str  # Why they do not meet, or what to mind


@dataclass(frozen=True, eq=False)
class Side:
    """The right side of a surface, for the edge to be brought down on."""

    corners: Array  # (k, 3, 3) float, facets [mm]
    counted: Mask  # (k,) bool, whether they belong to the front structure
    lean_deg: float  # Lean of the edge, inward from vertical
    low: Array  # (k,) least x [mm]
    high: Array  # (k,) greatest x [mm]
    out: Array  # (k,) how far they stand out square to the edge [mm]

    @classmethod
    def of(cls, facets: Facets, lean_deg: float) -> Side:
        """Return the right side of the front structure among facets."""
        lean = math.radians(lean_deg)
        right, low, high, out = np.empty((4, len(facets)))
        # Blocks that fit into the processor's cache take a third of the time.
        for i in range(0, len(facets), _AT_ONCE):
            block = slice(i, i + _AT_ONCE)
            x, y, z = np.ascontiguousarray(facets.corners[block].transpose(2, 1, 0))
            reach = y * math.cos(lean) + z * math.sin(lean)
            for most, (a, b, c) in ((right, y), (high, x), (out, reach)):
                np.maximum(np.maximum(a, b), c, out=most[block])
            np.minimum(np.minimum(x[0], x[1]), x[2], out=low[block])
        here = right > 0.0
        if NEVER:
            here &= ~facets.labelled(*NEVER)
        if not here.all():
            facets, low, high, out = facets.only(here), low[here], high[here], out[here]
        counted, glass = ~facets.labelled(*_NOT_FRONT), facets.labelled("windscreen")
        if glass.any():
            counted &= low < high[glass].max()
        return cls(facets.corners, counted, lean_deg, low, high, out)

    def between(self, low: float, high: float) -> Side:
        """Return what reaches into a range of x."""
        here = (self.high >= low) & (self.low <= high)
        return Side(
            self.corners[here], self.counted[here], self.lean_deg,
            self.low[here], self.high[here], self.out[here],
        )  # fmt: skip

    def contacts(self, x: Array) -> SideContacts:
        """Bring the edge down in transverse planes, whose x increase."""
        cuts = self._cuts(x)
        lean = math.radians(self.lean_deg)
        cos, sin = math.cos(lean), math.sin(lean)
        y, z = cuts.ends[..., 1], cuts.ends[..., 2]
        out, along = y * cos + z * sin, y * sin - z * cos
        counted = self.counted[cuts.facet]
        level = np.repeat(cuts.level[counted], 2)
        own_out, own_z = out[counted].ravel(), z[counted].ravel()
        best = np.full(len(x), -np.inf)
        np.maximum.at(best, level, own_out)
        # Of several contacts at once the highest counts.
        tied = np.flatnonzero(own_out >= best[level] - _TIE_MM)
        highest = np.full(len(x), -np.inf)
        np.maximum.at(highest, level[tied], own_z[tied])
        won = tied[own_z[tied] == highest[level[tied]]][::-1]  # the first is written last
        place = np.zeros(len(x))
        place[level[won]] = along[counted].ravel()[won]
        touched = np.isfinite(best)
        best = np.where(touched, best, 0.0)
        near = out.max(axis=1) >= best[cuts.level] - max(_BELOW_MM, GAP_MM)
        ended = touched & ~goes_on(
            cuts.level[near], along[near], out[near], np.stack([place, best], axis=1), GAP_MM
        )
        points = np.stack([along[counted].ravel(), own_out], axis=1)
        near = own_out >= best[level] - _BELOW_MM
        smooth = smooth_places(level[near], points[near], place)
        place = np.where(ended, place, smooth)
        at_y, at_z = best * cos + place * sin, best * sin - place * cos
        found = SideContacts(touched & (at_y > 0.0), x, at_y, at_z, ended)
        # The rim of a facet that lies in the plane is no surface going on: seen just behind it.
        flat = np.flatnonzero(np.isin(x, self.low[self.counted & (self.low == self.high)]))
        if len(flat):
            ended[flat] |= self.contacts(x[flat] + _BEHIND_MM).open_end
        return found

    def line(self, more: tuple[float, ...] = ()) -> SideContacts:
        """Bring the edge down all along the side, at given x as well."""
        if not self.counted.any():
            return self.contacts(np.empty(0))
        first, last = self.low[self.counted].min(), self.high[self.counted].max()
        ladder = np.arange(np.ceil(first / _STEP_MM), np.floor(last / _STEP_MM) + 1.0) * _STEP_MM
        found = self.contacts(np.unique([*ladder, *more]))
        for _ in range(_HALVINGS):
            x, y, z = found.x, found.y, found.z
            share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
            off = [v[1:-1] - v[:-2] - share * (v[2:] - v[:-2]) for v in (y, z)]
            whole = found.touched[:-2] & found.touched[1:-1] & found.touched[2:]
            bends = np.zeros(len(x), dtype=bool)
            bends[1:-1] = whole & (np.hypot(*off) > _STRAIGHT_MM)
            wanted = np.flatnonzero(bends[:-1] | bends[1:])
            if len(wanted) == 0:
                break
            added = self.contacts((x[wanted] + x[wanted + 1]) / 2.0)
            order = np.argsort(np.concatenate([x, added.x]), kind="stable")
            pairs = ((getattr(found, f.name), getattr(added, f.name)) for f in fields(found))
            found = SideContacts(*(np.concatenate(pair)[order] for pair in pairs))
        return found

    def _cuts(self, x: Array) -> Cuts:
        """Cut the facets that may have a say in the contact."""
        low, high = (x[0], x[-1]) if len(x) else (np.inf, -np.inf)
        near = np.flatnonzero((self.high >= low) & (self.low <= high))
        first = np.searchsorted(x, self.low[near], side="left")
        last = np.searchsorted(x, self.high[near], side="right")
        some = last > first
        crossing, first, last = near[some], first[some], last[some]
        if len(crossing) > _SAMPLE:
            # What some of them reach is a bound that most of the others do not come near.
            own = crossing[self.counted[crossing]]
            sample = cut_facets(self.corners[own[:: max(len(own) // _SAMPLE, 1)]], 0, x)
            lean = math.radians(self.lean_deg)
            out = sample.ends[..., 1] * math.cos(lean) + sample.ends[..., 2] * math.sin(lean)
            bound = np.full(len(x) + 1, -np.inf)
            np.maximum.at(bound, sample.level, out.max(axis=1))
            ends = np.stack([first, last], axis=1).ravel()
            least = np.minimum.reduceat(bound, ends)[::2]
            crossing = crossing[self.out[crossing] >= least - max(_BELOW_MM, GAP_MM)]
        cuts = cut_facets(self.corners[crossing], 0, x)
        return type(cuts)(cuts.level, crossing[cuts.facet], cuts.ends)

    def meeting(self, line: Array, name: str) -> Meeting:
        """Find where a line across the front meets the side reference line."""
        # Points (m, 3) of the line on this side, from the centre plane outward.
        if not self.counted.any():
            return Meeting(None, False, NO_SIDE)
        if len(line) == 0:
            return Meeting(None, False, f"{name} could not be formed on this side")
        # A few places at a time, from the outer end: most lines meet it near there.
        for stop in range(len(line), 0, -_FEW):
            start = max(stop - _FEW, 0)
            inside_by, ended = self._inside(line[start:stop])
            inside = np.flatnonzero(inside_by >= -_MEET_MM)
            if len(inside):
                break
        else:
            return Meeting(None, False, f"{name} lies outside the SRL throughout")
        k = int(inside[-1])
        i = start + k
        if i + 1 == len(line):
            if inside_by[k] > _MEET_MM:
                reason = f"{name} ends at y = {line[i, 1]:g} mm, inside the SRL"
                return Meeting(None, False, reason)
            return Meeting(xyz(line[i]), bool(ended[k]), OPEN_SIDE if ended[k] else "")
        low, high = line[i], line[i + 1]
        here = self.between(*sorted((float(low[0]), float(high[0]))))
        for _ in range(3):
            steps = low + _SHARES[:, None] * (high - low)
            inside_by, ended = here._inside(steps)
            k = int(np.flatnonzero(inside_by[:-1] >= -_MEET_MM)[-1:].max(initial=0))
            low, high = steps[k], steps[k + 1]
        before, after = max(inside_by[k], 0.0), min(inside_by[k + 1], 0.0)
        t = before / (before - after) if before > after else 0.0
        open_end = bool(ended[k] and ended[k + 1])
        return Meeting(xyz(low + t * (high - low)), open_end, OPEN_SIDE if open_end else "")

    def _inside(self, line: Array) -> tuple[Array, Mask]:
        """How far places lie inside the SRL, and whether the surface ends there."""
        levels, back = np.unique(line[:, 0], return_inverse=True)
        side = self.contacts(levels)
        inside: Array = np.where(side.touched, side.y, -np.inf)[back] - line[:, 1]
        return inside, side.open_end[back]

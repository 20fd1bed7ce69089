"""What touches an upright leg first, in what order, and how the bumper stands to the knee.

Glossary
--------
lower lip, bumper, leading edge
    The three members that close in on a leg, lowest first; see `members_of`.
closing distance
    How far the front still travels after first contact until a member touches a leg that
    stands upright and does not move [mm].
undercut
    Setback of the lower lip behind the bumper [mm]; negative when the lip stands ahead.
shin, knee, thigh
    Below, inside and above a band around the knee; above the hip it is hip or trunk.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.serializer import one_line
from frontcheck.surface.face import deepest_recess

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section

# What an upright line sees of a contour from the front: the silhouette.
#
# Reading: the leg is a vertical line, the surface of the leg that faces the vehicle; its
# thickness moves that line forward and changes nothing else. Knee bulge and calf are left out.
#
# The silhouette at a height is the foremost point of the contour there. It is piecewise
# straight, with a jump where a ledge or a fold hides what is behind it.

_TIE_MM: Final = 1e-9
"""Setbacks closer than this are one contact [mm]: rounding of coordinates of some metres."""


@dataclass(frozen=True, eq=False)
class Silhouette:
    """Foremost contour over a range of heights, as straight pieces from below upward."""

    z: Array  # (n, 2) lower and upper height of every piece [mm]
    x: Array  # (n, 2) setback at those heights [mm]
    stretch: Index  # (n,) int, the stretch of the contour that it is
    labels: tuple[str, ...]  # Part of every stretch; none where the contour has no labels
    low: float  # Heights looked at [mm]; pieces need not fill them
    high: float  # Heights looked at [mm]; pieces need not fill them

    @property
    def parts(self) -> tuple[str, ...]:
        """Part of every piece; empty where the contour has no labels."""
        return tuple(self.labels[i] if self.labels else "" for i in self.stretch.tolist())

    @property
    def points(self) -> Array:
        """Ends (k, 2) of all pieces from below upward, each once [mm]."""
        ends = np.stack([self.x.ravel(), self.z.ravel()], axis=1)
        new = np.append(True, (np.diff(ends, axis=0) != 0.0).any(axis=1))
        return np.asarray(ends[new])

    @property
    def foremost_x(self) -> float:
        """Setback of the foremost point [mm]."""
        return float(self.x.min())

    @property
    def first_touch(self) -> tuple[float, float]:
        """Ends of the lowest foremost stretch [mm]; the same unless the front stands plumb."""
        touching = self.x <= self.foremost_x + _TIE_MM
        low = high = float(self.z[touching].min())
        for bottom, top in self.z[touching.all(axis=1)].tolist():
            high = top if bottom == high else high
        return low, high

    @property
    def foremost(self) -> tuple[float, float]:
        """Foremost point (x, z) [mm]; the middle of the touch where the front stands plumb."""
        low, high = self.first_touch
        return self.foremost_x, 0.5 * (low + high)

    def cut(self, low: float, high: float) -> Silhouette:
        """Return the pieces between two heights, cut where they cross them."""
        first = int(np.searchsorted(self.z[:, 1], low, "right"))
        last = max(int(np.searchsorted(self.z[:, 0], high, "left")), first)
        z, x = self.z[first:last].copy(), self.x[first:last].copy()
        # Only the outermost pieces are cut; ends that are not keep their numbers.
        for piece, end, height in ((first, 0, low), (last - 1, 1, high)):
            if first < last and self.z[piece, 0] < height < self.z[piece, 1]:
                (z0, z1), (x0, x1) = self.z[piece].tolist(), self.x[piece].tolist()
                z[piece - first, end] = height
                x[piece - first, end] = x0 + (height - z0) / (z1 - z0) * (x1 - x0)
        return Silhouette(z, x, self.stretch[first:last], self.labels, low, high)

    def only(self, which: Mask) -> Silhouette:
        """Return some of the pieces."""
        return Silhouette(
            self.z[which], self.x[which], self.stretch[which], self.labels, self.low, self.high
        )

    def split(self, height: float) -> Silhouette:
        """Return the same silhouette with no piece reaching across a height."""
        below, above = self.cut(self.low, height), self.cut(height, self.high)
        return Silhouette(
            np.concatenate([below.z, above.z]),
            np.concatenate([below.x, above.x]),
            np.concatenate([below.stretch, above.stretch]),
            self.labels,
            self.low,
            self.high,
        )


def silhouette_of(section: Section, low: float, high: float) -> Silhouette:
    """Return what an upright line from one height to another sees of a section."""
    if not low < high:
        raise ValueError(f"the leg must have a length; it goes from {low:g} to {high:g} mm")
    seen = _whole(section).cut(low, high)
    if not len(seen.z):
        raise NotAvailableError(
            f"the section at y = {section.y:g} mm has nothing between {low:g} and {high:g} mm"
        )
    return seen


@lru_cache(maxsize=4)
def _whole(section: Section) -> Silhouette:
    """What is seen of all of it: kept, as one section is asked for person after person."""
    x, z = section.points.T
    levels = np.unique(z)
    bottom, top = levels[:-1], levels[1:]
    middle = 0.5 * (bottom + top)
    z0, z1, x0, x1 = z[:-1], z[1:], x[:-1], x[1:]
    rise = np.where(z1 == z0, 1.0, z1 - z0)
    slope = (x1 - x0) / rise
    # Every stretch is spread over the slabs it crosses.
    first = np.searchsorted(levels, np.minimum(z0, z1))
    count = np.searchsorted(levels, np.maximum(z0, z1)) - first
    edge = np.repeat(np.arange(len(count)), count)
    slab = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    seen = x0[edge] + (middle[slab] - z0[edge]) * slope[edge]
    foremost = np.full(len(middle), np.inf)
    np.minimum.at(foremost, slab, seen)
    # Stretches of a contour do not cross, and no point lies within a slab: the stretch that is
    # foremost at mid-height is foremost over the whole slab.
    won = np.flatnonzero(seen == foremost[slab])[::-1]
    stretch = np.zeros(len(middle), dtype=np.intp)
    stretch[slab[won]] = edge[won]  # of several as far ahead the first is written last
    there = np.isfinite(foremost)
    stretch, heights = stretch[there], np.stack([bottom, top], axis=1)[there]
    a, b = stretch[:, None], stretch[:, None] + 1
    share = (heights - z[a]) / (z[b] - z[a])
    setback = np.where(share == 1.0, x[b], x[a] + share * (x[b] - x[a]))
    # A stretch between two parts is taken for the one it starts from.
    labels = section.parts or ()
    return Silhouette(heights, setback, stretch, labels, float(levels[0]), float(levels[-1]))


BodyPlace = Literal["shin", "knee", "thigh", "hip or trunk"]

HALF_BAND_MM: Final = 50.0
"""The knee reaches this far below and above its middle: own choice, about a kneecap [mm]."""


@dataclass(frozen=True)
class Member:
    """One of the members that close in on a leg."""

    name: Literal["lower lip", "bumper", "leading edge"]  # Which
    x: float  # Its foremost point [mm]
    z: float  # Its foremost point [mm]
    closing_mm: float  # Closing distance after the first of the members [mm]
    basis: str  # How the point was found


@one_line
@dataclass(frozen=True)
class FrontContact:
    """What one section shows an upright leg, whoever stands there."""

    y: float  # Station [mm]
    members: tuple[Member, ...]  # In contact order, the first to touch first
    undercut_mm: float | None  # Setback of the lower lip behind the bumper [mm]
    overhang_mm: float
    bumper_lead_mm: float | None  # x(BLERL) - x(UBRL) [mm]
    legform: Literal["lower", "either", "upper"] | None  # By lower bumper height
    legform_limit_mm: float | None
    legform_margin_mm: float | None  # Lower bumper height less that [mm]

    def member(self, name: str) -> Member | None:
        """Return one member."""
        return next((m for m in self.members if m.name == name), None)


@dataclass(frozen=True)
class FirstTouch:
    """Where the front touches one person who stands upright."""

    x: float  # The foremost point within the height of the person [mm]
    z: float  # Its height; where the front stands plumb the height nearest the knee [mm]
    place: BodyPlace  # Where on the person
    above_knee_mm: float  # Its height above the knee, negative below [mm]


def place_on_person(height: float, person: Person, half_band: float = HALF_BAND_MM) -> BodyPlace:
    """Return where on a person a height is: above the hip it is no leg any more."""
    knee = person.knee.known()
    if height > person.hip.known():
        return "hip or trunk"
    if height < knee - half_band:
        return "shin"
    return "knee" if height <= knee + half_band else "thigh"


def first_touch(section: Section, person: Person, half_band: float = HALF_BAND_MM) -> FirstTouch:
    """Return where the front first touches a person, from the soles to the top of the head."""
    return touch_of(seen_by(section, person), person, half_band)


def seen_by(section: Section, person: Person) -> Silhouette:
    """Return what a whole person who stands upright sees of a section."""
    return silhouette_of(section, 0.0, person.stature.known() + person.shoe_mm)


def touch_of(seen: Silhouette, person: Person, half_band: float = HALF_BAND_MM) -> FirstTouch:
    """Return where what is seen touches a person: the knee, where heights around it do at once."""
    (low, high), knee = seen.first_touch, person.knee.known()
    z = min(max(knee, low), high)
    return FirstTouch(seen.foremost_x, z, place_on_person(z, person, half_band), z - knee)


def front_contact(section: Section, station: Station, rules: RuleSet) -> FrontContact:
    """Return what one section shows an upright leg."""
    members = members_of(section, station)
    by_name = {member.name: member for member in members}
    undercut = None
    if "lower lip" in by_name and "bumper" in by_name:
        undercut = by_name["lower lip"].x - by_name["bumper"].x
    limit = margin = None
    if station.lower_bumper_height is not None:
        height = station.lower_bumper_height
        limits = (rules.value("legform.lower_below_mm"), rules.value("legform.upper_from_mm"))
        limit = min(limits, key=lambda edge: abs(height - edge))
        margin = height - limit
    return FrontContact(
        y=station.y,
        members=members,
        undercut_mm=undercut,
        overhang_mm=section.face.overhang_mm,
        bumper_lead_mm=station.bumper_lead,
        legform=station.legform,
        legform_limit_mm=limit,
        legform_margin_mm=margin,
    )


def members_of(section: Section, station: Station) -> tuple[Member, ...]:
    """Return lower lip, bumper and leading edge of a section, in contact order."""
    # Reading: lips are those of a face (see there), sought between the heights of LBRL and UBRL;
    # the upper one is the bumper. Without a recess the foremost point between the lines is one of
    # them (the lower lip when it lies in the lower half), and the point of UBRL or of LBRL is the
    # other. The leading edge is the point of BLERL.
    found: list[tuple[Literal["lower lip", "bumper", "leading edge"], float, float, str]] = []
    no = "not seen: a" if section.silhouette else "no"
    low, high, edge = station.LBRL, station.UBRL, station.BLERL
    if low.x is not None and low.z is not None and high.x is not None and high.z is not None:
        if low.z < high.z:
            seen = silhouette_of(section, low.z, high.z)
            lips = deepest_recess(seen.points)
            middle = 0.5 * (low.z + high.z)
            first = seen.foremost
            if lips is not None:
                found.append(("lower lip", *lips[0], "foremost point below the deepest recess"))
                found.append(("bumper", *lips[2], "foremost point above the deepest recess"))
            elif first[1] <= middle:
                found.append(("lower lip", *first, "foremost point, in the lower half"))
                found.append(("bumper", high.x, high.z, f"UBRL; {no} recess below it"))
            else:
                found.append(("lower lip", low.x, low.z, f"LBRL; {no} recess above it"))
                found.append(("bumper", *first, "foremost point, in the upper half"))
        else:
            found.append(("bumper", high.x, high.z, "UBRL, not above LBRL"))
    if edge.x is not None and edge.z is not None:
        found.append(("leading edge", edge.x, edge.z, "BLERL"))
    found.sort(key=lambda member: (member[1], member[2]))
    return tuple(Member(n, x, z, x - found[0][1], basis) for n, x, z, basis in found)

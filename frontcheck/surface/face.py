"""What the face of one section looks like: lean, overhang, lips and recess.

Glossary
--------
face
    The stretch that stands rather than lies: up from the point that a line inclined 25 deg
    forward touches first (below it is chin), to the point that a line inclined 45 deg
    rearward touches first (above it is bonnet).
lip, recess
    A taut string laid along the face bridges a recess. What is foremost below the bottom of the
    deepest recess is the lower lip, what is foremost above it the upper lip: that need not be
    where the string leaves the contour, and both stand ahead of the bottom. The leg models have
    the same lips, sought between the bumper lines.
overhang
    The face leans forward of vertical: some point stands farther forward than
    another point of the face below it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from frontcheck.geometry.polyline import taut_string
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Mask

_CHIN_LEAN_DEG: Final = 25.0
_TOP_LEAN_DEG: Final = 45.0
"""Where a face begins and ends: own choice. The lean of the lower bumper line's straight edge (UN
R127 02 series, 2.26, text read), and half way from upright to level."""
_STEEP_RISE_DEG: Final = 25.0
"""Unlabelled contours: a rise steeper than this behind the face ends the bonnet; own choice,
between bonnets and windscreens."""

RECESS_MM: Final = 5.0
"""A recess shallower than this makes no two lips: own choice, twice what hand measuring leaves open
[mm]."""
_TIE_MM: Final = 1e-9
"""Setbacks closer than this are alike [mm]: rounding of coordinates of some metres."""

_Point: TypeAlias = tuple[float, float]
_Recess: TypeAlias = tuple[_Point, _Point, _Point, float]


@one_line
@dataclass(frozen=True)
class FaceDescriptors:
    """What the face of one section looks like, in plain measures.

    Parameters
    ----------
    foremost : tuple of float
        Foremost point (x, z) of the face [mm], the lowest of several.
    face_bottom, face_top : tuple of float
        Ends (x, z) of the face [mm].
    mean_face_angle_deg : float
        Lean of the face from vertical, rearward positive [deg].
    overhang_mm : float
        Farthest that a point stands ahead of a lower one [mm]; 0 without.
    overhang_from, overhang_to : tuple of float or None
        The two points (x, z) [mm].
    lower_lip, recess, upper_lip : tuple of float or None
        Foremost points (x, z) below and above the deepest recess, and its bottom [mm]; None without
        a recess of 5 mm.
    recess_depth_mm : float or None
        Depth of the recess behind the string across it [mm].
    recess_behind_upper_lip_mm, recess_behind_lower_lip_mm : float or None
        How far the recess lies behind either lip [mm].
    undercut_mm : float or None
        Setback of the lower lip behind the upper lip [mm].
    bonnet_angle_deg : float or None
        Mean rise of the bonnet from horizontal [deg].
    bonnet_basis : str
        How the bonnet was found.
    not_seen : tuple of str
        What of the face an outline seen from the side does not show: a recess or lip that is None
        is then not absent, and an overhang may be larger. Empty for a measured section.

    Examples
    --------
    >>> import frontcheck as fc
    >>> face = fc.read_front("geometries/plover.csv").section(0).face
    >>> face.overhang_mm, face.undercut_mm, face.leans_forward
    (34.5, 14.0, True)
    """

    # A point is an (x, z) pair [mm]; a length is in mm, an angle in degrees. A feature that the
    # face does not have is None.

    foremost: tuple[float, float]  # Foremost point of the face (the lowest of several)
    face_bottom: tuple[float, float]  # Ends of the face
    face_top: tuple[float, float]  # Ends of the face
    mean_face_angle_deg: float
    overhang_mm: float
    overhang_from: tuple[float, float] | None
    overhang_to: tuple[float, float] | None
    lower_lip: tuple[float, float] | None
    recess: tuple[float, float] | None
    upper_lip: tuple[float, float] | None
    recess_depth_mm: float | None
    recess_behind_upper_lip_mm: float | None
    recess_behind_lower_lip_mm: float | None
    undercut_mm: float | None  # Setback of the lower lip relative to the upper lip [mm]
    bonnet_angle_deg: float | None  # Mean rise of the bonnet from horizontal [deg]
    bonnet_basis: str  # How the bonnet was found
    not_seen: tuple[str, ...] = ()  # What of the face an outline does not show

    @cached_property
    def upper_lip_behind_mm(self) -> float | None:
        """How far the upper lip stands behind the foremost point [mm]; None without a recess."""
        return None if self.upper_lip is None else self.upper_lip[0] - self.foremost[0]

    @cached_property
    def lower_lip_behind_mm(self) -> float | None:
        """How far the lower lip stands behind the foremost point [mm]; None without a recess."""
        return None if self.lower_lip is None else self.lower_lip[0] - self.foremost[0]

    @property
    def no_recess(self) -> str:
        """Why there are no lips; empty where there are."""
        if self.recess is not None:
            return ""
        return "a recess is not seen from the side" if self.not_seen else "the face has no recess"

    @property
    def leans_forward(self) -> bool:
        """Whether the face leans forward of vertical anywhere."""
        return self.overhang_mm > 0.0


def _pair(points: Array, i: int) -> tuple[float, float]:
    return float(points[i, 0]), float(points[i, 1])


def face_range(points: Array) -> tuple[int, int]:
    """First and last index of the face: what the two inclined lines touch first."""
    x, z = points.T
    top = int(np.argmin(x - z * math.tan(math.radians(_TOP_LEAN_DEG))))
    bottom = int(np.argmin((x + z * math.tan(math.radians(_CHIN_LEAN_DEG)))[: top + 1]))
    return bottom, top


def describe_face(
    points: Array,
    *,
    bumper: Mask | None,
    bonnet: Mask | None,
    silhouette: bool,
) -> FaceDescriptors:
    """Describe the face of a contour."""
    bottom, top = face_range(points)
    face = points[bottom : top + 1]
    x, z = face.T
    if len(face) > 1:
        lean = math.degrees(math.atan2(x[-1] - x[0], z[-1] - z[0]))
    else:
        lean = 0.0
    overhang, set_back, forward = _largest_overhang(face)
    lips = deepest_recess(face[_bumper_range(bumper, bottom, top)])
    angle, basis = _bonnet_angle(points, bonnet, top)
    depth = behind_upper = behind_lower = undercut = None
    lower = recess = upper = None
    if lips is not None:
        lower, recess, upper, depth = lips
        behind_upper = recess[0] - upper[0]
        behind_lower = recess[0] - lower[0]
        undercut = lower[0] - upper[0]
    return FaceDescriptors(
        foremost=_pair(face, int(np.argmin(x))),
        face_bottom=_pair(face, 0),
        face_top=_pair(face, -1),
        mean_face_angle_deg=lean,
        overhang_mm=overhang,
        overhang_from=None if set_back is None else _pair(face, set_back),
        overhang_to=None if forward is None else _pair(face, forward),
        lower_lip=lower,
        recess=recess,
        upper_lip=upper,
        recess_depth_mm=depth,
        recess_behind_upper_lip_mm=behind_upper,
        recess_behind_lower_lip_mm=behind_lower,
        undercut_mm=undercut,
        bonnet_angle_deg=angle,
        bonnet_basis=basis,
        not_seen=("recess", "lower lip") if silhouette else (),
    )


def _largest_overhang(face: Array) -> tuple[float, int | None, int | None]:
    """Largest x drop from any point of the face to a higher point, and the two indices."""
    order = np.argsort(face[:, 1], kind="stable")
    x, z = face[order].T.tolist()  # lists: numbers of an array are slow one by one
    best, low, high = 0.0, None, None
    deepest, waiting = 0, 0  # among the points below point i; the first point not yet among them
    for i in range(1, len(x)):
        while z[waiting] < z[i]:
            if x[waiting] > x[deepest]:
                deepest = waiting
            waiting += 1
        if waiting and x[deepest] - x[i] > best:
            best, low, high = x[deepest] - x[i], int(order[deepest]), int(order[i])
    return best, low, high


def _bumper_range(bumper: Mask | None, bottom: int, top: int) -> slice:
    """Range of the face, counted from its bottom, in which lips are looked for."""
    if bumper is None:
        return slice(None)
    inside = np.flatnonzero(bumper[bottom : top + 1])
    return slice(int(inside[0]), int(inside[-1]) + 1) if len(inside) > 2 else slice(None)


def deepest_recess(points: Array) -> _Recess | None:
    """Lower lip, bottom, upper lip and depth of the deepest recess between lips, or none."""
    best: _Recess | None = None
    for bottom, depth in recesses(points):
        below, above = foremost(points[bottom::-1]), foremost(points[bottom:])
        # A face that leans back has a hollow and no lip where all above or below is behind it.
        ahead = max(below[0], above[0]) < points[bottom, 0]
        if ahead and (best is None or depth > best[3]):
            best = below, _pair(points, bottom), above, depth
    return best


def recesses(points: Array) -> list[tuple[int, float]]:
    """Bottom and depth of every hollow that a taut string over points from below upward bridges."""
    bears = taut_string(points, -1.0, grazed=True).tolist()
    found = []
    for low, high in zip(bears, bears[1:], strict=False):
        rise = points[high, 1] - points[low, 1] if high - low > 1 else 0.0
        if rise <= 0.0:
            continue
        inner = points[low + 1 : high]
        share = (inner[:, 1] - points[low, 1]) / rise
        gap = inner[:, 0] - points[low, 0] - share * (points[high, 0] - points[low, 0])
        deep = int(np.argmax(gap))
        if gap[deep] >= RECESS_MM:
            found.append((low + 1 + deep, float(gap[deep])))
    return found


def foremost(points: Array) -> _Point:
    """Foremost point, the first of several; the middle of it where it stands plumb."""
    x, z = points.T
    first = int(np.argmin(x))
    last = first
    while last + 1 < len(x) and x[last + 1] <= x[first] + _TIE_MM:
        last += 1
    return float(x[first]), 0.5 * float(z[first] + z[last])


def _bonnet_angle(points: Array, bonnet: Mask | None, top: int) -> tuple[float | None, str]:
    if bonnet is not None:
        chosen = np.flatnonzero(bonnet)
        first, last = int(chosen[0]), int(chosen[-1])
        basis = "points labelled bonnet"
    else:
        first = last = top
        steps = np.diff(points[top:], axis=0).tolist()
        for i, (along, up) in enumerate(steps):
            if math.degrees(math.atan2(up, along)) > _STEEP_RISE_DEG and i > 0:
                break
            last = top + i + 1
        basis = f"no label: from the face top to the first rise over {_STEEP_RISE_DEG:g} deg"
    if last == first or points[last, 0] <= points[first, 0]:
        return None, "no bonnet in this section"
    rise = points[last] - points[first]
    return math.degrees(math.atan2(rise[1], rise[0])), basis

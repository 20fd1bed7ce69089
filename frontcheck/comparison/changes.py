"""One quantity in two fronts, and how it changed from A to B."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import refuse
from frontcheck.findings.abbreviations import ABBREVIATIONS
from frontcheck.lines.statuses import NOT_KNOWN, OPEN_END, STATUS_NAMES
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.front_line import Pair, Spot
    from frontcheck.lines.lined_front import LinedFront, Matched, Side
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.zones.front_zones import FrontZones

COVERAGE: Final = 2.0
"""A change is beyond the uncertainty when it is larger than this many times its standard
uncertainty: coverage factor 2, a level of about 95 % (JCGM 100:2008, Guide to the expression of
uncertainty in measurement, from memory)."""


@one_line
@dataclass(frozen=True)
class Change:
    """One quantity in A and in B."""

    quantity: str  # Name with its unit, such as ``UBRL_z_mm``
    words: str  # The same in words
    unit: str  # ``mm``, ``deg`` or ``m2``
    a: float | None  # The values; None where missing
    b: float | None  # The values; None where missing
    change: float | None  # B minus A; None where they cannot be compared
    status_a: str = ""  # Status in A of the line it belongs to
    status_b: str = ""  # Status in B of the line it belongs to
    reason: str = ""  # Why the two cannot be compared
    u: float | None = None  # Standard uncertainty of the change; None where no draws were made
    chance_less: float | None = None
    chance_more: float | None = None
    open_end: str = ""  # Where the value is not known, because of an open end: A, B or A and B

    @property
    def status_changed(self) -> bool:
        """Whether the line is formed in another way in B than in A."""
        return self.status_a != self.status_b

    @property
    def ways(self) -> tuple[str, str]:
        """How the line is formed in A and in B, in words."""
        a, b = (
            ", ".join(STATUS_NAMES.get(each, each) for each in status.split(", "))
            for status in (self.status_a, self.status_b)
        )
        return a, b

    @property
    def differs(self) -> bool:
        """Whether anything is different in B: the value, the status, or that it is there."""
        if (self.a is None) != (self.b is None) or (self.open_end and self.a != self.b):
            return True
        return self.status_changed or (self.change is not None and self.change != 0.0)

    @property
    def beyond(self) -> bool | None:
        """Whether the change is beyond its uncertainty; None where that is not known."""
        if self.u is None or self.change is None:
            return None
        return abs(self.change) > COVERAGE * self.u

    def with_draws(self, u: float | None, less: float, more: float) -> Change:
        """Return the same change with what draws say of it, where there is one."""
        if self.open_end:
            return self
        return replace(self, u=u, chance_less=less, chance_more=more)


def change_of(
    quantity: str,
    words: str,
    a: float | None,
    b: float | None,
    *,
    status: tuple[str, str] = ("", ""),
    missing: tuple[str, str] = ("", ""),
    barred: str = "",
    ends: tuple[bool, bool] | None = None,
) -> Change:
    """Return the change of one quantity; none from or to a value that an open end could change."""
    unit = quantity.rpartition("_")[2]
    open_in = ends or [each.startswith(OPEN_END) for each in status]
    where = " and ".join(name for name, is_open in zip("AB", open_in, strict=True) if is_open)
    reason = missing_reason(a is None, b is None, *missing)
    reason = reason or (f"{NOT_KNOWN} in {where}" if where else barred)
    change = None if reason or a is None or b is None else b - a + 0.0
    return Change(quantity, words, unit, a, b, change, *status, reason, open_end=where)


def missing_reason(no_a: bool, no_b: bool, why_a: str = "", why_b: str = "") -> str:
    """Return why something that is missing somewhere cannot be compared."""
    sides = [
        f"{name}: {why}" if why else name
        for name, gone, why in (("A", no_a, why_a), ("B", no_b, why_b))
        if gone
    ]
    if len(sides) == 2 and why_a == why_b:
        sides = [f"A and B: {why_a}" if why_a else "A and B"]
    return f"missing in {'; in '.join(sides)}" if sides else ""


# Where setbacks are counted from, so that two fronts can be laid over each other.

Align = Literal["none", "foremost"]
ALIGNMENTS: Final[tuple[Align, ...]] = ("none", "foremost")

_LOCAL: Final = (
    "setbacks are from a datum set anew at each station (datum: local), so A and B have no place "
    "in common; align by their foremost points"
)


@dataclass(frozen=True)
class Origins:
    """Setback that counts as 0 at one station."""

    a: float  # In A [mm]
    b: float  # In B [mm]
    barred: str  # Why setbacks of A and B cannot be compared; empty when they can

    def points(self, matched: Matched) -> tuple[Array, Array]:
        """Return both contours with setbacks counted from here."""
        return (
            matched.a.section.points - np.array([self.a, 0.0]),
            matched.b.section.points - np.array([self.b, 0.0]),
        )


class Alignment:
    """How the fronts are laid over each other."""

    def __init__(self, a: LinedFront, b: LinedFront, align: Align) -> None:
        if align not in ALIGNMENTS:
            raise refuse("compare.alignment", align=align, known=ALIGNMENTS)
        self.align: Align = align
        self.local = "local" in (a.front.datum, b.front.datum)
        self._whole = (_foremost(a), _foremost(b)) if align == "foremost" else (0.0, 0.0)

    @property
    def words(self) -> str:
        """How setbacks are compared, as a sentence."""
        if self.align == "none":
            return (
                "Setbacks are compared as measured, each front from its own datum line: no shift."
                if not self.local
                else "Setbacks are not compared: a front has a datum set anew at each station."
            )
        if self.local:
            return (
                "Setbacks are counted from the foremost bumper point of each section, "
                "since a front has a datum set anew at each station."
            )
        a, b = self._whole
        return (
            "Setbacks are counted from the foremost bumper point of each whole front: A is "
            f"shifted by {-a + 0.0:g} mm and B by {-b + 0.0:g} mm."
        )

    @property
    def whole(self) -> Origins:
        """Origins of the whole fronts."""
        return Origins(*self._whole, _LOCAL if self.local else "")

    def at(self, matched: Matched) -> Origins:
        """Return the origins at one station."""
        if not self.local:
            return self.whole
        if self.align == "none":
            return Origins(0.0, 0.0, _LOCAL)
        return Origins(_own_foremost(matched.a), _own_foremost(matched.b), "")


def _own_foremost(side: Side) -> float:
    if side.station.foremost is None:
        return float(side.section.x.min())
    return side.station.foremost[0]


def _foremost(lined: LinedFront) -> float:
    """Setback of the foremost bumper point of all sections, of any point where there is none."""
    found = [s.foremost[0] for s in lined.stations if s.foremost is not None]
    return min(found or [float(section.x.min()) for section in lined.front.sections])


# Changes of lines, wrap-around points and face of one station.

_HEIGHTS: Final = {
    "LBRL": "lower bumper height",
    "UBRL": "upper bumper height",
    "BLERL": "bonnet leading edge height",
}
_FACE: Final = (
    ("overhang_mm", "overhang of the face"),
    ("undercut_mm", "setback of the lower lip behind the upper lip"),
    ("recess_depth_mm", "depth of the recess between the lips"),
    ("recess_behind_upper_lip_mm", "recess behind the upper lip"),
    ("recess_behind_lower_lip_mm", "recess behind the lower lip"),
    ("mean_face_angle_deg", "mean inclination of the face from vertical"),
    ("bonnet_angle_deg", "mean rise of the bonnet"),
)


def line_changes(matched: Matched, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of all lines and wrap-around points of a station, and of its lead."""
    a, b = matched.a.station, matched.b.station
    out: list[Change] = []
    for one, two in zip(a.lines, b.lines, strict=True):
        out += _place(one, two, one.name, ABBREVIATIONS[one.name], origins)
    out.append(
        change_of(
            "BLERL_edge_angle_deg",
            "inclination of the straight edge that forms BLERL",
            a.BLERL.edge_angle_deg,
            b.BLERL.edge_angle_deg,
            status=(a.BLERL.status, b.BLERL.status),
            missing=(a.BLERL.reason, b.BLERL.reason),
        )
    )
    out.append(
        change_of(
            "bumper_lead_mm",
            "bumper lead, x of BLERL less x of UBRL",
            a.bumper_lead,
            b.bumper_lead,
            missing=("UBRL or BLERL is missing", "UBRL or BLERL is missing"),
            ends=(a.lead_open_end, b.lead_open_end),
        )
    )
    for mark in a.wads:
        other = b.wad(mark.distance)
        out += _place(mark, other, mark.name, f"point at {mark.name}", origins)
    return tuple(out)


def _place(
    one: LinePoint | WadPoint,
    two: LinePoint | WadPoint,
    name: str,
    words: str,
    origins: Origins,
) -> tuple[Change, Change]:
    status, missing = (_status(one), _status(two)), (one.reason, two.reason)
    stem = name.replace(" ", "_")
    x_a = None if one.x is None else one.x - origins.a
    x_b = None if two.x is None else two.x - origins.b
    height = f"{_HEIGHTS[name]}, z of {name}" if name in _HEIGHTS else f"z of the {words}"
    return (
        change_of(
            f"{stem}_x_mm", f"x of the {words}", x_a, x_b,
            status=status, missing=missing, barred=origins.barred,
        ),
        change_of(f"{stem}_z_mm", height, one.z, two.z, status=status, missing=missing),
    )  # fmt: skip


def _status(point: LinePoint | WadPoint) -> str:
    bridged = getattr(point, "bridged", None)
    return f"{point.status}, bridged" if bridged else point.status


def face_changes(matched: Matched, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of the descriptors of the face of a station."""
    a, b = matched.a.section.face, matched.b.section.face
    out = [
        change_of(
            "face_foremost_x_mm", "x of the foremost point of the face",
            a.foremost[0] - origins.a, b.foremost[0] - origins.b, barred=origins.barred,
        ),
        change_of(
            "face_foremost_z_mm", "z of the foremost point of the face",
            a.foremost[1], b.foremost[1],
        ),
    ]  # fmt: skip
    for name, words in _FACE:
        why = "no bonnet in the section" if name.startswith("bonnet") else "the face has no recess"
        out.append(change_of(name, words, getattr(a, name), getattr(b, name), missing=(why, why)))
    return tuple(out)


# Changes of what belongs to a whole front: corners, test areas, thirds, headform areas.


def zone_changes(a: FrontZones, b: FrontZones, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of all zones."""
    out: list[Change] = []
    out += _pair("bumper corner", a.bumper_corners.chosen, b.bumper_corners.chosen, origins)
    one, two = a.bumper_test_area, b.bumper_test_area
    for name, words in (("y_min", "left end"), ("y_max", "right end"), ("width", "width")):
        out.append(
            change_of(
                f"bumper_test_area_{name}_mm", f"{words} of the bumper test area",
                getattr(one, name), getattr(two, name), status=(one.status, two.status),
                missing=(one.reason, two.reason),
            )
        )  # fmt: skip
    for name, thirds, others in (
        ("bumper", a.bumper_thirds, b.bumper_thirds),
        ("leading_edge", a.leading_edge_thirds, b.leading_edge_thirds),
    ):
        out.append(
            change_of(
                f"{name}_thirds_length_mm",
                f"length of tape over the three thirds of the {name.replace('_', ' ')}",
                thirds.length, others.length, status=(thirds.status, others.status),
                missing=(thirds.reason, others.reason),
            )
        )  # fmt: skip
    out += _pair(
        "corner reference point", a.corner_reference_points, b.corner_reference_points, origins
    )
    out += _pair("rear corner", a.rear_corners, b.rear_corners, origins)
    for area, other in ((a.child_area, b.child_area), (a.adult_area, b.adult_area)):
        out.append(
            change_of(
                f"{area.name}_headform_area_m2", f"area of the {area.name} headform area",
                area.area_m2, other.area_m2, status=(area.status, other.status),
                missing=(area.reason, other.reason),
            )
        )  # fmt: skip
    return tuple(out)


def _pair(name: str, a: Pair, b: Pair, origins: Origins) -> list[Change]:
    out: list[Change] = []
    for side, one, two in (("left", a.left, b.left), ("right", a.right, b.right)):
        for k, axis in enumerate("xyz"):
            value_a, value_b = _coordinate(one, k), _coordinate(two, k)
            if axis == "x":
                value_a = None if value_a is None else value_a - origins.a
                value_b = None if value_b is None else value_b - origins.b
            out.append(
                change_of(
                    f"{name.replace(' ', '_')}_{side}_{axis}_mm",
                    f"{axis} of the {side} {name}", value_a, value_b,
                    status=(one.status, two.status), missing=(one.reason, two.reason),
                    barred=origins.barred if axis == "x" else "",
                )
            )  # fmt: skip
    return out


def _coordinate(spot: Spot, k: int) -> float | None:
    return None if spot.point is None else spot.point[k]

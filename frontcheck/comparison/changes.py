"""One quantity in two fronts, and how it changed from A to B."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.errors import refuse
from frontcheck.findings.abbreviations import ABBREVIATIONS
from frontcheck.lines.statuses import NOT_KNOWN, OPEN_END, STATUS_NAMES
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.front_line import Pair
    from frontcheck.lines.lined_front import LinedFront, Matched, Side
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.surface.section import Section
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
        return self.laid(matched.a.section, matched.b.section)

    def laid(self, a: Section, b: Section) -> tuple[Array, Array]:
        """Return the same of two sections."""
        return a.points - np.array([self.a, 0.0]), b.points - np.array([self.b, 0.0])


def change_of(
    quantity: str,
    words: str,
    a: float | None,
    b: float | None,
    *,
    status: tuple[str, str] = ("", ""),
    missing: tuple[str, str] = ("", ""),
    origins: Origins | None = None,
    ends: tuple[bool, bool] | None = None,
) -> Change:
    """Return the change of one quantity; none from or to a value that an open end could change."""
    # With origins it is a setback, which counts from there.
    if origins is not None:
        a, b = None if a is None else a - origins.a, None if b is None else b - origins.b
    unit = quantity.rpartition("_")[2]
    open_in = ends or [each.startswith(OPEN_END) for each in status]
    where = " and ".join(name for name, is_open in zip("AB", open_in, strict=True) if is_open)
    reason = missing_reason(a is None, b is None, *missing)
    reason = reason or (f"{NOT_KNOWN} in {where}" if where else origins.barred if origins else "")
    change = None if reason or a is None or b is None else b - a + 0.0
    return Change(quantity, words, unit, a, b, change, *status, reason, open_end=where)


def _between(
    quantity: str, words: str, one: Any, two: Any, value: str, origins: Origins | None = None
) -> Change:
    """The change of an attribute of lines, places or areas that have a status and a reason."""
    of, status = attrgetter(value), (_status(one), _status(two))
    missing = (one.reason, two.reason)
    return change_of(
        quantity, words, of(one), of(two), status=status, missing=missing, origins=origins
    )


def _status(one: Any) -> str:
    return f"{one.status}, bridged" if getattr(one, "bridged", None) else str(one.status)


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
        if self.align == "none" and self.local:
            return "Setbacks are not compared: a front has a datum set anew at each station."
        if self.align == "none":
            return (
                "Setbacks are compared as measured, each front from its own datum line: no shift."
            )
        if self.local:
            return (
                "Setbacks are counted from the foremost bumper point of each section, "
                "since a front has a datum set anew at each station."
            )
        a, b = (0.0 - at for at in self._whole)
        return (
            "Setbacks are counted from the foremost bumper point of each whole front: A is "
            f"shifted by {a:g} mm and B by {b:g} mm."
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
    foremost = side.station.foremost
    return float(side.section.x.min()) if foremost is None else foremost[0]


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
        out += _place(one, two, ABBREVIATIONS[one.name], origins)
    words = "inclination of the straight edge that forms BLERL"
    out.append(_between("BLERL_edge_angle_deg", words, a.BLERL, b.BLERL, "edge_angle_deg"))
    why, ends = ("UBRL or BLERL is missing",) * 2, (a.lead_open_end, b.lead_open_end)
    words, leads = "bumper lead, x of BLERL less x of UBRL", (a.bumper_lead, b.bumper_lead)
    out.append(change_of("bumper_lead_mm", words, *leads, missing=why, ends=ends))
    for mark in a.wads:
        out += _place(mark, b.wad(mark.distance), f"point at {mark.name}", origins)
    return tuple(out)


def _place(
    one: LinePoint | WadPoint, two: LinePoint | WadPoint, words: str, origins: Origins
) -> tuple[Change, Change]:
    stem = one.name.replace(" ", "_")
    height = f"{_HEIGHTS[stem]}, z of {stem}" if stem in _HEIGHTS else f"z of the {words}"
    return (
        _between(f"{stem}_x_mm", f"x of the {words}", one, two, "x", origins),
        _between(f"{stem}_z_mm", height, one, two, "z"),
    )


def face_changes(matched: Matched, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of the descriptors of the face of a station."""
    a, b = matched.a.section.face, matched.b.section.face
    out = []
    for axis, one, two, counted in zip("xz", a.foremost, b.foremost, (origins, None), strict=True):
        words = f"{axis} of the foremost point of the face"
        out.append(change_of(f"face_foremost_{axis}_mm", words, one, two, origins=counted))
    for name, words in _FACE:
        why = "no bonnet in the section"
        missing = (why, why) if name.startswith("bonnet") else (a.no_recess, b.no_recess)
        out.append(change_of(name, words, getattr(a, name), getattr(b, name), missing=missing))
    return tuple(out)


# Changes of what belongs to a whole front: corners, test areas, thirds, headform areas.


_ENDS: Final = (("y_min", "left end"), ("y_max", "right end"), ("width", "width"))


def zone_changes(a: FrontZones, b: FrontZones, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of all zones."""
    out = _pair("bumper corner", a.bumper_corners.chosen, b.bumper_corners.chosen, origins)
    areas = (a.bumper_test_area, b.bumper_test_area)
    for name, words in _ENDS:
        said = f"{words} of the bumper test area"
        out.append(_between(f"bumper_test_area_{name}_mm", said, *areas, name))
    for name in ("bumper_thirds", "leading_edge_thirds"):
        of = attrgetter(name)
        said = name.removesuffix("_thirds").replace("_", " ")
        said = f"length of tape over the three thirds of the {said}"
        out.append(_between(f"{name}_length_mm", said, of(a), of(b), "length"))
    for name in ("corner reference point", "rear corner"):
        of = attrgetter(f"{name.replace(' ', '_')}s")
        out += _pair(name, of(a), of(b), origins)
    for name in ("child", "adult"):
        of, said = attrgetter(f"{name}_area"), f"area of the {name} headform area"
        out.append(_between(f"{name}_headform_area_m2", said, of(a), of(b), "area_m2"))
    return tuple(out)


def _pair(name: str, a: Pair, b: Pair, origins: Origins) -> list[Change]:
    stem, out = name.replace(" ", "_"), []
    for side, one, two in (("left", a.left, b.left), ("right", a.right, b.right)):
        status, missing = (one.status, two.status), (one.reason, two.reason)
        for k, axis in enumerate("xyz"):
            at = (spot.point and spot.point[k] for spot in (one, two))
            counted = None if k else origins
            out.append(
                change_of(
                    f"{stem}_{side}_{axis}_mm", f"{axis} of the {side} {name}", *at,
                    status=status, missing=missing, origins=counted,
                )
            )  # fmt: skip
    return out

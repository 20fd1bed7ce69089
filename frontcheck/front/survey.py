"""What a measurer notes beside the offsets: attitude of the vehicle, tools, checks.

Plain values only; `frontcheck.sure.corrections` removes what is known, `frontcheck.sure`
draws what is unsure, `frontcheck.sure.closure` compares what was measured twice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import refuse
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array

MAX_ERROR_LENGTH_MM: Final = 1000.0
"""Errors alike over more than this are those of a whole station [mm]."""
MAX_SCALE_PERCENT: Final = 10.0
"""A scale less sure than this is none [%]."""
CHECK_LINES: Final = ("UBRL", "LBRL", "BLERL")
"""Lines whose height can be checked by touching the car with a straight edge."""


@dataclass(frozen=True)
class ArchHeights:
    """Heights of the wheel arches above the ground, above the wheel centres."""

    front_measured_mm: float  # Heights when the offsets were measured [mm]
    rear_measured_mm: float  # Heights when the offsets were measured [mm]
    front_normal_mm: float  # Heights in normal ride attitude, laden as the rules ask [mm]
    rear_normal_mm: float  # Heights in normal ride attitude, laden as the rules ask [mm]
    wheelbase_mm: float  # Distance between the wheel centres [mm]
    front_axle_mm: float  # Setback of the front wheel centre from the datum [mm]

    def __post_init__(self) -> None:
        """Check the lengths."""
        lengths = {
            "front arch, measured": self.front_measured_mm,
            "rear arch, measured": self.rear_measured_mm,
            "front arch, normal": self.front_normal_mm,
            "rear arch, normal": self.rear_normal_mm,
            "wheelbase": self.wheelbase_mm,
        }
        for name, value in lengths.items():
            if not (math.isfinite(value) and 0.0 < value < 1e5):
                raise refuse("survey.positive", name=name, value=value)
        if not math.isfinite(self.front_axle_mm):
            raise refuse("survey.axle", value=self.front_axle_mm)
        for name, change in (
            ("front", self.front_normal_mm - self.front_measured_mm),
            ("rear", self.rear_normal_mm - self.rear_measured_mm),
        ):
            if abs(change) > 400.0:
                raise refuse("survey.arch_change", name=name, change=abs(change))


@dataclass(frozen=True)
class ReferenceMark:
    """A primary reference mark of the vehicle, whose design height its maker states."""

    # UN R127 02 series, 2.31 (text read): holes, surfaces, marks and signs on the body.
    name: str
    x_mm: float  # Setback from the datum [mm]
    measured_mm: float  # Height above the ground when the offsets were measured [mm]
    design_mm: float  # Height above the ground in design position [mm]
    key: str = "mark"  # Key of the line that states it
    source_row: int | None = None  # Row of the file that states it

    def __post_init__(self) -> None:
        """Check the lengths."""
        if not math.isfinite(self.x_mm):
            raise refuse("survey.mark_setback", name=self.name, value=self.x_mm)
        for what, value in (("measured", self.measured_mm), ("design", self.design_mm)):
            if not 0.0 <= value < 1e5:
                raise refuse("survey.mark_height", name=self.name, what=what, value=value)

    @property
    def deviation_mm(self) -> float:
        """How far it stood above its design height [mm]."""
        return self.measured_mm - self.design_mm


@dataclass(frozen=True)
class MeasuredCheck:
    """Something measured on the car a second way."""

    kind: Literal["edge", "tape"]
    station: float  # Station [mm]
    measured_mm: float  # What was measured [mm]
    u_mm: float  # Its standard uncertainty [mm]
    line: str = ""  # For an edge: one of `CHECK_LINES`
    row: int | None = None  # For a tape: row of the station, counted from 1
    source_row: int | None = None  # Row of the file that states it

    def __post_init__(self) -> None:
        """Check what is checked."""
        if self.kind == "edge" and self.line not in CHECK_LINES:
            raise refuse("survey.check_line", line=self.line, known=CHECK_LINES)
        if self.kind == "tape" and (self.row is None or self.row < 1):
            raise refuse("survey.check_row", row=self.row)
        for name, value in (("measured", self.measured_mm), ("uncertainty", self.u_mm)):
            if not (math.isfinite(value) and value >= 0.0):
                raise refuse("survey.check_value", name=name, value=value)

    @property
    def name(self) -> str:
        """What was checked, in words."""
        if self.kind == "edge":
            return f"{self.line} height"
        return f"tape to row {self.row}"


@one_line
@dataclass(frozen=True)
class Survey:
    """What the measurer noted beside the offsets."""

    square_tilt_deg: float = 0.0
    datum_u_mm: float = 0.0  # Standard uncertainty of datum [mm], tilt and slope [deg]
    square_tilt_u_deg: float = 0.0  # Standard uncertainty of datum [mm], tilt and slope [deg]
    ground_slope_u_deg: float = 0.0  # Standard uncertainty of datum [mm], tilt and slope [deg]
    ride_height_u_mm: float = 0.0  # Standard uncertainty of the attitude [mm], [deg]
    pitch_u_deg: float = 0.0  # Standard uncertainty of the attitude [mm], [deg]
    error_length_mm: float = 0.0  # How far along the contour errors of rows are alike [mm]
    scale_u_percent: float = 0.0  # Standard uncertainty of the scale of the measurement [%]
    arches: ArchHeights | None = None
    checks: tuple[MeasuredCheck, ...] = ()  # What was measured a second way
    marks: tuple[ReferenceMark, ...] = ()  # Primary reference marks

    def __post_init__(self) -> None:
        """See that the attitude is stated one way only."""
        if self.marks and self.arches is not None:
            mark = self.marks[0]
            raise refuse("survey.marks_arches", None, mark.source_row, column=mark.key)


def slope_note(slope_deg: float) -> str:
    """Return what a reader says of sloping ground, as long as nobody has levelled the offsets."""
    return f"The ground slope of {slope_deg:g} deg is kept; the offsets were not corrected for it."


# Turning, leaning and shifting of sections: what bad ground, a leaning square and a laden car do.
#
# Arrays only. Angles may differ from copy to copy: every function takes a leading batch axis.


def untilted(points: Array, tilt_deg: ArrayLike) -> Array:
    """Return where points are whose offsets were read from a leaning square."""
    # The heights are marks along the upright of the square, whose foot stands on the datum; the
    # setbacks are read level from it. A mark h on an upright that leans rearward by t is at
    # height h cos t and h sin t behind the datum.
    tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))[..., None]
    mark = points[..., 1]
    return np.stack([points[..., 0] + mark * np.sin(tilt), mark * np.cos(tilt)], axis=-1)


def turned(
    points: Array,
    angle_deg: ArrayLike,
    pivot: tuple[float, float] = (0.0, 0.0),
) -> Array:
    """Return points turned about a pivot in the side view."""
    # Turning by the slope of the ground about the foot of the datum levels offsets that were
    # taken with a plumb square on ground which rises rearward by that slope.
    angle = np.radians(np.asarray(angle_deg, dtype=np.float64))[..., None]
    dx, dz = points[..., 0] - pivot[0], points[..., 1] - pivot[1]
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.stack([pivot[0] + dx * cosine + dz * sine, pivot[1] + dz * cosine - dx * sine], -1)


@one_line
@dataclass(frozen=True)
class Attitude:
    """How a front was turned and lifted from where it was measured."""

    basis: Literal["as measured", "wheel arches", "primary reference marks", "front file"] = (
        "as measured"
    )
    pitch_deg: float = 0.0  # Turned by this about the pivot [deg], front up positive
    lift_mm: float = 0.0  # And then lifted by this [mm]
    pivot: tuple[float, float] = (0.0, 0.0)  # x and z of what it was turned about [mm]

    def of(self, points: Array) -> Array:
        """Return where points come to lie."""
        found = turned(points, self.pitch_deg, self.pivot)
        found[..., 1] += self.lift_mm
        return found

    def undone(self, points: Array) -> Array:
        """Return where points lay before."""
        return turned(points - (0.0, self.lift_mm), -self.pitch_deg, self.pivot)

    @property
    def words(self) -> str:
        """What was done, with its numbers."""
        lift, pitch = self.lift_mm, self.pitch_deg
        raised = f"{'lifted' if lift >= 0.0 else 'lowered'} by {abs(lift):.2f} mm"
        if not pitch:
            return raised
        way = "up" if pitch > 0.0 else "down"
        return f"turned by {abs(pitch):.4f} deg, front {way}, and {raised} at the datum"

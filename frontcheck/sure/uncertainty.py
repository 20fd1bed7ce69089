"""How unsure each step of a hand measurement is: the settings of a tolerance run."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import refuse
from frontcheck.front.survey import MAX_ERROR_LENGTH_MM, MAX_SCALE_PERCENT
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.front.front import Front

_MAX_MM: Final = 200.0
_MAX_DEG: Final = 15.0
_LIMITS: Final = {
    "pitch_pivot_mm": (-1e5, 1e5),
    "error_length_mm": (0.0, MAX_ERROR_LENGTH_MM),
    "scale_u_percent": (0.0, MAX_SCALE_PERCENT),
}


@one_line
@dataclass(frozen=True)
class Uncertainty:
    """Standard uncertainties (one standard deviation) of what a measurement rests on.

    What is not given is 0: taken as exact. Errors are normal and independent of each
    other; within one of the common ones the whole station or vehicle moves together.

    Parameters
    ----------
    height_u_mm, setback_u_mm : float, optional
        Of every row that has none of its own in the section [mm]; independent from row
        to row, or alike over `error_length_mm`.
    datum_u_mm : float, optional
        Place of the vertical datum at a station [mm]; one error for a whole station.
    square_tilt_u_deg : float, optional
        Lean of the square from plumb [deg]; one error for a whole station, whose
        setbacks it changes in proportion to height.
    ground_slope_u_deg : float, optional
        Slope of the ground along the vehicle [deg]; one error for the whole vehicle,
        which turns about the foot of the datum.
    ride_height_u_mm : float, optional
        Height of the body at `pitch_pivot_mm` [mm]; one error for the whole vehicle.
    pitch_u_deg : float, optional
        Pitch of the body about `pitch_pivot_mm` [deg]; one error for the whole vehicle.
    pitch_pivot_mm : float, optional
        Setback of mid-wheelbase from the datum [mm]. There, ride height and pitch are
        independent when both arch heights are equally unsure. The default suits a front
        overhang of 750 mm and a wheelbase of 2500 mm (common practice).
    error_length_mm : float, optional
        How far along the contour the errors of rows are alike [mm]: their correlation at a
        distance d is exp(-d^2 / (2 error_length^2)). Heights and setbacks err apart, and so
        do stations. 0: every row by itself.
    scale_u_percent : float, optional
        Scale of the whole measurement [%], as of a scan without a taped length; one error
        for the whole vehicle, which heights and setbacks share about ground and datum.

    Raises
    ------
    InputError
        If a value is negative, not finite, or absurdly large (200 mm, 15 deg, 10 %; an error
        length of 1000 mm, and below 1 mm it is none).

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.Uncertainty(height_u_mm=2.0, setback_u_mm=1.5).setback_u_mm
    1.5
    """

    height_u_mm: float = 0.0
    setback_u_mm: float = 0.0
    datum_u_mm: float = 0.0
    square_tilt_u_deg: float = 0.0
    ground_slope_u_deg: float = 0.0
    ride_height_u_mm: float = 0.0
    pitch_u_deg: float = 0.0
    pitch_pivot_mm: float = 2000.0
    error_length_mm: float = 0.0
    scale_u_percent: float = 0.0

    def __post_init__(self) -> None:
        """Check every value."""
        for item in fields(self):
            value = getattr(self, item.name)
            unit = item.name.rpartition("_")[2]
            low, high = _LIMITS.get(item.name, (0.0, _MAX_DEG if unit == "deg" else _MAX_MM))
            if not (math.isfinite(value) and low <= value <= high):
                raise refuse(
                    "sure.standard", name=item.name, value=value, low=low, high=high, unit=unit
                )

    @classmethod
    def of(cls, front: Front) -> Uncertainty:
        """Return what the survey of a front states of its own uncertainty.

        Rows keep what their section says; the values that its file states for the whole
        measurement are taken from ``front.survey``.

        Parameters
        ----------
        front : Front
            The front.

        Returns
        -------
        Uncertainty
            The settings; 0 for what is not stated.
        """
        survey = front.survey
        return cls(
            datum_u_mm=survey.datum_u_mm,
            square_tilt_u_deg=survey.square_tilt_u_deg,
            ground_slope_u_deg=survey.ground_slope_u_deg,
            ride_height_u_mm=survey.ride_height_u_mm,
            pitch_u_deg=survey.pitch_u_deg,
            error_length_mm=survey.error_length_mm,
            scale_u_percent=survey.scale_u_percent,
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the settings as plain values.

        Returns
        -------
        dict
            Value by name.
        """
        return asdict(self)


HAND_TOOLS: Final = Uncertainty(
    height_u_mm=2.0,
    setback_u_mm=1.5,
    datum_u_mm=1.0,
    square_tilt_u_deg=0.1,
    ground_slope_u_deg=0.1,
    ride_height_u_mm=5.0,
    pitch_u_deg=0.1,
)
"""What square, spirit level and tape give in a workshop; see `SOURCES`."""

SOURCES: Final = {
    "height_u_mm": "common practice: tape held by hand against a curved surface",
    "setback_u_mm": "common practice: rule read level from the square",
    "datum_u_mm": "common practice: sag and thickness of a string line",
    "square_tilt_u_deg": "common practice: 1.7 mm in 1 m, a square plumbed by eye on a "
    "spirit level",
    "ground_slope_u_deg": "common practice: workshop floor, 1.7 mm in 1 m",
    "ride_height_u_mm": "common practice: tyre pressure, load, settling of the springs",
    "pitch_u_deg": "common practice: 4 mm between the axles of a small car",
}
"""Where each value of `HAND_TOOLS` comes from."""

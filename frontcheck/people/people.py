"""Reference people: heights of knee, hip, waist and centre of mass, each with its source.

Heights are above the floor, standing, without shoes. Percentiles are those of each measure
taken by itself: nobody has all measures of "woman p5" at once. They are army personnel of
one country in 2012; another population differs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from frontcheck.errors import InputError

Provenance = Literal["text read", "from memory", "from memory, unconfirmed"]

FRACTIONS: Final = MappingProxyType(
    {"ankle": 0.039, "knee": 0.285, "hip": 0.530, "centre_of_mass": 0.573}
)
"""Heights as fractions of stature: segments after Drillis & Contini, via Winter,
Biomechanics and Motor Control of Human Movement; the centre of mass from Winter's table."""

_USUAL_CENTRE: Final = (0.55, 0.57)
"""Range usually given for the height of the centre of mass as a fraction of stature."""

_SEGMENTS: Final = "Drillis & Contini, via Winter"
_ANSUR: Final = "Gordon et al. 2014, 2012 Anthropometric Survey of U.S. Army Personnel"
_CDC: Final = "CDC growth charts, stature for age, 72.5 months, P50"
# The numbers came without a note on who read the tables; the weaker state is claimed.
_TABLE_PROVENANCE: Final[Provenance] = "from memory"
_LEAST_STATURE, _MOST_STATURE = 700.0, 2500.0


@dataclass(frozen=True)
class BodyHeight:
    """Height of one landmark of a standing person above the floor."""

    value_mm: float | None  # Height [mm]; None when no published value is at hand
    source: str  # Where it comes from; says so where a fraction of stature is used
    provenance: Provenance  # Whether that source was read
    from_fraction: bool = False  # Whether it is a fraction of stature and not a measured height
    reason: str = ""  # Why there is no value
    usual_range_mm: tuple[float, float] | None = None

    def known(self) -> float:
        """Return the height where it has to be known."""
        if self.value_mm is None:
            raise ValueError(self.reason)
        return self.value_mm


@dataclass(frozen=True)
class Person:
    """One reference person, standing.

    Parameters
    ----------
    name : str
        Such as ``woman p50``.
    stature : BodyHeight
        Body height.
    knee : BodyHeight
        Mid-patella, or knee joint by fraction.
    hip : BodyHeight
        Trochanterion, or hip joint by fraction.
    waist : BodyHeight
        At the navel (omphalion).
    centre_of_mass : BodyHeight
        Of the whole body.
    ankle : BodyHeight
        Ankle joint.
    """

    name: str
    stature: BodyHeight
    knee: BodyHeight
    hip: BodyHeight
    waist: BodyHeight
    centre_of_mass: BodyHeight
    ankle: BodyHeight

    @property
    def heights(self) -> dict[str, BodyHeight]:
        """Every landmark by name, from the floor up."""
        return {
            "ankle": self.ankle,
            "knee": self.knee,
            "hip": self.hip,
            "centre of mass": self.centre_of_mass,
            "waist": self.waist,
            "stature": self.stature,
        }


def _fraction(name: str, stature: float, note: str = "") -> BodyHeight:
    share = FRACTIONS[name]
    source = f"{share:g} of stature ({_SEGMENTS}){note}"
    if name != "centre_of_mass":
        return BodyHeight(share * stature, source, "from memory", from_fraction=True)
    low, high = _USUAL_CENTRE
    source = f"{share:g} of stature (Winter's table; usual range {low:g} to {high:g}){note}"
    usual = (low * stature, high * stature)
    return BodyHeight(
        share * stature, source, "from memory", from_fraction=True, usual_range_mm=usual
    )


def _adult(name: str, stature: float, knee: float, hip: float, waist: float) -> Person:
    def table(value: float, what: str) -> BodyHeight:
        return BodyHeight(value, f"{_ANSUR}: {what}", _TABLE_PROVENANCE)

    return Person(
        name=name,
        stature=table(stature, "stature"),
        knee=table(knee, "knee height, mid-patella"),
        hip=table(hip, "trochanterion height"),
        waist=table(waist, "waist height, omphalion"),
        centre_of_mass=_fraction("centre_of_mass", stature),
        ankle=_fraction("ankle", stature),
    )


def _by_fractions(name: str, stature: BodyHeight, note: str = "") -> Person:
    height = stature.known()
    return Person(
        name=name,
        stature=stature,
        knee=_fraction("knee", height, note),
        hip=_fraction("hip", height, note),
        waist=BodyHeight(
            None,
            "none",
            "from memory",
            reason="the published segment fractions give no waist height",
        ),
        centre_of_mass=_fraction("centre_of_mass", height, note),
        ankle=_fraction("ankle", height, note),
    )


def person_of_stature(stature_mm: float, name: str = "") -> Person:
    """Return a person of any stature, with landmarks by published fractions of stature.

    Parameters
    ----------
    stature_mm : float
        Stature [mm].
    name : str, optional
        Name; made from the stature when not given.

    Returns
    -------
    Person
        Knee, hip, ankle and centre of mass by fraction; no waist height.

    Raises
    ------
    InputError
        If the stature is not a number between 700 and 2500 mm.
    """
    if not (math.isfinite(stature_mm) and _LEAST_STATURE <= stature_mm <= _MOST_STATURE):
        raise InputError(
            f"stature {stature_mm:g} mm",
            expected=f"{_LEAST_STATURE:g} to {_MOST_STATURE:g} mm",
            todo="give the stature of a standing person in mm",
        )
    given = BodyHeight(float(stature_mm), "given by the user", "text read")
    return _by_fractions(name or f"stature {stature_mm:g} mm", given)


_CDC_BOYS, _CDC_GIRLS = 1156.6, 1150.1

CHILD: Final = _by_fractions(
    "six-year-old",
    BodyHeight(
        (_CDC_BOYS + _CDC_GIRLS) / 2.0,
        f"{_CDC}: mean of boys {_CDC_BOYS:g} and girls {_CDC_GIRLS:g} mm",
        _TABLE_PROVENANCE,
    ),
    note=", fractions of adults used for a child",
)
"""A six-year-old: stature from the growth charts, landmarks by fraction."""

ADULTS: Final = (
    _adult("woman p5", 1525.0, 408.0, 774.2, 900.0),
    _adult("woman p50", 1626.0, 448.0, 844.0, 977.5),
    _adult("woman p95", 1740.0, 493.0, 919.0, 1064.0),
    _adult("man p5", 1648.0, 443.1, 824.0, 972.0),
    _adult("man p50", 1755.0, 487.0, 899.0, 1055.0),
    _adult("man p95", 1870.0, 536.0, 985.0, 1144.9),
)
"""Adult women and men at the 5th, 50th and 95th percentile of each measure."""

PEOPLE: Final = (CHILD, *ADULTS)
"""The reference people, the child first."""

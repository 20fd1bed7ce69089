"""Reference people: heights of knee, hip, waist and centre of mass, each with its source.

The numbers and what they are of stand in people.toml.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import refuse
from frontcheck.files import own_toml
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frontcheck.caution import Provenance

_DATA: Final = own_toml(__package__, "people.toml")
_SHARES: Final[dict[str, Any]] = _DATA["fractions"]

FRACTIONS: Final[Mapping[str, float]] = MappingProxyType(
    {name: _SHARES[name] for name in ("ankle", "knee", "hip", "centre_of_mass")}
)
"""Heights as fractions of stature."""


@one_line
@dataclass(frozen=True)
class BodyHeight:
    """Height of one landmark of a standing person above the floor."""

    value_mm: float | None  # Height [mm]; None when no published value is at hand
    source: str  # Where it comes from; says so where a fraction of stature is used
    provenance: Provenance  # Whether that source was read
    from_fraction: bool = False  # Whether it is a fraction of stature and not a measured height
    reason: str = ""  # Why there is no value
    band_mm: tuple[float, float] | None = None  # Between which it may lie, own choice [mm]

    def known(self) -> float:
        """Return the height where it has to be known."""
        if self.value_mm is None:
            raise ValueError(self.reason)
        return self.value_mm


@one_line
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

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.PEOPLE[0].name, round(fc.PEOPLE[0].knee.known(), 1)
    ('six-year-old', 328.7)
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


def _fraction(
    name: str, stature: float, of: Mapping[str, Any] = _SHARES, note: str = ""
) -> BodyHeight:
    share, provenance = FRACTIONS[name], _SHARES["provenance"]
    source, band = _SHARES["source"], None
    if name == "centre_of_mass":
        low, high = of["centre_of_mass_band"]
        source = f"{_SHARES['centre_of_mass_source']}; band {low:g} to {high:g}, own choice"
        band = (low * stature, high * stature)
    source = f"{share:g} of stature ({source}){note}"
    return BodyHeight(share * stature, source, provenance, True, band_mm=band)


def _adult(name: str, heights: Mapping[str, float]) -> Person:
    adults = _DATA["adults"]
    measured = {
        measure.removesuffix("_mm"): BodyHeight(
            heights[measure], f"{adults['source']}: {what}", adults["provenance"]
        )
        for measure, what in adults["measures"].items()
    }
    return Person(
        name,
        **measured,
        centre_of_mass=_fraction("centre_of_mass", heights["stature_mm"]),
        ankle=_fraction("ankle", heights["stature_mm"]),
    )


def _by_fractions(
    name: str, stature: BodyHeight, of: Mapping[str, Any] = _SHARES, note: str = ""
) -> Person:
    height = stature.known()
    none = "the published segment fractions give no waist height"
    return Person(
        name,
        stature,
        waist=BodyHeight(None, "none", "from memory", reason=none),
        **{part: _fraction(part, height, of, note) for part in FRACTIONS},
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

    Examples
    --------
    >>> import frontcheck as fc
    >>> person = fc.person_of_stature(1500)
    >>> person.name, round(person.knee.known())
    ('stature 1500 mm', 427)
    """
    least, most = _DATA["least_stature_mm"], _DATA["most_stature_mm"]
    if not (math.isfinite(stature_mm) and least <= stature_mm <= most):
        raise refuse("people.stature", stature=stature_mm, least=least, most=most)
    given = BodyHeight(float(stature_mm), "given by the user", "own choice")
    return _by_fractions(name or f"stature {stature_mm:g} mm", given)


def _child() -> Person:
    child = _DATA["child"]
    boys, girls = child["boys_stature_mm"], child["girls_stature_mm"]
    source = f"{child['source']}: mean of boys {boys:g} and girls {girls:g} mm"
    stature = BodyHeight((boys + girls) / 2.0, source, child["provenance"])
    return _by_fractions(child["name"], stature, child, child["note"])


CHILD: Final = _child()
"""A six-year-old: stature from the growth charts, landmarks by fraction."""

ADULTS: Final = tuple(_adult(*one) for one in _DATA["adults"]["heights"].items())
"""Adult women and men at the 5th, 50th and 95th percentile of each measure."""

PEOPLE: Final = (CHILD, *ADULTS)
"""The reference people, the child first."""

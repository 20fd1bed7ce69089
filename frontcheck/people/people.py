"""Reference people: heights of knee, hip, waist and centre of mass, each with its source; masses.

The numbers and what they are of stand in people.toml.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, Literal

from frontcheck.errors import refuse
from frontcheck.files import own_toml
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.caution import Provenance

DATA: Final = own_toml(__package__, "people.toml")
SHOE_MM: Final[float] = DATA["shoe"]["shoe"]
"""What lifts every landmark and joint from the floor."""
_JOINTS: Final[dict[str, Any]] = DATA["fractions"]["joints"]
_CENTRE: Final[dict[str, Any]] = DATA["fractions"]["centre_of_mass"]
_BAND: Final[dict[str, Any]] = DATA["fractions"]["band"]
_MODELLED: Final[dict[str, Any]] = DATA["modelled"]

FRACTIONS: Final[Mapping[str, float]] = MappingProxyType(
    {
        **{name: _JOINTS[name] for name in ("ankle", "knee", "hip")},
        "centre_of_mass": _CENTRE["centre_of_mass"],
    }
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
    mass_kg : float, optional
        Mass, of those whom the motion model strikes [kg].

    Raises
    ------
    InputError
        If the mass is not plausible for the stature.

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
    mass_kg: float | None = None

    def __post_init__(self) -> None:
        """Refuse a mass that nobody of that stature has."""
        if self.mass_kg is None or self.stature.value_mm is None:
            return
        square = (self.stature.value_mm / 1e3) ** 2
        least, most = (_MODELLED[f"{end}_mass_index"]["value"] for end in ("least", "most"))
        if not least * square <= self.mass_kg <= most * square:
            raise refuse(
                "people.mass", mass=self.mass_kg, stature=self.stature.value_mm,
                least=least * square, most=most * square, low=least, high=most,
            )  # fmt: skip

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
    name: str, stature: float, band: Sequence[float] = _BAND["adult"], note: str = ""
) -> BodyHeight:
    share, table = FRACTIONS[name], _CENTRE if name == "centre_of_mass" else _JOINTS
    source, between = table["source"], None
    if name == "centre_of_mass":
        low, high = band
        source = f"{source}; band {low:g} to {high:g}, own choice"
        between = (low * stature + SHOE_MM, high * stature + SHOE_MM)
    source = f"{share:g} of stature ({source}){note}"
    return BodyHeight(share * stature + SHOE_MM, source, table["provenance"], True, band_mm=between)


def _adult(name: str, heights: Mapping[str, float]) -> Person:
    adults = DATA["adults"]
    measured = {
        measure.removesuffix("_mm"): BodyHeight(
            heights[measure] + (0.0 if measure == "stature_mm" else SHOE_MM),
            f"{adults['source']}: {what}",
            adults["provenance"],
        )
        for measure, what in adults["measures"].items()
    }
    return Person(
        name,
        **measured,
        centre_of_mass=_fraction("centre_of_mass", heights["stature_mm"]),
        ankle=_fraction("ankle", heights["stature_mm"]),
        mass_kg=DATA["mass"].get(name),
    )


def _by_fractions(
    name: str,
    stature: BodyHeight,
    mass_kg: float | None,
    band: Sequence[float] = _BAND["adult"],
    note: str = "",
) -> Person:
    height = stature.known()
    none = "the published segment fractions give no waist height"
    return Person(
        name,
        stature,
        waist=BodyHeight(None, "none", "from memory", reason=none),
        **{part: _fraction(part, height, band, note) for part in FRACTIONS},
        mass_kg=mass_kg,
    )


def person_of_stature(stature_mm: float, name: str = "", mass_kg: float | None = None) -> Person:
    """Return a person of any stature, with landmarks by published fractions of stature.

    Parameters
    ----------
    stature_mm : float
        Stature [mm].
    name : str, optional
        Name; made from the stature when not given.
    mass_kg : float, optional
        Mass, for the motion model [kg].

    Returns
    -------
    Person
        Knee, hip, ankle and centre of mass by fraction; no waist height.

    Raises
    ------
    InputError
        If the stature is not a number between 700 and 2500 mm, or the mass is not plausible for it.

    Examples
    --------
    >>> import frontcheck as fc
    >>> person = fc.person_of_stature(1500)
    >>> person.name, round(person.knee.known())
    ('stature 1500 mm', 427)
    """
    least, most = DATA["statures"]["least"], DATA["statures"]["most"]
    if not (math.isfinite(stature_mm) and least <= stature_mm <= most):
        raise refuse("people.stature", stature=stature_mm, least=least, most=most)
    given = BodyHeight(float(stature_mm), "given by the user", "own choice")
    return _by_fractions(name or f"stature {stature_mm:g} mm", given, mass_kg)


def _child() -> Person:
    child = DATA["child"]
    boys, girls = child["boys_stature_mm"], child["girls_stature_mm"]
    source = f"{child['source']}: mean of boys {boys:g} and girls {girls:g} mm"
    stature = BodyHeight((boys + girls) / 2.0, source, child["provenance"])
    name = child["name"]
    return _by_fractions(name, stature, DATA["mass"][name], _BAND["child"], child["note"])


CHILD: Final = _child()
"""A six-year-old: stature from the growth charts, landmarks by fraction."""

ADULTS: Final = tuple(_adult(*one) for one in DATA["adults"]["heights"].items())
"""Adult women and men at the 5th, 50th and 95th percentile of each measure."""

PEOPLE: Final = (CHILD, *ADULTS)
"""The reference people, the child first."""


def struck_people() -> tuple[Person, ...]:
    """Return the reference people whom the motion model strikes: those with a mass."""
    return tuple(person for person in PEOPLE if person.mass_kg is not None)


def proportions_of(person: Person) -> Literal["adult", "child"]:
    """Return which table of proportions fits a person, or refuse."""
    stature, names = person.stature.known(), ("least_stature", "child_below", "adult_above")
    least, child_below, adult_above = (_MODELLED[name] for name in names)
    most = _MODELLED["most_stature"]
    if person.mass_kg is None:
        raise refuse("people.no_mass", name=person.name)
    if not least <= stature <= most:
        raise refuse("people.not_modelled", stature=stature, least=least, most=most)
    if child_below <= stature <= adult_above:
        raise refuse("people.neither", stature=stature, below=child_below, above=adult_above)
    return "child" if stature < child_below else "adult"

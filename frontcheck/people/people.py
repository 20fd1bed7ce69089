"""Reference people: heights of knee, hip, waist and centre of mass, each with its source; masses.

The numbers and what they are of stand in people.toml; no age between child and adult is made up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

from frontcheck.errors import refuse
from frontcheck.files import own_toml
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.caution import Provenance

DATA: Final = own_toml(__package__, "people.toml")
SHOE_MM: Final[float] = DATA["shoe"]["shoe"]
"""What lifts every landmark from the floor."""
_MOST_SHOE_MM: Final = 100.0
"""Beyond it a shoe is a slip of the pen [mm]."""
_CENTRE: Final[dict[str, Any]] = DATA["fractions"]["centre_of_mass"]
_BAND: Final[dict[str, Any]] = DATA["fractions"]["band"]
_MODELLED: Final[dict[str, Any]] = DATA["modelled"]
_ADULTS: Final[dict[str, Any]] = DATA["adults"]
_CHILD: Final[dict[str, Any]] = DATA["child"]


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
    # Of 100 women and of 100 men how many stand lower; none where nobody was measured
    ranks: tuple[tuple[Literal["women", "men"], float], ...] = ()

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
        Mid-patella.
    hip : BodyHeight
        Trochanterion.
    waist : BodyHeight
        At the navel (omphalion).
    centre_of_mass : BodyHeight
        Of the whole body.
    ankle : BodyHeight
        Ankle joint.
    mass_kg : float, optional
        Mass, of those whom the motion model strikes [kg].
    shoe_mm : float, optional
        Sole that lifts every height but the stature, which is of bare feet [mm].

    Raises
    ------
    InputError
        If the mass is not plausible for the stature.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.PEOPLE[0].name, round(fc.PEOPLE[0].knee.known(), 1)
    ('six-year-old', 336.4)
    """

    name: str
    stature: BodyHeight
    knee: BodyHeight
    hip: BodyHeight
    waist: BodyHeight
    centre_of_mass: BodyHeight
    ankle: BodyHeight
    mass_kg: float | None = None
    shoe_mm: float = SHOE_MM

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

    def in_shoes(self, shoe_mm: float) -> Person:
        """Return the same person in other shoes.

        Parameters
        ----------
        shoe_mm : float
            Sole; 0 for bare feet [mm].

        Returns
        -------
        Person
            With every height but the stature lifted or lowered.

        Raises
        ------
        InputError
            If the sole is not a number from 0 to 100 mm.

        Examples
        --------
        >>> import frontcheck as fc
        >>> round(fc.PEOPLE[0].in_shoes(0).knee.known(), 1)
        311.4
        """
        if not 0.0 <= shoe_mm <= _MOST_SHOE_MM:
            raise refuse("people.shoe", shoe=shoe_mm, most=_MOST_SHOE_MM)
        by = shoe_mm - self.shoe_mm
        return replace(
            self,
            knee=_lifted(self.knee, by),
            hip=_lifted(self.hip, by),
            waist=_lifted(self.waist, by),
            centre_of_mass=_lifted(self.centre_of_mass, by),
            ankle=_lifted(self.ankle, by),
            shoe_mm=float(shoe_mm),
        )

    @property
    def words(self) -> str:
        """Heights in words, and how the stature ranks among those who were measured."""
        shown = ("knee", "hip", "waist")
        told = [f"{n} {h.value_mm:.0f}" for n in shown if (h := self.heights[n]).value_mm]
        shoes = f"in shoes of {self.shoe_mm:g} mm" if self.shoe_mm else "on bare feet"
        said = f"{', '.join(told)} mm up {shoes}"
        if self.stature.ranks:
            ranks = [f"{_rank(rank)} of {who}" for who, rank in self.stature.ranks]
            said += f"; stature {' and '.join(ranks)} ({_ADULTS['name']})"
        return said


def _rank(rank: float) -> str:
    nearest = math.floor(rank + 0.5)
    return "below p1" if nearest < 1 else "above p99" if nearest > 99 else f"p{nearest}"


def _lifted(height: BodyHeight, by: float) -> BodyHeight:
    band, value = height.band_mm, height.value_mm
    return replace(
        height,
        value_mm=None if value is None else value + by,
        band_mm=None if band is None else (band[0] + by, band[1] + by),
    )


def _ranks(measure: str, height: float) -> tuple[tuple[Literal["women", "men"], float], ...]:
    """Of 100 women and of 100 men how many stand lower: heights are near to normal."""
    spread = _ADULTS["spread"]
    sexes: tuple[Literal["women", "men"], ...] = ("women", "men")
    return tuple(
        (sex, 50.0 * math.erfc((mean - height) / (deviation * math.sqrt(2.0))))
        for sex in sexes
        for mean, deviation in (spread[sex][measure],)
    )


def _by_share(share: float, stature: float, table: Mapping[str, Any]) -> BodyHeight:
    source = f"{share:g} of stature ({table['source']})"
    return BodyHeight(share * stature, source, table["provenance"], from_fraction=True)


def _balance(stature: float, band: Sequence[float]) -> BodyHeight:
    (low, high), share = band, _CENTRE["centre_of_mass"]
    between = f"{_CENTRE['source']}; band {low:g} to {high:g}, own choice"
    height = _by_share(share, stature, {**_CENTRE, "source": between})
    return replace(height, band_mm=(low * stature, high * stature))


def _adult(name: str, stature: BodyHeight, mass_kg: float | None) -> Person:
    height, lines = stature.known(), _ADULTS["lines"]
    told = {
        part: BodyHeight(
            low := line["slope"] * height - line["less"],
            f"{_ADULTS['source']}: {line['what']}, of the average person of this stature, by a "
            "line over the stature of women and men",
            _ADULTS["provenance"],
            ranks=_ranks(part, low),
        )
        for part, line in lines.items()
    }
    barefoot = Person(
        name,
        replace(stature, ranks=_ranks("stature", height)),
        **told,
        centre_of_mass=_balance(height, _BAND["adult"]),
        ankle=_by_share(DATA["fractions"]["joints"]["ankle"], height, DATA["fractions"]["joints"]),
        mass_kg=mass_kg,
        shoe_mm=0.0,
    )
    return barefoot.in_shoes(SHOE_MM)


def _child(name: str, stature: BodyHeight, mass_kg: float | None) -> Person:
    height, table = stature.known(), _CHILD["landmarks"]
    none = "no published waist height of a child is at hand"
    barefoot = Person(
        name,
        stature,
        waist=BodyHeight(None, "none", "from memory", reason=none),
        **{part: _by_share(table[part], height, table) for part in ("ankle", "knee", "hip")},
        centre_of_mass=_balance(height, _BAND["child"]),
        mass_kg=mass_kg,
        shoe_mm=0.0,
    )
    return barefoot.in_shoes(SHOE_MM)


def person_of_stature(stature_mm: float, name: str = "", mass_kg: float | None = None) -> Person:
    """Return a person of a stature: an average adult, or a child near six.

    Parameters
    ----------
    stature_mm : float
        Stature [mm]: from 1100 to below 1200 for a child, above 1450 to 2100 for an adult; nothing
        is made up between them.
    name : str, optional
        Name; made from the stature when not given.
    mass_kg : float, optional
        Mass, for the motion model [kg].

    Returns
    -------
    Person
        With the landmarks of an average person of that stature, and how they rank among women and
        men; a child has no waist height.

    Raises
    ------
    InputError
        If no published table fits the stature, or the mass is not plausible for it.

    Examples
    --------
    >>> import frontcheck as fc
    >>> person = fc.person_of_stature(1500)
    >>> person.name, round(person.knee.known()), round(dict(person.stature.ranks)["women"])
    ('stature 1500 mm', 430, 2)
    """
    build = _child if _table(stature_mm) == "child" else _adult
    given = BodyHeight(float(stature_mm), "given by the user", "own choice")
    return build(name or f"stature {stature_mm:g} mm", given, mass_kg)


def _six_year_old() -> Person:
    boys, girls = _CHILD["boys_stature_mm"], _CHILD["girls_stature_mm"]
    source = f"{_CHILD['source']}: mean of boys {boys:g} and girls {girls:g} mm"
    stature = BodyHeight((boys + girls) / 2.0, source, _CHILD["provenance"])
    name = _CHILD["name"]
    return _child(name, stature, DATA["mass"][name])


def _of_percentile(name: str, stature_mm: float) -> Person:
    source = f"{_ADULTS['source']}: stature"
    stature = BodyHeight(stature_mm, source, _ADULTS["provenance"])
    return _adult(name, stature, DATA["mass"].get(name))


CHILD: Final = _six_year_old()
"""A six-year-old: stature from the growth charts, landmarks by shares of a child's own."""

ADULTS: Final = tuple(_of_percentile(*one) for one in _ADULTS["statures"].items())
"""Women and men whose stature is the 5th, 50th and 95th percentile, average for that stature."""

PEOPLE: Final = (CHILD, *ADULTS)
"""The reference people, the child first."""


def struck_people() -> tuple[Person, ...]:
    """Return the reference people whom the motion model strikes: those with a mass."""
    return tuple(person for person in PEOPLE if person.mass_kg is not None)


def proportions_of(person: Person) -> Literal["adult", "child"]:
    """Return which table of proportions fits a person who can be struck, or refuse."""
    if person.mass_kg is None:
        raise refuse("people.no_mass", name=person.name)
    return _table(person.stature.known())


def _table(stature: float) -> Literal["adult", "child"]:
    names = ("least_stature", "child_below", "adult_above", "most_stature")
    least, child_below, adult_above, most = (_MODELLED[name] for name in names)
    if not least <= stature <= most:
        raise refuse("people.stature", stature=stature, least=least, most=most)
    if child_below <= stature <= adult_above:
        raise refuse("people.neither", stature=stature, below=child_below, above=adult_above)
    return "child" if stature < child_below else "adult"

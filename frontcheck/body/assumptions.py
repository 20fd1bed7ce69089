"""What the motion model assumes, number by number: read, told in sentences, shown in rows."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import PROVENANCES
from frontcheck.files import own_toml
from frontcheck.people.people import DATA as PEOPLE_DATA

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

DATA: Final[Mapping[str, Any]] = own_toml(__package__, "body.toml")
_TELLS: Final = frozenset(("title", "unit", "of", "source", "provenance", "settles", "band"))
"""Keys of a table that tell of its numbers."""


@dataclass(frozen=True)
class Assumed:
    """One number."""

    name: str
    value: float  # What one run without drawing takes
    unit: str
    range: tuple[float, float] | None  # What is drawn from
    by_factor: bool  # Whether evenly in its logarithm

    def __str__(self) -> str:
        """All of it in words."""
        words = f"{self.words} {self.unit}".rstrip()
        return f"{words} ({self.drawn})" if self.range else words

    @property
    def words(self) -> str:
        """Name and value."""
        return f"{self.name.replace('_', ' ')} {self.value:g}"

    @property
    def drawn(self) -> str:
        """What is drawn from, in words."""
        if self.range is None:
            return ""
        low, high = self.range
        return f"drawn {low:g} to {high:g}{', by factor' if self.by_factor else ''}"


@dataclass(frozen=True)
class Table:
    """Numbers that are known in one way."""

    title: str
    numbers: tuple[Assumed, ...]
    source: str
    provenance: str
    settles: str  # What would tell; empty where a published table serves


def tables(tree: Mapping[str, Any]) -> Iterator[Table]:
    """Tables with a title, in the order of the file."""
    if "title" in tree:
        numbers = tuple(_numbers(tree).values())
        source, settles = " ".join(tree["source"].split()), tree.get("settles", "")
        yield Table(tree["title"], numbers, source, tree["provenance"], settles)
        return
    for held in tree.values():
        if isinstance(held, dict):
            yield from tables(held)


def _numbers(table: Mapping[str, Any]) -> dict[str, Assumed]:
    found = {}
    for name, number in table.items():
        if name not in _TELLS:
            held = number if isinstance(number, dict) else {"value": number}
            low_high = tuple(held["range"]) if "range" in held else None
            unit = held.get("unit", table.get("unit", ""))
            found[name] = Assumed(name, held["value"], unit, low_high, "by" in held)
    return found


def numbers(tree: Mapping[str, Any]) -> dict[str, Assumed]:
    """Every number of a table, or of the tables within, by its name."""
    if "provenance" in tree:
        return _numbers(tree)
    return {name: one for held in tree.values() for name, one in numbers(held).items()}


def values(tree: Mapping[str, Any]) -> dict[str, float]:
    """What one run without drawing takes."""
    return {name: one.value for name, one in numbers(tree).items()}


def of_the_model() -> tuple[Table, ...]:
    """Return every table that the model rests on: people first."""
    return *tables(PEOPLE_DATA), *tables(DATA)


def assumptions() -> tuple[str, ...]:
    """Return what is assumed, how that is known and what would settle it, in sentences."""
    built = [*tables(PEOPLE_DATA["fractions"]), *tables(PEOPLE_DATA["body"])]
    known = Counter(each.provenance for each in built for _ in each.numbers)
    counts = ", ".join(f"{known[word]} {word}" for word in PROVENANCES if known[word])
    struck = (
        "The car strikes a standing person from the side, in one plane, at the speed given; it is "
        "far heavier than the person, and nothing of it moves but the skin that gives way."
    )
    build = (
        "Proportions of adults and a six-year-old are shares of stature and mass, none drawn: "
        f"{counts}; settled by measuring people. `frontcheck explain motion-model` lists them."
    )
    return struck, build, *map(_sentence, (*tables(PEOPLE_DATA["mass"]), *tables(DATA)))


def _sentence(table: Table) -> str:
    if any(one.range or one.unit != table.numbers[0].unit for one in table.numbers):
        said = "; ".join(map(str, table.numbers))
    else:
        said = f"{', '.join(one.words for one in table.numbers)} {table.numbers[0].unit}"
    by = "" if table.settles.startswith("nothing") else "settled by "
    return f"{table.title}: {said}. {table.provenance.capitalize()}; {by}{table.settles}."

"""What the motion model assumes, number by number: read, told in sentences, shown in rows."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import PROVENANCES
from frontcheck.files import own_toml
from frontcheck.people.people import DATA as PEOPLE_DATA
from frontcheck.people.people import struck_people

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

DATA: Final[Mapping[str, Any]] = own_toml(__package__, "body.toml")
_TELLS: Final = frozenset(("title", "unit", "of", "source", "provenance", "settles"))
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
        return f"{self.spoken} {self.value:g}"

    @property
    def spoken(self) -> str:
        """Name in words."""
        return self.name.replace("_", " ")

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


TOLD: Final[Mapping[str, float]] = values(DATA["told"])
"""Thresholds of what is said."""


def rows(width: int) -> tuple[str, ...]:
    """Return every number of the motion model in lines so wide at most, aligned."""
    struck = struck_people()
    sources = dict.fromkeys(person.stature.source for person in struck)
    statures = (
        Table(
            "Statures of those who are struck",
            tuple(
                Assumed(person.name, person.stature.known(), "mm", None, False)
                for person in struck
                if person.stature.source == source
            ),
            source,
            struck[0].stature.provenance,
            "",
        )
        for source in sources
    )
    lines: list[str] = []
    for table in (*statures, *tables(PEOPLE_DATA), *tables(DATA)):
        own = table.source.startswith(table.provenance)
        source = table.source if own else f"{table.source} ({table.provenance})"
        lines += ["", *_wrap(table.title, width)]
        lines += [
            f"  {one.spoken:22} {one.value:>7g} {one.unit:24} {one.drawn}".rstrip()
            for one in table.numbers
        ]
        lines += _wrap(f"From: {source}.", width, "    ")
        if table.settles:
            lines += _wrap(f"{_upper(_settled(table))}.", width, "    ")
    return tuple(lines[1:])


def _wrap(text: str, width: int, indent: str = "") -> list[str]:
    import textwrap  # here: only `explain` needs it

    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=indent)


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
    drawn = (DATA[part] for part in ("skin", "joints", "contact", "stance"))
    told = (*tables(PEOPLE_DATA["mass"]), *(table for part in drawn for table in tables(part)))
    return struck, build, *map(_sentence, told)


def _sentence(table: Table) -> str:
    if any(one.range or one.unit != table.numbers[0].unit for one in table.numbers):
        said = "; ".join(map(str, table.numbers))
    else:
        said = f"{', '.join(one.words for one in table.numbers)} {table.numbers[0].unit}"
    return f"{table.title}: {said}. {_upper(table.provenance)}; {_settled(table)}."


def _settled(table: Table) -> str:
    return f"{'' if table.settles.startswith('nothing') else 'settled by '}{table.settles}"


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"

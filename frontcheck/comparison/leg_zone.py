"""What both fronts show an upright leg at one station, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from frontcheck.comparison.change import Change, change_of
from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import FirstTouch, FrontContact, first_touch, front_contact

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.comparison.common_datum import Origins
    from frontcheck.lines.station_pairs import Matched, Side
    from frontcheck.people.people import Person
    from frontcheck.rules.ruleset import RuleSet

__all__ = ["UNDERCUT", "LegZone", "PersonTouch", "leg_zone"]

UNDERCUT: Final = "lip_behind_bumper_mm"
"""Setback of the lower lip behind the bumper: the less, the better the shin is supported."""

_MEMBERS: Final = ("lower lip", "bumper", "leading edge")


@dataclass(frozen=True)
class PersonTouch:
    """Where either front first touches one person's leg."""

    person: str  # Reference person
    knee_mm: float  # Height of the knee [mm]
    a: FirstTouch | None  # First touch by A and by B
    b: FirstTouch | None  # First touch by A and by B

    @property
    def moved_on_leg(self) -> bool:
        """Whether B first touches another part of the leg than A."""
        return (self.a and self.a.place) != (self.b and self.b.place)

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the comparison document."""
        return {
            "person": self.person,
            "knee_mm": self.knee_mm,
            "first_touch_a": _touch(self.a),
            "first_touch_b": _touch(self.b),
            "moved_on_leg": self.moved_on_leg,
        }


@dataclass(frozen=True)
class LegZone:
    """What both fronts show an upright leg at one station."""

    a: FrontContact  # Lower lip, bumper and leading edge, in contact order; setbacks as measured
    b: FrontContact  # Lower lip, bumper and leading edge, in contact order; setbacks as measured
    changes: tuple[Change, ...]
    people: tuple[PersonTouch, ...]  # First touch for every person chosen

    @property
    def order_changed(self) -> bool:
        """Whether B meets an upright leg in another order than A."""
        return [m.name for m in self.a.members] != [m.name for m in self.b.members]

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the comparison document."""
        return {
            "contact_order_a": [member.name for member in self.a.members],
            "contact_order_b": [member.name for member in self.b.members],
            "basis_a": {member.name: member.basis for member in self.a.members},
            "basis_b": {member.name: member.basis for member in self.b.members},
            "changes": {change.quantity: change.to_dict() for change in self.changes},
            "people": [person.to_dict() for person in self.people],
        }


def leg_zone(
    matched: Matched, rules: RuleSet, people: Sequence[Person], origins: Origins
) -> LegZone:
    """Return what both fronts show an upright leg at one station."""
    a = front_contact(matched.a.section, matched.a.station, rules)
    b = front_contact(matched.b.section, matched.b.station, rules)
    changes: list[Change] = []
    for name in _MEMBERS:
        one, two = a.member(name), b.member(name)
        stem, why = name.replace(" ", "_"), ("its reference line is missing",) * 2
        for quantity, words, shift in (
            ("x", "x", (origins.a, origins.b)),
            ("z", "z", (0.0, 0.0)),
            ("closing_mm", "closing distance", (0.0, 0.0)),
        ):
            changes.append(
                change_of(
                    f"{stem}_{quantity.removesuffix('_mm')}_mm",
                    f"{words} of the {name}",
                    None if one is None else getattr(one, quantity) - shift[0],
                    None if two is None else getattr(two, quantity) - shift[1],
                    missing=why,
                    barred=origins.barred if quantity == "x" else "",
                )
            )
    why = ("lower lip or bumper is missing",) * 2
    words = "setback of the lower lip behind the bumper"
    changes.append(change_of(UNDERCUT, words, a.undercut_mm, b.undercut_mm, missing=why))
    touches = tuple(
        PersonTouch(
            person.name, person.knee.known(), _first(matched.a, person), _first(matched.b, person)
        )
        for person in people
    )
    return LegZone(a, b, tuple(changes), touches)


def _first(side: Side, person: Person) -> FirstTouch | None:
    try:
        return first_touch(side.section, person)
    except NotAvailableError:
        return None


def _touch(touch: FirstTouch | None) -> dict[str, Any] | None:
    if touch is None:
        return None
    return {
        "x_mm": touch.x,
        "z_mm": touch.z,
        "place": touch.place,
        "above_knee_mm": touch.above_knee_mm,
    }

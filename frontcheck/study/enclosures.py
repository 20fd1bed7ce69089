"""Which enclosures there are for what a study varies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.study.front_enclosure import FrontEnclosure
from frontcheck.study.nose_enclosure import NoseEnclosure
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes

if TYPE_CHECKING:
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.touches import Enclosure
    from frontcheck.study.varied_shapes import Shapes


def enclosures_of(shapes: Shapes, rules: RuleSet) -> dict[float, Enclosure] | None:
    """Return the enclosures of every station, where the kind of shape has them."""
    if isinstance(shapes, FrontShapes):
        return {field.section.y: FrontEnclosure(field, rules) for field in shapes.fields}
    if isinstance(shapes, NoseShapes):
        return {y: NoseEnclosure(shapes, rules, y) for y in shapes.stations}
    return None

"""A shape that is tried, step by step, and what the library says of it; no browser in here.

Glossary
--------
step
    A front as it was loaded, what was moved on it, and the front that this makes. Steps never
    change: to undo is to go back to the one before.
draft
    The step that a drag has reached so far; it becomes a step when the drag ends.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.lines.lined_front import line_up
from frontcheck.rules.ruleset import DEFAULT_RULES
from frontcheck.screening import screen
from frontcheck.study.moves import in_the_way, morph_front
from frontcheck.study.nose_dimensions import Nose
from frontcheck.study.noses import nose_front

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frontcheck.front.front import Front
    from frontcheck.lines.station import Station
    from frontcheck.screening import Screening
    from frontcheck.surface.section import Section

Point = tuple[float, float]

FEATURES: Final = {
    "lower_lip": "lower lip",
    "upper_lip": "upper lip",
    "leading_edge": "leading edge",
}
"""Features that can be taken hold of, by the stem of the handles that move them."""


@dataclass(frozen=True, eq=False)
class Step:
    """A front as it was loaded, what was moved on it, and the front that this makes."""

    base: Front
    moves: Mapping[str, float] = field(default_factory=dict)  # Amount by handle
    points: Mapping[tuple[float, int], Point] = field(default_factory=dict)
    """Travel of single points beyond that, by station and place in the section."""
    front: Front = field(init=False, repr=False)
    left: tuple[str, ...] = field(init=False, repr=False)
    """Where a feature is not there and so was not moved."""

    def __post_init__(self) -> None:
        """Make the front; refuse what makes no contour."""
        object.__setattr__(self, "left", ())
        object.__setattr__(self, "front", self._made())

    def _made(self) -> Front:
        front = self.base
        if self.moves:
            morphed = morph_front(front, dict(self.moves))
            left = in_the_way(morphed.obstacles, len(front.sections))
            if morphed.made is None:
                raise refuse("bench.shape", why="; ".join(left))
            front = morphed.made
            object.__setattr__(self, "left", tuple(left))
        if not self.points:
            return front
        count = Counter(y for y, _ in self.points)
        sections = tuple(
            self._shifted(section) if section.y in count else section for section in front.sections
        )
        said = ", ".join(f"{n} at y = {y:g} mm" for y, n in sorted(count.items()))
        changes = (*front.changes, f"points moved one by one: {said}")
        survey = replace(front.survey, checks=())
        return replace(front, sections=sections, survey=survey, changes=changes, mesh=None)

    def _shifted(self, section: Section) -> Section:
        points = section.points.copy()
        proposed = np.array(_marks(section))
        for (y, i), travel in self.points.items():
            if y == section.y:
                points[i] += travel
                proposed[i] = True
        return replace(section, points=points, proposed=proposed)

    def proposed(self, y: float) -> list[bool]:
        """Return which points of a section were never measured where they are."""
        return _marks(self.front.section(y))

    def with_moves(self, amounts: Mapping[str, float]) -> Step:
        """Return the step with some handles at other amounts."""
        moves = {**self.moves, **amounts}
        return replace(self, moves={name: value for name, value in moves.items() if value})

    def with_points(self, y: float, to: Mapping[int, Point]) -> Step:
        """Return the step with single points of one section at other places."""
        without = {key: d for key, d in self.points.items() if key[0] != y or key[1] not in to}
        start = replace(self, points=without).front.section(y).points
        moved = {(y, i): (x - start[i, 0], z - start[i, 1]) for i, (x, z) in to.items()}
        return replace(self, points=without | {key: d for key, d in moved.items() if any(d)})

    def without_point(self, y: float, i: int) -> Step:
        """Return the step with one point where the features take it."""
        return replace(self, points={key: d for key, d in self.points.items() if key != (y, i)})

    def features(self, y: float) -> dict[str, int]:
        """Return the features of a section that can be taken hold of, and their points."""
        section = self.base.section(y)
        face = section.face
        at = {
            "lower_lip": face.lower_lip, "upper_lip": face.upper_lip, "leading_edge": face.face_top
        }  # fmt: skip
        return {
            name: int(np.argmin(np.hypot(section.x - place[0], section.z - place[1])))
            for name, place in at.items()
            if place is not None
        }

    def with_feature(self, y: float, name: str, to: Point) -> Step:
        """Return the step with a feature of one section at another place, at all stations alike."""
        i = self.features(y)[name]
        x, z = self.front.section(y).points[i]
        by = {f"{name}_back_mm": float(to[0] - x), f"{name}_up_mm": float(to[1] - z)}
        return self.with_moves({k: self.moves.get(k, 0.0) + v for k, v in by.items()})


def _marks(section: Section) -> list[bool]:
    return [False] * len(section) if section.proposed is None else list(section.proposed.tolist())


class Bench:
    """What one tab of the page holds: steps, where one stands among them, and the other shape."""

    def __init__(self, front: Front, other: Front | None = None) -> None:
        self.steps: tuple[Step, ...] = (Step(front),)
        self.at = 0
        self.draft: Step | None = None
        self.other = other
        self.y = min(front.stations, key=lambda y: (abs(y), y))

    @property
    def step(self) -> Step:
        """The shape that is seen: the draft of a drag, else the last step."""
        return self.draft or self.last

    @property
    def last(self) -> Step:
        """The last step, whatever a drag has reached since."""
        return self.steps[self.at]

    @property
    def front(self) -> Front:
        """The front that is seen."""
        return self.step.front

    @property
    def section(self) -> Section:
        """The side section that is seen."""
        return self.front.section(self.y)

    def take(self, step: Step) -> None:
        """Make a step; what was undone is forgotten."""
        self.steps = (*self.steps[: self.at + 1], step)
        self.at += 1
        self.draft = None

    def go(self, by: int) -> bool:
        """Undo (-1) or redo (+1); say whether there was such a step."""
        self.draft = None
        there = 0 <= self.at + by < len(self.steps)
        self.at += by if there else 0
        return there

    def load(self, front: Front) -> None:
        """Start anew with another front; the other shape stays."""
        self.__init__(front, self.other)  # type: ignore[misc]

    def keep_as_b(self) -> None:
        """Lay the present shape aside as B."""
        self.other = self.front


def invented() -> Front:
    """Return a shape to begin with where nobody has loaded one."""
    return replace(nose_front(Nose()), name="An invented nose, to try things on")


def quick_lines(front: Front, y: float) -> Station:
    """Return the lines of one side section, and of no other: what can follow a drag."""
    return line_up(_alone(front, y), DEFAULT_RULES).stations[0]


def screened(front: Front) -> Screening:
    """Return the screening of a front with all that the page shows of it worked out."""
    result = screen(front)
    _ = result.answer_bands
    return result


def _alone(front: Front, y: float) -> Front:
    return replace(front, sections=(front.section(y),), mesh=None)

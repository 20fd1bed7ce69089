"""Which of two legform runs bends, shears or slows the leg less, and when that is not known.

Stiffness not known: the order holds under the assumptions of the runs and nowhere else, so it
is also looked for at other stiffnesses. No value is held against a limit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.legs.dynamics import LegRun, RunSettings

Quantity = Literal["knee_angle", "knee_shear", "tibia_acceleration"]
Less = Literal["a", "b", "alike"]

ALIKE_SHARE: Final = 0.01
"""Peaks that differ by less than this share of the larger are told as alike (own choice):
about what a time step more or less does to a sampled peak."""

STIFFNESS_FACTORS: Final = (0.5, 2.0)
"""All skins together are also taken at these multiples, to see whether the order holds."""

_NOUNS: Final[dict[Quantity, tuple[str, str, int]]] = {
    "knee_angle": ("knee angle", "deg", 1),
    "knee_shear": ("knee shear", "mm", 2),
    "tibia_acceleration": ("tibia acceleration", "g", 0),
}
"""Name, unit, and decimals shown."""
_VERBS: Final[dict[Quantity, tuple[str, str]]] = {
    "knee_angle": ("opens the knee", "closes the knee"),
    "knee_shear": ("shears the knee", "shears the knee"),
    "tibia_acceleration": ("slows the tibia", "speeds the tibia"),
}
_SENSES: Final[dict[Quantity, tuple[str, str]]] = _VERBS | {
    "knee_shear": ("pushes the tibia's end farther", "pushes the femur's end farther"),
}
"""What a positive peak does, and what a negative one does."""
_FACTOR_WORDS: Final = {0.5: "half", 2.0: "twice"}


@one_line
@dataclass(frozen=True)
class Ranking:
    """The order of two runs in one quantity."""

    quantity: Quantity  # What is ranked, by its peak
    unit: str  # Its unit
    a: float | None  # Peak of A, with its sign; None where the run is not to be used
    b: float | None  # The same of B
    less: Less | None  # Which run has the smaller peak; None when no order is told
    reason: str  # Why no order is told
    sentence: str  # The same in words
    at_other_stiffness: tuple[tuple[float, Less | None, str], ...] = ()

    @property
    def told(self) -> bool:
        """Whether an order is told."""
        return self.less is not None

    @property
    def holds(self) -> bool | None:
        """Whether the order is the same at the other stiffnesses; None when not all is known."""
        there = [less for _, less, _ in self.at_other_stiffness]
        if self.less is None or not there:
            return None
        if any(less not in (None, self.less) for less in there):
            return False
        return None if None in there else True

    @property
    def holds_sentence(self) -> str:
        """What becomes of the order at other stiffnesses and why; empty when not looked at."""
        return self._elsewhere(reasons=True)

    @property
    def holds_short(self) -> str:
        """The same without reasons."""
        return self._elsewhere(reasons=False)

    def _elsewhere(self, *, reasons: bool) -> str:
        if self.less is None or not self.at_other_stiffness:
            return ""
        shown = []
        for factor, less, reason in self.at_other_stiffness:
            word = "the same" if less == self.less else "another"
            if less is None:
                word = f"not known ({reason.split(';')[0]})" if reasons else "not known"
            shown.append(
                f"at {_FACTOR_WORDS.get(factor, f'{factor:g} times')} the stiffness {word}"
            )
        return f"Order {', '.join(shown)}."


def rank_runs(a: LegRun, b: LegRun, names: tuple[str, str] = ("A", "B")) -> tuple[Ranking, ...]:
    """Rank two runs made under the same assumptions, by their peaks."""
    # Nothing is ranked when a run is out of balance or ended early, when a peak stands at the end
    # of the run and may not be reached yet, or when the runs load the knee in opposite senses.
    if a.settings != b.settings or a.legform != b.legform:
        raise ValueError("two runs can only be ranked when made under the same assumptions")
    return tuple(_rank(quantity, a, b, names) for quantity in _NOUNS)


def with_other_stiffness(
    rankings: Sequence[Ranking], others: Sequence[tuple[float, Sequence[Ranking]]]
) -> tuple[Ranking, ...]:
    """Add what the order is with all skins at other stiffnesses."""
    return tuple(
        replace(
            ranking,
            at_other_stiffness=tuple((f, there[i].less, there[i].reason) for f, there in others),
        )
        for i, ranking in enumerate(rankings)
    )


def scaled(settings: RunSettings, factor: float) -> RunSettings:
    """Return the same settings with all skins at a multiple of their stiffness."""
    return replace(
        settings,
        skin=replace(settings.skin, stiffness=factor * settings.skin.stiffness),
        parts=tuple(
            (part, replace(skin, stiffness=factor * skin.stiffness))
            for part, skin in settings.parts
        ),
    )


def _rank(quantity: Quantity, a: LegRun, b: LegRun, names: tuple[str, str]) -> Ranking:
    noun, unit, digits = _NOUNS[quantity]
    (one, why_one), (two, why_two) = (_peak(quantity, run) for run in (a, b))
    reasons = [f"{n}: {w}" for n, w in zip(names, (why_one, why_two), strict=True) if w]
    if one is not None and two is not None and not reasons and one * two < 0.0:
        said = [
            f"{name} {_SENSES[quantity][peak < 0.0]}"
            for name, peak in zip(names, (one, two), strict=True)
        ]
        reasons = [f"{said[0]}, {said[1]}"]
    if one is None or two is None or reasons:
        reason = "; ".join(reasons)
        sentence = f"{noun.capitalize()} not ranked: {reason}."
        return Ranking(quantity, unit, one, two, None, reason, sentence)
    smaller, larger = sorted((abs(one), abs(two)))
    if larger - smaller <= ALIKE_SHARE * larger:
        sentence = (
            f"{noun.capitalize()}: {names[0]} and {names[1]} are alike under these assumptions "
            f"({abs(one):.{digits}f} and {abs(two):.{digits}f} {unit})."
        )
        return Ranking(quantity, unit, one, two, "alike", "", sentence)
    less: Less = "a" if abs(one) == smaller else "b"
    sentence = (
        f"{names[less == 'b']} {_VERBS[quantity][one < 0.0]} less under these assumptions "
        f"({smaller:.{digits}f} against {larger:.{digits}f} {unit})."
    )
    return Ranking(quantity, unit, one, two, less, "", sentence)


def _peak(quantity: Quantity, run: LegRun) -> tuple[float | None, str]:
    """Peak of a run, and why it must not be ranked; empty when it may."""
    values, peak = {
        "knee_angle": (np.abs(run.knee_angle), run.peak_knee_angle),
        "knee_shear": (np.abs(run.knee_shear), run.peak_knee_shear),
        "tibia_acceleration": (run.tibia_acceleration, run.peak_tibia_acceleration),
    }[quantity]
    if run.status != "ok":
        return peak, run.reason
    if values.max() > 0.0 and int(np.argmax(values)) == len(values) - 1:
        return peak, f"its peak stands at the end of the run, {run.time[-1]:g} ms"
    return peak, ""

"""Which of two fronts opens the legform's knee less, told only where stiffness hardly matters.

Stiffness not known: every part of a front is drawn a stiffness of its own, the same for parts of
one name on both fronts, and the order is told only where nearly all draws agree. Else the part
whose stiffness decides is named. No value is held against a limit.

Glossary
--------
opening
    The knee's angle farthest open [deg]. A run that ends before its knee closes again gives a least
    opening only; two draws are in order where that does not matter.
first-order share
    Share of how the two openings differ, as a ratio and from draw to draw, that goes with the
    stiffness of one part alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.legs.dynamics import fly
from frontcheck.serializer import one_line
from frontcheck.sure.shares import ROBUST_CASES, is_robust, least_share

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.legs.dynamics import RunSettings
    from frontcheck.legs.faced import Face
    from frontcheck.people.impactors import Legform

Less = Literal["a", "b"]

DRAWS: Final = ROBUST_CASES
FACTOR: Final = 4.0
"""Stiffness of a part is drawn from this part of what is assumed to this multiple: own choice."""
KNOWN: Final = "parts given"
"""Parts whose stiffness the user gave: drawn together, so that their ratios are kept."""
ALIKE_SHARE: Final = 0.01
"""Openings that differ by less than this share of the larger are alike: own choice, twice what the
steps in time may miss a peak by."""
ALIKE_DEG: Final = 0.1
"""So little opening is none: own choice."""
_SLICES: Final = 10


@dataclass(frozen=True, eq=False)
class Peaks:
    """What B drawn cases come to at their worst, for one front."""

    opening: Array  # (B,) [deg]
    reached: Mask  # (B,) whether the opening was reached before the run ended
    shear: Array  # (B,) [mm]
    bending: Array | None  # (B,) of the tibia [N m]; None where it does not bend
    height: Array | None  # (B,) above ground of that [mm]


def factors(
    parts: Iterable[str], draws: int, seed: int, factor: float = FACTOR
) -> dict[str, Array]:
    """Draw multiples of stiffness (B,) for every part, evenly in their logarithm."""
    names = sorted(set(parts))
    drawn = np.random.default_rng(seed).uniform(-1.0, 1.0, (len(names), draws))
    return dict(zip(names, factor**drawn, strict=True))


def drawn_parts(face: Face, settings: RunSettings) -> tuple[str, ...]:
    """Part of every cell as it is drawn (m,)."""
    known = dict(settings.parts)
    return tuple(
        KNOWN if label in known else part for label, part in zip(face.label, face.part, strict=True)
    )


def drawn_peaks(
    face: Face, legform: Legform, settings: RunSettings, drawn: Mapping[str, Array]
) -> Peaks:
    """Fly into one face under drawn stiffnesses."""
    usual = face.stiffness(settings.stiffness, dict(settings.parts))
    multiples = np.stack([drawn[part] for part in drawn_parts(face, settings)], axis=1)
    flights = fly(face, legform, settings, usual * multiples)
    last = flights.kept(settings.rotation_limit_deg) - 1
    within = np.arange(len(flights.time))[:, None] <= last
    opening = np.where(within, flights.opening(), 0.0)
    bending = height = None
    heights, _ = flights.links.bends
    if len(heights):
        moment = np.abs(np.where(within[..., None], flights.tibia(), 0.0)).max(axis=0)
        bending = moment.max(axis=1)
        height = legform.knee_height_mm + 1e3 * heights[moment.argmax(axis=1)]
    return Peaks(
        opening.max(axis=0),
        opening.argmax(axis=0) < last,
        np.abs(np.where(within, flights.shear(), 0.0)).max(axis=0),
        bending,
        height,
    )


@one_line
@dataclass(frozen=True, eq=False)
class Order:
    """The order of two fronts in opening of the knee."""

    names: tuple[str, str]
    draws: int  # How many cases were drawn
    a_less: int  # In how many of them A opens the knee less
    b_less: int
    ratio: tuple[float, float, float] | None  # Opening of B over A: lower 5 %, middle, upper 95 %
    shear: tuple[float, float, float] | None  # The same of the knee's shear
    bending: tuple[float, float, float] | None  # The same of the tibia's bending
    decides: tuple[tuple[str, float], ...]  # Parts and first-order shares, the largest first

    @property
    def same(self) -> int:
        """In how many draws the more frequent order holds."""
        return max(self.a_less, self.b_less)

    @property
    def share(self) -> float:
        """That as a share."""
        return self.same / self.draws

    @property
    def least(self) -> float:
        """Lower 95 % limit of that share."""
        return least_share(self.same, self.draws)

    @property
    def less(self) -> Less | None:
        """Which front opens the knee less; None where no order is told."""
        if not is_robust(self.same, self.draws):
            return None
        return "a" if self.a_less > self.b_less else "b"

    @property
    def status(self) -> Literal["ranks", "depends", "alike", "few_draws"]:
        """Whether an order is told."""
        if self.less is not None:
            return "ranks"
        if self.draws < ROBUST_CASES:
            return "few_draws"
        return "alike" if not self.a_less and not self.b_less else "depends"

    @property
    def sentence(self) -> str:
        """The same in words."""
        a, b = self.names
        rest = self.draws - self.a_less - self.b_less
        counts = f"{self.a_less} of {self.draws} draws {a} opens it less, in {self.b_less} {b}"
        counts += f", in {rest} alike or not known" if rest else ""
        if self.less is not None:
            return (
                f"Ranks: {self.names[self.less == 'b']} opens the knee of the legform less, in "
                f"{self.same} of {self.draws} draws of stiffness (share at least "
                f"{self.least:.2f} with 95 % confidence)."
            )
        if self.status == "few_draws":
            return f"Knee opening not ranked: {self.draws} draws are too few; in {counts}."
        if self.status == "alike":
            return f"Knee opening not ranked: {a} and {b} are alike in all draws or not known."
        part = ""
        if self.decides and self.decides[0][1] > 0.0:
            name, share = self.decides[0]
            part = f" What decides most is the {name} (first-order share {share:.2f})."
        return (
            "Knee opening not ranked: depends on the stiffness behind the skin: measure it. In "
            f"{counts}.{part}"
        )


def order_of(names: tuple[str, str], a: Peaks, b: Peaks, drawn: Mapping[str, Array]) -> Order:
    """Compare two fronts draw by draw."""
    band = np.maximum(ALIKE_SHARE * np.maximum(a.opening, b.opening), ALIKE_DEG)
    a_less = a.reached & (b.opening - a.opening > band)
    b_less = b.reached & (a.opening - b.opening > band)
    both = a.reached & b.reached & (np.minimum(a.opening, b.opening) > ALIKE_DEG)
    ratio = b.opening[both] / a.opening[both]
    decides: tuple[tuple[str, float], ...] = ()
    if len(ratio) >= 2 * _SLICES:
        shares = {part: first_order(values[both], np.log(ratio)) for part, values in drawn.items()}
        decides = tuple(sorted(shares.items(), key=lambda item: (-item[1], item[0])))
    return Order(
        names,
        len(a.opening),
        int(a_less.sum()),
        int(b_less.sum()),
        _spread(ratio),
        _ratios(a.shear, b.shear),
        _ratios(a.bending, b.bending),
        decides,
    )


def first_order(given: Array, values: Array) -> float:
    """Return the share of the variance of values that goes with one quantity alone."""
    # Means over slices of equally many cases, less what slices of nothing but chance would show
    # (T. L. Kelley, An unbiased correlation ratio measure, Proceedings of the National Academy of
    # Sciences 21 (9), 554-559, 1935, from memory).
    total = float(((values - values.mean()) ** 2).sum())
    if total <= 0.0:
        return 0.0
    slices = np.array_split(np.argsort(given, kind="stable"), _SLICES)
    within = sum(float(((values[s] - values[s].mean()) ** 2).sum()) for s in slices)
    count = len(values)
    return max(0.0, 1.0 - within / total * (count - 1) / (count - _SLICES))


def _ratios(a: Array | None, b: Array | None) -> tuple[float, float, float] | None:
    return None if a is None or b is None else _spread(b[a > 0.0] / a[a > 0.0])


def _spread(ratio: Sequence[float] | Array) -> tuple[float, float, float] | None:
    if not len(ratio):
        return None
    low, middle, high = np.quantile(ratio, [0.05, 0.5, 0.95]).tolist()
    return low, middle, high


def compared(
    names: tuple[str, str],
    faces: tuple[Face, Face],
    legform: Legform,
    settings: RunSettings,
    draws: int = DRAWS,
    seed: int = 0,
) -> tuple[Order, tuple[Peaks, Peaks]]:
    """Draw stiffness part by part, fly into both fronts under each draw, and compare."""
    parts = {part for face in faces for part in drawn_parts(face, settings)}
    drawn = factors(parts, draws, seed)
    a, b = (drawn_peaks(face, legform, settings, drawn) for face in faces)
    return order_of(names, a, b, drawn), (a, b)

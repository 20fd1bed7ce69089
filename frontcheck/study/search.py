"""The least change that keeps the limits: searched globally, then to the digit; and proven."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.study.enclosure import ENCLOSED, ROUNDING_MM, enclosures_of
from frontcheck.study.sampling import sobol
from frontcheck.study.study import BLOCK, measure
from frontcheck.study.varied_shapes import NoseShapes

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.study.enclosure import Enclosure
    from frontcheck.study.study import Limit, Setup, Study, Varied

    _Rank = Callable[[Array], Array]

_MISSING: Final = 1e5
"""Stands for the violation where a line is missing; ten times it where a shape cannot be made."""
_SLACK_MM: Final = 1e-9
_NO_FARTHER_MM: Final = 5e-7
"""Room for finding, among changes that move the skin no farther, one that moves less of it."""
_INSIDE_MM: Final = 1e-7
"""Gradient steps aim this far inside the limits, so that rounding does not leave them outside."""


@dataclass(frozen=True, eq=False)
class Problem:
    """Parameters, ranges, and limits with margins."""

    setup: Setup  # Shapes and rules
    varied: tuple[Varied, ...]  # (d,) ranges
    limits: tuple[Limit, ...]  # The limits
    margins: tuple[float, ...]  # Per limit, how far inside it the line must lie [mm]

    @property
    def low(self) -> Array:
        """Lower ends of the ranges, (d,)."""
        return np.array([v.low for v in self.varied], dtype=float)

    @property
    def high(self) -> Array:
        """Upper ends of the ranges, (d,)."""
        return np.array([v.high for v in self.varied], dtype=float)

    def violations(self, values: Array) -> Array:
        """Return by how much every single limit is missed; negative inside."""
        blocks = [self._violations(values[i : i + BLOCK]) for i in range(0, len(values), BLOCK)]
        return np.concatenate(blocks)

    def _violations(self, values: Array) -> Array:
        measured = measure(self.setup, values)
        columns = []
        for limit, margin in zip(self.limits, self.margins, strict=True):
            for name in limit.columns(self.setup.shapes.stations):
                number = measured.known(name).filled(np.nan)
                for sign, at in ((1.0, limit.at_most), (-1.0, limit.at_least)):
                    if math.isfinite(at):
                        columns.append(sign * (number - at) + margin)
        found = np.stack(columns, axis=1)
        found = np.where(np.isnan(found), _MISSING, found)
        found[~measured.feasible] = 10.0 * _MISSING
        return found

    def missed(self, values: Array) -> Array:
        """Return the sum of all violations."""
        each = self.violations(values)
        return np.asarray(np.where(each > _SLACK_MM, each, 0.0).sum(axis=1))

    def rank(self, values: Array) -> Array:
        """Return one number to make small: the travel where limits are kept, more elsewhere."""
        rank = 1e4 + self.missed(values)
        kept = np.flatnonzero(rank == 1e4)  # the travel of the others does not matter
        if len(kept):
            rank[kept] = np.minimum(self.setup.shapes.travel(values[kept]).max(axis=1), 9e3)
        return rank


def search(problem: Problem, seed: int, starts: Sequence[Array] = ()) -> Array | None:
    """Search for the least change that keeps the limits."""
    best = _globally(problem, seed, starts)
    for _ in range(2):
        best = _by_pattern(problem, best, seed)
        best = _better(problem.rank, best, _by_gradient(problem, best))
        best = _better(problem.rank, best, _back_toward_base(problem, best))
    if problem.missed(best[None])[0] > 0.0:
        return None
    return _nothing_needless(problem, best, seed)


def _globally(problem: Problem, seed: int, starts: Sequence[Array]) -> Array:
    """Quasi-random sample, then differential evolution from its best."""
    from scipy.optimize import differential_evolution  # here: the command line must start fast

    low, high, base = problem.low, problem.high, problem.setup.shapes.base
    count = len(low)
    first = [np.clip(base, low, high)[None], sobol(list(low), list(high), 2048, seed)]
    first += [np.clip(start, low, high)[None] for start in starts]
    sample = np.concatenate(first)
    rank = problem.rank(sample)
    order = np.argsort(rank, kind="stable")
    population = sample[order[: max(24, 8 * count)]]
    best = sample[order[0]]
    evolve: Any = differential_evolution  # its types do not know vectorized=True
    found = evolve(
        lambda x: problem.rank(np.ascontiguousarray(x.T)),
        list(zip(low.tolist(), high.tolist(), strict=True)),
        init=population,
        maxiter=60,
        tol=1e-10,
        rng=np.random.default_rng(seed),
        polish=False,
        vectorized=True,
        updating="deferred",
    )
    return np.asarray(found.x) if found.fun < rank[order[0]] else best


def _nothing_needless(problem: Problem, best: Array, seed: int) -> Array:
    """Of the changes that move the skin no farther, find one that moves it less on the whole."""
    most = float(problem.setup.shapes.travel(best[None]).max()) + _NO_FARTHER_MM

    def rank(values: Array) -> Array:
        found = 1e6 + problem.missed(values)
        kept = np.flatnonzero(found == 1e6)
        if len(kept):
            far = problem.setup.shapes.travel(values[kept])
            overall = np.sqrt((far * far).mean(axis=1))
            found[kept] = np.where(far.max(axis=1) > most, 1e5 + overall, overall)
        return found

    for step in (_by_gradient(problem, best, most), _by_pattern(problem, best, seed, rank, 1e-5)):
        best = _better(rank, best, step)
    return best


def _by_pattern(
    problem: Problem,
    best: Array,
    seed: int,
    rank_of: _Rank | None = None,
    finest: float = 1e-10,
) -> Array:
    """Try steps along the axes and in random directions, shorter when none is better."""
    rank_of = problem.rank if rank_of is None else rank_of
    low, high = problem.low, problem.high
    width, count = high - low, len(low)
    rng = np.random.default_rng(seed)
    value = float(rank_of(best[None])[0])
    step = 0.1
    while step > finest:
        axes = np.concatenate([np.eye(count), -np.eye(count)])
        more = rng.normal(size=(0 if count == 1 else 6 * count, count))
        more /= np.maximum(np.linalg.norm(more, axis=1, keepdims=True), 1e-12)
        tries = np.clip(best + step * width * np.concatenate([axes, more]), low, high)
        rank = rank_of(tries)
        k = int(rank.argmin())
        if rank[k] < value - finest:
            best, value = tries[k], float(rank[k])
        else:
            step /= 2.0
    return best


def _by_gradient(problem: Problem, best: Array, most: float | None = None) -> Array:
    """Sequential quadratic programming on: least t, no point travels farther than t."""
    # With `most`, t is held there, and the mean square travel is made small instead. What comes
    # back need not be better than what was given.
    from scipy.optimize import minimize

    shapes = problem.setup.shapes
    low, high, count = problem.low, problem.high, len(best)
    width = high - low
    travel = shapes.travel(best[None])[0]
    chosen = np.argsort(-travel, kind="stable")[:40]
    scale = max(float(travel.max()), 1.0)

    def apart(u: Array) -> Array:
        """All constraints at steps of each variable, (2 count + 1, g): centre first."""
        at = low + u[:count] * width
        h = 1e-6
        steps = np.concatenate([np.zeros((1, count)), h * np.eye(count), -h * np.eye(count)])
        values = at + steps * width
        out = -problem.violations(values) - _INSIDE_MM
        far = shapes.travel(values)[:, chosen] / scale
        return np.concatenate([out, u[count] ** 2 - far * far], axis=1)

    def slack(u: Array) -> Array:
        return np.asarray(apart(u)[0])

    def slope(u: Array) -> Array:
        every = apart(u)
        jacobian = np.zeros((every.shape[1], count + 1))
        jacobian[:, :count] = ((every[1 : count + 1] - every[count + 1 :]) / 2e-6).T
        jacobian[-len(chosen) :, count] = 2.0 * u[count]
        return jacobian

    def whole(u: Array) -> Array:
        """Mean square travel at steps of each variable, (2 count + 1,)."""
        steps = np.concatenate([np.zeros((1, count)), 1e-5 * np.eye(count), -1e-5 * np.eye(count)])
        far = shapes.travel(low + (u[:count] + steps) * width) / scale
        return np.asarray((far * far).mean(axis=1))

    def aim(u: Array) -> tuple[float, Array]:
        """What is made small, and its slope."""
        ask = np.zeros(count + 1)
        if most is None:
            ask[count] = 1.0
            return float(u[count]), ask
        every = whole(u)
        ask[:count] = (every[1 : count + 1] - every[count + 1 :]) / 2e-5
        return float(every[0]), ask

    unit = np.concatenate([(best - low) / width, [float(travel.max()) / scale]])
    quadratic: Any = minimize  # its types do not know vector constraints
    found = quadratic(
        aim,
        unit,
        jac=True,
        method="SLSQP",
        bounds=[(0.0, 1.0)] * count + [(0.0, None if most is None else most / scale)],
        constraints=[{"type": "ineq", "fun": slack, "jac": slope}],
        options={"maxiter": 60, "ftol": 1e-12},
    )
    if not np.isfinite(found.x).all():
        return best
    return np.asarray(np.clip(low + found.x[:count] * width, low, high))


def _back_toward_base(problem: Problem, best: Array) -> Array:
    """Go back on the straight way to the base as far as the limits are still kept."""
    base = np.clip(problem.setup.shapes.base, problem.low, problem.high)
    if problem.missed(best[None])[0] > 0.0:
        return best
    bad, good = 0.0, 1.0
    for _ in range(50):
        middle = (bad + good) / 2.0
        if problem.missed((base + middle * (best - base))[None])[0] == 0.0:
            good = middle
        else:
            bad = middle
    return base + good * (best - base)


def _better(rank_of: _Rank, one: Array, other: Array) -> Array:
    rank = rank_of(np.stack([one, other]))
    return other if rank[1] < rank[0] else one


# What can be proven about limits: that nothing within the ranges keeps them, or how far at least.
#
# Branch and bound over boxes of parameter values. A box in which some limit is missed by every
# shape (see `frontcheck.study.enclosure`) is discarded, and so is one in which every shape moves
# the skin farther than a solution already known. What is left is halved. When nothing is left,
# that is the proof.

_TRIED: Final = 256
"""Shapes looked at for open ends before anything is proven of a line."""
_UNKNOWN: Final = (
    "is on a line with an open end: what lies beyond the measured surface could change it"
)
_BATCH: Final = 256
_GAP: Final = 0.02
"""The least change is narrowed down to this share of the change found."""


@dataclass(frozen=True)
class Bound:
    """What was proven."""

    status: Literal["none_exists", "least_change", "open", "not_available"]
    least_mm: float | None
    boxes: int  # Boxes looked at
    text: str  # What is claimed and how it was shown


def bound(study: Study, found_mm: float | None = None, most_boxes: int = 20_000) -> Bound:
    """Prove that no parameters keep the limits of a study, or how far the skin must move."""
    shapes = study.setup.shapes
    enclosures = enclosures_of(shapes, study.setup.rules)
    enclosed = [limit for limit in study.limits if limit.line in ENCLOSED]
    usable = _known(study, enclosed)
    if enclosures is not None and enclosed and not usable:
        which = "; ".join(limit.text for limit in enclosed)
        return Bound("not_available", None, 0, f"no proof: {which} {_UNKNOWN}")
    if enclosures is None or not usable:
        return Bound("not_available", None, 0,
                     "no proof: none of the limits is on a line that can be enclosed, which are "
                     + ", ".join(ENCLOSED))  # fmt: skip
    if found_mm is not None and isinstance(shapes, NoseShapes):
        return Bound("not_available", None, 0,
                     "That nothing smaller does is a result of the search and not proven: how far "
                     "the skin of a parametric nose travels is not enclosed.")  # fmt: skip
    unknown = "; ".join(limit.text for limit in enclosed if limit not in usable)
    left_out = f" Left out: {unknown} {_UNKNOWN}." if unknown else ""
    lo, hi = (study_box(study, side) for side in ("low", "high"))
    lo, hi = lo[None], hi[None]
    least = _moved(enclosures, lo, hi)
    keep = ~_missed(enclosures, usable, lo, hi)
    lo, hi, least = lo[keep], hi[keep], least[keep]
    widths = np.maximum(study_box(study, "high") - study_box(study, "low"), 1e-12)
    target = np.inf if found_mm is None else found_mm * (1.0 - _GAP)
    seen = 1
    while len(lo) and seen < most_boxes:
        order = np.argsort(least, kind="stable")
        lo, hi, least = lo[order], hi[order], least[order]
        if least[0] >= target:
            break
        now = min(_BATCH, len(lo))
        halves = _halved(lo[:now], hi[:now], widths)
        new_lo, new_hi = halves
        seen += len(new_lo)
        keep = ~_missed(enclosures, usable, new_lo, new_hi)
        new_lo, new_hi = new_lo[keep], new_hi[keep]
        new_least = _moved(enclosures, new_lo, new_hi)
        lo = np.concatenate([new_lo, lo[now:]])
        hi = np.concatenate([new_hi, hi[now:]])
        least = np.concatenate([new_least, least[now:]])
    how = (
        "Shown by bounds over boxes of parameter values that hold for every shape in a box, not "
        f"for samples; {seen} boxes; rounding allowance {ROUNDING_MM:g} mm.{left_out}"
    )
    if len(lo) == 0:
        which = "; ".join(limit.text for limit in usable)
        return Bound("none_exists", None, seen,
                     f"Proven: nothing within the ranges keeps all of: {which}. {how}")  # fmt: skip
    proven = float(least.min())
    if found_mm is not None and proven >= target:
        return Bound("least_change", proven, seen,
                     f"Proven: the limits cannot be kept by moving the skin less than {proven:.4g} "
                     f"mm within the ranges. {how}")  # fmt: skip
    text = f"No proof within {seen} boxes.{left_out}"
    if proven > 0.0:
        text = (
            f"Proven only: the limits cannot be kept by moving the skin less than {proven:.4g} mm "
            f"within the ranges. {how}"
        )
    return Bound("open", proven, seen, text)


def _known(study: Study, limits: list[Limit]) -> list[Limit]:
    """Limits on lines without an open end at the base and, as far as tried, in the ranges."""
    # A value that could be another is no ground for a proof, whichever side of a limit it lies on.
    low, high = [v.low for v in study.varied], [v.high for v in study.varied]
    tried = np.concatenate([study.setup.shapes.base[None], sobol(low, high, _TRIED, study.seed)])
    open_end, stations = measure(study.setup, tried).open_end, study.setup.shapes.stations
    return [
        limit
        for limit in limits
        if not any(open_end[name].any() for name in limit.columns(stations))
    ]


def study_box(study: Study, side: Literal["low", "high"]) -> Array:
    """Return one end of all ranges, angles of handles as their tangents."""
    values = np.array([getattr(v, side) for v in study.varied], dtype=float)
    fields = getattr(study.setup.shapes, "fields", None)
    if fields:
        return np.asarray(fields[0].scaled(values[None])[0])
    return values


def _missed(
    enclosures: dict[float, Enclosure],
    limits: list[Limit],
    lo: Array,
    hi: Array,
) -> Mask:
    """Boxes in which every shape misses some limit."""
    missed = np.zeros(len(lo), dtype=bool)
    for limit in limits:
        stations = enclosures if limit.station is None else {limit.station: None}
        for y in stations:
            found = enclosures[y].line(limit.line, lo, hi)
            missed |= found.lo > limit.at_most + ROUNDING_MM
            missed |= found.hi < limit.at_least - ROUNDING_MM
    return missed


def _moved(enclosures: dict[float, Enclosure], lo: Array, hi: Array) -> Array:
    every = [enclosure.moved(lo, hi) for enclosure in enclosures.values()]
    return np.asarray(np.max(every, axis=0))


def _halved(lo: Array, hi: Array, widths: Array) -> tuple[Array, Array]:
    """Both halves of every box, cut across its relatively longest side."""
    side = ((hi - lo) / widths).argmax(axis=1)
    row = np.arange(len(lo))
    middle = (lo[row, side] + hi[row, side]) / 2.0
    low_hi, high_lo = hi.copy(), lo.copy()
    low_hi[row, side] = middle
    high_lo[row, side] = middle
    return np.concatenate([lo, high_lo]), np.concatenate([low_hi, hi])

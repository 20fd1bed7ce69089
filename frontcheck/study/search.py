"""The least change that keeps the limits: searched globally, then to the digit; and proven."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.study.enclosure import ENCLOSED, ROUNDING_MM, enclosures_of
from frontcheck.study.sampling import sobol
from frontcheck.study.study import BLOCK, measure
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.study.enclosure import Enclosure
    from frontcheck.study.study import Limit, Study
    from frontcheck.study.varied_shapes import Shapes

_MISSING: Final = 1e5
"""Stands for the violation where a line is missing; ten times it where a shape cannot be made."""
_SLACK_MM: Final = 1e-9
_NO_FARTHER_MM: Final = 5e-7
"""Room for finding, among changes that move the skin no farther, one that moves less of it."""
_INSIDE_MM: Final = 1e-7
"""Gradient steps aim this far inside the limits, so that rounding does not leave them outside."""


@dataclass(frozen=True, eq=False)
class Problem:
    """What is searched: ranges and limits of a study, with margins."""

    study: Study  # Shapes, rules, ranges and limits
    margins: tuple[float, ...]  # Per limit, how far inside it the line must lie [mm]

    @property
    def shapes(self) -> Shapes:
        """What varies."""
        return self.study.setup.shapes

    def violations(self, values: Array) -> Array:
        """Return by how much every single limit is missed; negative inside."""
        blocks = [self._violations(values[i : i + BLOCK]) for i in range(0, len(values), BLOCK)]
        return np.concatenate(blocks)

    def _violations(self, values: Array) -> Array:
        measured = measure(self.study.setup, values)
        columns = [
            sign * (measured.known(name) - at) + margin
            for limit, margin in zip(self.study.limits, self.margins, strict=True)
            for name in limit.columns(self.shapes.stations)
            for sign, at in ((1.0, limit.at_most), (-1.0, limit.at_least))
            if math.isfinite(at)
        ]
        found = np.nan_to_num(np.stack(columns, axis=1), nan=_MISSING)
        found[~measured.feasible] = 10.0 * _MISSING
        return found

    def missed(self, values: Array) -> Array:
        """Return the sum of all violations."""
        each = self.violations(values)
        return np.asarray(np.where(each > _SLACK_MM, each, 0.0).sum(axis=1))

    def rank(self, values: Array, most: float | None = None) -> Array:
        """Return one number to make small: the travel where limits are kept, more elsewhere."""
        # With `most` it is the travel on the whole, more where some point travels farther.
        above = 1e4 if most is None else 1e6
        rank = above + self.missed(values)
        kept = np.flatnonzero(rank == above)  # the travel of the others does not matter
        if len(kept):
            far = self.shapes.travel(values[kept])
            if most is None:
                rank[kept] = np.minimum(far.max(axis=1), 9e3)
            else:
                overall = np.sqrt((far * far).mean(axis=1))
                rank[kept] = np.where(far.max(axis=1) > most, 1e5 + overall, overall)
        return rank

    def better(self, one: Array, other: Array, most: float | None = None) -> Array:
        """Return which of two changes ranks lower, the first of equals."""
        rank = self.rank(np.stack([one, other]), most)
        return other if rank[1] < rank[0] else one


def search(problem: Problem, seed: int, starts: Sequence[Array] = ()) -> Array | None:
    """Search for the least change that keeps the limits."""
    best = _globally(problem, seed, starts)
    for _ in range(2):
        best = _by_pattern(problem, best, seed)
        best = problem.better(best, _by_gradient(problem, best))
        best = problem.better(best, _back_toward_base(problem, best))
    if problem.missed(best[None])[0] > 0.0:
        return None
    # Of the changes that move the skin no farther, one that moves it less on the whole.
    most = float(problem.shapes.travel(best[None]).max()) + _NO_FARTHER_MM
    for step in (_by_gradient(problem, best, most), _by_pattern(problem, best, seed, most)):
        best = problem.better(best, step, most)
    return best


def _globally(problem: Problem, seed: int, starts: Sequence[Array]) -> Array:
    """Quasi-random sample, then differential evolution from its best."""
    from scipy.optimize import differential_evolution  # here: the command line must start fast

    low, high, base = problem.study.low, problem.study.high, problem.shapes.base
    count = len(low)
    first = [np.clip(base, low, high)[None], sobol(low, high, 2048, seed)]
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


def _by_pattern(problem: Problem, best: Array, seed: int, most: float | None = None) -> Array:
    """Try steps along the axes and in random directions, shorter when none is better."""
    low, high, count = problem.study.low, problem.study.high, len(best)
    rng = np.random.default_rng(seed)
    value = float(problem.rank(best[None], most)[0])
    step, finest = 0.1, 1e-10 if most is None else 1e-5
    while step > finest:
        more = rng.normal(size=(0 if count == 1 else 6 * count, count))
        more /= np.maximum(np.linalg.norm(more, axis=1, keepdims=True), 1e-12)
        ways = np.concatenate([_steps(count, 1.0)[1:], more])
        tries = np.clip(best + step * (high - low) * ways, low, high)
        rank = problem.rank(tries, most)
        k = int(rank.argmin())
        if rank[k] < value - finest:
            best, value = tries[k], float(rank[k])
        else:
            step /= 2.0
    return best


def _steps(count: int, size: float) -> Array:
    """No step, then one of a size up and one down along every axis, (2 count + 1, count)."""
    return np.concatenate([np.zeros((1, count)), size * np.eye(count), -size * np.eye(count)])


def _by_gradient(problem: Problem, best: Array, most: float | None = None) -> Array:
    """Sequential quadratic programming on: least t, no point travels farther than t."""
    # With `most`, t is held there, and the mean square travel is made small instead. What comes
    # back need not be better than what was given.
    from scipy.optimize import minimize

    shapes, low, count = problem.shapes, problem.study.low, len(best)
    width = problem.study.high - low
    travel = shapes.travel(best[None])[0]
    chosen = np.argsort(-travel, kind="stable")[:40]
    scale = max(float(travel.max()), 1.0)

    def apart(u: Array) -> Array:
        """All constraints at steps of each variable, (2 count + 1, g): centre first."""
        values = low + u[:count] * width + _steps(count, 1e-6) * width
        out = -problem.violations(values) - _INSIDE_MM
        far = shapes.travel(values)[:, chosen] / scale
        return np.concatenate([out, u[count] ** 2 - far * far], axis=1)

    def slope(u: Array) -> Array:
        every = apart(u)
        jacobian = np.zeros((every.shape[1], count + 1))
        jacobian[:, :count] = ((every[1 : count + 1] - every[count + 1 :]) / 2e-6).T
        jacobian[-len(chosen) :, count] = 2.0 * u[count]
        return jacobian

    def aim(u: Array) -> tuple[float, Array]:
        """What is made small, and its slope."""
        if most is None:
            return float(u[count]), np.eye(count + 1)[count]
        far = shapes.travel(low + (u[:count] + _steps(count, 1e-5)) * width) / scale
        mean = (far * far).mean(axis=1)
        return float(mean[0]), np.append((mean[1 : count + 1] - mean[count + 1 :]) / 2e-5, 0.0)

    quadratic: Any = minimize  # its types do not know vector constraints
    found = quadratic(
        aim,
        np.append((best - low) / width, float(travel.max()) / scale),
        jac=True,
        method="SLSQP",
        bounds=[(0.0, 1.0)] * count + [(0.0, None if most is None else most / scale)],
        constraints=[{"type": "ineq", "fun": lambda u: apart(u)[0], "jac": slope}],
        options={"maxiter": 60, "ftol": 1e-12},
    )
    if not np.isfinite(found.x).all():
        return best
    return np.asarray(np.clip(low + found.x[:count] * width, low, problem.study.high))


def _back_toward_base(problem: Problem, best: Array) -> Array:
    """Go back on the straight way to the base as far as the limits are still kept."""
    base = np.clip(problem.shapes.base, problem.study.low, problem.study.high)
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
_WHICH: Final = ", ".join(ENCLOSED)
_NOSE: Final = (
    "That nothing smaller does is a result of the search and not proven: how far the skin of a "
    "parametric nose travels is not enclosed."
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
    unknown = "; ".join(limit.text for limit in enclosed if limit not in usable)
    none = ""
    if enclosed and not usable:
        none = f"no proof: {unknown} {_UNKNOWN}"
    elif not usable:
        none = f"no proof: none of the limits is on a line that can be enclosed, which are {_WHICH}"
    elif found_mm is not None and isinstance(shapes, NoseShapes):
        none = _NOSE
    if none:
        return Bound("not_available", None, 0, none)
    left_out = f" Left out: {unknown} {_UNKNOWN}." if unknown else ""

    def kept(lo: Array, hi: Array) -> tuple[Array, Array, Array]:
        """Boxes in which some shape may keep the limits, and how far their skin moves at least."""
        keep = ~_missed(enclosures, usable, lo, hi)
        lo, hi = lo[keep], hi[keep]
        return lo, hi, np.max([each.moved(lo, hi) for each in enclosures.values()], axis=0)

    ends = np.stack([study.low, study.high])
    if isinstance(shapes, FrontShapes):
        ends = shapes.fields[0].scaled(ends)
    widths = np.maximum(ends[1] - ends[0], 1e-12)
    lo, hi, least = kept(ends[:1], ends[1:])
    target = np.inf if found_mm is None else found_mm * (1.0 - _GAP)
    seen = 1
    while len(lo) and seen < most_boxes:
        order = np.argsort(least, kind="stable")
        lo, hi, least = lo[order], hi[order], least[order]
        if least[0] >= target:
            break
        halves = _halved(lo[:_BATCH], hi[:_BATCH], widths)
        seen += len(halves[0])
        boxes = zip(kept(*halves), (lo, hi, least), strict=True)
        lo, hi, least = (np.concatenate([new, old[_BATCH:]]) for new, old in boxes)
    how = (
        "Shown by bounds over boxes of parameter values that hold for every shape in a box, not "
        f"for samples; {seen} boxes; rounding allowance {ROUNDING_MM:g} mm.{left_out}"
    )
    if len(lo) == 0:
        which = "; ".join(limit.text for limit in usable)
        text = f"Proven: nothing within the ranges keeps all of: {which}. {how}"
        return Bound("none_exists", None, seen, text)
    proven = float(least.min())
    kept_by = f"the limits cannot be kept by moving the skin less than {proven:.4g} mm"
    if found_mm is not None and proven >= target:
        text = f"Proven: {kept_by} within the ranges. {how}"
        return Bound("least_change", proven, seen, text)
    text = f"Proven only: {kept_by} within the ranges. {how}"
    none = f"No proof within {seen} boxes.{left_out}"
    return Bound("open", proven, seen, text if proven > 0.0 else none)


def _known(study: Study, limits: list[Limit]) -> list[Limit]:
    """Limits on lines without an open end at the base and, as far as tried, in the ranges."""
    # A value that could be another is no ground for a proof, whichever side of a limit it lies on.
    more = sobol(study.low, study.high, _TRIED, study.seed)
    tried = np.concatenate([study.setup.shapes.base[None], more])
    open_end, stations = measure(study.setup, tried).open_end, study.setup.shapes.stations
    return [
        limit
        for limit in limits
        if not any(open_end[name].any() for name in limit.columns(stations))
    ]


def _missed(
    enclosures: Mapping[float, Enclosure], limits: list[Limit], lo: Array, hi: Array
) -> Mask:
    """Boxes in which every shape misses some limit."""
    missed = np.zeros(len(lo), dtype=bool)
    for limit in limits:
        for y in limit.at(enclosures):
            found = enclosures[y].line(limit.line, lo, hi)
            missed |= found.lo > limit.at_most + ROUNDING_MM
            missed |= found.hi < limit.at_least - ROUNDING_MM
    return missed


def _halved(lo: Array, hi: Array, widths: Array) -> tuple[Array, Array]:
    """Both halves of every box, cut across its relatively longest side."""
    side = ((hi - lo) / widths).argmax(axis=1)
    row = np.arange(len(lo))
    middle = (lo[row, side] + hi[row, side]) / 2.0
    low_hi, high_lo = hi.copy(), lo.copy()
    low_hi[row, side] = middle
    high_lo[row, side] = middle
    return np.concatenate([lo, high_lo]), np.concatenate([low_hi, hi])

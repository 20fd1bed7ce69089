"""The least change of chosen parameters that brings chosen lines inside chosen limits."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.errors import refuse
from frontcheck.lines.statuses import OPEN_END
from frontcheck.screening import screen
from frontcheck.serializer import one_line, plain
from frontcheck.study.head_landings import no_target
from frontcheck.study.noses import facets_for
from frontcheck.study.sampling import sobol
from frontcheck.study.search import Bound, Problem, bound, search
from frontcheck.study.study_document import SolutionDocument
from frontcheck.study.varied_shapes import NoseShapes

if TYPE_CHECKING:
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.station import Station
    from frontcheck.screening import Screening
    from frontcheck.study.study import Limit, Study

_VERIFIED_MM: Final = 1e-6
_DRAWS: Final = 4000
_ROUNDS: Final = 8
_GLANCE: Final = 300

Status = Literal["met", "found", "none_exists", "none_found"]


@one_line
@dataclass(frozen=True)
class LineChange:
    """One line that a limit concerns, at the base and in the solution."""

    limit: Limit  # The limit
    station: float  # Station [mm]
    before: float | None  # The line at the base and in a fresh screening of the solution [mm]
    after: float | None  # The line at the base and in a fresh screening of the solution [mm]
    probability: float | None = None
    before_open_end: bool = False  # Whether what lies beyond the surface could change it
    after_open_end: bool = False

    @property
    def kept(self) -> bool:
        """Whether the solution keeps the limit, to rounding, and with the probability asked."""
        if self.after is None or self.after_open_end:
            return False
        if _missed(self.limit, self.after) > _VERIFIED_MM:
            return False
        wanted = self.limit.probability
        return wanted is None or (self.probability is not None and self.probability >= wanted)


@one_line
@dataclass(frozen=True, eq=False)
class Solution:
    """What was found.

    Parameters
    ----------
    study : Study
        The study.
    status : {"met", "found", "none_exists", "none_found"}
        ``met``: the base keeps the limits. ``found``: a change that keeps them, verified by a
        fresh screening. ``none_exists``: proven that none within the ranges does.
        ``none_found``: the search found none, which proves nothing.
    reason : str
        What is claimed, and how it was shown.
    values : dict of str to float
        Parameters of the solution by name; empty without one.
    skin_moved_mm : float or None
        How far the skin moves [mm]: of a measured front, the farthest that a measured point
        travels; of a parametric nose, the largest distance between points of the old skin and
        the new one.
    proof : Bound
        What was proven.
    lines : tuple of LineChange
        The lines that limits concern.
    front : Front or None
        The changed front.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, limits=study.limits[1:2])
    >>> found = fc.solve(study, most_boxes=50)
    >>> found.status, sorted(found.values)[:2]
    ('met', [])
    """

    study: Study
    status: Status
    reason: str
    values: dict[str, float]
    skin_moved_mm: float | None
    proof: Bound
    lines: tuple[LineChange, ...]
    front: Front | None

    def to_dict(self) -> dict[str, Any]:
        """Return the document ``frontcheck.solution/1`` as plain values.

        Returns
        -------
        dict
            Ready for JSON; missing values are None.
        """
        return plain(SolutionDocument, self)


def solve(study: Study, most_boxes: int = 20_000) -> Solution:
    """Find the least change that keeps the limits of a study, or prove that none does.

    Parameters
    ----------
    study : Study
        Base, ranges and limits.
    most_boxes : int, optional
        How many boxes a proof may look at.

    Returns
    -------
    Solution
        What was found; a change is verified by a fresh screening of the changed front.

    Raises
    ------
    InputError
        If the study has no limits, nothing varies, or the base lies outside the ranges; if a
        probability is asked for and the front states no uncertainty.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, limits=study.limits[1:2])
    >>> found = fc.solve(study, most_boxes=50)
    >>> [line.kept for line in found.lines]
    [True]
    """
    _check(study)
    shapes = study.setup.shapes
    lines = _verify(study, shapes.base)
    if all(line.kept for line in lines):
        proof = Bound("least_change", 0.0, 0, "Nothing needs to move.")
        reason = "The base keeps all limits already; verified by a fresh screening."
        front = shapes.front(shapes.base)
        return Solution(study, "met", reason, {}, 0.0, proof, lines, front)
    # Where none exists this often shows at a glance, and nothing need be searched.
    proof = bound(study, None, min(most_boxes, _GLANCE))
    found = None if proof.status == "none_exists" else _searched(study)
    if found is not None:
        values, changed, moved = found
        proof = bound(study, moved, most_boxes)
        reason = f"Found: the skin moves {moved:.4g} mm at most; verified by a fresh screening. "
        reason += proof.text
        if proof.status == "open" and not (proof.least_mm or 0.0) > 0.0:
            reason += " That nothing smaller does is a result of the search and not proven."
        named = dict(zip(shapes.names, (values + 0.0).tolist(), strict=True))  # no minus zero
        front = shapes.front(values)
        return Solution(study, "found", reason, named, moved, proof, changed, front)
    if proof.status != "none_exists":
        proof = bound(study, None, most_boxes)
    if proof.status == "none_exists":
        return Solution(study, "none_exists", proof.text, {}, None, proof, lines, None)
    asked = any(limit.probability is not None for limit in study.limits)
    more = " with the probability asked for" if asked else ""
    reason = (
        f"None found{more}: the search over the ranges met nothing that keeps all limits. "
        f"That is no proof. {proof.text}"
    )
    return Solution(study, "none_found", reason, {}, None, proof, lines, None)


def _check(study: Study) -> None:
    if not study.limits:
        raise refuse("solve.no_limits")
    for limit in study.limits:
        if (error := no_target(limit.line)) is not None:
            raise error
    for v, at in zip(study.varied, study.setup.shapes.base.tolist(), strict=True):
        if not v.low <= at <= v.high:
            raise refuse("solve.base_outside", name=v.name, value=at, low=v.low, high=v.high)


def _searched(study: Study) -> tuple[Array, tuple[LineChange, ...], float] | None:
    """A change that keeps the limits as screened afresh, its lines and how far the skin moves."""
    roomy = _roomy(study)
    starts: list[Array] = []
    margins = [0.0] * len(study.limits)
    for _ in range(_ROUNDS):
        values = search(Problem(roomy, tuple(margins)), study.seed, starts)
        if values is None:
            return None
        lines, starts = _verify(study, values), [values]
        if all(line.kept for line in lines):
            return values, lines, float(roomy.setup.shapes.travel(values[None]).max())
        margins = _widened(study, lines, margins)
    return None


def _roomy(study: Study) -> Study:
    """Give a parametric nose facets with room for every nose within the ranges."""
    shapes = study.setup.shapes
    if not isinstance(shapes, NoseShapes):
        return study
    inside = np.concatenate([shapes.base[None], sobol(study.low, study.high, 1024, study.seed)])
    facets = facets_for(shapes.full(inside), shapes.chord_tolerance, margin_deg=5.0)
    return replace(study, setup=replace(study.setup, shapes=replace(shapes, facets=facets)))


def _verify(study: Study, values: Array) -> tuple[LineChange, ...]:
    """Screen base and changed front afresh and read the lines that limits concern."""
    shapes, rules, wad = study.setup.shapes, study.setup.rules, study.setup.wad
    before, after = (
        screen(shapes.front(each), rules, wad) for each in (shapes.base, np.asarray(values))
    )
    lines = []
    for limit in study.limits:
        for y in limit.at(shapes.stations):
            was, was_open = _read(before.station(y), limit.line)
            now, now_open = _read(after.station(y), limit.line)
            asked = limit.probability is not None
            chance = _chance(after, limit, y, study.seed) if asked else None
            lines.append(LineChange(limit, y, was, now, chance, was_open, now_open))
    return tuple(lines)


def _read(station: Station, name: str) -> tuple[float | None, bool]:
    """A number of a station, and whether an open end could change it."""
    if name == "bumper_lead_mm":
        return station.bumper_lead, station.lead_open_end
    line, *distance, axis, _ = name.split("_")
    point = station.wad(float(distance[0])) if distance else getattr(station, line)
    return getattr(point, axis), point.status == OPEN_END


def _chance(screening: Screening, limit: Limit, y: float, seed: int) -> float:
    """Share of draws of the measurement in which a limit is kept."""
    from frontcheck.sure.intervals import tolerance

    sides = (("below", limit.at_most), ("at_or_above", limit.at_least))
    ends = [(side, at) for side, at in sides if math.isfinite(at)]
    front, thresholds = screening.front, [(limit.line, at) for _, at in ends]
    one, rules, wad = replace(front, sections=(front.section(y),)), screening.rules, screening.wad
    result = tolerance(one, rules, wad, draws=_DRAWS, seed=seed, thresholds=thresholds)
    found = zip(ends, result.stations[0].thresholds, strict=True)
    beyond = [1.0 - float(getattr(share, side)) for (side, _), share in found]
    return max(1.0 - sum(beyond), 0.0)


def _widened(study: Study, lines: tuple[LineChange, ...], margins: list[float]) -> list[float]:
    """Margins that should bring every line inside, with its probability."""
    wider = list(margins)
    for k, limit in enumerate(study.limits):
        for line in (line for line in lines if line.limit is limit and not line.kept):
            if line.after is None or line.after_open_end:
                continue
            more = max(_missed(limit, line.after), 0.0) + 2.0 * _VERIFIED_MM
            if limit.probability is not None and line.probability is not None:
                # As if normal with the spread that the present share and distance tell.
                ask = NormalDist().inv_cdf(limit.probability)
                have = NormalDist().inv_cdf(min(max(line.probability, 1e-3), 1.0 - 1e-3))
                inside = max(-_missed(limit, line.after), 0.0)
                spread = inside / have if have > 0.3 and inside > 0.1 else 1.5
                more = max(more, (ask - have) * spread * 1.05 + 0.05)
            wider[k] = max(wider[k], margins[k] + more)
    return wider


def _missed(limit: Limit, value: float) -> float:
    return max(value - limit.at_most, limit.at_least - value)

"""Closure checks: what was measured on the car a second way, against what the offsets give.

The car is compared as it stood: slope and tilt are taken out first, the ride attitude is
not, and its uncertainty plays no part, since both measurements were made on the same car in the
same attitude.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.attitude import as_stood
from frontcheck.geometry.tape import TautTape
from frontcheck.lines.bumper_lines import tape_anchor
from frontcheck.lines.line_values import NO_ANCHOR
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.statuses import NOT_KNOWN, OPEN_END
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet, rule_set
from frontcheck.serializer import one_line, plain, table
from frontcheck.sure.corrections import corrected
from frontcheck.sure.draws import StationDraws
from frontcheck.sure.tolerance_document import CheckEntry, ClosureEntry
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    import pandas as pd

    from frontcheck.front.front import Front
    from frontcheck.front.survey import MeasuredCheck
    from frontcheck.geometry.arrays import Array

_TAPE_DRAWS: Final = 400
"""Tapes are followed one by one; this many give their spread within 4 %."""


CLOSURE_THRESHOLD: Final = 2.0
"""Normalised difference above which a check disagrees: coverage factor 2."""


@one_line
@dataclass(frozen=True)
class Closure:
    """One check compared with the offsets."""

    check: MeasuredCheck  # What was measured
    computed_mm: float | None  # What the offsets give [mm]; None when it cannot be formed
    computed_u_mm: float | None
    reason: str = ""  # Why it cannot be formed

    @property
    def combined_u_mm(self) -> float | None:
        """Combined standard uncertainty of both [mm]."""
        if self.computed_u_mm is None:
            return None
        return math.hypot(self.computed_u_mm, self.check.u_mm)

    @property
    def normalised(self) -> float | None:
        """Measured less computed, in combined standard uncertainties."""
        if self.computed_mm is None or not self.combined_u_mm:
            return None
        return (self.check.measured_mm - self.computed_mm) / self.combined_u_mm

    @property
    def verdict(self) -> str:
        """``agree``, ``disagree`` or ``not_available``."""
        if self.normalised is None:
            return "not_available"
        return "agree" if abs(self.normalised) <= CLOSURE_THRESHOLD else "disagree"


@one_line
@dataclass(frozen=True)
class ClosureReport:
    """All checks of a front.

    Parameters
    ----------
    closures : tuple of Closure
        One a check, in the order of the survey.

    Examples
    --------
    >>> import frontcheck as fc
    >>> survey = fc.read_front("geometries/plover-survey.csv")
    >>> report = fc.closure(survey, draws=100)
    >>> report.agree, report.closures[0].verdict
    (False, 'agree')
    """

    closures: tuple[Closure, ...]  # In the order of the survey

    @property
    def agree(self) -> bool:
        """Whether every check could be formed and agrees."""
        return all(each.verdict == "agree" for each in self.closures)

    def to_frame(self) -> pd.DataFrame:
        """Return one row per check.

        Returns
        -------
        pandas.DataFrame
            Lengths in mm; missing numbers are NA.
        """
        checks = [plain(CheckEntry, each) for each in self.closures]
        return table(checks, CheckEntry.__struct_fields__)

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(ClosureEntry, self)


def closure(
    front: Front,
    rules: str | RuleSet = DEFAULT_RULES,
    settings: Uncertainty | None = None,
    *,
    draws: int = 2000,
    seed: int = 1,
) -> ClosureReport:
    """Compare every check of a survey with what the offsets give.

    Parameters
    ----------
    front : Front
        The front as measured, with its checks in ``survey.checks``; not yet brought to normal
        ride attitude.
    rules : str or RuleSet, optional
        Rule set, whose straight edges were held against the car.
    settings : Uncertainty, optional
        Uncertainties of what the rows do not state themselves; those of the survey when
        not given. Ride height and pitch play no part.
    draws : int, optional
        Number of draws for heights; for tapes at most 400.
    seed : int, optional
        Seed of the draws.

    Returns
    -------
    ClosureReport
        One entry a check; empty when there is none.

    Raises
    ------
    InputError
        If a check names a station or row that was not measured, or neither it nor the
        offsets have an uncertainty.
    RuleSetError
        If there is no such rule set.

    Examples
    --------
    >>> import frontcheck as fc
    >>> survey = fc.read_front("geometries/plover-survey.csv")
    >>> [check.verdict for check in fc.closure(survey, draws=100).closures][:2]
    ['agree', 'agree']
    """
    rules = rule_set(rules)
    settings = Uncertainty.of(front) if settings is None else settings
    settings = replace(settings, ride_height_u_mm=0.0, pitch_u_deg=0.0)
    stood = as_stood(front)
    stood, _ = corrected(replace(stood, survey=replace(stood.survey, arches=None, marks=())), rules)
    found = []
    for check in front.survey.checks:
        index = _station(front, check)
        size = min(draws, _TAPE_DRAWS) if check.kind == "tape" else draws
        survey = StationDraws(stood.sections[index], settings, index, size, seed)
        value = _heights if check.kind == "edge" else _tapes
        nominal, reason = value(survey, survey.section.points[None], check, rules)
        if reason:
            found.append(Closure(check, None, None, reason))
            continue
        computed = float(nominal[0])
        drawn = np.concatenate(
            [value(survey, points, check, rules)[0] for _, _, points in survey.blocks()]
        )
        u = float(np.sqrt(np.mean((drawn - computed) ** 2))) if survey.inputs else 0.0
        if u == 0.0 and check.u_mm == 0.0:
            raise refuse(
                "closure.no_uncertainty",
                front.source.file or None,
                check.source_row,
                name=check.name,
            )
        found.append(Closure(check, computed, u))
    return ClosureReport(tuple(found))


def _station(front: Front, check: MeasuredCheck) -> int:
    file = front.source.file or None
    if check.station not in front.stations:
        raise refuse(
            "closure.station",
            file,
            check.source_row,
            name=check.name,
            station=check.station,
            stations=", ".join(f"{y:g}" for y in front.stations),
        )
    index = front.stations.index(check.station)
    rows = len(front.sections[index])
    if check.row is not None and check.row > rows:
        raise refuse(
            "closure.row", file, check.source_row, row=check.row, station=check.station, last=rows
        )
    return index


def _heights(
    survey: StationDraws, points: Array, check: MeasuredCheck, rules: RuleSet
) -> tuple[Array, str]:
    """Height of a line in every copy that forms it; why there is none in the first."""
    batch = section_lines(Contours.copies(survey.section, points), rules, ())
    line = getattr(batch, check.line)
    known = line.formed[0] and line.status(0) != OPEN_END
    why = f"{NOT_KNOWN}, {line.reason(0)}" if line.formed[0] else line.reason(0)
    return line.z[line.formed], "" if known else why


def _tapes(
    survey: StationDraws, points: Array, check: MeasuredCheck, rules: RuleSet
) -> tuple[Array, str]:
    """Length of the tape to a row in every copy; why there is none in the first."""
    assert check.row is not None
    anchor = tape_anchor(Contours.copies(survey.section, points), rules)
    lengths = [
        TautTape(copy, float(x), int(start)).distances[check.row - 1]
        for copy, x, start, hung in zip(points, anchor.x, anchor.start, anchor.found, strict=True)
        if hung
    ]
    return np.array(lengths), "" if anchor.found[0] else NO_ANCHOR

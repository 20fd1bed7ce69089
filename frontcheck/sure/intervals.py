"""One call from a front and its uncertainties to how far its lines may be off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.caution import CAUTION
from frontcheck.errors import refuse
from frontcheck.front.attitude import not_corrected
from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.lines.bumper_lines import bumper_of, lower_edge, tape_anchor, upper_edge
from frontcheck.lines.line_values import OK, RETAKEN, STATUSES, UNDERSIDE_FIRST, WAD_1000
from frontcheck.lines.lined_front import TapeStart, line_up
from frontcheck.lines.rear import RULED, RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.statuses import OPEN_END
from frontcheck.sure.draws import (
    LINES,
    OPEN,
    CrossSums,
    StationDraws,
    contact_counts,
    crossing,
    interval,
    line_names,
    of_difference,
    of_mark,
    open_ended,
    quantities,
    quantity_index,
    quantity_names,
    station_draws,
    status_codes,
    touchable,
)
from frontcheck.sure.tolerance_result import (
    ContactShare,
    Driver,
    LineTolerance,
    Spread,
    StationTolerance,
    ThresholdShare,
    Tolerance,
)
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.section import Section

_LISTED: Final = 0.01
"""Contact and variance shares below this are left out of the lists."""
_AT_A_ROW: Final = (OK, RETAKEN, UNDERSIDE_FIRST)
"""Codes of lines that lie where their edge first touches, and not at its tip."""


def tolerance(
    front: Front,
    rules: str | RuleSet,
    wad: Iterable[float] | None = None,
    settings: Uncertainty | None = None,
    *,
    draws: int = 10_000,
    seed: int = 1,
    tape_start: TapeStart = "section",
    thresholds: Iterable[tuple[str, float]] = (),
) -> Tolerance:
    """Draw what the same measurement might have read, and form all lines of every draw.

    Parameters
    ----------
    front : Front
        The front as measured.
    rules : str or RuleSet
        Rule set or its id.
    wad : iterable of float, optional
        Wrap-around distances [mm]; those of the rule set when not given.
    settings : Uncertainty, optional
        Uncertainties of what the rows do not state themselves; those that the survey of
        the front states when not given.
    draws : int, optional
        Number of draws, 100 or more. Time grows in proportion.
    seed : int, optional
        Seed; the same seed gives the same result to the last bit.
    tape_start : {"section", "vehicle"}, optional
        Where the tape stands, as in a screening.
    thresholds : iterable of (str, float), optional
        Quantities (`frontcheck.sure.draws.quantity_names`, or ``ble_height_mm`` and the
        like) and thresholds [mm] to give the shares on either side of.

    Returns
    -------
    Tolerance
        Median, interval and shares for every line of every station.

    Raises
    ------
    InputError
        If nothing has an uncertainty, a threshold names no quantity, or draws or seed
        are out of range; if the tape is to stand below the foremost point of a vehicle whose
        stations have no common datum.
    RuleSetError
        If there is no such rule set.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> drawn = fc.tolerance(plover, "UN-R127-02", settings=fc.HAND_TOOLS, draws=200)
    >>> spread = drawn.station(0).line("UBRL").z
    >>> spread.low < spread.nominal < spread.high
    True
    """
    lined = line_up(front, rules, wad, tape_start=tape_start)
    settings = Uncertainty.of(front) if settings is None else settings
    surveys = station_draws(front, settings, draws, seed)
    if tape_start == "vehicle" and front.datum == "local":
        raise refuse("draws.tape")
    limits = [(name, quantity_index(name, lined.wad), float(at)) for name, at in thresholds]
    if not any(survey.inputs for survey in surveys):
        raise refuse("draws.no_uncertainty")
    tape_x = vehicle_tape(surveys, lined.rules) if tape_start == "vehicle" else None
    stations = tuple(
        _Station(survey, lined, i, tape_x).run().result(lined.batch, i, limits)
        for i, survey in enumerate(surveys)
    )
    return Tolerance(
        front,
        lined.rules,
        settings,
        draws,
        seed,
        lined.wad,
        tape_start,
        stations,
        (*_cautions(front, settings, stations), *filter(None, [lined.rules.caution])),
    )


def vehicle_tape(surveys: Sequence[StationDraws], rules: RuleSet) -> Array:
    """Foremost point of the whole vehicle in every draw, (draws,) [mm]."""
    foremost = np.full(len(surveys[0]), np.inf)
    for survey in surveys:
        for at, _, points in survey.blocks():
            anchor = tape_anchor(Contours.copies(survey.section, points), rules)
            x = np.where(anchor.found, anchor.x, np.inf)
            foremost[at] = np.minimum(foremost[at], x)
    # A draw without any foremost point has no tape at all, wherever it would stand.
    return np.where(np.isfinite(foremost), foremost, 0.0)


class _Station:
    """All draws of one station."""

    def __init__(
        self,
        survey: StationDraws,
        lined: LinedFront,
        i: int,
        tape_x: Array | None,
    ) -> None:
        self.survey, self.rules, self.wad, self.tape_x = survey, lined.rules, lined.wad, tape_x
        self.rear = RuledRear.of(lined.batch, i, Contours.of([survey.section]), lined.rules)
        self.names = line_names(lined.wad)
        self.quantity_names = quantity_names(lined.wad)
        shape = (len(self.quantity_names), len(survey))
        self.values = np.empty(shape)
        self.formed = np.empty(shape, dtype=bool)
        self.known = np.empty(shape, dtype=bool)  # formed, and without an open end
        self.status = np.zeros((len(self.names), len(STATUSES)), dtype=np.intp)
        self.contacts = np.zeros((len(self.names), len(survey.section)), dtype=np.intp)
        self.sums = CrossSums(shape[0], len(survey.inputs))
        self.crossed = 0
        self.sample = np.empty((0, len(survey.section), 2))  # the first draws, to judge contacts by

    def run(self) -> _Station:
        for at, normals, points in self.survey.blocks():
            if at.start == 0:
                self.sample = points
            copies = Contours.copies(self.survey.section, points)
            tape_x = None if self.tape_x is None else self.tape_x[at]
            batch = section_lines(copies, self.rules, self.wad, tape_x=tape_x)
            batch = self.rear.on(batch, copies, self.rules)
            self.values[:, at], self.formed[:, at] = quantities(batch)
            found = status_codes(batch)
            self.known[:, at] = self.formed[:, at] & ~open_ended(found)
            for k, codes in enumerate(found):
                self.status[k] += np.bincount(codes, minlength=len(STATUSES))
            self.contacts += contact_counts(batch, points)
            self.sums.add(self.values[:, at], self.formed[:, at], normals)
            # Errors common to a station turn and lean its contour: they cross nothing.
            strayed = self.survey.strayed(normals)
            self.crossed += int(crossing(self.survey.section.points, strayed).sum())
        return self

    def result(
        self, nominal: LineBatch, i: int, limits: Sequence[tuple[str, int, float]]
    ) -> StationTolerance:
        values, formed = quantities(nominal)
        shares = self.sums.shares()
        codes = status_codes(nominal)[:, i]
        placed = [float(values[q, i]) if formed[q, i] else None for q in range(len(values))]
        ends, lengths = self._ends(placed, codes, float(nominal.edge_angle_deg[i]))
        spreads = [self._spread(q, placed[q], ends[q], shares[q]) for q in range(len(values))]
        for k in np.flatnonzero(codes == OPEN):
            spreads[2 * k] = spreads[2 * k + 1] = None
        if OPEN in codes[[self.names.index(name) for name in ("UBRL", "BLERL")]]:
            spreads[-1] = None
        lines = tuple(
            LineTolerance(
                name,
                self._statuses(k),
                STATUSES[codes[k]],
                spreads[2 * k],
                spreads[2 * k + 1],
                self._contacts(k),
                _place(*placed[2 * k : 2 * k + 2]),
                lengths.get(name, 0.0),
            )
            for k, name in enumerate(self.names)
        )
        return StationTolerance(
            self.survey.section.y,
            lines,
            spreads[-1],
            self._legform(),
            tuple(self._threshold(*limit) for limit in limits),
            self.crossed / len(self.survey),
        )

    def _ends(
        self, placed: Sequence[float | None], codes: Index, angle: float
    ) -> tuple[Array, dict[str, float]]:
        """Both ends of every interval, and the length over which long contacts may lie."""
        ends = np.zeros((len(placed), 2))
        for q, at in enumerate(placed):
            drawn = self.values[q, self.formed[q]]
            k = q // 2
            mark = k < len(codes) and (k >= len(LINES) or codes[k] == WAD_1000)
            if len(drawn):
                ends[q] = of_mark(drawn, at) if mark and at is not None else interval(drawn)
        lengths = {}
        for name, (edge, rows) in self._edges(angle).items():
            k = self.names.index(name)
            if codes[k] in _AT_A_ROW and len(rows):
                drawn = self.sample[:, rows]
                gap = edge.gap(*self.survey.section.points[rows].T)
                may = touchable(gap, edge.gap(drawn[..., 0], drawn[..., 1]))
                length = float(np.ptp(self.survey.section.z[rows[may]])) / edge.cosine
                if length > self.rules.value("blerl.continuous_length_mm"):
                    lengths[name] = length
                    low, high = interval(drawn[:, may])
                    at_k = ends[2 * k : 2 * k + 2]
                    at_k[:, 0] = np.minimum(at_k[:, 0], low.min(axis=0))
                    at_k[:, 1] = np.maximum(at_k[:, 1], high.max(axis=0))
        edge_q, upper_q = (2 * self.names.index(name) for name in ("BLERL", "UBRL"))
        one, two = placed[edge_q], placed[upper_q]
        if one is not None and two is not None and self.formed[-1].any() and lengths:
            r = _correlation(*self.values[[edge_q, upper_q]][:, self.formed[-1]])
            wide = of_difference(one, ends[edge_q], two, ends[upper_q], r)
            ends[-1] = min(ends[-1, 0], wide[0]), max(ends[-1, 1], wide[1])
        return ends, lengths

    def _edges(self, angle: float) -> dict[str, tuple[StraightEdge, Index]]:
        """The edge of each line, and the rows that it may touch."""
        contours = Contours.of([self.survey.section])
        bumper, z = bumper_of(contours, self.rules), self.survey.section.z
        length, foot = (
            self.rules.value(f"blerl.{name}") for name in ("edge_length_mm", "foot_height_mm")
        )
        counted = True if bumper.counted is None else bumper.counted[0]
        edges = {
            "UBRL": (upper_edge(self.rules, labelled=bool(bumper.labelled[0])), counted),
            "LBRL": (lower_edge(self.rules), counted),
            "BLERL": (StraightEdge.standing(length, angle, foot), True),
        }
        return {
            name: (edge, np.flatnonzero(counted & (z >= edge.low) & (z <= edge.high)))
            for name, (edge, counted) in edges.items()
        }

    def _spread(self, q: int, nominal: float | None, ends: Array, shares: Array) -> Spread | None:
        drawn = self.values[q, self.formed[q]]
        if len(drawn) == 0:
            return None
        sd = float(drawn.std())
        low, high = map(float, ends)
        rows = self.survey.section.rows
        listed = sorted(np.flatnonzero(shares >= _LISTED), key=lambda e: (-shares[e], e))
        # Errors alike along the contour are told by the row nearest to each; several may share it.
        together: dict[tuple[str, int | None], float] = {}
        for e in listed:
            at = self.survey.inputs[e].name, self.survey.inputs[e].row
            together[at] = together.get(at, 0.0) + float(shares[e])
        drivers = [
            Driver(
                name,
                row,
                None if rows is None or row is None else rows[row],
                share,
                sd * share**0.5,
            )
            for (name, row), share in sorted(together.items(), key=lambda each: -each[1])
        ]
        return Spread(
            self.quantity_names[q],
            nominal,
            float(np.median(drawn)),
            low,
            high,
            sd,
            len(drawn) / len(self.survey),
            tuple(drivers),
        )

    def _statuses(self, k: int) -> tuple[tuple[str, float], ...]:
        met = sorted(np.flatnonzero(self.status[k]), key=lambda c: (-self.status[k, c], c))
        return tuple((STATUSES[c], float(self.status[k, c]) / len(self.survey)) for c in met)

    def _contacts(self, k: int) -> tuple[ContactShare, ...]:
        section: Section = self.survey.section
        share = self.contacts[k] / len(self.survey)
        listed = sorted(np.flatnonzero(share >= _LISTED), key=lambda r: (-share[r], r))
        return tuple(
            ContactShare(
                int(r),
                section.rows[r] if section.rows is not None else None,
                float(section.z[r]),
                float(section.x[r]),
                float(share[r]),
            )
            for r in listed
        )

    def _legform(self) -> tuple[tuple[str, float], ...]:
        q = self.quantity_names.index("LBRL_z_mm")
        height, formed, n = self.values[q], self.known[q], len(self.survey)
        lower, upper = (
            self.rules.value(f"legform.{name}") for name in ("lower_below_mm", "upper_from_mm")
        )
        below, above = formed & (height < lower), formed & (height >= upper)
        return (
            ("lower", float(below.sum()) / n),
            ("either", float((formed & ~below & ~above).sum()) / n),
            ("upper", float(above.sum()) / n),
            ("missing", float((~formed).sum()) / n),
        )

    def _threshold(self, name: str, q: int, at: float) -> ThresholdShare:
        formed, n = self.known[q], len(self.survey)
        below = formed & (self.values[q] < at)
        return ThresholdShare(
            name,
            at,
            float(below.sum()) / n,
            float((formed & ~below).sum()) / n,
            float((~formed).sum()) / n,
        )


def _correlation(one: Array, two: Array) -> float:
    one, two = one - one.mean(), two - two.mean()
    scale = float(np.sqrt((one * one).sum() * (two * two).sum()))
    return float((one * two).sum()) / scale if scale > 0.0 else 0.0


def _place(x: float | None, z: float | None) -> tuple[float, float] | None:
    return None if x is None or z is None else (x, z)


def _cautions(
    front: Front, settings: Uncertainty, stations: Sequence[StationTolerance]
) -> tuple[str, ...]:
    cautions = [CAUTION]
    cautions.append(
        "The intervals hold for the uncertainties stated, taken as normal and independent. They "
        "say nothing of the surface between the rows, nor of mistakes."
    )
    if settings.error_length_mm:
        cautions.append(
            "Errors of rows are taken as alike along the contour over an error length of "
            f"{settings.error_length_mm:g} mm, and as independent from station to station: a row "
            "that is named stands for the stretch about it."
        )
    if front.drawn:
        cautions.append(f"{front.drawn} Proposed points are drawn as unsure as before they moved.")
    uncorrected = not_corrected(front)
    if uncorrected:
        cautions.append(uncorrected)
    exact = [
        text
        for name, text in (
            ("datum_u_mm", "datum"),
            ("square_tilt_u_deg", "square"),
            ("ground_slope_u_deg", "ground"),
            ("ride_height_u_mm", "ride height"),
            ("pitch_u_deg", "pitch"),
        )
        if getattr(settings, name) == 0.0
    ]
    bare = any(s.height_u is None or s.setback_u is None for s in front.sections)
    if bare and settings.height_u_mm == 0.0:
        exact.insert(0, "heights without an uncertainty of their own")
    if bare and settings.setback_u_mm == 0.0:
        exact.insert(0, "setbacks without an uncertainty of their own")
    if exact:
        cautions.append(f"Taken as exact, since no uncertainty was given: {', '.join(exact)}.")
    cautions += filter(None, [front.not_seen])
    ended = [(line.share(OPEN_END), s.y, line) for s in stations for line in s.lines]
    drawn = [(share, y, line) for share, y, line in ended if share and not line.no_interval]
    if drawn:
        share, y, line = max(drawn, key=lambda each: each[0])
        cautions.append(
            "Some draws give an open end, where what lies beyond the measured surface could change "
            f"the line (most often {line.name} at y = {y:g} mm, {100.0 * share:.2g} % of the "
            "draws): there the interval may be too narrow."
        )
    if any(line.name == "BRRL" and line.x is not None for s in stations for line in s.lines):
        cautions.append(f"{RULED}.")
    crossed = [station for station in stations if station.crossed > 0.0]
    if crossed:
        worst = max(crossed, key=lambda station: station.crossed)
        cautions.append(
            f"At {len(crossed)} of {len(stations)} stations some draws give a contour that crosses "
            f"itself (at most {100.0 * worst.crossed:.2g} % of the draws, at y = {worst.y:g} mm): "
            "rows are closer together there than they are sure. Those draws are kept."
        )
    return tuple(cautions)

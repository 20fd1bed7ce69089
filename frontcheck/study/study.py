"""A study: what varies and how far, how it is sampled, which lines must lie where."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck import __version__
from frontcheck.caution import MOTION_CAUTIONS
from frontcheck.lines.line_values import NOT_REACHED, OK, OPEN_END, REASONS, STATUSES
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.rear import RULED, RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.serializer import one_line, plain
from frontcheck.study.sampling import saltelli
from frontcheck.study.study_document import HeadLandingsEntry
from frontcheck.study.varied_shapes import FrontShapes
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.head_landings import HeadLandings
    from frontcheck.study.varied_shapes import Shapes

# Lines of many variants at once, and as rows of the results table.

BLOCK: Final = 256
"""Variants worked on at once. Fixed, so that no result depends on how work is cut up."""

ACROSS: Final = ("bumper_test_area_mm", "child_area_m2", "adult_area_m2", "findings")
"""Width of the bumper test area, headform areas and codes of findings, where asked for."""

_LINES: Final = ("LBRL", "UBRL", "BLERL", "BRRL")


@one_line
@dataclass(frozen=True, eq=False)
class Setup:
    """All that a worker needs to know besides the values."""

    shapes: Shapes  # What varies
    rules: RuleSet  # Rule set
    wad: tuple[float, ...]  # Wrap-around distances [mm]
    across: bool = False  # Whether zones and findings are worked out too, variant by variant (slow)
    heads: HeadLandings | None = None  # Where heads land, variant by variant (slower), if asked for

    @property
    def block(self) -> int:
        """Variants worked on at once: few where each is screened on its own, one where struck."""
        if self.heads is not None:
            return 1
        return 8 if self.across else BLOCK

    @cached_property
    def rear(self) -> tuple[RuledRear, ...]:
        """How BRRL moves from the base to a variant, at every station."""
        shapes = self.shapes
        base = shapes.measured if isinstance(shapes, FrontShapes) else shapes.front(shapes.base)
        lined = line_up(base, self.rules, ())
        index = base.stations.index
        return tuple(
            RuledRear.of(lined.batch, index(y), Contours.of([base.section(y)]), self.rules)
            for y in shapes.stations
        )

    @property
    def without(self) -> Mapping[str, str]:
        """Lines that no variant has, as the base cannot have them, and why."""
        return {
            prefixed(y, "BRRL"): REASONS[rear.reason]
            for y, rear in zip(self.shapes.stations, self.rear, strict=True)
            if STATUSES[rear.code] == "not_available"
        }

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind of the lines of every variant."""
        count, without = len(self.shapes.stations), self.without
        said = [] if len(without) == count else [f"{RULED}."]
        for reason in dict.fromkeys(without.values()):
            names = [name.partition("_")[0] for name, why in without.items() if why == reason]
            where = "" if len(names) == count else f" at {', '.join(names)}"
            said.append(f"BRRL is formed for no variant{where}: {reason}.")
        heads = () if self.heads is None else MOTION_CAUTIONS
        seen = self.shapes.measured.not_seen if isinstance(self.shapes, FrontShapes) else ""
        return (*said, *filter(None, [seen, self.rules.caution]), *heads)


_EMPTY: Final[dict[str, Any]] = {"f": np.nan, "b": False, "U": ""}
"""What stands in a column where a variant cannot be made, by the kind of its values."""


@dataclass(frozen=True, eq=False)
class Measured:
    """Numbers of B variants."""

    feasible: Mask  # (B,) bool
    reasons: tuple[str, ...]  # (B,) why a variant cannot be made
    columns: dict[str, NDArray[Any]]  # (B,) by name: numbers, NaN where missing, and texts
    open_end: dict[str, Mask]  # (B,) by number: where it is there, but not known

    def known(self, name: str) -> Array:
        """Return a number, NaN where it is missing or an open end could change it."""
        return np.where(self.open_end[name], np.nan, self.columns[name])


def line_names(wad: tuple[float, ...]) -> tuple[str, ...]:
    """Return the numbers formed at every station, without the station's prefix."""
    names = [f"{line}_{axis}_mm" for line in _LINES for axis in "xz"]
    marks = [f"WAD_{distance:g}_{axis}_mm" for distance in wad for axis in "xz"]
    return (*names, "bumper_lead_mm", *marks)


def prefixed(y: float, name: str) -> str:
    """Return the name of a number at a station."""
    return f"y{y + 0.0:g}_{name}"


def status_columns(name: str) -> tuple[str, ...]:
    """Return the columns that hold the statuses a number at a station rests on."""
    station, _, number = name.partition("_")
    lead = number == "bumper_lead_mm"
    lines = ("UBRL", "BLERL") if lead else (number.rsplit("_", 2)[0],)
    return tuple(f"{station}_{line}_status" for line in lines)


def measure(setup: Setup, values: Array) -> Measured:
    """Form every line of every variant."""
    shapes, rules = setup.shapes, setup.rules
    variants = shapes.variants(values)
    found: list[tuple[str, NDArray[Any], Mask | None]] = []
    if variants.moved is not None:
        found.append(("skin_moved_mm", variants.moved, None))
    for y, contours, rear in zip(shapes.stations, variants.contours, setup.rear, strict=True):
        batch = rear.on(section_lines(contours, rules, setup.wad), contours, rules)
        found += [(prefixed(y, name), *rest) for name, *rest in _of_station(batch, rules)]

    def of_all(those: NDArray[Any]) -> NDArray[Any]:
        column = np.full(len(values), _EMPTY[those.dtype.kind], dtype=those.dtype)
        column[variants.feasible] = those
        return column

    return Measured(
        variants.feasible,
        variants.reasons,
        {name: of_all(those) for name, those, _ in found},
        {name: of_all(ended) for name, _, ended in found if ended is not None},
    )


def _of_station(batch: LineBatch, rules: RuleSet) -> Iterator[tuple[str, Any, Any]]:
    """Columns of one station: name, values, and of a number where an open end could change it."""
    codes = np.array(STATUSES)
    for name in _LINES:
        line = getattr(batch, name)
        for axis in "xz":
            at = np.where(line.formed, getattr(line, axis), np.nan)
            yield f"{name}_{axis}_mm", at, line.code == OPEN_END
        yield f"{name}_status", codes[line.code], None
    lead = batch.bumper_lead.filled(np.nan)
    ended = (batch.BLERL.code == OPEN_END) | (batch.UBRL.code == OPEN_END)
    yield "bumper_lead_mm", lead, ended & ~np.isnan(lead)
    # Legform by lower bumper height, as `frontcheck.lines.station.legform_for` has it.
    z = batch.LBRL.z
    low, high = rules.value("legform.lower_below_mm"), rules.value("legform.upper_from_mm")
    unknown = ~batch.LBRL.formed | (batch.LBRL.code == OPEN_END)
    legforms = np.select([unknown, z < low, z < high], ["", "lower", "either"], "upper")
    yield "legform", legforms, None
    for j, distance in enumerate(batch.distances):
        there = batch.WAD.reached[:, j] & batch.anchor.found
        for axis in "xz":
            at = np.where(there, getattr(batch.WAD, axis)[:, j], np.nan)
            yield f"WAD_{distance:g}_{axis}_mm", at, np.zeros(len(at), dtype=bool)
        yield f"WAD_{distance:g}_status", codes[np.where(there, OK, NOT_REACHED)], None


def result_header(setup: Setup) -> list[str]:
    """Return the columns of the results table."""
    formed = measure(setup, setup.shapes.base[None]).columns
    apart = _one_by_one(setup)
    return ["variant", "set", *setup.shapes.names, "status", "reason", *formed, *apart]


def _one_by_one(setup: Setup) -> tuple[str, ...]:
    """Columns for which every variant is made as a front of its own."""
    heads = () if setup.heads is None else setup.heads.columns
    return (*(ACROSS if setup.across else ()), *heads)


def result_rows(setup: Setup, first: int, sample: int, values: Array) -> bytes:
    """Return one block of the results table as text."""
    measured = measure(setup, values)
    number = np.arange(first, first + len(values))
    without = {f"{name}_x_mm" for name in setup.without}
    wanted = [name for name in measured.columns if name.endswith(("_x_mm", "_lead_mm"))]
    lacking = [np.isnan(measured.known(name)) for name in wanted if name not in without]
    missing = np.any(lacking, axis=0)
    status = np.where(measured.feasible, np.where(missing, "incomplete", "ok"), "infeasible")
    columns = [
        number.tolist(),
        np.where(number < sample, "sample", "sensitivity").tolist(),
        *values.T.tolist(),
        status.tolist(),
        measured.reasons,
        *(_cells(column) for column in measured.columns.values()),
    ]
    if _one_by_one(setup):
        columns += _made(setup, values, measured.feasible, sample - first)
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(zip(*columns, strict=True))
    return stream.getvalue().encode()


def _cells(column: NDArray[Any]) -> list[object]:
    """Values of a column, None where a number is missing."""
    return list((np.ma.masked_invalid(column) if column.dtype.kind == "f" else column).tolist())


def _made(setup: Setup, values: Array, feasible: Mask, sample: int) -> list[list[object]]:
    """Columns of variants made one by one, the first few of the sample; None where infeasible."""
    rows = []
    for i, row in enumerate(values):
        front = setup.shapes.front(row) if feasible[i] else None
        cells = _screened(setup, front) if setup.across else []
        if setup.heads is not None:
            cells += setup.heads.cells(front, setup.rules, struck=i < sample)
        rows.append(cells)
    return [list(column) for column in zip(*rows, strict=True)]


def _screened(setup: Setup, front: Front | None) -> list[object]:
    """Columns `ACROSS` of one variant."""
    from frontcheck.screening import screen

    if front is None:
        return [None] * len(ACROSS)
    screening = screen(front, setup.rules, setup.wad)
    zones = screening.zones
    codes = " ".join(sorted({finding.code for finding in screening.findings}))
    areas = zones.child_area.area_m2, zones.adult_area.area_m2
    return [zones.bumper_test_area.width, *areas, codes]


SCHEMA: Final = "frontcheck.sweep/1"
"""Name and version of the record that a sweep leaves beside its results."""


@dataclass(frozen=True)
class Varied:
    """One parameter that varies."""

    name: str  # Dimension of the nose, or handle of the measured front
    unit: str  # ``mm`` or ``deg``
    low: float  # Bounds, in that unit
    high: float  # Bounds, in that unit


@dataclass(frozen=True)
class Limit:
    """Where a line must lie."""

    line: str  # Number formed at every station, such as ``LBRL_z_mm``
    station: float | None  # Station [mm]; None for all of them
    at_least: float  # Limits [mm]; infinite where there is none
    at_most: float  # Limits [mm]; infinite where there is none
    probability: float | None = None

    def at(self, stations: Iterable[float]) -> tuple[float, ...]:
        """Return at which of the stations it holds."""
        return tuple(stations) if self.station is None else (self.station,)

    def columns(self, stations: Iterable[float]) -> tuple[str, ...]:
        """Return the columns of the results table that it concerns."""
        return tuple(prefixed(y, self.line) for y in self.at(stations))

    @property
    def text(self) -> str:
        """The limit in words."""
        ends = (("at least", self.at_least), ("at most", self.at_most))
        bounds = [f"{word} {at:g}" for word, at in ends if math.isfinite(at)]
        where = "all stations" if self.station is None else f"y = {self.station:g} mm"
        chance = "" if self.probability is None else f" with probability {self.probability:g}"
        return f"{self.line} {' and '.join(bounds)} mm at {where}{chance}"


@one_line
@dataclass(frozen=True, eq=False)
class Study:
    """One study, read and checked.

    Parameters
    ----------
    name : str
        Its name.
    setup : Setup
        Shapes, rules, distances.
    varied : tuple of Varied
        (d,) parameters that vary.
    method : str
        ``sobol``, ``latin-hypercube``, ``grid`` or ``list``.
    seed : int
        Seed of the sampling.
    sample : ndarray
        (N, d) values of the sample.
    sensitivity_samples : int
        Points in A and in B for the Sobol indices; 0 for none.
    sensitivity_of : tuple of str
        Numbers whose Sobol indices are asked for, without station.
    limits : tuple of Limit
        Where lines must lie.

    Examples
    --------
    >>> import frontcheck as fc
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study.count, [varied.name for varied in study.varied][:2]
    (4096, ['lower_lip_height_mm', 'lower_lip_setback_mm'])
    """

    name: str
    setup: Setup
    varied: tuple[Varied, ...]
    method: str
    seed: int
    sample: Array
    sensitivity_samples: int = 0
    sensitivity_of: tuple[str, ...] = ()
    limits: tuple[Limit, ...] = ()

    @property
    def low(self) -> Array:
        """Lower ends of the ranges, (d,)."""
        return np.array([varied.low for varied in self.varied], dtype=float)

    @property
    def high(self) -> Array:
        """Upper ends of the ranges, (d,)."""
        return np.array([varied.high for varied in self.varied], dtype=float)

    @property
    def values(self) -> Array:
        """Values of all variants: the sample, then those for the sensitivities, (M, d)."""
        if not self.sensitivity_samples:
            return self.sample
        more = saltelli(self.low, self.high, self.sensitivity_samples, self.seed)
        return np.concatenate([self.sample, more])

    @property
    def count(self) -> int:
        """Number of all variants."""
        return len(self.sample) + self.sensitivity_samples * (len(self.varied) + 2)

    @property
    def names(self) -> tuple[str, ...]:
        """Numbers formed at every station, without station."""
        return line_names(self.setup.wad)

    def record(self) -> dict[str, Any]:
        """Return all that the results depend on; limits only pick from them.

        Returns
        -------
        dict
            Plain values.
        """
        sample = np.ascontiguousarray(self.sample)
        heads, rules = self.setup.heads, self.setup.rules
        return {
            "schema": SCHEMA,
            "frontcheck": __version__,
            "shapes": self.setup.shapes.to_dict(),
            "rule_set": {"id": rules.id, "constants": {c.name: c.plain for c in rules}},
            "wad_mm": list(self.setup.wad),
            "zones_and_findings": self.setup.across,
            "sampling": {
                "method": self.method,
                "seed": self.seed,
                "variants": len(sample),
                "sha256": hashlib.sha256(sample.tobytes()).hexdigest(),
            },
            "vary": [[v.name, v.low, v.high] for v in self.varied],
            "sensitivity": {"samples": self.sensitivity_samples},
            "block": self.setup.block,
            **({} if heads is None else {"motion": plain(HeadLandingsEntry, heads)}),
        }

    @property
    def digest(self) -> str:
        """Digest of `record`: the same for two studies whose results are the same."""
        text = json.dumps(self.record(), sort_keys=True, allow_nan=False)
        return hashlib.sha256(text.encode()).hexdigest()

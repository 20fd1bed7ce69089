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
from frontcheck.lines.line_values import NOT_REACHED, OPEN_END, REASONS, STATUSES
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.rear import RULED, RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.serializer import one_line, plain
from frontcheck.study.sampling import saltelli
from frontcheck.study.study_document import HeadLandingsEntry
from frontcheck.study.varied_shapes import FrontShapes
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Mapping

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
        return (*said, *filter(None, [self.rules.caution]), *heads)


@dataclass(frozen=True, eq=False)
class Measured:
    """Numbers of B variants."""

    feasible: Mask  # (B,) bool
    reasons: tuple[str, ...]  # (B,) why a variant cannot be made
    numbers: dict[str, np.ma.MaskedArray[tuple[int], np.dtype[np.float64]]]
    texts: dict[str, list[str]]  # (B,) by name: statuses, legform, bridged; empty where infeasible
    open_end: dict[str, Mask]  # (B,) by number: where it is there, but not known

    def known(self, name: str) -> np.ma.MaskedArray[tuple[int], np.dtype[np.float64]]:
        """Return a number, masked where it is missing or an open end could change it."""
        return np.ma.MaskedArray(
            self.numbers[name].data, np.ma.getmaskarray(self.numbers[name]) | self.open_end[name]
        )


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
    variants = setup.shapes.variants(values)
    good = np.flatnonzero(variants.feasible)
    numbers: dict[str, np.ma.MaskedArray[tuple[int], np.dtype[np.float64]]] = {}
    texts: dict[str, list[str]] = {}
    open_end: dict[str, Mask] = {}

    def number(
        name: str,
        found: Array,
        there: Mask,
        is_open: Mask | None = None,
    ) -> None:
        column = np.ma.MaskedArray(np.zeros(len(values)), mask=True)
        column[good[there]] = found[there]
        numbers[name], open_end[name] = column, np.zeros(len(values), dtype=bool)
        if is_open is not None:
            open_end[name][good[is_open]] = True

    def text(name: str, found: list[str]) -> None:
        column = [""] * len(values)
        for i, each in zip(good.tolist(), found, strict=True):
            column[i] = each
        texts[name] = column

    if variants.moved is not None:
        number("skin_moved_mm", variants.moved, np.ones(len(good), dtype=bool))
    for i, y in enumerate(setup.shapes.stations):
        batch = None
        if len(good):
            contours = variants.contours[i]
            batch = section_lines(contours, setup.rules, setup.wad)
            batch = setup.rear[i].on(batch, contours, setup.rules)
        _add(setup, y, batch, number, text)
    return Measured(variants.feasible, variants.reasons, numbers, texts, open_end)


def _add(setup: Setup, y: float, batch: LineBatch | None, number: object, text: object) -> None:
    assert callable(number)
    assert callable(text)
    none, no = np.zeros(0), np.zeros(0, dtype=bool)
    for name in _LINES:
        line = None if batch is None else getattr(batch, name)
        formed = no if line is None else line.formed
        ended = no if line is None else line.code == OPEN_END
        number(prefixed(y, f"{name}_x_mm"), none if line is None else line.x, formed, ended)
        number(prefixed(y, f"{name}_z_mm"), none if line is None else line.z, formed, ended)
        codes = [] if line is None else line.code.tolist()
        text(prefixed(y, f"{name}_status"), [STATUSES[c] for c in codes])
    if batch is None:
        number(prefixed(y, "bumper_lead_mm"), none, no)
    else:
        formed = batch.BLERL.formed & batch.UBRL.formed
        ended = formed & ((batch.BLERL.code == OPEN_END) | (batch.UBRL.code == OPEN_END))
        number(prefixed(y, "bumper_lead_mm"), batch.BLERL.x - batch.UBRL.x, formed, ended)
    text(prefixed(y, "legform"), [] if batch is None else _legforms(batch, setup.rules))
    for j, distance in enumerate(setup.wad):
        name = f"WAD_{distance:g}"
        there = no if batch is None else batch.WAD.reached[:, j] & batch.anchor.found
        number(prefixed(y, f"{name}_x_mm"), none if batch is None else batch.WAD.x[:, j], there)
        number(prefixed(y, f"{name}_z_mm"), none if batch is None else batch.WAD.z[:, j], there)
        text(prefixed(y, f"{name}_status"), [STATUSES[0 if t else NOT_REACHED] for t in there])


def _legforms(batch: LineBatch, rules: RuleSet) -> list[str]:
    """Legform by lower bumper height, as `frontcheck.lines.station.legform_for` has it."""
    low = rules.value("legform.lower_below_mm")
    high = rules.value("legform.upper_from_mm")
    z = batch.LBRL.z
    unknown = ~batch.LBRL.formed | (batch.LBRL.code == OPEN_END)
    names = np.select([unknown, z < low, z < high], ["", "lower", "either"], "upper")
    return [str(name) for name in names]


def result_header(setup: Setup) -> list[str]:
    """Return the columns of the results table."""
    header = ["variant", "set", *setup.shapes.names, "status", "reason"]
    if isinstance(setup.shapes, FrontShapes):
        header.append("skin_moved_mm")
    for y in setup.shapes.stations:
        for line in _LINES:
            header += [prefixed(y, f"{line}_{what}") for what in ("x_mm", "z_mm", "status")]
        header += [prefixed(y, "bumper_lead_mm"), prefixed(y, "legform")]
        for distance in setup.wad:
            name = f"WAD_{distance:g}"
            header += [prefixed(y, f"{name}_{what}") for what in ("x_mm", "z_mm", "status")]
    return [*header, *_one_by_one(setup)]


def _one_by_one(setup: Setup) -> tuple[str, ...]:
    """Columns for which every variant is made as a front of its own."""
    heads = () if setup.heads is None else setup.heads.columns
    return (*(ACROSS if setup.across else ()), *heads)


def result_rows(setup: Setup, first: int, sample: int, values: Array) -> tuple[bytes, int]:
    """Return one block of the results table as text."""
    measured = measure(setup, values)
    columns: list[list[object]] = []
    count = len(values)
    columns.append(list(range(first, first + count)))
    columns.append(["sample" if first + i < sample else "sensitivity" for i in range(count)])
    columns += [column.tolist() for column in values.T]
    without = {f"{name}_x_mm" for name in setup.without}
    wanted = [n for n in measured.numbers if n.endswith(("_x_mm", "_lead_mm")) and n not in without]
    lacking = [np.ma.getmaskarray(measured.known(name)) for name in wanted]
    missing = np.any(lacking, axis=0)
    status = np.where(measured.feasible, np.where(missing, "incomplete", "ok"), "infeasible")
    columns.append(status.tolist())
    columns.append(list(measured.reasons))
    apart = _one_by_one(setup)
    for name in result_header(setup)[len(columns) : -len(apart) or None]:
        if name in measured.numbers:
            columns.append(list(measured.numbers[name].tolist()))
        else:
            columns.append(list(measured.texts[name]))
    if apart:
        columns += _made(setup, values, measured.feasible, sample - first)
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(zip(*columns, strict=True))
    return stream.getvalue().encode(), int((status != "ok").sum())


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

    def columns(self, stations: tuple[float, ...]) -> tuple[str, ...]:
        """Return the columns of the results table that it concerns."""
        chosen = stations if self.station is None else (self.station,)
        return tuple(prefixed(y, self.line) for y in chosen)

    @property
    def text(self) -> str:
        """The limit in words."""
        bounds = []
        if math.isfinite(self.at_least):
            bounds.append(f"at least {self.at_least:g}")
        if math.isfinite(self.at_most):
            bounds.append(f"at most {self.at_most:g}")
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
    def values(self) -> Array:
        """Values of all variants: the sample, then those for the sensitivities, (M, d)."""
        if not self.sensitivity_samples:
            return self.sample
        low, high = [v.low for v in self.varied], [v.high for v in self.varied]
        more = saltelli(low, high, self.sensitivity_samples, self.seed)
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
        heads = self.setup.heads
        return {
            "schema": SCHEMA,
            "frontcheck": __version__,
            "shapes": self.setup.shapes.to_dict(),
            "rule_set": {
                "id": self.setup.rules.id,
                "constants": {c.name: c.plain for c in self.setup.rules},
            },
            "wad_mm": list(self.setup.wad),
            "zones_and_findings": self.setup.across,
            "sampling": {
                "method": self.method,
                "seed": self.seed,
                "variants": len(sample),
                "sha256": hashlib.sha256(sample.tobytes()).hexdigest(),
            },
            "vary": [[v.name, v.low, v.high] for v in self.varied],
            "sensitivity": {
                "samples": self.sensitivity_samples,
            },
            "block": self.setup.block,
            **({} if heads is None else {"motion": plain(HeadLandingsEntry, heads)}),
        }

    @property
    def digest(self) -> str:
        """Digest of `record`: the same for two studies whose results are the same."""
        text = json.dumps(self.record(), sort_keys=True, allow_nan=False)
        return hashlib.sha256(text.encode()).hexdigest()

"""Reading a study from a TOML file."""

from __future__ import annotations

import csv
import math
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import InputError, NotAvailableError, RuleSetError
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import DEFAULT_RULES, rule_set
from frontcheck.study.moves import BLEND_MM, HANDLES
from frontcheck.study.nose_dimensions import DIMENSIONS, Nose
from frontcheck.study.noses import CHORD_TOLERANCE_MM, facets_for
from frontcheck.study.study import (
    Limit,
    Setup,
    Study,
    Varied,
    grid,
    latin_hypercube,
    line_names,
    saltelli,
    sobol,
)
from frontcheck.study.toml_keys import StudyError, Table
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.moves import Handle
    from frontcheck.study.nose_dimensions import Dimension
    from frontcheck.study.varied_shapes import Shapes

# Reading a list of variants: one column a parameter, one row a variant.


def read_variants(
    path: Path, known: Mapping[str, Dimension | Handle]
) -> tuple[list[str], NDArray[np.float64]]:
    """Read a list of variants from comma-separated values."""
    file = str(path)
    try:
        lines = path.read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise StudyError(f"a file that cannot be read ({reason})", expected="a list of variants",
                         todo="check the name", file=file) from error  # fmt: skip
    numbered = [(i, t) for i, t in enumerate(lines, 1) if t.strip() and not t.startswith("#")]
    if len(numbered) < 2:
        raise StudyError("no variants", expected="a header and at least one row",
                         todo="add rows", file=file)  # fmt: skip
    names = [cell.strip() for cell in next(csv.reader([numbered[0][1]]))]
    for name in names:
        if name not in known:
            raise StudyError(f"parameter {name!r}", expected=f"one of {', '.join(known)}",
                             todo="correct the header", file=file, row=numbered[0][0])  # fmt: skip
    if len(set(names)) < len(names):
        raise StudyError("a parameter twice in the header", expected="each once",
                         todo="delete one of them", file=file, row=numbered[0][0])  # fmt: skip
    values = np.empty((len(numbered) - 1, len(names)))
    for i, (row, text) in enumerate(numbered[1:]):
        cells = next(csv.reader([text]))
        if len(cells) != len(names):
            raise StudyError(f"{len(cells)} cells", expected=f"{len(names)}, as in the header",
                             todo="complete the row", file=file, row=row)  # fmt: skip
        for k, (name, cell) in enumerate(zip(names, cells, strict=True)):
            try:
                value = float(cell)
            except ValueError:
                value = math.nan
            if not math.isfinite(value):
                raise StudyError(repr(cell), expected="a number", todo="correct the cell",
                                 file=file, row=row, column=name)  # fmt: skip
            try:
                known[name].check(value)
            except InputError as error:
                raise StudyError(error.found, expected=error.expected, todo=error.todo,
                                 file=file, row=row, column=name) from error  # fmt: skip
            values[i, k] = value
    return names, values


_METHODS: Final = ("sobol", "latin-hypercube", "grid", "list")
_MOST: Final = 10_000_000
"""Most variants of a study: their parameters are held in memory."""


def read_study(path: Path) -> Study:
    """Read a study from a TOML file; files it names are sought beside it.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Study
        The study.

    Raises
    ------
    StudyError
        If it cannot be read, or something in it cannot be used.
    InputError
        If the front it names cannot be read, or a handle cannot be moved on it.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise StudyError(
            f"a file that cannot be read ({reason})",
            expected="a study in TOML",
            todo="check the name",
            file=str(path),
        ) from error
    return parse_study(text, str(path), path.parent)


def parse_study(text: str, file: str = "study", folder: Path = Path()) -> Study:
    """Read a study from TOML text."""
    try:
        top = Table(tomllib.loads(text), file)
    except tomllib.TOMLDecodeError as error:
        raise StudyError(
            f"text that is not TOML ({error})", expected="a study in TOML",
            todo="correct it at that place", file=file,
        ) from error  # fmt: skip
    name = top.text("name", Path(file).stem)
    rules = _rules(top)
    wad = _wad(top, rules)
    across = top.flag("zones_and_findings", False)
    is_nose = top.has("nose")
    nose, front = top.table("nose"), top.table("front")
    if is_nose == top.has("front"):
        raise top.error(
            "", "both [nose] and [front]" if is_nose else "neither [nose] nor [front]",
            "one of them", "say what is varied: a parametric nose, or a measured front",
        )  # fmt: skip
    known: Mapping[str, Dimension | Handle] = (
        {d.name: d for d in DIMENSIONS} if is_nose else {h.name: h for h in HANDLES}
    )
    varied, levels = _vary(top.table("vary"), known)
    sampling = top.table("sampling")
    method = sampling.text("method", "sobol", _METHODS)
    seed = sampling.whole("seed", 1, 0, 2**32 - 1)
    varied, sample = _sample(sampling, method, seed, varied, levels, known, folder)
    sensitivity = top.table("sensitivity")
    samples = sensitivity.whole("samples", 0, 0, 2**20)
    if samples & (samples - 1):
        raise sensitivity.error("samples", str(samples), "a power of two, or 0", "take 256 or 512")
    more = np.empty((0, len(varied)))
    if samples:
        more = saltelli([v.low for v in varied], [v.high for v in varied], samples, seed)
    shapes: Shapes
    if is_nose:
        shapes = _nose_shapes(nose, varied, np.concatenate([sample, more]))
    else:
        shapes = _front_shapes(front, varied, folder)
    limits = tuple(_limit(each, shapes.stations, wad, is_nose) for each in top.tables("limits"))
    of = sensitivity.texts("of", ["LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm"])
    for each in of:
        _check_line(sensitivity, "of", each, wad)
    for table in (nose, front, sampling, sensitivity, top):
        table.finish()
    setup = Setup(shapes, rules, wad, across)
    return Study(name, setup, varied, method, seed, sample, samples, of, limits)


def _rules(top: Table) -> RuleSet:
    try:
        return rule_set(top.text("rules", DEFAULT_RULES))
    except RuleSetError as error:
        raise top.error("rules", repr(top.values["rules"]), "the id of a rule set",
                        "see: frontcheck rules") from error  # fmt: skip


def _wad(top: Table, rules: RuleSet) -> tuple[float, ...]:
    wad = top.numbers("wad_mm", rules.values("wad.distances_mm"))
    if not all(distance > 0.0 for distance in wad):
        raise top.error("wad_mm", str(list(wad)), "lengths above 0 mm", "correct the list")
    return tuple(dict.fromkeys(wad))


def _vary(
    table: Table, known: Mapping[str, Dimension | Handle]
) -> tuple[tuple[Varied, ...], list[NDArray[np.float64]]]:
    varied, levels = [], []
    for name in table.values:
        if name not in known:
            raise table.error(name, f"parameter {name!r}", f"one of {', '.join(known)}",
                              "correct the name")  # fmt: skip
        one = table.table(name)
        if one.has("values"):
            values = np.array(one.numbers("values"))
        else:
            low, high = one.number("low"), one.number("high")
            if not low < high:
                raise one.error("high", f"{high:g}", f"a number above low, {low:g}",
                                "widen the range, or leave the parameter out")  # fmt: skip
            values = np.linspace(low, high, one.whole("steps", 5, 2, 10_000))
        one.finish()
        _check_values(known[name], values, one)
        low, high = float(values.min()), float(values.max())
        varied.append(Varied(name, known[name].unit, low, high))
        levels.append(values)
    return tuple(varied), levels


def _check_values(parameter: Dimension | Handle, values: NDArray[np.float64], table: Table) -> None:
    for value in values:
        try:
            parameter.check(float(value))
        except InputError as error:
            raise table.error("", error.found, error.expected, error.todo) from error


def _sample(
    table: Table,
    method: str,
    seed: int,
    varied: tuple[Varied, ...],
    levels: list[NDArray[np.float64]],
    known: Mapping[str, Dimension | Handle],
    folder: Path,
) -> tuple[tuple[Varied, ...], NDArray[np.float64]]:
    if method == "list":
        path = folder / table.text("file")
        names, sample = read_variants(path, known)
        if not varied:
            ends = zip(names, sample.min(axis=0).tolist(), sample.max(axis=0).tolist(), strict=True)
            return tuple(Varied(n, known[n].unit, low, high) for n, low, high in ends), sample
        if set(names) != {v.name for v in varied}:
            raise table.error("file", f"columns {', '.join(names)}",
                              f"the parameters under [vary]: {', '.join(v.name for v in varied)}",
                              "leave [vary] out, or name the same ones")  # fmt: skip
        return varied, sample[:, [names.index(v.name) for v in varied]]
    if not varied:
        raise StudyError("nothing that varies", expected="at least one parameter under [vary]",
                         todo="add one, such as: lower_lip_height_mm = { low = 300, high = 360 }",
                         file=table.file, key="vary")  # fmt: skip
    if method == "grid":
        count = math.prod(len(each) for each in levels)
        if count > _MOST:
            raise table.error("method", f"a grid of {count} variants", f"at most {_MOST}",
                              "take fewer steps")  # fmt: skip
        return varied, grid(levels)
    count = table.whole("variants", 1024, 1, _MOST)
    low, high = [v.low for v in varied], [v.high for v in varied]
    draw = sobol if method == "sobol" else latin_hypercube
    return varied, draw(low, high, count, seed)


def _nose_shapes(
    table: Table, varied: tuple[Varied, ...], values: NDArray[np.float64]
) -> NoseShapes:
    given = {}
    for dimension in DIMENSIONS:
        if table.has(dimension.name):
            given[dimension.name] = table.number(dimension.name)
            try:
                dimension.check(given[dimension.name])
            except InputError as error:
                raise table.error(
                    dimension.name, error.found, error.expected, error.todo
                ) from error
    stations = table.numbers("stations_mm", [0.0])
    tolerance = table.number("chord_tolerance_mm", CHORD_TOLERANCE_MM, 1e-4, 5.0)
    _check_stations(table, stations)
    nose = Nose(**given)
    if max(abs(y) for y in stations) >= nose.plan_radius_mm:
        raise table.error("stations_mm", str(list(stations)), "stations within plan_radius_mm, "
                          f"{nose.plan_radius_mm:g}", "leave the outer ones out")  # fmt: skip
    try:
        facets_for(nose.values[None], tolerance)
    except NotAvailableError as error:
        raise table.error("", f"a nose that cannot be made: {error}", "a nose that can",
                          "change its dimensions")  from error  # fmt: skip
    names = tuple(v.name for v in varied)
    bare = NoseShapes(nose, names, stations, facets_for(nose.values[None], tolerance), tolerance)
    # The base is among them, so that it has a place in the study's facets too.
    every = np.concatenate([nose.values[None], bare.full(values)])
    return NoseShapes(nose, names, stations, facets_for(every, tolerance), tolerance)


def _front_shapes(table: Table, varied: tuple[Varied, ...], folder: Path) -> FrontShapes:
    front = read_front(folder / table.text("file"))
    stations = table.numbers("stations_mm", front.stations)
    _check_stations(table, stations)
    for y in stations:
        if y not in front.stations:
            known = ", ".join(f"{each:g}" for each in front.stations)
            raise table.error("stations_mm", f"{y:g}", f"stations of the front: {known}",
                              "correct the list")  # fmt: skip
    blend = table.number("blend_mm", BLEND_MM, 1.0, 5000.0)
    return FrontShapes(front, tuple(v.name for v in varied), stations, blend)


def _check_stations(table: Table, stations: tuple[float, ...]) -> None:
    if any(b <= a for a, b in zip(stations, stations[1:], strict=False)):
        raise table.error("stations_mm", str(list(stations)), "stations in increasing order",
                          "sort the list")  # fmt: skip


def _limit(
    table: Table, stations: tuple[float, ...], wad: tuple[float, ...], is_nose: bool
) -> Limit:
    line = table.text("line")
    _check_line(table, "line", line, wad)
    station = None
    if table.has("station_mm"):
        station = table.number("station_mm")
        if station not in stations:
            known = ", ".join(f"{y:g}" for y in stations)
            raise table.error("station_mm", f"{station:g}", f"one of {known}", "correct it")
    at_least = table.number("at_least_mm") if table.has("at_least_mm") else -math.inf
    at_most = table.number("at_most_mm") if table.has("at_most_mm") else math.inf
    if not (math.isfinite(at_least) or math.isfinite(at_most)):
        raise table.error("", "no limit", "at_least_mm, at_most_mm or both", "add one")
    if at_least > at_most:
        raise table.error("at_most_mm", f"{at_most:g}", f"at_least_mm, {at_least:g}, or more",
                          "correct the limits")  # fmt: skip
    chance = None
    if table.has("probability"):
        chance = table.number("probability", None, 0.5, 0.9999)
        if is_nose:
            raise table.error("probability", f"{chance:g} for a parametric nose",
                              "a measured front, whose rows have an uncertainty",
                              "leave it out, or vary a measured front")  # fmt: skip
    table.finish()
    return Limit(line, station, at_least, at_most, chance)


def _check_line(table: Table, key: str, line: str, wad: tuple[float, ...]) -> None:
    if line not in line_names(wad):
        raise table.error(key, repr(line), f"one of {', '.join(line_names(wad))}",
                          "correct the name, or add the distance to wad_mm")  # fmt: skip

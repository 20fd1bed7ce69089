"""Reading a study from a TOML file."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal

import numpy as np
from msgspec import Meta, Struct, defstruct

from frontcheck.body.assumptions import TOLD
from frontcheck.errors import (
    InputError,
    NotAvailableError,
    RuleSetError,
    StudyError,
    escaped,
    refuse,
)
from frontcheck.files import checked, parse_toml, read_text
from frontcheck.people.people import struck_people
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import DEFAULT_RULES, rule_set
from frontcheck.study.head_landings import HeadLandings, no_target
from frontcheck.study.moves import BLEND_MM, HANDLES
from frontcheck.study.nose_dimensions import DIMENSIONS, Nose
from frontcheck.study.noses import CHORD_TOLERANCE_MM, facets_for
from frontcheck.study.sampling import grid, latin_hypercube, saltelli, sobol
from frontcheck.study.study import Limit, Setup, Study, Varied, line_names
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes

if TYPE_CHECKING:
    import os
    from collections.abc import Mapping

    from frontcheck.geometry.arrays import Array
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.study.moves import Handle
    from frontcheck.study.nose_dimensions import Dimension
    from frontcheck.study.varied_shapes import Shapes

# What a study file may hold.

_MOST: Final = 10_000_000
"""Most variants of a study: their parameters are held in memory."""
_METHODS: Final = ("sobol", "latin-hypercube", "grid", "list")

_Numbers = Annotated[
    tuple[float, ...], Meta(min_length=1, description="a list of numbers such as [0, 250]")
]
_Names = Annotated[tuple[str, ...], Meta(description='a list of texts such as ["LBRL_z_mm"]')]
_Length = Annotated[float, Meta(gt=0.0, description="lengths above 0 mm")]
_Text = Annotated[str, Meta(min_length=1)]


class _Range(Struct, forbid_unknown_fields=True, frozen=True):
    """How far one parameter varies."""

    values: _Numbers | None = None
    low: float | None = None
    high: float | None = None
    steps: Annotated[int, Meta(ge=2, le=10_000)] | None = None


class _Sampling(Struct, forbid_unknown_fields=True, frozen=True):
    method: Annotated[
        Literal["sobol", "latin-hypercube", "grid", "list"],
        Meta(description=f"one of {', '.join(_METHODS)}"),
    ] = "sobol"
    seed: Annotated[int, Meta(ge=0, le=2**32 - 1)] = 1
    variants: Annotated[int, Meta(ge=1, le=_MOST)] | None = None
    file: _Text | None = None


class _Sensitivity(Struct, forbid_unknown_fields=True, frozen=True):
    samples: Annotated[int, Meta(ge=0, le=2**20)] = 0
    of: _Names = ("LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm")


class _Limit(Struct, forbid_unknown_fields=True, frozen=True):
    line: _Text
    station_mm: float | None = None
    at_least_mm: float | None = None
    at_most_mm: float | None = None
    probability: Annotated[float, Meta(ge=0.5, le=0.9999)] | None = None


class _Motion(Struct, forbid_unknown_fields=True, frozen=True):
    """Whose heads are asked for: the station nearest the centre when none is given."""

    people: Annotated[
        tuple[_Text, ...], Meta(min_length=1, description='a list of people such as ["man p50"]')
    ]
    station_mm: float | None = None
    speed_km_h: Annotated[float, Meta(ge=TOLD["lowest_speed"], le=TOLD["highest_speed"])] = TOLD[
        "usual_speed"
    ]
    draws: Annotated[int, Meta(ge=int(TOLD["fewest_draws"]), le=int(TOLD["most_draws"]))] = int(
        TOLD["usual_draws"]
    )
    seed: Annotated[int, Meta(ge=0, le=2**32 - 1)] = 1


class _Front(Struct, forbid_unknown_fields=True, frozen=True):
    file: _Text
    stations_mm: _Numbers | None = None
    blend_mm: Annotated[float, Meta(ge=1.0, le=5000.0)] = BLEND_MM


class _Base(Struct, forbid_unknown_fields=True, frozen=True):
    stations_mm: _Numbers = (0.0,)
    chord_tolerance_mm: Annotated[float, Meta(ge=1e-4, le=5.0)] = CHORD_TOLERANCE_MM


def _within(d: Dimension) -> object:
    words = f"a number from {d.low:g} to {d.high:g} {d.unit}"
    return Annotated[float, Meta(ge=d.low, le=d.high, description=words)] | None


if TYPE_CHECKING:
    _Nose = _Base
else:  # every dimension under its own name
    _Nose = defstruct(
        "_Nose", [(d.name, _within(d), None) for d in DIMENSIONS], bases=(_Base,), frozen=True
    )


class _File(Struct, forbid_unknown_fields=True, frozen=True):
    """A study file as a whole."""

    name: _Text | None = None
    rules: _Text = DEFAULT_RULES
    wad_mm: Annotated[list[_Length], Meta(min_length=1)] | None = None
    zones_and_findings: bool = False
    nose: _Nose | None = None
    front: _Front | None = None
    vary: dict[str, _Range] = {}
    sampling: _Sampling = _Sampling()
    sensitivity: _Sensitivity = _Sensitivity()
    limits: list[_Limit] = []
    motion: _Motion | None = None


def read_study(path: str | os.PathLike[str]) -> Study:
    """Read a study from a TOML file; files it names are sought beside it.

    Parameters
    ----------
    path : str or os.PathLike
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

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.read_study("geometries/nose-study.toml").method
    'sobol'
    """
    text = read_text(Path(path), "a study in TOML", StudyError)
    return parse_study(text, str(path), Path(path).parent)


def parse_study(text: str, file: str = "study", folder: Path = Path()) -> Study:
    """Read a study from TOML text."""
    tree = parse_toml(text, file, "a study in TOML", StudyError)
    given = checked(tree, _File, file, StudyError)
    rules = _rules(given, file)
    wad = tuple(dict.fromkeys(given.wad_mm or rules.values("wad.distances_mm")))
    is_nose = given.nose is not None
    if is_nose == (given.front is not None):
        raise refuse("study.both_shapes" if is_nose else "study.no_shape", file)
    known: Mapping[str, Dimension | Handle] = (
        {d.name: d for d in DIMENSIONS} if is_nose else {h.name: h for h in HANDLES}
    )
    levels = {name: _levels(name, one, known, file) for name, one in given.vary.items()}
    names, sample, ends = _sample(given.sampling, levels, known, file, folder)
    varied = tuple(
        Varied(n, known[n].unit, *map(float, e)) for n, e in zip(names, ends, strict=True)
    )
    samples, seed = given.sensitivity.samples, given.sampling.seed
    if samples & (samples - 1):
        raise refuse("study.power_of_two", file, key="sensitivity.samples", samples=samples)
    more = np.empty((0, len(varied)))
    if samples:
        more = saltelli([v.low for v in varied], [v.high for v in varied], samples, seed)
    shapes: Shapes
    if given.nose is not None:
        shapes = _nose_shapes(given.nose, names, np.concatenate([sample, more]), file)
    elif given.front is not None:
        shapes = _front_shapes(given.front, names, file, folder)
    limits = tuple(
        _limit(one, f"limits[{i}]", shapes.stations, wad, is_nose, file)
        for i, one in enumerate(given.limits, 1)
    )
    for line in given.sensitivity.of:
        _check_line("sensitivity.of", line, wad, file)
    heads = None if given.motion is None else _heads(given.motion, shapes.stations, file)
    setup = Setup(shapes, rules, wad, given.zones_and_findings, heads)
    name = escaped(given.name or Path(file).stem)
    of = given.sensitivity.of
    return Study(name, setup, varied, given.sampling.method, seed, sample, samples, of, limits)


def _rules(given: _File, file: str) -> RuleSet:
    try:
        return rule_set(given.rules)
    except RuleSetError:
        raise refuse("study.rules", file, key="rules", rules=given.rules) from None


def _levels(name: str, one: _Range, known: Mapping[str, Dimension | Handle], file: str) -> Array:
    """Values that one parameter takes on a grid; their ends are its range in any case."""
    key = f"vary.{name}"
    if name not in known:
        raise refuse("study.parameter", file, key=key, name=name, known=known)
    if one.values is not None:
        for word in ("low", "high", "steps"):
            if getattr(one, word) is not None:
                raise refuse("study.idle", file, key=f"{key}.{word}", word=word, beside="values")
        values = np.array(one.values)
    else:
        if one.low is None or one.high is None:
            end = "low" if one.low is None else "high"
            raise refuse("study.no_end", file, key=f"{key}.{end}", end=end)
        if not one.low < one.high:
            raise refuse("study.low_high", file, key=f"{key}.high", low=one.low, high=one.high)
        values = np.linspace(one.low, one.high, one.steps or 5)
    for value in values:
        try:
            known[name].check(float(value))
        except InputError as error:
            raise error.at(file=file, key=key, kind=StudyError) from error
    return values


def _sample(
    given: _Sampling,
    levels: Mapping[str, Array],
    known: Mapping[str, Dimension | Handle],
    file: str,
    folder: Path,
) -> tuple[tuple[str, ...], Array, list[tuple[float, float]]]:
    """Names of what varies, the variants, and the range of each."""
    names = tuple(levels)
    ends = [(float(each.min()), float(each.max())) for each in levels.values()]
    for word, methods in (("file", _METHODS[3:]), ("variants", _METHODS[:2])):
        if getattr(given, word) is not None and given.method not in methods:
            raise refuse("study.idle", file, key=f"sampling.{word}", word=word,
                         beside=f"method = {given.method!r}")  # fmt: skip
    if given.method == "list":
        if given.file is None:
            raise refuse("study.no_list", file, key="sampling.file")
        columns, sample = read_variants(folder / given.file, known)
        if not names:
            low, high = sample.min(axis=0).tolist(), sample.max(axis=0).tolist()
            return tuple(columns), sample, list(zip(low, high, strict=True))
        if set(columns) != set(names):
            raise refuse("study.columns", file, key="sampling.file",
                         columns=columns, names=names)  # fmt: skip
        return names, sample[:, [columns.index(name) for name in names]], ends
    if not names:
        raise refuse("study.nothing_varies", file, key="vary")
    if given.method == "grid":
        count = math.prod(len(each) for each in levels.values())
        if count > _MOST:
            raise refuse("study.grid", file, key="sampling.method", count=count, most=_MOST)
        return names, grid(list(levels.values())), ends
    draw = sobol if given.method == "sobol" else latin_hypercube
    low, high = [end[0] for end in ends], [end[1] for end in ends]
    return names, draw(low, high, given.variants or 1024, given.seed), ends


def read_variants(path: Path, known: Mapping[str, Dimension | Handle]) -> tuple[list[str], Array]:
    """Read a list of variants: one column a parameter, one row a variant."""
    file = str(path)
    lines = read_text(path, "a list of variants", StudyError).splitlines()
    numbered = [(i, t) for i, t in enumerate(lines, 1) if t.strip() and not t.startswith("#")]
    if len(numbered) < 2:
        raise refuse("study.no_variants", file)
    header = numbered[0][0]
    names = [cell.strip() for cell in next(csv.reader([numbered[0][1]]))]
    for name in names:
        if name not in known:
            raise refuse("study.header", file, header, name=name, known=known)
    if len(set(names)) < len(names):
        raise refuse("study.twice", file, header)
    values = np.empty((len(numbered) - 1, len(names)))
    for i, (row, text) in enumerate(numbered[1:]):
        cells = next(csv.reader([text]))
        if len(cells) != len(names):
            raise refuse("study.ragged", file, row, cells=len(cells), columns=len(names))
        for k, (name, cell) in enumerate(zip(names, cells, strict=True)):
            try:
                values[i, k] = float(cell)
            except ValueError:
                values[i, k] = math.nan
            if not math.isfinite(values[i, k]):
                raise refuse("study.no_number", file, row, column=name, cell=cell)
            try:
                known[name].check(float(values[i, k]))
            except InputError as error:
                raise error.at(file=file, row=row, column=name, kind=StudyError) from error
    return names, values


def _nose_shapes(given: _Base, names: tuple[str, ...], values: Array, file: str) -> NoseShapes:
    dimensions = {d.name: getattr(given, d.name) for d in DIMENSIONS}
    nose = Nose(**{name: value for name, value in dimensions.items() if value is not None})
    stations, tolerance = given.stations_mm, given.chord_tolerance_mm
    _check_order("nose", stations, file)
    if max(abs(y) for y in stations) >= nose.plan_radius_mm:
        far = str(list(stations))
        raise refuse("study.beyond_plan", file, key="nose.stations_mm", stations=far,
                     radius=nose.plan_radius_mm)  # fmt: skip
    try:
        facets = facets_for(nose.values[None], tolerance)
    except NotAvailableError as error:
        raise refuse("study.no_nose", file, key="nose", reason=error) from error
    bare = NoseShapes(nose, names, stations, facets, tolerance)
    # The base is among them, so that it has a place in the study's facets too.
    every = np.concatenate([nose.values[None], bare.full(values)])
    return NoseShapes(nose, names, stations, facets_for(every, tolerance), tolerance)


def _front_shapes(given: _Front, names: tuple[str, ...], file: str, folder: Path) -> FrontShapes:
    front = read_front(folder / given.file)
    stations = given.stations_mm or front.stations
    _check_order("front", stations, file)
    for y in stations:
        if y not in front.stations:
            known = ", ".join(f"{each:g}" for each in front.stations)
            raise refuse("study.no_station", file, key="front.stations_mm", y=y, known=known)
    return FrontShapes(front, names, stations, given.blend_mm)


def _heads(given: _Motion, stations: tuple[float, ...], file: str) -> HeadLandings:
    known = [person.name for person in struck_people()]
    for i, name in enumerate(given.people, 1):
        if name not in known:
            raise refuse("study.person", file, key=f"motion.people[{i}]", name=name, known=known)
    y = min(stations, key=abs) if given.station_mm is None else given.station_mm
    _check_station("motion.station_mm", y, stations, file)
    people = tuple(dict.fromkeys(given.people))
    return HeadLandings(people, y, given.speed_km_h, given.draws, given.seed)


def _check_order(table: str, stations: tuple[float, ...], file: str) -> None:
    if any(b <= a for a, b in zip(stations, stations[1:], strict=False)):
        raise refuse("study.order", file, key=f"{table}.stations_mm", stations=str(list(stations)))


def _limit(
    one: _Limit, key: str, stations: tuple[float, ...], wad: tuple[float, ...], is_nose: bool,
    file: str,
) -> Limit:  # fmt: skip
    _check_line(f"{key}.line", one.line, wad, file)
    if one.station_mm is not None:
        _check_station(f"{key}.station_mm", one.station_mm, stations, file)
    if one.at_least_mm is None and one.at_most_mm is None:
        raise refuse("study.no_limit", file, key=key)
    at_least = -math.inf if one.at_least_mm is None else one.at_least_mm
    at_most = math.inf if one.at_most_mm is None else one.at_most_mm
    if at_least > at_most:
        raise refuse("study.crossed", file, key=f"{key}.at_most_mm", least=at_least, most=at_most)
    if one.probability is not None and is_nose:
        chance = one.probability
        raise refuse("study.no_chance", file, key=f"{key}.probability", chance=chance)
    return Limit(one.line, one.station_mm, at_least, at_most, one.probability)


def _check_station(key: str, y: float, stations: tuple[float, ...], file: str) -> None:
    if y not in stations:
        known = ", ".join(f"{each:g}" for each in stations)
        raise refuse("study.limit_at", file, key=key, y=y, known=known)


def _check_line(key: str, line: str, wad: tuple[float, ...], file: str) -> None:
    if line not in line_names(wad):
        if (error := no_target(line, file, key)) is not None:
            raise error
        raise refuse("study.line", file, key=key, line=line, known=", ".join(line_names(wad)))

"""Reading a study from a TOML file."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import numpy as np
from msgspec import Meta, Struct, defstruct
from msgspec.structs import astuple

from frontcheck.body.assumptions import TOLD
from frontcheck.errors import InputError, NotAvailableError, RuleSetError, StudyError, refuse
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

    from frontcheck.errors import RefusedError
    from frontcheck.geometry.arrays import Array
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
_Seed = Annotated[int, Meta(ge=0, le=2**32 - 1)]
_Method = Annotated[
    Literal["sobol", "latin-hypercube", "grid", "list"],
    Meta(description=f"one of {', '.join(_METHODS)}"),
]
_People = Annotated[
    tuple[_Text, ...], Meta(min_length=1, description='a list of people such as ["man p50"]')
]
_Speed = Annotated[float, Meta(ge=TOLD["lowest_speed"], le=TOLD["highest_speed"])]
_Draws = Annotated[int, Meta(ge=int(TOLD["fewest_draws"]), le=int(TOLD["most_draws"]))]


class _Range(Struct, forbid_unknown_fields=True, frozen=True):
    """How far one parameter varies."""

    values: _Numbers | None = None
    low: float | None = None
    high: float | None = None
    steps: Annotated[int, Meta(ge=2, le=10_000)] | None = None


class _Sampling(Struct, forbid_unknown_fields=True, frozen=True):
    method: _Method = "sobol"
    seed: _Seed = 1
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

    people: _People
    station_mm: float | None = None
    speed_km_h: _Speed = TOLD["usual_speed"]
    draws: _Draws = int(TOLD["usual_draws"])
    seed: _Seed = 1


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
    return _Reader(checked(tree, _File, file, StudyError), file, folder).study()


class _Reader:
    """A study file whose keys are known, while it is made a study."""

    def __init__(self, given: _File, file: str, folder: Path) -> None:
        self.given, self.file, self.folder = given, file, folder
        if (given.nose is None) == (given.front is None):
            raise refuse("study.no_shape" if given.nose is None else "study.both_shapes", file)
        try:
            self.rules = rule_set(given.rules)
        except RuleSetError:
            raise self.refused("rules", "rules", rules=given.rules) from None
        self.wad = tuple(dict.fromkeys(given.wad_mm or self.rules.values("wad.distances_mm")))
        known = HANDLES if given.nose is None else DIMENSIONS
        self.known: dict[str, Dimension | Handle] = {each.name: each for each in known}

    def refused(self, code: str, key: str, **values: Any) -> RefusedError:
        """Return the refusal of a key of the file."""
        return refuse(f"study.{code}", self.file, key=key, **values)

    def study(self) -> Study:
        """Return the study."""
        given, (samples, of) = self.given, astuple(self.given.sensitivity)
        method, seed = given.sampling.method, given.sampling.seed
        names, sample, ends = self.sample()
        varied = tuple(
            Varied(n, self.known[n].unit, *map(float, e)) for n, e in zip(names, ends, strict=True)
        )
        if samples & (samples - 1):
            raise self.refused("power_of_two", "sensitivity.samples", samples=samples)
        shapes: Shapes
        if given.nose is not None:
            more = np.empty((0, len(varied)))
            if samples:
                more = saltelli([v.low for v in varied], [v.high for v in varied], samples, seed)
            shapes = self.nose(given.nose, names, np.concatenate([sample, more]))
        elif given.front is not None:
            shapes = self.front(given.front, names)
        limits = tuple(
            self.limit(one, f"limits[{i}]", shapes.stations)
            for i, one in enumerate(given.limits, 1)
        )
        for line in of:
            self.check_line("sensitivity.of", line)
        heads = None if given.motion is None else self.heads(given.motion, shapes.stations)
        setup = Setup(shapes, self.rules, self.wad, given.zones_and_findings, heads)
        name = given.name or Path(self.file).stem
        return Study(name, setup, varied, method, seed, sample, samples, of, limits)

    def levels(self, name: str, one: _Range) -> Array:
        """Values that one parameter takes on a grid; their ends are its range in any case."""
        key = f"vary.{name}"
        if name not in self.known:
            raise self.refused("parameter", key, name=name, known=self.known)
        if one.values is not None:
            for word in ("low", "high", "steps"):
                if getattr(one, word) is not None:
                    raise self.refused("idle", f"{key}.{word}", word=word, beside="values")
            values = np.array(one.values)
        elif one.low is None or one.high is None:
            end = "low" if one.low is None else "high"
            raise self.refused("no_end", f"{key}.{end}", end=end)
        elif not one.low < one.high:
            raise self.refused("low_high", f"{key}.high", low=one.low, high=one.high)
        else:
            values = np.linspace(one.low, one.high, one.steps or 5)
        for value in values:
            try:
                self.known[name].check(float(value))
            except InputError as error:
                raise error.at(file=self.file, key=key, kind=StudyError) from error
        return values

    def sample(self) -> tuple[tuple[str, ...], Array, list[tuple[float, float]]]:
        """Names of what varies, the variants, and the range of each."""
        given, method = self.given.sampling, self.given.sampling.method
        levels = {name: self.levels(name, one) for name, one in self.given.vary.items()}
        names = tuple(levels)
        ends = [(float(each.min()), float(each.max())) for each in levels.values()]
        for word, methods in (("file", _METHODS[3:]), ("variants", _METHODS[:2])):
            if getattr(given, word) is not None and method not in methods:
                beside = f"method = {method!r}"
                raise self.refused("idle", f"sampling.{word}", word=word, beside=beside)
        if method == "list":
            if given.file is None:
                raise self.refused("no_list", "sampling.file")
            columns, sample = read_variants(self.folder / given.file, self.known)
            if not names:
                low, high = sample.min(axis=0).tolist(), sample.max(axis=0).tolist()
                return tuple(columns), sample, list(zip(low, high, strict=True))
            if set(columns) != set(names):
                raise self.refused("columns", "sampling.file", columns=columns, names=names)
            return names, sample[:, [columns.index(name) for name in names]], ends
        if not names:
            raise self.refused("nothing_varies", "vary")
        if method == "grid":
            count = math.prod(len(each) for each in levels.values())
            if count > _MOST:
                raise self.refused("grid", "sampling.method", count=count, most=_MOST)
            return names, grid(list(levels.values())), ends
        draw = sobol if method == "sobol" else latin_hypercube
        low, high = [end[0] for end in ends], [end[1] for end in ends]
        return names, draw(low, high, given.variants or 1024, given.seed), ends

    def nose(self, given: _Base, names: tuple[str, ...], values: Array) -> NoseShapes:
        dimensions = {d.name: getattr(given, d.name) for d in DIMENSIONS}
        nose = Nose(**{name: value for name, value in dimensions.items() if value is not None})
        stations, tolerance = given.stations_mm, given.chord_tolerance_mm
        self.check_order("nose", stations)
        radius = nose.plan_radius_mm
        if max(abs(y) for y in stations) >= radius:
            far = str(list(stations))
            raise self.refused("beyond_plan", "nose.stations_mm", stations=far, radius=radius)
        try:
            facets = facets_for(nose.values[None], tolerance)
        except NotAvailableError as error:
            raise self.refused("no_nose", "nose", reason=error) from error
        bare = NoseShapes(nose, names, stations, facets, tolerance)
        # The base is among them, so that it has a place in the study's facets too.
        every = np.concatenate([nose.values[None], bare.full(values)])
        return replace(bare, facets=facets_for(every, tolerance))

    def front(self, given: _Front, names: tuple[str, ...]) -> FrontShapes:
        front = read_front(self.folder / given.file)
        stations = given.stations_mm or front.stations
        self.check_order("front", stations)
        for y in stations:
            self.check_station("no_station", "front.stations_mm", y, front.stations)
        return FrontShapes(front, names, stations, given.blend_mm)

    def heads(self, given: _Motion, stations: tuple[float, ...]) -> HeadLandings:
        known = [person.name for person in struck_people()]
        for i, name in enumerate(given.people, 1):
            if name not in known:
                raise self.refused("person", f"motion.people[{i}]", name=name, known=known)
        y = min(stations, key=abs) if given.station_mm is None else given.station_mm
        self.check_station("limit_at", "motion.station_mm", y, stations)
        people = tuple(dict.fromkeys(given.people))
        return HeadLandings(people, y, given.speed_km_h, given.draws, given.seed)

    def limit(self, one: _Limit, key: str, stations: tuple[float, ...]) -> Limit:
        self.check_line(f"{key}.line", one.line)
        if one.station_mm is not None:
            self.check_station("limit_at", f"{key}.station_mm", one.station_mm, stations)
        if one.at_least_mm is None and one.at_most_mm is None:
            raise self.refused("no_limit", key)
        at_least = -math.inf if one.at_least_mm is None else one.at_least_mm
        at_most = math.inf if one.at_most_mm is None else one.at_most_mm
        if at_least > at_most:
            raise self.refused("crossed", f"{key}.at_most_mm", least=at_least, most=at_most)
        if one.probability is not None and self.given.nose is not None:
            raise self.refused("no_chance", f"{key}.probability", chance=one.probability)
        return Limit(one.line, one.station_mm, at_least, at_most, one.probability)

    def check_order(self, table: str, stations: tuple[float, ...]) -> None:
        if any(b <= a for a, b in pairwise(stations)):
            raise self.refused("order", f"{table}.stations_mm", stations=str(list(stations)))

    def check_station(self, code: str, key: str, y: float, stations: tuple[float, ...]) -> None:
        if y not in stations:
            known = ", ".join(f"{each:g}" for each in stations)
            raise self.refused(code, key, y=y, known=known)

    def check_line(self, key: str, line: str) -> None:
        names = line_names(self.wad)
        if line not in names:
            raise no_target(line, self.file, key) or self.refused(
                "line", key, line=line, known=names
            )


def read_variants(path: Path, known: Mapping[str, Dimension | Handle]) -> tuple[list[str], Array]:
    """Read a list of variants: one column a parameter, one row a variant."""
    file = str(path)
    lines = read_text(path, "a list of variants", StudyError).splitlines()
    numbered = [(i, t) for i, t in enumerate(lines, 1) if t.strip() and not t.startswith("#")]
    if len(numbered) < 2:
        raise refuse("study.no_variants", file)
    header, *rows = (next(csv.reader([text])) for _, text in numbered)
    at = [i for i, _ in numbered]
    names = [cell.strip() for cell in header]
    for name in names:
        if name not in known:
            raise refuse("study.header", file, at[0], name=name, known=known)
    if len(set(names)) < len(names):
        raise refuse("study.twice", file, at[0])
    values = np.empty((len(rows), len(names)))
    for i, (row, cells) in enumerate(zip(at[1:], rows, strict=True)):
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

"""What came out of a sweep: columns read back, shares within limits, Sobol indices."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import dataclass
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from frontcheck.body.person_motion import Spread
from frontcheck.caution import CAUTION
from frontcheck.errors import NotAvailableError
from frontcheck.files import ASIDE
from frontcheck.lines.statuses import OPEN_END
from frontcheck.serializer import one_line, plain
from frontcheck.study.blocks import RESULTS
from frontcheck.study.head_landings import TOLD
from frontcheck.study.study import prefixed, status_columns
from frontcheck.study.study_document import SweepSummary

if TYPE_CHECKING:
    import os
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.study.study import Limit, Study


@one_line
@dataclass(frozen=True, eq=False)
class Sensitivity:
    """Sobol indices of one number, or why there are none."""

    name: str  # The number, such as ``y0_LBRL_z_mm``
    status: str  # ``ok`` or ``not_available``
    reason: str  # Why not; empty when there are
    first: Array | None
    total: Array | None
    deviation: float | None  # Standard deviation of the number over the sample [mm]


@one_line
@dataclass(frozen=True)
class HeadOfVariant:
    """Where the head of a person lands on one variant."""

    variant: int
    wad_mm: Spread


@one_line
@dataclass(frozen=True)
class HeadLanding:
    """Where the head of one person lands, over the sample."""

    person: str
    given: int  # Variants with a place
    not_given: int  # Variants that can be made, without one
    because: dict[str, int]  # Why, and of how many
    nearest: HeadOfVariant | None  # By the median; None where no variant has a place
    farthest: HeadOfVariant | None


@one_line
@dataclass(frozen=True, eq=False)
class Results:
    """The table of results, as far as summaries and pictures need it.

    Parameters
    ----------
    study : Study
        The study.
    status : ndarray
        (M,) str: ``ok``, ``incomplete`` or ``infeasible``.
    reasons : dict of str to int
        How many variants cannot be made, by reason, most frequent first.
    values : ndarray
        (M, d) values of the varied parameters.
    numbers : dict of str to ndarray
        (M,) by column; NaN where missing or not known, which `there` tells.
    open_end : dict of str to ndarray
        (M,) bool by column: where a number is in the table, but an open end could change it.
    head_landings : tuple of HeadLanding
        Where heads land, of the people the study asks for.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> run = fc.sweep(study, "nose")
    >>> results = fc.read_results(study, "nose")
    >>> results.count("ok"), round(float(results.numbers["y0_LBRL_z_mm"].min()), 1)
    (32, 296.0)
    """

    study: Study
    status: NDArray[np.str_]
    reasons: dict[str, int]
    values: Array
    numbers: dict[str, Array]
    open_end: dict[str, Mask]
    head_landings: tuple[HeadLanding, ...] = ()

    def count(self, status: str) -> int:
        """Return how many variants have a status.

        Parameters
        ----------
        status : str
            ``ok``, ``incomplete`` or ``infeasible``.

        Returns
        -------
        int
            Number of variants.
        """
        return int((self.status == status).sum())

    @property
    def sample(self) -> slice:
        """The rows of the sample; those for the sensitivities come after."""
        return slice(0, len(self.study.sample))

    def there(self, name: str) -> Mask:
        """Return where a number is known.

        Parameters
        ----------
        name : str
            Column.

        Returns
        -------
        ndarray
            (M,) bool.
        """
        return ~np.isnan(self.numbers[name])

    def open_ends(self, limit: Limit | None = None) -> Mask:
        """Return which variants have a line that an open end could change.

        Parameters
        ----------
        limit : Limit, optional
            Only lines that it concerns; every line read when not given.

        Returns
        -------
        ndarray
            (M,) bool.
        """
        stations = self.study.setup.shapes.stations
        names = self.open_end if limit is None else limit.columns(stations)
        found = np.zeros(len(self.status), dtype=bool)
        for name in names:
            found |= self.open_end[name]
        return found

    def within(self, limit: Limit) -> Mask:
        """Return which variants keep a limit at all its stations; no line not known does.

        Parameters
        ----------
        limit : Limit
            The limit.

        Returns
        -------
        ndarray
            (M,) bool.
        """
        kept = np.ones(len(self.status), dtype=bool)
        for name in limit.columns(self.study.setup.shapes.stations):
            column = self.numbers[name]
            kept &= self.there(name) & (column >= limit.at_least) & (column <= limit.at_most)
        return kept

    @property
    def within_all(self) -> Mask:
        """Which variants can be made and keep every limit, (M,)."""
        kept: Mask = self.status != "infeasible"
        for limit in self.study.limits:
            kept = kept & self.within(limit)
        return kept

    def sensitivities(self) -> tuple[Sensitivity, ...]:
        """Return the Sobol indices asked for, at every station.

        Returns
        -------
        tuple of Sensitivity
            One a number and station; none where the study asks for none.
        """
        study = self.study
        if not study.sensitivity_samples:
            return ()
        found = []
        for y in study.setup.shapes.stations:
            for each in study.sensitivity_of:
                name = prefixed(y, each)
                found.append(self._sensitivity(name))
        return tuple(found)

    def _sensitivity(self, name: str) -> Sensitivity:
        n, d = self.study.sensitivity_samples, len(self.study.varied)
        column = self.numbers[name][len(self.study.sample) :]
        lacking = int(np.isnan(column).sum())
        if lacking:
            reason = (
                f"{lacking} of {len(column)} variants have no such number, or one that an open end "
                "could change, and Sobol indices need it everywhere: narrow the ranges under [vary]"
            )
            return Sensitivity(name, "not_available", reason, None, None, None)
        if np.ptp(column) < 1e-9:
            reason = "no parameter changes it within the ranges"
            return Sensitivity(name, "not_available", reason, None, None, None)
        first, total = indices(column[:n], column[n : 2 * n], column[2 * n :].reshape(d, n))
        return Sensitivity(name, "ok", "", first, total, float(column[: 2 * n].std()))


def indices(f_a: Array, f_b: Array, f_ab: Array) -> tuple[Array, Array]:
    """Return first-order and total Sobol indices from values at `saltelli` points."""
    from scipy.stats import sobol_indices  # here: the command line must start fast

    found = sobol_indices(
        func={"f_A": f_a[None], "f_B": f_b[None], "f_AB": f_ab[:, None]}, n=len(f_a)
    )
    return np.ravel(found.first_order), np.ravel(found.total_order)


def read_results(study: Study, folder: str | os.PathLike[str]) -> Results:
    """Read back the columns that summaries and pictures need.

    Parameters
    ----------
    study : Study
        The study.
    folder : str or os.PathLike
        Its folder, complete.

    Returns
    -------
    Results
        The results.

    Raises
    ------
    NotAvailableError
        If the table of results is not there.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> run = fc.sweep(study, "nose")
    >>> fc.read_results(study, "nose").count("infeasible")
    0
    """
    path = Path(folder) / RESULTS
    if not path.is_file():
        raise NotAvailableError(f"{path}: no results yet; run the sweep to its end")
    stations = study.setup.shapes.stations
    lines = [n for n in study.names if not n.startswith("WAD")]
    wanted = [prefixed(y, n) for y in stations for n in lines]
    wanted += [prefixed(y, n) for y in stations for n in study.sensitivity_of]
    wanted += [n for limit in study.limits for n in limit.columns(stations)]
    wanted = list(dict.fromkeys(wanted))
    names = study.setup.shapes.names
    columns_of = {name: status_columns(name) for name in wanted}
    of_lines = list(dict.fromkeys(column for each in columns_of.values() for column in each))
    table = _Table(path, ["status", "reason", *of_lines, *names, *wanted])
    status, reasons, numbers = [], Counter[str](), np.empty((study.count, len(names) + len(wanted)))
    ended = np.zeros((len(of_lines), study.count), dtype=bool)
    for i, (kind, reason, *cells) in enumerate(table.rows()):
        status.append(kind)
        if reason:
            reasons[reason] += 1
        ended[:, i] = [cell == OPEN_END for cell in cells[: len(of_lines)]]
        numbers[i] = [float(cell) if cell else np.nan for cell in cells[len(of_lines) :]]
    open_end = {
        name: np.logical_or.reduce([ended[of_lines.index(each)] for each in columns])
        for name, columns in columns_of.items()
    }
    for k, name in enumerate(wanted, start=len(names)):
        numbers[open_end[name], k] = np.nan
    by_count = sorted(reasons.items(), key=lambda item: (-item[1], item[0]))
    columns = np.ascontiguousarray(numbers.T)
    return Results(
        study,
        np.array(status),
        dict(by_count),
        np.ascontiguousarray(numbers[:, : len(names)]),
        dict(zip(wanted, columns[len(names) :], strict=True)),
        open_end,
        tuple(_head_landings(study, path)),
    )


def _head_landings(study: Study, path: Path) -> Iterator[HeadLanding]:
    heads = study.setup.heads
    if heads is None:
        return
    for person in heads.people:
        columns = [heads.column(person, what) for what in TOLD]
        given, because = [], Counter[str]()
        rows = islice(_Table(path, ["variant", *columns]).rows(), len(study.sample))
        for variant, median, p5, p95, status, reason in rows:
            if status == "ok":
                spread = Spread(float(median), float(p5), float(p95))
                given.append(HeadOfVariant(int(variant), spread))
            elif status:
                because[reason] += 1
        by_median = sorted(given, key=lambda one: one.wad_mm.median)
        ends = (by_median[0], by_median[-1]) if given else (None, None)
        counts = dict(sorted(because.items(), key=lambda item: (-item[1], item[0])))
        yield HeadLanding(person, len(given), because.total(), counts, *ends)


class _Table:
    """The table of results, row by row: exact numbers, and no more in memory than asked for."""

    def __init__(self, path: Path, columns: Sequence[str] = ()) -> None:
        self.path = path
        with path.open("r", encoding="utf-8", newline="") as stream:
            stream.readline()  # the caution
            self.header = next(csv.reader(stream))
        self.columns = list(columns) or self.header
        self._places = [self.header.index(name) for name in self.columns]

    def rows(self) -> Iterator[list[str]]:
        with self.path.open("r", encoding="utf-8", newline="") as stream:
            stream.readline()
            reader = csv.reader(stream)
            next(reader)
            for row in reader:
                yield [row[k] for k in self._places]


def summary(results: Results) -> dict[str, Any]:
    """Return the summary of a sweep: counts, limits kept, sensitivities."""
    return plain(SweepSummary, results)


def write_parquet(folder: Path, rows: int = 50_000) -> Path:
    """Write the table of results as Parquet beside the CSV, in pieces."""
    try:
        pa, pq = import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError as error:
        raise NotAvailableError(
            "Parquet needs the package pyarrow, which is not installed; install it with "
            "pip install pyarrow, or use results.csv"
        ) from error
    source = folder / RESULTS
    if not source.is_file():
        raise NotAvailableError(f"{source}: no results yet; run the sweep to its end")
    aside = folder / f"{ASIDE}results.parquet"
    table = _Table(source)
    schema = pa.schema([(name, _kind_of(pa, name)) for name in table.header], {"caution": CAUTION})
    lines = table.rows()
    with pq.ParquetWriter(aside, schema) as writer:
        while piece := list(islice(lines, rows)):
            columns = [
                pa.array([_value(cell, field.type, pa) for cell in column], field.type)
                for column, field in zip(zip(*piece, strict=True), schema, strict=True)
            ]
            writer.write_table(pa.table(columns, schema=schema))
    target = folder / "results.parquet"
    aside.replace(target)
    return target


def _kind_of(pa: Any, name: str) -> Any:
    """Type of a column: the same in all pieces, whatever is missing in one of them."""
    if name == "variant":
        return pa.int64()
    texts = ("set", "status", "reason", "findings")
    is_text = name in texts or name.endswith(("_status", "_legform", "_reason"))
    return pa.string() if is_text else pa.float64()


def _value(cell: str, kind: Any, pa: Any) -> int | float | str | None:
    if not cell:
        return None
    if kind == pa.string():
        return cell
    return int(cell) if kind == pa.int64() else float(cell)

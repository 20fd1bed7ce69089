"""What came out of a sweep: columns read back, shares within limits, Sobol indices."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from frontcheck.body.person_motion import Spread
from frontcheck.caution import CAUTION
from frontcheck.errors import NotAvailableError
from frontcheck.files import aside_name, writing_to
from frontcheck.lines.statuses import OPEN_END
from frontcheck.serializer import one_line, plain
from frontcheck.study.blocks import RESULTS
from frontcheck.study.head_landings import TOLD
from frontcheck.study.study import prefixed, status_columns
from frontcheck.study.study_document import SweepSummary

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Iterator, Sequence

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
        (M,) by column; NaN where missing or not known.
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
        return np.asarray(np.any([self.open_end[name] for name in names], axis=0))

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
            kept &= (column >= limit.at_least) & (column <= limit.at_most)
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
        stations = study.setup.shapes.stations if study.sensitivity_samples else ()
        names = [prefixed(y, each) for y in stations for each in study.sensitivity_of]
        return tuple(self._sensitivity(name) for name in names)

    def _sensitivity(self, name: str) -> Sensitivity:
        n, d = self.study.sensitivity_samples, len(self.study.varied)
        column = self.numbers[name][len(self.study.sample) :]
        lacking, reason = int(np.isnan(column).sum()), ""
        if lacking:
            reason = (
                f"{lacking} of {len(column)} variants have no such number, or one that an open end "
                "could change, and Sobol indices need it everywhere: narrow the ranges under [vary]"
            )
        elif np.ptp(column) < 1e-9:
            reason = "no parameter changes it within the ranges"
        if reason:
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
    path = _complete(Path(folder))
    stations, names = study.setup.shapes.stations, list(study.setup.shapes.names)
    lines = [n for n in study.names if not n.startswith("WAD")]
    wanted = [
        prefixed(y, n) for each in (lines, study.sensitivity_of) for y in stations for n in each
    ]
    wanted += [n for limit in study.limits for n in limit.columns(stations)]
    statuses = {name: list(status_columns(name)) for name in wanted}
    of_lines = [column for each in statuses.values() for column in each]
    table = _table(path, ["status", "reason", *of_lines, *names, *statuses])
    open_end = {
        name: np.asarray((table[columns] == OPEN_END).any(axis=1))
        for name, columns in statuses.items()
    }
    return Results(
        study,
        table["status"].to_numpy(str),
        _counted(filter(None, table["reason"])),
        np.ascontiguousarray(table[names], dtype=float),
        {n: np.where(ended, np.nan, table[n].to_numpy(float)) for n, ended in open_end.items()},
        open_end,
        tuple(_head_landings(study, path)),
    )


def _head_landings(study: Study, path: Path) -> Iterator[HeadLanding]:
    heads = study.setup.heads
    if heads is None:
        return
    for person in heads.people:
        columns = [heads.column(person, what) for what in TOLD]
        rows = _table(path, columns, nrows=len(study.sample))[columns].set_axis(TOLD, axis=1)
        given = [
            HeadOfVariant(variant, Spread(*spread))
            for variant, *spread in rows[rows["status"] == "ok"][list(TOLD[:3])].itertuples()
        ]
        because = rows["reason"][~rows["status"].isin(["ok", ""])]
        by_median = sorted(given, key=lambda one: one.wad_mm.median)
        ends = (by_median[0], by_median[-1]) if given else (None, None)
        yield HeadLanding(person, len(given), len(because), _counted(because), *ends)


def _counted(reasons: Iterable[str]) -> dict[str, int]:
    """How often each reason is given, the most frequent first."""
    return dict(sorted(Counter(reasons).items(), key=lambda item: (-item[1], item[0])))


def _complete(folder: Path) -> Path:
    """The table of results in a folder."""
    path = folder / RESULTS
    if not path.is_file():
        raise NotAvailableError(f"{path}: no results yet; run the sweep to its end")
    return path


def _is_text(column: str) -> bool:
    texts = ("set", "status", "reason", "findings")
    return column in texts or column.endswith(("_status", "_legform", "_reason"))


def _number(cell: str) -> float:
    return float(cell) if cell else np.nan


def _table(path: Path, columns: Sequence[str] | None = None, **how: Any) -> Any:
    """The table of results: exact numbers, and no more in memory than asked for."""
    import pandas as pd  # here and not above: the command line must start fast

    read: Any = pd.read_csv  # its types know no such mappings
    header = read(path, skiprows=1, nrows=0)
    numbers = {name: _number for name in header if not _is_text(name)}  # pandas may round its own
    texts = {name: str for name in header if _is_text(name)}
    how |= {"skiprows": 1, "na_filter": False, "converters": numbers, "dtype": texts}
    return read(path, usecols=columns, **how)


def summary(results: Results) -> dict[str, Any]:
    """Return the summary of a sweep: counts, limits kept, sensitivities."""
    return plain(SweepSummary, results)


def parquet_aside(folder: Path, rows: int = 50_000) -> Path:
    """Write the table of results as Parquet, in pieces, under a name from which it is moved."""
    try:
        pa, pq = import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError as error:
        raise NotAvailableError(
            "Parquet needs the package pyarrow, which is not installed; install it with "
            "pip install pyarrow, or use results.csv"
        ) from error
    source, aside = _complete(folder), folder / aside_name()
    # The same types in all pieces, whatever is missing in one of them.
    kinds = [
        (name, pa.int64() if name == "variant" else pa.string() if _is_text(name) else pa.float64())
        for name in _table(source, nrows=0)
    ]
    schema = pa.schema(kinds, {"caution": CAUTION})
    try:
        with writing_to(folder), pq.ParquetWriter(aside, schema) as writer:
            for piece in _table(source, chunksize=rows):
                known = piece.where(piece != "", None)
                columns = [pa.array(known[field.name], field.type) for field in schema]
                writer.write_table(pa.table(columns, schema=schema))
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    return aside

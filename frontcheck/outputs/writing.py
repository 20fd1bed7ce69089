"""What the command line leaves behind, for Python: documents, folders, annex, measuring sheet."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from frontcheck.files import write_file
from frontcheck.outputs.documents import exports, result_files
from frontcheck.outputs.documents.folder import write_beside, write_folder
from frontcheck.reading.form import Worksheet
from frontcheck.study.blocks import OWN, RECORD
from frontcheck.study.sweep_results import summary

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterable, Mapping
    from typing import Any

    from frontcheck.body.motion import MotionStudy
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.legs.leg_study import LegStudy
    from frontcheck.screening import Screening
    from frontcheck.study.sweep_results import Results
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.tolerance_result import Tolerance

    Where = str | os.PathLike[str]


def written(
    path: Where,
    document: Callable[[], dict[str, Any]],
    files: Callable[[], Mapping[str, bytes]],
    table: Callable[[], bytes] | None = None,
) -> Path:
    """Write what the suffix asks for: .json the document, .csv the table, else the folder."""
    target = Path(path)
    if target.suffix.lower() == ".json":
        write_file(target, exports.json_bytes(document()))
    elif target.suffix.lower() == ".csv" and table is not None:
        write_file(target, table())
    else:
        write_folder(target, files())
    return target


def write_screening(
    screening: Screening,
    path: Where,
    *,
    lines_only: bool = False,
    tolerance: Tolerance | None = None,
    corrections: CorrectionReport | None = None,
) -> Path:
    """Write a screening: its document, its table of lines, or a folder with all and figures.

    Parameters
    ----------
    screening : Screening
        The screening.
    path : str or os.PathLike
        ``.json``: the document. ``.csv``: one row a station. Anything else: a folder.
    lines_only : bool, optional
        Leave out what needs a surface.
    tolerance : Tolerance, optional
        Draws of the same front, to go with it.
    corrections : CorrectionReport, optional
        Known errors that were taken out before.

    Returns
    -------
    pathlib.Path
        What was written.

    Raises
    ------
    OutputError
        If it cannot be written; what stood there before is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> fc.write_screening(result, "plover.json", lines_only=True).name
    'plover.json'
    """
    more: dict[str, Any] = {
        "lines_only": lines_only,
        "tolerance": tolerance,
        "corrections": corrections,
    }
    return written(
        path,
        partial(exports.screening_document, screening, **more),
        partial(result_files.screening_files, screening, **more),
        partial(exports.stations_csv, screening),
    )


def write_comparison(comparison: Comparison, path: Where) -> Path:
    """Write a comparison: its document, its table of changes, or a folder with all and figures.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    path : str or os.PathLike
        ``.json``: the document. ``.csv``: the changes. Anything else: a folder.

    Returns
    -------
    pathlib.Path
        What was written.

    Raises
    ------
    OutputError
        If it cannot be written; what stood there before is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> a, b = (fc.screen(fc.read_front(f"geometries/{n}.csv")) for n in ("plover", "avocet"))
    >>> fc.write_comparison(fc.compare(a, b), "changes.csv").name
    'changes.csv'
    """
    files = partial(result_files.comparison_files, comparison)
    return written(path, comparison.to_dict, files, partial(result_files.changes_csv, comparison))


def write_tolerance(tolerance: Tolerance, path: Where) -> Path:
    """Write draws of a measurement: the document or the table of intervals.

    Parameters
    ----------
    tolerance : Tolerance
        The draws.
    path : str or os.PathLike
        ``.json``: the document. ``.csv``: median and interval of every quantity. Anything
        else: a folder with both.

    Returns
    -------
    pathlib.Path
        What was written.

    Raises
    ------
    OutputError
        If it cannot be written; what stood there before is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> front = fc.read_front("geometries/plover.csv")
    >>> drawn = fc.tolerance(front, "UN-R127-02", draws=100)
    >>> fc.write_tolerance(drawn, "plover-intervals.csv").name
    'plover-intervals.csv'
    """

    def files() -> dict[str, bytes]:
        document = exports.json_bytes(tolerance.to_dict())
        return {"tolerance.json": document, "intervals.csv": result_files.intervals_csv(tolerance)}

    return written(path, tolerance.to_dict, files, partial(result_files.intervals_csv, tolerance))


def write_sweep(results: Results, path: Where) -> Path:
    """Write what came out of a sweep: its summary, or summary and pictures into its folder.

    Parameters
    ----------
    results : Results
        The results.
    path : str or os.PathLike
        ``.json``: the summary. Anything else: a folder, new or that of the sweep; what is there
        stays.

    Returns
    -------
    pathlib.Path
        What was written.

    Raises
    ------
    OutputError
        If it cannot be written, or the user's own file stands there.

    Examples
    --------
    >>> import frontcheck as fc
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> run = fc.sweep(study, "nose-study")  # doctest: +SKIP
    >>> results = fc.read_results(study, "nose-study")  # doctest: +SKIP
    >>> fc.write_sweep(results, "nose-study")  # doctest: +SKIP
    """
    target = Path(path)
    if target.suffix.lower() == ".json":
        write_file(target, exports.json_bytes(summary(results)))
    else:
        write_beside(target, result_files.sweep_files(results)[0], RECORD, OWN)
    return target


def annex(
    screening: Screening,
    comparison: Comparison | None = None,
    *,
    paper: Literal["a4", "letter"] = "a4",
    full: bool = False,
    **title: str,
) -> dict[str, bytes]:
    """Make the geometry annex of a front for a design review.

    Parameters
    ----------
    screening : Screening
        The front; with its motion study there is a section on people who are struck.
    comparison : Comparison, optional
        What changes from it to another front.
    paper : {"a4", "letter"}, optional
        Paper of the PDF.
    full : bool, optional
        With more stations and views, a second person, and every constant with its source.
    **title : str
        Title block, as far as given: ``title``, ``author``, ``project``, ``number``,
        ``revision``, ``date``.

    Returns
    -------
    dict of str to bytes
        Files by name: annex.pdf, annex.html, screening.json, tables, drawing and figures.

    Raises
    ------
    NotAvailableError
        If a package that sets the PDF is missing.

    Examples
    --------
    >>> import frontcheck as fc
    >>> front = fc.nose_front(fc.Nose())
    >>> files = fc.annex(fc.screen(front), title="Nose review")
    >>> {"annex.pdf", "annex.html", "screening.json"} <= set(files)
    True
    """
    from frontcheck.outputs.annex.annex import annex_files
    from frontcheck.outputs.annex.annex_text import TitleBlock

    return annex_files(screening, comparison, TitleBlock(**title), paper, full=full)


def write_annex(
    folder: Where,
    screening: Screening,
    comparison: Comparison | None = None,
    *,
    paper: Literal["a4", "letter"] = "a4",
    full: bool = False,
    **title: str,
) -> Path:
    """Write the geometry annex of a front into a folder; see `annex`.

    Parameters
    ----------
    folder : str or os.PathLike
        The folder.
    screening : Screening
        The front.
    comparison : Comparison, optional
        What changes from it to another front.
    paper : {"a4", "letter"}, optional
        Paper of the PDF.
    full : bool, optional
        With more stations and views, a second person, and every constant with its source.
    **title : str
        Title block, as far as given.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    NotAvailableError
        If a package that sets the PDF is missing.
    OutputError
        If it cannot be written; what stood there before is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> front = fc.nose_front(fc.Nose())
    >>> folder = fc.write_annex("review", fc.screen(front), author="The studio")
    """
    files = annex(screening, comparison, paper=paper, full=full, **title)
    write_folder(Path(folder), files)
    return Path(folder)


def worksheet(
    stations: Iterable[float | str],
    heights: Iterable[float | str],
    *,
    unit: Literal["mm", "cm", "in"] = "mm",
    name: str = "",
    symmetric: bool | None = None,
) -> Worksheet:
    """Lay out a measuring sheet.

    Parameters
    ----------
    stations, heights : iterable of float or str
        Stations from left to right, and heights to set the square to, rising [unit].
    unit : {"mm", "cm", "in"}, optional
        Unit of the sheet.
    name : str, optional
        Name of the vehicle.
    symmetric : bool, optional
        Whether one half stands for both; yes when all stations lie on one side.

    Returns
    -------
    Worksheet
        The sheet; `write_worksheet` writes it.

    Raises
    ------
    InputError
        If there are no stations or heights, too many, out of order or out of reach, or the
        name cannot stand in a table.

    Examples
    --------
    >>> import frontcheck as fc
    >>> sheet = fc.worksheet([0, 300, 600], range(100, 1000, 50), name="Plover")
    >>> len(sheet.rows), sheet.symmetric
    (38, True)
    """
    at, up = (tuple(Decimal(str(each)) for each in given) for given in (stations, heights))
    return Worksheet(at, up, unit=unit, name=name, symmetric=symmetric)


def write_worksheet(sheet: Worksheet, folder: Where, paper: Literal["a4", "letter"] = "a4") -> Path:
    """Write a measuring sheet: worksheet.pdf to print, worksheet.csv or .xlsx to fill in.

    The spreadsheet needs openpyxl (``frontcheck[sheets]``) and is left out without it.

    Parameters
    ----------
    sheet : Worksheet
        The sheet.
    folder : str or os.PathLike
        The folder; a filled sheet there is not overwritten.
    paper : {"a4", "letter"}, optional
        Paper of the PDF.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    OutputError
        If it cannot be written, or another sheet is there that may be in use.

    Examples
    --------
    >>> import frontcheck as fc
    >>> sheet = fc.worksheet([0, 300, 600], range(100, 1000, 50))
    >>> sorted(file.name for file in fc.write_worksheet(sheet, "sheet").iterdir())
    ['worksheet.csv', 'worksheet.pdf', 'worksheet.xlsx']
    """
    from frontcheck.outputs.sheet.sheet import write_sheet

    write_sheet(sheet, Path(folder), paper)
    return Path(folder)


def write_leg(study: LegStudy, path: Where, depth: float = 60.0) -> Path:
    """Write a leg study: its document, or a folder with document and figures.

    Parameters
    ----------
    study : LegStudy
        The study.
    path : str or os.PathLike
        A name that ends in ``.json`` for the document, any other for a folder.
    depth : float, optional
        Depth at which loads are drawn [mm].

    Returns
    -------
    pathlib.Path
        The document or the folder.

    Raises
    ------
    OutputError
        If it cannot be written; nothing is lost then.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> fc.write_leg(fc.leg([result], fc.PEOPLE[0]), "leg.json").name
    'leg.json'
    """
    return written(path, study.to_dict, lambda: result_files.leg_files(study, depth))


def write_motion(study: MotionStudy, path: Where) -> Path:
    """Write a motion study: its document, or a folder with document and figures.

    Parameters
    ----------
    study : MotionStudy
        The study.
    path : str or os.PathLike
        A name that ends in ``.json`` for the document, any other for a folder.

    Returns
    -------
    pathlib.Path
        The document or the folder.

    Raises
    ------
    OutputError
        If it cannot be written; nothing is lost then.

    Examples
    --------
    >>> import frontcheck as fc
    >>> study = fc.motion(fc.read_front("geometries/plover.csv"), people=fc.PEOPLE[:1], draws=20)
    >>> fc.write_motion(study, "motion.json").name
    'motion.json'
    """
    return written(path, study.to_dict, lambda: result_files.motion_files(study))

"""The command ``annex``: a folder for a design review."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    file_options,
    guarded,
    line_options,
    out_option,
    screened,
    show,
)
from frontcheck.cli.progress import progress
from frontcheck.cli.struck import asked, motion_options, with_struck
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.annex.annex_text import Paper, TitleBlock
    from frontcheck.outputs.documents.result_files import Step
    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport


@click.command()
@click.argument("file", type=FrontFile)
@click.argument("file_b", type=FrontFile, required=False)
@out_option(
    "Folder to write, new or made by frontcheck.",
    ("annex.pdf", "annex.html", "screening.json"),
    required=True,
)
@line_options
@click.option("--title", default="", help="Title of the annex.")
@click.option("--by", "author", default="", help="Author.")
@click.option("--project", default="", help="Project.")
@click.option("--number", default="", help="Drawing number.")
@click.option("--revision", default="", help="Revision.")
@click.option("--date", default="", help="Date, as it is to stand there; none otherwise.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Paper of annex.pdf, landscape.",
)
@click.option(
    "--full",
    is_flag=True,
    help="Also side views of more stations, views across the front and from ahead, the bonnet "
    "unrolled, a second person, and every constant with its source.",
)
@motion_options(
    "Also what becomes of people whom FILE, and FILE_B, strike at the station nearest the centre."
)
@file_options
def annex(
    file: Path,
    file_b: Path | None,
    out: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    paper: str,
    full: bool,
    **options: Any,
) -> None:
    """Write the geometry annex of FILE for a design review; with FILE_B, also what changes.

    The folder holds annex.pdf, annex.html (one file, works offline), screening.json, lines.csv,
    lines.dxf and the figures as SVG. FILE may be a front file (.toml). Exit code 0: done. 1: done,
    but some line could not be formed. 2: unusable input or arguments.

    \b
    Examples:
      frontcheck annex geometries/plover.csv --out reports/annex-plover
      frontcheck annex geometries/plover.csv geometries/avocet.csv --out reports/annex
      frontcheck annex geometries/plover.csv geometries/avocet.csv --motion --out reports/annex
      frontcheck annex geometries/plover.csv --out review --title "Nose review" --by "The studio"
    """
    block, how = _title_block(options), asked(options)
    with progress("screening") as step:
        first, of_first = guarded(lambda: screened(file, rules_id, wad, tape_start, options))
        second, of_second = None, None
        if file_b is not None:
            second, of_second = guarded(
                lambda: screened(file_b, rules_id, wad, tape_start, options)
            )
        comparison = None if second is None else guarded(lambda: _compared(first, second, step))
        if how is not None:
            first = guarded(lambda: with_struck(first, second, how, step))
        guarded(lambda: _write(first, comparison, block, paper, out, step, full=full))
    for name, report in ((file, of_first), (file_b, of_second)):
        if report is not None:
            _show_corrections(report, escaped(name))
    for words in _missing(first, second):
        click.echo(words)
    click.echo(f"Written: {escaped(out)}")
    click.echo(first.cautions[0])
    both = first.complete and (second is None or second.complete)
    sys.exit(DONE if both else INCOMPLETE)


def _show_corrections(report: CorrectionReport, name: str) -> None:
    from frontcheck.outputs.text.tolerance_text import corrections_text

    show(lambda style: "\n".join(corrections_text(style, report, applied=True, of=name)))


def _title_block(options: dict[str, Any]) -> TitleBlock:
    from frontcheck.outputs.annex.annex_text import TitleBlock

    names = ("title", "author", "project", "number", "revision", "date")
    return TitleBlock(**{name: options.pop(name) for name in names})


def _compared(first: Screening, second: Screening, step: Step) -> Comparison:
    from frontcheck.comparison.two_fronts import compare

    step("changes", 0.0)
    return compare(first, second)


def _write(
    first: Screening,
    comparison: Comparison | None,
    block: TitleBlock,
    paper: str,
    out: Path,
    step: Step,
    *,
    full: bool,
) -> None:
    from frontcheck.outputs.annex.annex import annex_files
    from frontcheck.outputs.documents.folder import write_folder

    sheet: Paper = "letter" if paper == "letter" else "a4"
    files = annex_files(first, comparison, block, sheet, step, full=full)
    step("writing", 0.99)
    write_folder(out, files)


def _missing(*screenings: Screening | None) -> list[str]:
    from frontcheck.outputs.annex.annex_text import grouped

    said = []
    for each in screenings:
        if each is None:
            continue
        items = [(text, station.y) for station in each.stations for text in station.missing]
        said += [
            f"Missing in {each.front.source.file}: {text}."
            for text in grouped(items, len(each.stations))
        ]
    return said

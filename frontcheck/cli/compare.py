"""The command ``compare``: two fronts in, what changes from one to the other out."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    file_options,
    finish,
    guarded,
    line_options,
    output_options,
    screened,
)
from frontcheck.cli.draws import seed_option

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.sure.corrections import CorrectionReport


@click.command()
@click.argument("file_a", metavar="A", type=FrontFile)
@click.argument("file_b", metavar="B", type=FrontFile)
@line_options
@click.option(
    "--align",
    type=click.Choice(["none", "foremost"]),
    default="none",
    show_default=True,
    help="Compare setbacks as measured, or from the foremost point of each front.",
)
@click.option(
    "--draws",
    type=int,
    default=0,
    metavar="N",
    help="Draw N times what either measurement might have read: how sure the changes are.",
)
@seed_option()
@output_options("comparison", "document, table and figures", "changes.csv", "finding-changes.csv")
@file_options
def compare(
    file_a: Path,
    file_b: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    align: str,
    draws: int,
    seed: int,
    json_path: Path | None,
    out: Path | None,
    **options: Any,
) -> None:
    """Say what changes from the front in file A to the front in file B.

    Every change is B minus A. A or B may be a front file (.toml), which says in what unit, axes
    and pose a drawing or mesh stands. Exit code 0: done. 1: done, but some line could not be
    formed in A or B. 2: unusable input or arguments.

    \b
    Examples:
      frontcheck compare geometries/plover.csv geometries/avocet.csv
      frontcheck compare geometries/plover.csv geometries/avocet.csv --draws 2000
      frontcheck compare geometries/plover.csv geometries/avocet.csv --out reports/comparison
    """

    def work() -> tuple[Comparison, dict[str, CorrectionReport]]:
        from frontcheck.comparison.two_fronts import compare as compare_fronts

        files = [file_a, file_b]
        (a, of_a), (b, of_b) = (
            screened(file, rules_id, wad, tape_start, options) for file in files
        )
        compared = compare_fronts(
            a, b, align="foremost" if align == "foremost" else "none", draws=draws, seed=seed
        )
        return compared, {
            name: report for name, report in (("A", of_a), ("B", of_b)) if report is not None
        }

    result, corrections = guarded(work)
    if out is not None:
        guarded(lambda: _write_out(result, corrections, out))

    def text(style: Style) -> str:
        from frontcheck.outputs.text.comparison_text import comparison_text

        return _corrections(style, corrections) + comparison_text(style, result, out)

    finish(json_path, lambda: _document(result, corrections), text)
    sys.exit(DONE if result.complete else INCOMPLETE)


def _document(result: Comparison, corrections: dict[str, CorrectionReport]) -> dict[str, Any]:
    document = result.to_dict()
    if corrections:
        document["corrections"] = {
            name.lower(): {"applied": True, **report.to_dict()}
            for name, report in corrections.items()
        }
    return document


def _corrections(style: Style, corrections: dict[str, CorrectionReport]) -> str:
    if not corrections:
        return ""
    from frontcheck.outputs.text.tolerance_text import corrections_text

    parts = []
    for name, report in corrections.items():
        parts += corrections_text(style, report, applied=True, of=name)
    return "\n".join([*parts, ""])


def _write_out(result: Comparison, corrections: dict[str, CorrectionReport], out: Path) -> None:
    from frontcheck.outputs.documents.exports import json_bytes
    from frontcheck.outputs.documents.folder import write_folder
    from frontcheck.outputs.documents.result_files import comparison_files

    files = comparison_files(result)
    files["comparison.json"] = json_bytes(_document(result, corrections))
    write_folder(out, files)

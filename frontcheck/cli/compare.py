"""The command ``compare``: two fronts in, what changes from one to the other out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    file_options,
    guarded,
    line_options,
    screened,
    show,
    write_json,
)

if TYPE_CHECKING:
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.sure.corrections import CorrectionReport

_TABLES: Final = (".csv", ".txt", ".tsv")
"""Offset tables: they state their unit themselves and take no options."""


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
@click.option("--seed", type=int, default=1, show_default=True, metavar="N", help="Of the draws.")
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    help="Write the comparison document there; - for standard output, in place of the tables.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write document, table and figures into this folder.",
)
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

    Every change is B less A. Options of drawings and meshes apply to each file that is one. Exit
    code 0: done. 1: done, but some line could not be formed in A or B. 2: unusable input or
    arguments.

    \b
    Examples:
      frontcheck compare geometries/plover.csv geometries/avocet.csv
      frontcheck compare geometries/plover.csv geometries/avocet.csv --draws 2000
      frontcheck compare geometries/plover.csv geometries/avocet.csv --out reports/comparison
    """

    def work() -> tuple[Comparison, dict[str, CorrectionReport]]:
        from frontcheck.comparison.two_fronts import compare as compare_fronts

        tables = [file.suffix.lower() in _TABLES for file in (file_a, file_b)]
        for_tables = {"correct": options["correct"]}
        (a, of_a), (b, of_b) = (
            # Beside a drawing or mesh, its options are not meant for the table.
            screened(
                file,
                rules_id,
                wad,
                tape_start,
                for_tables if is_table and not all(tables) else options,
            )
            for file, is_table in zip((file_a, file_b), tables, strict=True)
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
    if json_path is not None:
        guarded(lambda: write_json(_document(result, corrections), json_path))
    if json_path is None or str(json_path) != "-":
        from frontcheck.outputs.text.comparison_text import comparison_text

        def text(style: Style) -> str:
            return _corrections(style, corrections) + comparison_text(style, result, out)

        show(text)
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
    from frontcheck.outputs.documents.exports import json_bytes, write_folder
    from frontcheck.outputs.documents.result_files import comparison_files

    files = comparison_files(result)
    files["comparison.json"] = json_bytes(_document(result, corrections))
    write_folder(out, files)

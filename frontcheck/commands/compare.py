"""The command ``compare``: two fronts in, what changes from one to the other out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from frontcheck.commands.common import (
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
    from frontcheck.comparison import Comparison

__all__ = ["compare"]

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

    def work() -> Comparison:
        from frontcheck.comparison import compare as compare_fronts

        tables = [file.suffix.lower() in _TABLES for file in (file_a, file_b)]
        a, b = (
            # Beside a drawing or mesh, its options are not meant for the table.
            screened(
                file, rules_id, wad, tape_start, {} if is_table and not all(tables) else options
            )
            for file, is_table in zip((file_a, file_b), tables, strict=True)
        )
        return compare_fronts(
            a, b, align="foremost" if align == "foremost" else "none", draws=draws, seed=seed
        )

    result = guarded(work)
    if out is not None:
        guarded(lambda: _write_out(result, out))
    if json_path is not None:
        guarded(lambda: write_json(result.to_dict(), json_path))
    if json_path is None or str(json_path) != "-":
        from frontcheck.commands.compare_text import comparison_text

        show(lambda style: comparison_text(style, result, out))
    sys.exit(DONE if result.complete else INCOMPLETE)


def _write_out(result: Comparison, out: Path) -> None:
    from frontcheck.report.compare_bundle import comparison_files
    from frontcheck.report.folder import write_folder

    write_folder(out, comparison_files(result))

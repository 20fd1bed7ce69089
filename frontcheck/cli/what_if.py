"""The command ``what-if``: features of a front moved, and what of lines and answer that changes."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    JSON_MARK,
    FrontFile,
    Lengths,
    corrected_if_asked,
    file_options,
    finish,
    guarded,
    line_options,
    read,
    reading_options,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.lines.lined_front import TapeStart
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.study.sensitivity import Sensitivity
    from frontcheck.study.what_if import WhatIf

F = TypeVar("F", bound="Callable[..., Any]")

MADE_BY: Final = "what-if"
"""What makes the tables of this command, as `table_place` has it."""


def _moves(command: F) -> F:
    """Add an option for every feature that can be moved."""
    from frontcheck.study.moves import FEATURES, HANDLES, ways_of

    for what in reversed(FEATURES):
        handles = [handle for handle in HANDLES if handle.what == what]
        does = handles[0].meaning
        if len(handles) > 1:  # both of them say so, one for each way
            does = does.replace(" rearward", "")
        command = click.option(
            f"--{what.replace('_', '-')}",
            multiple=True,
            metavar=f"WAY:{handles[0].unit.upper()}",
            help=f"{', '.join(ways_of(what))}: {does}.",
        )(command)
    return command


@click.command()
@click.argument("file", metavar="FRONT", type=FrontFile)
@_moves
@click.option(
    "--only-at",
    type=Lengths("0,100", signed=True),
    help="Move it at these stations only [mm]; else at all alike.",
)
@click.option(
    "--per-10mm",
    "rates",
    is_flag=True,
    help="Say how far each line goes for 10 mm or 1 deg of each feature, as the front is.",
)
@line_options
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    help="Write the what-if document there; - for standard output, in place of the text.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the moved front there as an offset table, .csv; moved points are marked proposed.",
)
@file_options
@reading_options
def what_if(
    file: Path,
    only_at: tuple[float, ...] | None,
    rates: bool,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    json_path: Path | None,
    out: Path | None,
    **options: Any,
) -> None:
    """Move features of the FRONT and say what of its lines and of the answer changes.

    A move is a way and an amount, such as forward:20, in mm; of slope and lean in deg. Several go
    with commas or with the option said again; a negative amount goes the other way. Moved points
    are marked as proposed, never as measured: a drawing, not advice to alter a vehicle. A feature
    that some stations lack is moved at the others. Without a move: how far each line goes for
    10 mm of each feature.

    Exit code 0: done. 1: done, but some line could not be formed before or after, or a feature is
    not there at some station. 2: unusable input or arguments, or a move that cannot be made; then
    nothing is written.

    \b
    Examples:
      frontcheck what-if geometries/plover.csv --lower-lip forward:20 --leading-edge up:-15
      frontcheck what-if geometries/plover.csv --bonnet-slope steeper:1 --out higher.csv
      frontcheck what-if geometries/avocet.csv
    """
    from frontcheck.files import write_file
    from frontcheck.outputs.documents.offset_table import offset_table

    guarded(lambda: _check_places(json_path, out))
    found, table = guarded(
        lambda: _found(file, only_at, rates, rules_id, wad, tape_start, out, options)
    )
    if out is not None and (moved := found.front) is not None:
        guarded(lambda: write_file(out, offset_table(moved, MADE_BY)))

    def text(style: Style) -> str:
        from frontcheck.outputs.text.what_if_text import what_if_text

        return what_if_text(style, found, table, out)

    finish(json_path, lambda: found.to_dict(table), text)
    sys.exit(DONE if found.complete else INCOMPLETE)


def _check_places(json_path: Path | None, out: Path | None) -> None:
    """Refuse what cannot be written before any work, so that there is all of it or nothing."""
    from frontcheck.errors import OutputError
    from frontcheck.files import check_folder, check_own

    if json_path is None or str(json_path) == "-":
        return
    if out is not None and json_path.resolve() == out.resolve():
        raise OutputError(f"{out}: named for table and document alike; expected two places; "
                          "name another for one of them")  # fmt: skip
    check_folder(json_path)
    check_own(json_path, JSON_MARK)


def _found(
    file: Path, only_at: tuple[float, ...] | None, rates: bool, rules_id: str | None,
    wad: tuple[float, ...] | None, tape_start: str, out: Path | None, options: dict[str, Any],
) -> tuple[WhatIf, Sensitivity | None]:  # fmt: skip
    """Read the front, move it, screen it before and after."""
    from frontcheck.errors import refuse
    from frontcheck.outputs.documents.offset_table import table_place
    from frontcheck.rules.ruleset import DEFAULT_RULES, rule_set
    from frontcheck.study.moves import BELOW, CROSS, FEATURES, most_of, moves_said
    from frontcheck.study.sensitivity import sensitivity
    from frontcheck.study.what_if import what_if as move

    moves = {what: _ways(what, options[what]) for what in FEATURES if options[what]}
    if not moves and (out is not None or only_at is not None):
        raise refuse("moves.none")
    rules = rule_set(rules_id or DEFAULT_RULES)
    start: TapeStart = "vehicle" if tape_start == "vehicle" else "section"
    front, report = corrected_if_asked(read(file, options), rules, options)
    if report is not None:  # how the body was turned, the front itself knows
        done = [each.message for each in report.corrections if each.name != "ride attitude"]
        front = replace(front, changes=(*front.changes, *done))
    if out is not None:
        beside = [file.parent / each.file for each in front.source.files]
        table_place(out, MADE_BY, inputs=[file, *beside])
    found = move(front, moves, rules, wad, only_at=only_at, tape_start=start)
    if found.front is None:
        said = "; ".join(found.in_the_way())
        if not {each.reason for each in found.obstacles} & {BELOW, CROSS}:
            raise refuse("moves.absent", str(file), moves=found.moves, said=said)
        most = moves_said(most_of(found.base, found.amounts, only_at)) or "not a hundredth of it"
        raise refuse("moves.obstacles", str(file), moves=found.moves, said=said, most=most)
    table = None
    if rates or not moves:
        nearest = min(front.stations, key=lambda y: (abs(y), y))
        table = sensitivity(found.base, rules, nearest, wad, tape_start=start)
    return found, table


def _ways(what: str, given: tuple[str, ...]) -> dict[str, float]:
    """Amounts by way of what is typed, such as ``forward:20,up:5``; the same way twice adds up."""
    from frontcheck.errors import refuse
    from frontcheck.study.moves import ways_of

    ways: dict[str, float] = {}
    for text in ",".join(given).split(","):
        way, _, amount = text.strip().partition(":")
        try:
            ways[way] = ways.get(way, 0.0) + float(amount)
        except ValueError:
            known = ways_of(what)
            handle, _ = known[next(iter(known))]
            words, example = handle.words, f"{handle.way}:2"
            raise refuse("moves.number", text=text[:40], what=words, known=known, unit=handle.unit,
                         example=example) from None  # fmt: skip
    return ways

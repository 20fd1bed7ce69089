"""The command ``tolerance``: a measured front in, how sure its lines are out."""

from __future__ import annotations

import math
import sys
from typing import TYPE_CHECKING, Any

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    corrected_if_asked,
    file_options,
    finish,
    guarded,
    line_options,
    output_options,
    read,
)
from frontcheck.cli.draws import draw_options, settings_for

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.lines.lined_front import TapeStart
    from frontcheck.outputs.documents.result_files import Measurement
    from frontcheck.outputs.text.terminal import Style


class _Threshold(click.ParamType):  # type: ignore[type-arg]
    """A quantity and a limit such as ``ble_height_mm=835``."""

    name = "NAME=MM"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float]:
        """Turn the text into a name and a number."""
        if isinstance(value, tuple):
            return value
        name, _, limit = str(value).partition("=")
        try:
            at = float(limit)
        except ValueError:
            at = math.nan
        if not (name.strip() and math.isfinite(at)):
            self.fail(f"{value!r} is not a threshold such as ble_height_mm=835", param, ctx)
        return name.strip(), at


@click.command()
@click.argument("file", type=FrontFile)
@line_options
@draw_options(10_000, "How often the measurement is drawn, 100 or more; time grows with it.")
@click.option(
    "--threshold",
    "thresholds",
    type=_Threshold(),
    multiple=True,
    help="Say how likely a quantity is on either side; may be given several times.",
)
@output_options(
    "tolerance", "document, tables and figure", "intervals.csv", "measure-again.csv", "spacing.csv"
)
@file_options
def tolerance(
    file: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    draws: int,
    seed: int,
    hand_tools: bool,
    thresholds: tuple[tuple[str, float], ...],
    json_path: Path | None,
    out: Path | None,
    **options: Any,
) -> None:
    """Say how sure the lines of the front in FILE are, and what to measure again.

    The measurement is drawn many times within its uncertainties, which FILE states
    (height_u, setback_u, datum_u and the like; else --hand-tools), and all lines are formed each
    time. Then: are the rows close enough together, do checks on the car agree, and what do
    the known errors do (--correct takes them out). FILE may be a front file (.toml). Exit code 0:
    done. 1: done, but some line could not be formed. 2: unusable input or arguments.

    \b
    Examples:
      frontcheck tolerance geometries/plover.csv
      frontcheck tolerance geometries/plover.csv --hand-tools --threshold ble_height_mm=800
      frontcheck tolerance geometries/plover-survey.csv --correct --out reports/survey
    """

    def work() -> Measurement:
        return _measurement(
            file, rules_id, wad, tape_start, draws, seed, hand_tools, thresholds, options
        )

    result = guarded(work)
    if out is not None:
        guarded(lambda: _write_out(result, out))

    def text(style: Style) -> str:
        from frontcheck.outputs.text.tolerance_text import measurement_text

        return measurement_text(style, result, out)

    finish(json_path, result.to_dict, text)
    sys.exit(DONE if result.complete else INCOMPLETE)


def _measurement(
    file: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    draws: int,
    seed: int,
    hand_tools: bool,
    thresholds: tuple[tuple[str, float], ...],
    options: dict[str, Any],
) -> Measurement:
    from frontcheck.outputs.documents.result_files import Measurement
    from frontcheck.rules.ruleset import DEFAULT_RULES, rule_set
    from frontcheck.sure.closure import closure
    from frontcheck.sure.corrections import corrected
    from frontcheck.sure.intervals import tolerance as draw
    from frontcheck.sure.spacing import spacing

    rules = rule_set(rules_id or DEFAULT_RULES)
    start: TapeStart = "vehicle" if tape_start == "vehicle" else "section"
    measured = read(file, options)
    settings = settings_for(measured, hand_tools=hand_tools)
    front, corrections = corrected_if_asked(measured, rules, options)
    applied = corrections is not None
    if corrections is None:
        _, corrections = corrected(measured, rules)
    result = draw(
        front, rules, wad, settings, draws=draws, seed=seed, tape_start=start, thresholds=thresholds
    )
    return Measurement(
        result,
        spacing(front, rules, wad),
        # The car as it stood, whatever is corrected: the checks were made on it.
        closure(measured, rules, settings, seed=seed),
        corrections,
        applied,
    )


def _write_out(result: Measurement, out: Path) -> None:
    from frontcheck.outputs.documents.folder import write_folder
    from frontcheck.outputs.documents.result_files import tolerance_files

    write_folder(out, tolerance_files(result))

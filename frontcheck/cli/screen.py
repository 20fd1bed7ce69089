"""The command ``screen``: a front in, its lines, zones and findings out."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    Lengths,
    file_options,
    finish,
    guarded,
    line_options,
    output_options,
    reading_options,
    screened,
    shoe_option,
)
from frontcheck.cli.draws import draw_options, settings_for
from frontcheck.cli.progress import progress
from frontcheck.cli.struck import asked, motion_options, with_struck
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.findings.finding_settings import FindingSettings
    from frontcheck.outputs.documents.result_files import Figures, Step
    from frontcheck.outputs.text.terminal import Shown, Style
    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.tolerance_result import Tolerance
    from frontcheck.sure.uncertainty import Uncertainty
    from frontcheck.zones.front_zones import ZoneOptions


@click.command()
@click.argument("file", type=FrontFile)
@line_options
@click.option(
    "--hard-points",
    type=FrontFile,
    help="CSV of stiff points under the skin: x_mm, y_mm, z_mm, name, kind.",
)
@click.option(
    "--stature",
    "statures",
    type=float,
    multiple=True,
    metavar="MM",
    help="Look at a person of this stature too; may be given several times. Not 1200 to 1450 mm.",
)
@shoe_option
@click.option(
    "--beam-ends",
    type=Lengths("-560,560", signed=True, count=2),
    metavar="LEFT,RIGHT",
    help="y of the ends of the bumper beam [mm], for rule sets that ask for it.",
)
@click.option(
    "--windscreen-from",
    type=Lengths("1095,920", signed=True, count=2),
    metavar="X,Z",
    help="Setback and height at which the windscreen begins at the centre [mm]; without it by "
    "labels, else by shape.",
)
@click.option("--grid", type=float, help="Spacing of the candidate points [mm].")
@draw_options(
    0,
    "Draw the measurement N times, 100 or more: how sure the lines are; with 200 or more also in "
    "how many of 100 assumed cases that holds which stands out.",
)
@motion_options("Say what becomes of people whom it strikes at the station nearest the centre.")
@click.option("--stations", is_flag=True, help="Print lines and test areas station by station.")
@click.option("--findings", is_flag=True, help="Print every finding, theme by theme.")
@click.option("--all", "everything", is_flag=True, help="Print the first screen and both.")
@click.option(
    "--lines-only",
    is_flag=True,
    help="Lines of the sections only: no zones, no findings. Faster.",
)
@output_options(
    "screening", "document, tables and figures", "stations.csv", "lines.csv", "findings.csv"
)
@click.option(
    "--dxf",
    type=FrontFile,
    help="Write lines and area outlines there as a drawing, one layer a line (needs [cad]).",
)
@click.option(
    "--figures",
    type=click.Choice(["few", "all"]),
    default="few",
    show_default=True,
    help="With --out: one figure of a kind as PNG; or every station and kind, as SVG and PNG.",
)
@file_options
@reading_options
def screen(
    file: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    draws: int,
    seed: int,
    hand_tools: bool,
    stations: bool,
    findings: bool,
    everything: bool,
    lines_only: bool,
    json_path: Path | None,
    dxf: Path | None,
    out: Path | None,
    figures: Figures,
    **options: Any,
) -> None:
    """Say what stands out on the front in FILE, who meets what, and what to do next.

    FILE is an offset table (.csv, .xlsx, .ods, .xls), a drawing (.dxf), a mesh (.stl, .obj, .ply,
    .glb), a model (.step, .iges), or a front file (.toml), which names one of these and says what
    it does not: frontcheck describe writes a first one.
    Exit code 0: done. 1: done, but some line could not be formed. 2: unusable input or
    arguments.

    \b
    Examples:
      frontcheck screen geometries/plover.csv
      frontcheck screen geometries/plover.csv --stations
      frontcheck screen geometries/plover.csv --findings
      frontcheck screen geometries/plover.csv --motion
      frontcheck screen geometries/plover.csv --rules EU-631-2009 --wad 1000,1500,2100
      frontcheck screen geometries/plover.stl --unit mm --pitch 20 --lines-only
      frontcheck screen geometries/plover.csv --json - | python -m json.tool
      frontcheck screen geometries/plover.csv --draws 2000 --out reports/plover
    """
    show = _shown(
        lines_only=lines_only, stations=stations, findings=findings, everything=everything
    )
    how = asked(options)
    if how is not None and lines_only:
        raise click.UsageError("--motion tells of people: it does not go with --lines-only")
    options["zone_options"] = guarded(lambda: _zone_options(options))
    options["finding_settings"] = guarded(lambda: _finding_settings(options))
    written = ""
    with progress("screening") as step:
        result, corrections = guarded(lambda: screened(file, rules_id, wad, tape_start, options))
        sure = None
        if draws:
            settings = settings_for(result.front, hand_tools=hand_tools)
            sure = guarded(lambda: _drawn(result, settings, draws, seed))
            result = guarded(lambda: _with_cases(result, settings, draws, seed))
        beside = {"lines_only": lines_only, "tolerance": sure, "corrections": corrections}
        if how is not None:
            result = guarded(lambda: with_struck(result, None, how, step, seed))
        if out is not None:
            written = guarded(lambda: _write_out(result, out, figures, beside, step))
    if dxf is not None:
        guarded(lambda: _write_dxf(result, dxf))
    finish(
        json_path,
        lambda: _document(result, beside),
        lambda style: style.screening(
            result, written, show=show, below=_below(style, sure, corrections)
        ),
    )
    sys.exit(DONE if result.complete else INCOMPLETE)


def _shown(*, lines_only: bool, stations: bool, findings: bool, everything: bool) -> Shown:
    """What is printed."""
    if lines_only:
        return "lines"
    if everything or (stations and findings):
        return "all"
    return "stations" if stations else "findings" if findings else "answer"


def _with_cases(result: Screening, settings: Uncertainty, draws: int, seed: int) -> Screening:
    """Where there are draws enough, let the answer say in how many assumed cases it holds."""
    from frontcheck.findings.assumed_cases import CASES, AssumedCases

    if draws < CASES:
        return result
    return replace(result, cases=AssumedCases.of(result, settings, seed))


def _drawn(result: Screening, settings: Uncertainty, draws: int, seed: int) -> Tolerance:
    from frontcheck.sure.intervals import tolerance

    return tolerance(
        result.front,
        result.rules,
        result.wad,
        settings,
        draws=draws,
        seed=seed,
        tape_start=result.tape_start,
    )


def _below(style: Style, sure: Tolerance | None, corrections: CorrectionReport | None) -> list[str]:
    """What stands below the table of lines."""
    if sure is None and corrections is None:
        return []
    from frontcheck.outputs.text.tolerance_text import corrections_text, intervals_text

    parts = []
    if sure is not None:
        parts += intervals_text(style, sure)
        # What a screening is not, and what to mind of its rules, is said at the end already.
        said = (sure.cautions[0], sure.rules.caution)
        parts += [style.paragraph(text) for text in sure.cautions if text not in said]
    if corrections is not None:
        parts += corrections_text(style, corrections, applied=True)
    return parts


def _zone_options(options: dict[str, Any]) -> ZoneOptions | None:
    beam, grid = options.pop("beam_ends"), options.pop("grid")
    if beam is None and grid is None:
        return None
    from frontcheck.errors import refuse
    from frontcheck.zones.front_zones import ZoneOptions

    try:
        return ZoneOptions(beam_ends_mm=beam, **({} if grid is None else {"grid_mm": grid}))
    except ValueError as error:
        raise refuse("option.beam_ends", ends=beam, grid=grid, wanted=str(error)) from error


def _finding_settings(options: dict[str, Any]) -> FindingSettings | None:
    hard_points, statures = options.pop("hard_points"), options.pop("statures")
    shoe = options.pop("shoe")
    if hard_points is None and not statures and shoe is None:
        return None
    from frontcheck.findings.finding_settings import FindingSettings
    from frontcheck.people.people import PEOPLE, person_of_stature
    from frontcheck.reading.hard_point_file import read_hard_points

    read = () if hard_points is None else (read_hard_points(hard_points),)
    people = (*PEOPLE, *(person_of_stature(stature) for stature in statures))
    return FindingSettings(
        people=people if shoe is None else tuple(person.in_shoes(shoe) for person in people),
        hard_points=tuple(point for file in read for point in file.points),
        read_from=read,
    )


def _write_out(
    result: Screening, out: Path, figures: Figures, beside: dict[str, Any], step: Step
) -> str:
    """Write the folder; return what it holds, in a line."""
    from frontcheck.outputs.documents.folder import write_folder
    from frontcheck.outputs.documents.result_files import screening_files

    files = screening_files(result, figures=figures, step=step, **beside)
    write_folder(out, files)
    pictures = [name for name in files if name.endswith((".png", ".svg"))]
    tables = ", ".join(sorted(files.keys() - set(pictures)))
    more = "" if figures == "all" else "; --figures all draws every station"
    return f"{escaped(out)}: {tables} and {len(pictures)} figures{more}"


def _document(result: Screening, beside: dict[str, Any]) -> dict[str, Any]:
    from frontcheck.outputs.documents.exports import screening_document

    return screening_document(result, **beside)


def _write_dxf(result: Screening, path: Path) -> None:
    from frontcheck.caution import CAUTION
    from frontcheck.files import check_own, write_file
    from frontcheck.outputs.documents.exports_dxf import dxf_bytes

    check_own(path, CAUTION)
    write_file(path, dxf_bytes(result.zones))

"""The commands of shape studies: ``sweep`` and ``solve``."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from frontcheck.caution import CAUTION
from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    UNUSABLE,
    guarded,
    strict_option,
    warn,
    write_json,
)
from frontcheck.cli.progress import progress
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager

    from frontcheck.study.blocks import Crew
    from frontcheck.study.study import Study
    from frontcheck.study.sweep import SweepRun

_PARQUET: Final = "results.parquet"


def _list_parameters(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    del param
    if not value or ctx.resilient_parsing:
        return
    from frontcheck.study.moves import HANDLES
    from frontcheck.study.nose_dimensions import DIMENSIONS

    click.echo("Dimensions of a parametric nose: default (range)")
    for d in DIMENSIONS:
        click.echo(f"  {d.name:<26} {d.default:>7g} {d.unit}  ({d.low:g} to {d.high:g})")
    click.echo("Handles of a measured front: what a positive amount does (range)")
    for h in HANDLES:
        click.echo(f"  {h.name:<26} {h.meaning} ({-h.reach:g} to {h.reach:g} {h.unit})")
    click.echo(CAUTION)
    ctx.exit()


@click.command()
@click.argument("study_file", metavar="STUDY.toml", type=click.Path(path_type=Path))
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for table, summary and pictures; an interrupted sweep goes on there.",
)
@click.option(
    "--workers",
    type=click.IntRange(0),
    default=0,
    show_default=True,
    help="Processes on this machine; 0: one a processor, 1: this one alone.",
)
@click.option("--threads", is_flag=True, help="Threads in place of processes.")
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler, such as tcp://10.0.0.5:8786.")
@click.option("--parquet", is_flag=True, help="Write results.parquet too (needs pyarrow).")
@click.option("--no-pictures", is_flag=True, help="Table and summary only.")
@click.option(
    "--parameters",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_list_parameters,
    help="List everything that [nose] and [vary] may name, with its range, and end.",
)
@strict_option
def sweep(
    study_file: Path,
    out: Path,
    workers: int,
    threads: bool,
    cluster: str | None,
    parquet: bool,
    no_pictures: bool,
    strict: bool,
) -> None:
    """Make every variant of a study, form its lines, and draw what came out.

    Leaves in the folder: results.csv (one row a variant), summary.json, sweep.json (what the
    results were made from) and pictures. A sweep that was stopped goes on with the same
    command; variants that are done are neither lost nor made again.

    Exit code 0: done. 1: done, but some variant cannot be made or lacks a line. 2: unusable
    input or arguments. 130: stopped.

    \b
    Examples:
      frontcheck sweep geometries/nose-study.toml --out reports/nose-study
      frontcheck sweep geometries/nose-study.toml --out reports/nose-study --workers 1
      frontcheck sweep geometries/nose-study.toml --out out --cluster tcp://127.0.0.1:8786
    """
    guarded(lambda: _check(out, parquet))
    study = guarded(lambda: _study(study_file, strict=strict))
    saved = 0

    def kept(done: int) -> None:
        nonlocal saved
        saved = done

    try:
        run = guarded(lambda: _run(study, out, workers, threads, cluster, kept))
        complete = guarded(lambda: _report(study, out, run, parquet, no_pictures))
    except KeyboardInterrupt as stop:
        if saved:  # a part may have been written since that was told
            from frontcheck.files import place_of
            from frontcheck.study.blocks import Parts

            done = Parts(place_of(out), study).done()
            saved = max(saved, sum(after - first for first, after in done))
        stop.add_note(
            f"{saved} of {study.count} variants are saved in {out}; the same command goes on"
        )
        raise
    sys.exit(DONE if complete else INCOMPLETE)


@click.command()
@click.argument("study_file", metavar="STUDY.toml", type=click.Path(path_type=Path))
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    help="Write the solution there; - for standard output, in place of the text.",
)
@click.option(
    "--boxes",
    type=click.IntRange(1),
    default=20_000,
    show_default=True,
    help="How many boxes a proof may look at.",
)
@strict_option
def solve(study_file: Path, json_path: Path | None, boxes: int, strict: bool) -> None:
    """Find the least change that brings the lines of a study inside its [[limits]].

    The least change is the one that moves the skin least; it is verified by a fresh screening.
    Where bounds prove that nothing within the ranges keeps the limits, that is said, and
    how it was shown; where the search merely finds nothing, that is said instead.

    Exit code 0: found, or the base keeps the limits already. 1: none exists, or none was
    found. 2: unusable input or arguments.

    \b
    Examples:
      frontcheck solve geometries/nose-study.toml
      frontcheck solve geometries/nose-study.toml --json - | python -m json.tool
    """
    from frontcheck.study.solve import solve as find

    study = guarded(lambda: _study(study_file, strict=strict))
    solution = guarded(lambda: find(study, boxes))
    document = solution.to_dict()
    if json_path is not None:
        path = json_path
        guarded(lambda: write_json(document, path))
    if str(json_path) != "-":
        click.echo(_solution_text(document), nl=False)
    sys.exit(DONE if solution.status in ("found", "met") else INCOMPLETE)


def _check(out: Path, parquet: bool) -> None:
    """Refuse a folder before any work."""
    from frontcheck.outputs.documents.folder import ready
    from frontcheck.outputs.documents.result_files import SWEEP_FILES
    from frontcheck.study.blocks import RECORD

    ready(out, (*SWEEP_FILES, *([_PARQUET] * parquet)), RECORD)


def _study(path: Path, *, strict: bool) -> Study:
    from frontcheck.study.study_file import read_study

    study = read_study(path)
    measured = getattr(study.setup.shapes, "measured", None)
    if measured is not None:
        warn(measured, measured.source.file, strict=strict)
    return study


def _run(
    study: Study, out: Path, workers: int, threads: bool, cluster: str | None,
    kept: Callable[[int], None],
) -> SweepRun:  # fmt: skip
    from frontcheck.study.blocks import cluster_crew, local_crew
    from frontcheck.study.sweep import run_sweep

    if cluster and (workers or threads):
        click.echo("frontcheck: --cluster goes without --workers and --threads", err=True)
        sys.exit(UNUSABLE)
    crew: AbstractContextManager[Crew | None]
    if cluster:
        crew = cluster_crew(cluster)
    elif workers == 1:
        crew = nullcontext()
    else:
        crew = local_crew("threads" if threads else "processes", workers)
    heads = study.setup.heads
    with crew as hands, progress("variants") as step:
        if heads is not None:
            click.echo(heads.cost(len(study.sample), hands.workers if hands else 1), err=True)

        def tell(done: int, total: int) -> None:
            kept(done)
            step(f"variants {done}/{total}", done / max(total, 1))

        return run_sweep(study, out, hands, tell)


def _report(study: Study, out: Path, run: SweepRun, parquet: bool, no_pictures: bool) -> bool:
    """Write summary and pictures, and say what came out; whether every line was formed."""
    from frontcheck.outputs.documents.folder import write_beside
    from frontcheck.outputs.documents.result_files import sweep_files
    from frontcheck.study.blocks import OWN, RECORD
    from frontcheck.study.sweep_results import parquet_aside, read_results, summary

    results = read_results(study, out)
    document = summary(results)
    files, missing = sweep_files(results, pictures=not no_pictures)
    aside = parquet_aside(out) if parquet else None
    try:
        write_beside(out, files | ({_PARQUET: aside} if aside else {}), RECORD, OWN)
    finally:
        if aside is not None:
            aside.unlink(missing_ok=True)
    click.echo(_summary_text(document, run, out, missing), nl=False)
    return bool(document["variants"]["ok"] == document["variants"]["made"])


def _summary_text(
    document: dict[str, Any], run: SweepRun, out: Path, missing: tuple[str, ...]
) -> str:
    counts = document["variants"]
    ended = f" or with one not known ({counts['open_end']}: open end)" if counts["open_end"] else ""
    head = (
        f"{document['study']}: {counts['made']} variants, {counts['ok']} with every line, "
        f"{counts['incomplete']} lacking a line{ended}, {counts['infeasible']} that cannot be made."
    )
    lines = [head]
    lines += [f"  {n} x {reason}" for reason, n in document["infeasible_because"].items()]
    if document["limits"]:
        lines.append(f"{document['within_all_limits']} of the sample keep all limits:")
        lines += [
            f"  {each['kept']:>7} keep {each['limit']}"
            + (f"; {each['open_end']} not known: open end" if each["open_end"] else "")
            for each in document["limits"]
        ]
    for each in document["sensitivities"]:
        if each["status"] != "ok":
            lines.append(f"Sobol indices of {each['name']}: {each['reason']}.")
            continue
        order = sorted(each["total"].items(), key=lambda item: -item[1])[:3]
        shares = ", ".join(f"{name} {value:.2f}" for name, value in order)
        lines.append(f"{each['name']}: standard deviation {each['sd_mm']:.1f} mm; total indices: "
                     f"{shares}")  # fmt: skip
    lines += _head_lines(document)
    lines += [f"Not drawn: {text}." for text in missing]
    if run.made:
        rate = run.made / run.seconds
        speed = f"{rate:.0f}" if rate >= 10.0 else f"{rate:.1f}"
        lines.append(
            f"{run.made} variants made now in {run.seconds:.1f} s ({speed} a "
            f"second, {run.workers} at work; handing out takes {100.0 * run.overhead:.1f} %)."
        )
    else:
        lines.append("All were there already; nothing was made anew.")
    lines += [*document["cautions"][1:], f"Written: {escaped(out)}", document["cautions"][0]]
    return _spelt_out(lines)


def _head_lines(document: dict[str, Any]) -> Iterator[str]:
    asked = document["motion"]
    if asked is None:
        return
    yield (
        f"Heads at {asked['speed_km_h']:g} km/h, y = {asked['station_mm']:g} mm: wrap-around "
        f"distance, median (5 to 95 %) of {asked['draws']} assumed cases, the same for every "
        "variant; which of two variants is ahead is not said. Assumed: `frontcheck explain "
        "motion-model`."
    )
    for each in document["heads"]:
        ends = [
            f"{end['wad_mm']['median']:.0f} mm ({end['wad_mm']['p5']:.0f} to "
            f"{end['wad_mm']['p95']:.0f}) on variant {end['variant']}"
            for end in (each["nearest"], each["farthest"])
            if end is not None
        ]
        lacking = [f"not given for {each['not_given']}"] if each["not_given"] else []
        yield f"  {each['person']}: {'; '.join([' up to '.join(ends)] * bool(ends) + lacking)}"
        yield from (f"    {count} x {reason}" for reason, count in each["because"].items())


def _solution_text(document: dict[str, Any]) -> str:
    lines = [f"{document['study']}: {document['reason']}"]
    if document["status"] == "found":
        lines.append("Parameters:")
        for each in document["parameters"]:
            lines.append(
                f"  {each['name']:<26} {each['base']:>10.3f} -> {each['solution']:>10.3f} "
                f"{each['unit']}   (range {each['low']:g} to {each['high']:g})"
            )
    lines.append("Lines:")
    for each in document["lines"]:
        before, after = (
            "missing"
            if each[f"{end}_mm"] is None
            else f"{each[f'{end}_mm']:.3f}" + " (open end)" * each[f"{end}_open_end"]
            for end in ("before", "after")
        )
        bounds = [f"at least {each['at_least_mm']:g}"] if each["at_least_mm"] is not None else []
        bounds += [f"at most {each['at_most_mm']:g}"] if each["at_most_mm"] is not None else []
        chance = ""
        if each["probability"] is not None:
            chance = f"; probability {each['probability']:.3f}, asked {each['probability_asked']:g}"
        way = f"{before} -> {after}" if document["status"] == "found" else before
        lines.append(
            f"  {each['line']:<16} y = {each['station_mm']:g}: {way} mm   "
            f"({' and '.join(bounds)}{chance})"
        )
    lines.append(document["cautions"][0])
    return _spelt_out(lines)


def _spelt_out(lines: list[str]) -> str:
    """Lines as one text, below the first of them the words of its abbreviations."""
    from frontcheck.findings.abbreviations import legend

    words = legend("\n".join(lines))
    return "".join(f"{line}\n" for line in [lines[0], *([words] if words else []), *lines[1:]])

"""What the commands share: exit codes, options, guarded steps, printing."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from frontcheck.errors import escaped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Executor

    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront, TapeStart
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport

T = TypeVar("T")
F = TypeVar("F", bound="Callable[..., Any]")

DONE: Final = 0
INCOMPLETE: Final = 1
UNUSABLE: Final = 2

JSON_MARK: Final = '"schema": "frontcheck.'
"""What every document of ours has near its start."""

FrontFile: Final = click.Path(path_type=Path)
Unit: Final = click.Choice(["mm", "cm", "m", "in"])
Axis: Final = click.Choice(["+x", "-x", "+y", "-y", "+z", "-z"])


class Lengths(click.ParamType):  # type: ignore[type-arg]
    """A list of lengths such as ``1000,1500``."""

    name = "LIST"

    def __init__(
        self, example: str = "1000,1500", *, signed: bool = False, count: int | None = None
    ) -> None:
        self.example = example
        self.signed = signed
        self.count = count

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, ...]:
        """Turn the text into numbers."""
        if isinstance(value, tuple):
            return value
        try:
            lengths = tuple(float(item) for item in str(value).split(","))
        except ValueError:
            self.fail(
                f"{value!r} is not a list of lengths in mm such as {self.example}", param, ctx
            )
        least = float("-inf") if self.signed else 0.0
        if not all(least < length < float("inf") for length in lengths):
            what = "finite" if self.signed else "above 0 mm"
            self.fail(f"{value!r} holds a length that is not {what}", param, ctx)
        if self.count is not None and len(lengths) != self.count:
            self.fail(f"{value!r} is not {self.count} lengths such as {self.example}", param, ctx)
        return lengths


def shoe_option(command: F) -> F:
    """Add what lifts people off the ground."""
    return click.option(
        "--shoe",
        type=float,
        metavar="MM",
        help="Sole under every foot; 0 for bare feet.  [default: 25]",
    )(command)


def line_options(command: F) -> F:
    """Add the options that every command with lines has: rule set, distances, tape start."""
    for option in (
        click.option(
            "--tape-start",
            type=click.Choice(["section", "vehicle"]),
            default="section",
            show_default=True,
            help="Hang the tape below the foremost point of each section, or of the vehicle.",
        ),
        click.option(
            "--wad",
            type=Lengths(),
            help="Wrap-around distances [mm], such as 1000,1500,1700,2100.",
        ),
        click.option("--rules", "rules_id", metavar="ID", help="Rule set; see: frontcheck rules."),
    ):
        command = option(command)
    return command


def out_option(help_text: str, names: Sequence[str] = (), **rest: Any) -> Callable[[F], F]:
    """Add the folder of results, refused before any work where it or a name in it is not ours."""

    def checked(_: click.Context, __: click.Parameter, folder: Path | None) -> Path | None:
        from frontcheck.outputs.documents.folder import ready

        if folder is not None:
            guarded(lambda: ready(folder, names))
        return folder

    kind = click.Path(path_type=Path, file_okay=False)
    return click.option("--out", type=kind, callback=checked, help=help_text, **rest)


def output_options(document: str, contents: str, *tables: str) -> Callable[[F], F]:
    """Add the options of a command that has a document and a folder of files."""

    def add(command: F) -> F:
        for option in (
            out_option(
                f"Write {contents} into this folder, new or made by frontcheck.",
                (f"{document}.json", *tables),
            ),
            click.option(
                "--json",
                "json_path",
                type=click.Path(path_type=Path, allow_dash=True),
                help=f"Write the {document} document there; - for standard output, in place of "
                "the tables.",
            ),
        ):
            command = option(command)
        return command

    return add


strict_option: Final = click.option(
    "--strict",
    is_flag=True,
    default=False,
    help="Stop, with exit code 2, where something in FILE looks like a slip of typing.",
)


def file_options(command: F) -> F:
    """Add what every command may do to a front that it reads: `--correct` and `--strict`."""
    correct = click.option(
        "--correct",
        is_flag=True,
        default=False,
        help="Take out what FILE states of square tilt, ground slope and arch heights.",
    )
    return correct(strict_option(command))


def reading_options(command: F) -> F:
    """Add what drawings and meshes do not state; a front file says it for every command."""
    for option in (
        click.option(
            "--half",
            "symmetric",
            is_flag=True,
            default=None,
            help="Drawings and meshes: one half stands for both sides.",
        ),
        click.option(
            "--gap", type=float, help="Drawings and meshes: widest gap that is bridged [mm]."
        ),
        click.option(
            "--exclude",
            multiple=True,
            metavar="NAME",
            help="Leave objects, products or layers of this name out; * stands for any text.",
        ),
        click.option(
            "--include",
            multiple=True,
            metavar="NAME",
            help="OBJ and GLB meshes: take only objects of this name; may be given several times.",
        ),
        click.option("--sheet", metavar="NAME", help="Spreadsheets: the sheet with the table."),
        click.option("--pitch", type=float, help="Meshes: station spacing [mm]."),
        click.option(
            "--ground",
            type=float,
            help="Drawings and meshes: height of the ground, in file units along up.",
        ),
        click.option("--up", type=Axis, help="Drawings and meshes: file axis that points up."),
        click.option(
            "--forward", type=Axis, help="Drawings and meshes: file axis the vehicle faces."
        ),
        click.option(
            "--unit",
            type=Unit,
            help="Drawings and meshes: unit of the coordinates; never guessed.",
        ),
    ):
        command = option(command)
    return command


def read(file: Path, options: dict[str, Any]) -> Front:
    """Read a front with the options of `reading_options`, where a command has them."""
    from frontcheck.reading.readers import read_front

    names = ("unit", "forward", "up", "ground", "pitch", "gap", "include", "exclude", "symmetric")
    given = {
        name: options[name] for name in (*names, "sheet") if options.get(name) not in {None, ()}
    }
    front = read_front(file, **given)
    warn(front, file, strict=bool(options.get("strict")))
    return front


def warn(front: Front, file: Path | str, *, strict: bool) -> None:
    """Say on standard error what looks like a slip in a front; refuse it where that was asked."""
    from frontcheck.errors import refuse
    from frontcheck.front.plausible import NOT_FOUND, plausibility

    doubts = plausibility(front)
    if os.fspath(file).lower().endswith(".toml") and front.source.files:
        file = front.source.files[0].file  # rows are those of the shape
    for doubt in doubts:
        click.echo(f"frontcheck: warning: {escaped(file)}: {doubt.what}; {doubt.do}.", err=True)
    if doubts:
        click.echo(f"frontcheck: {NOT_FOUND}", err=True)
    sure = [doubt for doubt in doubts if not doubt.hint]
    if strict and sure:
        raise refuse("front.strict", os.fspath(file), sure[0].rows[0], what=sure[0].what)


def corrected_if_asked(
    front: Front, rules: RuleSet, options: dict[str, Any]
) -> tuple[Front, CorrectionReport | None]:
    """Take the known errors out of a front when ``--correct`` was given."""
    if not options.get("correct"):
        return front, None
    from frontcheck.sure.corrections import corrected

    return corrected(front, rules)


def screened(
    file: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    options: dict[str, Any],
) -> tuple[Screening, CorrectionReport | None]:
    """Read and screen a front."""
    from frontcheck.rules.ruleset import DEFAULT_RULES, rule_set
    from frontcheck.screening import screen

    chosen = rule_set(rules_id or DEFAULT_RULES)
    start: TapeStart = "vehicle" if tape_start == "vehicle" else "section"
    front, corrections = corrected_if_asked(read(file, options), chosen, options)
    screening = screen(
        front,
        chosen,
        wad,
        tape_start=start,
        windscreen_from=options.get("windscreen_from"),
        zone_options=options.get("zone_options"),
        finding_settings=options.get("finding_settings"),
    )
    return screening, corrections


def lined(
    file: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    options: dict[str, Any],
) -> LinedFront:
    """Read a front and form its lines, and no more."""
    from frontcheck.lines.lined_front import line_up
    from frontcheck.rules.ruleset import DEFAULT_RULES, rule_set

    rules = rule_set(rules_id or DEFAULT_RULES)
    front, _ = corrected_if_asked(read(file, options), rules, options)
    start: TapeStart = "vehicle" if tape_start == "vehicle" else "section"
    return line_up(
        front, rules, wad, tape_start=start, windscreen_from=options.get("windscreen_from")
    )


@contextmanager
def crew_for(tasks: int, workers: int | None) -> Iterator[Executor | None]:
    """Open processes for tasks, as many as there are processors; none where one does it all."""
    count = min(workers or os.cpu_count() or 1, tasks)
    if count < 2:
        yield None
        return
    from concurrent.futures import BrokenExecutor

    from frontcheck.errors import NotAvailableError
    from frontcheck.study.blocks import local_crew

    try:
        with local_crew("processes", count) as crew:
            yield crew.executor
    except BrokenExecutor:
        raise NotAvailableError(
            "a process that worked for this one was ended from outside, perhaps for want of memory"
            "; expected it to finish; make room and run the command again"
        ) from None


def write_json(document: dict[str, Any], path: Path) -> None:
    """Write a document as JSON, or print it where the path is ``-``."""
    from frontcheck.files import check_own, write_file
    from frontcheck.outputs.documents.exports import json_bytes

    data = json_bytes(document)
    if str(path) == "-":
        sys.stdout.buffer.write(data)
    else:
        check_own(path, JSON_MARK)
        write_file(path, data)


def finish(
    json_path: Path | None, document: Callable[[], dict[str, Any]], text: Callable[[Style], str]
) -> None:
    """Write the document where asked, and print the text unless the document is printed."""
    if json_path is not None:
        guarded(lambda: write_json(document(), json_path))
    if json_path is None or str(json_path) != "-":
        show(text)


def show(text: Callable[[Style], str]) -> None:
    """Print a text: with colour and ruled tables on a terminal, plain when piped."""
    from frontcheck.outputs.text.terminal import style_for

    click.echo(text(style_for(sys.stdout)), nl=False)


def guarded(work: Callable[[], T]) -> T:
    """Run a step; an expected error becomes one plain line and exit code 2."""
    from frontcheck.errors import FrontcheckError

    try:
        return work()
    except FrontcheckError as error:
        click.echo(f"frontcheck: {error}", err=True)
        sys.exit(UNUSABLE)

"""The command line. The only place that prints; everything heavy is imported where used."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.screening import Screening
    from frontcheck.terminal import Style

__all__ = ["main"]

T = TypeVar("T")

DONE, INCOMPLETE, UNUSABLE = 0, 1, 2

_SETTINGS = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


class _Lengths(click.ParamType):  # type: ignore[type-arg]
    """A list of lengths such as 1000,1500."""

    name = "LIST"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, ...]:
        """Turn the text into numbers."""
        if isinstance(value, tuple):
            return value
        try:
            lengths = tuple(float(item) for item in str(value).split(","))
        except ValueError:
            self.fail(f"{value!r} is not a list of lengths in mm such as 1000,1500", param, ctx)
        if not all(0.0 < length < float("inf") for length in lengths):
            self.fail(f"{value!r} holds a length that is not above 0 mm", param, ctx)
        return lengths


@click.group(context_settings=_SETTINGS)
@click.version_option(package_name="frontcheck")
def main() -> None:
    r"""Screen the shape of a vehicle front against published pedestrian-protection definitions.

    A screening of geometry: not a test, not an approval, not a prediction of injury.

    \b
    Example:
      frontcheck screen geometries/plover.csv --out reports/plover
    """


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--rules", "rules_id", metavar="ID", help="Rule set; see: frontcheck rules.")
@click.option(
    "--wad", type=_Lengths(), help="Wrap-around distances [mm], such as 1000,1500,1700,2100."
)
@click.option(
    "--tape-start",
    type=click.Choice(["section", "vehicle"]),
    default="section",
    show_default=True,
    help="Hang the tape below the foremost point of each section, or of the whole vehicle.",
)
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    help="Write the screening document there; - for standard output, in place of the table.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write document, table and figures into this folder.",
)
def screen(
    file: Path,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    json_path: Path | None,
    out: Path | None,
) -> None:
    r"""Form the reference lines of every section in FILE and say what could not be formed.

    Exit code 0: done. 1: done, but some line could not be formed. 2: unusable input or
    arguments.

    \b
    Examples:
      frontcheck screen geometries/plover.csv
      frontcheck screen geometries/plover.csv --rules EU-631-2009 --wad 1000,1500,2100
      frontcheck screen geometries/plover.csv --json - | python -m json.tool
      frontcheck screen geometries/plover.csv --out reports/plover
    """
    result = _guarded(lambda: _screening(file, rules_id, wad, tape_start))
    if out is not None:
        _guarded(lambda: _write_out(result, out))
    if json_path is not None:
        _guarded(lambda: _write_json(result, json_path))
    if json_path is None or str(json_path) != "-":
        _show(lambda style: style.screening(result, out))
    sys.exit(DONE if result.complete else INCOMPLETE)


@main.command()
@click.argument("rules_id", metavar="[ID]", required=False)
def rules(rules_id: str | None) -> None:
    r"""List the rule sets, or every constant of one with its source and how sure it is.

    \b
    Examples:
      frontcheck rules
      frontcheck rules UN-R127-02
    """
    from frontcheck.rules import rule_set, rule_set_ids

    if rules_id is None:
        _show(lambda style: style.rule_sets([rule_set(each) for each in rule_set_ids()]))
    else:
        chosen = _guarded(lambda: rule_set(rules_id))
        _show(lambda style: style.rule_set(chosen))


def _show(text: Callable[[Style], str]) -> None:
    """Print a text: with colour and ruled tables on a terminal, plain when piped."""
    from frontcheck.terminal import style_for

    click.echo(text(style_for(sys.stdout)), nl=False)


def _screening(
    file: Path, rules_id: str | None, wad: tuple[float, ...] | None, tape_start: str
) -> Screening:
    from frontcheck.readers import read_front
    from frontcheck.rules import DEFAULT_RULES, rule_set
    from frontcheck.screening import screen as screen_front

    chosen = rule_set(rules_id or DEFAULT_RULES)
    return screen_front(
        read_front(file),
        chosen,
        wad,
        tape_start="vehicle" if tape_start == "vehicle" else "section",
    )


def _write_json(result: Screening, path: Path) -> None:
    from frontcheck.report.exports import json_bytes
    from frontcheck.report.folder import write_file

    data = json_bytes(result.to_dict())
    if str(path) == "-":
        sys.stdout.buffer.write(data)
    else:
        write_file(path, data)


def _write_out(result: Screening, out: Path) -> None:
    from frontcheck.report.bundle import screening_files
    from frontcheck.report.folder import write_folder

    write_folder(out, screening_files(result))


def _guarded(work: Callable[[], T]) -> T:
    """Run a step; an expected error becomes one plain line and exit code 2."""
    from frontcheck.errors import FrontcheckError

    try:
        return work()
    except FrontcheckError as error:
        click.echo(f"frontcheck: {error}", err=True)
        sys.exit(UNUSABLE)

"""The command line: one group, whose commands are loaded when they are asked for."""

from __future__ import annotations

import gc
import sys
from importlib import import_module
from types import MappingProxyType
from typing import Any, Final

import click

from frontcheck.caution import CAUTION_SHORT
from frontcheck.cli.ending import ended_well, stoppable

# Name of a command -> module below frontcheck.cli that holds it under the same name.
_HOMES: Final = MappingProxyType(
    {
        "worksheet": "worksheet",
        "describe": "describe",
        "parts": "parts",
        "scan": "scan",
        "screen": "screen",
        "bench": "bench",
        "motion": "motion",
        "leg": "leg",
        "tolerance": "tolerance",
        "compare": "compare",
        "what-if": "what_if",
        "annex": "annex",
        "sweep": "study",
        "solve": "study",
        "explain": "lists",
        "handbook": "lists",
        "rules": "lists",
        "checks": "checks",
    }
)


class _Commands(click.Group):
    """A group that imports a command's module only when the command is named."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names, in the order in which one would use them."""
        del ctx
        return list(_HOMES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command by name."""
        del ctx
        if cmd_name not in _HOMES:
            return None
        module = import_module(f"frontcheck.cli.{_HOMES[cmd_name]}")
        command: click.Command = getattr(module, cmd_name.replace("-", "_"))
        command.epilog = CAUTION_SHORT
        return command

    def main(self, *args: Any, **settings: Any) -> Any:
        """Read the arguments and run, however it ends."""
        with stoppable(), ended_well(debug="--debug" in sys.argv):
            return super().main(*args, **settings)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was named; here, since above a stop is an abort."""
        with ended_well(debug=ctx.params["debug"]):
            return super().invoke(ctx)


_WAYS_IN: Final = """\
Screen the shape of a vehicle front. Three ways in:
  frontcheck bench         a page to try shapes on (needs: pip install '.[bench]')
  frontcheck worksheet -h  a sheet to print and a table to fill in, for a square and a tape
  frontcheck screen FILE   what stands out on a table, drawing, model, mesh or front file
frontcheck --help lists every command."""


@click.command(
    cls=_Commands,
    invoke_without_command=True,
    epilog=CAUTION_SHORT,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="frontcheck")
@click.option("--debug", is_flag=True, help="Show where a fault of frontcheck itself arose.")
@click.pass_context
def main(ctx: click.Context, debug: bool) -> None:
    """Screen the shape of a vehicle front against published pedestrian-protection definitions.

    \b
    Example:
      frontcheck screen geometries/plover.csv --out reports/plover
    """
    del debug  # see `_Commands.invoke`
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # what a terminal cannot show is shown by its number
            stream.reconfigure(errors="backslashreplace")
    # A command makes many small things and is soon over: looking for garbage is a twentieth of it.
    gc.set_threshold(50_000)
    if ctx.invoked_subcommand is None:
        click.echo(f"{_WAYS_IN}\n{CAUTION_SHORT}")

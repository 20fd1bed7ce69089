"""The command ``bench``: a page to try shapes on, served to this machine alone."""

from __future__ import annotations

import sys
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from frontcheck.cli.common import DONE, FrontFile, guarded, read, reading_options, strict_option
from frontcheck.cli.ending import fault_said

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("file", type=FrontFile, required=False)
@click.argument("file_b", type=FrontFile, required=False)
@click.option(
    "--close-after",
    type=click.IntRange(min=1),
    default=300,
    show_default=True,
    metavar="S",
    help="Stop when the page has been closed for so many seconds.",
)
@strict_option
@reading_options
def bench(file: Path | None, file_b: Path | None, close_after: int, **options: Any) -> None:
    """Serve a page to try shapes on: drag the nose of FILE, see lines and answer move.

    FILE_B is laid over it. Without a file the page begins with an invented nose; files can be
    loaded on the page too. Served to this machine alone, at an address that holds for this run.
    What is dragged is a drawing, not advice to alter a vehicle. Needs: pip install
    'frontcheck[bench]'. Stop it with Ctrl-C.

    \b
    Examples:
      frontcheck bench
      frontcheck bench geometries/plover.csv geometries/avocet.csv
    """
    debug = click.get_current_context().find_root().params["debug"]

    def work() -> None:
        fronts = [read(each, options) for each in (file, file_b) if each is not None]
        try:
            from frontcheck.bench.server import serve
        except ModuleNotFoundError as error:
            if (error.name or "").partition(".")[0] not in ("bokeh", "tornado"):
                raise
            from frontcheck.errors import NotAvailableError

            raise NotAvailableError(
                "the page needs the package bokeh, which is not installed; "
                "install it with: pip install 'frontcheck[bench]'"
            ) from error
        serve(fronts, close_after, _said, partial(fault_said, debug=debug))

    guarded(work)
    sys.exit(DONE)


def _said(address: str) -> None:
    from frontcheck.caution import CAUTION, DRAWING

    click.echo(
        "Open this address in a browser on this machine; it opens once, in one browser. Ctrl-C "
        f"stops the page.\n{address}"
    )
    click.echo(f"\n{DRAWING} {CAUTION}")

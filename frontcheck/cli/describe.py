"""The command ``describe``: a shape in, its first front file out."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from frontcheck.caution import CAUTION
from frontcheck.cli.common import DONE, INCOMPLETE, FrontFile, guarded
from frontcheck.errors import escaped


@click.command()
@click.argument("file", type=FrontFile)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write it there, beside FILE or in a folder above; a file that is there is never "
    "overwritten.  [default: standard output]",
)
def describe(file: Path, out: Path | None) -> None:
    """Write a first front file (TOML) for the shape in FILE, after looking at it.

    It says unit, axes, ground, stations and names of parts: as found, or guessed and marked
    GUESSED, with a comment on every key. Check the guesses; every command and read_front then take
    the front file in place of FILE. Exit code 0: done. 1: done, but FILE cannot be read so yet; the
    comments say why. 2: unusable input or arguments, or a front file that is there already.

    \b
    Examples:
      frontcheck describe geometries/plover.stl
      frontcheck describe geometries/plover.stl --out geometries/plover-stl.toml
    """

    def work() -> str:
        from frontcheck.errors import refuse
        from frontcheck.files import write_file
        from frontcheck.reading.describe_file import describe as front_file_of

        if out is not None and (out.exists() or out.is_symlink()):
            raise refuse("describe.there", str(out))
        text = front_file_of(file, out)
        if out is not None:
            write_file(out, text.encode())
        return text

    text = guarded(work)
    from frontcheck.reading.front_file import GUESSED

    readable = "\n# Readable as it stands" in text
    if out is None:
        click.echo(text, nl=False)
    else:
        guesses = text.count(f" {GUESSED}")
        click.echo(f"Written: {escaped(out)}; {guesses} guessed: look for GUESSED and check.")
        click.echo(
            next(line[2:] for line in text.splitlines() if line.startswith(("# Readable", "# NOT")))
        )
        click.echo(CAUTION)
    sys.exit(DONE if readable else INCOMPLETE)

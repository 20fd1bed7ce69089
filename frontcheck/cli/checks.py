"""The command ``checks``: what the calculation was checked against."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from frontcheck.cli.common import DONE, INCOMPLETE, guarded, out_option, show
from frontcheck.errors import escaped


@click.command()
@click.argument("records", type=click.Path(path_type=Path, file_okay=False), required=False)
@out_option(
    "Folder to write checks.html and checks.pdf into, new or made by frontcheck.",
    ("checks.html", "checks.pdf"),
)
def checks(records: Path | None, out: Path | None) -> None:
    """Say what the calculation was checked against, how far off it was, and what was not checked.

    Shown are the records that come with this version, or those of RECORDS: the folder that
    FRONTCHECK_CHECKS named in a run of the tests. Exit code 0: all checks hold. 1: some fail or
    were not run. 2: unusable input or arguments.

    \b
    Examples:
      frontcheck checks
      frontcheck checks --out checks
    """
    from frontcheck.outputs.documents.folder import write_folder
    from frontcheck.outputs.pages.check_page import checks_text, page_files, taken

    document = guarded(lambda: taken(records))
    if out is not None:
        guarded(lambda: write_folder(out, page_files(document)))
    show(lambda style: checks_text(style, document))
    if out is not None:
        click.echo(f"Written: {escaped(out)}")
    sys.exit(DONE if document.good else INCOMPLETE)

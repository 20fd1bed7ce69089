"""The command ``worksheet``: a measuring sheet to print, and its table to fill in."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from frontcheck.caution import CAUTION
from frontcheck.cli.common import DONE, guarded
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from frontcheck.reading.form import Worksheet


@click.command()
@click.option(
    "--stations",
    required=True,
    metavar="LIST",
    help="Distances from the centre plane, to the vehicle's right positive, such as 0,150,300.",
)
@click.option(
    "--heights",
    required=True,
    metavar="START:STOP:STEP",
    help="Heights to set the square to, such as 100:1000:50; lists may be joined by commas.",
)
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for worksheet.pdf, .csv and .xlsx; a sheet in use is never overwritten.",
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True,
    help="Paper size.",
)  # fmt: skip
@click.option("--name", default="", metavar="TEXT", help="Name of the vehicle.")
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "in"]),
    default="mm",
    show_default=True,
    help="Unit of stations, heights and of what will be written.",
)
@click.option(
    "--symmetric/--not-symmetric",
    default=None,
    help="One half stands for both; by default when all stations lie on one side.",
)
def worksheet(
    stations: str,
    heights: str,
    out: Path,
    paper: str,
    name: str,
    unit: str,
    symmetric: bool | None,
) -> None:
    """Make a measuring sheet: worksheet.pdf to print, worksheet.csv or .xlsx to fill in.

    The PDF shows how to set square, string line and tape. The filled CSV, or the filled
    spreadsheet, goes into frontcheck screen as it is; rows that were not measured are
    left out there.

    Exit code 0: done. 2: unusable arguments, or a sheet in the folder that may be in use.

    \b
    Examples:
      frontcheck worksheet --stations 0,150,300,450,600 --heights 100:1000:50 --out sheet
      frontcheck worksheet --stations=-300,0,300 --heights 100:600:25,650:1000:50 --out sheet
      frontcheck worksheet --stations 0,6,12 --heights 4:40:2 --unit in --paper letter --out sheet
    """
    sheet = guarded(lambda: _sheet(stations, heights, unit, name, symmetric))
    pages = guarded(lambda: _write(sheet, out, paper))
    rows = len(sheet.rows)
    click.echo(
        f"{len(sheet.stations)} stations of {rows} rows, {pages} pages; datum common, "
        f"{'one half for both sides' if sheet.symmetric else 'not mirrored'}."
    )
    click.echo(f"To print: {escaped(out / 'worksheet.pdf')}")
    either = "worksheet.csv or worksheet.xlsx"
    if not (out / "worksheet.xlsx").exists():
        either = "worksheet.csv (as a spreadsheet too: pip install 'frontcheck[sheets]')"
    click.echo(f"To fill in: {escaped(out / either)}; then: frontcheck screen on it.")
    click.echo(CAUTION)
    sys.exit(DONE)


def _sheet(stations: str, heights: str, unit: str, name: str, symmetric: bool | None) -> Worksheet:
    from frontcheck.reading.form import Worksheet, parse_heights, parse_stations

    return Worksheet(
        parse_stations(stations),
        parse_heights(heights),
        unit=unit,
        name=name,
        symmetric=symmetric,
    )


def _write(sheet: Worksheet, out: Path, paper: str) -> int:
    from frontcheck.outputs.sheet.sheet import sheet_pages, write_sheet

    write_sheet(sheet, out, paper)
    return sheet_pages(sheet, paper)

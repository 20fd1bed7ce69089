"""The command ``scan``: a scan in any pose in, an offset table and a picture out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from frontcheck.cli.common import DONE, Axis, FrontFile, Lengths, Unit, guarded, show
from frontcheck.cli.progress import progress

if TYPE_CHECKING:
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.reading.scan.scan import Scan


@click.command()
@click.argument("file", type=FrontFile)
@click.option(
    "--unit",
    type=Unit,
    help="Unit of the coordinates; never guessed. GLB files state theirs.",
)
@click.option("--up", type=Axis, help="File axis that points up, roughly; found when not given.")
@click.option(
    "--forward", type=Axis, help="File axis the vehicle faces, roughly; found when not given."
)
@click.option(
    "--stations",
    type=Lengths("0,100,200", signed=True),
    help="Distances from the centre plane [mm], such as 0,100,200; each 100 mm when not given.",
)
@click.option(
    "--regions",
    type=click.Path(path_type=Path),
    help="Table of regions that label the rows: part,x_min,x_max,z_min,z_max [mm].",
)
@click.option(
    "--taped",
    nargs=3,
    type=(Lengths("0.1,0.2,0.3", signed=True, count=3),) * 2 + (float,),
    metavar="X,Y,Z X,Y,Z MM",
    help="Two points in file coordinates and the length taped between them: fixes the scale.",
)
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="Offset table to write, .csv; a picture of what was found goes beside it.",
)
def scan(
    file: Path,
    unit: str | None,
    up: str | None,
    forward: str | None,
    stations: tuple[float, ...] | None,
    regions: Path | None,
    taped: tuple[tuple[float, ...], tuple[float, ...], float] | None,
    out: Path,
) -> None:
    """Make an offset table of the scan of a front in FILE, in whatever pose it lies.

    FILE is a mesh (its vertices are used) or a PLY file of bare points, of both sides of the
    front and of the ground before it. Ground, centre plane and direction are found, both sides
    are folded onto one, and sections are fitted. Look at the picture, then screen the table.

    Exit code 0: done. 2: unusable input or arguments, or a place that cannot be written to.

    \b
    Examples:
      frontcheck scan geometries/plover-scan.ply --unit m --out plover-scan.csv
      frontcheck scan front.ply --unit m --up +y --stations 0,100,200,300 --out front.csv
      frontcheck scan front.ply --unit m --taped 0.1,0.2,0.3 1.4,0.2,0.3 1302 --out front.csv
    """

    def work() -> tuple[Scan, tuple[Path, ...]]:
        from frontcheck.outputs.documents.offset_table import table_place
        from frontcheck.outputs.scan_writing import PICTURE, SCAN, write_scan
        from frontcheck.reading.scan.scan import read_scan

        table_place(out, SCAN, PICTURE, [file])
        with progress("reading") as step:
            found = read_scan(
                file, unit=unit, up=up, forward=forward, stations=stations, regions=regions,
                taped=taped, tell=step,
            )  # fmt: skip
            step("drawing", 0.99)
            return found, write_scan(found, out)

    found, written = guarded(work)

    def text(style: Style) -> str:
        from frontcheck.outputs.text.scan_text import scan_text

        return scan_text(style, found, written)

    show(text)
    sys.exit(DONE)

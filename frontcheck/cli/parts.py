"""The command ``parts``: what a mesh, model or drawing holds by name."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from frontcheck.cli.common import FrontFile, Unit, guarded, show
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.outputs.text.terminal import Style
    from frontcheck.reading.named_parts import NamedParts


@click.command()
@click.argument("file", type=FrontFile)
@click.option(
    "--part",
    "patterns",
    multiple=True,
    metavar="PART=NAME",
    help="Try a pattern: count objects or layers of this name as PART; * stands for any text.",
)
@click.option(
    "--exclude", multiple=True, metavar="NAME", help="Try a pattern of what is to be left out."
)
@click.option(
    "--unit",
    type=Unit,
    help="Unit of a STEP or IGES file that does not name its own.",
)
def parts(
    file: Path, patterns: tuple[str, ...], exclude: tuple[str, ...], unit: str | None
) -> None:
    """List the objects, products or layers of FILE: name, size, box, and the part each counts as.

    FILE is a mesh (STL, OBJ, PLY, GLB), a model (STEP, IGES), a drawing (DXF), or a front file
    (TOML) that names one; what it says under [parts] counts then.

    \b
    Examples:
      frontcheck parts geometries/plover.step
      frontcheck parts geometries/plover.step --part "bumper=*COVER" --exclude "*glass"
    """
    from frontcheck.reading.named_parts import named_parts

    wanted: dict[str, list[str]] = {}
    for pattern in patterns:
        part, equals, name = pattern.partition("=")
        if not (part.strip() and equals and name.strip()):
            raise click.BadParameter(f"{pattern!r} is not PART=NAME", param_hint="--part")
        wanted.setdefault(part.strip(), []).append(name.strip())
    found = guarded(lambda: named_parts(file, unit, wanted, exclude))
    show(lambda style: _text(style, file, found))


def _text(style: Style, file: Path, found: NamedParts) -> str:
    from frontcheck.caution import CAUTION

    drawn = found.stations is not None
    rows = []
    for i, name in enumerate(found.names):
        box = [f"{low:.5g} to {high:.5g}" for low, high in found.boxes[i].T.tolist()]
        station = found.stations[i] if found.stations else None
        place = [] if not drawn else ["-" if station is None else f"{station:g}"]
        shown = escaped(name) or "(no name)"
        rows.append([shown, str(found.counts[i]), *box, *place, found.parts[i] or "-"])
    title = f"{escaped(file.name)}: boxes in {found.unit or 'units'} and axes of the file"
    header = ["name", found.counted, "x", "y", "z", *(["station"] if drawn else []), "counts as"]
    unnamed = sum(not part for part in found.parts)
    return "\n".join(
        [
            style.table(title, header, rows),
            *(style.paragraph(escaped(note)) for note in found.notes),
            style.paragraph(
                f"{unnamed} of {len(rows)} say no part by their names. Patterns of your own: "
                "--part, or [parts] of a front file."
            ),
            style.paragraph(CAUTION, loud=True),
        ]
    )

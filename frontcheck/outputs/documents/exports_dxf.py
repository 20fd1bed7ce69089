"""Lines and zones of a front as a DXF drawing and as rows of a table."""

from __future__ import annotations

import io
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.errors import refuse
from frontcheck.files import write_file
from frontcheck.lines.statuses import OPEN_END, STATUS_WORDS

if TYPE_CHECKING:
    import os
    from collections.abc import Iterator, Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.front_line import FrontLine, Spot
    from frontcheck.zones.front_zones import FrontZones, HeadformArea

LINES_HEADER: Final = ("line", "side", "point", "x_mm", "y_mm", "z_mm", "wad_mm", "status")
"""Column names of `lines_rows`."""

_APART: Final = {OPEN_END: " OPEN END", "wad_only": " BY WAD ALONE"}
"""Ends of the names of layers that hold what must not be taken for a known line or border."""
_MM: Final = 4
"""$INSUNITS for millimetres (DXF reference, header variables)."""
_LETTERS_MM: Final = 25.0
_COLOURS: Final = {"LBRL": 30, "UBRL": 7, "BLERL": 3, "BRRL": 6, "SRL": 5}
_WAD_COLOUR: Final = 40
_AREA_COLOUR: Final = 1


def write_dxf(zones: FrontZones, path: str | os.PathLike[str]) -> Path:
    """Write lines and area outlines in three dimensions as a DXF drawing; see `dxf_bytes`.

    Parameters
    ----------
    zones : FrontZones
        Lines and zones.
    path : str or os.PathLike
        File to write; its folder must exist.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    OutputError
        If it cannot be written; an older file is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> fc.write_dxf(result.zones, "plover.dxf").name
    'plover.dxf'
    """
    target = Path(path)
    write_file(target, dxf_bytes(zones))
    return target


def dxf_bytes(zones: FrontZones) -> bytes:
    """Return lines and area outlines in three dimensions as a DXF drawing."""
    # DXF R2010 in mm ($INSUNITS = 4), axes as everywhere: x rearward, y to the vehicle's right, z
    # up. Every line, kind of point and area has a layer of its own name, with polylines, closed
    # polylines and points. Coordinates are at full precision, and the same zones give the same
    # bytes. The layer CAUTION says what a screening is not, and what could not be formed, and
    # why.
    with _fixed_meta_data() as ezdxf:
        doc = ezdxf.new("R2010", units=_MM)
        doc.header["$INSUNITS"] = _MM
        doc.header["$MEASUREMENT"] = 1
        doc.header.custom_vars.append("Caution", CAUTION)
        space = doc.modelspace()
        for line in zones.lines:
            if line.formed:
                colour = _COLOURS.get(line.name, _WAD_COLOUR)
                for layer, run in _by_layer(line):
                    if layer not in doc.layers:
                        doc.layers.add(layer, color=colour)
                    _add_run(space, run.tolist(), layer)
        for name, spots in _spots(zones):
            for spot in spots:
                if spot.point is not None:
                    layer = f"{name}{_APART.get(spot.status, '')}"
                    if layer not in doc.layers:
                        doc.layers.add(layer, color=_AREA_COLOUR)
                    space.add_point(spot.point, dxfattribs={"layer": layer})
        if zones.bonnet_thirds.pieces:
            layer = "BONNET TOP THIRDS"
            doc.layers.add(layer, color=_AREA_COLOUR)
            for piece in zones.bonnet_thirds.pieces:
                _add_run(
                    space, zones.bonnet_thirds.points[piece.start : piece.stop].tolist(), layer
                )
        for name, area in _areas(zones):
            if area.outlines:
                layer = f"{name}{_APART.get(area.status, '')}"
                doc.layers.add(layer, color=_AREA_COLOUR)
                for outline in area.outlines:
                    space.add_polyline3d(outline.points, close=True, dxfattribs={"layer": layer})
        if zones.grid:
            doc.layers.add("CANDIDATE POINTS", color=_AREA_COLOUR)
            for candidate in zones.grid:
                space.add_point(candidate.point, dxfattribs={"layer": "CANDIDATE POINTS"})
        doc.layers.add("CAUTION", color=_AREA_COLOUR)
        text = "\\P".join(filter(None, [CAUTION, zones.drawn, *_not_known(zones)]))
        attributes = {"layer": "CAUTION", "char_height": _LETTERS_MM, "width": 1600.0}
        space.add_mtext(text, dxfattribs=attributes | {"insert": (0.0, -2600.0, 0.0)})
        # The library writes these from sets, whose order changes from run to run.
        doc.classes.add_required_classes(doc.dxfversion)
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))
        stream = io.StringIO()
        doc.write(stream)
    return stream.getvalue().encode(doc.output_encoding)


def lines_rows(zones: FrontZones) -> list[list[object]]:
    """Return every point of every line across the front as rows for a table."""
    rows: list[list[object]] = []
    for line in zones.lines:
        if not line.formed:
            rows.append([line.name, None, None, None, None, None, None, line.status])
        points = line.points.tolist()
        for i, ((x, y, z), status) in enumerate(zip(points, line.point_status, strict=True)):
            side = "centre" if y == 0.0 else "right" if y > 0.0 else "left"
            rows.append([line.name, side, i + 1, x, y, z, line.wad[i], status])
    return rows


@contextmanager
def _fixed_meta_data() -> Iterator[Any]:
    """Give ezdxf with dates and random ids held fixed, so that equal drawings are equal bytes."""
    try:
        import ezdxf  # here and not above: it is an extra, and the command line must start fast
    except ModuleNotFoundError as error:
        raise refuse("dxf.no_package") from error

    library: Any = ezdxf
    before = library.options.write_fixed_meta_data_for_testing
    library.options.write_fixed_meta_data_for_testing = True
    try:
        yield library
    finally:
        library.options.write_fixed_meta_data_for_testing = before


def _add_run(space: Any, points: Sequence[Sequence[float]], layer: str) -> None:
    if len(points) == 1:
        space.add_point(points[0], dxfattribs={"layer": layer})
    else:
        space.add_polyline3d(points, dxfattribs={"layer": layer})


def _spots(zones: FrontZones) -> list[tuple[str, tuple[Spot, ...]]]:
    corners, reference = zones.bumper_corners, zones.corner_reference_points
    return [
        ("BUMPER CORNERS BY PLANE", (corners.plane.left, corners.plane.right)),
        ("BUMPER CORNERS BY GAUGE", (corners.gauge.left, corners.gauge.right)),
        ("CORNER REFERENCE POINTS", (reference.left, reference.right)),
        ("REAR CORNERS", (zones.rear_corners.left, zones.rear_corners.right)),
        ("BUMPER THIRDS", zones.bumper_thirds.cuts),
        ("LEADING EDGE THIRDS", zones.leading_edge_thirds.cuts),
    ]


def _areas(zones: FrontZones) -> list[tuple[str, HeadformArea]]:
    return [
        ("CHILD HEADFORM AREA", zones.child_area),
        ("ADULT HEADFORM AREA", zones.adult_area),
    ]


def _by_layer(line: FrontLine) -> Iterator[tuple[str, Array]]:
    """Unbroken runs of a line, cut where an open end begins: those lie on a layer of their own."""
    for piece in line.pieces:
        unknown = [s == OPEN_END for s in line.point_status[piece.start : piece.stop]]
        open_step = [a or b for a, b in pairwise(unknown)] or unknown
        first = 0
        for i, kind in enumerate(open_step, start=1):
            if i == len(open_step) or open_step[i] != kind:
                run = line.points[piece.start + first : min(piece.start + i + 1, piece.stop)]
                yield f"{line.name}{_APART[OPEN_END] if kind else ''}", run
                first = i


def _not_known(zones: FrontZones) -> list[str]:
    """What is not formed, or not known, and why."""
    areas: list[tuple[str, FrontLine | HeadformArea]] = [*_areas(zones)]
    whole = [*((line.name, line) for line in zones.lines), *areas]
    # A backslash or brace would be taken for formatting.
    clean = str.maketrans({"\\": "/", "{": "(", "}": ")", "\n": " "})
    said = [
        f"Not formed: {name} ({what.reason.translate(clean)})"
        for name, what in whole
        if not what.formed
    ]
    bumper = ("BUMPER TEST AREA", zones.bumper_test_area)
    return said + [
        f"{name}: {STATUS_WORDS[what.status]} ({what.reason.translate(clean)})".removesuffix(" ()")
        for name, what in (*whole, bumper)
        if what.status in _APART
    ]

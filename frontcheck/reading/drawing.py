"""DXF drawings: side sections as curves, one station a layer, or in place in three dimensions.

The convention
--------------
flat drawing
    All curves lie in the plane of the drawing, x to the rear (or to the front with
    ``forward="+x"``) and y up. The layer names the station in drawing units: ``Y150``,
    ``Y-150.5`` (also with ``=`` or a decimal comma). A part may follow: ``Y150 bumper``.
drawing in space
    Every curve lies in a plane y = const, which is its station. Its part is the name of its
    layer, when that is the name of a part, or follows the station there.

Curves of a station are joined end to end, whatever their order and direction. Anything else
in the drawing is skipped and reported by type. Blocks are not taken apart. Custom drawing
properties ``name``, ``symmetric`` (yes or no) and ``mark_1`` to ``mark_20`` (as in an offset table)
are read.
"""

from __future__ import annotations

import hashlib
import math
import os
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.attitude import adjusted
from frontcheck.front.front import Front, Source
from frontcheck.front.survey import Survey
from frontcheck.geometry.chains import link_segments
from frontcheck.geometry.outline import GAP_MM, NO_LABEL, outer_contour
from frontcheck.reading.cad_file import (
    MAX_COORDINATE_MM,
    SliceNotes,
    cad_size,
    checked_length,
    checked_unit,
    parse_axes,
    told_apart,
)
from frontcheck.reading.offset_header import read_marks
from frontcheck.reading.table import Cell, ReaderNotes, mm_per, several
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.geometry.slicing import Axes

CHORD_MM: Final = 0.05
"""Largest distance of a chord from its curve when none is given [mm]."""
JOIN_MM: Final = 0.1
"""Ends of curves closer than this are one point [mm]."""
_FLAT_MM: Final = 1e-3
_MAX_BYTES: Final = 200_000_000
_UNITS: Final = {1: "in", 4: "mm", 5: "cm", 6: "m"}
"""Values of $INSUNITS that we read (DXF reference, header variables; from memory)."""
_STATION: Final = re.compile(
    r"Y\s*=?\s*(?P<y>[+-]?\d+(?:[.,]\d+)?)(?:[\s_-]+(?P<part>[A-Za-z]\w*))?\s*", re.IGNORECASE
)


@dataclass(frozen=True, eq=False)
class _Curve:
    """One curve: its points in the drawing, what its layer says, and its place."""

    points: NDArray[np.float64]
    station: float | None
    part: int
    kind: str
    place: str


def read_dxf(
    path: str | os.PathLike[str],
    *,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    ground: float | None = None,
    centre_y: float = 0.0,
    pitch: float | None = None,
    symmetric: bool | None = None,
    gap: float | None = None,
    chord: float | None = None,
    firm: bool = False,
) -> Front:
    """Read the side sections of a DXF drawing."""
    file = os.fspath(path)
    cad_size(path, _MAX_BYTES, "a DXF drawing")
    if pitch is not None:
        raise refuse("drawing.pitch", file)
    widest = checked_length(gap, "gap", GAP_MM, 0.0, 1000.0, file)
    tolerance = checked_length(chord, "chord", CHORD_MM, 1e-4, 10.0, file)
    level = checked_length(ground, "ground", 0.0, -1e9, 1e9, file)
    content = Path(file).read_bytes()
    document = _parsed(content, file)
    notes = ReaderNotes()
    unit = _unit(document, checked_unit(unit, file), firm, notes, file)
    curves, tally = _curves(document, tolerance / mm_per(unit), unit, file)
    notes.extend(tally)
    stations = _stations(curves, unit, forward, up, (level, centre_y), notes, file)
    report = _sections(stations, widest)
    sections = report.sections
    if not sections:
        raise refuse(
            "drawing.no_section",
            file,
            stations=several(len(stations), "station"),
            first=report.first_failure,
        )
    notes.append(f"Curves were cut into chords that stay within {tolerance:g} mm of them.")
    if ground is None:
        notes.assume("The height of the ground was not stated; it was taken as 0 of the drawing.")
    notes.extend(report.sentences(widest))
    properties = document.header.custom_vars
    front = Front(
        tuple(sections),
        name=str(properties.get("name") or PurePath(file).stem),
        symmetric=_symmetric(symmetric, properties.get("symmetric"), notes, file),
        method="drawing",
        reader_notes=tuple(notes),
        reader_cautions=tuple(report.cautions(widest)),
        assumed=tuple(notes.assumed),
        source=Source(PurePath(file).name, hashlib.sha256(content).hexdigest(), "dxf", widest),
        survey=Survey(marks=read_marks(_cells(properties), file)),
    )
    return adjusted(front)


def _cells(properties: Any) -> dict[str, Cell]:
    """Custom properties of a drawing, which has no rows."""
    return {key.lower(): Cell(str(text).strip(), 0, key) for key, text in properties.properties}


def _parsed(content: bytes, file: str) -> Any:
    """The drawing; a damaged one is refused."""
    if b"\0" in content[:1024]:
        raise refuse("drawing.binary", file)
    tail = content[-200:].split()
    if not tail or tail[-1] != b"EOF":
        raise refuse("drawing.cut_short", file)

    def load() -> Any:
        from ezdxf.filemanagement import readfile

        return readfile(file)  # not its recover mode: that mends numbers by guessing

    return told_apart(load, file, "a sound DXF drawing")


def _unit(document: Any, stated: str | None, firm: bool, notes: list[str], file: str) -> str:
    code = told_apart(
        lambda: int(document.header.get("$INSUNITS", 0)), file, "a whole number as $INSUNITS"
    )
    own = _UNITS.get(code)
    if stated is None:
        if own is None:
            units = ", ".join(f"{value} ({name})" for value, name in _UNITS.items())
            if code == 0:
                raise refuse("insunits.none", file, units=units)
            raise refuse("insunits.other", file, units=units, value=code)
        notes.append(f"Unit {own}, as the drawing states ($INSUNITS {code}).")
        return own
    if code != 0 and own != stated:
        if firm:  # a front file that contradicts its drawing is a slip, an option is meant
            raise refuse("drawing.unit", file, unit=stated, own=own or f"$INSUNITS {code}")
        notes.append(
            f"Unit {stated} as stated, though the drawing says {own or f'$INSUNITS {code}'}."
        )
    else:
        notes.append(f"Unit {stated}, as stated.")
    return stated


def _curves(document: Any, chord: float, unit: str, file: str) -> tuple[list[_Curve], list[str]]:
    """Every curve of the model space, and notes on what was read and skipped."""
    reach = MAX_COORDINATE_MM / mm_per(unit)
    curves: list[_Curve] = []
    skipped: Counter[str] = Counter()
    for entity in document.modelspace():
        kind = entity.dxftype()
        points = _curve_points(entity, chord, reach, file) if kind in _KINDS else None
        if points is None:
            skipped[kind] += 1
            continue
        station, part = _layer(entity.dxf.layer)
        curves.append(_Curve(points, station, part, kind, _place_of(entity)))
    notes = [
        f"Skipped: {kind}, {n} read, none used"
        + (" (blocks are not taken apart: explode them first)." if kind == "INSERT" else ".")
        for kind, n in sorted(skipped.items())
    ]
    return curves, notes


def _layer(name: str) -> tuple[float | None, int]:
    """Station and part that a layer name holds."""
    plain = name.strip().lower()
    found = _STATION.fullmatch(plain)
    if found is None:
        return None, PARTS.index(plain) if plain in PARTS else NO_LABEL
    part = found["part"]
    return (
        float(found["y"].replace(",", ".")),
        PARTS.index(part) if part in PARTS else NO_LABEL,
    )


def _stations(
    curves: list[_Curve],
    unit: str,
    forward: str | None,
    up: str | None,
    origin: tuple[float, float],
    notes: ReaderNotes,
    file: str,
) -> dict[float, list[tuple[NDArray[np.float64], int]]]:
    """Curves by station: (n, 2) points [mm] and part."""
    k = mm_per(unit)
    flat = all(np.ptp(c.points[:, 2]) * k <= _FLAT_MM for c in curves) and any(
        c.station is not None for c in curves
    )
    front, top = forward or "-x", up or ("+y" if flat else "+z")
    say = notes.append if forward and up else notes.assume
    say(
        f"Axes of the {'flat drawing' if flat else 'drawing in space'}: forward {front}"
        f"{'' if forward else ' (assumed)'}, up {top}{'' if up else ' (assumed)'}."
    )
    axes = parse_axes(front, top, unit, origin[0], file, origin[1])
    if flat and 2 in axes.order[::2]:
        raise refuse("drawing.axes", file, front=front, top=top)
    out: dict[float, list[tuple[NDArray[np.float64], int]]] = defaultdict(list)
    read: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for curve in curves:
        read[curve.kind] += 1
        y = _station_of(curve, axes, flat, k, origin[1] * k, file)
        if y is None:
            continue
        used[curve.kind] += 1
        line = np.stack([axes.column(curve.points, i) for i in (0, 2)], axis=1)
        out[y].append((line, curve.part))
    notes.extend(
        f"{kind}: {n} read, {used[kind]} used"
        + ("." if used[kind] == n else f"; {n - used[kind]} not on a station.")
        for kind, n in sorted(read.items())
    )
    if not out:
        raise refuse("drawing.no_curve", file, curves=several(len(curves), "curve"))
    return dict(sorted(out.items()))


def _station_of(
    curve: _Curve, axes: Axes, flat: bool, k: float, centre_mm: float, file: str
) -> float | None:
    named = None if curve.station is None else curve.station * k - centre_mm + 0.0
    if flat:
        y = named
    else:
        across = axes.column(curve.points, 1)
        if np.ptp(across) > _FLAT_MM:
            return None
        y = round(float(across.mean()), 3) + 0.0
        if named is not None and abs(named - y) > 2.0 * _FLAT_MM:
            raise refuse("drawing.other_plane", file, curve=curve.place, y=y)
        y = y if named is None else named
    if y is not None and abs(y) > MAX_COORDINATE_MM:
        raise refuse("drawing.too_far", file, curve=curve.place, y=y)
    return y


def _sections(
    stations: dict[float, list[tuple[NDArray[np.float64], int]]], gap: float
) -> SliceNotes:
    report = SliceNotes("curves")
    for y, pieces in stations.items():
        start = np.concatenate([line[:-1] for line, _ in pieces])
        stop = np.concatenate([line[1:] for line, _ in pieces])
        tags = np.concatenate([np.full(len(line) - 1, part) for line, part in pieces])
        ends = np.stack([start, stop], axis=1).reshape(-1, 2)
        _, key = np.unique(ends, axis=0, return_inverse=True)
        linked = link_segments(
            np.zeros(len(start), dtype=np.intp),
            ends[:, 0],
            ends[:, 1],
            key.reshape(-1).astype(np.uint64),
            tags,
            1,
            JOIN_MM,
            0.0,
        )
        linked.counts[0].flipped = 0  # curves have no side
        chains = linked.chains[0]
        if not chains:
            report.failed[y] = "curves without length"
            continue
        # A drawn curve that crosses itself is a slip of the hand: it is refused, not mended.
        outline = replace(outer_contour(chains, gap), whole=None)
        report.add(y, outline, linked.counts[0])
        report.happened["inside out"] = 0
        report.take(y, outline, labelled=any(part != NO_LABEL for _, part in pieces))
    return report


def _symmetric(option: bool | None, own: Any, notes: ReaderNotes, file: str) -> bool:
    if option is not None:
        return option
    value = str(own or "").strip().lower()
    if value in {"yes", "no"}:
        return value == "yes"
    if value:
        raise refuse("drawing.symmetric", file, value=value)
    notes.assume("The drawing does not say whether it is a half; it was taken as it is.")
    return False


# Curves of a drawing as points: exact at their ends, chords within a given distance.

_KINDS: Final = ("LINE", "ARC", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE")
"""Entities that are read."""
_MAX_POINTS: Final = 200_000
_SPLINE_FRAME: Final = 16  # flag of a vertex that only controls a fitted polyline


def _place_of(entity: Any) -> str:
    """Return where an entity is in the drawing, for messages."""
    return f"{entity.dxftype()} {entity.dxf.handle} on layer {entity.dxf.layer!r}"


def _curve_points(entity: Any, chord: float, reach: float, file: str) -> NDArray[np.float64] | None:
    """Return the points of a curve in drawing coordinates."""

    def load() -> NDArray[np.float64] | None:
        kind = entity.dxftype()
        if kind == "LINE":
            return _array([entity.dxf.start, entity.dxf.end])
        if kind in {"ARC", "ELLIPSE"}:
            size = entity.dxf.radius if kind == "ARC" else entity.dxf.major_axis.magnitude
            _check_size(size, reach, entity, file)
            return _array(entity.flattening(chord))
        if kind == "SPLINE":
            inner = [*entity.control_points, *entity.fit_points]
            _check_size(np.abs(np.array(inner, dtype=np.float64)).max(), reach, entity, file)
            return _array(entity.flattening(chord, segments=8))
        if kind == "LWPOLYLINE":
            rows = list(entity.get_points("xyb"))
            return _flat_polyline(entity, rows, entity.dxf.elevation, chord, reach)
        if entity.is_3d_polyline:
            points = [v.dxf.location for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
            return _array([*points, points[0]] if entity.is_closed else points)
        if entity.is_2d_polyline:
            kept = [v for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
            rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in kept]
            height = kept[0].dxf.location.z if kept else 0.0
            return _flat_polyline(entity, rows, height, chord, reach)
        return None

    points: NDArray[np.float64] | None = told_apart(load, file, f"a sound {_place_of(entity)}")
    if points is None:
        return None
    if len(points) < 2:
        raise refuse("curve.short", file, entity=_place_of(entity))
    if not np.isfinite(points).all():
        raise refuse("curve.not_finite", file, entity=_place_of(entity))
    if np.abs(points).max() > reach:
        raise refuse("curve.far", file, entity=_place_of(entity))
    return points


def _array(points: Any) -> NDArray[np.float64]:
    out = []
    for point in points:
        out.append((point.x, point.y, point.z))
        if len(out) > _MAX_POINTS:
            raise ValueError(f"more than {_MAX_POINTS} points on one curve")
    return np.array(out, dtype=np.float64).reshape(-1, 3)


def _check_size(size: float, reach: float, entity: Any, file: str) -> None:
    if not size <= reach:
        raise refuse(
            "cad.size", file, entity=_place_of(entity), size=size, reach=MAX_COORDINATE_MM / 1000.0
        )


def _flat_polyline(
    entity: Any,
    rows: list[tuple[float, float, float]],
    elevation: float,
    chord: float,
    reach: float,
) -> NDArray[np.float64]:
    """A polyline in its own plane; bulge is the tangent of a quarter of the arc's angle."""
    if not rows:
        return np.empty((0, 3))
    corners = np.array(rows, dtype=np.float64)
    if entity.is_closed:
        corners = np.concatenate([corners, corners[:1]])
    if not np.isfinite(corners[:-1]).all() or not np.isfinite(corners[:, :2]).all():
        return np.full((2, 3), np.nan)
    flat = [corners[:1, :2]]
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, corners[1:], strict=False):
        flat.append(_bulge(np.array([x0, y0]), np.array([x1, y1]), bulge, chord, reach))
    plane = np.concatenate(flat)
    if len(plane) > _MAX_POINTS:
        raise ValueError(f"more than {_MAX_POINTS} points on one curve")
    from ezdxf.math import Vec3

    if entity.dxf.extrusion.isclose((0.0, 0.0, 1.0)):
        return np.column_stack([plane, np.full(len(plane), float(elevation))])
    to_world = entity.ocs().to_wcs
    return _array([to_world(Vec3(x, y, elevation)) for x, y in plane.tolist()])


def _bulge(
    a: NDArray[np.float64], b: NDArray[np.float64], bulge: float, chord: float, reach: float
) -> NDArray[np.float64]:
    """Points after `a` up to `b`, along a straight line or an arc."""
    across = b - a
    span = float(np.hypot(*across))
    if bulge == 0.0 or span == 0.0:
        return b[None]
    radius = span * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    if not radius <= reach:
        return b[None]  # an arc so flat that it is straight over any front
    centre = (a + b) / 2.0 + np.array([-across[1], across[0]]) * (1.0 - bulge**2) / (4.0 * bulge)
    angle = 4.0 * math.atan(bulge)
    step = 2.0 * math.acos(max(1.0 - chord / radius, 0.0))
    pieces = max(math.ceil(abs(angle) / step), 1)
    turn = angle * np.arange(1, pieces) / pieces
    arm = a - centre
    arc = centre + np.stack(
        [
            arm[0] * np.cos(turn) - arm[1] * np.sin(turn),
            arm[0] * np.sin(turn) + arm[1] * np.cos(turn),
        ],
        axis=1,
    )
    return np.concatenate([arc, b[None]])

"""DXF drawings: side sections as curves, one station a layer, or in place in three dimensions.

The convention
--------------
flat drawing
    All curves lie in the plane of the drawing, x to the rear (or to the front with
    ``forward="+x"``) and y up. The layer names the station in drawing units, anywhere in its
    name: ``Y150``, ``SEC_Y-150.5_BUMPER``, ``Section Y=20,5``.
drawing in space
    Every curve lies in a plane y = const, which is its station.

The part of a curve is what its layer says (`part_names.toml`), or a pattern of the user. Blocks
are taken apart, nested ones too: what is on layer 0 counts to the layer of the block, and a block
may name station and part where the layer does not. Attributes are not read.

Curves of a station are joined end to end, whatever their order and direction. Anything else
in the drawing is skipped and reported by type. Custom drawing
properties ``name``, ``symmetric`` (yes or no) and ``mark_1`` to ``mark_20`` (as in an offset table)
are read.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.attitude import adjusted
from frontcheck.front.front import MOST_POINTS, Front, Source
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
from frontcheck.reading.drawn_curves import KINDS, curve_points, drawn, place_of
from frontcheck.reading.offset_header import read_marks
from frontcheck.reading.part_names import named, parts_of, shown
from frontcheck.reading.table import Cell, ReaderNotes, mm_per, several
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.geometry.slicing import Axes

CHORD_MM: Final = 0.05
"""Largest distance of a chord from its curve when none is given [mm]."""
JOIN_MM: Final = 0.1
"""Ends of curves closer than this are one point [mm]."""
_FLAT_MM: Final = 1e-3
MAX_BYTES: Final = 200_000_000
_MOST_RECORDS: Final = 200_000
_RECORD: Final = re.compile(rb"\n *0\r?\n *[A-Z]")
_UNITS: Final = {1: "in", 4: "mm", 5: "cm", 6: "m"}
"""Values of $INSUNITS that we read (DXF reference, header variables; from memory)."""
_STATION: Final = re.compile(
    r"(?<![^\W_])Y[\s_]*=?\s*([+-]?\d+(?:[.,]\d+)?)(?![^\W_]|[.,]\d)", re.IGNORECASE
)


@dataclass(frozen=True, eq=False)
class _Curve:
    """One curve: its points in the drawing, what its names say, and its place."""

    points: Array
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
    exclude: Sequence[str] = (),
    parts: Mapping[str, Sequence[str]] | None = None,
) -> Front:
    """Read the side sections of a DXF drawing."""
    file = os.fspath(path)
    cad_size(path, MAX_BYTES, "a DXF drawing")
    if pitch is not None:
        raise refuse("drawing.pitch", file)
    widest = checked_length(gap, "gap", GAP_MM, 0.0, 1000.0, file)
    tolerance = checked_length(chord, "chord", CHORD_MM, 1e-4, 10.0, file)
    level = checked_length(ground, "ground", 0.0, -1e9, 1e9, file)
    content = Path(file).read_bytes()
    document = parsed(content, file)
    notes = ReaderNotes()
    unit = _unit(document, checked_unit(unit, file), firm, notes, file)
    curves, tally = _curves(document, tolerance / mm_per(unit), unit, exclude, parts, file)
    notes.extend(tally)
    stations = _stations(curves, unit, forward, up, (level, centre_y), notes, file)
    for y, pieces in stations.items():
        if (count := sum(len(line) for line, _ in pieces)) > MOST_POINTS:
            raise refuse("drawing.many_points", file, count=count, y=y, most=MOST_POINTS)
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


def parsed(content: bytes, file: str) -> Any:
    """The drawing; a damaged one is refused."""
    if b"\0" in content[:1024]:
        raise refuse("drawing.binary", file)
    tail = content[-200:].split()
    if not tail or tail[-1] != b"EOF":
        raise refuse("drawing.cut_short", file)
    if (count := sum(1 for _ in _RECORD.finditer(content))) > _MOST_RECORDS:
        raise refuse("drawing.many", file, count=count, most=_MOST_RECORDS)

    def load() -> Any:
        from ezdxf.filemanagement import readfile

        return readfile(file)  # not its recover mode: that mends numbers by guessing

    return told_apart(load, file, "a sound DXF drawing")


def _unit_code(document: Any, file: str) -> int:
    code: int = told_apart(
        lambda: int(document.header.get("$INSUNITS", 0)), file, "a whole number as $INSUNITS"
    )
    return code


def own_unit(document: Any, file: str) -> str | None:
    """Return the unit that a drawing states, if it is one of those read."""
    return _UNITS.get(_unit_code(document, file))


def _unit(document: Any, stated: str | None, firm: bool, notes: list[str], file: str) -> str:
    code = _unit_code(document, file)
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


def _curves(
    document: Any,
    chord: float,
    unit: str,
    exclude: Sequence[str],
    parts: Mapping[str, Sequence[str]] | None,
    file: str,
) -> tuple[list[_Curve], list[str]]:
    """Every curve of the model space, and notes on what was read and skipped."""
    held, notes = named_curves(document, chord, MAX_COORDINATE_MM / mm_per(unit), file)
    names = list(held)
    said = parts_of(names, parts, file)
    gone = {names[i] for i in named(names, exclude, file)}
    if gone:
        count = sum(len(held[name]) for name in gone)
        notes.append(f"Left out by name: {several(count, 'curve')} of {shown(sorted(gone))}.")
    curves = []
    for name, part in zip(names, said, strict=True):
        if name not in gone:
            number = PARTS.index(part) if part else NO_LABEL
            curves += [_Curve(p, station_said(name), number, *at) for p, *at in held[name]]
    return curves, notes


def named_curves(
    document: Any, chord: float, reach: float, file: str
) -> tuple[dict[str, list[tuple[Array, str, str]]], list[str]]:
    """Points, kind and place of curves by name, which is ``block/layer``; what was skipped."""
    held: dict[str, list[tuple[Array, str, str]]] = {}
    skipped: Counter[str] = Counter()
    for entity, path in drawn(document, file):
        kind = entity.dxftype()
        points = curve_points(entity, chord, reach, file) if kind in KINDS else None
        if points is None:
            skipped[kind] += 1
        else:
            held.setdefault("/".join(path), []).append((points, kind, place_of(entity)))
    return held, [f"Skipped: {kind}, {n} read, none used." for kind, n in sorted(skipped.items())]


def station_said(name: str) -> float | None:
    """Return the station that a layer, or else a block around it, names: one number after a Y."""
    for piece in reversed(name.split("/")):
        said = set(_STATION.findall(piece))
        if len(said) == 1:
            return float(said.pop().replace(",", "."))
    return None


def _stations(
    curves: list[_Curve],
    unit: str,
    forward: str | None,
    up: str | None,
    origin: tuple[float, float],
    notes: ReaderNotes,
    file: str,
) -> dict[float, list[tuple[Array, int]]]:
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
    out: dict[float, list[tuple[Array, int]]] = defaultdict(list)
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
        layers = shown(sorted({curve.place.partition(" on ")[2] for curve in curves}))
        among = several(len(curves), "curve") + (f" on {layers}" if layers else "")
        raise refuse("drawing.no_curve", file, curves=among)
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


def _sections(stations: dict[float, list[tuple[Array, int]]], gap: float) -> SliceNotes:
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

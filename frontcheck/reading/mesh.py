"""Meshes (STL, OBJ, PLY, GLB) and models (STEP, IGES), cut into side sections.

They are cut at whole multiples of a pitch from the centre plane.

The unit is stated by the caller or by the standard of the file format, never guessed. The
file's centre plane is where its lateral coordinate is 0.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field, replace
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.front import MOST_STATIONS, Front, Source, check_size
from frontcheck.geometry.facet_cuts import cut_facets
from frontcheck.geometry.outline import GAP_MM, REACH_MM
from frontcheck.reading.cad_file import (
    MAX_COORDINATE_MM,
    SliceNotes,
    cad_size,
    checked_length,
    checked_unit,
    parse_axes,
)
from frontcheck.reading.free_parts import leave_out_free
from frontcheck.reading.joined_meshes import joined
from frontcheck.reading.table import ReaderNotes, several
from frontcheck.surface.mesh_surface import EDGE_MM, THIN_MM, MeshSurface

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.geometry.slicing import Axes
    from frontcheck.reading.solid import MeshData

PITCH_MM: Final = 20.0
"""Station spacing when none is given [mm]."""
MAX_BYTES: Final = 2_000_000_000
_HALF_MM: Final = 1.0
"""A half model may reach this far over the centre plane, or end this far short of it [mm]."""
_NARROW_MM, _WIDE_MM = 1000.0, 3000.0
_TOO_NARROW_MM: Final = 100.0
_TOO_TALL_MM: Final = 4000.0
_UNEVEN_MM: Final = 100.0
"""Half-widths of a whole front may differ by this [mm]; beyond it the centre plane is another."""


@dataclass
class _Stations:
    """Where the mesh is cut and what that is called."""

    names: Array
    cuts: Array
    side: int
    notes: list[str] = field(default_factory=list)


def read_mesh(
    path: str | os.PathLike[str],
    *,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    ground: float | None = None,
    centre_y: float = 0.0,
    pitch: float | None = None,
    stations: Sequence[float] | None = None,
    symmetric: bool | None = None,
    gap: float | None = None,
    include: Sequence[str] = (),
    exclude: Sequence[str] = (),
    parts: Mapping[str, Sequence[str]] | None = None,
    beside: Sequence[str | os.PathLike[str]] = (),
    chord: float | None = None,
    angle: float | None = None,
) -> Front:
    """Read a mesh, or a STEP or IGES model made into one, and cut it into side sections."""
    file = os.fspath(path)
    size = cad_size(path, MAX_BYTES, "a mesh file")
    stated = checked_unit(unit, file)
    spacing = checked_length(pitch, "pitch", PITCH_MM, 0.1, 1000.0, file)
    level = checked_length(ground, "ground", 0.0, -1e9, 1e9, file)
    widest = checked_length(gap, "gap", GAP_MM, 0.0, 1000.0, file)
    data = load_mesh(path, size, stated, chord, angle)
    source = Source(PurePath(file).name, data.sha256, "mesh", widest)
    data.clean(file)
    if beside:
        data, others = with_others(data, file, beside, stated, chord, angle)
        source = replace(source, files=others)
    data.choose(include, exclude, file)
    data.label(parts, file, chosen=bool(include))
    notes = ReaderNotes([f"{several(len(data), 'triangle')} were read.", *data.notes])
    axes = _axes(data, stated, forward, up, level, centre_y, notes, file)
    if ground is None:
        notes.assume("The height of the ground was not stated; it was taken as 0 of the up axis.")
    extent = _extent(data, axes)
    odd = _implausible(*extent, stated or data.unit or "", level, file)
    notes.extend(odd)
    at = spacing if stations is None else stations
    cuts, surface, report = _cut(data, axes, extent, at, symmetric, widest, file)
    # Nothing is as wide as this but what is turned, or in another unit.
    wide = odd if extent[1][1] - extent[0][1] > _WIDE_MM else []
    cautions: list[str] = []
    if report.several:
        # Only of several parts can some be no part of the body; one sheet is spared the search.
        cautions, boxes = leave_out_free(data, axes)
        notes.extend(cautions)
        if cautions:
            extent = _extent(data, axes)
            cuts, surface, report = _cut(data, axes, extent, at, symmetric, widest, file)
            report.refuse_behind(boxes)
    low, high = (float(end[1]) for end in extent)
    half = any(_sides(low, high))
    aside = max(low, -high) > _UNEVEN_MM  # no half: one reaches to the centre plane
    if aside or (not (half or cuts.side) and abs(low + high) > _UNEVEN_MM):
        raise refuse("mesh.uneven", file, left=-low, right=high, most=_UNEVEN_MM)
    sections = report.sections
    if not sections:
        raise refuse(
            "mesh.no_section",
            file,
            stations=several(len(cuts.names), "station"),
            first=f" ({report.first_failure})" if report.first_failure else "",
        )
    near = min(abs(section.y) for section in sections)
    if near > max(_UNEVEN_MM, np.abs(cuts.names).min()):  # nothing where it should be whole
        raise refuse("mesh.no_centre", file, near=near, first=report.first_failure)
    apart = f"{spacing:g} mm apart" if stations is None else "as stated"
    notes.append(
        f"{several(len(sections), 'section')} from y = {sections[0].y:g} to {sections[-1].y:g} mm, "
        f"{apart}; points within {THIN_MM:g} mm of a straight line were left out."
    )
    notes.extend([*cuts.notes, *report.sentences(widest)])
    if not any(section.has_part("windscreen") for section in sections):
        notes.append(
            "Nothing is named windscreen: it is sought by shape. OBJ groups and GLB nodes named "
            "like parts label the surface."
        )
    return Front(
        tuple(sections),
        name=PurePath(file).stem,
        symmetric=cuts.side != 0,
        method="mesh, cut by planes",
        reader_notes=tuple(notes),
        reader_cautions=(*data.cautions, *wide, *cautions, *report.cautions(widest)),
        assumed=tuple(notes.assumed),
        source=source,
        mesh=surface,
    )


def with_others(
    data: MeshData,
    file: str,
    beside: Sequence[str | os.PathLike[str]],
    unit: str | None = None,
    chord: float | None = None,
    angle: float | None = None,
) -> tuple[MeshData, tuple[Source, ...]]:
    """A clean mesh joined with those of other files, and what these are."""
    meshes = [(PurePath(file).name, data)]
    for each in beside:
        one = load_mesh(each, cad_size(each, MAX_BYTES, "a mesh file"), unit, chord, angle)
        one.clean(os.fspath(each))
        meshes.append((PurePath(each).name, one))
    return joined(meshes, file), tuple(Source(name, one.sha256, "mesh") for name, one in meshes[1:])


def load_mesh(
    path: str | os.PathLike[str],
    size: int,
    unit: str | None = None,
    chord: float | None = None,
    angle: float | None = None,
) -> MeshData:
    """Triangles of a mesh file, or of a model, in file coordinates."""
    from frontcheck.reading import mesh_parsed, step
    from frontcheck.reading import solid as mesh_text

    file, suffix = os.fspath(path), PurePath(path).suffix.lower()
    if suffix in step.STEP_SUFFIXES:
        within = checked_length(chord, "chord", step.CHORD_MM, 1e-3, 100.0, file)
        turn = checked_length(angle, "angle", step.ANGLE_RAD, 0.01, 1.5, file)
        return step.read_step(path, unit, within, turn)
    for name, value in (("chord", chord), ("angle", angle)):
        if value is not None:
            raise refuse("step.option", file, name=name)
    if suffix == ".stl":
        return mesh_text.read_stl(path, size)
    if suffix == ".obj":
        return mesh_text.read_obj(path)
    if suffix == ".ply":
        return mesh_parsed.read_ply(path)
    if suffix == ".glb":
        return mesh_parsed.read_glb(path)
    raise refuse("mesh.suffix", file, suffix=suffix)


def _axes(
    data: MeshData,
    stated: str | None,
    forward: str | None,
    up: str | None,
    ground: float,
    centre_y: float,
    notes: ReaderNotes,
    file: str,
) -> Axes:
    unit = stated or data.unit
    if unit is None:
        raise refuse("mesh.no_unit", file)
    if stated is None:
        notes.append(f"Unit {unit}, as the file or the standard of its format fixes it.")
    elif data.unit not in {None, stated}:
        notes.append(f"Unit {stated} as stated, though the file format's standard is {data.unit}.")
    else:
        notes.append(f"Unit {stated}, as stated.")
    ways = []
    for name, given, own, default in (
        ("forward", forward, data.forward, "-x"),
        ("up", up, data.up, "+z"),
    ):
        way = given or own or default
        ways.append(way)
        how = "as stated" if given else "by the format's standard" if own else "not stated: assumed"
        say = notes.append if given or own else notes.assume
        say(f"Axes: {name} is {way}, {how}.")
    return parse_axes(ways[0], ways[1], unit, ground, file, centre_y)


def _extent(data: MeshData, axes: Axes) -> tuple[Array, Array]:
    """Least and greatest coordinates; across, without what stands behind the reach of all tools."""
    corners = np.stack(data.extent())
    ours = np.stack([axes.column(corners, i) for i in range(3)], axis=1)
    low, high = ours.min(axis=0), ours.max(axis=0)
    reach = low[0] + REACH_MM
    if high[0] > reach:
        points = np.stack([axes.column(data.points, i) for i in range(3)], axis=-1)
        facets = points if data.faces is None else points[data.faces]
        ends = cut_facets(facets, 0, np.array([reach])).ends
        y = np.concatenate([facets[facets[..., 0] <= reach, 1], ends[..., 1].ravel()])
        low[1], high[1] = y.min(), y.max()
    return low, high


def _implausible(low: Array, high: Array, unit: str, ground: float, file: str) -> list[str]:
    """Refuse extents that no vehicle has; say which are odd."""
    with np.errstate(over="ignore"):
        size = high - low
    width, box = float(size[1]), " x ".join(f"{value:.4g}" for value in size)
    far = max(np.abs(low).max(), np.abs(high).max()) > MAX_COORDINATE_MM
    if far or size[2] > _TOO_TALL_MM:
        raise refuse("mesh.extent", file, box=box, unit=unit)
    whole = 2.0 * width if any(_sides(low[1], high[1])) else width
    check_size(float(size[0]), whole, file)
    if width < _TOO_NARROW_MM:
        raise refuse("mesh.narrow", file, width=width, box=box, unit=unit)
    if high[2] <= 0.0:
        raise refuse("mesh.below_ground", file, depth=-high[2])
    odd = []
    if not _NARROW_MM <= whole <= _WIDE_MM:
        odd.append("the width of a vehicle is about 1.5 to 2 m")
    if not 300.0 <= high[2] - low[2] <= 3500.0:
        odd.append("a front is about 1 m high")
    if low[2] > 600.0:
        odd.append(f"it begins {low[2]:.4g} mm above the ground")
    if low[2] < 0.0:
        odd.append(f"it reaches {-low[2]:.4g} mm below the ground")
    if not odd:
        return []
    return [
        f"Implausible: {box} mm (length x width x height) in unit {unit}, ground at {ground:g}: "
        + "; ".join(odd)
        + ". Check unit, forward, up and ground."
    ]


def _sides(low: float, high: float) -> tuple[bool, bool]:
    """Whether a mesh is the right half of a front, and whether it is the left one."""
    return bool(low >= -_HALF_MM), bool(high <= _HALF_MM)


def _stations(
    low: float, high: float, at: float | Sequence[float], symmetric: bool | None, file: str
) -> _Stations:
    notes = []
    right, left = _sides(low, high)
    half = right or left
    if symmetric is None:
        symmetric = half
        if half:
            notes.append(
                f"The mesh lies on the {'right' if right else 'left'} of the centre plane; it was "
                "taken as half of a symmetric front."
            )
    elif symmetric and not half:
        notes.append("symmetric was stated for a whole mesh: its right half was taken.")
        right = True
    near = max(low, 0.0) if symmetric and right else low
    far = min(high, 0.0) if symmetric and left and not right else high
    if isinstance(at, float):
        first = int(np.ceil((near - (_HALF_MM if half else EDGE_MM)) / at))
        last = int(np.floor((far + (_HALF_MM if half else EDGE_MM)) / at))
        if last - first + 1 > MOST_STATIONS:
            raise refuse("mesh.stations", file, count=last - first + 1, most=MOST_STATIONS)
        names = np.arange(first, last + 1, dtype=np.float64) * at + 0.0
    else:
        names = np.unique(np.array(at, dtype=np.float64) + 0.0)
    inside = (names >= near - EDGE_MM) & (names <= far + EDGE_MM)
    if half:  # the centre plane counts although the half may end just short of it
        inside |= names == 0.0
    if not isinstance(at, float) and not inside.all():
        raise refuse("mesh.no_station", file, y=names[~inside][0], near=near, far=far)
    names = names[inside]
    # A vertex on a plane counts as above it: the left edge of a mesh gives nothing, the right does.
    cuts = np.where(names > high, high - EDGE_MM, np.maximum(names, low + EDGE_MM))
    moved = names[cuts != names]
    if len(moved):
        notes.append(
            "The mesh ends at "
            + " and ".join(f"y = {y:g} mm" for y in moved[:2])
            + f"; it was cut {EDGE_MM:g} mm inside its edge there."
        )
    side = 0 if not symmetric else 1 if right else -1
    return _Stations(names, cuts, side, notes)


def _cut(
    data: MeshData,
    axes: Axes,
    extent: tuple[Array, Array],
    at: float | Sequence[float],
    symmetric: bool | None,
    gap: float,
    file: str,
) -> tuple[_Stations, MeshSurface, SliceNotes]:
    """Stations of a mesh, the mesh as a surface, and its sections."""
    low, high = (float(end[1]) for end in extent)
    stations = _stations(low, high, at, symmetric, file)
    surface = MeshSurface(
        data.points, data.faces, data.parts, axes, (low, high), stations.side, gap, join=data.join
    )
    return stations, surface, _sections(surface, stations)


def _sections(surface: MeshSurface, stations: _Stations) -> SliceNotes:
    report = SliceNotes("triangles")
    if not len(stations.names):
        return report
    slices = surface.slices(stations.cuts)
    for y, one in zip(stations.names.tolist(), slices, strict=True):
        report.add(y, one.outline, one.counts)
        report.take(y, one.outline)
    return report

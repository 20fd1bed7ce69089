"""Front files (TOML): one file that says what a shape file does not, accepted wherever a shape is.

Paths are relative to the front file, and nothing outside its folder is read, neither by ``..`` nor
by a link (own choice: a front file that somebody sends reads what came with it and no more).
Lengths are in mm, but `ground.height` and `axes.centre_y` in units of the shape file.
"""

from __future__ import annotations

import difflib
import hashlib
import math
import os
from dataclasses import fields, replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, Final

from frontcheck.errors import InputError, refuse
from frontcheck.files import checked, parse_toml
from frontcheck.front.attitude import adjusted, moved
from frontcheck.front.beside import Beside
from frontcheck.front.front import Front, Source
from frontcheck.front.survey import Attitude, ReferenceMark, Survey
from frontcheck.reading.front_keys import FrontKeys, MarkKeys, PartKeys, PoseKeys, SurveyKeys
from frontcheck.reading.hard_point_file import read_hard_points
from frontcheck.reading.offset_header import read_survey
from frontcheck.reading.spreadsheet import SPREADSHEETS
from frontcheck.reading.step import STEP_SUFFIXES
from frontcheck.reading.table import MAX_BYTES, Cell, file_size, mm_per

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.errors import RefusedError
    from frontcheck.surface.section import Section

WHAT: Final = "a front file in TOML"
GUESSED: Final = "# GUESSED"
"""Marks a line that `frontcheck describe` guessed, until somebody takes the mark away."""
KINDS: Final = {
    "table": (".csv", ".txt", ".tsv", *SPREADSHEETS),
    "drawing": (".dxf",),
    "mesh": (".stl", ".obj", ".ply", ".glb"),
    "step": STEP_SUFFIXES,
    "scan": (".ply", ".stl", ".obj", ".glb"),
}
"""Suffixes of each kind of shape; a model of surfaces may be called a mesh, which it becomes."""
_MAX_BYTES: Final = MAX_BYTES // 400
"""Parsing takes a time that grows with the square of some files."""
_FRONT_AXLE_MM, _WHEELBASE_MM = 750.0, 2500.0
"""Axles behind the foremost point: as those of the draws (`Uncertainty`), common practice."""


def read_front_file(
    path: str | os.PathLike[str], read: Callable[..., Front], **options: Any
) -> Front:
    """Read the shape that a front file names, as it says."""
    _no_options(options, os.fspath(path))
    return front_told(_content(path), path, read)


def parts_told(path: str | os.PathLike[str], **options: Any) -> dict[str, Any]:
    """Return the shape that a front file names, and what it says of names, for `named_parts`."""
    _no_options(options, os.fspath(path))
    told, kind, shapes = _told(_content(path), path)
    parts, exclude, include = _patterns(told)
    if kind == "table" or include:
        raise refuse("front_file.no_names", os.fspath(path), key="kind" if not include else "parts")
    unit = None if kind == "drawing" else told.unit
    return {"path": shapes[0], "unit": unit, "parts": parts, "exclude": exclude,
            "beside": shapes[1:]}  # fmt: skip


def _no_options(options: dict[str, Any], file: str) -> None:
    given = [name for name, value in options.items() if value not in (None, (), {})]
    if given:
        name = given[0].replace("symmetric", "symmetric (--half)")
        raise refuse("front_file.option", file, name=name)


def _content(path: str | os.PathLike[str]) -> bytes:
    """Bytes of a front file."""
    file = os.fspath(path)
    if (size := file_size(path, WHAT)) > _MAX_BYTES:
        raise refuse("front_file.large", file, size=size / 1e6, most=_MAX_BYTES / 1e6)
    return Path(path).read_bytes()


def front_told(content: bytes, path: str | os.PathLike[str], read: Callable[..., Front]) -> Front:
    """Read the shape that a front file names, given as its bytes and where it (is to) stand."""
    file, folder = os.fspath(path), Path(path).parent
    told, kind, shapes = _told(content, path)
    front = _noted(_shape(told, kind, shapes, file, read), told, file)
    hard = told.beside.hard_points
    points = read_hard_points(_within(folder, hard, "beside.hard_points", file)) if hard else None
    used = [front.source, *front.source.files]
    if points is not None:
        used.append(Source(points.file, points.sha256, "hard points"))
    lines = content.decode("utf-8-sig").splitlines()
    guessed = [line.partition("=")[0].strip() for line in lines if GUESSED in line]
    if guessed:
        said = f"Guessed when the front file was begun, and still marked so: {', '.join(guessed)}."
        front = replace(front, assumed=(*front.assumed, said))
    ends = told.beside.beam_ends
    if ends is not None and not ends[0] < ends[1]:
        raise refuse("front_file.beam_ends", file, key="beside.beam_ends", ends=ends)
    return replace(
        front,
        name=told.name or front.name,
        source=replace(
            front.source, file=PurePath(file).name, files=tuple(used),
            sha256=hashlib.sha256(content).hexdigest(),
        ),
        beside=Beside(() if points is None else points.points, ends, told.beside.windscreen_from),
    )  # fmt: skip


def _told(content: bytes, path: str | os.PathLike[str]) -> tuple[FrontKeys, str, list[Path]]:
    """What a front file says, the kind of its shape, and the files of that."""
    file, folder = os.fspath(path), Path(path).parent
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("toml.unreadable", file, reason="not UTF-8 text", what=WHAT) from None
    told = checked(parse_toml(text, file, WHAT, InputError), FrontKeys, file, InputError)
    shapes = [_within(folder, name, f"files[{i}]", file) for i, name in enumerate(told.files, 1)]
    kind = _kind(told, shapes, file)
    _check(told, kind, file)
    return told, kind, shapes


def _patterns(told: FrontKeys) -> tuple[dict[str, Any], tuple[str, ...], tuple[str, ...]]:
    """Patterns of names by part, those left out, those taken alone."""
    given = {name: getattr(told.parts, name) for name in PartKeys.__struct_fields__}
    out, only = (given.pop(name) or () for name in ("exclude", "include"))
    return {name: patterns for name, patterns in given.items() if patterns}, out, only


def _within(folder: Path, name: str, key: str, file: str) -> Path:
    """Where a file that is named lies: in the folder of the front file or below it, or refused."""
    place = folder / name
    try:
        inside = place.resolve().is_relative_to(folder.resolve())
        found = inside and not PurePath(name).is_absolute() and place.is_file()
    except (OSError, ValueError, RuntimeError):  # a loop of links, a NUL, a name beyond all lengths
        inside, found = True, False
    if not inside or PurePath(name).is_absolute():
        raise refuse("front_file.outside", file, key=key, name=name[:80])
    if not found:
        try:
            beside = sorted(each.name for each in place.parent.iterdir() if each.is_file())
        except (OSError, ValueError):
            beside = []
        near = difflib.get_close_matches(place.name[:80], beside, n=1)
        advice = f"did you mean {near[0]}? " if near else ""
        raise refuse("front_file.missing", file, key=key, name=name[:80], advice=advice)
    return place


def _kind(told: FrontKeys, shapes: list[Path], file: str) -> str:
    """The kind of shape, as stated or by suffix; both must agree."""
    suffixes = [shape.suffix.lower() for shape in shapes]
    own_kind = next((name for name, own in KINDS.items() if suffixes[0] in own), None)
    kind = told.kind or own_kind
    fits = {*KINDS.get(kind or "", ()), *(KINDS["step"] if kind == "mesh" else ())}
    if kind is None or not set(suffixes) <= fits:
        known = ", ".join(f"{name} ({' '.join(own)})" for name, own in KINDS.items())
        raise refuse("front_file.kind", file, key="kind" if told.kind else "files",
                     shape=told.kind or "(not stated)", names=told.files, known=known)  # fmt: skip
    if len(shapes) > 1 and kind != "mesh":
        raise refuse("front_file.several", file, key="files", count=len(shapes), shape=kind)
    return kind


def _check(told: FrontKeys, kind: str, file: str) -> None:
    """Refuse keys that say the same twice, or nothing of this kind of shape."""
    cut, ground, pose = told.cut, told.ground, told.attitude
    if cut.stations and cut.pitch is not None:
        raise refuse("front_file.stations_and_pitch", file, key="cut.pitch")
    if ground.auto and ground.height is not None:
        raise refuse("front_file.ground", file, key="ground.auto")
    if pose.pitch_deg and pose.ride_front != pose.ride_rear:
        raise refuse("front_file.pitch", file, key="attitude.pitch_deg")
    table, drawing, mesh = (kind in each for each in (("table",), ("drawing",), ("mesh", "step")))
    spread = told.files[0].lower().endswith(SPREADSHEETS)
    for key, given, fits in (
        ("sheet", told.sheet, spread),
        ("axes.centre_y", told.axes.centre_y, kind != "scan"),
        ("ground.height", ground.height, kind != "scan"),
        ("axes.forward", told.axes.forward not in (None, "-x"), not table),
        ("axes.up", told.axes.up not in (None, "+z"), not table),
        ("ground.auto", ground.auto, kind == "scan"),
        ("cut.pitch", cut.pitch is not None, mesh),
        ("cut.half", cut.half is False, kind != "scan"),
        ("cut.gap", cut.gap is not None, drawing or mesh),
        ("cut.datum", cut.datum == "local", table or drawing),
        ("parts", told.parts != PartKeys(), drawing or mesh),
        ("parts.include", getattr(told.parts, "include", None), mesh),
    ):
        if given and not fits:
            raise refuse("front_file.not_for", file, key=key, name=key, shape=kind)
    shifted = ground.height or told.axes.centre_y
    if table and shifted and told.unit is None:
        raise refuse("front_file.table_unit", file, key="unit")


def _shape(
    told: FrontKeys, kind: str, shapes: list[Path], file: str, read: Callable[..., Front]
) -> Front:
    """The front as the reader of its kind reads it."""
    axes, cut, height = told.axes, told.cut, told.ground.height
    if kind == "scan":
        return _scan(told, shapes[0])
    asked: dict[str, Any]
    if kind == "table":
        k = mm_per(told.unit or "mm")
        said = {"unit": told.unit, "datum": cut.datum, "symmetric": cut.half}
        said = {name: value for name, value in said.items() if value is not None}
        shift = {"station": axes.centre_y * k, "height": (height or 0.0) * k}
        asked = {"told": {**said, "shift": shift}, "sheet": told.sheet or None}
    else:
        asked = {"unit": told.unit, "symmetric": cut.half, "forward": axes.forward, "up": axes.up}
        asked |= {"ground": height, "centre_y": axes.centre_y, "gap": cut.gap}
    if kind in ("mesh", "step"):
        asked |= {"pitch": cut.pitch, "stations": cut.stations or None}
        asked["beside"] = shapes[1:]
    if kind == "drawing":
        asked["firm"] = True
    parts, asked["exclude"], asked["include"] = _patterns(told)
    asked["parts"] = parts or None
    front = read(shapes[0], **{n: v for n, v in asked.items() if v not in (None, (), [])})
    if kind == "drawing" and cut.datum == "local":
        front = replace(front, datum="local")
    if kind in ("mesh", "step") or not cut.stations:
        return front
    missing = [y for y in cut.stations if y not in front.stations]
    if missing:
        raise refuse("front_file.station", file, key="cut.stations", y=missing[0],
                     known=[f"{y:g}" for y in front.stations])  # fmt: skip
    return replace(front, sections=tuple(s for s in front.sections if s.y in cut.stations))


def _scan(told: FrontKeys, shape: Path) -> Front:
    """The front of a scan, which finds its own ground, pose and noise."""
    from frontcheck.reading.scan.scan import read_scan  # here: it takes a library of its own

    axes, stations = told.axes, told.cut.stations or None
    found = read_scan(shape, unit=told.unit, up=axes.up, forward=axes.forward, stations=stations)
    front, noise = found.front, told.noise
    stated = {"error_length_mm": noise.error_length, "scale_u_percent": noise.scale_u}
    unsaid: dict[str, Any] = {name: 0.0 for name, value in stated.items() if value}
    return replace(front, survey=replace(front.survey, **unsaid))


def _noted(front: Front, told: FrontKeys, file: str) -> Front:
    """The front with its survey, its uncertainties and its attitude."""
    slope = told.ground.slope_deg
    if slope and front.ground_slope_deg:
        raise _twice("ground.slope_deg", file)
    survey = _survey(told, front.survey, file)
    sections = front.sections
    for name in ("height_u", "setback_u"):
        u = getattr(told.noise, name)
        if u and any(getattr(section, name) is not None for section in sections):
            raise _twice(f"noise.{name}", file)
        sections = tuple(_with_u(section, name, u) for section in sections) if u else sections
    was = front.attitude.basis
    front = replace(front, sections=sections, survey=survey,
                    ground_slope_deg=slope or front.ground_slope_deg)  # fmt: skip
    pose = told.attitude
    if not (pose.pitch_deg or pose.ride_front or pose.ride_rear):
        return front if was != "as measured" else adjusted(front)
    if survey.marks or survey.arches is not None:
        raise _twice("attitude", file)
    return _posed(front, pose)


def _twice(key: str, file: str) -> RefusedError:
    return refuse("front_file.stated_twice", file, key=key)


def _survey(told: FrontKeys, own: Survey, file: str) -> Survey:
    """What the shape file notes, with what the front file does."""
    lines = {key: getattr(told.survey, key) for key in SurveyKeys.__struct_fields__}
    cells = {k: Cell(str(v), 0, f"survey.{k}") for k, v in lines.items() if v is not None}
    marks = []
    for i, one in enumerate(told.beside.marks, 1):
        values = (
            (one.name, one.x, one.measured_z, one.design_z) if isinstance(one, MarkKeys) else one
        )
        try:
            marks.append(ReferenceMark(*values, key=f"beside.marks[{i}]"))
        except InputError as problem:
            raise problem.at(file=file, key=f"beside.marks[{i}]") from None
    read = replace(
        read_survey(cells, file),
        marks=tuple(marks),
        error_length_mm=told.noise.error_length,
        scale_u_percent=told.noise.scale_u,
    )
    plain = Survey()
    found: dict[str, Any] = {}
    for entry in fields(Survey):
        new = getattr(read, entry.name)
        if new != getattr(plain, entry.name):
            if getattr(own, entry.name) != getattr(plain, entry.name):
                raise _twice(f"survey ({entry.name})", file)
            found[entry.name] = new
    return replace(own, **found)


def _with_u(section: Section, name: str, u: float) -> Section:
    given: dict[str, Any] = {name: [u] * len(section)}
    return replace(section, **given)


def _posed(front: Front, pose: PoseKeys) -> Front:
    """The front turned and lifted as stated."""
    assumed = front.assumed
    attitude = Attitude("front file", pose.pitch_deg, pose.ride_front)
    if pose.ride_front != pose.ride_rear:
        x = float(min(section.x.min() for section in front.sections)) + _FRONT_AXLE_MM
        angle = math.asin((pose.ride_front - pose.ride_rear) / _WHEELBASE_MM)
        attitude = Attitude("front file", math.degrees(angle), pose.ride_front, (x, 0.0))
        said = (
            f"Ride heights are changed at axles {_FRONT_AXLE_MM:g} and "
            f"{_FRONT_AXLE_MM + _WHEELBASE_MM:g} mm behind the foremost point (common practice)."
        )
        assumed = (*assumed, said)
    found = moved(front, "attitude by its front file", attitude.of)
    notes = (*front.reader_notes, f"As the front file states, the front was {attitude.words}.")
    return replace(found, attitude=attitude, assumed=assumed, reader_notes=notes)

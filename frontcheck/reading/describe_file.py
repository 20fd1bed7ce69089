"""A first front file, written after looking at a shape: what was found, and what was guessed.

Guesses are our own choice and marked as such in what is written: units by the size of a vehicle,
axes by how a front stands (even about the centre, its face ahead of and below
its bonnet), the ground 200 mm below the lowest point of a front, or at that of a whole vehicle.
"""

from __future__ import annotations

import itertools
import json
import os
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import CAUTION_SHORT
from frontcheck.errors import InputError, refuse
from frontcheck.geometry.outline import GAP_MM
from frontcheck.reading.cad_file import cad_size, parse_axes
from frontcheck.reading.front_file import GUESSED, KINDS, front_told
from frontcheck.reading.mesh import MAX_BYTES, load_mesh
from frontcheck.reading.offsets import read_offsets
from frontcheck.reading.readers import read_front
from frontcheck.reading.step import STEP_SUFFIXES
from frontcheck.reading.table import MM_PER_UNIT, several
from frontcheck.surface.mesh_surface import MeshSurface

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.geometry.slicing import Axes
    from frontcheck.reading.solid import MeshData

_GUESSED: Final = GUESSED.removeprefix("# ")
_WIDE: Final = 30
"""Comments begin behind this many letters."""
_PARTS: Final = '# bumper = ["BUMPER*"]\n# exclude = ["mirror*", "plate*"]\n'
_GAP_AND_DATUM: Final = (
    f"gap = {GAP_MM:g}".ljust(_WIDE) + ' # widest gap that is bridged\ndatum = "common"'
)
_WIDTH_MM: Final = (1200.0, 2700.0)
"""With mirrors: from memory."""
_HEIGHT_MM: Final = (350.0, 2600.0)
_LENGTH_MM: Final = (300.0, 7000.0)
_WHOLE_MM: Final = 2600.0
"""A mesh longer than this stands on its wheels."""
_WHEELS_MM: Final = 30.0
_LOW_MM: Final = (60.0, 450.0)
"""Lowest point of a front above its ground."""
_CLEARANCE_MM: Final = 200.0
_UNITS: Final = ("mm", "m", "in", "cm")
"""Likeliest first."""
_SOME_MM: Final = (700.0, 16_000.0)
"""What is measured of a vehicle is so large, with the ground about it."""
_CLOUD: Final = 3 * 50_000
"""Coordinates of more points than anybody draws by hand: own choice."""
_PITCH_MM: Final = 50.0
_SAMPLE, _CELLS, _LONE = 50_000, 16, 0.2
"""How evenness is looked at: corners, cells each way, share of cells without a mirror image."""
_AXES: Final = ("-x", "+x", "-y", "+y", "-z", "+z")
_MOST_NAMES: Final = 200


def describe(path: str | os.PathLike[str], out: str | os.PathLike[str] | None = None) -> str:
    """Write a first front file for a shape, after looking at it.

    Parameters
    ----------
    path : str or os.PathLike
        Table, drawing or mesh.
    out : str or os.PathLike, optional
        Where the front file is to stand: beside the shape, or in a folder above it; beside it when
        not given. Nothing is written there.

    Returns
    -------
    str
        The front file, commented. What was guessed is marked ``GUESSED``; where the shape cannot
        be read so, the comments on top say why.

    Raises
    ------
    InputError
        If the file is no shape, or does not lie below the folder of `out`.

    Examples
    --------
    >>> import frontcheck as fc
    >>> text = fc.describe("geometries/plover.csv")
    >>> [line for line in text.splitlines() if line.startswith("files")]
    ['files = ["plover.csv"]']
    """
    shape = Path(path)
    suffix = shape.suffix.lower()
    kind = next((name for name, own in KINDS.items() if suffix in own), None)
    if kind is None:
        known = dict.fromkeys(one for own in KINDS.values() for one in own)
        raise refuse("describe.suffix", os.fspath(path), suffix=suffix, known=known)
    place = shape.with_suffix(".toml") if out is None else Path(out)
    try:
        below = shape.resolve().relative_to(place.resolve().parent)
    except (OSError, ValueError, RuntimeError):
        raise refuse("describe.place", os.fspath(path), out=str(place)) from None
    if below.as_posix().encode(errors="ignore").decode() != below.as_posix():
        raise refuse("describe.name", os.fspath(path))
    look = {"table": _table, "drawing": _drawing}.get(kind, _mesh)(path)
    if look is None:  # no way to stand makes a front of it
        kind, look = "scan", _scan(path)
    words = {
        "what": _plain(shape.name),
        "caution": CAUTION_SHORT,
        "name": _quoted(shape.stem),
        "kind": _line("kind", _quoted(kind), "table, drawing, mesh, scan or step"),
        "file": _quoted(below.as_posix()),
        **look,
    }
    text = Template(files(__package__).joinpath("front_file.txt").read_text("utf-8"))
    draft = text.substitute(words, found="")
    found = [f"# {_plain(line)}\n" for line in _found(draft, place)]
    return text.substitute(words, found="".join(found))


def _found(draft: str, place: Path) -> Iterator[str]:
    """What reading by the front file gives, or why it cannot be read yet."""
    try:
        front = front_told(draft.encode(), place, read_front)
    except InputError as problem:
        yield f"NOT READABLE YET: {problem}"
        return
    ys = front.stations
    half = ", one half for both sides" if front.symmetric else ""
    reach = f"from y = {ys[0]:g} to {ys[-1]:g} mm{half}."
    yield f"Readable as it stands: {several(len(ys), 'station')} {reach}"
    for note in front.reader_notes:
        yield f"Reader: {note}"


def _plain(text: str) -> str:
    """Text for one line of comment."""
    return "".join(c if c.isprintable() else "?" for c in text)


def _quoted(text: str) -> str:
    """Text as a TOML string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _line(key: str, value: object, words: str) -> str:
    """One line of the front file: texts and numbers as TOML writes them."""
    if isinstance(value, bool):
        value = str(value).lower()
    elif isinstance(value, float):
        value = f"{value:.10g}"
    return f"{key} = {value}".ljust(_WIDE) + f" # {words}"


def _half(half: bool) -> str:
    return _line("half", half, "one half stands for both sides")


def _stations(ys: tuple[float, ...]) -> str:
    shown = ", ".join(f"{y:g}" for y in ys[:40]) + ", ..." * (len(ys) > 40)
    return f"# stations = [{shown}]   # all that the file holds are read"


def _table(path: str | os.PathLike[str]) -> dict[str, str]:
    front = read_offsets(path)
    unit = "# unit: the columns are in several, and state them"
    for name in MM_PER_UNIT:
        try:
            read_offsets(path, told={"unit": name})
        except InputError:
            continue
        unit = _line("unit", _quoted(name), "as its columns state")
        break
    return {
        "name": _quoted(front.name),
        "unit": unit,
        "axes": "# a table states setback, station and height\n"
        + _line("# centre_y", 0.0, "station of the centre plane, in unit"),
        "ground": _line("# height", 0.0, "of the ground in its heights, in unit"),
        "cut": f'{_stations(front.stations)}\n{_half(front.symmetric)}\ndatum = "{front.datum}"',
        "parts": "# a table names parts in its column part\n",
    }


def _drawing(path: str | os.PathLike[str]) -> dict[str, str]:
    front: Front | None = None
    unit, how = "mm", f"{_GUESSED}: the drawing cannot be read"
    tries: list[dict[str, Any]] = [{}, *({"unit": name} for name in _UNITS)]
    for options in tries:
        try:
            read = read_front(path, **options)
        except InputError as problem:
            if not options and not problem.code.startswith("insunits."):
                break
            continue
        if not options:
            said = next(note.split()[1] for note in read.reader_notes if note.startswith("Unit "))
            front, unit, how = read, said.rstrip(","), "as the drawing states"
            break
        if any(_like_a_front(section.points) for section in read.sections):
            front, unit, how = read, options["unit"], f"{_GUESSED} by its size"
            break
    flat = front is not None and any("flat drawing" in note for note in front.reader_notes)
    words = {
        "unit": _line("unit", _quoted(unit), how),
        "axes": "\n".join(
            [
                _line("forward", '"-x"', f"{_GUESSED}: the file axis the vehicle faces"),
                _line(
                    "up", '"+y"' if flat else '"+z"', f"{_GUESSED}: the file axis that points up"
                ),
                _line("centre_y", 0.0, "where the centre plane lies across, in unit"),
            ]
        ),
        "ground": _line("height", 0.0, f"{_GUESSED}: of the ground along up, in unit"),
        "cut": (_stations(front.stations) if front else "# stations = [0, 100]")
        + f"\n{_half(front is not None and front.symmetric)}\n{_GAP_AND_DATUM}",
        "parts": _PARTS,
    }
    return words if front is None else words | {"name": _quoted(front.name)}


def _like_a_front(points: Array) -> bool:
    """Whether a contour has its face ahead of and below its bonnet."""
    x, z = points[:, 0], points[:, 1]
    at = int(np.argmin(x))
    span, height = float(np.ptp(x)), float(np.ptp(z))
    back, up = float(x[-1] - x[0]), float(z[-1] - z[0])
    # What lies between the ends bulges up and ahead of the line from one to the other.
    ahead = at < len(x) - 1 and float(np.mean((z - z[0]) * back - (x - x[0]) * up)) > 0.0
    ahead = ahead and float(z[at] - z.min()) <= 0.6 * height  # a nose is low
    risen = x[-1] - x[at] >= 100.0 and up >= 250.0
    return bool(ahead and risen and 250.0 <= span <= 7000.0 and height <= 2600.0)


@dataclass(frozen=True)
class _Pose:
    """One way in which a mesh may stand."""

    unit: str
    forward: str
    up: str
    axes: Axes
    low: Array  # Extent in our axes, ground and centre at 0 of the file [mm]
    high: Array
    centre: float = 0.0  # y of its centre plane so far [mm]
    half: bool = False


def _scan(path: str | os.PathLike[str]) -> dict[str, str]:
    from frontcheck.reading.scan.scan_points import scan_points

    points, _ = scan_points(path, "mm", [])
    low, high = np.quantile(points, [0.01, 0.99], axis=0)  # strays tell nothing
    unit, size = _unit_of(high - low)
    return {
        "unit": _line("unit", _quoted(unit), f"{_GUESSED} by its size: {size} mm"),
        "axes": '# forward = "-x"               # found; say it where it is not\n# up = "+z"',
        "ground": "auto = true                    # it is found",
        "cut": "# stations = [0, 100]          # out from the centre; each 100 mm when not given",
        "parts": "",
    }


def _unit_of(extent: Array) -> tuple[str, str]:
    """Unit in which something has the size of a vehicle, and that size."""
    fits = (u for u in _UNITS if _SOME_MM[0] <= extent.max() * MM_PER_UNIT[u] <= _SOME_MM[1])
    unit = next(fits, "mm")
    return unit, " x ".join(f"{value * MM_PER_UNIT[unit]:.0f}" for value in extent)


def _mesh(path: str | os.PathLike[str]) -> dict[str, str] | None:
    file = os.fspath(path)
    model = Path(file).suffix.lower() in STEP_SUFFIXES
    try:
        data = load_mesh(path, cad_size(path, MAX_BYTES, "a mesh file"))
        data.clean(file)
    except InputError as problem:
        if problem.code != "mesh.no_triangle" or model:
            raise
        return None
    pose = next((one for one in _poses(data, file) if _cut_well(data, one)), None)
    if (pose is None or _odd(data, pose)[0]) and not model and data.points.size > _CLOUD:
        return None  # many points, and no way to stand makes them even: a scan
    names = sorted({name for name in data.objects if name})
    if pose is None:
        unit, _ = _unit_of(np.ptp(np.stack(data.extent()), axis=0))
        ways = (data.forward or "-x", data.up or "+z", data.unit or unit)
        pose = _pose(data, ways[2], ways[0], ways[1], file)
    k = MM_PER_UNIT[pose.unit]
    sign = 1.0 if pose.axes.scale[1] > 0.0 else -1.0
    size = " x ".join(f"{value:.0f}" for value in pose.high - pose.low)
    low, long = float(pose.low[2]), float(pose.high[0] - pose.low[0]) > _WHOLE_MM
    told = abs(low) <= _WHEELS_MM if long else _LOW_MM[0] <= low <= _LOW_MM[1]
    ground = 0.0 if told else low if long else low - _CLEARANCE_MM
    sure = "as the file states" if model else "by the standard of the format"
    left, right = (float(end[1]) - pose.centre for end in (pose.low, pose.high))
    parts = f"# names in the file: {_plain(', '.join(names[:_MOST_NAMES]))}\n" if names else ""
    centre = f"{_GUESSED}: where" if pose.centre else "where"
    above = f"the lowest point is {low - ground:.0f} mm above it"
    reach = f"the mesh reaches from y = {left:.0f} to {right:.0f} mm"
    own = f"{sure if data.unit else f'{_GUESSED} by its size'}: {size} mm (length x width x height)"
    axes = [
        _line(
            name,
            _quoted(way),
            f"{sure if way == known else f'{_GUESSED} by its shape'}: the file axis {words}",
        )
        for name, way, known, words in (
            ("forward", pose.forward, data.forward, "the vehicle faces"),
            ("up", pose.up, data.up, "that points up"),
        )
    ]
    middle = sign * pose.centre / k + 0.0
    axes.append(_line("centre_y", middle, f"{centre} the centre plane lies across, in unit"))
    cut = _line("pitch", _PITCH_MM, f"or stations = [0, 100]; {reach}")
    return {
        "unit": _line("unit", _quoted(pose.unit), own),
        "axes": "\n".join(axes),
        "ground": _line(
            "height", ground / k + 0.0, f"{_GUESSED}: of the ground along up, in unit; {above}"
        ),
        "cut": f"{cut}\n{_half(pose.half)}\n{_GAP_AND_DATUM}",
        "parts": parts + _PARTS,
    }


def _pose(data: MeshData, unit: str, forward: str, up: str, file: str) -> _Pose:
    axes = parse_axes(forward, up, unit, 0.0, file)
    corners = np.stack(data.extent())
    ours = np.stack([axes.column(corners, i) for i in range(3)], axis=1)
    low, high = ours.min(axis=0), ours.max(axis=0)
    width = high[1] - low[1]
    half = bool(min(abs(low[1]), abs(high[1])) <= 0.02 * width)
    even = abs(low[1] + high[1]) <= 0.02 * width
    centre = 0.0 if half or even else float(low[1] + high[1]) / 2.0
    return _Pose(unit, forward, up, axes, low, high, centre, half)


def _poses(data: MeshData, file: str) -> Iterator[_Pose]:
    """Ways in which a mesh may stand that have the size of a vehicle front, likeliest first."""
    units = [data.unit] if data.unit else _UNITS
    own = [(data.forward, data.up)] if data.forward and data.up else []
    usual = [("-x", "+z"), ("+x", "+z"), ("+z", "+y"), ("-z", "+y"), ("-y", "+z"), ("+y", "+z")]
    ways = [*own, *usual, *itertools.product(_AXES, _AXES)]
    ways = [way for way in dict.fromkeys(ways) if way[0][1] != way[1][1]]
    found = []
    for unit, (forward, up) in itertools.product(units, ways):
        pose = _pose(data, unit, forward, up, file)
        length, width, height = (pose.high - pose.low).tolist()
        whole = 2.0 * width if pose.half else width
        sizes = ((length, _LENGTH_MM), (whole, _WIDTH_MM), (height, _HEIGHT_MM))
        if all(least <= value <= most for value, (least, most) in sizes):
            found.append(pose)
    yield from sorted(found, key=lambda pose: _odd(data, pose))


def _odd(data: MeshData, pose: _Pose) -> tuple[bool, bool, bool, bool]:
    """What speaks against a pose: no mirror image of itself, shifted, a tower, tail before nose."""
    length, _, height = (pose.high - pose.low).tolist()
    corners = data.points.reshape(-1, 3)
    some = corners[:: max(len(corners) // _SAMPLE, 1)]
    at = np.stack([pose.axes.column(some, i) for i in range(3)], axis=1) - pose.low
    cells = np.minimum(at / (pose.high - pose.low) * _CELLS, _CELLS - 1).astype(int)
    there = set(map(tuple, cells.tolist()))
    lone = sum((x, _CELLS - 1 - y, z) not in there for x, y, z in there)
    uneven = not pose.half and lone > _LONE * len(there)
    backward = length > _WHOLE_MM and _top(cells[:, 0], at[:, 2]) > _top(-1 - cells[:, 0], at[:, 2])
    return uneven, pose.centre != 0.0, height > length, backward


def _top(cells: NDArray[np.integer], z: Array) -> float:
    """How high the first quarter of a vehicle is; bonnets are lower than tails (from memory)."""
    top = np.full(_CELLS, -np.inf)
    np.maximum.at(top, cells, z)
    first = top[: _CELLS // 4]
    return float(first[np.isfinite(first)].mean())


def _cut_well(data: MeshData, pose: _Pose) -> bool:
    """Whether the section near the centre plane is that of a front."""
    low, high = pose.low[1], pose.high[1]
    middle = (0.0 if pose.low[1] >= -abs(high) * 0.02 else high) if pose.half else pose.centre
    y = float(np.clip(middle, low + 0.03 * (high - low), high - 0.03 * (high - low)))
    surface = MeshSurface(data.points, data.faces, None, pose.axes, (float(low), float(high)))
    outline = next(iter(surface.slices(np.array([y])))).outline
    return outline is not None and _like_a_front(outline.points)

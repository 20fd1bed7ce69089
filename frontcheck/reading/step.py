"""STEP and IGES models (ISO 10303-21, IGES 5.3): products and shapes made into triangles.

cascadio makes the triangles, in a process of its own with a limit of time and of memory, for a
model can ask for any amount of either. It hands over metres for STEP and millimetres for IGES,
whatever unit the file is in; what is kept is in the unit that the file states.
"""

from __future__ import annotations

import hashlib
import math
import os
import re
import sys
from contextlib import ExitStack
from graphlib import CycleError, TopologicalSorter
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.reading import step_child
from frontcheck.reading.mesh_parsed import laid_down
from frontcheck.reading.part_names import shown
from frontcheck.reading.processes import answer_of
from frontcheck.reading.table import MM_PER_UNIT, mm_per

if TYPE_CHECKING:
    from frontcheck.reading.solid import MeshData

STEP_SUFFIXES: Final = (".step", ".stp", ".iges", ".igs")
CHORD_MM: Final = 0.1
"""Distance of a triangle from its surface that is aimed at when none is given [mm]."""
ANGLE_RAD: Final = 0.5
"""Turn from one triangle to the next that is aimed at when none is given [rad]."""
TIME_S: Final = 120
MEMORY_BYTES: Final = 4_000_000_000
_MOST_OUTPUT: Final = 500_000_000
_JOIN_CHORDS: Final = 3.0
"""Own choice: faces that share an edge each come within a chord of it, and a cut may run aslant."""
_MOST_PLACED: Final = 20_000
_CONTEXT: Final = re.compile(rb"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\s*\(([^)]*)\)")
_REFERENCE: Final = re.compile(rb"#(\d+)")
_LONGEST: Final = 2_000
_MOST_UNITS: Final = 100_000
_TEXT: Final = rb"(?:(?:'[^']*')+|\$)\s*,\s*"
_PLACED: Final = re.compile(
    rb"NEXT_ASSEMBLY_USAGE_OCCURRENCE\s*\(\s*" + 3 * _TEXT + rb"#(\d+)\s*,\s*#(\d+)"
)
_NO_GEOMETRY: Final = re.compile(r"skipped node '(.*)' without geometry")
_PREFIXES: Final = {
    b"MILLI": 1.0,
    b"CENTI": 10.0,
    b"DECI": 100.0,
    b"": 1e3,
    b"KILO": 1e6,
    b"MICRO": 1e-3,
}
_IGES_UNITS: Final = {"1": 25.4, "2": 1.0, "4": 304.8, "6": 1000.0, "10": 10.0}
"""Unit flags of IGES that we read [mm] (IGES 5.3, global section; from memory)."""
_IGES_NAMES: Final = {"MM": 1.0, "CM": 10.0, "M": 1e3, "IN": 25.4, "INCH": 25.4, "FT": 304.8}


def read_step(
    path: str | os.PathLike[str],
    unit: str | None = None,
    chord: float = CHORD_MM,
    angle: float = ANGLE_RAD,
) -> MeshData:
    """Read a STEP or IGES model; the unit stated must be the file's own."""
    file = os.fspath(path)
    content = Path(file).read_bytes()
    step = PurePath(file).suffix.lower() in STEP_SUFFIXES[:2]
    sizes = _step_units(content, file) if step else _iges_units(content, file)
    names = [n for n, mm in MM_PER_UNIT.items() if sizes and all(_alike(mm, s) for s in sizes)]
    own = " and ".join(names or [f"{size:g} mm" for size in sizes])
    if not sizes and (unit is None or not step):
        raise refuse("step.no_unit" if step else "step.no_iges_unit", file)
    if unit is not None and sizes and names != [unit]:
        raise refuse("step.unit", file, unit=unit, own=own)
    notes = [] if names or not sizes else [f"Lengths in units of {own}, turned into mm."]
    kind = "step" if step else "iges"
    glb, empty = _triangles(content, kind, chord, angle, file)
    mesh = laid_down(glb, file)
    mesh.unit = unit or (names[0] if names else "mm")
    # Rounded to what 32-bit numbers hold of a front; without a unit, lengths were read as mm.
    mesh.points = np.round(mesh.points * (1000.0 if step else 1.0), 3)
    mesh.points /= mm_per(mesh.unit) if sizes else 1.0
    mesh.sha256 = hashlib.sha256(content).hexdigest()
    mesh.join = _JOIN_CHORDS * chord
    if empty:
        mesh.cautions = (f"Of {shown(empty)} no shape could be read: it is missing here.",)
    mesh.notes += notes
    mesh.notes.append(
        f"Surfaces were cut into triangles, aiming at {chord:g} mm from them at most, and at a "
        f"turn of {angle:g} rad from one to the next."
    )
    return mesh


def _alike(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-6)


def _triangles(
    content: bytes, kind: str, chord: float, angle: float, file: str
) -> tuple[bytes, list[str]]:
    """A model as GLB, and the products of which no shape could be read."""
    told = (kind, *map(repr, (chord, angle)), str(_MOST_OUTPUT))
    env: dict[str, str] = {}
    with ExitStack() as stack:
        if sys.platform != "linux":  # where the library goes by way of a file
            folder = stack.enter_context(TemporaryDirectory())
            env = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), folder)
        try:
            done = answer_of("step_child", told, content, seconds=TIME_S, memory=MEMORY_BYTES,
                             output=_MOST_OUTPUT, env=env)  # fmt: skip
        except TimeoutError:
            raise refuse("step.too_long", file, seconds=TIME_S) from None
    said = re.sub(r"\x1b\[[0-9;]*m", "", done.stderr.decode("utf-8", "replace"))
    if done.returncode == step_child.NO_PACKAGE:
        raise refuse("step.no_package", file)
    if done.returncode == step_child.TOO_MANY:
        raise refuse("step.too_many", file)
    wrong = re.search(r"(Line \d+: .*?)\s*\**$", said, re.MULTILINE)
    if wrong and not done.stdout:
        raise refuse("step.damaged", file, reason=wrong[1])
    if done.returncode != 0:
        end = f"{'signal' if done.returncode < 0 else 'code'} {abs(done.returncode)}"
        raise refuse("step.broke_off", file, end=end, memory=MEMORY_BYTES / 1e9)
    if not done.stdout:
        raise refuse("step.no_shape", file)
    return done.stdout, sorted(set(_NO_GEOMETRY.findall(said)))


# What a file says of itself, looked up in its text: units and what is placed in what.


def _step_units(content: bytes, file: str) -> list[float]:
    """Sizes [mm] of the units of length that the geometry of a STEP file is in."""
    if not content.lstrip().startswith(b"ISO-10303-21"):
        raise refuse("step.no_step", file)
    _check_assembly(content, file)
    used = {ref for held in set(_CONTEXT.findall(content)) for ref in _REFERENCE.findall(held)}
    known = _instances(content, b"LENGTH_UNIT")
    known |= _instances(content, b"MEASURE_WITH_UNIT")
    sizes = {_size(ref, known, 4) for ref in used if b"LENGTH_UNIT" in known.get(ref, b"")}
    return sorted(sizes - {0.0})


def _instances(content: bytes, word: bytes) -> dict[bytes, bytes]:
    """Instances that hold a word, by their number."""
    found: dict[bytes, bytes] = {}
    at = content.find(word)
    while at >= 0 and len(found) < _MOST_UNITS:
        start = content.rfind(b";", max(at - _LONGEST, 0), at) + 1
        stop = content.find(b";", at, at + _LONGEST)
        number = re.match(rb"\s*#(\d+)\s*=", content[start:at]) if start else None
        if number and stop >= 0:
            found[number[1]] = content[start:stop]
        at = content.find(word, max(stop, at + 1))
    return found


def _size(number: bytes, known: dict[bytes, bytes], depth: int) -> float:
    """Size of a unit [mm]: of the metre with a prefix, or so many of another; 0 for none."""
    text = known.get(number, b"")
    metre = re.search(rb"SI_UNIT\s*\(\s*(?:\.(\w+)\.|\$)\s*,\s*\.METRE\.", text)
    if metre:
        return _PREFIXES.get(metre[1] or b"", 0.0)
    other = re.search(rb"CONVERSION_BASED_UNIT\s*\(\s*'[^']*'\s*,\s*#(\d+)", text)
    measure = known.get(other[1], b"") if other else b""
    count = re.search(rb"LENGTH_MEASURE\s*\(\s*([\d.Ee+-]+)\s*\)\s*,\s*#(\d+)", measure)
    if not count or depth == 0:
        return 0.0
    try:
        return float(count[1]) * _size(count[2], known, depth - 1)
    except ValueError:
        return 0.0


def _check_assembly(content: bytes, file: str) -> None:
    """Refuse products that hold themselves, or more than anybody could want."""
    held: dict[bytes, list[bytes]] = {}
    for outer, inner in _PLACED.findall(content):
        held.setdefault(outer, []).append(inner)
    counts: dict[bytes, int] = {}
    try:
        for product in TopologicalSorter(held).static_order():
            count = 1 + sum(counts[one] for one in held.get(product, ()))
            counts[product] = min(count, _MOST_PLACED + 1)
    except CycleError as problem:
        ring = " > ".join(f"#{one.decode()}" for one in problem.args[1])
        raise refuse("step.product_in_itself", file, ring=ring) from None
    inside = {one for ones in held.values() for one in ones}
    if sum(counts[outer] for outer in held if outer not in inside) > _MOST_PLACED:
        raise refuse("step.many_placed", file, most=_MOST_PLACED)


def _iges_units(content: bytes, file: str) -> list[float]:
    """Size [mm] of the unit of an IGES file: values 13 to 15 of its global section."""
    lines = content[:100_000].decode("ascii", "replace").splitlines()
    text = "".join(line[:72] for line in lines if line[72:73] == "G")
    if not lines or lines[0][72:73] != "S" or not text:
        raise refuse("step.no_iges", file)
    values: list[str] = []
    mark, end = ",", ";"
    while text and len(values) < 15:
        counted = re.match(r"\s*(\d+)H", text)  # a text, which may hold any mark, says its length
        stop = counted.end() + int(counted[1]) if counted else 0
        value = text[counted.end() : stop] if counted else ""
        while stop < len(text) and text[stop] not in mark + end:
            stop += 1
        values.append(value or text[:stop].strip())
        mark, end = (values[0] or mark), ((values[1:2] or [""])[0] or end)
        text = text[stop + 1 :]
    scale, flag, name = (values + [""] * 15)[12:15]
    if not re.fullmatch(r"(1\.?0*([EeDd][+-]?0+)?)?", scale):
        raise refuse("step.iges_scale", file, scale=repr(scale[:20]))
    unit = _IGES_NAMES.get(name.upper()) if flag == "3" else _IGES_UNITS.get(flag)
    return [unit] if unit else []

"""STL (binary and text) and OBJ files taken apart, by their published layouts."""

from __future__ import annotations

import hashlib
import os
from array import array
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final, TypeVar

import numpy as np

from frontcheck.errors import refuse
from frontcheck.geometry.slicing import JOIN_MM
from frontcheck.reading.part_names import named, parts_of, shown
from frontcheck.reading.table import several
from frontcheck.surface.section import IGNORE, PARTS

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Mask

    _Number = TypeVar("_Number", bound=np.number[Any])

# Triangles as a file gives them, before anything is known of vehicles.

NO_PART: Final = -1
_AT_ONCE: Final = 20_000
_MOVED_AT_ONCE: Final = 5_000
MOST_TRIANGLES: Final = 40_000_000
_MOST_BAD: Final = 0.01
"""Share of triangles that may be damaged: beyond it the file is."""


@dataclass(eq=False)
class MeshData:
    """Triangles in file coordinates."""

    points: NDArray[np.floating]  # (m, 3, 3) corners, or (n, 3) vertices when there are `faces`
    faces: NDArray[np.integer] | None  # (m, 3) int, vertices of every triangle
    parts: NDArray[np.integer] | None  # (m,) int, index into `PARTS`, `NO_PART` for none
    sha256: str  # Digest of the file
    notes: list[str]  # What was found and repaired
    unit: str | None = None  # Unit that the file or its standard states
    forward: str | None = None  # Axes that the file's standard states
    up: str | None = None  # Axes that the file's standard states
    objects: tuple[str, ...] = ()  # Names of groups, objects or nodes; none for STL and PLY
    object_of: NDArray[np.integer] | None = None  # (m,) int, index into `objects`
    cautions: tuple[str, ...] = ()  # What the file holds and could not be read
    join: float = JOIN_MM  # How far apart the edges of neighbouring triangles may lie [mm]

    def __len__(self) -> int:
        """Return the number of triangles."""
        return len(self.points if self.faces is None else self.faces)

    def clean(self, file: str) -> None:
        """Leave out triangles that are damaged, and say so."""
        total = len(self)
        if total == 0:
            raise refuse("mesh.no_triangle", file)
        if total > MOST_TRIANGLES:
            raise refuse("mesh.many", file, count=total, most=MOST_TRIANGLES)
        self._drop(~self._whole(file), "with a corner that is not a finite number", file, total)
        if len(self):
            self._drop(self._folded(), "without area (two corners in one place)", file, None)
        if len(self) == 0:
            raise refuse("mesh.no_triangle", file)

    def extent(self) -> tuple[Array, Array]:
        """Return the lowest and the highest coordinate of each file axis."""
        points = self.points
        if self.faces is not None:
            used = np.zeros(len(points), dtype=bool)
            used[self.faces.reshape(-1)] = True
            points = points if used.all() else points[used]
        flat = points.reshape(-1, 3)
        low = np.array([flat[:, i].min() for i in range(3)], dtype=np.float64)
        high = np.array([flat[:, i].max() for i in range(3)], dtype=np.float64)
        return low, high

    def _whole(self, file: str) -> Mask:
        flat = self.points.reshape(-1, 3)
        if self.faces is not None:
            low, high = int(self.faces.min()), int(self.faces.max())
            if low < 0 or high >= len(flat):
                raise refuse(
                    "mesh.vertex", file, vertex=low if low < 0 else high, last=len(flat) - 1
                )
        # A sum is finite when every number is; only otherwise each is looked at.
        with np.errstate(over="ignore", invalid="ignore"):
            if np.isfinite(flat.sum(dtype=np.float64)):
                return np.ones(len(self), dtype=bool)
        fine = np.isfinite(flat).all(axis=1)
        whole = fine.reshape(-1, 3) if self.faces is None else fine[self.faces]
        result: Mask = whole.all(axis=1)
        return result

    def _folded(self) -> Mask:
        folded = np.zeros(len(self), dtype=bool)
        for at in range(0, len(self), 200_000):
            part = slice(at, at + 200_000)
            corners = self.points[part] if self.faces is None else self.points[self.faces[part]]
            for i, j in ((0, 1), (1, 2), (2, 0)):
                same = corners[:, i, 0] == corners[:, j, 0]
                for axis in (1, 2):
                    if not same.any():
                        break
                    same &= corners[:, i, axis] == corners[:, j, axis]
                folded[part] |= same
        return folded

    def _drop(self, bad: Mask, what: str, file: str, total: int | None) -> None:
        count = int(bad.sum())
        if count == 0:
            return
        if total is not None and count > _MOST_BAD * total:
            raise refuse(
                "mesh.not_finite", file, count=several(count, "triangle"), total=total, what=what
            )
        self.keep(~bad)
        self.notes.append(f"Left out: {several(count, 'triangle')} {what}.")

    def keep(self, which: Mask) -> None:
        """Leave out all other triangles."""
        if self.faces is None:
            self.points = _moved_up(self.points, which)
        else:
            self.faces = _moved_up(self.faces, which)
        self.parts = None if self.parts is None else self.parts[which]
        self.object_of = None if self.object_of is None else self.object_of[which]

    def choose(self, include: Sequence[str], exclude: Sequence[str], file: str) -> None:
        """Keep the objects that match a pattern to include, if any, and none to exclude."""
        if not (include or exclude):
            return
        if self.object_of is None:
            raise refuse("mesh.no_names", file)
        wanted = named(self.objects, include, file) if include else set(range(len(self.objects)))
        wanted -= named(self.objects, exclude, file)
        self._leave_out(set(range(len(self.objects))) - wanted, file)

    def label(
        self, wanted: Mapping[str, Sequence[str]] | None, file: str, *, chosen: bool = False
    ) -> None:
        """Label triangles by the names of their objects, and leave out what is to be ignored."""
        if self.object_of is None:
            if wanted:
                raise refuse("mesh.no_names", file)
            return
        parts = parts_of(self.objects, wanted, file)
        if chosen:  # what was asked for by name stays, whatever the table of words says
            own = named(self.objects, (wanted or {}).get(IGNORE, ()), file)
            parts = ["" if p == IGNORE and i not in own else p for i, p in enumerate(parts)]
        numbers = np.array([PARTS.index(p) if p else NO_PART for p in parts], dtype=np.int8)
        self._leave_out([i for i, part in enumerate(parts) if part == IGNORE], file)
        self.parts = numbers[self.object_of]
        found = [PARTS[i] for i in np.unique(self.parts) if i != NO_PART]
        if not found:
            self.parts = None
            return
        rest = int((self.parts == NO_PART).sum())
        self.notes.append(
            f"Parts by the names of groups or objects: {', '.join(found)}"
            + (f"; {several(rest, 'triangle')} without." if rest else ".")
        )

    def _leave_out(self, objects: Collection[int], file: str) -> None:
        assert self.object_of is not None
        lost = np.isin(self.object_of, list(objects))
        if not lost.any():
            return
        if lost.all():
            raise refuse("mesh.none_chosen", file, names=shown(self.objects))
        names = shown([self.objects[i] for i in np.unique(self.object_of[lost])])
        self.keep(~lost)
        self.notes.append(f"Left out by name: {several(int(lost.sum()), 'triangle')} of {names}.")


def _moved_up(rows: NDArray[_Number], which: Mask) -> NDArray[_Number]:
    """Rows kept, moved up within their own memory: fresh memory costs more than the move."""
    to = 0
    for at in range(0, len(rows), _MOVED_AT_ONCE):
        kept = rows[at : at + _MOVED_AT_ONCE][which[at : at + _MOVED_AT_ONCE]]
        rows[to : to + len(kept)] = kept
        to += len(kept)
    return rows[:to]


_HEADER: Final = 84
_RECORD: Final = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
_MAX_LINE: Final = 1_000_000


def read_stl(path: str | os.PathLike[str], size: int) -> MeshData:
    """Read an STL file."""
    file = os.fspath(path)
    with Path(file).open("rb") as stream:
        head = stream.read(_HEADER)
        count = int.from_bytes(head[80:84], "little") if len(head) == _HEADER else 0
        needed = _HEADER + _RECORD.itemsize * count
        text = head.lstrip().lower().startswith(b"solid")
        if len(head) == _HEADER and size == needed and count > 0:
            return _binary(stream, head, count, size - needed)
        if text:
            stream.seek(0)
            return _text_stl(stream, file)
        if len(head) < _HEADER:
            raise refuse("stl.short", file, size=size)
        if not any(head[:80]) and count == 0:
            raise refuse("stl.empty", file)
        if size < needed:
            raise refuse(
                "stl.cut_short",
                file,
                triangles=several(count, "triangle"),
                needed=needed,
                size=size,
            )
        if count == 0 or size >= needed + _RECORD.itemsize:
            raise refuse("stl.length", file, triangles=several(count, "triangle"), size=size)
        return _binary(stream, head, count, size - needed)


def _binary(stream: BinaryIO, head: bytes, count: int, spare: int) -> MeshData:
    from concurrent.futures import ThreadPoolExecutor

    digest = hashlib.sha256(head)
    corners = np.empty((count, 3, 3), dtype=np.float32)
    blocks = np.empty((2, min(count, _AT_ONCE)), dtype=_RECORD)
    with ThreadPoolExecutor(1) as other:
        digested = None
        for i, at in enumerate(range(0, count, _AT_ONCE)):
            part = blocks[i % 2, : min(_AT_ONCE, count - at)]
            stream.readinto(part.view(np.uint8).data)  # type: ignore[attr-defined]
            # Digested while it is taken apart and the next block read.
            if digested is not None:
                digested.result()
            digested = other.submit(digest.update, part.view(np.uint8).data)
            corners[at : at + len(part)] = part["corners"]
    notes = []
    if spare:
        while rest := stream.read(1_000_000):
            digest.update(rest)
        notes.append(f"{several(spare, 'byte')} after the last triangle were left aside.")
    return MeshData(corners, None, None, digest.hexdigest(), notes)


_WITHIN: Final[dict[bytes, tuple[bytes, list[bytes]]]] = {
    b"solid": (b"solid", []),
    b"facet": (b"facet", [b"solid"]),
    b"outer": (b"loop", [b"facet"]),
}
"""What each word of a text STL opens, and within what."""
_PLACES: Final = {b"solid": "no solid", b"facet": "a solid", b"loop": "a facet"}
_ENDS: Final = {b"endloop": b"loop", b"endfacet": b"facet", b"endsolid": b"solid"}
_CLOSED: Final = {b"endloop": "an outer loop", b"endfacet": "a facet", b"endsolid": "a solid"}


def _text_stl(stream: BinaryIO, file: str) -> MeshData:
    digest = hashlib.sha256()
    numbers = array("d")
    # What has been opened and not closed yet, innermost last: a damaged text is not mended.
    inside: list[bytes] = []
    corners = 0
    ended = False
    for row, line in enumerate(_lines(stream, digest, file), start=1):
        words = line.split()
        if not words:
            continue
        first = words[0].lower()
        if first == b"vertex":
            if inside[-1:] != [b"loop"]:
                raise refuse("stl.order", file, row, word="vertex", within="an outer loop")
            _numbers(numbers, words[1:], file, row)
            corners += 1
        elif first in _WITHIN:
            word, place = _WITHIN[first]
            if inside[-1:] != place:
                raise refuse("stl.order", file, row, word=first.decode(), within=_PLACES[word])
            inside.append(word)
            corners, ended = 0, False
        elif first in _ENDS:
            if inside[-1:] != [_ENDS[first]]:
                raise refuse("stl.order", file, row, word=first.decode(), within=_CLOSED[first])
            if first != b"endsolid" and corners != 3:
                raise refuse("stl.facet", file, row, corners=several(corners, "corner"))
            inside.pop()
            ended = first == b"endsolid"
        else:
            raise refuse("stl.word", file, row, text=_shown(line))
    if inside or not ended:
        raise refuse("stl.unfinished", file, row)
    points = np.array(numbers, dtype=np.float64).reshape(-1, 3, 3)
    return MeshData(points, None, None, digest.hexdigest(), [])


def read_obj(path: str | os.PathLike[str]) -> MeshData:
    """Read the polygons of an OBJ file, with the names of its groups and objects."""
    file = os.fspath(path)
    digest = hashlib.sha256()
    numbers, corners = array("d"), array("q")
    held_names = {b"o": "", b"g": ""}
    objects: dict[str, int] = {}
    starts, owners = [0], [""]
    skipped: dict[str, int] = {}
    polygons = 0
    with Path(file).open("rb") as stream:
        row, held = 0, b""
        for row, line in enumerate(_lines(stream, digest, file), start=1):
            text = held + line.split(b"#", 1)[0]
            if text.rstrip().endswith(b"\\"):
                held = text.rstrip()[:-1] + b" "
                continue
            held = b""
            words = text.split()
            if not words:
                continue
            kind = words[0]
            if kind == b"v":
                _numbers(numbers, words[1:4], file, row)
            elif kind == b"f":
                ring = [_vertex(word, len(numbers) // 3, file, row) for word in words[1:]]
                if len(ring) < 3:
                    raise refuse("obj.face", file, row, corners=several(len(ring), "corner"))
                polygons += len(ring) > 3
                for b, c in zip(ring[1:], ring[2:], strict=False):
                    corners.extend((ring[0], b, c))
            elif kind in {b"g", b"o"}:
                name = b" ".join(words[1:]).decode("utf-8", "replace")
                held_names[kind] = name
                if kind == b"o":
                    held_names[b"g"] = ""
                starts.append(len(corners) // 3)
                owners.append("/".join(n for n in held_names.values() if n))
            elif kind not in {b"vn", b"vt", b"s", b"usemtl", b"mtllib"}:
                name = kind[:20].decode("utf-8", "replace")
                skipped[name] = skipped.get(name, 0) + 1
                if not name.isprintable() or sum(skipped.values()) > 1000:
                    raise refuse("obj.line", file, row, text=_shown(line))
    if not corners:
        raise refuse("obj.no_face", file, lines=several(row, "line"))
    notes = []
    if polygons:
        notes.append(f"{several(polygons, 'polygon')} of more than three corners were cut in fans.")
    for name, times in sorted(skipped.items()):
        notes.append(f"Skipped: {several(times, 'line')} of kind {name}.")
    counts = np.diff([*starts, len(corners) // 3])
    for name, triangles in zip(owners, counts.tolist(), strict=True):
        if triangles:
            objects.setdefault(name, len(objects))
    own = np.array([objects.get(name, 0) for name in owners], dtype=np.int32)
    return MeshData(
        np.array(numbers, dtype=np.float64).reshape(-1, 3),
        np.array(corners, dtype=np.int64).reshape(-1, 3),
        None,
        digest.hexdigest(),
        notes,
        objects=tuple(objects),
        object_of=np.repeat(own, counts) if any(objects) else None,
    )


def _lines(stream: BinaryIO, digest: hashlib._Hash, file: str) -> _LineReader:
    return _LineReader(stream, digest, file)


class _LineReader:
    """Lines of a file, none longer than a limit, with the digest of all bytes."""

    def __init__(self, stream: BinaryIO, digest: hashlib._Hash, file: str) -> None:
        self.stream, self.digest, self.file = stream, digest, file
        self.row = 0

    def __iter__(self) -> _LineReader:
        return self

    def __next__(self) -> bytes:
        line = self.stream.readline(_MAX_LINE)
        if not line:
            raise StopIteration
        self.row += 1
        self.digest.update(line)
        if len(line) >= _MAX_LINE or b"\0" in line:
            raise refuse(
                "mesh.no_text",
                self.file,
                self.row,
                found="a NUL byte: a binary file"
                if b"\x00" in line
                else "a line of a million bytes",
            )
        return line


def _shown(line: bytes) -> str:
    return repr(line.strip()[:40].decode("utf-8", "replace"))


def _numbers(into: array[float], words: list[bytes], file: str, row: int) -> None:
    try:
        x, y, z = words
        if b"_" in x + y + z:  # of Python, and of no mesh file
            raise ValueError
        into.extend((float(x), float(y), float(z)))
    except ValueError:
        raise refuse("mesh.vertex_text", file, row, text=_shown(b" ".join(words))) from None


def _vertex(word: bytes, known: int, file: str, row: int) -> int:
    try:
        number = int(word.split(b"/", 1)[0])
    except ValueError:
        number = 0
    index = number - 1 if number > 0 else known + number
    if number == 0 or not 0 <= index < known:
        raise refuse("obj.vertex", file, row, text=_shown(word), known=known)
    return index

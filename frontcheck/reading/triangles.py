"""Triangles as a file gives them, before anything is known of vehicles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import InputError
from frontcheck.reading.cad_file import several
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["NO_PART", "MeshData", "part_number"]

NO_PART: Final = -1
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

    def __len__(self) -> int:
        """Return the number of triangles."""
        return len(self.points if self.faces is None else self.faces)

    def clean(self, file: str) -> None:
        """Leave out triangles that are damaged, and say so."""
        total = len(self)
        if total == 0:
            raise _no_triangles(file)
        self._drop(~self._whole(file), "with a corner that is not a finite number", file, total)
        if len(self):
            self._drop(self._folded(), "without area (two corners in one place)", file, None)
        if len(self) == 0:
            raise _no_triangles(file)

    def extent(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
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

    def _whole(self, file: str) -> NDArray[np.bool_]:
        flat = self.points.reshape(-1, 3)
        if self.faces is not None:
            low, high = int(self.faces.min()), int(self.faces.max())
            if low < 0 or high >= len(flat):
                raise InputError(
                    f"a triangle with vertex {low if low < 0 else high}",
                    expected=f"vertices 0 to {len(flat) - 1}",
                    todo="export the mesh again; the file is damaged",
                    file=file,
                )
        # A sum is finite when every number is; only otherwise each is looked at.
        with np.errstate(over="ignore", invalid="ignore"):
            if np.isfinite(flat.sum(dtype=np.float64)):
                return np.ones(len(self), dtype=bool)
        fine = np.isfinite(flat).all(axis=1)
        whole = fine.reshape(-1, 3) if self.faces is None else fine[self.faces]
        result: NDArray[np.bool_] = whole.all(axis=1)
        return result

    def _folded(self) -> NDArray[np.bool_]:
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

    def _drop(self, bad: NDArray[np.bool_], what: str, file: str, total: int | None) -> None:
        count = int(bad.sum())
        if count == 0:
            return
        if total is not None and count > _MOST_BAD * total:
            raise InputError(
                f"{several(count, 'triangle')} of {total} {what}",
                expected="a mesh whose coordinates are numbers",
                todo="export the mesh again; the file is damaged",
                file=file,
            )
        keep = ~bad
        if self.faces is None:
            self.points = self.points[keep]
        else:
            self.faces = self.faces[keep]
        self.parts = None if self.parts is None else self.parts[keep]
        self.notes.append(f"Left out: {several(count, 'triangle')} {what}.")


def _no_triangles(file: str) -> InputError:
    return InputError(
        "no triangle",
        expected="a mesh of the vehicle front",
        todo="export the surfaces as a mesh and check that they are in the file",
        file=file,
    )


def part_number(name: str) -> int:
    """Return the index of a part by the name of a group or object."""
    plain = name.strip().lower().rstrip("0123456789").rstrip("._- ")
    return PARTS.index(plain) if plain in PARTS else NO_PART

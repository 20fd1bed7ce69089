"""A mesh as the surface of a front: cut where asked, never interpolated."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.geometry.outline import GAP_MM
from frontcheck.geometry.slicing import JOIN_MM, Axes, slice_mesh
from frontcheck.surface.section import PARTS, section_of
from frontcheck.surface.surface import NO_PART, Facets, Surface
from frontcheck.surface.windscreen import nearest_place, with_foot

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.geometry.outline import Outline
    from frontcheck.geometry.slicing import Slice
    from frontcheck.surface.section import Section

THIN_MM: Final = 0.01
"""Points of a cut are left out while it moves by no more than this [mm]: own choice, a hundredth of
what is read off."""
EDGE_MM: Final = 0.001
"""Planes at the edge of the mesh, or just outside, are cut this far inside [mm]."""
_HALF_MM: Final = 1.0
"""A half model may end this far short of the centre plane [mm]: own choice, as exports trim."""
_AT_ONCE: Final = 50_000
_WINDSCREEN: Final = PARTS.index("windscreen")


@dataclass(frozen=True, eq=False)
class MeshSurface(Surface):
    """Triangles as a file gives them, read in our axes as they are needed."""

    points: NDArray[np.floating]  # (m, 3, 3) corners, or (n, 3) vertices when there are `faces`
    faces: NDArray[np.integer] | None  # (m, 3) int, vertices of every triangle
    labels: NDArray[np.integer] | None  # (m,) int, index into `PARTS`, -1 for none
    axes: Axes  # How file coordinates become ours
    extent: tuple[float, float]  # Least and greatest y of the mesh [mm]
    side: int = 0  # +1 or -1: the right or the left half stands for both; 0: a whole mesh
    gap: float = GAP_MM  # Gaps up to this are bridged [mm]
    foot: Array | None = None
    """Where the windscreen begins, told by shape or given, (k, 3) in the order of y [mm]."""
    join: float = JOIN_MM  # Ends of triangles closer than this are one point [mm]

    @property
    def symmetric(self) -> bool:  # type: ignore[override]
        """Whether one half stands for both."""
        return self.side != 0

    @property
    def y_range(self) -> tuple[float, float]:
        """Least and greatest y of the mesh [mm]."""
        if self.side == 0:
            return self.extent
        far = self.extent[1] if self.side > 0 else -self.extent[0]
        return -far, far

    @property
    def kind(self) -> str:
        """It is a mesh."""
        return "mesh"

    def slices(self, ys: Array) -> Iterator[Slice]:
        """Cut the mesh at planes of its own side."""
        return slice_mesh(
            self.points, self._inside(ys), self.faces,
            axes=self.axes, labels=self.labels, gap=self.gap, join=self.join,
            thin=THIN_MM,
        )  # fmt: skip

    def cuts(self, ys: Iterable[float]) -> list[Section | str]:
        """Cut the mesh at planes y = const."""
        wanted = np.array([float(y) for y in ys])
        own = wanted if self.side == 0 else np.abs(wanted) * self.side
        low, high = self.extent
        spare = EDGE_MM if self.side == 0 else _HALF_MM
        inside = (own >= low - spare) & (own <= high + spare)
        planes = np.unique(self._inside(own[inside]))
        made: dict[float, Outline | None] = {
            y: cut.outline for y, cut in zip(planes.tolist(), self.slices(planes), strict=True)
        }
        return [
            self._told(section_of(made[where], y)) if there else "the mesh does not reach it"
            for y, where, there in zip(
                wanted.tolist(), self._inside(own).tolist(), inside.tolist(), strict=True
            )
        ]

    def _told(self, cut: Section | str) -> Section | str:
        """A cut with its windscreen labelled, where that was told by shape or given."""
        if isinstance(cut, str) or self.foot is None:
            return cut
        y = abs(cut.y) if self.side else cut.y
        at, x, z = self._foot()
        if not at[0] <= y <= at[-1]:
            return cut
        place = float(np.interp(y, at, x)), float(np.interp(y, at, z))
        return with_foot(cut, nearest_place(cut, place))

    def _foot(self) -> tuple[Array, Array, Array]:
        """y, x and z of the foot of the windscreen, y rising; |y| where one side is both."""
        foot = np.empty((0, 3)) if self.foot is None else self.foot
        y = np.abs(foot[:, 1]) if self.side else foot[:, 1]
        order = np.argsort(y)
        return y[order], foot[order, 0], foot[order, 2]

    def _glass(self, corners: Array) -> Mask:
        """Which triangles lie behind the foot of the windscreen."""
        middle = (corners[:, 0] + corners[:, 1] + corners[:, 2]) / 3.0
        y = np.abs(middle[:, 1]) if self.side else middle[:, 1]
        at, x, z = self._foot()
        behind = (middle[:, 0] >= np.interp(y, at, x)) & (middle[:, 2] >= np.interp(y, at, z))
        return np.asarray(behind & (y >= at[0]) & (y <= at[-1]))

    def _inside(self, ys: Array) -> Array:
        """Planes, moved just inside where the mesh ends there."""
        # A vertex on a plane counts as above it: the left edge gives nothing, the right does.
        low, high = self.extent
        return np.where(ys > high, high - EDGE_MM, np.maximum(ys, low + EDGE_MM))

    def moved(self, motion: Callable[[Array], Array]) -> MeshSurface:
        """Return the mesh with every side section moved alike in x and z."""
        ours = np.stack([self.axes.column(self.points, i) for i in range(3)], axis=-1)
        ours[..., ::2] = motion(ours[..., ::2])
        return replace(self, points=ours, axes=Axes())

    def _facets(self, low: Array, high: Array) -> Facets:
        if self.side < 0:
            low, high = low.copy(), high.copy()
            low[1], high[1] = -high[1], -low[1]
        vertices = None
        if self.faces is not None:
            vertices = np.stack([self.axes.column(self.points, i) for i in range(3)], axis=-1)
        count = len(self.points if self.faces is None else self.faces)
        # As much room as all might need: what is not written to takes no memory.
        corners, parts, end = np.empty((count, 3, 3)), np.empty(count, dtype=np.intp), 0
        for at in range(0, count, _AT_ONCE):
            part = slice(at, at + _AT_ONCE)
            inside = self._inside_box(part, vertices, low, high)
            start, end = end, end + len(inside)
            own = corners[start:end]
            if vertices is None or self.faces is None:
                near = self.points[part][inside]
                for axis in range(3):
                    own[..., axis] = self.axes.column(near, axis)
            else:
                own[:] = vertices[self.faces[part][inside]]
            parts[start:end] = NO_PART if self.labels is None else self.labels[part][inside]
            if self.foot is not None:
                parts[start:end][self._glass(own)] = _WINDSCREEN
        facets = Facets(corners[:end], parts[:end])
        return facets.turned() if self.side < 0 else facets

    def _inside_box(self, part: slice, vertices: Array | None, low: Array, high: Array) -> Index:
        """Which triangles of a block reach into a box."""
        held: NDArray[Any] = self.points[part] if self.faces is None else self.faces[part]
        inside: Index | slice = slice(None)
        for axis in np.flatnonzero(np.isfinite(low) | np.isfinite(high)).tolist():
            if vertices is None:
                # Least and greatest first: turning them into our axes keeps their order.
                own = held[inside, :, self.axes.order[axis]]
            else:
                own = vertices[:, axis][held[inside]]
            least = np.minimum(np.minimum(own[:, 0], own[:, 1]), own[:, 2])
            most = np.maximum(np.maximum(own[:, 0], own[:, 1]), own[:, 2])
            if vertices is None:
                least, most = self.axes.span(least, most, axis)
            kept = np.flatnonzero((most >= low[axis]) & (least <= high[axis]))
            inside = kept if isinstance(inside, slice) else inside[kept]
        return np.arange(len(held)) if isinstance(inside, slice) else inside

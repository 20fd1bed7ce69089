"""The one surface of a front in space: cut anywhere, and its facets.

Glossary
--------
section
    Cut of the surface by a plane y = const.
facet
    Flat triangle of the surface. A mesh consists of them; the surface between hand-measured
    stations is cut into facets so narrow that they stand for it.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError, refuse
from frontcheck.surface.section import among

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.surface.section import Section

NO_PART: Final = -1
"""Part of a facet without a label."""


@dataclass(frozen=True, eq=False)
class Facets:
    """Triangles of a surface."""

    corners: Array  # (k, 3, 3) float, x, y and z of every corner [mm]
    part: Index  # (k,) int, index into `PARTS`, `NO_PART` for none

    def __len__(self) -> int:
        """Return the number of facets."""
        return len(self.corners)

    def of(self, *parts: str, unlabelled: bool = False) -> Facets:
        """Return the facets of some parts."""
        return self.only(self.labelled(*parts, unlabelled=unlabelled))

    def labelled(self, *parts: str, unlabelled: bool = False) -> Mask:
        """Which facets belong to some parts, (k,) bool."""
        return among(self.part, parts, unlabelled=unlabelled)

    def only(self, which: Mask) -> Facets:
        """Return some of the facets."""
        return Facets(self.corners[which], self.part[which])

    def turned(self) -> Facets:
        """Return the facets seen in a mirror, in their own memory: nobody else may hold them."""
        y = self.corners[..., 1]
        np.negative(y, out=y)
        return self

    @staticmethod
    def joined(several: Sequence[Facets]) -> Facets:
        """Lay facets end to end."""
        if not several:
            return Facets(np.empty((0, 3, 3)), np.empty(0, dtype=np.intp))
        return Facets(
            np.concatenate([facets.corners for facets in several]),
            np.concatenate([facets.part for facets in several]),
        )


class Surface(ABC):
    """A front in space."""

    symmetric: bool  # Whether the left is the mirror image of the right, to the last bit

    @property
    @abstractmethod
    def y_range(self) -> tuple[float, float]:
        """First and last y of the surface [mm]."""

    @property
    @abstractmethod
    def kind(self) -> str:
        """``mesh``, or how the surface runs between stations: ``smooth`` or ``straight``."""

    @abstractmethod
    def cuts(self, ys: Iterable[float]) -> list[Section | str]:
        """Cut the surface at planes y = const; in place of a section why there is none."""

    @abstractmethod
    def _facets(self, low: Array, high: Array) -> Facets:
        """Facets that reach into a box, made anew; of a symmetric surface the right side only."""

    def section(self, y: float) -> Section:
        """Cut the surface at one plane; ContourError where that gives no contour."""
        cut = self.cuts([y])[0]
        if isinstance(cut, str):
            raise refuse("surface.no_section", y=y, found=cut, kind=ContourError)
        return cut

    def mirrored(self) -> Surface:
        """Return the surface seen in a mirror: y changes sign."""
        return self if self.symmetric else _Mirrored(self)

    def facets(self, low: ArrayLike = (-np.inf,) * 3, high: ArrayLike = (np.inf,) * 3) -> Facets:
        """Return the facets that reach into a box."""
        least, most = np.array(low, dtype=np.float64), np.array(high, dtype=np.float64)
        if not self.symmetric:
            return self._facets(least, most)
        found = []
        if most[1] >= 0.0:
            found.append(self._facets(np.maximum(least, [-np.inf, 0.0, -np.inf]), most))
        if least[1] < 0.0:
            near, far = max(0.0, -most[1]), -least[1]
            least[1], most[1] = near, far
            found.append(self._facets(least, most).turned())
        return Facets.joined(found)


class _Mirrored(Surface):
    """A surface that is not symmetric, seen in a mirror."""

    symmetric = False

    def __init__(self, surface: Surface) -> None:
        self.surface = surface

    @property
    def y_range(self) -> tuple[float, float]:
        low, high = self.surface.y_range
        return -high, -low

    @property
    def kind(self) -> str:
        return self.surface.kind

    def cuts(self, ys: Iterable[float]) -> list[Section | str]:
        found = self.surface.cuts([-y for y in ys])
        return [cut if isinstance(cut, str) else cut.mirrored() for cut in found]

    def mirrored(self) -> Surface:
        return self.surface

    def _facets(self, low: Array, high: Array) -> Facets:
        least, most = low.copy(), high.copy()
        least[1], most[1] = -high[1], -low[1]
        return self.surface.facets(least, most).turned()

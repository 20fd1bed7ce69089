"""One side section of a vehicle front: its contour and its offsets.

Glossary
--------
contour
    The (n, 2) polyline of (x, z) [mm], x rearward and z up, traced along the outer
    surface from the lowest or rearmost underside point, up the face, over the
    bonnet, to the windscreen. The body lies on the right of that walk, the air on
    the left.
part
    What a contour point belongs to; one of `PARTS`, or an empty string.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError
from frontcheck.geometry.polyline import arcs_of, points_at
from frontcheck.serializer import one_line
from frontcheck.surface.contour_checks import check_contour, contour_error
from frontcheck.surface.face import FaceDescriptors, describe_face

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.geometry.outline import Outline

PARTS: Final = (
    "underside",
    "bumper",
    "grille",
    "lamp",
    "bonnet",
    "wing",
    "cowl",
    "windscreen",
    "pillar",
    "trim",
    "ignore",
)
"""The part names a contour point may carry; an empty string means not labelled."""

_NUMBERS: Final = {part: i for i, part in enumerate(PARTS)} | {"": -1}
_TAKERS: Final = ("bumper", "windscreen")
"""Parts that take the point between them and another part; the later before the earlier."""

IGNORE: Final = "ignore"  # mirrors, plates, wipers, tyres: the contour runs straight across


@one_line
@dataclass(frozen=True, eq=False)
class Section:
    """Outer contour in one longitudinal vertical plane y = const.

    Parameters
    ----------
    points : array_like
        (n, 2) float, x rearward and z up [mm], in traced order, n >= 3.
    y : float, optional
        Station of the plane, positive to the vehicle's right [mm].
    parts : sequence of str, optional
        (n,) part of every point, from `PARTS` or an empty string. Points labelled ``ignore``
        are left out: the contour runs straight on between their neighbours.
    height_u, setback_u : array_like, optional
        (n,) standard uncertainty of z and of x [mm].
    rows : sequence of int, optional
        (n,) row of the source file each point came from.
    correlation : array_like, optional
        (n,) correlation of the errors of z and x of a point, from -1 to 1; 0 when not given.
    proposed : array_like, optional
        (n,) bool, which points are proposed and were never measured; none when not given.
    silhouette : bool, optional
        Whether this is the outline of all stations seen from the side, as in a side photo, and no
        cut: recesses and the lower lip of this station are then not seen.

    Raises
    ------
    ContourError
        If the contour has fewer than three points, is not finite, goes below the
        ground, repeats a point, crosses itself, or carries an unknown part; if the
        station is not finite; if parts, uncertainties or rows do not fit the points.

    Examples
    --------
    >>> import frontcheck as fc
    >>> nose = fc.Section([(60, 200), (0, 500), (80, 800), (900, 900)], y=0)
    >>> float(nose.x.min()), len(nose)
    (0.0, 4)
    """

    points: Array
    y: float = 0.0
    parts: tuple[str, ...] | None = None
    height_u: Array | None = None
    setback_u: Array | None = None
    rows: tuple[int, ...] | None = field(default=None, repr=False)
    correlation: Array | None = field(default=None, repr=False)
    proposed: Mask | None = field(default=None, repr=False)
    silhouette: bool = False
    x: Array = field(init=False, repr=False)
    """Setback of every point, (n,) [mm]."""
    z: Array = field(init=False, repr=False)
    """Height of every point above ground, (n,) [mm]."""

    def __init__(
        self,
        points: ArrayLike,
        y: float = 0.0,
        parts: Sequence[str] | None = None,
        height_u: ArrayLike | None = None,
        setback_u: ArrayLike | None = None,
        rows: Sequence[int] | None = None,
        correlation: ArrayLike | None = None,
        proposed: ArrayLike | None = None,
        silhouette: bool = False,
    ) -> None:
        array = np.array(points, dtype=np.float64)
        labels = None if parts is None else tuple(str(part) for part in parts)
        counts = np.ones(len(array) if array.ndim else 0, dtype=bool)
        if labels is not None and array.ndim == 2:
            _check_parts(labels, len(array))
            counts = np.array([part != IGNORE for part in labels], dtype=bool)
            labels = tuple(part for part in labels if part != IGNORE)
        try:
            check_contour(array[counts] if array.ndim == 2 else array)
        except ContourError as error:
            if error.index is not None:
                error.index = int(np.flatnonzero(counts)[error.index])
            raise
        n = len(array)
        if not math.isfinite(y):
            raise contour_error(None, f"station {y}", "a finite station", "correct the station")
        if rows is not None and len(rows) != n:
            raise contour_error(
                None, f"{len(rows)} rows for {n} points", "one row a point", "complete the rows"
            )
        array = array[counts]
        for name, values in (("points", array), ("x", array[:, 0]), ("z", array[:, 1])):
            _freeze(self, name, values)
        object.__setattr__(self, "y", float(y))
        object.__setattr__(self, "parts", labels if labels and any(labels) else None)
        for name, given in (("height", height_u), ("setback", setback_u)):
            each = _uncertainty(given, n, name)
            _freeze(self, f"{name}_u", None if each is None else each[counts])
        both = None if correlation is None else np.array(correlation, dtype=np.float64)
        if both is not None and not (both.shape == (n,) and (np.abs(both) <= 1.0).all()):
            raise contour_error(
                None,
                "correlations that do not fit",
                f"{n} numbers from -1 to 1",
                "give one a point",
            )
        _freeze(self, "correlation", None if both is None else both[counts])
        drawn = np.zeros(n, dtype=bool) if proposed is None else np.array(proposed, dtype=bool)
        if drawn.shape != (n,):
            raise contour_error(None, f"{drawn.size} marks for {n} points", "one mark a point",
                                "complete the marks")  # fmt: skip
        _freeze(self, "proposed", drawn[counts] if drawn[counts].any() else None)
        used = None if rows is None else tuple(np.array(rows, dtype=int)[counts].tolist())
        object.__setattr__(self, "rows", used)
        object.__setattr__(self, "silhouette", bool(silhouette))

    def __len__(self) -> int:
        """Return the number of contour points."""
        return len(self.points)

    def has_part(self, *names: str) -> bool:
        """Return whether any point carries one of the given part names.

        Parameters
        ----------
        *names : str
            Part names.

        Returns
        -------
        bool
            True if at least one point carries one of them.
        """
        return self.parts is not None and any(part in names for part in self.parts)

    def part_mask(self, *names: str, unlabelled: bool = False) -> Mask:
        """Return which points carry one of the given parts.

        Parameters
        ----------
        *names : str
            Part names.
        unlabelled : bool, optional
            Count points without a label too. On a contour without any label
            every point is unlabelled.

        Returns
        -------
        ndarray
            (n,) bool.
        """
        known = [name for name in names if name in _NUMBERS]
        return among(self.part_codes, known, unlabelled=unlabelled)

    @cached_property
    def part_codes(self) -> NDArray[np.int8]:
        """Index into `PARTS` of the part of every point, -1 without one, (n,) int."""
        return part_codes(self.parts or ("",) * len(self))

    @cached_property
    def arc_lengths(self) -> Array:
        """Length along the contour from its first point to every point, (n,) [mm]."""
        lengths = arcs_of(self.points)
        lengths.setflags(write=False)
        return lengths

    @property
    def length(self) -> float:
        """Length of the whole contour [mm]."""
        return float(self.arc_lengths[-1])

    def at_arc_length(self, s: ArrayLike) -> Array:
        """Return the contour points at given lengths along the contour.

        Parameters
        ----------
        s : array_like
            (...) length from the first point [mm].

        Returns
        -------
        ndarray
            (..., 2) float, x and z [mm].

        Raises
        ------
        ValueError
            If a length is outside the contour.
        """
        lengths = np.asarray(s, dtype=np.float64)
        if np.any(lengths < 0.0) or np.any(lengths > self.length) or np.any(np.isnan(lengths)):
            raise ValueError(f"arc length must lie between 0 and {self.length:g} mm")
        return points_at(self.points, self.arc_lengths, lengths)

    def setback_at(self, heights: ArrayLike) -> Array:
        """Return the foremost x of the contour at given heights (what a square reads).

        Parameters
        ----------
        heights : array_like
            (...) height above ground [mm].

        Returns
        -------
        ndarray
            (...) float, x [mm] of the foremost crossing; a masked array, masked
            where the contour does not reach that height.
        """
        wanted = np.asarray(heights, dtype=np.float64)
        z0, z1 = self.z[:-1], self.z[1:]
        x0, x1 = self.x[:-1], self.x[1:]
        level = wanted[..., None]
        inside = (np.minimum(z0, z1) <= level) & (level <= np.maximum(z0, z1))
        rise = z1 - z0
        flat = rise == 0.0
        t = np.where(flat, 0.0, (level - z0) / np.where(flat, 1.0, rise))
        x = np.where(flat, np.minimum(x0, x1), x0 + t * (x1 - x0))
        x = np.where(inside, x, np.inf).min(axis=-1)
        return np.ma.masked_where(~inside.any(axis=-1), x)

    def foremost_at(self, height: float) -> float | None:
        """Return the foremost x of the contour at one height, many times faster than for many.

        Parameters
        ----------
        height : float
            Height above ground [mm].

        Returns
        -------
        float or None
            x [mm]; None where the contour does not reach that height.
        """
        ahead, behind = self.z[:-1], self.z[1:]
        crossing = np.flatnonzero(
            (np.minimum(ahead, behind) <= height) & (height <= np.maximum(ahead, behind))
        )
        x = []
        for i in crossing.tolist():
            (x0, z0), (x1, z1) = self.points[i : i + 2].tolist()
            x.append(min(x0, x1) if z0 == z1 else x0 + (height - z0) / (z1 - z0) * (x1 - x0))
        return min(x, default=None)

    @cached_property
    def face(self) -> FaceDescriptors:
        """Descriptors of the face: foremost point, lips, recess, overhang, mean angles."""
        return describe_face(
            self.points,
            bumper=self.part_mask("bumper") if self.has_part("bumper") else None,
            bonnet=self.part_mask("bonnet") if self.has_part("bonnet") else None,
            silhouette=self.silhouette,
        )

    def relabelled(self, parts: Sequence[str]) -> Section:
        """Return the same contour under other labels.

        Parameters
        ----------
        parts : sequence of str
            Part name of every point, none of them ``ignore``; empty strings where not known.

        Returns
        -------
        Section
            The section; what was checked of its contour is not checked again.

        Raises
        ------
        ContourError
            If there is not one name a point, or an unknown one.
        """
        _check_parts(tuple(parts), len(self))
        made = copy(self)
        vars(made).pop("face", None)
        object.__setattr__(made, "parts", tuple(parts) if any(parts) else None)
        return made

    def mirrored(self) -> Section:
        """Return the same section on the other side of the vehicle (y changes sign).

        Returns
        -------
        Section
            A section with the same contour and station -y.
        """
        return replace(self, y=0.0 - self.y)


def _freeze(target: Section, name: str, array: Array | Mask | None) -> None:
    if array is not None:
        array.setflags(write=False)
    object.__setattr__(target, name, array)


def _check_parts(parts: tuple[str, ...], n: int) -> None:
    if len(parts) != n:
        raise contour_error(
            None, f"{len(parts)} parts for {n} points", "one part a point", "complete the labels"
        )
    for i, part in enumerate(parts):
        if part and part not in PARTS:
            raise contour_error(
                i,
                f"part {part!r}",
                f"one of {', '.join(PARTS)}, or nothing",
                "use one of these names",
            )


def _uncertainty(values: ArrayLike | None, n: int, name: str) -> Array | None:
    if values is None:
        return None
    given = np.asarray(values, dtype=np.float64)
    if given.ndim > 0 and given.shape != (n,):
        raise contour_error(
            None,
            f"{name} uncertainties of shape {given.shape} for {n} points",
            f"one value, or shape ({n},)",
            "give one uncertainty a point",
        )
    array = np.array(np.broadcast_to(given, (n,)))
    bad = ~np.isfinite(array) | (array < 0.0)
    if bad.any():
        raise contour_error(
            int(np.argmax(bad)),
            f"{name} uncertainty {array[np.argmax(bad)]:g}",
            "a standard uncertainty of 0 or more",
            "give the uncertainty as a positive length",
        )
    return array


def part_codes(parts: Sequence[str]) -> NDArray[np.int8]:
    """Index into `PARTS` of every label, -1 without one."""
    return np.array([_NUMBERS[part] for part in parts], dtype=np.int8)


def among(codes: NDArray[np.integer], names: Sequence[str], *, unlabelled: bool = False) -> Mask:
    """Which indices into `PARTS`, -1 for none, are those of some parts; an empty name is none."""
    chosen = np.zeros(len(PARTS) + 1, dtype=bool)  # the last for what has no part
    chosen[part_codes(names)] = True
    chosen[-1] |= unlabelled
    return np.asarray(chosen[codes])


def stretch_parts(numbers: NDArray[np.int8]) -> NDArray[np.int8]:
    """Part of every stretch from the parts of its two points, (n - 1,) index or -1."""
    # A point between two parts carries one name only (`point_parts`): windscreen and bumper take
    # it, any other part takes the point that it ends in.
    before, after = numbers[:-1], numbers[1:]
    rank = np.zeros(len(PARTS) + 1)
    rank[[PARTS.index(part) for part in _TAKERS]] = 1.0, 2.0
    own: NDArray[np.int8] = np.where(rank[after] > rank[before], before, after)
    return own


def point_parts(stretches: NDArray[np.integer] | None) -> list[str] | None:
    """Part of every contour point from the labels of the stretches between."""
    # A point between two parts can carry one name only: windscreen before bumper, because the
    # sphere and the edges look for those, else the part that ends there.
    if stretches is None:
        return None
    before = np.concatenate([stretches[:1], stretches])
    after = np.concatenate([stretches, stretches[-1:]])
    chosen = np.where(before < 0, after, before)
    for name in _TAKERS:
        number = PARTS.index(name)
        chosen[(before == number) | (after == number)] = number
    return ["" if i < 0 else PARTS[i] for i in chosen.tolist()]


def section_of(outline: Outline | None, y: float, *, labelled: bool = True) -> Section | str:
    """Section of the outer contour of a cut, or why there is none."""
    if outline is None:
        return "nothing is cut there"
    if len(outline.points) == 0:
        free = any(lost.kind == "free" for lost in outline.dropped)
        return (
            "only small parts high up that stand free are cut there"
            if free
            else "what is cut there lies behind the reach of every tool"
        )
    try:
        return Section(outline.points, y, point_parts(outline.labels) if labelled else None)
    except ContourError as problem:
        again = outline.walked()
        return problem.found if again is None else section_of(again, y, labelled=labelled)

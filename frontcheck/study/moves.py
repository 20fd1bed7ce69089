"""Morphs of a measured front: move a lip, raise the nose, lean the face, and keep the rest.

Glossary
--------
handle
    One thing that can be moved, by an amount in mm or deg.
field
    How far every contour point goes, and which way, when a handle moves by one unit.

A field is one at its handle and falls to zero along the contour by ``3 t^2 - 2 t^3``, t from
1 at the handle to 0 at the end of the blend: the skin stays smooth, and beyond the blend every
point stays where it was measured, bit for bit. Fields of several handles add up; each is
taken from the front as measured, so that their order does not matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.errors import ContourError, refuse
from frontcheck.serializer import one_line
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array

BLEND_MM: Final = 150.0
"""Length along the contour over which a moved lip or edge fades to nothing [mm]."""


@dataclass(frozen=True)
class Handle:
    """One thing that can be moved on a measured front."""

    name: str  # Name, with the unit of its amount at the end
    unit: str  # ``mm`` or ``deg``
    reach: float  # Largest amount taken either way, in that unit
    meaning: str  # What a positive amount does

    def check(self, amount: float) -> None:
        """Refuse an amount that is not a number within reach."""
        if not (math.isfinite(amount) and abs(amount) <= self.reach):
            name, unit, reach = self.name, self.unit, self.reach
            raise refuse("moves.amount", name=name, value=amount, low=-reach, high=reach, unit=unit)


_FADE: Final = "fading along the contour to either side"
_TO_REAR: Final = "fading over the bonnet to its rear end"
HANDLES: Final = tuple(
    Handle(name, name.rpartition("_")[2], reach, meaning)
    for name, reach, meaning in (
        ("lower_lip_back_mm", 500.0, f"moves the lower lip rearward, {_FADE}"),
        ("lower_lip_up_mm", 500.0, f"moves the lower lip up, {_FADE}"),
        ("upper_lip_back_mm", 500.0, f"moves the upper lip rearward, {_FADE}"),
        ("upper_lip_up_mm", 500.0, f"moves the upper lip up, {_FADE}"),
        ("leading_edge_back_mm", 500.0, f"moves the leading edge rearward, {_FADE}"),
        ("leading_edge_up_mm", 500.0, f"moves the leading edge up, {_FADE}"),
        ("nose_up_mm", 500.0, f"raises underside and face as they are, {_TO_REAR}"),
        ("face_lean_deg", 45.0, f"leans the face rearward about its lower end, {_TO_REAR}"),
    )
)
"""Every handle, by name."""

_BY_NAME: Final = {handle.name: handle for handle in HANDLES}


@dataclass(frozen=True, eq=False)
class MorphField:
    """Fields of some handles on one section."""

    section: Section  # The section as measured
    names: tuple[str, ...]  # (H,) handles
    fields: Array  # (H, n, 2) travel of every point per unit of `scaled` amount

    def scaled(self, amounts: Array) -> Array:
        """Return the factors of the fields: the amount in mm, or the tangent of an angle."""
        out = np.array(amounts, dtype=np.float64)
        for h, name in enumerate(self.names):
            if _BY_NAME[name].unit == "deg":
                out[:, h] = np.tan(np.radians(out[:, h]))
        return out

    def points(self, amounts: Array) -> Array:
        """Return the moved contours."""
        factors = self.scaled(amounts)
        moved = np.repeat(self.section.points[None], len(factors), axis=0)
        # Added one by one: a matrix product may round differently for another B.
        for h in range(len(self.names)):
            moved += factors[:, h, None, None] * self.fields[h]
        return moved


@one_line
@dataclass(frozen=True)
class MorphedFront:
    """A morphed front, or why it cannot be made.

    Parameters
    ----------
    status : {"ok", "infeasible"}
        Whether there is a front.
    reason : str
        Why not; empty when there is one.
    front : Front or None
        The front.
    skin_moved_mm : float or None
        Farthest that any point of the skin travelled [mm].

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> moved = fc.move_features(plover, {"leading_edge_up_mm": 20})
    >>> moved.status, round(moved.skin_moved_mm, 3)
    ('ok', 20.0)
    """

    status: Literal["ok", "infeasible"]
    reason: str
    front: Front | None
    skin_moved_mm: float | None


def morph_field(section: Section, names: Sequence[str], blend: float = BLEND_MM) -> MorphField:
    """Return the fields of some handles on one section."""
    if not (math.isfinite(blend) and blend > 0.0):
        raise refuse("moves.blend", blend=blend)
    fields = np.zeros((len(names), len(section), 2))
    for h, name in enumerate(names):
        if name not in _BY_NAME:
            raise refuse("moves.handle", name=name, known=_BY_NAME)
        fields[h] = _field(section, name, blend)
    fields.setflags(write=False)
    return MorphField(section, tuple(names), fields)


def morph_front(
    front: Front, amounts: Mapping[str, float], blend: float = BLEND_MM
) -> MorphedFront:
    """Move handles of a measured front at all its stations alike.

    Parameters
    ----------
    front : Front
        The front as measured.
    amounts : mapping of str to float
        Amount by handle, in its unit.
    blend : float, optional
        Length along the contour over which a lip or edge fades to nothing [mm].

    Returns
    -------
    MorphedFront
        The front with the rest kept, or why it cannot be made.

    Raises
    ------
    InputError
        If a handle is not known, an amount is beyond reach, the blend is not above 0, or a
        section has no lip that a handle could move.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> moved = fc.move_features(plover, {"leading_edge_up_mm": 20})
    >>> heights = [fc.screen(front).station(0).ble_height for front in (plover, moved.front)]
    >>> heights
    [800.0, 820.0]
    """
    names, sections, farthest = tuple(amounts), [], 0.0
    fields = [morph_field(section, names, blend) for section in front.sections]
    for name in names:
        _BY_NAME[name].check(amounts[name])
    row = np.array([[amounts[name] for name in names]], dtype=np.float64)
    for field in fields:
        section = field.section
        points = field.points(row)[0]
        as_measured = (
            section.parts, section.height_u, section.setback_u, section.rows, section.correlation,
        )  # fmt: skip
        try:
            sections.append(Section(points, section.y, *as_measured))
        except ContourError as error:
            reason = f"at y = {section.y:g} mm the morph makes {error.found}"
            return MorphedFront("infeasible", reason, None, None)
        travel = np.hypot(*(points - section.points).T)
        farthest = max(farthest, float(travel.max()))
    changed = ", ".join(f"{name} {amounts[name]:g}" for name in names if amounts[name])
    notes = (*front.reader_notes, f"morphed: {changed}") if changed else front.reader_notes
    morphed = replace(front, sections=tuple(sections), reader_notes=notes, mesh=None)
    return MorphedFront("ok", "", morphed, farthest)


def _field(section: Section, name: str, blend: float) -> Array:
    face, arcs = section.face, section.arc_lengths
    out = np.zeros((len(section), 2))
    what, _, way = name.rpartition("_")[0].rpartition("_")
    places = {"lower_lip": face.lower_lip, "upper_lip": face.upper_lip}
    at = places.get(what, face.face_top)
    if at is None:
        raise refuse("moves.no_recess", handle=what.replace("_", " "), y=section.y)
    k = _index(section, at)
    if what not in ("nose", "face"):
        out[:, 0 if way == "back" else 1] = _fade(np.abs(arcs - arcs[k]) / blend)
        return out
    run = max(float(arcs[_bonnet_end(section, k)] - arcs[k]), 1e-9)
    over_bonnet = _fade(np.clip((arcs - arcs[k]) / run, 0.0, 1.0))
    if what == "nose":
        out[:, 1] = over_bonnet
    else:
        high = face.face_top[1] - face.face_bottom[1]
        rise = np.clip(section.z - face.face_bottom[1], 0.0, high)
        rise[: _index(section, face.face_bottom)] = 0.0
        rise[k:] = high
        out[:, 0] = rise * over_bonnet
    return out


def _fade(t: Array) -> Array:
    """1 at t = 0, 0 from t = 1 on, with no slope at either end."""
    rest = np.clip(1.0 - t, 0.0, 1.0)
    return rest * rest * (3.0 - 2.0 * rest)


def _index(section: Section, point: tuple[float, float]) -> int:
    return int(np.argmin(np.hypot(section.x - point[0], section.z - point[1])))


def _bonnet_end(section: Section, top: int) -> int:
    """Last point labelled bonnet; else the last before the glass or the end."""
    for names in (("bonnet",), ("grille", "lamp", "trim", "bumper")):
        labelled = np.flatnonzero(section.part_mask(*names))
        if len(labelled) and labelled[-1] > top:
            return int(labelled[-1])
    return len(section) - 1

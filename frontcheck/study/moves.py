"""Moves of features of a front: a lip, the leading edge, the bonnet, ride height; the rest stays.

Glossary
--------
handle
    One thing that can be moved one way, by an amount in mm or deg. A designer's move, such as
    `lower lip forward 20`, is an amount of one handle.
field
    How far every contour point goes, and which way, when a handle moves by one unit.

A field of a lip or an edge is one there and falls to zero along the contour by ``3 t^2 - 2 t^3``,
t from 1 at the feature to 0 at the end of the blend: the skin stays smooth, and beyond the blend
every point stays where it was measured, bit for bit. Fields of several handles add up; each is
taken from the front as measured, so that their order does not matter.

Own choices, for no text says how a drawing is changed: the blend of 150 mm; which points a feature
takes along as they are; that what lies behind the bonnet goes along where the slope of the bonnet
changes, and stays where its height does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from frontcheck.errors import ContourError, InputError, NotAvailableError, refuse

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.surface.section import Section

BLEND_MM: Final = 150.0
"""Length along the contour over which a moved feature fades to nothing [mm]."""


@dataclass(frozen=True)
class Handle:
    """One thing that can be moved on a front, and the two ways in which it goes."""

    what: str  # Feature, such as ``lower_lip``
    way: str  # Which way a positive amount moves it
    opposite: str  # Which way a negative amount does; empty where it has no word
    unit: str  # ``mm`` or ``deg``
    reach: float  # Largest amount taken either way, in that unit
    meaning: str  # What a positive amount does

    @property
    def name(self) -> str:
        """Name in studies, with the unit of its amount at the end."""
        return f"{self.what}_{self.way}_{self.unit}"

    @property
    def words(self) -> str:
        """The feature in words."""
        return self.what.replace("_", " ")

    @property
    def label(self) -> str:
        """The feature and the way in words, such as ``lower lip back``."""
        return f"{self.words} {self.way}"

    def check(self, amount: float, name: str = "") -> None:
        """Refuse an amount that is not a number within reach."""
        if not (math.isfinite(amount) and abs(amount) <= self.reach):
            raise refuse("moves.amount", name=name or self.name, value=amount, low=-self.reach,
                         high=self.reach, unit=self.unit)  # fmt: skip

    def said(self, amount: float) -> str:
        """A move in words, such as ``lower lip forward 20 mm``."""
        way, size = (
            (self.opposite, -amount) if amount < 0.0 and self.opposite else (self.way, amount)
        )
        return f"{self.words} {way} {size:g} {self.unit}"


_FADE: Final = "fading along the contour to either side"
_TO_REAR: Final = "fading over the bonnet to its rear end"
_BACK, _UP = ("back", "forward"), ("up", "down")
_LEAN: Final = ("lean", "")
_MOVES: Final = (
    ("lower_lip", _BACK, 500.0, f"moves the lower lip rearward, {_FADE}"),
    ("lower_lip", _UP, 500.0, f"moves the lower lip up, {_FADE}"),
    ("upper_lip", _BACK, 500.0, f"moves the upper lip rearward, {_FADE}"),
    ("upper_lip", _UP, 500.0, f"moves the upper lip up, {_FADE}"),
    ("recess", ("deeper", "shallower"), 500.0,
     "moves what lies between the lips rearward, most at its bottom; the lips stay"),
    ("bumper_face", _BACK, 500.0, f"moves the face of the bumper rearward as it is, {_FADE}"),
    ("bumper_face", _UP, 500.0, f"moves the face of the bumper up as it is, {_FADE}"),
    ("leading_edge", _BACK, 500.0, f"moves the leading edge rearward, {_FADE}"),
    ("leading_edge", _UP, 500.0, f"moves the leading edge up, {_FADE}"),
    ("bonnet_height", _UP, 500.0,
     "raises the bonnet, fading to its leading edge and to its rear end, which stay"),
    ("bonnet_slope", ("steeper", "flatter"), 15.0,
     "turns the bonnet up about its leading edge; what lies behind it goes along as it is"),
    ("nose", _BACK, 500.0, f"moves underside and face rearward as they are, {_TO_REAR}"),
    ("nose", _UP, 500.0, f"raises underside and face as they are, {_TO_REAR}"),
    ("face", _LEAN, 45.0, f"leans the face rearward about its lower end, {_TO_REAR}"),
    ("ride_height", _UP, 500.0, "raises the whole front, glass and all, above the ground"),
)  # fmt: skip
HANDLES: Final = tuple(
    Handle(what, *ways, "deg" if ways == _LEAN or what == "bonnet_slope" else "mm", reach, meaning)
    for what, ways, reach, meaning in _MOVES
)
"""Every handle: one vocabulary for studies, for `what_if` and for what is typed."""

_BY_NAME: Final = {handle.name: handle for handle in HANDLES}
FEATURES: Final = tuple(dict.fromkeys(handle.what for handle in HANDLES))
"""What can be moved."""


def ways_of(what: str) -> dict[str, tuple[Handle, float]]:
    """Return which ways a feature goes: by which handle, and with which sign of its amount."""
    ways: dict[str, tuple[Handle, float]] = {}
    for handle in HANDLES:
        if handle.what == what:
            ways[handle.way] = handle, 1.0
            if handle.opposite:
                ways[handle.opposite] = handle, -1.0
    return ways


def amounts_of(moves: Mapping[str, Mapping[str, float]]) -> dict[str, float]:
    """Return the amounts by handle of moves such as ``{"lower_lip": {"forward": 20}}``."""
    amounts: dict[str, float] = {}
    for said, ways in moves.items():
        what = said.strip().lower().replace(" ", "_").replace("-", "_")
        signs = ways_of(what)
        if not signs:
            raise refuse("moves.feature", name=said[:40], known=FEATURES)
        for typed, amount in ways.items():
            way, words = typed.strip().lower(), what.replace("_", " ")
            if way not in signs:
                raise refuse("moves.way", what=words, way=typed[:40], known=signs)
            handle, sign = signs[way]
            handle.check(amount, f"{words} {way}")
            amounts[handle.name] = amounts.get(handle.name, 0.0) + sign * amount
    for name, amount in amounts.items():
        _BY_NAME[name].check(amount, f"{_BY_NAME[name].label} in all")
    return amounts


def moves_said(amounts: Mapping[str, float]) -> str:
    """Return amounts by handle in words."""
    return ", ".join(_BY_NAME[name].said(amount) for name, amount in amounts.items() if amount)


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


BELOW, CROSS = (f"the contour would {what}" for what in ("go below the ground", "meet itself"))
"""What is in the way of a move."""


class Obstacle(NamedTuple):
    """Why a move cannot be made at a station."""

    station: float  # Station [mm]
    reason: str  # What is in the way

    @property
    def words(self) -> str:
        """The same as a sentence without its stop."""
        return f"at y = {self.station:g} mm {self.reason}"


def in_the_way(obstacles: Sequence[Obstacle], stations: int) -> list[str]:
    """Each reason once, with the stations where it is."""
    where: dict[str, list[str]] = {}
    for obstacle in obstacles:
        where.setdefault(obstacle.reason, []).append(f"{obstacle.station:g}")
    return [
        reason if len(ys) == stations else f"at y = {', '.join(ys)} mm {reason}"
        for reason, ys in where.items()
    ]


@dataclass(frozen=True)
class MorphedFront:
    """A front with features moved, or what was in the way."""

    made: Front | None  # The front; None where something was in the way
    skin_moved_mm: float | None  # Farthest that any point of the skin travelled [mm]
    obstacles: tuple[Obstacle, ...] = field(default=())
    """What was in the way; beside a front, where a feature is not there and so was not moved."""

    @property
    def front(self) -> Front:
        """The front; the reasons are raised where there is none."""
        if self.made is None:
            raise NotAvailableError("; ".join(each.words for each in self.obstacles))
        return self.made


def morph_field(section: Section, names: Sequence[str], blend: float = BLEND_MM) -> MorphField:
    """Return the fields of some handles on one section."""
    if not (math.isfinite(blend) and blend > 0.0):
        raise refuse("moves.blend", blend=blend)
    fields = np.zeros((len(names), len(section), 2))
    for h, name in enumerate(names):
        fields[h] = _field(section, _handle(name), blend)
    fields.setflags(write=False)
    return MorphField(section, tuple(names), fields)


def morph_front(
    front: Front,
    amounts: Mapping[str, float],
    blend: float = BLEND_MM,
    only_at: Collection[float] | None = None,
) -> MorphedFront:
    """Move handles of a front, at all its stations alike or at some; say all that is in the way."""
    # Own choice: a point that moved is marked as proposed, and keeps the uncertainty stated of
    # where it was measured: it is that place plus a shift that is exact, and so no surer. A feature
    # that some stations lack is moved at the others; one that all lack is in the way.
    for name, amount in amounts.items():
        _handle(name).check(amount)
    sections, farthest = [], 0.0
    blocked: list[Obstacle] = []
    absent: dict[str, list[Obstacle]] = {name: [] for name in amounts}
    chosen = front.stations if only_at is None else [y for y in front.stations if y in only_at]
    for section in front.sections:
        if section.y not in chosen:
            sections.append(section)
            continue
        own = _there(section, tuple(amounts), blend, absent)
        points = own.points(np.array([[amounts[name] for name in own.names]]))[0]
        travel = np.hypot(*(points - section.points).T)
        farthest = max(farthest, float(travel.max()))
        drawn = travel > 0.0 if section.proposed is None else section.proposed | (travel > 0.0)
        try:
            sections.append(replace(section, points=points, proposed=drawn))
        except ContourError as error:
            what = BELOW if points[:, 1].min() < 0.0 else CROSS
            blocked.append(Obstacle(section.y, what if error.index is not None else error.found))
    nowhere = [each for own in absent.values() if len(own) == len(chosen) for each in own]
    if blocked or nowhere:
        return MorphedFront(None, None, tuple(dict.fromkeys([*nowhere, *blocked])))
    left = tuple(dict.fromkeys(each for own in absent.values() for each in own))
    source, lift = front.source, 0.0 if only_at else amounts.get("ride_height_up_mm", 0.0)
    hard = tuple(replace(point, z=point.z + lift) for point in front.beside.hard_points)
    read = [f"{each.file}, sha256 {each.sha256}" for each in (source, *source.files) if each.file]
    if front.attitude.basis != "as measured":
        read.append(f"{front.attitude.words} by {front.attitude.basis}")
    start = ", ".join(read) or "a front made in memory"
    where = "" if only_at is None else f", at y = {', '.join(f'{y:g}' for y in chosen)} mm only"
    said = "; ".join([f"{moves_said(amounts)}{where}", *in_the_way(left, len(front.sections))])
    changes = (*front.changes, f"{start}: {said}") if farthest else front.changes
    morphed = replace(
        front, sections=tuple(sections), changes=changes, mesh=None,
        survey=replace(front.survey, checks=()), beside=replace(front.beside, hard_points=hard),
    )  # fmt: skip
    return MorphedFront(morphed, farthest, left)


def _there(
    section: Section, names: Sequence[str], blend: float, absent: dict[str, list[Obstacle]]
) -> MorphField:
    """The fields of those handles that a section has; what it lacks is added to the absent."""
    fields = [np.zeros((0, len(section), 2))]
    own = []
    for name in names:
        try:
            fields.append(morph_field(section, [name], blend).fields)
            own.append(name)
        except InputError as error:
            if error.code not in _NO_FEATURE:
                raise
            absent[name].append(Obstacle(section.y, error.found.partition(", at y")[0]))
    return MorphField(section, tuple(own), np.concatenate(fields))


def most_of(
    front: Front, amounts: Mapping[str, float], only_at: Collection[float] | None = None
) -> dict[str, float]:
    """Return the largest share of amounts, in hundredths, found to make a front; else nothing."""
    made, high = 0, 100
    while high - made > 1:
        share = (made + high) // 2
        part = {name: amount * share / 100.0 for name, amount in amounts.items()}
        if morph_front(front, part, BLEND_MM, only_at).made is None:
            high = share
        else:
            made = share
    return {name: amount * made / 100.0 for name, amount in amounts.items() if made}


_NO_FEATURE: Final = ("moves.no_recess", "moves.no_bonnet")


def _handle(name: str) -> Handle:
    if name not in _BY_NAME:
        raise refuse("moves.handle", name=name, known=_BY_NAME)
    return _BY_NAME[name]


def _field(section: Section, handle: Handle, blend: float) -> Array:
    """Travel of every point for one unit of a handle."""
    face, arcs, what = section.face, section.arc_lengths, handle.what
    out = np.zeros((len(section), 2))
    axis = 0 if handle.way in ("back", "deeper") else 1
    if what == "ride_height":
        out[:, 1] = 1.0
        return out
    if what in ("lower_lip", "upper_lip", "recess"):
        if face.lower_lip is None or face.upper_lip is None or face.recess is None:
            words = "depth of it" if what == "recess" else handle.words
            raise refuse("moves.no_recess", handle=words, y=section.y)
        k = _index(section, getattr(face, what))
        ends = np.array([-blend, blend])
        if what == "recess":
            lips = [_index(section, lip) for lip in (face.lower_lip, face.upper_lip)]
            ends = arcs[lips] - arcs[k]
        out[:, axis] = _between(arcs - arcs[k], *ends)
        return out
    k = _index(section, face.face_top)
    if what == "leading_edge":
        out[:, axis] = _fade(np.abs(arcs - arcs[k]) / blend)
        return out
    if what == "bumper_face":
        first, last = _bumper(section)
        outside = np.maximum(np.maximum(arcs[first] - arcs, arcs - arcs[last]), 0.0)
        out[:, axis] = _fade(outside / blend)
        return out
    end = _bonnet_end(section, k)
    along = arcs - arcs[k]
    if what in ("bonnet_height", "bonnet_slope") and end - k < 1:
        raise refuse("moves.no_bonnet", handle=handle.words, y=section.y)
    run = max(float(along[end]), 1e-9)
    over_bonnet = _fade(np.clip(along / run, 0.0, 1.0))
    if what == "bonnet_height":
        inside = np.maximum(np.minimum(along, run - along), 0.0)
        out[:, 1] = _fade(1.0 - inside / min(blend, run / 2.0))
    elif what == "bonnet_slope":
        # Square to the chord of the bonnet, so that the chord turns by the angle itself.
        chord = section.points[end] - section.points[k]
        ahead = chord / np.hypot(*chord)
        far = (section.points - section.points[k]) @ ahead
        far[:k], far[end:] = 0.0, far[end]
        out[:] = far[:, None] * np.array([-ahead[1], ahead[0]])
    elif what == "nose":
        out[:, axis] = over_bonnet
    else:
        high = face.face_top[1] - face.face_bottom[1]
        rise = np.clip(section.z - face.face_bottom[1], 0.0, high)
        rise[: _index(section, face.face_bottom)] = 0.0
        rise[k:] = high
        out[:, 0] = rise * over_bonnet
    return out


def _between(along: Array, low: float, high: float) -> Array:
    """1 at 0, fading to 0 at either end."""
    return _fade(np.where(along < 0.0, along / low, along / high))


def _bumper(section: Section) -> tuple[int, int]:
    """First and last point of the bumper's face; unlabelled, up to the upper lip or foremost."""
    # Labels may run on under the chin: only what stands in the face counts.
    face = section.face
    low, top = _index(section, face.face_bottom), _index(section, face.face_top)
    labelled = np.flatnonzero(section.part_mask("bumper")[low : top + 1])
    if len(labelled):
        return low + int(labelled[0]), low + int(labelled[-1])
    return low, _index(section, face.upper_lip or face.foremost)


def _fade(t: Array) -> Array:
    """1 at t = 0, 0 from t = 1 on, with no slope at either end."""
    rest = np.clip(1.0 - t, 0.0, 1.0)
    return rest * rest * (3.0 - 2.0 * rest)


def _index(section: Section, point: tuple[float, float]) -> int:
    return int(np.argmin(np.hypot(section.x - point[0], section.z - point[1])))


def _bonnet_end(section: Section, top: int) -> int:
    """Last point labelled bonnet; else the last before the glass, of the front, or at all."""
    glass = np.flatnonzero(section.part_mask("cowl", "windscreen")[top + 1 :])
    if len(glass) and not section.has_part("bonnet"):
        return top + int(glass[0])
    for names in (("bonnet",), ("grille", "lamp", "trim", "bumper")):
        labelled = np.flatnonzero(section.part_mask(*names))
        if len(labelled) and labelled[-1] > top:
            return int(labelled[-1])
    return len(section) - 1

"""What looks odd in a front that was read: slips of unit, column, sign, order and of single rows.

Pure geometry, against bounds that stand in `plausible.toml`. A slip that leaves a shape like a
front's is not found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from msgspec import UNSET, UnsetType

from frontcheck.files import own_toml
from frontcheck.geometry.polyline import nearest
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.surface.section import Section

NOT_FOUND: Final = (
    "Small slips are not found: of those of 20 mm in one row nearly none, of 50 mm one in four, of "
    "100 mm four in five, of stations written 50 mm off one in three."
)
"""What stands wherever something is said of plausibility; counted on made-up fronts."""
_MOST_NAMED: Final = 6
_MOST_ROWS: Final = 400
"""More rows of a station nobody has typed: they are not looked at one by one."""
_EXTENSION_MM: Final = 500.0
"""Contours end here and there: beyond its end a neighbour is run on straight, and says nothing."""
_SPREAD_OF_MAD: Final = 1.4826
"""Standard deviation of normal values of which the median absolute deviation is 1."""

Place = tuple["Section", int]


@one_line
@dataclass(frozen=True)
class Doubt:
    """Something in a front that looks like a slip of measuring or typing.

    Parameters
    ----------
    what : str
        What looks odd, and where.
    rows : tuple of int
        Rows of the file; of a front without a file, points of their station, from 1.
    do : str
        What to check.
    hint : bool, optional
        Whether real fronts look like that now and then.

    Examples
    --------
    >>> import frontcheck as fc
    >>> flat = fc.Section([(6, 23), (0, 48), (20, 80), (90, 93)])  # cm, taken for mm
    >>> fc.plausibility(fc.Front((flat,)))[0].rows
    (1,)
    """

    what: str
    rows: tuple[int, ...]
    do: str
    hint: bool = False


def plausibility(front: Front) -> tuple[Doubt, ...]:
    """Say what looks like a slip in a front: unit, columns, signs, order, single rows.

    Parameters
    ----------
    front : Front
        The front.

    Returns
    -------
    tuple of Doubt
        At most one a kind of slip, hints last; empty where nothing stands out. Of meshes only the
        size is looked at and that sections end behind and above, since nobody typed their rows.

    Notes
    -----
    Bounds are own choice (`frontcheck/front/plausible.toml`). Small slips are not found: of 20 mm
    in one row nearly none, of 50 mm one in four.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.plausibility(fc.read_front("geometries/plover.csv"))
    ()
    """
    found = [*_extents(front), *_courses(front)]
    drawn = front.mesh is not None or front.source.kind == "dxf"
    if not drawn and max(map(len, front.sections)) <= _MOST_ROWS:
        found += [*_spikes(front), *_apart(front), *_plan(front), *_spacing(front)]
    return tuple(found)


def doubts_told(*found: Sequence[Doubt]) -> list[Doubt] | UnsetType:
    """Return what a document says of its fronts, of two by letter; nothing where nothing is odd."""
    leads = ("A: ", "B: ") if len(found) > 1 else ("",)
    told = [
        replace(doubt, what=f"{lead}{doubt.what}")
        for doubts, lead in zip(found, leads, strict=True)
        for doubt in doubts
    ]
    return told or UNSET


def doubts_said(doubts: Sequence[Doubt]) -> list[str]:
    """Return a sentence for each, or that there are none, and what is not found."""
    said = [f"{doubt.what}; {doubt.do}." for doubt in doubts]
    return [*(said or ["Nothing looks like a slip of measuring or typing."]), NOT_FOUND]


@cache
def _bounds() -> dict[str, dict[str, Any]]:
    return own_toml("frontcheck.front", "plausible.toml")


def _doubt(name: str, places: Sequence[Place], **values: float) -> Doubt:
    words = _bounds()[name]
    rows = tuple(s.rows[i] if s.rows is not None else i + 1 for s, i in places)
    at = [
        f"{'point' if section.rows is None else 'row'} {row} at y = {section.y:g} mm"
        for (section, _), row in zip(places, rows, strict=True)
    ]
    more = len(at) - _MOST_NAMED
    where = ", ".join(at[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
    what = words["what"].format(where=where, **values)
    return Doubt(what, rows, words["do"], hint=what.startswith("hint"))


def _extents(front: Front) -> Iterator[Doubt]:
    """Heights, setbacks and stations in a range that vehicles have."""
    rows = [(section, i) for section in front.sections for i in range(len(section))]
    x, z = np.concatenate([section.points for section in front.sections]).T
    low, high, ahead, behind = (rows[i] for i in (z.argmin(), z.argmax(), x.argmin(), x.argmax()))
    found = {
        "lowest": (z.min(), [low]),
        "highest": (z.max(), [high]),
        "span": (np.ptp(x), [ahead, behind]),
    }
    if len(front.sections) > 1:
        outer = max(front.sections, key=lambda section: abs(section.y))
        found["outermost"] = (abs(outer.y), [(outer, 0)])
    for name, (value, places) in found.items():
        least, most = _bounds()[name]["low_mm"], _bounds()[name]["high_mm"]
        if not least <= value <= most:
            yield _doubt(name, places, value=float(value), low=least, high=most)


def _courses(front: Front) -> Iterator[Doubt]:
    """Every contour runs forward from below, and ends well behind and above."""
    name = "course" if front.mesh is None else "turned"  # a mesh is walked in our own order
    bound, places = _bounds()[name], []
    for section in front.sections:
        foremost, last = int(section.x.argmin()), len(section) - 1
        ahead, below = section.points[foremost, 0], float(section.z[0])
        if name == "turned":
            below = min(below, float(section.z[foremost]))
        elif foremost in (0, last) or section.z[foremost] < below:
            places.append((section, foremost))
            continue
        if section.x[-1] < ahead + bound["behind_mm"] or section.z[-1] < below + bound["above_mm"]:
            places.append((section, last))
    if places:
        yield _doubt(name, places)


def _spikes(front: Front) -> Iterator[Doubt]:
    """Rows at which a contour turns back, far from both rows beside."""
    bound, places = _bounds()["spike"], []
    for section in front.sections:
        step = np.diff(section.points, axis=0)
        leg = np.hypot(*step.T)
        cosine = (step[:-1] * step[1:]).sum(axis=1) / (leg[:-1] * leg[1:])
        sharp = cosine < math.cos(math.radians(bound["turn_deg"]))
        far = np.minimum(leg[:-1], leg[1:]) > bound["leg_mm"]
        places += [(section, int(i) + 1) for i in np.flatnonzero(sharp & far)]
    if places:
        yield _doubt("spike", places)


def _apart(front: Front) -> Iterator[Doubt]:
    """Single rows far off the contours of the two nearest stations, however the plan curves."""
    bound, sections = _bounds()["apart"], front.sections
    if len(sections) < bound["stations"]:
        return
    off = []
    for section in sections:
        # The other side of the vehicle is beside, too: fronts are even about their centre.
        gaps = [(abs(abs(other.y) - abs(section.y)), k) for k, other in enumerate(sections)]
        near = sorted(gap for gap in gaps if sections[gap[1]] is not section)[:2]
        own = np.min([_off(section.points, sections[k].points) for _, k in near], axis=0)
        # Where a whole stretch is off the shape differs, as at a corner that is cut away.
        beside = np.maximum(np.append(own[1:], 0.0), np.insert(own[:-1], 0, 0.0))
        off.append(own - beside)
    worst = np.array([each.max() for each in off])
    middle = float(np.median(worst))
    spread = _SPREAD_OF_MAD * float(np.median(np.abs(worst - middle)))
    limit = max(bound["least_mm"], middle + bound["spreads"] * spread)
    places = [
        (section, int(i))
        for section, each in zip(sections, off, strict=True)
        for i in np.flatnonzero(each > limit)
    ]
    if places:
        yield _doubt("apart", places)


def _off(points: Array, other: Array) -> Array:
    """Distance of every row from another contour, shifted in x to lie on it; 0 beyond its ends."""
    ends = []
    for end, before in ((other[0], other[1]), (other[-1], other[-2])):
        ends.append(end + (end - before) / np.hypot(*(end - before)) * _EXTENSION_MM)
    run = np.concatenate([ends[:1], other, ends[1:]])
    step = np.diff(run, axis=0)
    upright = np.abs(step[:, 1]) >= np.abs(step[:, 0])
    shift = points[:, 0].min() - other[:, 0].min()
    for _ in range(4):
        near = nearest((run + np.array([shift, 0.0]))[None], points)
        foot = run[near.stretch, 0] + near.t * step[near.stretch, 0] + shift
        inside = (near.stretch > 0) & (near.stretch < len(step) - 1)
        told = upright[near.stretch] & inside
        shift += float(np.median((points[:, 0] - foot)[told])) if told.any() else 0.0
    return np.where(inside, near.distance, 0.0)


def _plan(front: Front) -> Iterator[Doubt]:
    """Foremost points that step out of an even curve in plan."""
    bound, places = _bounds()["plan"], []
    for side in (1.0, -1.0):
        own = sorted((s for s in front.sections if s.y * side >= 0.0), key=lambda s: abs(s.y))
        if len(front.sections) < bound["stations"] or front.datum == "local":
            continue
        foremost = np.array([section.x.min() for section in own])
        y = np.abs([section.y for section in own])
        for i in range(1, len(own) - 1):
            inner, outer = foremost[i - 1], foremost[i + 1]
            line = inner + (outer - inner) * (y[i] - y[i - 1]) / (y[i + 1] - y[i - 1])
            low, high = min(inner, line) - bound["within_mm"], max(inner, line) + bound["within_mm"]
            if not low <= foremost[i] <= high:
                places.append((own[i], int(own[i].x.argmin())))
    if places:
        yield _doubt("plan", places)


def _spacing(front: Front) -> Iterator[Doubt]:
    """Stations that lie off the even spacing of all others."""
    bound, y, places = _bounds()["spacing"], np.array(front.stations), []
    if len(y) < bound["stations"]:
        return
    steps = np.diff(y)
    for i in range(1, len(y) - 1):
        others = np.delete(steps, [i - 1, i])
        whole = steps[i - 1] + steps[i] - 2.0 * np.median(others)
        off = abs(steps[i] - steps[i - 1]) / 2.0
        if max(np.ptp(others), abs(whole)) <= bound["even_mm"] and off >= bound["off_mm"]:
            places.append((front.sections[i], 0))
    if places:
        yield _doubt("spacing", places)

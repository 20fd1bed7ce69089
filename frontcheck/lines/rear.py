"""BRRL: a sphere in space on windscreen and front structure at once.

Where the plan shape is known the sphere rolls on the facets of the surface (UN R127 02 series,
2.8, text read). One section does not tell where it rests: there the line is not available.

Changed copies of a section, drawn or varied, have no surface of their own. Theirs is the section
run on in the direction in which the two surfaces meet where the sphere rests on the nominal
one: seen along that direction the sphere is a circle, and by how much the circle moves from the
nominal section to the copy, the line moves. Nothing is approximated but how the copy's
plan shape would bend (`RuledRear`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.geometry.at_once import both
from frontcheck.geometry.polyline import nearest
from frontcheck.geometry.rolling_sphere import SphereLine, sphere_line
from frontcheck.geometry.sphere import sphere_contact
from frontcheck.lines.line_values import (
    NOT_AVAILABLE,
    NOT_REACHED,
    OK,
    OPEN_END,
    PLAIN,
    R_CAPPED,
    R_LOCAL,
    R_NO_REST,
    R_NO_SCREEN,
    R_ONE_SECTION,
    R_REAR_END,
    LineValues,
    unavailable,
)
from frontcheck.lines.section_lines import LineBatch, with_marks
from frontcheck.surface.section import PARTS

if TYPE_CHECKING:
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.surface.contours import Contours
    from frontcheck.surface.surface import Facets, Surface

RULED: Final = (
    "BRRL of a changed section: the section is run on in the direction in which bonnet and "
    "windscreen meet in plan, as measured, and the line moves as the sphere on that does; how "
    "neighbouring stations change is left out"
)
"""What is said where the line of a changed copy is shown."""

_NO_STRUCTURE: Final = tuple(part for part in ("windscreen", "pillar", "ignore") if part in PARTS)
"""Parts that are not front structure (UN R127 02 series, 2.22, text read)."""


def with_rear(
    batch: LineBatch, contours: Contours, front: Front, ys: Array, rules: RuleSet
) -> LineBatch:
    """Add the BRRL of contours that lie at those y (B,) on the surface of a front."""
    try:
        surface = front.surface()
    except NotAvailableError:
        return _without(batch, R_LOCAL if front.datum == "local" else R_ONE_SECTION)
    return on_surface(batch, contours, surface, ys, rules)


def on_surface(
    batch: LineBatch, contours: Contours, surface: Surface, ys: Array, rules: RuleSet
) -> LineBatch:
    """Add the BRRL of contours that are cut from a surface at those y (B,)."""
    if not (contours.screen[:, 1] >= 0).any():
        return _without(batch, R_NO_SCREEN)
    rest = _rest(surface, ys, _Foot.of(contours, ys, mirrored=surface.symmetric), rules)
    ended = rest.front_end | rest.screen_end
    # Beside the windscreen the sphere would still find its edge: no line is carried round it.
    glass = contours.screen[:, 1] >= 0
    rest = replace(rest, touched=rest.touched & glass)
    lost = np.where(glass, R_NO_REST, R_NO_SCREEN)
    values = LineValues(
        np.select(
            [~rest.touched & (lost == R_NO_SCREEN), ~rest.touched, ended],
            [NOT_AVAILABLE, NOT_REACHED, OPEN_END],
            OK,
        ),
        np.where(rest.touched, rest.front[:, 0], 0.0),
        np.where(rest.touched, rest.front[:, 2], 0.0),
        np.select([~rest.touched, ended], [lost, np.full(len(lost), R_REAR_END)], PLAIN),
    )
    sphere = np.concatenate([rest.centre, rest.front, rest.screen], axis=1)
    sphere[~rest.touched] = 0.0
    return replace(batch, BRRL=_capped(values, batch, contours, rules), sphere=sphere)


def _without(batch: LineBatch, reason: int) -> LineBatch:
    """BRRL that is not available."""
    count = len(batch.sphere)
    return replace(batch, BRRL=unavailable(count, reason), sphere=np.zeros((count, 9)))


def _capped(values: LineValues, batch: LineBatch, contours: Contours, rules: RuleSet) -> LineValues:
    """Keep the line ahead of the wrap-around distance at which some rules end it."""
    if not rules.flag("brrl.cap_line") or not values.formed.any():
        return values
    marks = with_marks(batch, contours, (rules.value("brrl.wad_cap_mm"),), rules).WAD
    mark_x, mark_z, at = marks.x[:, 0], marks.z[:, 0], marks.stretch[:, 0]
    rest = nearest(contours.points, np.stack([values.x, values.z], axis=1))
    base = contours.points[np.arange(len(at)), at]
    farther = np.hypot(values.x - base[:, 0], values.z - base[:, 1]) > np.hypot(
        mark_x - base[:, 0], mark_z - base[:, 1]
    )
    beyond = (rest.stretch > at) | ((rest.stretch == at) & farther)
    capped = values.formed & marks.reached[:, 0] & beyond
    return LineValues(
        np.where(capped, OK, values.code),
        np.where(capped, mark_x, values.x),
        np.where(capped, mark_z, values.z),
        np.where(capped, R_CAPPED, values.reason_code),
    )


# --- on the surface --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Foot:
    """Foot of the windscreen across a front."""

    points: Array  # (n, 3), y rising [mm]

    @classmethod
    def of(cls, contours: Contours, ys: Array, *, mirrored: bool) -> _Foot:
        """Take it from contours in which the windscreen is known."""
        there = np.flatnonzero(contours.screen[:, 1] >= 0)
        at = contours.points[there, contours.screen[there, 1]]
        points = np.stack([at[:, 0], ys[there], at[:, 1]], axis=1)
        if mirrored:
            points = np.concatenate([points * [1.0, -1.0, 1.0], points])
        points = points[np.argsort(points[:, 1], kind="stable")]
        return cls(points)

    def turned(self) -> _Foot:
        """Return it seen in a mirror."""
        return _Foot((self.points * [1.0, -1.0, 1.0])[::-1])

    def behind(self, middle: Array) -> Array:
        """How far behind it places (k, 3) lie; as behind its nearest end beyond its ends."""
        x, y, _ = self.points.T
        return np.asarray(middle[:, 0] - np.interp(middle[:, 1], y, x))


def _rest(surface: Surface, ys: Array, foot: _Foot, rules: RuleSet) -> SphereLine:
    """Where the sphere rests, at every y (B,)."""
    radius = rules.value("brrl.sphere_diameter_mm") / 2.0
    # Either side is worked out as if it were the right, and the centre plane as the mean of both:
    # so the mirror image of a front has the mirror image of its line, to the last bit.
    every, row = np.unique(np.abs(ys), return_inverse=True)
    if surface.symmetric:
        lines = [_side(surface, every, foot, radius)] * 2
    else:
        there = [np.isin(every, np.abs(ys[sign * ys >= 0.0])) for sign in (1.0, -1.0)]
        rolls = both(
            partial(_side, surface, every[there[0]], foot, radius),
            partial(_side, surface.mirrored(), every[there[1]], foot.turned(), radius),
        )
        lines = [_spread(line, own) for line, own in zip(rolls, there, strict=True)]
    total, share = np.zeros((3, len(ys), 3)), np.zeros(len(ys))
    ends = np.zeros((2, len(ys)), dtype=bool)
    for sign, line in zip((1.0, -1.0), lines, strict=True):
        own = line.touched[row] & (sign * ys >= 0.0)
        places = np.stack([line.centre, line.front, line.screen])[:, row] * [1.0, sign, 1.0]
        total += np.where(own[:, None], places, 0.0)
        ends |= own & np.stack([line.front_end, line.screen_end])[:, row]
        share += own
    return SphereLine(share > 0.0, *(total / np.maximum(share, 1.0)[:, None]), *ends)


def _spread(line: SphereLine, there: Mask) -> SphereLine:
    """Give a line places for stations that it was not asked for."""
    spread = []
    for values in vars(line).values():
        full = np.zeros((len(there), *values.shape[1:]), dtype=values.dtype)
        full[there] = values
        spread.append(full)
    return SphereLine(*spread)


def _side(surface: Surface, ys: Array, foot: _Foot, radius: float) -> SphereLine:
    """Roll the sphere over the right side."""
    reach = 2.0 * radius
    low, high = foot.points.min(axis=0), foot.points.max(axis=0)
    # Front structure two radii ahead of any windscreen is out of reach, and windscreen two radii
    # behind front structure, which ends one radius behind the foot.
    low, high = low - 1.1 * reach, high + 1.6 * reach
    if len(ys):
        low[1], high[1] = ys[0] - reach, ys[-1] + reach
    return sphere_line(_divided(surface.facets(low, high), foot, radius), radius, ys)


def _divided(facets: Facets, foot: _Foot, radius: float) -> list[Array]:
    """Front structure, and windscreen."""
    a, b, c = (facets.corners[:, i] for i in range(3))
    behind = foot.behind((a + b + c) / 3.0)
    screen = facets.labelled("windscreen")
    structure = ~facets.labelled(*_NO_STRUCTURE)
    if not screen.any():
        # A mesh without labels: its windscreen begins at the foot that its sections show.
        screen = structure & (behind >= 0.0)
    # What lies rearward of the windscreen is no front structure either.
    structure &= ~screen & (behind <= radius)
    return [facets.corners[structure], facets.corners[screen]]


# --- copies of a section ---------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class RuledRear:
    """How BRRL moves from a nominal section to changed copies of it."""

    code: int  # Status where the sphere rests on the copy
    reason: int
    flat: Array  # (2, 2) from x and z to the plane square to the meeting line
    shift: Array  # (2,) from the circle's contact to the sphere's, x and z [mm]

    @classmethod
    def of(cls, nominal: LineBatch, i: int, contour: Contours, rules: RuleSet) -> RuledRear:
        """Take it from one contour, a batch of one, and its line in a batch of lines."""
        line = nominal.BRRL
        gone = cls(int(line.code[i]), int(line.reason_code[i]), np.eye(2), np.zeros(2))
        if not line.formed[i]:
            return gone
        centre, front, screen = nominal.sphere[i].reshape(3, 3)
        meeting = np.cross(front - centre, screen - centre)
        if (front == screen).all():
            meeting = _seam_along(nominal.sphere[:, 3:6], line.formed, i)
        length = np.linalg.norm(meeting)
        if length == 0.0 or meeting[1] == 0.0:
            return replace(gone, code=NOT_AVAILABLE, reason=R_ONE_SECTION)
        along = meeting * np.sign(meeting[1]) / length
        rear = np.array([1.0, 0.0, 0.0]) - along[0] * along
        rear /= np.linalg.norm(rear)
        flat = np.stack([rear, np.cross(rear, along)])[:, ::2]
        at, touched = _circle(contour, flat, rules)
        if not touched[0]:
            return replace(gone, code=NOT_AVAILABLE, reason=R_ONE_SECTION)
        return cls(gone.code, gone.reason, flat, front[::2] - at[0])

    def on(self, batch: LineBatch, copies: Contours, rules: RuleSet) -> LineBatch:
        """Add the BRRL of changed copies."""
        if self.code >= NOT_REACHED:
            added = _without(batch, self.reason)
            added.BRRL.code[:] = self.code
            return added
        at, touched = _circle(copies, self.flat, rules)
        at = np.where(touched[:, None], at + self.shift, 0.0)
        values = LineValues(
            np.where(touched, self.code, NOT_REACHED),
            at[:, 0],
            at[:, 1],
            np.where(touched, self.reason, R_NO_REST),
        )
        # A line held at a wrap-around distance is held there in every copy that goes beyond.
        if self.reason == R_CAPPED:
            values.code[touched], values.reason_code[touched] = OK, PLAIN
        return replace(batch, BRRL=_capped(values, batch, copies, rules))


def _seam_along(places: Array, formed: Mask, i: int) -> Array:
    """Direction of the seam on which a sphere rests: from its place on one side to the other."""
    y = np.where(formed, places[:, 1], np.nan)
    outer, inner = (np.flatnonzero(side) for side in (y > y[i], y < y[i]))
    ends = [places[i], places[i]]
    if len(outer):
        ends[1] = places[outer[np.argmin(y[outer])]]
    if len(inner):
        ends[0] = places[inner[np.argmax(y[inner])]]
    elif y[i] == 0.0:  # of a front measured on one side and mirrored
        ends[0] = ends[1] * [1.0, -1.0, 1.0]
    return np.asarray(ends[1] - ends[0])


def _circle(contours: Contours, flat: Array, rules: RuleSet) -> tuple[Array, Mask]:
    """Contacts (B, 2), x and z, of the sphere seen along the meeting line, and whether it rests."""
    radius = rules.value("brrl.sphere_diameter_mm") / 2.0
    at, touched = np.zeros((len(contours), 2)), np.zeros(len(contours), dtype=bool)
    ranges, group = np.unique(contours.screen, axis=0, return_inverse=True)
    for g, (upper, first, last) in enumerate(ranges):
        if first < 0:
            continue
        chosen = np.flatnonzero(group.reshape(-1) == g)
        seen = contours.points[chosen] @ flat.T
        rest = sphere_contact(seen, radius, (int(first), int(last)), int(upper))
        at[chosen] = np.stack([rest.x, rest.z], axis=1) @ np.linalg.inv(flat).T
        touched[chosen] = rest.touched
    return at, touched

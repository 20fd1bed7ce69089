"""Noses as sections and fronts: one, or many at once with a reason where one cannot be made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.front.front import Front
from frontcheck.study.nose_dimensions import DIMENSIONS, STEP_DEG, Facets, Nose, arc_parts
from frontcheck.study.roundings import BEYOND_PLAN, CIRCLES, COWL, EDGE, Chain, lay_out, left
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section, part_codes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.arrays import Array, Mask

CHORD_TOLERANCE_MM: Final = 0.02
"""Largest distance between a facet and its arc where none is given [mm]."""

_BLOCK: Final = 4096
_PLAN_COLUMN: Final = next(k for k, d in enumerate(DIMENSIONS) if d.name == "plan_radius_mm")
_PART_OF_CIRCLE: Final = ("bumper",) * 4 + ("lamp",) * 2 + ("bonnet",) * 2 + ("cowl",)
_SAME_POINT_MM: Final = 1e-9


@dataclass(frozen=True, eq=False)
class NoseBatch:
    """Sections of B noses with the same number of points each."""

    points: Array  # (B, n, 2) float, x and z at y = 0 [mm]
    parts: tuple[str, ...]  # (n,) part of every point
    reason: NDArray[np.object_]  # (B,) why a nose cannot be made; empty where it can
    plan_radius: Array  # (B,) radius of the plan shape [mm]

    @property
    def feasible(self) -> Mask:
        """Which noses can be made, (B,)."""
        return np.asarray(self.reason == "")

    def at_station(self, y: float) -> Array:
        """Return the sections at a station: set back by the height of the plan arc over y."""
        if y == 0.0:
            return self.points
        moved = self.points.copy()
        moved[..., 0] += _plan_setback(self.plan_radius, y)[:, None]
        return moved

    def contours(self, y: float = 0.0) -> Contours:
        """Return the sections at a station, ready for the lines."""
        points = self.at_station(y)
        batch, n = points.shape[:2]
        parts = np.array(self.parts)
        glass = np.flatnonzero(parts == "windscreen")
        face = np.flatnonzero(np.isin(parts, ("underside", "bumper", "lamp")))
        return Contours(
            points,
            np.full(batch, n),
            np.broadcast_to(part_codes(self.parts), (batch, n)),
            np.tile([face[-1] + 1, glass[0], glass[-1]], (batch, 1)),
            np.zeros(batch, dtype=bool),
        )

    def section(self, i: int, y: float = 0.0) -> Section:
        """Return one nose as a section, without its repeated points."""
        if self.reason[i]:
            raise NotAvailableError(self.reason[i])
        points = self.at_station(y)[i]
        moved = np.abs(np.diff(points, axis=0)).max(axis=1) > _SAME_POINT_MM
        # Of several points in one place the last stays: it carries the part that follows.
        keep = np.concatenate([moved, [True]])
        parts = [part for part, kept in zip(self.parts, keep, strict=True) if kept]
        return Section(points[keep], y, parts)


def nose_batch(values: Array, facets: Facets) -> NoseBatch:
    """Make many noses with one set of facets."""
    chain = lay_out(values)
    pieces = [(_PART_OF_CIRCLE[i], _arc(chain, i, facets)) for i in range(len(CIRCLES))]
    pieces.insert(0, ("underside", chain.start[:, None]))
    pieces.insert(EDGE + 2, ("bonnet", _bonnet_points(chain, facets.bonnet)))
    windscreen = np.stack([chain.point(COWL, chain.leave[COWL]), chain.end], axis=1)
    pieces.append(("windscreen", windscreen))
    points = np.concatenate([each for _, each in pieces], axis=1)
    parts = tuple(part for part, each in pieces for _ in range(each.shape[1]))
    return NoseBatch(points, parts, chain.reason, values[:, _PLAN_COLUMN].copy())


def facets_for(
    values: Array, chord_tolerance: float = CHORD_TOLERANCE_MM, margin_deg: float = 0.0
) -> Facets:
    """Return facets that hold a chord tolerance for every given nose."""
    if not chord_tolerance > 0.0:
        raise ValueError(f"the chord tolerance must be above 0 mm, not {chord_tolerance:g}")
    low, high = np.full(len(CIRCLES), np.inf), np.full(len(CIRCLES), -np.inf)
    radius, crown, why = np.zeros(len(CIRCLES)), 0.0, ""
    for i in range(0, len(values), _BLOCK):
        chain = lay_out(values[i : i + _BLOCK])
        good = chain.reason == ""
        if not good.any():
            why = why or chain.reason[0]
            continue
        ends = np.stack([chain.enter[:, good], chain.leave[:, good]])
        low = np.minimum(low, ends.min(axis=(0, 2)))
        high = np.maximum(high, ends.max(axis=(0, 2)))
        radius = np.maximum(radius, np.abs(chain.rho[:, good]).max(axis=1))
        crown = max(crown, float(chain.crown[good].max()))
    if not np.isfinite(low).all():
        raise NotAvailableError(why)
    arcs, margin = [], np.radians(margin_deg)
    for i in range(len(CIRCLES)):
        parts = arc_parts(float(radius[i]), chord_tolerance)
        step = np.radians(STEP_DEG / parts)
        first, last = np.ceil((low[i] - margin) / step), np.floor((high[i] + margin) / step)
        arcs.append((parts, int(first), int(last)))
    # A flat arc of height h in m chords lies within h / m^2 of them; a touch more as it bends.
    chords = int(np.ceil(np.sqrt(1.1 * crown / chord_tolerance)))
    return Facets(tuple(arcs), max(chords, 1))


def nose_front(
    nose: Nose,
    stations: Sequence[float] = (0.0,),
    name: str = "nose",
    chord_tolerance: float = CHORD_TOLERANCE_MM,
) -> Front:
    """Make one nose as a front, its two halves alike.

    Parameters
    ----------
    nose : Nose
        Its dimensions.
    stations : sequence of float, optional
        Stations of one half, increasing from 0 or more [mm].
    name : str, optional
        Name of the front.
    chord_tolerance : float, optional
        Largest distance between a facet and its arc [mm].

    Returns
    -------
    Front
        The front.

    Raises
    ------
    NotAvailableError
        If the nose cannot be made, or a station lies outside the plan radius.
    ValueError
        If the tolerance is not above 0.

    Examples
    --------
    >>> import frontcheck as fc
    >>> front = fc.nose_front(fc.Nose(), stations=(0, 300, 600))
    >>> fc.screen(front).station(0).legform
    'lower'
    """
    values = nose.values[None]
    batch = nose_batch(values, facets_for(values, chord_tolerance))
    if stations and max(stations) >= nose.plan_radius_mm:
        raise NotAvailableError(BEYOND_PLAN)
    sections = tuple(batch.section(0, float(y)) for y in stations)
    return Front(sections, name=name, symmetric=True, method="parametric nose, arcs and tangents")


def _plan_setback(radius: Array, y: float) -> Array:
    """Height of an arc over y: radius - sqrt(radius^2 - y^2), without cancellation."""
    inner = np.sqrt(np.maximum(radius * radius - y * y, 0.0))
    return y * y / (radius + inner)


def _arc(chain: Chain, i: int, facets: Facets) -> Array:
    """Points of one rounding: both its ends and the common directions between, (B, m, 2)."""
    inner = facets.directions(i)
    ends = np.stack([chain.enter[i], chain.leave[i]])
    low, high = ends.min(axis=0), ends.max(axis=0)
    # A rounding is walked with falling directions, the floor of a recess with rising ones.
    if chain.rho[i, 0] > 0.0:
        inner = inner[::-1]
    middle = np.clip(inner[None], low[:, None], high[:, None])
    directions = np.concatenate([ends[0][:, None], middle, ends[1][:, None]], axis=1)
    return chain.point(i, directions)


def _bonnet_points(chain: Chain, chords: int) -> Array:
    """Inner points of the bonnet's arc, evenly spaced, (B, chords - 1, 2)."""
    front, rear = chain.bonnet
    slope, bend = (front + rear) / 2.0, (front - rear) / 2.0
    base = chain.point(EDGE, front)
    t = np.arange(1, chords) / chords
    # A chord of the arc from its front end after turning through 2 t bend leaves at bend (1 - t)
    # to the whole chord and is sin(t bend) / sin(bend) of it long.
    turn = bend[:, None] * t
    flat = np.abs(bend) < 1e-12
    part = np.where(flat[:, None], t, np.sin(turn) / np.where(flat, 1.0, np.sin(bend))[:, None])
    at = (slope + bend)[:, None] - turn
    reach = (chain.bonnet_length[:, None] * part)[..., None]
    normal = left(at)
    forward = np.stack([normal[..., 1], -normal[..., 0]], axis=-1)
    return base[:, None] + reach * forward

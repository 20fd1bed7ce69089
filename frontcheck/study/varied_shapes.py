"""What a study varies: a parametric nose, or a measured front with handles."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from frontcheck.serializer import one_line
from frontcheck.study.moves import (
    BELOW,
    BLEND_MM,
    CROSS,
    MorphField,
    Obstacle,
    morph_field,
    morph_front,
)
from frontcheck.study.nose_dimensions import DIMENSIONS, Nose
from frontcheck.study.noses import NoseBatch, nose_batch, nose_front
from frontcheck.study.roundings import BEYOND_PLAN
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Mask
    from frontcheck.study.nose_dimensions import Facets

_COLUMN = {dimension.name: k for k, dimension in enumerate(DIMENSIONS)}


@dataclass(frozen=True, eq=False)
class Variants:
    """B variants; contours hold the feasible ones only, in order."""

    feasible: Mask  # (B,) bool
    reasons: tuple[str, ...]  # (B,) why a variant cannot be made; empty for those that can
    contours: tuple[Contours, ...]  # Per station, the feasible variants
    moved: Array | None = None


@one_line
@dataclass(frozen=True, eq=False)
class NoseShapes:
    """A parametric nose of which some dimensions vary."""

    nose: Nose  # The base; dimensions that do not vary are taken from it
    names: tuple[str, ...]  # (d,) dimensions that vary
    stations: tuple[float, ...]  # Stations at which lines are formed [mm]
    facets: Facets  # Chords of every arc, shared by all variants
    chord_tolerance: float  # Chord tolerance for a nose made on its own [mm]

    @property
    def base(self) -> Array:
        """Values of the varied dimensions at the base, (d,)."""
        return np.array([getattr(self.nose, name) for name in self.names], dtype=float)

    def full(self, values: Array) -> Array:
        """Return all dimensions of variants."""
        full = np.tile(self.nose.values, (len(values), 1))
        full[:, [_COLUMN[name] for name in self.names]] = values
        return full

    def variants(self, values: Array) -> Variants:
        """Make variants."""
        full = self.full(values)
        batch = nose_batch(full, self.facets)
        reason = batch.reason.copy()
        far = max(abs(y) for y in self.stations)
        reason[(reason == "") & (batch.plan_radius <= far)] = BEYOND_PLAN
        good = reason == ""
        kept = NoseBatch(batch.points[good], batch.parts, reason[good], batch.plan_radius[good])
        contours = tuple(kept.contours(y) for y in self.stations)
        return Variants(good, tuple(reason.tolist()), contours)

    def travel(self, values: Array) -> Array:
        """Return how far each point of the new skin is from the old one, and the other way."""
        # A point that slides along the skin does not count as moved. Slower than the lines.
        import shapely  # here and not above: the command line must start fast

        batch = nose_batch(self.full(values), self.facets)
        old = nose_batch(self.nose.values[None], self.facets).points[0]
        old_line, old_points = shapely.LineString(old), shapely.points(old)
        shapely.prepare(old_line)
        far = np.zeros((len(values), 2 * len(old)))
        good = np.flatnonzero(batch.feasible)
        if len(good) == 0:
            return far
        new_lines = shapely.linestrings(batch.points[good])
        shapely.prepare(new_lines)
        far[good, : len(old)] = shapely.distance(shapely.points(batch.points[good]), old_line)
        far[good, len(old) :] = shapely.distance(old_points, new_lines[:, None])
        return far

    def front(self, values: Array) -> Front:
        """Make one variant from scratch, with facets of its own."""
        full = self.full(np.asarray(values, dtype=float)[None])[0]
        nose = Nose(**dict(zip(_COLUMN, full.tolist(), strict=True)))
        return nose_front(nose, self.stations, "variant", self.chord_tolerance)

    def to_dict(self) -> dict[str, Any]:
        """Return what the variants depend on."""
        return {
            "nose": asdict(self.nose),
            "vary": self.names,
            "stations_mm": self.stations,
            "facets": asdict(self.facets),
        }


@one_line
@dataclass(frozen=True, eq=False)
class FrontShapes:
    """A measured front whose handles vary."""

    measured: Front  # The base
    names: tuple[str, ...]  # (d,) handles that vary
    stations: tuple[float, ...]  # Those of its stations at which lines are formed [mm]
    blend: float = BLEND_MM
    fields: tuple[MorphField, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Work out the fields once."""
        sections = map(self.measured.section, self.stations)
        fields = tuple(morph_field(section, self.names, self.blend) for section in sections)
        object.__setattr__(self, "fields", fields)

    @property
    def base(self) -> Array:
        """Amounts at the base, all 0, (d,)."""
        return np.zeros(len(self.names))

    def variants(self, values: Array) -> Variants:
        """Make variants."""
        points = [field.points(values) for field in self.fields]
        reasons = np.full(len(values), "", dtype=object)
        for field_, at in zip(self.fields, points, strict=True):
            below = (at[..., 1] < 0.0).any(axis=1)
            for bad, what in ((~_simple(at), CROSS), (below, BELOW)):
                why = Obstacle(field_.section.y, what).words
                reasons[(reasons == "") & bad] = why
        good = reasons == ""
        contours = tuple(
            Contours.copies(field_.section, at[good])
            for field_, at in zip(self.fields, points, strict=True)
        )
        return Variants(
            good, tuple(reasons.tolist()), contours, self._far(points).max(axis=1)[good]
        )

    def travel(self, values: Array) -> Array:
        """Return how far every point of every station travels from where it was measured."""
        return self._far([field.points(values) for field in self.fields])

    def _far(self, points: list[Array]) -> Array:
        steps = [at - field.section.points for field, at in zip(self.fields, points, strict=True)]
        return np.concatenate([np.hypot(step[..., 0], step[..., 1]) for step in steps], axis=1)

    def front(self, values: Array) -> Front:
        """Make one variant from scratch, with all stations of the measured front."""
        amounts = dict(zip(self.names, (float(v) for v in values), strict=True))
        sections = tuple(self.measured.section(y) for y in self.stations)
        return morph_front(replace(self.measured, sections=sections), amounts, self.blend).front

    def to_dict(self) -> dict[str, Any]:
        """Return what the variants depend on."""
        source = self.measured.source
        front: dict[str, Any] = {"name": self.measured.name, "sha256": source.sha256}
        if source.files:
            front["files"] = [{"file": each.file, "sha256": each.sha256} for each in source.files]
        return {
            "front": front,
            "vary": self.names,
            "stations_mm": self.stations,
            "blend_mm": self.blend,
        }


Shapes: TypeAlias = NoseShapes | FrontShapes
"""A family of fronts with parameters."""


def _simple(points: Array) -> Mask:
    import shapely  # here and not above: the command line must start fast

    good: Mask = shapely.is_simple(shapely.linestrings(points))
    closed = (points[:, 0] == points[:, -1]).all(axis=1)
    still = (np.diff(points, axis=1) == 0.0).all(axis=2).any(axis=1)
    return np.asarray(good & ~closed & ~still)

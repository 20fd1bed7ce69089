"""Seeded draws of measured sections: what else the same survey might have read.

Draws are made in blocks of `BLOCK`, each a scrambled Latin hypercube of its own, from a seed
that depends on the block and the station only. So memory does not grow with the number of
draws, a longer run starts with the draws of a shorter one (whole blocks), and the errors
of the whole vehicle are the same at every station.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.survey import turned, untilted
from frontcheck.geometry.polyline import nearest
from frontcheck.lines.line_values import STATUSES
from frontcheck.lines.statuses import OPEN_END
from frontcheck.sure.errors_drawn import Input, row_inputs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.sure.uncertainty import Uncertainty
    from frontcheck.surface.section import Section

# Draws whose contour crosses itself: no surface looks like that, so they are counted.


def crossing(nominal: Array, points: Array) -> Mask:
    """Return which copies of a contour cross or touch themselves."""
    # Only stretches that are close enough for the points to have strayed together are compared.
    off = points - nominal
    if not off.any():
        return np.zeros(len(points), dtype=bool)
    suspect = _folds(points)
    for i, j in _close_pairs(nominal, np.hypot(off[..., 0], off[..., 1]).max(axis=0)):
        a, b, c, d = points[:, i], points[:, i + 1], points[:, j], points[:, j + 1]
        suspect |= (_turn(a, b, c) * _turn(a, b, d) <= 0.0) & (
            _turn(c, d, a) * _turn(c, d, b) <= 0.0
        )
    # Stretches in one line are suspected too, whether they overlap or not.
    if suspect.any():
        import shapely

        suspect[suspect] = ~shapely.is_simple(shapely.linestrings(points[suspect]))
    return suspect


def _folds(points: Array) -> Mask:
    """Copies in which a stretch runs straight back over the one before."""
    step = np.diff(points, axis=1)
    before, after = step[:, :-1], step[:, 1:]
    cross = before[..., 0] * after[..., 1] - before[..., 1] * after[..., 0]
    back: Mask = (before * after).sum(axis=-1) <= 0.0
    folds: Mask = ((cross == 0.0) & back).any(axis=1)
    return folds


def _turn(a: Array, b: Array, p: Array) -> Array:
    turn: Array = np.sign(
        (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (p[:, 0] - a[:, 0])
    )
    return turn


def _close_pairs(points: Array, stray: Array) -> list[tuple[int, int]]:
    """Pairs of stretches, not neighbours, whose boxes grown by the straying overlap."""
    low = np.minimum(points[:-1] - stray[:-1, None], points[1:] - stray[1:, None])
    high = np.maximum(points[:-1] + stray[:-1, None], points[1:] + stray[1:, None])
    meet = ((low[:, None] <= high[None]) & (low[None] <= high[:, None])).all(axis=-1)
    first, second = np.nonzero(np.triu(meet, 2))
    return list(zip(first.tolist(), second.tolist(), strict=True))


# What a block of draws says: every quantity, every status, and which rows are touched.

LINES: Final = ("UBRL", "LBRL", "BLERL", "BRRL")
"""Lines that are no wrap-around distance."""

OPEN: Final = STATUSES.index(OPEN_END)

_ALIASES: Final = {
    "ble_height_mm": "BLERL_z_mm",
    "upper_bumper_height_mm": "UBRL_z_mm",
    "lower_bumper_height_mm": "LBRL_z_mm",
}


def line_names(wad: Sequence[float]) -> tuple[str, ...]:
    """Return the names of all lines."""
    return (*LINES, *(f"WAD {distance:g}" for distance in wad))


def quantity_names(wad: Sequence[float]) -> tuple[str, ...]:
    """Return the names of all quantities: x and z of every line, then the bumper lead."""
    names = [f"{name.replace(' ', '_')}_{axis}_mm" for name in line_names(wad) for axis in "xz"]
    return (*names, "bumper_lead_mm")


def quantity_index(name: str, wad: Sequence[float]) -> int:
    """Return the place of a quantity among `quantity_names`; heights may go by their own name."""
    names = quantity_names(wad)
    wanted = _ALIASES.get(name, name)
    if wanted not in names:
        raise refuse("draws.threshold", name=name, known=(*names, *_ALIASES))
    return names.index(wanted)


def quantities(batch: LineBatch) -> tuple[Array, Mask]:
    """Return every quantity of a batch."""
    lines = [getattr(batch, name) for name in LINES]
    m = len(batch.distances)
    values = [v for line in lines for v in (line.x, line.z)]
    values += [v[:, j] for j in range(m) for v in (batch.WAD.x, batch.WAD.z)]
    formed = [line.formed for line in lines for _ in "xz"]
    formed += [batch.WAD.reached[:, j] for j in range(m) for _ in "xz"]
    lead = batch.bumper_lead
    both = ~np.ma.getmaskarray(lead)
    return np.stack([*values, np.ma.getdata(lead)]), np.stack([*formed, both])


def status_codes(batch: LineBatch) -> Index:
    """Return the status of every line of a batch."""
    codes = [getattr(batch, name).code for name in LINES]
    return np.stack([*codes, *batch.wad_code.T])


def open_ended(codes: Index) -> Mask:
    """Where a quantity rests on an open end, from the statuses of a batch, as `quantities`."""
    line = codes == OPEN
    lead = line[LINES.index("UBRL")] | line[LINES.index("BLERL")]
    return np.concatenate([np.repeat(line, 2, axis=0), lead[None]])


_SAME_MM: Final = 0.01
"""A contact this near to a row is that row's: the sphere in space is not worked out closer."""


def contact_counts(batch: LineBatch, points: Array) -> Index:
    """Count at which rows the lines of a batch lie."""
    n = points.shape[1]
    counts = []
    for name in LINES:
        line = getattr(batch, name)
        chosen = np.flatnonzero(line.formed)
        at = np.stack([line.x[chosen], line.z[chosen]], axis=-1)
        counts.append(_count(*_rows_at(points[chosen], at), n))
    for j in range(len(batch.distances)):
        chosen = np.flatnonzero(batch.WAD.reached[:, j])
        at = np.stack([batch.WAD.x[chosen, j], batch.WAD.z[chosen, j]], axis=-1)
        lower = batch.WAD.stretch[chosen, j]
        counts.append(_count(*_on_stretch(points[chosen], at, lower), n))
    return np.stack(counts)


def _count(first: Index, second: Index, n: int) -> Index:
    between = first != second
    return np.bincount(first, minlength=n) + np.bincount(second[between], minlength=n)


def _rows_at(points: Array, at: Array) -> tuple[Index, Index]:
    """First and last row of the point, or of the stretch, on which places (b, 2) lie."""
    off = points - at[:, None]
    same = np.hypot(off[..., 0], off[..., 1]) <= _SAME_MM
    first = same.argmax(axis=1)
    second = first.copy()
    between = np.flatnonzero(~same.any(axis=1))
    if len(between):
        first[between] = nearest(points[between], at[between]).stretch
        second[between] = first[between] + 1
    return first, second


def _on_stretch(points: Array, at: Array, lower: Index) -> tuple[Index, Index]:
    """The same for places on known stretches."""
    row = np.arange(len(points))
    at_lower = (points[row, lower] == at).all(axis=-1)
    at_upper = (points[row, lower + 1] == at).all(axis=-1)
    return np.where(at_upper, lower + 1, lower), np.where(at_lower, lower, lower + 1)


LEAST_DRAWS: Final = 100
"""Below this the ends of a 95 % interval rest on two or three draws."""
BLOCK: Final = 1000
"""Draws worked on at once: small enough for the processor's cache."""

_VEHICLE: Final = 0
"""Stream of the errors of the whole vehicle; station i has stream i + 1."""


class StationDraws:
    """Draws of one section."""

    def __init__(
        self, section: Section, settings: Uncertainty, index: int, draws: int, seed: int
    ) -> None:
        self.section = section
        self.settings = settings
        self.draws = draws
        self.inputs = _inputs(section, settings)
        self._index, self._seed = index, seed

    def __len__(self) -> int:
        """Return the number of draws."""
        return self.draws

    def blocks(self) -> Iterator[tuple[slice, Array, Array]]:
        """Make the draws, block by block."""
        for number, start in enumerate(range(0, self.draws, BLOCK)):
            size = min(BLOCK, self.draws - start)
            normals = np.empty((size, len(self.inputs)))
            shared = np.array([item.of_vehicle for item in self.inputs], dtype=bool)
            for stream, mine in ((self._index + 1, ~shared), (_VEHICLE, shared)):
                # The vehicle's stream always has the same columns, whatever a station lacks.
                normals[:, mine] = _latin_normals(size, int(mine.sum()), self._seed, number, stream)
            yield slice(start, start + size), normals, self._points(normals)

    def strayed(self, normals: Array) -> Array:
        """Return sections with the errors of their rows only."""
        base = self.section.points
        points = np.broadcast_to(base, (len(normals), *base.shape)).copy()
        both = self.section.correlation
        for j, item in enumerate(self.inputs):
            if item.row is not None:
                error = normals[:, j, None]
                if item.name == "setback" and both is not None:
                    # The height of the same node comes just before it.
                    r = both[item.rows]
                    error = r * normals[:, j - 1, None] + np.sqrt(1.0 - r * r) * error
                points[:, item.rows, 1 if item.name == "height" else 0] += item.by * error
        return points

    def _points(self, normals: Array) -> Array:
        settings, points = self.settings, self.strayed(normals)
        common = {
            item.name: item.u * normals[:, j]
            for j, item in enumerate(self.inputs)
            if item.row is None
        }
        if "scale" in common:
            points *= 1.0 + common["scale"][:, None, None] / 100.0
        if "square tilt" in common:
            points = untilted(points, common["square tilt"])
        if "datum" in common:
            points[..., 0] += common["datum"][:, None]
        if "ground slope" in common:
            points = turned(points, common["ground slope"])
        if "pitch" in common:
            points = turned(points, common["pitch"], (settings.pitch_pivot_mm, 0.0))
        if "ride height" in common:
            points[..., 1] += common["ride height"][:, None]
        return points


def station_draws(front: Front, settings: Uncertainty, draws: int, seed: int) -> list[StationDraws]:
    """Prepare the draws of every measured section of a front."""
    if draws < LEAST_DRAWS:
        raise refuse("draws.few", draws=draws, least=LEAST_DRAWS)
    if seed < 0:
        raise refuse("draws.seed", seed=seed)
    return [
        StationDraws(section, settings, i, draws, seed) for i, section in enumerate(front.sections)
    ]


def _inputs(section: Section, settings: Uncertainty) -> tuple[Input, ...]:
    """Errors of a station that are not 0, rows first."""
    n = len(section)
    heights = section.height_u if section.height_u is not None else [settings.height_u_mm] * n
    setbacks = section.setback_u if section.setback_u is not None else [settings.setback_u_mm] * n
    inputs = row_inputs(section, settings.error_length_mm, {"height": heights, "setback": setbacks})
    inputs += [
        Input("datum", settings.datum_u_mm),
        Input("square tilt", settings.square_tilt_u_deg),
        Input("ground slope", settings.ground_slope_u_deg),
        Input("ride height", settings.ride_height_u_mm),
        Input("pitch", settings.pitch_u_deg),
        Input("scale", settings.scale_u_percent),
    ]
    return tuple(item for item in inputs if item.u > 0.0)


def _latin_normals(size: int, columns: int, seed: int, *stream: int) -> Array:
    """Standard normal deviates (size, columns) from a scrambled Latin hypercube."""
    # Here and not above: the command line must start fast.
    from scipy.special import ndtri
    from scipy.stats.qmc import LatinHypercube

    if columns == 0:
        return np.empty((size, 0))
    entropy = np.random.SeedSequence(seed, spawn_key=stream)
    uniform = LatinHypercube(columns, seed=np.random.default_rng(entropy)).random(size)
    # A uniform deviate of exactly 0 would become minus infinity.
    normals: Array = ndtri(np.clip(uniform, 1e-300, 1.0 - 1e-16))
    return normals


# From draws of a number to what is said of it: interval and shares.

LEVEL: Final = 0.95
"""Level of every interval."""


# Draws are made about the offsets as measured, which are themselves off. Where a number is an
# extreme, errors shift it one way, and the draws shift it once more; each kind in its own way:
# - A contact jumps along the contour, to and fro: the middle of the draws (the percentile interval)
#   holds it, until rows lie along the edge. There the truth is an end of what may be touched, and
#   draws hardly reach it: whatever row may be touched counts (`touchable`).
# - A taut tape is the shortest of many: errors lengthen its way, so marks lie too far forward.
#   Draws tell by how much (`of_mark`).
# tests/benchmarks/test_interval_coverage.py states how often each covers the true value.
# Percentile and reflected interval: B. Efron and R. J. Tibshirani, An Introduction to the
# Bootstrap, Chapman & Hall, 1993, chapter 13 (from memory).

_TAILS: Final = ((1.0 - LEVEL) / 2.0, (1.0 + LEVEL) / 2.0)
_MAY_TOUCH: Final = 2.25
"""Own choice, in standard deviations: of ten rows along an edge, the last is kept 9 times of 10."""
_MOST_SHIFT: Final = 2.5
"""Own choice: a mark is off by 1 to 1.5 times as far as its draws are off the mark (measured)."""


def interval(values: Array) -> Array:
    """Return the middle 95 % of draws, along the first axis."""
    ends: Array = np.quantile(values, _TAILS, axis=0)
    return ends


def of_mark(values: Array, nominal: float) -> Array:
    """Return the interval of a mark of the tape: its draws, moved back by what shifts them."""
    shift, sd = float(np.median(values)) - nominal, float(values.std())
    # Moved back twice, draws are reflected at the mark. A shift that is small against the spread
    # is not known to be one (a mark in a hollow has draws on both slopes): it may be none.
    least = 2.0 * min(1.0, (shift / sd) ** 2) if sd > 0.0 else 0.0
    low, high = interval(values)
    moves = shift * np.array([least, _MOST_SHIFT])
    return np.array([min(nominal, *(low - moves)), max(nominal, *(high - moves))])


def touchable(gap: Array, drawn: Array) -> Mask:
    """Which rows an edge may touch in truth, from their gaps (n,) and gaps drawn (B, n)."""
    first = gap.argmin()
    sd = (drawn - drawn[:, first, None]).std(axis=0)
    may: Mask = gap - gap[first] <= _MAY_TOUCH * sd
    return may


def of_difference(one: float, of_one: Array, two: float, of_two: Array, r: float) -> Array:
    """Return the interval of one number less another, from theirs and their correlation."""
    # G. Y. Zou and A. Donner, Construction of confidence limits about effect measures: a general
    # approach, Statistics in Medicine 27 (10), 1693-1702, 2008 (from memory).
    off, other = np.abs(of_one - one), np.abs(of_two[::-1] - two)
    far = np.sqrt(np.maximum(off**2 + other**2 - 2.0 * r * off * other, 0.0))
    ends: Array = one - two + far * [-1.0, 1.0]
    return ends


class CrossSums:
    """Sums from which correlations follow, block by block."""

    def __init__(self, quantities: int, errors: int) -> None:
        self._count = np.zeros((quantities, 1))
        self._v = np.zeros((quantities, 1))
        self._vv = np.zeros((quantities, 1))
        self._e = np.zeros((quantities, errors))
        self._ee = np.zeros((quantities, errors))
        self._ve = np.zeros((quantities, errors))
        self._origin: Array | None = None

    def add(
        self,
        values: Array,
        formed: Mask,
        normals: Array,
    ) -> None:
        """Add a block."""
        if self._origin is None:
            # Near the values, so that little is lost when squares are subtracted below.
            self._origin = np.where(formed, values, 0.0).max(axis=1, keepdims=True)
        centred = np.where(formed, values - self._origin, 0.0)
        self._count += formed.sum(axis=1, keepdims=True)
        self._v += centred.sum(axis=1, keepdims=True)
        self._vv += (centred * centred).sum(axis=1, keepdims=True)
        if formed.all():
            self._e += normals.sum(axis=0)
            self._ee += (normals * normals).sum(axis=0)
        else:
            weight = formed.astype(np.float64)
            self._e += _product(weight, normals)
            self._ee += _product(weight, normals * normals)
        self._ve += _product(centred, normals)

    def shares(self) -> Array:
        """Return the squared correlations."""
        count = np.maximum(self._count, 1.0)
        cov = self._ve - self._v * self._e / count
        var_v = self._vv - self._v**2 / count
        var_e = self._ee - self._e**2 / count
        scale = var_v * var_e
        # Rounding of the sums is no variance.
        varies = (var_v > 1e-18 * count) & (var_v > 1e-12 * self._vv) & (var_e > 0.0)
        shares: Array = np.where(varies, cov**2 / np.where(varies, scale, 1.0), 0.0)
        return shares


def _product(a: Array, b: Array) -> Array:
    """Matrix product in one fixed order: BLAS adds in an order that hangs on its threads."""
    product: Array = np.einsum("qk,ke->qe", a, b)
    return product

"""A scan in any pose, mesh or bare points: made a front, with what was found on the way."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.caution import CAUTION
from frontcheck.errors import ContourError, refuse
from frontcheck.front.front import Front, Source
from frontcheck.front.survey import Survey
from frontcheck.reading.scan.scan_glass import without_glass
from frontcheck.reading.scan.scan_ground import Ground, find_ground, robust_sd
from frontcheck.reading.scan.scan_points import scan_points
from frontcheck.reading.scan.scan_pose import Pose, find_body, find_pose, unit_vector
from frontcheck.reading.scan.scan_regions import labels, read_regions
from frontcheck.reading.scan.scan_section import (
    FittedSection,
    Widths,
    fit_section,
    plan_slopes,
)
from frontcheck.serializer import one_line
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.geometry.arrays import Array

    Tell = Callable[[str, float], None]

METHOD: Final = "scan; ground and centre plane found; both sides folded"
"""How the sections of a scan came about; a table that says so is no user's own."""
ERROR_LENGTH_MM: Final = 40.0
"""How far along the contour errors of a scan are alike [mm]: own choice, hand-held scanners."""
_SCALE_U_PERCENT: Final = 0.5
"""Scale of a scan that no taped length fixes: own choice, 4 mm at a height of 800."""
_TAPE_U_MM: Final = 2.0
_TAPED_MM: Final = 500.0
_SCALES: Final = (0.9, 1.1)
_MOST_ROWS: Final = 120
_STEP_MM, _MOST_STATIONS = 100.0, 40
_NEAR_CENTRE_MM: Final = 450.0
_REACH_MM: Final = 2200.0
_MOST_NOISE_MM: Final = 6.0
"""Noise above which no setting holds the accuracies stated: they were reached at 5 mm."""
_INFLATED: Final = 1.7
"""What the sides have in common (pose, datum, corners rounded off) their difference does not show:
own choice, from synthetic scans of noise 2 to 5 mm."""
_FOLDED: Final = (
    "Left and right were folded onto one another: what differs between them is not seen, nor what "
    "is narrower than some 100 mm across."
)
_WIDE_FROM_MM: Final = 2.5
_WIDE: Final = (
    "At this noise the 95 % interval of a line whose edge lies within some 5 deg of the face, as "
    "LBRL on an upright lower face, is wider than need be: on synthetic scans 9 times what the "
    "line was off (rms) at 3 mm and 17 times at 5 mm, against 4 times at 2 mm."
)
"""Measured on the check front, two scans a noise."""
_SHOWN: Final = 20_000


@one_line
@dataclass(frozen=True, eq=False)
class Scan:
    """A scan of a front: its sections, and how they were found.

    Parameters
    ----------
    front : Front
        Side sections of one half, that stands for both; setback 0 where it is foremost
        in the centre.
    points : int
        Points of the file.
    left_out : int
        Points that are neither body nor ground.
    up, forward : tuple of float
        Unit vectors in file axes: away from the ground, and the way the vehicle faces.
    centre_mm : float
        How far to the right of the origin of the file the centre plane lies [mm].
    ground_mm : float
        Height of the ground along `up`, from the origin of the file [mm].
    ground_sd_mm : float
        Standard deviation of the points of the ground about their plane [mm].
    ground_patch_mm : tuple of float
        Length and width of the ground that was scanned [mm].
    mirrored_share : float
        Share of the body that has its mirror image.
    mirrored_rms_mm : float
        How well it lies on its mirror image [mm].
    lean_deg : float
        Lean of the centre plane, left free as a check [deg].
    noise_mm : float
        Standard deviation of single points about the sections [mm].
    u_mm : float
        Standard uncertainty of the sections, square to them, from left against right [mm].
    scale : float
        Factor by which a taped length corrected the scan; 1 where none was given.
    glass_covered : float or None
        Share of the windscreen that was scanned; None where there is none.
    body, ground, strays : numpy.ndarray
        (n, 3) float, some points of each, rearward, right and up [mm].
    notes : tuple of str
        What was found and left out.
    caution : str
        What a screening is not.

    Examples
    --------
    >>> import frontcheck as fc
    >>> scan = fc.read_scan("geometries/plover-scan.ply", unit="m", stations=[0, 300])
    >>> scan.front.stations, scan.noise_mm < 3
    ((0.0, 300.0), True)
    """

    front: Front
    points: int
    left_out: int
    up: tuple[float, float, float]
    forward: tuple[float, float, float]
    centre_mm: float
    ground_mm: float
    ground_sd_mm: float
    ground_patch_mm: tuple[float, float]
    mirrored_share: float
    mirrored_rms_mm: float
    lean_deg: float
    noise_mm: float
    u_mm: float
    scale: float
    glass_covered: float | None
    body: Array = field(repr=False)
    ground: Array = field(repr=False)
    strays: Array = field(repr=False)
    notes: tuple[str, ...]
    caution: str = field(default=CAUTION, repr=False)

    @property
    def scale_u_percent(self) -> float:
        """Standard uncertainty of the scale [%]."""
        return self.front.survey.scale_u_percent

    @property
    def error_length_mm(self) -> float:
        """How far along the contour errors are alike [mm]."""
        return self.front.survey.error_length_mm


def read_scan(
    path: str | os.PathLike[str],
    *,
    unit: str | None = None,
    up: str | None = None,
    forward: str | None = None,
    stations: Sequence[float] | None = None,
    regions: str | os.PathLike[str] | None = None,
    taped: tuple[Sequence[float], Sequence[float], float] | None = None,
    tell: Tell | None = None,
) -> Scan:
    """Read a scan in any pose and find ground, centre plane, direction and sections.

    Parameters
    ----------
    path : str or os.PathLike
        Mesh (STL, OBJ, PLY, GLB; its vertices are used) or PLY file without faces.
    unit : {"mm", "cm", "m", "in"}, optional
        Unit of the coordinates; needed unless the format fixes it.
    up, forward : str, optional
        File axis that points up, or that the vehicle faces, such as ``-x``, roughly.
    stations : sequence of float, optional
        Distances from the centre plane [mm], 0 or more; each 100 mm when not given.
    regions : str or os.PathLike, optional
        CSV file with columns part, x_min, x_max, z_min, z_max [mm] that labels the rows.
    taped : tuple, optional
        Two points in file coordinates and the length taped between them [mm]: fixes the scale.
    tell : callable, optional
        Told in words what is done, and which share is done.

    Returns
    -------
    Scan
        The front and what was found.

    Raises
    ------
    InputError
        If the file cannot be used, or ground, body, centre plane, direction or a section
        cannot be found.

    Notes
    -----
    Both sides are folded onto one. What differs from left to right is not seen.

    Examples
    --------
    >>> import frontcheck as fc
    >>> scan = fc.read_scan("geometries/plover-scan.ply", unit="m", stations=[0, 300])
    >>> len(scan.front.section(0).points) <= 120
    True
    """
    say: Tell = tell or (lambda _words, _done: None)
    file = os.fspath(path)
    notes: list[str] = []
    axes = {
        name: unit_vector(axis, name, file) for name, axis in (("up", up), ("forward", forward))
    }
    wanted = None if stations is None else _stations(stations, file)
    parts = read_regions(regions) if regions is not None else ()
    say("reading", 0.0)
    points, digest = scan_points(path, unit, notes)
    rng = np.random.default_rng(0)
    scale, length = _scale(points, taped, unit, file)
    points *= scale
    say("finding the ground", 0.1)
    ground = find_ground(points, axes["up"], rng, file)
    is_body, spacing = find_body(points, ground, file)
    say("finding the centre plane", 0.2)
    pose = find_pose(points, points[is_body], ground, axes["forward"], rng, file)
    ours = pose(points)
    body = ours[is_body]
    body = body[body[:, 0] < body[:, 0].min() + _REACH_MM]
    if wanted is None:
        half = float(np.percentile(np.abs(body[:, 1]), 98))
        wanted = np.arange(0.0, min(half - 60.0, _STEP_MM * (_MOST_STATIONS - 1)), _STEP_MM)
    fits = _fitted(body, wanted, ground, say, notes, file)
    noise = float(np.median([fit.noise for fit in fits]))
    if noise > _MOST_NOISE_MM:
        raise refuse("scan.noise", file, noise=noise, most=_MOST_NOISE_MM)
    u = _uncertainty(fits, noise)
    datum = _datum(fits)
    sections = _sections(fits, datum, u, notes, file)
    sections, covered = without_glass(sections, body - [datum, 0.0, 0.0], spacing, parts, notes)
    sections = [labels(section, parts) for section in sections]
    strays = ~is_body & (np.abs(ours[:, 2]) > max(3.0 * ground.sd, 3.0))
    _say_found(notes, ground, pose, noise, u)
    name = PurePath(file).stem
    scale_u = _SCALE_U_PERCENT
    if length is not None:
        scale_u = 100.0 * float(np.hypot(_TAPE_U_MM, noise * np.sqrt(2.0))) / length
    return Scan(
        Front(
            tuple(sections),
            name=name,
            symmetric=True,
            method=METHOD,
            reader_notes=tuple(notes),
            source=Source(PurePath(file).name, digest, "mesh"),
            survey=Survey(error_length_mm=ERROR_LENGTH_MM, scale_u_percent=scale_u),
        ),
        len(points),
        int(strays.sum()),
        _triple(pose.axes[2]),
        _triple(-pose.axes[0]),
        -float(pose.origin[1]),
        ground.height,
        ground.sd,
        ground.patch,
        pose.matched,
        pose.rms,
        pose.lean_deg,
        noise,
        u,
        scale,
        covered,
        _some(body, datum, rng),
        _some(ours[~is_body & ~strays], datum, rng),
        _some(ours[strays], datum, rng),
        tuple(notes),
    )


def _triple(vector: Array) -> tuple[float, float, float]:
    x, y, z = (float(value) + 0.0 for value in vector)
    return x, y, z


def _some(points: Array, datum: float, rng: np.random.Generator) -> Array:
    out: Array = points[rng.permutation(len(points))[:_SHOWN]] - [datum, 0.0, 0.0]
    return out


def _stations(stations: Sequence[float], file: str) -> Array:
    wanted = np.unique(np.asarray(stations, dtype=np.float64))
    if len(wanted) == 0 or len(wanted) > _MOST_STATIONS or not np.isfinite(wanted).all():
        raise refuse("scan.stations", file, count=len(wanted), most=_MOST_STATIONS)
    if wanted[0] < 0.0:
        raise refuse("scan.left_station", file, y=wanted[0])
    return wanted


def _scale(
    points: Array,
    taped: tuple[Sequence[float], Sequence[float], float] | None,
    unit: str | None,
    file: str,
) -> tuple[float, float | None]:
    """Factor by which a taped length corrects the scan, and that length."""
    if taped is None:
        return 1.0, None
    from frontcheck.reading.table import mm_per

    one, two = (np.asarray(end, dtype=np.float64) * mm_per(unit or "m") for end in taped[:2])
    length, found = float(taped[2]), float(np.linalg.norm(one - two))
    if not length >= _TAPED_MM:
        raise refuse("scan.taped_short", file, length=length, least=_TAPED_MM)
    if not _SCALES[0] <= length / max(found, 1e-9) <= _SCALES[1]:
        raise refuse("scan.taped", file, length=length, found=found)
    for end in (one, two):
        off = float(np.linalg.norm(points - end, axis=1).min())
        if off > 30.0:
            raise refuse("scan.taped_off", file, off=off)
    return length / found, length


def _fitted(
    body: Array, wanted: Array, ground: Ground, say: Tell, notes: list[str], file: str
) -> list[FittedSection]:
    # What is averaged grows with the noise, known here from the ground.
    noise = float(np.clip(ground.sd, 2.0, 5.0))
    widths = Widths(
        along=20.0 + 10.0 * (noise - 2.0) / 3.0,
        across=float(np.clip(40.0 * noise, 80.0, 150.0)),
        bend=1.0 / 200.0,
        least=5.0 + (noise - 2.0),
    )
    fits = []
    for i, (y, slope) in enumerate(zip(wanted, plan_slopes(body, wanted), strict=True)):
        say(f"fitting the section at y = {y:g} mm", 0.4 + 0.6 * i / len(wanted))
        fit = fit_section(body, float(y), widths, float(slope))
        if fit is None or fit.seen.mean() < 0.5:
            notes.append(f"No section at y = {y:g} mm: too few points lie there.")
        else:
            fits.append(fit)
    if not fits and ground.sd > _MOST_NOISE_MM:
        raise refuse("scan.noise", file, noise=ground.sd, most=_MOST_NOISE_MM)
    if not fits:
        raise refuse("scan.no_section", file, stations=[f"{y:g}" for y in wanted])
    return fits


def _datum(fits: list[FittedSection]) -> float:
    """Where setback is 0: foremost in the centre, by all sections near it rather than by one."""
    front = np.array([float(fit.points[fit.seen, 0].min()) for fit in fits])
    y = np.array([fit.y for fit in fits])
    near = y <= max(_NEAR_CENTRE_MM, float(y[0]))
    if near.sum() < 3:
        return float(front[0])
    return float(np.polyfit(y[near] ** 2, front[near], 1)[1])


def _uncertainty(fits: list[FittedSection], noise: float) -> float:
    """Standard uncertainty of the folded sections, from left against right [mm]."""
    differences = [
        (fit.sides[:, 0] - fit.sides[:, 1]) for fit in fits if fit.y >= 100.0 or len(fits) == 1
    ]
    apart = np.concatenate(differences) if differences else np.zeros(0)
    apart = apart[np.isfinite(apart)]
    own = robust_sd(apart) / 2.0 if len(apart) > 100 else noise / 2.0
    return float(max(_INFLATED * own, 0.1))


def _sections(
    fits: list[FittedSection], datum: float, u: float, notes: list[str], file: str
) -> list[Section]:
    sections = []
    bridged: list[tuple[float, float]] = []
    for fit in fits:
        points = fit.points - [datum, 0.0]
        kept = np.flatnonzero(fit.seen)
        gaps = np.hypot(*np.diff(points[kept], axis=0).T)
        bridged += [(float(gap), fit.y) for gap in gaps[gaps > ERROR_LENGTH_MM]]
        own = np.round(_thinned(points[kept]), 2)
        each = np.full(len(own), round(u, 2))
        try:
            sections.append(Section(own, fit.y, height_u=each, setback_u=each))
        except ContourError as problem:
            notes.append(f"No section at y = {fit.y:g} mm: {problem.found}.")
    if not sections:
        raise refuse("scan.no_section", file, stations=[f"{fit.y:g}" for fit in fits])
    if bridged:
        widest, y = max(bridged)
        notes.append(
            f"Gaps bridged by straight lines: {len(bridged)}, the widest {widest:.0f} mm at "
            f"y = {y:g} mm."
        )
    return sections


def _thinned(points: Array) -> Array:
    """At most as many points as draws bear, where they bend most."""
    from frontcheck.geometry.thinning import Lines

    for tolerance in 0.1 * 1.3 ** np.arange(30):
        line = Lines(points, None, np.array([len(points)]), np.array([False]))
        thin: Array = line.thinned(float(tolerance)).points
        if len(thin) <= _MOST_ROWS:
            break
    return thin


def _say_found(notes: list[str], ground: Ground, pose: Pose, noise: float, u: float) -> None:
    length, width = ground.patch
    ground_words = (
        f"Ground: {100 * ground.share:.0f} % of the points, {length / 1000:.1f} by "
        f"{width / 1000:.1f} m, {ground.sd:.1f} mm about their plane."
    )
    plane_words = (
        f"Centre plane: {100 * pose.matched:.0f} % of the body has its mirror image, "
        f"{pose.rms:.1f} mm from it; left free, the plane leans by {abs(pose.lean_deg):.2f} deg."
    )
    noise_words = (
        f"Noise of single points {noise:.1f} mm; sections uncertain by {u:.1f} mm, from left "
        f"against right, alike over {ERROR_LENGTH_MM:g} mm."
    )
    notes += [ground_words, plane_words, noise_words, _FOLDED]
    if noise > _WIDE_FROM_MM:
        notes.append(_WIDE)

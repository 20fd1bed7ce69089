"""Pushed ahead, folded or carried up: what becomes of people who are struck at one station.

Screening: geometry and stated assumptions, in one plane, until the head touches. Nothing here is
an injury, a force, contact with the ground or a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.body.anatomy import THORAX, Figure
from frontcheck.body.assumed import FRONT_PARTS, drawn
from frontcheck.body.struck import strike
from frontcheck.body.wall import Wall
from frontcheck.geometry.tape import TautTape
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.body.assumed import Cases
    from frontcheck.body.struck import Struck
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section

Kind = Literal["pushed ahead", "folded over the edge", "carried up", "undecided"]

FOLDED_DEG: Final = 40.0
"""A trunk that leans more than this is folded: own choice, between upright and flat."""
AGREED: Final = 0.9
"""A kind is named when at least this share of the draws agrees: own choice."""
TOUCHED: Final = 0.95
"""A place of the head is given when in at least this share of the draws it touches what was
measured: own choice, as the interval told is that of 5 to 95 %."""
_EDGE_MM: Final = 100.0
"""So far behind BLERL along the contour the front counts as leading edge: own choice."""


@dataclass(frozen=True)
class Spread:
    """Of all draws."""

    median: float
    p5: float
    p95: float

    @classmethod
    def of(cls, values: NDArray[np.float64]) -> Spread | None:
        """Take it from draws, those that are not a number apart; None without any."""
        known = values[~np.isnan(values)]
        if not len(known):
            return None
        median, low, high = np.percentile(known, [50.0, 5.0, 95.0]).tolist()
        return cls(median, low, high)


@one_line
@dataclass(frozen=True)
class PersonMotion:
    """What becomes of one person."""

    person: str
    stature_mm: float
    mass_kg: float
    station_mm: float
    kind: Kind
    shares: dict[str, float]  # Of the draws: pushed, folded, carried, no_head_contact, beyond
    wad_mm: Spread | None  # Wrap-around distance at which the head touches [mm]
    time_ms: Spread | None  # From the first contact on [ms]
    part: str | None  # Part of the front that the head touches most often
    torso_deg: Spread | None  # Lean of the trunk then, or at the end [deg]
    past_edge_mm: Spread | None  # Centre of mass behind BLERL then, or at the end [mm]
    reason: str  # Why something is not given


def wall_of(section: Section, station: Station) -> tuple[Wall, NDArray[np.intp]]:
    """A section as a wall, and the part of the front that each of its stretches belongs to."""
    arcs = section.arc_lengths
    middle = (arcs[1:] + arcs[:-1]) / 2.0
    part = np.full(len(middle), FRONT_PARTS.index("bonnet"))

    def along(point: tuple[float, float]) -> float:
        return float(arcs[np.hypot(*(section.points - point).T).argmin()])

    edge = station.BLERL.point
    if edge is not None:
        part[middle < along(edge) + _EDGE_MM] = FRONT_PARTS.index("leading edge")
    top = station.UBRL.point
    if top is not None:
        part[middle < along(top)] = FRONT_PARTS.index("bumper")
    glass = np.flatnonzero(section.part_mask("windscreen"))
    if len(glass):
        part[middle > arcs[glass[0]]] = FRONT_PARTS.index("windscreen")
    return Wall(section.points / 1e3), part


def person_motion(
    lined: LinedFront,
    station: Station,
    name: str,
    figure: Figure,
    *,
    speed_km_h: float = 40.0,
    draws: int = 64,
    seed: int = 1,
    cases: Cases | None = None,
) -> PersonMotion:
    """Let one person be struck at one station, in many assumed cases."""
    section = lined.front.section(station.y)
    wall, part = wall_of(section, station)
    cases = drawn(draws, seed) if cases is None else cases
    ended = strike(figure, wall, part, cases, speed_km_h / 3.6)
    return _told(station, section, name, figure, part, ended)


def _told(
    station: Station,
    section: Section,
    name: str,
    figure: Figure,
    part: NDArray[np.intp],
    ended: Struck,
) -> PersonMotion:
    edge = station.BLERL.point
    torso = np.degrees(ended.pose[:, 2 + THORAX])
    middle = 1e3 * figure.chain.centre_of_mass(ended.pose)[:, 0]
    past = np.full(len(middle), np.nan) if edge is None else middle - edge[0]
    carried = past > 0.0
    folded = ~carried & (torso >= FOLDED_DEG)
    touched = ~np.isnan(ended.head_s)
    shares = {
        "pushed": float(np.mean(~carried & ~folded)),
        "folded": float(np.mean(folded)),
        "carried": float(np.mean(carried)),
        "no_head_contact": float(np.mean(~touched & ~ended.beyond)),
        "beyond_measured": float(np.mean(ended.beyond)),
    }
    kinds: tuple[tuple[Kind, str], ...] = (
        ("pushed ahead", "pushed"),
        ("folded over the edge", "folded"),
        ("carried up", "carried"),
    )
    kind: Kind = next((kind for kind, share in kinds if shares[share] >= AGREED), "undecided")
    given = float(np.mean(touched)) >= TOUCHED
    reason = "" if given else _missing(shares)
    wad = _wads(section, station, ended) if given else np.zeros(0)
    parts = np.bincount(part[ended.head_stretch[touched]], minlength=len(FRONT_PARTS))
    return PersonMotion(
        name,
        1e3 * figure.stature,
        figure.mass,
        station.y,
        kind,
        shares,
        Spread.of(wad),
        Spread.of(1e3 * ended.head_s) if given else None,
        FRONT_PARTS[int(parts.argmax())] if given else None,
        Spread.of(torso),
        Spread.of(past),
        reason,
    )


def _missing(shares: dict[str, float]) -> str:
    """Why no place of the head is given."""
    never, beyond = shares["no_head_contact"], shares["beyond_measured"]
    said = []
    if never:
        said.append(f"the head touches nothing in {never:.0%} of the draws")
    if beyond:
        said.append(f"it goes beyond what was measured in {beyond:.0%}")
    return " and ".join(said)


def _wads(section: Section, station: Station, ended: Struck) -> NDArray[np.float64]:
    """Wrap-around distances at which heads touched; not a number where they did not."""
    wads = np.full(len(ended.head_s), np.nan)
    if station.tape_x is None:
        return wads
    tape = TautTape(section.points, station.tape_x, station.tape_start)
    for i in np.flatnonzero(~np.isnan(ended.head_s)).tolist():
        stretch = int(ended.head_stretch[i])
        a, b = section.points[stretch : stretch + 2]
        step = b - a
        t = float(np.clip((1e3 * ended.head_at[i] - a) @ step / (step @ step), 0.0, 1.0))
        wads[i] = tape.at(stretch, t).distance
    return wads

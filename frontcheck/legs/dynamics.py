"""A legform in free flight meets the contour: planar dynamics over time.

Stiffness not known: assumed, so that only the shape speaks. Two shapes may be ranked where the
order hardly hangs on it; no value is to be held against a limit.

The model
---------
- The vehicle stands still and does not yield but for its skin; the legform flies level and
  upright, in the vertical longitudinal plane, without gravity.
- Rotations are small: points of the legform keep their height and move horizontally. A run
  that bends or tips a piece further than `RunSettings.rotation_limit_deg` ends there, and says so.
- The skin pushes horizontally, per unit height by stiffness times penetration; on the way out it
  gives back `RunSettings.rebound` of the speed (`frontcheck.legs.mechanics`).
- The knee carries bending and shear, each by a spring and a damper; bones bend as beams. An
  infinite spring is a lock, exact and not merely stiff.
- Energy is balanced at every output step; a run out of balance gives no peaks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.legs.faced import face_of
from frontcheck.legs.links import Links
from frontcheck.legs.mechanics import given_back, stepped
from frontcheck.people.impactors import RIGID_LEGFORM, Knee
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index
    from frontcheck.legs.faced import Face
    from frontcheck.people.impactors import Legform
    from frontcheck.surface.section import Section

_STEP_MS: Final = 0.02
"""Longest step in time, own choice: half of what the stiffest bone bears."""
_AT_ONCE: Final = 2**18
"""So many products at once at most: linear algebra then stays in one thread, far faster here."""
_BALANCE: Final = 0.01
"""Energy must agree to this share of that at the start: own choice, several times what steps of
`_STEP_MS` miss it by."""


@one_line
@dataclass(frozen=True)
class RunSettings:
    """How a run is made. Assumed values: nothing here is measured."""

    speed_km_h: float = RIGID_LEGFORM.speed_km_h  # Speed of the legform before contact
    stiffness: float = 0.3  # Force per height and penetration, where no part says else [N/mm2]
    parts: tuple[tuple[str, float], ...] = ()  # Stiffness of contour parts by name [N/mm2]
    rebound: float = 0.2  # Share of the speed that the skin gives back
    knee: Knee | None = None  # The knee; that of the legform where None
    duration_ms: float = 50.0  # How long to follow it after first contact
    step_ms: float = 0.1  # Time between output steps
    rotation_limit_deg: float = 60.0  # Bending or tilt beyond which small rotations no longer hold

    def __post_init__(self) -> None:
        """Check the values."""
        numbers = (self.speed_km_h, self.duration_ms, self.step_ms, self.rotation_limit_deg)
        if not all(math.isfinite(v) and v > 0.0 for v in numbers):
            raise ValueError("speed, duration, step and rotation limit must be positive numbers")
        if not all(0.0 <= v < math.inf for v in (self.stiffness, *dict(self.parts).values())):
            raise ValueError("a stiffness must be a number of 0 or more")
        if not 0.0 <= self.rebound <= 1.0:
            raise ValueError("the rebound must be a share from 0 to 1")

    @property
    def words(self) -> str:
        """Speed and stiffness in words."""
        held = [*self.parts, ("everywhere else" if self.parts else "everywhere", self.stiffness)]
        said = "; ".join(f"{part} {stiffness:g}" for part, stiffness in held)
        return f"legform at {self.speed_km_h:g} km/h; stiffness [N/mm2] of the skin: {said}"


@dataclass(frozen=True, eq=False)
class Flights:
    """B legforms over time, in free coordinates of their links."""

    links: Links
    time: Array  # (T,) after first contact [ms]
    place: Array  # (T, B, r)
    rate: Array  # (T, B, r)

    def turned(self) -> Array:
        """Largest opening or tilt, (T, B) [deg]."""
        largest = np.zeros(self.place.shape[:2])
        for row in self.links.turns:
            np.maximum(largest, np.abs(self.place @ row), out=largest)
        return np.asarray(np.degrees(largest))

    def kept(self, limit_deg: float) -> Index:
        """How many moments (B,) pass before anything turns farther than a limit."""
        over = self.turned() > limit_deg
        return np.where(over.any(axis=0), over.argmax(axis=0), len(over))

    def opening(self) -> Array:
        """Angle of the knee, (T, B) [deg]."""
        return np.asarray(np.degrees(self.place @ self.links.opening))

    def shear(self) -> Array:
        """Shear of the knee, (T, B) [mm]."""
        return np.asarray(1e3 * self.place @ self.links.shear)

    def tibia(self) -> Array:
        """Bending moment of the tibia at its joints, (T, B, j) [N m]."""
        return np.asarray(self.place @ self.links.bends[1].T)


def fly(face: Face, legform: Legform, settings: RunSettings, stiffness: Array) -> Flights:
    """Let legforms fly into one face under stiffnesses (B, m) of its cells [N/m2]."""
    links = Links.of(legform, settings.knee or legform.knee)
    shape = links.shape(face.height)
    count = len(stiffness)
    most = max(1, _AT_ONCE // shape.size)
    group = max(g for g in range(1, min(count, most) + 1) if count % g == 0)
    push = (stiffness * face.size).reshape(-1, group, len(face.size))
    outs = max(1, round(settings.duration_ms / settings.step_ms))
    within = math.ceil(settings.step_ms / _STEP_MS - 1e-9)
    step = settings.duration_ms / outs / within / 1e3
    # Dampers are taken at the end of a step: none is then too strong for it.
    solve = np.linalg.inv(links.mass + step * links.damper)
    place = np.zeros((*push.shape[:2], len(links.level)))
    rate = place + settings.speed_km_h / 3.6 * links.level
    places, rates = np.empty((2, outs + 1, *place.shape))
    places[0], rates[0] = place, rate
    spring, damper, back = (solve @ each for each in (links.spring, links.damper, shape.T))
    for i in range(1, outs + 1):
        for _ in range(within):
            depth = np.maximum(place @ shape.T - face.setback, 0.0)
            force = push * depth * given_back(rate @ shape.T, settings.rebound)
            faster = -(force @ back.T + place @ spring.T + rate @ damper.T)
            place, rate = stepped(place, rate, faster, step)
        places[i], rates[i] = place, rate
    time = np.linspace(0.0, settings.duration_ms, outs + 1)
    kept = (each.reshape(outs + 1, len(stiffness), -1) for each in (places, rates))
    return Flights(links, time, *kept)


@one_line
@dataclass(frozen=True, eq=False)
class LegRun:
    """One run. Comparative only: no value is to be held against a limit."""

    status: Literal["ok", "rotation_limit", "out_of_balance"]
    reason: str  # Why the status is what it is; empty when ok
    y: float  # Station [mm]
    touch_x: float  # Setback of the foremost point, where the legform is at first contact [mm]
    legform: Legform  # What flew
    settings: RunSettings  # How it was made
    time: Array  # (T,) time after first contact [ms]
    knee_angle: Array  # (T,) bending of the knee [deg]
    knee_shear: Array  # (T,) shear of the knee [mm]
    tibia_bending: Array  # (T, j) bending moment at heights of the tibia [N m]
    tibia_heights: Array  # (j,) above ground [mm]; none where it does not bend
    force: Array  # (T,) force of the front on the legform [kN]
    place: Array  # (T, k) how far corners of the legform have gone [mm]
    corners: Array  # (k,) their heights above the knee [mm], from below
    kinetic: Array
    stored: Array
    lost: Array
    energy_error: float  # Largest imbalance of energy at any output step, relative to the start

    @property
    def usable(self) -> bool:
        """Whether energy is in balance."""
        return self.status != "out_of_balance"

    def leg_at(self, i: int) -> tuple[Array, Array]:
        """Return where femur and tibia stand at one output step."""
        z = self.corners + self.legform.knee_height_mm
        line = np.stack([self.touch_x + self.place[i], z], axis=1)
        split = int(np.searchsorted(self.corners, 0.0))
        return line[split:], line[split - 1 :: -1]

    @property
    def opening_reached(self) -> bool:
        """Whether the knee was open farthest before the run ended."""
        return self.usable and int(self.knee_angle.argmax()) < len(self.knee_angle) - 1

    @property
    def opens(self) -> bool:
        """Whether the knee opens farther than it closes."""
        return float(self.knee_angle.max()) >= -float(self.knee_angle.min())

    @property
    def peak_knee_angle(self) -> float | None:
        """Bending farthest from straight, with its sign [deg]; None if not usable."""
        return self._peak(self.knee_angle)

    @property
    def peak_knee_shear(self) -> float | None:
        """Shear farthest from nothing, with its sign [mm]; None if not usable."""
        return self._peak(self.knee_shear)

    @property
    def tibia_bending_height(self) -> float | None:
        """Where the tibia bends most, above ground [mm]; None where it does not bend."""
        if not self.usable or not self.tibia_bending.size:
            return None
        return float(self.tibia_heights[np.abs(self.tibia_bending).max(axis=0).argmax()])

    def _peak(self, values: Array) -> float | None:
        return float(values.flat[np.argmax(np.abs(values))]) if self.usable else None


def run_legform(
    section: Section, settings: RunSettings | None = None, legform: Legform = RIGID_LEGFORM
) -> LegRun:
    """Let the legform fly into one section."""
    settings = RunSettings() if settings is None else settings
    face = face_of(section, legform)
    stiffness = face.stiffness(settings.stiffness, dict(settings.parts))
    flights = fly(face, legform, settings, stiffness[None])
    links, place, rate = flights.links, flights.place[:, 0], flights.rate[:, 0]
    (last,) = flights.kept(settings.rotation_limit_deg).tolist()
    place, rate, time = place[:last], rate[:last], flights.time[:last]
    shape = links.shape(face.height)
    depth = np.maximum(place @ shape.T - face.setback, 0.0)
    going = rate @ shape.T
    elastic = stiffness * face.size * depth
    force = elastic * given_back(going, settings.rebound)
    power = ((force - elastic) * going).sum(axis=1) + ((rate @ links.damper) * rate).sum(axis=1)
    lost = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(time) / 1e3 * (power[1:] + power[:-1]))])
    kinetic = 0.5 * ((rate @ links.mass) * rate).sum(axis=1)
    stored = 0.5 * ((elastic * depth).sum(axis=1) + ((place @ links.spring) * place).sum(axis=1))
    total = kinetic + stored + lost
    error = float(np.abs(total - kinetic[0]).max() / kinetic[0])
    status: Literal["ok", "rotation_limit", "out_of_balance"] = "ok"
    reason = ""
    if last < len(flights.time):
        status = "rotation_limit"
        reason = (
            f"a rotation reached {settings.rotation_limit_deg:g} deg after {time[-1]:.1f} ms; "
            "small rotations do not hold beyond it: the run ends there"
        )
    if not error <= _BALANCE:
        status = "out_of_balance"
        reason = (
            f"energy is out by {error:.1e} of the start, more than {_BALANCE:g}; the run is not "
            "to be used"
        )
    heights, _ = links.bends
    tiny = 1e-12
    corners = np.array(
        [links.ends[0], *sorted(heights), -tiny, 0.0,
         *[j.height for j in links.joints if j.height > 0.0], links.ends[1]]
    )  # fmt: skip
    return LegRun(
        status=status,
        reason=reason,
        y=section.y,
        touch_x=face.foremost_x,
        legform=legform,
        settings=settings,
        time=time,
        knee_angle=flights.opening()[:last, 0],
        knee_shear=flights.shear()[:last, 0],
        tibia_bending=flights.tibia()[:last, 0],
        tibia_heights=legform.knee_height_mm + 1e3 * heights,
        force=force.sum(axis=1) / 1e3,
        place=1e3 * place @ links.shape(corners).T,
        corners=1e3 * corners,
        kinetic=kinetic,
        stored=stored,
        lost=lost,
        energy_error=error,
    )

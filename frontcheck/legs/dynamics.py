"""A two-link legform in free flight meets the contour: planar dynamics over time.

Stiffness not known: one stiffness and damping everywhere unless the user sets others, so only
the shape speaks. Two shapes may be ranked under the same assumptions; no value is to be held
against a limit.

The model
---------
- The vehicle stands still and does not yield but for its skin; the legform flies level and
  upright, in the vertical longitudinal plane, without gravity.
- Rotations are small: points of the legform keep their height and move horizontally. A run
  that bends or tips a link further than `RunSettings.rotation_limit_deg` ends there, and says so.
- The skin pushes horizontally. Per unit height: stiffness times penetration times
  (1 + damping times penetration speed), never negative (it does not pull). This damping
  rises with penetration, so first contact has no jump (K. H. Hunt and F. R. E. Crossley,
  Coefficient of restitution interpreted as damping in vibroimpact, Journal of Applied Mechanics
  42 (2), 440-445, 1975, from memory).
- The knee carries bending and shear, each by a spring and a damper. An infinite spring is a
  lock, exact and not merely stiff.
- Integrals along the legform are exact on the polyline.
- Energy and momentum are balanced at every output step; a run out of balance gives no peaks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.links import Links
from frontcheck.people.impactors import GRAVITY, RIGID_LEGFORM
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.people.impactors import RigidLegform
    from frontcheck.surface.section import Section

_BALANCE: Final = 1e-6
"""Energy and momentum must agree to this, relative to those at the start."""


@dataclass(frozen=True)
class Skin:
    """How a part of the front yields. Assumed values: nothing here is measured."""

    stiffness: float = 0.3  # Force per height and penetration [N/mm2]
    damping: float = 0.1  # Share of the force added per speed of penetration [s/m]

    def __post_init__(self) -> None:
        """Check the values."""
        if not all(math.isfinite(v) and v >= 0.0 for v in (self.stiffness, self.damping)):
            raise ValueError("stiffness and damping must be numbers of 0 or more")


@dataclass(frozen=True)
class Knee:
    """Knee of the model. Assumed values, not those of a standard."""

    bending_stiffness: float = 2918.0  # [N m/rad]
    bending_damping: float = 5.0  # [N m s/rad]
    shear_stiffness: float = 600.0  # [N/mm]; infinite: the knee does not shear
    shear_damping: float = 0.3  # [N s/mm]

    def __post_init__(self) -> None:
        """Check the values."""
        dampings = (self.bending_damping, self.shear_damping)
        springs = (self.bending_stiffness, self.shear_stiffness)
        if not all(v >= 0.0 for v in springs) or not all(
            math.isfinite(v) and v >= 0.0 for v in dampings
        ):
            raise ValueError("springs and dampers of the knee must be numbers of 0 or more")


@one_line
@dataclass(frozen=True)
class RunSettings:
    """How a run is made."""

    speed_km_h: float = RIGID_LEGFORM.speed_km_h  # Speed of the legform before contact
    skin: Skin = Skin()  # The front, wherever `parts` says nothing else
    parts: tuple[tuple[str, Skin], ...] = ()  # Skin of contour parts by name
    knee: Knee = Knee()  # The knee
    duration_ms: float = 25.0  # How long to follow it after first contact
    step_ms: float = 0.1  # Time between output steps
    rotation_limit_deg: float = 30.0  # Bending or tilt beyond which small rotations no longer hold

    def __post_init__(self) -> None:
        """Check the values."""
        numbers = (self.speed_km_h, self.duration_ms, self.step_ms, self.rotation_limit_deg)
        if not all(math.isfinite(v) and v > 0.0 for v in numbers):
            raise ValueError("speed, duration, step and rotation limit must be positive numbers")

    @property
    def words(self) -> str:
        """Speed, stiffness and damping in words."""
        skins = [*self.parts, ("everywhere else" if self.parts else "everywhere", self.skin)]
        said = "; ".join(f"{part} {s.stiffness:g} and {s.damping:g}" for part, s in skins)
        return (
            f"legform at {self.speed_km_h:g} km/h; stiffness [N/mm2] and damping [s/m] of the "
            f"skin: {said}"
        )


@one_line
@dataclass(frozen=True, eq=False)
class LegRun:
    """One run. Comparative only: no value is to be held against a limit."""

    status: Literal["ok", "rotation_limit", "out_of_balance"]
    reason: str  # Why the status is what it is; empty when ok
    y: float  # Station [mm]
    touch_x: float  # Setback of the foremost point, where the legform is at first contact [mm]
    legform: RigidLegform  # What flew
    settings: RunSettings  # How it was made
    time: NDArray[np.float64]  # (T,) time after first contact [ms]
    knee_angle: NDArray[np.float64]  # (T,) bending of the knee [deg]
    knee_shear: NDArray[np.float64]  # (T,) shear of the knee [mm]
    tibia_acceleration: NDArray[np.float64]
    force: NDArray[np.float64]  # (T,) force of the front on the legform [kN]
    pose: NDArray[np.float64]
    kinetic: NDArray[np.float64]
    skin: NDArray[np.float64]
    knee: NDArray[np.float64]
    lost: NDArray[np.float64]
    energy_error: float  # Largest imbalance of energy at any output step, relative to the start
    momentum_error: float  # The same of momentum

    @property
    def usable(self) -> bool:
        """Whether energy and momentum are in balance."""
        return self.status != "out_of_balance"

    def leg_at(self, i: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where femur and tibia stand at one output step."""
        form = self.legform
        links = []
        for base, slope, end in (
            (*self.pose[i, :2], form.femur_length_mm),
            (*self.pose[i, 2:], -form.tibia_length_mm),
        ):
            heights = np.array([0.0, end])
            x = self.touch_x + base + slope * heights
            links.append(np.stack([x, form.knee_height_mm + heights], axis=1))
        return links[0], links[1]

    @property
    def peak_knee_angle(self) -> float | None:
        """Bending farthest from straight, with its sign [deg]; None if not usable."""
        return self._peak(self.knee_angle)

    @property
    def peak_knee_shear(self) -> float | None:
        """Shear farthest from nothing, with its sign [mm]; None if not usable."""
        return self._peak(self.knee_shear)

    @property
    def peak_tibia_acceleration(self) -> float | None:
        """Largest slowing of the tibia [g]; None if not usable."""
        return float(self.tibia_acceleration.max()) if self.usable else None

    def _peak(self, values: NDArray[np.float64]) -> float | None:
        return float(values[np.argmax(np.abs(values))]) if self.usable else None


def run_legform(
    section: Section,
    settings: RunSettings | None = None,
    legform: RigidLegform = RIGID_LEGFORM,
) -> LegRun:
    """Let the legform fly into one section."""
    from scipy.integrate import solve_ivp

    settings = RunSettings() if settings is None else settings
    seen = silhouette_of(section, legform.low_mm, legform.high_mm)
    laws = dict(settings.parts)
    skins = [laws.get(part, settings.skin) for part in seen.split(legform.knee_height_mm).parts]
    links = Links.of(
        legform,
        seen,
        stiffness=np.array([1e6 * skin.stiffness for skin in skins]),
        damping=np.array([skin.damping for skin in skins]),
        bending=(settings.knee.bending_stiffness, settings.knee.bending_damping),
        shear=(1e3 * settings.knee.shear_stiffness, 1e3 * settings.knee.shear_damping),
    )
    limit = math.radians(settings.rotation_limit_deg)

    def room(_: float, state: NDArray[np.float64]) -> float:
        return limit - links.largest_rotation(state)

    room.terminal = True  # type: ignore[attr-defined]
    speed = settings.speed_km_h / 3.6
    start = links.launch(speed)
    end = settings.duration_ms / 1e3
    steps = max(1, round(settings.duration_ms / settings.step_ms))
    solution = solve_ivp(
        links.derivative,
        (0.0, end),
        start,
        method="DOP853",
        t_eval=np.linspace(0.0, end, steps + 1),
        events=room,
        rtol=1e-9,
        atol=1e-11,
        max_step=end / 50.0,
    )
    setting = (section.y, seen.foremost_x, legform)
    return _report(setting, settings, links, solution.t, solution.y.T, int(solution.status))


def _report(
    setting: tuple[float, float, RigidLegform],
    settings: RunSettings,
    links: Links,
    time: NDArray[np.float64],
    states: NDArray[np.float64],
    solver: int,
) -> LegRun:
    y, touch_x, legform = setting
    parts = [links.energies(state) for state in states]
    kinetic, skin, knee, lost = np.array(parts).T
    energy_error = float(np.abs(kinetic + skin + knee + lost - kinetic[0]).max() / kinetic[0])
    momentum_error = float(max(links.momentum_error(states[0], state) for state in states))
    measured = np.array([links.measure(state) for state in states])
    status: Literal["ok", "rotation_limit", "out_of_balance"] = "ok"
    reason = ""
    if solver == 1:
        status = "rotation_limit"
        reason = (
            f"a rotation reached {settings.rotation_limit_deg:g} deg after "
            f"{1e3 * time[-1]:.1f} ms; small rotations do not hold beyond it: the run ends there"
        )
    if solver < 0 or not (energy_error <= _BALANCE and momentum_error <= _BALANCE):
        status = "out_of_balance"
        reason = (
            f"energy is out by {energy_error:.1e} and momentum by {momentum_error:.1e} of the "
            f"start, more than {_BALANCE:g}; the run is not to be used"
        )
    return LegRun(
        status=status,
        reason=reason,
        y=y,
        touch_x=touch_x,
        legform=legform,
        settings=settings,
        time=1e3 * time,
        knee_angle=np.degrees(measured[:, 0]),
        knee_shear=1e3 * measured[:, 1],
        tibia_acceleration=-measured[:, 2] / GRAVITY,
        force=measured[:, 3] / 1e3,
        pose=np.array([links.coordinates(state)[0] for state in states]) * [1e3, 1.0, 1e3, 1.0],
        kinetic=kinetic,
        skin=skin,
        knee=knee,
        lost=lost,
        energy_error=energy_error,
        momentum_error=momentum_error,
    )

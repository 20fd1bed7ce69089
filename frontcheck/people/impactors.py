"""Published data of the test impactors, and what follows from them in closed form.

Legforms are two halves joined at the knee; their data are from memory of the published drawings
and paragraphs. The headforms are read from the rule set.

Glossary
--------
opening rate
    Rate at which the two links fold at the knee, per unit of horizontal impulse [rad/s per
    N s]. Positive, "opens": the leg bends around the front, its ends stay behind
    (towards the vehicle) and the knee opens on the side away from the vehicle. Negative,
    "closes": the ends are driven ahead of the knee.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from msgspec import convert

from frontcheck.caution import Provenance  # noqa: TC001 - msgspec reads the annotation
from frontcheck.files import own_toml
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from frontcheck.geometry.arrays import Array
    from frontcheck.rules.ruleset import RuleSet

GRAVITY: Final = 9.80665
"""Standard gravity [m/s2], exact by definition."""

_MS_PER_KMH: Final = 1.0 / 3.6
_LEAST_SHARE: Final = 0.75
"""Least stop distance over all pulses of one HIC, as a share of the square pulse's."""


@dataclass(frozen=True)
class Segment:
    """A stretch of one half of a legform, from the knee outward."""

    length_mm: float
    mass_kg: float
    centre_mm: float | None = None  # From its end at the knee; None: mass spread evenly
    inertia_kg_m2: float | None = None  # About its own centre of mass; None likewise
    bending_N_m2: float | None = None  # As a beam; None: it does not bend

    @property
    def centre_m(self) -> float:
        """From its end at the knee to the centre of mass [m]."""
        return (0.5 * self.length_mm if self.centre_mm is None else self.centre_mm) / 1e3

    @property
    def inertia(self) -> float:
        """About its own centre of mass [kg m2]."""
        even = self.mass_kg * (self.length_mm / 1e3) ** 2 / 12.0
        return even if self.inertia_kg_m2 is None else self.inertia_kg_m2


@dataclass(frozen=True)
class Knee:
    """Knee of a legform. Assumed values, not those of a standard; an infinite spring is a lock."""

    bending_stiffness: float  # [N m/rad]
    bending_damping: float = 5.0  # [N m s/rad]
    shear_stiffness: float = 600.0  # [N/mm]
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
class Legform:
    """A lower legform: two halves joined at the knee, each of stiff or bending segments."""

    name: Literal["rigid legform", "flexible legform"]
    femur: tuple[Segment, ...]  # From the knee outward
    tibia: tuple[Segment, ...]  # From the knee outward
    knee: Knee  # Assumed
    speed_km_h: float  # Test speed
    ground_clearance_mm: float  # Height of the lower end above ground at first contact
    source: str  # Where the data come from
    provenance: Provenance

    @property
    def femur_length_mm(self) -> float:
        """From the knee to the upper end [mm]."""
        return sum(segment.length_mm for segment in self.femur)

    @property
    def tibia_length_mm(self) -> float:
        """From the knee to the lower end [mm]."""
        return sum(segment.length_mm for segment in self.tibia)

    @property
    def length_mm(self) -> float:
        """Whole length [mm]."""
        return self.femur_length_mm + self.tibia_length_mm

    @property
    def mass_kg(self) -> float:
        """Mass of both halves [kg]."""
        return sum(segment.mass_kg for segment in (*self.femur, *self.tibia))

    @property
    def knee_height_mm(self) -> float:
        """Height of the knee above ground at first contact [mm]."""
        return self.ground_clearance_mm + self.tibia_length_mm

    @property
    def low_mm(self) -> float:
        """Height of the lower end above ground at first contact [mm]."""
        return self.ground_clearance_mm

    @property
    def high_mm(self) -> float:
        """Height of the upper end above ground at first contact [mm]."""
        return self.knee_height_mm + self.femur_length_mm

    @property
    def mass_matrix(self) -> Array:
        """Mass matrix of the hinged halves, (3, 3), as if no bone bent [kg, kg m, kg m2]."""
        # For the speed of the knee in the direction of the push [m/s] and the rates of slope of
        # femur and tibia [rad/s]: du/dz, u in the direction of the push, z up from the knee;
        # small rotations from upright.
        out = np.zeros((3, 3))
        for at, side, segments in ((1, 1.0, self.femur), (2, -1.0, self.tibia)):
            start = 0.0
            for segment in segments:
                arm = side * (start + segment.centre_m)
                out[0, 0] += segment.mass_kg
                out[0, at] += segment.mass_kg * arm
                out[at, at] += segment.inertia + segment.mass_kg * arm * arm
                start += segment.length_mm / 1e3
            out[at, 0] = out[0, at]
        return out


_DATA: Final = own_toml(__package__, "impactors.toml")
RIGID_LEGFORM: Final = convert(_DATA["rigid_legform"], Legform)
"""The rigid lower legform."""
FLEXIBLE_LEGFORM: Final = convert(_DATA["flexible_legform"], Legform)
"""The flexible lower legform."""


def legform_of(rules: RuleSet) -> Legform:
    """Return the lower legform that a rule set tests with."""
    return FLEXIBLE_LEGFORM if rules.flag("legform.flexible") else RIGID_LEGFORM


@dataclass(frozen=True)
class UpperLegform:
    """The upper legform, as far as geometry asks for it."""

    face_mm: float  # Length of its face
    source: str
    provenance: Provenance


UPPER_LEGFORM: Final = convert(_DATA["upper_legform"], UpperLegform)
"""The upper legform."""


@dataclass(frozen=True)
class Headform:
    """A headform and how it is launched."""

    name: Literal["child", "adult"]  # Which
    mass_kg: float  # Mass
    diameter_mm: float  # Diameter
    angle_deg: float  # Direction of travel to the horizontal, downward and rearward
    speed_km_h: float  # Test speed

    @property
    def travel(self) -> tuple[float, float]:
        """Unit vector (x, z) of travel: x rearward, z up."""
        angle = math.radians(self.angle_deg)
        return math.cos(angle), -math.sin(angle)


def headforms(rules: RuleSet) -> tuple[Headform, Headform]:
    """Return the child and the adult headform of a rule set."""
    return (_headform(rules, "child"), _headform(rules, "adult"))


def _headform(rules: RuleSet, name: Literal["child", "adult"]) -> Headform:
    return Headform(
        name,
        rules.value(f"headform.{name}_mass_kg"),
        rules.value("headform.diameter_mm"),
        rules.value(f"headform.{name}_angle_deg"),
        rules.value("headform.speed_km_h"),
    )


def knee_rate_per_impulse(below_knee_mm: ArrayLike, legform: Legform = RIGID_LEGFORM) -> Array:
    """Return the opening rate of a freely hinged knee per unit of horizontal impulse."""
    # The links stand upright and at rest to one another; the hinge carries no moment. The rate is
    # linear in the height of the blow along either link.
    y = np.asarray(below_knee_mm, dtype=np.float64)
    if np.any((y > legform.tibia_length_mm) | (y < -legform.femur_length_mm) | np.isnan(y)):
        raise ValueError(
            f"a blow on the legform lies between {-legform.femur_length_mm:g} and "
            f"{legform.tibia_length_mm:g} mm below the knee"
        )
    up = -y / 1000.0
    push = np.stack([np.ones_like(up), np.maximum(up, 0.0), np.minimum(up, 0.0)], axis=-1)
    rates = push @ np.linalg.inv(legform.mass_matrix).T
    return np.asarray(rates[..., 2] - rates[..., 1])


def square_pulse_stop_distance(hic: ArrayLike, speed_km_h: ArrayLike) -> Array:
    """Return the depth in which a constant deceleration stops a head at a given HIC."""
    # Mean and peak are one: HIC = a^2.5 v / (a g) with a in g, hence a = (HIC g / v)^(2/3) and
    # depth v^2 / (2 a g).
    limit, speed = _checked(hic, speed_km_h)
    # v^2 / (2 a g) with a put in: no division by a speed that may be zero.
    depth = 0.5 * speed ** (8.0 / 3.0) / (GRAVITY ** (5.0 / 3.0) * limit ** (2.0 / 3.0))
    return np.asarray(1000.0 * depth)


def least_stop_distance(hic: ArrayLike, speed_km_h: ArrayLike) -> Array:
    """Return the least depth in which any pulse at all stops a head at a given HIC."""
    # By the definition of HIC no window of length t may lose more speed than g HIC^0.4 t^0.6.
    # Taken from first contact this bounds the depth from below by 3/8 v T, where g HIC^0.4 T^0.6
    # = v: 75 % of the square pulse. No real structure reaches it (the deceleration starts without
    # bound).
    return _LEAST_SHARE * square_pulse_stop_distance(hic, speed_km_h)


def _checked(hic: ArrayLike, speed_km_h: ArrayLike) -> tuple[Array, Array]:
    limit = np.asarray(hic, dtype=np.float64)
    speed = np.asarray(speed_km_h, dtype=np.float64) * _MS_PER_KMH
    if not np.all(np.isfinite(limit) & (limit > 0.0)):
        raise ValueError("HIC must be a positive number")
    if not np.all(np.isfinite(speed) & (speed >= 0.0)):
        raise ValueError("speed must be a number of 0 or more")
    return limit, speed

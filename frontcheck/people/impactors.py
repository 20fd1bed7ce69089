"""Published data of the test impactors, and what follows from them in closed form.

The rigid legform is two rigid links joined at the knee. Its data are from memory of the
published drawings and paragraphs; the headforms are read from the rule set.

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
    from numpy.typing import ArrayLike, NDArray

    from frontcheck.rules.ruleset import RuleSet

GRAVITY: Final = 9.80665
"""Standard gravity [m/s2], exact by definition."""

_MS_PER_KMH: Final = 1.0 / 3.6
_LEAST_SHARE: Final = 0.75
"""Least stop distance over all pulses of one HIC, as a share of the square pulse's."""


@one_line
@dataclass(frozen=True)
class RigidLegform:
    """Two rigid links joined at the knee; lengths in mm, masses in kg, inertias in kg m2."""

    length_mm: float  # Whole length
    femur_length_mm: float  # From the knee to the upper end
    tibia_length_mm: float  # From the knee to the lower end
    femur_mass_kg: float
    tibia_mass_kg: float
    femur_centre_mm: float  # From the knee to the centre of mass
    tibia_centre_mm: float  # From the knee to the centre of mass
    femur_inertia_kg_m2: float  # About its own centre of mass
    tibia_inertia_kg_m2: float  # About its own centre of mass
    accelerometer_below_knee_mm: float  # Where the tibia's acceleration is taken, below the knee
    speed_km_h: float  # Test speed
    ground_clearance_mm: float  # Height of the lower end above ground at first contact
    source: str  # Where the data come from
    provenance: Provenance

    @property
    def mass_kg(self) -> float:
        """Mass of both links [kg]."""
        return self.femur_mass_kg + self.tibia_mass_kg

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
    def mass_matrix(self) -> NDArray[np.float64]:
        """Mass matrix of the hinged links, (3, 3) [kg, kg m, kg m2]."""
        # For the speed of the knee in the direction of the push [m/s] and the rates of slope of
        # femur and tibia [rad/s]: du/dz, u in the direction of the push, z up from the knee;
        # small rotations from upright.
        m1, m2 = self.femur_mass_kg, self.tibia_mass_kg
        c1, c2 = self.femur_centre_mm / 1000.0, self.tibia_centre_mm / 1000.0
        i1, i2 = self.femur_inertia_kg_m2, self.tibia_inertia_kg_m2
        return np.array(
            [
                [m1 + m2, m1 * c1, -m2 * c2],
                [m1 * c1, i1 + m1 * c1 * c1, 0.0],
                [-m2 * c2, 0.0, i2 + m2 * c2 * c2],
            ]
        )


RIGID_LEGFORM: Final = convert(
    own_toml(__package__, "impactors.toml")["rigid_legform"], RigidLegform
)
"""The rigid lower legform."""


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


def knee_rate_per_impulse(
    below_knee_mm: ArrayLike, legform: RigidLegform = RIGID_LEGFORM
) -> NDArray[np.float64]:
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


def knee_zero_rate_below(legform: RigidLegform = RIGID_LEGFORM) -> float:
    """Return where on the tibia a blow neither opens nor closes the knee."""
    at_knee, at_end = knee_rate_per_impulse([0.0, legform.tibia_length_mm], legform)
    return float(legform.tibia_length_mm * at_knee / (at_knee - at_end))


def square_pulse_stop_distance(hic: ArrayLike, speed_km_h: ArrayLike) -> NDArray[np.float64]:
    """Return the depth in which a constant deceleration stops a head at a given HIC."""
    # Mean and peak are one: HIC = a^2.5 v / (a g) with a in g, hence a = (HIC g / v)^(2/3) and
    # depth v^2 / (2 a g).
    limit, speed = _checked(hic, speed_km_h)
    # v^2 / (2 a g) with a put in: no division by a speed that may be zero.
    depth = 0.5 * speed ** (8.0 / 3.0) / (GRAVITY ** (5.0 / 3.0) * limit ** (2.0 / 3.0))
    return np.asarray(1000.0 * depth)


def least_stop_distance(hic: ArrayLike, speed_km_h: ArrayLike) -> NDArray[np.float64]:
    """Return the least depth in which any pulse at all stops a head at a given HIC."""
    # By the definition of HIC no window of length t may lose more speed than g HIC^0.4 t^0.6.
    # Taken from first contact this bounds the depth from below by 3/8 v T, where g HIC^0.4 T^0.6
    # = v: 75 % of the square pulse. No real structure reaches it (the deceleration starts without
    # bound).
    return _LEAST_SHARE * square_pulse_stop_distance(hic, speed_km_h)


def _checked(
    hic: ArrayLike, speed_km_h: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    limit = np.asarray(hic, dtype=np.float64)
    speed = np.asarray(speed_km_h, dtype=np.float64) * _MS_PER_KMH
    if not np.all(np.isfinite(limit) & (limit > 0.0)):
        raise ValueError("HIC must be a positive number")
    if not np.all(np.isfinite(speed) & (speed >= 0.0)):
        raise ValueError("speed must be a number of 0 or more")
    return limit, speed

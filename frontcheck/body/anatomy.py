"""A person as a chain of nine bodies and the circles of its skin."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.body.assumptions import DATA, values
from frontcheck.body.chain import Chain
from frontcheck.people.people import DATA as PEOPLE
from frontcheck.people.people import proportions_of

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.people.people import Person

_SKIN: Final = values(DATA["skin"])
_THORAX_SHARE: Final = values(DATA["contact"])["on_the_chest"]
BODIES: Final = (
    "pelvis", "abdomen", "thorax", "neck", "head",
    "near thigh", "near shank", "far thigh", "far shank",
)  # fmt: skip
"""In the order of the chain; the near leg is the one that the front meets first."""
PELVIS, ABDOMEN, THORAX, NECK, HEAD, NEAR_THIGH, NEAR_SHANK, FAR_THIGH, FAR_SHANK = range(9)
_PARENT: Final = (-1, PELVIS, ABDOMEN, THORAX, NECK, PELVIS, NEAR_THIGH, PELVIS, FAR_THIGH)


@dataclass(frozen=True, eq=False)
class Skin:
    """Circles that stand for the skin of bodies."""

    body: Index  # (c,) which body each belongs to
    place: Array  # (c, 2) from the origin of that body [m]
    radius: Array  # (c,) [m]
    stiff: Array  # (c,) lengths of 100 mm of skin that each stands for
    shoulder: Mask  # (c,) whether it moves with the breadth of the shoulders

    @cached_property
    def legs(self) -> tuple[Index, Index, Array]:
        """Circles of the near leg, of the far one, and (near, far) how close they may come [m]."""
        near, far = (
            np.flatnonzero(np.isin(self.body, pair))
            for pair in ((NEAR_THIGH, NEAR_SHANK), (FAR_THIGH, FAR_SHANK))
        )
        return near, far, self.radius[near][:, None] + self.radius[far]

    def with_shoulders(self, share: Array) -> Array:
        """Places (B, c, 2) with shares (B,) of the breadth of the shoulders."""
        place = np.tile(self.place, (len(share), 1, 1))
        edge = (self.place[:, 0] + self.radius)[self.shoulder]
        place[:, self.shoulder, 0] -= (1.0 - share[:, None]) * edge
        return place


@dataclass(frozen=True, eq=False)
class Figure:
    """A person, ready to be struck."""

    stature: float  # [m]
    mass: float  # [kg]
    chain: Chain
    hip: float  # Height of the first origin, standing [m]
    sole: float  # Length from a knee to the sole [m]
    skin: Skin

    @classmethod
    def of(cls, stature: float, mass: float, *, child: bool = False) -> Figure:
        """Build a person of a stature [m] and a mass [kg]."""
        built = PEOPLE["body"]["child" if child else "adult"]
        heights = values(PEOPLE["fractions"]["joints"]) | values(built["height"])
        halves, turn = values(built["half"]), values(PEOPLE["body"]["both"]) | values(built["turn"])
        hip, knee = heights["hip"], heights["knee"]
        thigh, shank = hip - knee, knee - heights["ankle"]
        spine = [heights[name] for name in ("lumbar", "waist", "neck", "skull")]
        # (place of the origin in the body before, centre of mass, gyration) in statures
        ends = [hip, *spine]
        pelvis = values(PEOPLE["body"]["adult"]["half"])["pelvis"]
        boxes = {
            name: turn[name] * halves["pelvis"] / pelvis for name in ("pelvis", "abdomen", "thorax")
        }
        boxes["neck"] = _SKIN["neck"]
        at = 0.0
        parts: list[tuple[tuple[float, float], tuple[float, float], float]] = []
        for name, low, high in zip(BODIES[:4], ends, ends[1:], strict=False):
            tall = high - low
            share = turn["thorax_centre"] if name == "thorax" else 0.5
            parts.append(((0.0, at), (0.0, share * tall), _box(boxes[name], tall)))
            at = tall
        parts.append(((0.0, at), (0.0, turn["head_centre"]), turn["head_gyration"]))
        for side in (1.0, -1.0):
            own = (0.0, -turn["thigh_centre"] * thigh)
            beside = (side * halves["hip_joints"], 0.0)
            parts.append((beside, own, turn["thigh_gyration"] * thigh))
            own = (0.0, -turn["shank_centre"] * shank)
            parts.append(((0.0, -thigh), own, turn["shank_gyration"] * shank))
        of = values(built["mass"])
        masses = mass * np.array([of[name.split()[-1]] for name in BODIES])
        masses *= mass / masses.sum()
        origins, centres, gyration = (
            np.array(column) * stature for column in zip(*parts, strict=True)
        )
        chain = Chain(_PARENT, origins, centres, masses, masses * gyration**2)
        body, place, radius, shoulder = _skin(heights, halves)
        stiff = np.full(len(body), _SKIN["pitch"] * stature / 0.1)
        stiff[body == THORAX] *= _THORAX_SHARE
        skin = Skin(body, place * stature, radius * stature, stiff, shoulder)
        return cls(stature, mass, chain, hip * stature, knee * stature, skin)


def figure_of(person: Person) -> Figure:
    """Return a person with the proportions of adults or of a child, or refuse."""
    child = proportions_of(person) == "child"
    return Figure.of(person.stature.known() / 1e3, person.mass_kg or 0.0, child=child)


def _box(half: float, tall: float) -> float:
    """Gyration radius of a box that is so broad, half, and so tall."""
    return float(np.sqrt((4.0 * half * half + tall * tall) / 12.0))


def _skin(heights: dict[str, float], halves: dict[str, float]) -> tuple[Index, Array, Array, Mask]:
    """Circles of the near side, of both legs and of the head, in statures."""
    skin = _SKIN
    pitch = skin["pitch"]
    rows: list[tuple[int, float, float, float, bool]] = []

    def row(body: int, low: float, high: float, half: Any, radius: float, origin: float) -> None:
        count = max(round((high - low) / pitch), 1)
        for k in range(count):
            z = low + (k + 0.5) * (high - low) / count
            breadth, moves = half(z)
            rows.append((body, breadth - radius, z - origin, radius, moves))

    hip, knee = heights["hip"], heights["knee"]
    broad, chest, wide = (halves[name] for name in ("pelvis", "chest", "shoulder"))
    waist, neck, shoulder = heights["waist"], heights["neck"], heights["shoulder"]
    middle = (waist + shoulder) / 2.0

    def trunk(z: float) -> tuple[float, bool]:
        half = np.interp(z, [hip, heights["lumbar"], middle, shoulder], [broad, broad, chest, wide])
        return float(half), z > heights["lumbar"]

    row(PELVIS, hip - 0.045, heights["lumbar"], lambda _: (broad, False), skin["pelvis"], hip)
    row(ABDOMEN, heights["lumbar"], waist, trunk, skin["abdomen"], heights["lumbar"])
    row(THORAX, waist, shoulder + skin["thorax"] / 2.0, trunk, skin["thorax"], waist)
    row(NECK, neck, heights["skull"], lambda _: (skin["neck"], False), skin["neck"], neck)
    half = halves["head"]
    top = 1.0 - heights["skull"] - half
    rows.append((HEAD, 0.0, top, half, False))
    for near, far in ((NEAR_THIGH, FAR_THIGH), (NEAR_SHANK, FAR_SHANK)):
        low, high = (knee, hip) if near == NEAR_THIGH else (0.0, knee)
        radius = skin["thigh" if near == NEAR_THIGH else "shank"]
        for body in (near, far):
            row(body, low, high, lambda _, r=radius: (r, False), radius, high)
    bodies, x, z, radii, moves = zip(*rows, strict=True)
    return np.array(bodies), np.stack([x, z], axis=1), np.array(radii), np.array(moves)

"""A person as a chain of nine bodies and the circles of its skin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.body.chain import Chain
from frontcheck.files import own_toml

if TYPE_CHECKING:
    from numpy.typing import NDArray

DATA: Final[dict[str, Any]] = own_toml(__package__, "body.toml")
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

    body: NDArray[np.intp]  # (c,) which body each belongs to
    place: NDArray[np.float64]  # (c, 2) from the origin of that body [m]
    radius: NDArray[np.float64]  # (c,) [m]
    stiff: NDArray[np.float64]  # (c,) lengths of 100 mm of skin that each stands for
    shoulder: NDArray[np.bool_]  # (c,) whether it moves with the breadth of the shoulders

    def with_shoulders(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
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
        shares = DATA["child" if child else "adult"]
        trunk, inertia = shares["trunk"], DATA["inertia"]
        heights = {**shares, **trunk}
        hip, knee = heights["hip"], heights["knee"]
        thigh, shank = hip - knee, knee - heights["ankle"]
        spine = [heights[name] for name in ("lumbar", "waist", "neck", "skull")]
        # (place of the origin in the body before, centre of mass, gyration) in statures
        ends = [hip, *spine]
        boxes = {
            name: half * shares["pelvis_half"] / DATA["adult"]["pelvis_half"]
            for name, half in DATA["boxes"].items()
            if name != "provenance"
        }
        boxes["neck"] = DATA["skin"]["neck"]
        who = "child" if child else "adult"
        at = 0.0
        parts: list[tuple[tuple[float, float], tuple[float, float], float]] = []
        for name, low, high in zip(BODIES[:4], ends, ends[1:], strict=False):
            tall = high - low
            share = inertia["thorax_centre"] if name == "thorax" else 0.5
            parts.append(((0.0, at), (0.0, share * tall), _box(boxes[name], tall)))
            at = tall
        parts.append(
            ((0.0, at), (0.0, inertia[f"head_centre_{who}"]), inertia[f"head_gyration_{who}"])
        )
        for side in (1.0, -1.0):
            own = (0.0, -inertia["thigh_centre"] * thigh)
            beside = (side * trunk["hips_half"], 0.0)
            parts.append((beside, own, inertia["thigh_gyration"] * thigh))
            own = (0.0, -inertia["shank_centre"] * shank)
            parts.append(((0.0, -thigh), own, inertia["shank_gyration"] * shank))
        of = shares["mass"]
        masses = mass * np.array([of[name.split()[-1]] for name in BODIES])
        masses *= mass / masses.sum()
        origins, centres, gyration = (
            np.array(column) * stature for column in zip(*parts, strict=True)
        )
        chain = Chain(_PARENT, origins, centres, masses, masses * gyration**2)
        body, place, radius, shoulder = _skin(shares, heights)
        stiff = np.full(len(body), DATA["skin"]["pitch"] * stature / 0.1)
        stiff[body == THORAX] *= DATA["contact"]["thorax_share"]
        skin = Skin(body, place * stature, radius * stature, stiff, shoulder)
        return cls(stature, mass, chain, hip * stature, knee * stature, skin)


def _box(half: float, tall: float) -> float:
    """Gyration radius of a box that is so broad, half, and so tall."""
    return float(np.sqrt((4.0 * half * half + tall * tall) / 12.0))


def _skin(
    shares: dict[str, Any], heights: dict[str, float]
) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Circles of the near side, of both legs and of the head, in statures."""
    skin = DATA["skin"]
    pitch = skin["pitch"]
    rows: list[tuple[int, float, float, float, bool]] = []

    def row(body: int, low: float, high: float, half: Any, radius: float, origin: float) -> None:
        count = max(round((high - low) / pitch), 1)
        for k in range(count):
            z = low + (k + 0.5) * (high - low) / count
            breadth, moves = half(z)
            rows.append((body, breadth - radius, z - origin, radius, moves))

    hip, knee = heights["hip"], heights["knee"]
    broad, chest, wide = (shares[f"{name}_half"] for name in ("pelvis", "chest", "shoulder"))
    waist, neck, shoulder = heights["waist"], heights["neck"], heights["shoulder"]
    middle = (waist + shoulder) / 2.0

    def trunk(z: float) -> tuple[float, bool]:
        half = np.interp(z, [hip, heights["lumbar"], middle, shoulder], [broad, broad, chest, wide])
        return float(half), z > heights["lumbar"]

    row(PELVIS, hip - 0.045, heights["lumbar"], lambda _: (broad, False), skin["pelvis"], hip)
    row(ABDOMEN, heights["lumbar"], waist, trunk, skin["abdomen"], heights["lumbar"])
    row(THORAX, waist, shoulder + skin["thorax"] / 2.0, trunk, skin["thorax"], waist)
    row(NECK, neck, heights["skull"], lambda _: (skin["neck"], False), skin["neck"], neck)
    half = heights["head_half"]
    top = 1.0 - heights["skull"] - half
    rows.append((HEAD, 0.0, top, half, False))
    for near, far in ((NEAR_THIGH, FAR_THIGH), (NEAR_SHANK, FAR_SHANK)):
        low, high = (knee, hip) if near == NEAR_THIGH else (0.0, knee)
        radius = skin["thigh" if near == NEAR_THIGH else "shank"]
        for body in (near, far):
            row(body, low, high, lambda _, r=radius: (r, False), radius, high)
    bodies, x, z, radii, moves = zip(*rows, strict=True)
    return np.array(bodies), np.stack([x, z], axis=1), np.array(radii), np.array(moves)

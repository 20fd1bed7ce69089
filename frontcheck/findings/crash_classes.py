"""The front in the classes of a crash study: leading-edge height, face angle, bonnet angle.

The figures quoted are population statistics of that study: fronts of a class compared with
low, sloped fronts over many crashes. They are no prediction for the shape at hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from frontcheck.findings.finding import Finding, FindingRule, line_region

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.findings.finding import Region
    from frontcheck.front.front import Front
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section

_STUDY: Final = "Hu, Monfort & Cicchino, Journal of Safety Research 2024"
_LOW_MM, _TALL_MM = 762.0, 1016.0
_BLUNT_DEG, _FLAT_DEG = 65.0, 15.0

_HIGHER_RISK: Final = {
    ("tall", "blunt"): 43.6,
    ("tall", "sloped"): 45.4,
    ("medium", "blunt"): 25.6,
}
"""Fatality risk of a struck pedestrian, in per cent above low and sloped fronts, same study."""

_FLAT_HIGHER_RISK: Final = 25.1
"""The same for bonnets in the flat class against steeper ones [%]."""

_CONSTRUCTION: Final = (
    "The figure with the study's own construction was not read; this one is ours: at the measured "
    "station nearest the centre plane, leading-edge height is the height of BLERL (bonnet leading "
    "edge reference line), face angle is that of the straight line from UBRL (upper bumper "
    "reference line) to BLERL, from the horizontal, so that an upright face has 90 deg, and "
    "bonnet angle is that of the straight line over the bonnet, from the horizontal. "
)
_STATISTICS: Final = (
    "Risk figures are population statistics of the study, not a prediction for this shape: they "
    "carry everything else in which such vehicles differ."
)

HEIGHT_MEDIUM: Final = FindingRule(
    code="BODY-CLASS-MEDIUM",
    topic="body",
    title="leading edge of the medium class",
    meaning=(
        "The leading edge is more than 762 and not more than 1016 mm high: the medium class of "
        "the study. Medium and blunt fronts showed a fatality risk of struck pedestrians 25.6 % "
        "above that of low and sloped ones."
    ),
    limits=_CONSTRUCTION + _STATISTICS,
    threshold=(_LOW_MM, _TALL_MM),
    unit="mm",
    comparison="within",
    source=_STUDY,
    provenance="from memory",
)
HEIGHT_TALL: Final = FindingRule(
    code="BODY-CLASS-TALL",
    topic="body",
    title="leading edge of the tall class",
    meaning=(
        "The leading edge is more than 1016 mm high: the tall class of the study. Tall fronts "
        "showed a fatality risk of struck pedestrians above that of low and sloped ones: 43.6 % "
        "when blunt, 45.4 % when sloped."
    ),
    limits=_CONSTRUCTION + _STATISTICS,
    threshold=_TALL_MM,
    unit="mm",
    comparison=">",
    source=_STUDY,
    provenance="from memory",
)
FACE_BLUNT: Final = FindingRule(
    code="BODY-CLASS-BLUNT",
    topic="body",
    title="face of the blunt class",
    meaning=(
        "The face stands at more than 65 deg to the horizontal: the blunt class of the study. "
        "With a medium leading edge, blunt fronts showed a higher fatality risk of struck "
        "pedestrians than low and sloped ones; see BODY-CLASS-MEDIUM and BODY-CLASS-TALL."
    ),
    limits=_CONSTRUCTION + _STATISTICS,
    threshold=_BLUNT_DEG,
    unit="deg",
    comparison=">",
    source=_STUDY,
    provenance="from memory",
)
BONNET_FLAT: Final = FindingRule(
    code="BODY-CLASS-FLAT",
    topic="body",
    title="bonnet of the flat class",
    meaning=(
        "The bonnet rises at 15 deg or less: the flat class of the study. Flat bonnets showed a "
        "fatality risk of struck pedestrians 25.1 % above that of steeper ones."
    ),
    limits=_CONSTRUCTION + _STATISTICS,
    threshold=_FLAT_DEG,
    unit="deg",
    comparison="<=",
    source=_STUDY,
    provenance="from memory",
)

CLASS_RULES: Final = (HEIGHT_MEDIUM, HEIGHT_TALL, FACE_BLUNT, BONNET_FLAT)
"""Rules of this module."""

_SETTLED: Final = (
    "no test settles a class; measure height and angles again by the study's own figure before "
    "quoting it"
)


@dataclass(frozen=True)
class FrontClass:
    """A front in the classes of the study, at one station."""

    station: float  # Station used, the one nearest the centre plane [mm]
    ble_height_mm: float | None  # Leading-edge height [mm]
    height: Literal["low", "medium", "tall"] | None  # Its class
    face_angle_deg: float | None  # Face angle from the horizontal [deg]
    face: Literal["sloped", "blunt"] | None  # Its class
    whole_face_angle_deg: float
    bonnet_angle_deg: float | None  # Bonnet angle from the horizontal [deg]
    bonnet: Literal["flat", "steeper"] | None  # Its class
    higher_risk_percent: float | None  # Published fatality risk above low and sloped fronts [%]


def face_angle_deg(station: Station) -> float | None:
    """Return the lean of the line from UBRL to BLERL from the horizontal."""
    bumper, edge = station.UBRL, station.BLERL
    if bumper.x is None or bumper.z is None or edge.x is None or edge.z is None:
        return None
    if edge.z <= bumper.z:
        return None
    return math.degrees(math.atan2(edge.z - bumper.z, edge.x - bumper.x))


def front_class(lined: LinedFront) -> FrontClass:
    """Put a front into the classes of the study."""
    station = min(lined.stations, key=lambda s: (abs(s.y), s.y))
    face = lined.front.section(station.y).face
    edge, angle, bonnet = station.BLERL.z, face_angle_deg(station), face.bonnet_angle_deg
    height: Literal["low", "medium", "tall"] | None = None
    if edge is not None:
        height = "low" if edge <= _LOW_MM else "medium" if edge <= _TALL_MM else "tall"
    kind: Literal["sloped", "blunt"] | None = None
    if angle is not None:
        kind = "blunt" if angle > _BLUNT_DEG else "sloped"
    return FrontClass(
        station=station.y,
        ble_height_mm=edge,
        height=height,
        face_angle_deg=angle,
        face=kind,
        whole_face_angle_deg=90.0 - face.mean_face_angle_deg,
        bonnet_angle_deg=bonnet,
        bonnet=None if bonnet is None else "flat" if bonnet <= _FLAT_DEG else "steeper",
        higher_risk_percent=None
        if height is None or kind is None
        else _HIGHER_RISK.get((height, kind)),
    )


def class_findings(lined: LinedFront) -> tuple[Finding, ...]:
    """Return what the classes of the study say of a front."""
    found = front_class(lined)
    return tuple(_findings(lined.front, lined.station(found.station), found))


def _findings(front: Front, station: Station, found: FrontClass) -> Iterable[Finding]:
    section = front.section(station.y)
    where = f"at y = {station.y:g} mm"
    edge, bumper = station.BLERL, station.UBRL

    def made(rule: FindingRule, region: Region, value: float, message: str) -> Finding:
        return Finding(rule, region, station.y, value, message, _SETTLED)

    if edge.x is not None and edge.z is not None:
        at = (edge.x, edge.z)
        region = line_region("bonnet leading edge", section, at, at)
        if found.height == "medium":
            yield made(
                HEIGHT_MEDIUM,
                region,
                edge.z,
                f"Leading edge {edge.z:.0f} mm high {where}: medium class (over {_LOW_MM:g}, up to "
                f"{_TALL_MM:g} mm); {_risk(found)}.",
            )
        elif found.height == "tall":
            yield made(
                HEIGHT_TALL,
                region,
                edge.z,
                f"Leading edge {edge.z:.0f} mm high {where}: tall class (over {_TALL_MM:g} mm); "
                f"{_risk(found)}.",
            )
        if found.face == "blunt" and found.face_angle_deg is not None:
            assert bumper.x is not None
            assert bumper.z is not None
            yield made(
                FACE_BLUNT,
                line_region("face", section, (bumper.x, bumper.z), at),
                found.face_angle_deg,
                f"Face {found.face_angle_deg:.1f} deg to the horizontal, UBRL to BLERL, {where}: "
                f"blunt class (over {_BLUNT_DEG:g} deg); {found.whole_face_angle_deg:.1f} deg over "
                "the whole face.",
            )
    if found.bonnet == "flat" and found.bonnet_angle_deg is not None:
        low, high = _bonnet_ends(section)
        yield made(
            BONNET_FLAT,
            line_region("bonnet", section, low, high),
            found.bonnet_angle_deg,
            f"Bonnet rises at {found.bonnet_angle_deg:.1f} deg {where}: flat class (up to "
            f"{_FLAT_DEG:g} deg); in that study's population flat bonnets had a fatality risk "
            f"{_FLAT_HIGHER_RISK:g} % above steeper ones.",
        )


def _bonnet_ends(section: Section) -> tuple[tuple[float, float], tuple[float, float]]:
    """The stretch that the bonnet angle was taken over, or near enough for a drawing."""
    chosen = section.points[section.part_mask("bonnet")]
    if len(chosen):
        return tuple(chosen[0]), tuple(chosen[-1])
    return section.face.face_top, tuple(section.points[-1])


def _risk(found: FrontClass) -> str:
    if found.face is None or found.height is None:
        return "face angle not known, so no figure of the study can be named"
    sloped_only_here = found.face == "sloped" and found.whole_face_angle_deg > _BLUNT_DEG
    other = (
        f"; the face is sloped from UBRL to BLERL ({found.face_angle_deg:.1f} deg) but blunt over "
        f"its whole height ({found.whole_face_angle_deg:.1f} deg), so the class is not certain"
        if sloped_only_here
        else ""
    )
    percent = found.higher_risk_percent
    if percent is None:
        text = f"no figure of the study is held for {found.height} and {found.face} fronts"
    else:
        text = (
            f"in that study's population {found.height} and {found.face} fronts had a fatality "
            f"risk {percent:g} % above low and sloped ones"
        )
    return text + other

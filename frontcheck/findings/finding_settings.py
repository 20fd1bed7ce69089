"""What findings are made with: people, hard points, and the limits that are ours to choose."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING

from frontcheck.errors import refuse
from frontcheck.findings.finding_rules import RULES, WORDS
from frontcheck.front.beside import given_once
from frontcheck.people.people import PEOPLE
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.front.beside import HardPoint, HardPoints
    from frontcheck.front.front import Front
    from frontcheck.people.people import Person


def _most(code: str) -> float:
    """Threshold of a rule, so that it stands once; the upper one where there are two."""
    limit = RULES[code].threshold
    assert limit is not None
    return limit[1] if isinstance(limit, tuple) else limit


@one_line
@dataclass(frozen=True)
class LegSettings:
    """Depths and thresholds of the leg findings: own choice, with the reasons in leg.toml."""

    # The knee band reaches this far below and above the knee
    knee_half_band_mm: float = _most("LEG-KNEE-FIRST")
    depth_mm: float = 60.0  # How far the front is pushed into the leg for the load
    early_depth_mm: float = 20.0  # The same shortly after first touch, for split contact
    lip_mm: float = _most("LEG-UNDERCUT")  # Lower lip this far behind or ahead of the bumper counts
    overhang_mm: float = _most("LEG-OVERHANG")  # Lean forward beyond this counts
    # Free stretch between two contact bands beyond this counts
    free_stretch_mm: float = _most("LEG-SPLIT-CONTACT")
    mid_shin_mm: float = _most("LEG-NOTHING-LOW")  # What is low stands below this
    low_depth_mm: float = 50.0  # And this far at most behind the bumper
    long_lead_mm: float = _most("LEG-LONG-LEAD")  # Bumper lead above this is long
    lead_mm: float = _most("LEG-SHORT-LEAD")  # Bumper lead below this is short
    # Lower bumper height this near a change of legform counts
    legform_margin_mm: float = _most("LEG-LEGFORM-NEAR")
    # Opening and closing rate, as shares of that of a blow at the knee
    opens_share: float = WORDS["LEG-KNEE-OPENS"]["threshold_of_blow_at_knee"]
    closes_share: float = -WORDS["LEG-KNEE-CLOSES"]["threshold_of_blow_at_knee"]

    def __post_init__(self) -> None:
        """Check the values."""
        for entry in fields(self):
            value = getattr(self, entry.name)
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError(f"{entry.name} must be a positive number, not {value:g}")


@one_line
@dataclass(frozen=True)
class HeadSettings:
    """Limits of the head and gap findings: own choice, with the reasons in head.toml, gaps.toml."""

    near_normal_deg: float = _most("HEAD-NEAR-NORMAL")
    glancing_deg: float = _most("HEAD-GLANCING")
    bend_length_mm: float = 60.0
    bend_radius_mm: float = _most("HEAD-SHARP-BEND")  # Bends below this radius are told [mm]
    hic: float = 1000.0  # Head injury criterion for which free depths are judged [g^2.5 s]

    def __post_init__(self) -> None:
        """Check every limit."""
        for name in (
            "near_normal_deg", "glancing_deg", "bend_length_mm", "bend_radius_mm", "hic",
        ):  # fmt: skip
            value = getattr(self, name)
            angle = name.endswith("_deg")
            if not (math.isfinite(value) and value > 0.0 and (not angle or value <= 90.0)):
                raise refuse(
                    "findings.limit",
                    name=name,
                    value=value,
                    wanted="an angle above 0 and up to 90 deg" if angle else "a positive number",
                )


@one_line
@dataclass(frozen=True)
class FindingSettings:
    """What findings are made with.

    Parameters
    ----------
    people : tuple of Person, optional
        Reference people.
    hard_points : tuple of HardPoint, optional
        Hard points under the skin.
    leg : LegSettings, optional
        Depths and limits of the leg findings.
    head : HeadSettings, optional
        Limits of the head and gap findings.
    read_from : tuple of HardPoints, optional
        Files that hard points were read from, to be named in the document.

    Examples
    --------
    >>> import frontcheck as fc
    >>> settings = fc.FindingSettings(people=(fc.person_of_stature(1500),))
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"), finding_settings=settings)
    >>> [finding.code for finding in result.findings][:2]
    ['LEG-LOWER-LEGFORM', 'LEG-HIGH-BUMPER']
    """

    people: tuple[Person, ...] = PEOPLE
    hard_points: tuple[HardPoint, ...] = ()
    leg: LegSettings = field(default_factory=LegSettings)
    head: HeadSettings = field(default_factory=HeadSettings)
    read_from: tuple[HardPoints, ...] = field(default=(), repr=False)


def settings_of(front: Front, settings: FindingSettings | None) -> FindingSettings | None:
    """Return the settings with the hard points that a front file gives."""
    told = front.beside.hard_points
    given_once(settings.hard_points if settings else (), told, "hard_points", front.source.file)
    return replace(settings or FindingSettings(), hard_points=told) if told else settings

"""Which results rest on which constants, so that a caution names what matters to what is shown."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from frontcheck.caution import PROVENANCES

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from frontcheck.rules.ruleset import RuleSet

_UNCONFIRMED: Final = "from memory, unconfirmed"

CORNERS_BY_PLANE: Final = "bumper corners by the plane"
CORNERS_BY_GAUGE: Final = "bumper corners by the gauge"
_CORNERS: Final = "bumper corners"
_AREAS: Final = ("child headform area", "adult headform area")
_LINES: Final = ("UBRL", "LBRL", "BLERL", "BRRL", "SRL")

_FORMED_BY: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "bumper": ("UBRL", "LBRL", "WAD"),
        "ubrl": ("UBRL",),
        "lbrl": ("LBRL",),
        "blerl": ("BLERL",),
        "brrl": ("BRRL",),
        "srl": ("SRL",),
        "wad": ("WAD",),
        "open_end": _LINES,
        "windscreen": ("BRRL",),
        "bonnet_corner": ("rear corners",),
        "legform": ("legform",),
        "legform.flexible": ("findings", "limits of the text"),
        "limits": ("limits of the text",),
        "bumper_corner": (CORNERS_BY_GAUGE,),
        "bumper_corner.plane_deg": (CORNERS_BY_PLANE,),
        "bumper_corner.gauge": (_CORNERS,),
        "bumper_area": ("bumper test area",),
        "headform": ("findings",),
        "headform.area_offset_mm": _AREAS,
        "headform.windscreen": _AREAS,
        "headform.impact_offset_mm": ("impact points", "findings"),
        "headform.impact_apart_mm": ("impact points",),
        "child_area": _AREAS[:1],
        "adult_area": _AREAS[1:],
    }
)
"""What a table of constants forms, or one constant where it differs from its table."""

_RESTS_ON: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "BLERL": ("WAD",),
        "legform": ("LBRL",),
        CORNERS_BY_GAUGE: ("UBRL", "LBRL"),
        CORNERS_BY_PLANE: ("UBRL", "LBRL"),
        "bumper test area": (_CORNERS,),
        "thirds of the bumper": (_CORNERS, "UBRL", "LBRL"),
        "corner reference points": ("BLERL", "SRL"),
        "thirds of the leading edge": ("corner reference points",),
        "rear corners": ("BRRL", "SRL"),
        "thirds of the bonnet top": ("SRL", "corner reference points", "rear corners"),
        **dict.fromkeys(_AREAS, ("WAD", "BLERL", "BRRL", "SRL", "rear corners")),
        "impact points": _AREAS,
        "findings": (*_LINES, "WAD", "legform", "bumper test area", *_AREAS),
    }
)
"""What a result is made from, beside its own constants."""

_ONLY_UNDER: Final[Mapping[str, tuple[str, bool]]] = MappingProxyType(
    {
        "brrl.wad_cap_mm": ("brrl.cap_line", True),
        "bumper_area.beam_inboard_mm": ("bumper_area.beam_rule", True),
        "limits.tibia_bending_Nm": ("legform.flexible", True),
        "limits.tibia_bending_nominated_Nm": ("legform.flexible", True),
        "limits.nominated_width_mm": ("legform.flexible", True),
        "limits.mcl_mm": ("legform.flexible", True),
        "limits.acl_pcl_mm": ("legform.flexible", True),
        "limits.tibia_acceleration_g": ("legform.flexible", False),
        "limits.knee_bending_deg": ("legform.flexible", False),
        "limits.knee_shear_mm": ("legform.flexible", False),
    }
)
"""Constants that count only where a switch stands so."""


@dataclass(frozen=True)
class Unconfirmed:
    """A constant from memory, not confirmed, that a shown result depends on."""

    constant: str  # Its dotted name
    document: str  # Where it is said to be from
    used_by: tuple[str, ...]  # Results shown that rest on it


def unconfirmed(rules: RuleSet, shown: Collection[str]) -> tuple[Unconfirmed, ...]:
    """Return the unconfirmed constants that results of these names rest on."""
    found = []
    for constant in rules:
        if constant.provenance == _UNCONFIRMED:
            used = tuple(result for result in results_of(constant.name, rules) if result in shown)
            if used:
                found.append(Unconfirmed(constant.name, constant.document, used))
    return tuple(found)


def said_of(rules: RuleSet, unsure: Collection[Unconfirmed]) -> tuple[str, ...]:
    """Return what a reader of results has to know of their rule set."""
    count = Counter(constant.provenance for constant in rules)
    known = "; ".join(f"{count[word]} {word}" for word in PROVENANCES if count[word])
    said = [
        f"Rule set {rules.id}, {len(rules)} constants: {known}. See: frontcheck rules {rules.id}.",
        (
            "Reading of 'continuous or multiple contact' for BLERL, where no text gives a number: "
            f"within {rules.value('blerl.contact_tolerance_mm'):g} mm of the edge over more than "
            f"{rules.value('blerl.continuous_length_mm'):g} mm, or at two places more than "
            f"{rules.value('blerl.separate_touch_mm'):g} mm apart (own choice)."
        ),
    ]
    if unsure:
        named = "; ".join(f"{one.constant} ({', '.join(one.used_by)})" for one in unsure)
        said.append(f"Shown here, but resting on constants that are not confirmed: {named}.")
    return (rules.caution, *said) if rules.caution else tuple(said)


def results_of(name: str, rules: RuleSet) -> tuple[str, ...]:
    """Return the names of all results that rest on a constant, from the lines to the findings."""
    switch, wanted = _ONLY_UNDER.get(name, ("", True))
    if switch and rules.flag(switch) != wanted:
        return ()
    own = _FORMED_BY.get(name) or _FORMED_BY[name.partition(".")[0]]
    reached = dict.fromkeys(own)
    chosen = CORNERS_BY_GAUGE if rules.flag("bumper_corner.gauge") else CORNERS_BY_PLANE
    while True:
        # The corners that apply are those of one procedure.
        if chosen in reached:
            reached.setdefault(_CORNERS)
        more = [one for one, below in _RESTS_ON.items() if reached.keys() & set(below)]
        before = len(reached)
        reached |= dict.fromkeys(more)
        if len(reached) == before:
            return tuple(one for one in reached if one != _CORNERS)

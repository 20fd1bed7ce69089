"""Rules of the leg findings: what each code means, compares with and rests on."""

from __future__ import annotations

from typing import Final

from frontcheck.findings.finding import COMMON_PRACTICE, FindingRule
from frontcheck.legs.leg_order import LEG_CAUTION
from frontcheck.people.impactors import RIGID_LEGFORM, knee_rate_per_impulse

_MATSUI: Final = (
    "Matsui 2005: a higher bumper shifts injury from tibia and knee to femur; lower bumper "
    "height separates best"
)
_BAND: Final = f"{_MATSUI}. Height of the knee band: {COMMON_PRACTICE}"
_SUPPORT: Final = (
    "direction of effect of a lower support follows from the rigid legform's published data "
    f"(two hinged links, closed form). Threshold: {COMMON_PRACTICE}"
)
_LEGFORM: Final = "rule set used: legform by lower bumper height (UN GTR 9, UN R127)"
_STANDING: Final = (
    "The leg is an upright line at published heights, without shoes; stance, braking dive and "
    "the side from which the leg is struck are left out. "
)
_DEPTH: Final = (
    "Uniform foundation: pressure follows penetration at the depth set (60 mm by default). "
)
_AT_KNEE: Final = float(knee_rate_per_impulse(0.0))

KNEE_FIRST: Final = FindingRule(
    code="LEG-KNEE-FIRST",
    topic="leg",
    title="first touch at the knee",
    meaning=(
        "The foremost point within the height of the leg lies in a band around the person's "
        "knee, so the front meets the joint before shin or thigh."
    ),
    limits=_STANDING + "First touch is not first load: a soft skin may yield before it carries.",
    threshold=(-50.0, 50.0),
    unit="mm",
    comparison="within",
    source=_BAND,
    provenance="from memory",
)
THIGH_FIRST: Final = FindingRule(
    code="LEG-THIGH-FIRST",
    topic="leg",
    title="first touch on the thigh",
    meaning=(
        "The foremost point within the height of the leg lies above the band around the person's "
        "knee. A bumper this high for the person shifts load from the shin and knee to the thigh."
    ),
    limits=_STANDING + "First touch is not first load: a soft skin may yield before it carries.",
    threshold=50.0,
    unit="mm",
    comparison=">",
    source=_BAND,
    provenance="from memory",
)
KNEE_IN_BAND: Final = FindingRule(
    code="LEG-KNEE-IN-BAND",
    topic="leg",
    title="knee between the bumper reference lines",
    meaning=(
        "The person's knee stands between LBRL and UBRL, the lower and upper bumper reference "
        "lines, so the bumper faces the joint itself."
    ),
    limits=_STANDING + "The lines bound the bumper by leant edges; they say nothing of stiffness.",
    threshold=None,
    unit="mm",
    comparison="within",
    source=_MATSUI,
    provenance="from memory",
)
LOAD_AT_KNEE: Final = FindingRule(
    code="LEG-LOAD-AT-KNEE",
    topic="leg",
    title="resultant load at the knee",
    meaning=(
        "With the front pushed into the leg, the resultant of the contact pressure lies in a band "
        "around the person's knee. Value: its height above the knee."
    ),
    limits=f"{LEG_CAUTION} {_DEPTH}{_STANDING}",
    threshold=(-50.0, 50.0),
    unit="mm",
    comparison="within",
    source=_BAND,
    provenance="from memory",
)
LOAD_ABOVE_KNEE: Final = FindingRule(
    code="LEG-LOAD-ABOVE-KNEE",
    topic="leg",
    title="resultant load above the knee",
    meaning=(
        "With the front pushed into the leg, the resultant of the contact pressure lies above "
        "the band around the person's knee: the thigh carries it. Value: its height above the knee."
    ),
    limits=f"{LEG_CAUTION} {_DEPTH}{_STANDING}",
    threshold=50.0,
    unit="mm",
    comparison=">",
    source=_BAND,
    provenance="from memory",
)
FREE_SHIN: Final = FindingRule(
    code="LEG-FREE-SHIN",
    topic="leg",
    title="lower half of the shin left free",
    meaning=(
        "With the front pushed into the leg, nothing touches it below the middle between the "
        "person's ankle and knee. A shin without low support can swing under the front, and the "
        "knee opens more. Value: lowest height touched."
    ),
    limits=f"{LEG_CAUTION} {_DEPTH}{_STANDING}The foot's grip on the ground is left out.",
    threshold=None,
    unit="mm",
    comparison=">",
    source=_SUPPORT,
    provenance="from memory",
)
UNDERCUT: Final = FindingRule(
    code="LEG-UNDERCUT",
    topic="leg",
    title="lower lip behind the bumper",
    meaning=(
        "The lower lip stands behind the bumper, so the leg is met high first and the shin only "
        "later. Value: setback of the lip behind the bumper."
    ),
    limits="Which lip is stiff is not known; a stiff lip a little behind may still support early.",
    threshold=10.0,
    unit="mm",
    comparison=">",
    source=_SUPPORT,
    provenance="from memory",
)
LIP_AHEAD: Final = FindingRule(
    code="LEG-LIP-AHEAD",
    topic="leg",
    title="lower lip ahead of the bumper",
    meaning=(
        "The lower lip stands ahead of the bumper, so the shin is met first and low. That "
        "direction lessens opening of the knee and moves load to the shin. It tells how this "
        "front works, not that it is better. Value: how far the lip is ahead."
    ),
    limits="Which lip is stiff is not known; a soft lip ahead may carry little.",
    threshold=10.0,
    unit="mm",
    comparison=">",
    source=_SUPPORT,
    provenance="from memory",
)
OVERHANG: Final = FindingRule(
    code="LEG-OVERHANG",
    topic="leg",
    title="face leans forward of vertical",
    meaning=(
        "A higher part of the face stands ahead of a lower one, so an upright leg is met by the "
        "edge of the overhang and contact starts in a narrow band. Value: largest lean forward."
    ),
    limits="Shape only: what is behind the skin of the overhang is not known.",
    threshold=15.0,
    unit="mm",
    comparison=">",
    source=COMMON_PRACTICE,
    provenance="from memory, unconfirmed",
)
SPLIT_CONTACT: Final = FindingRule(
    code="LEG-SPLIT-CONTACT",
    topic="leg",
    title="leg first held at two places",
    meaning=(
        "Shortly after first touch (20 mm by default) the leg is touched in two separate bands "
        "with a free stretch between. Value: the free stretch. People named have "
        "their knee inside it."
    ),
    limits=f"{LEG_CAUTION} The free stretch closes as the front is pushed farther in.",
    threshold=50.0,
    unit="mm",
    comparison=">",
    source=COMMON_PRACTICE,
    provenance="from memory, unconfirmed",
)
SHORT_LEAD: Final = FindingRule(
    code="LEG-SHORT-LEAD",
    topic="leg",
    title="short bumper lead",
    meaning=(
        "The bonnet leading edge stands little behind the upper bumper reference line, so bumper "
        "and leading edge reach shin and thigh almost together. Value: bumper lead, x(BLERL) "
        "less x(UBRL)."
    ),
    limits="A short lead also spreads load over the leg; which matters more depends on stiffness.",
    threshold=100.0,
    unit="mm",
    comparison="<",
    source=f"bumper lead as in (EC) 631/2009 Annex Part I 2.4. Threshold: {COMMON_PRACTICE}",
    provenance="from memory, unconfirmed",
)
HIGH_BUMPER: Final = FindingRule(
    code="LEG-HIGH-BUMPER",
    topic="leg",
    title="bumper too high for the lower legform alone",
    meaning=(
        "The lower bumper height reaches the height from which the rules let the upper legform "
        "be used at the bumper. Value: lower bumper height, z(LBRL)."
    ),
    limits="Names the impactor that applies; it does not say how a test would end.",
    threshold=425.0,
    unit="mm",
    comparison=">=",
    source=f"{_LEGFORM}; {_MATSUI}",
    provenance="from memory",
)
LEGFORM_NEAR: Final = FindingRule(
    code="LEG-LEGFORM-NEAR",
    topic="leg",
    title="legform choice hangs on a few millimetres",
    meaning=(
        "The lower bumper height is so near one of the heights at which the legform changes that "
        "build tolerance or ride height decides which applies. Value: lower bumper height less "
        "that height."
    ),
    limits="The margin is a setting, to be set to the tolerance of the vehicle.",
    threshold=(-15.0, 15.0),
    unit="mm",
    comparison="within",
    source=f"{_LEGFORM}. Margin: {COMMON_PRACTICE}",
    provenance="from memory",
)
KNEE_OPENS: Final = FindingRule(
    code="LEG-KNEE-OPENS",
    topic="leg",
    title="load opens the knee of the legform",
    meaning=(
        "The load of the front pushed into the rigid legform, taken as an impulse, folds the two "
        "links around the front at more than half the rate of a blow at the knee: ends stay "
        "behind, and the knee opens on the far side. Value: opening rate per unit impulse."
    ),
    limits=f"{LEG_CAUTION} {_DEPTH}The hinge is free: the knee's own stiffness is left out.",
    threshold=0.5 * _AT_KNEE,
    unit="rad/s per N s",
    comparison=">",
    source=f"data of the {RIGID_LEGFORM.source}, as two hinged links. Share: {COMMON_PRACTICE}",
    provenance="from memory",
)
KNEE_CLOSES: Final = FindingRule(
    code="LEG-KNEE-CLOSES",
    topic="leg",
    title="load folds the knee of the legform the other way",
    meaning=(
        "The load of the front pushed into the rigid legform, taken as an impulse, drives the "
        "foot end ahead of the knee. Value: opening rate per unit impulse, negative when it "
        "closes; the threshold is a fifth of the rate of a blow at the knee."
    ),
    limits=f"{LEG_CAUTION} {_DEPTH}The hinge is free: the knee's own stiffness is left out.",
    threshold=-0.2 * _AT_KNEE,
    unit="rad/s per N s",
    comparison="<",
    source=f"data of the {RIGID_LEGFORM.source}, as two hinged links. Share: {COMMON_PRACTICE}",
    provenance="from memory",
)

LEG_RULES: Final = (
    KNEE_FIRST,
    THIGH_FIRST,
    KNEE_IN_BAND,
    LOAD_AT_KNEE,
    LOAD_ABOVE_KNEE,
    FREE_SHIN,
    UNDERCUT,
    LIP_AHEAD,
    OVERHANG,
    SPLIT_CONTACT,
    SHORT_LEAD,
    HIGH_BUMPER,
    LEGFORM_NEAR,
    KNEE_OPENS,
    KNEE_CLOSES,
)
"""All leg rules, from contact to load."""

"""Rules of the head findings: what each code means, compares with and rests on."""

from __future__ import annotations

from typing import Final

from frontcheck.findings.finding import COMMON_PRACTICE, FindingRule

_DIRECTIONS: Final = (
    "directions of impact of the rule set (UN GTR 9, UN R127: child headform 50 deg, adult 65 deg "
    f"to the horizontal); threshold: {COMMON_PRACTICE}"
)
_AREAS: Final = f"headform areas of the rule set (UN GTR 9, UN R127); threshold: {COMMON_PRACTICE}"
_HIC: Final = (
    "closed form from the definition of the head injury criterion (HIC) in UN GTR 9 and UN R127: "
    "depth v^2 / (2 a g) with a = (HIC g / v)^(2/3) for a constant pulse, 75 % of it for any pulse"
)
_SKIN_ONLY: Final = (
    "The shape alone is known: what lies under the skin, and how it gives way, is not. "
)
_GRID: Final = (
    "Read at the grid of candidate points; what lies between two of them may differ. Distances "
    "are taken in the plane of y and wrap-around distance, in which surface that falls away to the "
    "side comes out a little short. "
)
_DEPTH: Final = (
    "The skin is taken to give way without resistance and the hard point not at all; real ones do "
    "neither. Whatever else is under the skin and is not listed as a hard point is not seen. The "
    "headform is reckoned by the spot that touches first; on a strongly curved skin its flank may "
    "reach the point a little earlier. "
)

NEAR_NORMAL: Final = FindingRule(
    code="HEAD-NEAR-NORMAL",
    topic="head",
    title="headform meets the skin nearly square",
    meaning=(
        "The travel of the headform lies close to the normal of the surface, so that almost its "
        "whole speed goes into the skin and little is turned aside. Value: angle between travel "
        "and inward normal."
    ),
    limits=_SKIN_ONLY + _GRID,
    threshold=15.0,
    unit="deg",
    comparison="<=",
    source=_DIRECTIONS,
    provenance="from memory",
)
GLANCING: Final = FindingRule(
    code="HEAD-GLANCING",
    topic="head",
    title="headform grazes the skin",
    meaning=(
        "The travel of the headform lies far from the normal of the surface, as where the skin "
        "falls away rearward or to the side: the headform may slide on and meet something else, "
        "so that the point does not stand for what is struck in the end. Value: angle between "
        "travel and inward normal."
    ),
    limits=_SKIN_ONLY + _GRID,
    threshold=60.0,
    unit="deg",
    comparison=">=",
    source=_DIRECTIONS,
    provenance="from memory",
)


def _near(name: str, words: str, under: str) -> FindingRule:
    return FindingRule(
        code=f"HEAD-NEAR-{name}",
        topic="head",
        title=f"grid points near the {words}",
        meaning=(
            f"Points of a headform area lie close to the {words} ({name}), where {under} are "
            "often found under the skin. Value: least distance from a grid point to the line."
        ),
        limits=_SKIN_ONLY + _GRID + "Area borders keep one headform radius from the line anyhow.",
        threshold=165.0,
        unit="mm",
        comparison="<",
        source=_AREAS,
        provenance="from memory",
    )


NEAR_BLERL: Final = _near(
    "BLERL", "bonnet leading edge reference line", "latch, upper cross member and lamp mountings"
)
NEAR_BRRL: Final = _near(
    "BRRL", "bonnet rear reference line", "hinges, wiper spindles and the edge of the scuttle"
)
NEAR_SRL: Final = _near("SRL", "side reference line", "wing flanges, hinges and strut towers")

SHARP_BEND: Final = FindingRule(
    code="HEAD-SHARP-BEND",
    topic="head",
    title="skin bent sharply where a headform may reach",
    meaning=(
        "The skin turns, over a stated length, with a smaller radius than the headform has: it "
        "meets an edge and not a surface. Bent sheet is stiff along the bend. Value: length "
        "over turn, the radius of the bend over that length. Looked for in the headform areas and "
        "one headform radius beyond their borders."
    ),
    limits=(
        _SKIN_ONLY
        + "Bends in the side section only. A bend between two measured points shows only "
        "as far as they stand close; a lone crease counts over the stated length."
    ),
    threshold=82.5,
    unit="mm",
    comparison="<",
    source=f"radius of the headform of the rule set; that it is the limit: {COMMON_PRACTICE}",
    provenance="from memory",
)
WAD_1000_AHEAD: Final = FindingRule(
    code="HEAD-WAD1000-AHEAD",
    topic="head",
    title="WAD 1000 ahead of the leading edge",
    meaning=(
        "The mark at which the child headform area begins by wrap-around distance (WAD 1000) lies "
        "on the face, ahead of BLERL (bonnet leading edge reference line). A child's head at that "
        "distance meets the face, while the area begins behind the leading edge. Value: "
        "wrap-around distance of BLERL."
    ),
    limits=_SKIN_ONLY + "Wrap-around distance stands for where a head lands; it is not a path.",
    threshold=1000.0,
    unit="mm",
    comparison=">",
    source="child headform area of the rule set (UN GTR 9, UN R127)",
    provenance="from memory",
)
COWL_INSIDE: Final = FindingRule(
    code="HEAD-COWL-INSIDE",
    topic="head",
    title="cowl inside a headform area",
    meaning=(
        "Surface labelled cowl lies inside a headform area. Scuttle, wiper drive and the lower "
        "edge of the windscreen stand close under it. Value: length of it in the section. (The "
        "windscreen itself cannot lie inside: the area ends ahead of BRRL, the bonnet rear "
        "reference line; see GAP-REAR-OF-HEAD.)"
    ),
    limits=_SKIN_ONLY + "Needs part labels; without them nothing can be found.",
    threshold=0.0,
    unit="mm",
    comparison=">",
    source=COMMON_PRACTICE,
    provenance="from memory",
)
DEPTH_BELOW_BOUND: Final = FindingRule(
    code="HEAD-DEPTH-BELOW-BOUND",
    topic="head",
    title="free depth below the least that any pulse needs",
    meaning=(
        "Between skin and hard point there is less depth along the headform's travel than any "
        "course of deceleration needs to stop it from the test speed within the HIC named: the "
        "hard point itself would have to give way. Value: free depth along the travel."
    ),
    limits=_DEPTH,
    threshold=None,
    unit="mm",
    comparison="<",
    source=_HIC,
    provenance="from memory",
)
DEPTH_BELOW_SQUARE: Final = FindingRule(
    code="HEAD-DEPTH-BELOW-SQUARE",
    topic="head",
    title="free depth below that of a constant pulse",
    meaning=(
        "Between skin and hard point there is enough depth along the headform's travel for the "
        "best possible course of deceleration, but not for a constant one: it would have to be "
        "hardest at first touch, which skins hardly are. Value: free depth along the travel."
    ),
    limits=_DEPTH,
    threshold=None,
    unit="mm",
    comparison="within",
    source=_HIC,
    provenance="from memory",
)
HARD_POINT_OUTSIDE: Final = FindingRule(
    code="HEAD-HARD-POINT-OUTSIDE",
    topic="head",
    title="hard point not under the skin",
    meaning=(
        "A hard point of the list stands on the air side of the skin, so the headform meets it "
        "first, or its place or datum is wrong. Value: distance from the skin."
    ),
    limits="Check the axes and the datum of the list before anything else.",
    threshold=0.0,
    unit="mm",
    comparison=">=",
    source=COMMON_PRACTICE,
    provenance="from memory",
)

HEAD_RULES: Final = (
    NEAR_NORMAL,
    GLANCING,
    NEAR_BLERL,
    NEAR_BRRL,
    NEAR_SRL,
    SHARP_BEND,
    WAD_1000_AHEAD,
    COWL_INSIDE,
    DEPTH_BELOW_BOUND,
    DEPTH_BELOW_SQUARE,
    HARD_POINT_OUTSIDE,
)
"""Rules of the head findings."""

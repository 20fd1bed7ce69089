"""What a measuring sheet says: how to measure, what to write, what to beware of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from frontcheck.reading.form import Worksheet
    from frontcheck.rules.ruleset import RuleSet

BEWARE: Final = (
    "Level, firm ground. Parking brake on, chocks before and behind a wheel.",
    (
        "Ignition off, key away from the car, and wait until its systems sleep: no active bonnet "
        "and no bumper sensor must be able to trigger. Do not knock or lean on the front."
    ),
    (
        "Never under a vehicle on a jack: use rated stands. Reach the underside from in front, "
        "the car on its wheels."
    ),
    "Edges may be sharp and parts hot: wear gloves, let the car cool.",
    "The string is a trip hazard: mark it and keep people away.",
)
"""Cautions, one a sentence or two."""

WRITE: Final = {
    "Height": (
        "above the ground, of the point touched. The printed heights are a guide: set another "
        "where a lip, an edge or a hollow asks for it, strike the printed one out and write yours."
    ),
    "Setback": (
        "horizontal gap from the string (the edge of the square) to the skin, positive "
        "rearward. A row without a setback counts as not measured."
    ),
    "Part": (
        "tick one in every row; a point without a part is entered as - in the file. Without "
        "windscreen points the bonnet rear line cannot be formed; without bumper points any point "
        "counts as bumper."
    ),
    "Uncertainty": (
        "standard uncertainty of a height and of a setback: measure one point ten times, "
        "setting the square anew, and write the standard deviation. Leave it blank rather than "
        "guess."
    ),
    "Datum": (
        "common: one string line, untouched, for all stations, as the file says already. Where "
        "the square was set anew at each station, change the file to local; lines that need the "
        "plan shape are then refused."
    ),
    "Symmetric": ("yes: the half that was measured is mirrored. Check left against right first."),
}
"""What goes into each field."""

PART_WORDS: Final = {
    "underside": "below the bumper, facing the ground",
    "bumper": "cover with its lips and recesses",
    "grille": "openings and their bars",
    "lamp": "lamp glass and its rim",
    "bonnet": "lid over the front, with its leading edge",
    "cowl": "hollow before the windscreen, wipers off",
    "windscreen": "glass and its frame",
    "trim": "strips, badges, plates",
}
"""The parts of `frontcheck.surface.section.PARTS` in plain words."""

LINE_WORDS: Final = {
    "UBRL": "upper bumper reference line (UBRL)",
    "LBRL": "lower bumper reference line (LBRL)",
    "BLERL": "bonnet leading edge reference line (BLERL)",
}
"""The lines that are checked, spelled out."""

ATTITUDE: Final = (
    "Wheel arch: height of its edge above the ground, straight above the wheel centre. Normal ride "
    "attitude: running order, tyres as specified, a person of 75 kg on each front seat. The file "
    "takes the mean of left and right. Slope of the ground in the file [deg]: 57.3 rise / length."
)
"""How the vehicle stands: Directive 2005/66/EC, 1.2 (text read), suspension setting aside."""


def steps(sheet: Worksheet) -> tuple[str, ...]:
    """Return how to measure, step by step."""
    fine = "1/32 in" if sheet.unit == "in" else "1 mm"
    return (
        (
            "Stand the car on level ground (check with the level, along and across), tyres at "
            "their pressures, wheels straight, everything shut, wipers off. Write the wheel-arch "
            "heights down."
        ),
        (
            "Stretch the string level across the front between two stands, clear of the car and "
            "square to it (distances a equal). Leave it untouched until the last station: it is "
            "the datum."
        ),
        (
            "Mark the stations on the car with masking tape: distance from the centre plane, "
            "positive to the vehicle's right."
        ),
        (
            "At a station, stand the square on the ground in line with the car, its upright plumb "
            "and its edge just touching the string."
        ),
        (
            "Row by row: set the arm to the height, level, push it back to the skin, read the "
            f"setback to {fine}. Do not press the skin in."
        ),
        (
            "Follow the surface from the underside up. Add rows at the lowest and the foremost "
            "points, at every lip and in every recess: lines touch there."
        ),
        "On the bonnet heights are no guide: write both, read with level and rule.",
        "Tick the part in every row. Measure the checks of page 2 before the string comes down.",
        "Type the rows into worksheet.csv, in this order, and run: frontcheck screen worksheet.csv",
    )


def edge_words(rules: RuleSet) -> dict[str, str]:
    """Return how a straight edge is held to check the height of a line."""

    def value(name: str) -> str:
        return f"{rules.value(name):g}"

    return {
        "UBRL": f"edge of {value('ubrl.edge_length_mm')} mm, foot on the ground, leant "
        f"{value('ubrl.lean_deg')} deg rearward: highest touch on the bumper",
        "LBRL": f"edge of {value('lbrl.edge_length_mm')} mm, foot on the ground, leant "
        f"{value('lbrl.lean_deg')} deg forward: lowest touch",
        "BLERL": f"edge of {value('blerl.edge_length_mm')} mm, lower end at "
        f"{value('blerl.foot_height_mm')} mm, leant {value('blerl.lean_deg')} deg rearward: touch",
    }

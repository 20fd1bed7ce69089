"""Figures of a published study of crashes, for those who ask.

W. Hu, S. S. Monfort and J. B. Cicchino, The association between passenger-vehicle front-end
profiles and pedestrian injury severity in motor vehicle crashes, Journal of Safety Research 90,
115-127, 2024 (title, volume and pages from memory).

Limits and risk figures as in the paper's summary, entered from memory: leading edge up to 762 mm
(30 in) low, up to 1016 mm (40 in) medium, above tall; face over 65 deg blunt; bonnet up to 15 deg
flat. They are of groups of crashes, so that no finding and no line of an answer cites them.
"""

from __future__ import annotations

import re

from checks import Check, Source

from frontcheck import read_front, screen
from frontcheck.findings.explanations import studies
from frontcheck.findings.finding_rules import RULES

PAPER = Source(
    "The association between passenger-vehicle front-end profiles and pedestrian injury severity "
    "in motor vehicle crashes, Journal of Safety Research 90, 115-127",
    author="W. Hu, S. S. Monfort and J. B. Cicchino",
    year="2024",
    where="summary",
    known="memory",
)
CLASSES = Check(
    "crash-study-classes",
    kind="published value",
    quantity="limits of low and medium leading edges, 30 and 40 in",
    unit="mm",
    source=PAPER,
    why="the inch is 25.4 mm: rounding of doubles",
)
ANGLES = Check(
    "crash-study-angles",
    kind="published value",
    quantity="limits of blunt faces and flat bonnets",
    unit="deg",
    source=PAPER,
    why="entered from memory of the paper",
)


def test_figures_are_those_of_the_paper() -> None:
    study = studies()["front-classes"]
    # The inch is 25.4 mm: 30 in and 40 in.
    limits = study["low_up_to_mm"], study["medium_up_to_mm"]
    CLASSES.compare((30 * 25.4, 40 * 25.4), limits, tolerance=1e-6)
    ANGLES.compare((65.0, 15.0), (study["blunt_above_deg"], study["flat_up_to_deg"]), tolerance=0)
    # Not on the page of checks: figures of groups of crashes are for those who ask.
    assert study["fatality_risk_higher_percent"] == {
        "tall, blunt": 43.6, "tall, sloped": 45.4, "medium, blunt": 25.6, "flat bonnet": 25.1
    }  # fmt: skip
    assert "not a prediction" in " ".join(study["conditions"].split())


def test_no_finding_and_no_answer_cites_a_risk(geometries) -> None:
    risk = re.compile(r"fatality|\brisk\b")
    for rule in RULES.values():
        assert not risk.search(f"{rule.meaning} {rule.limits} {rule.title}"), rule.code
    result = screen(read_front(geometries / "plover.csv"))
    assert not risk.search(str(result.to_dict()["findings"]) + str(result.to_dict()["answer"]))

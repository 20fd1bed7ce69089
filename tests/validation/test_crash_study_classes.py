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

import pytest

from frontcheck import read_front, screen
from frontcheck.findings.explanations import studies
from frontcheck.findings.finding_rules import RULES


def test_figures_are_those_of_the_paper() -> None:
    study = studies()["front-classes"]
    # The inch is 25.4 mm: 30 in and 40 in.
    limits = study["low_up_to_mm"], study["medium_up_to_mm"]
    assert limits == pytest.approx((30 * 25.4, 40 * 25.4))
    assert (study["blunt_above_deg"], study["flat_up_to_deg"]) == (65.0, 15.0)
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

"""Where what was measured on the car does not agree with itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.findings.finding import Finding, FindingRule, Region
from frontcheck.sure.closure import CLOSURE_THRESHOLD

if TYPE_CHECKING:
    from frontcheck.sure.closure import Closure, ClosureReport

__all__ = ["CLOSURE_RULE", "MEASUREMENT_RULES", "closure_findings"]

CLOSURE_RULE: Final = FindingRule(
    code="MEASUREMENT-CLOSURE",
    topic="measurement",
    title="a check on the car disagrees with the offsets",
    meaning=(
        "A length or height that was measured on the car a second way lies farther from what the "
        "offsets give than their combined uncertainty allows. Either reading may be wrong: a "
        "row misread, a row left out, a square that leant, or the check itself."
    ),
    limits=(
        "Agreement does not show that the offsets are right: a check sees only the rows it rests "
        "on. An uncertainty stated too small makes sound measurements disagree; one time in "
        "twenty they do so by chance."
    ),
    threshold=CLOSURE_THRESHOLD,
    unit="combined standard uncertainties",
    comparison=">",
    source="JCGM 100:2008 (GUM), coverage factor 2 for a level of about 95 %",
    provenance="from memory",
)
"""The rule behind `closure_findings`."""

MEASUREMENT_RULES: Final = (CLOSURE_RULE,)
"""All rules of this topic."""


def closure_findings(report: ClosureReport) -> tuple[Finding, ...]:
    """Findings of the checks that disagree with the offsets."""
    found = (_closure_finding(each) for each in report.closures)
    return tuple(finding for finding in found if finding is not None)


def _closure_finding(closure: Closure) -> Finding | None:
    check, computed_mm, combined_u_mm = (
        closure.check,
        closure.computed_mm,
        closure.combined_u_mm,
    )
    if computed_mm is None or not combined_u_mm:
        return None
    normalised = abs(check.measured_mm - computed_mm) / combined_u_mm
    limit = CLOSURE_THRESHOLD
    if normalised <= limit:
        return None
    return Finding(
        rule=CLOSURE_RULE,
        region=Region(check.name),
        station=check.station,
        value=normalised,
        message=(
            f"{check.name} at y = {check.station:g} mm: {check.measured_mm:g} mm measured, "
            f"{computed_mm:.1f} mm from the offsets, {normalised:.1f} times their combined "
            f"standard uncertainty of {combined_u_mm:.1f} mm apart; more than {limit:g} times "
            "asks for a second look at both."
        ),
        settled_by=f"measuring station y = {check.station:g} mm and the check again",
    )

"""What was measured twice agrees, or is found not to."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from finding_sides import check_sides

from frontcheck.errors import InputError
from frontcheck.findings.catalogue import closure_findings
from frontcheck.front.front import Front
from frontcheck.front.survey import ArchHeights, MeasuredCheck, Survey
from frontcheck.sure.closure import closure
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.section import Section

# Corners so sharp that no contact can move to another row; see test_linear_propagation.
NOSE = np.array([[300.0, 250.0], [40.0, 300.0], [0.0, 480.0], [160.0, 760.0], [1300.0, 930.0]])
HEIGHT_U, SETBACK_U = 2.0, 1.5


def front(*checks: MeasuredCheck, **more: object) -> Front:
    n = len(NOSE)
    section = Section(NOSE, 0.0, height_u=np.full(n, HEIGHT_U), setback_u=np.full(n, SETBACK_U))
    return Front((section,), survey=Survey(checks=checks), **more)


def edge(measured: float, u: float = 3.0, line: str = "LBRL") -> MeasuredCheck:
    return MeasuredCheck("edge", 0.0, measured, u, line=line)


def tape(measured: float, row: int, u: float = 3.0) -> MeasuredCheck:
    return MeasuredCheck("tape", 0.0, measured, u, row=row)


def tape_length(row: int) -> float:
    """Up to the foremost corner (row 3), then over the corners."""
    legs = np.hypot(*np.diff(NOSE[2:row], axis=0).T)
    return 480.0 + float(legs.sum())


@pytest.mark.parametrize(("line", "row"), [("LBRL", 1), ("BLERL", 3)])
def test_height_of_a_touched_edge(line: str, row: int) -> None:
    """The edge touches one corner: its height, with the uncertainty of that row."""
    (found,) = closure(front(edge(NOSE[row, 1] + 4.0, line=line))).closures
    assert found.computed_mm == NOSE[row, 1]
    # Standard error of a standard deviation from 2000 draws: 1.6 %, four of them.
    assert found.computed_u_mm == pytest.approx(HEIGHT_U, rel=0.065)
    assert found.combined_u_mm == pytest.approx(math.hypot(HEIGHT_U, 3.0), rel=0.03)
    assert found.normalised == pytest.approx(4.0 / found.combined_u_mm, abs=1e-12)
    assert found.verdict == "agree"


@pytest.mark.parametrize("row", [3, 4, 5])
def test_tape_to_a_row(row: int) -> None:
    (found,) = closure(front(tape(tape_length(row), row))).closures
    assert found.computed_mm == pytest.approx(tape_length(row), abs=1e-9)
    # Every end of a leg pulls along the leg; independent rows add in squares (GUM 5.1.2).
    points = NOSE[2:row]
    pulls = np.zeros_like(points)
    for i, (a, b) in enumerate(zip(points, points[1:], strict=False)):
        along = (b - a) / np.hypot(*(b - a))
        pulls[i] -= along
        pulls[i + 1] += along
    pulls[0] += [0.0, 1.0]
    expected = math.sqrt(float((pulls**2 @ [SETBACK_U**2, HEIGHT_U**2]).sum()))
    assert found.computed_u_mm == pytest.approx(expected, rel=4.0 / math.sqrt(800.0))


def test_agreement_and_disagreement_are_found() -> None:
    u = math.hypot(HEIGHT_U, 3.0)
    near, far = closure(front(edge(300.0 + 1.8 * u))), closure(front(edge(300.0 - 2.3 * u)))
    assert near.agree
    assert not far.agree
    assert far.closures[0].verdict == "disagree"
    (finding,) = check_sides("MEASUREMENT-CLOSURE", closure_findings(far), closure_findings(near))
    assert finding.station == 0.0
    assert finding.value == pytest.approx(2.3, rel=0.05)
    assert "LBRL height at y = 0 mm" in finding.message
    assert "300.0 mm from the offsets" in finding.message


def test_a_row_misread_by_a_hand_is_noticed() -> None:
    """The tape to the bonnet was 1290 mm; row 4 was then written 100 mm too low."""
    right = front(tape(tape_length(5), 5))
    assert closure(right).agree
    wrong = right.sections[0].points.copy()
    wrong[3, 1] -= 100.0
    section = Section(
        wrong, 0.0, height_u=right.sections[0].height_u, setback_u=right.sections[0].setback_u
    )
    assert not closure(replace(right, sections=(section,))).agree


def test_the_car_is_compared_as_it_stood() -> None:
    """Arch heights and the uncertainty of the attitude change nothing; slope and tilt do."""
    check = edge(300.0)
    plain = closure(front(check)).closures[0]
    arches = ArchHeights(650.0, 650.0, 600.0, 600.0, 2500.0, 750.0)
    loaded = replace(front(check), survey=Survey(arches=arches, checks=(check,)))
    settings = Uncertainty(ride_height_u_mm=50.0, pitch_u_deg=2.0)
    assert closure(loaded, settings=settings).closures[0] == plain
    sloping = front(check, ground_slope_deg=1.0)
    turned = 300.0 * math.cos(math.radians(1.0)) - 40.0 * math.sin(math.radians(1.0))
    assert closure(sloping).closures[0].computed_mm == pytest.approx(turned, abs=1e-9)


def test_a_line_that_is_not_there_is_said() -> None:
    section = Section(NOSE[:3], 0.0, height_u=np.ones(3), setback_u=np.ones(3))
    low = Front((section,), survey=Survey(checks=(edge(700.0, line="BLERL"),)))
    report = closure(low)
    (found,) = report.closures
    assert found.verdict == "not_available"
    assert found.computed_mm is None
    assert "reach" in found.reason
    assert not report.agree
    assert closure_findings(report) == ()
    assert report.to_dict()["checks"][0]["reason"] == found.reason


def test_same_seed_same_report() -> None:
    checked = front(edge(310.0), tape(1000.0, 5))
    assert closure(checked, seed=3).to_dict() == closure(checked, seed=3).to_dict()
    frame = closure(checked).to_frame()
    assert list(frame["check"]) == ["LBRL height", "tape to row 5"]


def test_no_checks_agree() -> None:
    assert closure(front()).agree
    assert closure(front()).closures == ()


def test_checks_of_what_was_not_measured_are_refused() -> None:
    elsewhere = MeasuredCheck("edge", 99.0, 300.0, 1.0, line="LBRL", source_row=7)
    with pytest.raises(InputError, match=r"row 7: .*station 99 mm"):
        closure(front(elsewhere))
    with pytest.raises(InputError, match=r"row 6 at station 0 mm; expected .* 1 to 5"):
        closure(front(tape(1000.0, 6)))


def test_nothing_unsure_is_refused() -> None:
    bare = Front((Section(NOSE, 0.0),), survey=Survey(checks=(edge(300.0, 0.0),)))
    with pytest.raises(InputError, match="without any uncertainty"):
        closure(bare)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"kind": "edge", "line": "BRRL"}, "check of line 'BRRL'"),
        ({"kind": "tape", "row": None}, "check of row None"),
        ({"kind": "tape", "row": 0}, "check of row 0"),
        ({"kind": "edge", "line": "LBRL", "measured_mm": -1.0}, "measured value -1"),
        ({"kind": "edge", "line": "LBRL", "u_mm": float("nan")}, "uncertainty value nan"),
    ],
)
def test_impossible_checks_are_refused(given: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        MeasuredCheck(**({"station": 0.0, "measured_mm": 300.0, "u_mm": 1.0} | given))

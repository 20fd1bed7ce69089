"""Classes of Hu, Monfort & Cicchino, Journal of Safety Research 2024.

Limits and risk figures as in the paper's summary: leading edge up to 762 mm (30 in) low, up to
1016 mm (40 in) medium, above tall; face over 65 deg blunt; bonnet up to 15 deg flat. Entered
from memory. The angle construction is ours and stated in the rule's limits; on noses with
straight faces every construction gives the same angle, which is what is checked here.
"""

from __future__ import annotations

import math

import pytest
from corner_fronts import corner_nose, lined
from finding_sides import check_sides

from frontcheck.findings.body import (
    CLASS_RULES,
    class_findings,
    face_angle_deg,
    front_class,
)
from frontcheck.surface.section import Section


def findings(height: float, face: float = 60.0, bonnet: float = 16.0):
    return class_findings(lined(corner_nose(height, face_deg=face, bonnet_deg=bonnet)))


@pytest.mark.parametrize(
    ("height", "expected"),
    [(761.9, "low"), (762.0, "low"), (762.1, "medium"), (1015.9, "medium"), (1016.1, "tall")],
)
def test_height_class(height: float, expected: str) -> None:
    # The inch is 25.4 mm: 30 in and 40 in.
    assert pytest.approx(762.0) == 30 * 25.4
    assert front_class(lined(corner_nose(height))).height == expected


@pytest.mark.parametrize("face", [50.0, 60.0, 66.0, 69.0])
def test_face_angle_of_a_straight_face_is_its_slope(face: float) -> None:
    # Below 70 deg the 20 deg edge touches the foot of the face: UBRL is (0, 300), BLERL the corner.
    front = lined(corner_nose(800.0, face_deg=face))
    assert face_angle_deg(front.stations[0]) == pytest.approx(face, abs=1e-9)
    assert front_class(front).whole_face_angle_deg == pytest.approx(face, abs=1e-9)


def test_upright_and_overhung_faces_are_blunt() -> None:
    assert face_angle_deg(lined(corner_nose(800.0)).stations[0]) == pytest.approx(90.0)
    overhung = lined(corner_nose(800.0, face_deg=100.0, chin=300.0))
    assert face_angle_deg(overhung.stations[0]) == pytest.approx(100.0)
    assert front_class(overhung).face == "blunt"


def test_height_findings_on_both_sides() -> None:
    check_sides("BODY-CLASS-MEDIUM", findings(763.0), findings(761.0))
    check_sides("BODY-CLASS-MEDIUM", findings(1015.0), findings(1017.0))
    check_sides("BODY-CLASS-TALL", findings(1017.0), findings(1015.0))


def test_face_finding_on_both_sides() -> None:
    check_sides("BODY-CLASS-BLUNT", findings(800.0, face=65.1), findings(800.0, face=64.9))


def test_bonnet_finding_on_both_sides() -> None:
    check_sides("BODY-CLASS-FLAT", findings(800.0, bonnet=14.9), findings(800.0, bonnet=15.1))


@pytest.mark.parametrize(
    ("height", "face", "percent"),
    [
        (1100.0, 80.0, 43.6),
        (1100.0, 60.0, 45.4),
        (900.0, 80.0, 25.6),
        (900.0, 60.0, None),
        (700.0, 80.0, None),
        (700.0, 60.0, None),
    ],
)
def test_risk_figures_of_the_study(height: float, face: float, percent: float | None) -> None:
    found = front_class(lined(corner_nose(height, face_deg=face)))
    assert found.higher_risk_percent == percent
    if percent is not None and height > 762.0:
        texts = [f.message for f in findings(height, face=face) if "Leading edge" in f.message]
        assert len(texts) == 1
        assert f"{percent:g} % above low and sloped" in texts[0]
        assert "in that study's population" in texts[0]


def test_flat_bonnet_figure() -> None:
    (found,) = [f for f in findings(700.0, bonnet=10.0) if f.code == "BODY-CLASS-FLAT"]
    assert "25.1 % above" in found.message


def test_baseline_gives_no_finding() -> None:
    assert findings(700.0, face=60.0, bonnet=20.0) == ()


def test_classes_are_taken_nearest_the_centre_plane() -> None:
    front = lined(
        corner_nose(1100.0, y=-400.0), corner_nose(800.0, y=-50.0), corner_nose(1100.0, y=100.0)
    )
    assert front_class(front).station == -50.0
    assert front_class(front).height == "medium"


def test_constructions_that_disagree_are_told() -> None:
    # Upright bumper up to the lip at (0, 560), then a sloped grille up to (340, 1030).
    points = [(500, 150), (0, 200), (0, 560), (340, 1030), (1500, 1250), (2000, 1600)]
    front = lined(Section(points))
    station = front.stations[0]
    assert (station.UBRL.x, station.UBRL.z) == pytest.approx((0.0, 560.0))
    assert (station.BLERL.x, station.BLERL.z) == pytest.approx((340.0, 1030.0))
    found = front_class(front)
    assert found.face_angle_deg == pytest.approx(math.degrees(math.atan2(470.0, 340.0)))
    assert found.whole_face_angle_deg == pytest.approx(math.degrees(math.atan2(830.0, 340.0)))
    assert found.face_angle_deg < 65.0 < found.whole_face_angle_deg
    (tall,) = [f for f in class_findings(front) if f.code == "BODY-CLASS-TALL"]
    assert "45.4 %" in tall.message
    assert "54.1 deg) but blunt over its whole height (67.7 deg)" in tall.message


def test_limits_say_statistics_and_whose_construction() -> None:
    for rule in CLASS_RULES:
        assert "construction was not read; this one is ours" in rule.limits
        assert "not a prediction for this shape" in rule.limits

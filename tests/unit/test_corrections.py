"""Known errors taken out of a measurement: closed forms, and what is shown before and after."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.front.survey import ArchHeights, Survey, turned, untilted
from frontcheck.lines.lined_front import line_up
from frontcheck.sure.corrections import arch_motion, corrected
from frontcheck.surface.section import Section

TRUE = np.array(
    [[350.0, 220.0], [30.0, 260.0], [0.0, 420.0], [60.0, 700.0], [180.0, 800.0], [1300.0, 950.0]]
)


def front_of(points: np.ndarray, **more: object) -> Front:
    sections = (Section(points, 0.0), Section(points + np.array([25.0, 5.0]), 400.0))
    return Front(sections, **more)


def arches(**more: float) -> ArchHeights:
    given = {
        "front_measured_mm": 650.0,
        "rear_measured_mm": 660.0,
        "front_normal_mm": 632.0,
        "rear_normal_mm": 630.0,
        "wheelbase_mm": 2500.0,
        "front_axle_mm": 750.0,
    }
    return ArchHeights(**(given | more))


# --- square ----------------------------------------------------------------------------------


@pytest.mark.parametrize("tilt", [0.4, -1.2])
def test_leaning_square_by_trigonometry(tilt: float) -> None:
    """A level reading s at mark h of an upright that leans by t: x = s + h sin t, z = h cos t."""
    t = math.radians(tilt)
    marks = TRUE[:, 1] / math.cos(t)
    readings = TRUE[:, 0] - marks * math.sin(t)
    read = np.stack([readings, marks], axis=1)
    assert untilted(read, tilt) == pytest.approx(TRUE, abs=1e-9)
    sections = (Section(read, 0.0),)
    front, report = corrected(Front(sections, survey=Survey(square_tilt_deg=tilt)))
    assert front.sections[0].points == pytest.approx(TRUE, abs=1e-9)
    assert front.survey.square_tilt_deg == 0.0
    (correction,) = report.corrections
    assert correction.name == "square tilt"
    assert correction.largest_x_mm == pytest.approx(abs(math.tan(t)) * 950.0, abs=1e-9)
    assert ("rearward" in correction.message) == (tilt > 0.0)


# --- ground ----------------------------------------------------------------------------------


@pytest.mark.parametrize("slope", [0.8, -0.5])
def test_sloping_ground_by_trigonometry(slope: float) -> None:
    """On ground rising rearward by a, plumb readings of a point are x cos a - z sin a and so on."""
    a = math.radians(slope)
    read = np.stack(
        [
            TRUE[:, 0] * math.cos(a) - TRUE[:, 1] * math.sin(a),
            TRUE[:, 0] * math.sin(a) + TRUE[:, 1] * math.cos(a),
        ],
        axis=1,
    )
    front, report = corrected(Front((Section(read, 0.0),), ground_slope_deg=slope))
    assert front.sections[0].points == pytest.approx(TRUE, abs=1e-9)
    assert front.ground_slope_deg == 0.0
    assert report.corrections[0].name == "ground slope"
    assert ("rose" in report.corrections[0].message) == (slope > 0.0)


def test_the_ground_itself_comes_out_level() -> None:
    """A point of the ground at level distance s stands s tan a above the foot of the square."""
    a = math.radians(1.5)
    ground = np.array([[s, s * math.tan(a)] for s in (0.0, 500.0, 2500.0)])
    assert turned(ground, 1.5)[:, 1] == pytest.approx(0.0, abs=1e-9)
    assert turned(ground, 1.5)[:, 0] == pytest.approx(ground[:, 0] / math.cos(a), abs=1e-9)


# --- attitude --------------------------------------------------------------------------------


def at_arches(given: ArchHeights) -> np.ndarray:
    return np.array(
        [
            [given.front_axle_mm, given.front_measured_mm],
            [given.front_axle_mm + given.wheelbase_mm, given.rear_measured_mm],
        ]
    )


@pytest.mark.parametrize(
    "given",
    [
        arches(),
        arches(front_normal_mm=650.0, rear_normal_mm=560.0),
        arches(front_normal_mm=500.0, rear_normal_mm=510.0),
    ],
    ids=["loaded", "rear only", "sunk level"],
)
def test_arches_come_to_their_heights(given: ArchHeights) -> None:
    angle, pivot, lift = arch_motion(given)
    moved = turned(at_arches(given), angle, pivot) + np.array([0.0, lift])
    assert moved[:, 1] == pytest.approx([given.front_normal_mm, given.rear_normal_mm], abs=1e-9)
    assert moved[0, 0] == given.front_axle_mm
    # Rigid: the distance between the arches stays.
    before = np.hypot(*np.diff(at_arches(given), axis=0)[0])
    assert np.hypot(*np.diff(moved, axis=0)[0]) == pytest.approx(before, abs=1e-9)


def test_sunk_level_is_a_plain_shift() -> None:
    given = arches(front_normal_mm=600.0, rear_normal_mm=610.0)
    front, _ = corrected(front_of(TRUE, survey=Survey(arches=given)))
    assert front.sections[0].points == pytest.approx(TRUE - [0.0, 50.0], abs=1e-9)
    assert front.survey.arches is None


def test_loaded_rear_lifts_the_nose() -> None:
    """Rear 90 mm lower over 2500 mm: ahead of the axle the nose rises in proportion."""
    given = arches(
        front_measured_mm=650.0, rear_measured_mm=650.0, front_normal_mm=650.0, rear_normal_mm=560.0
    )
    front, report = corrected(front_of(TRUE, survey=Survey(arches=given)))
    rise = front.sections[0].points[2] - TRUE[2]
    assert rise[1] == pytest.approx(750.0 * 90.0 / 2500.0, rel=0.02)
    assert "front up" in report.corrections[0].message


def test_shape_stays_in_every_rigid_correction() -> None:
    front, _ = corrected(front_of(TRUE, ground_slope_deg=0.7, survey=Survey(arches=arches())))
    for old, new in zip(front_of(TRUE).sections, front.sections, strict=True):
        before = np.linalg.norm(old.points[:, None] - old.points[None], axis=-1)
        after = np.linalg.norm(new.points[:, None] - new.points[None], axis=-1)
        assert after == pytest.approx(before, abs=1e-9)


# --- what is shown -----------------------------------------------------------------------------


def test_each_correction_is_shown_before_and_after() -> None:
    survey = Survey(square_tilt_deg=0.3, arches=arches())
    measured = front_of(TRUE, ground_slope_deg=0.5, survey=survey)
    front, report = corrected(measured, "UN-GTR9")
    names = [correction.name for correction in report.corrections]
    assert names == ["square tilt", "ground slope", "ride attitude"]
    first, last = report.corrections[0].moves, report.corrections[-1].moves
    before = line_up(measured, "UN-GTR9").stations[1].LBRL.z
    after = line_up(front, "UN-GTR9").stations[1].LBRL.z
    wanted = (400.0, "LBRL_z_mm")
    assert [m.before for m in first if (m.station, m.quantity) == wanted] == [before]
    assert [m.after for m in last if (m.station, m.quantity) == wanted] == [after]
    # Each starts where the one before ended.
    for one, two in zip(report.corrections, report.corrections[1:], strict=False):
        assert [m.after for m in one.moves] == [m.before for m in two.moves]
    assert list(front.reader_notes) == [c.message for c in report.corrections]
    missing = [m for m in first if m.quantity == "BRRL_z_mm"]
    assert all((m.before, m.after, m.move) == (None, None, None) for m in missing)
    frame = report.to_frame()
    assert len(frame) == sum(len(c.moves) for c in report.corrections)
    assert len(report.to_dict()["lines"]) == len(frame)


def test_nothing_to_correct_changes_nothing() -> None:
    measured = front_of(TRUE)
    front, report = corrected(measured)
    assert front is measured
    assert report.corrections == ()
    assert len(report.to_frame()) == 0


def test_parts_rows_and_uncertainty_go_along() -> None:
    section = Section(
        TRUE, 0.0, ["underside", *["bumper"] * 3, "bonnet", "bonnet"], np.full(6, 2.0),
        np.full(6, 1.0), range(10, 16),
    )  # fmt: skip
    front, _ = corrected(Front((section,), ground_slope_deg=0.4))
    (new,) = front.sections
    assert new.parts == section.parts
    assert new.rows == section.rows
    assert new.height_u.tolist() == [2.0] * 6


def test_below_the_ground_is_refused() -> None:
    low = TRUE - [0.0, 215.0]
    given = arches(front_normal_mm=600.0, rear_normal_mm=610.0)
    section = Section(low, 0.0, rows=range(20, 26))
    with pytest.raises(InputError) as refused:
        corrected(Front((section,), survey=Survey(arches=given)))
    said = str(refused.value)
    assert said.startswith("row 20: found height -45 mm, below the ground, at station 0 mm after")
    assert "ride attitude" in said


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"wheelbase_mm": 0.0}, "wheelbase 0 mm"),
        ({"front_normal_mm": -5.0}, "front arch, normal -5 mm"),
        ({"rear_normal_mm": float("nan")}, "rear arch, normal nan mm"),
        ({"rear_normal_mm": 66.0}, "rear arch heights 594 mm apart"),
        ({"front_axle_mm": float("inf")}, "front axle at inf mm"),
    ],
)
def test_impossible_arches_are_refused(change: dict[str, float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        arches(**change)


def test_corrections_do_not_touch_the_front_given() -> None:
    measured = front_of(TRUE, ground_slope_deg=0.5)
    copy = replace(measured)
    corrected(measured)
    assert measured == copy

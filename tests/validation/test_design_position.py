"""A front brought to its design position by its primary reference marks.

Source: UN R127 02 series, 2.31 (text read): where the marks are within 25 mm of their design
heights the design position counts, and the vehicle or the measurements are adjusted to it. What
adjusts them is a motion of the rigid body in the side view; here it is a turn of the complex plane.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import ezdxf
import numpy as np
import pytest
from checks import Check, Source, derived
from click.testing import CliRunner
from scipy.optimize import minimize_scalar

from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.front.attitude import adjusted, as_stood, design_attitude
from frontcheck.front.front import Front
from frontcheck.front.survey import ArchHeights, MeasuredCheck, ReferenceMark, Survey
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.sure.closure import closure
from frontcheck.sure.corrections import corrected
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from pathlib import Path

BACK = Check(
    "design-position-back",
    kind="closed form",
    quantity="points of a front turned and lowered, brought back by its reference marks",
    unit="mm",
    source=derived("a turn of the complex plane; UN R127.02, 2.31 (text read)"),
    why="rounding of doubles only",
)
NEAREST = Check(
    "design-position-many-marks",
    kind="independent method",
    quantity="pitch that brings four marks nearest to their design heights",
    unit="rad",
    source=Source("scipy.optimize.minimize_scalar", known="derived"),
    why="as fine as the search finds a flat minimum",
)

DESIGN = np.array(
    [[350.0, 220.0], [30.0, 260.0], [0.0, 420.0], [60.0, 700.0], [180.0, 800.0], [1300.0, 950.0]]
)
PLACES = [("sill, front hole", 1250.0 + 310.0j), ("sill, rear hole", 3020.0 + 295.0j)]


def displaced(points: np.ndarray, pitch_deg: float, lift: float) -> np.ndarray:
    """Where points stood whose car must be turned by a pitch, front up, and lifted."""
    back = (points[:, 0] + 1j * (points[:, 1] - lift)) * cmath.exp(1j * math.radians(pitch_deg))
    return np.stack([back.real, back.imag], axis=1)


def marks_of(pitch_deg: float, lift: float, places=PLACES) -> tuple[ReferenceMark, ...]:
    found = []
    for name, design in places:
        ((x, z),) = displaced(np.array([[design.real, design.imag]]), pitch_deg, lift)
        found.append(ReferenceMark(name, x, z, design.imag))
    return tuple(found)


def shifted(k: int) -> np.ndarray:
    return DESIGN + np.array([25.0, 5.0]) * k


def measured(pitch_deg: float, lift: float, **more) -> Front:
    sections = tuple(Section(displaced(shifted(k), pitch_deg, lift), 400.0 * k) for k in (0, 1))
    return Front(sections, survey=Survey(marks=marks_of(pitch_deg, lift)), **more)


@pytest.mark.parametrize(("pitch", "lift"), [(0.3, 4.0), (-0.25, -9.5), (0.0, 7.0), (0.01, 0.0)])
def test_a_front_turned_and_lowered_comes_back(pitch: float, lift: float) -> None:
    front = adjusted(measured(pitch, lift))
    for k, section in enumerate(front.sections):
        BACK.compare(shifted(k), section.points, tolerance=1e-9)
    assert front.attitude.basis == "primary reference marks"
    assert front.attitude.pitch_deg == pytest.approx(pitch, rel=0, abs=1e-12)
    assert front.attitude.lift_mm == pytest.approx(lift, rel=0, abs=1e-9)
    back = as_stood(front)
    for one, two in zip(back.sections, measured(pitch, lift).sections, strict=True):
        assert one.points == pytest.approx(two.points, rel=0, abs=1e-9)
    assert (back.reader_notes, back.attitude.basis) == ((), "as measured")


def test_many_marks_are_met_as_nearly_as_can_be() -> None:
    """Against a search over pitch alone: for any pitch the mean of what is left is the lift."""
    marks = (
        ReferenceMark("a", 200.0, 318.0, 300.0),
        ReferenceMark("b", 900.0, 296.0, 305.0),
        ReferenceMark("c", 2400.0, 333.0, 310.0),
        ReferenceMark("d", 3700.0, 281.0, 300.0),
    )

    def left(angle: float) -> np.ndarray:
        turned = np.array(
            [((m.x_mm + 1j * m.measured_mm) * cmath.exp(-1j * angle)).imag for m in marks]
        )
        over = turned - [m.design_mm for m in marks]
        return over - over.mean()

    best = minimize_scalar(
        lambda a: float(np.sum(left(a) ** 2)), bounds=(-0.1, 0.1), options={"xatol": 1e-12}
    )
    found = design_attitude(marks)
    NEAREST.compare(best.x, math.radians(found.pitch_deg), tolerance=1e-8)
    heights = found.of(np.array([(m.x_mm, m.measured_mm) for m in marks]))[:, 1]
    off = heights - [m.design_mm for m in marks]
    assert np.sum(off**2) <= best.fun * (1 + 1e-12)
    assert off.mean() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("places", [PLACES[:1], [PLACES[0], ("beside it", 1300.0 + 300.0j)]])
def test_one_mark_or_marks_close_together_give_the_height_only(places) -> None:
    marks = tuple(replace(m, measured_mm=m.measured_mm + 6.0) for m in marks_of(0.0, 0.0, places))
    front = adjusted(Front((Section(DESIGN, 0.0),), survey=Survey(marks=marks)))
    assert front.sections[0].points == pytest.approx(DESIGN - [0.0, 6.0], rel=0, abs=1e-12)
    assert front.reader_notes[-1].endswith("They give no pitch.")


# --- read from files ----------------------------------------------------------------------------

ROWS = "station_mm,height_mm,setback_mm\n" + "".join(
    f"{y},{z:.12g},{x:.12g}\n" for y in (0, 400) for x, z in DESIGN
)


def table(folder: Path, *marks: str, keys: str = "") -> Path:
    path = folder / "front.csv"
    lines = ["# name: Plover", "# datum: common", "# symmetric: no", *keys.splitlines()]
    lines += [f"# mark_{i}: {mark}" for i, mark in enumerate(marks, start=1)]
    path.write_text("\n".join(lines) + "\n" + ROWS)
    return path


@pytest.mark.parametrize("off", ["325 mm", "27.5 cm", "0.325 m"])
def test_25_mm_is_within_25_mm(off: str, tmp_path) -> None:
    front = read_front(table(tmp_path, f"sill at 1250 mm: {off}, design 300 mm"))
    assert abs(front.attitude.lift_mm) == pytest.approx(25.0, rel=0, abs=1e-12)
    (note,) = [note for note in front.reader_notes if "2.31" in note]
    assert "sill" in note
    assert "25.00 mm" in note


def test_marks_farther_off_are_refused_by_name(tmp_path) -> None:
    path = table(
        tmp_path,
        "sill, front hole at 1250 mm: 310 mm, design 305 mm",
        "jig point 2.5 at -12 mm: 325.1 mm, design 300 mm",
        "tow eye at 30 mm: 270 mm, design 300 mm",
    )
    run = CliRunner().invoke(main, ["screen", str(path)])
    assert run.exit_code == 2
    place = "front.csv, row 5, column mark_2: "
    assert f"{place}found jig point 2.5 at 325.1 mm, 25.1 mm above its design" in run.output
    assert "tow eye at 270 mm, 30 mm below" in run.output
    assert "sill, front hole" not in run.output
    assert "correct the attitude of the vehicle" in run.output
    assert "Traceback" not in run.output


def test_the_document_tells_what_was_done(tmp_path) -> None:
    front = read_front(
        table(
            tmp_path,
            "sill, front hole at 1250 mm: 316 mm, design 310 mm",
            "sill, rear hole at 3020 mm: 288 mm, design 295 mm",
        )
    )
    document = screen(front).to_dict(lines_only=True)
    attitude = document["settings"]["attitude"]
    assert attitude["basis"] == "primary reference marks"
    # 13 mm over 1770 mm, front down: small angles, so to a few parts in 10,000.
    assert attitude["pitch_deg"] == pytest.approx(-math.degrees(13.0 / 1770.0), rel=1e-3)
    assert any("2.31" in note for note in document["input"]["notes"])
    assert not any("normal ride attitude" in text for text in document["assumed"])
    plain = screen(read_front(table(tmp_path))).to_dict(lines_only=True)
    assert plain["settings"]["attitude"]["basis"] == "as measured"
    assert any("normal ride attitude" in text for text in plain["assumed"])


def test_a_drawing_states_marks_among_its_properties(tmp_path) -> None:
    drawing = ezdxf.new(units=4)
    turned = displaced(DESIGN, 0.2, 3.0)
    for layer in ("Y0", "Y400"):
        drawing.layers.add(layer)
        drawing.modelspace().add_lwpolyline(turned, dxfattribs={"layer": layer})
    for i, mark in enumerate(marks_of(0.2, 3.0), start=1):
        drawing.header.custom_vars.append(
            f"mark_{i}",
            f"{mark.name} at {mark.x_mm:.12f} mm: {mark.measured_mm:.12f} mm, "
            f"design {mark.design_mm:.12f} mm",
        )
    drawing.saveas(tmp_path / "front.dxf")
    front = read_front(tmp_path / "front.dxf", ground=0.0)
    for section in front.sections:
        assert section.points == pytest.approx(DESIGN, rel=0, abs=1e-9)
    drawing.header.custom_vars.replace("mark_1", "sill at 20 mm: 400 mm, design 300 mm")
    drawing.saveas(tmp_path / "off.dxf")
    with pytest.raises(InputError, match=r"off\.dxf, column mark_1: found sill at 400 mm, 100 mm"):
        read_front(tmp_path / "off.dxf")


@pytest.mark.parametrize(
    ("mark", "words"),
    [
        ("sill at 1250: 312 mm, design 305 mm", "its name, setback"),
        ("sill at 1250 mm: 312 mm", "design 305 mm'"),
        ("1250 mm: 312 mm, design 305 mm", "its name, setback"),
        ("sill at 1250 mm: -312 mm, design 305 mm", "sill with measured height -312 mm"),
        ("sill at 1250 mm: 312 mm, design -5 mm", "sill with design height -5 mm"),
    ],
)
def test_a_mark_that_cannot_be_read_is_refused_with_its_row(mark, words, tmp_path) -> None:
    with pytest.raises(InputError, match=r"row 4, column mark_1: ") as refused:
        read_front(table(tmp_path, mark))
    assert words in str(refused.value)


def test_marks_and_arches_do_not_both_move_a_front(tmp_path) -> None:
    arches = ArchHeights(650.0, 660.0, 632.0, 630.0, 2500.0, 750.0)
    with pytest.raises(InputError, match="each says by itself"):
        Survey(marks=marks_of(0.2, 3.0), arches=arches)
    keys = (
        "# arch_front_measured: 650 mm\n# arch_rear_measured: 660 mm\n"
        "# arch_front_normal: 632 mm\n# arch_rear_normal: 630 mm\n"
        "# wheelbase: 2500 mm\n# front_axle: 750 mm"
    )
    path = table(tmp_path, "sill at 1250 mm: 312 mm, design 305 mm", keys=keys)
    with pytest.raises(InputError, match=r"row 10, column mark_1: found primary reference marks"):
        read_front(path)


def test_marks_turn_nothing_that_has_no_common_datum() -> None:
    with pytest.raises(InputError, match="datum: common"):
        adjusted(measured(0.2, 3.0, datum="local"))
    front = measured(0.0, 3.0, datum="local")
    one = replace(front, survey=Survey(marks=front.survey.marks[:1]))
    assert adjusted(one).sections[0].points == pytest.approx(DESIGN, rel=0, abs=1e-9)


# --- beside the other corrections ---------------------------------------------------------------


def test_sloping_ground_is_taken_out_once_and_the_design_position_reached_once() -> None:
    """Levelled first, as the marks stand above the ground: then turned by what the marks say."""
    slope, pitch, lift = 0.7, 0.2, 3.0
    stood = displaced(DESIGN, pitch, lift)
    # Plumb readings on ground that rises rearward: the body turned front down by the slope.
    read = displaced(stood, slope, 0.0)
    front = Front(
        (Section(read, 0.0),),
        ground_slope_deg=slope,
        survey=Survey(marks=marks_of(pitch, lift)),
        reader_notes=("A note.",),
    )
    on_reading = adjusted(front)
    for given in (front, on_reading):
        level, report = corrected(given)
        assert [each.name for each in report.corrections] == ["ground slope", "design position"]
        assert level.sections[0].points == pytest.approx(DESIGN, rel=0, abs=1e-9)
        assert sum("2.31" in note for note in level.reader_notes) == 1
        again, nothing = corrected(level)
        assert again is level
        assert nothing.corrections == ()


def test_with_nothing_else_to_take_out_the_front_stays_as_it_was_read() -> None:
    front = adjusted(measured(0.2, 3.0))
    same, report = corrected(front)
    assert same is front
    assert report.corrections == ()


def test_checks_on_the_car_are_held_against_the_car_as_it_stood() -> None:
    front = measured(0.3, 8.0)
    (height,) = [screen(front).station(0.0).UBRL.z]
    check = MeasuredCheck("edge", 0.0, height, 1.0, line="UBRL")
    told = replace(front, survey=replace(front.survey, checks=(check,)))
    (one,) = closure(adjusted(told), draws=100).closures
    assert one.computed_mm == pytest.approx(height, rel=0, abs=1e-9)
    assert one.verdict == "agree"


def test_marks_of_a_front_made_in_memory_are_not_passed_over_in_silence() -> None:
    front = measured(0.3, 8.0)
    said = "Primary reference marks are stated; the offsets are used as measured."
    assert said in " ".join(screen(front).cautions)
    moved, report = corrected(front)
    assert [each.name for each in report.corrections] == ["design position"]
    assert moved.sections[0].points == pytest.approx(DESIGN, rel=0, abs=1e-9)
    assert said not in " ".join(screen(moved).cautions)

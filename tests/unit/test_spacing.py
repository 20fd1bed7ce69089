"""How far a line could move between the rows: bounds hold on curves that are known."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.reading.readers import read_front
from frontcheck.sure.spacing import caps, spacing
from frontcheck.surface.section import Section

RULES = "UN-R127-02"


def two_arcs(step_deg: float, offset_deg: float) -> Section:
    """Arcs (80, 450) R 80 and (330, 640) R 180, bonnet 10 deg; rows every `step_deg`."""

    def arc(x: float, z: float, radius: float, low: float, high: float) -> np.ndarray:
        lean = np.radians(np.arange(low + offset_deg, high, step_deg))
        return np.stack([x - radius * np.cos(lean), z + radius * np.sin(lean)], axis=1)

    lower, upper = arc(80.0, 450.0, 80.0, -85.0, 60.0), arc(330.0, 640.0, 180.0, 36.0, 80.0)
    # The bonnet touches the second arc at 80 deg; a row there, so that the arc is whole.
    lean = math.radians(80.0)
    touch = np.array([330.0 - 180.0 * math.cos(lean), 640.0 + 180.0 * math.sin(lean)])
    rear = touch + 1500.0 * np.array([math.cos(math.radians(10)), math.sin(math.radians(10))])
    return Section(np.concatenate([lower, upper, [touch, rear]]))


# Contacts on the arcs themselves and marks of a tape over them: derived in
# tests/validation/test_two_arcs.py.
TRUE = {
    "UBRL": (4.824590, 477.361611),
    "LBRL": (7.495377, 416.190539),
    "BLERL": (214.298230, 777.888000),
    "WAD 1000": (358.517902, 827.805266),
    "WAD 1700": (1047.883329, 949.358990),
}


@pytest.mark.parametrize("offset", [0.0, 2.0, 5.0, 9.0, 11.0])
@pytest.mark.parametrize("step", [6.0, 12.0])
def test_true_line_of_a_curve_lies_within_the_bounds(step: float, offset: float) -> None:
    """The curve between the rows is convex, so the assumption holds and so must the bound."""
    report = spacing(Front((two_arcs(step, offset),)), RULES, (1000.0, 1700.0))
    found = {gap.line: gap for gap in report.gaps}
    for name, (x, z) in TRUE.items():
        gap = found[name]
        # 2e-6: the check values are printed to six places. For a tape the arc between the two
        # arcs (concave there) is bridged, so only what is convex counts.
        assert gap.x_low - 2e-6 <= x <= gap.x_high + 2e-6, name
        assert gap.z_low - 0.2 <= z <= gap.z_high + 0.2, name
        if not name.startswith("WAD"):
            assert gap.z_low - 2e-6 <= z <= gap.z_high + 2e-6, name
        assert gap.x_low <= gap.x <= gap.x_high
        assert gap.z_low <= gap.z <= gap.z_high


def test_bounds_shrink_with_the_rows() -> None:
    """A contact may lie anywhere within a chord or so: half the step, about half the bound."""

    def moves(step: float) -> dict[str, float]:
        report = spacing(Front((two_arcs(step, 1.0),)), RULES, (1700.0,))
        return {gap.line: gap.move_mm for gap in report.gaps}

    coarse, fine = moves(12.0), moves(3.0)
    for line in ("UBRL", "LBRL", "BLERL"):
        assert fine[line] < 0.5 * coarse[line], line
    assert fine["WAD 1700"] < 0.2 * coarse["WAD 1700"]  # swells go with the square of the step


def test_caps_of_a_circle_are_its_tangents_or_more() -> None:
    """Rows on a circle, step s: the worst cap has angles s at its foot, the tangents s / 2."""
    step = 10.0
    lean = np.radians(np.arange(-60.0, 61.0, step))
    points = np.stack([-100.0 * np.cos(lean), 300.0 + 100.0 * np.sin(lean)], axis=1)
    chord = 2.0 * 100.0 * math.sin(math.radians(step / 2.0))
    middle = (points[:-1] + points[1:]) / 2.0
    height = np.hypot(*(caps(points) - middle).T)
    assert height == pytest.approx(chord / 2.0 * math.tan(math.radians(step)), abs=1e-9)
    outward = np.hypot(*(caps(points) - [0.0, 300.0]).T)
    assert (outward > 100.0).all()


def test_caps_are_flat_where_the_contour_turns_inward_or_not_at_all() -> None:
    straight = np.array([[0.0, 100.0], [0.0, 200.0], [0.0, 300.0], [0.0, 400.0]])
    assert caps(straight) == pytest.approx((straight[:-1] + straight[1:]) / 2.0, abs=1e-12)
    hollow = np.array([[0.0, 100.0], [50.0, 200.0], [50.0, 300.0], [0.0, 400.0]])
    assert caps(hollow) == pytest.approx((hollow[:-1] + hollow[1:]) / 2.0, abs=1e-12)


def test_no_side_of_a_cap_is_steeper_than_60_deg() -> None:
    corner = np.array([[500.0, 100.0], [0.0, 100.0], [0.0, 300.0], [500.0, 300.0]])
    assert caps(corner)[1] == pytest.approx([-100.0 * math.tan(math.radians(60.0)), 200.0])


def test_rows_to_add_bring_the_line_within_the_limit() -> None:
    """Measured on the curve itself at the heights asked for, the line is then close enough."""
    front = Front((two_arcs(12.0, 1.0),))
    limit = 8.0
    report = spacing(front, RULES, (), limit_mm=limit)
    (gap,) = [gap for gap in report.too_wide if gap.line == "LBRL"]
    assert gap.add
    section = front.sections[0]
    for _ in range(3):  # new rows make new, smaller gaps
        (gap,) = [
            g
            for g in spacing(Front((section,)), RULES, (), limit_mm=limit).gaps
            if g.line == "LBRL"
        ]
        if gap.close_enough:
            break
        new = [[80.0 - math.sqrt(80.0**2 - (z - 450.0) ** 2), z] for z, _ in gap.add]
        points = np.concatenate([section.points, new])
        low = points[points[:, 1] < 450.0]
        rest = section.points[section.points[:, 1] >= 450.0]
        section = Section(np.concatenate([low[np.argsort(low[:, 1])], rest]))
    assert gap.close_enough
    assert report.heights_to_add(0.0) == tuple(sorted(set(report.heights_to_add(0.0))))


def test_close_rows_need_no_others() -> None:
    report = spacing(Front((two_arcs(3.0, 1.0),)), RULES, (1000.0,))
    assert report.too_wide == ()
    assert report.heights_to_add(0.0) == ()
    assert [name for _, name in report.not_formed] == ["BRRL"]


def test_edges_count_labelled_bumper_points_only(geometries: Path) -> None:
    """Bounds of UBRL stay on the bumper where it is labelled, as the line does."""
    front = read_front(geometries / "plover.csv")
    report = spacing(front, RULES, ())
    for gap in report.gaps:
        if gap.line == "UBRL":
            section = front.section(gap.station)
            top = section.z[section.part_mask("bumper", "grille", "trim")].max()
            assert gap.z_high <= top + 1e-6


def test_lines_are_those_of_a_screening(geometries: Path) -> None:
    front = read_front(geometries / "avocet.csv")
    lined = line_up(front, RULES)
    report = spacing(front, RULES)
    for gap in report.gaps:
        station = lined.station(gap.station)
        point = next(p for p in (*station.lines, *station.wads) if p.name == gap.line)
        assert (gap.x, gap.z) == (point.x, point.z)
        assert gap.add == () or not gap.close_enough
    assert len(report.gaps) == len(front.sections) * 8
    assert len(report.to_frame()) == len(report.gaps)
    assert json.dumps(report.to_dict(), allow_nan=False)


@pytest.mark.parametrize("limit", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_limits_are_refused(limit: float) -> None:
    with pytest.raises(InputError, match="a limit of"):
        spacing(Front((two_arcs(12.0, 0.0),)), RULES, limit_mm=limit)

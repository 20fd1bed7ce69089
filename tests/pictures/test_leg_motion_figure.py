"""The leg motion figure: stiffness first, what the runs gave, no limits, nothing overlaps."""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import pytest
from figure_words import said, words
from matplotlib.lines import Line2D

from frontcheck.caution import CAUTION_SHORT, LEG_CAUTION
from frontcheck.legs import dynamics
from frontcheck.legs.dynamics import LegRun, RunSettings, run_legform
from frontcheck.legs.faced import face_of
from frontcheck.legs.leg_order import compared
from frontcheck.outputs.figures.leg_motion_figure import leg_motion_figure, step_at
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.people.impactors import FLEXIBLE_LEGFORM, RIGID_LEGFORM
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import PARTS

NAMES = ("Plover", "Avocet")
LIMITED = RunSettings(rotation_limit_deg=22.0)
"""Avocet's rigid legform tips beyond that, Plover's does not."""


@pytest.fixture(scope="module")
def sections(root):
    fronts = [read_front(root / "geometries" / f"{name.lower()}.csv") for name in NAMES]
    return {y: tuple(front.section(y) for front in fronts) for y in (0.0, 500.0, 760.0)}


@pytest.fixture(scope="module")
def runs(sections) -> dict[float, tuple[LegRun, ...]]:
    return {
        y: tuple(run_legform(s, legform=FLEXIBLE_LEGFORM) for s in both)
        for y, both in sections.items()
    }


def curves(figure) -> list[Line2D]:
    return [line for line in figure.findobj(Line2D) if line.get_gid() == "curve"]


def separate(figure) -> None:
    """No text overlaps another or leaves the figure."""
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in words(figure)]
    assert len(boxes) > 12
    for (a, first), (b, second) in combinations(boxes, 2):
        assert not first.overlaps(second), (a, b)
    for text, box in boxes:
        assert box.x0 >= 0.0, text
        assert box.y0 >= 0.0, text
        assert box.x1 <= figure.bbox.x1, text
        assert box.y1 <= figure.bbox.y1, text
    # Nor do the statements run into the small drawings.
    below = next(t for t in words(figure) if t.get_gid() == "statements")
    top = below.get_window_extent(renderer).y1
    assert top < min(ax.get_window_extent(renderer).y0 for ax in figure.axes if not ax.axison)


@pytest.mark.parametrize("y", [0.0, 500.0, 760.0])
@pytest.mark.parametrize("chosen", [(0,), (1,), (0, 1), (1, 0)])
def test_texts_neither_overlap_nor_leave_the_figure(y, chosen, sections, runs) -> None:
    figure = leg_motion_figure(
        [NAMES[i] for i in chosen], [sections[y][i] for i in chosen], [runs[y][i] for i in chosen]
    )
    separate(figure)


_UNMET = ("windscreen", "pillar", "ignore")
"""Parts that no legform gets to."""


def test_long_names_and_many_assumptions_fit(sections) -> None:
    settings = RunSettings(parts=tuple((part, 0.123) for part in PARTS if part not in _UNMET))
    both = [run_legform(section, settings) for section in sections[760.0]]
    separate(leg_motion_figure(["W" * 80, "M" * 80], sections[760.0], both))


def test_stiffness_is_said_first_and_the_caution_stands(sections, runs) -> None:
    figure = leg_motion_figure(NAMES, sections[0.0], runs[0.0])
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    highest = max(words(figure), key=lambda t: t.get_window_extent(renderer).y1)
    assert highest.get_text() == LEG_CAUTION
    assert LEG_CAUTION.startswith("Stiffness not known")
    assert CAUTION_SHORT in said(figure)
    assert "station 0 mm" in said(figure)


@pytest.mark.parametrize("y", [0.0, 500.0])
def test_curves_are_shares_of_the_peak_of_the_first(y, sections, runs) -> None:
    drawn = curves(leg_motion_figure(NAMES, sections[y], runs[y]))
    wanted = []
    for values in (
        lambda run: run.knee_angle,
        lambda run: run.knee_shear,
        lambda run: run.tibia_bending[:, np.abs(run.tibia_bending).max(axis=0).argmax()],
    ):
        peak = np.abs(values(runs[y][0])).max()
        wanted += [(run, values(run) / peak) for run in runs[y]]
    assert len(drawn) == len(wanted)
    for i, (line, (run, values)) in enumerate(zip(drawn, wanted, strict=True)):
        assert np.array_equal(line.get_xdata(), run.time)
        assert np.allclose(line.get_ydata(), values, rtol=1e-12)
        assert (line.get_linestyle() == "-") == (i % 2 == 0)  # the first front unbroken


def test_the_rigid_legform_has_no_bending_to_draw(sections) -> None:
    run = run_legform(sections[0.0][0])
    figure = leg_motion_figure(NAMES[:1], sections[0.0][:1], [run])
    separate(figure)
    assert len(curves(figure)) == 2
    assert "rigid legform at station" in said(figure)


def test_no_level_but_zero_is_drawn(sections, runs) -> None:
    """A level line would read as a limit (170 g, 19 deg, 6 mm are such)."""
    figure = leg_motion_figure(NAMES, sections[0.0], runs[0.0])
    panels = [ax for ax in figure.axes if ax.axison]
    assert len(panels) == 3
    for ax in panels:
        assert not ax.patches
        assert not ax.collections
        level = [
            float(line.get_ydata()[0]) for line in ax.lines
            if np.ptp(line.get_ydata()) == 0.0 and line.get_gid() is None
        ]  # fmt: skip
        assert level == [0.0]


def test_statements_equal_the_results(sections, runs) -> None:
    both = runs[0.0]
    faces = tuple(face_of(section, FLEXIBLE_LEGFORM) for section in sections[0.0])
    order, _ = compared(NAMES, faces, FLEXIBLE_LEGFORM, RunSettings(), draws=8)
    figure = leg_motion_figure(NAMES, sections[0.0], both, order)
    separate(figure)
    text = said(figure)
    assert order.sentence in text
    error = f"{both[0].energy_error:.1e}"
    assert f"Plover: followed for 50 ms; largest imbalance of energy {error} of the start." in text
    assert "Avocet: ended early: a rotation reached 60 deg" in text
    alone = said(leg_motion_figure(NAMES[:1], sections[0.0][:1], both[:1]))
    assert " less " not in alone
    # No absolute value of the model stands anywhere.
    assert not re.search(r"\d (g|Nm|N m)\b", text)


@pytest.mark.parametrize("front", [0, 1])
def test_sticks_stand_where_the_run_says(front: int, sections) -> None:
    """Read back from the drawing: the knee angle, and the energy in the skin by quadrature.

    Energy of a uniform skin is half its stiffness times penetration squared over height.
    """
    section = sections[0.0][front]
    run = run_legform(section, legform=RIGID_LEGFORM)
    figure = leg_motion_figure(NAMES[front : front + 1], [section], [run])
    cells = [ax for ax in figure.axes if not ax.axison]
    assert len(cells) == 5
    for ax in cells:
        moment = float(ax.get_title().removesuffix(" ms"))
        step = step_at(run, moment)
        assert step is not None
        assert run.time[step] == pytest.approx(moment)
        links = {line.get_gid(): line.get_xydata() for line in ax.lines}
        femur, tibia = links["femur link"], links["tibia link"]
        slopes = [float(np.diff(x)[0] / np.diff(z)[0]) for x, z in (femur.T, tibia.T)]
        assert np.degrees(slopes[0] - slopes[1]) == pytest.approx(run.knee_angle[step], abs=1e-5)
        energy = 0.0
        for knee, end in (femur, tibia):
            z = np.linspace(knee[1], end[1], 20001)
            x = np.linspace(knee[0], end[0], 20001)
            pressed = np.clip(x - np.ma.filled(section.setback_at(z), np.inf), 0.0, None)
            energy += 0.5 * 0.3 * abs(float(np.trapezoid(pressed**2, z))) / 1e3  # N mm to J
        # The rest is in the knee: 2918 N m/rad and 600 N/mm.
        knee = 0.5 * 2918.0 * np.radians(run.knee_angle[step]) ** 2
        knee += 0.5 * 600.0 * run.knee_shear[step] ** 2 / 1e3
        assert energy + knee == pytest.approx(run.stored[step], rel=1e-3, abs=1e-6)
        assert bool(ax.collections) == (energy > 0.0)


def test_an_early_end_is_marked_and_said(sections) -> None:
    both = tuple(run_legform(section, LIMITED) for section in sections[0.0])
    assert [run.status for run in both] == ["ok", "rotation_limit"]
    figure = leg_motion_figure(NAMES, sections[0.0], both)
    separate(figure)
    text = said(figure)
    assert "Avocet: ended early: a rotation reached 22 deg" in text
    assert " less " not in text
    ends = [line for line in figure.findobj(Line2D) if line.get_gid() == "end of run"]
    assert [line.get_xdata()[0] for line in ends] == [both[1].time[-1]] * 2


def test_a_run_that_ended_before_a_moment_says_so_there(sections) -> None:
    early = run_legform(sections[0.0][1], RunSettings(rotation_limit_deg=5.0))
    assert early.time[-1] < 40.0
    figure = leg_motion_figure(NAMES[1:], sections[0.0][1:], [early])
    separate(figure)
    assert f"ended at {early.time[-1]:.1f} ms" in said(figure)


def test_a_run_out_of_balance_is_told_and_not_drawn(sections, monkeypatch) -> None:
    """A planted fault: what speeds the legform up counts 5 % more than what moves it."""
    good = run_legform(sections[0.0][0])
    monkeypatch.setattr(dynamics, "stepped", lambda p, r, f, s: (p + s * r, r + s * (1.05 * f)))
    bad = run_legform(sections[0.0][1])
    figure = leg_motion_figure(NAMES, sections[0.0], [good, bad])
    separate(figure)
    text = said(figure)
    assert len(curves(figure)) == 2
    assert "Avocet: not drawn: energy is out by" in text
    assert text.count("largest imbalance") == 1  # of the good run
    assert " less " not in text


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_same_input_same_bytes(kind: str, sections, runs) -> None:
    once, again = (
        figure_bytes(leg_motion_figure(NAMES, sections[500.0], runs[500.0]), kind) for _ in range(2)
    )
    assert once == again


def test_unlike_runs_and_odd_numbers_are_refused(sections, runs) -> None:
    with pytest.raises(ValueError, match="one run or two"):
        leg_motion_figure([], [], [])
    with pytest.raises(ValueError, match="one run or two"):
        leg_motion_figure(NAMES, sections[0.0], runs[0.0][:1])
    with pytest.raises(ValueError, match="same assumptions"):
        leg_motion_figure(
            NAMES, sections[0.0], [runs[0.0][0], run_legform(sections[0.0][1], LIMITED)]
        )


@pytest.mark.parametrize("y", [0.0, 760.0])
def test_every_link_drawn_lies_within_its_frame(y, sections, runs) -> None:
    figure = leg_motion_figure(NAMES, sections[y], runs[y])
    links = [line for line in figure.findobj(Line2D) if str(line.get_gid()).endswith(" link")]
    assert len(links) > 8
    for line in links:
        low, high = line.axes.get_xlim()
        assert low <= line.get_xdata().min()
        assert line.get_xdata().max() <= high

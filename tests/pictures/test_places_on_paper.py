"""Where panels and words stand on paper, and what the axes show: in inches and in mm, by hand.

What figures of fixed fronts hold is kept in tests/regression; here are the places and limits that a
list of words and points does not tell. Own choice.
"""

from __future__ import annotations

import math
from types import SimpleNamespace as Part

import numpy as np
import pytest
from matplotlib.collections import PathCollection

from frontcheck.body.person_motion import PersonMotion, Spread
from frontcheck.caution import CAUTION_SHORT
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import change_panels as panels
from frontcheck.outputs.figures import leg_motion_figure as flown
from frontcheck.outputs.figures import motion_figure as struck
from frontcheck.outputs.figures import overview_drawing as whole
from frontcheck.outputs.figures.plan_figures import _fit
from frontcheck.outputs.figures.scan_figure import scan_figure


def inches(ax) -> list[float]:
    """Left, lower, right and upper side of Axes [in]."""
    w, h = ax.figure.get_size_inches()
    x0, y0, x1, y1 = ax.get_position().extents
    return [x0 * w, y0 * h, x1 * w, y1 * h]


def at(text) -> tuple[float, float]:
    """Place of a text on its figure [in]."""
    w, h = text.figure.get_size_inches()
    x, y = text.get_position()
    return x * w, y * h


# --- what all figures share ----------------------------------------------------------------------


def test_axes_stand_where_they_are_told() -> None:
    figure = look.new_figure(10.0, 5.0)
    assert inches(look.axes_at(figure, 1.0, 0.5, 4.0, 3.0)) == pytest.approx([1.0, 0.5, 5.0, 3.5])
    within = look.axes_within(figure, 1.0, 0.5, 2.0, 0.7)
    assert inches(within) == pytest.approx([1.0, 0.5, 8.0, 4.3])
    assert look.axes_inches(within) == pytest.approx((7.0, 3.8))
    assert look.figure_of(within) is figure


def test_head_note_and_caution_keep_their_distance_from_the_edges() -> None:
    figure = look.new_figure(10.0, 5.0)
    look.head(figure, "Title", "words", left=0.05, top=0.2)
    look.write(figure, 0.7, 0.4, "note")
    look.foot(figure)
    title, said, note, caution = figure.texts
    assert at(title) == pytest.approx((0.5, 4.8))
    assert at(said) == pytest.approx((0.5, 4.52))
    assert (title.get_va(), said.get_va()) == ("top", "top")
    assert (at(note), note.get_va()) == (pytest.approx((0.7, 0.4)), "bottom")
    assert (at(caution), caution.get_va(), caution.get_ha()) == (
        pytest.approx((5.0, 0.1)), "bottom", "center",
    )  # fmt: skip
    assert " ".join(caution.get_text().split()) == CAUTION_SHORT
    narrow = look.new_figure(3.0, 5.0)
    look.foot(narrow)
    assert max(map(len, narrow.texts[0].get_text().splitlines())) <= 48  # 16 letters an inch


def test_the_caution_below_axes_of_somebody_else() -> None:
    ax = look.new_figure(10.0, 5.0).add_subplot()
    look.caution_below(ax)
    (text,) = ax.texts
    assert (text.xy, text.xycoords) == ((0.5, 0.0), "axes fraction")
    assert (text.xyann, text.anncoords) == ((0.0, -34.0), "offset points")
    assert (text.get_ha(), text.get_va(), text.get_gid()) == ("center", "top", "caution")


@pytest.mark.parametrize(
    ("off", "seen"), [("top right", {"left", "bottom"}), ("top right left", {"bottom"})]
)
def test_axes_have_no_frame_where_nothing_is_read(off, seen) -> None:
    ax = look.new_figure(5.0, 5.0).add_subplot()
    look.plain_axes(ax, "below", "left", title="title", off=off)
    assert {side for side, spine in ax.spines.items() if spine.get_visible()} == seen
    assert (ax.get_xlabel(), ax.get_ylabel(), ax.get_title(loc="left")) == (
        "below", "left", "title",
    )  # fmt: skip
    kept = look.new_figure(5.0, 5.0).add_subplot(xlabel="x", ylabel="y")
    look.plain_axes(kept)
    assert (kept.get_xlabel(), kept.get_ylabel(), kept.get_title(loc="left")) == ("x", "y", "")


# --- comparison and overview ---------------------------------------------------------------------


def test_a_place_keeps_the_room_for_words_at_any_size() -> None:
    """On the usual size nothing moves; on another, inches left for words are the same."""
    usual = look.new_figure(*panels.SIZE)
    for place in ((0.045, 0.145, 0.945, 0.745), (0.53, 0.145, 0.46, 0.725)):
        assert panels.kept(usual, place) == pytest.approx(place)
    figure = look.new_figure(10.0, 6.2)
    whole_page = (0.63 / 14.0, 1.19 / 8.2, (14.0 - 0.77) / 14.0, (8.2 - 2.09) / 8.2)
    x, y, w, h = panels.kept(figure, whole_page)
    assert (x * 10.0, y * 6.2) == pytest.approx((0.63, 1.19))
    assert (10.0 - (x + w) * 10.0, 6.2 - (y + h) * 6.2) == pytest.approx((0.14, 0.9))


def test_panels_stand_in_rows_from_the_upper_left() -> None:
    made = panels._grid(look.new_figure(*panels.SIZE), 2, 5)
    boxes = [inches(ax) for ax in made]
    left = [round(box[0], 6) for box in boxes]
    low = [round(box[1], 6) for box in boxes]
    assert left[0] == left[2] == left[4] < left[1] == left[3]
    assert low[0] == low[1] > low[2] == low[3] > low[4]
    x, y, w, h = panels._BOX
    assert boxes[0][0] == pytest.approx(x * 14.0)
    assert boxes[0][3] == pytest.approx((y + h) * 8.2)
    assert boxes[1][2] == pytest.approx((x + w) * 14.0)
    assert boxes[4][1] == pytest.approx(y * 8.2)
    assert boxes[1][0] - boxes[0][2] == pytest.approx(0.018 * 14.0)
    assert boxes[0][1] - boxes[2][3] == pytest.approx(0.62)


def test_the_overview_has_heights_above_leads_and_the_plan_beside() -> None:
    heights, lead, plan = map(inches, whole._panels(look.new_figure(14.0, 8.2)))
    assert heights[0] == lead[0] == pytest.approx(0.7)
    assert heights[2] == pytest.approx(lead[2])
    assert (lead[1], plan[1]) == pytest.approx((1.19, 1.19))
    assert (heights[3], plan[3]) == pytest.approx((7.2, 7.2))
    assert heights[1] - lead[3] == pytest.approx(0.49)
    assert heights[3] - heights[1] == pytest.approx(2.0 * (lead[3] - lead[1]))
    assert plan[0] - heights[2] == pytest.approx(1.75)
    assert plan[2] == pytest.approx(14.0 - 0.14)


@pytest.mark.parametrize(
    ("view", "box"),
    [("plan", (-20.0, -600.0, 900.0, 600.0)), ("front", (-600.0, 0.0, 600.0, 950.0)),
     ("map", (700.0, -600.0, 1900.0, 600.0))],
)  # fmt: skip
def test_views_of_a_front_hold_every_point_and_the_ground(view, box) -> None:
    line = Part(
        formed=True, wad=(700.0, None, 1900.0),
        points=np.array([[-20.0, -600.0, 300.0], [9.0, 0.0, 400.0], [900.0, 600.0, 950.0]]),
    )  # fmt: skip
    gone = Part(formed=False)
    ax = look.new_figure(8.0, 8.0).add_axes((0.1, 0.1, 0.8, 0.8))
    _fit(ax, Part(lines=(gone, line)), view, (0.0, 0.0, 0.0, 0.0))
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    across = "station y [mm], right positive"
    names = {"plan": ("setback x [mm]", across), "front": (across, "height z [mm]"),
             "map": ("wrap-around distance [mm]", across)}  # fmt: skip
    assert (ax.get_xlabel(), ax.get_ylabel()) == names[view]
    assert y0 == pytest.approx(box[1])
    assert x0 + x1 == pytest.approx(box[0] + box[2])
    assert x1 - x0 == y1 - y0 == pytest.approx(max(box[2] - box[0], box[3] - box[1]))
    empty = look.new_figure(8.0, 8.0).add_axes((0.1, 0.1, 0.8, 0.8))
    _fit(empty, Part(lines=(gone,)), "plan", (0.0, 0.0, 0.0, 0.0))
    assert empty.get_ylim() == pytest.approx((-800.0, 800.0))


def test_rows_of_distances_rise_with_the_station_and_share_one_scale(monkeypatch) -> None:
    """Most apart 8 mm: rows are 10 mm apart, and the bar beside the first says 5 mm."""

    def station(y: float, most: float) -> Part:
        contour = Part(outward=Part(value=most) if most else None, inward=None)
        return Part(y=y, contour=contour, contour_reason="", most=most)

    def along(one: Part):
        arc = np.array([-100.0, 0.0, 400.0])
        return (
            arc,
            np.array([0.0, one.most, -1.0]),
            np.array([True, True, False]),
            {"UBRL": (5.0, True)},
        )

    monkeypatch.setattr(panels, "_along", along)
    ax = look.new_figure(10.0, 6.0).add_axes((0.1, 0.1, 0.8, 0.8))
    panels.draw_map(ax, Part(stations=(station(-300.0, 8.0), station(0.0, 0.0))))
    assert ax.get_yticks().tolist() == [0.0, 10.0]
    assert [tick.get_text() for tick in ax.get_yticklabels()] == ["y = \u2212300", "y = 0"]
    assert ax.get_ylim() == pytest.approx((-11.0, 19.0))
    assert ax.get_xlim() == (-100.0, 400.0)
    told = {text.get_text(): text.xy for text in ax.texts}
    assert told == {
        "+8.0 mm": (1.0, 0.0), "0 mm": (1.0, 10.0), "5 mm": pytest.approx((-94.0, 12.5)),
    }  # fmt: skip
    bars = [line.get_xydata().tolist() for line in ax.lines]
    assert [pytest.approx([-94.0, 10.0]), pytest.approx([-94.0, 15.0])] in bars
    shown = [line.get_ydata() for line in ax.lines if len(line.get_xdata()) == 3]
    assert [row[:2].tolist() for row in shown] == [[0.0, 8.0], [10.0, 10.0]]
    assert all(math.isnan(row[2]) for row in shown)  # not comparable there


# --- legforms and people over time ---------------------------------------------------------------


def run(angle: list[float], **more: object) -> Part:
    held = {"usable": True, "status": "ok", "settings": Part(duration_ms=40.0),
            "time": np.array([0.0, 10.0, 20.0]), "angle": np.array(angle)}  # fmt: skip
    return Part(**(held | more))


@pytest.mark.parametrize(
    ("runs", "curves", "ends", "limits"),
    [
        ([run([0.0, -2.0, 1.0])], [[0.0, -1.0, 0.5]], [], (-1.12, 0.62)),
        ([run([0.0, 2.0, 1.0]), run([0.0, 3.0, -1.0], status="rotation_limit")],
         [[0.0, 1.0, 0.5], [0.0, 1.5, -0.5]], [[20.0, -0.5]], (-0.66, 1.66)),
        # One that is not usable is not drawn: shares are then of the other.
        ([run([9.0, 9.0, 9.0], usable=False), run([0.0, 4.0, 1.0])], [[0.0, 1.0, 0.25]], [],
         (-0.08, 1.08)),
        ([run([0.0, 0.0, 0.0])], [[0.0, 0.0, 0.0]], [], (-1.0, 1.0)),
    ],
)  # fmt: skip
def test_curves_are_shares_of_the_first_peak(runs, curves, ends, limits) -> None:
    ax = look.new_figure(5.0, 3.0).add_subplot()
    flown._draw_curves(ax, runs, lambda one: one.angle, (0.0, 8.0, 16.0))
    shown = [line.get_ydata().tolist() for line in ax.lines if line.get_gid() == "curve"]
    assert shown == curves
    marks = [line.get_xydata()[0].tolist() for line in ax.lines if line.get_gid() == "end of run"]
    assert marks == ends
    assert ax.get_ylim() == pytest.approx(limits)
    assert ax.get_xlim() == (0.0, 40.0)
    upright = [line.get_xdata()[0] for line in ax.lines if len(set(line.get_xdata())) == 1
               and len(line.get_xdata()) == 2]  # fmt: skip
    assert upright == [8.0, 16.0]  # no line at the start


def sticks(low: float, high: float, top: float = 950.0) -> Part:
    links = (np.array([[low, 900.0], [low + 5.0, 500.0]]), np.array([[low, 500.0], [high, 0.0]]))
    return Part(usable=True, time=np.array([0.0, 10.0]), settings=Part(step_ms=10.0), touch_x=0.0,
                legform=Part(high_mm=top), leg_at=lambda _: links)  # fmt: skip


def test_stick_drawings_hold_every_link() -> None:
    """At least 60 mm ahead of the first touch and 160 mm behind it, 15 mm round what is farther."""
    assert flown._box([sticks(0.0, 50.0)], [0.0]) == (-60.0, 160.0, 980.0)
    assert flown._box([sticks(-70.0, 170.0), sticks(0.0, 50.0, 990.0)], [0.0, 90.0]) == (
        -85.0, 185.0, 1020.0,
    )  # fmt: skip
    moved = sticks(-70.0, 170.0)
    moved.touch_x = 20.0
    assert flown._box([moved], [0.0]) == (-105.0, 165.0, 980.0)


def person(wad: Spread | None) -> PersonMotion:
    shares = {"pushed": 0.0, "folded": 0.0, "carried": 1.0, "no_head_contact": 0.0,
              "beyond_measured": 0.0}  # fmt: skip
    return PersonMotion("man p50", 1.0, 1.0, 0.0, "carried up", shares, wad_mm=wad)


def test_bars_of_heads_names_at_the_left_and_words_at_the_right() -> None:
    wad = Spread(1500.0, 1400.0, 1650.0)
    one, none = person(wad), person(None)
    band = Part(place="bonnet", low_mm=700.0, high_mm=1600.0)
    study = Part(people=(one,), motions=((one,), (none,)), bands=((band,), ()), changes=())
    ax = look.new_figure(10.0, 4.0).add_axes((0.2, 0.2, 0.6, 0.6))
    struck._draw_bars(ax, study, ["One", "Two"], 0, 0.42, roomy=True)
    assert ax.get_xlim() == pytest.approx((700.0 - 9.5, 1650.0 + 9.5))
    assert ax.get_ylim() == pytest.approx((0.0, 0.42 + 0.06 + 0.3 + 0.06))
    sides = {text.get_text(): (text.get_position()[0], text.get_ha()) for text in ax.texts}
    left, right = (-0.01, "right"), (1.01, "left")
    assert sides == {
        "One": left, "Two": left, "average man (p50)": left, "not said": (700.0, "left"),
        "One: carried up in 100 %; 1400 to 1650, place of the head not given": right,
        "Two: carried up in 100 %; place of the head not given": right,
    }  # fmt: skip
    heights = {text.get_text(): text.get_position()[1] for text in ax.texts}
    assert heights["One"] > heights["Two"] > 0.42
    assert heights["Two"] == pytest.approx(heights["not said"])
    assert heights["average man (p50)"] == pytest.approx(0.21)
    told = [y for words, y in heights.items() if words.startswith(("One: ", "Two: "))]
    assert 0.42 > told[0] > told[1] > 0.0
    (box,) = [patch for patch in ax.patches if patch.get_gid() == "band bonnet"]
    assert (box.get_x(), box.get_width()) == (700.0, 900.0)


@pytest.mark.parametrize(("size", "columns"), [((11.7, 8.3), True), ((10.0, 6.2), False)])
def test_nothing_known_of_heads_has_axes_all_the_same(size, columns) -> None:
    none = person(None)
    study = Part(people=(none,), motions=((none,),), bands=((),), changes=())
    ax = look.new_figure(*size).add_axes((0.2, 0.2, 0.6, 0.6))
    struck._draw_bars(ax, study, ["One"], 0, 0.24, roomy=columns)
    assert ax.get_xlim() == pytest.approx((-10.0, 1010.0))
    assert any("carried up" in text.get_text() for text in ax.texts) == columns


# --- scans ---------------------------------------------------------------------------------------


def test_a_scan_from_above_and_from_the_side() -> None:
    """The front at the top of the plan, 250 mm of room about the body."""
    body = np.array([[0.0, -700.0, 100.0], [900.0, 650.0, 800.0]])
    section = Part(y=300.0, x=np.array([0.0, 500.0]), z=np.array([100.0, 700.0]))
    scan = Part(
        body=body, ground=np.array([[5.0, 6.0, 0.0]]), strays=np.array([[7.0, 8.0, 9.0]]),
        front=Part(sections=(section,), name="Plover"), ground_sd_mm=1.26, mirrored_share=0.973,
        noise_mm=0.84, u_mm=1.5, left_out=30, points=1000,
    )  # fmt: skip
    figure = scan_figure(scan)
    plan, side = figure.axes
    assert plan.get_xlim() == (-950.0, 950.0)
    assert plan.get_ylim() == (1150.0, -250.0)
    assert side.get_xlim() == (-250.0, 1150.0)
    assert side.get_ylim()[0] == -150.0
    clouds = {
        name: [each.get_offsets().tolist() for each in ax.collections
               if isinstance(each, PathCollection)]
        for name, ax in (("plan", plan), ("side", side))
    }  # fmt: skip
    assert clouds["plan"] == [[[6.0, 5.0]], [[-700.0, 0.0], [650.0, 900.0]], [[8.0, 7.0]]]
    assert clouds["side"] == [[[5.0, 0.0]], [[0.0, 100.0], [900.0, 800.0]], [[7.0, 9.0]]]
    drawn = sorted(line.get_xydata().tolist() for line in plan.lines)
    assert drawn[0] == [[-300.0, 0.0], [-300.0, 500.0]]
    assert drawn[-1] == [[300.0, 0.0], [300.0, 500.0]]
    assert side.lines[0].get_xydata().tolist() == [[0.0, 100.0], [500.0, 700.0]]
    (forward,) = plan.texts
    assert (forward.get_text(), forward.get_position()) == ("forward", (0.0, -200.0))
    assert (plan.get_xlabel(), plan.get_ylabel()) == (
        "station y [mm], right positive", "setback x [mm]",
    )  # fmt: skip
    keys = [text.get_text() for text in side.get_legend().get_texts()]
    assert keys == ["body", "ground", "left out", "sections"]
    said = " ".join(figure.texts[1].get_text().split())
    assert said == (
        "Ground 1.3 mm about its plane; 97 % of the body has its mirror image; noise 0.8 mm; "
        "sections uncertain by 1.5 mm. 30 of 1000 points were left out."
    )

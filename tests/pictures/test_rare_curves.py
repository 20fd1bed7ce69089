"""Curves and panels of figures in rare cases: what is drawn where, and what is said.

By group id and in the units of the axes; worked out by hand, own choice.
"""

from __future__ import annotations

import math
from types import SimpleNamespace as Part

import numpy as np
import pytest
from pictures.test_rare_labels import drawing, wishes

from frontcheck.body.motion import Difference
from frontcheck.body.person_motion import PersonMotion, Spread
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import change_panels as panels
from frontcheck.outputs.figures import findings_figures as found
from frontcheck.outputs.figures import leg_motion_figure as flown
from frontcheck.outputs.figures import motion_figure as struck
from frontcheck.outputs.figures import overview_drawing as whole
from frontcheck.outputs.figures import tolerance_figure as sure
from frontcheck.outputs.figures.canvas import new_figure
from frontcheck.sure.tolerance_result import LineTolerance, MeasureAgain
from frontcheck.sure.tolerance_result import Spread as Wide

MINUS = "\u2212"


def axes():
    return new_figure(8.0, 6.0).add_axes((0.1, 0.1, 0.8, 0.8))


def drawn(ax, gid: str) -> list[list[list[float]]]:
    return [line.get_xydata().tolist() for line in ax.lines if line.get_gid() == gid]


def said(ax) -> list[str]:
    return [text.get_text() for text in ax.texts if text.get_text()]


# --- curves and panels -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [(3.0, "+3.0 mm"), (-3.0, f"{MINUS}3.0 mm"), (0.04, "0.0 mm"), (0.0, "0.0 mm"),
     (0.06, "+0.1 mm"), (-0.04, "0.0 mm")],
)  # fmt: skip
def test_a_signed_length(value, text) -> None:
    assert panels._signed(value) == text


@pytest.mark.parametrize(
    ("value", "nice"),
    [(1.0, 1.0), (1.99, 1.0), (2.0, 2.0), (4.9, 2.0), (5.0, 5.0), (9.9, 5.0), (10.0, 10.0),
     (34.0, 20.0), (0.07, 0.05)],
)  # fmt: skip
def test_a_scale_bar_is_the_largest_round_number_below(value, nice) -> None:
    assert panels._nice(value) == pytest.approx(nice)


@pytest.mark.parametrize(
    ("count", "most", "chosen"),
    [(3, 3, [0, 1, 2]), (4, 3, [0, 2, 3]), (5, 3, [0, 2, 4]), (11, 3, [0, 5, 10]), (2, 3, [0, 1])],
)
def test_stations_are_spread_evenly_over_all(count, most, chosen) -> None:
    assert panels.spread_out(list(range(count)), most) == chosen


@pytest.mark.parametrize(
    ("low", "high", "levels"),
    [(0.0, 45.0, [10.0, 20.0, 30.0, 40.0]), (10.0, 40.0, [15.0, 20.0, 25.0, 30.0, 35.0]),
     (1.0, 7.0, [2.0, 3.0, 4.0, 5.0, 6.0]), (1.2, 1.8, []), (3.0, 3.0, [])],
)  # fmt: skip
def test_lines_of_equal_angle_by_the_widest_step_that_gives_four(low, high, levels) -> None:
    assert found._levels(low, high) == levels


@pytest.mark.parametrize(
    ("wanted", "placed"),
    [([0.0, 50.0], [0.0, 50.0]), ([0.0, 4.0], [-3.0, 7.0]), ([], []),
     ([0.0, 0.0, 0.0], [-10.0, 0.0, 10.0])],
)  # fmt: skip
def test_names_beside_intervals_are_moved_apart_about_their_place(wanted, placed) -> None:
    assert sure._apart(wanted, 10.0) == placed


@pytest.mark.parametrize(
    ("item", "reading", "quantity"),
    [
        (MeasureAgain(-9.0, "height", 3, 12, "UBRL_z_mm", 1.0),
         "height, row 12 of the file (y = -9)", "UBRL z"),
        (MeasureAgain(-9.0, "height", 3, None, "WAD_1000_x_mm", 1.0),
         "height, point 4 (y = -9)", "WAD 1000 x"),
        (MeasureAgain(-9.0, "datum", None, None, "BRRL_x_mm", 1.0),
         "datum (y = -9)", "bonnet rear line (BRRL) x"),
        *((MeasureAgain(-9.0, name, None, None, "bumper_lead_mm", 1.0), f"{name} (vehicle)",
           "bumper lead") for name in ("ground slope", "ride height", "pitch", "scale")),
    ],
)  # fmt: skip
def test_what_to_measure_again_in_the_figure(item, reading, quantity) -> None:
    assert sure._reading(item) == reading
    assert sure._quantity(item.quantity) == quantity


@pytest.mark.parametrize(
    ("values", "part", "at"),
    [
        ([1.0, 2.0, 3.0, 4.0, 5.0], 0.25, (1.0, 2.0)),
        ([math.nan, 2.0, math.nan, 4.0, 5.0], 0.0, (1.0, 2.0)),
        ([math.nan, 2.0, math.nan, 4.0, 5.0], 1.0, (4.0, 5.0)),
        ([math.nan] * 5, 0.5, None),
    ],
)
def test_a_label_hangs_on_a_point_that_is_known(values, part, at) -> None:
    across = whole.Across(np.arange(5.0), (0.0, 4.0), mirrored=False)
    assert whole._anchor(across, np.array(values), part) == at


@pytest.mark.parametrize("mirrored", [True, False])
def test_a_trace_is_mirrored_and_hollow_where_it_is_not_sure(mirrored) -> None:
    made = drawing((-400, 0), (400, 900))
    across = whole.Across(np.array([0.0, 300.0]), (-400.0, 400.0), mirrored=mirrored)
    stroke = look.LINE_STYLES["UBRL"]
    whole._trace(made, across, np.array([500.0, 510.0]), np.array([True, False]), stroke)
    sides = [1.0, -1.0] if mirrored else [1.0]
    marks = [one for one in made.ax.lines if one.get_linestyle() == "None"]
    assert [one.get_xydata().tolist() for one in marks] == [
        at for side in sides for at in ([[side * 0.0, 500.0]], [[side * 300.0, 510.0]])
    ]
    assert [one.get_markerfacecolor() == look.PAPER for one in marks] == [False, True] * len(sides)
    assert [one.get_alpha() for one in marks] == [1.0, 1.0, 0.35, 0.35][: 2 * len(sides)]


def test_known_is_what_no_tip_and_no_open_end_could_change() -> None:
    kinds = ("ok", "edge_end", "open_end", "lower_end", "not_reached")
    assert whole._known([Part(status=each) for each in kinds]).tolist() == [
        True, False, False, True, True,
    ]  # fmt: skip


# --- changes across a front ----------------------------------------------------------------------


def change(value: float | None, **more: object) -> Part:
    held = {
        "a": 1.0, "b": 2.0, "change": value, "u": None, "status_changed": False, "open_end": "",
    }  # fmt: skip
    return Part(**(held | more))


def test_a_panel_of_changes_says_least_and_most() -> None:
    ax = axes()
    changes = [
        (-9.0, change(-4.0, u=1.5)), (0.0, change(6.0, status_changed=True)),
        (9.0, change(None)), (18.0, change(None, open_end="B")), (27.0, change(None, a=None)),
        (36.0, change(None, a=None, b=None)),
    ]  # fmt: skip
    panels._panel(ax, changes, "title", (-20.0, 20.0))
    assert drawn(ax, "uncertainty") == [[[-9.0, -7.0], [-9.0, -1.0]]]  # two standard uncertainties
    assert drawn(ax, "not comparable") == [[[9.0, 0.0]], [[27.0, 0.0]]]
    assert drawn(ax, "not known") == [[[18.0, 0.0]]]
    assert sorted(said(ax)) == ["+6.0 mm", f"{MINUS}4.0 mm"]
    assert ax.get_xlim() == (-39.0, 66.0)  # 30 mm either side at least
    faces = [one.get_markerfacecolor() for one in ax.lines if one.get_marker() == "D"]
    assert len(faces) == 2
    assert faces[0] != faces[1]


@pytest.mark.parametrize(
    ("changes", "words"),
    [([change(None)], "not comparable"), ([change(None, open_end="A")], "not known: open end")],
)
def test_a_panel_without_any_change_says_why(changes, words) -> None:
    ax = axes()
    panels._panel(ax, [(0.0, each) for each in changes], "title", (-20.0, 20.0))
    assert said(ax) == [words]


@pytest.mark.parametrize(
    ("changes", "is_sure", "labels"),
    [
        ([], False, []), ([change(1.0)], True, ["plus and minus two standard uncertainties"]),
        ([change(None, open_end="B")], False, ["not known: open end"]),
    ],
)  # fmt: skip
def test_keys_of_what_is_drawn(changes, is_sure, labels) -> None:
    keys = [key.get_label() for key in panels.change_keys(changes, sure=is_sure)]
    assert keys == ["change", "line formed in another way in B", "not comparable", *labels]


def test_the_map_of_distances_says_why_there_is_none() -> None:
    ax = axes()
    panels.draw_map(ax, Part(stations=(Part(contour=None, contour_reason="no datum in common"),)))
    assert said(ax) == ["No distances: no datum in common."]
    assert not ax.axison


def test_outlines_in_plan_on_both_sides_where_both_are_mirrored() -> None:
    rows = (Part(y=0.0, a=(1.0, None), b=(2.0, None)), Part(y=300.0, a=(9.0, None), b=(8.0, 7.0)))
    overlay = Part(heights_mm=(500.0, 900.0), rows=rows)
    for symmetric, ends in ((True, (-315.0, 315.0)), (False, (-15.75, 315.0))):
        figure = new_figure(14.0, 8.2)
        panels.draw_plan(figure, overlay, symmetric=symmetric)
        one, two = figure.axes
        assert one.get_xlim() == pytest.approx(ends)
        curves = [line.get_xydata().tolist() for line in one.lines]
        right = [[[0.0, 1.0], [300.0, 9.0]], [[0.0, 2.0], [300.0, 8.0]]]
        left = [[[-y, x] for y, x in curve] for curve in right]
        assert curves == ([right[0], left[0], right[1], left[1]] if symmetric else right)
        assert said(one) == []
        assert said(two) == ["a surface does not reach this height"]
        assert [ax.get_title(loc="left") for ax in (one, two)] == ["Height 500 mm", "Height 900 mm"]
        assert [ax.get_ylabel() for ax in (one, two)] == ["foremost x [mm]", ""]
        assert one.get_xlabel() == two.get_xlabel() == "station y [mm], right positive"
        assert one.get_ylim()[0] > one.get_ylim()[1]  # the front at the top


# --- how sure a line is --------------------------------------------------------------------------


def wide(nominal: float | None, low: float, high: float) -> Wide:
    return Wide("z", nominal, (low + high) / 2.0, low, high, 1.0, 1.0)


def test_bars_through_the_place_as_measured_or_the_median() -> None:
    def line(name: str, x: Wide | None, z: Wide | None) -> LineTolerance:
        return LineTolerance(name, (), "ok", x, z, ())

    station = Part(lines=(
        line("UBRL", wide(10.0, 8.0, 13.0), wide(500.0, 497.0, 502.0)),
        line("LBRL", wide(None, 20.0, 30.0), wide(None, 300.0, 320.0)),
        line("BLERL", wide(1.0, 0.0, 2.0), None), line("BRRL", None, wide(1.0, 0.0, 2.0)),
    ))  # fmt: skip
    made = drawing()
    sure.draw_bars(made, station)
    bars = {(n, a): drawn(made.ax, f"interval {n} {a}") for n in ("UBRL", "LBRL") for a in "xz"}
    assert bars == {
        ("UBRL", "x"): [[[8.0, 500.0], [13.0, 500.0]]],
        ("UBRL", "z"): [[[10.0, 497.0], [10.0, 502.0]]],
        ("LBRL", "x"): [[[20.0, 310.0], [30.0, 310.0]]],
        ("LBRL", "z"): [[[25.0, 300.0], [25.0, 320.0]]],
    }
    assert len(made.ax.lines) == 8
    for window, shown in (
        ((0.0, 490.0, 20.0, 510.0), {"UBRL"}), ((10.0, 0.0, 90.0, 900.0), {"LBRL"}),
        ((0.0, 310.0, 90.0, 500.0), set()),
    ):  # fmt: skip
        made = drawing()
        sure.draw_bars(made, station, window)
        names = {line.get_gid().split()[1] for line in made.ax.lines if line.get_gid()}
        assert names == shown


@pytest.mark.parametrize("mirrored", [True, False])
def test_bands_end_where_an_interval_is_not_known(mirrored) -> None:
    made = drawing((-400, 0), (400, 900))
    ends = (np.array([490.0, math.nan, 500.0]), np.array([510.0, math.nan, 530.0]))
    stroke = look.LINE_STYLES["UBRL"]
    sure.draw_band(made, np.array([0.0, 100.0, 200.0]), ends, stroke, "UBRL", mirrored=mirrored)
    right = [[[0.0, 490.0], [0.0, 510.0]], [[200.0, 500.0], [200.0, 530.0]]]
    left = [[[-y + 0.0, z] for y, z in bar] for bar in right]
    assert drawn(made.ax, "interval UBRL") == (right + left if mirrored else right)
    assert len(made.ax.collections) == 1 + mirrored


@pytest.mark.parametrize(("up", "side"), [(1.0, "bottom"), (-1.0, "top")])
def test_an_open_end_has_no_interval_and_says_so(up, side) -> None:
    ax = axes()
    sure._open_end(ax, 3.0, 500.0, look.LINE_STYLES["UBRL"], up)
    assert drawn(ax, "open end") == [[[3.0, 500.0]]]
    (text,) = ax.texts
    assert (text.get_text(), text.get_va(), text.xy) == ("open end", side, (3.0, 500.0))
    assert np.sign(text.xyann[1]) == up


def test_an_interval_less_what_was_measured() -> None:
    ax = axes()
    sure._bar_tolerance(ax, 2.0, wide(10.0, 8.0, 13.0), look.LINE_STYLES["UBRL"], 10.0, 0.1)
    assert drawn(ax, "interval") == [[[2.0, -2.0], [2.0, 3.0]]]
    assert drawn(ax, "nominal") == [[[2.0, 0.0]]]
    ticks = [line.get_xydata().tolist() for line in ax.lines if line.get_gid() is None]
    assert ticks == [[[1.9, -2.0], [2.1, -2.0]], [[1.9, 3.0], [2.1, 3.0]]]
    sure._bar_tolerance(ax, 2.0, wide(None, 8.0, 13.0), look.LINE_STYLES["UBRL"])
    assert len(drawn(ax, "nominal")) == 1


@pytest.mark.parametrize(
    ("wads", "words"), [((), "no distance was asked for"), ((2500.0,), "no distance is reached")]
)
def test_marks_that_are_not_reached_are_told(wads, words) -> None:
    gone = LineTolerance("WAD 2500", (), "not_reached", None, None, ())
    stations = (Part(y=0.0, line=lambda _: gone),)
    ax = axes()
    sure._draw_marks(ax, Part(stations=stations, wad=wads))
    assert said(ax) == [words]


@pytest.mark.parametrize(
    ("open_end", "words"), [("", "not formed"), ("UBRL: no interval", "open end")]
)
def test_a_lead_without_interval_says_why(open_end, words) -> None:
    ax = axes()
    here = Part(y=-9.0, bumper_lead=None, no_lead_interval=open_end)
    sure._draw_lead(ax, Part(stations=(here,)))
    assert [*said(ax), ax.get_xticklabels()[0].get_text()] == [words, f"{MINUS}9"]


# --- legforms and people over time ---------------------------------------------------------------


def run(**more: object) -> Part:
    held = {
        "usable": True, "time": np.arange(0.0, 31.0, 10.0), "settings": Part(step_ms=10.0),
        "status": "ok", "reason": "", "energy_error": 2.4e-4,
    }  # fmt: skip
    return Part(**(held | more))


@pytest.mark.parametrize(
    ("one", "moment", "step"),
    [(run(), 0.0, 0), (run(), 14.0, 1), (run(), 16.0, 2), (run(), 35.0, 3), (run(), 35.1, None),
     (run(usable=False), 0.0, None)],
)  # fmt: skip
def test_the_step_nearest_to_a_moment(one, moment, step) -> None:
    assert flown.step_at(one, moment) == step


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (run(), "One: followed for 30 ms; largest imbalance of energy 2.4e-04 of the start."),
        (run(status="rotation_limit", reason="it turned"),
         "One: ended early: it turned; largest imbalance of energy 2.4e-04 of the start."),
        (run(status="out_of_balance", reason="no balance", usable=False),
         "One: not drawn: no balance."),
    ],
)  # fmt: skip
def test_how_a_run_ended(one, words) -> None:
    assert " ".join(flown._statements(["One"], [one], None)) == words
    order = Part(sentence="Neither is ahead.")
    assert flown._statements(["One"], [one], order)[0] == "Neither is ahead."


def test_the_tibia_where_it_is_bent_most_whatever_the_sign() -> None:
    bending = np.array([[1.0, -9.0, 4.0], [2.0, 3.0, 5.0]])
    assert flown._tibia(Part(tibia_bending=bending)).tolist() == [-9.0, 3.0]
    assert flown._tibia(Part(tibia_bending=np.zeros((2, 0)))) is None


SHARES = {"pushed": 0.2, "folded": 0.5, "carried": 0.3}


def person(kind: str = "undecided", **more: object) -> PersonMotion:
    return PersonMotion("man p50", 1.0, 1.0, 0.0, kind, **({"shares": SHARES} | more))


def test_what_becomes_of_somebody_in_a_title() -> None:
    assert struck._becomes(person()) == "undecided (pushed 20 %, folded 50 %, carried 30 %)"
    sure_ = person("carried up", shares=SHARES | {"carried": 0.95})
    assert struck._becomes(sure_) == "carried up in 95 % of the cases"
    assert struck._becomes(person(shares={})) == "not said"


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (person(shares={}), "not said"),
        (person(), "undecided, folded in 50 %; place of the head not given"),
        (person(wad_mm=Spread(1.0, 1500.4, 1610.6), part="bonnet", parts={"bonnet": 0.8}),
         "undecided, folded in 50 %; 1500 to 1611, bonnet 80 %"),
    ],
)  # fmt: skip
def test_where_a_head_lands_in_the_room_of_a_line(one, words) -> None:
    assert struck._told(one) == words


@pytest.mark.parametrize(
    ("separable", "words"),
    [("yes", "separable"), ("only if equally soft", "separable if alike"), ("no", "too close")],
)
def test_how_far_a_head_moves_between_two_fronts(separable, words) -> None:
    of = Difference(Spread(12.4, -3.6, 20.0), 1.0, 1.0, separable)
    study = Part(changes=(Part(wad=None), Part(wad=of, separable=separable)))
    assert struck._moved(study, 0) == "not compared"
    assert struck._moved(study, 1) == f"moves +12 (-4 to +20), {words}"


@pytest.mark.parametrize(
    ("times", "steps"),
    [
        (None, []),
        # Every 30 ms, the pose nearest to it; the last one always, and no other within 4 ms of it.
        ([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0], [0, 3, 6, 7]),
        ([0.0, 10.0, 20.0, 30.0, 33.0], [0, 4]),
        ([0.0, 10.0, 20.0, 30.0, 35.0], [0, 3, 4]),
        ([0.0, 2.0], [1]),
    ],
)  # fmt: skip
def test_moments_that_are_drawn(times, steps) -> None:
    frames = None if times is None else Part(times_ms=np.array(times))
    assert struck._moments(frames) == steps


def test_a_bar_of_heads_with_its_median() -> None:
    ax = axes()
    struck._bar(ax, person(), 1.0, 0.2, "A")
    assert not ax.patches
    struck._bar(ax, person(wad_mm=Spread(1550.0, 1500.0, 1610.0)), 1.0, 0.1, "B")
    (bar,) = ax.patches
    assert bar.get_gid() == "heads B man p50"
    assert (bar.get_x(), bar.get_width()) == (1500.0, 110.0)
    assert bar.get_y() + bar.get_height() / 2.0 == pytest.approx(1.0)
    ((low, high),) = drawn(ax, "median B man p50")
    assert low[0] == high[0] == 1550.0
    assert low[1] + high[1] == pytest.approx(2.0)


# --- the answer along the skin -------------------------------------------------------------------


def test_lines_that_hold_elsewhere_point_at_their_station() -> None:
    def finding(code: str, station: float | None, *outline: tuple[float, float, float]) -> Part:
        return Part(code=code, station=station, region=Part(outline_mm=outline))

    result = Part(
        answer=Part(lines=(
            Part(findings=("HERE",)), Part(findings=("AWAY",)), Part(findings=("WHOLE",)),
            Part(findings=("BARE",)),
        )),
        findings=(
            finding("HERE", 0.0, (1.0, 0.0, 2.0)), finding("BARE", 300.0),
            finding("WHOLE", None, (1.0, 0.0, 2.0)),
            finding("AWAY", 300.0, (1.0, 100.0, 2.0), (3.0, 310.0, 4.0), (5.0, -300.0, 6.0)),
            finding("AWAY", 600.0, (7.0, 600.0, 8.0)),
        ),
    )  # fmt: skip
    assert found._elsewhere(result, {1}) == {2: (3.0, 300.0, 4.0)}
    assert found._elsewhere(result, {2}) == {1: (1.0, 0.0, 2.0)}


def test_angles_all_alike_are_told_in_words() -> None:
    point = Part(x=1.0, y=2.0, angle_deg=12.4)
    made = drawing()
    found._draw_angles(made, Part(points=(point, Part(x=3.0, y=4.0, angle_deg=12.6)), facets=()))
    assert wishes(made) == {"about 12 deg throughout": (None, (1.0, -1.0))}
    assert drawn(made.ax, "points") == [[[1.0, 2.0], [3.0, 4.0]]]

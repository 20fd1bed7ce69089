"""Labels and marks of two fronts, and of a whole front, in rare cases.

Read off before they are placed, as in test_rare_labels.py. Worked out by hand, own choice.
"""

from __future__ import annotations

import math
from types import SimpleNamespace as Part

import numpy as np
import pytest
from pictures.test_rare_labels import dots, drawing, paths, wishes

from frontcheck.outputs.figures import overlay as pair
from frontcheck.outputs.figures import plan_drawing as plan
from frontcheck.zones.front_zones import BumperArea, HeadformArea

MINUS = "\u2212"


# --- two fronts laid over each other -------------------------------------------------------------


def change(a: float | None, b: float | None, **more: object) -> Part:
    held = {
        "a": a, "b": b, "change": None if a is None or b is None else b - a, "status_a": "ok",
        "status_b": "ok", "open_end": "", "reason": "", "status_changed": False, "ways": ("", ""),
    }  # fmt: skip
    return Part(**(held | more))


def both(x: Part, z: Part) -> Part:
    held = {"UBRL_x_mm": x, "UBRL_z_mm": z}
    return Part(change=held.__getitem__)


UPPER = "Upper bumper reference line (UBRL)"


@pytest.mark.parametrize(
    ("x", "z", "said"),
    [
        (change(10.0, 10.0), change(500.0, 500.0), "the same in both"),
        (change(10.0, 10.049), change(500.0, 499.951), "the same in both"),
        (change(10.0, 22.0), change(500.0, 500.0), "B 12.0 mm rearward"),
        (change(10.0, 8.0), change(500.0, 503.0), "B 2.0 mm forward, 3.0 mm higher"),
        (change(10.0, 10.0), change(500.0, 490.0), "B 10.0 mm lower"),
        (change(10.0, 12.0, change=None), change(500.0, 490.0), "10.0 mm lower"),
        (change(10.0, 12.0, open_end="B", reason="not known: open end in B", status_changed=True),
         change(500.0, 490.0), "not known: open end in B"),
        (change(10.0, None), change(500.0, None), "in A only"),
        (change(None, 10.0), change(None, 500.0), "in B only"),
        (change(None, 10.0, open_end="B"), change(None, 500.0), "in B only, open end"),
        (change(10.0, 12.0, status_changed=True, ways=("ok", "edge end")), change(500.0, 500.0),
         "B 2.0 mm rearward\nA: ok; B: edge end"),
        (change(10.0, None, status_changed=True, ways=("ok", "gone")), change(500.0, None),
         "in A only"),
    ],
)  # fmt: skip
def test_a_line_of_two_fronts_and_which_way_it_went(x, z, said) -> None:
    made = drawing()
    pair._line(made, both(x, z), "UBRL", (-1.0, 0.3))
    known = [(u, w) for u, w in ((x.a, z.a), (x.b, z.b)) if u is not None]
    middle = tuple(np.mean(known, axis=0).tolist())
    assert wishes(made) == {f"{UPPER}\n{said}": (pytest.approx(middle), (-1.0, 0.3))}
    assert [(u, w) for u, w, _ in dots(made)] == known
    links = [one for one in made.ax.lines if len(one.get_xdata()) == 2]
    assert len(links) == (len(known) == 2)


def test_a_line_that_neither_has_is_not_drawn() -> None:
    made = drawing()
    pair._line(made, both(change(None, None), change(None, None)), "UBRL", (0.0, 0.0))
    pair._line(made, both(change(1.0, None), change(None, 2.0)), "UBRL", (0.0, 0.0))
    assert not made.wishes
    assert not made.ax.lines


def test_a_front_whose_end_is_open_is_hollow_and_the_other_is_not() -> None:
    made = drawing()
    z = change(500.0, 505.0, status_a="ok", status_b="open_end, bridged")
    pair._mark(made, {"A": (1.0, 500.0), "B": (2.0, 505.0)}, z)
    assert dots(made) == [(1.0, 500.0, True), (2.0, 505.0, False)]
    assert pair._hollow(change(1.0, 2.0, status_a="edge_end", status_b="lower_end")) == {"A"}


def compared(lead: Part, words=("lower", "lower"), bases=("measured", "cut"), barred="") -> Part:
    return Part(
        change=lambda _: lead, legform_words=words, origins=Part(barred=barred),
        matched=Part(a=Part(basis=bases[0]), b=Part(basis=bases[1])),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("station_of", "lines"),
    [
        (compared(change(80.0, 80.0)),
         ["Bumper lead: A 80.0 mm, B 80.0 mm (unchanged)", "Legform: lower in both"]),
        (compared(change(80.0, 60.0), ("lower", "upper")),
         [f"Bumper lead: A 80.0 mm, B 60.0 mm ({MINUS}20.0 mm)",
          "Legform: lower in A, upper in B"]),
        (compared(change(80.0, None)), ["Legform: lower in both"]),
        (compared(change(80.0, 90.0, open_end="A", change=None, reason="not known")),
         ["Bumper lead: not known", "Legform: lower in both"]),
        (compared(change(None, None), bases=("interpolated", "measured"), barred="no datum"),
         ["Legform: lower in both",
          "A was not measured here: section interpolated between its stations",
          "Setbacks are not compared: no datum common to both fronts"]),
        (compared(change(None, None), bases=("measured", "interpolated")),
         ["Legform: lower in both",
          "B was not measured here: section interpolated between its stations"]),
    ],
)  # fmt: skip
def test_notes_of_two_fronts(station_of, lines) -> None:
    assert pair._note(station_of).splitlines() == lines


@pytest.mark.parametrize(
    ("undercut", "words"),
    [(None, None), (14.0, "Lower lip 14.0 mm behind the bumper"),
     (0.0, "Lower lip 0.0 mm behind the bumper"),
     (-3.0, "Lower lip 3.0 mm ahead of the bumper")],
)  # fmt: skip
def test_members_of_a_leg_and_the_lip(undercut, words) -> None:
    members = (Part(name="bumper", x=20.04, z=500.4), Part(name="lower lip", x=34.0, z=330.0))
    made = drawing()
    pair._members(made, Part(members=members, undercut_mm=undercut), 20.0, "B")
    told = wishes(made)
    assert told.pop("bumper\nheight 500 mm, touches first") == (
        pytest.approx((0.04, 500.4)), (1.0, 0.2),
    )  # fmt: skip
    assert told.pop("lower lip\nheight 330 mm, 14.0 mm later") == ((14.0, 330.0), (1.0, 0.2))
    assert list(told) == ([words] if words else [])


# --- the whole front ------------------------------------------------------------------------------


def test_where_points_stand_in_each_view() -> None:
    points = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
    assert plan.at_view(points, (7.0, None), "plan").tolist() == [[1.0, 2.0], [4.0, 5.0]]
    assert plan.at_view(points, (7.0, None), "front").tolist() == [[2.0, 3.0], [5.0, 6.0]]
    unrolled = plan.at_view(points, (7.0, None), "map")
    assert unrolled[0].tolist() == [7.0, 2.0]
    assert math.isnan(unrolled[1, 0])
    assert unrolled[1, 1] == 5.0


@pytest.mark.parametrize(
    ("use", "kind", "runs"),
    [
        ([1, 1, 1], [0, 0, 0], [(0, 3)]),
        ([1, 1, 1], [0, 2, 2], [(0, 1), (1, 3)]),
        ([0, 1, 1], [0, 0, 0], [(1, 3)]),
        ([1, 0, 1], [2, 2, 2], [(0, 1), (2, 3)]),
        ([1, 1, 0], [0, 1, 1], [(0, 1), (1, 2)]),
        ([0, 0, 0], [0, 1, 2], []),
        ([1], [3], [(0, 1)]),
    ],
)
def test_stretches_of_one_kind(use, kind, runs) -> None:
    assert list(plan._runs(np.array(use, bool), np.array(kind))) == runs


def spot(at, status: str = "ok", wad: float | None = 900.0, tool=None) -> Part:
    return Part(point=at, status=status, wad=wad, tool=tool, formed=at is not None)


@pytest.mark.parametrize(
    ("right", "words"),
    [
        (spot((5.0, 600.0, 1.0)), "corner"),
        (spot((5.0, 600.0, 1.0), "open_end"), "corner\n(open end)"),
        (spot((5.0, 600.0, 1.0), "lower_end"), "corner\n(lower end)"),
        (spot(None, "not_available"), None),
    ],
)
def test_a_pair_of_places_is_named_on_the_right_alone(right, words) -> None:
    made = drawing((-500, -900), (2000, 900))
    left = spot((5.0, -600.0, 1.0), "edge_end")
    plan.draw_pair(made, Part(left=left, right=right), "corner", "plan", "s")
    assert dots(made)[0] == (5.0, -600.0, False)
    assert wishes(made) == ({words: ((5.0, 600.0), (0.5, 1.0))} if words else {})
    assert len(dots(made)) == 1 + bool(words)
    if words:
        assert dots(made)[1] == (5.0, 600.0, right.status in {"ok", "lower_end"})


def test_a_place_without_a_wrap_around_distance_is_not_on_the_map() -> None:
    made = drawing()
    both_ = Part(left=spot((1.0, -2.0, 3.0), wad=None), right=spot((1.0, 2.0, 3.0), wad=950.0))
    plan.draw_pair(made, both_, "corner", "map", "s")
    assert [at[:2] for at in dots(made)] == [(950.0, 2.0)]
    made = drawing()
    plan.draw_pair(made, both_, "corner", "front", "s")
    assert [at[:2] for at in dots(made)] == [(-2.0, 3.0), (2.0, 3.0)]


def corners(plane, gauge, applies: str) -> Part:
    gone = spot(None)
    return Part(bumper_corners=Part(
        plane=Part(left=gone, right=spot(plane)), gauge=Part(left=gone, right=spot(gauge)),
        applies=applies,
    ))  # fmt: skip


P, G = (5.0, 600.0, 500.0), (7.0, 640.0, 500.0)


@pytest.mark.parametrize(
    ("zones", "labels"),
    [
        (corners(P, G, "gauge"),
         {"bumper corner by the gauge\n(applies), y = 640.0 mm": G,
          "bumper corner by the plane\n(for comparison), y = 600.0 mm": P}),
        (corners(P, G, "plane_60deg"),
         {"bumper corner by the gauge\n(for comparison), y = 640.0 mm": G,
          "bumper corner by the plane\n(applies), y = 600.0 mm": P}),
        (corners(P, (5.0, 600.9, 500.0), "plane_60deg"),
         {"bumper corner by gauge and plane\n(the plane applies), y = 600.9 mm":
          (5.0, 600.9, 500.0)}),
        (corners(P, (5.0, 600.0, 501.0), "gauge"),
         {"bumper corner by the gauge\n(applies), y = 600.0 mm": (5.0, 600.0),
          "bumper corner by the plane\n(for comparison), y = 600.0 mm": P}),
        (corners(None, G, "gauge"), {"bumper corner by the gauge\n(applies), y = 640.0 mm": G}),
        (corners(P, None, "gauge"),
         {"bumper corner by the plane\n(for comparison), y = 600.0 mm": P}),
    ],
)  # fmt: skip
def test_corners_by_both_tools_and_which_applies(zones, labels) -> None:
    made = drawing()
    plan._name_corners(made, zones)
    assert wishes(made) == {text: (at[:2], (-1.0, 0.6)) for text, at in labels.items()}


def test_corner_tools_are_as_wide_as_they_are() -> None:
    tool = Part(width=200.0, along=(0.6, 0.8))
    plane = Part(width=None, along=(0.0, 1.0))
    zones = Part(bumper_corners=Part(
        gauge=Part(left=spot((0.0, -500.0, 1.0), tool=tool), right=spot(G)),
        plane=Part(left=spot(None), right=spot(P, tool=plane)), applies="gauge",
    ))  # fmt: skip
    made = drawing()
    plan.draw_corner_tools(made, zones)
    assert paths(made, "corner gauge") == [[[-60.0, -580.0], [60.0, -420.0]]]
    assert paths(made, "60 deg plane") == [[[5.0, 430.0], [5.0, 770.0]]]  # own choice: 340 mm


def zones(**more: object) -> Part:
    line = Part(formed=True, points=np.array([[30.0, 0.0, 1.0], [12.0, 5.0, 1.0]]))
    held = {
        "lines": (line,), "bumper_test_area": BumperArea(-600.0, 612.0, "corners", "ok"),
        "legform_runs": (), "bumper_thirds": Part(cuts=()),
    }  # fmt: skip
    return Part(**(held | more))


def test_bars_ahead_of_the_bumper() -> None:
    """70 mm ahead of the foremost line point; the legforms 112 mm further (own choice)."""
    made = drawing((-500, -900), (2000, 900))
    ends = ((-600.0, 0.0), (0.0, 9.0), (9.0, 612.0))
    runs = tuple(
        Part(legform=form, y_from=low, y_to=high)
        for form, (low, high) in zip(("lower", None, "either"), ends, strict=True)
    )
    cuts = (spot((1.0, -200.0, 5.0)), spot((1.0, 200.0, 5.0)))
    plan.draw_bumper_bars(made, zones(legform_runs=runs, bumper_thirds=Part(cuts=cuts)))
    assert wishes(made) == {
        "bumper test area\n1212 mm, by the corners": ((-58.0, 0.0), (-1.0, 0.0)),
        "lower legform": ((-170.0, -300.0), (-1.0, 0.0)),
        "either\nlegform": ((-170.0, 310.5), (-1.0, 0.0)),
        "bumper third": ((1.0, 200.0), (1.0, 0.3)),
    }  # fmt: skip
    assert paths(made, "legform") == [
        [[-170.0, -600.0], [-170.0, 0.0]], [[-170.0, 9.0], [-170.0, 612.0]],
    ]  # fmt: skip
    assert [at[:2] for at in dots(made)] == [(1.0, -200.0), (1.0, 200.0)]


@pytest.mark.parametrize(
    ("area", "words"),
    [
        (BumperArea(-600.0, 600.0, "beam", "open_end"),
         ["bumper test area (open end)\n1200 mm, by the beam"]),
        (BumperArea(None, 600.0, "corners", "not_available"), []),
        (BumperArea(-600.0, None, "corners", "not_available"), []),
    ],
)  # fmt: skip
def test_a_bumper_area_with_an_open_end_or_none(area, words) -> None:
    made = drawing((-500, -900), (2000, 900))
    plan.draw_bumper_bars(made, zones(bumper_test_area=area))
    assert list(wishes(made)) == words
    made = drawing()
    plan.draw_bumper_bars(made, zones(lines=(Part(formed=False),)))
    assert not made.wishes


def test_thirds_of_which_one_is_missing() -> None:
    made = drawing()
    cuts = (spot((1.0, -200.0, 5.0)), spot(None))
    plan.draw_bumper_bars(made, zones(bumper_thirds=Part(cuts=cuts)))
    assert len(dots(made)) == 1
    assert "bumper third" not in wishes(made)


@pytest.mark.parametrize(
    ("status", "area_m2", "rear", "doubts"),
    [
        ("ok", 1.0, True, {}), ("ok", 1.0, False, {}),
        ("wad_only", 1.0, False, {"wad_only": "bounded by WAD alone"}),
        ("open_end", 1.0, True, {"open_end": "open end"}),
        ("open_end", 1.0, False, {"wad_only": "bounded by WAD alone", "open_end": "open end"}),
        ("open_end", None, False, {"open_end": "open end"}),
    ],
)  # fmt: skip
def test_borders_of_an_area_that_are_not_known(status, area_m2, rear, doubts) -> None:
    area = HeadformArea("child", area_m2, (), status)
    assert plan.area_doubts(area, Part(line=lambda _: Part(formed=rear))) == doubts


def test_what_could_not_be_formed_is_said_once_a_reason() -> None:
    def line(name: str, reason: str = "", formed: bool = False) -> Part:
        return Part(name=name, reason=reason, formed=formed)

    def said(**more: object) -> str:
        held = {
            "lines": (line("UBRL", "low"), line("BRRL", "no glass"), line("LBRL", formed=True)),
            "child_area": HeadformArea("child", None, (), "not_available", "no glass; and more"),
            "adult_area": HeadformArea("adult", 1.0, (Part(),), "ok"), "surface": "smooth",
        }  # fmt: skip
        made = drawing()
        plan.nothing_note(made, Part(**(held | more)))
        if not made.wishes:
            return ""
        (wish,) = made.wishes
        assert (wish.at, wish.prefer) == (None, (1.0, 1.0))
        return wish.text

    assert said() == "UBRL: low.\nBRRL, child headform area: no glass."
    assert said(surface="") == "no line across the front and no zone: low."
    fine = HeadformArea("child", 1.0, (Part(),), "ok")
    assert said(lines=(line("LBRL", formed=True),), child_area=fine) == ""


def test_candidate_points_by_area_and_how_many() -> None:
    def at(area: str, wad: float, y: float) -> Part:
        return Part(area=area, wad=wad, point=(1.0, y, 2.0))

    grid = (at("child", 1000.0, -50.0), at("adult", 1700.0, 50.0), at("child", 1100.0, 0.0))
    made = drawing()
    plan.draw_grid(made, Part(grid=grid, options=Part(grid_mm=62.5)))
    assert paths(made, "grid child") == [[[1000.0, -50.0], [1100.0, 0.0]]]
    assert paths(made, "grid adult") == [[[1700.0, 50.0]]]
    words = "3 candidate points, 62.5 mm apart\n(circles: child, diamonds: adult)"
    assert wishes(made) == {words: (None, (1.0, -1.0))}
    made = drawing()
    plan.draw_grid(made, Part(grid=(), options=Part(grid_mm=50.0)))
    assert not made.wishes


@pytest.mark.parametrize(("symmetric", "ys"), [(True, [-300.0, 0.0, 300.0]), (False, [0.0, 300.0])])
def test_the_bumper_outline_is_mirrored_where_one_half_was_given(symmetric, ys) -> None:
    stations = (
        Part(y=0.0, foremost=(1.0, 500.0)), Part(y=300.0, foremost=(9.0, 500.0)),
        Part(y=600.0, foremost=None),
    )  # fmt: skip
    made = drawing()
    plan.draw_bumper_outline(made, Part(stations=stations, front=Part(symmetric=symmetric)))
    (path,) = paths(made, "bumper outline")
    assert path == [[9.0 if y else 1.0, y] for y in ys]
    made = drawing()
    one = Part(stations=stations[:1], front=Part(symmetric=True))
    plan.draw_bumper_outline(made, one)
    assert not made.wishes

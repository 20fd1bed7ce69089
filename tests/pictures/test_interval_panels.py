"""Panels of the figure of intervals, the face and two legs: limits, marks and words in rare cases.

By group id and in the units of the axes; worked out by hand, own choice; lengths in mm.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest
from pictures.test_rare_labels import drawing, paths, wishes

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import overlay as pair
from frontcheck.outputs.figures import side_view
from frontcheck.outputs.figures import tolerance_figure as sure
from frontcheck.sure.tolerance_result import LineTolerance, MeasureAgain, Spread

RULES = Part(value={"legform.lower_below_mm": 425.0, "legform.upper_from_mm": 500.0}.__getitem__)
"""Either legform from 425 to 500 mm (GTR 9 / R127, from memory)."""


def axes(width: float = 8.0, height: float = 6.0):
    return look.new_figure(width, height).add_axes((0.1, 0.1, 0.8, 0.8))


def drawn(ax, gid: str) -> list[list[list[float]]]:
    return [one.get_xydata().tolist() for one in ax.lines if one.get_gid() == gid]


def spread(low: float, high: float) -> Spread:
    middle = (low + high) / 2.0
    return Spread("z", middle, middle, low, high, 1.0, 1.0)


def line(name: str, z: Spread | None = None, status: str = "ok", nominal=None) -> LineTolerance:
    return LineTolerance(name, (), status, z, z, (), nominal)


def station(y: float, *lines: LineTolerance, **more: object) -> Part:
    held = {one.name: one for one in lines}
    return Part(y=y, line=lambda name: held.get(name, line(name)), lines=lines, **more)


def test_heights_of_lines_side_by_side_with_open_ends() -> None:
    """Lower, upper and edge 0.17 of a step apart; an open end is a mark without an interval."""
    stations = (
        station(-300.0, line("UBRL", spread(510.0, 530.0)), line("BLERL", spread(780.0, 800.0))),
        station(0.0, line("LBRL", status="open_end", nominal=(5.0, 300.0)),
                line("BLERL", status="open_end")),
    )  # fmt: skip
    ax = axes()
    sure._draw_heights(ax, Part(stations=stations, rules=RULES))
    assert drawn(ax, "interval") == [
        [[0.0, 510.0], [0.0, 530.0]], [[0.17, 780.0], [0.17, 800.0]],
    ]  # fmt: skip
    assert drawn(ax, "open end") == [[[1.0 - 0.17, 300.0]]]
    low, high = ax.get_ylim()
    assert (low, high) == pytest.approx((300.0 - 30.0, 800.0 + 30.0))
    names = {text.get_text().split("\n")[0].strip(): text.get_position()
             for text in ax.texts if text.get_gid() == "label"}  # fmt: skip
    assert {name: z for name, (_, z) in names.items()} == pytest.approx({
        "Lower bumper": 300.0, "LBRL within:": 462.5, "Upper bumper": 520.0,
        "Bonnet leading edge": 790.0,
    })  # fmt: skip
    assert {x for x, _ in names.values()} == {ax.get_xlim()[1]}
    opened = [text for text in ax.texts if text.get_text() == "open end"]
    assert [text.get_va() for text in opened] == ["bottom"]  # of the lower line, away from it
    upper = (station(0.0, line("UBRL", status="open_end", nominal=(5.0, 520.0))),)
    other = axes()
    sure._draw_heights(other, Part(stations=upper, rules=RULES))
    assert [t.get_va() for t in other.texts if t.get_text() == "open end"] == ["top"]
    assert drawn(other, "open end") == [[[0.0, 520.0]]]
    assert [tick.label1.get_visible() for tick in other.xaxis.get_major_ticks()] == [False]


@pytest.mark.parametrize(
    ("count", "limits"), [(1, (-3.1, 3.1)), (4, (-1.6, 4.6)), (6, (-0.6, 5.6)), (9, (-0.6, 8.6))]
)
def test_stations_stand_side_by_side_at_equal_steps(count, limits) -> None:
    ax = axes()
    stations = tuple(Part(y=100.0 * (n - 1)) for n in range(count))
    sure._setup(ax, Part(stations=stations), "title", "left", "below")
    assert ax.get_xlim() == pytest.approx(limits)
    assert ax.get_xticks().tolist() == list(range(count))
    assert ax.get_xticklabels()[0].get_text() == "\u2212100"
    assert (ax.get_xlabel(), ax.get_ylabel(), ax.get_title(loc="left")) == (
        "below", "left", "title",
    )  # fmt: skip


@pytest.mark.parametrize(("count", "step"), [(16, 1), (17, 1), (24, 2), (40, 3)])
def test_names_of_many_stations_are_thinned(count, step) -> None:
    ax = axes()
    sure._setup(ax, Part(stations=tuple(Part(y=float(n)) for n in range(count))), "", "")
    ticks = ax.xaxis.get_major_ticks()
    seen = [i for i, tick in enumerate(ticks) if tick.label1.get_visible()]
    assert seen == list(range(0, count, step))


def test_shares_of_legforms_are_stacked_and_named_where_they_occur() -> None:
    first = (("lower", 0.25), ("either", 0.75), ("upper", 0.0), ("missing", 0.0))
    second = (("lower", 0.0), ("either", 0.5), ("upper", 0.0), ("missing", 0.5))
    ax = axes()
    sure._draw_legform(ax, Part(stations=(Part(y=0.0, legform=first), Part(y=9.0, legform=second))))
    bars = [(p.get_gid(), p.get_x() + 0.36, p.get_y(), p.get_height()) for p in ax.patches]
    assert bars == [
        ("legform lower", 0.0, 0.0, 0.25), ("legform either", 0.0, 0.25, 0.75),
        ("legform either", 1.0, 0.0, 0.5), ("legform missing", 1.0, 0.5, 0.5),
    ]  # fmt: skip
    names = [text.get_text() for text in ax.get_legend().get_texts()]
    assert names == ["lower", "either", "not known"]
    assert ax.get_ylim() == (0.0, 1.0)


def test_what_to_measure_again_first_stands_on_top() -> None:
    listed = (
        MeasureAgain(0.0, "pitch", None, None, "UBRL_z_mm", 2.0),
        MeasureAgain(9.0, "datum", None, None, "BRRL_x_mm", 1.0),
    )
    ax = axes()
    sure._draw_again(ax, listed)
    bars = [(p.get_y() + p.get_height() / 2.0, p.get_width()) for p in ax.patches]
    assert bars == [(pytest.approx(1.0), 2.0), (pytest.approx(0.0), 1.0)]
    assert ax.get_ylim() == (-0.7, 1.7)
    assert ax.get_xlim() == (0.0, 3.2)
    names = {at: tick.get_text() for at, tick in zip(ax.get_yticks(), ax.get_yticklabels(),
                                                     strict=True)}  # fmt: skip
    assert names == {1: "pitch (vehicle)", 0: "datum (y = 9)"}
    assert {text.get_text(): text.get_position() for text in ax.texts} == {
        "UBRL z": (pytest.approx(2.04), 1), "bonnet rear line (BRRL) x": (pytest.approx(1.04), 0),
    }  # fmt: skip
    empty = axes()
    sure._draw_again(empty, ())
    assert empty.get_xlim() == (0.0, 1.6)


HOLLOW = (
    "Hollow: open end: what lies beyond the measured surface could change it, so there is no "
    "interval."
)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ((line("UBRL"),), "Second. Third."),
        ((line("UBRL", status="open_end"),),
         f"{HOLLOW} Second. Third."),
        ((LineTolerance("UBRL", (), "ok", None, None, (), None, 44.0),
          LineTolerance("LBRL", (), "ok", None, None, (), None, 4.0)),
         "Long contact, so a wide interval: UBRL, LBRL. Second. Third."),
    ],
)  # fmt: skip
def test_notes_below_the_panels(lines, words) -> None:
    figure = look.new_figure(14.0, 8.6)
    made = Part(
        front=Part(name="Plover"), rules=Part(title="Rules"), draws=1200, seed=7,
        cautions=("First.", "Second.", "Third."), stations=(Part(lines=lines),),
    )  # fmt: skip
    sure._words(figure, made)
    said = [" ".join(text.get_text().split()) for text in figure.texts]
    assert said[0] == "Plover: how far the lines may be off"
    assert said[1].startswith("Rules. 1,200 draws, seed 7.")
    assert said[2] == words


def test_bands_are_shaded_between_the_ends_of_intervals() -> None:
    here = station(0.0, line("UBRL", spread(510.0, 530.0)), bumper_lead=None)
    there = station(300.0, line("LBRL", spread(300.0, 310.0)), bumper_lead=spread(70.0, 90.0))
    made = Part(station={0.0: here, 300.0: there}.__getitem__)
    expected = {
        "UBRL": [[510.0, np.nan], [530.0, np.nan]], "LBRL": [[np.nan, 300.0], [np.nan, 310.0]],
        "lead": [[np.nan, 70.0], [np.nan, 90.0]],
    }  # fmt: skip
    for name, ends in expected.items():
        assert np.array_equal(sure.band_ends(made, [0.0, 300.0], name), ends, equal_nan=True)
    of = drawing((-400.0, 0.0), (400.0, 900.0))
    ends = (np.array([490.0, 500.0]), np.array([510.0, 530.0]))
    sure.draw_band(
        of, np.array([10.0, 300.0]), ends, look.LINE_STYLES["UBRL"], "UBRL", mirrored=True
    )
    corners = [
        {tuple(point) for point in band.get_paths()[0].vertices.tolist()}
        for band in of.ax.collections
    ]
    right = {(10.0, 490.0), (10.0, 510.0), (300.0, 500.0), (300.0, 530.0)}
    assert corners == [right, {(-y, z) for y, z in right}]


# --- the face ------------------------------------------------------------------------------------


def face(**more: object) -> Part:
    held = {
        "lower_lip": (34.0, 330.0), "recess": (60.0, 420.0), "upper_lip": (20.0, 520.0),
        "recess_depth_mm": 32.0, "undercut_mm": 14.0, "face_bottom": (50.0, 300.0),
        "overhang_from": None, "overhang_to": None, "overhang_mm": 0.0,
    }  # fmt: skip
    return Part(**(held | more))


BEHIND = "\nbehind the plumb line"


def test_lips_and_recess_behind_the_plumb_line() -> None:
    made = drawing()
    side_view._draw_lips(made, face(), 20.0)
    told = wishes(made)
    assert told.pop("Lower lip: 14.0 mm" + BEHIND)[0] == (34.0, 330.0)
    (recess,) = [words for words in told if words.startswith("Recess")]
    assert recess == ("Recess: 32.0 mm deep\nfrom the taut string,\n40.0 mm behind\nthe plumb line")
    assert [words.split(":")[0] for words in told] == ["Upper lip", "Recess"]
    assert paths(made, "string") == [[[34.0, 330.0], [20.0, 520.0]]]
    for name in ("lower_lip", "recess", "upper_lip", "recess_depth_mm"):
        made = drawing()
        side_view._draw_lips(made, face(**{name: None}), 20.0)
        assert not made.wishes
        assert not made.ax.lines


@pytest.mark.parametrize(
    ("lip", "words", "helped"),
    [
        ((20.0, 330.0), "Lower lip: at the plumb line", []),
        ((23.0, 330.0), "Lower lip: 3.0 mm" + BEHIND, [[[20.0, 330.0], [23.0, 330.0]]]),
        ((18.0, 330.0), "Lower lip: \u22122.0 mm" + BEHIND, []),
    ],
)
def test_a_lip_at_behind_or_ahead_of_the_plumb_line(lip, words, helped) -> None:
    made = drawing()
    side_view._draw_lips(made, face(lower_lip=lip), 20.0)
    assert wishes(made)[words] == (lip, (1.0, -0.6))
    assert "Upper lip: at the plumb line" in wishes(made)
    assert wishes(made)["Upper lip: at the plumb line"][1] == (1.0, 0.6)
    ways = [one.get_xydata().tolist() for one in made.ax.lines
            if len(one.get_xdata()) == 2 and one.get_gid() is None]  # fmt: skip
    assert [way for way in ways if way[0][1] == way[1][1] == 330.0] == helped


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, False),
        ({"overhang_from": (60.0, 420.0)}, False),
        ({"overhang_to": (20.0, 520.0)}, False),
        ({"overhang_from": (55.0, 400.0), "overhang_to": (20.0, 520.0)}, True),
        # The recess has said it where its bottom and the foremost point are the two places.
        ({"overhang_from": (60.0, 420.0), "overhang_to": (20.0, 520.0)}, False),
        ({"overhang_from": (60.0, 420.0), "overhang_to": (22.0, 500.0)}, True),
    ],
)
def test_an_overhang_is_told_unless_the_recess_says_it(more, said) -> None:
    made = drawing()
    side_view._draw_overhang(made, face(foremost=(20.0, 520.0), overhang_mm=35.0, **more))
    words = "Leans forward of\nvertical by 35.0 mm"
    assert wishes(made) == ({words: (more["overhang_from"], (1.0, 0.0))} if said else {})
    if said:
        back, forward = more["overhang_from"], more["overhang_to"]
        upright = [one.get_xydata().tolist() for one in made.ax.lines]
        assert upright == [[[forward[0], back[1]], [*forward]]]


@pytest.mark.parametrize(
    ("more", "words"),
    [({}, ["Undercut 14.0 mm"]), ({"undercut_mm": 0.0}, []), ({"undercut_mm": -3.0}, []),
     ({"undercut_mm": None}, []), ({"upper_lip": None}, []), ({"lower_lip": None}, [])],
)  # fmt: skip
def test_an_undercut_is_drawn_only_where_there_is_one(more, words) -> None:
    """A level below the face: 0.3 in below it, at least 0.2 in above the lower end of the axes."""
    for bottom, level in ((0.0, 270.0), (275.0, 295.0)):
        made = drawing()
        side_view._draw_undercut(made, face(**more), bottom, 100.0)
        assert list(wishes(made)) == words
        if words:
            assert wishes(made)[words[0]][0] == pytest.approx((27.0, level))
            upright = [line.get_xydata().tolist() for line in made.ax.lines]
            assert upright == [[[20.0, 520.0], [20.0, level]], [[34.0, 330.0], [34.0, level]]]


# --- what two fronts show a leg ------------------------------------------------------------------


def side(x: float) -> Part:
    points = np.array([(x + 100.0, 100.0), (x, 300.0), (x, 600.0), (x + 400.0, 700.0)])
    return Part(section=Part(points=points))


def contact(*members: tuple[str, float, float]) -> Part:
    made = tuple(Part(name=name, x=x, z=z) for name, x, z in members)
    return Part(members=made, undercut_mm=None)


@pytest.mark.parametrize("people", [True, False])
@pytest.mark.parametrize("front", ["A", "B"])
def test_both_legs_have_one_scale_and_setbacks_from_the_leg(front, people) -> None:
    a, b = side(20.0), side(-300.0)
    member = {"A": ("bumper", 20.0, 520.0), "B": ("bumper", -260.0, 540.0)}
    compared = Part(
        matched=Part(a=a, b=b),
        leg=Part(a=contact(member["A"]), b=contact(member["B"], ("edge", 20.0, 690.0))),
    )
    known = [
        Part(name=n, knee=Part(known=lambda up=up: up)) for n, up in (("x", 470.0), ("y", 300.0))
    ]
    ax = axes()
    pair.draw_leg(ax, compared, front, known if people else (), name_people=front == "A")
    assert paths(Part(ax=ax), "upright leg") == [[[0.0, 0.0], [0.0, 750.0]]]
    (contour,) = paths(Part(ax=ax), f"front {front}")
    assert contour[1] == [0.0, 300.0]
    # Farthest behind the leg: the edge of B, 320 mm; the same window for both.
    assert ax.get_xlim()[1] >= 320.0
    assert ax.get_ylim()[1] >= 750.0
    bands = [patch.get_bbox().extents[[1, 3]].tolist() for patch in ax.patches
             if patch.get_gid() == "knee band"]  # fmt: skip
    assert bands == ([[300.0, 470.0]] if people else [])
    names = [text.get_text() for text in ax.texts if text.get_text().endswith(("470 mm", "300 mm"))]
    assert names == (["y: 300 mm", "x: 470 mm"] if people and front == "A" else [])
    assert len(paths(Part(ax=ax), "knee")) == 2 * people
    assert ax.get_ylabel() == ("height above ground z [mm]" if front == "A" else "")
    assert ax.get_xlabel() == "distance behind first touch [mm]"


def test_names_of_knees_at_one_height_are_moved_apart() -> None:
    made = drawing((0.0, 0.0), (640.0, 960.0))
    people = [Part(name=n, knee=Part(known=lambda: 500.0)) for n in ("b", "a", "c")]
    pair._knees(made, people, named=True)
    step = 1.5 * 7.0 / 72.0 * 960.0 / 4.8  # a letter of 7 pt and half as much air
    assert [(text.get_text()[0], text.get_position()[1]) for text in made.ax.texts] == [
        ("a", 500.0), ("b", pytest.approx(500.0 + step)), ("c", pytest.approx(500.0 + 2 * step)),
    ]  # fmt: skip
    lines = paths(made, "knee")
    assert [one[0][1] for one in lines] == [500.0] * 3
    assert {one[1][0] for one in lines} == {640.0}
    ends = [way[1] for way in paths(made, look.LEADER)]
    assert ends == [one[0] for one in lines]
    plain = drawing((0.0, 0.0), (640.0, 960.0))
    pair._knees(plain, people, named=False)
    assert {tuple(one[0]) for one in paths(plain, "knee")} == {(0.0, 500.0)}
    assert not plain.ax.texts

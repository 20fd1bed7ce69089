"""Labels and marks of a station in rare cases: what is said, where it points and to which side.

Read off before they are placed: each wish of a `Drawing` has its words, its point in the units of
the axes and the side that it prefers. Worked out by hand, own choice; lengths in mm.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest
from matplotlib.colors import to_hex

from frontcheck.lines.tool_poses import EdgePose
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import leg_figure, side_drawing, side_view
from frontcheck.outputs.figures.canvas import Drawing, new_figure
from frontcheck.surface.section import Section

MINUS = "\u2212"


def drawing(low=(-500.0, -100.0), high=(2000.0, 1500.0)) -> Drawing:
    ax = new_figure(8.0, 6.0).add_axes((0.1, 0.1, 0.8, 0.8))
    ax.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]))
    return Drawing(ax)


def wishes(of: Drawing) -> dict[str, tuple]:
    return {wish.text: (wish.at, wish.prefer) for wish in of.wishes}


def dots(of: Drawing) -> list[tuple[float, float, bool]]:
    """Places of markers, and whether they are filled: not with the colour of paper."""
    paper = to_hex(look.PAPER)
    return [
        (*(float(v[0]) for v in line.get_data()), to_hex(line.get_markerfacecolor()) != paper)
        for line in of.ax.lines
        if line.get_marker() not in ("None", "", None) and len(line.get_xdata()) == 1
    ]


def paths(of: Drawing, gid: str) -> list[list[list[float]]]:
    return [line.get_xydata().tolist() for line in of.ax.lines if line.get_gid() == gid]


# --- words of numbers and tools --------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(34.46, 1, "34.5 mm"), (-34.46, 0, f"{MINUS}34 mm"), (-0.04, 1, "0.0 mm"), (0.0, 0, "0 mm")],
)
def test_a_length_in_words(value, digits, text) -> None:
    assert side_drawing.millimetres(value, digits) == text


@pytest.mark.parametrize(
    ("lean", "words"),
    [
        (20.0, "straight edge 700 mm, 20 deg rearward"),
        (-25.0, "straight edge 700 mm, 25 deg forward"),
        (0.0, "straight edge 700 mm, upright"),
    ],
)
def test_an_edge_leans_rearward_or_forward(lean, words) -> None:
    pose = EdgePose.__new__(EdgePose)
    vars_of = {"lean_deg": lean, "length": 700.0}
    for name, value in vars_of.items():
        object.__setattr__(pose, name, value)
    assert side_drawing.edge_words(pose) == words


def line(status: str = "ok", **more: object) -> Part:
    held = {
        "name": "UBRL", "status": status, "x": 10.0, "z": 520.0, "edge_angle_deg": None,
        "formed": True, "reason": "", "pose": None,
    }  # fmt: skip
    return Part(**(held | more))


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (line(), ""),
        (line(reason="something"), "see note"),
        (line("not_reached", formed=False, reason="far"), ""),
        (line("edge_end"), "edge end: touched with the tip"),
        (line("open_end"), "open end: the surface beyond\ncould change it"),
        (line("underside_first"), "the edge meets the underside first"),
        (line("lower_end"), "lower end of the edge touches"),
        (line("wad_1000"), "WAD 1000 taken instead"),
        (line("retaken_40deg", edge_angle_deg=40.0), "retaken at 40 deg"),
    ],
)
def test_what_a_label_says_of_a_status(one, words) -> None:
    assert side_drawing.status_words(one, 1000.0) == words


@pytest.mark.parametrize(
    ("status", "note", "filled"),
    [("ok", "", True), ("edge_end", " (edge end)", False), ("open_end", " (open end)", False),
     ("lower_end", "", True)],
)  # fmt: skip
def test_a_point_is_hollow_where_more_may_stand_beyond(status, note, filled) -> None:
    made = drawing()
    assert side_drawing.draw_point(made, line(status)) == note
    assert dots(made) == [(10.0, 520.0, filled)]


# --- the side view of one station ------------------------------------------------------------


def station(**more: object) -> Part:
    held = {
        "y": 0.0, "bumper_lead": 80.0, "lead_open_end": False, "UBRL": line(),
        "BLERL": line(name="BLERL", x=90.0, z=790.0), "lines": (), "wads": (), "missing": (),
    }  # fmt: skip
    return Part(**(held | more))


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (station(), "Bumper lead 80 mm"),
        (station(lead_open_end=True), "Bumper lead 80 mm (open end)"),
        (station(bumper_lead=-30.0, BLERL=line(x=-20.0, z=790.0)), f"Bumper lead {MINUS}30 mm"),
        (station(bumper_lead=None), None),
        (station(UBRL=line(x=None)), None),
        (station(UBRL=line(z=None)), None),
        (station(BLERL=line(x=None)), None),
        (station(BLERL=line(z=None)), None),
    ],
)
def test_a_lead_is_drawn_between_its_lines(at, words) -> None:
    made = drawing()
    side_drawing._draw_lead(made, at)
    if words is None:
        assert not made.wishes
        return
    edge = at.BLERL
    assert wishes(made) == {words: (((10.0 + edge.x) / 2.0, 520.0), (1.0, -0.4))}
    # From the edge upright down to the height of the bumper line, and from there across.
    upright, across = made.segments[0][0].tolist(), made.segments[1:]
    assert upright == [[edge.x, 790.0], [edge.x, 520.0]]
    ends = {tuple(p) for seg in across for p in seg[0].tolist()}
    assert {(10.0, 520.0), (edge.x, 520.0)} <= ends
    # Too short for two arrow heads: they stand outside, one at either end.
    assert len(across) == (1 if edge.x > 50.0 else 2)
    assert {z for _, z in ends} == {520.0}


def test_what_is_missing_is_noted_once_a_reason() -> None:
    at = station(
        missing=("UBRL: no bumper", "LBRL: no bumper", "BRRL: no glass"),
        lines=(
            line(name="BLERL", reason="taken again"), line(name="LBRL"),
            line(name="SRL", formed=False, reason="not told here"),
        ),
    )  # fmt: skip
    assert side_drawing._note(at).splitlines() == [
        "Notes", "\u2022 UBRL, LBRL missing: no bumper", "\u2022 BRRL missing: no glass",
        "\u2022 BLERL: taken again",
    ]  # fmt: skip
    assert side_drawing._note(station()) == ""


def test_lines_say_height_setback_status_and_the_underside() -> None:
    other = line("underside_first", name="LBRL", x=40.0, z=330.4, other=(60.0, 250.0))
    at = station(lines=(
        other, line("open_end", x=-4.6), line(name="BLERL", x=None),
        line(name="BRRL", x=1300.0, z=990.0),
    ))  # fmt: skip
    lined = Part(rules=Part(value=lambda _: 1000.0))
    for only, drawn, shown in ((None, True, 4), (("BRRL",), False, 1)):
        made = drawing()
        side_drawing._draw_lines(made, lined, at, only, drawn=drawn)
        assert len(made.wishes) == shown
    made = drawing()
    side_drawing._draw_lines(made, lined, at, None, drawn=True)
    name = "Upper bumper reference line (UBRL)"
    assert wishes(made) == {
        "Lower bumper reference line (LBRL)\nheight 330 mm, setback 40 mm\nthe edge meets the "
        "underside first": ((40.0, 330.4), (-1.0, 0.15)),
        "the edge meets the\nunderside here first": ((60.0, 250.0), (1.0, -0.6)),
        f"{name}\nheight 520 mm, setback {MINUS}5 mm\nopen end: the surface beyond\ncould change it"
        ", so no interval": ((-4.6, 520.0), (-1.0, 0.15)),
        "Bonnet rear reference line (BRRL)\nheight 990 mm, setback 1300 mm": (
            (1300.0, 990.0), (1.0, -0.8),
        ),
    }  # fmt: skip
    made = drawing()
    side_drawing._draw_lines(made, lined, at, ("UBRL",), drawn=False)
    (words,) = wishes(made)
    assert "interval" not in words


def test_edges_are_cut_where_they_are_not_used_and_told_by_side() -> None:
    def pose(foot=(0.0, 100.0), tip=(0.0, 800.0), used=None, shortened=False) -> Part:
        return Part(foot=foot, tip=tip, used=used or (foot, tip), shortened=shortened,
                    length=700.0, lean_deg=0.0)  # fmt: skip

    whole, cut = (
        pose(foot=(0.0, 0.0), tip=(0.0, 700.0)),
        pose(used=((0.0, 150.0), (0.0, 800.0)), shortened=True),
    )
    made = drawing()
    side_drawing._draw_edges(made, [(line(), whole), (line(name="LBRL"), cut), (line(), cut)])
    edge = "straight edge 700 mm, upright"
    short = f"{edge}\nshortened where the body stands in its way"
    assert [(w.text, w.at, w.prefer) for w in made.wishes] == [
        (edge, pytest.approx((0.0, 70.0)), (-1.0, 0.0)),
        (short, pytest.approx((0.0, 100.0 + 0.93 * 700.0)), (-1.0, 0.4)),
        (f"{short}\nheld free of the ground", pytest.approx((0.0, 170.0)), (-1.0, 0.0)),
    ]
    drawn = [line.get_xydata().tolist() for line in made.ax.lines]
    assert drawn.count([[0.0, 100.0], [0.0, 150.0]]) == 2  # the part that is not used
    assert paths(made, "edge LBRL") == [[[0.0, 150.0], [0.0, 800.0]]]
    # A stroke across either end of the whole edge.
    assert [[14.0, 0.0], [-14.0, 0.0]] in drawn or [[-14.0, 0.0], [14.0, 0.0]] in drawn
    assert [[14.0, 700.0], [-14.0, 700.0]] in drawn or [[-14.0, 700.0], [14.0, 700.0]] in drawn


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, ""),
        ({"hollow": 0.049}, ""),
        ({"hollow": 0.05}, "\nacross a hollow, under 1 mm"),
        ({"hollow": 0.999}, "\nacross a hollow, under 1 mm"),
        ({"hollow": 1.0}, "\nacross a hollow, 1 mm deep"),
        ({"status": "open_end"}, "\nopen end"),
        ({"also_at": ((700.4, 801.0), (750.0, 805.0))}, "\nmet again at (700, 801), (750, 805)"),
    ],
)
def test_a_mark_of_the_tape_says_what_is_to_be_minded(more, words) -> None:
    held = {"hollow": 0.0, "status": "ok", "also_at": ()} | more
    path = Part(points=[(0.0, 0.0), (0.0, 500.0), (600.0, 800.0)], spans=(), along=(0.8, 0.6),
                hollow=held.pop("hollow"))  # fmt: skip
    mark = Part(name="WAD 1000", x=600.0, z=800.0, **held)
    for start, place in (
        ("vehicle", "foremost point of the whole front"), ("section", "foremost bumper point"),
    ):  # fmt: skip
        made = drawing()
        side_drawing._draw_tape(made, Part(tape_start=start), [(mark, path)])
        tape, told = made.wishes
        assert place in tape.text
        assert tape.at == pytest.approx((0.0, 150.0))
        assert told.text == f"WAD 1000\nheight 800 mm\nsetback 600 mm{words}"
        assert (told.at, told.prefer) == ((600.0, 800.0), (0.3, -1.0))
        (stroke,) = paths(made, "WAD 1000")
        ends = sorted(stroke)
        assert ends == [pytest.approx([600 - 24 * 0.6, 800 + 24 * 0.8]),
                        pytest.approx([600 + 24 * 0.6, 800 - 24 * 0.8])]  # fmt: skip
        assert len(dots(made)) == ("open end" in words)
    gone = Part(name="WAD 2500", x=None, z=None, status="not_reached", also_at=())
    made = drawing()
    side_drawing._draw_tape(made, Part(tape_start="section"), [(gone, path)])
    assert len(made.wishes) == 1


def test_runs_of_parts_meet_half_way() -> None:
    section = Section(
        np.array([(0.0, 100.0), (0.0, 200.0), (0.0, 300.0), (100.0, 300.0)]), 0.0,
        ("bumper", "bumper", "grille", "bonnet"),
    )  # fmt: skip
    runs = [(part, points.tolist()) for part, points in side_drawing.part_runs(section)]
    assert runs == [
        ("bumper", [[0.0, 100.0], [0.0, 200.0], [0.0, 250.0]]),
        ("grille", [[0.0, 250.0], [0.0, 300.0], [50.0, 300.0]]),
        ("bonnet", [[50.0, 300.0], [100.0, 300.0]]),
    ]
    bare = Section(section.points, 0.0)
    assert [(part, len(points)) for part, points in side_drawing.part_runs(bare)] == [("", 4)]


def test_places_asked_for_and_the_lead_from_line_to_line() -> None:
    at = station(
        lines=(line(), line(name="BLERL", x=90.0, z=790.0), line(name="LBRL", x=None)),
        wads=(line(name="WAD 1000", x=600.0, z=800.0),),
    )
    assert side_drawing._places(at, ["WAD 1000"]) == [(600.0, 800.0)]
    assert side_drawing._places(at, ["bumper lead"]) == [(10.0, 520.0), (90.0, 790.0)]
    assert side_drawing._places(at, ["LBRL"]) == [(0.0, 0.0)]


@pytest.mark.parametrize(
    ("only", "datum", "low", "high", "keys"),
    [
        (None, "common", (-40.0, 0.0), (900.0, 900.0), ["contour without labels", "taut tape"]),
        (("UBRL",), "local", (10.0, 520.0), (10.0, 520.0), ["contour without labels"]),
        (("WAD 900",), "common", (-40.0, 0.0), (600.0, 800.0),
         ["contour without labels", "taut tape"]),
    ],
)  # fmt: skip
def test_a_side_view_holds_what_is_asked_for(only, datum, low, high, keys) -> None:
    """All of the contour and the ground, or the places asked for alone, seen near."""
    section = Section(np.array([(200.0, 100.0), (0.0, 300.0), (0.0, 600.0), (900.0, 900.0)]), 0.0)
    path = Part(points=[(-40.0, 0.0), (-40.0, 500.0), (600.0, 800.0)], spans=(), along=(1.0, 0.0),
                hollow=0.0)  # fmt: skip
    mark = Part(name="WAD 900", x=600.0, z=800.0, status="ok", also_at=(), tape=path)
    rear = line(name="BRRL", x=None, z=None, status="not_reached", formed=False)
    at = station(lines=(line(), rear), wads=(mark,), BRRL=rear)
    lined = Part(
        front=Part(section=lambda _: section, datum=datum), tape_start="section",
        rules=Part(value=lambda _: 1000.0),
    )  # fmt: skip
    ax = drawing().ax
    handles = side_drawing.draw_side(ax, lined, at, only=only)
    assert [handle.get_label() for handle in handles] == keys
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    assert x0 <= low[0]
    assert x1 >= high[0]
    assert y0 <= low[1]
    assert y1 >= high[1]
    if only == ("UBRL",):
        assert y0 > 0.0  # the ground is not asked for
        assert x1 - x0 < 100.0
    where = ax.get_xlabel()
    assert ("anew at each station" in where) == (datum == "local")
    assert ("common to all stations" in where) == (datum == "common")
    texts = {text.get_text().splitlines()[0] for text in ax.texts if text.get_text()}
    assert any(text.startswith("Bumper lead") for text in texts) == (only is None)
    assert ("Upper bumper reference line (UBRL)" in texts) == (only in {None, ("UBRL",)})


# --- the face ---------------------------------------------------------------------------------


def face(**more: object) -> Part:
    held = {
        "mean_face_angle_deg": 3.26, "recess": None, "not_seen": (), "undercut_mm": None,
        "overhang_mm": 12.0,
    }  # fmt: skip
    return Part(**(held | more))


LEANS = "Face leans 3.3 deg rearward on average"


@pytest.mark.parametrize(
    ("one", "lines"),
    [
        (face(), [LEANS, "No recess between two lips"]),
        (face(not_seen=("recess",)), [LEANS, "Recess not seen from the side"]),
        (face(mean_face_angle_deg=0.0), ["Face leans 0.0 deg rearward on average",
                                         "No recess between two lips"]),
        (face(mean_face_angle_deg=-3.26), ["Face leans 3.3 deg forward on average",
                                           "No recess between two lips"]),
        (face(recess=(1.0, 2.0), undercut_mm=5.0), [LEANS]),
        (face(recess=(1.0, 2.0), undercut_mm=None), [LEANS]),
        (face(recess=(1.0, 2.0), undercut_mm=0.0),
         [LEANS, "No undercut: the lower lip stands", "0.0 mm forward of the upper lip"]),
        (face(recess=(1.0, 2.0), undercut_mm=-4.0),
         [LEANS, "No undercut: the lower lip stands", "4.0 mm forward of the upper lip"]),
        (face(recess=(1.0, 2.0), overhang_mm=0.0), [LEANS, "Leans forward of vertical nowhere"]),
        (face(recess=(1.0, 2.0), overhang_mm=0.0, not_seen=("overhang",)), [LEANS]),
    ],
)  # fmt: skip
def test_a_face_in_words(one, lines) -> None:
    assert side_view._words(one).splitlines() == lines


@pytest.mark.parametrize(
    ("y", "words"),
    [
        (0.0, "side view at station 0 mm (centre plane)"),
        (300.0, "side view at station 300 mm (right)"),
        (-120.5, f"side view at station {MINUS}120.5 mm (left)"),
    ],
)
def test_a_title_says_on_which_side_it_is(y, words) -> None:
    title = side_view._title(Part(front=Part(name="Plover")), Part(y=y))
    assert title == f"Plover: {words}"


# --- a person's leg ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("above", "later", "words"),
    [
        (0.0, 0.0, "first: shin, 300 mm up,\n0 mm above the knee"),
        (-12.0, 0.0, "first: shin, 300 mm up,\n12 mm below the knee"),
        (12.0, 17.0, "first: shin, 300 mm up,\n12 mm above the knee, 17 mm later"),
    ],
)
def test_a_touch_and_its_side_of_the_knee(above, later, words) -> None:
    touch = Part(place="shin", z=300.0, above_knee_mm=above)
    assert leg_figure._touch_words("first", touch, later) == words

"""People, legforms and what all figures share, in rare cases: what is drawn where, what is said.

Read off before labels are placed, or by group id; worked out by hand, own choice; lengths in mm.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest
from pictures.test_rare_labels import dots, drawing, paths, wishes

from frontcheck.body.person_motion import PersonMotion, Spread
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import leg_figure, motion_figure
from frontcheck.surface.section import Section


def axes(width: float = 8.0, height: float = 6.0):
    return look.new_figure(width, height).add_axes((0.1, 0.1, 0.8, 0.8))


# --- the load on a leg ---------------------------------------------------------------------------


def load(**more: object) -> Part:
    depth = np.linspace(0.0, 100.0, 101)
    held = {
        "depth": depth, "height": np.full(101, 500.0), "knee": 480.0, "half_band": 50.0,
        "below": np.full(101, 0.5), "across": np.full(101, 0.45), "above": np.full(101, 0.05),
    }  # fmt: skip
    return Part(**(held | more))


RISES = np.linspace(300.0, 700.0, 101)


@pytest.mark.parametrize(
    ("height", "left", "above"),
    [
        (RISES, False, False), (RISES[::-1], True, False), (RISES - 120.0, True, True),
        (RISES[::-1] - 120.0, False, True),
        (np.full(101, 500.0), True, False), (np.full(101, 460.0), True, True),
    ],
)  # fmt: skip
def test_the_knee_is_named_where_the_curve_is_farthest(height, left, above) -> None:
    """Four places: either half of the depth, above or below the line of the knee."""
    ax = axes()
    leg_figure.draw_load_height(ax, load(height=height), Part(name="man p50"), 60.0)
    low, high = ax.get_ylim()
    rise = 0.06 * (high - low)
    clear = {
        (is_left, up): min(abs(z - 480.0 - (rise if up else -rise))
                           for d, z in zip(load().depth, height, strict=True)
                           if (d < 50.0 if is_left else d > 50.0))
        for is_left in (True, False) for up in (True, False)
    }  # fmt: skip
    assert clear[left, above] == max(clear.values())
    (text,) = ax.texts
    assert text.get_text() == "knee of man p50, \u00b150 mm"
    assert (text.get_ha(), text.get_va()) == ("left" if left else "right",
                                              "bottom" if above else "top")  # fmt: skip
    x, z = text.get_position()
    assert x == (2.0 if left else 98.0)
    assert np.sign(z - 480.0) == (1.0 if above else -1.0)


def test_limits_of_the_load_hold_curve_and_knee_band() -> None:
    for height, ends in ((RISES, (240.0, 760.0)), (np.full(101, 480.0), (370.0, 590.0))):
        ax = axes()
        leg_figure.draw_load_height(ax, load(height=height), Part(name="x"), 60.0)
        assert ax.get_ylim() == pytest.approx(ends)
        assert ax.get_xlim() == (0.0, 100.0)
        depths = [line.get_xdata()[0] for line in ax.lines if set(line.get_xdata()) == {60.0}]
        assert len(depths) == 1


@pytest.mark.parametrize(("depth", "at"), [(60.0, 23.0), (23.0, 44.0), (90.0, 23.0)])
def test_shares_are_named_where_they_are_wide_enough(depth, at) -> None:
    """Within 22 to 78 of 100 mm, 20 mm off the depth that is shown, and only above 12 %."""
    ax = axes()
    leg_figure.draw_shares(ax, load(), depth)
    names = {text.get_text(): text.get_position() for text in ax.texts}
    assert names == {
        "below the knee band": (at, pytest.approx(25.0)), "across it": (at, pytest.approx(72.5)),
    }  # fmt: skip
    tops = [line.get_ydata()[0] for line in ax.lines[:3]]
    assert tops == pytest.approx([50.0, 95.0, 100.0])
    assert ax.get_ylim() == (0.0, 100.0)
    ax = axes()
    border = load(below=np.full(101, 0.12), across=np.full(101, 0.121), above=np.full(101, 0.759))
    leg_figure.draw_shares(ax, border, depth)
    assert {text.get_text() for text in ax.texts} == {"across it", "above it"}


def height(value: float | None, band=None, *, from_fraction: bool = False) -> Part:
    return Part(value_mm=value, band_mm=band, from_fraction=from_fraction)


def test_heights_of_a_person_that_are_known() -> None:
    """Links are as wide as shares of stature: shin 0.055, thigh 0.075, trunk 0.11, by eye."""
    heights = {
        "stature": height(1000.0), "knee": height(280.0), "hip": height(500.0, from_fraction=True),
        "waist": height(None), "centre of mass": height(560.0, (540.0, 580.0)),
    }  # fmt: skip
    person = Part(stature=Part(known=lambda: 1000.0), heights=heights)
    made = drawing()
    leg_figure._label_body(made, person, 100.0)
    edge = pytest.approx(100.0 - 1.15 * 110.0)
    left = (-1.0, 0.0)
    told = wishes(made)
    assert told == {
        "knee 280 mm": ((edge, 280.0), left), "hip 500 mm*": ((edge, 500.0), left),
        "centre of mass 540 to 580 mm": ((edge, 560.0), left),
        "stature 1000 mm": ((pytest.approx(45.0), 1000.0), left),
        "* fraction of stature": (None, (-1.0, -1.0)),
    }  # fmt: skip
    assert [(x, z) for x, z, _ in dots(made)] == [
        (pytest.approx(100.0 - 27.5), 280.0), (pytest.approx(100.0 - 37.5), 500.0),
    ]  # fmt: skip
    lines = [line.get_xydata().tolist() for line in made.ax.lines if len(line.get_xdata()) == 2]
    assert [[45.0, 540.0], [45.0, 580.0]] in [np.round(one, 9).tolist() for one in lines]
    assert len(lines) == 3  # no leader from the name of the knee, which has a line of its own
    heights["hip"] = height(500.0)
    made = drawing()
    leg_figure._label_body(made, person, 100.0)
    assert "* fraction of stature" not in wishes(made)


def touch(place: str, x: float, z: float, above: float) -> Part:
    return Part(place=place, x=x, z=z, above_knee_mm=above)


@pytest.mark.parametrize("later", [17.0, None])
def test_touches_and_bumper_lines_beside_a_leg(later) -> None:
    second = touch("thigh", 5.0, 700.0, 220.0)
    met = Part(first=touch("shin", 0.0, 330.0, -150.0), second=second, later_mm=later)
    station = Part(
        LBRL=Part(name="LBRL", x=9.0, z=300.0, status="open_end"),
        UBRL=Part(name="UBRL", x=None, z=520.0, status="not_reached"),
    )
    made = drawing()
    leg_figure._label_front(made, station, Part(met=met))
    told = wishes(made)
    first = "first: shin, 330 mm up,\n150 mm below the knee"
    following = "next: thigh, 700 mm up,\n220 mm above the knee, 17 mm later"
    expected = {
        first: ((0.0, 330.0), (1.0, -0.2)),
        "LBRL 300 mm (open end)": ((9.0, 300.0), (1.0, 0.3)),
    }
    if later is not None:
        expected[following] = ((5.0, 700.0), (1.0, -0.2))
    assert told == expected
    assert (9.0, 300.0, False) in dots(made)


def person_from(**knee: object) -> Part:
    held = {"from_fraction": False, "provenance": "from memory", "source": "A book: page 3"} | knee
    return Part(words="1750 mm tall", knee=Part(**held))


@pytest.mark.parametrize(
    ("person", "words"),
    [
        (person_from(), "1750 mm tall; from A book"),
        (person_from(from_fraction=True), "1750 mm tall; shares of stature, from memory"),
    ],
)
def test_where_heights_of_a_person_are_from(person, words) -> None:
    assert leg_figure._source(person) == words


FORM = Part(name="legform", knee_height_mm=500.0, low_mm=25.0, high_mm=950.0)
PLAIN = Section(np.array([(200.0, 100.0), (0.0, 300.0), (0.0, 600.0), (900.0, 900.0)]), 0.0)


@pytest.mark.parametrize(
    ("refused", "at", "said", "words"),
    [
        ("", (0.0, 300.0), "", None), ("", (0.0, 300.0), "Neither is ahead.", "Neither is ahead."),
        ("the bumper is high", (0.0, 300.0), "One is ahead.", "One is ahead."),
        ("the bumper is high", None, "One is ahead.", "The bumper is high"),
        ("", None, "", "The front has nothing at its height"),
    ],
)  # fmt: skip
def test_a_legform_apart_or_why_there_is_none(refused, at, said, words) -> None:
    ax = axes(3.0, 3.0)
    bands = ((300.0, 420.0),) if at else ()
    found = Part(legform=FORM, legform_touch=at, here=Part(depth=np.array([60.0])), refused=refused,
                 legform_bands=bands)  # fmt: skip
    leg_figure._draw_legform(ax, PLAIN, found, said)
    told = [text.get_text() for text in ax.texts if text.get_gid() == "said"]
    assert told == ([words] if words else [])
    pieces = [
        patch.get_bbox().extents.tolist() for patch in ax.patches if patch.get_gid() == "legform"
    ]
    assert pieces == ([[-70.0, 25.0, 0.0, 500.0], [-70.0, 500.0, 0.0, 950.0]] if at else [])
    labels = {text.get_text() for text in ax.texts if text.get_gid() == look.LABEL}
    assert labels == ({
        "top 950 mm", "knee 500 mm", "foot 25 mm", "touched 300 mm\nto 420 mm, 60 in",
        "first touch\n300 mm up",
    } if at else set())  # fmt: skip
    assert ax.get_title(loc="left") == "Apart: the legform, no person"


# --- people who are struck -----------------------------------------------------------------------


def frames(contact=(900.0, 800.0), last: float = 60.0) -> Part:
    return Part(
        times_ms=np.array([-1.0, 0.0, 30.0, last]), contact_mm=contact,
        circles_mm=np.array([[[0.0, 500.0]], [[0.0, 500.0]], [[100.0, 600.0]], [[300.0, 700.0]]]),
        radii_mm=np.array([50.0]), spanned=((0,),), head_radius_mm=80.0,
        head_mm=np.array([[0.0, 1600.0], [0.0, 1600.0], [200.0, 1400.0], [700.0, 1000.0]]),
        centre_of_mass_mm=np.array([[0.0, 900.0], [0.0, 900.0], [50.0, 900.0], [90.0, 900.0]]),
    )  # fmt: skip


def study(of: Part | None, reason: str = "", edge=(80.0, 790.0)) -> Part:
    side = Part(section=PLAIN, station=Part(y=0.0, BLERL=Part(point=edge)))
    return Part(
        sides=(side,), frames=((of,),), motions=((Part(reason=reason, wad_mm=None),),),
        bands=(), changes=(),
    )  # fmt: skip


def strip(made: Part, shown) -> object:
    ax = axes(6.0, 4.0)
    motion_figure._draw_strip(ax, made, 0, 0, [shown])
    return ax


def said(ax) -> list[str]:
    return [" ".join(text.get_text().split()) for text in ax.texts if text.get_text()]


def test_a_person_over_a_front_from_pale_to_dark() -> None:
    ax = strip(study(frames()), [1, 2, 3])
    assert sorted(said(ax)) == sorted(["leading edge 790 mm up", "0 ms", "30 ms", "60 ms"])
    bodies = [patch for patch in ax.patches if patch.get_gid() == "person"]
    assert [patch.get_path().get_extents().x0 for patch in bodies] == pytest.approx(
        [-50.0, 50.0, 250.0], abs=0.5
    )
    tones = [sum(patch.get_facecolor()[:3]) for patch in bodies]
    assert tones == sorted(tones, reverse=True)
    (path,) = [line for line in ax.lines if line.get_gid() == "path of the head"]
    assert path.get_xydata().tolist() == [[0.0, 1600.0], [200.0, 1400.0], [700.0, 1000.0]]
    stars = [line.get_xydata().tolist() for line in ax.lines if line.get_marker() == "*"]
    assert stars == [[[900.0, 800.0]]]


@pytest.mark.parametrize(
    ("made", "shown", "words"),
    [
        (study(None, edge=None), [], ["Not drawn: nothing is touched in any case."]),
        (study(None, "no face", None), [], ["Not drawn: no face."]),
        (study(frames(None), "too far", None), [3],
         ["60 ms", "No place of the head is given: too far."]),
        (study(frames(None), "", None), [1], ["0 ms"]),
    ],
)  # fmt: skip
def test_what_is_not_drawn_is_said_and_why(made, shown, words) -> None:
    ax = strip(made, shown)
    assert sorted(said(ax)) == sorted(words)
    assert not [line for line in ax.lines if line.get_marker() in {"*", "D"}]


def test_one_scale_for_all_strips_holds_front_and_person() -> None:
    """Front from 0 to 900; the circle from -50 at first to 350, and up to 750 at the end."""
    box = motion_figure._box
    assert box(study(None), 0, [[]]) == (0.0, 0.0, 900.0, 900.0)
    assert box(study(frames()), 0, [[1, 3]]) == (-50.0, 0.0, 900.0, 900.0)
    high = frames()
    high.circles_mm = high.circles_mm + np.array([800.0, 300.0])
    assert box(study(high), 0, [[1, 3]]) == (0.0, 0.0, 1150.0, 1050.0)


@pytest.mark.parametrize(
    ("of", "labels"),
    [
        (None, ["bonnet leading edge reference line"]),
        (frames(None), ["path of the head", "centre of mass (balance point)",
                        "bonnet leading edge reference line"]),
        (frames(), ["path of the head", "head touches the front", "centre of mass (balance point)",
                    "bonnet leading edge reference line"]),
    ],
)  # fmt: skip
def test_keys_of_what_is_drawn_above(of, labels) -> None:
    assert [key.get_label() for key in motion_figure._motion_keys(study(of), 0)] == labels


def test_keys_of_the_bars_and_parts_that_occur() -> None:
    shares = {"pushed": 1.0}
    given = PersonMotion(
        "man p50", 1.0, 1.0, 0.0, "undecided", shares, wad_mm=Spread(1.0, 0.0, 2.0)
    )
    none = PersonMotion("man p50", 1.0, 1.0, 0.0, "undecided", shares)
    bands = ((Part(place="windscreen"), Part(place="bonnet")), (Part(place="bonnet"),))
    made = Part(motions=((none,), (given,)), bands=bands)
    keys = motion_figure._bar_keys(made, ["One", "Two"])
    assert [key.get_label() for key in keys] == ["heads on Two", "bonnet", "windscreen"]


# --- what all figures share ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "width", "shown"),
    [("one\n two", 20, "one two"), ("12345", 5, "12345"), ("123456", 5, "12..."),
     ("1 3456", 5, "1..."), ("a\u6771b", 9, "a?b")],
)  # fmt: skip
def test_a_users_text_in_a_headline(text, width, shown) -> None:
    assert look.printable(text, width) == shown


def test_how_much_of_a_rule_set_is_the_users_own() -> None:
    rules = Part(id="X", title="Title", changed=())
    assert look.rules_words(rules, 60) == "Rule set X: Title"
    rules.changed = ("a", "b")
    assert look.rules_words(rules, 60) == "Rule set X: Title, with 2 constants set by the user"


def test_a_dimension_line_has_its_heads_inside_or_outside() -> None:
    """Between two places more than 14 pt apart; else from 12 pt outside; none below half a pt."""
    made = drawing((0.0, 0.0), (640.0, 480.0))  # a mm of the axes is 0.72 pt
    made.span((100.0, 100.0), (200.0, 100.0), look.INK)
    (inside,) = made.ax.texts
    assert (inside.xyann, inside.xy) == ((100.0, 100.0), (200.0, 100.0))
    made = drawing((0.0, 0.0), (640.0, 480.0))
    made.span((100.0, 100.0), (110.0, 100.0), look.INK)
    first, second = made.ax.texts
    reach = 12.0 / 0.72
    assert tuple(first.xy) == (100.0, 100.0)
    assert tuple(first.xyann) == pytest.approx((100.0 - reach, 100.0))
    assert tuple(second.xy) == (110.0, 100.0)
    assert tuple(second.xyann) == pytest.approx((110.0 + reach, 100.0))
    made.span((100.0, 100.0), (100.1, 100.0), look.INK)
    assert len(made.ax.texts) == 2


def test_labels_point_at_their_place_and_notes_do_not() -> None:
    made = drawing((0.0, 0.0), (640.0, 480.0))
    made.line([(0.0, 240.0), (640.0, 240.0)], look.Stroke(look.INK, 1.0), gid="level")
    made.label("place", (300.0, 250.0), prefer=(0.0, 1.0))
    made.label("note", None, prefer=(-1.0, -1.0))
    made.label("", (1.0, 1.0))
    made.finish()
    texts = {text.get_text(): text for text in made.ax.texts}
    assert set(texts) == {"place", "note"}
    assert (texts["place"].get_gid(), texts["note"].get_gid()) == (look.LABEL, look.NOTE)
    assert texts["place"].get_position()[1] > 250.0
    assert max(texts["note"].get_position()) < 20.0
    (leader,) = paths(made, look.LEADER)
    assert leader[0] == [300.0, 250.0]
    assert not made.wishes


def test_the_way_of_many_points_is_thinned_to_some_pixels() -> None:
    """What labels keep off: within 2 px of the way itself, and far fewer places."""
    made = drawing((0.0, -240.0), (640.0, 240.0))
    x = np.linspace(0.0, 640.0, 3000)
    way = np.column_stack([x, 100.0 * np.sin(x / 80.0)])
    made.avoid(way)
    thin = made._coarse(made.segments[0])
    assert len(thin) < 200
    assert thin[0, 0].tolist() == pytest.approx(way[0].tolist())
    assert thin[-1, 1].tolist() == pytest.approx(way[-1].tolist())
    assert (thin[1:, 0] == thin[:-1, 1]).all()
    off = np.abs(thin[:, 0, 1] - 100.0 * np.sin(thin[:, 0, 0] / 80.0))
    assert off.max() < 1e-6
    few = made.segments[0][:1000]
    assert made._coarse(few) is few

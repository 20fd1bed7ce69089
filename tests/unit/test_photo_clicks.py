"""Clicks that are none are refused by number and key; what a side photo hides is never known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from finding_sides import check_sides

import frontcheck as fc
from frontcheck.errors import InputError
from frontcheck.findings.finding_rules import RULES, WORDS
from frontcheck.outputs.text.first_screen import face_words
from frontcheck.reading.photo import point_uncertainty

GOOD = fc.PhotoClicks(
    ground=((0, 1100), (1100, 1100)),
    corners=((50, 1100), (850, 1100), (850, 300), (50, 300)),
    board_mm=(1000, 1000),
    outline=(
        (980, 870), (932, 836), (928, 760), (925, 700), (920, 660), (932, 615), (960, 560),
        (975, 500), (1010, 440), (1160, 400), (1500, 360), (1800, 330), (2000, 230), (2200, 130),
    ),
)  # fmt: skip
OUTLINE = list(GOOD.outline)


def with_click(key, i, click):
    clicks = list(getattr(GOOD, key))
    clicks[i] = click
    return {key: clicks}


REFUSED = {
    "no list": ({"outline": 7}, "photo.clicks", "key outline: found 7"),
    "nothing": ({"ground": None}, "photo.clicks", "key ground: found None"),
    "text": ({"corners": "abcd"}, "photo.clicks", "key corners: found 'abcd'"),
    "a set": ({"ground": {(0, 1), (2, 3)}}, "photo.clicks", "key ground: found {"),
    "one ground point": ({"ground": GOOD.ground[:1]}, "photo.points", "found 1 points; expected 2"),
    "five corners": ({"corners": (*GOOD.corners, (1, 1))}, "photo.points", "expected 4"),
    "two points": ({"outline": OUTLINE[:2]}, "photo.points", "found 2 points; expected 3 or more"),
    "too many": ({"outline": OUTLINE * 72}, "photo.points", "found 1008 points; expected 3 or"),
    "ragged": (with_click("outline", 3, (1.0, 2.0, 3.0)), "photo.pair", "row 4, key outline"),
    "one value": (with_click("outline", 3, (1.0,)), "photo.pair", "row 4, key outline"),
    "a number": (with_click("corners", 1, 5.0), "photo.pair", "row 2, key corners: found 5.0"),
    "a word": (with_click("outline", 0, ("12", 3)), "photo.value", "row 1, key outline"),
    "none": (with_click("ground", 1, (None, 3)), "photo.value", "row 2, key ground: found None"),
    "truth": (with_click("ground", 0, (True, 3)), "photo.value", "found True"),
    "complex": (with_click("outline", 0, (1j, 3)), "photo.value", "found 1j"),
    "nan": (with_click("outline", 2, (math.nan, 3)), "photo.value", "row 3, key outline"),
    "inf": (with_click("outline", 2, (3, -math.inf)), "photo.value", "found -inf"),
    "huge": (with_click("outline", 2, (3, 10**400)), "photo.value", "finite number of 1e+06"),
    "large": (with_click("corners", 2, (3, 2e6)), "photo.value", "row 3, key corners"),
    "array nan": ({"outline": np.full((4, 2), np.nan)}, "photo.value", "row 1, key outline"),
    "array flat": ({"outline": np.zeros(4)}, "photo.pair", "row 1, key outline"),
    "reversed": ({"corners": GOOD.corners[::-1]}, "photo.corners", "in this order"),
    "crossed": (
        {"corners": [GOOD.corners[i] for i in (0, 2, 1, 3)]}, "photo.corners", "in this order"
    ),
    "collinear": (with_click("corners", 2, (450, 700)), "photo.corners", "three of them in"),
    "all in line": (
        {"corners": [(0, 0), (100, 0), (200, 0), (300, 0)]}, "photo.corners", "three of them"
    ),
    "one place": ({"corners": [(5, 5)] * 4}, "photo.corners", "three of them"),
    "small": ({"corners": ((0, 40), (40, 40), (40, 0), (0, 0))}, "photo.board", "40 px"),
    "board of one": ({"board_mm": (600,)}, "photo.pair", "key board_mm: found (600,)"),
    "board of nothing": ({"board_mm": (600, 0)}, "photo.number", "key board_mm: found 0.0"),
    "board of words": ({"board_mm": ("600", 600)}, "photo.value", "key board_mm: found '600'"),
    "negative": ({"off_plane_mm": -1}, "photo.number", "key off_plane_mm: found -1"),
    "no distance": ({"distance_mm": 0.0}, "photo.number", "a number from 500 to 1e+06"),
    "nan distance": ({"distance_mm": math.nan}, "photo.number", "found nan"),
    "word distance": ({"distance_mm": "5 m"}, "photo.number", "found '5 m'"),
    "no click": ({"click_px": None}, "photo.number", "key click_px: found None"),
    "facing": ({"facing": "up"}, "photo.facing", "key facing: found 'up'"),
    "facing list": ({"facing": ["left"]}, "photo.facing", "found ['left']"),
    "parts text": ({"parts": "bonnet"}, "photo.parts", "found 'bonnet'; expected a list of 14"),
    "parts short": ({"parts": ["bonnet"]}, "photo.parts", "found 1 parts; expected a list of 14"),
    "parts numbers": ({"parts": [1] * 14}, "photo.parts", "expected a list of 14 parts"),
    "part unknown": ({"parts": ["hood"] * 14}, "photo.contour", "row 1, key outline: found part"),
    "ground together": ({"ground": (GOOD.ground[0],) * 2}, "photo.ground_near", "key ground"),
    "ground high": ({"ground": ((0, 900), (1100, 900))}, "photo.ground", "off the line"),
    "ground upright": ({"ground": ((50, 1100), (50, 300))}, "photo.ground", "off the line"),
    "twice": (with_click("outline", 4, OUTLINE[3]), "photo.contour", "row 5, key outline"),
    "below ground": (with_click("outline", 0, (980, 1200)), "photo.contour", "row 1, key outline"),
    "far away": (with_click("outline", 13, (9e5, 300)), "photo.contour", "beyond 100 m"),
    "too long": (with_click("outline", 13, (14e3, 300)), "front.size", "found"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_its_place(name):
    change, code, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        fc.front_from_photo(replace(GOOD, **change))
    assert caught.value.code == code
    assert words in str(caught.value)
    assert "; expected " in str(caught.value)


def test_click_beyond_the_horizon_is_refused_by_its_number():
    # A board seen so steeply that its plane ends within the picture, 900 px to the right.
    steep = {
        "corners": ((0, 1000), (400, 800), (400, 500), (0, 300)),
        "ground": ((0, 1000), (200, 900)),
        "outline": [(300, 600), (310, 500), (2000, 400), (2400, 390)],
    }
    with pytest.raises(InputError, match=r"row 3, key outline: found a point next to or beyond"):
        fc.front_from_photo(replace(GOOD, **steep))


def test_picture_may_be_anywhere_in_pixels():
    # Only differences count: the origin of the picture may lie on the horizon of the board's plane.
    one = fc.front_from_photo(GOOD).section(0).points
    moved = {
        key: tuple((c + 5e5, r - 7e5) for c, r in getattr(GOOD, key))
        for key in ("ground", "corners", "outline")
    }
    assert fc.front_from_photo(replace(GOOD, **moved)).section(0).points == pytest.approx(
        one, abs=1e-5
    )


def test_lists_and_arrays_are_taken_as_tuples():
    arrays = {key: np.array(getattr(GOOD, key)) for key in ("ground", "corners", "outline")}
    assert replace(GOOD, **arrays) == GOOD
    assert hash(replace(GOOD, **arrays)) == hash(GOOD)


def test_clicks_far_from_the_board_are_named():
    near = replace(GOOD, outline=OUTLINE[1:10])
    assert fc.front_from_photo(near).reader_cautions == ()
    small = ((650, 1100), (890, 1100), (890, 860), (650, 860))
    front = fc.front_from_photo(replace(GOOD, corners=small, board_mm=(300, 300)))
    # 300 mm are 240 px: the 11th click is 610 px beside and 500 px above the board, 789 px off.
    said = " ".join(front.reader_cautions)
    assert "4 clicks of the outline, from number 11 on, are more than 3 board widths" in said
    assert "smaller than 600 mm" in said
    assert said in front.notes
    assert said.split(". ")[0] in " ".join(fc.screen(front).cautions)


def test_clicks_that_are_unsure_are_named():
    # The first faces down and is seen from a camera 0.9 m above it; the last is far from the board.
    (said,) = fc.front_from_photo(GOOD).reader_cautions
    named = [int(word.strip(",.")) for word in said.rpartition(": ")[2].split()]
    u = point_uncertainty(GOOD).max(axis=1)
    assert named == [i + 1 for i in range(len(u)) if u[i] > 25.0]
    assert 0 < len(named) < len(u)


def test_board_that_does_not_stand_on_the_ground_line_is_named():
    raised = replace(GOOD, ground=((0, 1130), (1100, 1130)))
    said, *_ = fc.front_from_photo(raised).reader_cautions
    assert "38 mm above the line of the ground points" in said  # 30 px of 1.25 mm
    points = fc.front_from_photo(GOOD).section(0).points
    assert fc.front_from_photo(raised).section(0).points == pytest.approx(points)


# What is hidden from the side.


@pytest.fixture(scope="module")
def seen():
    """The screening of an outline without any recess, down to the lowest of the face."""
    return fc.screen(fc.front_from_photo(GOOD, "Plover"), wad=(1000, 1500))


@pytest.fixture(scope="module")
def cut(seen):
    """The same points, measured."""
    section = replace(seen.front.section(0), silhouette=False)
    return fc.screen(replace(seen.front, sections=(section,)), wad=(1000, 1500))


def test_lower_bumper_line_of_an_outline_is_never_known(seen, cut):
    line = seen.station(0).LBRL
    assert (line.status, "lower lip is not seen" in line.reason) == ("open_end", True)
    assert seen.station(0).legform is None
    for name in ("UBRL", "BLERL"):
        assert getattr(seen.station(0), name).point == getattr(cut.station(0), name).point
    drawn = fc.tolerance(seen.front, "UN-R127-02", draws=200).station(0).line("LBRL")
    assert drawn.z is None
    assert drawn.share("open_end") == 1.0


def test_tape_is_not_said_to_lie_on_the_skin(seen, cut):
    for n in (1000, 1500):
        mark, measured = seen.station(0).wad(n), cut.station(0).wad(n)
        assert (mark.x, mark.z) == (measured.x, measured.z)
        assert measured.bridged is False
        assert mark.bridged is None
        assert "not seen" in mark.reason


def test_no_recess_is_not_said(seen, cut):
    assert cut.front.section(0).face.recess is None
    assert "no recess" in face_words(cut)
    assert "no recess" not in face_words(seen)
    assert "recess not seen" in face_words(seen)
    entry = seen.to_dict()["stations"][0]["face"]
    assert entry["recess_mm"] is None
    assert entry["not_seen"] == ["recess", "lower lip"]
    assert "not_seen" not in cut.to_dict()["stations"][0]["face"]
    changes = fc.compare(seen, cut).to_frame()
    why = changes.loc[(0.0, "recess_depth_mm"), "not_comparable"]
    assert "A: a recess is not seen from the side" in why
    assert "B: the face has no recess" in why


def test_finding_says_what_is_not_seen(seen, cut):
    (gap,) = check_sides("GAP-NOT-SEEN", seen.findings, cut.findings)
    hidden = [code for code in RULES if WORDS[code].get("hidden")]
    assert "LEG-SPLIT-CONTACT" in hidden
    assert all(code in gap.message for code in hidden)
    for found in seen.findings:
        if found.code in hidden:
            assert found.aside
            assert "not seen" in found.message
        elif "LBRL" in WORDS[found.code].get("lines", ()):
            assert found.aside
    told = {code for line in seen.answer.lines for code in line.findings}
    assert "GAP-NOT-SEEN" in told
    assert told.isdisjoint(hidden)
    assert any("not seen" in text for text in seen.answer.cannot_say)
    assert not any("lip is here" in text for text in seen.answer.cannot_say)


def test_every_result_carries_what_is_not_seen(seen, cut):
    person = fc.person_of_stature(1700)
    of_it = {
        "screening": seen.all_cautions(),
        "comparison": fc.compare(seen, cut).cautions,
        "leg": fc.leg([seen], person, [0]).cautions,
        "motion": fc.motion(seen, people=fc.PEOPLE[:1], draws=20).cautions,
        "tolerance": fc.tolerance(seen.front, "UN-R127-02", draws=200).cautions,
    }
    for name, cautions in of_it.items():
        assert any("Where no recess shows, there may be one" in text for text in cautions), name
    bases = [m.basis for m in fc.leg([seen], person, [0]).stations[0].fronts[0].contact.members]
    assert not any("no recess" in basis for basis in bases)
    assert any("not seen: a recess" in basis for basis in bases)


def test_plan_shape_is_not_seen(seen):
    with pytest.raises(LookupError, match="plan shape is not seen"):
        seen.front.surface()
    for line in seen.zones.lines:
        assert line.status == "not_available"
        assert "not seen" in line.reason


# Through an offset table and back: its writer needs one line, `# silhouette: yes`.


def table(front, **header):
    survey, section = front.survey, front.section(0)
    keys = {
        "name": front.name,
        "datum": "common",
        "symmetric": "no",
        "silhouette": "yes" if front.silhouette else "",
        "datum_u": f"{survey.datum_u_mm} mm",
        "square_tilt_u_deg": f"{survey.square_tilt_u_deg}",
        "ground_slope_u_deg": f"{survey.ground_slope_u_deg}",
        "ride_height_u": f"{survey.ride_height_u_mm} mm",
        "scale_u": f"{survey.scale_u_percent} %",
        "error_length": f"{survey.error_length_mm} mm",
        "notes": front.notes,
        **header,
    }
    lines = [f"# {key}: {text}" for key, text in keys.items() if text]
    lines.append("station_mm;height_mm;setback_mm;height_u_mm;setback_u_mm")
    rows = np.column_stack([section.z, section.x, section.height_u, section.setback_u])
    lines += ["0;" + ";".join(map(repr, row)) for row in rows.tolist()]
    return "\n".join(lines) + "\n"


def test_it_reads_back_from_an_offset_table(seen, tmp_path):
    path = tmp_path / "plover.csv"
    path.write_text(table(seen.front), encoding="utf-8")
    back = fc.read_front(path)
    assert back.silhouette
    assert back.survey == seen.front.survey
    assert back.notes == seen.front.notes
    for name in ("points", "height_u", "setback_u"):
        assert getattr(back.section(0), name) == pytest.approx(getattr(seen.front.section(0), name))
    again = fc.screen(back, wad=(1000, 1500))
    assert again.station(0).LBRL.status == "open_end"
    assert again.station(0).wad(1000).bridged is None
    assert any(found.code == "GAP-NOT-SEEN" for found in again.findings)


def test_it_stays_through_what_makes_sections_anew(seen):
    front = seen.front
    raised, _ = fc.corrected(replace(front, ground_slope_deg=0.5))
    assert raised.silhouette
    section = front.section(0)
    assert section.mirrored().silhouette
    assert section.relabelled(["bumper"] * len(section)).silhouette
    # A windscreen that begins between two points adds one.
    again = fc.screen(front, windscreen_from=(1395.0, 1110.0))
    assert len(again.front.section(0)) == len(section) + 1
    assert again.station(0).LBRL.status == "open_end"


@pytest.mark.parametrize(
    ("text", "stations"), [("maybe", 1), ("yes", 2)], ids=["unknown word", "two stations"]
)
def test_silhouette_of_a_table_is_refused(seen, tmp_path, text, stations):
    lines = table(seen.front, silhouette=text)
    rows = [line for line in lines.splitlines() if line.startswith("0;")]
    lines += "".join(f"{100 * i}{row[1:]}\n" for i in range(1, stations) for row in rows)
    path = tmp_path / "odd.csv"
    path.write_text(lines, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        fc.read_front(path)
    assert caught.value.code == "offsets.silhouette"
    assert caught.value.row == 4

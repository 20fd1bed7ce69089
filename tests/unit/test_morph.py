"""Morphs of a measured front: what moves, how far, and that the rest stays."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.errors import InputError, NotAvailableError
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.reading.readers import read_front
from frontcheck.study.moves import HANDLES, morph_field, morph_front
from frontcheck.surface.section import Section


@pytest.fixture(scope="module")
def plover(request):
    return read_front(request.config.rootpath / "geometries" / "plover.csv")


@pytest.mark.parametrize("handle", [h.name for h in HANDLES if "lip" in h.name or "edge" in h.name])
def test_a_handle_moves_its_place_in_full_and_nothing_beyond_its_blend(plover, handle):
    section = plover.sections[0]
    face = section.face
    place = {"lower_lip": face.lower_lip, "upper_lip": face.upper_lip}.get(
        handle.rsplit("_", 2)[0], face.face_top
    )
    moved = morph_front(plover, {handle: 7.0}, 100.0)
    points = moved.front.sections[0].points
    at = int(np.flatnonzero((section.points == place).all(axis=1))[0])
    axis = 0 if "_back_" in handle else 1
    assert points[at, axis] == pytest.approx(section.points[at, axis] + 7.0, abs=1e-12)
    arcs = section.arc_lengths
    beyond = np.abs(arcs - arcs[at]) >= 100.0
    assert beyond.sum() > 20
    assert np.array_equal(points[beyond], section.points[beyond])
    assert np.array_equal(points[:, 1 - axis], section.points[:, 1 - axis])
    assert moved.skin_moved_mm == pytest.approx(7.0, abs=1e-12)


def test_the_blend_is_smooth(plover):
    """3 t^2 - 2 t^3: at half the blend half of the travel, no slope at either end."""
    s = np.linspace(0.0, 1000.0, 101)
    section = Section(np.stack([np.where(s < 500, 0.0, s - 500), np.minimum(s, 500) + 100], axis=1))
    field = morph_field(section, ["leading_edge_back_mm"], 200.0)
    weight = field.fields[0, :, 0]
    top = int(weight.argmax())
    assert weight[top] == 1.0
    assert weight[top - 10] == pytest.approx(0.5)
    assert weight[top - 20] == 0.0
    assert weight[top - 19] == pytest.approx(3 * 0.05**2 - 2 * 0.05**3)


def test_a_raised_nose_raises_its_lines_and_keeps_the_glass(plover):
    """The face moves up as it is, so contacts of inclined edges move up with it, and only up."""
    before = line_up(plover, "UN-R127-02")
    moved = morph_front(plover, {"nose_up_mm": 25.0})
    after = line_up(moved.front, "UN-R127-02")
    for old, new, section in zip(before.stations, after.stations, plover.sections, strict=True):
        assert new.LBRL.z == pytest.approx(old.LBRL.z + 25.0, abs=1e-9)
        assert new.LBRL.x == pytest.approx(old.LBRL.x, abs=1e-9)
        glass = section.part_mask("windscreen", "cowl")
        points = moved.front.section(section.y).points
        assert np.array_equal(points[glass], section.points[glass])


def test_a_leant_face_leans_by_the_angle(plover):
    section = plover.sections[0]
    moved = morph_front(plover, {"face_lean_deg": 6.0}).front.sections[0]
    top = int(np.flatnonzero((section.points == section.face.face_top).all(axis=1))[0])
    rise = section.face.face_top[1] - section.face.face_bottom[1]
    back = moved.points[top, 0] - section.points[top, 0]
    assert back == pytest.approx(rise * math.tan(math.radians(6.0)), abs=1e-9)
    assert np.array_equal(moved.points[:, 1], section.points[:, 1])


def test_handles_add_up_in_any_order(plover):
    one = {"nose_up_mm": 10.0, "lower_lip_back_mm": -8.0, "face_lean_deg": 2.0}
    other = dict(reversed(one.items()))
    a, b = (morph_front(plover, c).front.sections[3].points for c in (one, other))
    assert a == pytest.approx(b, abs=1e-12)
    alone = [morph_front(plover, {k: v}).front.sections[3].points for k, v in one.items()]
    start = plover.sections[3].points
    assert a == pytest.approx(start + sum(each - start for each in alone), abs=1e-9)


def test_nothing_moved_is_the_front_as_measured(plover):
    moved = morph_front(plover, {"nose_up_mm": 0.0})
    assert moved.skin_moved_mm == 0.0
    for a, b in zip(moved.front.sections, plover.sections, strict=True):
        assert np.array_equal(a.points, b.points)
        assert a.parts == b.parts
    assert moved.front.reader_notes == plover.reader_notes


def test_many_at_once_are_bit_for_bit_the_same_as_one_by_one(plover):
    names = ("nose_up_mm", "upper_lip_back_mm", "face_lean_deg")
    field = morph_field(plover.sections[2], names)
    amounts = np.random.default_rng(2).uniform(-10, 10, (37, 3))
    many = field.points(amounts)
    for i in range(37):
        assert np.array_equal(many[i], field.points(amounts[i : i + 1])[0])


def test_a_morph_that_crosses_itself_has_a_reason_and_no_front(plover):
    moved = morph_front(plover, {"lower_lip_up_mm": 300.0})
    assert moved.made is None
    assert "meet itself" in moved.obstacles[0].reason
    with pytest.raises(NotAvailableError, match="at y = 0 mm"):
        _ = moved.front
    assert moved.skin_moved_mm is None


def test_a_morph_below_the_ground_has_a_reason(plover):
    moved = morph_front(plover, {"nose_up_mm": -400.0})
    assert moved.made is None
    assert "below the ground" in moved.obstacles[0].reason


@pytest.mark.parametrize(
    ("amounts", "blend", "says"),
    [
        ({"lower_lip_left_mm": 1.0}, 100.0, "one of lower_lip_back_mm"),
        ({"nose_up_mm": math.nan}, 100.0, "nose_up_mm = nan"),
        ({"nose_up_mm": 501.0}, 100.0, "from -500 to 500"),
        ({"nose_up_mm": 1.0}, 0.0, "above 0"),
        ({"nose_up_mm": 1.0}, math.inf, "above 0"),
    ],
)
def test_what_cannot_be_used_is_refused(plover, amounts, blend, says):
    with pytest.raises(InputError, match=says):
        morph_front(plover, amounts, blend)


def test_a_face_without_a_recess_has_no_lip_to_move():
    flat = Section([(300, 200), (0, 250), (10, 700), (100, 800), (1000, 900)])
    made = morph_front(Front((flat,)), {"lower_lip_up_mm": 5.0})
    assert made.obstacles == ((0.0, "no recess to be seen, so no lower lip"),)

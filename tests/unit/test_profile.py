"""Sections and their face descriptors, from the docstrings of frontcheck.surface.section.

Expected numbers are worked out by hand from the points unless another source is named.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from frontcheck.errors import ContourError, InputError
from frontcheck.surface.section import PARTS, Section

# A closed-form body: vertical face at x = 0 from 300 to 700, bonnet rising 10 deg for 800 mm.
RISE = 800.0 * math.tan(math.radians(10.0))
BOX = np.array([[300.0, 300.0], [0.0, 300.0], [0.0, 700.0], [800.0, 700.0 + RISE]])

# Readings with a square, invented for the demo front: lips below and above a recess.
LOWER, RECESS, UPPER, CHIN = (21.0, 324.0), (36.0, 436.0), (12.0, 548.0), (44.0, 266.0)
SQUARE_READINGS = np.array(
    [
        (275.0, 208.0),
        (96.0, 216.0),
        CHIN,
        LOWER,
        (31.0, 380.0),
        RECESS,
        (27.0, 492.0),
        UPPER,
        (16.0, 610.0),
        (34.0, 704.0),
        (93.0, 786.0),
        (205.0, 826.0),
        (1000.0, 952.0),
    ]
)


class TestFace:
    def test_square_readings_read_as_overhung(self):
        """Upright to the eye, overhung by the square; from the corners, all of them measured."""
        face = Section(SQUARE_READINGS).face
        assert (face.lower_lip, face.recess, face.upper_lip) == (LOWER, RECESS, UPPER)
        assert face.recess_behind_upper_lip_mm == RECESS[0] - UPPER[0]
        assert face.recess_behind_lower_lip_mm == RECESS[0] - LOWER[0]
        assert face.undercut_mm == LOWER[0] - UPPER[0]
        assert face.leans_forward
        assert face.foremost == UPPER
        # Depth from the string: the recess is half way up between the lips.
        depth = RECESS[0] - (LOWER[0] + UPPER[0]) / 2.0
        assert face.recess_depth_mm == pytest.approx(depth, abs=1e-12)
        # Upright to the eye: the face as a whole is inclined by less than 10 deg.
        assert abs(face.mean_face_angle_deg) < 10.0

    def test_overhang_counts_from_the_lowest_set_back_point(self):
        face = Section(SQUARE_READINGS).face
        # A line inclined 25 deg forward touches first where x + z tan 25 is least: at the chin.
        tan = math.tan(math.radians(25.0))
        assert min(map(tuple, SQUARE_READINGS), key=lambda p: p[0] + p[1] * tan) == CHIN
        assert face.face_bottom == CHIN
        assert (face.overhang_from, face.overhang_to) == (CHIN, UPPER)
        assert face.overhang_mm == CHIN[0] - UPPER[0]

    def test_vertical_face_leans_nowhere(self):
        face = Section(BOX).face
        assert face.face_bottom == (0.0, 300.0)
        assert face.face_top == (0.0, 700.0)
        assert face.mean_face_angle_deg == 0.0
        assert face.overhang_mm == 0.0
        assert not face.leans_forward
        assert face.overhang_from is None
        assert face.overhang_to is None
        for name in (
            "lower_lip",
            "recess",
            "upper_lip",
            "recess_depth_mm",
            "recess_behind_upper_lip_mm",
            "recess_behind_lower_lip_mm",
            "undercut_mm",
        ):
            assert getattr(face, name) is None, name

    @pytest.mark.parametrize("lean", [-20.0, -5.0, 0.0, 7.5, 30.0])
    def test_mean_angle_of_a_plane_face(self, lean):
        top = 400.0 * math.tan(math.radians(lean))
        points = [[600, 300], [200, 300], [200 + top, 700], [1000, 800]]
        face = Section(points).face
        assert face.mean_face_angle_deg == pytest.approx(lean, abs=1e-12)
        assert face.overhang_mm == pytest.approx(max(0.0, -top), abs=1e-12)

    def test_foremost_is_the_lowest_of_several(self):
        points = [[300, 250], [10, 300], [5, 400], [9, 450], [5, 500], [60, 700], [900, 800]]
        assert Section(points).face.foremost == (5.0, 400.0)

    def test_of_two_recesses_the_deeper_one_is_told(self):
        points = [
            [300, 250],
            [0, 300],
            [4, 350],
            [0, 400],
            [9, 450],
            [0, 500],
            [30, 700],
            [900, 800],
        ]
        face = Section(points).face
        assert (face.lower_lip, face.recess, face.upper_lip) == (
            (0.0, 400.0),
            (9.0, 450.0),
            (0.0, 500.0),
        )
        assert face.recess_depth_mm == 9.0
        assert face.undercut_mm == 0.0

    def test_overhang_over_a_level_shelf(self):
        """The shelf's back edge is no lower point of its front edge; the face below is."""
        points = [[300, 250], [5, 300], [8, 400], [1, 400], [6, 600], [900, 800]]
        face = Section(points).face
        assert face.overhang_mm == 4.0
        assert face.overhang_from == (5.0, 300.0)
        assert face.overhang_to == (1.0, 400.0)

    @settings(max_examples=60, deadline=None)
    @given(st.lists(st.tuples(st.integers(10, 60), st.integers(-40, 40)), min_size=3, max_size=12))
    def test_overhang_and_recess_against_brute_force(self, steps):
        """All pairs for the overhang; the convex hull by shapely for the recess.

        A recess of less than 5 mm makes no lips (own choice). A lip is what is foremost on its side
        of the bottom of the recess, be it where the string leaves the contour or not, and stands
        ahead of that bottom.
        """
        z = 250.0 + np.cumsum([s[0] for s in steps])
        x = 100.0 + np.array([s[1] for s in steps], dtype=float)
        section = Section(np.column_stack([x, z]))
        face = section.face
        keep = (z >= face.face_bottom[1]) & (z <= face.face_top[1])
        fx, fz = x[keep], z[keep]
        pairs = fx[:, None] - fx[None, :]
        pairs = pairs[fz[:, None] < fz[None, :]]
        assert face.overhang_mm == max(0.0, *pairs, 0.0)
        # The string: the front side of the hull of the face and two points far behind it.
        behind = [(1e6, fz[0]), (1e6, fz[-1])]
        hull = shapely.MultiPoint([*zip(fx, fz, strict=True), *behind]).convex_hull
        bridges = [[]]  # what lies behind one straight piece of the string
        for i, (px, pz) in enumerate(zip(fx, fz, strict=True)):
            ray = shapely.LineString([(-1e6, pz), (1e7, pz)]).intersection(hull)
            gap = px - ray.bounds[0]
            if gap > 1e-6:
                bridges[-1].append((gap, i))
            else:
                bridges.append([])
        deep = [
            max(bridge, key=lambda at: (round(at[0], 6), -at[1])) for bridge in bridges if bridge
        ]
        lips = [(gap, fx[:i].min() < fx[i] and fx[i + 1 :].min() < fx[i]) for gap, i in deep]
        deepest = max((gap for gap, both in lips if both), default=0.0)
        if deepest > 5.0 + 1e-6:
            assert face.recess_depth_mm == pytest.approx(deepest, abs=1e-6)
            assert face.lower_lip[0] == fx[fz <= face.recess[1]].min()
            assert face.upper_lip[0] == fx[fz >= face.recess[1]].min()
            assert face.lower_lip[1] < face.recess[1] < face.upper_lip[1]
        elif deepest < 5.0 - 1e-6:
            assert face.recess_depth_mm is None
            assert face.upper_lip is None

    def test_bonnet_angle_with_labels(self):
        parts = ["bumper", "bumper", "bonnet", "bonnet"]
        face = Section(BOX, parts=parts).face
        assert face.bonnet_angle_deg == pytest.approx(10.0, abs=1e-12)
        assert "labelled" in face.bonnet_basis

    def test_bonnet_angle_without_labels_ends_at_the_windscreen(self):
        corner = BOX[-1]
        screen = corner + 300.0 * np.array([math.cos(math.pi / 6), math.sin(math.pi / 6)])
        face = Section(np.vstack([BOX, screen])).face
        assert face.bonnet_angle_deg == pytest.approx(10.0, abs=1e-12)
        assert "no label" in face.bonnet_basis

    def test_no_bonnet(self):
        face = Section([[50, 200], [0, 300], [0, 600]]).face
        assert face.bonnet_angle_deg is None
        assert face.bonnet_basis == "no bonnet in this section"


class TestLengths:
    def test_arc_lengths(self):
        section = Section(BOX)
        last = 800.0 / math.cos(math.radians(10.0))
        np.testing.assert_allclose(section.arc_lengths, [0, 300, 700, 700 + last], rtol=1e-15)
        assert section.length == shapely.LineString(BOX).length

    def test_at_arc_length_against_shapely(self):
        section = Section(SQUARE_READINGS)
        s = np.linspace(0.0, section.length, 57)
        expected = shapely.get_coordinates(
            shapely.line_interpolate_point(shapely.LineString(SQUARE_READINGS), s)
        )
        np.testing.assert_allclose(section.at_arc_length(s), expected, atol=1e-9)

    def test_at_arc_length_keeps_shape(self):
        assert Section(BOX).at_arc_length(150.0).tolist() == [150.0, 300.0]
        assert Section(BOX).at_arc_length(np.zeros((2, 3))).shape == (2, 3, 2)

    @pytest.mark.parametrize("s", [-0.1, 1e9, math.nan])
    def test_at_arc_length_outside(self, s):
        with pytest.raises(ValueError, match="arc length must lie between 0 and"):
            Section(BOX).at_arc_length([0.0, s])


class TestSetback:
    def test_foremost_of_several_crossings(self):
        """Against shapely: the foremost end of the horizontal cut at each height."""
        section = Section(SQUARE_READINGS)
        heights = np.linspace(209.0, 951.0, 101)
        read = section.setback_at(heights)
        line = shapely.LineString(SQUARE_READINGS)
        for height, x in zip(heights, read, strict=True):
            cut = line.intersection(shapely.LineString([(-1e4, height), (1e4, height)]))
            assert x == pytest.approx(cut.bounds[0], abs=1e-9)

    def test_level_stretch_gives_its_front_end(self):
        assert Section(BOX).setback_at(300.0) == 0.0

    def test_outside_is_masked_not_a_number_to_use(self):
        read = Section(BOX).setback_at([100.0, 500.0, 2000.0])
        assert np.ma.getmaskarray(read).tolist() == [True, False, True]


class TestSection:
    def test_frozen(self):
        section = Section(BOX)
        with pytest.raises(ValueError, match="read-only"):
            section.points[0, 0] = 1.0
        with pytest.raises(AttributeError):
            section.y = 3.0  # type: ignore[misc]

    def test_takes_a_copy(self):
        mine = BOX.copy()
        section = Section(mine)
        mine[0, 0] = 999.0
        assert section.points[0, 0] == 300.0

    def test_parts(self):
        section = Section(BOX, parts=["underside", "bumper", "", "bonnet"])
        assert section.has_part("bumper")
        assert section.has_part("cowl", "bonnet")
        assert not section.has_part("cowl")
        assert section.part_mask("bumper").tolist() == [False, True, False, False]
        assert section.part_mask("bumper", unlabelled=True).tolist() == [False, True, True, False]

    def test_all_blank_parts_are_no_parts(self):
        section = Section(BOX, parts=[""] * 4)
        assert section.parts is None
        assert section.part_mask("bumper").sum() == 0
        assert section.part_mask("bumper", unlabelled=True).all()

    def test_uncertainty_of_one_value_counts_for_all(self):
        section = Section(BOX, height_u=2.0, setback_u=[1, 2, 3, 4])
        assert section.height_u.tolist() == [2.0] * 4
        assert section.setback_u.tolist() == [1.0, 2.0, 3.0, 4.0]

    def test_mirrored(self):
        section = Section(BOX, 120.0, ["bumper"] * 4, 1.0, 2.0, rows=[5, 6, 7, 8])
        other = section.mirrored()
        assert other.y == -120.0
        for name in ("points", "height_u", "setback_u", "parts", "rows"):
            assert np.array_equal(getattr(other, name), getattr(section, name)), name
        assert math.copysign(1.0, Section(BOX, 0.0).mirrored().y) == 1.0

    def test_error_is_an_input_error_and_a_value_error(self):
        assert issubclass(ContourError, InputError)
        assert issubclass(ContourError, ValueError)


BAD = {
    "two points": (BOX[:2], None, "2 points"),
    "three columns": (np.zeros((4, 3)), None, "shape (4, 3)"),
    "one row": (np.zeros(4), None, "shape (4,)"),
    "nan": ([[300, 300], [0, math.nan], [0, 700]], 1, "not finite"),
    "inf": ([[300, 300], [0, 300], [math.inf, 700]], 2, "not finite"),
    "beyond 100 m": ([[300, 300], [0, 300], [2e5, 700]], 2, "100 m"),
    "below ground": ([[300, -1], [0, 300], [0, 700]], 0, "below the ground"),
    "repeated": ([[300, 300], [0, 300], [0, 300], [0, 700]], 2, "same point twice"),
    "crossing": ([[0, 100], [10, 110], [10, 100], [0, 110]], 2, "stretch 1-2 meets 3-4"),
    "touching": ([[0, 100], [10, 100], [10, 105], [5, 100], [5, 90]], 2, "stretch 1-2 meets 3-4"),
    "folded back": ([[0, 100], [10, 100], [5, 100], [5, 110]], 1, "stretch 1-2 meets 2-3"),
    "closed": ([[0, 100], [10, 100], [10, 110], [0, 100]], 2, "stretch 1-2 meets 3-4"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_contour(name):
    points, index, found = BAD[name]
    with pytest.raises(ContourError) as caught:
        Section(points)
    assert caught.value.index == index
    assert found in caught.value.found
    assert caught.value.expected
    assert caught.value.todo


@pytest.mark.parametrize(
    ("arguments", "index", "found"),
    [
        ({"parts": ["bumper"] * 3}, None, "3 parts for 4 points"),
        ({"parts": ["bumper", "bonnet", "roof", "cowl"]}, 2, "'roof'"),
        ({"height_u": [1, 1, -2, 1]}, 2, "height uncertainty -2"),
        ({"setback_u": [1, math.nan, 1, 1]}, 1, "setback uncertainty nan"),
        ({"setback_u": [1, 1]}, None, "shape (2,)"),
        ({"rows": [1, 2]}, None, "2 rows for 4 points"),
        ({"y": math.nan}, None, "station nan"),
    ],
)
def test_bad_argument(arguments, index, found):
    with pytest.raises(ContourError) as caught:
        Section(BOX, **arguments)
    assert caught.value.index == index
    assert found in caught.value.found


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=3, max_size=9, unique=True)
)
def test_crossing_is_refused_exactly_when_shapely_finds_one(points):
    """shapely's is_simple decides; the stretches named must really meet, and be the first."""
    array = np.array(points, dtype=float)
    if shapely.LineString(array).is_simple:
        assert len(Section(array)) == len(points)
        return
    with pytest.raises(ContourError) as caught:
        Section(array)
    j = caught.value.index
    assert shapely.LineString(array[: j + 1]).is_simple
    assert not shapely.LineString(array[: j + 2]).is_simple


def test_part_names_are_plain_words():
    assert len(set(PARTS)) == len(PARTS)
    assert all(part.isalpha() and part.islower() for part in PARTS)


def test_descriptors_do_not_change_with_a_shift_in_x():
    here = Section(SQUARE_READINGS).face
    moved = np.array(affinity.translate(shapely.LineString(SQUARE_READINGS), 512.0).coords)
    there = Section(moved).face
    for name in ("overhang_mm", "undercut_mm", "mean_face_angle_deg", "recess_depth_mm"):
        assert getattr(there, name) == pytest.approx(getattr(here, name), abs=1e-9)

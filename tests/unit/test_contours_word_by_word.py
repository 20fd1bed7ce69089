"""What is said of points that are no contour, word by word; what a contour keeps of its rows."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from frontcheck.errors import ContourError
from frontcheck.surface.face import deepest_recess, describe_face, foremost
from frontcheck.surface.section import Section, point_parts, section_of, stretch_parts
from frontcheck.surface.surface import Facets

ROW = [(300, 300), (0, 300), (0, 700), (800, 800)]
ORDER = ("underside", "bumper", "grille", "lamp", "bonnet", "wing", "cowl", "windscreen", "pillar",
         "trim", "ignore")  # fmt: skip
NAMES = ", ".join(ORDER)
CROSSED = (
    "a contour that crosses or touches itself (stretch {} meets {})",
    "a contour traced once along the surface",
    "put the points in the order in which the surface runs, or correct the one out of place",
)
LOW = ("heights above the ground plane", "measure heights from level ground, upward")
FAR = (
    "a coordinate beyond 100 m", "offsets of a vehicle front", "check the unit stated in the file"
)  # fmt: skip


def crossed(one: str, other: str) -> tuple[str, ...]:
    return CROSSED[0].format(one, other), *CROSSED[1:]


REFUSED = {
    "flat": (
        {"points": [1.0, 2.0, 3.0]}, None,
        ("an array of shape (3,)", "shape (n, 2)", "give one x, z pair a point"),
    ),
    "three columns": (
        {"points": np.zeros((4, 3))}, None,
        ("an array of shape (4, 3)", "shape (n, 2)", "give one x, z pair a point"),
    ),
    "one point": (
        {"points": ROW[:1]}, None,
        ("1 point", "at least 3 points in a section", "measure more rows at this station"),
    ),
    "two points": (
        {"points": ROW[:2]}, None,
        ("2 points", "at least 3 points in a section", "measure more rows at this station"),
    ),
    "no number": (
        {"points": [(300, 300), (0, math.nan), (0, 700)]}, 1,
        ("a value that is not finite", "plain numbers", "correct the value"),
    ),
    "far": ({"points": [(300, 300), (0, 300), (100_000.5, 700)]}, 2, FAR),
    "far the other way": ({"points": [(300, 300), (-100_001, 300), (10, 700)]}, 1, FAR),
    "below ground": (
        {"points": [(300, 300), (0, -0.5), (0, 700)]}, 1,
        ("height -0.5 mm, below the ground", *LOW),
    ),
    "twice": (
        {"points": [*ROW[:2], *ROW[1:]]}, 2,
        ("the same point twice in a row", "each point once", "delete one of the two rows"),
    ),
    "crossing": (
        {"points": [(0, 100), (10, 110), (10, 100), (0, 110), (-5, 120)]}, 2,
        crossed("1-2", "3-4"),
    ),
    "later": (
        {"points": [(-9, 90), (0, 100), (10, 110), (20, 120), (20, 100), (0, 130), (0, 140)]}, 4,
        crossed("3-4", "5-6"),
    ),
    # The last stretch meets two earlier ones: the first of those is named.
    "two at once": (
        {"points": [(0, 0), (0, 10), (5, 10), (5, 0), (9, 0), (9, 5), (-9, 5)]}, 5,
        crossed("1-2", "6-7"),
    ),
    "folded": ({"points": [(0, 100), (10, 100), (5, 100), (5, 110)]}, 1, crossed("1-2", "2-3")),
    "no station": (
        {"y": math.inf}, None, ("station inf", "a finite station", "correct the station")
    ),
    "rows": (
        {"rows": [1, 2]}, None,
        ("2 rows for 4 points", "one row a point", "complete the rows"),
    ),
    "parts": (
        {"parts": ["bumper"] * 5}, None,
        ("5 parts for 4 points", "one part a point", "complete the labels"),
    ),
    "no part": (
        {"parts": ["bumper", "", "roof", "bonnet"]}, 2,
        ("part 'roof'", f"one of {NAMES}, or nothing", "use one of these names"),
    ),
    "marks": (
        {"proposed": [True, False, True]}, None,
        ("3 marks for 4 points", "one mark a point", "complete the marks"),
    ),
    "shape of uncertainties": (
        {"setback_u": [1.0, 2.0]}, None,
        ("setback uncertainties of shape (2,) for 4 points", "one value, or shape (4,)",
         "give one uncertainty a point"),
    ),
    "uncertainty": (
        {"height_u": [0.0, 1.0, -0.25, -3.0]}, 2,
        ("height uncertainty -0.25", "a standard uncertainty of 0 or more",
         "give the uncertainty as a positive length"),
    ),
    "infinite uncertainty": (
        {"setback_u": [0.0, 1.0, 1.0, math.inf]}, 3,
        ("setback uncertainty inf", "a standard uncertainty of 0 or more",
         "give the uncertainty as a positive length"),
    ),
    "correlations": (
        {"correlation": [0.5, 0.0, 1.0]}, None,
        ("correlations that do not fit", "4 numbers from -1 to 1", "give one a point"),
    ),
    "more than all": (
        {"correlation": [0.5, 0.0, 1.001, -1.0]}, None,
        ("correlations that do not fit", "4 numbers from -1 to 1", "give one a point"),
    ),
    "less than none": (
        {"correlation": [0.5, 0.0, -1.001, 1.0]}, None,
        ("correlations that do not fit", "4 numbers from -1 to 1", "give one a point"),
    ),
    # The place is that among all points, those that are left out among them.
    "behind what is left out": (
        {"points": [(300, 300), (0, 300), (-9, 310), (0, -1), (0, 700)],
         "parts": ["", "", "ignore", "", ""]}, 3,
        ("height -1 mm, below the ground", *LOW),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused(name: str) -> None:
    given, index, words = REFUSED[name]
    with pytest.raises(ContourError) as caught:
        Section(**{"points": ROW, **given})
    error = caught.value
    assert (error.found, error.expected, error.todo, error.index) == (*words, index)


def test_what_is_not_refused() -> None:
    """Exactly on the borders: on the ground, 100 m off, a correlation of one, no uncertainty."""
    section = Section(
        [(100_000, 0), (-100_000, 0), (0, 100_000)], height_u=0.0, correlation=[1, -1, 0]
    )
    assert len(section) == 3
    assert section.height_u.tolist() == [0.0, 0.0, 0.0]


def test_what_is_left_out_takes_its_row_along() -> None:
    parts = ["bumper", "ignore", "", "bonnet", "windscreen"]
    points = [(0, 300), (-50, 400), (0, 500), (100, 700), (900, 800)]
    section = Section(
        points, 10.0, parts, [1, 2, 3, 4, 5], [6, 7, 8, 9, 10], [21, 22, 23, 24, 25],
        [0.1, 0.2, 0.3, 0.4, 0.5], [False, True, False, True, False], True,
    )  # fmt: skip
    assert section.points.tolist() == [list(map(float, points[i])) for i in (0, 2, 3, 4)]
    assert section.parts == ("bumper", "", "bonnet", "windscreen")
    assert section.height_u.tolist() == [1, 3, 4, 5]
    assert section.setback_u.tolist() == [6, 8, 9, 10]
    assert section.rows == (21, 23, 24, 25)
    assert section.correlation.tolist() == [0.1, 0.3, 0.4, 0.5]
    assert section.proposed.tolist() == [False, False, True, False]
    assert section.silhouette is True
    # Proposed points that are left out leave none.
    alone = Section(points, 0.0, parts, proposed=[False, True, False, False, False])
    assert alone.proposed is None
    assert Section(points[:3], parts=["", "", ""]).parts is None
    other = section.mirrored()
    assert (other.y, other.silhouette, other.rows) == (-10.0, True, section.rows)


def test_relabelled() -> None:
    section = Section(ROW, parts=["bumper", "bumper", "bonnet", "bonnet"])
    assert section.face.bonnet_basis == "points labelled bonnet"
    made = section.relabelled(["", "", "", ""])
    assert made.parts is None
    assert made.face.bonnet_basis == "no label: from the face top to the first rise over 25 deg"
    assert section.relabelled(["", "trim", "", ""]).parts == ("", "trim", "", "")
    with pytest.raises(ContourError, match="3 parts for 4 points"):
        section.relabelled(["bumper"] * 3)
    with pytest.raises(ContourError, match="part 'roof'"):
        section.relabelled(["bumper", "roof", "", ""])


def test_parts_between_two_parts() -> None:
    """Windscreen takes the point before bumper, bumper before others; else the part ends there."""
    runs = {
        ("bumper", "windscreen"): "windscreen", ("windscreen", "bumper"): "windscreen",
        ("bumper", "lamp"): "bumper", ("lamp", "bumper"): "bumper",
        ("bonnet", "windscreen"): "windscreen", ("windscreen", "cowl"): "windscreen",
        ("lamp", "bonnet"): "lamp", ("bonnet", "lamp"): "bonnet",
        ("", "bonnet"): "bonnet", ("bonnet", ""): "bonnet", ("", ""): "",
    }  # fmt: skip
    codes = {name: ORDER.index(name) if name else -1 for name in (*ORDER, "")}
    for (one, two), point in runs.items():
        found = point_parts(np.array([codes[one], codes[two]], dtype=np.int8))
        assert found[1] == point
        assert (found[0], found[2]) == (one, two)
    assert point_parts(None) is None
    points = np.array([codes[name] for name in ("bumper", "lamp", "lamp", "bumper", "windscreen")])
    own = stretch_parts(points.astype(np.int8))
    assert own.tolist() == [codes[name] for name in ("lamp", "lamp", "lamp", "bumper")]


# --- sections of cuts ----------------------------------------------------------------------


def outline(points, labels=None, dropped=(), again=None) -> SimpleNamespace:
    kinds = [SimpleNamespace(kind=kind) for kind in dropped]
    return SimpleNamespace(
        points=np.asarray(points, dtype=float).reshape(-1, 2), labels=labels, dropped=kinds,
        walked=lambda: again,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cut", "said"),
    [
        (None, "nothing is cut there"),
        (outline([]), "what is cut there lies behind the reach of every tool"),
        (outline([], dropped=["hidden"]), "what is cut there lies behind the reach of every tool"),
        (outline([], dropped=["hidden", "free"]),
         "only small parts high up that stand free are cut there"),
        (outline(ROW[:2]), "2 points"),
        (outline(ROW[:2], again=outline(ROW[:1])), "1 point"),
        (outline(ROW[:2], again=None), "2 points"),
    ],
)  # fmt: skip
def test_why_a_cut_is_no_section(cut, said) -> None:
    assert section_of(cut, 50.0) == said


def test_a_cut_that_is_a_section() -> None:
    labels = np.array([1, 1, 4])
    cut = outline(ROW, labels)
    made = section_of(cut, -50.0)
    assert isinstance(made, Section)
    assert (made.y, made.parts) == (-50.0, ("bumper", "bumper", "bumper", "bonnet"))
    bare = section_of(cut, -50.0, labelled=False)
    assert isinstance(bare, Section)
    assert bare.parts is None
    # One that crosses itself is walked by what is seen of it.
    bow = [(0, 100), (10, 110), (10, 100), (0, 110)]
    walked = section_of(outline(bow, np.array([1, 1, 1]), again=cut), 20.0, labelled=False)
    assert isinstance(walked, Section)
    assert (len(walked), walked.y, walked.parts) == (4, 20.0, None)


# --- faces ---------------------------------------------------------------------------------


def face(points, bumper=None, bonnet=None, silhouette=False):
    masks = [None if each is None else np.isin(np.arange(len(points)), each)
             for each in (bumper, bonnet)]  # fmt: skip
    return describe_face(
        np.array(points, dtype=float), bumper=masks[0], bonnet=masks[1], silhouette=silhouette
    )


def test_a_recess_of_five_millimetres_makes_lips() -> None:
    """Own choice: at least 5 mm. A lip that stands plumb is its middle."""
    for deep, is_one in ((5.0, True), (4.99, False)):
        points = [(300, 250), (0, 300), (0, 400), (deep, 450), (0, 500), (0, 600), (300, 700)]
        found = face(points)
        assert (found.recess is not None) is is_one
        assert found.no_recess == ("" if is_one else "the face has no recess")
        if is_one:
            assert (found.lower_lip, found.upper_lip) == ((0.0, 350.0), (0.0, 550.0))
            assert (found.recess, found.recess_depth_mm) == ((5.0, 450.0), 5.0)
            assert (found.upper_lip_behind_mm, found.lower_lip_behind_mm) == (0.0, 0.0)
    assert face(points, silhouette=True).no_recess == "a recess is not seen from the side"
    assert face(points, silhouette=True).not_seen == ("recess", "lower lip")
    assert face(points).upper_lip_behind_mm is None
    assert face(points).lower_lip_behind_mm is None


def test_lips_are_those_of_the_bumper_where_that_is_labelled() -> None:
    """Below, a lamp has a deeper recess; with two bumper points or fewer the whole face counts."""
    points = [(400, 200), (100, 250), (130, 300), (102, 350), (102, 400), (112, 450), (104, 500),
              (400, 700)]  # fmt: skip
    assert face(points).recess == (130.0, 300.0)
    assert face(points, bumper=[4, 5, 6]).recess == (112.0, 450.0)
    found = face(points, bumper=[4, 6])
    assert found.recess == (130.0, 300.0)
    found = face(points, bumper=[3, 5, 6])
    assert (found.lower_lip, found.upper_lip) == ((102.0, 375.0), (104.0, 500.0))
    assert (found.undercut_mm, found.recess_behind_upper_lip_mm) == (-2.0, 8.0)
    assert (found.recess_behind_lower_lip_mm, found.upper_lip_behind_mm) == (10.0, 4.0)
    assert (found.lower_lip_behind_mm, found.foremost) == (2.0, (100.0, 250.0))


@pytest.mark.parametrize(
    ("below", "above"), [(24.0, 43.0), (26.0, 43.0), (24.0, 47.0), (26.0, 47.0)]
)
def test_where_a_face_begins_and_ends(below: float, above: float) -> None:
    """At what lines inclined 25 deg forward and 45 deg rearward touch first: own choice.

    Below (0, 400) a chin leans back by an angle, above (0, 600) the bonnet rises by one.
    """
    chin = (50.0, 400.0 - 50.0 / math.tan(math.radians(below)))
    edge = (100.0, 600.0 + 100.0 * math.tan(math.radians(above)))
    points = [(400.0, chin[1] - 5.0), chin, (0.0, 400.0), (0.0, 600.0), edge, (900.0, 750.0)]
    found = face(points)
    assert found.face_bottom == pytest.approx(chin if below < 25.0 else (0.0, 400.0))
    assert found.face_top == pytest.approx(edge if above > 45.0 else (0.0, 600.0))
    assert found.foremost == (0.0, 400.0)
    rise = math.atan2(
        found.face_top[0] - found.face_bottom[0], found.face_top[1] - found.face_bottom[1]
    )
    assert found.mean_face_angle_deg == pytest.approx(math.degrees(rise))


def test_both_lips_stand_ahead_of_the_bottom() -> None:
    """A face that leans back: all below stands ahead of the hollow, what is above does not."""
    for top, is_one in ((39.0, True), (40.0, False), (45.0, False)):
        points = np.array([(0.0, 300.0), (40.0, 400.0), (top, 600.0)])
        assert (deepest_recess(points) is not None) is is_one
    for low, is_one in ((39.0, True), (40.0, False)):
        points = np.array([(low, 300.0), (40.0, 500.0), (0.0, 600.0)])
        assert (deepest_recess(points) is not None) is is_one


def test_the_foremost_point_and_the_middle_of_a_plumb_stretch() -> None:
    assert foremost(np.array([(5.0, 1.0), (2.0, 2.0), (2.0, 4.0), (2.0, 9.0), (3.0, 10.0)])) == (
        2.0, 5.5
    )  # fmt: skip
    assert foremost(np.array([(2.0, 1.0), (3.0, 2.0), (2.0, 4.0)])) == (2.0, 1.0)
    assert foremost(np.array([(3.0, 1.0), (2.0, 2.0)])) == (2.0, 2.0)


@pytest.mark.parametrize(
    ("points", "bonnet", "angle", "basis"),
    [
        # From the top of the face over rises of 25 deg to the first that is steeper: own choice.
        ([(300, 200), (0, 300), (0, 700), (100, 746), (200, 792), (300, 900)], None, 24.70,
         "no label: from the face top to the first rise over 25 deg"),
        ([(300, 200), (0, 300), (0, 700), (100, 747), (200, 750)], None, 14.04,
         "no label: from the face top to the first rise over 25 deg"),
        ([(300, 200), (0, 300), (0, 700), (100, 740), (200, 787), (300, 790)], None, 21.80,
         "no label: from the face top to the first rise over 25 deg"),
        ([(300, 200), (0, 300), (0, 700), (100, 710), (200, 740)], [3, 4], 16.70,
         "points labelled bonnet"),
        ([(300, 200), (0, 300), (0, 700), (100, 710), (200, 740)], [4], None,
         "no bonnet in this section"),
        ([(300, 200), (0, 300), (0, 700), (-10, 800), (0, 900)], [2, 3, 4], None,
         "no bonnet in this section"),
        ([(300, 200), (0, 300), (0, 700)], None, None, "no bonnet in this section"),
    ],
)  # fmt: skip
def test_bonnet_angle(points, bonnet, angle, basis) -> None:
    found = face(points, bonnet=bonnet)
    assert found.bonnet_basis == basis
    assert found.bonnet_angle_deg == (None if angle is None else pytest.approx(angle, abs=0.01))


def test_a_face_of_one_point_leans_nowhere() -> None:
    found = face([(300, 300), (0, 310), (600, 400)])
    assert (found.face_bottom, found.face_top) == ((0.0, 310.0), (0.0, 310.0))
    assert (found.mean_face_angle_deg, found.overhang_mm) == (0.0, 0.0)


def test_facets_laid_end_to_end() -> None:
    none = Facets.joined([])
    assert (len(none), none.corners.shape, none.part.shape) == (0, (0, 3, 3), (0,))
    one = Facets(np.zeros((1, 3, 3)), np.array([4]))
    both = Facets.joined([one, Facets(np.ones((2, 3, 3)), np.array([-1, 1]))])
    assert both.part.tolist() == [4, -1, 1]
    assert len(both.of("bonnet", unlabelled=True)) == 2
    assert both.labelled("bumper").tolist() == [False, False, True]
    assert both.turned().corners[1, 0].tolist() == [1.0, -1.0, 1.0]

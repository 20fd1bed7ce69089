"""Windscreens told by shape or given: borders, from station to station, labels put in by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section
from frontcheck.surface.windscreen import (
    Rise,
    feet_by_shape,
    feet_from,
    foot_by_shape,
    nearest_place,
    place_of,
    with_foot,
)

RISE = Rise(700.0, 20.0, 65.0, 250.0)  # own choice, as the rule sets have it
FACE = [(200.0, 200.0), (0.0, 300.0), (0.0, 650.0)]


def glass(x: float, z: float, rise: float = 30.0, length: float = 600.0) -> tuple[float, float]:
    return x + length * math.cos(math.radians(rise)), z + length * math.sin(math.radians(rise))


def front(x: float = 1000.0, z: float = 800.0, y: float = 0.0, rise: float = 30.0) -> Section:
    """A face, a straight bonnet to (x, z), a straight windscreen; its foot is point 3."""
    return Section([*FACE, (x, z), glass(x, z, rise)], y)


def level(y: float = 0.0) -> Section:
    """No windscreen."""
    return Section([*FACE, (1000.0, 700.0), (2000.0, 800.0)], y)


# --- shape ---------------------------------------------------------------------------------


def bent(slopes: list[float], pieces: list[float]) -> Section:
    """From (1000, 800) on pieces of glass at slopes; the bonnet is level."""
    points = [(500.0, 800.0), (1000.0, 800.0)]
    for slope, piece in zip(slopes, pieces, strict=True):
        points.append(glass(*points[-1], slope, piece))
    return Section([(200.0, 200.0), (0.0, 300.0), (0.0, 800.0), *points])


FOOT = 4
SHAPES = {
    # Own choice: 20 to 65 deg in every chord of 50 mm and more, for 250 mm, off it by 16 mm.
    "as long as need be": ([30.0], [250.1], True),
    "too short": ([30.0], [249.9], False),
    "as flat as need be": ([20.01], [400.0], True),
    "too flat": ([19.99], [400.0], False),
    "as steep as may be": ([64.99], [400.0], True),
    "too steep": ([65.01], [400.0], False),
    "too flat at first": ([19.0, 40.0], [60.0, 340.0], False),
    "too steep at first": ([70.0, 40.0], [60.0, 340.0], False),
    # A bend of 15 deg after 150 mm of the chord's 250: 150 * 100 * sin 15 / 248.0 = 15.7 mm off it;
    # one of 16 deg: 150 * 100 * sin 16 / 247.7 = 16.7 mm.
    "straight enough": ([38.0, 23.0], [150.0, 250.0], True),
    "not straight": ([38.5, 22.5], [150.0, 250.0], False),
    "not straight the other way": ([22.5, 38.5], [150.0, 250.0], False),
}  # fmt: skip


@pytest.mark.parametrize("name", SHAPES)
def test_what_rises_like_a_windscreen(name: str) -> None:
    slopes, pieces, is_one = SHAPES[name]
    found = foot_by_shape(bent(slopes, pieces), RISE)
    assert (found == FOOT) is is_one


@pytest.mark.parametrize(("z", "is_one"), [(700.0, False), (700.1, True)])
def test_how_high_a_windscreen_begins(z: float, is_one: bool) -> None:
    assert (foot_by_shape(front(z=z), RISE) == 3) is is_one


@pytest.mark.parametrize(("bend", "is_one"), [(4.9, False), (5.1, True)])
def test_how_much_a_contour_bends_at_the_foot(bend: float, is_one: bool) -> None:
    """A bonnet at 25 deg, a windscreen that rises by so much more; the least bend is own choice."""
    start = (0.0, 700.0)
    foot = glass(*start, 25.0, 900.0)
    found = foot_by_shape(Section([*FACE, start, foot, glass(*foot, 25.0 + bend)]), RISE)
    assert (found == 4) is is_one


def test_of_several_bends_the_last_and_there_the_sharpest() -> None:
    """A fold in the bonnet rises for 300 mm; the foot itself is rounded over two points."""
    fold = glass(500.0, 800.0, 30.0, 300.0)
    rest = (fold[0] + 500.0, fold[1])
    a = glass(*rest, 8.0, 20.0)
    b = glass(*a, 26.0, 20.0)
    section = Section([*FACE, (0.0, 800.0), (500.0, 800.0), fold, rest, a, b, glass(*b, 30.0)])
    assert foot_by_shape(section, RISE) == 7
    assert foot_by_shape(Section(section.points[:7]), RISE) == 4
    # Nothing ahead of the foremost point is one, however it rises.
    chin = Section([(-50.0, 720.0), (250.0, 900.0), (-90.0, 950.0), (10.0, 1000.0)])
    assert foot_by_shape(chin, RISE) is None


# --- from station to station ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("ys", "x", "z", "kept"),
    [
        # 100 mm outward the foot may move by 200 mm rearward and by 100 mm up or down: own choice.
        ((0, 100), (1000, 1199), (800, 800), (3, 3)),
        ((0, 100), (1000, 1201), (800, 800), (3, None)),
        ((0, 100), (1000, 801), (800, 800), (3, 3)),
        ((0, 100), (1000, 799), (800, 800), (3, None)),
        ((0, 100), (1000, 1000), (800, 899), (3, 3)),
        ((0, 100), (1000, 1000), (800, 901), (3, None)),
        ((0, 100), (1000, 1000), (900, 801), (3, 3)),
        ((0, 100), (1000, 1000), (900, 799), (3, None)),
        ((0, 200), (1000, 1349), (800, 800), (3, 3)),
        ((0, 200), (1000, 1351), (800, 800), (3, None)),
        # What lies beyond a loss is lost; the other side is not.
        ((-200, -100, 0, 100, 200), (1000, 1000, 1000, 1500, 1500), (800,) * 5,
         (3, 3, 3, None, None)),
        ((-200, -100, 0, 100, 200), (1000, 600, 1000, 1000, 1000), (800,) * 5,
         (None, None, 3, 3, 3)),
        # The one nearest the centre is the first of all.
        ((-300, -50, 60), (1000, 1000, 1300), (800,) * 3, (3, 3, None)),
        ((-60, 50, 300), (1300, 1000, 1000), (800,) * 3, (None, 3, 3)),
    ],
)  # fmt: skip
def test_feet_hang_together(ys, x, z, kept) -> None:
    sections = [front(*place) for place in zip(x, z, ys, strict=True)]
    assert feet_by_shape(sections, RISE) == list(kept)
    # Neighbours of those without one have none either; without one at the centre none has.
    bare = [level(s.y) if foot is None else s for s, foot in zip(sections, kept, strict=True)]
    assert feet_by_shape(bare, RISE) == list(kept)
    centre = min(range(len(ys)), key=lambda i: abs(ys[i]))
    gone = [level(s.y) if i == centre else s for i, s in enumerate(sections)]
    assert feet_by_shape(gone, RISE) == [None] * len(ys)


def test_feet_from_a_given_place() -> None:
    """Given half way along the bonnet, 400 mm ahead of the bend: it runs straight across.

    Where the bend lies near the neighbour's foot, that is taken; from there on its neighbours too.
    """
    ahead = front(1000.0, 800.0, 0.0).points[2:4].mean(axis=0)
    sections = [front(y=y) for y in (-100.0, 0.0, 100.0)]
    assert feet_from(sections, tuple(ahead), RISE) == [2.5, 2.5, 2.5]
    near = [
        front(x, y=y) for x, y in ((1000, -100), (1000, 0), (600, 100), (620, 200), (1400, 300))
    ]
    found = feet_from(near, tuple(ahead), RISE)
    assert found[:4] == [2.5, 2.5, 3.0, 3.0]
    # The foot at 200 mm out stands at (620, 800); the last contour passes it a little lower.
    at = place_of(near[4], found[4])
    way = np.subtract(near[4].points[3], near[4].points[2])
    t = np.dot(np.subtract((620, 800), near[4].points[2]), way) / np.dot(way, way)
    assert at == pytest.approx(tuple(near[4].points[2] + t * way), abs=1e-9)
    left = [Section(s.points, -s.y) for s in near[::-1]]
    assert feet_from(left, tuple(ahead), RISE) == found[::-1]


# --- places and labels ---------------------------------------------------------------------

ROW = Section(
    [(0, 300), (0, 700), (100, 700), (200, 700), (300, 800)],
    50.0, ["bumper", "bumper", "bonnet", "pillar", "windscreen"],
    [1, 2, 3, 4, 5], [6, 7, 8, 9, 10], [11, 12, 13, 14, 15], [0.1, 0.2, 0.3, 0.4, 0.5],
    [False, True, False, False, False],
)  # fmt: skip


@pytest.mark.parametrize(
    ("at", "place"),
    [((50, 600), 0.75), ((60, 720), 1.6), ((100, 700), 2.0), ((100.00001, 700), 2.0),
     ((99.99999, 700), 2.0), ((100.001, 700), 2.00001), ((500, 1000), 3.5), ((290, 790), 3.5),
     ((240, 740), 3.4), ((-50, 100), 0.0)],
)  # fmt: skip
def test_the_nearest_place_is_never_beyond_half_of_the_last_stretch(at, place) -> None:
    assert nearest_place(ROW, at) == pytest.approx(place, abs=1e-9)


def test_the_place_of_a_foot() -> None:
    assert [place_of(ROW, foot) for foot in (0.0, 0.25, 2.5, 3.5, 4.0)] == [
        (0.0, 300.0), (0.0, 400.0), (150.0, 700.0), (250.0, 750.0), (300.0, 800.0)
    ]  # fmt: skip


def test_labels_behind_a_foot_at_a_point() -> None:
    assert with_foot(ROW, None) is ROW
    made = with_foot(ROW, 2.0)
    assert made.parts == ("bumper", "bumper", "windscreen", "pillar", "windscreen")
    assert np.array_equal(made.points, ROW.points)
    # What was windscreen ahead of it is so no longer.
    glazed = ROW.relabelled(["windscreen", "bumper", "windscreen", "bonnet", "bonnet"])
    assert with_foot(glazed, 3.0).parts == ("", "bumper", "", "windscreen", "windscreen")
    bare = Section(ROW.points)
    assert with_foot(bare, 3.0).parts == ("", "", "", "windscreen", "windscreen")


def test_a_point_is_put_in_where_the_contour_has_none() -> None:
    made = with_foot(ROW, 2.25)
    assert made.points.tolist() == [[0, 300], [0, 700], [100, 700], [125, 700], [200, 700],
                                    [300, 800]]  # fmt: skip
    assert made.parts == ("bumper", "bumper", "bonnet", "windscreen", "pillar", "windscreen")
    assert made.height_u.tolist() == [1, 2, 3, 3, 4, 5]
    assert made.setback_u.tolist() == [6, 7, 8, 8, 9, 10]
    assert made.rows == (11, 12, 13, 13, 14, 15)
    assert made.correlation.tolist() == [0.1, 0.2, 0.3, 0.3, 0.4, 0.5]
    assert made.proposed.tolist() == [False, True, False, True, False, False]
    assert made.y == 50.0
    bare = with_foot(Section(ROW.points), 2.25)
    assert (bare.height_u, bare.setback_u, bare.rows, bare.correlation, bare.proposed) == (
        None,
    ) * 5
    assert bare.parts == ("", "", "", "windscreen", "windscreen", "windscreen")


# --- contours side by side -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "screen"),
    [
        (["bumper", "bumper", "bonnet", "windscreen", "windscreen"], (2, 3, 4)),
        (["bumper", "bumper", "bonnet", "bonnet", "windscreen"], (-1, -1, -1)),
        (["bonnet", "bonnet", "bonnet", "windscreen", "windscreen"], (0, 3, 4)),
        (["", "", "", "windscreen", "windscreen"], (0, 3, 4)),
        (["underside", "lamp", "cowl", "windscreen", "windscreen"], (2, 3, 4)),
        (["underside", "grille", "windscreen", "bonnet", "windscreen"], (2, 2, 4)),
        (["bonnet", "windscreen", "bumper", "bumper", "windscreen"], (0, 1, 4)),
        (["windscreen", "windscreen", "", "", ""], (0, 0, 1)),
        (["bumper", "wing", "bonnet", "windscreen", "windscreen"], (1, 3, 4)),
    ],
)  # fmt: skip
def test_where_the_windscreen_lies_in_a_contour(parts, screen) -> None:
    """First upper point, first and last of the windscreen; one point alone is none."""
    sections = [Section(ROW.points, parts=parts), Section(ROW.points[:3])]
    contours = Contours.of(sections)
    assert contours.screen.tolist() == [list(screen), [-1, -1, -1]]
    # Shorter contours repeat their last point and its part.
    assert contours.counts.tolist() == [5, 3]
    assert contours.points[1].tolist() == [[0, 300], [0, 700], [100, 700], [100, 700], [100, 700]]
    assert contours.parts[1].tolist() == [-1] * 5
    some = contours.part(np.array([1]))
    assert (len(some), some.counts.tolist(), some.screen.tolist()) == (1, [3], [[-1, -1, -1]])
    copies = Contours.copies(sections[0], np.stack([ROW.points, ROW.points + 1.0]))
    assert copies.screen.tolist() == [list(screen)] * 2
    assert copies.silhouette.tolist() == [False, False]

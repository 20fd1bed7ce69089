"""What must not matter to a struck person: side, place and points of a front, and who else is.

Symmetry of mechanics and of the front; no source but these.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from checks import Check, derived
from references.saloon import PARTS, SALOON, front_of, resampled, struck_front, wads

import frontcheck as fc
from frontcheck.body.anatomy import figure_of
from frontcheck.body.assumed import drawn
from frontcheck.body.struck import Struck, strike
from frontcheck.people.people import struck_people

MOVED = Check(
    "motion-front-moved-along",
    kind="closed form",
    quantity="where the head lands on a front moved along, case by case",
    unit="mm",
    source=derived("symmetry: place along the road does not matter"),
    why="own choice: rounding is magnified where circles meet edges",
)
RESAMPLED = Check(
    "motion-more-points",
    kind="closed form",
    quantity="where the head lands on the same contour with more points",
    unit="mm",
    source=derived("the same contour is the same front"),
    why="own choice: rounding is magnified where circles meet edges",
)

PEOPLE = struck_people()
CHILD, MAN = PEOPLE[0], PEOPLE[3]
SPEED = 40.0 / 3.6
HEADS = ("wad_mm", "time_ms", "at_mm")


def struck(front, people=(CHILD, MAN), **options):
    study = fc.motion(front, people=people, draws=20, **options)
    return study, [[getattr(one, name) for name in HEADS] for one in study.heads[0]]


@cache
def plain():
    return struck(front_of())


def assert_alike(one, other) -> None:
    """Bit by bit, station apart."""
    for a, b in zip(one[0].people, other[0].people, strict=True):
        assert a.wad_mm is not None
        assert replace(a, station_mm=0.0) == replace(b, station_mm=0.0)
    for a, b in zip(one[1], other[1], strict=True):
        assert all(np.array_equal(x, y, equal_nan=True) for x, y in zip(a, b, strict=True))


def test_the_other_side_of_a_symmetrical_front_is_the_same() -> None:
    front = fc.read_front("geometries/plover.csv")
    assert_alike(struck(front, station=400.0), struck(front, station=-400.0))


def leaning_front(sign):
    """Either side another: the bonnet rises to one side."""
    ys = (-400.0, -200.0, 0.0, 200.0, 400.0)
    rise = np.clip((SALOON[:, 1] - 700.0) / 200.0, 0.0, 1.0)
    return fc.Front(
        [
            fc.Section(SALOON + np.outer(rise, [0.0, 0.15 * sign * y]), y, PARTS)
            for y in ys
        ],
        symmetric=False,
    )  # fmt: skip


def test_a_mirrored_front_is_struck_alike_at_the_mirrored_station() -> None:
    own = struck(leaning_front(1.0), station=200.0)
    assert_alike(own, struck(leaning_front(-1.0), station=-200.0))
    # And it does matter where: on the other side of the front itself all is different.
    other = struck(leaning_front(1.0), station=-200.0)
    assert abs(own[0].people[1].wad_mm.median - other[0].people[1].wad_mm.median) > 5.0


@pytest.mark.parametrize("by", [-250.0, 700.0])
def test_a_front_moved_along_moves_nothing(by) -> None:
    """Every case lands within 1 mm, as soon as before within 0.1 ms."""
    _, moved = struck(front_of(SALOON + np.array([by, 0.0])))
    for (wad, time, at), (wad_0, time_0, at_0) in zip(moved, plain()[1], strict=True):
        known = ~np.isnan(wad_0)
        assert (np.isnan(wad) == ~known).all()
        MOVED.compare(wad_0[known], wad[known], tolerance=1.0)
        assert time == pytest.approx(time_0, abs=0.1)
        assert at[:, 0] - by == pytest.approx(at_0[:, 0], abs=1.0)
        assert at[:, 1] == pytest.approx(at_0[:, 1], abs=1.0)


@pytest.mark.parametrize("count", [60, 300])
def test_more_points_on_the_same_contour_move_next_to_nothing(count) -> None:
    """1 mm, each part as soft as the others: where parts begin is known to a point only."""
    fine = struck_front(resampled(SALOON, count), None)
    coarse = struck_front(SALOON, None)
    assert len(fine.points) > count
    cases = drawn(20, 1)
    cases = replace(
        cases,
        stiffness=np.repeat(cases.stiffness[:, :1], 4, axis=1),
        friction=np.repeat(cases.friction[:, :1], 4, axis=1),
    )
    for person in (CHILD, MAN):
        ends = [
            wads(front, strike(figure_of(person), front.wall, front.part, cases, SPEED))
            for front in (coarse, fine)
        ]
        RESAMPLED.compare(ends[0], ends[1], tolerance=1.0)


def test_who_else_is_struck_does_not_matter() -> None:
    """All five together as the first and the last alone, bit by bit."""
    together, heads = struck(front_of(), PEOPLE)
    for i in (0, len(PEOPLE) - 1):
        alone, own = struck(front_of(), PEOPLE[i : i + 1])
        assert alone.people[0] == together.people[i]
        for one, other in zip(own[0], heads[i], strict=True):
            assert np.array_equal(one, other, equal_nan=True)


@pytest.mark.parametrize("person", [CHILD, MAN], ids=lambda person: person.name)
def test_a_case_alone_goes_as_among_others(person) -> None:
    """To a nanometre and in the same step: sines of many are rounded otherwise than of few."""
    cases, front, figure = drawn(20, 3), struck_front(), figure_of(person)
    many = strike(figure, front.wall, front.part, cases, SPEED)
    for k in (0, 7, 19):
        own = replace(cases, **{f.name: getattr(cases, f.name)[k : k + 1] for f in fields(cases)})
        one = strike(figure, front.wall, front.part, own, SPEED)
        for name in (each.name for each in fields(Struck) if each.name not in ("times", "poses")):
            assert getattr(one, name)[0] == pytest.approx(getattr(many, name)[k], abs=1e-9), name

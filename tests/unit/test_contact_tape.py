"""The taut tape on contours whose paths can be read off. Lengths by Pythagoras."""

from __future__ import annotations

import math

import numpy as np
import pytest
from references.tape import SlowTape

from frontcheck.geometry.tape import ANCHOR, TautTape
from frontcheck.geometry.tape_batch import rises_then_runs, tape_marks

# A face with a slot, square corners: tape over the slot, into the slot, over the top.
SLOT = np.array(
    [[300, 100], [0, 100], [0, 200], [40, 200], [40, 300], [0, 300], [0, 500], [600, 500]], float
)


def hooked(depth: float = 60.0) -> np.ndarray:
    """A pocket whose mouth opens upward behind a lip: reached only over the lip."""
    return np.array(
        [[300, 100], [0, 100], [0, 400], [20, 400], [20, 400 - depth], [80, 400 - depth], [80, 600],
         [600, 600]], float,
    )  # fmt: skip


def test_tape_bridges_a_slot():
    tape = TautTape(SLOT, 0.0, 1)
    assert tape.distances[[1, 2, 5, 6, 7]] == pytest.approx([100.0, 200.0, 300.0, 500.0, 1100.0])
    # Deep corners: round the lower lip straight; the upper one from the lower lip as well.
    assert tape.distances[3] == pytest.approx(240.0)
    assert tape.distances[4] == pytest.approx(200.0 + math.hypot(40.0, 100.0))
    assert tape.path_to(4)[:1] == (ANCHOR,)


def test_every_solution_in_and_over_the_slot():
    """At 260: on the slot's floor, then on its roof on the way out; then the face at 300 up."""
    tape = TautTape(SLOT, 0.0, 1)
    found = tape.solve(260.0)
    assert [p.stretch for p in found] == [3]
    # From the lower lip (0, 200): 40 across, sqrt(60^2 - 40^2) up.
    assert (found[0].x, found[0].z) == pytest.approx((40.0, 200.0 + math.sqrt(2000.0)))
    assert found[0].bridged
    over = tape.solve(400.0)
    assert [(p.x, p.z, p.bridged) for p in over] == [(0.0, 400.0, False)]


def test_distance_not_monotone_in_the_slot():
    """Up the floor to 307.7 at the inner corner, back to 300 at the upper lip, then on."""
    tape = TautTape(SLOT, 0.0, 1)
    found = tape.solve(303.0)
    assert [p.stretch for p in found] == [3, 4, 5]
    assert found[0].z == pytest.approx(200.0 + math.sqrt(103.0**2 - 40.0**2))
    assert found[1].x == pytest.approx(math.sqrt(103.0**2 - 100.0**2))
    assert (found[2].x, found[2].z) == pytest.approx((0.0, 303.0))
    assert [p.bridged for p in found] == [True, True, False]


def test_pocket_behind_a_lip():
    tape = TautTape(hooked(), 0.0, 1)
    assert tape.distances[4] == pytest.approx(400.0 + 20.0 + 60.0)
    assert tape.distances[5] == pytest.approx(400.0 + 20.0 + math.hypot(60.0, 60.0))


def test_spans_of_the_slot_and_of_a_straight_run():
    tape = TautTape(SLOT, 0.0, 1)
    assert tape.spans((ANCHOR, 1, 2, 5, 6)) == ((2, 5),)
    # Points in a row on a straight face bridge nothing, whichever of them the tape bears on.
    straight = np.array([[300, 100], [0, 100], [0, 200], [0, 300], [0, 400], [300, 500]], float)
    row = TautTape(straight, 0.0, 1)
    assert row.spans(row.path_to(4)) == ()
    assert row.spans((ANCHOR, 1, 4)) == ()


@pytest.mark.parametrize("cuts", [0, 1, 4])
def test_straight_surface_cut_in_pieces_is_not_bridged(cuts):
    """Collinear points: the tape lies on the surface, though its last bend is far behind."""
    bonnet = np.linspace([100.0, 700.0], [1000.0, 850.0], cuts + 2)
    points = np.array([[200.0, 200.0], [0.0, 250.0], [0.0, 600.0], *bonnet])
    tape = TautTape(points, 0.0, 1)
    for distance in (800.0, 1200.0, 1500.0):
        (point,) = tape.solve(distance)
        assert not point.bridged
        marks = tape_marks(points[None], np.zeros(1), np.ones(1, dtype=int), (distance,))
        assert marks.reached[0, 0]
        assert not marks.bridged[0, 0]


def test_corners_in_a_row_with_the_tape():
    """A point that only just touches the tape must not be passed through when the tape turns.

    (260, 290), (280, 290) and (240, 290) are in a row. Walking back into the pocket from the
    face, the tape to (220, 300) runs along that row, and then turns about its points. Found
    by random search on a coarse grid, where one in twenty contours has such a row.
    """
    points = np.array(
        [[360, 280], [260, 290], [280, 290], [220, 300], [240, 290], [0, 380]], dtype=float
    )
    tape = TautTape(points, 0.0, 5)
    assert tape.distances == pytest.approx(SlowTape(points, 0.0).distances, rel=0, abs=1e-9)
    # Both outer points are in plain view of the anchor.
    assert tape.distances[[0, 1]] == pytest.approx([math.hypot(360, 280), math.hypot(260, 290)])


def test_tape_that_turns_back_on_itself():
    """Collinear points on a wall that the tape reaches from its far end.

    In the pocket of a hook the wall runs toward the bend that the tape comes from; halved, its
    points are off the line by rounding, to either side.
    """
    wall = np.array([[83.28, 669.49], [92.20, 647.05]])
    for part in (0.1, 0.3, 0.5, 0.7):
        middle = wall[0] + part * (wall[1] - wall[0])
        points = np.array(
            [[300, 100], [10, 236], [36, 584], [107.22, 649.66], [108.06, 668.38], wall[0], middle,
             wall[1], [57.5, 648.6], [59.5, 692.6], [109, 690], [140, 900], [700, 1000]],
        )  # fmt: skip
        for shift in (0.0, 1e-14, 3e-13):
            moved = np.add(points, [shift, 0.0])
            got = TautTape(moved, 10.0, 1).distances
            assert got == pytest.approx(SlowTape(moved, 10.0).distances, rel=0, abs=1e-9)


def test_start_beyond_the_distance_looks_below():
    """A distance shorter than the way to the foremost point: the nearest point below it."""
    tape = TautTape(np.array([[100, 300], [0, 500], [0, 700], [300, 800]], float), 0.0, 1)
    (point,) = tape.solve(400.0)
    assert point.stretch == 0
    assert math.hypot(point.x, point.z) == pytest.approx(400.0)
    assert tape.solve(100.0) == ()
    marks = tape_marks(tape.points[None], np.zeros(1), np.ones(1, dtype=int), (400.0, 600.0))
    assert (marks.x[0, 0], marks.z[0, 0]) == (point.x, point.z)
    assert marks.z[0, 1] == pytest.approx(600.0)


@pytest.mark.parametrize("t", [-0.1, 1.1, math.nan])
def test_place_must_be_on_the_stretch(t):
    with pytest.raises(ValueError, match="t must lie within"):
        TautTape(SLOT, 0.0, 1).at(2, t)


def test_at_agrees_with_the_distances_of_both_ends():
    tape = TautTape(SLOT, 0.0, 1)
    for stretch in range(len(SLOT) - 1):
        ends = [tape.at(stretch, t).distance for t in (0.0, 1.0)]
        assert ends == pytest.approx(tape.distances[[stretch, stretch + 1]], rel=0, abs=1e-9)


def test_plain_contours_are_told_from_others():
    start, anchor = np.ones(1, dtype=int), np.zeros(1)
    plain = np.array([[100, 200], [0, 250], [0, 700], [900, 800]], float)
    assert rises_then_runs(plain[None], anchor, start)[0]
    # A slot in the face falls nowhere either: its walls are level.
    assert rises_then_runs(SLOT[None], anchor, start)[0]
    # A pocket behind a lip falls, and then comes forward of nothing: it runs rearward.
    assert rises_then_runs(hooked()[None], anchor, start)[0]
    fold = hooked()
    fold[5, 0], fold[6, 0] = 15.0 + 60.0, 40.0  # comes forward again after falling
    assert not rises_then_runs(fold[None], anchor, start)[0]
    # Something in front of the anchor, or in front of the start and below it.
    assert not rises_then_runs(plain[None], anchor + 1.0, start)[0]


def test_no_distances_and_no_contours():
    none = tape_marks(SLOT[None], np.zeros(1), np.ones(1, dtype=int), ())
    assert none.x.shape == (1, 0)
    empty = tape_marks(np.empty((0, 4, 2)), np.empty(0), np.empty(0, dtype=int), (100.0,))
    assert empty.reached.shape == (0, 1)
    first = tape_marks(SLOT[None], np.zeros(1), np.ones(1, dtype=int), (150.0, 303.0)).first(1)
    assert first.z.tolist() == [[150.0]]

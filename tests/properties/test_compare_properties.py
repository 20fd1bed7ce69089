"""What must hold for any two contours: nothing against itself, opposites, shifts.

Source: the definition of a comparison (B minus A), and that tools slide in x only, so a front
moved in x moves every line by that and changes nothing else. Contours come from the seeded
generator of tests/references.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from references.random_contours import KINDS, RandomContour, random_contours

from frontcheck import Front, Screening, Section, screen
from frontcheck.comparison.contour_distance import contour_distance, signed_distance
from frontcheck.comparison.two_fronts import compare

EXAMPLES = settings(max_examples=40)
contours = st.builds(
    lambda seed, kind: random_contours(seed, 1, (kind,))[0],
    st.integers(0, 10**6),
    st.sampled_from(KINDS),
)


def screened(contour: RandomContour, by: float = 0.0) -> Screening:
    points = contour.points + np.array([by, 0.0])
    return screen(Front((Section(points, 0.0, contour.labels),)), wad=(1000.0, 1500.0))


@EXAMPLES
@given(contours)
def test_a_front_against_itself_does_not_differ(contour):
    one = screened(contour)
    found = compare(one, one)
    assert not found.changed
    assert {r["change"] for r in found.records()} <= {0.0, None}


@EXAMPLES
@given(contours, contours, st.sampled_from(["none", "foremost"]))
def test_a_to_b_is_exactly_the_opposite_of_b_to_a(a, b, align):
    one, two = screened(a), screened(b)
    there, back = compare(one, two, align=align), compare(two, one, align=align)
    for x, y in zip(there.records(), back.records(), strict=True):
        assert (x["a"], x["b"]) == (y["b"], y["a"])
        assert x["change"] is None if y["change"] is None else x["change"] == -y["change"]
    x, y = there.stations[0].contour, back.stations[0].contour
    for name, other in (("outward", "inward"), ("inward", "outward")):
        p, q = getattr(x, name), getattr(y, other)
        assert (p is None) == (q is None)
        assert p is None or p.value == -q.value
    assert (x.along_a.values == -y.along_b.values).all()
    kinds = [[f.kind for f in found.findings] for found in (there, back)]
    assert kinds[0].count("new") == kinds[1].count("gone")
    assert kinds[0].count("gone") == kinds[1].count("new")
    assert kinds[0].count("same") == kinds[1].count("same")


@EXAMPLES
@given(contours, st.integers(-4000, 4000).map(lambda n: n / 16.0))
def test_a_shift_in_x_is_reported_as_that_shift(contour, by):
    a, b = screened(contour), screened(contour, by)
    statuses = [[p.status for p in (*s.lines, *s.wads)] for s in (a.stations[0], b.stations[0])]
    assume(statuses[0] == statuses[1])  # a touch at a threshold may turn by rounding alone
    found = compare(a, b).stations[0]
    straight = compare(a, b, align="foremost").stations[0]
    for line in ("LBRL", "UBRL"):
        x = found.change(f"{line}_x_mm")
        if x.change is not None:
            assert x.change == pytest.approx(by, abs=1e-6)
            assert found.change(f"{line}_z_mm").change == pytest.approx(0.0, abs=1e-6)
            assert straight.change(f"{line}_x_mm").change == pytest.approx(0.0, abs=1e-6)
    # No place is farther from its own image than it was moved.
    for extreme in (found.contour.outward, found.contour.inward):
        assert extreme is None or abs(extreme.value) <= abs(by) + 1e-9


@EXAMPLES
@given(contours, contours)
def test_no_place_looked_at_is_farther_than_the_extremes(a, b):
    found = contour_distance(a.points, b.points, 25.0)
    top = found.outward.value if found.outward else 0.0
    low = found.inward.value if found.inward else 0.0
    for along in (found.along_a, found.along_b):
        values = along.values[along.comparable]
        assert (values <= top + 1e-12).all()
        assert (values >= low - 1e-12).all()


@EXAMPLES
@given(contours, contours, st.floats(-500.0, 500.0), st.floats(0.0, 300.0))
def test_distance_does_not_depend_on_where_both_stand(a, b, dx, dz):
    move = np.array([dx, dz])
    here, _, known = signed_distance(a.points, b.points)
    there, _, known_too = signed_distance(a.points + move, b.points + move)
    both = known & known_too & (np.abs(here) > 1e-6)
    assert np.abs(here[both]) == pytest.approx(np.abs(there[both]), abs=1e-8)

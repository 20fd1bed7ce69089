"""What must hold for any dimensions: a clear reason, or a contour that is one."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from frontcheck.errors import NotAvailableError
from frontcheck.study.nose_dimensions import DIMENSIONS, Nose
from frontcheck.study.noses import facets_for, nose_batch, nose_front
from frontcheck.study.roundings import lay_out

BASE = np.array([d.default for d in DIMENSIONS])
LOW = np.array([d.low for d in DIMENSIONS])
HIGH = np.array([d.high for d in DIMENSIONS])


@st.composite
def dimensions(draw):
    """Dimensions near the default or far from it, within their ranges."""
    spread = draw(st.sampled_from([0.02, 0.1, 0.4, 2.0]))
    factors = draw(
        st.lists(st.floats(-1.0, 1.0), min_size=len(BASE), max_size=len(BASE)).map(np.array)
    )
    return np.clip(BASE * (1 + spread * factors), LOW, HIGH)


@given(dimensions())
@settings(deadline=None, max_examples=300)
def test_a_nose_is_a_simple_contour_or_a_reason(values):
    if reason := lay_out(np.array([values])).reason[0]:
        with pytest.raises(NotAvailableError) as error:
            nose_front(Nose(*values))
        assert str(error.value) == reason
        return
    section = nose_front(Nose(*values)).sections[0]
    points = section.points
    assert shapely.LineString(points).is_simple
    assert (points[:, 1] >= 0).all()
    # The proof that it cannot cross itself: heights rise to the leading edge, then x grows.
    split = next(i for i, part in enumerate(section.parts) if part == "bonnet")
    assert (np.diff(points[: split + 1, 1]) >= -1e-9).all()


@given(dimensions())
@settings(deadline=None, max_examples=150)
def test_joints_are_tangent_to_1e_9(values):
    chain = lay_out(values[None])
    if chain.reason[0]:
        return
    for i in (0, 1, 2, 3, 4, 5, 7):
        a = chain.point(i, chain.leave[i])[0]
        b = chain.point(i + 1, chain.enter[i + 1])[0]
        along = np.array([np.cos(chain.leave[i, 0]), np.sin(chain.leave[i, 0])])
        off = b - a
        assert abs(off[0] * along[1] - off[1] * along[0]) < 1e-9
        assert abs((a - chain.centre[i, 0]) @ along) < 1e-9
        assert abs((b - chain.centre[i + 1, 0]) @ along) < 1e-9


@given(dimensions(), dimensions())
@settings(deadline=None, max_examples=60)
def test_facets_shared_with_another_nose_keep_the_tolerance(one, other):
    if lay_out(one[None]).reason[0] or lay_out(other[None]).reason[0]:
        return
    both = np.stack([one, other])
    batch = nose_batch(both, facets_for(both, 0.05))
    own = nose_batch(one[None], facets_for(one[None], 0.001)).points[0]
    line = shapely.LineString(batch.points[0])
    # Two chords of one arc differ by no more than the two tolerances together.
    assert shapely.hausdorff_distance(line, shapely.LineString(own), densify=0.02) < 0.051 + 1e-6

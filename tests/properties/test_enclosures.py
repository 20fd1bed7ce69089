"""Enclosures are sound: no shape in a box has a line outside the range given for the box.

Shapes are drawn in random boxes and their lines formed by the ordinary way; a proof that none
exists rests on this and nothing else.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frontcheck.front.front import Front
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set
from frontcheck.study.enclosure import ENCLOSED, Forms, enclosures_of
from frontcheck.study.nose_dimensions import Nose
from frontcheck.study.noses import facets_for
from frontcheck.study.study import Setup, measure, prefixed
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes

HANDLES = (
    "nose_up_mm", "lower_lip_up_mm", "lower_lip_back_mm", "upper_lip_back_mm",
    "leading_edge_up_mm", "leading_edge_back_mm",
)  # fmt: skip
WHOLE = (
    "recess_deeper_mm", "bumper_face_back_mm", "bumper_face_up_mm", "bonnet_height_up_mm",
    "nose_back_mm", "ride_height_up_mm",
)  # fmt: skip
REACH = 60.0
DIMENSIONS = {
    "lower_lip_height_mm": (300.0, 380.0),
    "lower_lip_setback_mm": (0.0, 110.0),
    "lower_lip_radius_mm": (8.0, 40.0),
    "bumper_height_mm": (490.0, 560.0),
    "bumper_radius_mm": (15.0, 50.0),
    "leading_edge_height_mm": (700.0, 900.0),
    "lead_mm": (60.0, 200.0),
    "leading_edge_radius_mm": (30.0, 200.0),
    "upper_lip_setback_mm": (0.0, 60.0),
}
unit = st.floats(0.0, 1.0)


def check(shapes, rules, lo, hi, seed):
    """Lines of shapes in a box, its corners among them, lie within the box's ranges."""
    rng = np.random.default_rng(seed)
    inside = lo + rng.random((48, len(lo))) * (hi - lo)
    corners = np.where(rng.random((16, len(lo))) < 0.5, lo, hi)
    values = np.concatenate([inside, corners, lo[None], hi[None]])
    measured = measure(Setup(shapes, rules, (1000.0,)), values)
    seen = 0
    for y, enclosure in enclosures_of(shapes, rules).items():
        for name in ENCLOSED:
            found = enclosure.line(name, lo[None], hi[None])
            got = measured.columns[prefixed(y, name)]
            got = got[~np.isnan(got)]
            assert (got >= found.lo[0] - 1e-6).all(), name
            assert (got <= found.hi[0] + 1e-6).all(), name
            seen += len(got)
        least = enclosure.moved(lo[None], hi[None])[0]
        assert (shapes.travel(values).max(axis=1) >= least - 1e-9).all()
    return seen


@pytest.fixture(scope="module")
def plover(request):
    return read_front(request.config.rootpath / "geometries" / "plover.csv")


@pytest.fixture(scope="module")
def avocet(request):
    return read_front(request.config.rootpath / "geometries" / "avocet.csv")


@given(
    st.lists(unit, min_size=6, max_size=6), st.sampled_from([0.003, 0.03, 0.3, 1.0]),
    st.sampled_from(["UN-R127-02", "EU-631-2009"]), st.sampled_from([0.0, 300.0, 580.0]),
    st.sampled_from([HANDLES, WHOLE]),
)  # fmt: skip
@settings(max_examples=150)
def test_measured_fronts(plover, at, width, rules, y, handles):
    shapes = FrontShapes(plover, handles, (y,))
    lo = -REACH + np.array(at) * 2 * REACH * (1 - width)
    check(shapes, rule_set(rules), lo, lo + 2 * REACH * width, seed=1)


@given(st.lists(unit, min_size=2, max_size=2), st.sampled_from([0.01, 0.1, 1.0]))
@settings(max_examples=60)
def test_a_low_front_whose_edge_touches_with_its_ends(avocet, at, width):
    shapes = FrontShapes(avocet, ("nose_up_mm", "face_lean_deg"), (0.0, 650.0))
    low, high = np.array([-80.0, -np.tan(0.1)]), np.array([80.0, np.tan(0.1)])
    lo = low + np.array(at) * (high - low) * (1 - width)
    hi = lo + (high - low) * width
    # Boxes hold tangents of angles; shapes are made from angles.
    field = shapes.fields[0]
    back = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    assert field.scaled(np.degrees(np.arctan(lo[None])) * back[1] + lo * back[0])[0] == (
        pytest.approx(lo)
    )
    inside = lo + np.random.default_rng(2).random((40, 2)) * (hi - lo)
    values = np.stack([inside[:, 0], np.degrees(np.arctan(inside[:, 1]))], axis=1)
    measured = measure(Setup(shapes, rule_set(), (1000.0,)), values)
    for y, enclosure in enclosures_of(shapes, rule_set()).items():
        for name in ENCLOSED:
            found = enclosure.line(name, lo[None], hi[None])
            got = measured.columns[prefixed(y, name)]
            got = got[~np.isnan(got)]
            assert ((got >= found.lo[0] - 1e-6) & (got <= found.hi[0] + 1e-6)).all(), name


@cache
def whole_noses():
    """Least and greatest dimensions of a nose, and the shapes between them."""
    low, high = (np.array([pair[k] for pair in DIMENSIONS.values()]) for k in (0, 1))
    nose = Nose(recess_radius_mm=12, grille_radius_mm=12, upper_lip_radius_mm=15)
    names = tuple(DIMENSIONS)
    bare = NoseShapes(nose, names, (0.0,), facets_for(nose.values[None]), 0.02)
    sample = low + np.random.default_rng(5).random((512, 9)) * (high - low)
    facets = facets_for(bare.full(np.concatenate([bare.base[None], sample])), 0.02, 5.0)
    return low, high, NoseShapes(nose, names, (0.0, 400.0), facets, 0.02)


@given(
    st.lists(unit, min_size=9, max_size=9), st.sampled_from([0.003, 0.05, 0.3, 1.0]),
    st.sampled_from(["UN-R127-02", "EU-631-2009"]),
)  # fmt: skip
@settings(max_examples=150)
def test_parametric_noses(at, width, rules):
    low, high, shapes = whole_noses()
    lo = low + np.array(at) * (high - low) * (1 - width)
    check(shapes, rule_set(rules), lo, lo + (high - low) * width, seed=3)


def test_small_boxes_are_enclosed_tightly(plover):
    """Sound bounds that say nothing would prove nothing: in small boxes they are narrow."""
    shapes = FrontShapes(plover, ("nose_up_mm",), (0.0,))
    enclosure = enclosures_of(shapes, rule_set())[0.0]
    for name in ENCLOSED:
        found = enclosure.line(name, np.array([[10.0]]), np.array([[10.01]]))
        assert found.hi[0] - found.lo[0] < 0.05, name
    shapes = NoseShapes(Nose(), ("lead_mm",), (0.0,), facets_for(Nose().values[None]), 0.02)
    enclosure = enclosures_of(shapes, rule_set())[0.0]
    for name in ENCLOSED:
        found = enclosure.line(name, np.array([[100.0]]), np.array([[100.01]]))
        assert found.hi[0] - found.lo[0] < 0.05, name


def test_an_enclosure_that_forgets_a_point_would_be_caught(plover, monkeypatch):
    """The check itself: with the ranges of one form made too narrow it fails."""
    honest = Forms.over

    def narrow(self, lo, hi):
        found = honest(self, lo, hi)
        return type(found)(found.lo, found.lo)

    monkeypatch.setattr(Forms, "over", narrow)
    shapes = FrontShapes(plover, ("nose_up_mm",), (0.0,))
    with pytest.raises(AssertionError):
        check(shapes, rule_set(), np.array([0.0]), np.array([20.0]), seed=1)


@given(st.lists(st.floats(-5, 5), min_size=6, max_size=6), st.lists(unit, min_size=3, max_size=3))
def test_forms_reach_their_bounds_at_corners_only(numbers, at):
    slope = np.array(numbers).reshape(3, 2)
    forms = Forms(np.array([1.0, -2.0]), slope)
    lo, hi = np.array([[-1.0, 0.0, 2.0]]), np.array([[1.0, 0.5, 7.0]])
    found = forms.over(lo, hi)
    point = lo[0] + np.array(at) * (hi - lo)[0]
    value = forms.constant + point @ slope
    assert (value >= found.lo[0] - 1e-9).all()
    assert (value <= found.hi[0] + 1e-9).all()
    every = np.array([
        forms.constant + np.array([a, b, c]) @ slope
        for a in (lo[0, 0], hi[0, 0]) for b in (lo[0, 1], hi[0, 1]) for c in (lo[0, 2], hi[0, 2])
    ])  # fmt: skip
    assert found.lo[0] == pytest.approx(every.min(axis=0), abs=1e-9)
    assert found.hi[0] == pytest.approx(every.max(axis=0), abs=1e-9)


def test_a_front_without_labels_is_enclosed_too(plover):
    from frontcheck.surface.section import Section

    bare = Section(plover.sections[0].points)
    shapes = FrontShapes(Front((bare,)), ("nose_up_mm", "leading_edge_up_mm"), (0.0,))
    for width in (0.1, 5.0, 40.0):
        lo = np.array([-20.0, 0.0])
        assert check(shapes, rule_set(), lo, lo + width, seed=4) > 100

"""What if a feature were moved on a front without labels or of a mesh: glass, marks and notes."""

from __future__ import annotations

import itertools
from dataclasses import replace
from types import SimpleNamespace as Fake

import numpy as np
import pytest
from analytic_fronts import PARTS, POINTS, AnalyticFront, circle, flat_ellipse

import frontcheck as fc
from frontcheck import Front, Section, read_front
from frontcheck.study.moves import Obstacle

WHOLE = AnalyticFront(circle(1100.0), POINTS, PARTS).table(250.0)
BARE = replace(WHOLE, sections=tuple(Section(s.points, s.y) for s in WHOLE.sections))
FOOT = (1400.0, 1076.0)


def test_a_windscreen_that_was_given_goes_along_and_its_foot_alone_is_proposed() -> None:
    made = fc.what_if(BARE, {"ride_height": {"up": 12.0}}, windscreen_from=FOOT)
    before, after = made.base.windscreen.at, made.front.windscreen.at
    assert before == pytest.approx(FOOT, abs=1.0)
    assert after == pytest.approx((before[0], before[1] + 12.0))
    assert made.base.proposed[0] == 0  # as it was, nothing is called proposed
    centre = min(made.front.sections, key=lambda section: abs(section.y))
    foot = np.flatnonzero(centre.part_mask("windscreen"))[0]
    assert centre.points[foot] == pytest.approx(after)


def test_a_foot_that_was_put_in_is_proposed_even_where_nothing_moves() -> None:
    """Moved at one station only: at the others the point between two rows is marked, no other."""
    only = BARE.stations[0]
    made = fc.what_if(BARE, {"leading_edge": {"up": 3.0}}, windscreen_from=FOOT, only_at=[only])
    for old, new in zip(BARE.sections, made.front.sections, strict=True):
        marked = np.zeros(len(new), bool) if new.proposed is None else new.proposed
        if new.y == only:
            assert marked.sum() > 1
            continue
        added = len(new) - len(old)
        assert marked.sum() == added
        if added:
            assert np.flatnonzero(marked)[0] == np.flatnonzero(new.part_mask("windscreen"))[0]
    still = fc.what_if(BARE, {"leading_edge": {"up": 0.0}}, windscreen_from=FOOT)
    assert still.front.proposed[0] == 0
    assert still.skin_moved_mm == 0.0


def test_of_a_mesh_its_sections_are_moved_and_that_is_said(tmp_path) -> None:
    front = AnalyticFront(flat_ellipse(250.0, 900.0, 620.0), POINTS, PARTS)
    mesh = read_front(front.write_obj(tmp_path / "named.obj", 40.0), unit="mm", pitch=150.0)
    made = fc.what_if(mesh, {"ride_height": {"up": 5.0}})
    (note,) = made.notes
    assert note == (
        f"The mesh was cut to its {len(mesh.sections)} sections first, before and after: what runs "
        "between stations runs from section to section."
    )
    assert (made.base.mesh, made.front.mesh) == (None, None)
    assert fc.what_if(WHOLE, {"ride_height": {"up": 5.0}}).notes == ()


def front(*parts: str) -> Front:
    points = [(300.0, 250.0), (0.0, 300.0), (0.0, 600.0), (60.0, 750.0), (1300.0, 900.0)]
    return Front((Section(points, 0.0, parts or None),))


def test_what_was_in_the_way_makes_an_answer_incomplete() -> None:
    made = fc.what_if(front(), {"ride_height": {"up": 5.0}})
    for before, after, obstacles in itertools.product((True, False), (True, False), (0, 1)):
        one = replace(made, obstacles=(Obstacle(0.0, "why"),) * obstacles)
        vars(one).update(before=Fake(complete=before), after=Fake(complete=after))
        assert one.complete == (before and after and not obstacles)
    away = fc.what_if(front(), {"ride_height": {"down": 251.0}})
    assert (away.front, away.skin_moved_mm) == (None, None)
    with pytest.raises(fc.errors.NotAvailableError) as caught:
        _ = away.after
    assert str(caught.value) == "at y = 0 mm the contour would go below the ground"
    assert away.in_the_way() == ["the contour would go below the ground"]
    assert away.moves == "ride height down 251 mm"

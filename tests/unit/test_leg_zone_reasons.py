"""What both fronts show an upright leg where one of them lacks something; and drawn."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Fake

import numpy as np
import pytest
from corner_fronts import corner_nose

from frontcheck import Front, Section, screen
from frontcheck.comparison.leg_zone import (
    Chance,
    PersonTouch,
    drawn_stations,
    named_chances,
    unsure,
)
from frontcheck.comparison.two_fronts import compare
from frontcheck.errors import InputError
from frontcheck.lines.lined_front import line_up
from frontcheck.people.people import ADULTS
from frontcheck.sure.draws import quantity_names, station_draws
from frontcheck.sure.uncertainty import Uncertainty

RULES = "UN-R127-02"


def front(height: float, points: int = 6, u: float | None = None) -> Front:
    """A corner at a height, or only the first of its points."""
    one = corner_nose(height)
    section = Section(one.points[:points], 0.0, one.parts[:points], height_u=u, setback_u=u)
    return Front((section,))


@pytest.mark.parametrize(
    ("a", "b", "moved"),
    [
        ("shin", "shin", False),
        ("shin", "knee", True),
        (None, "knee", True),
        ("shin", None, True),
        (None, None, False),
    ],
)
def test_a_touch_has_moved_where_its_place_on_the_leg_is_another(a, b, moved) -> None:
    touches = [None if place is None else Fake(place=place) for place in (a, b)]
    assert PersonTouch("p", 500.0, *touches).moved_on_leg is moved


def test_members_are_told_with_their_changes_and_why_there_are_none() -> None:
    """The edge that forms BLERL stands 600 mm up: a front that ends at 560 mm has none."""
    whole, low = screen(front(760.0)), screen(front(560.0, 3))
    assert low.stations[0].BLERL.x is None
    there = {c.quantity: c for c in compare(whole, low).stations[0].leg.changes}
    back = {c.quantity: c for c in compare(low, whole).stations[0].leg.changes}
    assert list(there) == [
        "lower_lip_x_mm", "lower_lip_z_mm", "lower_lip_closing_mm", "bumper_x_mm", "bumper_z_mm",
        "bumper_closing_mm", "leading_edge_x_mm", "leading_edge_z_mm", "leading_edge_closing_mm",
        "lip_behind_bumper_mm",
    ]  # fmt: skip
    assert [there[name].words for name in list(there)[6:]] == [
        "x of the leading edge", "z of the leading edge", "closing distance of the leading edge",
        "setback of the lower lip behind the bumper",
    ]  # fmt: skip
    for name in ("leading_edge_x_mm", "leading_edge_z_mm", "leading_edge_closing_mm"):
        assert there[name].reason == "missing in B: its reference line is missing"
        assert back[name].reason == "missing in A: its reference line is missing"
        assert (there[name].a, back[name].b) == (back[name].b, there[name].a)


def test_setbacks_of_members_count_from_where_the_fronts_are_laid() -> None:
    one = front(760.0)
    section = one.sections[0]
    back = Section(section.points + np.array([35.0, 0.0]), 0.0, section.parts)
    plain, laid = (
        {c.quantity: c.change for c in compare(screen(one), screen(Front((back,))), align=align)
         .stations[0].leg.changes}
        for align in ("none", "foremost")
    )  # fmt: skip
    moved = {name for name, change in plain.items() if change}
    assert moved == {"bumper_x_mm", "leading_edge_x_mm"}  # there is no lower lip
    assert {plain[name] for name in moved} == {35.0}
    assert {laid[name] for name in moved} == {0.0}


def test_what_is_asked_first_in_words() -> None:
    names = ("BLERL_z_mm", "UBRL_z_mm", "LBRL_z_mm", "bumper_lead_mm", "lip_behind_bumper_mm")
    chances = {name: Chance(1.0, k / 10.0, 0.5) for k, name in enumerate(names)}
    assert named_chances(chances | {"UBRL_x_mm": Chance(1.0, 0.9, 0.1)}) == (
        ("bonnet leading edge lower", "BLERL_z_mm", 0.0),
        ("upper bumper height lower", "UBRL_z_mm", 0.1),
        ("lower bumper height lower", "LBRL_z_mm", 0.2),
        ("shorter bumper lead", "bumper_lead_mm", 0.3),
        ("lower lip less far behind the bumper", "lip_behind_bumper_mm", 0.4),
    )
    assert named_chances({"UBRL_z_mm": Chance(1.0, 0.25, 0.5)}) == (
        ("upper bumper height lower", "UBRL_z_mm", 0.25),
    )


def test_draws_of_what_an_open_end_could_change_are_not_known() -> None:
    """A contour that ends on the bonnet's foot: the leading edge could go on beyond it."""
    lined = line_up(front(700.0, 3, 2.0), RULES, (500.0,))
    assert lined.stations[0].BLERL.status == "open_end"
    (drawn,) = drawn_stations(lined, 120, 3).values()
    assert list(drawn) == [*quantity_names((500.0,)), "lip_behind_bumper_mm"]
    assert np.isnan(drawn["BLERL_z_mm"]).all()
    assert np.isnan(drawn["bumper_lead_mm"]).all()
    assert np.isfinite(drawn["LBRL_z_mm"]).all()
    assert {len(values) for values in drawn.values()} == {120}


LIPS = [(400, 190), (200, 200), (40, 300), (70, 400), (0, 500), (60, 750), (500, 860), (1000, 930),
        (1500, 1200)]  # fmt: skip


def test_the_lip_behind_the_bumper_is_that_of_each_of_the_first_500_draws() -> None:
    """Corners so clear that both lips are their rows in every draw: one setback less the other."""
    parts = ["underside"] * 2 + ["bumper"] * 3 + ["bonnet"] * 3 + ["windscreen"]
    section = Section(LIPS, 0.0, parts, setback_u=1.0)
    lined = line_up(Front((section,)), RULES, ())
    (drawn,) = drawn_stations(lined, 520, 4).values()
    (survey,) = station_draws(lined.front, Uncertainty(), 520, 4)
    points = np.concatenate([block for *_, block in survey.blocks()])
    values = drawn["lip_behind_bumper_mm"]
    assert values == pytest.approx((points[:, 2, 0] - points[:, 4, 0])[:500])
    assert values.std() == pytest.approx(2.0**0.5, rel=0.1)
    assert len(drawn["UBRL_x_mm"]) == 520


def test_what_is_unsure_and_what_cannot_be_drawn() -> None:
    lined = line_up(front(760.0), RULES, ())
    assert not unsure(lined)
    assert unsure(lined, Uncertainty(height_u_mm=1.0))
    assert unsure(line_up(front(760.0, u=1.0), RULES, ()))
    vehicle = line_up(front(760.0, u=1.0), RULES, (), tape_start="vehicle")
    with pytest.raises(InputError) as caught:
        drawn_stations(vehicle, 100, 1)
    assert "found draws of fronts whose tape stands below the foremost point" in str(caught.value)


def test_people_given_are_those_looked_at() -> None:
    one = screen(front(760.0))
    tester = replace(ADULTS[0], name="tester")
    found = compare(one, one, people=(tester,))
    assert found.people == ("tester",)
    assert [each.person for each in found.stations[0].leg.people] == ["tester"]
    touch = found.stations[0].leg.people[0]
    assert touch.knee_mm == tester.knee.known()
    assert (touch.a.place, touch.moved_on_leg) == (touch.b.place, False)

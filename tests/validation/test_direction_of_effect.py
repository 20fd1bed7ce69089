"""Published directions of effect, and only the direction.

Y. Matsui, Effects of vehicle bumper height and impact velocity on type of lower extremity injury in
vehicle-pedestrian accidents, Accident Analysis & Prevention 37 (4), 633-640, 2005 (citation from
memory): a higher bumper shifts injury from tibia and knee to femur. A lower support near
the ankle reduces opening of the knee (common practice; follows from the published data of the
rigid legform). No size of an effect is checked, nothing here predicts an injury.
"""

from __future__ import annotations

import numpy as np
import pytest
from checks import Check, Source

from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.dynamics import run_legform
from frontcheck.legs.foundation import foundation_load, knee_response
from frontcheck.people.people import PEOPLE, Person
from frontcheck.surface.section import Section

RAISED = Check(
    "raised-bumper-direction",
    kind="published value",
    quantity="direction in which a raised bumper moves the load on a leg",
    source=Source(
        "Effects of vehicle bumper height and impact velocity on type of lower extremity injury "
        "in vehicle-pedestrian accidents, Accident Analysis & Prevention 37 (4), 633-640",
        author="Y. Matsui",
        year="2005",
        known="memory",
    ),
    why="the direction only; no size of an effect, no injury",
)


def bumper_at(height: float) -> Section:
    """A rounded bumper of radius 120 mm with its foremost point at a height, nothing else near."""
    angle = np.linspace(0.0, np.pi, 61)
    nose = np.stack([120.0 * (1 - np.sin(angle)), height - 120.0 * np.cos(angle)], axis=1)
    return Section([(400.0, height - 130.0), *nose.tolist(), (400.0, 950.0), (1200.0, 1100.0)])


HEIGHTS = (320.0, 380.0, 440.0, 500.0, 560.0)


@pytest.mark.parametrize("person", PEOPLE, ids=lambda p: p.name)
def test_raising_the_bumper_moves_load_from_shin_to_thigh(person: Person) -> None:
    knee, hip = person.knee.known(), person.hip.known()
    loads = [
        foundation_load(silhouette_of(bumper_at(h), 0.0, max(hip, 700.0)), [60.0], knee)
        for h in HEIGHTS
    ]
    below, above = [x.below[0] for x in loads], [x.above[0] for x in loads]
    less = (np.diff(below) <= 1e-12).all() and below[0] > below[-1]
    more = (np.diff(above) >= -1e-12).all() and above[-1] > above[0]
    told = "from shin to thigh" if less and more else "another way"
    RAISED.same("from shin to thigh", told)


def test_raising_the_bumper_to_the_knee_opens_the_knee_more() -> None:
    # Up to the knee of the legform at 519 mm.
    rates = [knee_response(bumper_at(h), [60.0]).rate[0] for h in HEIGHTS[:4]]
    assert (np.diff(rates) > 0.0).all()


def with_support(setback: float) -> Section:
    """A bumper at 480 mm and a lower support at 150 mm, a given way behind it."""
    return Section(
        [
            (500, 110),
            (setback + 15, 120),
            (setback, 150),
            (setback + 15, 180),
            (250, 220),
            (250, 380),
            (30, 410),
            (0, 450),
            (0, 510),
            (40, 570),
            (200, 750),
            (900, 950),
        ]
    )


SETBACKS = (240.0, 90.0, 60.0, 30.0, 0.0)


def test_a_lower_support_reduces_the_opening_rate() -> None:
    # The farther ahead it stands, the more.
    rates = [knee_response(with_support(s), [60.0]).rate[0] for s in SETBACKS]
    assert (np.diff(rates) <= 1e-12).all()
    assert rates[-1] < rates[0]


def test_a_lower_support_reduces_the_opening_angle_in_the_dynamics() -> None:
    peaks = [run_legform(with_support(s)).peak_knee_angle for s in (240.0, 60.0, 0.0)]
    assert None not in peaks
    assert peaks[0] > peaks[1] > peaks[2]  # type: ignore[operator]
    assert peaks[0] > 0.0  # type: ignore[operator]


def test_a_bumper_far_above_the_centre_tips_the_leg_and_shears_the_knee_the_other_way() -> None:
    """Newton's third law at the knee: a push on the tibia shears it forward of the femur, a
    push on the femur shears it the other way."""
    low = run_legform(bumper_at(380.0)).peak_knee_shear
    high = run_legform(bumper_at(660.0)).peak_knee_shear
    assert low is not None
    assert high is not None
    assert low > 0.0 > high

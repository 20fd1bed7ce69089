"""Where a front meets a person first and next, and what of the leg nothing touches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frontcheck.front.front import Front
from frontcheck.legs.contact import members_of
from frontcheck.legs.person_leg import knee_band, leg_load, person_leg
from frontcheck.lines.lined_front import line_up
from frontcheck.people.people import PEOPLE, person_of_stature
from frontcheck.reading.readers import read_front
from frontcheck.surface.face import RECESS_MM
from frontcheck.surface.section import Section

MAN = person_of_stature(1755.0)
"""Knee 513.8 mm, hip 929.3 mm up in shoes: tests/validation/test_ansur.py."""

# Two lips with a recess between them, the lower one 20 mm behind; a bonnet that falls away.
TWO_LIPS = [
    (300, 200),
    (60, 260),
    (40, 320),
    (90, 420),
    (20, 520),
    (60, 600),
    (120, 700),
    (900, 950),
]
# A step: plumb to 500 mm, a ledge of 100 mm, plumb again up to 800 mm.
STEP = [(90, 150), (0, 200), (0, 500), (100, 500), (100, 800), (900, 950)]


def test_two_lips_are_met_one_after_the_other() -> None:
    met = person_leg(Section(TWO_LIPS), MAN)
    assert (met.first.x, met.first.z, met.first.place) == (20.0, 520.0, "knee")
    assert met.second is not None
    assert (met.second.x, met.second.z, met.second.place) == (40.0, 320.0, "shin")
    assert met.later_mm == 20.0


def test_above_a_ledge_comes_the_next_touch_where_it_is_nearest_the_knee() -> None:
    met = person_leg(Section(STEP), MAN)
    assert (met.first.z, met.first.place) == (500.0, "knee")
    assert met.second is not None
    assert (met.second.x, met.later_mm) == (100.0, 100.0)
    assert met.second.z == pytest.approx(513.834)


@pytest.mark.parametrize(
    ("points", "x", "low", "high"),
    [
        # A plumb face, a ledge, and plumb again; the same with a lip at the ledge; upside down.
        ([(90, 150), (0, 200), (0, 500), (100, 500), (100, 800), (900, 1000)], 100, 500, 800),
        ([(90, 150), (60, 200), (0, 500), (100, 500), (100, 800), (900, 1000)], 100, 500, 800),
        ([(200, 150), (100, 200), (100, 500), (0, 500), (0, 800), (900, 1000)], 100, 200, 500),
    ],
)
def test_the_next_touch_is_the_same_whatever_the_height_of_the_knee(points, x, low, high) -> None:
    """A plumb face is touched where it is nearest to the knee."""
    section = Section(points)
    for knee in (150.0, 200.0, 450.0, 499.9, 500.0, 500.1, 550.0, 800.0, 850.0):
        met = person_leg(section, replace(MAN, knee=replace(MAN.knee, value_mm=knee)))
        assert met.second is not None, knee
        assert (met.second.x, met.second.z) == (x, min(max(knee, low), high)), knee
        assert met.later_mm == x


def test_a_hollow_that_only_leans_back_has_no_second_touch() -> None:
    """From the lip at 260 mm each height is met later than the one below: the touch spreads."""
    hollow = [(300, 150), (60, 200), (20, 260), (60, 400), (130, 520), (140, 700), (900, 1000)]
    section = Section(hollow)
    assert person_leg(section, MAN).second is None
    assert section.face.upper_lip is None


def test_a_plain_face_has_no_second_touch_and_one_too_late_is_none() -> None:
    plain = [(300, 150), (60, 200), (20, 260), (60, 420), (150, 600), (320, 800), (900, 1000)]
    met = person_leg(Section(plain), MAN)
    assert (met.second, met.later_mm) == (None, None)
    for back, there in ((249.0, True), (251.0, False)):
        late = [(x + (back - 100.0) * (x >= 100 and z >= 500), z) for x, z in STEP]
        assert (person_leg(Section(late), MAN).second is not None) == there


@pytest.mark.parametrize(("depth", "parted"), [(RECESS_MM - 0.1, False), (RECESS_MM + 0.1, True)])
def test_a_shallow_recess_parts_nothing(depth: float, parted: bool) -> None:
    face = [(300, 200), (0, 300), (depth, 400), (0, 500), (300, 700), (900, 900)]
    assert (person_leg(Section(face), MAN).second is not None) == parted


def test_what_is_free_is_what_no_height_touches() -> None:
    """Independent: every half millimetre of the leg, looked at by the foremost point there."""
    for points in (TWO_LIPS, STEP):
        section = Section(points)
        for reach in (10.0, 25.0, 60.0):
            met = person_leg(section, MAN, reach)
            assert met.reach_mm == reach
            ends = [0.0, *(end for free in met.free_mm for end in free), 929.3]
            for z in np.arange(0.25, 929.0, 0.5):
                x = section.foremost_at(z)
                touched = x is not None and x < met.first.x + reach
                free = any(low <= z <= high for low, high in met.free_mm)
                if min(abs(z - end) for end in ends) > 0.3:
                    assert free != touched, (points, reach, z)


def test_the_lips_of_the_face_are_those_of_the_leg(geometries) -> None:
    """One meaning: wherever both find a recess between the bumper lines."""
    seen = 0
    for name in ("plover", "avocet"):
        lined = line_up(read_front(geometries / f"{name}.csv"), "UN-R127-02")
        for station in lined.stations:
            section = lined.front.section(station.y)
            face = section.face
            told = {
                m.name: (m.x, m.z) for m in members_of(section, station) if "deepest" in m.basis
            }
            if face.lower_lip is not None and told:
                seen += 1
                assert (face.lower_lip, face.upper_lip) == (told["lower lip"], told["bumper"])
                met = person_leg(section, MAN)
                assert (met.first.x, met.first.z) in (face.lower_lip, face.upper_lip)
            else:
                assert (face.lower_lip, told) == (None, {})
    assert seen == 10  # every station of Plover has two lips, none of Avocet


def test_knee_against_the_face() -> None:
    station = line_up(Front((Section(TWO_LIPS),)), "UN-R127-02").stations[0]
    low, high = station.LBRL.z, station.UBRL.z
    assert low is not None
    assert high is not None
    slope, less = 0.3268, 84.7 - 25.0  # source in tests/validation/test_ansur.py
    for knee, place in ((high + 1.0, "above"), (high - 1.0, "inside")):
        band = knee_band(station, person_of_stature((knee + less) / slope))
        assert band is not None
        assert (band.low, band.high, band.place) == (low, high, place)
        assert band.knee == pytest.approx(knee)
    assert knee_band(station, PEOPLE[0]).place == "inside"
    raised = Section([(x, z + 300.0) for x, z in TWO_LIPS])
    high_up = line_up(Front((raised,)), "UN-R127-02").stations[0]
    assert knee_band(high_up, MAN).place == "below"


def test_a_person_and_the_legform_are_loaded_apart() -> None:
    lined = line_up(Front((Section(TWO_LIPS),)), "UN-R127-02")
    found = leg_load(lined, 0.0, MAN, 60.0)
    assert found.legform_touch == (20.0, 520.0)
    assert found.here.knee == pytest.approx(513.834)  # the person's, not that of the legform
    assert found.legform.knee_height_mm != found.here.knee
    raised = line_up(Front((Section([(x, z + 300.0) for x, z in TWO_LIPS]),)), "UN-R127-02")
    refused = leg_load(raised, 0.0, MAN, 60.0)
    assert "upper legform" in refused.refused
    assert (refused.legform_touch, refused.legform_bands) == (None, ())

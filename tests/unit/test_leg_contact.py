"""What a leg sees of a contour, and what touches it in what order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from frontcheck.errors import NotAvailableError
from frontcheck.front.front import Front
from frontcheck.legs.contact import (
    first_touch,
    front_contact,
    members_of,
    place_on_person,
    silhouette_of,
)
from frontcheck.legs.legform_test import upper_case
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.station import LinePoint
from frontcheck.people.people import person_of_stature
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import Section

# Overhung nose with a recess between two lips, and a shelf that hides what is under it.
TWO_LIPS = [
    (300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 600), (60, 700),
    (120, 800), (900, 950),
]  # fmt: skip
ONE_FACE = [(300, 150), (60, 200), (20, 260), (60, 420), (120, 500), (320, 700), (900, 850)]


def contact_of(points: list[tuple[float, float]], rules: str = "UN-R127-02"):
    section = Section(points)
    lined = line_up(Front((section,)), rules)
    return front_contact(section, lined.stations[0], lined.rules)


def test_silhouette_is_the_foremost_crossing_by_shapely() -> None:
    """Independent: shapely cuts the contour with level lines, the least x is what is seen."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        z = np.cumsum(rng.uniform(-30.0, 80.0, 14)) + 200.0
        x = np.cumsum(rng.uniform(5.0, 60.0, 14)) * rng.choice([1.0, 0.2])
        section = Section(np.stack([x, np.clip(z, 1.0, None)], axis=1))
        line = shapely.LineString(section.points)
        seen = silhouette_of(section, section.z.min(), section.z.max())
        for height in rng.uniform(section.z.min(), section.z.max(), 25):
            cut = line.intersection(shapely.LineString([(-1e4, height), (1e5, height)]))
            here = (seen.z[:, 0] <= height) & (height <= seen.z[:, 1])
            a, b = seen.z[here].T
            xs = seen.x[here, 0] + (height - a) / (b - a) * (seen.x[here, 1] - seen.x[here, 0])
            assert xs.min() == pytest.approx(cut.bounds[0], abs=1e-6)


def test_silhouette_ends_at_the_leg_and_may_have_holes() -> None:
    seen = silhouette_of(Section(TWO_LIPS), 0.0, 650.0)
    assert seen.z.min() == 200.0  # nothing below the lowest point
    assert seen.z.max() == 650.0
    assert (np.diff(seen.z.ravel()) >= 0.0).all()
    with pytest.raises(NotAvailableError, match="nothing between 0 and 200 mm"):
        silhouette_of(Section(TWO_LIPS), 0.0, 200.0)
    with pytest.raises(ValueError, match="must have a length"):
        silhouette_of(Section(TWO_LIPS), 300.0, 300.0)


def test_split_changes_nothing_but_the_pieces() -> None:
    seen = silhouette_of(Section(TWO_LIPS), 0.0, 900.0)
    split = seen.split(455.0)
    assert len(split.parts) == len(seen.parts) + 1
    assert not ((split.z[:, 0] < 455.0) & (split.z[:, 1] > 455.0)).any()
    assert split.foremost == seen.foremost == (20.0, 520.0)


def test_pieces_carry_the_part_of_their_stretch() -> None:
    section = Section(
        [(90, 100), (0, 200), (10, 400), (200, 700)], parts=["", "bumper", "", "bonnet"]
    )
    assert silhouette_of(section, 0.0, 700.0).parts == ("", "bumper", "")


def test_plumb_face_touches_over_its_height() -> None:
    seen = silhouette_of(Section([(90, 100), (5, 200), (5, 500), (300, 700)]), 0.0, 900.0)
    assert seen.first_touch == (200.0, 500.0)
    assert seen.foremost == (5.0, 350.0)


@pytest.mark.parametrize(
    ("height", "place"),
    [(463.7, "shin"), (463.9, "knee"), (513.8, "knee"), (563.8, "knee"), (563.9, "thigh"),
     (929.3, "thigh"), (929.4, "hip or trunk")],
)  # fmt: skip
def test_place_on_person(height: float, place: str) -> None:
    """Of 1755 mm: knee 513.834 and hip 929.301 mm, in shoes (tests/validation/test_ansur.py)."""
    assert place_on_person(height, person_of_stature(1755.0), 50.0) == place


def test_two_equal_lips_are_touched_at_the_lower_one() -> None:
    seen = silhouette_of(Section([(90, 100), (5, 200), (30, 300), (5, 400), (90, 600)]), 0.0, 900.0)
    assert seen.first_touch == (200.0, 200.0)
    assert seen.foremost == (5.0, 200.0)


def test_first_touch_depends_on_the_person() -> None:
    # Knees at 594, 529 and 334 mm against a foremost point at 520 mm.
    section = Section(TWO_LIPS)
    places = [first_touch(section, person_of_stature(h)).place for h in (2000, 1800, 1146)]
    assert places == ["shin", "knee", "thigh"]
    child = first_touch(section, person_of_stature(1146))
    assert (child.z, child.place) == (520.0, "thigh")
    assert child.above_knee_mm == pytest.approx(520.0 - 0.270 * 1146.0 - 25.0)


def test_above_the_hip_it_is_no_leg_any_more() -> None:
    """Nothing is cut at the hip: a child's is at 0.495 of 1150 mm and a shoe, 594 mm."""
    for up, place in ((74.0, "thigh"), (75.0, "hip or trunk"), (300.0, "hip or trunk")):
        section = Section([(x, z + up) for x, z in TWO_LIPS])
        touch = first_touch(section, person_of_stature(1150))
        assert (touch.z, touch.place) == (520.0 + up, place)


def test_a_plumb_face_meets_the_knee_where_it_can() -> None:
    """All heights of a plumb face are met at once: the one nearest the knee, 514 mm, is told."""
    man = person_of_stature(1755)
    for low, high, z in ((200.0, 600.0, 513.834), (200.0, 400.0, 400.0), (550.0, 700.0, 550.0)):
        section = Section([(90, low - 50), (5, low), (5, high), (300, high + 100)])
        assert first_touch(section, man).z == pytest.approx(z)


def test_order_with_two_lips() -> None:
    contact = contact_of(TWO_LIPS)
    assert [m.name for m in contact.members] == ["bumper", "lower lip", "leading edge"]
    assert [m.closing_mm for m in contact.members[:2]] == [0.0, 20.0]
    assert contact.undercut_mm == 20.0
    lip, bumper = contact.member("lower lip"), contact.member("bumper")
    assert lip is not None
    assert bumper is not None
    assert ((lip.x, lip.z), (bumper.x, bumper.z)) == ((40.0, 320.0), (20.0, 520.0))


# The upper lip curves on forward beyond where the string leaves it, like an outer station whose
# corner is cut away below: the string ends at (20, 510), the foremost point is (17, 560).
CURVED_LIP = [
    (300, 200), (60, 260), (45, 320), (80, 420), (20, 510), (18, 540), (17, 560), (60, 600),
    (120, 800), (900, 950),
]  # fmt: skip


def test_bumper_is_the_foremost_point_above_the_recess() -> None:
    contact = contact_of(CURVED_LIP)
    lip, bumper = contact.member("lower lip"), contact.member("bumper")
    assert lip is not None
    assert bumper is not None
    assert (bumper.x, bumper.z, bumper.closing_mm) == (17.0, 560.0, 0.0)
    assert "above the deepest recess" in bumper.basis
    assert (lip.x, lip.z, lip.closing_mm) == (45.0, 320.0, 28.0)
    assert contact.undercut_mm == 28.0


def test_lower_lip_is_the_foremost_point_below_the_recess() -> None:
    # Much the same upside down: the string ends at (20, 310), the lip curves on to (17, 260).
    z = [180, 220, 260, 280, 310, 400, 500, 560, 620, 950]
    x = [300, 60, 17, 18, 20, 80, 45, 60, 120, 900]
    contact = contact_of(list(zip(x, z, strict=True)))
    lip, bumper = contact.member("lower lip"), contact.member("bumper")
    assert lip is not None
    assert bumper is not None
    assert (lip.x, lip.z, lip.closing_mm) == (17.0, 260.0, 0.0)
    assert (bumper.x, bumper.z, bumper.closing_mm) == (45.0, 500.0, 28.0)


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_one_member_is_the_foremost_point_of_the_bumper(name: str, geometries) -> None:
    """At first contact an upright leg stands at the foremost point between LBRL and UBRL."""
    lined = line_up(read_front(geometries / f"{name}.csv"), "UN-R127-02")
    for station in lined.stations:
        section = lined.front.section(station.y)
        between = (section.z >= station.LBRL.z) & (section.z <= station.UBRL.z)
        first = members_of(section, station)[0]
        assert first.x == section.x[between].min(), station.y
        assert first.closing_mm == 0.0


def test_order_with_the_lip_ahead() -> None:
    contact = contact_of(ONE_FACE)
    assert [m.name for m in contact.members] == ["lower lip", "bumper", "leading edge"]
    assert contact.undercut_mm is not None
    assert contact.undercut_mm < 0.0
    assert contact.members[0].z == 260.0


def test_a_shallow_recess_makes_no_lips() -> None:
    # The top falls back at once, so that UBRL is the upper end of the face at 480 mm.
    points = [(300, 200), (60, 260), (20, 320), (22, 400), (20, 480), (140, 560), (900, 700)]
    section = Section(points)
    station = line_up(Front((section,)), "UN-R127-02").stations[0]
    assert all("recess" not in m.basis.split(";")[0] for m in members_of(section, station))
    deeper = Section([*points[:3], (26, 400), *points[4:]])
    station = line_up(Front((deeper,)), "UN-R127-02").stations[0]
    assert sum("deepest recess" in m.basis for m in members_of(deeper, station)) == 2


@pytest.mark.parametrize(
    ("shift", "limit", "margin", "legform"),
    [(0, 425.0, -165.0, "lower"), (175, 425.0, 10.0, "either"), (230, 500.0, -10.0, "either"),
     (240, 500.0, 0.0, "upper")],
)  # fmt: skip
def test_legform_and_its_margin(shift: float, limit: float, margin: float, legform: str) -> None:
    # The edge inclined 25 deg forward touches (60, 260) before (40, 320): 181.2 against 189.2.
    contact = contact_of([(x, z + shift) for x, z in TWO_LIPS])
    assert (contact.legform, contact.legform_limit_mm) == (legform, limit)
    assert contact.legform_margin_mm == pytest.approx(margin)


@pytest.mark.parametrize("name", ["LBRL", "UBRL"])
def test_without_either_bumper_line_the_upper_legform_is_not_aimed(name: str) -> None:
    section = Section(ONE_FACE)
    station = line_up(Front((section,)), "UN-R127-02").stations[0]
    assert upper_case(section, station, [50.0]).aim > 0.0
    less = replace(station, **{name: LinePoint(name, "not_reached", None, None, "out of reach")})
    with pytest.raises(NotAvailableError, match="half-way between LBRL and UBRL, which are not"):
        upper_case(section, less, [50.0])

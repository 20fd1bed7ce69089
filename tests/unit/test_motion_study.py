"""The motion study: what it counts, gives, withholds and refuses.

Ranges are made again from the cases one by one, wrap-around distances by a convex hull, plan
normals from circles; mechanics stand in tests/validation/test_body_mechanics.py.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from references.saloon import PARTS, SALOON, front_of
from shapely import LineString, MultiPoint

import frontcheck as fc
from frontcheck.body.anatomy import THORAX, figure_of
from frontcheck.body.assumed import nominal
from frontcheck.body.motion import MOVES_MM, _difference
from frontcheck.body.person_motion import _told
from frontcheck.body.struck import Struck
from frontcheck.body.struck_front import StruckFront, plan_normal_deg
from frontcheck.errors import InputError
from frontcheck.lines.lined_front import chosen_stations, line_up
from frontcheck.people.people import struck_people

CHILD, *ADULTS = struck_people()


@cache
def small():
    return fc.motion(front_of(), people=(CHILD, ADULTS[2]), draws=20)


def test_ranges_and_shares_are_those_of_the_cases() -> None:
    for person, heads in zip(small().people, small().heads[0], strict=True):
        assert len(heads.wad_mm) == 20
        for spread, values in ((person.wad_mm, heads.wad_mm), (person.time_ms, heads.time_ms)):
            inner = np.sort(values)
            # Between order statistics: the 5 % point of 20 lies between the first and the second.
            assert inner[0] <= spread.p5 <= inner[1]
            assert inner[18] <= spread.p95 <= inner[19]
            assert inner[9] <= spread.median <= inner[10]
        shares = person.shares
        assert shares["pushed"] + shares["folded"] + shares["carried"] == pytest.approx(1.0)
        assert sum(person.parts.values()) == pytest.approx(1.0)


def test_wrap_around_distances_follow_a_string_round_the_hull() -> None:
    """Against shapely: the part of a convex hull from the tape's foot to the head."""
    points = [
        (120, 200),
        (40, 260),
        (0, 450),
        (8, 540),
        (60, 700),
        (300, 850),
        (900, 1000),
        (1950, 1200),
    ]
    study = fc.motion(front_of(points, None), people=ADULTS[2:3], draws=20)
    for (x, z), wad in zip(study.heads[0][0].at_mm, study.heads[0][0].wad_mm, strict=True):
        under = [point for point in points if point[0] < x]
        hull = MultiPoint([(0.0, 0.0), *under, (x, z), (x, 0.0)]).convex_hull
        over = LineString([(0.0, 0.0), (x, 0.0), (x, z)]).length
        assert wad == pytest.approx(hull.exterior.length - over, abs=1e-6)


def test_the_same_seed_gives_the_same_whoever_works() -> None:
    with ThreadPoolExecutor(2) as two:
        again = fc.motion(front_of(), people=(CHILD, ADULTS[2]), draws=20, executor=two)
    assert again.to_dict() == small().to_dict()
    alone = fc.motion(front_of(), people=(ADULTS[2],), draws=20)
    assert alone.people[0].wad_mm == small().people[1].wad_mm
    other = fc.motion(front_of(), people=(ADULTS[2],), draws=20, seed=2)
    assert other.people[0].wad_mm != alone.people[0].wad_mm


def told(torso_deg, past_mm, touched=True, count=20):
    """What is told of constructed cases; the cases differ as torso and place do."""
    lined = line_up(front_of(), "UN-R127-02")
    (sides,) = chosen_stations([lined])[0].values()
    struck, figure = StruckFront.of(sides[0]), figure_of(ADULTS[2])
    pose = np.zeros((count, 11))
    pose[:, 2 + THORAX] = np.radians(torso_deg)
    own = figure.chain.centre_of_mass(pose)[:, 0]
    pose[:, 0] = (struck.edge[0] + np.broadcast_to(past_mm, count)) / 1e3 - own
    head_s = np.where(np.broadcast_to(touched, count), 0.1, np.nan)
    at = np.tile([1.0, 0.885], (count, 1))
    at[np.isnan(head_s)] = np.nan
    zeros = np.zeros(count, dtype=np.intp)
    ended = Struck(
        np.zeros(count), zeros, zeros, np.zeros((count, 2)), head_s, zeros + 12, at, pose,
        np.zeros(count, dtype=bool), np.zeros(0), np.zeros((0, *pose.shape)),
    )  # fmt: skip
    return _told(struck, "man p50", figure, ended, np.where(np.isnan(head_s), np.nan, 1500.0))


@pytest.mark.parametrize(
    ("torso", "past", "kind"),
    [
        (0.0, 1.0, "carried up"),
        (80.0, 1.0, "carried up"),
        (41.0, -1.0, "folded over the edge"),
        (39.0, -1.0, "pushed ahead"),
        (-60.0, -1.0, "pushed ahead"),
    ],
)
def test_kinds_by_centre_of_mass_then_by_trunk(torso, past, kind) -> None:
    assert told(torso, past).kind == kind


def test_a_kind_is_named_from_nine_in_ten_on() -> None:
    most = np.where(np.arange(20) < 18, 1.0, -1.0)
    named = told(0.0, most)
    assert named.kind == "carried up"
    assert named.shares["carried"] == pytest.approx(0.9)
    # Clopper and Pearson's limit: with it, 18 or more of 20 come about once in 20 times.
    p = named.at_least
    tail = sum(math.comb(20, k) * p**k * (1.0 - p) ** (20 - k) for k in (18, 19, 20))
    assert tail == pytest.approx(0.05, abs=1e-9)
    most[17] = -1.0
    unsure = told(0.0, most)
    assert unsure.kind == "undecided"
    assert unsure.at_least is None


def test_a_place_is_given_from_95_in_100_on() -> None:
    assert told(0.0, 1.0, np.arange(20) < 19).wad_mm is not None
    never = told(0.0, 1.0, np.arange(20) < 18)
    assert never.wad_mm is None
    assert never.time_ms is None
    assert never.part is None
    assert "10%" in never.reason
    assert never.kind == "carried up"


@pytest.mark.parametrize(
    ("signs", "apart", "size", "separable"),
    [
        (95, 95, MOVES_MM + 1.0, "yes"),
        (95, 94, MOVES_MM + 1.0, "only if equally soft"),
        (94, 100, MOVES_MM + 1.0, "no"),
        (100, 100, MOVES_MM - 1.0, "no"),
    ],
)
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_what_is_separable(signs, apart, size, separable, way) -> None:
    def cases(count):
        return way * np.where(np.arange(100) < count, size, -size)

    found = _difference(cases(signs), cases(apart), MOVES_MM)
    assert found.separable == separable
    assert found.same_sign == signs / 100.0
    assert found.same_sign_drawn_apart == apart / 100.0


def test_two_fronts_alike_are_too_close_to_call() -> None:
    study = fc.motion(front_of(), front_of(name="again"), people=ADULTS[2:3], draws=20)
    change = study.changes[0]
    assert change.wad.spread == type(change.wad.spread)(0.0, 0.0, 0.0)
    assert change.separable == change.time_separable == "no"
    assert study.people_b[0].wad_mm == study.people[0].wad_mm


def test_a_lower_front_is_told_apart() -> None:
    high, low = (front_of([(x, z + up) for x, z in SALOON]) for up in (100.0, -100.0))
    change = fc.motion(high, low, people=ADULTS[2:3], draws=20).changes[0]
    assert change.wad.spread.median > MOVES_MM
    assert change.wad.same_sign >= 0.95
    assert change.time.spread.median > 0.0
    assert change.time_separable == "yes"


def plan_front(setback, ys, **changes):
    """The nose, set back by station."""
    sections = [fc.Section([(x + setback(y), z) for x, z in SALOON], float(y), PARTS) for y in ys]
    return fc.Front(sections, symmetric=min(ys) >= 0, **changes)


@pytest.mark.parametrize("radius", [1500.0, 3000.0])
def test_plan_normals_of_a_circle(radius) -> None:
    lined = line_up(
        plan_front(lambda y: radius - math.sqrt(radius**2 - y**2), range(0, 701, 50)),
        "UN-R127-02",
    )
    for y, sides in chosen_stations([lined], lined.front.stations[:-1])[0].items():
        expected = math.degrees(math.asin(y / radius))
        found = plan_normal_deg(lined, sides[0])
        if y == 0.0:  # either side leaves along a chord of 50 mm
            assert 0.0 <= found <= math.degrees(math.asin(25.0 / radius)) + 0.05
        else:
            assert found == pytest.approx(expected, abs=0.05)
        study = fc.motion(lined, people=[CHILD], station=y, draws=20) if y > 350 else None
        if study is not None:
            assert study.people[0].refused == (expected > 15.0)


def test_a_ridge_at_the_centre_is_refused() -> None:
    front = plan_front(lambda y: abs(y) * math.tan(math.radians(20.0)), range(0, 301, 100))
    person = fc.motion(front, people=[CHILD], draws=20).people[0]
    assert person.refused
    assert "faces 20 deg" in person.reason
    assert person.kind == "undecided"


def test_without_a_plan_only_the_centre_is_told() -> None:
    front = plan_front(lambda _: 0.0, (0, 200), datum="local")
    centre = fc.motion(front, people=[CHILD], draws=20)
    assert not centre.people[0].refused
    assert "plan shape is not known" in centre.assumed[0]
    beside = fc.motion(front, people=[CHILD], station=200.0, draws=20)
    assert "plan shape is not known" in beside.people[0].reason
    assert beside.people[0].refused


def test_a_contour_that_ends_early_gives_no_number() -> None:
    short = front_of(SALOON[:12], PARTS[:12])
    person = fc.motion(short, people=ADULTS[2:3], draws=20).people[0]
    assert person.wad_mm is None
    assert person.time_ms is None
    assert person.part == "beyond what was measured"
    assert person.shares["beyond_measured"] == 1.0
    assert "100%" in person.reason


@pytest.mark.parametrize(
    ("part", "parts", "who"),
    [
        ("pillar", [*PARTS[:15], *["pillar"] * 3], ADULTS[3]),
        ("wing", [*PARTS[:10], *["wing"] * 5, *PARTS[15:]], ADULTS[0]),
    ],
)
def test_pillars_and_wings_are_not_covered(part, parts, who) -> None:
    person = fc.motion(front_of(parts=parts), people=[who], draws=20).people[0]
    assert person.wad_mm is None
    assert part in person.reason


def test_an_open_end_below_the_edge_is_refused() -> None:
    above = front_of(SALOON[4:], PARTS[4:])
    person = fc.motion(above, people=[CHILD], draws=20).people[0]
    assert person.refused
    assert "open end" in person.reason


@pytest.mark.parametrize("speed", [10.0, 19.9, 50.1, 400.0, math.nan, math.inf])
def test_other_speeds_are_refused_with_the_range(speed) -> None:
    with pytest.raises(InputError, match="20 to 50 km/h"):
        fc.motion(front_of(), speed_km_h=speed)


@pytest.mark.parametrize("draws", [0, 19, 5001])
def test_other_counts_are_refused_with_the_range(draws) -> None:
    with pytest.raises(InputError, match="20 to 5000"):
        fc.motion(front_of(), draws=draws)


def test_a_seed_below_nought_is_refused() -> None:
    with pytest.raises(InputError, match="a whole number from 0"):
        fc.motion(front_of(), draws=20, seed=-1)


def test_a_station_that_was_not_measured_is_refused() -> None:
    with pytest.raises(InputError, match="one of 0 mm"):
        fc.motion(front_of(), station=100.0)


def test_one_case_without_drawing_lies_in_the_range() -> None:
    """What is drawn spreads about the single case in which nothing is."""
    from frontcheck.body.person_motion import person_motion

    lined = line_up(front_of(), "UN-R127-02")
    (sides,) = chosen_stations([lined])[0].values()
    man = ADULTS[2]
    alone = person_motion(
        StruckFront.of(sides[0]), man.name, figure_of(man), replace(nominal()), 40.0
    )
    spread = small().people[1].wad_mm
    assert spread.p5 <= alone.motion.wad_mm.median <= spread.p95

"""The public door for one side section: same numbers as a screening, in three lines."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest

import frontcheck
from frontcheck import profile
from frontcheck.caution import CAUTION
from frontcheck.errors import ContourError, InputError, RuleSetError
from frontcheck.reading.readers import read_front
from frontcheck.reading.table import MM_PER_UNIT
from frontcheck.screening import screen

HEIGHT = [200.0, 300.0, 450.0, 550.0, 600.0, 800.0, 850.0, 950.0]
SETBACK = [80.0, 25.0, 0.0, 0.0, 40.0, 150.0, 400.0, 900.0]


def test_a_station_of_a_file_gives_what_a_screening_gives(geometries) -> None:
    path = geometries / "plover.csv"
    result = screen(read_front(path))
    for y in (0.0, 300.0, 760.0):
        nose, there = profile.read(path, y), result.station(y)
        assert (nose.UBRL, nose.LBRL, nose.BLERL) == (there.UBRL, there.LBRL, there.BLERL)
        # The sphere rests in space: one section does not tell where, a front does.
        assert (nose.BRRL.status, nose.BRRL.x) == ("not_available", None)
        assert "one section" in nose.BRRL.reason
        assert there.BRRL.formed
        assert nose.bumper_lead == there.bumper_lead
        assert nose.ble_height == there.ble_height
        assert nose.upper_bumper_height == there.upper_bumper_height
        assert nose.lower_bumper_height == there.lower_bumper_height
        assert nose.legform == there.legform
        assert nose.wad(1000) == there.wad(1000.0)
        assert nose.face == result.front.section(y).face


def test_lines_of_a_hand_made_profile_are_where_the_straight_edges_touch() -> None:
    """By hand: the support of each edge's normal over the points in its reach."""
    nose = profile.of(HEIGHT, SETBACK)
    points = np.column_stack([SETBACK, HEIGHT])
    # 20 deg rearward: of the points within the 700 mm edge, (0, 550) leads.
    reach = points[points[:, 1] <= 700.0 * math.cos(math.radians(20.0))]
    lead = reach[np.argmin(reach[:, 0] - reach[:, 1] * math.tan(math.radians(20.0)))]
    assert tuple(lead) == (nose.UBRL.x, nose.UBRL.z)
    low = reach[np.argmin(reach[:, 0] + reach[:, 1] * math.tan(math.radians(25.0)))]
    assert tuple(low) == (nose.LBRL.x, nose.LBRL.z)
    assert nose.bumper_lead == nose.BLERL.x - nose.UBRL.x


def test_any_wrap_around_distance_may_be_asked_for() -> None:
    """Upright wall: the tape goes straight up, and then along what leans back."""
    wall = profile.of([100, 700, 700], [0, 0, 900])
    assert (wall.wad(300).x, wall.wad(300).z) == pytest.approx((0.0, 300.0))
    assert (wall.wad(777).x, wall.wad(777).z) == pytest.approx((77.0, 700.0))
    assert wall.wad(5000).status == "not_reached"
    with pytest.raises(ValueError, match="positive"):
        wall.wad(-1)


@pytest.mark.parametrize("unit", MM_PER_UNIT)
def test_every_unit_gives_the_same_lines(unit) -> None:
    mm, per = profile.of(HEIGHT, SETBACK), MM_PER_UNIT[unit]
    other = profile.of(np.array(HEIGHT) / per, np.array(SETBACK) / per, unit=unit)
    assert other.BLERL.x == pytest.approx(mm.BLERL.x, abs=1e-9)
    assert other.wad(1234).x == pytest.approx(mm.wad(1234).x, abs=1e-9)


def test_columns_of_a_table_do_as_well(geometries) -> None:
    import pandas as pd

    table = pd.read_csv(geometries / "plover.csv", comment="#")
    at = table[table["station_mm"] == 0]
    nose = profile.of(at["height_mm"], at["setback_mm"], at["part"].fillna(""))
    assert nose.BRRL == profile.read(geometries / "plover.csv", y=0).BRRL


def test_parts_and_rules_are_used() -> None:
    assert profile.of(HEIGHT, SETBACK, rules="EU-631-2009").rules.id == "EU-631-2009"
    parts = ["underside", "bumper", "bumper", "grille", "bonnet", "bonnet", "bonnet", "bonnet"]
    assert profile.of(HEIGHT, SETBACK, parts).section.parts == tuple(parts)


def test_what_cannot_be_used_is_refused(geometries) -> None:
    with pytest.raises(InputError, match="one of: mm, cm, m, in"):
        profile.of(HEIGHT, SETBACK, unit="ft")
    with pytest.raises(ContourError):
        profile.of([100, 200], [0, 0])
    with pytest.raises(RuleSetError):
        profile.of(HEIGHT, SETBACK, rules="none")
    with pytest.raises(KeyError, match="no section at station 1 mm"):
        profile.read(geometries / "plover.csv", y=1)


def test_it_says_what_it_is_not_and_shows_itself_in_one_line() -> None:
    nose = profile.of(HEIGHT, SETBACK)
    assert nose.caution == CAUTION
    assert repr(nose) == "Profile(section y=0, station y=0, rules=UN-R127-02)"


def test_it_is_found_without_an_import_of_its_own() -> None:
    code = "import frontcheck; print(frontcheck.profile.of.__name__, 'profile' in dir(frontcheck))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["of", "True"]


def test_the_package_runs_as_a_module() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "frontcheck", "--version"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert frontcheck.__version__ in done.stdout

"""Persons struck by a class-typical section, against published cases.

The contours of the cars that were tested are not known: the section stands for a class, so that
limits are wide. Agreement is "consistent with", never more.
"""

from __future__ import annotations

import numpy as np
import pytest

from frontcheck.body.anatomy import Figure
from frontcheck.body.motion import person_motion
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import Section

# A mid-size saloon in side view, x rearward and z up [mm]: own choice, typical of the class.
SALOON = [
    (120, 200), (40, 260), (5, 330), (0, 450), (8, 540), (40, 590), (85, 640), (120, 680),
    (170, 712), (250, 738), (400, 775), (700, 835), (1000, 885), (1120, 905), (1150, 905),
    (1400, 1050), (1700, 1215), (1950, 1340),
]  # fmt: skip
PEOPLE = {
    "six-year-old": Figure.of(1.153, 21.0, child=True),
    "woman p50": Figure.of(1.626, 62.0),
    "man p50": Figure.of(1.755, 77.0),
}


@pytest.fixture(scope="module")
def lined():
    parts = ["bumper"] * 8 + ["bonnet"] * 7 + ["windscreen"] * 3
    return line_up(Front([Section(SALOON, 0.0, parts)]), rule_set(), (1000.0, 1500.0))


def struck(lined, name, speed=40.0, draws=64):
    return person_motion(
        lined, lined.stations[0], name, PEOPLE[name], speed_km_h=speed, draws=draws
    )


def test_a_man_struck_at_40_km_h(lined) -> None:
    """Head at 1978 mm along the skin after 116 ms.

    J. R. Kerrigan, J. R. Crandall and B. Deng, Pedestrian kinematic response to mid-sized vehicle
    impact, International Journal of Vehicle Safety 2 (3), 221-240, 2007: seven tests; only the
    abstract was read and the two figures are unconfirmed.
    """
    found = struck(lined, "man p50", draws=200)
    assert found.wad_mm is not None and found.time_ms is not None
    assert abs(found.wad_mm.median - 1978.0) <= 0.08 * 1978.0
    assert abs(found.time_ms.median - 116.0) <= 12.0


def test_wrap_around_distance_does_not_go_with_stature(lined) -> None:
    """Shares of stature differ by more than 0.05 from person to person (same paper)."""
    shares = [
        struck(lined, name).wad_mm.median / (1e3 * figure.stature)
        for name, figure in PEOPLE.items()
    ]
    assert max(shares) - min(shares) > 0.05
    # Common practice, no source: adults' heads land at 0.9 to 1.2 of their stature.
    assert all(0.9 <= share <= 1.2 for share in shares[1:])


def test_the_head_lands_farther_and_sooner_the_faster(lined) -> None:
    """D. Otte and others, SAE Technical Paper 2015-01-1461, 2015 (abstract read)."""
    found = [struck(lined, "man p50", speed) for speed in (20.0, 30.0, 40.0, 50.0)]
    wads = [one.wad_mm.median for one in found]
    assert wads == sorted(wads)
    times = [one.time_ms.median for one in found]
    assert times == sorted(times, reverse=True)


@pytest.mark.parametrize("name", PEOPLE)
def test_the_place_is_much_surer_than_nothing(lined, name) -> None:
    """The 5 to 95 % interval is narrower than a fifth of the distance.

    C. K. Simms and D. P. Wood, Pedestrian risk from cars and sport utility vehicles: a comparative
    analytical study, 2005 (abstract read; journal details not confirmed).
    """
    wad = struck(lined, name).wad_mm
    assert wad.p95 - wad.p5 < 0.2 * wad.median
    assert np.isfinite(wad.median)

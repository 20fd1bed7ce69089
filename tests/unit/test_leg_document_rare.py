"""The leg document where something is locked, refused, missing or blown up: null, and named."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.legs.dynamics import RunSettings
from frontcheck.legs.leg_order import Order
from frontcheck.lines.lined_front import line_up
from frontcheck.people.impactors import Knee
from frontcheck.people.people import PEOPLE

MAN = next(person for person in PEOPLE if person.name == "man p50")
NOSE = [
    (300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 700), (120, 800),
    (900, 950),
]  # fmt: skip
QUICK = RunSettings(duration_ms=1.0, step_ms=0.5)


def lined(points=NOSE, name="low"):
    return line_up(fc.Front([fc.Section(points)], name=name), "UN-R127-02")


def study(*fronts, **options):
    return fc.leg(fronts, MAN, **({"settings": QUICK, "draws": 2} | options))


def at(made, letter="a"):
    return made.to_dict()["stations"][0]["fronts"][letter]


@pytest.mark.parametrize(
    ("knee", "bending", "shear", "locked"),
    [
        (Knee(math.inf, 1.5, 700.0, 0.25), None, 700.0, ["bending"]),
        (Knee(800.0, 1.5, math.inf, 0.25), 800.0, None, ["shear"]),
        (Knee(math.inf, 1.5, math.inf, 0.25), None, None, ["bending", "shear"]),
        (Knee(800.0, 1.5, 700.0, 0.25), 800.0, 700.0, []),
    ],
)
def test_a_lock_is_null_and_named(knee, bending, shear, locked) -> None:
    made = study(lined(), settings=replace(QUICK, knee=knee, rebound=0.3)).to_dict()
    assumed = made["assumptions"]
    assert assumed["knee"] == {
        "bending_stiffness_N_m_per_rad": bending, "bending_damping_N_m_s_per_rad": 1.5,
        "shear_stiffness_N_per_mm": shear, "shear_damping_N_s_per_mm": 0.25, "locked": locked,
    }  # fmt: skip
    assert (assumed["rebound"], assumed["duration_ms"], assumed["step_ms"]) == (0.3, 1.0, 0.5)
    assert (assumed["rotation_limit_deg"], assumed["draws"], assumed["factor"]) == (60.0, 2, 4.0)
    usual = study(lined()).to_dict()["assumptions"]["knee"]
    assert usual["bending_stiffness_N_m_per_rad"] == 1200.0  # that of the flexible legform


def test_an_energy_that_blew_up_is_null_and_a_run_says_what_its_knee_does() -> None:
    made = study(lined())
    (station,) = made.stations
    (front,) = station.fronts

    def told(**changed):
        run = replace(front.run, **changed)
        again = replace(made, stations=(replace(station, fronts=(replace(front, run=run),)),))
        return at(again)["legform"]["lower"]

    for error, said in ((math.inf, None), (math.nan, None), (0.5, 0.5)):
        assert told(energy_error=error)["energy_error"] == said
    for angle, knee in (([0.0, 2.0, -1.0], "opens"), ([0.0, 1.0, -2.0], "closes")):
        assert told(knee_angle=np.array(angle))["knee"] == knee
    assert told(time=np.array([0.0, 7.5]))["ended_ms"] == 7.5
    assert told(status="rotation_limit", reason="too far")["reason"] == "too far"


def test_what_is_not_there_is_null() -> None:
    """High above a person; the legform refused; lines not formed."""
    above = study(lined([(30, 2000), (0, 2100), (100, 2300), (900, 2400)], "above"))
    told = at(above)
    person = told["person"]
    assert {person[key] for key in ("first_touch", "second_touch", "second_later_mm", "load")} == {
        None
    }
    assert (person["free_mm"], person["free_within_mm"]) == (None, None)
    assert told["legform"]["lower"] is told["legform"]["opening_rate"] is None
    assert told["missing"] == list(above.stations[0].fronts[0].missing)
    assert above.to_dict()["complete"] is False
    low = at(study(lined()))
    assert low["person"]["free_within_mm"] == 60.0
    assert low["person"]["free_mm"][0][0] == 0.0
    assert low["lip_behind_bumper_mm"] == 20.0
    assert [row["depth_mm"] for row in low["person"]["load"]] == [20.0, 60.0, 100.0]
    assert low["legform"]["upper"] is None


def test_shares_stand_under_the_name_of_where_they_are() -> None:
    """A load wholly below the knee, 514 mm in shoes, across it, and above it."""
    for z, where in ((300.0, "below"), (514.0, "across"), (700.0, "above")):
        lip = [(400, z - 60), (0, z - 10), (0, z + 10), (400, z + 60), (900, z + 400)]
        (row,) = at(study(lined(lip), depths=(15.0,)))["person"]["load"]
        assert row[f"share_{where}_knee"] > 0.9
        assert row["height_mm"] == pytest.approx(z)
        ((low, high),) = row["bands_mm"]
        assert low < z - 10.0 < z + 10.0 < high


def test_an_order_under_its_keys() -> None:
    made = study(lined(), lined(name="two"))
    order = Order(
        ("low", "two"), 200, 190, 4, (0.8, 1.1, 1.4), None, (0.5, 0.6, 0.7),
        (("lower lip", 0.5), ("bumper", 0.25)),
    )  # fmt: skip
    station = replace(made.stations[0], order=order)
    told = replace(made, stations=(station,)).to_dict()["stations"][0]
    found = told["order"]
    # 190 of 200: with the lower limit p so many or more come once in 20 times.
    p = found.pop("least_share")
    tail = sum(math.comb(200, k) * p**k * (1.0 - p) ** (200 - k) for k in range(190, 201))
    assert tail == pytest.approx(0.05)
    assert found.pop("sentence").startswith("Ranks: low opens the knee of the legform less")
    assert found == {
        "status": "ranks", "less": "a", "draws": 200, "a_less": 190, "b_less": 4,
        "same_share": 0.95,
        "decides": [{"part": "lower lip", "first_order_share": 0.5},
                    {"part": "bumper", "first_order_share": 0.25}],
        "knee_opening_b_over_a": {"low": 0.8, "middle": 1.1, "high": 1.4},
        "knee_shear_b_over_a": None,
        "tibia_bending_b_over_a": {"low": 0.5, "middle": 0.6, "high": 0.7},
    }  # fmt: skip
    assert list(told["fronts"]) == ["a", "b"]
    assert (told["fronts"]["a"]["name"], told["fronts"]["b"]["name"]) == ("low", "two")
    assert (told["y_mm"], told["no_order"]) == (0.0, "")


def test_the_upper_legform_under_its_keys() -> None:
    high = study(lined([(x, z + 260.0) for x, z in NOSE], "high"))
    case = high.stations[0].fronts[0].upper
    legform = at(high)["legform"]
    assert legform["upper"] == {
        "aim_mm": case.aim, "low_mm": case.low, "high_mm": case.high,
        "bumper_overlap_mm": case.bumper_overlap, "edge_overlap_mm": case.edge_overlap,
        "edge_below_top_mm": case.edge_below_top, "load_height_mm": list(case.load_height),
    }  # fmt: skip
    assert legform["test"] == "upper"
    assert legform["lower_refused"].startswith("the lower legform does not apply")
    assert high.to_dict()["legform"]["foot_height_mm"] == 75.0

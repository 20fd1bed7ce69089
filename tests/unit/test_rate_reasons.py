"""How far a line goes for a feature, or why there is no one rate: borders and rare reasons."""

from __future__ import annotations

import math
from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.front.front import Front
from frontcheck.lines.line_values import OK, OPEN_END
from frontcheck.study.moves import HANDLES
from frontcheck.study.sensitivity import (
    Rate,
    Sensitivity,
    _moved,
    _numbers,
    _rates,
    sensitivity,
)
from frontcheck.surface.section import Section


def line(z, formed=True, code=OK, x=10.0) -> Fake:
    """One line of as many variants as there are heights."""
    z = np.atleast_1d(np.array(z, dtype=float))
    n = len(z)
    given = {"formed": np.broadcast_to(np.array(formed), n), "code": np.broadcast_to(code, n)}
    return Fake(x=np.broadcast_to(np.array(x, dtype=float), n), z=z, **given)


def rates(handle: str, here: float, ahead: float, behind: float, travel=10.0, missing="") -> Rate:
    """The rate of LBRL z where it is at these heights."""
    plain = line([500.0] * 3)
    one = Fake(
        LBRL=Fake(**vars(line([here, ahead, behind])), reason="why {}".format),
        UBRL=Fake(**vars(plain)), BLERL=Fake(**vars(plain)), distances=(),
    )  # fmt: skip
    (own,) = [each for each in HANDLES if each.name == handle]
    found = {rate.line: rate for rate in _rates(one, own, travel, missing)}
    return found["LBRL_z_mm"]


# Own choice: a tenth of the unit either way; a line that goes more than ten times as far as the
# skin jumps; more than a tenth of the travel apart, the two ways are told apart.
@pytest.mark.parametrize(
    ("handle", "heights", "mm", "reason"),
    [
        ("nose_up_mm", (500.0, 501.0, 499.0), 10.0, ""),
        ("nose_up_mm", (500.0, 501.0, 499.125), None, "+10.0 up, -8.8 down"),
        ("nose_up_mm", (500.0, 499.0, 499.5), None, "-10.0 up, -5.0 down"),
        ("face_lean_deg", (500.0, 501.0, 500.0), None, "+10.0 lean, +0.0 the other way"),
        ("nose_up_mm", (500.0, 510.0, 490.0), 100.0, ""),  # ten times as far, and no more
        ("nose_up_mm", (500.0, 510.5, 490.0), None, "the line jumps"),
        ("nose_up_mm", (500.0, 510.0, 489.5), None, "the line jumps"),
        ("nose_up_mm", (500.0, math.nan, 499.0), None, "the line is lost a little way off"),
        ("nose_up_mm", (500.0, 501.0, math.nan), None, "the line is lost a little way off"),
    ],
)
def test_a_rate_or_why_there_is_none(handle, heights, mm, reason) -> None:
    found = rates(handle, *heights)
    assert found.reason == reason
    assert found.mm == (None if mm is None else pytest.approx(mm))
    assert rates(handle, *heights, missing="no lip").reason == "no lip"


def test_two_ways_a_tenth_of_the_travel_apart_are_one() -> None:
    heights = (500.0, 501.0, 499.125)  # 10 and 8.75: 1.25 apart
    assert rates("nose_up_mm", *heights, travel=12.5).mm == 9.375
    assert rates("nose_up_mm", *heights, travel=12.4).reason == "+10.0 up, -8.8 down"


def test_numbers_of_a_section_and_why_one_is_not_there() -> None:
    def told(**more) -> dict:
        lines = {name: line([500.0], x=x) for name, x in
                 (("LBRL", 5.0), ("UBRL", 0.0), ("BLERL", 90.0))}  # fmt: skip
        lines |= more
        for one in lines.values():
            one.reason = "why {}".format
        marks = Fake(x=np.array([[7.0, 9.0]]))
        return _numbers(
            Fake(**lines, distances=(1000.0, 1500.0), WAD=marks, wad_code=np.array([[OK, OK + 1]]))
        )

    found = told()
    assert list(found) == [
        "LBRL_x_mm", "LBRL_z_mm", "UBRL_x_mm", "UBRL_z_mm", "BLERL_x_mm", "BLERL_z_mm",
        "bumper_lead_mm", "WAD_1000_x_mm", "WAD_1500_x_mm",
    ]  # fmt: skip
    far = "the tape does not reach so far, or what lies beyond could change it"
    assert [float(values[0]) for values, _ in found.values()][:8] == [
        5,
        500,
        0,
        500,
        90,
        500,
        90,
        7,
    ]
    assert [why for _, why in found.values()] == [""] * 8 + [far]
    assert math.isnan(found["WAD_1500_x_mm"][0][0])
    lead = "UBRL or BLERL is missing or not known"
    for name in ("UBRL", "BLERL"):
        for lost in (line([500.0], formed=False), line([500.0], code=OPEN_END)):
            found = told(**{name: lost})
            assert found[f"{name}_x_mm"][1] == "why 0"
            assert found["bumper_lead_mm"][1] == lead
            assert math.isnan(found["bumper_lead_mm"][0][0])
    assert told(LBRL=line([500.0], formed=False))["bumper_lead_mm"][1] == ""


def test_handles_that_move_nothing_for_one_reason_are_absent() -> None:
    one, two, three = HANDLES[:3]
    table = Sensitivity(
        0.0,
        (
            Rate(one, "UBRL_z_mm", None, "no lip"), Rate(one, "LBRL_z_mm", None, "no lip"),
            Rate(two, "UBRL_z_mm", None, "jumps"), Rate(two, "LBRL_z_mm", None, "lost"),
            Rate(three, "UBRL_z_mm", 1.0), Rate(three, "LBRL_z_mm", 2.0),
        ),
    )  # fmt: skip
    assert table.absent == {one: "no lip"}
    assert table.there == (two, three)
    assert table.lines == ("UBRL_z_mm", "LBRL_z_mm")
    assert table.rate(three.name, "LBRL_z_mm").mm == 2.0
    with pytest.raises(KeyError, match="no 'BRRL_z_mm' by 'lower_lip_up_mm'"):
        table.rate(two.name, "BRRL_z_mm")


POINTS = [(400, 190), (200, 200), (40, 300), (70, 400), (0, 500), (60, 750), (500, 860),
          (1000, 930), (1500, 1200)]  # fmt: skip
PARTS = ["underside"] * 2 + ["bumper"] * 3 + ["bonnet"] * 3 + ["windscreen"]
FLAT = [(300, 250), (0, 300), (0, 600), (60, 750), (900, 900)]
BY_NAME = {handle.name: handle for handle in HANDLES}


def test_a_rate_of_an_angle_is_that_of_one_degree() -> None:
    """A face that leans: the upper lip, 200 mm above its lower end, goes back by 200 tan."""
    table = sensitivity(Front((Section(POINTS, 0.0, PARTS),)), "UN-R127-02")
    tenth = 200.0 * math.tan(math.radians(0.1))
    assert table.rate("face_lean_deg", "UBRL_x_mm").mm == pytest.approx(10.0 * tenth)
    assert table.rate("nose_up_mm", "UBRL_z_mm").mm == pytest.approx(10.0)
    assert table.station == 0.0


def test_a_section_is_moved_a_tenth_of_the_unit_either_way() -> None:
    section = Section(POINTS, 0.0, PARTS)
    copies, travel, why = _moved(section, BY_NAME["nose_up_mm"], 150.0)
    assert (travel, why) == (pytest.approx(10.0), "")
    assert (copies[:, 0] - section.points[0]).tolist() == [[0.0, 0.0], [0.0, 1.0], [0.0, -1.0]]
    copies, travel, why = _moved(Section(FLAT), BY_NAME["lower_lip_up_mm"], 150.0)
    assert (travel, why) == (0.0, "no recess to be seen, so no lower lip")
    assert (copies == np.array(FLAT)).all()
    assert len(copies) == 3

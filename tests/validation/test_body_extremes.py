"""Shapes and assumptions at the ends of what may be met: all stays finite, and says what it is.

Own choice of shapes; nothing here is a number to be believed.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from checks import Check, derived
from references.saloon import SALOON

import frontcheck as fc
from frontcheck.body.anatomy import figure_of
from frontcheck.body.assumed import Cases, drawn, nominal
from frontcheck.body.struck import strike
from frontcheck.body.wall import Wall
from frontcheck.people.people import struck_people

UPRIGHT = Check(
    "head-on-an-upright-wall",
    kind="closed form",
    quantity="height at which a head meets a flat front taller than anyone",
    unit="mm",
    source=derived("as high as the centre of the head stands"),
    why="own choice: 1 % for a lean of 5 deg",
)

PEOPLE = struck_people()
LOW = np.array([
    (300, 90), (90, 150), (20, 200), (0, 260), (15, 330), (60, 375), (120, 400), (500, 470),
    (1100, 560), (1150, 565), (1700, 900), (2400, 1150),
])  # fmt: skip
TALL = np.array([(300, 90), (20, 250), (0, 400), (0, 2600), (200, 2700), (1500, 2750)])
SHAPES = {"saloon": SALOON, "edge at 400 mm": LOW, "taller than anyone": TALL}


def one_at_an_end() -> Cases:
    """Each assumption alone at the least and at the most of what is drawn, the rest nominal."""
    many, middle = drawn(4000, 1), nominal()
    ends = [
        replace(middle, **{each.name: at(drawn_of, axis=0, keepdims=True)})
        for each in fields(Cases)
        for drawn_of in [getattr(many, each.name)]
        for at in (np.min, np.max)
    ]
    return Cases(*(
        np.concatenate([getattr(end, each.name) for end in ends]) for each in fields(Cases)
    ))  # fmt: skip


@pytest.mark.parametrize("shape", SHAPES)
def test_each_assumption_at_its_ends(shape) -> None:
    """Also for the fastest car: no overflow, no division by nought, nothing but numbers."""
    points, cases = SHAPES[shape], one_at_an_end()
    assert len(cases) == 2 * len(fields(Cases))
    part = np.arange(len(points) - 1) * 4 // (len(points) - 1)
    for person, km_h in zip(PEOPLE, (50.0, 40.0, 20.0, 50.0, 40.0), strict=True):
        figure = figure_of(person)
        with np.errstate(all="raise", under="ignore"):
            ended = strike(figure, Wall(points / 1e3), part, cases, km_h / 3.6)
        assert np.isfinite(ended.pose).all()
        # Nobody is wound up: joints hold, each body turns by less than a whole turn.
        assert np.abs(ended.pose[:, 2:]).max() < 2.0 * np.pi
        assert np.isfinite(ended.first_s).all()
        assert np.isfinite(ended.first_at).all()
        touched = np.isfinite(ended.head_s)
        assert (np.isfinite(ended.head_at).all(axis=1) == touched).all()
        assert not (touched & ended.beyond).any()
        assert (ended.head_s[touched] > 0.0).all()


@pytest.mark.parametrize("shape", ["saloon", "edge at 400 mm", "held off"])
def test_shares_are_those_of_all_cases(shape) -> None:
    points = SHAPES.get(shape, SALOON + np.array([0.0, 400.0]))
    study = fc.motion(fc.Front([fc.Section(points)]), people=(PEOPLE[1], PEOPLE[4]), draws=20)
    for person, heads in zip(study.people, study.heads[0], strict=True):
        assert not person.refused
        shares = person.shares
        assert all(0.0 <= share <= 1.0 for share in shares.values())
        assert shares["pushed"] + shares["folded"] + shares["carried"] == pytest.approx(1.0)
        away = np.isnan(heads.time_ms)
        assert away.mean() == pytest.approx(shares["no_head_contact"] + shares["beyond_measured"])
        assert (np.isnan(heads.wad_mm) == away).all()
        assert (np.isnan(heads.at_mm).all(axis=1) == away).all()
        for spread in (person.torso_deg, person.past_edge_mm, person.first_contact.height_mm):
            assert np.isfinite([spread.p5, spread.median, spread.p95]).all()
            assert spread.p5 <= spread.median <= spread.p95
        if away.mean() > 0.05:
            assert person.wad_mm is person.time_ms is person.part is person.parts is None
            assert person.reason


def test_a_head_that_is_never_touched_has_no_number() -> None:
    """A step at the knee, with nothing behind it that reaches up to a head."""
    short = strike(
        figure_of(PEOPLE[3]), Wall(np.array([(0.2, 0.1), (0.0, 0.2), (0.0, 0.45), (6.0, 0.46)])),
        np.zeros(3, dtype=np.intp), nominal(), 20.0 / 3.6, last=0.1,
    )  # fmt: skip
    assert np.isnan(short.head_s).all()
    assert np.isnan(short.head_at).all()
    assert not short.beyond.any()
    study = fc.motion(
        fc.Front([fc.Section(SALOON + np.array([0.0, 400.0]))]), people=PEOPLE[1:2], draws=20
    )
    (person,) = study.people
    assert person.shares["no_head_contact"] > 0.5
    assert person.shares["beyond_measured"] == 0.0
    assert person.wad_mm is person.time_ms is person.part is None
    assert "touches nothing within 0.35 s" in person.reason


def test_a_flat_front_taller_than_anyone_meets_all_where_they_stand() -> None:
    """The head touches as high as its centre stands, to 1 %: own choice, for a lean of 5 deg.

    Centre below the crown by half the breadth of the head, 0.044 of an adult and 0.061 of a child.
    """
    for person in fc.motion(fc.Front([fc.Section(TALL)]), draws=20).people:
        assert person.kind == "pushed ahead"
        assert person.shares["pushed"] == 1.0
        half = 0.061 if person.person == "six-year-old" else 0.044
        height = (1.0 - half) * person.stature_mm
        found = (person.wad_mm.p5, person.wad_mm.median, person.wad_mm.p95)
        UPRIGHT.compare(height, found, relative=0.01, case=person.person)

"""The motion study put together: who is struck by what, what is compared, said and withheld.

The motion of each person is made up here, so that every number is known; that it is worked out
right is tested elsewhere. Thresholds are own choice (contract, section 3).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from references.saloon import SALOON, front_of

import frontcheck as fc
from frontcheck.body import motion as study_of
from frontcheck.body.assumed import drawn
from frontcheck.body.edge_height import EdgeToMiddle
from frontcheck.body.motion import Difference, PersonChange, _difference
from frontcheck.body.person_motion import FirstContact, HeadContacts, PersonMotion, Spread, Told
from frontcheck.errors import InputError
from frontcheck.people.people import struck_people

CHILD, *ADULTS = struck_people()
MAN = ADULTS[2]
DRAWS = 20


def made(name, figure, y=0.0, wads=1500.0, times=100.0, reason="") -> Told:
    """What would be told of one person."""
    wads = np.broadcast_to(np.asarray(wads, dtype=float), DRAWS).copy()
    times = np.broadcast_to(np.asarray(times, dtype=float), DRAWS).copy()
    known = not reason
    motion = PersonMotion(
        name, 1e3 * figure.stature, figure.mass, y, "carried up",
        {"pushed": 0.0, "folded": 0.05, "carried": 0.95, "no_head_contact": 0.0,
         "beyond_measured": 0.0},
        0.78, Spread.of(wads) if known else None, Spread.of(times) if known else None,
        "bonnet" if known else None, {"bonnet": 1.0} if known else None, Spread(50.0, 40.0, 60.0),
        Spread(200.0, 100.0, 300.0),
        FirstContact("bumper", "near shank", Spread(450.0, 440.0, 460.0)), reason,
    )  # fmt: skip
    return Told(motion, HeadContacts(wads, times, np.zeros((DRAWS, 2))), None)


@pytest.fixture
def struck(monkeypatch):
    """Notes every task, and answers as told: by front (how high it stands), person and draw."""
    tasks, answers = [], {}

    def one(front, name, figure, cases, speed):
        tasks.append((front, name, figure, cases, speed))
        again = sum(task[0] is front and task[1] == name for task in tasks)
        given = answers.get((float(front.points[0, 1]), name, again), {})
        return made(name, figure, front.y, **given)

    monkeypatch.setattr(study_of, "person_motion", one)
    return tasks, answers


HIGH = front_of([(x, z + 50.0) for x, z in SALOON], name="high")
NO_EDGE = front_of(SALOON[4:], None, name="open")  # begins at 540 mm: an open end


def test_every_person_is_struck_once_by_one_front(struck) -> None:
    tasks, _ = struck
    study = fc.motion(front_of(), draws=DRAWS, seed=5, speed_km_h=33)
    assert [task[1] for task in tasks] == [
        "six-year-old", "woman p5", "woman p50", "man p50", "man p95",
    ]  # fmt: skip
    assert [one.person for one in study.people] == [task[1] for task in tasks]
    expected = drawn(DRAWS, 5)
    for _, _, figure, cases, speed in tasks:
        assert speed == 33
        assert cases.spine.tolist() == expected.spine.tolist()
        assert (cases.friction == expected.friction).all()
        assert figure.mass in (21.0, 50.0, 62.0, 77.0, 98.0)
    assert (study.speed_km_h, study.draws, study.seed) == (33.0, DRAWS, 5)
    assert isinstance(study.speed_km_h, float)
    assert (study.people_b, study.changes, study.notes) == ((), (), ())
    assert study.complete
    assert [len(each) for each in (study.motions, study.heads, study.frames)] == [1, 1, 1]
    assert study.bases == ("measured",)
    # The edge of the saloon, 680 mm, is below all but the child: 0.56 and 0.60 of 1153.4 mm are
    # 646 and 692 mm, shoes of 25 mm come on top; the lowest adult's begins at 864 mm.
    assert [one.edge.against for one in study.people] == ["in the band", *["below"] * 4]


def test_two_fronts_are_struck_with_the_same_draws_and_with_draws_apart(struck) -> None:
    tasks, answers = struck
    answers[200.0, "man p50", 1] = {"wads": np.linspace(1500.0, 1519.0, 20), "times": 100.0}
    answers[250.0, "man p50", 1] = {"wads": np.linspace(1570.0, 1589.0, 20), "times": 111.0}
    apart = np.where(np.arange(20) < 19, 1600.0, 1400.0)
    answers[250.0, "man p50", 2] = {
        "wads": apart,
        "times": np.where(np.arange(20) < 18, 130.0, 9.0),
    }
    seen = []
    study = fc.motion(
        front_of(name="low"), HIGH, people=[CHILD, MAN], draws=DRAWS,
        progress=lambda what, share: seen.append((what, share)),
    )  # fmt: skip
    assert [(float(task[0].points[0, 1]), task[1]) for task in tasks] == [
        (200.0, "six-year-old"), (250.0, "six-year-old"), (250.0, "six-year-old"),
        (200.0, "man p50"), (250.0, "man p50"), (250.0, "man p50"),
    ]  # fmt: skip
    one, two, other = (task[3] for task in tasks[3:])
    assert one is two
    contact = ("stiffness", "friction", "rebound", "grip")
    for name in (*contact, "sole_friction", "spine", "knee", "lean", "braking", "legs_touch"):
        assert (getattr(one, name) == getattr(other, name)).all() == (name not in contact), name
    assert seen == [
        *(("six-year-old is struck", pytest.approx(n / 6)) for n in (1, 2, 3)),
        *(("man p50 is struck", pytest.approx(n / 6)) for n in (4, 5, 6)),
    ]  # fmt: skip
    child, man = study.changes
    assert child == PersonChange(
        "six-year-old",
        Difference(Spread(0.0, 0.0, 0.0), 0.0, 0.0, "no"),
        Difference(Spread(0.0, 0.0, 0.0), 0.0, 0.0, "no"),
    )
    assert (child.separable, child.time_separable) == ("no", "no")
    # B less A: 70 mm in every case, apart in 19 of 20; 11 ms, apart in 18 of 20 only.
    assert (man.wad.spread.median, man.wad.same_sign) == (pytest.approx(70.0), 1.0)
    assert (man.wad.same_sign_drawn_apart, man.separable) == (0.95, "yes")
    assert (man.time.spread.median, man.time.same_sign_drawn_apart) == (pytest.approx(11.0), 0.9)
    assert man.time_separable == "only if equally soft"
    assert (man.person, man.reason) == ("man p50", "")
    assert [p.person for p in study.people_b] == ["six-year-old", "man p50"]
    assert study.people_b[1].wad_mm.median == pytest.approx(1579.5)  # of the same draws, not apart
    assert study.names == ("low", "high")
    assert len(study.bands) == 2
    assert study.bands[0][0].high_mm < study.bands[1][0].high_mm


def test_the_document_has_every_value_under_its_key(struck) -> None:
    _, answers = struck
    answers[200.0, "man p50", 1] = {"wads": np.linspace(1500.0, 1519.0, 20), "times": 100.0}
    answers[250.0, "man p50", 1] = {"wads": np.linspace(1570.0, 1589.0, 20), "times": 111.0}
    answers[250.0, "man p50", 2] = {"wads": 1600.0, "times": 90.0}
    answers[250.0, "six-year-old", 1] = {"reason": "lost"}
    study = fc.motion(front_of(name="low"), HIGH, people=[CHILD, MAN], draws=DRAWS)
    told = study.to_dict()
    assert told["schema"] == "frontcheck.motion/1"
    assert (told["front"], told["front_b"]) == ("low", "high")
    assert {key: entry["name"] for key, entry in told["inputs"].items()} == {
        "a": "low",
        "b": "high",
    }
    assert (told["station_mm"], told["basis"]) == (0.0, ["measured", "measured"])
    assert (told["speed_km_h"], told["draws"], told["seed"]) == (40.0, 20, 1)
    assert told["rule_set"]["id"] == "UN-R127-02"
    assert told["notes"] == []
    assert told["assumed"] == list(study.assumed)
    man = told["people"][1]
    assert man == {
        "person": "man p50", "stature_mm": 1755.0, "mass_kg": 77.0, "station_mm": 0.0,
        "kind": "carried up",
        "shares": {"pushed": 0.0, "folded": 0.05, "carried": 0.95, "no_head_contact": 0.0,
                   "beyond_measured": 0.0},
        "share_at_least": 0.78,
        "wad_mm": {"median": pytest.approx(1509.5), "p5": pytest.approx(1500.95),
                   "p95": pytest.approx(1518.05)},
        "time_ms": {"median": 100.0, "p5": 100.0, "p95": 100.0},
        "part": "bonnet", "parts": {"bonnet": 1.0},
        "torso_deg": {"median": 50.0, "p5": 40.0, "p95": 60.0},
        "past_edge_mm": {"median": 200.0, "p5": 100.0, "p95": 300.0},
        "first_contact": {"part": "bumper", "body": "near shank",
                          "height_mm": {"median": 450.0, "p5": 440.0, "p95": 460.0}},
        "edge_against_centre_of_mass": "below", "reason": "",
    }  # fmt: skip
    assert told["people_b"][1]["wad_mm"]["median"] == pytest.approx(1579.5)
    assert told["people_b"][0]["reason"] == "lost"
    assert told["people_b"][0]["wad_mm"] is None
    child, change = told["changes"]
    seventy = {"median": pytest.approx(70.0), "p5": pytest.approx(70.0), "p95": pytest.approx(70.0)}
    assert change == {
        "person": "man p50", "wad_mm": seventy,
        "time_ms": {"median": 11.0, "p5": 11.0, "p95": 11.0},
        "same_sign": 1.0, "same_sign_drawn_apart": 1.0, "separable": "yes",
        "time_same_sign": 1.0, "time_same_sign_drawn_apart": 0.0,
        "time_separable": "only if equally soft", "reason": "",
    }  # fmt: skip
    assert child == {
        "person": "six-year-old", "wad_mm": None, "time_ms": None, "same_sign": None,
        "same_sign_drawn_apart": None, "separable": "no", "time_same_sign": None,
        "time_same_sign_drawn_apart": None, "time_separable": "no", "reason": "lost",
    }  # fmt: skip
    assert not study.complete
    alone = fc.motion(front_of(name="low"), people=[MAN], draws=DRAWS).to_dict()
    assert (alone["front_b"], alone["people_b"], alone["changes"]) == (None, [], [])
    assert list(alone["inputs"]) == ["a"]


@pytest.mark.parametrize("swapped", [False, True])
def test_a_front_that_is_refused_leaves_the_other(struck, swapped) -> None:
    tasks, _ = struck
    pair = [front_of(name="low"), NO_EDGE]
    study = fc.motion(*(reversed(pair) if swapped else pair), people=[CHILD, MAN], draws=DRAWS)
    refused, fine = study.motions if swapped else study.motions[::-1]
    assert [task[1] for task in tasks] == ["six-year-old", "man p50"]
    why = refused[0].reason
    assert why.startswith("the contour ends where ")
    for one in refused:
        assert (one.reason, one.shares, one.kind, one.wad_mm) == (why, {}, "undecided", None)
        assert one.refused
    assert [one.person for one in refused] == ["six-year-old", "man p50"]
    assert [one.kind for one in fine] == ["carried up"] * 2
    assert study.changes == (
        PersonChange("six-year-old", None, None, why), PersonChange("man p50", None, None, why),
    )  # fmt: skip
    order = (0, 1) if swapped else (1, 0)
    assert study.heads[order[0]] == study.frames[order[0]] == (None, None)
    assert study.bands[order[0]] == ()
    assert len(study.bands[order[1]]) > 2
    assert study.heads[order[1]][1].wad_mm[0] == 1500.0
    assert not study.complete
    assert study.changes[0].separable == study.changes[0].time_separable == "no"


def test_what_is_to_be_minded_names_those_without(struck) -> None:
    _, answers = struck
    answers[200.0, "six-year-old", 1] = {"reason": "too far"}
    answers[200.0, "man p50", 1] = {"reason": "too far"}
    answers[200.0, "man p95", 1] = {"reason": "lost"}
    study = fc.motion(front_of(), draws=DRAWS)
    assert study.to_mind[:-2] == (
        "six-year-old, man p50: no place of the head: too far.",
        "man p95: no place of the head: lost.",
    )
    for said in (study.to_mind[-2:], study.cautions[-2:]):
        assert said[0].startswith("A share is a share of assumed cases, never a chance in a crash.")
        assert said[1].startswith("The motion model is geometry and stated assumptions")
    assert study.cautions[0].startswith("This is a screening of geometry.")
    refused = fc.motion(NO_EDGE, people=[CHILD, MAN], draws=DRAWS)
    (line,) = refused.to_mind[:-2]
    assert line.startswith("six-year-old, man p50: no motion: the contour ends where ")


def test_whoever_works_gets_every_task_and_none_where_all_is_refused(struck) -> None:
    class Pool:
        def __init__(self) -> None:
            self.asked = []

        def map(self, call, *columns):
            self.asked.append(columns)
            return map(call, *columns)

    pool = Pool()
    study = fc.motion(front_of(), people=[CHILD, MAN], draws=DRAWS, executor=pool)
    ((fronts, names, figures, cases, speeds),) = pool.asked
    assert (names, speeds) == (("six-year-old", "man p50"), (40.0, 40.0))
    assert [len(each) for each in (fronts, figures, cases)] == [2, 2, 2]
    assert [one.wad_mm.median for one in study.people] == [1500.0, 1500.0]
    pool.asked.clear()
    none = fc.motion(NO_EDGE, people=[CHILD, MAN], draws=DRAWS, executor=pool)
    assert pool.asked == []
    assert [one.refused for one in none.people] == [True, True]


def test_the_plan_that_is_not_known_is_among_what_is_assumed(struck) -> None:
    plan = (
        "{}: the plan shape is not known; at the centre plane it is taken to face straight ahead."
    )
    two = fc.motion(front_of(name="one"), front_of(name="two"), people=[MAN], draws=DRAWS)
    assert two.assumed[:2] == (plan.format("one"), plan.format("two"))
    wide = fc.Front([fc.Section(SALOON, y) for y in (-300.0, 0.0, 300.0)], name="wide")
    one = fc.motion(wide, people=[MAN], draws=DRAWS)
    assert "plan shape" not in one.assumed[0]
    assert one.assumed[0].startswith("The car strikes a standing person from the side")
    assert two.assumed[2:] == one.assumed


def test_ends_of_what_may_be_asked_for(struck) -> None:
    for speed, draws, seed in ((20, 20, 0), (50, 20, 1), (20.0, 5000, 2), (50.0, 5000, 0)):
        study_of._check(speed, draws, seed)
    for wrong, says in (
        ({"speed_km_h": 19.999}, "a speed of 19.999 km/h; expected 20 to 50 km/h"),
        ({"speed_km_h": 50.001}, "a speed of 50.001 km/h; expected 20 to 50 km/h"),
        ({"draws": 19}, "19 draws; expected 20 to 5000"),
        ({"draws": 5001}, "5001 draws; expected 20 to 5000"),
        ({"seed": -1}, "seed -1; expected a whole number from 0"),
    ):
        with pytest.raises(InputError, match=says):
            fc.motion(front_of(), people=[MAN], **({"draws": DRAWS} | wrong))


def test_usual_numbers(struck) -> None:
    assert (study_of.DRAWS, study_of.SPEED_KM_H, study_of.SPEEDS_KM_H) == (64, 40.0, (20.0, 50.0))
    assert (study_of.LEAST_DRAWS, study_of.MOST_DRAWS) == (20, 5000)
    assert (study_of.SAME_SIGN, study_of.MOVES_MM, study_of.MOVES_MS) == (0.95, 50.0, 10.0)


@pytest.mark.parametrize(
    ("off", "apart", "separable", "same"),
    [
        ([60.0] * 20, [60.0] * 20, "yes", 1.0),
        ([50.0] * 20, [60.0] * 20, "no", 1.0),  # no more than 50
        ([50.001] * 20, [60.0] * 20, "yes", 1.0),
        ([-60.0] * 20, [-1.0] * 20, "yes", 1.0),
        ([-60.0] * 20, [1.0] * 20, "only if equally soft", 1.0),
        ([60.0] * 19 + [0.0], [60.0] * 20, "yes", 0.95),
        ([60.0] * 18 + [0.0] * 2, [60.0] * 20, "no", 0.9),  # nought has neither sign
    ],
)
def test_what_moves(off, apart, separable, same) -> None:
    found = _difference(np.array(off), np.array(apart), 50.0)
    assert (found.separable, found.same_sign) == (separable, same)
    assert found.spread == Spread.of(np.array(off))
    assert _difference(np.full(3, np.nan), np.zeros(3), 50.0) is None


def test_the_edge_goes_with_the_person_whatever_is_refused(struck) -> None:
    study = fc.motion(HIGH, people=[MAN], draws=DRAWS)
    assert study.people[0].edge == EdgeToMiddle(
        "below", 730.0, (pytest.approx(0.55 * 1755 + 25), pytest.approx(0.59 * 1755 + 25))
    )
    assert replace(study.people[0], edge=None).edge is None

"""The words of an answer, case by case; what to do next; what a shape cannot say.

Fronts and findings are made up (unit/made_answers.py).
"""

from __future__ import annotations

from itertools import combinations
from types import SimpleNamespace

import pytest
from corner_fronts import corner_nose, lined
from unit.made_answers import (
    HALF,
    KNEE,
    LIP,
    NO_AREA,
    THIGH,
    WHOLE,
    candidates,
    found,
    front,
)

from frontcheck.findings import answer as room
from frontcheck.findings.answer import (
    _cannot_say,
    _edge,
    _fields,
    _first_touch,
    _legform,
    _next,
    _text,
    _undecided,
    answer,
    place,
)
from frontcheck.people.people import PEOPLE


@pytest.fixture(autouse=True)
def nothing_stated(monkeypatch) -> None:
    """Rows of these fronts are unsure by what a test says, and else by nothing."""
    monkeypatch.setattr(room, "stated_u", lambda *_: None)


def told(of, *findings, struck="") -> str:
    (one,) = candidates(of, *findings)
    return _text(of, one, {"first_touch": "shins"}, struck)


# --- words -------------------------------------------------------------------------


def test_words_of_a_line_are_those_of_its_clearest_finding_and_ends_of_them_all() -> None:
    rows = [
        found("LEG-HIGH-BUMPER", 440.0, limit=425.0, spread=(428.4, 440.0), ys=[0.0, 300.0]),
        found("LEG-HIGH-BUMPER", 510.0, limit=425.0, y=580.0, z=470.0),
        found("LEG-HIGH-BUMPER", 460.0, limit=425.0, y=300.0),
    ]
    (one,) = candidates(HALF, *rows)
    fields = _fields(HALF, one)
    assert fields == {
        "place": "over the whole width", "values": "428 to 510", "value": "510", "limit": "425",
        "most": "510", "by": "3 to 85", "margin": "85", "edge": "500",
        "legform": "either legform may be used, from 500 the upper", "who": "",
        "at": "at 580 mm out", "what": "here",
    }  # fmt: skip
    bare = _fields(WHOLE, candidates(WHOLE, NO_AREA)[0])
    assert (bare["what"], bare["place"]) == ("adult headform area", "over the whole width")
    for name in ("values", "value", "limit", "most", "by", "legform", "margin", "who"):
        assert bare[name] == "", name
    assert (bare["at"], bare["edge"]) == ("on the whole front", "425")
    two = found("LEG-LEGFORM-NEAR", -12.0, limit=(-15.0, 15.0), spread=(-12.0, 4.0), z=470.0)
    near = _fields(WHOLE, candidates(WHOLE, two)[0])
    assert (near["most"], near["limit"], near["by"], near["edge"]) == ("12", "", "", "500")
    lined_up = found("LEG-LEGFORM-NEAR", 3.0, ys=[0.0, 300.0, 580.0], z=440.0)
    assert _edge(WHOLE, lined_up) == "425"  # the foremost point counts
    hardly = found("LEG-KNEE-FIRST", 49.5, limit=(-50.0, 50.0), person="man p50", y=300.0)
    unknown = found("LEG-KNEE-FIRST", None, person="man p50")
    for rows in ([hardly, unknown], [unknown, hardly]):
        assert _fields(WHOLE, candidates(WHOLE, *rows)[0])["at"] == "at 300 mm out right"
    under = found("HEAD-DEPTH-BELOW-BOUND", 20.0, region="latch under the child headform area")
    assert _fields(WHOLE, candidates(WHOLE, under)[0])["what"] == "latch"


def plain_place(ys, symmetric) -> str:
    """A place in words, put together the long way from distances that have no sign."""
    distances = sorted({int(abs(y)) for y in ys})
    right, left = any(y > 0 for y in ys), any(y < 0 for y in ys)
    if distances == [0]:
        return "at the centre"
    mirrored = left and right and {-y for y in ys} == set(ys)
    if left and right and not mirrored:
        return f"from {int(-min(ys))} mm left to {int(max(ys))} mm right"
    side = "" if symmetric else " both sides" if mirrored else " left" if left else " right"
    if len(distances) == 1:
        return f"at {distances[0]} mm out{side}"
    if distances[0] == 0:
        return f"out to {distances[-1]} mm{side}"
    return f"at {distances[0]} to {distances[-1]} mm out{side}"


@pytest.mark.parametrize(
    ("symmetric", "every"),
    [
        (False, (-580.0, -300.0, 0.0, 300.0, 580.0)), (True, (0.0, 300.0, 580.0)),
        (True, (-580.0, -300.0, 0.0)), (False, (-580.0, -300.0, -0.0)),
    ],
)  # fmt: skip
def test_a_place_is_told_by_distances_without_a_sign(symmetric, every) -> None:
    of = front(*every, symmetric=symmetric)
    for count in range(1, len(every)):
        for ys in combinations(every, count):
            words = place(of, ys)
            assert words == plain_place(ys, symmetric)
            assert "-" not in words
    assert place(WHOLE, (-300.0, -150.0, 0.0)) == "out to 300 mm left"
    assert place(WHOLE, (-0.0, 300.0)) == "out to 300 mm right"


@pytest.mark.parametrize(
    ("low", "high", "margin", "words"),
    [
        (428.0, 499.9, None, "either legform may be used"),
        (428.0, 500.0, 2.0, "either legform may be used, from 500 the upper"),
        (499.9, 510.0, 5.0, "either legform may be used, from 500 the upper"),
        (500.0, 510.0, 2.0, "the upper legform applies"),
        (500.0, 510.0, 1.99, "too close to call which legform"),
    ],
)
def test_the_legform_by_its_height(low, high, margin, words) -> None:
    """UN R127, 02 series, 5.1 (text read): either from 425, the upper from 500 mm; twice the
    standard uncertainty is too close to call (JCGM 100, coverage factor 2)."""
    one = SimpleNamespace(margin=margin)
    assert _legform(WHOLE, one, low, high) == words


def test_the_nearest_change_of_legform() -> None:
    for z, edge in ((440.0, "425"), (462.0, "425"), (463.0, "500"), (520.0, "500")):
        assert _edge(WHOLE, found("LEG-LEGFORM-NEAR", 3.0, z=z)) == edge


@pytest.mark.parametrize("over", [0, 1])
def test_a_line_of_98_letters_stands_and_a_longer_one_does_without_its_place(over: int) -> None:
    head = "First touch at 300 mm out right is at the knee of "
    name = "x" * (98 - len(head) + over)
    text = told(WHOLE, found("LEG-KNEE-FIRST", 1.0, y=300.0, person=name))
    assert text == (f"First touch is at the knee of {name}" if over else head + name)


def test_what_is_too_long_even_so_is_cut_at_a_word() -> None:
    names = ", ".join(f"stature {n} mm" for n in range(1500, 1508))
    text = told(WHOLE, found("LEG-KNEE-FIRST", 1.0, y=300.0, person=names))
    assert text == (
        "First touch is at the knee of stature 1500 mm, stature 1501 mm, stature 1502 mm, "
        "stature 1503 ..."
    )
    edge = found("BODY-EDGE-IN-MASS-BAND", 950.0, y=300.0, person="man p50", limit=(9.0, 99.0))
    tail = "; struck at 40 km/h: undecided, no kind above 60 %"
    said = "Bonnet edge 950 mm up at 300 mm out right: balance point of average man too close to"
    assert told(WHOLE, edge) == f"{said} call"
    assert told(WHOLE, edge, struck=tail) == "Bonnet edge 950 mm up at 300 mm out right: ..." + tail
    assert "struck" not in told(WHOLE, KNEE, struck=tail)


def motion(*people, speed=40.0):
    return SimpleNamespace(speed_km_h=speed, people=people)


def struck(kind="undecided", *, refused=False, **shares):
    full = {"pushed": 0.1, "folded": 0.2, "carried": 0.3, "no_head_contact": 0.9} | shares
    return SimpleNamespace(kind=kind, refused=refused, shares=full)


def test_undecided_is_said_where_the_cases_agree_on_nobody() -> None:
    undecided = motion(struck(), struck(folded=0.456), speed=32.5)
    assert _undecided(undecided) == "; struck at 32.5 km/h: undecided, no kind above 46 %"
    assert _undecided(motion(struck(pushed=0.8))).endswith("no kind above 80 %")
    assert _undecided(motion(struck(carried=0.7))).endswith("no kind above 70 %")
    for others in (struck("carried up"), struck(refused=True)):
        assert _undecided(motion(struck(), others)) == ""
    assert _undecided(None) == ""


def test_whose_what_is_met_first_names_knees_first_and_no_child() -> None:
    trunk = found("LEG-TRUNK-FIRST", 5.0, person="woman p5")
    rows = [trunk, THIGH, found("LEG-KNEE-FIRST", 0.0, person="six-year-old")]
    assert _first_touch(rows) == "thigh of average man"
    assert _first_touch([*rows, found("LEG-KNEE-FIRST", 0.0, person="man p95")]) == (
        "knee of tall man"
    )
    assert _first_touch([trunk]) == "hip or trunk of small woman"
    assert _first_touch([found("LEG-KNEE-FIRST", 0.0, person="six-year-old")]) == "shins"


# --- what next, and what cannot be said --------------------------------------------


def steps(of, lines, left=()):
    every = candidates(of, *lines, *left)
    codes = {each.code for each in lines}
    shown = [one for one in every if one.code in codes]
    return [(s.do, s.settles) for s in _next(of, shown, [o for o in every if o not in shown])]


def test_steps_settle_the_lines_in_their_order_and_what_shares_their_theme() -> None:
    of = front(-300.0, 0.0, 300.0, u=2.0)
    lip = (("Take a push-in reading on the lower lip at the centre: whether it holds a leg is a "
           "matter of its stiffness"), ("LEG-LIP-AHEAD",))  # fmt: skip
    area = ("Ask for headform tests where such heads land, though there is no adult headform area",
            ("GAP-NO-HEAD-AREA",))  # fmt: skip
    assert steps(of, [NO_AREA, LIP]) == [area, lip]
    assert steps(of, [NO_AREA], left=[LIP]) == [area]
    low = found("LEG-NOTHING-LOW", 300.0, limit=261.0)
    assert steps(of, [low], left=[LIP])[1] == lip
    knee = (("Take a push-in reading at the first touch at the centre: whether it loads the knee "
            "is not known"), ("LEG-KNEE-FIRST",))  # fmt: skip
    assert steps(of, [KNEE, THIGH]) == [knee]  # nothing to do of the thigh
    hard = [found("GAP-HARD-POINT", region="latch"), found("BODY-HEAD-NEAR-STIFF", region="latch")]
    stiff = "Ask for a headform test above latch, or check the room there"
    assert steps(of, hard) == [(stiff, ("GAP-HARD-POINT", "BODY-HEAD-NEAR-STIFF"))]
    assert len(steps(of, [NO_AREA, LIP, KNEE, *hard])) == 3


def test_how_exact_the_rows_are_is_asked_for_last_where_nothing_states_it() -> None:
    state = "State how exact the rows are, so that margins can be judged"
    of = front(-300.0, 0.0, 300.0)
    assert steps(of, []) == [(state, ())]
    assert steps(of, [LIP, NO_AREA])[2] == (state, ("LEG-LIP-AHEAD",))
    assert [do for do, _ in steps(of, [LIP, NO_AREA, KNEE])].index(state) == 2
    of.front.sections[1].setback_u = 1.0
    assert state not in dict(steps(of, [LIP]))


SOFT = (
    "How soft it is behind the skin: a push-in reading on the car, or a drawing cut open at the "
    "centre, would add that."
)
SAFE = "This cannot say whether a car is safe."
PHOTO = "Recess, lower lip, corners: a side photo shows only the outline (not seen)."
ONE = "Where bumper test area and headform areas lie: one section has no shape in plan."
LOCAL = "Where bumper test area and headform areas lie: the plan shape was not measured."


def test_what_a_shape_cannot_say() -> None:
    lip = f"{SOFT} A lip is here; whether it holds a leg is not known."
    assert _cannot_say(WHOLE, lip=False) == (SOFT, SAFE)
    assert _cannot_say(WHOLE, lip=True) == (lip, SAFE)
    assert _cannot_say(front(0.0, datum="local"), lip=False) == (SOFT, SAFE, ONE)
    assert _cannot_say(front(0.0, 9.0, datum="local"), lip=False) == (SOFT, SAFE, LOCAL)
    assert _cannot_say(front(0.0, silhouette=True), lip=True) == (lip, SAFE, PHOTO, ONE)


def test_an_answer_holds_people_lips_and_what_stands_for_itself() -> None:
    of = lined(corner_nose(800.0), corner_nose(820.0, y=300.0))
    rows = [
        found("LEG-UNDERCUT", 12.0),
        found("LEG-LONG-LEAD", 410.0, limit=400.0),
        found("LEG-LINES-CROSSED", 3.0, limit=0.0),
        found("BODY-EDGE-LOWER-END", 600.0, aside=True),
    ]
    own = answer(of, rows)
    assert [line.findings for line in own.lines] == [("LEG-LINES-CROSSED",), ("LEG-LONG-LEAD",)]
    assert [line.holds_in_100 for line in own.lines] == [None, None]
    assert (own.lines[1].theme, own.lines[1].evidence) == ("measurement", "practice")
    assert own.lines[1].stations == (0.0,)
    assert own.lines[1].text == (
        "Bonnet edge 410 mm behind the upper bumper line at the centre, over 400: a long slope, "
        "or misread"
    )
    assert own.cannot_say[0].endswith("A lip is here; whether it holds a leg is not known.")
    assert own.standing.endswith(
        "Heads can land beyond 2100 mm along the skin (WAD), where no headform is aimed. "
        "BODY-EDGE-LOWER-END is said."
    )
    assert [row.person for row in own.people][-1] == "six-year-old"
    assert len(own.people) == 5 < len(PEOPLE)
    assert "A lip is here" not in answer(of, rows[1:]).cannot_say[0]

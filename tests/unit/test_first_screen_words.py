"""What the first screen says in rare cases: words worked out by hand, own choice.

Stand-ins hold nothing but what is told; lengths in mm.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Part

import pytest

from frontcheck.body.person_motion import PersonMotion, Spread
from frontcheck.findings.people_rows import PersonRow
from frontcheck.outputs.text import first_screen as told

ROW = PersonRow(
    person="tall man (p95)", first_touch="none", first_touch_mm=None, second_touch="none",
    second_touch_mm=None, second_later_mm=None, free_mm=(), knee=None,
    edge_against_centre_of_mass=None,
)  # fmt: skip
MET = replace(ROW, first_touch="shin", first_touch_mm=331.6, edge_mm=790.0)
TWICE = replace(
    MET, second_touch="thigh", second_touch_mm=712.4, second_later_mm=18.7, heights="1900 mm tall"
)


def shares(pushed=0.0, folded=0.0, carried=0.0, never=0.0, beyond=0.0) -> dict[str, float]:
    return {
        "pushed": pushed, "folded": folded, "carried": carried, "no_head_contact": never,
        "beyond_measured": beyond,
    }  # fmt: skip


def struck(of: dict[str, float], kind: str = "undecided", who: str = "man p95", **more) -> object:
    return PersonMotion(who, 1900.0, 100.0, 0.0, kind, of, **more)


def row(motion: object) -> PersonRow:
    return replace(MET, motion=motion)


WAD = Spread(1500.0, 1402.4, 1610.6)

CELLS = [
    (lambda: told.touch(ROW), "not met"),
    (lambda: told.touch(MET), "shin, 332 mm up"),
    (lambda: told.knee(ROW), "not known"),
    (lambda: told.knee(replace(ROW, knee="below")), "below the face"),
    (lambda: told.knee(replace(ROW, knee="in")), "level with it"),
    (lambda: told.knee(replace(ROW, knee="above the face")), "above the face"),
    (lambda: told.edge_words(ROW), "not known"),
    (
        lambda: told.edge_words(replace(ROW, edge_against_centre_of_mass="above")),
        "above: tends to push ahead",
    ),
    (
        lambda: told.edge_words(replace(ROW, edge_against_centre_of_mass="in the band")),
        "about level: either",
    ),
    (
        lambda: told.edge_words(replace(ROW, edge_against_centre_of_mass="below")),
        "below: tends to fold or carry up",
    ),
    (
        lambda: told.given(replace(MET, heights="1900 mm tall")),
        "tall man (p95): 1900 mm tall. Met next: nothing apart from that.",
    ),
    (
        lambda: told.given(TWICE),
        "tall man (p95): 1900 mm tall. Met next: thigh, 712 mm up, 19 later.",
    ),
    # In few words, beside what becomes of somebody.
    (lambda: told._short(ROW), ["  tall man", "not met", "-", "-"]),
    (
        lambda: told._short(replace(MET, knee="in", edge_against_centre_of_mass="in the band")),
        ["  tall man", "shin 332 up", "level", "level"],
    ),
    (
        lambda: told._short(
            replace(MET, knee="above the face", edge_against_centre_of_mass="above")
        ),
        ["  tall man", "shin 332 up", "above", "above"],
    ),
    (
        lambda: told._short(replace(MET, knee="below", edge_against_centre_of_mass="below")),
        ["  tall man", "shin 332 up", "below", "below"],
    ),
    (lambda: told._motion(MET), ["not said", "-"]),
    (
        lambda: told._motion(row(struck(shares(0.1, 0.2, 0.7)))),
        ["70 % carried up?", "not given"],
    ),
    (
        lambda: told._motion(row(struck(shares(pushed=1.0), "pushed ahead", wad_mm=WAD,
                                        part="bonnet"))),
        ["100 % pushed ahead", "1402 to 1611 bonnet"],
    ),
    (
        lambda: told._motion(row(struck(shares(folded=0.9, carried=0.1), "folded over the edge",
                                        wad_mm=WAD))),
        ["90 % folded over", "1402 to 1611 "],
    ),
    # Own choice: a place is given where 95 in 100 touch; else both shares, or the one there is.
    (lambda: told._head_place(struck(shares(never=0.2, beyond=0.1))), "no place in 30 %"),
    (lambda: told._head_place(struck(shares(never=0.2))), "no touch 20 %"),
    (lambda: told._head_place(struck(shares(beyond=0.4))), "unmeasured 40 %"),
    (lambda: told._head_place(struck(shares(never=0.04))), "not given"),
]  # fmt: skip


@pytest.mark.parametrize("case", range(len(CELLS)))
def test_each_cell_of_the_people(case: int) -> None:
    made, words = CELLS[case]
    assert made() == words


FEW = (
    "No touch, unmeasured, no place: of the cases, heads that touch nothing within 0.35 s, or land "
    "beyond what was measured."
)
WHY = "no tape can be hung there"


@pytest.mark.parametrize(
    ("people", "said"),
    [
        ([struck(shares(carried=1.0), wad_mm=WAD)], []),
        ([struck(shares(never=0.5))], [FEW]),
        ([struck(shares(carried=1.0), reason=WHY)], [f"Not given for tall man: {WHY}."]),
        (
            [
                struck(shares(never=0.5), reason="few"),
                struck(shares(carried=1.0), reason=WHY, who="woman p5"),
                struck(shares(carried=1.0), reason=WHY),
                struck(shares(never=0.5), wad_mm=WAD, reason="other"),
            ],
            [FEW, f"Not given for small woman, tall man: {WHY}."],
        ),
    ],
)
def test_why_no_place_is_given_is_said_once_with_whom(people, said) -> None:
    assert list(told._withheld(Part(people=people))) == said


def screened(**more: object) -> Part:
    held = {
        "front": Part(row_u_mm=None, drawn=""), "motion": None, "stations": (Part(y=0.0),),
        "answer": Part(lines=(), people=()),
    }  # fmt: skip
    return Part(**(held | more))


def line(text: str, holds: int | None = None) -> Part:
    return Part(text=text, holds_in_100=holds)


def test_how_the_motion_is_to_be_read() -> None:
    def said(people, rows=(), y=0.0) -> str:
        motion = Part(people=people, speed_km_h=40.0)
        result = screened(motion=motion, stations=(Part(y=y),), answer=Part(people=rows))
        return " ".join(" ".join(told._struck(result, 100)).split())

    assert told._struck(screened(), 100) == []
    sure, open_ = struck(shares(carried=1.0), "carried up", wad_mm=WAD), struck(shares(never=0.5))
    edge = "Edge: bonnet edge against balance point, standing."
    plain = said([sure], [row(sure), MET])
    assert plain.startswith(f"{edge} Struck at the centre, 40 km/h. Cases, not chances. None is")
    assert plain.endswith("carried up may strike the windscreen.")
    assert "Struck at the station y = -40 mm, 40 km/h; ?: undecided." in said(
        [open_], [row(sure), row(open_)], y=-40.0
    )
    refused = [struck({}, reason="the station has no face"), struck({}, reason="another")]
    assert said(refused) == f"{edge} Nothing is said of people struck: the station has no face."


def test_lines_with_the_cases_in_which_they_hold() -> None:
    both = screened(answer=Part(lines=(line("One"), line("Two", 93)), people=()))
    assert told._outstanding(both, short=False) == ["One", "Two; holds in 93 of 100 assumed cases"]
    assert told._outstanding(both, short=True) == ["One", "Two"]
    assert told._outstanding(screened(), short=False) == [
        "Nothing beyond what holds for nearly every front; --findings says what that is."
    ]
    assert told._claims(both, 100) == ["  Of 100 assumed cases they hold in so many: 2 in 93"]
    assert told._claims(screened(answer=Part(lines=(line("One"),))), 100) == []


@pytest.mark.parametrize(
    ("lines", "u", "words"),
    [
        ((), None, "What stands out"),
        ((), 2.0, "What stands out"),
        ((line("One"),), None, "What stands out"),
        (
            (line("One"),), 2.0,
            "What stands out (how sure each line is, by the errors stated: --draws 200)",
        ),
        (
            (line("One"), line("Two", 0)), None,
            "What stands out (assumed cases: measured again, with other errors of the size stated)",
        ),
    ],
)  # fmt: skip
def test_the_title_asks_for_draws_only_where_errors_are_stated(lines, u, words) -> None:
    result = screened(front=Part(row_u_mm=u), answer=Part(lines=lines))
    assert told._title(result) == words


@pytest.mark.parametrize(
    ("proposed", "u", "mesh", "words"),
    [
        ((0, 10), 1.5, None, "+/- 1.5 mm"),
        ((0, 10), None, None, "how exact is not stated"),
        ((0, 10), None, "a mesh", ""),
        ((0, 10), 1.5, "a mesh", "+/- 1.5 mm"),
        ((3, 10), 1.5, None, "3 of 10 proposed; the others +/- 1.5 mm"),
        ((3, 10), None, None, "3 of 10 proposed; the others how exact is not stated"),
        ((3, 10), None, "a mesh", "3 of 10 proposed"),
        ((10, 10), 1.5, None, "10 of 10 proposed"),
    ],
)
def test_how_exact_the_points_are(proposed, u, mesh, words) -> None:
    count, all_ = proposed
    front = Part(
        proposed=proposed, row_u_mm=u, mesh=mesh,
        not_measured=f"{count} of {all_} proposed" if count else "",
    )  # fmt: skip
    assert told._exact(front) == words


def test_a_title_over_what_is_next() -> None:
    assert told.next_title("Next", Part(drawn="")) == "Next"
    assert told.next_title("Next", Part(drawn="a sketch")) == "Next, on a car made so"


def face(**more: object) -> Part:
    held = {
        "overhang_mm": 34.6, "not_seen": (), "recess_depth_mm": None, "upper_lip_behind_mm": None,
        "lower_lip_behind_mm": None,
    }  # fmt: skip
    return Part(**(held | more))


DEEP_NOT_SEEN = (
    "overhang 35 or more, recess 22 or more deep, upper lip 0 and lower lip 14 behind the "
    "foremost point"
)
LIPS = {"recess_depth_mm": 21.7, "upper_lip_behind_mm": 0.2, "lower_lip_behind_mm": 14.4}


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (None, ""),
        (face(), "overhang 35, no recess between lips"),
        (face(not_seen=("recess",)), "overhang 35 or more, recess not seen from the side"),
        (
            face(**LIPS),
            "overhang 35, recess 22 deep, upper lip 0 and lower lip 14 behind the foremost point",
        ),
        (
            face(**LIPS, not_seen=("recess",)),
            DEEP_NOT_SEEN,
        ),
    ],
)
def test_the_face_in_plain_numbers(one, words) -> None:
    assert told.face_words(Part(stations=(Part(y=0.0, face=one),))) == words


@pytest.mark.parametrize(
    ("ys", "chosen", "words"),
    [
        ((-300.0, 0.0, 300.0), 0.0, "centre"),
        ((-50.0, 200.0), -50.0, "station y = -50 mm"),
        ((-200.0, 50.0), 50.0, "station y = 50 mm"),
        ((-50.0, 50.0), -50.0, "station y = -50 mm"),  # as near: that of the left
    ],
)
def test_the_station_that_stands_for_all_is_the_nearest_to_the_centre(ys, chosen, words) -> None:
    result = Part(stations=tuple(Part(y=y) for y in ys))
    assert told.centre(result).y == chosen
    assert told.where(result) == words


def point(x: float | None, z: float | None, status: str = "ok") -> Part:
    return Part(x=x, z=z, status=status)


@pytest.mark.parametrize(
    ("status", "words"),
    [
        ("ok", "713"),
        ("underside_first", "713"),
        ("open_end", "(713, open end)"),
        ("edge_end", "713 (edge end)"),
        ("wad_1000", "713 (wrap-around point)"),
        ("lower_end", "713 (lower end)"),
        ("retaken_40deg", "713 (second inclination)"),
    ],
)
def test_a_number_says_how_it_was_formed(status, words) -> None:
    assert told._number(point(712.6, 1.0, status), "x") == words
    assert told._number(point(1.0, 712.6, status), "z") == words
    assert told._number(point(None, None, status), "z") == "-"


def test_lines_in_one_row_leave_out_what_is_not_known() -> None:
    at = Part(
        y=0.0, LBRL=point(10.0, 330.0), UBRL=point(0.0, 520.0), BLERL=point(90.0, 790.0),
        BRRL=point(1300.0, 990.0), wads=(), bumper_lead=-12.4, lead_open_end=False,
    )  # fmt: skip
    result = Part(stations=(at,))
    head = "lower bumper line (LBRL) 330 up, upper (UBRL) 520 up, bonnet edge (BLERL) 790 up, "
    rear = ", base of the windscreen (BRRL) 1300 back"
    assert told.lines_words(result) == f"{head}lead -12{rear}"
    at.lead_open_end = True
    assert told.lines_words(result) == f"{head}lead -{rear}"
    at.bumper_lead, at.lead_open_end = None, False
    assert told.lines_words(result) == f"{head}lead -{rear}"
    at.wads = (
        Part(distance=1000.0, x=300.0, z=9.0, status="ok"),
        Part(distance=1500.0, x=None, z=None, status="not_reached"),
    )
    told_now = told.lines_words(result)
    assert told_now.endswith(", distance along the skin (WAD) 1000 at 300, 1500 at - back")


def missing(y: float, *texts: str) -> Part:
    return Part(y=y, missing=texts)


def test_many_missing_lines_are_named_and_few_are_explained(monkeypatch) -> None:
    """Own choice: up to two reasons are told in full."""
    monkeypatch.setattr(told, "lines_words", lambda _: "lines")
    two = Part(stations=(missing(0.0, "BRRL: no glass", "WAD 2500: too far"),))
    three = Part(stations=(missing(-9.0, "UBRL: low"), *two.stations))
    assert told._lines(two, 100, 0)[1:] == [
        ("Not formed: BRRL at y = 0 mm: no glass.", False),
        ("Not formed: WAD 2500 at y = 0 mm: too far.", False),
    ]
    assert told._lines(three, 100, 2)[1:] == [
        ("Not formed everywhere: BRRL, UBRL, WAD 2500; --stations says where and why.", False)
    ]
    assert told._lines(three, 100, 3)[1:] == []
    assert told._lines(two, 100, 0)[0][0] == "Lines at the centre, mm   lines"


@pytest.mark.parametrize(("short", "shown"), [(0, 2), (1, 2), (2, 1), (3, 1)])
def test_cautions_of_the_input_are_fewer_the_shorter(short, shown, monkeypatch) -> None:
    """What stands in every number comes first; one is always told."""
    monkeypatch.setattr(told, "not_corrected", lambda _: "Not corrected.")
    front = Part(not_seen="An outline.", reader_cautions=("One.", "Two."))
    result = Part(
        front=front, motion=None, findings=(1, 2, 3), unconfirmed=(1,), assumed=lambda: ("a", "b")
    )
    said = [text for text, _ in told._rests_on(result, 100, short)]
    assert said[:-1] == ["Not corrected.", "An outline."][:shown]
    assert said[-1] == (
        "More: --motion, --stations, --findings (3), --all (3 assumed or not confirmed), "
        "frontcheck explain"
    )
    result.motion = object()
    assert told._rests_on(result, 200, short)[-1][0].endswith(
        "confirmed), frontcheck explain, motion"
    )
    assert told._rests_on(result, 200, short)[-1][0].startswith("More: --stations")

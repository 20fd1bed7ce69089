"""Assumed numbers in words and rows, and a chain by itself: what it may be asked and its start.

Tables here are made up; those of the package are read in test_motion_assumptions.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.body import assumptions as told
from frontcheck.body.assumptions import Assumed, Table, numbers, rows, tables, values
from frontcheck.people.people import struck_people

MAN = next(person for person in struck_people() if person.name == "man p50")


@pytest.mark.parametrize(
    ("number", "words", "said", "drawn"),
    [
        (Assumed("knee_most", 150.0, "N m", None, False), "knee most 150", "knee most 150 N m", ""),
        (Assumed("a", 0.5, "", None, False), "a 0.5", "a 0.5", ""),
        (
            Assumed("a_b", 2.0, "mm", (1.0, 4.5), False), "a b 2", "a b 2 mm (drawn 1 to 4.5)",
            "drawn 1 to 4.5",
        ),
        (
            Assumed("k", 2.0, "", (1.0, 4.0), True), "k 2", "k 2 (drawn 1 to 4, by factor)",
            "drawn 1 to 4, by factor",
        ),
    ],
)  # fmt: skip
def test_a_number_in_words(number, words, said, drawn) -> None:
    assert (number.words, str(number), number.drawn) == (words, said, drawn)
    assert number.spoken == number.name.replace("_", " ")


TREE = {
    "first": {
        "title": "Two lengths", "unit": "mm", "low_one": 1.0, "high_one": 2.5,
        "source": "own\nchoice", "provenance": "own choice", "settles": "measuring",
    },
    "group": {
        "second": {
            "title": "A drawn one", "unit": "s", "wait": {"value": 3.0, "range": [2, 4], "by": "f"},
            "share": {"value": 0.5, "unit": ""}, "source": "a book", "provenance": "from memory",
            "settles": "nothing settles it: it differs",
        },
        "third": {"plain": 7.0, "source": "x", "provenance": "own choice"},
        "list": [1.0],
    },
}  # fmt: skip


def test_tables_with_a_title_in_the_order_of_the_file() -> None:
    first, second = tables(TREE)
    assert first == Table(
        "Two lengths",
        (Assumed("low_one", 1.0, "mm", None, False), Assumed("high_one", 2.5, "mm", None, False)),
        "own choice", "own choice", "measuring",
    )  # fmt: skip
    assert second.numbers == (
        Assumed("wait", 3.0, "s", (2, 4), True), Assumed("share", 0.5, "", None, False),
    )  # fmt: skip
    assert second.settles == "nothing settles it: it differs"
    (bare,) = tables({"a": {"title": "t", "source": "s", "provenance": "own choice", "n": 1.0}})
    assert bare.settles == ""
    assert bare.numbers == (Assumed("n", 1.0, "", None, False),)


def test_numbers_by_name_from_tables_within() -> None:
    named = {"first": TREE["first"], "group": {"second": TREE["group"]["second"]}}
    assert list(numbers(named)) == ["low_one", "high_one", "wait", "share"]
    assert values(named) == {"low_one": 1.0, "high_one": 2.5, "wait": 3.0, "share": 0.5}


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        # One unit and nothing drawn: the unit once, at the end.
        ("first", "Two lengths: low one 1, high one 2.5 mm. Own choice; settled by measuring."),
        (
            "second",
            ("A drawn one: wait 3 s (drawn 2 to 4, by factor); share 0.5. From memory; nothing "
             "settles it: it differs."),
        ),
    ],
)  # fmt: skip
def test_a_table_in_a_sentence(name: str, sentence: str) -> None:
    table = next(t for t, n in zip(tables(TREE), ("first", "second"), strict=True) if n == name)
    assert told._sentence(table) == sentence


def test_units_that_differ_stand_beside_each_number() -> None:
    table = Table(
        "T", (Assumed("a", 1.0, "mm", None, False), Assumed("b", 2.0, "s", None, False)), "s",
        "own choice", "x",
    )  # fmt: skip
    assert told._sentence(table) == "T: a 1 mm; b 2 s. Own choice; settled by x."
    drawn = Table("T", (Assumed("a", 1.0, "s", (0.0, 2.0), False),), "s", "own choice", "x")
    assert told._sentence(drawn) == "T: a 1 s (drawn 0 to 2). Own choice; settled by x."


def test_what_is_assumed_before_all_numbers() -> None:
    said = told.assumptions()
    assert said[0] == (
        "The car strikes a standing person from the side, in one plane, at the speed given; it is "
        "far heavier than the person, and nothing of it moves but the skin that gives way."
    )
    # Numbers in people.toml. From memory: legs 3, shoulder, pelvis, masses 5, limbs 4; unconfirmed:
    # half breadths 4, turn of the head; own choice: spine 4, masses of neck and head, centre of the
    # head, of the child 8 + 5 + 7 + 2, centre of the chest, boxes 3.
    assert said[1] == (
        "Proportions of adults and a six-year-old are shares of stature and mass, none drawn: "
        "14 from memory, 5 from memory, unconfirmed, 33 own choice; settled by measuring people. "
        "`frontcheck explain motion-model` lists them."
    )
    assert said[2].startswith("Masses of those who are struck: six-year-old 21, woman p5 50, ")
    assert said[2].endswith(" man p95 98 kg. Own choice; settled by weighing.")


@pytest.mark.parametrize("width", [60, 88])
def test_rows_of_all_numbers_by_table(width: int) -> None:
    lines = rows(width)
    assert lines[0] == "Statures of those who are struck"
    assert max(map(len, lines)) <= max(width, 88)
    text = "\n".join(lines)
    assert "  six-year-old" in text
    assert any(" ".join(line.split()) == "man p50 1755 mm" for line in lines)
    springs = lines[lines.index("Joints bent sideways, man p50; others by mass and stature") :]
    gap = " " * 18
    assert springs[1] == f"  spine{gap}    180 N m/rad{gap}drawn 90 to 360, by factor"
    neck = "    From: own choice; of the neck: volunteers bear less"
    assert any(line.startswith(neck) for line in springs)
    joined = " ".join(text.split())
    # A source that says by itself how it is known does not say so twice.
    assert "From: own choice: outlines of bodies of people, smoothed. Settled by outlines" in joined
    assert "From: no table at hand could be named (from memory, unconfirmed). Settled by" in joined
    assert "  Settled" not in joined
    assert "Nothing settles it: every crossing is another one." in joined


def free(**options):
    return fc.free_chain(MAN, **({"duration_s": 0.01, "step_s": 1e-3} | options))


def test_a_chain_at_rest_flies_as_a_stone_does() -> None:
    """Semi-implicit steps h: after n of them n h v on, and g h h n (n + 1) / 2 down."""
    found = free(speed_m_s=3.0, gravity_m_s2=9.81)
    n = np.arange(11)
    assert found.times_s == pytest.approx(n * 1e-3)
    assert found.hips_m[:, 0] == pytest.approx(3e-3 * n)
    fall = 9.81 * 1e-6 * n * (n + 1) / 2.0
    assert found.hips_m[:, 1] == pytest.approx(0.530 * 1.755 - fall)
    assert found.angles_rad == pytest.approx(np.zeros((11, 9)))
    assert np.diff(found.centre_of_mass_m[:, 1]) == pytest.approx(-np.diff(fall))
    assert found.centre_of_mass_m[0] == pytest.approx([0.0, 0.579 * 1.755], abs=1e-3)
    assert found.bodies == (
        "pelvis", "abdomen", "thorax", "neck", "head", "near thigh", "near shank", "far thigh",
        "far shank",
    )  # fmt: skip


def test_a_chain_starts_as_it_is_asked_to() -> None:
    angles, rates = np.linspace(-0.3, 0.5, 9), np.linspace(2.0, -2.0, 9)
    found = free(angles_rad=angles, rates_rad_s=rates, step_s=1e-5, duration_s=1e-4)
    assert found.angles_rad[0] == pytest.approx(angles)
    going = (found.angles_rad[1] - found.angles_rad[0]) / 1e-5
    assert going == pytest.approx(rates, abs=0.05)
    assert found.angles_rad.shape == (11, 9)
    # Springs are linear without stops and dampers: twice as far bent twice the acceleration.
    bends = [free(angles_rad=[0, 0, s, 0, 0, 0, 0, 0, 0], step_s=1e-6, duration_s=2e-6) for s in
             (0.001, 0.002)]  # fmt: skip
    one, two = ((b.angles_rad[2] - b.angles_rad[0]) for b in bends)
    assert np.abs(one).max() > 0.0
    assert two == pytest.approx(2.0 * one, rel=1e-3, abs=1e-16)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"step_s": 0.02}, "expected 1e-06 <= step <= duration <= 2 s, not 0.02 and 0.01"),
        ({"duration_s": 2.001}, "expected 1e-06 <= step <= duration <= 2 s, not 0.001 and 2.001"),
        ({"step_s": 9e-7}, "expected 1e-06 <= step <= duration <= 2 s, not 9e-07 and 0.01"),
        ({"step_s": 0.0}, "expected 1e-06"),
        ({"step_s": -1e-3}, "expected 1e-06"),
        ({"duration_s": math.nan}, "expected 1e-06"),
        (
            {"angles_rad": [0.0] * 8},
            "angles must be nine finite numbers: pelvis, abdomen, ",
        ),
        ({"rates_rad_s": [0.0] * 8 + [math.nan]}, "rates must be nine finite numbers: pelvis, "),
        ({"angles_rad": [[0.0] * 9]}, "angles must be nine"),
        ({"speed_m_s": math.inf}, "speed and gravity must be finite numbers"),
        ({"gravity_m_s2": math.nan}, "speed and gravity must be finite numbers"),
    ],
)
def test_what_a_chain_may_not_be_asked(options, says) -> None:
    with pytest.raises(ValueError, match=r"nine|expected|finite") as refused:
        free(**options)
    assert str(refused.value).startswith(says)


def test_the_ends_of_what_a_chain_may_be_asked() -> None:
    for options, count in (
        ({"step_s": 1e-6, "duration_s": 1e-6}, 2),
        ({"step_s": 0.01, "duration_s": 0.01}, 2),
        ({"step_s": 0.5, "duration_s": 2.0}, 5),
        ({"step_s": 0.003, "duration_s": 0.01}, 4),
    ):
        assert len(free(**options).times_s) == count

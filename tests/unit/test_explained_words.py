"""Explanations and abbreviations in rare cases: how a column is read, what a threshold says.

Expected words are written out; numbers of the rules are those of UN R127, 02 series (text read).
"""

from __future__ import annotations

import textwrap
from dataclasses import replace
from types import SimpleNamespace

import pytest

from frontcheck.caution import CAUTION
from frontcheck.errors import InputError
from frontcheck.findings.abbreviations import in_words, legend
from frontcheck.findings.explanations import (
    Explanation,
    _cited,
    _of_constant,
    _shorter,
    _threshold,
    _wrapped,
    asked_for,
    explain,
    explanations,
)
from frontcheck.findings.finding_rules import RULES, WORDS, _read, _running
from frontcheck.lines.statuses import STATUS_NAMES


def once(ways):
    return list(dict.fromkeys(ways))


@pytest.mark.parametrize(
    ("asked", "ways"),
    [
        ("y0 lbrl z mm", ["lbrl z mm", "lbrl z", "lbrl"]),
        ("wad 900", ["wad 900", "wad"]),
        ("p25", ["p25", "p5"]),
        ("p5", ["p5"]),
        ("p25 mm", ["p25 mm", "p25"]),
        ("stations", ["stations", "station"]),
        ("wads mm", ["wads mm", "wads", "wad"]),
        ("y12", ["y12"]),
        ("z", ["z"]),
        ("edge no mm", ["edge no mm", "edge no"]),
        ("", []),
    ],
)
def test_a_column_is_read_without_what_columns_add(asked, ways) -> None:
    assert once(_shorter(asked)) == (ways or [""])


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("MEASUREMENT-CLOSURE", ("Found when: the value is more than the threshold, 2 combined "
         "standard uncertainties.")),
        ("LEG-LEGFORM-NEAR", "Found when: the value lies within the two thresholds: -15 to 15 mm."),
        ("BODY-EDGE-ABOVE-MASS", ("Found when: the value is more than the threshold, in mm; the "
         "threshold depends on the case and stands with every finding.")),
        ("HEAD-NEAR-NORMAL", "Found when: the value is not more than the threshold, 15 deg."),
        ("HEAD-GLANCING", "Found when: the value is not less than the threshold, 60 deg."),
        ("LEG-SHORT-LEAD", "Found when: the value is less than the threshold, 100 mm."),
        ("GAP-HARD-POINT", "Found when: a plain statement, nothing is compared."),
    ],
)  # fmt: skip
def test_when_a_finding_is_found(code, said) -> None:
    assert said in " ".join(explain(code).split())


def test_a_threshold_of_a_rule_in_words() -> None:
    rule = RULES["LEG-LEGFORM-NEAR"]
    assert _threshold(rule) == ": -15 to 15 mm"
    assert _threshold(replace(rule, threshold=3.0, comparison=">", unit="")) == ", 3"
    assert _threshold(replace(rule, threshold=(1.0, 2.5), unit="")) == ": 1 to 2.5"
    assert _threshold(replace(rule, threshold=3.0, comparison="is")) == ""


def test_the_opening_rates_are_shares_of_a_blow_at_the_knee() -> None:
    """1.440675 rad/s per N s for the flexible legform as if no bone bent: a half and a fifth."""
    assert RULES["LEG-KNEE-OPENS"].threshold == pytest.approx(0.5 * 1.440675, abs=1e-6)
    assert RULES["LEG-KNEE-CLOSES"].threshold == pytest.approx(-0.2 * 1.440675, abs=1e-6)
    source = " ".join(RULES["LEG-KNEE-OPENS"].source.split())
    flexible = "flexible lower legform of UN R127, 01 series of amendments"
    rigid = "rigid lower legform of UN GTR 9, original edition, and (EC) 631/2009"
    assert f"{flexible}, or {rigid}, by the rule set" in source
    assert list(RULES)[:2] == ["LEG-KNEE-FIRST", "LEG-THIGH-FIRST"]
    topics = list(dict.fromkeys(code.partition("-")[0] for code in RULES))
    assert topics == ["LEG", "BODY", "HEAD", "GAP", "MEASUREMENT"]
    assert _running("a {x}\n  b", {"x": "c"}) == "a c b"
    gaps = _read("gaps")
    assert gaps["GAP-NOT-SEEN"] == RULES["GAP-NOT-SEEN"]
    assert gaps["GAP-NOT-SEEN"].threshold is None
    assert WORDS["GAP-NOT-SEEN"]["rank"] == 0


def test_a_constant_says_its_note_and_where_it_stands() -> None:
    def made(note="", paragraph="5.1"):
        return SimpleNamespace(
            name="lip.depth_mm", plain="5 mm", note=note, document="A text", paragraph=paragraph,
            provenance="from memory",
        )  # fmt: skip

    assert _cited(made()) == "A text, 5.1 (from memory)"
    assert _cited(made(paragraph="")) == "A text (from memory)"
    assert _of_constant(made()).paragraphs == ("Source: A text, 5.1 (from memory).",)
    one = _of_constant(made("below this. it is none."))
    assert one.paragraphs == ("Below this. it is none.", "Source: A text, 5.1 (from memory).")
    assert (one.word, one.kind, one.head) == ("lip.depth_mm", "known", "lip.depth_mm: 5 mm")


def test_an_explanation_has_its_drawing_after_its_first_paragraph_and_its_caution_last() -> None:
    made = Explanation("x", "line", "LBRL and so", ("First.", "Last."), (" |", " '--"), ("1  2",))
    assert str(made).split("\n\n") == [
        "x: lower bumper reference line (LBRL) and so", "First.", " |\n '--", "Last.", "1  2",
        textwrap.fill(CAUTION, 88),
    ]  # fmt: skip
    bare = Explanation("x", "status", "so it is", ("First.",))
    assert str(bare).split("\n\n")[:2] == ["x: so it is.", "First."]
    assert replace(bare, kind="line").head == "x: so it is"


def test_a_number_stays_with_its_unit_and_a_hyphen_in_its_line() -> None:
    said = f"{'x' * 84} 165 mm and {'y' * 70} in-plane 5 deg 3 more"
    assert _wrapped(said).splitlines() == [
        "x" * 84, f"165 mm and {'y' * 70}", "in-plane 5 deg 3 more",
    ]  # fmt: skip
    assert max(map(len, _wrapped("ab " * 200).splitlines())) <= 88
    assert len(_wrapped("a" * 87 + " b")) == 89
    assert _wrapped(f"{'a' * 86} b") == f"{'a' * 86} b"


WHOLE = {
    "bumper_height": [
        "bumper_height: Height of the bumper",
        "Where the front meets the leg first, how high, and which legform a test would use.",
        (
            "Findings: LEG-KNEE-FIRST, LEG-THIGH-FIRST, LEG-TRUNK-FIRST, LEG-SPLIT-CONTACT, "
            "LEG-LOWER-LEGFORM, LEG-HIGH-BUMPER, LEG-LEGFORM-NEAR, LEG-LINES-CROSSED."
        ),
        "Source: own choice: themes group findings so that the answer speaks of each matter once.",
    ],
    "open_end": [
        "open_end: what lies beyond the measured surface could change it.",
        (
            "The value stands in brackets, and nothing is concluded from it. Taken as possible: a "
            "way on for up to 500 mm, within 30 deg either way of the last 50 mm measured."
        ),
        "Source: frontcheck reading, the text gives no number (own choice).",
    ],
    "not_reached": [
        "not_reached: could not be formed: nothing lies within reach.",
        "Source: own choice: our word; the reason beside it says what was out of reach.",
    ],
    "legform.lower_below_mm": [
        "legform.lower_below_mm: 425 mm",
        (
            "Lower bumper height below this: lower legform; from this up to upper_from_mm: either, "
            "by the manufacturer's choice."
        ),
        "Source: UN Regulation No. 127, 02 series of amendments, 5.1 (text read).",
    ],
}


@pytest.mark.parametrize("word", WHOLE)
def test_an_explanation_word_for_word(word: str) -> None:
    shown = [" ".join(part.split()) for part in explain(word).split("\n\n")]
    assert shown == [*WHOLE[word], CAUTION]


def test_what_a_theme_rests_on_stands_before_its_source() -> None:
    parts = explain("pushed_or_carried").split("\n\n")
    assert [part.partition(" ")[0] for part in parts[2:5]] == ["Findings:", "A", "Source:"]
    assert "LEG-SHORT-LEAD, BODY-EDGE-ABOVE-WAIST" in parts[2]
    assert "fatality risk of struck pedestrians higher by" in " ".join(parts[3].split())


def test_near_words_are_three_at_most_and_long_ones_are_cut() -> None:
    with pytest.raises(InputError) as caught:
        explain("LEG-UNDERCUTS")
    assert "did you mean LEG-UNDERCUT" in str(caught.value)
    with pytest.raises(InputError) as caught:
        explain("x" * 70)
    assert f"found '{'x' * 60}', which is not explained" in str(caught.value)
    assert "look the word up there" in str(caught.value)
    for asked in ("bumpr", "lead edge", "legfrom"):
        with pytest.raises(InputError, match="did you mean ") as caught:
            explain(asked)
        assert str(caught.value).partition("did you mean ")[2].count(", ") <= 2


def test_a_word_is_listed_before_ways_to_ask_and_by_kind() -> None:
    known = asked_for()
    assert known["lbrl"] == ("line", "LBRL")
    assert known["own choice"] == ("known", "own choice")
    for status, name in STATUS_NAMES.items():
        own = " ".join(name.replace("-", " ").replace("_", " ").split()).casefold()
        assert known[own] == ("status", status)
    every = explanations()
    assert list(every)[-len(RULES) :] == list(RULES)
    assert every["LEG-UNDERCUT"].kind == "finding"
    assert every["p5"].title == "percentile: 5 of 100 people have less"
    assert "Source: own choice: our word for it, no text gives one." in "".join(
        " ".join(str(each).split()) for each in every.values()
    )


@pytest.mark.parametrize(
    ("text", "said", "words"),
    [
        ("LBRL: lower bumper reference line, UBRL", "UBRL: upper bumper reference line.",
         "LBRL: lower bumper reference line, upper bumper reference line (UBRL)"),
        ("p95 p50 p5", "p5, p50, p95: 5, 50 or 95 of 100 people of a group have less.",
         "p95 p50 p5"),
        ("p50: percentile; p5", "p5: 5 of 100 people of a group have less.", "p50: percentile; p5"),
        ("p50: other", "p50: 50 of 100 people of a group have less.", "p50: other"),
        ("(SRL) HIC", "HIC: head injury criterion.", "(SRL) head injury criterion (HIC)"),
        ("(SRL HIC)", "SRL: side reference line; HIC: head injury criterion.",
         "(side reference line (SRL) head injury criterion (HIC))"),
        ("SRL)", "SRL: side reference line.", "side reference line (SRL))"),
        ("BRRLs HEAD-WAD1000 xSRL WAD-x", "", "BRRLs HEAD-WAD1000 xSRL WAD-x"),
        ("BRRL_x_mm", "BRRL: bonnet rear reference line.",
         "bonnet rear reference line (BRRL)_x_mm"),
        ("p5 and HIC", "HIC: head injury criterion; p5: 5 of 100 people of a group have less.",
         "p5 and head injury criterion (HIC)"),
        ("SRL then (SRL)", "SRL: side reference line.", "side reference line (SRL) then (SRL)"),
        ("(SRL) then SRL", "", "(SRL) then SRL"),
        ("p123 ap5 -p5", "", "p123 ap5 -p5"),
        ("", "", ""),
    ],
)  # fmt: skip
def test_an_abbreviation_has_its_words_where_it_stands_first(text, said, words) -> None:
    assert legend(text) == said
    assert in_words(text) == words

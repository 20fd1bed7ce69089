"""Every word of the program can be asked for, and every answer says how it is known.

What is to be explained is read from where it is used: the lines and places of a screening, the
statuses, themes and kinds of evidence of its document, the finding codes. Paragraphs and numbers
are held against UN R127, 02 series of amendments (E/ECE/324/Rev.2/Add.126/Rev.2), as read.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import get_args

import pytest
from click.testing import CliRunner

import frontcheck
from frontcheck.caution import CAUTION, PROVENANCES
from frontcheck.cli.lists import explain as command
from frontcheck.documents import Evidence, Theme
from frontcheck.errors import InputError
from frontcheck.findings import explanations as explanations_module
from frontcheck.findings.abbreviations import ABBREVIATIONS, in_words, legend
from frontcheck.findings.explanations import KINDS, WIDTH, explain, explanations, studies
from frontcheck.findings.finding_rules import RULES
from frontcheck.lines.line_values import STATUSES
from frontcheck.lines.statuses import STATUS_NAMES, STATUS_WORDS
from frontcheck.outputs.text.first_screen import first_screen
from frontcheck.people.people import PEOPLE
from frontcheck.rules.ruleset import rule_set, rule_set_ids
from frontcheck.study.moves import HANDLES
from frontcheck.study.nose_dimensions import DIMENSIONS
from frontcheck.surface.section import PARTS

ALL = explanations()
LINES = ("LBRL", "UBRL", "BLERL", "BRRL", "SRL", "WAD", "bumper lead")
PLACES = (
    "bumper corner", "corner reference point", "rear corner", "bumper test area",
    "child headform area", "adult headform area", "thirds",
)  # fmt: skip
SCREEN = (
    "lead", "p5", "p50", "p95", "balance point", "overhang", "recess", "lip", "foremost point",
    "lower bumper line", "bonnet edge", "base of the windscreen", "distance along the skin",
    "small woman", "average woman", "average man", "tall man", "six-year-old", "knee to face",
    "leg met first", "shin", "knee", "thigh", "push-in reading", "ride height", "assumed",
    "not confirmed", "too close to call", "mm", "u", "mm/u", "+/-", "legform", "headform", "centre",
)  # fmt: skip
PEOPLE_WORDS = sorted(
    {word for person in PEOPLE for word in person.name.split() if word[-1].isdigit()}
)


def choices() -> list[str]:
    """Every word that a key of a document may have, but for the names of the documents."""
    found: set[str] = set()

    def look(node: object) -> None:
        for child in node.values() if isinstance(node, dict) else node:
            if isinstance(child, dict | list):
                look(child)
        if isinstance(node, dict):
            found.update(each for each in node.get("enum", ()) if isinstance(each, str))

    for path in (PACKAGE / "outputs/documents/schema").glob("*.json"):
        look(json.loads(path.read_text("utf-8")))
    return sorted(each for each in found if not each.startswith("frontcheck."))


PACKAGE = Path(frontcheck.__file__).parent
CHOICES = choices()
MOST_ROWS, MOST_COLUMNS = 12, 80


def running(text: str) -> str:
    return " ".join(text.split())


def folded(text: str) -> str:
    """Text without the words that stand ahead of an abbreviation."""
    for short, words in ABBREVIATIONS.items():
        text = text.replace(f"{words} ({short})", short)
    return running(text)


@pytest.mark.parametrize(
    "word",
    [
        *LINES,
        *PLACES,
        *SCREEN,
        *STATUSES,
        *get_args(Theme),
        *get_args(Evidence),
        *PROVENANCES,
        *RULES,
        *ABBREVIATIONS,
        *PEOPLE_WORDS,
        *rule_set_ids(),
        *PARTS,
        *CHOICES,
        *(constant.name for constant in rule_set()),
        *(dimension.name for dimension in DIMENSIONS),
        *(handle.name for handle in HANDLES),
    ],
)
def test_every_word_that_is_used_is_explained(word: str) -> None:
    text = explain(word)
    assert running(text).endswith(CAUTION)
    for asked in (word.upper(), word.lower(), f" {word.replace('_', ' ')} "):
        assert explain(asked) == text


@pytest.mark.parametrize("word", ALL)
def test_every_explanation_says_how_it_is_known_and_fits(word: str) -> None:
    text = str(ALL[word])
    source = running(text).partition("Source: ")[2].removesuffix(CAUTION)
    assert any(provenance in source for provenance in PROVENANCES)
    assert max(map(len, text.splitlines())) <= WIDTH == 88
    assert len(ALL[word].drawing) <= MOST_ROWS
    assert max(map(len, ALL[word].drawing), default=0) <= MOST_COLUMNS
    assert all(line.isascii() and line == line.rstrip() for line in ALL[word].drawing)
    assert not set("{}") & set(text)
    if ALL[word].kind != "finding":
        plain = text.replace("low_support", "")
        assert not re.search(r"\b(protect|support|safe|improve|leant|hard point)", plain)


def test_lines_places_and_tools_have_a_drawing() -> None:
    drawn = {each.word for each in ALL.values() if each.drawing}
    assert {each.word for each in ALL.values() if each.kind in ("line", "place", "tool")} <= drawn


@pytest.mark.parametrize(
    ("word", "paragraph"),
    [
        ("LBRL", "2.26"), ("UBRL", "2.38"), ("BLERL", "2.7"), ("BRRL", "2.8"), ("SRL", "2.32"),
        ("WAD", "2.43"), ("bumper corner", "2.17"), ("corner reference point", "2.18"),
        ("rear corner", "2.8"), ("bumper test area", "2.14"), ("child headform area", "2.16"),
        ("adult headform area", "2.1"), ("thirds", "2.33 to 2.35"), ("bumper beam", "2.12"),
        ("legform", "5.1"), ("retaken_40deg", "2.7"), ("lower_end", "2.7"), ("wad_1000", "2.7"),
    ],
)  # fmt: skip
def test_paragraphs_are_those_of_the_text(word: str, paragraph: str) -> None:
    source = running(explain(word)).partition("Source: ")[2]
    assert f"UN Regulation No. 127, 02 series of amendments, {paragraph} (text read)" in source


@pytest.mark.parametrize(
    ("word", "numbers"),
    [
        ("UBRL", ["700 mm", "20 deg rearward"]),
        ("LBRL", ["700 mm", "25 deg forward"]),
        ("BLERL", ["1000 mm", "50 deg rearward", "600 mm above", "40 deg"]),
        ("BRRL", ["sphere of 165 mm"]),
        ("SRL", ["700 mm", "45 deg inward"]),
        ("bumper test area", ["corner less 42 mm"]),
        ("child headform area", ["(WAD) 1000 mm", "WAD 1700 mm", "82.5 mm"]),
        ("adult headform area", ["(WAD) 1700 mm", "WAD 2100 mm", "82.5 mm"]),
        ("legform", ["425 mm: lower", "500 mm: either"]),
    ],
)
def test_numbers_are_those_of_the_text(word: str, numbers: list[str]) -> None:
    for number in numbers:
        assert number in running(explain(word))


@pytest.mark.parametrize("word", STATUSES)
def test_a_status_can_be_asked_for_by_its_short_name(word: str) -> None:
    assert explain(STATUS_NAMES[word]) == explain(word)
    assert STATUS_WORDS[word].removeprefix("open end: ") in running(explain(word))


def test_no_two_words_are_asked_for_alike() -> None:
    tree = tomllib.loads(
        (Path(explanations_module.__file__).with_suffix(".toml")).read_text("utf-8")
    )
    asked = [
        (re.sub(r"[\s_-]+", " ", ask.casefold()), word)
        for words in tree.values()
        for word, held in words.items()
        for ask in (word, *held.get("also", ()))
    ]
    assert len({ask for ask, _ in asked}) == len(set(asked)) > 400
    taken = {ask for ask, _ in asked} & {code.casefold().replace("-", " ") for code in RULES}
    assert taken == set()


def test_every_theme_names_its_findings() -> None:
    for code, rule in RULES.items():
        assert re.search(rf"[ ,]{code}[,.]", running(explain(rule.theme))), code


def test_population_risks_stand_in_one_explanation_with_their_conditions() -> None:
    study = studies()["front-classes"]
    assert [word for word in ALL if "fatality" in str(ALL[word])] == ["pushed_or_carried"]
    text = running(explain("pushed_or_carried"))
    assert running(study["conditions"]) in text
    assert running(study["source"]) in text
    for percent in study["fatality_risk_higher_percent"].values():
        assert f"{percent:g} %" in text
    assert "No finding rests on it." in text


@pytest.mark.parametrize("code", RULES)
def test_a_code_gives_meaning_source_and_limits(code: str) -> None:
    rule, text = RULES[code], running(explain(code))
    for part in (code, rule.title, rule.meaning, rule.source, rule.provenance, rule.limits):
        assert folded(part) in folded(text)
    if isinstance(rule.threshold, float):
        assert f"{rule.threshold:g} {rule.unit}" in text


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("LEG-UNDERCUTS", "LEG-UNDERCUT"),
        ("BLERLL", "BLERL"),
        ("balanced point", "balance point"),
        ("pushed_or_caried", "pushed_or_carried"),
        ("openend", "open_end"),
    ],
)
def test_an_unknown_word_is_refused_with_near_ones(word: str, near: str) -> None:
    with pytest.raises(InputError, match=f"did you mean .*{near}"):
        explain(word)


@pytest.mark.parametrize("word", ["zzz", "", "  ", "\x00", "q" * 5000])
def test_a_word_like_none_is_refused_with_a_way_out(word: str) -> None:
    with pytest.raises(InputError, match="`frontcheck explain` lists; look the word up") as caught:
        explain(word)
    assert len(str(caught.value)) < 400


def test_the_command_takes_several_words_and_lists_all() -> None:
    run = CliRunner().invoke(command, ["balance", "point"])
    assert (run.exit_code, run.output.rstrip("\n")) == (0, explain("balance point"))
    listed = CliRunner().invoke(command, []).output
    assert running(listed).endswith(CAUTION)
    rows = listed.splitlines()
    assert max(map(len, rows)) <= WIDTH
    for word, each in ALL.items():
        assert f" {word} {each.title} " in running(listed)
    assert [row for row in rows if row in KINDS.values()] == list(KINDS.values())


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_abbreviations_of_the_first_screen_are_explained(geometries: Path, name: str) -> None:
    screening = frontcheck.screen(frontcheck.read_front(geometries / f"{name}.csv"))
    shown = " ".join(line for line, _ in first_screen(screening))
    found = set(re.findall(r"\b(?<!-)[A-Z]{3,}\b|\bp\d+\b", shown))
    assert {"LBRL", "WAD", "p5", "p95"} <= found
    for word in found:
        assert explain(word)


@pytest.mark.parametrize(
    ("column", "word"),
    [
        ("y0_LBRL_z_mm", "LBRL"), ("WAD_1500_x_mm", "WAD"), ("WAD 900", "WAD"), ("p25", "p5"),
        ("y0_head_wad_man_p50_p95_mm", "head wad"), ("y0_head_wad_six_year_old_reason", "head wad"),
        ("UBRL_status", "UBRL"), ("stations", "station"), ("BLERL z", "BLERL"),
    ],
)  # fmt: skip
def test_a_column_is_asked_for_as_it_stands(column: str, word: str) -> None:
    assert explain(column) == explain(word)


def test_a_constant_has_its_value_and_source() -> None:
    """UN R127, 02 series, 5.1.1: 13 mm for either cruciate ligament."""
    text = running(explain("limits.acl_pcl_mm"))
    assert text.startswith("limits.acl_pcl_mm: 13 mm Elongation of either cruciate ligament")
    assert "UN Regulation No. 127, 02 series of amendments, 5.1.1 (text read)" in text


@pytest.mark.parametrize("word", ["UBRL", "open_end", "small woman", "lbrl.lean_deg"])
def test_a_word_needs_no_heavy_package(word: str) -> None:
    """Numpy among them: the answer shall be there at once."""
    code = (
        "import sys, frontcheck.findings.explanations as e; e.explain(sys.argv[1]);"
        "print(*{'numpy', 'scipy', 'shapely', 'pandas', 'matplotlib', 'rich'} & {*sys.modules})"
    )
    run = subprocess.run([sys.executable, "-c", code, word], capture_output=True, check=True)
    assert run.stdout.split() == []


def test_words_stand_ahead_of_their_abbreviation() -> None:
    assert legend("lower bumper line (LBRL), LBRL again") == ""
    assert legend("\x1b[1mLBRL z\x1b[0m, HEAD-WAD1000-AHEAD, man p95, woman p5") == (
        "LBRL: lower bumper reference line; p5, p95: 5 or 95 of 100 people of a group have less."
    )
    assert in_words("SRL and WAD 1000; WAD") == (
        "side reference line (SRL) and wrap-around distance (WAD) 1000; WAD"
    )

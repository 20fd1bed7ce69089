"""Rule sets: layering, immutability, what-if values, and refusal of malformed files."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import re
from importlib.resources import files

import pytest

from frontcheck.caution import PROVENANCES
from frontcheck.errors import FrontcheckError, RuleSetError
from frontcheck.rules.constant import Constant
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet, parse_rule_set, rule_set, rule_set_ids

OWN = """
id = "own"
title = "Own rules"
[documents]
me = "Own text"
[ubrl]
lean_deg = { value = 22, unit = "deg", document = "me", paragraph = "3", provenance = "text read" }
"""


def test_ids_are_those_of_the_editions() -> None:
    assert rule_set_ids() == (
        "EU-631-2009",
        "UN-GTR9",
        "UN-GTR9-A2",
        "UN-R127-00",
        "UN-R127-01",
        "UN-R127-02",
        "UN-R127-03",
    )
    assert DEFAULT_RULES in rule_set_ids()


def test_each_shipped_file_is_a_known_rule_set() -> None:
    found = {p.name for p in files("frontcheck.rules").iterdir() if p.name.endswith(".toml")}
    assert found == {f"{id_}.toml" for id_ in rule_set_ids()} | {"base.toml"}


@pytest.mark.parametrize("id_", rule_set_ids())
def test_every_constant_has_its_source(id_: str) -> None:
    rules = rule_set(id_)
    assert rules.id == id_
    for constant in rules:
        assert constant.document
        assert constant.provenance in PROVENANCES
        assert constant.unit in (
            "mm",
            "deg",
            "kg",
            "km/h",
            "Nm",
            "kN",
            "g",
        ) or constant.kind not in (
            "number",
            "list of number",
        )
        # The unit stands in the name too, so that no caller can mistake it.
        if constant.unit:
            assert constant.name.endswith("_" + constant.unit.replace("/", "_"))
        # A paragraph was seen only where the text was.
        assert not constant.paragraph or constant.provenance == "text read"
        # Our own readings never pass for the text.
        if "frontcheck reading" in constant.document:
            assert constant.provenance == "own choice"


def test_all_sets_have_the_same_constants_in_the_same_order() -> None:
    names = [[constant.name for constant in rule_set(id_)] for id_ in rule_set_ids()]
    assert all(each == names[0] for each in names)
    assert len(names[0]) == len(set(names[0]))


@pytest.mark.parametrize("id_", rule_set_ids())
def test_the_edition_in_hand_is_named_where_the_base_speaks_for_it(id_: str) -> None:
    rules = rule_set(id_)
    assert rules["lbrl.edge_length_mm"].document == rules.title


def test_same_object_for_same_id_and_pass_through() -> None:
    rules = rule_set("UN-GTR9")
    assert rule_set("UN-GTR9") is rules
    assert rule_set(rules) is rules
    assert rule_set().id == DEFAULT_RULES


@pytest.mark.parametrize("id_", ["", "UN-R127", "un-r127-02", "base", "../base"])
def test_unknown_id_lists_the_known_ones(id_: str) -> None:
    with pytest.raises(RuleSetError) as caught:
        rule_set(id_)
    assert repr(id_) in str(caught.value)
    assert all(known in str(caught.value) for known in rule_set_ids())
    assert isinstance(caught.value, FrontcheckError)
    assert isinstance(caught.value, KeyError)


def test_typed_access() -> None:
    rules = rule_set("UN-R127-02")
    assert isinstance(rules["ubrl.lean_deg"], Constant)
    assert isinstance(rules.value("ubrl.edge_length_mm"), float)  # written 700 in the file
    assert rules.flag("bumper_corner.gauge") is True
    assert rules.texts("bumper.parts") == ("bumper", "grille", "trim")
    assert rules.values("wad.distances_mm") == (1000.0, 1500.0, 1700.0, 2100.0)
    assert "ubrl.lean_deg" in rules
    assert "ubrl.lean" not in rules
    assert len(rules) == len(list(rules))


@pytest.mark.parametrize(
    ("method", "name"),
    [
        ("value", "bumper_corner.gauge"),  # a switch is no number, though bool is an int
        ("value", "bumper.parts"),
        ("value", "wad.distances_mm"),
        ("flag", "ubrl.lean_deg"),
        ("text", "ubrl.lean_deg"),
        ("text", "bumper.parts"),
        ("texts", "wad.distances_mm"),
        ("texts", "ubrl.lean_deg"),
        ("values", "bumper.parts"),
        ("values", "ubrl.lean_deg"),
        ("value", "no.such"),
        ("flag", "no.such"),
        ("text", "no.such"),
        ("texts", "no.such"),
        ("values", "no.such"),
    ],
)
def test_wrong_kind_or_name_is_refused(method: str, name: str) -> None:
    with pytest.raises(RuleSetError, match=re.escape(name)) as caught:
        getattr(rule_set(), method)(name)
    assert "expected" in str(caught.value)


def test_nothing_can_be_changed() -> None:
    rules = rule_set()
    with pytest.raises(dataclasses.FrozenInstanceError):
        rules.id = "x"  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        rules["ubrl.lean_deg"].value = 1.0  # type: ignore[misc]
    with pytest.raises(TypeError):
        rules.constants["ubrl.lean_deg"] = rules["lbrl.lean_deg"]  # type: ignore[index]


def test_the_mapping_given_is_copied() -> None:
    constants = dict(rule_set().constants)
    rules = RuleSet("x", "X", constants)
    constants.clear()
    assert len(rules) == len(rule_set())


def test_pickle_copy_and_hash() -> None:
    rules = rule_set().with_values({"ubrl.lean_deg": 21})
    assert pickle.loads(pickle.dumps(rules)) == rules
    assert copy.deepcopy(rules) == rules
    assert hash(rules) == hash(copy.copy(rules))
    assert rules != rule_set()


def test_with_values_marks_what_the_user_set() -> None:
    before = rule_set("UN-GTR9")
    after = before.with_values(
        {
            "ubrl.lean_deg": 22,
            "bumper.parts": [],
            "bumper_corner.gauge": True,
            "wad.distances_mm": [775],
        }
    )
    assert before.value("ubrl.lean_deg") == 20.0  # untouched
    assert before.changed == ()
    assert after.value("ubrl.lean_deg") == 22.0
    assert after.texts("bumper.parts") == ()
    assert after.flag("bumper_corner.gauge") is True
    assert after.values("wad.distances_mm") == (775.0,)
    assert set(after.changed) == {
        "ubrl.lean_deg",
        "bumper.parts",
        "bumper_corner.gauge",
        "wad.distances_mm",
    }
    changed = after["ubrl.lean_deg"]
    assert changed.document == "set by the user"
    assert changed.paragraph == ""
    assert changed.provenance == "own choice"  # of the user
    assert changed.note == "set by the user in place of 20 deg"
    assert [c.name for c in after] == [c.name for c in before]
    untouched = set(after.constants) - set(after.changed)
    assert all(after[name] == before[name] for name in untouched)


def test_title_tells_each_change_once() -> None:
    rules = rule_set("UN-GTR9")
    title = rules.title
    rules = rules.with_values({"ubrl.lean_deg": 22}).with_values({"ubrl.lean_deg": 23})
    rules = rules.with_values({"lbrl.lean_deg": 24})
    assert rules.title == f"{title}; set by the user: ubrl.lean_deg, lbrl.lean_deg"
    assert rules["ubrl.lean_deg"].note == "set by the user in place of 20 deg"
    assert rule_set("UN-GTR9").with_values({}).title == title


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("ubrl.lean", 20),
        ("ubrl.lean_deg", "20"),
        ("ubrl.lean_deg", True),
        ("ubrl.lean_deg", float("nan")),
        ("ubrl.lean_deg", float("inf")),
        ("ubrl.lean_deg", -1.0),
        ("ubrl.lean_deg", [20.0]),
        ("bumper_corner.gauge", 1),
        ("bumper_corner.gauge", "yes"),
        ("bumper.parts", "bumper"),
        ("bumper.parts", [1.0]),
        ("bumper.parts", ["bumper", 1.0]),
        ("wad.distances_mm", ["1000"]),
        ("wad.distances_mm", [1000.0, float("nan")]),
    ],
)
def test_with_values_refuses_what_does_not_fit(name: str, value: object) -> None:
    with pytest.raises(RuleSetError, match=re.escape(name)):
        rule_set().with_values({name: value})  # type: ignore[dict-item]


def test_own_rule_set_is_layered_on_the_base() -> None:
    rules = parse_rule_set(OWN)
    assert (rules.id, rules.title) == ("own", "Own rules")
    assert rules["ubrl.lean_deg"] == Constant(
        "ubrl.lean_deg", 22.0, "deg", "Own text", "3", "text read"
    )
    others = set(rules.constants) - {"ubrl.lean_deg"}
    r127 = rule_set("UN-R127-01")  # overrides no value of the base
    assert all(rules[name].value == r127[name].value for name in others)


BAD = {
    "no TOML": (OWN, "id = ", "TOML document"),
    "no id": ('id = "own"\n', "", "key id: found no id; expected a text"),
    "empty title": ('"Own rules"', '" "', "key title: found ' '"),
    "number as id": ('"own"', "3", "key id: found 3"),
    "documents no table": (
        '[documents]\nme = "Own text"',
        "documents = 3",
        "key documents: found 3; expected a table",
    ),
    "document no text": ('"Own text"', "3", "key documents.me: found 3; expected a text"),
    "empty document": ('"Own text"', '""', "key ubrl.lean_deg: found no document"),
    "unknown document": (
        'document = "me"',
        'document = "yours"',
        "key ubrl.lean_deg: found document 'yours'",
    ),
    "document no key": (
        'document = "me"',
        "document = [1]",
        "key ubrl.lean_deg.document: found [1]",
    ),
    "own choice without a reason": (
        '"text read"',
        '"own choice"',
        "key ubrl.lean_deg: found an own choice without a note",
    ),
    "unknown provenance": (
        '"text read"',
        '"certain"',
        "key ubrl.lean_deg.provenance: found 'certain'",
    ),
    "provenance no text": ('"text read"', "1", "key ubrl.lean_deg.provenance: found 1"),
    "no value": ("value = 22, ", "", "key ubrl.lean_deg.value: found no value"),
    "no unit": ('unit = "deg", ', "", "key ubrl.lean_deg.unit: found no unit"),
    "no document": ('document = "me", ', "", "key ubrl.lean_deg.document: found no document"),
    "no paragraph": ('paragraph = "3", ', "", "key ubrl.lean_deg.paragraph: found no paragraph"),
    "no provenance": (
        ', provenance = "text read"',
        "",
        "key ubrl.lean_deg.provenance: found no provenance",
    ),
    "unknown field": (
        'paragraph = "3"',
        'paragraph = "3", page = 1',
        "key ubrl.lean_deg.page: found key 'page'",
    ),
    "paragraph a number": (
        'paragraph = "3"',
        "paragraph = 3",
        "key ubrl.lean_deg.paragraph: found 3",
    ),
    "unknown name": ("lean_deg", "lean_degrees", "found ubrl.lean_degrees"),
    "unknown group": ("[ubrl]", "[upper]", "found upper.lean_deg"),
    "constant no record": (
        "lean_deg = {",
        "edge_length_mm = 3\nlean_deg = {",
        "key ubrl.edge_length_mm: found 3",
    ),
    "group no table": ('id = "own"', 'id = "own"\nubr = 1', "key ubr: found 1; expected a table"),
    "other kind": ("value = 22", 'value = "22"', "a text"),
    "other unit": ('unit = "deg"', 'unit = "rad"', "22 rad"),
    "negative": ("value = 22", "value = -22", "found -22"),
    "not finite": ("value = 22", "value = nan", "found nan"),
    "a date": ("value = 22", "value = 2020-01-01", "expected a number"),
    "a table": ("value = 22", "value = { a = 1 }", "expected a number"),
}


@pytest.mark.parametrize("case", BAD)
def test_malformed_rule_set_is_refused(case: str) -> None:
    old, new, message = BAD[case]
    assert OWN.count(old) == 1
    with pytest.raises(RuleSetError, match=re.escape(message)) as caught:
        parse_rule_set(OWN.replace(old, new), "own.toml")
    text = str(caught.value)
    # File, key path, found, expected, what to do.
    assert re.fullmatch(r"own\.toml(, key [\w.]+)?: found .+; expected .+; .+", text)
    assert ("key" in text) == (case not in ("no TOML", "unknown name", "unknown group"))

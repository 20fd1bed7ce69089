"""Whatever stands in a TOML file is taken whole or refused with a key that a person can find there.

The value that the message shows is looked up by that key in the file: not by our own code, but by
reading the key as TOML dotted keys are written, list items counted from 1.
"""

from __future__ import annotations

import math
import re
from typing import Annotated, Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Meta, Struct

from frontcheck.errors import InputError, RuleSetError, StudyError
from frontcheck.files import checked, parse_toml
from frontcheck.rules.ruleset import parse_rule_set
from frontcheck.study.study_file import parse_study


class Leaf(Struct, forbid_unknown_fields=True):
    low: float
    high: Annotated[float, Meta(ge=0.0, le=10.0)] = 1.0
    name: str | None = None


class Tree(Struct, forbid_unknown_fields=True):
    leaf: Leaf
    any: float | bool | str | list[float | str] = 0.0
    leaves: list[Leaf] = []
    named: dict[str, Leaf] = {}
    kind: Literal["a", "b"] = "a"
    count: Annotated[int, Meta(ge=1)] = 1


names = st.sampled_from(["leaf", "any", "leaves", "named", "kind", "count", "low", "high", "name"])
scalars = st.one_of(
    st.booleans(), st.integers(-3, 12), st.floats(), st.sampled_from(["a", "x", ""]), st.dates()
)
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=4)
)
leaf = st.fixed_dictionaries({"low": scalars}, optional={"high": scalars, "name": scalars})
tree = st.fixed_dictionaries(
    {"leaf": leaf},
    optional={
        "any": values,
        "leaves": st.lists(leaf | scalars, max_size=3) | values,
        "named": st.dictionaries(st.sampled_from(["one", "two"]), leaf | scalars) | values,
        "kind": scalars,
        "count": scalars,
        "more": values,
    },
)


def look_up(given: object, key: str) -> object:
    """What stands at a key as the message writes it."""
    for name, index in re.findall(r"([A-Za-z_]+)|\[(\d+)\]", key):
        given = given[name] if name else given[int(index) - 1]  # type: ignore[index]
    return given


def finite(given: object) -> bool:
    if isinstance(given, dict):
        return all(map(finite, given.values()))
    if isinstance(given, list):
        return all(map(finite, given))
    return not isinstance(given, float) or math.isfinite(given)


def points_there(refusal: StudyError, given: object) -> bool:
    """Whether the key leads to what the message speaks of."""
    parent, _, last = (refusal.key or "").rpartition(".")
    if refusal.code == "toml.missing":
        return last not in look_up(given, parent)  # type: ignore[operator]
    shown = repr(look_up(given, refusal.key or ""))
    if refusal.code == "toml.unknown_key":
        return refusal.found == f"key {last!r}"
    return refusal.found in (shown, f"{shown[:57]}...")


@given(tree)
@settings(max_examples=1500)
def test_a_tree_is_taken_or_refused_with_a_key_that_is_there(given):
    try:
        found = checked(given, Tree, "f.toml", StudyError)
    except StudyError as refusal:
        seen = refusal
    else:
        assert finite(given)
        assert isinstance(found.leaf.low, float)
        assert 0.0 <= found.leaf.high <= 10.0
        assert set(found.named) == set(given.get("named", {}))
        return
    assert seen.file == "f.toml"
    assert points_there(seen, given)


def test_a_key_that_leads_elsewhere_would_be_caught():
    given = {"leaf": {"low": "x", "high": 3.0}}
    wrong = StudyError("'x'", expected="a number", todo="", key="leaf.high", code="toml.wrong")
    assert not points_there(wrong, given)
    assert points_there(wrong.at(), {"leaf": {"high": "x"}})
    assert not points_there(
        StudyError("no low", expected="", todo="", key="leaf.low", code="toml.missing"), given
    )


BROKEN = {
    "a missing key": ({}, "key leaf: found no leaf; expected a table; add the key"),
    "a key of a list's item": (
        {"leaf": {"low": 1}, "leaves": [{"low": 1}, {"low": 2, "high": 11}]},
        "key leaves[2].high: found 11; expected a number from 0 to 10",
    ),
    "a key of a named table": (
        {"leaf": {"low": 1}, "named": {"one": {"low": 1}, "two": {"low": "x"}}},
        "key named.two.low: found 'x'; expected a number",
    ),
    "a list for a table": (
        {"leaf": {"low": 1}, "named": []}, "key named: found []; expected a table",
    ),
    "a table in a list": (
        {"leaf": {"low": 1}, "any": ["x", {}]}, "key any[2]: found {}; expected a number or a text",
    ),
    "not finite": (
        {"leaf": {"low": math.inf}}, "key leaf.low: found inf; expected a number; correct",
    ),
    "a whole number": (
        {"leaf": {"low": 1}, "count": 0}, "key count: found 0; expected a whole number of 1 or more"
    ),
    "unknown": (
        {"leaf": {"low": 1, "lo": 2}},
        "key leaf.lo: found key 'lo'; expected one of: low, high, name; did you mean low?",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_words_of_a_refusal(case):
    given, says = BROKEN[case]
    with pytest.raises(InputError, match=re.escape(says)):
        checked(given, Tree, "f.toml", InputError)


def test_a_key_is_told_below_the_table_it_stands_in():
    with pytest.raises(RuleSetError, match=re.escape("f.toml, key ubrl.lean_deg.low: found 'x'")):
        checked({"low": "x"}, Leaf, "f.toml", RuleSetError, "ubrl.lean_deg")


NOT_TOML = ["[a", "a = ", "a = 1\na = 2", "\x00", "a = [1, 2", "=", "[a]\n[a]"]


@pytest.mark.parametrize("text", NOT_TOML)
def test_text_that_is_not_toml_is_refused_by_every_reader(text):
    for read, kind in ((parse_study, StudyError), (parse_rule_set, RuleSetError)):
        with pytest.raises(kind, match="found text that is not TOML"):
            read(text, "f.toml")
    with pytest.raises(InputError, match=r"f\.toml: found text that is not TOML"):
        parse_toml(text, "f.toml", "a table", InputError)

"""The table of refusals: every code is raised somewhere, and given what its words ask for."""

from __future__ import annotations

import ast
import pickle
import string
from pathlib import Path

import pytest

import frontcheck
from frontcheck.errors import ContourError, InputError, RuleSetError, StudyError, refusals, refuse

PACKAGE = Path(frontcheck.__file__).parent
PLACES = {"column", "key", "kind"}
"""Keywords of `refuse` itself."""


def raised(source: str) -> list[tuple[str, set[str], int]]:
    """Code, words given and line of every call of `refuse`; two codes where one is chosen."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and ast.unparse(node.func) == "refuse"):
            continue
        given = {keyword.arg or "**" for keyword in node.keywords} - PLACES
        code = node.args[0]
        for one in (code.body, code.orelse) if isinstance(code, ast.IfExp) else (code,):
            text = one.value if isinstance(one, ast.Constant) else ast.unparse(one)
            found.append((str(text), given, node.lineno))
    return found


def asked(code: str, table: dict[str, dict[str, str]]) -> set[str]:
    """Words that the templates of a code want filled in."""
    parsed = (string.Formatter().parse(text) for text in table[code].values())
    return {name.partition(".")[0] for each in parsed for _, name, _, _ in each if name}


def faults(sources: dict[str, str], table: dict[str, dict[str, str]]) -> list[str]:
    """What does not fit between the table and the code."""
    out, used = [], set()
    for file, source in sources.items():
        for code, given, line in raised(source):
            used.add(code)
            if code not in table:
                out.append(f"{file}:{line}: {code} is not in the table")
            elif asked(code, table) != given:
                out.append(f"{file}:{line}: {code} asks for {asked(code, table)}, given {given}")
    out += [f"{code} is raised nowhere" for code in table if code not in used]
    out += [
        f"{code} has {', '.join(words)}"
        for code, words in table.items()
        if set(words) != {"found", "expected", "todo"}
    ]
    return out


def test_table_and_code_fit() -> None:
    sources = {str(path): path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")}
    del sources[str(PACKAGE / "errors.py")]
    assert faults(sources, refusals()) == []


PLAIN = {"a.b": {"found": "{x:g}", "expected": "{y!r}", "todo": "do"}}
PLANTED = {
    "unknown code": "refuse('a.b', x=1, y=2); refuse('a.c')",
    "word missing": "refuse('a.b', file, row, x=1)",
    "word too many": "refuse('a.b', x=1, y=2, z=3)",
    "words hidden": "refuse('a.b', **words)",
    "code hidden": "refuse('a.b', x=1, y=2); refuse(code)",
    "never raised": "x = 1",
    "one of two unknown": "refuse('a.b' if x else 'a.c', x=1, y=2)",
}


@pytest.mark.parametrize("case", PLANTED)
def test_checker_finds_a_planted_fault(case: str) -> None:
    assert len(faults({"m.py": PLANTED[case]}, PLAIN)) == 1


def test_checker_finds_words_that_are_not_there() -> None:
    table = {"a.b": {"found": "x", "expected": "y"}}
    assert len(faults({"m.py": "refuse('a.b')"}, table)) == 1
    assert faults({"m.py": "refuse('a.b', key='k', x=1, y=2)"}, PLAIN) == []


def test_an_error_holds_code_place_and_words() -> None:
    error = refuse("study.low_high", "s.toml", key="vary.x.high", low=3.0, high=2.0)
    assert isinstance(error, StudyError)
    assert (error.code, error.file, error.key) == ("study.low_high", "s.toml", "vary.x.high")
    assert str(error).startswith("s.toml, key vary.x.high: found 2; expected a number above low, 3")
    assert isinstance(refuse("rules.no_set", id="X", known="Y"), RuleSetError)
    placed = refuse("toml.missing", names="x", words="a text").at(file="f", row=3, kind=InputError)
    assert str(placed) == "f, row 3: found no x; expected a text; add the key"
    assert placed.code == "toml.missing"


def test_an_error_reaches_another_process_whole() -> None:
    error = ContourError("a", expected="b", todo="c", file="f", row=3)
    error.index = 4
    there = pickle.loads(pickle.dumps(error))
    assert type(there) is ContourError
    assert str(there) == str(error) == "f, row 3: found a; expected b; c"
    assert (there.index, there.row, there.todo) == (4, 3, "c")


def test_lists_are_joined_and_texts_left_as_they_are() -> None:
    error = refuse("table.unknown_key", name="x", known={"name": 120, "notes": 4000}, advice="y")
    assert error.expected == "one of name, notes"

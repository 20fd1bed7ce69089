"""The commands and the Python of the handbook run, and give what it says; so does the checker."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest
from click import UsageError
from fences import broken_links, check_quoted, fences, run_page, run_python
from handbook_pictures import ALL, LARGEST, pictures

from frontcheck.outputs.pages.book_pages import PAGES, home, page
from frontcheck.outputs.pages.check_records import packaged_records

FOLDER = Path(str(home()))
_spec = importlib.util.spec_from_file_location(
    "report_check", Path(__file__).resolve().parents[2] / ".ci/report_check.py"
)
report_check = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(report_check)


def test_the_pages_are_those_listed() -> None:
    assert {path.stem for path in FOLDER.glob("*.md")} == set(PAGES)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_says_what_comes_out(name, tmp_path) -> None:
    run_page(page(name).text, tmp_path)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_says_what_it_answers_and_its_links_lead_somewhere(name) -> None:
    held = page(name)
    assert held.text.startswith("# ")
    assert 10 < len(held.answers) < 200
    assert broken_links(FOLDER / f"{name}.md", within=FOLDER) == []


@pytest.mark.parametrize("name", PAGES)
def test_pictures_are_those_that_the_page_draws(name, tmp_path) -> None:
    shown = set(re.findall(r"\]\(pictures/([\w-]+)\.png\)", page(name).text))
    made = pictures(name)
    assert set(made) == shown
    for key, data in made.items():
        there = FOLDER / "pictures" / f"{key}.png"
        assert there.stat().st_size <= LARGEST
        (tmp_path / "new.png").write_bytes(data)
        assert [*report_check._compared(there, tmp_path / "new.png")] == [], key


def test_checks_named_on_a_page_are_on_the_page_of_checks() -> None:
    known = {check.id for check in packaged_records().checks}
    named = set(re.findall(r"`([a-z]+(?:-[a-z]+){2,})`", page("uncertainty").text))
    assert len(named) == 5
    assert named <= known


def test_pictures_are_few_enough_to_go_along() -> None:
    there = list((FOLDER / "pictures").iterdir())
    shown = "".join(page(name).text for name in PAGES)
    assert all(f"](pictures/{path.name})" in shown for path in there)
    assert sum(path.stat().st_size for path in there) <= ALL


# --- what the checker notices

GOOD = """# Page

```sh
frontcheck rules    # a comment
frontcheck screen n.csv   # exits with 2
```

```text
Rule sets
...
EU-631-2009  Regulation (EC) No 631/2009
...
frontcheck: n.csv: found no such file; expected a readable text file;
    check the file name and the folder
```

```python
x = 1
x / 3, 7  # 0.333..., 7.0
```

```csv
not,run
```
"""


def test_a_right_page_passes(tmp_path) -> None:
    ran = run_page(GOOD, tmp_path)
    assert (ran.commands, ran.quoted, ran.numbers) == (2, 4, 2)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("frontcheck rules ", "frontcheck rulez ", "ends with 2, not 0"),
        ("exits with 2", "exits with 1", "ends with 2, not 1"),
        ("frontcheck rules ", "frontcheck rules --sideways ", "ends with 2, not 0"),
        ("No 631", "No 632", "not printed"),
        ("Rule sets\n...", "Rule sets", "not printed"),
        ("7.0", "7.1", "is 7, not 7.1"),
        ("frontcheck rules ", "frontcheck bench --sideways ", "No such option"),
        ("frontcheck rules ", "pip install '.[nothing]'", "no such extra"),
        ("frontcheck rules ", "nosuchprogram ", "ends with 127"),
    ],
)
def test_a_planted_fault_is_noticed(old, new, says, tmp_path) -> None:
    assert GOOD.count(old) == 1
    with pytest.raises((AssertionError, UsageError), match=says):
        run_page(GOOD.replace(old, new), tmp_path)


@pytest.mark.parametrize("line", ["1 + 1  # 3", "2.5, 3  # 2.5, 4", "1 / 3  # 0.34..."])
def test_a_planted_wrong_number_is_noticed(line) -> None:
    with pytest.raises(AssertionError, match="not"):
        run_python(line, {})


def test_lines_out_of_order_are_noticed() -> None:
    assert check_quoted("b\n...\nd", "a\nb\n\nc\nd\n") == 2
    with pytest.raises(AssertionError, match="not printed"):
        check_quoted("d\n...\nb", "a\nb\nc\nd\n")
    for bit in ("ab cd e", "ab d", "b cd"):  # of a line that goes on, one left out, part of a word
        with pytest.raises(AssertionError, match="not printed"):
            check_quoted(bit, "ab\ncd ef\n")
    with pytest.raises(AssertionError, match="quotes nothing"):
        check_quoted("...\n", "a\n")


def test_a_broken_link_is_noticed(tmp_path) -> None:
    (tmp_path / "b.md").write_text("# Lip, lower\n\n## Two-part `code`\n")
    there = "[a](b.md) [b](b.md#lip-lower) [c](b.md#two-part-code) [d](#own) [e](http://x.example)"
    gone = "[f](c.md) [g](b.md#lip) [h](#other) ![i](pictures/none.png)"
    (tmp_path / "a.md").write_text(f"# Own\n\n{there}\n\n{gone}\n\n```text\n[x](no.md)\n```\n")
    lost = ["c.md", "b.md#lip", "#other", "pictures/none.png"]
    assert broken_links(tmp_path / "a.md") == lost
    assert broken_links(tmp_path / "a.md", within=tmp_path) == ["http://x.example", *lost]


def test_fences_are_told_apart() -> None:
    found = fences("```python picture=lines\nx\n```\n~~~toml\ny\n~~~\n")
    assert [(each.language, each.picture) for each in found] == [
        ("python", "lines"),
        ("toml", None),
    ]

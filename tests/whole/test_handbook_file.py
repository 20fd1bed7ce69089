"""The handbook as one file: whole, offline, fit for any window; its reference says what is there.

The names, arguments and words of the reference are held against Python's own inspect; the page is
looked at in Chromium. Contrast: WCAG 2.2 (W3C, 2023), 1.4.3.
"""

from __future__ import annotations

import ast
import html
import inspect
import re
from typing import Any

import chromium
import pytest
from whole.test_annex_browser import CONTRAST

import frontcheck as fc
from frontcheck.caution import CAUTION
from frontcheck.errors import OutputError
from frontcheck.outputs.pages import book_html
from frontcheck.outputs.pages.book_html import code_html, handbook_html, page_html
from frontcheck.outputs.pages.book_pages import PAGES, Page, page
from frontcheck.outputs.pages.book_reference import Entry, reference
from frontcheck.outputs.pages.book_terminal import page_said
from frontcheck.outputs.text.terminal import Plain, Ruled

ENTRIES = {entry.name: entry for entries in reference().values() for entry in entries}
BOOK = handbook_html().decode()


def words(text: str) -> str:
    return " ".join(text.split())


def shown(markup: str) -> str:
    return words(html.unescape(re.sub(r"<[^>]*>", " ", markup)))


# --- the file


def test_the_file_holds_every_page_and_asks_for_nothing() -> None:
    assert BOOK.count(CAUTION) == 3  # description, top, foot
    assert BOOK.index(CAUTION) < BOOK.index('id="main"')
    for name in PAGES:
        assert BOOK.count(f'id="{name}"') == 1
    assert "<script" not in BOOK
    assert not re.search(r"""(src|href)=["'](?!#|data:)""", BOOK)
    assert not re.search(r"url\(|@import", BOOK)


def test_links_within_lead_to_one_place_each() -> None:
    places = re.findall(r'\bid="([^"]+)"', BOOK)
    assert len(places) == len(set(places))
    assert set(re.findall(r'href="#([^"]+)"', BOOK)) <= set(places)


def test_the_same_bytes_again_and_nobody_elses_file_is_overwritten(tmp_path) -> None:
    target = tmp_path / "handbook.html"
    fc.write_handbook(target)
    before = target.read_bytes()
    handbook_html.cache_clear()
    fc.write_handbook(target)
    assert target.read_bytes() == before
    target.write_text("<html>my own</html>")
    with pytest.raises(OutputError, match="did not write"):
        fc.write_handbook(target)
    assert target.read_text() == "<html>my own</html>"


def test_text_of_a_page_stays_text_and_code_of_a_picture_is_folded_below_it(monkeypatch) -> None:
    drawn = "![P](pictures/none.png)"
    text = (
        f"# T\n\nA <b>&\n\n## H\n\n```python picture=x\ny < 1\n```\n\n{drawn}\n\n[l](lines.md#a-b)"
    )
    monkeypatch.setattr(book_html, "_led", lambda *_: None)
    made = page_html(Page("start", text))
    assert "A &lt;b&gt;&amp;" in made
    assert '<h3 id="start-h">H</h3>' in made
    assert made.index("<img") < made.index("<details><summary>") < made.index("y &lt; 1")
    assert "<details" not in page_html(Page("gallery", text))


def test_links_between_pages_become_links_within() -> None:
    made = page_html(Page("start", "# T\n\n[a](lines.md#a-b) [b](lines.md) [c](#h)\n\n## H\n"))
    assert re.findall(r'href="([^"]+)"', made) == [
        "#lines-a-b", "#lines", "#start-h", "#start-h",
    ]  # fmt: skip


# --- the reference


def test_every_public_name_is_there_once() -> None:
    assert sorted(ENTRIES) == sorted(set(fc.__all__) - {"__version__"})
    assert sum(map(len, reference().values())) == len(ENTRIES)
    assert all(reference().values())


def arguments(entry: Entry) -> list[str]:
    """Names of the arguments in a signature, in order."""
    called = re.sub(r"^\w+\.(?=\w+\()", "", entry.signature)
    tree = ast.parse(f"def {called}: pass".replace("=...", "=None"))
    given = tree.body[0].args  # type: ignore[attr-defined]
    alone = [each for each in (given.vararg,) if each]
    last = [each for each in (given.kwarg,) if each]
    every = (*given.posonlyargs, *given.args, *alone, *given.kwonlyargs, *last)
    return [each.arg for each in every]


CALLED = [
    (entry, thing)
    for name, entry in ENTRIES.items()
    for entry, thing in (
        (entry, getattr(fc, name)),
        *((m, getattr(getattr(fc, name), m.name.rpartition(".")[2])) for m in entry.members),
    )
    if entry.kind in ("function", "class", "method") and "(" in entry.signature
]  # fmt: skip


def test_signatures_are_those_that_python_has() -> None:
    assert len(CALLED) > 100
    for entry, thing in CALLED:
        real = [name for name in inspect.signature(thing).parameters if name != "self"]
        assert arguments(entry) == real, entry.name
    assert [
        name for name, e in ENTRIES.items() if e.kind == "class" and "(" not in e.signature
    ] == [
        "Screening",
        "ScreeningDocument",
        "Tolerance",
        "Comparison",
    ]  # fmt: skip - their fields begin with those of another class


def test_defaults_are_those_that_python_has() -> None:
    found = inspect.signature(fc.screen).parameters["rules"].default
    assert f"rules={found!r}," in ENTRIES["screen"].signature


@pytest.mark.parametrize("name", [n for n, e in ENTRIES.items() if e.kind in ("function", "class")])
def test_what_a_docstring_says_is_shown(name: str) -> None:
    start = BOOK.index(f'<h4 id="api-{name}"')
    entry = shown(BOOK[start : BOOK.index("</section>", start)])
    said = inspect.getdoc(getattr(fc, name))
    assert said is not None
    for word in re.findall(r"[A-Za-z]{4,}", re.sub(r"(?m)^-+$|# doctest.*$", "", said)):
        assert word in entry or word in ("optional", "Examples", "iterable"), word


def test_public_methods_and_properties_are_shown() -> None:
    own = {each.name for each in ENTRIES["Screening"].members}
    assert {"Screening.station", "Screening.zones", "Screening.to_dict"} <= own
    for name, entry in ENTRIES.items():
        if entry.kind == "class":
            held = {
                key
                for key, thing in inspect.getmembers(getattr(fc, name))
                if not key.startswith("_") and inspect.isfunction(thing) and thing.__doc__
            }
            assert {f"{name}.{key}" for key in held} <= {each.name for each in entry.members}, name


def test_code_is_shown_as_it_is() -> None:
    assert code_html("a < b\n  c\n") == '<pre tabindex="0"><code>a &lt; b\n  c</code></pre>\n'


# --- the terminal


@pytest.mark.parametrize("style", [Plain(), Ruled(80)], ids=["plain", "ruled"])
def test_a_page_on_the_terminal_fits_and_says_all_words(style: Any) -> None:
    held = page("lines")
    plain = re.sub(r"\x1b\[[\d;]*m", "", page_said(held, style))
    assert max(map(len, plain.splitlines())) <= 100
    assert CAUTION in words(plain)
    assert "[picture: " in plain
    body = re.sub(r"(?s)```python picture=.*?```|```\w+|\]\([^)]*\)", " ", held.text)
    assert set(re.findall(r"[A-Za-z]{4,}", body)) <= set(re.findall(r"[A-Za-z]{4,}", plain))
    assert ("\x1b" in page_said(held, style)) == isinstance(style, Ruled)


# --- the browser


@pytest.fixture(scope="module")
def browser():
    api = pytest.importorskip("playwright.sync_api")
    if chromium.found() is None:
        pytest.skip("no Chromium here")
    with api.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=chromium.found(), args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture(scope="module")
def file(tmp_path_factory) -> str:
    return fc.write_handbook(tmp_path_factory.mktemp("book") / "handbook.html").as_uri()


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_any_window_and_asks_nobody(browser, file, width, scheme) -> None:
    tab = browser.new_page(viewport={"width": width, "height": 800}, color_scheme=scheme)
    asked: list[str] = []
    said: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.on("console", lambda message: said.append(message.text))
    tab.goto(file)
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    assert tab.evaluate("[...document.images].every(i => i.complete && i.naturalWidth > 0)")
    wide = "[...document.querySelectorAll('main p, main dl, main pre, main .scroll, main h2')]"
    cut = f"{wide}.filter(e => e.getBoundingClientRect().right > innerWidth + 1).length"
    assert tab.evaluate(cut) == 0
    contrast = tab.evaluate(CONTRAST)
    assert contrast["seen"] > 1000
    assert contrast["out"] == []
    assert all(url.startswith(("data:", "file:")) for url in asked)
    assert len([url for url in asked if url.startswith("file:")]) == 1
    assert said == []
    tab.close()


def test_contents_lead_there_and_keys_reach_wide_code(browser, file) -> None:
    tab = browser.new_page(viewport={"width": 1280, "height": 800})
    tab.goto(file)
    tab.get_by_role("navigation").get_by_role("link", name="How sure", exact=True).click()
    assert abs(tab.locator("#reference-how-sure").bounding_box()["y"]) < 60
    tab.close()

"""The page of checks, read back from terminal, HTML and PDF and held against the records."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import chromium
import msgspec
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

import frontcheck as fc
from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.cli import main
from frontcheck.outputs.pages.check_page import page_files
from frontcheck.outputs.pages.check_records import packaged_records, record_bytes

KINDS = ("closed form", "independent method", "published value", "population plausibility")


NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")


class Tables(HTMLParser):
    """Cells of every row of a page by the row's id, and all its text."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.rows: dict[str, list[str]] = {}
        self.text, self._row, self._cell = "", None, False
        self.tags: list[tuple[str, dict]] = []
        self.feed(page.decode())

    def handle_starttag(self, tag, attrs) -> None:
        given = dict(attrs)
        self.tags.append((tag, given))
        if tag == "tr":
            self._row = self.rows.setdefault(given.get("id", ""), [])
        if tag in ("td", "th") and self._row is not None:
            self._row.append("")
            self._cell = True
        self.text += " "

    def handle_endtag(self, tag) -> None:
        self._cell = self._cell and tag not in ("td", "th")
        self.text += " "

    def handle_data(self, data) -> None:
        self.text += data
        if self._cell:
            self._row[-1] += f" {data}"


def flat(text: str) -> str:
    return " ".join(text.split())


def pages_of(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(data)).pages]


def tight(text: str) -> str:
    """Without spaces, breaks and hyphens, which a narrow column sets anew."""
    return re.sub(r"[\s\u200b\u00ad\ufffe\x02]+", "", text)


@pytest.fixture(scope="module")
def packaged():
    return packaged_records()


@pytest.fixture(scope="module")
def files(packaged) -> dict[str, bytes]:
    return page_files(packaged)


def test_every_number_of_the_page_is_that_of_the_records(packaged, files) -> None:
    page = Tables(files["checks.html"])
    paper = tight(" ".join(pages_of(files["checks.pdf"])))
    for check in packaged.checks:
        quantity, source, expected, ours, difference, why, cases, state = map(
            flat, page.rows[check.id]
        )
        assert check.quantity in quantity
        assert check.id in quantity
        assert check.source.title in source
        assert check.source.author in source
        assert check.source.where in source
        assert check.why in why
        assert (cases, state) == (str(check.cases), "holds")
        worst = check.worst
        numbers = [worst.expected, worst.low, worst.high]
        for number, cell in [*((n, expected) for n in numbers), (worst.ours, ours)]:
            if isinstance(number, float):
                assert float(number) in [float(each) for each in NUMBER.findall(cell)]
            elif number is not None:
                assert flat(number) in cell
        if worst.tolerance is not None:
            assert float(why.partition(":")[0]) == pytest.approx(worst.tolerance, rel=1e-5)
            told = difference.split(" (")[0]
            if worst.difference:
                assert float(told) == worst.difference
                assert float(difference.split("(")[1].split("%")[0]) == pytest.approx(
                    100.0 * worst.share, rel=0.06
                )
            elif worst.tolerance:
                assert float(told.removeprefix("< ")) == pytest.approx(worst.tolerance / 1e3)
            else:
                assert told == "0"
        elif worst.margin is not None:
            assert float(difference.removesuffix(" to spare")) == worst.margin
        for cell in (check.quantity, check.id, expected, difference, check.why):
            assert tight(cell) in paper, (check.id, cell)


def test_the_summary_counts_what_the_records_hold(packaged, files) -> None:
    page = Tables(files["checks.html"])
    # Rows of the summary have no id: twice a head, then kind by kind.
    cells = [flat(cell) for cell in page.rows[""]]
    for kind in (*KINDS, "all"):
        own = [check for check in packaged.checks if kind in (check.kind, "all")]
        row = [str(len(own)), str(sum(c.cases for c in own)), str(len(own)), "0", "0"]
        at = cells.index(kind)
        assert cells[at + 1 : at + 6] == row
        shares = [c.worst.share for c in own if c.worst.tolerance]
        said = cells[at + 6].removesuffix(" %")
        assert (said == "-") if not shares else float(said) == pytest.approx(100.0 * max(shares))


def test_what_was_not_compared_stands_first_and_nothing_is_called_by_the_other_word(files) -> None:
    texts = [
        flat(Tables(files["checks.html"]).text), flat(" ".join(pages_of(files["checks.pdf"]))),
        flat(CliRunner().invoke(main, ["checks"]).output),
    ]  # fmt: skip
    for text in texts:
        places = [
            text.index(words)
            for words in (
                "Compared with experiment: none", "Accredited test results compared: 0",
                "Real vehicles compared: 0", "consistent with the published cases",
                "Stiffness not known", "generated data only", "Calculation checked",
            )
        ]  # fmt: skip
        assert places == sorted(places)
        assert not re.search(r"validat", text, re.IGNORECASE)
        assert CAUTION in text


def test_paper_has_six_pages_at_most_letters_of_7_pt_and_the_caution(files) -> None:
    pages = pages_of(files["checks.pdf"])
    assert len(pages) <= 6
    assert all(CAUTION_SHORT in flat(page) for page in pages)
    sizes = [
        size for page in PdfReader(BytesIO(files["checks.pdf"])).pages for size in set_in(page)
    ]
    assert len(sizes) > 500
    assert min(sizes) > 7.0 - 1e-3


def set_in(page) -> list[float]:
    """Sizes of the letters of a page [pt]."""
    found = []

    def see(text, matrix, letters, font, size) -> None:
        if text.strip():
            found.append(abs(size * letters[3] * matrix[3]))

    page.extract_text(visitor_text=see)
    return found


def test_the_same_records_give_the_same_bytes(packaged, files) -> None:
    assert page_files(packaged) == files


def test_the_page_loads_and_runs_nothing(files) -> None:
    tags = Tables(files["checks.html"]).tags
    assert not [tag for tag, _ in tags if tag in ("script", "img", "link", "iframe")]
    assert not [name for _, given in tags for name in given if name.startswith(("on", "src"))]


def planted(folder: Path, packaged) -> Path:
    """Records with one check that fails, one that was not run, and a test that failed."""
    document = msgspec.json.decode(record_bytes(packaged))
    failing, unrun = document["checks"][:2]
    failing["failing"] = 2
    failing["worst"] = {
        "case": "<b>planted</b>", "held": False, "ours": 7.5, "expected": 1.0, "difference": 6.5,
        "tolerance": 0.5, "share": 13.0,
    }  # fmt: skip
    unrun |= {"cases": 0, "failing": 0, "worst": None}
    document["failed_tests"] = ["tests/validation/test_planted.py::test_x"]
    folder.mkdir()
    (folder / "gw0.json").write_text(json.dumps(document))
    return folder


def test_planted_failures_are_shown_as_such(packaged, tmp_path) -> None:
    left, out = planted(tmp_path / "left", packaged), tmp_path / "page"
    result = CliRunner().invoke(main, ["checks", str(left), "--out", str(out)])
    assert result.exit_code == 1
    count = len(packaged.checks)
    says = f"{count - 2} of {count} checks hold; 1 FAIL; 1 NOT RUN; 1 tests of their files FAILED."
    failing, unrun = (check.id for check in packaged.checks[:2])
    page = Tables((out / "checks.html").read_bytes())
    paper = tight(" ".join(pages_of((out / "checks.pdf").read_bytes())))
    for text in (flat(result.output), flat(page.text)):
        assert says in text
        assert "test_planted.py::test_x" in text
    assert flat(page.rows[failing][-1]) == "FAILS in 2"
    assert flat(page.rows[failing][4]) == "6.5 (1300 %)"
    assert "<b>planted</b>" in page.rows[failing][3]
    assert flat(page.rows[unrun][-1]) == "NOT RUN"
    for words in (says, "FAILS in 2", "NOT RUN", "6.5 (1300 %)", "test_planted.py::test_x"):
        assert tight(words) in paper
    assert re.search(rf"{failing} .*fails", result.output)
    assert re.search(rf"{unrun} .*not run", result.output)


def test_the_command_without_records_to_read_is_refused(tmp_path) -> None:
    result = CliRunner().invoke(main, ["checks", str(tmp_path)])
    assert result.exit_code == 2
    assert "FRONTCHECK_CHECKS" in result.output
    (tmp_path / "a.json").write_text("{}")
    assert CliRunner().invoke(main, ["checks", str(tmp_path)]).exit_code == 2


def test_the_library_writes_the_same_page(files, tmp_path) -> None:
    folder = fc.write_checks(tmp_path / "checks")
    assert {name: (folder / name).read_bytes() for name in files} == files


@pytest.mark.skipif(chromium.found() is None, reason="there is no Chromium here")
def test_nothing_is_cut_at_any_width(files, tmp_path) -> None:
    path = tmp_path / "checks.html"
    path.write_bytes(files["checks.html"])
    browser = chromium.Browser(chromium.found())
    try:
        for width in (1280, 945, 390):
            browser.open(path, width)
            assert browser.run("document.documentElement.scrollWidth") <= width
            cut = browser.run(
                "[...document.querySelectorAll('td, tbody th')]"
                ".filter(each => each.scrollWidth > each.clientWidth + 1 && each.clientWidth)"
                ".map(each => each.textContent)"
            )
            assert cut == []
        assert len(PdfReader(BytesIO(browser.pdf())).pages) < 12
    finally:
        browser.close()

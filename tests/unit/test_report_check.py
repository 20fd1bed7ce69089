"""The check of the committed reports, on differences planted in pictures, pages and tables."""

from __future__ import annotations

import importlib.util
import io
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from PIL import Image

SCRIPT = Path(__file__).resolve().parents[2] / ".ci" / "report_check.py"
SPEC = importlib.util.spec_from_file_location("report_check", SCRIPT)
assert SPEC is not None
assert SPEC.loader is not None
check = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(check)


def drawn(words="height 556 mm", line=200.0, colour="#1d2b3a", by=0.0, kind="png") -> bytes:
    """A figure in our letters and sizes; `by`: everything set that many pixels aside."""
    figure = Figure(figsize=(4.0, 3.0))
    stream = io.BytesIO()
    right = by / 600.0
    figure.text(0.1 + right, 0.7, words, fontsize=8.0)
    ends = [0.1 + right, 0.9 + right], [line / 450.0] * 2
    figure.add_artist(Line2D(*ends, color=colour, linewidth=1.4))
    figure.savefig(stream, format=kind, dpi=150.0)
    return stream.getvalue()


@pytest.fixture
def two(tmp_path):
    """Two folders with a document, a table, a picture and a PDF."""
    folders = tmp_path / "committed", tmp_path / "made"
    for folder in folders:
        (folder / "plover").mkdir(parents=True)
        (folder / "plover" / "screening.json").write_text('{"z_mm": 556.0}\n')
        (folder / "plover" / "lines.csv").write_text("line,z_mm\nUBRL,556.0\n")
        (folder / "plover" / "side.png").write_bytes(drawn())
        (folder / "annex.pdf").write_bytes(drawn(kind="pdf"))
    return folders


def test_the_same_is_the_same(two):
    assert check.differences(*two) == []


@pytest.mark.parametrize("by", [0.03, 0.1, 0.3])
def test_letters_a_hair_aside_are_the_same(two, by):
    (two[1] / "plover" / "side.png").write_bytes(drawn(by=by))
    assert (two[1] / "plover" / "side.png").read_bytes() != drawn()
    assert check.differences(*two) == []


def test_a_palette_in_place_of_all_colours_is_the_same(two):
    picture = Image.open(io.BytesIO(drawn())).convert("RGB").quantize(64)
    picture.save(two[1] / "plover" / "side.png")
    assert check.differences(*two) == []


@pytest.mark.parametrize(
    "planted",
    [
        {"words": "height 557 mm"},
        {"words": "height 558 mm"},
        {"words": "height 566 mm"},
        {"words": "height 556 nm"},
        {"words": ""},
        {"line": 203.0},
        {"colour": "#7a2f3b"},
        {"by": 3.0},
    ],
    ids=lambda planted: " ".join(f"{k} {v}" for k, v in planted.items()),
)
def test_a_figure_that_says_something_else_is_found(two, planted):
    (two[1] / "plover" / "side.png").write_bytes(drawn(**planted))
    found = check.differences(*two)
    assert len(found) == 1
    assert found[0].startswith("plover/side.png: ")
    assert "squares look different" in found[0]


def test_a_picture_a_little_off_everywhere_is_found(two):
    pixels = np.asarray(Image.open(io.BytesIO(drawn())).convert("RGB"))
    Image.fromarray(np.where(pixels > 5, pixels - 1, pixels)).save(two[1] / "plover" / "side.png")
    assert "on the whole" in check.differences(*two)[0]


def test_another_size_is_found(two):
    picture = Image.open(io.BytesIO(drawn()))
    picture.resize((picture.width, picture.height + 8)).save(two[1] / "plover" / "side.png")
    assert "pixels in place of" in check.differences(*two)[0]


def test_of_people_who_are_struck_only_another_size_is_found(two):
    """What single draws come to hangs on the processor: `DRAWN_ANEW`."""
    for folder, line in zip(two, (200.0, 220.0), strict=True):
        (folder / "plover" / "motion-man.png").write_bytes(drawn(line=line))
    assert check.differences(*two) == []
    smaller = Image.open(two[1] / "plover" / "motion-man.png").crop((0, 0, 599, 450))
    smaller.save(two[1] / "plover" / "motion-man.png")
    assert [name.split(":")[0] for name in check.differences(*two)] == ["plover/motion-man.png"]


def test_a_page_that_shows_or_says_something_else_is_found(two):
    (two[1] / "annex.pdf").write_bytes(drawn(line=203.0, kind="pdf"))
    assert [line for line in check.differences(*two) if "annex.pdf: page 1: " in line]
    (two[1] / "annex.pdf").write_bytes(drawn(words="height 557 mm", kind="pdf"))
    assert "annex.pdf: page 1: says something else" in check.differences(*two)


def test_a_page_more_is_found(two):
    document = pypdfium2.PdfDocument(two[0] / "annex.pdf")
    document.new_page(100, 100)
    document.save(two[1] / "annex.pdf")
    assert check.differences(*two) == ["annex.pdf: 2 pages in place of 1"]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("screening.json", '{"z_mm": 556.0000000000001}\n'),
        ("lines.csv", "line,z_mm\nUBRL,556.00\n"),
    ],
)
def test_a_number_that_moved_in_its_last_digit_is_found(two, name, content):
    (two[1] / "plover" / name).write_text(content)
    assert check.differences(*two) == [f"plover/{name}: is not the same, byte for byte"]


def test_a_file_more_or_less_is_found_and_the_command_ends_with_1(two):
    (two[1] / "plover" / "lines.csv").rename(two[1] / "plover" / "rows.csv")
    expected = ["plover/lines.csv: is not made any more", "plover/rows.csv: is not committed"]
    assert check.differences(*two) == expected
    command = [sys.executable, str(SCRIPT), *map(str, two)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.splitlines()) == (1, expected)
    (two[1] / "plover" / "rows.csv").rename(two[1] / "plover" / "lines.csv")
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, "")


def test_reports_stay_few_and_hold_what_the_readme_shows():
    root = SCRIPT.parents[1]
    files = [path for path in (root / "reports").rglob("*") if path.is_file()]
    assert len(files) <= 25
    assert sum(path.stat().st_size for path in files) <= 3_000_000
    readme = (root / "README.md").read_text("utf-8")
    shown = set(re.findall(r"\]\((reports/[^)]+)\)", readme))
    assert len(shown) > 3
    assert {name for name in shown if not (root / name).is_file()} == set()
    others = {path.parent.name for path in files if path.parent.name != "plover"}
    assert others == {Path(name).parent.name for name in shown} - {"plover"}

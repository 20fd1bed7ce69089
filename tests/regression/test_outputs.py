"""All that is said of varied fronts, against what an earlier version said.

This says that nothing changed unnoticed, not that it is right: that is tests/validation.
Renew on purpose with ``pytest tests/regression --force-regen`` and read the difference. What
becomes of people who are struck is left out: it is not the same on every processor (DEVELOPERS.md).
"""

from __future__ import annotations

import csv
import json
import re
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from click.testing import CliRunner
from figure_words import outside
from fingerprints import of_document, of_drawing, of_figure, same
from matplotlib.figure import Figure
from varied_fronts import KINDS, measured

from frontcheck.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

HEADER = (
    "# name: {name}\n# datum: common\n# symmetric: {half}\n# height_u: 2 mm\n# setback_u: 1.5 mm\n"
)
PEOPLE = ("--stature", "1100", "--stature", "1820")


def table(kind: str, seed: int) -> str:
    """An offset table of one front of a kind, with what is unsure about it."""
    stations = measured(kind, np.random.default_rng(seed))
    half = "no" if any(y < 0.0 for y, _ in stations) else "yes"
    rows = [f"{y:g},{z:.1f},{x:.1f}" for y, points in stations for x, z in points.tolist()]
    head = HEADER.format(name=f"{kind} {seed}", half=half)
    return head + "station_mm,height_mm,setback_mm\n" + "\n".join(rows) + "\n"


FRONTS = {f"{kind}-{seed}": (kind, seed) for seed in (1, 2) for kind in KINDS}
SCREENED = {
    "saloon-1": ("--draws", "200", "--figures", "all"),
    "hatchback-2": ("--rules", "UN-R127-00", "--beam-ends", "-600,600"),
    "tall-1": ("--tape-start", "vehicle"),
    "tall-2": ("--rules", "EU-631-2009"),
    "van-2": ("--hand-tools", "--draws", "200", "--wad", "900,1300,1950"),
    "wedge-1": ("--rules", "UN-R127-03"),
    "wedge-2": ("--rules", "UN-GTR9-A2", "--windscreen-from", "930,798"),
    "round-1": ("--grid", "40"),
    "round-2": ("--rules", "UN-GTR9", "--shoe", "0"),
    "geometries/plover": ("--hard-points", "geometries/plover-hard-points.csv"),
    "geometries/plover-survey": ("--correct", "--draws", "200"),
}  # of all kinds, rule sets and ways to ask, each once


@pytest.fixture
def held(file_regression) -> Callable[[str], None]:
    """Compare a text with the one that is kept."""
    return lambda text: file_regression.check(text, extension=".txt", check_fn=same)


@pytest.fixture
def drawn(monkeypatch) -> Iterator[dict[str, str]]:
    """Fingerprints of figures, taken in place of writing them."""
    kept: dict[str, str] = {}

    def save(figure: Figure, file: BytesIO, dpi: float = 72.0, **how: object) -> None:
        kept.setdefault(of_figure(figure), "")
        assert outside(figure) == []
        wide, tall = (round(dpi * inches) for inches in figure.get_size_inches())
        file.write(bytes(4 * wide * tall) if how["format"] == "rgba" else b"<svg/>")

    monkeypatch.setattr(Figure, "savefig", save)
    return kept


@pytest.fixture
def here(tmp_path, monkeypatch, geometries) -> Path:
    """A folder with the fronts in it, in which commands run."""
    (tmp_path / "geometries").symlink_to(geometries)
    for name, (kind, seed) in FRONTS.items():
        (tmp_path / f"{name}.csv").write_text(table(kind, seed))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def ran(*args: str) -> str:
    """What a command prints, its errors too, and how it ends."""
    done = CliRunner().invoke(main, list(args), env={"COLUMNS": "160"})
    assert done.exit_code in {0, 1, 2}, done.output
    return f"$ frontcheck {' '.join(args)}\n{done.output}exit {done.exit_code}\n"


def worth(cell: str | list[str]) -> float | str | list[str]:
    """A cell of a table as a number, where it is one."""
    try:
        return float(cell)
    except (TypeError, ValueError):
        return cell


def left(folder: Path) -> str:
    """The tables and documents of a folder."""
    said = []
    for path in sorted(folder.iterdir()):
        if path.suffix == ".json":
            said.append(f"== {path.name}\n{of_document(json.loads(path.read_text()))}")
        elif path.suffix == ".csv":
            lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
            rows = list(csv.DictReader(lines))
            columns = {name: [worth(row[name]) for row in rows] for name in rows[0]} if rows else {}
            said.append(f"== {path.name}\n{of_document(columns)}")
    return "".join(said)


@pytest.mark.parametrize("name", SCREENED)
def test_a_screening(name, here, drawn, held) -> None:
    options = [*PEOPLE, *SCREENED[name], "--out", "out", "--dxf", "lines.dxf"]
    said = ran("screen", f"{name}.csv", "--all", *options)
    said += left(here / "out") + f"== lines.dxf\n{of_drawing(here / 'lines.dxf')}"
    held(said + "".join(f"== figure\n{each}" for each in drawn))


@pytest.mark.parametrize(
    ("a", "b", "options"),
    [
        ("hatchback-1", "saloon-2", ("--draws", "200")),
        ("van-1", "wedge-2", ("--align", "foremost")),
    ],
)
def test_a_comparison(a, b, options, here, drawn, held) -> None:
    said = ran("compare", f"{a}.csv", f"{b}.csv", *options, "--out", "out")
    held(said + left(here / "out") + "".join(f"== figure\n{each}" for each in drawn))


@pytest.mark.parametrize(
    "options",
    [
        ("geometries/plover.csv", "geometries/avocet.csv", "--draws", "200", "--stature", "1500"),
        ("hatchback-1.csv", "van-1.csv", "--draws", "20", "--stiffness", "bumper=0.5"),
        ("tall-1.csv", "--person", "six-year-old", "--rules", "UN-R127-00", "--speed", "30"),
    ],
)
def test_a_leg(options, here, drawn, held) -> None:
    said = ran("leg", *options, "--out", "out")
    held(said + left(here / "out") + "".join(f"== figure\n{each}" for each in drawn))


@pytest.mark.parametrize("name", ["geometries/plover-survey", "hatchback-2", "tall-1"])
def test_a_tolerance(name, here, drawn, held) -> None:
    asked = ("--threshold", "ble_height_mm=800", "--threshold", "bumper_lead_mm=100")
    said = ran("tolerance", f"{name}.csv", "--draws", "400", *asked, "--out", "out")
    held(said + left(here / "out") + "".join(f"== figure\n{each}" for each in drawn))


def test_what_if(here, held) -> None:
    ways = {
        "lower-lip": "back", "upper-lip": "up", "recess": "deeper", "bumper-face": "forward",
        "leading-edge": "down", "bonnet-height": "up", "bonnet-slope": "flatter", "nose": "forward",
        "face": "lean", "ride-height": "down",
    }  # fmt: skip
    said = []
    for name in ("geometries/plover", "tall-1", "wedge-1"):
        said.append(ran("what-if", f"{name}.csv", "--per-10mm"))
        for feature, way in ways.items():
            amount = "2" if feature in {"face", "bonnet-slope"} else "15"
            options = (f"--{feature}", f"{way}:{amount}", "--out", "moved.csv")
            said.append(ran("what-if", f"{name}.csv", *options))
            moved = here / "moved.csv"
            said.append(moved.read_text() if feature == "face" and moved.exists() else "")
    held("".join(said))


def test_a_study(here, drawn, held) -> None:
    study = (here / "geometries/nose-study.toml").read_text()
    (here / "study.toml").write_text(
        study.replace("variants = 2048", "variants = 128").replace("samples = 256", "samples = 16")
    )
    said = ran("sweep", "study.toml", "--workers", "1", "--out", "out")
    said = re.sub(r"variants made now in .*", "variants made", said)
    said += left(here / "out") + ran("solve", "study.toml", "--boxes", "2000", "--json", "s.json")
    said += of_document(json.loads((here / "s.json").read_text()))
    held(said + "".join(f"== figure\n{each}" for each in drawn))


def test_ways_in(here, held) -> None:
    inputs = [f"geometries/plover{end}" for end in ("-blocks.dxf", ".step", ".stl", ".xlsx")]
    said = [ran("describe", name) for name in (*inputs, "geometries/avocet.csv")]
    said += [ran("parts", name) for name in inputs[:3]]
    said += [ran("screen", name, "--lines-only", "--stations") for name in (inputs[0], inputs[1])]
    said.append(ran("screen", "geometries/plover.toml", "--all"))
    held("".join(said))


def test_words_explained(held) -> None:
    words = ("UBRL", "BLERL", "WAD", "balance point", "LEG-UNDERCUT", "open_end", "height_u")
    said = [ran("explain"), *(ran("explain", word) for word in words)]
    said += [ran("rules"), *(ran("rules", name) for name in ("UN-R127-03", "EU-631-2009"))]
    held("".join(said))


def test_a_planted_change_is_noticed(tmp_path) -> None:
    kept = tmp_path / "kept"
    kept.write_text("z: 3 numbers 1.000000000e+01 2.5e+00\nUBRL left 520.5 of 12\n")
    found = tmp_path / "found"
    found.write_text(kept.read_text().replace("1.000000000e+01", "1.000000001e+01"))
    same(found, kept)
    for old, new in (("520.5", "520.6"), ("left", "right"), ("12", "13"), ("3 n", "4 n")):
        found.write_text(kept.read_text().replace(old, new))
        with pytest.raises(AssertionError, match="was"):
            same(found, kept)
    found.write_text(kept.read_text() + "more\n")
    with pytest.raises(AssertionError, match="2 lines were, 3 are"):
        same(found, kept)


def test_order_shows_in_a_fingerprint() -> None:
    assert of_document({"x": [1.0, 2.0]}) != of_document({"x": [2.0, 1.0]})
    assert of_document({"side": ["left", "right"]}) != of_document({"side": ["right", "left"]})

"""Names from outside, on the terminal and in every kind of file: never raw, never half a letter.

A terminal obeys what follows an escape character; text turned around reads as something else; a
name of a file that is not UTF-8 is text to no program (UTF-8: RFC 3629; categories: Unicode
Character Database, by the copy of it in Python).
"""

from __future__ import annotations

import codecs
import json
import os
import re
import sys
import unicodedata
from pathlib import Path

import pytest
from click.testing import CliRunner
from lip_study import LIP_STUDY
from pypdf import PdfReader

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.errors import InputError, OutputError, escaped

RED = "\x1b[31m"
NOT_TEXT = os.fsdecode(b"n\xff\xe9")
RAW = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2028\u2029\u2066-\u2069\ud800-\udfff]")


def test_every_character_that_is_seen_stays_and_every_other_can_be_told() -> None:
    for number in range(sys.maxunicode + 1):
        character = chr(number)
        shown = escaped(character)
        category = unicodedata.category(character)
        if category[0] in "LMNPS":
            assert shown == character
        elif category in {"Cc", "Cs", "Zl", "Zp"} or RAW.match(character):
            assert shown.isascii()
            assert codecs.decode(shown, "unicode_escape") == character
    assert escaped("Pløver\N{NO-BREAK SPACE}2") == "Pløver\N{NO-BREAK SPACE}2"
    assert escaped("a\nb") == r"a\nb"
    assert escaped("a\nb", "\n") == "a\nb"


def test_errors_are_one_line_whatever_stands_in_them() -> None:
    assert str(OutputError(f"a{RED}\nb")) == r"a\x1b[31m\nb"
    with pytest.raises(InputError) as caught:
        fc.read_front(f"no{RED}\n{NOT_TEXT}.csv")
    assert r"no\x1b[31m\nn\udcff\udce9.csv" in str(caught.value)
    assert str(caught.value).isprintable()


@pytest.fixture
def table(geometries) -> str:
    """A front of one station."""
    lines = (geometries / "plover.csv").read_text("utf-8").splitlines(keepends=True)
    return "".join(line for line in lines if not line[0].isdigit() or line.startswith("0,"))


def checked(*args: str, code: set[int], says: str = "") -> None:
    """Run a command; nothing raw on the terminal."""
    done = CliRunner().invoke(main, list(args))
    assert done.exit_code in code, done.output
    shown = done.stdout_bytes.decode() + done.stderr_bytes.decode()
    assert RAW.search(shown) is None, repr(shown)
    assert says in shown or says in shown.replace("\n", "")  # wrapped


def texts(path: Path) -> list[str]:
    """What a file says: all its text, and of a document every text in it."""
    if path.suffix == ".pdf":
        return [page.extract_text() for page in PdfReader(path).pages]
    if path.suffix in {".png", ".xlsx"}:
        return []
    text = path.read_bytes().decode("utf-8-sig")
    if path.suffix != ".json":
        return [text]
    found: list[str] = []
    json.loads(text, object_pairs_hook=lambda pairs: found.extend(
        str(each) for pair in pairs for each in pair
    ))  # fmt: skip
    return [text, *found]


@pytest.mark.parametrize("name", [f"a{RED}", NOT_TEXT], ids=["escape", "not UTF-8"])
def test_names_of_files_and_folders(tmp_path, table, name) -> None:
    front, out = tmp_path / f"{name}.csv", tmp_path / f"{name}{RED}"
    study = tmp_path / f"{name}.toml"
    out.mkdir()
    front.write_text(table, "utf-8")
    study.write_text(LIP_STUDY.replace("variants = 512", "variants = 16"), "utf-8")
    study.write_text(study.read_text("utf-8").replace('name = "lip"\n', ""), "utf-8")
    file, shown = str(front), escaped(out)
    checked("screen", file, "--lines-only", "--json", str(out / "s.json"), "--out", str(out / "s"),
            "--dxf", str(out / "s.dxf"), code={0, 1}, says=f"{shown}/s: ")  # fmt: skip
    checked("leg", file, file, "--draws", "2", "--out", str(out / "l"), code={0, 1}, says=shown)
    checked("tolerance", file, "--draws", "100", "--out", str(out / "t"), code={0, 1}, says=shown)
    checked("compare", file, file, "--out", str(out / "c"), code={0, 1}, says=shown)
    checked("motion", file, "--person", "six-year-old", "--draws", "20", "--out", str(out / "m"),
            code={0, 1}, says=shown)  # fmt: skip
    checked("annex", file, "--title", name, "--by", name, "--correct", "--out", str(out / "a"),
            code={0, 1}, says=shown)  # fmt: skip
    checked("sweep", str(study), "--workers", "1", "--out", str(out / "w"), code={0, 1}, says=shown)
    checked("worksheet", "--stations", "0,300", "--heights", "100:400:50", "--out", str(out / "p"),
            code={0}, says=shown)  # fmt: skip
    refused = name == NOT_TEXT
    checked("describe", file, code={2} if refused else {0, 1},
            says="found a name that is not UTF-8" if refused else r'files = ["a\u001b')  # fmt: skip
    checked("screen", str(out / "no.csv"), code={2}, says=f"{shown}/no.csv: found no such file")
    checked("screen", file, "--out", f"{file}/{name}", code={2}, says="cannot be written")
    checked("screen", f"--{name}", code={2}, says="No such option")
    checked("screen", file, name, code={2}, says="unexpected extra argument")
    made = [path for path in out.rglob("*") if path.is_file()]
    assert {path.suffix for path in made} >= {".json", ".csv", ".dxf", ".svg", ".pdf", ".html"}
    said = [text for path in made for text in texts(path)]
    assert all(RAW.search(text) is None for text in said)
    assert escaped(front.name) in said  # a document says where its front came from


def test_names_inside_files(tmp_path, table, geometries) -> None:
    (tmp_path / "front.csv").write_text(table, "utf-8")
    front = tmp_path / "front.toml"
    text = 'name = "Plo\\u001b[31mver\\u202e"\nkind = "table"\nfiles = ["front.csv"]\n'
    front.write_text(text, "utf-8")
    checked("screen", str(front), "--json", str(tmp_path / "s.json"), code={0, 1},
            says=r"Plo\x1b[31mver\u202e")  # fmt: skip
    document = json.loads((tmp_path / "s.json").read_text("utf-8"))
    assert document["input"]["name"] == r"Plo\x1b[31mver\u202e"
    front.write_text(text.replace("front.csv", "no\\u001b.csv"), "utf-8")
    checked("screen", str(front), code={2}, says=r"no\x1b.csv")
    front.write_text(text.replace("kind", '"ki\\u001bnd"'), "utf-8")
    checked("screen", str(front), code={2}, says=r"ki\x1bnd")
    study = tmp_path / "study.toml"
    study.write_text(LIP_STUDY.replace('"lip"', '"l\\u001bip"').replace("512", "16"), "utf-8")
    checked("sweep", str(study), "--no-pictures", "--workers", "1", "--out", str(tmp_path / "w"),
            code={0, 1}, says=r"l\x1bip")  # fmt: skip
    mesh = tmp_path / "mesh.obj"
    mesh.write_text(f"o bumper{RED}\nv 0 0 0\nv 1 0 0\nv 0 0 1\nf 1 2 3\n", "utf-8")
    checked("parts", str(mesh), code={0, 1, 2}, says=r"bumper\x1b[31m")
    checked("screen", str(mesh), "--unit", "m", "--include", "x", code={2},
            says=r"bumper\x1b[31m")  # fmt: skip

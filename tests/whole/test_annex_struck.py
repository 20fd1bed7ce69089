"""The section of the annex on people who are struck, read back from page and document."""

from __future__ import annotations

import io
import json
import re
from html import unescape

import pytest
from annexes import plover_files, screened, struck, struck_files
from click.testing import CliRunner
from pypdf import PdfReader

import frontcheck as fc
from frontcheck.caution import CAUTION, MOTION_CAUTIONS
from frontcheck.cli.annex import annex as command
from frontcheck.findings.people_rows import plain_person
from frontcheck.outputs.annex.annex import annex_of
from frontcheck.outputs.annex.annex_text import Bullets, Paragraph, Picture, Table
from frontcheck.outputs.annex.first_page import ASK

NONE = "\N{EN DASH}"


def section(annex, key="motion"):
    return next(each for each in annex.sections if each.key == key)


def rows(table: Table) -> list[dict[str, str]]:
    return [dict(zip(table.header, row, strict=True)) for row in table.rows]


def numbers(cell: str) -> list[float]:
    return [float(text) for text in re.findall(r"[-+]?\d+", cell.replace("\N{MINUS SIGN}", "-"))]


def page_text(data: bytes) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", data.decode())).split())


def pdf_text(data: bytes) -> str:
    pages = PdfReader(io.BytesIO(data)).pages
    return " ".join(" ".join(p.extract_text() for p in pages).replace("\u200b", "").split())


def test_tables_hold_the_numbers_of_the_document() -> None:
    files = struck_files()
    document = json.loads(files["motion.json"])
    first, second, moved = (
        block for block in section(annex_of(struck("avocet"))).blocks if isinstance(block, Table)
    )
    for table, people, name in (
        (first, document["people"], "Plover"),
        (second, document["people_b"], "Avocet"),
    ):
        assert table.caption.endswith(name)
        assert len(table.rows) == len(people) == 5
        for row, person in zip(rows(table), people, strict=True):
            assert row["person"] == plain_person(person["person"])
            for share in ("pushed", "folded", "carried"):
                assert numbers(row[share]) == [
                    pytest.approx(100 * person["shares"][share], abs=0.5)
                ]
            assert row["becomes"] == person["kind"]
            assert row["on the"].startswith(person["part"])
            for column, key in (
                ("head at WAD [mm]", "wad_mm"), ("after [ms]", "time_ms"),
                ("trunk leans [deg]", "torso_deg"), ("past the edge [mm]", "past_edge_mm"),
            ):  # fmt: skip
                spread = [person[key][end] for end in ("median", "p5", "p95")]
                assert numbers(row[column]) == pytest.approx(spread, abs=0.5001)
    assert "Avocet less those struck by Plover" in moved.caption
    for row, change in zip(moved.rows, document["changes"], strict=True):
        assert row[0] == plain_person(change["person"])
        for cell, key in ((row[1], "wad_mm"), (row[4], "time_ms")):
            spread = [change[key][end] for end in ("median", "p5", "p95")]
            assert numbers(cell) == pytest.approx(spread, abs=0.5001)
        assert row[2].partition(":")[0].startswith(change["separable"][:7])
    # A lower front takes heads farther up: the signs are not turned round.
    assert all(numbers(row[1])[0] > 0.0 for row in moved.rows)


def test_page_and_document_hold_tables_figure_assumptions_and_cautions() -> None:
    files, annex = struck_files(), annex_of(struck("avocet"))
    blocks = section(annex).blocks
    (picture,) = (block for block in blocks if isinstance(block, Picture))
    assert f"{picture.stem}.svg" in files
    assert picture.stem == "motion-man-p50"
    for text in (page_text(files["annex.html"]), pdf_text(files["annex.pdf"])):
        for table in (block for block in blocks if isinstance(block, Table)):
            for row in table.rows:
                for cell in row:
                    assert cell in text, cell
        for words in (*MOTION_CAUTIONS, CAUTION, *struck("avocet").motion.assumed):
            assert " ".join(words.split()) in text
        assert ASK not in text


def test_without_it_one_line_says_how_to_ask() -> None:
    files = plover_files()
    assert "motion.json" not in files
    for text in (page_text(files["annex.html"]), pdf_text(files["annex.pdf"])):
        assert text.count(ASK) == 1
    assert [each.key for each in annex_of(screened("plover")).sections].count("motion") == 0
    (line,) = (
        block for block in section(annex_of(screened("plover")), "answer").blocks
        if isinstance(block, Paragraph) and block.voice == "note"
    )  # fmt: skip
    assert ASK in line.text


def test_the_first_page_says_what_becomes_of_whom() -> None:
    people = next(
        block for block in section(annex_of(struck()), "answer").blocks if isinstance(block, Table)
    )
    told = {plain_person(one.person): one for one in struck().motion.people}
    assert people.header[-1] == "struck at 40 km/h, of 20 cases"
    for row in people.rows:
        one = told[row[0]]
        assert row[-1].startswith(one.kind)
        shares = [f"in {100.0 * one.shares[key]:.0f} %" for key in ("pushed", "folded", "carried")]
        assert any(row[-1].endswith(share) for share in shares)


def test_what_is_refused_has_a_reason_and_no_number() -> None:
    ends_early = fc.Front(
        [fc.Section([(8, 540), (40, 590), (85, 640), (250, 738), (700, 835), (1500, 905)], 0.0)]
    )
    result = fc.screen(ends_early)
    study = fc.motion(result, draws=20, people=fc.PEOPLE[:1])
    assert study.people[0].refused
    blocks = section(annex_of(fc.screen(ends_early, motion=study))).blocks
    (table,) = (block for block in blocks if isinstance(block, Table))
    ((_, *cells),) = table.rows
    assert set(cells) == {NONE, "not said"}
    assert any(study.people[0].reason in note for note in table.notes)


def test_the_command_asks_for_it(root, tmp_path) -> None:
    plover = str(root / "geometries" / "plover.csv")
    run = CliRunner().invoke(
        command, [plover, "--motion", "--motion-draws", "20", "--speed", "30", "--out",
                  str(tmp_path / "a")],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    document = json.loads((tmp_path / "a" / "motion.json").read_text())
    assert (document["speed_km_h"], document["draws"]) == (30.0, 20)
    assert "30 km/h" in page_text((tmp_path / "a" / "annex.html").read_bytes())
    assert (tmp_path / "a" / "motion-man-p50.svg").is_file()
    for option in ("--speed", "--motion-draws"):
        run = CliRunner().invoke(command, [plover, option, "30", "--out", str(tmp_path / "b")])
        assert run.exit_code == 2
        assert "it needs --motion" in run.output
    run = CliRunner().invoke(
        command, [plover, "--motion", "--speed", "90", "--out", str(tmp_path / "b")]
    )
    assert run.exit_code == 2
    assert "20" in run.output
    assert "50" in run.output
    assert not (tmp_path / "b").exists()


def test_the_list_of_assumptions_stands_in_its_section_alone() -> None:
    annex = annex_of(struck())
    for words in struck().motion.assumed:
        holders = [
            each.key
            for each in annex.sections
            for block in each.blocks
            if (isinstance(block, Bullets) and words in block.items) or words in repr(block)
        ]
        assert holders == ["motion"]

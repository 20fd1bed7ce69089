"""The annex as a whole: what its sections hold, its files, its command, its atomic folder."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import replace

import ezdxf
import pytest
from annexes import GEOMETRIES, IN_A_FILE, TITLES, both_files, plover_files, screened, small_front
from click.testing import CliRunner

from frontcheck.caution import CAUTION
from frontcheck.cli.annex import annex as command
from frontcheck.comparison.two_fronts import compare
from frontcheck.lines import lined_front
from frontcheck.lines.lined_front import by_other_rules, line_up
from frontcheck.lines.section_lines import section_lines
from frontcheck.outputs.annex.annex import annex_files, annex_of
from frontcheck.outputs.annex.annex_text import (
    Facts,
    Paragraph,
    Table,
    TitleBlock,
    breakable,
    clean,
    line_source,
    number,
)
from frontcheck.outputs.annex.first_page import ASK
from frontcheck.outputs.documents.folder import LIST
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set, rule_set_ids
from frontcheck.screening import screen

MINUS = "\N{MINUS SIGN}"


@pytest.fixture(scope="module")
def annex():
    a, b = screened("plover"), screened("avocet")
    return annex_of(a, compare(a, b), TITLES, full=True)


def section(annex, key):
    return next(each for each in annex.sections if each.key == key)


def tables(annex, key):
    return [block for block in section(annex, key).blocks if isinstance(block, Table)]


def value(cell: str) -> float | None:
    text = cell.rstrip("*").replace(MINUS, "-")
    return None if text == "\N{EN DASH}" else float(text)


def test_sections_stand_in_the_order_asked_for_and_the_caution_comes_first(annex):
    assert [each.key for each in annex.sections] == [
        "answer", "input", "lines", "sides", "areas", "body", "findings", "changes", "constants",
        "cautions",
    ]  # fmt: skip
    said = [b for b in annex.sections[0].blocks if isinstance(b, Paragraph)]
    assert [(b.text, b.voice) for b in said] == [(CAUTION, "caution"), (ASK, "note")]


def test_one_front_has_no_section_on_changes():
    assert "changes" not in {each.key for each in annex_of(screened("avocet")).sections}


def test_lines_are_those_of_the_screening_rounded_to_a_tenth(annex):
    stations = screened("plover").stations
    lines, tape = tables(annex, "lines")
    assert len(lines.rows) == len(tape.rows) == len(stations)
    for station, row, marks in zip(stations, lines.rows, tape.rows, strict=True):
        expected = [station.y]
        for line in (station.LBRL, station.UBRL, station.BLERL, station.BRRL):
            expected += [line.z, line.x]
        got = [value(cell) for cell in row[:9]]
        assert got == pytest.approx(expected, abs=0.05 + 1e-9)
        assert value(row[9]) == pytest.approx(station.BLERL.x - station.UBRL.x, abs=0.05 + 1e-9)
        assert row[10] == station.legform
        expected = [station.y]
        for point in station.wads:
            expected += [point.z, point.x]
        assert [value(cell) for cell in marks] == pytest.approx(expected, abs=0.05 + 1e-9)


def test_every_finding_is_listed_with_source_and_what_settles_it(annex):
    (table,) = tables(annex, "findings")
    found = screened("plover").findings
    assert [row[0] for row in table.rows] == [str(n) for n in range(1, len(found) + 1)]
    for finding, row in zip(found, table.rows, strict=True):
        assert row[1].startswith(f"{finding.code}: ")
        assert row[5] == finding.message
        assert finding.rule.source in row[6]
        assert finding.rule.provenance in row[6]
        assert row[7] == finding.settled_by


def test_every_constant_is_listed_with_its_provenance(annex):
    (table,) = tables(annex, "constants")
    rules = screened("plover").rules
    assert [(row[0], row[1], row[2], row[4]) for row in table.rows] == [
        (c.name, c.plain, c.document, c.provenance) for c in rules
    ]
    assert {row[3] for row in table.rows} == {c.paragraph or "not known" for c in rules}


def test_input_names_file_and_digest_of_both_fronts(annex):
    facts = [b for b in section(annex, "input").blocks if isinstance(b, Facts)]
    for name, block in zip(("plover", "avocet"), facts[:2], strict=True):
        pairs = dict(block.pairs)
        assert pairs["File"] == f"{name}.csv"
        digest = hashlib.sha256((GEOMETRIES / f"{name}.csv").read_bytes()).hexdigest()
        assert pairs["SHA-256 of the file"] == digest


def test_changes_are_the_differences_of_the_two_screenings(annex):
    table = tables(annex, "changes")[0]
    a, b = screened("plover"), screened("avocet")
    at = {name: i for i, name in enumerate(table.header)}
    for row in table.rows:
        one, two = (each.station(value(row[0])) for each in (a, b))
        for name, line in (("LBRL z", "LBRL"), ("UBRL z", "UBRL"), ("BLERL z", "BLERL")):
            change = getattr(two, line).z - getattr(one, line).z
            assert value(row[at[name]]) == pytest.approx(change, abs=0.05 + 1e-9)


def test_only_what_was_given_is_in_the_title_block():
    assert TitleBlock().entries == ()
    assert TitleBlock(revision="C").entries == (("Revision", "C"),)
    assert [name for name, _ in TITLES.entries] == [
        "Project", "Drawing number", "Revision", "Date", "Author",
    ]  # fmt: skip


def test_sources_name_no_paragraph_that_is_not_known():
    # (EC) 631/2009 Annex Part I 2.2 was read for the leading edge.
    assert "2.2 (text read)" in line_source("BLERL", rule_set("EU-631-2009"))
    # UN R127 02 series 2.7 was read too; a rule set from memory still names no paragraph.
    assert "2.7 (text read)" in line_source("BLERL", rule_set("UN-R127-02"))
    assert "paragraph not known (from memory)" in line_source("BLERL", rule_set("UN-GTR9"))


class Asked(Mapping):
    """Constants that remember which of them were asked for."""

    def __init__(self, constants):
        self.constants, self.names = constants, set()

    def __getitem__(self, name):
        self.names.add(name)
        return self.constants[name]

    def __iter__(self):
        return iter(self.constants)

    def __len__(self):
        return len(self.constants)


def with_tools(lined):
    """Lines of all stations, and where the tools that formed them stand."""
    return [
        (station, [line.pose for line in station.lines], [mark.tape for mark in station.wads])
        for station in lined.stations
    ]


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_lines_by_other_rule_sets_are_those_of_a_screening_by_each(name, monkeypatch):
    formed = []

    def counted(front, rules, *args, **options):
        formed.append(rules.id)
        return line_up(front, rules, *args, **options)

    monkeypatch.setattr("frontcheck.lines.lined_front.line_up", counted)
    ours = screened(name)
    ids = [id_ for id_ in rule_set_ids() if id_ != ours.rules.id]
    others = by_other_rules(ours, ids)
    monkeypatch.undo()
    assert [other.rules.id for other in others] == ids
    expected = [screen(ours.front, id_, ours.wad) for id_ in ids]
    assert [with_tools(other) for other in others] == [with_tools(each) for each in expected]
    # Formed anew only where that changes a line, or how a tool stands.
    changed = {each.rules.id for each in expected if with_tools(each) != with_tools(ours)}
    assert changed
    assert set(formed) == changed
    assert len(formed) < len(ids)


def test_lines_rest_on_no_constant_that_is_not_compared():
    front, rules = screened("plover").front, rule_set("EU-631-2009")
    asked = Asked(rules.constants)
    object.__setattr__(rules := replace(rules), "constants", asked)
    line_up(front, rules, (1000.0, 2100.0))
    compared = {c[0] for c in lined_front._rests_on(rules)}
    assert len(asked.names & compared) > 15
    asked.names.clear()
    line_up(front, rules, (1000.0, 2100.0), tape_start="vehicle")
    assert asked.names
    assert asked.names <= compared


def test_one_annex_forms_the_lines_of_a_front_once_and_once_by_rules_that_differ(monkeypatch):
    formed = []

    def counted(contours, rules, *args, **options):
        formed.append(rules.id)
        return section_lines(contours, rules, *args, **options)

    monkeypatch.setattr("frontcheck.lines.lined_front.section_lines", counted)
    annex_files(screen(screened("plover").front))
    assert sorted(formed) == ["EU-631-2009", "UN-R127-02"]


def test_numbers_have_a_true_minus_and_no_negative_zero():
    assert number(-3.14159) == f"{MINUS}3.1"
    assert number(-0.01) == "0.0"
    assert number(None) == "\N{EN DASH}"


def test_clean_text_is_one_line_without_characters_that_turn_or_hide():
    shown = clean("a\r\nb\x00\x1b[31m\u202ec\u200bd\ud800\u2028e  f")
    assert shown == "a b [31mcd\N{REPLACEMENT CHARACTER} e f"
    assert clean("12\N{NO-BREAK SPACE}mm") == "12\N{NO-BREAK SPACE}mm"
    assert len(clean("x" * 10**6)) < 10**4


def test_long_words_get_places_to_break_and_short_ones_none():
    text = "BODY-EDGE-IN-MASS-BAND " + "x" * 50
    broken = breakable(text, 10.0)
    assert broken.replace("\u200b", "") == text
    assert 2 <= max(len(piece) for piece in broken.rsplit(" ", 1)[1].split("\u200b")) <= 16
    assert breakable("BODY-EDGE-IN-MASS-BAND", 9.0) == "BODY-EDGE-IN-MASS-BAND"
    assert breakable("WW", 0.1) == "W\u200bW"


def test_a_table_refuses_rows_of_another_width():
    with pytest.raises(ValueError, match="2 entries in a row of 1"):
        Table("t", ("a",), (("1", "2"),), (1.0,))


def test_a_column_of_numbers_dashes_and_stars_is_numeric_an_empty_one_is_not():
    rows = (("1.5*", "", f"{MINUS}2", "x"), ("\N{EN DASH}", "", "3", "1"))
    assert Table("t", ("a", "b", "c", "d"), rows, (1.0,) * 4).numeric == (True, False, True, False)


# --- files -------------------------------------------------------------------------


def test_the_folder_holds_what_was_promised():
    files = plover_files()
    assert {"annex.pdf", "annex.html", "screening.json", "lines.csv", "lines.dxf"} <= set(files)
    assert "side-y0000.svg" in files
    document = json.loads(files["screening.json"])
    assert document["schema"] == "frontcheck.screening/2"
    rows = list(csv.DictReader(io.StringIO(files["lines.csv"].decode())))
    assert {"LBRL", "UBRL", "BLERL", "BRRL", "SRL", "WAD 1000"} <= {row["line"] for row in rows}
    assert {row["caution"] for row in rows} == {CAUTION}
    drawing = ezdxf.read(io.StringIO(files["lines.dxf"].decode()))
    assert "BLERL" in drawing.layers
    both = both_files()
    assert {"comparison.json", "changes.csv", "screening-b.json", "lines-b.dxf"} <= set(both)
    for name, data in both.items():
        if name.endswith(".svg"):
            assert b"not a prediction of injury" in b" ".join(data.split()), name


def run(*args):
    return CliRunner().invoke(command, [str(a) for a in args])


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """What the command said of a small front, and the folder that it left."""
    place = tmp_path_factory.mktemp("made")
    return run(small_front(place), "--out", place / "deep" / "annex"), place / "deep" / "annex"


@pytest.fixture(scope="module")
def twins(tmp_path_factory):
    """Folder of the annex of a front against itself, whose name and notes look like formulas."""
    place = tmp_path_factory.mktemp("twins")
    path = small_front(place, name='=HYPERLINK("x")', notes="@SUM(1)")
    assert run(path, path, "--out", place / "annex").exit_code == 0
    return place / "annex"


def test_the_command_writes_the_folder_and_ends_with_0(made):
    result, out = made
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    assert CAUTION in result.output
    listed = [row.split(" ", 2)[2] for row in (out / LIST).read_text("utf-8").splitlines()[1:]]
    assert sorted([*listed, LIST]) == sorted(path.name for path in out.iterdir())


def test_without_a_common_datum_areas_are_refused_with_the_reason_and_no_map_is_drawn(tmp_path):
    path = small_front(tmp_path)
    path.write_text(path.read_text().replace("datum: common", "datum: local"))
    annex = annex_of(screen(read_front(path)))
    areas = tables(annex, "areas")[0]
    assert {row[2] for row in areas.rows} == {"not available"}  # In words, as people read it.
    assert all("datum" in row[3] for row in areas.rows)
    assert "head-map" not in {picture.stem for picture in annex.pictures}
    assert "head-map" in {picture.stem for picture in annex_of(screened("plover")).pictures}


def test_a_line_that_cannot_be_formed_ends_with_1_and_is_told_in_the_annex(tmp_path):
    path = small_front(tmp_path)
    path.write_text("\n".join(
        line for line in path.read_text().splitlines() if not line.endswith("windscreen")
    ))  # fmt: skip
    result = run(path, "--out", tmp_path / "annex")
    assert result.exit_code == 1, result.output
    assert "Missing in small.csv: BRRL: no point is labelled windscreen" in result.output
    assert b"no point is labelled windscreen" in (tmp_path / "annex/annex.html").read_bytes()


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["missing.csv"], "missing.csv"),
        (["FRONT", "--rules", "UN-R999"], "expected one of EU-631-2009"),
        (["FRONT", "missing.csv"], "missing.csv"),
        (["FRONT", "--wad", "-3"], "not above 0 mm"),
        (["FRONT", "--paper", "a5"], "'a4', 'letter'"),
    ],
)
def test_unusable_input_ends_with_2_and_leaves_nothing(tmp_path, args, words):
    path = small_front(tmp_path)
    filled = [path if arg == "FRONT" else arg for arg in args]
    result = run(*filled, "--out", tmp_path / "annex")
    assert result.exit_code == 2
    assert words in " ".join(result.stderr.split())
    assert "Traceback" not in result.stderr
    assert {each.name for each in tmp_path.iterdir()} == {"small.csv"}


def test_without_typst_it_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    result = run(small_front(tmp_path), "--out", tmp_path / "annex")
    assert result.exit_code == 2
    assert "pip install 'frontcheck[annex]'" in result.stderr
    assert not (tmp_path / "annex").exists()


def test_formulas_from_files_stay_text_in_csv(twins):
    # OWASP, CSV injection: cells that begin with = + - @ are read as formulas.
    for name in ("lines.csv", "changes.csv", "lines-b.csv"):
        text = (twins / name).read_text("utf-8")
        for row in csv.reader(io.StringIO(text)):
            for cell in row:
                numeric = cell.lstrip("-").replace(".", "", 1).replace("e-", "", 1).isdigit()
                assert numeric or not cell.startswith(("=", "+", "-", "@")), cell


def test_a_front_against_itself_has_no_change(twins):
    page = (twins / "annex.html").read_text("utf-8")
    assert "Nothing is different in B." in page
    assert "No finding changes." in page


def test_the_same_bytes_in_two_processes_and_two_folders(tmp_path):
    folders = []
    for n, seed in enumerate(("1", "2")):
        place = tmp_path / f"place {n}"
        place.mkdir()
        path = small_front(place, name="Ünïcode näme", notes=IN_A_FILE)
        code = "from frontcheck.cli.annex import annex; annex()"
        done = subprocess.run(
            [sys.executable, "-c", code, path, "--out", place / "annex", "--title", "T"],
            env=os.environ | {"PYTHONHASHSEED": seed, "TZ": f"UTC{n * 7}", "HOME": str(place)},
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        folders.append({p.name: p.read_bytes() for p in sorted((place / "annex").iterdir())})
        time.sleep(1.1)  # a date with seconds in it would differ
    assert folders[0].keys() == folders[1].keys()
    assert [name for name, data in folders[0].items() if folders[1][name] != data] == []


def test_the_command_killed_half_way_leaves_the_old_folder(made, tmp_path):
    path, out = small_front(tmp_path), tmp_path / "annex"
    shutil.copytree(made[1], out)
    before = {each.name: each.read_bytes() for each in out.iterdir()}
    code = "from frontcheck.cli.annex import annex; annex()"
    for wait in (0.5, 2.0):
        process = subprocess.Popen(
            [sys.executable, "-c", code, path, "--out", out, "--title", "Another"],
            stdout=subprocess.DEVNULL,
        )
        time.sleep(wait)
        process.send_signal(signal.SIGKILL)
        process.wait()
        found = {each.name: each.read_bytes() for each in out.iterdir()}
        assert found == before or b"Another" in found["annex.html"]

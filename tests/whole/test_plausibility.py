"""A table with a slip: warned of on the terminal, in documents and on page 1; refused if asked."""

from __future__ import annotations

import io
import json

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from pypdf import PdfReader

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.front.plausible import NOT_FOUND, doubts_said
from frontcheck.outputs.documents.schemas import schema_path


@pytest.fixture(scope="module")
def slip(geometries, tmp_path_factory):
    """Plover at three stations, one setback of its face 90 mm too short; and the row of it."""
    folder = tmp_path_factory.mktemp("slip")
    lines = (geometries / "plover.csv").read_text("utf-8").splitlines()
    kept = [line for line in lines if line.startswith(("#", "station", "0,", "300,", "650,"))]
    at = next(i for i, line in enumerate(kept) if line.startswith("300,643,"))
    cells = kept[at].split(",")
    cells[2] = f"{float(cells[2]) - 90.0:g}"
    kept[at] = ",".join(cells)
    path = folder / "slip.csv"
    path.write_text("\n".join(kept) + "\n", "utf-8")
    return path, at + 1


def ran(*args):
    result = CliRunner().invoke(main, list(map(str, args)))
    assert "Traceback" not in result.stderr
    return result


def test_it_is_said_on_the_terminal_and_nothing_else_changes(slip) -> None:
    path, row = slip
    result = ran("screen", path, "--lines-only")
    assert result.exit_code in (0, 1)
    warned = result.stderr.splitlines()
    assert warned[-1] == f"frontcheck: {NOT_FOUND}"
    assert all(line.startswith(f"frontcheck: warning: {path}: ") for line in warned[:-1])
    assert f"row {row} at y = 300 mm" in warned[0]
    said = " ".join(result.stdout.split())
    assert all(text in said for text in doubts_said(fc.plausibility(fc.read_front(path))))


def test_a_sound_table_is_not_warned_of(geometries) -> None:
    result = ran("screen", geometries / "plover.csv", "--lines-only", "--strict")
    assert (result.exit_code, result.stderr) == (0, "")
    assert (
        f"Nothing looks like a slip of measuring or typing. Plausibility: {NOT_FOUND}"
        in " ".join(result.stdout.split())
    )


@pytest.mark.parametrize("command", ["screen", "leg", "tolerance", "compare", "annex", "motion"])
def test_strict_refuses_it_and_leaves_nothing(command, slip, geometries, tmp_path) -> None:
    path, row = slip
    files = [geometries / "plover.csv", path] if command in ("compare", "annex") else [path]
    result = ran(command, *files, "--strict", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stdout == ""
    last = result.stderr.splitlines()[-1]
    assert last.startswith(f"frontcheck: {path}, row {row}: found what looks like a slip: ")
    assert "expected nothing of the kind, since --strict was given; mend the file" in last
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("command", ["sweep", "solve"])
def test_a_study_of_it_is_warned_of_and_refused(command, slip, tmp_path) -> None:
    study = slip[0].with_name(f"{command}.toml")
    study.write_text(
        '[front]\nfile = "slip.csv"\nstations_mm = [0]\n[vary]\nnose_up_mm = { values = [0, 5] }\n',
        "utf-8",
    )
    out = ["--out", tmp_path / "out"] if command == "sweep" else []
    result = ran(command, study, "--strict", *out)
    assert result.exit_code == 2
    assert "warning: slip.csv: " in result.stderr
    assert not (tmp_path / "out").exists()


def documents(path, other):
    one, two = fc.screen(fc.read_front(path)), fc.screen(fc.read_front(other))
    yield "screening", one.to_dict(), ""
    yield "tolerance", fc.tolerance(one.front, one.rules, draws=100).to_dict(), ""
    yield "comparison", fc.compare(two, one).to_dict(), "B: "
    yield "leg", fc.leg([one, two], fc.PEOPLE[0]).to_dict(), "A: "
    yield "motion", fc.motion(one, people=fc.PEOPLE[:1], draws=20).to_dict(), ""


def test_documents_name_the_rows(slip, geometries) -> None:
    path, row = slip
    wanted = fc.plausibility(fc.read_front(path))
    assert row in wanted[0].rows
    for name, document, lead in documents(path, geometries / "plover.csv"):
        assert document["plausibility"] == [
            {"what": lead + doubt.what, "rows": list(doubt.rows), "do": doubt.do}
            for doubt in wanted
        ], name
        if name != "motion":
            schema = json.loads(schema_path(name).read_bytes())
            assert list(Draft202012Validator(schema).iter_errors(document)) == [], name
    sound = fc.screen(fc.read_front(geometries / "plover.csv"))
    assert "plausibility" not in sound.to_dict()


def test_page_1_of_the_annex_says_it_first(slip, tmp_path) -> None:
    path, row = slip
    assert ran("annex", path, "--out", tmp_path / "annex").exit_code in (0, 1)
    pages = PdfReader(io.BytesIO((tmp_path / "annex/annex.pdf").read_bytes())).pages
    texts = [" ".join(page.extract_text().split()) for page in pages]
    head, _, below = texts[0].partition("What stands out")
    assert "Check first: what looks like a slip in the input" in head
    assert f"row {row} at y = 300 mm" in head
    assert NOT_FOUND in below
    # The answer still ends on this page.
    assert fc.CAUTION in below
    assert "Check first" not in "".join(texts[1:])


def test_rows_of_a_front_file_are_those_of_its_table(slip) -> None:
    path, row = slip
    front_file = path.with_name("front.toml")
    front_file.write_text('files = ["slip.csv"]\n', "utf-8")
    lines = ran("screen", front_file, "--lines-only", "--strict").stderr.splitlines()
    assert lines[0].startswith("frontcheck: warning: slip.csv: ")
    assert lines[-1].startswith(f"frontcheck: slip.csv, row {row}: found what looks like a slip")

"""The command ``what-if`` from end to end: what it prints, writes, and refuses to do."""

from __future__ import annotations

import hashlib
import json
import random
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import frontcheck as fc
from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.cli import main
from frontcheck.study.moves import FEATURES

MOVES = "--lower-lip forward:20 --leading-edge up:-15"


def run(*words: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(main, ["what-if", *words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert "Traceback" not in done.output
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def plover(geometries) -> str:
    return str(geometries / "plover.csv")


def table_of(text: str, title: str) -> dict[str, list[str]]:
    rows = text.split(title)[1].split("\n\n", maxsplit=1)[0].splitlines()[2:]
    return {cells[0]: cells[1:] for cells in (re.split(r"\s{2,}", row.strip()) for row in rows)}


def test_what_is_printed_is_what_the_document_says(plover, tmp_path):
    out = tmp_path / "what-if.json"
    code, text, _ = run(plover, *MOVES.split(), "--json", str(out))
    document = json.loads(out.read_text("utf-8"))
    assert code == 0
    assert CAUTION in " ".join(text.split())
    assert "A drawing, not advice to alter a vehicle." in text
    assert (document["cautions"][0], document["schema"]) == (CAUTION, "frontcheck.what-if/1")
    lines = {
        each["quantity"]: each for each in document["lines"] if each["station_mm"] == 0.0
    }  # fmt: skip
    rows = table_of(text, "Lines at the centre, mm (x back, z up)")
    assert len(rows) == 17
    for name, (before, after, change, every) in rows.items():
        said = lines[f"{name.replace(' ', '_')}_mm"]
        assert float(before) == pytest.approx(said["before"], abs=0.051)
        assert float(after) == pytest.approx(said["after"], abs=0.051)
        assert float(change) == pytest.approx(said["change"], abs=0.051)
        changes = [
            each["change"] for each in document["lines"] if each["quantity"] == said["quantity"]
        ]
        assert [float(end) for end in every.split(" to ")] == pytest.approx(
            [min(changes), max(changes)], abs=0.051
        )
    for told in document["answer"]:
        for mark, side in (("-", "before"), ("+", "after")):
            if told["kind"] != "stayed" and told[side]:
                assert f"{mark} {told[side]}" in " ".join(text.split())
    said = f"{document['moved']['proposed_points']} of {document['moved']['of_points']} points"
    assert said in text
    assert document["skin_moved_mm"] == pytest.approx(20.0, abs=1e-9)


def test_before_and_after_are_screenings_of_either_front(plover):
    front = fc.read_front(plover)
    made = fc.what_if(front, {"lower_lip": {"forward": 20}})
    for said, alone in ((made.before, fc.screen(front)), (made.after, fc.screen(made.front))):
        assert said.to_dict() == alone.to_dict()
    kinds = {told.kind for told in made.answer()}
    texts = [{line.text for line in each.answer.lines} for each in (made.before, made.after)]
    out = [told for told in made.answer() if told.block == "stands out"]
    assert {told.before for told in out} - {None} == texts[0]
    assert {told.after for told in out} - {None} == texts[1]
    assert kinds <= {"gone", "new", "changed", "stayed"}


SOURCES = {
    "table": (["plover.csv"], "--bumper-face back:7.3"),
    "front file": (["plover.toml"], "--bonnet-slope steeper:1.7 --ride-height up:11.1"),
    "mesh": (
        ["plover.stl", "--unit=mm", "--forward=-x", "--up=+z", "--pitch=200", "--half"],
        "--nose up:9",
    ),
    "drawing": (["plover.dxf"], "--leading-edge back:13,up:2"),
    "survey": (["plover-survey.csv"], "--face lean:1.3"),
    "corrected": (["plover-survey.csv", "--correct"], "--face lean:1.3"),
}  # fmt: skip


@pytest.mark.parametrize("name", SOURCES)
def test_the_table_reads_back_as_the_moved_front(name, geometries, tmp_path):
    (file, *options), moves = SOURCES[name]
    out, doc = tmp_path / "moved.csv", tmp_path / "moved.json"
    given = (str(geometries / file), *options, *moves.split(), "--out", str(out))
    code, text, _ = run(*given, "--json", str(doc))
    assert code in (0, 1)
    assert f"Written: {out}" in " ".join(text.split())
    back = fc.read_front(out)
    document = json.loads(doc.read_text("utf-8"))
    result = fc.screen(back)
    for each in document["lines"]:
        at, quantity = result.station(each["station_mm"]), each["quantity"]
        found = None
        if quantity == "bumper_lead_mm":
            found = at.bumper_lead
        elif quantity.startswith(("UBRL", "LBRL", "BLERL", "BRRL")):
            found = getattr(getattr(at, quantity.split("_")[0]), quantity.split("_")[1], None)
        elif quantity.startswith("WAD"):
            found = getattr(at.wad(float(quantity.split("_")[1])), quantity.split("_")[2])
        if quantity != "BLERL_edge_angle_deg":
            assert found == (each["after"] and pytest.approx(each["after"], abs=1e-9))
    assert back.proposed == (
        document["moved"]["proposed_points"], document["moved"]["of_points"]
    )  # fmt: skip
    assert back.changes == tuple(document["moved"]["changes"])
    digest = hashlib.sha256((geometries / file).read_bytes()).hexdigest()
    assert back.changes[-1].startswith(f"{file}, sha256 {digest}")
    if name == "front file":
        shape = hashlib.sha256((geometries / "plover.stl").read_bytes()).hexdigest()
        assert f", plover.stl, sha256 {shape}, " in back.changes[-1]
    if name == "corrected":
        assert "inclined rearward by 0.4 deg" in back.changes[0]
        assert "turned by 0.2105 deg, front up" in back.changes[-1]
    first, rest = out.read_bytes().removeprefix(b"\xef\xbb\xbf").split(b"\n", 1)
    by = f"# made_by: what-if, frontcheck {fc.__version__}, sha256 "
    assert first.decode() == by + hashlib.sha256(rest).hexdigest()
    data = out.read_bytes()
    run(*given)  # what an earlier run left is ours, and the same again
    assert out.read_bytes() == data


def test_proposed_points_are_counted_in_all_that_comes_out(plover, tmp_path):
    out = tmp_path / "moved.csv"
    run(plover, "--upper-lip", "up:5", "--out", str(out))
    result = fc.screen(fc.read_front(out))
    said = "107 of 378 points proposed, not measured"
    assert result.front.not_measured == said
    assert result.front.name == "Plover (proposed)"
    shown = CliRunner().invoke(main, ["screen", str(out)]).stdout
    assert said in " ".join(shown.split())
    document = result.to_dict()["input"]
    assert (document["proposed_points"], document["of_points"]) == (107, 378)
    assert document["changes"][0].endswith(": upper lip up 5 mm")
    drawn = f"Plover (proposed): {said}. A drawing, not advice to alter a vehicle."
    assert drawn in result.to_dict()["cautions"]
    assert f"{said}; the others +/- 2 mm" in " ".join(shown.split())
    assert said in " ".join(fc.annex(result)["annex.html"].decode().split())
    plain = fc.screen(fc.read_front(plover)).to_dict()["input"]
    assert not {"proposed_points", "of_points", "changes"} & set(plain)
    # Moved again, what was proposed stays so, and both changes are told.
    again = tmp_path / "again.csv"
    assert run(str(out), "--leading-edge", "up:5", "--out", str(again))[0] == 0
    twice = fc.read_front(again)
    assert len(twice.changes) == 2
    for one, two in zip(result.front.sections, twice.sections, strict=True):
        assert not np.any(one.proposed & ~two.proposed)


REFUSED = {
    "no such way": ("plover.csv --nose sideways:3", "found nose to go 'sideways'; expected one of"),
    "no amount": ("plover.csv --nose up",
        "found 'up' for the nose; expected a way and an amount in mm, such as back:2"),
    "no number": ("plover.csv --recess deeper:ten",
        "found 'deeper:ten' for the recess; expected a way"),
    "not finite": ("plover.csv --nose up:nan", "found nose up = nan; expected a number from -500"),
    "beyond reach": ("plover.csv --face lean:60",
        "found face lean = 60; expected a number from -45 to 45 deg"),
    "no recess": ("avocet.csv --lower-lip up:3",
        "cannot be made: no recess to be seen, so no lower lip; expected"),
    "no depth": ("avocet.csv --recess deeper:3",
        "no recess to be seen, so no depth of it; expected"),
    "crossing": ("plover.csv --lower-lip up:300",
        "cannot be made: the contour would meet itself; expected"),
    "below the ground": ("plover.csv --ride-height down:240",
                         "the contour would go below the ground"),
    "beyond reach in all": ("plover.csv --nose up:400,down:-200",
                            "found nose up in all = 600; expected"),
    "in inches": ("plover.csv --nose up:0.8in", "a way and an amount in mm, such as back:2"),
    "no such station": ("plover.csv --nose up:3 --only-at 0,55", "found station 55 mm; expected"),
    "a table of nothing": ("plover.csv --out OUT", "found no move; expected a feature"),
    "no such file": ("kestrel.csv --nose up:3", "kestrel.csv"),
    "no such rules": ("plover.csv --nose up:3 --rules NONE", "NONE"),
    "not a table": ("plover.csv --nose up:3 --out moved.txt", "found no .csv; expected"),
    "no folder": ("plover.csv --nose up:3 --out none/moved.csv", "there is no folder none"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_done_is_refused_and_nothing_is_written(
    name, geometries, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    words, says = REFUSED[name]
    file, *rest = words.replace("OUT", "moved.csv").split()
    if "--out" not in rest:
        rest += ["--out", "moved.csv"]
    code, text, problem = run(str(geometries / file), *rest, "--json", "moved.json")
    assert (code, text) == (2, "")
    assert says in problem
    assert len(problem.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_stations_and_reasons_are_said(plover):
    front = fc.read_front(plover)
    made = fc.what_if(front, {"nose": {"down": 226}})
    assert (made.front, made.skin_moved_mm) == (None, None)
    low = tuple(s.y for s in front.sections if s.z.min() < 226)
    assert tuple(each.station for each in made.obstacles) == low
    assert made.in_the_way() == [
        f"at y = {', '.join(f'{y:g}' for y in low)} mm the contour would go below the ground"
    ]
    with pytest.raises(fc.errors.NotAvailableError, match="below the ground"):
        _ = made.after


def test_only_the_stations_named_are_moved(plover):
    made = fc.what_if(fc.read_front(plover), {"nose": {"up": 4}}, only_at=[0, 300])
    for one, two in zip(made.base.sections, made.front.sections, strict=True):
        assert np.array_equal(one.points, two.points) == (one.y not in (0, 300))
    assert made.front.changes[0].endswith("nose up 4 mm, at y = 0, 300 mm only")


def test_a_line_that_is_missing_gives_exit_code_1(tmp_path):
    path = tmp_path / "short.csv"
    path.write_text(
        "# datum: common\n# symmetric: yes\nstation_mm,height_mm,setback_mm,part\n"
        "0,200,200,underside\n0,300,40,bumper\n0,500,0,bumper\n0,750,60,bonnet\n0,800,200,bonnet\n"
    )
    code, text, _ = run(str(path), "--leading-edge", "up:5")
    assert code == 1
    assert "Not formed: WAD 1000 at y = 0 mm: " in " ".join(text.split())


@pytest.mark.parametrize("theirs", ["measured.csv", "front.toml", "beside.csv"])
def test_no_file_of_the_user_is_written_over(theirs, plover, tmp_path, monkeypatch):
    """Not another table, not the file read, not the table that a front file names."""
    monkeypatch.chdir(tmp_path)
    run(plover, "--nose", "up:1", "--out", "beside.csv")  # ours, but read below
    tmp_path.joinpath("front.toml").write_text(
        'name = "N"\nkind = "table"\nfiles = ["beside.csv"]\n', "utf-8"
    )
    tmp_path.joinpath("measured.csv").write_bytes(Path(plover).read_bytes())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    read = plover if theirs == "measured.csv" else "front.toml"
    code, _, problem = run(read, "--nose", "up:5", "--out", theirs)
    assert code == 2
    assert "name " in problem
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_names_from_outside_do_not_come_through(plover, tmp_path):
    out = tmp_path / "moved.csv"
    odd = '<b>"A"</b>, \x1b[31mred; # name: other |'
    front = replace(fc.read_front(plover), name=odd, notes="one\ntwo\t\u202ethree;", method="")
    made = fc.what_if(front, {"nose": {"up": 1}}).front
    out.write_bytes(fc.offset_table(made, "what-if"))
    back = fc.read_front(out)
    assert "\x1b" not in out.read_text("utf-8-sig")
    assert back.name.startswith('<b>"A"</b>, \\x1b[31mred')
    assert [s.points.tolist() for s in back.sections] == [s.points.tolist() for s in made.sections]
    code, text, _ = run(str(out), "--nose", "up:1")
    assert code == 0
    assert "\x1b" not in text


def test_an_origin_that_is_none_is_refused(plover, tmp_path):
    out = tmp_path / "moved.csv"
    run(plover, "--nose", "up:1", "--out", str(out))
    out.write_text(out.read_text("utf-8-sig").replace(",proposed", ",guessed", 1), "utf-8")
    with pytest.raises(fc.errors.InputError, match="origin 'guessed'; expected one of measured"):
        fc.read_front(out)


def test_rates_are_printed_as_the_document_has_them(geometries, tmp_path):
    out = tmp_path / "rates.json"
    code, text, _ = run(str(geometries / "avocet.csv"), "--json", str(out))
    rates = {
        (each["handle"], each["line"]): each
        for each in json.loads(out.read_text("utf-8"))["per_10mm"]["rates"]
    }
    assert code == 0
    assert "Not to be moved here (no recess to be seen): lower lip, upper lip, recess." in text
    shown = table_of(text, "for 10 mm or 1 deg of each (. stays)")
    heads = ["LBRL_x", "LBRL_z", "UBRL_x", "UBRL_z", "BLERL_x", "BLERL_z", "bumper_lead"]
    for name, cells in shown.items():
        for head, cell in zip(heads, cells, strict=True):
            unit = "deg" if name.startswith(("face", "bonnet slope")) else "mm"
            mm = rates[f"{name.replace(' ', '_')}_{unit}", f"{head}_mm"]["mm"]
            assert (
                cell == "*"
                if mm is None
                else (0.0 if cell == "." else float(cell)) == (pytest.approx(mm, abs=0.051))
            )


@pytest.mark.parametrize("seed", range(40))
def test_whatever_is_typed_ends_well(seed, geometries):
    """Any mixture of moves is made or refused in one line; what is made is a front."""
    rng = random.Random(seed)
    words = []
    for _ in range(rng.randint(1, 4)):
        way = rng.choice(["up", "down", "back", "forward", "deeper", "lean", "steeper", "", "<b>"])
        amount = rng.choice(["3", "-3", "40.5", "-120", "1e3", "nan", "", "x", "1,2", "2:3"])
        words += [f"--{rng.choice(FEATURES).replace('_', '-')}", f"{way}:{amount}"]
    file = rng.choice(["plover.csv", "avocet.csv"])
    code, text, problem = run(str(geometries / file), *words)
    assert code in (0, 1, 2)
    if code == 2:
        assert text == ""
        assert len(problem.splitlines()) == 1
        assert "; expected " in problem
    else:
        assert "The skin moves" in text


def test_frontcheck_alone_names_the_ways_in():
    done = CliRunner().invoke(main, [])
    assert done.exit_code == 0
    assert CAUTION_SHORT in done.stdout
    for way in ("frontcheck bench", "frontcheck worksheet", "frontcheck screen FILE"):
        assert way in done.stdout
    assert len(done.stdout.splitlines()) < 9


def test_setbacks_compare_even_from_local_datums(plover, tmp_path):
    """A move leaves the datum of each station where it was."""
    path = tmp_path / "local.csv"
    path.write_text(Path(plover).read_text("utf-8").replace("datum: common", "datum: local"))
    made, alike = (
        fc.what_if(fc.read_front(file), {"lower_lip": {"forward": 20}}) for file in (path, plover)
    )
    changes = [
        {(y, each.quantity): each.change for y, each in one.lines if "BRRL" not in each.quantity}
        for one in (made, alike)
    ]
    assert changes[0] == changes[1]
    assert changes[0][0.0, "LBRL_x_mm"] < -20

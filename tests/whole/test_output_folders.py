"""What stands in an output folder: a user's files whatever they are called, and ours as a whole."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from frontcheck import files as files_module
from frontcheck.cli import main
from frontcheck.errors import OutputError
from frontcheck.files import ASIDE, aside_name, clear_leftovers, held, write_file
from frontcheck.outputs.documents.folder import LIST, ready, write_folder

FILES = {"stations.csv": b"1,2\n", "screening.json": b"{}", "a view.png": b"\x89PNG"}
OTHERS = {"stations.csv": b"3,4\n", "plan.png": b"\x89PNGplan"}


def held_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def listed(files: dict[str, bytes]) -> set[str]:
    return {f"{hashlib.sha256(data).hexdigest()} {len(data)} {n}" for n, data in files.items()}


def is_whole(folder: Path, files: dict[str, bytes]) -> bool:
    found = held_in(folder)
    rows = found.pop(LIST, b"-").decode().splitlines()[1:]
    return found == files and set(rows) == listed(files) and len(rows) == len(files)


@pytest.fixture
def out(tmp_path: Path) -> Path:
    write_folder(tmp_path / "out", FILES)
    assert is_whole(tmp_path / "out", FILES)
    return tmp_path / "out"


def test_a_list_says_whose_the_folder_is_and_what_stands_in_it(out: Path) -> None:
    heading = (out / LIST).read_text("utf-8").splitlines()[0]
    assert heading.startswith("# Files that frontcheck wrote here")
    write_folder(out, OTHERS)
    assert is_whole(out, OTHERS)


def test_an_empty_folder_is_filled_and_keeps_its_mode(tmp_path: Path) -> None:
    place = tmp_path / "out"
    place.mkdir()
    place.chmod(0o700)
    write_folder(place, FILES)
    assert is_whole(place, FILES)
    assert place.stat().st_mode & 0o777 == 0o700
    write_folder(place, OTHERS)
    assert place.stat().st_mode & 0o777 == 0o700
    assert [each.name for each in tmp_path.iterdir()] == ["out"]


def test_links_are_followed(out: Path, tmp_path: Path) -> None:
    link, new = tmp_path / "link", tmp_path / "new"
    link.symlink_to(out)
    write_folder(link, OTHERS)
    assert link.is_symlink()
    assert is_whole(out, OTHERS)
    (tmp_path / "to new").symlink_to(new)
    write_folder(tmp_path / "to new", FILES)
    assert is_whole(new, FILES)
    (tmp_path / "kept.json").write_bytes(b"")
    (tmp_path / "kept.json").chmod(0o640)
    (tmp_path / "json").symlink_to(tmp_path / "kept.json")
    write_file(tmp_path / "json", b"{}")
    assert (tmp_path / "json").is_symlink()
    assert (tmp_path / "kept.json").read_bytes() == b"{}"
    assert (tmp_path / "kept.json").stat().st_mode & 0o777 == 0o640


def test_what_is_not_ours_stays(out: Path) -> None:
    (out / "notes.md").write_bytes(b"mine")
    (out / "sketches").mkdir()
    (out / "sketches" / "stations.csv").write_bytes(b"mine too")
    write_folder(out, OTHERS)
    assert (out / "sketches" / "stations.csv").read_bytes() == b"mine too"
    found = held_in(out)
    assert found.pop("notes.md") == b"mine"
    assert found.keys() == {*OTHERS, LIST}


@pytest.mark.parametrize("name", ["stations.csv", "plan.png"])
@pytest.mark.parametrize("kind", ["file", "folder", "link"])
def test_a_users_file_in_the_way_is_an_error_before_anything_is_written(
    out: Path, name: str, kind: str
) -> None:
    path = out / name
    path.unlink(missing_ok=True)
    if kind == "file":
        path.write_bytes(b"mine")
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to(out / "screening.json")
    before = held_in(out)
    with pytest.raises(OutputError, match=f"{name}: was .*; expected .*; move it away"):
        write_folder(out, OTHERS)
    assert held_in(out) == before
    assert path.is_symlink() == (kind == "link")
    assert path.is_dir() == (kind == "folder")


def test_a_list_that_names_a_users_files_takes_none(tmp_path: Path) -> None:
    """The user's own list, one that is not text, and one of ours that was written into."""
    mine = {"budget.xlsx": b"B", "notes.md": b"N"}
    for content in (b"budget.xlsx\nnotes.md\n", b"\xff\xfe\x00bad", b""):
        place = tmp_path / str(len(content))
        place.mkdir()
        for name, data in {**mine, LIST: content}.items():
            (place / name).write_bytes(data)
        with pytest.raises(OutputError, match="no list of ours"):
            write_folder(place, FILES)
        assert held_in(place) == {**mine, LIST: content}
    place = tmp_path / "ours"
    write_folder(place, FILES)
    (tmp_path / "outside.txt").write_bytes(b"mine")
    rows = [f"{'0' * 64} 1 budget.xlsx", f"{hashlib.sha256(b'mine').hexdigest()} 4 ../outside.txt"]
    with (place / LIST).open("a") as stream:
        stream.write("\n".join([*rows, "no row", ""]))
    (place / "budget.xlsx").write_bytes(b"B")
    with pytest.raises(OutputError, match=r"budget\.xlsx: was changed"):
        write_folder(place, FILES)
    (place / "budget.xlsx").unlink()
    write_folder(place, OTHERS)
    assert is_whole(place, OTHERS)
    assert (tmp_path / "outside.txt").read_bytes() == b"mine"


def test_working_folder_home_and_what_holds_them_are_refused(tmp_path, monkeypatch) -> None:
    home, here = tmp_path / "home", tmp_path / "here" / "below"
    home.mkdir()
    here.mkdir(parents=True)
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.chdir(here)
    for place in (".", "..", "/", "~", str(home), str(tmp_path), "../below/../../here"):
        with pytest.raises(OutputError, match="working folder, your home"):
            ready(Path(place).expanduser())
    assert ready(here / "out") == here / "out"


def test_the_command_refuses_before_any_work(tmp_path: Path, monkeypatch) -> None:
    """The front does not even exist."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "budget.xlsx").write_bytes(b"B")
    (tmp_path / "ours").mkdir()
    write_folder(tmp_path / "ours", FILES)
    (tmp_path / "ours" / "lines.csv").write_bytes(b"mine")
    for out, said in (("mine", "no list of ours"), ("..", "working folder"), ("ours", "lines.csv")):
        for command in ("screen", "annex", "compare", "leg", "motion", "tolerance"):
            if command != "screen" and out == "ours":
                continue
            second = ["no.csv"] if command == "compare" else []
            got = CliRunner().invoke(main, [command, "no.csv", *second, "--out", out])
            assert got.exit_code == 2
            assert said in got.stderr
            assert "no.csv" not in got.stderr


def test_a_place_that_cannot_be_written_is_said_plainly(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for place in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(OutputError, match="name a place you may write to"):
            write_folder(place, FILES)
    assert (tmp_path / "file").read_text() == "x"


def test_a_second_run_waits_and_then_says_who_holds_the_folder(out: Path, monkeypatch) -> None:
    monkeypatch.setattr(files_module, "_WAIT_S", 0.2)
    with held(out):
        with pytest.raises(OutputError, match=rf"another run \(process {os.getpid()} on .+\)"):
            write_folder(out, OTHERS)
        assert is_whole(out, FILES) or LIST in held_in(out)
    monkeypatch.setattr(files_module, "_WAIT_S", 10.0)
    going, done = threading.Event(), threading.Event()

    def hold() -> None:
        with held(out):
            going.set()
            done.wait(0.5)

    holder = threading.Thread(target=hold)
    holder.start()
    going.wait(5.0)
    write_folder(out, OTHERS)
    holder.join()
    assert is_whole(out, OTHERS)


TWO = """
big = {f"{n:02d}.bin": bytes([n]) * 4000 for n in range(40)}
small = {f"{n:02d}.bin": bytes([n]) * 10 for n in range(0, 40, 3)} | {"new.bin": b"new"}
"""
WRITES = f"""
import sys
from pathlib import Path
from frontcheck.outputs.documents.folder import write_folder
{TWO}
versions = [globals()[name] for name in sys.argv[2].split()]
print("ready", flush=True)
for turn in range(int(sys.argv[3])):
    write_folder(Path(sys.argv[1]), versions[turn % len(versions)])
"""
MADE: dict[str, dict[str, bytes]] = {}
exec(TWO, MADE)
BIG, SMALL = MADE["big"], MADE["small"]


def writer(place: Path, versions: str, turns: int) -> subprocess.Popen[bytes]:
    args = [sys.executable, "-c", WRITES, str(place), versions, str(turns)]
    process = subprocess.Popen(args, stdout=subprocess.PIPE)
    assert process.stdout is not None
    with process.stdout:
        assert process.stdout.readline() == b"ready\n"
    return process


def test_two_runs_at_once_leave_the_whole_folder_of_one(tmp_path: Path) -> None:
    for turn in range(6):
        place = tmp_path / str(turn)
        both = [writer(place, "big", 3), writer(place, "small", 3)]
        assert [process.wait(30.0) for process in both] == [0, 0]
        assert is_whole(place, BIG) or is_whole(place, SMALL)
    assert sorted(path.name for path in tmp_path.iterdir()) == [str(n) for n in range(6)]


DIES = """
import os, sys
from pathlib import Path
from frontcheck.outputs.documents.folder import write_folder
left = int(sys.argv[2])
for name in ("write_bytes", "replace", "unlink", "mkdir"):
    def dying(self, *args, known=getattr(Path, name), **options):
        global left
        left -= 1
        if left < 0:
            os._exit(9)
        return known(self, *args, **options)
    setattr(Path, name, dying)
write_folder(Path(sys.argv[1]), eval(sys.argv[3]))
"""


def test_killed_at_any_step_every_file_is_whole_and_the_next_run_makes_it_good(
    tmp_path: Path,
) -> None:
    states = set()
    for step in range(40):
        place = tmp_path / str(step)
        write_folder(place, FILES)
        (place / "notes.md").write_bytes(b"mine")
        args = [sys.executable, "-c", DIES, str(place), str(step), repr(OTHERS)]
        code = subprocess.run(args, check=False).returncode
        found = {n: data for n, data in held_in(place).items() if not n.startswith(".frontcheck-")}
        assert found.pop("notes.md") == b"mine"
        del found[LIST]
        for name, data in found.items():
            assert data in (FILES.get(name), OTHERS.get(name)), name
        states.add(tuple(sorted(found.items())))
        write_folder(place, SMALL)
        (place / "notes.md").unlink()
        assert is_whole(place, SMALL)
        if code == 0:
            break
        assert code == 9
    assert code == 0
    assert len(states) >= 4  # old, new, and some between


def test_killed_while_a_new_folder_is_made_there_is_none(tmp_path: Path) -> None:
    for step in range(1, 40):
        place = tmp_path / str(step)
        args = [sys.executable, "-c", DIES, str(place), str(step), repr(FILES)]
        code = subprocess.run(args, check=False).returncode
        if code == 0:
            break
        assert code == 9
        assert not place.exists()
    assert step > len(FILES)
    assert is_whole(place, FILES)


def test_leftovers_of_the_dead_go_after_a_day(tmp_path: Path, monkeypatch) -> None:
    ended = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"],
                           capture_output=True, check=True)  # fmt: skip
    own, host = aside_name(), files_module._host()
    dead = f"{ASIDE}{host}-{int(ended.stdout)}-aa"
    fresh, far, other = f"{dead}1", f"{ASIDE}00000000-{int(ended.stdout)}-aa", f"{ASIDE}mine"
    for name in (own, dead, fresh, far, other):
        (tmp_path / name).mkdir()
        (tmp_path / name / "part").write_bytes(b"x")
        if name != fresh:
            os.utime(tmp_path / name, (0, time.time() - 90_000.0))
    clear_leftovers(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([own, fresh, far, other])
    os.utime(tmp_path / fresh, (0, time.time() - 90_000.0))
    write_folder(tmp_path / "out", FILES)
    assert not (tmp_path / fresh).exists()

"""Records of checks put together, refused, kept and compared, with planted differences."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from copy import deepcopy
from itertools import permutations
from pathlib import Path

import msgspec
import pytest

from frontcheck.errors import InputError
from frontcheck.outputs.pages.check_records import (
    ChecksDocument,
    packaged_records,
    record_bytes,
    records_in,
)

SCRIPT = Path(__file__).resolve().parents[2] / ".ci" / "check_records.py"
SPEC = importlib.util.spec_from_file_location("check_records", SCRIPT)
assert SPEC is not None
assert SPEC.loader is not None
script = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(script)

WORST = {"case": "a", "held": True, "ours": 1.25, "expected": 1.0, "difference": 0.25,
         "tolerance": 0.5, "share": 0.5}  # fmt: skip
CHECK = {
    "id": "one", "kind": "closed form", "quantity": "height", "unit": "mm",
    "source": {"title": "by hand", "known": "derived"}, "why": "planted", "file": "test_one.py",
    "cases": 3, "failing": 0, "worst": WORST,
}  # fmt: skip


def written(folder: Path, *parts: dict) -> Path:
    """Records of processes, one file each."""
    folder.mkdir(exist_ok=True)
    for i, part in enumerate(parts):
        (folder / f"gw{i}.json").write_text(json.dumps(part))
    return folder


def part(*checks: dict, failed: tuple[str, ...] = (), numpy: str = "2.0") -> dict:
    versions = {"frontcheck": "0.1.0", "numpy": numpy}
    head = {"schema": "frontcheck.checks/1", "versions": versions}
    return {**head, "failed_tests": list(failed), "checks": list(checks)}


def check(**other) -> dict:
    return {**deepcopy(CHECK), **other}


def test_cases_of_processes_are_added_and_the_worst_is_kept(tmp_path) -> None:
    parts = (
        part(check()),
        part(check(cases=2, worst={**WORST, "case": "b", "share": 0.75})),
        part(check(cases=0, worst=None), check(id="two", cases=0, worst=None), failed=("t::x",)),
        part(check(cases=4, failing=1, worst={**WORST, "case": "c", "held": False, "share": 1.5})),
    )
    seen = set()
    for i, order in enumerate(permutations(parts)):
        merged = records_in(written(tmp_path / str(i), *order))
        seen.add(record_bytes(merged))
    assert len(seen) == 1
    one, two = merged.checks
    assert (one.cases, one.failing, one.worst.case, one.state) == (9, 1, "c", "fails")
    assert (two.id, two.state) == ("two", "not run")
    assert merged.failed_tests == ["t::x"]
    assert not merged.good


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ((), "no records of checks"),
        ((part(check()), part(check(), numpy="2.1")), "other versions"),
        ((part(check()), part(check(why="another"))), "another check one"),
        ((part(check(kind="proven")),), "gw0.json"),
        ((part(check(cases=-1)),), "gw0.json"),
        (({"schema": "frontcheck.leg/1"},), "gw0.json"),
    ],
)
def test_what_is_no_record_of_one_run_is_refused(tmp_path, parts, words) -> None:
    with pytest.raises(InputError, match=words):
        records_in(written(tmp_path / "left", *parts))


def test_records_are_kept_as_they_are_read(tmp_path) -> None:
    merged = records_in(written(tmp_path / "left", part(check())))
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "records.json").write_bytes(record_bytes(merged))
    assert records_in(tmp_path / "kept") == merged


def compared(before: dict, after: dict) -> list[str]:
    read = [msgspec.convert(each, ChecksDocument) for each in (before, after)]
    return sorted(script.differences(*read))


@pytest.mark.parametrize(
    ("after", "words"),
    [
        (part(check()), None),
        (part(check(worst={**WORST, "share": 0.6, "ours": 1.3})), None),
        (part(check(worst={**WORST, "share": 0.9})), "uses 0.9 of its tolerance"),
        (part(check(cases=4)), "4 cases in place of 3"),
        (part(check(), check(id="two")), "two: is not in the records kept"),
        (part(check(id="two")), "one: is not checked any more"),
        (part(check(cases=3, failing=1)), "one: fails"),
        (part(check(cases=0, worst=None)), "one: not run"),
        (part(check(), failed=("test_one.py::test_x",)), "test_one.py::test_x: failed"),
        (part(check(why="another")), "described in other words"),
    ],
)
def test_differences_from_the_records_kept_are_told(after, words) -> None:
    found = compared(part(check()), after)
    assert bool(found) == (words is not None)
    assert words is None or words in " ".join(found)


def test_of_people_who_are_struck_no_more_is_asked_than_to_hold() -> None:
    before, after = (
        part(check(id="motion-x", worst={**WORST, "share": share})) for share in (0.1, 0.9)
    )
    assert compared(before, after) == []


def test_the_script_says_how_to_make_them_anew(tmp_path) -> None:
    left = written(tmp_path / "left", part(check(id="planted-anew")))
    command = [sys.executable, str(SCRIPT), "compare", str(left)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr
    assert "planted-anew: is not in the records kept" in done.stdout
    assert "check_records.py keep" in done.stdout


def test_the_records_of_this_version_hold_and_name_what_is_there() -> None:
    kept, root = packaged_records(), SCRIPT.parents[1]
    assert kept.good
    assert len(kept.checks) > 40
    assert {each.kind for each in kept.checks} == {
        "closed form", "independent method", "published value", "population plausibility",
    }  # fmt: skip
    for each in kept.checks:
        text = (root / each.file).read_text("utf-8")
        assert f'"{each.id}"' in text, each.id
    # Every check that the tests declare is in the records.
    declared = sum(
        path.read_text("utf-8").count(" = Check(\n")
        for path in (root / "tests/validation").glob("*.py")
    )
    assert declared == sum(each.file.startswith("tests/validation") for each in kept.checks)

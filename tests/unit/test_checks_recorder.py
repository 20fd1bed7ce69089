"""The recorder of checks, on planted failures, and what a run of tests leaves behind."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from checks import Check, Records, Source

TESTS = Path(__file__).resolve().parents[1]
KEPT = {"kind": "closed form", "quantity": "height", "unit": "mm", "why": "a planted one"}
SOURCE = Source("by hand", known="derived")


@pytest.fixture
def records() -> Records:
    return Records()


@pytest.fixture
def check(records) -> Check:
    return Check("planted", source=SOURCE, records=records, **KEPT)


def test_the_worst_of_all_cases_is_kept(check):
    check.compare(500.0, 500.25, tolerance=0.5, case="middling")
    check.compare([1.0, 2.0, 3.0], [1.0, 2.04, 3.4], tolerance=0.5, case="worst")
    check.compare(7.0, 7.0, tolerance=0.5, case="exact")
    assert (check.cases, check.failing) == (5, 0)
    worst = check.record()["worst"]
    assert worst["case"] == "worst #3"
    assert (worst["expected"], worst["ours"]) == (3.0, 3.4)
    assert (worst["difference"], worst["tolerance"], worst["share"]) == (0.4, 0.5, 0.8)


def test_a_failing_case_is_recorded_before_it_is_raised(check):
    check.compare(1.0, 1.0, tolerance=0.1)
    with pytest.raises(AssertionError, match=r"planted: 1 of 2 cases fail; x #2: expected 2\.0"):
        check.compare([1.0, 2.0], [1.0, 2.5], tolerance=0.1, case="x")
    check.compare([1.0], [1.09], tolerance=0.1, case="later, and held")
    assert (check.cases, check.failing) == (4, 1)
    worst = check.record()["worst"]
    assert (worst["case"], worst["held"], worst["difference"]) == ("x #2", False, 0.5)


@pytest.mark.parametrize(
    ("expected", "ours"),
    [
        (1.0, float("nan")), (float("nan"), float("nan")), (1.0, None), (None, 1.0),
        ([1.0, 2.0], [1.0]), (1.0, float("inf")), (1.0, 1.0 + 2e-9), ([1.0], [1.0, 1.1]),
    ],
)  # fmt: skip
def test_what_is_not_known_or_not_equal_never_holds(check, expected, ours):
    with pytest.raises(AssertionError):
        check.compare(expected, ours, tolerance=1e-9)
    assert check.failing >= 1
    assert not check.record()["worst"]["held"]
    json.dumps(check.record(), allow_nan=False)


def test_a_relative_tolerance_is_of_what_is_expected(check):
    check.compare(-200.0, -201.0, relative=0.01)
    assert check.record()["worst"]["tolerance"] == 2.0
    with pytest.raises(AssertionError):
        check.compare(100.0, 102.0, relative=0.01)


def test_no_tolerance_is_none(check):
    check.compare(3, 3, tolerance=0)
    assert check.record()["worst"]["share"] == 0.0
    with pytest.raises(AssertionError):
        check.compare(3, 4, tolerance=0)
    with pytest.raises(ValueError, match="tolerance"):
        check.compare(3, 3)


def test_ranges_and_words(check):
    check.between(0.93, 0.90, case="one limit")
    check.between([0.0, 1.0], -2.0, 2.0, case="two")
    worst = check.record()["worst"]
    assert (worst["case"], worst["ours"], worst["low"], worst["high"]) == (
        "one limit", 0.93, 0.9, None,
    )  # fmt: skip
    assert worst["share"] == pytest.approx(0.97)
    check.same("ok", "ok")
    assert (check.cases, check.failing) == (4, 0)
    for planted in (
        lambda: check.between(0.89, 0.90),
        lambda: check.between(float("nan"), high=1.0),
        lambda: check.between(None, 0.0),
        lambda: check.between([0.0, 3.0], -2.0, 2.0),
        lambda: check.same("ok", "unknown"),
    ):
        with pytest.raises(AssertionError):
            planted()
    assert check.failing == 5


def test_rounding_of_doubles_leaves_no_trace(records):
    """What a processor does in the last digit must not choose the worst case nor be written."""
    written = []
    for noise in (0.0, 3e-13, -7e-12):
        one = Check(f"noise-{len(written)}", source=SOURCE, records=records, **KEPT)
        one.compare([556.0, 0.0, 1.0 / 3.0], [556.0, noise, 1.0 / 3.0 + noise], tolerance=1e-6)
        written.append(one.record()["worst"])
    assert written[0] == written[1] == written[2]
    assert (written[0]["difference"], written[0]["share"]) == (0.0, 0.0)


def test_order_of_the_cases_does_not_matter(records):
    cases = [("b", 1.0, 1.25), ("a", 2.0, 2.25), ("c", 3.0, 3.1)]
    written = []
    for order in (cases, cases[::-1]):
        one = Check(f"order-{len(written)}", source=SOURCE, records=records, **KEPT)
        for case, expected, ours in order:
            one.compare(expected, ours, tolerance=0.5, case=case)
        written.append(one.record()["worst"])
    assert written[0] == written[1]
    assert written[0]["case"] == "a"


@pytest.mark.parametrize(
    "other",
    [{"kind": "proven"}, {"why": ""}, {"quantity": ""}, {"name": "Two Words"}, {"name": "planted"}],
)
def test_a_check_says_what_it_must(records, check, other):
    told = {"name": "another", "source": SOURCE, "records": records, **KEPT, **other}
    with pytest.raises(ValueError, match=r"is one of|needs an id|two checks"):
        Check(told.pop("name"), **told)


def test_a_source_says_how_it_is_known():
    with pytest.raises(ValueError, match="known"):
        Source("a book")


RUN = """
import pytest
from checks import Check, Source

SOURCE = Source("by hand", known="derived")
KEPT = dict(kind="closed form", quantity="height", unit="mm", why="planted", source=SOURCE)
HELD = Check("held", **KEPT)
FAILS = Check("fails", **KEPT)
NOT_RUN = Check("not-run", **KEPT)

@pytest.mark.parametrize("x", [1.0, 2.0, 3.0])
def test_held(x):
    HELD.compare(x, x, tolerance=0.1)

def test_fails():
    FAILS.compare(1.0, 2.0, tolerance=0.1)

def test_never_gets_there():
    raise RuntimeError
    NOT_RUN.compare(1.0, 1.0, tolerance=0.1)
"""


def run(folder: Path, workers: int, wanted: bool = True) -> list[dict]:
    """Records of a run of the planted tests; the run itself must have failed."""
    (folder / "test_planted.py").write_text(RUN)
    (folder / "conftest.py").write_text((TESTS / "conftest.py").read_text())
    (folder / "pytest.ini").write_text("[pytest]\n")
    left = folder / "records"
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("FRONTCHECK_", "PYTEST_"))}
    said = {"FRONTCHECK_CHECKS": str(left)} if wanted else {}
    command = [sys.executable, "-m", "pytest", "-q", f"-n{workers}", "-p", "no:cacheprovider"]
    done = subprocess.run(
        command, cwd=folder, env={**kept, **said, "PYTHONPATH": str(TESTS)}, check=False,
        capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 1, done.stdout + done.stderr
    return [json.loads(path.read_text()) for path in sorted(left.glob("*"))]


@pytest.mark.parametrize("workers", [0, 2])
def test_each_process_of_a_run_leaves_its_records(tmp_path, workers):
    left = run(tmp_path, workers)
    assert len(left) == max(workers, 1)
    counts = dict.fromkeys(("held", "fails", "not-run"), (0, 0))
    for document in left:
        assert [check["id"] for check in document["checks"]] == ["fails", "held", "not-run"]
        for check in document["checks"]:
            cases, failing = counts[check["id"]]
            counts[check["id"]] = (cases + check["cases"], failing + check["failing"])
    assert counts == {"held": (3, 0), "fails": (1, 1), "not-run": (0, 0)}
    failed = {node for document in left for node in document["failed_tests"]}
    assert failed == {"test_planted.py::test_fails", "test_planted.py::test_never_gets_there"}


def test_nothing_is_left_when_nothing_is_wanted(tmp_path):
    assert run(tmp_path, 0, wanted=False) == []

"""Slips of measuring and typing put into made-up fronts: how many are noticed, and false alarms.

The fronts (tests/varied_fronts.py) are of six kinds and none of them the project's demonstration
shapes; a slip is put into the text of an offset table, which is then read as a user's would be. A
slip counts as noticed where the table is refused or something is said of it. Bounds are the
requirement (false alarms at most 3 in 100, whole columns always) or, for single rows, what was
measured here less three standard deviations of a share counted in so many fronts.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from checks import Check, derived
from varied_fronts import KINDS, Array, Table, check_front, measured, rows_of

import frontcheck as fc
from frontcheck.errors import InputError
from frontcheck.front.plausible import NOT_FOUND

FRONTS = 500
NOTICED = Check(
    "slips-noticed",
    kind="independent method",
    quantity="share of slips of one row, or one station, that are noticed on generated fronts",
    source=derived("fronts of six kinds, made in the tests"),
    why="the range that is said of each kind of slip, and the scatter of the sample",
)
ALARMS = Check(
    "slips-false-alarms",
    kind="independent method",
    quantity="share of generated fronts without a slip that are doubted",
    source=derived("fronts of six kinds, made in the tests"),
    why="own choice: at most 3 in 100, and 2 without hints",
)
SLIPS = 240

Rows = Array
"""(n, 3): station, height, setback [mm]."""


@pytest.fixture(scope="module")
def fronts() -> list[Table]:
    rng = np.random.default_rng(1)
    return [measured(list(KINDS)[i % 6], rng) for i in range(FRONTS)]


def rows(table: Table) -> Rows:
    return np.array([(y, z, x) for y, points in table for x, z in points])


def text(rows: Rows, right: Rows | None = None) -> str:
    """An offset table; a front with stations on one side is half of a symmetric one."""
    y = (rows if right is None else right)[:, 0]  # nobody changes the header with a slip
    half = (y >= 0.0).all() or (y <= 0.0).all()
    out = io.StringIO()
    np.savetxt(out, rows, fmt="%.6g", delimiter=",", comments="", header="\n".join([
        "# name: Made up", "# datum: common", f"# symmetric: {'yes' if half else 'no'}",
        "station_mm,height_mm,setback_mm",
    ]))  # fmt: skip
    return out.getvalue()


def seen(rows: Rows, path, right: Rows | None = None) -> tuple[fc.Doubt, ...] | None:
    """What is said of a table, whose header is that of the right one; None where it is refused."""
    path.write_text(text(rows, right))
    try:
        front = fc.read_front(path)
    except InputError:
        return None
    return fc.plausibility(front)


def by_station(rows: Rows, order: Callable[[Rows], Rows]) -> Rows:
    return np.concatenate([order(rows[rows[:, 0] == y]) for y in dict.fromkeys(rows[:, 0])])


WHOLE: dict[str, Callable[[Rows], Rows]] = {
    "heights in cm": lambda r: r * (1, 0.1, 1),
    "setbacks in cm": lambda r: r * (1, 1, 0.1),
    "stations in cm": lambda r: r * (0.1, 1, 1),
    "all in cm": lambda r: r * 0.1,
    "all in m": lambda r: r * 0.001,
    "all in inches": lambda r: r / 25.4,
    "heights in inches": lambda r: r / (1, 25.4, 1),
    "setbacks in inches": lambda r: r / (1, 1, 25.4),
    "all ten times": lambda r: r * 10.0,
    "heights ten times": lambda r: r * (1, 10, 1),
    "setbacks ten times": lambda r: r * (1, 1, 10),
    "stations ten times": lambda r: r * (10, 1, 1),
    "heights and setbacks swapped": lambda r: r[:, [0, 2, 1]],
    "stations and heights swapped": lambda r: r[:, [1, 0, 2]],
    "stations and setbacks swapped": lambda r: r[:, [2, 1, 0]],
    "setbacks forward": lambda r: r * (1, 1, -1),
    "heights downward": lambda r: r * (1, -1, 1),
    "stations without sign": lambda r: np.abs(r) * (1, 0, 0) + r * (0, 1, 1),
    "rows from the top": lambda r: by_station(r, lambda own: own[::-1]),
    "all from the end": lambda r: r[::-1],
    "rows by setback": lambda r: by_station(r, lambda own: own[np.argsort(own[:, 2])]),
}


@pytest.mark.parametrize("slip", WHOLE)
def test_a_slip_of_a_whole_column_is_always_noticed(slip: str, fronts, tmp_path) -> None:
    tried = 0
    for table in fronts[:120]:
        right = rows(table)
        if "station" in slip and "swapped" not in slip and len(table) == 1:
            continue  # one station, at the centre: nothing changes
        wrong = WHOLE[slip](right)
        if not np.array_equal(wrong, right):
            tried += 1
            assert seen(wrong, tmp_path / "front.csv") != (), table
    assert tried >= 20


def test_false_alarms(fronts) -> None:
    """At most 3 in 100; without hints at most 2."""
    found = []
    for table in fronts:
        sections = tuple(fc.Section(points, y) for y, points in table)
        doubts = fc.plausibility(fc.Front(sections, symmetric=table[0][0] >= 0.0))
        found.append((bool(doubts), any(not doubt.hint for doubt in doubts)))
    alarms, sure = np.mean(found, axis=0)
    print(f"false alarms {100 * alarms:.1f} %, without hints {100 * sure:.1f} %")  # noqa: T201
    ALARMS.between(alarms, None, 0.03, case="hints too")
    ALARMS.between(sure, None, 0.02, case="without hints")


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_corners_that_are_cut_away_are_no_slips(name, geometries) -> None:
    """Shapes of others' making would be better: these two change most from station to station."""
    front = fc.read_front(geometries / f"{name}.csv")
    for some in combinations(front.sections, 3):
        found = fc.plausibility(replace(front, sections=some))
        assert [doubt for doubt in found if "outermost station" not in doubt.what] == []


def one_cell(change: Callable[[float, np.random.Generator], float], least: float = 0.0):
    """A slip in one height or setback."""

    def slip(rows: Rows, rng: np.random.Generator) -> Rows:
        cells = np.argwhere(np.abs(rows[:, 1:]) >= max(least, 1.0))
        i, column = cells[rng.integers(len(cells))]
        out = rows.copy()
        out[i, 1 + column] = change(out[i, 1 + column], rng)
        return out

    return slip


def off(by: float):
    return one_cell(lambda value, rng: value + by * rng.choice([-1.0, 1.0]))


def digits(value: float, rng: np.random.Generator) -> float:
    said = f"{abs(value):.0f}"
    i = rng.integers(len(said) - 1)
    return math.copysign(float(said[:i] + said[i + 1] + said[i] + said[i + 2 :]), value)


def two_rows(rows: Rows, rng: np.random.Generator) -> Rows:
    same = np.flatnonzero(rows[1:, 0] == rows[:-1, 0])
    i = int(rng.choice(same))
    out = rows.copy()
    out[[i, i + 1]] = out[[i + 1, i]]
    return out


def station_off(rows: Rows, rng: np.random.Generator) -> Rows:
    y = rng.choice(np.unique(rows[:, 0]))
    out = rows.copy()
    out[rows[:, 0] == y, 0] += 50.0 * rng.choice([-1.0, 1.0])
    return out


# What of 240 is noticed: at least, and at most. Measured over three seeds of 500 fronts [%]: ten
# times 99, a tenth 93 to 95, sign 99, rows swapped 99, 100 mm 79 to 81, 50 mm 26 to 34, 20 mm 1,
# digits swapped 45 to 56, station 33 to 40. NOT_FOUND is what is said of those that are small.
SINGLE = {
    "ten times": (one_cell(lambda value, _: 10.0 * value), 0.95, 1.0),
    "a tenth": (one_cell(lambda value, _: value / 10.0, 20.0), 0.89, 1.0),
    "sign": (one_cell(lambda value, _: -value, 30.0), 0.95, 1.0),
    "rows swapped": (two_rows, 0.96, 1.0),
    "100 mm": (off(100.0), 0.66, 0.9),
    "50 mm": (off(50.0), 0.16, 0.37),
    "20 mm": (off(20.0), 0.0, 0.05),
    "digits swapped": (one_cell(digits, 30.0), 0.4, 0.7),
    "station 50 mm": (station_off, 0.24, 0.5),
}


@pytest.mark.parametrize("name", SINGLE)
def test_slips_of_single_rows_are_noticed_as_often_as_is_said(name, fronts, tmp_path) -> None:
    slip, least, most = SINGLE[name]
    rng = np.random.default_rng(7)
    noticed = np.mean(
        [
            seen(slip(rows(each), rng), tmp_path / "a.csv", rows(each)) != ()
            for each in fronts[:SLIPS]
        ]
    )
    print(f"{name}: {100 * noticed:.0f} %")  # noqa: T201
    NOTICED.between(noticed, least, most, case=name)


def test_what_is_said_of_small_slips_is_what_was_measured() -> None:
    assert NOT_FOUND == (
        "Small slips are not found: of those of 20 mm in one row nearly none, of 50 mm one in "
        "four, of 100 mm four in five, of stations written 50 mm off one in three."
    )


@pytest.fixture(scope="module")
def check() -> Rows:
    """The closed-form front at seven stations, as it would be measured to 1 mm."""
    rng = np.random.default_rng(2)
    stations = (0.0, 120.0, 240.0, 360.0, 480.0, 600.0, 720.0)
    return rows([(y, np.round(rows_of(check_front(y), rng, 0.5))) for y in stations])


def slipped(check: Rows) -> tuple[int, Rows]:
    """The same with one row of the face 120 mm too far forward."""
    face = np.flatnonzero((check[:, 0] == 240.0) & (np.abs(check[:, 1] - 650.0) < 60.0))
    at, wrong = int(face[len(face) // 2]), check.copy()
    wrong[at, 2] -= 120.0
    return at, wrong


def test_the_rows_of_a_slip_are_named(check, tmp_path) -> None:
    """Rows are those of the file: four lines stand above the first."""
    path = tmp_path / "check.csv"
    assert seen(check, path) == ()
    at, wrong = slipped(check)
    doubts = seen(wrong, path)
    assert doubts
    # The contour turns back at the row before, too; beside it a station seems to stand back.
    assert all(at + 5 in doubt.rows for doubt in doubts)
    assert all(f"row {at + 5} at y = 240 mm" in doubt.what for doubt in doubts)
    assert next(d for d in doubts if d.what.startswith("far off")).rows == (at + 5,)
    high, at = check.copy(), len(check) - 9
    high[at, 1] *= 10.0
    first = seen(high, path)[0]
    assert first.rows == (at + 5,)
    assert f"is {10.0 * check[at, 1]:g} mm above the ground" in first.what


def test_a_step_in_plan_is_a_hint_only(check, tmp_path) -> None:
    wrong = check.copy()
    wrong[check[:, 0] == 360.0, 2] += 40.0
    (doubt,) = seen(wrong, tmp_path / "step.csv")
    assert doubt.hint
    assert "y = 360 mm" in doubt.what


def test_a_station_off_the_even_spacing_is_a_hint_only(check, tmp_path) -> None:
    """Of 0, 120, 240, ... 720 mm one is written 50 mm off; two ends, or two off, say nothing."""
    path = tmp_path / "spacing.csv"
    for off in (50.0, -50.0):
        wrong = check.copy()
        wrong[check[:, 0] == 360.0, 0] += off
        (doubt,) = seen(wrong, path)
        assert doubt.hint
        assert f"y = {360.0 + off:g} mm" in doubt.what
    end = check.copy()
    end[check[:, 0] == 720.0, 0] += 50.0
    assert seen(end, path) == ()
    two = check.copy()
    two[check[:, 0] == 240.0, 0] += 50.0
    two[check[:, 0] == 480.0, 0] -= 30.0
    assert seen(two, path) == ()


def test_rows_that_nobody_typed_are_not_looked_at_one_by_one(check, tmp_path) -> None:
    path, (_, wrong) = tmp_path / "check.csv", slipped(check)
    assert seen(wrong, path)
    front = fc.read_front(path)
    drawn = replace(front, source=replace(front.source, kind="dxf"))
    assert fc.plausibility(drawn) == ()
    cm = tuple(fc.Section(s.points / 10.0, s.y) for s in drawn.sections)
    assert fc.plausibility(replace(drawn, sections=cm))


def test_a_front_made_in_memory_names_points_of_its_stations() -> None:
    cm = fc.Section([(6, 23), (0, 48), (20, 80), (90, 93)])
    first, *_ = fc.plausibility(fc.Front((cm,)))
    assert first.rows == (1,)
    assert "point 1 at y = 0 mm, is 23 mm above the ground" in first.what


def test_thousands_of_rows_take_no_long_time() -> None:
    turn = np.linspace(0.0, 1.5, 20_000)
    points = np.stack([1000.0 - 1000.0 * np.cos(turn), 200.0 + 700.0 * np.sin(turn)], axis=1)
    sections = tuple(fc.Section(points + np.array([y / 50.0, 0.0]), y) for y in (0.0, 300.0, 600.0))
    assert all(not doubt.hint for doubt in fc.plausibility(fc.Front(sections)))

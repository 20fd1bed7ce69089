"""Checks of the calculation, recorded while they are asserted: `Check`, `Source`.

A check is declared once, with what it is held against and why its tolerance is what it is. Tests
call `compare`, `between` or `same`, which count the case, keep the worst and then assert. With the
environment variable FRONTCHECK_CHECKS naming a folder, each process of a test run leaves a file
there (tests/conftest.py); `frontcheck checks` makes the page of checks from them. Its six sides
have room for about 100 checks: one row a quantity, whatever the parameters of its tests, and texts
of a line or two.
"""

from __future__ import annotations

import json
import math
import os
import re
import sys
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import structs

from frontcheck.outputs.pages.check_records import WorstEntry

KINDS = ("closed form", "independent method", "published value", "population plausibility")
KNOWN = ("read", "memory", "derived")
BY = ("frontcheck", "numpy", "scipy", "shapely")
"""Of what the versions are written down."""
ROOT = Path(__file__).resolve().parents[1]
NOISE = 1e-3
"""A share of the tolerance below this is rounding of doubles, which hangs on the processor: such
differences are all alike."""
VALUE_DIGITS = 6
SHORT = 48
"""Letters of the name of a case and of a word that is compared."""


@dataclass(frozen=True)
class Source:
    """Where the other value comes from; what is not stated is left empty.

    `known`: "read" (we had the text), "memory" (cited from memory), "derived" (by us, here).
    """

    title: str
    author: str = ""
    year: str = ""
    where: str = ""
    known: str = ""

    def __post_init__(self) -> None:
        if self.known not in KNOWN or not self.title:
            raise ValueError(f"a source needs a title, and known to be one of {KNOWN}")


def derived(where: str) -> Source:
    """Return a formula worked out in the test itself as a source."""
    return Source("own derivation, in the test", where=where, known="derived")


@dataclass
class Records:
    """The checks declared in a process, by id, and tests that failed in their files."""

    checks: dict[str, Check] = field(default_factory=dict)
    failed: set[str] = field(default_factory=set)

    def document(self) -> dict[str, Any]:
        """What is written: the same for the same versions, in whatever order tests ran."""
        checks = [self.checks[name].record() for name in sorted(self.checks)]
        files = {check["file"] for check in checks}
        failed = sorted(node for node in self.failed if node.partition("::")[0] in files)
        versions = {name: version(name) for name in BY}
        head = {"schema": "frontcheck.checks/1", "versions": versions}
        return {**head, "failed_tests": failed, "checks": checks}

    def write(self, folder: str | None) -> None:
        """Leave a file of this process in the folder; nothing without one or without checks."""
        if not folder or not self.checks:
            return
        # Workers of pytest-xdist have names; a run in one process is "main".
        name = os.environ.get("PYTEST_XDIST_WORKER", "main")
        path = Path(folder) / f"{name}-{os.getpid()}.json"
        path.parent.mkdir(parents=True, exist_ok=True)
        aside = path.with_suffix(".part")
        aside.write_text(json.dumps(self.document(), indent=1, allow_nan=False) + "\n", "utf-8")
        aside.replace(path)


RECORDS = Records()


class Check:
    """One thing that is checked, over all tests and cases that check it.

    Parameters
    ----------
    name
        Stable id, small letters and dashes.
    kind
        One of KINDS.
    quantity, unit
        What is compared; unit "" for pure numbers and words.
    source
        Where the other value comes from.
    why
        Why the tolerance, or the range, is what it is.
    """

    def __init__(
        self,
        name: str,
        *,
        kind: str,
        quantity: str,
        source: Source,
        why: str,
        unit: str = "",
        records: Records = RECORDS,
    ) -> None:
        if kind not in KINDS:
            raise ValueError(f"kind is one of {KINDS}, got {kind!r}")
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name) or not quantity or not why:
            raise ValueError("a check needs an id of small letters and dashes, a quantity, a why")
        if name in records.checks:
            raise ValueError(f"two checks are called {name}")
        self.name, self.kind, self.quantity, self.unit = name, kind, quantity, unit
        self.source, self.why = source, why
        path = Path(sys._getframe(1).f_globals.get("__file__") or "").resolve()
        inside = path.is_relative_to(ROOT)
        self.file = path.relative_to(ROOT).as_posix() if inside else path.name
        self.cases = self.failing = 0
        self.worst: WorstEntry | None = None
        records.checks[name] = self

    def compare(
        self,
        expected: Any,
        ours: Any,
        *,
        tolerance: Any = None,
        relative: Any = None,
        case: str = "",
    ) -> None:
        """Record, then assert |ours - expected| <= tolerance; arrays element by element.

        `relative` in place of `tolerance`: a share of the size of what is expected.
        """
        __tracebackhide__ = True
        if (tolerance is None) == (relative is None):
            raise ValueError("give a tolerance or a relative one")
        theirs, got = _numbers(expected), _numbers(ours)
        within = np.abs(theirs) * relative if tolerance is None else _numbers(tolerance)
        if theirs.shape != got.shape and theirs.size != 1:
            return self._told(_mismatch(case, expected, ours), max(theirs.size, got.size))
        theirs, got, within = np.broadcast_arrays(theirs, got, within)
        off = np.abs(got - theirs)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(off == 0.0, 0.0, off / within)
        held = off <= within  # never so for what is not a number
        i = _first_worst(held, share)
        if i is None:
            return None
        scale = float(within.flat[i])
        worst = WorstEntry(
            case=_case_name(case, i, got.size),
            held=bool(held.flat[i]),
            expected=_value(theirs.flat[i], scale),
            ours=_value(got.flat[i], scale),
            difference=_digits(off.flat[i], 2) if share.flat[i] >= NOISE else 0.0,
            tolerance=_digits(scale, 3),
            share=_share(share.flat[i]),
        )
        return self._told(worst, got.size, int((~held).sum()))

    def between(self, ours: Any, low: Any = None, high: Any = None, *, case: str = "") -> None:
        """Record, then assert low <= ours <= high; either may be left out."""
        __tracebackhide__ = True
        if low is None and high is None:
            raise ValueError("give a lower or an upper limit")
        got, least, most = np.broadcast_arrays(
            _numbers(ours), _numbers(-math.inf if low is None else low),
            _numbers(math.inf if high is None else high),
        )  # fmt: skip
        held = (least <= got) & (got <= most)
        share = _range_share(got, least, most)
        room = np.minimum(got - least, most - got)
        i = _first_worst(held, share, room)
        if i is None:
            return None
        ends = [float(a.flat[i]) for a in (least, most)]
        width = ends[1] - ends[0]
        scale = width if math.isfinite(width) else abs(ends[0] if high is None else ends[1])
        worst = WorstEntry(
            case=_case_name(case, i, got.size),
            held=bool(held.flat[i]),
            ours=_value(got.flat[i], scale),
            low=None if low is None else _digits(ends[0], VALUE_DIGITS),
            high=None if high is None else _digits(ends[1], VALUE_DIGITS),
            share=_share(share.flat[i]),
            margin=_digits(room.flat[i], 2),
        )
        return self._told(worst, got.size, int((~held).sum()))

    def same(self, expected: Any, ours: Any, *, case: str = "") -> None:
        """Record, then assert that both are equal: statuses, kinds, words, counts."""
        __tracebackhide__ = True
        held = bool(ours == expected)
        theirs, got = (_word(value) for value in (expected, ours))
        name = _case_name(case, 0, 1)
        self._told(WorstEntry(name, held, ours=got, expected=theirs), 1, int(not held))

    def record(self) -> dict[str, Any]:
        """What is written of the check."""
        worst = None if self.worst is None else structs.asdict(self.worst)
        return {
            "id": self.name, "kind": self.kind, "quantity": self.quantity, "unit": self.unit,
            "source": asdict(self.source), "why": self.why, "file": self.file,
            "cases": self.cases, "failing": self.failing, "worst": worst,
        }  # fmt: skip

    def _told(self, worst: WorstEntry, cases: int, failing: int | None = None) -> None:
        __tracebackhide__ = True
        failing = cases if failing is None else failing
        self.cases += cases
        self.failing += failing
        if self.worst is None or worst.rank < self.worst.rank:
            self.worst = worst
        if failing:
            limits = f"{worst.low} to {worst.high}" if worst.expected is None else worst.expected
            raise AssertionError(
                f"{self.name}: {failing} of {cases} cases fail; {worst.case}: expected {limits}, "
                f"ours {worst.ours}, difference {worst.difference}, tolerance {worst.tolerance}"
            )


def _numbers(value: Any) -> np.ndarray:
    """Make an array of numbers; what is not known is not a number."""
    return np.asarray(np.asarray(value, dtype=object), dtype=float)


def _first_worst(held: np.ndarray, share: np.ndarray, room: np.ndarray | None = None) -> int | None:
    """Which is worst: as `WorstEntry.rank`; the first of those that are alike after rounding."""
    if not held.size:
        return None
    shares = [_share(value) for value in share.flat]
    rooms = [0.0] * held.size if room is None else [_digits(r, 2) or 0.0 for r in room.flat]
    ranks = [
        (bool(ok), -((-1.0 if ok else math.inf) if part is None else part), r)
        for ok, part, r in zip(held.flat, shares, rooms, strict=True)
    ]
    return min(range(held.size), key=lambda i: ranks[i])


def _range_share(got: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """How much of a range is used: 0 in its middle, 1 at an end; of one limit, the ratio to it."""
    with np.errstate(all="ignore"):
        both = np.abs(got - (low + high) / 2.0) / ((high - low) / 2.0)
        up = np.where((high > 0.0) & (got >= 0.0), got / high, math.nan)
        down = np.where((low > 0.0) & (got > 0.0), low / got, math.nan)
    one = np.where(np.isfinite(high), up, down)
    return np.where(np.isfinite(low) & np.isfinite(high), both, one)


def _share(value: float) -> float | None:
    value = float(value)
    return 0.0 if value < NOISE else _digits(value, 2)


def _digits(value: float, digits: int) -> float | None:
    """Round to so many digits; None for what is not a number."""
    value = float(value)
    return float(f"{value:.{digits}g}") + 0.0 if math.isfinite(value) else None


def _value(value: float, tolerance: float) -> float | None:
    """Round a value: no digit below the noise of its tolerance, and six at most."""
    value = float(value)
    if math.isfinite(value) and 0.0 < tolerance < math.inf:
        value = round(value, 3 - math.floor(math.log10(tolerance)))
    return _digits(value, VALUE_DIGITS)


def _word(value: Any) -> str:
    text = " ".join(str(value).split())
    return text if len(text) <= SHORT else text[: SHORT - 1] + "…"


def _mismatch(case: str, expected: Any, ours: Any) -> WorstEntry:
    shapes = [f"shape {np.shape(value)}" for value in (expected, ours)]
    return WorstEntry(_case_name(case, 0, 1), False, ours=shapes[1], expected=shapes[0])


def _case_name(case: str, i: int, count: int) -> str:
    """Name a case: as told, or by the parameters of the running test; a number in an array."""
    if not case:
        node = os.environ.get("PYTEST_CURRENT_TEST", "").rpartition(" ")[0]
        test = node.rpartition("::")[2]
        case = test.partition("[")[2].removesuffix("]")
    ending = f" #{i + 1}" if count > 1 else ""
    room = SHORT - len(ending)
    return ((case if len(case) <= room else case[: room - 1] + "…") + ending).strip()

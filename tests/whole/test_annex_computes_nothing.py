"""What draws and writes reads results: an annex works no geometry out again.

Counted by the interpreter's own profiler during one whole annex of two fronts.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from annexes import both_files_and_calls

import frontcheck

PACKAGE = Path(frontcheck.__file__).parent
GEOMETRY = {"geometry", "surface", "lines"}
FILES_AT_MOST = 60
"""Files of the package that one annex may enter."""


def room(file):
    """First part of the path within the package; empty outside it."""
    return file.relative_to(PACKAGE).parts[0] if file.is_relative_to(PACKAGE) else ""


@pytest.fixture(scope="module")
def calls():
    return both_files_and_calls()[1]


def test_the_profiler_sees_calls_between_rooms(calls):
    seen = Counter()
    for call in calls:
        seen[room(call.caller), room(call.called)] += call.count
    assert seen["outputs", "outputs"] > 1000
    assert seen["outputs", "front"] > 0
    assert seen["legs", "people"] > 0


def test_outputs_call_nothing_in_geometry_surface_and_lines(calls):
    made = [c for c in calls if room(c.caller) == "outputs" and room(c.called) in GEOMETRY]
    assert made == []


def test_nor_does_anything_else_once_the_results_are_there(calls):
    # The leg figures run the leg model for the people they show; it looks for lips on a string.
    made = [c for c in calls if room(c.called) in GEOMETRY and room(c.caller) not in GEOMETRY]
    # The document names the lines that were formed, to say which constants they rest on.
    # How many points a contour has is no geometry.
    names = {("screening.py", "formed"), ("", "<genexpr>"), ("", "__len__")}
    assert {(room(c.caller), c.function) for c in made} <= {("legs", "recesses"), *names}
    assert sum(c.count for c in made if c.function in ("formed", "<genexpr>")) < 500


def test_one_annex_enters_few_files(calls):
    entered = {c.called for c in calls if room(c.called)} | {
        c.caller for c in calls if room(c.caller)
    }
    assert 20 < len(entered) <= FILES_AT_MOST

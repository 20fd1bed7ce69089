"""Every result shows itself in one readable line."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import frontcheck
from frontcheck.legs.leg_study import leg_study
from frontcheck.people.people import PEOPLE
from frontcheck.reading.form import Worksheet
from frontcheck.reading.readers import read_front
from frontcheck.screening import ScreeningDocument, screen
from frontcheck.serializer import filled, one_line
from frontcheck.study.study_file import read_study
from frontcheck.sure.closure import closure
from frontcheck.sure.corrections import corrected
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.spacing import spacing

if TYPE_CHECKING:
    from pathlib import Path


def results(geometries: Path) -> dict[str, Any]:
    plover, avocet, survey = (
        read_front(geometries / f"{name}.csv") for name in ("plover", "avocet", "plover-survey")
    )
    one = screen(plover)
    _ = one.zones, one.findings
    return {
        "screening": one,
        "zones": one.zones,
        "finding": one.findings,
        "comparison": frontcheck.compare(one, screen(avocet)),
        "tolerance": tolerance(plover, "UN-R127-02", draws=100),
        "leg": leg_study([one], PEOPLE[0]),
        "corrected": corrected(survey),
        "closure": closure(survey, draws=100),
        "spacing": spacing(plover, "UN-R127-02"),
        "worksheet": Worksheet((0.0, 300.0), (100.0, 200.0, 300.0)),
        "study": read_study(geometries / "nose-study.toml"),
        "document": filled(ScreeningDocument, one),
        "rules": one.rules,
        "sections": plover.sections,
    }


def test_every_result_within_reach_is_one_short_line(geometries) -> None:
    """Walks from the results of every call through all they hold."""
    seen: dict[int, Any] = {}
    kinds: set[str] = set()
    todo: list[Any] = list(results(geometries).values())
    while todo:
        thing = todo.pop()
        if id(thing) in seen:
            continue
        seen[id(thing)] = thing
        if isinstance(thing, (tuple, list)):
            todo.extend(thing)
        elif isinstance(thing, dict):
            todo.extend(thing.values())
        elif dataclasses.is_dataclass(thing) or isinstance(thing, ScreeningDocument):
            shown = repr(thing)
            assert len(shown) < 120, (type(thing), shown)
            assert "\n" not in shown
            assert "array(" not in shown
            assert shown.startswith(type(thing).__name__ + "(")
            kinds.add(type(thing).__name__)
            if dataclasses.is_dataclass(thing):
                # Batches of arrays, from which lines are made, are kept out of sight.
                fields = [field for field in dataclasses.fields(thing) if field.repr]
                todo.extend(getattr(thing, field.name) for field in fields)
    assert {"Front", "Section", "Station", "LinePoint", "Screening", "FrontZones"} <= kinds
    assert {"Comparison", "Tolerance", "LegStudy", "Worksheet", "Study", "HeadformArea"} <= kinds


@one_line
@dataclasses.dataclass
class Thing:
    name: str = "a thing\nof two lines"
    points: Any = dataclasses.field(default_factory=lambda: np.zeros((3, 2)))
    height: float = 12.0
    many: tuple[int, ...] = tuple(range(9))
    nothing: None = None
    silent: float = dataclasses.field(default=1.0, repr=False)


def test_what_a_line_holds() -> None:
    assert repr(Thing()) == (
        "Thing(name='a thing of two lines', points: 3 x 2 numbers, height=12, 9 many)"
    )


@pytest.mark.parametrize("length", [30, 40, 400])
def test_long_words_are_cut(length) -> None:
    shown = repr(Thing(name="x" * length, many=()))
    assert len(shown) < 120
    assert ("..." in shown) == (length > 40)

"""The page without a browser: whatever is pressed, typed or dragged, it refuses, never faults."""

from __future__ import annotations

import logging
import random
from dataclasses import replace
from types import SimpleNamespace

import pytest

import frontcheck as fc

pytest.importorskip("bokeh")
from bokeh.document import Document
from bokeh.events import ButtonClick
from bokeh.models.widgets import Button, Div, RadioButtonGroup, Select, Slider, Spinner

from frontcheck.bench.model import Bench
from frontcheck.bench.page import Page

PLOVER, AVOCET = (fc.read_front(f"geometries/{name}.csv") for name in ("plover", "avocet"))
FRONTS = (
    PLOVER, AVOCET, replace(PLOVER, datum="local"), replace(AVOCET, sections=AVOCET.sections[:1]),
)  # fmt: skip
TYPED = (0, 1, -5, 12.5, 1e9, -1e9, 300, None)


def pressed(draw: random.Random, widget: object) -> None:
    if isinstance(widget, Slider):
        widget.value = draw.uniform(float(widget.start), float(widget.end))  # type: ignore[arg-type]
    elif isinstance(widget, Spinner):
        widget.value = draw.choice(TYPED)
    elif isinstance(widget, Select):
        chosen = draw.choice(list(widget.options))
        widget.value = chosen if isinstance(chosen, str) else chosen[0]
    elif isinstance(widget, RadioButtonGroup):
        widget.active = draw.randrange(len(widget.labels))
    elif isinstance(widget, Button):
        widget._trigger_event(ButtonClick(widget))


def dragged(draw: random.Random, page: Page) -> None:
    source = page.plot.sources[page.drags]
    if not len(source.data["x"]):
        return
    i = draw.randrange(len(source.data["x"]))
    source.selected.indices = [i]
    at = SimpleNamespace(x=float(source.data["x"][i]), y=float(source.data["y"][i]))
    by = [draw.uniform(-200.0, 200.0) * page.lengths.scale for _ in range(2)]
    page.kept_up(lambda: page._taken(at))
    there = SimpleNamespace(x=at.x + by[0], y=at.y + by[1])
    page.kept_up(lambda: page._dragged(there))
    page.kept_up(lambda: page._let_go(there))


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_done_is_done_or_refused(seed: int, caplog: pytest.LogCaptureFixture) -> None:
    draw = random.Random(seed)
    doc = Document()
    page = Page(doc, Bench(*draw.sample(FRONTS, draw.choice([1, 2]))))
    page.show()
    refused = moved = 0
    with caplog.at_level(logging.ERROR, logger="frontcheck"):
        for _ in range(50):
            kinds = (Slider, Spinner, Select, Button, RadioButtonGroup)
            pressed(draw, draw.choice([each for each in doc.models if isinstance(each, kinds)]))
            dragged(draw, page)
            refused += bool(page.refused)
            moved += any(page.bench.step.proposed(page.bench.y))
            assert page.bench.section.points[:, 1].min() >= 0.0
    assert caplog.records == []
    assert refused
    assert moved


def test_no_text_is_read_as_a_formula() -> None:
    doc = Document()
    Page(doc, Bench(replace(PLOVER, name="$$x$$"))).show()
    texts = [each for each in doc.models if isinstance(each, Div)]
    assert any("$$x$$" in each.text for each in texts)
    assert all(each.disable_math for each in texts)

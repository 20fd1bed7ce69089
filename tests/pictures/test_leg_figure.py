"""The leg figure: says what it must, nothing overlaps, same input gives the same bytes."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pytest

from frontcheck.caution import CAUTION_SHORT, LEG_CAUTION
from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.foundation import foundation_load
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.outputs.figures.canvas import LABEL, NOTE, new_figure
from frontcheck.outputs.figures.leg_figure import leg_figure
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.people.people import PEOPLE, Person
from frontcheck.reading.readers import read_front

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure
    from matplotlib.text import Text

MAN = next(person for person in PEOPLE if person.name == "man p50")


@pytest.fixture(scope="module")
def demo(root: Path) -> dict[str, LinedFront]:
    return {
        name: line_up(read_front(root / "geometries" / f"{name}.csv"), "UN-R127-02")
        for name in ("plover", "avocet")
    }


def texts(figure: Figure) -> list[Text]:
    from matplotlib.text import Text

    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_says_what_it_must(name: str, demo: dict[str, LinedFront]) -> None:
    figure = leg_figure(demo[name], 0.0, MAN)
    words = "\n".join(t.get_text() for t in texts(figure))
    assert CAUTION_SHORT in words
    assert LEG_CAUTION in " ".join(words.split())
    for landmark in ("ankle", "knee 487 mm", "hip 899 mm", "waist 1055 mm", "stature 1755 mm"):
        assert landmark in words
    for line in (demo[name].stations[0].LBRL, demo[name].stations[0].UBRL):
        assert f"{line.name} {line.z:.0f} mm" in words
    seen = silhouette_of(demo[name].front.section(0.0), 0.0, 899.0)
    height = foundation_load(seen, 60.0, 487.0).height[0]
    assert f"resultant at {height:.0f} mm" in words


@pytest.mark.parametrize("person", [PEOPLE[0], PEOPLE[1], PEOPLE[-1]], ids=lambda p: p.name)
@pytest.mark.parametrize("y", [0.0, 500.0, 760.0])
@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_labels_neither_overlap_nor_leave_the_figure(
    name: str, y: float, person: Person, demo: dict[str, LinedFront]
) -> None:
    figure = leg_figure(demo[name], y, person)
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    labels = [t for t in texts(figure) if t.get_gid() in (LABEL, NOTE)]
    assert len(labels) >= 9
    boxes = [t.get_window_extent(renderer) for t in labels]
    for (a, first), (b, second) in combinations(zip(labels, boxes, strict=True), 2):
        assert not first.overlaps(second), (a.get_text(), b.get_text())
    # Not the tick labels: matplotlib keeps some beyond the limits and does not draw them.
    ticks = {id(t) for ax in figure.axes for t in (*ax.get_xticklabels(), *ax.get_yticklabels())}
    for text in texts(figure):
        if id(text) in ticks:
            continue
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0.0
        assert box.x1 <= figure.bbox.x1, text.get_text()


def test_overlap_is_drawn_to_scale(demo: dict[str, LinedFront]) -> None:
    """The shaded overlap, read back from the figure: its area is the load of the model."""
    figure = leg_figure(demo["plover"], 0.0, MAN, depth=60.0)
    patches = [p for p in figure.axes[0].patches if p.get_gid() == "overlap"]
    area = 0.0
    for patch in patches:
        x, z = np.asarray(patch.get_xy()).T
        area += abs(float((x[:-1] * z[1:] - x[1:] * z[:-1]).sum())) / 2.0
    seen = silhouette_of(demo["plover"].front.section(0.0), 0.0, 899.0)
    assert area == pytest.approx(foundation_load(seen, 60.0, 487.0).load[0], rel=1e-9)


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_same_input_same_bytes(kind: str, demo: dict[str, LinedFront]) -> None:
    once, again = (figure_bytes(leg_figure(demo["avocet"], 0.0, MAN), kind) for _ in range(2))
    assert once == again


def test_unknown_station_and_depth_are_refused(demo: dict[str, LinedFront]) -> None:
    with pytest.raises(KeyError, match="no station at 123 mm"):
        leg_figure(demo["plover"], 123.0, MAN)
    with pytest.raises(ValueError, match="depth must be"):
        leg_figure(demo["plover"], 0.0, MAN, depth=0.0)


def test_a_given_figure_is_drawn_into(demo) -> None:
    mine = new_figure(12.0, 8.0)
    assert leg_figure(demo["plover"], 0.0, MAN, figure=mine) is mine
    assert mine.axes

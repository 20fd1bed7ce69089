"""The leg figure: says what it must, nothing overlaps, same input gives the same bytes."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pytest

from frontcheck.caution import CAUTION_SHORT, LEG_CAUTION
from frontcheck.front.front import Front
from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.foundation import foundation_load
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.outputs.figures.canvas import LABEL, NOTE, new_figure
from frontcheck.outputs.figures.leg_figure import leg_figure
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.people.people import PEOPLE, Person
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure
    from matplotlib.text import Text

    from frontcheck.legs.foundation import FoundationLoad

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
    # Lines over a stature of 1755 mm, in shoes of 25 mm (tests/validation/test_ansur.py).
    for landmark in (
        "ankle", "knee 514 mm", "hip 929 mm", "waist 1083 mm", "stature 1755 mm",
        "centre of mass 990 to 1060 mm*",
    ):  # fmt: skip
        assert landmark in words
    for line in (demo[name].stations[0].LBRL, demo[name].stations[0].UBRL):
        assert f"{line.name} {line.z:.0f} mm" in words
    load = load_of(demo[name])
    assert f"resultant at {load.height[0]:.0f} mm" in words
    for low, high in load.bands[0]:
        assert f"touched {low:.0f} mm to {high:.0f} mm" in words


def load_of(lined: LinedFront) -> FoundationLoad:
    """From the ground to above the man's head: nothing of the front is as high."""
    return foundation_load(silhouette_of(lined.front.section(0.0), 0.0, 1780.0), 60.0, 513.834)


def test_the_places_of_touch_are_named_in_mm(demo: dict[str, LinedFront]) -> None:
    """Rows of the tables: Plover's lips at 538 and, 14 mm behind, 338 mm; knee at 513.8 mm."""
    words = "\n".join(t.get_text() for t in texts(leg_figure(demo["plover"], 0.0, MAN)))
    assert "first: knee, 538 mm up,\n24 mm above the knee" in words
    assert "next: shin, 338 mm up,\n176 mm below the knee, 14 mm later" in words


def test_a_legform_stands_apart_from_the_person(demo: dict[str, LinedFront]) -> None:
    """By the edition: the flexible one 75 mm above ground, the rigid one 25 mm (from memory)."""
    front = demo["plover"].front
    for rules, name, foot in (
        ("UN-R127-02", "flexible legform", 75.0),
        ("EU-631-2009", "rigid legform", 25.0),
    ):
        figure = leg_figure(line_up(front, rules), 0.0, MAN, said="Said of the legform.")
        apart = figure.axes[-1]
        words = "\n".join(t.get_text() for t in texts(figure) if t.axes is apart)
        assert f"Apart: the {name}, no person" in words
        assert f"foot {foot:.0f} mm" in words
        assert "Said of the legform." in words
        beside = [t for t in texts(figure) if t.axes is not apart and t.get_gid() != "title"]
        assert "legform" not in "".join(t.get_text() for t in beside)
        links = [p for p in apart.patches if p.get_gid() == "legform"]
        assert min(p.get_y() for p in links) == foot


def test_where_the_lower_legform_does_not_apply_none_is_drawn(demo: dict[str, LinedFront]) -> None:
    """Raised by 250 mm LBRL stands above 500 mm: UN R127, 02 series, 5.1 (text read)."""
    section = demo["plover"].front.section(0.0)
    raised = Section(section.points + np.array([0.0, 250.0]), 0.0, section.parts)
    figure = leg_figure(line_up(Front((raised,)), "UN-R127-02"), 0.0, MAN)
    apart = figure.axes[-1]
    words = " ".join(t.get_text() for t in texts(figure) if t.axes is apart)
    assert "does not apply" in " ".join(words.split())
    assert not [p for p in apart.patches if p.get_gid() == "legform"]


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
    assert area == pytest.approx(load_of(demo["plover"]).load[0], rel=1e-9)


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

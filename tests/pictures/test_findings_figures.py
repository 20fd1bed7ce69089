"""Figures of findings: what is drawn is what was found, numbered alike, with the caution."""

from __future__ import annotations

from pathlib import Path

import pytest
from matplotlib.figure import Figure

from frontcheck.caution import CAUTION_SHORT
from frontcheck.findings.hard_points import head_contact
from frontcheck.findings.head_points import head_points
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.outputs.figures.findings_figures import findings_view, head_map
from frontcheck.outputs.figures.side_view import save
from frontcheck.reading.hard_point_file import HardPoint
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.surface.section import Section
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import FrontZones, ZoneOptions

HARD_POINTS = (HardPoint(500.0, 0.0, 870.0, "air box", "lid"),)


@pytest.fixture(scope="module")
def plover(geometries: Path) -> tuple[LinedFront, FrontZones]:
    lined = line_up(read_front(geometries / "plover.csv"), "UN-R127-02")
    return lined, zones_of(lined, ZoneOptions(cut_mm=50.0))


def texts(figure: Figure) -> list[str]:
    found = [text.get_text() for text in figure.texts]
    return found + [text.get_text() for ax in figure.axes for text in ax.texts]


def test_lines_of_the_answer_are_marked_by_number_and_nothing_else(geometries: Path) -> None:
    result = screen(read_front(geometries / "plover.csv"))
    figure = findings_view(result, 0.0)
    (side,) = figure.axes
    marked = {str(p.get_gid()) for p in side.patches if str(p.get_gid()).startswith("line ")}
    assert marked == {f"line {band.number}" for band in result.answer_bands[0.0]}
    assert marked
    numbers = {t.get_text() for t in side.texts if t.get_text()}
    assert numbers <= {str(n) for n in range(1, len(result.answer.lines) + 1)}
    (words,) = (t.get_text() for t in figure.texts if t.get_gid() == "lines")
    assert words.splitlines() == [
        f"{n}  {line.text}" for n, line in enumerate(result.answer.lines, start=1)
    ]
    assert CAUTION_SHORT in texts(figure)
    with pytest.raises(KeyError):
        findings_view(result, 5.0)


def test_map_has_a_cell_for_every_grid_point(plover: tuple[LinedFront, FrontZones]) -> None:
    lined, zones = plover
    figure = head_map(lined, head_contact(lined, zones, HARD_POINTS))
    ax = figure.axes[0]
    points = head_points(zones, lined.rules)
    cells = ax.collections[0]
    assert len(cells.get_paths()) == len(points) > 50
    numbers = [t for t in ax.texts if t.get_gid() == "angle"]
    angles = {(p.y, p.wad): f"{p.angle_deg:.0f}" for p in points}
    assert len(numbers) > 50
    for number in numbers:
        assert angles[number.get_position()] == number.get_text()
    ids = {line.get_gid() for line in ax.lines}
    assert {"area child", "area adult", "line BLERL", "line BRRL", "line SRL"} <= ids
    # 45.5 mm along the child headform's travel, as the finding says.
    assert any(text == "air box: 45 mm" for text in texts(figure))
    assert CAUTION_SHORT in texts(figure)


def test_map_without_areas_says_so() -> None:
    points = [(400, 260), (0, 300), (0, 800), (1200, 970)]
    lined = line_up(Front((Section(points),)), "UN-R127-02")
    assert "no grid point lies in a headform area" in texts(
        head_map(lined, head_contact(lined, zones_of(lined)))
    )


def test_same_bytes_every_time(plover: tuple[LinedFront, FrontZones], tmp_path: Path) -> None:
    lined, zones = plover
    result = screen(lined.front)
    for draw in (
        lambda: findings_view(result, 0.0),
        lambda: head_map(lined, head_contact(lined, zones, HARD_POINTS)),
    ):
        (one,) = save(draw(), tmp_path / "one", ("svg",))
        (two,) = save(draw(), tmp_path / "two", ("svg",))
        assert one.read_bytes() == two.read_bytes()

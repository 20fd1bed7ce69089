"""Figures of findings: what is drawn is what was found, numbered alike, with the caution."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from frontcheck.caution import CAUTION_SHORT
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.findings.hard_points import head_contact
from frontcheck.findings.head_points import HeadPoint, facets_between, head_points
from frontcheck.front.beside import HardPoint
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.outputs.figures.findings_figures import findings_view, head_map
from frontcheck.outputs.figures.side_view import save
from frontcheck.reading.hard_point_file import read_hard_points
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


def test_a_line_that_holds_between_stations_is_a_hollow_point(geometries: Path) -> None:
    points = read_hard_points(geometries / "plover-hard-points.csv").points
    result = screen(
        read_front(geometries / "plover.csv"), finding_settings=FindingSettings(hard_points=points)
    )
    (found,) = (f for f in result.findings if f.code == "HEAD-DEPTH-BELOW-BOUND")
    assert found.station not in result.front.stations
    figure = findings_view(result, 0.0)
    assert "it holds elsewhere" in " ".join(texts(figure))


def angle_lines(ax: Axes) -> dict[float, list[np.ndarray]]:
    found: dict[float, list[np.ndarray]] = {}
    for line in ax.lines:
        words = str(line.get_gid()).split()
        if words[0] == "angle":
            found.setdefault(float(words[1]), []).append(np.asarray(line.get_xydata()))
    return found


def test_lines_of_the_map_join_places_of_equal_angle(plover: tuple[LinedFront, FrontZones]) -> None:
    """Linear between two neighbours of the grid, found here by trying every pair."""
    lined, zones = plover
    points = head_points(zones, lined.rules)
    ax = head_map(lined, head_contact(lined, zones)).axes[0]
    lines = angle_lines(ax)
    angles = [p.angle_deg for p in points]
    steps = np.diff(sorted(lines))
    assert len(lines) >= 4
    assert steps == pytest.approx(steps[0])
    assert min(angles) > min(lines) - steps[0]
    assert max(angles) < max(lines) + steps[0]
    pairs = [
        (np.array([a.x, a.y]), np.array([b.x, b.y]), a.angle_deg, b.angle_deg)
        for a, b in itertools.combinations(points, 2)
        if a.area == b.area and max(abs(a.y - b.y), abs(a.wad - b.wad)) < 101.0
    ]
    for level, runs in lines.items():
        for at in np.concatenate(runs):
            near = []
            for p, q, low, high in pairs:
                if (low - level) * (high - level) <= 0.0 and low != high:
                    there = p + (level - low) / (high - low) * (q - p)
                    near.append(float(np.hypot(*(there - at))))
            assert min(near) < 1e-6


def test_the_map_is_of_lines_front_on_the_left_and_reads_in_grey(
    plover: tuple[LinedFront, FrontZones],
) -> None:
    lined, zones = plover
    ax = head_map(lined, head_contact(lined, zones, HARD_POINTS)).axes[0]
    assert not [*ax.collections, *ax.patches, *ax.images]  # nothing is filled
    ids = {line.get_gid() for line in ax.lines}
    assert {"area child", "area adult", "line BLERL", "line BRRL", "bumper outline"} <= ids
    assert any(str(each).startswith("line SRL") for each in ids)
    assert ax.get_xlim()[0] < ax.get_xlim()[1]  # x is rearward: front on the left
    assert ax.get_ylim()[0] < ax.get_ylim()[1]
    drawn = [line for line in ax.lines if str(line.get_gid()).startswith("angle")]
    for line in drawn:
        # Luminance and contrast as WCAG 2.1 defines them (W3C Recommendation, 2018); its 3:1 for
        # graphical objects. From memory.
        c = np.array(to_rgb(line.get_color()))
        linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        assert 1.05 / (float(linear @ (0.2126, 0.7152, 0.0722)) + 0.05) >= 3.0
    styles = {line.get_gid(): (line.get_color(), str(line.get_linestyle()),
                               str(line._dash_pattern)) for line in drawn}  # fmt: skip
    assert len(set(styles.values())) == len(styles)
    said = {text.get_text() for text in ax.texts}
    assert {f"{level:g} deg" for level in angle_lines(ax)} <= said
    figure = ax.get_figure(root=True)
    assert figure is not None
    # 45.5 mm along the child headform's travel, as the finding says.
    assert any(text == "air box: 45 mm" for text in texts(figure))
    assert CAUTION_SHORT in texts(figure)


def test_map_without_areas_says_so() -> None:
    points = [(400, 260), (0, 300), (0, 800), (1200, 970)]
    lined = line_up(Front((Section(points),)), "UN-R127-02")
    assert "no candidate point lies in a headform area" in texts(
        head_map(lined, head_contact(lined, zones_of(lined)))
    )


def test_facets_fill_the_grid_of_an_area_and_join_no_two() -> None:
    """Six cells of two triangles; a cell that lacks a corner has one, and an inner point is a
    corner of four cells."""

    def grid(area: Literal["child", "adult"], wad: float) -> list[HeadPoint]:
        return [
            HeadPoint(area, 0.0, 50.0 * i, 0.0, wad + 50.0 * j, 30.0, None)
            for i in range(4)
            for j in range(3)
        ]

    child, adult = grid("child", 1000.0), grid("adult", 1150.0)
    assert len(facets_between(child, 50.0)) == 12
    assert len(facets_between(child[1:], 50.0)) == 11
    inner = [p for p in child if (p.y, p.wad) != (50.0, 1050.0)]
    assert len(facets_between(inner, 50.0)) == 4 + 4
    both = facets_between([*child, *adult], 50.0)
    assert len(both) == 24
    assert all(len({n < len(child) for n in facet}) == 1 for facet in both.tolist())
    area = 0.0
    for facet in facets_between(child, 50.0).tolist():
        a, b, c = (np.array([child[n].y, child[n].wad]) for n in facet)
        area += abs(float(np.linalg.det(np.stack([b - a, c - a])))) / 2.0
    assert area == pytest.approx(150.0 * 100.0)
    assert facets_between(child[:2], 50.0).shape == (0, 3)


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

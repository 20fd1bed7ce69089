"""Plan view, front view and unrolled map: to scale, labelled, cautious, the same every time."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from frontcheck.caution import CAUTION_SHORT
from frontcheck.front.front import Front
from frontcheck.outputs.annex.annex_figures import WHOLE_PAGE
from frontcheck.outputs.figures.canvas import LABEL, NOTE
from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.surface.section import Section
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import ZoneOptions

VIEWS = (plan_view, front_view, bonnet_map)
CASES = ("plover", "avocet", "bare", "half", "local", "one", "short")
SIZES = (None, WHOLE_PAGE)
"""Alone, and as on a page of the annex."""


@pytest.fixture(scope="module")
def cases(geometries):
    plover = read_front(geometries / "plover.csv")
    # Without labels and without the windscreen, which would be found by its shape.
    bare = tuple(
        Section(s.points[: s.part_mask("windscreen").argmax()], s.y) for s in plover.sections
    )
    short = [(300.0, 150.0), (0.0, 160.0), (0.0, 700.0), (200.0, 720.0)]
    fronts = {
        "plover": plover,
        "avocet": read_front(geometries / "avocet.csv"),
        "bare": Front(bare, symmetric=True, name="$bare_{x}$"),
        "half": replace(plover, symmetric=False),
        "local": replace(plover, datum="local"),
        "one": Front(plover.sections[:1]),
        "short": Front(tuple(Section(short, y) for y in (-500.0, 0.0, 500.0))),
    }
    out = {}
    for name, front in fronts.items():
        screening = screen(front)
        out[name] = screening, zones_of(screening, ZoneOptions(beam_ends_mm=(-600.0, 600.0)))
    return out


def texts(ax) -> list[str]:
    return [t.get_text() for t in ax.texts if t.get_text()]


def named(ax, gid: str) -> list[np.ndarray]:
    return [line.get_xydata() for line in ax.lines if line.get_gid() == gid]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("name", CASES)
def test_is_to_scale_with_labels_apart_and_inside(cases, view, name, size) -> None:
    ax = view(*cases[name], **({"size": size} if size else {}))
    figure = ax.figure
    renderer = figure.canvas.get_renderer()
    ax.apply_aspect()
    box = ax.get_window_extent(renderer)
    per_x = box.width / abs(np.diff(ax.get_xlim())[0])
    per_y = box.height / abs(np.diff(ax.get_ylim())[0])
    assert per_x == pytest.approx(per_y, rel=1e-6)
    labels = [t for t in ax.texts if t.get_gid() in (LABEL, NOTE) and t.get_text()]
    boxes = [t.get_window_extent(renderer) for t in labels]
    for label in boxes:
        assert label.x0 >= box.x0 - 1.0
        assert label.x1 <= box.x1 + 1.0
        assert label.y0 >= box.y0 - 1.0
        assert label.y1 <= box.y1 + 1.0
    if name in ("plover", "avocet"):
        assert not [
            (a, b) for a, b in itertools.combinations(boxes, 2) if a.shrunk(0.98, 0.9).overlaps(b)
        ]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("name", CASES)
def test_carries_the_caution_and_the_rule_set(cases, view, name, size) -> None:
    figure = view(*cases[name], **({"size": size} if size else {})).figure
    cautions = [t for t in figure.texts if t.get_gid() == "caution"]
    assert [t.get_text() for t in cautions] == [CAUTION_SHORT]
    assert any("UN-R127-02" in t.get_text() for t in figure.texts)
    renderer = figure.canvas.get_renderer()
    for text in figure.texts:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0.0
        assert box.x1 <= figure.bbox.x1


@pytest.mark.parametrize("view", VIEWS)
def test_every_line_is_drawn_where_it_is_and_labelled(cases, view) -> None:
    screening, zones = cases["plover"]
    ax = view(screening, zones)
    said = texts(ax)
    for line in zones.lines:
        if view is bonnet_map and line.name in ("LBRL", "UBRL"):
            continue  # the map begins at the bonnet
        assert line.name in said
        drawn = named(ax, f"line {line.name}") + named(ax, f"line {line.name} hollow")
        assert drawn
        wad = np.array([np.nan if w is None else w for w in line.wad])
        own = {
            plan_view: line.points[:, :2],
            front_view: line.points[:, 1:],
            bonnet_map: np.stack([wad, line.points[:, 1]], axis=1),
        }[view]
        own = {tuple(p) for p in own[~np.isnan(own).any(axis=1)].tolist()}
        assert {tuple(p) for run in drawn for p in run.tolist()} <= own


def test_plan_view_has_front_left_and_right_side_up(cases) -> None:
    ax = plan_view(*cases["plover"])
    assert ax.get_xlim()[0] < ax.get_xlim()[1]
    assert ax.get_ylim()[0] < ax.get_ylim()[1]
    ax = front_view(*cases["plover"])
    assert ax.get_xlim()[0] > ax.get_xlim()[1]  # the vehicle's right is on the left


def test_corner_tools_stand_at_60_deg_and_touch(cases) -> None:
    """UN R127.02, 2.17 (text read): gauge face at 60 deg; 236 mm wide and plane from memory."""
    screening, zones = cases["plover"]
    ax = plan_view(screening, zones)
    gauges = named(ax, "corner gauge")
    assert len(gauges) == len(named(ax, "60 deg plane")) == 2
    for a, b in gauges:
        assert math.dist(a, b) == pytest.approx(236.0)
    for a, b in [*gauges, *named(ax, "60 deg plane")]:
        lean = math.degrees(math.atan2(abs(b[1] - a[1]), abs(b[0] - a[0])))
        assert lean == pytest.approx(60.0)
    corner = zones.bumper_corners.gauge.right.point
    assert np.mean(gauges[1], axis=0) == pytest.approx(corner[:2])


def test_outline_of_the_areas_is_theirs(cases) -> None:
    screening, zones = cases["plover"]
    for view, columns in ((plan_view, [0, 1]), (bonnet_map, None)):
        ax = view(screening, zones)
        for area in (zones.child_area, zones.adult_area):
            outline = area.outlines[0]
            points = np.array(outline.points)
            if columns is None:
                expected = np.stack([np.array(outline.wad, dtype=float), points[:, 1]], axis=1)
            else:
                expected = points[:, columns]
            (ring,) = named(ax, f"area {area.name}")
            assert np.array_equal(ring[:-1], expected)
            assert any(f"{area.area_m2:.3f} m²" in text for text in texts(ax))


def test_grid_is_drawn_on_the_map(cases) -> None:
    screening, zones = cases["plover"]
    ax = bonnet_map(screening, zones)
    drawn = np.concatenate([named(ax, "grid child")[0], *named(ax, "grid adult")])
    expected = {(p.wad, p.point[1]) for p in zones.grid}
    assert {tuple(p) for p in drawn.tolist()} == expected


def test_what_is_not_ok_is_hollow(cases) -> None:
    """Plover's SRL rests on the outermost station from the corner reference point rearward."""
    screening, zones = cases["plover"]
    ax = plan_view(screening, zones)
    hollow = np.concatenate(named(ax, "line SRL hollow"))
    assert np.abs(hollow[:, 1]) == pytest.approx(760.0, abs=1e-9)
    assert named(ax, "line BLERL hollow") == []


@pytest.mark.parametrize("sides", [(), ("left",), ("left", "right")])
def test_ahead_of_a_corner_point_the_side_line_is_thin_and_without_one_it_bounds(
    cases, sides
) -> None:
    """Whether a corner reference point is known on a side changes the line of that side alone."""
    screening, zones = cases["plover"]
    known = zones.corner_reference_points
    lost = {side: replace(getattr(known, side), point=None) for side in sides}
    ax = plan_view(screening, replace(zones, corner_reference_points=replace(known, **lost)))
    line, thin = zones.line("SRL"), {"left": False, "right": False}
    for each in ax.lines:
        if each.get_gid() == "line SRL" and each.get_linewidth() < 1.0:
            at = each.get_xydata()
            side = "left" if at[0, 1] < 0.0 else "right"
            thin[side] = True
            assert (at[1:-1, 0] < getattr(known, side).point[0]).all()
    assert thin == {side: side not in sides for side in thin}
    assert [piece.side for piece in line.pieces] == ["left", "right"]


def test_plan_shape_is_not_drawn_where_it_is_not_known(cases) -> None:
    ax = plan_view(*cases["local"])
    assert not ax.lines
    assert any("datum: local" in text.replace("\n", " ") for text in texts(ax))


def test_missing_lines_are_named_with_their_reason(cases) -> None:
    for view in VIEWS:
        said = " ".join(texts(view(*cases["bare"]))).replace("\n", " ")
        assert "BRRL: no point is labelled windscreen" in said
        # The front view shows no area; elsewhere it is there, by the tape alone.
        assert ("(bounded by WAD alone, open end)" in said) == (view is not front_view)


def test_draws_on_axes_given(cases) -> None:
    figure = Figure(figsize=(9.0, 7.0))
    FigureCanvasAgg(figure)
    ax = figure.add_axes((0.1, 0.15, 0.85, 0.75))
    for view in VIEWS:
        ax.clear()
        assert view(*cases["avocet"], ax=ax) is ax
        assert any(t.get_gid() == "caution" for t in ax.texts)


@pytest.mark.parametrize("view", VIEWS)
def test_same_zones_same_bytes(cases, view) -> None:
    for kind in ("svg", "png"):
        first, again = (figure_bytes(view(*cases["avocet"]).figure, kind) for _ in range(2))
        assert first == again

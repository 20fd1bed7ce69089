"""The windscreen of a front without labels: by shape, as given, by labels; and where it is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from analytic_fronts import FOOT, PARTS, POINTS, AnalyticFront, circle, flat_ellipse

from frontcheck import Front, Section, read_front, screen
from frontcheck.errors import InputError
from frontcheck.surface.windscreen import Rise, foot_by_shape

RISE = Rise(700.0, 20.0, 65.0, 250.0)
FRONT = AnalyticFront(circle(1100.0), POINTS, PARTS)


def bare(front: Front) -> Front:
    return replace(front, sections=tuple(Section(s.points, s.y) for s in front.sections))


def turned(foot, rise_deg, length=700.0, bonnet_deg=8.0):
    """A face, a bonnet that rises to `foot`, and from there a plane at `rise_deg`."""
    tan = np.tan(np.radians(bonnet_deg))
    start = (60.0, foot[1] - (foot[0] - 60.0) * tan)
    up = np.radians(rise_deg)
    end = (foot[0] + length * np.cos(up), foot[1] + length * np.sin(up))
    return [(100, 200), (0, 300), (0, start[1] - 80.0), start, foot, end]


@pytest.mark.parametrize("rise", [20.1, 25.0, 32.0, 45.0, 60.0, 64.9])
@pytest.mark.parametrize("facet", [None, 7.0])
def test_a_plane_windscreen_is_found_at_its_foot(rise: float, facet: float | None) -> None:
    points = np.array(turned((1150.0, 930.0), rise), dtype=float)
    if facet is not None:
        pieces = [
            np.linspace(a, b, int(np.hypot(*(b - a)) / facet), endpoint=False)
            for a, b in zip(points, points[1:], strict=False)
        ]
        points = np.concatenate([*pieces, points[-1:]])
    section = Section(points)
    foot = foot_by_shape(section, RISE)
    assert foot is not None
    assert section.points[foot] == pytest.approx((1150.0, 930.0), abs=1e-9)


@pytest.mark.parametrize(
    ("points", "why"),
    [
        (turned((1150.0, 930.0), 19.0), "rises less than 20 deg"),
        (turned((1150.0, 930.0), 66.0), "rises more than 65 deg"),
        (turned((1150.0, 930.0), 30.0, length=249.0), "rises for less than 250 mm"),
        (turned((1150.0, 690.0), 30.0), "stands no higher than 700 mm"),
        (turned((1150.0, 930.0), 5.0), "does not bend"),
    ],
)
def test_what_is_no_windscreen(points, why: str) -> None:
    assert foot_by_shape(Section(points), RISE) is None, why


def test_neither_a_step_in_the_glass_nor_the_edge_of_a_roof_is_its_foot() -> None:
    """A frame 12 mm high stands 120 mm up the glass; the roof bends off over a radius of 250 mm."""
    up = np.array([np.cos(np.radians(55.0)), np.sin(np.radians(55.0))])
    off = np.array([-up[1], up[0]])
    foot = np.array([900.0, 960.0])
    step = foot + 120.0 * up
    top = step + 12.0 * off + 500.0 * up
    turn = np.radians(np.linspace(52.0, 0.0, 27))
    centre = top + 30.0 * off + 250.0 * np.array([np.sin(turn[0]), -np.cos(turn[0])])
    roof = centre + 250.0 * np.stack([-np.sin(turn), np.cos(turn)], axis=1)
    points = [(100, 200), (0, 300), (0, 700), (60, 800), foot, step, step + 12.0 * off, top, *roof]
    assert foot_by_shape(Section(points), RISE) == 4


def test_behind_a_cowl_the_foot_is_where_the_glass_begins() -> None:
    points = [(100, 200), (0, 300), (0, 700), (60, 780), (1080, 930), (1090, 905), (1130, 900),
              (1600, 1190)]  # fmt: skip
    section = Section(points)
    assert foot_by_shape(section, RISE) == 6


def test_a_front_without_labels_is_screened_like_the_labelled_one(tmp_path) -> None:
    labelled = screen(FRONT.table(50.0))
    told = screen(bare(FRONT.table(50.0)))
    assert labelled.front.windscreen.basis == "labels"
    assert told.front.windscreen.basis == "shape"
    assert told.front.windscreen.at == pytest.approx(tuple(POINTS[FOOT]))
    for one, two in zip(labelled.stations, told.stations, strict=True):
        assert two.BRRL.point == pytest.approx(one.BRRL.point, abs=1e-9)
    assert told.zones.adult_area.area_m2 == pytest.approx(labelled.zones.adult_area.area_m2)
    said = " ".join(told.assumed())
    assert "windscreen by shape: it begins at setback 1180, height 939 mm" in said
    assert "--windscreen-from" in said
    assert not any("windscreen by shape" in text for text in labelled.assumed())


def test_a_mesh_without_labels_is_screened_like_the_labelled_one(tmp_path) -> None:
    front = AnalyticFront(flat_ellipse(250.0, 900.0, 620.0), POINTS, PARTS)
    path = front.write_obj(tmp_path / "named.obj", 20.0)
    plain = tmp_path / "plain.obj"
    plain.write_text("\n".join(t for t in path.read_text().splitlines() if t[0] != "g") + "\n")
    one, two = (screen(read_front(p, unit="mm", pitch=40.0)) for p in (path, plain))
    assert two.front.windscreen.basis == "shape"
    for a, b in zip(one.stations, two.stations, strict=True):
        assert b.BRRL.point == pytest.approx(a.BRRL.point, abs=1e-6)
    glass = [s.front.surface().facets().of("windscreen") for s in (one, two)]
    assert len(glass[0]) == len(glass[1])


def test_the_windscreen_may_be_given() -> None:
    front = bare(FRONT.table(50.0))
    given = screen(front, windscreen_from=(1400.0, 1076.0))
    assert given.front.windscreen.basis == "given"
    # The place of the contour that is nearest to what was given, there between two points.
    assert given.front.windscreen.at == pytest.approx((1400.0, 1076.0), abs=1.0)
    centre = given.front.section(0.0)
    assert len(centre) == len(front.section(0.0)) + 1
    assert centre.points[centre.part_mask("windscreen")][0] == pytest.approx(
        given.front.windscreen.at
    )
    with pytest.raises(InputError, match="a place on that contour"):
        screen(front, windscreen_from=(1400.0, 400.0))


def test_labels_come_before_shape() -> None:
    """A label away from the bend is taken as it stands."""
    late = (*PARTS[: FOOT + 1][:-1], "bonnet", "windscreen", "windscreen")
    result = screen(AnalyticFront(circle(1100.0), POINTS, late).table(50.0))
    assert result.front.windscreen.basis == "labels"
    assert "windscreen by shape" not in " ".join(result.assumed())

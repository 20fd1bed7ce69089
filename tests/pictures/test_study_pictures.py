"""Pictures of a study from stand-in results: which panel shows what, limits, labels, refusals.

The numbers of the variants are chosen by hand; own choice throughout.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest
from matplotlib.collections import PathCollection

from frontcheck.errors import NotAvailableError
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import sweep_figures as study_pictures

LINES = ("LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm")
DARK, LIMIT = "#123f6b", "#8c5a33"


def limit(line: str, low: float, high: float, station: float | None = None) -> Part:
    return Part(line=line, at_least=low, at_most=high, station=station, text=f"{line} <= {high:g}")


def results(**more: object) -> Part:
    """Six variants; the last is for sensitivities and the fifth has an open end."""
    numbers = {
        f"y0_{name}": np.array([300.0, 310.0, 320.0, 330.0, np.nan, 900.0]) + 100.0 * n
        for n, name in enumerate(LINES)
    }
    parameters = (
        Part(name="lip_height_mm", low=0.0, high=12.0), Part(name="nose_up_mm", low=0.0, high=24.0),
    )  # fmt: skip
    held = {
        "sample": np.array([True] * 5 + [False]), "numbers": numbers,
        "within_all": np.array([True, False, True, False, False, True]),
        "values": np.array([[0.5, 1.0], [0.5, 23.0], [11.5, 1.0], [11.5, 1.0], [6.5, 1.0], [9, 9]]),
        "open_ends": lambda: np.array([0, 0, 0, 0, 1, 1]), "sensitivities": tuple,
    }  # fmt: skip
    shapes = Part(stations=(0.0,), base=np.array([3.0, 9.0]))
    study = {
        "limits": (limit("UBRL_z_mm", -np.inf, 425.0),), "name": "Sketch", "varied": parameters,
        "setup": Part(shapes=shapes), "sensitivity_samples": 16,
    }  # fmt: skip
    study |= {key: more.pop(key) for key in list(more) if key in study}
    return Part(study=Part(**study), **(held | more))


def panels(figure) -> dict[tuple[int, int], object]:
    """Panels by row and column."""
    places = [(ax.get_subplotspec(), ax) for ax in figure.axes]
    return {(s.rowspan.start, s.colspan.start): ax for s, ax in places if s is not None}


def dots(ax) -> list[list[list[float]]]:
    """Places of dots: first those that do not keep the limits."""
    return [each.get_offsets().tolist() for each in ax.collections
            if isinstance(each, PathCollection)]  # fmt: skip


def words(figure) -> str:
    return " ".join(" ".join(text.get_text() for text in figure.texts).split())


@pytest.fixture(scope="module")
def usual():
    """The picture of lines against lines as it is without any wish."""
    return study_pictures.scatter_matrix(results())


@pytest.fixture
def few(monkeypatch) -> None:
    """Two lines instead of four: what holds for them holds for more."""
    monkeypatch.setattr(study_pictures, "_LINES", LINES[:2])


def test_lines_against_lines_with_the_limit_in_every_panel_of_its_line(usual) -> None:
    figure = usual
    made = panels(figure)
    assert set(made) == {(i, j) for i in range(4) for j in range(i + 1)}
    rest, kept = dots(made[2, 0])  # BLERL over LBRL: 200 higher
    assert rest == [[310.0, 510.0], [330.0, 530.0]]
    assert kept == [[300.0, 500.0], [320.0, 520.0]]
    limits = {
        at: [line.get_xydata().tolist() for line in ax.lines] for at, ax in made.items() if ax.lines
    }
    assert limits == {
        (1, 0): [[[0.0, 425.0], [1.0, 425.0]]], (1, 1): [[[425.0, 0.0], [425.0, 1.0]]],
        (2, 1): [[[425.0, 0.0], [425.0, 1.0]]], (3, 1): [[[425.0, 0.0], [425.0, 1.0]]],
    }  # fmt: skip
    assert made[2, 0].get_xlim() == pytest.approx((298.5, 331.5))  # five in a hundred round them
    assert made[2, 0].get_ylim() == pytest.approx((498.5, 531.5))
    assert "lines of 5 variants" in words(figure)
    assert "within all limits (2 of 5)" in words(figure)
    assert "1 variants left out: an open end could change a line." in words(figure)


def test_histograms_count_all_and_those_that_keep_the_limits(usual, few) -> None:
    made = panels(usual)
    heights = [patch.get_height() for patch in made[0, 0].patches]
    assert (sum(heights[:24]), sum(heights[24:])) == (4.0, 2.0)
    alike = {f"y0_{name}": np.full(6, 5.0) for name in LINES}
    made = panels(study_pictures.scatter_matrix(results(numbers=alike)))
    assert sum(patch.get_height() for patch in made[0, 0].patches[:24]) == 5.0
    assert made[1, 0].get_xlim() == (4.0, 6.0)
    none = {f"y0_{name}": np.full(6, np.nan) for name in LINES}
    made = panels(study_pictures.scatter_matrix(results(numbers=none)))
    assert not made[0, 0].patches


def test_names_stand_at_the_left_and_lower_edge_only(usual) -> None:
    made = panels(usual)
    below = {at for at, ax in made.items() if ax.get_xlabel()}
    left = {at for at, ax in made.items() if ax.get_ylabel()}
    assert below == {(3, 0), (3, 1), (3, 2), (3, 3)}
    assert left == {(1, 0), (2, 0), (3, 0)}
    assert made[3, 3].get_xlabel().replace("\n", " ") == "bumper lead [mm]"
    assert made[2, 0].get_ylabel().replace("\n", " ") == "BLERL z [mm]"


def test_limits_of_another_station_are_left_out_and_their_lines_are_added(few) -> None:
    asked = (
        limit("WAD_900_x_mm", 5.0, 9.0), limit("UBRL_z_mm", -np.inf, 425.0, 300.0),
        limit("LBRL_z_mm", 301.0, np.inf, 0.0),
    )  # fmt: skip
    made = results(limits=asked)
    made.numbers["y0_WAD_900_x_mm"] = np.arange(6.0)
    shown = panels(study_pictures.scatter_matrix(made))
    assert len(shown) == 6
    assert [line.get_xdata()[0] for line in shown[2, 2].lines] == [5.0, 9.0]
    assert [line.get_xdata()[0] for line in shown[1, 0].lines] == [301.0]
    assert not shown[1, 1].lines


def test_without_limits_no_variant_is_dark(few) -> None:
    figure = study_pictures.scatter_matrix(results(limits=()))
    rest, kept = dots(panels(figure)[1, 0])
    assert (len(rest), kept) == (4, [])
    assert "(no limits given)" in words(figure)


def test_many_variants_are_drawn_in_part_and_that_is_said(monkeypatch, few) -> None:
    monkeypatch.setattr(study_pictures, "_DOTS", 3)
    figure = study_pictures.scatter_matrix(results(open_ends=lambda: np.zeros(6, int)))
    assert "3 of 4 variants drawn as dots; histograms: all." in words(figure)
    assert "left out" not in words(figure)
    assert sum(map(len, dots(panels(figure)[1, 0]))) == 3
    monkeypatch.setattr(study_pictures, "_DOTS", 4)
    assert "drawn as dots" not in words(study_pictures.scatter_matrix(results()))


def test_where_limits_are_kept_over_pairs_of_parameters() -> None:
    """Of twelve cells a side: of the first parameter cells of 1, of the second of 2."""
    figure = study_pictures.feasible_region(results())
    made = panels(figure)
    assert set(made) == {(0, 0), (1, 0), (1, 1)}
    (mesh,) = made[1, 0].collections
    share = mesh.get_array()
    assert share.shape == (12, 12)  # rows: nose; columns: lip
    assert share[0, 0] == 1.0
    assert share[11, 0] == 0.0
    assert share[0, 11] == 0.5
    assert share[0, 6] == 0.0
    assert int((~np.ma.getmaskarray(share)).sum()) == 4
    crosses = [line.get_xydata().tolist() for line in made[1, 0].lines]
    assert crosses == [[[3.0, 9.0]]] * 2
    assert [line.get_xdata()[0] for line in (made[0, 0].lines[0], made[1, 1].lines[0])] == [
        3.0,
        9.0,
    ]
    (bars,) = made[0, 0].patches
    assert bars.get_data().values.tolist() == [0.5, *[0.0] * 10, 0.5]
    assert made[1, 1].get_xlim() == (0.0, 24.0)
    assert "Kept: UBRL z <= 425. Cross: base." in words(figure)


def test_without_limits_there_is_no_region_and_without_indices_no_bars() -> None:
    with pytest.raises(NotAvailableError, match="the study has no limits"):
        study_pictures.feasible_region(results(limits=()))
    with pytest.raises(NotAvailableError, match="asks for no sensitivities"):
        study_pictures.sensitivity_bars(results())
    gone = Part(name="y0_UBRL_z_mm", first=None, total=None, reason="too few", deviation=None)
    half = Part(name="y0_LBRL_z_mm", first=[0.1, 0.2], total=None, reason="", deviation=1.0)
    for found in ((gone,), (gone, half)):
        with pytest.raises(NotAvailableError, match="no Sobol indices: y0_UBRL_z_mm: too few"):
            study_pictures.sensitivity_bars(results(sensitivities=lambda found=found: found))


@pytest.mark.parametrize(("stations", "where"), [((0.0,), ""), ((0.0, 300.0), " at y = 300")])
def test_bars_of_each_parameter_first_index_within_the_total(stations, where) -> None:
    one = Part(name="y300_UBRL_z_mm", first=np.array([0.25, -0.01]), total=np.array([0.75, 0.1]),
               reason="", deviation=3.26)  # fmt: skip
    gone = Part(name="y0_LBRL_z_mm", first=None, total=None, reason="too few", deviation=None)
    made = results(sensitivities=lambda: (one, gone))
    made.study.setup.shapes.stations = stations
    figure = study_pictures.sensitivity_bars(made)
    (ax,) = figure.axes
    bars = [(patch.get_y() + patch.get_height() / 2.0, patch.get_width()) for patch in ax.patches]
    assert bars == [(1.0, 0.75), (0.0, 0.1), (1.0, 0.25), (0.0, 0.0)]
    names = [tick.get_text() for tick in ax.get_yticklabels()]
    assert names == ["lip height", "nose up"]
    assert ax.get_title(loc="left") == f"UBRL z{where}\nstandard deviation 3.3 mm"
    assert "Not given: y0_LBRL_z_mm: too few" in words(figure)
    alone = study_pictures.sensitivity_bars(results(sensitivities=lambda: (one,)))
    assert "Not given" not in words(alone)


def test_panels_of_bars_stand_in_rows_of_three_named_at_the_left() -> None:
    some = tuple(
        Part(name=f"y0_{name}", first=np.zeros(2), total=np.zeros(2), reason="", deviation=1.0)
        for name in LINES
    )
    made = panels(study_pictures.sensitivity_bars(results(sensitivities=lambda: some)))
    assert list(made) == [(0, 0), (0, 1), (0, 2), (1, 0)]
    named = [bool(ax.get_yticklabels()[0].get_text()) for ax in made.values()]
    assert named == [True, False, False, True]


@pytest.mark.parametrize(
    ("name", "unit", "text"),
    [("UBRL_z_mm", True, "UBRL z [mm]"), ("UBRL_z_mm", False, "UBRL z"), ("share", True, "share"),
     ("bonnet_slope_deg", True, "bonnet slope [deg]")],
)  # fmt: skip
def test_names_of_numbers_as_words(name, unit, text) -> None:
    assert study_pictures.spoken(name, unit=unit) == text


@pytest.mark.parametrize(
    ("limits", "dark", "said"),
    [((limit("UBRL_z_mm", -np.inf, 425.0),), 1, "Dark: within all limits."),
     ((), 0, "No limits given.")],
)  # fmt: skip
def test_shapes_within_the_limits_are_dark_and_what_cannot_be_made_is_left_out(
    limits, dark, said
) -> None:
    def front(values: np.ndarray) -> Part:
        points = np.array([[values[0], 0.0], [values[1], 100.0]])
        return Part(section=lambda y: Part(points=points + np.array([y, 0.0])))

    made = results(limits=limits, status=np.array(["ok"] * 2 + ["infeasible"] * 2 + ["ok"] * 2),
                   within_all=np.array([True, False, False, False, False, True]))  # fmt: skip
    made.study.setup.shapes.front = front
    made.study.setup.shapes.stations = (7.0, 0.0)
    ax = study_pictures.outlines(made)
    shown = [(line.get_xdata()[0] - 7.0, line.get_color()) for line in ax.lines]
    assert [x for x, colour in shown if colour == DARK] == [0.5] * dark
    assert [x for x, colour in shown if colour == LIMIT] == [3.0]
    assert [x for x, colour in shown if colour not in {DARK, LIMIT}] == [0.5] * (2 - dark) + [6.5]
    assert said in words(look.figure_of(ax))
    given = look.new_figure(5.0, 4.0).add_axes((0.1, 0.1, 0.8, 0.8))
    assert study_pictures.outlines(made, 0.0, given) is given
    assert given.lines[-1].get_xdata()[0] == 3.0
